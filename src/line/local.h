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

#endif
