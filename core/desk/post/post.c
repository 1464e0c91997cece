/* SPDX-License-Identifier: MIT */
#include "base/json.h"
#include "base/text.h"
#include "desk/orders/notices_inside.h"
#include "desk/post/post_inside.h"
#include "store/audit.h"
#include "store/notices.h"
#include "store/season.h"
#include "store/telling.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* What the office does with the outbox, and the owner with the account. */

cw_code cw_post_sender(cw_nursery *n, cw_mail_address *out, cw_error *err)
{
    char sender[CW_MAX_NAME + 1];
    *out = (cw_mail_address){ "", "" };
    cw_code code = cw_nursery_setting(n, "sender", sender, sizeof sender, err);
    if (code == CW_OK && !cw_mail_parse(sender, out))
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "sender",
                           "the setting `sender` must first be an e-mail address, or Name <address>: %s",
                           sender);
    return code;
}

static const cw_part view_parts[] = {
    { "server", CW_TEXT_T, .null = true },
    { "user", CW_TEXT_T, .null = true },
    { "authority", CW_TEXT_T, .null = true },
    { "per_minute", CW_INT_T },
    { "account", CW_BOOL_T, .says = "a server is set" },
    { "elsewhere", CW_BOOL_T, .says = "the account is a credential: it is not changed here" },
    { "trouble", CW_TEXT_T, .null = true, .says = "why the account cannot be read" },
    { "sender", CW_TEXT_T, .null = true },
    { "tested", CW_BOOL_T, .says = "this account took a test letter" },
    { "stopped", CW_BOOL_T },
    { "quiet_until", CW_INSTANT_T, .null = true },
    { "words", CW_TEXT_T, .null = true, .says = "what the server said when it last failed" },
    { "waits", CW_INT_T },
    { "sent", CW_INT_T },
    { "refused", CW_INT_T },
    { "unsure", CW_INT_T },
    { 0 },
};
const cw_shape cw_post_view_shape = { .parts = view_parts };

static json_t *view(const cw_secrets *s, const cw_mail_address *from, const cw_channel_row *c,
                    const char *trouble, cw_instant now)
{
    char digest[65], until[CW_CELL_BYTES];
    cw_value v = { .i = c->quiet_until };
    cw_post_digest(&s->mail, from, digest);
    until[cw_value_format(CW_INSTANT_T, 0, &v, until)] = '\0';
    json_t *o = json_object();
    cw_json_put_take(&o, "server", cw_json_known(s->mail.server));
    cw_json_put_take(&o, "user", cw_json_known(s->mail.user));
    cw_json_put_take(&o, "authority", cw_json_known(s->mail.authority));
    cw_json_put_take(&o, "per_minute", json_integer(s->mail.per_minute));
    cw_json_put_take(&o, "account", json_boolean(s->mail.server[0] != '\0'));
    cw_json_put_take(&o, "elsewhere", json_boolean(s->elsewhere));
    cw_json_put_take(&o, "trouble", cw_json_known(trouble));
    cw_json_put_take(&o, "sender", cw_json_known(from->address));
    cw_json_put_take(&o, "tested", json_boolean(s->mail.server[0] != '\0' && strcmp(digest, c->tested) == 0));
    cw_json_put_take(&o, "stopped", json_boolean(c->stopped));
    cw_json_put_take(&o, "quiet_until", cw_json_known(c->quiet_until > now ? until : ""));
    cw_json_put_take(&o, "words", cw_json_known(c->words));
    cw_json_put_take(&o, "waits", json_integer(c->waits));
    cw_json_put_take(&o, "sent", json_integer(c->sent));
    cw_json_put_take(&o, "refused", json_integer(c->refused));
    cw_json_put_take(&o, "unsure", json_integer(c->unsure));
    return o;
}

cw_code cw_post_view(cw_nursery *n, const cw_asker *who, json_t **out, cw_error *err)
{
    cw_secrets s;
    cw_channel_row channel = { .stopped = false };
    cw_mail_address from = { "", "" };
    cw_error trouble = CW_ERROR_NONE, none = CW_ERROR_NONE;
    *out = NULL;
    cw_code code = cw_office_only(who, "see the outbox", err);
    if (code == CW_OK)
        code = cw_outbox_channel(n->db, "mail", &channel, err);
    if (code == CW_OK)
        code = cw_outbox_counts(n->db, "mail", &channel, err);
    if (code == CW_OK && (code = cw_post_sender(n, &from, &none)) == CW_REFUSED)
        code = CW_OK; /* not set yet */
    if (code == CW_OK) {
        if (cw_secrets_read(n, &s, &trouble) != CW_OK)
            s = (cw_secrets){ .mail = { .per_minute = CW_PER_MINUTE } };
        *out = view(&s, &from, &channel, trouble.text, who->clock);
        cw_secrets_wipe(&s);
        if (*out == NULL)
            code = cw_error_memory(err);
    } else if (none.code != CW_OK) {
        *err = none;
    }
    return code;
}

static cw_code check_text(const char *name, const char *value, size_t size, cw_error *err)
{
    if (strlen(value) >= size || cw_has_control(value, strlen(value), "") || value[0] == ' ' ||
        !cw_utf8_valid(value, strlen(value), NULL))
        return cw_error_at(err, CW_REFUSED, NULL, 0, name, "must be one line of at most %zu bytes", size - 1);
    return CW_OK;
}

static cw_code check_server(const char *server, cw_error *err)
{
    cw_place place;
    char shown[80];
    if (!cw_place_parse(server, "smtps|smtp", false, &place))
        return cw_error_at(
            err, CW_REFUSED, NULL, 0, "server",
            "must be smtps://HOST (TLS from the start, port 465) or smtp://HOST:587 (STARTTLS): %s",
            cw_shown(server, strlen(server), shown));
    return CW_OK;
}

/* A password typed for one server is not shown to another one. */
static cw_code put_account(cw_secrets *s, const char *server, const char *user, const char *password,
                           const char *authority, int64_t per_minute, cw_error *err)
{
    bool same = strcmp(s->mail.server, server) == 0 && strcmp(s->mail.user, user) == 0;
    cw_code code = check_server(server, err);
    if (code == CW_OK)
        code = check_text("user", user, sizeof s->mail.user, err);
    if (code == CW_OK)
        code = check_text("authority", authority, sizeof s->mail.authority, err);
    if (code == CW_OK && password)
        code = check_text("password", password, sizeof s->mail.password, err);
    if (code == CW_OK && per_minute != 0 && (per_minute < 1 || per_minute > 6000))
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "per_minute", "must be 1 to 6000: %lld",
                           (long long)per_minute);
    if (code == CW_OK && password == NULL && !same && user[0])
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "password",
                           "is needed: the server or the user is another one than before");
    if (code != CW_OK)
        return code;
    cw_copy(s->mail.server, sizeof s->mail.server, server);
    cw_copy(s->mail.user, sizeof s->mail.user, user);
    cw_copy(s->mail.authority, sizeof s->mail.authority, authority);
    if (password || user[0] == '\0')
        cw_copy(s->mail.password, sizeof s->mail.password, password ? password : "");
    if (per_minute)
        s->mail.per_minute = (int)per_minute;
    return CW_OK;
}

cw_code cw_post_account_set(cw_nursery *n, const cw_asker *who, const char *server, const char *user,
                            const char *password, const char *authority, int64_t per_minute, cw_error *err)
{
    cw_secrets s = { .mail = { .per_minute = CW_PER_MINUTE } };
    cw_code code = cw_owner_only(who, "set the mail account", err);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    if (code != CW_OK)
        return code;
    code = cw_secrets_read(n, &s, err);
    if (code == CW_OK)
        code =
            put_account(&s, server, user ? user : "", password, authority ? authority : "", per_minute, err);
    if (code == CW_OK) /* its password is nowhere on record */
        code = cw_audit_add(n->db, who->now, who->actor, "set", "mail account", NULL, server, err);
    if (code == CW_OK)
        code = cw_season_touch(n->db, false, true, err);
    if (code == CW_OK)
        code = cw_secrets_write(n, &s, err);
    cw_secrets_wipe(&s);
    return cw_work_end(n, code, err);
}

cw_code cw_post_account_forget(cw_nursery *n, const cw_asker *who, cw_error *err)
{
    cw_secrets s = { .mail = { .per_minute = CW_PER_MINUTE } };
    cw_code code = cw_owner_only(who, "forget the mail account", err);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    if (code != CW_OK)
        return code;
    code = cw_secrets_read(n, &s, err);
    explicit_bzero(&s.mail, sizeof s.mail);
    s.mail.per_minute = CW_PER_MINUTE;
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "forget", "mail account", NULL, NULL, err);
    if (code == CW_OK)
        code = cw_outbox_tested(n->db, "mail", NULL, err);
    if (code == CW_OK)
        code = cw_season_touch(n->db, false, true, err);
    if (code == CW_OK)
        code = cw_secrets_write(n, &s, err);
    cw_secrets_wipe(&s);
    return cw_work_end(n, code, err);
}

/* Is there an account, and (for letters to buyers) did it take a test letter? */
static cw_code may_send(cw_nursery *n, bool tested, cw_error *err)
{
    cw_secrets s;
    cw_channel_row channel;
    cw_mail_address from;
    char digest[65] = "";
    cw_code code = cw_secrets_read(n, &s, err);
    if (code == CW_OK && s.mail.server[0] == '\0')
        code = cw_error_set(err, CW_REFUSED, "no mail account is set; the owner sets it under Settings");
    if (code == CW_OK)
        code = cw_post_sender(n, &from, err);
    if (code == CW_OK) {
        cw_post_digest(&s.mail, &from, digest);
        code = cw_outbox_channel(n->db, "mail", &channel, err);
    }
    cw_secrets_wipe(&s);
    if (code == CW_OK && tested && strcmp(channel.tested, digest) != 0)
        code =
            cw_error_set(err, CW_REFUSED,
                         "this account has not taken a test letter to %s yet; send that first", from.address);
    return code;
}

cw_code cw_post_test(cw_nursery *n, const cw_asker *who, cw_error *err)
{
    cw_code code = cw_owner_only(who, "send a test letter", err);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    if (code != CW_OK)
        return code;
    code = may_send(n, false, err);
    if (code == CW_OK)
        code = cw_outbox_remove_tests(n->db, err);
    if (code == CW_OK)
        code = cw_outbox_queue(n->db, "test", 0, NULL, who->clock, who->actor, err);
    if (code == CW_OK)
        code = cw_season_touch(n->db, false, true, err);
    return cw_work_end(n, code, err);
}

static cw_code queue_one(cw_nursery *n, const cw_asker *who, int64_t notice, cw_post_queued *out,
                         cw_error *err)
{
    cw_notice_row row = { .detail = NULL };
    cw_outbox_row known;
    cw_code code = cw_notice_read(n->db, notice, &row, err);
    free(row.detail);
    if (code == CW_NOT_FOUND || (code == CW_OK && strcmp(row.state, "due") != 0)) {
        *err = (cw_error)CW_ERROR_NONE; /* withdrawn a moment ago, or told otherwise */
        out->settled++;
        return CW_OK;
    }
    if (code == CW_OK)
        code = cw_outbox_of_notice(n->db, notice, &known, err);
    if (code != CW_OK)
        return code;
    if (!cw_mail_is_address(row.email)) {
        out->addressless++;
        return CW_OK;
    }
    if (known.id > 0 && strcmp(known.state, "refused") == 0) { /* its address was put right, it may be */
        out->queued++;
        return cw_outbox_again(n->db, known.id, who->clock, err);
    }
    if (known.id > 0) {
        out->known++;
        return CW_OK;
    }
    out->queued++;
    return cw_outbox_queue(n->db, "letter", notice, NULL, who->clock, who->actor, err);
}

static cw_code queue_all(cw_nursery *n, const cw_asker *who, const int64_t *notices, size_t count,
                         cw_post_queued *out, cw_error *err)
{
    char said[96];
    cw_notices_made made;
    cw_code code = may_send(n, true, err);
    if (code == CW_OK)
        code = cw_notices_make_inside(n, who, &made, err);
    for (size_t i = 0; i < count && code == CW_OK; i++) {
        code = queue_one(n, who, notices[i], out, err);
        if (code == CW_OK && i % CW_TELL_EVERY == 0)
            code = cw_asker_tell(who, "putting letters into the outbox", i, count, err);
    }
    snprintf(said, sizeof said, "%lld letters", (long long)out->queued);
    if (code == CW_OK && out->queued > 0)
        code = cw_audit_add(n->db, who->now, who->actor, "send", "letters", NULL, said, err);
    return code == CW_OK ? cw_season_touch(n->db, false, true, err) : code;
}

cw_code cw_post_letters(cw_nursery *n, const cw_asker *who, const int64_t *notices, size_t count,
                        cw_post_queued *out, cw_error *err)
{
    *out = (cw_post_queued){ 0 };
    cw_code code = cw_office_only(who, "send letters", err);
    if (code == CW_OK && (count < 1 || count > CW_NOTICES_MOST))
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "notices", "must be 1 to %d notices: %zu",
                           CW_NOTICES_MOST, count);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    return code == CW_OK ? cw_work_end(n, queue_all(n, who, notices, count, out, err), err) : code;
}

cw_code cw_post_stop(cw_nursery *n, const cw_asker *who, bool stopped, cw_error *err)
{
    cw_code code = cw_office_only(who, "stop letters", err);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    if (code != CW_OK)
        return code;
    code = cw_outbox_stop(n->db, "mail", stopped, err);
    if (code == CW_OK)
        code =
            cw_audit_add(n->db, who->now, who->actor, stopped ? "stop" : "go on", "letters", NULL, NULL, err);
    if (code == CW_OK)
        code = cw_season_touch(n->db, false, true, err);
    return cw_work_end(n, code, err);
}

/* One letter, as it is: again from the beginning, or out of the outbox (its notice stays due). */
static cw_code change_one(cw_nursery *n, const cw_asker *who, int64_t letter, bool again, cw_error *err)
{
    cw_outbox_row row;
    char subject[64];
    cw_code code = cw_office_only(who, "change the outbox", err);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    if (code != CW_OK)
        return code;
    code = cw_outbox_read(n->db, letter, &row, err);
    if (code == CW_OK && (strcmp(row.state, "sent") == 0 || strcmp(row.state, "going") == 0 ||
                          (again && strcmp(row.state, "waits") == 0)))
        code = cw_error_set(err, CW_CONFLICT, "letter %lld %s", (long long)letter,
                            row.state[0] == 's'   ? "is sent already"
                            : row.state[0] == 'g' ? "is going at this moment"
                                                  : "waits already");
    if (code == CW_OK && again && row.kind[0] == 'h' && !row.test) /* as it is now, not as it was then */
        code = cw_telling_again(n->db, letter, err);
    if (code == CW_OK)
        code = again && (row.kind[0] != 'h' || row.test) ? cw_outbox_again(n->db, letter, who->clock, err)
                                                         : cw_outbox_remove(n->db, letter, err);
    snprintf(subject, sizeof subject, "%s %lld", row.kind[0] == 'h' ? "message" : "letter",
             (long long)letter);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, again ? "send again" : "take back", subject,
                            row.state, NULL, err);
    if (code == CW_OK)
        code = cw_season_touch(n->db, false, true, err);
    return cw_work_end(n, code, err);
}

cw_code cw_post_again(cw_nursery *n, const cw_asker *who, int64_t letter, cw_error *err)
{
    return change_one(n, who, letter, true, err);
}

cw_code cw_post_remove(cw_nursery *n, const cw_asker *who, int64_t letter, cw_error *err)
{
    return change_one(n, who, letter, false, err);
}

const cw_shape cw_post_list_shape = { .of = &cw_outbox_list_shape };

cw_code cw_post_list(cw_nursery *n, const cw_asker *who, const char *state, cw_table *out, cw_error *err)
{
    cw_code code = cw_office_only(who, "see the outbox", err);
    return code == CW_OK ? cw_outbox_list(n->db, state, out, err) : code;
}
