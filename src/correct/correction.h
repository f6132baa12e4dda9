/* correction.h - inside the residual correction.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_CORRECT_CORRECTION_H
#define WW_CORRECT_CORRECTION_H

#include "scan/slowness.h"
#include "weftwise/correct.h"

/* ww_corrected_scan_create; with bounds false without the two bounds (ww_scan_create_with). */
enum ww_status ww_corrected_scan_create_with(struct ww_scan **scan, const struct ww_line *line,
                                             const struct ww_correction *correction, double angle, bool bounds,
                                             const struct ww_scan_options *options, struct ww_error *error);

/* Mean of S_even - S_odd of a pair by sections, less that of the background, all plies together, with the trace at an angle
 * from the warp of the panel [s/m]. 0 where no modes were asked for. */
double ww_correction_modes_apart(const struct ww_correction *correction, const struct ww_stack *stack, double angle);

#endif
