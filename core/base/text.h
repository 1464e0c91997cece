/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_TEXT_H
#define CW_BASE_TEXT_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* A growing byte string with a hard cap. Starts empty with CW_TEXT(max); cw_text_free(&t) brings it back to empty.
 * `data` is NUL-terminated whenever it is not NULL. When the cap or memory ends, `failed` is set, further appends do
 * nothing, and cw_text_check says so; so a writer may append freely and check once. `starved` tells which of both. */
typedef struct cw_text {
    char *data;
    size_t length; /* bytes without the NUL */
    size_t room;
    size_t max;
    bool failed, starved; /* starved: it was memory that ended */
} cw_text;

/* "1 division", "2 divisions": what is added to the word for so many. */
#define CW_S(n) ((n) == 1 ? "" : "s")

#define CW_TEXT(cap) ((cw_text){ NULL, 0, 0, (cap), false, false })

void cw_text_free(cw_text *t);
void cw_text_wipe(cw_text *t);              /* as free, and nothing of it stays in memory */
void cw_text_reserve(cw_text *t, size_t n); /* n more bytes will not move it */
void cw_text_clear(cw_text *t);             /* keeps the room */
void cw_text_add(cw_text *t, const char *s);
void cw_text_addn(cw_text *t, const char *s, size_t n);
void cw_text_addc(cw_text *t, char c);
void cw_text_add_int(cw_text *t, int64_t v); /* for what runs by the million: a fifth of addf's time */
#define CW_INT_BYTES 20
/* its digits into CW_INT_BYTES, without a NUL; returns how many */
size_t cw_format_int(int64_t v, char *out);
void cw_text_addf(cw_text *t, const char *format, ...) CW_PRINTF(2, 3);

/* As snprintf, of %s, %d, %lld and %% alone, for sentences that are said by the million. Returns the length of what stands in
 * `out`, which is cut to `size`. */
size_t cw_say(char *out, size_t size, const char *format, ...) CW_PRINTF(3, 4);

/* Adds text so that it stands as itself in HTML, XML or SVG, between tags or inside a double-quoted attribute. */
void cw_text_add_markup(cw_text *t, const char *s);
cw_code cw_text_check(const cw_text *t, cw_error *err) CW_MUST_CHECK;

/* Hands the bytes to the caller (who frees them) and leaves the text empty; "" (allocated) if it was empty,
 * NULL without memory. */
char *cw_text_take(cw_text *t);

/* Copies `s` into out[size], cut to fit, always NUL-terminated, never inside a UTF-8 sequence. */
void cw_copy(char *out, size_t size, const char *s);

/* True if s[0..n) is valid UTF-8 without NUL. `*bad` (may be NULL) is the offset of the first wrong byte. */
bool cw_utf8_valid(const char *s, size_t n, size_t *bad);

/* True if s[0..n) has a control character that is not among those of `but`: "" or "\n\t". */
bool cw_has_control(const char *s, size_t n, const char *but);

/* Strict readers of a whole string s[0..n): no spaces, no sign but '-', no trailing text.
 * False if it is not such a number or lies outside [low, high]. */
bool cw_parse_int(const char *s, size_t n, int64_t low, int64_t high, int64_t *out);
bool cw_parse_real(const char *s, size_t n, double low, double high, double *out);

/* 1/0, yes/no, true/false in any case. */
bool cw_parse_bool(const char *s, size_t n, bool *out);

/* Offending text made fit for a message: control bytes and broken UTF-8 become '?', cut to about 60 bytes with "...". */
const char *cw_shown(const char *s, size_t n, char out[80]);

#endif
