/* SPDX-License-Identifier: MIT */
#include "base/day.h"
#include "base/text.h"
#include "store/db_inside.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* What the schema allows in each column that a statement gives. SQLite looks at types, NOT NULL and CHECK when a row is written and
 * never again: in a file that a disk damaged, a well-formed row of another table may stand where a lot is sought. Every value
 * leaves the store through cw_col_*, so that is where it is held against this: no text where one must be, a day that no
 * calendar has, a count that no nursery has, is damage, told by cw_stmt_end; nothing that is computed from it gets out. */

#define ANY_MOST 9000000000000000LL /* so that a thousand of them can be added */
#define COUNT    1000000000LL
#define SUM      1000000000000LL
#define FIRST_DAY                                                                                            \
    (-62091LL)            /* 1800-01-01; days are typed from 1900 to 2199, and computed ones lie near them */
#define LAST_DAY 120530LL /* 2300-01-01 */

typedef struct range {
    const char *names; /* of columns, between blanks; NULL ends a list */
    int64_t least, most;
} range;

static const range whole[] = {
    { " day ship_day sold_out_on dug_on due_on shipped_on planted_on seen_on ", FIRST_DAY, LAST_DAY },
    { " at made_at received_at taken_at packed_at answered_at done_at since seen expires_at on_at ",
      FIRST_DAY *CW_DAY_MS, LAST_DAY *CW_DAY_MS },
    { " wish_week ship_week first_week last_week week ", 180001, 230053 },
    { " clumps divisions culled rotten saleable blind inspected shrivelled count quantity first_asked taken "
      "hold_back reserve "
      "limit_per_order weight_g slot line stop walk_order height_cm introduced ",
      -COUNT, COUNT },
    /* As files are read; the fits work with a level for each season between the first and the last. */
    { " season ", 1900, 2199 },
    { " offered sold beyond ", 0, SUM }, /* a plan goes from what is sold upwards */
    { " before lines placed price unit_price amount ", -SUM, SUM },
    { 0 },
};

/* Wider than what may be typed (kinds.def), narrow enough that no fit runs out of numbers. */
static const range real[] = {
    { " weeks age ", 0, 30000 }, /* as long as the days let through lie apart */
    { " own_low own_high temp_c rh growth hours ", -1000, 1000 },
    { " confidence p_short cut_from cut_to ", 0, 1 },
    { " kg pa pa_days from_pa_days to_pa_days ", -COUNT, COUNT },
    { " expected came held demand_low demand_high ", -SUM, SUM },
    { 0 },
};

static void bound(cw_bounds *shape, const range *of, const char *column)
{
    char blanks[72];
    snprintf(blanks, sizeof blanks, " %.64s ", column);
    for (; of->names; of++)
        if (strstr(of->names, blanks)) {
            shape->least = of->least;
            shape->most = of->most;
        }
}

/* Some "(SELECT" gives a value, of which there may be none; after EXISTS and IN it does not. */
static bool has_lone_select(const char *sql)
{
    static const char inner[] = "(SELECT";
    for (const char *at = sql; (at = strstr(at, inner)) != NULL; at += sizeof inner - 1) {
        bool exists = at - sql >= 7 && strncmp(at - 7, "EXISTS ", 7) == 0;
        bool in = at - sql >= 4 && strncmp(at - 4, " IN ", 4) == 0;
        if (!exists && !in)
            return true;
    }
    return false;
}

/* `table`, or something that is no table and may hold it, is joined LEFT. */
static bool is_joined_left(sqlite3 *raw, const char *sql, const char *table)
{
    static const char join[] = "LEFT JOIN ";
    for (const char *at = sql; (at = strstr(at, join)) != NULL;) {
        char word[64];
        at += sizeof join - 1;
        size_t n = strcspn(at, " \n\t(;");
        snprintf(word, sizeof word, "%.*s", (int)n, at);
        if (strcmp(word, table) == 0 ||
            sqlite3_table_column_metadata(raw, NULL, word, NULL, NULL, NULL, NULL, NULL, NULL) != SQLITE_OK)
            return true;
    }
    return false;
}

/* A column that is NOT NULL can still be NULL in an answer: of a table that is joined LEFT, of a lone select, of the second half of
 * a union, of an aggregate over nothing. Where neither this nor cw_shape_surely_there can tell from the statement's words, NULL is
 * let through. */
static bool must_be_there(sqlite3 *raw, const char *sql, const char *table)
{
    static const char *const unsure[] = { "UNION", "MAX(", "MIN(", "COUNT(", "SUM(", "VALUES" };
    for (size_t i = 0; i < sizeof unsure / sizeof unsure[0]; i++)
        if (strstr(sql, unsure[i]))
            return false;
    return !has_lone_select(sql) && !is_joined_left(raw, sql, table);
}

cw_code cw_shape_make(cw_stmt *s, cw_error *err)
{
    int n = sqlite3_column_count(s->raw);
    const char *sql = sqlite3_sql(s->raw);
    s->shape = sqlite3_malloc64(((size_t)n + 1) *
                                sizeof *s->shape); /* SQLite's, as the statement that it goes with */
    if (s->shape == NULL)
        return cw_error_memory(err);
    for (int c = 0; c < n; c++) {
        cw_bounds *shape = &s->shape[c];
        const char *table = sqlite3_column_table_name(s->raw, c),
                   *column = sqlite3_column_origin_name(s->raw, c), *type = NULL;
        int not_null = 0, rc = SQLITE_ERROR;
        *shape = (cw_bounds){ .least = -ANY_MOST, .most = ANY_MOST };
        if (table && column)
            rc = sqlite3_table_column_metadata(s->db->raw, NULL, table, column, &type, NULL, &not_null, NULL,
                                               NULL);
        if (rc == SQLITE_NOMEM)
            return cw_error_memory(err);
        if (rc != SQLITE_OK)
            continue; /* computed, or of a table that is none of the file's */
        shape->needed =
            not_null && (cw_shape_surely_there(sql, c, table) || must_be_there(s->db->raw, sql, table));
        shape->type = type == NULL                   ? 0
                      : strcmp(type, "INTEGER") == 0 ? SQLITE_INTEGER
                      : strcmp(type, "REAL") == 0    ? SQLITE_FLOAT
                      : strcmp(type, "TEXT") == 0    ? SQLITE_TEXT
                                                     : 0;
        if (shape->type == SQLITE_INTEGER || shape->type == SQLITE_FLOAT)
            bound(shape, shape->type == SQLITE_INTEGER ? whole : real, column);
    }
    return CW_OK;
}

bool cw_shape_holds(cw_stmt *s, int column, sqlite3_value *value, int type)
{
    const cw_bounds *shape = &s->shape[column];
    bool holds = type == SQLITE_NULL ? !shape->needed : shape->type == 0 || type == shape->type;
    if (holds && type == SQLITE_INTEGER) {
        int64_t v = sqlite3_value_int64(value);
        holds = v >= shape->least && v <= shape->most;
    } else if (holds && type == SQLITE_FLOAT) {
        double v = sqlite3_value_double(value);
        holds = v >= (double)shape->least && v <= (double)shape->most;
    }
    if (!holds && s->damaged == 0)
        s->damaged = column + 1;
    return holds;
}

cw_code cw_db_damaged(cw_error *err, const char *where)
{
    return cw_error_set(err, CW_MACHINE,
                        "reading: the nursery file is damaged (%s); restore the last good backup", where);
}

cw_code cw_shape_tell(cw_stmt *s, cw_error *err)
{
    char where[160];
    const char *table = sqlite3_column_table_name(s->raw, s->damaged - 1),
               *origin = sqlite3_column_origin_name(s->raw, s->damaged - 1),
               *column = origin ? origin : sqlite3_column_name(s->raw, s->damaged - 1);
    snprintf(where, sizeof where, "%s%s%s is none that can be", table ? table : "", table ? "." : "",
             column ? column : "a value");
    return cw_db_damaged(err, where);
}
