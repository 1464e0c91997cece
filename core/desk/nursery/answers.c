/* SPDX-License-Identifier: MIT */
#include "desk/nursery/answers.h"

#include "desk/nursery/nursery_inside.h"
#include "base/limits.h"
#include "store/audit.h"
#include "store/people.h"
#include <stdio.h>

#include "base/banned.h"

cw_code cw_answers_find(cw_nursery *n, const char *key, bool *found, cw_answer *out, cw_error *err)
{
    return cw_answered_find(n->db, key, found, out->request, &out->status, &out->body, err);
}

cw_code cw_answers_keep(cw_nursery *n, const char *key, const char *request, unsigned status,
                        const char *body, cw_instant now, cw_error *err)
{
    cw_code code = cw_work_begin_after(n, err);
    return code == CW_OK ? cw_work_end(n, cw_answered_keep(n->db, key, request, status, body, now, err), err)
                         : code;
}

cw_code cw_answers_handed(cw_nursery *n, const cw_asker *who, const char *author, const char *what,
                          cw_error *err)
{
    char subject[CW_MAX_NAME + 20];
    snprintf(subject, sizeof subject, "entry of %.200s", author);
    cw_code code = cw_work_begin_after(n, err);
    if (code != CW_OK)
        return code;
    return cw_work_end(n, cw_audit_add(n->db, who->now, who->actor, "take over", subject, NULL, what, err),
                       err);
}

cw_code cw_answers_expire(cw_nursery *n, cw_instant now, cw_error *err)
{
    cw_code code = cw_work_begin_after(n, err);
    if (code != CW_OK)
        return code;
    return cw_work_end(n, cw_answered_forget(n->db, now - CW_ANSWERS_KEPT_DAYS * CW_DAY_MS, err), err);
}
