/* core/photo.h - pictures read as grey: PNG (png_read.c) and, where the build has libjpeg, JPEG (jpeg_read.c).
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A picture may come from anywhere: its size is judged by its header, before anything of that size is allocated. Colour
 * becomes grey by 0.299 R + 0.587 G + 0.114 B of the samples as stored (the Y of JPEG), and what is transparent stands on black.
 */
#ifndef WW_CORE_PHOTO_H
#define WW_CORE_PHOTO_H

#include "weftwise/core.h"

#define WW_PHOTO_LARGEST 30000     /* width or height [pixels] */
#define WW_PHOTO_PIXELS 50000000.0 /* of the whole picture */

/* Zeroed is valid and empty. */
struct ww_photo {
    size_t nx, ny;
    double *value; /* [ny][nx], 0 to 1, row 0 at the bottom: y up */
    /* size of a pixel [m] as the file has it: sCAL, else pHYs. 0: it has none. */
    double pixel_width, pixel_height;
    bool has_scale; /* from sCAL, which is about what is seen; pHYs is about paper */
};

/* Is the size of the header one that may be read? WW_INVALID with the limits if not. */
enum ww_status ww_photo_check(size_t nx, size_t ny, const char *name, struct ww_error *error);
/* Samples of that size, zeroed; WW_NO_MEMORY. */
enum ww_status ww_photo_allocate(struct ww_photo *photo, size_t nx, size_t ny, const char *name,
                                 struct ww_error *error);
void ww_photo_clear(struct ww_photo *photo);

/* Read a PNG or a JPEG, told apart by their first bytes. WW_MALFORMED: neither, broken, or one that ends early; WW_INVALID: over
 * the limits above, a JPEG without libjpeg in this build, or a JPEG's colours that it does not turn to grey; WW_IO; WW_NO_MEMORY. */
enum ww_status ww_photo_read(struct ww_photo *photo, FILE *stream, const char *name, struct ww_error *error);

/* The two formats, from the start of the stream. */
enum ww_status ww_photo_read_png(struct ww_photo *photo, FILE *stream, const char *name, struct ww_error *error);
enum ww_status ww_photo_read_jpeg(struct ww_photo *photo, FILE *stream, const char *name, struct ww_error *error);

#endif
