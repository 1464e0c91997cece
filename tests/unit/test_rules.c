/* SPDX-License-Identifier: MIT */
/* The rows of model/share_rules.def against what must name every rule and is not made from them: the page's words. Names the place
 * where a rule is missing. */
#include "support/check.h"

#include "model/share.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *name_of(size_t r)
{
    return cw_share_rule_name((cw_share_rule)r);
}

static void names_are_told_apart(void **state)
{
    (void)state;
    for (size_t r = 0; r < CW_SHARE_RULES; r++) {
        const char *name = name_of(r), *field = cw_share_rule_field((cw_share_rule)r);
        assert_int_equal(cw_share_rule_of(name, strlen(name)), r);
        assert_null(strpbrk(name, ",| ")); /* what parts lists of them, and "tiers first" */
        assert_string_equal(cw_share_rule_reason_field((cw_share_rule)r) + strlen("reason_"), field);
        assert_int_equal(strlen(field), strlen(name));
        for (size_t i = 0; name[i]; i++)
            if (field[i] != (name[i] == '-' ? '_' : name[i]))
                fail_msg("rule %s: its member is called %s", name, field);
    }
    assert_int_equal(cw_share_rule_of("first", 5), CW_SHARE_RULES);
    assert_int_equal(cw_share_rule_of("first-come, tiers first", 23), CW_SHARE_RULES);
}

static void check_between(const char *from, const char *to, const char *key)
{
    const char *at = strstr(from, key);
    if (at == NULL || at > to)
        fail_msg("web/shared/strings/rules.js: %s is missing in %.15s", key, from);
}

static void the_page_has_words_for_them(void **state)
{
    static const char *const languages[] = { "export const en", "export const de", "export const fr",
                                             "export const nl" };
    static const char path[] = CW_SOURCE_DIR "/web/shared/strings/rules.js";
    static char text[1 << 18];
    (void)state;
    FILE *f = fopen(path, "rb");
    assert_non_null(f);
    size_t n = fread(text, 1, sizeof text - 1, f);
    fclose(f);
    assert_true(n < sizeof text - 1);
    for (size_t l = 0; l < sizeof languages / sizeof languages[0]; l++) {
        const char *from = strstr(text, languages[l]), *to = from ? strstr(from, "\n};") : NULL;
        assert_non_null(to);
        for (size_t r = 0; r < CW_SHARE_RULES; r++) {
            char key[80];
            snprintf(key, sizeof key, "'rule.%s':", name_of(r));
            check_between(from, to, key);
            snprintf(key, sizeof key, "'rule.words.%s':", name_of(r));
            check_between(from, to, key);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(names_are_told_apart),
        cmocka_unit_test(the_page_has_words_for_them),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
