/* SPDX-License-Identifier: MIT */
#include "base/text.h"
#include "store/db_inside.h"
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/banned.h"

/* What a nursery file is called and what belongs to it. SQLite keeps the log and its index beside the file, by name: opened by
 * a second name, the newest commits are not seen, or two logs go into one file. */

static const char *const companions[] = { "", "-wal", "-shm", "-journal", ".lock", ".secrets" };
#define COMPANIONS (sizeof companions / sizeof companions[0])

/* The folder of `path`, resolved, and the name in it. */
static bool resolve_folder(const char *path, char out[CW_PATH])
{
    char folder[CW_PATH];
    const char *slash = strrchr(path, '/');
    size_t n = slash ? (size_t)(slash - path) : 0;
    if (n >= sizeof folder)
        return false;
    memcpy(folder, path, n);
    cw_copy(folder + n, sizeof folder - n, slash == NULL ? "." : n == 0 ? "/" : "");
    char real[PATH_MAX];
    if (realpath(folder, real) == NULL)
        return false;
    int wrote = snprintf(out, CW_PATH, "%s/%s", strcmp(real, "/") == 0 ? "" : real, slash ? slash + 1 : path);
    return wrote > 0 && wrote < CW_PATH;
}

cw_code cw_real_path(const char *path, char out[CW_PATH], cw_error *err)
{
    struct stat s;
    char real[PATH_MAX]; /* room of our own: the tests of failing memory count what is allocated */
    if (realpath(path, real) != NULL && strlen(real) < CW_PATH - 64) {
        cw_copy(out, CW_PATH, real);
        return CW_OK;
    }
    if (lstat(path, &s) == 0 && S_ISLNK(s.st_mode))
        return cw_error_at(err, CW_REFUSED, path, 0, NULL, "is a link that leads to no file");
    if (!resolve_folder(path, out))
        cw_copy(out, CW_PATH, path); /* there is no such folder, which is told when it is opened */
    return CW_OK;
}

cw_code cw_one_name(const char *path, const char *real, cw_error *err)
{
    struct statx s;
    if (statx(AT_FDCWD, real, 0, STATX_NLINK, &s) != 0)
        return CW_OK; /* that it is not there is told elsewhere */
    if (s.stx_nlink > 1)
        return cw_error_at(
            err, CW_REFUSED, path, 0, NULL,
            "has %u names (hard links), and its log stands beside one of them only: keep one name, "
            "and make copies with 'clumpwise backup'",
            (unsigned)s.stx_nlink);
    if (s.stx_attributes & s.stx_attributes_mask & STATX_ATTR_MOUNT_ROOT)
        return cw_error_at(err, CW_REFUSED, path, 0, NULL,
                           "is mounted by itself, without the log that stands beside it: mount its folder");
    return CW_OK;
}

static bool same_file(const char *a, const char *b)
{
    struct stat x, y;
    return stat(a, &x) == 0 && stat(b, &y) == 0 && x.st_dev == y.st_dev && x.st_ino == y.st_ino;
}

bool cw_is_own(const char *real, const char *path)
{
    char own[CW_PATH + 16], other[CW_PATH] = "";
    cw_error ignored = CW_ERROR_NONE;
    if (cw_real_path(path, other, &ignored) != CW_OK)
        return false;
    for (size_t i = 0; i < COMPANIONS; i++) {
        snprintf(own, sizeof own, "%s%s", real, companions[i]);
        if (strcmp(own, other) == 0 || same_file(own, other))
            return true;
    }
    return false;
}

cw_code cw_db_may_replace(const cw_db *db, const char *path, cw_error *err)
{
    struct stat s;
    char part[CW_PATH + 16];
    snprintf(part, sizeof part, "%s.part", path);
    if (strlen(path) > CW_PATH - 64)
        return cw_error_set(err, CW_REFUSED, "the path is too long: %.80s...", path);
    if (same_file(db->real, path))
        return cw_error_at(err, CW_REFUSED, path, 0, NULL, "is the nursery file itself; choose another name");
    if (cw_is_own(db->real, path) || cw_is_own(db->real, part))
        return cw_error_at(
            err, CW_REFUSED, path, 0, NULL,
            "belongs to the nursery file (its log, its index, its lock, its secrets); choose another name");
    if (stat(path, &s) == 0 && !S_ISREG(s.st_mode))
        return cw_error_at(err, CW_REFUSED, path, 0, NULL, "is no file that could be replaced");
    if (cw_lock_is_held(path))
        return cw_error_at(err, CW_REFUSED, path, 0, NULL,
                           "is a nursery file that somebody is writing; choose another name");
    return CW_OK;
}
