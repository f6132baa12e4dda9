/* picture/fold.c - a picture folded on the cell that it repeats: samples by their place in the cell, the mean of each bin.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Holes between the yarns are what is darkest in it, by far, whatever is woven of light and dark yarns. Bins are smoothed over 5 by 5 before
 * they are compared, a seventh of the cell: noise and dark rims are less.
 */
#include "picture/picture.h"

#include <math.h>

enum { SMOOTH = 2 /* bins either side */, SAMPLES = 300 /* each way, of a picture */ };

static size_t bin_of(double place)
{
    size_t bin = (size_t)((place - floor(place)) * WW_FOLD);
    return bin < WW_FOLD ? bin : 0;
}

void ww_fold_add(struct ww_fold *fold, double p, double q, double value)
{
    size_t at = bin_of(q) * WW_FOLD + bin_of(p);
    fold->sum[at] += value;
    fold->count[at] += 1.0;
}

bool ww_fold_smooth(struct ww_fold *fold)
{
    enum { ALL = WW_FOLD * WW_FOLD };
    double sum[ALL], count[ALL];
    for (size_t i = 0; i < ALL; i++) {
        sum[i] = count[i] = 0.0;
        for (size_t dq = 0; dq <= 2 * SMOOTH; dq++)
            for (size_t dp = 0; dp <= 2 * SMOOTH; dp++) {
                size_t q = (i / WW_FOLD + dq + WW_FOLD - SMOOTH) % WW_FOLD, p = (i + dp + WW_FOLD - SMOOTH) % WW_FOLD;
                sum[i] += fold->sum[q * WW_FOLD + p];
                count[i] += fold->count[q * WW_FOLD + p];
            }
        if (!(count[i] > 0.0))
            return false;
    }
    fold->mean = 0.0;
    for (size_t i = 0; i < ALL; i++) {
        fold->sum[i] = sum[i] / count[i];
        fold->count[i] = 1.0;
        fold->mean += fold->sum[i] / ALL;
    }
    return true;
}

double ww_fold_darkest(const struct ww_fold *fold, double *p, double *q)
{
    double least = HUGE_VAL;
    for (size_t i = 0; i < (size_t)WW_FOLD * WW_FOLD; i++) {
        if (!(fold->sum[i] < least))
            continue;
        least = fold->sum[i];
        *p = ((double)(i % WW_FOLD) + 0.5) / WW_FOLD;
        *q = ((double)(i / WW_FOLD) + 0.5) / WW_FOLD;
    }
    return least;
}

/* How much darker a bin is than half way from the mean to the darkest. */
static double dark_at(const struct ww_fold *fold, size_t i, double darkest)
{
    return fmax(0.0, 0.5 * (darkest + fold->mean) - fold->sum[i]);
}

double ww_fold_alike(const struct ww_fold *fold, size_t dp, size_t dq)
{
    double p, q, darkest = ww_fold_darkest(fold, &p, &q), both = 0.0, all = 0.0;
    for (size_t i = 0; i < (size_t)WW_FOLD * WW_FOLD; i++) {
        size_t twin = (i / WW_FOLD + dq) % WW_FOLD * WW_FOLD + (i + dp) % WW_FOLD;
        double dark = dark_at(fold, i, darkest);
        both += dark * dark_at(fold, twin, darkest);
        all += dark * dark;
    }
    return all > 0.0 ? both / all : 0.0;
}

/* The middle of what is dark about a place: holes of open cloth are wide. */
static void centre_on_dark(const struct ww_fold *fold, double darkest, double *p, double *q)
{
    enum { PASSES = 4 };
    for (int pass = 0; pass < PASSES; pass++) {
        double all = 0.0, off_p = 0.0, off_q = 0.0;
        for (size_t i = 0; i < (size_t)WW_FOLD * WW_FOLD; i++) {
            double weight = dark_at(fold, i, darkest);
            all += weight;
            off_p += weight * remainder(((double)(i % WW_FOLD) + 0.5) / WW_FOLD - *p, 1.0);
            off_q += weight * remainder(((double)(i / WW_FOLD) + 0.5) / WW_FOLD - *q, 1.0);
        }
        if (!(all > 0.0))
            return;
        *p += off_p / all;
        *q += off_q / all;
    }
}

void ww_holes_find(double aside[2], const struct ww_level *level, const struct ww_follow follow[2],
                   const struct ww_trend trend[2])
{
    struct ww_fold fold = {.mean = 0.0};
    double p = 0.5, q = 0.5;
    size_t dx = level->nx / SAMPLES + 1, dy = level->ny / SAMPLES + 1;
    for (size_t iy = 0; iy < level->ny; iy += dy)
        for (size_t ix = iy / dy % dx; ix < level->nx; ix += dx) {
            double x = (double)ix + 0.5 - 0.5 * (double)level->nx, y = (double)iy + 0.5 - 0.5 * (double)level->ny;
            ww_fold_add(&fold, ww_trend_yarn(&trend[0], &follow[0], x, y), ww_trend_yarn(&trend[1], &follow[1], x, y),
                        level->value[iy * level->nx + ix]);
        }
    if (ww_fold_smooth(&fold)) {
        double darkest = ww_fold_darkest(&fold, &p, &q);
        centre_on_dark(&fold, darkest, &p, &q);
    }
    aside[0] = remainder(p - 0.5, 1.0) * trend[0].c[1];
    aside[1] = remainder(q - 0.5, 1.0) * trend[1].c[1];
}
