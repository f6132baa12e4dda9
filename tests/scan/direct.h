/* direct.h - a leg's permittivity by direct summation: sums over the cross-section at one point, and quadrature along the trace.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Shares nothing with src/scan, kernel.c or harmonics.c but the background's potential: the cloth is evaluated as a
 * trigonometric polynomial at every point of the cross-section, there and then.
 */
#ifndef WW_TESTS_SCAN_DIRECT_H
#define WW_TESTS_SCAN_DIRECT_H

#include "../line/board.h"

struct direct;

/* Of a board with cloth below only, at one angle of the trace from the warp [rad]. */
struct direct *direct_open(const struct board *board, double angle);
void direct_close(struct direct *direct);

/* Slowness of both legs [s/m] with the centre of the trace at (x, y). */
void direct_slowness(const struct direct *direct, double x, double y, double slowness[2]);
/* Delay of both legs [s] over a length from (x, y), by Gauss's rule on panels. */
void direct_delay(const struct direct *direct, double x, double y, double length, double delay[2]);
/* The capacitance matrices at one point, upper and lower estimate [eps0 F/m]: c[bound][11, 12, 22]. */
void direct_matrices(const struct direct *direct, double x, double y, double c[2][3]);

#endif
