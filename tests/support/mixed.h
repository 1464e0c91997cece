/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_MIXED_H
#define CW_TESTS_SUPPORT_MIXED_H

/* How the mixed model is set for what is to come: the settings that its tests share. */
#include "model/mixed.h"

static inline cw_mixed_settings predict_settings(void)
{
    return (cw_mixed_settings){ .mode = CW_MIXED_PREDICT,
                                .use = { true, true, true, true, true, true },
                                .dispersion = true,
                                .sd_median = { 0.2, 0.2, 0.4, 0.2, 0.15, 0.1 },
                                .sd_spread = { 0.75, 0.75, 0.75, 0.75, 0.75, 0.75 },
                                .sd_limit = 1.5,
                                .phi_median = 1,
                                .phi_spread = 0.75,
                                .intercept_mean = 1,
                                .intercept_sd = 2,
                                .threads = 1 };
}

#endif
