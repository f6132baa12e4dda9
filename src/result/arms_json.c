/* arms_json.c - several traces on one cloth, as JSON.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "result/json.h"

/* value[count][count] as an array of arrays. */
static json_t *matrix(const double *value, size_t count, double unit)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < count && good; i++)
        good = json_array_append_new(array, ww_json_numbers(value + i * count, count, unit)) == 0;
    return whole(array, good);
}

static json_t *members(const struct ww_arms *arms)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < arms->count && good; i++) {
        json_t *o = json_object();
        good = put(o, "name", text(arms->name[i])) && put(o, "mean_delay_ps", number(arms->mean_delay[i], ps)) &&
               put(o, "deviation_ps", number(arms->deviation[i], ps));
        good = json_array_append_new(array, whole(o, good)) == 0;
    }
    return whole(array, good);
}

static json_t *worst_between(const struct ww_arms *arms)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < (arms->pair ? 1 : 2) && good; i++)
        good = json_array_append_new(array, text(arms->name[arms->between[i]])) == 0;
    return whole(array, good);
}

json_t *ww_json_arms(const struct ww_study *study, const struct ww_arms *arms)
{
    if (!arms || arms->count == 0)
        return json_null();
    json_t *o = json_object();
    bool good = put(o, "of", text(arms->lanes ? "lanes" : "arms")) &&
                put(o, "value", text(arms->pair ? "largest skew" : "largest less least delay, means taken out")) &&
                put(o, "members", members(arms)) && put(o, "worst_ps", number(arms->worst, ps)) &&
                put(o, "worst_ps_with_turn", number(arms->worst_with_turn, ps)) &&
                put(o, "worst_between", worst_between(arms)) &&
                put(o, "worst_deg_at_frequency",
                    known(study->frequency > 0.0, 360.0 * study->frequency * arms->worst_with_turn, 1.0)) &&
                put(o, "median_ps", number(arms->median, ps)) && put(o, "p95_ps", number(arms->p95, ps)) &&
                put(o, "p99_ps", number(arms->p99, ps)) && put(o, "expected_ps", number(arms->expected, ps)) &&
                put(o, "rms_ps", number(arms->rms, ps)) &&
                put(o, "yield", known(study->budget > 0.0, arms->yield, 1.0)) &&
                put(o, "correlation", matrix(arms->correlation, arms->count, 1.0)) &&
                put(o, arms->pair ? "worst_of_each_ps_with_turn" : "worst_of_each_two_ps_with_turn",
                    matrix(arms->apart, arms->count, ps));
    return whole(o, good);
}
