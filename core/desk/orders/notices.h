/* SPDX-License-Identifier: MIT */
#ifndef CW_DESK_NOTICES_H
#define CW_DESK_NOTICES_H

#include "base/shape.h"
#include "desk/nursery/nursery.h"

/* What must be told to whom by when, and was it told?
 *
 *   (a fact in the file) ──make──▶ due ──sent, with evidence──▶ sent
 *                                   │ └──drop, with a reason──▶ dropped
 *                                   └──the fact is no more, and make is called──▶ gone (audited)
 *
 *  1. The same fact gives one notice, however often make is called; a fact that changes gives a new one, and the one that
 *     was still due of the old is withdrawn.
 *  2. What was sent or dropped stays as it is.
 *  3. Nothing is sent from here: this writes text, CSV for a mail merge, or .eml files; that it was sent, and by what means, is
 *     put on record by a person, or by desk/post, which sends letters when the office says so.
 *
 * What is told: a ship week later than promised (delay); a shared-out line that is short with nothing more to come, or
 * short in an order that has left (short); a substitute that is promised (substitute); an order or part of one that was
 * cancelled (cancelled); money that is owed (refund): unit price x divisions not delivered, to the cent; a held lot of
 * which the buyer received (recall). By when: model/timetable, after the setting `timetable`. Not legal advice.
 *
 * What was promised: the day that the last sent delay notice named; else the Friday of the wished week, or of the zone's
 * first week if that is later; without a wish the setting `promised_by`, else the latest of the Friday of the zone's first
 * week (of the shipping day's week without a zone) and the timetable's days from the order. That parcels with plants leave
 * before a weekend is common practice, no source. */
typedef struct cw_notices_made {
    int64_t made, kept, withdrawn; /* kept: facts that had their notice */
} cw_notices_made;
cw_code cw_notices_make(cw_nursery *n, const cw_asker *who, cw_notices_made *out,
                        cw_error *err) CW_MUST_CHECK;

/* notice,order,line,kind,due_on,overdue,state,customer,email,amount,sentence,made_at,done_at,actor,evidence, by due day.
 * state due, sent, dropped, or NULL; due_by CW_NO_DAY: any. */
cw_code cw_notices_show(cw_nursery *n, const cw_asker *who, const char *state, cw_day due_by, cw_table *out,
                        cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_notices_show_shape;

/* On record: sent (evidence: how, and what proves it), or dropped (why). CW_CONFLICT when it is not due any more. */
cw_code cw_notices_sent(cw_nursery *n, const cw_asker *who, int64_t notice, const char *evidence,
                        cw_error *err) CW_MUST_CHECK;
cw_code cw_notices_drop(cw_nursery *n, const cw_asker *who, int64_t notice, const char *why,
                        cw_error *err) CW_MUST_CHECK;

/* The same for many at once, all or none. */
#define CW_NOTICES_MOST 20000
cw_code cw_notices_sent_all(cw_nursery *n, const cw_asker *who, const int64_t *notices, size_t count,
                            const char *evidence, cw_error *err) CW_MUST_CHECK;

/* The caution of the timetable that is set, for whoever shows notices. */
cw_code cw_notices_caution(cw_nursery *n, char *out, size_t size, cw_error *err) CW_MUST_CHECK;

/* For a mail merge: notice,kind,due_on,order,line,customer,email,postcode,country,amount,currency,subject,body. */
cw_code cw_notices_merge(cw_nursery *n, const cw_asker *who, const char *state, cw_day due_by, cw_table *out,
                         cw_error *err) CW_MUST_CHECK;

/* One notice as a message (RFC 5322), from the setting `sender`. CW_REFUSED when that is not set or the order has no e-mail
 * address. */
cw_code cw_notices_message(cw_nursery *n, const cw_asker *who, int64_t notice, cw_text *out,
                           cw_error *err) CW_MUST_CHECK;

/* Their numbers in the order of the list; *ids is to be freed. */
cw_code cw_notices_numbers(cw_nursery *n, const char *state, cw_day due_by, int64_t **ids, size_t *count,
                           cw_error *err) CW_MUST_CHECK;

/* Texts: kind,language,subject,body,version. What a buyer is sent is in the language of the order, else in the nursery's (setting
 * language); `language` NULL is the nursery's, too. {words} in braces are filled in; one that is not known is refused. */
cw_code cw_notices_templates(cw_nursery *n, cw_table *out, cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_notices_templates_shape;
cw_code cw_notices_template_set(cw_nursery *n, const cw_asker *who, const char *kind, const char *language,
                                const char *subject, const char *body, cw_error *err) CW_MUST_CHECK;

/* {subject,body} of a text as it would read, for a notice that stands on record, or (notice 0) for an invented one.
 * subject and body NULL: the text that is set; language NULL: the buyer's. */
cw_code cw_notices_preview(cw_nursery *n, const cw_asker *who, const char *kind, const char *language,
                           const char *subject, const char *body, int64_t notice, json_t **out,
                           cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_notices_preview_shape;

/* What is owed, per line and claim: order,customer,email,line,variety,why,cancelled,short,unit_price,owed,refunded,left. With
 * `all` also what is settled. */
cw_code cw_notices_refunds(cw_nursery *n, const cw_asker *who, bool all, cw_table *out,
                           cw_error *err) CW_MUST_CHECK;
extern const cw_shape cw_notices_refunds_shape;

#endif
