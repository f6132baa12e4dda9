/* uncertainty.c - how well the figures of a style are known, and the style with one of them elsewhere.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A file may state KEY.uncertainty, a share of the figure either way. Else its origin tells:
 *   closed 15 %   Closing each cloth of known widths by the other one of its kind misses by 15 %, root mean square (close.c).
 *   memory 10 %   Remembered widths are recalled as ranges of +-5 to 7 % (1080: 200 to 230 and 300 to 330 um), remembered
 *                 thicknesses differ from table to table by 4 to 15 % (7628 173 and 180 um, 2113 79 and 74, 1080 53 and 58
 *                 to 64).
 *   found   3 %   Widths within one cloth scatter by 2.2 to 2.7 % (carbon cloth, a thesis; none is published for glass).
 *   given   3 %   As found.
 *
 * Moving a width, the glass stays: what was closed is closed again around both widths. Moving the thickness, heights are
 * scaled and widths stay. The packing follows in both.
 */
#include "fabric/style.h"
#include "weftwise/fabric.h"

static const double CLOSED = 0.15, MEMORY = 0.10, FOUND = 0.03;

double ww_datum_uncertainty(const struct ww_datum *datum)
{
    if (datum->stated)
        return datum->uncertainty;
    switch (datum->origin) {
    case WW_CLOSED:
        return CLOSED;
    case WW_MEMORY:
        return MEMORY;
    case WW_FOUND:
    case WW_USER:
        return FOUND;
    case WW_ABSENT:
    case WW_DERIVED:
        break;
    }
    return 0.0;
}

const char *ww_style_figure_name(enum ww_style_figure figure)
{
    static const char *const name[] = {"warp width", "fill width", "thickness"};
    return figure < WW_STYLE_FIGURES ? name[figure] : "unknown";
}

/* The sum of two heights that were given is known as well as the less certain of them. */
static double thickness_uncertainty(const struct ww_style *style)
{
    double warp = ww_datum_uncertainty(&style->warp.height), fill = ww_datum_uncertainty(&style->fill.height);
    if (style->thickness.stated || style->thickness.origin != WW_CLOSED)
        return ww_datum_uncertainty(&style->thickness);
    return warp > fill ? warp : fill;
}

double ww_style_uncertainty(const struct ww_style *style, enum ww_style_figure figure)
{
    switch (figure) {
    case WW_WARP_WIDTH:
        return ww_datum_uncertainty(&style->warp.width);
    case WW_FILL_WIDTH:
        return ww_datum_uncertainty(&style->fill.width);
    case WW_CLOTH_THICKNESS:
        return thickness_uncertainty(style);
    case WW_STYLE_FIGURES:
        break;
    }
    return 0.0;
}

/* A height that was closed may be closed again. */
static void free_height(struct ww_datum *height)
{
    if (height->origin == WW_CLOSED)
        height->origin = WW_ABSENT;
}

enum ww_status ww_style_move(struct ww_style *moved, const struct ww_style *style, enum ww_style_figure figure,
                             double share, struct ww_error *error)
{
    struct ww_style copy = *style;
    if (figure == WW_CLOTH_THICKNESS) {
        copy.warp.height.value *= 1.0 + share;
        copy.fill.height.value *= 1.0 + share;
        copy.thickness.value *= 1.0 + share;
    } else {
        (figure == WW_WARP_WIDTH ? &copy.warp : &copy.fill)->width.value *= 1.0 + share;
        free_height(&copy.warp.height);
        free_height(&copy.fill.height);
    }
    enum ww_status status = ww_style_close(&copy, error);
    *moved = status ? *style : copy;
    return status;
}
