/* SPDX-License-Identifier: MIT */
#include "desk/forecast/forecast.h"

#include "base/json.h"

#include "desk/forecast/forecast_inside.h"
#include "model/special.h"
#include "store/kept.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* One piece of the explanation: a value with its 10 and 90 % points, what it does to the mean, its share of the
 * variance, and a sentence. */
static const cw_column why_columns[] = {
    { "piece", CW_TEXT_T },
    { "value", CW_REAL_T, 3, .null = true },
    { "low", CW_REAL_T, 3, .null = true },
    { "high", CW_REAL_T, 3, .null = true },
    { "mean_effect", CW_REAL_T, 1, .null = true },
    { "variance_share", CW_REAL_T, 2, .null = true },
    { "sentence", CW_TEXT_T },
};

static void piece(cw_table *t, const char *name, const double value[3], double effect, double share,
                  const char *format, ...) CW_PRINTF(6, 7);
static void piece(cw_table *t, const char *name, const double value[3], double effect, double share,
                  const char *format, ...)
{
    char sentence[600];
    va_list args;
    va_start(args, format);
    vsnprintf(sentence, sizeof sentence, format, args);
    va_end(args);
    cw_put_text(t, name);
    for (int i = 0; i < 3; i++)
        cw_put_real(t, value ? value[i] : NAN);
    cw_put_real(t, effect);
    cw_put_real(t, share);
    cw_put_text(t, sentence);
}

/* A factor on the rate as words: "12 % above". */
static const char *against(double log_factor, char out[32])
{
    double percent = 100 * (exp(log_factor) - 1);
    if (fabs(percent) < 0.5)
        snprintf(out, 32, "level with");
    else
        snprintf(out, 32, percent > 0 ? "%.0f %% above" : "%.0f %% below", fabs(percent));
    return out;
}

/* Turns a part's mean into a factor with 10 and 90 % points, as wide as its share of the variance. */
static void factor(const cw_mixed_part *p, double out[3])
{
    double sd = p->share > 0 ? sqrt(p->share) : 0;
    out[0] = exp(p->mean);
    out[1] = exp(p->mean - 1.2816 * sd);
    out[2] = exp(p->mean + 1.2816 * sd);
}

/* What the owner's own estimate does: its share of what is known, and what would be said without it. */
static void own_piece(const cw_snap_variety *s, const cw_rate_why *r, cw_table *out)
{
    cw_rate_own own = cw_forecast_own(s);
    const double range[3] = { sqrt(own.low * own.high), own.low, own.high };
    if (own.low > 0 && r->own_share > 0)
        piece(out, "rate: own estimate", range, NAN, NAN,
              "You said %.1f to %.1f a clump in a usual season: that is %.0f %% of what is known of it. "
              "Without it: %.1f.",
              own.low, own.high, 100 * r->own_share, r->without_own);
}

static void rate_pieces(const cw_forecast *f, size_t v, const cw_projection_why *w, cw_table *out)
{
    const cw_snap_variety *s = &f->data->snapshot->variety[v];
    cw_rate_why r;
    char words[32];
    double x[3];
    cw_rate_explain(f->learned.rate, v, &r);
    double all = r.variance > 0 ? r.variance : 1;
    double share = w->variance > 0 ? w->variance_rate / w->variance : 0;
    const double rate[3] = { w->rate, w->rate_low, w->rate_high };
    piece(out, "rate", rate, w->mean_if_all_sound - w->divisions, share,
          "A sound clump gives about %.1f divisions (8 in 10 sure: %.1f to %.1f).", w->rate, w->rate_low,
          w->rate_high);
    factor(&r.nursery, x);
    piece(out, "rate: nursery", x, NAN, share * r.nursery.share / all,
          "The nursery's varieties give %.1f a clump on the whole.", x[0]);
    factor(&r.form, x);
    piece(out, "rate: form", x, NAN, share * r.form.share / all, "Its form (%s) is %s them.",
          s->form[0] ? s->form : "not known", against(r.form.mean, words));
    factor(&r.size, x);
    piece(out, "rate: size", x, NAN, share * r.size.share / all, "Its size (%s) is %s them.",
          s->size[0] ? s->size : "not known", against(r.size.mean, words));
    factor(&r.history, x);
    if (r.past_clumps > 0)
        piece(out, "rate: own history", x, NAN, share * r.history.share / all,
              "%lld clump%s of past seasons gave %lld division%s: the variety is %s its form and size.",
              (long long)r.past_clumps, CW_S(r.past_clumps), (long long)r.past_divisions,
              CW_S(r.past_divisions), against(r.history.mean, words));
    else
        piece(out, "rate: own history", x, NAN, share * r.history.share / all,
              "It was not divided in past seasons, so it may differ much from its form and size.");
    own_piece(s, &r, out);
    factor(&r.season, x);
    piece(out, "rate: season", x, NAN, share * r.season.share / all,
          "This season is %s others, by all that is divided so far.", against(r.season.mean, words));
    factor(&r.own_season, x);
    if (r.now_clumps > 0)
        piece(out, "rate: this season's own", x, NAN, share * r.own_season.share / all,
              "%lld clump%s gave %lld division%s this season: %s what the rest would say.",
              (long long)r.now_clumps, CW_S(r.now_clumps), (long long)r.now_divisions, CW_S(r.now_divisions),
              against(r.own_season.mean, words));
    else
        piece(out, "rate: this season's own", x, NAN, share * r.own_season.share / all,
              "None of it is divided yet this season.");
}

/* Plants that still stand: how many of them should be dug sound, and what is not known of that. */
static void plant_pieces(const cw_forecast *f, size_t v, double variance, const cw_projection_why *w,
                         cw_table *out)
{
    double share = 0, mean = 0, sd = 0;
    int64_t plants = cw_forecast_plants(f, v, &share);
    if (plants == 0)
        return;
    cw_establish_now(f->establish, v, &mean, &sd);
    double rest = share < 1 ? -log(share) : 0; /* of the losses to come; the doubt is a factor on them */
    const double x[3] = { share, exp(-rest * exp(1.2816 * sd)), exp(-rest * exp(-1.2816 * sd)) };
    piece(out, "plants", x, NAN, variance > 0 ? fmax(0, variance - w->variance) / variance : 0,
          "%lld plant%s in the field: about %.0f %% of them should be dug as sound clumps (8 in 10 sure: "
          "%.0f to %.0f "
          "%%).",
          (long long)plants, plants == 1 ? " stands" : "s stand", 100 * x[0], 100 * x[1], 100 * x[2]);
    if (!cw_establish_informed(f->establish))
        piece(out, "plants: default", NULL, NAN, NAN,
              "No planting of a past season is on record: what is lost until digging is the setting's "
              "estimate.");
    else
        piece(out, "plants: learned", NULL, NAN, NAN,
              "Learned from %lld plants of past seasons, and of this season's walks and digging.",
              (long long)cw_establish_plants(f->establish));
}

/* What the owner's word of a usual winter does to rot: its share of what is known of the nursery, and what would be said without it. */
static void own_rot_piece(const cw_forecast *f, cw_table *out)
{
    const cw_rot_own *own = &f->data->rot_own;
    cw_rot_usual usual = cw_rot_usual_winter(f->learned.rot);
    const double sound[3] = { 1 - usual.lost, 1 - own->high, 1 - own->low };
    if (usual.own_share > 0)
        piece(out, "rot: own estimate", sound, NAN, NAN,
              "You said %.0f to %.0f %% rot in a usual winter: that is %.0f %% of what is known of it. The "
              "nursery's varieties: %.0f %%; without your word %.0f %%.",
              100 * own->low, 100 * own->high, 100 * usual.own_share, 100 * usual.lost, 100 * usual.without);
}

static void loss_pieces(const cw_projection_why *w, int64_t plants, cw_table *out)
{
    double all = w->variance > 0 ? w->variance : 1;
    const double clump[3] = { w->clump_sound, w->clump_sound_low, w->clump_sound_high };
    const double division[3] = { w->division_sound, w->division_sound_low, w->division_sound_high };
    const double shrivelled[3] = { w->shrivelled, NAN, NAN };
    if (w->clumps > 0)
        piece(out, "rot of clumps", clump, w->mean_after_clump_rot - w->mean_if_all_sound,
              w->variance_clump_rot / all,
              "Of %.0f clumps still whole%s, %.1f %% should be sound when they are cut.", w->clumps,
              plants > 0 ? " or to be dug" : "", 100 * w->clump_sound);
    piece(out, "rot of divisions", division, w->mean_after_division_rot - w->mean_after_clump_rot,
          w->variance_division_rot / all, "Of divisions, %.1f %% should not rot before shipping.",
          100 * w->division_sound);
    piece(out, "shrink", shrivelled, w->mean - w->mean_after_division_rot, w->variance_shrink / all,
          "Of those, %.1f %% should shrivel by then.", 100 * w->shrivelled);
    piece(out, "chance", NULL, NAN, w->variance_chance / all,
          "The rest of the spread is chance from clump to clump.");
}

/* Which of the two measurements narrows the 80 % range more. */
static void next_piece(const cw_projection_why *w, cw_table *out)
{
    const double width[3] = { w->width_now, NAN, NAN };
    bool divide = w->divide > 0 && (w->check == 0 || w->width_divide <= w->width_check);
    double then = divide ? w->width_divide : w->width_check;
    if ((w->divide == 0 && w->check == 0) || w->width_now <= 0)
        piece(out, "next", width, NAN, NAN, "Nothing on hand is left to measure.");
    else if (then > w->width_now - fmax(0.5, 0.02 * w->width_now)) /* it would read the same, or nearly */
        piece(
            out, "next", width, then - w->width_now, NAN,
            "Nothing cheap helps: dividing or checking a few would leave the 8-in-10 range about %.0f wide.",
            w->width_now);
    else if (divide)
        piece(out, "next", width, then - w->width_now, NAN,
              "Dividing %lld more clump%s would narrow the 8-in-10 range from %.0f to about %.0f divisions.",
              (long long)w->divide, CW_S(w->divide), w->width_now, then);
    else
        piece(out, "next", width, then - w->width_now, NAN,
              "Checking %lld division%s would narrow the 8-in-10 range from %.0f to about %.0f divisions.",
              (long long)w->check, CW_S(w->check), w->width_now, then);
}

static cw_code why_table(const cw_forecast *f, size_t v, cw_table *out, cw_error *err)
{
    cw_projection_why w;
    double variance = f->law[v].variance;
    cw_projection_explain(f->projection, v, &w);
    plant_pieces(f, v, variance, &w, out);
    if (w.variance > 0 && variance > w.variance && f->data->beds > 0)
        w.variance = variance; /* the other shares are of the whole, too */
    double share = 0;
    int64_t plants = cw_forecast_plants(f, v, &share);
    w.clumps -= (double)plants * (1 - share);
    rate_pieces(f, v, &w, out);
    loss_pieces(&w, plants, out);
    own_rot_piece(f, out);
    if (plants > 0 && f->data->clumps[v] + f->data->divisions[v] == 0)
        piece(out, "next", NULL, NAN, NAN,
              "A walk that counts its plants would tell how many are lost already.");
    else
        next_piece(&w, out);
    return cw_table_check(out, err);
}

cw_code cw_forecast_why(cw_nursery *n, const cw_asker *who, const cw_forecast_ask *ask, cw_table *out,
                        cw_error *err)
{
    const cw_forecast *f = NULL;
    size_t v = CW_NONE;
    cw_table_init(out, why_columns, sizeof why_columns / sizeof why_columns[0]);
    cw_code code = cw_forecast_asked(n, who, ask, &f, &v, err);
    if (code == CW_OK && v == CW_NONE)
        return cw_error_set(err, CW_USAGE, "name one variety to explain");
    return code == CW_OK ? why_table(f, v, out, err) : code;
}

static const cw_column lot_columns[] = {
    { "lot", CW_TEXT_T },         { "room", CW_TEXT_T, .null = true },
    { "clumps", CW_INT_T },       { "divisions", CW_INT_T },
    { "expected", CW_REAL_T, 1 }, { "p10", CW_INT_T },
    { "p50", CW_INT_T },          { "p90", CW_INT_T },
};

static void lots_table(const cw_forecast *f, size_t v, cw_table *out)
{
    const cw_forecast_data *d = f->data;
    cw_table_init(out, lot_columns, sizeof lot_columns / sizeof lot_columns[0]);
    for (size_t lot = 0; lot < d->lots; lot++) {
        cw_distribution law;
        if (d->lot_variety[lot] != v || d->lot_clumps[lot] + d->lot_divisions[lot] == 0)
            continue;
        cw_projection_lot(f->projection, lot, &law);
        cw_put_text(out, d->snapshot->lot[lot].code);
        cw_put_text(out, d->snapshot->lot[lot].room);
        cw_put_int(out, d->lot_clumps[lot]);
        cw_put_int(out, d->lot_divisions[lot]);
        cw_put_real(out, law.mean);
        cw_put_int(out, cw_distribution_quantile(&law, 0.1));
        cw_put_int(out, cw_distribution_quantile(&law, 0.5));
        cw_put_int(out, cw_distribution_quantile(&law, 0.9));
    }
}

static const cw_column season_columns[] = {
    { "season", CW_INT_T },   { "clumps", CW_INT_T },  { "divisions", CW_INT_T },
    { "rate", CW_REAL_T, 2 }, { "low", CW_REAL_T, 2 }, { "high", CW_REAL_T, 2 },
};

/* Rates by season with an 80 % interval for chance alone: divisions ~ Gamma(divisions + 1/2) (Jeffreys). */
static void seasons_table(const cw_forecast *f, size_t v, cw_table *out)
{
    const cw_forecast_data *d = f->data;
    cw_table_init(out, season_columns, sizeof season_columns / sizeof season_columns[0]);
    for (int season = 0; season <= d->season - d->first_season; season++) {
        int64_t clumps = 0, divisions = 0;
        for (size_t i = 0; i < d->rate_rows; i++) {
            if (d->rate_row[i].variety != (int)v || d->rate_row[i].season != season)
                continue;
            clumps += d->rate_row[i].clumps;
            divisions += d->rate_row[i].divisions;
        }
        if (clumps == 0)
            continue;
        double shape = (double)divisions + 0.5;
        cw_put_int(out, d->first_season + season);
        cw_put_int(out, clumps);
        cw_put_int(out, divisions);
        cw_put_real(out, (double)divisions / (double)clumps);
        cw_put_real(out, cw_gamma_quantile(0.1, shape) / (double)clumps);
        cw_put_real(out, cw_gamma_quantile(0.9, shape) / (double)clumps);
    }
}

/* The law as chances of from, from + step, ... for the large picture. */
static json_t *law_json(const cw_distribution *d)
{
    json_t *p = json_array();
    double before = 0;
    for (size_t i = 0; i < d->cells; i++) {
        cw_json_append_take(&p, json_real(d->cdf[i] - before));
        before = d->cdf[i];
    }
    return json_pack("{s:I,s:I,s:o}", "from", (json_int_t)d->first, "step", (json_int_t)d->step, "p", p);
}

static const cw_shape pmf_shape = { .parts = (const cw_part[]){
                                        { "from", CW_INT_T },
                                        { "step", CW_INT_T },
                                        { "p", .shape = &cw_shape_numbers },
                                        { 0 },
                                    } };
static const cw_shape why_shape = CW_ROWS(why_columns), lots_shape = CW_ROWS(lot_columns),
                      seasons_shape = CW_ROWS(season_columns);
/* A row of the projection, and more. */
const cw_shape cw_forecast_sheet_shape = {
    .columns = cw_project_columns,
    .width = CW_PROJECT_COLUMNS,
    .parts =
        (const cw_part[]){
            { "name", CW_TEXT_T },
            { "form", CW_TEXT_T, .null = true },
            { "size", CW_TEXT_T, .null = true },
            { "colour", CW_TEXT_T, .null = true },
            { "offered", CW_INT_T },
            { "sold", CW_INT_T },
            { "own_low", CW_REAL_T, .null = true,
              .says = "What the owner expects of a clump in a usual season." },
            { "own_high", CW_REAL_T, .null = true },
            { "asked_low", CW_REAL_T, .null = true,
              .says = "What the owner expects to be asked for in a usual season." },
            { "asked_high", CW_REAL_T, .null = true },
            { "pmf", .shape = &pmf_shape },
            { "lots", .shape = &lots_shape },
            { "history", .shape = &seasons_shape },
            { "why", .shape = &why_shape },
            { "notes", CW_TEXT_T },
            { 0 },
        }
};

static json_t *real_or_null(bool said, double v)
{
    return said ? json_real(v) : json_null();
}

/* What the owner expects, of a clump and to be asked for. */
static void put_own(json_t **doc, const cw_snap_variety *s, const cw_kept_said *said)
{
    cw_json_put_take(doc, "own_low", real_or_null(s->own_low > 0, s->own_low));
    cw_json_put_take(doc, "own_high", real_or_null(s->own_high > 0, s->own_high));
    cw_json_put_take(doc, "asked_low", real_or_null(!isnan(said->demand_low), said->demand_low));
    cw_json_put_take(doc, "asked_high", real_or_null(!isnan(said->demand_high), said->demand_high));
}

cw_code cw_forecast_sheet(cw_nursery *n, const cw_asker *who, const cw_forecast_ask *ask, json_t **out,
                          cw_error *err)
{
    const cw_forecast *f = NULL;
    size_t v = CW_NONE;
    cw_table row = { 0 }, why, lots = { 0 }, seasons = { 0 };
    cw_text notes = CW_TEXT(4000);
    cw_kept_said said;
    *out = NULL;
    cw_table_init(&why, why_columns, sizeof why_columns / sizeof why_columns[0]);
    cw_code code = cw_forecast_asked(n, who, ask, &f, &v, err);
    if (code == CW_OK && v == CW_NONE)
        code = cw_error_set(err, CW_USAGE, "name one variety");
    if (code == CW_OK)
        code = cw_forecast_project(n, who, ask, &row, &notes, err);
    if (code == CW_OK)
        code = why_table(f, v, &why, err);
    if (code == CW_OK)
        code = cw_kept_said_of(n->db, f->data->snapshot->variety[v].code, &said, err);
    if (code != CW_OK)
        goto done;
    const cw_snap_variety *s = &f->data->snapshot->variety[v];
    lots_table(f, v, &lots);
    seasons_table(f, v, &seasons);
    json_t *rows = cw_table_to_json(&row);
    json_t *doc = json_incref(json_array_get(rows, 0));
    json_decref(rows);
    cw_json_put_take(&doc, "name", json_string(s->name));
    cw_json_put_take(&doc, "form", cw_json_known(s->form));
    cw_json_put_take(&doc, "size", cw_json_known(s->size));
    cw_json_put_take(&doc, "colour", cw_json_known(s->colour));
    cw_json_put_take(&doc, "offered", json_integer(s->offered));
    cw_json_put_take(&doc, "sold", json_integer(s->sold));
    put_own(&doc, s, &said);
    cw_json_put_take(&doc, "pmf", law_json(&f->law[v]));
    cw_json_put_take(&doc, "lots", cw_table_to_json(&lots));
    cw_json_put_take(&doc, "history", cw_table_to_json(&seasons));
    cw_json_put_take(&doc, "why", cw_table_to_json(&why));
    cw_json_put_take(&doc, "notes", json_string(notes.data ? notes.data : ""));
    *out = doc;
    code = doc ? CW_OK : cw_error_memory(err);
done:
    cw_text_free(&notes);
    cw_table_free(&row);
    cw_table_free(&why);
    cw_table_free(&lots);
    cw_table_free(&seasons);
    return code;
}
