/* cli/progress.h - what the program is at, for a person who waits.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CLI_PROGRESS_H
#define CLI_PROGRESS_H

#include <stdbool.h>

/* From a second after the start on, show the step at hand on standard error, if that is a terminal and it is wanted. */
void progress_start(bool wanted);
void progress_step(const char *what);
/* Wipe the line. Before anything else is printed. */
void progress_end(void);

#endif
