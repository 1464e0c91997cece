/* SPDX-License-Identifier: MIT */
#include "base/qr.h"

#include "base/codesvg_inside.h"
#include <errno.h>
#include <qrencode.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

cw_code cw_qr_encode(const char *text, cw_qr *out, cw_error *err)
{
    size_t n = strlen(text);
    char shown[80];
    *out = (cw_qr){ 0, NULL };
    if (n == 0 || n > CW_QR_MAX_TEXT || !cw_utf8_valid(text, n, NULL))
        return cw_error_set(err, CW_REFUSED, "a QR code holds 1 to %d bytes of UTF-8 text: %s",
                            CW_QR_MAX_TEXT, cw_shown(text, n, shown));
    QRcode *code = QRcode_encodeString(text, 0, QR_ECLEVEL_M, QR_MODE_8, 1);
    if (code == NULL)
        return errno == ENOMEM
                   ? cw_error_memory(err)
                   : cw_error_set(err, CW_REFUSED, "no QR code can be made of: %s", cw_shown(text, n, shown));
    size_t cells = (size_t)code->width * (size_t)code->width;
    out->dark = malloc(cells);
    if (out->dark) {
        out->width = code->width;
        for (size_t i = 0; i < cells; i++)
            out->dark[i] = code->data[i] & 1; /* the other bits are the library's own */
    }
    QRcode_free(code);
    return out->dark ? CW_OK : cw_error_memory(err);
}

#define SAME 8 /* blocks of one size that the C library keeps at hand, and one */

/* The encoder frees pieces of the text as they are. This thread is given the same blocks again when it asks for their sizes, and
 * overwrites them. */
static void overwrite_freed(size_t most)
{
    for (size_t n = 16; n <= most; n += 16) {
        void *block[SAME];
        for (size_t i = 0; i < SAME; i++)
            if ((block[i] = malloc(n)) != NULL)
                explicit_bzero(block[i], n);
        for (size_t i = 0; i < SAME; i++)
            free(block[i]);
    }
}

cw_code cw_qr_encode_secret(const char *text, cw_qr *out, cw_error *err)
{
    cw_code code = cw_qr_encode(text, out, err);
    overwrite_freed(strlen(text) + 16);
    return code;
}

void cw_qr_free(cw_qr *q)
{
    free(q->dark);
    *q = (cw_qr){ 0, NULL };
}

void cw_qr_path(const cw_qr *q, int dots, cw_text *out)
{
    for (int y = 0; y < q->width; y++) {
        const uint8_t *row = q->dark + (size_t)y * (size_t)q->width;
        for (int x = 0; x < q->width;) {
            int run = 0;
            while (x + run < q->width && row[x + run])
                run++;
            if (run)
                cw_text_addf(out, "M%d %dh%dv%dh-%dz", (x + CW_QR_QUIET) * dots, (y + CW_QR_QUIET) * dots,
                             run * dots, dots, run * dots);
            x += run ? run : 1;
        }
    }
}

cw_code cw_qr_svg(const char *text, int dpi, int dots, cw_text *out, cw_error *err)
{
    cw_qr q = { 0, NULL };
    if (dpi < 1 || dpi > CW_CODE_MAX_DPI || dots < 1 || dots > CW_CODE_MAX_DOTS)
        return cw_error_set(err, CW_USAGE, "a QR code of %d dots at %d dpi cannot be drawn", dots, dpi);
    cw_code code = cw_qr_encode(text, &q, err);
    if (code != CW_OK)
        return code;
    int side = (q.width + 2 * CW_QR_QUIET) * dots;
    cw_code_svg_open(out, text, (size_t)side, (size_t)side, 25.4 / dpi);
    cw_qr_path(&q, dots, out);
    cw_code_svg_close(out);
    cw_qr_free(&q);
    return cw_text_check(out, err);
}
