/* line.c - from a stackup and a trace to impedance, effective Dk, and the kernels.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Grid error: at a copper edge the charge is singular, and the capacitance of the grid is too high by about h^(1) for a
 * foil and h^(4/3) for a square corner. The background is solved on three grids, each half the step of the last, and
 * extrapolated with the ratio of change that they show (Aitken). Where a pair's common step is fine already, two
 * grids and the ratio of a foil do. Dk, the ratio of two capacitances with the same edges, hardly moves.
 *
 * The loss tangent is lost over stored energy. The lost one converges by a ratio of its own, the slope of the capacitance with the
 * permittivities, so it is extrapolated as the capacitances are.
 *
 * What the cloth changes does: the weights E.E near an edge are off as the capacitance is, several per cent where cloth lies
 * close under a wide trace. So the kernels are extrapolated too, over the last two grids, all weights and capacitances by
 * one ratio, that of the driven mode: their sum over the background stays its capacitance. Full solutions are found on the
 * last but one of the grids.
 */
#include "line/line.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define MOST_GRIDS 3
#define FOIL 2.0                       /* ratio of changes: error as the step */
#define SMOOTH 4.0                     /* as its square */
#define FINE_ALREADY 100               /* steps over the width of the coarsest grid, beyond which two grids do */
#define MOST_FINEST ((size_t)64000000) /* nodes of the finest grid */

/* Options of a single grid. Window: section less kernel in it differs from that in the whole window
 * by at most 5e-6 of the largest local skew in stripline and 8e-5 in microstrip (1080, 2116, 7628, 1017, 2113, at 30 deg);
 * at 1.5 and 4 by 2e-5 and 1.6e-4. Steps over the height: those of a wide trace over thick cloth are too wide by its width
 * alone. The share of the step that carries the cloth: on wider ones the lattice of the correction sees where yarn edges lie to the
 * grid (DEVELOPERS.md, Resolution). */
static const struct ww_mesh_options SINGLE = {2, 6, 0, 0.02, 12, 0.5};

/* One grid: what is found on it. */
struct grid {
    struct ww_mesh mesh;
    struct ww_capacitances modes;
    struct ww_background fields;
    double lost; /* capacitance of the driven mode times its loss tangent */
};

static void grid_clear(struct grid *grid)
{
    ww_mesh_clear(&grid->mesh);
    ww_background_clear(&grid->fields);
}

/* Sum over the rows of energy times loss, in capacitance: of the grid's own operator, so its slope with the permittivities. */
static double lost_in(const struct ww_mesh *mesh, const struct ww_background *fields)
{
    const double *potential = mesh->pair ? fields->odd : fields->even;
    double stored = 0, lost = 0;
    for (size_t r = 0; r < mesh->rows; r++) {
        struct ww_row_energy energy = ww_background_energy(mesh, potential, r);
        stored += creal(mesh->row[r].eps_z) * energy.z + creal(mesh->row[r].eps_n) * energy.n;
        lost -= cimag(mesh->row[r].eps_z) * energy.z + cimag(mesh->row[r].eps_n) * energy.n;
    }
    return (mesh->pair ? fields->c_odd : fields->c_even) * lost / stored;
}

static enum ww_status solve_grid(struct grid *grid, struct ww_error *error)
{
    struct ww_background without = {0};
    enum ww_status status = ww_background_solve(&grid->fields, &grid->mesh, false, true, error);
    if (!status)
        status = ww_background_solve(&without, &grid->mesh, true, false, error);
    grid->modes = (struct ww_capacitances){.c_even = grid->fields.c_even,
                                           .c_odd = grid->fields.c_odd,
                                           .ca_even = without.c_even,
                                           .ca_odd = without.c_odd};
    if (!status)
        grid->lost = lost_in(&grid->mesh, &grid->fields);
    ww_background_clear(&without);
    return status;
}

static double impedance(double c, double ca)
{
    return WW_ETA0 / sqrt(c * ca);
}

static void fill_matrix(double matrix[2][2], double even, double odd, bool pair)
{
    matrix[0][0] = WW_EPS0 * (pair ? 0.5 * (even + odd) : even);
    if (!pair)
        return;
    matrix[1][1] = matrix[0][0];
    matrix[0][1] = matrix[1][0] = WW_EPS0 * 0.5 * (even - odd);
}

/* By what the change of a value falls from one halving of the grid to the next, values[0] on the coarsest: what three grids
 * show, from that of a foil's edge to that of a smooth field. */
static double ratio_of(const double *values, size_t grids)
{
    if (grids < 3)
        return FOIL;
    double change = values[grids - 2] - values[grids - 1];
    return change != 0 ? fmin(fmax((values[grids - 3] - values[grids - 2]) / change, FOIL), SMOOTH) : FOIL;
}

/* Limit of a sequence whose last two values are these. */
static double limit_of(double coarse, double fine, double ratio)
{
    return fine + (fine - coarse) / (ratio - 1);
}

static double mode_of(const struct ww_capacitances *modes, size_t which)
{
    return (const double[]){modes->c_even, modes->c_odd, modes->ca_even, modes->ca_odd}[which];
}

/* Limit by a sequence's own ratio. Of one grid its own value. */
static double extrapolate_values(const double *values, size_t grids)
{
    return grids > 1 ? limit_of(values[grids - 2], values[grids - 1], ratio_of(values, grids)) : values[0];
}

static double extrapolate_mode(const struct grid *grid, size_t grids, size_t which)
{
    double values[MOST_GRIDS];
    for (size_t g = 0; g < grids; g++)
        values[g] = mode_of(&grid[g].modes, which);
    return extrapolate_values(values, grids);
}

static double extrapolate_lost(const struct grid *grid, size_t grids)
{
    double values[MOST_GRIDS];
    for (size_t g = 0; g < grids; g++)
        values[g] = grid[g].lost;
    return extrapolate_values(values, grids);
}

static double dk_of(const struct ww_capacitances *modes, bool pair)
{
    return pair ? modes->c_odd / modes->ca_odd : modes->c_even / modes->ca_even;
}

/* grid[grids], coarsest first; `used` is the one the full solutions are on. */
static void summarise(struct ww_line *line, const struct grid *grid, size_t grids, const struct ww_capacitances *used)
{
    struct ww_line_summary *s = &line->summary;
    bool pair = line->mesh.pair;
    double c_even = extrapolate_mode(grid, grids, 0), c_odd = extrapolate_mode(grid, grids, 1);
    double ca_even = extrapolate_mode(grid, grids, 2), ca_odd = extrapolate_mode(grid, grids, 3);
    double dk_even = c_even / ca_even, z_even = impedance(c_even, ca_even);
    double z_grid = impedance(used->c_even, used->ca_even);
    s->dk_eff = dk_even;
    s->z0 = z_even;
    if (pair) {
        s->dk_even = dk_even;
        s->z_even = z_even;
        s->dk_odd = s->dk_eff = c_odd / ca_odd;
        s->z_odd = impedance(c_odd, ca_odd);
        s->z_diff = 2 * s->z_odd;
        s->z_common = 0.5 * s->z_even;
        s->z0 = sqrt(s->z_odd * s->z_even);
        z_grid = sqrt(z_grid * impedance(used->c_odd, used->ca_odd));
    }
    s->df_eff = extrapolate_lost(grid, grids) / (pair ? c_odd : c_even);
    s->delay = sqrt(s->dk_eff) / WW_C0;
    fill_matrix(s->c, c_even, c_odd, pair);
    fill_matrix(s->ca, ca_even, ca_odd, pair);
    s->z0_grid_change = fabs(z_grid / s->z0 - 1);
    s->dk_grid_change = fabs(dk_of(used, pair) / s->dk_eff - 1);
    s->pitch = pair ? (double)(2 * line->mesh.first + line->mesh.span - line->mesh.columns) * line->mesh.step : 0;
    s->step = line->mesh.step;
    s->columns = line->mesh.columns;
    s->rows = line->mesh.rows;
}

/* Of a coarsest mesh how many are solved, each half the step of the last. */
static size_t grids_of(const struct ww_mesh *coarsest)
{
    return coarsest->span <= FINE_ALREADY ? MOST_GRIDS : MOST_GRIDS - 1;
}

/* Nodes of the finest across and up. */
static void finest_of(const struct ww_mesh *coarsest, size_t grids, size_t *columns, size_t *rows)
{
    size_t times = (size_t)1 << (grids - 1);
    *columns = times * coarsest->columns;
    *rows = times * coarsest->rows;
}

/* What a solution of the finest grid would take: 64 million nodes are some 15 s and 2.5 GB. */
static enum ww_status check_finest(const struct ww_mesh *mesh, size_t grids, struct ww_error *error)
{
    size_t columns, rows;
    finest_of(mesh, grids, &columns, &rows);
    if (rows == 0 || columns <= MOST_FINEST / rows)
        return WW_OK;
    return ww_error_set(
        error, WW_INVALID, NULL, 0,
        "the cross-section needs a grid of %zu by %zu nodes (limit %zu in all): give a wider trace or "
        "gap, thinner layers or a lower fineness",
        columns, rows, MOST_FINEST);
}

/* Builds and solves all grids, each half the step of the last. */
static enum ww_status solve_grids(const struct ww_line *line, struct grid grid[MOST_GRIDS], size_t *grids,
                                  struct ww_error *error)
{
    enum ww_status status = ww_mesh_build(&grid[0].mesh, line->stack, &line->trace, line->fineness, error);
    *grids = grids_of(&grid[0].mesh);
    if (!status)
        status = check_finest(&grid[0].mesh, *grids, error);
    for (size_t g = 0; g < *grids && !status; g++) {
        if (g > 0)
            status = ww_mesh_refine(&grid[g - 1].mesh, &grid[g].mesh, error);
        if (!status)
            status = solve_grid(&grid[g], error);
    }
    return status;
}

/* One grid: that of another line, the same refined, or one of its own in a narrow window. */
struct one_grid {
    const struct ww_line *as; /* NULL: its own */
    bool refined, bare;       /* bare: without kernels */
};

static enum ww_status solve_one_grid(const struct ww_line *line, const struct one_grid *one, struct grid *grid,
                                     struct ww_error *error)
{
    enum ww_status status =
        !one->as       ? ww_mesh_build_in(&grid->mesh, line->stack, &line->trace, line->fineness, SINGLE, error)
        : one->refined ? ww_mesh_refine(&one->as->mesh, &grid->mesh, error)
                       : ww_mesh_copy(&one->as->mesh, &grid->mesh, error);
    if (!status)
        status = check_finest(&grid->mesh, 1, error);
    return status ? status : solve_grid(grid, error);
}

/* The kernel of one ply, extrapolated over the last two grids; of one grid as full solutions on it have it. */
static enum ww_status solve_kernel(struct ww_line *line, size_t ply, const struct grid *grid, size_t grids,
                                   double ratio, struct ww_error *error)
{
    const struct grid *used = &grid[grids > 1 ? grids - 2 : 0];
    struct ww_kernel finer = {0};
    enum ww_status status = ww_harmonics_build(&line->harmonics[ply], &line->stack->ply[ply], error);
    double q_most = line->harmonics[ply].k_most;
    if (!status)
        status = ww_kernel_build(&line->kernel[ply], &used->mesh, &used->fields, line->stack, ply, q_most, error);
    if (!status && grids == 1)
        ww_kernel_over_steps(&line->kernel[ply], used->mesh.step);
    if (!status && grids > 1) {
        status =
            ww_kernel_build(&finer, &grid[grids - 1].mesh, &grid[grids - 1].fields, line->stack, ply, q_most, error);
        if (!status)
            ww_kernel_extrapolate(&line->kernel[ply], &finer, ratio);
        ww_kernel_clear(&finer);
    }
    return status;
}

/* Capacitances and kernels of one ratio, that of the driven mode: the background's capacitance stays the sum of the weights. */
static enum ww_status extrapolate(struct ww_line *line, struct grid *grid, size_t grids, struct ww_error *error)
{
    struct grid *used = &grid[grids > 1 ? grids - 2 : 0];
    bool pair = used->mesh.pair;
    double values[MOST_GRIDS], ratio;
    for (size_t g = 0; g < grids; g++)
        values[g] = mode_of(&grid[g].modes, pair);
    ratio = line->ratio = ratio_of(values, grids);
    line->grid = line->limit = used->modes;
    if (grids > 1) {
        const struct ww_capacitances *a = &used->modes, *b = &grid[grids - 1].modes;
        line->limit = (struct ww_capacitances){.c_even = limit_of(a->c_even, b->c_even, ratio),
                                               .c_odd = limit_of(a->c_odd, b->c_odd, ratio),
                                               .ca_even = limit_of(a->ca_even, b->ca_even, ratio),
                                               .ca_odd = limit_of(a->ca_odd, b->ca_odd, ratio)};
    }
    enum ww_status status = WW_OK;
    for (size_t p = 0; p < line->stack->plies && !status; p++)
        status = line->bare ? ww_harmonics_of_mean(&line->harmonics[p], &line->stack->ply[p], error)
                            : solve_kernel(line, p, grid, grids, ratio, error);
    if (status)
        return status;
    line->mesh = used->mesh;
    used->mesh = (struct ww_mesh){0};
    summarise(line, grid, grids, &used->modes);
    line->grid.dk_correction = line->summary.dk_eff / dk_of(&line->grid, pair);
    line->limit.dk_correction = line->summary.dk_eff / dk_of(&line->limit, pair);
    ww_line_disperse(line, pair ? used->fields.odd : used->fields.even);
    if (grids == 1) {
        line->fields = used->fields;
        used->fields = (struct ww_background){0};
    }
    return WW_OK;
}

/* one: on one grid alone; NULL: on all and their limit. */
static enum ww_status create(struct ww_line **out, const struct ww_stack *stack, const struct ww_trace *trace,
                             const struct ww_line_options *options, const struct one_grid *one,
                             struct ww_error *error)
{
    *out = NULL;
    struct grid grid[MOST_GRIDS] = {0};
    size_t grids = 1;
    struct ww_line *line = calloc(1, sizeof *line);
    enum ww_status status = WW_OK;
    if (!line)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a line");
    line->stack = stack;
    line->trace = *trace;
    line->fineness = options->fineness > 0 ? options->fineness : 1;
    line->bare = one && one->bare;
    line->summary.dispersion.frequency = options->frequency;
    line->kernel = calloc(stack->plies ? stack->plies : 1, sizeof *line->kernel);
    line->harmonics = calloc(stack->plies ? stack->plies : 1, sizeof *line->harmonics);
    if (!line->kernel || !line->harmonics) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", stack->plies);
        goto done;
    }
    for (size_t p = 0; p < stack->plies; p++)
        if (stack->ply[p].cell.nz > WW_MOST_SLICES) {
            status = ww_error_set(error, WW_INVALID, NULL, 0, "a cell of %zu slices (limit %d)",
                                  stack->ply[p].cell.nz, WW_MOST_SLICES);
            goto done;
        }
    status = one ? solve_one_grid(line, one, grid, error) : solve_grids(line, grid, &grids, error);
    if (!status)
        status = extrapolate(line, grid, grids, error);
done:
    for (size_t g = 0; g < MOST_GRIDS; g++)
        grid_clear(&grid[g]);
    if (status)
        ww_line_destroy(line);
    else
        *out = line;
    return status;
}

enum ww_status ww_line_nodes(size_t *nodes, const struct ww_stack *stack, const struct ww_trace *trace,
                             double fineness, struct ww_error *error)
{
    struct ww_mesh mesh = {0};
    size_t columns = 0, rows = 0;
    enum ww_status status = ww_mesh_build(&mesh, stack, trace, fineness > 0 ? fineness : 1, error);
    if (!status)
        finest_of(&mesh, grids_of(&mesh), &columns, &rows);
    *nodes = columns * rows;
    ww_mesh_clear(&mesh);
    return status;
}

enum ww_status ww_line_create(struct ww_line **line, const struct ww_stack *stack, const struct ww_trace *trace,
                              const struct ww_line_options *options, struct ww_error *error)
{
    static const struct ww_line_options none = {0};
    return create(line, stack, trace, options ? options : &none, NULL, error);
}

enum ww_status ww_line_create_single(struct ww_line **line, const struct ww_stack *stack,
                                     const struct ww_trace *trace, const struct ww_line_options *options,
                                     struct ww_error *error)
{
    return create(line, stack, trace, options, &(struct one_grid){0}, error);
}

enum ww_status ww_line_create_bare(struct ww_line **line, const struct ww_stack *stack, const struct ww_trace *trace,
                                   const struct ww_line_options *options, struct ww_error *error)
{
    return create(line, stack, trace, options, &(struct one_grid){.bare = true}, error);
}

enum ww_status ww_line_create_refined(struct ww_line **out, const struct ww_line *line, struct ww_error *error)
{
    const struct ww_line_options options = {.fineness = 2 * line->fineness};
    return create(out, line->stack, &line->trace, &options, &(struct one_grid){line, true, line->bare}, error);
}

enum ww_status ww_line_create_on_grid(struct ww_line **out, const struct ww_line *line, struct ww_error *error)
{
    const struct ww_line_options options = {.fineness = line->fineness};
    enum ww_status status = create(out, line->stack, &line->trace, &options, &(struct one_grid){.as = line}, error);
    if (status)
        return status;
    (*out)->summary = line->summary;
    (*out)->static_dk = line->static_dk;
    (*out)->static_dk_even = line->static_dk_even;
    (*out)->substrate_share = line->substrate_share;
    (*out)->grid = (*out)->limit = line->grid;
    return WW_OK;
}

void ww_line_destroy(struct ww_line *line)
{
    if (!line)
        return;
    for (size_t p = 0; p < line->stack->plies; p++) {
        if (line->kernel)
            ww_kernel_clear(&line->kernel[p]);
        if (line->harmonics)
            ww_harmonics_clear(&line->harmonics[p]);
    }
    free(line->kernel);
    free(line->harmonics);
    ww_background_clear(&line->fields);
    ww_mesh_clear(&line->mesh);
    free(line);
}

const struct ww_line_summary *ww_line_summary(const struct ww_line *line)
{
    return &line->summary;
}

const struct ww_trace *ww_line_trace(const struct ww_line *line)
{
    return &line->trace;
}

const struct ww_stack *ww_line_stack(const struct ww_line *line)
{
    return line->stack;
}
