/* SPDX-License-Identifier: MIT */
#include "desk/people/accounts.h"

#include "base/text.h"
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <zxcvbn.h>

#include "base/banned.h"

/* How hard a password is to guess is asked of zxcvbn (Wheeler, "zxcvbn: Low-Budget Password Strength Estimation", USENIX
 * Security 2016), which holds lists of the passwords found most often in breaches, of names and of common words, and knows
 * years, repeats and rows of keys. Its estimate is in bits: 2^bits tries. The paper's own steps: under 10^8 tries a password
 * falls to whoever may try often, over 10^10 it stands even where somebody has its slow hash. */
#define LEAST_BITS 26.6 /* log2 10^8 */
#define GOOD_BITS  33.2 /* log2 10^10 */
#define MOST_PARTS 8

/* The first guesses are the person's name, its parts, and the words that stand on every page here. */
static double bits_of(const char *name, const char *password)
{
    char parts[CW_MAX_NAME + 1];
    const char *words[MOST_PARTS + 5] = { "clumpwise", "dahlia", "tuber", "nursery" };
    size_t n = 4;
    cw_copy(parts, sizeof parts, name);
    char *rest = NULL;
    for (char *part = strtok_r(parts, " .-_@", &rest); part && n < MOST_PARTS + 4;
         part = strtok_r(NULL, " .-_@", &rest))
        if (strlen(part) >= 3)
            words[n++] = part;
    words[n] = NULL;
    return ZxcvbnMatch(password, words, NULL);
}

static void say_tries(double bits, char *out, size_t size)
{
    static const struct {
        double power;
        const char *words;
    } steps[] = { { 3, "a thousand" },
                  { 6, "a million" },
                  { 8, "a hundred million" },
                  { 10, "ten billion" },
                  { 12, "a trillion" } };
    double power = bits * log10(2.0);
    const char *words = "more than a trillion";
    for (size_t i = sizeof steps / sizeof steps[0]; i-- > 0;)
        if (power <= steps[i].power)
            words = steps[i].words;
    snprintf(out, size, "%s", words);
}

/* As a person counts them, not bytes: twelve letters are twelve in any script. */
static size_t characters(const char *s)
{
    size_t n = 0;
    for (; *s; s++)
        n += ((unsigned char)*s & 0xC0) != 0x80;
    return n;
}

bool cw_accounts_judge(const char *name, const char *password, char says[CW_VERDICT_TEXT])
{
    size_t length = characters(password);
    char tries[40];
    if (length < CW_MIN_PASSWORD || length > CW_MAX_PASSWORD) {
        snprintf(says, CW_VERDICT_TEXT, "must have %d to %d characters; a few plain words do well",
                 CW_MIN_PASSWORD, CW_MAX_PASSWORD);
        return false;
    }
    if (name[0] && strstr(password, name)) {
        snprintf(says, CW_VERDICT_TEXT, "must not hold the own name");
        return false;
    }
    double bits = bits_of(name, password);
    say_tries(bits, tries, sizeof tries);
    if (bits < LEAST_BITS)
        snprintf(
            says, CW_VERDICT_TEXT,
            "is guessed within %s tries by whoever knows common passwords, names, years and rows of keys; "
            "put in a word or two that have nothing to do with the rest",
            tries);
    else
        snprintf(says, CW_VERDICT_TEXT, "%s: it takes %s%s tries to guess",
                 bits < GOOD_BITS ? "will do" : "is good", bits < GOOD_BITS ? "up to " : "", tries);
    return bits >= LEAST_BITS;
}

cw_code cw_accounts_check_password(const char *name, const char *password, cw_error *err)
{
    char says[CW_VERDICT_TEXT];
    if (!cw_accounts_judge(name, password, says))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "password", "%s", says);
    return CW_OK;
}
