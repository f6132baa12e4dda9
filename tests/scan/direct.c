/* direct.c - see direct.h.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * With E_i the field of conductor i at 1 V, upper C+_ij = sum eps E_i.E_j and P_ij = sum eps_bg^2/eps E_i.E_j over the
 * edges of the cross-section's grid, C- = C0 P^-1 C0, the permittivity of a leg from the mean of both. Edges up the grid stand at
 * the nodes' n, edges across half-way between; those across count half for the row below and half for the row above.
 * The cloth between its samples is their trigonometric polynomial up to a third of the samples per cell, freed from the
 * averaging over the box of a sample; that is how the line takes it, so that only the integration differs. Fractions change
 * linearly from slice to slice (kernel.c), each by what a unit of it changes in its own slice.
 */
#include "direct.h"

#include "line/background.h"

#include <complex.h>
#include <stdlib.h>

#define PANEL (25 * UM) /* at most, 8 points on each */

struct direct {
    const struct board *board;
    double angle;
    int m_most, l_most;
    double _Complex *warp, *fill; /* [slice][m][l + l_most] */
    struct ww_mesh mesh[2]; /* the line's, and that with every cell halved; what is found on them is extrapolated */
    struct ww_background background[2];
    double ratio; /* of changes from one mesh to the next, as the line has it */
};

static double box(int m, size_t n)
{
    double x = WW_PI * m / (double)n;
    return m ? sin(x) / x : 1;
}

/* exp(-i k.r) summed over the samples, one direction after the other. */
static void coefficients(const struct direct *d, const struct ww_cell *cell, const double *fraction,
                         double _Complex *out)
{
    size_t nx = cell->nx, ny = cell->ny, wide = (size_t)(2 * d->l_most + 1);
    for (size_t s = 0; s < cell->nz; s++)
        for (int m = 0; m <= d->m_most; m++) {
            double _Complex *to = out + (s * (size_t)(d->m_most + 1) + (size_t)m) * wide;
            for (size_t iy = 0; iy < ny; iy++) {
                double _Complex along_x = 0;
                for (size_t ix = 0; ix < nx; ix++)
                    along_x += fraction[(s * ny + iy) * nx + ix] *
                               cexp(-2 * WW_PI * I * m * ((double)ix + 0.5) / (double)nx);
                for (int l = -d->l_most; l <= d->l_most; l++)
                    to[l + d->l_most] += along_x * cexp(-2 * WW_PI * I * l * ((double)iy + 0.5) / (double)ny) /
                                         ((double)(nx * ny) * box(m, nx) * box(l, ny));
            }
        }
}

struct direct *direct_open(const struct board *board, double angle)
{
    struct direct *d = calloc(1, sizeof *d);
    assert_non_null(d);
    const struct ww_cell *cell = &board->stack.ply[0].cell;
    d->board = board;
    d->angle = angle - board->stack.ply[0].turn;
    d->m_most = (int)(cell->nx / 3);
    d->l_most = (int)(cell->ny / 3);
    size_t count = cell->nz * (size_t)(d->m_most + 1) * (size_t)(2 * d->l_most + 1);
    d->warp = calloc(count, sizeof *d->warp);
    d->fill = calloc(count, sizeof *d->fill);
    assert_non_null(d->warp);
    assert_non_null(d->fill);
    coefficients(d, cell, cell->warp, d->warp);
    coefficients(d, cell, cell->fill, d->fill);
    struct ww_error error = {0};
    assert_ok(ww_mesh_copy(&board->line->mesh, &d->mesh[0], &error), error);
    assert_ok(ww_mesh_refine(&d->mesh[0], &d->mesh[1], &error), error);
    for (int g = 0; g < 2; g++)
        assert_ok(ww_background_solve(&d->background[g], &d->mesh[g], false, true, &error), error);
    double coarse = d->background[0].c_even, fine = d->background[1].c_even;
    d->ratio = 1 + (fine - coarse) / (board->line->limit.c_even - fine);
    return d;
}

void direct_close(struct direct *d)
{
    for (int g = 0; g < 2; g++) {
        ww_background_clear(&d->background[g]);
        ww_mesh_clear(&d->mesh[g]);
    }
    free(d->warp);
    free(d->fill);
    free(d);
}

/* Fractions of one slice at one place. */
static void fractions(const struct direct *d, size_t slice, double x, double y, double *warp, double *fill)
{
    const struct ww_ply *ply = &d->board->stack.ply[0];
    size_t wide = (size_t)(2 * d->l_most + 1);
    double _Complex ex = cexp(2 * WW_PI * I * (x - ply->shift_x) / ply->cell.lx);
    double _Complex ey = cexp(2 * WW_PI * I * (y - ply->shift_y) / ply->cell.ly);
    double _Complex first = cpow(ey, -d->l_most), at_m = 1;
    *warp = *fill = 0;
    for (int m = 0; m <= d->m_most; m++, at_m *= ex) {
        double _Complex phasor = at_m * first;
        for (size_t l = 0; l < wide; l++, phasor *= ey) {
            size_t place = (slice * (size_t)(d->m_most + 1) + (size_t)m) * wide + l;
            *warp += (m ? 2 : 1) * creal(d->warp[place] * phasor);
            *fill += (m ? 2 : 1) * creal(d->fill[place] * phasor);
        }
    }
}

/* Potential of conductor i (0 or 1) alone at 1 V, at one node. */
static double potential(const struct direct *d, int grid, int i, size_t column, size_t level)
{
    const struct ww_mesh *mesh = &d->mesh[grid];
    if (column == 0 || column == mesh->columns || level == 0 || level == mesh->rows)
        return 0;
    size_t place = (level - 1) * (mesh->columns - 1) + column - 1;
    double even = d->background[grid].even[place];
    return mesh->pair ? 0.5 * (even + (i ? -1 : 1) * d->background[grid].odd[place]) : even;
}

/* Change of the two forms in one place of one slice: in eps, and in eps_bg^2/eps, up and across. */
struct change {
    double up[2], across[2];
};

enum { MOST = 64 }; /* slices */

/* Of each slice, fractions by what a unit of them changes, and resin less background. */
struct column {
    struct change yarns[MOST], rest[MOST];
};

static void fill_column(const struct direct *d, const struct ww_mesh *mesh, double x, double y, struct column *column)
{
    const struct ww_ply *ply = &d->board->stack.ply[0];
    double c = cos(d->angle) * cos(d->angle), s = 1 - c, resin = creal(ply->eps_resin);
    double warp_z = creal(ply->warp_t), warp_n = c * creal(ply->warp_t) + s * creal(ply->warp_a);
    double fill_z = creal(ply->fill_t), fill_n = s * creal(ply->fill_t) + c * creal(ply->fill_a);
    assert_true(ply->cell.nz <= MOST);
    for (size_t r = 0; r < mesh->rows; r++) {
        const struct ww_row *row = &mesh->row[r];
        if (row->ply != 0 || (mesh->row[r - 1].ply == 0 && mesh->row[r - 1].slice == row->slice))
            continue;
        double warp, fill, bz = creal(row->eps_z), bn = creal(row->eps_n), zz = bz * bz, nn = bn * bn;
        fractions(d, row->slice, x, y, &warp, &fill);
        column->yarns[row->slice] =
            (struct change){{warp * (warp_z - resin) + fill * (fill_z - resin),
                             zz * (warp * (1 / warp_z - 1 / resin) + fill * (1 / fill_z - 1 / resin))},
                            {warp * (warp_n - resin) + fill * (fill_n - resin),
                             nn * (warp * (1 / warp_n - 1 / resin) + fill * (1 / fill_n - 1 / resin))}};
        column->rest[row->slice] = (struct change){{resin - bz, zz / resin - bz}, {resin - bn, nn / resin - bn}};
    }
}

/* How far the middle of a row is above that of its slice, in heights of the slice. */
static double off_middle(const struct ww_mesh *mesh, size_t row)
{
    double z = 0, middle = 0, low = -1, high = 0;
    for (size_t r = 0; r < mesh->rows; z += mesh->row[r++].dz) {
        if (r == row)
            middle = z + 0.5 * mesh->row[r].dz;
        if (mesh->row[r].ply == 0 && mesh->row[r].slice == mesh->row[row].slice) {
            low = low < 0 ? z : low;
            high = z + mesh->row[r].dz;
        }
    }
    return (middle - 0.5 * (low + high)) / (high - low);
}

/* In a row, with the yarns of its own slice and of the two beside it. */
static double change_in(const struct column *column, size_t slice, size_t slices, double off, int bound, bool up)
{
#define OF(change) (up ? (change).up[bound] : (change).across[bound])
    double above = slice + 1 < slices ? OF(column->yarns[slice + 1]) : 0;
    double below = slice > 0 ? OF(column->yarns[slice - 1]) : 0;
    return OF(column->rest[slice]) + OF(column->yarns[slice]) + 0.5 * off * (above - below);
#undef OF
}

/* Changes of C+ and P from the background: [bound][11, 12, 22]. */
static void changes_on(const struct direct *d, int grid, double x, double y, double out[2][3])
{
    const struct ww_mesh *mesh = &d->mesh[grid];
    size_t slices = d->board->stack.ply[0].cell.nz;
    int legs = mesh->pair ? 2 : 1;
    double nx = -cos(d->angle), ny = sin(d->angle), h = mesh->step;
    memset(out, 0, 6 * sizeof out[0][0]);
    for (size_t i = 0; i <= mesh->columns; i++) {
        double n = ((double)i - 0.5 * (double)mesh->columns) * h;
        struct column at_node, beside;
        fill_column(d, mesh, x + n * nx, y + n * ny, &at_node);
        fill_column(d, mesh, x + (n + 0.5 * h) * nx, y + (n + 0.5 * h) * ny, &beside);
        for (size_t r = 0; r < mesh->rows; r++) {
            const struct ww_row *row = &mesh->row[r];
            if (row->ply != 0)
                continue;
            double up[2] = {0}, low[2] = {0}, high[2] = {0}, off = off_middle(mesh, r);
            for (int c = 0; c < legs; c++) {
                up[c] = potential(d, grid, c, i, r + 1) - potential(d, grid, c, i, r);
                if (i < mesh->columns) {
                    low[c] = potential(d, grid, c, i + 1, r) - potential(d, grid, c, i, r);
                    high[c] = potential(d, grid, c, i + 1, r + 1) - potential(d, grid, c, i, r + 1);
                }
            }
            static const int first[3] = {0, 0, 1}, second[3] = {0, 1, 1};
            for (int bound = 0; bound < 2; bound++)
                for (int ij = 0; ij < 3; ij++) {
                    int a = first[ij], b = second[ij];
                    out[bound][ij] +=
                        change_in(&at_node, row->slice, slices, off, bound, true) * up[a] * up[b] * h / row->dz +
                        change_in(&beside, row->slice, slices, off, bound, false) *
                            (low[a] * low[b] + high[a] * high[b]) * row->dz / (2 * h);
                }
        }
    }
}

static void changes(const struct direct *d, double x, double y, double out[2][3])
{
    double fine[2][3];
    changes_on(d, 0, x, y, out);
    changes_on(d, 1, x, y, fine);
    for (int i = 0; i < 6; i++)
        out[i / 3][i % 3] = fine[i / 3][i % 3] + (fine[i / 3][i % 3] - out[i / 3][i % 3]) / (d->ratio - 1);
}

void direct_matrices(const struct direct *d, double x, double y, double c[2][3])
{
    const struct ww_line *line = d->board->line;
    bool pair = line->mesh.pair;
    double own = pair ? 0.5 * (line->limit.c_even + line->limit.c_odd) : line->limit.c_even;
    double mutual = pair ? 0.5 * (line->limit.c_even - line->limit.c_odd) : 0;
    double change[2][3];
    changes(d, x, y, change);
    double p11 = own + change[1][0], p12 = mutual + change[1][1], p22 = pair ? own + change[1][2] : 1;
    double det = p11 * p22 - p12 * p12;
    c[0][0] = own + change[0][0];
    c[0][1] = mutual + change[0][1];
    c[0][2] = own + change[0][2];
    c[1][0] = (own * own * p22 - 2 * own * mutual * p12 + mutual * mutual * p11) / det;
    c[1][1] = (own * mutual * p22 - (own * own + mutual * mutual) * p12 + own * mutual * p11) / det;
    c[1][2] = (mutual * mutual * p22 - 2 * own * mutual * p12 + own * own * p11) / det;
}

void direct_slowness(const struct direct *d, double x, double y, double slowness[2])
{
    const struct ww_line *line = d->board->line;
    bool pair = line->mesh.pair;
    double c[2][3];
    direct_matrices(d, x, y, c);
    for (int leg = 0; leg < 2; leg++) {
        double mean = 0.5 * (c[0][2 * leg] + c[1][2 * leg]) - 0.5 * (c[0][1] + c[1][1]);
        slowness[leg] =
            pair || !leg
                ? sqrt(line->limit.dk_correction * mean / (pair ? line->limit.ca_odd : line->limit.ca_even)) / WW_C0
                : 0;
    }
}

void direct_delay(const struct direct *d, double x, double y, double length, double delay[2])
{
    /* Gauss-Legendre, 8 points: Abramowitz and Stegun, table 25.4 */
    static const double place[4] = {0.183434642495650, 0.525532409916329, 0.796666477413627, 0.960289856497536};
    static const double weight[4] = {0.362683783378362, 0.313706645877887, 0.222381034453374, 0.101228536290376};
    int panels = (int)ceil(length / (8 * PANEL));
    double half = 0.5 * length / panels;
    delay[0] = delay[1] = 0;
    for (int p = 0; p < panels; p++)
        for (int i = 0; i < 8; i++) {
            double s = (2 * p + 1) * half + (i < 4 ? 1 : -1) * place[i % 4] * half, slowness[2];
            direct_slowness(d, x + s * sin(d->angle), y + s * cos(d->angle), slowness);
            for (int leg = 0; leg < 2; leg++)
                delay[leg] += half * weight[i % 4] * slowness[leg];
        }
}
