/* SPDX-License-Identifier: MIT */
#include "desk/closing/closing_desk.h"

#include "base/json.h"
#include "base/text.h"
#include "desk/nursery/nursery_inside.h"
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "base/banned.h"

/* "FOLDER/season-2032.db", and for a look a name that nobody else uses at that moment. */
static cw_code path_of(const cw_nursery *n, const cw_asker *who, int season, bool look, char out[1000],
                       cw_error *err)
{
    const char *own = cw_db_path(n->db), *slash = strrchr(own, '/');
    char end[80] = "";
    int folder = slash ? (int)(slash - own) + 1 : 0;
    if (look)
        snprintf(end, sizeof end, ".look-%lld-%p", (long long)who->clock, (const void *)n);
    int used = snprintf(out, 1000, "%.*sseason-%d.db%s", folder, own, season, end);
    return used < 1000 ? CW_OK : cw_error_set(err, CW_REFUSED, "the folder's name is too long");
}

static const char *file_of(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

static const cw_column proof_columns[] = {
    { "part", CW_TEXT_T },
    { "past", CW_TEXT_T, .says = "in this season's own file" },
    { "here", CW_TEXT_T, .says = "in the next one's" },
    { "agree", CW_BOOL_T },
};
static const cw_shape proof_shape = CW_ROWS(proof_columns);
const cw_shape cw_closing_made_shape = { .parts = (const cw_part[]){
                                             { "file", CW_TEXT_T },
                                             { "rows", .shape = &cw_closing_next_shape },
                                             { "proof", .shape = &proof_shape },
                                             { 0 },
                                         } };

static cw_code answer(const char *path, const cw_table *rows, const cw_table *proof, json_t **out,
                      cw_error *err)
{
    *out = json_pack("{s:s,s:o,s:o}", "file", file_of(path), "rows", cw_table_to_json(rows), "proof",
                     proof ? cw_table_to_json(proof) : json_array());
    return *out ? CW_OK : cw_error_memory(err);
}

static cw_code turn(cw_nursery *n, const cw_asker *who, const cw_turning_ask *ask, bool look, char path[1000],
                    cw_table *rows, cw_error *err)
{
    cw_code code = path_of(n, who, ask->season, look, path, err);
    if (code != CW_OK)
        return code;
    const cw_next next = { .path = path,
                           .season = ask->season,
                           .ship = ask->ship,
                           .leave_open = ask->leave_open,
                           .no_mark = true,
                           .buyers_since = ask->buyers_since };
    return cw_closing_next(n, who, &next, !look, rows, err);
}

cw_code cw_closing_look(cw_nursery *n, const cw_asker *who, const cw_turning_ask *ask, json_t **out,
                        cw_error *err)
{
    char path[1000], real[1000];
    cw_table rows = { 0 };
    *out = NULL;
    cw_code code = turn(n, who, ask, true, path, &rows, err);
    if (code == CW_OK)
        code = path_of(n, who, ask->season, false, real, err);
    if (code == CW_OK)
        code = answer(real, &rows, NULL, out, err);
    cw_table_free(&rows);
    return code;
}

cw_code cw_closing_make(cw_nursery *n, const cw_asker *who, const cw_turning_ask *ask, json_t **out,
                        cw_error *err)
{
    char path[1000];
    cw_table rows = { 0 }, proof = { 0 };
    cw_nursery *made = NULL;
    long broken = 0;
    *out = NULL;
    cw_code code = turn(n, who, ask, false, path, &rows, err);
    bool turned = code == CW_OK;
    if (code == CW_OK)
        code = cw_nursery_open(path, CW_LOOK, NULL, &made, err);
    if (code == CW_OK)
        code = cw_closing_prove(made, n, who, &proof, &broken, err);
    cw_nursery_close(made);
    if (code == CW_OK)
        code = answer(path, &rows, &proof, out, err);
    if (turned && (broken > 0 || code != CW_OK)) /* what is not proved is not there: it is soon made again */
        cw_db_throw_away(path);
    cw_table_free(&rows);
    cw_table_free(&proof);
    return code;
}

cw_code cw_closing_mark(cw_nursery *n, const cw_asker *who, const cw_turning_ask *ask, cw_error *err)
{
    char path[1000];
    cw_table rows = { 0 };
    if (cw_owner_only(who, "close the season", err) != CW_OK)
        return CW_FORBIDDEN;
    cw_code code = path_of(n, who, ask->season, false, path, err);
    if (code == CW_OK && access(path, F_OK) != 0)
        return cw_error_set(err, CW_NOT_FOUND, "the next season's file, %.300s, is not made yet",
                            file_of(path));
    if (code != CW_OK)
        return code;
    const cw_next next = { .path = path,
                           .season = ask->season,
                           .ship = ask->ship,
                           .leave_open = ask->leave_open,
                           .buyers_since = ask->buyers_since };
    code = cw_closing_next(n, who, &next, true, &rows, err);
    cw_table_free(&rows);
    return code;
}

const cw_shape cw_closing_told_shape = {
    .parts =
        (const cw_part[]){
            { "closed", CW_BOOL_T },
            { "season", CW_INT_T, .null = true, .says = "Opened from this one." },
            { "day", CW_DAY_T, .null = true },
            { "at", CW_INSTANT_T, .null = true },
            { "actor", CW_TEXT_T, .null = true },
            { "buyers", CW_INT_T, .says = "Who went along into that season." },
            { 0 },
        }
};

cw_code cw_closing_told(cw_nursery *n, json_t **out, cw_error *err)
{
    bool closed = false;
    cw_closed c = { 0 };
    char day[11], at[25];
    *out = NULL;
    cw_code code = cw_closing_state(n, &closed, &c, err);
    if (code != CW_OK)
        return code;
    cw_day_format(c.day, day);
    cw_instant_format(c.at, at);
    *out = closed ? json_pack("{s:b,s:i,s:s,s:s,s:s,s:I}", "closed", 1, "season", c.season, "day", day, "at",
                              at, "actor", c.actor, "buyers", (json_int_t)c.buyers)
                  : json_pack("{s:b,s:n,s:n,s:n,s:n,s:i}", "closed", 0, "season", "day", "at", "actor",
                              "buyers", 0);
    return *out ? CW_OK : cw_error_memory(err);
}
