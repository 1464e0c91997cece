/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_INTAKE_INSIDE_H
#define CW_DESK_INTAKE_INSIDE_H

/* Inside of desk/intake: shared by the intake_*.c files. */
#include "base/limits.h"
#include "base/map.h"
#include "base/texts.h"
#include "desk/intake/intake.h"
#include "desk/intake/intake_rows_inside.h"
#include "desk/nursery/nursery_inside.h"
#include "store/intake.h"
#include "store/record.h"
#include "store/shipping.h"

/* Codes to rows, looked up in the database once each. */
typedef struct cw_variety_state {
    int64_t id; /* 0: a row of this load names it but is wrong itself, so that later rows need not complain
                   again */
    char code[CW_MAX_CODE + 1];
    bool retired, released;
    bool stands;                   /* has a row of the offer */
    int64_t offered, sold, beyond; /* as they will be */
    int64_t was_sold, was_beyond;  /* as they are in the database */
    bool listed;                   /* stands in cw_codes.moved: more or less of it will be sold */
    int64_t next;                  /* of them: index + 1, 0 ends */
} cw_variety_state;

typedef struct cw_codes {
    cw_db *db;
    cw_map varieties, lots, places;
    cw_variety_state *variety;
    cw_lot_found *lot; /* id 0: as above */
    int64_t *place;
    size_t variety_count, lot_count, place_count;
    size_t variety_room, lot_room, place_room;
    int64_t moved; /* first of the varieties whose sales are not in the database yet: index + 1, 0 none */
    struct cw_behind *behind; /* writes meanwhile, and is waited for; or NULL */
} cw_codes;

/* Index of the code, *out = -1 if there is none. */
cw_code cw_codes_variety(cw_codes *c, const char *code, size_t n, int64_t *out, cw_error *err) CW_MUST_CHECK;
cw_code cw_codes_lot(cw_codes *c, const char *code, size_t n, int64_t *out, cw_error *err) CW_MUST_CHECK;
cw_code cw_codes_place(cw_codes *c, const char *code, size_t n, int64_t *out, cw_error *err) CW_MUST_CHECK;

/* Forgets what was found of a code, after its row changed. With `bad` the code is kept as one that is wrong
 * itself. */
cw_code cw_codes_forget(cw_codes *c, cw_kind_id kind, const char *code, bool bad,
                        cw_error *err) CW_MUST_CHECK;
void cw_codes_free(cw_codes *c);

/* A row being read: where it stands, and its values once cw_row_read has checked them. */
typedef struct cw_row {
    const cw_kind *kind;
    const char *file;
    long line;
    const cw_field *fields;
    const int *map;
    cw_values is;
    char *scratch; /* `room` bytes: a record and a NUL for each field */
    size_t room;
    size_t scratch_used;
    /* Columns that repeat: their last text and value. Room twice. */
    cw_given last[CW_MAX_KIND_COLUMNS];
    const char *last_text[CW_MAX_KIND_COLUMNS];
    size_t last_length[CW_MAX_KIND_COLUMNS];
    char *repeated;
    size_t repeated_used;
    bool all_repeat; /* every such column is as it was in the row before */
    bool bad;        /* something was recorded against it */
    bool fresh;      /* of a grid: it is new, so that its key must not be on record */
    bool quiet;      /* it only hangs on another row that is wrong: passed over without a word */
} cw_row;

typedef struct cw_fact {
    int file;
    long line;
    union {
        int64_t v[CW_FACT_COLUMNS];
        cw_history_fact history;
        cw_past_checks_fact past_checks;
        cw_divisions_fact divisions;
        cw_checks_fact checks;
        cw_counts_fact counts;
    } is;
    unsigned nulls; /* bit c: column c is null */
    bool known;     /* an equal one is on record */
} cw_fact;

typedef struct cw_taken {
    const char *name;
    char base[256];
    int kind;
    int64_t source;  /* id, 0 until it is needed */
    int64_t brought; /* the same of a file that can be taken back whole (desk/intake/brought) */
    long rows, made, changed, unchanged;
    char note[200];
    char digest[65];
} cw_taken;

typedef struct cw_intake {
    cw_nursery *n;
    cw_db *db;
    const cw_asker *who;
    cw_intake_options options;
    bool api;  /* an order of a shop: nothing may go beyond the offer */
    bool grid; /* somebody mends rows by hand: a lot, too */
    cw_codes codes;
    cw_error_list *errors;
    cw_taken *files;
    size_t file_count;
    int current;    /* index of the file being read */
    cw_map seen;    /* keys of the file being read -> line */
    cw_fact *facts; /* of the file being read, then (sessions, checks, counts) of all files */
    size_t fact_count, fact_room, fact_first; /* fact_first: where the file being read begins */
    struct cw_order_desk *orders;
    struct cw_behind *behind; /* of a file of orders before which none was on record; else NULL */
    int64_t last_id; /* of the session, check, stock-take, lot, planting or walk that was entered last */
    struct cw_touched *touched; /* plantings that rows say something new of, and where (intake_field.c) */
    size_t touched_count, touched_room;
    cw_ship_held_place held; /* of the hold being read (intake_holds.c) */
    int64_t held_order;
    struct cw_returned_row *returned; /* rows of the carrier's file being read (intake_tracking.c) */
    size_t returned_count, returned_room;
    cw_texts returned_texts;
    /* varieties of the file being read that bear the name of another (intake_names.c) */
    struct cw_same *same;
    size_t same_count, same_room;
    uint64_t bytes_before, bytes_all;
    cw_error sold_out; /* of an API order */
    int64_t sold_out_line, sold_out_variety, sold_out_left;
} cw_intake;

/* Reads and checks every column of a row, by the kind's table. Wrong values are recorded (row->bad); the code
 * only tells of trouble with the machine. */
cw_code cw_row_read(cw_intake *in, cw_row *row, cw_error *err) CW_MUST_CHECK;

/* The same for one column of a form or of a shop's order; NULL: nothing was said of it. */
cw_code cw_row_say(cw_intake *in, cw_row *row, size_t c, const cw_saying *s, cw_error *err) CW_MUST_CHECK;
void cw_row_begin(cw_row *row); /* before the first column of a row */

/* Makes the row's buffers for records of at most `bytes`; false without memory. */
bool cw_row_open(cw_row *row, size_t bytes);
void cw_row_clear(cw_row *row); /* as it was made: no column has a value to repeat */
void cw_row_close(cw_row *row);

/* Records what is wrong with a row: `column` may be -1 for the row as a whole. */
void cw_row_wrong(cw_intake *in, cw_row *row, int column, const char *format, ...) CW_PRINTF(4, 5);

/* The same for what is right by itself, but clashes with the record (CW_CONFLICT). */
void cw_row_clash(cw_intake *in, cw_row *row, int column, const char *format, ...) CW_PRINTF(4, 5);

/* A row of varieties whose code is not on record: has another variety its name? With CW_SAME_NAME_CODE that one gets the code
 * (*renamed). cw_intake_names_end asks, at the file's end, of those that the file does not name, too. */
cw_code cw_intake_name(cw_intake *in, cw_row *row, bool *renamed, cw_error *err) CW_MUST_CHECK;
cw_code cw_intake_names_end(cw_intake *in, cw_error *err) CW_MUST_CHECK;
/* One whose code is that of a variety that was merged into another says half of what that is: refused. */
cw_code cw_intake_merged(cw_intake *in, cw_row *row, cw_error *err) CW_MUST_CHECK;

/* Records an error that a function brought, with the row's place. True if the load may go on (not
 * CW_MACHINE). */
bool cw_row_failed(cw_intake *in, cw_row *row, int column, cw_code code, const cw_error *why);

/* Is the key (text) new in this file? Otherwise the row is recorded as a duplicate. */
cw_code cw_row_once(cw_intake *in, cw_row *row, const char *key, size_t n, cw_error *err) CW_MUST_CHECK;

/* A row that was read, off the record; recorded against it where its kind is not taken off. */
cw_code cw_intake_off(cw_intake *in, cw_row *row, cw_error *err) CW_MUST_CHECK;

/* Rows of kinds with a natural key; of kinds without; of orders. */
cw_code cw_intake_plain(cw_intake *in, cw_row *row, cw_error *err) CW_MUST_CHECK;
cw_code cw_intake_stands(cw_intake *in, cw_row *row,
                         cw_error *err) CW_MUST_CHECK; /* is it still on record as somebody saw it? */
cw_code cw_intake_fact(cw_intake *in, cw_row *row, cw_error *err) CW_MUST_CHECK;
cw_code cw_intake_facts_end(cw_intake *in, cw_error *err) CW_MUST_CHECK; /* after each such file */
cw_code cw_intake_facts_enter(cw_intake *in,
                              cw_error *err) CW_MUST_CHECK; /* after all files: the ledger, by date */
cw_code cw_intake_line(cw_intake *in, cw_row *row, cw_error *err) CW_MUST_CHECK;
cw_code cw_intake_sold(cw_intake *in, cw_error *err) CW_MUST_CHECK; /* after all order lines: what is sold */
void cw_intake_unsold(cw_intake *in);       /* instead of it: as if nothing had been asked */
void cw_intake_orders_clear(cw_intake *in); /* ready for other orders */
cw_code cw_intake_orders_write(cw_intake *in, cw_error *err) CW_MUST_CHECK; /* what waits of a shop's order */
/* Does it wait to be said of the order that it is paid, or that it is not? */
bool cw_intake_orders_paid(const cw_intake *in);
void cw_intake_orders_free(cw_intake *in);

/* Orders and lines of a first file, written behind (intake_behind.c): up to two batches wait. `threads` as in base/parallel.h; with
 * one, each batch is written when it is full. NULL without memory. The database is the caller's only after cw_behind_wait, which also
 * brings what went wrong meanwhile, and until the next order or line. */
typedef struct cw_behind cw_behind;
cw_behind *cw_behind_begin(cw_db *db, unsigned threads);
cw_code cw_behind_wait(cw_behind *b, cw_error *err) CW_MUST_CHECK;   /* NULL: nothing to wait for, as below */
cw_code cw_behind_orders(cw_behind *b, cw_error *err) CW_MUST_CHECK; /* from here all orders are written */
cw_code cw_behind_end(cw_behind *b, cw_error *err) CW_MUST_CHECK;    /* from here all is written */
void cw_behind_free(cw_behind *b); /* what waits and was not written is not */

/* After the last row of a kind; the first of the listed errors becomes the load's. */
cw_code cw_intake_kind_end(cw_intake *in, const cw_kind *kind, cw_error *err) CW_MUST_CHECK;
cw_code cw_intake_listed(const cw_error_list *errors, cw_error *err);

/* The field (intake_field.c): a planting came or was changed, a lot was dug, a walk is entered. Whether it all goes together is
 * looked at when all files are read: a walk in one file may say what another one lacks. */
cw_code cw_intake_planted(cw_intake *in, cw_row *row, cw_error *err) CW_MUST_CHECK;
cw_code cw_intake_planting_changed(cw_intake *in, cw_row *row, cw_error *err) CW_MUST_CHECK;
cw_code cw_intake_dug(cw_intake *in, cw_row *row, int64_t lot, cw_error *err) CW_MUST_CHECK;
cw_code cw_intake_round(cw_intake *in, cw_row *row, cw_error *err) CW_MUST_CHECK;
cw_code cw_intake_lot_put_right(cw_intake *in, cw_row *row, const cw_bind *values,
                                cw_error *err) CW_MUST_CHECK;
cw_code cw_intake_field_end(cw_intake *in, cw_error *err) CW_MUST_CHECK;

/* Holds (intake_holds.c): what a row holds, read as a person writes it; and the hold set. */
cw_code cw_intake_hold_read(cw_intake *in, cw_row *row, cw_error *err) CW_MUST_CHECK;
cw_code cw_intake_hold_set(cw_intake *in, cw_row *row, cw_error *err) CW_MUST_CHECK;

/* A carrier's rows (intake_tracking.c): each is kept until the file's end, since several may be of one parcel. */
cw_code cw_intake_tracked(cw_intake *in, cw_row *row, cw_error *err) CW_MUST_CHECK;
cw_code cw_intake_tracked_end(cw_intake *in, cw_error *err) CW_MUST_CHECK;
void cw_intake_tracked_free(cw_intake *in);

/* The file being read, as one that can be taken back, and as its owner calls it. */
const char *cw_intake_file_name(const cw_intake *in);
cw_code cw_intake_brought(cw_intake *in, int64_t *brought, cw_error *err) CW_MUST_CHECK;

/* What a form says of a column, in the caller's `room`: a text (NULL: nothing was said), a number (CW_NOT_SAID: nothing was), a day
 * (CW_NO_DAY: today). */
const cw_saying *cw_saying_text(cw_saying *room, const char *text);
const cw_saying *cw_saying_number(cw_saying *room, int64_t number);
const cw_saying *cw_saying_day(cw_saying *room, const cw_asker *who, cw_day day);

/* One session, check, stock-take, lot or planting as a form gives it: what is said of each of the kind's columns, NULL where nothing was.
 * Checked and entered as the row of a file would be, inside the caller's transaction. *id is its number; 0: just that is on record. */
cw_code cw_intake_one(cw_nursery *n, const cw_asker *who, cw_kind_id kind, const cw_saying *const *said,
                      int64_t *id, cw_error *err) CW_MUST_CHECK;

#endif
