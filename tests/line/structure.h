/* structure.h - traces over and between plies of a shipped cloth, to solve in full.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_TESTS_LINE_STRUCTURE_H
#define WW_TESTS_LINE_STRUCTURE_H

#include "line/line.h"

#define UM 1e-6
#define DEGREES (WW_PI / 180)

enum structure_kind {
    STRIPLINE,  /* resin above the trace, the ply below it */
    SANDWICH,   /* a ply above and a ply below */
    MICROSTRIP, /* the ply below, air above */
    COVERED     /* the same under 20 um of solder mask */
};

struct structure_options {
    enum structure_kind kind;
    const char *style;              /* of weaves/styles */
    const struct ww_style *cloth;   /* taken instead if not NULL */
    bool no_cloth;                  /* the ply is a solid of dk glass_dk instead */
    double glass_dk;                /* of glass without loss; 0: the style's own */
    double ply;                     /* thickness of each ply, and of the resin [m]; 0: 1.3 times the fabric's */
    double width, thickness, pitch; /* of the trace [m]; pitch 0: single */
    double resin_dk;                /* 0: 3.2 */
    double turn, turn_above;        /* of the lower ply, of the ply above [rad] */
    double shift_x, shift_y;        /* of the lower ply [m] */
    struct ww_cell_options cell;
    double fineness;
};

struct structure {
    struct ww_layer layer[5];
    struct ww_stack stack;
    struct ww_line *line;
};

/* A single trace 100 um by 15 um in a stripline over a ply of 1080, 100 um thick, on a grid of half the usual fineness;
 * the same as a pair, 220 um centre to centre. */
struct structure_options structure_single(void);
struct structure_options structure_pair(void);

/* WW_OK, or what the style, the stackup or the line was refused for. */
enum ww_status structure_open(struct structure *structure, const struct structure_options *options,
                              struct ww_error *error);
void structure_close(struct structure *structure);

/* The cloth of weaves/styles. */
enum ww_status structure_cloth(const char *name, struct ww_style *style, struct ww_error *error);
/* The same cloth with warp and fill exchanged. */
struct ww_style structure_exchanged(const struct ww_style *style);

#endif
