/* together.h - what plies do to each other.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_SCAN_TOGETHER_H
#define WW_SCAN_TOGETHER_H

#include "scan/delay.h"

enum { WW_TOGETHER_SIDE = 64, WW_TOGETHER_ORDER = 12 };

/* What the legs see of the yarns of one ply, as slowness [s/m]: orders 0..WW_TOGETHER_ORDER of its two families. */
struct ww_yarns {
    double lx, ly, ux, uy; /* sides of the cell, direction of travel */
    double mean[2];
    double _Complex warp[2][WW_TOGETHER_ORDER + 1], fill[2][WW_TOGETHER_ORDER + 1];
};

/* Takes the yarns' out of a leg's waves, times `slowness`. */
void ww_yarns_put(struct ww_yarns *yarns, int leg, const struct ww_wave *wave, const double _Complex *coefficient,
                  size_t waves, double slowness);
void ww_yarns_take(struct ww_yarns *yarns, const struct ww_scan *scan, size_t ply);

/* All plies along one straight piece. */
struct ww_meeting {
    size_t plies;
    const struct ww_yarns *yarns; /* [plies] */
    bool skew;                    /* leg 1 less leg 2, or leg 1 */
    double between, length;
};

/* What plies add to the signal from these places, place[ply] in the frame of each [s]. */
double ww_together_at(const struct ww_meeting *meeting, const double (*place)[2]);

/* Could plies add to each other as much as a hundredth of what the yarns leave over that length? By sums of sizes, which are
 * well above what meets at one place. */
bool ww_together_matters(const struct ww_meeting *meeting);

/* Small maps for so many plies, WW_TOGETHER_SIDE across, at the middles of their samples. The own maps are the caller's
 * to fill. */
struct ww_together;
enum ww_status ww_together_create(struct ww_together **together, size_t plies, struct ww_error *error);
double *ww_together_own(struct ww_together *together, size_t ply);
void ww_together_destroy(struct ww_together *together);

/* What the interplay between plies adds to the greatest (more[0]) and the least (more[1]) of a signal [s], which else are
 * the sums over the plies. */
void ww_together_climb(struct ww_together *together, const struct ww_meeting *meeting, double more[2]);

/* The same from a scan: nothing to a route, to plies that are turned against each other, or to one ply. */
enum ww_status ww_together_reach(const struct ww_scan *scan, enum ww_signal signal, double length, double more[2],
                                 struct ww_error *error);

#endif
