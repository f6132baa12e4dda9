/* tests/figure/picture.h - a PNG read back, to be looked at pixel by pixel.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef TEST_FIGURE_PICTURE_H
#define TEST_FIGURE_PICTURE_H

#include "check.h"

#include <png.h>
#include <stdlib.h>

#include "figure/colour.h"

#define MARGIN 0.008 /* of the width, kept clear all around */

struct picture {
    png_image header;
    unsigned char *pixels;
};

static inline void picture_load(struct picture *picture, const char *path)
{
    memset(picture, 0, sizeof *picture);
    picture->header.version = PNG_IMAGE_VERSION;
    assert_true(png_image_begin_read_from_file(&picture->header, path));
    picture->header.format = PNG_FORMAT_RGB;
    picture->pixels = malloc(PNG_IMAGE_SIZE(picture->header));
    assert_non_null(picture->pixels);
    assert_true(png_image_finish_read(&picture->header, NULL, picture->pixels, 0, NULL));
}

static inline bool is_paper(const struct picture *picture, size_t x, size_t y)
{
    const unsigned char *p = picture->pixels + 3 * (y * picture->header.width + x);
    return p[0] == 255 && p[1] == 255 && p[2] == 255;
}

static inline void check_margins(const char *path)
{
    struct picture picture;
    size_t ink = 0;

    picture_load(&picture, path);
    size_t width = picture.header.width, height = picture.header.height;
    size_t margin = (size_t)(MARGIN * (double)width);
    for (size_t y = 0; y < height; y++)
        for (size_t x = 0; x < width; x++) {
            bool edge = x < margin || y < margin || x >= width - margin || y >= height - margin;
            if (edge && !is_paper(&picture, x, y)) {
                print_error("%s: ink at %zu, %zu, in the margin\n", path, x, y);
                fail();
            }
            ink += !is_paper(&picture, x, y);
        }
    assert_true(ink > width * height / 100);
    free(picture.pixels);
}

/* Counts pixels of exactly that colour. */
static inline size_t pixels_of(const struct picture *picture, struct ww_rgb colour)
{
    unsigned char want[3] = {(unsigned char)(colour.r * 255 + 0.5), (unsigned char)(colour.g * 255 + 0.5),
                             (unsigned char)(colour.b * 255 + 0.5)};
    size_t count = 0;

    for (size_t i = 0; i < (size_t)picture->header.width * picture->header.height; i++)
        count += memcmp(picture->pixels + 3 * i, want, 3) == 0;
    return count;
}

#endif
