/* wideband.c - everything of a line over frequency but where the cloth lies.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "frequency/wideband.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "correct/correction.h"

static double square(double x)
{
    return x * x;
}

/* Effective Dk of a scan's mean over all placements of its path. */
static double mean_dk(const struct ww_scan *scan)
{
    return square(WW_C0 * ww_scan_mean_delay(scan, WW_LEG1, 1));
}

/* Mean over the path of the slowness of the even mode less that of the odd one, by sections where there are any. */
static double modes_apart(const struct ww_wideband_request *request)
{
    const struct ww_skew_request *skew = &request->skew;
    const struct ww_line *line = request->line;
    double sum = 0, length = 0;
    for (size_t i = 0; i < (skew->segments ? skew->segments : 1); i++) {
        double own = skew->segments ? skew->route[i].length : 1, turn = skew->segments ? skew->route[i].angle : 0;
        sum += own * ww_correction_modes_apart(skew->correction, line->stack, skew->angle + turn);
        length += own;
    }
    return (sqrt(line->static_dk_even) - sqrt(line->static_dk)) / WW_C0 + sum / length;
}

static enum ww_status create_scans(struct ww_wideband *w, const struct ww_wideband_request *request,
                                   struct ww_error *error)
{
    struct ww_scan_options scan = request->skew.scan;
    scan.route = request->skew.route;
    scan.segments = request->skew.segments;
    scan.averaging = WW_FLIGHT;
    scan.without_dispersion = true;
    enum ww_status status = ww_corrected_scan_create_with(&w->odd, w->line, request->skew.correction,
                                                          request->skew.angle, false, &scan, error);
    scan.even = true;
    if (!status && w->pair)
        status = ww_scan_create_with(&w->even, w->line, request->skew.angle, false, &scan, error);
    if (status)
        return status;
    double odd = mean_dk(w->odd);
    w->mean[WW_ODD_MODE] = w->mean[WW_EVEN_MODE] = odd;
    if (w->pair)
        w->mean[WW_EVEN_MODE] = square(sqrt(odd) + WW_C0 * modes_apart(request));
    return WW_OK;
}

/* The change of a scan's mean Dk by the logarithm of a group's permittivity. */
static double weight_of(const struct ww_scan *lower, const struct ww_scan *higher)
{
    return (mean_dk(higher) - mean_dk(lower)) / log((1 + WW_MOVE) / (1 - WW_MOVE));
}

static enum ww_status create_groups(struct ww_wideband *w, const struct ww_wideband_request *request,
                                    struct ww_error *error)
{
    enum ww_status status = ww_groups_list(&w->group, &w->groups, w->line->stack, error);
    if (status)
        return status;
    w->moved = calloc(w->groups + 1, sizeof *w->moved);
    w->weight = calloc(w->groups + 1, sizeof *w->weight);
    if (!w->moved || !w->weight)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu kinds of material", w->groups);
    for (size_t g = 0; g < w->groups && !status; g++) {
        struct ww_moved *of = w->moved[g];
        status = ww_moved_create(&of[0], request, &w->group[g], 1 - WW_MOVE, error);
        if (!status)
            status = ww_moved_create(&of[1], request, &w->group[g], 1 + WW_MOVE, error);
        if (status)
            break;
        w->weight[g][WW_ODD_MODE] = weight_of(of[0].odd, of[1].odd);
        w->weight[g][WW_EVEN_MODE] = w->pair ? weight_of(of[0].even, of[1].even) : w->weight[g][WW_ODD_MODE];
    }
    return status;
}

static enum ww_status create_copper(struct ww_wideband *w, struct ww_error *error)
{
    const struct ww_trace *trace = &w->line->trace;
    enum ww_status status = ww_conductor_solve(&w->conductor, w->line, error);
    if (!status)
        w->dc = 1 / (w->copper.conductivity * trace->width * trace->thickness);
    return status;
}

enum ww_status ww_wideband_create(struct ww_wideband **out, const struct ww_wideband_request *request,
                                  struct ww_error *error)
{
    *out = NULL;
    struct ww_wideband *w = calloc(1, sizeof *w);
    if (!w)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a line over frequency");
    const struct ww_line_summary *summary = &request->line->summary;
    w->line = request->line;
    w->length = request->skew.length;
    w->pair = request->line->mesh.pair;
    w->lossless = request->lossless;
    w->dispersed = ww_line_dispersion_top(w->line);
    w->copper = request->copper;
    w->air[WW_EVEN_MODE] = summary->ca[0][0] + summary->ca[0][1];
    w->air[WW_ODD_MODE] = w->pair ? summary->ca[0][0] - summary->ca[0][1] : w->air[WW_EVEN_MODE];
    for (int mode = 0; mode < 2; mode++)
        w->inductance[mode] = 1 / (WW_C0 * WW_C0 * w->air[mode]);
    enum ww_status status =
        w->lossless ? WW_OK : ww_wideband_check(w->line->stack, &w->line->trace, &w->copper, error);
    if (!status)
        status = create_scans(w, request, error);
    if (!status && !w->lossless)
        status = create_groups(w, request, error);
    if (!status && !w->lossless)
        status = create_copper(w, error);
    if (status)
        ww_wideband_destroy(w);
    else
        *out = w;
    return status;
}

void ww_wideband_destroy(struct ww_wideband *w)
{
    if (!w)
        return;
    for (size_t g = 0; w->moved && g < w->groups; g++) {
        ww_moved_clear(&w->moved[g][0]);
        ww_moved_clear(&w->moved[g][1]);
    }
    ww_scan_destroy(w->odd);
    ww_scan_destroy(w->even);
    free(w->group);
    free(w->moved);
    free(w->weight);
    free(w);
}

/* --- a start drawn at random ---------------------------------------------------------------------------------------------- */

/* S. Vigna's splitmix64 (from memory): the number of a state. */
static double draw(uint64_t state)
{
    uint64_t z = state * UINT64_C(0x9E3779B97F4A7C15);
    z = (z ^ (z >> 30)) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94D049BB133111EB);
    return (double)((z ^ (z >> 31)) >> 11) * 0x1p-53;
}

void ww_wideband_draw(const struct ww_wideband *w, unsigned seed, size_t index, double (*start)[2])
{
    for (size_t p = 0; p < w->odd->plies; p++)
        for (size_t axis = 0; axis < 2; axis++) {
            uint64_t state = ((uint64_t)seed << 40) + ((uint64_t)index * w->odd->plies + p) * 2 + axis + 1;
            start[p][axis] = draw(state) * (axis ? w->odd->ply[p].ly : w->odd->ply[p].lx);
        }
}
