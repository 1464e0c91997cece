/* SPDX-License-Identifier: MIT */
#ifndef CW_SERVER_CLI_H
#define CW_SERVER_CLI_H

#include "base/csv.h"
#include "base/table.h"
#include "desk/nursery/nursery.h"

/* What a verb is, and what it may use. A verb is an option table and one function that opens the
 * nursery, calls one desk function and shows the answer. The table at the end of its family's file (cli/<family>.c; most have one verb)
 * puts it on the command line, into `help` and into the man page; a new family stands in the list of families, too (verbs.c). `--help`, `--csv`, `--json` and `--today DATE` are every verb's and
 * stand in no table.
 *
 * USAGE (server/cli/schedule.c, shortened):
 *
 *     static const cw_option options[] = {
 *         { "--preview", CW_BOOL_T, NULL, "show the weeks without recording them", 0, 0, NULL, false },
 *         { 0 },
 *     };
 *     static cw_code run(cw_call *call, cw_error *err)
 *     {
 *         cw_nursery *n = NULL;
 *         cw_table t = { 0 };
 *         bool preview = cw_call_flag(call, "--preview");
 *         cw_code code = cw_call_open(call, preview ? CW_LOOK : CW_WORK, &n, err);
 *         if (code == CW_OK)
 *             code = cw_shipping_schedule(n, &call->who, !preview, &t, err);
 *         code = cw_call_show_take(call, code, &t, err);
 *         cw_nursery_close(n);
 *         return code;
 *     }
 *     const cw_verb cw_verbs_schedule[] = {
 *         { "schedule", "NURSERY.db", "ship weeks for orders", "...", "clumpwise schedule season2031.db", options, 1, 1, run },
 *         { 0 },
 *     };
 */
typedef struct cw_option {
    const char *name;  /* "--ship" */
    cw_type type;      /* what it holds (base/value.h); CW_BOOL_T stands alone */
    const char *value; /* what help calls its value, "DATE"; NULL for a flag */
    const char *help;  /* one clause, no full stop */
    double low, high;  /* of CW_INT_T, CW_REAL_T */
    const char *words; /* of CW_TEXT_T: one of these, cw_words_supplies */
    bool required;
    /* of a text: the next word is its value unless it looks like a file or an option; else it is empty */
    bool maybe;
    bool many; /* of one option of a verb: it may be given as often as needed, cw_call_many */
} cw_option;

typedef struct cw_call cw_call;

typedef struct cw_verb {
    const char *name;         /* "project" */
    const char *arguments;    /* as help shows them: "NURSERY.db FILE..." */
    const char *summary;      /* one clause for the list of verbs */
    const char *about;        /* a paragraph for its own help */
    const char *example;      /* one full command line */
    const cw_option *options; /* ends with a zeroed one; may be NULL */
    int least, most;          /* how many arguments, the nursery file counted; most < 0 = no end */
    cw_code (*run)(cw_call *call, cw_error *err);
} cw_verb;

/* The verbs of all families, one after another from 0, in the order of help; NULL past the last. */
const cw_verb *cw_verb_at(size_t place);

typedef enum cw_show { CW_SHOW_PEOPLE, CW_SHOW_CSV, CW_SHOW_JSON } cw_show;

#define CW_MAX_OPTIONS 32
#define CW_MAX_MANY    40
#define CW_CALL_ACTOR  64

/* One run of a verb. Verb files read `arguments`, `who` and `show`; the rest is cli.c's. */
struct cw_call {
    const cw_verb *verb;
    const char *const *arguments; /* [0] is the nursery file; borrowed from main */
    int count;
    cw_asker who; /* actor: login name; role owner; today and now are set by cw_call_open */
    cw_show show;
    cw_day today;                       /* of --today, else CW_NO_DAY */
    const char *values[CW_MAX_OPTIONS]; /* by the option's index; NULL when it was not given */
    const char *many[CW_MAX_MANY];      /* all values of the option that may be given often */
    size_t manies;
    char actor[CW_CALL_ACTOR];
    bool bar;       /* a progress bar stands on the terminal */
    int64_t bar_at; /* when it was last drawn, milliseconds */
};

/* Opens arguments[0] and fixes who.today and who.now: of --today, else of the clock in the nursery's time
 * zone. */
cw_code cw_call_open(cw_call *call, cw_access access, cw_nursery **out, cw_error *err) CW_MUST_CHECK;

/* Sets who.today and who.now for a verb that opens no existing nursery (`new`); zone may be NULL for UTC.
 */
void cw_call_clock(cw_call *call, const char *zone);

/* Values of options; `otherwise` when the option was not given. An option that is not in the verb's table is
 * a programming error. Texts are borrowed from the command line. */
bool cw_call_given(const cw_call *call, const char *option);
bool cw_call_flag(const cw_call *call, const char *option);

/* Opens the files of past seasons that the verb's --past names beside the nursery (desk/nursery/past.h). */
cw_code cw_call_past(const cw_call *call, cw_nursery *n, cw_error *err) CW_MUST_CHECK;
const char *cw_call_text(const cw_call *call, const char *option, const char *otherwise);
int64_t cw_call_int(const cw_call *call, const char *option, int64_t otherwise);
double cw_call_real(const cw_call *call, const char *option, double otherwise);
cw_cents cw_call_money(const cw_call *call, const char *option, cw_cents otherwise);
cw_day cw_call_day(const cw_call *call, const char *option, cw_day otherwise);
cw_week cw_call_week(const cw_call *call, const char *option, cw_week otherwise);

/* The result, to standard output: a table for people, CSV or JSON as asked. A document that is no table
 * (JSON) is shown as JSON under --json and under anything else when there is no other form of it. */
cw_code cw_call_show(cw_call *call, const cw_table *t, cw_error *err) CW_MUST_CHECK;
/* How most verbs end: the table if `code` is CW_OK. Frees the table in any case. */
cw_code cw_call_show_take(cw_call *call, cw_code code, cw_table *t, cw_error *err) CW_MUST_CHECK;
cw_code cw_call_show_json(cw_call *call, const json_t *document, cw_error *err) CW_MUST_CHECK;
cw_sink cw_call_output(cw_call *call); /* standard output itself, for plain text such as a printed walk */

/* A line for the person, to standard error; a newline is added. */
void cw_call_say(cw_call *call, const char *format, ...) CW_PRINTF(2, 3);

/* The listed errors of a load, to standard error: those kept, then how many more. */
void cw_call_say_errors(cw_call *call, const cw_error_list *errors);

/* For verbs that do several things, told by the word after the nursery file ("user FILE add NAME"): opens the
 * nursery as the action needs and runs it. `actions` ends with a zeroed one; `usage` is the error when none
 * fits. */
typedef struct cw_action {
    const char *word;
    int names; /* how many arguments follow the word: 0 or 1 */
    cw_access access;
    cw_code (*run)(cw_call *call, cw_nursery *n, const char *name,
                   cw_error *err); /* name is NULL without one */
} cw_action;
cw_code cw_call_action(cw_call *call, const cw_action *actions, const char *usage,
                       cw_error *err) CW_MUST_CHECK;

/* The program: finds the verb of argv[1], parses, runs it, and gives the exit status. */
int cw_cli(int argc, const char *const argv[]);

#endif
