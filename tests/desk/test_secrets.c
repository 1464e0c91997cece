/* SPDX-License-Identifier: MIT */
/* The file of secrets beside the nursery file changes when the commit is done, and not before: a commit that fails leaves it as it
 * was, byte for byte, and nothing else beside it. */
#include "support/nursery.h"

#include "desk/nursery/nursery_inside.h"
#include "desk/post/account.h"
#include "desk/post/outbox.h"
#include "store/db_inside.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/banned.h"

static void file_of(const test_nursery *t, const char *end, char out[4096])
{
    char path[600];
    snprintf(path, sizeof path, "%s.secrets%s", t->path, end);
    FILE *f = fopen(path, "rb");
    size_t n = f ? fread(out, 1, 4095, f) : 0;
    if (f)
        fclose(f);
    out[n] = '\0';
}

static cw_code set_password(test_nursery *t, const char *password, cw_error *err)
{
    *err = (cw_error)CW_ERROR_NONE;
    return cw_post_account_set(t->n, &t->who, "smtps://mail.example.org", "nursery", password, NULL, 30, err);
}

/* SQLite turns a commit whose hook says so into a rollback. */
static int refuse(void *context)
{
    ++*(int *)context;
    return 1;
}

static void a_commit_that_fails_changes_no_secret(void **state)
{
    test_nursery t;
    cw_error err = CW_ERROR_NONE;
    cw_secrets s;
    char before[4096], after[4096];
    int asked = 0;
    (void)state;
    test_nursery_make(&t);
    cw_check_ok(set_password(&t, "old one", &err), &err);
    file_of(&t, "", before);
    assert_non_null(strstr(before, "mail.password = old one\n"));

    sqlite3_commit_hook(t.n->db->raw, refuse, &asked);
    assert_int_not_equal(set_password(&t, "new one", &err), CW_OK);
    err = (cw_error)CW_ERROR_NONE;
    assert_int_not_equal(cw_post_account_forget(t.n, &t.who, &err), CW_OK);
    assert_int_equal(asked, 2);
    sqlite3_commit_hook(t.n->db->raw, NULL, NULL);
    file_of(&t, "", after);
    assert_string_equal(after, before);
    file_of(&t, ".part", after);
    assert_string_equal(after, "");
    file_of(&t, ".new", after);
    assert_string_equal(after, "");
    cw_check_ok(cw_secrets_read(t.n, &s, &err), &err);
    assert_string_equal(s.mail.password, "old one");
    cw_secrets_wipe(&s);

    /* The same within a batch that is dropped; and what was set for it is read within it. */
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_nursery_batch_begin(t.n, &err), &err);
    cw_check_ok(set_password(&t, "new one", &err), &err);
    cw_check_ok(cw_secrets_read(t.n, &s, &err), &err);
    assert_string_equal(s.mail.password, "new one");
    cw_secrets_wipe(&s);
    cw_nursery_batch_drop(t.n);
    file_of(&t, "", after);
    assert_string_equal(after, before);

    cw_check_ok(set_password(&t, "new one", &err), &err);
    file_of(&t, "", after);
    assert_non_null(strstr(after, "mail.password = new one\n"));
    test_nursery_check(&t);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(a_commit_that_fails_changes_no_secret) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
