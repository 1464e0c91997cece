/* SPDX-License-Identifier: MIT */
#include "desk/post/outbox.h"

#include "base/digest.h"
#include "base/text.h"
#include "desk/orders/notices.h"
#include "desk/post/post_inside.h"
#include "store/audit.h"
#include "store/notices.h"
#include "store/season.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define MINUTE_MS    60000
#define MOST_MINUTES 60
#define MOST_LETTER  ((size_t)1 << 20)

int64_t cw_post_pause(int64_t failures)
{
    int64_t minutes = 1;
    while (--failures > 0 && minutes < MOST_MINUTES)
        minutes *= 2;
    return (minutes < MOST_MINUTES ? minutes : MOST_MINUTES) * MINUTE_MS;
}

void cw_post_digest(const cw_mail_account *a, const cw_mail_address *from, char out[65])
{
    cw_digest d;
    cw_digest_init(&d);
    cw_digest_add_text(&d, a->server);
    cw_digest_add_text(&d, a->user);
    cw_digest_add_text(&d, from->address);
    cw_digest_end(&d, out);
}

void cw_post_letter_free(cw_post_letter *l)
{
    cw_text_free(&l->message);
    explicit_bzero(&l->account, sizeof l->account);
    *l = (cw_post_letter){ .id = 0 };
}

/* Quiet that lies further ahead than any pause was set by a clock that ran ahead. */
static bool quiet(const cw_channel_row *c, cw_instant now)
{
    return c->quiet_until > now && c->quiet_until <= now + (cw_instant)2 * MOST_MINUTES * MINUTE_MS;
}

/* The next one and the account, if there is both, and the account took a test letter (or this is one). What is amiss with them the
 * page tells; here nothing goes then. */
static cw_code next(cw_nursery *n, cw_instant now, cw_outbox_row *row, cw_secrets *s, cw_error *err)
{
    cw_channel_row channel;
    cw_mail_address from;
    cw_error amiss = CW_ERROR_NONE;
    char digest[65] = "";
    cw_code code = cw_outbox_next(n->db, "mail", now, row, err);
    if (code != CW_OK || row->id == 0)
        return code;
    code = cw_secrets_read(n, s, &amiss);
    if (code == CW_OK)
        code = cw_post_sender(n, &from, &amiss);
    if (code == CW_OK && s->mail.server[0] == '\0')
        code = CW_REFUSED;
    if (code == CW_OK) {
        cw_post_digest(&s->mail, &from, digest);
        code = cw_outbox_channel(n->db, "mail", &channel, &amiss);
    }
    bool test = strcmp(row->kind, "test") == 0;
    if (code == CW_REFUSED ||
        (code == CW_OK && !test &&
         (channel.stopped || quiet(&channel, now) || strcmp(channel.tested, digest) != 0))) {
        row->id = 0;
        return CW_OK;
    }
    if (code != CW_OK)
        *err = amiss;
    return code;
}

cw_code cw_post_waits(cw_nursery *n, cw_instant now, bool *out, cw_error *err)
{
    cw_outbox_row row = { .id = 0 };
    cw_secrets s;
    cw_code code = next(n, now, &row, &s, err);
    *out = code == CW_OK && row.id > 0;
    free(row.body);
    cw_secrets_wipe(&s);
    return code;
}

static cw_code write_test(cw_nursery *n, const cw_asker *who, const cw_outbox_row *row,
                          const cw_mail_address *from, cw_text *out, cw_error *err)
{
    char name[CW_MAX_NAME + 1], id[64];
    cw_text body = CW_TEXT(4096);
    cw_code code = cw_nursery_setting(n, "name", name, sizeof name, err);
    if (code != CW_OK)
        return code;
    cw_text_addf(
        &body,
        "This is the test letter of %s, season %d.\n\nWho reads it knows that letters to buyers leave "
        "by this account, and what\nthey carry as sender. Nobody but you was sent it.\n",
        name, n->season.season);
    snprintf(id, sizeof id, "test-%lld-%lld", (long long)row->id, (long long)row->queued_at);
    cw_mail m = { from, from, "Test letter", body.data ? body.data : "", who->clock, id };
    code = cw_text_check(&body, err);
    if (code == CW_OK)
        code = cw_mail_write(&m, out, err);
    cw_text_free(&body);
    return code;
}

/* What cannot be written as it stands is refused in our own words, and the next one has its turn. */
static cw_code write_letter(cw_nursery *n, const cw_asker *who, const cw_outbox_row *row, cw_post_letter *out,
                            cw_error *err)
{
    cw_mail_address from;
    cw_notice_row notice = { .detail = NULL };
    cw_code code = cw_post_sender(n, &from, err);
    if (code == CW_OK && row->notice == 0) {
        cw_copy(out->to, sizeof out->to, from.address);
        code = write_test(n, who, row, &from, &out->message, err);
    } else if (code == CW_OK) {
        code = cw_notices_message(n, who, row->notice, &out->message, err);
        if (code == CW_OK)
            code = cw_notice_read(n->db, row->notice, &notice, err);
        if (code == CW_OK)
            cw_copy(out->to, sizeof out->to, notice.email);
    }
    cw_copy(out->from, sizeof out->from, from.address);
    free(notice.detail);
    return code;
}

static cw_code settle(cw_nursery *n, int64_t id, const char *state, const char *words, cw_instant at,
                      cw_error *err)
{
    cw_outbox_end end = { .state = state, .words = words, .next_at = at, .done_at = at };
    return cw_outbox_settle(n->db, id, &end, err);
}

static cw_code take(cw_nursery *n, const cw_asker *who, cw_post_letter *out, cw_error *err)
{
    cw_outbox_row row = { .id = 0 };
    cw_secrets secrets;
    cw_error why = CW_ERROR_NONE;
    cw_code code = next(n, who->clock, &row, &secrets, err);
    free(row.body);
    if (code == CW_OK && row.id > 0)
        code = cw_outbox_going(n->db, row.id, err);
    if (code == CW_OK && row.id > 0) {
        out->account = secrets.mail;
        code = write_letter(n, who, &row, out, &why);
        out->id = code == CW_OK ? row.id : 0;
        if (code == CW_REFUSED || code == CW_NOT_FOUND)
            code = settle(n, row.id, "refused", why.text, who->clock, err);
        else if (code != CW_OK)
            *err = why;
    }
    cw_secrets_wipe(&secrets);
    return code;
}

cw_code cw_post_take(cw_nursery *n, const cw_asker *who, cw_post_letter *out, cw_error *err)
{
    *out = (cw_post_letter){ .id = 0, .message = CW_TEXT(MOST_LETTER) };
    cw_code code = cw_office_only(who, "send letters", err);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    if (code != CW_OK)
        return code;
    code = cw_work_end(n, take(n, who, out, err), err);
    if (code != CW_OK || out->id == 0)
        cw_post_letter_free(out);
    return code;
}

/* The notice is on record as sent; and which account took a test letter. */
static cw_code taken(cw_nursery *n, const cw_asker *who, const cw_outbox_row *row, const char *words,
                     cw_error *err)
{
    cw_code code = settle(n, row->id, "sent", words, who->clock, err);
    if (code == CW_OK)
        code = cw_outbox_worked(n->db, "mail", err);
    if (code != CW_OK)
        return code;
    if (row->notice == 0) {
        cw_secrets s;
        cw_mail_address from;
        char digest[65];
        code = cw_secrets_read(n, &s, err);
        if (code == CW_OK)
            code = cw_post_sender(n, &from, err);
        if (code == CW_OK) {
            cw_post_digest(&s.mail, &from, digest);
            code = cw_outbox_tested(n->db, "mail", digest, err);
        }
        cw_secrets_wipe(&s);
        return code;
    }
    char evidence[CW_MAX_NOTE + 1], subject[96];
    cw_notice_row notice = { .detail = NULL };
    code = cw_notice_read(n->db, row->notice, &notice, err);
    snprintf(evidence, sizeof evidence, "letter %lld to %s; the mail server said: %s", (long long)row->id,
             notice.email, words);
    snprintf(subject, sizeof subject, "notice %lld of order %s", (long long)row->notice, notice.order);
    free(notice.detail);
    if (code == CW_OK)
        code = cw_notice_done(n->db, row->notice, "sent", who->now, who->actor, evidence, err);
    return code == CW_OK ? cw_audit_add(n->db, who->now, who->actor, "sent", subject, "due", "sent", err)
                         : code;
}

static cw_code told(cw_nursery *n, const cw_asker *who, const cw_outbox_row *row, cw_carried how,
                    const char *words, cw_error *err)
{
    bool test = row->notice == 0;
    char last[CW_MAX_NAME + 80];
    cw_channel_row channel;
    cw_outbox_end later = { .state = "waits", .words = words, .done_at = CW_NO_INSTANT };
    cw_code code = cw_outbox_channel(n->db, "mail", &channel, err);
    if (code != CW_OK)
        return code;
    if (how == CW_CARRIED_TAKEN)
        return taken(n, who, row, words, err);
    /* Whoever tries an account out waits for the answer. */
    if (how == CW_CARRIED_REFUSED || (test && how != CW_CARRIED_UNSURE && how != CW_CARRIED_STOPPED))
        return settle(n, row->id, "refused", words, who->clock, err);
    if (how == CW_CARRIED_LATER && row->tries >= CW_OUTBOX_TRIES) {
        snprintf(last, sizeof last, "given up after %lld tries: %s", (long long)row->tries, words);
        return settle(n, row->id, "refused", last, who->clock, err);
    }
    if (how == CW_CARRIED_UNSURE) {
        code = settle(n, row->id, "unsure", words, who->clock, err);
    } else {
        later.uncounted = how != CW_CARRIED_LATER;
        later.next_at = who->clock + (how == CW_CARRIED_LATER ? cw_post_pause(row->tries) : 0);
        code = cw_outbox_settle(n->db, row->id, &later, err);
    }
    if (code == CW_OK && (how == CW_CARRIED_UNSURE || how == CW_CARRIED_DOWN))
        code = cw_outbox_failed(n->db, "mail", who->clock + cw_post_pause(channel.failures + 1), words, err);
    return code;
}

cw_code cw_post_told(cw_nursery *n, const cw_asker *who, int64_t letter, cw_carried how, const char *words,
                     cw_error *err)
{
    cw_outbox_row row;
    char shown[CW_MAX_NAME + 1];
    cw_code code = cw_office_only(who, "send letters", err);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    if (code != CW_OK)
        return code;
    cw_copy(shown, sizeof shown, words);
    code = cw_outbox_read(n->db, letter, &row, err);
    if (code == CW_OK && strcmp(row.state, "going") != 0)
        code = cw_error_set(err, CW_CONFLICT, "letter %lld does not go", (long long)letter);
    if (code == CW_OK)
        code = told(n, who, &row, how, shown, err);
    if (code == CW_OK)
        code = cw_season_touch(n->db, false, true, err);
    return cw_work_end(n, code, err);
}

cw_code cw_post_recover(cw_nursery *n, const cw_asker *who, cw_error *err)
{
    cw_code code = cw_office_only(who, "send letters", err);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    if (code != CW_OK)
        return code;
    code = cw_outbox_interrupted(n->db,
                                 "the program ended while this was handed over: nobody knows whether it was "
                                 "taken; look at the mail server's log, or in the folder of sent letters",
                                 err);
    return cw_work_end(n, code, err);
}
