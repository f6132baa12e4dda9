/* harmonics.c - the cell in the Fourier domain.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Samples are averages over boxes of lx/nx by ly/ny, which multiplies harmonic (m, l) by sinc(m/nx) sinc(l/ny);
 * dividing by it gives the harmonic of the cloth itself, so that resolution enters by truncation only. They stand for the
 * middles of their boxes, half a box from the origin: exp(-i pi (m/nx + l/ny)). The series
 * is cut at a third of the samples per cell in each direction, where that factor is still 0.68 and aliasing small.
 */
#include "line/harmonics.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/transform.h"

#define NEGLIGIBLE 1e-7 /* of the mean fraction of a slice */

static double sinc(double x)
{
    return x == 0 ? 1 : sin(WW_PI * x) / (WW_PI * x);
}

/* Transforms every slice of one yarn system: half spectra [slice][ny][nx/2+1]. */
static enum ww_status transform_slices(const struct ww_cell *cell, const double *fraction, double _Complex *spectrum,
                                       struct ww_error *error)
{
    size_t half = cell->ny * (cell->nx / 2 + 1);
    enum ww_status status = WW_OK;
    for (size_t s = 0; s < cell->nz && !status; s++)
        status =
            ww_transform_forward(fraction + s * cell->nx * cell->ny, cell->nx, cell->ny, spectrum + s * half, error);
    return status;
}

enum ww_status ww_harmonics_build(struct ww_harmonics *harmonics, const struct ww_ply *ply, struct ww_error *error)
{
    memset(harmonics, 0, sizeof *harmonics);
    const struct ww_cell *cell = &ply->cell;
    size_t row = cell->nx / 2 + 1, half = cell->ny * row;
    int m_most = (int)(cell->nx / 3), l_most = (int)(cell->ny / 3);
    size_t most = (size_t)(m_most + 1) * (size_t)(2 * l_most + 1);
    double _Complex *warp = calloc(cell->nz * half, sizeof *warp), *fill = calloc(cell->nz * half, sizeof *fill);
    harmonics->harmonic = calloc(most, sizeof *harmonics->harmonic);
    harmonics->warp = calloc(most * cell->nz, sizeof *harmonics->warp);
    harmonics->fill = calloc(most * cell->nz, sizeof *harmonics->fill);
    enum ww_status status = WW_OK;
    if (!warp || !fill || !harmonics->harmonic || !harmonics->warp || !harmonics->fill) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu harmonics of the cell", most);
        goto done;
    }
    status = transform_slices(cell, cell->warp, warp, error);
    if (!status)
        status = transform_slices(cell, cell->fill, fill, error);
    if (status)
        goto done;

    harmonics->slices = cell->nz;
    harmonics->lx = cell->lx;
    harmonics->ly = cell->ly;
    for (int m = 0; m <= m_most; m++)
        for (int step = 0; step <= 2 * l_most; step++) {
            int l = (step + 1) / 2 * (step % 2 ? 1 : -1); /* 0, 1, -1, 2, -2, ... */
            size_t place = (size_t)((l + (int)cell->ny) % (int)cell->ny) * row + (size_t)m;
            struct ww_harmonic h = {m, l, 2 * WW_PI * m / cell->lx, 2 * WW_PI * l / cell->ly};
            double box = sinc((double)m / (double)cell->nx) * sinc((double)l / (double)cell->ny);
            double first = -WW_PI * ((double)m / (double)cell->nx + (double)l / (double)cell->ny);
            double _Complex to_origin = (cos(first) + I * sin(first)) / box;
            bool matters = false;
            for (size_t s = 0; s < cell->nz; s++) {
                size_t to = harmonics->count * cell->nz + s;
                harmonics->warp[to] = warp[s * half + place] * to_origin;
                harmonics->fill[to] = fill[s * half + place] * to_origin;
                matters = matters || cabs(harmonics->warp[to]) > NEGLIGIBLE || cabs(harmonics->fill[to]) > NEGLIGIBLE;
            }
            if (!matters && harmonics->count > 0)
                continue;
            harmonics->harmonic[harmonics->count++] = h;
            harmonics->k_most = fmax(harmonics->k_most, hypot(h.kx, h.ky));
        }
done:
    free(warp);
    free(fill);
    if (status)
        ww_harmonics_clear(harmonics);
    return status;
}

enum ww_status ww_harmonics_of_mean(struct ww_harmonics *harmonics, const struct ww_ply *ply, struct ww_error *error)
{
    const struct ww_cell *cell = &ply->cell;
    size_t samples = cell->nx * cell->ny;
    *harmonics = (struct ww_harmonics){.count = 1, .slices = cell->nz, .lx = cell->lx, .ly = cell->ly};
    harmonics->harmonic = calloc(1, sizeof *harmonics->harmonic);
    harmonics->warp = calloc(cell->nz, sizeof *harmonics->warp);
    harmonics->fill = calloc(cell->nz, sizeof *harmonics->fill);
    if (!harmonics->harmonic || !harmonics->warp || !harmonics->fill) {
        ww_harmonics_clear(harmonics);
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the means of %zu slices", cell->nz);
    }
    for (size_t s = 0; s < cell->nz; s++) {
        double warp = 0, fill = 0;
        for (size_t i = 0; i < samples; i++) {
            warp += cell->warp[s * samples + i];
            fill += cell->fill[s * samples + i];
        }
        harmonics->warp[s] = warp / (double)samples;
        harmonics->fill[s] = fill / (double)samples;
    }
    return WW_OK;
}

void ww_harmonics_clear(struct ww_harmonics *harmonics)
{
    free(harmonics->harmonic);
    free(harmonics->warp);
    free(harmonics->fill);
    memset(harmonics, 0, sizeof *harmonics);
}
