/* recall.c - the study that a figure carries, read back from the file.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A PNG has it as its text "Source", an SVG in <metadata>, a PDF among its keywords as UTF-16 in hexadecimal, which is
 * how cairo writes what has line breaks. Another program that saved the figure anew may have dropped it or packed it
 * away; then that is said. SVG and PDF end it with a check (carried.h), so that no digit of it is another. What comes out
 * is text to be shown and saved, so what no study has in it is refused: bytes that are not UTF-8, and control characters, which a
 * terminal would obey.
 */
#include "weftwise/figure.h"

#include <errno.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "core/png.h"
#include "core/utf8.h"
#include "figure/carried.h"

enum { LARGEST = 64000000, FIRST = 8192 };

static const char study_start[] = "[study]\n"; /* of every study that is written (study/write.c) */

/* --- the file as text -------------------------------------------------------------------------------------------------- */

/* The whole file, a zero behind it; the caller frees. */
static enum ww_status read_all(FILE *stream, const char *path, char **bytes, size_t *count, struct ww_error *error)
{
    size_t room = FIRST;
    char *all = malloc(room + 1);
    *bytes = NULL;
    *count = 0;
    while (all != NULL) {
        *count += fread(all + *count, 1, room - *count, stream);
        if (*count < room || room >= LARGEST)
            break;
        room *= 2;
        char *more = realloc(all, room + 1);
        if (more == NULL)
            free(all);
        all = more;
    }
    if (all == NULL)
        return ww_error_set(error, WW_NO_MEMORY, path, 0, "no memory to read it");
    if (ferror(stream) != 0 || *count >= LARGEST) {
        free(all);
        return ferror(stream) != 0
                   ? ww_error_set(error, WW_IO, path, 0, "could not be read: %s", strerror(errno ? errno : EIO))
                   : ww_error_set(error, WW_INVALID, path, 0, "is over %d MB large; a figure is smaller",
                                  LARGEST / 1000000);
    }
    all[*count] = '\0';
    *bytes = all;
    return WW_OK;
}

/* --- SVG ----------------------------------------------------------------------------------------------------------------- */

/* Put the characters that text[0] stands for at *to; how much of text that takes, 0 if it stands for none. */
static size_t take_character(const char *text, char *to)
{
    static const struct {
        const char *name;
        char means;
    } entity[] = {{"&amp;", '&'}, {"&lt;", '<'}, {"&gt;", '>'}, {"&quot;", '"'}, {"&apos;", '\''}};
    *to = text[0];
    if (text[0] != '&')
        return text[0] != '<';
    for (size_t i = 0; i < sizeof entity / sizeof entity[0]; i++)
        if (strncmp(text, entity[i].name, strlen(entity[i].name)) == 0) {
            *to = entity[i].means;
            return strlen(entity[i].name);
        }
    return 0;
}

/* The text of <metadata>, if it is text alone, else NULL; the caller frees. WW_NO_MEMORY. */
static enum ww_status svg_metadata(const char *svg, char **metadata)
{
    *metadata = NULL;
    const char *open = strstr(svg, "<metadata>");
    const char *from = open != NULL ? open + strlen("<metadata>") : NULL;
    const char *end = from != NULL ? strstr(from, "</metadata>") : NULL;
    if (end == NULL)
        return WW_OK;
    char *text = calloc((size_t)(end - from) + 1, 1);
    if (text == NULL)
        return WW_NO_MEMORY;
    for (char *to = text; from < end; to++) {
        size_t taken = take_character(from, to);
        from += taken;
        if (taken == 0) {
            free(text);
            return WW_OK;
        }
    }
    *metadata = text;
    return WW_OK;
}

/* --- PDF ----------------------------------------------------------------------------------------------------------------- */

static int hex_digit(char c)
{
    if (c >= '0' && c <= '9')
        return c - '0';
    c = (char)(c | 0x20);
    return c >= 'a' && c <= 'f' ? c - 'a' + 10 : -1;
}

/* Four hexadecimal digits; -1 if they are none. */
static long utf16_unit(const char *hex)
{
    long unit = 0;
    for (int i = 0; i < 4; i++) {
        int digit = hex_digit(hex[i]); /* a zero ends the file, and is none */
        if (digit < 0)
            return -1;
        unit = unit * 16 + digit;
    }
    return unit;
}

/* One code point, two units where they are a pair; -1 if there is none. */
static long utf16_point(const char **hex)
{
    long high = utf16_unit(*hex), low = 0;
    if (high < 0)
        return -1;
    *hex += 4;
    if (high < 0xD800 || high > 0xDFFF)
        return high;
    low = utf16_unit(*hex);
    if (high > 0xDBFF || low < 0xDC00 || low > 0xDFFF)
        return -1;
    *hex += 4;
    return 0x10000 + ((high - 0xD800) << 10) + (low - 0xDC00);
}

static char *put_utf8(char *to, long point)
{
    if (point < 0x80) {
        *to++ = (char)point;
    } else if (point < 0x800) {
        *to++ = (char)(0xC0 | point >> 6);
        *to++ = (char)(0x80 | (point & 0x3F));
    } else {
        if (point < 0x10000) {
            *to++ = (char)(0xE0 | point >> 12);
        } else {
            *to++ = (char)(0xF0 | point >> 18);
            *to++ = (char)(0x80 | (point >> 12 & 0x3F));
        }
        *to++ = (char)(0x80 | (point >> 6 & 0x3F));
        *to++ = (char)(0x80 | (point & 0x3F));
    }
    return to;
}

static const char *find_bytes(const char *bytes, size_t count, const char *wanted)
{
    size_t length = strlen(wanted);
    for (size_t i = 0; i + length <= count; i++)
        if (memcmp(bytes + i, wanted, length) == 0)
            return bytes + i;
    return NULL;
}

/* NULL where there are none; the caller frees. Four digits become at most three bytes. WW_NO_MEMORY. */
static enum ww_status pdf_keywords(const char *pdf, size_t count, char **keywords)
{
    *keywords = NULL;
    static const char start[] = "/Keywords <FEFF";
    const char *from = find_bytes(pdf, count, start);
    if (from == NULL)
        return WW_OK;
    from += strlen(start);
    char *text = calloc(strlen(from) + 4, 1), *to = text;
    if (text == NULL)
        return WW_NO_MEMORY;
    while (*from != '>') {
        long point = utf16_point(&from);
        if (point <= 0) {
            free(text);
            return WW_OK;
        }
        to = put_utf8(to, point);
    }
    *keywords = text;
    return WW_OK;
}

/* --- the study ------------------------------------------------------------------------------------------------------------ */

/* checked: the chunks of a PNG have checks of their own. */
static enum ww_status judge(const char *path, char *text, bool checked, struct ww_error *error)
{
    if (text == NULL || strncmp(text, study_start, strlen(study_start)) != 0)
        return ww_error_set(
            error, WW_INVALID, path, 0,
            "carries no study; it is another program's, or one that saved it anew left the study out");
    if (!checked && !ww_carried_check(text))
        return ww_error_set(error, WW_MALFORMED, path, 0,
                            "carries a study that was changed after the figure was drawn: its check does not agree");
    for (const char *c = text; *c != '\0'; c++)
        if (*c != '\n' && *c != '\t' && ww_utf8_hidden((const unsigned char *)c))
            return ww_error_set(error, WW_MALFORMED, path, 0,
                                "carries text with control characters in it, which no study has");
    if (!ww_utf8_valid(text))
        return ww_error_set(error, WW_MALFORMED, path, 0, "carries text that is not UTF-8, which every study is");
    return WW_OK;
}

static enum ww_status recall(FILE *stream, const char *path, char **study, bool *checked, struct ww_error *error)
{
    static const char png[] = "\x89PNG\r\n\x1a\n", pdf[] = "%PDF-";
    char *bytes = NULL, start[sizeof png] = "";
    size_t count = fread(start, 1, sizeof png - 1, stream);
    enum ww_status status = WW_OK;
    if (ferror(stream))
        return ww_error_set(error, WW_IO, path, 0, "could not be read: %s", strerror(errno));
    rewind(stream);
    if (count == sizeof png - 1 && memcmp(start, png, count) == 0) {
        status = ww_png_read_text(stream, path, "Source", study, error);
        *checked = true;
        return status == WW_INVALID ? judge(path, NULL, true, error) : status;
    }
    status = read_all(stream, path, &bytes, &count, error);
    if (status != WW_OK)
        return status;
    if (strncmp(bytes, pdf, strlen(pdf)) == 0)
        status = pdf_keywords(bytes, count, study);
    else if (strstr(bytes, "<svg") != NULL)
        status = svg_metadata(bytes, study);
    else
        status = ww_error_set(error, WW_MALFORMED, path, 0, "is no figure; give a PNG, SVG or PDF of weftwise");
    free(bytes);
    return status == WW_NO_MEMORY ? ww_error_set(error, status, path, 0, "no memory to read it") : status;
}

enum ww_status ww_figure_recall(const char *path, char **study, struct ww_error *error)
{
    FILE *stream = fopen(path, "rb");
    *study = NULL;
    if (stream == NULL)
        return ww_error_set(error, WW_IO, path, 0, "cannot be opened: %s", strerror(errno));
    bool checked = false;
    enum ww_status status = recall(stream, path, study, &checked, error);
    fclose(stream);
    if (status == WW_OK)
        status = judge(path, *study, checked, error);
    if (status != WW_OK) {
        free(*study);
        *study = NULL;
    }
    return status;
}
