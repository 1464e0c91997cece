/* SPDX-License-Identifier: MIT */
#ifndef CW_FLEET_H
#define CW_FLEET_H

#include "http/server.h"

/* Several nurseries on one address, as a group of growers would host them: a folder whose files HOST.db are each served under that
 * name by a process of its own. Accounts, sessions, limits, the outbox, the time zone and a crash are each nursery's own; the parent
 * only looks whom a connection asks for and hands it over (called.h, http/handed.c). It opens no nursery file.
 *
 *     FOLDER/hilltop.example.org.db      served as hilltop.example.org; one that is put there is served within two seconds
 *     FOLDER/hilltop.example.org.pause   while it is there that nursery is let go, so that its file can be worked on
 *     FOLDER/hilltop.example.org.past/   closed seasons' files that it looks into, may be absent
 *
 * A nursery without an account is not served, and a file that cannot be opened stops none but itself. */
#define CW_FLEET_MOST 200

/* Serves how->path, a folder, until SIGTERM or SIGINT, which are blocked when it is called; from then on within five seconds.
 * Also returns in each process that it starts: then `nursery` is true, its work is done, and the caller ends the process with
 * the code. */
cw_code cw_fleet_serve(const cw_serve *how, bool *nursery, cw_error *err) CW_MUST_CHECK;

#endif
