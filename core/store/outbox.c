/* SPDX-License-Identifier: MIT */
#include "store/outbox.h"

#include "base/text.h"
#include "columns/outbox.h"
#include "store/rows.h"
#include "store/statement_inside.h"
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

cw_code cw_outbox_queue(cw_db *db, const char *kind, int64_t notice, const char *body, cw_instant at,
                        const char *actor, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "outbox.queue"), err, "tItit", kind, notice ? &notice : NULL, body, at,
                       actor);
}

cw_code cw_outbox_next(cw_db *db, const char *channel, cw_instant now, cw_outbox_row *out, cw_error *err)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(db, "outbox.next");
    *out = (cw_outbox_row){ .id = 0 };
    cw_code code = cw_stmt_one(q, &found, err, "ti", channel, now);
    if (code == CW_OK && found) {
        const char *body = cw_col_text(q, outbox_next_body);
        out->id = cw_col_int(q, outbox_next_id);
        out->notice = cw_col_int(q, outbox_next_notice_id);
        out->tries = cw_col_int(q, outbox_next_tries);
        out->queued_at = cw_col_int(q, outbox_next_queued_at);
        cw_copy(out->kind, sizeof out->kind, cw_col_text(q, outbox_next_kind));
        cw_copy(out->state, sizeof out->state, "waits");
        if (body && (out->body = strdup(body)) == NULL)
            code = cw_error_memory(err);
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_outbox_going(cw_db *db, int64_t id, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "outbox.going"), err, "i", id);
}

cw_code cw_outbox_settle(cw_db *db, int64_t id, const cw_outbox_end *end, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "outbox.settle"), err, "itiiIt", id, end->state,
                       (int64_t)end->uncounted, end->next_at,
                       end->done_at == CW_NO_INSTANT ? NULL : &end->done_at, end->words);
}

cw_code cw_outbox_interrupted(cw_db *db, const char *words, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "outbox.interrupted"), err, "t", words);
}

cw_code cw_outbox_read(cw_db *db, int64_t id, cw_outbox_row *out, cw_error *err)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(db, "outbox.read");
    *out = (cw_outbox_row){ .id = id };
    cw_code code = cw_stmt_one(q, &found, err, "i", id);
    if (code == CW_OK && found) {
        const char *type = cw_col_text(q, outbox_read_type);
        cw_copy(out->kind, sizeof out->kind, cw_col_text(q, outbox_read_kind));
        cw_copy(out->state, sizeof out->state, cw_col_text(q, outbox_read_state));
        out->tries = cw_col_int(q, outbox_read_tries);
        out->notice = cw_col_int(q, outbox_read_notice_id);
        out->test = type ? strcmp(type, "test") == 0 : out->kind[0] == 't';
    }
    cw_code end = cw_stmt_end(q, err);
    if (code == CW_OK && end == CW_OK && !found)
        return cw_error_at(err, CW_NOT_FOUND, NULL, 0, "letter", "there is no %lld in the outbox",
                           (long long)id);
    return code == CW_OK ? end : code;
}

cw_code cw_outbox_of_notice(cw_db *db, int64_t notice, cw_outbox_row *out, cw_error *err)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(db, "outbox.of_notice");
    *out = (cw_outbox_row){ .notice = notice };
    cw_code code = cw_stmt_one(q, &found, err, "i", notice);
    if (code == CW_OK && found) {
        out->id = cw_col_int(q, outbox_of_notice_id);
        cw_copy(out->state, sizeof out->state, cw_col_text(q, outbox_of_notice_state));
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_outbox_again(cw_db *db, int64_t id, cw_instant at, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "outbox.again"), err, "ii", id, at);
}

cw_code cw_outbox_remove(cw_db *db, int64_t id, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "outbox.remove"), err, "i", id);
}

cw_code cw_outbox_remove_tests(cw_db *db, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "outbox.remove_tests"), err, "");
}

cw_code cw_outbox_open_hook(cw_db *db, bool *out, cw_error *err)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(db, "outbox.open_hook");
    cw_code code = cw_stmt_one(q, &found, err, "");
    *out = code == CW_OK && found && cw_col_int(q, outbox_open_hook_any_open) != 0;
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_outbox_remove_hooks(cw_db *db, bool tests, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "outbox.remove_hooks"), err, "i", (int64_t)tests);
}

cw_code cw_outbox_trim_hooks(cw_db *db, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "outbox.trim_hooks"), err, "i", (int64_t)CW_HOOKS_KEPT);
}

cw_code cw_outbox_hurry_hooks(cw_db *db, cw_instant at, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "outbox.hurry_hooks"), err, "i", at);
}

static const cw_column outbox_list_columns[] = {
    { "letter", CW_INT_T },
    { "kind", CW_TEXT_T, .words = cw_words_outbox_kinds },
    { "state", CW_TEXT_T, .words = cw_words_outbox_states },
    { "notice", CW_INT_T, .null = true },
    { "order", CW_TEXT_T, .null = true },
    { "email", CW_TEXT_T, .null = true },
    { "tries", CW_INT_T },
    { "next_at", CW_INSTANT_T },
    { "queued_at", CW_INSTANT_T },
    { "queued_by", CW_TEXT_T },
    { "done_at", CW_INSTANT_T, .null = true },
    { "words", CW_TEXT_T, .null = true },
    { "varieties", CW_INT_T, .null = true, .says = "of which a hook tells a shop" },
    { "orders", CW_INT_T, .null = true, .says = "the same" },
};
const cw_shape cw_outbox_list_shape = CW_ROWS(outbox_list_columns);

cw_code cw_outbox_list(cw_db *db, const char *state, cw_table *out, cw_error *err)
{
    cw_table_init(out, outbox_list_columns, CW_WIDTH(outbox_list_columns));
    return cw_rows_fill(db, "outbox.list", out, err, "t", state);
}

cw_code cw_outbox_channel(cw_db *db, const char *channel, cw_channel_row *out, cw_error *err)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(db, "outbox.channel");
    *out = (cw_channel_row){ .stopped = false };
    cw_code code = cw_stmt_one(q, &found, err, "t", channel);
    if (code == CW_OK && found) {
        const char *tested = cw_col_text(q, outbox_channel_tested),
                   *words = cw_col_text(q, outbox_channel_words);
        out->stopped = cw_col_int(q, outbox_channel_stopped) != 0;
        cw_copy(out->tested, sizeof out->tested, tested ? tested : "");
        out->failures = cw_col_int(q, outbox_channel_failures);
        out->quiet_until = cw_col_int(q, outbox_channel_quiet_until);
        cw_copy(out->words, sizeof out->words, words ? words : "");
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_outbox_counts(cw_db *db, const char *channel, cw_channel_row *out, cw_error *err)
{
    bool found = false;
    cw_stmt *q = cw_db_stmt(db, "outbox.counts");
    cw_code code = cw_stmt_one(q, &found, err, "t", channel);
    if (code == CW_OK && found) {
        out->waits = cw_col_int(q, outbox_counts_waits);
        out->sent = cw_col_int(q, outbox_counts_sent);
        out->refused = cw_col_int(q, outbox_counts_refused);
        out->unsure = cw_col_int(q, outbox_counts_unsure);
    }
    cw_code end = cw_stmt_end(q, err);
    return code == CW_OK ? end : code;
}

cw_code cw_outbox_stop(cw_db *db, const char *channel, bool stopped, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "outbox.stop"), err, "ti", channel, (int64_t)stopped);
}

cw_code cw_outbox_tested(cw_db *db, const char *channel, const char *digest, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "outbox.tested"), err, "tt", channel, digest);
}

cw_code cw_outbox_failed(cw_db *db, const char *channel, cw_instant quiet_until, const char *words,
                         cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "outbox.failed"), err, "tit", channel, quiet_until, words);
}

cw_code cw_outbox_worked(cw_db *db, const char *channel, cw_error *err)
{
    return cw_stmt_run(cw_db_stmt(db, "outbox.worked"), err, "t", channel);
}
