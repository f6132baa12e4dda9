/* spacing_json.c - how far apart to keep feeds and lanes, as JSON.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "result/json.h"

static json_t *curve(const struct ww_spacing *s)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < s->count && good; i++) {
        json_t *o = json_object();
        good = put(o, "spacing_mm", number(s->spacing[i], mm)) && put(o, "worst_ps", number(s->worst[i], ps)) &&
               put(o, "worst_ps_with_turn", number(s->with_turn[i], ps));
        good = json_array_append_new(array, whole(o, good)) == 0;
    }
    return whole(array, good);
}

static json_t *nulls(const struct ww_spacing *s)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < s->nulls && good; i++) {
        const struct ww_spacing_null *null = &s->null[i];
        json_t *o = json_object();
        good = put(o, "spacing_mm", number(null->spacing, mm)) && put(o, "worst_ps", number(null->worst, ps)) &&
               put(o, "worst_ps_with_turn", number(null->with_turn, ps)) &&
               put(o, "yarn_pitches", known(null->yarns > 0.0, null->yarns, 1.0));
        good = json_array_append_new(array, whole(o, good)) == 0;
    }
    return whole(array, good);
}

static json_t *feeds(const struct ww_spacing *s)
{
    if (s->count == 0)
        return json_null();
    json_t *o = json_object();
    bool good = put(o, "independent_ps", number(s->apart, ps)) &&
                put(o, "independent_ps_with_turn", number(s->apart_with_turn, ps)) && put(o, "least", nulls(s)) &&
                put(o, "curve", curve(s));
    return whole(o, good);
}

static json_t *pitches(const struct ww_spacing *s)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < s->pitches && good; i++) {
        json_t *o = json_object();
        good = put(o, "lane_pitch_mm", number(s->pitch[i], mm)) && put(o, "yield", number(s->yield[i], 1.0)) &&
               put(o, "expected_worst_ps", number(s->expected[i], ps));
        good = json_array_append_new(array, whole(o, good)) == 0;
    }
    return whole(array, good);
}

static json_t *lanes(const struct ww_spacing *s)
{
    if (s->pitches == 0)
        return json_null();
    json_t *o = json_object(), *best = json_null();
    if (s->best_pitch > 0.0) {
        best = json_object();
        bool good = put(best, "lane_pitch_mm", number(s->best_pitch, mm)) &&
                    put(best, "yield", number(s->best_yield, 1.0)) &&
                    put(best, "expected_worst_ps", number(s->best_expected, ps));
        best = whole(best, good);
    }
    bool good = put(o, "count", json_integer((json_int_t)s->lanes));
    good = put(o, "best", best) && good;
    good = good && put(o, "curve", pitches(s));
    return whole(o, good);
}

json_t *ww_json_spacing(const struct ww_spacing *spacing, const char *sentence)
{
    if (!spacing)
        return json_null();
    json_t *o = json_object();
    bool good =
        put(o, "sentence", text(sentence)) && put(o, "feeds", feeds(spacing)) && put(o, "lanes", lanes(spacing));
    return whole(o, good);
}
