/* fabric/style.h - what the files of this stage share about a style.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef FABRIC_STYLE_H
#define FABRIC_STYLE_H

#include "fabric/keys.h"
#include "weftwise/fabric.h"

/* Bounds of the width and height of a yarn [m]. */
#define WW_YARN_LEAST 1e-6
#define WW_YARN_MOST 10e-3

/* Bounds of the linear density of a yarn [kg/m] and of the weight of a cloth [kg/m2]. */
#define WW_TEX_LEAST 0.01e-6
#define WW_TEX_MOST 10000e-6
#define WW_WEIGHT_LEAST 0.1e-3
#define WW_WEIGHT_MOST 10000e-3

/* Bounds of the superellipse exponent: a lens with straight flanks, and nearly a rectangle. */
#define WW_SHAPE_LEAST 1.0
#define WW_SHAPE_MOST 20.0

/* The closest packing of equal round filaments, hexagonal: pi/(2 sqrt 3). */
#define WW_PACKING_MOST 0.90689968211710892530

/* Refuse a style from which no cloth can be made: counts, sizes, shape and packing out of range, a yarn wider than
 * its pitch. WW_UNPHYSICAL; the message carries the style's file and line. */
enum ww_status ww_style_check(const struct ww_style *style, struct ww_error *error);

/* Has the section all that a style needs? */
bool ww_style_stands_alone(const struct section *section);

/* Read one section as it stands into a zeroed struct, a style with `over` into one that was read: a style is neither closed
 * nor given its glass, of which only the name is read. Statuses of ww_keys_read; on failure the struct is partly filled. */
enum ww_status ww_style_read(struct ww_style *style, const struct section *section, bool over,
                             struct ww_error *error);
enum ww_status ww_glass_read(struct ww_glass *glass, const struct section *section, struct ww_error *error);
enum ww_status ww_resin_read(struct ww_resin *resin, const struct section *section, struct ww_error *error);
enum ww_status ww_foil_read(struct ww_foil *foil, const struct section *section, struct ww_error *error);

#endif
