/* SPDX-License-Identifier: MIT */
#include "desk/share/arriving.h"

#include "base/grow.h"
#include "base/json.h"
#include "base/text.h"
#include "desk/share/standing_inside.h"
#include "store/allocations.h"
#include "store/audit.h"
#include "store/season.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* What those who wait leave of a variety. */
typedef struct spare {
    int64_t id, left;
    signed char shared; /* by a run that stands: yes 1, no 0, not looked up -1 */
    cw_last_rule rule;  /* of that run */
} spare;

/* Reading the whole book for each late order would cost a third of a second on a large file, so what is left stands here until
 * somebody else writes. */
struct cw_spare {
    size_t count;
    spare *of; /* ascending by id */
    int64_t stock, trade;
    cw_day today;
    uint64_t taken_back;
    bool good, projected;
    double confidence;
};

static void spare_free(struct cw_spare *s)
{
    if (s)
        free(s->of);
    free(s);
}

static int by_id(const void *a, const void *b)
{
    const spare *x = a, *y = b;
    return (x->id > y->id) - (x->id < y->id);
}

static spare *spare_of(const struct cw_spare *s, int64_t id)
{
    const spare key = { .id = id };
    return s->count ? bsearch(&key, s->of, s->count, sizeof *s->of, by_id) : NULL;
}

typedef struct arrived {
    cw_arrived_line line; /* its texts are owned */
    cw_last_rule rule;    /* in force for its variety */
    bool firm;
} arrived;

typedef struct arriving {
    arrived *line;
    size_t count, room;
} arriving;

static void arriving_free(arriving *a)
{
    for (size_t i = 0; i < a->count; i++) {
        free((void *)(uintptr_t)a->line[i].line.code);
        free((void *)(uintptr_t)a->line[i].line.order);
    }
    free(a->line);
}

static bool keep_line(void *context, const cw_arrived_line *line)
{
    arriving *a = context;
    if (!cw_grow(&a->line, a->count, &a->room, sizeof *a->line))
        return false;
    arrived *to = &a->line[a->count];
    *to = (arrived){ .line = *line };
    to->line.code = strdup(line->code);
    to->line.order = strdup(line->order);
    a->count++;
    return to->line.code && to->line.order;
}

cw_code cw_arriving_mark(cw_nursery *n, int64_t *mark, cw_error *err)
{
    cw_run_how how;
    bool found = false;
    *mark = -1;
    cw_code code = cw_runs_last(n->db, "allocate", &how, &found, err);
    return code == CW_OK && found ? cw_line_last(n->db, mark, err) : code;
}

static cw_code spare_read(cw_nursery *n, const cw_asker *who, struct cw_spare *s, cw_error *err)
{
    cw_allotting_ask ask;
    cw_basis basis;
    cw_standing *standing = NULL;
    cw_code code = cw_allotting_default(n, &ask, err);
    if (code == CW_OK)
        code = cw_basis_read(n, ask.projected, 0, &basis, err);
    if (code == CW_OK)
        code = cw_standing_look(n, who, &basis, &standing, err);
    if (code != CW_OK)
        return code;
    const cw_book *b = standing->book;
    free(s->of);
    s->of = calloc(b->varieties + 1, sizeof *s->of);
    s->count = s->of ? b->varieties : 0;
    for (size_t v = 0; v < s->count; v++)
        s->of[v] =
            (spare){ .id = b->variety[v].id, .left = standing->over[v] - b->variety[v].wanted, .shared = -1 };
    if (s->count)
        qsort(s->of, s->count, sizeof *s->of, by_id);
    s->projected = basis.projected;
    s->confidence = basis.confidence;
    bool had_room = s->of != NULL;
    cw_standing_free(standing);
    return had_room ? CW_OK : cw_error_memory(err);
}

/* What was left before these lines came. */
static cw_code spare_before(cw_nursery *n, const cw_asker *who, int64_t writes, const arriving *a,
                            struct cw_spare **out, cw_error *err)
{
    int64_t stock = 0, trade = 0;
    struct cw_spare *s = n->spare ? n->spare : calloc(1, sizeof *s);
    if (s == NULL)
        return cw_error_memory(err);
    n->spare = *out = s;
    n->spare_free = spare_free;
    cw_code code = cw_season_revision(n->db, &stock, &trade, err);
    if (code == CW_OK && s->good && s->stock == stock && s->trade + writes == trade &&
        s->today == who->today && s->taken_back == n->taken_back)
        return CW_OK;
    s->good = false;
    if (code == CW_OK)
        code = spare_read(n, who, s, err);
    for (size_t i = 0; i < a->count && code == CW_OK; i++) {
        spare *of = spare_of(s, a->line[i].line.variety_id);
        if (of)
            of->left += a->line[i].line.quantity;
    }
    return code;
}

static cw_code was_shared(cw_nursery *n, spare *of, const char *code_, bool *out, cw_error *err)
{
    cw_run_how how;
    bool found = false;
    cw_code code = of->shared < 0 ? cw_runs_last_of(n->db, code_, &how, &found, err) : CW_OK;
    if (code == CW_OK && of->shared < 0) {
        of->shared = found;
        code = cw_last_rule_read(n, code_, &of->rule, err);
    }
    *out = of->shared > 0;
    return code;
}

/* Lines i .. end - 1 are of one order. Decides which lines are promised, and takes what all of them ask from the spare, so
 * that nobody overtakes a line that waits. */
static cw_code decide_order(cw_nursery *n, const struct cw_spare *s, arriving *a, size_t i, size_t end,
                            cw_error *err)
{
    bool all = true;
    for (size_t k = i; k < end; k++) {
        arrived *l = &a->line[k];
        spare *of = spare_of(s, l->line.variety_id);
        bool shared = false;
        cw_code code = of ? was_shared(n, of, l->line.code, &shared, err) : CW_OK;
        if (code != CW_OK)
            return code;
        l->rule = of ? of->rule : l->rule;
        l->firm = shared && of->left >= l->line.quantity && !l->line.rest;
        all = all && l->firm;
        if (of)
            of->left -= l->line.quantity;
    }
    for (size_t k = i; k < end; k++)
        a->line[k].firm = a->line[k].firm && (all || !a->line[k].line.ship_complete);
    return CW_OK;
}

typedef struct source {
    const arriving *a;
    size_t at;
    cw_share_rule rule;
    bool tiers_first;
} source;

static int by_row(const void *a, const void *b)
{
    const arrived *x = a, *y = b;
    return (x->line.id > y->line.id) - (x->line.id < y->line.id);
}

static bool by_this(const source *f, const arrived *l)
{
    return l->firm && l->rule.rule == f->rule && l->rule.tiers_first == f->tiers_first;
}

static bool next_promise(void *context, cw_promise *out)
{
    source *f = context;
    while (f->at < f->a->count && !by_this(f, &f->a->line[f->at]))
        f->at++;
    if (f->at == f->a->count)
        return false;
    const cw_arrived_line *l = &f->a->line[f->at++].line;
    const cw_share_outcome o = { .allocated = (int32_t)l->quantity,
                                 .need = (int32_t)l->quantity,
                                 .cause = -1,
                                 .reason = CW_SHARE_FULL,
                                 .rule = (uint8_t)f->rule,
                                 .tier = l->tier,
                                 .tiers_first = f->tiers_first };
    *out = (cw_promise){
        .line = l->id, .variety = l->variety_id, .quantity = l->quantity, .kind = CW_PROMISE_OWN
    };
    cw_why_pack(&o, 0, &out->why);
    return true;
}

/* Lines under one rule become one run of that rule: the next sharing of the variety follows the same rule. */
static cw_code make_firm_by(cw_nursery *n, const cw_asker *who, const struct cw_spare *s, const arriving *a,
                            cw_last_rule rule, cw_arriving_done *out, cw_error *err)
{
    source f = { a, 0, rule.rule, rule.tiers_first };
    char after[160];
    cw_run_row run = { .at = who->now,
                       .actor = who->actor,
                       .what = "allocate",
                       .rule = cw_rule_text(rule.rule, rule.tiers_first),
                       .supply = s->projected ? "projected" : "counted",
                       .confidence = s->projected ? s->confidence : -1,
                       .digest = "" /* nobody was shown a preview */ };
    for (size_t i = 0; i < a->count; i++) {
        run.lines += by_this(&f, &a->line[i]);
        run.placed += by_this(&f, &a->line[i]) ? a->line[i].line.quantity : 0;
    }
    if (run.lines == 0)
        return CW_OK;
    cw_code code = cw_runs_add(n->db, &run, err);
    out->run = run.id;
    if (code == CW_OK)
        code = cw_promises_add(n->db, run.id, next_promise, &f, err);
    snprintf(after, sizeof after, "run %lld: %s, %s, %lld line%s that came late, %lld placed",
             (long long)run.id, run.rule, run.supply, (long long)run.lines, CW_S(run.lines),
             (long long)run.placed);
    return code == CW_OK
               ? cw_audit_add(n->db, who->now, who->actor, "allocate", "late orders", NULL, after, err)
               : code;
}

static cw_code make_firm(cw_nursery *n, const cw_asker *who, const struct cw_spare *s, arriving *a,
                         cw_arriving_done *out, cw_error *err)
{
    cw_code code = CW_OK;
    qsort(a->line, a->count, sizeof *a->line, by_row);
    for (int rule = 0; rule < CW_SHARE_RULES && code == CW_OK; rule++) {
        code = make_firm_by(n, who, s, a, (cw_last_rule){ (cw_share_rule)rule, false }, out, err);
        if (code == CW_OK)
            code = make_firm_by(n, who, s, a, (cw_last_rule){ (cw_share_rule)rule, true }, out, err);
    }
    return code == CW_OK ? cw_season_touch(n->db, false, true, err) : code;
}

static cw_code tell(const arriving *a, json_t *told, cw_error *err)
{
    for (size_t i = 0; told && i < a->count; i++) {
        const cw_arrived_line *l = &a->line[i].line;
        char say[200];
        json_t *order = json_object_get(told, l->order), *put = NULL;
        if (order == NULL) {
            order = json_pack("{s:I,s:[]}", "firm", (json_int_t)0, "waits");
            if (order == NULL || json_object_set_new(told, l->order, order) != 0)
                return cw_error_memory(err);
        }
        snprintf(say, sizeof say, "Line %d waits for the next sharing of %s.", l->line, l->code);
        int rc = 0;
        if (a->line[i].firm) {
            put = json_integer(json_integer_value(json_object_get(order, "firm")) + (json_int_t)l->quantity);
            rc = json_object_set_new(order, "firm", put);
        } else {
            rc = json_array_append_new(json_object_get(order, "waits"), json_string(say));
        }
        if (rc != 0)
            return cw_error_memory(err);
    }
    return CW_OK;
}

/* Inside the work. */
static cw_code promise(cw_nursery *n, const cw_asker *who, struct cw_spare *s, arriving *a,
                       cw_arriving_done *out, cw_error *err)
{
    cw_code code = CW_OK;
    for (size_t i = 0, end = 0; i < a->count && code == CW_OK; i = end) {
        for (end = i; end < a->count && a->line[end].line.order_id == a->line[i].line.order_id;)
            end++;
        code = decide_order(n, s, a, i, end, err);
    }
    for (size_t i = 0; i < a->count; i++) {
        out->lines += a->line[i].firm;
        out->firm += a->line[i].firm ? a->line[i].line.quantity : 0;
        out->waiting += !a->line[i].firm;
    }
    return code == CW_OK && out->lines > 0 ? make_firm(n, who, s, a, out, err) : code;
}

cw_code cw_arriving_promise(cw_nursery *n, const cw_asker *who, int64_t mark, int64_t writes, json_t *told,
                            cw_arriving_done *out, cw_error *err)
{
    arriving a = { NULL, 0, 0 };
    struct cw_spare *s = NULL;
    *out = (cw_arriving_done){ 0 };
    if (mark < 0)
        return CW_OK;
    cw_code code = cw_arrived_each(n->db, mark, keep_line, &a, err);
    if (code == CW_OK && a.count > 0)
        code = spare_before(n, who, writes, &a, &s, err);
    if (code == CW_OK && s) {
        s->good = false;
        code = cw_work_begin(n, err);
        if (code == CW_OK)
            code = cw_work_end(n, promise(n, who, s, &a, out, err), err);
    }
    if (code == CW_OK && s)
        code = tell(&a, told, err);
    if (code == CW_OK &&
        s) { /* what was promised stands, also when this cannot be read: then the sums are made anew */
        cw_error ignored = CW_ERROR_NONE;
        s->today = who->today;
        s->taken_back = n->taken_back;
        s->good = cw_season_revision(n->db, &s->stock, &s->trade, &ignored) == CW_OK;
    }
    if (code != CW_OK && n->spare) {
        spare_free(n->spare);
        n->spare = NULL;
    }
    arriving_free(&a);
    return code;
}
