/* line.h - inside a solved line: for the scan and for the full solutions.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_LINE_LINE_H
#define WW_LINE_LINE_H

#include "line/background.h"
#include "line/harmonics.h"
#include "line/kernel.h"

/* Capacitances of the background [eps0 F/m]: even and odd with the dielectric, and with eps = 1; a single trace has the even
 * ones alone. */
struct ww_capacitances {
    double c_even, c_odd, ca_even, ca_odd;
    double dk_correction; /* dk_eff of the summary over the one of these */
};

struct ww_line {
    const struct ww_stack *stack;
    struct ww_trace trace;
    double fineness;              /* asked for */
    struct ww_mesh mesh;          /* on which full solutions are found */
    struct ww_capacitances grid;  /* on this mesh */
    struct ww_capacitances limit; /* extrapolated as the kernels are */
    struct ww_background fields;  /* of a line on one grid: that of its kernels; else empty */
    double ratio;             /* by what the driven mode's change of capacitance falls from grid to grid: 2 to 4 */
    bool bare;                /* without kernels, and of the harmonics the mean alone */
    struct ww_kernel *kernel; /* [plies] extrapolated over this mesh and a finer one */
    struct ww_harmonics *harmonics;   /* [plies] */
    double static_dk, static_dk_even; /* dk_eff and dk_even of the summary without dispersion */
    double substrate_share;           /* of a microstrip: of the driven mode's energy, that between plane and trace */
    struct ww_line_summary summary;
};

/* The line on one grid of this fineness, in a narrower window: for full sections less the first order on the same grid, where what
 * grid and window are off by cancels. Left out: the other two grids, so that the summary is that of this grid,
 * z0_grid_change and dk_grid_change are 0 and dk_correction is 1 (ww_line_create keeps the second grid, of twice the
 * fineness); and the field beyond the window: z0 of a microstrip is 0.7 % low, besides what the grid is off by. Section
 * less kernel is off by at most 0.2 % of the largest local skew at fineness 1, 0.3 % at 0.7, 0.5 % at 0.5 (against fineness
 * 2 in the whole window; 1080, 2116, 7628, 1017, 2113 at 30 deg). Statuses as ww_line_create. */
enum ww_status ww_line_create_single(struct ww_line **line, const struct ww_stack *stack,
                                     const struct ww_trace *trace, const struct ww_line_options *options,
                                     struct ww_error *error);
/* The same without kernels, for sections alone: of the cloth's harmonics it has the mean. */
enum ww_status ww_line_create_bare(struct ww_line **line, const struct ww_stack *stack, const struct ww_trace *trace,
                                   const struct ww_line_options *options, struct ww_error *error);
/* The same on the grid of such a line with every cell halved, with kernels if that one has them. */
enum ww_status ww_line_create_refined(struct ww_line **out, const struct ww_line *line, struct ww_error *error);

/* Fills summary.dispersion at its frequency from the static figures in the summary, and takes dk_eff, delay, dk_odd and dk_even
 * to that frequency. potential: of the driven mode, on the line's mesh. */
void ww_line_disperse(struct ww_line *line, const double *potential);
/* The factors at another frequency. */
void ww_line_dispersion_at(const struct ww_line *line, double frequency, struct ww_dispersion *dispersion);
/* The highest frequency at which they are known; 0: at none, or there is no dispersion [Hz]. */
double ww_line_dispersion_top(const struct ww_line *line);

/* The line with the kernel of its own grid alone, as full solutions on that grid have it: what extrapolation adds to a value is
 * that of `line` less that of *out. Statuses as ww_line_create. */
enum ww_status ww_line_create_on_grid(struct ww_line **out, const struct ww_line *line, struct ww_error *error);

/* What a unit of a yarn's volume fraction, and the resin, change in one slice of this background: in eps (upper bound) and in
 * eps_bg^2/eps (lower), along z and across the trace. */
struct ww_slice_change {
    double warp[2][2], fill[2][2], resin[2][2]; /* [bound][axis] */
};
struct ww_slice_change ww_slice_change_of(const struct ww_ply *ply, double bg_z, double bg_n, double theta);

/* Capacitance over the cell of one ply at its own angle theta, as change from the background, in units of eps0 F/m:
 * for each harmonic and each of 11, 12, 22 the coefficient of the upper form C+ and of the lower form P.
 * stretch: the shares by which the cell is wider and longer than it was built, each within +-WW_STRETCH_MOST.
 * out[harmonic][6]: C+11 C+12 C+22 P11 P12 P22. Harmonic 0 is the mean. */
enum ww_change { WW_UPPER_11, WW_UPPER_12, WW_UPPER_22, WW_LOWER_11, WW_LOWER_12, WW_LOWER_22, WW_CHANGES };
void ww_line_change(const struct ww_line *line, size_t ply, double theta, const double stretch[2],
                    double _Complex *out);
/* The same of other cloth in the ply's place, as many slices of it, without the resin: |k| of its harmonics is at most that of the
 * ply's own. */
void ww_line_change_of(const struct ww_line *line, size_t ply, const struct ww_harmonics *harmonics, double theta,
                       const double stretch[2], double _Complex *out);
/* The same, of harmonic 0 alone, with every slice of the ply at its lateral mean: what C+ has in the mean over the cell, and P
 * has not. out[WW_CHANGES]. */
void ww_line_change_at_mean(const struct ww_line *line, size_t ply, double theta, double _Complex *out);

#endif
