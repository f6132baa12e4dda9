/* mesh.c - the grid of a cross-section.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Across, the grid is uniform, so that a sine transform diagonalises it; up, it follows the layers and the slices
 * of the cells. Copper edges lie on nodes exactly: width and pitch are whole multiples of one step. Where two typed
 * lengths have no common step coarse enough to afford, a pitch near by that has one is solved, within 5e-4 of the width,
 * and the summary says so (struct ww_line_summary.pitch). No edge moves in silence.
 *
 * Window: between two planes b apart fields fall as exp(-pi n/b), so 3 b beside the copper leaves 1e-8 of the
 * energy. Below an open top they fall as the dipole of the trace and its image, n^-2, and the window is 24 times
 * the height above the plane (plus the width) on each side and above; the air rows grow by a tenth each.
 *
 * Rows: as high as the columns are wide beside the copper. Of a trace narrower than a sixth of its distance to the plane they grow
 * by a tenth each away from the copper, up to what a trace as wide as that distance has. Such a trace takes fewer columns as
 * well: the field far from a narrow strip depends on its charge alone, and the singularity at its edges is what the
 * extrapolation over three grids (line.c) takes off. Rows of cloth are lower beside the copper, half their distance from it: a
 * yarn's face that cuts a row is averaged over it.
 */
#include "line/mesh.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define STEPS_PER_WIDTH 16.0 /* grid steps over the width of the trace, at fineness 1, */
#define STEPS_IF_NARROW 6.0  /* at least, where the width is less than 1/NARROW of the distance to the nearer plane */
#define NARROW 6.0
#define STEPS_PER_GAP 4.0 /* and over the gap of a pair */
#define CLOTH_ROW 2e-6    /* [m] height of rows of cloth right beside the copper, at fineness 1; */
#define ROWS_PER_DISTANCE 2.0
#define ROWS_PER_COPPER 2.0 /* rows over the copper's thickness, at least */
#define MOST_STEPS 400      /* more than those wanted over the width, that a common step may take */
#define COMMON_STEP_SLACK 1e-8
#define ROW_GROWTH 1.1
#define MOST_NODES ((size_t)40000000)

/* Smallest even number >= n whose factors are 2, 3 and 5. */
static size_t smooth_even(size_t n)
{
    for (size_t m = n + (n & 1);; m += 2) {
        size_t rest = m;
        for (size_t f = 2; f <= 5; f++)
            while (rest % f == 0)
                rest /= f;
        if (rest == 1)
            return m;
    }
}

/* By how much the pitch misses a whole number of steps, `steps` of them over the width: a share of the width. */
static double miss_of(double ratio, size_t steps)
{
    return fabs(ratio * (double)steps - round(ratio * (double)steps)) / (double)steps;
}

/* The middle of the pair must be a node. */
static bool has_middle(double ratio, size_t steps)
{
    return (steps + (size_t)round(ratio * (double)steps)) % 2 == 0;
}

/* At least `least` steps over the width, of which the pitch is a whole number but for rounding: where a common step is no
 * finer than width/exact, or no more than twice as many are wanted. Else 0. */
static size_t exact_steps(double ratio, size_t least, size_t exact)
{
    for (size_t common = 1; common <= exact || common <= 2 * least; common++) {
        if (miss_of(ratio, common) > COMMON_STEP_SLACK)
            continue;
        size_t steps = common * ((least + common - 1) / common);
        if (!has_middle(ratio, steps))
            steps += common;
        return common <= exact || steps <= 2 * least ? steps : 0;
    }
    return 0;
}

/* The fewest steps over the width from least to most that miss by at most `miss`; 0 where there are none. */
static size_t fewest_steps(double ratio, size_t least, size_t most, double miss)
{
    for (size_t steps = least; steps <= most; steps++)
        if (has_middle(ratio, steps) && miss_of(ratio, steps) <= miss)
            return steps;
    return 0;
}

/* Steps over the width (*n) and over the pitch (*m), of at most `step` each. */
static enum ww_status common_step(const struct ww_trace *trace, double step, struct ww_mesh_options options,
                                  size_t *n, size_t *m, struct ww_error *error)
{
    if (trace->pitch == 0) {
        *n = 2 * (size_t)ceil(0.5 * trace->width / step);
        *m = 0;
        return WW_OK;
    }
    double ratio = trace->pitch / trace->width, wanted = ceil(trace->width / step - COMMON_STEP_SLACK);
    if (!(ratio * wanted < (double)MOST_NODES))
        return ww_error_set(
            error, WW_INVALID, NULL, 0,
            "a grid step of %.3g um over a pitch of %.6g um is too fine (limit %zu nodes): give a wider "
            "trace or gap, thinner layers or a lower fineness",
            step * 1e6, trace->pitch * 1e6, MOST_NODES);
    size_t least = wanted < 1 ? 1 : (size_t)wanted;
    *n = exact_steps(ratio, least, options.exact);
    if (*n == 0)
        *n = fewest_steps(ratio, least, least + MOST_STEPS, options.miss);
    *m = (size_t)round(ratio * (double)*n);
    if (*n > 0)
        return WW_OK;
    return ww_error_set(
        error, WW_UNPHYSICAL, NULL, 0,
        "width %.6g um and pitch %.6g um have no common grid step near %.3g um: give a pitch that is a "
        "whole multiple of a tenth of the width",
        trace->width * 1e6, trace->pitch * 1e6, step * 1e6);
}

static enum ww_status check_trace(const struct ww_trace *trace, struct ww_error *error)
{
    if (!(trace->width > 0 && trace->width <= 0.02))
        return ww_error_set(error, WW_INVALID, NULL, 0, "trace width %.6g um is outside (0, 20000] um",
                            trace->width * 1e6);
    if (!(trace->thickness >= 0 && trace->thickness <= 0.001))
        return ww_error_set(error, WW_INVALID, NULL, 0, "trace thickness %.6g um is outside [0, 1000] um",
                            trace->thickness * 1e6);
    if (!(trace->pitch >= 0 && trace->pitch <= 0.02))
        return ww_error_set(error, WW_INVALID, NULL, 0, "pair pitch %.6g um is outside [0, 20000] um",
                            trace->pitch * 1e6);
    if (trace->pitch > 0 && trace->pitch <= trace->width)
        return ww_error_set(error, WW_UNPHYSICAL, NULL, 0,
                            "the legs overlap: pitch %.6g um, centre to centre, must exceed the width %.6g um",
                            trace->pitch * 1e6, trace->width * 1e6);
    return WW_OK;
}

/* Appends `count` rows of equal height; the array has room. */
static void append_rows(struct ww_mesh *mesh, size_t count, double height, double _Complex eps_z,
                        double _Complex eps_n, size_t ply, size_t slice)
{
    for (size_t i = 0; i < count; i++)
        mesh->row[mesh->rows++] = (struct ww_row){height / (double)count, eps_z, eps_n, ply, slice};
}

static size_t rows_for(double height, double target)
{
    size_t count = (size_t)ceil(height / target - 1e-9);
    return count ? count : 1;
}

/* Heights of rows [m] by their distance from the copper: `target` beside it, `most` far away; of rows of cloth `cloth` beside
 * it. */
struct grading {
    double bottom, top; /* of the copper, from the lower plane up */
    double target, most, cloth, fineness;
};

static double height_at(const struct grading *grading, double distance)
{
    return fmax(grading->target, fmin(grading->most, grading->target + (ROW_GROWTH - 1) * distance));
}

static double cloth_height_at(const struct grading *grading, double distance)
{
    return fmin(height_at(grading, distance),
                fmax(grading->cloth, distance / (ROWS_PER_DISTANCE * grading->fineness)));
}

/* How far the nearer face of what lies from z up by `height` is from the copper; rounding is no distance. */
static double distance(const struct grading *grading, double z, double height)
{
    double away = fmax(grading->bottom - (z + height), z - grading->top);
    return away > 1e-12 ? away : 0;
}

/* Rows of one dielectric that grow away from the copper. */
static void append_graded(struct ww_mesh *mesh, const struct grading *grading, double z, double height,
                          double _Complex eps)
{
    double near = distance(grading, z, height), sum = 0;
    size_t count = 0, first = mesh->rows;
    bool below = z + 0.5 * height < grading->bottom;
    if (!(grading->most > grading->target)) {
        append_rows(mesh, rows_for(height, grading->target), height, eps, eps, WW_NO_PLY, 0);
        return;
    }
    for (; sum < height * (1 - 1e-9); count++)
        sum += height_at(grading, near + sum);
    mesh->rows += count;
    double scale = height / sum;
    sum = 0;
    for (size_t i = 0; i < count; i++) {
        double dz = height_at(grading, near + sum);
        mesh->row[below ? first + count - 1 - i : first + i] = (struct ww_row){scale * dz, eps, eps, WW_NO_PLY, 0};
        sum += dz;
    }
}

/* Rows of a ply: resin below, the fabric's slices, resin above. eps_n is the mean over all directions of travel. */
static void append_ply(struct ww_mesh *mesh, const struct ww_ply *ply, size_t index, const struct grading *grading,
                       double z)
{
    const struct ww_cell *cell = &ply->cell;
    double below = fmax(ply->cloth_height - 0.5 * cell->thickness, 0); /* of resin */
    double above = fmax(ply->thickness - ply->cloth_height - 0.5 * cell->thickness, 0);
    double slice_height = cell->thickness / (double)cell->nz;
    size_t samples = cell->nx * cell->ny;

    if (below > 1e-12)
        append_graded(mesh, grading, z, below, ply->eps_resin);
    z += below;
    for (size_t s = 0; s < cell->nz; s++) {
        double warp = 0, fill = 0;
        for (size_t i = 0; i < samples; i++) {
            warp += cell->warp[s * samples + i];
            fill += cell->fill[s * samples + i];
        }
        warp /= (double)samples;
        fill /= (double)samples;
        double _Complex resin = (1 - warp - fill) * ply->eps_resin;
        double _Complex eps_z = resin + warp * ply->warp_t + fill * ply->fill_t;
        double _Complex eps_n =
            resin + 0.5 * warp * (ply->warp_t + ply->warp_a) + 0.5 * fill * (ply->fill_t + ply->fill_a);
        append_rows(mesh, rows_for(slice_height, cloth_height_at(grading, distance(grading, z, slice_height))),
                    slice_height, eps_z, eps_n, index, s);
        z += slice_height;
    }
    if (above > 1e-12)
        append_graded(mesh, grading, z, above, ply->eps_resin);
}

/* What fills the space beside the copper: air or mask where that lies on top of it, else the laminate's resin. */
static double _Complex beside_copper(const struct ww_stack *stack, size_t trace_layer)
{
    const struct ww_layer *above = &stack->layer[trace_layer - 1];
    if (above->kind == WW_LAYER_AIR)
        return 1;
    if (above->kind == WW_LAYER_MASK)
        return ww_permittivity(above->dk, above->df);
    return ww_permittivity(stack->layer[trace_layer].dk, stack->layer[trace_layer].df);
}

struct heights {
    size_t trace_layer;
    double below, above; /* dielectric between copper and planes [m] */
    bool open;
};

static struct heights measure(const struct ww_stack *stack)
{
    struct heights h = {0};
    for (size_t i = 0; i < stack->count; i++)
        if (stack->layer[i].kind == WW_LAYER_TRACE)
            h.trace_layer = i;
    for (size_t i = 0; i < stack->count; i++) {
        double thickness = stack->layer[i].kind == WW_LAYER_AIR ? 0 : stack->layer[i].thickness;
        *(i < h.trace_layer ? &h.above : &h.below) += i == h.trace_layer ? 0 : thickness;
    }
    h.open = stack->layer[0].kind == WW_LAYER_AIR;
    return h;
}

/* The kernel weighs every harmonic of the cloth (harmonics.c), and a grid carries wave numbers below 2 pi/step there. It matters to
 * traces that are wide against the cloth. */
static double step_for_cloth(const struct ww_stack *stack)
{
    double k_most = 0;
    for (size_t i = 0; i < stack->plies; i++) {
        const struct ww_cell *cell = &stack->ply[i].cell;
        k_most = fmax(k_most, 2 * WW_PI * hypot((double)cell->nx / 3 / cell->lx, (double)cell->ny / 3 / cell->ly));
    }
    return k_most > 0 ? 2 * WW_PI / k_most : INFINITY;
}

static double nearest_plane(const struct heights *h)
{
    return h->open || h->below < h->above ? h->below : h->above;
}

/* The step that the copper, the gap and the distance to the nearer plane ask for. */
static double step_wanted(const struct ww_stack *stack, const struct ww_trace *trace, const struct heights *h,
                          double fineness, struct ww_mesh_options options)
{
    double nearest = nearest_plane(h);
    double steps = fmax(STEPS_IF_NARROW, STEPS_PER_WIDTH * fmin(1, NARROW * trace->width / nearest));
    double target = fmin(trace->width / steps, nearest / options.height);
    if (trace->pitch > 0)
        target = fmin(target, (trace->pitch - trace->width) / STEPS_PER_GAP);
    return fmin(target / fineness, options.cloth * step_for_cloth(stack));
}

/* Columns: step, legs, and how far the window reaches beside the copper (*margin). */
static enum ww_status lay_columns(struct ww_mesh *mesh, const struct ww_trace *trace, const struct heights *h,
                                  double target, struct ww_mesh_options options, double *margin,
                                  struct ww_error *error)
{
    size_t over_pitch = 0;
    enum ww_status status = common_step(trace, target, options, &mesh->span, &over_pitch, error);
    if (status)
        return status;
    mesh->pair = trace->pitch > 0;
    mesh->step = trace->width / (double)mesh->span;
    double between = h->below + h->above + trace->thickness;
    *margin = h->open ? options.open * (between + 0.5 * trace->width) : options.closed * between;
    if (!(*margin / mesh->step <
          (double)MOST_NODES)) /* before a smooth number is sought: they are far between there */
        return ww_error_set(error, WW_INVALID, NULL, 0,
                            "a grid step of %.3g um in a cross-section %.6g um high is too fine (limit %zu nodes): "
                            "give a wider trace or gap, thinner layers or a lower fineness",
                            mesh->step * 1e6, between * 1e6, MOST_NODES);
    mesh->columns = smooth_even(mesh->span + over_pitch + 2 * (size_t)ceil(*margin / mesh->step));
    mesh->first = (mesh->columns + over_pitch - mesh->span) / 2;
    return WW_OK;
}

static size_t count_air_rows(const struct heights *h, double target, double margin)
{
    size_t count = 0;
    if (h->open)
        for (double height = 0, dz = target; height < margin; height += dz, dz *= ROW_GROWTH)
            count++;
    return count;
}

/* Room for the rows, at most as many as rows of these heights make. */
static enum ww_status make_room(struct ww_mesh *mesh, const struct ww_stack *stack, const struct ww_trace *trace,
                                double copper_target, double cloth, size_t air_rows, struct ww_error *error)
{
    size_t most = air_rows + 4 * stack->count + (size_t)fmin(trace->thickness / copper_target, 1e7);
    for (size_t i = 0; i < stack->count; i++)
        if (stack->layer[i].kind != WW_LAYER_AIR && stack->layer[i].kind != WW_LAYER_PLANE)
            most += (size_t)fmin(stack->layer[i].thickness / copper_target, 1e7) + 8;
    for (size_t i = 0; i < stack->plies; i++)
        most += 2 * stack->ply[i].cell.nz + (size_t)fmin(stack->ply[i].cell.thickness / cloth, 1e7);
    mesh->row = calloc(most, sizeof *mesh->row);
    if (!mesh->row)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a grid of %zu rows", most);
    return WW_OK;
}

static enum ww_status check_nodes(const struct ww_mesh *mesh, struct ww_error *error)
{
    if (mesh->columns > MOST_NODES / (mesh->rows + 1))
        return ww_error_set(error, WW_INVALID, NULL, 0,
                            "the cross-section needs a grid of %zu by %zu nodes (limit %zu in all): give a wider "
                            "trace or gap, thinner layers or a lower fineness",
                            mesh->columns, mesh->rows, MOST_NODES);
    return WW_OK;
}

/* Rows of every layer from the lower plane up. */
static void lay_rows(struct ww_mesh *mesh, const struct ww_stack *stack, const struct ww_trace *trace,
                     const struct grading *grading, double copper_target, size_t air_rows)
{
    double z = 0;
    size_t ply = stack->plies;
    for (size_t i = stack->count; i-- > 0;) {
        const struct ww_layer *layer = &stack->layer[i];
        double _Complex eps = ww_permittivity(layer->dk, layer->df);
        switch (layer->kind) {
        case WW_LAYER_PLANE:
        case WW_LAYER_AIR:
            break;
        case WW_LAYER_PLY:
            ply--;
            append_ply(mesh, &stack->ply[ply], ply, grading, z);
            z += layer->thickness;
            break;
        case WW_LAYER_TRACE:
            mesh->bottom = mesh->rows;
            eps = beside_copper(stack, i);
            if (trace->thickness > 0)
                append_rows(mesh, rows_for(trace->thickness, copper_target), trace->thickness, eps, eps, WW_NO_PLY,
                            0);
            mesh->top = mesh->rows;
            z = grading->top;
            break;
        case WW_LAYER_RESIN:
        case WW_LAYER_SOLID:
        case WW_LAYER_MASK:
            append_graded(mesh, grading, z, layer->thickness, eps);
            z += layer->thickness;
            break;
        }
    }
    double dz = grading->target;
    for (size_t i = 0; i < air_rows; i++, dz *= ROW_GROWTH)
        append_rows(mesh, 1, dz, 1, 1, WW_NO_PLY, 0);
}

enum ww_status ww_mesh_build_in(struct ww_mesh *mesh, const struct ww_stack *stack, const struct ww_trace *trace,
                                double fineness, struct ww_mesh_options options, struct ww_error *error)
{
    memset(mesh, 0, sizeof *mesh);
    enum ww_status status = check_trace(trace, error);
    if (status)
        return status;
    fineness = fineness > 0 ? fineness : 1;
    struct heights h = measure(stack);
    double target = step_wanted(stack, trace, &h, fineness, options), copper_target = target, margin = 0;
    if (trace->thickness > 0)
        copper_target = fmin(target, trace->thickness / (ROWS_PER_COPPER * fineness));
    bool narrow = NARROW * trace->width < nearest_plane(&h);
    const struct grading grading = {.bottom = h.below,
                                    .top = h.below + trace->thickness,
                                    .target = target,
                                    .most = narrow ? nearest_plane(&h) / (STEPS_PER_WIDTH * fineness) : target,
                                    .cloth = CLOTH_ROW / fineness,
                                    .fineness = fineness};
    status = lay_columns(mesh, trace, &h, target, options, &margin, error);
    size_t air_rows = status ? 0 : count_air_rows(&h, target, margin);
    if (!status)
        status = make_room(mesh, stack, trace, copper_target, grading.cloth, air_rows, error);
    if (!status) {
        lay_rows(mesh, stack, trace, &grading, copper_target, air_rows);
        status = check_nodes(mesh, error);
    }
    if (status)
        ww_mesh_clear(mesh);
    return status;
}

enum ww_status ww_mesh_build(struct ww_mesh *mesh, const struct ww_stack *stack, const struct ww_trace *trace,
                             double fineness, struct ww_error *error)
{
    return ww_mesh_build_in(mesh, stack, trace, fineness, WW_WHOLE_MESH, error);
}

enum ww_status ww_mesh_refine(const struct ww_mesh *mesh, struct ww_mesh *fine, struct ww_error *error)
{
    *fine = *mesh;
    fine->row = calloc(2 * mesh->rows, sizeof *fine->row);
    if (!fine->row) {
        memset(fine, 0, sizeof *fine);
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a grid of %zu rows", 2 * mesh->rows);
    }
    for (size_t i = 0; i < 2 * mesh->rows; i++) {
        fine->row[i] = mesh->row[i / 2];
        fine->row[i].dz *= 0.5;
    }
    fine->step *= 0.5;
    fine->rows *= 2;
    fine->columns *= 2;
    fine->bottom *= 2;
    fine->top *= 2;
    fine->first *= 2;
    fine->span *= 2;
    return WW_OK;
}

enum ww_status ww_mesh_copy(const struct ww_mesh *mesh, struct ww_mesh *copy, struct ww_error *error)
{
    *copy = *mesh;
    copy->row = calloc(mesh->rows, sizeof *copy->row);
    if (!copy->row) {
        memset(copy, 0, sizeof *copy);
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a grid of %zu rows", mesh->rows);
    }
    memcpy(copy->row, mesh->row, mesh->rows * sizeof *copy->row);
    return WW_OK;
}

void ww_mesh_clear(struct ww_mesh *mesh)
{
    free(mesh->row);
    memset(mesh, 0, sizeof *mesh);
}
