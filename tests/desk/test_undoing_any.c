/* SPDX-License-Identifier: MIT */
/* Runs are undone whole at any later moment and in any order, while the season goes on: new orders, changes by phone and by
 * file, stock-takes, promises taken back, waves pulled, packed and shipped, notices sent. Held against what each run was
 * seen to add when it was made:
 *
 *   - only the last run that stands can be undone; any other try changes nothing;
 *   - it is refused when what it added was taken back, is pulled or on a list, or was told of; then nothing is changed;
 *   - it is not refused when nothing has touched its promises since; then every promise, its reason and its run are as before;
 *   - whenever it is done, what the run added is gone, nothing else is, and as much stands as taken back, on record.
 *
 * After every step all of sql/checks.sql and the promises' laws hold. All data are invented; the seed is printed. */
#include "support/promises.h"
#include "support/rounds.h"

#include "desk/nursery/keeping.h"
#include "desk/orders/notices.h"
#include "desk/pack/packing.h"
#include "desk/pick/picking.h"
#include "desk/ship/shipping.h"

#include "base/banned.h"

#define HISTORIES TEST_ROUNDS(16)
#define STEPS     40
#define RUNS      64

typedef struct made {
    int64_t id;
    bool stands, substitutes;
    state before, after;
    char *before_text, *after_text;
} made;

typedef struct history {
    test_nursery t;
    cw_rng r;
    made run[RUNS];
    size_t runs;
    int orders;
    struct {
        int done, refused, other;
    } undone;
} history;

static bool chance(history *h, uint32_t one_in)
{
    return cw_rng_below(&h->r, one_in) == 0;
}

/* The first number of a query with two parameters. */
static int64_t ask(history *h, const char *sql, int64_t one, int64_t two)
{
    sqlite3 *raw = NULL;
    sqlite3_stmt *s = NULL;
    assert_int_equal(sqlite3_open_v2(h->t.path, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    if (sqlite3_prepare_v2(raw, sql, -1, &s, NULL) != SQLITE_OK)
        fail_msg("%s", sqlite3_errmsg(raw));
    sqlite3_bind_int64(s, 1, one);
    sqlite3_bind_int64(s, 2, two);
    int64_t v = sqlite3_step(s) == SQLITE_ROW ? sqlite3_column_int64(s, 0) : 0;
    sqlite3_finalize(s);
    sqlite3_close(raw);
    return v;
}

/* ---- What people do ---- */
static void a_run(history *h, bool substitutes)
{
    static const char *const rules[] = { "first-come", "pro-rata", "one-each-first" };
    cw_error err = CW_ERROR_NONE;
    if (h->runs == RUNS)
        return;
    made *m = &h->run[h->runs++];
    *m = (made){ .stands = true, .substitutes = substitutes, .before_text = all_promises(&h->t) };
    read_state(&h->t, &m->before);
    if (substitutes) {
        cw_substituting_done done;
        cw_check_ok(
            cw_substituting_commit(h->t.n, &h->t.who, &(cw_substituting_ask){ 0 }, NULL, &done, NULL, &err),
            &err);
        m->id = done.run;
    } else {
        cw_allotting_done done;
        char code[8];
        snprintf(code, sizeof code, "V%u", 1 + cw_rng_below(&h->r, VARIETIES));
        cw_allotting_ask how = { .rule = pick(&h->r, rules, 3),
                                 .variety = chance(h, 2) ? NULL : code,
                                 .tiers_first = chance(h, 2) };
        cw_check_ok(cw_allotting_commit(h->t.n, &h->t.who, &how, NULL, &done, NULL, &err), &err);
        m->id = done.run;
    }
    read_state(&h->t, &m->after);
    m->after_text = all_promises(&h->t);
}

/* What is pulled, or was told, may not be changed: that is no fault here. */
static void may_clash(cw_code code, const cw_error *err)
{
    if (code != CW_OK && code != CW_CONFLICT && code != CW_REFUSED)
        fail_msg("%d %s", (int)code, err->text);
}

static void somebody_rings(history *h)
{
    cw_error err = CW_ERROR_NONE;
    uint32_t what = cw_rng_below(&h->r, 3);
    test_nursery *t = &h->t;
    chosen c = choose(t, &h->r, what == 0);
    if (c.order[0] == '\0')
        return;
    if (what == 0)
        may_clash(cw_allotting_take_back(t->n, &t->who, c.order, c.line, c.code,
                                         1 + cw_rng_below(&h->r, (uint32_t)c.promised), "rang", &err),
                  &err);
    else if (what == 1)
        may_clash(cw_ordering_cancel(t->n, &t->who, c.order, chance(h, 2) ? c.line : 0, "rang", &err), &err);
    else
        may_clash(
            cw_ordering_change(t->n, &t->who, c.order, c.line, 1 + cw_rng_below(&h->r, 8), "rang", &err),
            &err);
}

/* A file that wants a line otherwise: another variety, quantity, price or consent. */
static void a_file_changes_a_line(history *h)
{
    static const char *const consents[] = { "none", "same", "any" };
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { NULL, 0, 0 };
    cw_table answer = { 0 };
    char text[400], number[8], at[25];
    chosen c = choose(&h->t, &h->r, false);
    if (c.order[0] == '\0')
        return;
    cw_copy(number, sizeof number, c.order);
    char sql[200];
    snprintf(sql, sizeof sql, "SELECT received_at FROM orders WHERE number = '%s'", number);
    int64_t received = number_of(&h->t, sql);
    cw_instant_format(received, at);
    snprintf(text, sizeof text,
             "order,received_at,line,variety,quantity,unit_price,consent\n%s,%s,%d,V%u,%u,%u.00,%s\n", number,
             at, c.line, 1 + cw_rng_below(&h->r, VARIETIES), 1 + cw_rng_below(&h->r, 6),
             4 + cw_rng_below(&h->r, 4), pick(&h->r, consents, 3));
    cw_intake_file file = { .name = "orders.csv", .bytes = text, .length = strlen(text) };
    may_clash(cw_intake_load(h->t.n, &h->t.who, &file, 1, &(cw_intake_options){ .changes = true }, &answer,
                             &errors, &err),
              &err);
    cw_table_free(&answer);
    cw_error_list_free(&errors);
}

static void answer_some(history *h)
{
    for (int64_t id = 0;
         (id = ask(h, "SELECT MIN(id) FROM pick WHERE state = 'open' AND id > ?1", id, 0)) > 0;) {
        cw_error err = CW_ERROR_NONE;
        cw_table out = { 0 };
        char key[24];
        int64_t all = ask(h, "SELECT quantity FROM pick WHERE id = ?1", id, 0);
        bool short_ = chance(h, 5);
        snprintf(key, sizeof key, "k%lld-%u", (long long)id, cw_rng_below(&h->r, 1000000));
        if (chance(h, 3))
            continue;
        cw_picking_answer a = { key,  id,   short_ ? all - 1 : all, short_ ? "missing" : NULL, CW_NO_INSTANT,
                                NULL, false };
        cw_check_ok(cw_picking_answer_all(h->t.n, &h->t.who, &a, 1, &out, &err), &err);
        cw_table_free(&out);
    }
}

static void pack_some(history *h)
{
    for (int64_t id = 0;
         (id = ask(h, "SELECT MIN(id) FROM parcel WHERE state = 'open' AND id > ?1", id, 0)) > 0;) {
        cw_error err = CW_ERROR_NONE;
        int64_t rest = 0;
        cw_packing_count count = { .weight_g = 500 };
        count.count = ask(h, "SELECT COALESCE(SUM(taken), 0) FROM pick WHERE parcel_id = ?1", id, 0);
        cw_code code = chance(h, 2) ? CW_CONFLICT : cw_packing_pack(h->t.n, &h->t.who, id, &count, &err);
        may_clash(code, &err);
        if (code == CW_OK && chance(h, 2)) {
            code = cw_packing_ship(h->t.n, &h->t.who, id, &(cw_packing_sent){ .on = h->t.who.today }, &rest,
                                   &err);
            may_clash(code, &err);
        }
    }
}

static void a_wave(history *h)
{
    cw_error err = CW_ERROR_NONE, no = CW_ERROR_NONE;
    cw_table out = { 0 }, notes = { 0 };
    int64_t wave = 0;
    cw_check_ok(cw_shipping_schedule(h->t.n, &h->t.who, true, &out, &err), &err);
    cw_table_free(&out);
    cw_picking_ask how = { .week = (cw_week)ask(
                               h, "SELECT MIN(ship_week) FROM orders WHERE state = 'open' AND id % 3 = ?1",
                               cw_rng_below(&h->r, 3), 0) };
    if (how.week > 0)
        may_clash(cw_picking_make(h->t.n, &h->t.who, &how, &wave, &notes, &no), &no);
    cw_table_free(&notes);
    if (chance(h, 2))
        answer_some(h);
    if (chance(h, 3))
        pack_some(h);
}

static void a_pick_is_taken_back(history *h)
{
    cw_error err = CW_ERROR_NONE;
    int64_t id = ask(h, "SELECT id FROM pick WHERE state = 'done' ORDER BY (id * 7919 + ?1) % 101 LIMIT 1",
                     cw_rng_below(&h->r, 101), 0);
    if (id > 0)
        may_clash(cw_picking_undo(h->t.n, &h->t.who, id, "wrong crate", &err), &err);
}

static void buyers_are_told(history *h)
{
    cw_error err = CW_ERROR_NONE;
    cw_notices_made made_;
    cw_check_ok(cw_notices_make(h->t.n, &h->t.who, &made_, &err), &err);
    int64_t id = ask(h, "SELECT id FROM notice WHERE state = 'due' ORDER BY (id * 7919 + ?1) % 101 LIMIT 1",
                     cw_rng_below(&h->r, 101), 0);
    if (id > 0 && chance(h, 2))
        cw_check_ok(cw_notices_sent(h->t.n, &h->t.who, id, "by post", &err), &err);
}

static void a_stock_take(history *h)
{
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { NULL, 0, 0 };
    cw_table answer = { 0 };
    char text[128];
    snprintf(text, sizeof text, "lot,counted_on,stage,count\nL%u,2032-02-01,division,%u\n",
             1 + cw_rng_below(&h->r, VARIETIES), cw_rng_below(&h->r, 25));
    cw_intake_file file = { .name = "counts.csv", .bytes = text, .length = strlen(text) };
    may_clash(cw_intake_load(h->t.n, &h->t.who, &file, 1, &(cw_intake_options){ 0 }, &answer, &errors, &err),
              &err);
    cw_table_free(&answer);
    cw_error_list_free(&errors);
}

/* ---- Undoing, and what may come of it ---- */
typedef struct verdict {
    bool must, must_not;
} verdict;

static verdict judge(history *h, const made *m, const state *now, const char *now_text)
{
    verdict w = { .must = strcmp(now_text, m->after_text) == 0 };
    for (int l = 0; l < LINES; l++)
        for (int v = 0; v < VARIETIES; v++) {
            int64_t before = m->before.promise[l][v], after = m->after.promise[l][v];
            if (after == before)
                continue;
            bool pulled = ask(h,
                              "SELECT SUM(CASE state WHEN 'done' THEN taken ELSE quantity END) FROM pick "
                              "WHERE line_id = ?1 AND variety_id = ?2",
                              l, v + 1) > before;
            bool told = ask(h,
                            "SELECT COUNT(*) FROM notice WHERE state = 'sent' AND line_id = ?1 AND done_at "
                            ">= (SELECT at "
                            "FROM run WHERE id = ?2) AND kind IN ('short', 'substitute', 'refund')",
                            l, m->id) > 0;
            /* What a run of substitution promised of the own variety, to let an order leave whole, it does not count. */
            bool own = ask(h, "SELECT COUNT(*) FROM line WHERE id = ?1 AND variety_id = ?2", l, v + 1) > 0;
            bool less = now->promise[l][v] < after;
            w.must_not = w.must_not || pulled || told || (less && !(own && m->substitutes)) ||
                         now->promise[l][v] < before;
            w.must = w.must && !pulled && !told;
        }
    /* A line that it served not, and of which a buyer was told: either. */
    w.must = w.must && number_of(&h->t, "SELECT COUNT(*) FROM notice WHERE state = 'sent'") == 0;
    return w;
}

static void check_done(history *h, const made *m, const state *now, const char *now_text, int64_t taken_back)
{
    static state is;
    int64_t less = 0;
    char *text = all_promises(&h->t);
    read_state(&h->t, &is);
    for (int l = 0; l < LINES; l++)
        for (int v = 0; v < VARIETIES; v++) {
            bool added = m->after.promise[l][v] != m->before.promise[l][v];
            int64_t want = added ? m->before.promise[l][v] : now->promise[l][v];
            if (is.promise[l][v] != want)
                fail_msg("line %d variety %d: %lld promised after undoing run %lld, not %lld", l, v + 1,
                         (long long)is.promise[l][v], (long long)m->id, (long long)want);
            less += now->promise[l][v] - is.promise[l][v];
        }
    if (strcmp(now_text, m->after_text) == 0)
        assert_string_equal(text, m->before_text);
    assert_int_equal(number_of(&h->t, "SELECT COALESCE(SUM(quantity), 0) FROM taken_back") - taken_back,
                     less);
    free(text);
}

static void undo_one(history *h)
{
    static state now;
    cw_error err = CW_ERROR_NONE;
    cw_allotting_undone done;
    made *top = NULL;
    for (size_t i = 0; i < h->runs; i++)
        if (h->run[i].stands)
            top = &h->run[i];
    int64_t run = top && !chance(h, 3) ? top->id : 1 + cw_rng_below(&h->r, (uint32_t)h->runs + 1);
    char *text = all_promises(&h->t);
    read_state(&h->t, &now);
    int64_t taken_back = number_of(&h->t, "SELECT COALESCE(SUM(quantity), 0) FROM taken_back");
    int64_t said = number_of(&h->t, "SELECT COUNT(*) FROM audit WHERE action = 'undo run'");
    int64_t rows = number_of(&h->t, "SELECT COUNT(*) FROM audit");
    verdict w = { false, true };
    if (top && run == top->id)
        w = judge(h, top, &now, text);
    cw_code code = cw_allotting_undo(h->t.n, &h->t.who, run, "the wrong rule", &done, &err);
    if ((code == CW_OK && w.must_not) || (code != CW_OK && w.must))
        fail_msg("undoing run %lld: %d %s", (long long)run, (int)code, err.text);
    if (code == CW_OK) {
        check_done(h, top, &now, text, taken_back);
        assert_int_equal(number_of(&h->t, "SELECT COUNT(*) FROM audit WHERE action = 'undo run'"), said + 1);
        top->stands = false;
        h->undone.done++;
    } else {
        char *still = all_promises(&h->t);
        assert_true(code == CW_CONFLICT || code == CW_NOT_FOUND);
        assert_string_equal(still, text);
        assert_int_equal(number_of(&h->t, "SELECT COALESCE(SUM(quantity), 0) FROM taken_back"), taken_back);
        assert_int_equal(number_of(&h->t, "SELECT COUNT(*) FROM audit"), rows);
        h->undone.refused += top && run == top->id;
        h->undone.other += !top || run != top->id;
        free(still);
    }
    free(text);
}

static void new_orders(history *h)
{
    add_orders(&h->t, &h->r, h->orders, 2);
    h->orders += 2;
}

static void step(history *h, uint32_t what, const char **name)
{
    static const struct {
        const char *name;
        void (*act)(history *h);
        uint32_t until;
    } acts[] = {
        { "ringing", somebody_rings, 4 },  { "a file", a_file_changes_a_line, 6 },
        { "a wave", a_wave, 7 },           { "a pick taken back", a_pick_is_taken_back, 8 },
        { "notices", buyers_are_told, 9 }, { "a stock-take", a_stock_take, 11 },
        { "new orders", new_orders, 12 },  { "undoing", undo_one, 18 },
    };
    *name = what < 21 ? "a run" : "substitutes";
    for (size_t i = 0; i < sizeof acts / sizeof acts[0]; i++)
        if (what < acts[i].until) {
            *name = acts[i].name;
            acts[i].act(h);
            return;
        }
    a_run(h, what >= 21);
}

static void check_record(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    char last[65];
    cw_check_ok(cw_keeping_check(t->n, &out, last, &err), &err); /* file, records, and the audit's chain */
    assert_int_equal(cw_table_rows(&out), 0);
    cw_table_free(&out);
}

static void one_history(uint64_t seed, int number, history *h)
{
    int done = h->undone.done, refused = h->undone.refused, other = h->undone.other;
    memset(h, 0, sizeof *h);
    h->undone.done = done;
    h->undone.refused = refused;
    h->undone.other = other;
    cw_rng_init(&h->r, seed, (uint64_t)number);
    test_nursery_make(&h->t);
    make_varieties(&h->t, &h->r);
    h->orders = 1;
    add_orders(&h->t, &h->r, h->orders, 8);
    h->orders += 8;
    for (int i = 0; i < STEPS; i++) {
        const char *name = "";
        h->t.who.now += 60000;
        step(h, i < 4 ? 10 : cw_rng_below(&h->r, 24), &name); /* some stock first */
        check_laws(&h->t, name);
    }
    for (size_t i = 0; i < h->runs; i++) {
        free(h->run[i].before_text);
        free(h->run[i].after_text);
    }
    check_record(&h->t);
    test_nursery_free(&h->t);
}

static void runs_are_undone_in_any_season(void **unused)
{
    const char *more = getenv("CW_HISTORIES");
    uint64_t seed = test_seed();
    int64_t histories = HISTORIES;
    history *h = calloc(1, sizeof *h);
    (void)unused;
    assert_non_null(h);
    if (more)
        assert_true(cw_parse_int(more, strlen(more), 1, 100000, &histories));
    for (int i = 0; i < (int)histories; i++)
        one_history(seed, i, h);
    print_message("undone %d, refused %d, another run %d\n", h->undone.done, h->undone.refused,
                  h->undone.other);
    assert_true(h->undone.done >= histories / 2 && h->undone.refused > 0 && h->undone.other > 0);
    free(h);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(runs_are_undone_in_any_season) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
