/* SPDX-License-Identifier: MIT */
/* The rows of model/share_rules.def against all that must name every rule: the contract and the page's words. Names the
 * place where a rule is missing. */
#include "support/check.h"

#include "model/share.h"
#include <jansson.h>
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

static bool holds(const json_t *list, const char *word)
{
    for (size_t i = 0; i < json_array_size(list); i++) {
        const char *s = json_string_value(json_array_get(list, i));
        if (s && strcmp(s, word) == 0)
            return true;
    }
    return false;
}

static void all_in(const json_t *list, const char *(*name)(cw_share_rule), const char *place, bool only)
{
    for (size_t r = 0; r < CW_SHARE_RULES; r++)
        if (!holds(list, name((cw_share_rule)r)))
            fail_msg("server/openapi.json, %s: %s is missing", place, name((cw_share_rule)r));
    if (only)
        assert_int_equal(json_array_size(list), CW_SHARE_RULES);
}

/* Every list of words that names a rule names them all, and every object with a member for one has them all. */
static void walk(const json_t *v, size_t *words, size_t *members)
{
    const char *key;
    json_t *child;
    size_t i;
    json_array_foreach(v, i, child) walk(child, words, members);
    if (!json_is_object(v))
        return;
    if (holds(json_object_get(v, "enum"), name_of(0))) {
        all_in(json_object_get(v, "enum"), cw_share_rule_name, "the rules of a list of words", true);
        ++*words;
    }
    const json_t *own = json_object_get(v, "properties");
    if (json_object_get(own, cw_share_rule_field((cw_share_rule)0))) {
        all_in(json_object_get(v, "required"), cw_share_rule_field, "the members of a line", false);
        all_in(json_object_get(v, "required"), cw_share_rule_reason_field, "the members of a line", false);
        for (size_t r = 0; r < CW_SHARE_RULES; r++)
            if (!json_object_get(own, cw_share_rule_field((cw_share_rule)r)) ||
                !json_object_get(own, cw_share_rule_reason_field((cw_share_rule)r)))
                fail_msg("server/openapi.json, the members of a line: %s is not described", name_of(r));
        ++*members;
    }
    json_object_foreach((json_t *)(uintptr_t)v, key, child) walk(child, words, members);
}

static void the_contract_names_them_all(void **state)
{
    json_error_t where;
    size_t words = 0, members = 0;
    (void)state;
    json_t *doc = json_load_file(CW_SOURCE_DIR "/server/openapi.json", 0, &where);
    if (doc == NULL)
        fail_msg("openapi.json:%d: %s", where.line, where.text);
    walk(doc, &words, &members);
    json_decref(doc);
    assert_true(words >= 3 && members >= 1);
}

static void the_page_has_words_for_them(void **state)
{
    static const char path[] = CW_SOURCE_DIR "/web/shared/strings.en.orders.js";
    static char text[1 << 18];
    (void)state;
    FILE *f = fopen(path, "rb");
    assert_non_null(f);
    size_t n = fread(text, 1, sizeof text - 1, f);
    fclose(f);
    assert_true(n < sizeof text - 1);
    for (size_t r = 0; r < CW_SHARE_RULES; r++) {
        char key[80];
        snprintf(key, sizeof key, "'rule.%s':", name_of(r));
        if (strstr(text, key) == NULL)
            fail_msg("web/shared/strings.en.orders.js: %s is missing", key);
        snprintf(key, sizeof key, "'rule.words.%s':", name_of(r));
        if (strstr(text, key) == NULL)
            fail_msg("web/shared/strings.en.orders.js: %s is missing", key);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(names_are_told_apart),
        cmocka_unit_test(the_contract_names_them_all),
        cmocka_unit_test(the_page_has_words_for_them),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
