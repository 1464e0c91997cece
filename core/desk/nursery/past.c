/* SPDX-License-Identifier: MIT */
#include "desk/nursery/past_inside.h"

#include "store/turning.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static const cw_column columns[] = {
    { "season", CW_INT_T },
    { "file", CW_TEXT_T },
    { "ship", CW_DAY_T },
    { "closed", CW_BOOL_T },
};
const cw_shape cw_past_files_shape = CW_ROWS(columns);

size_t cw_past_count(const cw_nursery *n)
{
    return (n->beside ? n->beside->count : 0) + 1;
}

cw_nursery *cw_past_at(cw_nursery *n, size_t i)
{
    return n->beside && i < n->beside->count ? n->beside->file[i] : n;
}

const char *cw_past_file_name(const cw_nursery *n)
{
    const char *path = cw_db_path(n->db), *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

void cw_past_close(cw_nursery *n)
{
    for (size_t i = 0; n->beside && i < n->beside->count; i++)
        cw_nursery_close(n->beside->file[i]);
    free(n->beside);
    n->beside = NULL;
}

/* A season of its own, before this one's; and where this file says what it was made from, that file. */
static cw_code check(cw_nursery *n, cw_nursery *past, const char *path, cw_error *err)
{
    bool made = false, closed = false;
    cw_origin_row origin = { 0 };
    cw_closed_row closing = { 0 };
    int season = past->season.season;
    if (season >= n->season.season)
        return cw_error_at(err, CW_REFUSED, path, 0, NULL, "is of the season of %d, which is not before %d",
                           season, n->season.season);
    for (size_t i = 0; n->beside && i < n->beside->count; i++)
        if (n->beside->file[i]->season.season == season)
            return cw_error_at(err, CW_REFUSED, path, 0, NULL,
                               "is of the season of %d, as %s is: name one of them", season,
                               cw_past_file_name(n->beside->file[i]));
    cw_code code = cw_turning_origin_of(n->db, season, &made, &origin, err);
    if (code == CW_OK)
        code = cw_turning_closed(past->db, &closed, &closing, err);
    if (code == CW_OK && made && closed && strcmp(origin.digest, closing.digest) != 0)
        code = cw_error_at(err, CW_REFUSED, path, 0, NULL,
                           "is not the file of %d that this season's was made from: what it taught differs",
                           season);
    return code;
}

static cw_code put_in(cw_nursery *n, cw_nursery *past, const char *path, cw_error *err)
{
    if (n->beside == NULL && (n->beside = calloc(1, sizeof *n->beside)) == NULL)
        return cw_error_memory(err);
    struct cw_past_beside *b = n->beside;
    if (b->count == CW_MAX_PAST)
        return cw_error_at(err, CW_REFUSED, path, 0, NULL, "is one more than %d past seasons", CW_MAX_PAST);
    size_t at = b->count++;
    for (; at > 0 && b->file[at - 1]->season.season > past->season.season; at--)
        b->file[at] = b->file[at - 1];
    b->file[at] = past;
    return CW_OK;
}

cw_code cw_past_open(cw_nursery *n, const char *path, cw_error *err)
{
    cw_nursery *past = NULL;
    cw_code code = cw_nursery_open(path, CW_LOOK, NULL, &past, err);
    if (code == CW_OK)
        code = check(n, past, path, err);
    if (code == CW_OK)
        code = put_in(n, past, path, err);
    if (code != CW_OK)
        cw_nursery_close(past);
    return code;
}

cw_code cw_past_files(cw_nursery *n, cw_table *out, cw_error *err)
{
    cw_table_init(out, columns, CW_WIDTH(columns));
    cw_code code = CW_OK;
    for (size_t i = cw_past_count(n); code == CW_OK && i-- > 0;) {
        cw_nursery *at = cw_past_at(n, i);
        bool closed = false;
        cw_closed_row closing = { 0 };
        code = cw_turning_closed(at->db, &closed, &closing, err);
        cw_put_int(out, at->season.season);
        cw_put_text(out, cw_past_file_name(at));
        cw_put_int(out, at->season.ship);
        cw_put_bool(out, closed);
    }
    return code == CW_OK ? cw_table_check(out, err) : code;
}
