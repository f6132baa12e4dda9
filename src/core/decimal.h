/* core/decimal.h - doubles as text with a point, whatever the locale of the program around us.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_CORE_DECIMAL_H
#define WW_CORE_DECIMAL_H

#include <stddef.h>

/* value with that many places behind the point. Returns out, always terminated. */
char *ww_decimal_fixed(char *out, size_t size, double value, int places);
/* value with at most that many significant digits, in scientific form where that is shorter (%g). Returns out. */
char *ww_decimal_general(char *out, size_t size, double value, int digits);

#endif
