/* calibrate.c - a few full solutions set the kernel right.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The mean of the two bounds is good to a per cent of the modulation almost everywhere, but errs most where the cloth
 * differs most from its lateral mean, and that is where the worst case is: up to 4 % along the warp, 8 % along the fill.
 * No weight between the bounds mends that, for there both bounds err to the same side. How much it errs hangs on which
 * yarns make the wave: the warp's, the fill's, or their crossings. Along a direction in which one family stands still,
 * over one period, all other waves average to nothing, so that the mean along the way of full cross-sections there,
 * against the kernel's at the same places, is the factor of that family. The way is where the kernel finds the worst:
 * the skew of a pair changes its sign in the mirror image, so that one placement stands for both; a leg takes its
 * slowest and its fastest. A pair whose pitch nulls its skew says little of the legs: they get sections of their own. A
 * family too weak to tell takes the geometric mean of the others' factors.
 *
 * Where along the way it starts does not matter to the kernel's mean. The field of one ply bends a little with what the
 * other brings at the same place, so plies start STAGGER of a period apart. A single ply starts at a crossing when the way
 * is along its yarns: from there on, it is its own mirror image, and half of the sections stand for all.
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "line/full.h"
#include "scan/delay.h"
#include "scan/extremes.h"

#define RESIDUAL 1e-3 /* of the sections: 1e-4 of the skew */
#define STAGGER 0.382 /* of a period, from ply to ply: no simple fraction */
#define NULLED 0.3    /* worst skew over the spread of a leg, below which legs get sections of their own */
#define WEAK 0.1      /* share of the local relief that must last over the way to tell a factor */
#define MOST 1.5 /* no kernel is off by more: beyond it, or below its inverse, the factor tells of something else */

/* One way along which one family stands still. */
struct way {
    const struct ww_line *line;
    const struct ww_inverse *inverse;
    const struct ww_scan *scan;
    double period;
    size_t count;  /* of sections */
    bool mirrored; /* one ply, along its yarns */
};

static enum ww_status solve_section(const struct way *way, enum ww_signal signal, const double (*from)[2], double s,
                                    double *full, struct ww_error *error)
{
    const struct ww_scan *scan = way->scan;
    double(*place)[2] = calloc(scan->plies, sizeof *place), delay[2];
    if (!place)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the place of %zu plies", scan->plies);
    for (size_t p = 0; p < scan->plies; p++) {
        place[p][0] = from[p][0] + s * scan->ply[p].ux;
        place[p][1] = from[p][1] + s * scan->ply[p].uy;
    }
    enum ww_status status =
        ww_section_legs(way->line, way->inverse, scan->angle, (const double(*)[2])place, RESIDUAL, delay, error);
    *full = delay[0] - (signal == WW_SKEW ? delay[1] : 0);
    free(place);
    return status;
}

/* Every section fills its own place, so that the result is the same on any number of threads. */
static enum ww_status solve_sections(const struct way *way, enum ww_signal signal, const double (*from)[2],
                                     double *full, struct ww_error *error)
{
    size_t solved = way->mirrored ? (way->count + 1) / 2 : way->count;
    enum ww_status status = WW_OK;
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads()) schedule(dynamic)
#endif
    for (size_t i = 0; i < solved; i++) {
        struct ww_error mine = {0};
        double s = ((double)i + 0.5) * way->period / (double)way->count;
        enum ww_status failed = solve_section(way, signal, from, s, &full[i], &mine);
        if (failed) {
#ifdef _OPENMP
#pragma omp critical(ww_solve_sections)
#endif
            {
                status = failed;
                if (error)
                    *error = mine;
            }
        }
    }
    for (size_t i = solved; i < way->count; i++)
        full[i] = full[way->count - 1 - i];
    return status;
}

static double mean_of(const double *a, size_t count)
{
    double sum = 0;
    for (size_t i = 0; i < count; i++)
        sum += a[i];
    return sum / (double)count;
}

/* What kernel and full solution see at the same places along one way: means, and the kernel's relief (rms). */
struct seen {
    double kernel, full, relief;
};

static enum ww_status sample(const struct way *way, enum ww_signal signal, const struct ww_extreme *start,
                             struct seen *seen, struct ww_error *error)
{
    size_t count = way->count, plies = way->scan->plies;
    double(*from)[2] = calloc(plies, sizeof *from), *dk = calloc(4 * count, sizeof *dk);
    enum ww_status status = WW_OK;
    if (!from || !dk) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu sections", count);
        goto done;
    }
    for (size_t p = 0; p < plies; p++) {
        const struct ww_ply_scan *ply = &way->scan->ply[p];
        double at = way->period * (way->mirrored ? 0.25 : STAGGER * (double)p);
        double move = at - (start[p].x * ply->ux + start[p].y * ply->uy);
        from[p][0] = start[p].x + move * ply->ux;
        from[p][1] = start[p].y + move * ply->uy;
    }
    double half = 0.5 * way->period / (double)count, *dk2 = dk + count, *solved = dk2 + count;
    status = ww_scan_profile(way->scan, from, 0, half, way->period - half, count, dk, dk2, solved + count, error);
    if (!status)
        status = solve_sections(way, signal, from, solved, error);
    if (status)
        goto done;
    for (size_t i = 0; i < count; i++)
        dk[i] = (sqrt(dk[i]) - (signal == WW_SKEW ? sqrt(dk2[i]) : 0)) / WW_C0;
    seen->kernel = mean_of(dk, count);
    seen->full = mean_of(solved, count);
    double middle = signal == WW_SKEW ? 0 : seen->kernel, square = 0;
    for (size_t i = 0; i < count; i++)
        square += (dk[i] - middle) * (dk[i] - middle);
    seen->relief = sqrt(square / (double)count);
done:
    free(from);
    free(dk);
    return status;
}

/* 0 where it cannot be told. */
static double factor(double kernel, double full, double relief)
{
    double found = full / kernel;
    return fabs(kernel) > WEAK * relief && found > 1 / MOST && found < MOST ? found : 0;
}

/* Extremes of the plies, high[plies] and low[plies], and the sum of their ranges. */
static enum ww_status find_worst(const struct way *way, enum ww_signal signal, struct ww_extreme *high,
                                 struct ww_extreme *low, double *range, struct ww_error *error)
{
    enum ww_status status = WW_OK;
    *range = 0;
    for (size_t p = 0; p < way->scan->plies && !status; p++) {
        status = ww_map_and_extremes(way->scan, p, signal, WW_MEAN, way->period, NULL, &high[p], &low[p], error);
        *range += high[p].value - low[p].value;
    }
    return status;
}

static enum ww_status scale_skew(const struct way *way, struct ww_extreme *high, struct ww_extreme *low,
                                 double *scale, double *range, struct ww_error *error)
{
    struct seen seen = {0};
    enum ww_status status = find_worst(way, WW_SKEW, high, low, range, error);
    if (!status && *range > 0)
        status = sample(way, WW_SKEW, high, &seen, error);
    *scale = factor(seen.kernel, seen.full, seen.relief);
    return status;
}

static enum ww_status scale_legs(const struct way *whole, struct ww_extreme *high, struct ww_extreme *low,
                                 double *scale, double *range, struct ww_error *error)
{
    struct way way = *whole;
    struct seen slow = {0}, fast = {0};
    way.count = (whole->count + 1) / 2;
    enum ww_status status = find_worst(&way, WW_LEG1, high, low, range, error);
    if (!status && *range > 0)
        status = sample(&way, WW_LEG1, high, &slow, error);
    if (!status && *range > 0)
        status = sample(&way, WW_LEG1, low, &fast, error);
    *scale = factor(slow.kernel - fast.kernel, slow.full - fast.full, slow.relief + fast.relief);
    return status;
}

/* Both factors of the family that stands still along one way. */
static enum ww_status scale_family(const struct way *way, double *skew, double *leg, struct ww_error *error)
{
    size_t plies = way->scan->plies;
    struct ww_extreme *high = calloc(2 * plies, sizeof *high), *low = high + plies;
    double of_skew = 0, of_legs = 0;
    enum ww_status status = WW_OK;
    *skew = *leg = 0;
    if (!high)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", plies);
    if (way->scan->pair) {
        status = find_worst(way, WW_LEG1, high, low, &of_legs, error);
        if (!status)
            status = scale_skew(way, high, low, skew, &of_skew, error);
        *leg = *skew;
    }
    if (!status && !(0.5 * of_skew > NULLED * of_legs))
        status = scale_legs(way, high, low, leg, &of_legs, error);
    free(high);
    return status;
}

/* Factors that could not be told. */
static void fill_in(double factor[WW_FAMILIES])
{
    double product = 1;
    int told = 0;
    for (size_t f = 0; f < WW_FAMILIES; f++)
        if (factor[f] > 0) {
            product *= factor[f];
            told++;
        }
    for (size_t f = 0; f < WW_FAMILIES; f++)
        if (!(factor[f] > 0))
            factor[f] = told ? pow(product, 1.0 / told) : 1;
}

/* The direction in which a family stands still, from the warp of its ply, and its period. */
static void direction_of(const struct ww_cell *cell, enum ww_family family, double *angle, double *period)
{
    double x = family == WW_WARP_WAVES ? 0 : cell->lx, y = family == WW_FILL_WAVES ? 0 : cell->ly;
    *angle = atan2(x, y);
    *period = hypot(x, y);
}

enum ww_status ww_calibrate(struct ww_scales *scales, const struct ww_line *line, size_t sections,
                            struct ww_error *error)
{
    memset(scales, 0, sizeof *scales);
    if (sections == 0 || line->stack->plies == 0)
        return WW_OK;
    struct ww_inverse inverse;
    enum ww_status status = ww_inverse_create(&inverse, line, WW_CROSS_SECTION, error);
    if (status)
        return status;
    for (size_t f = 0; f < WW_FAMILIES && !status; f++) {
        const struct ww_ply *first = &line->stack->ply[0];
        struct way way = {.line = line, .inverse = &inverse, .count = sections};
        struct ww_scan *scan = NULL;
        double angle;
        direction_of(&first->cell, (enum ww_family)f, &angle, &way.period);
        status = ww_scan_create_with(&scan, line, angle + first->turn, false, NULL, error);
        way.scan = scan;
        way.mirrored = line->stack->plies == 1 && f != WW_MIXED_WAVES;
        if (!status)
            status = scale_family(&way, &scales->skew[f], &scales->leg[f], error);
        ww_scan_destroy(scan);
    }
    ww_inverse_destroy(&inverse);
    fill_in(scales->skew);
    fill_in(scales->leg);
    if (status)
        memset(scales, 0, sizeof *scales);
    return status;
}
