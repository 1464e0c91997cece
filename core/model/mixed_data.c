/* SPDX-License-Identifier: MIT */
/* Rows to lots, cells and varieties: check, sort, sum.
 *
 * Counts. For rows i of a lot with counts y_i and exposures n_i, Y and E their sums, the Poisson log-likelihood is
 *     Y eta - E exp(eta)  +  sum_i (y_i log n_i - log y_i!)
 * so a lot is known by Y and E. With phi, (double Poisson for Y; Pearson's X2 within the lot on k - 1 degrees)
 *     (1/phi) (Y eta - E exp(eta)) + (1/phi - 1) Q - 1/2 nu log phi + constant,
 *     Q = sum over lots of Y log(E / Y) + Y - X2 / 2,   nu = sum over lots of Y / (Y + 1/2) + k - 1,
 * which is the Poisson one at phi = 1. With tilts E is the sum of n_i exp(tilt x_i) in the mean only, and (1/phi) sum of
 * y_i tilt x_i is added: Q stays that of untilted rows, so that at phi = 1 it is the tilted Poisson one. Y / (Y + 1/2) instead of 1 because a lot without counts says nothing of phi. */
#include "model/mixed_inside.h"

#include "base/sign.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static double log_factorial(double n)
{
    int sign;
    return lgamma_r(n + 1, &sign);
}

/* A row with its tilts. */
typedef struct whole_row {
    cw_mixed_row row;
    cw_mixed_tilt tilt;
} whole_row;

static cw_code check_tilt(const cw_mixed_tilt *t, long n, cw_error *err)
{
    if (!(t->age >= 0) || !isfinite(t->age))
        return cw_error_at(err, CW_REFUSED, NULL, n, "age", "an age must not be negative: %g", t->age);
    for (int k = 0; k < 2; k++)
        if (t->of[k] < 0 || t->of[k] >= CW_TILTS || !isfinite(t->x[k]))
            return cw_error_at(err, CW_REFUSED, NULL, n, "tilt", "there is no tilt number %d of %g", t->of[k],
                               t->x[k]);
    return CW_OK;
}

static cw_code check_row(const cw_mixed_data *d, size_t i, cw_error *err)
{
    const cw_mixed_row *r = &d->rows[i];
    long n = (long)i + 1;
    if (r->variety < 0 || (size_t)r->variety >= d->varieties)
        return cw_error_at(err, CW_REFUSED, NULL, n, "variety", "there is no variety number %d", r->variety);
    if (r->season < 0 || (size_t)r->season >= d->seasons)
        return cw_error_at(err, CW_REFUSED, NULL, n, "season", "there is no season number %d", r->season);
    if (!(r->exposure >= 0) || !isfinite(r->exposure))
        return cw_error_at(err, CW_REFUSED, NULL, n, "exposure", "an exposure must not be negative: %g",
                           r->exposure);
    if (!(r->count >= 0) || !isfinite(r->count))
        return cw_error_at(err, CW_REFUSED, NULL, n, "count", "a count must not be negative: %g", r->count);
    if (d->family == CW_MIXED_CLOGLOG && !(r->trials >= r->count && isfinite(r->trials)))
        return cw_error_at(err, CW_REFUSED, NULL, n, "trials", "%g of only %g", r->count, r->trials);
    if (r->exposure == 0 && r->count > 0)
        return cw_error_at(err, CW_REFUSED, NULL, n, "exposure", "a count of %g from nothing", r->count);
    return d->tilt ? check_tilt(&d->tilt[i], n, err) : CW_OK;
}

static cw_code check(const cw_mixed_data *d, cw_error *err)
{
    for (size_t v = 0; v < d->varieties; v++) {
        if (d->form && d->form[v] >= (int)d->forms)
            return cw_error_set(err, CW_REFUSED,
                                "variety number %zu has a form number %d that does not exist", v, d->form[v]);
        if (d->size && d->size[v] >= (int)d->sizes)
            return cw_error_set(err, CW_REFUSED,
                                "variety number %zu has a size number %d that does not exist", v, d->size[v]);
    }
    for (size_t i = 0; i < d->n_rows; i++)
        if (check_row(d, i, err) != CW_OK)
            return err ? err->code : CW_REFUSED;
    return CW_OK;
}

static int compare_tilts(const cw_mixed_tilt *a, const cw_mixed_tilt *b)
{
    if (a->age != b->age)
        return a->age < b->age ? -1 : 1;
    for (int k = 0; k < 2; k++) {
        if (a->of[k] != b->of[k])
            return a->of[k] < b->of[k] ? -1 : 1;
        if (a->x[k] != b->x[k])
            return a->x[k] < b->x[k] ? -1 : 1;
    }
    return 0;
}

static int compare(const void *pa, const void *pb)
{
    const whole_row *whole_a = pa, *whole_b = pb;
    const cw_mixed_row *a = &whole_a->row, *b = &whole_b->row;
    if (a->season != b->season)
        return a->season < b->season ? -1 : 1;
    if (a->lot != b->lot)
        return a->lot < b->lot ? -1 : 1;
    if (a->exposure != b->exposure)
        return a->exposure < b->exposure ? -1 : 1;
    int tilts = compare_tilts(&whole_a->tilt, &whole_b->tilt);
    if (tilts != 0)
        return tilts;
    if (a->trials != b->trials)
        return a->trials < b->trials ? -1 : 1;
    return a->count < b->count ? -1 : a->count > b->count;
}

static bool tells(const cw_mixed_data *d, const cw_mixed_row *r)
{
    return r->exposure > 0 && (d->family == CW_MIXED_COUNT || r->trials > 0);
}

/* What is said of a row's tilts, but for those that the settings do not have. */
static cw_mixed_tilt tilt_of(const cw_mixed_data *d, const cw_mixed_settings *s, size_t i)
{
    cw_mixed_tilt t = d->tilt ? d->tilt[i] : (cw_mixed_tilt){ 0 };
    for (int k = 0; k < 2; k++)
        if (t.of[k] == CW_TILT_AGE || !(s->tilt_scale[t.of[k]] > 0) || t.x[k] == 0) {
            t.of[k] = 0;
            t.x[k] = 0;
        }
    if (d->family == CW_MIXED_COUNT || !(s->tilt_scale[CW_TILT_AGE] > 0))
        t.age = 0;
    return t;
}

/* Telling rows in order of variety (counted into place), then season, lot and value, so that sums come out the same to
 * the last bit however the rows were ordered. `start` [varieties + 1]. */
static whole_row *sorted_rows(const cw_mixed_data *d, const cw_mixed_settings *s, size_t *start)
{
    bool use_lot = s->use[CW_TERM_LOT];
    whole_row *out = malloc((d->n_rows + 1) * sizeof *out);
    if (out == NULL)
        return NULL;
    memset(start, 0, (d->varieties + 1) * sizeof *start);
    for (size_t i = 0; i < d->n_rows; i++)
        if (tells(d, &d->rows[i]))
            start[d->rows[i].variety + 1]++;
    for (size_t v = 0; v < d->varieties; v++)
        start[v + 1] += start[v];
    for (size_t i = 0; i < d->n_rows; i++) {
        const cw_mixed_row *r = &d->rows[i];
        if (!tells(d, r))
            continue;
        out[start[r->variety]].tilt = tilt_of(d, s, i);
        cw_mixed_row *to = &out[start[r->variety]++].row;
        *to = *r;
        to->lot = use_lot ? (r->lot < 0 ? -1 : r->lot) : 0;
        if (d->family == CW_MIXED_COUNT)
            to->trials = 0;
    }
    for (size_t v = d->varieties; v > 0; v--)
        start[v] = start[v - 1];
    start[0] = 0;
    for (size_t v = 0; v < d->varieties; v++)
        if (start[v + 1] - start[v] > 1)
            qsort(out + start[v], start[v + 1] - start[v], sizeof *out, compare);
    return out;
}

static bool is_tilted(const cw_mixed_tilt *t)
{
    return t->of[0] != 0 || t->of[1] != 0;
}

static mixed_item item_of(mixed_model *m, const whole_row *w)
{
    const cw_mixed_tilt *t = &w->tilt;
    for (int k = 0; k < 2; k++)
        m->tilted[t->of[k]] = m->tilted[t->of[k]] || t->of[k] != 0;
    return (mixed_item){ .exposure = w->row.exposure,
                         .trials = w->row.trials,
                         .count = w->row.count,
                         .age = t->age,
                         .log_from = t->age > 0 ? log(t->age) : 0,
                         .log_to = log(t->age + w->row.exposure),
                         .x = { t->x[0], t->x[1] },
                         .of = { t->of[0], t->of[1] } };
}

static void add_counts(mixed_model *m, const whole_row *whole, size_t n)
{
    double y = 0, e = 0, x2 = 0;
    size_t at = m->item_start[m->lots];
    bool tilted = false;
    for (size_t i = 0; i < n; i++) {
        const cw_mixed_row *row = &whole[i].row;
        y += row->count;
        e += row->exposure;
        m->constant += row->count * log(row->exposure) - log_factorial(row->count);
        tilted = tilted || is_tilted(&whole[i].tilt);
    }
    for (size_t i = 0; i < n && tilted; i++)
        m->item[at++] = item_of(m, &whole[i]);
    m->item_start[m->lots + 1] = at;
    m->count[m->lots] = y;
    m->exposure[m->lots] = e;
    if (y == 0)
        return;
    for (size_t i = 0; i < n && n > 1; i++) {
        double expected = whole[i].row.exposure * y / e, off = whole[i].row.count - expected;
        x2 += off * off / expected;
    }
    m->phi_offset += y * log(e / y) + y - 0.5 * x2;
    m->phi_freedom += y / (y + 0.5) + (double)(n - 1);
}

static void add_items(mixed_model *m, const whole_row *whole, size_t n)
{
    size_t at = m->item_start[m->lots];
    for (size_t i = 0; i < n; i++) {
        const cw_mixed_row *row = &whole[i].row;
        m->constant +=
            log_factorial(row->trials) - log_factorial(row->count) - log_factorial(row->trials - row->count);
        if (i == 0 || row->exposure != m->item[at - 1].exposure ||
            compare_tilts(&whole[i - 1].tilt, &whole[i].tilt) != 0) {
            m->item[at++] = item_of(m, &whole[i]);
            continue;
        }
        m->item[at - 1].trials += row->trials;
        m->item[at - 1].count += row->count;
    }
    m->item_start[m->lots + 1] = at;
}

static void gather(mixed_model *m, const whole_row *row, const size_t *start)
{
    for (size_t v = 0; v < m->varieties; v++) {
        m->cell_start[v] = m->cells;
        for (size_t i = start[v]; i < start[v + 1];) {
            size_t end = i + 1;
            while (end < start[v + 1] && row[end].row.season == row[i].row.season &&
                   row[end].row.lot == row[i].row.lot && row[i].row.lot >= 0)
                end++;
            if (m->cell_start[v] == m->cells || m->cell_season[m->cells - 1] != (size_t)row[i].row.season) {
                m->cell_season[m->cells] = (size_t)row[i].row.season;
                m->cell_shared[m->cells] =
                    m->level_count[CW_TERM_SEASON] ? m->first[CW_TERM_SEASON] + (size_t)row[i].row.season : 0;
                m->cell_variety[m->cells] = (uint32_t)v;
                m->lot_start[m->cells++] = m->lots;
            }
            if (m->family == CW_MIXED_COUNT)
                add_counts(m, row + i, end - i);
            else
                add_items(m, row + i, end - i);
            m->lot_number[m->lots] = row[i].row.lot;
            m->lot_cell[m->lots++] = (uint32_t)(m->cells - 1);
            i = end;
        }
    }
    m->cell_start[m->varieties] = m->cells;
    m->lot_start[m->cells] = m->lots;
}

static void number_terms(mixed_model *m, const cw_mixed_data *d, const cw_mixed_settings *s)
{
    const size_t levels[] = { [CW_TERM_FORM] = d->form ? d->forms + 1 : 0, /* the last is "unknown" */
                              [CW_TERM_SIZE] = d->size ? d->sizes + 1 : 0,
                              [CW_TERM_SEASON] = d->seasons };
    m->shared = 1;
    for (int k = CW_TERM_FORM; k <= CW_TERM_SEASON; k++) {
        if (k == CW_TERM_VARIETY)
            continue;
        m->first[k] = m->shared;
        m->level_count[k] = s->use[k] ? levels[k] : 0;
        m->shared += m->level_count[k];
    }
    for (size_t v = 0; v < m->varieties; v++) {
        m->form[v] = m->size[v] = 0;
        if (m->level_count[CW_TERM_FORM])
            m->form[v] = m->first[CW_TERM_FORM] + (d->form[v] < 0 ? d->forms : (size_t)d->form[v]);
        if (m->level_count[CW_TERM_SIZE])
            m->size[v] = m->first[CW_TERM_SIZE] + (d->size[v] < 0 ? d->sizes : (size_t)d->size[v]);
    }
}

static bool reserve(mixed_model *m, size_t rows)
{
    m->count = calloc(rows + 1, sizeof *m->count);
    m->exposure = calloc(rows + 1, sizeof *m->exposure);
    m->item_start = calloc(rows + 2, sizeof *m->item_start);
    m->item = calloc(rows + 1, sizeof *m->item);
    m->lot_start = calloc(rows + 2, sizeof *m->lot_start);
    m->cell_season = calloc(rows + 1, sizeof *m->cell_season);
    m->lot_cell = calloc(rows + 1, sizeof *m->lot_cell);
    m->lot_number = calloc(rows + 1, sizeof *m->lot_number);
    m->lot_tilt = calloc(m->lots_asked + 1, sizeof *m->lot_tilt);
    m->cell_variety = calloc(rows + 1, sizeof *m->cell_variety);
    m->cell_shared = calloc(rows + 1, sizeof *m->cell_shared);
    m->cell_start = calloc(m->varieties + 1, sizeof *m->cell_start);
    m->form = calloc(m->varieties + 1, sizeof *m->form);
    m->size = calloc(m->varieties + 1, sizeof *m->size);
    m->own = calloc(m->varieties + 1, sizeof *m->own);
    m->variety_x = calloc(m->varieties + 1, sizeof *m->variety_x);
    return m->count && m->exposure && m->item_start && m->item && m->lot_start && m->cell_season &&
           m->cell_shared && m->lot_cell && m->lot_number && m->lot_tilt && m->cell_variety &&
           m->cell_start && m->form && m->size && m->own && m->variety_x;
}

cw_code cw_mixed_model_build(const cw_mixed_data *data, const cw_mixed_settings *settings, mixed_model **out,
                             cw_error *err)
{
    *out = NULL;
    if (check(data, err) != CW_OK)
        return err ? err->code : CW_REFUSED;
    mixed_model *m = calloc(1, sizeof *m);
    size_t *start = calloc(data->varieties + 1, sizeof *start);
    whole_row *row = start ? sorted_rows(data, settings, start) : NULL;
    cw_code code = CW_OK;
    if (m == NULL || row == NULL) {
        code = cw_error_memory(err);
        goto done;
    }
    m->family = data->family;
    m->varieties = data->varieties;
    m->lots_asked = settings->use[CW_TERM_LOT] ? data->lots : 0;
    m->rows = start[data->varieties];
    if (!reserve(m, m->rows)) {
        code = cw_error_memory(err);
        goto done;
    }
    if (data->lot_tilt != NULL && m->lots_asked > 0)
        memcpy(m->lot_tilt, data->lot_tilt, m->lots_asked * sizeof *m->lot_tilt);
    if (data->own != NULL)
        memcpy(m->own, data->own, m->varieties * sizeof *m->own);
    m->variety_tilt = data->variety_x ? data->variety_tilt : 0;
    for (size_t v = 0; v < m->varieties && m->variety_tilt > 0; v++)
        m->variety_x[v] = data->variety_x[v];
    number_terms(m, data, settings);
    gather(m, row, start);
    m->tilted[CW_TILT_AGE] = m->family == CW_MIXED_CLOGLOG && settings->tilt_scale[CW_TILT_AGE] > 0;
    *out = m;
    m = NULL;
done:
    cw_mixed_model_free(m);
    free(start);
    free(row);
    return code;
}

static uint64_t sign_row(const cw_mixed_data *d, const cw_mixed_settings *s, size_t i)
{
    const cw_mixed_row *r = &d->rows[i];
    const cw_mixed_tilt t = tilt_of(d, s, i);
    int lot = !s->use[CW_TERM_LOT] ? 0 : r->lot < 0 ? -1 : r->lot;
    uint64_t h = cw_sign_add(0, (uint64_t)(uint32_t)r->season << 32 | (uint32_t)lot);
    h = cw_sign_real(cw_sign_real(h, r->exposure), r->count);
    h = cw_sign_real(cw_sign_real(h, d->family == CW_MIXED_COUNT ? 0 : r->trials), t.age);
    for (int k = 0; k < 2; k++)
        h = cw_sign_real(cw_sign_add(h, (uint64_t)(uint32_t)t.of[k]), t.x[k]);
    return h;
}

/* Rows of a variety are summed, so their order is nothing. */
bool cw_mixed_sign(const cw_mixed_data *d, const cw_mixed_settings *s, uint64_t *out)
{
    const size_t counts[] = { d->varieties, d->seasons,      d->forms,        d->sizes,
                              d->lots,      d->form != NULL, d->size != NULL, (size_t)d->variety_tilt };
    uint64_t whole = (uint64_t)d->family;
    for (size_t i = 0; i < sizeof counts / sizeof counts[0]; i++)
        whole = cw_sign_add(whole, counts[i]);
    for (size_t l = 0; l < d->lots && d->lot_tilt; l++)
        whole = cw_sign_add(whole, (uint64_t)(uint32_t)d->lot_tilt[l]);
    for (size_t v = 0; v < d->varieties; v++) {
        out[v] = cw_sign_add(d->form ? (uint32_t)d->form[v] : 0, d->size ? (uint32_t)d->size[v] : 0);
        if (d->own)
            out[v] = cw_sign_real(cw_sign_real(out[v], d->own[v].mean), d->own[v].weight);
        if (d->variety_x)
            out[v] = cw_sign_real(out[v], d->variety_x[v]);
    }
    for (size_t i = 0; i < d->n_rows; i++) {
        if (check_row(d, i, NULL) != CW_OK)
            return false;
        if (tells(d, &d->rows[i]))
            out[d->rows[i].variety] += sign_row(d, s, i);
    }
    out[d->varieties] = whole;
    return true;
}

/* Appends lots `from` .. `to` - 1 of m, all of one cell, to a slice. */
static void slice_lots(const mixed_model *m, size_t from, size_t to, mixed_model *out)
{
    for (size_t i = from; i < to; i++) {
        size_t items = m->item_start[i + 1] - m->item_start[i], at = out->item_start[out->lots];
        memcpy(out->item + at, m->item + m->item_start[i], items * sizeof *m->item);
        for (size_t j = at; j < at + items; j++)
            for (int k = 0; k < 2; k++)
                out->tilted[out->item[j].of[k]] = out->tilted[out->item[j].of[k]] || out->item[j].of[k] != 0;
        if (m->family == CW_MIXED_COUNT) {
            out->count[out->lots] = m->count[i];
            out->exposure[out->lots] = m->exposure[i];
        }
        out->lot_number[out->lots] = m->lot_number[i];
        out->lot_cell[out->lots] = (uint32_t)(out->cells - 1);
        out->item_start[++out->lots] = at + items;
    }
}

mixed_model *cw_mixed_model_slice(const mixed_model *m, const size_t *variety, size_t n)
{
    mixed_model *out = calloc(1, sizeof *out);
    size_t room = 0;
    for (size_t k = 0; k < n; k++) {
        size_t from = m->lot_start[m->cell_start[variety[k]]],
               to = m->lot_start[m->cell_start[variety[k] + 1]];
        room += to - from + m->item_start[to] - m->item_start[from];
    }
    if (out == NULL)
        return NULL;
    *out = (mixed_model){
        .family = m->family,
        .shared = m->shared,
        .varieties = n,
        .rows = room,
        .lots_asked = m->lots_asked,
        .variety_tilt = m->variety_tilt,
    };
    if (!reserve(out, room)) {
        cw_mixed_model_free(out);
        return NULL;
    }
    memcpy(out->level_count, m->level_count, sizeof m->level_count);
    memcpy(out->first, m->first, sizeof m->first);
    memcpy(out->lot_tilt, m->lot_tilt, m->lots_asked * sizeof *m->lot_tilt);
    out->tilted[CW_TILT_AGE] = m->tilted[CW_TILT_AGE];
    for (size_t k = 0; k < n; k++) {
        size_t v = variety[k];
        out->form[k] = m->form[v];
        out->size[k] = m->size[v];
        out->own[k] = m->own[v];
        out->variety_x[k] = m->variety_x[v];
        out->cell_start[k] = out->cells;
        for (size_t c = m->cell_start[v]; c < m->cell_start[v + 1]; c++) {
            out->cell_season[out->cells] = m->cell_season[c];
            out->cell_shared[out->cells] = m->cell_shared[c];
            out->cell_variety[out->cells] = (uint32_t)k;
            out->lot_start[out->cells++] = out->lots;
            slice_lots(m, m->lot_start[c], m->lot_start[c + 1], out);
        }
    }
    out->cell_start[n] = out->cells;
    out->lot_start[out->cells] = out->lots;
    return out;
}

void cw_mixed_model_free(mixed_model *m)
{
    if (m == NULL)
        return;
    free(m->count);
    free(m->exposure);
    free(m->item_start);
    free(m->item);
    free(m->lot_start);
    free(m->cell_start);
    free(m->cell_season);
    free(m->cell_shared);
    free(m->lot_cell);
    free(m->lot_number);
    free(m->lot_tilt);
    free(m->cell_variety);
    free(m->form);
    free(m->size);
    free(m->own);
    free(m->variety_x);
    free(m);
}
