/* chance.c - how likely.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The registration of the cloth is uniform over its cell, so the distribution of a value is the histogram of its map.
 * Registrations of different plies are independent and their values add, so distributions convolve.
 */
#include "scan/chance.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/transform.h"

void ww_distribution_clear(struct ww_distribution *distribution)
{
    free(distribution->probability);
    memset(distribution, 0, sizeof *distribution);
}

enum ww_status ww_distribution_of_map(struct ww_distribution *d, const double *value, size_t count, double step,
                                      struct ww_error *error)
{
    memset(d, 0, sizeof *d);
    double low = value[0], high = value[0];
    for (size_t i = 1; i < count; i++) {
        low = fmin(low, value[i]);
        high = fmax(high, value[i]);
    }
    double first = floor(low / step);
    d->count = (size_t)(floor(high / step) - first) + 2;
    d->first = first * step;
    d->step = step;
    d->probability = calloc(d->count, sizeof *d->probability);
    if (!d->probability) {
        size_t bins = d->count;
        memset(d, 0, sizeof *d);
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a distribution of %zu bins", bins);
    }
    for (size_t i = 0; i < count; i++) {
        double place = value[i] / step - first;
        size_t bin = (size_t)fmax(place, 0);
        double share = place - (double)bin;
        d->probability[bin] += (1 - share) / (double)count;
        d->probability[bin + 1] += share / (double)count;
    }
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

double ww_distribution_exceed(const struct ww_distribution *distribution, double limit)
{
    double sum = 0;
    for (size_t i = 0; i < distribution->count; i++) {
        double distance = fabs(distribution->first + (double)i * distribution->step);
        /* a bin's probability is spread evenly over its width */
        double beyond = (distance - limit) / distribution->step + 0.5;
        sum += distribution->probability[i] * fmin(fmax(beyond, 0), 1);
    }
    return fmin(fmax(sum, 0), 1);
}

double ww_distribution_quantile(const struct ww_distribution *distribution, double share)
{
    double low = 0, high = 0;
    for (size_t i = 0; i < distribution->count; i++)
        if (distribution->probability[i] > 0)
            high = fmax(high, fabs(distribution->first + (double)i * distribution->step));
    for (int i = 0; i < 60 && high > low; i++) {
        double middle = 0.5 * (low + high);
        if (1 - ww_distribution_exceed(distribution, middle) >= share)
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
