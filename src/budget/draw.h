/* draw.h - random numbers, from a seed, for circuits drawn at random.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_BUDGET_DRAW_H
#define WW_BUDGET_DRAW_H

#include "budget/sums.h"
#include "core/random.h"

double ww_draw_law(struct ww_random *random, enum ww_law law); /* -1 .. 1 */

#endif
