/* local.h - the cloth in place: conductances of every edge of the grid.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_LINE_LOCAL_H
#define WW_LINE_LOCAL_H

#include "line/line.h"

/* Conductances per sample along, in units of eps0, indexed as the unknowns of ww_layered: up[(row*along + j)*nodes +
 * column-1] over all rows, across[(level-1)*along + j][0..nodes] with the edge to the left of the first node first,
 * length[...] to the next sample along (NULL for a cross-section). */
struct ww_local {
    size_t nodes, along, levels;
    double *up, *across, *length;
};

/* place[ply] = where the trace's centre is at the first sample, in the ply's own fabric frame [m]. only: the ply (from
 * 1) whose cloth is in place, the others at their lateral mean; 0: all. */
enum ww_status ww_local_build(struct ww_local *local, const struct ww_line *line, double angle,
                              const double (*place)[2], size_t only, struct ww_period period, struct ww_error *error);
void ww_local_clear(struct ww_local *local);

/* charge := A potential. */
void ww_local_apply(const struct ww_local *local, const double *potential, double *charge);

/* What the cloth of a cross-section changes of the conductances of a laterally uniform grid. Vectors are as those of a
 * ww_layered, on the mesh levels low..low+levels-1 alone: those at the mesh rows first..first+rows-1, which differ. */
struct ww_difference {
    size_t nodes, low, levels;
    size_t first, rows;
    double *up;     /* [rows][nodes] */
    double *across; /* [rows+1][nodes+1] on the levels first..first+rows, as in ww_local */
    double *warp,
        *fill; /* [rows][2 (nodes+1)] fractions of the yarns in every half step of the grid, from..end-1; beyond, 0 */
    size_t from, end;
};

/* Columns of cloth that are sampled over each step of the grid, even; of a cross-section far from its copper fewer. */
enum { WW_COLUMNS_PER_STEP = 8, WW_COLUMNS_FAR = 2 };

/* Where cloth is laid: at the nodes from..to-1 (from 0); beyond them the grid stays uniform. Step i is that to the left of node
 * i; near_from..near_to-1 are sampled at WW_COLUMNS_PER_STEP columns, the others at WW_COLUMNS_FAR. */
struct ww_laid {
    size_t from, to, near_from, near_to;
};

/* mesh: the line's, its eps_n of every row for this angle (ww_mesh_at_angle). only, place: as above. */
enum ww_status ww_difference_build(struct ww_difference *difference, const struct ww_line *line,
                                   const struct ww_mesh *mesh, const struct ww_layered *layered, double angle,
                                   const double (*place)[2], size_t only, struct ww_laid laid,
                                   struct ww_error *error);
/* The same places on the grid with every cell halved (ww_mesh_refine). */
struct ww_laid ww_laid_refined(struct ww_laid laid);
/* The same on two nested grids, the coarse one first, the fine one with every cell of it halved. The cloth is sampled once, for the
 * fine grid; the coarse one has the means of its columns. laid: on the coarse grid. */
enum ww_status ww_difference_build_nested(struct ww_difference difference[2], const struct ww_line *line,
                                          const struct ww_mesh *const mesh[2],
                                          const struct ww_layered *const layered[2], double angle,
                                          const double (*place)[2], size_t only, struct ww_laid laid,
                                          struct ww_error *error);
void ww_difference_clear(struct ww_difference *difference);
/* charge := D potential. */
void ww_difference_apply(const struct ww_difference *difference, const double *potential, double *charge);

/* Sets eps_n of the rows of a copy of the line's mesh to their lateral mean at this angle. */
void ww_mesh_at_angle(const struct ww_line *line, double angle, struct ww_mesh *mesh);
/* The mesh rows of a ply's fabric. */
void ww_rows_of_ply(const struct ww_mesh *mesh, size_t ply, size_t *first, size_t *rows);

#endif
