/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_JSON_IS_H
#define CW_TESTS_SUPPORT_JSON_IS_H

/* A document as lines, so that a test can say the whole of it. */
#include "support/order_desk.h"

#include "base/json.h"

#include "base/banned.h"

/* The sheets that people read, a line for each member, and for each of a list; members in the order of their names. */
static inline void json_is(json_t *o, const char *want)
{
    cw_text got = CW_TEXT(1 << 20);
    const char *name;
    json_t *v;
    for (void *at = json_object_iter(o); at; at = json_object_iter_next(o, at)) {
        name = json_object_iter_key(at);
        v = json_object_iter_value(at);
        for (size_t i = 0; i < (json_is_array(v) ? json_array_size(v) : 1); i++) {
            char *text =
                cw_json_text(json_is_array(v) ? json_array_get(v, i) : v,
                             JSON_SORT_KEYS | JSON_COMPACT | JSON_ENCODE_ANY | JSON_REAL_PRECISION(6));
            assert_non_null(text);
            cw_text_addf(&got, "%s %s\n", name, text);
            free(text);
        }
    }
    is_text(got.data, want);
    cw_text_free(&got);
    json_decref(o);
}

#endif
