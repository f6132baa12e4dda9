/* line.c - from a stackup and a trace to impedance, effective Dk, and the change of capacitance with the cloth.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Grid error: at a copper edge the charge is singular, and the capacitance of the grid is too high by about h^(1) for a
 * foil and h^(4/3) for a square corner. The background is solved on three grids, each half the step of the last, and
 * extrapolated with the ratio of change that they show (Aitken). Where a pair's common step is fine already, two
 * grids and the ratio of a foil do. Dk, the ratio of two capacitances with the same edges, hardly moves.
 */
#include "line/line.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define MOST_SLICES 256
#define MOST_GRIDS 3
#define FINE_ALREADY 100               /* steps over the width of the coarsest grid, beyond which two grids do */
#define MOST_FINEST ((size_t)64000000) /* nodes of the finest grid */

/* Options of a single grid. Window: section less kernel in it differs from that in the whole window
 * by at most 5e-6 of the largest local skew in stripline and 8e-5 in microstrip (1080, 2116, 7628, 1017, 2113, at 30 deg);
 * at 1.5 and 4 by 2e-5 and 1.6e-4. */
static const struct ww_mesh_options SINGLE = {2, 6, 0, 0.02};

/* Of one grid: even, odd with the dielectric and in vacuum. */
struct modes {
    double c_even, c_odd, ca_even, ca_odd;
};

static enum ww_status solve_modes(const struct ww_mesh *mesh, struct modes *modes, struct ww_background *fields,
                                  struct ww_error *error)
{
    struct ww_background with = {0}, without = {0};
    enum ww_status status = ww_background_solve(&with, mesh, false, fields != NULL, error);
    if (!status)
        status = ww_background_solve(&without, mesh, true, false, error);
    *modes = (struct modes){with.c_even, with.c_odd, without.c_even, without.c_odd};
    ww_background_clear(&without);
    if (fields && !status)
        *fields = with;
    else
        ww_background_clear(&with);
    return status;
}

static double impedance(double c, double ca)
{
    return WW_ETA0 / sqrt(c * ca);
}

/* Loss tangent of the driven mode: share of each row's energy times its loss. */
static double loss_tangent(const struct ww_mesh *mesh, const double *potential)
{
    double stored = 0, lost = 0;
    for (size_t r = 0; r < mesh->rows; r++) {
        struct ww_row_energy energy = ww_background_energy(mesh, potential, r);
        stored += creal(mesh->row[r].eps_z) * energy.z + creal(mesh->row[r].eps_n) * energy.n;
        lost -= cimag(mesh->row[r].eps_z) * energy.z + cimag(mesh->row[r].eps_n) * energy.n;
    }
    return lost / stored;
}

static void fill_matrix(double matrix[2][2], double even, double odd, bool pair)
{
    matrix[0][0] = WW_EPS0 * (pair ? 0.5 * (even + odd) : even);
    if (!pair)
        return;
    matrix[1][1] = matrix[0][0];
    matrix[0][1] = matrix[1][0] = WW_EPS0 * 0.5 * (even - odd);
}

/* Limit of a sequence on halved grids: values[0] is the coarsest. Of one grid its own value. */
static double extrapolate(const double *values, size_t grids)
{
    if (grids == 1)
        return values[0];
    double last = values[grids - 1], change = values[grids - 2] - last, ratio = 2;
    if (grids > 2 && change != 0)
        ratio = fmin(fmax((values[grids - 3] - values[grids - 2]) / change, 2), 4);
    return last - change / (ratio - 1);
}

static double extrapolate_mode(const struct modes *modes, size_t grids, size_t which)
{
    double values[MOST_GRIDS];
    for (size_t g = 0; g < grids; g++)
        values[g] = (const double[]){modes[g].c_even, modes[g].c_odd, modes[g].ca_even, modes[g].ca_odd}[which];
    return extrapolate(values, grids);
}

/* modes[grids]: of every grid, coarsest first; `used` is the one the kernels are on. */
static void summarise(struct ww_line *line, const struct modes *modes, size_t grids, const struct modes *used,
                      double df)
{
    struct ww_line_summary *s = &line->summary;
    bool pair = line->mesh.pair;
    struct modes m = {extrapolate_mode(modes, grids, 0), extrapolate_mode(modes, grids, 1),
                      extrapolate_mode(modes, grids, 2), extrapolate_mode(modes, grids, 3)};
    double dk_even = m.c_even / m.ca_even, z_even = impedance(m.c_even, m.ca_even);
    double z_grid = impedance(used->c_even, used->ca_even), dk_grid = used->c_even / used->ca_even;
    s->dk_eff = dk_even;
    s->z0 = z_even;
    if (pair) {
        s->dk_even = dk_even;
        s->z_even = z_even;
        s->dk_odd = s->dk_eff = m.c_odd / m.ca_odd;
        s->z_odd = impedance(m.c_odd, m.ca_odd);
        s->z_diff = 2 * s->z_odd;
        s->z_common = 0.5 * s->z_even;
        s->z0 = sqrt(s->z_odd * s->z_even);
        z_grid = sqrt(z_grid * impedance(used->c_odd, used->ca_odd));
        dk_grid = used->c_odd / used->ca_odd;
    }
    s->df_eff = df;
    s->delay = sqrt(s->dk_eff) / WW_C0;
    fill_matrix(s->c, m.c_even, m.c_odd, pair);
    fill_matrix(s->ca, m.ca_even, m.ca_odd, pair);
    s->z0_grid_change = fabs(z_grid / s->z0 - 1);
    s->dk_grid_change = fabs(dk_grid / s->dk_eff - 1);
    s->pitch = pair ? (double)(2 * line->mesh.first + line->mesh.span - line->mesh.columns) * line->mesh.step : 0;
    s->step = line->mesh.step;
    s->columns = line->mesh.columns;
    s->rows = line->mesh.rows;
    line->dk_correction = s->dk_eff / dk_grid;
}

/* modes[grids] as in summarise. */
static void keep(struct ww_line *line, const struct modes *modes, size_t grids, const struct modes *used,
                 const struct ww_background *fields)
{
    line->c_even = used->c_even;
    line->c_odd = used->c_odd;
    line->ca_even = used->ca_even;
    line->ca_odd = used->ca_odd;
    const double *driven = line->mesh.pair ? fields->odd : fields->even;
    summarise(line, modes, grids, used, loss_tangent(&line->mesh, driven));
    ww_line_disperse(line, driven);
}

/* What a solution of the finest grid would take: 64 million nodes are some 15 s and 1.5 GB. */
static enum ww_status check_finest(const struct ww_mesh *mesh, size_t grids, struct ww_error *error)
{
    size_t times = (size_t)1 << (grids - 1), columns = times * mesh->columns, rows = times * mesh->rows;
    if (rows == 0 || columns <= MOST_FINEST / rows)
        return WW_OK;
    return ww_error_set(
        error, WW_INVALID, NULL, 0,
        "the cross-section needs a grid of %zu by %zu nodes (limit %zu in all): give a wider trace or "
        "gap, thinner layers or a lower fineness",
        columns, rows, MOST_FINEST);
}

/* Solves on all grids; keeps the mesh of the last but one, and its fields. */
static enum ww_status solve_grids(struct ww_line *line, struct ww_background *fields, struct ww_error *error)
{
    struct ww_mesh mesh = {0}, next = {0};
    struct modes modes[MOST_GRIDS];
    enum ww_status status = ww_mesh_build(&mesh, line->stack, &line->trace, line->fineness, error);
    size_t grids = mesh.span <= FINE_ALREADY ? 3 : 2;
    if (!status)
        status = check_finest(&mesh, grids, error);
    if (status)
        ww_mesh_clear(&mesh);
    for (size_t g = 0; g < grids && !status; g++) {
        bool used = g + 2 == grids;
        status = solve_modes(&mesh, &modes[g], used ? fields : NULL, error);
        if (!status && g + 1 < grids)
            status = ww_mesh_refine(&mesh, &next, error);
        if (used)
            line->mesh = mesh;
        else
            ww_mesh_clear(&mesh);
        mesh = next;
        next = (struct ww_mesh){0};
    }
    if (status)
        return status;
    keep(line, modes, grids, &modes[grids - 2], fields);
    return WW_OK;
}

static enum ww_status solve_single(struct ww_line *line, struct ww_background *fields, struct ww_error *error)
{
    struct modes modes;
    enum ww_status status = ww_mesh_build_in(&line->mesh, line->stack, &line->trace, line->fineness, SINGLE, error);
    if (!status)
        status = check_finest(&line->mesh, 1, error);
    if (!status)
        status = solve_modes(&line->mesh, &modes, fields, error);
    if (!status)
        keep(line, &modes, 1, &modes, fields);
    return status;
}

static enum ww_status create(struct ww_line **out, const struct ww_stack *stack, const struct ww_trace *trace,
                             const struct ww_line_options *options, bool single, struct ww_error *error)
{
    *out = NULL;
    struct ww_background background = {0};
    struct ww_line *line = calloc(1, sizeof *line);
    enum ww_status status = WW_OK;
    if (!line)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a line");
    line->stack = stack;
    line->trace = *trace;
    line->fineness = options->fineness > 0 ? options->fineness : 1;
    line->summary.dispersion.frequency = options->frequency;
    line->kernel = calloc(stack->plies ? stack->plies : 1, sizeof *line->kernel);
    line->harmonics = calloc(stack->plies ? stack->plies : 1, sizeof *line->harmonics);
    if (!line->kernel || !line->harmonics) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", stack->plies);
        goto done;
    }
    for (size_t p = 0; p < stack->plies; p++)
        if (stack->ply[p].cell.nz > MOST_SLICES) {
            status = ww_error_set(error, WW_INVALID, NULL, 0, "a cell of %zu slices (limit %d)",
                                  stack->ply[p].cell.nz, MOST_SLICES);
            goto done;
        }
    status = single ? solve_single(line, &background, error) : solve_grids(line, &background, error);
    for (size_t p = 0; p < stack->plies && !status; p++) {
        status = ww_harmonics_build(&line->harmonics[p], &stack->ply[p], error);
        if (!status)
            status = ww_kernel_build(&line->kernel[p], &line->mesh, &background, stack, p, line->harmonics[p].k_most,
                                     error);
    }
done:
    ww_background_clear(&background);
    if (status)
        ww_line_destroy(line);
    else
        *out = line;
    return status;
}

enum ww_status ww_line_create(struct ww_line **line, const struct ww_stack *stack, const struct ww_trace *trace,
                              const struct ww_line_options *options, struct ww_error *error)
{
    static const struct ww_line_options none = {0};
    return create(line, stack, trace, options ? options : &none, false, error);
}

enum ww_status ww_line_create_single(struct ww_line **line, const struct ww_stack *stack,
                                     const struct ww_trace *trace, double fineness, struct ww_error *error)
{
    return create(line, stack, trace, &(struct ww_line_options){.fineness = fineness}, true, error);
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

/* What a unit of a yarn's volume fraction, and the resin, change in one slice: in eps (upper bound) and in eps_bg^2/eps
 * (lower), along z and across the trace. */
struct slice_change {
    double warp[2][2], fill[2][2], rest[2][2]; /* [bound][axis] */
};

static struct slice_change change_of_slice(const struct ww_ply *ply, double bg_z, double bg_n, double theta)
{
    double across = cos(theta) * cos(theta), along = sin(theta) * sin(theta);
    double resin = creal(ply->eps_resin);
    double warp_z = creal(ply->warp_t), warp_n = creal(ply->warp_t) * across + creal(ply->warp_a) * along;
    double fill_z = creal(ply->fill_t), fill_n = creal(ply->fill_t) * along + creal(ply->fill_a) * across;
    double zz = bg_z * bg_z, nn = bg_n * bg_n;
    return (struct slice_change){
        {{warp_z - resin, warp_n - resin}, {zz * (1 / warp_z - 1 / resin), nn * (1 / warp_n - 1 / resin)}},
        {{fill_z - resin, fill_n - resin}, {zz * (1 / fill_z - 1 / resin), nn * (1 / fill_n - 1 / resin)}},
        {{resin - bg_z, resin - bg_n}, {zz / resin - bg_z, nn / resin - bg_n}}};
}

/* Sums over the slices of one harmonic for one bound: of change by weight, for either axis, which go abreast. */
struct sums {
    double re_re[2], im_im[2], re_im[2], im_re[2]; /* by the weight 11 */
    double re[2], im[2];                           /* by the weight 12, which is real */
};

static struct sums sum_slices(const struct ww_kernel *kernel, const struct slice_change *slice, int bound,
                              const double _Complex *warp, const double _Complex *fill, const double *weight_re,
                              const double *weight_im)
{
    struct sums sums = {0};
    for (size_t s = 0; s < kernel->slices; s++, weight_re += WW_WEIGHTS, weight_im += WW_TWISTED)
        for (int axis = 0; axis < 2; axis++) {
            double to_warp = slice[s].warp[bound][axis], to_fill = slice[s].fill[bound][axis];
            double re = creal(warp[s]) * to_warp + creal(fill[s]) * to_fill;
            double im = cimag(warp[s]) * to_warp + cimag(fill[s]) * to_fill;
            sums.re_re[axis] += re * weight_re[WW_ZZ_11 + axis];
            sums.im_im[axis] += im * weight_im[WW_ZZ_11 + axis];
            sums.re_im[axis] += re * weight_im[WW_ZZ_11 + axis];
            sums.im_re[axis] += im * weight_re[WW_ZZ_11 + axis];
            sums.re[axis] += re * weight_re[WW_ZZ_12 + axis];
            sums.im[axis] += im * weight_re[WW_ZZ_12 + axis];
        }
    return sums;
}

static double of_both(const double axis[2])
{
    return axis[0] + axis[1];
}

static void change_of_harmonic(const struct ww_kernel *kernel, const struct slice_change *slice,
                               const double _Complex *warp, const double _Complex *fill, const double *re,
                               const double *im, double _Complex out[WW_CHANGES])
{
    for (int bound = 0; bound < 2; bound++) {
        struct sums sums = sum_slices(kernel, slice, bound, warp, fill, re, im);
        double re_re = of_both(sums.re_re), im_im = of_both(sums.im_im);
        double re_im = of_both(sums.re_im), im_re = of_both(sums.im_re);
        out[3 * bound] = re_re - im_im + I * (re_im + im_re);
        out[3 * bound + 1] = of_both(sums.re) + I * of_both(sums.im);
        out[3 * bound + 2] = re_re + im_im + I * (im_re - re_im); /* leg 2 weighs with the conjugate */
    }
}

/* What the resin adds to the mean. */
static void add_rest(const struct ww_kernel *kernel, const struct slice_change *slice,
                     double _Complex out[WW_CHANGES])
{
    double re[MOST_SLICES * WW_WEIGHTS], im[MOST_SLICES * WW_TWISTED];
    ww_kernel_weights(kernel, 0, re, im);
    for (size_t s = 0; s < kernel->slices; s++)
        for (int bound = 0; bound < 2; bound++)
            for (int axis = 0; axis < 2; axis++) {
                double rest = slice[s].rest[bound][axis];
                out[3 * bound] += rest * re[s * WW_WEIGHTS + WW_ZZ_11 + (size_t)axis];
                out[3 * bound + 1] += rest * re[s * WW_WEIGHTS + WW_ZZ_12 + (size_t)axis];
                out[3 * bound + 2] += rest * re[s * WW_WEIGHTS + WW_ZZ_11 + (size_t)axis];
            }
}

void ww_line_change(const struct ww_line *line, size_t ply_index, double theta, double stretch, double _Complex *out)
{
    const struct ww_ply *ply = &line->stack->ply[ply_index];
    const struct ww_kernel *kernel = &line->kernel[ply_index];
    const struct ww_harmonics *h = &line->harmonics[ply_index];
    double nx = -cos(theta) / (1 + stretch), ny = sin(theta) / (1 + stretch);
    struct slice_change slice[MOST_SLICES];
    for (size_t s = 0; s < kernel->slices; s++)
        slice[s] = change_of_slice(ply, creal(kernel->eps_z[s]), creal(kernel->eps_n[s]), theta);
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads()) schedule(static)
#endif
    for (size_t i = 0; i < h->count; i++) {
        double re[MOST_SLICES * WW_WEIGHTS], im[MOST_SLICES * WW_TWISTED];
        double q = h->harmonic[i].kx * nx + h->harmonic[i].ky * ny;
        ww_kernel_weights(kernel, q, re, im);
        change_of_harmonic(kernel, slice, h->warp + i * h->slices, h->fill + i * h->slices, re, im,
                           out + i * WW_CHANGES);
    }
    add_rest(kernel, slice, out);
}
