/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_FAULT_DESK_BENCH_H
#define CW_TESTS_FAULT_DESK_BENCH_H

/* The cutting room. */
#include "desk_call.h"

#include "desk/bench/dividing.h"
#include "desk/bench/lying.h"
#include "desk/bench/rota.h"

#define BENCH_DAY cw_day_from_ymd(2032, 2, 5)
static const cw_bench_ask bench_ask = { CW_NO_DAY, 0 };

static cw_code bench_plan(work *w, cw_error *err)
{
    cw_table out = { 0 };
    cw_text notes = CW_TEXT(100000);
    cw_code code = CALL(cw_bench_plan(N, WHO, &bench_ask, &out, &notes, err));
    cw_text_free(&notes);
    return say_table(w, code, &out);
}
static cw_code bench_rota(work *w, cw_error *err)
{
    cw_table out = { 0 };
    cw_text notes = CW_TEXT(100000);
    cw_code code = CALL(cw_rota_list(N, WHO, 500, &out, &notes, err));
    cw_text_free(&notes);
    return say_table(w, code, &out);
}
TABLE(bench_costs, cw_bench_costs(N, WHO, &bench_ask, &out, err))
JSON(bench_board, cw_bench_board(N, WHO, &bench_ask, &out, err))
JSON(bench_lying, cw_lying_look(N, WHO, &out, err))
TABLE(bench_damper, cw_lying_damper(N, WHO, "cellar", 2, &out, err))
TABLE(bench_price, cw_bench_move(N, WHO, "M1", BENCH_DAY, false, &out, err))
TABLE(bench_move, cw_bench_move(N, WHO, "M1", BENCH_DAY, true, &out, err))
TABLE(bench_freeze, cw_bench_freeze(N, WHO, &bench_ask, &out, err))
TABLE(bench_washed, cw_bench_washed(N, WHO, "M1", CW_NO_DAY, &out, err))
TABLE(bench_let_go, cw_bench_let_go(N, WHO, "M1", &out, err))
TABLE(bench_crew, cw_bench_crew(N, WHO, BENCH_DAY, 3, 1, 6.5, &out, err))

static const desk_call bench_calls[] = {
    { "bench_plan", bench_plan, NULL, 20, false },
    { "bench_rota", bench_rota, NULL, 20, false },
    { "bench_lying", bench_lying, NULL, 20, false },
    { "bench_damper", bench_damper, NULL, 20, false },
    { "bench_costs", bench_costs, NULL, 20, false },
    { "bench_board", bench_board, NULL, 20, false },
    { "bench_price", bench_price, NULL, 20, false },
    { "bench_move", bench_move, NULL, 20, false },
    { "bench_freeze", bench_freeze, NULL, 20, false },
    { "bench_washed", bench_washed, NULL, 20, false },
    ROW(bench_let_go),
    ROW(bench_crew),
};

#endif
