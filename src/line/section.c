/* section.c - the full 2-D solution of one cross-section.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A section is the field problem of a period of one sample: same inverse, same copper, same iteration (conjugate.c).
 * It tests what the kernel assumes, that the background's field is a good trial field for the cloth in place.
 */
#include "line/full.h"

#include <math.h>

enum ww_status ww_section_solve(const struct ww_line *line, double angle, const double (*place)[2],
                                const struct ww_full_options *options, struct ww_full *full, struct ww_error *error)
{
    return ww_full_solve(line, angle, place, WW_CROSS_SECTION, options, full, error);
}

void ww_legs_of_charge(const struct ww_line *line, const double charge[2], double delay[2])
{
    bool pair = line->mesh.pair;
    double scale = line->dk_correction / (pair ? line->ca_odd : line->ca_even);
    delay[0] = sqrt(scale * charge[0]) / WW_C0;
    delay[1] = pair ? sqrt(scale * -charge[1]) / WW_C0 : 0;
}

enum ww_status ww_section_legs(const struct ww_line *line, const struct ww_inverse *inverse, double angle,
                               const double (*place)[2], size_t only, double tolerance, double delay[2],
                               struct ww_error *error)
{
    struct ww_local local = {0};
    struct ww_conjugate_report report;
    double charge[2] = {0, 0};
    delay[0] = delay[1] = 0;
    enum ww_status status = ww_local_build(&local, line, angle, place, only, WW_CROSS_SECTION, error);
    if (!status)
        status = ww_conjugate_odd(line, inverse, &local, tolerance, WW_FULL_ITERATIONS, charge, &report, error);
    if (!status)
        ww_legs_of_charge(line, charge, delay);
    ww_local_clear(&local);
    return status;
}
