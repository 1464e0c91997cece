/* SPDX-License-Identifier: MIT */
#include "desk/post/hook.h"

#include "base/digest.h"
#include "base/json.h"
#include "base/text.h"
#include "desk/post/post_inside.h"
#include "store/audit.h"
#include "store/season.h"
#include "store/telling.h"
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* A message to a shop, from what changed to what became of it. What the owner sets is in hook_account.c. */

#define LOOK_AGAIN_MS 60000
#define MOST_BODY     ((size_t)1 << 20)

void cw_hook_look_free(cw_hook_look *look)
{
    free(look->changed);
    *look = (cw_hook_look){ .due = false };
}

void cw_hook_message_free(cw_hook_message *m)
{
    cw_text_free(&m->body);
    explicit_bzero(&m->account, sizeof m->account);
    *m = (cw_hook_message){ .id = 0 };
}

void cw_hook_digest(const cw_hook_account *a, char out[65])
{
    cw_digest d;
    cw_digest_init(&d);
    cw_digest_add_text(&d, a->address);
    cw_digest_add_text(&d, a->secret);
    cw_digest_end(&d, out);
}

bool cw_hook_good(const char *address)
{
    cw_place place;
    return cw_place_parse(address, "https|http", true, &place) &&
           (place.loopback || strcmp(place.scheme, "https") == 0);
}

/* *out: 0 nothing may go, 1 a test, 2 everything. What is amiss the page tells. */
static cw_code may_go(cw_nursery *n, cw_secrets *s, int *out, cw_error *err)
{
    cw_channel_row channel;
    cw_error amiss = CW_ERROR_NONE;
    char digest[65];
    *out = 0;
    if (cw_secrets_read(n, s, &amiss) != CW_OK || !cw_hook_good(s->hook.address) || s->hook.secret[0] == '\0')
        return CW_OK;
    cw_hook_digest(&s->hook, digest);
    cw_code code = cw_outbox_channel(n->db, "hook", &channel, err);
    *out = code != CW_OK ? 0 : channel.stopped || strcmp(channel.tested, digest) != 0 ? 1 : 2;
    return code;
}

/* The next one that is due: a test, or anything. */
static cw_code next(cw_nursery *n, cw_instant now, int may, cw_outbox_row *row, cw_error *err)
{
    cw_outbox_row known;
    *row = (cw_outbox_row){ .id = 0 };
    cw_code code = may > 0 ? cw_outbox_next(n->db, may == 2 ? "hook" : "hook-test", now, row, err) : CW_OK;
    if (code == CW_OK && row->id > 0) {
        code = cw_outbox_read(n->db, row->id, &known, err);
        row->test = known.test;
    }
    return code;
}

/* What changed is looked for when something was written since it was looked for last, or a minute ago. */
static cw_code look_for(cw_nursery *n, cw_instant now, cw_hook_look *look, cw_error *err)
{
    int64_t stock = 0, trade = 0;
    cw_code code = cw_season_revision(n->db, &stock, &trade, err);
    if (code != CW_OK ||
        (stock == look->stock && trade == look->trade && now >= look->at && now < look->at + LOOK_AGAIN_MS))
        return code;
    if (look->changed == NULL && (look->changed = calloc(CW_HOOK_MOST, sizeof *look->changed)) == NULL)
        return cw_error_memory(err);
    code = cw_telling_changed(n->db, look->changed, CW_HOOK_MOST, &look->count, err);
    if (code == CW_OK && look->count == 0) {
        look->stock = stock;
        look->trade = trade;
        look->at = now;
    }
    look->due = code == CW_OK && look->count > 0;
    return code;
}

cw_code cw_hook_waits(cw_nursery *n, cw_instant now, cw_hook_look *look, cw_error *err)
{
    cw_secrets s;
    cw_outbox_row row = { .id = 0 };
    int may = 0;
    bool open = true;
    look->due = false;
    look->count = 0;
    cw_code code = may_go(n, &s, &may, err);
    cw_secrets_wipe(&s);
    if (code == CW_OK)
        code = next(n, now, may, &row, err);
    free(row.body);
    look->due = code == CW_OK && row.id > 0;
    if (code == CW_OK && !look->due && may == 2)
        code = cw_outbox_open_hook(n->db, &open, err);
    return code == CW_OK && !open ? look_for(n, now, look, err) : code;
}

/* What is no more: nothing of it may be sold; the order is gone. */
static json_t *item(const cw_changed *what, const char *now)
{
    if (now)
        return json_loads(now, 0, NULL);
    return what->order
               ? json_pack("{s:s,s:s}", "order", what->name, "state", "gone")
               : json_pack("{s:s,s:i,s:i,s:i}", "variety", what->name, "offered", 0, "sold", 0, "left", 0);
}

/* A message of this type, with an id that nobody can guess and that is never there twice. */
static cw_code queue(cw_nursery *n, const cw_asker *who, const char *type, json_t *availability,
                     json_t *orders, cw_error *err)
{
    unsigned char bytes[16];
    char id[40] = "told-", at[CW_CELL_BYTES];
    cw_value v = { .i = who->clock };
    if (sodium_init() < 0)
        return cw_error_set(err, CW_MACHINE, "the machine gives no random numbers");
    randombytes_buf(bytes, sizeof bytes);
    sodium_bin2hex(id + 5, sizeof id - 5, bytes, sizeof bytes);
    at[cw_value_format(CW_INSTANT_T, 0, &v, at)] = '\0';
    json_t *o = json_pack("{s:s,s:s,s:s,s:{s:i,s:o,s:o}}", "id", id, "type", type, "timestamp", at, "data",
                          "season", n->season.season, "availability", availability, "orders", orders);
    char *body = o ? cw_json_text(o, JSON_COMPACT) : NULL;
    json_decref(o);
    cw_code code =
        body ? cw_outbox_queue(n->db, "hook", 0, body, who->clock, who->actor, err) : cw_error_memory(err);
    free(body);
    return code;
}

cw_code cw_hook_queue_test(cw_nursery *n, const cw_asker *who, cw_error *err)
{
    return queue(n, who, "test", json_array(), json_array(), err);
}

/* What changed, as it is by now. */
static cw_code write_changes(cw_nursery *n, const cw_asker *who, const cw_hook_look *look, cw_error *err)
{
    json_t *lists[2] = { json_array(), json_array() };
    cw_code code = CW_OK;
    for (size_t i = 0; i < look->count && code == CW_OK; i++) {
        const cw_changed *what = &look->changed[i];
        char *now = NULL;
        code = cw_telling_tell(n->db, what, &now, err);
        if (code == CW_OK)
            cw_json_append_take(&lists[what->order], item(what, now));
        free(now);
    }
    if (code == CW_OK)
        return queue(n, who, "changes", lists[0], lists[1], err);
    json_decref(lists[0]);
    json_decref(lists[1]);
    return code;
}

static cw_code fill(const cw_outbox_row *row, const cw_secrets *s, cw_hook_message *out, cw_error *err)
{
    json_t *o = json_loads(row->body, 0, NULL);
    const char *name = json_string_value(json_object_get(o, "id"));
    out->test = row->test;
    out->account = s->hook;
    cw_copy(out->name, sizeof out->name, name ? name : "");
    cw_text_add(&out->body, row->body);
    json_decref(o);
    cw_code code = cw_text_check(&out->body, err);
    if (code == CW_OK)
        out->id = row->id;
    return code;
}

static cw_code take(cw_nursery *n, const cw_asker *who, const cw_hook_look *look, cw_hook_message *out,
                    cw_error *err)
{
    cw_secrets s;
    cw_outbox_row row = { .id = 0 };
    int may = 0;
    bool open = false;
    cw_code code = may_go(n, &s, &may, err);
    if (code == CW_OK && may == 2 && look->count > 0)
        code = cw_outbox_open_hook(n->db, &open, err);
    if (code == CW_OK && may == 2 && look->count > 0 && !open)
        code = write_changes(n, who, look, err);
    if (code == CW_OK)
        code = next(n, who->clock, may, &row, err);
    if (code == CW_OK && row.id > 0)
        code = cw_outbox_going(n->db, row.id, err);
    if (code == CW_OK && row.id > 0)
        code = fill(&row, &s, out, err);
    free(row.body);
    cw_secrets_wipe(&s);
    return code;
}

cw_code cw_hook_take(cw_nursery *n, const cw_asker *who, const cw_hook_look *look, cw_hook_message *out,
                     cw_error *err)
{
    *out = (cw_hook_message){ .id = 0, .body = CW_TEXT(MOST_BODY) };
    cw_code code = cw_office_only(who, "tell a shop", err);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    if (code != CW_OK)
        return code;
    code = cw_work_end(n, take(n, who, look, out, err), err);
    if (code != CW_OK || out->id == 0)
        cw_hook_message_free(out);
    return code;
}

/* A shop that took a test is told everything, unless it is the one that was told until now. */
static cw_code taken(cw_nursery *n, const cw_hook_message *m, cw_error *err)
{
    char digest[65];
    cw_channel_row channel;
    if (!m->test)
        return cw_outbox_trim_hooks(n->db, err);
    cw_hook_digest(&m->account, digest);
    cw_code code = cw_outbox_channel(n->db, "hook", &channel, err);
    if (code == CW_OK && strcmp(channel.tested, digest) != 0)
        code = cw_telling_forget(n->db, err);
    return code == CW_OK ? cw_outbox_tested(n->db, "hook", digest, err) : code;
}

static cw_code told(cw_nursery *n, const cw_asker *who, const cw_outbox_row *row, const cw_hook_message *m,
                    cw_carried how, const char *words, cw_error *err)
{
    char last[CW_MAX_NAME + 80];
    bool over =
        how == CW_CARRIED_REFUSED || (row->test && how != CW_CARRIED_TAKEN && how != CW_CARRIED_STOPPED);
    cw_outbox_end end = { .state = "waits", .words = words, .next_at = who->clock, .done_at = CW_NO_INSTANT };
    if (how == CW_CARRIED_TAKEN || over) {
        end.state = over ? "refused" : "sent";
        end.done_at = who->clock;
    } else if (how == CW_CARRIED_STOPPED) {
        end.uncounted = true;
    } else if (row->tries >= CW_OUTBOX_TRIES) {
        snprintf(last, sizeof last, "given up after %lld tries: %s", (long long)row->tries, words);
        end = (cw_outbox_end){
            .state = "refused", .words = last, .next_at = who->clock, .done_at = who->clock
        };
    } else {
        end.next_at = who->clock + cw_post_pause(row->tries);
    }
    cw_code code = cw_outbox_settle(n->db, m->id, &end, err);
    return code == CW_OK && how == CW_CARRIED_TAKEN ? taken(n, m, err) : code;
}

cw_code cw_hook_told(cw_nursery *n, const cw_asker *who, const cw_hook_message *m, cw_carried how, bool gone,
                     const char *words, cw_error *err)
{
    cw_outbox_row row;
    char shown[CW_MAX_NAME + 1];
    cw_code code = cw_office_only(who, "tell a shop", err);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    if (code != CW_OK)
        return code;
    cw_copy(shown, sizeof shown, words);
    code = cw_outbox_read(n->db, m->id, &row, err);
    if (code == CW_OK && strcmp(row.state, "going") != 0)
        code = cw_error_set(err, CW_CONFLICT, "message %lld does not go", (long long)m->id);
    if (code == CW_OK)
        code = told(n, who, &row, m, how, shown, err);
    if (code == CW_OK && gone)
        code = cw_outbox_stop(n->db, "hook", true, err);
    return cw_work_end(n, code, err);
}
