/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_DB_INSIDE_H
#define CW_STORE_DB_INSIDE_H

/* Inside of store/db, for the files that README.md names, and nobody else. */
#include "store/statement_inside.h"

#include <sqlite3.h>
#include <stddef.h>

/* "Clmp", in the file's header: tells a nursery file from any other SQLite database. */
#define CW_APPLICATION_ID 0x436C6D70

#define CW_PATH 1024 /* bytes of a path; what is made beside it needs 64 of them */

/* What the schema allows in a column of an answer, shape.c. */
typedef struct cw_bounds {
    int64_t least, most;
    int type;    /* SQLITE_INTEGER, SQLITE_FLOAT, SQLITE_TEXT; 0: computed */
    bool needed; /* never NULL */
} cw_bounds;

struct cw_stmt {
    cw_db *db;
    const char *name, *sql;
    uint16_t of;       /* by this number its columns are known */
    sqlite3_stmt *raw; /* NULL until it is first run */
    cw_bounds *shape;  /* [columns] */
    int rc;            /* of the last step */
    int damaged;       /* 1 + the first column that was not as the schema allows */
};

struct cw_db {
    sqlite3 *raw;
    cw_db_mode mode;
    cw_stmt *statements;
    size_t statement_count;
    uint16_t *slots; /* hash table of names: 1 + index into statements, 0 = empty */
    size_t slot_mask;
    int lock_fd, itself_fd; /* -1 for readers */
    struct cw_feed *feed;   /* owned by the connection, feed.c */
    struct cw_scan *scan;   /* owned by the connection, scan.c */
    uint64_t offer_changes;
    cw_go_on go_on;     /* cw_db_heed */
    int64_t held_since; /* ms: another program holds the file */
    bool to_take_back;  /* no memory was left to end a transaction */
    char path[CW_PATH]; /* as it was typed, for people */
    char real[CW_PATH]; /* without links */
};

/* Turns the connection's last error into ours; `doing` begins the sentence. */
cw_code cw_db_fail(sqlite3 *raw, cw_error *err, const char *doing);

/* The lock file, and, when the nursery file is there, the lock of the file itself. */
cw_code cw_lock_take(cw_db *db, const char *holder, cw_error *err) CW_MUST_CHECK;
cw_code cw_lock_itself(cw_db *db, cw_error *err) CW_MUST_CHECK;
void cw_lock_drop(cw_db *db);
/* Somebody, here or in another process, has locked the file at `path` itself. */
bool cw_lock_is_held(const char *path);

/* The file's path without links; of a file that is not there yet, of its folder. CW_REFUSED: a link that leads nowhere. */
cw_code cw_real_path(const char *path, char out[CW_PATH], cw_error *err) CW_MUST_CHECK;
/* CW_REFUSED unless the file has one name. `path` is what people know it by. */
cw_code cw_one_name(const char *path, const char *real, cw_error *err) CW_MUST_CHECK;
/* The file is written by way of a log beside it. */
bool cw_has_log(sqlite3 *raw);
/* `path`, however it is spelled, is the nursery file at `real`, its log, its index or its lock. */
bool cw_is_own(const char *real, const char *path);

typedef void (*cw_reporter)(void *context, const char *sentence);
/* Reports what of the schema is not as the migrations up to number `schema` make it; *broken grows. */
cw_code cw_schema_compare(sqlite3 *raw, int schema, cw_reporter report, void *context, long *broken,
                          cw_error *err) CW_MUST_CHECK;

/* The statements of sql/ for this connection, not yet prepared but for those that end a transaction; taken down at its closing. */
cw_code cw_statements_make(cw_db *db, cw_error *err) CW_MUST_CHECK;
void cw_statements_free(cw_db *db);

/* Prepares it, unless it is prepared. */
cw_code cw_stmt_ready(cw_stmt *s, cw_error *err) CW_MUST_CHECK;

/* The parameters in their order, for named.c. */
cw_code cw_stmt_one_with(cw_stmt *s, bool *found, cw_error *err, const cw_bind *values, int n) CW_MUST_CHECK;

cw_code cw_shape_make(cw_stmt *s, cw_error *err) CW_MUST_CHECK;
/* Else the statement's end will tell. `type` is the value's. */
bool cw_shape_holds(cw_stmt *s, int column, sqlite3_value *value, int type);
cw_code cw_shape_tell(cw_stmt *s, cw_error *err);
/* By the words of `sql`, column number `column`, which is one of `table`, is in each of its rows (shape_words.c). */
bool cw_shape_surely_there(const char *sql, int column, const char *table);

/* Makes the table promise_row known, which statements name: before they are prepared. */
cw_code cw_feed_install(cw_db *db, cw_error *err) CW_MUST_CHECK;

/* Makes the function hand_over known, which statements name: before they are prepared. */
cw_code cw_scan_install(cw_db *db, cw_error *err) CW_MUST_CHECK;
/* The same of has_text. */
cw_code cw_finding_install(cw_db *db, cw_error *err) CW_MUST_CHECK;

/* Makes the functions known that migrations name: before any of them is run. SQLite's own code. */
int cw_migrations_begin(sqlite3 *raw);

/* Brings the file to this program's schema, or refuses it. */
cw_code cw_migrate(cw_db *db, cw_error *err) CW_MUST_CHECK;

/* Makes an empty file that only its owner may read, or that has the mode of `like`. */
void cw_db_make_private(const char *path, const char *like);

#endif
