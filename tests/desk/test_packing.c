/* SPDX-License-Identifier: MIT */
/* Parcels: nothing wrong, nothing blocked and nothing held leaves; what is left of an order goes later. */
#include "support/picking.h"

#include "desk/buyers/claims.h"

#include "base/banned.h"

static void what_is_counted_must_be_what_was_pulled(void **state)
{
    static const struct {
        const char *name;
        int64_t count;
        const char *labels[6];
        size_t n;
        const char *sentence; /* NULL: packed */
    } rows[] = {
        { "one missing", 2, { NULL }, 0, "2 counted, 3 belong in the parcel of order 1001: 1 missing" },
        { "one too many", 4, { NULL }, 0, "4 counted, 3 belong in the parcel of order 1001: 1 too many" },
        { "a label missing", -1, { "L1 AMB", "L1 AMB" }, 2, "1 of BRI (lot L2) missing" },
        { "a label too many", -1, { "L1 AMB", "L1 AMB", "L1", "L2 BRI" }, 4, "1 of AMB (lot L1) too many" },
        { "a stranger", -1, { "L1@C2", "L1", "L2", "L3 AMB" }, 4, "1 of lot L3 do not belong in it" },
        { "one for another",
          -1,
          { "L1", "L2", "L2" },
          3,
          "1 of AMB (lot L1) missing; 1 of BRI (lot L2) too many" },
        { "no label at all", -1, { NULL }, 0, "2 of AMB (lot L1) missing" },
        { "right", -1, { "L2 BRI", "L1 AMB", "L1 AMB" }, 3, NULL },
        { "packed already", 3, { NULL }, 0, "packed already" },
    };
    test_nursery t;
    cw_error err;
    (void)state;
    picking_make(&t);
    wave_make(&t);
    assert_int_equal(pack(&t, "1001", 3, NULL, 0, &err), CW_CONFLICT);
    assert_string_equal(err.text, "2 picks of order 1001 are not answered yet");
    char outcome[16];
    answer(&t, "Marta", "none", pick_of(&t, "1002", 1), 0, "missing", outcome);
    answer_all_open(&t);
    assert_int_equal(pack(&t, "1002", 0, NULL, 0, &err), CW_CONFLICT);
    assert_string_equal(err.text, "nothing was pulled for order 1002, so there is nothing to pack");
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        print_message("%s\n", rows[i].name);
        cw_code code = pack(&t, "1001", rows[i].count, rows[i].labels, rows[i].n, &err);
        assert_int_equal(code, rows[i].sentence ? CW_CONFLICT : CW_OK);
        if (rows[i].sentence && strstr(err.text, rows[i].sentence) == NULL)
            fail_msg("%s", err.text);
    }
    /* A packed parcel's picks stand until it is opened again. */
    cw_error no = CW_ERROR_NONE;
    assert_int_equal(cw_picking_undo(t.n, &t.who, pick_of(&t, "1001", 1), "why not", &no), CW_CONFLICT);
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_packing_unpack(t.n, &t.who, parcel_of(&t, "1001"), "a wet label", &err), &err);
    cw_check_ok(cw_picking_undo(t.n, &t.who, pick_of(&t, "1001", 1), "why not", &err), &err);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

static cw_code ship_under(test_nursery *t, const char *order, const char *number, int64_t *rest,
                          cw_error *err)
{
    *err = (cw_error)CW_ERROR_NONE;
    cw_code code = cw_packing_ship(t->n, &t->who, parcel_of(t, order),
                                   &(cw_packing_sent){ "by road", number, false, t->who.today }, rest, err);
    test_nursery_check(t);
    return code;
}

static int64_t state_of(test_nursery *t, const char *order)
{
    char sql[120];
    snprintf(sql, sizeof sql, "SELECT state = 'shipped' FROM orders WHERE number = '%s'", order);
    return number_of(t, sql);
}

static void an_order_is_shipped_when_nothing_is_left(void **state)
{
    test_nursery t;
    cw_error err;
    char outcome[16];
    int64_t rest = -1;
    (void)state;
    picking_make(&t);
    wave_make(&t);
    answer(&t, "Marta", "short", pick_of(&t, "1001", 1), 1, "missing", outcome);
    answer_all_open(&t);
    assert_int_equal(ship_off(&t, "1001", &rest, &err), CW_CONFLICT); /* not packed */
    assert_int_equal(pack(&t, "1001", 2, NULL, 0, &err), CW_OK);
    assert_int_equal(ship_off(&t, "1001", &rest, &err), CW_OK);
    assert_int_equal(rest, 1);
    assert_int_equal(state_of(&t, "1001"), 0);
    assert_int_equal(ship_off(&t, "1001", &rest, &err), CW_CONFLICT); /* gone */
    /* The rest in a wave of its own: a second parcel. */
    wave_make(&t);
    answer_all_open(&t);
    assert_int_equal(pack(&t, "1001", 1, NULL, 0, &err), CW_OK);
    assert_int_equal(ship_off(&t, "1001", &rest, &err), CW_OK);
    assert_int_equal(rest, 0);
    assert_int_equal(state_of(&t, "1001"), 1);
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM parcel WHERE state = 'shipped'"), 2);
    test_nursery_free(&t);
}

static void refused_whole(test_nursery *t, int64_t parcel, const char *why)
{
    cw_error err = CW_ERROR_NONE;
    int64_t rest = 0;
    assert_int_equal(cw_packing_ship(t->n, &t->who, parcel,
                                     &(cw_packing_sent){ "by road", "T-1", false, t->who.today }, &rest,
                                     &err),
                     CW_CONFLICT);
    if (strstr(err.text, why) == NULL)
        fail_msg("%s: %s", why, err.text);
}

static void set(test_nursery *t, const char *sql)
{
    sqlite3 *raw = NULL;
    assert_int_equal(sqlite3_open(t->path, &raw), SQLITE_OK);
    assert_int_equal(sqlite3_exec(raw, sql, NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(raw);
}

/* Two parcels of one order lie there at once: it is shipped when the second has gone, whichever that is. Of one that leaves
 * whole neither goes before the other can: packed, and without a lot that is held. */
static void an_order_in_two_parcels(void **state)
{
    test_nursery t;
    cw_error err;
    char outcome[16];
    int64_t rest = -1, first, second;
    (void)state;
    picking_make(&t);
    wave_make(&t);
    answer(&t, "Marta", "short", pick_of(&t, "1001", 1), 1, "missing", outcome);
    answer_all_open(&t);
    assert_int_equal(pack(&t, "1001", 2, NULL, 0, &err), CW_OK);
    first = parcel_of(&t, "1001");
    set(&t, "UPDATE orders SET ship_complete = 1");
    wave_make(&t);
    refused_whole(&t, first, "missing of it: 1");
    answer_all_open(&t);
    refused_whole(&t, first, "a part of it lies in another parcel");
    assert_int_equal(pack(&t, "1001", 1, NULL, 0, &err), CW_OK);
    second = parcel_of(&t, "1001");
    assert_int_not_equal(first, second);
    /* A lot of the second alone: each parcel is told of its own first. */
    set(&t, "UPDATE lot SET held = 'looked at' WHERE id IN "
            "(SELECT lot_id FROM pick WHERE taken > 0 AND parcel_id = (SELECT MAX(parcel_id) FROM pick WHERE "
            "line_id = 1) "
            "EXCEPT SELECT lot_id FROM pick WHERE taken > 0 AND parcel_id = (SELECT MIN(parcel_id) FROM pick "
            "WHERE line_id = 1))");
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM lot WHERE held IS NOT NULL"), 1);
    refused_whole(&t, first, "a part of it lies in another parcel");
    set(&t, "UPDATE lot SET held = NULL");
    cw_packing_sent road = { "by road", "T-1", false, t.who.today };
    assert_int_equal(cw_packing_ship(t.n, &t.who, first, &road, &rest, &err), CW_OK);
    assert_int_equal(state_of(&t, "1001"), 0); /* the second is still here */
    assert_int_equal(cw_packing_ship(t.n, &t.who, second, &road, &rest, &err), CW_OK);
    assert_int_equal(state_of(&t, "1001"), 1);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

static void packed(test_nursery *t)
{
    cw_error err;
    picking_make(t);
    wave_make(t);
    answer_all_open(t);
    assert_int_equal(pack(t, "1001", 3, NULL, 0, &err), CW_OK);
    assert_int_equal(pack(t, "1002", 3, NULL, 0, &err), CW_OK);
}

static void a_number_is_one_orders(void **state)
{
    test_nursery t;
    cw_error err;
    int64_t rest = 0;
    (void)state;
    packed(&t);
    assert_int_equal(ship_under(&t, "1001", "T-1 a", &rest, &err), CW_OK);
    assert_int_equal(ship_under(&t, "1002", "t-1A", &rest, &err), CW_CONFLICT);
    assert_string_equal(err.column, "tracking");
    assert_non_null(strstr(err.text, "order 1001"));
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM parcel WHERE state = 'shipped'"), 1);
    err = (cw_error)CW_ERROR_NONE;
    cw_packing_sent meant = { "by road", "T-1 a", true, t.who.today };
    cw_check_ok(cw_packing_ship(t.n, &t.who, parcel_of(&t, "1002"), &meant, &rest, &err), &err);
    test_nursery_free(&t);
}

static void how_a_parcel_left_is_put_right(void **state)
{
    static const struct {
        const char *name;
        cw_packing_sent sent;
        const char *why;
        cw_code code;
        const char *tracking; /* afterwards */
    } rows[] = {
        { "another order's number",
          { .tracking = "T-1", .on = CW_NO_DAY },
          "typed wrong",
          CW_CONFLICT,
          "T-2" },
        { "no reason", { .tracking = "T-3", .on = CW_NO_DAY }, "", CW_REFUSED, "T-2" },
        { "nothing", { .tracking = "T-2", .on = CW_NO_DAY }, "typed wrong", CW_REFUSED, "T-2" },
        { "not yet", { .on = 1000000 }, "typed wrong", CW_REFUSED, "T-2" },
        { "the number", { .tracking = "T-3", .on = CW_NO_DAY }, "typed wrong", CW_OK, "T-3" },
        { "the carrier alone", { .carrier = "the cart", .on = CW_NO_DAY }, "it went by cart", CW_OK, "T-3" },
        { "both under one", { .tracking = "T-1", .shared = true, .on = CW_NO_DAY }, "one box", CW_OK, "T-1" },
        { "no number", { .tracking = "", .on = CW_NO_DAY }, "fetched at the gate", CW_OK, "" },
    };
    test_nursery t;
    cw_error err;
    int64_t rest = 0;
    char sql[160];
    (void)state;
    packed(&t);
    assert_int_equal(ship_under(&t, "1001", "T-1", &rest, &err), CW_OK);
    assert_int_equal(cw_packing_correct(t.n, &t.who, parcel_of(&t, "1002"), &rows[4].sent, "why", &err),
                     CW_CONFLICT);
    assert_int_equal(ship_under(&t, "1002", "T-2", &rest, &err), CW_OK);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        print_message("%s\n", rows[i].name);
        err = (cw_error)CW_ERROR_NONE;
        assert_int_equal(
            cw_packing_correct(t.n, &t.who, parcel_of(&t, "1002"), &rows[i].sent, rows[i].why, &err),
            rows[i].code);
        test_nursery_check(&t);
        snprintf(sql, sizeof sql, "SELECT COALESCE(tracking, '') = '%s' FROM parcel WHERE id = %lld",
                 rows[i].tracking, (long long)parcel_of(&t, "1002"));
        assert_int_equal(number_of(&t, sql), 1);
    }
    assert_int_equal(number_of(&t,
                               "SELECT COUNT(*) FROM order_event WHERE kind = 'parcel put right' AND after = "
                               "'2032-02-01, by road, T-3 (was 2032-02-01, by road, T-2)'"),
                     1);
    assert_int_equal(number_of(&t,
                               "SELECT COUNT(*) FROM audit WHERE COALESCE(before, '') || COALESCE(after, '') "
                               "GLOB '*T-[0-9]*'"),
                     0); /* a number leads to a person, and the audit cannot be changed */
    assert_int_equal(number_of(&t,
                               "SELECT COUNT(*) FROM order_event WHERE kind = 'parcel put right' AND note IN "
                               "('typed wrong', 'it went by cart', 'one box', 'fetched at the gate')"),
                     4);
    cw_asker packer = t.who;
    packer.role = CW_ROLE_PACKER;
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(cw_packing_correct(t.n, &packer, parcel_of(&t, "1002"), &rows[4].sent, "why", &err),
                     CW_FORBIDDEN);
    test_nursery_free(&t);
}

static void a_parcel_that_did_not_leave(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    int64_t rest = 0, claim = 0;
    (void)state;
    packed(&t);
    assert_int_equal(cw_packing_unship(t.n, &t.who, parcel_of(&t, "1001"), "stood in the hall", &err),
                     CW_CONFLICT);
    assert_int_equal(ship_under(&t, "1001", "T-1", &rest, &err), CW_OK);
    assert_int_equal(state_of(&t, "1001"), 1);
    cw_check_ok(cw_packing_unship(t.n, &t.who, parcel_of(&t, "1001"), "stood in the hall", &err), &err);
    test_nursery_check(&t);
    assert_int_equal(state_of(&t, "1001"), 0);
    assert_int_equal(number_of(&t,
                               "SELECT COUNT(*) FROM parcel WHERE state = 'packed' AND tracking IS NULL AND "
                               "shipped_on IS NULL AND carrier IS NULL"),
                     2);
    assert_int_equal(ship_under(&t, "1002", "T-1", &rest, &err), CW_OK); /* the number is free again */
    assert_int_equal(ship_under(&t, "1001", "T-9", &rest, &err), CW_OK);
    assert_int_equal(state_of(&t, "1001"), 1);
    cw_claim_ask ask = { .order = "1001", .line = 1, .quantity = 1, .why = "soft" };
    cw_check_ok(cw_claims_add(t.n, &t.who, &ask, &claim, &err), &err);
    assert_int_equal(cw_packing_unship(t.n, &t.who, parcel_of(&t, "1001"), "stood in the hall", &err),
                     CW_CONFLICT);
    assert_non_null(strstr(err.text, "claimed"));
    assert_int_equal(number_of(&t, "SELECT COUNT(*) FROM audit WHERE action = 'parcel not left'"), 1);
    test_nursery_free(&t);
}

static void blocked_destinations_stop_every_step(void **state)
{
    test_nursery t;
    cw_error err;
    int64_t rest = 0;
    (void)state;
    picking_make(&t);
    wave_make(&t);
    answer_all_open(&t);
    assert_int_equal(pack(&t, "1004", 4, NULL, 0, &err), CW_OK); /* CA: only a warning */
    load_text(&t, "destinations.csv", "country,rule,note\nCA,block,closed since Monday\n");
    assert_int_equal(ship_off(&t, "1004", &rest, &err), CW_CONFLICT);
    assert_non_null(strstr(err.text, "closed since Monday"));
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_packing_unpack(t.n, &t.who, parcel_of(&t, "1004"), "closed", &err), &err);
    assert_int_equal(pack(&t, "1004", 4, NULL, 0, &err), CW_CONFLICT);
    load_text(&t, "destinations.csv", "country,rule,note\nCA,allow,\n");
    assert_int_equal(pack(&t, "1004", 4, NULL, 0, &err), CW_OK);
    assert_int_equal(ship_off(&t, "1004", &rest, &err), CW_OK);
    test_nursery_free(&t);
}

static void all_that_is_asked_is_looked_at(void **state)
{
    static const char *const label[] = { "L1", "L1", "L2" };
    static const struct {
        cw_packing_count count;
        cw_code code;
        const char *column, *said;
    } rows[] = {
        { { .count = 3, .weight_g = -1 }, CW_REFUSED, "weight_g", "must be 1 to 1000000 grams: -1" },
        { { .count = 3, .weight_g = 1000001 },
          CW_REFUSED,
          "weight_g",
          "must be 1 to 1000000 grams: 1000001" },
        { { .count = -1, .weight_g = 700 },
          CW_REFUSED,
          "count",
          "count the divisions, or scan their labels" },
        { { .count = 0, .weight_g = 700 },
          CW_CONFLICT,
          "count",
          "0 counted, 3 belong in the parcel of order 1001: 3 missing" },
        { { .count = 3, .weight_g = 1000000 }, CW_OK, "", "" },
        { { .count = -1, .labels = label, .label_count = 3 }, CW_OK, "", "" },
    };
    test_nursery t;
    cw_error err;
    int64_t rest = 0;
    (void)state;
    picking_make(&t);
    wave_make(&t);
    answer_all_open(&t);
    int64_t parcel = parcel_of(&t, "1001");
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        err = (cw_error)CW_ERROR_NONE;
        assert_int_equal(cw_packing_pack(t.n, &t.who, parcel, &rows[i].count, &err), rows[i].code);
        assert_string_equal(err.column, rows[i].column);
        assert_string_equal(err.text, rows[i].said);
        if (rows[i].code == CW_OK)
            cw_check_ok(cw_packing_unpack(t.n, &t.who, parcel, "again", &err), &err);
    }
    assert_int_equal(cw_packing_unpack(t.n, &t.who, parcel, "again", &err), CW_CONFLICT);
    assert_int_equal(pack(&t, "1001", 3, NULL, 0, &err), CW_OK);
    cw_packing_sent tomorrow = { .on = t.who.today + 1 };
    assert_int_equal(cw_packing_ship(t.n, &t.who, parcel, &tomorrow, &rest, &err), CW_REFUSED);
    assert_int_equal(ship_off(&t, "1001", &rest, &err), CW_OK);
    assert_int_equal(ship_off(&t, "1001", &rest, &err), CW_CONFLICT);
    assert_non_null(strstr(err.text, "gone already"));
    assert_int_equal(ship_off(&t, "1002", &rest, &err), CW_CONFLICT);
    assert_non_null(strstr(err.text, "not packed yet"));
    assert_int_equal(cw_packing_unship(t.n, &t.who, parcel, "", &err), CW_REFUSED);
    assert_int_equal(
        cw_packing_correct(t.n, &t.who, parcel, &(cw_packing_sent){ .on = CW_NO_DAY }, NULL, &err),
        CW_REFUSED);
    cw_asker cellar = t.who;
    cellar.role = CW_ROLE_CELLAR;
    assert_int_equal(cw_packing_pack(t.n, &cellar, parcel, &rows[4].count, &err), CW_FORBIDDEN);
    assert_int_equal(cw_packing_unpack(t.n, &cellar, parcel, "why", &err), CW_FORBIDDEN);
    assert_int_equal(cw_packing_ship(t.n, &cellar, parcel, &tomorrow, &rest, &err), CW_FORBIDDEN);
    assert_int_equal(cw_packing_unship(t.n, &cellar, parcel, "why", &err), CW_FORBIDDEN);
    test_nursery_free(&t);
}

/* A parcel is packed, opened, packed, sent, put right and back again: the audit tells who did what, the order why. */
static void each_step_is_on_record(void **state)
{
    test_nursery t;
    cw_error err;
    int64_t rest = 0, before;
    (void)state;
    picking_make(&t);
    wave_make(&t);
    answer_all_open(&t);
    int64_t parcel = parcel_of(&t, "1001");
    before = number_of(&t, "SELECT MAX(id) FROM audit");
    assert_int_equal(pack(&t, "1001", 3, NULL, 0, &err), CW_OK);
    cw_check_ok(cw_packing_unpack(t.n, &t.who, parcel, "a wet label", &err), &err);
    assert_int_equal(
        number_of(&t, "SELECT COUNT(*) FROM parcel WHERE weight_g IS NOT NULL OR packed_by NOT NULL"), 0);
    assert_int_equal(pack(&t, "1001", -1, (const char *const[]){ "L1", "L1", "L2" }, 3, &err), CW_OK);
    assert_int_equal(ship_off(&t, "1001", &rest, &err), CW_OK);
    cw_packing_sent other = { .tracking = "T-7", .on = t.who.today - 1 };
    cw_check_ok(cw_packing_correct(t.n, &t.who, parcel, &other, "typed wrong", &err), &err);
    cw_check_ok(cw_packing_unship(t.n, &t.who, parcel, "stood in the hall", &err), &err);
    char sql[200];
    snprintf(sql, sizeof sql,
             "SELECT actor, action, replace(subject, %lld, '#'), before, after FROM audit WHERE id > %lld",
             (long long)parcel, (long long)before);
    rows_are(&t, sql,
             "tester|pack|parcel #||order 1001, 3 divisions, by count\n"
             "tester|open parcel|parcel #|packed|\n"
             "tester|pack|parcel #||order 1001, 3 divisions, by scan\n"
             "tester|ship|parcel #|1001|3 divisions on 2032-02-01, by road, numbered\n"
             "tester|parcel put right|parcel #|2032-02-01, by road, numbered|2032-01-31, by road, numbered\n"
             "tester|parcel not left|parcel #|2032-01-31, by road, numbered|packed\n");
    rows_are(&t,
             "SELECT e.actor, e.kind, e.after, e.note FROM order_event e JOIN orders o ON o.id = e.order_id "
             "WHERE o.number = '1001' AND (e.kind LIKE '%parcel%' OR e.kind = 'shipped')",
             "tester|parcel opened||a wet label\n"
             "tester|shipped|3 divisions on 2032-02-01, by road, 1001|\n"
             "tester|parcel put right|2032-01-31, by road, T-7 (was 2032-02-01, by road, 1001)|typed wrong\n"
             "tester|parcel not left|packed (was 2032-01-31, by road, T-7)|stood in the hall\n");
    test_nursery_free(&t);
}

/* What `state` lists at the beginning of a week: a parcel that should have left, with something in it or to go in it, is late. */
static void listed(test_nursery *t, const char *state, int weeks, const char *want)
{
    static const char head[] =
        "id,wave,week,order,slot,state,customer,quantity,taken,open,weight_g,packed_at,packed_by,"
        "shipped_on,carrier,tracking,frost,unpaid,corrected,late_weeks,joined,slots,boxes,more_tracking\n";
    cw_error err = CW_ERROR_NONE;
    cw_table out;
    cw_asker later = t->who;
    later.today = cw_week_monday(WEEK) + 7 * weeks;
    cw_check_ok(cw_packing_list(t->n, &later, 0, state, &out, &err), &err);
    char all[2000];
    snprintf(all, sizeof all, "%s%s", head, want);
    csv_is(&out, all);
}

static void the_list_of_parcels(void **state)
{
    test_nursery t;
    cw_error err;
    char outcome[16];
    int64_t rest = 0;
    (void)state;
    picking_make(&t);
    wave_make(&t);
    listed(
        &t, "open", 1,
        "1,1,2032-W16,1004,1,open,Di,4,0,1,,,,,,,,no,no,1,,,1,\n2,1,2032-W16,1001,2,open,Ada,3,0,2,,,,,,,,no,"
        "no,1,,,1,\n"
        "3,1,2032-W16,1002,3,open,Bo,3,0,1,,,,,,,,no,no,1,,,1,\n");
    answer(&t, "Marta", "short", pick_of(&t, "1004", 1), 0, "missing", outcome);
    answer_all_open(&t);
    assert_int_equal(pack(&t, "1001", 3, NULL, 0, &err), CW_OK);
    assert_int_equal(pack(&t, "1002", 3, NULL, 0, &err), CW_OK);
    assert_int_equal(ship_off(&t, "1001", &rest, &err), CW_OK);
    listed(&t, "packed", 0,
           "3,1,2032-W16,1002,3,packed,Bo,3,3,0,700,2032-02-01T12:00:00Z,tester,,,,,no,no,0,,,1,\n");
    listed(&t, NULL, 3,
           "1,1,2032-W16,1004,1,open,Di,4,0,0,,,,,,,,no,no,0,,,1,\n"
           "2,1,2032-W16,1001,2,shipped,Ada,3,3,0,700,2032-02-01T12:00:00Z,tester,2032-02-01,by "
           "road,1001,,no,no,0,,,1,\n"
           "3,1,2032-W16,1002,3,packed,Bo,3,3,0,700,2032-02-01T12:00:00Z,tester,,,,,no,no,3,,,1,\n");
    /* Who packs reads the name on the slip alone; the office reads it here, too. */
    const cw_role roles[] = { CW_ROLE_PACKER, CW_ROLE_OFFICE };
    for (size_t i = 0; i < 2; i++) {
        t.who.role = roles[i];
        listed(
            &t, "packed", 0,
            i == 0
                ? "3,1,2032-W16,1002,3,packed,,3,3,0,700,2032-02-01T12:00:00Z,tester,,,,,no,no,0,,,1,\n"
                : "3,1,2032-W16,1002,3,packed,Bo,3,3,0,700,2032-02-01T12:00:00Z,tester,,,,,no,no,0,,,1,\n");
    }
    test_nursery_free(&t);
}

static void the_carrier_gets_the_columns_chosen(void **state)
{
    static const struct {
        const char *columns, *want; /* want NULL: refused */
    } rows[] = {
        { "order,customer,country,weight_kg", "order,customer,country,weight_kg\n1001,Ada,US,0.700\n" },
        { "slot, divisions , weight_g", "slot,divisions,weight_g\n2,3,700\n" },
        { "order,parcel,wave,week,slot,customer,email,postcode,country,region,zone,channel",
          "order,parcel,wave,week,slot,customer,email,postcode,country,region,zone,channel\n1001,2,1,2032-"
          "W16,2,Ada,,,US,,z7,\n" },
        { "zone,divisions,weight_g,weight_kg,carrier,tracking",
          "zone,divisions,weight_g,weight_kg,carrier,tracking\nz7,3,700,0.700,,\n" },
        { "order,customer,name2,email,phone,street,town", "order,customer,name2,email,phone,street,town\n"
                                                          "1001,Ada,,,,,\n" },
        { "order,colour", NULL },
        { " , ", NULL },
    };
    test_nursery t;
    cw_error err;
    (void)state;
    picking_make(&t);
    int64_t wave = wave_make(&t);
    answer_all_open(&t);
    assert_int_equal(pack(&t, "1001", 3, NULL, 0, &err), CW_OK);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_packing_file file;
        cw_text csv = CW_TEXT(4000);
        print_message("%s\n", rows[i].columns);
        err = (cw_error)CW_ERROR_NONE;
        cw_check_ok(cw_nursery_set(t.n, &t.who, "carrier_columns", rows[i].columns, &err), &err);
        cw_code code = cw_packing_carrier_file(t.n, &t.who, wave, &file, &err);
        assert_int_equal(code, rows[i].want ? CW_OK : CW_REFUSED);
        if (rows[i].want) {
            cw_check_ok(cw_table_csv(&file.table, cw_sink_text(&csv), &err), &err);
            assert_string_equal(csv.data, rows[i].want);
        } else {
            assert_string_equal(err.column, "carrier_columns");
        }
        cw_text_free(&csv);
        cw_packing_file_free(&file);
    }
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_counted_must_be_what_was_pulled),
        cmocka_unit_test(an_order_is_shipped_when_nothing_is_left),
        cmocka_unit_test(an_order_in_two_parcels),
        cmocka_unit_test(a_number_is_one_orders),
        cmocka_unit_test(how_a_parcel_left_is_put_right),
        cmocka_unit_test(a_parcel_that_did_not_leave),
        cmocka_unit_test(blocked_destinations_stop_every_step),
        cmocka_unit_test(all_that_is_asked_is_looked_at),
        cmocka_unit_test(each_step_is_on_record),
        cmocka_unit_test(the_list_of_parcels),
        cmocka_unit_test(the_carrier_gets_the_columns_chosen),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
