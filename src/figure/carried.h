/* carried.h - the study as a figure carries it: the text, and a last line by which recall sees that nothing in it was changed.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_FIGURE_CARRIED_H
#define WW_FIGURE_CARRIED_H

#include <stdbool.h>

/* The study with that line behind it, a comment with the CRC-32 of all before; "" of no study. The caller frees; NULL: no memory. */
char *ww_carried_text(const char *study);
/* Cut the line off again. False, and the text as it was, where it is missing or the text before it is another. */
bool ww_carried_check(char *text);

#endif
