/* SPDX-License-Identifier: MIT */
#include "desk/closing/letter_inside.h"

#include "base/money.h"
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

#define MOST_NAMED 5  /* varieties that a part names; the rest is counted */
#define MOST_SAID  6  /* times of which the letter tells */
#define MOST_YEARS 10 /* seasons before of which it tells one by one */
#define FEW_WEEKS                                                                                            \
    3 /* what was first looked at later than this after the first release could have been known earlier */
#define LINE       78
#define TEXT_BYTES (256 * 1024)

static const struct {
    const char *part, *title;
} parts[] = {
    { "season", "The season" },
    { "said", "What we said, and what came" },
    { "years", "How the seasons before held" },
    { "fooled", "What fooled us" },
    { "demand", "What was asked for" },
    { "lost", "What was lost" },
    { "earlier", "What to measure earlier" },
    { "known", "What the next season will know" },
};

static const cw_column columns[] = {
    { "part", CW_TEXT_T, .words = "season|said|years|fooled|demand|lost|earlier|known" },
    { "sentence", CW_TEXT_T },
};
const cw_shape cw_letter_rows_shape = CW_ROWS(columns);

static const char *title_of(const char *part)
{
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
        if (strcmp(parts[i].part, part) == 0)
            return parts[i].title;
    return part;
}

typedef struct writer {
    const cw_letter *l;
    const cw_snapshot *s;
    const cw_season *season;
    cw_table *out;
    const char *part;
} writer;

static void say(const writer *w, const char *format, ...) CW_PRINTF(2, 3);
static void say(const writer *w, const char *format, ...)
{
    char sentence[600];
    va_list args;
    va_start(args, format);
    vsnprintf(sentence, sizeof sentence, format, args);
    va_end(args);
    cw_put_text(w->out, w->part);
    cw_put_text(w->out, sentence);
}

#define N(n) ((long long)(n))

static void say_season(const writer *w)
{
    const cw_letter *l = w->l;
    char day[24];
    cw_day_words(w->season->ship, day);
    if (!l->over) {
        char till[24];
        cw_day_words(l->review.till, till);
        say(w, "The season of %d is not over: it ships on %s. This is how far it has come by %s.",
            w->season->season, day, till);
    } else {
        say(w, "The season of %d shipped from %s on.", w->season->season, day);
    }
    if (l->dug == 0) {
        say(w, "No clumps were dug.");
        return;
    }
    say(w, "%lld clump%s dug; %lld cut, which gave %lld saleable division%s.", N(l->dug),
        l->dug == 1 ? " was" : "s were", N(l->cut), N(l->made), CW_S(l->made));
    say(w, "%lld division%s shipped and %lld planted; %lld stand in the store.", N(l->shipped),
        l->shipped == 1 ? " was" : "s were", N(l->planted), N(l->on_hand));
}

static double real(const cw_table *t, size_t row, const char *column)
{
    return cw_table_real(t, row, (size_t)cw_table_column(t, column));
}

static void say_said(const writer *w)
{
    const cw_letter *l = w->l;
    size_t times = cw_table_rows(&l->said);
    if (!l->over) {
        say(w, "What came can be told once the shipping day is there.");
        return;
    }
    if (times == 0)
        say(w, "Nothing was said on record. A release keeps what it rests on.");
    size_t told = 0;
    for (size_t i = times > MOST_SAID ? times - MOST_SAID : 0; i < times; i++) {
        int64_t varieties = cw_table_int(&l->said, i, (size_t)cw_table_column(&l->said, "projections"));
        char day[24];
        cw_day_words((cw_day)cw_table_int(&l->said, i, (size_t)cw_table_column(&l->said, "said_on")), day);
        if (varieties == 0)
            continue;
        told++;
        say(w,
            "On %s we said %.0f divisions of %lld variet%s that can be told by now; %.0f came. The range of "
            "8 in "
            "10 held %.0f of them.",
            day, real(&l->said, i, "expected"), N(varieties), varieties == 1 ? "y" : "ies",
            real(&l->said, i, "came"), real(&l->said, i, "cover80") * (double)varieties);
    }
    if (times > 0 && told == 0)
        say(w, "Of no variety can it be told yet what came: some of its clumps are whole, or nobody has "
               "looked since.");
}

/* What was said last of each season before, and how it held: one season may be luck, several are trust. */
static void say_years(const writer *w)
{
    const cw_letter *l = w->l;
    double held = 0;
    int64_t varieties = 0;
    for (size_t i = 0; i < l->pasts; i++) {
        const cw_past_said *p = &l->past[i];
        held += p->held;
        varieties += p->varieties;
        if (i + MOST_YEARS < l->pasts)
            continue;
        char day[24];
        cw_day_words(p->said_on, day);
        say(w,
            "Season of %d: on %s we said %.0f divisions of %lld variet%s; %.0f came. The range of 8 in 10 "
            "held "
            "%.0f of them.",
            p->season, day, p->expected, N(p->varieties), p->varieties == 1 ? "y" : "ies", p->came, p->held);
    }
    if (l->pasts > 1)
        say(w, "Over %zu seasons ranges of 8 in 10 held %.0f of %lld times, %.0f in 100.", l->pasts, held,
            N(varieties), 100 * held / (double)varieties);
}

static const char *cause_words(const cw_letter_row *r, char out[200])
{
    switch (r->cause) {
    case CW_LETTER_RATE:
        snprintf(out, 200, "a clump gave %.1f divisions where %.1f were expected", r->gave, r->rate);
        return out;
    case CW_LETTER_ROT:
        return "more was lost to rot than expected";
    case CW_LETTER_DRIED:
        return "more shrivelled than expected";
    case CW_LETTER_KEPT:
        return "less was lost in store than expected";
    }
    return "";
}

static void say_fooled(const writer *w)
{
    const cw_letter *l = w->l;
    char day[24], cause[200];
    if (!l->over || l->rows == 0)
        return;
    cw_day_words(l->said_on, day);
    if (l->on_record)
        say(w, "Of the %zu varieties of which we spoke on %s, %zu came within their range of 8 in 10.",
            l->rows, day, l->held);
    else
        say(w, "As the records stand, %zu of %zu varieties came within the range of 8 in 10 of %s.", l->held,
            l->rows, day);
    size_t fooled = l->rows - l->held, named = 0;
    for (size_t i = 0; i < l->rows && named < MOST_NAMED; i++) {
        const cw_letter_row *r = &l->row[i];
        const cw_snap_variety *v = &w->s->variety[r->variety];
        if (!cw_letter_fooled(r))
            continue;
        named++;
        say(w, "%s (%s): %.0f expected (%lld to %lld), %lld came; %s.", v->code, v->name, r->expected,
            N(r->low), N(r->high), N(r->came), cause_words(r, cause));
    }
    if (fooled > named)
        say(w, "%zu more lay outside their range, each by less.", fooled - named);
}

static void say_demand(const writer *w)
{
    const cw_letter *l = w->l;
    if (l->asked == 0) {
        say(w, "Nobody has asked for anything yet.");
        return;
    }
    if (l->offered == 0)
        say(w, "%lld division%s asked for; nothing was released.", N(l->asked),
            l->asked == 1 ? " was" : "s were");
    else
        say(w, "%lld division%s offered and %lld asked for; %lld of them sold.", N(l->offered),
            l->offered == 1 ? " was" : "s were", N(l->asked), N(l->sold));
    for (size_t i = 0; i < l->sold_outs && i < MOST_NAMED; i++) {
        char day[24];
        const cw_snap_variety *v = &w->s->variety[l->sold_out[i].variety];
        cw_day_words(l->sold_out[i].day, day);
        say(w, "%s (%s) sold out on %s.", v->code, v->name, day);
    }
    if (l->sold_outs > MOST_NAMED)
        say(w, "%zu more varieties sold out later.", l->sold_outs - MOST_NAMED);
}

static void say_lost(const writer *w)
{
    const cw_letter_loss *x = &w->l->lost;
    double all = x->rotten_clumps + x->rotten + x->shrivelled + x->gone;
    char money[24];
    if (all < 0.5) {
        say(w, "Nothing was lost on record.");
        return;
    }
    say(w,
        "%.0f divisions were lost: %.0f with clumps that rotted, %.0f rotten after cutting, %.0f shrivelled, "
        "%.0f thrown "
        "out or missing.",
        all, x->rotten_clumps, x->rotten, x->shrivelled, x->gone);
    cw_cents_format(llround(x->money), money);
    if (x->money > 0)
        say(w, "At the catalogue's prices they would have brought %s %s.", money, w->season->currency);
}

/* Where an answer came long after the first release, it could have been had before. */
static void say_earlier(const writer *w)
{
    const cw_letter *l = w->l;
    size_t said = 0;
    for (size_t i = 0; l->over && i < l->rows && said < MOST_NAMED; i++) {
        const cw_letter_row *r = &l->row[i];
        const cw_snap_variety *v = &w->s->variety[r->variety];
        cw_day seen = r->cause == CW_LETTER_RATE ? r->first_cut : r->first_look;
        char day[24];
        if (!cw_letter_fooled(r) || (seen != CW_NO_DAY && seen <= l->said_on + 7 * FEW_WEEKS))
            continue;
        said++;
        if (seen != CW_NO_DAY)
            cw_day_words(seen, day);
        if (r->cause == CW_LETTER_RATE && seen != CW_NO_DAY)
            say(w, "Cut some clumps of %s before the first release: the first were cut on %s.", v->code, day);
        else if (seen != CW_NO_DAY)
            say(w, "Open some crates of %s in midwinter: the first check on record is of %s.", v->code, day);
        else
            say(w, "Check %s in store now and then: no check of it is on record.", v->code);
    }
    if (said == 0)
        say(w, l->over ? "Nothing that fooled us could have been measured much earlier."
                       : "This can be told once the shipping day is there.");
}

static void say_known(const writer *w)
{
    const cw_taught *t = &w->l->taught;
    say(w,
        "The next season's file will know %zu dividing session%s, %zu look%s for rot, %zu look%s for "
        "shrivelling and %zu "
        "weighing%s of this one, and what was asked of %zu variet%s.",
        t->rates, CW_S(t->rates), t->rots, CW_S(t->rots), t->shrivels, CW_S(t->shrivels), t->weighings,
        CW_S(t->weighings), t->sales, t->sales == 1 ? "y" : "ies");
}

cw_code cw_letter_rows(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err)
{
    static void (*const say_part[])(const writer *) = { say_season, say_said, say_years,   say_fooled,
                                                        say_demand, say_lost, say_earlier, say_known };
    cw_letter l;
    cw_table_init(out, columns, CW_WIDTH(columns));
    cw_code code = cw_letter_read(&l, n, who, err);
    for (size_t i = 0; code == CW_OK && i < CW_WIDTH(parts); i++) {
        const writer w = { &l, l.review.then->snapshot, &n->season, out, parts[i].part };
        say_part[i](&w);
    }
    cw_letter_free(&l);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

/* Words that fit a line; one longer than a line stands alone. */
static void fold(cw_text *out, const char *s)
{
    size_t column = 0;
    while (*s) {
        size_t n = strcspn(s, " ");
        if (column && column + 1 + n > LINE) {
            cw_text_addc(out, '\n');
            column = 0;
        }
        if (column) {
            cw_text_addc(out, ' ');
            column++;
        }
        cw_text_addn(out, s, n);
        column += n;
        s += n + (s[n] == ' ');
    }
    cw_text_addc(out, '\n');
}

cw_code cw_letter_text(cw_nursery *n, const cw_asker *who, cw_text *out, cw_error *err)
{
    cw_table t = { 0 };
    const char *last = "";
    *out = CW_TEXT(TEXT_BYTES);
    cw_code code = cw_letter_rows(n, who, &t, err);
    for (size_t i = 0; code == CW_OK && i < cw_table_rows(&t); i++) {
        const char *part = cw_table_text(&t, i, 0);
        if (strcmp(part, last) != 0)
            cw_text_addf(out, "%s%s\n\n", i ? "\n" : "", title_of(part));
        last = part;
        fold(out, cw_table_text(&t, i, 1));
    }
    code = code == CW_OK ? cw_text_check(out, err) : code;
    cw_table_free(&t);
    return code;
}
