/* SPDX-License-Identifier: MIT */
/* How often is often enough? A test that draws its cases at random draws a third as many under the sanitizers, where each costs several
 * times as much: the release build has tried the answers of all, here only memory is looked at. */
#ifndef TEST_ROUNDS_H
#define TEST_ROUNDS_H

#ifdef __SANITIZE_ADDRESS__
#define TEST_ROUNDS(n) (((n) + 2) / 3)
#else
#define TEST_ROUNDS(n) (n)
#endif

#endif
