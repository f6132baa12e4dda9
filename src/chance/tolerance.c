/* tolerance.c - the answer over all that nobody controls: where the cloth lies, how it is turned, how dense it is woven.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The design worst is that of the envelope over turn and yarn count, each ply at its own (envelope.c). For the chances all
 * plies of a board have one turn t and one stretch s. With F(v; t, s) = P(|value| <= v) and weights w over a grid of t, s:
 *   one pair                  P(v)   = sum w F(v; t, s)
 *   N pairs, yield            P_N(v) = sum w F(v; t, s)^N          independent positions, same t and s
 *   N pairs, expected worst   integral over v >= 0 of 1 - P_N(v)   [s].
 */
#include "chance/tolerance.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "chance/distribution.h"
#include "chance/envelope.h"
#include "core/parallel.h"
#include "scan/extremes.h"

#define ANGLES_PER_LOBE                                                                                              \
    32.0               /* of the grid: against 257 angles on one board 8 left yields off by 1.4 points, 32 by 0.8 */
#define LEAST_ANGLES 8 /* over the whole tolerance */
#define MOST_ANGLES 2000
#define SIGMAS 3.0 /* in the turn, where its law is normal */

/* The grid of turns by stretches, and the distribution of one pair at each point. */
struct grid {
    size_t angles, stretches, points;
    double step;
    struct ww_distribution *at; /* [angle][stretch] */
};

static void grid_clear(struct grid *grid)
{
    for (size_t i = 0; grid->at && i < grid->points; i++)
        ww_distribution_clear(&grid->at[i]);
    free(grid->at);
    memset(grid, 0, sizeof *grid);
}

static enum ww_status grid_init(struct grid *grid, const struct ww_angle_tables *tables,
                                const struct ww_skew_request *request, struct ww_error *error)
{
    double lobe = ww_angle_lobe(ww_angle_tables_nominal(tables), request->length);
    double steps = request->turn > 0 ? ceil(2 * request->turn * ANGLES_PER_LOBE / lobe) : 0;
    steps = request->turn > 0 ? fmin(fmax(2 * ceil(0.5 * steps), LEAST_ANGLES), MOST_ANGLES) : 0;
    *grid = (struct grid){.angles = (size_t)steps + 1, .stretches = tables->count};
    grid->step = steps > 0 ? 2 * request->turn / steps : 0;
    grid->points = grid->angles * grid->stretches;
    grid->at = calloc(grid->points, sizeof *grid->at);
    return grid->at
               ? WW_OK
               : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu turns of the cloth", grid->points);
}

static double turn_at(const struct grid *grid, size_t point)
{
    return ((double)(point / grid->stretches) - 0.5 * (double)(grid->angles - 1)) * grid->step;
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

/* The plies' distributions, convolved: bins a 1/BINS of the whole range. */
static enum ww_status distribute(struct ww_distribution *d, struct ww_evaluator *evaluator, size_t plies,
                                 struct ww_error *error)
{
    enum ww_status status = WW_OK;
    double range = 0;
    for (size_t p = 0; p < plies; p++) {
        struct ww_reach reach = ww_evaluator_reach(evaluator, p, 1);
        range += reach.high - reach.low;
    }
    for (size_t p = 0; p < plies && !status; p++) {
        size_t rows;
        struct ww_map map = ww_evaluator_map(evaluator, p, 1, &rows);
        status = ww_distribution_add_map(d, &map, rows, range, p == 0, error);
    }
    return status;
}

static enum ww_status solve_points(struct grid *grid, const struct ww_angle_tables *tables, double angle,
                                   struct ww_error *error)
{
    struct ww_failure failure = {.error = error};
#ifdef _OPENMP
#pragma omp parallel num_threads(ww_threads())
#endif
    {
        struct ww_evaluator *evaluator[WW_STRETCHES] = {NULL};
        struct ww_error mine = {0};
        const size_t stretches = tables->count > 1 ? WW_STRETCHES : 1;
        for (size_t s = 0; s < stretches; s++)
            ww_failure_keep(&failure, 0, ww_evaluator_create(&evaluator[s], tables->table[s], &mine), &mine);
#ifdef _OPENMP
#pragma omp for schedule(dynamic, 4)
#endif
        for (size_t i = 0; i < grid->points; i++) {
            struct ww_evaluator *here = evaluator[i % stretches];
            struct ww_error own = {0};
            if (!here)
                continue;
            ww_evaluator_turn(here, angle + turn_at(grid, i));
            ww_failure_keep(&failure, i, distribute(&grid->at[i], here, tables->table[0]->plies, &own), &own);
        }
        for (size_t s = 0; s < stretches; s++)
            ww_evaluator_destroy(evaluator[s]);
    }
    return failure.status;
}

/* Adds one point of the grid, with its weight, to the chances of one pair and of all lanes. */
static enum ww_status take_chances(struct ww_skew *skew, const struct ww_distribution *at, double weight,
                                   const struct ww_skew_request *request, struct ww_error *error)
{
    /* the budget limits a pair's skew, or the difference of two equal single traces */
    const struct ww_distribution *judged = at;
    struct ww_distribution difference = {0};
    double lanes = request->lanes ? (double)request->lanes : 1;
    enum ww_status status = WW_OK;
    if (!skew->pair) {
        status = ww_distribution_combine(judged, judged, -1, &difference, error);
        judged = &difference;
    }
    if (!status)
        status = ww_distribution_mix(&skew->tolerant, at, weight, error);
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

static enum ww_status find_design(struct ww_skew *skew, const struct ww_angle_tables *tables,
                                  const struct ww_skew_request *request, struct ww_error *error)
{
    struct ww_envelope envelope = {0};
    struct ww_progress_run silent = {0};
    enum ww_status status = ww_envelope_solve(&envelope, tables, request->angle, request->angle, request->turn,
                                              request->length, &silent, error);
    if (!status) {
        skew->worst_with_turn = fmax(skew->worst_with_turn, ww_envelope_design(&envelope, request->angle));
        skew->worst_angle = ww_envelope_worst_angle(&envelope, request->angle);
        skew->turn_angle_step = envelope.step;
        double converted = ww_envelope_conversion(&envelope, request->angle);
        if (converted > skew->conversion.worst) {
            skew->conversion.worst_with_turn = converted;
            skew->conversion.worst_angle = ww_envelope_conversion_angle(&envelope, request->angle);
        }
    }
    ww_envelope_clear(&envelope);
    return status;
}

enum ww_status ww_tolerance_solve(struct ww_skew *skew, const struct ww_line *line,
                                  const struct ww_skew_request *request, struct ww_error *error)
{
    struct ww_angle_tables tables = {0};
    struct grid grid = {0};
    struct ww_progress_run silent = {0};
    skew->worst_with_turn = skew->pair ? skew->worst : skew->spread;
    skew->worst_angle = request->angle;
    if (skew->plies == 0)
        return WW_OK;
    double turn = request->turn;
    if (turn == 0 && request->count_tolerance == 0) { /* only the position varies */
        enum ww_status taken = take_chances(skew, &skew->distribution, 1, request, error);
        skew->tolerant_median = fmin(ww_distribution_quantile(&skew->tolerant, 0.5), skew->worst_with_turn);
        skew->tolerant_p99 = fmin(ww_distribution_quantile(&skew->tolerant, 0.99), skew->worst_with_turn);
        return taken;
    }
    enum ww_status status = ww_angle_tables_create(&tables, line, request, request->angle - turn,
                                                   request->angle + turn, request->length, &silent, error);
    if (!status)
        status = find_design(skew, &tables, request, error);
    if (!status)
        status = grid_init(&grid, &tables, request, error);
    if (!status)
        status = solve_points(&grid, &tables, request->angle, error);
    double total = 0;
    for (size_t i = 0; i < grid.points && !status; i++)
        total += weight_at(&grid, i, request);
    for (size_t i = 0; i < grid.points && !status; i++)
        status = take_chances(skew, &grid.at[i], weight_at(&grid, i, request) / total, request, error);
    if (!status) {
        skew->tolerant_median = fmin(ww_distribution_quantile(&skew->tolerant, 0.5), skew->worst_with_turn);
        skew->tolerant_p99 = fmin(ww_distribution_quantile(&skew->tolerant, 0.99), skew->worst_with_turn);
    }
    grid_clear(&grid);
    ww_angle_tables_destroy(&tables);
    return status;
}
