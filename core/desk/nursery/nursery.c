/* SPDX-License-Identifier: MIT */
#include "desk/nursery/past_inside.h"

#include "base/text.h"
#include "store/audit.h"
#include "store/season.h"
#include "store/turning.h"
#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/banned.h"

static cw_code open_as(const char *path, cw_db_mode mode, const char *holder, cw_nursery **out, cw_error *err)
{
    cw_nursery *n = calloc(1, sizeof *n);
    *out = NULL;
    if (n == NULL)
        return cw_error_memory(err);
    cw_code code = cw_db_open(path, mode, holder, &n->db, err);
    if (code != CW_OK) {
        free(n);
        return code;
    }
    *out = n;
    return CW_OK;
}

cw_code cw_season_look(cw_nursery *n, cw_error *err)
{
    cw_season_row row = { 0 };
    cw_code code = cw_season_read(n->db, &row, err);
    if (code != CW_OK)
        return code; /* what was seen last stays */
    n->season.season = row.season;
    n->season.ship = row.ship;
    cw_copy(n->season.currency, sizeof n->season.currency, row.currency);
    cw_copy(n->season.timezone, sizeof n->season.timezone, row.timezone);
    return code;
}

cw_code cw_nursery_open(const char *path, cw_access access, const char *holder, cw_nursery **out,
                        cw_error *err)
{
    cw_code code = open_as(path, access == CW_WORK ? CW_DB_WRITE : CW_DB_READ, holder, out, err);
    if (code == CW_OK)
        code = cw_season_look(*out, err);
    if (code != CW_OK) {
        cw_nursery_close(*out);
        *out = NULL;
    }
    return code;
}

void cw_nursery_close(cw_nursery *n)
{
    if (n == NULL)
        return;
    if (n->cache)
        n->cache_free(n->cache);
    if (n->demand)
        n->demand_free(n->demand);
    if (n->beds)
        n->beds_free(n->beds);
    if (n->shop)
        n->shop_free(n->shop);
    if (n->spare)
        n->spare_free(n->spare);
    cw_past_close(n);
    cw_snap_kept_free(&n->kept);
    cw_db_close(n->db);
    free(n);
}

static bool is_currency(const char *s)
{
    for (int i = 0; i < 3; i++)
        if (s[i] < 'A' || s[i] > 'Z')
            return false;
    return s[3] == '\0';
}

/* An IANA name: the zone file itself is looked up by who shows local times. */
static bool is_timezone(const char *s)
{
    return s[0] && strlen(s) < 64 &&
           strspn(s, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789_+-/") == strlen(s) &&
           s[0] != '/' && strstr(s, "//") == NULL;
}

cw_code cw_season_check_ship(int season, cw_day ship, cw_error *err)
{
    char day[11];
    cw_day_format(ship, day);
    if (ship < cw_day_from_ymd(season, 1, 1) || ship > cw_day_from_ymd(season + 1, 12, 31))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "ship",
                           "must lie in the season's year or the one after it: %s", day);
    return CW_OK;
}

static cw_code check_season(const cw_season *s, cw_error *err)
{
    if (s->season < 1900 || s->season > 2199)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "season",
                           "must be the year of digging, 1900 to 2199: %d", s->season);
    if (cw_season_check_ship(s->season, s->ship, err) != CW_OK)
        return CW_REFUSED;
    if (!is_currency(s->currency))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "currency",
                           "must be three capital letters as in ISO 4217: %s", s->currency);
    if (!is_timezone(s->timezone))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "timezone", "must be a name like America/Chicago: %s",
                           s->timezone);
    return CW_OK;
}

static cw_code make(cw_nursery *n, const cw_season *season, const cw_asker *who, cw_error *err)
{
    cw_season_row row = { .season = season->season, .ship = season->ship };
    char after[200], day[11];
    cw_copy(row.currency, sizeof row.currency, season->currency);
    cw_copy(row.timezone, sizeof row.timezone, season->timezone);
    cw_day_format(season->ship, day);
    snprintf(after, sizeof after, "season %d, ship %s, %s, %s", season->season, day, season->currency,
             season->timezone);
    cw_code code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    code = cw_season_make(n->db, &row, who->now, err);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "new", "nursery", NULL, after, err);
    return cw_work_end(n, code, err);
}

cw_code cw_nursery_new(const char *path, const cw_season *season, const cw_asker *who, cw_nursery **out,
                       cw_error *err)
{
    *out = NULL;
    cw_code code = check_season(season, err);
    if (code == CW_OK)
        code = open_as(path, CW_DB_NEW, "clumpwise new", out, err);
    if (code != CW_OK)
        return code;
    code = make(*out, season, who, err);
    if (code == CW_OK)
        code = cw_season_look(*out, err);
    if (code != CW_OK) {
        /* Half a file is useless, and would be in the way of a second try. */
        cw_nursery_close(*out);
        *out = NULL;
        unlink(path);
    }
    return code;
}

const cw_season *cw_nursery_season(const cw_nursery *n)
{
    return &n->season;
}

cw_code cw_nursery_season_now(cw_nursery *n, cw_season *out, cw_error *err)
{
    cw_code code = cw_season_look(n, err);
    *out = n->season;
    return code;
}

cw_code cw_nursery_revision(cw_nursery *n, cw_revision *out, cw_error *err)
{
    out->figures = n->figures ? atomic_load(n->figures) : 0;
    return cw_season_revision(n->db, &out->stock, &out->trade, err);
}

void cw_nursery_drop_derived(cw_nursery *n)
{
    n->taken_back++; /* what is spare is read again */
    if (n->beds)
        n->beds_free(n->beds);
    n->beds = NULL;
}

/* What was computed inside a batch that was rolled back must not be used for the same revision later. */
static void forget_cache(cw_nursery *n)
{
    if (n->cache)
        n->cache_free(n->cache);
    n->cache = NULL;
    if (n->demand)
        n->demand_free(n->demand);
    n->demand = NULL;
    cw_nursery_drop_derived(n);
}

/* What is kept beside the file becomes true with the file's own commit, or not at all. */
static void settle(cw_nursery *n, bool kept)
{
    void (*how)(cw_nursery * n, bool kept) = n->settle;
    n->settle = NULL;
    if (how)
        how(n, kept);
}

static cw_code work_begin(cw_nursery *n, bool sure, cw_error *err)
{
    assert(!n->working);
    /* The database ends a transaction by itself when the disk is full; a savepoint would then begin a new one. */
    if (n->batch && !cw_db_in_transaction(n->db))
        return cw_error_set(err, CW_MACHINE,
                            "an earlier write of the same batch failed; nothing of it was kept");
    cw_code code = CW_OK;
    if (!n->batch)
        code = cw_db_begin(n->db, err);
    else if (!sure)
        code = cw_db_savepoint(n->db, err);
    n->working = code == CW_OK;
    n->sure = sure;
    return code;
}

cw_code cw_nursery_closed(cw_nursery *n, char out[CW_CLOSED_WORDS], cw_error *err)
{
    bool closed = false;
    cw_closed_row row = { 0 };
    char day[24];
    out[0] = '\0';
    cw_code code = cw_turning_closed(n->db, &closed, &row, err);
    if (code == CW_OK && closed) {
        cw_day_words(row.day, day);
        snprintf(
            out, CW_CLOSED_WORDS,
            "this season was closed on %s, and %d was opened from it; it takes claims, notices, "
            "refunds, holds of lots and forgetting only; an owner can reopen it ('clumpwise next --reopen')",
            day, row.season);
    }
    return code;
}

/* A closed season takes nothing more. Looked at inside the transaction, since the one who closes it holds the file then. */
static cw_code if_open(cw_nursery *n, cw_code code, cw_error *err)
{
    char closed[CW_CLOSED_WORDS];
    if (code != CW_OK)
        return code;
    code = cw_nursery_closed(n, closed, err);
    if (code == CW_OK && closed[0])
        code = cw_error_set(err, CW_CONFLICT, "%s", closed);
    if (code != CW_OK)
        cw_work_drop(n);
    return code;
}

cw_code cw_work_begin(cw_nursery *n, cw_error *err)
{
    return if_open(n, work_begin(n, false, err), err);
}

cw_code cw_work_begin_after(cw_nursery *n, cw_error *err)
{
    return work_begin(n, false, err);
}

cw_code cw_work_begin_sure(cw_nursery *n, cw_error *err)
{
    return if_open(n, work_begin(n, true, err), err);
}

void cw_work_drop(cw_nursery *n)
{
    assert(n->working);
    n->working = false;
    n->taken_back++;
    if (n->batch && !n->sure)
        cw_db_undo(n->db);
    else
        cw_db_rollback(n->db);
}

cw_code cw_work_end(cw_nursery *n, cw_code code, cw_error *err)
{
    assert(n->working);
    if (code != CW_OK) {
        cw_work_drop(n);
        return code;
    }
    n->working = false;
    if (!n->batch)
        code = cw_db_commit(n->db, err);
    else if (!n->sure)
        code = cw_db_release(n->db, err);
    n->taken_back += code != CW_OK;
    if (!n->batch || code != CW_OK)
        settle(n, code == CW_OK);
    return code;
}

cw_code cw_asker_tell(const cw_asker *who, const char *what, uint64_t done, uint64_t all, cw_error *err)
{
    if (who->progress == NULL || who->progress(who->progress_context, what, done, all))
        return CW_OK;
    return cw_given_up(err);
}

static bool go_on(void *self)
{
    const cw_asker *who = self;
    return who->progress(who->progress_context, NULL, 0, 0);
}

cw_go_on cw_asker_go_on(const cw_asker *who)
{
    return who->progress ? (cw_go_on){ go_on, (void *)(uintptr_t)who } : (cw_go_on){ 0 };
}

void cw_nursery_heed(cw_nursery *n, cw_go_on go_on)
{
    for (size_t i = 0; i < cw_past_count(n); i++)
        cw_db_heed(cw_past_at(n, i)->db, go_on);
}

cw_day cw_asker_day(const cw_asker *who, cw_instant at)
{
    return who->day_of ? who->day_of(at) : cw_instant_day(at);
}

cw_code cw_nursery_batch_begin(cw_nursery *n, cw_error *err)
{
    assert(!n->batch && !n->working);
    cw_code code = cw_db_begin(n->db, err);
    n->batch = code == CW_OK;
    return code;
}

cw_code cw_nursery_batch_commit(cw_nursery *n, cw_error *err)
{
    assert(n->batch && !n->working);
    n->batch = false;
    cw_code code = cw_db_commit(n->db, err);
    settle(n, code == CW_OK);
    if (code != CW_OK)
        forget_cache(n);
    return code;
}

void cw_nursery_batch_drop(cw_nursery *n)
{
    n->batch = false;
    cw_db_rollback(n->db);
    settle(n, false);
    forget_cache(n);
}
