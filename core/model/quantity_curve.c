/* SPDX-License-Identifier: MIT */
#include "model/quantity.h"

#include "model/wide.h"
#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

/* Totals of each draw at one confidence, [draws] each. */
typedef struct draw_totals {
    double *shorts, *refund, *unsold, *margin;
} draw_totals;

static draw_totals totals_at(double *room, size_t draws, size_t k)
{
    double *at = room + k * 4 * draws;
    return (draw_totals){ at, at + draws, at + 2 * draws, at + 3 * draws };
}

/* What is promised of variety v at a confidence: the quantity as far as demand takes it, at least what is sold. */
static double promised(const cw_tradeoff_input *in, size_t v, int64_t quantity)
{
    double sold = (double)quantity;
    if (in->demand && in->demand[v] >= 0)
        sold = fmin(sold, in->demand[v]);
    return in->sold ? fmax(sold, (double)in->sold[v]) : sold;
}

static int64_t offered(const cw_tradeoff_input *in, size_t v, int64_t q)
{
    if (in->cap && in->cap[v] >= 0 && q > in->cap[v])
        q = in->cap[v];
    return in->sold && in->sold[v] > q ? in->sold[v] : q;
}

static int by_value(const void *pa, const void *pb)
{
    double a = *(const double *)pa, b = *(const double *)pb;
    return (a > b) - (a < b);
}

/* Smallest value with at least the share p of the draws at or below it; sorts x. */
static double quantile(double *x, size_t n, double p)
{
    qsort(x, n, sizeof *x, by_value);
    size_t k = (size_t)ceil(p * (double)n - 1e-9);
    return x[k > 0 ? k - 1 : 0];
}

static double mean(const double *x, size_t n)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += x[i] / (double)n;
    return sum;
}

/* Sorts the totals. */
static void sum_up(const draw_totals *t, size_t draws, cw_tradeoff *out)
{
    double any = 0;
    for (size_t d = 0; d < draws; d++)
        any += t->shorts[d] > 0;
    out->p_any_short = any / (double)draws;
    out->short_mean = mean(t->shorts, draws);
    out->refund_mean = mean(t->refund, draws);
    out->unsold_mean = mean(t->unsold, draws);
    out->margin_mean = mean(t->margin, draws);
    out->short_q90 = quantile(t->shorts, draws, 0.9);
    out->refund_q90 = quantile(t->refund, draws, 0.9);
    out->unsold_q90 = quantile(t->unsold, draws, 0.9);
    out->margin_q10 = quantile(t->margin, draws, 0.1);
}

typedef struct worth { /* of a division of a variety, cents */
    double margin, cost, refund;
} worth;

CW_WIDE static void add_draws(size_t n, const double *restrict stock, double want, worth of,
                              double *restrict shorts, double *restrict refund, double *restrict unsold,
                              double *restrict margin)
{
    for (size_t d = 0; d < n; d++) {
        double over = stock[d] - want, lack = over < 0 ? -over : 0;
        shorts[d] += lack;
        refund[d] += of.refund * lack;
        unsold[d] += over > 0 ? over : 0;
        margin[d] += of.margin * (want - lack) - of.cost * lack;
    }
}

/* Adds one variety to all draws of all confidences. stock[draws] are its draws. */
static void add_variety(const cw_tradeoff_input *in, size_t v, const double *stock, const double *confidence,
                        size_t n, double *room, cw_tradeoff *out)
{
    worth of = { (double)in->margin[v], (double)in->short_cost[v], (double)in->refund[v] };
    for (size_t k = 0; k < n; k++) {
        int64_t by_stock = cw_quantity_at(&in->law[v], confidence[k]), quantity = offered(in, v, by_stock);
        double want = promised(in, v, quantity), lacks = 0;
        draw_totals t = totals_at(room, in->draws, k);
        out[k].offered += quantity;
        out[k].sold += want;
        add_draws(in->draws, stock, want, of, t.shorts, t.refund, t.unsold, t.margin);
        if (in->sold && in->sold[v] > by_stock) {
            for (size_t d = 0; d < in->draws; d++)
                lacks += fmax(0, want - stock[d]);
            out[k].too_far++;
            out[k].too_far_short += lacks / (double)in->draws;
            out[k].too_far_refund += of.refund * lacks / (double)in->draws;
        }
    }
}

cw_code cw_tradeoff_curve(const cw_tradeoff_input *in, const double *confidence, size_t n, cw_tradeoff *out,
                          cw_error *err)
{
    if (in->draws == 0)
        return cw_error_set(err, CW_REFUSED, "a trade-off curve needs at least one draw");
    for (size_t k = 0; k < n; k++)
        if (!(confidence[k] > 0 && confidence[k] <= 1))
            return cw_error_set(err, CW_REFUSED, "confidence %g is outside 0 to 1", confidence[k]);
    double *total = calloc(n * in->draws * 4 + 1, sizeof *total);
    double *stock = malloc(in->draws * sizeof *stock);
    cw_code code = total && stock ? CW_OK : cw_error_memory(err);
    for (size_t k = 0; k < n; k++)
        out[k] = (cw_tradeoff){ .confidence = confidence[k] };
    for (size_t v = 0; v < in->varieties && code == CW_OK; v++) {
        in->saleable(in->context, v, stock);
        add_variety(in, v, stock, confidence, n, total, out);
    }
    for (size_t k = 0; k < n && code == CW_OK; k++) {
        draw_totals t = totals_at(total, in->draws, k);
        sum_up(&t, in->draws, &out[k]);
    }
    free(total);
    free(stock);
    return code;
}
