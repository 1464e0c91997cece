/* SPDX-License-Identifier: MIT */
#include "base/code128.h"

#include "base/codesvg_inside.h"
#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "base/banned.h"

enum { TO_C = 99, TO_B = 100, START_B = 104, START_C = 105, STOP = 106 };

/* Widths of bar, space, bar, space, bar, space by symbol value; the stop has a seventh, a bar of 2. */
static const char patterns[107][7] = {
    "212222", "222122", "222221", "121223", "121322", "131222", "122213", "122312", "132212", "221213",
    "221312", "231212", "112232", "122132", "122231", "113222", "123122", "123221", "223211", "221132",
    "221231", "213212", "223112", "312131", "311222", "321122", "321221", "312212", "322112", "322211",
    "212123", "212321", "232121", "111323", "131123", "131321", "112313", "132113", "132311", "211313",
    "231113", "231311", "112133", "112331", "132131", "113123", "113321", "133121", "313121", "211331",
    "231131", "213113", "213311", "213131", "311123", "311321", "331121", "312113", "312311", "332111",
    "314111", "221411", "431111", "111224", "111422", "121124", "121421", "141122", "141221", "112214",
    "112412", "122114", "122411", "142112", "142211", "241211", "221114", "413111", "241112", "134111",
    "111242", "121142", "121241", "114212", "124112", "124211", "411212", "421112", "421211", "212141",
    "214121", "412121", "111143", "111341", "131141", "114113", "114311", "411113", "411311", "113141",
    "114131", "311141", "411131", "211412", "211214", "211232", "233111",
};

static bool pair_at(const char *text, size_t n, size_t i)
{
    return i + 1 < n && text[i] >= '0' && text[i] <= '9' && text[i + 1] >= '0' && text[i + 1] <= '9';
}

/* Fewest symbols for text[i..n) when standing in set B or C, from the end backwards: a switch costs one
 * symbol. */
static void plan(const char *text, size_t n, size_t in_b[], size_t in_c[])
{
    in_b[n] = in_c[n] = 0;
    for (size_t i = n; i-- > 0;) {
        size_t by_b = 1 + in_b[i + 1];
        size_t by_c = pair_at(text, n, i) ? 1 + in_c[i + 2] : SIZE_MAX - 1;
        in_b[i] = by_b <= by_c + 1 ? by_b : by_c + 1;
        in_c[i] = by_c <= by_b + 1 ? by_c : by_b + 1;
    }
}

cw_code cw_code128_encode(const char *text, cw_code128 *out, cw_error *err)
{
    size_t in_b[CW_CODE128_MAX_TEXT + 2] = { 0 }, in_c[CW_CODE128_MAX_TEXT + 2] = { 0 };
    size_t n = strlen(text);
    char shown[80];
    out->count = 0;
    if (n == 0 || n > CW_CODE128_MAX_TEXT)
        return cw_error_set(err, CW_REFUSED, "a bar code holds 1 to %d characters: %s", CW_CODE128_MAX_TEXT,
                            cw_shown(text, n, shown));
    for (size_t i = 0; i < n; i++)
        if (text[i] < 32 || text[i] > 126)
            return cw_error_set(err, CW_REFUSED, "a bar code holds only plain letters, digits and signs: %s",
                                cw_shown(text, n, shown));
    plan(text, n, in_b, in_c);
    bool c = in_c[0] < in_b[0];
    unsigned sum = c ? START_C : START_B;
    out->symbols[out->count++] = (uint8_t)sum;
    for (size_t i = 0; i < n;) {
        unsigned value = 0;
        if (c && pair_at(text, n, i) && in_c[i] == 1 + in_c[i + 2]) {
            value = (unsigned)(text[i] - '0') * 10 + (unsigned)(text[i + 1] - '0');
            i += 2;
        } else if (!c && in_b[i] == 1 + in_b[i + 1]) {
            value = (unsigned)text[i] - 32;
            i++;
        } else {
            value = c ? TO_B : TO_C;
            c = !c;
        }
        sum += value * (unsigned)out->count; /* weights 1, 2, 3 ... from the symbol after the start */
        out->symbols[out->count++] = (uint8_t)value;
    }
    out->symbols[out->count++] = (uint8_t)(sum % 103);
    out->symbols[out->count++] = STOP;
    return CW_OK;
}

void cw_code128_widths(const cw_code128 *c, uint8_t out[CW_CODE128_MAX_WIDTHS], size_t *n)
{
    *n = 0;
    for (size_t i = 0; i < c->count; i++)
        for (size_t k = 0; k < 6; k++)
            out[(*n)++] = (uint8_t)(patterns[c->symbols[i]][k] - '0');
    out[(*n)++] = 2;
}

size_t cw_code128_modules(const cw_code128 *c)
{
    return c->count * 11 + 2 + 2 * CW_CODE128_QUIET;
}

cw_code cw_code128_svg(const char *text, int dpi, int dots, double height_mm, cw_text *out, cw_error *err)
{
    cw_code128 c;
    uint8_t widths[CW_CODE128_MAX_WIDTHS];
    size_t n = 0;
    if (dpi < 1 || dpi > CW_CODE_MAX_DPI || dots < 1 || dots > CW_CODE_MAX_DOTS ||
        !(height_mm > 0 && height_mm <= 300))
        return cw_error_set(err, CW_USAGE, "a bar code of %d dots at %d dpi, %g mm high cannot be drawn",
                            dots, dpi, height_mm);
    cw_code code = cw_code128_encode(text, &c, err);
    if (code != CW_OK)
        return code;
    cw_code128_widths(&c, widths, &n);
    double mm_per_dot = 25.4 / dpi;
    size_t wide = cw_code128_modules(&c) * (size_t)dots;
    long high = lround(fmax(1, height_mm / mm_per_dot)); /* whole dots too */
    cw_code_svg_open(out, text, wide, (size_t)high, mm_per_dot);
    size_t x = CW_CODE128_QUIET * (size_t)dots;
    for (size_t i = 0; i < n; i++) {
        size_t w = widths[i] * (size_t)dots;
        if (i % 2 == 0)
            cw_text_addf(out, "M%zu 0h%zuv%ldh-%zuz", x, w, high, w);
        x += w;
    }
    cw_code_svg_close(out);
    return cw_text_check(out, err);
}
