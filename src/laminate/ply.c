/* ply.c - the Dk of one ply: column by column as a map, and in bulk as a data sheet states it.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A ply of thickness t holds its fabric with plain resin above and below; at which height makes no difference here. A sample of the cell is
 * part warp bundle, part fill bundle, part resin, by volume fractions phi. In a field along z both yarns are seen
 * across their fibres. Two assumptions bracket the truth:
 *   parallel: the field is the same everywhere, so eps averages     eps = mean of eps over the height,
 *   series:   the flux is the same everywhere, so 1/eps averages    eps = t / integral dz/eps,
 * the two bounds of O. Wiener (Abh. Math.-Phys. Kl. Saechs. Ges. Wiss. 32, 509, 1912), taken within a sample as well
 * as along a column. The local map is one or the other.
 *
 * In bulk, a sample much larger than the cell between plates has one eps_zz. Forbid flux between columns and the
 * capacitance can only fall: the mean over the columns of their series values is a lower bound. Make every level an
 * equipotential and it can only rise: the levels, each at the mean of its eps, in series are an upper bound. The bulk
 * Dk is the midpoint; for glass cloth the two are 1 to 3 % apart. A data sheet's Dk depends on its test method too
 * (field along or across the sheet), which the sheet's user has to know.
 */
#include "laminate/ply.h"

#include <math.h>

/* Least Dk of a resin that a sheet is believed to have: PTFE has 2.05 (from memory); below is foam, which nobody presses. A
 * resin above its glass would be one filled with ceramic: then the sheet's Dk says little of the glass. */
static const double LEAST_RESIN_DK = 1.8;

/* eps_zz of the three constituents. */
struct constituents {
    double warp, fill, resin;
};

/* The two averages of one sample. */
static double sample_mean(const struct constituents *eps, double warp, double fill)
{
    return eps->resin + warp * (eps->warp - eps->resin) + fill * (eps->fill - eps->resin);
}

static double sample_mean_inverse(const struct constituents *eps, double warp, double fill)
{
    return 1.0 / eps->resin + warp * (1.0 / eps->warp - 1.0 / eps->resin) +
           fill * (1.0 / eps->fill - 1.0 / eps->resin);
}

/* Average of one column over the ply; column is the index of (ix, iy). */
static double column_dk(const struct ww_cell *cell, double thickness, const struct constituents *eps,
                        enum ww_bound bound, size_t column)
{
    size_t level = cell->nx * cell->ny;
    double dz = cell->thickness / (double)cell->nz;
    double resin = thickness - cell->thickness; /* above and below together */
    double sum = bound == WW_SERIES ? resin / eps->resin : resin * eps->resin;
    for (size_t iz = 0; iz < cell->nz; iz++) {
        double warp = cell->warp[iz * level + column];
        double fill = cell->fill[iz * level + column];
        sum += dz * (bound == WW_SERIES ? sample_mean_inverse(eps, warp, fill) : sample_mean(eps, warp, fill));
    }
    return bound == WW_SERIES ? thickness / sum : sum / thickness;
}

enum ww_status ww_ply_dk_map(const struct ww_ply *ply, enum ww_bound bound, struct ww_map *map,
                             struct ww_error *error)
{
    const struct ww_cell *cell = &ply->cell;
    struct constituents eps = {creal(ply->warp_t), creal(ply->fill_t), creal(ply->eps_resin)};
    enum ww_status status = ww_map_init(map, cell->nx, cell->ny, cell->lx, cell->ly, error);
    if (status)
        return status;
    for (size_t column = 0; column < cell->nx * cell->ny; column++)
        map->value[column] = column_dk(cell, ply->thickness, &eps, bound, column);
    return WW_OK;
}

/* Lower bound of the bulk: columns in series, side by side. */
static double bulk_of_columns(const struct ww_cell *cell, double thickness, const struct constituents *eps)
{
    size_t columns = cell->nx * cell->ny;
    double sum = 0.0;
    for (size_t column = 0; column < columns; column++)
        sum += column_dk(cell, thickness, eps, WW_SERIES, column);
    return sum / (double)columns;
}

/* Upper bound of the bulk: levels averaged, one on top of the other. */
static double bulk_of_levels(const struct ww_cell *cell, double thickness, const struct constituents *eps)
{
    size_t level = cell->nx * cell->ny;
    double dz = cell->thickness / (double)cell->nz;
    double sum = (thickness - cell->thickness) / eps->resin;
    for (size_t iz = 0; iz < cell->nz; iz++) {
        double warp = 0.0, fill = 0.0;
        for (size_t column = 0; column < level; column++) {
            warp += cell->warp[iz * level + column];
            fill += cell->fill[iz * level + column];
        }
        sum += dz / sample_mean(eps, warp / (double)level, fill / (double)level);
    }
    return thickness / sum;
}

double ww_ply_bulk_dk(const struct ww_cell *cell, double ply_thickness, double glass_dk, double resin_dk)
{
    struct constituents eps = {creal(ww_bundle_across(glass_dk, resin_dk, cell->warp_packing)),
                               creal(ww_bundle_across(glass_dk, resin_dk, cell->fill_packing)), resin_dk};
    return 0.5 * (bulk_of_columns(cell, ply_thickness, &eps) + bulk_of_levels(cell, ply_thickness, &eps));
}

/* The bulk Dk grows with the resin's and is nearly straight in it, so false position (with the Illinois halving
 * that keeps both ends moving) gets there in a handful of steps. */
enum ww_status ww_resin_dk_solve(const struct ww_cell *cell, double ply_thickness, double glass_dk, double sheet_dk,
                                 double *resin_dk, struct ww_error *error)
{
    const double tolerance = 1e-13; /* of Dk; far below what rounding leaves of a sheet */
    const int steps = 200;
    *resin_dk = 0.0;
    double low = fmin(LEAST_RESIN_DK, glass_dk), high = glass_dk;
    double miss_low = ww_ply_bulk_dk(cell, ply_thickness, glass_dk, low) - sheet_dk;
    double miss_high = ww_ply_bulk_dk(cell, ply_thickness, glass_dk, high) - sheet_dk;
    if (!(miss_low <= tolerance * sheet_dk && miss_high >= -tolerance * sheet_dk))
        return ww_error_set(
            error, WW_UNPHYSICAL, NULL, 0,
            "no resin gives this ply a bulk Dk of %.4g: it can be %.4g (resin of Dk %.3g) to %.4g (resin as "
            "the glass, Dk %.4g); give one inside, or check the glass and the thickness",
            sheet_dk, miss_low + sheet_dk, low, miss_high + sheet_dk, glass_dk);
    double middle = low;
    for (int step = 0, side = 0; step < steps; step++) {
        middle = miss_high > miss_low ? (low * miss_high - high * miss_low) / (miss_high - miss_low) : low;
        double miss = ww_ply_bulk_dk(cell, ply_thickness, glass_dk, middle) - sheet_dk;
        if (fabs(miss) <= tolerance * sheet_dk || high - low <= tolerance * high)
            break;
        if (miss < 0.0) {
            low = middle;
            miss_low = miss;
            miss_high *= side == -1 ? 0.5 : 1.0;
            side = -1;
        } else {
            high = middle;
            miss_high = miss;
            miss_low *= side == 1 ? 0.5 : 1.0;
            side = 1;
        }
    }
    *resin_dk = middle;
    return WW_OK;
}

static void map_range(const struct ww_map *map, double *low, double *high, double *mean)
{
    size_t count = map->nx * map->ny;
    double sum = 0.0;
    *low = *high = map->value[0];
    for (size_t i = 0; i < count; i++) {
        *low = fmin(*low, map->value[i]);
        *high = fmax(*high, map->value[i]);
        sum += map->value[i];
    }
    *mean = sum / (double)count;
}

enum ww_status ww_ply_report(struct ww_ply *ply, double glass_density, double resin_density, struct ww_error *error)
{
    struct ww_map map = {0};
    double low, high, warp, fill, glass;
    enum ww_status status = ww_ply_dk_map(ply, WW_PARALLEL, &map, error);
    if (status)
        goto done;
    map_range(&map, &low, &high, &ply->dk_parallel);
    ww_map_clear(&map);
    status = ww_ply_dk_map(ply, WW_SERIES, &map, error);
    if (status)
        goto done;
    map_range(&map, &ply->dk_low, &ply->dk_high, &ply->dk_series);

    ww_cell_volume(&ply->cell, &warp, &fill, &glass);
    ply->glass_fraction = glass / ply->thickness;
    double resin_mass = resin_density * (1.0 - ply->glass_fraction);
    double glass_mass = glass_density * ply->glass_fraction;
    ply->resin_content = resin_density > 0.0 ? resin_mass / (resin_mass + glass_mass) : -1.0;
    ply->dk_bulk = ww_ply_bulk_dk(&ply->cell, ply->thickness, creal(ply->eps_glass), creal(ply->eps_resin));
done:
    ww_map_clear(&map);
    return status;
}
