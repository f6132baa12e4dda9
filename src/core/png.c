/* core/png.c - the one doorway to libpng.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * libpng reports trouble by longjmp. It is caught in one function, encode(), which owns nothing: what it works on
 * is made before it is called and freed after, so nothing leaks and no local is read after the jump.
 */
#include "core/png.h"

#include <png.h>
#include <setjmp.h>
#include <stdlib.h>
#include <string.h>

#include "core/decimal.h"

#define GREY_LARGEST 65535

struct trouble {
    bool caught; /* the jump has somewhere to go */
    enum ww_status status;
    char text[160];
};

static void on_error(png_structp png, png_const_charp message)
{
    struct trouble *trouble = png_get_error_ptr(png);

    if (trouble->status == WW_OK)
        trouble->status = WW_IO;
    (void)snprintf(trouble->text, sizeof trouble->text, "%s", message);
    longjmp(png_jmpbuf(png), 1);
}

/* libpng leaves out a chunk that it finds no memory for, with a warning only: a map without its scale. */
static void on_warning(png_structp png, png_const_charp message)
{
    const struct trouble *trouble = png_get_error_ptr(png);

    if (trouble->caught)
        png_error(png, message);
}

static png_voidp on_malloc(png_structp png, png_alloc_size_t size)
{
    void *block = malloc(size);
    struct trouble *trouble = png_get_mem_ptr(png);

    if (block == NULL)
        trouble->status = WW_NO_MEMORY;
    return block;
}

static void on_free(png_structp png, png_voidp block)
{
    (void)png;
    free(block);
}

static void on_write(png_structp png, png_bytep bytes, size_t count)
{
    if (fwrite(bytes, 1, count, png_get_io_ptr(png)) != count)
        png_error(png, "the write was refused; is the disk full?");
}

static void on_flush(png_structp png)
{
    (void)png;
}

static bool keyword_valid(const char *keyword)
{
    size_t length = strlen(keyword);

    if (length < 1 || length > 79 || keyword[0] == ' ' || keyword[length - 1] == ' ')
        return false;
    for (size_t i = 0; i < length; i++)
        if (keyword[i] < 32 || keyword[i] > 126)
            return false;
    return true;
}

static enum ww_status check(const struct ww_png_image *image, const char *name, struct ww_error *error)
{
    if (image->width < 1 || image->width > WW_PNG_LARGEST || image->height < 1 || image->height > WW_PNG_LARGEST)
        return ww_error_set(error, WW_INVALID, name, 0, "image of %lu by %lu pixels; give sizes from 1 to %d",
                            (unsigned long)image->width, (unsigned long)image->height, WW_PNG_LARGEST);
    if (image->kind == WW_PNG_RGB8 ? image->rgb == NULL : image->grey == NULL)
        return ww_error_set(error, WW_INVALID, name, 0, "image without samples");
    if (image->texts > WW_PNG_TEXTS)
        return ww_error_set(error, WW_INVALID, name, 0, "%zu texts; give up to %d", image->texts, WW_PNG_TEXTS);
    for (size_t i = 0; i < image->texts; i++)
        if (!keyword_valid(image->text[i].keyword))
            return ww_error_set(error, WW_INVALID, name, 0, "text keyword of other than 1 to 79 ASCII characters");
    if (image->quantity != NULL && (!keyword_valid(image->quantity) || image->unit == NULL))
        return ww_error_set(error, WW_INVALID, name, 0,
                            "quantity of other than 1 to 79 ASCII characters, or no unit");
    return WW_OK;
}

/* The original sample range is the stored one (X0 = 0, X1 = 65535), so value = p0 + p1 sample / 65535. */
static void put_calibration(png_structp png, png_infop info, const struct ww_png_image *image)
{
    char low[40], span[40];
    char *parameter[2] = {low, span};

    ww_decimal_general(low, sizeof low, image->value_low, 17);
    ww_decimal_general(span, sizeof span, image->value_high - image->value_low, 17);
    png_set_pCAL(png, info, image->quantity, 0, GREY_LARGEST, PNG_EQUATION_LINEAR, 2, image->unit, parameter);
}

static void put_pixel_size(png_structp png, png_infop info, const struct ww_png_image *image)
{
    char width[40], height[40];

    ww_decimal_general(width, sizeof width, image->pixel_width, 10);
    ww_decimal_general(height, sizeof height, image->pixel_height, 10);
    png_set_sCAL_s(png, info, PNG_SCALE_METER, width, height);
}

static void put_texts(png_structp png, png_infop info, const struct ww_png_image *image)
{
    png_text entry[WW_PNG_TEXTS];
    char nothing[] = "";
    int count = 0;

    memset(entry, 0, sizeof entry);
    for (size_t i = 0; i < image->texts; i++) {
        const struct ww_png_text *text = &image->text[i];
        if (text->text == NULL || text->text[0] == '\0')
            continue;
        entry[count].compression = PNG_ITXT_COMPRESSION_NONE;
        entry[count].key = (png_charp)(uintptr_t)text->keyword; /* libpng copies; it only lacks the const */
        entry[count].text = (png_charp)(uintptr_t)text->text;
        entry[count].itxt_length = strlen(text->text);
        entry[count].lang = nothing;
        entry[count].lang_key = nothing;
        count++;
    }
    if (count > 0)
        png_set_text(png, info, entry, count);
}

static void put_header(png_structp png, png_infop info, const struct ww_png_image *image)
{
    bool colour = image->kind == WW_PNG_RGB8;

    png_set_IHDR(png, info, image->width, image->height, colour ? 8 : 16,
                 colour ? PNG_COLOR_TYPE_RGB : PNG_COLOR_TYPE_GRAY, PNG_INTERLACE_NONE, PNG_COMPRESSION_TYPE_DEFAULT,
                 PNG_FILTER_TYPE_DEFAULT);
    if (image->srgb) {
        png_set_gAMA_fixed(png, info, 45455);
        png_set_sRGB(png, info, PNG_sRGB_INTENT_PERCEPTUAL);
    }
    if (image->dots_per_metre > 0) {
        png_uint_32 density = (png_uint_32)(image->dots_per_metre + 0.5);
        png_set_pHYs(png, info, density, density, PNG_RESOLUTION_METER);
    }
    if (image->pixel_width > 0 && image->pixel_height > 0)
        put_pixel_size(png, info, image);
    if (image->quantity != NULL)
        put_calibration(png, info, image);
    put_texts(png, info, image);
}

/* The one place that libpng's longjmp comes back to. row: scratch for one row of 16-bit samples. */
static bool encode(png_structp png, png_infop info, const struct ww_png_image *image, uint8_t *row)
{
    struct trouble *trouble = png_get_error_ptr(png);

    if (setjmp(png_jmpbuf(png)) != 0)
        return false;

    trouble->caught = true;
    put_header(png, info, image);
    if (image->kind ==
        WW_PNG_RGB8) /* flat figures: half the time, and 5 % smaller than with the best filter of each row */
        png_set_filter(png, PNG_FILTER_TYPE_BASE, PNG_FILTER_NONE);
    png_write_info(png, info);
    for (uint32_t y = 0; y < image->height; y++) {
        if (image->kind == WW_PNG_RGB8) {
            png_write_row(png, image->rgb + (size_t)y * image->width * 3);
            continue;
        }
        const uint16_t *sample = image->grey + (size_t)y * image->width;
        for (uint32_t x = 0; x < image->width; x++) {
            row[2 * x] = (uint8_t)(sample[x] >> 8);
            row[2 * x + 1] = (uint8_t)(sample[x] & 255);
        }
        png_write_row(png, row);
    }
    png_write_end(png, NULL);
    return true;
}

enum ww_status ww_png_write(const struct ww_png_image *image, FILE *stream, const char *name, struct ww_error *error)
{
    struct trouble trouble = {.status = WW_OK};
    png_structp png = NULL;
    png_infop info = NULL;
    uint8_t *row = NULL;
    enum ww_status status = check(image, name, error);

    if (status != WW_OK)
        return status;

    row = malloc((size_t)image->width * 2);
    png = png_create_write_struct_2(PNG_LIBPNG_VER_STRING, &trouble, on_error, on_warning, &trouble, on_malloc,
                                    on_free);
    info = png != NULL ? png_create_info_struct(png) : NULL;
    if (row == NULL || info == NULL) {
        status = ww_error_set(error, WW_NO_MEMORY, name, 0, "no memory to write the image");
        goto done;
    }
    png_set_write_fn(png, stream, on_write, on_flush);
    if (!encode(png, info, image, row))
        status = ww_error_set(error, trouble.status, name, 0, "cannot write the image: %s", trouble.text);
done:
    if (png != NULL)
        png_destroy_write_struct(&png, &info);
    free(row);
    return status;
}
