/* SPDX-License-Identifier: MIT */
#include "nursery.h"
#include "support/season.h"

#include "base/code128.h"
#include "base/qr.h"
#include <string.h>

/* A text for a code, and below it, a line each, what a scanner read from the labels of a parcel. No crash; what was encoded
 * reads back as the text; a parcel is closed by its labels if they are those of its divisions, and by no others. */

#define MOST_LABELS 64

static test_nursery t;
static int64_t parcel;

int LLVMFuzzerInitialize(int *argc, char ***argv)
{
    (void)argc;
    (void)argv;
    season_make(&t);
    parcel = parcel_of(&t, "1002"); /* two divisions, both of lot L1 */
    nursery_to_memory(&t);
    return 0;
}

/* By the tables of code sets B and C; independent of how the encoder chose between them. */
static void decode(const cw_code128 *c, char *out)
{
    unsigned sum = c->symbols[0];
    bool digits = c->symbols[0] == 105;
    size_t n = 0;
    must(c->count >= 4 && (digits || c->symbols[0] == 104) && c->symbols[c->count - 1] == 106);
    for (size_t i = 1; i + 2 < c->count; i++) {
        unsigned v = c->symbols[i];
        sum += (unsigned)i * v;
        if (v == 99 && !digits) {
            digits = true;
        } else if (v == 100 && digits) {
            digits = false;
        } else if (digits) {
            must(v < 100);
            out[n++] = (char)('0' + v / 10);
            out[n++] = (char)('0' + v % 10);
        } else {
            must(v < 95);
            out[n++] = (char)(v + 32);
        }
    }
    out[n] = '\0';
    must(sum % 103 == c->symbols[c->count - 2]);
}

static void bars(const char *text)
{
    cw_error err = CW_ERROR_NONE;
    cw_code128 c;
    char back[2 * sizeof c.symbols + 1];
    uint8_t widths[CW_CODE128_MAX_WIDTHS];
    size_t n = 0, modules = 2 * CW_CODE128_QUIET;
    if (cw_code128_encode(text, &c, &err) != CW_OK) {
        must(err.code == CW_REFUSED && err.text[0]);
        return;
    }
    decode(&c, back);
    must(strcmp(back, text) == 0);
    cw_code128_widths(&c, widths, &n);
    must(n == c.count * 6 + 1);
    for (size_t i = 0; i < n; i++) {
        must(widths[i] >= 1 && widths[i] <= 4);
        modules += widths[i];
    }
    must(modules == cw_code128_modules(&c));
    cw_text svg = CW_TEXT((size_t)1 << 20);
    must(cw_code128_svg(text, 203, 2, 10, &svg, &err) == CW_OK && svg.length > 0 &&
         cw_utf8_valid(svg.data, svg.length, NULL));
    cw_text_free(&svg);
}

static void square(const char *text)
{
    cw_error err = CW_ERROR_NONE;
    cw_qr q = { 0 };
    size_t n = strlen(text);
    if (cw_qr_encode(text, &q, &err) == CW_OK)
        must(n > 0 && cw_utf8_valid(text, n, NULL) && q.width >= 21 && q.width <= 177 && q.width % 4 == 1);
    else
        must(err.code == CW_REFUSED && err.text[0]);
    cw_qr_free(&q);
}

static bool is_of(const char *label, const char *lot)
{
    size_t n = strlen(lot);
    return strncmp(label, lot, n) == 0 && (label[n] == '\0' || strchr(" \t@|/", label[n]));
}

static void pack_all(const char *const *labels, size_t count)
{
    cw_error err = CW_ERROR_NONE;
    cw_packing_count c = { .count = -1, .labels = labels, .label_count = count, .weight_g = 500 };
    bool right = count == 2 && is_of(labels[0], "L1") && is_of(labels[1], "L1");
    must(cw_nursery_batch_begin(t.n, &err) == CW_OK);
    cw_code code = cw_packing_pack(t.n, &t.who, parcel, &c, &err);
    must(code == (right ? CW_OK : CW_CONFLICT));
    must(right || err.text[0]);
    if (right)
        everything_holds(t.n);
    cw_nursery_batch_drop(t.n);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    const char *labels[MOST_LABELS];
    size_t count = 0;
    char *copy = malloc(n + 1);
    must(copy != NULL);
    memcpy(copy, bytes, n);
    copy[n] = '\0';
    for (char *at = strchr(copy, '\n'); at && count < MOST_LABELS; at = strchr(at, '\n')) {
        *at++ = '\0';
        labels[count++] = at;
    }
    if (count == MOST_LABELS) {
        char *rest = strchr((char *)(uintptr_t)labels[count - 1], '\n');
        if (rest)
            *rest = '\0';
    }
    bars(copy);
    square(copy);
    if (count > 0)
        pack_all(labels, count);
    free(copy);
    return 0;
}
