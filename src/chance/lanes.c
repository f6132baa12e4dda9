/* lanes.c - traces or pairs on one cloth: equal ones side by side, or the arms of a feed.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Lane i starts at r_p + i pitch n on ply p: all lanes lie on one cloth, and a ply's registration r_p is common to them. With
 * V(i) = sum over p of V_p(r_p + i pitch n), judged are
 *   pairs          max over i of |V(i)|             V the skew
 *   single traces  max over i of V(i) - min of V(i)  V the delay
 * Arms differ in route and start: V_i(r_p) of each is a map of its own, the start within it.
 * The r_p are independent, each uniform over its cell: 2 P numbers for P plies. They are taken from a sequence that fills the
 * cube of 2 P dimensions evenly, place k at the fractional parts of 1/2 + k/g, k/g^2, .. with g^(2P+1) = g + 1 (additive
 * recurrence, R. D. Richtmyer 1951; these steps M. Roberts 2018, from memory): no random numbers, the same at every turn.
 *
 * Between the 64 by 64 samples of a map the cubic through four by four is taken. It is exact at a sample; a harmonic of order
 * m is off by (3/128) (2 pi m/64)^4 of itself at most, 1 % at m = 8.
 */
#include "chance/lanes.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { SIDE = 64, PADDED = SIDE + 3 }; /* one sample before, two after: a stencil never wraps */

struct ply_map {
    double x, y;   /* to the left of the trace, in samples per metre */
    double *value; /* [PADDED][PADDED] */
};

struct ww_lanes {
    size_t plies, arms, places;
    bool pair;
    struct ply_map *ply; /* [arms][plies] */
    double *value;       /* of all plies */
    double *place;       /* [WW_LANES_PLACES][plies][2], shares of the cell */
};

void ww_lanes_destroy(struct ww_lanes *lanes)
{
    if (!lanes)
        return;
    free(lanes->ply);
    free(lanes->value);
    free(lanes->place);
    free(lanes);
}

/* The root above 1 of g^(dimensions + 1) = g + 1, by iteration: the map contracts. */
static double root_of(size_t dimensions)
{
    double g = 2;
    for (int i = 0; i < 64; i++)
        g = pow(1 + g, 1 / (double)(dimensions + 1));
    return g;
}

static void fill_places(double *place, size_t places, size_t dimensions)
{
    double g = root_of(dimensions);
    for (size_t d = 0; d < dimensions; d++) {
        double step = pow(g, -(double)(d + 1));
        for (size_t k = 0; k < places; k++) {
            double at = 0.5 + (double)(k + 1) * step;
            place[k * dimensions + d] = at - floor(at);
        }
    }
}

enum ww_status ww_lanes_create(struct ww_lanes **out, const struct ww_angle_table *table, size_t arms, size_t places,
                               struct ww_error *error)
{
    *out = NULL;
    struct ww_lanes *lanes = calloc(1, sizeof *lanes);
    size_t plies = table->plies;
    if (lanes) {
        lanes->plies = plies;
        lanes->arms = arms;
        lanes->places = places;
        lanes->pair = table->pair;
        lanes->ply = calloc(arms * plies, sizeof *lanes->ply);
        lanes->value = calloc(arms * plies * PADDED * PADDED, sizeof *lanes->value);
        lanes->place = calloc(2 * plies * places + 1, sizeof *lanes->place);
    }
    if (!lanes || !lanes->ply || !lanes->value || !lanes->place) {
        ww_lanes_destroy(lanes);
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the lanes over %zu plies", plies);
    }
    fill_places(lanes->place, places, 2 * plies);
    for (size_t i = 0; i < arms * plies; i++)
        lanes->ply[i].value = lanes->value + i * PADDED * PADDED;
    *out = lanes;
    return WW_OK;
}

void ww_lanes_take(struct ww_lanes *lanes, size_t arm, struct ww_evaluator *evaluator)
{
    ww_evaluator_judge(evaluator, lanes->pair ? WW_SKEW : WW_LEG1, 0);
    for (size_t p = 0; p < lanes->plies; p++) {
        size_t rows;
        struct ww_map map = ww_evaluator_map(evaluator, p, 1, &rows);
        struct ply_map *ply = &lanes->ply[arm * lanes->plies + p];
        for (size_t iy = 0; iy < PADDED; iy++)
            for (size_t ix = 0; ix < PADDED; ix++)
                ply->value[iy * PADDED + ix] = map.value[(iy + SIDE - 1) % SIDE * SIDE + (ix + SIDE - 1) % SIDE];
        ww_evaluator_left(evaluator, p, &ply->x, &ply->y);
        ply->x *= SIDE / map.lx;
        ply->y *= SIDE / map.ly;
    }
}

/* Weights of the cubic through the samples -1, 0, 1, 2 at t of 0..1. */
static inline void weigh(double t, double weight[4])
{
    const double sixth = 1.0 / 6;
    double before = t + 1, after = t - 1, beyond = t - 2;
    weight[0] = -sixth * t * after * beyond;
    weight[1] = 0.5 * before * after * beyond;
    weight[2] = -0.5 * before * t * beyond;
    weight[3] = sixth * before * t * after;
}

/* The value at (x, y) in 0..SIDE, in samples from the first one. */
static inline double value_at(const struct ply_map *ply, double x, double y)
{
    double wx[4], wy[4], sum = 0;
    size_t ix = (size_t)x, iy = (size_t)y;
    weigh(x - (double)ix, wx);
    weigh(y - (double)iy, wy);
    for (size_t j = 0; j < 4; j++) {
        const double *row = ply->value + (iy + j) * PADDED + ix;
        sum += wy[j] * (wx[0] * row[0] + wx[1] * row[1] + wx[2] * row[2] + wx[3] * row[3]);
    }
    return sum;
}

/* x of any size, within the cell. */
static double wrap(double x)
{
    x -= SIDE * floor(x / SIDE);
    return x < SIDE ? x : 0; /* a trace below 0 rounds to SIDE */
}

/* Of one place: adds what one ply has for each lane. */
static void add_ply(const struct ply_map *ply, const double place[2], size_t count, double pitch, double *sum)
{
    double x = wrap(place[0] * SIDE), y = wrap(place[1] * SIDE);
    double dx = wrap(pitch * ply->x), dy = wrap(pitch * ply->y);
    for (size_t i = 0; i < count; i++) {
        sum[i] += value_at(ply, x, y);
        x += x + dx < SIDE ? dx : dx - SIDE;
        y += y + dy < SIDE ? dy : dy - SIDE;
        x = x > 0 ? x : 0; /* rounding */
        y = y > 0 ? y : 0;
    }
}

static double judge(const struct ww_lanes *lanes, const double *sum, size_t count)
{
    double high = -INFINITY, low = INFINITY;
    for (size_t i = 0; i < count; i++) {
        high = sum[i] > high ? sum[i] : high;
        low = sum[i] < low ? sum[i] : low;
    }
    return !lanes->pair ? high - low : high > 0 - low ? high : 0 - low;
}

static double judge_place(const struct ww_lanes *lanes, const double *place, size_t count, double pitch)
{
    double sum[WW_LANES_MOST];
    for (size_t i = 0; i < count; i++)
        sum[i] = 0;
    for (size_t p = 0; p < lanes->plies; p++)
        add_ply(&lanes->ply[p], place + 2 * p, count, pitch, sum);
    return judge(lanes, sum, count);
}

struct ww_lanes_chance ww_lanes_chance(const struct ww_lanes *lanes, size_t count, double pitch, double budget,
                                       size_t first, size_t places)
{
    struct ww_lanes_chance chance = {0};
    for (size_t k = 0; k < places; k++) {
        double judged =
            judge_place(lanes, lanes->place + 2 * lanes->plies * ((first + k) % lanes->places), count, pitch);
        chance.within += budget > 0 && judged <= budget;
        chance.expected += judged;
    }
    chance.within /= (double)places;
    chance.expected /= (double)places;
    return chance;
}

double ww_lanes_arms_at(const struct ww_lanes *lanes, size_t k)
{
    const double *place = lanes->place + 2 * lanes->plies * (k % lanes->places);
    double sum[WW_ARMS_MOST] = {0};
    for (size_t i = 0; i < lanes->arms; i++)
        for (size_t p = 0; p < lanes->plies; p++)
            sum[i] +=
                value_at(&lanes->ply[i * lanes->plies + p], wrap(place[2 * p] * SIDE), wrap(place[2 * p + 1] * SIDE));
    return judge(lanes, sum, lanes->arms);
}

/* Mean of the product of two maps over all samples; of one map where b is NULL. */
static double mean_product(const struct ply_map *a, const struct ply_map *b)
{
    double sum = 0;
    for (size_t iy = 1; iy <= SIDE; iy++)
        for (size_t ix = 1; ix <= SIDE; ix++)
            sum += a->value[iy * PADDED + ix] * (b ? b->value[iy * PADDED + ix] : 1);
    return sum / (SIDE * SIDE);
}

void ww_lanes_covariance(const struct ww_lanes *lanes, double *covariance)
{
    for (size_t i = 0; i < lanes->arms; i++)
        for (size_t j = 0; j <= i; j++) {
            double sum = 0;
            for (size_t p = 0; p < lanes->plies; p++) {
                const struct ply_map *a = &lanes->ply[i * lanes->plies + p], *b = &lanes->ply[j * lanes->plies + p];
                sum += mean_product(a, b) - mean_product(a, NULL) * mean_product(b, NULL);
            }
            covariance[i * lanes->arms + j] = covariance[j * lanes->arms + i] = sum;
        }
}
