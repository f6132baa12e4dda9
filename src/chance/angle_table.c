/* angle_table.c - harmonics of the slowness over a range of angles.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * S^(k; theta), a harmonic of a leg's slowness, is smooth over degrees. The mean along the path, sinc(k.u L/2), is not: its
 * lobes are as narrow as pitch/length. So the cloth is scanned at angles a degree or less apart, S^ is interpolated between
 * them by cubics, and the mean along the path is computed at the very angle and length. The value from all positions is
 *   value(r0) = sum over segments and harmonics of exp(i k.r0) [S1^ F1 - S2^ F2],
 *   F = exp(i k.P) integral of exp(i k.u s) over the leg's part of the segment, which starts at P,
 * times 1 - exp(i k.d) where it is the difference of two traces d apart (scan/path.c), on a map of 64 by 64, the top by its highest sample from the parabola through its neighbours.
 *
 * Kept are the harmonics that this map resolves and that could add a thousandth to the skew along the yarns over the longest
 * route. At a bend a leg runs past the end of the centre line's segment by its offset times tan(bend/2). The quasi-static
 * limit is taken to first order, delay = L d eps/(2 c0 sqrt(eps)).
 *
 * Accuracy: within 0.5 % of ww_placements_solve, of the largest value in its neighbourhood (tests/sweep/test_angles.c).
 */
#include "chance/angle_table.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/parallel.h"
#include "core/transform.h"
#include "scan/extremes.h"
#include "core/wide.h"
#include "scan/plies.h"

#define POSITIONS WW_EVALUATED
#define MOST_ORDER (POSITIONS / 2 - 1)
#define STEP (WW_PI / 180)
#define STEP_BY_PITCH                                                                                                \
    0.03 /* of a scan against (longest side of a cell)/(pair pitch): phases between legs turn by so little */
#define NEGLIGIBLE 1e-3 /* of the largest harmonic over half a yarn pitch */
#define STENCIL 4
#define NEARLY 1e-4            /* of the extreme of all plies */
#define FAR 0.75               /* samples: half the diagonal between four, and some */
#define CONSTANT 1e-9          /* |k.u|/|k| of a harmonic that counts as constant along the path */
#define CONSTANT_POSITIONS 512 /* over a period of such a harmonic: its top by samples is short by 1e-4 */

enum { SIDE = 2 * MOST_ORDER + 1, DENSE = (MOST_ORDER + 1) * SIDE };

static size_t dense_place(int m, int l)
{
    return (size_t)(m * SIDE + l + MOST_ORDER);
}

/* --- scanning ------------------------------------------------------------------------------------------------------ */

/* Everything at all angles before the harmonics that matter are chosen: [ply][angle][leg][DENSE]. */
struct sampled {
    const struct ww_line *line;
    const struct ww_skew_request *request;
    double _Complex *order;
};

static double _Complex *sampled_at(const struct sampled *sampled, const struct ww_angle_table *table, size_t ply,
                                   size_t angle, size_t leg)
{
    return sampled->order + ((ply * table->count + angle) * 2 + leg) * DENSE;
}

static enum ww_status scan_angle(const struct sampled *sampled, struct ww_angle_table *table, size_t index,
                                 struct ww_error *error)
{
    struct ww_scan *scan = NULL;
    double angle = table->first + (double)index * table->step;
    struct ww_scan_options options = sampled->request->scan;
    options.route = NULL;
    options.segments = 0;
    enum ww_status status = ww_corrected_scan_create_with(&scan, sampled->line, sampled->request->correction, angle,
                                                          false, &options, error);
    if (status)
        return status;
    for (size_t p = 0; p < table->plies; p++)
        for (size_t leg = 0; leg < (table->pair ? 2 : 1); leg++) {
            const struct ww_ply_scan *ply = &scan->ply[p];
            const double _Complex *c = ply->coefficient[leg][WW_MEAN];
            double _Complex *dense = sampled_at(sampled, table, p, index, leg);
            double slowness = scan->averaging == WW_FLIGHT ? 1 : 1 / (2 * WW_C0 * sqrt(creal(c[0]))); /* per eps */
            for (size_t w = 0; w < ply->harmonics; w++)
                if (ply->order[w].m <= MOST_ORDER && abs(ply->order[w].l) <= MOST_ORDER)
                    dense[dense_place(ply->order[w].m, ply->order[w].l)] = slowness * c[w];
            if (index == 0)
                table->level[leg] = scan->level[leg][WW_MEAN];
            if (index == 0 && p == 0 && leg == 0)
                table->mean = scan->averaging == WW_FLIGHT ? creal(c[0]) : sqrt(creal(c[0])) / WW_C0;
            if (index == 0) {
                table->ply[p].lx = ply->lx;
                table->ply[p].ly = ply->ly;
            }
        }
    ww_scan_destroy(scan);
    return WW_OK;
}

static enum ww_status scan_angles(const struct sampled *sampled, struct ww_angle_table *table,
                                  struct ww_progress_run *progress, struct ww_error *error)
{
    struct ww_failure failure = {.error = error};
    int count = (int)table->count;
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads()) schedule(dynamic)
#endif
    for (int i = 0; i < count; i++) {
        struct ww_error mine = {0};
        ww_failure_keep(&failure, (size_t)i, scan_angle(sampled, table, (size_t)i, &mine), &mine);
        ww_progress_step(progress);
    }
    return failure.status;
}

static double size_of(double _Complex c)
{
    return hypot(creal(c), cimag(c));
}

static double square_of(double _Complex c)
{
    return creal(c) * creal(c) + cimag(c) * cimag(c);
}

/* largest[DENSE]: squares of each harmonic, by either leg, over all angles; returns the most that the signal has of any. */
static double measure(const struct sampled *sampled, const struct ww_angle_table *table, size_t ply, double *largest)
{
    double most = 0;
    for (size_t a = 0; a < table->count; a++) {
        const double _Complex *leg1 = sampled_at(sampled, table, ply, a, 0), *leg2 = leg1 + DENSE;
        for (size_t i = 0; i < DENSE; i++) {
            double one = square_of(leg1[i]), two = square_of(leg2[i]), signal = square_of(leg1[i] - leg2[i]);
            largest[i] = one > largest[i] ? one : largest[i];
            largest[i] = two > largest[i] ? two : largest[i];
            most = i != dense_place(0, 0) && signal > most ? signal : most;
        }
    }
    return sqrt(most);
}

static enum ww_status keep_harmonics(struct ww_angle_table *table, const struct sampled *sampled, size_t p,
                                     double longest, struct ww_error *error)
{
    struct ww_angle_table_ply *ply = &table->ply[p];
    double *largest = calloc(DENSE, sizeof *largest);
    enum ww_status status = WW_OK;
    if (!largest)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the harmonics");
    double pitch = 0.5 * fmin(ply->lx, ply->ly);
    double limit = measure(sampled, table, p, largest) * fmin(NEGLIGIBLE, NEGLIGIBLE * pitch / (WW_PI * longest));
    limit *= limit;
    largest[dense_place(0, 0)] = INFINITY;
    for (size_t i = 0; i < DENSE; i++)
        ply->harmonics += largest[i] > limit;
    ply->order = calloc(ply->harmonics, sizeof *ply->order);
    for (size_t leg = 0; leg < 2; leg++)
        ply->slowness[leg] = calloc(table->count * ply->harmonics, sizeof *ply->slowness[leg]);
    if (!ply->order || !ply->slowness[0] || !ply->slowness[1]) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu harmonics at %zu angles",
                              ply->harmonics, table->count);
        goto done;
    }
    size_t w = 1; /* the first is the mean */
    for (int m = 0; m <= MOST_ORDER; m++)
        for (int l = -MOST_ORDER; l <= MOST_ORDER; l++)
            if ((m || l) && largest[dense_place(m, l)] > limit)
                ply->order[w++] = (struct ww_order){m, l};
    ply->rows = ww_orders_rows(ply->order, ply->harmonics, POSITIONS);
    for (size_t a = 0; a < table->count; a++)
        for (size_t leg = 0; leg < 2; leg++)
            for (w = 0; w < ply->harmonics; w++)
                ply->slowness[leg][a * ply->harmonics + w] =
                    sampled_at(sampled, table, p, a, leg)[dense_place(ply->order[w].m, ply->order[w].l)];
done:
    free(largest);
    return status;
}

/* The scans that serve a range of angles of the trace, for all directions of its segments. */
static void choose_angles(struct ww_angle_table *table, const struct ww_line *line, double from, double to)
{
    double least = INFINITY, most = -INFINITY, side = 0;
    for (size_t i = 0; i < table->segments; i++) {
        least = fmin(least, table->route[i].angle);
        most = fmax(most, table->route[i].angle);
    }
    for (size_t p = 0; p < table->plies; p++)
        side = fmax(side, fmax(line->harmonics[p].lx, line->harmonics[p].ly));
    table->step = STEP;
    if (table->pair && table->plies)
        table->step = fmin(STEP, STEP_BY_PITCH * side / table->pitch);
    table->from = from;
    table->to = to;
    table->first = (floor((from + least) / table->step) - 1) * table->step; /* the same angles, whatever the range */
    table->count = (size_t)ceil((to + most - table->first) / table->step) + STENCIL - 1;
}

static enum ww_status find_modes(struct ww_angle_table *table, const struct ww_line *line,
                                 const struct ww_skew_request *request, struct ww_error *error)
{
    table->modes = calloc(table->count, sizeof *table->modes);
    if (!table->modes)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu angles", table->count);
    for (size_t i = 0; i < table->count; i++)
        table->modes[i] = ww_modes_of(line, request, table->first + (double)i * table->step);
    return WW_OK;
}

struct ww_modes ww_angle_table_modes(const struct ww_angle_table *table, double angle)
{
    double at = fmax((angle - table->first) / table->step, 0);
    size_t i = at < (double)(table->count - 1) ? (size_t)at : table->count - 2;
    double beyond = at - (double)i;
    struct ww_modes modes = table->modes[i];
    modes.beat += beyond * (table->modes[i + 1].beat - modes.beat);
    return modes;
}

enum ww_status ww_angle_table_create(struct ww_angle_table **out, const struct ww_line *line,
                                     const struct ww_skew_request *request, double from, double to, double longest,
                                     struct ww_progress_run *progress, struct ww_error *error)
{
    *out = NULL;
    struct ww_angle_table *table = calloc(1, sizeof *table);
    struct sampled sampled = {line, request, NULL};
    enum ww_status status = WW_OK;
    size_t plies = line->stack->plies;
    if (table)
        table->ply = calloc(plies + 1, sizeof *table->ply);
    if (!table || !table->ply) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", plies);
        goto done;
    }
    table->plies = plies;
    table->pair = line->mesh.pair;
    table->pitch = table->pair ? line->summary.pitch : 0;
    table->spacing = request->scan.spacing;
    table->bends = request->scan.bends;
    table->couples = request->scan.averaging == WW_FLIGHT && plies > 1;
    table->straight.length = table->length = request->length;
    table->route = request->segments ? request->route : &table->straight;
    table->segments = request->segments ? request->segments : 1;
    for (size_t p = 0; p < plies; p++)
        table->ply[p].turn = line->stack->ply[p].turn;
    choose_angles(table, line, from, to);
    ww_progress_part(progress, 0.25, table->count);
    sampled.order = calloc((plies ? plies : 1) * table->count * 2 * DENSE, sizeof *sampled.order);
    status = sampled.order ? scan_angles(&sampled, table, progress, error)
                           : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu angles", table->count);
    for (size_t p = 0; p < plies && !status; p++)
        status = keep_harmonics(table, &sampled, p, longest, error);
    if (!status && table->pair && ww_conversion_frequency(request) > 0)
        status = find_modes(table, line, request, error);
done:
    free(sampled.order);
    if (status)
        ww_angle_table_destroy(table);
    else
        *out = table;
    return status;
}

struct ww_angle_table ww_angle_table_along(const struct ww_angle_table *table, const struct ww_route_segment *route,
                                           size_t segments, const double start[2])
{
    struct ww_angle_table view = *table;
    view.route = route;
    view.segments = segments;
    view.start[0] = start[0];
    view.start[1] = start[1];
    view.length = 0;
    for (size_t i = 0; i < segments; i++)
        view.length += route[i].length;
    return view;
}

size_t ww_directions_add(struct ww_route_segment *direction, size_t count, const struct ww_route_segment *route,
                         size_t segments)
{
    for (size_t k = 0; k < segments; k++) {
        size_t known = 0;
        while (known < count && direction[known].angle != route[k].angle)
            known++;
        if (known == count)
            direction[count++] = (struct ww_route_segment){route[k].length, route[k].angle};
    }
    return count;
}

/* Orders ascend: by m, then by l. */
static int compare_orders(struct ww_order a, struct ww_order b)
{
    return a.m != b.m ? a.m - b.m : a.l - b.l;
}

/* Of all angles; `at` is the harmonic's place in the other table, 0 where that has none. The first of both is the mean. */
static void subtract_harmonic(struct ww_angle_table_ply *ply, const struct ww_angle_table_ply *other, size_t angles,
                              size_t w, size_t at, double factor)
{
    for (size_t leg = 0; leg < 2; leg++)
        for (size_t a = 0; a < angles; a++) {
            double _Complex *c = &ply->slowness[leg][a * ply->harmonics + w];
            *c = at || w == 0 ? factor * (*c - other->slowness[leg][a * other->harmonics + at]) : 0;
        }
}

void ww_angle_table_subtract(struct ww_angle_table *table, const struct ww_angle_table *other, double factor)
{
    table->mean = factor * (table->mean - other->mean);
    table->couples = false; /* a difference adds */
    for (size_t leg = 0; leg < 2; leg++)
        table->level[leg] = factor * (table->level[leg] - other->level[leg]);
    for (size_t p = 0; p < table->plies; p++) {
        const struct ww_angle_table_ply *of = &other->ply[p];
        size_t at = 1;
        subtract_harmonic(&table->ply[p], of, table->count, 0, 0, factor);
        for (size_t w = 1; w < table->ply[p].harmonics; w++) {
            struct ww_order order = table->ply[p].order[w];
            while (at < of->harmonics && compare_orders(of->order[at], order) < 0)
                at++;
            bool found = at < of->harmonics && compare_orders(of->order[at], order) == 0;
            subtract_harmonic(&table->ply[p], of, table->count, w, found ? at : 0, factor);
        }
    }
}

void ww_angle_table_destroy(struct ww_angle_table *table)
{
    if (!table)
        return;
    for (size_t p = 0; table->ply && p < table->plies; p++) {
        free(table->ply[p].order);
        free(table->ply[p].slowness[0]);
        free(table->ply[p].slowness[1]);
    }
    free(table->ply);
    free(table->modes);
    free(table);
}

/* --- evaluating ---------------------------------------------------------------------------------------------------- */

/* One segment of the route at the angle of the evaluator, over one ply. */
struct segment_at {
    double ux, uy;                /* in the frame of the ply's cloth */
    double x, y;                  /* where it starts, the route at its own length [m] */
    double length;                /* [m] */
    double before[2], past[2];    /* each leg starts so much before the segment, and runs past it [m] */
    double _Complex *slowness[2]; /* [leg][harmonic] */
};

struct ww_evaluator {
    const struct ww_angle_table *table;
    enum ww_signal signal;
    double spacing; /* of WW_APART */
    double angle;
    struct segment_at *segment; /* [ply][segment] */
    double _Complex **owned; /* [ply][segment]: memory of slowness; NULL of one in the direction of one before it */
    size_t *along, *like; /* [segment]: the first in the same direction, and the first that is equal, bends and all */
    double _Complex *starts; /* [harmonic], for lay_route */
    struct ww_series *series;
    struct ww_converter *converter; /* NULL: no conversion is asked for */
    struct ww_beat_segment *path;   /* [ply][segment], where plies couple */
    struct ww_coupling coupling;
    struct ww_extreme *top[2]; /* [ply], highest and lowest */
    struct ww_plies_maps maps; /* work: a map, and one of each ply */
};

void ww_evaluator_destroy(struct ww_evaluator *evaluator)
{
    if (!evaluator)
        return;
    for (size_t i = 0; evaluator->owned && i < evaluator->table->plies * evaluator->table->segments; i++)
        free(evaluator->owned[i]);
    free(evaluator->owned);
    free(evaluator->along);
    free(evaluator->starts);
    free(evaluator->segment);
    ww_series_destroy(evaluator->series);
    ww_converter_destroy(evaluator->converter);
    ww_coupling_clear(&evaluator->coupling);
    ww_plies_maps_clear(&evaluator->maps);
    free(evaluator->path);
    free(evaluator->top[0]);
    free(evaluator);
}

enum ww_status ww_plies_maps_init(struct ww_plies_maps *maps, size_t plies, struct ww_error *error)
{
    maps->map = calloc(plies + 1, sizeof *maps->map);
    maps->rows = calloc(plies + 1, sizeof *maps->rows);
    maps->work = calloc((plies + 1) * POSITIONS * POSITIONS, sizeof *maps->work);
    if (maps->map && maps->rows && maps->work)
        return WW_OK;
    ww_plies_maps_clear(maps);
    return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the maps of %zu plies", plies);
}

void ww_plies_maps_clear(struct ww_plies_maps *maps)
{
    free(maps->map);
    free(maps->rows);
    free(maps->work);
    memset(maps, 0, sizeof *maps);
}

void ww_evaluator_judge(struct ww_evaluator *evaluator, enum ww_signal signal, double spacing)
{
    evaluator->signal = signal;
    evaluator->spacing = spacing;
}

/* Which segments of a route are the same but for where they start: a zig-zag has four kinds, its ends among them. */
static void find_equals(struct ww_evaluator *evaluator)
{
    const struct ww_angle_table *table = evaluator->table;
    const struct ww_route_segment *route = table->route;
    for (size_t i = 0; i < table->segments; i++) {
        size_t along = 0, like = 0;
        bool ends = i == 0 || i + 1 == table->segments;
        while (route[along].angle != route[i].angle)
            along++;
        for (like = ends ? i : 1; like < i; like++)
            if (route[like].angle == route[i].angle && route[like].length == route[i].length &&
                route[like - 1].angle == route[i - 1].angle && route[like + 1].angle == route[i + 1].angle)
                break;
        evaluator->along[i] = along;
        evaluator->like[i] = like;
    }
}

/* Both legs' harmonics of each segment; of those in one direction in one place. */
static enum ww_status make_slowness(struct ww_evaluator *evaluator, struct ww_error *error)
{
    const struct ww_angle_table *table = evaluator->table;
    size_t most = 0;
    for (size_t i = 0; i < table->plies * table->segments; i++) {
        size_t harmonics = table->ply[i / table->segments].harmonics, along = evaluator->along[i % table->segments];
        size_t first = i - i % table->segments + along;
        most = harmonics > most ? harmonics : most;
        if (first == i)
            evaluator->owned[i] = calloc(2 * harmonics, sizeof **evaluator->owned);
        double _Complex *slowness = evaluator->owned[first];
        if (!slowness)
            return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu harmonics", harmonics);
        evaluator->segment[i].slowness[0] = slowness;
        evaluator->segment[i].slowness[1] = slowness + harmonics;
    }
    evaluator->starts = calloc(most + 1, sizeof *evaluator->starts);
    return evaluator->starts ? WW_OK
                             : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu harmonics", most);
}

enum ww_status ww_evaluator_create(struct ww_evaluator **out, const struct ww_angle_table *table,
                                   struct ww_error *error)
{
    *out = NULL;
    struct ww_evaluator *evaluator = calloc(1, sizeof *evaluator);
    size_t segments = table->plies * table->segments;
    enum ww_status status = WW_OK;
    if (evaluator) {
        evaluator->table = table;
        ww_evaluator_judge(evaluator, ww_judged_signal(table->pair, table->spacing), table->spacing);
        evaluator->segment = calloc(segments + 1, sizeof *evaluator->segment);
        evaluator->owned = calloc(segments + 1, sizeof *evaluator->owned);
        evaluator->along = calloc(2 * table->segments, sizeof *evaluator->along);
        evaluator->like = evaluator->along ? evaluator->along + table->segments : NULL;
        evaluator->path = calloc(segments + 1, sizeof *evaluator->path);
        evaluator->top[0] = calloc(2 * table->plies + 1, sizeof *evaluator->top[0]);
        evaluator->top[1] = evaluator->top[0] ? evaluator->top[0] + table->plies : NULL;
    }
    if (!evaluator || !evaluator->segment || !evaluator->owned || !evaluator->along || !evaluator->path ||
        !evaluator->top[0])
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a route of %zu segments", table->segments);
    else
        status = ww_series_create(&evaluator->series, POSITIONS, POSITIONS, error);
    if (!status)
        status = ww_coupling_init(&evaluator->coupling, table->couples ? table->plies : 0, error);
    if (!status && table->couples)
        status = ww_plies_maps_init(&evaluator->maps, table->plies, error);
    if (!status && table->modes)
        status = ww_converter_create(&evaluator->converter, table->plies, table->segments, error);
    if (!status) {
        find_equals(evaluator);
        status = make_slowness(evaluator, error);
    }
    if (status)
        ww_evaluator_destroy(evaluator);
    else
        *out = evaluator;
    return status;
}

enum ww_status ww_evaluate_all(const struct ww_angle_table *table, size_t count, ww_evaluator_visit *visit,
                               void *host, struct ww_progress_run *progress, struct ww_error *error)
{
    struct ww_failure failure = {.error = error};
#ifdef _OPENMP
#pragma omp parallel num_threads(ww_threads())
#endif
    {
        struct ww_evaluator *evaluator = NULL;
        struct ww_error mine = {0};
        ww_failure_keep(&failure, 0, ww_evaluator_create(&evaluator, table, &mine), &mine);
#ifdef _OPENMP
#pragma omp for schedule(dynamic)
#endif
        for (size_t i = 0; i < count; i++) {
            if (evaluator)
                visit(host, evaluator, i);
            ww_progress_step(progress);
        }
        ww_evaluator_destroy(evaluator);
    }
    return failure.status;
}

/* Harmonics between the scanned angles, by the cubic through the four about them. */
static void interpolate(const struct ww_angle_table *table, const struct ww_angle_table_ply *ply, double angle,
                        double _Complex *slowness[2])
{
    double at = (angle - table->first) / table->step;
    double base = fmax(0, fmin(floor(at) - 1, (double)(table->count - STENCIL)));
    double t = at - base - 1; /* 0..1 within */
    const double weight[STENCIL] = {-t * (t - 1) * (t - 2) / 6, (t + 1) * (t - 1) * (t - 2) / 2,
                                    -(t + 1) * t * (t - 2) / 2, (t + 1) * t * (t - 1) / 6};
    for (size_t leg = 0; leg < (table->pair ? 2 : 1); leg++) {
        const double _Complex *row = ply->slowness[leg] + (size_t)base * ply->harmonics;
        for (size_t w = 0; w < ply->harmonics; w++)
            slowness[leg][w] = weight[0] * row[w] + weight[1] * row[w + ply->harmonics] +
                               weight[2] * row[w + 2 * ply->harmonics] + weight[3] * row[w + 3 * ply->harmonics];
    }
}

/* By how much the leg at `offset` to the left outruns the centre line at a bend. */
static double outrun(double offset, double before, double after)
{
    return offset * tan(0.5 * remainder(after - before, 2 * WW_PI));
}

void ww_evaluator_turn(struct ww_evaluator *evaluator, double angle)
{
    const struct ww_angle_table *table = evaluator->table;
    evaluator->angle = angle;
    for (size_t p = 0; p < table->plies; p++) {
        double co = cos(angle - table->ply[p].turn), si = sin(angle - table->ply[p].turn);
        double x = co * table->start[0] + si * table->start[1], y = co * table->start[1] - si * table->start[0];
        for (size_t i = 0; i < table->segments; i++) {
            struct segment_at *segment = &evaluator->segment[p * table->segments + i];
            const struct ww_route_segment *of = &table->route[i];
            double theta = angle + of->angle - table->ply[p].turn;
            segment->ux = sin(theta);
            segment->uy = cos(theta);
            segment->x = x;
            segment->y = y;
            segment->length = of->length;
            x += segment->ux * of->length;
            y += segment->uy * of->length;
            for (size_t leg = 0; leg < 2; leg++) {
                double offset = leg ? -0.5 * table->pitch : 0.5 * table->pitch;
                segment->before[leg] = i > 0 ? outrun(offset, of[-1].angle, of->angle) : 0;
                segment->past[leg] = i + 1 < table->segments ? outrun(offset, of->angle, of[1].angle) : 0;
            }
            if (evaluator->along[i] == i)
                interpolate(table, &table->ply[p], angle + of->angle, segment->slowness);
        }
    }
}

void ww_evaluator_left(const struct ww_evaluator *evaluator, size_t p, double *x, double *y)
{
    const double closed = 1e-9; /* of the route's length */
    const struct ww_angle_table *table = evaluator->table;
    const struct segment_at *segment = &evaluator->segment[p * table->segments];
    double ux = 0, uy = 0, length = 0;
    for (size_t i = 0; i < table->segments; i++) {
        ux += segment[i].length * segment[i].ux;
        uy += segment[i].length * segment[i].uy;
        length += segment[i].length;
    }
    double chord = hypot(ux, uy);
    bool open = chord > closed * length;
    *x = -(open ? uy / chord : segment->uy);
    *y = open ? ux / chord : segment->ux;
}

static double share_of(const struct ww_evaluator *evaluator, int leg)
{
    return ww_signal_share(evaluator->signal, evaluator->table->pair, leg);
}

static double _Complex signal_of(const struct ww_evaluator *evaluator, const struct segment_at *segment, size_t w)
{
    double _Complex signal = share_of(evaluator, 0) * segment->slowness[0][w];
    return evaluator->table->pair ? signal + share_of(evaluator, 1) * segment->slowness[1][w] : signal;
}

static double _Complex *coefficient_of(struct ww_evaluator *evaluator, struct ww_order order)
{
    size_t row = POSITIONS / 2 + 1;
    return &evaluator->series->coef[(size_t)(order.l < 0 ? order.l + POSITIONS : order.l) * row + (size_t)order.m];
}

/* A straight trace: one integral a harmonic, length exp(i half) sin(half)/half with half = k.u length/2. */
static void lay_straight(struct ww_evaluator *evaluator, size_t p, double lengthening)
{
    const struct ww_angle_table *table = evaluator->table;
    const struct ww_angle_table_ply *ply = &table->ply[p];
    const struct segment_at *segment = &evaluator->segment[p];
    double length = lengthening * segment->length, x = WW_PI * length * segment->ux / ply->lx,
           y = WW_PI * length * segment->uy / ply->ly;
    struct ww_stepper halves = ww_stepper_of(x, y);
    struct ww_stepper start = ww_stepper_of(2 * WW_PI * segment->x / ply->lx, 2 * WW_PI * segment->y / ply->ly);
    bool shifted = segment->x != 0 || segment->y != 0;
    for (size_t w = 1; w < ply->harmonics; w++) {
        double half = ply->order[w].m * x + ply->order[w].l * y;
        double _Complex turn = ww_stepper_to(&halves, ply->order[w]);
        double sinc = fabs(half) < 0.1 ? ww_sinc(half) : cimag(turn) / half;
        double _Complex value = signal_of(evaluator, segment, w) * turn * (length * sinc);
        *coefficient_of(evaluator, ply->order[w]) = shifted ? value * ww_stepper_to(&start, ply->order[w]) : value;
    }
    if (evaluator->signal == WW_SKEW)
        evaluator->series->coef[0] = creal(signal_of(evaluator, segment, 0)) * length;
}

/* exp(i k.r) at one point for every harmonic: powers of the first one along x and along y. */
struct powers {
    double _Complex x[MOST_ORDER + 1], y[2 * MOST_ORDER + 1];
};

static void raise(struct powers *powers, const struct ww_angle_table_ply *ply, double x, double y)
{
    double px = 2 * WW_PI * x / ply->lx, py = 2 * WW_PI * y / ply->ly;
    double _Complex one_x = cos(px) + I * sin(px), one_y = cos(py) + I * sin(py);
    powers->x[0] = powers->y[MOST_ORDER] = 1;
    for (int m = 1; m <= MOST_ORDER; m++) {
        powers->x[m] = powers->x[m - 1] * one_x;
        powers->y[MOST_ORDER + m] = powers->y[MOST_ORDER + m - 1] * one_y;
        powers->y[MOST_ORDER - m] = conj(powers->y[MOST_ORDER + m]);
    }
}

static double _Complex power_of(const struct powers *powers, struct ww_order order)
{
    return powers->x[order.m] * powers->y[MOST_ORDER + order.l];
}

/* The sum of exp(i k.P) over where the segments start that are equal to one of the route, of every harmonic. */
static void sum_starts(struct ww_evaluator *evaluator, size_t p, size_t first, double lengthening)
{
    const struct ww_angle_table *table = evaluator->table;
    const struct ww_angle_table_ply *ply = &table->ply[p];
    memset(evaluator->starts, 0, ply->harmonics * sizeof *evaluator->starts);
    for (size_t i = first; i < table->segments; i++) {
        const struct segment_at *segment = &evaluator->segment[p * table->segments + i];
        struct powers start;
        if (evaluator->like[i] != first)
            continue;
        raise(&start, ply, lengthening * segment->x, lengthening * segment->y);
        for (size_t w = 1; w < ply->harmonics; w++)
            evaluator->starts[w] += power_of(&start, ply->order[w]);
    }
}

/* Adds the integral of one leg along all segments equal to one, from exp(i k.r) at its ends. */
static void add_leg(struct ww_evaluator *evaluator, size_t p, const struct segment_at *segment, int leg,
                    double lengthening)
{
    const double small = 1e-3; /* of the phase from end to end: there the first terms of the series do */
    const struct ww_angle_table_ply *ply = &evaluator->table->ply[p];
    double from = -segment->before[leg], to = lengthening * segment->length + segment->past[leg];
    double share = share_of(evaluator, leg);
    struct powers begin, end;
    raise(&begin, ply, from * segment->ux, from * segment->uy);
    raise(&end, ply, to * segment->ux, to * segment->uy);
    for (size_t w = 1; w < ply->harmonics; w++) {
        double kx = 2 * WW_PI * ply->order[w].m / ply->lx, ky = 2 * WW_PI * ply->order[w].l / ply->ly;
        double advance = kx * segment->ux + ky * segment->uy, phase = advance * (to - from);
        double _Complex at_begin = power_of(&begin, ply->order[w]);
        double _Complex whole = fabs(phase) < small
                                    ? at_begin * (to - from) * (1 - phase * phase / 6 + 0.5 * I * phase)
                                    : -I * ((power_of(&end, ply->order[w]) - at_begin) * (1 / advance));
        *coefficient_of(evaluator, ply->order[w]) +=
            share * segment->slowness[leg][w] * (whole * evaluator->starts[w]);
    }
}

static void lay_route(struct ww_evaluator *evaluator, size_t p, double lengthening)
{
    const struct ww_angle_table *table = evaluator->table;
    for (size_t i = 0; i < table->segments; i++) {
        if (evaluator->like[i] != i)
            continue;
        sum_starts(evaluator, p, i, lengthening);
        for (int leg = 0; leg < (table->pair ? 2 : 1); leg++)
            add_leg(evaluator, p, &evaluator->segment[p * table->segments + i], leg, lengthening);
    }
}

/* Of the difference of two traces: each harmonic times 1 - exp(i k.d). */
static void subtract_neighbour(struct ww_evaluator *evaluator, size_t p)
{
    const struct ww_angle_table_ply *ply = &evaluator->table->ply[p];
    double x, y;
    ww_evaluator_left(evaluator, p, &x, &y);
    struct ww_stepper beside =
        ww_stepper_of(2 * WW_PI * evaluator->spacing * x / ply->lx, 2 * WW_PI * evaluator->spacing * y / ply->ly);
    for (size_t w = 1; w < ply->harmonics; w++)
        *coefficient_of(evaluator, ply->order[w]) *= 1 - ww_stepper_to(&beside, ply->order[w]);
}

/* Mean slowness of a leg along a segment, all plies at their mean [s/m]. */
static double mean_of(const struct ww_evaluator *evaluator, size_t segment, int leg)
{
    const struct ww_angle_table *table = evaluator->table;
    double mean = table->level[leg];
    for (size_t p = 0; p < table->plies; p++)
        mean += creal(evaluator->segment[p * table->segments + segment].slowness[leg][0]) - table->level[leg];
    return mean;
}

/* What the legs of a pair differ by in length at the bend after a segment, as ww_scan_mismatch_at [s]. */
static double mismatch_at_bend(const struct ww_evaluator *evaluator, size_t i)
{
    const struct segment_at *segment = &evaluator->segment[i];
    double sum = 0;
    for (int leg = 0; leg < 2 && i + 1 < evaluator->table->segments; leg++)
        sum += (leg ? -1 : 1) * (mean_of(evaluator, i, leg) * segment[0].past[leg] +
                                 mean_of(evaluator, i + 1, leg) * segment[1].before[leg]);
    return sum;
}

/* The mean of a route's skew is the difference of its legs' lengths at the bends: left out, or carried by the first ply. */
static void lay_harmonics(struct ww_evaluator *evaluator, size_t p, double lengthening)
{
    const struct ww_angle_table *table = evaluator->table;
    memset(evaluator->series->coef, 0, POSITIONS * (POSITIONS / 2 + 1) * sizeof *evaluator->series->coef);
    if (table->segments == 1)
        lay_straight(evaluator, p, lengthening);
    else
        lay_route(evaluator, p, lengthening);
    if (evaluator->signal == WW_APART)
        subtract_neighbour(evaluator, p);
    if (evaluator->signal == WW_SKEW && table->bends && p == 0)
        for (size_t i = 0; i + 1 < table->segments; i++)
            evaluator->series->coef[0] += mismatch_at_bend(evaluator, i);
}

/* How much the top by a sample rises over it: of the paraboloid through its neighbours, all eight. On a ridge, where it
 * has no top, along its slope. A top lies no further than FAR from the nearest sample. */
struct rise {
    double x, y, value; /* from the sample, in samples */
};

static struct rise rise(const double *v, size_t ix, size_t iy, double sign)
{
    size_t n = POSITIONS, left = (ix + n - 1) % n, right = (ix + 1) % n;
    const double *here = v + iy * n, *below = v + (iy + n - 1) % n * n, *above = v + (iy + 1) % n * n;
    double gx = 0.5 * sign * (here[right] - here[left]), gy = 0.5 * sign * (above[ix] - below[ix]);
    double xx = sign * (2 * here[ix] - here[left] - here[right]), yy = sign * (2 * here[ix] - below[ix] - above[ix]);
    double xy = -0.25 * sign * (above[right] - above[left] - below[right] + below[left]);
    double determinant = xx * yy - xy * xy, slope = hypot(gx, gy);
    double x = gx * yy - gy * xy, y = gy * xx - gx * xy; /* times the determinant */
    if (xx > 0 && yy > 0 && hypot(x, y) < FAR * determinant)
        return (struct rise){x / determinant, y / determinant, 0.5 * (gx * x + gy * y) / determinant};
    double bend = slope > 0 ? (gx * gx * xx + 2 * gx * gy * xy + gy * gy * yy) / (slope * slope) : 0;
    double step = bend > 0 ? fmin(slope / bend, FAR) : 0, along = slope > 0 ? step / slope : 0;
    return (struct rise){gx * along, gy * along, slope * step - 0.5 * bend * step * step};
}

/* The highest top of sign times the samples of the first rows, where `most` and `least` are their greatest and least; where it
 * is, in samples. */
WW_WIDE static struct rise highest_top(const double *v, size_t rows, double sign, double most, double least)
{
    double from = most - 0.1 * (most - least);
    struct rise top = {0, 0, -INFINITY};
    size_t n = POSITIONS;
    for (size_t iy = 0; iy < rows; iy++)
        for (size_t ix = 0; ix < n; ix++) {
            double here = sign * v[iy * n + ix];
            if (here < from || here < sign * v[iy * n + (ix + 1) % n] || here < sign * v[iy * n + (ix + n - 1) % n] ||
                here < sign * v[(iy + 1) % n * n + ix] || here < sign * v[(iy + n - 1) % n * n + ix])
                continue;
            struct rise by = rise(v, ix, iy, sign);
            if (here + by.value > top.value)
                top = (struct rise){(double)ix + by.x, (double)iy + by.y, here + by.value};
        }
    top.value = fmax(top.value, most);
    return top;
}

struct ww_map ww_evaluator_map(struct ww_evaluator *evaluator, size_t ply, double lengthening, size_t *rows)
{
    const struct ww_angle_table_ply *of = &evaluator->table->ply[ply];
    lay_harmonics(evaluator, ply, lengthening);
    ww_series_sum(evaluator->series);
    *rows = of->rows;
    return (struct ww_map){POSITIONS, POSITIONS, of->lx, of->ly, evaluator->series->value};
}

/* --- all plies in place ----------------------------------------------------------------------------------------------- */

static void describe_segments(const struct ww_evaluator *evaluator, size_t p, double lengthening,
                              struct ww_beat_segment *out)
{
    const struct ww_angle_table *table = evaluator->table;
    const struct ww_angle_table_ply *ply = &table->ply[p];
    double passed = 0;
    for (size_t i = 0; i < table->segments; i++) {
        const struct segment_at *of = &evaluator->segment[p * table->segments + i];
        double length = lengthening * of->length;
        out[i] = (struct ww_beat_segment){.lx = ply->lx,
                                          .ly = ply->ly,
                                          .ux = of->ux,
                                          .uy = of->uy,
                                          .x = lengthening * of->x,
                                          .y = lengthening * of->y,
                                          .passed = passed,
                                          .length = length,
                                          .leg = {{0 - of->before[0], length + of->before[0] + of->past[0]},
                                                  {0 - of->before[1], length + of->before[1] + of->past[1]}},
                                          .excess = table->bends ? mismatch_at_bend(evaluator, i) : 0,
                                          .harmonics = ply->harmonics,
                                          .order = ply->order,
                                          .slowness = {of->slowness[0], of->slowness[1]},
                                          .unit = 1};
        passed += length;
    }
}

static void couple_apart(struct ww_evaluator *evaluator)
{
    for (size_t p = 0; p < evaluator->table->plies; p++) {
        struct ww_extreme *to = &evaluator->top[0][p]; /* not searched yet */
        ww_evaluator_left(evaluator, p, &to->x, &to->y);
        to->x *= evaluator->spacing;
        to->y *= evaluator->spacing;
    }
    ww_coupling_apart(&evaluator->coupling, evaluator->top[0]);
}

static void couple(struct ww_evaluator *evaluator, double lengthening)
{
    const struct ww_angle_table *table = evaluator->table;
    const double share[2] = {share_of(evaluator, 0), table->pair ? share_of(evaluator, 1) : 0};
    size_t segments = table->segments;
    evaluator->coupling.count = 0;
    if (!table->couples)
        return;
    for (size_t p = 0; p < table->plies; p++)
        describe_segments(evaluator, p, lengthening, evaluator->path + p * segments);
    for (size_t p = 0; p < table->plies; p++)
        for (size_t q = p + 1; q < table->plies; q++)
            ww_coupling_add(&evaluator->coupling, p, q, evaluator->path + p * segments,
                            evaluator->path + q * segments, segments, share, lengthening * table->length);
    if (evaluator->signal == WW_APART && evaluator->coupling.count)
        couple_apart(evaluator);
}

const struct ww_coupling *ww_evaluator_coupling(struct ww_evaluator *evaluator)
{
    couple(evaluator, 1);
    return &evaluator->coupling;
}

/* The highest top, and the lowest bottom; either may be NULL. */
static void find_tops(const struct ww_map *map, size_t rows, struct ww_extreme *high, struct ww_extreme *low)
{
    double range[2], dx = map->lx / POSITIONS, dy = map->ly / POSITIONS;
    ww_map_row_range(map, rows, range);
    if (high) {
        struct rise top = highest_top(map->value, rows, 1, range[1], range[0]);
        *high = (struct ww_extreme){top.x * dx, top.y * dy, top.value};
    }
    if (low) {
        struct rise top = highest_top(map->value, rows, -1, -range[0], -range[1]);
        *low = (struct ww_extreme){top.x * dx, top.y * dy, -top.value};
    }
}

/* One harmonic on all samples. */
WW_WIDE static void add_on_map(double *value, const struct ww_map *map, const struct ww_map_harmonic *added)
{
    double co[POSITIONS], si[POSITIONS];
    double _Complex step = ww_phasor(added->k[0] * map->lx / POSITIONS), along = 1;
    for (size_t ix = 0; ix < POSITIONS; ix++) {
        co[ix] = creal(along);
        si[ix] = cimag(along);
        along *= step;
    }
    for (size_t iy = 0; iy < POSITIONS; iy++) {
        double _Complex here = 2 * added->value * ww_phasor(added->k[1] * map->ly * (double)iy / POSITIONS);
        double real = creal(here), imaginary = cimag(here), *row = value + iy * POSITIONS;
        for (size_t ix = 0; ix < POSITIONS; ix++)
            row[ix] += real * co[ix] - imaginary * si[ix];
    }
}

static enum ww_status find_top(void *host, size_t ply, double sign, const struct ww_map_harmonic *added, size_t count,
                               bool near, struct ww_extreme *top, struct ww_error *error)
{
    (void)near; /* the map is as cheap */
    (void)error;
    const struct ww_plies_maps *maps = host;
    struct ww_map map = maps->map[ply];
    memcpy(maps->work, map.value, POSITIONS * POSITIONS * sizeof *map.value);
    for (size_t i = 0; i < count; i++)
        add_on_map(maps->work, &map, &added[i]);
    map.value = maps->work;
    find_tops(&map, maps->rows[ply], sign > 0 ? top : NULL, sign > 0 ? NULL : top);
    return WW_OK;
}

void ww_maps_extremes(const struct ww_plies_maps *maps, size_t plies, const struct ww_coupling *coupling,
                      struct ww_extreme *high, struct ww_extreme *low)
{
    struct ww_plies_maps host = *maps;
    for (size_t p = 0; p < plies; p++)
        find_tops(&maps->map[p], maps->rows[p], &high[p], low ? &low[p] : NULL);
    /* neither can fail, for find_top does not */
    (void)ww_coupling_climb(coupling, plies, 1, NEARLY, false, high, find_top, &host, NULL);
    if (low)
        (void)ww_coupling_climb(coupling, plies, -1, NEARLY, false, low, find_top, &host, NULL);
}

/* Of a straight pair the least is minus the greatest: half a turn of the cloth swaps the legs. */
static bool mirrors(const struct ww_evaluator *evaluator)
{
    return evaluator->signal == WW_SKEW && evaluator->table->segments == 1;
}

static void mirror(struct ww_evaluator *evaluator, size_t ply)
{
    evaluator->top[1][ply] = (struct ww_extreme){.value = -evaluator->top[0][ply].value};
}

/* Both extremes of one ply alone. */
static void find_own(struct ww_evaluator *evaluator, size_t ply, double lengthening)
{
    size_t rows;
    struct ww_map map = ww_evaluator_map(evaluator, ply, lengthening, &rows);
    find_tops(&map, rows, &evaluator->top[0][ply], mirrors(evaluator) ? NULL : &evaluator->top[1][ply]);
    if (mirrors(evaluator))
        mirror(evaluator, ply);
}

/* The extremes of all plies in place, at `top`, where plies couple. */
static void find_coupled(struct ww_evaluator *evaluator, double lengthening)
{
    struct ww_plies_maps *maps = &evaluator->maps;
    size_t plies = evaluator->table->plies;
    for (size_t p = 0; p < plies; p++) {
        struct ww_map map = ww_evaluator_map(evaluator, p, lengthening, &maps->rows[p]);
        double *kept = maps->work + (p + 1) * POSITIONS * POSITIONS;
        memcpy(kept, map.value, POSITIONS * POSITIONS * sizeof *kept);
        map.value = kept;
        maps->map[p] = map;
    }
    ww_maps_extremes(maps, plies, &evaluator->coupling, evaluator->top[0],
                     mirrors(evaluator) ? NULL : evaluator->top[1]);
    for (size_t p = 0; p < plies && mirrors(evaluator); p++)
        mirror(evaluator, p);
}

/* At `top`, of all plies. */
static void find_all(struct ww_evaluator *evaluator, double lengthening)
{
    couple(evaluator, lengthening);
    if (evaluator->coupling.count)
        find_coupled(evaluator, lengthening);
    else
        for (size_t p = 0; p < evaluator->table->plies; p++)
            find_own(evaluator, p, lengthening);
}

void ww_evaluator_reaches(struct ww_evaluator *evaluator, double lengthening, double *high, double *low)
{
    find_all(evaluator, lengthening);
    for (size_t p = 0; p < evaluator->table->plies; p++) {
        high[p] = evaluator->top[0][p].value;
        low[p] = evaluator->top[1][p].value;
    }
}

struct ww_reach ww_evaluator_reach(struct ww_evaluator *evaluator, size_t ply, double lengthening)
{
    couple(evaluator, lengthening);
    if (evaluator->coupling.count)
        find_coupled(evaluator, lengthening);
    else
        find_own(evaluator, ply, lengthening);
    return (struct ww_reach){evaluator->top[0][ply].value, evaluator->top[1][ply].value};
}

double ww_evaluator_worst(struct ww_evaluator *evaluator, double lengthening)
{
    size_t plies = evaluator->table->plies;
    find_all(evaluator, lengthening);
    double high = ww_sum_of_extremes(evaluator->top[0], plies), low = ww_sum_of_extremes(evaluator->top[1], plies);
    return evaluator->signal == WW_LEG1 ? high - low : fmax(high, 0 - low);
}

enum ww_status ww_evaluator_convert(struct ww_evaluator *evaluator, struct ww_converted *converted,
                                    struct ww_error *error)
{
    *converted = (struct ww_converted){0};
    if (!evaluator->converter)
        return WW_OK;
    for (size_t p = 0; p < evaluator->table->plies; p++)
        describe_segments(evaluator, p, 1,
                          ww_converter_segments(evaluator->converter) + p * evaluator->table->segments);
    struct ww_modes modes = ww_angle_table_modes(evaluator->table, evaluator->angle);
    return ww_converter_solve(evaluator->converter, &modes, false, converted, error);
}

double ww_evaluator_difference(const struct ww_evaluator *evaluator, size_t p, size_t segment, int m, int l)
{
    const struct ww_angle_table_ply *ply = &evaluator->table->ply[p];
    const struct segment_at *of = &evaluator->segment[p * evaluator->table->segments + segment];
    for (size_t w = 1; w < ply->harmonics; w++)
        if (ply->order[w].m == m && ply->order[w].l == l)
            return size_of(of->slowness[0][w] - of->slowness[1][w]);
    return 0;
}

struct ww_harmonic_along ww_evaluator_along(const struct ww_evaluator *evaluator, size_t p, size_t segment, size_t w)
{
    const struct ww_angle_table *table = evaluator->table;
    const struct ww_angle_table_ply *ply = &table->ply[p];
    const struct segment_at *of = &evaluator->segment[p * table->segments + segment];
    double x = ply->order[w].m / ply->lx, y = ply->order[w].l / ply->ly;
    double _Complex leg1 = of->slowness[0][w], leg2 = table->pair ? of->slowness[1][w] : leg1;
    return (struct ww_harmonic_along){x * of->ux + y * of->uy, fabs(x * of->uy - y * of->ux), 0.5 * (leg1 + leg2),
                                      leg1 - leg2};
}

/* Sum over the segments with k.u = 0 of the signal's harmonic n (m, l), by their shares of the route. */
static double _Complex constant_harmonic(const struct ww_evaluator *evaluator, size_t p, int m, int l, int n)
{
    const struct ww_angle_table *table = evaluator->table;
    const struct ww_angle_table_ply *ply = &table->ply[p];
    double kx = 2 * WW_PI * m / ply->lx, ky = 2 * WW_PI * l / ply->ly, whole = 0;
    double _Complex sum = 0;
    size_t w = 1;
    while (w < ply->harmonics && (ply->order[w].m != n * m || ply->order[w].l != n * l))
        w++;
    for (size_t i = 0; i < table->segments; i++) {
        const struct segment_at *segment = &evaluator->segment[p * table->segments + i];
        double phase = n * (kx * segment->x + ky * segment->y);
        whole += segment->length;
        if (w < ply->harmonics && fabs(kx * segment->ux + ky * segment->uy) < CONSTANT * hypot(kx, ky))
            sum += segment->length * (cos(phase) + I * sin(phase)) * signal_of(evaluator, segment, w);
    }
    if (evaluator->signal == WW_APART) {
        double x, y;
        ww_evaluator_left(evaluator, p, &x, &y);
        sum *= 1 - ww_phasor(n * evaluator->spacing * (kx * x + ky * y));
    }
    return sum / whole;
}

double ww_evaluator_growth(const struct ww_evaluator *evaluator, size_t p, int m, int l, double worth, int *harmonic)
{
    double _Complex c[MOST_ORDER + 1];
    int most = MOST_ORDER / (m > abs(l) ? m : abs(l));
    double high = -INFINITY, low = INFINITY, largest = 0, sum = 0;
    *harmonic = 1;
    for (int n = 1; n <= most; n++) {
        c[n] = constant_harmonic(evaluator, p, m, l, n);
        sum += size_of(c[n]);
        if (size_of(c[n]) > largest) {
            largest = size_of(c[n]);
            *harmonic = n;
        }
    }
    bool alone = evaluator->signal == WW_LEG1; /* of which two are anywhere */
    if (!((alone ? 4 : 2) * sum > worth))
        return 0;
    for (int i = 0; i < CONSTANT_POSITIONS; i++) {
        double value = 0;
        for (int n = 1; n <= most; n++) {
            double phase = 2 * WW_PI * n * i / CONSTANT_POSITIONS;
            value += 2 * (creal(c[n]) * cos(phase) - cimag(c[n]) * sin(phase));
        }
        high = fmax(high, value);
        low = fmin(low, value);
    }
    return alone ? high - low : fmax(high, 0 - low);
}
