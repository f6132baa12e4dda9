/* picture/paths.c - the yarns' measured paths in the cloth's own frame: what a ply is laid of.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * y of the cloth's frame is the warp's mean direction, x to its right. A picture taken aslant draws even yarns together and apart: to first
 * order in its slant straight yarns stay straight, but positions take on terms in i^2 and i s, i the yarn's index and s along it
 * (trend.c). Those are taken off. What is left is taken as the cloth: turn of the fill against the warp, bow, wander. Places that were
 * lost are bridged along the yarn, which is stiff. Of all crossings whose both yarns are known there the largest rectangle is kept.
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "picture/picture.h"

enum { BRIDGED = 3 /* steps that are bridged where a yarn was lost */ };

/* One system's yarns in the cloth's frame, in their order there: places (along[n], across[n]) of row r at n = r*steps + j, along
 * ascending; NaN where it is not known. */
struct laid {
    size_t rows, steps;
    double *along, *across; /* along is known everywhere */
    double *width;          /* [rows]; 0: not known */
    double even, pitch;     /* of the line across = even + r pitch that fits best */
};

struct crossings {
    struct laid of[WW_SYSTEMS];
    size_t low[WW_SYSTEMS], count[WW_SYSTEMS]; /* of the rectangle */
};

static void clear(struct crossings *c)
{
    for (int s = 0; s < WW_SYSTEMS; s++) {
        free(c->of[s].along);
        free(c->of[s].across);
        free(c->of[s].width);
    }
}

/* --- into the frame ----------------------------------------------------------------------------------------------- */

static void bridge(double *row, size_t steps)
{
    size_t last = steps; /* the last known one; steps: none yet */
    for (size_t j = 0; j < steps; j++) {
        if (isnan(row[j]))
            continue;
        for (size_t k = last + 1; last < steps && j - last <= BRIDGED + 1 && k < j; k++)
            row[k] = row[last] + (row[j] - row[last]) * (double)(k - last) / (double)(j - last);
        last = j;
    }
}

static void put_place(struct laid *laid, const struct ww_picture_yarns *yarns, const double frame[2][2], size_t r,
                      size_t j, double across)
{
    double s = yarns->first + (double)j * yarns->step,
           even = ((double)r - (double)(yarns->rows / 2)) * yarns->pitch.value;
    double turn[2][2]; /* [of the frame][of the picture's directions across, along] */
    for (int k = 0; k < 2; k++) {
        turn[k][0] = frame[k][0] * yarns->across[0] + frame[k][1] * yarns->across[1];
        turn[k][1] = frame[k][0] * yarns->along[0] + frame[k][1] * yarns->along[1];
    }
    size_t row = turn[0][0] < 0.0 ? yarns->rows - 1 - r : r, step = turn[1][1] < 0.0 ? yarns->steps - 1 - j : j;
    size_t n = row * yarns->steps + step;
    laid->across[n] = turn[0][0] * across + turn[0][1] * s;
    laid->along[n] = turn[1][0] * (isnan(across) ? even : across) + turn[1][1] * s;
    laid->width[row] = yarns->edges_seen && yarns->widths[r] > 0.0 ? yarns->widths[r] : 0.0;
}

/* frame: unit vectors across and along this system. */
static enum ww_status lay(struct laid *laid, const struct ww_picture_yarns *yarns, const struct ww_trend *trend,
                          const double frame[2][2])
{
    size_t all = yarns->rows * yarns->steps, middle = yarns->rows / 2;
    double *row = malloc(yarns->steps * sizeof *row);
    *laid = (struct laid){.rows = yarns->rows,
                          .steps = yarns->steps,
                          .along = malloc(all * sizeof *laid->along),
                          .across = calloc(all, sizeof *laid->across),
                          .width = calloc(yarns->rows, sizeof *laid->width)};
    bool good = row && laid->along && laid->across && laid->width;
    for (size_t r = 0; r < yarns->rows && good; r++) {
        double i = (double)r - (double)middle;
        memcpy(row, yarns->path + r * yarns->steps, yarns->steps * sizeof *row);
        bridge(row, yarns->steps);
        for (size_t j = 0; j < yarns->steps; j++) {
            double s = yarns->first + (double)j * yarns->step;
            put_place(laid, yarns, frame, r, j, row[j] - i * (trend->c[3] * i + trend->c[4] * s));
        }
    }
    free(row);
    return good ? WW_OK : WW_NO_MEMORY;
}

static void find_even(struct laid *laid)
{
    double n = 0.0, sum_i = 0.0, sum = 0.0, ii = 0.0, iv = 0.0;
    for (size_t row = 0; row < laid->rows; row++)
        for (size_t k = 0; k < laid->steps; k++) {
            double i = (double)row, v = laid->across[row * laid->steps + k];
            if (isnan(v))
                continue;
            n += 1.0;
            sum_i += i;
            sum += v;
            ii += i * i;
            iv += i * v;
        }
    laid->pitch = (n * iv - sum_i * sum) / (n * ii - sum_i * sum_i);
    laid->even = (sum - laid->pitch * sum_i) / n;
}

static enum ww_status into_frame(struct crossings *c, const struct ww_cloth_picture *cloth,
                                 const struct ww_picture *picture, struct ww_error *error)
{
    const struct ww_picture_yarns *of[WW_SYSTEMS] = {&cloth->warp, &cloth->fill};
    struct ww_trend trend[WW_SYSTEMS];
    enum ww_status status = WW_OK;
    for (int s = 0; s < WW_SYSTEMS && !status; s++) {
        struct ww_follow follow = {.across = {of[s]->across[0], of[s]->across[1]},
                                   .along = {of[s]->along[0], of[s]->along[1]},
                                   .pitch = of[s]->pitch.value,
                                   .step = of[s]->step,
                                   .rows = of[s]->rows,
                                   .steps = of[s]->steps,
                                   .middle = of[s]->rows / 2,
                                   .first = of[s]->first,
                                   .path = of[s]->path};
        status = ww_trend_fit(&trend[s], &follow, picture->file, error);
    }
    if (status)
        return status;
    const double *a = cloth->warp.across, *l = cloth->warp.along, slope = trend[WW_WARP].c[2],
                 size = hypot(1.0, slope);
    const double up[2] = {(l[0] + slope * a[0]) / size, (l[1] + slope * a[1]) / size}, right[2] = {up[1], -up[0]};
    const double frame[WW_SYSTEMS][2][2] = {{{right[0], right[1]}, {up[0], up[1]}},
                                            {{up[0], up[1]}, {right[0], right[1]}}};
    for (int s = 0; s < WW_SYSTEMS; s++) {
        if (lay(&c->of[s], of[s], &trend[s], frame[s]))
            return ww_error_set(error, WW_NO_MEMORY, picture->file, 0, "no memory for the paths of yarns");
        find_even(&c->of[s]);
    }
    return WW_OK;
}

/* --- the rectangle ------------------------------------------------------------------------------------------------- */

/* Where yarn `row` is at a distance along; NaN where it is not known. */
static double across_at(const struct laid *laid, size_t row, double along)
{
    const double *at = laid->along + row * laid->steps, *across = laid->across + row * laid->steps;
    size_t low = 0, high = laid->steps - 1;
    if (!(at[low] <= along && along <= at[high]))
        return NAN;
    while (high - low > 1) {
        size_t middle = (low + high) / 2;
        *(at[middle] <= along ? &low : &high) = middle;
    }
    return across[low] + (along - at[low]) / (at[high] - at[low]) * (across[high] - across[low]);
}

static double even_at(const struct laid *laid, size_t row)
{
    return laid->even + (double)row * laid->pitch;
}

static bool is_known(const struct crossings *c, size_t warp, size_t fill)
{
    const struct laid *x = &c->of[WW_WARP], *y = &c->of[WW_FILL];
    return !isnan(across_at(x, warp, even_at(y, fill))) && !isnan(across_at(y, fill, even_at(x, warp)));
}

/* The largest rectangle of known crossings: above each row of fill yarns, as high as all of a run of warp yarns are known. */
static enum ww_status find_rectangle(struct crossings *c, const struct ww_picture *picture, struct ww_error *error)
{
    size_t nx = c->of[WW_WARP].rows, ny = c->of[WW_FILL].rows, *height = calloc(nx, sizeof *height), most = 0;
    if (!height)
        return ww_error_set(error, WW_NO_MEMORY, picture->file, 0, "no memory for the paths of yarns");
    for (size_t q = 0; q < ny; q++) {
        for (size_t r = 0; r < nx; r++)
            height[r] = is_known(c, r, q) ? height[r] + 1 : 0;
        for (size_t r = 0; r < nx; r++) {
            size_t least = height[r];
            for (size_t to = r; to < nx && least * (nx - r) > most; to++) {
                least = height[to] < least ? height[to] : least;
                if (least * (to - r + 1) <= most)
                    continue;
                most = least * (to - r + 1);
                c->low[WW_WARP] = r;
                c->count[WW_WARP] = to - r + 1;
                c->low[WW_FILL] = q + 1 - least;
                c->count[WW_FILL] = least;
            }
        }
    }
    free(height);
    return WW_OK;
}

static void take_paths(struct ww_yarn_paths *paths, const struct crossings *c, int s)
{
    const struct laid *own = &c->of[s], *other = &c->of[1 - s];
    struct ww_system_paths *of = &paths->of[s];
    size_t places = c->count[1 - s];
    of->pitch = own->pitch;
    for (size_t i = 0; i < of->count; i++) {
        size_t row = c->low[s] + i;
        of->width[i] = own->width[row];
        for (size_t k = 0; k < places; k++)
            of->off[i * places + k] = across_at(own, row, even_at(other, c->low[1 - s] + k)) - even_at(own, row);
    }
}

enum ww_status ww_picture_paths(struct ww_yarn_paths *paths, const struct ww_cloth_picture *cloth,
                                const struct ww_picture *picture, struct ww_error *error)
{
    struct crossings c = {0};
    *paths = (struct ww_yarn_paths){0};
    enum ww_status status = into_frame(&c, cloth, picture, error);
    if (!status)
        status = find_rectangle(&c, picture, error);
    if (!status)
        status = ww_yarn_paths_init(paths, c.count, error);
    for (int s = 0; s < WW_SYSTEMS && !status; s++)
        take_paths(paths, &c, s);
    if (!status)
        (void)ww_picture_plain_name(picture, paths->picture, sizeof paths->picture);
    clear(&c);
    return status;
}
