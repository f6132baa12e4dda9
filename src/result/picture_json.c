/* picture_json.c - a cloth measured from its picture, as JSON.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "result/json.h"

static json_t *yarns(const struct ww_picture_yarns *y)
{
    json_t *o = json_object();
    bool seen = y->edges_seen, wanders = y->wander > 0.0;
    bool good =
        put(o, "yarns", json_integer((json_int_t)y->yarns)) && put(o, "pitch_um", number(y->pitch.value, um)) &&
        put(o, "pitch_error_um", number(y->pitch.error, um)) &&
        put(o, "count_per_inch", number(0.0254 / y->pitch.value, 1.0)) &&
        put(o, "count_per_cm", number(0.01 / y->pitch.value, 1.0)) &&
        put(o, "turn_deg", number(y->turn.value, degree)) &&
        put(o, "turn_error_deg", number(y->turn.error, degree)) &&
        put(o, "pitch_change", number(y->perspective, 1.0)) && put(o, "width_um", known(seen, y->width.value, um)) &&
        put(o, "width_error_um", known(seen, y->width.error, um)) &&
        put(o, "width_scatter_um", known(seen, y->width_scatter, um)) &&
        put(o, "gap_um", known(seen, y->gap.value, um)) && put(o, "gap_error_um", known(seen, y->gap.error, um)) &&
        put(o, "gap_scatter_um", known(seen, y->gap_scatter, um)) && put(o, "blur_um", known(seen, y->blur, um)) &&
        put(o, "wander_um", number(y->wander, um)) && put(o, "followed_within_um", number(y->noise, um)) &&
        put(o, "correlation_length_mm", known(y->correlation_length > 0.0, y->correlation_length, mm)) &&
        put(o, "neighbours_correlation", known(wanders, y->together, 1.0)) &&
        put(o, "followed_over_mm", number(y->span, mm));
    return whole(o, good);
}

enum ww_status ww_result_picture_json(FILE *stream, const struct ww_picture *picture,
                                      const struct ww_cloth_picture *cloth, const char *style, const char *like,
                                      struct ww_error *error)
{
    json_t *o = json_object();
    bool good = put(o, "command", text("measure")) && put(o, "version", text(ww_version())) &&
                put(o, "picture", file_name(picture->file)) && put(o, "pixel_um", number(picture->pixel, um)) &&
                put(o, "scale_from", text(picture->from)) && put(o, "width_mm", number(cloth->lx, mm)) &&
                put(o, "height_mm", number(cloth->ly, mm)) && put(o, "style", text(style)) &&
                put(o, "like", like ? text(like) : json_null()) && put(o, "warp", yarns(&cloth->warp)) &&
                put(o, "fill", yarns(&cloth->fill)) &&
                put(o, "warp_to_fill_deg", number(cloth->between.value, degree)) &&
                put(o, "warp_to_fill_error_deg", number(cloth->between.error, degree));
    return ww_json_write(stream, whole(o, good), error);
}
