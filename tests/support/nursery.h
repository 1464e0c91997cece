/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_NURSERY_H
#define CW_TESTS_SUPPORT_NURSERY_H

/* A nursery file in a fresh folder of its own, for tests of desks. Inline, because only some tests link the
 * desks. */
#include "desk/nursery/nursery_inside.h"
#include "support/check.h"
#include "support/folder.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

typedef struct test_nursery {
    char folder[64];
    char path[96];
    cw_nursery *n;
    cw_asker who; /* the owner, on 2032-02-01 */
} test_nursery;

static inline void test_nursery_make(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    cw_season season = {
        .season = 2031, .ship = cw_day_from_ymd(2032, 4, 19), .currency = "USD", .timezone = "America/Chicago"
    };
    *t = (test_nursery){ 0 };
    test_folder_make(t->folder, sizeof t->folder);
    snprintf(t->path, sizeof t->path, "%s/n.db", t->folder);
    t->who = (cw_asker){ .actor = "tester", .role = CW_ROLE_OWNER, .today = cw_day_from_ymd(2032, 2, 1) };
    t->who.now = t->who.clock = t->who.today * CW_DAY_MS + 43200000;
    cw_check_ok(cw_nursery_new(t->path, &season, &t->who, &t->n, &err), &err);
}

static inline void test_report(void *context, const char *sentence)
{
    (void)context;
    print_error("%s\n", sentence);
}

/* Everything that must always hold, holds. */
static inline void test_nursery_check(test_nursery *t)
{
    cw_error err = CW_ERROR_NONE;
    long broken = 0;
    cw_check_ok(cw_db_check(t->n->db, test_report, NULL, &broken, &err), &err);
    assert_int_equal(broken, 0);
}

static inline void test_nursery_free(test_nursery *t)
{
    char path[400];
    struct dirent *entry = NULL;
    cw_nursery_close(t->n);
    DIR *folder = opendir(t->folder);
    while (folder && (entry = readdir(folder)) != NULL) {
        snprintf(path, sizeof path, "%s/%s", t->folder, entry->d_name);
        unlink(path); /* "." and ".." are folders and stay */
    }
    if (folder)
        closedir(folder);
    rmdir(t->folder);
}

/* Noon of that day, for whoever acts. */
static inline void today(test_nursery *t, int year, int month, int day)
{
    t->who.today = cw_day_from_ymd(year, month, day);
    t->who.now = t->who.clock = t->who.today * CW_DAY_MS + 43200000;
}

#endif
