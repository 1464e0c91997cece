/* SPDX-License-Identifier: MIT */
/* What the buyer allows in place of what they asked, changed on the phone. */
#include "base/limits.h"
#include "desk/nursery/based_inside.h"
#include "desk/orders/clearing_inside.h"
#include "desk/orders/correcting_inside.h"
#include "desk/orders/ordering_inside.h"
#include "store/allocations.h"
#include "store/correcting.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define NAMED (CW_MAX_NAMED * (CW_MAX_CODE + 1) + 1)

/* "AMB  BRI, CIN" as "AMB BRI CIN"; each must be a variety. */
static cw_code read_named(cw_correction *c, const char *typed, char out[NAMED], cw_error *err)
{
    size_t used = 0;
    int count = 0;
    cw_code code = CW_OK;
    out[0] = '\0';
    for (const char *at = typed; *at && code == CW_OK;) {
        char one[CW_MAX_CODE + 1];
        int64_t id = 0;
        size_t n = strcspn(at, " ,;");
        if (n > CW_MAX_CODE || (n > 0 && ++count > CW_MAX_NAMED))
            return cw_error_at(err, CW_REFUSED, NULL, 0, "named", "must be at most %d codes of varieties: %s",
                               CW_MAX_NAMED, typed);
        if (n > 0) {
            snprintf(one, sizeof one, "%.*s", (int)n, at);
            code = cw_order_variety(c->n->db, one, &id, err);
            used += (size_t)snprintf(out + used, NAMED - used, "%s%s", used ? " " : "", one);
        }
        at += n + (at[n] != '\0');
    }
    return code;
}

static cw_code check(cw_correction *c, const cw_correcting_ask *a, char named[NAMED], cw_error *err)
{
    int64_t index = 0;
    bool by_name = strcmp(a->consent, "named") == 0, told = a->named && a->named[0];
    if (!cw_word_find(cw_words_consents, a->consent, strlen(a->consent), &index))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "consent", "must be none, same, any or named: %s",
                           a->consent);
    if (by_name != told)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "named",
                           by_name ? "consent named needs the varieties' codes"
                                   : "goes with consent named only");
    return read_named(c, told ? a->named : "", named, err);
}

/* Substitutes that the line's consent does not cover any more. */
typedef struct uncovered {
    struct {
        int64_t variety, quantity;
        char code[CW_MAX_CODE + 1];
    } item[64];
    size_t count;
} uncovered;

static void take_uncovered(void *context, const cw_uncovered *row)
{
    uncovered *u = context;
    if (u->count == sizeof u->item / sizeof u->item[0])
        return; /* asked again until there is none */
    u->item[u->count].variety = row->variety_id;
    u->item[u->count].quantity = row->quantity;
    cw_copy(u->item[u->count++].code, sizeof u->item[0].code, row->code);
}

static cw_code take_back(cw_correction *c, const cw_order_line *l, cw_error *err)
{
    for (;;) {
        uncovered u = { .count = 0 };
        int64_t back = 0;
        cw_code code = cw_order_uncovered(c->n->db, l->id, take_uncovered, &u, err);
        for (size_t i = 0; i < u.count && code == CW_OK; i++) {
            int64_t left = 0;
            code =
                cw_clearing_clear(c->n, c->who, c->head.id, l->id, u.item[i].variety, "changed", &left, err);
            cw_taking_back t = { l->id,       u.item[i].variety, u.item[i].quantity - left,
                                 c->who->now, c->who->actor,     "the buyer no longer allows it" };
            if (code == CW_OK && t.quantity > 0)
                code = cw_promise_take_back(c->n->db, &t, err);
            if (t.quantity > 0)
                cw_correction_say(c,
                                  "Taken back: %lld of %s for line %d, as the buyer no longer allows them.",
                                  (long long)t.quantity, u.item[i].code, l->line);
            back += t.quantity;
        }
        if (code != CW_OK || back == 0)
            return code;
    }
}

static cw_code set_line(cw_correction *c, const cw_order_line *l, const cw_correcting_ask *a,
                        const char *named, cw_error *err)
{
    if (l->variety_id == 0 || (strcmp(l->consent, a->consent) == 0 && strcmp(l->named, named) == 0))
        return CW_OK;
    cw_text_addf(&c->fields, "%sconsent of line %d", c->fields.length ? ", " : "", l->line);
    cw_text_addf(&c->before, "%sline %d consent %s%s%s", c->before.length ? "; " : "", l->line, l->consent,
                 l->named[0] ? " " : "", l->named);
    cw_text_addf(&c->after, "%sline %d consent %s%s%s", c->after.length ? "; " : "", l->line, a->consent,
                 named[0] ? " " : "", named);
    cw_code code = cw_order_first(c->n->db, c->head.id, l->line, "consent", l->consent, err);
    if (code == CW_OK)
        code = cw_order_first(c->n->db, c->head.id, l->line, "named", l->named[0] ? l->named : NULL, err);
    if (code == CW_OK)
        code = cw_order_set_consent(c->n->db, l->id, a->consent, named, err);
    return code == CW_OK ? take_back(c, l, err) : code;
}

static cw_code still(cw_correction *c, const cw_order_line *l, const cw_correcting_ask *a, cw_error *err)
{
    if (a->line == 0)
        return CW_OK;
    cw_based_text(c->who, "consent", l->consent);
    return cw_based_hold(c->who, "the line's consent", err);
}

cw_code cw_correction_consent(cw_correction *c, const cw_correcting_ask *a, cw_error *err)
{
    cw_order_line *lines = NULL;
    size_t count = 0;
    bool met = a->line == 0, own = c->fields.length > 0;
    char named[NAMED];
    cw_code code = check(c, a, named, err);
    if (code == CW_OK)
        code = cw_ordering_be_open(&c->head, err);
    if (code == CW_OK)
        code = cw_order_lines(c->n->db, c->head.id, &lines, &count, err);
    size_t before = c->fields.length;
    for (size_t i = 0; i < count && code == CW_OK; i++) {
        if (a->line && lines[i].line != a->line)
            continue;
        met = true;
        code = still(c, &lines[i], a, err);
        if (code == CW_OK)
            code = set_line(c, &lines[i], a, named, err);
    }
    free(lines);
    if (code == CW_OK && !met)
        code = cw_error_at(err, CW_NOT_FOUND, NULL, 0, "line", "order %s has no line %lld", c->head.number,
                           (long long)a->line);
    if (code == CW_OK && !own && c->fields.length > before)
        code = cw_order_raise_version(c->n->db, c->head.id, err);
    return code;
}
