/* cli/report.h - the report: every part of the answer, and the page made of them.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CLI_REPORT_H
#define CLI_REPORT_H

#include "parts.h"

#include <weftwise/result.h>

enum { ANSWER_SIZE = 1024 };

/* What somebody takes along who reads nothing else. */
struct answer {
    char question[ANSWER_SIZE], verdict[ANSWER_SIZE];
    char how_bad[ANSWER_SIZE], how_likely[ANSWER_SIZE], what_to_do[ANSWER_SIZE];
};

/* Zeroed is valid and empty; a part that was not asked is left so. */
struct report {
    struct job job;
    struct skew_part kernel;
    struct ww_verify verify;
    struct angles_part angles;
    struct answer answer;
};

/* The figure by which the study is judged: the worst over all placements and the cloth's turn [s]. */
double report_judged(const struct report *report);

/* Put the answer into words; all parts are solved. */
void report_say(struct report *report);
/* The whole page, from files that are written already. */
enum ww_status report_write_page(const struct report *report, FILE *stream, struct ww_error *error);

/* Numbers of one sentence each have room of their own. */
struct words {
    char of[64];
};
/* "17.4 ps", "105 µm", "1.5°", "28 GHz" */
const char *words_time(struct words *words, double value);
const char *words_number(struct words *words, double value, enum ww_dimension dimension, int digits);
/* "77.9 %" of a share; "under 0.1 %" rather than nothing */
const char *words_share(struct words *words, double share);

#endif
