/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_FAULT_DESK_CALL_H
#define CW_TESTS_FAULT_DESK_CALL_H

/* One function of a desk as a row, on the nursery of support/season.h: what must be done before, and the call, with its
 * answer written as text. For tests that make the n-th something fail below it. Only what stands inside CALL is made to
 * fail. The rows stand in desk_supply.h, desk_orders.h, desk_post.h, desk_parcels.h, desk_people.h and
 * desk_file.h. */
#include "support/failing.h"
#include "support/factor.h"
#include "support/season.h"

#include "base/json.h"

typedef struct work {
    test_nursery t;
    cw_text answer;
    int64_t id;      /* of what `before` made */
    char digest[65]; /* of its token */
} work;

typedef struct desk_call {
    const char *name;
    cw_code (*call)(work *w, cw_error *err);
    void (*before)(work *w); /* may be NULL */
    long most;               /* tries at most, of calls that cost much; 0: the test's own */
    bool random;             /* leaves random bytes in the file */
} desk_call;

#define N   (w->t.n)
#define WHO (&w->t.who)

static cw_code paused(cw_code code)
{
    failing_pause();
    return code;
}
#define CALL(expression) (failing_resume(), paused(expression))

static cw_code say_table(work *w, cw_code code, cw_table *t)
{
    if (code == CW_OK) {
        cw_error err = CW_ERROR_NONE;
        cw_check_ok(cw_table_csv(t, cw_sink_text(&w->answer), &err), &err);
    }
    cw_table_free(t);
    return code;
}

static cw_code say_json(work *w, cw_code code, json_t *o)
{
    if (code == CW_OK) {
        char *text = cw_json_text(o, JSON_SORT_KEYS);
        assert_non_null(text);
        cw_text_add(&w->answer, text);
        free(text);
    }
    json_decref(o);
    return code;
}

#define TABLE(name, ...)                                                                                     \
    static cw_code name(work *w, cw_error *err)                                                              \
    {                                                                                                        \
        cw_table out = { 0 };                                                                                \
        cw_code code = CALL(__VA_ARGS__);                                                                    \
        return say_table(w, code, &out);                                                                     \
    }
#define JSON(name, ...)                                                                                      \
    static cw_code name(work *w, cw_error *err)                                                              \
    {                                                                                                        \
        json_t *out = NULL;                                                                                  \
        cw_code code = CALL(__VA_ARGS__);                                                                    \
        return say_json(w, code, out);                                                                       \
    }
#define NUMBER(name, type, ...)                                                                              \
    static cw_code name(work *w, cw_error *err)                                                              \
    {                                                                                                        \
        type out = 0;                                                                                        \
        cw_code code = CALL(__VA_ARGS__);                                                                    \
        if (code == CW_OK)                                                                                   \
            cw_text_addf(&w->answer, "%.9g", (double)out);                                                   \
        return code;                                                                                         \
    }
#define PLAIN(name, ...)                                                                                     \
    static cw_code name(work *w, cw_error *err)                                                              \
    {                                                                                                        \
        (void)w;                                                                                             \
        return CALL(__VA_ARGS__);                                                                            \
    }

#define ROW(name)                                                                                            \
    {                                                                                                        \
#name, name, NULL, 0, false                                                                          \
    }
#define AFTER(before, name)                                                                                  \
    {                                                                                                        \
#name, name, before, 0, false                                                                        \
    }

/* ---- What several rows need before ---- */
static void leave_to_sell(work *w)
{
    cw_error err = CW_ERROR_NONE;
    int64_t left = 0;
    cw_check_ok(cw_ordering_oversell(N, WHO, "BRI", 5, "late lots", &left, &err), &err);
    cw_check_ok(cw_ordering_oversell(N, WHO, "DOV", 5, "late lots", &left, &err), &err);
}

#endif
