/* weftwise/chance.h - how bad and how likely, over all that nobody controls.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Value of a trace or pair at start positions r_p of the plies p:  V = sum over p of V_p(r_p) + sum over p < q of C_pq(r_p, r_q)
 * [s], C the coupling of two plies (ww_scan_value_of_all). Each r_p is uniform over its cell and independent: extremes are those of V,
 * and in distributions, which convolve, C is left out. The cloth's turn off square and its
 * yarn count vary within the study's tolerances.
 */
#ifndef WEFTWISE_CHANCE_H
#define WEFTWISE_CHANCE_H

#include "weftwise/core.h"
#include "weftwise/correct.h"
#include "weftwise/line.h"
#include "weftwise/scan.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Probability of a signed value [s]: probability[i] in the bin around first + i step. Sums to 1. */
struct ww_distribution {
    size_t count;
    double first, step;
    double *probability;
};
WW_API void ww_distribution_clear(struct ww_distribution *distribution);
/* P(|value| > limit), and the smallest v with P(|value| <= v) >= share (share in [0, 1]). */
WW_API double ww_distribution_exceed(const struct ww_distribution *distribution, double limit);
WW_API double ww_distribution_quantile(const struct ww_distribution *distribution, double share);

/* Law of the cloth's turn off square, within +- turn. */
enum ww_law {
    WW_UNIFORM, /* all angles equally likely */
    WW_NORMAL   /* normal, cut at turn = 3 standard deviations */
};

/* One more arm of a feed on the same cloth: its name, where it starts off the start of the first one, to the right (across the
 * warp) and up (along it) in the layout that the request's angle turns as a whole, and its route. */
struct ww_arm {
    char name[32];
    double from[2]; /* [m] */
    struct ww_route_segment *route;
    size_t segments; /* >= 1 */
};
#define WW_ARMS_MOST 16 /* with the first */

/* The whole answer for a trace or pair. Times in s. "value" below is what is judged: the skew of a pair; of a single trace the
 * difference of its delay from that of an equal one, scan.spacing beside it on the same cloth, or without a spacing anywhere
 * else on such cloth: places independent. */
struct ww_skew_request {
    double length;                        /* [m]; of a route the sum of its segments */
    double angle;                         /* [rad] from the warp; turns a route as a whole */
    const struct ww_route_segment *route; /* [segments]; NULL: one straight segment. In place of scan.route */
    size_t segments;
    double turn; /* [rad] >= 0: how far the cloth may lie off square */
    enum ww_law turn_law;
    double warp_tolerance,
        fill_tolerance; /* >= 0: relative tolerances of the yarn counts, each uniform within +- it and
                                              independent of the other */
    size_t
        lanes; /* pairs whose skews must all be within the budget, or single traces whose delays must lie within it of
                     each other; of one trace, it and another; 0 = 1 */
    double budget;               /* [s]; 0 if none */
    double frequency;            /* [Hz]; 0 if none */
    double rate;                 /* symbols per second [1/s]; 0 if none */
    struct ww_scan_options scan; /* its route is not read */
    size_t
        sections; /* start positions along each side of the correction's lattice, see ww_correction_request; 0: none */
    const struct ww_correction
        *correction;   /* its nodes are reused, others are solved; of the same line and sections; may be NULL */
    double conversion; /* of a pair: what its mode conversion may be, an amplitude; 0 if none */
    double
        lane_pitch; /* of lanes side by side on the same cloth, lane i at i lane_pitch to the left of the first [m]; up to
                          WW_LANES_MOST of them; 0: places independent */
    bool design_only; /* the worst, the design worst and the conversion: no chances over turn and counts, no bounds */
    const struct ww_arm *arm; /* [arms], others beside the trace or route above; read by ww_arms_solve */
    size_t arms;              /* up to WW_ARMS_MOST - 1 */
};
#define WW_LANES_MOST 1024

/* Mode conversion of a pair: |a_even| at the far end for |a_odd| = 1 at the near one, amplitudes of waves normalised to power,
 * both ends matched to both modes (|Scd21|). All 0 for a single trace or without frequency and rate. */
struct ww_conversion {
    double frequency;       /* half the symbol rate (Nyquist); without a rate the frequency of the request [Hz] */
    double beat_length;     /* 2 pi/|beta_even - beta_odd|; infinite where the modes are equally fast [m] */
    double worst;           /* over all positions of the cloth */
    double median, p99;     /* of the positions */
    double worst_with_turn; /* largest within turn and count tolerance, all plies turned and stretched alike */
    double worst_angle;     /* the angle where that is [rad] */
    double weak;            /* most of |sin(pi f skew)| for skews up to the worst: of legs that do not couple */
    bool strong;            /* beyond first order: the coupled-mode equations were solved */
};
/* The skew of a pair is the difference of its legs' delays with the pair driven odd: what loosely coupled legs receive. By how many
 * times it a pair that couples receives at low frequency: with both modes matched at both ends up to *modes = Ze/Zo; with each leg
 * ended in its own Zo from 1 (electrically short) to *legs = 2 Ze/(Ze + Zo). To first order in the cloth. 0 for a single trace. */
WW_API void ww_skew_received(const struct ww_line_summary *line, double *modes, double *legs);
/* An amplitude in dB, 20 log10; -infinity for 0. And back. */
WW_API double ww_decibels(double amplitude);
WW_API double ww_from_decibels(double decibels);

/* What a skew does to the signal; 0 where the frequency, rate or skew it needs is 0. */
struct ww_skew_terms {
    double degrees;             /* 360 frequency skew */
    double unit_interval_share; /* skew rate */
    double first_null;          /* of the differential transmission, 1/(2 skew) [Hz] */
    double
        conversion; /* most of |sin(pi f s)| for s up to the skew, f = rate/2 (Nyquist): weak-coupling limit of the mode conversion */
};
WW_API struct ww_skew_terms ww_skew_terms(double skew, double frequency, double rate);

/* Two equal pairs side by side on the same cloth: delay of the first less that of the second, each the mean of its legs [s].
 * Plies independent. */
struct ww_apart {
    struct ww_distribution distribution;
    double worst, median, p95, p99; /* of its size */
};

/* One turn and stretch of the cloth, and its weight among all boards; weights sum to 1. */
struct ww_board {
    double turn, weight; /* [rad] off the study's angle */
    size_t stretch;      /* which of the pairs of yarn counts that are tried */
};

struct ww_skew {
    bool pair;
    /* per ply, arrays of stack->plies */
    size_t plies;
    struct ww_map *map; /* over the start position: of a pair its skew, of a trace its delay less the mean */
    struct ww_extreme *high,
        *low; /* where and what it is at the extremes of all plies in place, which the values sum to */
    struct ww_distribution tolerant;     /* over registration, turn and count, see tolerant_median */
    struct ww_distribution distribution; /* of the value, plies independent and convolved */
    /* the largest |value|, all plies in place; where places are independent, of a single trace its spread. By
     * the mean estimate, and by either bound of the capacitance alone */
    double worst, worst_upper, worst_lower;
    double median, p95, p99; /* of |value| */
    double over_budget;      /* chance that |value| exceeds the budget; 0 without a budget */
    double worst_with_turn;  /* the design worst: largest within turn and count tolerance, each ply at its own turn */
    double worst_angle;      /* the angle where that is [rad] */
    double turn_angle_step;  /* spacing of the angles tried [rad] */
    /* over registration, turn and count tolerance; all plies of a board have one turn and one count */
    double tolerant_median, tolerant_p99; /* of |value| */
    double tolerant_over_budget;          /* as over_budget */
    double yield; /* chance that all lanes are within the budget, all of a board with one turn; 0 without a budget */
    double
        expected_worst; /* on average: the lanes' largest |skew|, or of single traces the largest less the least delay [s] */
    double
        mismatch; /* leg 1 less leg 2 by their lengths at a route's bends; with scan.bends part of the others, else of none [s] */
    double worst_degrees;       /* 360 frequency worst; 0 without frequency */
    double unit_interval_share; /* worst * rate; 0 without rate */
    double fastest, slowest;    /* delay of a leg (any leg of a pair), extremes of all plies in place [s] */
    double spread;              /* slowest - fastest */
    double spread_degrees;
    double deviation; /* standard deviation of the value [s] */
    double mean_delay;
    struct ww_correction *correction; /* NULL: none. Part of every field but worst_upper and worst_lower */
    size_t sections;                  /* full cross-sections solved for it */
    double correction_ratio;          /* worst over that of the kernel alone; 1 without a correction */
    struct ww_conversion conversion;  /* of a pair */
    struct ww_apart apart;            /* of a pair with scan.spacing; else zeroed */
    double apart_with_turn;           /* its design worst [s] */
    size_t boards;                    /* over which the chances are taken; 0 where nothing varies but the place */
    struct ww_board *board;
};
WW_API enum ww_status ww_skew_solve(struct ww_skew *skew, const struct ww_line *line,
                                    const struct ww_skew_request *request, struct ww_error *error);
WW_API void ww_skew_clear(struct ww_skew *skew);
/* The extremes [plies] that add to the worst: skew->high, or skew->low where |sum of low| is larger by more than rounding.
 * Of a straight pair both sums are equal, for half a turn swaps its legs. */
WW_API const struct ww_extreme *ww_skew_worst_at(const struct ww_skew *skew);

/* The correction that ww_skew_solve asks for: at the angle of the trace or of each segment, and within +- turn of it. Fills
 * angle[max(1, segments)], which the result refers to. */
WW_API struct ww_correction_request ww_skew_correction(const struct ww_skew_request *request, double *angle);

/* --- several traces on one cloth --------------------------------------------------------------------------------------- */

/* The arms of a feed, or lanes side by side, on the same cloth: each ply lies as it comes, and all arms share where. Of single
 * traces judged is the spread, the largest less the least delay of the set, each delay less its own mean: what the layout
 * makes of the means is its own affair. Of pairs it is the largest |skew|. */
struct ww_arms {
    size_t count; /* 0: there are none */
    bool pair, lanes;
    char (*name)[32];   /* [count] "route", the names of the others; "1", "2" .. of lanes */
    double *mean_delay; /* [count] every ply at its mean [s] */
    double *
        deviation; /* [count] standard deviation of the delay, of pairs of the skew, over placement, turn and counts [s] */
    double *correlation; /* [count][count] of these; 0 beside an arm that does not vary */
    double worst; /* of what is judged, over all placements at the study's angle: a maximum of the harmonics [s] */
    double worst_with_turn; /* the design worst: within turn and count tolerance, each ply at its own [s] */
    double *
        apart; /* [count][count] the design worst of each two [s]; of pairs each's own skew on the diagonal, else 0 */
    size_t between[2]; /* the arms between which the design worst is; of pairs twice the one that has it */
    /* over placement, turn and counts, all plies of a board turned and stretched alike */
    double median, p95, p99, expected; /* of what is judged; its mean [s] */
    double rms;   /* of the delays about the set's mean, of pairs of the skews: root of the mean square [s] */
    double yield; /* chance that it is within the budget; 0 without one */
    struct ww_distribution distribution; /* of what is judged */
};
/* Solve the set of a request with arms, or with up to WW_ARMS_MOST lanes at a lane pitch; of others `arms` is left empty. answer: of
 * the same request. The worst is exact for the scan's harmonics; the design worst within 0.5 % (tests/chance/test_arms.c).
 * Statuses of ww_skew_solve. */
WW_API enum ww_status ww_arms_solve(struct ww_arms *arms, const struct ww_line *line,
                                    const struct ww_skew_request *request, const struct ww_skew *answer,
                                    struct ww_error *error);
WW_API void ww_arms_clear(struct ww_arms *arms);
/* Are there arms by name, whose set is judged in place of their first? arms may be NULL. */
WW_API bool ww_arms_are_judged(const struct ww_arms *arms);
/* What is held against the budget: the design worst of arms by name, else that of the skew [s]. */
WW_API double ww_judged(const struct ww_skew *skew, const struct ww_arms *arms);

/* --- what the answer hangs on ------------------------------------------------------------------------------------------- */

/* Sources of doubt. The first are those of enum ww_style_figure. */
enum ww_doubt_kind {
    WW_DOUBT_WARP_WIDTH,
    WW_DOUBT_FILL_WIDTH,
    WW_DOUBT_THICKNESS,
    WW_DOUBT_GLASS_DK, /* of all plies of one glass */
    WW_DOUBT_HEIGHT,   /* of the cloth in one ply */
    WW_DOUBT_KINDS
};
WW_API const char *ww_doubt_kind_name(enum ww_doubt_kind kind); /* "warp width" */

struct ww_doubt {
    enum ww_doubt_kind kind;
    char style[32], glass[32]; /* whose */
    size_t ply;                /* the first that has it, from 0 */
    double share;              /* by which the figure may be off, either way; of a height see below */
    double at_low, at_high;    /* the value with this figure alone at its lower, upper end [s] */
};

struct ww_doubts {
    size_t count;
    struct ww_doubt *of;
    double value, low, high; /* the answer and its range [s] */
};

struct ww_doubts_request {
    const struct ww_stack *stack; /* built */
    struct ww_trace trace;
    struct ww_line_options line;
    struct ww_skew_request skew; /* its angle, route, length and scan are used */
    double height_uncertainty;   /* share of the resin between the cloth and the nearer face of its ply, 0 .. 1 */
    double value; /* the worst of a pair, with or without tolerances, the spread of a single trace, as solved [s] */
};
/* Move each source to its two ends alone, solve the worst again, combine the moves to either side by the root of their squares.
 * By the kernel on a coarse cell and one grid of the study's fineness: moves within 0.03 of the worst of those at full resolution
 * with the correction (tests/chance/test_doubt.c). Some ms for each end. Statuses of ww_stack_build, ww_line_create; WW_NO_MEMORY. */
WW_API enum ww_status ww_doubts_solve(struct ww_doubts *doubts, const struct ww_doubts_request *request,
                                      struct ww_error *error);
/* The range from those sources that count; counts NULL: all. */
WW_API void ww_doubts_range(const struct ww_doubts *doubts,
                            bool (*counts)(const void *host, const struct ww_doubt *doubt), const void *host,
                            double *low, double *high);
WW_API void ww_doubts_clear(struct ww_doubts *doubts);

#ifdef __cplusplus
}
#endif
#endif
