/* SPDX-License-Identifier: MIT */
#include "store/db.h"

#include "base/limits.h"
#include "base/text.h"
#include "store/db_inside.h"
#include <assert.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "base/banned.h"

cw_code cw_db_fail(sqlite3 *raw, cw_error *err, const char *doing)
{
    int rc = sqlite3_errcode(raw);
    switch (rc & 0xFF) {
    case SQLITE_CONSTRAINT:
        return cw_error_set(err, CW_CONFLICT, "%s", sqlite3_errmsg(raw));
    case SQLITE_FULL:
        return cw_error_set(err, CW_MACHINE, "%s: the disk is full; nothing was changed", doing);
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        return cw_error_set(err, CW_MACHINE, "%s: the nursery file is locked by another program", doing);
    case SQLITE_READONLY:
        return cw_error_set(err, CW_MACHINE, "%s: the nursery file may only be read here", doing);
    case SQLITE_NOTADB:
        return cw_error_set(err, CW_REFUSED, "this is not a nursery file, or its first bytes are damaged");
    case SQLITE_CORRUPT:
        return cw_error_set(err, CW_MACHINE,
                            "%s: the nursery file is damaged (%s); restore the last good backup", doing,
                            sqlite3_errmsg(raw));
    case SQLITE_NOMEM:
        return cw_error_memory(err);
    case SQLITE_INTERRUPT:
        return cw_error_set(err, CW_MACHINE, "%s: given up as asked; nothing was changed", doing);
    default:
        return cw_error_set(err, CW_MACHINE, "%s: %s", doing, sqlite3_errmsg(raw));
    }
}

static cw_code exec(cw_db *db, const char *sql, const char *doing, cw_error *err)
{
    if (sqlite3_exec(db->raw, sql, NULL, NULL, NULL) != SQLITE_OK)
        return cw_db_fail(db->raw, err, doing);
    return CW_OK;
}

#define BUSY_MS 5000 /* so long another program may hold the file */
#define NAP_MS  20

/* Another program holds the file: waited for, unless what it is needed for is not wanted any more. */
static int held(void *self, int times)
{
    cw_db *db = self;
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    int64_t ms = now.tv_sec * 1000LL + now.tv_nsec / 1000000;
    if (times == 0)
        db->held_since = ms;
    if (ms - db->held_since >= BUSY_MS || !cw_wanted(db->go_on))
        return 0;
    nanosleep(&(struct timespec){ 0, (times < NAP_MS ? times + 1 : NAP_MS) * 1000000L }, NULL);
    return 1;
}

static cw_code configure(cw_db *db, cw_error *err)
{
    sqlite3_extended_result_codes(db->raw, 1);
    sqlite3_busy_handler(db->raw, held, db);
    cw_code code = exec(db,
                        "PRAGMA foreign_keys=ON; PRAGMA trusted_schema=OFF; PRAGMA temp_store=MEMORY;"
                        "PRAGMA recursive_triggers=OFF;",
                        "setting up the connection", err);
    /* Readers scan once and look up little: a small cache serves them, and a server keeps several of them open. */
    if (code == CW_OK)
        code = exec(db, db->mode == CW_DB_READ ? "PRAGMA cache_size=-8192" : "PRAGMA cache_size=-65536",
                    "setting up the connection", err);
    if (code == CW_OK && db->mode != CW_DB_READ)
        code = exec(db,
                    "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA wal_autocheckpoint=2000;"
                    "PRAGMA journal_size_limit=67108864; PRAGMA secure_delete=ON;",
                    "setting up the connection", err);
    int kind = sqlite3_errcode(db->raw) & 0xFF;
    if (code != CW_OK && db->mode == CW_DB_READ && err &&
        (kind == SQLITE_READONLY || kind == SQLITE_CANTOPEN)) {
        /* The file has a write-ahead log, and who may not write cannot make the index of one. */
        *err = (cw_error)CW_ERROR_NONE;
        code = cw_error_at(
            err, CW_MACHINE, db->path, 0, NULL,
            "may only be read here, and that works while a server has it open; read a backup, or a copy "
            "in a folder of your own");
    }
    return code;
}

/* Told by SQLite of every row that is changed. */
static void note_change(void *self, int what, const char *database, const char *table, sqlite3_int64 row)
{
    cw_db *db = self;
    (void)what;
    (void)database;
    (void)row;
    db->offer_changes += strcmp(table, "offering") == 0 || strcmp(table, "variety") == 0;
}

uint64_t cw_db_offer_changes(const cw_db *db)
{
    return db->offer_changes;
}

/* Who buys and what passwords hash to stands in the file: nobody but its owner may read it, unless the owner says so. That
 * it could not be made is told by SQLite, which opens it next. */
void cw_db_make_private(const char *path, const char *like)
{
    struct stat s;
    mode_t mode = like && stat(like, &s) == 0 ? s.st_mode & 0666 : 0600;
    int fd = open(path, O_CREAT | O_EXCL | O_WRONLY | O_CLOEXEC, 0600);
    if (fd < 0)
        return;
    if (mode != 0600)
        (void)!fchmod(fd, mode); /* else it stays private */
    close(fd);
}

bool cw_has_log(sqlite3 *raw)
{
    sqlite3_stmt *s = NULL;
    bool wal = sqlite3_prepare_v2(raw, "PRAGMA journal_mode", -1, &s, NULL) == SQLITE_OK &&
               sqlite3_step(s) == SQLITE_ROW && strcmp((const char *)sqlite3_column_text(s, 0), "wal") == 0;
    sqlite3_finalize(s);
    return wal;
}

static cw_code open_raw(cw_db *db, cw_error *err)
{
    /* Statistics of memory cost a lock at every allocation. Only the first connection of the process can say so; for
     * the others it is a call that does nothing. */
    sqlite3_config(SQLITE_CONFIG_MEMSTATUS, 0);
    int flags = db->mode == CW_DB_READ    ? SQLITE_OPEN_READONLY
                : db->mode == CW_DB_WRITE ? SQLITE_OPEN_READWRITE
                                          : SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE;
    if (db->mode == CW_DB_NEW && access(db->real, F_OK) == 0)
        return cw_error_at(err, CW_REFUSED, db->path, 0, NULL,
                           "exists already; a new season needs a new file");
    if (db->mode == CW_DB_NEW)
        cw_db_make_private(db->real, NULL);
    if (db->mode != CW_DB_NEW && access(db->real, F_OK) != 0)
        return cw_error_at(err, CW_REFUSED, db->path, 0, NULL,
                           "there is no such nursery file; make one with 'clumpwise new'");
    cw_code code = db->mode == CW_DB_READ ? CW_OK : cw_one_name(db->path, db->real, err);
    if (code == CW_OK && db->mode != CW_DB_READ)
        code = cw_lock_itself(db, err);
    if (code != CW_OK)
        return code;
    if (sqlite3_open_v2(db->real, &db->raw, flags | SQLITE_OPEN_NOMUTEX, NULL) != SQLITE_OK) {
        if (db->raw == NULL)
            return cw_error_memory(err);
        return cw_error_at(err, CW_MACHINE, db->path, 0, NULL, "cannot be opened: %s",
                           sqlite3_errmsg(db->raw));
    }
    if (db->mode != CW_DB_READ)
        sqlite3_update_hook(db->raw, note_change, db);
    code = configure(db, err);
    /* A copy has no log beside it, so it may have as many names as whoever keeps copies likes. */
    return code == CW_OK && db->mode == CW_DB_READ && cw_has_log(db->raw)
               ? cw_one_name(db->path, db->real, err)
               : code;
}

cw_code cw_db_open(const char *path, cw_db_mode mode, const char *holder, cw_db **out, cw_error *err)
{
    *out = NULL;
    cw_db *db = calloc(1, sizeof *db);
    if (db == NULL)
        return cw_error_memory(err);
    db->mode = mode;
    db->lock_fd = db->itself_fd = -1;
    cw_copy(db->path, sizeof db->path, path);
    bool ours = false; /* half a file is of no use to anyone, and a second try must not find it in its way */
    cw_code code = strlen(path) < sizeof db->path - 64
                       ? CW_OK
                       : cw_error_set(err, CW_REFUSED, "the path is too long: %.80s...", path);
    if (code == CW_OK)
        code = cw_real_path(path, db->real, err);
    if (code == CW_OK && mode != CW_DB_READ)
        code = cw_lock_take(db, holder, err);
    if (code == CW_OK) {
        ours = mode == CW_DB_NEW && access(db->real, F_OK) != 0;
        code = open_raw(db, err);
    }
    if (code == CW_OK)
        code = cw_migrate(db, err);
    if (code == CW_OK)
        code = cw_feed_install(db, err);
    if (code == CW_OK)
        code = cw_scan_install(db, err);
    if (code == CW_OK)
        code = cw_finding_install(db, err);
    if (code == CW_OK)
        code = cw_statements_make(db, err);
    if (code != CW_OK) {
        cw_db_close(db);
        if (ours)
            unlink(path);
        return code;
    }
    *out = db;
    return CW_OK;
}

void cw_db_close(cw_db *db)
{
    if (db == NULL)
        return;
    cw_statements_free(db);
    sqlite3_close_v2(db->raw);
    cw_lock_drop(db);
    free(db);
}

const char *cw_db_path(const cw_db *db)
{
    return db->path;
}

bool cw_db_writes(const cw_db *db)
{
    return db->mode != CW_DB_READ;
}

#define HEED_EVERY 20000 /* steps of SQLite's machine: well under a millisecond */

static int heed(void *self)
{
    const cw_db *db = self;
    return !cw_wanted(db->go_on);
}

void cw_db_heed(cw_db *db, cw_go_on go_on)
{
    db->go_on = go_on;
    sqlite3_progress_handler(db->raw, go_on.ask ? HEED_EVERY : 0, heed, db);
}

/* One of the statements that need no parameter and give no row. */
static cw_code step_once(cw_db *db, const char *name, const char *doing, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, name);
    int rc = sqlite3_step(s->raw);
    cw_code code = rc == SQLITE_DONE ? CW_OK : cw_db_fail(db->raw, err, doing);
    sqlite3_reset(s->raw);
    return code;
}

/* A BEGIN that failed half-way must not leave a transaction open, but one that was open before is not its to end. */
static cw_code begin(cw_db *db, const char *name, const char *doing, cw_error *err)
{
    if (db->to_take_back)
        cw_db_rollback(db);
    bool inside = cw_db_in_transaction(db);
    cw_code code = step_once(db, name, doing, err);
    if (code != CW_OK && !inside)
        cw_db_rollback(db);
    return code;
}

cw_code cw_db_begin(cw_db *db, cw_error *err)
{
    assert(cw_db_writes(db));
    return begin(db, "transaction.begin", "starting to write", err);
}

cw_code cw_db_begin_read(cw_db *db, cw_error *err)
{
    return begin(db, "transaction.begin_read", "starting to read", err);
}

cw_code cw_db_commit(cw_db *db, cw_error *err)
{
    cw_code code = db->to_take_back ? cw_error_memory(err)
                                    : step_once(db, "transaction.commit", "writing to the disk", err);
    if (code != CW_OK)
        cw_db_rollback(db);
    return code;
}

bool cw_db_in_transaction(const cw_db *db)
{
    return !sqlite3_get_autocommit(db->raw);
}

void cw_db_rollback(cw_db *db)
{
    cw_error ignored = CW_ERROR_NONE;
    if (!sqlite3_get_autocommit(db->raw) &&
        step_once(db, "transaction.rollback", "taking back", &ignored) != CW_OK)
        step_once(db, "transaction.rollback", "taking back", NULL);
    /* After a change of the schema (bulk.h) SQLite prepares this statement anew: for that there may be no memory now. */
    db->to_take_back = !sqlite3_get_autocommit(db->raw);
}

cw_code cw_db_savepoint(cw_db *db, cw_error *err)
{
    return step_once(db, "transaction.savepoint", "starting to write", err);
}

cw_code cw_db_release(cw_db *db, cw_error *err)
{
    return step_once(db, "transaction.release", "writing", err);
}

void cw_db_undo(cw_db *db)
{
    cw_error ignored = CW_ERROR_NONE;
    /* What could not be taken back alone is taken back with the whole transaction: nobody else's commit may carry it. */
    if (step_once(db, "transaction.back", "taking back", &ignored) != CW_OK)
        db->to_take_back = true;
    step_once(db, "transaction.release", "taking back", NULL);
}

int64_t cw_db_last_id(cw_db *db)
{
    return sqlite3_last_insert_rowid(db->raw);
}

int64_t cw_db_changes(cw_db *db)
{
    return sqlite3_changes64(db->raw);
}
