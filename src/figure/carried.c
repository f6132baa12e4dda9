/* carried.c - the study as a figure carries it.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "figure/carried.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <zlib.h>

static const char line[] = "# unchanged while the CRC-32 of the lines above is ";
enum { DIGITS = 8, LINE_SIZE = sizeof line + DIGITS + 1 }; /* "\n" and NUL */

static unsigned long check_of(const char *text, size_t length)
{
    return crc32(crc32(0, NULL, 0), (const unsigned char *)text, (unsigned)length);
}

char *ww_carried_text(const char *study)
{
    size_t length = study ? strlen(study) : 0;
    char *text = calloc(length + LINE_SIZE, 1);
    if (text && length > 0)
        (void)snprintf(text, length + LINE_SIZE, "%s%s%08lx\n", study, line, check_of(study, length));
    return text;
}

bool ww_carried_check(char *text)
{
    size_t length = strlen(text);
    char told[LINE_SIZE];
    if (length < LINE_SIZE)
        return false;
    length -= LINE_SIZE - 1;
    (void)snprintf(told, sizeof told, "%s%08lx\n", line, check_of(text, length));
    if (strcmp(text + length, told) != 0)
        return false;
    text[length] = '\0';
    return true;
}
