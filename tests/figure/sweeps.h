/* tests/figure/sweeps.h - made-up sweeps of the kind the figures draw; no cloth was solved for them.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef TEST_FIGURE_SWEEPS_H
#define TEST_FIGURE_SWEEPS_H

#include "weftwise/figure.h"

#define SWEEP_STYLES 30

struct sweeps {
    bool pair;
    double budget;
    struct ww_angles angles;
    struct ww_lengths lengths;
    struct ww_comparison comparison;
    struct ww_pitch pitch;
};

/* A few waves in a cloth of 0.85 by 1.08 mm cells under a pair of 100/220 um, 50 mm long; values times `strength`; styles:
 * 1..SWEEP_STYLES, of which the last cannot be used where there are over three. budget [s] or 0. */
void sweeps_init(struct sweeps *sweeps, double strength, double budget, size_t styles);
void sweeps_clear(struct sweeps *sweeps);

struct ww_figure_angles sweeps_angles(const struct sweeps *sweeps);
struct ww_figure_lengths sweeps_lengths(const struct sweeps *sweeps);
struct ww_figure_compare sweeps_compare(const struct sweeps *sweeps);
struct ww_figure_pitch sweeps_pitch(const struct sweeps *sweeps);

#endif
