/* SPDX-License-Identifier: MIT */
#include "desk/forgetting.h"

#include "desk/nursery_inside.h"
#include "store/audit.h"
#include "store/season.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define MOST_ORDERS 10000

static cw_code find_orders(cw_nursery *n, const char *customer, int64_t *ids, size_t *count, cw_table *out,
                           cw_error *err)
{
    cw_stmt *s = cw_db_stmt(n->db, "forgetting.find");
    cw_code code = cw_stmt_start(s, err, "t", customer);
    while (code == CW_OK && *count < MOST_ORDERS && cw_stmt_next(s)) {
        if (strcmp(cw_col_text(s, 2), "open") == 0) {
            code = cw_error_set(err, CW_CONFLICT, "order %s is still open; ship or cancel it first",
                                cw_col_text(s, 1));
            break;
        }
        ids[(*count)++] = cw_col_int(s, 0);
        cw_put_text(out, cw_col_text(s, 1));
        cw_put_text(out, cw_col_text(s, 2));
    }
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}

static cw_code take_out(cw_nursery *n, int64_t id, cw_error *err)
{
    static const char *const steps[] = { "forgetting.blank", "forgetting.events", "forgetting.notices",
                                         "forgetting.claims", "forgetting.answers" };
    cw_code code = CW_OK;
    for (size_t i = 0; i < sizeof steps / sizeof steps[0] && code == CW_OK; i++)
        code = cw_stmt_run(cw_db_stmt(n->db, steps[i]), err, "i", id);
    return code;
}

/* The audit tells which orders, not who: a name there could never be taken out again. */
static cw_code forget(cw_nursery *n, const cw_asker *who, const char *customer, int64_t *ids, cw_table *out,
                      cw_error *err)
{
    size_t count = 0;
    char shown[80];
    cw_code code = find_orders(n, customer, ids, &count, out, err);
    if (code == CW_OK)
        code = cw_table_check(out, err);
    if (code == CW_OK && count == 0)
        code = cw_error_set(err, CW_NOT_FOUND, "no order has this name, e-mail address or number: %s",
                            cw_shown(customer, strlen(customer), shown));
    for (size_t i = 0; i < count && code == CW_OK; i++) {
        code = take_out(n, ids[i], err);
        if (code == CW_OK)
            code = cw_audit_add(n->db, who->now, who->actor, "forget person", cw_table_text(out, i, 0), NULL,
                                NULL, err);
    }
    return code == CW_OK ? cw_season_touch(n->db, false, true, err) : code;
}

cw_code cw_forgetting(cw_nursery *n, const cw_asker *who, const char *customer, cw_table *out, cw_error *err)
{
    static const cw_column columns[] = { { "order", CW_TEXT_T, 0 }, { "state", CW_TEXT_T, 0 } };
    cw_table_init(out, columns, sizeof columns / sizeof columns[0]);
    if (who->role != CW_ROLE_OWNER)
        return cw_error_set(err, CW_FORBIDDEN, "only the owner may take a person out of the orders");
    int64_t *ids = calloc(MOST_ORDERS, sizeof *ids);
    cw_code code = ids ? cw_work_begin(n, err) : cw_error_memory(err);
    if (code == CW_OK)
        code = cw_work_end(n, forget(n, who, customer, ids, out, err), err);
    free(ids);
    return code;
}
