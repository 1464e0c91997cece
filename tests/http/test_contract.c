/* SPDX-License-Identifier: MIT */
/* The contract against the running server on four files: empty, sparse (one lot, one order, no prices, no zones), the demo
 * season, and a large one. Whatever is asked, the answer is what the contract says (held.h), and on the way every route is
 * answered well at least once. That the contract is whole needs no test: a route without one does not link. */
#include "mailing.h"
#include "serving.h"

#include "desk/intake/intake.h"
#include "support/demo.h"
#include "support/phone.h"

/* What stands for a name in a path or a query; taken from the file that is asked. */
typedef struct world {
    serving s;
    char variety[40], other[40], lot[40], place[40], order[40], headers[512];
    long long line, cause, run, hold, wave, stop, pick, parcel, notice, claim, letter;
} world;

static bool good[ROUTES_MOST]; /* by route: answered well by some file */

static json_t *asked(world *w, int status, const char *method, const char *target, const char *body)
{
    wire_reply r = wire_ask(w->s.port, method, target, w->headers, body);
    if (status && r.status != status)
        fail_msg("%s %s %s: %d instead of %d: %.600s", method, target, body ? body : "", r.status, status,
                 r.body ? r.body : "");
    json_t *o = json_loads(r.body ? r.body : "", 0, NULL);
    wire_free(&r);
    return o;
}

/* A POST whose answer is of no further use. */
static void post(world *w, int status, const char *target, const char *format, ...) CW_PRINTF(4, 5);
static void post(world *w, int status, const char *target, const char *format, ...)
{
    char body[2000];
    va_list args;
    va_start(args, format);
    vsnprintf(body, sizeof body, format, args);
    va_end(args);
    json_decref(asked(w, status, "POST", target, body));
}

/* A member of the first row (or of the document) as text or number; "" and 0 when there is none. */
static void note_text(const json_t *list, const char *name, size_t row, char out[40])
{
    const json_t *o = json_is_array(list) ? json_array_get(list, row) : list;
    const char *s = json_string_value(json_object_get(o, name));
    snprintf(out, 40, "%s", s ? s : "");
}

static long long number(const json_t *list, const char *name)
{
    const json_t *o = json_is_array(list) ? json_array_get(list, 0) : list;
    return json_integer_value(json_object_get(o, name));
}

static long long asked_number(world *w, int status, const char *method, const char *target, const char *body,
                              const char *name)
{
    json_t *o = asked(w, status, method, target, body);
    long long n = number(o, name);
    json_decref(o);
    return n;
}

/* What the file has, so that it can be asked after. */
static void look_around(world *w)
{
    json_t *o = asked(w, 200, "GET", "/api/varieties", NULL);
    note_text(o, "code", 0, w->variety);
    note_text(o, "code", 1, w->other);
    json_decref(o);
    o = asked(w, 200, "GET", "/api/lots", NULL);
    note_text(o, "lot", 0, w->lot);
    json_decref(o);
    o = asked(w, 200, "GET", "/api/places", NULL);
    note_text(o, "place", 0, w->place);
    json_decref(o);
    o = asked(w, 200, "GET", "/api/orders", NULL);
    note_text(json_object_get(o, "items"), "order", 0, w->order);
    json_decref(o);
    w->line = 1;
}

/* The value of a {name} or a parameter; NULL: the file has none. Every name in the contract must stand here. */
static const char *value_of(const world *w, const char *name, size_t length, char out[64])
{
    const struct {
        const char *name, *value;
        long long number;
    } known[] = {
        { "code", w->variety, 0 },
        { "variety", w->variety, 0 },
        { "substitute", w->other, 0 },
        { "lot", w->lot, 0 },
        { "lots", w->lot, 0 },
        { "order", w->order, 0 },
        { "line", NULL, w->line },
        { "wave", NULL, w->wave },
        { "stop", NULL, w->stop },
        { "pick", NULL, w->pick },
        { "parcel", NULL, w->parcel },
        { "notice", NULL, w->notice },
        { "letter", NULL, w->letter },
        { "claim", NULL, w->claim },
        { "hold", NULL, w->hold },
        { "name", "office", 0 },
        { "task", "some-task-1", 0 },
        { "q", "1", 0 },
        { "page", "2", 0 },
        { "most", "3", 0 },
        { "beds", "40", 0 },
        { "keep", "5", 0 },
        { "room", "north", 0 },
        { "days", "7", 0 },
        { "before", "900", 0 },
        { "try", "", 0 },
        { "file", "orders.csv", 0 },
        { "fit", "racks", 0 },
        { "row", "r1", 0 },
        { "season", "2032", 0 },
        { "ship", "2033-04-18", 0 },
        { "leave_open", "yes", 0 },
        { "desk", "winter", 0 },
    };
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        if (strlen(known[i].name) != length || strncmp(known[i].name, name, length) != 0)
            continue;
        if (known[i].number > 0)
            snprintf(out, 64, "%lld", known[i].number);
        else
            snprintf(out, 64, "%s", known[i].value ? known[i].value : "");
        return out[0] ? out : NULL;
    }
    fail_msg("no value is known here for the name %.*s of the contract", (int)length, name);
    return NULL;
}

/* The path with its names filled in; false: the file has none of something. */
static bool fill_path(const world *w, const char *pattern, char out[300])
{
    char value[64];
    size_t n = 0;
    for (const char *at = pattern; *at; n = strlen(out)) {
        size_t length = *at == '{' ? strcspn(at, "}") - 1 : 0;
        if (length && value_of(w, at + 1, length, value) == NULL)
            return false;
        snprintf(out + n, 300 - n, "%.*s", length ? 64 : 1, length ? value : at);
        at += length ? length + 2 : 1;
    }
    return true;
}

/* A value of a parameter: by its kind, or of a text by its name; NULL: the file has none. */
static const char *sample(const world *w, const cw_member *m, char out[64])
{
    static const char *const by_kind[] = {
        [CW_MONEY_T] = "6.00",    [CW_DAY_T] = "2032-01-10", [CW_INSTANT_T] = "2032-01-10T00:00:00Z",
        [CW_WEEK_T] = "2032-W16", [CW_BOOL_T] = "yes",
    };
    if (m->words)
        snprintf(out, 64, "%.*s", (int)strcspn(m->words, "|"), m->words);
    else if (m->type == CW_REAL_T)
        snprintf(out, 64, "%g", m->high > 0 ? (m->low + m->high) / 2 : 1);
    else if (m->type == CW_INT_T && m->required)
        snprintf(out, 64, "%.0f", m->low + 1);
    else if (m->type <= CW_BOOL_T && by_kind[m->type])
        snprintf(out, 64, "%s", by_kind[m->type]);
    else
        return value_of(w, m->name, strlen(m->name), out);
    return out;
}

/* A GET with what it needs and one parameter more (NULL: none). */
static void get(world *w, const cw_route *r, const cw_member *more)
{
    char target[400], value[64], sign = '?';
    if (!fill_path(w, r->path, target))
        return;
    for (const cw_member *m = r->contract->query; m && m->name; m++) {
        size_t n = strlen(target);
        if (!m->required && m != more)
            continue;
        if (sample(w, m, value) == NULL)
            return;
        snprintf(target + n, sizeof target - n, "%c%s=%s", sign, m->name, value);
        sign = '&';
    }
    json_decref(asked(w, 0, "GET", target, NULL));
}

/* Every GET, bare and with each of its parameters. */
static void ask_all(world *w, bool each_parameter)
{
    const cw_route *r;
    for (size_t i = 0; (r = cw_route_at(i)); i++) {
        if (r->method != CW_GET)
            continue;
        get(w, r, NULL);
        for (const cw_member *m = r->contract->query; each_parameter && m && m->name; m++)
            if (!m->required)
                get(w, r, m);
    }
}

static void world_begin(world *w, bool people)
{
    *w = (world){ 0 };
    serving_make(&w->s, people);
    w->s.t.who.today = cw_day_from_ymd(2032, 2, 20);
    w->s.t.who.now = w->s.t.who.today * CW_DAY_MS + 43200000;
    w->s.how.today = w->s.t.who.today;
}

static void world_end(world *w)
{
    for (size_t i = 0; i < sizeof good / sizeof good[0]; i++)
        good[i] = good[i] || held_good[i] > 0;
    serving_free(&w->s);
}

static void load_texts(world *w, const char *const files[][2], size_t count)
{
    cw_error err = CW_ERROR_NONE;
    cw_error_list errors = { 0 };
    cw_table t = { 0 };
    cw_intake_file in[16] = { { 0 } };
    assert_true(count <= 16);
    for (size_t i = 0; i < count; i++)
        in[i] = (cw_intake_file){ .name = files[i][0], .bytes = files[i][1], .length = strlen(files[i][1]) };
    cw_check_ok(
        cw_intake_load(w->s.t.n, &w->s.t.who, in, count, &(cw_intake_options){ 0 }, &t, &errors, &err), &err);
    cw_table_free(&t);
    cw_error_list_free(&errors);
}

static void test_empty(void **state)
{
    world w;
    (void)state;
    world_begin(&w, false);
    serving_start(&w.s);
    look_around(&w);
    ask_all(&w, true);
    post(&w, 200, "/api/schedule", "{}");
    post(&w, 200, "/api/notices/make", "{}");
    post(&w, 201, "/api/releases", "{}");
    post(&w, 201, "/api/allocation", "{\"rule\":\"first-come\"}");
    post(&w, 201, "/api/substitution", "{}");
    post(&w, 0, "/api/waves", "{\"week\":\"2032-W17\"}");
    static const char turn[] = "{\"season\":2032,\"ship\":\"2033-04-18\",\"buyers_since\":\"2031-01-01\"}";
    json_decref(asked(&w, 200, "GET", "/api/season/next?season=2032&ship=2033-04-18&leave_open=yes", NULL));
    json_decref(asked(&w, 200, "GET", "/api/buyers?q=a", NULL));
    post(&w, 404, "/api/season/close", turn); /* nothing is made yet */
    post(&w, 200, "/api/season/next", turn);
    post(&w, 204, "/api/season/close", turn);
    json_t *closed = asked(&w, 200, "GET", "/api/season/closed", NULL);
    assert_true(json_is_true(json_object_get(closed, "closed")));
    json_decref(closed);
    post(&w, 409, "/api/schedule", "{}"); /* a closed season takes no more of this */
    post(&w, 204, "/api/season/reopen", "{\"why\":\"too early\"}");
    post(&w, 200, "/api/schedule", "{}");
    world_end(&w);
}

/* What a season asks of the desks, from the cellar to the claim, on a lot of 40 clumps and an order of 3 divisions. */
static void in_the_cellar(world *w)
{
    post(w, 201, "/api/counts", "{\"lot\":\"%s\",\"stage\":\"clump\",\"count\":40}", w->lot);
    post(w, 201, "/api/checks", "{\"lot\":\"%s\",\"stage\":\"clump\",\"inspected\":5,\"rotten\":1}", w->lot);
    post(w, 201, "/api/dividing", "{\"lot\":\"%s\",\"clumps\":10,\"saleable\":40,\"blind\":2}", w->lot);
    post(w, 201, "/api/moves", "{\"lot\":\"%s\",\"to\":\"%s\",\"divisions\":5,\"clumps\":null}", w->lot,
         w->place);
    post(w, 200, "/api/records/places",
         "{\"rows\":[{\"was\":null,\"now\":{\"place\":\"NEW-9\",\"room\":\"loft\",\"walk_order\":\"90\"}}]}");
    post(w, 200, "/api/records/places",
         "{\"rows\":[{\"was\":{\"place\":\"NEW-9\",\"room\":\"loft\",\"walk_order\":\"90\"},\"now\":null}]}");
    post(w, 409, "/api/records/places",
         "{\"rows\":[{\"was\":{\"place\":\"NEW-9\",\"room\":\"loft\",\"walk_order\":\"90\"},\"now\":null}]}");
    char priced[80];
    snprintf(priced, sizeof priced, "/api/bench/price?lot=%s&day=2032-02-25", w->lot);
    json_decref(asked(w, 200, "GET", priced, NULL));
    post(w, 200, "/api/bench/move", "{\"lot\":\"%s\",\"day\":\"2032-02-25\"}", w->lot);
    post(w, 200, "/api/bench/let-go", "{\"lot\":\"%s\"}", w->lot);
    post(w, 200, "/api/bench/freeze", "{}");
    post(w, 200, "/api/bench/crew", "{\"day\":\"2032-02-26\",\"cutters\":3,\"washers\":1,\"hours\":6.5}");
    post(w, 200, "/api/bench/washed", "{\"lot\":\"%s\",\"washed_on\":\"2032-02-20\"}", w->lot);
    char body[200];
    snprintf(body, sizeof body, "{\"lot\":\"%s\",\"divisions\":1,\"reason\":\"discarded\"}", w->lot);
    w->cause = asked_number(w, 201, "POST", "/api/entries", body, "cause_id");
    post(w, 201, "/api/undo", "{\"cause\":\"entry\",\"cause_id\":%lld,\"why\":\"typed wrong\"}", w->cause);
    post(w, 204, "/api/lots/L1/hold", "{\"why\":\"looks odd\"}");
    post(w, 204, "/api/lots/L1/hold", "{}");
}

/* A second code of a variety, and two varieties again. */
static void two_codes(world *w)
{
    post(w, 201, "/api/load",
         "{\"files\":[{\"name\":\"varieties.csv\",\"text\":\"code,name\\nTWICE,Twice Named\\nTWIN,Twin "
         "Named\\n\"}],\"same_name\":\"new\"}");
    post(w, 200, "/api/varieties/TWICE/merge", "{\"to\":\"TWIN\"}");
    post(w, 200, "/api/varieties/TWICE/merge", "{\"to\":\"TWIN\",\"why\":\"one plant\",\"commit\":true}");
    json_decref(asked(w, 200, "GET", "/api/merged", NULL));
    post(w, 200, "/api/varieties/TWICE/part", "{}");
    post(w, 200, "/api/varieties/TWICE/part", "{\"why\":\"two plants\",\"commit\":true}");
}

static void in_the_field(world *w)
{
    post(w, 201, "/api/field/plantings",
         "{\"row\":\"R1\",\"variety\":\"%s\",\"plants\":30,\"planted_on\":\"2031-05-12\"}", w->variety);
    post(w, 201, "/api/load",
         "{\"files\":[{\"name\":\"plantings.csv\",\"text\":\"row,variety,plants,planted_on\\n,%s,5,2031-05-"
         "13\\n\"}]}",
         w->variety);
    json_t *rows = asked(w, 200, "GET", "/api/field", NULL);
    long long nameless =
        json_integer_value(json_object_get(json_array_get(rows, json_array_size(rows) - 1), "planting"));
    json_decref(rows);
    post(w, 201, "/api/field/name", "{\"planting\":%lld,\"row\":\"R2\"}", nameless);
    post(w, 201, "/api/field/take", "{\"row\":\"R1\",\"take\":\"yes\"}");
    long long round =
        asked_number(w, 201, "POST", "/api/field/rounds",
                     "{\"row\":\"R1\",\"seen_on\":\"2031-07-01\",\"alive\":28,\"rogued\":1}", "cause_id");
    post(w, 201, "/api/field/dug",
         "{\"row\":\"R1\",\"dug_on\":\"2031-10-28\",\"clumps\":20,\"culled\":1,\"place\":\"%s\",\"done\":"
         "\"yes\"}",
         w->place);
    post(w, 201, "/api/field/undo", "{\"cause\":\"round\",\"cause_id\":%lld,\"why\":\"typed wrong\"}", round);
    json_decref(asked(w, 200, "GET", "/api/field/dug?day=2031-10-01", NULL));
    post(w, 201, "/api/season/left", "{\"items\":[{\"lot\":\"%s\",\"row\":\"B1\",\"planted\":1}]}", w->lot);
}

static void at_the_winter_desk(world *w)
{
    json_decref(asked(w, 200, "PATCH", "/api/varieties/AMB", "{\"version\":1,\"hold_back\":2}"));
    post(w, 200, "/api/varieties/AMB/code", "{\"to\":\"AMBER\"}");
    post(w, 200, "/api/varieties/AMB/code", "{\"to\":\"AMBER\",\"why\":\"a label\",\"commit\":true}");
    json_decref(asked(w, 200, "GET", "/api/former-codes", NULL));
    post(w, 200, "/api/varieties/AMBER/code", "{\"to\":\"AMB\",\"why\":\"back\",\"commit\":true}");
    char of_lot[80];
    snprintf(of_lot, sizeof of_lot, "/api/lots/%s/variety", w->lot);
    post(w, 0, of_lot, "{\"to\":\"%s\"}", w->variety); /* one of the two it is */
    post(w, 0, of_lot, "{\"to\":\"%s\"}", w->other);
    json_decref(asked(w, 200, "PATCH", "/api/settings",
                      "{\"order_minimum\":\"20\",\"sender\":\"desk@example.org\"}"));
    json_decref(
        asked(w, 204, "POST", "/api/season/ship",
              "{\"day\":\"2032-04-26\",\"why\":\"a late frost\",\"based_on\":{\"day\":\"2032-04-19\"}}"));
    post(w, 201, "/api/releases",
         "{\"items\":[{\"variety\":\"AMB\",\"quantity\":20}],\"why\":\"first list\"}");
    int64_t run =
        asked_number(w, 201, "POST", "/api/keep",
                     "{\"items\":[{\"variety\":\"AMB\",\"keep\":7}],\"based_on\":{\"AMB\":2}}", "run");
    post(w, 200, "/api/keep-runs/undo", "{\"run\":%lld}", (long long)run);
    json_decref(
        asked(w, 204, "PATCH", "/api/keep/AMB", "{\"demand\":\"40..90\",\"based_on\":{\"demand\":\"\"}}"));
    post(w, 200, "/api/oversell", "{\"variety\":\"AMB\",\"quantity\":1,\"why\":\"a friend\"}");
    post(w, 201, "/api/load",
         "{\"files\":[{\"name\":\"zones.csv\",\"text\":\"zone,first_week\\nz5,2032-W18\\n\"}],"
         "\"dry_run\":true}");
    post(w, 200, "/api/sheets/ours", "{\"name\":\"zones.csv\",\"text\":\"zone,first_week\\n\"}");
    post(w, 200, "/api/sheets/look",
         "{\"name\":\"racks.csv\",\"text\":\"Shelf;Cellar\\nR-01;\\nR-02;old\\n\",\"fit\":{\"constants\":"
         "[{\"field\":\"places.room\",\"value\":\"old\"}],\"names\":[{\"text\":\"a\",\"code\":\"AMB\"}]}}");
    post(w, 422, "/api/sheets/take",
         "{\"name\":\"list.csv\",\"text\":\"Variety;Dug;Clumps\\nAMB;01/02/2032;5\\n\"}");
    post(w, 422, "/api/sheets/take", "{\"name\":\"list.xlsx\",\"base64\":\"UEsDBA==\"}");
    post(w, 201, "/api/sheets/take",
         "{\"name\":\"racks.csv\",\"base64\":\"U2hlbGY7Q2VsbGFyClItMDE7b2xkCg==\",\"keep\":\"racks\"}");
    post(w, 201, "/api/sheets/take",
         "{\"name\":\"spare.csv\",\"base64\":\"Q2VsbGFyO1NoZWxmCm9sZDtSLTA5Cg==\",\"keep\":\"spare\"}");
    post(w, 204, "/api/fits/spare/rename", "{\"to\":\"shelves\"}");
    json_decref(asked(w, 204, "DELETE", "/api/fits/shelves", NULL));
}

static void orders_come(world *w)
{
    post(w, 201, "/api/orders",
         "[{\"order\":\"S1\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":3,\"unit_price\":\"6.50\","
         "\"consent\":\"any\"}]},"
         "{\"order\":\"S2\",\"customer\":\"Ida "
         "Invented\",\"email\":\"ida@example.org\",\"postcode\":\"00001\",\"lines\":"
         "[{\"variety\":\"AMB\",\"quantity\":2,\"unit_price\":6.5,\"all_or_none\":true,\"consent\":\"named\","
         "\"named\":[\"BRI\"]}]},"
         "{\"order\":\"S3\",\"customer\":\"Ida Invented\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,"
         "\"unit_price\":\"6.50\"},{\"assortment\":\"form=ball\",\"variety\":null,\"quantity\":1,\"unit_"
         "price\":\"5\","
         "\"line\":2}]}]");
    post(w, 409, "/api/orders",
         "{\"order\":\"S9\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":90,\"unit_price\":1}]}");
    post(w, 0, "/api/orders",
         "[{\"order\":\"S9\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":90,\"unit_price\":1}]},{}]");
    json_decref(
        asked(w, 200, "PATCH", "/api/orders/S1/lines/1", "{\"quantity\":4,\"why\":\"on the phone\"}"));
    post(w, 201, "/api/orders",
         "{\"order\":\"S5\",\"paid\":true,\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":\"6."
         "50\"}]}");
    post(w, 201, "/api/orders",
         "{\"order\":\"S4\",\"lines\":[{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":\"6.50\"}]}");
    json_decref(asked(
        w, 200, "PATCH", "/api/orders/S2",
        "{\"customer\":\"Ida "
        "Invented\",\"town\":\"Nowhere\",\"paid\":\"no\",\"wish_week\":\"2032-W18\",\"consent\":\"none\","
        "\"why\":\"on the phone\",\"based_on\":{\"town\":\"\"}}"));
    post(w, 200, "/api/orders/S2/cancel", "{\"why\":\"moves house\"}");
    post(w, 201, "/api/orders",
         "[{\"order\":\"S6\",\"customer\":\"Eve\",\"email\":\"eve@example.org\",\"lines\":[{\"variety\":"
         "\"AMB\","
         "\"quantity\":1,\"unit_price\":\"6.50\"}]},"
         "{\"order\":\"S7\",\"customer\":\"Eve\",\"email\":\"eve@example.org\",\"lines\":[{\"variety\":"
         "\"AMB\","
         "\"quantity\":1,\"unit_price\":\"6.50\"}]}]");
    post(w, 201, "/api/orders/S7/lines",
         "{\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":\"6.50\",\"consent\":\"any\",\"why\":\"rang\"}");
    json_decref(asked(w, 200, "GET", "/api/orders/S6/beside", NULL));
    post(w, 200, "/api/orders/S6/merge", "{\"other\":\"S7\"}");
    post(w, 200, "/api/orders/S6/unmerge", "{\"other\":\"S7\"}");
    post(w, 200, "/api/orders/S6/together", "{\"other\":\"S7\"}");
    post(w, 200, "/api/orders/S6/apart", "{\"other\":\"S7\"}");
    post(w, 200, "/api/orders/S6/cancel", "{\"why\":\"moves house\"}");
    post(w, 200, "/api/orders/S7/cancel", "{\"why\":\"moves house\"}");
    post(w, 200, "/api/orders/S3/cancel", "{\"why\":\"changed\",\"line\":1}");
}

static void shared_out(world *w)
{
    w->run = asked_number(w, 201, "POST", "/api/allocation", "{\"rule\":\"pro-rata\",\"supply\":\"counted\"}",
                          "run");
    post(w, 200, "/api/allocation/changes",
         "{\"before\":[{\"variety\":\"AMB\",\"order\":\"S1\",\"line\":1,\"rule\":\"pro-rata\",\"allocated\":"
         "1}]}");
    post(w, 204, "/api/allocation/undo", "{\"run\":%lld,\"why\":\"too early\"}", w->run);
    post(w, 201, "/api/allocation", "{\"rule\":\"first-come\"}");
    post(w, 204, "/api/allocation/take-back",
         "{\"order\":\"S1\",\"line\":1,\"variety\":\"AMB\",\"quantity\":1,\"why\":\"bruised\"}");
    post(w, 204, "/api/substitution/forbid",
         "{\"order\":\"S1\",\"line\":1,\"substitute\":\"BRI\",\"why\":\"asked\"}");
    json_decref(asked(w, 200, "GET", "/api/substitution/banned", NULL));
    post(w, 204, "/api/substitution/permit",
         "{\"order\":\"S1\",\"line\":1,\"substitute\":\"BRI\",\"why\":\"again\"}");
    post(w, 201, "/api/substitution", "{}");
    post(w, 201, "/api/allocation", "{\"rule\":\"first-come\"}");
}

static void weeks_set(world *w, char week[40])
{
    post(w, 200, "/api/schedule", "{}");
    json_t *o = asked(w, 200, "GET", "/api/schedule", NULL);
    note_text(json_object_get(o, "orders"), "week", 0, week);
    json_decref(o);
    post(w, 200, "/api/orders/S1/week", "{\"week\":\"2032-W20\",\"preview\":true}");
    post(w, 200, "/api/orders/S1/week", "{\"week\":\"%s\",\"why\":\"on holiday\"}", week);
    w->hold =
        asked_number(w, 201, "POST", "/api/frost-holds",
                     "{\"order\":\"S1\",\"first_week\":\"2032-W30\",\"last_week\":\"2032-W31\"}", "hold");
    post(w, 200, "/api/orders/S1/overrule", "{\"rule\":\"frost\",\"why\":\"goes in a heated van\"}");
    post(w, 200, "/api/orders/S1/overrule", "{\"rule\":\"frost\",\"heed\":true}");
    post(w, 201, "/api/frost-holds",
         "{\"country\":\"Deutschland\",\"postcode_from\":\"20\",\"postcode_to\":\"29\",\"first_week\":\"2032-"
         "W30\",\"last_week\":\"2032-W31\"}");
    post(w, 201, "/api/frost-holds",
         "{\"carrier\":\"Red Van\",\"first_week\":\"2032-W30\",\"last_week\":\"2032-W31\"}");
    post(w, 201, "/api/load",
         "{\"files\":[{\"name\":\"holds.csv\",\"text\":\"country,first_week,last_week\\nFR,2032-W30,2032-"
         "W31\\n\"}]}");
    post(w, 204, "/api/load/brought/1/undo", "{\"why\":\"the storm is over\"}");
    post(w, 422, "/api/frost-holds",
         "{\"country\":\"DE\",\"order\":\"S1\",\"first_week\":\"2032-W30\",\"last_week\":\"2032-W31\"}");
    char target[80];
    snprintf(target, sizeof target, "/api/frost-holds/%lld", w->hold);
    json_decref(asked(w, 204, "DELETE", target, NULL));
}

/* Makes a wave and notes its first stop, pick and parcel. */
static void wave_made(world *w, const char *week)
{
    char body[80], target[80];
    snprintf(body, sizeof body, "{\"week\":\"%s\",\"orders\":[\"S1\"]}", week);
    w->wave = asked_number(w, 201, "POST", "/api/waves", body, "wave");
    snprintf(target, sizeof target, "/api/waves/%lld", w->wave);
    json_t *o = asked(w, 200, "GET", target, NULL), *stops = json_object_get(o, "stops");
    w->stop = number(stops, "id");
    w->pick = number(json_object_get(json_array_get(stops, 0), "picks"), "id");
    w->parcel = number(json_object_get(o, "parcels"), "id");
    json_decref(o);
    assert_true(w->stop > 0 && w->pick > 0 && w->parcel > 0);
}

static void to(world *w, int status, const char *what, long long id, const char *verb, const char *body)
{
    char target[80];
    snprintf(target, sizeof target, "/api/%s/%lld/%s", what, id, verb);
    json_decref(asked(w, status, "POST", target, body));
}

static void packed(world *w, const char *week)
{
    wave_made(w, week);
    to(w, 200, "waves", w->wave, "drop", "{\"why\":\"rain\"}");
    wave_made(w, week);
    to(w, 200, "parcels", w->parcel, "take-off", "{\"why\":\"later\"}");
    wave_made(w, week);
    to(w, 204, "stops", w->stop, "take", "{}");
    to(w, 204, "stops", w->stop, "release", "{}");
    post(w, 200, "/api/picks",
         "{\"confirmations\":[{\"key\":\"k-0000001\",\"pick\":%lld,\"taken\":1,\"reason\":\"rotten\"}]}",
         w->pick);
    json_decref(asked(w, 200, "GET", "/api/shorts", NULL));
    to(w, 200, "picks", w->pick, "undo", "{\"why\":\"miscounted\"}");
    post(w, 200, "/api/picks",
         "{\"confirmations\":[{\"key\":\"k-0000002\",\"pick\":%lld,\"taken\":1,\"reason\":\"missing\"}]}",
         w->pick);
    to(w, 200, "parcels", w->parcel, "fill", "{}");
    char target[80];
    snprintf(target, sizeof target, "/api/waves/%lld", w->wave);
    json_t *o = asked(w, 200, "GET", target, NULL), *stop, *pick;
    size_t i, k, all = 1; /* of the pick that came short */
    json_array_foreach(json_object_get(o, "stops"), i, stop)
        json_array_foreach(json_object_get(stop, "picks"), k, pick)
    {
        long long quantity = json_integer_value(json_object_get(pick, "quantity"));
        if (strcmp(json_string_value(json_object_get(pick, "state")), "open") != 0)
            continue;
        all += (size_t)quantity;
        post(w, 200, "/api/picks",
             "{\"confirmations\":[{\"key\":\"k-000001%zu-%zu\",\"pick\":%lld,\"taken\":%lld}]}", i, k,
             (long long)json_integer_value(json_object_get(pick, "id")), quantity);
    }
    json_decref(o);
    char body[80];
    snprintf(body, sizeof body, "{\"count\":%zu}", all);
    to(w, 200, "parcels", w->parcel, "pack", body);
    to(w, 200, "parcels", w->parcel, "unpack", "{\"why\":\"label\"}");
    to(w, 200, "parcels", w->parcel, "pack", body);
    to(w, 200, "parcels", w->parcel, "ship", "{}");
    to(w, 200, "parcels", w->parcel, "correct", "{\"tracking\":\"T1\",\"why\":\"misread\"}");
    to(w, 200, "parcels", w->parcel, "unship", "{\"why\":\"still here\"}");
    to(w, 200, "parcels", w->parcel, "ship", "{}");
}

/* S4 is cancelled after it was pulled: what lies in its slot goes back. */
static void called_off(world *w, const char *week)
{
    char body[80], target[80];
    snprintf(body, sizeof body, "{\"week\":\"%s\",\"orders\":[\"S4\",\"S5\"]}", week);
    w->wave = asked_number(w, 201, "POST", "/api/waves", body, "wave");
    snprintf(target, sizeof target, "/api/waves/%lld", w->wave);
    json_t *o = asked(w, 200, "GET", target, NULL), *stop, *pick;
    size_t i, k;
    json_array_foreach(json_object_get(o, "stops"), i, stop)
        json_array_foreach(json_object_get(stop, "picks"), k, pick)
    {
        bool first = strcmp(json_string_value(json_object_get(pick, "order")), "S4") == 0;
        post(w, 200, "/api/picks",
             "{\"confirmations\":[{\"key\":\"k-000007%d\",\"pick\":%lld,\"taken\":%d%s}]}", first,
             (long long)json_integer_value(json_object_get(pick, "id")), first,
             first ? "" : ",\"reason\":\"missing\"");
        if (!first)
            post(w, 200, "/api/shorts/settle", "{\"items\":[{\"order\":\"S5\",\"line\":1,\"parcel\":%lld}]}",
                 (long long)json_integer_value(json_object_get(pick, "parcel")));
    }
    json_decref(o);
    json_decref(asked(w, 200, "GET", "/api/orders/S4/lying", NULL));
    post(w, 200, "/api/orders/S4/cancel", "{\"why\":\"moves house\"}");
    o = asked(w, 200, "GET", target, NULL);
    long long id = number(json_object_get(o, "put_back"), "id");
    json_decref(o);
    assert_true(id > 0);
    to(w, 200, "put-backs", id, "done", "{}");
    post(w, 200, "/api/rests/close", "{\"orders\":[\"S3\"]}");
}

/* Nothing listens there: the test letter is refused, and no other one may go. */
static void letters_wait(world *w)
{
    char body[80];
    json_decref(asked(w, 204, "PUT", "/api/post/account", "{\"server\":\"smtp://127.0.0.1:9\"}"));
    json_decref(asked(w, 200, "PATCH", "/api/settings", "{\"sender\":\"office@example.org\"}"));
    post(w, 204, "/api/post/test", "{}");
    snprintf(body, sizeof body, "{\"notices\":[{\"notice\":%lld}]}", w->notice);
    post(w, 422, "/api/post/letters", "%s", body);
    post(w, 204, "/api/post/stop", "{\"stopped\":true}");
    for (int i = 0; i < 1200; i++) { /* the server tries it beside us */
        json_t *o = asked(w, 200, "GET", "/api/outbox?state=refused", NULL);
        w->letter = number(json_array_get(o, 0), "letter");
        json_decref(o);
        if (w->letter > 0)
            break;
        usleep(50000);
    }
    to(w, 204, "outbox", w->letter, "again", "{}");
    for (int i = 0; i < 1200; i++) {
        char target[80];
        snprintf(target, sizeof target, "/api/outbox/%lld/remove", w->letter);
        json_t *o = asked(w, 0, "POST", target, "{}"); /* 409 while it goes */
        bool gone = o == NULL || json_object_get(o, "status") == NULL;
        json_decref(o);
        if (gone)
            break;
        usleep(50000);
    }
    char folder[] = "/tmp/cw-contract-XXXXXX", command[80];
    assert_non_null(mkdtemp(folder));
    helper mail = helper_start((const char *const[]){ "mailserver.py", folder, NULL });
    snprintf(command, sizeof command, "{\"server\":\"smtp://127.0.0.1:%u\"}", mail.port);
    json_decref(asked(w, 204, "PUT", "/api/post/account", command));
    post(w, 204, "/api/post/test", "{}");
    for (int i = 0; i < 1200; i++) {
        json_t *o = asked(w, 200, "GET", "/api/post", NULL);
        bool tested = json_is_true(json_object_get(o, "tested"));
        json_decref(o);
        if (tested)
            break;
        usleep(50000);
    }
    post(w, 200, "/api/post/letters", "%s", body);
    helper_stop(&mail);
    snprintf(command, sizeof command, "rm -rf %s", folder);
    assert_int_equal(system(command), 0);
    post(w, 204, "/api/post/account/forget", "{}");
    json_decref(asked(w, 200, "PUT", "/api/hook", "{\"address\":\"http://127.0.0.1:9/told\"}"));
    post(w, 204, "/api/hook/test", "{}");
    post(w, 204, "/api/hook/stop", "{\"stopped\":true}");
    post(w, 204, "/api/hook/forget", "{}");
}

static void told_and_claimed(world *w)
{
    post(w, 200, "/api/notices/make", "{}");
    json_t *o = asked(w, 200, "GET", "/api/notices?state=due", NULL);
    assert_true(json_array_size(o) >= 3);
    long long third = json_integer_value(json_object_get(json_array_get(o, 2), "notice"));
    w->notice = json_integer_value(json_object_get(json_array_get(o, 0), "notice"));
    long long other = json_integer_value(json_object_get(json_array_get(o, 1), "notice"));
    json_decref(o);
    char target[80];
    snprintf(target, sizeof target, "/api/notices/%lld.eml", w->notice);
    json_decref(asked(w, 200, "GET", target, NULL));
    post(w, 200, "/api/notices/sent", "{\"notices\":[{\"notice\":%lld}],\"evidence\":\"merge\"}", third);
    to(w, 204, "notices", w->notice, "sent", "{\"evidence\":\"by letter\"}");
    to(w, 204, "notices", other, "drop", "{\"why\":\"told on the phone\"}");
    letters_wait(w);
    json_decref(asked(w, 204, "PUT", "/api/templates",
                      "{\"kind\":\"delay\",\"subject\":\"Later\",\"body\":\"It comes later.\\n\"}"));
    post(w, 200, "/api/templates/preview", "{\"kind\":\"delay\"}");
    w->claim = asked_number(w, 201, "POST", "/api/claims",
                            "{\"order\":\"S1\",\"line\":1,\"quantity\":1,\"why\":\"soft\"}", "claim");
    to(w, 204, "claims", w->claim, "answer", "{\"answer\":\"refund\"}");
    to(w, 201, "parcels", w->parcel, "claim", "{\"why\":\"frozen\",\"answer\":\"open\"}");
    post(w, 200, "/api/forget/preview", "{\"customer\":\"Ida Invented\",\"postcode\":\"00001\"}");
    post(w, 409, "/api/forget/preview", "{\"customer\":\"Ida Invented\"}");
    post(w, 200, "/api/forget", "{\"customer\":\"Ida Invented\",\"postcode\":\"00001\"}");
    json_decref(asked(w, 200, "DELETE", "/api/tasks/some-task-1", NULL));
}

static void whole_season(world *w)
{
    char week[40];
    in_the_cellar(w);
    in_the_field(w);
    two_codes(w);
    at_the_winter_desk(w);
    orders_come(w);
    shared_out(w);
    weeks_set(w, week);
    packed(w, week);
    called_off(w, week);
    told_and_claimed(w);
}

static void test_sparse(void **state)
{
    static const char *const files[][2] = {
        { "varieties.csv", "code,name\nAMB,Amber Lantern\nBRI,Briar Song\n" },
        { "places.csv", "place,room,walk_order\nP1,north,1\n" },
        { "lots.csv", "lot,variety,dug_on,clumps\nL1,AMB,2031-10-20,40\n" },
    };
    world w;
    (void)state;
    world_begin(&w, false);
    load_texts(&w, files, 3);
    serving_start(&w.s);
    look_around(&w);
    ask_all(&w, true);
    whole_season(&w);
    look_around(&w);
    ask_all(&w, true);
    world_end(&w);
}

/* What it would cost not to give the first substitute of the plan. */
static void without_a_substitute(world *w)
{
    char target[200], order[40], substitute[40];
    json_t *o = asked(w, 200, "GET", "/api/substitution", NULL), *lines = json_object_get(o, "lines");
    note_text(lines, "order", 0, order);
    note_text(lines, "substitute", 0, substitute);
    snprintf(target, sizeof target, "/api/substitution/forbidden?order=%s&line=%lld&substitute=%s", order,
             number(lines, "line"), substitute);
    json_decref(o);
    json_decref(asked(w, 200, "GET", target, NULL));
}

static void test_demo(void **state)
{
    static const char *const names[] = { "varieties", "history",      "past_checks", "places",    "lots",
                                         "divisions", "checks",       "counts",      "weighings", "air",
                                         "zones",     "destinations", "orders" };
    world w;
    (void)state;
    world_begin(&w, false);
    test_load(&w.s.t, names, sizeof names / sizeof names[0], CW_SOURCE_DIR "/scripts/demo-season");
    serving_start(&w.s);
    look_around(&w);
    post(&w, 200, "/api/schedule", "{}");
    post(&w, 201, "/api/allocation", "{\"rule\":\"one-each-first\"}");
    post(&w, 201, "/api/waves", "{\"week\":\"2032-W17\"}");
    w.wave = 1;
    post(&w, 200, "/api/notices/make", "{}");
    without_a_substitute(&w);
    ask_all(&w, true);
    world_end(&w);
}

/* So many varieties, lots and orders that lists are long and numbers wide. */
enum { VARIETIES = 120, LOTS = 360, ORDERS = 1000 };

static void grow(cw_text varieties[1], cw_text history[1], cw_text lots[1], cw_text divisions[1],
                 cw_text orders[1])
{
    cw_text_add(varieties, "code,name,price,limit_per_order\n");
    cw_text_add(history, "season,variety,clumps,divisions\n");
    for (int i = 0; i < VARIETIES; i++) {
        cw_text_addf(varieties, "V%03d,Variety %d,%s,%s\n", i, i, i % 3 ? "7.25" : "", i % 5 ? "" : "9");
        for (int season = 2027; season < 2031; season++)
            cw_text_addf(history, "%d,V%03d,40,%d\n", season, i, 160 + i % 60);
    }
    cw_text_add(lots, "lot,variety,dug_on,clumps,row\n");
    cw_text_add(divisions, "lot,divided_on,clumps,saleable\n");
    for (int i = 0; i < LOTS; i++) {
        cw_text_addf(lots, "L%04d,V%03d,2031-10-%02d,%d,%s\n", i, i % VARIETIES, 1 + i % 28, 30 + i % 7,
                     i % 2 ? "A" : "");
        cw_text_addf(divisions, "L%04d,2031-12-%02d,20,%d\n", i, 1 + i % 28, 80 + i % 30);
    }
    cw_text_add(orders, "order,received_at,line,variety,quantity,unit_price,customer,zone\n");
    for (int i = 0; i < ORDERS; i++)
        for (int line = 1; line <= 2; line++)
            cw_text_addf(orders, "O%05d,2032-01-05T%02d:00:00Z,%d,V%03d,%d,8,%s,\n", i, i % 24, line,
                         (i + line) % VARIETIES, 1 + i % 9, i % 4 ? "Ida Invented" : "");
}

static void test_large(void **state)
{
    cw_text t[5];
    const char *files[5][2] = {
        { "varieties.csv" }, { "history.csv" }, { "lots.csv" }, { "divisions.csv" }, { "orders.csv" },
    };
    world w;
    (void)state;
    for (size_t i = 0; i < 5; i++)
        t[i] = CW_TEXT((size_t)1 << 24);
    grow(&t[0], &t[1], &t[2], &t[3], &t[4]);
    for (size_t i = 0; i < 5; i++)
        files[i][1] = t[i].data;
    world_begin(&w, false);
    load_texts(&w, (const char *const(*)[2])files, 5);
    serving_start(&w.s);
    look_around(&w);
    post(&w, 201, "/api/allocation", "{\"rule\":\"pro-rata\"}");
    post(&w, 200, "/api/schedule", "{}");
    ask_all(&w, false);
    world_end(&w);
    for (size_t i = 0; i < 5; i++)
        cw_text_free(&t[i]);
}

#define CURRENT "\"current\":\"" OWNER_PASSWORD "\""

static void others_let_in(world *w)
{
    post(w, 200, "/api/password-verdict", "{\"password\":\"rather short\"}");
    post(w, 201, "/api/people",
         "{\"name\":\"Ida\",\"role\":\"packer\",\"password\":\"four words are enough\"," CURRENT "}");
    json_decref(asked(w, 204, "PATCH", "/api/people/Ida", "{\"disabled\":true," CURRENT "}"));
    json_decref(asked(w, 204, "PUT", "/api/people/Ida/role", "{\"role\":\"cellar\"," CURRENT "}"));
    json_decref(asked(w, 204, "PUT", "/api/people/Ida/password",
                      "{\"password\":\"five words are more still\"," CURRENT "}"));
    post(w, 201, "/api/keys", "{\"name\":\"shop\",\"role\":\"shop\"," CURRENT "}");
    json_decref(asked(w, 200, "GET", "/api/keys", NULL));
    json_decref(asked(w, 204, "DELETE", "/api/keys/shop", NULL));
}

/* Begins a second factor and turns it on. */
static void factor_begun(world *w, unsigned char secret[CW_TOTP_SECRET])
{
    char body[200], code[CW_TOTP_DIGITS + 1];
    json_t *o = asked(w, 200, "POST", "/api/factor", NULL);
    phone_learn(secret, json_string_value(json_object_get(o, "secret")));
    json_decref(o);
    phone_early_in_a_step();
    phone_shows(secret, 0, code);
    snprintf(body, sizeof body, "{\"code\":\"%s\"," CURRENT "}", code);
    json_decref(asked(w, 200, "POST", "/api/factor/on", body));
    json_decref(asked(w, 200, "GET", "/api/factor", NULL));
}

static void second_factors(world *w)
{
    char body[200], code[CW_TOTP_DIGITS + 1], owner[512];
    unsigned char secret[CW_TOTP_SECRET];
    snprintf(owner, sizeof owner, "%s", w->headers);
    serving_sign_in(&w->s, "office", w->headers);
    factor_begun(w, secret);
    snprintf(w->headers, sizeof w->headers, "%s", owner);
    post(w, 200, "/api/session",
         "{\"name\":\"office\",\"password\":\"" OWNER_PASSWORD "\"}"); /* a code is wanted */
    post(w, 204, "/api/people/office/clear-factor", "{" CURRENT "}");
    factor_begun(w, secret);
    phone_shows(secret, 1, code);
    snprintf(body, sizeof body, "{\"code\":\"%s\"," CURRENT "}", code);
    json_decref(asked(w, 204, "POST", "/api/factor/off", body));
}

static void test_people(void **state)
{
    world w;
    (void)state;
    world_begin(&w, true);
    serving_start(&w.s);
    json_decref(asked(&w, 200, "GET", "/api/session", NULL));
    serving_sign_in(&w.s, "owner", w.headers);
    json_decref(asked(&w, 200, "GET", "/api/session", NULL));
    ask_all(&w, false);
    others_let_in(&w);
    second_factors(&w);
    post(&w, 204, "/api/sessions/end", "{" CURRENT "}");
    json_decref(asked(&w, 204, "DELETE", "/api/session", NULL));
    world_end(&w);
}

/* After all the others. */
static void test_every_route(void **state)
{
    int missing = 0;
    (void)state;
    for (size_t i = 0; cw_route_at(i); i++)
        if (!good[i]) {
            print_error("%s was never answered well here\n", cw_route_at(i)->name);
            missing++;
        }
    assert_int_equal(missing, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_empty), cmocka_unit_test(test_sparse), cmocka_unit_test(test_demo),
        cmocka_unit_test(test_large), cmocka_unit_test(test_people), cmocka_unit_test(test_every_route),
    };
    if (getenv("ONLY"))
        cmocka_set_test_filter(getenv("ONLY"));
    return cmocka_run_group_tests(tests, NULL, NULL);
}
