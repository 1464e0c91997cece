/* SPDX-License-Identifier: MIT */
#include <string.h>

#include "cli/cli.h"

#include "desk/pick/picking.h"

#include "base/banned.h"

#define MOST_ORDERS 500

static const cw_option options[] = {
    { "--week", CW_WEEK_T, "WEEK", "the ship week whose wave is made or printed", 0, 0, NULL, true },
    { "--orders", CW_TEXT_T, "LIST", "only these orders, parted by commas; makes a new wave", 0, 0, NULL,
      false },
    { "--new", CW_BOOL_T, NULL, "make a further wave of what still waits, though the week has one", 0, 0,
      NULL, false },
    { "--commit", CW_BOOL_T, NULL, "make the wave (this is the default)", 0, 0, NULL, false },
    { "--preview", CW_BOOL_T, NULL, "show the wave that would be made, without making it", 0, 0, NULL,
      false },
    { 0 },
};

typedef struct chosen {
    char text[MOST_ORDERS * 33];
    const char *number[MOST_ORDERS];
    size_t count;
} chosen;

static cw_code read_orders(const char *list, chosen *out, cw_error *err)
{
    char *rest = NULL;
    out->count = 0;
    if (strlen(list) >= sizeof out->text)
        return cw_error_set(err, CW_USAGE, "--orders takes at most %d orders", MOST_ORDERS);
    cw_copy(out->text, sizeof out->text, list);
    for (char *p = strtok_r(out->text, ", ", &rest); p; p = strtok_r(NULL, ", ", &rest)) {
        if (out->count == MOST_ORDERS)
            return cw_error_set(err, CW_USAGE, "--orders takes at most %d orders", MOST_ORDERS);
        out->number[out->count++] = p;
    }
    return out->count ? CW_OK : cw_error_set(err, CW_USAGE, "--orders names no order");
}

static void say_notes(cw_call *call, const cw_table *notes)
{
    for (size_t i = 0; i < cw_table_rows(notes); i++)
        cw_call_say(call, "%s: order %s: %s", cw_table_text(notes, i, 0), cw_table_text(notes, i, 1),
                    cw_table_text(notes, i, 5));
}

/* Makes the week's wave unless it has one. */
static cw_code make_or_find(cw_call *call, cw_nursery *n, const cw_picking_ask *ask, int64_t *wave,
                            cw_table *notes, cw_error *err)
{
    bool open = false, fresh = cw_call_flag(call, "--new") || ask->orders;
    cw_error no = CW_ERROR_NONE;
    cw_code code = cw_picking_of_week(n, ask->week, wave, &open, err);
    if (code != CW_OK || (open && !fresh))
        return code;
    int64_t before = *wave;
    code = cw_picking_make(n, &call->who, ask, wave, notes, &no);
    if (code == CW_REFUSED && before && !fresh) {
        *wave = before; /* the week is pulled: what was pulled is shown */
        return CW_OK;
    }
    if (code != CW_OK) {
        *err = no;
        return code;
    }
    cw_call_say(call, "wave %lld is made", (long long)*wave);
    return CW_OK;
}

/* A wave that the week's packers work on is printed beside a running server: *out stays open only if there is one. */
static cw_code standing(cw_call *call, cw_week week, cw_nursery **out, int64_t *wave, cw_error *err)
{
    bool open = false;
    cw_code code = cw_call_open(call, CW_LOOK, out, err);
    if (code == CW_OK)
        code = cw_picking_of_week(*out, week, wave, &open, err);
    if (code == CW_OK && !open) {
        cw_nursery_close(*out);
        *out = NULL;
        *wave = 0;
    }
    return code;
}

static cw_code run(cw_call *call, cw_error *err)
{
    cw_nursery *n = NULL;
    cw_table picks = { 0 }, notes = { 0 };
    chosen c = { .count = 0 };
    int64_t wave = 0;
    bool preview = cw_call_flag(call, "--preview");
    const char *list = cw_call_text(call, "--orders", NULL);
    cw_picking_ask ask = { .week = cw_call_week(call, "--week", 0) };
    cw_code code = list ? read_orders(list, &c, err) : CW_OK;
    if (list) {
        ask.orders = c.number;
        ask.count = c.count;
    }
    if (code == CW_OK && !preview && !list && !cw_call_flag(call, "--new"))
        code = standing(call, ask.week, &n, &wave, err);
    if (code == CW_OK && n == NULL)
        code = cw_call_open(call, preview ? CW_LOOK : CW_WORK, &n, err);
    if (code == CW_OK && preview)
        code = cw_picking_preview(n, &call->who, &ask, &picks, &notes, err);
    else if (code == CW_OK && wave == 0)
        code = make_or_find(call, n, &ask, &wave, &notes, err);
    if (code == CW_OK && !preview)
        code = cw_picking_list(n, &call->who, wave, &picks, err);
    if (code == CW_OK)
        code = cw_call_show(call, &picks, err);
    if (code == CW_OK)
        say_notes(call, &notes);
    cw_table_free(&picks);
    cw_table_free(&notes);
    cw_nursery_close(n);
    return code;
}

const cw_verb cw_verbs_pick[] = {
    {
        "pick",
        "NURSERY.db",
        "the wave of a ship week, as one walk",
        "Makes the wave of a ship week, or prints the one it has: all that is promised to its orders and not "
        "pulled yet, as one walk in walking order, with lots chosen for few stops and then for what waited "
        "longest, and a numbered slot for every parcel. Orders that have no ship week are given one first. "
        "What is left out, and what is promised but not there, is told on standard error. Whether plants may "
        "go to a destination is what the nursery noted in its table (allow, warn, block); the plant-health "
        "authority decides.",
        "clumpwise pick season2031.db --week 2032-W16 --today 2032-04-12",
        options,
        1,
        1,
        run,
    },
    { 0 },
};
