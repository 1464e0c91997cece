/* SPDX-License-Identifier: MIT */
#include "http/route.h"

#include "desk/stock/merging.h"
#include "desk/stock/naming.h"
#include "desk/stock/splitting.h"
#include <stddef.h>

#include "base/banned.h"

struct naming_body {
    const char *to, *why;
    bool commit;
};
static const cw_member naming_shape[] = {
    { "to", CW_TEXT_T, offsetof(struct naming_body, to), true, 1, CW_MAX_CODE, NULL },
    { "why", CW_TEXT_T, offsetof(struct naming_body, why), false, 0, CW_MAX_NAME, NULL },
    { "commit", CW_BOOL_T, offsetof(struct naming_body, commit), false, 0, 0, NULL },
    { 0 },
};

typedef cw_code (*name_it)(cw_nursery *n, const cw_asker *who, const char *what, const char *to,
                           const char *why, bool commit, cw_table *out, cw_error *err);

static cw_code answer(cw_request *q, cw_nursery *n, const char *part, name_it name, cw_error *err)
{
    struct naming_body in = { "", "", false };
    cw_table t = { 0 };
    cw_code code = cw_body_read(q, &in, err);
    if (code == CW_OK)
        code = name(n, cw_request_asker(q), cw_path_text(q, part), in.to, in.why ? in.why : "", in.commit, &t,
                    err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static const cw_contract contract_variety_rename = {
    .says = "Gives a variety another code, or (without commit) tells what that would reach.",
    .body = naming_shape,
    .answer = &cw_naming_shape,
};

static cw_code route_variety_rename(cw_request *q, cw_nursery *n, cw_error *err)
{
    return answer(q, n, "code", cw_naming_rename_variety, err);
}

/* With `as`, the new lot's code, only a part becomes another variety. */
struct relabel_body {
    struct naming_body name;
    const char *as;
    cw_day from;
    int64_t clumps, divisions;
};
#define NAME(member) offsetof(struct relabel_body, name.member)
#define PART(member) offsetof(struct relabel_body, member)
static const cw_member relabel_shape[] = {
    { "to", CW_TEXT_T, NAME(to), true, 1, CW_MAX_CODE, NULL },
    { "why", CW_TEXT_T, NAME(why), false, 0, CW_MAX_NAME, NULL },
    { "commit", CW_BOOL_T, NAME(commit), false, 0, 0, NULL },
    { "as", CW_TEXT_T, PART(as), false, 1, CW_MAX_CODE, NULL,
      .says = "code of the lot that the part becomes; without it the whole lot is the other variety" },
    { "from", CW_DAY_T, PART(from), false, 0, 0, NULL,
      .says = "with as: since when; without it since today" },
    { "clumps", CW_INT_T, PART(clumps), false, 0, CW_MAX_CLUMPS, NULL,
      .says = "with as: how many; without clumps and divisions all that are left" },
    { "divisions", CW_INT_T, PART(divisions), false, 0, CW_MAX_DIVISIONS, NULL },
    { 0 },
};

static const cw_contract contract_lot_relabel = {
    .says = "Gives a lot another variety from digging on, or (with as) a part of it from a day on; without "
            "commit "
            "it tells what that would reach.",
    .body = relabel_shape,
    .answer = &cw_naming_shape,
};

static cw_code route_lot_relabel(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct relabel_body in = { { "", "", false }, NULL, CW_NO_DAY, -1, -1 };
    const char *lot = cw_path_text(q, "lot");
    cw_table t = { 0 };
    cw_code code = cw_body_read(q, &in, err);
    const char *why = in.name.why ? in.name.why : "";
    const cw_split part = { lot, in.name.to, in.as, in.from, in.clumps, in.divisions, why };
    if (code == CW_OK && in.as)
        code = cw_splitting_lot(n, cw_request_asker(q), &part, in.name.commit, &t, err);
    else if (code == CW_OK && (in.from != CW_NO_DAY || in.clumps >= 0 || in.divisions >= 0))
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "as", "a part of a lot needs a code of its own");
    else if (code == CW_OK)
        code = cw_naming_relabel_lot(n, cw_request_asker(q), lot, in.name.to, why, in.name.commit, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static const cw_contract contract_variety_merge = {
    .says = "Makes a variety part of another that it proves to be, or (without commit) tells what that would "
            "reach.",
    .body = naming_shape,
    .answer = &cw_merging_shape,
};

static cw_code route_variety_merge(cw_request *q, cw_nursery *n, cw_error *err)
{
    return answer(q, n, "code", cw_merging_merge, err);
}

struct parting_body {
    const char *why;
    bool commit;
};
static const cw_member parting_shape[] = {
    { "why", CW_TEXT_T, offsetof(struct parting_body, why), false, 0, CW_MAX_NAME, NULL },
    { "commit", CW_BOOL_T, offsetof(struct parting_body, commit), false, 0, 0, NULL },
    { 0 },
};

static const cw_contract contract_variety_part = {
    .says = "Makes two of one again: what was merged under this code, or (without commit) tells what would "
            "go back.",
    .body = parting_shape,
    .answer = &cw_merging_shape,
};

static cw_code route_variety_part(cw_request *q, cw_nursery *n, cw_error *err)
{
    struct parting_body in = { "", false };
    cw_table t = { 0 };
    cw_code code = cw_body_read(q, &in, err);
    if (code == CW_OK)
        code = cw_merging_undo(n, cw_request_asker(q), cw_path_text(q, "code"), in.why ? in.why : "",
                               in.commit, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static const cw_contract contract_merged = {
    .says = "Varieties that were merged into others this season, the newest first.",
    .answer = &cw_merging_all_shape,
};

static cw_code route_merged(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_merging_all(n, cw_request_asker(q), &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

static const cw_contract contract_former_codes = {
    .says = "Codes that varieties had once; each still finds its variety.",
    .answer = &cw_naming_former_codes_shape,
};

static cw_code route_former_codes(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_naming_former_codes(n, cw_request_asker(q), &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

const cw_route cw_routes_naming[] = {
    CW_ROUTE(POST, "/api/varieties/{code}/code", WORK, OWNER, CW_SMALL_BODY, variety_rename),
    CW_ROUTE(POST, "/api/varieties/{code}/merge", WORK, OWNER, CW_SMALL_BODY, variety_merge),
    CW_ROUTE(POST, "/api/varieties/{code}/part", WORK, OWNER, CW_SMALL_BODY, variety_part),
    CW_ROUTE(GET, "/api/merged", LOOK, STAFF, CW_NO_BODY, merged),
    CW_ROUTE(POST, "/api/lots/{lot}/variety", WORK, OFFICE, CW_SMALL_BODY, lot_relabel),
    CW_ROUTE(GET, "/api/former-codes", LOOK, STAFF, CW_NO_BODY, former_codes),
    { 0 },
};
