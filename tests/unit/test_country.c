/* SPDX-License-Identifier: MIT */
/* What people write for a country. Codes: ISO 3166-1. Spellings in four languages: tests/published/test_country.c; those
 * here from memory. */
#include "base/country.h"
#include "support/check.h"
#include <string.h>

#include "base/banned.h"

static void what_is_written_is_understood(void **state)
{
    (void)state;
    static const struct {
        const char *typed, *code;
    } rows[] = {
        { "AU", "AU" },
        { "au", "AU" },
        { " Au ", "AU" },
        { "AUS", "AU" },
        { "aus", "AU" },
        { "Australia", "AU" },
        { "AUSTRALIA", "AU" },
        { "  australia\t", "AU" },
        { "Australien", "AU" },
        { "Australi\xC3\xAB", "AU" },  /* ë as one code point */
        { "Australie\xCC\x88", "AU" }, /* and as e with an accent of its own */
        { "Australie", "AU" },
        { "U.S.A.", "US" },
        { "U. S.", "US" },
        { "the United States", "US" },
        { "Vereinigte Staaten", "US" },
        { "UK", "GB" },
        { "Great Britain", "GB" },
        { "great-britain", "GB" },
        { "England", "GB" },
        { "Gro\xC3\x9F"
          "britannien",
          "GB" },
        { "Grossbritannien", "GB" },
        { "The Netherlands", "NL" },
        { "Pays-Bas", "NL" },
        { "\xC3\x96sterreich", "AT" },
        { "Oesterreich", "AT" },
        { "OSTERREICH", "AT" },
        { "C\xC3\xB4te d\xE2\x80\x99Ivoire", "CI" },
        { "Cote d'Ivoire", "CI" },
        { "Bosnia and Herzegovina", "BA" },
        { "Bosnia & Herzegovina", "BA" },
        { "ET", "ET" }, /* Ethiopia, though "et" counts for nothing between two words */
        { "EL", "GR" },
        { "XK", "XK" },
        { "", NULL },
        { " ", NULL },
        { "the", NULL },
        { "XX", NULL },
        { "A", NULL },
        { "Austrailia", NULL },
        { "Australia 2", NULL },
        { "Korea", NULL }, /* which of the two? */
        { "u|u", NULL },
        { "|", NULL },
        { "\xC3", NULL },
        { "\xFF\xFE", NULL },
        { "\xE5\xBE\xB7\xE5\x9B\xBD", NULL }, /* Germany in another script */
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const char *code = cw_country_find(rows[i].typed, strlen(rows[i].typed));
        print_message("[%s]\n", rows[i].typed);
        if (rows[i].code == NULL)
            assert_null(code);
        else
            assert_string_equal(code ? code : "none", rows[i].code);
    }
}

static void longer_than_any_name_is_none(void **state)
{
    (void)state;
    char text[4096];
    memset(text, 'a', sizeof text);
    for (size_t n = 80; n < sizeof text; n += 7)
        assert_null(cw_country_find(text, n));
    assert_string_equal(cw_country_find("Germany and more", 7), "DE"); /* no more than it was told to read */
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(what_is_written_is_understood),
                                        cmocka_unit_test(longer_than_any_name_is_none) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
