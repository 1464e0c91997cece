/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_DB_H
#define CW_STORE_DB_H

#include "base/error.h"
#include "base/go_on.h"

#include <stdbool.h>
#include <stdint.h>

/* How is a nursery file opened, written, checked and copied? One connection to a nursery file (SQLite). A statement of
 * sql/ is prepared when it is first run and kept; the build prepares every one of them against the schema, so that a typo does not
 * build. Who runs them is store alone (statement_inside.h).
 *
 * Invariants:
 *  1. At most one connection in one process writes or checkpoints. A writing connection holds the lock file
 *     "<file>.lock" beside the file as it is without links (flock, with the holder's description inside), and a lock of the
 *     file itself, until it is closed; the locks die with their holder. A file with a log has one name (no hard links).
 *  2. Readers open the file read-only and keep no transaction open between calls.
 *  3. A connection is used by one thread at a time.
 *  4. Writers: WAL, synchronous=FULL, foreign keys on. A commit that returned CW_OK is on the disk. */
typedef struct cw_db cw_db;

typedef enum cw_db_mode {
    CW_DB_READ,  /* never writes; works beside a writer */
    CW_DB_WRITE, /* takes the lock; migrates an older file after a backup beside it */
    CW_DB_NEW,   /* makes the file, refuses one that exists; then as CW_DB_WRITE */
} cw_db_mode;

/* `holder` is written into the lock for others to read ("clumpwise serve at 127.0.0.1:8473"); may be NULL for
 * readers. Errors: CW_REFUSED not a nursery file, or one of a newer program; CW_MACHINE locked (the text names the
 * holder), unreadable, disk. A reader refuses an older file and says which verb migrates it. */
cw_code cw_db_open(const char *path, cw_db_mode mode, const char *holder, cw_db **out,
                   cw_error *err) CW_MUST_CHECK;
void cw_db_close(cw_db *db);
const char *cw_db_path(const cw_db *db);
bool cw_db_writes(const cw_db *db);

/* BEGIN IMMEDIATE / COMMIT / ROLLBACK. Rollback without a transaction does nothing, so it may stand in clean-up. */
cw_code cw_db_begin(cw_db *db, cw_error *err) CW_MUST_CHECK;
cw_code cw_db_commit(cw_db *db, cw_error *err) CW_MUST_CHECK;
void cw_db_rollback(cw_db *db);

/* A read transaction (deferred), for reads that must see one moment; end it with cw_db_rollback. */
cw_code cw_db_begin_read(cw_db *db, cw_error *err) CW_MUST_CHECK;

/* Asked every few thousand steps of a statement, and while another program holds the file (5 s at most), until it is set anew; told
 * no, the statement ends with CW_MACHINE, and with it a transaction that it writes in. */
void cw_db_heed(cw_db *db, cw_go_on go_on);

bool cw_db_in_transaction(const cw_db *db);

/* Nested savepoint inside a write transaction, for batches in which one bad order must not fail the others. */
cw_code cw_db_savepoint(cw_db *db, cw_error *err) CW_MUST_CHECK;
cw_code cw_db_release(cw_db *db, cw_error *err) CW_MUST_CHECK;
void cw_db_undo(cw_db *db); /* rolls back to the savepoint and drops it */

/* For whoever finds rows that cannot stand beside each other: CW_MACHINE, `where` in the sentence. */
cw_code cw_db_damaged(cw_error *err, const char *where);

int64_t cw_db_last_id(cw_db *db);
int64_t cw_db_changes(cw_db *db); /* rows changed by the last statement */

/* How many rows of `variety` and `offering` were changed through this writing connection since it was opened, whoever did it
 * and whether or not it was taken back. Who keeps such rows in memory compares. */
uint64_t cw_db_offer_changes(const cw_db *db);

/* Writes the whole file anew and empties its log, so that nothing which was deleted, changed or moved is left in their bytes.
 * Outside of a transaction. CW_MACHINE when readers or the disk do not let it; what is on record stands either way. */
cw_code cw_db_wipe(cw_db *db, cw_error *err) CW_MUST_CHECK;

/* Runs sql/checks.sql; `report` gets each broken sentence. *broken counts them. */
cw_code cw_db_check(cw_db *db, void (*report)(void *context, const char *sentence), void *context,
                    long *broken, cw_error *err) CW_MUST_CHECK;

/* integrity_check, foreign_key_check, and whether the schema is this program's, reported as above. */
cw_code cw_db_integrity(cw_db *db, void (*report)(void *context, const char *sentence), void *context,
                        long *broken, cw_error *err) CW_MUST_CHECK;

/* CW_REFUSED, with a sentence, if writing a new file at `path` (by way of "<path>.part") would harm this nursery file, what
 * belongs to it, or another that somebody writes. Inodes are compared, not names alone. */
cw_code cw_db_may_replace(const cw_db *db, const char *path, cw_error *err) CW_MUST_CHECK;

/* Online copy into `path` (made beside it, synced, then renamed), with the copy's integrity checked before the rename.
 * `progress` (may be NULL) is told pages done and in all and may return false to give up. */
cw_code cw_db_backup(cw_db *db, const char *path, bool (*progress)(void *context, int64_t done, int64_t all),
                     void *context, cw_error *err) CW_MUST_CHECK;

/* Verifies the copy, then puts it in the place of `path`, taking the lock of that file meanwhile. What stood there is kept
 * as "<path>.before-restore". CW_REFUSED: the copy is damaged, no nursery file, or of a newer program. */
cw_code cw_db_restore(const char *copy, const char *path, cw_error *err) CW_MUST_CHECK;

/* Foreign keys on (as at opening) or off, for a work that goes through tables in no order; outside of a transaction. */
void cw_db_keys(cw_db *db, bool on);

/* Gives the closed file `from` its name `path`, which nobody has yet (else CW_REFUSED), and its lock file up. `from` is gone
 * then; after a crash at any moment it is one or the other. */
cw_code cw_db_put_new(const char *from, const char *path, cw_error *err) CW_MUST_CHECK;
/* Throws away a file that came to nothing, and what belongs to it. */
void cw_db_throw_away(const char *path);

/* Schema numbers: of this program, and of the file. */
int cw_db_schema_known(void);
/* CW_REFUSED: no nursery file */
cw_code cw_db_schema_of(const char *path, int *schema, cw_error *err) CW_MUST_CHECK;

#endif
