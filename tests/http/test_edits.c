/* SPDX-License-Identifier: MIT */
/* "based_on": what an edit was typed over. The older of two is refused with 409, and told each value as it is now. */
#include "serving.h"

#include "desk/intake/intake.h"

#include "base/banned.h"

static const char varieties[] = "code,name,price,hold_back\nAMB,Amber Lantern,6.50,3\n";

static void load_season(serving *s)
{
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { 0 };
    cw_table t = { 0 };
    const cw_intake_file file = { .name = "varieties.csv",
                                  .bytes = varieties,
                                  .length = sizeof varieties - 1 };
    cw_check_ok(cw_intake_load(s->t.n, &s->t.who, &file, 1, &(cw_intake_options){ 0 }, &t, &errors, &err),
                &err);
    cw_table_free(&t);
}

static void an_older_edit_is_refused_and_told_what_stands(void **state)
{
    static const struct {
        const char *method, *target, *body;
        int status;
        const char *told; /* stands in the answer */
    } rows[] = {
        { "PATCH", "/api/settings",
          "{\"parcels_per_week\":\"90\",\"based_on\":{\"parcels_per_week\":\"200\"}}", 200,
          "\"parcels_per_week\":\"90\"" },
        { "PATCH", "/api/settings",
          "{\"parcels_per_week\":\"120\",\"based_on\":{\"parcels_per_week\":\"200\"}}", 409,
          "\"current\":{\"parcels_per_week\":\"90\"}" },
        { "PATCH", "/api/settings",
          "{\"parcels_per_week\":\"120\",\"based_on\":{\"parcels_per_week\":\"90\"}}", 200,
          "\"parcels_per_week\":\"120\"" },
        { "PATCH", "/api/settings", "{\"parcels_per_week\":\"90\"}", 200, "\"parcels_per_week\":\"90\"" },
        { "PATCH", "/api/varieties/AMB",
          "{\"hold_back\":4,\"price\":\"7.00\",\"based_on\":{\"hold_back\":2,\"price\":\"6.00\"}}", 409,
          "\"current\":{\"hold_back\":3,\"price\":\"6.50\"}" },
        { "PATCH", "/api/varieties/AMB", "{\"hold_back\":4,\"based_on\":{\"hold_back\":3}}", 200,
          "\"hold_back\":4" },
        { "PATCH", "/api/varieties/AMB", "{\"hold_back\":4,\"based_on\":{\"form\":\"ball\"}}", 422,
          "this changes no form" },
        { "PATCH", "/api/varieties/AMB", "{\"hold_back\":4,\"based_on\":[3]}", 422, "is not known here" },
    };
    serving s;
    char headers[512];
    (void)state;
    serving_make(&s, true);
    load_season(&s);
    serving_start(&s);
    serving_sign_in(&s, "owner", headers);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        wire_reply r = wire_ask(s.port, rows[i].method, rows[i].target, headers, rows[i].body);
        if (r.status != rows[i].status || !r.body || !strstr(r.body, rows[i].told))
            fail_msg("row %zu: %d %s", i, r.status, r.body ? r.body : "");
        wire_free(&r);
    }
    serving_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_older_edit_is_refused_and_told_what_stands),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
