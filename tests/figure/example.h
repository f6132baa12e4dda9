/* tests/figure/example.h - made-up data of the kind the figures draw; no cloth was solved for it.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef TEST_FIGURE_EXAMPLE_H
#define TEST_FIGURE_EXAMPLE_H

#include "weftwise/figure.h"

#define EXAMPLE_SAMPLES 2001
#define EXAMPLE_BINS 400
#define EXAMPLE_SECTIONS 16

struct example {
    struct ww_map dk, skew, glass;
    struct ww_map strength, potential, warp, fill; /* of a cross-section of 640 by 215 um */
    struct ww_figure_layer layer[3];
    double delay1[EXAMPLE_SAMPLES], delay2[EXAMPLE_SAMPLES];
    double section1[EXAMPLE_SECTIONS], section2[EXAMPLE_SECTIONS], volume[2];
    struct ww_extreme high, low;
    struct ww_footprint trace;
    double length, near_length;
    double dk1[EXAMPLE_SAMPLES], dk2[EXAMPLE_SAMPLES], running[EXAMPLE_SAMPLES];
    double dk1_near[EXAMPLE_SAMPLES], dk2_near[EXAMPLE_SAMPLES];
    double chance[EXAMPLE_BINS];
    struct ww_distribution distribution;
    struct ww_figure_options options;
};

/* A cloth of 0.85 by 1.08 mm cells, a pair of 100/220 um, 50 mm long, at `angle` rad. worst: of the skew [s]. */
void example_init(struct example *example, double angle, double worst);
void example_clear(struct example *example);

struct ww_figure_dk example_dk(const struct example *example);
struct ww_figure_via example_via(const struct example *example);
struct ww_figure_skew example_skew(const struct example *example);
struct ww_figure_profile example_profile(const struct example *example);
struct ww_figure_distribution example_distribution(const struct example *example, double budget);
struct ww_figure_section example_section(const struct example *example);
struct ww_figure_along example_along(const struct example *example);

#endif
