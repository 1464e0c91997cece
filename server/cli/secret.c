/* SPDX-License-Identifier: MIT */
#include "cli/secret_inside.h"

#include <sodium.h>
#include <stdio.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

#include "base/banned.h"

void cw_secret_wipe(void *bytes, size_t n)
{
    sodium_memzero(bytes, n);
}

static cw_code read_line(char out[CW_SECRET_BYTES], cw_error *err)
{
    if (fgets(out, CW_SECRET_BYTES, stdin) == NULL)
        return cw_error_set(err, CW_REFUSED, "no password came on standard input");
    size_t n = strcspn(out, "\r\n");
    if (out[n] == '\0' && n + 1 == CW_SECRET_BYTES)
        return cw_error_set(err, CW_REFUSED, "the password is longer than %d bytes", CW_SECRET_BYTES - 2);
    out[n] = '\0';
    return CW_OK;
}

static cw_code ask(const char *before, const char *prompt, const char *name, char out[CW_SECRET_BYTES],
                   cw_error *err)
{
    struct termios shown, hidden;
    fprintf(stderr, "%s%s%s: ", before, prompt, name);
    if (tcgetattr(STDIN_FILENO, &shown) != 0)
        return cw_error_set(err, CW_MACHINE, "the terminal does not answer");
    hidden = shown;
    hidden.c_lflag &= ~(tcflag_t)ECHO;
    tcsetattr(STDIN_FILENO, TCSAFLUSH, &hidden);
    cw_code code = read_line(out, err);
    tcsetattr(STDIN_FILENO, TCSAFLUSH, &shown);
    fputc('\n', stderr);
    return code;
}

cw_code cw_secret_read(const char *prompt, const char *name, char out[CW_SECRET_BYTES], cw_error *err)
{
    char again[CW_SECRET_BYTES] = "";
    if (!isatty(STDIN_FILENO))
        return read_line(out, err);
    cw_code code = ask("", prompt, name, out, err);
    if (code == CW_OK)
        code = ask("Once more. ", prompt, name, again, err);
    if (code == CW_OK && strcmp(out, again) != 0)
        code = cw_error_set(err, CW_REFUSED, "the two passwords differ; nothing was changed");
    cw_secret_wipe(again, sizeof again);
    return code;
}
