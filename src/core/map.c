/* map.c - a scalar on a rectangle; layout and sample places are stated in core.h.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "weftwise/core.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>

enum ww_status ww_map_init(struct ww_map *map, size_t nx, size_t ny, double lx, double ly, struct ww_error *error)
{
    *map = (struct ww_map){0};
    if (nx == 0 || ny == 0)
        return ww_error_set(error, WW_INVALID, NULL, 0, "a map of %zu x %zu samples; give at least 1 x 1", nx, ny);
    if (!(lx > 0 && ly > 0 && isfinite(lx) && isfinite(ly)))
        return ww_error_set(error, WW_INVALID, NULL, 0, "a map of %g m x %g m; give sizes above zero", lx, ly);
    if (nx > PTRDIFF_MAX / sizeof(double) / ny)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "a map of %zu x %zu samples is larger than any memory", nx,
                            ny);
    double *value = calloc(nx * ny, sizeof *value);
    if (value == NULL)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a map of %zu x %zu samples", nx, ny);
    *map = (struct ww_map){.nx = nx, .ny = ny, .lx = lx, .ly = ly, .value = value};
    return WW_OK;
}

void ww_map_clear(struct ww_map *map)
{
    free(map->value);
    *map = (struct ww_map){0};
}
