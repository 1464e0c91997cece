/* SPDX-License-Identifier: MIT */
/* What is said of a plan of substitutes, what of it stands on record, and what the office forbids. */
#include "support/short_orders.h"

#include "desk/share/substituting_inside.h"
#include <jansson.h>

#include "base/banned.h"

static void forbidding_has_its_price(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_substituting *s = NULL;
    cw_substituting_totals change;
    cw_substituting_ask ask = { 0 };
    char sentence[CW_SUBSTITUTING_SENTENCE];
    const int stock[5] = { 0, 9, 9, 0, 0 };
    (void)state;
    make(&t, stock, "1," AT ",1,AMB,1,6.50,any,,,0,0\n");
    cw_check_ok(cw_substituting_preview(t.n, &t.who, &ask, &s, &err), &err);
    /* CIN: same form and size, another colour: 30, and 0.50 dearer. BRI: form, colour and two sizes: 90, 1.50 dearer. */
    cw_check_ok(cw_substituting_forbid(s, "1", 1, "CIN", &change, sentence, &err), &err);
    assert_int_equal(change.placed, 0);
    assert_int_equal(change.distance, 60);
    assert_int_equal(change.extra, 100);
    assert_non_null(strstr(sentence, "+60"));
    assert_int_equal(cw_substituting_forbid(s, "1", 1, "BRI", &change, sentence, &err), CW_NOT_FOUND);
    cw_substituting_free(s);
    test_nursery_free(&t);
}

/* The sentence for a choice that is left out, and what would change. */
static void without_it(test_nursery *t, const char *order, int line, const char *variety, const char *want)
{
    cw_error err = CW_ERROR_NONE;
    cw_substituting *s = NULL;
    cw_substituting_totals change;
    cw_substituting_ask ask = { 0 };
    char sentence[CW_SUBSTITUTING_SENTENCE];
    cw_check_ok(cw_substituting_preview(t->n, &t->who, &ask, &s, &err), &err);
    cw_check_ok(cw_substituting_forbid(s, order, line, variety, &change, sentence, &err), &err);
    is_text(sentence, want);
    cw_substituting_free(s);
    test_nursery_free(t);
}

static void each_price_of_forbidding_has_its_sentence(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_substituting *s = NULL;
    cw_substituting_totals change;
    cw_substituting_ask ask = { 0 };
    char sentence[CW_SUBSTITUTING_SENTENCE];
    (void)state;
    make(&t, (const int[]){ 0, 0, 2, 0, 0 }, "1," AT ",1,AMB,1,6.50,same,,,0,0\n");
    without_it(&t, "1", 1, "CIN",
               "Without it 1 fewer divisions would be placed; total distance -30, extra cost -0.50.");
    make(&t, (const int[]){ 0, 9, 2, 0, 0 }, "1," AT ",1,AMB,1,6.50,any,,,0,0\n");
    without_it(&t, "1", 1, "CIN",
               "Without it as many would be placed, but total distance would change by +60 and extra cost by "
               "+1.00.");
    make(&t, (const int[]){ 0, 0, 0, 9, 9 }, "1," AT ",1,AMB,1,6.50,named,EMB DOV,,0,0\n");
    without_it(&t, "1", 1, "EMB",
               "Without it as many would be placed, but total distance would change by +1 and extra cost by "
               "-2.50.");
    make(&t, (const int[]){ 0, 9, 0, 0, 9 }, "1," AT ",1,,1,9.00,,,form=cactus,0,0\n");
    without_it(&t, "1", 1, "BRI", "Without it another plan would be just as good.");
    make(&t, (const int[]){ 0, 9, 2, 0, 0 },
         "1," AT ",1,AMB,1,6.50,any,,,0,0\n2," AT ",1,,1,7.00,,,colour=red,0,0\n");
    without_it(
        &t, "1", 1, "CIN",
        "Without it lines that name a variety would be served less well, but it would free stock for 1 more "
        "divisions of assortments, which come after them; total distance +60, extra cost +1.00.");
    print_message("and what the plan does not give cannot be left out\n");
    make(&t, (const int[]){ 0, 9, 2, 0, 0 }, "1," AT ",1,AMB,1,6.50,any,,,0,0\n");
    cw_check_ok(cw_substituting_preview(t.n, &t.who, &ask, &s, &err), &err);
    static const struct {
        const char *order, *variety, *error;
        int line;
    } none[] = { { "1", "BRI", "the plan gives order 1 line 1 no BRI", 1 },
                 { "1", "CIN", "the plan gives order 1 line 2 no CIN", 2 },
                 { "2", "CIN", "the plan gives order 2 line 1 no CIN", 1 },
                 { "1", "ZZZ", "the plan gives order 1 line 1 no ZZZ", 1 } };
    for (size_t i = 0; i < sizeof none / sizeof none[0]; i++) {
        err = (cw_error)CW_ERROR_NONE;
        assert_int_equal(
            cw_substituting_forbid(s, none[i].order, none[i].line, none[i].variety, &change, sentence, &err),
            CW_NOT_FOUND);
        is_text(err.text, none[i].error);
    }
    cw_substituting_free(s);
    test_nursery_free(&t);
}

#define MIXED                                                                                                \
    "1," AT ",1,AMB,2,6.50,same,,,0,0\n2," AT ",1,AMB,1,6.50,named,EMB DOV,,0,0\n"                           \
    "3," AT ",1,,2,8.50,,,form=cactus,0,0\n4," AT ",1,AMB,1,6.50,none,,,0,0\n"

/* One of each kind, its figures by hand: CIN is a ball as AMB is, of another colour (30), and dearer by 0.50. */
static void a_plan_says_all_that_it_does(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_substituting *s = NULL;
    cw_substituting_totals sum;
    cw_substituting_ask ask = { 0 };
    cw_table rows = { 0 };
    json_t *doc = NULL;
    (void)state;
    make(&t, (const int[]){ 0, 9, 9, 9, 0 }, MIXED);
    cw_check_ok(cw_substituting_preview(t.n, &t.who, &ask, &s, &err), &err);
    cw_check_ok(cw_substituting_lines(s, false, &rows, &err), &err);
    csv_is(&rows, "order,line,short,substitute,quantity,distance,extra_cost\n1,1,2,CIN,2,30,0.50\n"
                  "2,1,1,DOV,1,1,0.00\n3,1,2,BRI,2,0,0.00\n");
    cw_check_ok(cw_substituting_lines(s, true, &rows, &err), &err);
    csv_is(&rows,
           "order,line,short,substitute,quantity,distance,extra_cost,wanted,consent,sentence\n"
           "1,1,2,CIN,2,30,0.50,AMB,same,\"The same form, another colour; it is 0.50 dearer apiece, at our "
           "expense.\"\n"
           "2,1,1,DOV,1,1,0.00,AMB,named,It is number 2 on the buyer's own list; it costs no more.\n"
           "3,1,2,BRI,2,0,0.00,form=cactus,assortment,It is of the kind asked for; it costs no more.\n");
    cw_substituting_total(s, &sum);
    assert_int_equal(sum.lines, 4);
    assert_int_equal(sum.short_, 6);
    assert_int_equal(sum.placed, 5);
    assert_int_equal(sum.named_placed, 3);
    assert_int_equal(sum.assortment_placed, 2);
    assert_int_equal(sum.at_most, 5);
    assert_int_equal(sum.distance, 61);
    assert_int_equal(sum.extra, 100);
    assert_true(sum.sound && sum.proven);
    cw_check_ok(cw_substituting_document(s, &doc, &err), &err);
    assert_string_equal(json_string_value(json_object_get(doc, "digest")), cw_substituting_digest(s));
    assert_int_equal(json_array_size(json_object_get(doc, "lines")), 3);
    json_object_del(doc, "digest");
    json_object_del(doc, "lines");
    char *text = json_dumps(doc, JSON_COMPACT);
    is_text(
        text,
        "{\"lines_short\":4,\"short\":6,\"placed\":5,\"at_most\":5,\"distance\":61,\"extra_cost\":\"1.00\","
        "\"assortment_spread\":3,\"proven\":true}");
    free(text);
    json_decref(doc);
    cw_substituting_free(s);
    test_nursery_free(&t);
}

/* What stands on record once it is firm; the reason's bits are kept in files, so they stay what they are. */
static void what_is_made_firm_stands_on_record(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_substituting *shown = NULL;
    cw_substituting_done done;
    cw_substituting_ask ask = { 0 };
    char want[200];
    (void)state;
    make(&t, (const int[]){ 0, 9, 9, 9, 0 }, MIXED);
    int64_t revision = number_of(&t, "SELECT trade_revision FROM nursery"),
            stock = number_of(&t, "SELECT stock_revision FROM nursery");
    cw_check_ok(cw_substituting_commit(t.n, &t.who, &ask, NULL, &done, &shown, &err), &err);
    test_nursery_check(&t);
    assert_non_null(shown);
    assert_string_equal(done.digest, cw_substituting_digest(shown));
    cw_substituting_free(shown);
    assert_true(number_of(&t, "SELECT trade_revision FROM nursery") > revision);
    assert_int_equal(number_of(&t, "SELECT stock_revision FROM nursery"), stock);
    assert_int_equal(done.run, number_of(&t, "SELECT MAX(id) FROM run"));
    assert_int_equal(done.totals.placed, 5);
    rows_are(&t,
             "SELECT o.number, v.code, a.quantity, a.kind, a.run_id, a.reason, a.n1, a.n2, a.n3, a.n4 FROM "
             "allocation "
             "a JOIN line l ON l.id = a.line_id JOIN orders o ON o.id = l.order_id JOIN variety v ON v.id = "
             "a.variety_id ORDER BY o.number",
             "1|CIN|2|substitute|1|33|30|50|0|0\n2|DOV|1|substitute|1|131361|1|0|0|0\n3|BRI|2|assortment|1|"
             "65|0|0|0|"
             "0\n");
    snprintf(want, sizeof want, "tester|substitute|closest within consent|counted|-1.0|4|5|%s\n",
             done.digest);
    rows_are(&t,
             "SELECT actor, what, rule, supply, COALESCE(confidence, -1.0), lines, placed, digest FROM run",
             want);
    rows_are(&t, "SELECT actor, action, subject, before, after FROM audit WHERE action = 'substitute'",
             "tester|substitute|all||run 1: 5 of 6 short placed, distance 61, extra cost 100 hundredths\n");
    assert_int_equal(number_of(&t, "SELECT at FROM run"), t.who.now);
    assert_int_equal(number_of(&t, "SELECT at FROM audit WHERE action = 'substitute'"), t.who.now);
    test_nursery_free(&t);
}

/* Each choice, packed for a promise, says the same as before. */
static void a_choice_is_packed_and_said_again(void **state)
{
    (void)state;
    for (int bits = 0; bits < 32; bits++)
        for (int32_t steps = 0; steps < 4; steps++) {
            cw_sub_choice c = { .form_differs = bits & 1,
                                .colour_differs = bits >> 1 & 1,
                                .assortment = bits >> 2 & 1,
                                .named_place = bits >> 3 & 1 ? 7 * steps : -1,
                                .size_steps = steps,
                                .distance = 40 + steps,
                                .extra = bits >> 4 & 1 ? 125 : 0 };
            cw_promise_why why;
            char direct[CW_SUB_SENTENCE], packed[CW_SUB_SENTENCE];
            cw_choice_pack(&c, &why);
            assert_int_equal(why.reason, 1 + 16 * (bits & 1) + 32 * (bits >> 1 & 1) + 64 * (bits >> 2 & 1) +
                                             256 * steps + 65536 * (c.named_place + 1));
            assert_true(why.n[0] == c.distance && why.n[1] == c.extra && why.n[2] == 0 && why.n[3] == 0);
            is_text(cw_choice_say(&why, packed), cw_substitute_say(&c, direct));
        }
    /* Of the sentences each once, whatever says them. */
    static const struct {
        cw_sub_choice c;
        const char *says;
    } rows[] = {
        { { .named_place = -1 }, "The same form, the same colour; it costs no more." },
        { { .named_place = -1, .form_differs = true, .size_steps = 2 },
          "Another form, the same colour, 2 size steps away; it costs no more." },
        { { .named_place = -1, .form_differs = true, .colour_differs = true, .extra = 1 },
          "Another form, another colour; it is 0.01 dearer apiece, at our expense." },
        { { .named_place = 0 }, "It is number 1 on the buyer's own list; it costs no more." },
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char says[CW_SUB_SENTENCE];
        is_text(cw_substitute_say(&rows[i].c, says), rows[i].says);
    }
}

static void banned_are(test_nursery *t, const char *want)
{
    cw_error err = CW_ERROR_NONE;
    cw_table rows = { 0 };
    cw_check_ok(cw_substituting_banned(t->n, &t->who, &rows, &err), &err);
    csv_is(&rows, want);
}

#define BANNED "order,line,wanted,substitute,at,actor,why\n"

/* The office forbids a line a variety, on record; the plan does without it until it is permitted again. */
static void what_is_forbidden_is_left_out(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table rows = { 0 };
    cw_substituting_done done;
    cw_substituting *s = NULL;
    cw_substituting_ask ask = { 0 };
    char digest[65];
    (void)state;
    make(&t, (const int[]){ 0, 9, 9, 0, 9 },
         "1," AT ",1,AMB,1,6.50,any,,,0,0\n1," AT ",2,AMB,1,6.50,any,,,0,0\n2," AT
         ",1,,2,9.00,,,form=cactus,0,0\n");
    check_plan("as it is", &t,
               (const expected[]){ { "1", "CIN", 1, 1 }, { "1", "CIN", 2, 1 }, { "2", "BRI", 1, 2 } }, 3);
    cw_check_ok(cw_substituting_preview(t.n, &t.who, &ask, &s, &err), &err);
    cw_copy(digest, sizeof digest, cw_substituting_digest(s));
    cw_substituting_free(s);
    int64_t revision = number_of(&t, "SELECT trade_revision FROM nursery"),
            version = number_of(&t, "SELECT version FROM orders WHERE number = '1'");
    cw_check_ok(cw_substituting_ban(t.n, &t.who, "1", 2, "CIN", "hates red", &err), &err);
    test_nursery_check(&t);
    assert_true(number_of(&t, "SELECT trade_revision FROM nursery") > revision);
    assert_int_equal(number_of(&t, "SELECT version FROM orders WHERE number = '1'"), version + 1);
    banned_are(&t, BANNED "1,2,AMB,CIN,2032-02-01T12:00:00Z,tester,hates red\n");
    /* No CIN for the second line only; EMB is as far as BRI, and dearer. */
    check_plan("without one", &t,
               (const expected[]){ { "1", "CIN", 1, 1 }, { "1", "BRI", 2, 1 }, { "2", "BRI", 1, 2 } }, 3);
    assert_int_equal(cw_substituting_commit(t.n, &t.who, &ask, digest, &done, NULL, &err), CW_CONFLICT);
    is_text(err.text, "orders or stock changed since this preview was shown; look at the new one first");
    assert_string_equal(err.column, "digest");
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_substituting_ban(t.n, &t.who, "2", 1, "BRI", "has it", &err), &err);
    cw_check_ok(cw_substituting_ban(t.n, &t.who, "1", 2, "BRI", "has it, too", &err), &err);
    banned_are(&t, BANNED "1,2,AMB,BRI,2032-02-01T12:00:00Z,tester,\"has it, too\"\n"
                          "1,2,AMB,CIN,2032-02-01T12:00:00Z,tester,hates red\n"
                          "2,1,,BRI,2032-02-01T12:00:00Z,tester,has it\n");
    check_plan("without three", &t,
               (const expected[]){ { "1", "CIN", 1, 1 }, { "1", "EMB", 2, 1 }, { "2", "EMB", 1, 2 } }, 3);
    cw_check_ok(cw_substituting_permit(t.n, &t.who, "1", 2, "CIN", "a slip", &err), &err);
    check_plan("permitted again", &t,
               (const expected[]){ { "1", "CIN", 1, 1 }, { "1", "CIN", 2, 1 }, { "2", "EMB", 1, 2 } }, 3);
    assert_int_equal(cw_substituting_permit(t.n, &t.who, "1", 2, "CIN", "a slip", &err), CW_NOT_FOUND);
    is_text(err.text, "it is not forbidden to this line");
    assert_string_equal(err.column, "substitute");
    rows_are(
        &t,
        "SELECT o.number, l.line, e.kind, e.before, e.after, e.note, e.actor, e.at = (SELECT MAX(at) FROM "
        "audit) "
        "FROM order_event e JOIN orders o ON o.id = e.order_id JOIN line l ON l.id = e.line_id WHERE e.kind "
        "LIKE "
        "'substitute%' ORDER BY e.id",
        "1|2|substitute forbidden||CIN|hates red|tester|1\n2|1|substitute forbidden||BRI|has it|tester|1\n"
        "1|2|substitute forbidden||BRI|has it, too|tester|1\n1|2|substitute permitted||CIN|a "
        "slip|tester|1\n");
    rows_are(&t,
             "SELECT action, subject, before, after FROM audit WHERE action LIKE 'substitute %' ORDER BY id",
             "substitute forbidden|order 1 line 2|CIN|\nsubstitute forbidden|order 2 line 1|BRI|\n"
             "substitute forbidden|order 1 line 2|BRI|\nsubstitute permitted|order 1 line 2|CIN|\n");
    print_message("and only by the office, with a reason, of what is there\n");
    static const struct {
        cw_role role;
        const char *order, *variety, *why;
        int line;
        cw_code code;
        const char *says;
    } wrong[] = {
        { CW_ROLE_CELLAR, "1", "CIN", "x", 1, CW_FORBIDDEN, "" },
        { CW_ROLE_PACKER, "1", "CIN", "x", 1, CW_FORBIDDEN, "" },
        { CW_ROLE_OFFICE, "1", "CIN", NULL, 1, CW_REFUSED,
          "forbidding or permitting a substitute needs a reason" },
        { CW_ROLE_OFFICE, "1", "CIN", "", 1, CW_REFUSED,
          "forbidding or permitting a substitute needs a reason" },
        { CW_ROLE_OFFICE, "9", "CIN", "x", 1, CW_NOT_FOUND, "" },
        { CW_ROLE_OFFICE, "1", "CIN", "x", 3, CW_NOT_FOUND, "" },
        { CW_ROLE_OFFICE, "1", "ZZZ", "x", 1, CW_NOT_FOUND, "" },
    };
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++)
        for (int forbid = 0; forbid < 2; forbid++) {
            t.who.role = wrong[i].role;
            err = (cw_error)CW_ERROR_NONE;
            cw_code code = (forbid ? cw_substituting_ban : cw_substituting_permit)(
                t.n, &t.who, wrong[i].order, wrong[i].line, wrong[i].variety, wrong[i].why, &err);
            if (code != wrong[i].code || (wrong[i].says[0] && strcmp(err.text, wrong[i].says) != 0))
                fail_msg("row %zu: %d %s", i, code, err.text);
            if (wrong[i].says[0])
                assert_string_equal(err.column, "why");
        }
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM forbidden"), 2);
    t.who.role = CW_ROLE_PACKER;
    assert_int_equal(cw_substituting_banned(t.n, &t.who, &rows, &err), CW_FORBIDDEN);
    cw_table_free(&rows);
    t.who.role = CW_ROLE_OFFICE;
    cw_check_ok(cw_substituting_ban(t.n, &t.who, "1", 1, "EMB", "x", &err),
                &err); /* one letter is a reason */
    t.who.role = CW_ROLE_OWNER;
    test_nursery_free(&t);
}

typedef struct patience {
    int left, told;
} patience;

static bool while_patient(void *context, const char *what, uint64_t done, uint64_t all)
{
    patience *p = context;
    if (what && strcmp(what, "choosing substitutes") == 0) {
        assert_true(done > 0 && all == 0);
        p->told++;
    }
    return p->left-- > 0;
}

/* Whoever looks on is told of the rounds, and may give it up at any time, also while the proof is checked. */
static void it_can_be_given_up(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_substituting *s = NULL;
    cw_substituting_done done;
    cw_substituting_ask ask = { 0 };
    (void)state;
    make(&t, (const int[]){ 0, 0, 3, 2, 0 },
         "1," AT ",1,AMB,3,6.00,any,,,1,0\n2," AT ",1,AMB,3,6.00,any,,,1,0\n");
    patience p = { 10000, 0 };
    t.who.progress = while_patient;
    t.who.progress_context = &p;
    cw_check_ok(cw_substituting_preview(t.n, &t.who, &ask, &s, &err), &err);
    cw_substituting_free(s);
    int all = 10000 - p.left;
    assert_true(p.told >= 2 && all > p.told);
    for (int k = 0; k < all; k++) {
        p.left = k;
        err = (cw_error)CW_ERROR_NONE;
        cw_code code = cw_substituting_preview(t.n, &t.who, &ask, &s, &err);
        if (code != CW_REFUSED || s != NULL)
            fail_msg("given up at %d of %d: %d %s", k, all, code, err.text);
        p.left = k;
        err = (cw_error)CW_ERROR_NONE;
        assert_int_equal(cw_substituting_commit(t.n, &t.who, &ask, NULL, &done, NULL, &err), CW_REFUSED);
    }
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM run"), 0);
    t.who.progress = NULL;
    test_nursery_check(&t);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(forbidding_has_its_price),
        cmocka_unit_test(each_price_of_forbidding_has_its_sentence),
        cmocka_unit_test(a_plan_says_all_that_it_does),
        cmocka_unit_test(what_is_made_firm_stands_on_record),
        cmocka_unit_test(a_choice_is_packed_and_said_again),
        cmocka_unit_test(what_is_forbidden_is_left_out),
        cmocka_unit_test(it_can_be_given_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
