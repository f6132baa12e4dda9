/* sums.c - causes added up in closed form: extremes, roots of squares, convolution.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Cause i moves one circuit by y_i(u), a parabola of u in -1 .. 1. Two circuits that do not share it differ by y_i(u) - y_i(u'),
 * independent of all others; the distributions convolve with that of the weave (chance/distribution.c). A pair's skew is
 *   W (1 + sum of k_i(u)),
 * with W the weave's and k_i the change of its size, one u for both legs, which share all but their place.
 */
#include "budget/sums.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "chance/distribution.h"

#define BINS 4096.0  /* over the range of the sum */
#define SCALES 128.0 /* over the range of the skew's size */
#define POINTS 8192  /* at which a parabola is taken */
#define SIGMAS 3.0   /* to the ends, where the law is normal */

/* --- one cause ------------------------------------------------------------------------------------------------------------- */

double ww_part_value(const struct ww_part *part, double u)
{
    const double *y = part->at;
    return y[1] + 0.5 * (y[2] - y[0]) * u + 0.5 * (y[2] + y[0] - 2.0 * y[1]) * u * u;
}

double ww_part_range(const struct ww_part *part)
{
    double slope = 0.5 * (part->at[2] - part->at[0]), curve = part->at[2] + part->at[0] - 2.0 * part->at[1];
    double from = ww_part_value(part, part->from), to = ww_part_value(part, part->to);
    double low = fmin(from, to), high = fmax(from, to), top = curve != 0.0 ? -slope / curve : part->from;
    if (top > part->from && top < part->to) {
        low = fmin(low, ww_part_value(part, top));
        high = fmax(high, ww_part_value(part, top));
    }
    return high - low;
}

struct ww_part ww_cause_part(const struct ww_cause *cause, enum ww_observable observable, bool halved)
{
    struct ww_part part = {.from = -1.0, .to = 1.0, .law = cause->tolerance.law};
    for (int i = 0; i < 3; i++)
        part.at[i] = cause->at[i][observable];
    if (halved) { /* half as wet; else half as far to both sides of the middle */
        part.from = cause->kind == WW_CAUSE_MOISTURE ? -1.0 : -0.5;
        part.to = cause->kind == WW_CAUSE_MOISTURE ? 0.0 : 0.5;
    }
    return part;
}

/* A value between two bins is shared by them, so that the mean stays. */
static void deposit(struct ww_distribution *d, double value, double probability)
{
    double at = (value - d->first) / d->step;
    size_t bin = at > 0.0 ? (size_t)at : 0;
    bin = bin + 1 < d->count ? bin : d->count - 2;
    double beyond = fmin(fmax(at - (double)bin, 0.0), 1.0);
    d->probability[bin] += probability * (1.0 - beyond);
    d->probability[bin + 1] += probability * beyond;
}

static enum ww_status make_bins(struct ww_distribution *d, double low, double high, double step,
                                struct ww_error *error)
{
    double first = floor(low / step), last = ceil(high / step);
    *d = (struct ww_distribution){.count = (size_t)(last - first) + 2, .first = first * step, .step = step};
    d->probability = calloc(d->count, sizeof *d->probability);
    return d->probability
               ? WW_OK
               : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a distribution of %zu bins", d->count);
}

enum ww_status ww_part_distribute(struct ww_distribution *d, const struct ww_part *part, double step, bool two,
                                  struct ww_error *error)
{
    double middle = ww_part_value(part, 0.5 * (part->from + part->to)), range = ww_part_range(part), total = 0.0;
    enum ww_status status = make_bins(d, middle - range, middle + range, step, error);
    for (int i = 0; i < POINTS && !status; i++) {
        double share = 2.0 * (i + 0.5) / POINTS - 1.0;
        double u = 0.5 * (part->from + part->to) + 0.5 * (part->to - part->from) * share;
        double weight = part->law == WW_NORMAL ? exp(-0.5 * SIGMAS * share * SIGMAS * share) : 1.0;
        deposit(d, ww_part_value(part, u), weight);
        total += weight;
    }
    for (size_t i = 0; i < d->count && !status; i++)
        d->probability[i] /= total;
    return status || !two ? status : ww_distribution_of_two(d, error);
}

/* Another distribution, `scale` times as wide, in bins of `step`. */
static enum ww_status pour(struct ww_distribution *d, const struct ww_distribution *from, double scale, double step,
                           struct ww_error *error)
{
    double low = scale * from->first, high = scale * (from->first + (double)(from->count - 1) * from->step);
    enum ww_status status = make_bins(d, low, high, step, error);
    for (size_t i = 0; i < from->count && !status; i++)
        deposit(d, scale * (from->first + (double)i * from->step), from->probability[i]);
    return status;
}

/* sum := sum + the other, which is taken; an empty sum takes it over. */
static enum ww_status convolve(struct ww_distribution *sum, struct ww_distribution *other, struct ww_error *error)
{
    struct ww_distribution both = *other;
    enum ww_status status = WW_OK;
    if (sum->probability) {
        status = ww_distribution_combine(sum, other, 1, &both, error);
        ww_distribution_clear(sum);
        ww_distribution_clear(other);
    }
    *sum = both;
    *other = (struct ww_distribution){0};
    return status;
}

/* --- a level --------------------------------------------------------------------------------------------------------------- */

const struct ww_weave_effect *ww_weave_effect_on(const struct ww_weave *weave, enum ww_observable observable)
{
    return observable == WW_OBSERVED_LOSS ? &weave->loss : &weave->delay;
}

static double most_of(const struct ww_distribution *d)
{
    return d->count ? fmax(fabs(d->first), fabs(d->first + (double)(d->count - 1) * d->step)) : 0.0;
}

/* Does the cause set two circuits of that level apart? The weave is taken on its own. */
static bool counts(const struct ww_cause *cause, enum ww_scope scope)
{
    return cause->given && cause->kind != WW_CAUSE_WEAVE && cause->tolerance.scope <= scope;
}

double ww_weave_scale(const struct ww_budget *budget, enum ww_observable observable)
{
    const double *nominal = budget->nominal;
    double of_delay = nominal[WW_OBSERVED_DELAY] > 0.0 ? 1.0 / nominal[WW_OBSERVED_DELAY] : 0.0;
    switch (observable) {
    case WW_OBSERVED_DELAY:
    case WW_OBSERVED_LOSS:
        return 1.0;
    case WW_OBSERVED_DK:
        return 2.0 * nominal[WW_OBSERVED_DK] * of_delay;
    case WW_OBSERVED_IMPEDANCE:
        return -nominal[WW_OBSERVED_IMPEDANCE] * of_delay;
    case WW_OBSERVED_SKEW:
    case WW_OBSERVABLES:
        break;
    }
    return 0.0;
}

/* What is added up, of which circuits, and which cause is halved. */
struct sum {
    const struct ww_terms *terms;
    enum ww_scope scope;
    enum ww_observable observable;
    enum ww_cause_kind halved;
    double weave; /* what the weave's difference is worth */
};

static const struct ww_distribution *weave_of(const struct sum *sum)
{
    const struct ww_weave_effect *effect = ww_weave_effect_on(sum->terms->weave, sum->observable);
    return sum->scope == WW_BOARD ? &effect->same : &effect->two;
}

static struct sum sum_of(const struct ww_terms *terms, enum ww_scope scope, enum ww_observable observable,
                         enum ww_cause_kind halved)
{
    double half = halved == WW_CAUSE_WEAVE ? 0.5 : 1.0;
    return (struct sum){terms, scope, observable, halved, half * ww_weave_scale(terms->budget, observable)};
}

static struct ww_part part_of(const struct sum *sum, const struct ww_cause *cause)
{
    return ww_cause_part(cause, sum->observable, sum->halved == cause->kind);
}

static double add_extremes(const struct sum *sum, double *root_squares)
{
    double worst = fabs(sum->weave) * most_of(weave_of(sum)), squares = worst * worst;
    for (int i = 0; i < WW_CAUSES; i++) {
        const struct ww_cause *cause = &sum->terms->budget->cause[i];
        if (!counts(cause, sum->scope))
            continue;
        struct ww_part part = part_of(sum, cause);
        double most = ww_part_range(&part);
        worst += most;
        squares += most * most;
    }
    *root_squares = sqrt(squares);
    return worst;
}

/* All of it convolved, in bins of BINS to the range; nothing where the worst is 0. */
static enum ww_status add_distributions(struct ww_distribution *d, const struct sum *sum, double worst,
                                        struct ww_error *error)
{
    const struct ww_distribution *weave = weave_of(sum);
    double step = 2.0 * worst / BINS;
    enum ww_status status = WW_OK;
    *d = (struct ww_distribution){0};
    if (!(step > 0.0))
        return WW_OK;
    if (weave->count && sum->weave != 0.0)
        status = pour(d, weave, fabs(sum->weave), step, error); /* of differences: both signs alike */
    for (int i = 0; i < WW_CAUSES && !status; i++) {
        const struct ww_cause *cause = &sum->terms->budget->cause[i];
        struct ww_distribution own = {0};
        if (!counts(cause, sum->scope))
            continue;
        struct ww_part part = part_of(sum, cause);
        status = ww_part_distribute(&own, &part, step, true, error);
        if (!status)
            status = convolve(d, &own, error);
        ww_distribution_clear(&own);
    }
    if (status)
        ww_distribution_clear(d);
    return status;
}

enum ww_status ww_level_solve(struct ww_budget_level *level, const struct ww_terms *terms, enum ww_scope scope,
                              enum ww_cause_kind halved, struct ww_error *error)
{
    struct sum sum = sum_of(terms, scope, WW_OBSERVED_DELAY, halved);
    memset(level, 0, sizeof *level);
    level->worst = add_extremes(&sum, &level->root_squares);
    enum ww_status status = add_distributions(&level->distribution, &sum, level->worst, error);
    level->p99 = fmin(ww_distribution_quantile(&level->distribution, 0.99), level->worst);
    level->deviation = ww_distribution_deviation(&level->distribution);
    return status;
}

enum ww_status ww_level_observe(struct ww_budget_level *level, const struct ww_terms *terms, enum ww_scope scope,
                                struct ww_error *error)
{
    enum ww_status status = WW_OK;
    level->differ[WW_OBSERVED_DELAY] = level->p99;
    for (int o = WW_OBSERVED_DELAY + 1; o < WW_OBSERVED_SKEW && !status; o++) {
        struct sum sum = sum_of(terms, scope, (enum ww_observable)o, WW_CAUSES);
        struct ww_distribution d = {0};
        double squares, worst = add_extremes(&sum, &squares);
        status = add_distributions(&d, &sum, worst, error);
        level->differ[o] = fmin(ww_distribution_quantile(&d, 0.99), worst);
        ww_distribution_clear(&d);
    }
    return status;
}

/* --- the skew of a pair ------------------------------------------------------------------------------------------------------ */

/* Relative change of the skew's size by a cause. */
static struct ww_part skew_part(const struct ww_terms *terms, const struct ww_cause *cause, bool halved)
{
    struct ww_part part = ww_cause_part(cause, WW_OBSERVED_SKEW, halved);
    for (int i = 0; i < 3; i++)
        part.at[i] /= terms->budget->nominal[WW_OBSERVED_SKEW];
    return part;
}

static bool moves_skew(const struct ww_terms *terms, const struct ww_cause *cause)
{
    return cause->given && cause->kind != WW_CAUSE_WEAVE && terms->budget->nominal[WW_OBSERVED_SKEW] > 0.0;
}

/* Distribution of the sum of the relative changes; empty where there are none. */
static enum ww_status distribute_scale(struct ww_distribution *d, const struct ww_terms *terms,
                                       enum ww_cause_kind halved, struct ww_error *error)
{
    double range = 0.0;
    enum ww_status status = WW_OK;
    for (int i = 0; i < WW_CAUSES; i++) {
        const struct ww_cause *cause = &terms->budget->cause[i];
        struct ww_part part = skew_part(terms, cause, halved == cause->kind);
        range += moves_skew(terms, cause) ? ww_part_range(&part) : 0.0;
    }
    for (int i = 0; i < WW_CAUSES && !status && range > 0.0; i++) {
        const struct ww_cause *cause = &terms->budget->cause[i];
        struct ww_distribution own = {0};
        if (!moves_skew(terms, cause))
            continue;
        struct ww_part part = skew_part(terms, cause, halved == cause->kind);
        status = ww_part_distribute(&own, &part, range / SCALES, false, error);
        if (!status)
            status = convolve(d, &own, error);
        ww_distribution_clear(&own);
    }
    return status;
}

/* Chance that the skew exceeds a limit. */
static double exceed(const struct ww_distribution *skew, const struct ww_distribution *scale, double limit)
{
    double sum = 0.0;
    for (size_t i = 0; i < scale->count; i++) {
        double size = 1.0 + scale->first + (double)i * scale->step;
        if (scale->probability[i] > 0.0 && size > 0.0)
            sum += scale->probability[i] * ww_distribution_exceed(skew, limit / size);
    }
    return scale->count ? sum : ww_distribution_exceed(skew, limit);
}

enum ww_status ww_skew_moved(double *p99, double *over, const struct ww_terms *terms, enum ww_cause_kind halved,
                             struct ww_error *error)
{
    const int halvings = 40;
    struct ww_distribution scale = {0};
    double weave = halved == WW_CAUSE_WEAVE ? 0.5 : 1.0, budget = terms->budget->budget;
    enum ww_status status = distribute_scale(&scale, terms, halved, error);
    double low = 0.0, high = 4.0 * most_of(terms->skew);
    for (int i = 0; i < halvings && !status; i++) {
        double middle = 0.5 * (low + high);
        *(exceed(terms->skew, &scale, middle) > 0.01 ? &low : &high) = middle;
    }
    *p99 = weave * high;
    *over = budget > 0.0 && !status ? exceed(terms->skew, &scale, budget / weave) : 0.0;
    ww_distribution_clear(&scale);
    return status;
}
