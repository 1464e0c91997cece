/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_INTAKE_H
#define CW_TESTS_SUPPORT_INTAKE_H

/* A small nursery as CSV texts, and loading of texts, for the tests of intake. Inline, as in support/nursery.h. */
#include "base/text.h"
#include "desk/intake/intake.h"
#include "store/ledger.h"
#include "columns/intake.h"
#include "store/statement_inside.h"
#include "support/nursery.h"

/* Invented data: a small nursery that every case starts from. */
static const char varieties[] __attribute__((unused)) = "code,name,form,size,colour,price,hold_back,reserve\n"
                                                        "AMB,Amber Lantern,ball,small,orange,6.50,5,2\n"
                                                        "BRI,Briar Song,cactus,large,pink,8,0,0\n"
                                                        "CIN,Cinder,ball,medium,red,7.25,,\n";
static const char places[] __attribute__((unused)) =
    "place,room,walk_order\nA1,north,10\nA2,north,20\nB1,south,30\n";
static const char lots[] __attribute__((unused)) = "lot,variety,dug_on,clumps,row,culled,place\n"
                                                   "L1,AMB,2031-10-20,40,r1,2,A1\n"
                                                   "L2,BRI,2031-10-21,30,r2,0,A2\n"
                                                   "L3,AMB,2031-10-22,0,,,\n";
static const char divisions[] __attribute__((unused)) = "lot,divided_on,clumps,saleable,blind,rotten,place\n"
                                                        "L1,2031-12-05,10,44,7,1,B1\n"
                                                        "L2,2031-12-06,5,21,3,0,\n";
static const char checks[] __attribute__((unused)) = "lot,checked_on,stage,inspected,rotten,shrivelled\n"
                                                     "L1,2031-11-20,clump,40,2,\n"
                                                     "L1,2032-01-10,division,44,3,1\n";
static const char counts[] __attribute__((unused)) = "lot,counted_on,stage,count,place\n"
                                                     "L3,2032-01-15,division,12,\n"
                                                     "L1,2032-01-16,division,39,B1\n"
                                                     "L2,2032-01-16,clump,26,A2\n";
static const char orders[] __attribute__((unused)) =
    "order,received_at,line,variety,quantity,unit_price,tier,customer,country,consent,named,assortment\n"
    "1001,2032-01-20T10:00:00Z,1,AMB,3,6.50,retail,Ada,US,same,,\n"
    "1001,2032-01-20T10:00:00Z,2,BRI,2,8.00,retail,Ada,US,named,AMB CIN,\n"
    "1002,2032-01-21T11:30:00-06:00,1,,6,5.00,wholesale,Bo,US,,,colour=pink form=ball\n";

static inline cw_intake_file file(const char *name, const char *text)
{
    return (cw_intake_file){ .name = name, .bytes = text, .length = strlen(text) };
}

typedef struct loaded {
    cw_code code;
    char first[1600];
    long errors;
    int64_t made, changed, unchanged;
    char note[200];
} loaded;

static inline loaded load_with(test_nursery *t, const cw_intake_file *files, size_t count,
                               cw_intake_options o)
{
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { NULL, 0, 0 };
    cw_table answer;
    loaded l = { .note = "" };
    l.code = cw_intake_load(t->n, &t->who, files, count, &o, &answer, &errors, &err);
    cw_error_line(&err, l.first, sizeof l.first);
    l.errors = errors.count;
    for (size_t r = 0; r < cw_table_rows(&answer); r++) {
        l.made += cw_table_int(&answer, r, 3);
        l.changed += cw_table_int(&answer, r, 4);
        l.unchanged += cw_table_int(&answer, r, 5);
        cw_copy(l.note, sizeof l.note, cw_table_text(&answer, r, 6));
    }
    cw_table_free(&answer);
    cw_error_list_free(&errors);
    test_nursery_check(t);
    return l;
}

static inline loaded load_one(test_nursery *t, const char *name, const char *text)
{
    cw_intake_file f = file(name, text);
    return load_with(t, &f, 1, (cw_intake_options){ 0 });
}

/* All files in one call, in an order that is not the one in which they need each other. */
static inline loaded load_all(test_nursery *t)
{
    cw_intake_file files[] = { file("orders.csv", orders),       file("counts.csv", counts),
                               file("checks.csv", checks),       file("lots.csv", lots),
                               file("divisions.csv", divisions), file("places.csv", places),
                               file("varieties.csv", varieties) };
    return load_with(t, files, sizeof files / sizeof files[0], (cw_intake_options){ 0 });
}

/* What a grid changed: a list of {was, now}. `first` is "row: column: sentence" of what is told first. */
static inline loaded mend(test_nursery *t, const char *kind, const char *text)
{
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { NULL, 0, 0 };
    cw_table answer = { 0 };
    json_error_t bad;
    json_t *rows = json_loads(text, 0, &bad);
    loaded l = { .note = "" };
    if (rows == NULL)
        fail_msg("%s: %s", bad.text, text);
    l.code = cw_intake_mend(t->n, &t->who, kind, rows, &answer, &errors, &err);
    int place = err.row ? snprintf(l.first, sizeof l.first, "%ld: ", err.row) : 0;
    err.row = 0;
    cw_error_line(&err, l.first + place, sizeof l.first - (size_t)place);
    l.errors = errors.count;
    if (cw_table_rows(&answer) > 0 && !answer.cells[1].null)
        cw_copy(l.note, sizeof l.note, cw_table_text(&answer, 0, 1));
    json_decref(rows);
    cw_table_free(&answer);
    cw_error_list_free(&errors);
    test_nursery_check(t);
    return l;
}

static inline void mend_ok(test_nursery *t, const char *kind, const char *text)
{
    loaded l = mend(t, kind, text);
    if (l.code != CW_OK)
        fail_msg("%s", l.first);
}

static inline void ok(loaded l)
{
    if (l.code != CW_OK)
        fail_msg("%s", l.first);
}

static inline cw_on_hand on_hand(test_nursery *t, const char *lot)
{
    cw_error err = CW_ERROR_NONE;
    cw_on_hand s;
    bool found = false;
    cw_stmt *q = cw_db_stmt(t->n->db, "intake.lot");
    cw_check_ok(cw_stmt_one(q, &found, &err, "t", lot), &err);
    assert_true(found);
    int64_t id = cw_col_int(q, intake_lot_id);
    cw_check_ok(cw_stmt_end(q, &err), &err);
    cw_check_ok(cw_ledger_lot(t->n->db, id, &s, &err), &err);
    return s;
}

/* Taken in without a word against it. */
static inline void must_load(test_nursery *t, const char *name, const char *text)
{
    loaded l = load_one(t, name, text);
    assert_string_equal(l.first, "");
    assert_int_equal(l.code, CW_OK);
}

#endif
