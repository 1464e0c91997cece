/* SPDX-License-Identifier: MIT */
#include "http/route.h"

#include "desk/stock/catalogue.h"
#include <stddef.h>

#include "base/banned.h"

static const cw_contract contract_varieties_list = {
    .says = "All varieties with what the owner edits.",
    .answer = &cw_catalogue_list_shape,
};

static cw_code route_varieties_list(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_query_read(q, NULL, err);
    if (code == CW_OK)
        code = cw_catalogue_list(n, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

#define AT(member) offsetof(cw_catalogue_edit, member)

static const cw_member edit_shape[] = {
    { "hold_back", CW_INT_T, AT(hold_back), false, 0, CW_MAX_DIVISIONS, NULL },
    { "reserve", CW_INT_T, AT(reserve), false, 0, CW_MAX_DIVISIONS, NULL },
    { "limit_per_order", CW_INT_T, AT(limit_per_order), false, 0, CW_MAX_LINE_QUANTITY, NULL },
    { "price", CW_MONEY_T, AT(price), false, 0, 0, NULL },
    { "retired", CW_INT_T, AT(retired), false, 0, 1, NULL },
    { "own_low", CW_REAL_T, AT(own_low), false, 0, 200,
      .says = "The owner's own estimate: divisions a sound clump in a usual season, from here (8 in 10 "
              "sure); 0 takes it back." },
    { "own_high", CW_REAL_T, AT(own_high), false, 0, 200, .says = "To here." },
    { "version", CW_INT_T, AT(version), false, 0, 1e15, NULL },
    { 0 },
};

static const cw_shape variety_patch_based = { .parts = (const cw_part[]){
                                                  { "hold_back", CW_INT_T, .lack = true },
                                                  { "reserve", CW_INT_T, .lack = true },
                                                  { "limit_per_order", CW_INT_T, .lack = true },
                                                  { "price", CW_MONEY_T, .lack = true, .null = true },
                                                  { "retired", CW_INT_T, .lack = true },
                                                  { "own_low", CW_REAL_T, .lack = true, .null = true },
                                                  { "own_high", CW_REAL_T, .lack = true, .null = true },
                                                  { 0 },
                                              } };

static const cw_contract contract_variety_patch = {
    .says = "Change hold-back, reserve, price, limit or what the owner expects of a clump; 409 if the "
            "version is old.",
    .body = edit_shape,
    .answer = &cw_catalogue_list_shape,
    .based = &variety_patch_based,
};

/* A clash is answered by 409, and the sentence says what the row has now, so that the page can show both. */
static cw_code route_variety_patch(cw_request *q, cw_nursery *n, cw_error *err)
{
    cw_catalogue_edit e = CW_CATALOGUE_EDIT;
    cw_table t = { 0 };
    cw_code code = cw_body_read(q, &e, err);
    if (code == CW_OK)
        code = cw_catalogue_change(n, cw_request_asker(q), cw_path_text(q, "code"), &e, &t, err);
    return cw_reply_table_take(q, code, 200, &t, err);
}

const cw_route cw_routes_catalogue[] = {
    CW_ROUTE(GET, "/api/varieties", LOOK, STAFF, CW_NO_BODY, varieties_list),
    CW_ROUTE(PATCH, "/api/varieties/{code}", WORK, OWNER, CW_SMALL_BODY, variety_patch),
    { 0 },
};
