/* weftwise/sweep.h - the answer over what a designer may choose: routing angle, length, glass, pitch and width.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Every sweep solves the request of chance.h for each choice. "Value" is the worst |skew| of a pair, or the spread of
 * a single trace. Angles run from the warp of the panel; with a route they turn it as a whole. Zeroed structs are valid
 * and empty; a result is cleared by its own function. Statuses are those of ww_line_create and ww_skew_solve, and:
 * WW_INVALID for an empty range, a step of 0, or more points than WW_SWEEP_MOST.
 */
#ifndef WEFTWISE_SWEEP_H
#define WEFTWISE_SWEEP_H

#include "weftwise/core.h"
#include "weftwise/fabric.h"
#include "weftwise/laminate.h"
#include "weftwise/line.h"
#include "weftwise/chance.h"

#ifdef __cplusplus
extern "C" {
#endif

#define WW_PITCH_MOST 200000 /* places of a map over pitch and width */
#define WW_SWEEP_MOST 20000  /* angles, or points of a map, in one sweep */

/* --- which routing angles are safe? ------------------------------------------------------------------------------- */

struct ww_angles_request {
    struct ww_skew_request skew; /* its angle is a node of the correction too, and need not be in the range */
    double from, to, step;       /* [rad]; where the value changes faster than the step, more angles are added */
    bool quick;                  /* without p99 and median, worst and design to 0.5 %, in a quarter of the time */
    struct ww_progress progress;
};

/* Values at one angle, over all positions [s]. */
struct ww_at_angle {
    double angle; /* [rad] */
    double worst, p99, median;
    double design; /* the design worst: largest within +- turn of the angle, every ply at its own turn */
    double conversion, conversion_p99, conversion_median; /* of a pair: amplitudes, as in struct ww_conversion */
    double conversion_design;                             /* the largest within +- turn, all plies turned alike */
};

/* A direction u of the trace in which a harmonic (m, l) of a cloth is constant along it, k.u = 0, so that skew grows with
 * length: m along x (across the warp), l along y. m and l have no common factor: the warp is (1, 0), the fill (0, 1). */
struct ww_revival {
    int m, l;
    size_t ply;
    double angle;  /* of the trace from the warp of the panel [rad] */
    double growth; /* of the value with length [s/m]: all harmonics with k.u = 0, at the worst start position */
};

struct ww_window {
    double from, to; /* [rad] */
};

/* The angle to use, in tenths of a degree: within every budget by ww_skew_solve at that very angle. Of the window nearest to
 * the request's own angle the one nearest to it that is five times within the
 * budget, or nearly as good as any of the window. */
struct ww_angle_advice {
    bool found;
    double angle; /* [rad] */
    struct ww_window window;
    double worst;  /* the design worst there [s] */
    double across; /* the same a quarter turn on, where the panel's other traces run [s] */
};

/* A phase-matched angle: the cloth's period along the trace meets the beat of the pair's modes, k.u = +- (beta_even - beta_odd)
 * for the harmonic (m, l) of one ply along one segment of the route, or the trace. */
struct ww_phase_match {
    int m, l;
    size_t ply;
    double angle;      /* [rad] */
    double alone;      /* amplitude converted by this harmonic alone, sin(kappa L), at most 1 */
    double conversion; /* worst by all harmonics, at this angle */
};

/* Over the angles, of a pair whose request has a frequency or rate; else zero. */
struct ww_angles_conversion {
    double frequency, budget; /* [Hz]; amplitude, 0 if none */
    size_t windows;           /* where conversion_design <= budget */
    struct ww_window *window;
    size_t
        matches; /* within the range, ascending in angle; those that alone come within 20 dB of the largest conversion */
    struct ww_phase_match *match;
};

struct ww_angles {
    bool pair;
    double turn, budget; /* as asked */
    size_t count;        /* angles, ascending */
    struct ww_at_angle *at;
    size_t
        revivals; /* within the range, ascending in angle; only those above a share of the worst (see revivals.c) */
    struct ww_revival *revival;
    /* Where design <= budget; none without a budget. Their ends are tenths of a degree that meet it by ww_skew_solve, no
     * window is narrower than the step. Of a quick sweep they are by the envelope, less its 0.5 %. */
    size_t windows;
    struct ww_window *window;
    /* Smallest |turn| from 0, from 90 and from 45 deg that is safe [rad]; < 0: none in the range; 0: the direction itself
     * is safe. */
    double safe_from_warp, safe_from_fill, safe_from_diagonal;
    struct ww_angles_conversion conversion;
    struct ww_angle_advice advice; /* with a budget, not of a quick sweep */
};
/* design is within 1 % of that of a sweep ten times as fine as the lobes of the value, pitch/length wide
 * (tests/sweep/test_angles.c), up to lengths of about 10^4 pitches; window ends with it. */
WW_API enum ww_status ww_angles_solve(struct ww_angles *angles, const struct ww_line *line,
                                      const struct ww_angles_request *request, struct ww_error *error);
WW_API void ww_angles_clear(struct ww_angles *angles);
/* The phase-matched angle nearest to this one, within a quarter of a degree, and more than a tenth from any direction in which skew
 * revives: there the beat is what makes the difference. NULL: none. */
WW_API const struct ww_phase_match *ww_angles_match(const struct ww_angles *angles, double angle);
/* The correction for a sweep over these angles. Several sweeps share it through request->skew.correction; the caller
 * releases it. Statuses of ww_correction_create. */
WW_API enum ww_status ww_angles_correct(struct ww_correction **correction, const struct ww_line *line,
                                        const struct ww_angles_request *request, struct ww_error *error);

/* Value over angle and length: where skew saturates and where it grows. */
struct ww_lengths_request {
    struct ww_angles_request angles;
    double from, to; /* [m], both > 0; lengths are spaced evenly. Of a route: its segments stretched alike */
    size_t count;    /* lengths */
};
struct ww_lengths {
    size_t angles, lengths;
    double *angle, *length; /* [rad], [m], ascending */
    double *worst;          /* [lengths][angles], [s] */
    double *reached;        /* [lengths][angles], largest up to this length [s] */
};
/* angle: those asked for, and the revivals between them. worst: within 1 % of the refined one, or 10^-5 of the largest.
 * WW_INVALID besides: more than WW_SWEEP_MOST points. */
WW_API enum ww_status ww_lengths_solve(struct ww_lengths *lengths, const struct ww_line *line,
                                       const struct ww_lengths_request *request, struct ww_error *error);
WW_API void ww_lengths_clear(struct ww_lengths *lengths);

/* --- which glass? ------------------------------------------------------------------------------------------------- */

struct ww_candidate {
    const char *name; /* as asked for: "2116", "2116/NE" */
    struct ww_style style;
    size_t cloths; /* in each opening; 0: as many as bring the resin content nearest to the one that was there */
};

struct ww_compare_request {
    const struct ww_stack *stack; /* built or not; its layers are copied, plies get the candidate's style */
    size_t ply;                   /* the opening that holds this ply changes, from 1; 0: all of them */
    bool same_dk;                 /* retune the resin of the changed plies so that their mean Dk stays */
    struct ww_trace trace;
    struct ww_cell_options cell;
    struct ww_line_options line;
    struct ww_skew_request skew;
    double from, to, step; /* of the curves over angle [rad] */
    struct ww_progress progress;
    double height_uncertainty; /* for the ranges, see ww_doubts_request */
    double via_diameter;       /* of a laser beam [m]; 0: none drills */
};

/* Is the resin content one that prepregs of the style are made with (ww_style_resin_least, _most)? */
enum ww_resin_flag { WW_RESIN_WITHIN, WW_RESIN_RICH, WW_RESIN_STARVED };
WW_API const char *ww_resin_flag_name(enum ww_resin_flag flag); /* "", "resin-rich", "resin-starved" */

/* An opening that changes: plies of one resin on each other (ww_opening_layers), with a cloth or several. */
struct ww_filling {
    size_t cloths;
    double resin_content; /* by weight; 0 where unknown, and then within */
    enum ww_resin_flag flag;
};

enum { WW_COMPARED_LABEL = 80 };

/* One style in the study's stackup. An opening keeps its thickness; resin fills the rest of it, with the Dk of the study's resin
 * (solved from the sheet, where the study gives one), or with same_dk the Dk that keeps the bulk Dk. */
struct ww_compared {
    const char *name;
    char label[WW_COMPARED_LABEL]; /* what is in the openings: "1080", "2x1035", "2113, 1080" */
    bool own;                      /* the study's own stackup, as it is */
    enum ww_weave_kind kind;       /* of the first cloth that changes */
    size_t fillings;
    struct ww_filling *filling; /* [fillings] from the top */
    enum ww_status status; /* not WW_OK: this style cannot be used here, and `error` says why; the rest is zeroed */
    struct ww_error error;
    struct ww_line_summary line;
    struct ww_skew skew;
    struct ww_angles angles;              /* quick */
    struct ww_map dk;                     /* of the first cloth that changes */
    double warp_pitch, fill_pitch;        /* [m] */
    double mean_dk;                       /* of its opening, in bulk: ww_ply_bulk_dk */
    double resin_content, glass_fraction; /* of its opening; by weight (0 where unknown), by volume */
    double resin_dk;                      /* of that cloth's ply */
    struct ww_doubts doubts;              /* what the design worst hangs on, and its range */
    size_t ply;                           /* that ply, from 0 */
    struct ww_via
        via; /* glass that the beam meets in that opening, each of its cloths anywhere; zeroed without a beam */
};
/* Its label; its name where there is none. */
WW_API const char *ww_compared_name(const struct ww_compared *of);
/* The opening to tell of: the first that is rich or starved, else the first. NULL: none is known. */
WW_API const struct ww_filling *ww_compared_filling(const struct ww_compared *of);
/* Rich or starved where any of its openings is. */
WW_API enum ww_resin_flag ww_compared_flag(const struct ww_compared *of);

struct ww_comparison {
    size_t
        count; /* the study's own first; then ascending in design worst, then those rich or starved, those that cannot be
                     used */
    struct ww_compared *of;
    char *own; /* label of the study's own */
};
/* The least worst among those neither rich nor starved, the study's own included: what may be recommended. NULL: none. */
WW_API const struct ww_compared *ww_comparison_best(const struct ww_comparison *comparison);
/* The study's own stackup is among them once, named or not. A style whose plies cannot be built (its fabric is thicker than the
 * opening) has that as its own status. WW_INVALID: no
 * candidates, no ply, no ply of that number. WW_UNPHYSICAL, WW_NOT_CONVERGED, WW_NO_MEMORY: as ww_line_create. */
WW_API enum ww_status ww_compare_solve(struct ww_comparison *comparison, const struct ww_candidate *candidate,
                                       size_t candidates, const struct ww_compare_request *request,
                                       struct ww_error *error);
/* The request's stack with the candidate in it, as it is compared: built, with layers of its own, for which the caller calls
 * ww_stack_clear and then frees stack->layer. Statuses of ww_stack_build; WW_INVALID as ww_compare_solve. */
WW_API enum ww_status ww_compare_fill(struct ww_stack *stack, const struct ww_candidate *candidate,
                                      const struct ww_compare_request *request, struct ww_error *error);
/* Do the ranges of two styles of one comparison overlap, so that they cannot be told apart? Sources that both share do not
 * count: the glass Dk where they have one glass, the cloth where they have one style, and plies that do not change. */
WW_API bool ww_compared_alike(const struct ww_compared *a, const struct ww_compared *b);
/* What styles are ranked and judged by: the design worst, tolerances of the cloth included [s]. */
WW_API double ww_compared_design(const struct ww_compared *of);
WW_API void ww_comparison_clear(struct ww_comparison *comparison);

/* --- which pair pitch and trace width null it? ---------------------------------------------------------------------- */

struct ww_pitch_request {
    const struct ww_stack *stack; /* built */
    struct ww_trace trace;        /* the study's; pitch 0: a single trace, of which only the width varies */
    struct ww_line_options line;
    struct ww_skew_request
        skew; /* its tolerances are for the design worst of the nulls and of the study's own choice */
    double pitch_from, pitch_to, width_from, width_to; /* [m] */
    size_t pitches, widths; /* of the map, spread evenly; the study's own and those of the nulls come in between */
    struct ww_progress progress;
};

/* A minimum of the value over pitch or width, below half of the maxima beside it. */
struct ww_null {
    double pitch, width; /* [m] */
    double worst;        /* [s] */
    double design;       /* with the tolerances of the cloth [s] */
    double impedance;    /* differential, of a single trace its own [ohm] */
    bool in_width;       /* over width, at the study's pitch; else over pitch, at the study's width */
};

/* The map is interpolated between cross-sections at some widths and gaps (sweep/pitch_nodes.c): within 1 % of ww_skew_solve or
 * 0.2 % of its largest value. Nulls are whole tenths of a um, and hold what ww_skew_solve says there. */
struct ww_pitch {
    size_t pitches, widths;
    double *pitch, *width; /* [m], ascending; of a single trace one pitch, 0 */
    double *worst;         /* [widths][pitches] [s]; where the legs of a pair are nearer than `gap` < 0 */
    double *impedance;     /* [widths][pitches] of the pair, differential [ohm]; < 0 likewise */
    double gap;            /* the least that the map has; 0 of a single trace [m] */
    struct ww_null own;    /* the study's own choice, as in ww_skew_solve; need not be a null */
    size_t nulls;
    struct ww_null *null; /* those in pitch, then those in width, ascending */
    /* Loss of one null: the worst over the angle off the study's, and over the stretch of the cloth. Of a pair a null in pitch,
     * of a single trace in width: the nearest to the study's own of those that meet the budget with the tolerances, else the
     * one with the least design worst; without a null the lowest choice. */
    double null_pitch, null_width;
    double null_with_turn; /* its design worst [s] */
    size_t count;
    double *angle, *at_angle;     /* [count] [rad], [s] */
    double *stretch, *at_stretch; /* [count] share, [s] */
};
/* WW_INVALID: no range, no pair in it that can be built, more than WW_PITCH_MOST places; statuses of ww_line_create and
 * ww_skew_solve. */
WW_API enum ww_status ww_pitch_solve(struct ww_pitch *pitch, const struct ww_pitch_request *request,
                                     struct ww_error *error);
WW_API void ww_pitch_clear(struct ww_pitch *pitch);

/* --- how far apart? --------------------------------------------------------------------------------------------------- */

struct ww_spacing_request {
    struct ww_skew_request skew;  /* scan.spacing, lanes and lane_pitch are the study's own */
    const struct ww_skew *answer; /* of the same request */
    double least;                 /* [m] > 0: nearest that two may stand */
    struct ww_progress progress;
};

/* A minimum of the worst over spacing, below half of what lies about it. */
struct ww_spacing_null {
    double spacing;          /* [m], in whole um */
    double worst, with_turn; /* at the study's angle, and within turn and count tolerance [s] */
    double yarns;            /* how many pitches of the cloth's yarns that is, where a whole number; else 0 */
};

/* Zeroed is valid and empty. */
struct ww_spacing {
    bool pair;
    /* Two equal single traces side by side on one cloth: the largest difference of their delays. None of a pair. */
    size_t count;
    double *spacing, *worst, *with_turn; /* [count] [m], [s], [s] */
    double apart, apart_with_turn;       /* of traces whose places are independent [s] */
    size_t nulls;                        /* nearest to the study's spacing, or the first; ascending */
    struct ww_spacing_null null[3];
    /* Lanes on one cloth over their pitch. None of one lane, without a budget, or where nearly all boards meet it. */
    size_t lanes, pitches;
    double *pitch, *yield, *expected; /* [pitches] [m], chance, [s] */
    double best_pitch, best_yield,
        best_expected; /* of all, the nearest to the study's that reaches nearly the most */
};
/* Spacings over eight pitches of the cloth about the study's, or from the least on; lane pitches over two and a half. with_turn: within 1 %;
 * of a null as in ww_skew_solve. yield: within 2 points; of the best within half a point of ww_skew_solve. */
WW_API enum ww_status ww_spacing_solve(struct ww_spacing *spacing, const struct ww_line *line,
                                       const struct ww_spacing_request *request, struct ww_error *error);
WW_API void ww_spacing_clear(struct ww_spacing *spacing);

#ifdef __cplusplus
}
#endif
#endif
