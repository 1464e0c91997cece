/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_DISK_H
#define CW_TESTS_SUPPORT_DISK_H

/* A disk that fails when a test says so: a VFS of SQLite over the machine's own. Header only, for the tests that link
 * SQLite and need it. A write that fails has written half of its bytes first, as a torn sector would. Counts hold also when
 * several threads write; arm it while none does. */
#include <signal.h>
#include <sqlite3.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <string.h>

typedef struct disk {
    atomic_long seen; /* writes, syncs and truncations since disk_arm */
    long at;          /* the one that fails; < 0: none */
    int code;         /* with SQLITE_IOERR: as a broken disk; SQLITE_FULL: full */
    bool ever;        /* all from there on */
    bool read_only;
    bool kills; /* the program ends there (SIGKILL), instead of an error */
    atomic_long failed;
} disk;

static disk the_disk = { .at = -1 };
static sqlite3_vfs *disk_below;
static sqlite3_vfs disk_vfs;

typedef struct disk_file {
    sqlite3_file base;
    sqlite3_file *real;
} disk_file;

#define REAL(f) (((disk_file *)(void *)(f))->real)

/* 0, or the error to give; `io` is the kind of input-output error. */
static int disk_fails(int io)
{
    long n = atomic_fetch_add(&the_disk.seen, 1);
    if (the_disk.at < 0 || n < the_disk.at || (!the_disk.ever && n > the_disk.at))
        return SQLITE_OK;
    the_disk.failed++;
    return the_disk.code == SQLITE_FULL ? SQLITE_FULL : io;
}

static int disk_failed(int rc)
{
    if (the_disk.kills)
        raise(SIGKILL);
    return rc;
}

static int disk_close(sqlite3_file *f)
{
    return REAL(f)->pMethods ? REAL(f)->pMethods->xClose(REAL(f)) : SQLITE_OK;
}
static int disk_read(sqlite3_file *f, void *out, int n, sqlite3_int64 at)
{
    return REAL(f)->pMethods->xRead(REAL(f), out, n, at);
}
static int disk_write(sqlite3_file *f, const void *bytes, int n, sqlite3_int64 at)
{
    int rc = disk_fails(SQLITE_IOERR_WRITE);
    if (rc == SQLITE_OK)
        return REAL(f)->pMethods->xWrite(REAL(f), bytes, n, at);
    int half = REAL(f)->pMethods->xWrite(REAL(f), bytes, n / 2, at);
    return disk_failed(half == SQLITE_OK ? rc : half);
}
static int disk_truncate(sqlite3_file *f, sqlite3_int64 size)
{
    int rc = disk_fails(SQLITE_IOERR_TRUNCATE);
    return rc == SQLITE_OK ? REAL(f)->pMethods->xTruncate(REAL(f), size) : disk_failed(rc);
}
static int disk_sync(sqlite3_file *f, int flags)
{
    int rc = disk_fails(SQLITE_IOERR_FSYNC);
    return rc == SQLITE_OK ? REAL(f)->pMethods->xSync(REAL(f), flags) : disk_failed(rc);
}
static int disk_size(sqlite3_file *f, sqlite3_int64 *out)
{
    return REAL(f)->pMethods->xFileSize(REAL(f), out);
}
static int disk_lock(sqlite3_file *f, int level)
{
    return REAL(f)->pMethods->xLock(REAL(f), level);
}
static int disk_unlock(sqlite3_file *f, int level)
{
    return REAL(f)->pMethods->xUnlock(REAL(f), level);
}
static int disk_reserved(sqlite3_file *f, int *out)
{
    return REAL(f)->pMethods->xCheckReservedLock(REAL(f), out);
}
static int disk_control(sqlite3_file *f, int op, void *arg)
{
    return REAL(f)->pMethods->xFileControl(REAL(f), op, arg);
}
static int disk_sector(sqlite3_file *f)
{
    return REAL(f)->pMethods->xSectorSize(REAL(f));
}
static int disk_traits(sqlite3_file *f)
{
    return REAL(f)->pMethods->xDeviceCharacteristics(REAL(f));
}
static int disk_shm_map(sqlite3_file *f, int page, int size, int extend, void volatile **out)
{
    return REAL(f)->pMethods->xShmMap(REAL(f), page, size, extend, out);
}
static int disk_shm_lock(sqlite3_file *f, int offset, int n, int flags)
{
    return REAL(f)->pMethods->xShmLock(REAL(f), offset, n, flags);
}
static void disk_shm_barrier(sqlite3_file *f)
{
    REAL(f)->pMethods->xShmBarrier(REAL(f));
}
static int disk_shm_unmap(sqlite3_file *f, int drop)
{
    return REAL(f)->pMethods->xShmUnmap(REAL(f), drop);
}

static const sqlite3_io_methods disk_methods = {
    2,           disk_close,   disk_read,     disk_write,       disk_truncate,  disk_sync,
    disk_size,   disk_lock,    disk_unlock,   disk_reserved,    disk_control,   disk_sector,
    disk_traits, disk_shm_map, disk_shm_lock, disk_shm_barrier, disk_shm_unmap, NULL,
    NULL
};

static int disk_open(sqlite3_vfs *vfs, const char *path, sqlite3_file *f, int flags, int *out)
{
    disk_file *file = (disk_file *)(void *)f;
    (void)vfs;
    file->real = (sqlite3_file *)(void *)(file + 1);
    memset(file->real, 0, (size_t)disk_below->szOsFile);
    if (the_disk.read_only && (flags & SQLITE_OPEN_MAIN_DB))
        flags = (flags & ~(SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE)) | SQLITE_OPEN_READONLY;
    int rc = disk_below->xOpen(disk_below, path, file->real, flags, out);
    f->pMethods = file->real->pMethods ? &disk_methods : NULL;
    return rc;
}

/* From here on all files that SQLite opens lie on this disk, until disk_remove. */
static inline void disk_install(void)
{
    disk_below = sqlite3_vfs_find(NULL);
    disk_vfs =
        *disk_below; /* what is not ours goes below: its functions look at pAppData, not at the address */
    disk_vfs.zName = "failing disk";
    disk_vfs.szOsFile = (int)sizeof(disk_file) + disk_below->szOsFile;
    disk_vfs.xOpen = disk_open;
    disk_vfs.pNext = NULL;
    sqlite3_vfs_register(&disk_vfs, 1);
}

static inline void disk_remove(void)
{
    sqlite3_vfs_unregister(&disk_vfs);
}

static inline void disk_arm(long at, int code, bool ever)
{
    the_disk.seen = the_disk.failed = 0;
    the_disk.at = at;
    the_disk.code = code;
    the_disk.ever = ever;
    the_disk.read_only = the_disk.kills = false;
}

#endif
