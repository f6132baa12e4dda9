/* message.c - what the program says besides its results: errors, and text wrapped to the width of a terminal.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "message.h"

#include <errno.h>
#include <stdarg.h>
#include <string.h>

enum { RIGHT = 100 }; /* the last column */

enum outcome fail(const struct ww_error *error)
{
    char line[sizeof error->file + sizeof error->text + 32];
    ww_error_format(error, line, sizeof line);
    fprintf(stderr, "weftwise: %s\n", line);
    switch (error->status) {
    case WW_OK:
    case WW_IO:
    case WW_NO_MEMORY:
    case WW_NOT_CONVERGED:
        return FAILED;
    case WW_INVALID:
    case WW_MALFORMED:
    case WW_UNPHYSICAL:
        return BAD_INPUT;
    }
    return FAILED;
}

enum outcome usage(const char *format, ...)
{
    char text[512];
    struct ww_error error = {0};
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    ww_error_set(&error, WW_INVALID, NULL, 0, "%s", text);
    return fail(&error);
}

enum outcome finish_output(void)
{
    struct ww_error error = {0};
    errno = 0;
    if (fflush(stdout) == 0 && !ferror(stdout))
        return DONE;
    ww_error_set(&error, WW_IO, "standard output", 0, "could not be written: %s", strerror(errno ? errno : EIO));
    return fail(&error);
}

void paragraph(int at, int indent, const char *text)
{
    if (at > 0 && at >= indent) {
        putchar('\n');
        at = 0;
    }
    while (*text) {
        size_t length = strcspn(text, " ");
        if (at > indent && at + 1 + (int)length > RIGHT) {
            putchar('\n');
            at = 0;
        }
        if (at < indent)
            at += printf("%*s", indent - at, "");
        else if (at > indent)
            at += printf(" ");
        at += printf("%.*s", (int)length, text);
        text += length;
        text += strspn(text, " ");
    }
    putchar('\n');
}
