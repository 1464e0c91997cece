/* SPDX-License-Identifier: MIT */
#include "cli/cli.h"

#include "base/banned.h"

#define VERB(word) extern const cw_verb cw_verb_##word;
#include "cli/verbs.def"
#undef VERB

#define VERB(word) &cw_verb_##word,
const cw_verb *const cw_verbs[] = {
#include "cli/verbs.def"
    NULL,
};
