/* core/photo.c - a picture of either format, and the limits of both.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "core/photo.h"

#include <stdlib.h>
#include <string.h>

enum ww_status ww_photo_check(size_t nx, size_t ny, const char *name, struct ww_error *error)
{
    if (nx < 1 || ny < 1 || nx > WW_PHOTO_LARGEST || ny > WW_PHOTO_LARGEST)
        return ww_error_set(error, WW_INVALID, name, 0,
                            "is %zu by %zu pixels, and at most %d each way are read; crop it", nx, ny,
                            WW_PHOTO_LARGEST);
    if ((double)nx * (double)ny > WW_PHOTO_PIXELS)
        return ww_error_set(error, WW_INVALID, name, 0,
                            "is %zu by %zu pixels, and at most %.0f million are read; crop it", nx, ny,
                            WW_PHOTO_PIXELS / 1e6);
    return WW_OK;
}

enum ww_status ww_photo_allocate(struct ww_photo *photo, size_t nx, size_t ny, const char *name,
                                 struct ww_error *error)
{
    enum ww_status status = ww_photo_check(nx, ny, name, error);
    *photo = (struct ww_photo){0};
    if (status)
        return status;
    photo->value = calloc(nx * ny, sizeof *photo->value);
    if (!photo->value)
        return ww_error_set(error, WW_NO_MEMORY, name, 0, "no memory for a picture of %zu by %zu pixels", nx, ny);
    photo->nx = nx;
    photo->ny = ny;
    return WW_OK;
}

void ww_photo_clear(struct ww_photo *photo)
{
    free(photo->value);
    *photo = (struct ww_photo){0};
}

enum ww_status ww_photo_read(struct ww_photo *photo, FILE *stream, const char *name, struct ww_error *error)
{
    unsigned char start[8] = {0};
    *photo = (struct ww_photo){0};
    size_t count = fread(start, 1, sizeof start, stream);
    if (ferror(stream) || fseek(stream, 0, SEEK_SET) != 0)
        return ww_error_set(error, WW_IO, name, 0, "could not be read; give a picture that is a plain file");
    if (count >= 8 && memcmp(start, "\x89PNG\r\n\x1a\n", 8) == 0)
        return ww_photo_read_png(photo, stream, name, error);
    if (count >= 3 && memcmp(start, "\xff\xd8\xff", 3) == 0)
        return ww_photo_read_jpeg(photo, stream, name, error);
    return ww_error_set(error, WW_MALFORMED, name, 0, "is neither PNG nor JPEG; save the picture as one of them");
}
