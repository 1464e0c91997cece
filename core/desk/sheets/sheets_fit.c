/* SPDX-License-Identifier: MIT */
#include "desk/sheets/sheets_inside.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Which kind is it, and which of its columns is which of ours? For each kind the surest pairs of columns are taken one after the
 * other; the kind that is covered best by what is needed wins. */

#define MAYBE 0.45 /* from here on it is asked of, where ours is needed */

static double share_factor(long good, long all)
{
    double share = all ? (double)good / (double)all : 1;
    return share >= 0.8 ? 1 : share >= 0.5 ? 0.8 : 0.3;
}

/* Does what stands in the column speak for the column of ours? */
static double content(const cw_fitting *f, const cw_fit_column *c, const cw_kind_column *k)
{
    const cw_profile *p = &c->seen;
    long looked = p->filled < 2000 ? p->filled : 2000;
    if (p->filled == 0)
        return 0.85;
    switch (cw_column_is(k)) {
    case CW_IS_INT:
    case CW_IS_REAL:
    case CW_IS_MONEY:
        return share_factor(p->numbers, p->filled);
    case CW_IS_DAY:
    case CW_IS_PAST:
    case CW_IS_DATE:
    case CW_IS_INSTANT:
    case CW_IS_PAST_INSTANT:
        return share_factor(p->days, p->filled);
    case CW_IS_WEEK:
        return share_factor(p->weeks + p->days, p->filled);
    case CW_IS_COUNTRY:
        return share_factor(p->countries, looked);
    case CW_IS_VARIETY:
        if (p->texts_with_counts * 2 > looked)
            return 1;
        if (p->varieties == 0 && (p->numbers + p->days) * 2 > p->filled)
            return 0.3;
        return f->varieties.on_record > 3 && p->varieties * 3 < looked ? 0.75 : 1;
    case CW_IS_LOT:
        return f->lots.on_record > 3 && p->lots * 3 < looked ? 0.75 : 1;
    case CW_IS_TEXT:
    case CW_IS_CODE:
        return p->days * 2 > p->filled                                      ? 0.4
               : strcmp(k->name, "name") == 0 && p->numbers * 2 > p->filled ? 0.4
                                                                            : 1;
    default:
        return 1;
    }
}

/* Without a word in the heading: what stands there must be known nearly throughout. */
static double by_content(const cw_fit_column *c, const cw_kind_column *k)
{
    const cw_profile *p = &c->seen;
    long looked = p->filled < 2000 ? p->filled : 2000;
    long known = cw_column_is(k) == CW_IS_VARIETY ? p->varieties
                 : cw_column_is(k) == CW_IS_LOT   ? p->lots
                 : cw_column_is(k) == CW_IS_PLACE ? p->places
                                                  : 0;
    if (cw_column_is(k) == CW_IS_COUNTRY)
        return looked >= 3 && p->countries * 10 >= looked * 9 ? 0.65 : 0;
    if (looked >= 3 && known * 10 >= looked * 9)
        return 0.7;
    bool day =
        k->need == CW_NEEDED &&
        (cw_column_is(k) == CW_IS_PAST || cw_column_is(k) == CW_IS_DAY || cw_column_is(k) == CW_IS_INSTANT ||
         cw_column_is(k) == CW_IS_PAST_INSTANT || cw_column_is(k) == CW_IS_DATE);
    return day && looked >= 2 && p->days * 10 >= p->filled * 9 ? 0.5 : 0;
}

double cw_fit_pair(const cw_fitting *f, int kind, size_t column, const cw_fit_column *c, cw_how *how)
{
    const cw_kind_column *k = &cw_kinds[kind].columns[column];
    double word = cw_words_match(kind, column, c, how), fits = content(f, c, k);
    /* A heading that says it outright stands against cells that do not fit: those are wrong, and told. */
    double sure = word * (word >= 0.9 && fits < 0.75 ? 0.75 : fits);
    if (cw_words_buyers_name(f, kind, column, c))
        sure *= 0.9;
    double seen = by_content(c, k);
    if (seen > sure) {
        *how = CW_HOW_CONTENT;
        return seen;
    }
    /* Degrees: the unit tells which of the two it is. */
    if (strcmp(k->name, "temp_c") == 0 && strcmp(c->unit, "f") == 0)
        return 0;
    return strcmp(k->name, "temp_f") == 0 && strcmp(c->unit, "c") == 0 ? 0 : sure;
}

/* Items in columns of their own, "Item 2" and "Qty 2", are an order's. */
static bool may_group(int kind, const cw_kind_column *k)
{
    return kind == CW_ORDERS && (cw_column_is(k) == CW_IS_VARIETY || strcmp(k->name, "quantity") == 0 ||
                                 strcmp(k->name, "unit_price") == 0);
}

/* Said by somebody, or kept from before: not to be found out. */
bool cw_fit_fixed(const cw_fitting *f, unsigned c)
{
    return f->columns[c].how == CW_HOW_TOLD || f->columns[c].how == CW_HOW_KEPT;
}

typedef struct tried {
    cw_target to[CW_MAX_SHEET_COLUMNS];
    double sure[CW_MAX_SHEET_COLUMNS];
    cw_how how[CW_MAX_SHEET_COLUMNS];
    bool grouped[CW_MAX_SHEET_COLUMNS], heads[CW_MAX_SHEET_COLUMNS];
    bool may_head[CW_MAX_SHEET_COLUMNS]; /* headings that nobody knows: to be asked */
    double score;
    int used, missing;
    int open; /* columns that it would have if their headings are varieties */
    bool starved;
} tried;

static bool is_taken(const cw_fitting *f, const tried *t, int kind, size_t column, unsigned c)
{
    bool group = may_group(kind, &cw_kinds[kind].columns[column]) && f->columns[c].group > 0;
    for (unsigned i = 0; i < f->width; i++)
        if (cw_target_same(t->to[i], (cw_target){ kind, (int)column }) &&
            !(group && t->grouped[i] && f->columns[i].group != f->columns[c].group))
            return true;
    return false;
}

static void assign(const cw_fitting *f, int kind, double least, tried *t)
{
    double *all = calloc((size_t)f->width * CW_MAX_KIND_COLUMNS, sizeof *all);
    cw_how *how = calloc((size_t)f->width * CW_MAX_KIND_COLUMNS, sizeof *how);
    const size_t wide = cw_kinds[kind].width;
    for (unsigned c = 0; all && how && c < f->width; c++)
        for (size_t k = 0; k < wide && t->to[c].kind < 0 && !cw_fit_fixed(f, c); k++)
            all[c * wide + k] = cw_fit_pair(f, kind, k, &f->columns[c], &how[c * wide + k]);
    while (all && how) {
        double best = least;
        unsigned at = f->width;
        size_t of = 0;
        for (unsigned c = 0; c < f->width; c++)
            for (size_t k = 0; k < wide && t->to[c].kind < 0 && !cw_fit_fixed(f, c); k++)
                if (all[c * wide + k] > best + 1e-9 && !is_taken(f, t, kind, k, c)) {
                    best = all[c * wide + k];
                    at = c;
                    of = k;
                }
        if (at == f->width)
            break;
        t->to[at] = (cw_target){ kind, (int)of };
        t->sure[at] = best;
        t->how[at] = how[at * wide + of];
        t->grouped[at] = may_group(kind, &cw_kinds[kind].columns[of]) && f->columns[at].group > 0;
    }
    t->starved = t->starved || all == NULL || how == NULL;
    free(all);
    free(how);
}

/* What the program makes itself where no column tells it. */
bool cw_fit_makes(int kind, const char *name)
{
    return (kind == CW_VARIETIES && strcmp(name, "code") == 0) ||
           (kind == CW_LOTS && strcmp(name, "lot") == 0) ||
           (kind == CW_PLACES && strcmp(name, "walk_order") == 0) ||
           (kind == CW_ORDERS && strcmp(name, "line") == 0) ||
           (kind == CW_WEIGHINGS && strcmp(name, "sample") == 0);
}

/* What can be said once for all rows: when it was, which season, which stage. */
bool cw_fit_askable(const cw_kind_column *k)
{
    return cw_column_is(k) == CW_IS_PAST || cw_column_is(k) == CW_IS_DAY || cw_column_is(k) == CW_IS_WORD ||
           cw_column_is(k) == CW_IS_MONEY || cw_column_is(k) == CW_IS_INSTANT ||
           strcmp(k->name, "season") == 0 || strcmp(k->name, "room") == 0;
}

static bool has_target(const cw_fitting *f, const tried *t, int kind, size_t column)
{
    for (unsigned c = 0; c < f->width; c++)
        if (cw_target_same(t->to[c], (cw_target){ kind, (int)column }))
            return true;
    return cw_fit_constant(f, (cw_target){ kind, (int)column }) != NULL;
}

/* Columns that tell of the varieties or places that a row of another kind names. */
static void assign_beside(const cw_fitting *f, int kind, tried *t)
{
    bool variety = false, place = false;
    for (size_t k = 0; k < cw_kinds[kind].width; k++) {
        bool has = has_target(f, t, kind, k);
        variety = variety || (has && cw_column_is(&cw_kinds[kind].columns[k]) == CW_IS_VARIETY);
        place = place || (has && cw_column_is(&cw_kinds[kind].columns[k]) == CW_IS_PLACE);
    }
    if (variety && kind != CW_ORDERS)
        assign(f, CW_VARIETIES, 0.85, t);
    if (place)
        assign(f, CW_PLACES, 0.85, t);
    /* The place's own column is the row's; and a year beside a lot is not the variety's. */
    for (unsigned c = 0; c < f->width; c++) {
        static const char beside[] = " code name form size colour height_cm price room ";
        char name[64];
        if (t->to[c].kind < 0 || t->to[c].kind == kind || cw_fit_fixed(f, c))
            continue;
        snprintf(name, sizeof name, " %s ", cw_target_column(t->to[c])->name);
        if (strstr(beside, name) == NULL)
            t->to[c] = CW_NO_TARGET;
    }
}

static bool names_variety(const cw_fitting *f, const tried *t, int kind)
{
    for (size_t k = 0; k < cw_kinds[kind].width; k++)
        if (cw_column_is(&cw_kinds[kind].columns[k]) == CW_IS_VARIETY && has_target(f, t, kind, k))
            return true;
    return false;
}

/* Where no column names the variety, headings may: two that are on record are enough, with all that stands between them. */
static void assign_heads(const cw_fitting *f, int kind, tried *t)
{
    bool known = false, told = false;
    unsigned first = f->width, last = 0, sure = 0;
    const int counted = cw_fit_counted(kind);
    for (unsigned c = 0; c < f->width; c++)
        told = told || t->heads[c];
    if (counted < 0 || told || names_variety(f, t, kind))
        return;
    for (unsigned c = 0; c < f->width; c++)
        if (!cw_fit_fixed(f, c) && t->sure[c] < 0.9 && cw_fit_may_head(f, c, &known) && known) {
            first = first == f->width ? c : first;
            last = c;
            sure++;
        }
    for (unsigned c = 0; c < f->width; c++) {
        if (cw_fit_fixed(f, c) || t->sure[c] >= 0.9 || !cw_fit_may_head(f, c, &known))
            continue;
        if (sure < 2) {
            t->may_head[c] = t->to[c].kind < 0;
        } else if (known || (c > first && c < last && t->to[c].kind < 0)) {
            t->to[c] = (cw_target){ kind, counted };
            t->heads[c] = true;
            t->sure[c] = 0.9;
            t->how[c] = CW_HOW_CONTENT;
        }
    }
}

/* An order's number can be made where the row names a buyer and what is bought. */
static bool numbers_itself(const cw_fitting *f, const tried *t, int kind, const cw_kind_column *column)
{
    if (kind != CW_ORDERS || strcmp(column->name, "order") != 0)
        return false;
    bool buyer = has_target(f, t, kind, (size_t)cw_kind_column_named(kind, "customer")) ||
                 has_target(f, t, kind, (size_t)cw_kind_column_named(kind, "email"));
    bool heads = false;
    for (unsigned c = 0; c < f->width; c++)
        heads = heads || t->heads[c];
    return buyer && (heads || names_variety(f, t, kind));
}

/* What headings tell speaks for the kind once, however many there are. */
static bool score_heads(const cw_fitting *f, tried *t)
{
    int heads = 0, may = 0;
    for (unsigned c = 0; c < f->width; c++) {
        heads += t->heads[c];
        may += t->may_head[c];
    }
    t->score += heads ? 2 : 0;
    t->used += heads;
    t->open = may >= CW_FEW_HEADS ? may : 0;
    return heads > 0 || t->open > 0;
}

static void try_kind(const cw_fitting *f, int kind, tried *t)
{
    *t = (tried){ .score = 0 };
    for (unsigned c = 0; c < CW_MAX_SHEET_COLUMNS; c++)
        t->to[c] = CW_NO_TARGET;
    for (unsigned c = 0; c < f->width; c++) {
        int k = f->columns[c].to.kind;
        if (!cw_fit_fixed(f, c) || (k != kind && k != CW_VARIETIES && k != CW_PLACES))
            continue;
        t->to[c] = f->columns[c].to;
        t->sure[c] = 1;
        t->how[c] = f->columns[c].how;
        t->heads[c] = f->columns[c].heads;
        t->grouped[c] = f->columns[c].group > 0 && may_group(kind, cw_target_column(t->to[c]));
    }
    assign(f, kind, MAYBE, t);
    assign_heads(f, kind, t);
    bool heads = score_heads(f, t);
    if (kind != CW_VARIETIES)
        assign_beside(f, kind, t);
    for (unsigned c = 0; c < f->width; c++) {
        if (t->to[c].kind < 0 || t->heads[c])
            continue;
        bool own = t->to[c].kind == kind, needed = cw_target_column(t->to[c])->need == CW_NEEDED;
        t->score += t->sure[c] * (own ? needed ? 1.5 : 1 : 0.6);
        t->used += own;
    }
    for (size_t k = 0; k < cw_kinds[kind].width; k++) {
        const cw_kind_column *column = &cw_kinds[kind].columns[k];
        bool needed = column->need == CW_NEEDED || cw_column_is(column) == CW_IS_VARIETY;
        bool headed = heads && (cw_column_is(column) == CW_IS_VARIETY || (int)k == cw_fit_counted(kind));
        if (!needed || headed || has_target(f, t, kind, k) || cw_fit_makes(kind, column->name))
            continue;
        if (cw_column_is(column) == CW_IS_VARIETY && kind == CW_ORDERS &&
            cw_kind_column_named(kind, "assortment") >= 0 &&
            has_target(f, t, kind, (size_t)cw_kind_column_named(kind, "assortment")))
            continue;
        /* "3 x Amber" holds its own quantity. */
        if (kind == CW_ORDERS && strcmp(column->name, "quantity") == 0) {
            bool inside = false;
            for (unsigned c = 0; c < f->width; c++)
                inside = inside || (t->to[c].kind == kind &&
                                    cw_column_is(cw_target_column(t->to[c])) == CW_IS_VARIETY &&
                                    f->columns[c].seen.texts_with_counts > 0);
            if (inside)
                continue;
        }
        bool can_do = cw_fit_askable(column) || numbers_itself(f, t, kind, column);
        t->missing += !can_do;
        t->score -= can_do ? 0.6 : 2.5;
    }
}

/* A name of the file or the sheet that begins with a kind's, or a word for it, speaks for it. */
static double by_name(const cw_fitting *f, int kind)
{
    static const char *const said[CW_KINDS] = {
        [CW_VARIETIES] = "varieties|sorten|rassen|varietes|catalogue|katalog|catalogus|sortiment",
        [CW_PLACES] = "places|orte|plaatsen|emplacements|lagerplaetze",
        [CW_ZONES] = "zones|zonen",
        [CW_DESTINATIONS] = "destinations|laender|landen|pays|bestemmingen",
        [CW_ZONE_RANGES] = "zone ranges|postcodes|postleitzahlen|codes postaux",
        [CW_HISTORY] = "history|verlauf|geschiedenis|historique|teilung|vorjahre|yields|ertrag",
        [CW_PAST_CHECKS] = "past checks|fruehere kontrollen",
        [CW_PAST_SALES] = "past sales|sales|verkaeufe|verkauf|verkopen|ventes",
        [CW_PAST_ORDERS] = "past orders",
        [CW_PAST_PLANTINGS] = "past plantings|fruehere pflanzungen",
        [CW_PLANTINGS] = "plantings|pflanzungen|pflanzplan|aanplant|plantations|rows|reihen",
        [CW_FIELD_ROUNDS] = "field rounds|rundgang|feldrunde|veldronde|tournee",
        [CW_LOTS] = "lots|lager|stock|bestand|partijen|voorraad|partien|rodung|digging|rooien|stocks|store",
        [CW_WEIGHINGS] = "weighings|wiegen|wiegung|wegingen|pesees",
        [CW_AIR] = "air|klima|luft|lucht|logger|climat|temperatur|klimaat",
        [CW_DIVISIONS] = "divisions|teilungen|splitsen|divisies|dividing",
        [CW_CHECKS] = "checks|kontrollen|kontrolle|controles|controle|pruefung",
        [CW_COUNTS] = "counts|inventur|stocktake|telling|inventaire|zaehlung",
        [CW_HOLDS] =
            "holds|hold|sperren|sperre|frost|weather|wetter|meteo|weer|plant health|quarantine|blocages",
        [CW_TRACKING] =
            "tracking|sendungen|sendungsnummern|zendingen|suivi|envois|shipments|manifest|parcels|pakete",
        [CW_ORDERS] = "orders|bestellungen|bestellung|bestellingen|commandes|auftraege|export",
    };
    char names[2][CW_FOLD_BYTES];
    cw_fold(f->file->name, strlen(f->file->name), ' ', names[0]);
    cw_fold(f->sheet->name, strlen(f->sheet->name), ' ', names[1]);
    for (int i = 0; i < 2; i++)
        for (const char *s = said[kind]; *s;) {
            size_t n = strcspn(s, "|");
            if (strncmp(names[i], s, n) == 0 && !(names[i][n] >= 'a' && names[i][n] <= 'z'))
                return 0.8;
            s += n + (s[n] == '|');
        }
    return 0;
}

static void use(cw_fitting *f, const tried *t)
{
    f->heads = false;
    for (unsigned c = 0; c < f->width; c++) {
        cw_fit_column *column = &f->columns[c];
        bool fixed = cw_fit_fixed(f, c);
        column->to = t->to[c];
        column->how = fixed ? column->how : t->to[c].kind < 0 ? CW_HOW_NONE : t->how[c];
        column->sure = t->to[c].kind < 0 ? 0 : t->sure[c];
        column->heads = t->heads[c];
        f->heads = f->heads || t->heads[c];
        if (!t->grouped[c])
            column->group = 0;
    }
}

static void ask_kind(cw_fitting *f, int best, int second)
{
    json_t *choices = json_array();
    cw_doubt d = { .what = "kind", .column = -1, .to = CW_NO_TARGET };
    if (best >= 0)
        cw_fit_choice(&choices, cw_kinds[best].name, "rows of %s", cw_kinds[best].name);
    if (second >= 0)
        cw_fit_choice(&choices, cw_kinds[second].name, "rows of %s", cw_kinds[second].name);
    for (int k = 0; k < CW_KINDS; k++)
        if (k != best && k != second)
            cw_fit_choice(&choices, cw_kinds[k].name, "rows of %s", cw_kinds[k].name);
    d.choices = choices;
    if (best < 0 && cw_fit_lies_on_side(f))
        cw_fit_say(f, "The headings seem to stand in the first column: turn rows and columns round, and give "
                      "it again.");
    if (second >= 0)
        cw_fit_doubt(f, &d, "The columns fit two kinds: is it %s, or %s?", cw_kinds[best].name,
                     cw_kinds[second].name);
    else
        cw_fit_doubt(f, &d, "The columns do not tell what the rows are. What are they?");
}

static cw_code find_kind(cw_fitting *f, cw_error *err)
{
    tried *t = calloc(CW_KINDS, sizeof *t);
    double best = -100, second = -100;
    int at = -1, runner = -1;
    if (t == NULL)
        return cw_error_memory(err);
    for (int k = 0; k < CW_KINDS; k++) {
        if (f->kind_told && k != f->kind)
            continue;
        try_kind(f, k, &t[k]);
        double score = t[k].score + by_name(f, k);
        if (score > best) {
            second = best;
            runner = at;
            best = score;
            at = k;
        } else if (score > second) {
            second = score;
            runner = k;
        }
    }
    bool starved = false;
    for (int k = 0; k < CW_KINDS; k++)
        starved = starved || t[k].starved;
    if (starved) {
        free(t);
        return cw_error_memory(err);
    }
    if (f->kind_told) {
        at = f->kind;
        use(f, &t[at]);
    } else if (t[at].used + t[at].open < 2 && !(at == CW_VARIETIES && t[at].used == 1 && f->width <= 2)) {
        ask_kind(f, -1, -1);
    } else if (t[at].missing > 0) {
        ask_kind(f, at, -1);
    } else {
        f->kind = at;
        use(f, &t[at]);
        if (runner >= 0 && second > best - 0.3 && t[runner].missing == 0)
            ask_kind(f, at, runner);
        else
            cw_fit_say(f, "Rows of %s: %d of %u columns fit.", cw_kinds[at].name, t[at].used, f->width);
    }
    if (f->kind >= 0)
        cw_fit_ask_heads(f, t[at].may_head);
    free(t);
    return CW_OK;
}

const cw_constant *cw_fit_constant(const cw_fitting *f, cw_target t)
{
    for (size_t i = 0; i < f->constant_count; i++)
        if (cw_target_same(f->constants[i].to, t))
            return &f->constants[i];
    return NULL;
}

int cw_fit_column_of(const cw_fitting *f, cw_target t, int group)
{
    for (unsigned c = 0; c < f->width; c++)
        if (cw_target_same(f->columns[c].to, t) && (group < 0 || f->columns[c].group == group))
            return (int)c;
    return -1;
}

bool cw_fit_has(const cw_fitting *f, int kind, const char *column)
{
    cw_target t = { kind, cw_kind_column_named(kind, column) };
    return t.column >= 0 && (cw_fit_column_of(f, t, -1) >= 0 || cw_fit_constant(f, t) != NULL);
}

cw_code cw_fit_find(cw_fitting *f, cw_error *err)
{
    cw_code code = find_kind(f, err);
    if (code != CW_OK || f->kind < 0)
        return code;
    cw_fit_ask(f);
    return CW_OK;
}
