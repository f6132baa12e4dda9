/* weftwise/figure.h - the finished figures: drawings of a map, a profile, a distribution, fit for a design review.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Every function draws one figure from plain data (SI) and writes it to `path`, whole or not at all. All carry a
 * headline, axes with units and round ticks, and a footer with the study's title, its conditions, the program's
 * version and the reminder that a prediction does not qualify a board.
 *
 * A PNG is 8-bit RGB with pHYs, sRGB, gAMA and the text chunks Title, Software, Description (the conditions) and
 * Source (the whole study, UTF-8). SVG and PDF are the same drawing as vectors, width/dpi inches wide; the SVG
 * carries the same texts in <title>, <desc> and <metadata>, the PDF in its information (the study among the keywords).
 * The same data give the same bytes: no date is written.
 *
 * All functions return WW_OK; WW_INVALID (a size out of range, an empty map, a cell or trace without extent);
 * WW_IO (could not write: no file is left); WW_NO_MEMORY.
 */
#ifndef WEFTWISE_FIGURE_H
#define WEFTWISE_FIGURE_H

#include "weftwise/core.h"
#include "weftwise/chance.h"
#include "weftwise/frequency.h"
#include "weftwise/sweep.h"
#include "weftwise/budget.h"
#include "weftwise/picture.h"

#ifdef __cplusplus
extern "C" {
#endif

enum ww_figure_format { WW_FIGURE_PNG, WW_FIGURE_SVG, WW_FIGURE_PDF };

/* "png", "svg", "pdf" -> format. WW_INVALID otherwise. */
WW_API enum ww_status ww_figure_format_from_name(const char *name, enum ww_figure_format *format,
                                                 struct ww_error *error);
/* The file ending of a format, without the dot. */
WW_API const char *ww_figure_format_name(enum ww_figure_format format);

#define WW_FIGURE_NARROWEST 400 /* px */
#define WW_FIGURE_WIDEST 10000
#define WW_FIGURE_COARSEST 36 /* dpi */
#define WW_FIGURE_FINEST 2400

/* Zeroed is valid. Strings are UTF-8 and may be NULL. */
struct ww_figure_options {
    enum ww_figure_format format;
    int width;         /* [px], WW_FIGURE_NARROWEST..WW_FIGURE_WIDEST; 0 = 1600 */
    int dpi;           /* WW_FIGURE_COARSEST..WW_FIGURE_FINEST; 0 = 150 */
    double frequency;  /* [Hz] >= 0; above 0, axes of delay also tell what their unit is in degrees of phase there */
    const char *title; /* of the study; footer, Title chunk */
    const char *conditions; /* one line: style, plies, trace, length, angle; footer, Description chunk */
    const char *study;      /* the whole effective study text; Source chunk */
};

/* A trace or pair on the cloth, in the frame of the ply it is drawn on. */
struct ww_footprint {
    double width; /* [m] > 0 */
    double pitch; /* centre to centre [m]; 0 for a single trace */
    double angle; /* from the warp of this ply towards its fill [rad]; turns a route as a whole */
    double x, y;  /* where its centre starts [m], any cell */
    const struct ww_route_segment *route; /* [segments]; NULL: straight. As much is drawn as the panel shows */
    size_t segments;
};

/* (a) How uneven is the dielectric: local Dk over at least two cells, the trace to scale over it. The map covers
 * one cell (tiled for the drawing); warp axes lie at x = (i + 1/2) warp_pitch, fill axes at
 * y = (j + 1/2) fill_pitch. */
struct ww_figure_dk {
    const char *subject; /* "ply 1, 1080": which ply */
    const struct ww_map *dk;
    double warp_pitch, fill_pitch;    /* [m] */
    const struct ww_footprint *trace; /* NULL: none drawn */
};
WW_API enum ww_status ww_figure_draw_dk(const char *path, const struct ww_figure_options *options,
                                        const struct ww_figure_dk *content, struct ww_error *error);

/* Glass that a laser beam meets, over where its middle is; the beam to scale where it meets least and most.
 * WW_INVALID: no map, or a diameter that is not above 0. */
struct ww_figure_via {
    const char *subject;
    const struct ww_map *glass; /* ww_ply_glass_map [m] */
    double diameter;            /* of the beam [m] */
};
WW_API enum ww_status ww_figure_draw_via(const char *path, const struct ww_figure_options *options,
                                         const struct ww_figure_via *content, struct ww_error *error);

/* (b) Where is it bad: skew (pair) or delay less its mean (single trace) over the start position on one ply's
 * cell, the worst positions of both signs marked. */
struct ww_figure_skew {
    const char *subject;
    bool pair;                /* chooses the words: skew, or delay deviation */
    const struct ww_map *map; /* [s] */
    struct ww_extreme high, low;
};
WW_API enum ww_status ww_figure_draw_skew(const char *path, const struct ww_figure_options *options,
                                          const struct ww_figure_skew *content, struct ww_error *error);

/* (c) Why is it bad: effective Dk of each leg along the worst trace, running skew beneath. Samples at distance
 * s[i] = length*i/(count-1), all from ww_scan_profile with from = 0, to = length. When the trace is long against
 * `period`, the upper panel shows a readable segment at its start and says so; the lower always the whole. For that
 * segment the *_near arrays hold a finer sampling (count_near samples over near_length); NULL: the upper panel
 * takes the segment from the whole. */
struct ww_figure_profile {
    const char *subject;
    double length; /* [m] */
    double
        period;   /* of the cloth along the trace [m], roughly (the longer of the two cell sides will do); 0 = none */
    size_t count; /* >= 2 */
    const double *dk1, *dk2; /* dk2 NULL: single trace */
    const double *running;   /* [s] */
    double near_length;      /* [m] */
    size_t count_near;
    const double *dk1_near, *dk2_near;
};
/* The length of the segment that the upper panel shows readably: a round number of at most about six periods, or
 * the whole length. */
WW_API double ww_figure_near_length(double length, double period);
WW_API enum ww_status ww_figure_draw_profile(const char *path, const struct ww_figure_options *options,
                                             const struct ww_figure_profile *content, struct ww_error *error);

/* (d) How likely is it: distribution of |skew| (pair) or of the difference of two traces (single) with median, p95, p99,
 * worst and budget marked, the part over budget shaded. */
struct ww_figure_distribution {
    const char *subject;
    bool pair;                                  /* chooses the words */
    const struct ww_distribution *distribution; /* of the signed value [s] */
    double median, p95, p99, worst;             /* of the absolute value [s] */
    double budget;                              /* [s]; 0 if none */
    double over_budget;                         /* chance, 0..1 */
    const char *what; /* of more than placements: what differs, in place of pair's words; NULL */
    const char *axis; /* title of its axis; NULL: "|difference of two circuits|" */
};
WW_API enum ww_status ww_figure_draw_distribution(const char *path, const struct ww_figure_options *options,
                                                  const struct ww_figure_distribution *content,
                                                  struct ww_error *error);

/* (e) Where the field is, and what lies there: one cross-section to scale, the strength of the field as colours under
 * equipotentials and the outlines of the yarns, with planes, copper and the thickness of every layer. Seen along the
 * direction of travel: leg 1, at +n, stands at the left. */
struct ww_figure_layer {
    const char *name;   /* "ply 1, 1080"; the thickness is added */
    double bottom, top; /* above the lower plane [m] */
};
struct ww_figure_section {
    const char *subject; /* "the worst pair" */
    /* All maps: same size, lower left corner at (left, bottom), samples smaller than a pixel or so. A sample at their
     * edges is not drawn. */
    double left, bottom;              /* [m]; bottom 0 is the face of the lower plane */
    const struct ww_map *strength;    /* [V/m], with 1 V on the trace or between the legs */
    const struct ww_map *potential;   /* [V] */
    const struct ww_map *warp, *fill; /* fraction of bundle; either may be NULL */
    double width, thickness, pitch;   /* of the copper [m]; pitch 0 for a single trace, which lies at n = 0 */
    double copper;                    /* height of its lower face [m] */
    double plane;                     /* height of the upper plane's face [m]; 0: open */
    const struct ww_figure_layer *layer;
    size_t layers;
};
WW_API enum ww_status ww_figure_draw_section(const char *path, const struct ww_figure_options *options,
                                             const struct ww_figure_section *content, struct ww_error *error);

/* (f) Does the fast answer follow the full solutions: delay along one period of the cloth, the kernel's as lines, sections as
 * dots, the volume's mean as a line and all means as numbers beside the panel. Kernel at i period/(count_kernel - 1),
 * sections at i period/count_section. Leg 2 NULL: single trace. */
struct ww_figure_along {
    const char *subject; /* "the worst pair, ply 1" */
    double period;       /* or the stretch that is shown where the cloth has none [m] */
    bool periodic;
    size_t count_kernel;             /* >= 2 */
    const double *kernel1, *kernel2; /* [s/m] */
    size_t count_section;            /* >= 1 */
    const double *section1, *section2;
    double mean_kernel[2], mean_section[2]; /* over the period [s/m] */
    const double *mean_volume;              /* [2]; NULL: there is none */
};
WW_API enum ww_status ww_figure_draw_along(const char *path, const struct ww_figure_options *options,
                                           const struct ww_figure_along *content, struct ww_error *error);

/* (g) Which routing angles are safe: worst, p99, median and the design curve over angle, on a logarithmic axis; what lies
 * over three decades under the highest is drawn on its floor. Safe windows are shaded and named, the directions in which
 * skew revives marked with their (m, l): the strongest where not all have room. Takes one angle or more. */
struct ww_figure_angles {
    const char *subject; /* "50 mm, all plies together" */
    const struct ww_angles *angles;
    const double
        *own_angle; /* [rad] of the study, marked where it is in the range; NULL: no mark. Not on conversion.png */
};
WW_API enum ww_status ww_figure_draw_angles(const char *path, const struct ww_figure_options *options,
                                            const struct ww_figure_angles *content, struct ww_error *error);

/* (g2) Where the pair converts its odd mode to the even one: worst, p99, median and design conversion over angle in dB, windows
 * that meet the budget shaded, phase-matched angles marked with their (m, l). What lies 60 dB under the highest is drawn on the
 * floor. WW_INVALID besides: no conversion was asked for. */
WW_API enum ww_status ww_figure_draw_conversion(const char *path, const struct ww_figure_options *options,
                                                const struct ww_figure_angles *content, struct ww_error *error);

/* (h) Where it saturates and where it grows: the worst of any length up to the one at the axis (`reached`), over angle and
 * length, as colours on a logarithmic scale, the budget as a contour, the study's own angle and length marked. */
struct ww_figure_lengths {
    const char *subject;
    bool pair;
    const struct ww_lengths *lengths; /* two angles and two lengths or more */
    double budget;                    /* [s]; 0 if none */
    double own_angle, own_length;     /* [rad], [m]; own_length 0: not marked */
};
WW_API enum ww_status ww_figure_draw_lengths(const char *path, const struct ww_figure_options *options,
                                             const struct ww_figure_lengths *content, struct ww_error *error);

/* Which glass, for three figures. Styles that cannot be used here are told by name and reason in (i), left out of (j) and
 * (k); where none is left, all three refuse. */
struct ww_figure_compare {
    const char *subject; /* "all plies replaced, 50 mm at 0 deg" */
    const struct ww_comparison *comparison;
    double budget; /* [s]; 0 if none */
};
/* (i) A row for each style, in the comparison's order: bar to the worst, median and p99 as ticks, the distribution over it; its
 * resin content, told where it is rich or starved. The page grows with the rows. */
WW_API enum ww_status ww_figure_draw_compare(const char *path, const struct ww_figure_options *options,
                                             const struct ww_figure_compare *content, struct ww_error *error);
/* (j) Design curves over angle on one axis, each with its own dashes and its name at its end; of more than eight, the
 * three least, the three most and the study's own are told apart and the others grey. */
WW_API enum ww_status ww_figure_draw_compare_angles(const char *path, const struct ww_figure_options *options,
                                                    const struct ww_figure_compare *content, struct ww_error *error);
/* (k) Local Dk of the styles side by side, at one scale and in one range of colours. */
WW_API enum ww_status ww_figure_draw_compare_dk(const char *path, const struct ww_figure_options *options,
                                                const struct ww_figure_compare *content, struct ww_error *error);

/* What makes two circuits differ: a bar for each cause, the largest first, and the whole beneath it against the budget. The page
 * grows with the rows. */
struct ww_figure_budget {
    const char *subject;
    const struct ww_budget *budget;
};
WW_API enum ww_status ww_figure_draw_budget(const char *path, const struct ww_figure_options *options,
                                            const struct ww_figure_budget *content, struct ww_error *error);
/* The phase (without a frequency the delay) of a nominal circuit over temperature, and as a band by how much two differ at any one.
 * WW_INVALID: temperature is no cause. */
WW_API enum ww_status ww_figure_draw_budget_temperature(const char *path, const struct ww_figure_options *options,
                                                        const struct ww_figure_budget *content,
                                                        struct ww_error *error);

/* Which pitch and width, for two figures. */
struct ww_figure_pitch {
    const char *subject;
    bool pair; /* false: of a single trace, whose pitch is no axis */
    const struct ww_pitch *pitch;
    double budget;                 /* [s]; 0 if none */
    double warp_pitch, fill_pitch; /* of the cloth [m], marked on the axes with their multiples; 0: not marked */
    double own_pitch, own_width;   /* the study's [m]; own_width 0: not marked */
};
/* (l) The worst over pair pitch and trace width as colours on a logarithmic scale, nulls and the study's own marked, what
 * cannot be built hatched. With one pitch or one width: a curve over the other. */
WW_API enum ww_status ww_figure_draw_pitch(const char *path, const struct ww_figure_options *options,
                                           const struct ww_figure_pitch *content, struct ww_error *error);
/* (m) How fast the null is lost: the worst against angle, and against the cloth being stretched. */
WW_API enum ww_status ww_figure_draw_null(const char *path, const struct ww_figure_options *options,
                                          const struct ww_figure_pitch *content, struct ww_error *error);

/* How far apart, for two figures. */
struct ww_figure_spacing {
    const char *subject;
    const struct ww_spacing *spacing;
    double budget;         /* [s]; 0 if none */
    double own, own_worst; /* the study's spacing [m], 0: not marked; its worst with turn [s] */
    double own_yield;      /* of (o): of the study's lanes, at own, or where it is 0 at independent places */
};
/* (n) The worst difference of two feeds over their spacing, at the study's angle and within turn and count tolerance (dashed);
 * its nulls as rings, and what it is where places are independent. */
WW_API enum ww_status ww_figure_draw_spacing(const char *path, const struct ww_figure_options *options,
                                             const struct ww_figure_spacing *content, struct ww_error *error);
/* (o) The yield of lanes on one cloth over their pitch, the best near the study's as a ring. */
WW_API enum ww_status ww_figure_draw_lanes(const char *path, const struct ww_figure_options *options,
                                           const struct ww_figure_spacing *content, struct ww_error *error);

/* --- reading back ----------------------------------------------------------------------------------------- */

/* The study that a figure of this library carries, as PNG (a map saved as data too), SVG or PDF; *study is the caller's to
 * free. UTF-8 without control characters but line breaks and tabs, whoever made the file. WW_INVALID: it carries none;
 * WW_MALFORMED: it is no figure, or a broken one; WW_IO; WW_NO_MEMORY. */
WW_API enum ww_status ww_figure_recall(const char *path, char **study, struct ww_error *error);

/* (r) Skew of a pair, or the difference of two traces, over length: the bound of perfect cloth, 99 of 100 and the median of real
 * boards laid square, 99 of 100 with the turn; the study's own length and the budget marked. */
struct ww_figure_cloth {
    const char *headline, *subject;
    const struct ww_real *real;
    double budget; /* [s]; 0 if none */
};
WW_API enum ww_status ww_figure_draw_cloth(const char *path, const struct ww_figure_options *options,
                                           const struct ww_figure_cloth *content, struct ww_error *error);

/* (s) Local Dk of a patch of real cloth along a straight trace, along to the right and stretched across, the trace or pair to scale
 * over it. */
struct ww_figure_patch {
    const char *headline, *subject;
    const struct ww_map *dk; /* ww_patch_dk_map */
    double width, pitch;     /* of the trace [m]; pitch 0: single */
};
WW_API enum ww_status ww_figure_draw_patch(const char *path, const struct ww_figure_options *options,
                                           const struct ww_figure_patch *content, struct ww_error *error);

/* The trace slid over one board of real cloth: its skew over where it starts, along and, stretched, across; the worst ringed. */
struct ww_figure_place {
    const char *headline, *subject;
    bool pair; /* chooses the words */
    const struct ww_real_place *place;
};
WW_API enum ww_status ww_figure_draw_place(const char *path, const struct ww_figure_options *options,
                                           const struct ww_figure_place *content, struct ww_error *error);

/* Correlation of equal traces side by side on real cloth over their spacing, with its 95 % band; the lane pitch marked. */
struct ww_figure_alike {
    const char *headline, *subject;
    bool pair;
    const struct ww_real_alike *alike;
    double lane_pitch; /* [m]; 0 if none */
};
WW_API enum ww_status ww_figure_draw_alike(const char *path, const struct ww_figure_options *options,
                                           const struct ww_figure_alike *content, struct ww_error *error);

/* The worst of many nets of one panel: how it is distributed over panels, beside one net. */
struct ww_figure_panel {
    const char *headline, *subject;
    bool pair;
    const struct ww_real_panel *panel;
    double budget; /* [s]; 0 if none */
};
WW_API enum ww_status ww_figure_draw_panel(const char *path, const struct ww_figure_options *options,
                                           const struct ww_figure_panel *content, struct ww_error *error);

/* Over frequency, in dB: what passes, what a pair converts to its even mode, what is reflected, of one placement; bands over all
 * placements drawn; the signal's frequency and the notches of the cloth marked. */
struct ww_figure_frequency {
    const char *subject; /* which placement; may be NULL */
    const struct ww_spectrum *spectrum;
};
WW_API enum ww_status ww_figure_draw_frequency(const char *path, const struct ww_figure_options *options,
                                               const struct ww_figure_frequency *content, struct ww_error *error);
/* The phase of what passes less that of the mean line, in degrees, with the band over placements. */
WW_API enum ww_status ww_figure_draw_phase(const char *path, const struct ww_figure_options *options,
                                           const struct ww_figure_frequency *content, struct ww_error *error);

/* A picture of cloth with the yarns as they were followed drawn over it, its middle where the whole shows too many; and its
 * spectrum with the lines of both families marked. */
WW_API enum ww_status ww_figure_draw_picture(const char *path, const struct ww_figure_options *options,
                                             const struct ww_picture *picture, const struct ww_cloth_picture *cloth,
                                             struct ww_error *error);
WW_API enum ww_status ww_figure_draw_picture_spectrum(const char *path, const struct ww_figure_options *options,
                                                      const struct ww_cloth_picture *cloth, struct ww_error *error);

/* What the cloth reflects over routing angle and frequency, of a pair as either mode, as colours, with the safe windows of the angles above and the
 * study's own angle and the signal's frequency marked. */
struct ww_figure_notch {
    const char *subject; /* length, plies; may be NULL */
    bool pair;
    const struct ww_notch_map *map;
    const struct ww_angles *angles; /* its windows, for each budget that it has; NULL: none */
    const double *own;              /* angle of the study [rad]; NULL: not within the range */
    double at;                      /* the signal's frequency [Hz]; 0: none */
    size_t plies;                   /* whose parts may fall in phase; 0: not told */
};
WW_API enum ww_status ww_figure_draw_notch(const char *path, const struct ww_figure_options *options,
                                           const struct ww_figure_notch *content, struct ww_error *error);

#ifdef __cplusplus
}
#endif
#endif
