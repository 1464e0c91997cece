/* SPDX-License-Identifier: MIT */
#include "desk/closing/closing.h"

#include "base/grow.h"
#include "base/limits.h"
#include "base/text.h"
#include "desk/closing/carried_inside.h"
#include "desk/closing/taught_inside.h"
#include "desk/nursery/keeping.h"
#include "store/audit.h"
#include "store/season.h"
#include "store/turning.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/banned.h"

static const cw_column next_columns[] = {
    { "part", CW_TEXT_T, .says = "what is carried over, moved, or left behind" },
    { "old", CW_TEXT_T, .null = true, .says = "as it stands in this season's file" },
    { "new", CW_TEXT_T, .null = true, .says = "as it will stand in the next one's" },
    { "note", CW_TEXT_T, .null = true },
};
const cw_shape cw_closing_next_shape = CW_ROWS(next_columns);

static void put(cw_table *t, const char *part, const char *before, const char *after, const char *note)
{
    cw_put_text(t, part);
    cw_put_text(t, before);
    cw_put_text(t, after);
    cw_put_text(t, note);
}

static void put_counts(cw_table *t, const char *part, int64_t before, int64_t after, const char *note)
{
    char a[24], b[24];
    snprintf(a, sizeof a, "%lld", (long long)before);
    snprintf(b, sizeof b, "%lld", (long long)after);
    put(t, part, before < 0 ? "" : a, b, note);
}

cw_code cw_closing_state(cw_nursery *n, bool *found, cw_closed *out, cw_error *err)
{
    cw_closed_row row = { 0 };
    cw_code code = cw_turning_closed(n->db, found, &row, err);
    if (code == CW_OK && *found) {
        *out = (cw_closed){ .season = row.season, .day = row.day, .at = row.at, .buyers = row.buyers };
        cw_copy(out->actor, sizeof out->actor, row.actor);
    }
    return code;
}

/* Open ends are answered in the old file; somebody has to say so. */
static cw_code look_at_ends(cw_nursery *n, const cw_next *next, cw_table *out, cw_error *err)
{
    cw_open_ends e = { 0 };
    cw_code code = cw_turning_open_ends(n->db, &e, err);
    if (code != CW_OK)
        return code;
    if (e.parcels > 0)
        return cw_error_set(err, CW_CONFLICT,
                            "%lld parcel%s of this season %s not left yet; ship them, or drop their waves",
                            (long long)e.parcels, CW_S(e.parcels), e.parcels == 1 ? "has" : "have");
    if (e.claims + e.notices + e.refunds > 0 && !next->leave_open)
        return cw_error_set(err, CW_CONFLICT,
                            "%lld claim%s, %lld notice%s and %lld refund%s of this season are open; answer "
                            "them, or leave them to be answered in this file (--leave-open)",
                            (long long)e.claims, CW_S(e.claims), (long long)e.notices, CW_S(e.notices),
                            (long long)e.refunds, CW_S(e.refunds));
    static const char stays[] = "stay open in this season's file, which takes them";
    const struct {
        const char *part;
        int64_t count;
    } ends[] = { { "open claims", e.claims }, { "notices due", e.notices }, { "refunds due", e.refunds } };
    for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++)
        if (ends[i].count > 0)
            put_counts(out, ends[i].part, ends[i].count, 0, stays);
    if (e.orders > 0)
        put_counts(out, "orders not shipped", e.orders, 0, "stay in this season's file");
    return CW_OK;
}

/* Years between the two shipping days' calendar years: weeks and days move by them. */
static int years(cw_day from, cw_day to)
{
    int a, b, month, day;
    cw_day_to_ymd(from, &a, &month, &day);
    cw_day_to_ymd(to, &b, &month, &day);
    return b - a;
}

/* The same week of another year; the 53rd, where that year has none, is its last. */
static cw_week moved_week(cw_week w, int by)
{
    char text[9];
    cw_week there = w + by * 100;
    cw_week_format(there, text);
    return cw_week_parse(text, strlen(text), &there) ? there : there - 1;
}

/* The same day of another year; 29 February is the 28th in most. */
static cw_day moved_day(cw_day d, int by)
{
    int y, month, day, check;
    cw_day_to_ymd(d, &y, &month, &day);
    cw_day there = cw_day_from_ymd(y + by, month, day);
    cw_day_to_ymd(there, &y, &check, &day);
    return check == month ? there : there - 1;
}

typedef struct moving {
    cw_db *db;
    int by;
    struct {
        char code[CW_MAX_CODE + 1];
        cw_week week;
    } * zone;
    size_t zones, room;
    bool failed;
} moving;

static void take_zone(void *context, const char *code, cw_week week)
{
    moving *m = context;
    if (!cw_grow(&m->zone, m->zones, &m->room, sizeof *m->zone)) {
        m->failed = true;
        return;
    }
    cw_copy(m->zone[m->zones].code, sizeof m->zone[0].code, code);
    m->zone[m->zones++].week = week;
}

static cw_code move_zones(moving *m, cw_table *out, cw_error *err)
{
    cw_code code = cw_turning_zones(m->db, take_zone, m, err);
    if (code == CW_OK && m->failed)
        code = cw_error_memory(err);
    for (size_t i = 0; code == CW_OK && i < m->zones; i++) {
        char before[9], after[9], part[CW_MAX_CODE + 8];
        cw_week there = moved_week(m->zone[i].week, m->by);
        cw_week_format(m->zone[i].week, before);
        cw_week_format(there, after);
        snprintf(part, sizeof part, "zone %s", m->zone[i].code);
        put(out, part, before, after,
            there != m->zone[i].week + m->by * 100 ? "that year has no week 53: its last week" : "");
        code = cw_turning_move_zone(m->db, m->zone[i].code, there, err);
    }
    free(m->zone);
    return code;
}

/* Days that are settings: holidays, and the day that the catalogue promises. */
static cw_code move_days(cw_nursery *n, const char *setting, int by, cw_table *out, cw_error *err)
{
    char value[CW_MAX_NAME + 1];
    cw_text moved = CW_TEXT(CW_MAX_NAME);
    cw_code code = cw_nursery_setting(n, setting, value, sizeof value, err);
    if (code != CW_OK || value[0] == '\0')
        return code;
    for (const char *at = value; *at;) {
        size_t len = strcspn(at, " ");
        cw_day day = 0;
        char text[11];
        if (cw_day_parse(at, len, &day)) {
            cw_day_format(moved_day(day, by), text);
            cw_text_addf(&moved, "%s%s", moved.length ? " " : "", text);
        }
        at += len + (at[len] == ' ');
    }
    code = cw_text_check(&moved, err);
    if (code == CW_OK) {
        put(out, setting, value, moved.data, "the same days of that year: look at them once");
        code = cw_season_set(n->db, setting, moved.data, err);
    }
    cw_text_free(&moved);
    return code;
}

/* What is told of the file that came to be. */
static void tell(cw_table *out, const cw_turning_counts *was, const cw_turning_counts *is,
                 const cw_day *since)
{
    put_counts(out, "varieties", was->varieties, is->varieties, "with prices, limits, hold-back and reserve");
    if (was->retired > 0)
        put_counts(out, "retired varieties", was->retired, is->retired,
                   "kept where their past still teaches");
    put_counts(out, "places", was->places, is->places, "");
    put_counts(out, "destinations", was->destinations, is->destinations, "");
    put_counts(out, "people", was->people, is->people, "with roles and second factors; nobody is signed in");
    put_counts(out, "keys", was->keys, is->keys, "");
    put_counts(out, "settings", was->settings, is->settings, "");
    put_counts(out, "templates", was->templates, is->templates, "");
    put_counts(out, "history", -1, is->rate, "a row for each dividing session");
    put_counts(out, "past checks", -1, is->rot, "a row for each look at clumps or divisions");
    put_counts(out, "past shrivelling", -1, is->shrivel, "with the drying that they had");
    put_counts(out, "past weighings", -1, is->weighings, "");
    put_counts(out, "past sales", -1, is->sales, "a row for each variety that was asked for");
    put_counts(out, "past plantings", -1, is->fields,
               "plants set out and clumps dug, a row for each variety");
    put_counts(out, "plants set out", -1, is->plants, "what was planted of this season's lots");
    put_counts(out, "lots", was->lots, 0, "stay in this season's file");
    put_counts(out, "orders", was->orders, 0, "stay in this season's file, with their buyers");
    if (since) {
        char day[24], note[120];
        cw_day_words(*since, day);
        snprintf(note, sizeof note, "name, address and consent of who ordered since %s; no order", day);
        put_counts(out, "known buyers", was->buyers, is->buyers, note);
    } else if (was->buyers > 0) {
        put_counts(out, "known buyers", was->buyers, 0, "stay in this season's file");
    }
}

typedef struct turn {
    const cw_asker *who;
    const cw_next *next;
    cw_table *out;
    char digest[65];
    int64_t buyers; /* who go along */
} turn;

/* Within the transaction: how what was said last held (NULL: nothing was), and the buyers who are to be known again. */
static cw_code carry(cw_nursery *n, turn *t, const cw_past_said *said, cw_error *err)
{
    char words[160] = "";
    cw_code code = said ? cw_turning_said(n->db, said, err) : CW_OK;
    if (said)
        cw_carried_said_words(said, words);
    put(t->out, "last firm statement", "", words, said ? "" : "none of which it can be told what came");
    return code == CW_OK ? cw_turning_buyers(n->db, t->next->buyers_since, err) : code;
}

/* Within the transaction: the copy becomes the next season's. */
static cw_code turn_over(cw_nursery *n, turn *t, const cw_taught *taught, const cw_past_said *said,
                         cw_error *err)
{
    cw_season old = n->season;
    moving m = { .db = n->db, .by = years(old.ship, t->next->ship) };
    char before[11], after[11], name[60];
    cw_day_format(old.ship, before);
    cw_day_format(t->next->ship, after);
    put(t->out, "shipping day", before, after, "");
    cw_code code = cw_taught_write(n, t->who, taught, t->digest, err);
    if (code == CW_OK)
        code = carry(n, t, said, err);
    if (code == CW_OK)
        code = cw_turning_plant(n->db, old.season, err);
    if (code == CW_OK)
        code = cw_turning_empty(n->db, err);
    if (code == CW_OK)
        code = move_zones(&m, t->out, err);
    if (code == CW_OK)
        code = move_days(n, "holidays", m.by, t->out, err);
    if (code == CW_OK)
        code = move_days(n, "promised_by", m.by, t->out, err);
    if (code == CW_OK)
        code = cw_turning_turn(n->db, t->next->season, t->next->ship, t->who->now, err);
    cw_origin_row o = {
        .season = old.season, .day = t->who->today, .ship = old.ship, .pa = cw_forecast_data_pa(taught->from)
    };
    cw_copy(o.digest, sizeof o.digest, t->digest);
    if (code == CW_OK)
        code = cw_turning_origin(n->db, &o, t->who->actor, t->who->now, err);
    snprintf(name, sizeof name, "season %d, ship %s", t->next->season, after);
    if (code == CW_OK)
        code = cw_audit_add(n->db, t->who->now, t->who->actor, "next", "nursery", NULL, name, err);
    return code;
}

static cw_code turn_copy(cw_nursery *n, turn *t, cw_error *err)
{
    cw_turning_counts was = { 0 }, is = { 0 };
    cw_forecast_data *d = NULL;
    cw_taught taught = { 0 };
    cw_past_said said = { 0 };
    bool spoke = false;
    int old = n->season.season;
    cw_code code = cw_turning_count(n->db, old, &was, err);
    if (code == CW_OK)
        code = cw_forecast_data_load(n, t->who->today, n->season.ship, &d, err);
    if (code == CW_OK)
        code = cw_taught_read(d, old, &taught, err);
    if (code == CW_OK)
        code = cw_taught_asked(n, t->who, &taught, err);
    if (code == CW_OK)
        code = cw_carried_said(n, t->who, &spoke, &said, err);
    if (code == CW_OK)
        cw_taught_digest(&taught, t->digest);
    if (code == CW_OK) {
        cw_db_keys(n->db, false);
        code = cw_work_begin_after(n, err);
        if (code == CW_OK)
            code = cw_work_end(n, turn_over(n, t, &taught, spoke ? &said : NULL, err), err);
        cw_db_keys(n->db, true);
    }
    if (code == CW_OK)
        code = cw_turning_count(n->db, old, &is, err);
    t->buyers = is.buyers;
    if (code == CW_OK)
        tell(t->out, &was, &is, t->next->buyers_since);
    cw_taught_free(&taught);
    cw_forecast_data_free(d);
    return code;
}

/* The copy is whole, and nothing of the season's buyers is left in its bytes. */
static cw_code finish(cw_nursery *n, cw_error *err)
{
    long broken = 0;
    cw_code code = cw_db_wipe(n->db, err);
    if (code == CW_OK)
        code = cw_db_integrity(n->db, NULL, NULL, &broken, err);
    if (code == CW_OK && broken == 0)
        code = cw_db_check(n->db, NULL, NULL, &broken, err);
    return code == CW_OK && broken
               ? cw_error_set(err, CW_MACHINE, "the new file has %ld faults; nothing was made", broken)
               : code;
}

static cw_code make(cw_nursery *n, turn *t, const char *part, cw_error *err)
{
    cw_nursery *copy = NULL;
    cw_db_throw_away(part);
    cw_code code = cw_asker_tell(t->who, "copying the season", 0, 0, err);
    if (code == CW_OK)
        code = cw_keeping_backup(n, t->who, part, err);
    if (code == CW_OK)
        code = cw_nursery_open(part, CW_WORK, "clumpwise next", &copy, err);
    if (code == CW_OK)
        cw_nursery_heed(copy, cw_asker_go_on(t->who));
    if (code == CW_OK)
        code = turn_copy(copy, t, err);
    if (code == CW_OK)
        code = finish(copy, err);
    cw_nursery_close(copy);
    return code;
}

static cw_code mark(cw_nursery *n, turn *t, cw_error *err)
{
    cw_closed_row row = {
        .season = t->next->season, .day = t->who->today, .at = t->who->now, .buyers = t->buyers
    };
    char after[80];
    cw_copy(row.digest, sizeof row.digest, t->digest);
    cw_copy(row.actor, sizeof row.actor, t->who->actor);
    snprintf(after, sizeof after, "season %d was opened from it", t->next->season);
    cw_code code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    code = cw_turning_close(n->db, &row, err);
    if (code == CW_OK)
        code = cw_audit_add(n->db, t->who->now, t->who->actor, "close", "nursery", NULL, after, err);
    return cw_work_end(n, code, err);
}

static const char *file_of(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

/* The new file was made, and then the power went before this one was marked. What was written here since (somebody was forgotten, a
 * lot was cut) is not in it, so then it is not the same. */
static cw_code made_before(cw_nursery *n, turn *t, bool *is, cw_error *err)
{
    cw_nursery *made = NULL;
    cw_origin_row o = { 0 };
    cw_turning_counts counts = { 0 };
    cw_revision then = { 0 }, now = { 0 };
    *is = false;
    if (access(t->next->path, F_OK) != 0)
        return CW_OK;
    cw_code code = cw_nursery_open(t->next->path, CW_LOOK, NULL, &made, err);
    if (code == CW_OK)
        code = cw_turning_origin_of(made->db, n->season.season, is, &o, err);
    if (code == CW_OK)
        code = cw_turning_count(made->db, n->season.season, &counts, err);
    if (code == CW_OK)
        code = cw_nursery_revision(made, &then, err);
    if (code == CW_OK)
        code = cw_nursery_revision(n, &now, err);
    bool same = code == CW_OK && *is && o.day == t->who->today && made->season.season == t->next->season &&
                made->season.ship == t->next->ship;
    cw_nursery_close(made);
    cw_copy(t->digest, sizeof t->digest, o.digest);
    t->buyers = counts.buyers;
    *is = same;
    if (code != CW_OK)
        return code;
    if (same && (then.stock != now.stock + 1 || then.trade != now.trade + 1))
        return cw_error_set(err, CW_CONFLICT,
                            "something was written in this season since %.300s was made; remove that file, "
                            "and make it again",
                            file_of(t->next->path));
    return same ? CW_OK
                : cw_error_at(err, CW_REFUSED, t->next->path, 0, NULL, "is there already; name a new file");
}

static cw_code check_next(cw_nursery *n, const cw_asker *who, const cw_next *next, cw_error *err)
{
    bool closed = false;
    cw_closed c = { 0 };
    cw_code code = cw_closing_state(n, &closed, &c, err);
    if (code == CW_OK && closed)
        code = cw_error_set(err, CW_CONFLICT, "this season is closed: %d was opened from it", c.season);
    if (code == CW_OK && next->season <= n->season.season)
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "season", "must come after %d: %d", n->season.season,
                           next->season);
    if (code == CW_OK && next->buyers_since && *next->buyers_since > who->today)
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "buyers_since", "is a day to come");
    return code == CW_OK ? cw_season_check_ship(next->season, next->ship, err) : code;
}

cw_code cw_closing_next(cw_nursery *n, const cw_asker *who, const cw_next *next, bool commit, cw_table *out,
                        cw_error *err)
{
    char part[1100];
    bool before = false;
    turn t = { .who = who, .next = next, .out = out };
    cw_table_init(out, next_columns, sizeof next_columns / sizeof next_columns[0]);
    if (cw_owner_only(who, "close the season", err) != CW_OK)
        return CW_FORBIDDEN;
    if (strlen(next->path) + 64 > 1000)
        return cw_error_set(err, CW_REFUSED, "the path is too long: %.80s...", next->path);
    snprintf(part, sizeof part, "%s.making", next->path);
    cw_code code = check_next(n, who, next, err);
    if (code == CW_OK)
        code = made_before(n, &t, &before, err);
    if (code == CW_OK)
        code = look_at_ends(n, next, out, err);
    if (code == CW_OK && !before)
        code = make(n, &t, part, err);
    if (code == CW_OK) /* before it stands: what cannot be told is not done */
        code = cw_table_check(out, err);
    if (code == CW_OK && commit && !before)
        code = cw_db_put_new(part, next->path, err);
    if (code == CW_OK && commit && !next->no_mark)
        code = mark(n, &t, err);
    cw_db_throw_away(part);
    return code;
}

cw_code cw_closing_reopen(cw_nursery *n, const cw_asker *who, const char *why, cw_error *err)
{
    bool closed = false;
    cw_closed c = { 0 };
    if (cw_owner_only(who, "reopen a season", err) != CW_OK)
        return CW_FORBIDDEN;
    if (why[0] == '\0')
        return cw_error_at(err, CW_REFUSED, NULL, 0, "why", "say why the season is reopened");
    cw_code code = cw_work_begin_after(n, err);
    if (code != CW_OK)
        return code;
    code = cw_closing_state(n, &closed, &c, err);
    if (code == CW_OK && !closed)
        code = cw_error_set(err, CW_CONFLICT, "this season is open");
    if (code == CW_OK)
        code = cw_turning_reopen(n->db, who->now, who->actor, why, err);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "reopen", "nursery", NULL, why, err);
    return cw_work_end(n, code, err);
}
