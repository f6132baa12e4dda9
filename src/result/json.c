/* json.c - results as JSON, made with jansson.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What the documents of all commands share, and those of new, map, skew, verify, styles and recall.
 */
#include "result/json.h"

#include <errno.h>
#include <string.h>

enum { DIGITS = 12 };

/* --- building blocks --------------------------------------------------------------------------------------------------- */

enum ww_status ww_json_write(FILE *stream, json_t *document, struct ww_error *error)
{
    if (!document)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the result as JSON");
    errno = 0;
    bool good = json_dumpf(document, stream, JSON_INDENT(2) | JSON_REAL_PRECISION(DIGITS)) == 0 &&
                fputc('\n', stream) != EOF && fflush(stream) == 0;
    int reason = errno;
    json_decref(document);
    return good ? WW_OK
                : ww_error_set(error, WW_IO, NULL, 0, "could not write the result: %s",
                               strerror(reason ? reason : EIO));
}

/* --- what every document of a study has ---------------------------------------------------------------------------------- */

static json_t *ply_object(const struct ww_study *study, size_t index)
{
    const struct ww_ply *ply = &study->stack.ply[index];
    const struct ww_style *style = &study->stack.layer[ply->layer].style;
    json_t *o = json_object();
    bool good =
        put(o, "ply", json_integer((json_int_t)index + 1)) && put(o, "style", text(style->name)) &&
        put(o, "glass", text(style->glass.name)) &&
        put(o, "resin", text(study->stack.layer[ply->layer].resin.name)) &&
        put(o, "thickness_um", number(ply->thickness, um)) && put(o, "turn_deg", number(ply->turn, degree)) &&
        put(o, "shift_um", point(ply->shift_x, ply->shift_y)) &&
        put(o, "cloth_height_um", number(ply->cloth_height, um)) &&
        put(o, "warp_pitch_um", number(0.5 * ply->cell.lx, um)) &&
        put(o, "fill_pitch_um", number(0.5 * ply->cell.ly, um)) &&
        put(o, "glass_fraction", number(ply->glass_fraction, 1.0)) &&
        put(o, "resin_content", known(ply->resin_content >= 0.0, ply->resin_content, 1.0)) &&
        put(o, "dk_low", number(ply->dk_low, 1.0)) && put(o, "dk_high", number(ply->dk_high, 1.0)) &&
        put(o, "dk_series", number(ply->dk_series, 1.0)) && put(o, "dk_parallel", number(ply->dk_parallel, 1.0)) &&
        put(o, "dk_bulk", number(ply->dk_bulk, 1.0)) && put(o, "dk_glass", number(creal(ply->eps_glass), 1.0)) &&
        put(o, "dk_resin", number(creal(ply->eps_resin), 1.0));
    return whole(o, good);
}

static json_t *fabric_array(const struct ww_study *study)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < study->stack.plies && good; i++)
        good = json_array_append_new(array, ply_object(study, i)) == 0;
    return whole(array, good);
}

/* The segments of a route; null for a straight trace. */
static json_t *route_array(const struct ww_route_segment *route, size_t segments)
{
    if (segments == 0)
        return json_null();
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < segments && good; i++) {
        json_t *o = json_object();
        good =
            put(o, "length_mm", number(route[i].length, mm)) && put(o, "angle_deg", number(route[i].angle, degree));
        good = json_array_append_new(array, whole(o, good)) == 0;
    }
    return whole(array, good);
}

/* The study's other arms. */
static json_t *arms_array(const struct ww_study *study)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < study->arms && good; i++) {
        const struct ww_arm *arm = &study->arm[i];
        json_t *o = json_object();
        good = put(o, "name", text(arm->name)) && put(o, "from_mm", ww_json_numbers(arm->from, 2, mm)) &&
               put(o, "route", route_array(arm->route, arm->segments));
        good = json_array_append_new(array, whole(o, good)) == 0;
    }
    return whole(array, good);
}

static json_t *trace_object(const struct ww_study *study)
{
    const struct ww_trace *trace = &study->trace;
    json_t *o = json_object();
    bool good = put(o, "width_um", number(trace->width, um)) &&
                put(o, "thickness_um", number(trace->thickness, um)) &&
                put(o, "pitch_um", known(trace->pitch > 0.0, trace->pitch, um)) &&
                put(o, "length_mm", number(study->length, mm)) && put(o, "angle_deg", number(study->angle, degree)) &&
                put(o, "route", route_array(study->route, study->segments)) &&
                put(o, "compensated", json_boolean(study->compensated)) && put(o, "arms", arms_array(study)) &&
                put(o, "turn_deg", number(study->turn, degree)) &&
                put(o, "turn_law", text(study->turn_law == WW_NORMAL ? "normal" : "uniform")) &&
                put(o, "warp_count_tolerance", number(study->warp_tolerance, 1.0)) &&
                put(o, "fill_count_tolerance", number(study->fill_tolerance, 1.0));
    return whole(o, good);
}

json_t *ww_json_signal(const struct ww_study *study)
{
    json_t *o = json_object();
    double symbols = ww_study_request(study).rate;
    bool good = put(o, "rate_gbit_per_s", known(study->rate > 0.0, study->rate, 1e9)) &&
                put(o, "levels", json_integer((json_int_t)study->levels)) &&
                put(o, "symbol_rate_gbaud", known(study->rate > 0.0, symbols, 1e9)) &&
                put(o, "lanes", json_integer((json_int_t)study->lanes)) &&
                put(o, "lane_pitch_mm", known(study->lane_pitch > 0.0, study->lane_pitch, mm)) &&
                put(o, "spacing_mm", known(study->spacing > 0.0, study->spacing, mm)) &&
                put(o, "frequency_ghz", known(study->frequency > 0.0, study->frequency, 1e9)) &&
                put(o, "budget_ps", known(study->budget > 0.0, study->budget, ps)) &&
                put(o, "conversion_budget_db", known(study->conversion < 0.0, study->conversion, 1.0));
    return whole(o, good);
}

json_t *ww_json_study(const char *command, const struct ww_study *study, bool *good)
{
    json_t *o = json_object();
    *good = put(o, "command", text(command)) && put(o, "study", text(study->title)) &&
            put(o, "file", file_name(study->file)) && put(o, "version", text(ww_version())) &&
            put(o, "caution", text(WW_CAUTION)) && put(o, "fineness", number(study->fineness, 1.0)) &&
            put(o, "fabric", fabric_array(study)) && put(o, "trace", trace_object(study));
    return o;
}

/* --- map -------------------------------------------------------------------------------------------------------------------- */

bool ww_json_put_via(json_t *o, const struct ww_via *via)
{
    return put(o, "least_um", number(via->least, um)) && put(o, "mean_um", number(via->mean, um)) &&
           put(o, "most_um", number(via->most, um)) && put(o, "without_glass", number(via->without, 1.0));
}

/* Glass in the way of a laser beam, ply by ply. */
static json_t *via_object(const struct ww_study *study, const struct ww_via *via)
{
    if (!via)
        return json_null();
    json_t *o = json_object(), *plies = json_array();
    bool good = plies != NULL;
    for (size_t i = 0; i < study->stack.plies && good; i++) {
        json_t *ply = json_object();
        good = put(ply, "ply", json_integer((json_int_t)i + 1)) && ww_json_put_via(ply, &via[i]);
        good = json_array_append_new(plies, whole(ply, good)) == 0;
    }
    good = put(o, "diameter_um", number(study->via_diameter, um)) && good;
    good = put(o, "glass", plies) && good;
    return whole(o, good);
}

enum ww_status ww_result_map_json(FILE *stream, const struct ww_study *study, const struct ww_via *via,
                                  struct ww_error *error)
{
    bool good = false;
    json_t *o = ww_json_study("map", study, &good);
    good = good && put(o, "via", via_object(study, via));
    return ww_json_write(stream, whole(o, good), error);
}

/* --- skew ------------------------------------------------------------------------------------------------------------------- */

/* null where nothing was asked for. */
static json_t *dispersion_object(const struct ww_line_summary *line, bool pair)
{
    const struct ww_dispersion *d = &line->dispersion;
    if (!(d->frequency > 0.0))
        return json_null();
    json_t *o = json_object();
    bool good = put(o, "frequency_ghz", number(d->frequency, 1e9)) && put(o, "applied", json_boolean(d->applied)) &&
                put(o, "why_not", d->why_not[0] ? text(d->why_not) : json_null()) &&
                put(o, "mean_factor", number(d->mean, 1.0)) && put(o, "change_factor", number(d->change, 1.0)) &&
                put(o, "dk_eff_static", number(line->dk_eff / (d->mean * d->mean), 1.0)) &&
                put(o, "delay_ps_per_mm_static", number(line->delay / d->mean, ps / mm));
    if (pair)
        good = good && put(o, "dk_even_static", number(line->dk_even / (d->mean_even * d->mean_even), 1.0));
    return whole(o, good);
}

json_t *ww_json_line(const struct ww_line_summary *line, bool pair)
{
    json_t *o = json_object();
    bool good = put(o, "dk_eff", number(line->dk_eff, 1.0)) && put(o, "df_eff", number(line->df_eff, 1.0)) &&
                put(o, "z0_ohm", number(line->z0, 1.0)) && put(o, "delay_ps_per_mm", number(line->delay, ps / mm)) &&
                put(o, "z0_grid_change", number(line->z0_grid_change, 1.0)) &&
                put(o, "dk_grid_change", number(line->dk_grid_change, 1.0)) &&
                put(o, "dispersion", dispersion_object(line, pair));
    if (pair)
        good = good && put(o, "z_odd_ohm", number(line->z_odd, 1.0)) &&
               put(o, "z_even_ohm", number(line->z_even, 1.0)) && put(o, "z_diff_ohm", number(line->z_diff, 1.0)) &&
               put(o, "z_common_ohm", number(line->z_common, 1.0)) &&
               put(o, "pitch_solved_um", number(line->pitch, um)) && put(o, "dk_odd", number(line->dk_odd, 1.0)) &&
               put(o, "dk_even", number(line->dk_even, 1.0));
    return whole(o, good);
}

/* What one ply contributes: its extremes and where a trace starts to meet them, in the ply's own frame. */
static json_t *extremes_array(const struct ww_skew *skew)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < skew->plies && good; i++) {
        json_t *o = json_object();
        good = put(o, "ply", json_integer((json_int_t)i + 1)) && put(o, "high_ps", number(skew->high[i].value, ps)) &&
               put(o, "high_at_um", point(skew->high[i].x, skew->high[i].y)) &&
               put(o, "low_ps", number(skew->low[i].value, ps)) &&
               put(o, "low_at_um", point(skew->low[i].x, skew->low[i].y));
        good = json_array_append_new(array, whole(o, good)) == 0;
    }
    return whole(array, good);
}

/* Where the first ply lies when the plies add to the worst. */
static json_t *worst_at(const struct ww_skew *skew)
{
    const struct ww_extreme *at = ww_skew_worst_at(skew);
    return skew->plies ? point(at->x, at->y) : json_null();
}

static json_t *places(bool one_cloth)
{
    return text(one_cloth ? "one cloth" : "independent");
}

/* Of the pair's skew, or of the difference of two single traces. */
static bool put_chance(json_t *o, const struct ww_study *study, const struct ww_skew *skew)
{
    return put(o, "correction_ratio", number(skew->correction_ratio, 1.0)) &&
           put(o, "full_sections", json_integer((json_int_t)skew->sections)) &&
           put(o, "median_ps", number(skew->median, ps)) && put(o, "p95_ps", number(skew->p95, ps)) &&
           put(o, "p99_ps", number(skew->p99, ps)) && put(o, "deviation_ps", number(skew->deviation, ps)) &&
           put(o, "over_budget", known(study->budget > 0.0, skew->over_budget, 1.0)) &&
           put(o, "by_ply", extremes_array(skew));
}

/* The chances over the tolerances of turn and count; and those of all lanes of a board. */
static bool put_tolerant(json_t *o, const struct ww_study *study, const struct ww_skew *skew)
{
    json_t *tolerant = json_object(), *lanes = json_object();
    bool has_budget = study->budget > 0.0;
    bool good = put(tolerant, "median_ps", number(skew->tolerant_median, ps)) &&
                put(tolerant, "p99_ps", number(skew->tolerant_p99, ps)) &&
                put(tolerant, "over_budget", known(has_budget, skew->tolerant_over_budget, 1.0));
    bool whole_lanes = put(lanes, "count", json_integer((json_int_t)study->lanes)) &&
                       put(lanes, "places", places(study->lane_pitch > 0.0)) &&
                       put(lanes, "yield", known(has_budget, skew->yield, 1.0)) &&
                       put(lanes, "expected_worst_ps", number(skew->expected_worst, ps));
    good = put(o, "with_tolerances", whole(tolerant, good));
    return put(o, "lanes", whole(lanes, whole_lanes)) && good;
}

/* One skew in the terms of the signal. */
static json_t *terms_object(const struct ww_study *study, double value)
{
    double rate = ww_study_request(study).rate;
    struct ww_skew_terms terms = ww_skew_terms(value, study->frequency, rate);
    json_t *o = json_object();
    bool good = put(o, "skew_ps", number(value, ps)) &&
                put(o, "deg_at_frequency", known(study->frequency > 0.0, terms.degrees, 1.0)) &&
                put(o, "unit_interval_share", known(rate > 0.0, terms.unit_interval_share, 1.0)) &&
                put(o, "first_null_ghz", known(value != 0.0, terms.first_null, 1e9)) &&
                put(o, "weak_coupling_conversion_at_nyquist", known(rate > 0.0, terms.conversion, 1.0));
    return whole(o, good);
}

static json_t *signal_terms(const struct ww_study *study, const struct ww_skew *skew)
{
    json_t *o = json_object();
    bool good = put(o, "worst", terms_object(study, skew->worst)) && put(o, "p99", terms_object(study, skew->p99)) &&
                put(o, "nyquist_ghz", known(study->rate > 0.0, 0.5 * ww_study_request(study).rate, 1e9));
    return whole(o, good);
}

/* Delays of two pairs side by side. */
static json_t *pair_to_pair(const struct ww_study *study, const struct ww_skew *skew)
{
    const struct ww_apart *apart = &skew->apart;
    if (!(study->spacing > 0.0))
        return json_null();
    json_t *o = json_object();
    bool good = put(o, "worst_ps", number(apart->worst, ps)) &&
                put(o, "worst_ps_with_turn", number(skew->apart_with_turn, ps)) &&
                put(o, "median_ps", number(apart->median, ps)) && put(o, "p95_ps", number(apart->p95, ps)) &&
                put(o, "p99_ps", number(apart->p99, ps));
    return whole(o, good);
}

json_t *ww_json_numbers(const double *value, size_t count, double unit)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < count && good; i++)
        good = json_array_append_new(array, number(value[i], unit)) == 0;
    return whole(array, good);
}

json_t *ww_json_level(double amplitude)
{
    return known(amplitude > 0.0, ww_decibels(amplitude), 1.0);
}

/* null without a frequency */
static json_t *conversion_object(const struct ww_conversion *conversion)
{
    if (!(conversion->frequency > 0.0))
        return json_null();
    json_t *o = json_object();
    bool good = put(o, "frequency_ghz", number(conversion->frequency, 1e9)) &&
                put(o, "worst_db", ww_json_level(conversion->worst)) &&
                put(o, "median_db", ww_json_level(conversion->median)) &&
                put(o, "p99_db", ww_json_level(conversion->p99)) &&
                put(o, "worst_db_with_turn", ww_json_level(conversion->worst_with_turn)) &&
                put(o, "worst_angle_deg", number(conversion->worst_angle, degree)) &&
                put(o, "weak_coupling_db", ww_json_level(conversion->weak)) &&
                put(o, "beat_length_mm", number(conversion->beat_length, mm)) &&
                put(o, "coupled_modes_solved", json_boolean(conversion->strong));
    return whole(o, good);
}

static json_t *termination_object(const struct ww_line_summary *line)
{
    double modes, legs;
    json_t *o = json_object();
    ww_skew_received(line, &modes, &legs);
    bool good = put(o, "skew_is", text("difference of the legs' delays, as loosely coupled legs receive it")) &&
                put(o, "times_with_modes_matched_most", number(modes, 1.0)) &&
                put(o, "times_with_legs_matched_least", number(1.0, 1.0)) &&
                put(o, "times_with_legs_matched_most", number(legs, 1.0));
    return whole(o, good);
}

static json_t *skew_object(const struct ww_study *study, const struct ww_line_summary *line,
                           const struct ww_skew *skew)
{
    json_t *o = json_object();
    bool good =
        put(o, "worst_ps", number(skew->worst, ps)) && put(o, "worst_ps_upper", number(skew->worst_upper, ps)) &&
        put(o, "worst_ps_lower", number(skew->worst_lower, ps)) && put(o, "worst_at_um", worst_at(skew)) &&
        put_chance(o, study, skew) && put(o, "worst_ps_with_turn", number(skew->worst_with_turn, ps)) &&
        put(o, "worst_angle_deg", number(skew->worst_angle, degree)) &&
        put(o, "worst_deg_at_frequency", known(study->frequency > 0.0, skew->worst_degrees, 1.0)) &&
        put(o, "unit_interval_share", known(study->rate > 0.0, skew->unit_interval_share, 1.0)) &&
        put(o, "in_signal_terms", signal_terms(study, skew)) && put_tolerant(o, study, skew) &&
        put(o, "conversion", conversion_object(&skew->conversion)) &&
        put(o, "termination", termination_object(line)) && put(o, "bend_mismatch_ps", number(skew->mismatch, ps)) &&
        put(o, "pair_to_pair", pair_to_pair(study, skew));
    return whole(o, good);
}

static json_t *delay_object(const struct ww_study *study, const struct ww_skew *skew)
{
    json_t *o = json_object();
    bool good = put(o, "mean_ps", number(skew->mean_delay, ps)) && put(o, "fastest_ps", number(skew->fastest, ps)) &&
                put(o, "slowest_ps", number(skew->slowest, ps)) && put(o, "spread_ps", number(skew->spread, ps)) &&
                put(o, "spread_deg_at_frequency", known(study->frequency > 0.0, skew->spread_degrees, 1.0));
    if (!skew->pair)
        good = good && put(o, "places", places(study->spacing > 0.0)) &&
               put(o, "worst_ps", number(skew->worst, ps)) &&
               put(o, "worst_ps_upper", number(skew->worst_upper, ps)) &&
               put(o, "worst_ps_lower", number(skew->worst_lower, ps)) &&
               put(o, "worst_ps_with_turn", number(skew->worst_with_turn, ps)) &&
               put(o, "worst_deg_at_frequency", known(study->frequency > 0.0, skew->worst_degrees, 1.0)) &&
               put(o, "worst_angle_deg", number(skew->worst_angle, degree)) &&
               put(o, "unit_interval_share", known(study->rate > 0.0, skew->unit_interval_share, 1.0)) &&
               put_chance(o, study, skew) && put_tolerant(o, study, skew);
    return whole(o, good);
}

json_t *ww_json_doubts(const struct ww_doubts *doubts)
{
    if (!doubts || doubts->count == 0)
        return json_null();
    json_t *o = json_object(), *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < doubts->count && good; i++) {
        const struct ww_doubt *doubt = &doubts->of[i];
        bool glass = doubt->kind == WW_DOUBT_GLASS_DK;
        json_t *source = json_object();
        good = put(source, "figure", text(ww_doubt_kind_name(doubt->kind))) &&
               put(source, "of", text(glass ? doubt->glass : doubt->style)) &&
               put(source, "ply", json_integer((json_int_t)doubt->ply + 1)) &&
               put(source, "uncertainty", number(doubt->share, 1.0)) &&
               put(source, "at_low_ps", number(doubt->at_low, ps)) &&
               put(source, "at_high_ps", number(doubt->at_high, ps));
        good = json_array_append_new(array, whole(source, good)) == 0;
    }
    good = put(o, "hangs_on", whole(array, good)) && put(o, "low_ps", number(doubts->low, ps)) &&
           put(o, "high_ps", number(doubts->high, ps));
    return whole(o, good);
}

enum ww_status ww_result_skew_json(FILE *stream, const struct ww_study *study, const struct ww_line_summary *line,
                                   const struct ww_skew *skew, const struct ww_spacing *spacing, const char *sentence,
                                   const struct ww_doubts *doubts, const struct ww_arms *arms, struct ww_error *error)
{
    bool good = false;
    json_t *o = ww_json_study("skew", study, &good);
    good = good && put(o, "signal", ww_json_signal(study)) && put(o, "averaging", text("time of flight")) &&
           put(o, "line", ww_json_line(line, skew->pair));
    if (skew->pair)
        good = good && put(o, "skew", skew_object(study, line, skew));
    good = good && put(o, "delay", delay_object(study, skew)) && put(o, "range", ww_json_doubts(doubts)) &&
           put(o, "spacing", ww_json_spacing(spacing, sentence)) && put(o, "on_one_cloth", ww_json_arms(study, arms));
    return ww_json_write(stream, whole(o, good), error);
}

/* --- verify ------------------------------------------------------------------------------------------------------------------ */

/* A figure of each leg; a single trace has one. */
static json_t *legs(const struct ww_verify *v, const double leg[2], double unit)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < (v->pair ? 2 : 1) && good; i++)
        good = json_array_append_new(array, number(leg[i], unit)) == 0;
    return whole(array, good);
}

/* One method less the kernel, over a length. */
static bool put_difference(json_t *o, const struct ww_verify *v, double length, const char *key,
                           const char *share_key, const double kernel[2], const double other[2])
{
    double difference[2] = {(other[0] - kernel[0]) * length, (other[1] - kernel[1]) * length};
    double share[2] = {other[0] / kernel[0] - 1.0, other[1] / kernel[1] - 1.0};
    return put(o, key, legs(v, difference, ps)) && put(o, share_key, legs(v, share, 1.0));
}

static json_t *solution_object(int iterations, double residual)
{
    json_t *o = json_object();
    bool good = put(o, "iterations", json_integer(iterations)) && put(o, "residual", number(residual, 1.0));
    return whole(o, good);
}

static json_t *full_object(const struct ww_full *full)
{
    json_t *o = solution_object(full->iterations, full->residual);
    return whole(o, put(o, "unknowns", json_integer((json_int_t)full->unknowns)));
}

static json_t *start_object(const struct ww_verify *v, const struct ww_verify_place *place)
{
    json_t *o = json_object();
    bool good =
        put(o, "kernel_ps_per_mm", legs(v, place->kernel, ps / mm)) &&
        put(o, "section_ps_per_mm", legs(v, place->section.delay, ps / mm)) &&
        put_difference(o, v, v->length, "difference_ps", "difference_share", place->kernel, place->section.delay) &&
        put(o, "solution", full_object(&place->section));
    return whole(o, good);
}

static json_t *mean_object(const struct ww_verify *v, const struct ww_verify_mean *mean)
{
    json_t *o = json_object();
    double over = ww_verify_over(v, mean);
    bool good = put(o, "ply", mean->ply ? json_integer((json_int_t)mean->ply) : json_null()) &&
                put(o, "span_um", number(mean->span, um)) && put(o, "periodic", json_boolean(mean->periodic)) &&
                put(o, "sections", json_integer((json_int_t)mean->sections)) &&
                put(o, "settled_ps_per_mm", number(mean->settled, ps / mm)) &&
                put(o, "rms_difference_ps_per_mm", number(mean->rms, ps / mm)) &&
                put(o, "kernel_ps_per_mm", legs(v, mean->kernel, ps / mm)) &&
                put(o, "section_ps_per_mm", legs(v, mean->section, ps / mm)) &&
                put_difference(o, v, over, "section_difference_ps", "section_difference_share", mean->kernel,
                               mean->section) &&
                put(o, "section_solution", solution_object(mean->iterations, mean->residual));
    if (mean->has_volume)
        good = good && put(o, "volume_ps_per_mm", legs(v, mean->volume.delay, ps / mm)) &&
               put_difference(o, v, over, "volume_difference_ps", "volume_difference_share", mean->kernel,
                              mean->volume.delay) &&
               put(o, "volume_solution", full_object(&mean->volume));
    else
        good = good && put(o, "volume_ps_per_mm", json_null()) && put(o, "volume_solution", json_null());
    return whole(o, good);
}

static json_t *place_object(const struct ww_verify *v, const struct ww_verify_place *place, size_t plies)
{
    json_t *starts = json_array(), *means = json_array(), *o = json_object();
    bool good = true;
    for (size_t p = 0; p < plies && good; p++)
        good = json_array_append_new(starts, point(place->start[p][0], place->start[p][1])) == 0;
    for (size_t m = 0; m < place->means && good; m++)
        good = json_array_append_new(means, mean_object(v, &place->mean[m])) == 0;
    good = put(o, "place", text(place->name)) && good;
    good = put(o, "start_um", starts) && good;
    good = put(o, "at_start", start_object(v, place)) && good;
    good = put(o, "means", means) && good;
    return whole(o, good);
}

static json_t *places_array(const struct ww_study *study, const struct ww_verify *v)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < v->places && good; i++)
        good = json_array_append_new(array, place_object(v, &v->place[i], study->stack.plies)) == 0;
    return whole(array, good);
}

static json_t *resolution_array(const struct ww_verify *v)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < v->resolutions && good; i++) {
        const struct ww_verify_resolution *r = &v->resolution[i];
        json_t *o = json_object();
        good = put(o, "factor", number(r->factor, 1.0)) && put(o, "step_um", number(r->step, um)) &&
               put(o, "worst_ps", number(r->worst, ps)) && put(o, "dk_eff", number(r->dk_eff, 1.0)) &&
               put(o, v->pair ? "z_odd_ohm" : "z0_ohm", number(r->z, 1.0));
        good = json_array_append_new(array, whole(o, good)) == 0;
    }
    return whole(array, good);
}

static json_t *limit_object(const struct ww_verify *v)
{
    if (v->resolutions < 2)
        return json_null();
    json_t *o = json_object();
    bool good = put(o, "worst_ps", number(v->limit.value, ps)) &&
                put(o, "uncertainty_ps", number(v->limit.uncertainty, ps)) &&
                put(o, "order", number(v->limit.order, 1.0)) &&
                put(o, "order_observed", json_boolean(v->limit.observed));
    return whole(o, good);
}

static json_t *worst_object(const struct ww_verify *v)
{
    bool volume = v->error[WW_AGAINST_VOLUME] >= 0.0;
    json_t *o = json_object();
    bool good = put(o, "worst_ps", number(v->worst, ps)) &&
                put(o, "correction_ratio", number(v->correction_ratio, 1.0)) &&
                put(o, "full_sections", json_integer((json_int_t)v->sections)) &&
                put(o, "kernel_ps_per_mm", known(v->periodic, v->worst_kernel, ps / mm)) &&
                put(o, "section_ps_per_mm", known(v->periodic, v->worst_section, ps / mm)) &&
                put(o, "volume_ps_per_mm", known(volume, v->worst_volume, ps / mm));
    return whole(o, good);
}

static json_t *error_object(const struct ww_study *study, const struct ww_verify *v)
{
    char not_covered[512], key[48];
    json_t *o = json_object();
    double largest = v->error[v->largest];
    bool good = put(o, "largest_ps", number(largest, ps)) &&
                put(o, "largest_share", number(largest / v->worst, 1.0)) &&
                put(o, "largest_against", text(ww_verify_against_name(v->largest))) &&
                put(o, "not_covered", text(ww_verify_not_covered(study, not_covered, sizeof not_covered)));
    for (int a = 0; a < WW_AGAINSTS; a++) {
        snprintf(key, sizeof key, "%s_ps", ww_verify_against_name((enum ww_verify_against)a));
        good = put(o, key, known(v->error[a] >= 0.0, v->error[a], ps)) && good;
    }
    return whole(o, good);
}

enum ww_status ww_result_verify_json(FILE *stream, const struct ww_study *study, const struct ww_line_summary *line,
                                     const struct ww_verify *v, struct ww_error *error)
{
    bool good = false;
    json_t *o = ww_json_study("verify", study, &good);
    good = good && put(o, "line", ww_json_line(line, v->pair)) && put(o, "worst", worst_object(v)) &&
           put(o, "error", error_object(study, v)) &&
           put(o, "no_volume", v->no_volume[0] ? text(v->no_volume) : json_null()) &&
           put(o, "places", places_array(study, v)) && put(o, "resolution", resolution_array(v)) &&
           put(o, "limit", limit_object(v));
    return ww_json_write(stream, whole(o, good), error);
}

/* --- styles ----------------------------------------------------------------------------------------------------------------- */

/* A figure, where it comes from, and its source; null if it is not known. */
static json_t *datum(const struct ww_datum *value, double unit)
{
    if (value->origin == WW_ABSENT)
        return json_null();
    json_t *o = json_object();
    bool good = put(o, "value", number(value->value, unit)) &&
                put(o, "origin", text(ww_origin_name(value->origin))) && put(o, "source", text(value->source));
    return whole(o, good);
}

/* A length too says how well it is known. */
static json_t *length_datum(const struct ww_datum *value)
{
    json_t *o = datum(value, um);
    return value->origin == WW_ABSENT ? o : whole(o, put(o, "uncertainty", number(ww_datum_uncertainty(value), 1.0)));
}

static json_t *yarn_object(const struct ww_yarn *yarn, double packing, double pitch)
{
    json_t *o = json_object();
    bool good = put(o, "code", yarn->code[0] ? text(yarn->code) : json_null()) &&
                put(o, "tex", datum(&yarn->tex, um)) && put(o, "width_um", length_datum(&yarn->width)) &&
                put(o, "height_um", length_datum(&yarn->height)) &&
                put(o, "gap_um", number(pitch - yarn->width.value, um)) &&
                put(o, "glass_area_um2", number(yarn->glass_area, um * um)) &&
                put(o, "packing", number(packing, 1.0)) && put(o, "packing_of_section", number(yarn->packing, 1.0));
    return whole(o, good);
}

static json_t *style_object(const struct ww_style *style, double warp_packing, double fill_packing)
{
    const double per_inch = 1.0 / 25.4e-3, g_per_m2 = 1e-3;
    struct ww_datum least = ww_style_resin_least(style), most = ww_style_resin_most(style);
    json_t *o = json_object();
    bool good =
        put(o, "style", text(style->name)) && put(o, "kind", text(ww_weave_kind_name(style->kind))) &&
        put(o, "warp_count_per_inch", datum(&style->warp_count, per_inch)) &&
        put(o, "fill_count_per_inch", datum(&style->fill_count, per_inch)) &&
        put(o, "warp_pitch_um", number(1.0 / style->warp_count.value, um)) &&
        put(o, "fill_pitch_um", number(1.0 / style->fill_count.value, um)) &&
        put(o, "warp", yarn_object(&style->warp, warp_packing, 1.0 / style->warp_count.value)) &&
        put(o, "fill", yarn_object(&style->fill, fill_packing, 1.0 / style->fill_count.value)) &&
        put(o, "shape", datum(&style->shape, 1.0)) && put(o, "thickness_um", length_datum(&style->thickness)) &&
        put(o, "weight_g_per_m2", datum(&style->weight, g_per_m2)) &&
        put(o, "computed_weight_g_per_m2", number(ww_style_weight(style), g_per_m2)) &&
        put(o, "resin_content_least", datum(&least, 1.0)) && put(o, "resin_content_most", datum(&most, 1.0)) &&
        put(o, "glass", text(style->glass.name)) &&
        put(o, "glass_dk_uncertainty", number(style->glass.dk_uncertainty, 1.0)) && put(o, "note", text(style->note));
    return whole(o, good);
}

enum ww_status ww_result_styles_json(FILE *stream, const struct ww_style *style, size_t count, struct ww_error *error)
{
    json_t *array = json_array();
    bool good = array != NULL;
    enum ww_status status = WW_OK;
    for (size_t i = 0; i < count && good && !status; i++) {
        double warp, fill;
        status = ww_style_packing(&style[i], &warp, &fill, error);
        good = status || json_array_append_new(array, style_object(&style[i], warp, fill)) == 0;
    }
    if (status) {
        json_decref(array);
        return status;
    }
    json_t *o = json_object();
    good = put(o, "styles", whole(array, good)) && put(o, "command", text("styles")) &&
           put(o, "version", text(ww_version()));
    return ww_json_write(stream, whole(o, good), error);
}

/* --- new, recall ------------------------------------------------------------------------------------------------------------ */

enum ww_status ww_result_new_json(FILE *stream, const char *file, struct ww_error *error)
{
    json_t *o = json_object();
    bool good =
        put(o, "command", text("new")) && put(o, "version", text(ww_version())) && put(o, "file", file_name(file));
    return ww_json_write(stream, whole(o, good), error);
}

enum ww_status ww_result_recall_json(FILE *stream, const char *figure, const char *study, struct ww_error *error)
{
    json_t *o = json_object();
    bool good = put(o, "command", text("recall")) && put(o, "version", text(ww_version())) &&
                put(o, "figure", file_name(figure)) && put(o, "study", text(study));
    return ww_json_write(stream, whole(o, good), error);
}
