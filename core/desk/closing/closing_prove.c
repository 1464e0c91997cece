/* SPDX-License-Identifier: MIT */
/* Does the later file still know what the season taught? */
#include "desk/closing/closing.h"

#include "desk/closing/carried_inside.h"
#include "desk/closing/taught_inside.h"
#include "base/text.h"
#include "store/naming.h"
#include "store/turning.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static const cw_column columns[] = {
    { "part", CW_TEXT_T },
    { "past", CW_TEXT_T, .says = "in the season's own file" },
    { "here", CW_TEXT_T },
    { "agree", CW_BOOL_T },
};

static void put(cw_table *t, const char *part, const char *past, const char *here, long *broken)
{
    bool agree = strcmp(past, here) == 0;
    cw_put_text(t, part);
    cw_put_text(t, past);
    cw_put_text(t, here);
    cw_put_bool(t, agree);
    *broken += !agree;
}

typedef struct sums {
    int64_t sessions, clumps, divisions, looks, inspected, rotten, shrivelled, weighings;
} sums;

static sums sum(const cw_taught *t)
{
    sums s = { .sessions = (int64_t)t->rates, .looks = (int64_t)t->rots, .weighings = (int64_t)t->weighings };
    for (size_t i = 0; i < t->rates; i++) {
        s.clumps += t->rate[i].clumps;
        s.divisions += t->rate[i].divisions;
    }
    for (size_t i = 0; i < t->rots; i++) {
        s.inspected += t->rot[i].inspected;
        s.rotten += t->rot[i].rotten;
    }
    for (size_t i = 0; i < t->shrivels; i++)
        s.shrivelled += t->shrivel[i].shrivelled;
    return s;
}

static void put_sums(cw_table *out, const cw_taught *past, const cw_taught *here, long *broken)
{
    sums a = sum(past), b = sum(here);
    const struct {
        const char *part;
        int64_t past, here;
    } rows[] = { { "dividing sessions", a.sessions, b.sessions }, { "clumps cut", a.clumps, b.clumps },
                 { "divisions made", a.divisions, b.divisions },  { "looks at stock", a.looks, b.looks },
                 { "inspected", a.inspected, b.inspected },       { "rotten", a.rotten, b.rotten },
                 { "shrivelled", a.shrivelled, b.shrivelled },    { "weighings", a.weighings, b.weighings } };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char x[24], y[24];
        snprintf(x, sizeof x, "%lld", (long long)rows[i].past);
        snprintf(y, sizeof y, "%lld", (long long)rows[i].here);
        put(out, rows[i].part, x, y, broken);
    }
}

static cw_code put_field(cw_nursery *n, cw_nursery *past, cw_table *out, long *broken, cw_error *err)
{
    static const char *const parts[] = { "plants set out", "clumps dug of them" };
    int64_t was[2], is[2];
    cw_code code = cw_turning_field(past->db, 0, &was[0], &was[1], err);
    if (code == CW_OK)
        code = cw_turning_field(n->db, past->season.season, &is[0], &is[1], err);
    for (size_t i = 0; code == CW_OK && i < 2; i++) {
        char x[24], y[24];
        snprintf(x, sizeof x, "%lld", (long long)was[i]);
        snprintf(y, sizeof y, "%lld", (long long)is[i]);
        put(out, parts[i], x, y, broken);
    }
    return code;
}

/* The past season's varieties as this file calls them today: a code that changed, two that were merged. */
static cw_code call_alike(cw_nursery *n, cw_taught *t, cw_error *err)
{
    size_t count = t->from->varieties;
    char(*code)[CW_MAX_CODE + 1] = calloc(count + 1, sizeof *code);
    cw_code done = code ? CW_OK : cw_error_memory(err);
    for (size_t i = 0; i < count && done == CW_OK; i++) {
        const char *then = t->from->snapshot->variety[i].code;
        cw_named_variety v = { 0 };
        bool found = false;
        done = cw_naming_variety(n->db, then, &found, &v, err);
        cw_copy(code[i], sizeof code[i], found ? v.code : then);
    }
    if (done == CW_OK)
        done = cw_taught_call(t, (const char(*)[CW_MAX_CODE + 1]) code, err);
    free(code);
    return done;
}

cw_code cw_closing_prove(cw_nursery *n, cw_nursery *past, const cw_asker *who, cw_table *out, long *broken,
                         cw_error *err)
{
    int season = past->season.season;
    bool found = false;
    cw_origin_row o = { 0 };
    cw_forecast_data *then = NULL, *now = NULL;
    cw_taught was = { 0 }, is = { 0 };
    char first[65], second[65];
    *broken = 0;
    cw_table_init(out, columns, sizeof columns / sizeof columns[0]);
    cw_code code = cw_turning_origin_of(n->db, season, &found, &o, err);
    if (code == CW_OK && !found)
        code = cw_error_set(err, CW_NOT_FOUND, "this file was not made from the season of %d", season);
    if (code == CW_OK)
        code = cw_forecast_data_load(past, o.day, o.ship, &then, err);
    if (code == CW_OK)
        code = cw_forecast_data_load(n, who->today, n->season.ship, &now, err);
    if (code == CW_OK)
        code = cw_taught_read(then, season, &was, err);
    if (code == CW_OK)
        code = cw_taught_read(now, season, &is, err);
    if (code == CW_OK) {
        put_sums(out, &was, &is, broken);
        code = put_field(n, past, out, broken, err);
    }
    if (code == CW_OK)
        code = cw_carried_prove(n, past, who, &o, put, out, broken, err);
    if (code == CW_OK) {
        cw_taught_digest(&was, first);
        put(out, "as it was closed", o.digest, first, broken);
        code = call_alike(n, &was, err);
    }
    if (code == CW_OK)
        code = call_alike(n, &is, err);
    if (code == CW_OK) {
        cw_taught_digest(&was, first);
        cw_taught_digest(&is, second);
        put(out, "every row", first, second, broken);
        code = cw_table_check(out, err);
    }
    cw_taught_free(&was);
    cw_taught_free(&is);
    cw_forecast_data_free(then);
    cw_forecast_data_free(now);
    return code;
}
