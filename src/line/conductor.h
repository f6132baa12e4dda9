/* conductor.h - how the current spreads on the copper: what a surface resistance is worth per length of line.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_LINE_CONDUCTOR_H
#define WW_LINE_CONDUCTOR_H

#include <complex.h>

#include "line/line.h"

/* Of one mode: series resistance of a leg per length is the surface resistance times these [1/m]. */
struct ww_spread {
    double trace, planes;
};

struct ww_conductor {
    struct ww_spread even, odd; /* a single trace has the even one alone */
};

/* Where the skin is thin against the copper. WW_INVALID: a trace without thickness, on whose edges the current has no finite
 * loss; statuses of ww_line_create. Accuracy 1 % for square corners (tests/line/test_conductor.c,
 * test_wheeler.c, test_isolated.c). */
enum ww_status ww_conductor_solve(struct ww_conductor *conductor, const struct ww_line *line, struct ww_error *error);
/* Of a mode and leg in series per length [ohm/m], beside j omega L of the field outside: the trace's, which blends its resistance
 * at direct current dc [ohm/m] and that of a surface impedance [ohm], and the planes'. */
double _Complex ww_conductor_impedance(const struct ww_spread *spread, double dc, double _Complex surface);

#endif
