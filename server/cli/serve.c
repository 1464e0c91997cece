/* SPDX-License-Identifier: MIT */
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "cli/cli.h"
#include "fleet/fleet.h"
#include "http/server.h"

#include "base/banned.h"

static const cw_option options[] = {
    { "--listen", CW_TEXT_T, "ADDRESS:PORT", "where to listen (default: 127.0.0.1:8473)", 0, 0, NULL, false },
    { "--cert", CW_TEXT_T, "FILE", "certificate for TLS, PEM", 0, 0, NULL, false },
    { "--key", CW_TEXT_T, "FILE", "its private key, PEM", 0, 0, NULL, false },
    { "--host", CW_TEXT_T, "NAME", "a further name by which browsers reach this server", 0, 0, NULL, false },
    { "--trusted-proxy", CW_TEXT_T, "ADDRESS", "believe this reverse proxy's X-Forwarded-For and -Proto", 0,
      0, NULL, false },
    { "--insecure-lan", CW_BOOL_T, NULL, "listen beyond this machine without TLS", 0, 0, NULL, false },
    { "--web", CW_TEXT_T, "FOLDER", "the built pages", 0, 0, NULL, false },
    { "--backup-dir", CW_TEXT_T, "FOLDER", "keep verified backups there", 0, 0, NULL, false },
    { "--standby", CW_TEXT_T, "FOLDER", "to where scripts/standby copies the file: tell how far behind it is",
      0, 0, NULL, false },
    { "--past", CW_TEXT_T, "OLD.db", "look into that closed season's file, too; as often as needed", 0, 0,
      NULL, false, .many = true },
    { "--backup-every", CW_INT_T, "MINUTES", "between two backups (default: 60)", 1, 10080, NULL, false },
    { 0 },
};

static void say(const char *line)
{
    fprintf(stderr, "clumpwise: %s\n", line);
}

/* Beside the source when it was built there, else where the package puts them. */
static const char *default_web(void)
{
    static const char *const folders[] = { CW_WEB_DIR, CW_WEB_INSTALLED };
    struct stat s;
    for (size_t i = 0; i < sizeof folders / sizeof folders[0]; i++)
        if (stat(folders[i], &s) == 0)
            return folders[i];
    return NULL;
}

/* Whoever serves a closed season reads at once what it still takes. */
static cw_code say_closed(cw_call *call, cw_error *err)
{
    cw_nursery *n = NULL;
    char closed[CW_CLOSED_WORDS] = "";
    cw_code code = cw_nursery_open(call->arguments[0], CW_LOOK, NULL, &n, err);
    if (code == CW_OK)
        code = cw_nursery_closed(n, closed, err);
    cw_nursery_close(n);
    if (code == CW_OK && closed[0])
        cw_call_say(call, "%s: %s", call->arguments[0], closed);
    return code;
}

/* What is said of one nursery cannot be said of a folder of them. */
static cw_code run_fleet(cw_call *call, const cw_serve *how, cw_error *err)
{
    static const char *const of_one[] = { "--host", "--past", "--standby" };
    bool nursery = false;
    for (size_t i = 0; i < sizeof of_one / sizeof of_one[0]; i++)
        if (cw_call_given(call, of_one[i]))
            return cw_error_set(err, CW_USAGE, "%s is of one nursery, and %s is a folder of several; '%s'",
                                of_one[i], how->path, "clumpwise serve --help");
    cw_code code = cw_fleet_serve(how, &nursery, err);
    if (nursery)
        exit(code); /* its parent has said what there was to say */
    if (code == CW_OK)
        cw_call_say(call, "stopped");
    return code;
}

static cw_code run(cw_call *call, cw_error *err)
{
    sigset_t stop;
    struct stat folder;
    int got = 0;
    cw_server *server = NULL;
    cw_serve how = { .path = call->arguments[0],
                     .past = call->many,
                     .pasts = call->manies,
                     .listen = cw_call_text(call, "--listen", "127.0.0.1:8473"),
                     .cert = cw_call_text(call, "--cert", NULL),
                     .key = cw_call_text(call, "--key", NULL),
                     .trusted_proxy = cw_call_text(call, "--trusted-proxy", NULL),
                     .host = cw_call_text(call, "--host", NULL),
                     .web = cw_call_text(call, "--web", default_web()),
                     .backup_dir = cw_call_text(call, "--backup-dir", NULL),
                     .standby = cw_call_text(call, "--standby", NULL),
                     .backup_minutes = (unsigned)cw_call_int(call, "--backup-every", 60),
                     .insecure_lan = cw_call_flag(call, "--insecure-lan"),
                     .today = call->today,
                     .say = say };
    /* Blocked before the threads begin, so that only this one takes them. */
    sigemptyset(&stop);
    sigaddset(&stop, SIGINT);
    sigaddset(&stop, SIGTERM);
    sigprocmask(SIG_BLOCK, &stop, NULL);
    if (stat(how.path, &folder) == 0 && S_ISDIR(folder.st_mode))
        return run_fleet(call, &how, err);
    cw_code code = cw_server_start(&how, &server, err);
    if (code != CW_OK)
        return code;
    cw_call_say(call, "%s", cw_server_url(server));
    for (size_t i = 0; i < call->manies; i++)
        cw_call_say(call, "%s is looked into, and never written", call->many[i]);
    if (cw_server_open_to_all(server))
        cw_call_say(call, "nobody has an account: whoever sits at this machine is the owner");
    code = say_closed(call, err);
    if (code == CW_OK) {
        cw_call_say(call, "Ctrl-C stops it");
        sigwait(&stop, &got);
        cw_call_say(call, "stopping");
    }
    cw_server_stop(server);
    return code;
}

const cw_verb cw_verbs_serve[] = {
    {
        "serve",
        "NURSERY.db|FOLDER",
        "the pages and the HTTP interface",
        "Serves the pages of the owner, the office and the packers, and the interface for shops, until it is "
        "told to stop. It is the only writer of the file meanwhile: verbs that only read work beside it. As "
        "long as nobody has an account it listens on this machine only. Beyond it, give a certificate: "
        "passwords must not cross a network in the clear, and the packers' pages keep working in a dead spot "
        "only under TLS. With --past, lineage and recall on the page reach back into closed seasons, which "
        "are only read. Of a FOLDER each file HOST.db is served under that host name, by a process of its "
        "own: "
        "accounts, limits and faults stay apart. Every nursery there needs an account. HOST.pause beside it "
        "lets that file go, so that other verbs can work on it; its closed seasons lie in HOST.past/.",
        "clumpwise serve season2031.db --listen 192.168.1.10:8473 --cert nursery.pem --key nursery.key "
        "--backup-dir backups",
        options,
        1,
        1,
        run,
    },
    { 0 },
};
