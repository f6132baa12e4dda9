/* distribution.h - distributions of values over unknown registration.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_CHANCE_DISTRIBUTION_H
#define WW_CHANCE_DISTRIBUTION_H

#include "scan/slowness.h"
#include "weftwise/chance.h"

/* Distribution of a map that repeats in x and y, on bins centred at whole multiples of step > 0. Only its first `rows` rows
 * are read; the others repeat these. A sample stands for the plane over its square. Sums to 1 and keeps the mean of the
 * samples, to rounding. */
enum ww_status ww_distribution_of_map(struct ww_distribution *d, const struct ww_map *map, size_t rows, double step,
                                      struct ww_error *error);
/* Sum (sign +1) or difference (sign -1) of two independent values with equal steps. */
enum ww_status ww_distribution_combine(const struct ww_distribution *a, const struct ww_distribution *b, int sign,
                                       struct ww_distribution *sum, struct ww_error *error);
/* d := distribution of the difference of two such values, independent. */
enum ww_status ww_distribution_of_two(struct ww_distribution *d, struct ww_error *error);
/* d := distribution of the sum of d and one more ply's map (first: of that map alone). range: highest less lowest of the sum
 * over all plies, the same in every call; a bin is range/4096. */
enum ww_status ww_distribution_add_map(struct ww_distribution *d, const struct ww_map *map, size_t rows, double range,
                                       bool first, struct ww_error *error);
/* Of the sum over a scan's plies, from the map of each and its extremes. */
enum ww_status ww_distribution_of_plies(struct ww_distribution *d, const struct ww_scan *scan,
                                        const struct ww_map *map, const struct ww_extreme *high,
                                        const struct ww_extreme *low, struct ww_error *error);
/* d := d + weight times other; d may be empty. Takes the larger step; keeps both means. */
enum ww_status ww_distribution_mix(struct ww_distribution *d, const struct ww_distribution *other, double weight,
                                   struct ww_error *error);
/* Mean of the largest |value| of `count` independent ones. */
enum ww_status ww_distribution_expected_worst(const struct ww_distribution *d, double count, double *expected,
                                              struct ww_error *error);
/* Of `count` >= 1 independent values, the largest less the least: P(it <= limit), and its mean. */
double ww_distribution_within_range(const struct ww_distribution *d, double limit, double count);
double ww_distribution_expected_range(const struct ww_distribution *d, double count);
/* Standard deviation. */
double ww_distribution_deviation(const struct ww_distribution *d);

#endif
