/* SPDX-License-Identifier: MIT */
/* What the owner said of a usual winter's rot held against what this season's checks found, beside what past seasons said without it.
 *
 * What came is the rotten over what the priors expect of the same rows (indirect standardisation: Breslow & Day 1987, Statistical
 * Methods in Cancer Research II, ch. 2, from memory), as a share of a whole winter. Looks on suspicion are left out. */
#include "desk/forecast/forecast_inside.h"
#include "desk/forecast/hindsight.h"
#include "desk/nursery/roles_inside.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

#define FEWEST                                                                                               \
    5 /* expected rotten of what was looked at; with fewer it is chance (common practice, no source) */

static const cw_column columns[] = {
    { "low", CW_REAL_T, 3, .says = "Share lost to rot in a usual winter, as the owner says, 8 in 10 sure." },
    { "high", CW_REAL_T, 3 },
    { "looked", CW_INT_T, .says = "Clumps and divisions looked at this season, not on suspicion." },
    { "rotten", CW_INT_T },
    { "lost", CW_REAL_T, 3, .null = true,
      .says = "What that makes of a whole winter; null: too few were looked at." },
    { "held", CW_BOOL_T, .null = true },
    { "expected", CW_REAL_T, 3, .says = "By past seasons and what was said." },
    { "without", CW_REAL_T, 3, .says = "By past seasons alone." },
    { "nearer", CW_BOOL_T, .null = true, .says = "Expected was nearer than that." },
};
const cw_shape cw_hindsight_rot_shape = CW_ROWS(columns);

typedef struct found {
    int64_t looked, rotten;
    double expected;
} found;

/* This season's rows tell what came; the others go to `past`, and their number is the answer. */
static size_t part_rows(const cw_forecast_data *d, cw_rot_row *past, cw_rot_look *look, found *out)
{
    size_t n = 0;
    for (size_t i = 0; i < d->rot_rows; i++) {
        const cw_rot_row *row = &d->rot_row[i];
        if (row->season != d->season - d->first_season) {
            past[n] = *row;
            look[n++] = d->rot_look[i];
        } else if (d->rot_look[i].why != CW_ROT_SUSPICION) {
            out->looked += row->inspected;
            out->rotten += row->rotten;
            out->expected += cw_rot_expected(row);
        }
    }
    return n;
}

static cw_code expect(const cw_forecast_data *d, cw_rot_usual *usual, found *seen, cw_error *err)
{
    cw_rot *fit = NULL, *without = NULL;
    cw_rot_row *past = calloc(d->rot_rows + 1, sizeof *past);
    cw_rot_look *look = calloc(d->rot_rows + 1, sizeof *look);
    cw_code code = past && look ? CW_OK : cw_error_memory(err);
    if (code == CW_OK) {
        const cw_rot_data data = { .rows = past,
                                   .n_rows = part_rows(d, past, look, seen),
                                   .varieties = d->varieties,
                                   .seasons = (size_t)(d->season - d->first_season + 1),
                                   .season = d->season - d->first_season,
                                   .look = look,
                                   .own = d->rot_own };
        cw_rot_data alone = data;
        alone.own.low = alone.own.high = 0;
        code = cw_rot_fit(&data, NULL, &fit, err);
        if (code == CW_OK)
            code = cw_rot_fit(&alone, NULL, &without, err);
    }
    if (code == CW_OK) {
        *usual = cw_rot_usual_winter(fit);
        usual->without = cw_rot_usual_winter(without).lost;
    }
    cw_rot_free(without);
    cw_rot_free(fit);
    free(look);
    free(past);
    return code;
}

static void put_known(bool known, bool value, cw_table *out)
{
    if (known)
        cw_put_bool(out, value);
    else
        cw_put_null(out);
}

cw_code cw_hindsight_rot(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err)
{
    const cw_forecast *f = NULL;
    cw_rot_usual usual;
    found seen = { 0 };
    cw_table_init(out, columns, CW_WIDTH(columns));
    cw_code code = cw_season_look(n, err);
    if (code != CW_OK || who->today < n->season.ship)
        return code;
    code = cw_forecast_get(n, who, CW_NO_DAY, CW_NO_DAY, &f, err);
    if (code != CW_OK || f->data->rot_own.high <= 0)
        return code;
    code = expect(f->data, &usual, &seen, err);
    if (code != CW_OK)
        return code;
    const cw_rot_own *own = &f->data->rot_own;
    bool known = seen.expected >= FEWEST;
    double lost = known ? cw_rot_lost((double)seen.rotten / seen.expected, own->weeks) : NAN;
    cw_put_real(out, own->low);
    cw_put_real(out, own->high);
    cw_put_int(out, seen.looked);
    cw_put_int(out, seen.rotten);
    cw_put_real(out, lost);
    put_known(known, own->low <= lost && lost <= own->high, out);
    cw_put_real(out, usual.lost);
    cw_put_real(out, usual.without);
    put_known(known, fabs(usual.lost - lost) < fabs(usual.without - lost), out);
    return cw_table_check(out, err);
}
