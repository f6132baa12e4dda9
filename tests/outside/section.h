/* section.h - cross-sections of plain layers for the outside checks, solved through the public interface.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef OUTSIDE_SECTION_H
#define OUTSIDE_SECTION_H

#include "weftwise/line.h"

#define PLANE                                                                                                        \
    {                                                                                                                \
        .kind = WW_LAYER_PLANE                                                                                       \
    }
#define OPEN                                                                                                         \
    {                                                                                                                \
        .kind = WW_LAYER_AIR                                                                                         \
    }
#define TRACE(t, fill)                                                                                               \
    {                                                                                                                \
        .kind = WW_LAYER_TRACE, .thickness = (t), .dk = (fill)                                                       \
    }
#define LAYER(t, eps)                                                                                                \
    {                                                                                                                \
        .kind = WW_LAYER_SOLID, .thickness = (t), .dk = (eps)                                                        \
    }

/* Unit of length of the checks, in which tables give w/b and the like [m]. */
#define UNIT 1e-3

/* Summary of a trace (pitch 0) or pair in these layers, top to bottom; thicknesses, width and pitch in UNIT. Fails the
 * test if it cannot be had. */
struct ww_line_summary section_solve(const struct ww_layer *layer, size_t count, double width, double pitch);
#define SOLVE(width, pitch, ...)                                                                                     \
    section_solve((const struct ww_layer[]){__VA_ARGS__},                                                            \
                  sizeof((const struct ww_layer[]){__VA_ARGS__}) / sizeof(struct ww_layer), width, pitch)

/* Print both and how far apart they are, then assert. */
void section_compare(const char *what, double got, double want, double tolerance);

#endif
