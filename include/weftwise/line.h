/* weftwise/line.h - how a trace or a pair weighs the dielectric around it.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Quasi-TEM. The cross-section lies in (n, z): n to the left of travel, z up. Leg 1 is the one at +n (left of
 * travel), leg 2 at -n. The background is the lateral mean of every slice; it is solved once, for every angle.
 */
#ifndef WEFTWISE_LINE_H
#define WEFTWISE_LINE_H

#include "weftwise/core.h"
#include "weftwise/laminate.h"

#ifdef __cplusplus
extern "C" {
#endif

struct ww_trace {
    double width;     /* [m] > 0 */
    double thickness; /* [m] >= 0 */
    double pitch;     /* centre to centre [m]; 0 for a single trace, else > width */
};

struct ww_line_options {
    double fineness;  /* factor on the number of grid steps per length; 0 = 1. Half and double show convergence */
    double frequency; /* [Hz] at which delay and effective Dk are wanted; 0: static */
};

/* Dispersion of microstrip: what its mean and local slowness are multiplied by at a frequency. M. Kirschning and
 * R. H. Jansen 1982 (single) and 1984 (pair); src/line/dispersion.c has the formulas and their ranges. A stripline has none.
 * Impedances, capacitances and loss tangent stay static. */
struct ww_dispersion {
    double frequency; /* asked for [Hz]; 0: everything is static, and so are all other fields */
    bool applied;
    char why_not[160]; /* where a microstrip is outside of the formula's range, in a phrase; "" else */
    double mean,
        change;       /* factors on the mean slowness and on its deviations from the mean (of a pair those of the odd
                            mode); 1 where nothing is applied */
    double mean_even; /* pair only: that on the mean slowness of the even mode */
};

/* The line over the lateral mean of every slice. Two-conductor figures are 0 for a single trace; dk_eff of a pair is that of
 * the odd mode. Dk and delay are those at dispersion.frequency. */
struct ww_line_summary {
    double dk_eff;                          /* single: C/Ca; pair: odd mode */
    double df_eff;                          /* effective dielectric loss tangent, without copper */
    double delay;                           /* [s/m], sqrt(dk_eff)/c0 */
    double z0;                              /* single: ohm; pair: sqrt(z_odd z_even) */
    double z_odd, z_even, z_diff, z_common; /* pair only [ohm] */
    double dk_odd, dk_even;                 /* pair only */
    double c[2][2], ca[2][2]; /* Maxwell capacitance matrix with the dielectric, and with eps = 1 [F/m] */
    double z0_grid_change;    /* |change of z0| between the grid and its extrapolation, relative */
    double dk_grid_change;    /* the same of dk_eff */
    double pitch;             /* the pitch solved: that given, or the nearest on the grid (within 5e-4 width) [m] */
    double step;              /* grid step across [m]: edges of the copper lie on multiples of it */
    size_t columns, rows;     /* grid cells across and up */
    struct ww_dispersion dispersion;
};

/* The solved background and its kernels. */
struct ww_line;

/* Solve the background and prepare kernels for every ply of the stack (which must outlive the line). With a frequency, every
 * scan of the line has its slowness at that frequency.
 * WW_INVALID: trace sizes, legs that overlap (pitch <= width). WW_UNPHYSICAL: width and pitch without a common grid
 * step, and none within 5e-4 of the width: the message gives the nearest pitch that has one. WW_NOT_CONVERGED: the
 * charges on the copper have no solution. Accuracy: Z0 0.06 %, dk_eff 0.06 % (tests/outside). */
WW_API enum ww_status ww_line_create(struct ww_line **line, const struct ww_stack *stack,
                                     const struct ww_trace *trace, const struct ww_line_options *options,
                                     struct ww_error *error);
/* Nodes of the finest grid that ww_line_create would solve: the work is in proportion. Statuses of ww_line_create. */
WW_API enum ww_status ww_line_nodes(size_t *nodes, const struct ww_stack *stack, const struct ww_trace *trace,
                                    double fineness, struct ww_error *error);
WW_API void ww_line_destroy(struct ww_line *line);
WW_API const struct ww_line_summary *ww_line_summary(const struct ww_line *line);
/* Frequencies above which the model of a line leaves its range [Hz]; src/line/limits.c has the formulas and their sources. */
struct ww_line_limits {
    double higher_mode;  /* cutoff of the first other mode */
    double surface_wave; /* microstrip: where it couples to the substrate's lowest surface wave; 0: none */
    double
        dispersion; /* of bare microstrip: where the formula's range ends, and its factors are held; 0: it has none */
    double cell;    /* where the longest yarn period is a quarter of the guided wavelength; 0 without cloth */
    double yarn_period; /* [m] */
};
WW_API struct ww_line_limits ww_line_limits(const struct ww_line *line);
WW_API const struct ww_trace *ww_line_trace(const struct ww_line *line);
WW_API const struct ww_stack *ww_line_stack(const struct ww_line *line);

/* --- full solutions: the field solved with the cloth in place ------------------------------------------------ */

struct ww_full_options {
    double tolerance; /* residual relative to the start, in the norm of the preconditioner; 0 = 1e-8 */
    int iterations;   /* most; 0 = 60 */
    size_t along;     /* volume: samples along the period, even; 0 = 64 */
    double memory;    /* volume: most bytes to use; 0 = 2e9 */
    size_t ply;       /* only this ply's cloth in place (from 1), the others at their lateral mean; 0 = all */
};

/* One full solution, on the grid of the line, as the kernel's is. */
struct ww_full {
    double c[2][2];  /* Maxwell capacitance matrix per length, mean over the period [F/m] */
    double dk[2];    /* effective Dk of each leg: single C/Ca; pair (Cii - C12)/(Ca11 - Ca12), grid-corrected */
    double delay[2]; /* sqrt(dk)/c0 [s/m] */
    size_t unknowns;
    double period; /* [m]; 0 for a section */
    int iterations;
    double residual; /* reached */
    double seconds;  /* of wall clock */
};

/* The full 2-D field of one cross-section, perpendicular to a trace at this angle [rad] from the warp of the panel;
 * place[ply] is the trace's centre over it, in that ply's own fabric frame [m]. WW_NOT_CONVERGED with the
 * residual reached in *full and no other number; WW_NO_MEMORY. */
WW_API enum ww_status ww_section_solve(const struct ww_line *line, double angle, const double (*place)[2],
                                       const struct ww_full_options *options, struct ww_full *full,
                                       struct ww_error *error);

/* The field of such a cross-section on a raster over left..right across and bottom..top above the lower plane, row 0 at
 * the bottom. All maps have the same size. */
struct ww_section_field {
    double left, bottom;      /* the raster's lower left corner (n, z) [m] */
    struct ww_map potential;  /* [V], with 1 V on the trace; of a pair with leg 1 at 1/2 V and leg 2 at -1/2 V */
    struct ww_map strength;   /* |E| [V/m]; 0 in copper */
    struct ww_map warp, fill; /* fraction of bundle of each yarn system, 0..1 */
    struct ww_map dk;         /* along z */
};
/* A window within the solved cross-section, right > left and top > bottom >= 0; nx, ny 2..10000 samples. Statuses as
 * ww_section_solve; WW_INVALID: a window that is none. */
WW_API enum ww_status ww_section_field(const struct ww_line *line, double angle, const double (*place)[2],
                                       const struct ww_full_options *options, const double window[4], size_t nx,
                                       size_t ny, struct ww_section_field *field, struct ww_error *error);
WW_API void ww_section_field_clear(struct ww_section_field *field);
/* The solved cross-section: left, right, bottom, top [m]. What lies outside is taken as 0 V. */
WW_API void ww_section_window(const struct ww_line *line, double window[4]);

/* The full 3-D field over one period of a trace that runs along a lattice direction (m lx, l ly), m and l up to 8, of
 * every ply's cell (along the warp or the fill: (0, 1), (1, 0)); place[ply] is where the period starts. WW_INVALID:
 * the direction is none of these in some ply, or the plies share no period up to 8 cells. WW_NO_MEMORY: refused before
 * it starts, with the size it would need. WW_NOT_CONVERGED as above. */
WW_API enum ww_status ww_volume_solve(const struct ww_line *line, double angle, const double (*place)[2],
                                      const struct ww_full_options *options, struct ww_full *full,
                                      struct ww_error *error);
/* The period that ww_volume_solve would take [m]; WW_INVALID as above. */
WW_API enum ww_status ww_volume_period(const struct ww_line *line, double angle, double *period,
                                       struct ww_error *error);
/* The same of one ply alone (from 0), as ww_volume_solve takes with .ply. */
WW_API enum ww_status ww_volume_period_of_ply(const struct ww_line *line, size_t ply, double angle, double *period,
                                              struct ww_error *error);

#ifdef __cplusplus
}
#endif
#endif
