/* core/utf8.c - characters of UTF-8 text.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "core/utf8.h"

#include "weftwise/core.h"

#include <string.h>

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

bool ww_utf8_hidden(const unsigned char *p)
{
    if (p[0] < 0x20 || p[0] == 0x7F)
        return true;
    if (p[0] == 0xC2)
        return p[1] >= 0x80 && p[1] <= 0x9F; /* C1 */
    if (p[0] == 0xD8)
        return p[1] == 0x9C; /* U+061C */
    if (p[0] == 0xEF)
        return p[1] == 0xBB && p[2] == 0xBF; /* U+FEFF */
    if (p[0] == 0xF3)
        return p[1] == 0xA0 && (p[2] == 0x80 || p[2] == 0x81); /* tags, U+E0000-7F */
    if (p[0] != 0xE2)
        return false;
    return (p[1] == 0x80 && (p[2] == 0x8B || p[2] == 0x8E || p[2] == 0x8F ||
                             (p[2] >= 0xA8 && p[2] <= 0xAE))) || /* U+200B, E-F, 2028-E */
           (p[1] == 0x81 && p[2] >= 0xA0 && p[2] <= 0xA9);       /* U+2060-9 */
}

char *ww_text_printable(char *out, size_t size, const char *text)
{
    const unsigned char *p = (const unsigned char *)text;
    size_t used = 0;
    while (*p != '\0') {
        size_t length = ww_utf8_length(p);
        bool hidden = length == 0 || ww_utf8_hidden(p);
        size_t needed = hidden ? 1 : length;
        if (used + needed >= size)
            break;
        if (hidden)
            out[used] = '?';
        else
            memcpy(out + used, p, length);
        used += needed;
        p += length == 0 ? 1 : length;
    }
    if (size > 0)
        out[used] = '\0';
    return out;
}
