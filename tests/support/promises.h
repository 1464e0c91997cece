/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_PROMISES_H
#define CW_TESTS_SUPPORT_PROMISES_H

/* A random order desk, the laws that its promises keep, and all of them at a moment. All data are invented. */
#include "support/order_desk.h"

#include "base/rng.h"

#define VARIETIES 7
#define LINES     512

/* Laws that hold after every step. Each query gives a row when one is broken. */
static const struct {
    const char *law, *sql;
} laws[] = {
    { "`same` is the same form or colour, and no cheaper",
      "SELECT 1 FROM allocation a JOIN line l ON l.id = a.line_id JOIN variety s ON s.id = a.variety_id "
      "JOIN variety w ON w.id = l.variety_id WHERE a.kind = 'substitute' AND a.quantity > 0 AND l.consent = "
      "'same' "
      "AND NOT ((s.form = w.form OR s.colour = w.colour) AND s.price >= l.unit_price)" },
    { "`any` is no cheaper",
      "SELECT 1 FROM allocation a JOIN line l ON l.id = a.line_id JOIN variety s ON s.id = a.variety_id "
      "WHERE a.kind = 'substitute' AND a.quantity > 0 AND l.consent = 'any' AND s.price < l.unit_price" },
    { "`named` is on the buyer's list",
      "SELECT 1 FROM allocation a JOIN line l ON l.id = a.line_id JOIN variety s ON s.id = a.variety_id "
      "WHERE a.kind = 'substitute' AND a.quantity > 0 AND l.consent = 'named' "
      "AND instr(' ' || l.named || ' ', ' ' || s.code || ' ') = 0" },
    { "a substitute variety goes to one order at most as often as its limit says",
      "SELECT 1 FROM allocation a JOIN line l ON l.id = a.line_id JOIN variety s ON s.id = a.variety_id "
      "WHERE a.kind <> 'own' AND s.limit_per_order IS NOT NULL GROUP BY l.order_id, s.id "
      "HAVING SUM(a.quantity) > s.limit_per_order" },
    { "all or nothing is all or nothing",
      "SELECT 1 FROM allocation a JOIN line l ON l.id = a.line_id WHERE l.all_or_none = 1 GROUP BY l.id "
      "HAVING SUM(a.quantity) NOT IN (0, l.quantity)" },
    { "an order that leaves complete or not at all is promised its named lines wholly or not at all",
      "SELECT 1 FROM line l JOIN orders o ON o.id = l.order_id "
      "LEFT JOIN (SELECT line_id, SUM(quantity) AS q FROM allocation GROUP BY line_id) a ON a.line_id = l.id "
      "WHERE o.ship_complete = 1 AND o.state = 'open' AND l.variety_id IS NOT NULL GROUP BY o.id "
      "HAVING SUM(COALESCE(a.q, 0)) NOT IN (0, SUM(l.quantity))" },
    { "nothing is promised to orders that were cancelled",
      "SELECT 1 FROM allocation a JOIN line l ON l.id = a.line_id JOIN orders o ON o.id = l.order_id "
      "WHERE o.state = 'cancelled' AND a.quantity > 0" },
};

static inline void check_laws(test_nursery *t, const char *after)
{
    test_nursery_check(t);
    for (size_t i = 0; i < sizeof laws / sizeof laws[0]; i++)
        if (number_of(t, laws[i].sql) != INT64_MIN)
            fail_msg("after %s: broken: %s", after, laws[i].law);
}

/* Promises of all lines and varieties, and what is free of each variety. */
typedef struct state {
    int64_t lines;
    int64_t promise[LINES][VARIETIES];
    int64_t free[VARIETIES];
} state;

static inline void read_state(test_nursery *t, state *s)
{
    sqlite3 *raw = NULL;
    sqlite3_stmt *q = NULL;
    memset(s, 0, sizeof *s);
    assert_int_equal(sqlite3_open_v2(t->path, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(
        sqlite3_prepare_v2(raw, "SELECT line_id, variety_id, quantity FROM allocation", -1, &q, NULL),
        SQLITE_OK);
    while (sqlite3_step(q) == SQLITE_ROW) {
        int64_t line = sqlite3_column_int64(q, 0), variety = sqlite3_column_int64(q, 1);
        assert_true(line < LINES && variety <= VARIETIES);
        s->promise[line][variety - 1] = sqlite3_column_int64(q, 2);
    }
    sqlite3_finalize(q);
    assert_int_equal(
        sqlite3_prepare_v2(
            raw,
            "SELECT v.id, COALESCE((SELECT SUM(b.divisions) FROM balance b JOIN lot l ON l.id = b.lot_id "
            "WHERE l.variety_id = v.id), 0) - v.hold_back - v.reserve "
            "- COALESCE((SELECT SUM(a.quantity) FROM allocation a WHERE a.variety_id = v.id), 0) FROM "
            "variety v",
            -1, &q, NULL),
        SQLITE_OK);
    while (sqlite3_step(q) == SQLITE_ROW)
        s->free[sqlite3_column_int64(q, 0) - 1] = sqlite3_column_int64(q, 1);
    sqlite3_finalize(q);
    sqlite3_close(raw);
}

static inline const char *pick(cw_rng *r, const char *const *words, uint32_t n)
{
    return words[cw_rng_below(r, n)];
}

static inline void make_varieties(test_nursery *t, cw_rng *r)
{
    static const char *const forms[] = { "ball", "cactus", "pompon" }, *const colours[] = { "red", "pink",
                                                                                            "white" };
    static const char *const sizes[] = { "small", "medium", "large" };
    cw_text text = CW_TEXT(64 * 1024), lots = CW_TEXT(64 * 1024);
    cw_text_add(&text, "code,name,form,size,colour,price,hold_back,reserve,limit_per_order\n");
    cw_text_add(&lots, "lot,variety,dug_on,clumps\n");
    for (int v = 1; v <= VARIETIES; v++) {
        cw_text_addf(&text, "V%d,Variety %d,%s,%s,%s,%u.50,%u,%u,%s\n", v, v, pick(r, forms, 3),
                     pick(r, sizes, 3), pick(r, colours, 3), 5 + cw_rng_below(r, 4), cw_rng_below(r, 3),
                     cw_rng_below(r, 2), cw_rng_below(r, 3) ? "" : "2");
        cw_text_addf(&lots, "L%d,V%d,2031-10-20,0\n", v, v);
    }
    load_text(t, "varieties.csv", text.data);
    load_text(t, "lots.csv", lots.data);
    cw_text_free(&text);
    cw_text_free(&lots);
}

static inline void add_orders(test_nursery *t, cw_rng *r, int first, int count)
{
    static const char *const tiers[] = { "retail", "wholesale", "club", "" };
    static const char *const consents[] = { "none", "same", "any", "named" };
    static const char *const classes[] = { "colour=red", "form=ball", "colour=pink form=cactus",
                                           "size=small" };
    cw_text text = CW_TEXT(256 * 1024);
    cw_text_add(&text, "order,received_at,line,variety,quantity,unit_price,tier,consent,named,assortment,all_"
                       "or_none,ship_complete\n");
    for (int o = first; o < first + count; o++) {
        const char *tier = pick(r, tiers, 4);
        uint32_t lines = 1 + cw_rng_below(r, 4), day = 1 + cw_rng_below(r, 9),
                 complete = cw_rng_below(r, 6) == 0;
        for (uint32_t l = 1; l <= lines; l++) {
            bool assortment = cw_rng_below(r, 7) == 0;
            const char *consent = assortment ? "" : pick(r, consents, 4);
            bool named = strcmp(consent, "named") == 0;
            uint32_t a = 1 + cw_rng_below(r, VARIETIES), b = 1 + cw_rng_below(r, VARIETIES - 1);
            uint32_t first_named = 1 + a % VARIETIES, second = 1 + (a + b) % VARIETIES;
            cw_text_addf(&text, "R%03d,2032-01-0%uT10:00:00Z,%u,", o, day, l);
            if (!assortment)
                cw_text_addf(&text, "V%u", a);
            cw_text_addf(&text, ",%u,%u.00,%s,%s,", 1 + cw_rng_below(r, 6), 4 + cw_rng_below(r, 4), tier,
                         consent);
            if (named && second != first_named && second != a)
                cw_text_addf(&text, "V%u V%u", first_named, second);
            else if (named)
                cw_text_addf(&text, "V%u", first_named);
            cw_text_addf(&text, ",%s,%d,%u\n", assortment ? pick(r, classes, 4) : "", cw_rng_below(r, 5) == 0,
                         complete);
        }
    }
    load_text(t, "orders.csv", text.data);
    cw_text_free(&text);
}

/* All promises with their runs and reasons, as text. */
static inline char *all_promises(test_nursery *t)
{
    sqlite3 *raw = NULL;
    sqlite3_stmt *q = NULL;
    assert_int_equal(sqlite3_open_v2(t->path, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(
        sqlite3_prepare_v2(
            raw,
            "SELECT COALESCE(group_concat(row, char(10)), '') FROM (SELECT line_id || ' ' || "
            "variety_id || ' ' || quantity || kind || run_id || ' ' || reason || ' ' || n1 || ' ' || "
            "n2 || ' ' || n3 || ' ' || n4 AS row FROM allocation ORDER BY line_id, variety_id)",
            -1, &q, NULL),
        SQLITE_OK);
    assert_int_equal(sqlite3_step(q), SQLITE_ROW);
    char *text = strdup((const char *)sqlite3_column_text(q, 0));
    sqlite3_finalize(q);
    sqlite3_close(raw);
    assert_non_null(text);
    return text;
}

/* A random line of an order that does not have to stay whole; order "" when there is none. */
typedef struct chosen {
    char order[8], code[8];
    int line;
    int64_t quantity, promised;
} chosen;

static inline chosen choose(test_nursery *t, cw_rng *r, bool with_promise)
{
    chosen c = { .order = "" };
    sqlite3 *raw = NULL;
    sqlite3_stmt *q = NULL;
    assert_int_equal(sqlite3_open_v2(t->path, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(
        sqlite3_prepare_v2(
            raw,
            "SELECT o.number, l.line, l.quantity, COALESCE(a.quantity, 0), COALESCE(v.code, '') FROM line l "
            "JOIN orders o ON o.id = l.order_id LEFT JOIN allocation a ON a.line_id = l.id AND a.quantity > "
            "0 "
            "LEFT JOIN variety v ON v.id = a.variety_id WHERE o.state = 'open' AND o.ship_complete = 0 "
            "AND l.all_or_none = 0 AND l.quantity > 0 AND (?1 = 0 OR a.quantity > 0) "
            "ORDER BY (l.id * 7919 + ?2) % 101, l.id, a.variety_id LIMIT 1",
            -1, &q, NULL),
        SQLITE_OK);
    sqlite3_bind_int(q, 1, with_promise);
    sqlite3_bind_int64(q, 2, cw_rng_below(r, 101));
    if (sqlite3_step(q) == SQLITE_ROW) {
        cw_copy(c.order, sizeof c.order, (const char *)sqlite3_column_text(q, 0));
        c.line = sqlite3_column_int(q, 1);
        c.quantity = sqlite3_column_int64(q, 2);
        c.promised = sqlite3_column_int64(q, 3);
        cw_copy(c.code, sizeof c.code, (const char *)sqlite3_column_text(q, 4));
    }
    sqlite3_finalize(q);
    sqlite3_close(raw);
    return c;
}

#endif
