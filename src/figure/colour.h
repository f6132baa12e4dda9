/* figure/colour.h - colours built in OKLab: two ramps, and the few colours lines are drawn in.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_FIGURE_COLOUR_H
#define WW_FIGURE_COLOUR_H

/* Lightness L (0 black .. 1 white) and the two opponent axes. */
struct ww_oklab {
    double l, a, b;
};
/* Linear-light sRGB, 0..1 inside the gamut. */
struct ww_linear_rgb {
    double r, g, b;
};
/* sRGB as displays and cairo take it, 0..1. */
struct ww_rgb {
    double r, g, b;
};

struct ww_linear_rgb ww_oklab_to_linear(struct ww_oklab colour);
struct ww_oklab ww_linear_to_oklab(struct ww_linear_rgb colour);
/* Encodes with the sRGB curve; what lies outside the gamut is cut to it. */
struct ww_rgb ww_rgb_encode(struct ww_linear_rgb colour);

enum ww_ramp {
    WW_RAMP_SEQUENTIAL, /* t = 0 deep indigo .. 1 cream: the higher the lighter */
    WW_RAMP_DIVERGING   /* t = 0 blue .. 1/2 near white .. 1 rust: lightness depends on |t - 1/2| alone */
};
/* The ramp before it is encoded; t is held to [0, 1], NaN gives WW_INK_NAN. */
struct ww_oklab ww_ramp_oklab(enum ww_ramp ramp, double t);
struct ww_rgb ww_ramp_colour(enum ww_ramp ramp, double t);

/* Everything that is not a ramp. */
enum ww_ink {
    WW_INK_PAPER,
    WW_INK_TEXT,  /* text, axes, outlines */
    WW_INK_QUIET, /* captions, secondary lines */
    WW_INK_GRID,  /* grid lines */
    WW_INK_LEG1,  /* dark blue, drawn solid */
    WW_INK_LEG2,  /* light orange, drawn dashed */
    WW_INK_BODY,  /* bars */
    WW_INK_ALARM, /* over budget */
    WW_INK_NAN,   /* a value that is not a number: black, darker than either ramp anywhere */
    WW_INKS
};
struct ww_oklab ww_ink_oklab(enum ww_ink ink);
struct ww_rgb ww_ink_colour(enum ww_ink ink);

#endif
