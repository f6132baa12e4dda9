/* weftwise/patch.h - what a long trace sees of real cloth, whose yarns wander.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * On perfect cloth a trace along the yarns keeps step with them, and skew grows with length for ever. Real yarns wander: the
 * trace loses step, and beyond some length skew grows as its root. A walk goes along a trace step by step and adds up its
 * delay; src/patch/walk.c says how.
 */
#ifndef WEFTWISE_PATCH_H
#define WEFTWISE_PATCH_H

#include "weftwise/chance.h"
#include "weftwise/core.h"
#include "weftwise/correct.h"
#include "weftwise/fabric.h"
#include "weftwise/line.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Traces of one line over patches of real cloth, straight or along a route. Read only once created: any number of threads may walk. */
struct ww_walk;
/* angle: of the trace from the warp of the panel, or by which a route is turned [rad]. step [m] > 0: within one the cloth's displacement
 * counts as constant, all else is integrated exactly; what is left falls with its square, 2e-4 of the worst along the warp at half a yarn
 * pitch, 1e-6 at a thirty-second (tests/patch). Against full cross-sections on a patch the skew over half a yarn
 * pitch is off by 3 % of its largest at most, by 0.8 % rms (tests/bench/patch_errors.c, a test as well). 0: a straight walk that
 * ww_walk_slowness alone is asked of. correction may be NULL. options: as of a scan, NULL for none; of them route, bends, stretch and
 * dispersion are used. A route costs 20 MB a direction, ply and pair.
 * Statuses of ww_line_create; WW_NO_MEMORY where directions would need more than 4 GB. */
WW_API enum ww_status ww_walk_create(struct ww_walk **walk, const struct ww_line *line,
                                     const struct ww_correction *correction, double angle, double step,
                                     const struct ww_scan_options *options, struct ww_error *error);
WW_API void ww_walk_destroy(struct ww_walk *walk);

/* Value over the first length[i] of a trace, ascending [m], value[count] [s]: of a pair its skew, of a single trace its delay less that
 * over perfect cloth on average; with the coupling of each two plies. Lengths of a straight trace are whole steps; NULL: 1, 2, ..
 * steps. Of a route they are along its centre line; patch[ply] of the ply's own style, start[ply] where the trace starts on it, in the frame of its cloth [m]; turn: how far the cloth of all plies lies off square [rad],
 * small: the legs' own slowness is that of the angle. Without scatter it is what ww_scan_value_of_all tells, to 1e-9 of the worst, of
 * a route to 1e-5, of two plies to 2e-3 of the worst along the warp, for the scan leaves small products out (tests/patch). Cost: 0.5 to
 * 2 us a step, leg and ply. */
WW_API void ww_walk_along(const struct ww_walk *walk, const struct ww_patch *const *patch, const double (*start)[2],
                          double turn, const double *length, size_t count, double *value);
/* Slowness of both legs at one place of the pair's centre, one ply's patch in place, less its mean over perfect cloth [s/m],
 * averaged over a step around it. A single trace has the first alone. */
WW_API void ww_walk_slowness(const struct ww_walk *walk, size_t ply, const struct ww_patch *patch, double x, double y,
                             double slowness[2]);

/* The same over part of a patch or all of it: leg[i] of nx by ny samples over lx by ly [m] from the corner `from`, x across the
 * warp of that cloth, each of the place in its middle. A single trace has leg[0] alone, leg[1] is left zeroed. WW_INVALID: a side or a
 * count that is zero; WW_NO_MEMORY. Cost: tests/bench/bench_patch.c. */
WW_API enum ww_status ww_walk_map(const struct ww_walk *walk, size_t ply, const struct ww_patch *patch,
                                  const double from[2], double lx, double ly, size_t nx, size_t ny,
                                  struct ww_map leg[2], struct ww_error *error);

/* Local Dk of a ply's patch along a trace, the series average of each column (ww_ply_dk_map) averaged over the sample: map of nx
 * samples along the trace from its start, and ny across, `width` with the trace in the middle, the left of travel above; segment by
 * segment, so that at bends it jumps on both sides of the trace. Angles of the segments are from the warp of that cloth; start as in
 * ww_walk_along. WW_INVALID, WW_NO_MEMORY. */
WW_API enum ww_status ww_patch_dk_map(const struct ww_stack *stack, size_t ply, const struct ww_patch *patch,
                                      const double start[2], const struct ww_route_segment *segment, size_t segments,
                                      double width, size_t nx, size_t ny, struct ww_map *map, struct ww_error *error);

/* --- what long traces see ----------------------------------------------------------------------------------------- */

/* "Value" is the skew of a pair; of a single trace the difference of its delay from that of an equal one, `spacing` beside it on
 * the same cloth, or without a spacing anywhere else on it. */
struct ww_real_request {
    const struct ww_scatter *scatter;
    /* The plies' cloth as measured, in place of one drawn, all plies of the style that was measured; NULL: none. scatter is then none,
     * but for the seed of the places, the trace straight, nets 0; the counts are those measured, without their tolerances. Traces lie
     * where the cloth is known, each ply's anywhere on it. */
    const struct ww_yarn_paths *paths;
    double length, longest; /* of the trace, and up to which it is told [m]; longest 0: 250 mm or twice the length */
    double angle;           /* [rad] from the warp; turns a route as a whole */
    const struct ww_route_segment *route; /* [segments]; NULL: straight. Told are lengths along it, up to its own */
    size_t segments;
    bool bends;  /* as in ww_scan_options */
    double turn; /* how far the cloth may lie off square, of all plies of a board alike [rad] */
    enum ww_law turn_law;
    double warp_tolerance,
        fill_tolerance; /* of the yarn counts, as in ww_skew_request; boards that are turned have them, too */
    double spacing;     /* [m]; 0: none */
    size_t boards;      /* patches drawn for each ply; 0: 48 */
    size_t traces;      /* on each board; 0: 24 */
    size_t lanes;       /* side by side on one cloth, at lane_pitch [m] to the left of the first; 0 or 1: none */
    double lane_pitch, budget;
    size_t nets;              /* that lie anywhere on one panel; 0 or 1: none */
    const struct ww_arm *arm; /* [arms], others of a feed beside the trace or route above, as in ww_skew_request */
    size_t arms;              /* up to WW_ARMS_MOST - 1; 0 over measured cloth */
    size_t sections;          /* as in ww_skew_request */
    const struct ww_correction *correction; /* as there */
    bool angles;                            /* also other angles: what they still buy */
    bool design;                            /* also the design worst */
    bool neighbours;                        /* also how alike traces side by side are, and the map over places */
    struct ww_progress progress;
};

/* A figure and the interval that holds it with 95 %, by resampling the boards (bootstrap; B. Efron, Ann. Stat. 7 (1979) 1). */
struct ww_bracketed {
    double value, low, high;
};

struct ww_real_spread {
    struct ww_bracketed median, p99; /* of |value| [s] */
    double p95, worst;               /* worst: the largest that was seen */
};

struct ww_at_length {
    double length;
    double bound; /* the worst over perfect cloth, laid square, of a route of that much of it [s] */
    struct ww_real_spread square,
        turned; /* real cloth laid square, and turned off it at random, its counts off at random */
};

struct ww_at_turn {
    double angle;       /* of the trace from the warp [rad] */
    double bound;       /* over perfect cloth at this very angle, at the request's length [s] */
    double median, p99; /* over real cloth, laid square to within the turn [s] */
};

/* Nets of one panel: of the cloth of panels drawn at random, [fabric] panel wide, each at a turn of its own, nets start
 * anywhere. Their values are not independent: they share the turn, and neighbours their yarns. Of pairs and of traces with a spacing
 * the largest |value| of the panel; of single traces the largest less the least delay. */
enum { WW_QUANTILES = 201 };
struct ww_real_panel {
    size_t nets, panels; /* nets 0: not asked */
    double *worst;       /* [panels] ascending [s] */
    struct ww_bracketed median, p95;
    double mean;
    double one
        [WW_QUANTILES]; /* quantiles 0, 1/200, .. 1 of |value| of one net, over all panels; of single traces zero */
    /* chance that all are within the budget, with what holds it to 95 %, and were the nets independent (of single traces 0);
     * zero without a budget */
    struct ww_bracketed yield;
    double yield_independent;
};

/* Correlation of the values (of single traces, delays) of two equal traces so far apart on one cloth, turn included. */
struct ww_real_alike {
    size_t count; /* 0: not asked */
    double *spacing;
    struct ww_bracketed *correlation;
};

/* The value of the trace slid over one board, laid square; of single traces its delay less the mean. Along: of a route from its start
 * to its end. */
struct ww_real_place {
    struct ww_map map;       /* along the trace and to its left; value NULL: not asked */
    double angle;            /* of along, from the warp of the panel [rad] */
    double worst;            /* the largest |value| [s] */
    double worst_x, worst_y; /* where in the map [m] */
    double (*start)[2];      /* [plies] on each ply's patch, as in ww_walk_along */
    double width, length; /* of the patch: ww_patch_create(.., width, length, ply, ..) draws it again; measured: 0 */
};

/* The arms of a feed on one board, each from its own start: of single traces the largest less the least delay, each less its mean over
 * perfect cloth, of pairs the largest |skew|. */
struct ww_real_arms {
    size_t count;                         /* with the request's own trace, the first; 0: not asked */
    struct ww_real_spread square, turned; /* as of ww_at_length */
    double bound, design; /* over perfect cloth: ww_arms.worst, worst_with_turn; 0 without ww_real_request.design */
    double *deviation;    /* [count] of each one's delay, or skew, turn and counts included [s] */
    double *correlation;  /* [count][count] of these */
    double yield;         /* chance that it is within the budget, turn and counts included; 0 without one */
};

/* Zeroed is valid and empty. */
struct ww_real {
    bool pair;
    bool measured; /* the cloth is that of paths: intervals are over places on it alone, boards are groups of those */
    size_t boards, traces;
    bool counts;       /* boards that are turned have yarn counts that are off */
    bool route;        /* lengths are along a route: nothing is told of how the value grows */
    double step;       /* of the walks [m] */
    size_t count, own; /* lengths, ascending; own: which is the request's */
    struct ww_at_length *at;
    double
        design; /* over perfect cloth turned and its counts off, at the request's length: ww_skew.worst_with_turn; 0: not asked [s] */
    /* Growth with length, d ln(p99)/d ln(length), falls below 3/4 here and stays there: between L and its root [m]; 0: not up to the
     * longest */
    double parts, parts_turned;
    double
        kept; /* of the amplitude of the cloth's leading harmonic along the trace, exp(-k^2 wander^2/2), however long */
    size_t angles;
    struct ww_at_turn *at_turn; /* ascending in angle */
    /* Of lanes on one cloth, with the turn: chance that all are within the budget, if they were independent, and as they lie; the
     * largest |value| of a board on average [s]; correlation[i] of |value| of lanes i lane pitches apart, [lanes]. Zero without */
    size_t lanes;
    double yield_independent, yield, expected_worst;
    double *correlation;
    struct ww_real_panel panel;
    struct ww_real_alike alike;
    struct ww_real_place place;
    struct ww_real_arms arms;
    struct ww_patch_fit fit[WW_SYSTEMS]; /* the worst of all patches */
};
/* Of the boards that are drawn at once, each a patch for every ply; fewer threads draw where more would not hold them [bytes]. */
#define WW_REAL_BYTES 4e9
/* What those of a request hold at most, the largest of lengths, panels and angles, and the tables of its walks [bytes]; 0: the request is
 * out of range. */
WW_API double ww_real_bytes(const struct ww_stack *stack, const struct ww_trace *trace,
                            const struct ww_real_request *request);
/* Draw the boards, walk the traces. The same request gives the same digits. WW_NO_MEMORY, beforehand: one board would need more than
 * WW_REAL_BYTES. WW_UNPHYSICAL: as ww_patch_create; WW_INVALID: a
 * length or angle out of range, lanes of single traces, a route, trace or lanes that paths have no room for, statuses of ww_patch_lay;
 * WW_NOT_CONVERGED; WW_NO_MEMORY. Cost: some 2 us a step of 0.2 mm, leg, ply
 * and trace; 20 to 60 s of CPU for two plies and 250 mm. */
WW_API enum ww_status ww_real_solve(struct ww_real *real, const struct ww_line *line,
                                    const struct ww_real_request *request, struct ww_error *error);
WW_API void ww_real_clear(struct ww_real *real);
/* The answer at the request's length in a sentence or two. turn: of the request. Returns out. */
WW_API char *ww_real_sentence(const struct ww_real *real, double turn, char *out, size_t size);
/* Why the figures of perfect cloth are no more than a bound where the study has a scatter: a line for skew, angles, report. */
#define WW_REAL_BOUND                                                                                                \
    "The study's yarns wander; the figures here are those of perfect cloth. Along the yarns they are a bound to "    \
    "within some percent; at an angle, where perfect cloth averages out, real cloth may have more: 'weftwise "       \
    "cloth' "                                                                                                        \
    "tells what to expect."

#ifdef __cplusplus
}
#endif
#endif
