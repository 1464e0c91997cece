/* SPDX-License-Identifier: MIT */
#include "http/http_inside.h"
#include "nursery.h"
#include "support/order_desk.h"

#include <string.h>

/* Any bytes as the body of POST /api/orders: no crash, and what is taken is whole, takes nothing that is not there, and is
 * known when it comes again; what is not taken says why and leaves nothing behind. */

static test_nursery t;
static const cw_route *route;

int LLVMFuzzerInitialize(int *argc, char ***argv)
{
    (void)argc;
    (void)argv;
    test_nursery_make(&t);
    load_text(&t, "varieties.csv",
              "code,name,form,size,colour,price\nAMB,Amber Lantern,ball,small,orange,6.50\n"
              "BRI,Briar Song,cactus,large,pink,8.00\nCIN,Cinder,ball,small,red,7.00\n");
    load_text(&t, "orders.csv",
              "order,received_at,line,variety,quantity,unit_price,consent\n"
              "1001,2032-01-05T10:00:00Z,1,AMB,1,6.50,none\n1002,2032-01-05T11:00:00Z,1,BRI,3,8.00,same\n");
    cw_path_param none[CW_MAX_PATH_PARAMS];
    bool other = false;
    cw_error err = CW_ERROR_NONE;
    int64_t left = 0;
    route = cw_route_find(CW_POST, "/api/orders", none, &other);
    must(route != NULL);
    must(cw_ordering_oversell(t.n, &t.who, "AMB", 20, "a late lot", &left, &err) == CW_OK);
    nursery_to_memory(&t);
    return 0;
}

static cw_code post(const char *body, size_t length, unsigned times)
{
    cw_code code = CW_OK;
    for (unsigned i = 0; i < times; i++) {
        cw_request *q = calloc(1, sizeof *q);
        cw_error err = CW_ERROR_NONE;
        must(q != NULL);
        q->route = route;
        q->who = t.who;
        q->who.role = CW_ROLE_SHOP;
        q->body = CW_TEXT(CW_BIG_BODY);
        cw_text_addn(&q->body, body, length);
        cw_glance_add(&q->glance, body, length);
        cw_code again = cw_body_open(q, &err);
        if (again == CW_OK)
            again = route->handler(q, t.n, &err);
        cw_body_close(q);
        must(again != CW_MACHINE);
        if (again == CW_OK) {
            json_t *said = json_loadb(q->reply.data, q->reply.length, 0, NULL);
            must(q->status == 201 && json_is_array(said));
            for (size_t k = 0; k < json_array_size(said); k++)
                must(json_is_true(json_object_get(json_array_get(said, k), "taken")) &&
                     (i == 0 || json_is_true(json_object_get(json_array_get(said, k), "known"))));
            json_decref(said);
        } else {
            must(err.code == again && err.text[0]);
            cw_reply_problem(q, &err);
            must(q->status >= 400 && q->status < 500);
        }
        must(i == 0 || code != CW_OK || again == CW_OK);
        code = again;
        cw_request_free(q);
    }
    return code;
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    cw_error err = CW_ERROR_NONE;
    must(cw_nursery_batch_begin(t.n, &err) == CW_OK);
    if (post((const char *)bytes, n, 2) == CW_OK && n % 16 == 0) /* the checks cost more than the rest */
        everything_holds(t.n);
    cw_nursery_batch_drop(t.n);
    return 0;
}
