/* SPDX-License-Identifier: MIT */
#include "base/json.h"
#include "base/text.h"
#include "desk/post/post_inside.h"
#include "store/audit.h"
#include "store/season.h"
#include "store/telling.h"
#include <sodium.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* What the owner sets of a hook, and what the office sees of it. */

static const cw_part view_parts[] = {
    { "address", CW_TEXT_T, .null = true },
    { "set", CW_BOOL_T, .says = "an address is set" },
    { "elsewhere", CW_BOOL_T, .says = "it is a credential: it is not changed here" },
    { "trouble", CW_TEXT_T, .null = true, .says = "why it cannot be used" },
    { "tested", CW_BOOL_T, .says = "this address took a test" },
    { "stopped", CW_BOOL_T },
    { "waits", CW_INT_T },
    { "sent", CW_INT_T, .says = "of those that are kept, the last 200" },
    { "refused", CW_INT_T },
    { 0 },
};
const cw_shape cw_hook_view_shape = { .parts = view_parts };

static json_t *view(const cw_secrets *s, const cw_channel_row *c, const char *trouble)
{
    char digest[65];
    bool set = s->hook.address[0] != '\0';
    if (trouble[0] == '\0' && set && !cw_hook_good(s->hook.address))
        trouble = "the address that is kept is no https:// address";
    cw_hook_digest(&s->hook, digest);
    json_t *o = json_object();
    cw_json_put_take(&o, "address", cw_json_known(s->hook.address));
    cw_json_put_take(&o, "set", json_boolean(set));
    cw_json_put_take(&o, "elsewhere", json_boolean(s->elsewhere));
    cw_json_put_take(&o, "trouble", cw_json_known(trouble));
    cw_json_put_take(&o, "tested", json_boolean(set && strcmp(digest, c->tested) == 0));
    cw_json_put_take(&o, "stopped", json_boolean(c->stopped));
    cw_json_put_take(&o, "waits", json_integer(c->waits));
    cw_json_put_take(&o, "sent", json_integer(c->sent));
    cw_json_put_take(&o, "refused", json_integer(c->refused));
    return o;
}

cw_code cw_hook_view(cw_nursery *n, const cw_asker *who, json_t **out, cw_error *err)
{
    cw_secrets s = { .elsewhere = false };
    cw_channel_row channel = { .stopped = false };
    cw_error trouble = CW_ERROR_NONE;
    *out = NULL;
    cw_code code = cw_office_only(who, "see what a shop is told", err);
    if (code == CW_OK)
        code = cw_outbox_channel(n->db, "hook", &channel, err);
    if (code == CW_OK)
        code = cw_outbox_counts(n->db, "hook", &channel, err);
    if (code != CW_OK)
        return code;
    if (cw_secrets_read(n, &s, &trouble) != CW_OK)
        s = (cw_secrets){ .elsewhere = false };
    *out = view(&s, &channel, trouble.text);
    cw_secrets_wipe(&s);
    return *out ? CW_OK : cw_error_memory(err);
}

static cw_code check_address(const char *address, cw_error *err)
{
    char shown[80];
    if (strlen(address) > CW_MAX_NAME || cw_has_control(address, strlen(address), "") ||
        !cw_hook_good(address))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "address",
                           "must be https://HOST/PATH (http:// on this machine itself only): %s",
                           cw_shown(address, strlen(address), shown));
    return CW_OK;
}

static cw_code new_secret(char out[CW_MAX_HOOK_SECRET + 1], cw_error *err)
{
    unsigned char bytes[32];
    if (sodium_init() < 0)
        return cw_error_set(err, CW_MACHINE, "the machine gives no random numbers");
    randombytes_buf(bytes, sizeof bytes);
    memcpy(out, "whsec_", 6);
    sodium_bin2base64(out + 6, CW_MAX_HOOK_SECRET - 5, bytes, sizeof bytes, sodium_base64_VARIANT_ORIGINAL);
    sodium_memzero(bytes, sizeof bytes);
    return CW_OK;
}

/* Another address, or none (""): what waits is not for it. */
static cw_code change(cw_nursery *n, const cw_asker *who, const char *address,
                      char secret[CW_MAX_HOOK_SECRET + 1], cw_error *err)
{
    cw_secrets s;
    cw_code code = cw_secrets_read(n, &s, err);
    explicit_bzero(&s.hook, sizeof s.hook);
    if (code == CW_OK && address[0])
        code = new_secret(secret, err);
    if (code == CW_OK && address[0]) {
        cw_copy(s.hook.address, sizeof s.hook.address, address);
        cw_copy(s.hook.secret, sizeof s.hook.secret, secret);
    }
    if (code == CW_OK) /* the secret is nowhere on record */
        code = cw_audit_add(n->db, who->now, who->actor, address[0] ? "set" : "forget", "shop that is told",
                            NULL, address[0] ? address : NULL, err);
    if (code == CW_OK)
        code = cw_outbox_tested(n->db, "hook", NULL, err);
    if (code == CW_OK)
        code = cw_outbox_stop(n->db, "hook", false, err);
    if (code == CW_OK)
        code = cw_outbox_remove_hooks(n->db, false, err);
    if (code == CW_OK)
        code = cw_telling_forget(n->db, err);
    if (code == CW_OK)
        code = cw_season_touch(n->db, false, true, err);
    if (code == CW_OK)
        code = cw_secrets_write(n, &s, err);
    cw_secrets_wipe(&s);
    return code;
}

cw_code cw_hook_set(cw_nursery *n, const cw_asker *who, const char *address,
                    char secret[CW_MAX_HOOK_SECRET + 1], cw_error *err)
{
    secret[0] = '\0';
    cw_code code = cw_owner_only(who, "set where a shop is told", err);
    if (code == CW_OK)
        code = check_address(address, err);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    if (code != CW_OK)
        return code;
    code = cw_work_end(n, change(n, who, address, secret, err), err);
    if (code != CW_OK)
        explicit_bzero(secret, CW_MAX_HOOK_SECRET + 1);
    return code;
}

cw_code cw_hook_forget(cw_nursery *n, const cw_asker *who, cw_error *err)
{
    cw_code code = cw_owner_only(who, "forget where a shop is told", err);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    return code == CW_OK ? cw_work_end(n, change(n, who, "", NULL, err), err) : code;
}

static cw_code is_set(cw_nursery *n, cw_error *err)
{
    cw_secrets s;
    cw_code code = cw_secrets_read(n, &s, err);
    if (code == CW_OK && !cw_hook_good(s.hook.address))
        code = cw_error_set(err, CW_REFUSED, "no shop's address is set; the owner sets it under Settings");
    cw_secrets_wipe(&s);
    return code;
}

cw_code cw_hook_test(cw_nursery *n, const cw_asker *who, cw_error *err)
{
    cw_code code = cw_owner_only(who, "test a shop's address", err);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    if (code != CW_OK)
        return code;
    code = is_set(n, err);
    if (code == CW_OK)
        code = cw_outbox_remove_hooks(n->db, true, err);
    if (code == CW_OK)
        code = cw_hook_queue_test(n, who, err);
    if (code == CW_OK)
        code = cw_season_touch(n->db, false, true, err);
    return cw_work_end(n, code, err);
}

cw_code cw_hook_stop(cw_nursery *n, const cw_asker *who, bool stopped, cw_error *err)
{
    cw_code code = cw_office_only(who, "stop what a shop is told", err);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    if (code != CW_OK)
        return code;
    code = cw_outbox_stop(n->db, "hook", stopped, err);
    if (code == CW_OK && !stopped)
        code = cw_outbox_hurry_hooks(n->db, who->clock, err);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, stopped ? "stop" : "go on", "telling a shop", NULL,
                            NULL, err);
    if (code == CW_OK)
        code = cw_season_touch(n->db, false, true, err);
    return cw_work_end(n, code, err);
}
