/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "desk/people/accounts.h"
#include <string.h>

#include "base/banned.h"

static const cw_option options[] = {
    { "--role", CW_TEXT_T, "ROLE", "what the program may do (default: shop)", 0, 0, cw_words_roles, false },
    { "--expires", CW_DAY_T, "DATE",
      "last day on which the key is good (default: a year from now; at most two years)", 0, 0, NULL, false },
    { 0 },
};

static cw_code add(cw_call *call, cw_nursery *n, const char *name, cw_error *err)
{
    char key[CW_TOKEN_TEXT];
    cw_role role = CW_ROLE_SHOP;
    if (!cw_role_parse(cw_call_text(call, "--role", "shop"), &role))
        return cw_error_set(err, CW_USAGE, "there is no such role");
    cw_code code =
        cw_accounts_key_add(n, &call->who, name, role, cw_call_day(call, "--expires", CW_NO_DAY), key, err);
    if (code != CW_OK)
        return code;
    cw_call_say(call,
                "The key of %s (role %s), shown this once; send it as 'Authorization: Bearer KEY':", name,
                cw_role_word(role));
    cw_sink out = cw_call_output(call);
    code = out.write(out.self, key, strlen(key), err);
    return code == CW_OK ? out.write(out.self, "\n", 1, err) : code;
}

static cw_code disable(cw_call *call, cw_nursery *n, const char *name, cw_error *err)
{
    return cw_accounts_key_disable(n, &call->who, name, err);
}

static cw_code list(cw_call *call, cw_nursery *n, const char *name, cw_error *err)
{
    cw_table t = { 0 };
    (void)name;
    cw_code code = cw_accounts_keys(n, &call->who, &t, err);
    if (code == CW_OK)
        code = cw_call_show(call, &t, err);
    for (size_t i = 0; code == CW_OK && i < cw_table_rows(&t); i++)
        if (cw_table_int(&t, i, 5))
            cw_call_say(call, "the key %s ends soon or never: make a new one and disable this",
                        cw_table_text(&t, i, 0));
    cw_table_free(&t);
    return code;
}

static const cw_action actions[] = {
    { "add", 1, CW_WORK, add },
    { "disable", 1, CW_WORK, disable },
    { "list", 0, CW_LOOK, list },
    { 0 },
};

static cw_code run(cw_call *call, cw_error *err)
{
    return cw_call_action(call, actions, "key does: add NAME, disable NAME, list", err);
}

const cw_verb cw_verbs_key[] = {
    {
        "key",
        "NURSERY.db add|disable NAME, or list",
        "keys by which programs come in",
        "A program, such as the shop's, shows a key with each request. A key has a role and a last day; the "
        "list marks with 'replace' what ends within a fortnight. Only its digest is kept: a lost key is "
        "disabled and replaced.",
        "clumpwise key season2031.db add webshop --role shop --expires 2032-06-30",
        options,
        2,
        3,
        run,
    },
    { 0 },
};
