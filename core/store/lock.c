/* SPDX-License-Identifier: MIT */
#include "base/text.h"
#include "store/db_inside.h"
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/file.h>
#include <unistd.h>

#include "base/banned.h"

/* The lock is the flock, not the file: the file stays, the flock goes with its holder, also after kill -9. */

static void lock_path(const cw_db *db, char out[1100])
{
    snprintf(out, 1100, "%s.lock", db->path);
}

cw_code cw_lock_take(cw_db *db, const char *holder, cw_error *err)
{
    char path[1100], text[256];
    lock_path(db, path);
    int fd = open(path, O_RDWR | O_CREAT | O_CLOEXEC, 0666);
    if (fd < 0)
        return cw_error_at(err, CW_MACHINE, path, 0, NULL,
                           "cannot be made, so nothing can be written here: %s", strerror(errno));
    if (flock(fd, LOCK_EX | LOCK_NB) != 0) {
        ssize_t n = pread(fd, text, sizeof text - 1, 0);
        text[n > 0 ? n : 0] = '\0';
        text[strcspn(text, "\n")] = '\0';
        close(fd);
        return cw_error_set(
            err, CW_MACHINE,
            "%s is being written by %s; it is the only writer while it runs: stop it first, or do this "
            "on its page",
            db->path, text[0] ? text : "another program");
    }
    int n = snprintf(text, sizeof text, "%s (process %ld)\n", holder ? holder : "clumpwise", (long)getpid());
    if (ftruncate(fd, 0) != 0 || pwrite(fd, text, (size_t)n, 0) != n) {
        close(fd);
        return cw_error_at(err, CW_MACHINE, path, 0, NULL, "cannot be written: %s", strerror(errno));
    }
    db->lock_fd = fd;
    return CW_OK;
}

void cw_lock_drop(cw_db *db)
{
    if (db->lock_fd >= 0)
        close(db->lock_fd);
    db->lock_fd = -1;
}
