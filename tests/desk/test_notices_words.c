/* SPDX-License-Identifier: MIT */
/* What a notice says: every word, in the nursery's texts and in the buyer's language. */
#include "support/noticed.h"

#include "base/banned.h"

/* All that a notice keeps, of each kind that an order desk makes: what the letter says, days as ISO 8601 has them, sums to the cent.
 * Refunds are due seven working days after the change (Tuesday 10 February), shorts a week before the parcel leaves. */
static void every_word_of_a_notice(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_substituting_done done;
    (void)state;
    make(&t);
    make_firm(&t, "first-come", NULL);
    cw_check_ok(cw_substituting_commit(t.n, &t.who, &(cw_substituting_ask){ 0 }, NULL, &done, NULL, &err),
                &err);
    cw_check_ok(cw_ordering_cancel(t.n, &t.who, "1004", 0, "bought elsewhere", &err), &err);
    cw_check_ok(cw_ordering_change(t.n, &t.who, "1005", 1, 1, "fewer", &err), &err);
    cw_check_ok(cw_ordering_change(t.n, &t.who, "1002", 1, 2, "one less", &err), &err);
    move(&t, "1002", 203218);
    move(&t, "1003", 203217);
    move(&t, "1005", 203222);
    look(&t);
    rows_are(
        &t,
        "SELECT o.number, l.line, n.kind, n.state, date(n.due_on * 86400, 'unixepoch'), n.amount, "
        "replace(replace(n.fact, 'line' || COALESCE(n.line_id, 0), 'line#'), 'order' || o.id, 'order#'), "
        "n.detail "
        "FROM notice n JOIN orders o ON o.id = n.order_id LEFT JOIN line l ON l.id = n.line_id "
        "ORDER BY o.number, l.line, n.kind",
        "1002||delay|due|2032-04-23|0|delay:order#:2032-04-23:2032-04-30|{\"expected_day\":22765,"
        "\"promised\":\"2032-04-23\",\"expected\":\"2032-04-30\",\"cancelled_on\":\"\",\"silence\":"
        "\"consents\",\"refund_by\":\"\",\"source\":\"16 CFR 435.2(b)(1)(ii)\",\"sentence\":\"to leave by "
        "2032-04-23, now expected by 2032-04-30; silence is consent (16 CFR 435.2(b)(1)(ii))\"}\n"
        "1002|1|cancelled|due|2032-02-10|0|cancelled:line#:1|{\"what\":\"part\",\"variety\":\"Amber "
        "Lantern\",\"quantity\":\"1\",\"cancelled\":\"2032-02-01\",\"reason\":\"one "
        "less\",\"amount\":\"6.55\",\"refund_by\":\"2032-02-10\",\"sentence\":\"1 of Amber Lantern "
        "cancelled, 6.55 to go back\"}\n"
        "1002|1|refund|due|2032-02-10|1310|refund:line#:1310|{\"variety\":\"Amber "
        "Lantern\",\"code\":\"AMB\",\"quantity\":\"2\",\"why\":\"both\",\"refund_by\":\"2032-02-10\","
        "\"sentence\":\"13.10 owed for 2 of Amber Lantern (1 cancelled, 1 not delivered)\"}\n"
        "1002|1|short|due|2032-02-10|0|short:line#:1|{\"variety\":\"Amber "
        "Lantern\",\"code\":\"AMB\",\"asked\":\"2\",\"promised\":\"1\",\"quantity\":\"1\",\"amount\":\"6."
        "55\",\"refund_by\":\"2032-02-10\",\"sentence\":\"2 of Amber Lantern asked, 1 promised, 1 short and "
        "nothing more to come\"}\n"
        "1003|1|substitute|due|2032-04-16|0|substitute:line#:variety3:1|{\"variety\":\"Briar "
        "Song\",\"substitute\":\"Cinder\",\"code\":\"CIN\",\"quantity\":\"1\",\"due\":\"2032-04-16\","
        "\"sentence\":\"1 of Cinder in place of Briar Song\"}\n"
        "1004||cancelled|due|2032-02-10|0|cancelled:order#|{\"what\":\"all\",\"cancelled\":\"2032-02-01\","
        "\"reason\":\"bought "
        "elsewhere\",\"amount\":\"21.30\",\"refund_by\":\"2032-02-10\",\"sentence\":\"All cancelled, 21.30 "
        "to go back\"}\n"
        "1004|1|refund|due|2032-02-10|1420|refund:line#:1420|{\"variety\":\"Cinder\",\"code\":\"CIN\","
        "\"quantity\":\"2\",\"why\":\"cancelled\",\"refund_by\":\"2032-02-10\",\"sentence\":\"14.20 owed for "
        "2 of Cinder (2 cancelled, 0 not delivered)\"}\n"
        "1004|2|refund|due|2032-02-10|710|refund:line#:710|{\"variety\":\"Cinder\",\"code\":\"CIN\","
        "\"quantity\":\"1\",\"why\":\"cancelled\",\"refund_by\":\"2032-02-10\",\"sentence\":\"7.10 owed for "
        "1 of Cinder (1 cancelled, 0 not delivered)\"}\n"
        "1005||delay|due|2032-04-23|0|delay:order#:2032-04-23:2032-05-28|{\"expected_day\":22793,"
        "\"promised\":\"2032-04-23\",\"expected\":\"2032-05-28\",\"cancelled_on\":\"2032-05-23\",\"silence\":"
        "\"cancels\",\"refund_by\":\"2032-06-01\",\"source\":\"16 CFR 435.2(b)(1)(iii)\",\"sentence\":\"to "
        "leave by 2032-04-23, now expected by 2032-05-28; silence cancels the order (16 CFR "
        "435.2(b)(1)(iii))\"}\n"
        "1005|1|cancelled|due|2032-02-10|0|cancelled:line#:2|{\"what\":\"part\",\"variety\":\"Cinder\","
        "\"quantity\":\"2\",\"cancelled\":\"2032-02-01\",\"reason\":\"fewer\",\"amount\":\"14.20\",\"refund_"
        "by\":\"2032-02-10\",\"sentence\":\"2 of Cinder cancelled, 14.20 to go back\"}\n"
        "1005|1|refund|due|2032-02-10|1420|refund:line#:1420|{\"variety\":\"Cinder\",\"code\":\"CIN\","
        "\"quantity\":\"2\",\"why\":\"cancelled\",\"refund_by\":\"2032-02-10\",\"sentence\":\"14.20 owed for "
        "2 of Cinder (2 cancelled, 0 not delivered)\"}\n");
    test_nursery_free(&t);
}

static void texts_are_the_nurserys(void **state)
{
    static const struct {
        const char *what, *subject, *body;
    } bad[] = { { "unknown word", "Order {order}", "Dear {custommer}," },
                { "open brace", "Order {order", "Dear you" },
                { "two lines of subject", "Order\nBcc: x@example.net", "Dear you" },
                { "empty", "", "Dear you" },
                { "broken UTF-8", "Order", "Dear \xFF" } };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    json_t *shown = NULL;
    (void)state;
    make(&t);
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        if (cw_notices_template_set(t.n, &t.who, "short", NULL, bad[i].subject, bad[i].body, &err) !=
            CW_REFUSED)
            fail_msg("%s", bad[i].what);
        err = (cw_error)CW_ERROR_NONE;
    }
    assert_int_equal(cw_notices_template_set(t.n, &t.who, "praise", NULL, "a", "b", &err), CW_NOT_FOUND);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_notices_template_set(t.n, &t.who, "short", NULL, "{order}: {{sorry}",
                                        "{customer}, {quantity} of {variety}.\n", &err),
                &err);
    make_firm(&t, "first-come", "AMB");
    look(&t);
    cw_check_ok(cw_notices_preview(t.n, &t.who, "short", NULL, NULL, NULL, find(&t, "1002", 1, "short").id,
                                   &shown, &err),
                &err);
    assert_string_equal(json_string_value(json_object_get(shown, "subject")), "1002: {sorry}");
    assert_string_equal(json_string_value(json_object_get(shown, "body")),
                        "J\xC3\xB6rg Bostr, 2 of Amber Lantern.\n");
    json_decref(shown);
    /* Every text that comes with the program fills wholly, for an invented notice. */
    static const char *const kinds[] = { "delay", "short", "substitute", "refund", "cancelled", "recall" };
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        cw_check_ok(cw_notices_preview(t.n, &t.who, kinds[i], NULL, NULL, NULL, 0, &shown, &err), &err);
        assert_null(strchr(json_string_value(json_object_get(shown, "body")), '{'));
        json_decref(shown);
    }
    test_nursery_free(&t);
}

/* By the door by which orders come in; "" takes it back. */
static void say_language(test_nursery *t, const char *order, const char *language)
{
    char csv[200];
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { 0 };
    cw_table answer = { 0 };
    int n = snprintf(csv, sizeof csv,
                     "order,received_at,line,variety,quantity,unit_price,language\n"
                     "%s,2032-01-06T11:00:00Z,1,AMB,3,6.55,%s\n",
                     order, language);
    cw_intake_file f = { .name = "orders.csv", .bytes = csv, .length = (size_t)n };
    cw_intake_options changes = { .changes = true };
    cw_check_ok(cw_intake_load(t->n, &t->who, &f, 1, &changes, &answer, &errors, &err), &err);
    cw_table_free(&answer);
    cw_error_list_free(&errors);
}

static void do_sql(test_nursery *t, const char *sql)
{
    sqlite3 *raw = NULL;
    assert_int_equal(sqlite3_open(t->path, &raw), SQLITE_OK);
    if (sqlite3_exec(raw, sql, NULL, NULL, NULL) != SQLITE_OK)
        fail_msg("%s: %s", sql, sqlite3_errmsg(raw));
    sqlite3_close(raw);
}

/* What the shipped letters say, whole, of one buyer in each language, and of one whose order names none: the nursery's. The day is
 * Sunday 1 February 2032; the refund of 13.10 is due seven working days later. */
static void each_buyer_reads_their_own_language(void **state)
{
    static const struct {
        const char *set, *order, *language, *subject, *line;
    } rows[] = {
        { "en", "", "", "Your order 1002: your refund of 13.10 USD", "10 February 2032 at the latest" },
        { "en", "de", "", "Ihre Bestellung 1002: Ihre Erstattung von 13,10 USD",
          "für 2 × Amber Lantern (wir können nicht liefern). Wir senden das Geld auf dem Weg zurück, auf dem "
          "Sie "
          "bezahlt\nhaben, spätestens am 10. Februar 2032." },
        { "en", "fr", "", "Votre commande 1002 : votre remboursement de 13,10 USD",
          "plus\ntard le 10 février 2032" },
        { "en", "nl", "", "Uw bestelling 1002: uw terugbetaling van 13,10 USD",
          "uiterlijk 10 februari 2032" },
        { "nl", "", "", "Uw bestelling 1002: uw terugbetaling van 13,10 USD", "uiterlijk 10 februari 2032" },
        { "nl", "en", "", "Your order 1002: your refund of 13.10 USD", "10 February 2032 at the latest" },
        { "nl", "de", "en", "Your order 1002: your refund of 13.10 USD", "10 February 2032 at the latest" },
    };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    json_t *shown = NULL;
    (void)state;
    make(&t);
    make_firm(&t, "first-come", "AMB");
    look(&t);
    int64_t id = find(&t, "1002", 1, "refund").id;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_check_ok(cw_nursery_set(t.n, &t.who, "language", rows[i].set, &err), &err);
        say_language(&t, "1002", rows[i].order);
        cw_check_ok(cw_notices_preview(t.n, &t.who, "refund", rows[i].language, NULL, NULL, id, &shown, &err),
                    &err);
        assert_string_equal(json_string_value(json_object_get(shown, "subject")), rows[i].subject);
        if (strstr(json_string_value(json_object_get(shown, "body")), rows[i].line) == NULL)
            fail_msg("%zu: not said: %s\n%s", i, rows[i].line,
                     json_string_value(json_object_get(shown, "body")));
        json_decref(shown);
    }
    assert_int_equal(cw_nursery_set(t.n, &t.who, "language", "tlh", &err), CW_REFUSED);
    err = (cw_error)CW_ERROR_NONE;
    /* The nursery's own text of a language stands before the one that came with the program, in that language only. */
    cw_check_ok(cw_notices_template_set(t.n, &t.who, "refund", "fr", "{order} !", "{amount}\n", &err), &err);
    say_language(&t, "1002", "fr");
    cw_check_ok(cw_notices_preview(t.n, &t.who, "refund", NULL, NULL, NULL, id, &shown, &err), &err);
    assert_string_equal(json_string_value(json_object_get(shown, "body")), "13,10\n");
    json_decref(shown);
    say_language(&t, "1002", "nl");
    cw_check_ok(cw_notices_preview(t.n, &t.who, "refund", NULL, NULL, NULL, id, &shown, &err), &err);
    assert_string_equal(json_string_value(json_object_get(shown, "subject")), rows[3].subject);
    json_decref(shown);
    test_nursery_free(&t);
}

/* Of every kind in every language nothing is left to fill in, no word of the data stands for a sentence, and each is its own. */
static void every_letter_in_every_language(void **state)
{
    static const char *const kinds[] = { "delay", "short", "substitute", "refund", "cancelled", "recall" };
    static const char *const languages[] = { "de", "en", "fr", "nl" };
    static const char *const greetings[] = { "Guten Tag ", "Dear ", "Bonjour ", "Beste " };
    static const char *const raw[] = { "{", "consents", "undelivered", ": part.", "2032-" };
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    json_t *shown = NULL;
    (void)state;
    make(&t);
    for (size_t k = 0; k < 6; k++)
        for (size_t l = 0; l < 4; l++) {
            cw_check_ok(cw_notices_preview(t.n, &t.who, kinds[k], languages[l], NULL, NULL, 0, &shown, &err),
                        &err);
            const char *body = json_string_value(json_object_get(shown, "body"));
            if (strncmp(body, greetings[l], strlen(greetings[l])) != 0)
                fail_msg("%s in %s: %s", kinds[k], languages[l], body);
            for (size_t r = 0; r < sizeof raw / sizeof raw[0]; r++)
                if (strstr(body, raw[r]))
                    fail_msg("%s in %s says \"%s\": %s", kinds[k], languages[l], raw[r], body);
            json_decref(shown);
        }
    test_nursery_free(&t);
}

/* What was on record before letters had languages: days and set phrases in English words. */
static void older_notices_are_read_in_the_language_too(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    json_t *shown = NULL;
    (void)state;
    make(&t);
    make_firm(&t, "first-come", "AMB");
    look(&t);
    int64_t id = find(&t, "1002", 1, "refund").id;
    say_language(&t, "1002", "de");
    static const struct {
        const char *kind, *detail, *said;
    } rows[] = {
        { "refund", "{\"why\":\"that we cannot deliver\",\"refund_by\":\"1 March 2032\"}",
          "(wir können nicht liefern)" },
        { "refund", "{\"why\":\"that failed with you\",\"refund_by\":\"1 March 2032\"}", "am 1. März 2032." },
        { "delay", "{\"promised\":\"23 April 2032\",\"expected\":\"by 7 May 2032\"}",
          "dem Versand bis zum 7. Mai 2032." },
        { "delay", "{\"expected\":\"on a day that we do not know yet\"}",
          "an einem Tag, den wir noch nicht kennen." },
        { "recall", "{\"row\":\"not written down\"}", "Reihe nicht notiert," },
        { "recall", "{\"row\":\"\"}", "Reihe nicht notiert," },
        { "short", "{\"promised\":\"3\",\"asked\":\"5\"}", "haben Sie 5 bestellt, und wir haben 3 für Sie" },
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char sql[400];
        snprintf(sql, sizeof sql, "UPDATE notice SET detail = '%s' WHERE id = %lld", rows[i].detail,
                 (long long)id);
        do_sql(&t, sql);
        cw_check_ok(cw_notices_preview(t.n, &t.who, rows[i].kind, NULL, NULL, NULL, id, &shown, &err), &err);
        if (strstr(json_string_value(json_object_get(shown, "body")), rows[i].said) == NULL)
            fail_msg("not said: %s\n%s", rows[i].said, json_string_value(json_object_get(shown, "body")));
        json_decref(shown);
    }
    test_nursery_free(&t);
}

static void messages_and_mail_merge(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_text eml = CW_TEXT(1 << 20);
    cw_table merge;
    (void)state;
    make(&t);
    make_firm(&t, "first-come", NULL);
    look(&t);
    int64_t id = find(&t, "1002", 1, "short").id;
    assert_int_equal(cw_notices_message(t.n, &t.who, id, &eml, &err), CW_REFUSED);
    assert_string_equal(err.column, "sender");
    err = (cw_error)CW_ERROR_NONE;
    static const char *const bad[] = { "Blue Gate", "office@", "a@b c",
                                       "office@example.com, other@example.com" };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) { /* told when it is typed, not in April */
        assert_int_equal(cw_nursery_set(t.n, &t.who, "sender", bad[i], &err), CW_REFUSED);
        assert_string_equal(err.column, "sender");
        err = (cw_error)CW_ERROR_NONE;
    }
    cw_check_ok(cw_nursery_set(t.n, &t.who, "sender", "", &err), &err);
    cw_check_ok(cw_nursery_set(t.n, &t.who, "sender", "Blue Gate <office@example.com>", &err), &err);
    cw_check_ok(cw_nursery_set(t.n, &t.who, "name", "Blue Gate", &err), &err);
    cw_check_ok(cw_notices_message(t.n, &t.who, id, &eml, &err), &err);
    assert_non_null(strstr(eml.data, "\r\nTo: =?UTF-8?B?SsO2cmcgQm9zdHI=?=\r\n <bo@example.org>\r\n"));
    assert_non_null(strstr(eml.data, "\r\nDear J=C3=B6rg Bostr,\r\n"));
    assert_non_null(strstr(eml.data, "10 February 2032")); /* days stand in letters as people write them */
    assert_null(strstr(eml.data, "2032-02-10"));
    cw_text_clear(&eml);
    assert_int_equal(cw_notices_message(t.n, &t.who, find(&t, "1003", 1, "short").id, &eml, &err),
                     CW_REFUSED);
    assert_string_equal(err.column, "to"); /* no address */
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_notices_merge(t.n, &t.who, "due", CW_NO_DAY, &merge, &err), &err);
    assert_int_equal(cw_table_rows(&merge), 4);
    assert_string_equal(cw_table_text(&merge, 0, 10), "USD");
    cw_table_free(&merge);
    cw_text_free(&eml);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_word_of_a_notice),
        cmocka_unit_test(texts_are_the_nurserys),
        cmocka_unit_test(each_buyer_reads_their_own_language),
        cmocka_unit_test(every_letter_in_every_language),
        cmocka_unit_test(older_notices_are_read_in_the_language_too),
        cmocka_unit_test(messages_and_mail_merge),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
