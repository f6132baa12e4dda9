/* cli/work.h - what a command would take, told before it is begun.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CLI_WORK_H
#define CLI_WORK_H

#include "job.h"

/* Where the study would take the command more than a minute or a gigabyte: one line on standard error with how much, what makes it
 * so, and what would cut it. From counts alone, right to a factor of two or three. */
void work_note(const struct job *job);

#endif
