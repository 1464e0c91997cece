/* SPDX-License-Identifier: MIT */
#include "base/charset.h"

#include <string.h>

#include "base/banned.h"

/* Bytes 0x80 to 0xFF as code points. Windows-1252 by the Encoding Standard's index (WHATWG): from 0xA0 on a byte is its own
 * code point. The other two by Unicode's mappings of the vendors (tests/published/test_sheets holds them against the C
 * library's own). */
static const uint16_t windows_1252[32] = {
    0x20AC, 0x0081, 0x201A, 0x0192, 0x201E, 0x2026, 0x2020, 0x2021, 0x02C6, 0x2030, 0x0160,
    0x2039, 0x0152, 0x008D, 0x017D, 0x008F, 0x0090, 0x2018, 0x2019, 0x201C, 0x201D, 0x2022,
    0x2013, 0x2014, 0x02DC, 0x2122, 0x0161, 0x203A, 0x0153, 0x009D, 0x017E, 0x0178,
};
static const uint16_t macintosh[128] = {
    0x00C4, 0x00C5, 0x00C7, 0x00C9, 0x00D1, 0x00D6, 0x00DC, 0x00E1, 0x00E0, 0x00E2, 0x00E4, 0x00E3, 0x00E5,
    0x00E7, 0x00E9, 0x00E8, 0x00EA, 0x00EB, 0x00ED, 0x00EC, 0x00EE, 0x00EF, 0x00F1, 0x00F3, 0x00F2, 0x00F4,
    0x00F6, 0x00F5, 0x00FA, 0x00F9, 0x00FB, 0x00FC, 0x2020, 0x00B0, 0x00A2, 0x00A3, 0x00A7, 0x2022, 0x00B6,
    0x00DF, 0x00AE, 0x00A9, 0x2122, 0x00B4, 0x00A8, 0x2260, 0x00C6, 0x00D8, 0x221E, 0x00B1, 0x2264, 0x2265,
    0x00A5, 0x00B5, 0x2202, 0x2211, 0x220F, 0x03C0, 0x222B, 0x00AA, 0x00BA, 0x03A9, 0x00E6, 0x00F8, 0x00BF,
    0x00A1, 0x00AC, 0x221A, 0x0192, 0x2248, 0x2206, 0x00AB, 0x00BB, 0x2026, 0x00A0, 0x00C0, 0x00C3, 0x00D5,
    0x0152, 0x0153, 0x2013, 0x2014, 0x201C, 0x201D, 0x2018, 0x2019, 0x00F7, 0x25CA, 0x00FF, 0x0178, 0x2044,
    0x20AC, 0x2039, 0x203A, 0xFB01, 0xFB02, 0x2021, 0x00B7, 0x201A, 0x201E, 0x2030, 0x00C2, 0x00CA, 0x00C1,
    0x00CB, 0x00C8, 0x00CD, 0x00CE, 0x00CF, 0x00CC, 0x00D3, 0x00D4, 0xF8FF, 0x00D2, 0x00DA, 0x00DB, 0x00D9,
    0x0131, 0x02C6, 0x02DC, 0x00AF, 0x02D8, 0x02D9, 0x02DA, 0x00B8, 0x02DD, 0x02DB, 0x02C7,
};
static const uint16_t ibm_850[128] = {
    0x00C7, 0x00FC, 0x00E9, 0x00E2, 0x00E4, 0x00E0, 0x00E5, 0x00E7, 0x00EA, 0x00EB, 0x00E8, 0x00EF, 0x00EE,
    0x00EC, 0x00C4, 0x00C5, 0x00C9, 0x00E6, 0x00C6, 0x00F4, 0x00F6, 0x00F2, 0x00FB, 0x00F9, 0x00FF, 0x00D6,
    0x00DC, 0x00F8, 0x00A3, 0x00D8, 0x00D7, 0x0192, 0x00E1, 0x00ED, 0x00F3, 0x00FA, 0x00F1, 0x00D1, 0x00AA,
    0x00BA, 0x00BF, 0x00AE, 0x00AC, 0x00BD, 0x00BC, 0x00A1, 0x00AB, 0x00BB, 0x2591, 0x2592, 0x2593, 0x2502,
    0x2524, 0x00C1, 0x00C2, 0x00C0, 0x00A9, 0x2563, 0x2551, 0x2557, 0x255D, 0x00A2, 0x00A5, 0x2510, 0x2514,
    0x2534, 0x252C, 0x251C, 0x2500, 0x253C, 0x00E3, 0x00C3, 0x255A, 0x2554, 0x2569, 0x2566, 0x2560, 0x2550,
    0x256C, 0x00A4, 0x00F0, 0x00D0, 0x00CA, 0x00CB, 0x00C8, 0x0131, 0x00CD, 0x00CE, 0x00CF, 0x2518, 0x250C,
    0x2588, 0x2584, 0x00A6, 0x00CC, 0x2580, 0x00D3, 0x00DF, 0x00D4, 0x00D2, 0x00F5, 0x00D5, 0x00B5, 0x00FE,
    0x00DE, 0x00DA, 0x00DB, 0x00D9, 0x00FD, 0x00DD, 0x00AF, 0x00B4, 0x00AD, 0x00B1, 0x2017, 0x00BE, 0x00B6,
    0x00A7, 0x00F7, 0x00B8, 0x00B0, 0x00A8, 0x00B7, 0x00B9, 0x00B3, 0x00B2, 0x25A0, 0x00A0,
};

/* ISO-8859-15 is Windows-1252 from 0xA0 on but for eight bytes, and has controls below. */
static const struct {
    unsigned char byte;
    uint16_t point;
} iso_8859_15[] = { { 0xA4, 0x20AC }, { 0xA6, 0x0160 }, { 0xA8, 0x0161 }, { 0xB4, 0x017D },
                    { 0xB8, 0x017E }, { 0xBC, 0x0152 }, { 0xBD, 0x0153 }, { 0xBE, 0x0178 } };

static const char *const names[] = {
    [CW_CHARSET_UNKNOWN] = "unknown",
    [CW_UTF_8] = "UTF-8",
    [CW_UTF_16_LE] = "UTF-16LE",
    [CW_UTF_16_BE] = "UTF-16BE",
    [CW_WINDOWS_1252] = "windows-1252",
    [CW_MACINTOSH] = "macintosh",
    [CW_IBM_850] = "IBM850",
    [CW_ISO_8859_15] = "ISO-8859-15",
};

const char *cw_charset_name(cw_charset c)
{
    return names[c];
}

cw_charset cw_charset_named(const char *name)
{
    for (int c = CW_UTF_8; c <= CW_ISO_8859_15; c++)
        if (strcmp(names[c], name) == 0)
            return (cw_charset)c;
    return CW_CHARSET_UNKNOWN;
}

static uint32_t point_of(cw_charset c, unsigned char byte)
{
    if (byte < 0x80)
        return byte;
    if (c == CW_MACINTOSH)
        return macintosh[byte - 0x80];
    if (c == CW_IBM_850)
        return ibm_850[byte - 0x80];
    if (c == CW_ISO_8859_15) {
        for (size_t i = 0; i < sizeof iso_8859_15 / sizeof iso_8859_15[0]; i++)
            if (iso_8859_15[i].byte == byte)
                return iso_8859_15[i].point;
        return byte;
    }
    return byte < 0xA0 ? windows_1252[byte - 0x80] : byte;
}

static void add_point(cw_text *out, uint32_t c)
{
    char s[4];
    size_t n = 0;
    if (c < 0x80) {
        s[n++] = (char)c;
    } else if (c < 0x800) {
        s[n++] = (char)(0xC0 | c >> 6);
        s[n++] = (char)(0x80 | (c & 0x3F));
    } else if (c < 0x10000) {
        s[n++] = (char)(0xE0 | c >> 12);
        s[n++] = (char)(0x80 | (c >> 6 & 0x3F));
        s[n++] = (char)(0x80 | (c & 0x3F));
    } else {
        s[n++] = (char)(0xF0 | c >> 18);
        s[n++] = (char)(0x80 | (c >> 12 & 0x3F));
        s[n++] = (char)(0x80 | (c >> 6 & 0x3F));
        s[n++] = (char)(0x80 | (c & 0x3F));
    }
    cw_text_addn(out, s, n);
}

static void decode_16(bool big, const unsigned char *s, size_t n, cw_text *out)
{
    for (size_t i = 0; i + 1 < n; i += 2) {
        uint32_t c = big ? (uint32_t)(s[i] << 8 | s[i + 1]) : (uint32_t)(s[i + 1] << 8 | s[i]);
        if (i == 0 && c == 0xFEFF)
            continue;
        if (c >= 0xD800 && c < 0xDC00 && i + 3 < n) {
            uint32_t d = big ? (uint32_t)(s[i + 2] << 8 | s[i + 3]) : (uint32_t)(s[i + 3] << 8 | s[i + 2]);
            if (d >= 0xDC00 && d < 0xE000) {
                c = 0x10000 + ((c - 0xD800) << 10) + (d - 0xDC00);
                i += 2;
            }
        }
        add_point(out, c == 0 || (c >= 0xD800 && c < 0xE000) ? 0xFFFD : c);
    }
    if (n % 2)
        add_point(out, 0xFFFD);
}

void cw_charset_decode(cw_charset c, const char *bytes, size_t n, cw_text *out)
{
    const unsigned char *s = (const unsigned char *)bytes;
    cw_text_reserve(out, n + n / 8 + 16);
    if (c == CW_UTF_16_LE || c == CW_UTF_16_BE) {
        decode_16(c == CW_UTF_16_BE, s, n, out);
        return;
    }
    if (c == CW_UTF_8 || c == CW_CHARSET_UNKNOWN) {
        size_t mark = n >= 3 && memcmp(s, "\xEF\xBB\xBF", 3) == 0 ? 3 : 0;
        cw_text_addn(out, bytes + mark, n - mark);
        return;
    }
    for (size_t i = 0; i < n && !out->failed;) {
        size_t run = i;
        while (run < n && s[run] < 0x80)
            run++;
        cw_text_addn(out, bytes + i, run - i);
        for (i = run; i < n && s[i] >= 0x80; i++)
            add_point(out, point_of(c, s[i]));
    }
}

/* How much a letter speaks for the reading that gives it: those that western Europe's words are full of, those that they have, and what
 * stands between or before figures. */
static int weight(uint32_t c)
{
    static const uint16_t often[] = { 0xC4, 0xD6, 0xDC, 0xDF, 0xE0, 0xE4, 0xE7,  0xE8,
                                      0xE9, 0xEA, 0xEB, 0xEF, 0xF6, 0xFC, 0x20AC };
    static const uint16_t usual[] = {
        0xC5, 0xC6, 0xC7, 0xC8, 0xC9, 0xCA, 0xD8, 0xE1, 0xE2,  0xE5,   0xE6,   0xED,   0xEE,   0xF1,   0xF3,
        0xF4, 0xF8, 0xF9, 0xFA, 0xFB, 0xA0, 0xA3, 0xB0, 0x153, 0x2013, 0x2018, 0x2019, 0x201C, 0x201D, 0x201E
    };
    for (size_t i = 0; i < sizeof often / sizeof often[0]; i++)
        if (often[i] == c)
            return 3;
    for (size_t i = 0; i < sizeof usual / sizeof usual[0]; i++)
        if (usual[i] == c)
            return 1;
    return -2;
}

static bool is_letter(unsigned char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

/* The weight of byte i. A half may stand behind a figure, where it says as much as the ligature that has its byte elsewhere; no word
 * has one in it. */
static int weight_at(cw_charset c, const unsigned char *s, size_t n, size_t i)
{
    uint32_t point = point_of(c, s[i]);
    if (point >= 0xBC && point <= 0xBE) {
        bool in_word = (i > 0 && is_letter(s[i - 1])) || (i + 1 < n && is_letter(s[i + 1]));
        return in_word ? -2 : 1;
    }
    return weight(point);
}

/* Where NUL bytes lie tells UTF-16 without a mark: Latin text has one in every second place. */
static cw_charset by_nuls(const unsigned char *s, size_t n)
{
    size_t even = 0, odd = 0, look = n < 65536 ? n : 65536;
    for (size_t i = 0; i < look; i++)
        if (s[i] == 0)
            (i % 2 ? odd++ : even++);
    if (odd > look / 5 && even < odd / 20 + 1)
        return CW_UTF_16_LE;
    if (even > look / 5 && odd < even / 20 + 1)
        return CW_UTF_16_BE;
    return CW_CHARSET_UNKNOWN;
}

cw_charset cw_charset_find(const char *bytes, size_t n, bool *sure)
{
    const unsigned char *s = (const unsigned char *)bytes;
    *sure = true;
    if (n >= 2 && (memcmp(s, "\xFF\xFE", 2) == 0 || memcmp(s, "\xFE\xFF", 2) == 0))
        return s[0] == 0xFF ? CW_UTF_16_LE : CW_UTF_16_BE;
    if (memchr(s, 0, n) != NULL)
        return by_nuls(s, n);
    if (cw_utf8_valid(bytes, n, NULL))
        return CW_UTF_8;
    *sure = false;
    cw_charset best = CW_WINDOWS_1252;
    long most = 0;
    for (int c = CW_WINDOWS_1252; c <= CW_ISO_8859_15; c++) {
        long sum = 0;
        for (size_t i = 0; i < n; i++)
            if (s[i] >= 0x80)
                sum += weight_at((cw_charset)c, s, n, i);
        if (c == CW_WINDOWS_1252 || sum > most) {
            best = (cw_charset)c;
            most = sum;
        }
    }
    return best;
}
