/* SPDX-License-Identifier: MIT */
#include "desk/bench/dividing_inside.h"

#include "base/json.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* What is done on a day with a lot: washed or cut, all of it or (a lot larger than a day) a part. */
typedef struct task {
    cw_day day;
    bool cut, first; /* first: of the days on which the lot is cut */
    size_t lot;      /* of the bench */
    int64_t clumps, minutes;
} task;

typedef struct tasks {
    const cw_bench *bench;
    task *item;
    size_t count;
} tasks;

static const cw_bench_lot *lot_of(const cw_bench *b, const task *t)
{
    return &b->lot[t->lot];
}

/* By day, washing first, then in walking order. */
static int by_walk(const void *pa, const void *pb, void *context)
{
    const task *a = pa, *b = pb;
    const cw_bench *bench = context;
    int64_t wa = lot_of(bench, a)->walk_order, wb = lot_of(bench, b)->walk_order;
    if (a->day != b->day)
        return (a->day > b->day) - (a->day < b->day);
    if (a->cut != b->cut)
        return a->cut ? 1 : -1;
    return wa != wb ? (wa > wb) - (wa < wb) : (a->lot > b->lot) - (a->lot < b->lot);
}

static void tasks_of_lot(tasks *t, const cw_dividing_input *in, size_t lot, int64_t *cut, int64_t *wash)
{
    const cw_bench *b = t->bench;
    int32_t first = b->plan.day[lot];
    if (first == CW_DIVIDING_OPEN)
        return;
    const cw_dividing_lot *m = &b->model_lot[lot];
    size_t n = cw_dividing_days_of(in, lot, first, cut, wash);
    if (n == 0 || m->fixed >= 0) { /* it keeps its day, be it too short or not */
        n = 1;
        cut[0] = m->cut_minutes;
        wash[0] = m->wash_minutes;
    }
    int64_t done = 0, clumps = 0;
    for (size_t k = 0; k < n; k++) {
        const cw_bench_day *day = &b->day[(size_t)first + k];
        done += cut[k];
        int64_t by_now = b->lot[lot].clumps * done / m->cut_minutes, part = by_now - clumps;
        clumps = by_now;
        bool washed = strcmp(b->lot[lot].kept_why, "washed") == 0;
        if (day->washed_on != CW_NO_DAY && day->washed_on >= b->from && !washed)
            t->item[t->count++] = (task){ day->washed_on, false, k == 0, lot, part, wash[k] };
        t->item[t->count++] = (task){ day->day, true, k == 0, lot, part, cut[k] };
    }
}

static cw_code tasks_make(const cw_bench *b, tasks *t, cw_error *err)
{
    cw_dividing_input in = { b->lots, b->days, b->model_lot, b->model_day, b->cost, { 0 } };
    int64_t *part = calloc(2 * (b->days + 1), sizeof *part);
    size_t room = 2 * b->lots + 2;
    for (size_t l = 0; l < b->lots; l++) /* parts of lots larger than a day */
        room += b->plan.day[l] == CW_DIVIDING_OPEN
                    ? 0
                    : 2 * cw_dividing_days_of(&in, l, b->plan.day[l], NULL, NULL);
    *t = (tasks){ .bench = b, .item = calloc(room, sizeof *t->item) };
    if (part == NULL || t->item == NULL) {
        free(part);
        return cw_error_memory(err);
    }
    for (size_t l = 0; l < b->lots; l++)
        tasks_of_lot(t, &in, l, part, part + b->days + 1);
    free(part);
    qsort_r(t->item, t->count, sizeof *t->item, by_walk, (void *)b);
    return CW_OK;
}

static const char *code_of(const cw_bench *b, size_t lot)
{
    return b->forecast->data->snapshot->lot[b->lot[lot].lot].code;
}

static const cw_snap_variety *variety_of(const cw_bench *b, size_t lot)
{
    return &b->forecast->data->snapshot->variety[b->lot[lot].variety];
}

static cw_cents cents(double money)
{
    return (cw_cents)llround(money);
}

static bool shown(const cw_bench_ask *ask, const cw_bench *b, cw_day day)
{
    return ask->days <= 0 || day < b->from + ask->days;
}

/* ---- what is said in sentences ---- */

static bool is_late(const cw_bench *b, size_t lot)
{
    int32_t d = b->plan.day[lot];
    return (d == CW_DIVIDING_OPEN ? b->never_late[lot] : b->late[lot * b->days + (size_t)d]) > 0;
}

/* For each ship week, the earliest first: minutes that are missing before the day by which what is promised for it should be cut. */
static void say_late(const cw_bench *b, cw_text *notes)
{
    for (cw_week said = 0;;) {
        cw_week week = 0;
        int64_t minutes = 0;
        size_t lots = 0;
        char name[9], day[11];
        for (size_t l = 0; l < b->lots; l++)
            if (b->lot[l].owed > said && (week == 0 || b->lot[l].owed < week) && is_late(b, l))
                week = b->lot[l].owed;
        if (week == 0)
            return;
        for (size_t l = 0; l < b->lots; l++)
            if (b->lot[l].owed == week && is_late(b, l)) {
                lots++;
                minutes += b->model_lot[l].cut_minutes;
            }
        cw_week_format(week, name);
        cw_day_format(cw_week_monday(week) - (cw_day)b->lead_days, day);
        cw_text_addf(
            notes,
            "%zu %s with divisions promised for week %s %s cut too late: %lld minutes at the bench are "
            "missing up to %s\n",
            lots, lots == 1 ? "lot" : "lots", name, lots == 1 ? "is" : "are", (long long)minutes, day);
        said = week;
    }
}

static void say(const cw_bench *b, cw_text *notes)
{
    size_t open = 0;
    for (size_t l = 0; l < b->lots; l++)
        open += b->plan.day[l] == CW_DIVIDING_OPEN;
    if (open > 0)
        cw_text_addf(notes, "%zu %s not fit before the shipping day: %lld minutes at the bench are missing\n",
                     open, open == 1 ? "lot does" : "lots do", (long long)b->plan.missing);
    say_late(b, notes);
    if (b->held > 0)
        cw_text_addf(notes, "%zu %s held and in no plan\n", b->held, b->held == 1 ? "lot is" : "lots are");
    if (b->timed == 0 && b->lots > 0)
        cw_text_addf(notes, "No session says how long it took: a clump counts as %g minutes at the bench\n",
                     b->cut_minutes);
    if (!b->priced && b->lots > 0)
        cw_text_addf(notes, "No variety has a price: a division counts as 1.00\n");
}

/* ---- tables ---- */

static const cw_column plan_columns[] = {
    { "day", CW_DAY_T },
    { "step", CW_TEXT_T, .words = "wash|cut" },
    { "lot", CW_TEXT_T },
    { "variety", CW_TEXT_T },
    { "place", CW_TEXT_T, .null = true },
    { "clumps", CW_INT_T },
    { "minutes", CW_INT_T },
    { "loss", CW_MONEY_T, .null = true },
    { "knowledge", CW_MONEY_T, .null = true },
    { "late", CW_MONEY_T, .null = true },
};

static void put_money(cw_table *t, const task *k, double money)
{
    if (k->cut && k->first)
        cw_put_money(t, cents(money));
    else
        cw_put_null(t);
}

cw_code cw_bench_plan(cw_nursery *n, const cw_asker *who, const cw_bench_ask *ask, cw_table *out,
                      cw_text *notes, cw_error *err)
{
    cw_bench *b = NULL;
    tasks t = { 0 };
    cw_table_init(out, plan_columns, CW_WIDTH(plan_columns));
    cw_code code = cw_bench_make(n, who, ask, NULL, CW_NO_DAY, &b, err);
    if (code == CW_OK)
        code = tasks_make(b, &t, err);
    for (size_t i = 0; code == CW_OK && i < t.count && shown(ask, b, t.item[i].day); i++) {
        const task *k = &t.item[i];
        size_t at = k->lot * b->days + (size_t)b->plan.day[k->lot];
        cw_put_int(out, k->day);
        cw_put_text(out, k->cut ? "cut" : "wash");
        cw_put_text(out, code_of(b, k->lot));
        cw_put_text(out, variety_of(b, k->lot)->code);
        cw_put_text(out, b->lot[k->lot].place);
        cw_put_int(out, k->clumps);
        cw_put_int(out, k->minutes);
        put_money(out, k, b->loss[at]);
        put_money(out, k, b->knowledge[at]);
        put_money(out, k, b->late[at]);
    }
    if (code == CW_OK && notes) {
        cw_text_addf(notes, "total %.2f, bound %.2f, %.2f %% above the bound%s\n", b->plan.total / 100,
                     b->plan.bound / 100, 100 * fmin(cw_dividing_above(&b->plan), 99),
                     b->plan.proven ? "; nothing is cheaper" : "");
        say(b, notes);
    }
    free(t.item);
    cw_bench_free(b);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

static const cw_column cost_columns[] = {
    { "lot", CW_TEXT_T },   { "day", CW_DAY_T },         { "minutes", CW_INT_T },
    { "loss", CW_MONEY_T }, { "knowledge", CW_MONEY_T }, { "late", CW_MONEY_T },
};

cw_code cw_bench_costs(cw_nursery *n, const cw_asker *who, const cw_bench_ask *ask, cw_table *out,
                       cw_error *err)
{
    cw_bench *b = NULL;
    cw_table_init(out, cost_columns, CW_WIDTH(cost_columns));
    cw_code code = cw_bench_make(n, who, ask, NULL, CW_NO_DAY, &b, err);
    for (size_t l = 0; code == CW_OK && l < b->lots; l++)
        for (size_t d = 0; d < b->days && shown(ask, b, b->day[d].day); d++) {
            cw_put_text(out, code_of(b, l));
            cw_put_int(out, b->day[d].day);
            cw_put_int(out, b->model_lot[l].cut_minutes);
            cw_put_money(out, cents(b->loss[l * b->days + d]));
            cw_put_money(out, cents(b->knowledge[l * b->days + d]));
            cw_put_money(out, cents(b->late[l * b->days + d]));
        }
    cw_bench_free(b);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

/* ---- the board ---- */

static const cw_column day_columns[] = {
    { "day", CW_DAY_T },
    { "cutters", CW_INT_T },
    { "washers", CW_INT_T },
    { "hours", CW_REAL_T, 2 },
    { "cut_minutes", CW_INT_T, .says = "There are, of people at the bench." },
    { "cut_used", CW_INT_T },
    { "wash_minutes", CW_INT_T },
    { "wash_used", CW_INT_T },
};
static const cw_column task_columns[] = {
    { "day", CW_DAY_T },
    { "step", CW_TEXT_T, .words = "wash|cut" },
    { "lot", CW_TEXT_T },
    { "variety", CW_TEXT_T },
    { "name", CW_TEXT_T },
    { "place", CW_TEXT_T, .null = true },
    { "room", CW_TEXT_T, .null = true },
    { "clumps", CW_INT_T },
    { "minutes", CW_INT_T },
    { "loss", CW_MONEY_T },
    { "knowledge", CW_MONEY_T },
    { "late", CW_MONEY_T },
    { "brings", CW_MONEY_T, .says = "What it earns to know the lot before the next release." },
    { "frees", CW_INT_T, .says = "Divisions more that can then be offered, about." },
    { "kept", CW_TEXT_T, .null = true, .words = cw_words_dividing_day_reasons,
      .says = "Why it stays on its day; null: the plan may give it another." },
};
static const cw_shape days_shape = CW_ROWS(day_columns), tasks_shape = CW_ROWS(task_columns);
const cw_shape cw_bench_board_shape = { .parts = (const cw_part[]){
                                            { "today", CW_DAY_T },
                                            { "ship", CW_DAY_T },
                                            { "total", CW_MONEY_T },
                                            { "bound", CW_MONEY_T, .says = "No plan costs less." },
                                            { "above", CW_REAL_T,
                                              .says = "The plan's share above the bound." },
                                            { "proven", CW_BOOL_T, .says = "Nothing is cheaper." },
                                            { "missing_lots", CW_INT_T },
                                            { "missing_minutes", CW_INT_T },
                                            { "notes", .shape = &cw_shape_texts },
                                            { "days", .shape = &days_shape },
                                            { "tasks", .shape = &tasks_shape },
                                            { 0 },
                                        } };

/* The day's own washing is for the lots of the next working day. */
static void put_days(const cw_bench *b, const tasks *t, const cw_bench_ask *ask, cw_table *out)
{
    for (size_t d = 0; d < b->days && shown(ask, b, b->day[d].day); d++) {
        const cw_bench_day *day = &b->day[d];
        int64_t cut = 0, wash = 0;
        for (size_t i = 0; i < t->count; i++)
            if (t->item[i].day == day->day) {
                cut += t->item[i].cut ? t->item[i].minutes : 0;
                wash += t->item[i].cut ? 0 : t->item[i].minutes;
            }
        cw_put_int(out, day->day);
        cw_put_int(out, day->cutters);
        cw_put_int(out, day->washers);
        cw_put_real(out, day->hours);
        cw_put_int(out, (int64_t)((double)day->cutters * day->hours * 60));
        cw_put_int(out, cut);
        cw_put_int(out, (int64_t)((double)day->washers * day->hours * 60));
        cw_put_int(out, wash);
    }
}

static void put_tasks(const cw_bench *b, const tasks *t, const cw_bench_ask *ask, cw_table *out)
{
    for (size_t i = 0; i < t->count && shown(ask, b, t->item[i].day); i++) {
        const task *k = &t->item[i];
        const cw_bench_lot *l = lot_of(b, k);
        size_t at = k->lot * b->days + (size_t)b->plan.day[k->lot];
        cw_put_int(out, k->day);
        cw_put_text(out, k->cut ? "cut" : "wash");
        cw_put_text(out, code_of(b, k->lot));
        cw_put_text(out, variety_of(b, k->lot)->code);
        cw_put_text(out, variety_of(b, k->lot)->name);
        cw_put_text(out, l->place);
        cw_put_text(out, l->room);
        cw_put_int(out, k->clumps);
        cw_put_int(out, k->minutes);
        cw_put_money(out, cents(b->loss[at]));
        cw_put_money(out, cents(b->knowledge[at]));
        cw_put_money(out, cents(b->late[at]));
        cw_put_money(out, cents(l->value));
        cw_put_int(out, (int64_t)llround(l->freed));
        cw_put_text(out, b->model_lot[k->lot].fixed >= 0 ? l->kept_why : "");
    }
}

static json_t *lines(const cw_text *text)
{
    json_t *list = json_array();
    const char *at = text->data ? text->data : "";
    while (*at) {
        size_t n = strcspn(at, "\n");
        cw_json_append_take(&list, json_stringn(at, n));
        at += n + (at[n] == '\n');
    }
    return list;
}

static json_t *money_text(double money)
{
    char text[24];
    cw_cents_format(cents(money), text);
    return json_string(text);
}

static cw_code document(const cw_bench *b, const tasks *t, const cw_bench_ask *ask, json_t **out,
                        cw_error *err)
{
    cw_table days, rows;
    cw_text notes = CW_TEXT(16384);
    char today[11], ship[11];
    size_t open = 0;
    cw_table_init(&days, day_columns, CW_WIDTH(day_columns));
    cw_table_init(&rows, task_columns, CW_WIDTH(task_columns));
    put_days(b, t, ask, &days);
    put_tasks(b, t, ask, &rows);
    say(b, &notes);
    for (size_t l = 0; l < b->lots; l++)
        open += b->plan.day[l] == CW_DIVIDING_OPEN;
    cw_day_format(b->today, today);
    cw_day_format(b->ship, ship);
    *out = json_pack("{s:s,s:s,s:o,s:o,s:f,s:b,s:I,s:I,s:o,s:o,s:o}", "today", today, "ship", ship, "total",
                     money_text(b->plan.total), "bound", money_text(b->plan.bound), "above",
                     fmin(cw_dividing_above(&b->plan), 99.0), "proven", (int)b->plan.proven, "missing_lots",
                     (json_int_t)open, "missing_minutes", (json_int_t)b->plan.missing, "notes", lines(&notes),
                     "days", cw_table_to_json(&days), "tasks", cw_table_to_json(&rows));
    cw_code code = *out ? cw_text_check(&notes, err) : cw_error_memory(err);
    if (code != CW_OK) {
        json_decref(*out);
        *out = NULL;
    }
    cw_table_free(&days);
    cw_table_free(&rows);
    cw_text_free(&notes);
    return code;
}

cw_code cw_bench_board(cw_nursery *n, const cw_asker *who, const cw_bench_ask *ask, json_t **out,
                       cw_error *err)
{
    cw_bench *b = NULL;
    tasks t = { 0 };
    *out = NULL;
    cw_code code = cw_bench_make(n, who, ask, NULL, CW_NO_DAY, &b, err);
    if (code == CW_OK)
        code = tasks_make(b, &t, err);
    if (code == CW_OK)
        code = document(b, &t, ask, out, err);
    free(t.item);
    cw_bench_free(b);
    return code;
}
