/* draw.c - circuits drawn at random from the study's own linearised answer.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Random numbers (core/random.h) come from a fixed seed, so that a result is the same every time; normal ones are drawn again
 * beyond three standard deviations. The standard error of a quantile of n draws is sqrt(p (1 - p)/n)/f, f the density there, here from the draws beside it.
 */
#include "budget/draw.h"

#include <math.h>
#include <stdlib.h>

double ww_draw_law(struct ww_random *random, enum ww_law law)
{
    const double cut = 3.0;
    if (law == WW_UNIFORM)
        return 2.0 * ww_random_share(random) - 1.0;
    for (;;) {
        double sigmas = ww_random_normal(random);
        if (fabs(sigmas) <= cut)
            return sigmas / cut;
    }
}

/* A distribution with its sums, to draw from. */
struct urn {
    const struct ww_distribution *d;
    double *below; /* [d->count + 1] */
};

static enum ww_status urn_fill(struct urn *urn, const struct ww_distribution *d, struct ww_error *error)
{
    *urn = (struct urn){d, calloc(d->count + 1, sizeof *urn->below)};
    if (!urn->below)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu bins", d->count);
    for (size_t i = 0; i < d->count; i++)
        urn->below[i + 1] = urn->below[i] + d->probability[i];
    return WW_OK;
}

/* Anywhere in the bin that is drawn. */
static double urn_draw(const struct urn *urn, struct ww_random *random)
{
    size_t low = 0, high = urn->d->count;
    if (high == 0)
        return 0.0;
    double at = ww_random_share(random) * urn->below[high];
    while (high - low > 1) {
        size_t middle = low + (high - low) / 2;
        *(urn->below[middle] <= at ? &low : &high) = middle;
    }
    return urn->d->first + urn->d->step * ((double)low + ww_random_share(random) - 0.5);
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* 99 of 100 of n draws, which are sorted, and its standard error. */
static double quantile(double *draw, size_t n, double *deviation)
{
    const double p = 0.99, beside = 0.002;
    qsort(draw, n, sizeof *draw, ascending);
    double wide = draw[(size_t)((p + beside) * (double)n)] - draw[(size_t)((p - beside) * (double)n)];
    *deviation = sqrt(p * (1.0 - p) / (double)n) * wide / (2.0 * beside);
    return draw[(size_t)(p * (double)n)];
}

/* The difference of two circuits by all causes but the weave. */
static double draw_causes(const struct ww_budget *budget, enum ww_scope scope, struct ww_random *random)
{
    double sum = 0.0;
    for (int i = 0; i < WW_CAUSES; i++) {
        const struct ww_cause *cause = &budget->cause[i];
        if (!cause->given || cause->kind == WW_CAUSE_WEAVE || cause->tolerance.scope > scope)
            continue;
        struct ww_part part = ww_cause_part(cause, WW_OBSERVED_DELAY, false);
        double one = ww_part_value(&part, ww_draw_law(random, part.law));
        sum += one - ww_part_value(&part, ww_draw_law(random, part.law));
    }
    return sum;
}

/* By how much of itself the skew of one pair is larger. */
static double draw_scale(const struct ww_budget *budget, struct ww_random *random)
{
    double sum = 0.0, nominal = budget->nominal[WW_OBSERVED_SKEW];
    for (int i = 0; i < WW_CAUSES && nominal > 0.0; i++) {
        const struct ww_cause *cause = &budget->cause[i];
        if (!cause->given || cause->kind == WW_CAUSE_WEAVE)
            continue;
        struct ww_part part = ww_cause_part(cause, WW_OBSERVED_SKEW, false);
        sum += ww_part_value(&part, ww_draw_law(random, part.law)) / nominal;
    }
    return sum;
}

static enum ww_status draw_level(const struct ww_terms *terms, enum ww_scope scope, double *draw, size_t draws,
                                 struct ww_error *error)
{
    struct ww_random random = {.state = 1 + (uint64_t)scope};
    struct ww_budget_level *level = &terms->budget->level[scope];
    struct urn weave;
    enum ww_status status =
        urn_fill(&weave, scope == WW_BOARD ? &terms->weave->delay.same : &terms->weave->delay.two, error);
    for (size_t i = 0; i < draws && !status; i++)
        draw[i] = fabs(urn_draw(&weave, &random) + draw_causes(terms->budget, scope, &random));
    if (!status)
        level->drawn = quantile(draw, draws, &level->drawn_error);
    free(weave.below);
    return status;
}

static enum ww_status draw_skew(const struct ww_terms *terms, double *draw, size_t draws, struct ww_error *error)
{
    struct ww_random random = {.state = 4};
    struct urn skew;
    double deviation;
    enum ww_status status = urn_fill(&skew, terms->skew, error);
    for (size_t i = 0; i < draws && !status; i++)
        draw[i] = fabs(urn_draw(&skew, &random) * (1.0 + draw_scale(terms->budget, &random)));
    if (!status)
        terms->budget->skew_drawn = quantile(draw, draws, &deviation);
    free(skew.below);
    return status;
}

enum ww_status ww_budget_draw(const struct ww_terms *terms, size_t draws, struct ww_error *error)
{
    double *draw = calloc(draws, sizeof *draw);
    enum ww_status status =
        draw ? WW_OK : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu circuits", draws);
    for (int scope = WW_BOARD; scope <= WW_LIFE && !status; scope++)
        status = draw_level(terms, (enum ww_scope)scope, draw, draws, error);
    if (!status && terms->skew)
        status = draw_skew(terms, draw, draws, error);
    free(draw);
    return status;
}
