/* compare_json.c - which glass, as JSON.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "result/json.h"

/* The figure to design by, over angle. */
static json_t *curve_array(const struct ww_angles *angles)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < angles->count && good; i++) {
        const struct ww_at_angle *at = &angles->at[i];
        json_t *o = json_object();
        good = put(o, "angle_deg", number(at->angle, degree)) && put(o, "worst_ps", number(at->worst, ps)) &&
               put(o, "design_ps", number(at->design, ps));
        good = json_array_append_new(array, whole(o, good)) == 0;
    }
    return whole(array, good);
}

static json_t *tolerances_object(const struct ww_skew *skew, bool budget)
{
    json_t *o = json_object();
    bool good = put(o, "median_ps", number(skew->tolerant_median, ps)) &&
                put(o, "p99_ps", number(skew->tolerant_p99, ps)) &&
                put(o, "over_budget", known(budget, skew->tolerant_over_budget, 1.0));
    return whole(o, good);
}

static bool put_answer(json_t *o, const struct ww_compared *of, bool budget)
{
    const struct ww_skew *skew = &of->skew;
    double safe = of->angles.safe_from_warp;
    return put(o, "worst_ps", number(skew->worst, ps)) && put(o, "p99_ps", number(skew->p99, ps)) &&
           put(o, "median_ps", number(skew->median, ps)) &&
           put(o, "over_budget", known(budget, skew->over_budget, 1.0)) &&
           put(o, "worst_ps_with_turn", number(skew->worst_with_turn, ps)) &&
           put(o, "with_tolerances", tolerances_object(skew, budget)) &&
           put(o, "conversion_db", ww_json_level(skew->conversion.worst)) &&
           put(o, "conversion_db_with_turn", ww_json_level(skew->conversion.worst_with_turn)) &&
           put(o, "safe_from_warp_deg", known(budget && safe >= 0.0, safe, degree)) &&
           put(o, "correction_ratio", number(skew->correction_ratio, 1.0)) &&
           put(o, "range", ww_json_doubts(&of->doubts)) && put(o, "line", ww_json_line(&of->line, skew->pair));
}

/* Of each opening that changes, from the top. */
static json_t *openings_array(const struct ww_compared *of)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < of->fillings && good; i++) {
        const struct ww_filling *filling = &of->filling[i];
        json_t *o = json_object();
        good = put(o, "cloths", json_integer((json_int_t)filling->cloths)) &&
               put(o, "resin_content", known(filling->resin_content > 0.0, filling->resin_content, 1.0)) &&
               put(o, "resin_flag", filling->flag ? text(ww_resin_flag_name(filling->flag)) : json_null());
        good = json_array_append_new(array, whole(o, good)) == 0;
    }
    return whole(array, good);
}

static bool put_ply(json_t *o, const struct ww_compared *of)
{
    return put(o, "weave", text(ww_weave_kind_name(of->kind))) && put(o, "openings", openings_array(of)) &&
           put(o, "warp_pitch_um", number(of->warp_pitch, um)) &&
           put(o, "fill_pitch_um", number(of->fill_pitch, um)) && put(o, "dk_bulk", number(of->mean_dk, 1.0)) &&
           put(o, "dk_resin", number(of->resin_dk, 1.0)) &&
           put(o, "resin_content", known(of->resin_content > 0.0, of->resin_content, 1.0)) &&
           put(o, "glass_fraction", number(of->glass_fraction, 1.0));
}

/* null where no beam drills. */
static json_t *via_object(const struct ww_compared *of, double diameter)
{
    if (!(diameter > 0.0))
        return json_null();
    json_t *o = json_object();
    bool good = put(o, "diameter_um", number(diameter, um)) && ww_json_put_via(o, &of->via);
    return whole(o, good);
}

/* Names of the others whose ranges overlap with this one's. */
static json_t *alike_array(const struct ww_comparison *comparison, size_t i)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t k = 0; k < comparison->count && good; k++)
        if (k != i && !comparison->of[k].status && ww_compared_alike(&comparison->of[i], &comparison->of[k]))
            good = json_array_append_new(array, text(ww_compared_name(&comparison->of[k]))) == 0;
    return whole(array, good);
}

static json_t *styles_array(const struct ww_comparison *comparison, const struct ww_study *study)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < comparison->count && good; i++) {
        const struct ww_compared *of = &comparison->of[i];
        json_t *o = json_object();
        good = put(o, "style", text(of->name)) && put(o, "label", text(ww_compared_name(of))) &&
               put(o, "own", json_boolean(of->own)) && put(o, "usable", json_boolean(!of->status)) &&
               put(o, "reason", of->status ? text(of->error.text) : json_null());
        if (!of->status)
            good = good && put_answer(o, of, study->budget > 0.0) && put_ply(o, of) &&
                   put(o, "via", via_object(of, study->via_diameter)) && put(o, "angles", curve_array(&of->angles)) &&
                   put(o, "not_told_apart_from", alike_array(comparison, i));
        good = json_array_append_new(array, whole(o, good)) == 0;
    }
    return whole(array, good);
}

enum ww_status ww_result_compare_json(FILE *stream, const struct ww_study *study,
                                      const struct ww_comparison *comparison, size_t ply, bool same_dk,
                                      struct ww_error *error)
{
    bool good = false;
    json_t *o = ww_json_study("compare", study, &good);
    good = good && put(o, "signal", ww_json_signal(study)) &&
           put(o, "value", text(study->trace.pitch > 0.0 ? "skew" : "delay difference")) &&
           put(o, "changed_ply", ply ? json_integer((json_int_t)ply) : json_null()) &&
           put(o, "same_dk", json_boolean(same_dk)) && put(o, "styles", styles_array(comparison, study));
    return ww_json_write(stream, whole(o, good), error);
}
