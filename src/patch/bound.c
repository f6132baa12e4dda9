/* bound.c - the worst over perfect cloth of the first part of a trace.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A straight trace is its scan at any length. Of a route the part up to a length is a route of its own: the same segments, the last of
 * them cut there square to it, without the bend that follows.
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "patch/real.h"
#include "scan/extremes.h"

/* A view of the scan along the first `length` of the `whole`; only its segments are its own. */
static enum ww_status cut(struct ww_scan *part, const struct ww_scan *scan, double whole, double length,
                          struct ww_error *error)
{
    const double same = 1e-12; /* of the whole */
    double left = length / whole;
    *part = *scan;
    if (scan->segments == 0)
        return WW_OK;
    part->segment = calloc(scan->segments, sizeof *part->segment);
    if (!part->segment)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu segments", scan->segments);
    part->segments = 0;
    while (left > same && part->segments < scan->segments) {
        struct ww_scan_segment *last = &part->segment[part->segments];
        *last = scan->segment[part->segments++];
        last->bend_out = last->share < left - same ? last->bend_out : 0;
        last->share = fmin(last->share, left);
        left -= last->share;
    }
    part->segment[part->segments - 1].bend_out = 0;
    for (size_t i = 0; i < part->segments; i++)
        part->segment[i].share *= whole / length;
    return WW_OK;
}

/* What is judged over one ply: of two traces side by side, the second is to the left of the line from start to end of the whole. */
static enum ww_status path_of(struct ww_path *path, const struct ww_scan *part, const double left[2], size_t ply,
                              double length, struct ww_error *error)
{
    enum ww_signal signal = ww_judged_signal(part->pair, part->spacing);
    if (signal != WW_APART)
        return ww_path_init(path, part, ply, signal, WW_MEAN, length, error);
    struct ww_path own = {0}, beside = {0};
    enum ww_status status = ww_path_init(&own, part, ply, WW_LEG1, WW_MEAN, length, error);
    if (!status)
        status = ww_path_init(&beside, part, ply, WW_LEG1, WW_MEAN, length, error);
    if (!status) {
        ww_path_shift(&beside, left[0], left[1]);
        status = ww_path_difference(path, &own, &beside, error);
    }
    ww_path_clear(&own);
    ww_path_clear(&beside);
    return status;
}

enum ww_status ww_bound_find(const struct ww_scan *scan, double along, double whole, double length, double *bound,
                             struct ww_error *error)
{
    struct ww_scan part;
    double high = 0, low = 0;
    enum ww_status status = cut(&part, scan, whole, length, error);
    if (status)
        return status;
    for (size_t p = 0; p < scan->plies && !status; p++) {
        struct ww_extreme most, least;
        struct ww_path path = {0};
        double theta = along + atan2(scan->ply[p].ux, scan->ply[p].uy) - scan->angle;
        const double left[2] = {-scan->spacing * cos(theta), scan->spacing * sin(theta)};
        status = path_of(&path, &part, left, p, length, error);
        if (!status)
            status = ww_path_extremes(&path, ww_scan_rows(&part, p), NULL, &most, &least, error);
        high += status ? 0 : most.value;
        low += status ? 0 : least.value;
        ww_path_clear(&path);
    }
    *bound = ww_judged_signal(scan->pair, scan->spacing) == WW_LEG1 ? high - low : fmax(fabs(high), fabs(low));
    if (scan->segments)
        free(part.segment);
    return status;
}
