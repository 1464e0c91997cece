/* SPDX-License-Identifier: MIT */
#include "model/quantity.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

/* Totals of one draw at one confidence. */
typedef struct draw_total {
    double shorts, refund, unsold, margin;
} draw_total;

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

static void sum_up(const draw_total *t, size_t draws, double *x, cw_tradeoff *out)
{
    double any = 0;
    for (size_t d = 0; d < draws; d++) {
        out->short_mean += t[d].shorts / (double)draws;
        out->refund_mean += t[d].refund / (double)draws;
        out->unsold_mean += t[d].unsold / (double)draws;
        out->margin_mean += t[d].margin / (double)draws;
        any += t[d].shorts > 0;
    }
    out->p_any_short = any / (double)draws;
    for (size_t d = 0; d < draws; d++)
        x[d] = t[d].shorts;
    out->short_q90 = quantile(x, draws, 0.9);
    for (size_t d = 0; d < draws; d++)
        x[d] = t[d].refund;
    out->refund_q90 = quantile(x, draws, 0.9);
    for (size_t d = 0; d < draws; d++)
        x[d] = t[d].unsold;
    out->unsold_q90 = quantile(x, draws, 0.9);
    for (size_t d = 0; d < draws; d++)
        x[d] = t[d].margin;
    out->margin_q10 = quantile(x, draws, 0.1);
}

/* Adds one variety to all draws of all confidences. stock[draws] are its draws. */
static void add_variety(const cw_tradeoff_input *in, size_t v, const double *stock, const double *confidence,
                        size_t n, draw_total *total, cw_tradeoff *out)
{
    double margin = (double)in->margin[v], cost = (double)in->short_cost[v], refund = (double)in->refund[v];
    for (size_t k = 0; k < n; k++) {
        int64_t by_stock = cw_quantity_at(&in->law[v], confidence[k]), quantity = offered(in, v, by_stock);
        double want = promised(in, v, quantity), lacks = 0;
        draw_total *t = &total[k * in->draws];
        out[k].offered += quantity;
        out[k].sold += want;
        for (size_t d = 0; d < in->draws; d++) {
            double over = stock[d] - want, lack = over < 0 ? -over : 0;
            lacks += lack;
            t[d].shorts += lack;
            t[d].refund += refund * lack;
            t[d].unsold += over > 0 ? over : 0;
            t[d].margin += margin * (want - lack) - cost * lack;
        }
        if (in->sold && in->sold[v] > by_stock) {
            out[k].too_far++;
            out[k].too_far_short += lacks / (double)in->draws;
            out[k].too_far_refund += refund * lacks / (double)in->draws;
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
    draw_total *total = calloc(n * in->draws + 1, sizeof *total);
    double *stock = malloc(in->draws * sizeof *stock);
    cw_code code = total && stock ? CW_OK : cw_error_memory(err);
    for (size_t k = 0; k < n; k++)
        out[k] = (cw_tradeoff){ .confidence = confidence[k] };
    for (size_t v = 0; v < in->varieties && code == CW_OK; v++) {
        for (size_t d = 0; d < in->draws; d++)
            stock[d] = (double)in->saleable(in->context, d, v);
        add_variety(in, v, stock, confidence, n, total, out);
    }
    for (size_t k = 0; k < n && code == CW_OK; k++)
        sum_up(&total[k * in->draws], in->draws, stock, &out[k]);
    free(total);
    free(stock);
    return code;
}
