/* cli/report.h - the report: every part of the answer, and the page made of them.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CLI_REPORT_H
#define CLI_REPORT_H

#include "parts.h"

#include <weftwise/result.h>

enum { ANSWER_SIZE = 1024, TOLERANCES_SIZE = 160 };

/* What somebody takes along who reads nothing else. */
struct answer {
    char question[ANSWER_SIZE], verdict[ANSWER_SIZE];
    char how_bad[ANSWER_SIZE], how_likely[ANSWER_SIZE], what_to_do[ANSWER_SIZE];
};

enum { ALTERNATIVES_MOST = 7 };

/* Styles to compare: the study's own first, then shipped ones that fit: the nearest in thickness, and spread ones. */
struct alternatives {
    struct ww_candidate *candidate;
    size_t count;
};
enum ww_status alternatives_choose(struct alternatives *alternatives, const struct job *job, struct ww_error *error);
void alternatives_clear(struct alternatives *alternatives);

/* Zeroed is valid and empty; a part that was not asked is left so. */
struct report {
    struct job job;
    struct skew_part kernel;
    struct ww_verify verify;
    struct angles_part angles;
    struct alternatives alternatives;
    struct ww_comparison comparison;
    struct ww_pitch pitch; /* of a pair */
    struct answer answer;
};

/* The figure by which the study is judged: the worst over all placements and the cloth's turn [s]. */
double report_judged(const struct report *report);

/* Put the answer into words; all parts are solved. */
void report_say(struct report *report);
/* The whole page, from files that are written already. */
enum ww_status report_write_page(const struct report *report, FILE *stream, struct ww_error *error);

/* Sections of the page that fill a file of their own, and whether there is such a part. */
bool report_has_angles(const struct report *report);
bool report_has_comparison(const struct report *report);
bool report_has_pitch(const struct report *report);
enum ww_status report_write_angles(const struct report *report, struct ww_page *page, struct ww_error *error);
enum ww_status report_write_comparison(const struct report *report, struct ww_page *page, struct ww_error *error);
enum ww_status report_write_pitch(const struct report *report, struct ww_page *page, struct ww_error *error);
enum ww_status report_write_sources(const struct report *report, struct ww_page *page, struct ww_error *error);
/* The path of a figure by its name without ending; path: PATH_SIZE. */
const char *report_figure(const struct report *report, const char *name, char *path);
const struct ww_style *report_style(const struct report *report, size_t ply);
/* Is it one of the study's own? */
bool report_is_own(const struct report *report, const char *style);

/* How many styles were compared, those that cannot be used aside. */
size_t report_tried(const struct report *report);
/* What the study lets vary: "turn and yarn count", either, or "". */
const char *report_what_varies(const struct report *report);
/* The same with its limits: "the cloth up to 1.5° off square"; out: TOLERANCES_SIZE, "" where nothing may vary. */
const char *report_tolerances(const struct report *report, char *out, size_t size);
/* The null in pitch that the page speaks of; NULL: there is none. */
const struct ww_null *report_null(const struct report *report);
/* What is left there where the cloth is stretched or shrunk by up to this share [s]. */
double report_null_off(const struct ww_pitch *pitch, double share);

/* Numbers of one sentence each have room of their own. */
struct words {
    char of[64];
};
/* "17.4 ps", "105 µm", "1.5°", "28 GHz" */
const char *words_time(struct words *words, double value);
const char *words_number(struct words *words, double value, enum ww_dimension dimension, int digits);
/* Angles to a tenth of a degree: from which on something is safe, and up to which. */
const char *words_angle_up(struct words *words, double angle);
const char *words_angle_down(struct words *words, double angle);
/* "77.9 %" of a share; "under 0.1 %" rather than nothing */
const char *words_share(struct words *words, double share);

#endif
