/* materials.c - which materials of a stack change alike over frequency, and what a change of theirs does to the line.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The kernel and the sections hold at one real permittivity of each material, its dk. Over frequency, and with loss, the
 * permittivity is dk x(f), x complex and near 1: for loss tangents up to 0.03 within 0.1 of it from 10 kHz to 1 THz. So
 *   C(s, f) = C(s) + sum over materials of W(s) (x(f) - 1),   W = dC/d ln eps
 * at every place s of the path: the kernel's weights of each material, found as the difference of two lines whose materials are
 * WW_MOVE lower and higher. Scaled alike, all materials scale C exactly, for C is homogeneous in them. What is left out is the
 * second order in the difference of their changes, below 1e-4 of C. Because x is causal and W real, so is C(s, f).
 *
 * x depends on the loss tangent and on the frequency of the sheet alone (laminate/debye.c): materials that share both are one
 * group. The weights are a few per cent of C off at most, and multiply x - 1: a coarse cell and cross-section do.
 */
#include "frequency/wideband.h"

#include <stdlib.h>
#include <string.h>

static const struct ww_cell_options COARSE_CELL = {.nx = 32, .ny = 32, .nz = 6, .supersample = 4};
static const double COARSE = 0.35; /* fineness of the line */

/* One lossy material of a layer, for messages and for changes. */
struct lossy {
    double df, sheet;
    const char *kind, *name;
};

enum { OF_A_LAYER = 2 };

/* The materials of a layer; those of air, copper and without loss are left out. */
static size_t list_lossy(struct lossy lossy[OF_A_LAYER], const struct ww_layer *layer)
{
    struct lossy of[OF_A_LAYER] = {{layer->df, layer->frequency, "layer", ""}};
    size_t count = 1, kept = 0;
    if (layer->kind == WW_LAYER_PLANE || layer->kind == WW_LAYER_AIR)
        return 0;
    if (layer->kind == WW_LAYER_PLY) {
        const struct ww_glass *glass = &layer->style.glass;
        of[0] = (struct lossy){layer->resin.df, layer->resin.frequency, "resin", layer->resin.name};
        of[count++] = (struct lossy){glass->df, glass->frequency, "glass", glass->name};
    }
    for (size_t i = 0; i < count; i++)
        if (of[i].df > 0.0)
            lossy[kept++] = of[i];
    return kept;
}

static enum ww_status refuse(const struct lossy *lossy, int line, struct ww_error *error)
{
    if (lossy->name[0])
        return ww_error_set(error, WW_INVALID, NULL, line,
                            "the loss of %s %s has no frequency; add 'frequency = 10 GHz' (where dk and df hold) to "
                            "[%s %s]",
                            lossy->kind, lossy->name, lossy->kind, lossy->name);
    return ww_error_set(error, WW_INVALID, NULL, line,
                        "the loss of this layer has no frequency; add frequency=10 GHz (where dk and df hold)");
}

static bool is_known(const struct ww_group *group, size_t groups, const struct lossy *lossy)
{
    for (size_t g = 0; g < groups; g++)
        if (group[g].df == lossy->df && group[g].sheet == lossy->sheet)
            return true;
    return false;
}

enum ww_status ww_groups_list(struct ww_group **out, size_t *groups, const struct ww_stack *stack,
                              struct ww_error *error)
{
    struct lossy lossy[OF_A_LAYER];
    struct ww_group *group = calloc(OF_A_LAYER * stack->count + 1, sizeof *group);
    *out = group;
    *groups = 0;
    if (!group)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the materials");
    for (size_t i = 0; i < stack->count; i++) {
        size_t count = list_lossy(lossy, &stack->layer[i]);
        for (size_t k = 0; k < count; k++) {
            if (!(lossy[k].sheet > 0.0))
                return refuse(&lossy[k], stack->layer[i].line, error);
            if (!is_known(group, *groups, &lossy[k]))
                group[(*groups)++] = (struct ww_group){lossy[k].df, lossy[k].sheet};
        }
    }
    return WW_OK;
}

enum ww_status ww_wideband_check(const struct ww_stack *stack, const struct ww_trace *trace,
                                 const struct ww_foil *copper, struct ww_error *error)
{
    struct ww_group *group = NULL;
    size_t groups = 0;
    enum ww_status status = ww_groups_list(&group, &groups, stack, error);
    free(group);
    if (!status && !(trace->thickness > 0.0))
        return ww_error_set(error, WW_INVALID, NULL, 0,
                            "a trace without thickness has no finite loss at its edges; give [trace] thickness");
    if (!status && !(copper->conductivity > 0.0))
        return ww_error_set(error, WW_INVALID, NULL, 0, "copper without conductivity; give one above 0 S/m");
    return status;
}

static void scale(double *dk, double df, double sheet, const struct ww_group *group, double factor)
{
    if (df == group->df && sheet == group->sheet)
        *dk = *dk * factor > 1.0 ? *dk * factor : 1.0;
}

static void scale_layers(struct ww_layer *layer, const struct ww_stack *own, const struct ww_group *group,
                         double factor)
{
    for (size_t p = 0; p < own->plies; p++) { /* what was solved from the sheet's Dk is given */
        layer[own->ply[p].layer].resin.dk = creal(own->ply[p].eps_resin);
        layer[own->ply[p].layer].sheet_dk = 0.0;
    }
    for (size_t i = 0; i < own->count; i++) {
        struct ww_glass *glass = &layer[i].style.glass;
        struct ww_resin *resin = &layer[i].resin;
        if (layer[i].kind == WW_LAYER_PLY) {
            scale(&glass->dk, glass->df, glass->frequency, group, factor);
            scale(&resin->dk, resin->df, resin->frequency, group, factor);
        } else if (layer[i].kind != WW_LAYER_PLANE && layer[i].kind != WW_LAYER_AIR) {
            scale(&layer[i].dk, layer[i].df, layer[i].frequency, group, factor);
        }
    }
}

enum ww_status ww_moved_create(struct ww_moved *moved, const struct ww_wideband_request *request,
                               const struct ww_group *group, double factor, struct ww_error *error)
{
    const struct ww_stack *own = request->line->stack;
    struct ww_scan_options scan = request->skew.scan;
    scan.route = request->skew.route;
    scan.segments = request->skew.segments;
    scan.averaging = WW_FLIGHT;
    const struct ww_line_options options = {.fineness = COARSE};
    moved->stack = (struct ww_stack){.count = own->count, .layer = malloc(own->count * sizeof *own->layer)};
    if (!moved->stack.layer)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu layers", own->count);
    memcpy(moved->stack.layer, own->layer, own->count * sizeof *own->layer);
    scale_layers(moved->stack.layer, own, group, factor);
    enum ww_status status = ww_stack_build(&moved->stack, &COARSE_CELL, error);
    if (!status)
        status = ww_line_create(&moved->line, &moved->stack, &request->line->trace, &options, error);
    if (!status)
        status = ww_scan_create_with(&moved->odd, moved->line, request->skew.angle, false, &scan, error);
    scan.even = true;
    if (!status && request->line->mesh.pair)
        status = ww_scan_create_with(&moved->even, moved->line, request->skew.angle, false, &scan, error);
    return status;
}

void ww_moved_clear(struct ww_moved *moved)
{
    ww_scan_destroy(moved->odd);
    ww_scan_destroy(moved->even);
    ww_line_destroy(moved->line);
    ww_stack_clear(&moved->stack);
    free(moved->stack.layer);
    memset(moved, 0, sizeof *moved);
}
