/* structure.c - see structure.h.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "structure.h"

#include <string.h>

struct structure_options structure_single(void)
{
    return (struct structure_options){.kind = STRIPLINE,
                                      .style = "1080",
                                      .ply = 100 * UM,
                                      .width = 100 * UM,
                                      .thickness = 15 * UM,
                                      .fineness = 0.5};
}

struct structure_options structure_pair(void)
{
    struct structure_options options = structure_single();
    options.pitch = 220 * UM;
    return options;
}

enum ww_status structure_cloth(const char *name, struct ww_style *style, struct ww_error *error)
{
    struct ww_weaves weaves = {0};
    enum ww_status status = ww_weaves_open(&weaves, WW_SOURCE_ROOT "/weaves", NULL, error);
    if (!status)
        status = ww_weaves_style(&weaves, name, style, error);
    ww_weaves_close(&weaves);
    return status;
}

struct ww_style structure_exchanged(const struct ww_style *style)
{
    struct ww_style other = *style;
    other.warp = style->fill;
    other.fill = style->warp;
    other.warp_count = style->fill_count;
    other.fill_count = style->warp_count;
    return other;
}

enum ww_status structure_open(struct structure *structure, const struct structure_options *options,
                              struct ww_error *error)
{
    struct ww_style style = {0};
    memset(structure, 0, sizeof *structure);
    enum ww_status status = WW_OK;
    if (options->cloth)
        style = *options->cloth;
    else
        status = structure_cloth(options->style, &style, error);
    if (status)
        return status;
    if (options->glass_dk > 0) {
        style.glass.dk = options->glass_dk;
        style.glass.df = 0;
    }
    double resin_dk = options->resin_dk > 0 ? options->resin_dk : 3.2;
    double height = options->ply > 0 ? options->ply : 1.3 * style.thickness.value;
    struct ww_resin resin = {.name = "resin", .dk = resin_dk, .density = 1400};
    struct ww_layer plane = {.kind = WW_LAYER_PLANE}, air = {.kind = WW_LAYER_AIR};
    struct ww_layer trace = {.kind = WW_LAYER_TRACE, .thickness = options->thickness, .dk = resin_dk, .resin = resin};
    struct ww_layer ply = {.kind = WW_LAYER_PLY, .thickness = height, .dk = resin_dk, .resin = resin, .style = style};
    struct ww_layer solid = {.kind = WW_LAYER_SOLID, .thickness = height, .dk = resin_dk};
    if (options->no_cloth)
        ply = (struct ww_layer){.kind = WW_LAYER_SOLID, .thickness = height, .dk = options->glass_dk};
    struct ww_layer mask = {.kind = WW_LAYER_MASK, .thickness = 20 * UM, .dk = 3.6, .df = 0.02};
    struct ww_layer *layer = structure->layer;
    size_t count = 0;
    bool closed = options->kind == STRIPLINE || options->kind == SANDWICH;

    layer[count++] = closed ? plane : air;
    if (closed) {
        layer[count] = options->kind == SANDWICH ? ply : solid;
        layer[count++].turn = options->turn_above;
    }
    if (options->kind == COVERED)
        layer[count++] = mask;
    layer[count++] = trace;
    ply.turn = options->turn;
    ply.shift_x = options->shift_x;
    ply.shift_y = options->shift_y;
    layer[count++] = ply;
    layer[count++] = plane;

    structure->stack = (struct ww_stack){.layer = layer, .count = count};
    status = ww_stack_build(&structure->stack, &options->cell, error);
    struct ww_trace copper = {options->width, options->thickness, options->pitch};
    struct ww_line_options line = {.fineness = options->fineness};
    if (!status)
        status = ww_line_create(&structure->line, &structure->stack, &copper, &line, error);
    if (status)
        structure_close(structure);
    return status;
}

void structure_close(struct structure *structure)
{
    ww_line_destroy(structure->line);
    ww_stack_clear(&structure->stack);
    memset(structure, 0, sizeof *structure);
}
