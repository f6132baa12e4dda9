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
/* eps(f) over dk, of a material with the loss tangent df where its sheet states both, at `sheet` [Hz]: the causal wideband Debye
 * law between 10 kHz and 1 THz. A. R. Djordjevic, R. M. Biljic, V. D. Likar-Smiljanic, T. K. Sarkar, IEEE Trans. EMC 43, 662,
 * 2001. df 0: 1. sheet and f within these limits. */
#define WW_DEBYE_LEAST 1e4 /* [Hz] */
#define WW_DEBYE_MOST 1e12
WW_API double _Complex ww_permittivity_change(double df, double sheet, double f);
/* Across the fibres: 2-D Maxwell Garnett (first term of Rayleigh's series for cylinders), eps_g in eps_r. packing in
 * [0, 1], both ends exact. Low against the exact square array of cylinders by 0.1 % at 0.5 and 0.5 % at 0.7 for glass
 * 6.6 in resin 3.2 (tests/laminate/test_mixing.c). */
WW_API double _Complex ww_bundle_across(double _Complex eps_g, double _Complex eps_r, double packing);
/* Along the fibres: the arithmetic mean, exact. */
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
    double thickness;        /* [m] below 10 mm; of the trace layer: the copper, may be 0; 0 for plane and open air */
    double dk, df;           /* solid and mask: its own; resin and the fill beside the trace: the resin's */
    double frequency;        /* at which these hold [Hz]; 0: not stated */
    struct ww_style style;   /* ply only */
    struct ww_resin resin;   /* ply, resin, trace fill */
    double turn;             /* ply only: the cloth's own angle in its plane [rad] */
    double shift_x, shift_y; /* ply only: registration of the cell [m], in the ply's own fabric frame */
    double sheet_dk;         /* ply only: bulk Dk of the data sheet; 0 if not given. Then the resin Dk is solved */
    int line;                /* of the study, for messages */
    double cloth_height; /* ply only: of the cloth's middle above the ply's lower face [m]; 0: half the thickness */
    const struct ww_patch
        *patch; /* ply only, not owned: real cloth that the sections and the volume have in place of the
                                     style's perfect weave; NULL: none. Kernel and correction are those of the perfect weave */
};

/* A ply made ready: its cell and what the dielectric in it is worth. */
struct ww_ply {
    size_t layer; /* index into ww_stack.layer */
    struct ww_cell cell;
    double turn, shift_x, shift_y;
    double thickness;          /* of the ply [m] */
    double _Complex eps_resin; /* after solving for the sheet's Dk, if given */
    double _Complex eps_glass;
    double _Complex warp_t, warp_a; /* bundle across and along */
    double _Complex fill_t, fill_a;
    /* report */
    double glass_fraction;         /* by volume, of the ply */
    double resin_content;          /* by weight; NaN-free: negative if the resin's density is not known */
    double dk_low, dk_high;        /* extremes of the series column average over the cell */
    double dk_series, dk_parallel; /* cell means of the series and of the parallel column average */
    double dk_bulk;                /* ww_ply_bulk_dk at eps_resin: what a data sheet states */
    double cloth_height;           /* of the cloth's middle above the ply's lower face [m] */
};

struct ww_stack {
    struct ww_layer *layer; /* top to bottom, as a fabricator draws it */
    size_t count;
    struct ww_ply *ply; /* top to bottom */
    size_t plies;
};

/* Check the layers and build cells and permittivities. stack->layer and ->count must be set and stay the caller's;
 * ply is filled. A stackup is one trace, a plane at the bottom, a plane (stripline) or air (microstrip) at the top,
 * and dielectric layers between, at least one between the trace and each plane. Each message carries the line of its
 * layer; the file is left for the caller to fill in. On failure no ply is left.
 * WW_INVALID: the order of layers, a thickness, dk or df out of range. WW_UNPHYSICAL: a ply thinner than its fabric, or
 * whose fabric lies so high or low that it would leave the ply, a sheet Dk that no resin can give, a style that ww_cell_build refuses. WW_NO_MEMORY. */
WW_API enum ww_status ww_stack_build(struct ww_stack *stack, const struct ww_cell_options *options,
                                     struct ww_error *error);
/* The cloth of a ply. */
WW_API struct ww_cloth ww_stack_cloth(const struct ww_stack *stack, size_t ply);
/* Free what ww_stack_build made; the layers stay the caller's. Twice is fine. */
WW_API void ww_stack_clear(struct ww_stack *stack);

/* --- an opening: plies on each other, of one resin, that cloths share -------------------------------------------------- */

/* How many layers from this one on are one opening: plies of the same resin, turn and sheet Dk. 0: the layer is no ply. */
WW_API size_t ww_opening_layers(const struct ww_layer *layer, size_t count);
/* Its cloths as a study has them, "2x1035" or "1035+1078"; returns out. */
WW_API char *ww_opening_text(const struct ww_layer *layer, size_t layers, char *out, size_t size);
/* Its thickness [m]. */
WW_API double ww_opening_thickness(const struct ww_layer *layer, size_t layers);
/* Fill an opening with cloths, top to bottom: a ply for each, layer[count], all else as in `opening` (whose own style and cloth
 * height do not matter where there are several). Each ply has the same share of resin by volume, but no ply is thinner than its
 * cloth. Then each cloth has its own registration as any ply has. WW_UNPHYSICAL: thinner than the cloths together. */
WW_API enum ww_status ww_opening_fill(struct ww_layer *layer, const struct ww_layer *opening,
                                      const struct ww_style *style, size_t count, struct ww_error *error);

/* Local Dk of one ply over its cell: the thickness average of eps_zz in series (t / integral dz/eps) or in
 * parallel: the two Wiener bounds of each column. Map is nx by ny of the cell. WW_NO_MEMORY. */
enum ww_bound { WW_SERIES, WW_PARALLEL };
WW_API enum ww_status ww_ply_dk_map(const struct ww_ply *ply, enum ww_bound bound, struct ww_map *map,
                                    struct ww_error *error);

/* Height of glass that a laser beam of a diameter [m] meets at each position of the cell, mean over the beam [m]. The rim of the
 * beam leaves 1e-3 (tests/laminate/test_via.c). WW_NO_MEMORY. */
WW_API enum ww_status ww_ply_glass_map(const struct ww_ply *ply, double diameter, struct ww_map *map,
                                       struct ww_error *error);
#define WW_VIA_NO_GLASS 1e-9 /* [m] of glass that is none */
struct ww_via {
    double least, mean, most; /* [m] */
    double without;           /* share of the positions where the beam meets no glass at all */
};
WW_API struct ww_via ww_via_of_map(const struct ww_map *map);

/* Bulk Dk of a ply, field through the thickness, at a resin Dk: the midpoint of the two bounds on it (columns side by
 * side, levels one on the other). ply_thickness [m] >= that of the cell, both Dk >= 1. */
WW_API double ww_ply_bulk_dk(const struct ww_cell *cell, double ply_thickness, double glass_dk, double resin_dk);
/* The resin Dk that makes the bulk Dk equal sheet_dk, to rounding. WW_UNPHYSICAL, with the range that can be reached, if
 * none from 1.8 to that of the glass does. */
WW_API enum ww_status ww_resin_dk_solve(const struct ww_cell *cell, double ply_thickness, double glass_dk,
                                        double sheet_dk, double *resin_dk, struct ww_error *error);

#ifdef __cplusplus
}
#endif
#endif
