/* cli/progress.h - what the program is at, for a person who waits.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CLI_PROGRESS_H
#define CLI_PROGRESS_H

#include <weftwise/core.h>

#include <stdbool.h>

/* From a second after the start on, show the step at hand on standard error, if that is a terminal and it is wanted. */
void progress_start(bool wanted);
void progress_step(const char *what);
/* What follows is this share of a longer work, 0..1, from and to: from now on shares and the time left are of the whole. */
void progress_part(double from, double to);
/* How much of the step is done, 0..1: shown with the time that is left. */
void progress_share(double share);
/* The same for whoever works long in the library. */
struct ww_progress progress_of(void);
/* Wipe the line. Before anything else is printed. */
void progress_end(void);
/* The same in a signal handler that ends the program. */
void progress_abandon(void);

#endif
