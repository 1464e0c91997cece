/* SPDX-License-Identifier: MIT */
#include "desk/intake/intake_orders_inside.h"

#include "base/json.h"
#include "desk/intake/intake.h"
#include <string.h>

#include "base/banned.h"

/* What an order is in JSON: the columns of its CSV kind. A value of another JSON kind is refused, not read as well as it goes:
 * "quantity": true is not 1. */

static bool all_texts(const json_t *list)
{
    for (size_t i = 0; i < json_array_size(list); i++)
        if (!json_is_string(json_array_get(list, i)))
            return false;
    return true;
}

/* Of a text only that it is one: what it holds is looked at as a field of a file is. */
cw_code cw_order_value_check(size_t column, const json_t *v, long row, cw_error *err)
{
    const cw_kind_column *c = &cw_kinds[CW_ORDERS].columns[column];
    bool text = CW_CELL_TYPE(c->holds.type) == CW_TEXT_T;
    cw_value value = { 0 };
    char why[CW_WHY_BYTES];
    if (json_is_null(v) || (json_is_string(v) && text) || cw_value_from_json(&c->holds, v, &value))
        return CW_OK;
    if (column == AT(named) && json_is_array(v) && all_texts(v))
        return CW_OK;
    return cw_error_at(err, CW_REFUSED, NULL, row, c->name, "%s",
                       column == AT(named) ? "must be a list of codes, or a text with blanks between them"
                                           : cw_value_why_json(&c->holds, v, why));
}

static json_t *value_schema(size_t column)
{
    if (column == AT(named))
        return json_pack("{s:[s,s],s:{s:s}}", "type", "array", "string", "items", "type", "string");
    return cw_value_schema(&cw_kinds[CW_ORDERS].columns[column].holds);
}

/* An order says when it came, and a line its number, only if the sender wants to: the server knows both. */
static bool needed(size_t column)
{
    return cw_kinds[CW_ORDERS].columns[column].need == CW_NEEDED && column != AT(received_at) &&
           column != AT(line);
}

static json_t *or_null(json_t *schema)
{
    return json_pack("{s:[o,{s:s}]}", "anyOf", schema, "type", "null");
}

static void put_columns(json_t **object, bool line)
{
    for (size_t c = 0; c < cw_kinds[CW_ORDERS].width; c++)
        if (cw_order_on_line(c) == line)
            cw_schema_member_take(object, cw_kinds[CW_ORDERS].columns[c].name, needed(c),
                                  needed(c) ? value_schema(c) : or_null(value_schema(c)));
}

static json_t *order_schema(void)
{
    json_t *order = cw_schema_object(), *line = cw_schema_object();
    put_columns(&order, false);
    put_columns(&line, true);
    cw_schema_member_take(&order, "lines", true,
                          json_pack("{s:s,s:i,s:i,s:o}", "type", "array", "minItems", 1, "maxItems",
                                    CW_MAX_LINES_PER_ORDER, "items", line));
    return order;
}

static json_t *orders_schema(void)
{
    return json_pack("{s:[o,{s:s,s:i,s:i,s:o}]}", "anyOf", order_schema(), "type", "array", "minItems", 1,
                     "maxItems", CW_MAX_ORDERS_PER_POST, "items", order_schema());
}

const cw_shape cw_intake_orders_shape = { .make = orders_schema };

const cw_shape cw_intake_taken_shape = {
    .list = true,
    .parts =
        (const cw_part[]){
            { "order", CW_TEXT_T },
            { "taken", CW_BOOL_T },
            { "lines", CW_INT_T },
            { "known", CW_BOOL_T },
            { "blocked", CW_TEXT_T, .null = true },
            { "firm", CW_INT_T, .lack = true,
              .says = "Divisions promised at once; the shares were made firm before it came." },
            { "waits", .shape = &cw_shape_texts, .lack = true,
              .says = "For each line that waits, for what." },
            { 0 },
        }
};

/* Beside why an order was not taken: what was left of the variety that it asks too many of. */
const cw_shape cw_intake_fates_shape = {
    .list = true,
    .parts =
        (const cw_part[]){
            { "order", CW_TEXT_T, .null = true, .lack = true },
            { "taken", CW_BOOL_T },
            { "lines", CW_INT_T, .lack = true },
            { "known", CW_BOOL_T, .lack = true },
            { "blocked", CW_TEXT_T, .null = true, .lack = true },
            { "line", CW_INT_T, .lack = true },
            { "variety", CW_TEXT_T, .lack = true },
            { "left", CW_INT_T, .lack = true },
            { "detail", CW_TEXT_T, .lack = true },
            { "column", CW_TEXT_T, .lack = true },
            { "firm", CW_INT_T, .lack = true,
              .says = "Divisions promised at once; the shares were made firm before it came." },
            { "waits", .shape = &cw_shape_texts, .lack = true,
              .says = "For each line that waits, for what." },
            { 0 },
        }
};
