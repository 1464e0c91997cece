/* SPDX-License-Identifier: MIT */
#include "desk/bench/dividing_inside.h"

#include "store/audit.h"
#include "store/season.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* What stands: frozen lists, moves by hand, washed lots, who is there. All raise the trade revision: no projection rests on them. */

static const cw_column kept_columns[] = {
    { "lot", CW_TEXT_T },
    { "day", CW_DAY_T, .null = true, .says = "Of cutting; null: the plan is free." },
    { "why", CW_TEXT_T, .null = true, .words = cw_words_dividing_day_reasons },
};
const cw_shape cw_bench_kept_shape = CW_ROWS(kept_columns);

static const char *code_of(const cw_bench *b, size_t lot)
{
    return b->forecast->data->snapshot->lot[b->lot[lot].lot].code;
}

/* The bench lot of a code: refused with the reason where it stands in no plan. */
static cw_code find_lot(cw_nursery *n, const cw_bench *b, const char *code, size_t *out, cw_error *err)
{
    char shown[80], why[8];
    int64_t id = 0;
    cw_day kept;
    for (size_t l = 0; l < b->lots; l++)
        if (strcmp(code_of(b, l), code) == 0) {
            *out = l;
            return CW_OK;
        }
    cw_shown(code, strlen(code), shown);
    cw_code status = cw_dividing_day_of(n->db, code, &id, &kept, why, err);
    if (status != CW_OK)
        return status;
    return id == 0 ? cw_error_at(err, CW_NOT_FOUND, NULL, 0, "lot", "there is no such lot: %s", shown)
                   : cw_error_at(err, CW_REFUSED, NULL, 0, "lot",
                                 "lot %s has no whole clumps, or is held: it stands in no plan", shown);
}

static cw_code keep(cw_nursery *n, const cw_asker *who, int64_t lot, const char *code, cw_day day,
                    const char *why, cw_table *out, cw_error *err)
{
    char text[11], subject[CW_MAX_CODE + 8];
    cw_day_format(day, text);
    snprintf(subject, sizeof subject, "lot %s", code);
    cw_code status = cw_dividing_day_keep(n->db, lot, day, why, who->now, who->actor, err);
    if (status == CW_OK)
        status = cw_audit_add(n->db, who->now, who->actor, why, subject, NULL, text, err);
    cw_put_text(out, code);
    cw_put_int(out, day);
    cw_put_text(out, why);
    return status;
}

/* ---- a move by hand ---- */

static const cw_column move_columns[] = {
    { "lot", CW_TEXT_T },
    { "was", CW_DAY_T, .null = true },
    { "day", CW_DAY_T },
    { "price", CW_MONEY_T,
      .says = "What the plan costs more, all other lots planned around it; below 0: less." },
    { "total", CW_MONEY_T },
    { "bound", CW_MONEY_T },
};
const cw_shape cw_bench_move_shape = CW_ROWS(move_columns);

/* Can the lot be cut on that day, with what must be cut then already? */
static cw_code may_stand(const cw_bench *b, size_t lot, cw_day day, cw_error *err)
{
    char text[11];
    size_t d = cw_bench_find(b, day);
    cw_day_format(day, text);
    if (d == CW_NONE)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "day",
                           "nobody cuts on %s: it is past, a day off, or no day before the shipping day",
                           text);
    bool washed = strcmp(b->lot[lot].kept_why, "washed") == 0;
    if (!washed && (b->day[d].washed_on == CW_NO_DAY || b->day[d].washed_on < b->today))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "day",
                           "what is cut on %s was to be washed the working day before, which is past", text);
    int64_t cut = b->model_lot[lot].cut_minutes, wash = b->model_lot[lot].wash_minutes;
    for (size_t l = 0; l < b->lots; l++)
        if (l != lot && b->model_lot[l].fixed == (int32_t)d) {
            cut += b->model_lot[l].cut_minutes;
            wash += b->model_lot[l].wash_minutes;
        }
    int64_t over = cut - b->model_day[d].cut_minutes, wet = wash - b->model_day[d].wash_minutes;
    if (over > 0)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "day",
                           "%s has %lld minutes at the bench too few for it, with what stands there already",
                           text, (long long)over);
    if (wet > 0 && !washed)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "day",
                           "the working day before %s has %lld minutes of washing too few for it", text,
                           (long long)wet);
    return CW_OK;
}

static cw_code moved(cw_nursery *n, const cw_asker *who, const char *lot, cw_day day, cw_table *out,
                     int64_t *id, cw_error *err)
{
    cw_bench_ask ask = { .from = CW_NO_DAY };
    cw_bench *before = NULL, *after = NULL;
    size_t at = 0;
    cw_code code = cw_bench_make(n, who, &ask, NULL, CW_NO_DAY, &before, err);
    if (code == CW_OK)
        code = find_lot(n, before, lot, &at, err);
    if (code == CW_OK)
        code = may_stand(before, at, day, err);
    if (code == CW_OK)
        code = cw_bench_make(n, who, &ask, lot, day, &after, err);
    if (code == CW_OK) {
        int32_t was = before->plan.day[at];
        *id = before->lot[at].id;
        cw_put_text(out, lot);
        cw_put_int(out, was == CW_DIVIDING_OPEN ? CW_NO_DAY : before->day[was].day);
        cw_put_int(out, day);
        cw_put_money(out, (cw_cents)llround(after->plan.total - before->plan.total));
        cw_put_money(out, (cw_cents)llround(after->plan.total));
        cw_put_money(out, (cw_cents)llround(after->plan.bound));
        code = cw_table_check(out, err);
    }
    cw_bench_free(before);
    cw_bench_free(after);
    return code;
}

cw_code cw_bench_move(cw_nursery *n, const cw_asker *who, const char *lot, cw_day day, bool put,
                      cw_table *out, cw_error *err)
{
    int64_t id = 0;
    cw_table kept;
    cw_table_init(out, move_columns, CW_WIDTH(move_columns));
    if (!put)
        return moved(n, who, lot, day, out, &id, err);
    if (cw_office_only(who, "move a lot to another day", err) != CW_OK)
        return CW_FORBIDDEN;
    cw_code code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    cw_table_init(&kept, kept_columns, CW_WIDTH(kept_columns));
    code = moved(n, who, lot, day, out, &id, err);
    if (code == CW_OK)
        code = keep(n, who, id, lot, day, "moved", &kept, err);
    if (code == CW_OK)
        code = cw_season_touch(n->db, false, true, err);
    cw_table_free(&kept);
    return cw_work_end(n, code, err);
}

/* ---- freezing ---- */

static cw_code freeze(cw_nursery *n, const cw_asker *who, const cw_bench_ask *ask, cw_table *out,
                      cw_error *err)
{
    cw_bench *b = NULL;
    cw_code code = cw_bench_make(n, who, ask, NULL, CW_NO_DAY, &b, err);
    for (size_t l = 0; code == CW_OK && l < b->lots; l++) {
        int32_t d = b->plan.day[l];
        if (d == CW_DIVIDING_OPEN || b->model_lot[l].fixed >= 0)
            continue;
        cw_day day = b->day[d].day;
        if (ask->days > 0 ? day < b->from + ask->days : d < 2)
            code = keep(n, who, b->lot[l].id, code_of(b, l), day, "frozen", out, err);
    }
    cw_bench_free(b);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

cw_code cw_bench_freeze(cw_nursery *n, const cw_asker *who, const cw_bench_ask *ask, cw_table *out,
                        cw_error *err)
{
    cw_table_init(out, kept_columns, CW_WIDTH(kept_columns));
    if (cw_office_only(who, "freeze the lists of the cutting room", err) != CW_OK)
        return CW_FORBIDDEN;
    cw_code code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    code = freeze(n, who, ask, out, err);
    if (code == CW_OK && cw_table_rows(out) > 0)
        code = cw_season_touch(n->db, false, true, err);
    return cw_work_end(n, code, err);
}

/* ---- washed, and free again ---- */

static cw_code washed(cw_nursery *n, const cw_asker *who, const char *lot, cw_day on, cw_table *out,
                      cw_error *err)
{
    cw_bench_ask ask = { .from = CW_NO_DAY };
    cw_bench *b = NULL;
    size_t at = 0, d = 0;
    cw_code code = cw_bench_make(n, who, &ask, NULL, CW_NO_DAY, &b, err);
    if (code == CW_OK)
        code = find_lot(n, b, lot, &at, err);
    while (code == CW_OK && d < b->days && b->day[d].day <= on)
        d++;
    if (code == CW_OK && d == b->days)
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "lot",
                           "no working day follows on which lot %s could be cut", lot);
    if (code == CW_OK)
        code = keep(n, who, b->lot[at].id, lot, b->day[d].day, "washed", out, err);
    cw_bench_free(b);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

cw_code cw_bench_washed(cw_nursery *n, const cw_asker *who, const char *lot, cw_day on, cw_table *out,
                        cw_error *err)
{
    cw_table_init(out, kept_columns, CW_WIDTH(kept_columns));
    on = on == CW_NO_DAY ? who->today : on;
    if (on > who->today)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "washed_on", "must not lie after today");
    cw_code code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    code = washed(n, who, lot, on, out, err);
    if (code == CW_OK)
        code = cw_season_touch(n->db, false, true, err);
    return cw_work_end(n, code, err);
}

static cw_code let_go(cw_nursery *n, const cw_asker *who, const char *lot, cw_table *out, cw_error *err)
{
    char shown[80], why[8], was[11] = "", subject[CW_MAX_CODE + 8];
    int64_t id = 0;
    cw_day kept = CW_NO_DAY;
    cw_code code = cw_dividing_day_of(n->db, lot, &id, &kept, why, err);
    if (code == CW_OK && id == 0)
        code = cw_error_at(err, CW_NOT_FOUND, NULL, 0, "lot", "there is no such lot: %s",
                           cw_shown(lot, strlen(lot), shown));
    if (code == CW_OK && kept != CW_NO_DAY) {
        cw_day_format(kept, was);
        snprintf(subject, sizeof subject, "lot %s", lot);
        code = cw_dividing_day_let_go(n->db, id, err);
        if (code == CW_OK)
            code = cw_audit_add(n->db, who->now, who->actor, "let go", subject, was, NULL, err);
        if (code == CW_OK)
            code = cw_season_touch(n->db, false, true, err);
    }
    cw_put_text(out, lot);
    cw_put_null(out);
    cw_put_null(out);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

cw_code cw_bench_let_go(cw_nursery *n, const cw_asker *who, const char *lot, cw_table *out, cw_error *err)
{
    cw_table_init(out, kept_columns, CW_WIDTH(kept_columns));
    cw_code code = cw_work_begin(n, err);
    return code != CW_OK ? code : cw_work_end(n, let_go(n, who, lot, out, err), err);
}

/* ---- the crew ---- */

static const cw_column crew_columns[] = {
    { "day", CW_DAY_T },
    { "cutters", CW_INT_T },
    { "washers", CW_INT_T },
    { "hours", CW_REAL_T, 2 },
};
const cw_shape cw_bench_crew_shape = CW_ROWS(crew_columns);

cw_code cw_bench_crew(cw_nursery *n, const cw_asker *who, cw_day day, int64_t cutters, int64_t washers,
                      double hours, cw_table *out, cw_error *err)
{
    char subject[20] = "crew ", words[80];
    cw_crew_row row = { day, cutters, washers, hours };
    cw_table_init(out, crew_columns, CW_WIDTH(crew_columns));
    if (cw_office_only(who, "say who is at the bench", err) != CW_OK)
        return CW_FORBIDDEN;
    if (cutters < 0 || cutters > 100 || washers < 0 || washers > 100 || !(hours >= 0 && hours <= 24))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "hours", "people are 0 to 100, hours 0 to 24: %g",
                           hours);
    if (day < who->today)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "day", "must not be past");
    cw_code code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    cw_day_format(day, subject + 5);
    snprintf(words, sizeof words, "%lld cut, %lld wash, %g hours", (long long)cutters, (long long)washers,
             hours);
    code = cw_crew_set(n->db, &row, err);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "crew", subject, NULL, words, err);
    if (code == CW_OK)
        code = cw_season_touch(n->db, false, true, err);
    cw_put_int(out, day);
    cw_put_int(out, cutters);
    cw_put_int(out, washers);
    cw_put_real(out, hours);
    if (code == CW_OK)
        code = cw_table_check(out, err);
    return cw_work_end(n, code, err);
}
