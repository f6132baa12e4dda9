/* limits.c - up to which frequency the model of a line holds.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * One mode (of a pair two), and a field that is static across it. The first other mode goes where its cutoff is below the signal:
 * - microstrip: half a wave across the strip, fringes taken in, f = c0/[sqrt(eps_r) (2 w + 0.8 h)]; and, coupled to the lowest
 *   surface wave of the substrate where both are as fast, f = c0 atan(eps_r)/[sqrt(2) pi h sqrt(eps_r - 1)];
 * - stripline: half a wave across the strip, fringes taken in, f = c0/[sqrt(eps_r) (2 w + pi b/2)], b from plane to plane.
 * (G. D. Vendelin, "Limitations on stripline Q", Microwave Journal 13, 1970, for all three; T. C. Edwards, Foundations for
 * Microstrip Circuit Design. From memory.) w of a pair is that from edge to edge: the lowest that either mode may have.
 *
 * Over the cloth: a harmonic of period p decays upwards with sqrt((2 pi/p)^2 - beta^2), and the kernel has it static, 2 pi/p. In the
 * decay that is off by half of (p/lambda_g)^2, 3 % where the yarn's period is a quarter of the guided wavelength (from
 * Helmholtz's equation, ours). Reflections of the period along the trace are no part of that: the cascade solves them.
 */
#include "line/line.h"

#include <complex.h>
#include <math.h>

#define CELL_SHARE 0.25 /* of the guided wavelength */

/* Height and Dk in series of the rows from..to. */
static double measure(const struct ww_mesh *mesh, size_t from, size_t to, double *eps_r)
{
    double height = 0, series = 0;
    for (size_t r = from; r < to; r++) {
        height += mesh->row[r].dz;
        series += mesh->row[r].dz / creal(mesh->row[r].eps_z);
    }
    *eps_r = height / series;
    return height;
}

struct ww_line_limits ww_line_limits(const struct ww_line *line)
{
    const struct ww_mesh *mesh = &line->mesh;
    struct ww_line_limits limits = {0};
    double width = line->trace.width + (mesh->pair ? line->summary.pitch : 0), eps_r;
    if (line->stack->layer[0].kind == WW_LAYER_PLANE) {
        double b = measure(mesh, 0, mesh->rows, &eps_r);
        limits.higher_mode = WW_C0 / (sqrt(eps_r) * (2 * width + 0.5 * WW_PI * b));
    } else {
        double h = measure(mesh, 0, mesh->bottom, &eps_r);
        limits.higher_mode = WW_C0 / (sqrt(eps_r) * (2 * width + 0.8 * h));
        limits.dispersion = ww_line_dispersion_top(line);
        if (eps_r > 1)
            limits.surface_wave = WW_C0 * atan(eps_r) / (sqrt(2) * WW_PI * h * sqrt(eps_r - 1));
    }
    for (size_t p = 0; p < line->stack->plies; p++)
        limits.yarn_period = fmax(limits.yarn_period, 0.5 * fmax(line->harmonics[p].lx, line->harmonics[p].ly));
    if (limits.yarn_period > 0)
        limits.cell = CELL_SHARE * WW_C0 / (limits.yarn_period * sqrt(line->summary.dk_eff));
    return limits;
}
