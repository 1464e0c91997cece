/* SPDX-License-Identifier: MIT */
#include "desk/orders/forgetting.h"

#include "base/limits.h"
#include "base/text.h"
#include "desk/nursery/nursery_inside.h"
#include "store/audit.h"
#include "store/season.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define MOST_ORDERS 10000
#define TELL_EVERY  64
#define DUE         1 /* an instant that has passed */
#define AGAIN_MS    3600000

static const cw_column shown_columns[] = {
    { "order", CW_TEXT_T },
    { "state", CW_TEXT_T, .words = "open|cancelled|shipped" },
    { "customer", CW_TEXT_T, .null = true },
    { "email", CW_TEXT_T, .null = true },
    { "postcode", CW_TEXT_T, .null = true },
    { "notes", CW_INT_T },
    { "notices", CW_INT_T },
    { "claims", CW_INT_T },
};
static const cw_column done_columns[] = { { "order", CW_TEXT_T },
                                          { "state", CW_TEXT_T, .words = "open|cancelled|shipped" } };

const cw_shape cw_forgetting_preview_shape = CW_ROWS(shown_columns),
               cw_forgetting_shape = CW_ROWS(done_columns);

/* The orders that fit; ids may be NULL. `out` has the columns of the preview. */
static cw_code find_orders(cw_nursery *n, const cw_forget_ask *ask, int64_t *ids, size_t *count,
                           cw_table *out, cw_error *err)
{
    bool one = ask->customer != NULL;
    cw_stmt *s = cw_db_stmt(n->db, one ? "forgetting.find" : "forgetting.out_of_date");
    char first[CW_MAX_NAME + 80] = "", shown[80];
    size_t persons = 0;
    *count = 0;
    cw_code code =
        one ? cw_stmt_start(s, err, "tt", ask->customer, ask->postcode)
            : cw_stmt_start(s, err, "ii", (cw_instant)ask->before * CW_DAY_MS, (int64_t)ask->before);
    while (code == CW_OK && cw_stmt_next(s)) {
        const char *person = cw_col_text(s, 9);
        if (*count == MOST_ORDERS) {
            code = cw_error_set(err, CW_REFUSED, "more than %d orders fit; %s", MOST_ORDERS,
                                one ? "name the person more closely" : "take an earlier day first");
            break;
        }
        if (*count == 0)
            cw_copy(first, sizeof first, person ? person : "");
        persons += *count == 0 || strcmp(first, person ? person : "") != 0;
        if (ids)
            ids[*count] = cw_col_int(s, 0);
        ++*count;
        for (int c = 1; c <= 5; c++)
            cw_put_text(out, cw_col_text(s, c)); /* NULL stays empty */
        for (int c = 6; c <= 8; c++)
            cw_put_int(out, cw_col_int(s, c));
    }
    cw_code end = cw_stmt_end(s, err);
    code = code != CW_OK ? code : end;
    if (code == CW_OK && one && *count == 0)
        return cw_error_set(err, CW_NOT_FOUND, "no order has this name, e-mail address or number: %s",
                            cw_shown(ask->customer, strlen(ask->customer), shown));
    if (code == CW_OK && one && persons > 1)
        return cw_error_set(
            err, CW_CONFLICT,
            "more than one person has this name; say which by the e-mail address, or by name and "
            "postcode");
    return code == CW_OK ? cw_table_check(out, err) : code;
}

static cw_code refuse_open(const cw_table *found, cw_error *err)
{
    for (size_t i = 0; i < cw_table_rows(found); i++)
        if (strcmp(cw_table_text(found, i, 1), "open") == 0)
            return cw_error_set(err, CW_CONFLICT, "order %s is still open; ship or cancel it first",
                                cw_table_text(found, i, 0));
    return CW_OK;
}

static cw_code take_out(cw_nursery *n, int64_t id, cw_error *err)
{
    static const char *const steps[] = { "forgetting.blank",           "forgetting.events",
                                         "forgetting.notices",         "forgetting.claims",
                                         "forgetting.answers",         "forgetting.taken_back",
                                         "forgetting.holds",           "forgetting.forbidden",
                                         "forgetting.overruled_place", "forgetting.overruled_frost" };
    cw_code code = CW_OK;
    for (size_t i = 0; i < sizeof steps / sizeof steps[0] && code == CW_OK; i++)
        code = cw_stmt_run(cw_db_stmt(n->db, steps[i]), err, "i", id);
    return code;
}

/* The audit tells which orders, not who: a name there could never be taken out again. */
static cw_code forget(cw_nursery *n, const cw_asker *who, const char *why, const cw_table *found,
                      const int64_t *ids, cw_table *out, cw_error *err)
{
    size_t all = cw_table_rows(found);
    cw_code code = refuse_open(found, err);
    for (size_t i = 0; i < all && code == CW_OK; i++) {
        if (i % TELL_EVERY == 0)
            code = cw_asker_tell(who, "forgetting", i, all, err);
        if (code != CW_OK)
            break;
        cw_put_text(out, cw_table_text(found, i, 0));
        cw_put_text(out, cw_table_text(found, i, 1));
        code = take_out(n, ids[i], err);
        if (code == CW_OK)
            code = cw_audit_add(n->db, who->now, who->actor, "forget person", cw_table_text(found, i, 0),
                                NULL, why, err);
    }
    if (code == CW_OK)
        code = cw_table_check(out, err);
    return code == CW_OK && all > 0 ? cw_season_touch(n->db, false, true, err) : code;
}

static cw_code may_ask(const cw_asker *who, const cw_forget_ask *ask, cw_error *err)
{
    if (cw_owner_only(who, "take a person out of the orders", err) != CW_OK)
        return CW_FORBIDDEN;
    if (ask->customer == NULL && ask->before > who->today)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "before", "is a day to come");
    return CW_OK;
}

#define SHOWN (sizeof shown_columns / sizeof shown_columns[0])

cw_code cw_forgetting_preview(cw_nursery *n, const cw_asker *who, const cw_forget_ask *ask, cw_table *out,
                              cw_error *err)
{
    size_t count = 0;
    cw_table_init(out, shown_columns, SHOWN);
    cw_code code = may_ask(who, ask, err);
    return code == CW_OK ? find_orders(n, ask, NULL, &count, out, err) : code;
}

cw_code cw_forgetting(cw_nursery *n, const cw_asker *who, const cw_forget_ask *ask, cw_table *out,
                      cw_error *err)
{
    cw_table found = { 0 };
    size_t count = 0;
    int64_t *ids = NULL;
    cw_table_init(&found, shown_columns, SHOWN);
    cw_table_init(out, done_columns, sizeof done_columns / sizeof done_columns[0]);
    cw_code code = may_ask(who, ask, err);
    if (code == CW_OK)
        code = (ids = calloc(MOST_ORDERS, sizeof *ids)) ? cw_work_begin(n, err) : cw_error_memory(err);
    if (code == CW_OK) {
        code = find_orders(n, ask, ids, &count, &found, err);
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

cw_code cw_forgetting_wipe(cw_nursery *n, cw_instant now, cw_error *err)
{
    if (n->wipe_at == 0 || now < n->wipe_at)
        return CW_OK;
    cw_code code = cw_db_wipe(n->db, err);
    n->wipe_at = code == CW_OK ? 0 : now + AGAIN_MS;
    return code;
}
