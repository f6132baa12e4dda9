/* via.c - glass in the way of a laser that drills a via.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Woven glass ablates harder than resin, so a beam makes holes that differ with where it meets the cloth (common practice, no
 * source). At a position the glass of every column is its height, the integral of the glass's share over z; a beam of a diameter
 * meets the mean of that over its disc. The disc is a mask of the cell's samples, those at its rim by the share of RIM^2 points
 * that lie within.
 */
#include "laminate/ply.h"

#include <math.h>
#include <stdlib.h>

enum { RIM = 8 };

/* Height of glass in each column [m]. */
static void fill_heights(double *height, const struct ww_cell *cell)
{
    size_t level = cell->nx * cell->ny;
    double dz = cell->thickness / (double)cell->nz;
    for (size_t i = 0; i < level; i++) {
        double sum = 0.0;
        for (size_t iz = 0; iz < cell->nz; iz++)
            sum += cell->warp[iz * level + i] * cell->warp_packing + cell->fill[iz * level + i] * cell->fill_packing;
        height[i] = sum * dz;
    }
}

/* Share of the sample at (ix, iy) steps from the middle of the beam that lies within it. */
static double share_within(ptrdiff_t ix, ptrdiff_t iy, double dx, double dy, double radius)
{
    int within = 0;
    for (int k = 0; k < RIM * RIM; k++) {
        double x = ((double)ix + (k % RIM + 0.5) / RIM - 0.5) * dx;
        double y = ((double)iy + ((double)(k / RIM) + 0.5) / RIM - 0.5) * dy;
        within += x * x + y * y <= radius * radius;
    }
    return (double)within / (RIM * RIM);
}

/* map += share times the heights, moved by (ix, iy) steps; the cell repeats. */
static void add_moved(struct ww_map *map, const double *height, ptrdiff_t ix, ptrdiff_t iy, double share)
{
    ptrdiff_t nx = (ptrdiff_t)map->nx, ny = (ptrdiff_t)map->ny;
    ix = (ix % nx + nx) % nx;
    iy = (iy % ny + ny) % ny;
    for (ptrdiff_t y = 0; y < ny; y++)
        for (ptrdiff_t x = 0; x < nx; x++)
            map->value[y * nx + x] += share * height[(y + iy) % ny * nx + (x + ix) % nx];
}

enum ww_status ww_ply_glass_map(const struct ww_ply *ply, double diameter, struct ww_map *map, struct ww_error *error)
{
    const struct ww_cell *cell = &ply->cell;
    double *height = calloc(cell->nx * cell->ny, sizeof *height), total = 0.0, radius = 0.5 * diameter;
    enum ww_status status = height ? ww_map_init(map, cell->nx, cell->ny, cell->lx, cell->ly, error)
                                   : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a map of glass");
    if (status)
        goto done;
    double dx = cell->lx / (double)cell->nx, dy = cell->ly / (double)cell->ny;
    ptrdiff_t wide = (ptrdiff_t)(radius / dx) + 1, high = (ptrdiff_t)(radius / dy) + 1;
    fill_heights(height, cell);
    for (ptrdiff_t iy = -high; iy <= high; iy++)
        for (ptrdiff_t ix = -wide; ix <= wide; ix++) {
            double share = share_within(ix, iy, dx, dy, radius);
            total += share;
            if (share > 0.0)
                add_moved(map, height, ix, iy, share);
        }
    for (size_t i = 0; i < map->nx * map->ny; i++) /* a beam narrower than the points meets its own column */
        map->value[i] = total > 0.0 ? map->value[i] / total : height[i];
done:
    free(height);
    return status;
}

struct ww_via ww_via_of_map(const struct ww_map *map)
{
    size_t count = map->nx * map->ny;
    struct ww_via via = {.least = map->value[0], .most = map->value[0]};
    for (size_t i = 0; i < count; i++) {
        via.least = fmin(via.least, map->value[i]);
        via.most = fmax(via.most, map->value[i]);
        via.mean += map->value[i] / (double)count;
        via.without += map->value[i] < WW_VIA_NO_GLASS ? 1.0 / (double)count : 0.0;
    }
    return via;
}
