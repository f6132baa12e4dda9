/* extremes.h - the greatest and the least value over all positions.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_SCAN_EXTREMES_H
#define WW_SCAN_EXTREMES_H

#include "scan/path.h"

/* Greatest and least value over all positions of one path, refined on its harmonics as ww_scan_extremes does; the map's first
 * `rows` rows hold every value. keep, and high or low, may be NULL. WW_NO_MEMORY. */
enum ww_status ww_path_extremes(const struct ww_path *path, size_t rows, struct ww_map *keep, struct ww_extreme *high,
                                struct ww_extreme *low, struct ww_error *error);

/* From a place near by to the top (sign 1) or the bottom (-1) beside it, within a sample of the map, as ww_path_extremes climbs. */
void ww_path_climb(const struct ww_path *path, double sign, struct ww_extreme *extreme);

/* The map of a signal, which is kept where `keep` is not NULL, and its extremes, as ww_scan_extremes. */
enum ww_status ww_map_and_extremes(const struct ww_scan *scan, size_t ply, enum ww_signal signal, enum ww_estimate e,
                                   double length, struct ww_map *keep, struct ww_extreme *high,
                                   struct ww_extreme *low, struct ww_error *error);

/* Least and greatest sample of a map's first rows. */
void ww_map_row_range(const struct ww_map *map, size_t rows, double range[2]);

#endif
