/* weftwise/budget.h - what makes two circuits of one design differ: causes, their sensitivities and their sums.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Two circuits of one study differ by the sum over its causes of y(u) - y(u'), u and u' in -1 .. 1 drawn by the law of each
 * cause, and by the weave: place, turn and count as one joint distribution. What two circuits share cancels: those of one board
 * differ by the causes of scope "board", those of two boards by "boards" too, two over life by all.
 */
#ifndef WEFTWISE_BUDGET_H
#define WEFTWISE_BUDGET_H

#include "weftwise/core.h"
#include "weftwise/study.h"
#include "weftwise/sweep.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Each row of the table of causes is one of these. */
enum ww_cause_kind {
    WW_CAUSE_WEAVE, /* place, turn and count of the cloth */
    WW_CAUSE_RESIN_DK,
    WW_CAUSE_GLASS_DK,
    WW_CAUSE_LAMINATE_DK,
    WW_CAUSE_THICKNESS,     /* resin refills the plies */
    WW_CAUSE_RESIN_CONTENT, /* the same variable, by weight */
    WW_CAUSE_WIDTH,
    WW_CAUSE_GAP,
    WW_CAUSE_COPPER,
    WW_CAUSE_TEMPERATURE,
    WW_CAUSE_MOISTURE,
    WW_CAUSE_FOIL, /* roughness of the copper */
    WW_CAUSES
};

/* What a cause moves. */
enum ww_observable {
    WW_OBSERVED_DELAY,     /* of the whole trace [s] */
    WW_OBSERVED_DK,        /* effective; of a pair that of the odd mode */
    WW_OBSERVED_IMPEDANCE, /* of a pair the differential one [ohm] */
    WW_OBSERVED_LOSS, /* of dielectric and copper, by the weave of the dielectric [dB/m]; 0 without a frequency */
    WW_OBSERVED_SKEW, /* of a pair: its size [s] */
    WW_OBSERVABLES
};

struct ww_cause {
    enum ww_cause_kind kind;
    const char *name; /* "Dk of the resin" */
    const char *key;  /* of [tolerance]; "" of the weave */
    bool given;
    char why[160];                 /* it is left out; "" where it is given */
    struct ww_tolerance tolerance; /* of the weave only its scope */
    double at[3][WW_OBSERVABLES];  /* one circuit at the lower end, the middle, the upper end, less the nominal one */
    double differ
        [WW_OBSERVABLES]; /* 99 of 100 pairs of circuits that do not share the cause differ by less, by it alone */
    double most;          /* difference of their delays at most [s] */
    double share;         /* of the variance of the difference, between the circuits that are judged */
    double halved;        /* what is judged, with this cause alone halved: see ww_budget.judged [s] */
};

/* The difference of the delays of two circuits, which share what the level says. */
struct ww_budget_level {
    double worst;                  /* sum of the extremes [s] */
    double root_squares;           /* root of the sum of their squares [s] */
    double p99;                    /* of its size, by convolution [s] */
    double drawn;                  /* the same of circuits drawn at random [s] */
    double drawn_error;            /* standard deviation of that, by their number [s] */
    double deviation;              /* standard deviation [s] */
    double differ[WW_OBSERVABLES]; /* 99 of 100, as of a cause; no skew */
    struct ww_distribution distribution;
};

/* Equal feeds of an array, on one board, at places of their own; of a study with arms these, on one cloth. Pointing takes the
 * phase errors of its elements as independent. */
struct ww_array {
    size_t elements;  /* 0: none, or no frequency */
    double rms, peak; /* phase error: root mean square; the largest of all, on average [rad] */
    double gain_loss; /* exp(-rms^2), of power, < 1 */
    double pointing;  /* rms error of the beam of a uniform line array at broadside, half a wavelength apart [rad] */
    double of_beam;   /* the same over its half-power beam width */
};

/* What a designer can do about the weave. */
enum ww_lever_kind {
    WW_LEVER_ANGLE, /* route at another angle: the one that ww_angles_solve advises, else that of the least design worst */
    WW_LEVER_GLASS, /* the other glass of ww_compare_solve, in all plies, with the least 99 of 100 over place, turn and count */
    WW_LEVER_PITCH, /* the pitch of a pair that nulls the skew, or leaves least, by ww_pitch_solve */
    WW_LEVERS
};

/* The study with that one change, solved again with all of its causes. */
struct ww_lever {
    const char *name; /* "another angle" */
    bool given;
    char why[160];              /* it is not; "" where it is */
    char to[WW_COMPARED_LABEL]; /* what it is changed to, as a study has it: "12.5 deg", "1078", "470.2 um" */
    char caution[160];          /* what the number does not say; "" */
    double impedance;           /* then, of a pair the differential one [ohm] */
    double judged, over_budget; /* see ww_budget [s] */
};

/* Corners: circuits with all causes but the weave drawn at once, solved in full, against the sum of the causes. */
struct ww_budget_check {
    size_t corners;
    double rms, largest; /* what the sum is off by [s] */
    double deviation;    /* of the corners' delays [s]: what it is to be compared with */
};

struct ww_budget {
    bool pair;
    size_t arms; /* of a set on one cloth: a circuit is any of them, two of one board any two; 0: there are none */
    double length, frequency;       /* frequency 0: no phase */
    double nominal[WW_OBSERVABLES]; /* of the study as it is; skew: 99 of 100, over place, turn and count */
    struct ww_cause cause[WW_CAUSES];
    struct ww_budget_level level[3];         /* by enum ww_scope */
    double beside_temperature;               /* p99 of the level that is judged, by all causes but temperature [s] */
    enum ww_scope between;                   /* the level that is judged */
    double skew_worst, skew_p99, skew_drawn; /* of a pair: the weave's skew, its size moved by all causes [s] */
    double budget;                           /* [s]; 0 if none */
    double judged;                           /* 99 of 100: of a pair its skew, of a trace the difference of two [s] */
    double over_budget;                      /* chance of it */
    struct ww_array array;
    struct ww_budget_check check;
    size_t levers; /* WW_LEVERS once ww_budget_pull was called; else 0 */
    struct ww_lever lever[WW_LEVERS];
};

struct ww_budget_request {
    const struct ww_study *study;       /* built */
    const struct ww_solution *solution; /* of it */
    size_t draws;                       /* 0: 100000 */
    size_t corners;                     /* to solve in full; 0: none */
    struct ww_progress progress;
};
/* Sensitivities by central differences of the cross-section, solved again at both ends of each cause: with the middle a parabola
 * of the tolerance, whose slope and curve are good to 1 % of the cause (tests/budget). Sums in closed form and, with a fixed seed, by
 * draws: they agree within sampling error. Some tenths of a second.
 * WW_UNPHYSICAL: a cause at whose end the study cannot exist, with its key, that end and the limit; statuses of ww_line_create. */
WW_API enum ww_status ww_budget_solve(struct ww_budget *budget, const struct ww_budget_request *request,
                                      struct ww_error *error);
WW_API void ww_budget_clear(struct ww_budget *budget);

struct ww_levers_request {
    const struct ww_study *study;           /* that of the budget */
    const struct ww_angles *angles;         /* of the study; each of these NULL or empty: not tried */
    const struct ww_comparison *comparison; /* of the study with `candidate` */
    const struct ww_candidate *candidate;   /* [candidates] */
    size_t candidates;
    const struct ww_pitch *pitch; /* of the study */
    struct ww_progress progress;
};
/* Fills the levers of a solved budget: for each the study is changed, built and solved anew, as if its file said so. As long as
 * three studies take. Statuses of ww_study_solve and ww_budget_solve. */
WW_API enum ww_status ww_budget_pull(struct ww_budget *budget, const struct ww_levers_request *request,
                                     struct ww_error *error);
/* The lever that leaves least, of those within the budget one without a caution first; NULL where none was solved, or none leaves less
 * than there is. */
WW_API const struct ww_lever *ww_budget_best_lever(const struct ww_budget *budget);

/* The cause that is worth attacking first: halved alone, it brings what is judged down most; NULL where there is none. */
WW_API const struct ww_cause *ww_budget_leading(const struct ww_budget *budget);
/* Of a filter or patch, whose frequency goes as the inverse of a line's delay: the share by which it moves, -d delay/delay, which
 * is -dDk/(2 Dk) - dL/L. */
WW_API double ww_budget_detuning(const struct ww_budget *budget, double delay);
/* A delay as phase at a frequency [rad]. */
WW_API double ww_budget_phase(double frequency, double delay);

/* --- parts that stand alone ------------------------------------------------------------------------------------------------ */

/* Permittivity of water at 25 degC: one Debye relaxation [Hz >= 0]. U. Kaatze, J. Chem. Eng. Data 34, 371 (1989): 78.36 static,
 * 5.2 at high frequency, 8.27 ps (the last two from memory). */
WW_API double _Complex ww_water_permittivity(double frequency);
/* Volume share of water taken up, of the wet volume: uptake by weight of the dry mass, of a density [kg/m3] > 0. */
WW_API double ww_water_share(double uptake, double density);
/* Isolated drops of water in resin, 3-D Maxwell Garnett; share 0 .. 1. */
WW_API double _Complex ww_wet_permittivity(double _Complex resin, double _Complex water, double share);
/* Of a uniform line array with independent phase errors of that rms [rad]. Power: exp(-rms^2), J. Ruze, Proc. IEEE 54, 633
 * (1966). Pointing of N elements d apart: rms sqrt(12/(N (N^2 - 1))) lambda/(2 pi d), the slope of the line fitted to the phases;
 * for many elements that of R. J. Mailloux, Phased Array Antenna Handbook (from memory). Elements >= 2. */
WW_API struct ww_array ww_array_errors(size_t elements, double rms);

#ifdef __cplusplus
}
#endif
#endif
