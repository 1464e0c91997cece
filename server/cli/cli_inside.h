/* SPDX-License-Identifier: MIT */
#ifndef CW_SERVER_CLI_INSIDE_H
#define CW_SERVER_CLI_INSIDE_H

/* Inside of cli/: shared by cli.c, output.c and help.c, and called by their tests. */
#include "cli/cli.h"

/* Words after the verb into `call`; `arguments` has room for argc of them. Checks each value and what is
 * required. */
cw_code cw_cli_parse(const cw_verb *verb, int argc, const char *const argv[], const char **arguments,
                     cw_call *call, bool *help, cw_error *err) CW_MUST_CHECK;
const cw_option *cw_cli_common(size_t *count);

/* Help as text; verb NULL: the list of verbs. */
void cw_help_text(const cw_verb *verb, cw_text *out);
void cw_help_man(cw_text *out);
cw_code cw_help_print(const cw_verb *verb, cw_error *err) CW_MUST_CHECK;
cw_code cw_help_print_man(cw_error *err) CW_MUST_CHECK;
cw_code cw_help_print_openapi(cw_error *err) CW_MUST_CHECK; /* the contract, http/route.h */
cw_code cw_help_version(cw_error *err) CW_MUST_CHECK;

/* Standard output: bytes that it does not take are an error of the machine, told once at the latest by flush.
 */
cw_code cw_output_write(const char *bytes, size_t n, cw_error *err) CW_MUST_CHECK;
cw_code cw_call_flush(cw_error *err) CW_MUST_CHECK;

bool cw_call_progress(void *context, const char *what, uint64_t done, uint64_t all);
void cw_call_end_bar(cw_call *call);

#endif
