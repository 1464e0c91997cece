/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_PICKING_H
#define CW_TESTS_SUPPORT_PICKING_H

/* A small nursery whose parcels are pulled, and what a packer does in it. All data are invented. */
#include "support/order_desk.h"

#include "desk/pack/packing.h"
#include "desk/pick/picking.h"
#include "desk/ship/shipping.h"

static const char pick_varieties[] = "code,name,form,size,colour,price\n"
                                     "AMB,Amber Lantern,ball,small,orange,6.50\n"
                                     "BRI,Briar Song,cactus,large,pink,8.00\n";
static const char pick_places[] = "place,room,walk_order\nC1,cellar,10\nC2,cellar,20\nC3,cellar,30\n";
static const char pick_lots[] = "lot,variety,dug_on,clumps,place\n"
                                "L1,AMB,2031-10-20,0,C2\nL2,BRI,2031-10-21,0,C1\nL3,AMB,2031-10-22,0,C3\n";
static const char pick_zones[] = "zone,first_week\nz7,2032-W16\nz3,2032-W20\n";
static const char pick_destinations[] =
    "country,rule,note\nUS,allow,\nCA,warn,certificate needed\nNZ,block,no certificate can be had\n";
static const char pick_orders[] =
    "order,received_at,line,variety,quantity,unit_price,tier,customer,country,zone,ship_complete\n"
    "1001,2032-01-05T10:00:00Z,1,AMB,2,6.50,retail,Ada,US,z7,0\n"
    "1001,2032-01-05T10:00:00Z,2,BRI,1,8.00,retail,Ada,US,z7,0\n"
    "1002,2032-01-05T11:00:00Z,1,AMB,3,6.50,retail,Bo,US,z7,0\n"
    "1003,2032-01-05T12:00:00Z,1,AMB,1,6.50,retail,Cy,NZ,z7,0\n"
    "1004,2032-01-05T13:00:00Z,1,BRI,4,8.00,wholesale,Di,CA,z7,0\n"
    "1005,2032-01-05T14:00:00Z,1,BRI,1,8.00,retail,Ed,US,z3,0\n";

#define WEEK 203216

/* Five AMB in L1 at C2, three more in L3 at C3, six BRI in L2 at C1; all that is ordered is promised. */
static inline void picking_make(test_nursery *t)
{
    test_nursery_make(t);
    load_text(t, "varieties.csv", pick_varieties);
    load_text(t, "places.csv", pick_places);
    load_text(t, "lots.csv", pick_lots);
    load_text(t, "zones.csv", pick_zones);
    load_text(t, "orders.csv", pick_orders);
    count_lot(t, "L1", "2032-01-20", 5);
    count_lot(t, "L2", "2032-01-20", 6);
    count_lot(t, "L3", "2032-01-20", 3);
    make_firm(t, "first-come", NULL);
    load_text(t, "destinations.csv",
              pick_destinations); /* so 1003 was promised something before it was blocked */
}

static inline int64_t wave_make(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    int64_t wave = 0;
    cw_table notes = { 0 };
    cw_picking_ask ask = { .week = WEEK };
    cw_check_ok(cw_picking_make(t->n, &t->who, &ask, &wave, &notes, &err), &err);
    cw_table_free(&notes);
    test_nursery_check(t);
    return wave;
}

/* The pick of an order's line (the last one, if there are several). */
static inline int64_t pick_of(test_nursery *t, const char *order, int line)
{
    char sql[256];
    snprintf(sql, sizeof sql,
             "SELECT k.id FROM pick k JOIN line l ON l.id = k.line_id JOIN orders o ON o.id = l.order_id "
             "WHERE o.number = '%s' AND l.line = %d ORDER BY k.state = 'open' DESC, k.id DESC",
             order, line);
    return number_of(t, sql);
}

static inline int64_t parcel_of(test_nursery *t, const char *order)
{
    char sql[256];
    snprintf(sql, sizeof sql,
             "SELECT p.id FROM parcel p JOIN orders o ON o.id = p.order_id WHERE o.number = '%s' ORDER BY "
             "p.id DESC",
             order);
    return number_of(t, sql);
}

/* One answer by `actor`; the outcome's word is copied out, its sentence is printed. */
static inline void answer(test_nursery *t, const char *actor, const char *key, int64_t pick, int64_t taken,
                          const char *reason, char outcome[16])
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    cw_asker who = t->who;
    who.actor = actor;
    who.role = CW_ROLE_PACKER;
    cw_picking_answer a = { .key = key, .pick = pick, .taken = taken, .reason = reason, .at = CW_NO_INSTANT };
    cw_check_ok(cw_picking_answer_all(t->n, &who, &a, 1, &out, &err), &err);
    assert_int_equal(cw_table_rows(&out), 1);
    cw_copy(outcome, 16, cw_table_text(&out, 0, 2));
    print_message("  %s: %s: %s\n", key, outcome, cw_table_text(&out, 0, 3));
    cw_table_free(&out);
    test_nursery_check(t);
}

static inline int64_t lot_has(test_nursery *t, const char *lot)
{
    char sql[200];
    snprintf(sql, sizeof sql,
             "SELECT COALESCE(SUM(b.divisions), 0) FROM balance b JOIN lot l ON l.id = b.lot_id WHERE l.code "
             "= '%s'",
             lot);
    return number_of(t, sql);
}

static inline void answer_all_open(test_nursery *t)
{
    char outcome[16], key[32];
    int64_t pick;
    while ((pick = number_of(t, "SELECT id FROM pick WHERE state = 'open' ORDER BY id LIMIT 1")) !=
           INT64_MIN) {
        char sql[80];
        snprintf(sql, sizeof sql, "SELECT quantity FROM pick WHERE id = %lld", (long long)pick);
        snprintf(key, sizeof key, "all-%lld", (long long)pick);
        answer(t, "Marta", key, pick, number_of(t, sql), NULL, outcome);
        assert_string_equal(outcome, "done");
    }
}

static inline cw_code pack(test_nursery *t, const char *order, int64_t count, const char *const *labels,
                           size_t n, cw_error *err)
{
    cw_packing_count c = { .count = count, .labels = labels, .label_count = n, .weight_g = 700 };
    *err = (cw_error)CW_ERROR_NONE;
    cw_code code = cw_packing_pack(t->n, &t->who, parcel_of(t, order), &c, err);
    test_nursery_check(t);
    return code;
}

static inline cw_code ship_off(test_nursery *t, const char *order, int64_t *rest, cw_error *err)
{
    *err = (cw_error)CW_ERROR_NONE;
    cw_code code = cw_packing_ship(t->n, &t->who, parcel_of(t, order),
                                   &(cw_packing_sent){ "by road", order, false, t->who.today }, rest, err);
    test_nursery_check(t);
    return code;
}

#endif
