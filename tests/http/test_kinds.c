/* SPDX-License-Identifier: MIT */
/* A member of a body is of the kind that its contract says, or it is refused by its name: true is no 1, 5 is no text, a list is no
 * object. Every member of every route that takes a body, and the members of orders, which are read by their own reader. */
#include "serving.h"

#include "http/route.h"

#include "base/text.h"

#include "base/banned.h"

enum { A_TRUTH, A_WHOLE, A_REAL, A_TEXT, A_LIST, AN_OBJECT, SAMPLES };
static const char *const samples[SAMPLES] = { "true", "5", "1.5", "\"x\"", "[]", "{}" };

/* What may come as that sample. */
static bool may_be(const cw_member *m, int sample)
{
    switch (m->type) {
    case CW_INT_T:
        return sample == A_WHOLE;
    case CW_REAL_T:
        return sample == A_WHOLE || sample == A_REAL;
    case CW_MONEY_T:
        return sample == A_WHOLE || sample == A_REAL || sample == A_TEXT;
    case CW_BOOL_T:
        return sample == A_TRUTH;
    case CW_LIST_T:
        return sample == A_LIST;
    default:
        return sample == A_TEXT;
    }
}

/* Each {name} of a path is 1. */
static void path_of(const cw_route *r, char out[200])
{
    size_t n = 0;
    for (const char *c = r->path; *c && n < 199; c++) {
        out[n++] = *c == '{' ? '1' : *c;
        if (*c == '{')
            c = strchr(c, '}');
    }
    out[n] = '\0';
}

/* Refused as what the person sent, by the member's name, and not since something else is missing. */
static void must_refuse(const serving *s, const char *method, const char *path, const char *body,
                        const char *name)
{
    char want[80];
    wire_reply r = wire_ask(s->port, method, path, NULL, body);
    json_t *o = json_loads(r.body ? r.body : "", 0, NULL);
    const char *detail = json_string_value(json_object_get(o, "detail"));
    snprintf(want, sizeof want, "%s: ", name);
    if (r.status != 422 || detail == NULL || strstr(detail, want) == NULL || strstr(detail, "is needed"))
        fail_msg("%s %s %s: %d %s", method, path, body, r.status, detail ? detail : "");
    json_decref(o);
    wire_free(&r);
}

static void every_member_of_every_body(void **state)
{
    static const char *const methods[] = {
        [CW_GET] = "GET", [CW_POST] = "POST", [CW_PUT] = "PUT", [CW_PATCH] = "PATCH", [CW_DELETE] = "DELETE"
    };
    serving s;
    long routes = 0, refused = 0;
    (void)state;
    serving_make(&s, false);
    serving_start(&s);
    const cw_route *r;
    for (size_t i = 0; (r = cw_route_at(i)) != NULL; i++) {
        char path[200], body[200];
        path_of(r, path);
        routes += r->contract->body != NULL;
        for (const cw_member *m = r->contract->body; m && m->name; m++)
            for (int k = 0; k < SAMPLES; k++)
                if (!may_be(m, k)) {
                    snprintf(body, sizeof body, "{\"%s\":%s}", m->name, samples[k]);
                    must_refuse(&s, methods[r->method], path, body, m->name);
                    refused++;
                }
    }
    print_message("%ld bodies, %ld members of another kind refused\n", routes, refused);
    assert_true(routes > 50 && refused > 500);
    serving_free(&s);
}

/* An object of these members, with one of them, or one more, as it is given. */
static void with(char *out, size_t size, const char *const good[][2], int count, const char *name,
                 const char *value)
{
    int n = snprintf(out, size, "{\"%s\":%s", name, value);
    for (int i = 0; i < count; i++)
        if (strcmp(good[i][0], name) != 0)
            n += snprintf(out + n, size - (size_t)n, ",\"%s\":%s", good[i][0], good[i][1]);
    snprintf(out + n, size - (size_t)n, "}");
}

static void orders_by_their_own_reader(void **state)
{
    static const struct {
        const char *name, *wrong[5];
    } heads[] = { { "order", { "5", "true", "[]", "{}" } },  { "customer", { "5", "true", "[]", "{}" } },
                  { "email", { "5", "false", "[]", "{}" } }, { "received_at", { "5", "true", "[]" } },
                  { "paid", { "1", "\"yes\"", "[]" } },      { "lines", { "5", "true", "\"x\"", "{}" } } },
      lines[] = { { "line", { "true", "\"1\"", "1.5", "[]" } },
                  { "quantity", { "true", "\"1\"", "1.5", "[]", "{}" } },
                  { "unit_price", { "true", "[]", "{}" } },
                  { "variety", { "5", "true", "[]", "{}" } },
                  { "all_or_none", { "1", "\"yes\"", "[]" } } };
    static const char *const good_head[][2] = {
        { "order", "\"K1\"" },
        { "lines", "[{\"line\":1,\"variety\":\"AMB\",\"quantity\":1,\"unit_price\":\"1.00\"}]" }
    };
    static const char *const good_line[][2] = {
        { "line", "1" }, { "variety", "\"AMB\"" }, { "quantity", "1" }, { "unit_price", "\"1.00\"" }
    };
    serving s;
    char body[400], line[300];
    (void)state;
    serving_make(&s, false);
    serving_start(&s);
    for (size_t i = 0; i < sizeof heads / sizeof heads[0]; i++)
        for (int k = 0; k < 5 && heads[i].wrong[k]; k++) {
            with(body, sizeof body, good_head, 2, heads[i].name, heads[i].wrong[k]);
            must_refuse(&s, "POST", "/api/orders", body, heads[i].name);
        }
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++)
        for (int k = 0; k < 5 && lines[i].wrong[k]; k++) {
            with(line, sizeof line, good_line, 4, lines[i].name, lines[i].wrong[k]);
            snprintf(body, sizeof body, "{\"order\":\"K1\",\"lines\":[%s]}", line);
            must_refuse(&s, "POST", "/api/orders", body, lines[i].name);
        }
    serving_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(every_member_of_every_body),
                                        cmocka_unit_test(orders_by_their_own_reader) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
