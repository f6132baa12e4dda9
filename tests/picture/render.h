/* render.h - pictures of plain cloth of which everything is known, seen from above.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Yarns are ellipses along cosines, as in src/fabric/cell.c, and wander across themselves; the light comes a little aslant and
 * their faces are matt, over something dark. Then perspective, lighting that is uneven over the picture, blur and noise.
 */
#ifndef TESTS_PICTURE_RENDER_H
#define TESTS_PICTURE_RENDER_H

#include <stdint.h>

#include "weftwise/picture.h"

struct rendering {
    size_t nx, ny;
    double pixel;                         /* [m] */
    double pitch[2], width[2], height[2]; /* of warp, upright, and fill [m] */
    double shape;                         /* exponent of the superellipse; 0: 2, an ellipse */
    double turn[2];                       /* [rad], anticlockwise */
    double wander, length;                /* standard deviation; exp(-s^2/(2 length^2)) is the correlation [m] */
    double together;                      /* correlation between any two yarns of a family */
    double scatter;                       /* of the widths, a share, from yarn to yarn */
    double blur;                          /* standard deviation [pixels] */
    double noise;                         /* standard deviation, where white is 1 */
    double gradient;                      /* the light falls by this share across the picture */
    double perspective;                   /* the scale changes by this share from the middle to the right edge */
    double albedo[2], ground;             /* of warp and fill; of what shows through gaps */
    uint64_t seed;
    const struct ww_patch
        *patch; /* whose yarns these are, from yarn PATCH_YARN of both systems in the middle; NULL: drawn as above */
};
enum { PATCH_YARN = 30 };

/* 2116-like cloth in a clean picture of 420 by 400 pixels of 12 um. */
struct rendering rendering_of_cloth(void);
/* The caller clears it. Aborts where memory ends. */
struct ww_picture render(const struct rendering *rendering);
/* How far a family's measured figures are off what the picture shows: pitch [of itself] and turn [rad] are of the trend that was
 * measured, fitted to where the yarns are at the places that were followed; the width [of itself] is of the yarns whose width is told.
 * position: root mean square of all places less their mean [m]; offset: that mean. Wander over a short picture is a slope that is there. */
struct misses {
    double pitch, turn, width, position, offset;
};
struct misses rendering_misses(const struct rendering *rendering, const struct ww_picture_yarns *yarns, int family);
/* Root mean square of what the yarns of a family wander off in it [m]: of the draw, not of its law. */
double rendering_wander(const struct rendering *rendering, int family);

/* The same picture a quarter turn anticlockwise. */
struct ww_picture turn_quarter(const struct ww_picture *picture);
/* Flat grey, for the tests to draw into. */
struct ww_picture blank_picture(size_t nx, size_t ny, double pixel);

#endif
