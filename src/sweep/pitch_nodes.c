/* pitch_nodes.c - cross-sections at a few widths and gaps, and the harmonics of the legs between them.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A cross-section takes some hundred times as long as the worst of a scan. So sections are solved at nodes, and between nodes
 * each harmonic of a leg's slowness, in the phase of the leg (scan/blend.h), and the impedance are cubic in the width and in the
 * logarithm of the gap between the legs: the field changes most where the gap is small, and no longer where it is wide.
 * The worst has kinks where the skew is null; it is found afterwards, at each choice.
 *
 * A section's grid has the edges of both legs on nodes, and is coarse where width and pitch have a large common step. So the
 * widths and gaps of the nodes are multiples of one small length.
 */
#include "pitch_nodes.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "chance/placements.h"
#include "core/parallel.h"
#include "correct/correction.h"
#include "scan/blend.h"

#define UNITS 8         /* to the study's width, where it is within the range: nodes are multiples of such a unit */
#define WIDTH_RATIO 1.6 /* of neighbouring nodes, at most, but for rounding to units */
#define GAP_RATIO 1.6   /* likewise */
#define PER_YARN 8      /* nodes of width to a yarn pitch at least: a trace averages the cloth under it */
#define LEAST_UNITS 0.5 /* the least gap */
#define NEGLIGIBLE 1e-4 /* of the largest harmonic of a ply */
#define POSITIONS 64    /* across; tops are climbed to from there */
#define ROUNDING 1e-9

enum {
    MOST = 64,    /* nodes of widths or gaps */
    CUBIC = 4,    /* nodes that a place lies between */
    CORRECTED = 3 /* of widths, and of gaps: nodes with a correction of their own */
};

struct node {
    struct ww_line *line; /* until the scan is made */
    struct ww_scan *scan;
    double impedance;
    bool needed;
};

/* Values of a width or of log gap, ascending. */
struct axis {
    size_t count;
    double at[MOST];
};

struct ww_pitch_nodes {
    const struct ww_pitch_request *request;
    bool pair;
    struct axis width, gap; /* [m], and its logarithm; of a single trace one gap */
    struct node *node;      /* [widths][gaps] */
    struct ww_correction *correction[CORRECTED][CORRECTED];
    struct axis corrected_width, corrected_gap;
};

struct ww_pitch_row {
    const struct ww_pitch_nodes *nodes;
    double width;
    struct node *node; /* [gaps]; those needed for its pitches */
};

/* --- between nodes -------------------------------------------------------------------------------------------------------- */

/* Lagrange's weights of `count` nodes. */
static void weigh(const double *node, size_t count, double at, double *weight)
{
    for (size_t i = 0; i < count; i++) {
        weight[i] = 1;
        for (size_t k = 0; k < count; k++)
            weight[i] *= k == i ? 1 : (at - node[k]) / (node[i] - node[k]);
    }
}

/* The nodes about a place, two on either side where there are, and their weights. Returns how many there are. */
static size_t neighbours(const struct axis *axis, double at, size_t *first, double weight[CUBIC])
{
    size_t above = 0, count = axis->count < CUBIC ? axis->count : CUBIC;
    while (above < axis->count && axis->at[above] < at)
        above++;
    *first = above > 2 ? above - 2 : 0;
    if (*first + count > axis->count)
        *first = axis->count - count;
    weigh(axis->at + *first, count, at, weight);
    return count;
}

/* Scan and impedance of weighed nodes. */
static enum ww_status blend(struct node *out, const struct node *const *of, const double *weight, size_t count,
                            double pitch, struct ww_error *error)
{
    const struct ww_scan *scan[CUBIC];
    out->impedance = 0;
    for (size_t i = 0; i < count; i++) {
        scan[i] = of[i]->scan;
        out->impedance += weight[i] * of[i]->impedance;
    }
    return ww_scan_blend(&out->scan, scan, weight, count, pitch, NEGLIGIBLE, error);
}

/* --- which nodes ---------------------------------------------------------------------------------------------------------- */

/* Multiples of the unit from below `from` to above `to`, each at most `ratio` times the one before it and `stride` more, or one
 * unit more. */
static void choose(struct axis *axis, double unit, double from, double to, double ratio, double stride)
{
    double least = fmax(floor(from / unit + ROUNDING), 1), most = fmax(ceil(to / unit - ROUNDING), least), at = least;
    axis->count = 0;
    while (axis->count < MOST - 1 && at < most) {
        axis->at[axis->count++] = at * unit;
        at = fmax(at + 1, floor(fmin(at * ratio, at + stride / unit)));
    }
    axis->at[axis->count++] = most * unit;
}

/* Marks the nodes that the places of the request's ranges lie between: of the widths near one, those from its least gap to its
 * largest. */
static void mark_needed(struct ww_pitch_nodes *nodes)
{
    enum { PLACES = 256 };
    const struct ww_pitch_request *r = nodes->request;
    double weight[CUBIC], step = (r->width_to - r->width_from) / PLACES, least = ww_pitch_nodes_gap(nodes);
    for (int i = 0; i <= PLACES; i++) {
        double width = r->width_from + step * i;
        double low = fmax(r->pitch_from - width - step, least), high = r->pitch_to - width + step;
        size_t w, first = 0, last = 0, widths = neighbours(&nodes->width, width, &w, weight), gaps = 1;
        if (nodes->pair && high < low)
            continue;
        if (nodes->pair) {
            (void)neighbours(&nodes->gap, log(low), &first, weight);
            gaps = neighbours(&nodes->gap, log(high), &last, weight);
        }
        for (size_t k = w; k < w + widths; k++)
            for (size_t g = first; g < last + gaps; g++)
                nodes->node[k * nodes->gap.count + g].needed = true;
    }
}

/* Node i of those with a correction, among all. */
static size_t thinned(const struct axis *from, const struct axis *to, size_t i)
{
    return to->count > 1 ? i * (from->count - 1) / (to->count - 1) : 0;
}

static void thin_out(const struct axis *from, struct axis *to)
{
    to->count = from->count < CORRECTED ? from->count : CORRECTED;
    for (size_t i = 0; i < to->count; i++)
        to->at[i] = from->at[thinned(from, to, i)];
}

static double yarn_pitch(const struct ww_stack *stack)
{
    double least = INFINITY;
    for (size_t p = 0; p < stack->plies; p++)
        least = fmin(least, 0.5 * fmin(stack->ply[p].cell.lx, stack->ply[p].cell.ly));
    return least;
}

static void choose_nodes(struct ww_pitch_nodes *nodes)
{
    const struct ww_pitch_request *r = nodes->request;
    bool within = r->trace.width >= r->width_from && r->trace.width <= r->width_to;
    double unit = (within ? r->trace.width : r->width_from) / UNITS;
    choose(&nodes->width, unit, r->width_from, r->width_to, WIDTH_RATIO, yarn_pitch(r->stack) / PER_YARN);
    nodes->gap = (struct axis){.count = 1};
    if (nodes->pair) {
        double least = fmax(r->pitch_from - r->width_to, LEAST_UNITS * unit);
        struct axis gap;
        choose(&gap, unit, least, r->pitch_to - r->width_from, GAP_RATIO, INFINITY);
        if (least < unit)
            nodes->gap.at[0] = log(LEAST_UNITS * unit);
        else
            nodes->gap.count = 0;
        for (size_t i = 0; i < gap.count && nodes->gap.count < MOST; i++)
            nodes->gap.at[nodes->gap.count++] = log(gap.at[i]);
    }
    thin_out(&nodes->width, &nodes->corrected_width);
    thin_out(&nodes->gap, &nodes->corrected_gap);
}

double ww_pitch_nodes_gap(const struct ww_pitch_nodes *nodes)
{
    return nodes->pair ? exp(nodes->gap.at[0]) : 0;
}

/* --- solving them --------------------------------------------------------------------------------------------------------- */

/* The line of a node, unless its correction has opened it already. */
static enum ww_status open_line(struct ww_pitch_nodes *nodes, size_t index, struct ww_error *error)
{
    const struct ww_pitch_request *r = nodes->request;
    struct node *node = &nodes->node[index];
    double width = nodes->width.at[index / nodes->gap.count], gap = nodes->gap.at[index % nodes->gap.count];
    struct ww_trace trace = {width, r->trace.thickness, nodes->pair ? width + exp(gap) : 0};
    return node->line ? WW_OK : ww_line_create(&node->line, r->stack, &trace, &r->line, error);
}

static enum ww_status correct(struct ww_pitch_nodes *nodes, size_t w, size_t g, struct ww_error *error)
{
    struct ww_skew_request skew = nodes->request->skew;
    double *angle = calloc(skew.segments + 1, sizeof *angle);
    size_t index = thinned(&nodes->width, &nodes->corrected_width, w) * nodes->gap.count +
                   thinned(&nodes->gap, &nodes->corrected_gap, g);
    if (!angle)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu segments", skew.segments);
    skew.turn = 0;
    struct ww_correction_request wanted = ww_skew_correction(&skew, angle);
    wanted.modes = false;
    enum ww_status status = open_line(nodes, index, error);
    if (!status)
        status = ww_correction_create(&nodes->correction[w][g], nodes->node[index].line, NULL, &wanted, error);
    free(angle);
    return status;
}

/* Of the nodes with a correction of their own, as a parabola in width and in log gap. */
static enum ww_status correction_between(struct ww_correction **correction, const struct ww_pitch_nodes *nodes,
                                         double width, double gap, struct ww_error *error)
{
    double of_width[CORRECTED], of_gap[CORRECTED], weight[CORRECTED * CORRECTED];
    const struct ww_correction *of[CORRECTED * CORRECTED];
    size_t count = 0, widths = nodes->corrected_width.count, gaps = nodes->corrected_gap.count;
    weigh(nodes->corrected_width.at, widths, width, of_width);
    weigh(nodes->corrected_gap.at, gaps, gap, of_gap);
    for (size_t w = 0; w < widths; w++)
        for (size_t g = 0; g < gaps; g++) {
            of[count] = nodes->correction[w][g];
            weight[count++] = of_width[w] * of_gap[g];
        }
    return ww_correction_blend(correction, of, weight, count, error);
}

static enum ww_status solve_node(struct ww_pitch_nodes *nodes, size_t index, struct ww_error *error)
{
    const struct ww_pitch_request *r = nodes->request;
    struct node *node = &nodes->node[index];
    double width = nodes->width.at[index / nodes->gap.count], gap = nodes->gap.at[index % nodes->gap.count];
    struct ww_scan_options options = r->skew.scan;
    struct ww_correction *correction = NULL;
    options.route = r->skew.route;
    options.segments = r->skew.segments;
    options.positions = POSITIONS;
    enum ww_status status = open_line(nodes, index, error);
    if (!status)
        status = correction_between(&correction, nodes, width, gap, error);
    if (!status)
        status =
            ww_corrected_scan_create_with(&node->scan, node->line, correction, r->skew.angle, false, &options, error);
    if (!status) {
        const struct ww_line_summary *summary = ww_line_summary(node->line);
        node->impedance = nodes->pair ? summary->z_diff : summary->z0;
    }
    ww_correction_release(correction);
    ww_line_destroy(node->line);
    node->line = NULL;
    return status;
}

static enum ww_status solve(struct ww_pitch_nodes *nodes, struct ww_progress_run *progress, double share,
                            struct ww_error *error)
{
    size_t corrections =
        nodes->request->skew.sections ? nodes->corrected_width.count * nodes->corrected_gap.count : 0;
    size_t points = nodes->width.count * nodes->gap.count;
    struct ww_failure failure = {.error = error};
    ww_progress_part(progress, share, corrections + points);
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads()) schedule(dynamic)
#endif
    for (size_t i = 0; i < corrections; i++) {
        struct ww_error mine = {0};
        size_t w = i / nodes->corrected_gap.count, g = i % nodes->corrected_gap.count;
        ww_failure_keep(&failure, i, correct(nodes, w, g, &mine), &mine);
        ww_progress_step(progress);
    }
    if (failure.status)
        return failure.status;
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads()) schedule(dynamic)
#endif
    for (size_t i = 0; i < points; i++) {
        struct ww_error mine = {0};
        if (nodes->node[i].needed)
            ww_failure_keep(&failure, i, solve_node(nodes, i, &mine), &mine);
        ww_progress_step(progress);
    }
    return failure.status;
}

enum ww_status ww_pitch_nodes_create(struct ww_pitch_nodes **out, const struct ww_pitch_request *request,
                                     struct ww_progress_run *progress, double share, struct ww_error *error)
{
    struct ww_pitch_nodes *nodes = calloc(1, sizeof *nodes);
    enum ww_status status = WW_OK;
    *out = NULL;
    if (!nodes)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a map over pitch and width");
    nodes->request = request;
    nodes->pair = request->trace.pitch > 0;
    choose_nodes(nodes);
    nodes->node = calloc(nodes->width.count * nodes->gap.count, sizeof *nodes->node);
    if (!nodes->node)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a map over pitch and width");
    if (!status) {
        mark_needed(nodes);
        status = solve(nodes, progress, share, error);
    }
    if (status)
        ww_pitch_nodes_destroy(nodes);
    else
        *out = nodes;
    return status;
}

void ww_pitch_nodes_destroy(struct ww_pitch_nodes *nodes)
{
    if (!nodes)
        return;
    for (size_t i = 0; nodes->node && i < nodes->width.count * nodes->gap.count; i++) {
        ww_line_destroy(nodes->node[i].line);
        ww_scan_destroy(nodes->node[i].scan);
    }
    for (size_t w = 0; w < CORRECTED; w++)
        for (size_t g = 0; g < CORRECTED; g++)
            ww_correction_release(nodes->correction[w][g]);
    free(nodes->node);
    free(nodes);
}

/* --- a row of one width ----------------------------------------------------------------------------------------------------- */

/* The nodes of gap that pitches from `from` to `to` lie between, those below the least gap aside: [*first, *end). */
static void gaps_between(const struct ww_pitch_nodes *nodes, double width, double from, double to, size_t *first,
                         size_t *end)
{
    double weight[CUBIC], least = ww_pitch_nodes_gap(nodes);
    size_t last;
    (void)neighbours(&nodes->gap, nodes->pair ? log(fmax(from - width, least)) : 0, first, weight);
    *end = neighbours(&nodes->gap, nodes->pair ? log(fmax(to - width, least)) : 0, &last, weight);
    *end += last;
}

enum ww_status ww_pitch_row_create(struct ww_pitch_row **out, const struct ww_pitch_nodes *nodes, double width,
                                   double from, double to, struct ww_error *error)
{
    struct ww_pitch_row *row = calloc(1, sizeof *row);
    size_t gaps = nodes->gap.count, first, first_gap, end_gap;
    double weight[CUBIC];
    enum ww_status status = WW_OK;
    *out = NULL;
    if (row)
        row->node = calloc(gaps, sizeof *row->node);
    if (!row || !row->node) {
        free(row);
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu scans", gaps);
    }
    row->nodes = nodes;
    row->width = width;
    size_t widths = neighbours(&nodes->width, width, &first, weight);
    gaps_between(nodes, width, from, to, &first_gap, &end_gap);
    for (size_t g = first_gap; g < end_gap && !status; g++) {
        const struct node *of[CUBIC];
        bool solved = true;
        for (size_t i = 0; i < widths; i++) {
            of[i] = &nodes->node[(first + i) * gaps + g];
            solved = solved && of[i]->scan;
        }
        if (solved)
            status = blend(&row->node[g], of, weight, widths, nodes->pair ? width + exp(nodes->gap.at[g]) : 0, error);
    }
    if (status)
        ww_pitch_row_destroy(row);
    else
        *out = row;
    return status;
}

void ww_pitch_row_destroy(struct ww_pitch_row *row)
{
    if (!row)
        return;
    for (size_t g = 0; g < row->nodes->gap.count; g++)
        ww_scan_destroy(row->node[g].scan);
    free(row->node);
    free(row);
}

enum ww_status ww_pitch_row_at(const struct ww_pitch_row *row, double pitch, double *worst, double *impedance,
                               struct ww_error *error)
{
    const struct ww_pitch_nodes *nodes = row->nodes;
    const struct ww_skew_request *skew = &nodes->request->skew;
    const struct node *of[CUBIC];
    struct node here = {0};
    double weight[CUBIC];
    size_t first;
    *worst = *impedance = -1;
    if (nodes->pair && pitch - row->width < ww_pitch_nodes_gap(nodes) * (1 - ROUNDING))
        return WW_OK;
    size_t count = neighbours(&nodes->gap, nodes->pair ? log(pitch - row->width) : 0, &first, weight);
    for (size_t i = 0; i < count; i++)
        of[i] = &row->node[first + i];
    enum ww_status status = blend(&here, of, weight, count, nodes->pair ? pitch : 0, error);
    if (!status)
        status = ww_worst_of_scan(worst, here.scan, ww_judged_signal(nodes->pair, here.scan->spacing), WW_MEAN,
                                  skew->length, error);
    *impedance = here.impedance;
    ww_scan_destroy(here.scan);
    return status;
}
