/* budget_json.c - what makes two circuits differ, as JSON.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "result/json.h"

static const double inch = 25.4e-3;

static json_t *phase(const struct ww_budget *b, double delay)
{
    return known(b->frequency > 0.0, ww_budget_phase(b->frequency, delay), degree);
}

static json_t *loss(const struct ww_budget *b, double value)
{
    return known(b->frequency > 0.0, value, 1.0 / mm);
}

/* How far a filter or patch moves, in per cent and MHz; signed of one circuit. */
static bool put_filter(json_t *o, const struct ww_budget *b, double shift)
{
    return put(o, "filter_shift_percent", number(shift, 0.01)) &&
           put(o, "filter_shift_mhz", known(b->frequency > 0.0, shift * b->frequency, 1e6));
}

static json_t *ends(const struct ww_budget *b, const struct ww_cause *cause, int end)
{
    const double *at = cause->at[end];
    json_t *o = json_object();
    bool good = put(o, "delay_ps", number(at[WW_OBSERVED_DELAY], ps)) &&
                put(o, "phase_deg", phase(b, at[WW_OBSERVED_DELAY])) &&
                put_filter(o, b, ww_budget_detuning(b, at[WW_OBSERVED_DELAY])) &&
                put(o, "dk_eff", number(at[WW_OBSERVED_DK], 1.0)) &&
                put(o, "impedance_ohm", number(at[WW_OBSERVED_IMPEDANCE], 1.0)) &&
                put(o, "loss_db_per_mm", loss(b, at[WW_OBSERVED_LOSS]));
    return whole(o, good);
}

static json_t *cause_object(const struct ww_budget *b, const struct ww_cause *cause)
{
    const double *differ = cause->differ;
    json_t *o = json_object();
    bool good =
        put(o, "name", text(cause->name)) && put(o, "key", cause->key[0] ? text(cause->key) : json_null()) &&
        put(o, "scope", text(ww_scope_name(cause->tolerance.scope))) &&
        put(o, "law", cause->key[0] ? text(cause->tolerance.law == WW_NORMAL ? "normal" : "uniform") : json_null()) &&
        put(o, "delay_ps", number(differ[WW_OBSERVED_DELAY], ps)) &&
        put(o, "delay_ps_per_in", number(differ[WW_OBSERVED_DELAY] * inch / b->length, ps)) &&
        put(o, "phase_deg", phase(b, differ[WW_OBSERVED_DELAY])) &&
        put_filter(o, b, -ww_budget_detuning(b, differ[WW_OBSERVED_DELAY])) &&
        put(o, "dk_eff", number(differ[WW_OBSERVED_DK], 1.0)) &&
        put(o, "impedance_ohm", number(differ[WW_OBSERVED_IMPEDANCE], 1.0)) &&
        put(o, "loss_db_per_mm", loss(b, differ[WW_OBSERVED_LOSS])) &&
        put(o, "skew_ps", known(b->pair, differ[WW_OBSERVED_SKEW], ps)) &&
        put(o, "most_ps", number(cause->most, ps)) && put(o, "share", number(cause->share, 1.0)) &&
        put(o, "halved_ps", number(cause->halved, ps)) && put(o, "lower_end", ends(b, cause, 0)) &&
        put(o, "middle", ends(b, cause, 1)) && put(o, "upper_end", ends(b, cause, 2));
    return whole(o, good);
}

static json_t *causes_array(const struct ww_budget *b)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (int i = 0; i < WW_CAUSES && good; i++)
        if (b->cause[i].given)
            good = json_array_append_new(array, cause_object(b, &b->cause[i])) == 0;
    return whole(array, good);
}

static json_t *left_out_array(const struct ww_budget *b)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (int i = 0; i < WW_CAUSES && good; i++) {
        if (b->cause[i].given)
            continue;
        json_t *o = json_object();
        good = put(o, "name", text(b->cause[i].name)) && put(o, "why", text(b->cause[i].why));
        good = json_array_append_new(array, whole(o, good)) == 0;
    }
    return whole(array, good);
}

static json_t *level_object(const struct ww_budget *b, enum ww_scope scope)
{
    const struct ww_budget_level *level = &b->level[scope];
    const double *differ = level->differ;
    json_t *o = json_object();
    bool good =
        put(o, "worst_ps", number(level->worst, ps)) && put(o, "root_squares_ps", number(level->root_squares, ps)) &&
        put(o, "p99_ps", number(level->p99, ps)) && put(o, "p99_drawn_ps", number(level->drawn, ps)) &&
        put(o, "p99_drawn_error_ps", number(level->drawn_error, ps)) &&
        put(o, "p99_phase_deg", phase(b, level->p99)) && put(o, "deviation_ps", number(level->deviation, ps)) &&
        put_filter(o, b, -ww_budget_detuning(b, level->p99)) &&
        put(o, "p99_ps_per_in", number(level->p99 * inch / b->length, ps)) &&
        put(o, "p99_dk_eff", number(differ[WW_OBSERVED_DK], 1.0)) &&
        put(o, "p99_impedance_ohm", number(differ[WW_OBSERVED_IMPEDANCE], 1.0)) &&
        put(o, "p99_loss_db_per_mm", loss(b, differ[WW_OBSERVED_LOSS]));
    return whole(o, good);
}

static json_t *levels_object(const struct ww_budget *b)
{
    json_t *o = json_object();
    bool good = o != NULL;
    for (int scope = WW_BOARD; scope <= WW_LIFE && good; scope++)
        good = put(o, ww_scope_name((enum ww_scope)scope), level_object(b, (enum ww_scope)scope));
    return whole(o, good);
}

static json_t *skew_object(const struct ww_budget *b)
{
    if (!b->pair)
        return json_null();
    json_t *o = json_object();
    bool good = put(o, "worst_ps", number(b->skew_worst, ps)) && put(o, "p99_ps", number(b->skew_p99, ps)) &&
                put(o, "p99_drawn_ps", number(b->skew_drawn, ps));
    return whole(o, good);
}

static json_t *elements_object(const struct ww_array *array)
{
    if (array->elements == 0)
        return json_null();
    json_t *o = json_object();
    bool good = put(o, "count", json_integer((json_int_t)array->elements)) &&
                put(o, "rms_deg", number(array->rms, degree)) && put(o, "peak_deg", number(array->peak, degree)) &&
                put(o, "gain_loss_db", number(-10.0 * log10(array->gain_loss), 1.0)) &&
                put(o, "pointing_deg", number(array->pointing, degree)) &&
                put(o, "pointing_of_beam_width", number(array->of_beam, 1.0));
    return whole(o, good);
}

static json_t *lever_object(const struct ww_budget *b, const struct ww_lever *lever)
{
    json_t *o = json_object();
    bool good = put(o, "name", text(lever->name)) && put(o, "to", lever->given ? text(lever->to) : json_null()) &&
                put(o, "p99_ps", known(lever->given, lever->judged, ps)) &&
                put(o, "over_budget", known(lever->given && b->budget > 0.0, lever->over_budget, 1.0)) &&
                put(o, "impedance_ohm", known(lever->given, lever->impedance, 1.0)) &&
                put(o, "caution", lever->caution[0] ? text(lever->caution) : json_null()) &&
                put(o, "why_not", lever->given ? json_null() : text(lever->why));
    return whole(o, good);
}

/* Null where they were not asked for. */
static json_t *levers_array(const struct ww_budget *b)
{
    if (b->levers == 0)
        return json_null();
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < b->levers && good; i++)
        good = json_array_append_new(array, lever_object(b, &b->lever[i])) == 0;
    return whole(array, good);
}

static json_t *check_object(const struct ww_budget_check *check)
{
    if (check->corners == 0)
        return json_null();
    json_t *o = json_object();
    bool good =
        put(o, "corners", json_integer((json_int_t)check->corners)) && put(o, "off_rms_ps", number(check->rms, ps)) &&
        put(o, "off_largest_ps", number(check->largest, ps)) && put(o, "deviation_ps", number(check->deviation, ps));
    return whole(o, good);
}

static json_t *judged_object(const struct ww_budget *b)
{
    json_t *o = json_object();
    bool good = put(o, "of", text(b->pair ? "skew" : "delay difference")) &&
                put(o, "between", b->pair ? json_null() : text(ww_scope_name(b->between))) &&
                put(o, "p99_ps", number(b->judged, ps)) &&
                put(o, "budget_ps", known(b->budget > 0.0, b->budget, ps)) &&
                put(o, "over_budget", known(b->budget > 0.0, b->over_budget, 1.0));
    return whole(o, good);
}

enum ww_status ww_result_budget_json(FILE *stream, const struct ww_study *study, const struct ww_line_summary *line,
                                     const struct ww_budget *b, const char *sentence, struct ww_error *error)
{
    bool good = false;
    json_t *o = ww_json_study("budget", study, &good);
    good = good && put(o, "signal", ww_json_signal(study)) && put(o, "line", ww_json_line(line, b->pair)) &&
           put(o, "delay_ps", number(b->nominal[WW_OBSERVED_DELAY], ps)) && put(o, "sentence", text(sentence)) &&
           put(o, "causes", causes_array(b)) && put(o, "left_out", left_out_array(b)) &&
           put(o, "judged", judged_object(b)) && put(o, "total", level_object(b, b->between)) &&
           put(o, "levels", levels_object(b)) && put(o, "skew", skew_object(b)) &&
           put(o, "arms", b->arms ? json_integer((json_int_t)b->arms) : json_null()) &&
           put(o, "elements", elements_object(&b->array)) && put(o, "levers", levers_array(b)) &&
           put(o, "check", check_object(&b->check));
    return ww_json_write(stream, whole(o, good), error);
}
