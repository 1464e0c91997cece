/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_FITTED_H
#define CW_TESTS_SUPPORT_FITTED_H

/* A sheet of another make, and the nursery that looks at it. */
#include "support/intake.h"

#include "desk/sheets/sheets.h"

static const char base_varieties[] =
    "code,name,colour,price\nAMB,Amber Lantern,orange,6.50\nBRI,Briar Song,pink,8\n"
    "CIN,Cinder,red,7.25\nDOV,Dove Grey,white,6\n";
static const char base_places[] = "place,room,walk_order\nA1,north,10\nA2,north,20\n";
static const char base_lots[] =
    "lot,variety,dug_on,clumps,place\nL1,AMB,2031-10-20,40,A1\nL2,BRI,2031-10-21,30,A2\n";

static inline void open_nursery(test_nursery *t)
{
    const cw_season season = {
        .season = 2031, .ship = cw_day_from_ymd(2032, 4, 19), .currency = "EUR", .timezone = "UTC"
    };
    cw_error err = CW_ERROR_NONE;
    test_nursery_make(t);
    cw_nursery_close(t->n);
    assert_int_equal(unlink(t->path), 0);
    cw_check_ok(cw_nursery_new(t->path, &season, &t->who, &t->n, &err), &err);
    cw_intake_file files[] = { file("varieties.csv", base_varieties), file("places.csv", base_places),
                               file("lots.csv", base_lots) };
    ok(load_with(t, files, 3, (cw_intake_options){ 0 }));
}

static inline char *read_file(const char *name, size_t *length)
{
    char path[512];
    snprintf(path, sizeof path, "%s/sheets/%s", CW_TEST_DIR, name);
    FILE *f = fopen(path, "rb");
    assert_non_null(f);
    char *bytes = malloc(65536);
    assert_non_null(bytes);
    *length = fread(bytes, 1, 65536, f);
    fclose(f);
    return bytes;
}

static inline json_t *look(test_nursery *t, const cw_sheets_file *f, const json_t *fit)
{
    cw_error err = CW_ERROR_NONE;
    json_t *document = NULL;
    cw_check_ok(cw_sheets_look(t->n, &t->who, f, fit, &document, &err), &err);
    return document;
}

static inline void say_all(const json_t *document)
{
    static const char *const lists[] = { "said", "doubts", "problems" };
    for (size_t i = 0; i < 3; i++) {
        char *text = json_dumps(json_object_get(document, lists[i]), JSON_INDENT(1));
        print_error("%s: %s\n", lists[i], text);
        free(text);
    }
}

#endif
