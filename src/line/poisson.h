/* poisson.h - the layered operator of a line and its exact inverse.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_LINE_POISSON_H
#define WW_LINE_POISSON_H

#include "line/mesh.h"

/* One period along the trace: a single sample for a cross-section. */
struct ww_period {
    size_t samples;
    double step; /* [m] */
};
static const struct ww_period WW_CROSS_SECTION = {1, 1};

/* Laterally uniform problem: unknowns are the interior nodes, a[((level-low)*along + j)*nodes + (column-1)]. */
struct ww_layered {
    size_t nodes;       /* columns - 1 */
    size_t along;       /* samples along the period, periodic */
    size_t low;         /* mesh level of the first unknown; 1 unless levels are eliminated */
    size_t levels;      /* rows - 1, or as many as are kept */
    double *across;     /* [levels] conductance between neighbours on one level, in units of eps0 */
    double *length;     /* [levels] conductance along the trace */
    double *up;         /* [levels+1] conductance between levels, with the one below the first level first */
    double *mode;       /* [nodes] eigenvalues of the second difference across, 2 - 2 cos(pi m/columns) */
    double *mode_along; /* [along/2+1] and along, 2 - 2 cos(2 pi j/along) */
    double *pivot;      /* [levels][along/2+1][nodes] inverse pivots of the tridiagonal factorisation, mode by mode */
    struct ww_sine_fourier *transform;
};

/* vacuum: take eps = 1 in every row. */
enum ww_status ww_layered_create(struct ww_layered *layered, const struct ww_mesh *mesh, struct ww_period period,
                                 bool vacuum, struct ww_error *error);
/* The same, of a cross-section, on mesh levels low..high alone (1 <= low <= high < rows). The levels beyond carry no charge
 * and are eliminated: the solution on those kept is the same, to rounding. */
enum ww_status ww_layered_create_band(struct ww_layered *layered, const struct ww_mesh *mesh, size_t low, size_t high,
                                      struct ww_error *error);
void ww_layered_destroy(struct ww_layered *layered);

/* To modes and back, so many levels; back includes the normalisation. */
void ww_layered_to_modes(const struct ww_layered *layered, double *a, size_t levels);
void ww_layered_from_modes(const struct ww_layered *layered, double *a, size_t levels);
/* a := A^-1 a in modes, of an a that is 0 on the levels below `first` (from 0), on levels `last` and above alone. */
void ww_layered_solve_modes(const struct ww_layered *layered, double *a, size_t first, size_t last);
/* a := A^-1 a on nodes. */
void ww_layered_solve(const struct ww_layered *layered, double *a);

/* Potential of a unit charge on its own level, mode by mode of harmonic `harmonic` (0..along/2): own[(k-low)*nodes + m] of
 * the levels low..high (mesh levels, of those kept). own has room for one level more, which is spoilt. */
void ww_layered_own(const struct ww_layered *layered, size_t harmonic, size_t low, size_t high, double *own);
/* Green function of that harmonic between `level`, whose own potential is own[nodes], and the levels low..level, mode by
 * mode: green[(k-low)*(columns+1) + m] such that G(i,level; i',k) = 4 sum over m of green sin(pi m i/columns)
 * sin(pi m i'/columns). Its cosine sum (ww_cosine_apply) is g(d) such that G = g(|i-i'|) - g(i+i'), g even and of period
 * 2 columns. */
void ww_layered_green(const struct ww_layered *layered, size_t harmonic, size_t low, size_t level, const double *own,
                      double *green);

#endif
