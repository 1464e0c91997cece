/* SPDX-License-Identifier: MIT */
#include "store/db_inside.h"

#include "base/banned.h"

/* has_text(text, a, b, ...): does the text stand anywhere in one of the others, whatever the case of its letters a to z? As
 * a LIKE '%text%' OR b LIKE ..., with no sign that is a pattern, and in a quarter of its time: the text is read once for all rows. */

static inline unsigned char lower(unsigned char c)
{
    return (unsigned char)(c - 'A') < 26 ? (unsigned char)(c + ('a' - 'A')) : c;
}

/* skip: how far to go on from a byte that stands where the text's last one would: its distance from there, or the whole text (Horspool's
 * search, Software: Practice and Experience 10, 1980). */
typedef struct wanted {
    size_t n;
    uint32_t skip[256];
    unsigned char text[]; /* lower case */
} wanted;

static bool stands_at(const unsigned char *s, const wanted *w)
{
    size_t i = 0;
    while (i < w->n && lower(s[i]) == w->text[i])
        i++;
    return i == w->n;
}

static bool stands_in(const unsigned char *s, size_t n, const wanted *w)
{
    if (w->n == 0)
        return true;
    for (size_t end = w->n; end <= n; end += w->skip[s[end - 1]])
        if (lower(s[end - 1]) == w->text[w->n - 1] && stands_at(s + end - w->n, w))
            return true;
    return false;
}

static void make_skips(wanted *w)
{
    for (int c = 0; c < 256; c++)
        w->skip[c] = w->n ? (uint32_t)w->n : 1;
    for (size_t i = 0; i + 1 < w->n; i++)
        for (int c = 0; c < 256; c++)
            if (lower((unsigned char)c) == w->text[i])
                w->skip[c] = (uint32_t)(w->n - 1 - i);
}

/* The text in lower case: made for the first row, kept by the statement for the others. NULL without memory. */
static const wanted *read_text(sqlite3_context *out, sqlite3_value *value)
{
    wanted *w = sqlite3_get_auxdata(out, 0);
    if (w)
        return w;
    const unsigned char *s = sqlite3_value_text(value);
    size_t n = (size_t)sqlite3_value_bytes(value);
    w = s ? sqlite3_malloc64(sizeof *w + n + 1) : NULL;
    if (w == NULL)
        return NULL;
    w->n = n;
    for (size_t i = 0; i < n; i++)
        w->text[i] = lower(s[i]);
    make_skips(w);
    sqlite3_set_auxdata(out, 0, w, sqlite3_free);
    return sqlite3_get_auxdata(out, 0);
}

static void has_text(sqlite3_context *out, int n, sqlite3_value **values)
{
    const wanted *w = n > 0 ? read_text(out, values[0]) : NULL;
    bool found = false;
    if (w == NULL) {
        sqlite3_result_error_nomem(out);
        return;
    }
    for (int i = 1; i < n && !found; i++) {
        const unsigned char *s = sqlite3_value_text(values[i]);
        found = s && stands_in(s, (size_t)sqlite3_value_bytes(values[i]), w);
    }
    sqlite3_result_int(out, found);
}

cw_code cw_finding_install(cw_db *db, cw_error *err)
{
    if (sqlite3_create_function_v2(db->raw, "has_text", -1,
                                   SQLITE_UTF8 | SQLITE_DIRECTONLY | SQLITE_DETERMINISTIC, NULL, has_text,
                                   NULL, NULL, NULL) != SQLITE_OK)
        return cw_db_fail(db->raw, err, "setting up the connection");
    return CW_OK;
}
