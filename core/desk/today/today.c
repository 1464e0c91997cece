/* SPDX-License-Identifier: MIT */
#include "desk/today/today.h"

#include "base/day.h"
#include "base/limits.h"
#include "base/text.h"
#include "desk/nursery/nursery_inside.h"
#include "desk/nursery/roles_inside.h"
#include "desk/offer/offering.h"
#include "desk/share/allotting.h"
#include "store/rows.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

typedef enum item_id {
#define ITEM(what, desk, urgent, about) IT_##what,
#include "desk/today/today.def"
#undef ITEM
    ITEMS
} item_id;

#define WINTER "winter"
#define ORDERS "orders"
#define CELLAR "cellar"

static const struct {
    const char *what, *desk;
    bool urgent;
} items[ITEMS] = {
#define ITEM(what, desk, urgent, about) { #what, #desk, urgent },
#include "desk/today/today.def"
#undef ITEM
};

typedef struct found {
    int64_t n, money; /* money -1: none */
    char about[CW_MAX_CODE + 1];
    cw_day day; /* CW_NO_DAY: none */
} found;

static const char words[] = /* with a bar before the first */
#define ITEM(what, desk, urgent, about) "|" #what
#include "desk/today/today.def"
#undef ITEM
    ;

static const cw_column list_columns[] = {
    { "what", CW_TEXT_T, .words = words + 1 },
    { "urgent", CW_BOOL_T, .says = "Each day that it waits costs a buyer, or stock." },
    { "n", CW_INT_T },
    { "about", CW_TEXT_T, .null = true, .says = "The worst of them: a variety, lot, order or wave." },
    { "money", CW_MONEY_T, .null = true },
    { "day", CW_DAY_T, .null = true },
};
const cw_shape cw_today_list_shape = CW_ROWS(list_columns);

/* What is counted in the file alone. */
static cw_code count_in_file(cw_nursery *n, const cw_asker *who, const char *desk, found list[ITEMS],
                             cw_error *err)
{
    static const cw_column columns[] = {
        { "what", CW_TEXT_T },
        { "n", CW_INT_T },
        { "about", CW_TEXT_T, .null = true },
        { "money", CW_MONEY_T, .null = true },
        { "day", CW_DAY_T, .null = true },
    };
    char name[32];
    cw_table t;
    cw_table_init(&t, columns, CW_WIDTH(columns));
    snprintf(name, sizeof name, "today.%s", desk);
    cw_code code =
        cw_rows_fill(n->db, name, &t, err, "ii", (int64_t)who->today, (int64_t)cw_week_of(who->today));
    for (size_t r = 0; code == CW_OK && r < cw_table_rows(&t); r++)
        for (int i = 0; i < ITEMS; i++)
            if (strcmp(items[i].what, cw_table_text(&t, r, 0)) == 0) {
                const cw_cell *cells = &t.cells[r * t.width];
                list[i].n = cells[1].v.i;
                cw_copy(list[i].about, sizeof list[i].about, cells[2].null ? "" : cw_table_text(&t, r, 2));
                list[i].money = cells[3].null ? -1 : cells[3].v.i;
                list[i].day = cells[4].null ? CW_NO_DAY : (cw_day)cells[4].v.i;
            }
    cw_table_free(&t);
    return code;
}

static void put_worst(found *f, const char *about, int64_t by, int64_t *most)
{
    f->n++;
    if (by > *most) {
        *most = by;
        cw_copy(f->about, sizeof f->about, about);
    }
}

/* Against the plan at the nursery's own confidence. */
static cw_code look_at_plan(cw_nursery *n, const cw_asker *who, found list[ITEMS], cw_error *err)
{
    const cw_offering_ask ask = { .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY };
    int64_t beyond = 0, too_many = 0, more = 0;
    char every[16];
    bool due = list[IT_release].day == CW_NO_DAY;
    cw_table t = { 0 };
    cw_code code = cw_nursery_setting(n, "release_every", every, sizeof every, err);
    if (code == CW_OK)
        code = cw_offering_desk(n, who, &ask, &t, NULL, err);
    due = due || who->today - list[IT_release].day >= (cw_day)strtol(every, NULL, 10);
    list[IT_release].n = 0;
    for (size_t r = 0; code == CW_OK && r < cw_table_rows(&t); r++) {
        const char *variety = cw_table_text(&t, r, 0);
        int64_t offered = cw_table_int(&t, r, (size_t)cw_table_column(&t, "offered")),
                sold = cw_table_int(&t, r, (size_t)cw_table_column(&t, "sold")),
                more_of = cw_table_int(&t, r, (size_t)cw_table_column(&t, "quantity")) - offered,
                sure = cw_table_int(&t, r, (size_t)cw_table_column(&t, "by_stock"));
        if (sold > sure)
            put_worst(&list[IT_beyond], variety, sold - sure, &beyond);
        else if (offered > sure)
            put_worst(&list[IT_too_many], variety, offered - sure, &too_many);
        else if (due && more_of > 0)
            put_worst(&list[IT_release], variety, more_of, &more);
    }
    cw_table_free(&t);
    return code;
}

/* The measurement that saves most. */
static cw_code look_at_measures(cw_nursery *n, const cw_asker *who, found list[ITEMS], cw_error *err)
{
    const cw_offering_ask ask = { .margin = -1, .short_cost = -1, .ship = CW_NO_DAY, .as_of = CW_NO_DAY };
    cw_table t = { 0 };
    cw_code code = cw_offering_measures(n, who, &ask, &t, err);
    int saves = code == CW_OK ? cw_table_column(&t, "saves") : -1;
    for (size_t r = 0; code == CW_OK && r < cw_table_rows(&t); r++) {
        found *f = &list[IT_measure];
        int64_t money = cw_table_int(&t, r, (size_t)saves);
        if (money <= 0)
            continue;
        if (f->n++ == 0) {
            cw_copy(f->about, sizeof f->about, cw_table_text(&t, r, 0));
            f->money = money;
        }
    }
    cw_table_free(&t);
    return code;
}

static cw_code look_at_shares(cw_nursery *n, const cw_asker *who, found list[ITEMS], cw_error *err)
{
    cw_table t = { 0 };
    found *f = &list[IT_short];
    cw_code code = cw_allotting_short(n, who, NULL, &t, err);
    int harm = code == CW_OK ? cw_table_column(&t, "harm") : -1;
    for (size_t r = 0; code == CW_OK && r < cw_table_rows(&t); r++) {
        if (f->n++ == 0)
            cw_copy(f->about, sizeof f->about, cw_table_text(&t, r, 0));
        f->money = (f->money < 0 ? 0 : f->money) + cw_table_int(&t, r, (size_t)harm);
    }
    cw_table_free(&t);
    return code;
}

static cw_code look(cw_nursery *n, const cw_asker *who, const char *desk, found list[ITEMS], cw_error *err)
{
    cw_code code = count_in_file(n, who, desk, list, err);
    if (code != CW_OK || strcmp(desk, CELLAR) == 0)
        return code;
    if (strcmp(desk, ORDERS) == 0)
        return look_at_shares(n, who, list, err);
    code = look_at_plan(n, who, list, err);
    return code == CW_OK ? look_at_measures(n, who, list, err) : code;
}

cw_code cw_today_list(cw_nursery *n, const cw_asker *who, const char *desk, cw_table *out, cw_error *err)
{
    found list[ITEMS];
    char shown[80];
    bool cellar = strcmp(desk, CELLAR) == 0;
    cw_table_init(out, list_columns, CW_WIDTH(list_columns));
    if (!cellar && strcmp(desk, ORDERS) != 0 && strcmp(desk, WINTER) != 0)
        return cw_error_set(err, CW_NOT_FOUND, "there is no such desk: %s",
                            cw_shown(desk, strlen(desk), shown));
    cw_code code = cellar ? cw_people_only(who, "look at the cellar's day", err)
                          : cw_office_only(who, "look at this desk's day", err);
    for (int i = 0; i < ITEMS; i++)
        list[i] = (found){ .money = -1, .day = CW_NO_DAY };
    if (code == CW_OK)
        code = look(n, who, desk, list, err);
    for (int i = 0; code == CW_OK && i < ITEMS; i++) {
        if (list[i].n == 0 || strcmp(items[i].desk, desk) != 0)
            continue;
        cw_put_text(out, items[i].what);
        cw_put_bool(out, items[i].urgent);
        cw_put_int(out, list[i].n);
        cw_put_text(out, list[i].about[0] ? list[i].about : NULL);
        if (list[i].money < 0)
            cw_put_null(out);
        else
            cw_put_money(out, list[i].money);
        if (list[i].day == CW_NO_DAY)
            cw_put_null(out);
        else
            cw_put_int(out, list[i].day);
    }
    return code == CW_OK ? cw_table_check(out, err) : code;
}

static const cw_column begun_columns[] = {
    { "step", CW_TEXT_T, .words = "varieties|places|lots|history|past_checks|zones|orders|stocked|people" },
    { "n", CW_INT_T },
};
const cw_shape cw_today_begun_shape = CW_ROWS(begun_columns);

cw_code cw_today_begun(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err)
{
    cw_table_init(out, begun_columns, CW_WIDTH(begun_columns));
    cw_code code = cw_office_only(who, "look at how the file begins", err);
    return code == CW_OK ? cw_rows_fill(n->db, "today.begun", out, err, "") : code;
}
