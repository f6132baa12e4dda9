/* tolerance.h - the answer over all that nobody controls: where the cloth lies, how it is turned, how dense it is woven.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_CHANCE_TOLERANCE_H
#define WW_CHANCE_TOLERANCE_H

#include "weftwise/chance.h"

/* Density of a turn of the cloth within the request's tolerance, not to scale. */
double ww_turn_density(const struct ww_skew_request *request, double turn);

/* Fills worst_with_turn, worst_angle, turn_angle_step, apart_with_turn, the tolerant_ figures, yield and expected_worst of
 * an answer whose other figures are there already. one: of a single trace the distribution of its delay, at the study's
 * angle. */
enum ww_status ww_tolerance_solve(struct ww_skew *skew, const struct ww_line *line,
                                  const struct ww_skew_request *request, const struct ww_distribution *one,
                                  struct ww_error *error);

#endif
