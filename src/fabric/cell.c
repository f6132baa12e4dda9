/* cell.c - the unit cell of a plain weave as two volume fractions, warp and fill, by slices.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A yarn is a superellipse of width a and height b drawn along a cosine. With v the distance from its axis seen from
 * above and p the exponent of the style (2 = ellipse, larger = flatter) its thickness is b (1 - |2v/a|^p)^(1/p). Warp
 * i lies at x = (i + 1/2) px, fill j at y = (j + 1/2) py, warp on top where i + j is even; z from mid-height:
 *   z_warp,i(y) = + (-1)^i (b_fill/2) cos(pi (y - py/2)/py)
 *   z_fill,j(x) = - (-1)^j (b_warp/2) cos(pi (x - px/2)/px)
 * so both faces of the cloth are flush and it is b_warp + b_fill thick.
 *
 * Each sample of the cell is averaged over supersample^2 vertical columns. In a column both yarns are intervals of z,
 * known exactly, and an interval is shared out over the slices by exact lengths: only the two directions in the plane
 * are sampled. Where the intervals overlap, the point belongs to the yarn in which it lies deeper, the one with the
 * smaller normalised radius r^p = |2v/a|^p + |2w/b|^p, w up from the centre line.
 *
 * The overlap belongs to one yarn, so the other has less room than the product of its section and length: under 1 %
 * less for ellipses, up to 13 % less for flat yarns (p = 3) that nearly touch their neighbours. Its glass is not lost:
 * the filaments are squeezed. The cell's packing is the style's raised by what the room has shrunk, so that the cell
 * holds the glass the yarns carry.
 *
 * A system of yarns is described by stations along the direction across it: how thick the yarn is there, which yarn
 * it is (its sign), and how high the other system rides there. A column is one station of each.
 */
#include "fabric/patch.h"
#include "fabric/style.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

enum {
    DEFAULT_ACROSS = 96,
    LEAST_SLICES = 24,
    DEFAULT_SUPERSAMPLE = 6,
    MOST_ACROSS = 4096,
    MOST_SLICES = 1024,
    MOST_SUPERSAMPLE = 64,
    OVERLAP_STEPS = 16 /* segments in which the border between two yarns is sought */
};

/* Doubling the default resolution moves no skew of a shipped style by 0.5 % (tests/scan/test_resolution.c). With slices
 * of 16 um the heaviest cloths missed that by far. */
#define SLICE 8e-6 /* [m] */

struct station {
    double half;       /* half the yarn's thickness [m]; 0 beside it */
    double across;     /* |2v/a|^p, its share of r^p */
    double sign;       /* (-1)^i */
    double undulation; /* cos(pi (x - px/2)/px): height of the axis of the other system */
};

/* What does not change from column to column. */
struct loom {
    double p;
    double warp_height, fill_height;
    struct station *warp; /* nx supersample of them, along x */
    struct station *fill; /* ny supersample of them, along y */
    size_t supersample;
};

/* One sample's slices in one of the two fractions. */
struct slices {
    double *value;
    size_t stride, count;
    double per_height;  /* slices in a metre, where all are alike */
    double share;       /* what a full slice of one column adds */
    const double *edge; /* [count + 1] where they are not: heights of the slices' edges from the lower face up [m] */
};

/* x^p and x^(1/p) for x >= 0; the two shapes that nearly all cloth has are worth the shortcut. */
static double power(double x, double p)
{
    return p == 2.0 ? x * x : p == 3.0 ? x * x * x : pow(x, p);
}

static double root(double x, double p)
{
    return p == 2.0 ? sqrt(x) : p == 3.0 ? cbrt(x) : pow(x, 1.0 / p);
}

/* These are called millions of times, and fmin and fmax look for NaN first. */
static double lesser(double a, double b)
{
    return a < b ? a : b;
}

static double greater(double a, double b)
{
    return a > b ? a : b;
}

/* place: in pitches from the edge of the cell. */
static struct station station_at(double place, double pitch, const struct ww_yarn *yarn, double p)
{
    double i = floor(place), beside = place - i - 0.5; /* of the yarn's axis */
    double across = power(fabs(2.0 * beside * pitch / yarn->width.value), p);
    double sign = i == 2.0 * floor(0.5 * i) ? 1.0 : -1.0;
    return (struct station){
        .across = across,
        .half = across < 1.0 ? 0.5 * yarn->height.value * root(1.0 - across, p) : 0.0,
        .sign = sign,
        .undulation = sign * cos(WW_PI * beside),
    };
}

static void lay_stations(struct station *station, size_t count, double pitch, const struct ww_yarn *yarn, double p)
{
    for (size_t n = 0; n < count; n++)
        station[n] = station_at(2.0 * ((double)n + 0.5) / (double)count, pitch, yarn, p);
}

/* The same over slices that differ in height. */
static void add_to_uneven(const struct slices *slices, double low, double high)
{
    for (size_t iz = 0; high > low && iz < slices->count && slices->edge[iz] < high; iz++) {
        double length = lesser(high, slices->edge[iz + 1]) - greater(low, slices->edge[iz]);
        if (length > 0)
            slices->value[iz * slices->stride] += slices->share * length / (slices->edge[iz + 1] - slices->edge[iz]);
    }
}

/* Share the interval low..high of height [m] out over the slices. */
static void add_interval(const struct slices *slices, double low, double high)
{
    if (slices->edge) {
        add_to_uneven(slices, low, high);
        return;
    }
    double bottom = greater(low * slices->per_height, 0.0); /* in slices */
    double top = lesser(high * slices->per_height, (double)slices->count);
    if (!(top > bottom))
        return;
    size_t first = (size_t)bottom, last = (size_t)top; /* the last is full or not touched where it is count */
    double *value = slices->value + first * slices->stride;
    if (first == last) {
        *value += slices->share * (top - bottom);
        return;
    }
    *value += slices->share * ((double)(first + 1) - bottom);
    for (size_t iz = first + 1; iz < last; iz++)
        *(value += slices->stride) += slices->share;
    if (last < slices->count)
        value[slices->stride] += slices->share * (top - (double)last);
}

/* One yarn in one column. */
struct crossing {
    double centre, half, across, height;
};

static double radius(const struct crossing *yarn, double z, double p)
{
    return yarn->across + power(fabs(2.0 * (z - yarn->centre) / yarn->height), p);
}

/* Divide the interval low..high, inside both yarns, between them. The difference of the radii is smooth: in each step
 * where it changes sign the border lies where the straight line between its ends is zero. */
static void divide_overlap(const struct slices *warp_slices, const struct slices *fill_slices,
                           const struct crossing *warp, const struct crossing *fill, double low, double high,
                           double p)
{
    double step = (high - low) / OVERLAP_STEPS, from = low;
    double here = radius(warp, low, p) - radius(fill, low, p); /* negative: nearer the warp's axis */
    for (int n = 0; n < OVERLAP_STEPS; n++) {
        double z = low + n * step;
        double next = radius(warp, z + step, p) - radius(fill, z + step, p);
        if ((here < 0.0) != (next < 0.0)) {
            double border = z + step * here / (here - next);
            add_interval(here < 0.0 ? warp_slices : fill_slices, from, border);
            from = border;
        }
        here = next;
    }
    add_interval(here < 0.0 ? warp_slices : fill_slices, from, high);
}

/* The same where one yarn's axis lies below the overlap and the other's above, as nearly always: from low to high the
 * difference of the radii only grows, and one step of OVERLAP_STEPS holds its zero. What is below belongs to the lower yarn. */
static double border_between(const struct crossing *lower, const struct crossing *upper, double low, double high,
                             double p)
{
    double step = (high - low) / OVERLAP_STEPS;
    double here = radius(lower, low, p) - radius(upper, low, p);
    double there = radius(lower, high, p) - radius(upper, high, p);
    int from = 0, to = OVERLAP_STEPS;
    if (here >= 0.0 || there < 0.0)
        return here >= 0.0 ? low : high;
    while (to - from > 1) {
        int middle = (from + to) / 2;
        double z = low + middle * step, at_middle = radius(lower, z, p) - radius(upper, z, p);
        if (at_middle < 0.0) {
            from = middle;
            here = at_middle;
        } else {
            to = middle;
            there = at_middle;
        }
    }
    return low + step * (from + here / (here - there));
}

/* One column's two yarns, shared out between the slices. */
static void add_crossing(const struct slices *warp_slices, const struct slices *fill_slices,
                         const struct crossing *warp, const struct crossing *fill, double p)
{
    double warp_low = warp->centre - warp->half, warp_high = warp->centre + warp->half;
    double fill_low = fill->centre - fill->half, fill_high = fill->centre + fill->half;
    double low = greater(warp_low, fill_low), high = lesser(warp_high, fill_high);
    if (high > low && warp->centre <= low && fill->centre >= high)
        warp_high = fill_low = border_between(warp, fill, low, high, p);
    else if (high > low && fill->centre <= low && warp->centre >= high)
        fill_high = warp_low = border_between(fill, warp, low, high, p);
    else if (high > low) {
        divide_overlap(warp_slices, fill_slices, warp, fill, low, high, p);
        add_interval(warp_slices, high, warp_high);
        add_interval(fill_slices, high, fill_high);
        warp_high = fill_high = low;
    }
    add_interval(warp_slices, warp_low, warp_high);
    add_interval(fill_slices, fill_low, fill_high);
}

static void add_column(const struct loom *loom, const struct slices *warp_slices, const struct slices *fill_slices,
                       const struct station *at_x, const struct station *at_y)
{
    double middle = 0.5 * (loom->warp_height + loom->fill_height);
    struct crossing warp = {middle + 0.5 * loom->fill_height * at_x->sign * at_y->undulation, at_x->half,
                            at_x->across, loom->warp_height};
    struct crossing fill = {middle - 0.5 * loom->warp_height * at_y->sign * at_x->undulation, at_y->half,
                            at_y->across, loom->fill_height};
    add_crossing(warp_slices, fill_slices, &warp, &fill, loom->p);
}

/* A wider yarn is as much flatter, and rides as much higher that both faces stay flush. over: +1 or -1 times its undulation. */
static struct crossing crossing_of(const struct ww_lie *lie, const struct ww_yarn *yarn, double thickness,
                                   double over, double p)
{
    double width = yarn->width.value * (1.0 + lie->wider), height = yarn->height.value / (1.0 + lie->wider);
    double across = power(fabs(2.0 * lie->beside / width), p);
    return (struct crossing){0.5 * (thickness + (thickness - height) * over),
                             across < 1.0 ? 0.5 * height * root(1.0 - across, p) : 0.0, across, height};
}

void ww_lies_column(const struct ww_style *style, const struct ww_lie *warp_lie, const struct ww_lie *fill_lie,
                    size_t nz, const double *edge, double *warp, double *fill)
{
    double p = style->shape.value, thickness = style->warp.height.value + style->fill.height.value;
    struct crossing at_warp =
        crossing_of(warp_lie, &style->warp, thickness, warp_lie->sign * fill_lie->undulation, p);
    struct crossing at_fill =
        crossing_of(fill_lie, &style->fill, thickness, -fill_lie->sign * warp_lie->undulation, p);
    struct slices warp_slices = {warp, 1, nz, (double)nz / thickness, 1.0, edge}, fill_slices = warp_slices;
    fill_slices.value = fill;
    for (size_t iz = 0; iz < nz; iz++)
        warp[iz] = fill[iz] = 0.0;
    add_crossing(&warp_slices, &fill_slices, &at_warp, &at_fill, p);
}

void ww_style_column(const struct ww_style *style, double x, double y, size_t nz, const double *edge, double *warp,
                     double *fill)
{
    double p = style->shape.value, height = style->warp.height.value + style->fill.height.value;
    struct loom loom = {.p = p, .warp_height = style->warp.height.value, .fill_height = style->fill.height.value};
    struct station at_x = station_at(x * style->warp_count.value, 1.0 / style->warp_count.value, &style->warp, p);
    struct station at_y = station_at(y * style->fill_count.value, 1.0 / style->fill_count.value, &style->fill, p);
    struct slices warp_slices = {warp, 1, nz, (double)nz / height, 1.0, edge}, fill_slices = warp_slices;
    fill_slices.value = fill;
    for (size_t iz = 0; iz < nz; iz++)
        warp[iz] = fill[iz] = 0.0;
    add_column(&loom, &warp_slices, &fill_slices, &at_x, &at_y);
}

static void fill_row(struct ww_cell *cell, const struct loom *loom, size_t iy)
{
    size_t fine = loom->supersample;
    for (size_t ix = 0; ix < cell->nx; ix++) {
        size_t first = iy * cell->nx + ix;
        struct slices warp = {cell->warp + first,
                              cell->nx * cell->ny,
                              cell->nz,
                              (double)cell->nz / cell->thickness,
                              1.0 / (double)(fine * fine),
                              NULL};
        struct slices fill = warp;
        fill.value = cell->fill + first;
        for (size_t sy = 0; sy < fine; sy++)
            for (size_t sx = 0; sx < fine; sx++)
                add_column(loom, &warp, &fill, &loom->warp[ix * fine + sx], &loom->fill[iy * fine + sy]);
    }
}

/* Rows that others repeat: plain weave is its own mirror image about the axis of a yarn, and half a cell on along both axes it
 * is the same. */
static void repeat_rows(const struct ww_cell *cell, double *fraction)
{
    size_t nx = cell->nx, ny = cell->ny, half = nx / 2;
    for (size_t iz = 0; iz < cell->nz; iz++) {
        double *slice = fraction + iz * nx * ny;
        for (size_t iy = ny / 4; iy < ny / 2; iy++)
            memcpy(slice + iy * nx, slice + (ny / 2 - 1 - iy) * nx, nx * sizeof *slice);
        for (size_t iy = ny / 2; iy < ny; iy++) {
            const double *same = slice + (iy - ny / 2) * nx;
            memcpy(slice + iy * nx, same + half, half * sizeof *slice);
            memcpy(slice + iy * nx + half, same, half * sizeof *slice);
        }
    }
}

static void fill_rows(struct ww_cell *cell, const struct loom *loom)
{
    bool repeats = cell->nx % 2 == 0 && cell->ny % 4 == 0;
    size_t rows = repeats ? cell->ny / 4 : cell->ny;
#ifdef _OPENMP
#pragma omp parallel for schedule(static) num_threads(ww_threads())
#endif
    for (size_t iy = 0; iy < rows; iy++)
        fill_row(cell, loom, iy);
    if (repeats) {
        repeat_rows(cell, cell->warp);
        repeat_rows(cell, cell->fill);
    }
}

static enum ww_status choose_size(size_t *size, size_t asked, double otherwise, size_t most, const char *what,
                                  struct ww_error *error)
{
    double wanted = asked ? (double)asked : ceil(otherwise - 1e-9);
    if (!(wanted <= (double)most))
        return ww_error_set(error, WW_INVALID, NULL, 0, "%.0f %s in the cell of the fabric; give at most %zu", wanted,
                            what, most);
    *size = (size_t)wanted;
    return WW_OK;
}

/* Raise the packing from the style's to what holds the yarn's glass in the room it has in the cell. */
static enum ww_status squeeze(double *packing, double room, const struct ww_yarn *yarn, double pitch,
                              const struct ww_style *style, const char *system, struct ww_error *error)
{
    double glass = yarn->packing * ww_superellipse_area_factor(style->shape.value) * yarn->width.value *
                   yarn->height.value / pitch; /* [m], volume per area */
    *packing = glass / room;
    if (!(room > 0.0))
        return ww_error_set(
            error, WW_UNPHYSICAL, style->file, 0,
            "style %s: where the yarns cross, the glass of the %s has no room in the cell; give a larger "
            "count, narrower yarns or a thicker fabric",
            style->name, system);
    if (!(*packing <= WW_PACKING_MOST))
        return ww_error_set(error, WW_UNPHYSICAL, style->file, 0,
                            "style %s: where the yarns cross, the glass of the %s would be packed %.3f, and round "
                            "filaments pack at most %.3f; give narrower yarns, a thicker fabric or a smaller shape",
                            style->name, system, *packing, WW_PACKING_MOST);
    return WW_OK;
}

enum ww_status ww_cell_build(struct ww_cell *cell, const struct ww_style *style,
                             const struct ww_cell_options *options, struct ww_error *error)
{
    static const struct ww_cell_options none;
    const struct ww_cell_options *wish = options ? options : &none;
    struct loom loom = {0};
    double px, py, warp_room, fill_room, glass;
    size_t samples;
    enum ww_status status;

    *cell = (struct ww_cell){0};
    if ((status = ww_style_check(style, error)))
        goto done;
    cell->thickness = style->warp.height.value + style->fill.height.value;
    double fineness = wish->fineness > 0.0 ? wish->fineness : 1.0;
    double slices = fmax(cell->thickness / SLICE, LEAST_SLICES);
    if ((status =
             choose_size(&cell->nx, wish->nx, DEFAULT_ACROSS * fineness, MOST_ACROSS, "samples along x", error)) ||
        (status =
             choose_size(&cell->ny, wish->ny, DEFAULT_ACROSS * fineness, MOST_ACROSS, "samples along y", error)) ||
        (status = choose_size(&cell->nz, wish->nz, slices * fineness, MOST_SLICES, "slices", error)) ||
        (status = choose_size(&loom.supersample, wish->supersample, DEFAULT_SUPERSAMPLE, MOST_SUPERSAMPLE,
                              "columns per sample", error)))
        goto done;

    px = 1.0 / style->warp_count.value;
    py = 1.0 / style->fill_count.value;
    cell->lx = 2.0 * px;
    cell->ly = 2.0 * py;
    loom.p = style->shape.value;
    loom.warp_height = style->warp.height.value;
    loom.fill_height = style->fill.height.value;

    samples = cell->nx * cell->ny; /* at most 2^24, times 2^10 slices: fits where size_t has 64 bits */
    if (samples > SIZE_MAX / sizeof *cell->warp / cell->nz) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "the cell of the fabric is too large for this machine");
        goto done;
    }
    cell->warp = calloc(samples * cell->nz, sizeof *cell->warp);
    cell->fill = calloc(samples * cell->nz, sizeof *cell->fill);
    loom.warp = malloc(cell->nx * loom.supersample * sizeof *loom.warp);
    loom.fill = malloc(cell->ny * loom.supersample * sizeof *loom.fill);
    if (!cell->warp || !cell->fill || !loom.warp || !loom.fill) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a cell of %zu x %zu x %zu samples",
                              cell->nx, cell->ny, cell->nz);
        goto done;
    }
    lay_stations(loom.warp, cell->nx * loom.supersample, px, &style->warp, loom.p);
    lay_stations(loom.fill, cell->ny * loom.supersample, py, &style->fill, loom.p);

    fill_rows(cell, &loom);

    ww_cell_volume(cell, &warp_room, &fill_room, &glass);
    status = squeeze(&cell->warp_packing, warp_room, &style->warp, px, style, "warp", error);
    if (!status)
        status = squeeze(&cell->fill_packing, fill_room, &style->fill, py, style, "fill", error);

done:
    free(loom.warp);
    free(loom.fill);
    if (status)
        ww_cell_clear(cell);
    return status;
}

/* One slice does: heights are shared out by exact lengths, so their number does not change the room of a bundle. */
enum ww_status ww_style_packing(const struct ww_style *style, double *warp, double *fill, struct ww_error *error)
{
    const struct ww_cell_options flat = {.nz = 1};
    struct ww_cell cell;
    enum ww_status status = ww_cell_build(&cell, style, &flat, error);
    *warp = cell.warp_packing;
    *fill = cell.fill_packing;
    ww_cell_clear(&cell);
    return status;
}

enum ww_status ww_cell_copy(const struct ww_cell *from, struct ww_cell *to, struct ww_error *error)
{
    size_t count = from->nx * from->ny * from->nz;
    *to = *from;
    to->warp = malloc(count * sizeof *to->warp);
    to->fill = malloc(count * sizeof *to->fill);
    if (!to->warp || !to->fill) {
        ww_cell_clear(to);
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a cell of %zu samples", count);
    }
    memcpy(to->warp, from->warp, count * sizeof *to->warp);
    memcpy(to->fill, from->fill, count * sizeof *to->fill);
    return WW_OK;
}

void ww_cell_clear(struct ww_cell *cell)
{
    free(cell->warp);
    free(cell->fill);
    *cell = (struct ww_cell){0};
}

void ww_cell_volume(const struct ww_cell *cell, double *warp, double *fill, double *glass)
{
    size_t count = cell->nx * cell->ny * cell->nz;
    double warp_sum = 0.0, fill_sum = 0.0;
    for (size_t n = 0; n < count; n++) {
        warp_sum += cell->warp[n];
        fill_sum += cell->fill[n];
    }
    *warp = count ? cell->thickness * warp_sum / (double)count : 0.0;
    *fill = count ? cell->thickness * fill_sum / (double)count : 0.0;
    *glass = *warp * cell->warp_packing + *fill * cell->fill_packing;
}
