/* angles_json.c - which routing angles are safe, as JSON.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "result/json.h"

static json_t *angles_array(const struct ww_angles *angles)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < angles->count && good; i++) {
        const struct ww_at_angle *at = &angles->at[i];
        json_t *o = json_object();
        good = put(o, "angle_deg", number(at->angle, degree)) && put(o, "worst_ps", number(at->worst, ps)) &&
               put(o, "p99_ps", number(at->p99, ps)) && put(o, "median_ps", number(at->median, ps)) &&
               put(o, "design_ps", number(at->design, ps)) &&
               put(o, "conversion_db", ww_json_level(at->conversion)) &&
               put(o, "conversion_p99_db", ww_json_level(at->conversion_p99)) &&
               put(o, "conversion_median_db", ww_json_level(at->conversion_median)) &&
               put(o, "conversion_design_db", ww_json_level(at->conversion_design));
        good = json_array_append_new(array, whole(o, good)) == 0;
    }
    return whole(array, good);
}

static json_t *windows_array(const struct ww_window *window, size_t windows)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < windows && good; i++) {
        json_t *ends = json_array();
        good = json_array_append_new(ends, number(window[i].from, degree)) == 0 &&
               json_array_append_new(ends, number(window[i].to, degree)) == 0;
        good = json_array_append_new(array, whole(ends, good)) == 0;
    }
    return whole(array, good);
}

static json_t *revivals_array(const struct ww_angles *angles)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < angles->revivals && good; i++) {
        const struct ww_revival *revival = &angles->revival[i];
        json_t *o = json_object();
        good = put(o, "m", json_integer(revival->m)) && put(o, "l", json_integer(revival->l)) &&
               put(o, "ply", json_integer((json_int_t)revival->ply + 1)) &&
               put(o, "angle_deg", number(revival->angle, degree)) &&
               put(o, "growth_ps_per_mm", number(revival->growth, ps / mm));
        good = json_array_append_new(array, whole(o, good)) == 0;
    }
    return whole(array, good);
}

static json_t *matches_array(const struct ww_angles_conversion *conversion)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < conversion->matches && good; i++) {
        const struct ww_phase_match *match = &conversion->match[i];
        json_t *o = json_object();
        good = put(o, "m", json_integer(match->m)) && put(o, "l", json_integer(match->l)) &&
               put(o, "ply", json_integer((json_int_t)match->ply + 1)) &&
               put(o, "angle_deg", number(match->angle, degree)) && put(o, "alone_db", ww_json_level(match->alone)) &&
               put(o, "conversion_db", ww_json_level(match->conversion));
        good = json_array_append_new(array, whole(o, good)) == 0;
    }
    return whole(array, good);
}

/* null without a frequency */
static json_t *conversion_object(const struct ww_angles_conversion *conversion)
{
    if (!(conversion->frequency > 0.0))
        return json_null();
    json_t *o = json_object();
    bool good = put(o, "frequency_ghz", number(conversion->frequency, 1e9)) &&
                put(o, "windows", windows_array(conversion->window, conversion->windows)) &&
                put(o, "phase_matched", matches_array(conversion));
    return whole(o, good);
}

/* null where no angle is advised */
static json_t *advice_object(const struct ww_angles *angles)
{
    const struct ww_angle_advice *advice = &angles->advice;
    if (!advice->found)
        return json_null();
    json_t *o = json_object();
    bool good = put(o, "angle_deg", number(advice->angle, degree)) &&
                put(o, "window", windows_array(&advice->window, 1)) &&
                put(o, "worst_ps", number(advice->worst, ps)) &&
                put(o, "times_within_budget", number(angles->budget / advice->worst, 1.0)) &&
                put(o, "worst_across_ps", number(advice->across, ps));
    return whole(o, good);
}

static json_t *turn_away(double angle)
{
    return known(angle >= 0, angle, degree);
}

enum ww_status ww_result_angles_json(FILE *stream, const struct ww_study *study, const struct ww_line_summary *line,
                                     const struct ww_angles *angles, const char *sentence, struct ww_error *error)
{
    bool good = false;
    json_t *o = ww_json_study("angles", study, &good);
    good = good && put(o, "signal", ww_json_signal(study)) && put(o, "line", ww_json_line(line, angles->pair)) &&
           put(o, "value", text(angles->pair ? "skew" : "delay difference")) && put(o, "sentence", text(sentence)) &&
           put(o, "turn_deg", number(angles->turn, degree)) &&
           put(o, "turn_is_assumed", json_boolean(study->turn_is_assumed)) &&
           put(o, "advice", advice_object(angles)) && put(o, "angles", angles_array(angles)) &&
           put(o, "windows", windows_array(angles->window, angles->windows)) &&
           put(o, "revivals", revivals_array(angles)) &&
           put(o, "safe_from_warp_deg", turn_away(angles->safe_from_warp)) &&
           put(o, "safe_from_fill_deg", turn_away(angles->safe_from_fill)) &&
           put(o, "safe_from_45_deg", turn_away(angles->safe_from_diagonal)) &&
           put(o, "conversion", conversion_object(&angles->conversion));
    return ww_json_write(stream, whole(o, good), error);
}
