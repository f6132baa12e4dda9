/* figure/page.c - what a page becomes on disk: PNG, SVG or PDF.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A PNG page is a cairo image, written by the one libpng writer. A vector page is collected in memory, because
 * cairo has no say over an SVG's own texts: they are put in behind its opening tag before it goes to the file.
 * Dates are left out, and cairo's running numbers in an SVG are the only trace of what was drawn before it, so
 * they are counted anew: the same data give the same bytes.
 */
#include "figure/canvas.h"
#include "figure/carried.h"

#include <cairo-pdf.h>
#include <cairo-svg.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "core/png.h"
#include "core/utf8.h"

#define DEFAULT_WIDTH 1600
#define DEFAULT_DPI 150
#define POINTS_PER_INCH 72.0
#define METRES_PER_INCH 0.0254

static int page_pixels(const struct ww_figure_options *options)
{
    return options->width != 0 ? options->width : DEFAULT_WIDTH;
}

static int page_dpi(const struct ww_figure_options *options)
{
    return options->dpi != 0 ? options->dpi : DEFAULT_DPI;
}

static const char *text_or_empty(const char *text)
{
    return text != NULL ? text : "";
}

/* --- UTF-8 */

void ww_text_copy(char *out, const char *text, size_t bytes)
{
    size_t length = 0;

    while (length < bytes && length < WW_TEXT_BYTES - 1 && text[length] != '\0') {
        unsigned char c = (unsigned char)text[length];
        out[length++] = c < 32 || c == 127 ? ' ' : (char)c;
    }
    if (text[length] != '\0') /* cut: not inside a character */
        while (length > 0 && ((unsigned char)text[length] & 0xC0) == 0x80)
            length--;
    out[length] = '\0';
}

/* --- memory that a vector page is collected in */

static cairo_status_t collect(void *closure, const unsigned char *bytes, unsigned int count)
{
    struct ww_canvas *canvas = closure;

    if (count > canvas->room - canvas->count) {
        size_t room = canvas->room + canvas->room / 2 + count + 65536;
        unsigned char *more = realloc(canvas->bytes, room);
        if (more == NULL)
            return CAIRO_STATUS_NO_MEMORY;
        canvas->bytes = more;
        canvas->room = room;
    }
    memcpy(canvas->bytes + canvas->count, bytes, count);
    canvas->count += count;
    return CAIRO_STATUS_SUCCESS;
}

static bool put(struct ww_canvas *canvas, const char *text)
{
    return fputs(text, canvas->output.stream) >= 0;
}

/* --- SVG */

/* Characters that XML 1.0 has no place for (most controls) become U+FFFD. */
static bool put_xml(struct ww_canvas *canvas, const char *text)
{
    bool good = true;

    for (; good && *text != '\0'; text++) {
        unsigned char c = (unsigned char)*text;
        if (c == '&')
            good = put(canvas, "&amp;");
        else if (c == '<')
            good = put(canvas, "&lt;");
        else if (c == '>')
            good = put(canvas, "&gt;");
        else if (c < 32 && c != '\t' && c != '\n' && c != '\r')
            good = put(canvas, "\xef\xbf\xbd");
        else
            good = fputc(c, canvas->output.stream) != EOF;
    }
    return good;
}

static bool put_element(struct ww_canvas *canvas, const char *name, const char *text)
{
    if (text == NULL || text[0] == '\0')
        return true;
    return put(canvas, "\n<") && put(canvas, name) && put(canvas, ">") && put_xml(canvas, text) &&
           put(canvas, "</") && put(canvas, name) && put(canvas, ">");
}

/* Cairo numbers its surfaces over the life of the program, and an SVG names them: "surface12", "#image14". Put the
 * text with those numbers counted from the page's own, which is the first it names. */
static bool put_renumbered(struct ww_canvas *canvas, const char *text)
{
    static const char *const name[] = {"\"surface", "\"image", "#surface", "#image"};
    const char *own = strstr(text, "\"surface");
    long base = own != NULL ? strtol(own + strlen("\"surface"), NULL, 10) : 0;

    while (*text != '\0') {
        char number[32] = "";
        size_t length = 1;
        char *end = NULL;
        for (size_t i = 0; i < sizeof name / sizeof name[0]; i++) {
            const char *digits = text + strlen(name[i]);
            if (strncmp(text, name[i], strlen(name[i])) != 0 || *digits < '0' || *digits > '9')
                continue;
            length = strlen(name[i]);
            (void)snprintf(number, sizeof number, "%ld", strtol(digits, &end, 10) - base);
        }
        if (fwrite(text, 1, length, canvas->output.stream) != length || !put(canvas, number))
            return false;
        text = end != NULL ? end : text + length;
    }
    return true;
}

static bool put_svg(struct ww_canvas *canvas)
{
    const struct ww_figure_options *options = canvas->options;
    const char *start, *open, *body;
    char *study;

    if (collect(canvas, (const unsigned char *)"", 1) != CAIRO_STATUS_SUCCESS)
        return false;
    start = (const char *)canvas->bytes;
    open = strstr(start, "<svg");
    body = open != NULL ? strchr(open, '>') : NULL;
    if (body == NULL)
        return false;
    body++;
    study = ww_carried_text(options->study);
    bool good = study && fwrite(start, 1, (size_t)(body - start), canvas->output.stream) == (size_t)(body - start) &&
                put_element(canvas, "title", options->title) && put_element(canvas, "desc", options->conditions) &&
                put_element(canvas, "metadata", study) && put(canvas, "\n<!-- weftwise ") &&
                put(canvas, ww_version()) && put(canvas, " -->") && put_renumbered(canvas, body);
    free(study);
    return good;
}

/* --- PNG */

/* Four bytes a pixel become three, in the same memory: what is written never overtakes what is read. */
static void pack_rgb(unsigned char *pixels, size_t width, size_t height, size_t stride)
{
    unsigned char *to = pixels;

    for (size_t y = 0; y < height; y++)
        for (size_t x = 0; x < width; x++) {
            uint32_t pixel;
            memcpy(&pixel, pixels + y * stride + 4 * x, sizeof pixel);
            *to++ = (unsigned char)(pixel >> 16);
            *to++ = (unsigned char)(pixel >> 8);
            *to++ = (unsigned char)pixel;
        }
}

static enum ww_status put_png(struct ww_canvas *canvas, struct ww_error *error)
{
    const struct ww_figure_options *options = canvas->options;
    unsigned char *pixels = cairo_image_surface_get_data(canvas->surface);
    int width = cairo_image_surface_get_width(canvas->surface);
    int height = cairo_image_surface_get_height(canvas->surface);
    char software[64];
    struct ww_png_text text[] = {{"Title", options->title},
                                 {"Software", software},
                                 {"Description", options->conditions},
                                 {"Source", options->study}};
    struct ww_png_image image = {.kind = WW_PNG_RGB8,
                                 .width = (uint32_t)width,
                                 .height = (uint32_t)height,
                                 .rgb = pixels,
                                 .dots_per_metre = page_dpi(options) / METRES_PER_INCH,
                                 .srgb = true,
                                 .text = text,
                                 .texts = sizeof text / sizeof text[0]};

    (void)snprintf(software, sizeof software, "weftwise %s", ww_version());
    pack_rgb(pixels, (size_t)width, (size_t)height, (size_t)cairo_image_surface_get_stride(canvas->surface));
    return ww_png_write(&image, canvas->output.stream, canvas->path, error);
}

/* --- opening and closing */

static void set_pdf_texts(struct ww_canvas *canvas)
{
    const struct ww_figure_options *options = canvas->options;
    char program[64], *study = ww_carried_text(options->study);

    if (study == NULL)
        canvas->starved = true;
    (void)snprintf(program, sizeof program, "weftwise %s", ww_version());
    cairo_pdf_surface_set_metadata(canvas->surface, CAIRO_PDF_METADATA_TITLE, text_or_empty(options->title));
    cairo_pdf_surface_set_metadata(canvas->surface, CAIRO_PDF_METADATA_SUBJECT, text_or_empty(options->conditions));
    cairo_pdf_surface_set_metadata(canvas->surface, CAIRO_PDF_METADATA_KEYWORDS, text_or_empty(study));
    cairo_pdf_surface_set_metadata(canvas->surface, CAIRO_PDF_METADATA_CREATOR, program);
    cairo_pdf_surface_set_metadata(canvas->surface, CAIRO_PDF_METADATA_CREATE_DATE, "");
    free(study);
}

static void start_page(struct ww_canvas *canvas)
{
    int pixels = page_pixels(canvas->options);
    double points = pixels * POINTS_PER_INCH / page_dpi(canvas->options), scale = points / WW_PAGE_WIDTH;
    cairo_font_options_t *font = cairo_font_options_create();

    canvas->density = pixels / WW_PAGE_WIDTH;
    if (canvas->options->format == WW_FIGURE_PNG) {
        canvas->surface =
            cairo_image_surface_create(CAIRO_FORMAT_RGB24, pixels, (int)(canvas->height * canvas->density + 0.5));
        scale = canvas->density;
    } else if (canvas->options->format == WW_FIGURE_SVG) {
        canvas->surface = cairo_svg_surface_create_for_stream(collect, canvas, points, canvas->height * scale);
    } else {
        canvas->surface = cairo_pdf_surface_create_for_stream(collect, canvas, points, canvas->height * scale);
        set_pdf_texts(canvas);
    }
    canvas->cairo = cairo_create(canvas->surface);
    cairo_scale(canvas->cairo, scale, scale);
    cairo_font_options_set_antialias(font, CAIRO_ANTIALIAS_GRAY);
    cairo_font_options_set_hint_style(font, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_hint_metrics(font, CAIRO_HINT_METRICS_OFF);
    cairo_set_font_options(canvas->cairo, font);
    cairo_font_options_destroy(font);
    cairo_set_line_join(canvas->cairo, CAIRO_LINE_JOIN_ROUND);
    ww_canvas_ink(canvas, WW_INK_PAPER, 1);
    cairo_paint(canvas->cairo);
}

static enum ww_status drawing_status(struct ww_canvas *canvas, cairo_status_t status, struct ww_error *error)
{
    switch (status) {
    case CAIRO_STATUS_SUCCESS:
        return WW_OK;
    case CAIRO_STATUS_NO_MEMORY:
        return ww_error_set(error, WW_NO_MEMORY, canvas->path, 0, "no memory to draw the figure");
    case CAIRO_STATUS_INVALID_STRING:
        return ww_error_set(error, WW_INVALID, canvas->path, 0, "a text on the figure is not UTF-8");
#if CAIRO_VERSION >= CAIRO_VERSION_ENCODE(1, 16, 0)
    case CAIRO_STATUS_FREETYPE_ERROR: /* a font that cannot be read, or no memory for it */
        return ww_error_set(error, WW_IO, canvas->path, 0, "the font of the figure cannot be read");
#endif
    default:
        return ww_error_set(error, WW_INVALID, canvas->path, 0, "cannot draw the figure: %s",
                            cairo_status_to_string(status));
    }
}

/* All work on fonts is done here once, before anything is written: where it fails it leaves nothing. */
static enum ww_status check_font(struct ww_canvas *canvas, struct ww_error *error)
{
    bool can = ww_text_can_be_drawn(canvas);
    cairo_status_t drawn = canvas->starved ? CAIRO_STATUS_NO_MEMORY : cairo_status(canvas->cairo);
    enum ww_status status = drawing_status(canvas, drawn, error);
    if (status != WW_OK || can)
        return status;
    return ww_error_set(error, WW_IO, canvas->path, 0,
                        "no sans-serif font with a minus sign, micro and degree could be opened; install one, such "
                        "as DejaVu Sans (fonts-dejavu-core)");
}

static void clear(struct ww_canvas *canvas)
{
    if (canvas->cairo != NULL)
        cairo_destroy(canvas->cairo);
    if (canvas->surface != NULL)
        cairo_surface_destroy(canvas->surface);
    ww_output_discard(&canvas->output);
    free(canvas->bytes);
    free(canvas->path);
    memset(canvas, 0, sizeof *canvas);
}

static enum ww_status check(const struct ww_figure_options *options, const char *path, struct ww_error *error)
{
    int pixels = page_pixels(options), dpi = page_dpi(options);

    if (pixels < WW_FIGURE_NARROWEST || pixels > WW_FIGURE_WIDEST)
        return ww_error_set(error, WW_INVALID, path, 0, "figure of %d px width; give one from %d to %d", pixels,
                            WW_FIGURE_NARROWEST, WW_FIGURE_WIDEST);
    if (dpi < WW_FIGURE_COARSEST || dpi > WW_FIGURE_FINEST)
        return ww_error_set(error, WW_INVALID, path, 0, "figure of %d dpi; give from %d to %d", dpi,
                            WW_FIGURE_COARSEST, WW_FIGURE_FINEST);
    if (!(options->frequency >= 0) || !isfinite(options->frequency))
        return ww_error_set(error, WW_INVALID, path, 0, "a figure's frequency of %g Hz; give 0 or more",
                            options->frequency);
    const char *const text[] = {options->title, options->conditions, options->study};
    for (size_t i = 0; i < sizeof text / sizeof text[0]; i++)
        if (text[i] != NULL && !ww_utf8_valid(text[i]))
            return ww_error_set(error, WW_INVALID, path, 0, "a text for the figure is not UTF-8; give it as UTF-8");
    return WW_OK;
}

enum ww_status ww_canvas_open(struct ww_canvas *canvas, const char *path, const struct ww_figure_options *options,
                              double height, struct ww_error *error)
{
    enum ww_status status;

    memset(canvas, 0, sizeof *canvas);
    status = check(options, path, error);
    if (status != WW_OK)
        return status;
    canvas->options = options;
    canvas->height = height;
    canvas->path = malloc(strlen(path) + 1);
    if (canvas->path == NULL)
        return ww_error_set(error, WW_NO_MEMORY, path, 0, "no memory to draw the figure");
    strcpy(canvas->path, path);

    start_page(canvas);
    status = check_font(canvas, error);
    if (status == WW_OK)
        status = ww_output_open(&canvas->output, path, error);
    if (status != WW_OK)
        clear(canvas);
    return status;
}

static enum ww_status put_vector(struct ww_canvas *canvas, struct ww_error *error)
{
    bool good = canvas->options->format == WW_FIGURE_SVG
                    ? put_svg(canvas)
                    : fwrite(canvas->bytes, 1, canvas->count, canvas->output.stream) == canvas->count;

    return good ? WW_OK : ww_error_set(error, WW_IO, canvas->path, 0, "cannot write the figure; is the disk full?");
}

enum ww_status ww_canvas_close(struct ww_canvas *canvas, struct ww_error *error)
{
    cairo_status_t drawn = canvas->starved ? CAIRO_STATUS_NO_MEMORY : cairo_status(canvas->cairo);
    enum ww_status status = drawing_status(canvas, drawn, error);

    if (status != WW_OK)
        goto done;
    cairo_surface_flush(canvas->surface);
    if (canvas->options->format == WW_FIGURE_PNG) {
        status = put_png(canvas, error);
    } else {
        cairo_surface_finish(canvas->surface);
        status = drawing_status(canvas, cairo_surface_status(canvas->surface), error);
        if (status == WW_OK)
            status = put_vector(canvas, error);
    }
    if (status == WW_OK)
        status = ww_output_commit(&canvas->output, error);
done:
    clear(canvas);
    return status;
}

/* --- names of the formats */

static const char *const format_names[] = {"png", "svg", "pdf"};

enum ww_status ww_figure_format_from_name(const char *name, enum ww_figure_format *format, struct ww_error *error)
{
    *format = WW_FIGURE_PNG;
    for (int i = 0; i < 3; i++)
        if (strcmp(name, format_names[i]) == 0) {
            *format = (enum ww_figure_format)i;
            return WW_OK;
        }
    return ww_error_set(error, WW_INVALID, NULL, 0, "no figure format is called \"%s\"; give png, svg or pdf", name);
}

const char *ww_figure_format_name(enum ww_figure_format format)
{
    return format_names[format];
}
