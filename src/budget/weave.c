/* weave.c - how the weave alone sets the delays and losses of two circuits apart.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A circuit's delay D(r; t, s) hangs on its place r, the turn t and the stretch s of the cloth. One distribution holds all
 * three: at each (t, s) that over r, mixed by the weights of the boards. Two circuits of one board have the same t and s, so their
 * difference is taken before mixing; those of two boards each have their own, so it is taken after. Turns are ANGLES_PER_LOBE to a
 * lobe (yarn pitch over length), with the trapezoidal rule; stretches and their weights are those of the
 * angle tables.
 *
 * The loss of the dielectric is a sum of harmonics of the place as the delay is: those of the slowness S, as Dk goes along the
 * loss tangents (moved.h),
 *   alpha^(k) = omega dS^(k)/dh,   Dk (1 + h df) in every material,
 * by central differences of two lines' angle tables. So all of the above serves it.
 */
#include "budget/weave.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "budget/moved.h"
#include "chance/distribution.h"
#include "chance/envelope.h"
#include "core/parallel.h"
#include "correct/correction.h"
#include "scan/extremes.h"

#define ANGLES_PER_LOBE 16.0
#define LEAST_ANGLES 8
#define MOST_ANGLES 256
#define SIGMAS 3.0 /* in the turn, where its law is normal: as in chance/tolerance.c */
#define SHIFT 0.02 /* of the lossiest material's Dk, either way: the slowness' curve over it is below 1e-3 */

/* The traces of a set; of a study without arms its own. */
struct arms {
    size_t count;
    struct ww_arm arm[WW_ARMS_MOST];
    struct ww_route_segment straight;   /* of a first one without a route */
    struct ww_route_segment *direction; /* that they have, each once */
    struct ww_correction *correction;   /* in those */
};

/* All turns of one stretch, each solved into a place of its own. */
struct turns {
    const struct ww_skew_request *request;
    const struct ww_angle_table *table;
    const struct arms *arms;
    size_t count;
    struct ww_distribution *one, *same; /* [count] */
    struct ww_failure failure;
};

static double turn_at(const struct turns *turns, size_t i)
{
    double whole = (double)(turns->count - 1);
    return turns->count > 1 ? turns->request->turn * (2.0 * (double)i / whole - 1.0) : 0.0;
}

/* By the trapezoidal rule and the law, not to scale. */
static double weight_at(const struct turns *turns, size_t i)
{
    bool end = turns->count > 1 && (i == 0 || i + 1 == turns->count);
    double sigmas = turns->count > 1 ? SIGMAS * turn_at(turns, i) / turns->request->turn : 0.0;
    return (end ? 0.5 : 1.0) * (turns->request->turn_law == WW_NORMAL ? exp(-0.5 * sigmas * sigmas) : 1.0);
}

static size_t count_turns(const struct ww_angle_table *table, const struct ww_skew_request *request)
{
    double intervals = 2.0 * ceil(request->turn * ANGLES_PER_LOBE / ww_angle_lobe(table, request->length));
    return request->turn > 0.0 ? (size_t)fmin(fmax(intervals, LEAST_ANGLES), MOST_ANGLES) + 1 : 1;
}

/* The map of a circuit's delay on one ply, which the caller clears. */
static enum ww_status take_map(struct ww_map *kept, size_t *rows, struct ww_evaluator *evaluator,
                               const struct ww_angle_table *table, size_t ply, struct ww_error *error)
{
    enum ww_status status = WW_OK;
    int legs = table->pair ? 2 : 1;
    for (int leg = 0; leg < legs && !status; leg++) {
        ww_evaluator_judge(evaluator, leg ? WW_LEG2 : WW_LEG1, table->spacing);
        struct ww_map map = ww_evaluator_map(evaluator, ply, 1.0, rows);
        if (leg == 0)
            status = ww_map_init(kept, map.nx, map.ny, map.lx, map.ly, error);
        for (size_t i = 0; i < map.nx * map.ny && !status; i++)
            kept->value[i] += map.value[i] / legs;
    }
    return status;
}

static enum ww_status add_plies(struct ww_distribution *d, const struct ww_map *map, const size_t *rows, size_t plies,
                                struct ww_error *error)
{
    double range = 0.0, of_ply[2];
    enum ww_status status = WW_OK;
    for (size_t p = 0; p < plies; p++) {
        ww_map_row_range(&map[p], rows[p], of_ply);
        range += of_ply[1] - of_ply[0];
    }
    for (size_t p = 0; p < plies && !status; p++)
        status = ww_distribution_add_map(d, &map[p], rows[p], range, p == 0, error);
    return status;
}

/* Of one circuit, or with `apart` of two side by side on one cloth. */
static enum ww_status distribute(struct ww_distribution *d, struct ww_evaluator *evaluator,
                                 const struct ww_angle_table *table, bool apart, struct ww_error *error)
{
    size_t *rows = calloc(table->plies + 1, sizeof *rows);
    struct ww_map *map = calloc(table->plies + 1, sizeof *map);
    enum ww_status status =
        map && rows ? WW_OK : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the maps");
    for (size_t p = 0; p < table->plies && !status && !apart; p++)
        status = take_map(&map[p], &rows[p], evaluator, table, p, error);
    if (apart)
        ww_evaluator_judge(evaluator, WW_APART, table->spacing);
    for (size_t p = 0; p < table->plies && !status && apart; p++) {
        struct ww_map own = ww_evaluator_map(evaluator, p, 1.0, &rows[p]);
        status = ww_map_init(&map[p], own.nx, own.ny, own.lx, own.ly, error);
        if (!status)
            memcpy(map[p].value, own.value, own.nx * own.ny * sizeof *own.value);
    }
    if (!status)
        status = add_plies(d, map, rows, table->plies, error);
    for (size_t p = 0; map && p < table->plies; p++)
        ww_map_clear(&map[p]);
    free(map);
    free(rows);
    return status;
}

/* The maps of one arm on all plies. */
static enum ww_status map_arm(struct ww_map *map, size_t *rows, const struct turns *turns, const struct ww_arm *arm,
                              double angle, struct ww_error *error)
{
    struct ww_angle_table view = ww_angle_table_along(turns->table, arm->route, arm->segments, arm->from);
    struct ww_evaluator *evaluator = NULL;
    enum ww_status status = ww_evaluator_create(&evaluator, &view, error);
    if (!status)
        ww_evaluator_turn(evaluator, angle);
    for (size_t p = 0; p < view.plies && !status; p++)
        status = take_map(&map[p], &rows[p], evaluator, &view, p, error);
    ww_evaluator_destroy(evaluator);
    return status;
}

/* Adds the distribution of maps of all plies, of such a weight. */
static enum ww_status mix_maps(struct ww_distribution *d, const struct ww_map *map, const size_t *rows, size_t plies,
                               double weight, struct ww_error *error)
{
    struct ww_distribution own = {0};
    enum ww_status status = add_plies(&own, map, rows, plies, error);
    if (!status)
        status = ww_distribution_mix(d, &own, weight, error);
    ww_distribution_clear(&own);
    return status;
}

/* One arm less another; map `a` is kept, and the difference is in `between` of as many samples. */
static void subtract_maps(struct ww_map *between, const struct ww_map *a, const struct ww_map *b, size_t plies)
{
    for (size_t p = 0; p < plies; p++)
        for (size_t k = 0; k < a[p].nx * a[p].ny; k++)
            between[p].value[k] = a[p].value[k] - b[p].value[k];
}

/* Any one, and any two. */
static enum ww_status solve_arms(struct turns *turns, size_t i, struct ww_error *error)
{
    size_t plies = turns->table->plies, n = turns->arms->count;
    double angle = turns->request->angle + turn_at(turns, i), couples = 0.5 * (double)n * ((double)n - 1.0);
    struct ww_map *map = calloc((n + 1) * plies, sizeof *map), *between = map + n * plies;
    size_t *rows = calloc(n * plies, sizeof *rows);
    enum ww_status status =
        map && rows ? WW_OK : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the maps of %zu arms", n);
    for (size_t a = 0; a < n && !status; a++)
        status = map_arm(map + a * plies, rows + a * plies, turns, &turns->arms->arm[a], angle, error);
    for (size_t p = 0; p < plies && !status; p++)
        status = ww_map_init(&between[p], map[p].nx, map[p].ny, map[p].lx, map[p].ly, error);
    for (size_t a = 0; a < n && !status; a++) {
        status = mix_maps(&turns->one[i], map + a * plies, rows, plies, 1.0 / (double)n, error);
        for (size_t b = 0; b < a && !status; b++) {
            subtract_maps(between, map + a * plies, map + b * plies, plies);
            status = mix_maps(&turns->same[i], between, rows, plies, 1.0 / couples, error);
        }
    }
    for (size_t k = 0; map && k < (n + 1) * plies; k++)
        ww_map_clear(&map[k]);
    free(map);
    free(rows);
    return status;
}

static enum ww_status solve_turn(struct turns *turns, struct ww_evaluator *evaluator, size_t i,
                                 struct ww_error *error)
{
    struct ww_distribution *one = &turns->one[i], *same = &turns->same[i];
    if (turns->arms->count > 1)
        return solve_arms(turns, i, error);
    ww_evaluator_turn(evaluator, turns->request->angle + turn_at(turns, i));
    enum ww_status status = distribute(one, evaluator, turns->table, false, error);
    if (status)
        return status;
    return turns->table->spacing > 0.0 ? distribute(same, evaluator, turns->table, true, error)
                                       : ww_distribution_combine(one, one, -1, same, error);
}

static void visit_turn(void *host, struct ww_evaluator *evaluator, size_t i)
{
    struct turns *turns = host;
    struct ww_error mine = {0};
    ww_failure_keep(&turns->failure, i, solve_turn(turns, evaluator, i, &mine), &mine);
}

static void turns_clear(struct turns *turns)
{
    for (size_t i = 0; i < turns->count && turns->one && turns->same; i++) {
        ww_distribution_clear(&turns->one[i]);
        ww_distribution_clear(&turns->same[i]);
    }
    free(turns->one);
    free(turns->same);
}

/* Adds all turns of one stretch with their weights; `total` is that of all stretches. */
static enum ww_status add_stretch(struct ww_weave_effect *effect, const struct ww_angle_table *table,
                                  const struct ww_skew_request *request, const struct arms *arms, double share,
                                  struct ww_error *error)
{
    struct ww_progress_run silent = {0};
    struct turns turns = {.request = request,
                          .table = table,
                          .arms = arms,
                          .count = count_turns(table, request),
                          .failure = {.error = error}};
    double total = 0.0;
    turns.one = calloc(turns.count, sizeof *turns.one);
    turns.same = calloc(turns.count, sizeof *turns.same);
    enum ww_status status =
        turns.one && turns.same
            ? WW_OK
            : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu turns of the cloth", turns.count);
    if (!status)
        status = ww_evaluate_all(table, turns.count, visit_turn, &turns, &silent, error);
    if (!status)
        status = turns.failure.status;
    for (size_t i = 0; i < turns.count; i++)
        total += weight_at(&turns, i);
    for (size_t i = 0; i < turns.count && !status; i++) {
        double weight = share * weight_at(&turns, i) / total;
        status = ww_distribution_mix(&effect->one, &turns.one[i], weight, error);
        if (!status)
            status = ww_distribution_mix(&effect->same, &turns.same[i], weight, error);
    }
    turns_clear(&turns);
    return status;
}

static void effect_clear(struct ww_weave_effect *effect)
{
    ww_distribution_clear(&effect->one);
    ww_distribution_clear(&effect->same);
    ww_distribution_clear(&effect->two);
}

static enum ww_status add_stretches(struct ww_weave_effect *effect, const struct ww_angle_tables *tables,
                                    const struct ww_skew_request *request, const struct arms *arms,
                                    struct ww_error *error)
{
    enum ww_status status = WW_OK;
    double total = 0.0;
    for (size_t s = 0; s < tables->count; s++)
        total += tables->stretch[s].weight;
    for (size_t s = 0; s < tables->count && !status; s++)
        status = add_stretch(effect, tables->table[s], request, arms, tables->stretch[s].weight / total, error);
    return status ? status : ww_distribution_combine(&effect->one, &effect->one, -1, &effect->two, error);
}

/* Within the turn of the study. */
static enum ww_status create_tables(struct ww_angle_tables *tables, const struct ww_line *line,
                                    const struct ww_skew_request *request, struct ww_error *error)
{
    struct ww_progress_run silent = {0};
    return ww_angle_tables_create(tables, line, request, request->angle - request->turn,
                                  request->angle + request->turn, request->length, &silent, error);
}

static enum ww_status solve_delay(struct ww_weave_effect *delay, const struct ww_line *line,
                                  const struct ww_skew_request *request, const struct arms *arms,
                                  struct ww_error *error)
{
    struct ww_angle_tables tables = {0};
    enum ww_status status = create_tables(&tables, line, request, error);
    if (!status)
        status = add_stretches(delay, &tables, request, arms, error);
    ww_angle_tables_destroy(&tables);
    return status;
}

/* Its tables have the loss of the whole trace in place of the delay; over the length, in dB. */
static enum ww_status solve_loss(struct ww_weave_effect *loss, const struct ww_study *study,
                                 const struct ww_skew_request *request, const struct arms *arms,
                                 struct ww_error *error)
{
    const double decibels = 20.0 / log(10.0);
    double share = SHIFT / ww_largest_df(&study->stack), omega = 2.0 * WW_PI * ww_study_frequency(study);
    struct ww_shifted_line higher = {0}, lower = {0};
    struct ww_angle_tables tables = {0}, below = {0};
    enum ww_status status = ww_shifted_line_create(&higher, study, share, error);
    if (!status)
        status = ww_shifted_line_create(&lower, study, -share, error);
    if (!status)
        status = create_tables(&tables, higher.line, request, error);
    if (!status)
        status = create_tables(&below, lower.line, request, error);
    for (size_t s = 0; s < tables.count && !status; s++)
        ww_angle_table_subtract(tables.table[s], below.table[s], decibels * omega / (2.0 * share * request->length));
    if (!status)
        status = add_stretches(loss, &tables, request, arms, error);
    ww_angle_tables_destroy(&below);
    ww_angle_tables_destroy(&tables);
    ww_shifted_line_clear(&lower);
    ww_shifted_line_clear(&higher);
    return status;
}

static void arms_clear(struct arms *arms)
{
    ww_correction_release(arms->correction);
    free(arms->direction);
}

/* Lists the arms of a request with some; their directions become its route, the longest its length, and its correction theirs. */
static enum ww_status arms_init(struct arms *arms, struct ww_skew_request *request, const struct ww_line *line,
                                struct ww_error *error)
{
    size_t segments = request->segments ? request->segments : 1;
    arms->straight.length = request->length;
    arms->arm[0] = (struct ww_arm){.route = (struct ww_route_segment *)request->route, .segments = segments};
    if (request->segments == 0)
        arms->arm[0].route = &arms->straight;
    for (size_t i = 0; i < request->arms; i++) {
        arms->arm[i + 1] = request->arm[i];
        segments += request->arm[i].segments;
    }
    arms->count = request->arms + 1;
    arms->direction = calloc(segments, sizeof *arms->direction);
    double *angle = calloc(segments, sizeof *angle);
    enum ww_status status =
        arms->direction && angle ? WW_OK : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the arms");
    size_t count = 0;
    for (size_t i = 0; i < arms->count && !status; i++) {
        double length = 0.0;
        count = ww_directions_add(arms->direction, count, arms->arm[i].route, arms->arm[i].segments);
        for (size_t k = 0; k < arms->arm[i].segments; k++)
            length += arms->arm[i].route[k].length;
        request->length = fmax(request->length, length);
    }
    request->route = arms->direction;
    request->segments = count;
    if (!status) {
        struct ww_correction_request wanted = ww_skew_correction(request, angle);
        status = ww_correction_create(&arms->correction, line, request->correction, &wanted, error);
        request->correction = arms->correction;
    }
    free(angle);
    return status;
}

enum ww_status ww_weave_solve(struct ww_weave *weave, const struct ww_study *study,
                              const struct ww_solution *solution, struct ww_error *error)
{
    struct ww_skew_request request = ww_study_request(study);
    struct arms arms = {.count = 1};
    enum ww_status status = WW_OK;
    memset(weave, 0, sizeof *weave);
    if (solution->skew.plies == 0)
        return WW_OK;
    request.frequency = request.rate = 0.0; /* no conversion */
    request.correction = solution->skew.correction;
    if (request.arms > 0)
        status = arms_init(&arms, &request, solution->line, error);
    if (!status)
        status = solve_delay(&weave->delay, solution->line, &request, &arms, error);
    request.correction = NULL; /* of first order in the loss the kernel does */
    if (arms.count > 1)        /* whose directions need many scans: counts as woven, of which the loss hardly hangs */
        request.warp_tolerance = request.fill_tolerance = 0.0;
    if (!status && ww_study_frequency(study) > 0.0 && ww_largest_df(&study->stack) > 0.0)
        status = solve_loss(&weave->loss, study, &request, &arms, error);
    arms_clear(&arms);
    if (status)
        ww_weave_clear(weave);
    return status;
}

void ww_weave_clear(struct ww_weave *weave)
{
    effect_clear(&weave->delay);
    effect_clear(&weave->loss);
}
