/* SPDX-License-Identifier: MIT */
/* What was asked for, then what it came from, then what came of it: first what somebody wrote down, then what may be. */
#include "desk/stock/lineage_inside.h"

#include "base/grow.h"
#include "base/text.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define MOST 5000 /* relatives of one lot: more than ten seasons of a variety have */

void cw_family_free(cw_family *f)
{
    free(f->of);
    *f = (cw_family){ 0 };
}

/* What is asked for again as a descendant is one, wherever it was found first. */
static bool is_there(cw_family *f, const cw_relative *r)
{
    for (size_t i = 0; i < f->count; i++) {
        cw_relative *o = &f->of[i];
        if (o->file == r->file && o->kind == r->kind && o->is.id == r->is.id && r->is.id != 0) {
            if (o->way == CW_KIN_FROM)
                o->way = r->way;
            return true;
        }
    }
    return false;
}

static void add(cw_family *f, const cw_relative *r)
{
    f->too_many = f->too_many || f->count == MOST;
    if (f->failed || f->too_many || is_there(f, r))
        return;
    f->failed = !cw_grow(&f->of, f->count, &f->room, sizeof *f->of);
    if (!f->failed)
        f->of[f->count++] = *r;
}

/* A row becomes the relative that f->next describes. */
static bool take(void *context, const cw_kin *kin)
{
    cw_family *f = context;
    cw_relative r = f->next;
    r.is = *kin;
    add(f, &r);
    return !f->failed && !f->too_many;
}

static cw_db *db_of(const cw_family *f, size_t file)
{
    return cw_past_at(f->n, file)->db;
}

static int season_of(const cw_family *f, size_t file)
{
    return cw_past_at(f->n, file)->season.season;
}

/* SIZE_MAX: that season's file is not beside. */
static size_t file_of(const cw_family *f, int season)
{
    for (size_t i = 0; i < cw_past_count(f->n); i++)
        if (season_of(f, i) == season)
            return i;
    return SIZE_MAX;
}

static cw_code lots(cw_family *f, size_t file, cw_lots_of of, cw_error *err)
{
    f->next.file = file;
    f->next.season = season_of(f, file);
    f->next.kind = CW_KIN_LOT;
    return cw_lineage_lots(db_of(f, file), &of, take, f, err);
}

static cw_code plantings(cw_family *f, size_t file, cw_plantings_of of, cw_error *err)
{
    f->next.file = file;
    f->next.season = season_of(f, file);
    f->next.kind = CW_KIN_PLANTING;
    return cw_lineage_plantings(db_of(f, file), &of, take, f, err);
}

/* The code by which another file knows the variety: one that either of them ever used. */
typedef struct naming {
    cw_db *there;
    char found[CW_MAX_CODE + 1];
    cw_code code;
    cw_error *err;
} naming;

static bool first_code(void *context, const char *code)
{
    naming *m = context;
    cw_copy(m->found, sizeof m->found, code);
    return false;
}

static bool try_code(void *context, const char *code)
{
    naming *m = context;
    m->code = cw_lineage_codes(m->there, code, first_code, m, m->err);
    return m->code == CW_OK && m->found[0] == '\0';
}

static cw_code code_there(cw_family *f, size_t here, const char *code, size_t there,
                          char out[CW_MAX_CODE + 1], cw_error *err)
{
    naming m = { .there = db_of(f, there), .code = CW_OK, .err = err };
    cw_copy(out, CW_MAX_CODE + 1, code);
    if (here == there)
        return CW_OK;
    cw_code done = cw_lineage_codes(db_of(f, here), code, try_code, &m, err);
    cw_copy(out, CW_MAX_CODE + 1, m.found);
    return done == CW_OK ? m.code : done;
}

static cw_code ask_roots(cw_family *f, const cw_lineage_ask *ask, cw_error *err)
{
    const char *what = ask->lot ? "lot" : ask->row ? "row" : "lot that went to order";
    const char *key = ask->lot ? ask->lot : ask->row ? ask->row : ask->order;
    char shown[80];
    size_t file = file_of(f, ask->season ? ask->season : f->n->season.season);
    if (file == SIZE_MAX)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "season", "no file of this season is beside: %d",
                           ask->season);
    f->next = (cw_relative){ .way = CW_KIN_ASKED, .under = SIZE_MAX, .sure = true };
    cw_code code = CW_OK;
    if (ask->row)
        code = plantings(f, file, (cw_plantings_of){ .row = ask->row }, err);
    if (code == CW_OK)
        code = lots(f, file, (cw_lots_of){ .code = ask->lot, .row = ask->row, .order = ask->order }, err);
    if (code == CW_OK && f->count == 0 && !f->failed)
        code = cw_error_set(err, CW_NOT_FOUND, "there is no %s %s in the season of %d", what,
                            cw_shown(key, strlen(key), shown), season_of(f, file));
    return code;
}

/* The season of the lot that was planted, and its file. A planting that does not name it means the season before it. */
static int season_before(const cw_family *f, const cw_relative *c, size_t *file)
{
    bool named = c->kind == CW_KIN_PLANTING && c->is.of_season != 0;
    int season = !named ? c->season - 1 : c->is.of_season < 0 ? c->season : c->is.of_season;
    if (!named && file_of(f, season) == SIZE_MAX && c->file > 0)
        season = season_of(f, c->file - 1); /* the nearest one beside */
    *file = file_of(f, season);
    return season;
}

/* Where the file is not beside, or nobody wrote it down: how far it is known. */
static cw_code add_end(cw_family *f, const cw_relative *child, cw_error *err)
{
    const char *lot = child->kind == CW_KIN_PLANTING ? child->is.lot : "";
    cw_relative r = {
        .kind = lot[0] ? CW_KIN_LOT : CW_KIN_VARIETY, .way = CW_KIN_FROM, .under = SIZE_MAX, .sure = true
    };
    r.season = season_before(f, child, &r.file);
    r.is.day = CW_NO_DAY;
    r.is.quantity = -1;
    cw_copy(r.is.code, sizeof r.is.code, lot);
    cw_copy(r.is.variety, sizeof r.is.variety, child->is.variety);
    cw_copy(r.is.name, sizeof r.is.name, child->is.name);
    cw_code code = CW_OK;
    char there[CW_MAX_CODE + 1] = "";
    if (r.file != SIZE_MAX)
        code = code_there(f, child->file, child->is.variety, r.file, there, err);
    if (there[0])
        cw_copy(r.is.variety, sizeof r.is.variety, there);
    add(f, &r);
    return code;
}

static cw_code add_parent(cw_family *f, size_t i, cw_error *err)
{
    const cw_relative c = f->of[i];
    size_t file = SIZE_MAX, before = f->count;
    cw_code code = CW_OK;
    f->next = (cw_relative){ .way = CW_KIN_FROM, .under = SIZE_MAX, .sure = true };
    season_before(f, &c, &file);
    if (c.kind == CW_KIN_LOT && c.is.split_of)
        code = lots(f, c.file, (cw_lots_of){ .id = c.is.split_of }, err);
    else if (c.kind == CW_KIN_LOT && c.is.planting)
        code = plantings(f, c.file, (cw_plantings_of){ .id = c.is.planting }, err);
    else if (c.kind == CW_KIN_PLANTING && c.is.lot[0] && file != SIZE_MAX)
        code = lots(f, file, (cw_lots_of){ .code = c.is.lot }, err);
    return code == CW_OK && f->count == before ? add_end(f, &c, err) : code;
}

/* Two that were asked for may come from one. */
static bool is_parent(const cw_family *f, const cw_relative *p, const cw_relative *c)
{
    size_t file = SIZE_MAX;
    int season = season_before(f, c, &file);
    if (c->kind == CW_KIN_LOT && c->is.split_of)
        return p->kind == CW_KIN_LOT && p->file == c->file && p->is.id == c->is.split_of;
    if (c->kind == CW_KIN_LOT && c->is.planting)
        return p->kind == CW_KIN_PLANTING && p->file == c->file && p->is.id == c->is.planting;
    if (c->kind == CW_KIN_PLANTING && c->is.lot[0])
        return p->kind == CW_KIN_LOT && p->season == season && strcmp(p->is.code, c->is.lot) == 0;
    return p->kind == CW_KIN_VARIETY && p->season == season && strcmp(p->is.name, c->is.name) == 0;
}

/* Upwards from each that was asked for, until nothing more is known. */
static cw_code ancestors(cw_family *f, cw_error *err)
{
    cw_code code = CW_OK;
    for (size_t i = 0; code == CW_OK && i < f->count && !f->failed; i++) {
        size_t p = 0;
        if (f->of[i].is.day == CW_NO_DAY) /* an end */
            continue;
        while (p < f->count && !is_parent(f, &f->of[p], &f->of[i]))
            p++;
        if (p == f->count)
            code = add_parent(f, i, err);
        f->of[i].under = p < f->count ? p : SIZE_MAX;
    }
    return code;
}

/* Where somebody wrote it down: the plantings of a lot in this file and in later ones, the lots of a planting. */
static cw_code children(cw_family *f, size_t i, cw_error *err)
{
    const cw_relative r = f->of[i];
    f->next = (cw_relative){ .way = CW_KIN_CAME, .under = i, .sure = r.sure };
    if (r.kind == CW_KIN_PLANTING)
        return r.is.id && r.is.of_season >= 0 ? lots(f, r.file, (cw_lots_of){ .planting = r.is.id }, err)
                                              : CW_OK;
    size_t files = cw_past_count(f->n);
    cw_code code = lots(f, r.file, (cw_lots_of){ .split_of = r.is.id }, err);
    for (size_t to = r.file + 1; code == CW_OK && to < files; to++)
        code = plantings(
            f, to, (cw_plantings_of){ .lot = r.is.code, .season = r.season, .before = to == r.file + 1 },
            err);
    if (code == CW_OK && r.file + 1 == files) /* the season after has no file yet */
        code = plantings(f, r.file, (cw_plantings_of){ .own = r.is.code }, err);
    return code;
}

/* Where nobody did: what the next file has of the variety, and does not say of what it came. */
static cw_code may_be(cw_family *f, size_t i, const char *variety, cw_error *err)
{
    const cw_relative r = f->of[i];
    char code[CW_MAX_CODE + 1] = "";
    if (r.kind != CW_KIN_LOT || r.file + 1 >= cw_past_count(f->n) || variety[0] == '\0')
        return CW_OK;
    f->next = (cw_relative){ .way = CW_KIN_CAME, .under = i, .sure = false };
    cw_code done = code_there(f, r.file, variety, r.file + 1, code, err);
    if (done == CW_OK && code[0])
        done = plantings(f, r.file + 1, (cw_plantings_of){ .variety = code }, err);
    if (done == CW_OK && code[0])
        done = lots(f, r.file + 1, (cw_lots_of){ .variety = code }, err);
    return done;
}

static cw_code follow(cw_family *f, size_t i, bool guess, bool *did, cw_error *err)
{
    cw_relative *r = &f->of[i];
    cw_code code = CW_OK;
    if (r->way == CW_KIN_FROM || f->failed)
        return CW_OK;
    if (!r->followed) {
        r->followed = *did = true;
        code = children(f, i, err);
    }
    if (code == CW_OK && guess && !f->of[i].guessed) {
        const cw_kin is = f->of[i].is;
        f->of[i].guessed = *did = true;
        code = may_be(f, i, is.variety, err);
        if (code == CW_OK)
            code = may_be(f, i, is.was, err);
    }
    return code;
}

/* What came of what was asked for. The sure ones first, so that what is both is told as sure. */
static cw_code descendants(cw_family *f, cw_error *err)
{
    cw_code code = CW_OK;
    for (int guess = 0; guess < 2; guess++)
        for (bool did = true; did && code == CW_OK;) {
            did = false;
            for (size_t i = 0; code == CW_OK && i < f->count; i++)
                code = follow(f, i, guess, &did, err);
        }
    return code;
}

cw_code cw_family_find(cw_nursery *n, const cw_lineage_ask *ask, cw_family *out, cw_error *err)
{
    *out = (cw_family){ .n = n };
    cw_code code = ask_roots(out, ask, err);
    if (code == CW_OK)
        code = ancestors(out, err);
    if (code == CW_OK)
        code = descendants(out, err);
    if (code == CW_OK && out->failed)
        code = cw_error_memory(err);
    if (code == CW_OK && out->too_many)
        code = cw_error_set(err, CW_REFUSED,
                            "more than %d lots and rows hang together; ask for one further down", MOST);
    return code;
}
