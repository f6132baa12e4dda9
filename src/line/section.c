/* section.c - the full 2-D solution of one cross-section.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A section is the field problem of a period of one sample: same inverse, same copper, same iteration (conjugate.c).
 * It tests what the kernel assumes, that the background's field is a good trial field for the cloth in place.
 */
#include "line/full.h"

enum ww_status ww_section_solve(const struct ww_line *line, double angle, const double (*place)[2],
                                const struct ww_full_options *options, struct ww_full *full, struct ww_error *error)
{
    return ww_full_solve(line, angle, place, WW_CROSS_SECTION, options, full, error);
}
