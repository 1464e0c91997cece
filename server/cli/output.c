/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "clock.h"
#include "cli/cli_inside.h"

#include "base/banned.h"

#define BAR_EVERY_MS 100
#define BAR_WIDTH    30

/* A reader that has seen enough and closed the pipe ("| head") is no failure: the rest is dropped in silence. A verb
 * that writes has done its work by the time its result is shown. */
static cw_code cannot_write(cw_error *err)
{
    if (errno == EPIPE)
        _exit(0);
    return cw_error_set(err, CW_MACHINE, "the result cannot be written: %s", strerror(errno));
}

cw_code cw_output_write(const char *bytes, size_t n, cw_error *err)
{
    return fwrite(bytes, 1, n, stdout) == n ? CW_OK : cannot_write(err);
}

cw_code cw_call_flush(cw_error *err)
{
    return fflush(stdout) == 0 && !ferror(stdout) ? CW_OK : cannot_write(err);
}

static cw_code write_out(void *self, const char *bytes, size_t n, cw_error *err)
{
    cw_call_end_bar(self);
    return cw_output_write(bytes, n, err);
}

cw_sink cw_call_output(cw_call *call)
{
    return (cw_sink){ write_out, call };
}

cw_code cw_call_show(cw_call *call, const cw_table *t, cw_error *err)
{
    cw_sink out = cw_call_output(call);
    cw_code code = cw_table_check(t, err);
    if (code != CW_OK)
        return code;
    switch (call->show) {
    case CW_SHOW_CSV:
        return cw_table_csv(t, out, err);
    case CW_SHOW_JSON:
        code = cw_table_json(t, out, err);
        return code == CW_OK ? out.write(out.self, "\n", 1, err) : code;
    case CW_SHOW_PEOPLE:
        break;
    }
    return cw_table_print(t, out, err);
}

static int dump_piece(const char *bytes, size_t n, void *data)
{
    cw_text_addn(data, bytes, n);
    return 0;
}

cw_code cw_call_show_take(cw_call *call, cw_code code, cw_table *t, cw_error *err)
{
    if (code == CW_OK)
        code = cw_call_show(call, t, err);
    cw_table_free(t);
    return code;
}

cw_code cw_call_show_json(cw_call *call, const json_t *document, cw_error *err)
{
    cw_text text = CW_TEXT((size_t)1 << 30);
    cw_sink out = cw_call_output(call);
    int rc = json_dump_callback(document, dump_piece, &text, JSON_INDENT(1) | JSON_REAL_PRECISION(12));
    cw_text_addc(&text, '\n');
    cw_code code = rc != 0 ? cw_error_memory(err) : cw_text_check(&text, err);
    if (code == CW_OK)
        code = out.write(out.self, text.data, text.length, err);
    cw_text_free(&text);
    return code;
}

void cw_call_say(cw_call *call, const char *format, ...)
{
    va_list args;
    cw_call_end_bar(call);
    va_start(args, format);
    vfprintf(stderr, format, args);
    va_end(args);
    fputc('\n', stderr);
}

void cw_call_say_errors(cw_call *call, const cw_error_list *errors)
{
    char line[1600];
    for (size_t i = 0; i < errors->kept; i++) {
        cw_error_line(&errors->items[i], line, sizeof line);
        cw_call_say(call, "%s", line);
    }
    if (errors->count > (long)errors->kept)
        cw_call_say(call, "and %ld more", errors->count - (long)errors->kept);
}

/* Drawn only where a person looks on, and not more often than an eye can follow. */
bool cw_call_progress(void *context, const char *what, uint64_t done, uint64_t all)
{
    cw_call *call = context;
    char bar[BAR_WIDTH + 1];
    int64_t now = cw_clock_ticks();
    if (what == NULL) /* it only asks whether to go on */
        return true;
    if (!isatty(STDERR_FILENO) ||
        (call->bar && now - call->bar_at < BAR_EVERY_MS && (all == 0 || done < all)))
        return true;
    if (all == 0) { /* nobody knows how far it is */
        fprintf(stderr, "\r\033[K%-30.30s", what ? what : "");
        fflush(stderr);
        call->bar = true;
        call->bar_at = now;
        return true;
    }
    double part = (double)done / (double)all;
    int full = (int)((part > 1 ? 1 : part) * BAR_WIDTH);
    for (int i = 0; i < BAR_WIDTH; i++)
        bar[i] = i < full ? '#' : '.';
    bar[BAR_WIDTH] = '\0';
    fprintf(stderr, "\r[%s] %3.0f%%  %-30.30s", bar, part * 100, what ? what : "");
    fflush(stderr);
    call->bar = true;
    call->bar_at = now;
    return true;
}

void cw_call_end_bar(cw_call *call)
{
    if (call->bar)
        fputs("\r\033[K", stderr);
    call->bar = false;
}
