/* core/utf8.c - characters of UTF-8 text.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "core/utf8.h"

size_t ww_utf8_length(const unsigned char *p)
{
    size_t follow = 0;
    unsigned char low = 0x80;
    unsigned char high = 0xBF;
    if (p[0] < 0x80)
        return 1;
    if (p[0] >= 0xC2 && p[0] <= 0xDF)
        follow = 1;
    else if (p[0] >= 0xE0 && p[0] <= 0xEF)
        follow = 2;
    else if (p[0] >= 0xF0 && p[0] <= 0xF4)
        follow = 3;
    else
        return 0;
    if (p[0] == 0xE0)
        low = 0xA0; /* else overlong */
    else if (p[0] == 0xED)
        high = 0x9F; /* else a surrogate */
    else if (p[0] == 0xF0)
        low = 0x90;
    else if (p[0] == 0xF4)
        high = 0x8F; /* else above U+10FFFF */
    for (size_t i = 1; i <= follow; i++, low = 0x80, high = 0xBF)
        if (p[i] < low || p[i] > high)
            return 0;
    return follow + 1;
}

bool ww_utf8_valid(const char *text)
{
    while (*text != '\0') {
        size_t length = ww_utf8_length((const unsigned char *)text);
        if (length == 0)
            return false;
        text += length;
    }
    return true;
}
