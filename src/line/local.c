/* local.c - the grid's conductances with the cloth in place.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The geometry is asked for column by column (ww_style_column), finer than the grid. Where a yarn's edge cuts the
 * volume that belongs to an edge of the grid, the permittivity along the edge is averaged in series and the result,
 * across the edge, in parallel: harmonic across the interface, arithmetic along it, which keeps second order where
 * interfaces follow the grid and nearly so where the flat yarns of cloth cut it; round rods, cut at every slope, are of
 * first order (tests/outside/test_cylinders.c). Up-edges see their row in series and the columns within half a step on
 * all sides in parallel; edges across see each half row in parallel and the columns between their nodes in series;
 * edges along likewise.
 *
 * In a cross-section the tensor is diagonal in (n, z). Along a period at an angle to the yarns the components that
 * couple n with the way along are left out: they are sin cos (eps_a - eps_t), a tenth of what the yarns differ from
 * the resin by, and zero along warp and fill.
 */
#include "line/local.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/parallel.h"

#define COLUMNS_PER_STEP 4 /* sampled across, even */
#define COLUMNS_ALONG 2    /* per sample along a period, even */

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

static bool is_in_place(const struct work *work, size_t ply)
{
    return ply != WW_NO_PLY && (work->only == 0 || work->only == ply + 1);
}

/* Permittivities of a laterally uniform row: up, across and along the trace. */
static void uniform_row(const struct work *work, size_t row, double eps[3])
{
    const struct ww_row *r = &work->line->mesh.row[row];
    eps[0] = creal(r->eps_z);
    eps[1] = eps[2] = creal(r->eps_n);
    if (r->ply == WW_NO_PLY)
        return;
    const struct ww_ply *ply = &work->line->stack->ply[r->ply];
    const struct ww_harmonics *h = &work->line->harmonics[r->ply];
    struct substances s = substances_of(ply, work->angle - ply->turn);
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
        uniform_row(work, row, eps);
        double up = eps[0] * h / dz, half = eps[1] * dz / (2 * h), along = eps[2] * dz * h / (2 * hs * hs);
        for (size_t j = 0; j < local->along; j++) {
            for (size_t i = 0; i < local->nodes; i++)
                up_at(local, row, j)[i] = up;
            for (size_t level = row; level <= row + 1; level++) {
                if (level < 1 || level > local->levels)
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
    const struct ww_style *style = &stack->layer[p->layer].style;
    double ux = sin(theta), uy = cos(theta);
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads_for(4 * band->samples * band->rows)) schedule(static)
#endif
    for (size_t c = 0; c < band->samples; c++) {
        double n = (((double)c + 0.5) / COLUMNS_PER_STEP - 0.5 * (double)mesh->columns) * mesh->step;
        ww_style_column(style, place[0] - p->shift_x + s * ux - n * uy, place[1] - p->shift_y + s * uy + n * ux,
                        band->rows, band->warp + c * band->rows, band->fill + c * band->rows);
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
            for (size_t c = 0; c < COLUMNS_PER_STEP; c++) {
                size_t between = (COLUMNS_PER_STEP * i + c) * band->rows + r;
                double w = band->warp[between], f = band->fill[between], rest = 1 - w - f;
                series += 1 / (rest * eps->resin + w * eps->warp_n + f * eps->fill_n);
                if (i == local->nodes)
                    continue;
                size_t around = between + COLUMNS_PER_STEP / 2 * band->rows;
                w = band->warp[around];
                f = band->fill[around];
                up += 1 / ((1 - w - f) * in_resin + w * in_warp + f * in_fill);
            }
            double half = share * COLUMNS_PER_STEP / series * dz / (2 * h);
            across_at(local, row, j)[i] += half;
            across_at(local, row + 1, j)[i] += half;
            if (i < local->nodes)
                up_at(local, row, j)[i] += share * up / COLUMNS_PER_STEP * h / dz;
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
            for (size_t c = 0; c < COLUMNS_PER_STEP; c++) {
                size_t around = (COLUMNS_PER_STEP * i + COLUMNS_PER_STEP / 2 + c) * band->rows + r;
                double w = band->warp[around], f = band->fill[around];
                sum += (1 - w - f) * eps->resin + w * eps->warp_s + f * eps->fill_s;
            }
            series[i] += COLUMNS_PER_STEP / sum / COLUMNS_ALONG;
            if (!last)
                continue;
            double half = dz * h / (2 * hs * hs) / series[i];
            length_at(local, band->first + r, j)[i] += half;
            length_at(local, band->first + r + 1, j)[i] += half;
            series[i] = 0;
        }
    }
}

static enum ww_status fill_ply(struct work *work, size_t ply, const double place[2], struct ww_error *error)
{
    const struct ww_mesh *mesh = &work->line->mesh;
    const struct ww_ply *p = &work->line->stack->ply[ply];
    struct band band = {0};
    while (mesh->row[band.first].ply != ply)
        band.first++;
    while (band.first + band.rows < mesh->rows && mesh->row[band.first + band.rows].ply == ply)
        band.rows++;
    band.samples = mesh->columns * COLUMNS_PER_STEP;
    band.warp = calloc(band.samples * band.rows, sizeof *band.warp);
    band.fill = calloc(band.samples * band.rows, sizeof *band.fill);
    work->series = calloc(band.rows * work->local->nodes, sizeof *work->series);
    enum ww_status status = WW_OK;
    if (!band.warp || !band.fill || !work->series) {
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
static void apply_row(const struct ww_local *local, const double *potential, double *charge, size_t level, size_t j)
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
