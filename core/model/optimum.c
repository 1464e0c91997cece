/* SPDX-License-Identifier: MIT */
#include "model/optimum.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

typedef struct step {
    double direction[CW_OPTIMUM_MAX];
    double slope; /* g' direction: twice the promised gain */
    double x[CW_OPTIMUM_MAX], gradient[CW_OPTIMUM_MAX], value;
} step;

static double dot(const double *a, const double *b, size_t n)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += a[i] * b[i];
    return sum;
}

#define AT_BOUND 0.01

/* A variable that stands at a bound and is drawn outwards stays, and must not draw others along. */
static bool blocked(const cw_optimum *o, size_t i)
{
    return o->low[i] < o->high[i] && ((o->gradient[i] < 0 && o->x[i] < o->low[i] + AT_BOUND) ||
                                      (o->gradient[i] > 0 && o->x[i] > o->high[i] - AT_BOUND));
}

/* direction = H g, cut so that no variable moves further than `longest`. */
static void aim(const cw_optimum *o, step *s)
{
    double scale = 1, gradient[CW_OPTIMUM_MAX];
    for (size_t i = 0; i < o->n; i++)
        gradient[i] = blocked(o, i) ? 0 : o->gradient[i];
    for (size_t i = 0; i < o->n; i++) {
        s->direction[i] = blocked(o, i) ? 0 : dot(o->inverse + i * o->n, gradient, o->n);
        if (fabs(s->direction[i]) * scale > o->longest)
            scale = o->longest / fabs(s->direction[i]);
    }
    for (size_t i = 0; i < o->n; i++) {
        s->direction[i] *= scale;
        if (o->low[i] < o->high[i]) /* not past a bound; on it, only inwards */
            s->direction[i] = fmin(fmax(s->direction[i], o->low[i] - o->x[i]), o->high[i] - o->x[i]);
    }
    s->slope = dot(s->direction, o->gradient, o->n);
}

/* Tries direction, then shorter and shorter by the parabola through value, slope and what was found. */
static bool advance(cw_optimum *o, step *s, cw_optimum_function f, void *context)
{
    double t = 1;
    for (int tries = 0; tries < 12 && o->evaluations < o->most; tries++) {
        for (size_t i = 0; i < o->n; i++)
            s->x[i] = o->x[i] + t * s->direction[i];
        s->value = f(context, s->x, s->gradient);
        o->evaluations++;
        double gain = s->value - o->value;
        if (isfinite(s->value) && gain >= 1e-4 * t * s->slope)
            return true;
        /* Near the top rounding drowns the gain; then the slope at the far end tells whether we passed it. */
        if (isfinite(s->value) && t * s->slope < 1e-8 * (1 + fabs(o->value)) &&
            fabs(dot(s->gradient, s->direction, o->n)) < 0.9 * s->slope)
            return true;
        double next = isfinite(gain) ? 0.5 * t * t * s->slope / (t * s->slope - gain) : 0.2 * t;
        t = fmin(fmax(next, 0.1 * t), 0.5 * t);
    }
    return false;
}

/* BFGS: H := (I - r s y') H (I - r y s') + r s s', with y the fall of the gradient over s and r = 1 / s'y. */
static void learn(cw_optimum *o, const step *s)
{
    size_t n = o->n;
    double move[CW_OPTIMUM_MAX], fall[CW_OPTIMUM_MAX], h[CW_OPTIMUM_MAX];
    for (size_t i = 0; i < n; i++) {
        move[i] = s->x[i] - o->x[i];
        fall[i] = blocked(o, i) ? 0 : o->gradient[i] - s->gradient[i]; /* the curvature among the free ones */
    }
    double curve = dot(move, fall, n);
    if (curve <= 1e-12 * sqrt(dot(move, move, n) * dot(fall, fall, n)))
        return;
    for (size_t i = 0; i < n; i++)
        h[i] = dot(o->inverse + i * n, fall, n);
    double r = 1 / curve, all = r * r * dot(fall, h, n) + r;
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < n; j++)
            o->inverse[i * n + j] += all * move[i] * move[j] - r * (move[i] * h[j] + h[i] * move[j]);
}

void cw_optimum_climb(cw_optimum *o, cw_optimum_function f, void *context)
{
    o->value = f(context, o->x, o->gradient);
    o->evaluations = 1;
    o->converged = false;
    bool fresh = false; /* the inverse is a bare multiple of the identity */
    while (isfinite(o->value)) {
        step s;
        aim(o, &s);
        if (s.slope < 2 * o->tolerance && s.slope >= 0) {
            o->converged = true;
            return;
        }
        if (s.slope > 0 && advance(o, &s, f, context)) {
            learn(o, &s);
            memcpy(o->x, s.x, sizeof s.x);
            memcpy(o->gradient, s.gradient, sizeof s.gradient);
            o->value = s.value;
            fresh = false;
            continue;
        }
        if (fresh || o->evaluations >= o->most)
            return;
        for (size_t i = 0; i < o->n * o->n; i++) /* a misled inverse: begin again with short steepest steps */
            o->inverse[i] = i % (o->n + 1) == 0 ? 0.1 / (1 + sqrt(dot(o->gradient, o->gradient, o->n))) : 0;
        fresh = true;
    }
}
