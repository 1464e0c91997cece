/* SPDX-License-Identifier: MIT */
/* Backups while it serves, their rotation, and putting a copy back. A copy is a plain file: carried to a second machine it
 * is a nursery file there, which is how a standby is fed. */
#include "serving.h"

#include "desk/nursery/keeping.h"
#include <dirent.h>
#include <sys/stat.h>
#include <time.h>

static int count_copies(const char *folder, char last[300])
{
    int n = 0;
    DIR *dir = opendir(folder);
    for (struct dirent *e = readdir(dir); e; e = readdir(dir))
        if (strstr(e->d_name, "Z.db") && strlen(strstr(e->d_name, "Z.db")) == 4) {
            snprintf(last, 300, "%.90s/%.200s", folder, e->d_name);
            n++;
        }
    closedir(dir);
    return n;
}

static void empty_folder(const char *folder)
{
    char path[400];
    DIR *dir = opendir(folder);
    for (struct dirent *e = readdir(dir); e; e = readdir(dir)) {
        snprintf(path, sizeof path, "%.90s/%.200s", folder, e->d_name);
        if (e->d_name[0] != '.')
            unlink(path);
    }
    closedir(dir);
    rmdir(folder);
}

static void write_empty(const char *path)
{
    FILE *f = fopen(path, "we");
    assert_non_null(f);
    fclose(f);
}

static void test_rotating_backups(void **state)
{
    serving s;
    char folder[96], path[300], last[300] = "";
    cw_error err = CW_ERROR_NONE;
    (void)state;
    serving_make(&s, false);
    snprintf(folder, sizeof folder, "%s/copies", s.t.folder);
    assert_int_equal(mkdir(folder, 0700), 0);
    /* 40 days with 4 old copies each, and files that are none of ours. */
    for (int day = 1; day <= 40; day++)
        for (int hour = 0; hour < 24; hour += 6) {
            int year, month, of_month;
            cw_day_to_ymd(cw_day_from_ymd(2020, 1, 1) + day, &year, &month, &of_month);
            snprintf(path, sizeof path, "%s/n-season-2031-%04d%02d%02dT%02d0000Z.db", folder, year, month,
                     of_month, hour);
            write_empty(path);
        }
    snprintf(path, sizeof path, "%s/n-season-2030-20200101T000000Z.db", folder);
    write_empty(path); /* of another season: never thinned out by this one */
    s.how.backup_dir = folder;
    serving_start(&s);
    for (int i = 0; i < 600 && count_copies(folder, last) > 60; i++)
        nanosleep(&(struct timespec){ 0, 50000000 }, NULL);
    serving_stop(&s);
    /* 24 newest (1 of now, 23 old ones reaching back into the 6th-last day), then one a day for 30 days; and the other. */
    assert_int_equal(count_copies(folder, last), 24 + 30 + 1);
    assert_int_equal(access(path, F_OK), 0);
    time_t now = time(NULL);
    struct tm t;
    gmtime_r(&now, &t);
    DIR *dir = opendir(folder);
    char year[32];
    strftime(year, sizeof year, "n-season-2031-%Y", &t);
    for (struct dirent *e = readdir(dir); e; e = readdir(dir))
        if (strncmp(e->d_name, year, strlen(year)) == 0)
            snprintf(last, sizeof last, "%.90s/%.200s", folder, e->d_name);
    closedir(dir);
    cw_nursery *copy = NULL;
    cw_table findings = { 0 };
    char hash[65];
    cw_check_ok(cw_nursery_open(last, CW_LOOK, NULL, &copy, &err), &err);
    cw_check_ok(cw_keeping_check(copy, &findings, hash, &err), &err);
    assert_int_equal(cw_table_rows(&findings), 0);
    cw_table_free(&findings);
    cw_nursery_close(copy);
    empty_folder(folder);
    serving_free(&s);
}

static void test_restore(void **state)
{
    serving s;
    char copy[128], bad[128], aside[128], bytes[8192];
    cw_error err = CW_ERROR_NONE;
    (void)state;
    serving_make(&s, false);
    snprintf(copy, sizeof copy, "%s/copy.db", s.t.folder);
    snprintf(bad, sizeof bad, "%s/bad.db", s.t.folder);
    cw_check_ok(cw_keeping_backup(s.t.n, &s.t.who, copy, &err), &err);
    cw_check_ok(cw_nursery_set(s.t.n, &s.t.who, "confidence", "0.75", &err), &err);
    /* A page in the middle overwritten: found before anything moves. */
    FILE *in = fopen(copy, "re"), *out = fopen(bad, "we");
    for (size_t n, i = 0; (n = fread(bytes, 1, 4096, in)) > 0; i++) {
        if (i >= 3 && i <= 12)
            memset(bytes + 8, 0x5A, 3000);
        fwrite(bytes, 1, n, out);
    }
    fclose(in);
    fclose(out);
    assert_int_equal(cw_keeping_restore(copy, s.t.path, &err), CW_MACHINE); /* somebody has it open */
    cw_nursery_close(s.t.n);
    s.t.n = NULL;
    err = (cw_error)CW_ERROR_NONE;
    assert_int_equal(cw_keeping_restore(bad, s.t.path, &err), CW_REFUSED);
    assert_non_null(strstr(err.text, "damaged"));
    err = (cw_error)CW_ERROR_NONE;
    cw_check_ok(cw_nursery_open(s.t.path, CW_WORK, "test", &s.t.n, &err), &err);
    cw_check_ok(cw_nursery_setting(s.t.n, "confidence", bytes, sizeof bytes, &err), &err);
    assert_string_equal(bytes, "0.75");
    cw_nursery_close(s.t.n);
    cw_check_ok(cw_keeping_restore(copy, s.t.path, &err), &err);
    cw_check_ok(cw_nursery_open(s.t.path, CW_WORK, "test", &s.t.n, &err), &err);
    cw_check_ok(cw_nursery_setting(s.t.n, "confidence", bytes, sizeof bytes, &err), &err);
    assert_string_equal(bytes, "0.9");
    snprintf(aside, sizeof aside, "%s.before-restore", s.t.path);
    cw_nursery *old = NULL;
    cw_check_ok(cw_nursery_open(aside, CW_LOOK, NULL, &old, &err), &err);
    cw_check_ok(cw_nursery_setting(old, "confidence", bytes, sizeof bytes, &err), &err);
    assert_string_equal(bytes, "0.75");
    cw_nursery_close(old);
    unlink(aside);
    unlink(copy);
    unlink(bad);
    snprintf(aside, sizeof aside, "%s.before-restore-wal", s.t.path);
    unlink(aside);
    snprintf(aside, sizeof aside, "%s.before-restore-shm", s.t.path);
    unlink(aside);
    serving_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_rotating_backups),
        cmocka_unit_test(test_restore),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
