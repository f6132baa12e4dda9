/* fabric/style.h - what the files of this stage share about a style.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef FABRIC_STYLE_H
#define FABRIC_STYLE_H

#include "weftwise/fabric.h"

/* Bounds of the superellipse exponent: a lens with straight flanks, and nearly a rectangle. */
#define WW_SHAPE_LEAST 1.0
#define WW_SHAPE_MOST 20.0

/* The closest packing of equal round filaments, hexagonal: pi/(2 sqrt 3). */
#define WW_PACKING_MOST 0.90689968211710892530

/* Refuse a style from which no cloth can be made: counts, sizes, shape and packing out of range, a yarn wider than
 * its pitch. WW_UNPHYSICAL; the message carries the style's file. */
enum ww_status ww_style_check(const struct ww_style *style, struct ww_error *error);

#endif
