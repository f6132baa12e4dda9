/* cli/message.h - what the program says besides its results, and its exit status.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CLI_MESSAGE_H
#define CLI_MESSAGE_H

#include <weftwise/core.h>

/* The exit status. */
enum outcome {
    DONE = 0,
    OVER_BUDGET = 1, /* done, and over budget with --gate */
    BAD_INPUT = 2,   /* usage or input that cannot be used */
    FAILED = 3       /* could not read, write, allocate or converge */
};

/* One line on standard error, "weftwise: ...", and the exit status that goes with it. */
enum outcome fail(const struct ww_error *error);
enum outcome usage(const char *format, ...) WW_PRINTF(1, 2);
/* Flush standard output; DONE, or a message and FAILED where it could not be written. */
enum outcome finish_output(void);

/* text from column `indent` on, wrapped; the cursor is at column `at`. */
void paragraph(int at, int indent, const char *text);

#endif
