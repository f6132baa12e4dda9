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

enum ww_status ww_patch_dk_map(const struct ww_stack *stack, size_t index, const struct ww_patch *patch,
                               const double start[2], double theta, double length, double width, size_t nx, size_t ny,
                               struct ww_map *map, struct ww_error *error)
{
    if (!(length > 0 && width > 0 && isfinite(length + width + theta)) || nx == 0 || ny == 0 || nx > MOST_SAMPLES ||
        ny > MOST_SAMPLES)
        return ww_error_set(error, WW_INVALID, NULL, 0, "a map of %zu by %zu samples over %g by %g m", nx, ny, length,
                            width);
    enum ww_status status = ww_map_init(map, nx, ny, length, width, error);
    if (status)
        return status;
    const struct ww_ply *ply = &stack->ply[index];
    const struct ww_cloth cloth = {ww_stack_cloth(stack, index).style, patch};
    double ux = sin(theta), uy = cos(theta);
#ifdef _OPENMP
#pragma omp parallel for schedule(static) num_threads(ww_threads())
#endif
    for (size_t i = 0; i < nx * ny; i++) {
        double n = (((double)(i / nx) + 0.5) / (double)ny - 0.5) * width, sum = 0;
        for (int c = 0; c < COLUMNS_ALONG; c++) {
            double s = ((double)(i % nx) + (c + 0.5) / COLUMNS_ALONG) / (double)nx * length;
            sum += column_dk(ply, &cloth, start[0] - ply->shift_x + s * ux - n * uy,
                             start[1] - ply->shift_y + s * uy + n * ux);
        }
        map->value[i] = sum / COLUMNS_ALONG;
    }
    return WW_OK;
}
