/* core/png.h - the one doorway to libpng: 8-bit colour for figures, 16-bit grey for raw maps. And texts read back.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * sCAL and pCAL are as registered in "Extensions to the PNG 1.2 Specification". All chunks but IDAT and IEND come
 * before the image data, so that a reader knows the scale before the first sample.
 */
#ifndef WW_CORE_PNG_H
#define WW_CORE_PNG_H

#include <stdint.h>

#include "weftwise/core.h"

struct ww_png_text {
    const char *keyword; /* 1..79 characters of ASCII */
    const char *text;    /* UTF-8, any length; NULL or "" is left out */
};

enum ww_png_kind { WW_PNG_RGB8, WW_PNG_GREY16 };

#define WW_PNG_LARGEST 30000 /* width or height */
#define WW_PNG_TEXTS 8       /* at most */

struct ww_png_image {
    enum ww_png_kind kind;
    uint32_t width, height;           /* 1..WW_PNG_LARGEST */
    const uint8_t *rgb;               /* WW_PNG_RGB8: 3 width height bytes, top row first */
    const uint16_t *grey;             /* WW_PNG_GREY16: width height samples in the machine's order, top row first */
    double dots_per_metre;            /* pHYs; 0 leaves it out */
    bool srgb;                        /* sRGB (perceptual intent) and gAMA 0.45455 */
    double pixel_width, pixel_height; /* sCAL [m]; 0 leaves it out */
    const char *quantity;           /* pCAL: what a sample measures, 1..79 characters of ASCII; NULL leaves it out */
    const char *unit;               /* pCAL: "s", "" for a pure number */
    double value_low, value_high;   /* pCAL, linear: what samples 0 and 65535 are worth */
    const struct ww_png_text *text; /* iTXt, not compressed */
    size_t texts;
};

/* Write image to an open stream, which name stands for in messages. WW_INVALID: a size or keyword out of range;
 * WW_IO: the stream refused; WW_NO_MEMORY. */
enum ww_status ww_png_write(const struct ww_png_image *image, FILE *stream, const char *name, struct ww_error *error);

#define WW_PNG_TEXT_LARGEST 4000000 /* bytes of a text that is read */

/* The first text of that keyword in a PNG (iTXt or tEXt, not compressed), before the image or behind it; *text is the
 * caller's to free. The image itself is passed over. WW_MALFORMED: no PNG, or one that ends early; WW_INVALID: it has no
 * such text (one whose checksum is wrong does not count, nor one over WW_PNG_TEXT_LARGEST); WW_IO; WW_NO_MEMORY. */
enum ww_status ww_png_read_text(FILE *stream, const char *name, const char *keyword, char **text,
                                struct ww_error *error);

#endif
