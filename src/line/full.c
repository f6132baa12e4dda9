/* full.c - from the field with the cloth in place to capacitances, permittivities and delay.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "line/full.h"

#include <math.h>
#include <string.h>
#include <time.h>

static double wall_clock(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static void conclude(const struct ww_line *line, double charge[2][2], struct ww_full *full)
{
    bool pair = line->mesh.pair;
    for (int i = 0; i < 2; i++)
        for (int j = 0; j < 2; j++)
            full->c[i][j] = WW_EPS0 * charge[j][i];
    double mutual = 0.5 * (charge[0][1] + charge[1][0]), ca = pair ? line->grid.ca_odd : line->grid.ca_even;
    for (int leg = 0; leg < (pair ? 2 : 1); leg++) {
        full->dk[leg] = line->grid.dk_correction * (charge[leg][leg] - (pair ? mutual : 0)) / ca;
        full->delay[leg] = sqrt(full->dk[leg]) / WW_C0;
    }
}

enum ww_status ww_full_solve(const struct ww_line *line, double angle, const double (*place)[2],
                             struct ww_period period, const struct ww_full_options *options, struct ww_full *full,
                             struct ww_error *error)
{
    double start = wall_clock(), charge[2][2];
    struct ww_local local = {0};
    struct ww_conjugate_report report = {0};
    memset(full, 0, sizeof *full);
    double tolerance = options && options->tolerance > 0 ? options->tolerance : WW_FULL_TOLERANCE;
    int most = options && options->iterations > 0 ? options->iterations : WW_FULL_ITERATIONS;
    if (!isfinite(angle))
        return ww_error_set(error, WW_INVALID, NULL, 0, "a section takes a finite angle");
    size_t only = options ? options->ply : 0;
    if (only > line->stack->plies)
        return ww_error_set(error, WW_INVALID, NULL, 0, "there is no ply %zu; the stackup has %zu", only,
                            line->stack->plies);
    enum ww_status status = ww_local_build(&local, line, angle, place, only, period, error);
    if (!status)
        status = ww_conjugate_solve(line, &local, period, line->mesh.pair ? 2 : 1, tolerance, most, charge, &report,
                                    error);
    full->unknowns = (line->mesh.columns - 1) * (line->mesh.rows - 1) * period.samples;
    full->iterations = report.iterations;
    full->residual = report.residual;
    if (!status)
        conclude(line, charge, full);
    ww_local_clear(&local);
    full->seconds = wall_clock() - start;
    return status;
}
