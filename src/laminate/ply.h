/* ply.h - the report figures of a ply, shared inside the laminate stage.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef LAMINATE_PLY_H
#define LAMINATE_PLY_H

#include "weftwise/laminate.h"

/* Fill the report part of a ply whose cell, thickness and permittivities are set. Densities [kg/m3]; a resin density
 * of 0 means not known. WW_NO_MEMORY. */
enum ww_status ww_ply_report(struct ww_ply *ply, double glass_density, double resin_density, struct ww_error *error);

#endif
