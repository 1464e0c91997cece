/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "clock.h"
#include "cli/cli_inside.h"
#include "desk/forecast/hindsight.h"
#include "desk/nursery/past.h"
#include <assert.h>
#include <pwd.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/banned.h"

/* Options of every verb. Their place in call->values is after the verb's own. */
static const cw_option common[] = {
    { "--csv", CW_BOOL_T, NULL, "the result as CSV", 0, 0, NULL, false },
    { "--json", CW_BOOL_T, NULL, "the result as JSON", 0, 0, NULL, false },
    { "--today", CW_DAY_T, "DATE", "the day to take for today", 0, 0, NULL, false },
    { "--help", CW_BOOL_T, NULL, "this text", 0, 0, NULL, false },
};
enum { COMMON_CSV, COMMON_JSON, COMMON_TODAY, COMMON_HELP, COMMON_COUNT };

static int own_count(const cw_verb *verb)
{
    int n = 0;
    while (verb->options && verb->options[n].name)
        n++;
    assert(n + COMMON_COUNT <= CW_MAX_OPTIONS);
    return n;
}

const cw_option *cw_cli_common(size_t *count)
{
    *count = COMMON_COUNT;
    return common;
}

/* The option that `word` names up to '=' or its end; *at is its place in call->values. */
static const cw_option *find_option(const cw_verb *verb, const char *word, int *at)
{
    size_t n = strcspn(word, "=");
    int own = own_count(verb);
    for (int i = 0; i < own + COMMON_COUNT; i++) {
        const cw_option *o = i < own ? &verb->options[i] : &common[i - own];
        if (strlen(o->name) == n && strncmp(o->name, word, n) == 0) {
            *at = i;
            return o;
        }
    }
    return NULL;
}

/* A text may be any: a path, a reason; who takes it knows how long it may be. */
static cw_code check_value(const cw_option *o, const char *s, cw_error *err)
{
    cw_holds h = { .type = o->type, .low = o->low, .high = o->high, .words = o->words };
    cw_value v = { 0 };
    char why[CW_WHY_BYTES];
    if ((o->type == CW_TEXT_T && o->words == NULL) || cw_value_parse(&h, s, strlen(s), &v))
        return CW_OK;
    return cw_error_set(err, CW_USAGE, "%s %s", o->name, cw_value_why(&h, s, strlen(s), why));
}

/* Takes the option at argv[*i] (and its value) into the call; *i moves to the last word used. */
static cw_code take_option(cw_call *call, int argc, const char *const argv[], int *i, cw_error *err)
{
    const char *word = argv[*i];
    char shown[80];
    int at = 0;
    const cw_option *o = find_option(call->verb, word, &at);
    if (o == NULL)
        return cw_error_set(err, CW_USAGE, "%s has no option '%s'; 'clumpwise %s --help' lists them",
                            call->verb->name, cw_shown(word, strlen(word), shown), call->verb->name);
    if (call->values[at] && !o->many)
        return cw_error_set(err, CW_USAGE, "%s is given twice", o->name);
    if (o->many && call->manies == CW_MAX_MANY)
        return cw_error_set(err, CW_USAGE, "%s is given more than %d times", o->name, CW_MAX_MANY);
    const char *equals = strchr(word, '=');
    if (o->type == CW_BOOL_T) {
        if (equals)
            return cw_error_set(err, CW_USAGE, "%s takes no value", o->name);
        call->values[at] = "1";
        return CW_OK;
    }
    if (o->maybe && equals == NULL &&
        (*i + 1 >= argc || argv[*i + 1][0] == '-' || strpbrk(argv[*i + 1], "./"))) {
        call->values[at] = "";
        return CW_OK;
    }
    if (equals == NULL && *i + 1 >= argc)
        return cw_error_set(err, CW_USAGE, "%s needs a value (%s)", o->name, o->value);
    call->values[at] = equals ? equals + 1 : argv[++*i];
    if (o->many)
        call->many[call->manies++] = call->values[at];
    return check_value(o, call->values[at], err);
}

static cw_code check_counts(const cw_call *call, cw_error *err)
{
    const cw_verb *verb = call->verb;
    int own = own_count(verb);
    for (int i = 0; i < own; i++)
        if (verb->options[i].required && call->values[i] == NULL)
            return cw_error_set(err, CW_USAGE, "%s needs %s %s", verb->name, verb->options[i].name,
                                verb->options[i].value);
    if (call->count < verb->least || (verb->most >= 0 && call->count > verb->most))
        return cw_error_set(err, CW_USAGE,
                            "the call is 'clumpwise %s %s [options]'; 'clumpwise %s --help' explains it",
                            verb->name, verb->arguments, verb->name);
    return CW_OK;
}

cw_code cw_cli_parse(const cw_verb *verb, int argc, const char *const argv[], const char **arguments,
                     cw_call *call, bool *help, cw_error *err)
{
    bool only_arguments = false;
    *call = (cw_call){ .verb = verb, .arguments = arguments, .today = CW_NO_DAY };
    for (int i = 0; i < argc; i++) {
        if (!only_arguments && strcmp(argv[i], "--") == 0) {
            only_arguments = true;
        } else if (!only_arguments && argv[i][0] == '-' && argv[i][1] != '\0') {
            cw_code code = take_option(call, argc, argv, &i, err);
            if (code != CW_OK)
                return code;
        } else {
            arguments[call->count++] = argv[i];
        }
    }
    const char **shared = call->values + own_count(verb);
    *help = shared[COMMON_HELP] != NULL;
    if (shared[COMMON_CSV] && shared[COMMON_JSON])
        return cw_error_set(err, CW_USAGE, "--csv and --json: choose one");
    call->show = shared[COMMON_CSV] ? CW_SHOW_CSV : shared[COMMON_JSON] ? CW_SHOW_JSON : CW_SHOW_PEOPLE;
    if (shared[COMMON_TODAY] && /* checked by take_option */
        !cw_day_parse(shared[COMMON_TODAY], strlen(shared[COMMON_TODAY]), &call->today))
        return CW_USAGE;
    return *help ? CW_OK : check_counts(call, err);
}

/* The value given for an option of the verb's own table, or NULL. */
static const char *value_of(const cw_call *call, const char *option, cw_type type)
{
    int at = -1;
    const cw_option *o = find_option(call->verb, option, &at);
    if (o == NULL || (type != CW_TEXT_T && o->type != type)) {
        fprintf(stderr, "clumpwise: %s has no such option %s\n", call->verb->name, option);
        abort();
    }
    return call->values[at];
}

bool cw_call_given(const cw_call *call, const char *option)
{
    return value_of(call, option, CW_TEXT_T) != NULL;
}

cw_code cw_call_past(const cw_call *call, cw_nursery *n, cw_error *err)
{
    cw_code code = CW_OK;
    for (size_t i = 0; code == CW_OK && i < call->manies; i++)
        code = cw_past_open(n, call->many[i], err);
    return code;
}

bool cw_call_flag(const cw_call *call, const char *option)
{
    return value_of(call, option, CW_BOOL_T) != NULL;
}

const char *cw_call_text(const cw_call *call, const char *option, const char *otherwise)
{
    const char *v = value_of(call, option, CW_TEXT_T);
    return v ? v : otherwise;
}

/* The values below were checked by check_value, so the readers cannot fail. */
int64_t cw_call_int(const cw_call *call, const char *option, int64_t otherwise)
{
    const char *v = value_of(call, option, CW_INT_T);
    int64_t out = otherwise;
    return v && cw_parse_int(v, strlen(v), INT64_MIN, INT64_MAX, &out) ? out : otherwise;
}

double cw_call_real(const cw_call *call, const char *option, double otherwise)
{
    const char *v = value_of(call, option, CW_REAL_T);
    double out = otherwise;
    return v && cw_parse_real(v, strlen(v), -1e300, 1e300, &out) ? out : otherwise;
}

cw_cents cw_call_money(const cw_call *call, const char *option, cw_cents otherwise)
{
    const char *v = value_of(call, option, CW_MONEY_T);
    cw_cents out = otherwise;
    return v && cw_cents_parse(v, strlen(v), &out) ? out : otherwise;
}

cw_day cw_call_day(const cw_call *call, const char *option, cw_day otherwise)
{
    const char *v = value_of(call, option, CW_DAY_T);
    cw_day out = otherwise;
    return v && cw_day_parse(v, strlen(v), &out) ? out : otherwise;
}

cw_week cw_call_week(const cw_call *call, const char *option, cw_week otherwise)
{
    const char *v = value_of(call, option, CW_WEEK_T);
    cw_week out = otherwise;
    return v && cw_week_parse(v, strlen(v), &out) ? out : otherwise;
}

/* Ledger and audit name the person by the login, since on the command line the file's own permissions let
 * them in. */
static void set_actor(cw_call *call)
{
    struct passwd room, *found = NULL;
    char bytes[1024];
    if (getpwuid_r(getuid(), &room, bytes, sizeof bytes, &found) != 0)
        found = NULL;
    cw_copy(call->actor, sizeof call->actor, found && found->pw_name ? found->pw_name : "local");
    call->who.actor = call->actor;
    call->who.role = CW_ROLE_OWNER;
}

void cw_call_clock(cw_call *call, const char *zone)
{
    cw_clock_zone(zone);
    cw_clock_set(&call->who, call->today);
}

/* What is said at a month's end goes on record with the first write after it, as a running server keeps it. Where that cannot be, the
 * verb does its own work all the same. */
static void keep_said(const cw_call *call, cw_nursery *n)
{
    bool kept = false;
    cw_error ignored = CW_ERROR_NONE;
    (void)!cw_hindsight_keep(n, &call->who, &kept, &ignored);
}

cw_code cw_call_open(cw_call *call, cw_access access, cw_nursery **out, cw_error *err)
{
    char holder[64];
    snprintf(holder, sizeof holder, "clumpwise %s", call->verb->name);
    cw_code code = cw_nursery_open(call->arguments[0], access, holder, out, err);
    if (code == CW_OK)
        cw_call_clock(call, cw_nursery_season(*out)->timezone);
    if (code == CW_OK && access == CW_WORK)
        keep_said(call, *out);
    return code;
}

cw_code cw_call_action(cw_call *call, const cw_action *actions, const char *usage, cw_error *err)
{
    for (const cw_action *a = actions; a->word; a++) {
        cw_nursery *n = NULL;
        if (strcmp(a->word, call->arguments[1]) != 0 || call->count != 2 + a->names)
            continue;
        cw_code code = cw_call_open(call, a->access, &n, err);
        if (code == CW_OK)
            code = a->run(call, n, a->names ? call->arguments[2] : NULL, err);
        cw_nursery_close(n);
        return code;
    }
    return cw_error_set(err, CW_USAGE, "%s", usage);
}

static const cw_verb *find_verb(const char *name)
{
    const cw_verb *v;
    for (size_t i = 0; (v = cw_verb_at(i)); i++)
        if (strcmp(v->name, name) == 0)
            break;
    return v;
}

static cw_code run_verb(const cw_verb *verb, int argc, const char *const argv[], cw_error *err)
{
    cw_call call;
    bool help = false;
    const char **arguments = calloc((size_t)argc + 1, sizeof *arguments);
    cw_code code = arguments ? CW_OK : cw_error_memory(err);
    if (code == CW_OK)
        code = cw_cli_parse(verb, argc, argv, arguments, &call, &help, err);
    if (code == CW_OK && help) {
        code = cw_help_print(verb, err);
    } else if (code == CW_OK) {
        set_actor(&call);
        call.who.progress = cw_call_progress;
        call.who.progress_context = &call;
        code = verb->run(&call, err);
        cw_call_end_bar(&call);
    }
    free(arguments);
    return code;
}

static cw_code dispatch(int argc, const char *const argv[], cw_error *err)
{
    const char *name = argc > 1 ? argv[1] : "help";
    char shown[80];
    if (strcmp(name, "--version") == 0)
        return cw_help_version(err);
    if (strcmp(name, "help") == 0 || strcmp(name, "--help") == 0 || strcmp(name, "-h") == 0) {
        if (argc > 2 && strcmp(argv[2], "--man") == 0)
            return cw_help_print_man(err);
        if (argc > 2 && strcmp(argv[2], "--openapi") == 0)
            return cw_help_print_openapi(err);
        return cw_help_print(argc > 2 ? find_verb(argv[2]) : NULL, err);
    }
    const cw_verb *verb = find_verb(name);
    if (verb == NULL)
        return cw_error_set(err, CW_USAGE, "there is no verb '%s'; 'clumpwise help' lists them",
                            cw_shown(name, strlen(name), shown));
    return run_verb(verb, argc - 2, argv + 2, err);
}

int cw_cli(int argc, const char *const argv[])
{
    cw_error err = CW_ERROR_NONE;
    cw_code code = dispatch(argc, argv, &err);
    if (code == CW_OK)
        code = cw_call_flush(&err);
    if (code != CW_OK) {
        char line[1600];
        cw_error_line(&err, line, sizeof line);
        fprintf(stderr, "clumpwise: %s\n", line);
    }
    return cw_code_exit(code);
}
