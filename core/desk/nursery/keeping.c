/* SPDX-License-Identifier: MIT */
#include "desk/nursery/keeping.h"

#include "base/text.h"
#include "desk/nursery/nursery_inside.h"
#include "store/audit.h"

#include "base/banned.h"

static bool tell_pages(void *context, int64_t done, int64_t all)
{
    const cw_asker *who = context;
    return who->progress(who->progress_context, "copying", (uint64_t)done, (uint64_t)all);
}

cw_code cw_keeping_backup(cw_nursery *n, const cw_asker *who, const char *path, cw_error *err)
{
    return cw_db_backup(n->db, path, who->progress ? tell_pages : NULL, (void *)(uintptr_t)who, err);
}

typedef struct findings {
    cw_table *out;
    const char *area;
} findings;

static void put_finding(void *context, const char *sentence)
{
    findings *f = context;
    cw_put_text(f->out, f->area);
    cw_put_text(f->out, sentence);
}

cw_code cw_keeping_check(cw_nursery *n, cw_table *out, char last[65], cw_error *err)
{
    static const cw_column columns[] = { { "area", CW_TEXT_T, 0 }, { "finding", CW_TEXT_T, 0 } };
    findings f = { .out = out };
    long broken = 0;
    last[0] = '\0';
    cw_table_init(out, columns, sizeof columns / sizeof columns[0]);
    f.area = "file";
    cw_code code = cw_db_integrity(n->db, put_finding, &f, &broken, err);
    f.area = "records";
    if (code == CW_OK)
        code = cw_db_check(n->db, put_finding, &f, &broken, err);
    f.area = "audit";
    if (code == CW_OK)
        code = cw_audit_check(n->db, put_finding, &f, &broken, last, err);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

static void first_finding(void *context, const char *sentence)
{
    char *first = context;
    if (first[0] == '\0')
        cw_copy(first, 400, sentence);
}

/* The copy keeps the rules of the ledger and the audit, too, not only SQLite's. */
static cw_code keeps_rules(const char *copy, cw_error *err)
{
    cw_db *db = NULL;
    char first[400] = "", last[65];
    long broken = 0, more = 0;
    cw_code code = cw_db_open(copy, CW_DB_READ, NULL, &db, err);
    if (code == CW_OK)
        code = cw_db_check(db, first_finding, first, &broken, err);
    if (code == CW_OK)
        code = cw_audit_check(db, first_finding, first, &more, last, err);
    if (code == CW_OK && broken + more > 0)
        code = cw_error_at(err, CW_REFUSED, copy, 0, NULL, "breaks %ld rules (%s); nothing was changed",
                           broken + more, first);
    cw_db_close(db);
    return code;
}

cw_code cw_keeping_restore(const char *copy, const char *path, cw_error *err)
{
    int schema = 0;
    cw_code code = cw_db_schema_of(copy, &schema, err);
    /* A copy of an older program is held against the rules when it is opened and brought up to date. */
    if (code == CW_OK && schema == cw_db_schema_known())
        code = keeps_rules(copy, err);
    return code == CW_OK ? cw_db_restore(copy, path, err) : code;
}
