/* volume.c - the full 3-D solution of one period of a trace.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * It tests what the section assumes, that the field has no component along the trace. Along a lattice direction of the
 * cloth the period of the trace is the lattice vector m lx, l ly; several plies share a period if multiples of their own
 * agree.
 */
#include <math.h>
#include <string.h>

#include "line/full.h"

#define ALONG 64
#define MEMORY 2e9
#define MOST_CELLS 8     /* of the lattice direction, and of repeats to share a period */
#define PARALLEL 1e-6    /* [rad] that counts as the same direction */
#define SAME_PERIOD 1e-6 /* relative difference that counts as a shared period */

/* Length of the shortest lattice vector along this direction; 0 if there is none. */
static double lattice_period(const struct ww_cloth *cloth, double theta)
{
    double best = 0, lx, ly;
    ww_cloth_period(cloth, &lx, &ly);
    for (int m = -MOST_CELLS; m <= MOST_CELLS; m++)
        for (int l = -MOST_CELLS; l <= MOST_CELLS; l++) {
            double x = m * lx, y = l * ly, length = hypot(x, y);
            double ahead = x * sin(theta) + y * cos(theta), aside = y * sin(theta) - x * cos(theta);
            if (ahead > 0 && fabs(aside) <= PARALLEL * length && (best == 0 || length < best))
                best = length;
        }
    return best;
}

enum ww_status ww_volume_period_of_ply(const struct ww_line *line, size_t ply, double angle, double *period,
                                       struct ww_error *error)
{
    *period = 0;
    if (ply >= line->stack->plies)
        return ww_error_set(error, WW_INVALID, NULL, 0, "there is no ply %zu; the stackup has %zu", ply + 1,
                            line->stack->plies);
    double theta = angle - line->stack->ply[ply].turn;
    const struct ww_cloth cloth = ww_stack_cloth(line->stack, ply);
    *period = lattice_period(&cloth, theta);
    if (*period > 0)
        return WW_OK;
    return ww_error_set(error, WW_INVALID, NULL, 0,
                        "the cloth does not repeat along a trace at %.6g deg over ply %zu: the volume takes 0 or 90 "
                        "deg, or a diagonal of up to %d cells",
                        theta * 180 / WW_PI, ply + 1, MOST_CELLS);
}

enum ww_status ww_volume_period(const struct ww_line *line, double angle, double *period, struct ww_error *error)
{
    *period = 0;
    double shared = 0;
    for (size_t p = 0; p < line->stack->plies; p++) {
        double own;
        enum ww_status status = ww_volume_period_of_ply(line, p, angle, &own, error);
        if (status)
            return status;
        double found = shared == 0 ? own : 0;
        for (int repeats = 1; repeats <= MOST_CELLS && found == 0; repeats++) {
            double ratio = repeats * shared / own;
            if (fabs(ratio - round(ratio)) <= SAME_PERIOD * ratio && round(ratio) <= MOST_CELLS)
                found = repeats * shared;
        }
        if (found == 0)
            return ww_error_set(
                error, WW_INVALID, NULL, 0,
                "ply %zu repeats every %.6g um and the plies above it every %.6g um: they share no period "
                "of up to %d cells",
                p + 1, own * 1e6, shared * 1e6, MOST_CELLS);
        shared = found;
    }
    if (shared == 0)
        return ww_error_set(error, WW_INVALID, NULL, 0, "without cloth there is no period; the line is uniform");
    *period = shared;
    return WW_OK;
}

enum ww_status ww_volume_solve(const struct ww_line *line, double angle, const double (*place)[2],
                               const struct ww_full_options *options, struct ww_full *full, struct ww_error *error)
{
    memset(full, 0, sizeof *full);
    double period;
    enum ww_status status = options && options->ply
                                ? ww_volume_period_of_ply(line, options->ply - 1, angle, &period, error)
                                : ww_volume_period(line, angle, &period, error);
    if (status)
        return status;
    size_t along = options && options->along ? options->along : ALONG;
    double memory = options && options->memory > 0 ? options->memory : MEMORY;
    double unknowns = (double)(line->mesh.columns - 1) * (double)(line->mesh.rows - 1) * (double)along;
    if (along < 2 || along % 2)
        return ww_error_set(error, WW_INVALID, NULL, 0, "%zu samples along the period; give an even number", along);
    if (unknowns * WW_BYTES_PER_UNKNOWN > memory)
        return ww_error_set(
            error, WW_NO_MEMORY, NULL, 0,
            "the volume of one period (%.6g um) has %.3g unknowns and would need %.2g GB of memory; the "
            "limit is %.2g GB: lower the fineness, or verify by sections alone",
            period * 1e6, unknowns, unknowns * WW_BYTES_PER_UNKNOWN * 1e-9, memory * 1e-9);
    struct ww_period samples = {along, period / (double)along};
    status = ww_full_solve(line, angle, place, samples, options, full, error);
    full->period = period;
    return status;
}
