/* picture/trend.c - pitch and direction of a family from where its yarns are, and their wander from what is left.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A picture taken aslant draws equal pitches apart and parallel yarns together; to the second order in its slant, positions are a
 * quadratic in the yarn's index and the distance along it. So is bow. What is left is wander, and the noise of each position. Noise is
 * alone in its step: with gamma(h) half the mean square difference over h steps, noise^2 + c h^2 at small h, it is
 * (4 gamma(1) - gamma(2))/3.
 *
 * How well the trend is known: positions of one yarn wander together, and those of one step err together, for it is the same yarns of the
 * other family that are seen beside all of them. So the variance is that of sums over yarns, plus that of sums over steps, less that of
 * single positions, which both hold (A. C. Cameron, J. B. Gelbach, D. L. Miller 2011, Journal of Business and Economic
 * Statistics 29: two-way clusters). What all yarns do alike over more than a step is turn and bow of the picture, and no error.
 */
#include "picture/picture.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double ASTRAY = 1e-3; /* of a pitch: from one end of the picture to the other, what no scatter shows */
enum { BY_ROW, BY_STEP, BY_PLACE };
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

double ww_trend_yarn(const struct ww_trend *trend, const struct ww_follow *f, double x, double y)
{
    double i = ww_trend_index(trend, f, x, y), s = x * f->along[0] + y * f->along[1];
    long row = lround(i) + (long)f->middle, step = lround((s - f->first) / f->step);
    if (row < 0 || step < 0 || row >= (long)f->rows || step >= (long)f->steps)
        return i;
    double at = f->path[(size_t)row * f->steps + (size_t)step];
    double left = at - ww_trend_at(trend, index_of(f, (size_t)row), along_of(f, (size_t)step));
    return isnan(left) ? i : i - left / f->pitch;
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
        trend->span = fmax(trend->span, (double)(to - from) * f->step + f->window);
        first = from < first ? from : first;
        last = to > last ? to : last;
        low = fmin(low, index_of(f, r));
        high = fmax(high, index_of(f, r));
    }
    trend->low = low;
    trend->high = high;
    *steps = first < f->steps ? last - first + 1 : 0;
}

/* Terms of the fit in units in which they are near 1, and the inverse of its normal equations. */
struct normal {
    size_t terms;
    double scale_i, scale_s, scale[WW_TREND];
    double inverse[WW_TREND][WW_TREND];
};

static struct normal normal_of(const struct ww_follow *f, size_t terms)
{
    double i = fmax(1.0, (double)f->rows / 2.0), s = fmax(1.0, (double)f->steps * f->step / 2.0);
    return (struct normal){.terms = terms, .scale_i = i, .scale_s = s, .scale = {1.0, i, s, i * i, i * s, s * s}};
}

static void terms_of(const struct normal *n, const struct ww_follow *f, size_t row, size_t step,
                     double term[WW_TREND])
{
    terms_at(index_of(f, row), along_of(f, step), n->scale_i, n->scale_s, term);
}

static bool fit(struct ww_trend *trend, const struct ww_follow *f, struct normal *n)
{
    double a[WW_TREND * WW_TREND] = {0.0}, left[WW_TREND * WW_TREND], b[WW_TREND] = {0.0}, term[WW_TREND];
    for (size_t r = 0; r < f->rows; r++)
        for (size_t j = 0; j < f->steps; j++) {
            double at = f->path[r * f->steps + j];
            if (isnan(at))
                continue;
            terms_of(n, f, r, j, term);
            for (size_t p = 0; p < n->terms; p++) {
                b[p] += term[p] * at;
                for (size_t q = 0; q < n->terms; q++)
                    a[p * n->terms + q] += term[p] * term[q];
            }
        }
    for (size_t k = 0; k < n->terms; k++) {
        memcpy(left, a, sizeof left);
        n->inverse[k][k] = 1.0;
        if (!ww_normal_solve(n->terms, left, n->inverse[k]))
            return false;
    }
    for (size_t p = 0; p < n->terms; p++)
        for (size_t q = 0; q < n->terms; q++)
            trend->c[p] += n->inverse[p][q] * b[q] / n->scale[p];
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

/* --- how well the trend is known ------------------------------------------------------------------------------------------ */

/* Adds what one group of positions, which err alike, adds to the variance of each term. */
static void add_group(const struct normal *n, const double sum[WW_TREND], double weight, double variance[WW_TREND])
{
    for (size_t p = 0; p < n->terms; p++) {
        double moved = 0.0;
        for (size_t q = 0; q < n->terms; q++)
            moved += n->inverse[p][q] * sum[q];
        variance[p] += weight * moved * moved;
    }
}

/* Groups are rows, or steps, or single positions. Of `groups` of them as many are spent as the fit bends. */
static void add_groups(const struct normal *n, const struct residues *r, int by, size_t groups,
                       double variance[WW_TREND])
{
    const struct ww_follow *f = r->follow;
    size_t outer = by == BY_STEP ? f->steps : f->rows, inner = by == BY_STEP ? f->rows : f->steps;
    double spent = n->terms == WW_TREND ? 3.0 : 2.0, all = (double)groups;
    double free = fmax(1.0, all - spent),
           student = 1.0 + 3.0 / free; /* twice it holds 95 of 100, to 7 % from 4 free on */
    double weight = by == BY_PLACE ? -1.0 : student * all / free, term[WW_TREND];
    for (size_t o = 0; o < outer; o++) {
        double sum[WW_TREND] = {0.0};
        for (size_t i = 0; i < inner; i++) {
            size_t row = by == BY_STEP ? i : o, step = by == BY_STEP ? o : i;
            double left = r->left[row * f->steps + step];
            if (isnan(left))
                continue;
            terms_of(n, f, row, step, term);
            for (size_t p = 0; p < n->terms; p++)
                sum[p] = (by == BY_PLACE ? 0.0 : sum[p]) + term[p] * left;
            if (by == BY_PLACE)
                add_group(n, sum, weight, variance);
        }
        if (by != BY_PLACE)
            add_group(n, sum, weight, variance);
    }
}

static void find_errors(struct ww_trend *trend, const struct normal *n, const struct residues *r, size_t steps)
{
    double both[WW_TREND] = {0.0}, single[WW_TREND] = {0.0};
    add_groups(n, r, BY_ROW, trend->yarns, both);
    add_groups(n, r, BY_STEP, steps, both);
    add_groups(n, r, BY_PLACE, 0, single);
    for (size_t p = 0; p < n->terms; p++)
        trend->error[p] = sqrt(fmax(both[p] + single[p], -single[p])) / n->scale[p];
    trend->error[1] = hypot(trend->error[1], ASTRAY * trend->c[1] / (double)trend->yarns);
    trend->error[2] = hypot(trend->error[2], ASTRAY * trend->c[1] / ((double)steps * r->follow->step));
}

static enum ww_status find_deviations(struct ww_trend *trend, const struct ww_follow *f, size_t steps,
                                      const struct normal *n)
{
    struct residues r = {f, malloc(f->rows * f->steps * sizeof *r.left)};
    if (!r.left)
        return WW_NO_MEMORY;
    for (size_t i = 0; i < f->rows; i++)
        for (size_t j = 0; j < f->steps; j++)
            r.left[i * f->steps + j] = f->path[i * f->steps + j] - ww_trend_at(trend, index_of(f, i), along_of(f, j));
    find_wander(trend, &r, steps);
    find_errors(trend, n, &r, steps);
    free(r.left);
    return WW_OK;
}

enum ww_status ww_trend_fit(struct ww_trend *trend, const struct ww_follow *follow, const char *file,
                            struct ww_error *error)
{
    size_t steps;
    *trend = (struct ww_trend){0};
    find_extent(trend, follow, &steps);
    bool bends = trend->yarns >= LEAST_FOR_BEND && steps >= LEAST_FOR_BEND;
    struct normal normal = normal_of(follow, bends ? WW_TREND : 3);
    if (trend->yarns < LEAST_ROWS || steps < 2 || !fit(trend, follow, &normal))
        return ww_error_set(
            error, WW_INVALID, file, 0,
            "shows too little: %zu whole yarns of one family over %zu repeats of the other; give a picture "
            "of at least four yarns each way",
            trend->yarns, steps);
    return find_deviations(trend, follow, steps, &normal)
               ? ww_error_set(error, WW_NO_MEMORY, file, 0, "no memory to fit the yarns")
               : WW_OK;
}
