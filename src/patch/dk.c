/* dk.c - the local Dk of a patch along a trace.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>
#include <stdlib.h>

#include "core/parallel.h"
#include "weftwise/patch.h"

enum { COLUMNS_ALONG = 4, SLICES = 32, MOST_SAMPLES = 10000 };

/* Thickness over the integral of dz/eps of one column. */
static double column_dk(const struct ww_ply *ply, const struct ww_cloth *cloth, double x, double y)
{
    double warp[SLICES], fill[SLICES], resin = 1 / creal(ply->eps_resin);
    double to_warp = 1 / creal(ply->warp_t) - resin, to_fill = 1 / creal(ply->fill_t) - resin;
    double sum = ply->thickness * resin, dz = ply->cell.thickness / SLICES;
    ww_cloth_column(cloth, x, y, SLICES, NULL, warp, fill);
    for (int i = 0; i < SLICES; i++)
        sum += dz * (warp[i] * to_warp + fill[i] * to_fill);
    return ply->thickness / sum;
}

/* Where along the route from `start` one is at s: the place, and the direction there. */
static void place_at(const struct ww_route_segment *segment, size_t segments, const double start[2], double s,
                     double place[2], double u[2])
{
    place[0] = start[0];
    place[1] = start[1];
    for (size_t i = 0; i < segments; i++) {
        bool here = s <= segment[i].length || i + 1 == segments;
        double by = here ? s : segment[i].length;
        u[0] = sin(segment[i].angle);
        u[1] = cos(segment[i].angle);
        place[0] += by * u[0];
        place[1] += by * u[1];
        if (here)
            return;
        s -= segment[i].length;
    }
}

enum ww_status ww_patch_dk_map(const struct ww_stack *stack, size_t index, const struct ww_patch *patch,
                               const double start[2], const struct ww_route_segment *segment, size_t segments,
                               double width, size_t nx, size_t ny, struct ww_map *map, struct ww_error *error)
{
    double length = 0;
    for (size_t i = 0; i < segments; i++)
        length += segment[i].length > 0 && isfinite(segment[i].angle) ? segment[i].length : -INFINITY;
    if (!(length > 0 && width > 0 && isfinite(length + width)) || nx == 0 || ny == 0 || nx > MOST_SAMPLES ||
        ny > MOST_SAMPLES)
        return ww_error_set(error, WW_INVALID, NULL, 0, "a map of %zu by %zu samples over %g by %g m", nx, ny, length,
                            width);
    enum ww_status status = ww_map_init(map, nx, ny, length, width, error);
    if (status)
        return status;
    const struct ww_ply *ply = &stack->ply[index];
    const struct ww_cloth cloth = {ww_stack_cloth(stack, index).style, patch};
    const double begin[2] = {start[0] - ply->shift_x, start[1] - ply->shift_y};
#ifdef _OPENMP
#pragma omp parallel for schedule(static) num_threads(ww_threads())
#endif
    for (size_t i = 0; i < nx * ny; i++) {
        double n = (((double)(i / nx) + 0.5) / (double)ny - 0.5) * width, sum = 0;
        for (int c = 0; c < COLUMNS_ALONG; c++) {
            double place[2], u[2] = {0, 1};
            place_at(segment, segments, begin, ((double)(i % nx) + (c + 0.5) / COLUMNS_ALONG) / (double)nx * length,
                     place, u);
            sum += column_dk(ply, &cloth, place[0] - n * u[1], place[1] + n * u[0]);
        }
        map->value[i] = sum / COLUMNS_ALONG;
    }
    return WW_OK;
}
