/* bound.c - the worst over perfect cloth of the first part of a trace.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A straight trace is its scan at any length. Of a route the part up to a length is a route of its own: the same segments, the last of
 * them cut there square to it, without the bend that follows. All plies are in place, their coupling too, as skew and walks
 * have it.
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "chance/placements.h"
#include "patch/real.h"
#include "scan/plies.h"

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

/* What is judged over all plies in place. */
struct judged {
    size_t plies, *rows;
    struct ww_path *path;
    struct ww_coupling coupling;
    struct ww_extreme *left, *high, *low; /* left: of two traces side by side the second, off the first */
};

static void judged_clear(struct judged *j)
{
    for (size_t p = 0; j->path && p < j->plies; p++)
        ww_path_clear(&j->path[p]);
    free(j->path);
    free(j->rows);
    free(j->left);
    ww_coupling_clear(&j->coupling);
}

static enum ww_status judged_init(struct judged *j, const struct ww_scan *part, struct ww_error *error)
{
    size_t plies = part->plies;
    *j = (struct judged){.plies = plies,
                         .rows = calloc(plies + 1, sizeof *j->rows),
                         .path = calloc(plies + 1, sizeof *j->path),
                         .left = calloc(3 * plies + 1, sizeof *j->left)};
    if (!j->rows || !j->path || !j->left)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", plies);
    j->high = j->left + plies;
    j->low = j->high + plies;
    for (size_t p = 0; p < plies; p++)
        j->rows[p] = ww_scan_rows(part, p);
    return WW_OK;
}

static enum ww_status path_of(struct ww_path *path, const struct ww_scan *part, const struct ww_extreme *left,
                              size_t ply, double length, struct ww_error *error)
{
    enum ww_signal signal = ww_judged_signal(part->pair, part->spacing);
    if (signal != WW_APART)
        return ww_path_init(path, part, ply, signal, WW_MEAN, length, error);
    struct ww_path own = {0}, beside = {0};
    enum ww_status status = ww_path_init(&own, part, ply, WW_LEG1, WW_MEAN, length, error);
    if (!status)
        status = ww_path_init(&beside, part, ply, WW_LEG1, WW_MEAN, length, error);
    if (!status) {
        ww_path_shift(&beside, left->x, left->y);
        status = ww_path_difference(path, &own, &beside, error);
    }
    ww_path_clear(&own);
    ww_path_clear(&beside);
    return status;
}

/* Of two traces side by side the second is to the left of the line from start to end of the whole, whatever the part. */
static enum ww_status judge(struct judged *j, const struct ww_scan *part, double along, double length,
                            struct ww_error *error)
{
    enum ww_signal signal = ww_judged_signal(part->pair, part->spacing);
    enum ww_status status = WW_OK;
    for (size_t p = 0; p < j->plies && !status; p++) {
        double theta = along + atan2(part->ply[p].ux, part->ply[p].uy) - part->angle;
        j->left[p] = (struct ww_extreme){-part->spacing * cos(theta), part->spacing * sin(theta), 0};
        status = path_of(&j->path[p], part, &j->left[p], p, length, error);
    }
    if (!status)
        status =
            ww_coupling_of_scan(&j->coupling, part, signal == WW_APART ? WW_LEG1 : signal, WW_MEAN, length, error);
    if (!status && signal == WW_APART)
        ww_coupling_apart(&j->coupling, j->left);
    return status ? status
                  : ww_paths_extremes(j->path, j->rows, j->plies, &j->coupling, NULL, j->high, j->low, error);
}

enum ww_status ww_bound_find(const struct ww_scan *scan, double along, double whole, double length, double *bound,
                             struct ww_error *error)
{
    struct ww_scan part;
    struct judged j;
    *bound = 0;
    enum ww_status status = cut(&part, scan, whole, length, error);
    if (status)
        return status;
    status = judged_init(&j, &part, error);
    if (!status)
        status = judge(&j, &part, along, length, error);
    if (!status)
        *bound = ww_design_value(ww_judged_signal(scan->pair, scan->spacing), ww_sum_of_extremes(j.high, j.plies),
                                 ww_sum_of_extremes(j.low, j.plies));
    judged_clear(&j);
    if (scan->segments)
        free(part.segment);
    return status;
}
