/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_SHEETS_INSIDE_H
#define CW_DESK_SHEETS_INSIDE_H

/* Inside of desk/sheets: one sheet being fitted. */
#include "base/fold.h"
#include "base/json.h"
#include "base/map.h"
#include "base/sheet.h"
#include "base/table.h"
#include "base/typed.h"
#include "desk/nursery/kinds.h"
#include "desk/nursery/nursery_inside.h"
#include "desk/sheets/sheets.h"

/* What a column of ours is to a fit: what it holds and what more it must be, as one word. */
typedef enum cw_is {
    CW_IS_CODE,
    CW_IS_TEXT,
    CW_IS_WORD,
    CW_IS_COUNTRY,
    CW_IS_INT,
    CW_IS_REAL,
    CW_IS_DAY,
    CW_IS_PAST,
    CW_IS_DATE,
    CW_IS_INSTANT,
    CW_IS_PAST_INSTANT,
    CW_IS_WEEK,
    CW_IS_MONEY,
    CW_IS_YES,
    CW_IS_VARIETY,
    CW_IS_LOT,
    CW_IS_PLACE,
} cw_is;
cw_is cw_column_is(const cw_kind_column *k);

#define CW_FIT_NAME 80 /* "lots.clumps@heading" */

/* One of our columns; kind -1: none. */
typedef struct cw_target {
    int kind, column;
} cw_target;
#define CW_NO_TARGET ((cw_target){ -1, -1 })

typedef enum cw_how {
    CW_HOW_NONE,    /* not used */
    CW_HOW_NAME,    /* its heading is a word for ours */
    CW_HOW_LIKE,    /* its heading holds such a word, or nearly is one */
    CW_HOW_CONTENT, /* by what stands in it */
    CW_HOW_KEPT,    /* as it was taken before */
    CW_HOW_TOLD     /* somebody said so */
} cw_how;

/* What stands in a column, over all its rows. */
typedef struct cw_profile {
    long filled, numbers, days, moments, yes, weeks, countries;
    long varieties, lots, places; /* that are known */
    long points, commas, open_numbers;
    long dmy, mdy, open_days;
    long texts_with_counts; /* "3 x Amber Lantern" */
    char open_number[40], open_day[40];
    char sample[3][80];
    int samples;
} cw_profile;

typedef struct cw_fit_column {
    cw_target to;
    cw_how how;
    double sure;
    int group; /* of headings that end in a number: Item 1, Item 2; 0: none */
    /* its heading names a variety, and a cell is how many of that one: `to` is the kind's count */
    bool heads;
    /* as written; folded; without brackets and number */
    char header[CW_FOLD_BYTES], folded[CW_FOLD_BYTES], bare[CW_FOLD_BYTES];
    char unit[CW_TYPED_UNIT]; /* in brackets: "kg" */
    cw_profile seen;
} cw_fit_column;

typedef struct cw_constant {
    cw_target to;
    char value[CW_MAX_NAME + 1];
} cw_constant;
#define MOST_CONSTANTS 24

/* Names and codes that are on record, and those that this file makes. */
typedef struct cw_known {
    char (*codes)[CW_MAX_CODE + 1];
    char **names;    /* of varieties, */
    int64_t *prices; /* and what they cost in the catalogue, in cents; -1: nothing is said */
    size_t count, room;
    cw_map by_code, by_name, by_folded; /* -> index + 1; -1: several */
    size_t on_record;                   /* the first so many */
} cw_known;

/* Something that was said of a text which is no code: which code it means. */
typedef struct cw_named {
    char *text;
    char code[CW_MAX_CODE + 1];
    bool is_new;
} cw_named;

typedef enum cw_found { CW_FOUND, CW_FOUND_FOLDED, CW_FOUND_NEAR, CW_FOUND_NONE, CW_FOUND_SEVERAL } cw_found;

#define MOST_DOUBTS   60
#define MOST_PROBLEMS 200
#define MOST_SHOWN    60 /* rows of the preview */

/* One file of our own kind that the rows become. */
typedef struct cw_written {
    cw_text csv;
    size_t *row_of; /* [lines]: index of the sheet's row, of the records in order */
    long *line_of;  /* [lines]: the CSV's line */
    size_t lines, room;
    long next_line;
    cw_map seen; /* of varieties and places: those that stand in it */
} cw_written;

typedef struct cw_fitting {
    cw_nursery *n;
    const cw_asker *who;
    const cw_sheets_file *file;
    cw_workbook book;
    const cw_sheet *sheet;
    int sheet_at;
    bool sheet_told, header_told, kind_told, decimal_told, dates_told;
    bool heads, heads_open; /* some columns are headed by a variety each; that is asked */
    bool own_prices;        /* no column tells a price: a line costs what its variety does */
    long header;            /* index of its row; -1: the sheet has none */
    int kind;               /* -1: not known */
    unsigned width;
    cw_fit_column *columns; /* [width] */
    cw_mark decimal;
    cw_order dates;
    cw_charset charset;
    cw_constant constants[MOST_CONSTANTS];
    size_t constant_count;
    cw_named *named;
    size_t named_count;
    cw_map named_at; /* folded -> index + 1 */
    cw_known varieties, lots, places;
    int64_t last_walk;          /* of the places */
    cw_table holds;             /* cw_intake_columns of all kinds */
    char kept[CW_MAX_NAME + 1]; /* name of the kept fit that was used */
    char shape[65];             /* digest of the header */
    json_t *said, *doubts, *problems, *made, *passed, *rows, *doubted; /* doubted: keys of the doubts */
    long problem_count, doubt_count, repaired, passed_count, made_count;
    cw_map cache; /* text of a variety -> index + 1, -1 in doubt */
    cw_written out[CW_KINDS];
    long shown;
    cw_day clock_day;                  /* of which the nursery's clock was asked last, */
    cw_instant clock_from, clock_next; /* when it began and ended */
} cw_fitting;

/* columns.def, words.def. */
double cw_words_match(int kind, size_t column, const cw_fit_column *c, cw_how *how); /* 0 to 1 */
bool cw_words_part_of_name(const cw_fit_column *c); /* a first or last name of a buyer */
bool cw_words_buyers_name(const cw_fitting *f, int kind, size_t column, const cw_fit_column *c);
const char *cw_words_find(const char *words, const char *s,
                          size_t n); /* one of ours, of those that `words` allows; NULL */

bool cw_target_named(const char *name, cw_target *out); /* "lots.variety" */
void cw_target_name(cw_target t, char out[64]);
const char *cw_target_holds(const cw_fitting *f, cw_target t);
const cw_kind_column *cw_target_column(cw_target t);
bool cw_target_same(cw_target a, cw_target b);
int cw_kind_column_named(int kind, const char *name); /* -1 */

/* sheets_names.c */
cw_code cw_known_load(cw_fitting *f, cw_error *err) CW_MUST_CHECK;
void cw_known_free(cw_known *k);
bool cw_known_add(cw_known *k, const char *code, const char *name); /* false without memory */
cw_found cw_known_find(const cw_known *k, const char *s, size_t n, size_t *index);
bool cw_known_near(const cw_known *k, const char *s, size_t n, size_t near[5], size_t *count);
/* A code of letters and digits that a crate's tag can carry, and that nobody has. */
void cw_known_propose(const cw_known *k, const char *s, size_t n, char code[CW_MAX_CODE + 1]);

/* sheets_header.c: sheet, header, profiles. */
bool cw_fit_lies_on_side(const cw_fitting *f); /* its headings stand in the first column */
cw_code cw_fit_open(cw_fitting *f, cw_error *err) CW_MUST_CHECK;
cw_code cw_fit_profile(cw_fitting *f, cw_error *err) CW_MUST_CHECK;

/* sheets_fit.c: kind, columns, decimals, order of dates; what is missing. */
cw_code cw_fit_find(cw_fitting *f, cw_error *err) CW_MUST_CHECK;
const cw_constant *cw_fit_constant(const cw_fitting *f, cw_target t);
int cw_fit_column_of(const cw_fitting *f, cw_target t, int group); /* -1 */
bool cw_fit_has(const cw_fitting *f, int kind, const char *column);

/* How sure it is that the column of the sheet is the one of ours; fixed: said by somebody, or kept from before; made: the program makes it
 * where no column tells it; askable: it can be said once for all rows. */
double cw_fit_pair(const cw_fitting *f, int kind, size_t column, const cw_fit_column *c, cw_how *how);
bool cw_fit_fixed(const cw_fitting *f, unsigned c);
bool cw_fit_makes(int kind, const char *name);
bool cw_fit_askable(const cw_kind_column *k);
void cw_fit_ask(cw_fitting *f); /* sheets_ask.c */

/* sheets_heads.c: varieties as headings, a column each. */
#define CW_FEW_HEADS 3        /* so many headings that nobody knows are asked of; fewer are left unused */
int cw_fit_counted(int kind); /* the column of a kind that such cells are; -1: there is none */
/* Does the cell say how many? A nought is told of what was sold; elsewhere it is as good as nothing. */
bool cw_fit_counts(const cw_fitting *f, cw_field cell, cw_stands holds);
/* Could it be such a column? *known: its heading is a variety of ours. */
bool cw_fit_may_head(const cw_fitting *f, unsigned column, bool *known);
void cw_fit_ask_heads(cw_fitting *f, const bool may[CW_MAX_SHEET_COLUMNS]);
void cw_fit_column_name(const cw_fit_column *c, char out[CW_FIT_NAME]); /* as the fit tells it */
bool cw_fit_column_named(const char *name, cw_target *to, bool *heads);

/* sheets_value.c: one cell as its column wants it. False with `wrong` when it is none. */
typedef struct cw_cell_read {
    char text[CW_MAX_NOTE + 1];
    bool repaired;
    char wrong[200];
} cw_cell_read;
bool cw_cell_value(cw_fitting *f, cw_target to, const cw_fit_column *c, cw_field cell, cw_stands holds,
                   cw_cell_read *out);

/* What people write where they have nothing to write. */
bool cw_cell_nothing(cw_field cell, cw_stands holds);

/* sheets_variety.c: the code of a text in a column of varieties, lots, places. *index -1: in doubt, and asked. */
cw_code cw_fit_variety(cw_fitting *f, size_t row, unsigned column, const char *s, size_t n, int64_t *index,
                       cw_error *err) CW_MUST_CHECK;

/* sheets_rows.c: all rows. */
cw_code cw_fit_rows(cw_fitting *f, cw_error *err) CW_MUST_CHECK;

/* sheets_told.c: what somebody said, in two steps: before the file is read, and when its sheet is known. `kept`: it was said of a file
 * before this one. And the fit as it is told with the next look. */
cw_code cw_fit_told(cw_fitting *f, const json_t *told, cw_error *err) CW_MUST_CHECK;
cw_code cw_fit_told_sheet(cw_fitting *f, const json_t *told, cw_error *err) CW_MUST_CHECK;
cw_code cw_fit_told_columns(cw_fitting *f, const json_t *told, bool kept, cw_error *err) CW_MUST_CHECK;
json_t *cw_fit_json(const cw_fitting *f);

/* sheets_document.c */
json_t *cw_fit_document(cw_fitting *f);
/* s[0..n) into out[size], cut to fit, never inside a letter. */
void cw_fit_cut(char *out, size_t size, const char *s, size_t n);
void cw_fit_say(cw_fitting *f, const char *format, ...) CW_PRINTF(2, 3);

typedef struct cw_doubt {
    const char *what; /* kind, column, rival, headings, missing, decimal, dates, name, sheet */
    int column;       /* of the sheet; -1 */
    cw_target to;     /* or CW_NO_TARGET */
    const char *text; /* the offending text; may be NULL */
    long row;         /* as its owner counts; 0 */
    bool typed;       /* the answer is typed; else it is one of the */
    json_t *choices;  /* list of {value, says}; taken; NULL: no memory */
} cw_doubt;
void cw_fit_doubt(cw_fitting *f, const cw_doubt *d, const char *format, ...) CW_PRINTF(3, 4);
void cw_fit_choice(json_t **choices, const char *value, const char *format, ...) CW_PRINTF(3, 4);
void cw_fit_problem(cw_fitting *f, size_t row, int column, cw_target to, cw_field text, const char *says);

/* sheets_keep.c */
cw_code cw_fit_kept(cw_fitting *f, json_t **kept,
                    cw_error *err) CW_MUST_CHECK; /* by the header's shape; NULL: none */
cw_code cw_fit_keep(cw_fitting *f, const char *name, cw_error *err) CW_MUST_CHECK;

void cw_fitting_close(cw_fitting *f);

#endif
