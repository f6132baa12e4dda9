/* plies.c - all plies of a scan in place.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "scan/plies.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "scan/extremes.h"

#define SETTLED 1e-10  /* of the extreme */
enum { CLIMBED = 64 }; /* samples of a map across, from which an extreme is climbed to */

void ww_scan_beside(const struct ww_scan *scan, size_t ply, double off[2])
{
    double x, y;
    ww_scan_chord(scan, ply, &x, &y);
    off[0] = -scan->spacing * y;
    off[1] = scan->spacing * x;
}

/* Less the trace beside it. */
static void set_apart(struct ww_coupling *coupling, const struct ww_scan *scan, struct ww_extreme *shift)
{
    for (size_t p = 0; p < scan->plies; p++) {
        double off[2];
        ww_scan_beside(scan, p, off);
        shift[p] = (struct ww_extreme){off[0], off[1], 0};
    }
    ww_coupling_apart(coupling, shift);
}

enum ww_status ww_coupling_of_scan(struct ww_coupling *coupling, const struct ww_scan *scan, enum ww_signal signal,
                                   enum ww_estimate estimate, double length, struct ww_error *error)
{
    size_t segments = ww_scan_segments(scan), plies = scan->plies;
    const double share[2] = {ww_signal_share(signal, scan->pair, 0), ww_signal_share(signal, scan->pair, 1)};
    enum ww_status status = ww_coupling_init(coupling, plies, error);
    if (status || scan->averaging != WW_FLIGHT || plies < 2 || !(length > 0))
        return status;
    struct ww_beat_segment *segment = calloc(plies * segments, sizeof *segment);
    struct ww_extreme *shift = calloc(plies, sizeof *shift);
    if (segment && shift) {
        for (size_t p = 0; p < plies; p++)
            ww_beat_segments(segment + p * segments, scan, p, estimate, length);
        for (size_t p = 0; p < plies; p++)
            for (size_t q = p + 1; q < plies; q++)
                ww_coupling_add(coupling, p, q, segment + p * segments, segment + q * segments, segments, share,
                                length);
        if (signal == WW_APART)
            set_apart(coupling, scan, shift);
    } else
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", plies);
    free(segment);
    free(shift);
    if (status)
        ww_coupling_clear(coupling);
    return status;
}

/* --- extremes -------------------------------------------------------------------------------------------------------------- */

/* host: the plies' paths. */
static enum ww_status find_top(void *host, size_t ply, double sign, const struct ww_map_harmonic *added, size_t count,
                               bool near, struct ww_extreme *top, struct ww_error *error)
{
    struct ww_path *path = (struct ww_path *)host + ply;
    const struct ww_scan *scan = path->scan;
    struct ww_scan coarse = *scan;
    coarse.positions = scan->positions < CLIMBED ? scan->positions : CLIMBED;
    path->scan = &coarse;
    ww_path_add(path, added, count, 1);
    enum ww_status status = WW_OK;
    if (near)
        ww_path_climb(path, sign, top);
    else
        status = ww_path_extremes(path, ww_orders_rows(path->order, path->harmonics, coarse.positions), NULL,
                                  sign > 0 ? top : NULL, sign > 0 ? NULL : top, error);
    ww_path_add(path, added, count, -1);
    path->scan = scan;
    return status;
}

enum ww_status ww_paths_extremes(struct ww_path *path, const size_t *rows, size_t plies,
                                 const struct ww_coupling *coupling, struct ww_map *map, struct ww_extreme *high,
                                 struct ww_extreme *low, struct ww_error *error)
{
    bool across = plies > 0 && path[0].signal != WW_SKEW; /* of a pair no other top was met, of 200 random studies */
    enum ww_status status = WW_OK;
    for (size_t p = 0; p < plies && !status; p++)
        status = ww_path_extremes(&path[p], rows[p], map ? &map[p] : NULL, &high[p], low ? &low[p] : NULL, error);
    if (!status)
        status = ww_coupling_climb(coupling, plies, 1, SETTLED, across, high, find_top, path, error);
    if (low && !status)
        status = ww_coupling_climb(coupling, plies, -1, SETTLED, across, low, find_top, path, error);
    return status;
}

/* Half a turn of the cloth about the origin swaps the legs of a straight pair, and its ends: what is highest from r is lowest from
 * -r - L u. */
static struct ww_extreme mirror(const struct ww_ply_scan *ply, double length, const struct ww_extreme *high)
{
    double x = -high->x - length * ply->ux, y = -high->y - length * ply->uy;
    return (struct ww_extreme){x - ply->lx * floor(x / ply->lx), y - ply->ly * floor(y / ply->ly), 0 - high->value};
}

enum ww_status ww_scan_extremes_of_all(const struct ww_scan *scan, enum ww_signal signal, enum ww_estimate estimate,
                                       double length, struct ww_map *map, struct ww_extreme *high,
                                       struct ww_extreme *low, struct ww_error *error)
{
    bool mirrors = signal == WW_SKEW && scan->segments == 0 && scan->averaging == WW_FLIGHT;
    struct ww_coupling coupling = {0};
    struct ww_path *path = calloc(scan->plies + 1, sizeof *path);
    size_t *rows = calloc(scan->plies + 1, sizeof *rows);
    enum ww_status status =
        path && rows ? WW_OK : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", scan->plies);
    for (size_t p = 0; p < scan->plies && !status; p++) {
        rows[p] = ww_scan_rows(scan, p);
        status = ww_path_init(&path[p], scan, p, signal, estimate, length, error);
    }
    if (!status)
        status = ww_coupling_of_scan(&coupling, scan, signal, estimate, length, error);
    if (!status)
        status = ww_paths_extremes(path, rows, scan->plies, &coupling, map, high, mirrors ? NULL : low, error);
    for (size_t p = 0; p < scan->plies && mirrors && !status; p++)
        low[p] = mirror(&scan->ply[p], length, &high[p]);
    for (size_t p = 0; path && p < scan->plies; p++)
        ww_path_clear(&path[p]);
    free(path);
    free(rows);
    ww_coupling_clear(&coupling);
    return status;
}

enum ww_status ww_scan_value_of_all(const struct ww_scan *scan, enum ww_signal signal, enum ww_estimate estimate,
                                    double length, const double (*start)[2], double *value, struct ww_error *error)
{
    struct ww_coupling coupling = {0};
    struct ww_extreme *at = calloc(scan->plies + 1, sizeof *at);
    *value = 0;
    enum ww_status status =
        at ? WW_OK : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", scan->plies);
    for (size_t p = 0; p < scan->plies && !status; p++) {
        at[p] = (struct ww_extreme){start[p][0], start[p][1], 0};
        status = ww_scan_value(scan, p, signal, estimate, length, start[p][0], start[p][1], &at[p].value, error);
    }
    if (!status)
        status = ww_coupling_of_scan(&coupling, scan, signal, estimate, length, error);
    if (!status)
        *value = ww_sum_of_extremes(at, scan->plies) + ww_coupling_value(&coupling, at);
    ww_coupling_clear(&coupling);
    free(at);
    return status;
}
