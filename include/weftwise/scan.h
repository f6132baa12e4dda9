/* weftwise/scan.h - delay and skew from every position of the cloth, at any angle; how bad and how likely.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A position r0 is where the centre of the trace or pair starts, in the fabric frame of the ply, over one unit
 * cell (2 px by 2 py). Travel is along u = (sin theta, cos theta), theta from the warp (+y) towards +x.
 * Skew = delay of leg 1 (left of travel) less delay of leg 2.
 */
#ifndef WEFTWISE_SCAN_H
#define WEFTWISE_SCAN_H

#include "weftwise/core.h"
#include "weftwise/line.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Which estimate of the capacitance: the mean of the two bounds is the answer, the bounds say how far off. */
enum ww_estimate { WW_MEAN, WW_UPPER, WW_LOWER, WW_ESTIMATES };

/* Which signal over the map. */
enum ww_signal { WW_LEG1, WW_LEG2, WW_SKEW /* pair only: leg 1 less leg 2 */ };

/* Time of flight adds slowness; the quasi-static limit (guided wavelength far above the cell) adds eps. */
enum ww_averaging { WW_FLIGHT, WW_QUASI_STATIC };

/* What full cross-sections say of the kernel, of the mean estimate: factors on what varies over the cell by family of its
 * harmonics (m, l), those whose crests lie along the warp (l = 0), along the fill (m = 0), of the crossings (others of even
 * m), and of what changes with over and under (of odd m); a factor of 0 stands for 1. Where yarns of warp and fill cross,
 * what they do is more than the sum, by two products that are added with a strength each. Where a leg's slowness over the
 * cell is S and the first two families vary it by W and F, one is W F/<S>: each bends the field that the other sees. The
 * other is that of what W and F would be under a trace along their yarns, seen by the leg as it sees what varies across it,
 * over s, the share of the field's energy on their side of the trace: in a column under the trace the yarns lie in series. */
enum ww_family { WW_WARP_WAVES, WW_FILL_WAVES, WW_CROSSING_WAVES, WW_OVER_WAVES, WW_FAMILIES };
struct ww_scales {
    /* on the difference between the legs; where a null leaves little of it only near where the family stands still,
     * elsewhere as leg; the crossings' as leg everywhere */
    double skew[WW_FAMILIES];
    double leg[WW_FAMILIES]; /* on what the legs have in common; the less, the less a wave varies across the trace */
    double interplay;        /* of the first product, of the yarns of one ply */
    double stacked;          /* of the second */
    double between; /* of the first product, of the warp of one ply and the fill of another; in the worst case */
    /* what is still lacking at some angles, wave by wave, fading over 22.5 deg away from them; NULL: nothing. A copy
     * shares it */
    struct ww_rest *rest;
};
/* Solves full cross-sections, `sections` of them (made odd, or four times as many where a pair's pitch nulls its skew) along
 * each of the warp and the fill of the first ply, from where the kernel finds the worst, and as near to each other along two
 * ways of a diagonal, three with several plies; more where a null calls for the legs' own. 0: none, all factors 0.
 * WW_NOT_CONVERGED, WW_NO_MEMORY. */
WW_API enum ww_status ww_calibrate(struct ww_scales *scales, const struct ww_line *line, size_t sections,
                                   struct ww_error *error);
/* Scales that ww_calibrate has filled, or a copy, get a rest of their own, to be cleared: what they have, and for the trace
 * at each of angle[angles] [rad] from the warp of the panel what sections tell on a lattice over the cell of every ply whose
 * yarns lie more than 4 deg off it. `sections` 9 are 113 of these an angle and ply, in proportion to their square, with half
 * the line's fineness. Statuses as above; on failure the rest is NULL. */
WW_API enum ww_status ww_calibrate_at(struct ww_scales *scales, const struct ww_line *line, size_t sections,
                                      const double *angle, size_t angles, struct ww_error *error);
WW_API void ww_scales_clear(struct ww_scales *scales);

/* One straight piece of a route. A route is a polyline of the centre of the trace or pair; the legs of a pair follow
 * as parallel offsets, mitred at the bends. */
struct ww_route_piece {
    double length; /* of the centre line [m] > 0 */
    double angle;  /* from the warp [rad] */
};

struct ww_scan_options {
    size_t positions;                   /* samples of a map along x and y; 0 = 256 */
    enum ww_averaging averaging;        /* default WW_FLIGHT */
    const struct ww_route_piece *route; /* [pieces]; NULL: straight. Only until the scan is made */
    size_t pieces;
    struct ww_scales scales; /* zeroed: the kernel as it is */
    double stretch;          /* every cell is this share longer and wider than its yarn counts say; within +-0.1 */
};

/* The slowness of each leg over each ply's cell at one angle, as harmonics. */
struct ww_scan;

/* angle [rad], the trace's from the warp of the panel, or by which a route is turned; each ply's own turn is taken off
 * inside. Where a length is asked for below, a route is stretched to it. WW_INVALID: a piece without length, a bend
 * beyond 150 deg. */
WW_API enum ww_status ww_scan_create(struct ww_scan **scan, const struct ww_line *line, double angle,
                                     const struct ww_scan_options *options, struct ww_error *error);
WW_API void ww_scan_destroy(struct ww_scan *scan);

/* Delay over position less its mean over the cell [s] (leg signals), or skew [s], for one ply with the others at
 * their mean; length [m] >= 0. The map covers the ply's cell. */
WW_API enum ww_status ww_scan_map(const struct ww_scan *scan, size_t ply, enum ww_signal signal,
                                  enum ww_estimate estimate, double length, struct ww_map *map,
                                  struct ww_error *error);
/* The map's value at one start position, anywhere [s]. */
WW_API enum ww_status ww_scan_value(const struct ww_scan *scan, size_t ply, enum ww_signal signal,
                                    enum ww_estimate estimate, double length, double x, double y, double *value,
                                    struct ww_error *error);
/* Delay of a leg with every ply at its mean: slowness x length [s]. */
WW_API double ww_scan_mean_delay(const struct ww_scan *scan, enum ww_signal leg, double length);

/* A position and the value there. */
struct ww_extreme {
    double x, y;  /* start position in the ply's cell [m] */
    double value; /* [s] */
};
/* Most positive and most negative of a map, refined below the grid on the harmonics themselves. */
WW_API enum ww_status ww_scan_extremes(const struct ww_scan *scan, size_t ply, enum ww_signal signal,
                                       enum ww_estimate estimate, double length, struct ww_extreme *high,
                                       struct ww_extreme *low, struct ww_error *error);

/* What the legs see along the way from given start positions of the plies (start[ply] = {x, y}, the ply's own
 * frame; length of the whole trace, needed where it is a route): at distance s[i] = from + (to - from)*i/(count-1): dk of leg 1 and leg 2, and the running delay
 * difference since s = 0 [s]. For a single trace dk2 is not written and running is the delay less its mean. */
WW_API enum ww_status ww_scan_profile(const struct ww_scan *scan, const double (*start)[2], double length,
                                      double from, double to, size_t count, double *dk1, double *dk2, double *running,
                                      struct ww_error *error);

/* Probability of a signed value [s]: bin i holds probability[i] around value first + i step. Sums to 1. */
struct ww_distribution {
    size_t count;
    double first, step;
    double *probability;
};
WW_API void ww_distribution_clear(struct ww_distribution *distribution);
/* P(|value| > limit), and the smallest v with P(|value| <= v) >= share (share in [0, 1]). */
WW_API double ww_distribution_exceed(const struct ww_distribution *distribution, double limit);
WW_API double ww_distribution_quantile(const struct ww_distribution *distribution, double share);

/* How likely the cloth lies turned by how much, within +- turn. */
enum ww_law {
    WW_UNIFORM, /* every angle within +- turn alike */
    WW_NORMAL   /* normal, turn being three standard deviations, cut there */
};

/* The whole answer for a trace or pair. Times in s. "value" below is skew for a pair, and delay less mean delay for a
 * single trace. */
struct ww_skew_request {
    double length;                      /* [m]; of a route the sum of its pieces */
    double angle;                       /* [rad] from the warp; turns a route as a whole */
    const struct ww_route_piece *route; /* [pieces]; NULL: one straight piece. In place of scan.route */
    size_t pieces;
    double turn; /* [rad] >= 0: how far the cloth may lie off square */
    enum ww_law turn_law;
    double
        count_tolerance; /* >= 0: by what share of itself the cloth's yarn count may be off, uniformly, either way */
    size_t lanes;        /* pairs that must all meet the budget; 0 = 1 */
    double budget;       /* [s]; 0 if none */
    double frequency;    /* [Hz]; 0 if none */
    double rate;         /* symbols per second [1/s]; 0 if none */
    struct ww_scan_options scan;
    size_t sections; /* full cross-sections the kernel is scaled to (ww_calibrate); 0: scan.scales as they are */
};

/* A skew in the terms of the signal; what lacks a frequency, rate or skew is 0. */
struct ww_skew_terms {
    double degrees;             /* 360 frequency skew */
    double unit_interval_share; /* skew rate */
    double first_null;          /* of the differential transmission, 1/(2 skew) [Hz] */
    double conversion;          /* |sin(pi f skew)|, what of the wave is common at the Nyquist frequency, rate/2 */
};
WW_API struct ww_skew_terms ww_skew_terms(double skew, double frequency, double rate);

struct ww_skew {
    bool pair;
    /* per ply, arrays of stack->plies */
    size_t plies;
    struct ww_map *map;                  /* of the value over the start position */
    struct ww_extreme *high, *low;       /* its refined extremes */
    struct ww_distribution tolerant;     /* the same with turn and count unknown within their tolerances, see below */
    struct ww_distribution distribution; /* of the value, plies independent and convolved */
    /* pair: worst |skew|, worst cases of the plies added. single: half of nothing is reported; see spread */
    double worst, worst_upper, worst_lower;
    double median, p95, p99; /* of |value| */
    double over_budget;      /* chance that |value| exceeds the budget (single: that the spread of two equal
                                traces, each anywhere, exceeds it); 0 without a budget */
    double worst_with_turn;  /* largest worst within turn and count tolerance, each ply at its own */
    double worst_angle;      /* the angle where that is [rad] */
    double turn_angle_step;  /* spacing of the angles tried [rad] */
    /* over registration, turn and count tolerance together, the plies of a board being turned and stretched alike */
    double tolerant_median, tolerant_p99; /* of |value| */
    double tolerant_over_budget;          /* as over_budget */
    double yield; /* chance that all lanes meet the budget, each anywhere on cloth turned alike; 0 without a budget */
    double expected_worst; /* of the lanes' |skew| (single: difference of two), on average [s] */
    double mismatch;       /* leg 1 less leg 2 by their lengths at a route's bends, in no other number here [s] */
    double worst_degrees;  /* 360 frequency worst; 0 without frequency */
    double unit_interval_share; /* worst * rate; 0 without rate */
    double fastest, slowest;    /* delay of a leg (any leg of a pair), extremes of the plies added [s] */
    double spread;              /* slowest - fastest */
    double spread_degrees;
    double deviation; /* standard deviation of the value [s] */
    double mean_delay;
    /* in every number here but worst_upper and worst_lower; cleared with it if sections were asked for */
    struct ww_scales scales;
    double scale; /* what they come to here: worst (spread) over that of the kernel as it is; 1 without */
    size_t sections;
};
WW_API enum ww_status ww_skew_solve(struct ww_skew *skew, const struct ww_line *line,
                                    const struct ww_skew_request *request, struct ww_error *error);
WW_API void ww_skew_clear(struct ww_skew *skew);

#ifdef __cplusplus
}
#endif
#endif
