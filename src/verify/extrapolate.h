/* verify/extrapolate.h - the limit of a value on ever finer grids.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_VERIFY_EXTRAPOLATE_H
#define WW_VERIFY_EXTRAPOLATE_H

#include "weftwise/verify.h"

/* step[count]: of the grid, descending [m]; value[count]: found with it; 2 or 3 of them. */
struct ww_verify_limit ww_verify_extrapolate(const double *step, const double *value, size_t count);

#endif
