/* SPDX-License-Identifier: MIT */
/* The table of countries against Debian's package iso-codes: every code of ISO 3166-1 with its names, and what they are in
 * German, Dutch and French (the package's catalogues, in the format of GNU gettext's .mo files). */
#include "base/country.h"
#include "support/check.h"
#include <jansson.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define LIST "/usr/share/iso-codes/json/iso_3166-1.json"

static json_t *entries(json_t **file)
{
    *file = json_load_file(LIST, 0, NULL);
    if (*file == NULL)
        fail_msg("%s cannot be read: scripts/setup installs iso-codes", LIST);
    json_t *list = json_object_get(*file, "3166-1");
    assert_true(json_array_size(list) > 240);
    return list;
}

static const char *member(json_t *entry, const char *name)
{
    return json_string_value(json_object_get(entry, name));
}

static int unknown; /* names that are not understood, or taken for another country */

static void is(const char *text, const char *code, const char *what)
{
    const char *found = cw_country_find(text, strlen(text));
    if (found && strcmp(found, code) == 0)
        return;
    print_message("%s of %s: %s is %s\n", what, code, text, found ? found : "not known");
    unknown++;
}

static void codes_and_names(void **state)
{
    (void)state;
    json_t *file, *entry, *list = entries(&file);
    size_t i;
    unknown = 0;
    json_array_foreach(list, i, entry)
    {
        const char *code = member(entry, "alpha_2");
        is(code, code, "alpha-2");
        is(member(entry, "alpha_3"), code, "alpha-3");
        is(member(entry, "name"), code, "name");
        if (member(entry, "common_name"))
            is(member(entry, "common_name"), code, "common name");
        if (member(entry, "official_name"))
            is(member(entry, "official_name"), code, "official name");
    }
    json_decref(file);
    assert_int_equal(unknown, 0);
}

/* Nothing of two letters is a country but the codes of the standard, XK, and two that everybody writes. */
static void no_other_code(void **state)
{
    (void)state;
    json_t *file, *entry, *list = entries(&file);
    for (int a = 'A'; a <= 'Z'; a++)
        for (int b = 'A'; b <= 'Z'; b++) {
            char two[3] = { (char)a, (char)b, '\0' };
            size_t i;
            bool listed = false;
            json_array_foreach(list, i, entry) listed = listed || strcmp(member(entry, "alpha_2"), two) == 0;
            const char *found = cw_country_find(two, 2);
            const char *want = listed                   ? two
                               : strcmp(two, "XK") == 0 ? "XK"
                               : strcmp(two, "UK") == 0 ? "GB"
                               : strcmp(two, "EL") == 0 ? "GR"
                               : strcmp(two, "VS") == 0 ? "US" /* Verenigde Staten */
                                                        : NULL;
            if ((found == NULL) != (want == NULL) || (found && strcmp(found, want) != 0))
                fail_msg("%s is taken for %s", two, found ? found : "nothing");
        }
    json_decref(file);
}

static uint32_t word_at(const unsigned char *bytes, size_t at)
{
    return bytes[at] | (uint32_t)bytes[at + 1] << 8 | (uint32_t)bytes[at + 2] << 16 |
           (uint32_t)bytes[at + 3] << 24;
}

/* The catalogue's text for a name; NULL: it has none. */
static const char *translated(const unsigned char *mo, const char *name)
{
    uint32_t count = word_at(mo, 8), from = word_at(mo, 12), to = word_at(mo, 16);
    for (uint32_t i = 0; i < count; i++)
        if (strcmp((const char *)mo + word_at(mo, from + 8 * i + 4), name) == 0)
            return (const char *)mo + word_at(mo, to + 8 * i + 4);
    return NULL;
}

static void names_in_three_languages(void **state)
{
    (void)state;
    static const char *const languages[] = { "de", "nl", "fr" };
    json_t *file, *entry, *list = entries(&file);
    int asked = 0;
    unknown = 0;
    for (size_t l = 0; l < 3; l++) {
        char path[96];
        snprintf(path, sizeof path, "/usr/share/locale/%s/LC_MESSAGES/iso_3166-1.mo", languages[l]);
        FILE *f = fopen(path, "rb");
        if (f == NULL)
            fail_msg("%s cannot be read: scripts/setup installs iso-codes", path);
        unsigned char *mo = calloc(1, 1 << 20);
        assert_non_null(mo);
        assert_true(fread(mo, 1, (1 << 20) - 1, f) > 1000);
        fclose(f);
        assert_int_equal(word_at(mo, 0), 0x950412DE);
        size_t i;
        json_array_foreach(list, i, entry)
        {
            const char *own =
                member(entry, "common_name") ? member(entry, "common_name") : member(entry, "name");
            const char *text = translated(mo, own);
            if (text == NULL)
                continue;
            is(text, member(entry, "alpha_2"), languages[l]);
            asked++;
        }
        free(mo);
    }
    json_decref(file);
    print_message("%d names, %d not known\n", asked, unknown);
    assert_true(asked > 700);
    assert_int_equal(unknown, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(codes_and_names), cmocka_unit_test(no_other_code),
                                        cmocka_unit_test(names_in_three_languages) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
