/* extremes.c - the greatest and the least value over all positions.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Found on the map by the height of each top, not of its highest sample, and then climbed to on the harmonics themselves.
 */
#include "scan/extremes.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define CLIMBS 12     /* steps of Newton's method at most; three do where the top is round */
#define CLOSE 1e-3    /* samples: so near, the paraboloid's top is that of the harmonics to 1e-10 of the value */
#define ROUNDING 1e-9 /* of a map's range */
#define NEARBY 0.75   /* samples: of the samples around a top at least one lies so near in x and in y */
#define NEAR_TIE 1e-2 /* of a map's range: tops so near in height by the map alone are all climbed to */

enum { TOPS = 6 }; /* at most */

/* A step to a top (sign +1) or a bottom (-1), at most `reach` along each principal direction: Newton's where the curvature has
 * the right sign; where it has the wrong one, as between two tops closer than a sample, the whole reach uphill. */
static void step_uphill(const struct ww_expansion *at, double sign, double reach, double *dx, double *dy)
{
    double angle = 0.5 * atan2(2 * at->xy, at->xx - at->yy), ax = cos(angle), ay = sin(angle);
    double along[2][2] = {{ax, ay}, {-ay, ax}};
    double bend[2], most;
    for (int i = 0; i < 2; i++) {
        double *a = along[i];
        bend[i] = sign * (at->xx * a[0] * a[0] + 2 * at->xy * a[0] * a[1] + at->yy * a[1] * a[1]);
    }
    most = fmax(fabs(bend[0]), fabs(bend[1]));
    *dx = *dy = 0;
    for (int i = 0; i < 2; i++) {
        if (!(fabs(bend[i]) > 1e-12 * most)) /* flat */
            continue;
        double slope = sign * (at->dx * along[i][0] + at->dy * along[i][1]);
        double move = bend[i] < 0 ? fmax(-reach, fmin(reach, -slope / bend[i])) : copysign(reach, slope);
        *dx += move * along[i][0];
        *dy += move * along[i][1];
    }
}

/* Climbs from a sample of the map to the extreme beside it; a step that does not gain is halved, then given up. */
void ww_path_climb(const struct ww_path *path, double sign, struct ww_extreme *extreme)
{
    const struct ww_ply_scan *ply = path->ply;
    double reach = hypot(ply->lx, ply->ly) / (double)path->scan->positions, near = CLOSE * reach;
    struct ww_expansion here = ww_path_expand(path, extreme->x, extreme->y);
    for (int i = 0; i < CLIMBS; i++) {
        double dx, dy;
        step_uphill(&here, sign, reach, &dx, &dy);
        if (!(hypot(dx, dy) > near)) {
            extreme->x += dx;
            extreme->y += dy;
            here.value += 0.5 * (here.dx * dx + here.dy * dy);
            break;
        }
        struct ww_expansion there = ww_path_expand(path, extreme->x + dx, extreme->y + dy);
        if (sign * there.value > sign * here.value) {
            extreme->x += dx;
            extreme->y += dy;
            here = there;
        } else if (reach > 1e-3 * hypot(dx, dy))
            reach = 0.5 * fmin(reach, hypot(dx, dy));
    }
    extreme->value = here.value;
    extreme->x -= ply->lx * floor(extreme->x / ply->lx);
    extreme->y -= ply->ly * floor(extreme->y / ply->ly);
}

/* Height of the top beside a sample, at most one sample off, from the paraboloid through the samples around; -inf: there is
 * none. There is one where no neighbour beside, below or above exceeds the sample by more than rounding, and where the
 * paraboloid's top lies within NEARBY samples: beside a ridge aslant the neighbours differ by how far off the ridge they lie
 * more than by its height. The map repeats in x and y. */
static double top_by(const struct ww_map *map, size_t ix, size_t iy, double sign, double rounding)
{
    size_t nx = map->nx, ny = map->ny, left = ix ? ix - 1 : nx - 1, right = ix + 1 < nx ? ix + 1 : 0;
    const double *row = map->value + iy * nx, *below = map->value + (iy ? iy - 1 : ny - 1) * nx,
                 *above = map->value + (iy + 1 < ny ? iy + 1 : 0) * nx;
    double here = sign * row[ix];
    double beside[2][2] = {{sign * row[left], sign * row[right]}, {sign * below[ix], sign * above[ix]}};
    double slope[2], bend[2], step[2];
    bool crest[2];
    for (int axis = 0; axis < 2; axis++) {
        double before = beside[axis][0], after = beside[axis][1];
        crest[axis] = before <= here + rounding && after <= here + rounding;
        slope[axis] = 0.5 * (after - before);
        bend[axis] = 2 * here - before - after;
        step[axis] = bend[axis] > rounding ? slope[axis] / bend[axis] : 0;
    }
    if (!crest[0] && !crest[1])
        return -INFINITY;
    double cross = 0.25 * sign * (above[right] - above[left] - below[right] + below[left]);
    double det = bend[0] * bend[1] - cross * cross;
    bool is_round = det > rounding * fmax(bend[0], bend[1]) && bend[0] > 0;
    if (is_round) {
        step[0] = (bend[1] * slope[0] + cross * slope[1]) / det;
        step[1] = (bend[0] * slope[1] + cross * slope[0]) / det;
    }
    double far = fmax(fabs(step[0]), fabs(step[1]));
    if (!(crest[0] && crest[1]) && !(is_round && far <= NEARBY))
        return -INFINITY;
    far = fmax(1, far);
    return here + (slope[0] * step[0] + slope[1] * step[1]) * (1 - 0.5 / far) / far;
}

/* The highest tops met so far, by height, no two of them by neighbouring samples; of several as high but for rounding the first
 * comes first. */
struct top {
    size_t ix, iy;
    double height;
};
struct tops {
    size_t count;
    struct top top[TOPS];
};

/* Whether two of n columns or rows are neighbours, or one and the same. */
static bool are_beside(size_t a, size_t b, size_t n)
{
    size_t apart = a > b ? a - b : b - a;
    return apart <= 1 || apart + 1 == n;
}

/* Of samples beside one another, which tell of one top, the highest is kept. */
static void add_top(struct tops *tops, const struct ww_map *map, size_t ix, size_t iy, double sign, double rounding)
{
    struct top *list = tops->top;
    double height = top_by(map, ix, iy, sign, rounding), value = sign * map->value[iy * map->nx + ix];
    if (!(height > -INFINITY))
        return;
    for (size_t i = tops->count; i-- > 0;)
        if (are_beside(ix, list[i].ix, map->nx) && are_beside(iy, list[i].iy, map->ny)) {
            if (value <= sign * map->value[list[i].iy * map->nx + list[i].ix] + rounding)
                return;
            tops->count--;
            memmove(list + i, list + i + 1, (tops->count - i) * sizeof *list);
        }
    size_t at = tops->count;
    while (at > 0 && height > list[at - 1].height + rounding)
        at--;
    if (at == TOPS)
        return;
    tops->count += tops->count < TOPS;
    memmove(list + at + 1, list + at, (tops->count - at - 1) * sizeof *list);
    list[at] = (struct top){ix, iy, height};
}

void ww_map_row_range(const struct ww_map *map, size_t rows, double range[2])
{
    enum { LANES = 32 }; /* that do not wait for one another */
    const double *v = map->value;
    size_t samples = map->nx * rows;
    double least[LANES], most[LANES];
    for (size_t lane = 0; lane < LANES; lane++)
        least[lane] = most[lane] = v[0];
    for (size_t i = 0; i + LANES <= samples; i += LANES)
        for (size_t lane = 0; lane < LANES; lane++) {
            least[lane] = v[i + lane] < least[lane] ? v[i + lane] : least[lane];
            most[lane] = v[i + lane] > most[lane] ? v[i + lane] : most[lane];
        }
    for (size_t i = samples / LANES * LANES; i < samples; i++) {
        least[0] = fmin(least[0], v[i]);
        most[0] = fmax(most[0], v[i]);
    }
    range[0] = least[0];
    range[1] = most[0];
    for (size_t lane = 1; lane < LANES; lane++) {
        range[0] = fmin(range[0], least[lane]);
        range[1] = fmax(range[1], most[lane]);
    }
}

static struct ww_extreme sample_at(const struct ww_map *map, const struct top *top)
{
    return (struct ww_extreme){((double)top->ix + 0.5) * map->lx / (double)map->nx,
                               ((double)top->iy + 0.5) * map->ly / (double)map->ny,
                               map->value[top->iy * map->nx + top->ix]};
}

/* The highest of the tops, or the lowest of the bottoms: each that the map alone cannot tell from it is climbed to. */
static struct ww_extreme climb(const struct ww_path *path, const struct ww_map *map, const struct tops *tops,
                               double sign, double range)
{
    struct ww_extreme best = sample_at(map, tops->top);
    ww_path_climb(path, sign, &best);
    for (size_t i = 1; i < tops->count && tops->top[i].height >= tops->top[0].height - NEAR_TIE * range; i++) {
        struct ww_extreme other = sample_at(map, &tops->top[i]);
        ww_path_climb(path, sign, &other);
        if (sign * other.value > sign * best.value + ROUNDING * range)
            best = other;
    }
    return best;
}

/* The highest top and the lowest bottom, from samples within the first rows; ties are broken by index. A top may lie between
 * samples, above them by at most an eighth of their range in x and in y (a parabola): lower samples are skipped. */
static void search(const struct ww_path *path, const struct ww_map *map, size_t rows, struct ww_extreme *high,
                   struct ww_extreme *low)
{
    double range[2];
    struct tops tops = {0}, bottoms = {0};
    ww_map_row_range(map, rows, range);
    double rounding = ROUNDING * (range[1] - range[0]), may_be = 0.25 * (range[1] - range[0]);
    double tall = range[1] - may_be, deep = range[0] + may_be;
    size_t nx = map->nx;
    for (size_t iy = 0; iy < rows; iy++) {
        const double *row = map->value + iy * nx;
        for (size_t ix = 0; ix < nx; ix++) {
            if (high && row[ix] >= tall)
                add_top(&tops, map, ix, iy, 1, rounding);
            if (low && row[ix] <= deep)
                add_top(&bottoms, map, ix, iy, -1, rounding);
        }
    }
    if (high)
        *high = climb(path, map, &tops, 1, range[1] - range[0]);
    if (low)
        *low = climb(path, map, &bottoms, -1, range[1] - range[0]);
}

/* A map of all positions of which no sample is set yet. */
static enum ww_status map_unset(struct ww_map *map, size_t n, const struct ww_ply_scan *ply, struct ww_error *error)
{
    *map = (struct ww_map){n, n, ply->lx, ply->ly, malloc(n * n * sizeof *map->value)};
    return map->value ? WW_OK
                      : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a map of %zu x %zu samples", n, n);
}

enum ww_status ww_path_extremes(const struct ww_path *path, size_t rows, struct ww_map *keep, struct ww_extreme *high,
                                struct ww_extreme *low, struct ww_error *error)
{
    struct ww_map map = {0};
    if (high)
        memset(high, 0, sizeof *high);
    if (low)
        memset(low, 0, sizeof *low);
    enum ww_status status = map_unset(&map, path->scan->positions, path->ply, error);
    if (!status)
        status = ww_path_map(path, map.value, error);
    if (!status)
        search(path, &map, rows, high, low);
    if (keep && !status)
        *keep = map;
    else
        ww_map_clear(&map);
    return status;
}

enum ww_status ww_map_and_extremes(const struct ww_scan *scan, size_t ply, enum ww_signal signal, enum ww_estimate e,
                                   double length, struct ww_map *keep, struct ww_extreme *high,
                                   struct ww_extreme *low, struct ww_error *error)
{
    struct ww_path path;
    memset(high, 0, sizeof *high);
    memset(low, 0, sizeof *low);
    enum ww_status status = ww_path_init(&path, scan, ply, signal, e, length, error);
    if (!status)
        status = ww_path_extremes(&path, ww_scan_rows(scan, ply), keep, high, low, error);
    ww_path_clear(&path);
    return status;
}

enum ww_status ww_scan_extremes(const struct ww_scan *scan, size_t ply, enum ww_signal signal,
                                enum ww_estimate estimate, double length, struct ww_extreme *high,
                                struct ww_extreme *low, struct ww_error *error)
{
    return ww_map_and_extremes(scan, ply, signal, estimate, length, NULL, high, low, error);
}
