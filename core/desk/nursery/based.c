/* SPDX-License-Identifier: MIT */
#include "desk/nursery/based_inside.h"

#include "base/json.h"
#include "base/text.h"
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

static bool same(const json_t *on, const json_t *now)
{
    if (json_is_null(now)) /* an empty value is null in one answer and "" in another */
        return json_is_null(on) || (json_is_string(on) && json_string_length(on) == 0);
    return json_equal(on, now);
}

static void hold_take(const cw_asker *who, const char *name, json_t *now)
{
    cw_based *b = who->based;
    const json_t *on = b ? json_object_get(b->on, name) : NULL;
    if (on != NULL && now != NULL && same(on, now)) {
        json_decref(now);
    } else if (on != NULL) {
        if (b->now == NULL && !b->failed)
            b->now = json_object();
        cw_json_put_take(&b->now, name, now);
        b->failed = b->failed || b->now == NULL;
    } else {
        json_decref(now);
    }
}

void cw_based_int(const cw_asker *who, const char *name, int64_t now)
{
    if (who->based)
        hold_take(who, name, json_integer((json_int_t)now));
}

void cw_based_real(const cw_asker *who, const char *name, double now)
{
    const json_t *on = who->based ? json_object_get(who->based->on, name) : NULL;
    if (who->based == NULL)
        return;
    if (json_is_number(on) && json_number_value(on) == now) /* 4 and 4.0 are one figure */
        hold_take(who, name, json_deep_copy(on));
    else
        hold_take(who, name, now > 0 ? json_real(now) : json_null());
}

void cw_based_bool(const cw_asker *who, const char *name, bool now)
{
    if (who->based)
        hold_take(who, name, json_boolean(now));
}

void cw_based_text(const cw_asker *who, const char *name, const char *now)
{
    if (who->based)
        hold_take(who, name, cw_json_known(now));
}

/* A value as a sentence shows it, long ones cut. */
static const char *shown(const json_t *v, char out[80])
{
    if (json_is_string(v) && json_string_length(v) > 0)
        return cw_shown(json_string_value(v), json_string_length(v), out);
    if (json_is_integer(v))
        snprintf(out, 80, "%lld", (long long)json_integer_value(v));
    else if (json_is_real(v))
        snprintf(out, 80, "%g", json_real_value(v));
    else
        snprintf(out, 80, "%s", json_is_true(v) ? "yes" : json_is_false(v) ? "no" : "none");
    return out;
}

cw_code cw_based_hold(const cw_asker *who, const char *what, cw_error *err)
{
    const cw_based *b = who->based;
    char is[80], was[80];
    const char *name = NULL;
    json_t *now = NULL;
    if (b == NULL || (b->now == NULL && !b->failed))
        return CW_OK;
    if (b->failed)
        return cw_error_memory(err);
    json_object_foreach(b->now, name, now) return cw_error_at(
        err, CW_CONFLICT, NULL, 0, name,
        "%s was changed meanwhile: it is %s now, and was %s when this was begun", what, shown(now, is),
        shown(json_object_get(b->on, name), was));
    return CW_OK;
}
