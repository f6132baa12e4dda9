/* wide.h - loops for wide vectors.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WEFTWISE_CORE_WIDE_H
#define WEFTWISE_CORE_WIDE_H

/* Before a function: compiled for the plain processor and for vectors of four doubles, chosen when the program starts. The
 * digits are the same: nothing is contracted (-ffp-contract=off) or summed in another order. Not with the sanitizers of
 * addresses and threads, which are not there yet when the choice is made. */
#if defined(__x86_64__) && defined(__gnu_linux__) && defined(__GNUC__) && !defined(__clang__) &&                     \
    !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
#define WW_WIDE __attribute__((target_clones("avx2", "default")))
#else
#define WW_WIDE
#endif

#endif
