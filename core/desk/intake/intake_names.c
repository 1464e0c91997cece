/* SPDX-License-Identifier: MIT */
/* Varieties whose codes changed between two files: the same name under another code, a code that is part of another variety. */
#include "base/grow.h"
#include "base/text.h"
#include "desk/intake/intake_plain_inside.h"
#include "store/audit.h"
#include "store/naming.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

typedef struct cw_same {
    long line;
    bool renamed;
    char code[CW_MAX_CODE + 1]; /* in the file */
    cw_namesake other;
} cw_same;

cw_same_name cw_same_name_of(const char *word)
{
    if (word && strcmp(word, "new") == 0)
        return CW_SAME_NAME_NEW;
    return word && strcmp(word, "code") == 0 ? CW_SAME_NAME_CODE : CW_SAME_NAME_ASK;
}

static cw_code rename_other(cw_intake *in, const cw_same *s, cw_error *err)
{
    const cw_naming_record r = { in->who->now, in->who->actor, "a file names it so" };
    cw_named_variety v = { .id = s->other.id };
    cw_copy(v.code, sizeof v.code, s->other.code);
    cw_copy(v.name, sizeof v.name, s->other.name);
    cw_code code = cw_owner_only(in->who, "change a variety's code", err);
    if (code == CW_OK)
        code = cw_naming_rename(in->db, &v, s->code, &r, err);
    if (code == CW_OK)
        code =
            cw_audit_add(in->db, in->who->now, in->who->actor, "rename variety", v.code, s->code, r.why, err);
    return code == CW_OK ? cw_codes_forget(&in->codes, CW_VARIETIES, v.code, false, err) : code;
}

cw_code cw_intake_name(cw_intake *in, cw_row *row, bool *renamed, cw_error *err)
{
    const cw_varieties_row *v = &row->is.varieties;
    bool found = false;
    cw_same s = { .line = row->line };
    *renamed = false;
    if (in->options.same_name == CW_SAME_NAME_NEW || in->grid) /* a row that was typed is meant */
        return CW_OK;
    cw_copy(s.code, sizeof s.code, v->code.t);
    cw_code code = cw_intake_namesake(in->db, v->name.t, s.code, &found, &s.other, err);
    if (code != CW_OK || !found || cw_map_get(&in->seen, s.other.code, strlen(s.other.code)))
        return code;
    if (!cw_grow(&in->same, in->same_count, &in->same_room, sizeof *in->same))
        return cw_error_memory(err);
    s.renamed = in->options.same_name == CW_SAME_NAME_CODE;
    in->same[in->same_count++] = s;
    *renamed = s.renamed;
    return s.renamed ? rename_other(in, &s, err) : CW_OK;
}

cw_code cw_intake_names_end(cw_intake *in, cw_error *err)
{
    cw_row row = { .kind = &cw_kinds[CW_VARIETIES], .file = in->files[in->current].base };
    (void)err;
    for (size_t i = 0; i < in->same_count; i++) {
        const cw_same *s = &in->same[i];
        bool both = cw_map_get(&in->seen, s->other.code, strlen(s->other.code)) != NULL;
        row.line = s->line;
        if (both && s->renamed)
            cw_row_clash(in, &row, CW_AT(varieties, code),
                         "%s is to be the new code of %s, and the file names both: leave one of the rows out",
                         s->code, s->other.code);
        else if (!both && !s->renamed)
            cw_row_clash(in, &row, CW_AT(varieties, name),
                         "%s has the same name as %s (%s): is it a new variety, or a new code of that one?",
                         s->code, s->other.code, s->other.name);
    }
    in->same_count = 0;
    return CW_OK;
}

cw_code cw_intake_merged(cw_intake *in, cw_row *row, cw_error *err)
{
    const char *said = row->is.varieties.code.t;
    char into[CW_MAX_CODE + 1];
    cw_code code = cw_intake_merged_into(in->db, said, into, err);
    if (code == CW_OK && into[0])
        cw_row_clash(in, row, CW_AT(varieties, code), "%s was merged into %s: leave the row out, or name %s",
                     said, into, into);
    return code;
}
