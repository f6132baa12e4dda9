/* fabric/patch.h - inside a patch of real cloth.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef FABRIC_PATCH_H
#define FABRIC_PATCH_H

#include "weftwise/fabric.h"

/* How one yarn lies in one column of the cloth. */
struct ww_lie {
    double beside; /* of its axis [m] */
    double
        wider; /* share by which it is wider than the style's, and its height smaller: (1 + wider) times, so that its glass stays */
    double sign;       /* +1 or -1: yarn even or odd */
    double undulation; /* how high the other system rides here: cos(pi (x - px/2)/px) with x as the yarns count it */
};

/* One column from how its two yarns lie; the rest as ww_style_column. */
void ww_lies_column(const struct ww_style *style, const struct ww_lie *warp_lie, const struct ww_lie *fill_lie,
                    size_t nz, const double *edge, double *warp, double *fill);

const struct ww_style *ww_patch_style(const struct ww_patch *patch);
void ww_patch_size(const struct ww_patch *patch, double *lx, double *ly);
/* What one of these sides holds, and what it takes beside that while it is drawn [bytes]. The style is good. */
double ww_patch_bytes(const struct ww_style *style, const struct ww_scatter *scatter, double width, double length,
                      double *drawing);
double ww_patch_laid_bytes(const struct ww_yarn_paths *paths); /* of one laid as measured */
bool ww_patch_repeats(const struct ww_patch *patch); /* after its size: without bow, hook and measured paths */
/* Nearest that axes of neighbours may come, a share of the pitch: else they change places. */
#define WW_PAIR_LEAST 0.1
/* Corners of the rectangle in which a leg has two measured yarns to either side [m]. False: there is no bound. */
bool ww_patch_room(const struct ww_patch *patch, double low[2], double high[2]);

/* Yarns of a system around one place, half of them to either side: axis[0..] of the yarns first, first + 1, ... [m]. */
enum { WW_AROUND = 4 };
struct ww_around {
    long first;
    double axis[WW_AROUND], wider[WW_AROUND];
    /* place as the yarns count it: yarn i has i + 1/2, linear between their axes */
    double phase;
};
/* Finds them at one place after another; where the next place is near, by a few operations. */
struct ww_follower {
    struct ww_around around;
    const struct ww_patch *patch;
    enum ww_system system;
    double base;                    /* of the yarns' samples, that before the place */
    double cubic[4][2 * WW_AROUND]; /* [power] in the part of a step beyond it: axes, then widths */
};
void ww_follower_init(struct ww_follower *follower, const struct ww_patch *patch, enum ww_system system);
/* across, along: (x, y) for the warp, (y, x) for the fill [m]. */
void ww_follower_move(struct ww_follower *follower, double across, double along);

#endif
