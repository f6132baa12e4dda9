/* weftwise/result.h - results in forms that other programs read.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WEFTWISE_RESULT_H
#define WEFTWISE_RESULT_H

#include "weftwise/core.h"
#include "weftwise/fabric.h"
#include "weftwise/frequency.h"
#include "weftwise/laminate.h"
#include "weftwise/line.h"
#include "weftwise/picture.h"
#include "weftwise/patch.h"
#include "weftwise/chance.h"
#include "weftwise/study.h"
#include "weftwise/sweep.h"
#include "weftwise/budget.h"
#include "weftwise/verify.h"

#ifdef __cplusplus
extern "C" {
#endif

/* The sentence that stands wherever results are shown. */
#define WW_CAUTION "Predictions guide a design; they do not qualify a board."

/* --- JSON -------------------------------------------------------------------------------------------------------------
 *
 * One object and a newline; units are in the keys; numbers have 12 significant digits. There is no NaN and no infinity:
 * a figure that lacks what it is made from (no frequency, no budget, a resin without density) is null, and what only a
 * pair has is left out for a single trace. All return WW_OK, WW_IO (the stream refused) or WW_NO_MEMORY. */

/* The answer of ww_skew_solve for a study that is built. A single trace has no "skew" object, only "delay".
 * "line" is the summary as it is handed over: the program puts the scan's mean delay over all positions into it, so that
 * line.delay_ps_per_mm times the length is delay.mean_ps, and line.dk_eff is the square of c0 times that delay (the
 * layered background alone, an upper estimate, is up to 1 % above in Dk); impedances are those of the layered background.
 * line.pitch_solved_um is the pitch on the grid, which may differ from trace.pitch_um (struct ww_line_summary.pitch).
 * delay of a single trace: worst_ps, median_ps, p95_ps, p99_ps, deviation_ps and over_budget are of its difference from an
 * equal one, "places" says where that lies: "independent" or "one cloth", signal.spacing_mm apart; spread_ps is always that of
 * independent places. "lanes" has "places" likewise, of signal.lane_pitch_mm. pair_to_pair: of two pairs signal.spacing_mm
 * apart on one cloth the difference of their delays, else null. "spacing" is ww_spacing_solve's answer (NULL: null), feeds and
 * lanes or null, with the sentence it comes to. doubts: of the worst, into "range"; NULL: null. arms: into
 * "on_one_cloth", the set of the study's arms or lanes, names and mean delays in the order of the rows and columns of its
 * matrices; NULL: null. */
WW_API enum ww_status ww_result_skew_json(FILE *stream, const struct ww_study *study,
                                          const struct ww_line_summary *line, const struct ww_skew *skew,
                                          const struct ww_spacing *spacing, const char *sentence,
                                          const struct ww_doubts *doubts, const struct ww_arms *arms,
                                          struct ww_error *error);
/* The answer of ww_verify_solve. Pairs of numbers are leg 1 and leg 2 (a single trace has one); "difference" is less
 * kernel, over the study's length; null is what could not be had. */
WW_API enum ww_status ww_result_verify_json(FILE *stream, const struct ww_study *study,
                                            const struct ww_line_summary *line, const struct ww_verify *verify,
                                            struct ww_error *error);
/* The answer of ww_angles_solve: curves, windows, revivals. sentence: the answer in words. Of a single trace all are of
 * the difference of two, as in "delay" of ww_result_skew_json. What is nowhere safe, or lacks a budget,
 * is null. */
WW_API enum ww_status ww_result_angles_json(FILE *stream, const struct ww_study *study,
                                            const struct ww_line_summary *line, const struct ww_angles *angles,
                                            const char *sentence, struct ww_error *error);
/* The answer of ww_compare_solve, and what was asked of it: which ply, from 1 (null: all), and whether mean Dk stayed.
 * "fabric" is the study's own. A style that cannot be used has its reason and no numbers. */
WW_API enum ww_status ww_result_compare_json(FILE *stream, const struct ww_study *study,
                                             const struct ww_comparison *comparison, size_t ply, bool same_dk,
                                             struct ww_error *error);
/* The answer of ww_pitch_solve: maps as rows of one width, null where a pair cannot be built. */
WW_API enum ww_status ww_result_pitch_json(FILE *stream, const struct ww_study *study, const struct ww_pitch *pitch,
                                           struct ww_error *error);
/* The answer of ww_spectrum_solve: of the placement, as it is named and where it starts, with the names of the files of
 * S-parameters. loss_db is 20 log10 |Sdd21| (single: |S21|), below 0; loss_at splits the attenuation of the mean line into its
 * causes; bands are over the placements drawn. What a single trace lacks is null. over_angle is of ww_notch_map_solve: the most
 * that the cloth reflects at the study's own angle and in each safe window, up to the signal's frequency. */
struct ww_result_frequency {
    const struct ww_line_summary *line;
    struct ww_line_limits limits; /* into "limits_ghz" */
    const struct ww_spectrum *spectrum;
    const char *placement;
    const double (*start)[2]; /* [plies] */
    char *const *file;        /* [files] */
    size_t files;
    const struct ww_notch_map *map; /* NULL or empty: over_angle is null */
    const struct ww_angles *angles; /* for its windows; NULL: none */
    const double *own;              /* angle of the study within the range of the map [rad]; NULL: it is not */
};
WW_API enum ww_status ww_result_frequency_json(FILE *stream, const struct ww_study *study,
                                               const struct ww_result_frequency *result, struct ww_error *error);
/* The answer of ww_budget_solve. causes: those that are given, each with what it alone makes two circuits differ by (99 of 100), the
 * shift of one circuit at its ends, its share of the variance of what is judged, and what is judged with it halved; left_out: the
 * others, and why. total is the level that is judged, of "levels" board, boards, life. sentence: the answer in words. */
WW_API enum ww_status ww_result_budget_json(FILE *stream, const struct ww_study *study,
                                            const struct ww_line_summary *line, const struct ww_budget *budget,
                                            const char *sentence, struct ww_error *error);
/* The answer of ww_real_solve for a study: lengths with the bound of perfect cloth and what real boards have, square and turned; what
 * other angles still buy; lanes on one cloth, null without; "arms" of a feed on one board, null without, where all else is "told_of_arm", the
 * first. Intervals hold 95 %. paths: those of the request, or NULL. sentence: the answer in words. */
WW_API enum ww_status ww_result_cloth_json(FILE *stream, const struct ww_study *study, const struct ww_real *real,
                                           const struct ww_yarn_paths *paths, const char *sentence,
                                           struct ww_error *error);
/* The plies of a study that is built: its "fabric". */
/* via: [plies], how much glass a beam of the study's diameter meets, into "via"; NULL: null. */
WW_API enum ww_status ww_result_map_json(FILE *stream, const struct ww_study *study, const struct ww_via *via,
                                         struct ww_error *error);
/* What a report says (key and sentence), and the documents of its parts, which are read from their files. WW_IO: one
 * that cannot be read back. */
struct ww_report_item {
    const char *key, *value; /* a sentence; of a document its path */
};
WW_API enum ww_status ww_result_report_json(FILE *stream, const struct ww_study *study,
                                            const struct ww_report_item *sentence, size_t sentences,
                                            const struct ww_report_item *document, size_t documents,
                                            struct ww_error *error);
/* The study that was started, and the one that a figure carries. Names that are not UTF-8 are WW_NO_MEMORY's. */
WW_API enum ww_status ww_result_new_json(FILE *stream, const char *file, struct ww_error *error);
WW_API enum ww_status ww_result_recall_json(FILE *stream, const char *figure, const char *study,
                                            struct ww_error *error);
/* A cloth measured from its picture. style: the name it was given; like: the style that the rest is of, NULL if none. */
WW_API enum ww_status ww_result_picture_json(FILE *stream, const struct ww_picture *picture,
                                             const struct ww_cloth_picture *cloth, const char *style,
                                             const char *like, struct ww_error *error);
/* Styles with every figure, its origin and source. */
WW_API enum ww_status ww_result_styles_json(FILE *stream, const struct ww_style *style, size_t count,
                                            struct ww_error *error);

/* --- tables ----------------------------------------------------------------------------------------------------------- */

/* A column of a table: numbers, `stride` bytes apart, given out in `unit` with 12 significant digits (not finite: an
 * empty cell), or text. */
struct ww_column {
    const char *name; /* with its unit: "angle_deg" */
    const double *value;
    size_t stride;
    double unit;
    const char *const *text; /* [rows]; NULL: numbers */
};
/* A header and `rows` lines, with a point in numbers and a comma between cells. WW_IO: no file is left; WW_NO_MEMORY. */
WW_API enum ww_status ww_result_csv(const char *path, const struct ww_column *column, size_t columns, size_t rows,
                                    struct ww_error *error);

/* --- maps as data that a script can read -------------------------------------------------------------------- */

/* NPY 1.0: little-endian float32 ('<f4'), C order, shape (ny, nx); row 0 is the smallest y, as in ww_map. Sizes are
 * not in the file: lx and ly go with the picture below. WW_INVALID: no samples, or one that float32 does not hold (NaN
 * and infinity among them); WW_IO: no file is left; WW_NO_MEMORY. */
WW_API enum ww_status ww_result_npy(const char *path, const struct ww_map *map, struct ww_error *error);

/* 16-bit grey PNG, top row the largest y, as one looks at it. sCAL: size of a pixel on the board [m]; pCAL: quantity,
 * unit ("s"; "" for a pure number) and what a sample is worth, linear from the map's least value (0) to its greatest
 * (65535), so values are kept to 1/131070 of the range. quantity: 1..79 characters of ASCII. study: the text that goes
 * with it as "Source" (ww_figure_recall reads it back); NULL leaves it out. WW_INVALID: no samples, no
 * extent, a sample that is not finite, more than 30000 samples a side; WW_IO: no file is left; WW_NO_MEMORY. */
WW_API enum ww_status ww_result_grey_png(const char *path, const struct ww_map *map, const char *quantity,
                                         const char *unit, const char *study, struct ww_error *error);

#ifdef __cplusplus
}
#endif
#endif
