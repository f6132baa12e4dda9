/* error.c - one line that says what went wrong, where, and what to do; and the version.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "weftwise/core.h"

#include <stdarg.h>
#include <string.h>

const char *ww_version(void)
{
    return WW_VERSION;
}

bool ww_version_matches(int major, int minor)
{
    return major == WW_VERSION_MAJOR && (major == 0 ? minor == WW_VERSION_MINOR : minor <= WW_VERSION_MINOR);
}

/* A cut may fall inside a UTF-8 sequence: drop the incomplete tail. */
static void drop_partial_character(char *text)
{
    size_t length = strlen(text);
    size_t tail = 0;
    while (tail < 3 && tail < length && ((unsigned char)text[length - 1 - tail] & 0xC0u) == 0x80u)
        tail++;
    if (tail == length)
        return;
    unsigned char lead = (unsigned char)text[length - 1 - tail];
    size_t follow = lead >= 0xF0u ? 3 : lead >= 0xE0u ? 2 : lead >= 0xC0u ? 1 : 0;
    if (follow > tail)
        text[length - 1 - tail] = '\0';
}

enum ww_status(ww_error_set)(struct ww_error *error, enum ww_status status, const char *file, int line,
                             const char *format, ...)
{
    if (error == NULL)
        return status;
    /* Arguments may point into *error itself: compose apart, copy at the end. */
    struct ww_error made = {.status = status, .line = line > 0 ? line : 0};
    char text[sizeof made.text];
    va_list arguments;
    va_start(arguments, format);
    if (vsnprintf(text, sizeof text, format, arguments) < 0)
        text[0] = '\0';
    drop_partial_character(text);
    va_end(arguments);
    ww_text_printable(made.text, sizeof made.text, text);
    if (file != NULL)
        ww_text_printable(made.file, sizeof made.file, file);
    *error = made;
    return status;
}

void ww_error_format(const struct ww_error *error, char *out, size_t size)
{
    if (size == 0)
        return;
    if (error->file[0] == '\0')
        snprintf(out, size, "%s", error->text);
    else if (error->line > 0)
        snprintf(out, size, "%s:%d: %s", error->file, error->line, error->text);
    else
        snprintf(out, size, "%s: %s", error->file, error->text);
    drop_partial_character(out);
}
