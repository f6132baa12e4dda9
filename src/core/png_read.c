/* core/png_read.c - a PNG of any kind read as grey.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * libpng reports trouble by longjmp. Both functions that it comes back to, open_image() and decode(), own nothing.
 */
#include "core/photo.h"

#include <png.h>
#include <setjmp.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

enum { CHUNK_LARGEST = 8000000, CHUNKS = 1000, MAX_CHANNELS = 4 };
static const double red = 0.299, green = 0.587, blue = 0.114; /* ITU-R BT.601 */

struct trouble {
    FILE *stream;
    enum ww_status status;
    char text[160];
};

/* The picture as libpng hands it over: grey or colour with alpha, 8 or 16 bits. */
struct image {
    png_uint_32 width, height;
    int channels, bytes; /* of a pixel; of a sample */
    size_t row_size;
    uint8_t *samples;
    uint8_t **row;
};

static void on_error(png_structp png, png_const_charp message)
{
    struct trouble *trouble = png_get_error_ptr(png);
    if (!trouble->status)
        trouble->status = ferror(trouble->stream) ? WW_IO : WW_MALFORMED;
    if (!trouble->text[0])
        (void)snprintf(trouble->text, sizeof trouble->text, "is a broken PNG: %s", message);
    longjmp(png_jmpbuf(png), 1);
}

static void on_warning(png_structp png, png_const_charp message)
{
    (void)png;
    (void)message;
}

/* libpng only warns of a chunk over its limit, and then makes room for what the chunk says it holds, up to 2 GB. Samples come in
 * parts, so theirs may be as long as they like. */
static bool is_too_long(png_structp png, png_const_bytep bytes, size_t count)
{
    static const size_t header = 8;
    bool begins = (png_get_io_state(png) & PNG_IO_MASK_LOC) == PNG_IO_CHUNK_HDR && count == header;
    return begins && memcmp(bytes + 4, "IDAT", 4) != 0 && png_get_uint_32(bytes) > CHUNK_LARGEST;
}

static void on_read(png_structp png, png_bytep bytes, size_t count)
{
    struct trouble *trouble = png_get_io_ptr(png);
    if (fread(bytes, 1, count, trouble->stream) == count) {
        if (is_too_long(png, bytes, count))
            png_error(png, "a chunk beside its samples is over 8 MB long");
        return;
    }
    (void)snprintf(trouble->text, sizeof trouble->text, "%s",
                   ferror(trouble->stream) ? "could not be read"
                                           : "ends in the middle of the picture; get the whole file");
    png_error(png, "");
}

/* The header, and what libpng shall make of the samples. False: trouble says why. */
static bool open_image(png_structp png, png_infop info, struct image *image)
{
    if (setjmp(png_jmpbuf(png)) != 0)
        return false;
    png_set_user_limits(png, PNG_UINT_31_MAX, PNG_UINT_31_MAX); /* ww_photo_check judges */
    png_set_chunk_malloc_max(png, CHUNK_LARGEST);
    png_set_chunk_cache_max(png, CHUNKS);
    png_read_info(png, info);
    image->width = png_get_image_width(png, info);
    image->height = png_get_image_height(png, info);
    png_set_expand(png); /* palette, few bits, transparent colour */
    (void)png_set_interlace_handling(png);
    return true;
}

static bool decode(png_structp png, png_infop info, const struct image *image)
{
    if (setjmp(png_jmpbuf(png)) != 0)
        return false;
    png_read_image(png, image->row);
    png_read_end(png, info);
    return true;
}

/* What the samples will be, once the size is known to be fair. */
static bool settle(png_structp png, png_infop info, struct image *image)
{
    if (setjmp(png_jmpbuf(png)) != 0)
        return false;
    png_read_update_info(png, info);
    image->channels = png_get_channels(png, info);
    image->bytes = png_get_bit_depth(png, info) == 16 ? 2 : 1;
    image->row_size = png_get_rowbytes(png, info);
    return true;
}

static void take_scale(png_structp png, png_infop info, struct ww_photo *photo)
{
    png_uint_32 across = 0, up = 0;
    double width = 0.0, height = 0.0;
    int unit = 0;
    if (png_get_sCAL(png, info, &unit, &width, &height) && unit == PNG_SCALE_METER && width > 0.0 && height > 0.0) {
        photo->pixel_width = width;
        photo->pixel_height = height;
        photo->has_scale = true;
    } else if (png_get_pHYs(png, info, &across, &up, &unit) && unit == PNG_RESOLUTION_METER && across > 0 && up > 0) {
        photo->pixel_width = 1.0 / across;
        photo->pixel_height = 1.0 / up;
    }
}

static double grey_of(const struct image *image, const uint8_t *pixel)
{
    double sample[MAX_CHANNELS] = {0.0}, most = image->bytes == 2 ? 65535.0 : 255.0;
    for (int i = 0; i < image->channels; i++)
        sample[i] = (image->bytes == 2 ? pixel[2 * i] * 256 + pixel[2 * i + 1] : pixel[i]) / most;
    double grey = image->channels > 2 ? red * sample[0] + green * sample[1] + blue * sample[2] : sample[0];
    return image->channels % 2 == 0 ? grey * sample[image->channels - 1] : grey;
}

static void fill(struct ww_photo *photo, const struct image *image)
{
    size_t size = (size_t)(image->channels * image->bytes);
    for (size_t y = 0; y < photo->ny; y++)
        for (size_t x = 0; x < photo->nx; x++)
            photo->value[(photo->ny - 1 - y) * photo->nx + x] = grey_of(image, image->row[y] + x * size);
}

/* The header is read: allocate, decode, turn to grey. */
static enum ww_status read_samples(png_structp png, png_infop info, struct image *image, struct ww_photo *photo,
                                   struct trouble *trouble, const char *name, struct ww_error *error)
{
    enum ww_status status = ww_photo_check(image->width, image->height, name, error);
    if (status)
        return status;
    if (!settle(png, info, image))
        return ww_error_set(error, trouble->status, name, 0, "%s", trouble->text);
    image->samples = calloc(image->height, image->row_size);
    image->row = calloc(image->height, sizeof *image->row);
    if (!image->samples || !image->row)
        return ww_error_set(error, WW_NO_MEMORY, name, 0, "no memory to read the picture");
    for (size_t y = 0; y < image->height; y++)
        image->row[y] = image->samples + y * image->row_size;
    if (!decode(png, info, image))
        return ww_error_set(error, trouble->status, name, 0, "%s", trouble->text);
    status = ww_photo_allocate(photo, image->width, image->height, name, error);
    if (status)
        return status;
    take_scale(png, info, photo);
    fill(photo, image);
    return WW_OK;
}

enum ww_status ww_photo_read_png(struct ww_photo *photo, FILE *stream, const char *name, struct ww_error *error)
{
    struct trouble trouble = {.stream = stream};
    struct image image = {0};
    png_infop info = NULL;
    enum ww_status status = WW_OK;
    png_structp png = png_create_read_struct(PNG_LIBPNG_VER_STRING, &trouble, on_error, on_warning);
    if (png)
        info = png_create_info_struct(png);
    if (!info) {
        status = ww_error_set(error, WW_NO_MEMORY, name, 0, "no memory to read the picture");
        goto done;
    }
    png_set_read_fn(png, &trouble, on_read);
    if (open_image(png, info, &image))
        status = read_samples(png, info, &image, photo, &trouble, name, error);
    else
        status = ww_error_set(error, trouble.status, name, 0, "%s", trouble.text);
done:
    if (png)
        png_destroy_read_struct(&png, &info, NULL);
    free((void *)image.row);
    free(image.samples);
    return status;
}
