/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "cli/secret_inside.h"
#include "desk/people/accounts.h"
#include "desk/people/factor.h"

#include "base/banned.h"

static const cw_option options[] = {
    { "--role", CW_TEXT_T, "ROLE", "what a new person may do", 0, 0, cw_words_person_roles, false },
    { 0 },
};

static cw_code add(cw_call *call, cw_nursery *n, const char *name, cw_error *err)
{
    char password[CW_SECRET_BYTES];
    cw_role role = CW_ROLE_NONE;
    const char *word = cw_call_text(call, "--role", NULL);
    if (word == NULL || !cw_role_parse(word, &role))
        return cw_error_set(err, CW_USAGE, "user add needs --role owner|office|packer|cellar");
    cw_code code = cw_secret_read("Password for ", name, password, err);
    if (code == CW_OK)
        code = cw_accounts_add(n, &call->who, name, role, password, err);
    cw_secret_wipe(password, sizeof password);
    if (code == CW_OK)
        cw_call_say(call, "%s may sign in as %s", name, word);
    return code;
}

static cw_code change_password(cw_call *call, cw_nursery *n, const char *name, cw_error *err)
{
    char password[CW_SECRET_BYTES];
    cw_code code = cw_secret_read("New password for ", name, password, err);
    if (code == CW_OK)
        code = cw_accounts_password(n, &call->who, name, password, err);
    cw_secret_wipe(password, sizeof password);
    return code;
}

static cw_code disable(cw_call *call, cw_nursery *n, const char *name, cw_error *err)
{
    return cw_accounts_disable(n, &call->who, name, true, err);
}

static cw_code enable(cw_call *call, cw_nursery *n, const char *name, cw_error *err)
{
    return cw_accounts_disable(n, &call->who, name, false, err);
}

static cw_code clear_factor(cw_call *call, cw_nursery *n, const char *name, cw_error *err)
{
    cw_code code = cw_factor_clear(n, &call->who, name, err);
    if (code == CW_OK)
        cw_call_say(call, "%s may sign in with the password alone", name);
    return code;
}

static cw_code list(cw_call *call, cw_nursery *n, const char *name, cw_error *err)
{
    cw_table t = { 0 };
    (void)name;
    cw_code code = cw_accounts_list(n, &call->who, &t, err);
    return cw_call_show_take(call, code, &t, err);
}

static const cw_action actions[] = {
    { "add", 1, CW_WORK, add },
    { "password", 1, CW_WORK, change_password },
    { "disable", 1, CW_WORK, disable },
    { "enable", 1, CW_WORK, enable },
    { "clear-factor", 1, CW_WORK, clear_factor },
    { "list", 0, CW_LOOK, list },
    { 0 },
};

static cw_code run(cw_call *call, cw_error *err)
{
    return cw_call_action(
        call, actions,
        "user does: add NAME, password NAME, disable NAME, enable NAME, clear-factor NAME, list", err);
}

const cw_verb cw_verbs_user[] = {
    {
        "user",
        "NURSERY.db add|password|disable|enable|clear-factor NAME, or list",
        "people who may sign in",
        "Adds, lists and disables people. The password is read from the terminal without showing it, or as "
        "the first line of standard input; it has 12 to 128 characters. As long as nobody has been added, "
        "the pages are open to whoever sits at this machine, and to nobody else. The first person must be an "
        "owner. Clear-factor turns off the second factor of somebody who lost the telephone that shows the "
        "codes.",
        "clumpwise user season2031.db add Marta --role owner",
        options,
        2,
        3,
        run,
    },
    { 0 },
};
