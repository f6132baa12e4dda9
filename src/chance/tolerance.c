/* tolerance.c - the answer over all that nobody controls: where the cloth lies, how it is turned, how dense it is woven.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The turn of the cloth and its yarn count are sampled on a grid, fine enough for the lobes that skew has over angle, and
 * at each point all positions are asked. The worst of them all is the figure to design by; it takes each ply at its own
 * worst turn. For the chances the plies of a board are turned and stretched alike, and a mixture over the grid, each point
 * with its weight, is what one pair has to expect. Pairs of one board share the turn but not the place on the cloth: given
 * the turn they are independent, so the chance that all of N meet a limit is the mean over turns of F^N, and their worst
 * is on average the integral of 1 - F^N.
 */
#include "chance/tolerance.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/parallel.h"
#include "line/line.h"
#include "chance/distribution.h"
#include "chance/placements.h"

#define POSITIONS 128        /* across, of the maps at each point of the grid, at most */
#define ANGLES_PER_LOBE 4.0  /* angles tried per first null of the slowest harmonic, pitch/length */
#define MOST_TURN_ANGLES 241 /* over the whole tolerance */
#define STRETCHES 9          /* over the whole tolerance of the count */
#define SIGMAS 3.0           /* that the turn is worth where its law is normal */

/* The grid, angles by stretches, and what was found at each point. */
struct grid {
    int each_side; /* angles on either side of the nominal */
    size_t angles, stretches, points;
    double step;
    struct ww_placements *at; /* [angles][stretches] */
};

static void grid_clear(struct grid *grid)
{
    for (size_t i = 0; grid->at && i < grid->points; i++)
        ww_placements_clear(&grid->at[i]);
    free(grid->at);
    memset(grid, 0, sizeof *grid);
}

static enum ww_status grid_init(struct grid *grid, const struct ww_line *line, const struct ww_skew_request *request,
                                struct ww_error *error)
{
    memset(grid, 0, sizeof *grid);
    if (request->turn > 0) {
        double pitch = INFINITY;
        for (size_t p = 0; p < line->stack->plies; p++)
            pitch = fmin(pitch, 0.5 * fmin(line->harmonics[p].lx, line->harmonics[p].ly));
        double fine = pitch / (ANGLES_PER_LOBE * request->length);
        grid->each_side = (int)ceil(fmin(fmax(request->turn / fine, 4), (MOST_TURN_ANGLES - 1) / 2));
        grid->step = request->turn / grid->each_side;
    }
    grid->angles = 2 * (size_t)grid->each_side + 1;
    grid->stretches = request->count_tolerance > 0 ? STRETCHES : 1;
    grid->points = grid->angles * grid->stretches;
    grid->at = calloc(grid->points, sizeof *grid->at);
    return grid->at
               ? WW_OK
               : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu turns of the cloth", grid->points);
}

static double turn_at(const struct grid *grid, size_t point)
{
    return ((double)(point / grid->stretches) - grid->each_side) * grid->step;
}

/* -1 .. 1 over the tolerance of the count. */
static double stretch_at(const struct grid *grid, size_t point)
{
    return grid->stretches > 1 ? 2 * (double)(point % grid->stretches) / (double)(grid->stretches - 1) - 1 : 0;
}

/* Weight of a point, by the trapezoidal rule; their sum is not 1 yet. */
static double weight_at(const struct grid *grid, size_t point, const struct ww_skew_request *request)
{
    size_t angle = point / grid->stretches, stretch = point % grid->stretches;
    double weight = 1, sigmas = request->turn > 0 ? SIGMAS * turn_at(grid, point) / request->turn : 0;
    if (grid->angles > 1 && (angle == 0 || angle + 1 == grid->angles))
        weight *= 0.5;
    if (grid->stretches > 1 && (stretch == 0 || stretch + 1 == grid->stretches))
        weight *= 0.5;
    return request->turn_law == WW_NORMAL ? weight * exp(-0.5 * sigmas * sigmas) : weight;
}

/* Every point fills its own place, so that the result is the same on any number of threads. */
static enum ww_status grid_solve(struct grid *grid, const struct ww_line *line, const struct ww_skew_request *request,
                                 struct ww_error *error)
{
    struct ww_failure failure = {.error = error};
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads()) schedule(dynamic)
#endif
    for (size_t i = 0; i < grid->points; i++) {
        struct ww_error mine = {0};
        struct ww_skew_request here = *request;
        here.scan.positions =
            request->scan.positions && request->scan.positions < POSITIONS ? request->scan.positions : POSITIONS;
        here.scan.stretch = stretch_at(grid, i) * request->count_tolerance;
        ww_failure_keep(&failure, i,
                        ww_placements_solve(&grid->at[i], line, &here, request->angle + turn_at(grid, i), true, &mine),
                        &mine);
    }
    return failure.status;
}

/* Largest over the grid, ply by ply; the angle where the plies turned alike add to the most. */
static void take_worst(struct ww_skew *skew, const struct grid *grid, const struct ww_skew_request *request)
{
    double most = skew->pair ? skew->worst : skew->spread, sum_high = 0, sum_low = 0;
    skew->turn_angle_step = grid->step;
    skew->worst_angle = request->angle;
    for (size_t i = 0; i < grid->points; i++)
        if (grid->at[i].worst > most * (1 + 1e-9)) {
            most = grid->at[i].worst;
            skew->worst_angle = request->angle + turn_at(grid, i);
        }
    for (size_t p = 0; p < skew->plies; p++) {
        double top = skew->high[p].value, bottom = skew->low[p].value, spread = top - bottom;
        for (size_t i = 0; i < grid->points; i++) {
            double high = grid->at[i].high[p].value, low = grid->at[i].low[p].value;
            top = fmax(top, high);
            bottom = fmin(bottom, low);
            spread = fmax(spread, high - low);
        }
        /* two single traces lie on the same cloth, turned alike */
        sum_high += skew->pair ? top : spread;
        sum_low += skew->pair ? bottom : 0;
    }
    skew->worst_with_turn = ww_design_value(skew->pair, sum_high, sum_low);
}

/* One point of the grid: its share in what a pair, and the lanes together, have to expect. */
static enum ww_status take_chances(struct ww_skew *skew, const struct ww_placements *at, double weight,
                                   const struct ww_skew_request *request, struct ww_error *error)
{
    /* a limit is held against a pair's skew, or the difference of two equal single traces */
    const struct ww_distribution *judged = &at->distribution;
    struct ww_distribution difference = {0};
    double lanes = request->lanes ? (double)request->lanes : 1;
    enum ww_status status = WW_OK;
    if (!skew->pair) {
        status = ww_distribution_combine(judged, judged, -1, &difference, error);
        judged = &difference;
    }
    if (!status)
        status = ww_distribution_mix(&skew->tolerant, &at->distribution, weight, error);
    if (!status && request->budget > 0) {
        double exceed = ww_distribution_exceed(judged, request->budget);
        skew->tolerant_over_budget += weight * exceed;
        skew->yield += weight * pow(fmax(1 - exceed, 0), lanes);
    }
    double expected = 0;
    if (!status)
        status = ww_distribution_expected_worst(judged, lanes, &expected, error);
    skew->expected_worst += weight * expected;
    ww_distribution_clear(&difference);
    return status;
}

enum ww_status ww_tolerance_solve(struct ww_skew *skew, const struct ww_line *line,
                                  const struct ww_skew_request *request, struct ww_error *error)
{
    skew->worst_with_turn = skew->pair ? skew->worst : skew->spread;
    skew->worst_angle = request->angle;
    if (skew->plies == 0)
        return WW_OK;
    struct grid grid;
    enum ww_status status = grid_init(&grid, line, request, error);
    if (!status)
        status = grid_solve(&grid, line, request, error);
    if (status)
        goto done;
    take_worst(skew, &grid, request);
    double total = 0;
    for (size_t i = 0; i < grid.points; i++)
        total += weight_at(&grid, i, request);
    for (size_t i = 0; i < grid.points && !status; i++)
        status = take_chances(skew, &grid.at[i], weight_at(&grid, i, request) / total, request, error);
    if (status)
        goto done;
    skew->tolerant_median = fmin(ww_distribution_quantile(&skew->tolerant, 0.5), skew->worst_with_turn);
    skew->tolerant_p99 = fmin(ww_distribution_quantile(&skew->tolerant, 0.99), skew->worst_with_turn);
done:
    grid_clear(&grid);
    return status;
}
