/* calibrate.c - one number that a handful of full solutions gives the kernel.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The mean of the two bounds is good to a per cent of the modulation almost everywhere, but errs most where the cloth
 * differs most from its lateral mean, and that is where the worst case is: up to 4 % along the warp, 8 % along the fill.
 * No weight between the bounds mends that, for there both bounds err to the same side. So the field is solved in full at
 * a few cross-sections along the worst placements that the kernel itself finds, and what varies over the cell is scaled
 * to agree; sixteen of them catch the dips that yarns which touch leave along the trace. Along a yarn it is the mean along the way that makes the skew, and the
 * ratio of the means is taken; at an angle the way averages to little and the least-squares factor between the local
 * values is. Both legs of a pair swap roles in the mirror image, so that one placement stands for both signs; a leg
 * takes its slowest and its fastest.
 */
#include "scan/calibrate.h"

#include <math.h>
#include <stdlib.h>

#include "line/full.h"

#define RESIDUAL 1e-4 /* of the sections: far below what the scale is good for */
#define LASTING 0.5   /* share of the local modulation that must remain in the mean to take the ratio of means */

static enum ww_status solve_section(const struct ww_line *line, const struct ww_inverse *inverse,
                                    const struct ww_scan *scan, enum ww_signal signal, const double (*from)[2],
                                    double s, double *full, struct ww_error *error)
{
    double(*place)[2] = calloc(scan->plies, sizeof *place);
    if (!place)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the place of %zu plies", scan->plies);
    for (size_t p = 0; p < scan->plies; p++) {
        place[p][0] = from[p][0] + s * scan->ply[p].ux;
        place[p][1] = from[p][1] + s * scan->ply[p].uy;
    }
    double delay[2];
    enum ww_status status =
        ww_section_legs(line, inverse, scan->angle, (const double(*)[2])place, RESIDUAL, delay, error);
    *full = delay[0] - (signal == WW_SKEW ? delay[1] : 0);
    free(place);
    return status;
}

/* Every section fills its own place, so that the result is the same on any number of threads. */
static enum ww_status solve_sections(const struct ww_line *line, const struct ww_scan *scan, enum ww_signal signal,
                                     const double (*from)[2], double step, size_t count, double *full,
                                     struct ww_error *error)
{
    struct ww_inverse inverse;
    enum ww_status status = ww_inverse_create(&inverse, line, WW_CROSS_SECTION, error);
    if (status)
        return status;
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads()) schedule(dynamic)
#endif
    for (size_t i = 0; i < count; i++) {
        struct ww_error mine = {0};
        enum ww_status failed =
            solve_section(line, &inverse, scan, signal, from, ((double)i + 0.5) * step, &full[i], &mine);
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
    ww_inverse_destroy(&inverse);
    return status;
}

/* Cross-sections along one placement: what the kernel and the full solution see there, skew or delay per length. */
static enum ww_status sample_way(const struct ww_line *line, const struct ww_scan *scan, enum ww_signal signal,
                                 const struct ww_extreme *start, size_t count, double *kernel, double *full,
                                 struct ww_error *error)
{
    size_t plies = scan->plies;
    double(*from)[2] = calloc(plies, sizeof *from), *dk = calloc(3 * count, sizeof *dk), cell = 0;
    enum ww_status status = WW_OK;
    if (!from || !dk) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu sections", count);
        goto done;
    }
    for (size_t p = 0; p < plies; p++) {
        const struct ww_ply_scan *ply = &scan->ply[p];
        from[p][0] = start[p].x;
        from[p][1] = start[p].y;
        cell = fmax(cell, fabs(ply->ux) * ply->lx + fabs(ply->uy) * ply->ly);
    }
    double step = cell / (double)count, *dk2 = dk + count, *running = dk2 + count;
    status = ww_scan_profile(scan, from, 0.5 * step, cell - 0.5 * step, count, dk, dk2, running, error);
    for (size_t i = 0; i < count && !status; i++)
        kernel[i] = (sqrt(dk[i]) - (signal == WW_SKEW ? sqrt(dk2[i]) : 0)) / WW_C0;
    if (!status)
        status = solve_sections(line, scan, signal, from, step, count, full, error);
done:
    free(from);
    free(dk);
    return status;
}

static double mean_of(const double *a, size_t count)
{
    double sum = 0;
    for (size_t i = 0; i < count; i++)
        sum += a[i];
    return sum / (double)count;
}

/* Factor between kernel and full; of a leg, the second half of the values is of the low placement. */
static double factor(const double *kernel, const double *full, size_t count, bool skew)
{
    size_t half = skew ? count : count / 2;
    double kernel_high = mean_of(kernel, half), full_high = mean_of(full, half);
    double kernel_low = skew ? -kernel_high : mean_of(kernel + half, half);
    double full_low = skew ? -full_high : mean_of(full + half, half);
    double kernel_mid = 0.5 * (kernel_high + kernel_low), full_mid = 0.5 * (full_high + full_low);
    double cross = 0, square = 0;
    for (size_t i = 0; i < count; i++) {
        cross += (kernel[i] - kernel_mid) * (full[i] - full_mid);
        square += (kernel[i] - kernel_mid) * (kernel[i] - kernel_mid);
    }
    double lasting = 0.5 * (kernel_high - kernel_low);
    if (lasting * lasting > LASTING * LASTING * square / (double)count)
        return (full_high - full_low) / (kernel_high - kernel_low);
    return square > 0 ? cross / square : 1;
}

enum ww_status ww_calibrate(const struct ww_line *line, const struct ww_scan *scan, enum ww_signal signal,
                            const struct ww_extreme *high, const struct ww_extreme *low, size_t sections,
                            double *scale, struct ww_error *error)
{
    *scale = 1;
    sections += sections % 2;
    double *kernel = calloc(2 * sections, sizeof *kernel), *full = kernel ? kernel + sections : NULL;
    if (!kernel)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu sections", sections);
    bool skew = signal == WW_SKEW;
    size_t half = skew ? sections : sections / 2;
    enum ww_status status = sample_way(line, scan, signal, high, half, kernel, full, error);
    if (!status && !skew)
        status = sample_way(line, scan, signal, low, half, kernel + half, full + half, error);
    double found = factor(kernel, full, sections, skew);
    if (!status && found > 0)
        *scale = found;
    free(kernel);
    return status;
}
