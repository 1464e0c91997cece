/* SPDX-License-Identifier: MIT */
/* Packing slips as their readers get them: in the buyer's language, with the day as that language writes it, and what of the
 * order follows, is not certain, or is paid back; and the staff's papers, in the nursery's. Data invented. How a day is written in each language and country: CLDR 44,
 * dateFormats long and medium (from memory, as the check values of base/tongue have it). */
#include "serving.h"
#include "support/picking.h"

#include "desk/orders/ordering.h"

#include "base/banned.h"

static const struct {
    const char *language, *country;
    const char *says[6];
} tongues[] = {
    { "en",
      "US",
      { "<th>Divisions</th>", "2 divisions in this parcel.",
        "Follows in another parcel: 2 \u00d7 Amber Lantern.",
        "Not certain yet, follows if enough becomes ready: 2 \u00d7 ",
        "Will not come; what you paid for it goes back to you: 3 \u00d7 Briar Song, 2 \u00d7 Amber Lantern.",
        "February 1, 2032" } },
    { "de",
      "DE",
      { "<th>Teilst\u00fccke</th>", "2 Teilst\u00fccke in diesem Paket.",
        "Folgt in einem weiteren Paket: 2 \u00d7 Amber Lantern.",
        "Noch nicht sicher, folgt, wenn genug fertig wird: 2 \u00d7 ",
        "Kommt nicht; was Sie daf\u00fcr bezahlt haben, erhalten Sie zur\u00fcck: 3 \u00d7 Briar Song, 2 "
        "\u00d7 Amber Lantern.",
        "1. Februar 2032" } },
    { "fr",
      "FR",
      { "<th>\u00c9clats</th>", "2 \u00e9clats dans ce colis.",
        "Suit dans un autre colis\u00a0: 2 \u00d7 Amber Lantern.",
        "Pas encore certain, suivra s\u2019il y en a assez\u00a0: 2 \u00d7 ",
        "Ne viendra pas\u00a0; ce que vous avez pay\u00e9 vous est rendu\u00a0: 3 \u00d7 Briar Song, 2 "
        "\u00d7 Amber Lantern.",
        "1er f\u00e9vrier 2032" } },
    { "nl",
      "NL",
      { "<th>Deelknollen</th>", "2 deelknollen in dit pakket.",
        "Volgt in een ander pakket: 2 \u00d7 Amber Lantern.",
        "Nog niet zeker, volgt als er genoeg klaarkomt: 2 \u00d7 ",
        "Komt niet; wat u ervoor hebt betaald, gaat naar u terug: 3 \u00d7 Briar Song, 2 \u00d7 Amber "
        "Lantern.",
        "1 februari 2032" } },
};

/* As desk/test_slips: of five AMB two go, two follow and two are given up; three BRI never come; an assortment may. */
static void order_make(test_nursery *t, const char *language, const char *country)
{
    cw_error err = CW_ERROR_NONE;
    char text[900];
    picking_make(t);
    snprintf(text, sizeof text,
             "order,received_at,line,variety,quantity,unit_price,customer,country,zone,language,assortment\n"
             "2001,2032-01-06T10:00:00Z,1,AMB,1,6.50,Eve,%s,z7,%s,\n"
             "2001,2032-01-06T10:00:00Z,2,BRI,3,8.00,Eve,%s,z7,%s,\n"
             "2001,2032-01-06T10:00:00Z,3,,2,5.00,Eve,%s,z7,%s,colour=white\n"
             "2001,2032-01-06T10:00:00Z,4,AMB,3,6.50,Eve,%s,z7,%s,\n",
             country, language, country, language, country, language, country, language);
    load_text(t, "orders.csv", text);
    cw_check_ok(cw_ordering_change(t->n, &t->who, "2001", 4, 1, "two fewer", &err), &err);
    make_firm(t, "first-come", NULL);
    assert_int_equal(wave_make(t), 1);
    count_lot(t, "L3", "2032-01-30", 5);
    cw_check_ok(cw_ordering_change(t->n, &t->who, "2001", 1, 3, "two more", &err), &err);
    make_firm(t, "first-come", "AMB");
}

static void a_slip_in_each_language_says_what_follows_and_what_is_paid_back(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof tongues / sizeof tongues[0]; i++) {
        serving s = { .server = NULL };
        order_make(&s.t, tongues[i].language, tongues[i].country);
        s.how = (cw_serve){ .path = s.t.path, .listen = "127.0.0.1:0", .today = s.t.who.today };
        serving_start(&s);
        wire_reply r = wire_ask(s.port, "GET", "/print/slips?wave=1", "", NULL);
        assert_int_equal(r.status, 200);
        /* Of this order only: the others on the page are of other buyers. */
        const char *mine = strstr(r.body, ">2001<");
        assert_non_null(mine);
        for (size_t k = 0; k < 6; k++)
            if (strstr(r.body, tongues[i].says[k]) == NULL)
                fail_msg("%s: not said: %s\n%s", tongues[i].language, tongues[i].says[k], mine);
        for (size_t other = 0; other < sizeof tongues / sizeof tongues[0]; other++)
            if (other != i && strstr(r.body, tongues[other].says[4]))
                fail_msg("%s: said in %s", tongues[i].language, tongues[other].language);
        wire_free(&r);
        serving_free(&s);
    }
}

/* Whoever works here reads one language, whatever the buyer of a parcel reads. */
static void what_the_staff_reads_is_in_the_nurserys_language(void **state)
{
    static const struct {
        const char *target, *title[4];
    } papers[] = {
        { "/print/tags?wave=1",
          { "Crate tags", "Kistenetiketten", "\u00c9tiquettes de caisses", "Kratetiketten" } },
        { "/print/walk?wave=1", { "Pick sheet", "Laufzettel", "Feuille de tourn\u00e9e", "Rondeblad" } },
        { "/print/slips?wave=1", { "Packing slips", "Packzettel", "Bordereaux", "Pakbonnen" } },
        { "/print/labels?wave=1",
          { "Division labels", "Etiketten der Teilst\u00fccke", "\u00c9tiquettes d\u2019\u00e9clats",
            "Etiketten van deelknollen" } },
        { "/print/bench", { "Cutting room", "Schneideraum", "Atelier de division", "Deelruimte" } },
        { "/print/rota", { "Check rota", "Kontrollplan", "Plan de contr\u00f4le", "Controleplan" } },
        { "/print/planting", { "Planting list", "Pflanzliste", "Liste de plantation", "Plantlijst" } },
    };
    static const char *const languages[] = { "en", "de", "fr", "nl" };
    serving s = { .server = NULL };
    cw_error err = CW_ERROR_NONE;
    (void)state;
    order_make(&s.t, "en", "GB");
    s.how = (cw_serve){ .path = s.t.path, .listen = "127.0.0.1:0", .today = s.t.who.today };
    for (size_t l = 0; l < 4; l++) {
        cw_check_ok(cw_nursery_set(s.t.n, &s.t.who, "language", languages[l], &err), &err);
        serving_start(&s);
        for (size_t i = 0; i < sizeof papers / sizeof papers[0]; i++) {
            char want[200];
            wire_reply r = wire_ask(s.port, "GET", papers[i].target, "", NULL);
            snprintf(want, sizeof want, "<html lang=\"%s\"><head><meta charset=\"utf-8\"><title>%s</title>",
                     languages[l], papers[i].title[l]);
            if (r.status != 200 || strstr(r.body, want) == NULL)
                fail_msg("%s, %s: %d %.200s", papers[i].target, languages[l], r.status, r.body);
            wire_free(&r);
        }
        serving_stop(&s);
    }
    serving_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_slip_in_each_language_says_what_follows_and_what_is_paid_back),
        cmocka_unit_test(what_the_staff_reads_is_in_the_nurserys_language),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
