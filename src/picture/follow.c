/* picture/follow.c - yarns of one family followed through the picture.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The picture is averaged along the yarn over steps of two pitches of the other family, which plain weave repeats over: so a step's profile
 * across the yarn is the same wherever it begins. Its place is first found by the phase of the fundamental under a Hann window of
 * two pitches (which has a null at the mean level and at the second harmonic), from the middle of the picture outwards, each step from
 * where its neighbours lead: so perspective and bow may add up to more than a pitch. Then the mean profile of all steps is the
 * template, and each is shifted on it by least squares of level, contrast and shift, over one pitch about the yarn alone: the window of two
 * pitches would take in a share of the neighbours' wander.
 */
#include "picture/picture.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { PASSES = 4, PER_PITCH = 48 /* samples across */, POSITIONS_MOST = 4000000 };
static const double BAND = 1.25 /* of the pitch, kept either side */, TEMPLATE = 0.47 /* of it that is fitted */;
static const double SHIFT_MOST = 0.15 /* of the pitch in one pass */, ALIKE = 0.25 /* of the variance */;
static const double LOST_MOST = 1.0 / 3.0;
static const double FEW = 2.5; /* windows in half of the picture: below, steps overlap by half */

/* A step of a yarn. */
struct place {
    size_t row, step;
    double distance, centre; /* of the picture's middle; of its band */
    bool placed, lost;
};

struct work {
    struct ww_follow *follow;
    const struct ww_level *level;
    struct place *place;
    size_t places;
    size_t *of;     /* [rows*steps]: place + 1, 0 where there is none */
    double du;      /* between samples across [pixels] */
    size_t half, n; /* n = 2 half + 1 samples */
    float *band;    /* [places][n] */
    double *mean;   /* [n]: the template */
    long fit;       /* samples either side that are fitted */
};

static void point_at(const struct ww_follow *f, double across, double along, double *x, double *y)
{
    *x = across * f->across[0] + along * f->along[0];
    *y = across * f->across[1] + along * f->along[1];
}

static double along_of(const struct ww_follow *f, size_t step)
{
    return f->first + (double)step * f->step;
}

static double nominal(const struct ww_follow *f, size_t row)
{
    return ((double)row - (double)f->middle) * f->pitch;
}

/* The mean over the step at a distance across; NaN outside the picture. */
static double mean_along(const struct work *w, double across, double along)
{
    size_t count = (size_t)ceil(w->follow->window);
    double sum = 0.0, value, x, y;
    for (size_t i = 0; i < count; i++) {
        double at = along + (((double)i + 0.5) / (double)count - 0.5) * w->follow->window;
        point_at(w->follow, across, at, &x, &y);
        if (!ww_level_at(w->level, x, y, &value))
            return NAN;
        sum += value;
    }
    return sum / (double)count;
}

/* --- where the yarns may be ---------------------------------------------------------------------------------------- */

static bool is_inside(const struct work *w, double across, double along)
{
    double x, y, value, a = 0.5 * w->follow->pitch, b = 0.5 * w->follow->window;
    for (int i = 0; i < 4; i++) {
        point_at(w->follow, across + (i & 1 ? a : -a), along + (i & 2 ? b : -b), &x, &y);
        if (!ww_level_at(w->level, x, y, &value))
            return false;
    }
    return true;
}

static int compare_places(const void *a, const void *b)
{
    const struct place *left = a, *right = b;
    if (left->distance != right->distance)
        return left->distance < right->distance ? -1 : 1;
    if (left->row != right->row)
        return left->row < right->row ? -1 : 1;
    return left->step < right->step ? -1 : left->step > right->step;
}

static enum ww_status refuse_memory(const struct work *w, struct ww_error *error)
{
    return ww_error_set(error, WW_NO_MEMORY, w->level->file, 0, "no memory to follow the yarns");
}

static enum ww_status lay_out(struct work *w, const double k[2], double other, struct ww_error *error)
{
    struct ww_follow *f = w->follow;
    double size = hypot(k[0], k[1]), nx = (double)w->level->nx, ny = (double)w->level->ny;
    f->across[0] = k[0] / size;
    f->across[1] = k[1] / size;
    f->along[0] = -f->across[1];
    f->along[1] = f->across[0];
    f->pitch = 1.0 / size;
    f->window = 2.0 * other;
    double wide = 0.5 * (fabs(f->across[0]) * nx + fabs(f->across[1]) * ny);
    double tall = 0.5 * (fabs(f->along[0]) * nx + fabs(f->along[1]) * ny);
    f->step = tall < FEW * f->window ? other : f->window;
    /* two more rows either side: what perspective draws in */
    f->middle = (size_t)ceil(wide / f->pitch) + 2;
    size_t half = (size_t)ceil(tall / f->step);
    f->rows = 2 * f->middle + 1;
    f->steps = 2 * half + 1;
    f->first = -(double)half * f->step;
    if ((double)f->rows * (double)f->steps > POSITIONS_MOST)
        return ww_error_set(error, WW_INVALID, w->level->file, 0, "shows over %d crossings; crop it", POSITIONS_MOST);
    w->du = fmax(0.5, f->pitch / PER_PITCH);
    w->half = (size_t)ceil(BAND * f->pitch / w->du);
    w->n = 2 * w->half + 1;
    w->fit = lround(TEMPLATE * f->pitch / w->du);
    f->path = malloc(f->rows * f->steps * sizeof *f->path);
    w->of = calloc(f->rows * f->steps, sizeof *w->of);
    w->place = calloc(f->rows * f->steps, sizeof *w->place);
    w->mean = calloc(w->n, sizeof *w->mean);
    return f->path && w->of && w->place && w->mean ? WW_OK : refuse_memory(w, error);
}

static void list_places(struct work *w)
{
    struct ww_follow *f = w->follow;
    for (size_t r = 0; r < f->rows; r++)
        for (size_t j = 0; j < f->steps; j++)
            w->place[w->places++] =
                (struct place){.row = r, .step = j, .distance = hypot(nominal(f, r), along_of(f, j))};
    qsort(w->place, w->places, sizeof *w->place, compare_places);
    for (size_t i = 0; i < w->places; i++)
        w->of[w->place[i].row * f->steps + w->place[i].step] = i + 1;
}

/* --- first by phase -------------------------------------------------------------------------------------------------- */

/* Shift of the yarn from `across`, by the phase of the fundamental; NaN where its window leaves the picture. */
static double shift_by_phase(const struct work *w, double across, double along)
{
    double re = 0.0, im = 0.0, pitch = w->follow->pitch;
    size_t reach = PER_PITCH / 2;
    for (size_t i = 1; i < 2 * reach; i++) {
        double u = ((double)i / (double)reach - 1.0) * pitch, c = cos(0.5 * WW_PI * u / pitch);
        double value = mean_along(w, across + u, along), phase = 2.0 * WW_PI * u / pitch;
        re += c * c * value * cos(phase);
        im += c * c * value * sin(phase);
    }
    return atan2(im, re) * pitch / (2.0 * WW_PI);
}

/* Deviation from nominal that the neighbours have. */
static double lead(const struct work *w, const struct place *place)
{
    const struct ww_follow *f = w->follow;
    const long way[4][2] = {{-1, 0}, {1, 0}, {0, -1}, {0, 1}};
    double sum = 0.0, count = 0.0;
    for (int i = 0; i < 4; i++) {
        long row = (long)place->row + way[i][0], step = (long)place->step + way[i][1];
        if (row < 0 || step < 0 || row >= (long)f->rows || step >= (long)f->steps)
            continue;
        const struct place *next = &w->place[w->of[(size_t)row * f->steps + (size_t)step] - 1];
        if (!next->placed)
            continue;
        sum += next->centre - nominal(f, next->row);
        count += 1.0;
    }
    return count > 0.0 ? sum / count : 0.0;
}

static void place_first(struct work *w, double aside)
{
    for (size_t i = 0; i < w->places; i++) {
        struct place *place = &w->place[i];
        double along = along_of(w->follow, place->step), across = nominal(w->follow, place->row) + lead(w, place);
        if (!is_inside(w, across, along))
            continue;
        double shift = shift_by_phase(w, across, along);
        place->centre = across + (isnan(shift) ? 0.0 : shift);
        place->placed = is_inside(w, place->centre, along);
    }
    size_t kept = 0;
    for (size_t i = 0; i < w->places; i++) {
        struct place place = w->place[i];
        place.centre += aside;
        if (place.placed && is_inside(w, place.centre, along_of(w->follow, place.step)))
            w->place[kept++] = place;
    }
    w->places = kept;
    memset(w->of, 0, w->follow->rows * w->follow->steps * sizeof *w->of);
}

/* --- then by the template ---------------------------------------------------------------------------------------------- */

static enum ww_status fill_bands(struct work *w, struct ww_error *error)
{
    w->band = malloc((w->places + 1) * w->n * sizeof *w->band);
    if (!w->band)
        return refuse_memory(w, error);
    for (size_t i = 0; i < w->places; i++)
        for (size_t k = 0; k < w->n; k++)
            w->band[i * w->n + k] = (float)mean_along(w, w->place[i].centre + ((double)k - (double)w->half) * w->du,
                                                      along_of(w->follow, w->place[i].step));
    return WW_OK;
}

/* The band of a place at an offset from the yarn; NaN beyond it or outside the picture. */
static double band_at(const struct work *w, size_t i, double offset)
{
    double at = offset / w->du + (double)w->half;
    if (!(at >= 0.0 && at < (double)(w->n - 1)))
        return NAN;
    size_t k = (size_t)at;
    double share = at - (double)k;
    const float *band = &w->band[i * w->n];
    return (1.0 - share) * band[k] + share * band[k + 1];
}

static double *path_of(const struct work *w, size_t i)
{
    return &w->follow->path[w->place[i].row * w->follow->steps + w->place[i].step];
}

static void average(struct work *w)
{
    for (size_t k = 0; k < w->n; k++) {
        double sum = 0.0, count = 0.0;
        for (size_t i = 0; i < w->places; i++) {
            double value = band_at(w, i, *path_of(w, i) - w->place[i].centre + ((double)k - (double)w->half) * w->du);
            if (w->place[i].lost || isnan(value))
                continue;
            sum += value;
            count += 1.0;
        }
        w->mean[k] = count > 0.0 ? sum / count : 0.0;
    }
}

/* The shift that fits the place on the template best; alike: the share of its variance that the template makes. */
static double shift_on_template(const struct work *w, size_t i, double *alike)
{
    enum { FITTED = 3 };
    double a[FITTED * FITTED] = {0.0}, b[FITTED] = {0.0}, squares = 0.0, count = 0.0, sum = 0.0;
    double moved = *path_of(w, i) - w->place[i].centre;
    for (long k = -w->fit; k <= w->fit; k++) {
        const double *mean = &w->mean[(long)w->half + k];
        double value = band_at(w, i, moved + (double)k * w->du);
        double term[FITTED] = {1.0, mean[0], -(mean[1] - mean[-1]) / (2.0 * w->du)};
        if (isnan(value))
            continue;
        for (int p = 0; p < FITTED; p++) {
            b[p] += term[p] * value;
            for (int q = 0; q < FITTED; q++)
                a[p * FITTED + q] += term[p] * term[q];
        }
        squares += value * value;
        sum += value;
        count += 1.0;
    }
    double right[FITTED] = {b[0], b[1], b[2]};
    *alike = 0.0;
    if (count < 5.0 || !ww_normal_solve(FITTED, a, b) || !(b[1] > 0.0))
        return 0.0;
    double variance = squares - sum * sum / count;
    double explained = b[0] * right[0] + b[1] * right[1] + b[2] * right[2] - sum * sum / count;
    *alike = variance > 0.0 ? explained / variance : 0.0;
    return b[2] / b[1];
}

static void refine(struct work *w)
{
    double most = SHIFT_MOST * w->follow->pitch;
    for (int pass = 0; pass < PASSES; pass++) {
        average(w);
        for (size_t i = 0; i < w->places; i++) {
            double alike, shift = shift_on_template(w, i, &alike);
            w->place[i].lost = !(alike >= ALIKE);
            *path_of(w, i) += fmax(-most, fmin(most, shift));
        }
    }
    for (size_t i = 0; i < w->places; i++)
        if (w->place[i].lost) {
            *path_of(w, i) = NAN;
            w->follow->lost++;
        }
    w->follow->inside = w->places;
}

enum ww_status ww_follow_yarns(struct ww_follow *follow, const struct ww_level *level, const double k[2],
                               double other, double aside, struct ww_error *error)
{
    *follow = (struct ww_follow){0};
    struct work w = {.follow = follow, .level = level};
    enum ww_status status = lay_out(&w, k, other, error);
    if (!status) {
        for (size_t i = 0; i < follow->rows * follow->steps; i++)
            follow->path[i] = NAN;
        list_places(&w);
        place_first(&w, aside);
        status = fill_bands(&w, error);
    }
    if (!status) {
        for (size_t i = 0; i < w.places; i++)
            *path_of(&w, i) = w.place[i].centre;
        refine(&w);
    }
    if (!status && (follow->inside == 0 || (double)follow->lost > LOST_MOST * (double)follow->inside))
        status =
            ww_error_set(error, WW_UNPHYSICAL, level->file, 0,
                         "shows no even cloth: %zu of %zu places look unlike the others; crop it to cloth in focus",
                         follow->lost, follow->inside);
    free(w.place);
    free(w.of);
    free(w.band);
    free(w.mean);
    if (status)
        ww_follow_clear(follow);
    return status;
}

void ww_follow_clear(struct ww_follow *follow)
{
    free(follow->path);
    *follow = (struct ww_follow){0};
}
