/* weftwise/report.h - the report: one page for a design review, and the sentences it is made of.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The stages above solve, draw and save. This one puts their results into words and tables, and those with the figures
 * onto one HTML page. It computes nothing new.
 */
#ifndef WEFTWISE_REPORT_H
#define WEFTWISE_REPORT_H

#include "weftwise/core.h"
#include "weftwise/fabric.h"
#include "weftwise/figure.h"
#include "weftwise/laminate.h"
#include "weftwise/line.h"
#include "weftwise/chance.h"
#include "weftwise/study.h"
#include "weftwise/frequency.h"
#include "weftwise/sweep.h"
#include "weftwise/budget.h"
#include "weftwise/verify.h"

#ifdef __cplusplus
extern "C" {
#endif

/* --- the report of a study ----------------------------------------------------------------------------------------------
 *
 * The parts stay the caller's. All are of the same study. A part that is NULL or empty has no section on the page. */
struct ww_report {
    const struct ww_study *study;       /* built; required */
    const struct ww_line_summary *line; /* required; its delay and dk_eff as for ww_result_skew_json */
    const struct ww_skew *skew;         /* of the study's own request; required */
    const struct ww_verify *verify;
    const struct ww_angles *angles;
    const struct ww_lengths *lengths; /* shown in the section of angles */
    const struct ww_comparison *comparison;
    const struct ww_pitch *pitch;
    const struct ww_doubts *doubts; /* of the worst: shown in the section of skew */
    const struct ww_spacing *spacing;
    const struct ww_budget *budget;
    const struct ww_arms
        *arms; /* of the study: told in the section of chances, and judged where they are arms by name */
    const struct ww_via *via; /* [plies] glass that the study's beam meets: shown in the section of cloth */
    struct ww_line_limits
        limits; /* a signal above them is cautioned of in the section of the spectrum; zeroed: none is known */
    const struct ww_spectrum *spectrum; /* of the worst placement */
    const struct ww_notch_map *notches; /* shown in the section of the spectrum */
    const char *no_spectrum; /* where there is none: what is missing, without a full stop; NULL: nothing is said */

    /* Where the figures are, all saved before the page: "out/link/" finds out/link/profile.png. NULL: none is shown. Their
     * names, without the ending of the format (PNG or SVG), are
     *   skew:        skew-plyN for each ply, profile, distribution, dk-plyN, and arms where arms are judged
     *   verify:      section, and along or along-plyN for each mean of its first place
     *   angles:      angles; of lengths: lengths
     *   comparison:  compare, compare-angles, compare-dk
     *   pitch:       pitch, and null where the study has a null or a least choice (pitch->count > 0)
     *   spacing:     spacing where it has spacings, lanes where it has lane pitches
     *   via:         via-plyN for each ply
     *   budget:      budget, budget-temperature where temperature is a cause, and budget-distribution where the difference
     *                that is judged has one
 *   spectrum:    frequency, phase; of notches: notch */
    const char *figures;
    enum ww_figure_format format;

    char *const *file; /* [files] names of the files beside the page, listed at its end */
    size_t files;
};

/* What a reader takes along who reads nothing else: UTF-8, each at most WW_ANSWER_SIZE - 1 bytes. */
#define WW_ANSWER_SIZE 1024
struct ww_answer {
    char question[WW_ANSWER_SIZE], verdict[WW_ANSWER_SIZE];
    char how_bad[WW_ANSWER_SIZE], how_likely[WW_ANSWER_SIZE], what_to_do[WW_ANSWER_SIZE];
};
WW_API void ww_report_answer(const struct ww_report *report, struct ww_answer *answer);
/* The value that is held against the budget: the worst (of a single trace its difference from another, of arms that of the
 * set), tolerances of the cloth included [s]. */
WW_API double ww_report_judged(const struct ww_report *report);
/* Write the page. WW_INVALID: a required part is missing, or figures are PDF; WW_IO: a figure cannot be read, or the stream
 * cannot be written; WW_NO_MEMORY. */
WW_API enum ww_status ww_report_write(const struct ww_report *report, FILE *stream, struct ww_error *error);

/* --- other glass that is worth comparing --------------------------------------------------------------------------------- */

#define WW_ALTERNATIVES_MOST 7

/* Zeroed is valid and empty. */
struct ww_alternatives {
    struct ww_candidate *candidate; /* as ww_compare_solve takes them */
    size_t count;
};
/* Styles that fit into every ply of the stack (built): the study's own, the style of the weaves nearest to them in thickness,
 * then spread styles nearest in thickness and weight together, WW_ALTERNATIVES_MOST at most. WW_NO_MEMORY, statuses of
 * ww_weaves_style. */
WW_API enum ww_status ww_alternatives_choose(struct ww_alternatives *alternatives, const struct ww_stack *stack,
                                             const struct ww_weaves *weaves, struct ww_error *error);
WW_API void ww_alternatives_clear(struct ww_alternatives *alternatives);

/* --- results in words -----------------------------------------------------------------------------------------------------
 *
 * One line each, cut to fit; all return out. Units are typed ("um", "deg") unless it says otherwise. */

/* "1080 100 um + 1080 100 um; pair 100 um wide, 220 um pitch; 50 mm at 0 deg from the warp". one_board: traces that nothing else ties to
 * each other lie anywhere on one board, and are not independent. */
WW_API char *ww_words_conditions(const struct ww_study *study, bool one_board, char *out, size_t size);
/* "pitch solved on the grid: 220.05 um, 50 nm from the one given"; "" where they are the same. */
WW_API char *ww_words_pitch_solved(const struct ww_study *study, const struct ww_line_summary *line, char *out,
                                   size_t size);
/* Where two single traces lie, or the lanes of a board: "places independent", "1.9 mm apart on one cloth". */
WW_API char *ww_words_feeds(const struct ww_study *study, char *out, size_t size);
WW_API char *ww_words_lanes(const struct ww_study *study, char *out, size_t size);
/* How far apart to keep feeds or lanes, tolerances of the cloth taken in; "" where it gains nothing. */
WW_API char *ww_words_spacing(const struct ww_study *study, const struct ww_skew *skew,
                              const struct ww_spacing *spacing, char *out, size_t size);
/* "ply 1, 1080"; ply counts from 0. */
WW_API char *ww_words_ply(const struct ww_study *study, size_t ply, char *out, size_t size);
/* Typed units to those of print: "100 um at 10 deg" to "100 µm at 10°". */
WW_API char *ww_words_typeset(const char *typed, char *out, size_t size);
/* "14.9 ps to 22.1 ps, by warp width of 2113 +-15 % (-2.35 to +2.62 ps), ..": the range, and the sources that make most of it;
 * "" where nothing is in doubt. */
WW_API char *ww_words_doubts(const struct ww_doubts *doubts, char *out, size_t size);
/* How far the arms of a feed or the lanes of a board lie apart on one cloth, or the skew of the worst of them; "" without. */
WW_API char *ww_words_arms(const struct ww_study *study, const struct ww_arms *arms, char *out, size_t size);
/* How far to turn away from the yarns. */
WW_API char *ww_words_angles(const struct ww_angles *angles, char *out, size_t size);
/* What makes two circuits differ most, against the budget, and which single change brings it within. */
WW_API char *ww_words_budget(const struct ww_budget *budget, char *out, size_t size);
/* What a circuit, and two, are where the study has arms on one cloth; "" else. */
WW_API char *ww_words_budget_arms(const struct ww_budget *budget, char *out, size_t size);
/* Which limits of the model a frequency is above, each with what it means; "" where it is above none. */
WW_API char *ww_words_limits(const struct ww_line_limits *limits, double frequency, char *out, size_t size);
/* The error bar, and what it does not cover. */
WW_API char *ww_words_error_bar(const struct ww_study *study, const struct ww_verify *verify, char *out, size_t size);

/* --- a page of HTML, for reports of your own ------------------------------------------------------------------------------
 *
 * One HTML page that needs nothing beside it, no script and no network, written to an open stream from top to bottom. It
 * prints on A4 and on Letter. All text is escaped: nothing in it is markup, a control character or a byte that is no
 * UTF-8 is shown as U+FFFD. Failures are told by ww_page_end. */

struct ww_page_column {
    const char *name;
    bool is_number; /* set to the right */
};

/* Private to the functions below. */
struct ww_page {
    FILE *stream;
    int level; /* of the last heading */
    size_t parts, figures, tables;
    const struct ww_page_column *column; /* of the open table */
    size_t columns, cell;
    bool marked;
    enum ww_status lost; /* why some text is not there; ww_page_end tells */
};

enum ww_page_tone {
    WW_PAGE_PLAIN,   /* a paragraph */
    WW_PAGE_UNDER,   /* the small line under a heading */
    WW_PAGE_CAUTION, /* to be heeded */
    WW_PAGE_GOOD,    /* a verdict, boxed */
    WW_PAGE_BAD      /* one that must not be overlooked */
};

/* Head, style and the title as the first heading. */
WW_API void ww_page_begin(struct ww_page *page, FILE *stream, const char *title);
/* WW_IO: something could not be written. WW_NO_MEMORY, WW_INVALID: a text is not on the page, for want of memory or because its
 * format does not fit it. The stream stays open. */
WW_API enum ww_status ww_page_end(struct ww_page *page, struct ww_error *error);
/* Links to the headings of level 2, whose texts these are, in their order. */
WW_API void ww_page_contents(const struct ww_page *page, const char *const *part, size_t count);
/* level 2..6; never more than one below the heading before. */
WW_API void ww_page_heading(struct ww_page *page, int level, const char *text);
WW_API void ww_page_text(struct ww_page *page, enum ww_page_tone tone, const char *format, ...) WW_PRINTF(3, 4);
/* Preformatted text, line by line. */
WW_API void ww_page_verbatim(const struct ww_page *page, const char *text);
/* Questions and their answers, boxed. */
WW_API void ww_page_answer_begin(const struct ww_page *page);
WW_API void ww_page_answer(struct ww_page *page, const char *asks, const char *format, ...) WW_PRINTF(3, 4);
WW_API void ww_page_answer_end(const struct ww_page *page);
WW_API void ww_page_files(const struct ww_page *page, char *const *name, size_t count);
/* Embed the figure of a file that ends in .png or .svg. alt: what it shows, for who does not see it; the caption goes
 * below, numbered. WW_INVALID: another ending; WW_IO: the file cannot be read. */
WW_API enum ww_status ww_page_figure(struct ww_page *page, const char *path, const char *alt, struct ww_error *error,
                                     const char *format, ...) WW_PRINTF(5, 6);
/* column stays the caller's until the table's end. A short table is kept on one sheet. Cells follow row by row, the
 * first of each being the row's heading; the end fills the last row up. */
WW_API void ww_page_table_begin(struct ww_page *page, const char *caption, const struct ww_page_column *column,
                                size_t columns, bool is_short);
/* Mark the row that begins next. */
WW_API void ww_page_mark_row(struct ww_page *page);
WW_API void ww_page_cell(struct ww_page *page, const char *format, ...) WW_PRINTF(2, 3);
WW_API void ww_page_table_end(struct ww_page *page);

#ifdef __cplusplus
}
#endif
#endif
