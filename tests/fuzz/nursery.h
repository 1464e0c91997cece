/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_FUZZ_NURSERY_H
#define CW_TESTS_FUZZ_NURSERY_H

/* A nursery in memory for the targets that work on one: made once on the disk by the tests' own support, then copied into
 * memory, where a batch that is dropped after each input puts everything back. */
#include "must.h"
#include "support/nursery.h"

#include "store/db_inside.h"
#include <sqlite3.h>

static inline void nursery_to_memory(test_nursery *t)
{
    char here[1024];
    cw_error err = CW_ERROR_NONE;
    cw_nursery *in_memory = NULL;
    /* The lock of the file that is none goes into the folder that is dropped. */
    must(getcwd(here, sizeof here) != NULL && chdir(t->folder) == 0);
    must(cw_nursery_new(":memory:", cw_nursery_season(t->n), &t->who, &in_memory, &err) == CW_OK);
    sqlite3_backup *b = sqlite3_backup_init(in_memory->db->raw, "main", t->n->db->raw, "main");
    must(b != NULL && sqlite3_backup_step(b, -1) == SQLITE_DONE && sqlite3_backup_finish(b) == SQLITE_OK);
    must(chdir(here) == 0);
    test_nursery_free(t);
    t->n = in_memory;
}

static inline void everything_holds(cw_nursery *n)
{
    cw_error err = CW_ERROR_NONE;
    long broken = 0;
    must(cw_db_check(n->db, test_report, NULL, &broken, &err) == CW_OK && broken == 0);
}

#endif
