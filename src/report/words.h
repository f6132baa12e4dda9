/* report/words.h - numbers and tolerances as a sentence or a table shows them.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_REPORT_WORDS_H
#define WW_REPORT_WORDS_H

#include "weftwise/report.h"

/* Numbers of one sentence each have room of their own. The functions return words->of. */
struct ww_words {
    char of[64];
};
/* "17.4 ps" */
const char *ww_words_time(struct ww_words *words, double value);
/* "105 µm", "1.5°", "28 GHz" */
const char *ww_words_number(struct ww_words *words, double value, enum ww_dimension dimension, int digits);
/* "77.9 %" of a share; "under 0.1 %" rather than 0, "over 99.9 %" rather than 100. */
const char *ww_words_share(struct ww_words *words, double share);

/* "−20.8 dB" of an amplitude. */
const char *ww_words_level(struct ww_words *words, double amplitude);

/* A tenth of a degree up or down [rad]: the first and the last tenth within a window. */
double ww_angle_up(double angle);
double ww_angle_down(double angle);
const char *ww_words_angle_up(struct ww_words *words, double angle);
const char *ww_words_angle_down(struct ww_words *words, double angle);

/* What the study lets vary: "turn and yarn count", either, or "". */
const char *ww_words_varies(const struct ww_study *study);
/* The same with its limits: "the cloth up to 1.5° off square"; "" where nothing may vary. Returns out. */
enum { WW_TOLERANCES_SIZE = 160 };
const char *ww_words_tolerances(const struct ww_study *study, char *out, size_t size);

/* Append to a text of this size; what does not fit is cut. */
void ww_words_add(char *text, size_t size, const char *format, ...) WW_PRINTF(3, 4);

#endif
