/* board.h - a small board to test on: a stripline between two planes, 215 um apart unless told, one or two plies of a cloth T1.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_TESTS_LINE_BOARD_H
#define WW_TESTS_LINE_BOARD_H

#include "check.h"
#include "line/line.h"

#define UM 1e-6
#define DEGREES (WW_PI / 180)

/* What may differ from board to board; start from board_plain(). */
struct board_options {
    double width, thickness, pitch; /* of the trace [m]; pitch 0: single */
    double glass_dk, resin_dk;
    double height;                 /* of the dielectric above, and of that below the trace [m] */
    bool above, below;             /* is there cloth in them? */
    double turn, shift_x, shift_y; /* of the ply below */
    double turn_above;
    double cloth_height; /* of the cloth's middle above the lower face of the ply below [m]; 0: half way */
    struct ww_cell_options cell;
    double fineness;
};

struct board {
    struct ww_layer layer[5];
    struct ww_stack stack;
    struct ww_line *line;
};

/* A trace 100 um by 15 um, cloth of glass 6.3 in resin 3.2 below it, resin above. */
struct board_options board_plain(void);
/* The same as a pair, 220 um centre to centre. */
struct board_options board_pair(void);
/* Builds and solves, or fails the test. */
void board_open(struct board *board, const struct board_options *options);
void board_close(struct board *board);

/* The cloth: 60 by 47 per inch, 11.2 tex, warp 300 by 27 um, fill 330 by 25 um, elliptic. */
struct ww_style board_style(double glass_dk);

#endif
