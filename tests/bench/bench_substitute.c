/* SPDX-License-Identifier: MIT */
/* Substitution: 2,400 short lines over 300 varieties, 30,000 over 1,500, the latter with prices that are nearly all
 * different, and 60,000 with limits on everything and enough for all, with the proof checked. Prints "name value unit".
 * The data are invented, by a fixed seed. */
#include "base/rng.h"
#include "model/substitute.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>

#include "base/banned.h"

static double ms(clockid_t clock)
{
    struct timespec t;
    clock_gettime(clock, &t);
    return (double)t.tv_sec * 1e3 + (double)t.tv_nsec / 1e6;
}

typedef struct world {
    cw_sub_input in;
    cw_sub_variety *variety;
    cw_sub_line *line;
    cw_sub_held *held;
    uint32_t *named;
} world;

typedef struct shape {
    const char *name;
    size_t lines, varieties;
    uint32_t price_steps; /* how many prices there are, 0.50 apart */
    bool odd_prices;      /* every line has paid its own price */
    bool named;           /* some buyers name their substitutes */
    uint32_t forms, colours;
    bool tight; /* every variety has a limit of 1 or 2 an order, and orders have up to five short lines */
    bool whole; /* one line in 25 takes all or nothing */
    bool assortments; /* one line in five is an assortment, at most one of a variety */
    int32_t plenty;   /* so many times the surplus */
} shape;

/* A third of the varieties is short, the rest has 5 to 60 to spare; orders hold three other varieties. */
static void make(world *w, const shape *s)
{
    cw_rng r;
    cw_rng_init(&r, 2400, s->lines);
    w->variety = calloc(s->varieties, sizeof *w->variety);
    w->line = calloc(s->lines, sizeof *w->line);
    w->held = calloc(s->lines * 3, sizeof *w->held);
    w->named = calloc(s->lines * 4, sizeof *w->named);
    if (!w->variety || !w->line || !w->held || !w->named)
        exit(3);
    for (size_t v = 0; v < s->varieties; v++)
        w->variety[v] =
            (cw_sub_variety){ { (int32_t)cw_rng_below(&r, s->forms), (int32_t)cw_rng_below(&r, s->colours),
                                (int32_t)cw_rng_below(&r, 4) },
                              600 + 50 * (int64_t)cw_rng_below(&r, s->price_steps),
                              v % 3 == 0 ? 0 : s->plenty * (5 + (int32_t)cw_rng_below(&r, 56)),
                              s->tight                   ? 1 + (int32_t)cw_rng_below(&r, 2)
                              : cw_rng_below(&r, 4) == 0 ? 3
                                                         : 0 };
    size_t helds = 0, named = 0;
    for (size_t i = 0; i < s->lines; i++) {
        uint32_t order = (uint32_t)(s->tight ? i / 3 : i * 4 / 5),
                 wanted = 3 * cw_rng_below(&r, (uint32_t)(s->varieties / 3)), u = cw_rng_below(&r, 10);
        w->line[i] = (cw_sub_line){ .order = order,
                                    .line = (int32_t)i,
                                    .wanted = wanted,
                                    .missing = 1 + (int32_t)cw_rng_below(&r, 3),
                                    .paid = w->variety[wanted].price -
                                            (s->odd_prices ? (int64_t)cw_rng_below(&r, 500) : 0),
                                    .consent = u < 5                ? CW_CONSENT_SAME
                                               : u < 8 || !s->named ? CW_CONSENT_ANY
                                                                    : CW_CONSENT_NAMED };
        if (w->line[i].consent == CW_CONSENT_NAMED) {
            w->line[i].named_first = (uint32_t)named;
            w->line[i].named_count = 4;
            for (int k = 0; k < 4; k++)
                w->named[named++] = cw_rng_below(&r, (uint32_t)s->varieties);
        }
        if (s->whole && i % 25 == 0)
            w->line[i].unit = (uint32_t)i + 1;
        if (s->assortments && cw_rng_below(&r, 5) == 0) {
            w->line[i].consent = CW_CONSENT_ASSORTMENT;
            w->line[i].wanted = CW_SUB_NONE_WANTED;
            w->line[i].class =
                (cw_sub_class){ CW_SUB_UNKNOWN, (int32_t)cw_rng_below(&r, s->colours), CW_SUB_UNKNOWN };
            w->line[i].spread = 1;
            w->line[i].missing = 6;
        }
        for (int k = 0; k < 3; k++)
            w->held[helds++] = (cw_sub_held){ order, cw_rng_below(&r, (uint32_t)s->varieties), 0 };
    }
    w->in = (cw_sub_input){ .varieties = s->varieties,
                            .lines = s->lines,
                            .helds = helds,
                            .named_total = named,
                            .variety = w->variety,
                            .line = w->line,
                            .held = w->held,
                            .named = w->named };
}

static size_t count_pairs(const world *w)
{
    size_t n = 0;
    cw_sub_choice c;
    cw_sub_input bare = w->in;
    bare.helds = 0;
    for (uint32_t l = 0; l < w->in.lines; l++)
        for (uint32_t v = 0; v < w->in.varieties; v++)
            n += w->variety[v].surplus > 0 && cw_substitute_allowed(&bare, l, v, &c);
    return n;
}

static void run(const shape *s)
{
    world w;
    cw_sub_plan plan;
    cw_error err = CW_ERROR_NONE;
    const char *why = NULL;
    double best = 1e12, best_cpu = 1e12;
    make(&w, s);
    for (int k = 0; k < 3; k++) {
        double t0 = ms(CLOCK_MONOTONIC), c0 = ms(CLOCK_PROCESS_CPUTIME_ID);
        if (cw_substitute_solve(&w.in, &plan, &err) != CW_OK) {
            fprintf(stderr, "%s\n", err.text);
            exit(1);
        }
        double t = ms(CLOCK_MONOTONIC) - t0, c = ms(CLOCK_PROCESS_CPUTIME_ID) - c0;
        best = t < best ? t : best;
        best_cpu = c < best_cpu ? c : best_cpu;
        if (k < 2)
            cw_sub_plan_free(&plan);
    }
    double t1 = ms(CLOCK_MONOTONIC);
    bool proved = cw_substitute_verify(&w.in, &plan, &why);
    double t2 = ms(CLOCK_MONOTONIC);
    struct rusage use;
    getrusage(RUSAGE_SELF, &use);
    printf("substitute_%s_solve %.1f ms\n", s->name, best);
    printf("substitute_%s_solve_cpu %.1f ms\n", s->name, best_cpu);
    printf("substitute_%s_verify %.1f ms\n", s->name, t2 - t1);
    if (s->lines <= 3000)
        printf("substitute_%s_pairs %zu count\n", s->name, count_pairs(&w));
    printf("substitute_%s_groups %zu count\n", s->name, plan.groups);
    printf("substitute_%s_arcs %zu count\n", s->name, plan.arcs);
    printf("substitute_%s_rounds %zu count\n", s->name, plan.rounds);
    printf("substitute_%s_placed %lld divisions\n", s->name, (long long)plan.total.placed);
    printf("substitute_%s_branches %zu count\n", s->name, plan.branches[0] + plan.branches[1]);
    printf("substitute_%s_at_most %lld divisions\n", s->name,
           (long long)(plan.at_most[0].placed + plan.at_most[1].placed));
    printf("substitute_%s_missing %lld divisions\n", s->name, (long long)plan.total.missing);
    printf("substitute_%s_peak_memory %ld MB\n", s->name, use.ru_maxrss / 1024);
    if (!proved) {
        fprintf(stderr, "%s: %s\n", s->name, why);
        exit(1);
    }
    cw_sub_plan_free(&plan);
    free(w.variety);
    free(w.line);
    free(w.held);
    free(w.named);
}

int main(int argc, char **argv)
{
    static const shape shapes[] = {
        { "2400x300", 2400, 300, 16, false, true, 15, 12, false, false, false, 1 },
        { "2400x300_whole", 2400, 300, 16, false, true, 15, 12, false, true, false, 1 },
        { "3000x1500", 3000, 1500, 16, false, false, 15, 12, false, false, false, 1 },
        { "30000x1500", 30000, 1500, 16, false, false, 15, 12, false, false, false, 1 },
        { "30000x1500_whole", 30000, 1500, 16, false, false, 15, 12, false, true, false, 1 },
        { "3000x300_tight", 3000, 300, 16, false, true, 15, 12, true, false, true, 1 },
        { "30000x1500_tight", 30000, 1500, 16, false, true, 15, 12, true, false, true, 1 },
        { "60000x1500_plenty", 60000, 1500, 16, false, false, 15, 12, true, false, false, 4 },
        { "30000x1500_odd_prices", 30000, 1500, 40, true, false, 15, 12, false, false, false, 1 },
    };
    for (size_t k = 0; k < sizeof shapes / sizeof shapes[0]; k++)
        if (argc < 2 || strcmp(argv[1], shapes[k].name) == 0) /* one shape alone, by its name */
            run(&shapes[k]);
    return 0;
}
