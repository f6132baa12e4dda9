/* Pictures read as grey: every kind of PNG, JPEG, and files that are no pictures, cut short or far too large.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"

#include <png.h>
#include <stdio.h>
#include <stdlib.h>

#include "core/photo.h"
#include "core/png.h"

#ifdef WW_JPEG
#include <jpeglib.h>
#endif

enum { NX = 7, NY = 5 };

/* --- files made for the test ------------------------------------------------------------------------------------------------- */

/* What a PNG shall be. */
struct kind {
    int colour, depth, interlace;
    double grey; /* of the pixel at x, y = 2, 1 from the upper left, as it should be read */
};

static uint8_t sample(size_t x, size_t y, size_t channel)
{
    return (uint8_t)(20 + 30 * x + 7 * y + 11 * channel);
}

/* The samples of a row in the order of the format; of 16 bits the lower byte is the upper once more. */
static void fill_row(const struct kind *kind, size_t y, int channels, uint8_t *row)
{
    for (size_t x = 0; x < NX; x++)
        for (size_t c = 0; c < (size_t)channels; c++) {
            uint8_t value = kind->colour == PNG_COLOR_TYPE_PALETTE ? (uint8_t)((x + y) % 4) : sample(x, y, c);
            size_t at = x * (size_t)channels + c;
            if (kind->depth == 16)
                row[2 * at] = row[2 * at + 1] = value;
            else if (kind->depth == 8)
                row[at] = value;
            else /* packed, the first pixel in the upper bits */
                row[at * (size_t)kind->depth / 8] |=
                    (uint8_t)((value % (1 << kind->depth)) << (8 - kind->depth - (int)at * kind->depth % 8));
        }
}

static FILE *png_of(const struct kind *kind, bool scaled)
{
    FILE *stream = tmpfile();
    uint8_t rows[NY][NX * 8] = {{0}};
    uint8_t *row[NY];
    png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, NULL, NULL, NULL);
    png_infop info = png_create_info_struct(png);
    png_color palette[4] = {{10, 10, 10}, {200, 100, 50}, {255, 255, 255}, {0, 0, 255}};
    assert_non_null(stream);
    png_init_io(png, stream);
    png_set_IHDR(png, info, NX, NY, kind->depth, kind->colour, kind->interlace, PNG_COMPRESSION_TYPE_DEFAULT,
                 PNG_FILTER_TYPE_DEFAULT);
    if (kind->colour == PNG_COLOR_TYPE_PALETTE)
        png_set_PLTE(png, info, palette, 4);
    if (scaled)
        png_set_pHYs(png, info, 100000, 100000, PNG_RESOLUTION_METER);
    for (size_t y = 0; y < NY; y++) {
        fill_row(kind, y, png_get_channels(png, info), rows[y]);
        row[y] = rows[y];
    }
    png_set_rows(png, info, row);
    png_write_png(png, info, PNG_TRANSFORM_IDENTITY, NULL);
    png_destroy_write_struct(&png, &info);
    rewind(stream);
    return stream;
}

static double grey_of(double red, double green, double blue)
{
    return (0.299 * red + 0.587 * green + 0.114 * blue) / 255.0;
}

static double value_at(const struct ww_photo *photo, size_t x, size_t y)
{
    return photo->value[(photo->ny - 1 - y) * photo->nx + x];
}

/* --- PNG ---------------------------------------------------------------------------------------------------------------------- */

static void every_png_is_read_as_grey(void **state)
{
    (void)state;
    const double g = sample(2, 1, 0), h = sample(2, 1, 1), b = sample(2, 1, 2), a = sample(2, 1, 3);
    const struct kind kinds[] = {
        {PNG_COLOR_TYPE_GRAY, 8, PNG_INTERLACE_NONE, g / 255.0},
        {PNG_COLOR_TYPE_GRAY, 16, PNG_INTERLACE_NONE, g / 255.0},
        {PNG_COLOR_TYPE_GRAY, 16, PNG_INTERLACE_ADAM7, g / 255.0},
        {PNG_COLOR_TYPE_GRAY, 2, PNG_INTERLACE_NONE, sample(2, 1, 0) % 4 / 3.0},
        {PNG_COLOR_TYPE_GRAY, 1, PNG_INTERLACE_NONE, sample(2, 1, 0) % 2},
        {PNG_COLOR_TYPE_GRAY_ALPHA, 8, PNG_INTERLACE_NONE, g / 255.0 * h / 255.0},
        {PNG_COLOR_TYPE_GRAY_ALPHA, 16, PNG_INTERLACE_NONE, g / 255.0 * h / 255.0},
        {PNG_COLOR_TYPE_RGB, 8, PNG_INTERLACE_ADAM7, grey_of(g, h, b)},
        {PNG_COLOR_TYPE_RGB, 16, PNG_INTERLACE_NONE, grey_of(g, h, b)},
        {PNG_COLOR_TYPE_RGB_ALPHA, 8, PNG_INTERLACE_NONE, grey_of(g, h, b) * a / 255.0},
        {PNG_COLOR_TYPE_RGB_ALPHA, 16, PNG_INTERLACE_ADAM7, grey_of(g, h, b) * a / 255.0},
        {PNG_COLOR_TYPE_PALETTE, 8, PNG_INTERLACE_NONE, grey_of(0.0, 0.0, 255.0)},
        {PNG_COLOR_TYPE_PALETTE, 2, PNG_INTERLACE_NONE, grey_of(0.0, 0.0, 255.0)},
    };
    for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++) {
        struct ww_photo photo;
        struct ww_error error = {0};
        FILE *stream = png_of(&kinds[i], i % 2 == 1);
        assert_ok(ww_photo_read(&photo, stream, "made.png", &error), error);
        assert_int_equal(photo.nx, NX);
        assert_int_equal(photo.ny, NY);
        assert_close(value_at(&photo, 2, 1), kinds[i].grey, 1e-12, 1e-12);
        assert_close(photo.pixel_width, i % 2 == 1 ? 1e-5 : 0.0, 1e-12, 0.0);
        assert_false(photo.has_scale);
        ww_photo_clear(&photo);
        fclose(stream);
    }
}

static void a_scale_goes_before_a_resolution(void **state)
{
    (void)state;
    const uint16_t grey[4] = {0, 65535, 32768, 1000};
    const struct ww_png_image image = {.kind = WW_PNG_GREY16,
                                       .width = 2,
                                       .height = 2,
                                       .grey = grey,
                                       .dots_per_metre = 5906.0,
                                       .pixel_width = 2.5e-6,
                                       .pixel_height = 2.5e-6};
    struct ww_photo photo;
    struct ww_error error = {0};
    FILE *stream = tmpfile();
    assert_ok(ww_png_write(&image, stream, "made.png", &error), error);
    rewind(stream);
    assert_ok(ww_photo_read(&photo, stream, "made.png", &error), error);
    assert_true(photo.has_scale);
    assert_close(photo.pixel_width, 2.5e-6, 1e-9, 0.0);
    /* y is up: the lower row first */
    assert_close(photo.value[0], 32768 / 65535.0, 1e-12, 0.0);
    assert_close(photo.value[3], 1.0, 1e-12, 0.0);
    ww_photo_clear(&photo);
    fclose(stream);
}

/* --- files that are none ------------------------------------------------------------------------------------------------------- */

static size_t bytes_of(FILE *stream, uint8_t *bytes, size_t most)
{
    rewind(stream);
    return fread(bytes, 1, most, stream);
}

static enum ww_status read_bytes(const uint8_t *bytes, size_t count, struct ww_error *error)
{
    struct ww_photo photo = {.nx = 9};
    FILE *stream = tmpfile();
    assert_non_null(stream);
    assert_int_equal(fwrite(bytes, 1, count, stream), count);
    rewind(stream);
    enum ww_status status = ww_photo_read(&photo, stream, "part", error);
    if (status) {
        assert_int_equal(photo.nx, 0);
        assert_null(photo.value);
        assert_true(error->text[0] != '\0');
    }
    ww_photo_clear(&photo);
    fclose(stream);
    return status;
}

/* Cut anywhere, it is refused; in the last chunk, which says only that it is the last, too. */
static void expect_whole_or_refused(FILE *stream)
{
    uint8_t bytes[4096];
    struct ww_error error = {0};
    size_t count = bytes_of(stream, bytes, sizeof bytes);
    assert_true(count < sizeof bytes);
    assert_int_equal(read_bytes(bytes, count, &error), WW_OK);
    for (size_t cut = 0; cut < count; cut++)
        assert_int_equal(read_bytes(bytes, cut, &error), WW_MALFORMED);
    fclose(stream);
}

static void a_png_cut_short_is_refused(void **state)
{
    (void)state;
    const struct kind kind = {PNG_COLOR_TYPE_RGB, 8, PNG_INTERLACE_NONE, 0.0};
    expect_whole_or_refused(png_of(&kind, true));
}

/* The header alone tells the size: nothing of that size is asked for. */
static void a_bomb_is_refused_by_its_header(void **state)
{
    (void)state;
    static const uint32_t sizes[][2] = {{100000, 10}, {10, 100000}, {30000, 30000}, {0x7fffffff, 0x7fffffff}};
    const struct kind kind = {PNG_COLOR_TYPE_GRAY, 8, PNG_INTERLACE_NONE, 0.0};
    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++) {
        uint8_t bytes[4096];
        struct ww_error error = {0};
        FILE *stream = png_of(&kind, false);
        size_t count = bytes_of(stream, bytes, sizeof bytes);
        fclose(stream);
        for (int k = 0; k < 8; k++)
            bytes[16 + k] = (uint8_t)(sizes[i][k / 4] >> (24 - 8 * (k % 4)));
        /* the checksum of 13 bytes and their name, as in the specification's annex */
        uint32_t crc = 0xffffffffU;
        for (int k = 12; k < 29; k++) {
            crc ^= bytes[k];
            for (int bit = 0; bit < 8; bit++)
                crc = (crc & 1U) != 0 ? 0xedb88320U ^ (crc >> 1) : crc >> 1;
        }
        crc ^= 0xffffffffU;
        for (int k = 0; k < 4; k++)
            bytes[29 + k] = (uint8_t)(crc >> (24 - 8 * k));
        assert_int_equal(read_bytes(bytes, count, &error), WW_INVALID);
        assert_contains(error.text, "crop it");
    }
}

static void what_is_no_picture_is_refused(void **state)
{
    (void)state;
    struct ww_error error = {0};
    assert_int_equal(read_bytes((const uint8_t *)"[study]\n", 8, &error), WW_MALFORMED);
    assert_contains(error.text, "neither PNG nor JPEG");
    assert_int_equal(read_bytes((const uint8_t *)"", 0, &error), WW_MALFORMED);
}

/* --- JPEG ---------------------------------------------------------------------------------------------------------------------- */

#ifdef WW_JPEG

static FILE *jpeg_of(int components, bool progressive)
{
    struct jpeg_compress_struct jpeg;
    struct jpeg_error_mgr manager;
    uint8_t row[32 * 4];
    JSAMPROW rows[1] = {row};
    FILE *stream = tmpfile();
    assert_non_null(stream);
    jpeg.err = jpeg_std_error(&manager);
    jpeg_create_compress(&jpeg);
    jpeg_stdio_dest(&jpeg, stream);
    jpeg.image_width = 32;
    jpeg.image_height = 24;
    jpeg.input_components = components;
    jpeg.in_color_space = components == 1 ? JCS_GRAYSCALE : components == 3 ? JCS_RGB : JCS_CMYK;
    jpeg_set_defaults(&jpeg);
    jpeg_set_quality(&jpeg, 98, TRUE);
    if (progressive)
        jpeg_simple_progression(&jpeg);
    jpeg_start_compress(&jpeg, TRUE);
    while (jpeg.next_scanline < jpeg.image_height) {
        for (size_t x = 0; x < 32; x++)
            for (size_t c = 0; c < (size_t)components; c++)
                row[x * (size_t)components + c] = (uint8_t)(40 + 4 * x + 2 * jpeg.next_scanline + 10 * c);
        (void)jpeg_write_scanlines(&jpeg, rows, 1);
    }
    jpeg_finish_compress(&jpeg);
    jpeg_destroy_compress(&jpeg);
    rewind(stream);
    return stream;
}

static void every_jpeg_is_read_as_grey(void **state)
{
    (void)state;
    for (int i = 0; i < 4; i++) {
        struct ww_photo photo;
        struct ww_error error = {0};
        FILE *stream = jpeg_of(i % 2 == 0 ? 1 : 3, i >= 2);
        assert_ok(ww_photo_read(&photo, stream, "made.jpg", &error), error);
        assert_int_equal(photo.nx, 32);
        assert_int_equal(photo.ny, 24);
        double base = 40 + 4 * 20 + 2 * 5, want = i % 2 == 0 ? base / 255.0 : grey_of(base, base + 10, base + 20);
        assert_close(value_at(&photo, 20, 5), want, 0.0, 3.0 / 255.0); /* it is lossy */
        assert_close(photo.pixel_width, 0.0, 0.0, 0.0);
        ww_photo_clear(&photo);
        fclose(stream);
    }
}

static void a_jpeg_of_inks_is_refused(void **state)
{
    (void)state;
    struct ww_photo photo;
    struct ww_error error = {0};
    FILE *stream = jpeg_of(4, false);
    assert_int_equal(ww_photo_read(&photo, stream, "made.jpg", &error), WW_INVALID);
    assert_contains(error.text, "CMYK");
    fclose(stream);
}

static void a_jpeg_cut_short_is_refused(void **state)
{
    (void)state;
    uint8_t bytes[8192];
    struct ww_error error = {0};
    FILE *stream = jpeg_of(3, false);
    size_t count = bytes_of(stream, bytes, sizeof bytes);
    fclose(stream);
    assert_true(count > 700 && count < sizeof bytes);
    assert_int_equal(read_bytes(bytes, count, &error), WW_OK);
    for (size_t cut = 0; cut + 8 < count; cut += 7) /* the last bytes may be of the end mark alone */
        assert_int_equal(read_bytes(bytes, cut, &error), WW_MALFORMED);
}

static void a_jpeg_too_large_is_refused_by_its_header(void **state)
{
    (void)state;
    uint8_t bytes[8192];
    struct ww_error error = {0};
    FILE *stream = jpeg_of(1, false);
    size_t count = bytes_of(stream, bytes, sizeof bytes), at = 0;
    fclose(stream);
    while (at + 9 < count && !(bytes[at] == 0xff && bytes[at + 1] == 0xc0)) /* start of frame */
        at++;
    bytes[at + 5] = bytes[at + 7] = 0xff; /* over 65000 by 65000 */
    assert_int_equal(read_bytes(bytes, count, &error), WW_INVALID);
    assert_contains(error.text, "crop it");
}

#endif

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_png_is_read_as_grey),     cmocka_unit_test(a_scale_goes_before_a_resolution),
        cmocka_unit_test(a_png_cut_short_is_refused),    cmocka_unit_test(a_bomb_is_refused_by_its_header),
        cmocka_unit_test(what_is_no_picture_is_refused),
#ifdef WW_JPEG
        cmocka_unit_test(every_jpeg_is_read_as_grey),    cmocka_unit_test(a_jpeg_of_inks_is_refused),
        cmocka_unit_test(a_jpeg_cut_short_is_refused),   cmocka_unit_test(a_jpeg_too_large_is_refused_by_its_header),
#endif
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
