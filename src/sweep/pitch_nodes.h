/* pitch_nodes.h - a pair of any width and pitch, or a trace of any width, between a few that are solved.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_SWEEP_PITCH_NODES_H
#define WW_SWEEP_PITCH_NODES_H

#include "core/progress.h"
#include "weftwise/sweep.h"

struct ww_pitch_nodes;
/* Solves the cross-sections that the request's ranges need. A loop of its own threads, of which each step is told. */
enum ww_status ww_pitch_nodes_create(struct ww_pitch_nodes **nodes, const struct ww_pitch_request *request,
                                     struct ww_progress_run *progress, double share, struct ww_error *error);
void ww_pitch_nodes_destroy(struct ww_pitch_nodes *nodes);
/* Least gap between the legs of a pair that there is an answer for [m]; 0 of a single trace. */
double ww_pitch_nodes_gap(const struct ww_pitch_nodes *nodes);

/* The nodes at one width within the request's range, for pitches `from` to `to` within its range, and what lies between them. Safe
 * to use several at once, and one by several threads. */
struct ww_pitch_row;
enum ww_status ww_pitch_row_create(struct ww_pitch_row **row, const struct ww_pitch_nodes *nodes, double width,
                                   double from, double to, struct ww_error *error);
void ww_pitch_row_destroy(struct ww_pitch_row *row);
/* Worst [s] and impedance [ohm] at a pitch of the row's with at least the least gap; both -1 where there is less. */
enum ww_status ww_pitch_row_at(const struct ww_pitch_row *row, double pitch, double *worst, double *impedance,
                               struct ww_error *error);

#endif
