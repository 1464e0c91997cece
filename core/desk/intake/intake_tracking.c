/* SPDX-License-Identifier: MIT */
/* What carriers give back: rows are kept until the file's end, and then taken parcel by parcel, since one may have several numbers, in one
 * cell or in rows of their own. */
#include "desk/intake/intake_inside.h"

#include "base/grow.h"
#include "desk/pack/returned_inside.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

typedef struct cw_returned_row {
    int64_t parcel;
    long line;
    size_t at;                     /* in the file: of several rows of one parcel the first comes first */
    int box;                       /* 0: not said */
    const char *numbers, *carrier; /* carrier NULL: not said */
    cw_day on;
} cw_returned_row;

/* The first of several in one cell. */
static void first_number(const char *numbers, char out[CW_MAX_NAME + 1])
{
    size_t n = strcspn(numbers, ",;");
    while (n > 0 && numbers[n - 1] == ' ')
        n--;
    snprintf(out, CW_MAX_NAME + 1, "%.*s", (int)(n < CW_MAX_NAME ? n : CW_MAX_NAME), numbers);
}

cw_code cw_intake_tracked(cw_intake *in, cw_row *row, cw_error *err)
{
    const cw_tracking_row *t = &row->is.tracking;
    char number[CW_MAX_NAME + 1];
    int64_t parcel = 0;
    cw_error why = CW_ERROR_NONE;
    if (row->bad || row->quiet)
        return CW_OK;
    first_number(t->tracking.t, number);
    cw_code code = cw_returned_parcel(in->n, t->order.t, t->parcel.t, number, &parcel, &why);
    if (code != CW_OK) {
        int column = strcmp(why.column, "parcel") == 0 ? CW_AT(tracking, parcel) : CW_AT(tracking, order);
        return cw_row_failed(in, row, column, code, &why) ? CW_OK : cw_error_set(err, code, "%s", why.text);
    }
    if (!cw_grow(&in->returned, in->returned_count, &in->returned_room, sizeof *in->returned))
        return cw_error_memory(err);
    in->returned[in->returned_count] =
        (cw_returned_row){ .parcel = parcel,
                           .line = row->line,
                           .at = in->returned_count,
                           .box = (int)t->box.i,
                           .numbers = cw_texts_keep(&in->returned_texts, t->tracking.t),
                           .carrier =
                               t->carrier.null ? NULL : cw_texts_keep(&in->returned_texts, t->carrier.t),
                           .on = t->shipped_on.null ? CW_NO_DAY : (cw_day)t->shipped_on.i };
    in->returned_count++;
    return in->returned_texts.failed ? cw_error_memory(err) : CW_OK;
}

/* By parcel; in it by the box that is said, then as they stand in the file. */
static int in_order(const void *a, const void *b)
{
    const cw_returned_row *x = a, *y = b;
    if (x->parcel != y->parcel)
        return x->parcel < y->parcel ? -1 : 1;
    if (x->box != y->box && x->box > 0 && y->box > 0)
        return x->box < y->box ? -1 : 1;
    if ((x->box > 0) != (y->box > 0))
        return x->box > 0 ? -1 : 1;
    return x->at < y->at ? -1 : x->at > y->at;
}

/* Adds the numbers of one cell; the same one again is the same box. False: more than a parcel has boxes. */
static bool add_numbers(cw_texts *texts, const char *numbers, cw_returned *r)
{
    for (const char *s = numbers; *s;) {
        size_t n = strcspn(s, ",;"), from = strspn(s, " "), end = n;
        char number[CW_MAX_NOTE + 1];
        bool there = false;
        while (end > from && s[end - 1] == ' ')
            end--;
        snprintf(number, sizeof number, "%.*s", end > from ? (int)(end - from) : 0,
                 s + (from < n ? from : n));
        s += n + (s[n] != '\0');
        for (size_t i = 0; i < r->count; i++)
            there = there || strcmp(r->number[i], number) == 0;
        if (number[0] == '\0' || there)
            continue;
        if (r->count > CW_PACKING_MAX_FURTHER)
            return false;
        r->number[r->count++] = cw_texts_keep(texts, number);
    }
    return true;
}

static void wrong(cw_intake *in, const cw_returned_row *row, cw_code code, const char *column,
                  const char *says)
{
    cw_error e = CW_ERROR_NONE;
    cw_error_at(&e, code, in->files[in->current].base, row->line, column, "%s", says);
    cw_error_list_add(in->errors, &e);
}

static cw_code brought(void *context, int64_t *id, cw_error *err)
{
    return cw_intake_brought(context, id, err);
}

/* All rows of one parcel. */
static cw_code take(cw_intake *in, const cw_returned_row *row, size_t rows, cw_error *err)
{
    cw_taken *file = &in->files[in->current];
    cw_returned r = { .on = CW_NO_DAY, .file = cw_intake_file_name(in), .brought = brought, .context = in };
    cw_returned_fate fate = CW_RETURNED_KNOWN;
    cw_error why = CW_ERROR_NONE;
    for (size_t i = 0; i < rows; i++) {
        if (!add_numbers(&in->returned_texts, row[i].numbers, &r)) {
            wrong(in, &row[i], CW_REFUSED, "tracking", "more numbers than a parcel has boxes (20)");
            return CW_OK;
        }
        r.carrier = r.carrier ? r.carrier : row[i].carrier;
        r.on = r.on == CW_NO_DAY ? row[i].on : r.on;
    }
    if (r.count == 0) {
        wrong(in, row, CW_REFUSED, "tracking", "must not be empty");
        return CW_OK;
    }
    cw_code code = cw_returned_take(in->n, in->who, row->parcel, &r, &fate, &why);
    if (code == CW_MACHINE)
        return cw_error_set(err, code, "%s", why.text);
    if (code != CW_OK)
        wrong(in, row, code, why.column[0] ? why.column : "tracking", why.text);
    long *count = fate == CW_RETURNED_SENT       ? &file->made
                  : fate == CW_RETURNED_NUMBERED ? &file->changed
                                                 : &file->unchanged;
    *count += (long)rows;
    return CW_OK;
}

cw_code cw_intake_tracked_end(cw_intake *in, cw_error *err)
{
    cw_code code = CW_OK;
    if (in->returned_count > 0)
        qsort(in->returned, in->returned_count, sizeof *in->returned, in_order);
    for (size_t i = 0, n = 0; code == CW_OK && i < in->returned_count; i += n) {
        for (n = 1; i + n < in->returned_count && in->returned[i + n].parcel == in->returned[i].parcel; n++)
            ;
        code = take(in, &in->returned[i], n, err);
    }
    return code == CW_OK && in->returned_texts.failed ? cw_error_memory(err) : code;
}

void cw_intake_tracked_free(cw_intake *in)
{
    free(in->returned);
    cw_texts_free(&in->returned_texts);
    in->returned = NULL;
    in->returned_count = in->returned_room = 0;
    in->returned_texts = (cw_texts){ 0 };
}
