/* calibrate.c - a few full solutions set the kernel right.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The mean of the two bounds is good to a per cent of the modulation almost everywhere, but errs most where the cloth
 * differs most from its lateral mean, and that is where the worst case is: up to 4 % along the warp, 8 % along the fill.
 * No weight between the bounds mends that, for there both bounds err to the same side. How much it errs hangs on which
 * yarns make the wave, the warp's or the fill's. Along a direction in which one family stands still, over one period, all
 * other waves average to nothing, so that the mean along the way of full cross-sections there, against the kernel's at the
 * same places, is the factor of that family. The way is where the kernel finds the worst: the skew of a pair changes its
 * sign in the mirror image, so that one placement stands for both; a leg takes its slowest and its fastest. A pair whose
 * pitch nulls its skew says little of the legs: they get sections of their own. A family too weak to tell is left as it is.
 *
 * Where along the way the plies start does not matter to the kernel's mean. The field of one ply bends a little with
 * what the other brings at the same place, so from section to section each ply moves on some times as far as the one
 * before it: the sections stand for all ways in which the plies may lie to each other (a lattice rule). The first ply
 * starts in the gap between two yarns, where the cloth is its own mirror image but for over and under: from there nine
 * sections do as well as nineteen (tests/scan/test_calibrate.c); from elsewhere they may err by some per cent.
 *
 * Along a diagonal both families average to nothing, and in the waves of the crossings, which are left, what yarns do across
 * and what they do upright nearly cancels: most of what a trace sees there is of second order. There are two products of warp
 * and fill (weftwise/scan.h). Yarns in series add most where the wave hardly varies across the trace, which no direction
 * brings to stand still, and how much was found once for all, from full sections over whole cells. Interplay adds most where
 * the wave varies fast across, along the diagonal: how much, the mean along a diagonal tells, from where the product is great.
 * The product of one ply's warp and another's fill stands still there too, now adding to those of each ply alone, now taking
 * from them as one ply is moved along (together.c). Three ways tell all: one where the kernel's own value adds to the product,
 * one where it is opposite, which tells the factor of the crossings, and with several plies one with every other ply a
 * quarter of the period ahead.
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/parallel.h"
#include "line/full.h"
#include "scan/delay.h"
#include "scan/extremes.h"
#include "scan/rest.h"
#include "scan/together.h"

#define RESIDUAL 1e-2 /* of the sections: within a thousandth of the skew (tests/scan/test_calibrate.c) */
#define NULLED 0.3    /* worst skew over the spread of a leg, below which legs get sections of their own */
#define WEAK 1e-3     /* share of the local relief that must last over the way to tell a factor */
#define MOST 20.0 /* no kernel is off by more: beyond it, or below its inverse, the factor tells of something else */
#define AHEAD                                                                                                        \
    0.25 /* of the period of a diagonal: there the product of one ply's warp and another's fill changes its sign */
#define MISS 0.03 /* of the largest: what the mean along a way of a diagonal may miss */
#define STACKED                                                                                                      \
    1.7 /* over s: 1.3 to 1.9 in full sections over whole cells; of 1.5 and 1.7 the latter erred less (DEVELOPERS.md) */
#define NOTHING 1e-6 /* of the slowness: a product too weak to tell */

/* Half a period on, plain weave is the same but for over and under. What is alike in both halves an odd number of sections
 * sees as twice as many would, for those of the second half fall between the places of the first. What changes its sign,
 * and outweighs the rest where a null leaves little of it, only an even number cancels: there it takes four times as many. */
static size_t odd(size_t count)
{
    return count | 1;
}

/* One way along which waves stand still. */
struct way {
    const struct ww_line *line;
    const struct ww_inverse *inverse;
    const struct ww_scan *scan;
    double period;
    size_t count; /* of sections */
    bool slides;  /* each ply moves on faster than the one before it; if not, */
    double ahead; /* every other ply lies so far ahead, of the period */
};

/* How many times as far each ply moves on as the one before it: no divisor of the sections, or the next ply would be seen
 * at fewer places; of five, at one. */
static double faster(size_t count)
{
    return count % 5 ? 5 : count % 7 ? 7 : 11;
}

/* Where ply p starts for section i: its extreme, moved along the way. */
static void place_of(const struct way *way, const struct ww_extreme *start, size_t p, size_t i, double place[2])
{
    const struct ww_ply_scan *ply = &way->scan->ply[p];
    double share = ((double)i + 0.5) / (double)way->count, at = p % 2 ? way->ahead : 0;
    for (size_t before = 0; before < p && way->slides; before++)
        share = fmod(faster(way->count) * share, 1);
    double move = way->period * (at + share) - (start[p].x * ply->ux + start[p].y * ply->uy);
    place[0] = start[p].x + move * ply->ux;
    place[1] = start[p].y + move * ply->uy;
}

/* What the legs see at one place. */
struct seen {
    double full[2], kernel[2];
};

static double signal_of(enum ww_signal signal, const double legs[2])
{
    return legs[0] - (signal == WW_SKEW ? legs[1] : 0);
}

static void see_by_kernel(const struct ww_scan *scan, const double (*place)[2], double legs[2])
{
    for (int leg = 0; leg < (scan->pair ? 2 : 1); leg++) {
        legs[leg] = scan->level[leg][WW_MEAN];
        for (size_t p = 0; p < scan->plies; p++)
            legs[leg] += ww_scan_average_at(scan, p, leg ? WW_LEG2 : WW_LEG1, WW_MEAN, 0, place[p][0], place[p][1]) -
                         scan->level[leg][WW_MEAN];
    }
}

static enum ww_status see_at(const struct way *way, const struct ww_extreme *start, size_t i, struct seen *seen,
                             struct ww_error *error)
{
    size_t plies = way->line->stack->plies;
    double(*place)[2] = calloc(plies, sizeof *place);
    if (!place)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the place of %zu plies", plies);
    for (size_t p = 0; p < plies; p++)
        place_of(way, start, p, i, place[p]);
    enum ww_status status = ww_section_legs(way->line, way->inverse, way->scan->angle, (const double(*)[2])place, 0,
                                            RESIDUAL, seen->full, error);
    if (!status)
        see_by_kernel(way->scan, (const double(*)[2])place, seen->kernel);
    free(place);
    return status;
}

/* seen[way->count]. Every section fills its own place, so that the result is the same on any number of threads. */
static enum ww_status see_along(const struct way *way, const struct ww_extreme *start, struct seen *seen,
                                struct ww_error *error)
{
    struct ww_failure failure = {.error = error};
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads()) schedule(dynamic)
#endif
    for (size_t i = 0; i < way->count; i++) {
        struct ww_error mine = {0};
        ww_failure_keep(&failure, i, see_at(way, start, i, &seen[i], &mine), &mine);
    }
    return failure.status;
}

/* What kernel and full solution see of a signal along one way: means, and the kernel's relief (rms). */
struct mean {
    double kernel, full, relief;
};

static enum ww_status sample(const struct way *way, enum ww_signal signal, const struct ww_extreme *start,
                             struct mean *mean, struct ww_error *error)
{
    size_t count = way->count;
    struct seen *seen = calloc(count, sizeof *seen);
    double square = 0;
    if (!seen)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu sections", count);
    enum ww_status status = see_along(way, start, seen, error);
    for (size_t i = 0; i < count && !status; i++) {
        double kernel = signal_of(signal, seen[i].kernel);
        mean->kernel += kernel / (double)count;
        mean->full += signal_of(signal, seen[i].full) / (double)count;
        square += kernel * kernel / (double)count;
    }
    double middle = signal == WW_SKEW ? 0 : mean->kernel;
    mean->relief = sqrt(fmax(square - middle * middle, 0));
    free(seen);
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
    for (size_t p = 0; p < way->line->stack->plies && !status; p++) {
        status = ww_map_and_extremes(way->scan, p, signal, WW_MEAN, way->period, NULL, &high[p], &low[p], error);
        *range += high[p].value - low[p].value;
    }
    return status;
}

static enum ww_status scale_skew(const struct way *whole, const struct ww_extreme *high, bool nulled, double *scale,
                                 struct ww_error *error)
{
    struct way way = *whole;
    struct mean mean = {0};
    way.count = nulled ? 4 * whole->count : odd(whole->count);
    enum ww_status status = sample(&way, WW_SKEW, high, &mean, error);
    *scale = factor(mean.kernel, mean.full, mean.relief);
    return status;
}

static enum ww_status scale_legs(const struct way *whole, const struct ww_extreme *high, const struct ww_extreme *low,
                                 double *scale, struct ww_error *error)
{
    struct way way = *whole;
    struct mean slow = {0}, fast = {0};
    way.count = odd(whole->count / 2);
    enum ww_status status = sample(&way, WW_LEG1, high, &slow, error);
    if (!status)
        status = sample(&way, WW_LEG1, low, &fast, error);
    *scale = factor(slow.kernel - fast.kernel, slow.full - fast.full, fmax(slow.relief, fast.relief));
    return status;
}

/* Both factors of the family that stands still along one way. */
static enum ww_status scale_family(const struct way *way, double *skew, double *leg, struct ww_error *error)
{
    size_t plies = way->line->stack->plies;
    struct ww_extreme *high = calloc(4 * plies, sizeof *high);
    double of_skew = 0, of_legs = 0;
    *skew = *leg = 0;
    if (!high)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", plies);
    struct ww_extreme *low = high + plies, *skew_high = low + plies, *skew_low = skew_high + plies;
    enum ww_status status = find_worst(way, WW_LEG1, high, low, &of_legs, error);
    if (!status && way->scan->pair)
        status = find_worst(way, WW_SKEW, skew_high, skew_low, &of_skew, error);
    bool nulled = !(0.5 * of_skew > NULLED * of_legs);
    if (!status && of_skew > 0)
        status = scale_skew(way, skew_high, nulled, skew, error);
    *leg = *skew;
    if (!status && of_legs > 0 && nulled)
        status = scale_legs(way, high, low, leg, error);
    free(high);
    return status;
}

/* The direction in which a family stands still, from the warp of its ply, and its period. */
static void direction_of(const struct ww_cell *cell, enum ww_family family, double *angle, double *period)
{
    *angle = family == WW_WARP_WAVES ? 0 : 0.5 * WW_PI;
    *period = family == WW_WARP_WAVES ? cell->ly : cell->lx;
}

static enum ww_status scale_families(struct ww_scales *scales, const struct ww_line *line,
                                     const struct ww_inverse *inverse, size_t sections, struct ww_error *error)
{
    enum ww_status status = WW_OK;
    for (size_t f = 0; f < WW_CROSSING_WAVES && !status; f++) {
        const struct ww_ply *first = &line->stack->ply[0];
        struct way way = {.line = line, .inverse = inverse, .count = sections, .slides = true};
        struct ww_scan *scan = NULL;
        double angle;
        direction_of(&first->cell, (enum ww_family)f, &angle, &way.period);
        status = ww_scan_create_with(&scan, line, angle + first->turn, false, NULL, error);
        way.scan = scan;
        if (!status)
            status = scale_family(&way, &scales->skew[f], &scales->leg[f], error);
        ww_scan_destroy(scan);
        scales->skew[f] = scales->skew[f] > 0 ? scales->skew[f] : scales->leg[f];
    }
    return status;
}

/* --- where the yarns cross ------------------------------------------------------------------------------------------ */

enum { PLACES = 32 };

/* Scans along a diagonal: of the kernel as it is, and with either product. */
enum scans { PLAINLY, WITH_INTERPLAY, WITH_STACKED, SCANS };

/* From places across a diagonal, over a period of the waves that stand still there: the mean along the way over each ply by
 * the kernel, and what an interplay of one and what stacked yarns add to it. */
struct across {
    enum ww_signal signal;
    double apart;                                                                     /* the places [m] */
    double (*plain)[PLACES], (*over)[PLACES], (*product)[PLACES], (*stacked)[PLACES]; /* [ply] */
};

/* Ply p with its cloth at place j. */
static struct ww_extreme start_at(const struct way *way, size_t p, double apart, size_t j)
{
    const struct ww_ply_scan *ply = &way->scan->ply[p];
    const struct ww_ply *cloth = &way->line->stack->ply[p];
    double off = apart * (double)j;
    return (struct ww_extreme){.x = cloth->shift_x - off * ply->uy, .y = cloth->shift_y + off * ply->ux};
}

static enum ww_status look_across(struct across *across, const struct way *way,
                                  const struct ww_scan *const scan[SCANS], struct ww_error *error)
{
    size_t plies = way->line->stack->plies;
    across->plain = calloc(plies, sizeof *across->plain);
    across->over = calloc(plies, sizeof *across->over);
    across->product = calloc(plies, sizeof *across->product);
    across->stacked = calloc(plies, sizeof *across->stacked);
    if (!across->plain || !across->over || !across->product || !across->stacked)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", plies);
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads()) schedule(static)
#endif
    for (size_t i = 0; i < plies * PLACES; i++) {
        size_t p = i / PLACES, j = i % PLACES;
        struct ww_extreme at = start_at(way, p, across->apart, j);
        double value[SCANS];
        for (int s = 0; s < SCANS; s++)
            value[s] = ww_scan_average_at(scan[s], p, across->signal, WW_MEAN, way->period, at.x, at.y);
        double crossed = ww_scan_average_at(scan[PLAINLY], p, across->signal, WW_MEAN, way->period,
                                            at.x + 0.5 * way->scan->ply[p].lx, at.y);
        across->plain[p][j] = value[PLAINLY];
        across->over[p][j] = 0.5 * (value[PLAINLY] - crossed);
        across->product[p][j] = value[WITH_INTERPLAY] - value[PLAINLY];
        across->stacked[p][j] = value[WITH_STACKED] - value[PLAINLY];
    }
    return WW_OK;
}

static void across_clear(struct across *across)
{
    free(across->plain);
    free(across->over);
    free(across->product);
    free(across->stacked);
}

static double range_of(const double value[PLACES])
{
    double least = value[0], most = value[0];
    for (size_t j = 1; j < PLACES; j++) {
        least = fmin(least, value[j]);
        most = fmax(most, value[j]);
    }
    return most - least;
}

/* Sum over the plies of the ranges of the product. */
static double reach_of(const struct across *across, size_t plies)
{
    double sum = 0;
    for (size_t p = 0; p < plies; p++)
        sum += range_of(across->product[p]);
    return sum;
}

/* Where over one ply sign times the product is great, and of such places the one where sign times the kernel's own value,
 * or with `against` -1 its opposite, is. */
static size_t place_to_ask(const struct across *across, size_t p, double sign, double against)
{
    size_t at = 0;
    double most = -INFINITY, product = range_of(across->product[p]), plain = range_of(across->plain[p]);
    for (size_t j = 0; j < PLACES; j++) {
        double value = product > 0 ? sign * across->product[p][j] / product : 0;
        value += plain > 0 ? against * sign * across->plain[p][j] / plain : 0;
        if (value > most) {
            most = value;
            at = j;
        }
    }
    return at;
}

/* One equation: what full sections have and the kernel lacks on average along one way, and what it would gain by an
 * interplay of one in each ply, by what is even in all of its own waves once more, by what changes with over and under, and
 * by an interplay of one between the plies. */
enum { OWN, CROSSING, OVER, BETWEEN, UNKNOWNS };
struct lack {
    double found, of[UNKNOWNS];
};

static enum ww_status find_lack(const struct way *way, const struct across *across, double sign, double against,
                                struct lack *lack, struct ww_error *error)
{
    size_t plies = way->line->stack->plies;
    struct ww_extreme *start = calloc(plies, sizeof *start);
    struct ww_yarns *yarns = calloc(plies, sizeof *yarns);
    double(*place)[2] = calloc(plies, sizeof *place);
    struct mean mean = {0};
    double stacked = 0;
    enum ww_status status = WW_OK;
    *lack = (struct lack){0};
    if (!start || !yarns || !place) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", plies);
        goto done;
    }
    for (size_t p = 0; p < plies; p++) {
        size_t j = place_to_ask(across, p, sign, against);
        start[p] = start_at(way, p, across->apart, j);
        lack->of[OWN] += across->product[p][j];
        lack->of[CROSSING] += across->plain[p][j] - across->over[p][j];
        lack->of[OVER] += across->over[p][j];
        stacked += across->stacked[p][j];
        place_of(way, start, p, 0, place[p]);
        ww_yarns_take(&yarns[p], way->scan, p);
    }
    struct ww_meeting meeting = {
        .plies = plies, .yarns = yarns, .skew = across->signal == WW_SKEW, .between = 1, .length = way->period};
    lack->of[BETWEEN] = ww_together_at(&meeting, (const double(*)[2])place) / way->period;
    status = sample(way, across->signal, start, &mean, error);
    lack->found = mean.full - mean.kernel - stacked;
done:
    free(start);
    free(yarns);
    free(place);
    return status;
}

/* Of a leg, between its slowest and its fastest; a pair's skew changes its sign in the mirror image, one place tells. */
static enum ww_status find_lacks(struct way *way, const struct across *across, double ahead, double against,
                                 struct lack *lack, struct ww_error *error)
{
    struct lack low = {0};
    way->ahead = ahead;
    enum ww_status status = find_lack(way, across, 1, against, lack, error);
    if (!status && across->signal != WW_SKEW)
        status = find_lack(way, across, -1, against, &low, error);
    lack->found -= low.found;
    for (int u = 0; u < UNKNOWNS; u++)
        lack->of[u] -= low.of[u];
    return status;
}

/* What is expected, and within what, where equations do not tell: the kernel's own waves are right within a tenth, and plies
 * are in parallel, so that the squares of what they make of the slowness add: -1 between them. */
static const struct {
    double value, within;
} expected[UNKNOWNS] = {[OWN] = {-2, 2}, [CROSSING] = {0, 0.1}, [OVER] = {0, 0.1}, [BETWEEN] = {-1, 0.2}};

/* The likeliest unknowns: least squares of what equations miss by, over what they may miss by, and of how far the unknowns
 * are from what is expected. */
static void solve(const struct lack *lack, double miss, size_t equations, double unknown[UNKNOWNS])
{
    double m[UNKNOWNS][UNKNOWNS + 1] = {{0}};
    for (int u = 0; u < UNKNOWNS; u++) {
        m[u][u] = 1 / (expected[u].within * expected[u].within);
        m[u][UNKNOWNS] = m[u][u] * expected[u].value;
        for (size_t e = 0; e < equations; e++) {
            double weight = lack[e].of[u] / (miss * miss);
            for (int v = 0; v < UNKNOWNS; v++)
                m[u][v] += weight * lack[e].of[v];
            m[u][UNKNOWNS] += weight * lack[e].found;
        }
    }
    for (int u = 0; u < UNKNOWNS; u++) /* positive definite: pivots need no search */
        for (int r = 0; r < UNKNOWNS; r++)
            for (int c = UNKNOWNS; c >= u && r != u; c--)
                m[r][c] -= m[r][u] / m[u][u] * m[u][c];
    for (int u = 0; u < UNKNOWNS; u++)
        unknown[u] = m[u][UNKNOWNS] / m[u][u];
}

/* Three ways, three equations: the second where the kernel's own value is opposite, the third with every other ply ahead. */
static enum ww_status find_products(struct ww_scales *scales, struct way *way, const struct across *across,
                                    struct ww_error *error)
{
    size_t plies = way->line->stack->plies, ways = plies > 1 ? 3 : 2;
    struct lack lack[UNKNOWNS] = {{0}};
    double unknown[UNKNOWNS], most = 0, nothing = NOTHING * way->scan->level[0][WW_MEAN];
    if (!(reach_of(across, plies) > nothing))
        return WW_OK;
    enum ww_status status = find_lacks(way, across, 0, 1, &lack[0], error);
    if (!status)
        status = find_lacks(way, across, 0, -1, &lack[1], error);
    if (!status && ways > 2)
        status = find_lacks(way, across, AHEAD, 1, &lack[2], error);
    if (status)
        return status;
    for (size_t w = 0; w < ways; w++)
        most = fmax(most, fabs(lack[w].found));
    solve(lack, MISS * most + WEAK * nothing, ways, unknown);
    scales->skew[WW_CROSSING_WAVES] = scales->leg[WW_CROSSING_WAVES] = 1 + unknown[CROSSING];
    scales->skew[WW_OVER_WAVES] = scales->leg[WW_OVER_WAVES] = 1 + unknown[OVER];
    scales->interplay = unknown[OWN];
    scales->between = plies > 1 ? unknown[BETWEEN] : 0;
    return WW_OK;
}

static enum ww_status scale_products(struct ww_scales *scales, const struct ww_line *line,
                                     const struct ww_inverse *inverse, size_t sections, struct ww_error *error)
{
    const struct ww_ply *first = &line->stack->ply[0];
    double lx = first->cell.lx, ly = first->cell.ly, angle = atan2(lx, ly) + first->turn, period = hypot(lx, ly);
    struct across leg = {.signal = WW_LEG1, .apart = lx * ly / period / PLACES};
    struct across skew = {.signal = WW_SKEW, .apart = leg.apart};
    struct way way = {.line = line, .inverse = inverse, .period = period};
    way.count =
        odd((size_t)lround((double)sections * 2 * period / (lx + ly))); /* as near to each other as along yarns */
    struct ww_scan *scan[SCANS] = {NULL};
    enum ww_status status = WW_OK;
    for (int s = 0; s < SCANS && !status; s++) {
        struct ww_scan_options options = {.scales = *scales};
        options.scales.interplay = s == WITH_INTERPLAY;
        options.scales.stacked = s == WITH_STACKED ? STACKED : 0;
        status = ww_scan_create_with(&scan[s], line, angle, false, &options, error);
    }
    way.scan = scan[PLAINLY];
    bool pair = ww_line_trace(line)->pitch > 0;
    if (!status)
        status = look_across(&leg, &way, (const struct ww_scan *const *)scan, error);
    if (!status && pair)
        status = look_across(&skew, &way, (const struct ww_scan *const *)scan, error);
    if (!status) {
        size_t plies = line->stack->plies;
        bool nulled = !pair || !(0.5 * reach_of(&skew, plies) > NULLED * reach_of(&leg, plies));
        status = find_products(scales, &way, nulled ? &leg : &skew, error);
        scales->stacked = STACKED;
    }
    across_clear(&leg);
    across_clear(&skew);
    for (int s = 0; s < SCANS; s++)
        ww_scan_destroy(scan[s]);
    return status;
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
    status = scale_families(scales, line, &inverse, sections, error);
    if (!status)
        status = scale_products(scales, line, &inverse, sections, error);
    ww_inverse_destroy(&inverse);
    if (status)
        memset(scales, 0, sizeof *scales);
    return status;
}

enum ww_status ww_calibrate_at(struct ww_scales *scales, const struct ww_line *line, size_t sections,
                               const double *angle, size_t angles, struct ww_error *error)
{
    return sections ? ww_rest_create(&scales->rest, line, scales, sections, angle, angles, error) : WW_OK;
}

void ww_scales_clear(struct ww_scales *scales)
{
    ww_rest_destroy(scales->rest);
    memset(scales, 0, sizeof *scales);
}
