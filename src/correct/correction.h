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

#endif
