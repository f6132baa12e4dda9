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

/* Only the delay [s/m] of the legs of one cross-section, by the odd drive alone (single: by its one drive), with an inverse
 * that many sections share. only: the ply (from 1) whose cloth is in place, the others at their lateral mean; 0: all. On
 * failure delay is 0. */
enum ww_status ww_section_legs(const struct ww_line *line, const struct ww_inverse *inverse, double angle,
                               const double (*place)[2], size_t only, double tolerance, double delay[2],
                               struct ww_error *error);

/* Delay [s/m] of the legs from their charges with leg 1 at 1 V and leg 2 at -1 V, in units of eps0 F/m; single: delay[1] is
 * 0. */
void ww_legs_of_charge(const struct ww_line *line, const double charge[2], double delay[2]);

#endif
