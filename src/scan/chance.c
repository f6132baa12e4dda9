/* chance.c - how likely.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The registration of the cloth is uniform over its cell, so the distribution of a value is the histogram of its map.
 * A trace along the yarns makes a map that changes in one direction only, where a few hundred samples leave gaps
 * between the values: each sample therefore stands for all values over its square, on a plane with its slopes. On a
 * plane that is the sum of two even spreads, one per direction; for the lesser stand two points of equal variance.
 * Registrations of different plies are independent and their values add, so distributions convolve.
 */
#include "scan/chance.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/transform.h"

#define APART 0.28867513459481287 /* 1/sqrt 12: two points that far out have the variance of an even spread of 1 */
#define LESSER 0.25 /* of the greater spread: below, one even spread of the same variance stands for both */
#define ACTIVE 8
#define BINS 4096.0 /* over the whole range of the value */

void ww_distribution_clear(struct ww_distribution *distribution)
{
    free(distribution->probability);
    memset(distribution, 0, sizeof *distribution);
}

/* A sample's square, in bins: its middle, and the spread across x and y. */
struct patch {
    double middle, more, less;
};

/* The rows about one row of a map. */
struct rows {
    const double *below, *here, *above;
};

static struct rows rows_about(const struct ww_map *map, size_t iy)
{
    size_t nx = map->nx, ny = map->ny;
    return (struct rows){map->value + (iy ? iy - 1 : ny - 1) * nx, map->value + iy * nx,
                         map->value + (iy + 1 < ny ? iy + 1 : 0) * nx};
}

static struct patch patch_at(const struct rows *rows, size_t ix, size_t nx, double per_step)
{
    double across = fabs(rows->here[ix + 1 < nx ? ix + 1 : 0] - rows->here[ix ? ix - 1 : nx - 1]);
    double up = fabs(rows->above[ix] - rows->below[ix]);
    bool wider = across > up;
    return (struct patch){rows->here[ix] * per_step, 0.5 * per_step * (wider ? across : up),
                          0.5 * per_step * (wider ? up : across)};
}

/* Weight times what lies below `end` of an even density of one per bin, each bin taking the hat of width two round its
 * middle, so that means are kept. change[i] counts for every bin up to i. */
static void add_below(double *change, double end, double weight)
{
    size_t j = (size_t)end;
    double t = end - (double)j;
    change[j - 1] += weight * (0.5 - t + 0.5 * t * t);
    change[j] += weight * (0.5 + t - t * t);
    change[j + 1] += weight * 0.5 * t * t;
}

/* An even spread; of less than a bin, the two bins beside its middle. */
static void add_spread(double *change, double middle, double width, double share)
{
    if (width > 1) {
        add_below(change, middle + 0.5 * width, share / width);
        add_below(change, middle - 0.5 * width, -share / width);
        return;
    }
    size_t j = (size_t)middle;
    double t = middle - (double)j;
    change[j - 1] -= share * (1 - t);
    change[j] += share * (1 - 2 * t);
    change[j + 1] += share * t;
}

static void add_patch(double *change, struct patch patch, double first, double share)
{
    double middle = patch.middle - first, apart = patch.less * APART;
    if (patch.less > LESSER * patch.more && patch.less > 1) {
        add_spread(change, middle - apart, patch.more, 0.5 * share);
        add_spread(change, middle + apart, patch.more, 0.5 * share);
    } else
        add_spread(change, middle, sqrt(patch.more * patch.more + patch.less * patch.less), share);
}

/* Does the map repeat after half its sides, as that of a plain weave does, whose warp and fill change places there? Then
 * one half of the rows tells all. */
static bool has_twin(const struct ww_map *map, double step)
{
    size_t nx = map->nx, half = nx / 2;
    if (nx % 2 || map->ny % 2)
        return false;
    double most = 1e-6 * step;
    for (size_t iy = 0; iy < map->ny / 2; iy++) {
        const double *row = map->value + iy * nx, *twin = row + map->ny / 2 * nx;
        for (size_t ix = 0; ix < half; ix++)
            if (!(fabs(row[ix] - twin[ix + half]) < most && fabs(row[ix + half] - twin[ix]) < most))
                return false;
    }
    return true;
}

/* The bins that a map's values and their squares reach: low..high, in bins. */
static void measure(const struct ww_map *map, size_t rows_used, double per_step, double *low, double *high)
{
    *low = INFINITY;
    *high = -INFINITY;
    for (size_t iy = 0; iy < rows_used; iy++) {
        struct rows rows = rows_about(map, iy);
        for (size_t ix = 0; ix < map->nx; ix++) {
            struct patch patch = patch_at(&rows, ix, map->nx, per_step);
            double half = 0.5 * (patch.more + patch.less), bottom = patch.middle - half, top = patch.middle + half;
            *low = bottom < *low ? bottom : *low;
            *high = top > *high ? top : *high;
        }
    }
}

enum ww_status ww_distribution_of_map(struct ww_distribution *d, const struct ww_map *map, double step,
                                      struct ww_error *error)
{
    memset(d, 0, sizeof *d);
    double low, high, per_step = 1 / step;
    size_t rows_used = has_twin(map, step) ? map->ny / 2 : map->ny;
    measure(map, rows_used, per_step, &low, &high);
    double first = floor(low) - 2, samples = (double)map->nx * (double)rows_used;
    size_t count = (size_t)(floor(high) - first) + 3;
    double *bin = calloc(count, sizeof *bin);
    if (!bin)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a distribution of %zu bins", count);
    for (size_t iy = 0; iy < rows_used; iy++) {
        struct rows rows = rows_about(map, iy);
        for (size_t ix = 0; ix < map->nx; ix++)
            add_patch(bin, patch_at(&rows, ix, map->nx, per_step), first, 1 / samples);
    }
    double above = 0;
    for (size_t i = count; i-- > 0;) {
        above += bin[i];
        bin[i] = fmax(above, 0); /* rounding may leave a trace below zero */
    }
    *d = (struct ww_distribution){count, first * step, step, bin};
    return WW_OK;
}

enum ww_status ww_distribution_combine(const struct ww_distribution *a, const struct ww_distribution *b, int sign,
                                       struct ww_distribution *sum, struct ww_error *error)
{
    memset(sum, 0, sizeof *sum);
    double *other = calloc(b->count, sizeof *other);
    sum->probability = calloc(a->count + b->count - 1, sizeof *sum->probability);
    enum ww_status status = WW_OK;
    if (!other || !sum->probability) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a distribution of %zu bins",
                              a->count + b->count);
        goto done;
    }
    for (size_t i = 0; i < b->count; i++)
        other[i] = b->probability[sign > 0 ? i : b->count - 1 - i];
    status = ww_transform_convolve(a->probability, a->count, other, b->count, sum->probability, error);
    if (status)
        goto done;
    sum->count = a->count + b->count - 1;
    sum->step = a->step;
    sum->first = a->first + (sign > 0 ? b->first : -(b->first + (double)(b->count - 1) * b->step));
    for (size_t i = 0; i < sum->count; i++) /* the transform leaves rounding below zero */
        sum->probability[i] = fmax(sum->probability[i], 0);
done:
    free(other);
    if (status)
        ww_distribution_clear(sum);
    return status;
}

/* Bins at whole multiples of `step` that hold the values of both, empty. */
static enum ww_status frame(struct ww_distribution *out, const struct ww_distribution *a,
                            const struct ww_distribution *b, double step, struct ww_error *error)
{
    double first = fmin(a->first, b->first),
           last = fmax(a->first + (double)(a->count - 1) * a->step, b->first + (double)(b->count - 1) * b->step);
    double low = floor(first / step), high = ceil(last / step) + 1;
    *out = (struct ww_distribution){.count = (size_t)(high - low) + 1, .first = low * step, .step = step};
    out->probability = calloc(out->count, sizeof *out->probability);
    return out->probability
               ? WW_OK
               : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a distribution of %zu bins", out->count);
}

/* Each bin goes to the two around it, so that its mean stays. */
static void pour(struct ww_distribution *into, const struct ww_distribution *from, double weight)
{
    for (size_t i = 0; i < from->count; i++) {
        double at = (from->first + (double)i * from->step - into->first) / into->step;
        size_t bin = at > 0 ? (size_t)at : 0;
        bin = bin + 1 < into->count ? bin : into->count - 2;
        double beyond = fmin(fmax(at - (double)bin, 0), 1);
        into->probability[bin] += weight * from->probability[i] * (1 - beyond);
        into->probability[bin + 1] += weight * from->probability[i] * beyond;
    }
}

enum ww_status ww_distribution_mix(struct ww_distribution *d, const struct ww_distribution *other, double weight,
                                   struct ww_error *error)
{
    if (other->count == 0)
        return WW_OK;
    bool empty = d->count == 0;
    struct ww_distribution sum;
    enum ww_status status =
        frame(&sum, empty ? other : d, other, empty ? other->step : fmax(d->step, other->step), error);
    if (status)
        return status;
    if (!empty)
        pour(&sum, d, 1);
    pour(&sum, other, weight);
    ww_distribution_clear(d);
    *d = sum;
    return WW_OK;
}

enum ww_status ww_distribution_expected_worst(const struct ww_distribution *d, double count, double *expected,
                                              struct ww_error *error)
{
    *expected = 0;
    if (d->count == 0)
        return WW_OK;
    double most = fmax(fabs(d->first), fabs(d->first + (double)(d->count - 1) * d->step));
    size_t bins = (size_t)ceil(most / d->step) + 1;
    double *share = calloc(bins, sizeof *share); /* of |value| around i step */
    if (!share)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a distribution of %zu bins", bins);
    for (size_t i = 0; i < d->count; i++) {
        size_t bin = (size_t)(fabs(d->first + (double)i * d->step) / d->step + 0.5);
        share[bin < bins ? bin : bins - 1] += d->probability[i];
    }
    double below = 0, all_below = 0;
    for (size_t i = 0; i < bins; i++) {
        below = fmin(below + share[i], 1);
        double all = pow(below, count);
        *expected += (double)i * d->step * (all - all_below);
        all_below = all;
    }
    free(share);
    return WW_OK;
}

/* The share of a bin that lies beyond the limit: its probability is spread evenly over its width. */
static double beyond(double distance, double limit, double step)
{
    double share = (distance - limit) / step + 0.5;
    return share < 0 ? 0 : share > 1 ? 1 : share;
}

static double distance_of(const struct ww_distribution *d, size_t i)
{
    return fabs(d->first + (double)i * d->step);
}

double ww_distribution_exceed(const struct ww_distribution *distribution, double limit)
{
    double sum = 0;
    for (size_t i = 0; i < distribution->count; i++)
        sum += distribution->probability[i] * beyond(distance_of(distribution, i), limit, distribution->step);
    return fmin(fmax(sum, 0), 1);
}

/* Bins that a limit between low and high cuts, and the probability of those beyond them all. */
struct cut {
    size_t count;
    double distance[ACTIVE], probability[ACTIVE], beyond;
};

static struct cut cut_between(const struct ww_distribution *d, double low, double high)
{
    struct cut cut = {0};
    for (size_t i = 0; i < d->count; i++) {
        double distance = distance_of(d, i);
        if (distance >= high + 0.5 * d->step)
            cut.beyond += d->probability[i];
        else if (distance > low - 0.5 * d->step && cut.count < ACTIVE) {
            cut.distance[cut.count] = distance;
            cut.probability[cut.count++] = d->probability[i];
        }
    }
    return cut;
}

static double exceed_within(const struct cut *cut, double limit, double step)
{
    double sum = cut->beyond;
    for (size_t i = 0; i < cut->count; i++)
        sum += cut->probability[i] * beyond(cut->distance[i], limit, step);
    return sum;
}

double ww_distribution_quantile(const struct ww_distribution *distribution, double share)
{
    double low = 0, high = 0, step = distribution->step;
    for (size_t i = 0; i < distribution->count; i++)
        if (distribution->probability[i] > 0 && distance_of(distribution, i) > high)
            high = distance_of(distribution, i);
    struct cut cut = {0};
    for (int i = 0; i < 60 && high > low; i++) {
        if (!cut.count && high - low <= step) /* two or three bins of either sign from now on */
            cut = cut_between(distribution, low, high);
        double middle = 0.5 * (low + high);
        double over = cut.count ? exceed_within(&cut, middle, step) : ww_distribution_exceed(distribution, middle);
        if (1 - over >= share)
            high = middle;
        else
            low = middle;
    }
    return high;
}

double ww_distribution_deviation(const struct ww_distribution *d)
{
    double mean = 0, square = 0;
    for (size_t i = 0; i < d->count; i++)
        mean += d->probability[i] * (d->first + (double)i * d->step);
    for (size_t i = 0; i < d->count; i++) {
        double off = d->first + (double)i * d->step - mean;
        square += d->probability[i] * off * off;
    }
    return sqrt(square);
}

enum ww_status ww_distribution_of_plies(struct ww_distribution *d, const struct ww_map *map,
                                        const struct ww_extreme *high, const struct ww_extreme *low, size_t plies,
                                        struct ww_error *error)
{
    double range = 0;
    for (size_t p = 0; p < plies; p++)
        range += high[p].value - low[p].value;
    double step = range > 0 ? range / BINS : 1e-21; /* maps without relief have one value, of any step */
    enum ww_status status = WW_OK;
    for (size_t p = 0; p < plies && !status; p++) {
        struct ww_distribution one = {0}, sum = {0};
        status = ww_distribution_of_map(&one, &map[p], step, error);
        if (!status && p > 0)
            status = ww_distribution_combine(d, &one, 1, &sum, error);
        if (p == 0)
            *d = one;
        else {
            ww_distribution_clear(d);
            ww_distribution_clear(&one);
            *d = sum;
        }
    }
    return status;
}
