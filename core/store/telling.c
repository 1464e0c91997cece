/* SPDX-License-Identifier: MIT */
#include "store/telling.h"

#include "base/text.h"
#include "columns/telling.h"
#include "store/statement_inside.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static const char *kind(const cw_changed *what)
{
    return what->order ? "order" : "variety";
}

cw_code cw_telling_changed(cw_db *db, cw_changed *out, size_t most, size_t *count, cw_error *err)
{
    cw_stmt *q = cw_db_stmt(db, "telling.changed");
    *count = 0;
    cw_code code = cw_stmt_start(q, err, "i", (int64_t)most);
    while (code == CW_OK && *count < most && cw_stmt_next(q)) {
        cw_changed *c = &out[(*count)++];
        c->order = strcmp(cw_col_text_there(q, telling_changed_kind), "order") == 0;
        cw_copy(c->name, sizeof c->name, cw_col_text_there(q, telling_changed_name));
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_telling_tell(cw_db *db, const cw_changed *what, char **out, cw_error *err)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(db, what->order ? "telling.of_order" : "telling.of_variety");
    char *said = NULL;
    *out = NULL;
    cw_code code = cw_stmt_one(q, &found, err, "t", what->name);
    if (code == CW_OK && found) {
        said = strdup(cw_col_text_there(q, what->order ? telling_of_order_said : telling_of_variety_said));
        *out = strdup(cw_col_text_there(q, what->order ? telling_of_order_json : telling_of_variety_json));
        if (said == NULL || *out == NULL)
            code = cw_error_memory(err);
    }
    cw_code end = cw_stmt_end(q, err);
    if (code == CW_OK)
        code = end;
    if (code == CW_OK)
        code = found ? cw_stmt_run(cw_db_stmt(db, "telling.said"), err, "ttt", kind(what), what->name, said)
                     : cw_stmt_run(cw_db_stmt(db, "telling.ended"), err, "tt", kind(what), what->name);
    free(said);
    if (code != CW_OK) {
        free(*out);
        *out = NULL;
    }
    return code;
}

cw_code cw_telling_again(cw_db *db, int64_t hook, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "telling.again"), err, "i", hook);
}

cw_code cw_telling_forget(cw_db *db, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "telling.forget"), err, "");
}
