/* SPDX-License-Identifier: MIT */
#include "base/mail.h"

#include <stdio.h>
#include <sodium.h>
#include <string.h>

#include "base/banned.h"

#define ATEXT "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789!#$%&'*+-/=?^_`{|}~"

/* dot-atom: words of atext, parted by single dots. */
static bool is_dot_atom(const char *s, size_t n)
{
    bool word = false;
    for (size_t i = 0; i < n; i++) {
        if (s[i] == '.' && !word)
            return false;
        if (s[i] != '.' && strchr(ATEXT, s[i]) == NULL)
            return false;
        word = s[i] != '.';
    }
    return word;
}

bool cw_mail_is_address(const char *s)
{
    const char *at = strrchr(s, '@');
    size_t n = strlen(s);
    return at && n <= 254 && at - s <= 64 && is_dot_atom(s, (size_t)(at - s)) &&
           is_dot_atom(at + 1, strlen(at + 1));
}

bool cw_mail_parse(const char *s, cw_mail_address *out)
{
    const char *open = strrchr(s, '<');
    size_t n = strlen(s);
    *out = (cw_mail_address){ "", "" };
    if (open == NULL) {
        cw_copy(out->address, sizeof out->address, s);
        return cw_mail_is_address(s);
    }
    if (s[n - 1] != '>' || n - (size_t)(open - s) - 2 >= sizeof out->address ||
        (size_t)(open - s) >= sizeof out->name)
        return false;
    memcpy(out->address, open + 1, n - (size_t)(open - s) - 2);
    size_t length = (size_t)(open - s);
    while (length > 0 && s[length - 1] == ' ')
        length--;
    if (length >= 2 && s[0] == '"' && s[length - 1] == '"') {
        s++;
        length -= 2;
    }
    memcpy(out->name, s, length);
    return cw_mail_is_address(out->address) && !cw_has_control(out->name, length, "") &&
           cw_utf8_valid(out->name, length, NULL);
}

static bool is_plain(const char *s)
{
    for (; *s; s++)
        if ((unsigned char)*s < 0x20 || (unsigned char)*s > 0x7e)
            return false;
    return true;
}

/* A line with encoded-words is at most 76 characters (RFC 2047, 2): "Subject: =?UTF-8?B?" and "?=" leave room for 55, of which
 * 36 bytes take 48. A word never parts a character (5.3); space between two of them is not shown (6.2), so they are folded
 * with one. */
#define WORD_BYTES  36
#define PLAIN_BYTES 67 /* "Subject: " and these make 76 */

void cw_mail_word(const char *s, cw_text *out)
{
    size_t left = strlen(s);
    /* What looks like an encoded-word, and what is too long for a line, is encoded too. */
    if (is_plain(s) && strstr(s, "=?") == NULL && left <= PLAIN_BYTES) {
        cw_text_add(out, s);
        return;
    }
    char letters[sodium_base64_ENCODED_LEN(WORD_BYTES, sodium_base64_VARIANT_ORIGINAL)];
    for (bool first = true; left > 0; first = false) {
        size_t n = left < WORD_BYTES ? left : WORD_BYTES;
        while (n < left && ((unsigned char)s[n] & 0xC0) == 0x80)
            n--;
        cw_text_add(out, first ? "=?UTF-8?B?" : "\r\n =?UTF-8?B?");
        sodium_bin2base64(letters, sizeof letters, (const unsigned char *)s, n,
                          sodium_base64_VARIANT_ORIGINAL);
        cw_text_add(out, letters);
        cw_text_add(out, "?=");
        s += n;
        left -= n;
    }
}

/* Lines of at most 76 characters, the soft break's "=" counted; space and tab are encoded at a line's end (RFC 2045, 6.7). */
void cw_mail_quoted(const char *s, size_t n, cw_text *out)
{
    size_t column = 0;
    for (size_t i = 0; i < n; i++) {
        unsigned char c = (unsigned char)s[i];
        bool end = i + 1 == n || s[i + 1] == '\n';
        bool plain = (c > 0x20 && c < 0x7f && c != '=') || ((c == ' ' || c == '\t') && !end);
        /* A line of one dot, or one that begins with "From ", is changed by some mail programs on its way. */
        if (column == 0 && (c == '.' || c == 'F'))
            plain = false;
        if (c == '\n') {
            cw_text_add(out, "\r\n");
            column = 0;
            continue;
        }
        if (column + (plain ? 1 : 3) > 75) {
            cw_text_add(out, "=\r\n");
            column = 0;
        }
        if (plain)
            cw_text_addc(out, (char)c);
        else
            cw_text_addf(out, "=%02X", c);
        column += plain ? 1 : 3;
    }
}

static void date(cw_instant at, cw_text *out)
{
    static const char *const days[] = { "Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun" };
    static const char *const months[] = { "Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                          "Jul", "Aug", "Sep", "Oct", "Nov", "Dec" };
    cw_day day = cw_instant_day(at);
    int year = 0, month = 0, of_month = 0;
    int64_t s = (at - day * CW_DAY_MS) / 1000;
    cw_day_to_ymd(day, &year, &month, &of_month);
    cw_text_addf(out, "Date: %s, %02d %s %04d %02d:%02d:%02d +0000\r\n",
                 days[day - cw_week_monday(cw_week_of(day))], of_month, months[month - 1], year,
                 (int)(s / 3600), (int)(s / 60 % 60), (int)(s % 60));
}

/* A display name: plain words as a quoted-string, others as encoded-words. */
static void mailbox(const char *field, const cw_mail_address *a, cw_text *out)
{
    cw_text_addf(out, "%s: ", field);
    if (a->name[0] && is_plain(a->name) && strlen(a->name) <= 60 && strstr(a->name, "=?") == NULL) {
        cw_text_addc(out, '"');
        for (const char *c = a->name; *c; c++) {
            if (*c == '"' || *c == '\\')
                cw_text_addc(out, '\\');
            cw_text_addc(out, *c);
        }
        cw_text_add(out, "\"\r\n ");
    } else if (a->name[0]) {
        cw_mail_word(a->name, out);
        cw_text_add(out, "\r\n ");
    }
    cw_text_addf(out, "<%s>\r\n", a->address);
}

static cw_code check(const cw_mail *m, cw_error *err)
{
    const char *fields[] = { m->from->name, m->to->name, m->subject };
    const char *names[] = { "from", "to", "subject" };
    char shown[80];
    for (size_t i = 0; i < 3; i++)
        if (cw_has_control(fields[i], strlen(fields[i]), "") ||
            !cw_utf8_valid(fields[i], strlen(fields[i]), NULL))
            return cw_error_at(err, CW_REFUSED, NULL, 0, names[i], "must be one line of text: %s",
                               cw_shown(fields[i], strlen(fields[i]), shown));
    if (!cw_mail_is_address(m->from->address))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "from", "is no e-mail address: %s",
                           cw_shown(m->from->address, strlen(m->from->address), shown));
    if (!cw_mail_is_address(m->to->address))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "to", "is no e-mail address: %s",
                           cw_shown(m->to->address, strlen(m->to->address), shown));
    if (!cw_utf8_valid(m->body, strlen(m->body), NULL) || !is_dot_atom(m->id, strlen(m->id)))
        return cw_error_at(err, CW_REFUSED, NULL, 0, "body", "must be UTF-8 text");
    return CW_OK;
}

cw_code cw_mail_write(const cw_mail *m, cw_text *out, cw_error *err)
{
    cw_code code = check(m, err);
    if (code != CW_OK)
        return code;
    mailbox("From", m->from, out);
    mailbox("To", m->to, out);
    cw_text_add(out, "Subject: ");
    cw_mail_word(m->subject, out);
    cw_text_add(out, "\r\n");
    date(m->at, out);
    cw_text_addf(out, "Message-ID: <%s@%s>\r\n", m->id, strrchr(m->from->address, '@') + 1);
    cw_text_add(out, "MIME-Version: 1.0\r\nContent-Type: text/plain; charset=utf-8\r\n"
                     "Content-Transfer-Encoding: quoted-printable\r\n\r\n");
    cw_mail_quoted(m->body, strlen(m->body), out);
    cw_text_add(out, "\r\n");
    return cw_text_check(out, err);
}
