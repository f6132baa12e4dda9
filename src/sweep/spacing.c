/* spacing.c - how far apart to keep two feeds, or the lanes of a bus, on one cloth.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Two traces d apart see the same cloth where k.d is a multiple of 2 pi for all harmonics that count: along the warp at
 * multiples of its pitch. There their delays agree; the worst difference over d is a comb. The cloth's turn fills its nulls
 * up, so the worst is taken within the turn and count tolerance, each ply at its own, as the design worst is (envelope.c):
 *   high_p(d) = max over turns and stretches of the greatest difference on ply p, low_p(d) likewise,
 *   worst(d)  = max(sum over p of high_p, -sum over p of low_p).
 * Of single traces alone: pairs are told apart at their own spacing. No difference exceeds the range of the delay at that turn. Turns are tried by that range, the largest first, and left off
 * where it is below what is reached already: most of them.
 *
 * Lanes: the yield over their pitch is averaged over the boards of the answer (tolerance.c). A multiple of a yarn pitch is a
 * peak as narrow as that over the number of lanes, one and a half a lesser one; so more pitches are taken about them.
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "chance/envelope.h"
#include "chance/lanes.h"
#include "core/parallel.h"
#include "weftwise/sweep.h"

#define PITCHES 8.0          /* of the cloth, over which spacings are shown */
#define STEPS_PER_PITCH 32.0 /* of spacings */
#define LANE_PITCHES 2.5     /* of the cloth, over which lane pitches are shown */
#define LANE_STEPS 16.0      /* likewise, between the peaks */
#define STEPS_PER_LOBE 16.0  /* of the turn: half a step off a lobe's top is 0.5 % below it */
#define MOST_TURNS 4000
#define PLACES 8    /* of the first lane, on each board others */
#define HALF 0.5    /* a null is below this of the largest value within a pitch */
#define ROUND 1e-6  /* [m] told spacings are multiples of it */
#define WHOLE 0.005 /* of a yarn pitch: that near is a multiple */
#define MET 0.999   /* of yield: nothing is left to gain */
#define NEARLY 0.01 /* of yield, below the most */
enum { GOLDEN = 10, CHUNK = 16 };

/* One turn and stretch of the cloth. */
struct posture {
    double angle, range; /* [rad]; of the delay of one ply [s] */
    size_t stretch;
};

struct sweep {
    const struct ww_spacing_request *request;
    struct ww_angle_tables tables;
    size_t plies, postures;
    struct posture *posture;     /* [plies][postures], descending in range */
    double pitch;                /* the widest of the yarns' */
    struct ww_evaluator *square; /* at the study's angle, the cloth as it is woven */
};

static void sweep_clear(struct sweep *sweep)
{
    free(sweep->posture);
    ww_evaluator_destroy(sweep->square);
    ww_angle_tables_destroy(&sweep->tables);
}

/* Pitch of the yarns of one ply that lie across the line from one trace to the next, more or less. */
static double yarn_pitch(const struct sweep *sweep, size_t ply)
{
    const struct ww_angle_table_ply *of = &ww_angle_tables_nominal(&sweep->tables)->ply[ply];
    double x, y;
    ww_evaluator_left(sweep->square, ply, &x, &y);
    return 0.5 * (fabs(x) >= fabs(y) ? of->lx : of->ly);
}

/* As many yarns of one ply, where it is a whole number; else 0. */
static double yarns_of(const struct sweep *sweep, double distance)
{
    for (size_t p = 0; p < sweep->plies; p++) {
        double yarns = distance / yarn_pitch(sweep, p);
        if (round(yarns) >= 1 && fabs(yarns - round(yarns)) < WHOLE)
            return round(yarns);
    }
    return 0;
}

/* --- turns and stretches ---------------------------------------------------------------------------------------------- */

static int descending(const void *one, const void *other)
{
    const struct posture *a = one, *b = other;
    if (a->range != b->range)
        return a->range < b->range ? 1 : -1;
    if (a->stretch != b->stretch)
        return a->stretch < b->stretch ? -1 : 1;
    return (a->angle > b->angle) - (a->angle < b->angle);
}

static double range_of(struct ww_evaluator *evaluator, size_t ply)
{
    ww_evaluator_judge(evaluator, WW_LEG1, 0);
    struct ww_reach reach = ww_evaluator_reach(evaluator, ply, 1);
    return reach.high - reach.low;
}

static enum ww_status list_postures(struct sweep *sweep, double farthest, struct ww_error *error)
{
    const struct ww_skew_request *skew = &sweep->request->skew;
    const struct ww_angle_table *table = ww_angle_tables_nominal(&sweep->tables);
    double lobe = ww_angle_lobe(table, fmax(skew->length, farthest));
    double steps = skew->turn > 0 ? 2 * fmin(ceil(skew->turn * STEPS_PER_LOBE / lobe), 0.5 * MOST_TURNS) : 0;
    size_t turns = (size_t)steps + 1, stretches = sweep->tables.count;
    sweep->postures = turns * stretches;
    sweep->posture = calloc(sweep->plies * sweep->postures, sizeof *sweep->posture);
    if (!sweep->posture)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu turns", sweep->postures);
    enum ww_status status = WW_OK;
    for (size_t s = 0; s < stretches && !status; s++) {
        struct ww_evaluator *evaluator = NULL;
        status = ww_evaluator_create(&evaluator, sweep->tables.table[s], error);
        for (size_t i = 0; i < turns && !status; i++) {
            double angle = skew->angle + (turns > 1 ? skew->turn * (2 * (double)i / steps - 1) : 0);
            ww_evaluator_turn(evaluator, angle);
            for (size_t p = 0; p < sweep->plies; p++)
                sweep->posture[p * sweep->postures + s * turns + i] =
                    (struct posture){angle, range_of(evaluator, p), s};
        }
        ww_evaluator_destroy(evaluator);
    }
    for (size_t p = 0; p < sweep->plies && !status; p++)
        qsort(sweep->posture + p * sweep->postures, sweep->postures, sizeof *sweep->posture, descending);
    return status;
}

/* --- the worst ------------------------------------------------------------------------------------------------------------ */

/* The evaluators of a thread, one for each stretch. */
struct worker {
    struct ww_evaluator *of[WW_STRETCHES];
};

static void worker_clear(struct worker *worker)
{
    for (size_t s = 0; s < WW_STRETCHES; s++)
        ww_evaluator_destroy(worker->of[s]);
}

static enum ww_status worker_init(struct worker *worker, const struct ww_angle_tables *tables, struct ww_error *error)
{
    enum ww_status status = WW_OK;
    *worker = (struct worker){{NULL}};
    for (size_t s = 0; s < tables->count && !status; s++)
        status = ww_evaluator_create(&worker->of[s], tables->table[s], error);
    return status;
}

/* Greatest and least difference of one ply over its turns, of `count` <= CHUNK spacings. */
static void reach_of_ply(const struct sweep *sweep, const struct worker *worker, size_t ply, const double *spacing,
                         size_t count, double *high, double *low)
{
    const struct posture *posture = sweep->posture + ply * sweep->postures;
    for (size_t k = 0; k < count; k++)
        high[k] = low[k] = 0;
    for (size_t i = 0; i < sweep->postures; i++) {
        struct ww_evaluator *evaluator = worker->of[posture[i].stretch];
        bool turned = false, any = false;
        for (size_t k = 0; k < count; k++) {
            if (high[k] >= posture[i].range && 0 - low[k] >= posture[i].range)
                continue;
            any = true;
            if (!turned)
                ww_evaluator_turn(evaluator, posture[i].angle);
            turned = true;
            ww_evaluator_judge(evaluator, WW_APART, spacing[k]);
            struct ww_reach reach = ww_evaluator_reach(evaluator, ply, 1);
            high[k] = fmax(high[k], reach.high);
            low[k] = fmin(low[k], reach.low);
        }
        if (!any)
            break;
    }
}

static void worst_within_turn(const struct sweep *sweep, const struct worker *worker, const double *spacing,
                              size_t count, double *worst)
{
    double high[CHUNK] = {0}, low[CHUNK] = {0}, own_high[CHUNK], own_low[CHUNK];
    for (size_t p = 0; p < sweep->plies; p++) {
        reach_of_ply(sweep, worker, p, spacing, count, own_high, own_low);
        for (size_t k = 0; k < count; k++) {
            high[k] += own_high[k];
            low[k] += own_low[k];
        }
    }
    for (size_t k = 0; k < count; k++)
        worst[k] = fmax(high[k], 0 - low[k]);
}

/* At the study's angle, the cloth as it is woven. */
static double worst_square(const struct sweep *sweep, const struct worker *worker, double spacing)
{
    struct ww_evaluator *evaluator = worker->of[sweep->tables.count / 2];
    ww_evaluator_turn(evaluator, sweep->request->skew.angle);
    ww_evaluator_judge(evaluator, WW_APART, spacing);
    return ww_evaluator_worst(evaluator, 1);
}

static enum ww_status solve_curve(struct ww_spacing *spacing, const struct sweep *sweep, struct ww_error *error)
{
    struct ww_failure failure = {.error = error};
    size_t chunks = (spacing->count + CHUNK - 1) / CHUNK;
#ifdef _OPENMP
#pragma omp parallel num_threads(ww_threads())
#endif
    {
        struct worker worker;
        struct ww_error mine = {0};
        enum ww_status ready = worker_init(&worker, &sweep->tables, &mine);
        ww_failure_keep(&failure, 0, ready, &mine);
#ifdef _OPENMP
#pragma omp for schedule(dynamic)
#endif
        for (size_t c = 0; c < chunks; c++) {
            size_t from = c * CHUNK, count = spacing->count - from < CHUNK ? spacing->count - from : CHUNK;
            if (ready)
                continue;
            worst_within_turn(sweep, &worker, spacing->spacing + from, count, spacing->with_turn + from);
            for (size_t k = from; k < from + count; k++) {
                spacing->worst[k] = worst_square(sweep, &worker, spacing->spacing[k]);
                spacing->with_turn[k] = fmax(spacing->with_turn[k], spacing->worst[k]);
            }
        }
        worker_clear(&worker);
    }
    return failure.status;
}

/* --- nulls ---------------------------------------------------------------------------------------------------------------- */

static double within_turn_at(const struct sweep *sweep, const struct worker *worker, double at)
{
    double worst;
    worst_within_turn(sweep, worker, &at, 1, &worst);
    return worst;
}

/* The least between from and to, by golden sections. */
static double find_least(const struct sweep *sweep, const struct worker *worker, double from, double to)
{
    const double share = 0.6180339887498949;
    double a = to - share * (to - from), b = from + share * (to - from);
    double at_a = within_turn_at(sweep, worker, a), at_b = within_turn_at(sweep, worker, b);
    for (int i = 0; i < GOLDEN; i++) {
        bool left = at_a < at_b;
        if (left) {
            to = b;
            b = a;
            at_b = at_a;
            a = to - share * (to - from);
            at_a = within_turn_at(sweep, worker, a);
        } else {
            from = a;
            a = b;
            at_a = at_b;
            b = from + share * (to - from);
            at_b = within_turn_at(sweep, worker, b);
        }
    }
    return 0.5 * (from + to);
}

/* By the envelope, as the answer has it. */
static enum ww_status measure_null(struct ww_spacing_null *null, const struct sweep *sweep,
                                   const struct worker *worker, struct ww_error *error)
{
    const struct ww_skew_request *skew = &sweep->request->skew;
    struct ww_angle_tables tables = sweep->tables;
    struct ww_envelope envelope = {0};
    struct ww_progress_run silent = {0};
    tables.signal = WW_APART;
    tables.spacing = null->spacing;
    null->worst = worst_square(sweep, worker, null->spacing);
    null->yarns = yarns_of(sweep, null->spacing);
    enum ww_status status =
        ww_envelope_solve(&envelope, &tables, skew->angle, skew->angle, skew->turn, skew->length, &silent, error);
    if (!status)
        null->with_turn = fmax(null->worst, ww_envelope_design(&envelope, skew->angle));
    ww_envelope_clear(&envelope);
    return status;
}

/* The largest value within a pitch of a sample. */
static double largest_about(const struct ww_spacing *spacing, size_t at)
{
    const size_t reach = (size_t)STEPS_PER_PITCH;
    double most = 0;
    for (size_t i = at > reach ? at - reach : 0; i <= at + reach && i < spacing->count; i++)
        most = fmax(most, spacing->with_turn[i]);
    return most;
}

static bool is_null(const struct ww_spacing *spacing, size_t i)
{
    const double *v = spacing->with_turn;
    return i > 0 && i + 1 < spacing->count && v[i] <= v[i - 1] && v[i] < v[i + 1] &&
           v[i] < HALF * largest_about(spacing, i);
}

/* The curves go through it: between two samples it may be far below both. */
static void put_on_curves(struct ww_spacing *spacing, const struct ww_spacing_null *null)
{
    double *const curve[] = {spacing->spacing, spacing->worst, spacing->with_turn};
    const double value[] = {null->spacing, null->worst, null->with_turn};
    size_t at = 0;
    while (at < spacing->count && spacing->spacing[at] < null->spacing)
        at++;
    bool there = at < spacing->count && spacing->spacing[at] == null->spacing;
    for (size_t c = 0; c < sizeof curve / sizeof *curve; c++) {
        if (!there)
            memmove(curve[c] + at + 1, curve[c] + at, (spacing->count - at) * sizeof *curve[c]);
        curve[c][at] = value[c];
    }
    spacing->count += !there;
}

static enum ww_status find_nulls(struct ww_spacing *spacing, const struct sweep *sweep, struct ww_error *error)
{
    enum { MOST = sizeof spacing->null / sizeof *spacing->null };
    double own = sweep->request->skew.scan.spacing;
    struct worker worker;
    enum ww_status status = worker_init(&worker, &sweep->tables, error);
    size_t chosen[MOST], count = 0;
    for (size_t i = 0; i < spacing->count; i++) {
        if (!is_null(spacing, i))
            continue;
        if (count < MOST)
            chosen[count++] = i;
        else if (own > 0 && fabs(spacing->spacing[i] - own) < fabs(spacing->spacing[chosen[0]] - own)) {
            memmove(chosen, chosen + 1, (MOST - 1) * sizeof *chosen);
            chosen[MOST - 1] = i;
        }
    }
    for (size_t k = 0; k < count && !status; k++) {
        struct ww_spacing_null *null = &spacing->null[spacing->nulls++];
        double at = find_least(sweep, &worker, spacing->spacing[chosen[k] - 1], spacing->spacing[chosen[k] + 1]);
        null->spacing = round(at / ROUND) * ROUND;
        status = measure_null(null, sweep, &worker, error);
    }
    for (size_t k = 0; k < spacing->nulls && !status; k++)
        put_on_curves(spacing, &spacing->null[k]);
    worker_clear(&worker);
    return status;
}

/* Of single traces, whose places are independent. */
static enum ww_status solve_independent(struct ww_spacing *spacing, const struct sweep *sweep, struct ww_error *error)
{
    const struct ww_skew_request *skew = &sweep->request->skew;
    struct ww_angle_tables tables = sweep->tables;
    struct ww_envelope envelope = {0};
    struct ww_progress_run silent = {0};
    spacing->apart = sweep->request->answer->spread;
    tables.signal = WW_LEG1;
    enum ww_status status =
        ww_envelope_solve(&envelope, &tables, skew->angle, skew->angle, skew->turn, skew->length, &silent, error);
    if (!status)
        spacing->apart_with_turn = fmax(spacing->apart, ww_envelope_design(&envelope, skew->angle));
    ww_envelope_clear(&envelope);
    return status;
}

static enum ww_status solve_spacings(struct ww_spacing *spacing, struct sweep *sweep, struct ww_error *error)
{
    double own = sweep->request->skew.scan.spacing, reach = PITCHES * sweep->pitch;
    double from = fmax(sweep->request->least, own - 0.5 * reach);
    size_t count = (size_t)(PITCHES * STEPS_PER_PITCH) + 1;
    size_t room = count + sizeof spacing->null / sizeof *spacing->null;
    spacing->spacing = calloc(3 * room, sizeof *spacing->spacing);
    if (!spacing->spacing)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu spacings", count);
    spacing->count = count;
    spacing->worst = spacing->spacing + room;
    spacing->with_turn = spacing->worst + room;
    for (size_t i = 0; i < count; i++)
        spacing->spacing[i] = from + reach * (double)i / (double)(count - 1);
    enum ww_status status = list_postures(sweep, from + reach, error);
    if (!status)
        status = solve_curve(spacing, sweep, error);
    if (!status)
        status = find_nulls(spacing, sweep, error);
    if (!status)
        status = solve_independent(spacing, sweep, error);
    return status;
}

/* --- lanes ---------------------------------------------------------------------------------------------------------------- */

static int ascending(const void *one, const void *other)
{
    double a = *(const double *)one, b = *(const double *)other;
    return (a > b) - (a < b);
}

/* Even steps, and more about the multiples of half of each ply's yarn pitch. */
static enum ww_status choose_pitches(struct ww_spacing *spacing, const struct sweep *sweep, struct ww_error *error)
{
    static const double beside[] = {-0.03, -0.01, 0, 0.01, 0.03}; /* of a yarn pitch */
    enum { BESIDE = sizeof beside / sizeof *beside };
    double own = sweep->request->skew.lane_pitch, reach = LANE_PITCHES * sweep->pitch;
    double from = fmax(sweep->request->least, own - 0.5 * reach), to = from + reach;
    size_t steps = (size_t)(LANE_PITCHES * LANE_STEPS), room = steps + 1, count = 0;
    for (size_t p = 0; p < sweep->plies; p++)
        room += BESIDE * (size_t)(2 * to / yarn_pitch(sweep, p) + 1);
    spacing->pitch = calloc(3 * room, sizeof *spacing->pitch);
    if (!spacing->pitch)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu lane pitches", room);
    for (size_t i = 0; i <= steps; i++)
        spacing->pitch[count++] = from + reach * (double)i / (double)steps;
    for (size_t p = 0; p < sweep->plies; p++) {
        double yarn = yarn_pitch(sweep, p);
        for (double k = 0.5 * ceil(2 * from / yarn); k * yarn <= to; k += 0.5)
            for (size_t i = 0; i < BESIDE; i++) {
                double at = round((k + beside[i]) * yarn / ROUND) * ROUND;
                if (at >= from && at <= to)
                    spacing->pitch[count++] = at;
            }
    }
    qsort(spacing->pitch, count, sizeof *spacing->pitch, ascending);
    for (size_t i = 0; i < count; i++)
        if (spacing->pitches == 0 || spacing->pitch[i] - spacing->pitch[spacing->pitches - 1] > 1e-9)
            spacing->pitch[spacing->pitches++] = spacing->pitch[i];
    spacing->yield = spacing->pitch + room;
    spacing->expected = spacing->yield + room;
    return WW_OK;
}

/* Chances at `count` pitches over all boards of the answer; of each board `places` places, the next board others. */
static enum ww_status average_lanes(const struct sweep *sweep, const double *pitch, size_t count, size_t places,
                                    double *yield, double *expected, struct ww_error *error)
{
    const struct ww_skew_request *skew = &sweep->request->skew;
    const struct ww_skew *answer = sweep->request->answer;
    const struct ww_board square = {0, 1, sweep->tables.count / 2};
    size_t boards = answer->boards ? answer->boards : 1;
    struct ww_lanes_chance *chance = calloc(boards * count, sizeof *chance);
    struct ww_failure failure = {.error = error};
    if (!chance)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu lane pitches", count);
#ifdef _OPENMP
#pragma omp parallel num_threads(ww_threads())
#endif
    {
        struct worker worker;
        struct ww_lanes *lanes = NULL;
        struct ww_error mine = {0};
        enum ww_status ready = worker_init(&worker, &sweep->tables, &mine);
        if (!ready)
            ready = ww_lanes_create(&lanes, sweep->tables.table[0], 1, WW_LANES_PLACES, &mine);
        ww_failure_keep(&failure, 0, ready, &mine);
#ifdef _OPENMP
#pragma omp for schedule(dynamic)
#endif
        for (size_t b = 0; b < boards; b++) {
            const struct ww_board *board = answer->boards ? &answer->board[b] : &square;
            if (ready)
                continue;
            ww_evaluator_turn(worker.of[board->stretch], skew->angle + board->turn);
            ww_lanes_take(lanes, 0, worker.of[board->stretch]);
            for (size_t k = 0; k < count; k++)
                chance[b * count + k] =
                    ww_lanes_chance(lanes, skew->lanes, pitch[k], skew->budget, b * places, places);
        }
        ww_lanes_destroy(lanes);
        worker_clear(&worker);
    }
    for (size_t k = 0; k < count; k++) {
        yield[k] = expected[k] = 0;
        for (size_t b = 0; b < boards; b++) {
            double weight = answer->boards ? answer->board[b].weight : 1;
            yield[k] += weight * chance[b * count + k].within;
            expected[k] += weight * chance[b * count + k].expected;
        }
    }
    free(chance);
    return failure.status;
}

static enum ww_status solve_lanes(struct ww_spacing *spacing, const struct sweep *sweep, struct ww_error *error)
{
    double own = sweep->request->skew.lane_pitch, most = 0;
    enum ww_status status = choose_pitches(spacing, sweep, error);
    spacing->lanes = sweep->request->skew.lanes;
    if (!status)
        status =
            average_lanes(sweep, spacing->pitch, spacing->pitches, PLACES, spacing->yield, spacing->expected, error);
    for (size_t k = 0; k < spacing->pitches; k++)
        most = fmax(most, spacing->yield[k]);
    for (size_t k = 0; k < spacing->pitches; k++)
        if (spacing->yield[k] >= most - NEARLY && yarns_of(sweep, 2 * spacing->pitch[k]) > 0 &&
            (spacing->best_pitch == 0 || fabs(spacing->pitch[k] - own) < fabs(spacing->best_pitch - own)))
            spacing->best_pitch = round(spacing->pitch[k] / ROUND) * ROUND;
    if (!status && spacing->best_pitch > 0)
        status = average_lanes(sweep, &spacing->best_pitch, 1, WW_LANES_PLACES, &spacing->best_yield,
                               &spacing->best_expected, error);
    return status;
}

/* --- all of it ------------------------------------------------------------------------------------------------------------- */

enum ww_status ww_spacing_solve(struct ww_spacing *spacing, const struct ww_line *line,
                                const struct ww_spacing_request *request, struct ww_error *error)
{
    const struct ww_skew_request *skew = &request->skew;
    struct sweep sweep = {.request = request, .plies = line->stack->plies};
    struct ww_skew_request own = *skew;
    struct ww_progress_run progress = {.host = request->progress};
    memset(spacing, 0, sizeof *spacing);
    spacing->pair = line->mesh.pair;
    if (!(request->least > 0 && isfinite(request->least)))
        return ww_error_set(error, WW_INVALID, NULL, 0, "two traces %g m apart at least; give more than 0",
                            request->least);
    if (sweep.plies == 0)
        return WW_OK;
    own.correction = request->answer->correction;
    enum ww_status status = ww_angle_tables_create(&sweep.tables, line, &own, own.angle - own.turn,
                                                   own.angle + own.turn, own.length, &progress, error);
    if (!status)
        status = ww_evaluator_create(&sweep.square, ww_angle_tables_nominal(&sweep.tables), error);
    if (!status)
        ww_evaluator_turn(sweep.square, own.angle);
    for (size_t p = 0; p < sweep.plies && !status; p++)
        sweep.pitch = fmax(sweep.pitch, yarn_pitch(&sweep, p));
    if (!status && !spacing->pair)
        status = solve_spacings(spacing, &sweep, error);
    bool lanes = skew->lanes > 1 && skew->lanes <= WW_LANES_MOST && skew->budget > 0;
    if (!status && lanes && request->answer->yield < MET)
        status = solve_lanes(spacing, &sweep, error);
    sweep_clear(&sweep);
    if (status)
        ww_spacing_clear(spacing);
    return status;
}

void ww_spacing_clear(struct ww_spacing *spacing)
{
    free(spacing->spacing);
    free(spacing->pitch);
    memset(spacing, 0, sizeof *spacing);
}
