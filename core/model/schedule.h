/* SPDX-License-Identifier: MIT */
#ifndef CW_MODEL_SCHEDULE_H
#define CW_MODEL_SCHEDULE_H

#include "base/day.h"
#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* In which ISO week should each order leave?
 *
 * Rules, all of them hard for an order that is free to be placed:
 *   1. not before the first week of its climate zone (an order of no known zone waits for the latest first
 *      week of any zone: frost kills tubers, a late parcel does not);
 *   2. not before the week that the buyer wished;
 *   3. not in a week in which its zone or the order itself is under a frost hold (a zone's hold binds no
 *      order of unknown zone), unless it has leave to go in spite of that hold;
 *   4. no more parcels in a week than the crew can pack;
 *   5. an order leaves whole, in one week;
 *   6. an order that is barred (nothing may be sent to it), or has nothing to send, gets no week.
 * Within these: first come, first served. Orders are taken by received instant, then order number, and each
 * gets the earliest week that the rules leave open. So a full week sends its *latest* comers on, and nobody
 * waits because of an order that came after theirs.
 *
 * Orders that are fixed (pinned by the office, in a wave, shipped) keep their week, whatever it breaks, and
 * their parcels count against its capacity before anyone is placed.
 *
 * Deterministic: the result does not depend on the order of the input rows. Cost: orders x weeks,
 * and a sort. */

#define CW_SCHEDULE_SENTENCE 320

typedef struct cw_schedule_zone {
    const char *name;   /* as the nursery writes it, e.g. "5b" */
    cw_week first_week; /* 0 = no rule for this zone */
} cw_schedule_zone;

/* No parcel of a zone, of one order, or of some orders, in the weeks from..to, both included. */
typedef struct cw_schedule_hold {
    int zone;           /* index into zones, or -1 */
    int order;          /* index into orders, or -1 */
    cw_week from;       /* 0 = from the start */
    cw_week to;         /* 0 = until it is lifted */
    const char *reason; /* shown in sentences; NULL = "frost hold" */
    /* [order_count] whether it holds each order, or NULL; exactly one of the three is given */
    const bool *of;
} cw_schedule_hold;

/* One order goes in spite of one hold. */
typedef struct cw_schedule_leave {
    size_t hold, order; /* indices */
} cw_schedule_leave;

typedef enum cw_schedule_fix {
    CW_SCHEDULE_FREE,    /* may be placed */
    CW_SCHEDULE_PINNED,  /* the office chose its week */
    CW_SCHEDULE_IN_WAVE, /* being picked or packed */
    CW_SCHEDULE_SHIPPED, /* gone */
} cw_schedule_fix;

typedef struct cw_schedule_order {
    const char *number; /* order number: breaks ties of the received instant */
    cw_instant received_at;
    int zone;          /* index into zones, -1 = not known */
    cw_week wish_week; /* 0 = no wish */
    int parcels;       /* 0: nothing to send */
    cw_schedule_fix fix;
    cw_week fixed_week; /* of an order that is not free */
    const char *barred; /* why nothing may be sent to it, as a clause; NULL: something may */
} cw_schedule_order;

/* Everything is borrowed for the length of a call. */
typedef struct cw_schedule {
    cw_week first_week;  /* first week that can still be packed */
    int weeks;           /* number of weeks that may be used, 1 .. CW_SCHEDULE_MAX_WEEKS */
    const int *capacity; /* [weeks] parcels that the crew can pack; -1 = no limit */
    const cw_schedule_zone *zones;
    size_t zone_count;
    const cw_schedule_hold *holds;
    size_t hold_count;
    const cw_schedule_leave *leaves;
    size_t leave_count;
    const cw_schedule_order *orders;
    size_t order_count;
} cw_schedule;

#define CW_SCHEDULE_MAX_WEEKS 60

/* What decided the week: the last rule that moved it. */
typedef enum cw_schedule_why {
    CW_SCHEDULE_SOONEST,  /* nothing stands against the first week */
    CW_SCHEDULE_BY_ZONE,  /* its zone starts in this week */
    CW_SCHEDULE_NO_ZONE,  /* zone unknown: the latest zone's first week */
    CW_SCHEDULE_BY_WISH,  /* the buyer's wish */
    CW_SCHEDULE_BY_HOLD,  /* moved past a frost hold */
    CW_SCHEDULE_BY_ROOM,  /* moved past full weeks */
    CW_SCHEDULE_BY_FIX,   /* pinned, in a wave or shipped */
    CW_SCHEDULE_HELD,     /* no week: under hold until the last week (week = 0) */
    CW_SCHEDULE_NO_ROOM,  /* no week: all that the rules leave are full (week = 0) */
    CW_SCHEDULE_TOO_LATE, /* no week: zone or wish lies behind the last week (week = 0) */
    CW_SCHEDULE_BARRED,   /* no week: nothing may be sent to it (week = 0) */
    CW_SCHEDULE_NOTHING,  /* no week: it has nothing to send (week = 0) */
} cw_schedule_why;

typedef struct cw_ship {
    cw_week week; /* 0 = none; why says which rule is in the way */
    cw_schedule_why why;
    cw_week earliest; /* by zone and wish alone, never before first_week */
    int weeks_held;   /* weeks passed over because of holds */
    int weeks_full;   /* weeks passed over because they were full */
} cw_ship;

/* Fills out[order_count]; `load` (may be NULL) gets the parcels of each of the weeks. CW_REFUSED if the
 * problem itself is wrong (weeks out of range, zone or order index out of range, parcels < 0); CW_MACHINE
 * without memory. */
cw_code cw_schedule_place(const cw_schedule *s, cw_ship *out, int *load, cw_error *err) CW_MUST_CHECK;

/* The outcome as a sentence that the office can read out on the phone. */
void cw_schedule_say(const cw_schedule *s, size_t order, const cw_ship *ship, char out[CW_SCHEDULE_SENTENCE]);

typedef enum cw_schedule_rule {
    CW_RULE_BEFORE_ZONE, /* amount = weeks too early */
    CW_RULE_BEFORE_WISH, /* amount = weeks too early */
    CW_RULE_IN_HOLD,     /* amount = 1 */
    CW_RULE_CAPACITY,    /* amount = parcels over what the crew can pack */
    CW_RULE_OUTSIDE,     /* the week is past or behind the last one; amount = weeks outside */
    CW_RULE_GONE,        /* the order is in a wave (amount 1) or shipped (amount 2): it cannot be moved */
    CW_RULE_BARRED,      /* nothing may be sent to it in any week; amount = 1 */
    CW_SCHEDULE_RULES,
} cw_schedule_rule;

typedef struct cw_schedule_break {
    cw_schedule_rule rule;
    int amount;
    char sentence[CW_SCHEDULE_SENTENCE];
} cw_schedule_break;

/* What would moving one order to week `to` break? `week` is where every order stands now ([order_count], 0 =
 * nowhere). Returns the number of broken rules, in the order of cw_schedule_rule; 0 = the move is clean. An
 * order that stays where it is is judged the same way, so this also tells what a pinned order breaks. */
size_t cw_schedule_check_move(const cw_schedule *s, const cw_week *week, size_t order, cw_week to,
                              cw_schedule_break out[CW_SCHEDULE_RULES]);

#endif
