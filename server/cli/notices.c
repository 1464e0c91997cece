/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "desk/orders/notices.h"
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/banned.h"

static const cw_option options[] = {
    { "--look", CW_BOOL_T, NULL, "only list what is on record, do not look for more", 0, 0, NULL, false },
    { "--state", CW_TEXT_T, "STATE", "list these (due if not given)", 0, 0, cw_words_notice_lists, false },
    { "--due-by", CW_DAY_T, "DATE", "only those due by then", 0, 0, NULL, false },
    { "--merge", CW_BOOL_T, NULL, "with their texts, for a mail merge; with --csv", 0, 0, NULL, false },
    { "--eml", CW_TEXT_T, "DIR", "write each as a message file (.eml) into this folder", 0, 0, NULL, false },
    { "--sent", CW_INT_T, "NOTICE", "put on record that it was sent; with --evidence", 1, 9e15, NULL, false },
    { "--sent-all", CW_BOOL_T, NULL,
      "put on record that all due ones were sent (with --due-by: those due by then); with --evidence", 0, 0,
      NULL, false },
    { "--evidence", CW_TEXT_T, "TEXT", "how it was sent and what proves it", 0, 0, NULL, false },
    { "--drop", CW_INT_T, "NOTICE", "it need not be sent; with --why", 1, 9e15, NULL, false },
    { "--why", CW_TEXT_T, "TEXT", "why it need not be sent", 0, 0, NULL, false },
    { "--refunds", CW_BOOL_T, NULL, "what is owed per order and why; with --state all also what is settled",
      0, 0, NULL, false },
    { "--texts", CW_BOOL_T, NULL, "show the texts", 0, 0, NULL, false },
    { "--text", CW_TEXT_T, "KIND", "change the text of this kind; with --from", 0, 0, cw_words_notice_kinds,
      false },
    { "--language", CW_TEXT_T, "LANGUAGE", "of that text; the nursery's if not given", 0, 0,
      cw_words_languages, false },
    { "--from", CW_TEXT_T, "FILE", "its first line becomes the subject, the rest the text", 0, 0, NULL,
      false },
    { 0 },
};

#define MAX_TEXT_FILE (256 * 1024)

static const char *state_of(const cw_call *call)
{
    const char *state = cw_call_text(call, "--state", "due");
    return strcmp(state, "all") == 0 ? NULL : state;
}

static cw_code write_file(const char *path, const cw_text *t, cw_error *err)
{
    unlink(path);
    int fd = open(path, O_CREAT | O_EXCL | O_WRONLY | O_CLOEXEC, 0600);
    FILE *f = fd >= 0 ? fdopen(fd, "wb") : NULL;
    if (f == NULL)
        return cw_error_at(err, CW_MACHINE, path, 0, NULL, "cannot be written: %s", strerror(errno));
    bool well = fwrite(t->data, 1, t->length, f) == t->length;
    well = fclose(f) == 0 && well;
    return well ? CW_OK
                : cw_error_at(err, CW_MACHINE, path, 0, NULL, "cannot be written: %s", strerror(errno));
}

/* One file each; an order without a usable address is told and passed over, a missing sender ends it. */
static cw_code write_messages(cw_call *call, cw_nursery *n, const char *folder, cw_error *err)
{
    int64_t *ids = NULL;
    size_t count = 0, written = 0;
    char path[1200];
    if (mkdir(folder, 0700) != 0 && errno != EEXIST)
        return cw_error_at(err, CW_MACHINE, folder, 0, NULL, "cannot be made: %s", strerror(errno));
    cw_code code =
        cw_notices_numbers(n, state_of(call), cw_call_day(call, "--due-by", CW_NO_DAY), &ids, &count, err);
    for (size_t i = 0; i < count && code == CW_OK; i++) {
        cw_text eml = CW_TEXT((size_t)1 << 20);
        cw_error why = CW_ERROR_NONE;
        code = cw_notices_message(n, &call->who, ids[i], &eml, &why);
        if (code == CW_REFUSED && strcmp(why.column, "to") == 0) {
            cw_call_say(call, "notice %lld: %s", (long long)ids[i], why.text);
            code = CW_OK;
        } else if (code != CW_OK) {
            *err = why;
        } else {
            snprintf(path, sizeof path, "%s/notice-%lld.eml", folder, (long long)ids[i]);
            code = write_file(path, &eml, err);
            written++;
        }
        cw_text_free(&eml);
    }
    free(ids);
    if (code == CW_OK)
        cw_call_say(call,
                    "%zu messages written into %s; none is sent until you send it and put that on record",
                    written, folder);
    return code;
}

static cw_code change_text(cw_call *call, cw_nursery *n, cw_error *err)
{
    const char *path = cw_call_text(call, "--from", NULL);
    char *bytes = calloc(1, MAX_TEXT_FILE + 1), *body = NULL;
    FILE *f = bytes ? fopen(path, "rb") : NULL;
    cw_code code = bytes == NULL ? cw_error_memory(err)
                   : f == NULL
                       ? cw_error_at(err, CW_MACHINE, path, 0, NULL, "cannot be read: %s", strerror(errno))
                       : CW_OK;
    if (code == CW_OK && fread(bytes, 1, MAX_TEXT_FILE + 1, f) > MAX_TEXT_FILE)
        code = cw_error_at(err, CW_REFUSED, path, 0, NULL, "is longer than %d bytes", MAX_TEXT_FILE);
    if (f)
        fclose(f);
    if (code == CW_OK) {
        bytes[MAX_TEXT_FILE] = '\0';
        body = strchr(bytes, '\n');
        if (body == NULL)
            code = cw_error_at(err, CW_REFUSED, path, 0, NULL,
                               "must have a first line as subject and a text after it");
    }
    if (code == CW_OK) {
        *body++ = '\0';
        code = cw_notices_template_set(n, &call->who, cw_call_text(call, "--text", NULL),
                                       cw_call_text(call, "--language", NULL), bytes,
                                       body + strspn(body, "\n"), err);
    }
    free(bytes);
    return code;
}

static cw_code look_for_more(cw_call *call, cw_nursery *n, cw_error *err)
{
    cw_notices_made m;
    char caution[256];
    cw_code code = cw_notices_make(n, &call->who, &m, err);
    if (code == CW_OK)
        code = cw_notices_caution(n, caution, sizeof caution, err);
    if (code == CW_OK)
        cw_call_say(call, "%lld new, %lld known, %lld no longer so. %s", (long long)m.made, (long long)m.kept,
                    (long long)m.withdrawn, caution);
    return code;
}

static cw_code show(cw_call *call, cw_nursery *n, cw_error *err)
{
    cw_table t = { 0 };
    cw_day by = cw_call_day(call, "--due-by", CW_NO_DAY);
    cw_code code;
    if (cw_call_flag(call, "--refunds"))
        code = cw_notices_refunds(n, &call->who, state_of(call) == NULL, &t, err);
    else if (cw_call_flag(call, "--texts") || cw_call_given(call, "--text"))
        code = cw_notices_templates(n, &t, err);
    else if (cw_call_flag(call, "--merge"))
        code = cw_notices_merge(n, &call->who, state_of(call), by, &t, err);
    else
        code = cw_notices_show(n, &call->who, state_of(call), by, &t, err);
    return cw_call_show_take(call, code, &t, err);
}

/* What is due, as the list shows it: nothing is looked for, so that only what was seen and written is called sent. */
static cw_code sent_all(cw_call *call, cw_nursery *n, cw_error *err)
{
    int64_t *ids = NULL;
    size_t count = 0;
    cw_code code = cw_notices_numbers(n, "due", cw_call_day(call, "--due-by", CW_NO_DAY), &ids, &count, err);
    if (code == CW_OK && count > 0)
        code = cw_notices_sent_all(n, &call->who, ids, count, cw_call_text(call, "--evidence", NULL), err);
    free(ids);
    if (code == CW_OK)
        cw_call_say(call,
                    count == 1 ? "%zu notice is on record as sent" : "%zu notices are on record as sent",
                    count);
    return code;
}

static cw_code run(cw_call *call, cw_error *err)
{
    cw_nursery *n = NULL;
    bool all = cw_call_flag(call, "--sent-all"), sent = cw_call_given(call, "--sent"),
         drop = cw_call_given(call, "--drop"), text = cw_call_given(call, "--text");
    bool look = cw_call_flag(call, "--look") || cw_call_flag(call, "--refunds") ||
                cw_call_flag(call, "--texts") || cw_call_flag(call, "--merge") ||
                cw_call_given(call, "--eml");
    if ((sent || all) != cw_call_given(call, "--evidence") || drop != cw_call_given(call, "--why") ||
        text != cw_call_given(call, "--from"))
        return cw_error_set(
            err, CW_USAGE, "--sent and --sent-all go with --evidence, --drop with --why, --text with --from");
    if (sent + all + drop + text + look > 1)
        return cw_error_set(err, CW_USAGE, "one thing at a time: look, or settle a notice, or change a text");
    cw_code code = cw_call_open(call, look ? CW_LOOK : CW_WORK, &n, err);
    if (code == CW_OK && sent)
        code = cw_notices_sent(n, &call->who, cw_call_int(call, "--sent", 0),
                               cw_call_text(call, "--evidence", NULL), err);
    else if (code == CW_OK && all)
        code = sent_all(call, n, err);
    else if (code == CW_OK && drop)
        code = cw_notices_drop(n, &call->who, cw_call_int(call, "--drop", 0),
                               cw_call_text(call, "--why", NULL), err);
    else if (code == CW_OK && text)
        code = change_text(call, n, err);
    else if (code == CW_OK && !look)
        code = look_for_more(call, n, err);
    if (code == CW_OK && cw_call_given(call, "--eml"))
        code = write_messages(call, n, cw_call_text(call, "--eml", NULL), err);
    else if (code == CW_OK)
        code = show(call, n, err);
    cw_nursery_close(n);
    return code;
}

const cw_verb cw_verbs_notices[] = {
    {
        "notices",
        "NURSERY.db",
        "what must be told to whom by when",
        "Looks over the orders for what buyers must be told (a delay, a short or substituted line, a "
        "cancellation, a refund, a lot held back after shipping), keeps one notice for each fact, and lists "
        "those due with the day by which the chosen timetable (setting timetable) wants them told. Nothing "
        "is sent by this: --merge and --eml write the texts out ('post' sends letters), --sent puts on "
        "record that and how it was sent, --sent-all the same of all that are due. Not legal advice; local "
        "law governs.",
        "clumpwise notices season2031.db --due-by 2032-04-16",
        options,
        1,
        1,
        run,
    },
    { 0 },
};
