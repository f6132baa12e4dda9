/* targets.h - what has to hold for any text at all. Each target aborts, with a line that says why, when it does
 * not. The same targets serve the test (mutate.c) and libFuzzer (fuzzer.c, -Dfuzzer=true).
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_TESTS_FUZZ_TARGETS_H
#define WW_TESTS_FUZZ_TARGETS_H

#include <stddef.h>

/* A number with a unit: either a finite value that formats and reads back, or a refusal with a reason. */
void target_number(const char *data, size_t size);
/* A settings file: either items with keys and lines, or a refusal with a reason and nothing left behind. */
void target_settings(const char *data, size_t size);
/* A whole study, with the repository's own weaves: either a study that writes and reads back, or a refusal. */
void target_study(const char *data, size_t size);
/* The same of layers, of a route and arms, of a style, put into a study that is sound without; and of assignments (--set), one
 * a line. A style's cell is woven, coarse. */
void target_layer(const char *data, size_t size);
void target_route(const char *data, size_t size);
void target_style(const char *data, size_t size);
void target_set(const char *data, size_t size);
/* A whole study through to its skew, at the coarsest resolution and where the work is small: an answer that is possible, or a
 * reason. */
void target_skew(const char *data, size_t size);
/* A figure, as PNG, SVG or PDF: either the study it carries, fit to be shown, or a refusal. A PNG is tried again with its
 * checksums made right, so that the text behind them is reached. */
void target_figure(const char *data, size_t size);
/* A picture, PNG or JPEG: either samples from 0 to 1, and a cloth or the reason why there is none; or a refusal. A PNG is tried
 * again with its checksums made right. */
void target_picture(const char *data, size_t size);
/* Paths of yarns: either paths that are written and read back, and where they fit beside each other a cloth with a column anywhere; or
 * a refusal. */
void target_paths(const char *data, size_t size);

#endif
