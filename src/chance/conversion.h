/* conversion.h - how much of a pair's odd mode arrives as even mode, over all positions, at one angle.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_CHANCE_CONVERSION_H
#define WW_CHANCE_CONVERSION_H

#include "scan/beat.h"
#include "weftwise/chance.h"

/* The two modes of a symmetrical pair at one frequency. */
struct ww_modes {
    double beat;     /* beta_even - beta_odd [rad/m] */
    double coupling; /* kappa = coupling dS [rad/s]: (omega/2) sqrt(z_even/z_odd) */
    double excess;   /* what delay by a leg's length converts over delay by its dielectric: (1 + z_odd/z_even)/2 */
};
/* Zero for a single trace, or without a frequency. Along the directions of the request's route, or its one, turned to
 * `angle` [rad]; the phase constants by sections where there is a correction, else those of the lateral mean. */
struct ww_modes ww_modes_of(const struct ww_line *line, const struct ww_skew_request *request, double angle);

/* Where a study asks for conversion: at the Nyquist frequency where there is a rate, else at its frequency [Hz]; 0: nowhere. */
double ww_conversion_frequency(const struct ww_skew_request *request);

/* Workspace for one path after another of as many plies and segments; each thread has its own. */
struct ww_converter;
enum ww_status ww_converter_create(struct ww_converter **converter, size_t plies, size_t segments,
                                   struct ww_error *error);
void ww_converter_destroy(struct ww_converter *converter);
/* To be filled before each solution: [plies][segments]. */
struct ww_beat_segment *ww_converter_segments(struct ww_converter *converter);

/* |a_even| at the far end of the path for |a_odd| = 1 at its beginning, over all positions of all plies. */
struct ww_converted {
    double worst, median, p99;
    double first_order; /* worst to first order in the cloth, which may exceed 1 */
    bool strong;        /* coupled-mode equations were solved */
};
/* likely: median and p99, too, which are 0 without. Worst within 0.1 dB, p99 within 0.3 dB (tests/chance/test_conversion.c).
 * WW_NO_MEMORY. */
enum ww_status ww_converter_solve(struct ww_converter *converter, const struct ww_modes *modes, bool likely,
                                  struct ww_converted *converted, struct ww_error *error);
/* Of the path of a scan at an angle of its trace, over this length: ww_converter_solve in a workspace of its own. `converted` is
 * zero where no conversion is asked for. */
enum ww_status ww_conversion_of_scan(struct ww_converted *converted, const struct ww_scan *scan,
                                     const struct ww_line *line, const struct ww_skew_request *request, double angle,
                                     struct ww_error *error);
/* The same from given starts, start[ply] = {x, y} in the ply's frame [m]: by the coupled-mode equations, the path cut into at
 * least `steps` steps. */
enum ww_status ww_converter_at(struct ww_converter *converter, const struct ww_modes *modes, const double (*start)[2],
                               size_t steps, double *amplitude, struct ww_error *error);

#endif
