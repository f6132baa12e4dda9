/* first_order.h - the capacitances of one cross-section to first order in its cloth, as the kernel has them.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_LINE_FIRST_ORDER_H
#define WW_LINE_FIRST_ORDER_H

#include "line/local.h"

/* A row of the fabric: what its yarns change, and their lateral means, warp and fill. */
struct ww_first_order_row {
    struct ww_slice_change change;
    double mean[2];
};

/* What does not depend on where the cloth of the one ply in place lies. Read only once created. */
struct ww_first_order {
    size_t products;     /* of the legs: 11, 12, 22; of a single trace 11 alone */
    size_t rows, halves; /* rows of the fabric; half steps of the grid across */
    double *energy;      /* [row][axis][product][half step] E.E [eps0 F/m per relative permittivity] */
    struct ww_first_order_row *row;
    double level[WW_CHANGES]; /* change with every ply at its mean over the cell, as the kernel's is, */
    double alone
        [WW_CHANGES]; /* and with the other plies' slices at their lateral mean, as full sections of this ply have them */
};

/* line: on one grid, with its background; at_angle: its mesh with the lateral means at the section's angle; angle: of the trace from
 * the warp of the panel [rad]; ply: the one in place. WW_NO_MEMORY. */
enum ww_status ww_first_order_create(struct ww_first_order *estimate, const struct ww_line *line,
                                     const struct ww_mesh *at_angle, double angle, size_t ply,
                                     struct ww_error *error);
void ww_first_order_destroy(struct ww_first_order *estimate);

/* Change of C+ and P from the background (enum ww_change) with this cloth in place and the others at their mean, in units of eps0
 * F/m. */
void ww_first_order_change(const struct ww_first_order *estimate, const struct ww_difference *difference,
                           double change[WW_CHANGES]);

#endif
