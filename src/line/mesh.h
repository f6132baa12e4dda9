/* mesh.h - the grid of a cross-section: columns across, rows up, copper on nodes.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_LINE_MESH_H
#define WW_LINE_MESH_H

#include "weftwise/line.h"

#define WW_NO_PLY ((size_t)-1)

/* One row of grid cells: laterally, the mean dielectric of its slice. */
struct ww_row {
    double dz;                    /* [m] */
    double _Complex eps_z, eps_n; /* lateral mean along z, and across the trace (mean over all angles) */
    size_t ply, slice;            /* cell slice the row lies in; ply is WW_NO_PLY outside the fabrics */
};

/* Nodes: columns i = 0..columns at n = (i - columns/2) step, levels k = 0..rows from the lower plane up; the outermost
 * nodes on all four sides are at 0 V. Copper covers the nodes of levels bottom..top, and of columns
 * first..first+span (leg 1) and their mirror image columns-first-span..columns-first (leg 2, of a pair). */
struct ww_mesh {
    double step;    /* column width [m] */
    size_t columns; /* even */
    size_t rows;
    struct ww_row *row;
    size_t bottom, top; /* levels of the copper's faces; equal for zero thickness */
    size_t first, span;
    bool pair;
};

struct ww_mesh_options {
    double closed; /* how far the window reaches beside the copper: between planes in heights between them, */
    double
        open; /* below an open top in heights of the dielectric with half the trace's width, above the copper as well */
    size_t exact; /* steps over the width up to which, at least, a common step of width and pitch is taken as it is */
    double miss;  /* else the pitch is moved by up to this share of the width */
    double height; /* grid steps over the distance to the nearer plane, at fineness 1 */
    double cloth;  /* the step is at most this share of the one that carries all harmonics of the cloth */
};
static const struct ww_mesh_options WW_WHOLE_MESH = {3, 24, 64, 5e-4, 5, 0.95};

enum ww_status ww_mesh_build_in(struct ww_mesh *mesh, const struct ww_stack *stack, const struct ww_trace *trace,
                                double fineness, struct ww_mesh_options options, struct ww_error *error);
/* The same with WW_WHOLE_MESH. */
enum ww_status ww_mesh_build(struct ww_mesh *mesh, const struct ww_stack *stack, const struct ww_trace *trace,
                             double fineness, struct ww_error *error);
/* The same cross-section with every cell halved in both directions. */
enum ww_status ww_mesh_refine(const struct ww_mesh *mesh, struct ww_mesh *fine, struct ww_error *error);
enum ww_status ww_mesh_copy(const struct ww_mesh *mesh, struct ww_mesh *copy, struct ww_error *error);
void ww_mesh_clear(struct ww_mesh *mesh);
#endif
