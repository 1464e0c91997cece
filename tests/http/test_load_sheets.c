/* SPDX-License-Identifier: MIT */
#include "support/folder.h"
#include "support/program.h"

#include "base/text.h"

#include <sys/stat.h>

/* `load` of spreadsheets of other makes, by the real program and without a terminal. */

static char folder[64];

static int run(const char *line, char out[4096])
{
    char all[2048];
    snprintf(all, sizeof all, "cd %s && cw=%s && s=%s/sheets && { %s; } 2>&1 </dev/null", folder, CW_PROGRAM,
             CW_TEST_DIR, line);
    return shell_says(all, out);
}

static void must(const char *line, int status, const char *says)
{
    char out[4096];
    int got = run(line, out);
    if (got != status || strstr(out, says) == NULL)
        fail_msg("%s\nexit %d instead of %d, or it lacks '%s':\n%s", line, got, status, says, out);
}

static void test_load(void **state)
{
    (void)state;
    test_folder_make(folder, sizeof folder);
    must("$cw new n.db --season 2031 --ship 2032-04-19 --currency EUR --timezone Europe/Berlin", 0, "n.db");
    /* Looked at, nothing is taken; then it is, and its fit is kept. */
    must("$cw load n.db $s/sorten.csv --look --today 2032-02-01", 0, "varieties.height_cm");
    must("$cw project n.db --csv --today 2032-02-01", 0, "variety");
    must("$cw load n.db $s/sorten.csv --csv --today 2032-02-01", 0,
         "varieties of sorten.csv,varieties,3,3,0,0,");
    must("$cw load n.db $s/sorten.csv --csv --today 2032-02-01", 0,
         "varieties of sorten.csv,varieties,3,0,0,3,");
    must("$cw load n.db --fit-show sorten.csv", 0, "\"varieties.price\"");
    must("$cw load n.db --fits", 0, "sorten.csv");
    must("$cw load n.db --fit-rename sorten.csv", 2, "--fit-rename needs the new name");
    must("$cw load n.db --fit-rename sorten.csv --to list", 0, "");
    must("$cw load n.db --fit-show list", 0, "\"varieties.price\"");
    must("$cw load n.db --fit-rename list --to sorten.csv", 0, "");
    must("$cw load n.db --fit-forget list", 1, "no fit is kept by this name: list");
    must("$cw load n.db --fit-show another", 1, "no fit is kept by this name: another");
    /* Beside files of our own, in one call: all or nothing. */
    must("printf 'zone,first_week\\nz1,2032-W16\\n' > zones.csv", 0, "");
    must("$cw load n.db zones.csv $s/stocktake.csv --today 2032-02-01", 1, "no such lot");
    must("$cw export n.db --as zones", 0, "zone,first_week\n");
    must("printf 'lot,variety,dug_on,clumps\\nL1,BERNS,2031-10-20,40\\nL2,GRUJA,2031-10-20,30\\n' > lots.csv",
         0, "");
    must("$cw load n.db lots.csv zones.csv --today 2032-02-01", 0, "lots.csv");
    /* A doubt without a terminal: exit 1, the column, the reason, the text; nothing is loaded. */
    must("$cw load n.db $s/stocktake.csv --today 2032-02-01", 1,
         "Date: Nothing tells which is the day and which the month.: 1/5/2032");
    must("$cw export n.db --as counts | wc -l", 0, "1");
    /* A kept fit by its name answers it. */
    must("printf 'Lot No.,Date,Stage,Counted\\nL1,1/25/2032,clumps,39\\n' > first.csv && "
         "$cw load n.db first.csv --fit counts --today 2032-02-01",
         1, "no fit is kept by this name: counts");
    must("$cw load n.db first.csv --fit --today 2032-02-01", 0, "counts of first.csv");
    /* A sheet that there is not; a kind told otherwise; a file of our own keeps its strict words. */
    must("$cw load n.db $s/sorten.csv --sheet Two --dry-run --today 2032-02-01", 0, "a dry run");
    must("$cw load n.db $s/zonen.csv --as places --today 2032-02-01", 1, "No column tells the place");
    must("printf 'zone,first_week,spare\\nz2,2032-W16,x\\n' > zones.csv && $cw load n.db zones.csv --today "
         "2032-02-01",
         1, "unknown column: spare");
    must("printf 'PK\\003\\004' > a.xlsx && $cw load n.db a.xlsx --today 2032-02-01", 1,
         "a.xlsx: is damaged");
    must("$cw load n.db nowhere.xlsx", 1, "cannot be opened");
    must("$cw check n.db", 0, "");
    must("rm -rf *", 0, "");
    assert_int_equal(rmdir(folder), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_load) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
