/* A coarse board under real cloth, and what a request on it has.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_TESTS_PATCH_REAL_BOARD_H
#define WW_TESTS_PATCH_REAL_BOARD_H

#include "../line/board.h"
#include "weftwise/patch.h"

static struct board_options coarse(bool pair)
{
    struct board_options options = pair ? board_pair() : board_plain();
    options.cell = (struct ww_cell_options){.nx = 24, .ny = 24, .nz = 6};
    options.fineness = 0.5;
    return options;
}

static const struct ww_scatter none = {0};
/* Half a pitch: far more than keeps step. All yarns together, so that they fit. */
static const struct ww_scatter wild = {.yarn = {{250 * UM, 3e-3, 1, 0}, {0}}, .seed = 2};

static struct ww_real solved(const struct board *board, const struct ww_real_request *request)
{
    struct ww_real real;
    struct ww_error error = {0};
    assert_ok(ww_real_solve(&real, board->line, request, &error), error);
    return real;
}

#endif
