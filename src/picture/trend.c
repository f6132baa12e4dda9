/* picture/trend.c - pitch and direction of a family from where its yarns are, and their wander from what is left.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A picture taken aslant draws equal pitches apart and parallel yarns together; to the second order in its slant, positions are a
 * quadratic in the yarn's index and the distance along it. So is bow. What is left is wander, and the noise of each position. Noise is
 * alone in its step: with gamma(h) half the mean square difference over h steps, noise^2 + c h^2 at small h, it is
 * (4 gamma(1) - gamma(2))/3. Positions near each other err alike, so the errors of the fit are those of as many positions as there
 * are patches of the wander's correlation in the picture.
 */
#include "picture/picture.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { LEAST_FOR_BEND = 5 /* rows and steps for the quadratic terms */, LEAST_ROWS = 3, LAGS_OF_SPAN = 4 };

struct residues {
    const struct ww_follow *follow;
    double *left; /* [rows][steps], NaN where there is none */
};

static void terms_at(double i, double s, double scale_i, double scale_s, double term[WW_TREND])
{
    double a = i / scale_i, b = s / scale_s;
    const double value[WW_TREND] = {1.0, a, b, a * a, a * b, b * b};
    memcpy(term, value, sizeof value);
}

static double index_of(const struct ww_follow *f, size_t row)
{
    return (double)row - (double)f->middle;
}

static double along_of(const struct ww_follow *f, size_t step)
{
    return f->first + (double)step * f->step;
}

double ww_trend_at(const struct ww_trend *trend, double i, double s)
{
    const double *c = trend->c;
    return c[0] + c[1] * i + c[2] * s + c[3] * i * i + c[4] * i * s + c[5] * s * s;
}

double ww_trend_index(const struct ww_trend *trend, const struct ww_follow *f, double x, double y)
{
    const double *c = trend->c;
    double across = x * f->across[0] + y * f->across[1], s = x * f->along[0] + y * f->along[1];
    double i = (across - c[0] - c[2] * s) / c[1];
    for (int pass = 0; pass < 3; pass++) /* Newton's: the trend is nearly linear */
        i -= (ww_trend_at(trend, i, s) - across) / (c[1] + 2.0 * c[3] * i + c[4] * s);
    return i;
}

/* Extent of what was followed. */
static void find_extent(struct ww_trend *trend, const struct ww_follow *f, size_t *steps)
{
    double low = HUGE_VAL, high = -HUGE_VAL;
    size_t first = f->steps, last = 0;
    trend->yarns = 0;
    for (size_t r = 0; r < f->rows; r++) {
        size_t from = f->steps, to = 0;
        for (size_t j = 0; j < f->steps; j++) {
            if (isnan(f->path[r * f->steps + j]))
                continue;
            from = j < from ? j : from;
            to = j;
        }
        if (from == f->steps)
            continue;
        trend->yarns++;
        trend->span = fmax(trend->span, (double)(to - from + 1) * f->step);
        first = from < first ? from : first;
        last = to > last ? to : last;
        low = fmin(low, index_of(f, r));
        high = fmax(high, index_of(f, r));
    }
    trend->low = low;
    trend->high = high;
    *steps = first < f->steps ? last - first + 1 : 0;
}

static bool fit(struct ww_trend *trend, const struct ww_follow *f, size_t terms, double inverse[WW_TREND])
{
    double a[WW_TREND * WW_TREND] = {0.0}, b[WW_TREND] = {0.0}, term[WW_TREND];
    double scale_i = fmax(1.0, (double)f->rows / 2.0), scale_s = fmax(1.0, (double)f->steps * f->step / 2.0);
    const double scale[WW_TREND] = {1.0, scale_i, scale_s, scale_i * scale_i, scale_i * scale_s, scale_s * scale_s};
    for (size_t r = 0; r < f->rows; r++)
        for (size_t j = 0; j < f->steps; j++) {
            double at = f->path[r * f->steps + j];
            if (isnan(at))
                continue;
            terms_at(index_of(f, r), along_of(f, j), scale_i, scale_s, term);
            for (size_t p = 0; p < terms; p++) {
                b[p] += term[p] * at;
                for (size_t q = 0; q < terms; q++)
                    a[p * terms + q] += term[p] * term[q];
            }
        }
    memset(inverse, 0, WW_TREND * sizeof *inverse);
    if (!ww_normal_solve(terms, a, b, inverse))
        return false;
    for (size_t p = 0; p < WW_TREND; p++) {
        trend->c[p] = b[p] / scale[p];
        inverse[p] = sqrt(inverse[p]) / scale[p];
    }
    return true;
}

/* Mean of the product of what is left at places so many rows and steps apart. */
static double product(const struct residues *r, size_t rows, size_t steps)
{
    const struct ww_follow *f = r->follow;
    double sum = 0.0, count = 0.0;
    for (size_t i = 0; i + rows < f->rows; i++)
        for (size_t j = 0; j + steps < f->steps; j++) {
            double a = r->left[i * f->steps + j], b = r->left[(i + rows) * f->steps + j + steps];
            if (isnan(a) || isnan(b))
                continue;
            sum += a * b;
            count += 1.0;
        }
    return count > 0.0 ? sum / count : 0.0;
}

/* Half the mean square difference over so many steps. */
static double variogram(const struct residues *r, size_t steps)
{
    const struct ww_follow *f = r->follow;
    double sum = 0.0, count = 0.0;
    for (size_t i = 0; i < f->rows; i++)
        for (size_t j = 0; j + steps < f->steps; j++) {
            double d = r->left[i * f->steps + j + steps] - r->left[i * f->steps + j];
            if (isnan(d))
                continue;
            sum += d * d;
            count += 1.0;
        }
    return count > 0.0 ? 0.5 * sum / count : 0.0;
}

/* Where the correlation along falls to 1/e, in steps; 0: not within the lags. */
static double find_length(const struct residues *r, double variance, size_t lags)
{
    double before = 1.0;
    for (size_t h = 1; h <= lags; h++) {
        double now = product(r, 0, h) / variance;
        if (now < exp(-1.0))
            return (double)h - 1.0 + (before - exp(-1.0)) / (before - now);
        before = now;
    }
    return 0.0;
}

static void find_wander(struct ww_trend *trend, const struct residues *r, size_t steps)
{
    double all = product(r, 0, 0), noise = steps > 2 ? (4.0 * variogram(r, 1) - variogram(r, 2)) / 3.0 : all;
    noise = fmax(0.0, fmin(all, noise));
    double variance = all - noise;
    trend->left = sqrt(all);
    trend->noise = sqrt(noise);
    trend->wander = sqrt(variance);
    if (!(variance > 0.0))
        return;
    trend->together = fmax(-1.0, fmin(1.0, product(r, 1, 0) / variance));
    trend->correlation_length = find_length(r, variance, steps / LAGS_OF_SPAN) * r->follow->step;
}

/* How many positions err alike. */
static double alike(const struct ww_trend *trend, const struct ww_follow *f, size_t steps)
{
    double share = trend->left > 0.0 ? trend->wander / trend->left : 0.0, together = fmax(0.0, trend->together);
    double along = trend->correlation_length > 0.0 ? 2.0 * trend->correlation_length / f->step : (double)steps;
    double across = fmin((double)trend->yarns, (1.0 + together) / fmax(1e-3, 1.0 - together));
    return fmax(1.0, share * share * fmin((double)steps, along) * across);
}

static enum ww_status find_rest(struct ww_trend *trend, const struct ww_follow *f, size_t steps,
                                const double inverse[WW_TREND])
{
    struct residues r = {f, malloc(f->rows * f->steps * sizeof *r.left)};
    if (!r.left)
        return WW_NO_MEMORY;
    for (size_t i = 0; i < f->rows; i++)
        for (size_t j = 0; j < f->steps; j++)
            r.left[i * f->steps + j] = f->path[i * f->steps + j] - ww_trend_at(trend, index_of(f, i), along_of(f, j));
    find_wander(trend, &r, steps);
    double each = trend->left * sqrt(alike(trend, f, steps));
    for (size_t p = 0; p < WW_TREND; p++)
        trend->error[p] = each * inverse[p];
    free(r.left);
    return WW_OK;
}

enum ww_status ww_trend_fit(struct ww_trend *trend, const struct ww_follow *follow, const char *file,
                            struct ww_error *error)
{
    double inverse[WW_TREND];
    size_t steps;
    *trend = (struct ww_trend){0};
    find_extent(trend, follow, &steps);
    bool bends = trend->yarns >= LEAST_FOR_BEND && steps >= LEAST_FOR_BEND;
    if (trend->yarns < LEAST_ROWS || steps < 2 || !fit(trend, follow, bends ? WW_TREND : 3, inverse))
        return ww_error_set(
            error, WW_INVALID, file, 0,
            "shows too little: %zu whole yarns of one family over %zu repeats of the other; give a picture "
            "of at least four yarns each way",
            trend->yarns, steps);
    return find_rest(trend, follow, steps, inverse)
               ? ww_error_set(error, WW_NO_MEMORY, file, 0, "no memory to fit the yarns")
               : WW_OK;
}
