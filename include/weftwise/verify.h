/* weftwise/verify.h - can these numbers be trusted? Kernel, section and volume side by side on a study's own stackup.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Three methods at the study's angle: "kernel", the fast answer of every map (kernel with its residual correction);
 * "section", the full 2-D field with the cloth in place; "volume", the full 3-D field of one period. They are compared at
 * the start positions of the worst of both signs, the slowest and the fastest, and at three between these two. All of
 * it is static: dispersion multiplies the deviations by any of the methods alike.
 */
#ifndef WEFTWISE_VERIFY_H
#define WEFTWISE_VERIFY_H

#include "weftwise/core.h"
#include "weftwise/line.h"
#include "weftwise/chance.h"
#include "weftwise/study.h"

#ifdef __cplusplus
extern "C" {
#endif

struct ww_verify_options {
    bool without_volume;
    bool only_worst;                /* only the places that make the worst, of a pair for the larger sign */
    double memory;                  /* most bytes for a volume; 0 = 2e9 */
    size_t sections;                /* most sections over a period; 0 = 32 */
    struct ww_full_options full;    /* tolerance, iterations and samples along; its memory and ply are not read */
    void (*step)(const char *what); /* called before each step with its name; may be NULL */
};

/* Delays per length [s/m] of leg 1 and leg 2; leg 2 of a single trace is 0. */

/* Means over a span of the trace. */
struct ww_verify_mean {
    size_t ply;  /* 0: all plies in place; else this one (from 1) in place and the others at their lateral mean */
    double span; /* [m] one period of the cloth along the trace; where it has none, its longest cell side */
    bool periodic;
    double kernel[2];  /* mean over the whole span */
    double section[2]; /* mean of the sections */
    size_t sections; /* evenly spread, the first at the start; doubled until their mean settles or options.sections */
    double settled;  /* change of their mean signal at the last doubling of their number [s/m] */
    double rms; /* of section less kernel of the signal over the sections; of a single trace, less its mean [s/m] */
    double rms_signal; /* of the kernel's signal itself there; of a single trace, less its mean [s/m] */
    double *local[2];  /* [sections] what each of them gave */
    int iterations;    /* most of any */
    double residual;   /* largest of any */
    double seconds;    /* of all */
    bool has_volume;
    struct ww_full volume;
};

struct ww_verify_place {
    const char *name;   /* "slowest"; "worst, leg 1 late" */
    double (*start)[2]; /* of each ply, in its own frame [m] */
    double kernel[2];   /* at the one cross-section where the trace starts */
    struct ww_full section;
    struct ww_verify_mean *mean; /* none for a place between */
    size_t means;
};

/* The answer at another resolution of cell, cross-section and correction. */
struct ww_verify_resolution {
    double factor; /* on the study's fineness: 1/2, 1, 2 */
    double worst;  /* worst skew, or difference of two single traces [s] */
    double dk_eff; /* of the mean delay */
    double z;      /* Z0; of a pair, Z odd [ohm] */
    double step;   /* grid step across [m] */
};

/* What the answer tends to on ever finer grids. */
struct ww_verify_limit {
    double value;       /* worst skew, or difference of two single traces [s] */
    double order;       /* the error falls as step^order, 1 to 2 */
    bool observed;      /* the order is that of three grids; else 1 is taken */
    double uncertainty; /* of the value [s] */
};

enum ww_verify_against { WW_AGAINST_SECTION, WW_AGAINST_VOLUME, WW_AGAINST_RESOLUTION, WW_AGAINSTS };

/* Zeroed is valid and empty. "Signal" is skew for a pair, and for a single trace its delay. */
struct ww_verify {
    bool pair;
    double length;                 /* of the study [m] */
    struct ww_verify_place *place; /* those that decide first: worst of both signs (pair only), slowest, fastest */
    size_t worsts; /* how many of them give the worst by themselves: of a pair one for each sign taken */
    size_t places;
    bool periodic;       /* the cloth repeats along the trace: means over a period are compared */
    char no_volume[768]; /* why there is no volume, in one line; "" if there is one */
    struct ww_verify_resolution
        resolution[3]; /* 1/2, 1, 2; those outside the study's range of fineness are left out */
    size_t resolutions;
    /* of the answer: worst skew, or difference of two single traces, anywhere or at the study's spacing; static [s] */
    double worst;
    /* of the fast answer that is compared, as in struct ww_skew */
    double correction_ratio;
    size_t sections;
    /* Worst over length by each method [s/m], sum over the plies: mean signal at the worst place of a pair, slowest less
     * fastest of two single traces. 0 without a period; volume 0 if there is none. */
    double worst_kernel, worst_section, worst_volume;
    /* |answer less each| of the worst over the study's length [s]; negative if not known. Against resolution: |answer less
     * limit|, and the uncertainty of the limit on top */
    double error[WW_AGAINSTS];
    enum ww_verify_against largest;
    struct ww_verify_limit limit; /* zeroed where there are fewer than two resolutions */
};

/* skew: the answer of ww_skew_solve for the study and the line. A volume that its memory forbids is left out, and
 * no_volume says why. WW_NOT_CONVERGED: a field did not; the message gives place and residual, and *verify is
 * empty. WW_NO_MEMORY; statuses of ww_study_build and ww_line_create at other resolutions. */
WW_API enum ww_status ww_verify_solve(struct ww_verify *verify, const struct ww_study *study,
                                      const struct ww_line *line, const struct ww_skew *skew,
                                      const struct ww_verify_options *options, struct ww_error *error);
WW_API void ww_verify_clear(struct ww_verify *verify);

/* "section", "volume", "resolution" */
WW_API const char *ww_verify_against_name(enum ww_verify_against against);
/* What no solution of the field can tell, one phrase: names the styles whose yarns are not from a source. Returns out,
 * cut to fit. */
WW_API char *ww_verify_not_covered(const struct ww_study *study, char *out, size_t size);

/* The signal of two legs: leg 1 less leg 2 of a pair, leg 1 of a single trace. */
WW_API double ww_verify_signal(const struct ww_verify *verify, const double leg[2]);
/* The length that a difference of such means is multiplied by [m]: the whole length where the mean is over a period, else
 * the length of the mean. */
WW_API double ww_verify_over(const struct ww_verify *verify, const struct ww_verify_mean *mean);

/* The kernel's delay per length [s/m] of each leg, mean over `length` from distance `along` behind the starts, with
 * the cloth of one ply (from 1) in place and the others at their mean, or all (0). length 0: right there. */
WW_API enum ww_status ww_verify_kernel(const struct ww_scan *scan, const struct ww_line *line, double angle,
                                       const double (*start)[2], size_t ply, double along, double length,
                                       double delay[2], struct ww_error *error);

#ifdef __cplusplus
}
#endif
#endif
