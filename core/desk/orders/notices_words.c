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

/* How what a notice keeps for a word becomes text: as it stands, or in the way of the letter's language. */
enum how { PLAIN, DAY, MONEY, PHRASE };

static const struct word {
    const char *name, *example;
    enum how how;
} words[] = {
    { "customer", "Mara Zweitholm", PLAIN },
    { "order", "2031-0042", PLAIN },
    { "line", "2", PLAIN },
    { "nursery", "", PLAIN },
    { "currency", "", PLAIN },
    { "amount", "17.50", MONEY },
    { "due", "2032-04-16", DAY },
    { "variety", "Amber Lantern", PLAIN },
    { "code", "AMB", PLAIN },
    { "quantity", "2", PLAIN },
    { "asked", "5", PLAIN },
    { "promised", "2032-04-23", DAY }, /* of a short line: how many */
    { "expected", "2032-05-07", PHRASE },
    { "silence", "consents", PHRASE },
    { "cancelled_on", "2032-05-23", DAY },
    { "refund_by", "2032-06-01", DAY },
    { "substitute", "Brass Finch", PLAIN },
    { "reason", "", PLAIN },
    { "why", "undelivered", PHRASE },
    { "what", "part", PHRASE },
    { "cancelled", "2032-04-12", DAY },
    { "lot", "L0001", PLAIN },
    { "row", "r7", PLAIN },
    { "source", "", PLAIN },
    { "sentence", "", PLAIN },
};

/* What notices_facts.c keeps in place of a set phrase. Once it kept the English phrase itself. */
static const struct {
    const char *kept;
    cw_phrase phrase;
} kept_phrases[] = {
    { "unknown", CW_PHRASE_DAY_UNKNOWN },
    { "consents", CW_PHRASE_SILENCE_CONSENTS },
    { "cancels", CW_PHRASE_SILENCE_CANCELS },
    { "cancelled", CW_PHRASE_WHY_CANCELLED },
    { "undelivered", CW_PHRASE_WHY_UNDELIVERED },
    { "both", CW_PHRASE_WHY_BOTH },
    { "failed", CW_PHRASE_WHY_FAILED },
    { "all", CW_PHRASE_WHAT_ALL },
    { "part", CW_PHRASE_WHAT_PART },
};

static const struct word *find_word(const char *name, size_t n)
{
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (strlen(words[i].name) == n && memcmp(words[i].name, name, n) == 0)
            return &words[i];
    return NULL;
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
    cw_tongue letter;
    const cw_notice_row *row;
    const cw_season *season;
    const char *nursery;
    cw_text *out;
} filling;

static const char *kept(const filling *f, const char *name)
{
    const char *said = json_string_value(json_object_get(f->detail, name));
    return said ? said : "";
}

/* A day as it was kept, in the letter's form; what is none as it stands. */
static const char *day_text(const filling *f, const char *said, char out[CW_TONGUE_DAY])
{
    cw_day day;
    if (!cw_day_parse(said, strlen(said), &day) && !cw_tongue_day_read(said, &day))
        return said;
    cw_tongue_day(f->letter, day, out);
    return out;
}

static void put_phrase(const filling *f, const char *said)
{
    char a[CW_TONGUE_DAY], b[CW_TONGUE_DAY];
    cw_tongue english = cw_tongue_of("en", NULL);
    const char *bare = strncmp(said, "by ", 3) == 0 ? said + 3 : said, *day = day_text(f, bare, a);
    if (day == a) {
        cw_tongue_say(f->letter, CW_PHRASE_BY_DAY, 0, day, NULL, f->out);
        return;
    }
    for (size_t i = 0; i < sizeof kept_phrases / sizeof kept_phrases[0]; i++) {
        cw_phrase p = kept_phrases[i].phrase;
        if (strcmp(said, kept_phrases[i].kept) != 0 && strcmp(said, cw_tongue_phrase(english, p)) != 0)
            continue;
        if (p == CW_PHRASE_WHAT_PART)
            cw_tongue_say(f->letter, p, 0, kept(f, "quantity"), kept(f, "variety"), f->out);
        else
            cw_tongue_say(f->letter, p, 0, day_text(f, kept(f, "cancelled_on"), a),
                          day_text(f, kept(f, "refund_by"), b), f->out);
        return;
    }
    cw_text_add(f->out, said);
}

static void put_amount(const filling *f, cw_cents amount)
{
    char text[CW_TONGUE_MONEY];
    cw_tongue_money(f->letter, amount, text);
    cw_text_add(f->out, text);
}

/* What the notice keeps for the word. */
static void put_kept(const filling *f, const struct word *w, const char *said)
{
    char day[CW_TONGUE_DAY];
    cw_cents amount;
    if (strcmp(w->name, "row") == 0 &&
        (said[0] == '\0' || strcmp(said, cw_tongue_phrase(cw_tongue_of("en", NULL), CW_PHRASE_NO_ROW)) == 0))
        cw_text_add(f->out, cw_tongue_phrase(f->letter, CW_PHRASE_NO_ROW));
    else if (w->how == DAY)
        cw_text_add(f->out, day_text(f, said, day));
    else if (w->how == PHRASE)
        put_phrase(f, said);
    else if (w->how == MONEY && cw_cents_parse(said, strlen(said), &amount))
        put_amount(f, amount);
    else
        cw_text_add(f->out, said);
}

/* What is the same in every notice of an order. */
static void put_given(const filling *f, const char *name)
{
    const cw_notice_row *row = f->row;
    char own[CW_TONGUE_DAY];
    if (strcmp(name, "customer") == 0)
        cw_text_add(f->out,
                    row->customer[0] ? row->customer : cw_tongue_phrase(f->letter, CW_PHRASE_CUSTOMER));
    else if (strcmp(name, "order") == 0)
        cw_text_add(f->out, row->order);
    else if (strcmp(name, "nursery") == 0)
        cw_text_add(f->out, f->nursery);
    else if (strcmp(name, "currency") == 0)
        cw_text_add(f->out, f->season->currency);
    else if (strcmp(name, "line") == 0 && row->line)
        cw_text_addf(f->out, "%d", row->line);
    else if (strcmp(name, "due") == 0) {
        cw_tongue_day(f->letter, row->due_on, own);
        cw_text_add(f->out, own);
    } else if (strcmp(name, "amount") == 0)
        put_amount(f, row->amount);
}

static void put_filled(void *context, const char *s, size_t n, bool word)
{
    filling *f = context;
    if (!word) {
        cw_text_addn(f->out, s, n);
        return;
    }
    const struct word *w = find_word(s, n);
    const char *said = json_string_value(json_object_get(f->detail, w->name));
    if (said)
        put_kept(f, w, said);
    else
        put_given(f, w->name);
}

cw_code cw_notice_fill(const char *text, cw_tongue letter, const cw_notice_row *row, const cw_season *season,
                       const char *nursery, cw_text *out, cw_error *err)
{
    json_t *detail = row->detail ? json_loads(row->detail, 0, NULL) : NULL;
    filling f = { detail, letter, row, season, nursery, out };
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

/* The language named, else the order's, else the nursery's; `out` has room for one. */
static cw_code language_of(cw_nursery *n, const char *named, const char *of_order, char out[8], cw_error *err)
{
    if (named == NULL || named[0] == '\0')
        named = of_order;
    if (named == NULL || named[0] == '\0')
        return cw_nursery_setting(n, "language", out, 8, err);
    cw_copy(out, 8, named);
    return CW_OK;
}

cw_code cw_notices_template_set(cw_nursery *n, const cw_asker *who, const char *kind, const char *language,
                                const char *subject, const char *body, cw_error *err)
{
    char of[8];
    cw_template had = { NULL, NULL, 0 };
    cw_code code = cw_office_only(who, "change the texts of notices", err);
    if (code == CW_OK)
        code = check_text(subject, body, err);
    if (code == CW_OK)
        code = cw_work_begin(n, err);
    if (code != CW_OK)
        return code;
    code = language_of(n, language, NULL, of, err);
    if (code == CW_OK)
        code = cw_template_read(n->db, kind, of, &had, err);
    if (code == CW_OK) {
        cw_based_text(who, "subject", had.subject);
        cw_based_text(who, "body", had.body);
        code = cw_based_hold(who, "the text", err);
    }
    if (code == CW_OK && (strcmp(had.subject, subject) != 0 || strcmp(had.body, body) != 0)) {
        char about[64];
        snprintf(about, sizeof about, "text of %s (%s)", kind, of);
        code = cw_template_set(n->db, kind, of, subject, body, err);
        if (code == CW_OK)
            code = cw_audit_add(n->db, who->now, who->actor, "change", about, had.subject, subject, err);
    }
    cw_template_free(&had);
    return cw_work_end(n, code, err);
}

/* An invented notice, for looking at a text before there is a real one. */
static cw_code invent(cw_tongue letter, cw_notice_row *row, cw_error *err)
{
    json_t *detail = json_object();
    *row = (cw_notice_row){ .due_on = cw_day_from_ymd(2032, 4, 16), .amount = 1750, .line = 2 };
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (words[i].example[0])
            cw_json_put_take(&detail, words[i].name, json_string(words[i].example));
    cw_json_put_take(&detail, "reason", json_string(cw_tongue_phrase(letter, CW_PHRASE_EXAMPLE_REASON)));
    row->detail = cw_json_text(detail, JSON_COMPACT);
    json_decref(detail);
    return row->detail ? CW_OK : cw_error_memory(err);
}

const cw_shape cw_notices_preview_shape = { .parts = (const cw_part[]){
                                                { "subject", CW_TEXT_T },
                                                { "body", CW_TEXT_T },
                                                { 0 },
                                            } };

cw_code cw_notices_preview(cw_nursery *n, const cw_asker *who, const char *kind, const char *language,
                           const char *subject, const char *body, int64_t notice, json_t **out, cw_error *err)
{
    cw_template set = { NULL, NULL, 0 };
    cw_notice_row row = { .detail = NULL };
    cw_text s = CW_TEXT(MAX_BODY * 4), b = CW_TEXT(MAX_BODY * 4);
    cw_tongue letter = { 0 };
    char name[CW_MAX_NAME + 1], of[8];
    *out = NULL;
    cw_code code = cw_office_only(who, "see notices", err);
    if (code == CW_OK && notice)
        code = cw_notice_read(n->db, notice, &row, err);
    if (code == CW_OK)
        code = language_of(n, language, row.language, of, err);
    if (code == CW_OK)
        code = cw_template_read(n->db, kind, of, &set, err);
    if (code == CW_OK) {
        letter = cw_tongue_of(of, row.country);
        code = check_text(subject ? subject : set.subject, body ? body : set.body, err);
    }
    if (code == CW_OK && notice == 0)
        code = invent(letter, &row, err);
    if (code == CW_OK)
        code = cw_nursery_setting(n, "name", name, sizeof name, err);
    if (code == CW_OK)
        code = cw_notice_fill(subject ? subject : set.subject, letter, &row, &n->season, name, &s, err);
    if (code == CW_OK)
        code = cw_notice_fill(body ? body : set.body, letter, &row, &n->season, name, &b, err);
    if (code == CW_OK && (*out = json_pack("{s:s,s:s}", "subject", s.data, "body", b.data)) == NULL)
        code = cw_error_memory(err);
    cw_text_free(&s);
    cw_text_free(&b);
    cw_template_free(&set);
    free(row.detail);
    return code;
}

/* The notice with its text filled in, in the buyer's language; *row, *subject and *body are the caller's to free. */
static cw_code compose(cw_nursery *n, int64_t notice, cw_notice_row *row, cw_text *subject, cw_text *body,
                       cw_error *err)
{
    cw_template set = { NULL, NULL, 0 };
    cw_tongue letter = { 0 };
    char name[CW_MAX_NAME + 1], of[8];
    *subject = CW_TEXT(MAX_BODY);
    *body = CW_TEXT(MAX_BODY * 4);
    cw_code code = cw_notice_read(n->db, notice, row, err);
    if (code == CW_OK)
        code = language_of(n, NULL, row->language, of, err);
    if (code == CW_OK) {
        letter = cw_tongue_of(of, row->country);
        code = cw_template_read(n->db, row->kind, of, &set, err);
    }
    if (code == CW_OK)
        code = cw_nursery_setting(n, "name", name, sizeof name, err);
    if (code == CW_OK)
        code = cw_notice_fill(set.subject, letter, row, &n->season, name, subject, err);
    if (code == CW_OK)
        code = cw_notice_fill(set.body, letter, row, &n->season, name, body, err);
    cw_template_free(&set);
    return code;
}

cw_code cw_notices_message(cw_nursery *n, const cw_asker *who, int64_t notice, cw_text *out, cw_error *err)
{
    cw_notice_row row = { .detail = NULL };
    cw_text subject = CW_TEXT(0), body = CW_TEXT(0);
    cw_mail_address from, to = { "", "" };
    char sender[CW_MAX_NAME + 1], id[64];
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
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "to",
                           "order %s has an e-mail address that is none: %.80s; use the letter's text",
                           row.order, row.email);
    if (code == CW_OK) {
        cw_copy(to.address, sizeof to.address, row.email);
        cw_copy(to.name, sizeof to.name, row.customer);
        /* The same letter has the same name, whoever sends it how often; another season's has another. */
        snprintf(id, sizeof id, "notice-%lld-%lld", (long long)notice, (long long)row.made_at);
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
