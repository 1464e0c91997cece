/* SPDX-License-Identifier: MIT */
/* What stands wrong in a sheet of another make is named by its sheet, row and column. */
#include "support/fitted.h"

#include "desk/export/exporting.h"

/* What lies on its side is not taken, and a sentence says what to do. A variety without a price is named with what it wants. */
static void test_what_is_refused(void **state)
{
    (void)state;
    static const char unpriced[] =
        "Order no.,Order date,Buyer,Variety,Qty\nQ-1,2032-01-15,Ada Quill,Dove Grey,2\n"
        "Q-1,2032-01-15,Ada Quill,Night Owl,1\n";
    test_nursery t;
    size_t length = 0;
    open_nursery(&t);
    char *bytes = read_file("kaarten.csv", &length);
    cw_sheets_file cards = { .name = "kaarten.csv", .bytes = bytes, .length = length };
    json_t *document = look(&t, &cards, NULL);
    char *text = json_dumps(json_object_get(document, "said"), 0);
    assert_non_null(strstr(text, "turn rows and columns round"));
    assert_true(json_is_false(json_object_get(document, "ready")));
    free(text);
    free(bytes);
    json_decref(document);

    cw_intake_file more[] = { file("varieties.csv", "code,name\nNIG,Night Owl\n") };
    ok(load_with(&t, more, 1, (cw_intake_options){ 0 }));
    cw_sheets_file f = { .name = "orders.csv", .bytes = unpriced, .length = sizeof unpriced - 1 };
    document = look(&t, &f, NULL);
    text = json_dumps(json_object_get(document, "problems"), 0);
    if (strstr(text, "the catalogue has no price of it") == NULL || strstr(text, "NIG") == NULL)
        say_all(document);
    assert_non_null(strstr(text, "the catalogue has no price of it"));
    assert_non_null(strstr(text, "NIG"));
    assert_null(strstr(text, "DOV"));
    assert_true(json_is_false(json_object_get(document, "ready")));
    free(text);
    json_decref(document);
    test_nursery_free(&t);
}

/* ---- what is wrong, and where ---- */

typedef struct bad {
    const char *text;
    const char *first; /* row|column|header|text|says, of the first problem */
    long count;
} bad;

static const bad bads[] = {
    { "Sorte;Preis\nEisvogel;9,95\nMohnkopf;$ 8,50\n",
      "3|B|Preis|$ 8,50|is an amount in $, and this nursery counts in EUR", 1 },
    { "Variety,Dug,Clumps\nAMB,2031-10-20,five\n", "2|C|Clumps|five|is no number that can be read", 1 },
    { "Variety,Dug,Clumps\nAMB,2031-02-30,5\nBRI,2031-10-20,6 kg\n",
      "2|B|Dug|2031-02-30|is no day that can be read", 2 },
    { "Lot,Date,Stage,Counted\nL9,2032-01-05,clump,3\n", "2|A|Lot|L9|there is no such lot", 1 },
    { "Country,Rule\nAtlantis,block\n", "2|A|Country|Atlantis|is no country, neither by code nor by name",
      1 },
};

static void test_problems(void **state)
{
    (void)state;
    test_nursery t;
    open_nursery(&t);
    for (size_t i = 0; i < sizeof bads / sizeof bads[0]; i++) {
        char got[400];
        cw_sheets_file f = { .name = "list.csv", .bytes = bads[i].text, .length = strlen(bads[i].text) };
        json_t *document = look(&t, &f, NULL);
        const json_t *p = json_array_get(json_object_get(document, "problems"), 0);
        long count = (long)json_integer_value(json_object_get(document, "problem_count"));
        snprintf(
            got, sizeof got, "%lld|%s|%s|%s|%s", (long long)json_integer_value(json_object_get(p, "row")),
            json_string_value(json_object_get(p, "column")), json_string_value(json_object_get(p, "header")),
            json_string_value(json_object_get(p, "text")), json_string_value(json_object_get(p, "says")));
        if (strcmp(got, bads[i].first) != 0 || count != bads[i].count) {
            say_all(document);
            fail_msg("case %zu: %ld problems, first: %s", i, count, got);
        }
        json_decref(document);
    }
    test_nursery_free(&t);
}

/* What the intake refuses is told of the row and column of the owner's sheet, and nothing is kept. */
static void test_refused_by_intake(void **state)
{
    (void)state;
    static const char text[] = "Our "
                               "lots\n\nLot,Variety,Dug,Clumps,Place\nN1,AMB,2031-10-20,5,A1\nN2,AMB,2033-10-"
                               "20,5,A1\nN1,BRI,2031-10-22,5,A2\n";
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_table taken;
    json_t *document = NULL;
    open_nursery(&t);
    cw_sheets_file f = { .name = "autumn.csv", .bytes = text, .length = sizeof text - 1 };
    assert_int_equal(
        cw_sheets_take(t.n, &t.who, &f, NULL, &(cw_sheets_options){ 0 }, &taken, &document, &err),
        CW_REFUSED);
    assert_string_equal(err.text, "2 rows are wrong; nothing was taken");
    const json_t *p = json_array_get(json_object_get(document, "problems"), 0);
    assert_int_equal(json_integer_value(json_object_get(p, "row")), 5);
    assert_string_equal(json_string_value(json_object_get(p, "header")), "Dug");
    assert_string_equal(json_string_value(json_object_get(p, "text")), "2033-10-20");
    p = json_array_get(json_object_get(document, "problems"), 1);
    assert_int_equal(json_integer_value(json_object_get(p, "row")), 6);
    assert_non_null(strstr(json_string_value(json_object_get(p, "says")), "first on line 4"));
    json_decref(document);
    cw_table_free(&taken);
    cw_table lots_now;
    cw_check_ok(cw_exporting_table(t.n, &t.who, "lots", &lots_now, &err), &err);
    assert_int_equal(cw_table_rows(&lots_now), 2);
    cw_table_free(&lots_now);
    test_nursery_free(&t);
}

/* A sheet that brings varieties makes those that are new; one whose name is nearly on record is asked, not made. */
static void test_near_names(void **state)
{
    (void)state;
    static const char text[] = "Sorte;Farbe\nMondviole;blau\nDove Gray;grau\n";
    test_nursery t;
    open_nursery(&t);
    cw_sheets_file f = { .name = "neu.csv", .bytes = text, .length = sizeof text - 1 };
    json_t *document = look(&t, &f, NULL);
    const json_t *doubt = json_array_get(json_object_get(document, "doubts"), 0);
    assert_int_equal(json_integer_value(json_object_get(document, "doubt_count")), 1);
    assert_string_equal(json_string_value(json_object_get(doubt, "text")), "Dove Gray");
    const json_t *choice = json_array_get(json_object_get(doubt, "choices"), 0);
    assert_string_equal(json_string_value(json_object_get(choice, "value")), "DOV");
    assert_int_equal(json_integer_value(json_object_get(document, "made_count")), 1);
    json_decref(document);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_what_is_refused),
        cmocka_unit_test(test_problems),
        cmocka_unit_test(test_refused_by_intake),
        cmocka_unit_test(test_near_names),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
