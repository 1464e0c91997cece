/* SPDX-License-Identifier: MIT */
/* What server/README.md says of trouble, tried on the real program: a second machine that follows by copies, a damaged page,
 * a file held by another program, a file and a folder that may only be read, a full disk, a clock that steps back. */
#include "offered.h"
#include "support/disk.h"
#include "support/order_desk.h"
#include "support/program.h"

#include "auth/door.h"
#include "clock.h"
#include "desk/nursery/keeping.h"
#include <dirent.h>
#include <sqlite3.h>
#include <sys/stat.h>
#include <time.h>

#include "base/banned.h"

#define HOUR_MS 3600000LL

static int order(unsigned port, const char *number)
{
    char body[200];
    snprintf(body, sizeof body,
             "{\"order\":\"%s\",\"lines\":[{\"variety\":\"BALL\",\"quantity\":1,\"unit_price\":\"5.00\"}]}",
             number);
    wire_reply r = wire_ask(port, "POST", "/api/orders", NULL, body);
    int status = r.status;
    wire_free(&r);
    return status;
}

static int status_of(unsigned port, const char *target)
{
    wire_reply r = wire_ask(port, "GET", target, NULL, NULL);
    int status = r.status;
    wire_free(&r);
    return status;
}

/* Twice round: a verified copy while it serves, carried as a plain file, put in place there, checked, served there. */
static void test_a_second_machine_follows(void **state)
{
    char line[800], said[4096], other[120];
    unsigned port = 0, there = 0;
    serving s;
    (void)state;
    serving_make_offered(&s, 100, 0);
    snprintf(other, sizeof other, "%s/other", s.t.folder);
    assert_int_equal(mkdir(other, 0700), 0);
    pid_t pid = start_program(s.t.path, &port);
    for (int round = 1; round <= 2; round++) {
        char number[16], target[40], standby[160];
        snprintf(number, sizeof number, "W%d", round);
        assert_int_equal(order(port, number), 201);
        /* As server/README.md has it: backup here, a copy of the file, restore and check there. */
        snprintf(line, sizeof line,
                 "cd %s && { %s backup n.db copy.db && cp copy.db other/incoming.db && cd other && "
                 "%s restore n.db incoming.db && %s check n.db; } 2>&1",
                 s.t.folder, CW_PROGRAM, CW_PROGRAM, CW_PROGRAM);
        if (shell_says(line, said) != 0)
            fail_msg("round %d: %s", round, said);
        assert_non_null(strstr(said, "copied and verified"));
        assert_non_null(strstr(said, "all is well"));
        assert_int_equal(order(port, round == 1 ? "late1" : "late2"), 201); /* not in this copy */
        snprintf(standby, sizeof standby, "%s/n.db", other);
        pid_t second = start_program(standby, &there);
        for (int i = 1; i <= round; i++) {
            snprintf(target, sizeof target, "/api/orders/W%d", i);
            assert_int_equal(status_of(there, target), 200);
        }
        assert_int_equal(status_of(there, "/api/orders/late1"), round == 1 ? 404 : 200);
        assert_int_equal(status_of(there, "/api/orders/late2"), 404);
        /* It takes over: orders are taken there, and nothing is sold twice. */
        assert_int_equal(order(there, "over"), 201);
        assert_int_equal(stop_program(second), 0);
    }
    assert_int_equal(stop_program(pid), 0);
    /* A copy cut short on the way is refused, and what stands there stays. */
    snprintf(
        line, sizeof line,
        "cd %s/other && head -c 60000 ../copy.db >cut.db && %s restore n.db cut.db 2>&1; echo \"exit $?\"; "
        "%s check n.db 2>&1",
        s.t.folder, CW_PROGRAM, CW_PROGRAM);
    assert_int_equal(shell_says(line, said), 0);
    assert_non_null(strstr(said, "exit 1"));
    assert_non_null(strstr(said, "all is well"));
    snprintf(line, sizeof line, "rm -r %s/other %s/copy.db", s.t.folder, s.t.folder);
    assert_int_equal(shell_says(line, said), 0);
    serving_free(&s);
}

static int64_t number_in(const char *path, const char *sql)
{
    sqlite3 *db = NULL;
    sqlite3_stmt *q = NULL;
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(db, sql, -1, &q, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(q), SQLITE_ROW);
    int64_t n = sqlite3_column_int64(q, 0);
    sqlite3_finalize(q);
    sqlite3_close(db);
    return n;
}

static void spoil_page(const char *path, int64_t page, int64_t size)
{
    char noise[65536];
    FILE *f = fopen(path, "r+b");
    assert_non_null(f);
    assert_true(size <= (int64_t)sizeof noise);
    memset(noise, 0x5A, sizeof noise);
    assert_int_equal(fseek(f, (long)((page - 1) * size), SEEK_SET), 0);
    assert_int_equal(fwrite(noise, 1, (size_t)size, f), (size_t)size);
    fclose(f);
}

/* A page of the orders is noise: who asks for them is told so, the rest goes on, check names it, the backup brings it back. */
static void test_damaged_page(void **state)
{
    char line[600], said[4096];
    unsigned port = 0;
    serving s;
    (void)state;
    serving_make_offered(&s, 100, 0);
    pid_t pid = start_program(s.t.path, &port);
    assert_int_equal(order(port, "W1"), 201);
    assert_int_equal(stop_program(pid), 0);
    snprintf(line, sizeof line, "cd %s && %s backup n.db copy.db 2>&1", s.t.folder, CW_PROGRAM);
    assert_int_equal(shell_says(line, said), 0);
    spoil_page(s.t.path, number_in(s.t.path, "SELECT rootpage FROM sqlite_schema WHERE name = 'orders'"),
               number_in(s.t.path, "PRAGMA page_size"));
    pid = start_program(s.t.path, &port);
    assert_int_equal(status_of(port, "/api/revision"), 200);
    assert_int_equal(status_of(port, "/api/availability"), 200);
    wire_reply r = wire_ask(port, "GET", "/api/orders/W1", NULL, NULL);
    assert_int_equal(r.status, 503);
    assert_non_null(strstr(r.body, "damaged"));
    assert_null(strstr(r.body, s.t.folder));
    wire_free(&r);
    assert_int_equal(order(port, "W2"), 503);
    assert_int_equal(status_of(port, "/api/revision"), 200);
    assert_int_equal(stop_program(pid), 0);
    snprintf(line, sizeof line, "cd %s && %s check n.db 2>&1", s.t.folder, CW_PROGRAM);
    assert_int_not_equal(shell_says(line, said), 0);
    assert_non_null(strstr(said, "restore the last good backup"));
    snprintf(line, sizeof line, "cd %s && { %s restore n.db copy.db && %s check n.db; } 2>&1", s.t.folder,
             CW_PROGRAM, CW_PROGRAM);
    if (shell_says(line, said) != 0)
        fail_msg("%s", said);
    pid = start_program(s.t.path, &port);
    assert_int_equal(status_of(port, "/api/orders/W1"), 200);
    assert_int_equal(order(port, "W2"), 201);
    assert_int_equal(stop_program(pid), 0);
    snprintf(line, sizeof line, "rm -f %s/copy.db %s/*.before-restore*", s.t.folder, s.t.folder);
    assert_int_equal(shell_says(line, said), 0);
    serving_free(&s);
}

/* Another program of SQLite's holds the file: reads go on, a write waits (5 s) and is then refused with 503, not lost; as
 * soon as the file is let go, work goes on. */
static void test_held_by_another_program(void **state)
{
    unsigned port = 0;
    sqlite3 *db = NULL;
    serving s;
    (void)state;
    serving_make_offered(&s, 100, 0);
    pid_t pid = start_program(s.t.path, &port);
    assert_int_equal(order(port, "W1"), 201);
    assert_int_equal(sqlite3_open(s.t.path, &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, "BEGIN IMMEDIATE", NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(status_of(port, "/api/orders/W1"), 200);
    assert_int_equal(order(port, "W2"), 503);
    assert_int_equal(status_of(port, "/api/orders/W2"), 404);
    assert_int_equal(sqlite3_exec(db, "ROLLBACK", NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(db);
    assert_int_equal(order(port, "W2"), 201);
    assert_int_equal(stop_program(pid), 0);
    serving_free(&s);
}

/* Nor does that keep a stop waiting. */
static void test_a_stop_while_another_program_holds_it(void **state)
{
    static const char body[] = "{\"lines\":[]}";
    unsigned port = 0;
    sqlite3 *db = NULL;
    char request[300];
    serving s;
    (void)state;
    serving_make_offered(&s, 100, 0);
    pid_t pid = start_program(s.t.path, &port);
    assert_int_equal(order(port, "W1"), 201);
    assert_int_equal(sqlite3_open(s.t.path, &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, "BEGIN IMMEDIATE", NULL, NULL, NULL), SQLITE_OK);
    int fd = wire_open(port);
    snprintf(request, sizeof request,
             "PATCH /api/settings HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\n"
             "Content-Length: %zu\r\n\r\n%s",
             sizeof body - 1, body);
    assert_true(wire_send(fd, request, strlen(request)));
    assert_false(wire_is_closed(fd, 300));
    int64_t begun = cw_clock_ticks();
    assert_int_equal(stop_program(pid), 0);
    int64_t took = cw_clock_ticks() - begun;
    print_message("stopped in %lld ms\n", (long long)took);
    wire_reply r = wire_read(fd);
    assert_int_equal(r.status, 503);
    assert_non_null(strstr(r.body, "urn:clumpwise:problem:stopping"));
    wire_free(&r);
    close(fd);
    assert_int_equal(sqlite3_exec(db, "ROLLBACK", NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(db);
    assert_true(took < 4000); /* two seconds for what was taken, not the five that a write waits */
    serving_free(&s);
}

/* As somebody who may read the file and its folder, but not write: every verb says so, and a backup can be read. */
static void test_only_to_be_read(void **state)
{
    static const char as_nobody[] = "setpriv --reuid=65534 --regid=65534 --clear-groups";
    const char *as = geteuid() == 0 ? as_nobody : "";
    char line[800], said[4096];
    serving s;
    (void)state;
    serving_make_offered(&s, 100, 0);
    snprintf(line, sizeof line, "%s %s --version 2>&1", as, CW_PROGRAM);
    if (shell_says(line, said) != 0) {
        serving_free(&s);
        skip(); /* the build folder is closed to others */
    }
    snprintf(line, sizeof line,
             "cd %s && %s backup n.db copy.db 2>&1 && rm -f n.db-wal n.db-shm && chmod 444 n.db copy.db && "
             "chmod 555 .",
             s.t.folder, CW_PROGRAM);
    assert_int_equal(shell_says(line, said), 0);
    static const struct {
        const char *words;
        bool refused;
    } rows[] = { { "check copy.db", false }, /* a backup is one plain file */
                 { "order copy.db find W --csv", false },
                 { "check n.db", true },
                 { "order n.db cancel W1 --why test", true },
                 { "order copy.db cancel W1 --why test", true },
                 { "serve n.db --listen 127.0.0.1:0", true } };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        snprintf(line, sizeof line, "cd %s && timeout 20 %s %s %s 2>&1", s.t.folder, as, CW_PROGRAM,
                 rows[i].words);
        int status = shell_says(line, said);
        print_message("%s: %d %s\n", rows[i].words, status, said);
        if ((status != 0) != rows[i].refused ||
            (rows[i].refused && strstr(said, "may only be read") == NULL &&
             strstr(said, "nothing can be written here") == NULL))
            fail_msg("%s: %d %s", rows[i].words, status, said);
    }
    snprintf(line, sizeof line, "cd %s && chmod 700 . && chmod 600 n.db && rm -f copy.db", s.t.folder);
    assert_int_equal(shell_says(line, said), 0);
    serving_free(&s);
}

static int mode_of(const char *folder, const char *name)
{
    char path[200];
    struct stat s;
    snprintf(path, sizeof path, "%s/%s", folder, name);
    assert_int_equal(stat(path, &s), 0);
    return (int)(s.st_mode & 0777);
}

/* Buyers and password hashes stand in the file: whatever the umask, nobody else may read it, its log or its copies; a mode
 * that the owner chose is kept. OWASP ASVS 4.0.3, 8.1.2. */
static void test_files_are_private(void **state)
{
    char line[600], said[4096];
    serving s;
    (void)state;
    serving_make(&s, false);
    serving_start(&s);
    snprintf(
        line, sizeof line,
        "cd %s && umask 022 && { %s new o.db --season 2031 --ship 2032-04-19 && %s backup n.db copy.db && "
        "%s restore other.db copy.db && chmod 640 o.db && %s backup o.db shared.db; } 2>&1",
        s.t.folder, CW_PROGRAM, CW_PROGRAM, CW_PROGRAM, CW_PROGRAM);
    if (shell_says(line, said) != 0)
        fail_msg("%s", said);
    snprintf(line, sizeof line,
             "cd %s && umask 022 && touch b.xlsx && { %s export n.db --xlsx season.xlsx && %s export n.db "
             "--xlsx b.xlsx; } 2>&1",
             s.t.folder, CW_PROGRAM, CW_PROGRAM);
    if (shell_says(line, said) != 0)
        fail_msg("%s", said);
    static const char *const private[] = { "n.db",     "n.db-wal",    "n.db-shm", "copy.db",
                                           "other.db", "season.xlsx", "b.xlsx" };
    for (size_t i = 0; i < sizeof private / sizeof private[0]; i++)
        if (mode_of(s.t.folder, private[i]) != 0600)
            fail_msg("%s: %o", private[i], (unsigned)mode_of(s.t.folder, private[i]));
    assert_int_equal(mode_of(s.t.folder, "o.db"), 0640);
    assert_int_equal(mode_of(s.t.folder, "shared.db"), 0640);
    snprintf(line, sizeof line, "cd %s && rm -f o.db* copy.db* other.db* shared.db* *.xlsx", s.t.folder);
    assert_int_equal(shell_says(line, said), 0);
    serving_free(&s);
}

/* The wall clock goes back: a session of the future is none, the throttle goes by another clock, a copy just made stays
 * though copies with later names are there, and orders are taken with the times that the clock tells. */
static void test_clock_steps_back(void **state)
{
    cw_identity who;
    cw_error err = CW_ERROR_NONE;
    char token[CW_TOKEN_TEXT], digest[65];
    bool found = false;
    test_nursery t;
    (void)state;
    test_nursery_make(&t);
    cw_check_ok(cw_accounts_add(t.n, &t.who, "Marta", CW_ROLE_OWNER, OWNER_PASSWORD, &err), &err);
    cw_check_ok(cw_accounts_verify(t.n, "Marta", OWNER_PASSWORD, &who, &err), &err);
    cw_check_ok(cw_accounts_open(t.n, &t.who, &who, NULL, token, &err), &err);
    cw_accounts_digest(token, digest);
    static const struct {
        const char *name;
        cw_instant after;
        bool good;
    } rows[] = { { "at once", 0, true },
                 { "set right by a few seconds", -5000, true },
                 { "back by an hour", -HOUR_MS, false },
                 { "back by a year", -365 * CW_DAY_MS, false },
                 { "right again", 60000, true } };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cw_check_ok(cw_accounts_session(t.n, digest, t.who.now + rows[i].after, &found, &who, &err), &err);
        if (found != rows[i].good)
            fail_msg("%s: %d", rows[i].name, found);
    }
    /* The door is asked with both clocks; only the one that never goes back counts tries. */
    cw_door *door = NULL;
    cw_check_ok(cw_door_open(t.path, &door, &err), &err);
    const cw_try at = { .name = "Marta", .address = "192.0.2.1", .session = "" };
    for (int i = 0; i < 6; i++)
        cw_throttle_failed(door, &at, 1000 + i);
    assert_true(cw_throttle_wait(door, &at, 1010) > 0);
    cw_door_close(door);
    test_nursery_check(&t);
    test_nursery_free(&t);
}

static size_t copies_in(const char *folder, const char *year, char last[300])
{
    size_t n = 0;
    DIR *dir = opendir(folder);
    assert_non_null(dir);
    for (struct dirent *e = readdir(dir); e; e = readdir(dir))
        if (strncmp(e->d_name, year, strlen(year)) == 0) {
            snprintf(last, 300, "%.90s/%.200s", folder, e->d_name);
            n++;
        }
    closedir(dir);
    return n;
}

static void test_copies_after_the_clock_stepped_back(void **state)
{
    char folder[96], path[600], last[300] = "", year[32], said[4096];
    time_t now = time(NULL);
    struct tm at;
    serving s;
    (void)state;
    serving_make(&s, false);
    snprintf(folder, sizeof folder, "%s/copies", s.t.folder);
    assert_int_equal(mkdir(folder, 0700), 0);
    for (int hour = 0; hour < 48; hour++) { /* made while the clock was far ahead */
        snprintf(path, sizeof path, "%s/n-season-2031-2099010%dT%02d0000Z.db", folder, 1 + hour / 24,
                 hour % 24);
        FILE *f = fopen(path, "we");
        assert_non_null(f);
        fclose(f);
    }
    s.how.backup_dir = folder;
    serving_start(&s);
    gmtime_r(&now, &at);
    strftime(year, sizeof year, "n-season-2031-%Y", &at);
    for (int i = 0; i < 600 && copies_in(folder, "n-season-2031-2099", last) > 25; i++)
        nanosleep(&(struct timespec){ 0, 50000000 }, NULL);
    serving_stop(&s);
    assert_int_equal(copies_in(folder, "n-season-2031-2099", last),
                     25); /* the newest 24, and the last of the day before */
    assert_int_equal(copies_in(folder, year, last), 1);
    snprintf(path, sizeof path, "%s check %s 2>&1; rm -r %s", CW_PROGRAM, last, folder);
    assert_int_equal(shell_says(path, said), 0);
    assert_non_null(strstr(said, "all is well"));
    serving_free(&s);
}

/* Whoever serves a closed season reads what it still takes; of an open one nothing of the kind is said. */
static void test_a_closed_season_says_so(void **state)
{
    static const char serve[] =
        "cd %s && rm -f said && { %s serve n.db --listen 127.0.0.1:0 >said 2>&1 & p=$!; i=0; "
        "until grep -q 'Ctrl-C stops' said || [ $i -gt 600 ]; do sleep 0.1; i=$((i+1)); done; "
        "kill -INT $p; wait $p; }; cat said";
    char line[800], said[4096];
    serving s;
    (void)state;
    serving_make(&s, false);
    cw_nursery_close(s.t.n);
    s.t.n = NULL;
    snprintf(line, sizeof line, serve, s.t.folder, CW_PROGRAM);
    assert_int_equal(shell_says(line, said), 0);
    assert_non_null(strstr(said, "Ctrl-C stops"));
    assert_null(strstr(said, "was closed"));
    snprintf(line, sizeof line,
             "cd %s && %s next n.db next.db --season 2032 --ship 2033-04-18 --leave-open 2>&1", s.t.folder,
             CW_PROGRAM);
    if (shell_says(line, said) != 0)
        fail_msg("%s", said);
    snprintf(line, sizeof line, serve, s.t.folder, CW_PROGRAM);
    assert_int_equal(shell_says(line, said), 0);
    assert_non_null(strstr(said, "n.db: this season was closed on "));
    assert_non_null(strstr(said, "it takes claims, notices, refunds, holds of lots and forgetting only"));
    serving_free(&s);
}

/* The session came to be within the group, and the group did not: the cookie is not handed out. */
static void test_a_session_that_is_not_kept(void **state)
{
    static const char body[] = "{\"name\":\"owner\",\"password\":\"" OWNER_PASSWORD "\"}";
    char cookie[512];
    serving s;
    (void)state;
    serving_make(&s, true);
    disk_install();
    serving_start(&s);
    for (int sound = 0; sound < 2; sound++) {
        disk_arm(sound ? -1 : 0, SQLITE_FULL, true);
        wire_reply r = wire_ask(s.port, "POST", "/api/session", NULL, body);
        assert_int_equal(r.status, sound ? 200 : 503);
        assert_int_equal(wire_header(&r, "Set-Cookie", cookie) != NULL, sound);
        assert_int_equal(strstr(r.body, "csrf") != NULL, sound);
        assert_true(sound || the_disk.failed > 0);
        wire_free(&r);
    }
    serving_stop(&s);
    disk_remove();
    assert_int_equal(number_of(&s.t, "SELECT COUNT(*) FROM signed_in"), 1);
    serving_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_a_second_machine_follows),
        cmocka_unit_test(test_damaged_page),
        cmocka_unit_test(test_held_by_another_program),
        cmocka_unit_test(test_a_stop_while_another_program_holds_it),
        cmocka_unit_test(test_only_to_be_read),
        cmocka_unit_test(test_files_are_private),
        cmocka_unit_test(test_a_closed_season_says_so),
        cmocka_unit_test(test_clock_steps_back),
        cmocka_unit_test(test_copies_after_the_clock_stepped_back),
        cmocka_unit_test(test_a_session_that_is_not_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
