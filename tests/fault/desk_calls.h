/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_FAULT_DESK_CALLS_H
#define CW_TESTS_FAULT_DESK_CALLS_H

/* Every function of the desks that can fail, as rows of seven tables; and the proof that none is missing, from the headers. */
#include "desk_bench.h"
#include "desk_file.h"
#include "desk_orders.h"
#include "desk_parcels.h"
#include "desk_people.h"
#include "desk_post.h"
#include "desk_supply.h"

#include <ctype.h>
#include <glob.h>

static const struct {
    const char *file;
    const desk_call *calls;
    size_t count;
} desk_tables[] = {
    { "desk_bench.h", bench_calls, sizeof bench_calls / sizeof bench_calls[0] },
    { "desk_supply.h", supply_calls, sizeof supply_calls / sizeof supply_calls[0] },
    { "desk_orders.h", order_calls, sizeof order_calls / sizeof order_calls[0] },
    { "desk_post.h", post_calls, sizeof post_calls / sizeof post_calls[0] },
    { "desk_parcels.h", parcel_calls, sizeof parcel_calls / sizeof parcel_calls[0] },
    { "desk_people.h", people_calls, sizeof people_calls / sizeof people_calls[0] },
    { "desk_file.h", file_calls, sizeof file_calls / sizeof file_calls[0] },
};
#define DESK_TABLES (sizeof desk_tables / sizeof desk_tables[0])

/* What the desks hand to each other: made to fail under the call that is named. */
static const struct {
    const char *function, *under;
} desk_under[] = {
    { "cw_stock_divide", "cw_cellar_divide" },     { "cw_stock_check", "cw_cellar_check" },
    { "cw_stock_count", "cw_cellar_count" },       { "cw_stock_move", "cw_cellar_move" },
    { "cw_stock_enter", "cw_cellar_enter" },       { "cw_stock_undo", "cw_cellar_undo" },
    { "cw_stock_undo_split", "cw_cellar_undo" },   { "cw_secrets_read", "cw_post_account_set" },
    { "cw_secrets_write", "cw_post_account_set" },
};

/* What works on several files, of which each is its own transaction: as before or done does not hold of all of them together. Tried
 * where they are made, desk/test_lineage and desk/test_forgetting. */
static const char *const desk_of_several[] = { "cw_past_open", "cw_forgetting_years" };

static void desk_read(const char *folder, const char *name, cw_text *out)
{
    char path[600], piece[4096];
    size_t n = 0;
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *f = fopen(path, "rb");
    assert_non_null(f);
    while ((n = fread(piece, 1, sizeof piece, f)) > 0)
        cw_text_addn(out, piece, n);
    fclose(f);
    assert_false(out->failed);
}

/* As what is made to fail: behind "CALL(", or behind the comma of TABLE, JSON, NUMBER and PLAIN; not as what is done before. */
static bool desk_is_called(const cw_text *tables, const char *name)
{
    size_t n = strlen(name);
    for (const char *at = tables->data; (at = strstr(at, name)) != NULL; at += n) {
        const char *before = at;
        while (before > tables->data && isspace((unsigned char)before[-1]))
            before--;
        bool behind_call = before - tables->data > 5 && strncmp(before - 5, "CALL(", 5) == 0;
        if (at[n] == '(' && (behind_call || before[-1] == ','))
            return true;
    }
    for (size_t i = 0; i < sizeof desk_under / sizeof desk_under[0]; i++)
        if (strcmp(desk_under[i].function, name) == 0)
            return desk_is_called(tables, desk_under[i].under);
    for (size_t i = 0; i < sizeof desk_of_several / sizeof desk_of_several[0]; i++)
        if (strcmp(desk_of_several[i], name) == 0)
            return true;
    return false;
}

/* Counts a header's functions that can fail (they return a cw_code), and names those that no row calls. */
static void desk_look_at(const char *header, const cw_text *tables, long *called, long *missing)
{
    cw_text text = CW_TEXT((size_t)1 << 20);
    desk_read(CW_SOURCE_DIR "/core/desk", header, &text);
    for (const char *at = text.data; (at = strstr(at, "cw_code cw_")) != NULL; at++) {
        char name[80];
        const char *s = at + strlen("cw_code ");
        size_t n = strspn(s, "abcdefghijklmnopqrstuvwxyz0123456789_");
        if (s[n] != '(' || n >= sizeof name)
            continue;
        snprintf(name, sizeof name, "%.*s", (int)n, s);
        if (desk_is_called(tables, name)) {
            ++*called;
        } else {
            print_error("%s: %s is in no row of tests/fault/desk_*.h\n", header, name);
            ++*missing;
        }
    }
    cw_text_free(&text);
}

static void no_desk_function_is_missing(void **state)
{
    cw_text tables = CW_TEXT((size_t)1 << 20);
    long called = 0, missing = 0, calls = 0;
    glob_t headers;
    (void)state;
    for (size_t i = 0; i < DESK_TABLES; i++) {
        desk_read(CW_TEST_DIR "/fault", desk_tables[i].file, &tables);
        calls += (long)desk_tables[i].count;
    }
    assert_int_equal(glob(CW_SOURCE_DIR "/core/desk/*/*.h", 0, NULL, &headers), 0);
    for (size_t i = 0; i < headers.gl_pathc; i++) {
        const char *header = headers.gl_pathv[i] + strlen(CW_SOURCE_DIR "/core/desk/");
        if (!strstr(header, "_inside.h") || strstr(header, "stock_inside.h"))
            desk_look_at(header, &tables, &called, &missing);
    }
    globfree(&headers);
    cw_text_free(&tables);
    print_message("%ld functions that can fail, in %ld rows\n", called, calls);
    assert_true(called > 100);
    assert_int_equal(missing, 0);
}

#endif
