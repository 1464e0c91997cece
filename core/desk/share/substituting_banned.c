/* SPDX-License-Identifier: MIT */
#include "desk/share/substituting_inside.h"

#include "base/grow.h"
#include "base/limits.h"
#include "store/audit.h"
#include "store/orders.h"
#include "store/season.h"
#include <stdio.h>
#include <stdlib.h>

#include "base/banned.h"

/* What the office forbids a line to get, on record, until it is permitted again. */

typedef struct adding {
    cw_substituting *s;
    const cw_book_line **line; /* [book lines] by id; made when the first row comes, since mostly none does */
    size_t room;
    bool failed;
} adding;

static int by_id(const void *a, const void *b)
{
    int64_t x = (*(const cw_book_line *const *)a)->id, y = (*(const cw_book_line *const *)b)->id;
    return (x > y) - (x < y);
}

static bool index_lines(adding *f, const cw_book *book)
{
    f->line = malloc((book->lines + 1) * sizeof *f->line);
    if (f->line == NULL)
        return false;
    for (size_t k = 0; k < book->lines; k++)
        f->line[k] = &book->line[k];
    if (book->lines > 1)
        qsort(f->line, book->lines, sizeof *f->line, by_id);
    return true;
}

static uint32_t line_of(const adding *f, const cw_book *book, int64_t id)
{
    cw_book_line key = { .id = id };
    const cw_book_line *k = &key;
    const cw_book_line **found = bsearch(&k, f->line, book->lines, sizeof *f->line, by_id);
    return found ? (uint32_t)(*found - book->line) : CW_BOOK_NONE;
}

static void add_ban(void *context, const cw_forbidden_row *row)
{
    adding *f = context;
    cw_substituting *s = f->s;
    const cw_book *book = s->standing->book;
    f->failed = f->failed || (f->line == NULL && !index_lines(f, book)) ||
                !cw_grow(&s->ban, s->in.bans, &f->room, sizeof *s->ban);
    if (f->failed)
        return;
    uint32_t line = line_of(f, book, row->line_id), variety = cw_book_variety_of(book, row->variety);
    if (line != CW_BOOK_NONE && variety != CW_BOOK_NONE && s->item_of[line] != CW_BOOK_NONE)
        s->ban[s->in.bans++] = (cw_sub_ban){ s->item_of[line], variety };
}

cw_code cw_substituting_list_banned(cw_nursery *n, cw_substituting *s, cw_error *err)
{
    adding f = { s, NULL, s->standing->book->firms + 1, false };
    cw_code code = cw_forbidden_each(n->db, add_ban, &f, err);
    free(f.line);
    return code == CW_OK && f.failed ? cw_error_memory(err) : code;
}

/* Forbidding and permitting alike: a reason, an event of the order, the audit; every plan shown before is then out of date. */
static cw_code record(cw_nursery *n, const cw_asker *who, const cw_order_head *head,
                      const cw_order_line *line, const char *kind, const char *variety, const char *why,
                      cw_error *err)
{
    char subject[96];
    snprintf(subject, sizeof subject, "order %s line %d", head->number, line->line);
    cw_order_event e = { head->id, line->id, who->now, who->actor, kind, NULL, variety, why };
    cw_code code = cw_order_event_add(n->db, &e, err);
    if (code == CW_OK)
        code = cw_order_raise_version(n->db, head->id, err);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, kind, subject, variety, NULL,
                            err); /* why: with the order */
    return code == CW_OK ? cw_season_touch(n->db, false, true, err) : code;
}

static cw_code change(cw_nursery *n, const cw_asker *who, const char *order, int line, const char *variety,
                      const char *why, bool forbid, cw_error *err)
{
    cw_order_head head;
    cw_order_line l;
    cw_taking_back f = { .at = who->now, .actor = who->actor, .why = why };
    bool was = true;
    cw_code code = cw_order_line_find(n->db, order, line, &head, &l, err);
    if (code == CW_OK)
        code = cw_order_variety(n->db, variety, &f.variety, err);
    f.line = code == CW_OK ? l.id : 0;
    if (code == CW_OK)
        code =
            forbid ? cw_forbidden_add(n->db, &f, err) : cw_forbidden_drop(n->db, l.id, f.variety, &was, err);
    if (code == CW_OK && !was)
        code = cw_error_at(err, CW_NOT_FOUND, NULL, 0, "substitute", "it is not forbidden to this line");
    return code == CW_OK ? record(n, who, &head, &l, forbid ? "substitute forbidden" : "substitute permitted",
                                  variety, why, err)
                         : code;
}

static cw_code changed(cw_nursery *n, const cw_asker *who, const char *order, int line, const char *variety,
                       const char *why, bool forbid, cw_error *err)
{
    cw_code code = cw_office_only(who, "forbid or permit a substitute", err);
    if (code == CW_OK && (why == NULL || why[0] == '\0'))
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "why",
                           "forbidding or permitting a substitute needs a reason");
    if (code == CW_OK)
        code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    code = change(n, who, order, line, variety, why, forbid, err);
    return cw_work_end(n, code, err);
}

cw_code cw_substituting_ban(cw_nursery *n, const cw_asker *who, const char *order, int line,
                            const char *variety, const char *why, cw_error *err)
{
    return changed(n, who, order, line, variety, why, true, err);
}

cw_code cw_substituting_permit(cw_nursery *n, const cw_asker *who, const char *order, int line,
                               const char *variety, const char *why, cw_error *err)
{
    return changed(n, who, order, line, variety, why, false, err);
}

static void put_banned(void *context, const cw_forbidden_row *row)
{
    cw_table *out = context;
    cw_put_text(out, row->order);
    cw_put_int(out, row->line);
    cw_put_text(out, row->wanted);
    cw_put_text(out, row->variety);
    cw_put_int(out, row->at);
    cw_put_text(out, row->actor);
    cw_put_text(out, row->why);
}

static const cw_column substituting_banned_columns[] = {
    { "order", CW_TEXT_T },      { "line", CW_INT_T },   { "wanted", CW_TEXT_T, .null = true },
    { "substitute", CW_TEXT_T }, { "at", CW_INSTANT_T }, { "actor", CW_TEXT_T },
    { "why", CW_TEXT_T }
};
const cw_shape cw_substituting_banned_shape = CW_ROWS(substituting_banned_columns);

cw_code cw_substituting_banned(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err)
{
    cw_table_init(out, substituting_banned_columns, CW_WIDTH(substituting_banned_columns));
    cw_code code = cw_office_only(who, "see what is forbidden", err);
    if (code == CW_OK)
        code = cw_forbidden_each(n->db, put_banned, out, err);
    return code == CW_OK ? cw_table_check(out, err) : code;
}
