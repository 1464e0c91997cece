/* SPDX-License-Identifier: MIT */
#include "store/turning.h"

#include "base/text.h"
#include "columns/turning.h"
#include "store/db_inside.h"
#include "store/sql.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Tables that live on into the next season's file; every other one is emptied. What is new and stands in neither list does not
 * pass the test over the schema. */
static const char *const kept[] = {
    "nursery",    "setting",      "source",        "variety",     "history",       "past_sale", "past_check",
    "past_order", "past_shrivel", "past_weighing", "planting",    "origin",        "place",     "zone",
    "zone_range", "destination",  "person",        "program_key", "past_planting", "template",  "factor",
    "recovery",   "keep_said",    "fit",           "former_code", "known_buyer",   "past_said",
};

bool cw_turning_keeps(const char *table)
{
    for (size_t i = 0; i < sizeof kept / sizeof kept[0]; i++)
        if (strcmp(kept[i], table) == 0)
            return true;
    return false;
}

cw_code cw_turning_closed(cw_db *db, bool *found, cw_closed_row *out, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "turning.closed");
    cw_code code = cw_stmt_one(s, found, err, "");
    if (code == CW_OK && *found) {
        out->season = (int)cw_col_int(s, turning_closed_season);
        out->day = (cw_day)cw_col_int(s, turning_closed_day);
        cw_copy(out->digest, sizeof out->digest, cw_col_text(s, turning_closed_digest));
        out->at = cw_col_int(s, turning_closed_at);
        cw_copy(out->actor, sizeof out->actor, cw_col_text(s, turning_closed_actor));
        out->buyers = cw_col_int(s, turning_closed_buyers);
    }
    cw_code end = cw_stmt_end(s, err);
    return code == CW_OK ? end : code;
}

cw_code cw_turning_close(cw_db *db, const cw_closed_row *row, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "turning.close"), err, "iititi", (int64_t)row->season,
                       (int64_t)row->day, row->digest, (int64_t)row->at, row->actor, row->buyers);
}

cw_code cw_turning_reopen(cw_db *db, cw_instant at, const char *actor, const char *why, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "turning.reopen"), err, "itt", (int64_t)at, actor, why);
}

cw_code cw_turning_open_ends(cw_db *db, cw_open_ends *out, cw_error *err)
{
    bool found = false;
    cw_stmt *s = cw_db_stmt(db, "turning.open_ends");
    cw_code code = cw_stmt_one(s, &found, err, "");
    if (code == CW_OK && found)
        *out =
            (cw_open_ends){ cw_col_int(s, turning_open_ends_claims), cw_col_int(s, turning_open_ends_notices),
                            cw_col_int(s, turning_open_ends_refunds),
                            cw_col_int(s, turning_open_ends_parcels),
                            cw_col_int(s, turning_open_ends_orders) };
    cw_code end = cw_stmt_end(s, err);
    return code == CW_OK ? end : code;
}

cw_code cw_turning_source(cw_db *db, const char *name, const char *digest, int64_t rows, const char *actor,
                          cw_instant at, int64_t *id, cw_error *err)
{
    cw_code code =
        cw_stmt_run(cw_db_stmt(db, "turning.source"), err, "ttiti", name, digest, rows, actor, (int64_t)at);
    *id = cw_db_last_id(db);
    return code;
}

cw_code cw_turning_rate(cw_db *db, const cw_past_rate *r, int64_t source, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "turning.rate"), err, "iiiiitrr", (int64_t)r->season, r->variety_id,
                       r->clumps, r->divisions, source, r->lot, r->cut_from, r->cut_to);
}

cw_code cw_turning_rot(cw_db *db, const cw_past_rot *r, int64_t source, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "turning.rot"), err, "iitriiitrt", (int64_t)r->season, r->variety_id,
                       r->division ? "division" : "clump", r->weeks, r->inspected, r->rotten, source, r->lot,
                       r->age, r->why);
}

cw_code cw_turning_shrivel(cw_db *db, int season, const char *lot, const double pa_days[2], int64_t inspected,
                           int64_t shrivelled, int64_t source, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "turning.shrivel"), err, "itrriii", (int64_t)season, lot, pa_days[0],
                       pa_days[1], inspected, shrivelled, source);
}

cw_code cw_turning_weighing(cw_db *db, int season, const char *sample, const char *lot, double pa_days,
                            double kg, int64_t source, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "turning.weighing"), err, "ittrri", (int64_t)season, sample, lot,
                       pa_days, kg, source);
}

cw_code cw_turning_samples(cw_db *db, void (*take)(void *context, const char *sample), void *context,
                           cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "turning.samples");
    cw_code code = cw_stmt_start(s, err, "");
    while (code == CW_OK && cw_stmt_next(s))
        take(context, cw_col_text(s, turning_samples_sample));
    cw_code end = cw_stmt_end(s, err);
    return code == CW_OK ? end : code;
}

cw_code cw_turning_asked(cw_db *db,
                         void (*take)(void *context, int64_t variety, cw_instant at, int64_t quantity,
                                      int64_t offered),
                         void *context, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "turning.asked");
    cw_code code = cw_stmt_start(s, err, "");
    while (code == CW_OK && cw_stmt_next(s))
        take(context, cw_col_int(s, turning_asked_variety_id), cw_col_int(s, turning_asked_received_at),
             cw_col_int(s, turning_asked_asked), cw_col_int_or(s, turning_asked_offered_then, -1));
    cw_code end = cw_stmt_end(s, err);
    return code == CW_OK ? end : code;
}

cw_code cw_turning_sale(cw_db *db, int season, int64_t variety, int64_t sold, cw_day sold_out, cw_error *err)
{
    const int64_t day = sold_out;
    return cw_stmt_run(cw_db_stmt(db, "turning.past_sale"), err, "iiiI", (int64_t)season, variety, sold,
                       sold_out == CW_NO_DAY ? NULL : &day);
}

cw_code cw_turning_order(cw_db *db, int season, int64_t variety, cw_day day, int64_t quantity, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "turning.past_order"), err, "iiii", (int64_t)season, variety,
                       (int64_t)day, quantity);
}

cw_code cw_turning_plant(cw_db *db, int season, cw_error *err)
{
    static const char *const steps[] = { "turning.past_plantings", "turning.drop_plantings", "turning.plant",
                                         "turning.planted" };
    cw_code code = CW_OK;
    for (size_t i = 0; code == CW_OK && i < sizeof steps / sizeof steps[0]; i++)
        code = i == 1 ? cw_stmt_run(cw_db_stmt(db, steps[i]), err, "")
                      : cw_stmt_run(cw_db_stmt(db, steps[i]), err, "i", (int64_t)season);
    return code;
}

cw_code cw_turning_field(cw_db *db, int season, int64_t *plants, int64_t *clumps, cw_error *err)
{
    bool found = false;
    cw_stmt *s = cw_db_stmt(db, season ? "turning.field_kept" : "turning.field_own");
    cw_code code =
        season ? cw_stmt_one(s, &found, err, "i", (int64_t)season) : cw_stmt_one(s, &found, err, "");
    *plants = found ? cw_col_int(s, turning_field_own_plants) : 0;
    *clumps = found ? cw_col_int(s, turning_field_own_clumps) : 0;
    cw_code end = cw_stmt_end(s, err);
    return code == CW_OK ? end : code;
}

cw_code cw_turning_buyers(cw_db *db, const cw_day *since, cw_error *err)
{
    const int64_t day = since ? *since : 0, *from = since ? &day : NULL;
    cw_code code = cw_stmt_run(cw_db_stmt(db, "turning.buyers_drop"), err, "I", from);
    return code == CW_OK ? cw_stmt_run(cw_db_stmt(db, "turning.buyers_take"), err, "I", from) : code;
}

cw_code cw_turning_buyers_each(cw_db *db, int season, bool (*take)(void *context, const char *buyer),
                               void *context, cw_error *err)
{
    bool on = true;
    cw_stmt *s = cw_db_stmt(db, season ? "turning.buyers_here" : "turning.buyers");
    cw_code code = season ? cw_stmt_start(s, err, "i", (int64_t)season) : cw_stmt_start(s, err, "");
    while (code == CW_OK && on && cw_stmt_next(s))
        on = take(context, cw_col_text_there(s, turning_buyers_buyer));
    cw_code end = cw_stmt_end(s, err);
    return code == CW_OK ? end : code;
}

cw_code cw_turning_said(cw_db *db, const cw_past_said *line, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "turning.said"), err, "iitirrr", (int64_t)line->season,
                       (int64_t)line->said_on, line->why, line->varieties, line->expected, line->came,
                       line->held);
}

cw_code cw_turning_said_each(cw_db *db, void (*take)(void *context, const cw_past_said *line), void *context,
                             cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "turning.said_lines");
    cw_code code = cw_stmt_start(s, err, "");
    while (code == CW_OK && cw_stmt_next(s)) {
        cw_past_said line = { .season = (int)cw_col_int(s, turning_said_lines_of_season),
                              .said_on = (cw_day)cw_col_int(s, turning_said_lines_said_on),
                              .varieties = cw_col_int(s, turning_said_lines_of_varieties),
                              .expected = cw_col_real(s, turning_said_lines_expected),
                              .came = cw_col_real(s, turning_said_lines_came),
                              .held = cw_col_real(s, turning_said_lines_held) };
        cw_copy(line.why, sizeof line.why, cw_col_text_there(s, turning_said_lines_why));
        take(context, &line);
    }
    cw_code end = cw_stmt_end(s, err);
    return code == CW_OK ? end : code;
}

cw_code cw_turning_zones(cw_db *db, void (*take)(void *context, const char *code, cw_week week),
                         void *context, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "turning.zones");
    cw_code code = cw_stmt_start(s, err, "");
    while (code == CW_OK && cw_stmt_next(s))
        take(context, cw_col_text(s, turning_zones_code), (cw_week)cw_col_int(s, turning_zones_first_week));
    cw_code end = cw_stmt_end(s, err);
    return code == CW_OK ? end : code;
}

cw_code cw_turning_move_zone(cw_db *db, const char *code, cw_week week, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "turning.move_zone"), err, "ti", code, (int64_t)week);
}

/* Triggers of the ledger and of the audit do not let go of a row: they are taken off, and put back word by word. */
typedef struct trigger {
    struct trigger *next;
    char *name, *sql;
} trigger;

static void triggers_free(trigger *t)
{
    while (t) {
        trigger *next = t->next;
        sqlite3_free(t->name);
        sqlite3_free(t->sql);
        free(t);
        t = next;
    }
}

static cw_code triggers(sqlite3 *raw, trigger **out, cw_error *err)
{
    sqlite3_stmt *s = NULL;
    int rc = sqlite3_prepare_v2(raw, cw_sql_text("file.schema"), -1, &s, NULL);
    while (rc == SQLITE_OK && (rc = sqlite3_step(s)) == SQLITE_ROW) {
        rc = SQLITE_OK;
        if (strcmp((const char *)sqlite3_column_text(s, 1), "trigger") != 0)
            continue;
        trigger *t = calloc(1, sizeof *t);
        if (t == NULL || (t->name = sqlite3_mprintf("%s", sqlite3_column_text(s, 0))) == NULL ||
            (t->sql = sqlite3_mprintf("%s", sqlite3_column_text(s, 2))) == NULL)
            rc = SQLITE_NOMEM;
        if (t) {
            t->next = *out;
            *out = t;
        }
    }
    sqlite3_finalize(s);
    return rc == SQLITE_DONE ? CW_OK : cw_db_fail(raw, err, "reading the schema");
}

static int run(sqlite3 *raw, const char *format, const char *name)
{
    char *sql = sqlite3_mprintf(format, name);
    int rc = sql ? sqlite3_exec(raw, sql, NULL, NULL, NULL) : SQLITE_NOMEM;
    sqlite3_free(sql);
    return rc;
}

/* Every table that is not kept, in any order: foreign keys are off. */
static int empty_tables(sqlite3 *raw)
{
    sqlite3_stmt *s = NULL;
    int rc = sqlite3_prepare_v2(raw, cw_sql_text("file.schema"), -1, &s, NULL);
    char *all[200];
    size_t n = 0;
    while (rc == SQLITE_OK && (rc = sqlite3_step(s)) == SQLITE_ROW) {
        rc = SQLITE_OK;
        const char *name = (const char *)sqlite3_column_text(s, 0);
        if (strcmp((const char *)sqlite3_column_text(s, 1), "table") == 0 && !cw_turning_keeps(name) &&
            n < sizeof all / sizeof all[0] && (all[n] = sqlite3_mprintf("%s", name)) != NULL)
            n++;
    }
    sqlite3_finalize(s);
    rc = rc == SQLITE_DONE ? SQLITE_OK : rc;
    for (size_t i = 0; i < n; i++) {
        rc = rc == SQLITE_OK ? run(raw, "DELETE FROM \"%w\"", all[i]) : rc;
        sqlite3_free(all[i]);
    }
    return rc;
}

cw_code cw_turning_empty(cw_db *db, cw_error *err)
{
    trigger *off = NULL;
    cw_code code = triggers(db->raw, &off, err);
    int rc = SQLITE_OK;
    for (const trigger *t = off; code == CW_OK && t && rc == SQLITE_OK; t = t->next)
        rc = run(db->raw, "DROP TRIGGER \"%w\"", t->name);
    if (code == CW_OK && rc == SQLITE_OK)
        rc = empty_tables(db->raw);
    for (const trigger *t = off; code == CW_OK && t && rc == SQLITE_OK; t = t->next)
        rc = sqlite3_exec(db->raw, t->sql, NULL, NULL, NULL);
    if (code == CW_OK && rc != SQLITE_OK)
        code = cw_db_fail(db->raw, err, "emptying the season");
    triggers_free(off);
    if (code == CW_OK)
        code = cw_stmt_run(cw_db_stmt(db, "turning.drop_retired"), err, "");
    if (code == CW_OK)
        code = cw_stmt_run(cw_db_stmt(db, "turning.drop_formers"), err, "");
    return code == CW_OK ? cw_stmt_run(cw_db_stmt(db, "turning.drop_sources"), err, "") : code;
}

cw_code cw_turning_turn(cw_db *db, int season, cw_day ship, cw_instant at, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "turning.turn"), err, "iii", (int64_t)season, (int64_t)ship,
                       (int64_t)at);
}

cw_code cw_turning_origin(cw_db *db, const cw_origin_row *o, const char *actor, cw_instant at, cw_error *err)
{
    const cw_bind values[] = { { .type = 'i', .i = o->season }, { .type = 'i', .i = o->day },
                               { .type = 'i', .i = o->ship },   { .type = o->pa < 0 ? 'n' : 'r', .r = o->pa },
                               { .type = 't', .t = o->digest }, { .type = 'i', .i = at },
                               { .type = 't', .t = actor } };
    return cw_stmt_run_with(cw_db_stmt(db, "turning.origin"), err, values, 7);
}

cw_code cw_turning_origin_of(cw_db *db, int season, bool *found, cw_origin_row *out, cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "turning.origins");
    *found = false;
    cw_code code = cw_stmt_start(s, err, "");
    while (code == CW_OK && cw_stmt_next(s)) {
        if (cw_col_int(s, turning_origins_season) != season)
            continue;
        *found = true;
        out->season = season;
        out->day = (cw_day)cw_col_int(s, turning_origins_day);
        out->ship = (cw_day)cw_col_int(s, turning_origins_ship_day);
        cw_copy(out->digest, sizeof out->digest, cw_col_text(s, turning_origins_digest));
        out->told = cw_col_int(s, turning_origins_told) != 0;
    }
    cw_code end = cw_stmt_end(s, err);
    return code == CW_OK ? end : code;
}

cw_code cw_turning_count(cw_db *db, int season, cw_turning_counts *out, cw_error *err)
{
    bool found = false;
    cw_stmt *s = cw_db_stmt(db, "turning.counts");
    cw_code code = cw_stmt_one(s, &found, err, "i", (int64_t)season);
    if (code == CW_OK && found)
        *out = (cw_turning_counts){ .varieties = cw_col_int(s, turning_counts_varieties),
                                    .retired = cw_col_int(s, turning_counts_retired),
                                    .places = cw_col_int(s, turning_counts_places),
                                    .zones = cw_col_int(s, turning_counts_zones),
                                    .destinations = cw_col_int(s, turning_counts_destinations),
                                    .people = cw_col_int(s, turning_counts_people),
                                    .keys = cw_col_int(s, turning_counts_keys),
                                    .settings = cw_col_int(s, turning_counts_settings),
                                    .templates = cw_col_int(s, turning_counts_templates),
                                    .orders = cw_col_int(s, turning_counts_orders),
                                    .lots = cw_col_int(s, turning_counts_lots),
                                    .rate = cw_col_int(s, turning_counts_rate),
                                    .rot = cw_col_int(s, turning_counts_rot),
                                    .shrivel = cw_col_int(s, turning_counts_shrivel),
                                    .weighings = cw_col_int(s, turning_counts_weighings),
                                    .sales = cw_col_int(s, turning_counts_sales),
                                    .plants = cw_col_int(s, turning_counts_plants),
                                    .fields = cw_col_int(s, turning_counts_fields),
                                    .buyers = cw_col_int(s, turning_counts_buyers) };
    cw_code end = cw_stmt_end(s, err);
    return code == CW_OK ? end : code;
}
