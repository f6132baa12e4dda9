/* full.h - what the section and the volume share.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_LINE_FULL_H
#define WW_LINE_FULL_H

#include "line/conjugate.h"

#define WW_FULL_TOLERANCE 1e-8
#define WW_FULL_ITERATIONS 60

/* Cloth in place, field, capacitances, permittivities. */
enum ww_status ww_full_solve(const struct ww_line *line, double angle, const double (*place)[2],
                             struct ww_period period, const struct ww_full_options *options, struct ww_full *full,
                             struct ww_error *error);

#endif
