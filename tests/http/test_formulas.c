/* SPDX-License-Identifier: MIT */
/* What a buyer typed is no formula where a spreadsheet opens the file: texts that begin like one stand behind an apostrophe in tables
 * that are read by people, and as they are in those that are loaded again; either may be asked for. Over HTTP and on the command line.
 * OWASP ASVS 4.0.3: 5.3.1. */
#include "serving.h"

#include "desk/intake/intake.h"
#include "desk/orders/ordering.h"
#include "support/program.h"

#include "base/banned.h"

#define FORMULA "=1+2"
#define GUARDED "'=1+2"

static void make(serving *s)
{
    static const char varieties[] = "code,name,price\nAMB,Amber Lantern,6.50\n";
    static const char orders[] = "order,received_at,line,variety,quantity,unit_price,customer\n"
                                 "1001,2032-01-05T10:00:00Z,1,AMB,1,6.50," FORMULA "\n"
                                 "1002,2032-01-05T10:00:00Z,1,AMB,1,6.50,Ada\n";
    const cw_intake_file files[] = {
        { .name = "varieties.csv", .bytes = varieties, .length = sizeof varieties - 1 },
        { .name = "orders.csv", .bytes = orders, .length = sizeof orders - 1 }
    };
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { 0 };
    cw_table t = { 0 };
    serving_make(s, false);
    cw_check_ok(cw_intake_load(s->t.n, &s->t.who, files, 2, &(cw_intake_options){ 0 }, &t, &errors, &err),
                &err);
    cw_table_free(&t);
    cw_check_ok(cw_ordering_cancel(s->t.n, &s->t.who, "1002", 0, FORMULA, &err), &err);
    serving_start(s);
}

static const struct row {
    const char *table, *target, *words;
    bool guarded;
} rows[] = {
    { "what is loaded again", "orders.csv", "orders", false },
    { "the same, for a spreadsheet", "orders.csv?sheet=true", "orders --sheet", true },
    { "what people read", "events.csv", "events", true },
    { "the same, as it is", "events.csv?sheet=false", "events --data", false },
};

static void look_at(const struct row *row, const char *how, const char *bytes)
{
    bool there = bytes && strstr(bytes, FORMULA) != NULL, guarded = bytes && strstr(bytes, GUARDED) != NULL;
    if (!there || guarded != row->guarded)
        fail_msg("%s, %s: %s", row->table, how, bytes ? bytes : "nothing");
}

static void no_formula_of_a_buyers(void **state)
{
    serving s;
    (void)state;
    make(&s);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char target[80], line[300], said[4096];
        snprintf(target, sizeof target, "/api/export/%s", rows[i].target);
        wire_reply r = wire_ask(s.port, "GET", target, NULL, NULL);
        assert_int_equal(r.status, 200);
        look_at(&rows[i], target, r.body);
        wire_free(&r);
        snprintf(line, sizeof line, "%s export %s --as %s", CW_PROGRAM, s.t.path, rows[i].words);
        assert_int_equal(shell_says(line, said), 0);
        look_at(&rows[i], rows[i].words, said);
    }
    serving_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(no_formula_of_a_buyers) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
