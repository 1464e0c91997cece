/* SPDX-License-Identifier: MIT */
#include "desk/intake/intake_plain_inside.h"

#include "base/day.h"
#include "base/json.h"
#include "base/money.h"
#include "base/text.h"
#include "store/audit.h"
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Kinds with a natural key: find the row, then insert it, or compare and update it. */

static double scaled(const cw_kind_column *k, int64_t v)
{
    double x = (double)v;
    for (int d = 0; d < k->holds.decimals; d++)
        x /= 10;
    return x;
}

cw_bind cw_row_bind(const cw_intake *in, const cw_kind_column *k, const cw_given *v)
{
    if (v->null)
        return (cw_bind){ .type = 'n' };
    if (cw_column_text(k))
        return (cw_bind){ .type = 't', .t = v->t };
    if (k->holds.type == CW_REAL_T)
        return (cw_bind){ .type = 'r', .r = scaled(k, v->i) };
    if (k->must == CW_KNOWN_VARIETY)
        return (cw_bind){ .type = 'i', .i = in->codes.variety[v->i].id };
    if (k->must == CW_KNOWN_LOT)
        return (cw_bind){ .type = 'i', .i = in->codes.lot[v->i].id };
    return (cw_bind){ .type = 'i', .i = v->i };
}

/* The type in which that column stands on record. */
static char type_of(const cw_kind_column *k)
{
    return cw_column_text(k) ? 't' : k->holds.type == CW_REAL_T ? 'r' : 'i';
}

static bool same(const cw_bind *a, const cw_bind *b)
{
    if (a->type != b->type)
        return false;
    if (a->type == 't')
        return strcmp(a->t, b->t) == 0;
    if (a->type == 'r')
        return fabs(a->r - b->r) < 1e-9;
    return a->type == 'n' || a->i == b->i;
}

static json_t *shown(const cw_kind_column *k, const cw_bind *v)
{
    char text[CW_CELL_BYTES];
    cw_type type = k->holds.type;
    if (v->type == 'n')
        return json_null();
    if (v->type == 't')
        return json_string(v->t);
    if (v->type == 'r')
        return json_real(v->r);
    if (type != CW_MONEY_T && type != CW_WEEK_T && type != CW_DAY_T)
        return json_integer(v->i);
    return json_stringn(text, cw_value_format(type, 0, &(cw_value){ .i = v->i }, text));
}

json_t *cw_row_shown(const cw_intake *in, const cw_row *row, size_t c, const cw_bind *v)
{
    const cw_kind_column *k = &row->kind->columns[c];
    const cw_given *is = &row->is.v[c];
    if (v->type == 'i' && k->must == CW_KNOWN_VARIETY)
        return json_string(in->codes.variety[is->i].code);
    return shown(k, v);
}

/* "variety RED-1", "reading Cellar 2032-01-02T06:00:00Z": the row's key in words. */
void cw_row_name(const cw_intake *in, const cw_row *row, char out[400])
{
    size_t n = (size_t)snprintf(out, 400, "%s", row->kind->one);
    for (size_t c = 0; c < row->kind->width && n < 400; c++) {
        const cw_given *v = &row->is.v[c];
        const cw_kind_column *k = &row->kind->columns[c];
        char text[CW_CELL_BYTES] = "";
        if (!k->key)
            continue;
        if (k->must == CW_KNOWN_VARIETY)
            cw_copy(text, sizeof text, v->null || v->i < 0 ? "" : in->codes.variety[v->i].code);
        else if (!cw_column_text(k))
            text[cw_value_format(k->holds.type, 0, &(cw_value){ .i = v->i }, text)] = '\0';
        n += (size_t)snprintf(out + n, 400 - n, " %s", v->t ? v->t : v->null ? "" : text);
    }
}

static cw_code audit_change(cw_intake *in, cw_row *row, const cw_bind *before, const cw_bind *after,
                            cw_error *err)
{
    json_t *was = json_object(), *is = json_object();
    char subject[400];
    for (size_t c = 0; c < row->kind->kept; c++) {
        const cw_kind_column *k = &row->kind->columns[c];
        if (!same(&before[c], &after[c])) {
            cw_json_put_take(&was, k->name, shown(k, &before[c]));
            cw_json_put_take(&is, k->name, shown(k, &after[c]));
        }
    }
    char *a = cw_json_text(was, JSON_COMPACT), *b = cw_json_text(is, JSON_COMPACT);
    cw_row_name(in, row, subject);
    cw_code code = a && b ? cw_audit_add(in->db, in->who->now, in->who->actor, "change", subject, a, b, err)
                          : cw_error_memory(err);
    free(a);
    free(b);
    json_decref(was);
    json_decref(is);
    return code;
}

/* Of a season that is over; the day lies within it or the spring after. `at` is the day's column. */
static void check_past_trade(cw_intake *in, cw_row *row, const char *what, int at)
{
    const cw_given *season = &row->is.v[0], *on = &row->is.v[at]; /* both kinds begin with the season */
    char day[11];
    if (season->i >= in->n->season.season)
        cw_row_wrong(in, row, 0, "this file's season is %d, and past %s are of seasons before it: %lld",
                     in->n->season.season, what, (long long)season->i);
    if (on->null)
        return;
    cw_day_format((cw_day)on->i, day);
    if (on->i < cw_day_from_ymd((int)season->i, 1, 1) || on->i > cw_day_from_ymd((int)season->i + 1, 12, 31))
        cw_row_wrong(in, row, at, "must lie in the season's year (%lld) or the one after it: %s",
                     (long long)season->i, day);
}

static void check_past_planting(cw_intake *in, cw_row *row)
{
    const cw_past_plantings_row *p = &row->is.past_plantings;
    if (p->season.i >= in->n->season.season)
        cw_row_wrong(in, row, CW_AT(past_plantings, season),
                     "this file's season is %d, and past plantings are of seasons before it: %lld",
                     in->n->season.season, (long long)p->season.i);
    if (p->clumps.i > p->plants.i)
        cw_row_wrong(in, row, CW_AT(past_plantings, clumps),
                     "more clumps dug than plants set out (%lld): %lld", (long long)p->plants.i,
                     (long long)p->clumps.i);
}

/* The temperature in one of two columns; kept in the first. */
static void check_air(cw_intake *in, cw_row *row)
{
    cw_air_row *a = &row->is.air;
    if (a->temp_c.null == a->temp_f.null)
        cw_row_wrong(in, row, CW_AT(air, temp_c),
                     a->temp_c.null ? "a temperature is needed, in temp_c or temp_f"
                                    : "the temperature is given twice, in temp_c and temp_f");
    else if (a->temp_c.null)
        a->temp_c = (cw_given){ .i = llround(((double)a->temp_f.i / 100 - 32) / 1.8 * 100) };
}

/* Postcodes are compared by their first letters and digits, without blanks and hyphens and in capitals. */
static void check_range(cw_intake *in, cw_row *row)
{
    const char *from = row->is.zone_ranges.postcode_from.t, *to = row->is.zone_ranges.postcode_to.t;
    for (int i = 0; i < 2; i++)
        for (const char *s = i ? to : from; *s; s++)
            if (!((*s >= '0' && *s <= '9') || (*s >= 'A' && *s <= 'Z'))) {
                cw_row_wrong(in, row, i ? CW_AT(zone_ranges, postcode_to) : CW_AT(zone_ranges, postcode_from),
                             "must be capital letters and digits without blanks: %s", i ? to : from);
                return;
            }
    if (strlen(from) != strlen(to) || strcmp(to, from) < 0)
        cw_row_wrong(in, row, CW_AT(zone_ranges, postcode_to),
                     "must be as long as postcode_from and not before it: %s to %s", from, to);
}

/* What the table of columns cannot say. */
static void check_row(cw_intake *in, cw_row *row)
{
    cw_values *is = &row->is;
    bool good = !row->bad && !row->quiet;
    switch ((cw_kind_id)(row->kind - cw_kinds)) {
    case CW_VARIETIES:
        if (is->varieties.code.t && strchr(is->varieties.code.t, ' '))
            cw_row_wrong(
                in, row, CW_AT(varieties, code),
                "a variety's code must not hold a space, since lists of codes are parted by spaces: %s",
                is->varieties.code.t);
        break;
    case CW_ZONE_RANGES:
        if (good)
            check_range(in, row);
        break;
    case CW_LOTS:
        if (is->lots.place.null)
            is->lots.place = (cw_given){ .i = 0, .absent = is->lots.place.absent };
        break;
    case CW_WEIGHINGS:
        if (!row->bad && is->weighings.kg.i == 0)
            cw_row_wrong(in, row, CW_AT(weighings, kg), "must be more than nothing: 0");
        break;
    case CW_PAST_SALES:
        if (good)
            check_past_trade(in, row, "sales", CW_AT(past_sales, sold_out_on));
        break;
    case CW_PAST_ORDERS:
        if (good)
            check_past_trade(in, row, "orders", CW_AT(past_orders, ordered_on));
        break;
    case CW_PAST_PLANTINGS:
        if (good)
            check_past_planting(in, row);
        break;
    case CW_AIR:
        if (!row->bad)
            check_air(in, row);
        break;
    default:
        break;
    }
}

static cw_code check_key(cw_intake *in, cw_row *row, cw_error *err)
{
    char key[400];
    cw_row_name(in, row, key);
    size_t skip = strlen(row->kind->one) + 1;
    return cw_row_once(in, row, key + skip, strlen(key + skip), err);
}

static cw_code insert(cw_intake *in, cw_row *row, const cw_bind *values, cw_error *err)
{
    char name[64];
    if (row->kind == &cw_kinds[CW_FIELD_ROUNDS])
        return cw_intake_round(in, row, err);
    if (row->kind == &cw_kinds[CW_HOLDS])
        return cw_intake_hold_set(in, row, err);
    snprintf(name, sizeof name, "kinds.insert_%s", row->kind->name);
    cw_code code = cw_record_write(in->db, name, values, row->kind->kept, err);
    in->files[in->current].made += code == CW_OK;
    in->last_id = cw_db_last_id(in->db);
    if (code == CW_OK && row->kind == &cw_kinds[CW_PLANTINGS])
        return cw_intake_planted(in, row, err);
    if (code != CW_OK || row->kind != &cw_kinds[CW_LOTS])
        return code;
    return cw_intake_dug(in, row, in->last_id, err);
}

/* A lot's tag is not changed by a file: its stock hangs on it. */
static void refuse_lot(cw_intake *in, cw_row *row, const cw_bind *before, const cw_bind *values)
{
    size_t c = 0;
    while (same(&before[c], &values[c]))
        c++;
    const cw_kind_column *k = &row->kind->columns[c];
    if (k->must == CW_KNOWN_VARIETY) {
        const char *lot = row->is.lots.lot.t, *to = in->codes.variety[row->is.v[c].i].code;
        cw_row_clash(in, row, (int)c,
                     "lot %s is on record as another variety; a file does not change a lot: if it proved to "
                     "be %s, relabel it "
                     "(on its page, or: names --relabel %s:%s), else give the new lot its own code",
                     lot, to, lot, to);
        return;
    }
    json_t *pair = json_pack("[o,o]", shown(k, &before[c]), shown(k, &values[c]));
    char *words = pair ? cw_json_text(pair, JSON_COMPACT | JSON_ENCODE_ANY) : NULL;
    bool tell = k->must < CW_KNOWN_VARIETY && words; /* those are row ids here */
    cw_row_clash(
        in, row, (int)c,
        "lot %s is on record with another %s%s%s; a file does not change a lot: correct its stock by "
        "a stock-take, or give the new lot its own code",
        row->is.lots.lot.t, k->name, tell ? " [on record, in the file]: " : "", tell ? words : "");
    free(words);
    json_decref(pair);
}

static cw_code update(cw_intake *in, cw_row *row, const cw_bind *before, const cw_bind *values, cw_error *err)
{
    char name[64];
    if (row->kind == &cw_kinds[CW_LOTS] && !in->grid) {
        refuse_lot(in, row, before, values);
        return CW_OK;
    }
    snprintf(name, sizeof name, "kinds.update_%s", row->kind->name);
    cw_code code = row->kind == &cw_kinds[CW_LOTS]
                       ? cw_intake_lot_put_right(in, row, values, err)
                       : cw_record_write(in->db, name, values, row->kind->kept, err);
    if (code != CW_OK || row->bad)
        return code;
    in->files[in->current].changed++;
    if (row->kind == &cw_kinds[CW_PLANTINGS])
        code = cw_intake_planting_changed(in, row, err);
    return code != CW_OK ? code : audit_change(in, row, before, values, err);
}

static void bind_row(const cw_intake *in, const cw_row *row, cw_bind *values)
{
    for (size_t c = 0; c < row->kind->kept; c++) {
        values[c] = cw_row_bind(in, &row->kind->columns[c], &row->is.v[c]);
        values[c].name = row->kind->columns[c].name;
    }
}

/* What stands now in place of what somebody saw; row ids tell nobody anything. */
static void clash_shown(cw_intake *in, cw_row *row, int c, const cw_bind *now, const char *key)
{
    const cw_kind_column *k = &row->kind->columns[c];
    json_t *value = shown(k, now);
    char *text =
        k->must < CW_KNOWN_VARIETY && value ? cw_json_text(value, JSON_COMPACT | JSON_ENCODE_ANY) : NULL;
    if (text && now->type != 'n')
        cw_row_clash(in, row, c, "%s was changed meanwhile: it is %s now", key, text);
    else
        cw_row_clash(in, row, c, "%s was changed meanwhile", key);
    free(text);
    json_decref(value);
}

/* Compares with the row on record; *verdict: 0 none there, 1 the same, 2 differs. */
static cw_code compare(cw_intake *in, cw_row *row, cw_bind *before, cw_bind *values, cw_text *texts,
                       int *verdict, cw_error *err)
{
    char name[64];
    bool found = false;
    size_t kept = row->kind->kept;
    snprintf(name, sizeof name, "kinds.find_%s", row->kind->name);
    for (size_t c = 0; c < kept; c++)
        before[c] = (cw_bind){ .type = type_of(&row->kind->columns[c]), .name = row->kind->columns[c].name };
    cw_code code = cw_record_find(in->db, name, values, kept, before, kept, texts, &found, err);
    *verdict = found ? 1 : 0;
    for (size_t c = 0; code == CW_OK && found && c < kept; c++) {
        if (row->is.v[c].absent && !(row->kind == &cw_kinds[CW_AIR] && c == CW_AT(air, temp_c)))
            values[c] = before[c];
        if (!same(&before[c], &values[c]))
            *verdict = 2;
    }
    return code;
}

cw_code cw_intake_stands(cw_intake *in, cw_row *row, cw_error *err)
{
    cw_bind before[CW_MAX_KIND_COLUMNS], values[CW_MAX_KIND_COLUMNS];
    cw_text texts = CW_TEXT(CW_MAX_RECORD_BYTES);
    char key[400];
    int verdict = 0;
    size_t c = 0;
    check_row(in, row);
    if (row->bad || row->quiet)
        return CW_OK;
    bind_row(in, row, values);
    cw_code code = compare(in, row, before, values, &texts, &verdict, err);
    cw_row_name(in, row, key);
    if (code == CW_OK && verdict == 0)
        cw_row_clash(in, row, 0, "is not on record any more: %s", key);
    while (code == CW_OK && verdict == 2 && same(&before[c], &values[c]))
        c++;
    if (code == CW_OK && verdict == 2)
        clash_shown(in, row, (int)c, &before[c], key);
    cw_text_free(&texts);
    return code;
}

static cw_code enter(cw_intake *in, cw_row *row, cw_error *err)
{
    cw_bind before[CW_MAX_KIND_COLUMNS], values[CW_MAX_KIND_COLUMNS];
    cw_text texts = CW_TEXT(CW_MAX_RECORD_BYTES);
    int verdict = 0;
    bool renamed = false, variety = row->kind == &cw_kinds[CW_VARIETIES];
    bind_row(in, row, values);
    cw_code code = compare(in, row, before, values, &texts, &verdict, err);
    if (code == CW_OK && variety && verdict == 0)
        code = cw_intake_name(in, row, &renamed, err);
    else if (code == CW_OK && variety)
        code = cw_intake_merged(in, row, err);
    if (code == CW_OK && renamed)
        code = compare(in, row, before, values, &texts, &verdict, err);
    if (code == CW_OK && row->fresh && verdict != 0) {
        char key[400];
        cw_row_name(in, row, key);
        cw_row_clash(in, row, 0, "is on record already: %s", key);
    }
    if (code != CW_OK || row->bad)
        ;
    else if (verdict == 0)
        code = insert(in, row, values, err);
    else if (verdict == 2 || renamed)
        code = update(in, row, before, values, err);
    else
        in->files[in->current].unchanged++;
    cw_text_free(&texts);
    return code;
}

cw_code cw_intake_plain(cw_intake *in, cw_row *row, cw_error *err)
{
    cw_kind_id kind = (cw_kind_id)(row->kind - cw_kinds);
    bool coded = kind == CW_VARIETIES || kind == CW_LOTS || kind == CW_PLACES;
    cw_code code = CW_OK;
    bool keyed = true;
    for (size_t c = 0; c < row->kind->width; c++)
        keyed = keyed && !(row->kind->columns[c].key && row->is.v[c].null);
    check_row(in, row);
    if (kind == CW_HOLDS && !row->bad && !row->quiet)
        code = cw_intake_hold_read(in, row, err);
    if (code == CW_OK && keyed)
        code = check_key(in, row, err);
    if (code == CW_OK && !row->bad && !row->quiet)
        code = enter(in, row, err);
    if (code == CW_OK && coded && row->is.v[0].t)
        code = cw_codes_forget(&in->codes, kind, row->is.v[0].t, row->bad || row->quiet, err);
    return code;
}
