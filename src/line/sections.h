/* sections.h - many cross-sections of one line at one angle.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_LINE_SECTIONS_H
#define WW_LINE_SECTIONS_H

#include "line/conjugate.h"
#include "line/first_order.h"

/* What all cross-sections at one angle share: the layered problem on the levels of cloth and copper, its background. Read
 * only once created: any number of threads may solve sections of it at once. The line must outlive it. */
struct ww_sections {
    const struct ww_line *line;
    double angle;        /* [rad] of the trace from the warp of the panel */
    size_t only;         /* the ply (from 1) whose cloth is in place, the others at their lateral mean; 0: all */
    struct ww_laid laid; /* the cloth, where there is field */
    struct ww_mesh mesh;
    struct ww_inverse inverse;
    struct ww_first_order first_order; /* of one ply in place, on a line of one grid; else empty */
};

/* WW_INVALID: an angle that is not finite, a ply that is not there; WW_NO_MEMORY. Cost: that of some five sections. */
enum ww_status ww_sections_create(struct ww_sections *sections, const struct ww_line *line, double angle, size_t only,
                                  struct ww_error *error);
void ww_sections_destroy(struct ww_sections *sections);

/* Delay [s/m] of the legs, by the odd drive alone (single: by its one drive), with the trace's centre at place[ply] in each
 * ply's own fabric frame [m]. tolerance: of the residual in the norm of the preconditioner, relative to the start; the
 * delays are off by about its square. WW_NOT_CONVERGED, WW_NO_MEMORY: delay is 0. */
enum ww_status ww_sections_legs(const struct ww_sections *sections, const double (*place)[2], double tolerance,
                                double delay[2], struct ww_error *error);

/* Sections on one grid, or on two nested ones, where line[1] is line[0] refined (ww_line_create_refined). Statuses as above; each
 * is to be destroyed. */
enum ww_status ww_sections_create_nested(struct ww_sections sections[], const struct ww_line *const line[],
                                         size_t grids, double angle, size_t only, struct ww_error *error);
/* What one section tells on one grid, of a single trace in [0]: delays [s/m]; to first order the change of capacitance (enum
 * ww_change), 0 where the sections have no first_order; and where modes are asked for, of a pair, S_even - S_odd by
 * (C11 + C22)/2 +- C12 [s/m]. */
struct ww_told {
    double delay[2], change[WW_CHANGES], apart;
};
/* told[grid], of cloth that is sampled once. Statuses as ww_sections_legs. */
enum ww_status ww_sections_nested(const struct ww_sections sections[], size_t grids, const double (*place)[2],
                                  double tolerance, bool modes, struct ww_told told[], struct ww_error *error);

#endif
