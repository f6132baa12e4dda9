/* picture/edges.h - the edges of a yarn in a profile across it. Lengths are shares of the pitch, from the yarn's path.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_PICTURE_EDGES_H
#define WW_PICTURE_EDGES_H

#include "picture/picture.h"

enum { WW_PROFILE_BINS = 64 }; /* over a pitch about the yarn */
struct ww_profile {
    double sum[WW_PROFILE_BINS], count[WW_PROFILE_BINS];
    double unit; /* squares that tell one profile from another; 0: not known yet */
    /* Blur as the other family tells it, 0 where it does not, and the logarithm's standard deviation to either side. */
    double blur, blur_above, blur_below;
};
bool ww_profile_is_full(const struct ww_profile *profile);

struct ww_edges {
    double left, right, blur;
    double residual;  /* sum of squares that is left; HUGE_VAL: no edges */
    double low, high; /* levels beside the yarn, the lighter one, and within it, its mean */
};
/* Of a full profile, whose unit is set. */
struct ww_edges ww_edges_find(struct ww_profile *profile);
/* Of one yarn, whose family's edges are known: its edges under the same blur. */
struct ww_edges ww_edges_of_yarn(const struct ww_profile *profile, const struct ww_edges *family);
/* What a family tells of the blur is told the other's profile, whose pitches it is times `scale`. */
void ww_edges_tell_blur(const struct ww_profile *from, const struct ww_edges *edges, double scale,
                        struct ww_profile *to);
/* Standard uncertainty of the width. */
double ww_edges_error(const struct ww_profile *profile, const struct ww_edges *edges);

#endif
