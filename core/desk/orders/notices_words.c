/* SPDX-License-Identifier: MIT */
#include "desk/orders/notices_inside.h"

#include "base/json.h"
#include "base/mail.h"
#include "base/text.h"
#include "desk/nursery/based_inside.h"
#include "desk/share/standing_inside.h"
#include "store/audit.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* The nursery's texts, and what their {words} are replaced by. */

#define MAX_BODY (64 * 1024)

static const struct word {
    const char *name, *example;
} words[] = {
    { "customer", "Mara Zweitholm" },
    { "order", "2031-0042" },
    { "line", "2" },
    { "nursery", "" },
    { "currency", "" },
    { "amount", "17.50" },
    { "due", "16 April 2032" },
    { "variety", "Amber Lantern" },
    { "code", "AMB" },
    { "quantity", "2" },
    { "asked", "5" },
    { "promised", "23 April 2032" },
    { "expected", "by 7 May 2032" },
    { "silence", "If we do not hear from you, we take it that you agree to the new date." },
    { "cancelled_on", "23 May 2032" },
    { "refund_by", "1 June 2032" },
    { "substitute", "Brass Finch" },
    { "reason", "A late frost held the parcels back." },
    { "why", "that we cannot deliver" },
    { "what", "2 of Amber Lantern" },
    { "cancelled", "12 April 2032" },
    { "lot", "L0001" },
    { "row", "r7" },
    { "source", "" },
    { "sentence", "" },
};

static const struct word *find_word(const char *name, size_t n)
{
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (strlen(words[i].name) == n && memcmp(words[i].name, name, n) == 0)
            return &words[i];
    return NULL;
}

/* What stands for a word in a notice; *own is filled for those that are not in its detail. */
static const char *value_of(const char *name, const json_t *detail, const cw_notice_row *row,
                            const cw_season *season, const char *nursery, char own[24])
{
    const char *said = json_string_value(json_object_get(detail, name));
    if (said)
        return said;
    if (strcmp(name, "customer") == 0)
        return row->customer[0] ? row->customer : "customer";
    if (strcmp(name, "order") == 0)
        return row->order;
    if (strcmp(name, "nursery") == 0)
        return nursery;
    if (strcmp(name, "currency") == 0)
        return season->currency;
    own[0] = '\0';
    if (strcmp(name, "line") == 0 && row->line)
        snprintf(own, 24, "%d", row->line);
    else if (strcmp(name, "due") == 0)
        cw_day_words(row->due_on, own);
    else if (strcmp(name, "amount") == 0)
        cw_cents_format(row->amount, own);
    return own;
}

/* Calls `put` with plain stretches and {words}; an opening brace twice stands for itself. */
static cw_code walk(const char *text, void (*put)(void *context, const char *s, size_t n, bool word),
                    void *context, cw_error *err)
{
    char shown[80];
    while (*text) {
        size_t n = strcspn(text, "{");
        put(context, text, n, false);
        text += n;
        if (*text == '\0')
            break;
        if (text[1] == '{') {
            put(context, text, 1, false);
            text += 2;
            continue;
        }
        n = strcspn(text + 1, "}\n");
        if (text[1 + n] != '}' || find_word(text + 1, n) == NULL)
            return cw_error_at(err, CW_REFUSED, NULL, 0, "text",
                               "there is no word of this name to fill in: {%s}",
                               cw_shown(text + 1, n, shown));
        put(context, text + 1, n, true);
        text += n + 2;
    }
    return CW_OK;
}

typedef struct filling {
    const json_t *detail;
    const cw_notice_row *row;
    const cw_season *season;
    const char *nursery;
    cw_text *out;
} filling;

static void put_filled(void *context, const char *s, size_t n, bool word)
{
    filling *f = context;
    char own[24];
    if (word)
        cw_text_add(f->out, value_of(find_word(s, n)->name, f->detail, f->row, f->season, f->nursery, own));
    else
        cw_text_addn(f->out, s, n);
}

cw_code cw_notice_fill(const char *text, const cw_notice_row *row, const cw_season *season,
                       const char *nursery, cw_text *out, cw_error *err)
{
    json_t *detail = row->detail ? json_loads(row->detail, 0, NULL) : NULL;
    filling f = { detail, row, season, nursery, out };
    cw_text_add(out, "");
    /* Never blanks where the particulars should stand. */
    if (row->detail && detail == NULL)
        return cw_error_set(err, CW_MACHINE,
                            "what a notice is about cannot be read: no memory, or a damaged file");
    cw_code code = walk(text, put_filled, &f, err);
    json_decref(detail);
    return code == CW_OK ? cw_text_check(out, err) : code;
}

static void put_nothing(void *context, const char *s, size_t n, bool word)
{
    (void)context, (void)s, (void)n, (void)word;
}

static cw_code check_text(const char *subject, const char *body, cw_error *err)
{
    if (subject[0] == '\0' || strlen(subject) > CW_MAX_NAME || cw_has_control(subject, strlen(subject), ""))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "subject", "must be one line of 1 to %d bytes",
                           CW_MAX_NAME);
    if (body[0] == '\0' || strlen(body) > MAX_BODY || cw_has_control(body, strlen(body), "\n\t"))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "body", "must be a text of 1 to %d bytes", MAX_BODY);
    if (!cw_utf8_valid(subject, strlen(subject), NULL) || !cw_utf8_valid(body, strlen(body), NULL))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "body", "must be UTF-8");
    cw_code code = walk(subject, put_nothing, NULL, err);
    return code == CW_OK ? walk(body, put_nothing, NULL, err) : code;
}

const cw_shape cw_notices_templates_shape = { .of = &cw_templates_list_shape };

cw_code cw_notices_templates(cw_nursery *n, cw_table *out, cw_error *err)
{
    return cw_templates_list(n->db, out, err);
}

cw_code cw_notices_template_set(cw_nursery *n, const cw_asker *who, const char *kind, const char *subject,
                                const char *body, cw_error *err)
{
    cw_template had = { NULL, NULL, 0 };
    cw_code code = cw_office_only(who, "change the texts of notices", err);
    if (code == CW_OK)
        code = check_text(subject, body, err);
    if (code == CW_OK)
        code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    code = cw_template_read(n->db, kind, &had, err);
    if (code == CW_OK) {
        cw_based_text(who, "subject", had.subject);
        cw_based_text(who, "body", had.body);
        code = cw_based_hold(who, "the text", err);
    }
    if (code == CW_OK && (strcmp(had.subject, subject) != 0 || strcmp(had.body, body) != 0)) {
        char about[64];
        snprintf(about, sizeof about, "text of %s", kind);
        code = cw_template_set(n->db, kind, subject, body, err);
        if (code == CW_OK)
            code = cw_audit_add(n->db, who->now, who->actor, "change", about, had.subject, subject, err);
    }
    cw_template_free(&had);
    return cw_work_end(n, code, err);
}

/* An invented notice, for looking at a text before there is a real one. */
static cw_code invent(cw_notice_row *row, cw_error *err)
{
    json_t *detail = json_object();
    *row = (cw_notice_row){ .due_on = cw_day_from_ymd(2032, 4, 16), .amount = 1750, .line = 2 };
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (words[i].example[0])
            cw_json_put_take(&detail, words[i].name, json_string(words[i].example));
    row->detail = cw_json_text(detail, JSON_COMPACT);
    json_decref(detail);
    return row->detail ? CW_OK : cw_error_memory(err);
}

const cw_shape cw_notices_preview_shape = { .parts = (const cw_part[]){
                                                { "subject", CW_TEXT_T },
                                                { "body", CW_TEXT_T },
                                                { 0 },
                                            } };

cw_code cw_notices_preview(cw_nursery *n, const cw_asker *who, const char *kind, const char *subject,
                           const char *body, int64_t notice, json_t **out, cw_error *err)
{
    cw_template set = { NULL, NULL, 0 };
    cw_notice_row row = { .detail = NULL };
    cw_text s = CW_TEXT(MAX_BODY * 4), b = CW_TEXT(MAX_BODY * 4);
    char name[CW_MAX_NAME + 1];
    *out = NULL;
    cw_code code = cw_office_only(who, "see notices", err);
    if (code == CW_OK)
        code = cw_template_read(n->db, kind, &set, err);
    if (code == CW_OK)
        code = check_text(subject ? subject : set.subject, body ? body : set.body, err);
    if (code == CW_OK)
        code = notice ? cw_notice_read(n->db, notice, &row, err) : invent(&row, err);
    if (code == CW_OK)
        code = cw_nursery_setting(n, "name", name, sizeof name, err);
    if (code == CW_OK)
        code = cw_notice_fill(subject ? subject : set.subject, &row, &n->season, name, &s, err);
    if (code == CW_OK)
        code = cw_notice_fill(body ? body : set.body, &row, &n->season, name, &b, err);
    if (code == CW_OK && (*out = json_pack("{s:s,s:s}", "subject", s.data, "body", b.data)) == NULL)
        code = cw_error_memory(err);
    cw_text_free(&s);
    cw_text_free(&b);
    cw_template_free(&set);
    free(row.detail);
    return code;
}

/* The notice with its text filled in; *row, *subject and *body are the caller's to free. */
static cw_code compose(cw_nursery *n, int64_t notice, cw_notice_row *row, cw_text *subject, cw_text *body,
                       cw_error *err)
{
    cw_template set = { NULL, NULL, 0 };
    char name[CW_MAX_NAME + 1];
    *subject = CW_TEXT(MAX_BODY);
    *body = CW_TEXT(MAX_BODY * 4);
    cw_code code = cw_notice_read(n->db, notice, row, err);
    if (code == CW_OK)
        code = cw_template_read(n->db, row->kind, &set, err);
    if (code == CW_OK)
        code = cw_nursery_setting(n, "name", name, sizeof name, err);
    if (code == CW_OK)
        code = cw_notice_fill(set.subject, row, &n->season, name, subject, err);
    if (code == CW_OK)
        code = cw_notice_fill(set.body, row, &n->season, name, body, err);
    cw_template_free(&set);
    return code;
}

cw_code cw_notices_message(cw_nursery *n, const cw_asker *who, int64_t notice, cw_text *out, cw_error *err)
{
    cw_notice_row row = { .detail = NULL };
    cw_text subject = CW_TEXT(0), body = CW_TEXT(0);
    cw_mail_address from, to = { "", "" };
    char sender[CW_MAX_NAME + 1], id[32];
    cw_code code = cw_office_only(who, "see notices", err);
    if (code == CW_OK)
        code = cw_nursery_setting(n, "sender", sender, sizeof sender, err);
    if (code == CW_OK && !cw_mail_parse(sender, &from))
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "sender",
                           "the setting `sender` must first be an e-mail address, or Name <address>: %s",
                           sender);
    if (code == CW_OK)
        code = compose(n, notice, &row, &subject, &body, err);
    if (code == CW_OK && row.email[0] == '\0')
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "to",
                           "order %s has no e-mail address; use the letter's text", row.order);
    if (code == CW_OK && !cw_mail_is_address(row.email))
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "to", "what order %s has as e-mail address is none",
                           row.order);
    if (code == CW_OK) {
        cw_copy(to.address, sizeof to.address, row.email);
        cw_copy(to.name, sizeof to.name, row.customer);
        snprintf(id, sizeof id, "notice-%lld", (long long)notice);
        cw_mail m = { &from, &to, subject.data, body.data, who->now, id };
        code = cw_mail_write(&m, out, err);
    }
    cw_text_free(&subject);
    cw_text_free(&body);
    free(row.detail);
    return code;
}

static cw_code merge_one(cw_nursery *n, int64_t notice, cw_table *out, cw_error *err)
{
    cw_notice_row row = { .detail = NULL };
    cw_text subject, body;
    cw_code code = compose(n, notice, &row, &subject, &body, err);
    if (code == CW_OK) {
        cw_put_int(out, notice);
        cw_put_text(out, row.kind);
        cw_put_int(out, row.due_on);
        cw_put_text(out, row.order);
        row.line ? cw_put_int(out, row.line) : cw_put_null(out);
        cw_put_text(out, row.customer);
        cw_put_text(out, row.email);
        cw_put_text(out, row.postcode);
        cw_put_text(out, row.country);
        cw_put_money(out, row.amount);
        cw_put_text(out, n->season.currency);
        cw_put_text(out, subject.data);
        cw_put_text(out, body.data);
    }
    cw_text_free(&subject);
    cw_text_free(&body);
    free(row.detail);
    return code;
}

cw_code cw_notices_merge(cw_nursery *n, const cw_asker *who, const char *state, cw_day due_by, cw_table *out,
                         cw_error *err)
{
    static const cw_column columns[] = {
        { "notice", CW_INT_T, 0 },   { "kind", CW_TEXT_T, 0 },     { "due_on", CW_DAY_T, 0 },
        { "order", CW_TEXT_T, 0 },   { "line", CW_INT_T, 0 },      { "customer", CW_TEXT_T, 0 },
        { "email", CW_TEXT_T, 0 },   { "postcode", CW_TEXT_T, 0 }, { "country", CW_TEXT_T, 0 },
        { "amount", CW_MONEY_T, 0 }, { "currency", CW_TEXT_T, 0 }, { "subject", CW_TEXT_T, 0 },
        { "body", CW_TEXT_T, 0 },
    };
    int64_t *ids = NULL;
    size_t count = 0;
    cw_table_init(out, columns, sizeof columns / sizeof columns[0]);
    cw_code code = cw_office_only(who, "see notices", err);
    if (code == CW_OK)
        code = cw_notices_ids(n->db, state, due_by, &ids, &count, err);
    for (size_t i = 0; i < count && code == CW_OK; i++)
        code = merge_one(n, ids[i], out, err);
    free(ids);
    return code == CW_OK ? cw_table_check(out, err) : code;
}
