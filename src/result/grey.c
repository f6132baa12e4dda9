/* result/grey.c - a map as a picture that carries its own scale and values.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "weftwise/result.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>

#include "core/png.h"

#define LARGEST 65535.0

static enum ww_status check(const struct ww_map *map, const char *path, struct ww_error *error)
{
    if (map->value == NULL || map->nx == 0 || map->ny == 0 || !(map->lx > 0) || !(map->ly > 0))
        return ww_error_set(error, WW_INVALID, path, 0, "the map to save has no samples or no extent");
    if (map->nx > WW_PNG_LARGEST || map->ny > WW_PNG_LARGEST)
        return ww_error_set(error, WW_INVALID, path, 0, "map of %zu by %zu samples; give up to %d", map->nx, map->ny,
                            WW_PNG_LARGEST);
    for (size_t i = 0; i < map->nx * map->ny; i++)
        if (!isfinite(map->value[i]))
            return ww_error_set(error, WW_INVALID, path, 0, "sample %zu of the map, %g, is not a number", i,
                                map->value[i]);
    return WW_OK;
}

static void find_range(const struct ww_map *map, double *low, double *high)
{
    *low = *high = map->value[0];
    for (size_t i = 1; i < map->nx * map->ny; i++) {
        *low = fmin(*low, map->value[i]);
        *high = fmax(*high, map->value[i]);
    }
}

/* Top row of the picture is the map's last: y is up. A map of one value throughout is all zeros. */
static void fill_samples(uint16_t *grey, const struct ww_map *map, double low, double high)
{
    double scale = high > low ? LARGEST / (high - low) : 0;

    for (size_t row = 0; row < map->ny; row++) {
        const double *value = map->value + (map->ny - 1 - row) * map->nx;
        for (size_t ix = 0; ix < map->nx; ix++)
            grey[row * map->nx + ix] = (uint16_t)fmin(LARGEST, (value[ix] - low) * scale + 0.5);
    }
}

enum ww_status ww_result_grey_png(const char *path, const struct ww_map *map, const char *quantity, const char *unit,
                                  const char *study, struct ww_error *error)
{
    struct ww_output output = {0};
    struct ww_png_text source = {"Source", study};
    struct ww_png_image image = {
        .kind = WW_PNG_GREY16, .quantity = quantity, .unit = unit, .text = &source, .texts = 1};
    uint16_t *grey = NULL;
    enum ww_status status = check(map, path, error);

    if (status != WW_OK)
        return status;
    grey = calloc(map->ny, map->nx * sizeof *grey);
    if (grey == NULL) {
        status = ww_error_set(error, WW_NO_MEMORY, path, 0, "no memory to save the map");
        goto done;
    }
    find_range(map, &image.value_low, &image.value_high);
    fill_samples(grey, map, image.value_low, image.value_high);
    image.width = (uint32_t)map->nx;
    image.height = (uint32_t)map->ny;
    image.grey = grey;
    image.pixel_width = map->lx / (double)map->nx;
    image.pixel_height = map->ly / (double)map->ny;

    status = ww_output_open(&output, path, error);
    if (status == WW_OK)
        status = ww_png_write(&image, output.stream, path, error);
    if (status == WW_OK)
        status = ww_output_commit(&output, error);
done:
    ww_output_discard(&output);
    free(grey);
    return status;
}
