/* SPDX-License-Identifier: MIT */
#include "desk/buyers/forgetting.h"

#include "base/limits.h"
#include "base/text.h"
#include "desk/nursery/past_inside.h"
#include "desk/buyers/forgetting_inside.h"
#include "store/audit.h"
#include "store/forgetting.h"
#include "store/season.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define MOST_ORDERS 10000
#define TELL_EVERY  64
#define DUE         1 /* an instant that has passed */
#define AGAIN_MS    3600000

static const cw_column shown_columns[] = {
    { "order", CW_TEXT_T, .null = true, .says = "null: a known buyer, taken along from a season before" },
    { "state", CW_TEXT_T, .words = cw_words_order_states, .null = true },
    { "customer", CW_TEXT_T, .null = true },
    { "email", CW_TEXT_T, .null = true },
    { "postcode", CW_TEXT_T, .null = true },
    { "notes", CW_INT_T },
    { "notices", CW_INT_T },
    { "claims", CW_INT_T },
    { "season", CW_INT_T },
    { "file", CW_TEXT_T, .says = "this season's, or one of a past season that is looked into" },
};
static const cw_column done_columns[] = {
    { "order", CW_TEXT_T, .null = true, .says = "null: a known buyer, taken along from a season before" },
    { "state", CW_TEXT_T, .words = cw_words_order_states, .null = true },
    { "season", CW_INT_T },
    { "file", CW_TEXT_T },
};

const cw_shape cw_forgetting_preview_shape = CW_ROWS(shown_columns),
               cw_forgetting_shape = CW_ROWS(done_columns);

typedef struct fit {
    int64_t id;
    bool known; /* of the known buyers, not of the orders */
} fit;

typedef struct finder {
    cw_table *out;       /* with the columns of the preview */
    const cw_nursery *n; /* whose file */
    fit *ids;            /* may be NULL */
    size_t count, persons;
    bool too_many;
    char first[CW_MAX_NAME + 80];
} finder;

static bool put_found(void *context, const cw_forgettable *r)
{
    finder *f = context;
    f->too_many = f->count == MOST_ORDERS;
    if (f->too_many)
        return false;
    if (f->count == 0)
        cw_copy(f->first, sizeof f->first, r->person);
    f->persons += f->count == 0 || strcmp(f->first, r->person) != 0;
    if (f->ids)
        f->ids[f->count] = (fit){ r->id, r->known };
    f->count++;
    cw_put_text(f->out, r->order); /* NULL stays empty */
    cw_put_text(f->out, r->state);
    cw_put_text(f->out, r->customer);
    cw_put_text(f->out, r->email);
    cw_put_text(f->out, r->postcode);
    cw_put_int(f->out, r->notes);
    cw_put_int(f->out, r->notices);
    cw_put_int(f->out, r->claims);
    cw_put_int(f->out, f->n->season.season);
    cw_put_text(f->out, cw_past_file_name(f->n));
    return true;
}

/* The orders that fit; ids may be NULL. `out` has the columns of the preview. */
static cw_code find_orders(cw_nursery *n, const cw_forget_ask *ask, fit *ids, cw_table *out, cw_error *err)
{
    bool one = ask->customer != NULL;
    char shown[80];
    finder f = { .out = out, .n = n, .ids = ids };
    cw_code code = one ? cw_forgetting_find(n->db, ask->customer, ask->postcode, put_found, &f, err)
                       : cw_forgetting_out_of_date(n->db, ask->before, put_found, &f, err);
    if (code == CW_OK && f.too_many)
        return cw_error_set(err, CW_REFUSED, "more than %d orders fit; %s", MOST_ORDERS,
                            one ? "name the person more closely" : "take an earlier day first");
    if (code == CW_OK && one && f.count == 0)
        return cw_error_set(err, CW_NOT_FOUND,
                            "no order and no known buyer has this name, e-mail address or number: %s",
                            cw_shown(ask->customer, strlen(ask->customer), shown));
    if (code == CW_OK && one && f.persons > 1)
        return cw_error_set(
            err, CW_CONFLICT,
            "more than one person has this name; say which by the e-mail address, or by name and "
            "postcode");
    return code == CW_OK ? cw_table_check(out, err) : code;
}

cw_code cw_forgetting_refuse_open(const cw_table *found, cw_error *err)
{
    for (size_t i = 0; i < cw_table_rows(found); i++)
        if (strcmp(cw_table_text(found, i, 1), "open") == 0)
            return cw_error_set(err, CW_CONFLICT, "order %s is still open; ship or cancel it first",
                                cw_table_text(found, i, 0));
    return CW_OK;
}

/* The audit tells which orders, not who: a name there could never be removed. */
static cw_code forget(cw_nursery *n, const cw_asker *who, const char *why, const cw_table *found,
                      const fit *ids, cw_table *out, cw_error *err)
{
    size_t all = cw_table_rows(found);
    cw_code code = cw_forgetting_refuse_open(found, err);
    for (size_t i = 0; i < all && code == CW_OK; i++) {
        if (i % TELL_EVERY == 0)
            code = cw_asker_tell(who, "forgetting", i, all, err);
        if (code != CW_OK)
            break;
        const char *order = ids[i].known ? NULL : cw_table_text(found, i, 0);
        cw_put_text(out, order);
        cw_put_text(out, cw_table_text(found, i, 1));
        cw_put_int(out, n->season.season);
        cw_put_text(out, cw_past_file_name(n));
        code =
            order ? cw_forgetting_blank(n->db, ids[i].id, err) : cw_forgetting_known(n->db, ids[i].id, err);
        if (code == CW_OK)
            code = cw_audit_add(n->db, who->now, who->actor, "forget person", order ? order : "known buyer",
                                NULL, why, err);
    }
    if (code == CW_OK)
        code = cw_table_check(out, err);
    return code == CW_OK && all > 0 ? cw_season_touch(n->db, false, true, err) : code;
}

static cw_code may_ask(const cw_asker *who, const cw_forget_ask *ask, cw_error *err)
{
    if (cw_owner_only(who, "remove a buyer's data", err) != CW_OK)
        return CW_FORBIDDEN;
    if (ask->customer == NULL && ask->before > who->today)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "before", "is a day to come");
    return CW_OK;
}

#define SHOWN (sizeof shown_columns / sizeof shown_columns[0])

cw_code cw_forgetting_preview(cw_nursery *n, const cw_asker *who, const cw_forget_ask *ask, cw_table *out,
                              cw_error *err)
{
    cw_table_init(out, shown_columns, SHOWN);
    cw_code code = may_ask(who, ask, err);
    /* This season's first. Who is in none of the files is not found; who is in one of them need not be in the others. */
    for (size_t i = cw_past_count(n), found = 0; code == CW_OK && i-- > 0;) {
        cw_error none = CW_ERROR_NONE;
        code = find_orders(cw_past_at(n, i), ask, NULL, out, &none);
        found += code == CW_OK;
        if (code == CW_NOT_FOUND && (found > 0 || i > 0))
            code = CW_OK;
        else if (code != CW_OK)
            *err = none;
    }
    return code;
}

cw_code cw_forgetting(cw_nursery *n, const cw_asker *who, const cw_forget_ask *ask, cw_table *out,
                      cw_error *err)
{
    cw_table found = { 0 };
    fit *ids = NULL;
    cw_table_init(&found, shown_columns, SHOWN);
    cw_table_init(out, done_columns, sizeof done_columns / sizeof done_columns[0]);
    cw_code code = may_ask(who, ask, err);
    if (code == CW_OK)
        code = (ids = calloc(MOST_ORDERS, sizeof *ids)) ? cw_work_begin_after(n, err) : cw_error_memory(err);
    if (code == CW_OK) {
        code = find_orders(n, ask, ids, &found, err);
        bool several = code == CW_CONFLICT;
        if (code == CW_OK)
            code = forget(n, who, ask->customer ? NULL : "out of date", &found, ids, out, err);
        code = cw_work_end(n, code, err);
        if (code == CW_OK)
            n->wipe_at = DUE;
        if (several) { /* the caller shows whom it could mean */
            cw_table_free(out);
            *out = found;
            found = (cw_table){ 0 };
        }
    }
    cw_table_free(&found);
    free(ids);
    return code;
}

cw_code cw_forgetting_numbers_off(cw_nursery *n, int64_t order, cw_error *err)
{
    n->wipe_at = DUE;
    return cw_forgetting_numbers(n->db, order, err);
}

cw_code cw_forgetting_wipe(cw_nursery *n, cw_instant now, cw_error *err)
{
    if (n->wipe_at == 0 || now < n->wipe_at)
        return CW_OK;
    cw_code code = cw_db_wipe(n->db, err);
    n->wipe_at = code == CW_OK ? 0 : now + AGAIN_MS;
    return code;
}
