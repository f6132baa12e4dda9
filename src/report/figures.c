/* figures.c - where the figures of the page are found.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "report/sections.h"

#include <stdarg.h>

enum { PATH_SIZE = 4096 };

enum ww_status ww_report_figure(const struct ww_report *report, struct ww_page *page, const char *name,
                                const char *alt, struct ww_error *error, const char *format, ...)
{
    char path[PATH_SIZE], caption[WW_CAPTION_SIZE];
    va_list arguments;
    if (!report->figures)
        return WW_OK;
    va_start(arguments, format);
    vsnprintf(caption, sizeof caption, format, arguments);
    va_end(arguments);
    int length = snprintf(path, sizeof path, "%s%s.%s", report->figures, name, ww_figure_format_name(report->format));
    if (length < 0 || length >= PATH_SIZE)
        return ww_error_set(error, WW_INVALID, NULL, 0, "the path of %s is %d bytes long; give at most %d", name,
                            length, PATH_SIZE - 1);
    return ww_page_figure(page, path, alt, error, "%s", caption);
}
