/* SPDX-License-Identifier: MIT */
#include "store/audit.h"

#include "base/digest.h"
#include "base/text.h"
#include "columns/audit.h"
#include "store/statement_inside.h"
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

typedef struct entry {
    cw_instant at;
    const char *actor, *action, *subject, *before, *after;
} entry;

static void hash_entry(const char *previous, const entry *e, char out[65])
{
    cw_digest d;
    cw_digest_init(&d);
    cw_digest_add_text(&d, previous);
    cw_digest_add_int(&d, e->at);
    cw_digest_add_text(&d, e->actor);
    cw_digest_add_text(&d, e->action);
    cw_digest_add_text(&d, e->subject);
    cw_digest_add_text(&d, e->before);
    cw_digest_add_text(&d, e->after);
    cw_digest_end(&d, out);
}

cw_code cw_audit_add(cw_db *db, cw_instant at, const char *actor, const char *action, const char *subject,
                     const char *before, const char *after, cw_error *err)
{
    char previous[65] = "", hash[65];
    bool found = false;
    cw_stmt *last = cw_db_stmt(db, "audit.last");
    cw_code code = cw_stmt_one(last, &found, err, "");
    if (code == CW_OK && found)
        cw_copy(previous, sizeof previous, cw_col_text(last, audit_last_hash));
    cw_code end = cw_stmt_end(last, err);
    if (code != CW_OK || end != CW_OK)
        return code != CW_OK ? code : end;
    hash_entry(previous, &(entry){ at, actor, action, subject, before, after }, hash);
    return cw_stmt_run(cw_db_stmt(db, "audit.add"), err, "itttttt", (int64_t)at, actor, action, subject,
                       before, after, hash);
}

cw_code cw_audit_check(cw_db *db, void (*report)(void *, const char *), void *context, long *broken,
                       char last[65], cw_error *err)
{
    cw_stmt *s = cw_db_stmt(db, "audit.all");
    *broken = 0;
    last[0] = '\0';
    cw_code code = cw_stmt_start(s, err, "");
    while (code == CW_OK && cw_stmt_next(s)) {
        char hash[65], sentence[160];
        entry e = { cw_col_int(s, audit_all_at),      cw_col_text(s, audit_all_actor),
                    cw_col_text(s, audit_all_action), cw_col_text(s, audit_all_subject),
                    cw_col_text(s, audit_all_before), cw_col_text(s, audit_all_after) };
        hash_entry(last, &e, hash);
        const char *stored = cw_col_text(s, audit_all_hash);
        if (stored == NULL || strcmp(hash, stored) != 0) {
            ++*broken;
            snprintf(sentence, sizeof sentence, "audit row %lld was changed, or a row before it is missing",
                     (long long)cw_col_int(s, audit_all_id));
            if (report)
                report(context, sentence);
        }
        cw_copy(last, 65, stored ? stored : "");
    }
    cw_code end = cw_stmt_end(s, err);
    return code != CW_OK ? code : end;
}
