/* cloth_json.c - what long traces see of real cloth, as JSON.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "result/json.h"

static json_t *bracketed(const struct ww_bracketed *b)
{
    json_t *o = json_object();
    bool good = put(o, "value", number(b->value, ps)) && put(o, "low", number(b->low, ps)) &&
                put(o, "high", number(b->high, ps));
    return whole(o, good);
}

static json_t *spread(const struct ww_real_spread *s)
{
    json_t *o = json_object();
    bool good = put(o, "median_ps", bracketed(&s->median)) && put(o, "p95_ps", number(s->p95, ps)) &&
                put(o, "p99_ps", bracketed(&s->p99)) && put(o, "worst_seen_ps", number(s->worst, ps));
    return whole(o, good);
}

static json_t *at_length(const struct ww_at_length *at)
{
    json_t *o = json_object();
    bool good = put(o, "length_mm", number(at->length, mm)) && put(o, "perfect_worst_ps", number(at->bound, ps)) &&
                put(o, "square", spread(&at->square)) && put(o, "turned", spread(&at->turned));
    return whole(o, good);
}

static json_t *lengths(const struct ww_real *real)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < real->count && good; i++)
        good = json_array_append_new(array, at_length(&real->at[i])) == 0;
    return whole(array, good);
}

static json_t *angles(const struct ww_real *real)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < real->angles && good; i++) {
        const struct ww_at_turn *at = &real->at_turn[i];
        json_t *o = json_object();
        good = put(o, "angle_deg", number(at->angle, degree)) && put(o, "perfect_worst_ps", number(at->bound, ps)) &&
               put(o, "median_ps", number(at->median, ps)) && put(o, "p99_ps", number(at->p99, ps));
        good = json_array_append_new(array, whole(o, good)) == 0;
    }
    return whole(array, good);
}

static json_t *lanes(const struct ww_study *study, const struct ww_real *real)
{
    if (real->lanes == 0)
        return json_null();
    json_t *o = json_object();
    bool judged = study->budget > 0.0;
    bool good = put(o, "count", json_integer((json_int_t)real->lanes)) &&
                put(o, "lane_pitch_mm", number(study->lane_pitch, mm)) &&
                put(o, "yield", known(judged, real->yield, 1.0)) &&
                put(o, "yield_if_independent", known(judged, real->yield_independent, 1.0)) &&
                put(o, "expected_worst_ps", number(real->expected_worst, ps)) &&
                put(o, "correlation", ww_json_numbers(real->correlation, real->lanes, 1.0));
    return whole(o, good);
}

static json_t *panel(const struct ww_study *study, const struct ww_real *real)
{
    const struct ww_real_panel *p = &real->panel;
    if (p->nets == 0)
        return json_null();
    json_t *o = json_object(), *yield = json_null();
    bool good = true, judged = study->budget > 0.0, independent = judged && (real->pair || study->spacing > 0.0);
    if (judged) {
        yield = json_object();
        good = put(yield, "value", number(p->yield.value, 1.0)) && put(yield, "low", number(p->yield.low, 1.0)) &&
               put(yield, "high", number(p->yield.high, 1.0));
    }
    good = put(o, "yield", whole(yield, good)) && good && put(o, "nets", json_integer((json_int_t)p->nets)) &&
           put(o, "panels", json_integer((json_int_t)p->panels)) && put(o, "median_ps", bracketed(&p->median)) &&
           put(o, "p95_ps", bracketed(&p->p95)) && put(o, "mean_ps", number(p->mean, ps)) &&
           put(o, "worst_ps", ww_json_numbers(p->worst, p->panels, ps)) &&
           put(o, "yield_if_independent", known(independent, p->yield_independent, 1.0));
    return whole(o, good);
}

static json_t *arms(const struct ww_study *study, const struct ww_real *real)
{
    const struct ww_real_arms *a = &real->arms;
    double signal = real->pair ? 0.0 : ww_study_frequency(study);
    if (a->count == 0)
        return json_null();
    json_t *o = json_object(), *names = json_array(), *rows = json_array();
    bool good = names && rows;
    for (size_t i = 0; i < a->count && good; i++)
        good = json_array_append_new(names, text(i ? study->arm[i - 1].name : "route")) == 0 &&
               json_array_append_new(rows, ww_json_numbers(a->correlation + i * a->count, a->count, 1.0)) == 0;
    good =
        put(o, "correlation", whole(rows, good)) && put(o, "names", whole(names, good)) && good &&
        put(o, "judged", text(real->pair ? "largest skew" : "spread of delays")) &&
        put(o, "perfect_worst_ps", known(a->bound > 0.0, a->bound, ps)) &&
        put(o, "perfect_design_worst_ps", known(a->design > 0.0, a->design, ps)) &&
        put(o, "square", spread(&a->square)) && put(o, "turned", spread(&a->turned)) &&
        put(o, "turned_p99_deg", known(signal > 0.0, ww_skew_terms(a->turned.p99.value, signal, 0.0).degrees, 1.0)) &&
        put(o, "yield", known(study->budget > 0.0, a->yield, 1.0)) &&
        put(o, "deviation_ps", ww_json_numbers(a->deviation, a->count, ps));
    return whole(o, good);
}

static json_t *alike(const struct ww_real_alike *a)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < a->count && good; i++) {
        json_t *o = json_object();
        good = put(o, "spacing_mm", number(a->spacing[i], mm)) &&
               put(o, "correlation", number(a->correlation[i].value, 1.0)) &&
               put(o, "low", number(a->correlation[i].low, 1.0)) &&
               put(o, "high", number(a->correlation[i].high, 1.0));
        good = json_array_append_new(array, whole(o, good)) == 0;
    }
    return whole(array, good);
}

static json_t *place(const struct ww_real_place *p)
{
    json_t *o = json_object();
    bool good = put(o, "along_mm", number(p->map.lx, mm)) && put(o, "across_mm", number(p->map.ly, mm)) &&
                put(o, "worst_ps", number(p->worst, ps)) && put(o, "worst_at_along_mm", number(p->worst_x, mm)) &&
                put(o, "worst_at_across_mm", number(p->worst_y, mm));
    return whole(o, good);
}

static json_t *fit(const struct ww_patch_fit *f)
{
    json_t *o = json_object();
    bool good = put(o, "overlap", number(f->overlap, 1.0)) && put(o, "overlap_of_pitch", number(f->deep, 1.0)) &&
                put(o, "largest_wander_um", number(f->largest_wander, um));
    return whole(o, good);
}

static json_t *yarns(const struct ww_yarn_scatter *y, const struct ww_patch_fit *f)
{
    json_t *o = json_object();
    bool good = put(o, "wander_um", number(y->wander, um)) &&
                put(o, "wander_length_mm", number(y->wander_length, mm)) &&
                put(o, "together", number(y->together, 1.0)) &&
                put(o, "width_variation", number(y->width_variation, 1.0)) && put(o, "neighbours", fit(f));
    return whole(o, good);
}

static json_t *scatter(const struct ww_study *study, const struct ww_real *real)
{
    const struct ww_scatter *s = &study->scatter;
    json_t *o = json_object();
    bool good = put(o, "warp", yarns(&s->yarn[WW_WARP], &real->fit[WW_WARP])) &&
                put(o, "fill", yarns(&s->yarn[WW_FILL], &real->fit[WW_FILL])) &&
                put(o, "bunching", number(s->bunching, 1.0)) &&
                put(o, "bunching_ends", json_integer((json_int_t)s->bunching_ends)) &&
                put(o, "bow", number(s->bow, 1.0)) && put(o, "hook", number(s->hook, 1.0)) &&
                put(o, "seed", json_integer((json_int_t)s->seed));
    return whole(o, good);
}

static json_t *measured_yarns(const struct ww_yarn_paths *paths, enum ww_system system, const struct ww_patch_fit *f)
{
    json_t *o = json_object(), *neighbours = json_object();
    const struct ww_system_paths *of = &paths->of[system], *other = &paths->of[WW_SYSTEMS - 1 - system];
    bool good = put(neighbours, "overlap", number(f->overlap, 1.0)) &&
                put(neighbours, "overlap_of_pitch", number(f->deep, 1.0));
    good = put(o, "neighbours", whole(neighbours, good)) && good &&
           put(o, "yarns", json_integer((json_int_t)of->count)) &&
           put(o, "pitch_um", number(ww_yarn_paths_pitch(paths, system), um)) &&
           put(o, "followed_mm", number((double)other->count * other->pitch, mm));
    return whole(o, good);
}

/* The cloth of a picture; intervals are over places on it alone. */
static json_t *measured(const struct ww_yarn_paths *paths, const struct ww_real *real)
{
    json_t *o = json_object();
    bool good = put(o, "file", text(paths->file)) && put(o, "picture", text(paths->picture)) &&
                put(o, "warp", measured_yarns(paths, WW_WARP, &real->fit[WW_WARP])) &&
                put(o, "fill", measured_yarns(paths, WW_FILL, &real->fit[WW_FILL]));
    return whole(o, good);
}

enum ww_status ww_result_cloth_json(FILE *stream, const struct ww_study *study, const struct ww_real *real,
                                    const struct ww_yarn_paths *paths, const char *sentence, struct ww_error *error)
{
    size_t boards = real->measured ? 1 : real->boards;
    bool good = true;
    json_t *o = ww_json_study("cloth", study, &good);
    good = good && put(o, "sentence", text(sentence)) &&
           put(o, "value", text(real->pair ? "skew" : "delay difference")) &&
           put(o, "scatter", real->measured ? json_null() : scatter(study, real)) &&
           put(o, "measured", real->measured ? measured(paths, real) : json_null()) &&
           put(o, "turn_deg", number(study->turn, degree)) && put(o, "with_counts", json_boolean(real->counts)) &&
           put(o, "perfect_design_worst_ps", known(real->design > 0.0, real->design, ps)) &&
           put(o, "boards", json_integer((json_int_t)boards)) &&
           put(o, "traces_per_board", json_integer((json_int_t)(real->boards * real->traces / boards))) &&
           put(o, "step_mm", number(real->step, mm)) && put(o, "lengths_along_route", json_boolean(real->route)) &&
           put(o, "own", at_length(&real->at[real->own])) && put(o, "lengths", lengths(real)) &&
           put(o, "parts_at_mm", known(real->parts > 0.0, real->parts, mm)) &&
           put(o, "parts_at_mm_with_turn", known(real->parts_turned > 0.0, real->parts_turned, mm)) &&
           put(o, "amplitude_kept", known(real->kept > 0.0, real->kept, 1.0)) && put(o, "angles", angles(real)) &&
           put(o, "lanes", lanes(study, real)) && put(o, "panel", panel(study, real)) &&
           put(o, "arms", arms(study, real)) &&
           put(o, "told_of_arm", study->arms > 0 ? text("route") : json_null()) &&
           put(o, "side_by_side", alike(&real->alike)) && put(o, "place", place(&real->place));
    return ww_json_write(stream, whole(o, good), error);
}
