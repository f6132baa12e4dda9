/* local.c - the grid's conductances with the cloth in place.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The geometry is asked for column by column (ww_cloth_column), finer than the grid. Where a yarn's edge cuts the
 * volume that belongs to an edge of the grid, the permittivity along the edge is averaged in series and the result,
 * across the edge, in parallel: harmonic across the interface, arithmetic along it, which keeps second order where
 * interfaces follow the grid and nearly so where the flat yarns of cloth cut it; round rods, cut at every slope, are of
 * first order (tests/outside/test_cylinders.c). An up-edge has its row in series and the columns within half a step on
 * all sides in parallel; an edge across has each half row in parallel and the columns between their nodes in series;
 * edges along likewise.
 *
 * In a cross-section the tensor is diagonal in (n, z). Along a period at an angle to the yarns the components that
 * couple n with the direction along are left out: they are sin cos (eps_a - eps_t), a tenth of what the yarns differ from
 * the resin by, and zero along warp and fill.
 */
#include "line/local.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/parallel.h"
#include "core/wide.h"

#define COLUMNS_ALONG 2 /* per sample along a period, even */

/* Permittivities of one ply for this direction of travel. */
struct substances {
    double resin, warp_z, fill_z, warp_n, fill_n, warp_s, fill_s;
};

static struct substances substances_of(const struct ww_ply *ply, double theta)
{
    double across = cos(theta) * cos(theta), along = sin(theta) * sin(theta);
    double wt = creal(ply->warp_t), wa = creal(ply->warp_a), ft = creal(ply->fill_t), fa = creal(ply->fill_a);
    return (struct substances){
        creal(ply->eps_resin),   wt, ft, wt * across + wa * along, ft * along + fa * across, wt * along + wa * across,
        ft * across + fa * along};
}

/* The rows of one ply's fabric, and its fractions at one station along: [sample across][row]. */
struct band {
    size_t first, rows, samples;
    double *edge; /* [rows + 1] above the lower face of the cloth [m] */
    double *warp, *fill;
};

struct work {
    const struct ww_line *line;
    struct ww_local *local;
    struct ww_period period;
    double angle;
    size_t only;    /* ply in place, from 1; 0: all */
    double *series; /* [rows of the band][nodes] sum of 1/eps along the edge being built */
};

static double *up_at(const struct ww_local *local, size_t row, size_t j)
{
    return local->up + (row * local->along + j) * local->nodes;
}

/* Of a mesh level 1..levels. */
static double *across_at(const struct ww_local *local, size_t level, size_t j)
{
    return local->across + ((level - 1) * local->along + j) * (local->nodes + 1);
}

static double *length_at(const struct ww_local *local, size_t level, size_t j)
{
    return local->length + ((level - 1) * local->along + j) * local->nodes;
}

/* The planes, below level 1 and above the last, have no unknowns, and what runs in them no conductance. */
static bool has_nodes(const struct ww_local *local, size_t level)
{
    return level >= 1 && level <= local->levels;
}

static bool is_in_place(const struct work *work, size_t ply)
{
    return ply != WW_NO_PLY && (work->only == 0 || work->only == ply + 1);
}

/* Permittivities of a laterally uniform row: up, across and along the trace. */
static void uniform_row(const struct ww_line *line, double angle, size_t row, double eps[3])
{
    const struct ww_row *r = &line->mesh.row[row];
    eps[0] = creal(r->eps_z);
    eps[1] = eps[2] = creal(r->eps_n);
    if (r->ply == WW_NO_PLY)
        return;
    const struct ww_ply *ply = &line->stack->ply[r->ply];
    const struct ww_harmonics *h = &line->harmonics[r->ply];
    struct substances s = substances_of(ply, angle - ply->turn);
    double warp = creal(h->warp[r->slice]), fill = creal(h->fill[r->slice]); /* harmonic 0, the mean */
    eps[1] = s.resin + warp * (s.warp_n - s.resin) + fill * (s.fill_n - s.resin);
    eps[2] = s.resin + warp * (s.warp_s - s.resin) + fill * (s.fill_s - s.resin);
}

/* Everything laterally uniform: rows outside the fabrics, and those of plies that are not in place. */
static void fill_uniform(const struct work *work)
{
    const struct ww_mesh *mesh = &work->line->mesh;
    struct ww_local *local = work->local;
    double h = mesh->step, hs = work->period.step;
    for (size_t row = 0; row < mesh->rows; row++) {
        if (is_in_place(work, mesh->row[row].ply))
            continue;
        double dz = mesh->row[row].dz, eps[3];
        uniform_row(work->line, work->angle, row, eps);
        double up = eps[0] * h / dz, half = eps[1] * dz / (2 * h), along = eps[2] * dz * h / (2 * hs * hs);
        for (size_t j = 0; j < local->along; j++) {
            for (size_t i = 0; i < local->nodes; i++)
                up_at(local, row, j)[i] = up;
            for (size_t level = row; level <= row + 1; level++) {
                if (!has_nodes(local, level))
                    continue;
                for (size_t i = 0; i <= local->nodes; i++)
                    across_at(local, level, j)[i] += half;
                for (size_t i = 0; local->length && i < local->nodes; i++)
                    length_at(local, level, j)[i] += along;
            }
        }
    }
}

/* Sample the cloth across the whole window at distance s along. */
static void sample_station(const struct work *work, const struct band *band, size_t ply, double theta,
                           const double place[2], double s)
{
    const struct ww_mesh *mesh = &work->line->mesh;
    const struct ww_stack *stack = work->line->stack;
    const struct ww_ply *p = &stack->ply[ply];
    const struct ww_cloth cloth = ww_stack_cloth(stack, ply);
    double ux = sin(theta), uy = cos(theta);
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads_for(4 * band->samples * band->rows)) schedule(static)
#endif
    for (size_t c = 0; c < band->samples; c++) {
        double n = (((double)c + 0.5) / WW_COLUMNS_PER_STEP - 0.5 * (double)mesh->columns) * mesh->step;
        ww_cloth_column(&cloth, place[0] - p->shift_x + s * ux - n * uy, place[1] - p->shift_y + s * uy + n * ux,
                        band->rows, band->edge, band->warp + c * band->rows, band->fill + c * band->rows);
    }
}

/* Adds one station, of the given share, to the up-edges and the edges across of sample j. */
static void add_station(const struct work *work, const struct band *band, const struct substances *eps, size_t j,
                        double share)
{
    struct ww_local *local = work->local;
    const struct ww_mesh *mesh = &work->line->mesh;
    double h = mesh->step, in_resin = 1 / eps->resin, in_warp = 1 / eps->warp_z, in_fill = 1 / eps->fill_z;
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads_for(32 * local->nodes * band->rows)) schedule(static)
#endif
    for (size_t i = 0; i <= local->nodes; i++)
        for (size_t r = 0; r < band->rows; r++) {
            size_t row = band->first + r;
            double dz = mesh->row[row].dz, up = 0, series = 0;
            for (size_t c = 0; c < WW_COLUMNS_PER_STEP; c++) {
                size_t between = (WW_COLUMNS_PER_STEP * i + c) * band->rows + r;
                double w = band->warp[between], f = band->fill[between], rest = 1 - w - f;
                series += 1 / (rest * eps->resin + w * eps->warp_n + f * eps->fill_n);
                if (i == local->nodes)
                    continue;
                size_t around = between + WW_COLUMNS_PER_STEP / 2 * band->rows;
                w = band->warp[around];
                f = band->fill[around];
                up += 1 / ((1 - w - f) * in_resin + w * in_warp + f * in_fill);
            }
            double half = share * WW_COLUMNS_PER_STEP / series * dz / (2 * h);
            for (size_t level = row; level <= row + 1; level++)
                if (has_nodes(local, level))
                    across_at(local, level, j)[i] += half;
            if (i < local->nodes)
                up_at(local, row, j)[i] += share * up / WW_COLUMNS_PER_STEP * h / dz;
        }
}

/* Adds one station to the series sums of the edges along, and turns these into conductances at the last one. */
static void add_along(const struct work *work, const struct band *band, const struct substances *eps, size_t j,
                      bool last)
{
    struct ww_local *local = work->local;
    const struct ww_mesh *mesh = &work->line->mesh;
    double h = mesh->step, hs = work->period.step;
    for (size_t r = 0; r < band->rows; r++) {
        double *series = work->series + r * local->nodes, dz = mesh->row[band->first + r].dz;
        for (size_t i = 0; i < local->nodes; i++) {
            double sum = 0;
            for (size_t c = 0; c < WW_COLUMNS_PER_STEP; c++) {
                size_t around = (WW_COLUMNS_PER_STEP * i + WW_COLUMNS_PER_STEP / 2 + c) * band->rows + r;
                double w = band->warp[around], f = band->fill[around];
                sum += (1 - w - f) * eps->resin + w * eps->warp_s + f * eps->fill_s;
            }
            series[i] += WW_COLUMNS_PER_STEP / sum / COLUMNS_ALONG;
            if (!last)
                continue;
            double half = dz * h / (2 * hs * hs) / series[i];
            for (size_t level = band->first + r; level <= band->first + r + 1; level++)
                if (has_nodes(local, level))
                    length_at(local, level, j)[i] += half;
            series[i] = 0;
        }
    }
}

void ww_rows_of_ply(const struct ww_mesh *mesh, size_t ply, size_t *first, size_t *rows)
{
    *first = *rows = 0;
    while (mesh->row[*first].ply != ply)
        ++*first;
    while (*first + *rows < mesh->rows && mesh->row[*first + *rows].ply == ply)
        ++*rows;
}

/* Heights of the rows' edges above the lowest of them; NULL without memory. */
static double *row_edges(const struct ww_mesh *mesh, size_t first, size_t rows)
{
    double *edge = calloc(rows + 1, sizeof *edge);
    for (size_t r = 0; edge && r < rows; r++)
        edge[r + 1] = edge[r] + mesh->row[first + r].dz;
    return edge;
}

static enum ww_status fill_ply(struct work *work, size_t ply, const double place[2], struct ww_error *error)
{
    const struct ww_mesh *mesh = &work->line->mesh;
    const struct ww_ply *p = &work->line->stack->ply[ply];
    struct band band = {0};
    ww_rows_of_ply(mesh, ply, &band.first, &band.rows);
    band.samples = mesh->columns * WW_COLUMNS_PER_STEP;
    band.edge = row_edges(mesh, band.first, band.rows);
    band.warp = calloc(band.samples * band.rows, sizeof *band.warp);
    band.fill = calloc(band.samples * band.rows, sizeof *band.fill);
    work->series = calloc(band.rows * work->local->nodes, sizeof *work->series);
    enum ww_status status = WW_OK;
    if (!band.edge || !band.warp || !band.fill || !work->series) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu columns of cloth", band.samples);
        goto done;
    }
    double theta = work->angle - p->turn;
    struct substances eps = substances_of(p, theta);
    size_t along = work->local->along;
    if (along == 1) {
        sample_station(work, &band, ply, theta, place, 0);
        add_station(work, &band, &eps, 0, 1);
        goto done;
    }
    for (size_t t = 0; t < along * COLUMNS_ALONG; t++) {
        double s = ((double)t + 0.5) / COLUMNS_ALONG * work->period.step;
        sample_station(work, &band, ply, theta, place, s);
        add_station(work, &band, &eps, (t + COLUMNS_ALONG / 2) / COLUMNS_ALONG % along, 1.0 / COLUMNS_ALONG);
        add_along(work, &band, &eps, t / COLUMNS_ALONG, t % COLUMNS_ALONG == COLUMNS_ALONG - 1);
    }
done:
    free(band.edge);
    free(band.warp);
    free(band.fill);
    free(work->series);
    work->series = NULL;
    return status;
}

enum ww_status ww_local_build(struct ww_local *local, const struct ww_line *line, double angle,
                              const double (*place)[2], size_t only, struct ww_period period, struct ww_error *error)
{
    memset(local, 0, sizeof *local);
    struct work work = {.line = line, .local = local, .period = period, .angle = angle, .only = only};
    local->nodes = line->mesh.columns - 1;
    local->along = period.samples;
    local->levels = line->mesh.rows - 1;
    size_t plane = local->along * local->nodes;
    local->up = calloc(line->mesh.rows * plane, sizeof(double));
    local->across = calloc(local->levels * local->along * (local->nodes + 1), sizeof(double));
    local->length = period.samples > 1 ? calloc(local->levels * plane, sizeof(double)) : NULL;
    enum ww_status status = WW_OK;
    if (!local->up || !local->across || (period.samples > 1 && !local->length))
        status =
            ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the cloth on %zu nodes", plane * local->levels);
    if (!status)
        fill_uniform(&work);
    for (size_t p = 0; p < line->stack->plies && !status; p++)
        if (is_in_place(&work, p))
            status = fill_ply(&work, p, place[p], error);
    if (status)
        ww_local_clear(local);
    return status;
}

void ww_local_clear(struct ww_local *local)
{
    free(local->up);
    free(local->across);
    free(local->length);
    memset(local, 0, sizeof *local);
}

/* One row of nodes: the charges that the potentials of its neighbours leave there. */
WW_WIDE static void apply_row(const struct ww_local *local, const double *potential, double *charge, size_t level,
                              size_t j)
{
    size_t nodes = local->nodes, along = local->along, plane = nodes * along;
    const double *here = potential + (level - 1) * plane + j * nodes;
    const double *below = level > 1 ? here - plane : NULL, *above = level < local->levels ? here + plane : NULL;
    const double *down = up_at(local, level - 1, j), *up = up_at(local, level, j), *side = across_at(local, level, j);
    double *out = charge + (level - 1) * plane + j * nodes;
    for (size_t i = 0; i < nodes; i++)
        out[i] = (down[i] + up[i]) * here[i];
    for (size_t i = 0; level > 1 && i < nodes; i++)
        out[i] -= down[i] * below[i];
    for (size_t i = 0; level < local->levels && i < nodes; i++)
        out[i] -= up[i] * above[i];
    out[0] += side[0] * here[0];
    out[nodes - 1] += side[nodes] * here[nodes - 1];
    for (size_t i = 1; i < nodes; i++)
        out[i] += side[i] * (here[i] - here[i - 1]);
    for (size_t i = 0; i + 1 < nodes; i++)
        out[i] -= side[i + 1] * (here[i + 1] - here[i]);
    if (!local->length)
        return;
    size_t next = (j + 1) % along, last = (j + along - 1) % along;
    const double *after = potential + (level - 1) * plane + next * nodes,
                 *before = potential + (level - 1) * plane + last * nodes;
    const double *forth = length_at(local, level, j), *back = length_at(local, level, last);
    for (size_t i = 0; i < nodes; i++)
        out[i] += forth[i] * (here[i] - after[i]) + back[i] * (here[i] - before[i]);
}

void ww_local_apply(const struct ww_local *local, const double *potential, double *charge)
{
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads_for(8 * local->levels * local->along * local->nodes)) schedule(static)
#endif
    for (size_t item = 0; item < local->levels * local->along; item++)
        apply_row(local, potential, charge, item / local->along + 1, item % local->along);
}

/* --- what the cloth changes ------------------------------------------------------------------------------------------ */

void ww_mesh_at_angle(const struct ww_line *line, double angle, struct ww_mesh *mesh)
{
    for (size_t row = 0; row < mesh->rows; row++) {
        double eps[3];
        uniform_row(line, angle, row, eps);
        mesh->row[row].eps_n = eps[1];
    }
}

/* One grid that the cloth of one ply is laid on. Means over the columns of cloth, node by node: up[node][row] of the permittivity
 * of the row in series, series[edge][row] of one over the permittivity across; half[half step][warp, fill][row] of the fractions. */
struct laying {
    const struct ww_mesh *mesh;
    struct ww_difference *difference;
    struct ww_laid laid;
    size_t first, rows; /* of the mesh, in the ply's fabric */
    double *up, *series, *half, *warp, *fill;
};

/* One column of cloth at a time, in the rows of the finest grid. */
struct columns {
    struct laying grid[2]; /* finest first */
    size_t grids;
    struct ww_cloth cloth;
    double *edge; /* [rows + 1] of the finest, above the lower face of the cloth [m] */
};

/* sum += share/(resin + w warp + f fill), row by row. */
WW_WIDE static void add_inverses(double *restrict sum, const double *restrict w, const double *restrict f,
                                 size_t rows, double share, double resin, double warp, double fill)
{
    for (size_t r = 0; r < rows; r++)
        sum[r] += share / (resin + w[r] * warp + f[r] * fill);
}

/* sum += share * value, row by row. */
WW_WIDE static void add_rows(double *restrict sum, const double *restrict value, size_t rows, double share)
{
    for (size_t r = 0; r < rows; r++)
        sum[r] += share * value[r];
}

/* A row of the coarse grid holds two of the fine one, alike in height. */
static void halve_rows(const struct laying *fine, const struct laying *coarse)
{
    for (size_t r = 0; r < coarse->rows; r++) {
        coarse->warp[r] = 0.5 * (fine->warp[2 * r] + fine->warp[2 * r + 1]);
        coarse->fill[r] = 0.5 * (fine->fill[2 * r] + fine->fill[2 * r + 1]);
    }
}

/* One column, a share of those of a step, in its right half or in its left one. */
static void add_column(const struct laying *g, const struct substances *eps, size_t step, bool right, double share)
{
    double in_resin = 1 / eps->resin, to_warp = 1 / eps->warp_z - in_resin, to_fill = 1 / eps->fill_z - in_resin;
    double resin = eps->resin, warp_n = eps->warp_n - resin, fill_n = eps->fill_n - resin;
    size_t edge = step - g->laid.from;
    add_inverses(g->series + edge * g->rows, g->warp, g->fill, g->rows, share, resin, warp_n, fill_n);
    if (right ? step < g->laid.to : edge > 0) /* right of an edge is node `step`, left of it the one before */
        add_inverses(g->up + (right ? edge : edge - 1) * g->rows, g->warp, g->fill, g->rows, share, in_resin, to_warp,
                     to_fill);
    double *half = g->half + 2 * (2 * edge + right) * g->rows;
    add_rows(half, g->warp, 2 * g->rows, 2 * share); /* warp, and fill behind it */
}

static void add_columns(const struct columns *c, const struct substances *eps, double x, double y, double theta)
{
    const struct laying *fine = &c->grid[0], *coarse = c->grids > 1 ? &c->grid[1] : NULL;
    double ux = sin(theta), uy = cos(theta), half = 0.5 * (double)fine->mesh->columns;
    const struct ww_laid *laid = &fine->laid;
    for (size_t step = laid->from; step <= laid->to; step++) {
        bool near = step >= laid->near_from && step < laid->near_to;
        size_t columns = near ? WW_COLUMNS_PER_STEP : WW_COLUMNS_FAR;
        double share = 1 / (double)columns;
        for (size_t i = 0; i < columns; i++) {
            double n = ((double)step + ((double)i + 0.5) * share - half) * fine->mesh->step;
            ww_cloth_column(&c->cloth, x - n * uy, y + n * ux, fine->rows, c->edge, fine->warp, fine->fill);
            add_column(fine, eps, step, i >= columns / 2, share);
            if (coarse) {
                halve_rows(fine, coarse);
                add_column(coarse, eps, step / 2, step % 2, 0.5 * share);
            }
        }
    }
}

static enum ww_status laying_init(struct laying *g, size_t ply, struct ww_error *error)
{
    ww_rows_of_ply(g->mesh, ply, &g->first, &g->rows);
    size_t nodes = g->laid.to - g->laid.from;
    g->up = calloc((6 * nodes + 7) * g->rows, sizeof *g->up);
    if (!g->up)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the cloth on %zu columns", nodes);
    g->series = g->up + nodes * g->rows;
    g->half = g->series + (nodes + 1) * g->rows;
    g->warp = g->half + 4 * (nodes + 1) * g->rows;
    g->fill = g->warp + g->rows;
    return WW_OK;
}

static void laying_clear(struct laying *g)
{
    free(g->up);
    g->up = NULL;
}

static void conclude_ply(const struct laying *g)
{
    struct ww_difference *d = g->difference;
    size_t from = g->laid.from, nodes = g->laid.to - from;
    double h = g->mesh->step;
    for (size_t r = 0; r < g->rows; r++) {
        const struct ww_row *row = &g->mesh->row[g->first + r];
        double to_up = h / row->dz, to_across = row->dz / (2 * h);
        double *up = d->up + (g->first - d->first + r) * d->nodes + from;
        double *across = d->across + (g->first - d->first + r) * (d->nodes + 1) + from;
        for (size_t i = 0; i < nodes; i++)
            up[i] = to_up * (g->up[i * g->rows + r] - creal(row->eps_z));
        for (size_t i = 0; i <= nodes; i++) {
            double half = to_across * (1 / g->series[i * g->rows + r] - creal(row->eps_n));
            across[i] += half;
            across[i + d->nodes + 1] += half;
        }
    }
}

static void conclude_fractions(const struct laying *g)
{
    struct ww_difference *d = g->difference;
    size_t count = 2 * (g->laid.to - g->laid.from + 1);
    d->from = 2 * g->laid.from;
    d->end = d->from + count;
    for (size_t r = 0; r < g->rows; r++) {
        size_t at = (g->first - d->first + r) * 2 * (d->nodes + 1) + d->from;
        for (size_t k = 0; k < count; k++) {
            d->warp[at + k] = g->half[2 * k * g->rows + r];
            d->fill[at + k] = g->half[(2 * k + 1) * g->rows + r];
        }
    }
}

static enum ww_status lay_ply(struct columns *c, const struct ww_line *line, size_t ply, double angle,
                              const double place[2], struct ww_error *error)
{
    const struct ww_ply *p = &line->stack->ply[ply];
    double theta = angle - p->turn;
    struct substances eps = substances_of(p, theta);
    enum ww_status status = laying_init(&c->grid[0], ply, error);
    if (!status && c->grids > 1)
        status = laying_init(&c->grid[1], ply, error);
    c->edge = status ? NULL : row_edges(c->grid[0].mesh, c->grid[0].first, c->grid[0].rows);
    if (!status && !c->edge)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu rows of cloth", c->grid[0].rows);
    if (!status) {
        c->cloth = ww_stack_cloth(line->stack, ply);
        add_columns(c, &eps, place[0] - p->shift_x, place[1] - p->shift_y, theta);
        for (size_t g = 0; g < c->grids; g++) {
            conclude_ply(&c->grid[g]);
            conclude_fractions(&c->grid[g]);
        }
    }
    laying_clear(&c->grid[0]);
    laying_clear(&c->grid[1]);
    free(c->edge);
    c->edge = NULL;
    return status;
}

static enum ww_status difference_init(struct ww_difference *d, const struct ww_line *line, const struct ww_mesh *mesh,
                                      const struct ww_layered *layered, size_t only, struct ww_error *error)
{
    size_t end = 0;
    *d = (struct ww_difference){.nodes = layered->nodes};
    d->first = mesh->rows;
    for (size_t p = 0; p < line->stack->plies; p++) {
        size_t first, rows;
        if (only && only != p + 1)
            continue;
        ww_rows_of_ply(mesh, p, &first, &rows);
        d->first = first < d->first ? first : d->first;
        end = first + rows > end ? first + rows : end;
    }
    d->rows = end > d->first ? end - d->first : 0;
    size_t last = layered->low + layered->levels - 1; /* beyond it is a plane */
    d->low = d->rows > 0 && d->first > layered->low ? d->first : layered->low;
    d->levels = d->rows > 0 ? (end < last ? end : last) - d->low + 1 : 0;
    d->up = calloc(d->rows * d->nodes + 1, sizeof *d->up);
    d->across = calloc((d->rows + 1) * (d->nodes + 1), sizeof *d->across);
    d->warp = calloc(4 * d->rows * (d->nodes + 1) + 1, sizeof *d->warp);
    d->fill = d->warp ? d->warp + 2 * d->rows * (d->nodes + 1) : NULL;
    return d->up && d->across && d->warp ? WW_OK
                                         : ww_error_set(error, WW_NO_MEMORY, NULL, 0,
                                                        "no memory for the cloth on %zu nodes", d->rows * d->nodes);
}

static enum ww_status build(struct columns *c, const struct ww_line *line, const struct ww_layered *const layered[],
                            double angle, const double (*place)[2], size_t only, struct ww_error *error)
{
    enum ww_status status = WW_OK;
    for (size_t g = 0; g < c->grids && !status; g++)
        status = difference_init(c->grid[g].difference, line, c->grid[g].mesh, layered[g], only, error);
    for (size_t p = 0; p < line->stack->plies && !status; p++)
        if (!only || only == p + 1)
            status = lay_ply(c, line, p, angle, place[p], error);
    for (size_t g = 0; g < c->grids && status; g++)
        ww_difference_clear(c->grid[g].difference);
    return status;
}

enum ww_status ww_difference_build(struct ww_difference *d, const struct ww_line *line, const struct ww_mesh *mesh,
                                   const struct ww_layered *layered, double angle, const double (*place)[2],
                                   size_t only, struct ww_laid laid, struct ww_error *error)
{
    struct columns c = {.grid = {{.mesh = mesh, .difference = d, .laid = laid}}, .grids = 1};
    memset(d, 0, sizeof *d);
    return build(&c, line, (const struct ww_layered *const[]){layered}, angle, place, only, error);
}

struct ww_laid ww_laid_refined(struct ww_laid laid)
{
    return (struct ww_laid){2 * laid.from, 2 * laid.to + 1, 2 * laid.near_from, 2 * laid.near_to};
}

enum ww_status ww_difference_build_nested(struct ww_difference difference[2], const struct ww_line *line,
                                          const struct ww_mesh *const mesh[2],
                                          const struct ww_layered *const layered[2], double angle,
                                          const double (*place)[2], size_t only, struct ww_laid laid,
                                          struct ww_error *error)
{
    struct columns c = {.grid = {{.mesh = mesh[1], .difference = &difference[1], .laid = ww_laid_refined(laid)},
                                 {.mesh = mesh[0], .difference = &difference[0], .laid = laid}},
                        .grids = 2};
    memset(difference, 0, 2 * sizeof *difference);
    return build(&c, line, (const struct ww_layered *const[]){layered[1], layered[0]}, angle, place, only, error);
}

void ww_difference_clear(struct ww_difference *difference)
{
    free(difference->up);
    free(difference->warp);
    free(difference->across);
    memset(difference, 0, sizeof *difference);
}

WW_WIDE void ww_difference_apply(const struct ww_difference *d, const double *potential, double *charge)
{
    size_t nodes = d->nodes;
    memset(charge, 0, d->levels * nodes * sizeof *charge);
    for (size_t r = 0; r <= d->rows && d->rows > 0; r++) { /* across, on the level below row r */
        size_t level = d->first + r;
        if (level < d->low || level >= d->low + d->levels)
            continue; /* a plane */
        const double *v = potential + (level - d->low) * nodes, *side = d->across + r * (nodes + 1);
        double *out = charge + (level - d->low) * nodes;
        out[0] += side[0] * v[0];
        for (size_t i = 1; i < nodes; i++)
            out[i] += side[i] * (v[i] - v[i - 1]);
        for (size_t i = 0; i + 1 < nodes; i++)
            out[i] -= side[i + 1] * (v[i + 1] - v[i]);
        out[nodes - 1] += side[nodes] * v[nodes - 1];
    }
    for (size_t r = 0; r < d->rows; r++) { /* up, through row r */
        size_t level = d->first + r;
        bool lower = level >= d->low, upper = level + 1 < d->low + d->levels;
        const double *up = d->up + r * nodes;
        const double *above = upper ? potential + (level + 1 - d->low) * nodes : NULL;
        const double *below = lower ? potential + (level - d->low) * nodes : NULL;
        double *out_above = charge + (above ? level + 1 - d->low : 0) * nodes;
        double *out_below = charge + (below ? level - d->low : 0) * nodes;
        for (size_t i = 0; above && i < nodes; i++)
            out_above[i] += up[i] * (above[i] - (below ? below[i] : 0));
        for (size_t i = 0; below && i < nodes; i++)
            out_below[i] += up[i] * (below[i] - (above ? above[i] : 0));
    }
}
