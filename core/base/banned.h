/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_BANNED_H
#define CW_BASE_BANNED_H

/* Calls that have no safe use here. Include last; a use is then a compile error that names the call.
 * Replacements: cw_text or snprintf for the printf kin, cw_copy for the str kin, cw_parse_* for the ato kin,
 * lgamma_r for lgamma (which writes a global), gmtime_r for gmtime. */
#undef strcpy
#define strcpy(a, b) banned_strcpy_use_cw_copy
#undef strcat
#define strcat(a, b) banned_strcat_use_cw_text
#undef strncpy
#define strncpy(a, b, c) banned_strncpy_use_cw_copy
#undef strncat
#define strncat(a, b, c) banned_strncat_use_cw_text
#undef strtok
#define strtok(a, b) banned_strtok
#undef sprintf
#define sprintf(...) banned_sprintf_use_snprintf
#undef vsprintf
#define vsprintf(...) banned_vsprintf_use_vsnprintf
#undef gets
#define gets(a) banned_gets
#undef atoi
#define atoi(a) banned_atoi_use_cw_parse_int
#undef atol
#define atol(a) banned_atol_use_cw_parse_int
#undef atof
#define atof(a) banned_atof_use_cw_parse_real
#undef localtime
#define localtime(a) banned_localtime
#undef gmtime
#define gmtime(a) banned_gmtime_use_gmtime_r
#undef lgamma
#define lgamma(a) banned_lgamma_use_lgamma_r
#undef rand
#define rand() banned_rand_use_cw_rng

#endif
