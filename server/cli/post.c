/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "cli/secret_inside.h"
#include "clock.h"
#include "desk/orders/notices.h"
#include "desk/post/hook.h"
#include "desk/post/outbox.h"
#include "post/smtp.h"
#include "post/webhook.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "base/banned.h"

static const cw_option options[] = {
    { "--user", CW_TEXT_T, "NAME", "of the mail account; its password is asked for", 0, 0, NULL, false },
    { "--authority", CW_TEXT_T, "FILE", "certificates (PEM) to trust instead of the machine's", 0, 0, NULL,
      false },
    { "--per-minute", CW_INT_T, "N", "letters a minute at most (20 if not given)", 1, 6000, NULL, false },
    { "--due-by", CW_DAY_T, "DATE", "only letters of notices due by then", 0, 0, NULL, false },
    { "--state", CW_TEXT_T, "STATE", "list these (all if not given)", 0, 0, cw_words_outbox_lists, false },
    { 0 },
};

static cw_code account(cw_call *call, cw_nursery *n, const char *server, cw_error *err)
{
    char password[CW_SECRET_BYTES] = "";
    const char *user = cw_call_text(call, "--user", NULL);
    cw_code code = user ? cw_secret_read("Password of ", user, password, err) : CW_OK;
    if (code == CW_OK)
        code = cw_post_account_set(n, &call->who, server, user, password,
                                   cw_call_text(call, "--authority", NULL),
                                   cw_call_int(call, "--per-minute", 0), err);
    cw_secret_wipe(password, sizeof password);
    if (code == CW_OK)
        cw_call_say(call, "the account is set; 'post %s test' sends a test letter to yourself",
                    call->arguments[0]);
    return code;
}

static cw_code forget_account(cw_call *call, cw_nursery *n, const char *name, cw_error *err)
{
    (void)name;
    return cw_post_account_forget(n, &call->who, err);
}

static cw_code outbox(cw_call *call, cw_nursery *n, const char *name, cw_error *err)
{
    const char *state = cw_call_text(call, "--state", "all");
    cw_table t = { 0 };
    (void)name;
    cw_code code = cw_post_list(n, &call->who, strcmp(state, "all") == 0 ? NULL : state, &t, err);
    return cw_call_show_take(call, code, &t, err);
}

/* Waits between two letters as the account says, and ends when nothing is to be carried now. */
static cw_code carry(cw_call *call, cw_nursery *n, const char *name, cw_error *err)
{
    size_t carried = 0;
    (void)name;
    cw_code code = cw_post_recover(n, &call->who, err);
    for (int64_t last = 0; code == CW_OK;) {
        cw_post_letter letter;
        cw_carry_words said;
        while (cw_clock_ticks() < last)
            nanosleep(&(struct timespec){ 0, 50000000L }, NULL);
        call->who.clock = cw_clock_now();
        code = cw_post_take(n, &call->who, &letter, err);
        if (code != CW_OK || letter.id == 0)
            break;
        last = cw_clock_ticks() + 60000 / letter.account.per_minute;
        cw_carried how = cw_smtp_carry(&letter, 0, (cw_go_on){ 0 }, &said);
        carried += how == CW_CARRIED_TAKEN;
        call->who.clock = cw_clock_now();
        code = cw_post_told(n, &call->who, letter.id, how, said.text, err);
        if (code == CW_OK && how != CW_CARRIED_TAKEN)
            cw_call_say(call, "letter %lld: %s", (long long)letter.id, said.text);
        cw_post_letter_free(&letter);
    }
    if (code == CW_OK)
        cw_call_say(call, carried == 1 ? "%zu letter was sent" : "%zu letters were sent", carried);
    return code == CW_OK ? outbox(call, n, NULL, err) : code;
}

static cw_code hook(cw_call *call, cw_nursery *n, const char *address, cw_error *err)
{
    char secret[CW_MAX_HOOK_SECRET + 1];
    cw_code code = cw_hook_set(n, &call->who, address, secret, err);
    if (code == CW_OK) {
        printf("%s\n", secret);
        cw_call_say(
            call,
            "this is the shop's secret; it is not told again. 'post %s test-hook' sends the shop a test",
            call->arguments[0]);
    }
    cw_secret_wipe(secret, sizeof secret);
    return code;
}

static cw_code forget_hook(cw_call *call, cw_nursery *n, const char *name, cw_error *err)
{
    (void)name;
    return cw_hook_forget(n, &call->who, err);
}

/* Ends when nothing is to be told now: what the shop did not take waits for the next time. */
static cw_code tell(cw_call *call, cw_nursery *n, const char *name, cw_error *err)
{
    size_t carried = 0;
    cw_hook_look look = { .due = false };
    (void)name;
    cw_code code = cw_post_recover(n, &call->who, err);
    while (code == CW_OK) {
        cw_hook_message m = { .id = 0 };
        call->who.clock = cw_clock_now();
        code = cw_hook_waits(n, call->who.clock, &look, err);
        if (code == CW_OK && look.due)
            code = cw_hook_take(n, &call->who, &look, &m, err);
        if (code != CW_OK || m.id == 0)
            break;
        cw_hook_carried c = cw_webhook_carry(&m, 0, (cw_go_on){ 0 });
        carried += c.how == CW_CARRIED_TAKEN;
        call->who.clock = cw_clock_now();
        code = cw_hook_told(n, &call->who, &m, c.how, c.gone, c.said.text, err);
        if (code == CW_OK && c.how != CW_CARRIED_TAKEN)
            cw_call_say(call, "message %lld: %s", (long long)m.id, c.said.text);
        cw_hook_message_free(&m);
    }
    cw_hook_look_free(&look);
    if (code == CW_OK)
        cw_call_say(call, carried == 1 ? "%zu message was taken" : "%zu messages were taken", carried);
    return code == CW_OK ? outbox(call, n, NULL, err) : code;
}

static cw_code test_hook(cw_call *call, cw_nursery *n, const char *name, cw_error *err)
{
    cw_code code = cw_hook_test(n, &call->who, err);
    return code == CW_OK ? tell(call, n, name, err) : code;
}

static cw_code stop_hook(cw_call *call, cw_nursery *n, const char *name, cw_error *err)
{
    (void)name;
    return cw_hook_stop(n, &call->who, true, err);
}

static cw_code go_on_hook(cw_call *call, cw_nursery *n, const char *name, cw_error *err)
{
    (void)name;
    return cw_hook_stop(n, &call->who, false, err);
}

static cw_code test(cw_call *call, cw_nursery *n, const char *name, cw_error *err)
{
    cw_code code = cw_post_test(n, &call->who, err);
    return code == CW_OK ? carry(call, n, name, err) : code;
}

static cw_code send_letters(cw_call *call, cw_nursery *n, const char *name, cw_error *err)
{
    int64_t *ids = NULL;
    size_t count = 0;
    cw_post_queued done = { 0 };
    cw_code code = cw_notices_numbers(n, "due", cw_call_day(call, "--due-by", CW_NO_DAY), &ids, &count, err);
    if (code == CW_OK && count > 0)
        code = cw_post_letters(n, &call->who, ids, count, &done, err);
    free(ids);
    if (code != CW_OK)
        return code;
    cw_call_say(call, "%lld into the outbox, %lld known there, %lld without an e-mail address",
                (long long)done.queued, (long long)done.known, (long long)done.addressless);
    return carry(call, n, name, err);
}

static cw_code stop(cw_call *call, cw_nursery *n, const char *name, cw_error *err)
{
    (void)name;
    return cw_post_stop(n, &call->who, true, err);
}

static cw_code go_on(cw_call *call, cw_nursery *n, const char *name, cw_error *err)
{
    (void)name;
    return cw_post_stop(n, &call->who, false, err);
}

static cw_code one(cw_call *call, cw_nursery *n, const char *name,
                   cw_code (*what)(cw_nursery *n, const cw_asker *who, int64_t letter, cw_error *err),
                   cw_error *err)
{
    int64_t id = 0;
    if (!cw_parse_int(name, strlen(name), 1, INT64_MAX, &id))
        return cw_error_set(err, CW_USAGE, "a letter is named by its number in the outbox, not '%.60s'",
                            name);
    return what(n, &call->who, id, err);
}

static cw_code again(cw_call *call, cw_nursery *n, const char *name, cw_error *err)
{
    return one(call, n, name, cw_post_again, err);
}

static cw_code take_out(cw_call *call, cw_nursery *n, const char *name, cw_error *err)
{
    return one(call, n, name, cw_post_remove, err);
}

static const cw_action actions[] = {
    { "account", 1, CW_WORK, account },
    { "forget-account", 0, CW_WORK, forget_account },
    { "test", 0, CW_WORK, test },
    { "send", 0, CW_WORK, send_letters },
    { "carry", 0, CW_WORK, carry },
    { "outbox", 0, CW_LOOK, outbox },
    { "stop", 0, CW_WORK, stop },
    { "go-on", 0, CW_WORK, go_on },
    { "again", 1, CW_WORK, again },
    { "remove", 1, CW_WORK, take_out },
    { "hook", 1, CW_WORK, hook },
    { "forget-hook", 0, CW_WORK, forget_hook },
    { "test-hook", 0, CW_WORK, test_hook },
    { "tell", 0, CW_WORK, tell },
    { "stop-hook", 0, CW_WORK, stop_hook },
    { "go-on-hook", 0, CW_WORK, go_on_hook },
    { 0 },
};

static cw_code run(cw_call *call, cw_error *err)
{
    return cw_call_action(
        call, actions,
        "post does: account SERVER, forget-account, test, send, carry, outbox, stop, go-on, "
        "again LETTER, remove LETTER, hook ADDRESS, forget-hook, test-hook, tell, stop-hook, go-on-hook",
        err);
}

const cw_verb cw_verbs_post[] = {
    {
        "post",
        "NURSERY.db account SERVER, test, send, carry, outbox, stop, go-on, again|remove LETTER, hook "
        "ADDRESS, test-hook, tell",
        "letters to buyers by the nursery's own mail account; a shop is told what changes",
        "Sends the letters of notices that are due: 'account' sets the mail server (smtps://HOST, or "
        "smtp://HOST:587 for STARTTLS), 'test' sends a letter to yourself, which must be taken before any "
        "other leaves, 'send' puts all due ones into the outbox and carries them, 'carry' only what waits "
        "there. Under 'serve' the server carries, and these go through its pages. A letter that the server "
        "takes is on record as the notice's evidence. 'hook' sets the address (https://HOST/PATH) where a "
        "shop is told by a signed message when what it may sell or the state of an order changes, and prints "
        "the shop's secret; 'test-hook' comes first, 'tell' carries without 'serve', 'stop-hook' and "
        "'go-on-hook' hold it. Password and secret are kept in NURSERY.db.secrets, which no backup or export "
        "holds.",
        "clumpwise post season2031.db account smtps://mail.example.org --user office@example.org",
        options,
        2,
        3,
        run,
    },
    { 0 },
};
