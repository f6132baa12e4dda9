/* tolerance.c - the answer over all that nobody controls: where the cloth lies, how it is turned, how dense it is woven.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The design worst is that of the envelope over turn and yarn count, each ply at its own (envelope.c). For the chances all
 * plies of a board have one turn t and one stretch s. With F(v; t, s) = P(|value| <= v) and weights w over nodes t, s:
 *   one pair                  P(v)   = sum w F(v; t, s)
 *   N pairs, yield            P_N(v) = sum w F(v; t, s)^N          independent positions, same t and s
 *   N pairs, expected worst   integral over v >= 0 of 1 - P_N(v)   [s].
 * N single traces are judged by the largest less the least delay of them. Lanes on one cloth, lane_pitch apart: lanes.c.
 *
 * Nodes. Over the stretches, pairs of warp and fill counts, the rule of envelope.c. Over the turn the chances go up and down in lobes and
 * have kinks where the worst passes the budget; between them they are smooth, or 0 or 1. So every interval between turns is
 * halved, and its halves again, until halving it moves no result by more than HALVED; the trapezoidal rule takes the nodes as
 * they lie. All stretches are refined on their own.
 */
#include "chance/tolerance.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "chance/distribution.h"
#include "chance/envelope.h"
#include "chance/lanes.h"
#include "core/parallel.h"
#include "scan/extremes.h"

#define ANGLES_PER_LOBE 4.0 /* before any halving */
#define LEAST_ANGLES 4      /* over the whole tolerance */
#define MOST_ANGLES 1000    /* likewise */
#define MOST_HALVINGS 6
#define HALVED 1e-4 /* of the yield and of the chance over budget, and of the expected worst against its mean */
#define SIGMAS 3.0  /* in the turn, where its law is normal */

/* What is known of the boards with one turn and stretch. */
struct node {
    double turn;
    bool refine; /* the interval to the next node */
    bool fresh;  /* of the last halving */
    struct ww_distribution value;
    double over, yield, expected;
};

/* The nodes of one stretch, ascending in turn. */
struct row {
    size_t count;
    struct node *node;
};

struct nodes {
    const struct ww_skew_request *request;
    const struct ww_angle_tables *tables;
    bool pair;
    struct row row[WW_STRETCHES];
};

static void row_clear(struct row *row)
{
    for (size_t i = 0; i < row->count; i++)
        ww_distribution_clear(&row->node[i].value);
    free(row->node);
    memset(row, 0, sizeof *row);
}

static void nodes_clear(struct nodes *nodes)
{
    for (size_t s = 0; s < WW_STRETCHES; s++)
        row_clear(&nodes->row[s]);
}

static enum ww_status no_memory(size_t count, struct ww_error *error)
{
    return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu turns of the cloth", count);
}

static enum ww_status first_nodes(struct row *row, const struct nodes *nodes, struct ww_error *error)
{
    double turn = nodes->request->turn;
    double lobe = ww_angle_lobe(ww_angle_tables_nominal(nodes->tables), nodes->request->length);
    double intervals = turn > 0 ? 2 * ceil(turn * ANGLES_PER_LOBE / lobe) : 0;
    intervals = turn > 0 ? fmin(fmax(intervals, LEAST_ANGLES), MOST_ANGLES) : 0;
    size_t count = (size_t)intervals + 1;
    row->node = calloc(count, sizeof *row->node);
    if (!row->node)
        return no_memory(count, error);
    row->count = count;
    for (size_t i = 0; i < count; i++) {
        row->node[i].turn = count > 1 ? turn * (2 * (double)i / intervals - 1) : 0;
        row->node[i].fresh = true;
        row->node[i].refine = i + 1 < count;
    }
    return WW_OK;
}

/* A node in the middle of each interval that is to be refined. */
static enum ww_status halve(struct row *row, struct ww_error *error)
{
    size_t more = 0, at = 0;
    for (size_t i = 0; i < row->count; i++)
        more += row->node[i].refine;
    if (more == 0)
        return WW_OK;
    struct node *node = calloc(row->count + more, sizeof *node);
    if (!node)
        return no_memory(row->count + more, error);
    for (size_t i = 0; i < row->count; i++) {
        struct node *here = &node[at++];
        *here = row->node[i];
        here->refine = false;
        if (row->node[i].refine)
            node[at++] = (struct node){.turn = 0.5 * (here->turn + row->node[i + 1].turn), .fresh = true};
    }
    free(row->node);
    *row = (struct row){at, node};
    return WW_OK;
}

/* --- weights --------------------------------------------------------------------------------------------------------------- */

double ww_turn_density(const struct ww_skew_request *request, double turn)
{
    double sigmas = request->turn > 0 ? SIGMAS * turn / request->turn : 0;
    return request->turn_law == WW_NORMAL ? exp(-0.5 * sigmas * sigmas) : 1;
}

/* Weight of a node by the trapezoidal rule; their sum is not 1 yet. */
static double weight_at(const struct nodes *nodes, size_t stretch, size_t i)
{
    const struct row *row = &nodes->row[stretch];
    double before = row->node[i ? i - 1 : 0].turn, after = row->node[i + 1 < row->count ? i + 1 : i].turn;
    double width = row->count > 1 ? 0.5 * (after - before) : 1;
    return nodes->tables->stretch[stretch].weight * width * ww_turn_density(nodes->request, row->node[i].turn);
}

static double total_weight(const struct nodes *nodes)
{
    double total = 0;
    for (size_t s = 0; s < nodes->tables->count; s++)
        for (size_t i = 0; i < nodes->row[s].count; i++)
            total += weight_at(nodes, s, i);
    return total;
}

static double average_expected(const struct nodes *nodes)
{
    double sum = 0;
    for (size_t s = 0; s < nodes->tables->count; s++)
        for (size_t i = 0; i < nodes->row[s].count; i++)
            sum += weight_at(nodes, s, i) * nodes->row[s].node[i].expected;
    return sum / total_weight(nodes);
}

/* --- one node -------------------------------------------------------------------------------------------------------------- */

/* What each thread has of its own. */
struct worker {
    size_t plies;
    struct ww_evaluator *evaluator[WW_STRETCHES];
    struct ww_lanes *lanes;
    struct ww_map *map; /* [plies] */
};

static void worker_clear(struct worker *worker, size_t plies)
{
    for (size_t s = 0; s < WW_STRETCHES; s++)
        ww_evaluator_destroy(worker->evaluator[s]);
    ww_lanes_destroy(worker->lanes);
    for (size_t p = 0; worker->map && p < plies; p++)
        ww_map_clear(&worker->map[p]);
    free(worker->map);
}

static bool on_one_cloth(const struct ww_skew_request *request)
{
    return request->lanes > 1 && request->lane_pitch > 0;
}

static enum ww_status worker_init(struct worker *worker, const struct nodes *nodes, struct ww_error *error)
{
    const struct ww_angle_tables *tables = nodes->tables;
    size_t plies = tables->table[0] ? tables->table[0]->plies : 0;
    enum ww_status status = WW_OK;
    *worker = (struct worker){.plies = plies, .map = calloc(plies + 1, sizeof *worker->map)};
    if (!worker->map)
        return no_memory(1, error);
    for (size_t s = 0; s < tables->count && !status; s++)
        status = ww_evaluator_create(&worker->evaluator[s], tables->table[s], error);
    if (!status && on_one_cloth(nodes->request))
        status = ww_lanes_create(&worker->lanes, tables->table[0], 1, WW_LANES_PLACES, error);
    return status;
}

/* The plies' distributions of one signal, convolved: bins a 1/BINS of the whole range. */
static enum ww_status distribute(struct ww_distribution *d, struct worker *worker, struct ww_evaluator *evaluator,
                                 enum ww_signal signal, const struct nodes *nodes, struct ww_error *error)
{
    const struct ww_angle_table *table = nodes->tables->table[0];
    double range = 0, of_ply[2];
    enum ww_status status = WW_OK;
    ww_evaluator_judge(evaluator, signal, table->spacing);
    for (size_t p = 0; p < table->plies && !status; p++) {
        size_t rows;
        struct ww_map map = ww_evaluator_map(evaluator, p, 1, &rows), *kept = &worker->map[p];
        ww_map_row_range(&map, rows, of_ply);
        range += of_ply[1] - of_ply[0];
        if (!kept->value)
            status = ww_map_init(kept, map.nx, map.ny, map.lx, map.ly, error);
        if (!status)
            memcpy(kept->value, map.value, map.nx * map.ny * sizeof *map.value);
    }
    for (size_t p = 0; p < table->plies && !status; p++)
        status = ww_distribution_add_map(d, &worker->map[p], table->ply[p].rows, range, p == 0, error);
    return status;
}

static void place_lanes(struct node *node, const struct ww_skew_request *request, struct worker *worker,
                        struct ww_evaluator *evaluator)
{
    ww_lanes_take(worker->lanes, 0, evaluator);
    struct ww_lanes_chance chance =
        ww_lanes_chance(worker->lanes, request->lanes, request->lane_pitch, request->budget, 0, WW_LANES_PLACES);
    node->yield = chance.within;
    node->expected = chance.expected;
}

/* Lanes at independent places: `one` is the delay of one of single traces. */
static enum ww_status solve_lanes(struct node *node, const struct nodes *nodes, const struct ww_distribution *one,
                                  struct ww_error *error)
{
    const struct ww_skew_request *request = nodes->request;
    double lanes = request->lanes ? (double)request->lanes : 1;
    if (one->count > 0) {
        node->yield = request->budget > 0 ? ww_distribution_within_range(one, request->budget, lanes) : 0;
        node->expected = ww_distribution_expected_range(one, lanes);
        return WW_OK;
    }
    node->yield = request->budget > 0 ? pow(fmax(1 - node->over, 0), lanes) : 0;
    return ww_distribution_expected_worst(&node->value, lanes, &node->expected, error);
}

/* Are several single traces to be judged, each at a place of its own? */
static bool needs_one(const struct nodes *nodes)
{
    return !nodes->pair && nodes->request->lanes > 1 && !on_one_cloth(nodes->request);
}

/* The chances of one board: of two traces or one pair, and of all lanes. */
static enum ww_status solve_node(struct node *node, const struct nodes *nodes, struct worker *worker,
                                 struct ww_evaluator *evaluator, struct ww_error *error)
{
    const struct ww_skew_request *request = nodes->request;
    enum ww_signal judged = nodes->tables->signal;
    struct ww_distribution one = {0};
    ww_evaluator_turn(evaluator, request->angle + node->turn);
    enum ww_status status = distribute(&node->value, worker, evaluator, judged, nodes, error);
    if (!status && needs_one(nodes))
        status = distribute(&one, worker, evaluator, WW_LEG1, nodes, error);
    if (!status && judged == WW_LEG1)
        status = ww_distribution_of_two(&node->value, error);
    if (status)
        return status;
    node->over = request->budget > 0 ? ww_distribution_exceed(&node->value, request->budget) : 0;
    if (on_one_cloth(request))
        place_lanes(node, request, worker, evaluator);
    else
        status = solve_lanes(node, nodes, &one, error);
    ww_distribution_clear(&one);
    return status;
}

/* All nodes that are fresh, of all stretches. */
static enum ww_status solve_fresh(const struct nodes *nodes, struct ww_error *error)
{
    struct ww_failure failure = {.error = error};
    size_t stretches = nodes->tables->count, most = 0;
    for (size_t s = 0; s < stretches; s++)
        most = nodes->row[s].count > most ? nodes->row[s].count : most;
#ifdef _OPENMP
#pragma omp parallel num_threads(ww_threads())
#endif
    {
        struct worker worker;
        struct ww_error mine = {0};
        enum ww_status ready = worker_init(&worker, nodes, &mine);
        ww_failure_keep(&failure, 0, ready, &mine);
#ifdef _OPENMP
#pragma omp for schedule(dynamic, 4)
#endif
        for (size_t k = 0; k < most * stretches; k++) {
            size_t s = k % stretches, i = k / stretches;
            struct ww_error own = {0};
            if (ready || i >= nodes->row[s].count || !nodes->row[s].node[i].fresh)
                continue;
            ww_failure_keep(&failure, k,
                            solve_node(&nodes->row[s].node[i], nodes, &worker, worker.evaluator[s], &own), &own);
        }
        worker_clear(&worker, worker.plies);
    }
    return failure.status;
}

/* --- all nodes ------------------------------------------------------------------------------------------------------------- */

/* By how much the middle of an interval moves a result there. */
static double bend(double before, double middle, double after)
{
    return fabs(middle - 0.5 * (before + after));
}

/* After a halving: its nodes are middles, and the halves beside one are halved again where it moved a result. `worst` is the
 * expected worst, `total` the weight of all nodes. */
static bool choose_intervals(struct nodes *nodes, size_t stretch, double worst, double total)
{
    struct row *row = &nodes->row[stretch];
    bool any = false;
    for (size_t i = 1; i + 1 < row->count; i++) {
        struct node *before = &row->node[i - 1], *here = &row->node[i], *after = &row->node[i + 1];
        if (!here->fresh)
            continue;
        double moved =
            fmax(bend(before->yield, here->yield, after->yield), bend(before->over, here->over, after->over));
        if (worst > 0)
            moved = fmax(moved, bend(before->expected, here->expected, after->expected) / worst);
        here->fresh = false;
        before->refine = here->refine = weight_at(nodes, stretch, i) / total * moved > HALVED;
        any = any || here->refine;
    }
    return any;
}

static enum ww_status refine(struct nodes *nodes, struct ww_error *error)
{
    size_t stretches = nodes->tables->count;
    bool any = nodes->row[0].count > 1;
    double worst = average_expected(nodes);
    enum ww_status status = WW_OK;
    for (int halving = 0; halving < MOST_HALVINGS && any && !status; halving++) {
        for (size_t s = 0; s < stretches && !status; s++)
            status = halve(&nodes->row[s], error);
        if (!status)
            status = solve_fresh(nodes, error);
        double total = total_weight(nodes);
        any = false;
        for (size_t s = 0; s < stretches && !status; s++)
            any = choose_intervals(nodes, s, worst, total) || any;
    }
    return status;
}

static enum ww_status solve_nodes(struct nodes *nodes, struct ww_error *error)
{
    enum ww_status status = WW_OK;
    for (size_t s = 0; s < nodes->tables->count && !status; s++)
        status = first_nodes(&nodes->row[s], nodes, error);
    if (!status)
        status = solve_fresh(nodes, error);
    for (size_t s = 0; s < nodes->tables->count && !status; s++)
        for (size_t i = 0; i < nodes->row[s].count; i++)
            nodes->row[s].node[i].fresh = false;
    return status ? status : refine(nodes, error);
}

/* The one board there is where nothing varies but the place, from the answer at the study's angle. */
static enum ww_status solve_square(const struct nodes *nodes, struct node *node, const struct ww_distribution *one,
                                   struct ww_error *error)
{
    const struct ww_distribution none = {0};
    struct worker worker = {0};
    if (!on_one_cloth(nodes->request))
        return solve_lanes(node, nodes, needs_one(nodes) ? one : &none, error);
    enum ww_status status = worker_init(&worker, nodes, error);
    if (!status) {
        ww_evaluator_turn(worker.evaluator[0], nodes->request->angle);
        place_lanes(node, nodes->request, &worker, worker.evaluator[0]);
    }
    worker_clear(&worker, worker.plies);
    return status;
}

static enum ww_status take_square(struct ww_skew *skew, const struct nodes *nodes, const struct ww_distribution *one,
                                  struct ww_error *error)
{
    struct node node = {.value = skew->distribution, .over = skew->over_budget}; /* not its own */
    enum ww_status status = solve_square(nodes, &node, one, error);
    skew->tolerant_over_budget = node.over;
    skew->yield = node.yield;
    skew->expected_worst = node.expected;
    return status ? status : ww_distribution_mix(&skew->tolerant, &skew->distribution, 1, error);
}

/* The chances of all boards: those of the nodes by their weights. */
static enum ww_status take_chances(struct ww_skew *skew, const struct nodes *nodes, struct ww_error *error)
{
    double total = total_weight(nodes);
    size_t boards = 0;
    enum ww_status status = WW_OK;
    for (size_t s = 0; s < nodes->tables->count; s++)
        boards += nodes->row[s].count;
    skew->board = calloc(boards, sizeof *skew->board);
    if (!skew->board)
        return no_memory(boards, error);
    for (size_t s = 0; s < nodes->tables->count; s++)
        for (size_t i = 0; i < nodes->row[s].count && !status; i++) {
            const struct node *node = &nodes->row[s].node[i];
            double weight = weight_at(nodes, s, i) / total;
            skew->board[skew->boards++] = (struct ww_board){node->turn, weight, s};
            status = ww_distribution_mix(&skew->tolerant, &node->value, weight, error);
            skew->tolerant_over_budget += weight * node->over;
            skew->yield += weight * node->yield;
            skew->expected_worst += weight * node->expected;
        }
    skew->tolerant_over_budget = fmin(skew->tolerant_over_budget, 1); /* weights add up to 1 but for rounding */
    skew->yield = fmin(skew->yield, 1);
    return status;
}

/* --- the design worst ------------------------------------------------------------------------------------------------------ */

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

/* Of two pairs side by side, the difference of their delays. */
static enum ww_status find_apart(struct ww_skew *skew, struct ww_angle_tables tables,
                                 const struct ww_skew_request *request, struct ww_error *error)
{
    struct ww_envelope envelope = {0};
    struct ww_progress_run silent = {0};
    tables.signal = WW_APART;
    enum ww_status status = ww_envelope_solve(&envelope, &tables, request->angle, request->angle, request->turn,
                                              request->length, &silent, error);
    if (!status)
        skew->apart_with_turn = fmax(skew->apart.worst, ww_envelope_design(&envelope, request->angle));
    ww_envelope_clear(&envelope);
    return status;
}

enum ww_status ww_tolerance_solve(struct ww_skew *skew, const struct ww_line *line,
                                  const struct ww_skew_request *request, const struct ww_distribution *one,
                                  struct ww_error *error)
{
    struct ww_angle_tables tables = {0};
    struct nodes nodes = {.request = request, .tables = &tables, .pair = skew->pair};
    struct ww_progress_run silent = {0};
    bool varies = request->turn > 0 || request->warp_tolerance > 0 || request->fill_tolerance > 0;
    skew->worst_with_turn = skew->worst;
    skew->apart_with_turn = skew->apart.worst;
    skew->worst_angle = request->angle;
    if (skew->plies == 0)
        return WW_OK;
    enum ww_status status = WW_OK;
    if (varies || (on_one_cloth(request) && !request->design_only))
        status = ww_angle_tables_create(&tables, line, request, request->angle - request->turn,
                                        request->angle + request->turn, request->length, &silent, error);
    if (!status && varies)
        status = find_design(skew, &tables, request, error);
    if (!status && varies && skew->pair && request->scan.spacing > 0)
        status = find_apart(skew, tables, request, error);
    if (request->design_only)
        goto done;
    if (!status && varies)
        status = solve_nodes(&nodes, error);
    if (!status)
        status = varies ? take_chances(skew, &nodes, error) : take_square(skew, &nodes, one, error);
    skew->tolerant_median = fmin(ww_distribution_quantile(&skew->tolerant, 0.5), skew->worst_with_turn);
    skew->tolerant_p99 = fmin(ww_distribution_quantile(&skew->tolerant, 0.99), skew->worst_with_turn);
done:
    nodes_clear(&nodes);
    ww_angle_tables_destroy(&tables);
    return status;
}
