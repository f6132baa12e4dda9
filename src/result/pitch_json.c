/* pitch_json.c - which pair pitch and trace width null the skew, as JSON.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "result/json.h"

/* Row by row; what cannot be built is null. */
static json_t *map_array(const struct ww_pitch *pitch, const double *value, double unit)
{
    json_t *rows = json_array();
    bool good = rows != NULL;
    for (size_t i = 0; i < pitch->widths && good; i++) {
        json_t *row = json_array();
        for (size_t k = 0; k < pitch->pitches && good; k++) {
            double at = value[i * pitch->pitches + k];
            good = json_array_append_new(row, known(at >= 0.0, at, unit)) == 0;
        }
        good = json_array_append_new(rows, whole(row, good)) == 0;
    }
    return whole(rows, good);
}

static json_t *nulls_array(const struct ww_pitch *pitch)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < pitch->nulls && good; i++) {
        const struct ww_null *null = &pitch->null[i];
        json_t *o = json_object();
        good = put(o, "least_in", text(null->in_width ? "width" : "pitch")) &&
               put(o, "pitch_um", known(null->pitch > 0.0, null->pitch, um)) &&
               put(o, "width_um", number(null->width, um)) && put(o, "worst_ps", number(null->worst, ps)) &&
               put(o, "worst_ps_with_turn", number(null->design, ps)) &&
               put(o, "impedance_ohm", number(null->impedance, 1.0));
        good = json_array_append_new(array, whole(o, good)) == 0;
    }
    return whole(array, good);
}

/* The study's own choice. */
static json_t *own_object(const struct ww_null *own)
{
    json_t *o = json_object();
    bool good = put(o, "pitch_um", known(own->pitch > 0.0, own->pitch, um)) &&
                put(o, "width_um", number(own->width, um)) && put(o, "worst_ps", number(own->worst, ps)) &&
                put(o, "worst_ps_with_turn", number(own->design, ps)) &&
                put(o, "impedance_ohm", number(own->impedance, 1.0));
    return whole(o, good);
}

/* How fast the deepest is lost. */
static json_t *loss_object(const struct ww_pitch *pitch)
{
    json_t *o = json_object();
    bool good = put(o, "pitch_um", known(pitch->null_pitch > 0.0, pitch->null_pitch, um)) &&
                put(o, "width_um", number(pitch->null_width, um)) &&
                put(o, "worst_ps_with_turn", number(pitch->null_with_turn, ps)) &&
                put(o, "angle_off_deg", ww_json_numbers(pitch->angle, pitch->count, degree)) &&
                put(o, "worst_at_angle_ps", ww_json_numbers(pitch->at_angle, pitch->count, ps)) &&
                put(o, "stretch", ww_json_numbers(pitch->stretch, pitch->count, 1.0)) &&
                put(o, "worst_at_stretch_ps", ww_json_numbers(pitch->at_stretch, pitch->count, ps));
    return whole(o, good);
}

enum ww_status ww_result_pitch_json(FILE *stream, const struct ww_study *study, const struct ww_pitch *pitch,
                                    struct ww_error *error)
{
    bool good = false, pair = study->trace.pitch > 0.0;
    json_t *o = ww_json_study("pitch", study, &good);
    good = good && put(o, "signal", ww_json_signal(study)) &&
           put(o, "value", text(pair ? "skew" : "delay difference")) &&
           put(o, "gap_um", known(pair, pitch->gap, um)) &&
           put(o, "pitch_um", pair ? ww_json_numbers(pitch->pitch, pitch->pitches, um) : json_null()) &&
           put(o, "width_um", ww_json_numbers(pitch->width, pitch->widths, um)) &&
           put(o, "worst_ps", map_array(pitch, pitch->worst, ps)) &&
           put(o, "impedance_ohm", map_array(pitch, pitch->impedance, 1.0)) && put(o, "nulls", nulls_array(pitch)) &&
           put(o, "own", own_object(&pitch->own)) && put(o, "loss", pitch->count ? loss_object(pitch) : json_null());
    return ww_json_write(stream, whole(o, good), error);
}
