/* weftwise/laminate.h - what cloth in resin is worth: bundle permittivity, bounds, and the stackup.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WEFTWISE_LAMINATE_H
#define WEFTWISE_LAMINATE_H

#include <complex.h>

#include "weftwise/core.h"
#include "weftwise/fabric.h"

#ifdef __cplusplus
extern "C" {
#endif

/* dk (1 - j df): the time factor is exp(+j w t), loss is a negative imaginary part. */
WW_API double _Complex ww_permittivity(double dk, double df);
/* Across the fibres: 2-D Maxwell Garnett (first term of Rayleigh's series for cylinders), eps_g in eps_r. */
WW_API double _Complex ww_bundle_across(double _Complex eps_g, double _Complex eps_r, double packing);
/* Along the fibres: the arithmetic mean. */
WW_API double _Complex ww_bundle_along(double _Complex eps_g, double _Complex eps_r, double packing);

enum ww_layer_kind {
    WW_LAYER_PLANE,
    WW_LAYER_TRACE,
    WW_LAYER_PLY,
    WW_LAYER_RESIN,
    WW_LAYER_SOLID,
    WW_LAYER_MASK,
    WW_LAYER_AIR
};

/* One layer of the stackup, as the study gives it. */
struct ww_layer {
    enum ww_layer_kind kind;
    double thickness;       /* [m]; of the trace layer: the copper; 0 for plane and open air */
    double dk, df;          /* solid and mask: its own; resin and the fill beside the trace: the resin's */
    struct ww_style style;  /* ply only */
    struct ww_resin resin;  /* ply, resin, trace fill */
    double turn;            /* ply only: the cloth's own angle in its plane [rad] */
    double shift_x, shift_y; /* ply only: registration of the cell [m], in the ply's own fabric frame */
    double sheet_dk;        /* ply only: bulk Dk of the data sheet; 0 if not given. Then the resin Dk is solved */
    int line;               /* of the study, for messages */
};

/* A ply made ready: its cell and what the dielectric in it is worth. */
struct ww_ply {
    size_t layer; /* index into ww_stack.layer */
    struct ww_cell cell;
    double turn, shift_x, shift_y;
    double thickness;               /* of the ply [m] */
    double _Complex eps_resin;      /* after solving for the sheet's Dk, if given */
    double _Complex eps_glass;
    double _Complex warp_t, warp_a; /* bundle across and along */
    double _Complex fill_t, fill_a;
    /* report */
    double glass_fraction;              /* by volume, of the ply */
    double resin_content;               /* by weight; NaN-free: negative if the resin's density is not known */
    double dk_low, dk_high;             /* extremes of the series column average over the cell */
    double dk_series, dk_parallel;      /* cell means of the series and of the parallel column average */
    double dk_bulk;                     /* what a data sheet's thick-sample Dk corresponds to */
};

struct ww_stack {
    struct ww_layer *layer; /* top to bottom, as a fabricator draws it */
    size_t count;
    struct ww_ply *ply; /* top to bottom */
    size_t plies;
};

/* Check the layers (one trace; a plane at the bottom; plane, or air, or mask-then-air at the top; plies not
 * thinner than their fabric) and build cells and permittivities. stack->layer must be set; ply is filled. */
WW_API enum ww_status ww_stack_build(struct ww_stack *stack, const struct ww_cell_options *options,
                                     struct ww_error *error);
WW_API void ww_stack_clear(struct ww_stack *stack);

/* Local Dk of one ply over its cell: the thickness average of eps_zz in series (t / integral dz/eps) or in
 * parallel: the two Wiener bounds of each column. Map is nx by ny of the cell. */
enum ww_bound { WW_SERIES, WW_PARALLEL };
WW_API enum ww_status ww_ply_dk_map(const struct ww_ply *ply, enum ww_bound bound, struct ww_map *map,
                                    struct ww_error *error);

/* Bulk Dk of a ply at a resin permittivity (used to solve for the resin's Dk), and the resin Dk that makes the
 * bulk Dk of the cell equal sheet_dk (WW_UNPHYSICAL if none in [1, 100] does). */
WW_API double ww_ply_bulk_dk(const struct ww_cell *cell, double ply_thickness, double glass_dk, double resin_dk);
WW_API enum ww_status ww_resin_dk_solve(const struct ww_cell *cell, double ply_thickness, double glass_dk,
                                        double sheet_dk, double *resin_dk, struct ww_error *error);

#ifdef __cplusplus
}
#endif
#endif
