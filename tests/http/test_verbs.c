/* SPDX-License-Identifier: MIT */
/* The command line as scripts see it: exit status, what goes to which stream, help of every verb. */
#include "clock.h"
#include "cli/cli_inside.h"
#include "serving.h"
#include "desk/ship/shipping.h"
#include "support/order_desk.h"

#include <sqlite3.h>
#include <sys/wait.h>

/* Runs the program with `words` in the nursery's folder; what it wrote to both streams. */
typedef struct spoken {
    int status;
    char out[65536], errors[8192];
} spoken;

static void read_whole(const char *folder, const char *name, char *out, size_t size)
{
    char path[200];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *f = fopen(path, "re");
    assert_non_null(f);
    out[fread(out, 1, size - 1, f)] = '\0';
    fclose(f);
    unlink(path);
}

static void say(const serving *s, const char *words, spoken *out)
{
    char command[1024];
    memset(out, 0, sizeof *out);
    snprintf(command, sizeof command, "cd %s && >out >errors && %s >out 2>errors %s", s->t.folder, CW_PROGRAM,
             words);
    int status = system(command);
    out->status = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
    read_whole(s->t.folder, "out", out->out, sizeof out->out);
    read_whole(s->t.folder, "errors", out->errors, sizeof out->errors);
}

static void test_statuses(void **state)
{
    static const struct {
        const char *words;
        int status;
        const char *on_errors, *on_out; /* must be part of it; NULL: it must be empty */
    } rows[] = {
        { "", 0, NULL, "clumpwise VERB NURSERY.db" },
        { "help", 0, NULL, "Exit status" },
        { "--version", 0, NULL, "clumpwise " },
        { "help --man", 0, NULL, ".TH CLUMPWISE 1" },
        { "nonsense n.db", 2, "there is no verb 'nonsense'", NULL },
        { "user", 2, "the call is 'clumpwise user", NULL },
        { "user n.db list extra words", 2, "clumpwise user", NULL },
        { "user n.db list --nonsense", 2, "has no option '--nonsense'", NULL },
        { "user n.db list --csv --json", 2, "choose one", NULL },
        { "user n.db list --csv --csv", 2, "given twice", NULL },
        { "user n.db list --csv=1", 2, "takes no value", NULL },
        { "trace n.db --tree", 2, "name a lot, a row, or an order", NULL },
        { "trace n.db --lot L1 --past old.db", 2, "go with --tree or --recall", NULL },
        { "trace n.db --lot L1 --tree --recall", 2, "choose one", NULL },
        { "trace n.db --row r1 --tree --past n.db", 1,
          "n.db: is of the season of 2031, which is not before 2031", NULL },
        { "trace n.db --row r1 --tree --season 2030", 1, "no file of this season is beside: 2030", NULL },
        { "user n.db list --today", 2, "needs a value", NULL },
        { "user n.db list --today 2031-02-29", 2,
          "--today must be a day that exists, as 2032-04-19: 2031-02-29", NULL },
        { "user n.db list --csv", 0, NULL, "name,role,disabled,made_at,second_factor\n" },
        { "user n.db list --json", 0, NULL, "[\n]\n" },
        { "user none.db list", 1, "there is no such nursery file", NULL },
        { "user out list", 1, "is not a nursery file", NULL },
        { "user n.db disable Nobody", 1, "nobody here has this name", NULL },
        { "user n.db list >/dev/full", 3, "cannot be written", NULL },
        { "new n.db --season 2031 --ship 2032-04-19", 1, "exists already", NULL },
        { "new x.db --ship 2032-04-19", 2, "new needs --season YEAR", NULL },
        { "new x.db --season=20 --ship=2032-04-19", 2,
          "--season must be a whole number from 1900 to 2199: 20", NULL },
        { "new x.db --season 2031 --ship 2032-04-19 --currency DOLLARS", 1, "ISO 4217", NULL },
        { "new no/such/folder/x.db --season 2031 --ship 2032-04-19", 3, "no/such/folder", NULL },
        { "allocate n.db --undo 1", 2, "--undo goes with --why", NULL },
        { "allocate n.db --undo 1 --why x", 1, "no run 1 that was made firm stands", NULL },
        { "substitute n.db --ban 1/1/AMB", 2, "need --why, the reason", NULL },
        { "substitute n.db --ban AMB --why x", 2, "--ban takes ORDER/LINE/CODE", NULL },
        { "substitute n.db --permit 1/1/AMB --why x", 1, "1", NULL },
        { "substitute n.db --banned --commit", 2, "do not go together", NULL },
        { "keep n.db --commit --why AMB", 2, "--commit and --why do not go together", NULL },
        { "keep n.db --list --runs", 2, "--list and --runs do not go together", NULL },
        { "substitute n.db --banned --csv", 0, NULL, "order,line,wanted,substitute,at,actor,why\n" },
        { "check n.db", 0, "all is well", NULL },
    };
    serving s;
    static spoken said;
    (void)state;
    serving_make(&s, false);
    cw_nursery_close(s.t.n);
    s.t.n = NULL;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        say(&s, rows[i].words, &said);
        bool errors =
            rows[i].on_errors ? strstr(said.errors, rows[i].on_errors) != NULL : said.errors[0] == '\0';
        bool out = rows[i].on_out ? strstr(said.out, rows[i].on_out) != NULL : said.out[0] == '\0';
        if (said.status != rows[i].status || !errors || !out)
            fail_msg("clumpwise %s: %d, want %d\nout: %.300s\nerrors: %.300s", rows[i].words, said.status,
                     rows[i].status, said.out, said.errors);
    }
    serving_free(&s);
}

/* A line that is short, and two varieties that may stand in; an order number may hold a slash. */
static void load_short(test_nursery *t)
{
    load_text(t, "varieties.csv",
              "code,name,form,size,colour,price\nAMB,Amber Lantern,ball,small,orange,6.50\n"
              "BRI,Briar Song,ball,small,pink,6.50\nCIN,Cinder Lamp,ball,large,orange,6.50\n");
    load_text(t, "lots.csv", "lot,variety,dug_on,clumps\nL2,BRI,2031-10-20,0\nL3,CIN,2031-10-20,0\n");
    load_text(t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price,consent\n"
              "2031/7,2032-01-05T10:00:00Z,1,AMB,1,6.50,any\n");
    count_lot(t, "L2", "2032-01-20", 2);
    count_lot(t, "L3", "2032-01-20", 2);
}

/* A tree is drawn as text, a generation deeper at each step. */
static void test_tree(void **state)
{
    serving s;
    static spoken said;
    (void)state;
    serving_make(&s, false);
    load_short(&s.t);
    cw_nursery_close(s.t.n);
    s.t.n = NULL;
    say(&s, "trace n.db --lot L2 --tree", &said);
    assert_string_equal(said.errors, "");
    assert_int_equal(said.status, 0);
    assert_non_null(
        strstr(said.out, "2030  BRI Briar Song, the lot is not on record\n  2031  lot L2, BRI Briar Song"));
    assert_non_null(strstr(said.out, "<- asked for\n"));
    serving_free(&s);
}

/* What is forbidden is left out of the next plan, and is in it again when it is permitted. */
static void test_ban_and_permit(void **state)
{
#define HEAD   "order,line,short,substitute,quantity,distance,extra_cost\n"
#define BANNED "order,line,wanted,substitute,at,actor,why\n"
    static const struct {
        const char *words, *on_errors,
            *out; /* out: whole; of a line that begins with it when it ends in a comma */
    } rows[] = {
        { "substitute n.db --supply counted --csv", "placed 1 of 1", HEAD "2031/7,1,1,CIN,1,20,0.00\n" },
        { "substitute n.db --ban 2031/7/1/CIN --why 'too tall for her'",
          "order 2031/7 line 1 gets no CIN from now on", "" },
        { "substitute n.db --banned --csv", NULL, BANNED "2031/7,1,AMB,CIN," },
        { "substitute n.db --supply counted --csv", "placed 1 of 1", HEAD "2031/7,1,1,BRI,1,30,0.00\n" },
        { "substitute n.db --ban 2031/7/1/BRI --why 'nor pink'", "gets no BRI from now on", "" },
        { "substitute n.db --supply counted --commit --csv", "placed 0 of 1", HEAD },
        { "substitute n.db --permit 2031/7/1/CIN --why 'she rang: tall will do'",
          "order 2031/7 line 1 may get CIN again", "" },
        { "substitute n.db --banned --csv", NULL, BANNED "2031/7,1,AMB,BRI," },
        { "substitute n.db --supply counted --commit --csv", "placed 1 of 1",
          HEAD "2031/7,1,1,CIN,1,20,0.00\n" },
    };
    serving s;
    static spoken said;
    (void)state;
    serving_make(&s, false);
    load_short(&s.t);
    cw_nursery_close(s.t.n);
    s.t.n = NULL;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        size_t n = strlen(rows[i].out);
        say(&s, rows[i].words, &said);
        bool errors =
            rows[i].on_errors ? strstr(said.errors, rows[i].on_errors) != NULL : said.errors[0] == '\0';
        bool begins = n > 0 && rows[i].out[n - 1] == ',';
        const char *end = said.out + n; /* one line more, and no other */
        bool out = begins ? strncmp(said.out, rows[i].out, n) == 0 && strchr(end, '\n') != NULL &&
                                strchr(end, '\n')[1] == '\0'
                          : strcmp(said.out, rows[i].out) == 0;
        if (said.status != 0 || !errors || !out)
            fail_msg("%zu: clumpwise %s: %d\nout: %.300s\nerrors: %.300s", i, rows[i].words, said.status,
                     said.out, said.errors);
    }
    assert_int_equal(
        number_of(
            &s.t,
            "SELECT COUNT(*) FROM audit WHERE action IN ('substitute forbidden', 'substitute permitted')"),
        3);
    assert_int_equal(number_of(&s.t, "SELECT COUNT(*) FROM order_event WHERE note = 'too tall for her'"), 1);
    serving_free(&s);
#undef HEAD
#undef BANNED
}

/* What keeps an order is overruled with a reason, once, and heeded again; the sheet tells it. */
static void test_overrule_and_heed(void **state)
{
    static const struct {
        const char *words;
        int status;
        const char *errors, *out; /* part of it; NULL: empty */
    } rows[] = {
        { "order n.db show 2031/8 --json", 0, NULL, "\"blocked\": \"nothing may be sent to NZ\"" },
        { "order n.db overrule 2031/8 --rule destination", 2, "this needs --why", NULL },
        { "order n.db overrule 2031/8 --why 'a permit came'", 2, "this needs --rule", NULL },
        { "order n.db overrule 2031/8 --rule frost --why 'by van'", 1, "no frost hold keeps order 2031/8",
          NULL },
        { "order n.db overrule 2031/8 --rule destination --why 'a permit came'", 0,
          "order 2031/8 may go now in spite of where it goes", NULL },
        { "order n.db show 2031/8 --json", 0, NULL, "\"blocked\": null" },
        { "order n.db show 2031/8 --json", 0, NULL, ": a permit came\"" },
        { "order n.db heed 2031/8 --rule destination", 0, "order 2031/8 is kept back again by where it goes",
          NULL },
        { "order n.db heed 2031/8 --rule destination", 1, "no destination is overruled for order 2031/8",
          NULL },
        { "order n.db show 2031/8 --json", 0, NULL, "\"blocked\": \"nothing may be sent to NZ\"" },
        { "order n.db overrule 2031/7 --rule frost --why 'by van'", 0,
          "order 2031/7 may go now in spite of its frost holds", NULL },
        { "order n.db show 2031/7 --json", 0, NULL, ": by van\"" },
        { "order n.db heed 2031/7 --rule frost", 0, "order 2031/7 is kept back again by its frost holds",
          NULL },
    };
    serving s;
    static spoken said;
    cw_table holds = { 0 };
    cw_error err = CW_ERROR_NONE;
    (void)state;
    serving_make(&s, false);
    load_short(&s.t);
    load_text(&s.t, "destinations.csv", "country,rule\nNZ,block\n");
    load_text(&s.t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price,country\n"
              "2031/8,2032-01-05T10:00:00Z,1,BRI,1,6.50,New Zealand\n");
    cw_check_ok(cw_shipping_hold(s.t.n, &s.t.who, NULL, "2031/7", 203210, 203230, NULL, &holds, &err), &err);
    cw_table_free(&holds);
    cw_nursery_close(s.t.n);
    s.t.n = NULL;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        say(&s, rows[i].words, &said);
        bool errors = rows[i].errors ? strstr(said.errors, rows[i].errors) != NULL : said.errors[0] == '\0';
        bool out = rows[i].out ? strstr(said.out, rows[i].out) != NULL : said.out[0] == '\0';
        if (said.status != rows[i].status || !errors || !out)
            fail_msg("%zu: clumpwise %s: %d\nout: %.300s\nerrors: %.300s", i, rows[i].words, said.status,
                     said.out, said.errors);
    }
    assert_int_equal(number_of(&s.t, "SELECT COUNT(*) FROM audit WHERE action IN ('overrule', 'heed')"), 4);
    serving_free(&s);
}

/* Days are those of the nursery's zone: at year's end, on a leap day, and on both sides of its changes of the clock. */
static void test_day_of_the_zone(void **state)
{
    static const struct {
        const char *zone, *at, *day;
    } rows[] = {
        { "America/Chicago", "2032-01-06T02:00:00Z", "2032-01-05" },
        { "America/Chicago", "2032-01-01T05:59:59Z", "2031-12-31" },
        { "America/Chicago", "2032-01-01T06:00:00Z", "2032-01-01" },
        { "America/Chicago", "2032-03-01T05:59:59Z", "2032-02-29" },
        { "America/Chicago", "2032-03-14T05:59:59Z", "2032-03-13" }, /* the clock goes forward on the 14th */
        { "America/Chicago", "2032-03-15T04:59:59Z", "2032-03-14" },
        { "America/Chicago", "2032-03-15T05:00:00Z", "2032-03-15" },
        { "America/Chicago", "2032-11-07T04:59:59Z", "2032-11-06" }, /* and back on the 7th */
        { "America/Chicago", "2032-11-08T05:59:59Z", "2032-11-07" },
        { "Pacific/Auckland", "2031-12-31T11:00:00Z", "2032-01-01" },
        { "UTC", "2031-12-31T23:59:59Z", "2031-12-31" },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_asker who = { .actor = "x" };
        cw_instant at = 0;
        char day[11];
        cw_clock_zone(rows[i].zone);
        cw_clock_set(&who, CW_NO_DAY);
        assert_true(cw_instant_parse(rows[i].at, strlen(rows[i].at), &at));
        cw_day_format(cw_asker_day(&who, at), day);
        if (strcmp(day, rows[i].day) != 0)
            fail_msg("%s in %s: %s, want %s", rows[i].at, rows[i].zone, day, rows[i].day);
        assert_int_equal(cw_asker_day(&who, who.now), who.today);
    }
    cw_clock_zone("UTC");
}

/* All that an option may be chosen from stands in the help, however much it is. */
static void check_words(const cw_verb *v, const cw_option *o, const char *help)
{
    for (const char *s = o->words ? o->words : ""; *s;) {
        char word[40];
        size_t n = strcspn(s, "|");
        snprintf(word, sizeof word, "%.*s", (int)n, s);
        if (strstr(help, word) == NULL)
            fail_msg("%s %s: its help does not name %s", v->name, o->name, word);
        s += n + (s[n] == '|');
    }
}

/* Every verb has help with one example that begins with its own name, and stands in the manual. */
static void test_help_of_every_verb(void **state)
{
    cw_text manual = CW_TEXT(1 << 20);
    (void)state;
    cw_help_man(&manual);
    const cw_verb *v;
    for (size_t i = 0; (v = cw_verb_at(i)); i++) {
        cw_text help = CW_TEXT(1 << 20);
        char start[100], section[100];
        cw_help_text(v, &help);
        snprintf(start, sizeof start, "clumpwise %s ", v->name);
        snprintf(section, sizeof section, ".SS clumpwise %s ", v->name);
        if (strncmp(v->example, start, strlen(start)) != 0 || strstr(help.data, v->example) == NULL ||
            strstr(help.data, "--today DATE") == NULL || strstr(manual.data, section) == NULL)
            fail_msg("%s: its help, example or manual is not as it should be", v->name);
        for (const cw_option *o = v->options; o && o->name; o++)
            if (strncmp(o->name, "--", 2) != 0 || o->help == NULL || (o->words && o->type != CW_TEXT_T) ||
                (o->type != CW_BOOL_T && o->value == NULL))
                fail_msg("%s %s: not a whole option", v->name, o->name);
            else
                check_words(v, o, help.data);
        cw_text_free(&help);
    }
    cw_text_free(&manual);
}

/* The example of each verb parses by its own table. */
static void test_examples_parse(void **state)
{
    (void)state;
    const cw_verb *v;
    for (size_t i = 0; (v = cw_verb_at(i)); i++) {
        char line[512], *words[64];
        const char *arguments[64];
        int count = 0;
        cw_call call;
        bool help = false;
        cw_error err = CW_ERROR_NONE;
        cw_copy(line, sizeof line, v->example);
        /* Words as a shell parts them, as far as examples need it: blanks, and quotes around a word. */
        for (char *at = line; *at && count < 64;) {
            char quote = *at == '\'' || *at == '"' ? *at++ : ' ';
            if (*at == '>')
                break; /* where its output goes is the shell's */
            words[count++] = at;
            at += strcspn(at, (char[2]){ quote, '\0' });
            if (*at)
                *at++ = '\0';
            at += strspn(at, " ");
        }
        cw_code code =
            cw_cli_parse(v, count - 2, (const char *const *)words + 2, arguments, &call, &help, &err);
        if (code != CW_OK)
            fail_msg("%s: %s: %s", v->name, v->example, err.text);
    }
}

/* Whoever writes by the command line leaves what was said at the month's end, as a server does; not of a month that the file has
 * not seen. */
static void test_months_end(void **state)
{
    static const struct {
        const char *words;
        int64_t said; /* after it */
    } rows[] = {
        { "new m.db --season 2031 --ship 2032-04-19 --today 2032-01-10", -1 },
        { "load m.db varieties.csv lots.csv --today 2032-01-10", 0 },
        { "load m.db lots.csv --today 2032-01-20", 0 }, /* December's end was before the file */
        { "project m.db --today 2032-02-02", 0 },       /* who only looks writes nothing */
        { "user m.db add Ada --role owner --today 2032-02-02 <pass", 1 },
        { "load m.db lots.csv --today 2032-02-20", 1 },
        { "offer m.db --confidence 0.9 --commit --why first --today 2032-03-02",
          3 }, /* February's, and the release */
    };
    serving s;
    spoken a;
    sqlite3 *raw = NULL;
    char path[400];
    (void)state;
    serving_make(&s, false);
    snprintf(path, sizeof path,
             "cd %s && printf 'code,name\nAMB,Amber\n' >varieties.csv && printf "
             "'lot,variety,dug_on,clumps\nL1,AMB,2031-10-20,40\n' >lots.csv && echo 'zqx seven green tubers' "
             ">pass",
             s.t.folder);
    assert_int_equal(system(path), 0);
    snprintf(path, sizeof path, "%s/m.db", s.t.folder);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        sqlite3_stmt *q = NULL;
        say(&s, rows[i].words, &a);
        if (a.status != 0)
            fail_msg("%s: %d %s", rows[i].words, a.status, a.errors);
        if (rows[i].said < 0)
            continue;
        assert_int_equal(sqlite3_open_v2(path, &raw, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
        assert_int_equal(sqlite3_prepare_v2(raw, "SELECT COUNT(*) FROM said", -1, &q, NULL), SQLITE_OK);
        assert_int_equal(sqlite3_step(q), SQLITE_ROW);
        if (sqlite3_column_int64(q, 0) != rows[i].said)
            fail_msg("%s: %lld said", rows[i].words, (long long)sqlite3_column_int64(q, 0));
        sqlite3_finalize(q);
        sqlite3_close(raw);
    }
    serving_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_statuses),           cmocka_unit_test(test_ban_and_permit),
        cmocka_unit_test(test_overrule_and_heed),  cmocka_unit_test(test_day_of_the_zone),
        cmocka_unit_test(test_help_of_every_verb), cmocka_unit_test(test_examples_parse),
        cmocka_unit_test(test_months_end),         cmocka_unit_test(test_tree),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
