/* SPDX-License-Identifier: MIT */
#include "desk/post/account.h"

#include "base/text.h"
#include "base/value.h"
#include "desk/nursery/nursery_inside.h"
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/banned.h"

#define MOST_BYTES 8192
#define PATH_BYTES 4200

/* What stands in the file, and where it goes. */
typedef struct entry {
    const char *name;
    size_t at, size; /* size 0: a whole number */
} entry;
#define TEXT(member) offsetof(cw_secrets, member), sizeof((cw_secrets *)0)->member
static const entry entries[] = {
    { "mail.server", TEXT(mail.server) },
    { "mail.user", TEXT(mail.user) },
    { "mail.password", TEXT(mail.password) },
    { "mail.authority", TEXT(mail.authority) },
    { "mail.per_minute", offsetof(cw_secrets, mail.per_minute), 0 },
    { "hook.address", TEXT(hook.address) },
    { "hook.secret", TEXT(hook.secret) },
};

void cw_secrets_wipe(cw_secrets *s)
{
    explicit_bzero(s, sizeof *s);
}

/* `end`: "" the file; ".part" what becomes it with the commit that is under way. */
static void beside(const cw_nursery *n, const char *end, char path[PATH_BYTES])
{
    snprintf(path, PATH_BYTES, "%s.secrets%s", cw_db_path(n->db), end);
}

/* The commit is done, or is not: only then does the file change. */
static void settle(cw_nursery *n, bool kept)
{
    char path[PATH_BYTES], part[PATH_BYTES];
    beside(n, "", path);
    beside(n, ".part", part);
    if (!kept || rename(part, path) != 0)
        unlink(part);
}

/* The credential, if systemd hands one over. */
static bool credential(char path[PATH_BYTES])
{
    const char *folder = getenv("CREDENTIALS_DIRECTORY");
    if (folder == NULL)
        return false;
    snprintf(path, PATH_BYTES, "%s/clumpwise.secrets", folder);
    return access(path, R_OK) == 0;
}

static cw_code take_line(char *line, const char *path, long row, cw_secrets *out, cw_error *err)
{
    char *value = strchr(line, '=');
    size_t name = value ? (size_t)(value - line) : 0;
    if (line[0] == '#' || line[strspn(line, " \t\r")] == '\0')
        return CW_OK;
    while (name > 0 && line[name - 1] == ' ')
        name--;
    for (size_t i = 0; value && i < sizeof entries / sizeof entries[0]; i++) {
        const entry *e = &entries[i];
        int64_t number = 0;
        if (strlen(e->name) != name || strncmp(e->name, line, name) != 0)
            continue;
        value += 1 + (value[1] == ' ');
        size_t length = strcspn(value, "\r");
        value[length] = '\0';
        if (e->size > 0 && length < e->size && !cw_has_control(value, length, "")) {
            cw_copy((char *)out + e->at, e->size, value);
            return CW_OK;
        }
        if (e->size == 0 && cw_parse_int(value, length, 1, 6000, &number)) {
            *(int *)(void *)((char *)out + e->at) = (int)number;
            return CW_OK;
        }
        break;
    }
    /* Not what stands there: it may be half a password. */
    return cw_error_at(err, CW_REFUSED, path, row, NULL, "is no line of such a file: name = value");
}

static cw_code take_all(char *bytes, const char *path, cw_secrets *out, cw_error *err)
{
    long row = 0;
    for (char *line = bytes, *end; line; line = end) {
        end = strchr(line, '\n');
        if (end)
            *end++ = '\0';
        cw_code code = take_line(line, path, ++row, out, err);
        if (code != CW_OK)
            return code;
    }
    return CW_OK;
}

static cw_code read_file(int fd, const char *path, bool elsewhere, cw_secrets *out, cw_error *err)
{
    char bytes[MOST_BYTES + 1];
    struct stat s;
    /* A credential is held by systemd, which may let a group in by an access list. */
    if (fstat(fd, &s) != 0 || !S_ISREG(s.st_mode) || (s.st_mode & (elsewhere ? 07 : 077)) != 0)
        return cw_error_at(err, CW_REFUSED, path, 0, NULL,
                           "must be a file that only its owner may read (chmod 600)");
    ssize_t length = read(fd, bytes, sizeof bytes);
    if (length < 0)
        return cw_error_at(err, CW_MACHINE, path, 0, NULL, "cannot be read: %s", strerror(errno));
    bytes[length < MOST_BYTES ? length : MOST_BYTES] = '\0';
    cw_code code = length > MOST_BYTES || strlen(bytes) != (size_t)length
                       ? cw_error_at(err, CW_REFUSED, path, 0, NULL, "is no file of lines: name = value")
                       : take_all(bytes, path, out, err);
    explicit_bzero(bytes, sizeof bytes);
    return code;
}

cw_code cw_secrets_read(cw_nursery *n, cw_secrets *out, cw_error *err)
{
    char path[PATH_BYTES];
    *out = (cw_secrets){ .mail = { .per_minute = CW_PER_MINUTE } };
    out->elsewhere = credential(path);
    if (!out->elsewhere)
        beside(n, n->settle == settle ? ".part" : "", path);
    int fd = open(path, O_RDONLY | O_CLOEXEC);
    if (fd < 0)
        return errno == ENOENT
                   ? CW_OK
                   : cw_error_at(err, CW_MACHINE, path, 0, NULL, "cannot be read: %s", strerror(errno));
    cw_code code = read_file(fd, path, out->elsewhere, out, err);
    close(fd);
    if (code != CW_OK)
        cw_secrets_wipe(out);
    return code;
}

static bool write_bytes(int fd, const cw_text *t)
{
    size_t done = 0;
    while (done < t->length) {
        ssize_t n = write(fd, t->data + done, t->length - done);
        if (n <= 0)
            return false;
        done += (size_t)n;
    }
    return fsync(fd) == 0;
}

static void write_lines(const cw_secrets *s, cw_text *t)
{
    cw_text_reserve(t, MOST_BYTES - 1); /* it does not move: no copy of the password is left behind */
    cw_text_add(t, "# Accounts of this nursery file. Keep it to yourself; no backup holds it.\n");
    for (size_t i = 0; i < sizeof entries / sizeof entries[0]; i++) {
        const char *at = (const char *)s + entries[i].at;
        if (entries[i].size == 0)
            cw_text_addf(t, "%s = %d\n", entries[i].name, *(const int *)(const void *)at);
        else if (at[0])
            cw_text_addf(t, "%s = %s\n", entries[i].name, at);
    }
}

cw_code cw_secrets_write(cw_nursery *n, const cw_secrets *s, cw_error *err)
{
    char fresh[PATH_BYTES], part[PATH_BYTES];
    cw_text t = CW_TEXT(MOST_BYTES);
    if (s->elsewhere)
        return cw_error_set(err, CW_REFUSED,
                            "the account is a credential that systemd hands over; change it there");
    beside(n, ".new", fresh);
    beside(n, ".part", part);
    write_lines(s, &t);
    cw_code code = cw_text_check(&t, err);
    unlink(fresh);
    int fd = code == CW_OK ? open(fresh, O_CREAT | O_EXCL | O_WRONLY | O_CLOEXEC, 0600) : -1;
    bool well = fd >= 0 && write_bytes(fd, &t);
    if (fd >= 0)
        well = close(fd) == 0 && well;
    if (code == CW_OK && (!well || rename(fresh, part) != 0))
        code = cw_error_at(err, CW_MACHINE, fresh, 0, NULL, "cannot be written: %s", strerror(errno));
    if (code == CW_OK)
        n->settle = settle;
    else
        unlink(fresh);
    cw_text_wipe(&t);
    return code;
}

static bool is_loopback(const char *host)
{
    return strcmp(host, "localhost") == 0 || strncmp(host, "127.", 4) == 0 || strcmp(host, "[::1]") == 0;
}

#define HOST "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.-"

bool cw_place_parse(const char *s, const char *schemes, bool path, cw_place *out)
{
    const char *at = strstr(s, "://");
    int64_t which = 0, port = 0;
    *out = (cw_place){ .port = 0 };
    if (at == NULL || !cw_word_find(schemes, s, (size_t)(at - s), &which) ||
        (size_t)(at - s) >= sizeof out->scheme)
        return false;
    memcpy(out->scheme, s, (size_t)(at - s));
    at += 3;
    size_t length = at[0] == '[' ? 1 + strspn(at + 1, "0123456789abcdefABCDEF:.") : strspn(at, HOST);
    length += at[0] == '[' && at[length] == ']';
    if (length == 0 || length >= sizeof out->host || at[0] == '.' || at[0] == '-')
        return false;
    memcpy(out->host, at, length);
    at += length;
    if (out->host[0] == '[' && out->host[length - 1] != ']')
        return false;
    /* 127.0.0.1.example.org is no loopback: all of it must be digits. */
    out->loopback = is_loopback(out->host) &&
                    (out->host[0] != '1' || strspn(out->host, "0123456789.") == strlen(out->host));
    if (at[0] == ':') {
        size_t digits = strcspn(++at, "/");
        if (!cw_parse_int(at, digits, 1, 65535, &port))
            return false;
        at += digits;
    }
    out->port = (int)port;
    return at[0] == '\0' || (path && at[0] == '/' && strpbrk(at, " \"\\<>#@") == NULL);
}
