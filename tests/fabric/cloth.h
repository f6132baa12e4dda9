/* cloth.h - styles to test with, and styles from text.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef TESTS_FABRIC_CLOTH_H
#define TESTS_FABRIC_CLOTH_H

#include "weftwise/fabric.h"

#define UM 1e-6

/* What is given of a cloth; 0 where nothing is. Counts per inch, tex, micrometres. */
struct recipe {
    double warp_count, fill_count, warp_tex, fill_tex;
    double warp_width, warp_height, fill_width, fill_height;
    double shape, thickness;
};

/* The style as given, of glass of 2.58 g/cm3, not closed. */
struct ww_style cloth_given(const struct recipe *recipe);

/* The same, closed; the test fails if it does not close. */
struct ww_style cloth_closed(const struct recipe *recipe);

/* Equal yarns whose sections stay clear of each other, and the same spread until they nearly meet. */
extern const struct recipe open_cloth, spread_cloth;

/* Settings from text, as if read from "cloth.ini"; the test fails if they do not read. */
struct ww_settings cloth_settings(const char *text);

#endif
