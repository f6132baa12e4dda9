/* sample.h - cloths and photographs at random: every shipped style, sizes from 300 to 2000 pixels.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef TESTS_PICTURE_SAMPLE_H
#define TESTS_PICTURE_SAMPLE_H

#include "render.h"
#include "weftwise/fabric.h"

/* The rendering of a seed, up to `most` pixels each way. Half of them have the widths of a style, half 0.5 to 0.97 of its pitch. */
struct rendering rendering_of_seed(const struct ww_weaves *weaves, uint64_t seed, double most);

#endif
