/* opening.c - cloths on each other in one ply.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Two sheets of prepreg pressed together are one layer of a drawing and two cloths, and nothing ties one to the other: each
 * lies as it comes. So an opening of height t with n cloths is n plies, each with its own start, and whatever takes plies
 * takes them. Where one ends and the next begins is all resin, so the only question is at which height each cloth lies.
 * Sheets of one resin system press to about the same share of resin, so that cloth i with the glass g_i (volume per area)
 * gets the height
 *   t_i = t g_i / (g_1 + ... + g_n),
 * and the cloth lies at the middle of its ply. Where that is less than the cloth is thick (nested yarns would have to share
 * the room) the ply is as thick as its cloth, and the others share what is left by the same rule.
 */
#include "weftwise/laminate.h"

#include <stdio.h>
#include <string.h>

size_t ww_opening_layers(const struct ww_layer *layer, size_t count)
{
    size_t layers = 0;
    while (layers < count && layer[layers].kind == WW_LAYER_PLY && layer[layers].turn == layer->turn &&
           layer[layers].sheet_dk == layer->sheet_dk && strcmp(layer[layers].resin.name, layer->resin.name) == 0)
        layers++;
    return layers;
}

double ww_opening_thickness(const struct ww_layer *layer, size_t layers)
{
    double thickness = 0.0;
    for (size_t i = 0; i < layers; i++)
        thickness += layer[i].thickness;
    return thickness;
}

char *ww_opening_text(const struct ww_layer *layer, size_t layers, char *out, size_t size)
{
    size_t used = 0;
    out[0] = '\0';
    for (size_t i = 0, same = 1; i < layers && used < size; i += same, same = 1) {
        while (i + same < layers && strcmp(layer[i].style.name, layer[i + same].style.name) == 0)
            same++;
        const char *plus = i ? "+" : "", *name = layer[i].style.name;
        int put = same > 1 ? snprintf(out + used, size - used, "%s%zux%s", plus, same, name)
                           : snprintf(out + used, size - used, "%s%s", plus, name);
        used += put > 0 ? (size_t)put : 0;
    }
    return out;
}

/* Of a closed style. */
static double thickness_of(const struct ww_style *style)
{
    return style->warp.height.value + style->fill.height.value;
}

/* Volume per area, crimp aside. */
static double glass_of(const struct ww_style *style)
{
    return ww_style_weight(style) / style->glass.density;
}

/* Give those that would be too thin their cloth's thickness; false if there was none. */
static bool hold_thin(bool *held, const struct ww_style *style, size_t count, double per_glass)
{
    bool any = false;
    for (size_t i = 0; i < count; i++)
        if (!held[i] && per_glass * glass_of(&style[i]) < thickness_of(&style[i]))
            any = held[i] = true;
    return any;
}

static void share_height(struct ww_layer *layer, double height, const struct ww_style *style, size_t count)
{
    bool held[WW_CLOTHS_MOST] = {false};
    double per_glass = 0.0;
    do {
        double glass = 0.0, left = height;
        for (size_t i = 0; i < count; i++) {
            left -= held[i] ? thickness_of(&style[i]) : 0.0;
            glass += held[i] ? 0.0 : glass_of(&style[i]);
        }
        per_glass = glass > 0.0 ? left / glass : 0.0;
    } while (hold_thin(held, style, count, per_glass));
    for (size_t i = 0; i < count; i++)
        layer[i].thickness = held[i] ? thickness_of(&style[i]) : per_glass * glass_of(&style[i]);
}

enum ww_status ww_opening_fill(struct ww_layer *layer, const struct ww_layer *opening, const struct ww_style *style,
                               size_t count, struct ww_error *error)
{
    double cloths = 0.0;
    char given[32], least[32];
    for (size_t i = 0; i < count; i++) {
        layer[i] = *opening;
        layer[i].style = style[i];
        cloths += thickness_of(&style[i]);
    }
    if (count == 1)
        return WW_OK; /* judged with the other plies */
    if (!(cloths <= opening->thickness))
        return ww_error_set(
            error, WW_UNPHYSICAL, NULL, opening->line,
            "a ply of %s cannot hold its %zu fabrics, which are %s thick together; give the ply at least that",
            ww_number_format(given, sizeof given, opening->thickness, WW_LENGTH, 4), count,
            ww_number_format(least, sizeof least, cloths, WW_LENGTH, 4));
    share_height(layer, opening->thickness, style, count);
    for (size_t i = 0; i < count; i++)
        layer[i].cloth_height = 0.0;
    return WW_OK;
}
