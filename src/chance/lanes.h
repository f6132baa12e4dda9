/* lanes.h - traces or pairs on one cloth: how bad the worst of them is, and how often all meet the budget.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_CHANCE_LANES_H
#define WW_CHANCE_LANES_H

#include "chance/angle_table.h"

/* The maps of all plies at one turn, and the places of the cloth. Each thread has its own. Lanes are equal: one map a ply
 * serves all of them. Each of several arms has its own. Places are taken from `places` ones, again and again. */
struct ww_lanes;
enum ww_status ww_lanes_create(struct ww_lanes **lanes, const struct ww_angle_table *table, size_t arms,
                               size_t places, struct ww_error *error);
void ww_lanes_destroy(struct ww_lanes *lanes);
/* Takes the maps of one arm, of lanes 0, where the evaluator stands. Its signal is left at the one taken: a pair's skew, a
 * trace's delay. */
void ww_lanes_take(struct ww_lanes *lanes, size_t arm, struct ww_evaluator *evaluator);
/* Of the arms at place `k`, on each ply its own: the largest |skew| of pairs, of single traces the largest less the least delay. */
double ww_lanes_arms_at(const struct ww_lanes *lanes, size_t k);
/* covariance[arms][arms] of the arms' values over all places, plies independent [s2]: exact for the maps' samples. */
void ww_lanes_covariance(const struct ww_lanes *lanes, double *covariance);

/* `count` <= WW_LANES_MOST lanes, lane i at i pitch to the left of the first, over `places` places of the first, from the `first` on;
 * on each ply its own. Judged is the largest |skew| of pairs; of single traces the largest less the least delay. */
enum { WW_LANES_PLACES = 4096 };
struct ww_lanes_chance {
    double within;   /* share of the places where it is at most the budget; 0 without a budget */
    double expected; /* its mean [s] */
};
struct ww_lanes_chance ww_lanes_chance(const struct ww_lanes *lanes, size_t count, double pitch, double budget,
                                       size_t first, size_t places);

#endif
