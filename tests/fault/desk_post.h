/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_FAULT_DESK_POST_H
#define CW_TESTS_FAULT_DESK_POST_H

/* What goes out by itself: letters, and what a shop is told. */
#include "desk_call.h"

#include "desk/orders/notices.h"
#include "desk/post/hook.h"
#include "desk/post/outbox.h"

/* ---- letters that leave by themselves ---- */
static void a_mail_account(work *w)
{
    cw_error err = CW_ERROR_NONE;
    due_notices(w);
    w->t.who.clock = w->t.who.now;
    cw_check_ok(
        cw_post_account_set(N, WHO, "smtps://mail.example.org", "office", "pass word", NULL, 60, &err), &err);
}
static void a_test_letter(work *w)
{
    cw_error err = CW_ERROR_NONE;
    cw_post_letter letter;
    a_mail_account(w);
    cw_check_ok(cw_post_test(N, WHO, &err), &err);
    cw_check_ok(cw_post_take(N, WHO, &letter, &err), &err);
    cw_check_ok(cw_post_told(N, WHO, letter.id, CW_CARRIED_TAKEN, "250 OK", &err), &err);
    cw_post_letter_free(&letter);
}
static void a_letter_waits(work *w)
{
    cw_error err = CW_ERROR_NONE;
    cw_post_queued done;
    a_test_letter(w);
    cw_check_ok(cw_post_letters(N, WHO, &w->id, 1, &done, &err), &err);
    assert_int_equal(done.queued, 1);
    w->id = number_of(&w->t, "SELECT id FROM outbox WHERE kind = 'letter'");
}
static void a_letter_goes(work *w)
{
    cw_error err = CW_ERROR_NONE;
    cw_post_letter letter;
    a_letter_waits(w);
    cw_check_ok(cw_post_take(N, WHO, &letter, &err), &err);
    assert_int_equal(letter.id, w->id);
    cw_post_letter_free(&letter);
}
static void a_letter_refused(work *w)
{
    cw_error err = CW_ERROR_NONE;
    a_letter_goes(w);
    cw_check_ok(cw_post_told(N, WHO, w->id, CW_CARRIED_REFUSED, "550 no", &err), &err);
}
JSON(post_view, cw_post_view(N, WHO, &out, err))
PLAIN(post_account, cw_post_account_set(N, WHO, "smtp://127.0.0.1:25", NULL, NULL, NULL, 0, err))
PLAIN(post_forget, cw_post_account_forget(N, WHO, err))
PLAIN(post_test, cw_post_test(N, WHO, err))
PLAIN(post_stop, cw_post_stop(N, WHO, true, err))
PLAIN(post_again, cw_post_again(N, WHO, w->id, err))
PLAIN(post_remove, cw_post_remove(N, WHO, w->id, err))
TABLE(post_list, cw_post_list(N, WHO, NULL, &out, err))
NUMBER(post_waits, bool, cw_post_waits(N, WHO->clock, &out, err))
PLAIN(post_told, cw_post_told(N, WHO, w->id, CW_CARRIED_TAKEN, "250 OK", err))
PLAIN(post_later, cw_post_told(N, WHO, w->id, CW_CARRIED_LATER, "450 later", err))
PLAIN(post_down, cw_post_told(N, WHO, w->id, CW_CARRIED_DOWN, "no line", err))
PLAIN(post_recover, cw_post_recover(N, WHO, err))
static cw_code post_letters(work *w, cw_error *err)
{
    cw_post_queued done = { 0 };
    cw_code code = CALL(cw_post_letters(N, WHO, &w->id, 1, &done, err));
    cw_text_addf(&w->answer, "%lld", (long long)done.queued);
    return code;
}
static cw_code post_take(work *w, cw_error *err)
{
    cw_post_letter letter;
    cw_code code = CALL(cw_post_take(N, WHO, &letter, err));
    if (code == CW_OK)
        cw_text_addf(&w->answer, "%lld %s %zu", (long long)letter.id, letter.to, letter.message.length);
    cw_post_letter_free(&letter);
    return code;
}

/* ---- what a shop is told ---- */
static cw_hook_message the_hook;
static cw_hook_look the_look;
static void a_hook(work *w)
{
    cw_error err = CW_ERROR_NONE;
    char secret[CW_MAX_HOOK_SECRET + 1];
    w->t.who.clock = w->t.who.now;
    cw_check_ok(cw_hook_set(N, WHO, "https://shop.example.org/told", secret, &err), &err);
}
static void a_hook_test(work *w)
{
    cw_error err = CW_ERROR_NONE;
    a_hook(w);
    cw_check_ok(cw_hook_test(N, WHO, &err), &err);
}
static void look_and_take(work *w)
{
    cw_error err = CW_ERROR_NONE;
    cw_hook_look_free(&the_look);
    cw_hook_message_free(&the_hook);
    cw_check_ok(cw_hook_waits(N, WHO->clock, &the_look, &err), &err);
    assert_true(the_look.due);
    cw_check_ok(cw_hook_take(N, WHO, &the_look, &the_hook, &err), &err);
    assert_true(the_hook.id > 0);
    w->id = the_hook.id;
}
static void a_hook_test_goes(work *w)
{
    a_hook_test(w);
    look_and_take(w);
    assert_true(the_hook.test);
}
static void a_hook_works(work *w)
{
    cw_error err = CW_ERROR_NONE;
    a_hook_test_goes(w);
    cw_check_ok(cw_hook_told(N, WHO, &the_hook, CW_CARRIED_TAKEN, false, "200", &err), &err);
    cw_hook_look_free(&the_look);
    cw_check_ok(cw_hook_waits(N, WHO->clock, &the_look, &err), &err);
    assert_true(the_look.count > 0);
}
static void a_hook_goes(work *w)
{
    a_hook_works(w);
    look_and_take(w);
    assert_false(the_hook.test);
}
static void a_hook_refused(work *w)
{
    cw_error err = CW_ERROR_NONE;
    a_hook_goes(w);
    cw_check_ok(cw_hook_told(N, WHO, &the_hook, CW_CARRIED_REFUSED, false, "400 no", &err), &err);
}
JSON(hook_view, cw_hook_view(N, WHO, &out, err))
PLAIN(hook_forget, cw_hook_forget(N, WHO, err))
PLAIN(hook_test, cw_hook_test(N, WHO, err))
PLAIN(hook_stop, cw_hook_stop(N, WHO, false, err))
PLAIN(hook_taken, cw_hook_told(N, WHO, &the_hook, CW_CARRIED_TAKEN, false, "200", err))
PLAIN(hook_later, cw_hook_told(N, WHO, &the_hook, CW_CARRIED_LATER, false, "500", err))
PLAIN(hook_gone, cw_hook_told(N, WHO, &the_hook, CW_CARRIED_REFUSED, true, "410", err))
static cw_code hook_set(work *w, cw_error *err)
{
    char secret[CW_MAX_HOOK_SECRET + 1];
    return CALL(cw_hook_set(N, WHO, "https://other.example.org/told", secret, err));
}
static cw_code hook_waits(work *w, cw_error *err)
{
    cw_hook_look look = { .due = false };
    cw_code code = CALL(cw_hook_waits(N, WHO->clock, &look, err));
    if (code == CW_OK)
        cw_text_addf(&w->answer, "%d %zu", look.due, look.count);
    cw_hook_look_free(&look);
    return code;
}
static cw_code hook_take(work *w, cw_error *err)
{
    cw_hook_message m;
    cw_code code = CALL(cw_hook_take(N, WHO, &the_look, &m, err));
    if (code == CW_OK)
        cw_text_addf(&w->answer, "%lld %zu", (long long)m.id, m.body.length);
    cw_hook_message_free(&m);
    return code;
}

static const desk_call post_calls[] = {
    AFTER(a_hook, hook_view),
    AFTER(a_hook_refused, hook_set),
    AFTER(a_hook_refused, hook_forget),
    AFTER(a_hook, hook_test),
    AFTER(a_hook_refused, hook_stop),
    AFTER(a_hook_works, hook_waits),
    AFTER(a_hook_works, hook_take),
    AFTER(a_hook_test_goes, hook_taken),
    AFTER(a_hook_goes, hook_later),
    AFTER(a_hook_goes, hook_gone),
    AFTER(a_hook_refused, post_again),
    AFTER(a_mail_account, post_view),
    AFTER(a_mail_account, post_account),
    AFTER(a_mail_account, post_forget),
    AFTER(a_mail_account, post_test),
    AFTER(a_test_letter, post_letters),
    AFTER(a_letter_waits, post_stop),
    AFTER(a_letter_waits, post_waits),
    AFTER(a_letter_waits, post_take),
    AFTER(a_letter_waits, post_remove),
    AFTER(a_letter_goes, post_told),
    AFTER(a_letter_goes, post_later),
    AFTER(a_letter_goes, post_down),
    AFTER(a_letter_goes, post_recover),
    AFTER(a_letter_refused, post_again),
    AFTER(a_letter_refused, post_list),
};

#endif
