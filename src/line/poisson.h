/* poisson.h - the layered operator of a cross-section and its exact inverse.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_LINE_POISSON_H
#define WW_LINE_POISSON_H

#include "line/mesh.h"

/* Laterally uniform problem on a mesh: unknowns are the interior nodes, a[(level-1)*(columns-1) + (column-1)]. */
struct ww_layered {
    size_t nodes;   /* columns - 1, per level */
    size_t levels;  /* rows - 1 */
    double *across; /* [levels] conductance between neighbours on one level, in units of eps0 */
    double *up;     /* [rows] conductance between levels */
    double *mode;   /* [nodes] eigenvalues of the second difference, 2 - 2 cos(pi m/columns) */
    double *pivot;  /* [levels*nodes] inverse pivots of the tridiagonal factorisation, mode by mode */
    struct ww_sine *sine;
};

/* vacuum: take eps = 1 in every row. */
enum ww_status ww_layered_create(struct ww_layered *layered, const struct ww_mesh *mesh, bool vacuum,
                                 struct ww_error *error);
void ww_layered_destroy(struct ww_layered *layered);

/* a := A^-1 a for sine coefficients (rows already transformed, result left transformed). */
void ww_layered_solve_modes(const struct ww_layered *layered, double *a);
/* a := A^-1 a for values on nodes. */
void ww_layered_solve(const struct ww_layered *layered, double *a);

/* Green function between levels low..high (1-based mesh levels): green[((k-low)*(high-low+1) + (k'-low))*(columns+1) + d]
 * holds g(d) such that G(i,k; i',k') = g(|i-i'|) - g(i+i'), g periodic and even with period 2 columns. */
enum ww_status ww_layered_green(const struct ww_layered *layered, size_t low, size_t high, double *green,
                                struct ww_error *error);

#endif
