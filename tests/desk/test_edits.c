/* SPDX-License-Identifier: MIT */
/* Two people type over the same value: whoever saw an older one is refused and told the newer; who says nothing overwrites. */
#include "support/cheap_passwords.h"
#include "support/order_desk.h"

#include "desk/offer/offering.h"
#include "desk/orders/notices.h"
#include "desk/people/accounts.h"
#include "desk/ship/shipping.h"
#include "desk/stock/catalogue.h"
#include "desk/stock/tracing.h"

#include "base/banned.h"

static const char varieties[] = "code,name,form,size,colour,price,hold_back,reserve\n"
                                "AMB,Amber Lantern,ball,small,orange,6.50,3,0\n";
static const char lots[] = "lot,variety,dug_on,clumps\nL1,AMB,2031-10-20,0\n";
static const char orders[] = "order,received_at,line,variety,quantity,unit_price\n"
                             "1001,2032-01-05T10:00:00Z,1,AMB,4,6.50\n"
                             "1001,2032-01-05T10:00:00Z,2,AMB,2,6.50\n";

static void make(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    test_nursery_make(t);
    load_text(t, "varieties.csv", varieties);
    load_text(t, "lots.csv", lots);
    load_text(t, "orders.csv", orders);
    count_lot(t, "L1", "2032-01-20", 50);
    cw_check_ok(cw_accounts_add(t->n, &t->who, "Ada", CW_ROLE_OWNER, "correct horse staple", &err), &err);
    cw_check_ok(cw_accounts_add(t->n, &t->who, "Bo", CW_ROLE_PACKER, "correct horse staple", &err), &err);
}

/* The edits: each writes another value by its number, 0 and 1. */
static cw_code edit_setting(cw_nursery *n, const cw_asker *who, int i, cw_error *err)
{
    return cw_nursery_set(n, who, "parcels_per_week", i ? "120" : "90", err);
}
static cw_code edit_quantity(cw_nursery *n, const cw_asker *who, int i, cw_error *err)
{
    return cw_ordering_change(n, who, "1001", 1, i ? 6 : 5, "rang", err);
}
static cw_code edit_cancel_line(cw_nursery *n, const cw_asker *who, int i, cw_error *err)
{
    return i ? cw_ordering_cancel(n, who, "1001", 1, "rang", err)
             : cw_ordering_change(n, who, "1001", 1, 3, "rang", err);
}
static cw_code edit_cancel(cw_nursery *n, const cw_asker *who, int i, cw_error *err)
{
    return i ? cw_ordering_cancel(n, who, "1001", 0, "rang", err)
             : cw_ordering_change(n, who, "1001", 2, 3, "rang", err);
}
static cw_code edit_week(cw_nursery *n, const cw_asker *who, int i, cw_error *err)
{
    cw_table t = { 0 };
    cw_code code = cw_shipping_move(n, who, "1001", i ? 203219 : 203218, "rang", &t, err);
    cw_table_free(&t);
    return code;
}
static cw_code edit_role(cw_nursery *n, const cw_asker *who, int i, cw_error *err)
{
    return cw_accounts_role(n, who, "Bo", i ? CW_ROLE_OFFICE : CW_ROLE_CELLAR, err);
}
static cw_code edit_disabled(cw_nursery *n, const cw_asker *who, int i, cw_error *err)
{
    return cw_accounts_disable(n, who, "Bo", i == 0, err);
}
static cw_code edit_text(cw_nursery *n, const cw_asker *who, int i, cw_error *err)
{
    return cw_notices_template_set(n, who, "short", NULL, i ? "Short" : "Too few", "Dear {customer}", err);
}
static cw_code edit_held(cw_nursery *n, const cw_asker *who, int i, cw_error *err)
{
    return cw_tracing_hold(n, who, "L1", i ? "gall" : "rot", err);
}
static cw_code edit_variety(cw_nursery *n, const cw_asker *who, int i, cw_error *err)
{
    cw_table t = { 0 };
    const cw_catalogue_edit e = { i ? 5 : 4, -1, -1, -1, -1, 0 };
    cw_code code = cw_catalogue_change(n, who, "AMB", &e, &t, err);
    cw_table_free(&t);
    return code;
}
static cw_code edit_price(cw_nursery *n, const cw_asker *who, int i, cw_error *err)
{
    cw_table t = { 0 };
    const cw_catalogue_edit e = { -1, -1, -1, i ? 800 : 700, -1, 0 };
    cw_code code = cw_catalogue_change(n, who, "AMB", &e, &t, err);
    cw_table_free(&t);
    return code;
}
static cw_code edit_offer(cw_nursery *n, const cw_asker *who, int i, cw_error *err)
{
    cw_table t = { 0 };
    const cw_offering_ask ask = {
        .confidence = 0.9, .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY, .rot = 1
    };
    const cw_offering_item item = { "AMB", i ? 30 : 20 };
    cw_code code = cw_offering_release(n, who, &ask, &item, 1, "spring", &t, err);
    cw_table_free(&t);
    return code;
}
static cw_code edit_ship(cw_nursery *n, const cw_asker *who, int i, cw_error *err)
{
    return cw_offering_ship_move(n, who, cw_day_from_ymd(2032, 5, i ? 10 : 3), "a late frost", err);
}

typedef struct edit {
    const char *name;
    cw_code (*make)(cw_nursery *n, const cw_asker *who, int i, cw_error *err);
    const char *was, *now; /* before the first edit, and after it */
    const char *mark;      /* SQL of what must not move when the second is refused */
} edit;

static const edit edits[] = {
    { "setting", edit_setting, "{\"parcels_per_week\":\"200\"}", "{\"parcels_per_week\":\"90\"}",
      "SELECT value FROM setting WHERE name = 'parcels_per_week'" },
    { "quantity", edit_quantity, "{\"quantity\":4}", "{\"quantity\":5}",
      "SELECT quantity FROM line WHERE line = 1" },
    { "a line cancelled", edit_cancel_line, "{\"quantity\":4}", "{\"quantity\":3}",
      "SELECT quantity FROM line WHERE line = 1" },
    { "an order cancelled", edit_cancel, "{\"version\":1}", "{\"version\":2}",
      "SELECT SUM(quantity) FROM line" },
    { "week", edit_week, "{\"week\":null}", "{\"week\":\"2032-W18\"}", "SELECT ship_week FROM orders" },
    { "role", edit_role, "{\"role\":\"packer\"}", "{\"role\":\"cellar\"}",
      "SELECT role = 'cellar' FROM person WHERE name = 'Bo'" },
    { "disabled", edit_disabled, "{\"disabled\":false}", "{\"disabled\":true}",
      "SELECT disabled FROM person WHERE name = 'Bo'" },
    { "text", edit_text, NULL, "{\"subject\":\"Too few\",\"body\":\"Dear {customer}\"}",
      "SELECT subject = 'Too few' FROM template WHERE kind = 'short' AND language = 'en'" },
    { "held", edit_held, "{\"held\":null}", "{\"held\":\"rot\"}", "SELECT held = 'rot' FROM lot" },
    { "hold-back", edit_variety, "{\"hold_back\":3}", "{\"hold_back\":4}", "SELECT hold_back FROM variety" },
    { "price", edit_price, "{\"price\":\"6.50\"}", "{\"price\":\"7.00\"}", "SELECT price FROM variety" },
    { "offer", edit_offer, "{\"AMB\":0}", "{\"AMB\":20}", "SELECT offered FROM offering" },
    { "shipping day", edit_ship, "{\"day\":\"2032-04-19\"}", "{\"day\":\"2032-05-03\"}",
      "SELECT ship_day FROM nursery" },
};

static cw_code under(const edit *e, test_nursery *t, int i, const char *on, json_t **now, cw_error *err)
{
    cw_based b = { .on = on ? json_loads(on, 0, NULL) : NULL };
    cw_asker who = t->who;
    who.based = on ? &b : NULL;
    *err = (cw_error)CW_ERROR_NONE;
    cw_code code = e->make(t->n, &who, i, err);
    json_decref(b.on);
    *now = b.now;
    return code;
}

/* As another tab sees it: the first edit is well founded, the second stands on what was before it. */
static void the_older_of_two_edits_is_refused_with_both_values(void **state)
{
    (void)state;
    for (size_t k = 0; k < sizeof edits / sizeof edits[0]; k++) {
        const edit *e = &edits[k];
        test_nursery t;
        cw_error err;
        json_t *now = NULL, *want = json_loads(e->now, 0, NULL);
        const char *was = e->was ? e->was : "{\"subject\":\"another\",\"body\":\"another\"}";
        print_message("%s\n", e->name);
        make(&t);
        cw_check_ok(under(e, &t, 0, e->was, &now, &err), &err);
        assert_null(now);
        int64_t mark = number_of(&t, e->mark);
        assert_int_equal(under(e, &t, 1, was, &now, &err), CW_CONFLICT);
        if (!json_equal(now, want))
            fail_msg("%s: told %s", e->name, json_dumps(now, JSON_ENCODE_ANY));
        assert_non_null(strstr(err.text, "changed meanwhile"));
        assert_int_equal(number_of(&t, e->mark), mark);
        json_decref(now);
        /* Having seen the newer, they may. */
        cw_check_ok(under(e, &t, 1, e->now, &now, &err), &err);
        assert_int_not_equal(number_of(&t, e->mark), mark);
        json_decref(want);
        test_nursery_check(&t);
        test_nursery_free(&t);
    }
}

static void who_says_nothing_overwrites(void **state)
{
    (void)state;
    for (size_t k = 0; k < sizeof edits / sizeof edits[0]; k++) {
        test_nursery t;
        cw_error err;
        json_t *now = NULL;
        make(&t);
        cw_check_ok(under(&edits[k], &t, 0, NULL, &now, &err), &err);
        cw_check_ok(under(&edits[k], &t, 1, "{\"something else\":1}", &now, &err), &err);
        test_nursery_free(&t);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_older_of_two_edits_is_refused_with_both_values),
        cmocka_unit_test(who_says_nothing_overwrites),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
