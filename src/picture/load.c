/* picture/load.c - a picture and its scale.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "weftwise/picture.h"

#include <errno.h>
#include <math.h>
#include <string.h>
#include <sys/stat.h>

#include "core/photo.h"

static const double INCH = 0.0254, SQUARE = 1e-3 /* pixels are square within this share */;

static enum ww_status refuse_scale(const char *path, const char *why, struct ww_error *error)
{
    return ww_error_set(error, WW_INVALID, path, 0, "%s; give the side of a pixel, as in --scale '10 um'", why);
}

/* 72 or 96 dots per inch, rounded to a whole number of dots per metre. */
static bool is_of_a_screen(double pixel)
{
    double dots = INCH / pixel;
    return fabs(dots - 72.0) < 0.05 || fabs(dots - 96.0) < 0.05;
}

static enum ww_status take_scale(struct ww_picture *picture, const struct ww_photo *photo, const char *path,
                                 double pixel, struct ww_error *error)
{
    double width = photo->pixel_width, height = photo->pixel_height;
    picture->pixel = pixel > 0.0 ? pixel : width;
    strcpy(picture->from, pixel > 0.0 ? "given" : photo->has_scale ? "sCAL of the file" : "pHYs of the file");
    if (pixel > 0.0)
        return WW_OK;
    if (!(width > 0.0))
        return refuse_scale(path, "has no scale", error);
    if (!(fabs(width - height) <= SQUARE * width))
        return refuse_scale(path, "has pixels that are not square by its scale", error);
    if (!photo->has_scale && is_of_a_screen(width))
        return refuse_scale(path, "has the resolution of a screen, which programs write where none is known", error);
    if (!(width >= 1e-8 && width <= 1e-2))
        return refuse_scale(path, "has a scale outside 10 nm to 10 mm a pixel", error);
    return WW_OK;
}

enum ww_status ww_picture_load(struct ww_picture *picture, const char *path, double pixel, struct ww_error *error)
{
    struct ww_photo photo = {0};
    struct stat about;
    *picture = (struct ww_picture){0};
    FILE *stream = fopen(path, "rb");
    if (!stream)
        return ww_error_set(error, WW_IO, path, 0, "cannot be opened: %s", strerror(errno));
    enum ww_status status = WW_OK;
    if (fstat(fileno(stream), &about) == 0 && S_ISDIR(about.st_mode))
        status = ww_error_set(error, WW_IO, path, 0, "is a folder; give a picture");
    if (!status)
        status = ww_photo_read(&photo, stream, path, error);
    (void)fclose(stream);
    if (!status)
        status = take_scale(picture, &photo, path, pixel, error);
    if (status) {
        ww_photo_clear(&photo);
        *picture = (struct ww_picture){0};
        return status;
    }
    (void)snprintf(picture->file, sizeof picture->file, "%s", path);
    picture->nx = photo.nx;
    picture->ny = photo.ny;
    picture->value = photo.value; /* taken over */
    return WW_OK;
}

void ww_picture_clear(struct ww_picture *picture)
{
    struct ww_photo photo = {.value = picture->value};
    ww_photo_clear(&photo);
    *picture = (struct ww_picture){0};
}
