/* board.h - the small board of these tests: one ply, a pair or a single trace.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef TESTS_REPORT_BOARD_H
#define TESTS_REPORT_BOARD_H

#include "weftwise/report.h"

struct board {
    struct ww_study study;
    struct ww_line *line;
    struct ww_skew skew;
    struct ww_report report; /* of the study, its line and its skew */
};

/* Read, build and solve. trace, signal: lines of their sections besides the width, thickness, length and angle. Fails the
 * test where something does. */
void board_solve(struct board *board, const char *trace, const char *signal);
void board_clear(struct board *board);

#endif
