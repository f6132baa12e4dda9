/* delay.h - inside a scan.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_SCAN_DELAY_H
#define WW_SCAN_DELAY_H

#include "line/line.h"
#include "weftwise/scan.h"

/* Half spectra [ny][nx/2+1] of slowness [s/m] (flight) or permittivity (quasi-static) of each leg, samples at the
 * centres of nx by ny boxes of the cell. */
struct ww_ply_scan {
    size_t nx, ny;
    double lx, ly;
    double ux, uy; /* direction of travel in the frame of this ply's cloth */
    double _Complex *spectrum[2][WW_ESTIMATES];
};

struct ww_scan {
    const struct ww_line *line;
    double angle;
    size_t positions;
    enum ww_averaging averaging;
    double level[2][WW_ESTIMATES]; /* of each leg with every ply at its mean */
    struct ww_ply_scan *ply;
};

/* Mean of a signal along the way from one start, and its delay or skew as in ww_scan_map. work: ww_scan_work_size. */
double ww_scan_average_at(const struct ww_scan *scan, size_t ply, enum ww_signal signal, enum ww_estimate estimate,
                          double length, double x, double y, double *work);
double ww_scan_value_at(const struct ww_scan *scan, size_t ply, enum ww_signal signal, enum ww_estimate estimate,
                        double length, double x, double y, double *work);
size_t ww_scan_work_size(const struct ww_scan *scan, size_t ply);

#endif
