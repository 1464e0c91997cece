/* SPDX-License-Identifier: MIT */
/* Whatever is entered in whatever order, the books agree with a plain account of it. */
#include "support/small_cellar.h"

#include "base/rng.h"
#include "desk/cellar/cellar.h"
#include "store/audit.h"

#include "base/banned.h"

#define LOTS 4

/* The random history: an independent book of what each lot holds, kept beside the ledger. */
typedef struct book {
    int64_t clumps[LOTS], divisions[LOTS];
    struct step {
        int lot;
        int64_t clumps, divisions, cause_id;
        char cause[16];
        bool undone;
    } steps[4000];
    int count;
    long taken, refused;
} book;

static const char *const lot_names[LOTS] = { "L0", "L1", "L2", "L3" };
static const char *const place_names[] = { NULL, "A1", "A2", "B1" };

static int64_t draw(cw_rng *r, int64_t below)
{
    return (int64_t)cw_rng_below(r, (uint32_t)below);
}

/* One random entry; the change that it should make is in the last two. */
static cw_code random_entry(test_nursery *t, cw_rng *r, const book *b, int lot, cw_table *out,
                            int64_t *clumps, int64_t *divisions, cw_error *err)
{
    static const char *const reasons[] = {
        "found", "missing", "rotten", "shrivelled", "discarded", "planted"
    };
    cw_cellar_entry e = CW_CELLAR_ENTRY;
    e.lot = lot_names[lot];
    e.day = on(11, 1) + (cw_day)draw(r, 92);
    e.place = place_names[draw(r, 4)];
    *clumps = *divisions = 0;
    switch (draw(r, 5)) {
    case 0:
        e.clumps = 1 + draw(r, 8);
        e.rotten = draw(r, 3);
        e.saleable = draw(r, 30);
        e.blind = draw(r, 5);
        *clumps = -e.clumps;
        *divisions = e.saleable;
        return cw_cellar_divide(t->n, &t->who, &e, out, err);
    case 1:
        e.stage = draw(r, 2) ? "division" : "clump";
        e.inspected = draw(r, 60);
        e.rotten = draw(r, 5);
        e.shrivelled = e.stage[0] == 'd' && draw(r, 2) ? draw(r, 4) : CW_NOT_SAID;
        *(e.stage[0] == 'd' ? divisions : clumps) = -e.rotten - (e.shrivelled > 0 ? e.shrivelled : 0);
        return cw_cellar_check(t->n, &t->who, &e, out, err);
    case 2: /* today, so that the book knows what is counted */
        e.day = t->who.today;
        e.place = NULL;
        e.stage = draw(r, 2) ? "division" : "clump";
        e.count = draw(r, 60);
        *(e.stage[0] == 'd' ? divisions : clumps) =
            e.count - (e.stage[0] == 'd' ? b->divisions[lot] : b->clumps[lot]);
        return cw_cellar_count(t->n, &t->who, &e, out, err);
    case 3:
        e.to = place_names[1 + draw(r, 3)];
        e.clumps = draw(r, 4);
        e.divisions = draw(r, 10);
        return cw_cellar_move(t->n, &t->who, &e, out, err);
    default: {
        int64_t sign = 1;
        e.reason = reasons[draw(r, 6)];
        sign = strcmp(e.reason, "found") == 0 ? 1 : -1;
        e.clumps = draw(r, 3);
        e.divisions = draw(r, 4);
        *clumps = sign * e.clumps;
        *divisions = sign * e.divisions;
        return cw_cellar_enter(t->n, &t->who, &e, out, err);
    }
    }
}

static void keep(book *b, const cw_table *out, int64_t clumps, int64_t divisions)
{
    const char *lot = cw_table_text(out, 0, 0);
    struct step *s = &b->steps[b->count++];
    *s = (struct step){
        .lot = lot[1] - '0', .clumps = clumps, .divisions = divisions, .cause_id = cw_table_int(out, 0, 2)
    };
    cw_copy(s->cause, sizeof s->cause, cw_table_text(out, 0, 1));
    b->clumps[s->lot] += clumps;
    b->divisions[s->lot] += divisions;
    assert_int_equal(b->clumps[s->lot], cw_table_int(out, 0, 3));
    assert_int_equal(b->divisions[s->lot], cw_table_int(out, 0, 4));
    b->taken++;
}

static void random_step(test_nursery *t, cw_rng *r, book *b)
{
    cw_error err = CW_ERROR_NONE;
    cw_table out = { 0 };
    int64_t clumps = 0, divisions = 0;
    cw_code code = CW_OK;
    struct step *undone = b->count && draw(r, 6) == 0 ? &b->steps[draw(r, b->count)] : NULL;
    if (undone) {
        code = cw_cellar_undo(t->n, &t->who, undone->cause, undone->cause_id, "a random undo", &out, &err);
        assert_true(!undone->undone || code != CW_OK);
        if (code == CW_OK) {
            undone->undone = true;
            b->clumps[undone->lot] -= undone->clumps;
            b->divisions[undone->lot] -= undone->divisions;
            assert_int_equal(b->divisions[undone->lot], cw_table_int(&out, 0, 4));
        }
    } else {
        code = random_entry(t, r, b, (int)draw(r, LOTS), &out, &clumps, &divisions, &err);
        if (code == CW_OK)
            keep(b, &out, clumps, divisions);
    }
    if (code != CW_OK) {
        assert_int_not_equal(code, CW_MACHINE);
        assert_string_not_equal(err.column, "");
        b->refused++;
    }
    cw_table_free(&out);
}

static void whatever_is_done_the_books_agree(void **state)
{
    test_nursery t;
    uint64_t seed = test_seed();
    cw_rng r;
    book *b = calloc(1, sizeof *b);
    cw_error err = CW_ERROR_NONE;
    long broken = 0;
    char last[65];
    (void)state;
    cw_rng_init(&r, seed, 0);
    assert_non_null(b);
    small_cellar(&t);
    b->clumps[0] = 40;
    b->clumps[1] = 25;
    b->clumps[2] = 60;
    for (int i = 0; i < 800; i++) {
        random_step(&t, &r, b);
        test_nursery_check(&t);
    }
    print_message("%ld taken, %ld refused\n", b->taken, b->refused);
    assert_true(b->taken > 150);
    assert_true(b->refused > 100);
    cw_check_ok(cw_audit_check(t.n->db, test_report, NULL, &broken, last, &err), &err);
    assert_int_equal(broken, 0);
    free(b);
    test_nursery_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(whatever_is_done_the_books_agree),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
