/* SPDX-License-Identifier: MIT */
#include "model/projection_inside.h"

#include "model/rate.h"
#include "model/special.h"

#include <math.h>

#include "base/banned.h"

static const size_t sizes[LATTICES] = { FEW_NODES, 64, 128, MOST_NODES };
static const unsigned generators[LATTICES][SIDES] = {
    { 1, 7, 11, 19 }, { 1, 15, 25, 27 }, { 1, 27, 29, 39 }, { 1, 97, 99, 49 }
};

/* Least part of a normal's spread that stays with a node. None for drying: limits are steep in it, and what
 * is local is only taken to first order. */
static const double least_tau[SIDES] = { 0.65, 0.25, 0.25, 0.0 };

/* A point's normal law is cut into n slices of equal chance. Of z = sqrt(1 - least^2) x + least w a node
 * stands for a slice of x, at its mean; the slice's own variance and that of w are local. So variance is
 * exact and tails are kept. Where nothing is to be local (least = 0) the nodes stand at the middles of the
 * slices. */
static void spread_point(side *s, const size_t *rank_node, unsigned point, size_t from, size_t n,
                         double least)
{
    double slices = (double)n, scale = sqrt(1.0 - least * least), square_of_middles = 0.0;
    for (size_t i = 0; i < n; i++) {
        double low = cw_normal_quantile((double)i / slices),
               high = cw_normal_quantile((double)(i + 1) / slices);
        double at_low = cw_normal_density(low), at_high = cw_normal_density(high);
        double mean = slices * (at_low - at_high);
        double square = 1.0 + slices * ((i > 0 ? low * at_low : 0.0) - (i + 1 < n ? high * at_high : 0.0));
        size_t node = rank_node[from + i];
        s->point[node] = point;
        s->middle[node] = cw_normal_quantile(((double)i + 0.5) / slices);
        square_of_middles += s->middle[node] * s->middle[node] / slices;
        s->z[node] = least > 0.0 ? scale * mean : s->middle[node];
        s->tau[node] =
            least > 0.0 ? sqrt(least * least + scale * scale * fmax(0.0, square - mean * mean)) : 0.0;
    }
    /* middles alone stand for the whole spread where nothing is local: give them all of it */
    for (size_t i = 0; n > 1 && i < n; i++)
        s->middle[rank_node[from + i]] /= sqrt(square_of_middles);
}

/* Nodes in order of their place on this side; each point of the mixture gets a run of them by its weight. A
 * point too light for a node of its own is left out and its weight goes to all others alike. */
static void lay_side(side *s, size_t total, unsigned multiplier, double least)
{
    size_t rank_node[ROOM], to_of[ROOM], points = s->known != NULL ? s->known->points : 1, from = 0;
    double run = 0.0, kept = 0.0;
    for (size_t j = 0; j < total; j++)
        rank_node[(j * multiplier) % total] = j;
    points = points < total ? points : total; /* a fit gives some twenty */
    for (size_t p = 0; p < points; p++) {
        double w = s->known != NULL ? s->known->point[p].weight : 1.0;
        run += w;
        size_t to = p + 1 == points ? total : (size_t)(run * (double)total + 0.5);
        to_of[p] = to < from ? from : to > total ? total : to;
        kept += to_of[p] > from ? w : 0.0;
        from = to_of[p];
    }
    from = 0;
    for (size_t p = 0; p < points; from = to_of[p++]) {
        if (to_of[p] == from)
            continue;
        size_t n = to_of[p] - from;
        spread_point(s, rank_node, (unsigned)p, from, n, least);
        double w = s->known != NULL ? s->known->point[p].weight / kept : 1.0;
        for (size_t i = from; i < to_of[p]; i++)
            s->weight[rank_node[i]] = w * (double)total / (double)n;
    }
}

static void lay(const cw_projection_input *in, lattice *l, size_t total, const unsigned *generator)
{
    l->nodes = total;
    l->side[RATE].known = in->rate;
    l->side[CLUMP_ROT].known = in->clump_rot;
    l->side[DIVISION_ROT].known = in->division_rot;
    for (int s = 0; s < SIDES; s++)
        lay_side(&l->side[s], total, generator[s], least_tau[s]);
}

static bool has_tilt(const cw_latent *l, int tilt)
{
    for (size_t i = 0; l != NULL && i < l->points; i++)
        if (l->point[i].weight > 0.0 && l->point[i].tilt[tilt] != 0.0)
            return true;
    return false;
}

void cw_projection_lattice(cw_projection *p)
{
    p->tilted[RATE] = has_tilt(p->in.rate, CW_RATE_ORDER);
    p->tilted[CLUMP_ROT] = has_tilt(p->in.clump_rot, CW_TILT_AGE);
    p->tilted[DIVISION_ROT] = has_tilt(p->in.division_rot, CW_TILT_AGE);
    for (int i = 0; i < LATTICES; i++)
        lay(&p->in, &p->on[i], sizes[i], generators[i]);
}
