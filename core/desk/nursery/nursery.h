/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_NURSERY_H
#define CW_DESK_NURSERY_H

#include "base/day.h"
#include "base/error.h"
#include "base/go_on.h"
#include "base/shape.h"

#include <stdbool.h>
#include <stdint.h>

/* Which nursery file is open, and who asks? Every desk function takes a cw_nursery, then a cw_asker, then what is asked, then
 * the answer (a cw_table or a JSON document), then the error. */
typedef struct cw_nursery cw_nursery;

typedef enum cw_role {
    CW_ROLE_NONE,
    CW_ROLE_OWNER,
    CW_ROLE_OFFICE,
    CW_ROLE_PACKER,
    CW_ROLE_CELLAR,
    CW_ROLE_SHOP
} cw_role;

/* Told how far a long piece of work is; `what` is NULL where the work only asks whether to go on. Returns false to give it up:
 * then nothing is changed. May be called from several threads. */
typedef bool (*cw_progress)(void *context, const char *what, uint64_t done, uint64_t all);

/* What an edit was based on: {name: value} as the asker saw them, and of those that have changed since {name: value} as they are.
 * Whoever makes the asker owns both (based_inside.h tells how they are used). */
struct json_t;
typedef struct cw_based {
    struct json_t *on, *now;
    bool failed; /* no memory for `now` */
} cw_based;

typedef struct cw_asker {
    const char *actor; /* name for ledger, events and audit; borrowed */
    cw_role role;
    cw_day today;                    /* what "now" means for dates */
    cw_instant now;                  /* for instants on record */
    cw_instant clock;                /* the machine's, whatever day is told: for codes by time */
    cw_day (*day_of)(cw_instant at); /* the day where the nursery is, as `today` is; NULL: UTC's */
    cw_progress progress;            /* may be NULL */
    void *progress_context;
    bool program;    /* a key and no person, even under a person's name */
    cw_based *based; /* NULL: not said, so nothing is asked */
} cw_asker;

/* Tells the asker how far the work is, all = 0 where that is not known; CW_REFUSED when it is to be given up. */
cw_code cw_asker_tell(const cw_asker *who, const char *what, uint64_t done, uint64_t all,
                      cw_error *err) CW_MUST_CHECK;
/* The same question for work that has nothing to tell: `what` is then NULL. Good while `who` is. */
cw_go_on cw_asker_go_on(const cw_asker *who);
cw_day cw_asker_day(const cw_asker *who, cw_instant at);
#define CW_TELL_EVERY 4096 /* rows between two tellings */

typedef enum cw_access {
    CW_LOOK, /* reads, beside a writer if need be */
    CW_WORK, /* reads and writes: the only writer */
} cw_access;

/* `holder` names this process in the lock that others are shown; needed for CW_WORK. */
cw_code cw_nursery_open(const char *path, cw_access access, const char *holder, cw_nursery **out,
                        cw_error *err) CW_MUST_CHECK;
void cw_nursery_close(cw_nursery *n);

/* `go_on` is asked inside long statements, too, and while another program holds the file, until it is set anew (all zero: nobody is
 * asked). If the answer is no, the statement ends with CW_MACHINE, and so does the transaction of a write. Not to be set while
 * a batch is committed. */
void cw_nursery_heed(cw_nursery *n, cw_go_on go_on);

/* Makes a new nursery file and leaves it open for work. season = year of digging; ship = planned first shipping day. */
typedef struct cw_season {
    int season;
    cw_day ship;
    char currency[4];  /* ISO 4217 */
    char timezone[64]; /* IANA name */
} cw_season;
cw_code cw_nursery_new(const char *path, const cw_season *season, const cw_asker *who, cw_nursery **out,
                       cw_error *err) CW_MUST_CHECK;

const cw_season *
cw_nursery_season(const cw_nursery *n); /* as it was last looked at: its shipping day may have moved */
cw_code cw_nursery_season_now(cw_nursery *n, cw_season *out, cw_error *err) CW_MUST_CHECK;

/* What a closed season still takes, and how it is opened again, as every refusal says it; "" while it is open. */
#define CW_CLOSED_WORDS 280
cw_code cw_nursery_closed(cw_nursery *n, char out[CW_CLOSED_WORDS], cw_error *err) CW_MUST_CHECK;

/* Raised by each write that touches stock, or offers, orders and promises; for caches and ETags. Read afresh. `figures` is raised
 * when what a projection says has been worked out anew with nothing written (desk/forecast/refining.h); 0 where nobody does. */
typedef struct cw_revision {
    int64_t stock, trade, figures;
} cw_revision;
cw_code cw_nursery_revision(cw_nursery *n, cw_revision *out, cw_error *err) CW_MUST_CHECK;

/* Settings, each with a default and a meaning (the list is in season.c): an unknown name or a value out of bounds is
 * refused. They are the owner's to change. */
cw_code cw_nursery_setting(cw_nursery *n, const char *name, char *out, unsigned long size,
                           cw_error *err) CW_MUST_CHECK;
cw_code cw_nursery_number(cw_nursery *n, const char *name, double *out, cw_error *err) CW_MUST_CHECK;
cw_code cw_nursery_set(cw_nursery *n, const cw_asker *who, const char *name, const char *value,
                       cw_error *err) CW_MUST_CHECK;
/* All or none. */
cw_code cw_nursery_set_all(cw_nursery *n, const cw_asker *who, const char *const *names,
                           const char *const *values, size_t count, cw_error *err) CW_MUST_CHECK;
/* setting, value, default, meaning */
cw_code cw_nursery_settings(cw_nursery *n, cw_table *out, cw_error *err) CW_MUST_CHECK;
/* In JSON: {setting: value}; with all settings, and with those to be set. */
extern const cw_shape cw_nursery_settings_shape, cw_nursery_set_shape;

/* A batch: many desk calls become durable by one commit. Between begin and commit each desk call that writes stands or
 * falls by itself (a savepoint); nothing may be acknowledged before commit returned CW_OK. */
cw_code cw_nursery_batch_begin(cw_nursery *n, cw_error *err) CW_MUST_CHECK;
cw_code cw_nursery_batch_commit(cw_nursery *n, cw_error *err) CW_MUST_CHECK;
void cw_nursery_batch_drop(cw_nursery *n); /* also right when there is none */

#endif
