/* first_order.c - what the kernel says of one place of the cloth, by sums over the grid.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The kernel's estimates of capacitance (kernel.c) are sums of the background's E_i.E_j by the yarns' fractions. Over all places they
 * go as harmonics, to a third of the cell's samples. Here it is one place and one grid, and the fractions w, f of warp and fill are
 * those of the cloth that a cross-section has there, row by row, yarn edges and all. With c what a unit of them changes, in eps (C+)
 * or in eps_bg^2/eps (P), and <> the mean over the cell,
 *   change_ij = level_ij + sum over rows, both axes and half steps k of e_ij[k] [c_warp (w[k] - <w>) + c_fill (f[k] - <f>)].
 * A section less this is of higher order alone. On a grid that carries the cloth's harmonics both are the same (tests/scan).
 *
 * Fractions are means over half steps of the grid. A node, and an edge across, stands for the step about it, so that half a step
 * counts for one of either: e[k] is half of E_i.E_j of the node and half of that of the edge that it touches.
 */
#include "line/first_order.h"

#include <stdlib.h>
#include <string.h>

#include "core/wide.h"

enum { PRODUCTS = 3, LANES = 4, UP = 0, ACROSS = 1 }; /* products 11, 12, 22 */

static size_t size_of_row(const struct ww_first_order *e)
{
    return 2 * e->products * e->halves;
}

/* Potential of leg 1 alone at 1 V, of a single trace its own; 0 V on the planes and beyond the window. */
static double potential_of(const struct ww_line *line, size_t level, size_t column)
{
    const struct ww_mesh *mesh = &line->mesh;
    if (level == 0 || level == mesh->rows || column == 0 || column == mesh->columns)
        return 0;
    size_t at = (level - 1) * (mesh->columns - 1) + column - 1;
    return mesh->pair ? 0.5 * (line->fields.even[at] + line->fields.odd[at]) : line->fields.even[at];
}

/* Adds the products of the two legs' differences of potential along an edge to the half steps k - 1 and k that it touches. */
static void add_edge(const struct ww_first_order *e, double *energy, int axis, size_t k, const double v[2],
                     double share)
{
    const double product[PRODUCTS] = {v[0] * v[0], v[0] * v[1], v[1] * v[1]};
    for (size_t n = 0; n < e->products; n++)
        for (size_t half = k > 0 ? k - 1 : 0; half <= k && half < e->halves; half++)
            energy[((size_t)axis * e->products + n) * e->halves + half] += 0.5 * share * product[n];
}

/* Energies of one row of the mesh: an edge across counts half for the row above it and half for the one below. Leg 2 is the mirror
 * image of leg 1. */
static void fill_row(const struct ww_first_order *e, double *energy, const struct ww_line *line, size_t row)
{
    size_t columns = line->mesh.columns;
    double h = line->mesh.step, dz = line->mesh.row[row].dz;
    for (size_t i = 0; i <= columns; i++) {
        double up[2];
        for (int leg = 0; leg < 2; leg++) {
            size_t at = leg ? columns - i : i;
            up[leg] = potential_of(line, row + 1, at) - potential_of(line, row, at);
        }
        add_edge(e, energy, UP, 2 * i, up, h / dz);
        for (size_t level = row; level <= row + 1 && i < columns; level++) {
            double across[2] = {potential_of(line, level, i + 1) - potential_of(line, level, i),
                                potential_of(line, level, columns - i - 1) - potential_of(line, level, columns - i)};
            add_edge(e, energy, ACROSS, 2 * i + 1, across, dz / (2 * h));
        }
    }
}

/* Sums over half steps of an energy by two fractions less their means, by[0..1]; in lanes, which the processor adds abreast. */
WW_WIDE static void sum_halves(const double *restrict energy, const double *restrict warp,
                               const double *restrict fill, const double mean[2], size_t count, double by[2])
{
    double w[LANES] = {0}, f[LANES] = {0}, mean_warp = mean[0], mean_fill = mean[1];
    size_t i = 0;
    for (; i + LANES <= count; i += LANES)
        for (size_t k = 0; k < LANES; k++) {
            w[k] += energy[i + k] * (warp[i + k] - mean_warp);
            f[k] += energy[i + k] * (fill[i + k] - mean_fill);
        }
    for (; i < count; i++) {
        w[0] += energy[i] * (warp[i] - mean_warp);
        f[0] += energy[i] * (fill[i] - mean_fill);
    }
    by[0] = (w[0] + w[1]) + (w[2] + w[3]);
    by[1] = (f[0] + f[1]) + (f[2] + f[3]);
}

/* Adds what it changes if permittivities differ from the background's by these all across. */
static void add_uniform(const struct ww_first_order *e, const double *energy, const double by[2][2],
                        double change[WW_CHANGES])
{
    for (size_t axis = UP; axis <= ACROSS; axis++)
        for (size_t n = 0; n < e->products; n++) {
            double sum = 0;
            for (size_t k = 0; k < e->halves; k++)
                sum += energy[(axis * e->products + n) * e->halves + k];
            for (size_t bound = 0; bound < 2; bound++)
                change[PRODUCTS * bound + n] += by[bound][axis] * sum;
        }
}

/* Adds a row at its lateral mean at this angle to alone, and at its mean over the cell to level. */
static void add_means(struct ww_first_order *e, size_t r, const struct ww_row *background,
                      const struct ww_row *at_angle)
{
    const struct ww_first_order_row *row = &e->row[r];
    const double of[2] = {creal(background->eps_z), creal(background->eps_n)};
    const double lateral[2] = {creal(at_angle->eps_z), creal(at_angle->eps_n)};
    double alone[2][2], level[2][2];
    for (int axis = UP; axis <= ACROSS; axis++) {
        alone[0][axis] = lateral[axis] - of[axis];
        alone[1][axis] = of[axis] * of[axis] / lateral[axis] - of[axis];
        for (int bound = 0; bound < 2; bound++)
            level[bound][axis] = row->change.resin[bound][axis] + row->mean[0] * row->change.warp[bound][axis] +
                                 row->mean[1] * row->change.fill[bound][axis];
    }
    add_uniform(e, e->energy + r * size_of_row(e), (const double(*)[2])alone, e->alone);
    add_uniform(e, e->energy + r * size_of_row(e), (const double(*)[2])level, e->level);
}

/* Of one ply: level, and alone as what its lateral mean changes. */
static enum ww_status create(struct ww_first_order *e, const struct ww_line *line, const struct ww_mesh *at_angle,
                             double angle, size_t ply, struct ww_error *error)
{
    const struct ww_mesh *mesh = &line->mesh;
    const struct ww_ply *of = &line->stack->ply[ply];
    const struct ww_harmonics *h = &line->harmonics[ply];
    size_t first;
    *e = (struct ww_first_order){.products = mesh->pair ? PRODUCTS : 1, .halves = 2 * mesh->columns};
    ww_rows_of_ply(mesh, ply, &first, &e->rows);
    e->energy = calloc(e->rows * size_of_row(e), sizeof *e->energy);
    e->row = calloc(e->rows, sizeof *e->row);
    if (!e->energy || !e->row) {
        size_t rows = e->rows;
        ww_first_order_destroy(e);
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu rows of cloth", rows);
    }
    for (size_t r = 0; r < e->rows; r++) {
        const struct ww_row *row = &mesh->row[first + r];
        e->row[r] = (struct ww_first_order_row){
            ww_slice_change_of(of, creal(row->eps_z), creal(row->eps_n), angle - of->turn),
            {creal(h->warp[row->slice]), creal(h->fill[row->slice])}};
        fill_row(e, e->energy + r * size_of_row(e), line, first + r);
        add_means(e, r, row, &at_angle->row[first + r]);
    }
    return WW_OK;
}

enum ww_status ww_first_order_create(struct ww_first_order *e, const struct ww_line *line,
                                     const struct ww_mesh *at_angle, double angle, size_t ply, struct ww_error *error)
{
    enum ww_status status = create(e, line, at_angle, angle, ply, error);
    if (status)
        return status;
    memcpy(e->alone, e->level, sizeof e->alone);
    for (size_t p = 0; p < line->stack->plies && !status; p++) {
        struct ww_first_order other;
        if (p == ply)
            continue;
        status = create(&other, line, at_angle, angle, p, error);
        for (enum ww_change c = 0; c < WW_CHANGES; c++) {
            e->level[c] += status ? 0 : other.level[c];
            e->alone[c] += status ? 0 : other.alone[c];
        }
        ww_first_order_destroy(&other);
    }
    if (status)
        ww_first_order_destroy(e);
    return status;
}

void ww_first_order_destroy(struct ww_first_order *estimate)
{
    free(estimate->energy);
    free(estimate->row);
    memset(estimate, 0, sizeof *estimate);
}

void ww_first_order_change(const struct ww_first_order *e, const struct ww_difference *difference,
                           double change[WW_CHANGES])
{
    size_t from = difference->from, count = difference->end - from;
    memcpy(change, e->level, sizeof e->level);
    for (size_t r = 0; r < e->rows; r++) {
        const struct ww_slice_change *to = &e->row[r].change;
        const double *warp = difference->warp + r * e->halves + from, *fill = difference->fill + r * e->halves + from;
        for (size_t axis = UP; axis <= ACROSS; axis++)
            for (size_t n = 0; n < e->products; n++) {
                const double *energy = e->energy + r * size_of_row(e) + (axis * e->products + n) * e->halves + from;
                double by[2];
                sum_halves(energy, warp, fill, e->row[r].mean, count, by);
                for (size_t bound = 0; bound < 2; bound++)
                    change[PRODUCTS * bound + n] += to->warp[bound][axis] * by[0] + to->fill[bound][axis] * by[1];
            }
    }
}
