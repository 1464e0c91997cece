/* SPDX-License-Identifier: MIT */
#include "base/text.h"
#include "store/db_inside.h"
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/banned.h"

/* There are two locks, and neither goes by what was typed. The flock of "<real path>.lock" is there before the nursery file is,
 * and says who holds it. The lock of one byte of the nursery file itself holds under every name that it has or is given
 * meanwhile. Both go with their holder, also after kill -9; the lock file stays. */
#define LOCKED_BYTE ((off_t)1 << 62) /* far behind any page, so that no lock of SQLite's meets it */

static cw_code held(const cw_db *db, const char *holder, cw_error *err)
{
    return cw_error_set(
        err, CW_MACHINE,
        "%s is being written by %s; it is the only writer while it runs: stop it first, or do this "
        "on its page",
        db->path, holder[0] ? holder : "another program");
}

static cw_code cannot_lock(const cw_db *db, cw_error *err)
{
    return cw_error_at(
        err, CW_MACHINE, db->path, 0, NULL,
        "cannot be locked here (%s), so nothing may be written: keep it on a disk of this machine",
        strerror(errno));
}

/* Never through a link, and never anything but a file: what it leads to would be written over. */
static cw_code open_lock(const char *path, int *out, cw_error *err)
{
    struct stat s;
    int fd = open(path, O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK, 0600);
    *out = -1;
    if (fd < 0 && errno == ELOOP)
        return cw_error_at(err, CW_MACHINE, path, 0, NULL,
                           "is a link, and a lock must not be one: remove it");
    if (fd < 0)
        return cw_error_at(err, CW_MACHINE, path, 0, NULL,
                           "cannot be made, so nothing can be written here: %s", strerror(errno));
    if (fstat(fd, &s) != 0 || !S_ISREG(s.st_mode) || s.st_nlink > 1) {
        close(fd);
        return cw_error_at(err, CW_MACHINE, path, 0, NULL,
                           "is no file of its own, and a lock must be one: remove it");
    }
    /* An older program let others open it, who could then hold it. That it is not ours to change is no harm. */
    if ((s.st_mode & 077) != 0 && fchmod(fd, 0600) != 0)
        errno = 0;
    *out = fd;
    return CW_OK;
}

cw_code cw_lock_take(cw_db *db, const char *holder, cw_error *err)
{
    char path[1100], text[256];
    int fd = -1;
    snprintf(path, sizeof path, "%s.lock", db->real);
    cw_code code = open_lock(path, &fd, err);
    if (code != CW_OK)
        return code;
    if (flock(fd, LOCK_EX | LOCK_NB) != 0) {
        if (errno != EWOULDBLOCK) {
            code = cannot_lock(db, err);
        } else {
            ssize_t n = pread(fd, text, sizeof text - 1, 0);
            text[n > 0 ? n : 0] = '\0';
            text[strcspn(text, "\n")] = '\0';
            code = held(db, text, err);
        }
        close(fd);
        return code;
    }
    int n = snprintf(text, sizeof text, "%s (process %ld)\n", holder ? holder : "clumpwise", (long)getpid());
    if (ftruncate(fd, 0) != 0 || pwrite(fd, text, (size_t)n, 0) != n) {
        close(fd);
        return cw_error_at(err, CW_MACHINE, path, 0, NULL, "cannot be written: %s", strerror(errno));
    }
    db->lock_fd = fd;
    return CW_OK;
}

static struct flock one_byte(void)
{
    return (struct flock){ .l_type = F_WRLCK, .l_whence = SEEK_SET, .l_start = LOCKED_BYTE, .l_len = 1 };
}

cw_code cw_lock_itself(cw_db *db, cw_error *err)
{
    struct flock byte = one_byte();
    int fd = open(db->real, O_RDWR | O_CLOEXEC | O_NONBLOCK);
    if (fd < 0) /* then SQLite cannot write it either, and says so */
        return errno == EACCES || errno == EROFS || errno == EISDIR ? CW_OK : cannot_lock(db, err);
    if (fcntl(fd, F_OFD_SETLK, &byte) != 0) {
        bool taken = errno == EAGAIN || errno == EACCES;
        cw_code code =
            taken ? held(db, "another program, which knows it by another name", err) : cannot_lock(db, err);
        close(fd);
        return code;
    }
    db->itself_fd = fd;
    return CW_OK;
}

bool cw_lock_is_held(const char *path)
{
    struct flock byte = one_byte();
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    bool held_by_other = fd >= 0 && fcntl(fd, F_OFD_GETLK, &byte) == 0 && byte.l_type != F_UNLCK;
    if (fd >= 0)
        close(fd);
    return held_by_other;
}

/* Closing any descriptor of a file drops the process's own POSIX locks of it, and SQLite's are of that kind: so this comes
 * after the connection is closed, and a process that goes on reading closes its readers first or lives on their snapshots. */
void cw_lock_drop(cw_db *db)
{
    if (db->itself_fd >= 0)
        close(db->itself_fd);
    if (db->lock_fd >= 0)
        close(db->lock_fd);
    db->itself_fd = db->lock_fd = -1;
}
