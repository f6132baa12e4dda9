/* stack.c - the stackup as a fabricator draws it: is it one, and what is every ply of it worth?
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Layers run from top to bottom. One trace layer, a plane beneath everything, and on top either a plane (stripline)
 * or open air (microstrip, bare or covered). What lies between must have a thickness; what has a thickness must be
 * able to hold what is in it. Every message carries the line the layer was given on.
 */
#include "laminate/ply.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double thickest = 10e-3; /* [m]; a layer beyond this is a slip of the unit */
static const double dk_largest = 1000.0;
static const size_t layers_most = 256;
static const double rounding = 1e-12; /* heights that were closed add up to the thickness only this well */

enum { LENGTH_TEXT = 32 };

static const char *length_text(char *out, double length)
{
    return ww_number_format(out, LENGTH_TEXT, length, WW_LENGTH, 4);
}

static const char *kind_name(enum ww_layer_kind kind)
{
    switch (kind) {
    case WW_LAYER_PLANE:
        return "plane";
    case WW_LAYER_TRACE:
        return "trace";
    case WW_LAYER_PLY:
        return "ply";
    case WW_LAYER_RESIN:
        return "resin";
    case WW_LAYER_SOLID:
        return "solid";
    case WW_LAYER_MASK:
        return "mask";
    case WW_LAYER_AIR:
        return "air";
    }
    return NULL;
}

/* --- is it a stackup? ------------------------------------------------------------------------------------------- */

static enum ww_status check_thickness(const struct ww_layer *layer, struct ww_error *error)
{
    char text[LENGTH_TEXT], limit[LENGTH_TEXT];
    bool may_be_zero = layer->kind == WW_LAYER_TRACE;
    bool must_be_zero = layer->kind == WW_LAYER_PLANE || layer->kind == WW_LAYER_AIR;
    if (!isfinite(layer->thickness))
        return ww_error_set(error, WW_INVALID, NULL, layer->line,
                            "the thickness of layer '%s' is not a finite number", kind_name(layer->kind));
    if (must_be_zero && layer->thickness != 0.0)
        return ww_error_set(error, WW_INVALID, NULL, layer->line,
                            "layer '%s' takes no thickness, but has %s; leave it out (for a gap of air under a plane "
                            "use 'solid' with dk=1)",
                            kind_name(layer->kind), length_text(text, layer->thickness));
    if (must_be_zero)
        return WW_OK;
    if (layer->thickness < 0.0 || (layer->thickness == 0.0 && !may_be_zero))
        return ww_error_set(error, WW_INVALID, NULL, layer->line, "layer '%s' is %s thick; give a thickness above 0",
                            kind_name(layer->kind), length_text(text, layer->thickness));
    if (layer->thickness >= thickest)
        return ww_error_set(error, WW_INVALID, NULL, layer->line,
                            "layer '%s' is %s thick; the limit is %s, check the unit", kind_name(layer->kind),
                            length_text(text, layer->thickness), length_text(limit, thickest));
    return WW_OK;
}

static enum ww_status check_dielectric(const struct ww_layer *layer, const char *what, double dk, double df,
                                       struct ww_error *error)
{
    if (!(dk >= 1.0 && dk <= dk_largest))
        return ww_error_set(error, WW_INVALID, NULL, layer->line, "layer '%s': %s of %.6g is outside 1 to %.0f",
                            kind_name(layer->kind), what, dk, dk_largest);
    if (!(df >= 0.0 && df <= 1.0))
        return ww_error_set(error, WW_INVALID, NULL, layer->line, "layer '%s': df of %.6g is outside 0 to 1",
                            kind_name(layer->kind), df);
    return WW_OK;
}

/* The cloth must not leave the ply. A height of 0 is the middle. */
static enum ww_status check_height(const struct ww_layer *layer, double fabric, struct ww_error *error)
{
    char text[LENGTH_TEXT], low_text[LENGTH_TEXT], high_text[LENGTH_TEXT];
    double height = layer->cloth_height, low = 0.5 * fabric, high = layer->thickness - low;
    double slack = rounding * layer->thickness;
    if (height == 0.0 || (height >= low - slack && height <= high + slack))
        return WW_OK;
    return ww_error_set(
        error, WW_UNPHYSICAL, NULL, layer->line,
        "ply %s: with its middle at a height of %s the cloth would leave the ply; give a height of %s to "
        "%s, or of %.3f to %.3f of the ply",
        layer->style.name, length_text(text, height), length_text(low_text, low), length_text(high_text, high),
        low / layer->thickness, high / layer->thickness);
}

static enum ww_status check_ply(const struct ww_layer *layer, struct ww_error *error)
{
    char text[LENGTH_TEXT], limit[LENGTH_TEXT];
    const struct ww_style *style = &layer->style;
    enum ww_status status = check_dielectric(layer, "resin dk", layer->resin.dk, layer->resin.df, error);
    if (!status)
        status = check_dielectric(layer, "glass dk", style->glass.dk, style->glass.df, error);
    if (status)
        return status;
    if (!(layer->sheet_dk == 0.0 || (layer->sheet_dk >= 1.0 && layer->sheet_dk <= dk_largest)))
        return ww_error_set(error, WW_INVALID, NULL, layer->line, "ply %s: sheet dk of %.6g is outside 1 to %.0f",
                            style->name, layer->sheet_dk, dk_largest);
    if (!isfinite(layer->turn) || !isfinite(layer->shift_x) || !isfinite(layer->shift_y) ||
        !isfinite(layer->cloth_height))
        return ww_error_set(error, WW_INVALID, NULL, layer->line,
                            "ply %s: turn, shift and height must be finite numbers", style->name);
    double fabric = style->warp.height.value + style->fill.height.value;
    if (!(layer->thickness >= fabric * (1.0 - rounding)))
        return ww_error_set(error, WW_UNPHYSICAL, NULL, layer->line,
                            "a ply of %s cannot hold its %s fabric, which is %s thick; give the ply at least that",
                            length_text(text, layer->thickness), style->name, length_text(limit, fabric));
    return check_height(layer, fabric, error);
}

static enum ww_status check_layer(const struct ww_layer *layer, struct ww_error *error)
{
    enum ww_status status = check_thickness(layer, error);
    if (status)
        return status;
    switch (layer->kind) {
    case WW_LAYER_PLY:
        return check_ply(layer, error);
    case WW_LAYER_TRACE: /* what fills in beside copper of no thickness does not matter */
        return layer->thickness > 0.0 ? check_dielectric(layer, "dk of the fill", layer->dk, layer->df, error)
                                      : WW_OK;
    case WW_LAYER_RESIN:
    case WW_LAYER_SOLID:
    case WW_LAYER_MASK:
        return check_dielectric(layer, "dk", layer->dk, layer->df, error);
    case WW_LAYER_PLANE:
    case WW_LAYER_AIR:
        break;
    }
    return WW_OK;
}

/* Planes at the ends only, air on top only, one trace with a dielectric between it and each plane. */
static enum ww_status check_order(const struct ww_layer *layer, size_t count, struct ww_error *error)
{
    const struct ww_layer *trace = NULL, *top = layer, *bottom = layer + count - 1;
    if (top->kind != WW_LAYER_PLANE && top->kind != WW_LAYER_AIR)
        return ww_error_set(error, WW_INVALID, NULL, top->line,
                            "the top layer is '%s'; it must be 'plane' (stripline) or 'air' (microstrip)",
                            kind_name(top->kind));
    if (bottom->kind != WW_LAYER_PLANE)
        return ww_error_set(error, WW_INVALID, NULL, bottom->line,
                            "the bottom layer is '%s'; it must be 'plane', the return of the trace",
                            kind_name(bottom->kind));
    for (const struct ww_layer *at = top + 1; at < bottom; at++) {
        if (at->kind == WW_LAYER_PLANE || at->kind == WW_LAYER_AIR)
            return ww_error_set(
                error, WW_INVALID, NULL, at->line, "layer '%s' lies inside the stackup; %s", kind_name(at->kind),
                at->kind == WW_LAYER_PLANE ? "planes only close it, list what is between two of them"
                                           : "air is only for the top (inside, use 'solid' with dk=1)");
        if (at->kind == WW_LAYER_TRACE && trace)
            return ww_error_set(error, WW_INVALID, NULL, at->line,
                                "a second trace layer (the first is on line %d); a study has exactly one",
                                trace->line);
        if (at->kind == WW_LAYER_TRACE)
            trace = at;
    }
    if (!trace)
        return ww_error_set(error, WW_INVALID, NULL, top->line,
                            "the stackup has no trace layer; add 'layer = trace'");
    if (trace + 1 == bottom || (trace - 1 == top && top->kind == WW_LAYER_PLANE))
        return ww_error_set(error, WW_INVALID, NULL, trace->line,
                            "the trace lies on a plane; put a ply, resin or solid layer between them");
    return WW_OK;
}

static enum ww_status check_layers(const struct ww_stack *stack, struct ww_error *error)
{
    if (!stack->layer || stack->count < 3 || stack->count > layers_most)
        return ww_error_set(error, WW_INVALID, NULL, stack->layer && stack->count ? stack->layer[0].line : 0,
                            "a stackup has from 3 to %zu layers, this one has %zu; list them from top to bottom",
                            layers_most, stack->count);
    for (size_t i = 0; i < stack->count; i++)
        if (!kind_name(stack->layer[i].kind))
            return ww_error_set(error, WW_INVALID, NULL, stack->layer[i].line, "layer kind %d does not exist",
                                (int)stack->layer[i].kind);
    enum ww_status status = check_order(stack->layer, stack->count, error);
    for (size_t i = 0; i < stack->count && !status; i++)
        status = check_layer(&stack->layer[i], error);
    return status;
}

/* --- what is every ply worth? ----------------------------------------------------------------------------------- */

static enum ww_status resin_choose(struct ww_ply *ply, const struct ww_layer *layer, struct ww_error *error)
{
    double dk = layer->resin.dk;
    if (layer->sheet_dk > 0.0) {
        enum ww_status status =
            ww_resin_dk_solve(&ply->cell, ply->thickness, layer->style.glass.dk, layer->sheet_dk, &dk, error);
        if (status) {
            if (error)
                error->line = layer->line;
            return status;
        }
    }
    ply->eps_resin = ww_permittivity(dk, layer->resin.df);
    return WW_OK;
}

/* The cell of the stack's last ply: that of an earlier ply of the same style, or built. Styles are compared byte by byte: two
 * that are told apart wrongly cost but time. */
static enum ww_status cell_build(const struct ww_stack *stack, const struct ww_cell_options *options,
                                 struct ww_error *error)
{
    struct ww_ply *last = &stack->ply[stack->plies - 1];
    const struct ww_style *style = &stack->layer[last->layer].style;
    for (const struct ww_ply *ply = stack->ply; ply < last; ply++)
        /* NOLINTNEXTLINE(bugprone-suspicious-memory-comparison): padding may differ, see above */
        if (memcmp(&stack->layer[ply->layer].style, style, sizeof *style) == 0)
            return ww_cell_copy(&ply->cell, &last->cell, error);
    return ww_cell_build(&last->cell, style, options, error);
}

static enum ww_status ply_build(const struct ww_stack *stack, const struct ww_cell_options *options,
                                struct ww_error *error)
{
    struct ww_ply *ply = &stack->ply[stack->plies - 1];
    const struct ww_layer *layer = &stack->layer[ply->layer];
    const struct ww_glass *glass = &layer->style.glass;
    enum ww_status status = cell_build(stack, options, error);
    if (status) {
        if (error && error->line == 0)
            error->line = layer->line;
        return status;
    }
    ply->turn = layer->turn;
    ply->shift_x = layer->shift_x;
    ply->shift_y = layer->shift_y;
    ply->thickness = fmax(layer->thickness, ply->cell.thickness); /* they may differ by rounding */
    ply->cloth_height = layer->cloth_height > 0.0 ? layer->cloth_height : 0.5 * ply->thickness;
    status = resin_choose(ply, layer, error);
    if (status)
        return status;
    ply->eps_glass = ww_permittivity(glass->dk, glass->df);
    ply->warp_t = ww_bundle_across(ply->eps_glass, ply->eps_resin, ply->cell.warp_packing);
    ply->warp_a = ww_bundle_along(ply->eps_glass, ply->eps_resin, ply->cell.warp_packing);
    ply->fill_t = ww_bundle_across(ply->eps_glass, ply->eps_resin, ply->cell.fill_packing);
    ply->fill_a = ww_bundle_along(ply->eps_glass, ply->eps_resin, ply->cell.fill_packing);
    return ww_ply_report(ply, glass->density, layer->resin.density, error);
}

enum ww_status ww_stack_build(struct ww_stack *stack, const struct ww_cell_options *options, struct ww_error *error)
{
    stack->ply = NULL;
    stack->plies = 0;
    enum ww_status status = check_layers(stack, error);
    if (status)
        goto done;
    stack->ply = calloc(stack->count, sizeof *stack->ply);
    if (!stack->ply) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the plies of %zu layers", stack->count);
        goto done;
    }
    for (size_t i = 0; i < stack->count && !status; i++) {
        if (stack->layer[i].kind != WW_LAYER_PLY)
            continue;
        struct ww_ply *ply = &stack->ply[stack->plies++];
        ply->layer = i;
        status = ply_build(stack, options, error);
    }
done:
    if (status)
        ww_stack_clear(stack);
    return status;
}

struct ww_cloth ww_stack_cloth(const struct ww_stack *stack, size_t ply)
{
    const struct ww_layer *layer = &stack->layer[stack->ply[ply].layer];
    return (struct ww_cloth){&layer->style, layer->patch};
}

void ww_stack_clear(struct ww_stack *stack)
{
    for (size_t i = 0; i < stack->plies; i++)
        ww_cell_clear(&stack->ply[i].cell);
    free(stack->ply);
    stack->ply = NULL;
    stack->plies = 0;
}
