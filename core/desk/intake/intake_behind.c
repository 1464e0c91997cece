/* SPDX-License-Identifier: MIT */
#include "desk/intake/intake_orders_inside.h"

#include "base/parallel.h"

#include <pthread.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* A first file of orders is read and checked here while a thread of its own writes the rows before: each takes about as long. Two
 * batches go to and fro; the database belongs to the thread as long as it has one of them. */

#define BATCH_LINES  (128 * CW_LINES_AT_ONCE)
#define BATCH_ORDERS 1024
#define BATCH_BYTES  (1 << 20) /* of texts */

typedef struct order_waiting {
    int64_t id;
    size_t number;
    cw_values head; /* of a text that is not null `i` is where it stands in the batch's texts */
} order_waiting;

typedef struct batch {
    order_waiting *orders;
    cw_line_waiting *lines;
    size_t order_count, line_count;
    cw_text texts;
} batch;

struct cw_behind {
    cw_db *db;
    batch batches[2], *filling;
    int64_t last_id; /* of an order: they come into an empty table, so they are numbered from 1 */
    bool threaded;   /* else a full batch is written at once */
    pthread_t thread;
    pthread_mutex_t lock; /* of what follows */
    pthread_cond_t changed;
    batch *handed; /* to the thread; NULL: it has nothing, and the database is free */
    bool over;
    cw_code code; /* of the first write that failed */
    cw_error trouble;
};

static cw_code write_orders(cw_db *db, batch *b, cw_error *err)
{
    cw_code code = CW_OK;
    for (size_t i = 0; i < b->order_count && code == CW_OK; i++) {
        order_waiting *o = &b->orders[i];
        for (int c = cw_head_next(AT(order)); c >= 0; c = cw_head_next(c))
            if (cw_column_text(&cw_kinds[CW_ORDERS].columns[c]) && !o->head.v[c].null)
                o->head.v[c].t = b->texts.data + o->head.v[c].i;
        code = cw_head_write(db, "intake.order_add",
                             (cw_bind){ .type = 't', .t = b->texts.data + o->number, .name = "order" },
                             o->head.v, err);
        if (code == CW_OK && cw_db_last_id(db) != o->id)
            code = cw_error_set(err, CW_MACHINE, "orders are not numbered in turn: %lld instead of %lld",
                                (long long)cw_db_last_id(db), (long long)o->id);
    }
    b->order_count = 0;
    return code;
}

static cw_code write_lines(cw_db *db, const batch *b, cw_error *err)
{
    cw_code code = CW_OK;
    size_t i = 0;
    for (; i + CW_LINES_AT_ONCE <= b->line_count && code == CW_OK; i += CW_LINES_AT_ONCE) {
        cw_line_new lines[CW_LINES_AT_ONCE];
        for (size_t k = 0; k < CW_LINES_AT_ONCE; k++) {
            const cw_line_waiting *l = &b->lines[i + k];
            lines[k] = (cw_line_new){ l->order, l->line, cw_line_row_of(l, &b->texts) };
        }
        code = cw_intake_lines_add(db, lines, err);
    }
    for (; i < b->line_count && code == CW_OK; i++) {
        int64_t id = 0;
        cw_line_row row = cw_line_row_of(&b->lines[i], &b->texts);
        code = cw_intake_line_add(db, b->lines[i].order, b->lines[i].line, &row, &id, err);
    }
    return code;
}

static cw_code write_batch(cw_db *db, batch *b, cw_error *err)
{
    cw_code code = write_orders(db, b, err);
    if (code == CW_OK)
        code = write_lines(db, b, err);
    b->line_count = 0;
    cw_text_clear(&b->texts);
    return code;
}

static void *write_on(void *self)
{
    cw_behind *b = self;
    pthread_mutex_lock(&b->lock);
    for (;;) {
        while (b->handed == NULL && !b->over)
            pthread_cond_wait(&b->changed, &b->lock);
        if (b->handed == NULL)
            break;
        cw_error err = CW_ERROR_NONE;
        pthread_mutex_unlock(&b->lock);
        cw_code code = write_batch(b->db, b->handed, &err);
        pthread_mutex_lock(&b->lock);
        b->handed = NULL;
        b->code = code;
        b->trouble = err;
        pthread_cond_signal(&b->changed);
    }
    pthread_mutex_unlock(&b->lock);
    return NULL;
}

cw_behind *cw_behind_begin(cw_db *db, unsigned threads)
{
    cw_behind *b = calloc(1, sizeof *b);
    if (b == NULL)
        return NULL;
    b->db = db;
    b->filling = &b->batches[0];
    pthread_mutex_init(&b->lock, NULL);
    pthread_cond_init(&b->changed, NULL);
    for (size_t i = 0; i < 2; i++) {
        batch *k = &b->batches[i];
        k->orders = malloc(BATCH_ORDERS * sizeof *k->orders);
        k->lines = malloc(BATCH_LINES * sizeof *k->lines);
        k->texts = CW_TEXT(BATCH_BYTES + 4 * CW_MAX_RECORD_BYTES);
        if (k->orders == NULL || k->lines == NULL) {
            cw_behind_free(b);
            return NULL;
        }
    }
    b->threaded = cw_parallel_workers(threads) > 1 && pthread_create(&b->thread, NULL, write_on, b) == 0;
    return b;
}

void cw_behind_free(cw_behind *b)
{
    if (b == NULL)
        return;
    if (b->threaded) {
        pthread_mutex_lock(&b->lock);
        b->over = true;
        pthread_cond_signal(&b->changed);
        pthread_mutex_unlock(&b->lock);
        pthread_join(b->thread, NULL);
    }
    for (size_t i = 0; i < 2; i++) {
        free(b->batches[i].orders);
        free(b->batches[i].lines);
        cw_text_free(&b->batches[i].texts);
    }
    pthread_cond_destroy(&b->changed);
    pthread_mutex_destroy(&b->lock);
    free(b);
}

cw_code cw_behind_wait(cw_behind *b, cw_error *err)
{
    if (b == NULL || !b->threaded)
        return CW_OK;
    pthread_mutex_lock(&b->lock);
    while (b->handed)
        pthread_cond_wait(&b->changed, &b->lock);
    cw_code code = b->code;
    if (code != CW_OK)
        *err = b->trouble;
    pthread_mutex_unlock(&b->lock);
    return code;
}

cw_code cw_behind_orders(cw_behind *b, cw_error *err)
{
    cw_code code = cw_behind_wait(b, err);
    return code == CW_OK && b ? write_orders(b->db, b->filling, err) : code;
}

cw_code cw_behind_end(cw_behind *b, cw_error *err)
{
    cw_code code = cw_behind_wait(b, err);
    return code == CW_OK && b ? write_batch(b->db, b->filling, err) : code;
}

/* Hands the batch on if it is full, once the thread is ready for it. */
static cw_code hand_on(cw_behind *b, cw_error *err)
{
    const batch *k = b->filling;
    cw_code code = cw_text_check(&k->texts, err);
    if (code != CW_OK ||
        (k->line_count < BATCH_LINES && k->order_count < BATCH_ORDERS && k->texts.length < BATCH_BYTES))
        return code;
    if (!b->threaded)
        return write_batch(b->db, b->filling, err);
    code = cw_behind_wait(b, err);
    if (code != CW_OK)
        return code;
    pthread_mutex_lock(&b->lock);
    b->handed = b->filling;
    pthread_cond_signal(&b->changed);
    pthread_mutex_unlock(&b->lock);
    b->filling = &b->batches[b->filling == &b->batches[0]];
    return CW_OK;
}

cw_text *cw_behind_texts(cw_behind *b)
{
    return &b->filling->texts;
}

cw_code cw_behind_order(cw_behind *b, const char *number, const cw_values *head, int64_t *id, cw_error *err)
{
    batch *k = b->filling;
    order_waiting *o = &k->orders[k->order_count++];
    *id = o->id = ++b->last_id;
    o->number = cw_line_text(&k->texts, number);
    for (int c = cw_head_next(AT(order)); c >= 0; c = cw_head_next(c)) {
        o->head.v[c] = head->v[c];
        if (cw_column_text(&cw_kinds[CW_ORDERS].columns[c]) && !head->v[c].null)
            o->head.v[c].i = (int64_t)cw_line_text(&k->texts, head->v[c].t);
    }
    return hand_on(b, err);
}

cw_code cw_behind_line(cw_behind *b, const cw_line_waiting *l, cw_error *err)
{
    b->filling->lines[b->filling->line_count++] = *l;
    return hand_on(b, err);
}
