/* SPDX-License-Identifier: MIT */
/* Messages as files. Oracles: the base64 vectors of RFC 4648, 10; the rules of RFC 2045, 6.7 (quoted-printable), RFC 2047, 2
 * and 5.3 (encoded-words) and RFC 5322, 3.3 (its example date) and 3.4.1 (addresses). */
#include "support/check.h"

#include "base/mail.h"
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

static void plain_words_stay(void **state)
{
    cw_text t = CW_TEXT(1 << 16);
    (void)state;
    cw_mail_word("Your order 1001", &t);
    assert_string_equal(t.data, "Your order 1001");
    cw_text_clear(&t);
    cw_mail_word("=?UTF-8?B?Zm9v?=", &t); /* must not be taken for one */
    assert_int_equal(strncmp(t.data, "=?UTF-8?B?PT9VVEYtOD9CP1ptOXY/PQ==?=", 36), 0);
    cw_text_free(&t);
}

/* Undoes encoded-words by an independent reading of RFC 2047. */
static void decode_words(const char *s, char *out)
{
    while (*s) {
        if (strncmp(s, "\r\n ", 3) == 0) {
            s += 3;
            continue;
        }
        assert_int_equal(strncmp(s, "=?UTF-8?B?", 10), 0);
        const char *end = strstr(s + 10, "?=");
        assert_non_null(end);
        assert_true((ptrdiff_t)strlen("Subject: ") + end + 2 - s <= 76);
        unsigned bits = 0;
        const char *word = out;
        int have = 0;
        for (const char *c = s + 10; c < end && *c != '='; c++) {
            static const char digits[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
            bits = bits << 6 | (unsigned)(strchr(digits, *c) - digits);
            have += 6;
            if (have >= 8) {
                have -= 8;
                *out++ = (char)(bits >> have);
                bits &= (1u << have) - 1;
            }
        }
        assert_int_not_equal((unsigned char)*word & 0xC0, 0x80); /* whole characters, 5.3 */
        s = end + 2;
    }
    *out = '\0';
}

static void other_words_are_encoded(void **state)
{
    static const char *const words[] = {
        "Übergröße", "Žluťoučký kůň úpěl ďábelské ódy, a k tomu ještě jednou totéž: žluťoučký kůň",
        "花の球根", "mixed ASCII and é"
    };
    char back[512];
    (void)state;
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        cw_text t = CW_TEXT(1 << 16);
        cw_mail_word(words[i], &t);
        decode_words(t.data, back);
        assert_string_equal(back, words[i]);
        cw_text_free(&t);
    }
}

static void base64_is_as_published(void **state)
{
    static const struct {
        const char *plain, *encoded;
    } rows[] = {
        { "f", "Zg==" },        { "fo", "Zm8=" },        { "foo", "Zm9v" },
        { "foob", "Zm9vYg==" }, { "fooba", "Zm9vYmE=" }, { "foobar", "Zm9vYmFy" }
    }; /* RFC 4648, 10 */
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        /* "é" (C3 A9) after the text makes a word of it; the vector's own bytes lead as far as they fill whole groups. */
        cw_text t = CW_TEXT(1 << 16);
        char text[32], want[64];
        size_t n = strlen(rows[i].plain) / 3 * 4;
        snprintf(text, sizeof text, "%s\xC3\xA9", rows[i].plain);
        cw_mail_word(text, &t);
        snprintf(want, sizeof want, "=?UTF-8?B?%.*s", (int)n, rows[i].encoded);
        assert_int_equal(strncmp(t.data, want, strlen(want)), 0);
        cw_text_free(&t);
    }
}

static void bodies_are_quoted(void **state)
{
    static const struct {
        const char *plain, *quoted;
    } rows[] = {
        { "If you believe that truth=beauty, then surely mathematics is the most beautiful branch of "
          "philosophy.",
          "If you believe that truth=3Dbeauty, then surely mathematics is the most bea=\r\nutiful branch of "
          "philosophy." },
        { "caf\xC3\xA9", "caf=C3=A9" },
        { "end \nnext\t\n", "end=20\r\nnext=09\r\n" },
        { ".\nFrom here\n", "=2E\r\n=46rom here\r\n" },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_text t = CW_TEXT(1 << 16);
        cw_mail_quoted(rows[i].plain, strlen(rows[i].plain), &t);
        assert_string_equal(t.data, rows[i].quoted);
        for (const char *line = t.data; *line;) {
            size_t n = strcspn(line, "\r");
            assert_true(n <= 76);
            line += n + (line[n] ? 2 : 0);
        }
        cw_text_free(&t);
    }
}

static void addresses_are_held_to_the_plain_form(void **state)
{
    static const struct {
        const char *s;
        bool ok;
    } rows[] = { { "tess@example.org", true },
                 { "t.z+x@mail.example.org", true },
                 { "tess", false },
                 { "@example.org", false },
                 { "tess@", false },
                 { "a@b@example.org", false },
                 { "a b@example.org", false },
                 { "a..b@example.org", false },
                 { ".a@example.org", false },
                 { "a@example.org\r\nBcc: x@y.z", false },
                 { "a@example.org, b@example.org", false },
                 { "<a@example.org>", false },
                 { "j\xC3\xBCrg@example.org", false } };
    cw_mail_address a;
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        if (cw_mail_is_address(rows[i].s) != rows[i].ok)
            fail_msg("%s", rows[i].s);
    assert_true(cw_mail_parse("Blue Gate Nursery <office@example.org>", &a));
    assert_string_equal(a.name, "Blue Gate Nursery");
    assert_string_equal(a.address, "office@example.org");
    assert_true(cw_mail_parse("office@example.org", &a));
    assert_false(cw_mail_parse("Blue Gate <office@example.org> x", &a));
    assert_false(cw_mail_parse("Blue\nGate <office@example.org>", &a));
}

static void a_message_is_whole(void **state)
{
    cw_mail_address from = { "Blue Gate", "office@example.org" },
                    to = { "J\xC3\xBCrg \"Q\"", "j@example.com" };
    cw_instant at = 0;
    cw_mail m = { &from, &to, "Your order 7", "Dear J\xC3\xBCrg,\nthank you.\n", 0, "notice-7" };
    cw_error err = CW_ERROR_NONE;
    cw_text t = CW_TEXT(1 << 16);
    (void)state;
    /* RFC 5322, appendix A.1.1: "Fri, 21 Nov 1997 09:55:06 -0600" */
    assert_true(cw_instant_parse("1997-11-21T09:55:06-06:00", 25, &at));
    m.at = at;
    cw_check_ok(cw_mail_write(&m, &t, &err), &err);
    assert_string_equal(
        t.data,
        "From: \"Blue Gate\"\r\n <office@example.org>\r\n"
        "To: =?UTF-8?B?SsO8cmcgIlEi?=\r\n <j@example.com>\r\n"
        "Subject: Your order 7\r\nDate: Fri, 21 Nov 1997 15:55:06 +0000\r\n"
        "Message-ID: <notice-7@example.org>\r\nMIME-Version: 1.0\r\n"
        "Content-Type: text/plain; charset=utf-8\r\nContent-Transfer-Encoding: quoted-printable\r\n\r\n"
        "Dear J=C3=BCrg,\r\nthank you.\r\n\r\n");
    cw_text_free(&t);
    m.subject = "Hello\r\nBcc: thief@example.net";
    t = CW_TEXT(1 << 16);
    assert_int_equal(cw_mail_write(&m, &t, &err), CW_REFUSED);
    assert_int_equal(t.length, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(plain_words_stay),
        cmocka_unit_test(other_words_are_encoded),
        cmocka_unit_test(base64_is_as_published),
        cmocka_unit_test(bodies_are_quoted),
        cmocka_unit_test(addresses_are_held_to_the_plain_form),
        cmocka_unit_test(a_message_is_whole),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
