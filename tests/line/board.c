/* board.c - see board.h.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "board.h"

#include <stdio.h>

static struct ww_yarn yarn(double width, double height)
{
    struct ww_yarn yarn = {.glass_area = 11.2e-6 / 2580};
    yarn.tex = (struct ww_datum){.value = 11.2e-6, .origin = WW_USER};
    yarn.width = (struct ww_datum){.value = width, .origin = WW_USER};
    yarn.height = (struct ww_datum){.value = height, .origin = WW_USER};
    yarn.packing = yarn.glass_area / (0.25 * WW_PI * width * height);
    return yarn;
}

struct ww_style board_style(double glass_dk)
{
    struct ww_style style = {.name = "T1", .kind = WW_PLAIN};
    style.warp_count = (struct ww_datum){.value = 60 / 25.4e-3, .origin = WW_USER};
    style.fill_count = (struct ww_datum){.value = 47 / 25.4e-3, .origin = WW_USER};
    style.shape = (struct ww_datum){.value = 2, .origin = WW_USER};
    style.thickness = (struct ww_datum){.value = 52 * UM, .origin = WW_USER};
    style.warp = yarn(300 * UM, 27 * UM);
    style.fill = yarn(330 * UM, 25 * UM);
    style.glass = (struct ww_glass){.name = "E", .dk = glass_dk, .density = 2580};
    return style;
}

struct board_options board_plain(void)
{
    return (struct board_options){
        .width = 100 * UM, .thickness = 15 * UM, .height = 100 * UM, .glass_dk = 6.3, .resin_dk = 3.2, .below = true};
}

struct board_options board_pair(void)
{
    struct board_options options = board_plain();
    options.pitch = 220 * UM;
    return options;
}

static void lay(struct ww_layer *layer, bool cloth, const struct board_options *options)
{
    layer->kind = cloth ? WW_LAYER_PLY : WW_LAYER_SOLID;
    layer->thickness = options->height;
    layer->dk = options->resin_dk;
    if (!cloth)
        return;
    layer->style = board_style(options->glass_dk);
    layer->resin = (struct ww_resin){.name = "resin", .dk = options->resin_dk, .density = 1200};
}

void board_open(struct board *board, const struct board_options *options)
{
    memset(board, 0, sizeof *board);
    struct ww_layer *layer = board->layer;
    struct ww_error error = {0};
    layer[0].kind = layer[4].kind = WW_LAYER_PLANE;
    lay(&layer[1], options->above, options);
    layer[1].turn = options->turn_above;
    layer[2] = (struct ww_layer){.kind = WW_LAYER_TRACE, .thickness = options->thickness, .dk = options->resin_dk};
    lay(&layer[3], options->below, options);
    layer[3].turn = options->turn;
    layer[3].shift_x = options->shift_x;
    layer[3].shift_y = options->shift_y;
    layer[3].cloth_height = options->cloth_height;
    board->stack.layer = layer;
    board->stack.count = 5;
    assert_ok(ww_stack_build(&board->stack, &options->cell, &error), error);
    struct ww_trace trace = {options->width, options->thickness, options->pitch};
    struct ww_line_options line = {.fineness = options->fineness};
    assert_ok(ww_line_create(&board->line, &board->stack, &trace, &line, &error), error);
}

void board_close(struct board *board)
{
    ww_line_destroy(board->line);
    ww_stack_clear(&board->stack);
    memset(board, 0, sizeof *board);
}
