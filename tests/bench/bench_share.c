/* SPDX-License-Identifier: MIT */
/* Sharing 961,000 lines over 1,500 varieties: sorting, then each rule, previewed side by side; then ten times
 * fewer lines, to see how the time grows. Prints "name value unit"; times are of the processor. The data are invented, by a fixed seed.
 */
#include "base/rng.h"
#include "model/share.h"
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "base/banned.h"

/* Processor time, so that what else runs on the machine does not count; the program has one thread. */
static double now_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec * 1e3 + (double)t.tv_nsec / 1e6;
}

typedef struct season {
    cw_share_input in;
    int64_t *supply;
    cw_share_order *order;
    cw_share_line *line;
} season;

/* Orders of 1 to 7 lines; popular varieties are asked far more often; supply about 70 % of what is asked; one
 * line in 20 is all-or-none, one order in 50 ship-complete; rows in random order. */
static void make(season *s, size_t lines, size_t varieties)
{
    cw_rng r;
    cw_rng_init(&r, 961, 0);
    s->supply = calloc(varieties, sizeof *s->supply);
    s->order = calloc(lines, sizeof *s->order);
    s->line = calloc(lines, sizeof *s->line);
    if (!s->supply || !s->order || !s->line)
        exit(3);
    size_t n = 0, orders = 0;
    while (n < lines) {
        s->order[orders] = (cw_share_order){ 1956528000000 + (int64_t)(cw_rng_uniform(&r) * 1e10),
                                             (uint8_t)(cw_rng_below(&r, 10) == 0 ? 0 : 1),
                                             cw_rng_below(&r, 50) == 0, false };
        uint32_t k = 1 + cw_rng_below(&r, 7);
        for (uint32_t j = 0; j < k && n < lines; j++) {
            double u = cw_rng_uniform(&r);
            uint32_t v = (uint32_t)(u * u * (double)varieties);
            int32_t asked = 1 + (int32_t)cw_rng_below(&r, 5);
            s->line[n++] =
                (cw_share_line){ v, (uint32_t)orders, (int32_t)j + 1, asked, 0, cw_rng_below(&r, 20) == 0 };
            s->supply[v] += asked;
        }
        orders++;
    }
    for (size_t v = 0; v < varieties; v++)
        s->supply[v] = s->supply[v] * 7 / 10;
    for (size_t i = lines; i-- > 1;) {
        size_t j = cw_rng_below(&r, (uint32_t)i + 1);
        cw_share_line swap = s->line[i];
        s->line[i] = s->line[j];
        s->line[j] = swap;
    }
    s->in = (cw_share_input){ varieties, orders, lines, s->supply, s->order, s->line };
}

static void run(const char *tag, size_t lines, size_t varieties)
{
    season s;
    make(&s, lines, varieties);
    cw_share_outcome *out = calloc(lines, sizeof *out);
    cw_error err = CW_ERROR_NONE;
    cw_share *share = NULL;
    double best[2 + CW_SHARE_RULES] = { 1e9, 1e9, 1e9, 1e9, 1e9 };
    for (int round = 0; round < 5; round++) {
        double t0 = now_ms(), t1, both = 0;
        if (cw_share_new(&s.in, &share, &err) != CW_OK)
            exit(1);
        t1 = now_ms();
        best[0] = t1 - t0 < best[0] ? t1 - t0 : best[0];
        both = t1 - t0;
        for (int rule = 0; rule < (int)CW_SHARE_RULES; rule++) {
            t0 = now_ms();
            if (cw_share_run(share, (cw_share_rule)rule, false, out, NULL, &err) != CW_OK)
                exit(1);
            t1 = now_ms();
            best[1 + rule] = t1 - t0 < best[1 + rule] ? t1 - t0 : best[1 + rule];
            both += rule < (int)CW_SHARE_ONE_EACH ? t1 - t0 : 0;
        }
        best[1 + CW_SHARE_RULES] = both < best[1 + CW_SHARE_RULES] ? both : best[1 + CW_SHARE_RULES];
        cw_share_free(share);
    }
    printf("share_%s_sort %.1f ms\n", tag, best[0]);
    for (int rule = 0; rule < (int)CW_SHARE_RULES; rule++)
        printf("share_%s_%s %.1f ms\n", tag, cw_share_rule_name((cw_share_rule)rule), best[1 + rule]);
    printf("share_%s_sort_first-come_pro-rata %.1f ms\n", tag, best[1 + CW_SHARE_RULES]);
    free(out);
    free(s.supply);
    free(s.order);
    free(s.line);
}

int main(void)
{
    run("961000", 961000, 1500);
    run("96100", 96100, 1500);
    return 0;
}
