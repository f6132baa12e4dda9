/* conjugate.h - conjugate gradients on the grid with the cloth in place.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_LINE_CONJUGATE_H
#define WW_LINE_CONJUGATE_H

#include "line/copper.h"
#include "line/local.h"

/* Bytes that ww_conjugate_solve holds at once, per unknown, everything included. */
#define WW_BYTES_PER_UNKNOWN 88

struct ww_conjugate_report {
    int iterations;
    double residual; /* reached, in the norm of the preconditioner, relative to the start */
};

/* What does not depend on where the cloth lies: the exact inverse of the layered problem with its copper, and the
 * background that a solution starts from. */
struct ww_inverse {
    struct ww_background background;
    struct ww_layered layered;
    struct ww_copper copper;
    struct ww_sine *sine; /* across, on the levels of the copper */
};
enum ww_status ww_inverse_create(struct ww_inverse *inverse, const struct ww_line *line, struct ww_period period,
                                 struct ww_error *error);
/* Of a cross-section, on mesh levels low..high alone, which hold the copper: see ww_layered_create_band. */
enum ww_status ww_inverse_create_band(struct ww_inverse *inverse, const struct ww_mesh *mesh, size_t low, size_t high,
                                      struct ww_error *error);
void ww_inverse_destroy(struct ww_inverse *inverse);

/* Solve with the copper of each leg in turn at 1 V, the other at 0 V: leg 1, and with drives = 2 leg 2 as well.
 * charge[drive][0..1]: of leg 1 and leg 2, in units of eps0 F/m, mean over the period. WW_NOT_CONVERGED above
 * `tolerance` after `most` iterations: report holds what was reached, charge is 0. */
enum ww_status ww_conjugate_solve(const struct ww_line *line, const struct ww_local *local, struct ww_period period,
                                  int drives, double tolerance, int most, double charge[2][2],
                                  struct ww_conjugate_report *report, struct ww_error *error);
/* Charges of the legs of one cross-section with leg 1 at 1 V and leg 2 at -1 V, with even_drive both at 1 V; single: of the
 * trace at 1 V; from what the cloth changes of the conductances of `mesh`. The inverse is a band's that holds copper and cloth; several solutions may share
 * it, also at once. */
enum ww_status ww_conjugate_difference(const struct ww_mesh *mesh, const struct ww_inverse *inverse,
                                       const struct ww_difference *difference, bool even_drive, double tolerance,
                                       int most, double charge[2], struct ww_conjugate_report *report,
                                       struct ww_error *error);
/* The potential on all interior nodes, to be freed by the caller, with 1 V on the trace; of a pair with leg 1 at 1/2 V
 * and leg 2 at -1/2 V. NULL on failure. */
enum ww_status ww_conjugate_potential(const struct ww_line *line, const struct ww_local *local,
                                      struct ww_period period, double tolerance, int most, double **potential,
                                      struct ww_conjugate_report *report, struct ww_error *error);

#endif
