/* plies.h - all plies of a scan in place.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_SCAN_PLIES_H
#define WW_SCAN_PLIES_H

#include "scan/coupling.h"
#include "scan/path.h"
#include "weftwise/scan.h"

/* The inter-ply coupling of a scan's signal; none in the quasi-static limit. The caller clears it. WW_NO_MEMORY. */
enum ww_status ww_coupling_of_scan(struct ww_coupling *coupling, const struct ww_scan *scan, enum ww_signal signal,
                                   enum ww_estimate estimate, double length, struct ww_error *error);

/* From a trace to the one beside it, at the scan's spacing to the left, in a ply's frame [m]. */
void ww_scan_beside(const struct ww_scan *scan, size_t ply, double off[2]);

/* The greatest and the least value of all plies in place: high[plies] and low[plies] sum to them, the coupling of two halved
 * between them. Each ply's map of its own, as ww_scan_map, where map[plies] is not NULL. WW_NO_MEMORY, statuses of
 * ww_scan_map. */
enum ww_status ww_scan_extremes_of_all(const struct ww_scan *scan, enum ww_signal signal, enum ww_estimate estimate,
                                       double length, struct ww_map *map, struct ww_extreme *high,
                                       struct ww_extreme *low, struct ww_error *error);

/* Of one path over each ply, whose maps' first rows[ply] rows hold every value. low may be NULL. The paths are as they were
 * afterwards, to rounding. */
enum ww_status ww_paths_extremes(struct ww_path *path, const size_t *rows, size_t plies,
                                 const struct ww_coupling *coupling, struct ww_map *map, struct ww_extreme *high,
                                 struct ww_extreme *low, struct ww_error *error);

/* Two worsts of opposite sign closer than this, relative, are a tie: climbed to, values settle to 1e-10, and where they are to its
 * root. */
#define WW_TIE 1e-6

/* Sum of the values of so many extremes [s]. */
static inline double ww_sum_of_extremes(const struct ww_extreme *of, size_t count)
{
    double sum = 0;
    for (size_t p = 0; p < count; p++)
        sum += of[p].value;
    return sum;
}

#endif
