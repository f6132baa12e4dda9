/* arms.c - several traces on one cloth: the arms of a feed, or lanes side by side.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Arm i starts at r_p + d_i on ply p, d_i its start in the layout, and V_i = sum over p of V_ip(r_p) is its delay less its
 * mean, or the skew of a pair. The r_p are common to all arms, and independent of each other. Judged are
 *   single traces  max over i, j of V_i - V_j      pairs  max over i of |V_i|.
 * V_ip - V_jp is a sum of harmonics over r_p as each of them is (scan/path.c), so that the worst over all placements,
 *   max over i, j of sum over p of max over r_p of [V_ip - V_jp],
 * is the largest of as many searches as there are couples, each climbed to on its harmonics. The design worst has each ply at
 * its own turn and stretch (envelope.c); for it the maps of all arms are summed once and subtracted sample by sample.
 *
 * Over the boards the covariances of the V_i are those of the maps, and the chances those of evenly filled placements
 * (lanes.c). Boards: turns an eighth of a lobe apart by the trapezoidal rule, at the stretches of envelope.c.
 */
#include <float.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "chance/envelope.h"
#include "chance/lanes.h"
#include "chance/tolerance.h"
#include "core/parallel.h"
#include "correct/correction.h"
#include "scan/plies.h"

#define ANGLES_PER_LOBE 8.0 /* with 4 a median was 3 % off, with 8 it is within 0.5 % (tests/chance/test_arms.c) */
#define LEAST_ANGLES 8.0
#define MOST_ANGLES 800.0
#define VALUES 262144 /* placements over all boards together */
enum { LEAST_PLACES = 64, MOST_PLACES = 65536, BINS = 1024, COUPLES = WW_ARMS_MOST * (WW_ARMS_MOST - 1) / 2 };

/* One trace of the set. */
struct member {
    const struct ww_route_segment *route;
    size_t segments;
    double start[2], length;
};

/* The value that is searched: arm a less arm b; of pairs a alone. */
struct couple {
    size_t a, b;
};

struct board {
    double turn, weight;
};

struct set {
    const struct ww_line *line;
    struct ww_skew_request request; /* with the directions of all arms as its route, and neither frequency nor rate */
    size_t plies, count, couples;
    bool pair;
    struct ww_route_segment straight; /* of a first arm without a route */
    struct ww_route_segment *direction;
    struct member member[WW_ARMS_MOST];
    struct couple couple[COUPLES];
    double longest; /* arm [m] */
    double extent;  /* that, or the farthest start from another [m] */
    struct ww_correction *correction;
    struct ww_angle_tables tables;
    struct ww_envelope envelope[COUPLES];
    double *high, *low; /* [couple][angle][ply] of one stretch */
    size_t turns, boards, places;
    struct board *board; /* [stretch][turn] */
    double *value;       /* [board][place] */
    double *covariance;  /* [board][count][count] */
};

static void set_clear(struct set *set)
{
    for (size_t c = 0; c < set->couples; c++)
        ww_envelope_clear(&set->envelope[c]);
    ww_angle_tables_destroy(&set->tables);
    ww_correction_release(set->correction);
    free(set->direction);
    free(set->high);
    free(set->board);
    free(set->value);
    free(set->covariance);
    free(set);
}

static enum ww_status no_memory(const struct set *set, struct ww_error *error)
{
    return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu arms on one cloth", set->count);
}

/* --- the arms ------------------------------------------------------------------------------------------------------------- */

/* Unit vector to the left of the line from the start of a route to its end, in the layout; of a closed one to the left of its
 * first segment. */
static void find_left(const struct member *of, double left[2])
{
    const double closed = 1e-9; /* of the route's length */
    double x = 0, y = 0;
    for (size_t i = 0; i < of->segments; i++) {
        x += of->route[i].length * sin(of->route[i].angle);
        y += of->route[i].length * cos(of->route[i].angle);
    }
    double chord = hypot(x, y);
    bool open = chord > closed * of->length;
    left[0] = -(open ? y / chord : cos(of->route[0].angle));
    left[1] = open ? x / chord : sin(of->route[0].angle);
}

static double length_of(const struct ww_route_segment *route, size_t segments)
{
    double length = 0;
    for (size_t i = 0; i < segments; i++)
        length += route[i].length;
    return length;
}

static void list_members(struct set *set, const struct ww_skew_request *request)
{
    struct member *first = set->member;
    double left[2];
    set->straight.length = request->length;
    *first = (struct member){request->segments ? request->route : &set->straight,
                             request->segments ? request->segments : 1,
                             {0, 0},
                             request->length};
    find_left(first, left);
    for (size_t i = 1; i < set->count; i++) {
        struct member *member = &set->member[i];
        *member = *first;
        if (request->arms) {
            const struct ww_arm *arm = &request->arm[i - 1];
            *member = (struct member){
                arm->route, arm->segments, {arm->from[0], arm->from[1]}, length_of(arm->route, arm->segments)};
        } else
            for (size_t k = 0; k < 2; k++)
                member->start[k] = (double)i * request->lane_pitch * left[k];
    }
    for (size_t i = 0; i < set->count; i++) {
        set->longest = fmax(set->longest, set->member[i].length);
        for (size_t j = 0; j < i; j++)
            set->extent = fmax(set->extent, hypot(set->member[i].start[0] - set->member[j].start[0],
                                                  set->member[i].start[1] - set->member[j].start[1]));
    }
    set->extent = fmax(set->extent, set->longest);
}

static void list_couples(struct set *set)
{
    for (size_t a = 0; a < set->count; a++) {
        if (set->pair)
            set->couple[set->couples++] = (struct couple){a, a};
        for (size_t b = a + 1; b < set->count && !set->pair; b++)
            set->couple[set->couples++] = (struct couple){a, b};
    }
}

/* The directions of all segments, each once, as the route that tables and correction serve. */
static enum ww_status list_directions(struct set *set, struct ww_error *error)
{
    size_t segments = 0, count = 0;
    for (size_t i = 0; i < set->count; i++)
        segments += set->member[i].segments;
    set->direction = calloc(segments, sizeof *set->direction);
    if (!set->direction)
        return no_memory(set, error);
    for (size_t i = 0; i < set->count; i++)
        count = ww_directions_add(set->direction, count, set->member[i].route, set->member[i].segments);
    set->request.route = set->direction;
    set->request.segments = count;
    set->request.frequency = set->request.rate = 0; /* no conversion */
    return WW_OK;
}

static enum ww_status correct(struct set *set, const struct ww_skew *answer, struct ww_error *error)
{
    double *angle = calloc(set->request.segments + 1, sizeof *angle);
    if (!angle)
        return no_memory(set, error);
    struct ww_correction_request wanted = ww_skew_correction(&set->request, angle);
    enum ww_status status = ww_correction_create(&set->correction, set->line, answer->correction, &wanted, error);
    set->request.correction = set->correction;
    free(angle);
    return status;
}

/* --- the worst at the study's angle --------------------------------------------------------------------------------------- */

/* Scan and paths of one arm. */
struct laid_arm {
    struct ww_scan *scan;
    struct ww_path *path; /* [plies] */
};

static void clear_arm(struct laid_arm *arm, size_t plies)
{
    for (size_t p = 0; arm->path && p < plies; p++)
        ww_path_clear(&arm->path[p]);
    free(arm->path);
    ww_scan_destroy(arm->scan);
}

/* Off the start of the first, in a ply's frame. */
static void start_of(const struct set *set, size_t index, size_t ply, struct ww_extreme *start)
{
    const double *at = set->member[index].start, by = set->request.angle - set->line->stack->ply[ply].turn;
    *start = (struct ww_extreme){cos(by) * at[0] + sin(by) * at[1], cos(by) * at[1] - sin(by) * at[0], 0};
}

static enum ww_status lay_arm(struct laid_arm *arm, const struct set *set, size_t index, struct ww_error *error)
{
    const struct member *of = &set->member[index];
    struct ww_scan_options options = set->request.scan;
    options.positions = WW_EVALUATED;
    options.route = of->route == &set->straight ? NULL : of->route;
    options.segments = of->route == &set->straight ? 0 : of->segments;
    arm->path = calloc(set->plies + 1, sizeof *arm->path);
    enum ww_status status = arm->path ? ww_corrected_scan_create_with(&arm->scan, set->line, set->correction,
                                                                      set->request.angle, false, &options, error)
                                      : no_memory(set, error);
    for (size_t p = 0; p < set->plies && !status; p++) {
        struct ww_extreme start;
        start_of(set, index, p, &start);
        status = ww_path_init(&arm->path[p], arm->scan, p, set->pair ? WW_SKEW : WW_LEG1, WW_MEAN, of->length, error);
        if (!status && index > 0)
            ww_path_shift(&arm->path[p], start.x, start.y);
    }
    return status;
}

/* The inter-ply coupling of arm a less that of arm b, or of a pair. */
static enum ww_status couple_plies(struct ww_coupling *coupling, const struct set *set, const struct laid_arm *arm,
                                   struct couple couple, struct ww_extreme *start, struct ww_error *error)
{
    size_t index[2] = {couple.a, couple.b}, arms = set->pair ? 1 : 2;
    struct ww_coupling one = {0};
    enum ww_status status = ww_coupling_init(coupling, set->plies, error);
    for (size_t i = 0; i < arms && !status; i++) {
        for (size_t p = 0; p < set->plies; p++)
            start_of(set, index[i], p, &start[p]);
        status = ww_coupling_of_scan(&one, arm[index[i]].scan, set->pair ? WW_SKEW : WW_LEG1, WW_MEAN,
                                     set->member[index[i]].length, error);
        if (status)
            break;
        ww_coupling_shift(&one, start);
        ww_coupling_combine(coupling, &one, i ? -1 : 1);
        ww_coupling_clear(&one);
    }
    return status;
}

/* Where a couple is searched. */
struct field {
    struct ww_path *path; /* [plies] */
    size_t *rows;
    struct ww_extreme *high, *low, *start;
    struct ww_coupling coupling;
};

static void field_clear(struct field *field, size_t plies)
{
    for (size_t p = 0; field->path && p < plies; p++)
        ww_path_clear(&field->path[p]);
    free(field->path);
    free(field->rows);
    free(field->high);
    ww_coupling_clear(&field->coupling);
}

static enum ww_status field_init(struct field *field, const struct set *set, struct ww_error *error)
{
    *field = (struct field){.path = calloc(set->plies + 1, sizeof *field->path),
                            .rows = calloc(set->plies + 1, sizeof *field->rows),
                            .high = calloc(3 * set->plies + 1, sizeof *field->high)};
    if (!field->path || !field->rows || !field->high)
        return no_memory(set, error);
    field->low = field->high + set->plies;
    field->start = field->low + set->plies;
    return WW_OK;
}

static enum ww_status search_couple(const struct set *set, const struct laid_arm *arm, struct couple couple,
                                    double *worst, struct ww_error *error)
{
    const struct laid_arm *a = &arm[couple.a], *b = &arm[couple.b];
    struct field field;
    enum ww_status status = field_init(&field, set, error);
    for (size_t p = 0; p < set->plies && !status; p++) {
        size_t rows_a = ww_scan_rows(a->scan, p), rows_b = ww_scan_rows(b->scan, p);
        field.rows[p] = rows_a > rows_b ? rows_a : rows_b;
        if (!set->pair)
            status = ww_path_difference(&field.path[p], &a->path[p], &b->path[p], error);
    }
    if (!status)
        status = couple_plies(&field.coupling, set, arm, couple, field.start, error);
    if (!status)
        status = ww_paths_extremes(set->pair ? a->path : field.path, field.rows, set->plies, &field.coupling, NULL,
                                   field.high, field.low, error);
    if (!status)
        *worst = fmax(ww_sum_of_extremes(field.high, set->plies), 0 - ww_sum_of_extremes(field.low, set->plies));
    field_clear(&field, set->plies);
    return status;
}

static void take_worst(struct ww_arms *arms, double *worst, const struct couple *couple, double value)
{
    double *apart = &arms->apart[couple->a * arms->count + couple->b];
    *apart = fmax(*apart, value);
    arms->apart[couple->b * arms->count + couple->a] = *apart;
    if (value > *worst) {
        *worst = value;
        arms->between[0] = couple->a;
        arms->between[1] = couple->b;
    }
}

static enum ww_status find_worst(struct ww_arms *arms, const struct set *set, struct ww_error *error)
{
    struct laid_arm arm[WW_ARMS_MOST] = {{NULL, NULL}};
    enum ww_status status = WW_OK;
    for (size_t i = 0; i < set->count && !status; i++) {
        status = lay_arm(&arm[i], set, i, error);
        if (!status)
            arms->mean_delay[i] = ww_scan_mean_delay(arm[i].scan, WW_LEG1, set->member[i].length);
    }
    for (size_t c = 0; c < set->couples && !status; c++) {
        double value = 0;
        status = search_couple(set, arm, set->couple[c], &value, error);
        take_worst(arms, &arms->worst, &set->couple[c], value);
    }
    arms->worst_with_turn = arms->worst;
    for (size_t i = 0; i < set->count; i++)
        clear_arm(&arm[i], set->plies);
    return status;
}

/* --- at one turn and stretch ---------------------------------------------------------------------------------------------- */

/* What each thread has of its own. */
struct worker {
    struct ww_evaluator *evaluator[WW_ARMS_MOST];
    struct ww_lanes *lanes;
    double *map;                 /* [ply][arm][sample] */
    struct ww_plies_maps maps;   /* of a couple */
    struct ww_coupling coupling; /* likewise */
    struct ww_extreme *high, *low;
};
enum { SAMPLES = WW_EVALUATED * WW_EVALUATED };

static void worker_clear(struct worker *worker)
{
    for (size_t i = 0; i < WW_ARMS_MOST; i++)
        ww_evaluator_destroy(worker->evaluator[i]);
    ww_lanes_destroy(worker->lanes);
    ww_plies_maps_clear(&worker->maps);
    ww_coupling_clear(&worker->coupling);
    free(worker->map);
    free(worker->high);
}

static enum ww_status worker_init(struct worker *worker, const struct set *set, const struct ww_angle_table *view,
                                  struct ww_error *error)
{
    *worker = (struct worker){.map = calloc(set->count * set->plies * SAMPLES + 1, sizeof *worker->map),
                              .high = calloc(2 * set->plies + 1, sizeof *worker->high)};
    enum ww_status status = worker->map && worker->high ? WW_OK : no_memory(set, error);
    worker->low = worker->high ? worker->high + set->plies : NULL;
    if (!status)
        status = ww_plies_maps_init(&worker->maps, set->plies, error);
    if (!status)
        status = ww_coupling_init(&worker->coupling, set->plies, error);
    for (size_t i = 0; i < set->count && !status; i++)
        status = ww_evaluator_create(&worker->evaluator[i], &view[i], error);
    return status ? status : ww_lanes_create(&worker->lanes, view, set->count, MOST_PLACES, error);
}

/* The maps of two arms, and their inter-ply coupling. */
static void take_couple(const struct set *set, struct worker *worker, struct couple couple)
{
    for (size_t p = 0; p < set->plies; p++) {
        const double *a = worker->map + (p * set->count + couple.a) * SAMPLES,
                     *b = worker->map + (p * set->count + couple.b) * SAMPLES;
        for (size_t k = 0; k < SAMPLES; k++)
            worker->maps.map[p].value[k] = set->pair ? a[k] : a[k] - b[k];
    }
    worker->coupling.count = 0;
    ww_coupling_combine(&worker->coupling, ww_evaluator_coupling(worker->evaluator[couple.a]), 1);
    if (!set->pair)
        ww_coupling_combine(&worker->coupling, ww_evaluator_coupling(worker->evaluator[couple.b]), -1);
}

/* One angle of the envelopes: the extremes of each couple. */
static void sample_angle(struct set *set, struct worker *worker, size_t index)
{
    const struct ww_envelope *steps = &set->envelope[0];
    for (size_t i = 0; i < set->count; i++) {
        ww_evaluator_judge(worker->evaluator[i], set->pair ? WW_SKEW : WW_LEG1, 0);
        ww_evaluator_turn(worker->evaluator[i], ww_envelope_angle(steps, index));
    }
    for (size_t p = 0; p < set->plies; p++)
        for (size_t i = 0; i < set->count; i++) {
            struct ww_map map = ww_evaluator_map(worker->evaluator[i], p, 1, &worker->maps.rows[p]);
            memcpy(worker->map + (p * set->count + i) * SAMPLES, map.value, SAMPLES * sizeof *map.value);
            map.value = worker->maps.work + (p + 1) * SAMPLES;
            worker->maps.map[p] = map;
        }
    for (size_t c = 0; c < set->couples; c++) {
        take_couple(set, worker, set->couple[c]);
        ww_maps_extremes(&worker->maps, set->plies, &worker->coupling, worker->high, worker->low);
        for (size_t p = 0; p < set->plies; p++) {
            size_t at = (c * steps->count + index) * set->plies + p;
            set->high[at] = worker->high[p].value;
            set->low[at] = worker->low[p].value;
        }
    }
}

/* One board: covariances, and what is judged at its placements. */
static void sample_board(struct set *set, struct worker *worker, size_t index)
{
    size_t squared = set->count * set->count;
    for (size_t i = 0; i < set->count; i++) {
        ww_evaluator_turn(worker->evaluator[i], set->request.angle + set->board[index].turn);
        ww_lanes_take(worker->lanes, i, worker->evaluator[i]);
    }
    ww_lanes_covariance(worker->lanes, set->covariance + index * squared);
    for (size_t n = 0; n < set->places; n++)
        set->value[index * set->places + n] = ww_lanes_arms_at(worker->lanes, index * set->places + n);
}

typedef void visit_arms(struct set *set, struct worker *worker, size_t index);

/* visit(set, worker, first + i) for i = 0..count-1 on all threads, at one stretch: it writes by index. */
static enum ww_status visit_all(struct set *set, size_t stretch, size_t first, size_t count, visit_arms *visit,
                                struct ww_error *error)
{
    struct ww_failure failure = {.error = error};
    struct ww_angle_table view[WW_ARMS_MOST];
    for (size_t i = 0; i < set->count; i++)
        view[i] = ww_angle_table_along(set->tables.table[stretch], set->member[i].route, set->member[i].segments,
                                       set->member[i].start);
#ifdef _OPENMP
#pragma omp parallel num_threads(ww_threads())
#endif
    {
        struct worker worker;
        struct ww_error mine = {0};
        enum ww_status ready = worker_init(&worker, set, view, &mine);
        ww_failure_keep(&failure, 0, ready, &mine);
#ifdef _OPENMP
#pragma omp for schedule(dynamic)
#endif
        for (size_t i = 0; i < count; i++)
            if (!ready)
                visit(set, &worker, first + i);
        worker_clear(&worker);
    }
    return failure.status;
}

/* --- the design worst ----------------------------------------------------------------------------------------------------- */

static enum ww_status find_design(struct ww_arms *arms, struct set *set, struct ww_error *error)
{
    const struct ww_skew_request *request = &set->request;
    enum ww_status status = WW_OK;
    for (size_t c = 0; c < set->couples && !status; c++)
        status = ww_envelope_init(&set->envelope[c], &set->tables, request->angle, request->angle, request->turn,
                                  set->extent, error);
    size_t values = set->envelope[0].count * set->plies;
    set->high = status ? NULL : calloc(2 * set->couples * values + 1, sizeof *set->high);
    if (!status && !set->high)
        status = no_memory(set, error);
    set->low = set->high ? set->high + set->couples * values : NULL;
    for (size_t s = 0; s < set->tables.count && !status; s++) {
        status = visit_all(set, s, 0, set->envelope[0].count, sample_angle, error);
        for (size_t c = 0; c < set->couples && !status; c++)
            ww_envelope_add(&set->envelope[c], &set->tables, s, set->high + c * values, set->low + c * values);
    }
    for (size_t c = 0; c < set->couples && !status; c++)
        take_worst(arms, &arms->worst_with_turn, &set->couple[c],
                   ww_envelope_design(&set->envelope[c], request->angle));
    return status;
}

/* --- the chances ---------------------------------------------------------------------------------------------------------- */

/* Turns by the trapezoidal rule, at each stretch; weights sum to 1. */
static enum ww_status list_boards(struct set *set, struct ww_error *error)
{
    double turn = set->request.turn, lobe = ww_angle_lobe(ww_angle_tables_nominal(&set->tables), set->extent);
    double intervals = turn > 0 ? 2 * ceil(turn * ANGLES_PER_LOBE / lobe) : 0, total = 0;
    intervals = turn > 0 ? fmin(fmax(intervals, LEAST_ANGLES), MOST_ANGLES) : 0;
    set->turns = (size_t)intervals + 1;
    set->boards = set->turns * set->tables.count;
    set->places = VALUES / (set->boards ? set->boards : 1);
    set->places = set->places < LEAST_PLACES ? LEAST_PLACES : set->places;
    set->places = set->places > MOST_PLACES ? MOST_PLACES : set->places;
    set->board = calloc(set->boards, sizeof *set->board);
    set->value = calloc(set->boards * set->places, sizeof *set->value);
    set->covariance = calloc(set->boards * set->count * set->count, sizeof *set->covariance);
    if (!set->board || !set->value || !set->covariance)
        return no_memory(set, error);
    for (size_t k = 0; k < set->boards; k++) {
        size_t i = k % set->turns;
        bool end = i == 0 || i + 1 == set->turns;
        struct board *board = &set->board[k];
        board->turn = set->turns > 1 ? turn * (2 * (double)i / intervals - 1) : 0;
        board->weight = set->tables.stretch[k / set->turns].weight * (end && set->turns > 1 ? 0.5 : 1) *
                        ww_turn_density(&set->request, board->turn);
        total += board->weight;
    }
    for (size_t k = 0; k < set->boards; k++)
        set->board[k].weight /= total;
    return WW_OK;
}

/* Deviations, correlations and rms from the covariances of all boards. */
static void take_moments(struct ww_arms *arms, const struct set *set)
{
    size_t n = set->count;
    double *sum = arms->correlation, own = 0, all = 0;
    for (size_t k = 0; k < set->boards; k++)
        for (size_t i = 0; i < n * n; i++)
            sum[i] += set->board[k].weight * set->covariance[k * n * n + i];
    for (size_t i = 0; i < n; i++) {
        own += sum[i * n + i] / (double)n;
        arms->deviation[i] = sqrt(fmax(sum[i * n + i], 0));
    }
    for (size_t i = 0; i < n * n; i++)
        all += sum[i] / (double)(n * n);
    arms->rms = sqrt(fmax(set->pair ? own : own - all, 0));
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < n; j++) {
            double scale = arms->deviation[i] * arms->deviation[j];
            sum[i * n + j] = scale > 0 ? fmin(fmax(sum[i * n + j] / scale, -1), 1) : 0;
        }
}

static enum ww_status take_distribution(struct ww_arms *arms, const struct set *set, struct ww_error *error)
{
    struct ww_distribution *d = &arms->distribution;
    double top = 0, over = 0;
    for (size_t i = 0; i < set->boards * set->places; i++)
        top = fmax(top, set->value[i]);
    d->step = top / (BINS - 1);
    d->count = d->step > DBL_MIN ? BINS : 1;
    d->step = d->count > 1 ? d->step : 0;
    d->probability = calloc(d->count, sizeof *d->probability);
    if (!d->probability)
        return no_memory(set, error);
    for (size_t k = 0; k < set->boards; k++) {
        double weight = set->board[k].weight / (double)set->places;
        for (size_t n = 0; n < set->places; n++) {
            double value = set->value[k * set->places + n];
            d->probability[d->count > 1 ? (size_t)round(value / d->step) : 0] += weight;
            arms->expected += weight * value;
            over += value > set->request.budget ? weight : 0;
        }
    }
    arms->yield = set->request.budget > 0 ? fmax(1 - over, 0) : 0;
    return WW_OK;
}

static enum ww_status find_chances(struct ww_arms *arms, struct set *set, struct ww_error *error)
{
    enum ww_status status = list_boards(set, error);
    for (size_t s = 0; s < set->tables.count && !status; s++)
        status = visit_all(set, s, s * set->turns, set->turns, sample_board, error);
    if (!status)
        status = take_distribution(arms, set, error);
    if (status)
        return status;
    take_moments(arms, set);
    arms->median = fmin(ww_distribution_quantile(&arms->distribution, 0.5), arms->worst_with_turn);
    arms->p95 = fmin(ww_distribution_quantile(&arms->distribution, 0.95), arms->worst_with_turn);
    arms->p99 = fmin(ww_distribution_quantile(&arms->distribution, 0.99), arms->worst_with_turn);
    return WW_OK;
}

/* --- all of it ------------------------------------------------------------------------------------------------------------- */

static enum ww_status arms_init(struct ww_arms *arms, const struct set *set, const struct ww_skew_request *request,
                                struct ww_error *error)
{
    size_t n = set->count;
    *arms = (struct ww_arms){.count = n, .pair = set->pair, .lanes = request->arms == 0};
    arms->name = calloc(n, sizeof *arms->name);
    arms->mean_delay = calloc(n, sizeof *arms->mean_delay);
    arms->deviation = calloc(n, sizeof *arms->deviation);
    arms->correlation = calloc(n * n, sizeof *arms->correlation);
    arms->apart = calloc(n * n, sizeof *arms->apart);
    if (!arms->name || !arms->mean_delay || !arms->deviation || !arms->correlation || !arms->apart)
        return no_memory(set, error);
    for (size_t i = 0; i < n; i++)
        if (arms->lanes)
            (void)snprintf(arms->name[i], sizeof arms->name[i], "%zu", i + 1);
        else
            (void)snprintf(arms->name[i], sizeof arms->name[i], "%s", i ? request->arm[i - 1].name : "route");
    return WW_OK;
}

static enum ww_status check(const struct ww_skew_request *request, struct ww_error *error)
{
    if (request->arms >= WW_ARMS_MOST)
        return ww_error_set(error, WW_INVALID, NULL, 0, "%zu arms on one cloth; there may be up to %d",
                            request->arms + 1, WW_ARMS_MOST);
    for (size_t i = 0; i < request->arms; i++)
        if (request->arm[i].segments == 0 ||
            !(hypot(request->arm[i].from[0], request->arm[i].from[1]) < WW_SPACING_MOST))
            return ww_error_set(error, WW_INVALID, NULL, 0,
                                "arm '%.31s' takes a segment, and a start within %g m of the first one's",
                                request->arm[i].name, WW_SPACING_MOST);
    return WW_OK;
}

/* Arms, or lanes on one cloth that are few enough. */
static size_t count_of(const struct ww_skew_request *request)
{
    bool lanes = request->lanes > 1 && request->lanes <= WW_ARMS_MOST && request->lane_pitch > 0;
    return request->arms ? request->arms + 1 : lanes ? request->lanes : 0;
}

enum ww_status ww_arms_solve(struct ww_arms *arms, const struct ww_line *line, const struct ww_skew_request *request,
                             const struct ww_skew *answer, struct ww_error *error)
{
    memset(arms, 0, sizeof *arms);
    enum ww_status status = check(request, error);
    if (status || count_of(request) == 0)
        return status;
    struct ww_progress_run silent = {0};
    bool varies = request->turn > 0 || request->warp_tolerance > 0 || request->fill_tolerance > 0;
    struct set *set = calloc(1, sizeof *set);
    if (!set)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the arms");
    set->line = line;
    set->request = *request;
    set->plies = line->stack->plies;
    set->pair = line->mesh.pair;
    set->count = count_of(request);
    list_members(set, request);
    list_couples(set);
    status = arms_init(arms, set, request, error);
    if (!status)
        status = list_directions(set, error);
    if (!status)
        status = correct(set, answer, error);
    if (!status)
        status = find_worst(arms, set, error);
    if (!status && set->plies > 0)
        status = ww_angle_tables_create(&set->tables, line, &set->request, request->angle - request->turn,
                                        request->angle + request->turn, set->longest, &silent, error);
    set->tables.signal = set->pair ? WW_SKEW : WW_APART;
    set->tables.spacing = 0;
    if (!status && set->plies > 0 && varies)
        status = find_design(arms, set, error);
    if (!status && set->plies > 0)
        status = find_chances(arms, set, error);
    if (!status && set->plies == 0)
        arms->yield = request->budget > 0;
    if (!status && arms->lanes) { /* with more placements a board */
        arms->yield = answer->yield;
        arms->expected = answer->expected_worst;
    }
    set_clear(set);
    if (status)
        ww_arms_clear(arms);
    return status;
}

void ww_arms_clear(struct ww_arms *arms)
{
    free(arms->name);
    free(arms->mean_delay);
    free(arms->deviation);
    free(arms->correlation);
    free(arms->apart);
    ww_distribution_clear(&arms->distribution);
    memset(arms, 0, sizeof *arms);
}

bool ww_arms_are_judged(const struct ww_arms *arms)
{
    return arms && arms->count > 0 && !arms->lanes;
}

double ww_judged(const struct ww_skew *skew, const struct ww_arms *arms)
{
    return ww_arms_are_judged(arms) ? arms->worst_with_turn : fmax(skew->worst, skew->worst_with_turn);
}
