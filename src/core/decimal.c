/* core/decimal.c - doubles as text with a point, whatever the locale of the program around us.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "core/decimal.h"

#include <locale.h>
#include <stdio.h>
#include <string.h>

static char *with_point(char *out)
{
    const char *mark = localeconv()->decimal_point;
    size_t length = strlen(mark);
    char *found = length > 0 ? strstr(out, mark) : NULL;

    if (found != NULL && strcmp(mark, ".") != 0) {
        *found = '.';
        memmove(found + 1, found + length, strlen(found + length) + 1);
    }
    return out;
}

char *ww_decimal_fixed(char *out, size_t size, double value, int places)
{
    (void)snprintf(out, size, "%.*f", places, value);
    return with_point(out);
}

char *ww_decimal_general(char *out, size_t size, double value, int digits)
{
    (void)snprintf(out, size, "%.*g", digits, value);
    return with_point(out);
}
