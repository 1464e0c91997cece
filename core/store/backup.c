/* SPDX-License-Identifier: MIT */
#include "base/text.h"
#include "columns/transaction.h"
#include "store/db_inside.h"
#include "store/sql.h"
#include <assert.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/banned.h"

#define HEED_EVERY   100000 /* steps of SQLite's machine */
#define PAGES_A_STEP 1024

#define MOST_FINDINGS 100 /* more of them tell nobody more */

typedef void (*reporter)(void *context, const char *sentence);

/* "NULL value in table.column" of a column that has none. SQLite 3.40.1 says so of a table WITHOUT ROWID whose key is not its
 * first columns; files of schema 7 have one, and must be copied before they are brought up to date. The column is asked
 * itself, by typeof, because IS NULL is not looked up where NOT NULL is declared. `known`: the last sentence found false. */
static bool is_false_alarm(sqlite3 *raw, const char *sentence, char known[256])
{
    static const char opening[] = "NULL value in ";
    const char *table = sentence + sizeof opening - 1;
    if (strncmp(sentence, opening, sizeof opening - 1) != 0 || strlen(sentence) >= 256)
        return false;
    if (strcmp(sentence, known) == 0)
        return true;
    const char *dot = strchr(table, '.');
    sqlite3_stmt *s = NULL;
    char *sql = dot == NULL
                    ? NULL
                    : sqlite3_mprintf("SELECT 1 FROM \"%.*w\" AS t WHERE typeof(t.\"%w\") = 'null' LIMIT 1",
                                      (int)(dot - table), table, dot + 1);
    bool none =
        sql && sqlite3_prepare_v2(raw, sql, -1, &s, NULL) == SQLITE_OK && sqlite3_step(s) == SQLITE_DONE;
    sqlite3_finalize(s);
    sqlite3_free(sql);
    if (none)
        cw_copy(known, 256, sentence);
    return none;
}

/* Reports every row's first column except the word "ok", by which SQLite says that all is well. */
static cw_code report_rows(sqlite3 *raw, const char *sql, const char *before, reporter report, void *context,
                           long *broken, cw_error *err)
{
    char known[256] = "";
    sqlite3_stmt *s = NULL;
    int rc = sqlite3_prepare_v2(raw, sql, -1, &s, NULL);
    while ((rc == SQLITE_OK || rc == SQLITE_ROW) && *broken < MOST_FINDINGS) {
        rc = sqlite3_step(s);
        if (rc != SQLITE_ROW)
            break;
        const char *text = (const char *)sqlite3_column_text(s, 0);
        if (text && (strcmp(text, "ok") == 0 || is_false_alarm(raw, text, known)))
            continue;
        char sentence[1024];
        snprintf(sentence, sizeof sentence, "%s%s", before, text ? text : "");
        ++*broken;
        if (report)
            report(context, sentence);
    }
    cw_code code = rc == SQLITE_DONE || *broken >= MOST_FINDINGS ? CW_OK : cw_db_fail(raw, err, "checking");
    sqlite3_finalize(s);
    return code;
}

static cw_code integrity(sqlite3 *raw, reporter report, void *context, long *broken, cw_error *err)
{
    /* Its own end at a hundred findings would be reached by false ones before those that are true. */
    cw_code code = report_rows(raw, "PRAGMA integrity_check(100000)", "file: ", report, context, broken, err);
    if (code == CW_OK)
        code = report_rows(raw, "PRAGMA foreign_key_check", "a row without its parent in ", report, context,
                           broken, err);
    return code;
}

cw_code cw_db_integrity(cw_db *db, reporter report, void *context, long *broken, cw_error *err)
{
    *broken = 0;
    cw_code code = integrity(db->raw, report, context, broken, err);
    return code == CW_OK ? cw_schema_compare(db->raw, cw_db_schema_known(), report, context, broken, err)
                         : code;
}

cw_code cw_db_check(cw_db *db, reporter report, void *context, long *broken, cw_error *err)
{
    *broken = 0;
    for (size_t i = 0; cw_sql_statements[i].name; i++) {
        if (strncmp(cw_sql_statements[i].name, "checks.", 7) != 0)
            continue;
        cw_stmt *s = cw_db_stmt(db, cw_sql_statements[i].name);
        cw_code code = cw_stmt_start(s, err, "");
        while (code == CW_OK && cw_stmt_next(s)) {
            const char *first = cw_col_text(s, cw_col_nth(s, 0));
            ++*broken;
            if (report)
                report(context, first ? first : cw_sql_statements[i].name);
        }
        cw_code end = cw_stmt_end(s, err);
        if (code != CW_OK || end != CW_OK)
            return code != CW_OK ? code : end;
    }
    return CW_OK;
}

cw_code cw_db_wipe(cw_db *db, cw_error *err)
{
    assert(cw_db_writes(db) && !cw_db_in_transaction(db));
    bool row = false;
    cw_code code = cw_stmt_run(cw_db_stmt(db, "transaction.anew"), err, "");
    if (code != CW_OK)
        return code;
    cw_stmt *s = cw_db_stmt(db, "transaction.empty_log");
    code = cw_stmt_one(s, &row, err, "");
    bool busy = code == CW_OK && row && cw_col_int(s, transaction_empty_log_busy) != 0;
    cw_code end = cw_stmt_end(s, err);
    code = code == CW_OK ? end : code;
    return code == CW_OK && busy ? cw_error_set(err, CW_MACHINE, "emptying the file's log: somebody reads it")
                                 : code;
}

static cw_code sync_path(const char *path, int flags, cw_error *err)
{
    int fd = open(path, flags | O_CLOEXEC);
    cw_code code = CW_OK;
    if (fd < 0 || fsync(fd) != 0)
        code =
            cw_error_at(err, CW_MACHINE, path, 0, NULL, "cannot be written to the disk: %s", strerror(errno));
    if (fd >= 0)
        close(fd);
    return code;
}

static cw_code sync_folder_of(const char *path, cw_error *err)
{
    char folder[1200];
    cw_copy(folder, sizeof folder, path);
    char *slash = strrchr(folder, '/');
    if (slash == folder)
        slash[1] = '\0';
    else if (slash)
        *slash = '\0';
    return sync_path(slash ? folder : ".", O_RDONLY | O_DIRECTORY, err);
}

/* While the copy is checked, its pages are all there. */
typedef struct checking {
    bool (*progress)(void *, int64_t, int64_t);
    void *context;
} checking;

static int heed(void *self)
{
    checking *c = self;
    return !c->progress(c->context, 1, 1);
}

static cw_code copy_pages(cw_db *db, sqlite3 *to, bool (*progress)(void *, int64_t, int64_t), void *context,
                          cw_error *err)
{
    sqlite3_backup *b = sqlite3_backup_init(to, "main", db->raw, "main");
    if (b == NULL)
        return cw_db_fail(to, err, "copying");
    int rc = SQLITE_OK;
    bool go_on = true;
    while (go_on && (rc == SQLITE_OK || rc == SQLITE_BUSY || rc == SQLITE_LOCKED)) {
        rc = sqlite3_backup_step(b, PAGES_A_STEP);
        int all = sqlite3_backup_pagecount(b);
        if (progress)
            go_on = progress(context, all - sqlite3_backup_remaining(b), all);
        if (rc == SQLITE_BUSY || rc == SQLITE_LOCKED)
            sqlite3_sleep(20);
    }
    sqlite3_backup_finish(b);
    if (!go_on && rc != SQLITE_DONE)
        return cw_error_set(err, CW_REFUSED, "the copy was given up as asked");
    return rc == SQLITE_DONE ? CW_OK : cw_db_fail(to, err, "copying");
}

/* What an older file of that name left of a log would be replayed into the new one. */
static cw_code put_in_place(const char *part, const char *path, cw_error *err)
{
    static const char *const left[] = { "-wal", "-shm", "-journal" };
    char name[1200];
    for (size_t i = 0; i < sizeof left / sizeof left[0]; i++) {
        snprintf(name, sizeof name, "%s%s", path, left[i]);
        if (unlink(name) != 0 && errno != ENOENT)
            return cw_error_at(err, CW_MACHINE, name, 0, NULL, "cannot be removed: %s", strerror(errno));
    }
    if (rename(part, path) != 0)
        return cw_error_at(err, CW_MACHINE, path, 0, NULL, "cannot be renamed into place: %s",
                           strerror(errno));
    return CW_OK;
}

cw_code cw_db_backup(cw_db *db, const char *path, bool (*progress)(void *, int64_t, int64_t), void *context,
                     cw_error *err)
{
    char part[1200];
    sqlite3 *to = NULL;
    long broken = 0;
    cw_code code = cw_db_may_replace(db, path, err);
    if (code != CW_OK)
        return code;
    snprintf(part, sizeof part, "%s.part", path);
    unlink(part);
    cw_db_make_private(part, db->real);
    if (sqlite3_open_v2(part, &to, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, NULL) != SQLITE_OK)
        code = cw_error_at(err, CW_MACHINE, path, 0, NULL, "cannot be made: %s",
                           to ? sqlite3_errmsg(to) : "no memory");
    if (code == CW_OK)
        code = copy_pages(db, to, progress, context, err);
    /* A plain rollback-journal file: one file, no -wal beside it, so that it can be moved about. */
    if (code == CW_OK && sqlite3_exec(to, "PRAGMA journal_mode=DELETE", NULL, NULL, NULL) != SQLITE_OK)
        code = cw_db_fail(to, err, "copying");
    checking check = { progress, context };
    if (code == CW_OK && progress)
        sqlite3_progress_handler(to, HEED_EVERY, heed, &check);
    if (code == CW_OK)
        code = integrity(to, NULL, NULL, &broken, err);
    if (code == CW_OK && broken)
        code = cw_error_at(err, CW_MACHINE, path, 0, NULL,
                           "the copy is damaged (%ld faults) and was thrown away", broken);
    sqlite3_close_v2(to);
    if (code == CW_OK)
        code = sync_path(part, O_RDWR, err);
    if (code == CW_OK)
        code = put_in_place(part, path, err);
    if (code == CW_OK)
        code = sync_folder_of(path, err);
    if (code != CW_OK)
        unlink(part);
    return code;
}

void cw_db_keys(cw_db *db, bool on)
{
    assert(!cw_db_in_transaction(db));
    sqlite3_db_config(db->raw, SQLITE_DBCONFIG_ENABLE_FKEY, on, NULL);
}

void cw_db_throw_away(const char *path)
{
    static const char *const ends[] = { "-wal", "-shm", "-journal", ".lock", "" };
    char name[CW_PATH + 16];
    for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
        snprintf(name, sizeof name, "%s%s", path, ends[i]);
        unlink(name);
    }
}

/* Never over a file that is there. In one step, where the file system can: with a second name first, a kill in between leaves
 * the new file with two, and such a file is refused. */
static int renamed(const char *from, const char *path)
{
    if (renameat2(AT_FDCWD, from, AT_FDCWD, path, RENAME_NOREPLACE) == 0)
        return 0;
    return errno == EINVAL || errno == ENOSYS ? link(from, path) : -1;
}

cw_code cw_db_put_new(const char *from, const char *path, cw_error *err)
{
    cw_code code = sync_path(from, O_RDWR, err);
    if (code == CW_OK && renamed(from, path) != 0)
        code = errno == EEXIST
                   ? cw_error_at(err, CW_REFUSED, path, 0, NULL, "is there already; name a new file")
                   : cw_error_at(err, CW_MACHINE, path, 0, NULL, "cannot be made: %s", strerror(errno));
    if (code == CW_OK)
        cw_db_throw_away(from);
    return code == CW_OK ? sync_folder_of(path, err) : code;
}

/* For reading; *raw is to be closed also after an error. */
static cw_code open_copy(const char *path, sqlite3 **raw, cw_error *err)
{
    int rc =
        access(path, R_OK) == 0 ? sqlite3_open_v2(path, raw, SQLITE_OPEN_READONLY, NULL) : SQLITE_CANTOPEN;
    if ((rc & 0xFF) == SQLITE_NOMEM)
        return cw_error_memory(err);
    return rc == SQLITE_OK ? CW_OK : cw_error_at(err, CW_REFUSED, path, 0, NULL, "cannot be read");
}

static cw_code read_schema(sqlite3 *raw, const char *file, int *schema, cw_error *err)
{
    int id = 0;
    sqlite3_stmt *s = NULL;
    int rc = sqlite3_prepare_v2(raw, cw_sql_text("file.kind_and_schema"), -1, &s, NULL);
    if (rc == SQLITE_OK && sqlite3_step(s) == SQLITE_ROW) {
        id = sqlite3_column_int(s, 0);
        *schema = sqlite3_column_int(s, 1);
    }
    sqlite3_finalize(s);
    if ((sqlite3_errcode(raw) & 0xFF) == SQLITE_NOMEM)
        return cw_error_memory(err);
    if (id != CW_APPLICATION_ID)
        return cw_error_at(err, CW_REFUSED, file, 0, NULL, "is not a nursery file");
    return CW_OK;
}

cw_code cw_db_schema_of(const char *path, int *schema, cw_error *err)
{
    sqlite3 *raw = NULL;
    *schema = 0;
    cw_code code = open_copy(path, &raw, err);
    if (code == CW_OK)
        code = read_schema(raw, path, schema, err);
    sqlite3_close_v2(raw);
    return code;
}

static void keep_first(void *context, const char *sentence)
{
    char *first = context;
    if (first[0] == '\0')
        cw_copy(first, 400, sentence);
}

/* The copy is a nursery file, of this schema or an older one, and whole. */
static cw_code verify_copy(sqlite3 *raw, const char *copy, cw_error *err)
{
    long broken = 0;
    int schema = 0;
    cw_code code = read_schema(raw, copy, &schema, err);
    if (code != CW_OK)
        return code;
    if (schema > cw_db_schema_known())
        return cw_error_at(err, CW_REFUSED, copy, 0, NULL,
                           "was written by a newer clumpwise; install that version");
    cw_error damage = CW_ERROR_NONE;
    code = integrity(raw, NULL, NULL, &broken, &damage);
    if (code != CW_OK && (sqlite3_errcode(raw) & 0xFF) == SQLITE_NOMEM)
        return cw_error_memory(err);
    if (code != CW_OK || broken)
        return cw_error_at(err, CW_REFUSED, copy, 0, NULL, "is damaged (%ld faults); nothing was changed",
                           broken ? broken : 1);
    char first[400] = "";
    code = cw_schema_compare(raw, schema, keep_first, first, &broken, err);
    if (code == CW_OK && broken)
        code = cw_error_at(err, CW_REFUSED, copy, 0, NULL,
                           "differs from what this program makes in %ld places (%s); nothing was changed",
                           broken, first);
    return code;
}

/* Moves aside what stands at `path`. The write-ahead log goes first: left behind, it would be replayed into the new file. */
static cw_code move_aside(const char *path, cw_error *err)
{
    static const char *const ends[] = { "-wal", "-shm", "" };
    char from[1200], to[1200];
    for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
        snprintf(from, sizeof from, "%s%s", path, ends[i]);
        snprintf(to, sizeof to, "%s.before-restore%s", path, ends[i]);
        unlink(to);
        if (rename(from, to) != 0 && errno != ENOENT)
            return cw_error_at(err, CW_MACHINE, from, 0, NULL, "cannot be moved aside: %s", strerror(errno));
    }
    return CW_OK;
}

static cw_code copy_whole(const char *copy, const char *part, const char *like, cw_error *err)
{
    cw_db from = { .lock_fd = -1, .itself_fd = -1 };
    sqlite3 *to = NULL;
    cw_code code = open_copy(copy, &from.raw, err);
    if (code == CW_OK && cw_has_log(from.raw))
        code = cw_one_name(copy, copy, err);
    if (code == CW_OK)
        code = verify_copy(from.raw, copy, err);
    unlink(part);
    if (code == CW_OK)
        cw_db_make_private(part, like);
    if (code == CW_OK &&
        sqlite3_open_v2(part, &to, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, NULL) != SQLITE_OK)
        code = cw_error_at(err, CW_MACHINE, part, 0, NULL, "cannot be made");
    if (code == CW_OK)
        code = copy_pages(&from, to, NULL, NULL, err);
    if (code == CW_OK && sqlite3_exec(to, "PRAGMA journal_mode=DELETE", NULL, NULL, NULL) != SQLITE_OK)
        code = cw_db_fail(to, err, "copying");
    if (code == CW_OK)
        code = verify_copy(to, part, err);
    sqlite3_close_v2(to);
    sqlite3_close_v2(from.raw);
    return code == CW_OK ? sync_path(part, O_RDWR, err) : code;
}

/* The copy is none of the files that go out of the way. ("<path>.before-restore" may be it: it is read before it goes.) */
static cw_code is_another(const char *copy, const char *real, const char *part, cw_error *err)
{
    char other[CW_PATH];
    cw_code code = cw_real_path(copy, other, err);
    if (code == CW_OK && (cw_is_own(real, copy) || strcmp(other, part) == 0))
        code = cw_error_at(err, CW_REFUSED, copy, 0, NULL,
                           "belongs to the nursery file that is to be replaced; name a copy of it");
    return code;
}

cw_code cw_db_restore(const char *copy, const char *path, cw_error *err)
{
    char part[CW_PATH + 16];
    cw_db held = { .lock_fd = -1, .itself_fd = -1 };
    if (strlen(path) > sizeof held.path - 64)
        return cw_error_set(err, CW_REFUSED, "the path is too long: %.80s...", path);
    cw_copy(held.path, sizeof held.path, path);
    cw_code code = cw_real_path(path, held.real, err); /* behind a link, the file itself is replaced */
    snprintf(part, sizeof part, "%s.part", held.real);
    if (code == CW_OK)
        code = is_another(copy, held.real, part, err);
    if (code == CW_OK)
        code = cw_lock_take(&held, "clumpwise restore", err);
    if (code == CW_OK && access(held.real, F_OK) == 0)
        code = cw_lock_itself(&held, err);
    bool begun = code == CW_OK;
    if (code == CW_OK)
        code = copy_whole(copy, part, held.real, err);
    if (code == CW_OK)
        code = move_aside(held.real, err);
    if (code == CW_OK && rename(part, held.real) != 0)
        code =
            cw_error_at(err, CW_MACHINE, path, 0, NULL, "cannot be renamed into place: %s", strerror(errno));
    if (code == CW_OK)
        code = sync_folder_of(held.real, err);
    if (begun && code != CW_OK)
        unlink(part);
    cw_lock_drop(&held);
    return code;
}
