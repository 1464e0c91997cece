/* SPDX-License-Identifier: MIT */
#include "model/learned.h"

#include "base/parallel.h"

#include "base/banned.h"

/* The fits do not need each other; each has its own error. */
enum { RATE, ROT, SHRINK, FITS };
typedef struct fits {
    const cw_lessons *from;
    const cw_learned *before;
    cw_learned *out;
    cw_code code[FITS];
    cw_error err[FITS];
} fits;

static void fit(void *context, unsigned worker, size_t which)
{
    fits *f = context;
    const cw_lessons *from = f->from;
    const cw_learned *before = f->before;
    (void)worker;
    if (which == RATE)
        f->code[which] =
            cw_rate_fit(&from->rate, before ? before->rate : NULL, &f->out->rate, &f->err[which]);
    else if (which == ROT)
        f->code[which] = cw_rot_fit(&from->rot, before ? before->rot : NULL, &f->out->rot, &f->err[which]);
    else
        f->code[which] =
            cw_shrink_refit(from->weighing, from->weighings, from->crates, from->check, from->checks,
                            from->lots, before ? before->shrink : NULL, &f->out->shrink, &f->err[which]);
}

cw_code cw_learn(const cw_lessons *from, const cw_learned *before, cw_learned *out, cw_error *err)
{
    *out = (cw_learned){ 0 };
    fits f = { .from = from, .before = before, .out = out };
    cw_parallel_for(from->threads, FITS, fit, &f);
    for (size_t i = 0; i < FITS; i++) {
        if (f.code[i] == CW_OK)
            continue;
        if (err && err->code == CW_OK)
            *err = f.err[i];
        cw_learned_free(out);
        return f.code[i];
    }
    return CW_OK;
}

void cw_learned_free(cw_learned *l)
{
    cw_shrink_free(l->shrink);
    cw_rot_free(l->rot);
    cw_rate_free(l->rate);
    *l = (cw_learned){ 0 };
}
