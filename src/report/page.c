/* page.c - one self-contained HTML page, written from top to bottom.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Whatever comes from a study is text and stays text: every character that HTML gives a meaning is written as a
 * reference, and what no page may hold (control characters, bytes that are no UTF-8) becomes U+FFFD. Figures are read
 * from their files in segments and stand in the page as base64 (RFC 4648), so that the page needs nothing beside it.
 *
 * The writer keeps the page in order: a heading never skips a level, a table's rows are whole, every id is used once.
 * The stream's own error flag remembers a failure; ww_page_end reports it.
 */
#include "weftwise/report.h"

#include <assert.h>
#include <errno.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "core/utf8.h"

static const char style[] =
    ":root{color-scheme:light}\n"
    "*{box-sizing:border-box}\n"
    "html{-webkit-text-size-adjust:100%;text-size-adjust:100%}\n"
    "body{margin:0 auto;max-width:58rem;padding:2rem 1.5rem 4rem;background:#fff;color:#1c1f2a;"
    "font:1rem/1.55 system-ui,-apple-system,\"Segoe UI\",\"Noto Sans\",\"DejaVu Sans\",sans-serif;"
    "overflow-wrap:break-word}\n"
    "h1{font-size:1.9rem;line-height:1.2;margin:0 0 .4rem}\n"
    "h2{font-size:1.4rem;line-height:1.25;margin:3rem 0 .6rem;padding-top:.8rem;border-top:2px solid #1c1f2a}\n"
    "h3{font-size:1.1rem;line-height:1.3;margin:1.8rem 0 .4rem}\n"
    "p{margin:.6rem 0;max-width:44rem}\n"
    "a{color:#0b4a8f}\n"
    ".under{color:#4a4f5e;margin:.2rem 0}\n"
    ".verdict{display:inline-block;margin:1.2rem 0 0;padding:.3rem .8rem;border:2px solid #1c1f2a;"
    "font-weight:700;font-size:1.1rem}\n"
    ".verdict.bad{border-style:double;border-width:4px}\n"
    "dl.answer{margin:1rem 0;padding:0;border:1px solid #1c1f2a}\n"
    "dl.answer div{padding:.7rem 1rem;display:grid;grid-template-columns:8.5rem 1fr;gap:.2rem 1rem}\n"
    "dl.answer div+div{border-top:1px solid #c3c6cf}\n"
    "dt{font-weight:700}\n"
    "dd{margin:0}\n"
    ".caution{border-left:6px solid #1c1f2a;padding:.5rem 0 .5rem 1rem;max-width:none;font-weight:600}\n"
    "nav ol{margin:.4rem 0 0;padding-left:1.4rem;columns:2;column-gap:2rem}\n"
    "nav li{margin:.15rem 0;break-inside:avoid}\n"
    "figure{margin:1.6rem 0}\n"
    "figure img{display:block;width:100%;height:auto;border:1px solid #d9dbe1}\n"
    ".hint{display:none}\n"
    "figcaption{margin-top:.5rem;max-width:44rem;color:#33384a}\n"
    ".table{margin:1.4rem 0}\n"
    ".scroll{overflow-x:auto}\n"
    ".caption{margin:0 0 .4rem;color:#33384a}\n"
    "table{border-collapse:collapse;font-variant-numeric:tabular-nums;line-height:1.35;min-width:min(100%,28rem)}\n"
    ".wide table{font-size:.92rem}\n"
    "th,td{padding:.32rem 1rem .32rem 0;text-align:left;vertical-align:top;border-bottom:1px solid #d9dbe1}\n"
    ".wide th,.wide td{padding-right:.7rem}\n"
    "th:last-child,td:last-child,.wide th:last-child,.wide td:last-child{padding-right:0}\n"
    "thead th{border-bottom:2px solid #1c1f2a;vertical-align:bottom}\n"
    "tbody th{font-weight:600;min-width:5.5rem}\n"
    ".n{text-align:right}\n"
    "td.n{white-space:nowrap}\n"
    "tr.here th,tr.here td{border-top:2px solid #1c1f2a;border-bottom:2px solid #1c1f2a;font-weight:700}\n"
    "pre{margin:1rem 0;padding:.8rem 1rem;border:1px solid #c3c6cf;font:.82rem/1.45 ui-monospace,\"DejaVu Sans "
    "Mono\","
    "Consolas,monospace;white-space:pre-wrap;overflow-wrap:anywhere}\n"
    "ul.files{columns:3;column-gap:1.5rem;padding-left:1.1rem;font-size:.9rem}\n"
    "ul.files li{break-inside:avoid;overflow-wrap:anywhere}\n"
    "@media (max-width:40rem){\n"
    "body{padding:1.2rem .9rem 3rem}\n"
    "h1{font-size:1.5rem}\n"
    "dl.answer div{grid-template-columns:1fr}\n"
    ".hint{display:block;margin:.3rem 0;color:#4a4f5e;font-size:.85rem}\n"
    "figure img{width:44rem;max-width:none}\n"
    ".wide table{width:44rem}\n"
    "table{min-width:100%}\n"
    "td.n{white-space:normal}\n"
    ".wide td.n{white-space:nowrap}\n"
    "nav ol{columns:1}\n"
    "ul.files{columns:1}\n"
    "}\n"
    "@media print{\n"
    "body{max-width:none;padding:0;font-size:10pt;line-height:1.4}\n"
    "h1{font-size:18pt}\n"
    "h2{font-size:13.5pt;margin-top:1.8rem}\n"
    "h3{font-size:11pt}\n"
    "h2,h3,h2+p,h3+p,.caption{break-after:avoid}\n"
    "p,figcaption{max-width:none;orphans:3;widows:3}\n"
    "figure,.answer,.caution,tr{break-inside:avoid}\n"
    "figure{margin:1rem 0}\n"
    "figure img{width:auto;max-width:100%;max-height:104mm;margin:0 auto}\n"
    ".scroll{overflow:visible}\n"
    ".hint{display:none}\n"
    ".table.short,ul.files{break-inside:avoid}\n"
    "table{font-size:9pt}\n"
    "thead{display:table-header-group}\n"
    "pre{font-size:8pt;border:0;padding:0;columns:2}\n"
    "a{color:inherit;text-decoration:none}\n"
    "}\n";

/* --- text ------------------------------------------------------------------------------------------------------------- */

static void put(const struct ww_page *page, const char *markup)
{
    fputs(markup, page->stream);
}

static bool is_control(const unsigned char *at, size_t length)
{
    bool c1 = length == 2 && at[0] == 0xC2 && at[1] < 0xA0;
    bool none = length == 3 && at[0] == 0xEF && at[1] == 0xBF && at[2] >= 0xBE; /* U+FFFE, U+FFFF */
    return c1 || none || (at[0] < 0x20 && at[0] != '\n' && at[0] != '\t') || at[0] == 0x7F;
}

/* Text as text, in an element or in a quoted attribute. */
static void put_text(const struct ww_page *page, const char *text)
{
    const unsigned char *at = (const unsigned char *)text;
    while (*at) {
        size_t length = ww_utf8_length(at);
        if (length == 0 || is_control(at, length))
            put(page, "\xEF\xBF\xBD");
        else if (*at == '&')
            put(page, "&amp;");
        else if (*at == '<')
            put(page, "&lt;");
        else if (*at == '>')
            put(page, "&gt;");
        else if (*at == '"')
            put(page, "&quot;");
        else if (*at == '\'')
            put(page, "&#39;");
        else
            fwrite(at, 1, length, page->stream);
        at += length ? length : 1;
    }
}

/* As a string of CSS: whatever is no letter or digit of ASCII by its number. */
static void put_css_string(const struct ww_page *page, const char *text)
{
    put(page, "\"");
    for (const unsigned char *at = (const unsigned char *)text; *at;) {
        size_t length = ww_utf8_length(at);
        bool plain = (*at >= 'a' && *at <= 'z') || (*at >= 'A' && *at <= 'Z') || (*at >= '0' && *at <= '9');
        if (length == 0 || is_control(at, length))
            put(page, "\\FFFD ");
        else if (plain || length > 1)
            fwrite(at, 1, length, page->stream);
        else
            fprintf(page->stream, "\\%X ", *at);
        at += length ? length : 1;
    }
    put(page, "\"");
}

static void put_formatted(struct ww_page *page, const char *format, va_list arguments)
{
    char *text = NULL;
    va_list again;
    va_copy(again, arguments);
    int length = vsnprintf(NULL, 0, format, arguments);
    if (length >= 0)
        text = malloc((size_t)length + 1);
    if (text) {
        vsnprintf(text, (size_t)length + 1, format, again);
        put_text(page, text);
    } else {
        page->lost = length < 0 ? WW_INVALID : WW_NO_MEMORY;
    }
    va_end(again);
    free(text);
}

#define PUT_FORMATTED(page, format)                                                                                  \
    do {                                                                                                             \
        va_list arguments;                                                                                           \
        va_start(arguments, format);                                                                                 \
        put_formatted(page, format, arguments);                                                                      \
        va_end(arguments);                                                                                           \
    } while (0)

/* --- the page --------------------------------------------------------------------------------------------------------- */

void ww_page_begin(struct ww_page *page, FILE *stream, const char *title)
{
    *page = (struct ww_page){.stream = stream, .level = 1};
    put(page, "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
              "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
              "<meta name=\"generator\" content=\"weftwise ");
    put_text(page, ww_version());
    put(page, "\">\n<link rel=\"icon\" href=\"data:,\">\n<title>");
    put_text(page, title);
    /* A page's paper is the reader's: A4 and Letter both have room for these margins. */
    put(page, "</title>\n<style>\n@page{margin:16mm 15mm 17mm;@bottom-left{content:");
    put_css_string(page, title);
    put(page, ";font:8pt sans-serif;color:#4a4f5e}@bottom-right{content:\"page \" counter(page) \" of \" "
              "counter(pages);font:8pt sans-serif;color:#4a4f5e}}\n");
    put(page, style);
    put(page, "</style>\n</head>\n<body>\n<main>\n<h1>");
    put_text(page, title);
    put(page, "</h1>\n");
}

enum ww_status ww_page_end(struct ww_page *page, struct ww_error *error)
{
    errno = 0;
    put(page, "</main>\n</body>\n</html>\n");
    bool good = fflush(page->stream) == 0 && !ferror(page->stream);
    page->stream = NULL;
    if (!good)
        return ww_error_set(error, WW_IO, NULL, 0, "could not write the page: %s", strerror(errno ? errno : EIO));
    if (page->lost == WW_NO_MEMORY)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the text of the page");
    return page->lost ? ww_error_set(error, page->lost, NULL, 0, "a text of the page cannot be formatted") : WW_OK;
}

void ww_page_contents(const struct ww_page *page, const char *const *part, size_t count)
{
    put(page, "<nav aria-label=\"Contents\">\n<ol>\n");
    for (size_t i = 0; i < count; i++) {
        fprintf(page->stream, "<li><a href=\"#part-%zu\">", i + 1);
        put_text(page, part[i]);
        put(page, "</a></li>\n");
    }
    put(page, "</ol>\n</nav>\n");
}

void ww_page_heading(struct ww_page *page, int level, const char *text)
{
    if (level > page->level + 1)
        level = page->level + 1;
    if (level < 2)
        level = 2;
    page->level = level;
    if (level == 2)
        fprintf(page->stream, "<h2 id=\"part-%zu\">", ++page->parts);
    else
        fprintf(page->stream, "<h%d>", level);
    put_text(page, text);
    fprintf(page->stream, "</h%d>\n", level);
}

void ww_page_text(struct ww_page *page, enum ww_page_tone tone, const char *format, ...)
{
    static const char *const opening[] = {[WW_PAGE_PLAIN] = "<p>",
                                          [WW_PAGE_UNDER] = "<p class=\"under\">",
                                          [WW_PAGE_CAUTION] = "<p class=\"caution\">",
                                          [WW_PAGE_GOOD] = "<p class=\"verdict\">",
                                          [WW_PAGE_BAD] = "<p class=\"verdict bad\">"};
    put(page, opening[tone]);
    PUT_FORMATTED(page, format);
    put(page, "</p>\n");
}

void ww_page_verbatim(const struct ww_page *page, const char *text)
{
    put(page, "<pre>\n");
    put_text(page, text);
    put(page, "</pre>\n");
}

/* --- the answer, a list ------------------------------------------------------------------------------------------------- */

void ww_page_answer_begin(const struct ww_page *page)
{
    put(page, "<dl class=\"answer\">\n");
}

void ww_page_answer(struct ww_page *page, const char *asks, const char *format, ...)
{
    put(page, "<div><dt>");
    put_text(page, asks);
    put(page, "</dt><dd>");
    PUT_FORMATTED(page, format);
    put(page, "</dd></div>\n");
}

void ww_page_answer_end(const struct ww_page *page)
{
    put(page, "</dl>\n");
}

void ww_page_files(const struct ww_page *page, char *const *name, size_t count)
{
    put(page, "<ul class=\"files\">\n");
    for (size_t i = 0; i < count; i++) {
        put(page, "<li>");
        put_text(page, name[i]);
        put(page, "</li>\n");
    }
    put(page, "</ul>\n");
}

/* --- figures ------------------------------------------------------------------------------------------------------------ */

/* What is wider than a telephone keeps the width at which it can be read, and scrolls within a box, by keyboard too. The
 * hint is shown there alone. */
static const char hint[] =
    "<p class=\"hint\" aria-hidden=\"true\">wider than the screen: scroll sideways \xe2\x86\x92</p>\n";

static void put_scroll_begin(const struct ww_page *page, const char *label, size_t number)
{
    fprintf(page->stream, "<div class=\"scroll\" role=\"region\" tabindex=\"0\" aria-labelledby=\"%s-%zu\">\n", label,
            number);
}

enum { BLOCK = 3 * 4096 }; /* a multiple of 3, so that only the last segment is padded */

/* count bytes as (count + 2) / 3 groups of four. Returns the length of out. */
static size_t encode(const unsigned char *in, size_t count, char *out)
{
    static const char digit[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    size_t used = 0;
    for (size_t i = 0; i < count; i += 3) {
        size_t left = count - i;
        uint32_t group =
            (uint32_t)in[i] << 16 | (left > 1 ? (uint32_t)in[i + 1] << 8 : 0) | (left > 2 ? (uint32_t)in[i + 2] : 0);
        out[used++] = digit[group >> 18];
        out[used++] = digit[group >> 12 & 63];
        out[used++] = left > 1 ? digit[group >> 6 & 63] : '=';
        out[used++] = left > 2 ? digit[group & 63] : '=';
    }
    return used;
}

static uint32_t read_big_endian(const unsigned char *at)
{
    return (uint32_t)at[0] << 24 | (uint32_t)at[1] << 16 | (uint32_t)at[2] << 8 | at[3];
}

/* The size of a PNG, from its header, so that the page does not jump while it loads. */
static void put_size(const struct ww_page *page, const unsigned char *in, size_t count)
{
    if (count >= 24 && memcmp(in, "\x89PNG\r\n\x1a\n", 8) == 0)
        fprintf(page->stream, " width=\"%u\" height=\"%u\"", read_big_endian(in + 16), read_big_endian(in + 20));
}

static const char *media_type(const char *path)
{
    const char *dot = strrchr(path, '.');
    if (dot && strcmp(dot, ".png") == 0)
        return "image/png";
    return dot && strcmp(dot, ".svg") == 0 ? "image/svg+xml" : NULL;
}

static enum ww_status put_file(const struct ww_page *page, const char *path, const char *alt, struct ww_error *error)
{
    unsigned char in[BLOCK];
    char out[BLOCK / 3 * 4] = "";
    const char *type = media_type(path);
    if (!type)
        return ww_error_set(error, WW_INVALID, path, 0, "a page shows figures that end in .png or .svg");
    errno = 0;
    FILE *file = fopen(path, "rb");
    if (!file)
        return ww_error_set(error, WW_IO, path, 0, "could not be opened for the page: %s", strerror(errno));
    size_t count = fread(in, 1, BLOCK, file);
    put(page, "<img alt=\"");
    put_text(page, alt);
    put(page, "\"");
    put_size(page, in, count);
    fprintf(page->stream, " src=\"data:%s;base64,", type);
    for (; count > 0; count = fread(in, 1, BLOCK, file)) {
        size_t length = encode(in, count, out);
        fwrite(out, 1, length, page->stream);
    }
    put(page, "\">\n");
    bool good = !ferror(file);
    fclose(file);
    return good ? WW_OK : ww_error_set(error, WW_IO, path, 0, "could not be read for the page");
}

enum ww_status ww_page_figure(struct ww_page *page, const char *path, const char *alt, struct ww_error *error,
                              const char *format, ...)
{
    fprintf(page->stream, "<figure id=\"figure-%zu\">\n", ++page->figures);
    put(page, hint);
    put_scroll_begin(page, "figure-words", page->figures);
    enum ww_status status = put_file(page, path, alt, error);
    fprintf(page->stream, "</div>\n<figcaption id=\"figure-words-%zu\"><strong>Figure %zu.</strong> ", page->figures,
            page->figures);
    PUT_FORMATTED(page, format);
    put(page, "</figcaption>\n</figure>\n");
    return status;
}

/* --- tables --------------------------------------------------------------------------------------------------------------- */

/* Is it wider than a telephone? Columns of words count for two of numbers. */
static bool is_wide(const struct ww_page_column *column, size_t columns)
{
    size_t width = 0;
    for (size_t i = 0; i < columns; i++)
        width += column[i].is_number ? 1 : 2;
    return width > 5;
}

/* The caption stands outside the box that scrolls, so that it breaks at the screen's edge. */
void ww_page_table_begin(struct ww_page *page, const char *caption, const struct ww_page_column *column,
                         size_t columns, bool is_short)
{
    assert(columns > 0);
    page->column = column;
    page->columns = columns;
    page->cell = 0;
    page->marked = false;
    bool wide = is_wide(column, columns);
    fprintf(page->stream,
            "<div class=\"table%s%s\">\n<p class=\"caption\" id=\"table-%zu\"><strong>Table %zu.</strong> ",
            is_short ? " short" : "", wide ? " wide" : "", page->tables + 1, page->tables + 1);
    put_text(page, caption);
    put(page, "</p>\n");
    put(page, wide ? hint : "");
    put_scroll_begin(page, "table", ++page->tables);
    fprintf(page->stream, "<table aria-labelledby=\"table-%zu\">\n<thead>\n<tr>", page->tables);
    for (size_t i = 0; i < columns; i++) {
        put(page, column[i].is_number ? "<th scope=\"col\" class=\"n\">" : "<th scope=\"col\">");
        put_text(page, column[i].name);
        put(page, "</th>");
    }
    put(page, "</tr>\n</thead>\n<tbody>\n");
}

void ww_page_mark_row(struct ww_page *page)
{
    page->marked = page->cell == 0;
}

void ww_page_cell(struct ww_page *page, const char *format, ...)
{
    const struct ww_page_column *column = &page->column[page->cell];
    if (page->cell == 0)
        put(page, page->marked ? "<tr class=\"here\"><th scope=\"row\"" : "<tr><th scope=\"row\"");
    else
        put(page, "<td");
    put(page, column->is_number ? " class=\"n\">" : ">");
    PUT_FORMATTED(page, format);
    put(page, page->cell == 0 ? "</th>" : "</td>");
    if (++page->cell == page->columns) {
        put(page, "</tr>\n");
        page->cell = 0;
        page->marked = false;
    }
}

void ww_page_table_end(struct ww_page *page)
{
    while (page->cell > 0)
        ww_page_cell(page, "%s", "");
    put(page, "</tbody>\n</table>\n</div>\n</div>\n");
    page->columns = 0;
}
