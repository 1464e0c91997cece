/* SPDX-License-Identifier: MIT */
#include "http/route.h"

#include "desk/offer/offering.h"

#include "base/json.h"
#include "base/limits.h"
#include <stddef.h>

#include "base/banned.h"

static const cw_shape revision_shape = { .parts = (const cw_part[]){
                                             { "stock", CW_INT_T },
                                             { "trade", CW_INT_T },
                                             { "figures", CW_INT_T },
                                             { 0 },
                                         } };

/* A shop gets no settings: how cautious the nursery is does not concern it. */
static const cw_shape nursery_shape = { .parts = (const cw_part[]){
                                            { "season", CW_INT_T },
                                            { "ship", CW_DAY_T },
                                            { "currency", CW_TEXT_T },
                                            { "timezone", CW_TEXT_T },
                                            { "today", CW_DAY_T },
                                            { "revision", .shape = &revision_shape },
                                            { "settings", .shape = &cw_nursery_settings_shape, .lack = true },
                                            { 0 },
                                        } };

static json_t *revision_json(const cw_revision *r)
{
    return json_pack("{s:I,s:I,s:I}", "stock", (json_int_t)r->stock, "trade", (json_int_t)r->trade, "figures",
                     (json_int_t)r->figures);
}

static const cw_contract contract_revision_get = {
    .says = "Numbers that grow with every write, and with every projection that was worked out whole; for "
            "polling.",
    .answer = &revision_shape,
};

static cw_code route_revision_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_revision r = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_nursery_revision(n, &r, err);
    return code == CW_OK ? cw_reply_json_take(q, 200, revision_json(&r), err) : code;
}

/* {name: value} of all settings. */
static cw_code settings_json(cw_nursery *n, json_t **out, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_nursery_settings(n, &t, err);
    *out = code == CW_OK ? json_object() : NULL;
    for (size_t r = 0; code == CW_OK && r < cw_table_rows(&t); r++)
        cw_json_put_take(out, cw_table_text(&t, r, 0), json_string(cw_table_text(&t, r, 1)));
    cw_table_free(&t);
    return code;
}

#define MOST_SETTINGS 64

static const cw_contract contract_settings_patch = {
    .says = "Change settings, all or none.",
    .takes = &cw_nursery_set_shape,
    .answer = &cw_nursery_settings_shape,
    .based = &cw_nursery_set_shape,
};

static cw_code route_settings_patch(cw_request *q, cw_nursery *n, cw_error *err)
{
    const char *names[MOST_SETTINGS], *values[MOST_SETTINGS], *name;
    const json_t *body = NULL;
    json_t *v;
    size_t count = 0;
    cw_code code = cw_body_json(q, &body, err);
    if (code == CW_OK && (!json_is_object(body) || json_object_size(body) > MOST_SETTINGS))
        code = cw_error_set(err, CW_REFUSED, "an object {setting: \"value\"} is needed");
    json_object_foreach((json_t *)(uintptr_t)body, name, v)
    {
        if (code == CW_OK && !json_is_string(v))
            code = cw_error_at(err, CW_REFUSED, NULL, 0, name, "should be a text");
        if (code != CW_OK)
            break;
        names[count] = name;
        values[count++] = json_string_value(v);
    }
    if (code == CW_OK)
        code = cw_nursery_set_all(n, cw_request_asker(q), names, values, count, err);
    if (code == CW_OK)
        code = settings_json(n, &v, err);
    return code == CW_OK ? cw_reply_json_take(q, 200, v, err) : code;
}

static const cw_contract contract_nursery_get = {
    .says = "The season, its settings, today and the revisions.",
    .answer = &nursery_shape,
};

static cw_code route_nursery_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_season now = { 0 };
    const cw_season *s = &now;
    cw_revision r = { 0 };
    json_t *settings = NULL;
    char ship[11], today[11];
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_nursery_revision(n, &r, err);
    if (code == CW_OK)
        code = cw_nursery_season_now(n, &now, err);
    if (code == CW_OK)
        code = settings_json(n, &settings, err);
    if (code != CW_OK)
        return code;
    cw_day_format(s->ship, ship);
    cw_day_format(cw_request_asker(q)->today, today);
    json_t *answer =
        json_pack("{s:i,s:s,s:s,s:s,s:s,s:o}", "season", s->season, "ship", ship, "currency", s->currency,
                  "timezone", s->timezone, "today", today, "revision", revision_json(&r));
    /* How sure the nursery plays is not the shop's business. */
    if (cw_request_asker(q)->role == CW_ROLE_SHOP)
        json_decref(settings);
    else
        cw_json_put_take(&answer, "settings", settings);
    return cw_reply_json_take(q, 200, answer, err);
}

struct ship_query {
    cw_day day;
};
static const cw_member ship_query_shape[] = {
    { "day", CW_DAY_T, offsetof(struct ship_query, day), true, 0, 0,
      .says = "The shipping day to ask about." },
    { 0 },
};

static const cw_contract contract_season_ship_get = {
    .says = "What another shipping day would move, for each variety; nothing is written.",
    .query = ship_query_shape,
    .answer = &cw_offering_ship_shape,
};

static cw_code route_season_ship_get(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct ship_query in = { .day = CW_NO_DAY };
    cw_table rows = { 0 };
    cw_code code = cw_query_read(q, &in, err);
    if (code == CW_OK)
        code = cw_offering_ship_preview(n, cw_request_asker(q), in.day, &rows, err);
    return cw_reply_table_take(q, code, 200, &rows, err);
}

struct ship_body {
    cw_day day;
    const char *why;
};
static const cw_member ship_body_shape[] = {
    { "day", CW_DAY_T, offsetof(struct ship_body, day), true, 0, 0, .says = "The new shipping day." },
    { "why", CW_TEXT_T, offsetof(struct ship_body, why), true, 1, CW_MAX_NOTE, NULL },
    { 0 },
};

static const cw_shape season_ship_post_based = { .parts = (const cw_part[]){
                                                     { "day", CW_DAY_T, .lack = true },
                                                     { 0 },
                                                 } };

static const cw_contract contract_season_ship_post = {
    .says = "Moves the shipping day, on record with the reason.",
    .body = ship_body_shape,
    .based = &season_ship_post_based,
};

static cw_code route_season_ship_post(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct ship_body b = { .day = CW_NO_DAY };
    cw_code code = cw_body_read(q, &b, err);
    if (code == CW_OK)
        code = cw_offering_ship_move(n, cw_request_asker(q), b.day, b.why, err);
    return code == CW_OK ? cw_reply_none(q) : code;
}

const cw_route cw_routes_nursery[] = {
    CW_ROUTE(GET, "/api/nursery", LOOK, ANYKEY, CW_NO_BODY, nursery_get),
    CW_ROUTE(PATCH, "/api/settings", WORK, OWNER, CW_SMALL_BODY, settings_patch),
    CW_ROUTE(GET, "/api/season/ship", LOOK, OWNER, CW_NO_BODY, season_ship_get),
    CW_ROUTE(POST, "/api/season/ship", WORK, OWNER, CW_SMALL_BODY, season_ship_post),
    CW_ROUTE(GET, "/api/revision", LOOK, ANYKEY, CW_NO_BODY, revision_get),
    { 0 },
};
