/* result/csv.c - tables for spreadsheets and scripts.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * As RFC 4180 (Y. Shafranovich, "Common Format and MIME Type for Comma-Separated Values (CSV) Files", 2005) has it: a
 * header, commas, quotes doubled within quotes; but lines end as text does here, in a newline alone.
 */
#include "weftwise/result.h"

#include <errno.h>
#include <math.h>
#include <string.h>

#include "core/decimal.h"

#define DIGITS 12

static void write_text(FILE *stream, const char *text)
{
    if (!strpbrk(text, ",\"\n\r")) {
        fputs(text, stream);
        return;
    }
    fputc('"', stream);
    for (; *text; text++) {
        if (*text == '"')
            fputc('"', stream);
        fputc(*text, stream);
    }
    fputc('"', stream);
}

static void write_cell(FILE *stream, const struct ww_column *column, size_t row)
{
    char number[40];
    if (column->text) {
        write_text(stream, column->text[row]);
        return;
    }
    double value;
    memcpy(&value, (const char *)column->value + row * column->stride, sizeof value);
    value /= column->unit;
    if (isfinite(value))
        fputs(ww_decimal_general(number, sizeof number, value, DIGITS), stream);
}

enum ww_status ww_result_csv(const char *path, const struct ww_column *column, size_t columns, size_t rows,
                             struct ww_error *error)
{
    struct ww_output output = {0};
    enum ww_status status = ww_output_open(&output, path, error);
    if (status)
        return status;
    for (size_t i = 0; i < columns; i++) {
        fputs(i ? "," : "", output.stream);
        write_text(output.stream, column[i].name);
    }
    fputc('\n', output.stream);
    for (size_t row = 0; row < rows; row++) {
        for (size_t i = 0; i < columns; i++) {
            fputs(i ? "," : "", output.stream);
            write_cell(output.stream, &column[i], row);
        }
        fputc('\n', output.stream);
    }
    status = ww_output_commit(&output, error); /* tells of any write that failed */
    ww_output_discard(&output);
    return status;
}
