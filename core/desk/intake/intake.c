/* SPDX-License-Identifier: MIT */
#include "desk/intake/intake.h"

#include "base/digest.h"
#include "base/text.h"
#include "desk/intake/intake_inside.h"
#include "store/audit.h"
#include "store/bulk.h"
#include "store/season.h"
#include "store/shipping.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define BULK_BYTES (1 << 20) /* of orders, from which it pays to make the indexes at the end */

static const cw_column answer_columns[] = {
    { "file", CW_TEXT_T },
    { "kind", CW_TEXT_T },
    { "rows", CW_INT_T },
    { "new", CW_INT_T },
    { "changed", CW_INT_T },
    { "unchanged", CW_INT_T },
    { "note", CW_TEXT_T, .null = true },
};

const cw_shape cw_intake_load_shape = CW_ROWS(answer_columns);

static cw_code open_file(const cw_intake_file *f, cw_csv **out, cw_error *err)
{
    if (f->path)
        return cw_csv_open(f->path, out, err);
    return cw_csv_open_memory(f->name ? f->name : "input", f->bytes, f->length, out, err);
}

/* Kind and name of every file, before anything is read. */
static cw_code name_files(cw_intake *in, const cw_intake_file *files, size_t count, cw_error *err)
{
    in->files = calloc(count ? count : 1, sizeof *in->files);
    if (in->files == NULL)
        return cw_error_memory(err);
    in->file_count = count;
    for (size_t i = 0; i < count; i++) {
        cw_taken *t = &in->files[i];
        t->name = files[i].name ? files[i].name : files[i].path ? files[i].path : "input";
        const char *slash = strrchr(t->name, '/');
        cw_copy(t->base, sizeof t->base, slash ? slash + 1 : t->name);
        t->kind = files[i].kind ? cw_kind_named(files[i].kind) : cw_kind_of_file(t->name);
        if (t->kind >= 0)
            continue;
        cw_text kinds = CW_TEXT(1024);
        for (int k = 0; k < CW_KINDS; k++)
            cw_text_addf(&kinds, "%s%s", k ? ", " : "", cw_kinds[k].name);
        cw_code code = cw_error_at(
            err, CW_REFUSED, t->base, 0, NULL, "%s: %.40s; the kinds are %s",
            files[i].kind ? "there is no such kind of file"
                          : "the name does not begin with a kind of file; rename it, or name its kind",
            files[i].kind ? files[i].kind : t->base, kinds.data ? kinds.data : "");
        cw_text_free(&kinds);
        return code;
    }
    return CW_OK;
}

static cw_code tell(cw_intake *in, cw_csv *c, cw_error *err)
{
    return cw_asker_tell(in->who, in->files[in->current].base, in->bytes_before + cw_csv_consumed(c),
                         in->bytes_all, err);
}

static cw_code take_row(cw_intake *in, cw_row *row, cw_error *err)
{
    cw_code code = cw_row_read(in, row, err);
    if (code != CW_OK)
        return code;
    if (row->kind == &cw_kinds[CW_ORDERS])
        return cw_intake_line(in, row, err);
    if (row->kind == &cw_kinds[CW_TRACKING])
        return cw_intake_tracked(in, row, err);
    if (cw_kind_keyed(row->kind))
        return cw_intake_plain(in, row, err);
    return cw_intake_fact(in, row, err);
}

static cw_code read_rows(cw_intake *in, cw_csv *c, cw_row *row, cw_error *err)
{
    cw_taken *file = &in->files[in->current];
    for (;;) {
        cw_error e = CW_ERROR_NONE;
        bool more = false;
        cw_code code = cw_csv_next(c, &more, &e);
        if (code == CW_MACHINE) {
            *err = e;
            return code;
        }
        if (code != CW_OK)
            cw_error_list_add(in->errors, &e);
        if (cw_csv_broken(c) || (code == CW_OK && !more))
            return CW_OK;
        file->rows++;
        if (code != CW_OK)
            continue;
        row->line = cw_csv_line(c);
        row->fields = cw_csv_fields(c);
        code = take_row(in, row, err);
        if (code == CW_OK && file->rows % CW_TELL_EVERY == 0)
            code = tell(in, c, err);
        if (code != CW_OK)
            return code;
    }
}

static cw_code read_header(cw_intake *in, cw_csv *c, const cw_kind *kind, int *map, cw_error *err)
{
    cw_csv_column columns[CW_MAX_KIND_COLUMNS];
    cw_error e = CW_ERROR_NONE;
    for (size_t k = 0; k < kind->width; k++)
        columns[k] = (cw_csv_column){ kind->columns[k].name, cw_column_needed(&kind->columns[k]) };
    cw_code code = cw_csv_header(c, columns, kind->width, in->options.ignore_extra, map, &e);
    if (code == CW_MACHINE) {
        *err = e;
        return code;
    }
    if (code != CW_OK)
        cw_error_list_add(in->errors, &e);
    return code == CW_OK ? CW_OK : CW_REFUSED;
}

/* A room whose name no place has is most likely a slip of the pen, and its air would count for nothing. */
static cw_code note_rooms(cw_intake *in, cw_error *err)
{
    cw_taken *file = &in->files[in->current];
    bool found = false;
    char room[CW_MAX_NAME + 1];
    cw_code code = cw_intake_lonely_room(in->db, &found, room, err);
    if (found)
        snprintf(file->note, sizeof file->note, "no place lies in the room %.100s: is its name right?", room);
    return code;
}

/* Orders that go where nothing may be sent are told of when they come, or when the rule does, not in April. */
static cw_code note_blocked(cw_intake *in, cw_error *err)
{
    cw_taken *file = &in->files[in->current];
    int64_t count = 0;
    char number[33], country[33];
    cw_code code = cw_ship_blocked(in->db, &count, number, country, err);
    if (code == CW_OK && count > 0)
        snprintf(file->note, sizeof file->note,
                 "blocked: %lld open order%s where nothing may be sent, first %s to %s: no week, no share",
                 (long long)count, count == 1 ? " goes" : "s go", number, country);
    return code;
}

cw_code cw_intake_kind_end(cw_intake *in, const cw_kind *kind, cw_error *err)
{
    if (!cw_kind_keyed(kind))
        return cw_intake_facts_end(in, err);
    if (kind == &cw_kinds[CW_VARIETIES])
        return cw_intake_names_end(in, err);
    if (in->errors->count > 0)
        return CW_OK;
    if (kind == &cw_kinds[CW_TRACKING])
        return cw_intake_tracked_end(in, err);
    if (kind == &cw_kinds[CW_ORDERS] || kind == &cw_kinds[CW_DESTINATIONS]) {
        cw_code code = kind == &cw_kinds[CW_ORDERS] ? cw_intake_sold(in, err) : CW_OK;
        return code == CW_OK ? note_blocked(in, err) : code;
    }
    return kind == &cw_kinds[CW_AIR] ? note_rooms(in, err) : CW_OK;
}

/* The database is this thread's again. */
static void written(cw_intake *in)
{
    cw_behind_free(in->behind);
    in->behind = in->codes.behind = NULL;
}

static cw_code read_file(cw_intake *in, const cw_intake_file *f, cw_error *err)
{
    const cw_kind *kind = &cw_kinds[in->files[in->current].kind];
    int map[CW_MAX_KIND_COLUMNS];
    cw_csv *c = NULL;
    cw_bulk *bulk = NULL;
    cw_row row = { .kind = kind, .file = in->files[in->current].base, .map = map };
    cw_code code = cw_row_open(&row, CW_MAX_RECORD_BYTES) ? open_file(f, &c, err) : cw_error_memory(err);
    if (code != CW_OK)
        goto done;
    if (cw_csv_total(c) > CW_MAX_FILE_BYTES) {
        code = cw_error_at(err, CW_REFUSED, row.file, 0, NULL, "is larger than a file may be (4 GiB)");
        goto done;
    }
    code = read_header(in, c, kind, map, err);
    if (code == CW_REFUSED) {
        code = CW_OK; /* recorded: the other files are looked at all the same */
        goto done;
    }
    if (code == CW_OK && kind == &cw_kinds[CW_ORDERS] && cw_csv_total(c) >= BULK_BYTES)
        code = cw_bulk_begin(in->db, &bulk, err);
    if (bulk && (in->behind = cw_behind_begin(in->db, in->options.threads)) == NULL)
        code = cw_error_memory(err);
    in->codes.behind = in->behind;
    if (code == CW_OK)
        code = read_rows(in, c, &row, err);
    if (code == CW_OK)
        code = cw_behind_end(in->behind, err);
    written(in);
    if (code == CW_OK) {
        code = cw_bulk_end(in->db, bulk, err);
        bulk = NULL;
    }
    if (code == CW_OK)
        code = cw_intake_kind_end(in, kind, err);
    in->bytes_before += cw_csv_total(c);
done:
    cw_bulk_free(bulk);
    cw_intake_orders_free(in);
    cw_intake_tracked_free(in);
    cw_map_free(&in->seen);
    cw_csv_close(c);
    cw_row_close(&row);
    return code;
}

/* What is on record of the load itself: one audit row a file that brought something, and the revisions. */
static cw_code close_books(cw_intake *in, cw_error *err)
{
    unsigned raises = 0;
    cw_code code = CW_OK;
    for (size_t i = 0; i < in->file_count && code == CW_OK; i++) {
        const cw_taken *t = &in->files[i];
        char after[200];
        if (t->made + t->changed == 0)
            continue;
        raises |= cw_kinds[t->kind].raises;
        snprintf(after, sizeof after, "%s: %ld new, %ld changed, %ld unchanged", cw_kinds[t->kind].name,
                 t->made, t->changed, t->unchanged);
        code = cw_audit_add(in->db, in->who->now, in->who->actor, "load", t->base, NULL, after, err);
    }
    if (code == CW_OK && raises)
        code = cw_season_touch(in->db, raises & CW_RAISES_STOCK, raises & CW_RAISES_TRADE, err);
    return code;
}

static cw_code read_all(cw_intake *in, const cw_intake_file *files, cw_error *err)
{
    cw_code code = CW_OK;
    for (int kind = 0; kind < CW_KINDS; kind++) {
        for (size_t i = 0; i < in->file_count && code == CW_OK; i++) {
            if (in->files[i].kind != kind)
                continue;
            in->current = (int)i;
            code = read_file(in, &files[i], err);
        }
        if (code == CW_OK && kind == CW_COUNTS && in->errors->count == 0)
            code = cw_intake_facts_enter(in, err);
    }
    return code == CW_OK && in->errors->count == 0 ? cw_intake_field_end(in, err) : code;
}

static cw_code measure(cw_intake *in, const cw_intake_file *files, cw_error *err)
{
    for (size_t i = 0; i < in->file_count; i++) {
        cw_csv *c = NULL;
        cw_code code = open_file(&files[i], &c, err);
        if (code != CW_OK)
            return code;
        in->bytes_all += cw_csv_total(c);
        cw_csv_close(c);
    }
    return CW_OK;
}

static void fill_answer(const cw_intake *in, cw_table *answer)
{
    for (size_t i = 0; i < in->file_count; i++) {
        const cw_taken *t = &in->files[i];
        cw_put_text(answer, t->base);
        cw_put_text(answer, cw_kinds[t->kind].name);
        cw_put_int(answer, t->rows);
        cw_put_int(answer, t->made);
        cw_put_int(answer, t->changed);
        cw_put_int(answer, t->unchanged);
        cw_put_text(answer, t->note[0] ? t->note : NULL);
    }
}

cw_code cw_intake_listed(const cw_error_list *errors, cw_error *err)
{
    if (errors->kept == 0)
        return cw_error_memory(err);
    *err = errors->items[0];
    return err->code;
}

cw_code cw_intake_load(cw_nursery *n, const cw_asker *who, const cw_intake_file *files, size_t count,
                       const cw_intake_options *options, cw_table *answer, cw_error_list *errors,
                       cw_error *err)
{
    cw_intake in = {
        .n = n, .db = n->db, .who = who, .options = *options, .codes = { .db = n->db }, .errors = errors
    };
    cw_table_init(answer, answer_columns, sizeof answer_columns / sizeof answer_columns[0]);
    if (options->oversell && cw_owner_only(who, "let more be sold than is offered", err) != CW_OK)
        return CW_FORBIDDEN;
    if (options->oversell && (options->oversell[0] == '\0' || strlen(options->oversell) > CW_MAX_NOTE))
        return cw_error_set(err, CW_REFUSED,
                            "selling more than is offered needs a reason of at most %d bytes", CW_MAX_NOTE);
    cw_code code = cw_season_look(n, err);
    if (code == CW_OK)
        code = name_files(&in, files, count, err);
    if (code == CW_OK && who->progress)
        code = measure(&in, files, err);
    if (code == CW_OK)
        code = cw_work_begin(n, err);
    if (code != CW_OK)
        goto done;
    code = read_all(&in, files, err);
    if (code == CW_OK && errors->count > 0)
        code = cw_intake_listed(errors, err);
    if (code == CW_OK)
        code = close_books(&in, err);
    fill_answer(&in, answer);
    if (code == CW_OK)
        code = cw_table_check(answer, err);
    if (code == CW_OK && options->dry_run)
        cw_work_drop(n);
    else
        code = cw_work_end(n, code, err);
done:
    cw_codes_free(&in.codes);
    free(in.files);
    free(in.facts);
    free(in.touched);
    free(in.same);
    return code;
}
