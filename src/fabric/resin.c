/* resin.c - with how much resin prepregs of a cloth are made.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A prepreg needs resin enough to fill the yarns and the gaps between them, and the trace's copper beside: below that it is
 * starved, and voids are left. Above what the cloth can carry through the press the resin runs out, and the ply comes out
 * thinner than drawn. Prepregs of common cloth hold 45 to 75 % resin by weight; thin cloth is mostly gap and goes to
 * 80 %; heavy cloth, of which 7628 is pressed with 40 to 50 %, goes down to 38 % (all from memory). The eight prepregs of
 * tests/laminate/test_prepreg.c, 49 to 72 %, lie inside.
 */
#include "weftwise/fabric.h"

#include <string.h>

static const double THIN = 35e-3, HEAVY = 150e-3; /* [kg/m2] of cloth: 1067 and below; 1500 and above */
static const double COMMON_LEAST = 0.45, COMMON_MOST = 0.75, THIN_MOST = 0.80, HEAVY_LEAST = 0.38;

static struct ww_datum from_memory(double value, const char *of)
{
    struct ww_datum datum = {.value = value, .origin = WW_MEMORY};
    snprintf(datum.source, sizeof datum.source, "from memory: %s", of);
    return datum;
}

struct ww_datum ww_style_resin_least(const struct ww_style *style)
{
    if (style->resin_least.origin != WW_ABSENT)
        return style->resin_least;
    return ww_style_weight(style) >= HEAVY ? from_memory(HEAVY_LEAST, "prepregs of heavy cloth, 150 g/m2 and above")
                                           : from_memory(COMMON_LEAST, "prepregs of common cloth");
}

struct ww_datum ww_style_resin_most(const struct ww_style *style)
{
    if (style->resin_most.origin != WW_ABSENT)
        return style->resin_most;
    return ww_style_weight(style) <= THIN ? from_memory(THIN_MOST, "prepregs of thin cloth, up to 35 g/m2")
                                          : from_memory(COMMON_MOST, "prepregs of common cloth");
}
