/* SPDX-License-Identifier: MIT */
#include "support/nursery.h"

#include "base/rng.h"
#include "base/text.h"
#include "desk/intake/intake.h"
#include "store/db_inside.h"
#include <time.h>

#include "base/banned.h"

/* How many rows a second does a load take in, kind by kind, into a file that has what they refer to? The rows are made
 * from a fixed seed: 1,500 varieties, 3,000 lots, orders of six lines. Each kind is one durable transaction. */
#define VARIETIES   1500
#define LOTS        3000
#define ORDER_LINES 300000
#define MOST_BYTES  ((size_t)200 << 20)

/* Processor time, so that what else runs on the machine does not count; waiting for the disk at the commit is left out. */
static double seconds(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static void load(test_nursery *t, const char *kind, const cw_text *text, long rows)
{
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { NULL, 0, 0 };
    cw_table answer;
    cw_intake_options o = { 0 };
    cw_intake_file f = { .name = kind, .kind = kind, .bytes = text->data, .length = text->length };
    double from = seconds();
    cw_code code = cw_intake_load(t->n, &t->who, &f, 1, &o, &answer, &errors, &err);
    double took = seconds() - from;
    if (code != CW_OK) {
        char line[1600];
        cw_error_line(&err, line, sizeof line);
        fprintf(stderr, "%s\n", line);
        exit(1);
    }
    printf("load_%s %.0f rows/s\n", kind, (double)rows / took);
    fflush(stdout);
    cw_table_free(&answer);
    cw_error_list_free(&errors);
}

static void stock(test_nursery *t, cw_rng *r)
{
    cw_text text = CW_TEXT(MOST_BYTES);
    cw_text_add(&text, "code,name,form,size,colour,price\n");
    for (int v = 0; v < VARIETIES; v++)
        cw_text_addf(&text, "V%04d,Variety %d,ball,small,pink,%u.50\n", v, v, 4 + cw_rng_below(r, 9));
    load(t, "varieties", &text, VARIETIES);
    cw_text_clear(&text);
    cw_text_add(&text, "place,room,walk_order\n");
    for (int p = 0; p < 400; p++)
        cw_text_addf(&text, "P%03d,room %d,%d\n", p, p / 100, p);
    load(t, "places", &text, 400);
    cw_text_clear(&text);
    cw_text_add(&text, "lot,variety,dug_on,clumps,row,place\n");
    for (int l = 0; l < LOTS; l++)
        cw_text_addf(&text, "L%04d,V%04d,2031-10-%02d,60,r%d,P%03d\n", l, l % VARIETIES, 10 + l % 20, l,
                     l % 400);
    load(t, "lots", &text, LOTS);
    cw_text_free(&text);
}

static void past(test_nursery *t, cw_rng *r)
{
    cw_text text = CW_TEXT(MOST_BYTES);
    cw_text_add(&text, "season,variety,clumps,divisions\n");
    for (int i = 0; i < 100000; i++)
        cw_text_addf(&text, "%d,V%04d,%u,%u\n", 2020 + i % 11, i % VARIETIES, 1 + cw_rng_below(r, 20),
                     cw_rng_below(r, 90));
    load(t, "history", &text, 100000);
    cw_text_clear(&text);
    cw_text_add(&text, "season,variety,stage,weeks,inspected,rotten\n");
    for (int i = 0; i < 100000; i++)
        cw_text_addf(&text, "%d,V%04d,clump,%u.5,40,%u\n", 2020 + i % 11, i % VARIETIES, cw_rng_below(r, 20),
                     cw_rng_below(r, 9));
    load(t, "past_checks", &text, 100000);
    cw_text_clear(&text);
    cw_text_add(&text, "room,at,temp_c,rh\n");
    for (int i = 0; i < 100000; i++)
        cw_text_addf(&text, "room %d,2031-%02d-%02dT%02d:%02d:00Z,5.%u,94.%u\n", i / 33600,
                     11 + i / 16800 % 2, 1 + i / 600 % 28, i / 25 % 24, i % 25, cw_rng_below(r, 10),
                     cw_rng_below(r, 10));
    load(t, "air", &text, 100000);
    cw_text_clear(&text);
    cw_text_add(&text, "sample,lot,weighed_on,kg\n");
    for (int i = 0; i < 60000; i++)
        cw_text_addf(&text, "S%d,L%04d,2031-12-%02d,1%u.%u\n", i / 20, i / 20 % LOTS, 1 + i % 20,
                     cw_rng_below(r, 9), cw_rng_below(r, 99));
    load(t, "weighings", &text, 60000);
    cw_text_free(&text);
}

static void cellar(test_nursery *t, cw_rng *r)
{
    cw_text text = CW_TEXT(MOST_BYTES);
    cw_text_add(&text, "lot,divided_on,clumps,saleable,blind,rotten,place\n");
    for (int i = 0; i < 60000; i++)
        cw_text_addf(&text, "L%04d,2031-12-%02d,2,%u,3,%u,P%03u\n", i % LOTS, 1 + i / LOTS,
                     4 + cw_rng_below(r, 9), cw_rng_below(r, 8) == 0,
                     (unsigned)(i % LOTS + i / LOTS % 2) % 400);
    load(t, "divisions", &text, 60000);
    cw_text_clear(&text);
    cw_text_add(&text, "lot,checked_on,stage,inspected,rotten,shrivelled\n");
    for (int i = 0; i < 60000; i++)
        cw_text_addf(&text, "L%04d,2032-01-%02d,division,60,%u,\n", i % LOTS, 1 + i / LOTS,
                     cw_rng_below(r, 3));
    load(t, "checks", &text, 60000);
    cw_text_clear(&text);
    cw_text_add(&text, "lot,counted_on,stage,count\n");
    for (int i = 0; i < 15000; i++)
        cw_text_addf(&text, "L%04d,2032-01-%02d,division,%u\n", i % LOTS, 25 + i / LOTS,
                     100 + cw_rng_below(r, 3));
    load(t, "counts", &text, 15000);
    cw_text_free(&text);
}

static void orders(test_nursery *t, cw_rng *r)
{
    cw_text text = CW_TEXT(MOST_BYTES);
    cw_text_add(&text, "order,received_at,line,variety,quantity,unit_price,channel,tier,customer,email,"
                       "postcode,country,zone,"
                       "wish_week,consent,named,all_or_none,assortment\n");
    for (int i = 0; i < ORDER_LINES; i++)
        cw_text_addf(&text,
                     "A%06d,2032-01-%02dT%02d:%02d:00Z,%d,V%04u,%u,6.50,web,retail,Person "
                     "%d,p%d@example.org,%05d,US,z%d,"
                     "2032-W%d,same,,no,\n",
                     i / 6, 1 + i / 12000, i / 480 % 24, i / 6 % 60, i % 6 + 1, cw_rng_below(r, VARIETIES),
                     1 + cw_rng_below(r, 5), i / 6, i / 6, i / 6 % 99999, i / 6 % 9, 16 + i / 6 % 6);
    load(t, "orders", &text, ORDER_LINES);
    cw_text_free(&text);
}

/* A shop's orders, fifty in a durable batch, as the server's writer takes them. */
static void shop(test_nursery *t, cw_rng *r)
{
    enum { BATCHES = 100, BATCH = 50 };
    json_t *order[BATCH];
    double took = 0;
    cw_error err = CW_ERROR_NONE;
    sqlite3_exec(t->n->db->raw,
                 "UPDATE offering SET beyond = beyond + 1000000; INSERT INTO oversell (variety_id, at, actor,"
                 " quantity, why) SELECT variety_id, 0, 'bench', 1000000, 'bench' FROM offering",
                 NULL, NULL, NULL);
    for (int b = 0; b < BATCHES; b++) {
        for (int i = 0; i < BATCH; i++) {
            char text[64];
            json_t *lines = json_array();
            for (int l = 0; l < 6; l++) {
                snprintf(text, sizeof text, "V%04u", cw_rng_below(r, VARIETIES));
                json_array_append_new(lines, json_pack("{s:s,s:i,s:s,s:s}", "variety", text, "quantity", 2,
                                                       "unit_price", "6.50", "consent", "same"));
            }
            snprintf(text, sizeof text, "W%d-%d", b, i);
            order[i] = json_pack("{s:s,s:s,s:s,s:o}", "order", text, "customer", "A person", "country", "US",
                                 "lines", lines);
        }
        double from = seconds();
        cw_check_ok(cw_nursery_batch_begin(t->n, &err), &err);
        for (int i = 0; i < BATCH; i++) {
            json_t *answer = NULL;
            cw_check_ok(cw_intake_order(t->n, &t->who, order[i], &answer, &err), &err);
            json_decref(answer);
        }
        cw_check_ok(cw_nursery_batch_commit(t->n, &err), &err);
        took += seconds() - from;
        for (int i = 0; i < BATCH; i++)
            json_decref(order[i]);
    }
    printf("take_orders %.0f orders/s\n", BATCHES * BATCH / took);
}

int main(void)
{
    test_nursery t;
    cw_rng r;
    cw_rng_init(&r, 1, 0);
    test_nursery_make(&t);
    stock(&t, &r);
    past(&t, &r);
    cellar(&t, &r);
    orders(&t, &r);
    shop(&t, &r);
    test_nursery_free(&t);
    return 0;
}
