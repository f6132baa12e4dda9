/* full.h - what the section and the volume share.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_LINE_FULL_H
#define WW_LINE_FULL_H

#include "line/conjugate.h"

/* Cloth in place, field, capacitances, permittivities. potential as in ww_conjugate_solve. */
enum ww_status ww_full_solve(const struct ww_line *line, double angle, const double (*place)[2],
                             struct ww_period period, const struct ww_full_options *options, struct ww_full *full,
                             struct ww_error *error);

#endif
