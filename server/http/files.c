/* SPDX-License-Identifier: MIT */
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "http/http_inside.h"

#include "base/banned.h"

/* The built pages. A path is at most one folder deep, of plain letters, so nothing can climb out of the folder; links are
 * not followed. Beside each file its .gz is looked for. Names under assets/ carry their digest and never change. */
static const struct {
    const char *ending, *type;
} types[] = {
    { ".html", "text/html; charset=utf-8" }, { ".js", "text/javascript; charset=utf-8" },
    { ".css", "text/css; charset=utf-8" },   { ".svg", "image/svg+xml" },
    { ".json", "application/json" },         { ".png", "image/png" },
    { ".txt", "text/plain; charset=utf-8" },
};

static const char *type_of(const char *name)
{
    size_t n = strlen(name);
    for (size_t i = 0; i < sizeof types / sizeof types[0]; i++)
        if (n > strlen(types[i].ending) && strcmp(name + n - strlen(types[i].ending), types[i].ending) == 0)
            return types[i].type;
    return NULL;
}

static bool plain_name(const char *s)
{
    static const char letters[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_.";
    return s[0] && s[0] != '.' && strspn(s, letters) == strlen(s) && strstr(s, "..") == NULL;
}

/* Opens folder/name[ending]; -1 if that is no plain file. */
static int open_plain(int folder, const char *name, const char *ending, struct stat *about)
{
    char full[220];
    if (snprintf(full, sizeof full, "%s%s", name, ending) >= (int)sizeof full)
        return -1;
    int fd = openat(folder, full, O_RDONLY | O_NOFOLLOW | O_CLOEXEC | O_NONBLOCK);
    if (fd >= 0 && (fstat(fd, about) != 0 || !S_ISREG(about->st_mode))) {
        close(fd);
        fd = -1;
    }
    return fd;
}

static int open_file(cw_request *q, int folder, const char *name, struct stat *about)
{
    int fd = q->gzip_ok ? open_plain(folder, name, ".gz", about) : -1;
    q->gzipped = fd >= 0;
    return fd >= 0 ? fd : open_plain(folder, name, "", about);
}

/* The descriptor of what the path names, -1 if there is none; *name points to its last part. */
static int find_file(cw_request *q, char path[200], const char **name, struct stat *about)
{
    int folder = q->server->web;
    const char *wanted = strcmp(q->uri.path, "/") == 0 ? "index.html" : q->uri.path + 1;
    if (folder < 0 || strlen(wanted) >= 200)
        return -1;
    cw_copy(path, 200, wanted);
    char *slash = strchr(path, '/');
    if (slash)
        *slash = '\0';
    *name = slash ? slash + 1 : path;
    if (!plain_name(path) || !plain_name(*name))
        return -1;
    int inner = slash ? openat(folder, path, O_RDONLY | O_DIRECTORY | O_NOFOLLOW | O_CLOEXEC) : -1;
    int fd = slash && inner < 0 ? -1 : open_file(q, slash ? inner : folder, *name, about);
    if (inner >= 0)
        close(inner);
    return fd;
}

static struct MHD_Response *file_response(cw_request *q, int fd, const struct stat *about, const char *type,
                                          bool asset)
{
    struct MHD_Response *r =
        fd < 0 ? MHD_create_response_from_buffer(0, (void *)(uintptr_t) "", MHD_RESPMEM_PERSISTENT)
               : MHD_create_response_from_fd64((uint64_t)about->st_size, fd);
    if (r == NULL) {
        if (fd >= 0)
            close(fd);
        return NULL;
    }
    if (cw_response_headers(r, q->server) && cw_response_header(r, "Content-Type", type) &&
        cw_response_header(r, "ETag", q->etag) && cw_response_header(r, "Vary", "Accept-Encoding") &&
        cw_response_header(r, "Cache-Control", asset ? "public, max-age=31536000, immutable" : "no-cache") &&
        cw_response_header(r, "Content-Encoding", q->gzipped ? "gzip" : NULL))
        return r;
    MHD_destroy_response(r);
    return NULL;
}

enum MHD_Result cw_files_answer(cw_request *q)
{
    char path[200];
    const char *name = NULL;
    struct stat about = { 0 };
    int fd = find_file(q, path, &name, &about);
    const char *type = fd >= 0 ? type_of(name) : NULL;
    if (type == NULL) {
        if (fd >= 0)
            close(fd);
        cw_reply_problem_as(q, 404, "not-found",
                            q->server->web < 0 ? "the pages are not built (web/dist)"
                                               : "there is no such page");
        return cw_send(q);
    }
    snprintf(q->etag, sizeof q->etag, "W/\"%llx-%llx%s\"", (unsigned long long)about.st_mtime,
             (unsigned long long)about.st_size, q->gzipped ? "-z" : "");
    bool same = strcmp(q->none_match, q->etag) == 0;
    if (same) {
        close(fd);
        fd = -1;
    }
    struct MHD_Response *r = file_response(q, fd, &about, type, strcmp(path, "assets") == 0);
    if (r == NULL)
        return MHD_NO;
    enum MHD_Result sent = cw_send_response(q, same ? 304 : 200, r);
    MHD_destroy_response(r);
    return sent;
}
