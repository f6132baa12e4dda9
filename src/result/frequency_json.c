/* frequency_json.c - a trace or pair over frequency, as JSON.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "result/json.h"

static const double ghz = 1e9, inch = 25.4e-3;

static json_t *levels(const double *amplitude, size_t count)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < count && good; i++)
        good = json_array_append_new(array, ww_json_level(amplitude[i])) == 0;
    return whole(array, good);
}

/* Decibels of an attenuation [Np/m] per inch. */
static json_t *per_inch(double attenuation)
{
    return number(20 / log(10) * attenuation * inch, 1.0);
}

static json_t *notches_array(const struct ww_spectrum *spectrum)
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < spectrum->notches && good; i++) {
        const struct ww_notch *notch = &spectrum->notch[i];
        json_t *o = json_object();
        good = put(o, "frequency_ghz", number(notch->frequency, ghz)) &&
               put(o, "depth_db", number(notch->depth, 1.0)) &&
               put(o, "reflection_db", ww_json_level(notch->reflection)) &&
               put(o, "comes_back_as", spectrum->pair ? text(notch->even ? "even" : "odd") : json_null()) &&
               put(o, "period_mm", number(notch->period, mm)) &&
               put(o, "ply", json_integer((json_int_t)notch->ply + 1)) &&
               put(o, "warp_order", json_integer(notch->warp)) && put(o, "fill_order", json_integer(notch->fill));
        good = json_array_append_new(array, whole(o, good)) == 0;
    }
    return whole(array, good);
}

static json_t *loss_object(const struct ww_spectrum *spectrum)
{
    const struct ww_line_loss *loss = &spectrum->at_loss;
    bool spread = spectrum->placements > 0;
    json_t *o = json_object();
    bool good =
        put(o, "frequency_ghz", number(spectrum->at, ghz)) &&
        put(o, "dielectric_db_per_in", per_inch(loss->dielectric)) &&
        put(o, "conductor_db_per_in", per_inch(loss->conductor)) &&
        put(o, "roughness_db_per_in", per_inch(loss->roughness)) &&
        put(o, "dielectric_least_db_per_in", spread ? per_inch(spectrum->at_dielectric_least) : json_null()) &&
        put(o, "dielectric_most_db_per_in", spread ? per_inch(spectrum->at_dielectric_most) : json_null()) &&
        put(o, "delay_ps_per_mm", number(loss->delay, ps / mm));
    if (spectrum->pair) {
        const struct ww_skew_penalty *penalty = &spectrum->at_penalty;
        good = good && put(o, "skew_ps", number(penalty->skew, ps)) &&
               put(o, "skew_penalty_uncoupled_db", number(-ww_decibels(penalty->uncoupled), 1.0)) &&
               put(o, "skew_penalty_db", number(-ww_decibels(penalty->solved), 1.0));
    }
    return whole(o, good);
}

static json_t *bands_object(const struct ww_spectrum *spectrum)
{
    size_t n = spectrum->bands;
    json_t *o = json_object();
    bool good = put(o, "placements", json_integer((json_int_t)spectrum->placements)) &&
                put(o, "frequency_ghz", ww_json_numbers(spectrum->band_frequency, n, ghz)) &&
                put(o, "loss_least_db", levels(spectrum->loss_most, n)) &&
                put(o, "loss_most_db", levels(spectrum->loss_least, n)) &&
                put(o, "phase_least_deg", ww_json_numbers(spectrum->phase_least, n, degree)) &&
                put(o, "phase_most_deg", ww_json_numbers(spectrum->phase_most, n, degree));
    if (spectrum->pair)
        good = good && put(o, "conversion_least_db", levels(spectrum->conversion_least, n)) &&
               put(o, "conversion_most_db", levels(spectrum->conversion_most, n));
    return whole(o, good);
}

static json_t *peak_object(const struct ww_notch_peak *peak, json_t *o, bool good)
{
    good = good && put(o, "reflection_db", ww_json_level(peak->reflection)) &&
           put(o, "frequency_ghz", number(peak->frequency, ghz));
    return whole(o, good);
}

static bool add_windows(json_t *array, const struct ww_notch_map *map, double top, const char *by,
                        const struct ww_window *window, size_t windows)
{
    bool good = array != NULL;
    for (size_t i = 0; i < windows && good; i++) {
        struct ww_notch_peak peak = ww_notch_map_most(map, window[i].from, window[i].to, top);
        json_t *o = json_object();
        good = put(o, "by", text(by)) && put(o, "from_deg", number(window[i].from, degree)) &&
               put(o, "to_deg", number(window[i].to, degree)) && put(o, "angle_deg", number(peak.angle, degree));
        good = json_array_append_new(array, peak_object(&peak, o, good)) == 0;
    }
    return good;
}

static json_t *over_angle_object(const struct ww_result_frequency *result)
{
    const struct ww_notch_map *map = result->map;
    const struct ww_angles *angles = result->angles;
    double last = map->frequency[map->points - 1], at = result->spectrum->at, top = at > 0 && at < last ? at : last;
    json_t *o = json_object(), *own = json_null(), *windows = json_array();
    bool good = put(o, "from_deg", number(map->angle[0], degree)) &&
                put(o, "to_deg", number(map->angle[map->angles - 1], degree)) &&
                put(o, "angles", json_integer((json_int_t)map->angles)) &&
                put(o, "from_ghz", number(map->frequency[0], ghz)) && put(o, "to_ghz", number(last, ghz)) &&
                put(o, "frequencies", json_integer((json_int_t)map->points)) && put(o, "up_to_ghz", number(top, ghz));
    if (result->own) {
        struct ww_notch_peak peak = ww_notch_map_most(map, *result->own, *result->own, top);
        own = json_object();
        own = peak_object(&peak, own, put(own, "angle_deg", number(*result->own, degree)));
    }
    good = put(o, "own", own) && good;
    if (angles)
        good = good && add_windows(windows, map, top, "skew", angles->window, angles->windows) &&
               add_windows(windows, map, top, "conversion", angles->conversion.window, angles->conversion.windows);
    good = put(o, "windows", windows) && good;
    return whole(o, good);
}

static json_t *limits_object(const struct ww_line_limits *limits)
{
    json_t *o = json_object();
    bool good = put(o, "higher_mode", number(limits->higher_mode, ghz)) &&
                put(o, "surface_wave", limits->surface_wave > 0 ? number(limits->surface_wave, ghz) : json_null()) &&
                put(o, "dispersion", limits->dispersion > 0 ? number(limits->dispersion, ghz) : json_null()) &&
                put(o, "cell", limits->cell > 0 ? number(limits->cell, ghz) : json_null());
    return whole(o, good);
}

enum ww_status ww_result_frequency_json(FILE *stream, const struct ww_study *study,
                                        const struct ww_result_frequency *result, struct ww_error *error)
{
    const struct ww_spectrum *spectrum = result->spectrum;
    size_t n = spectrum->network.count;
    bool good = false;
    json_t *o = ww_json_study("frequency", study, &good), *starts = json_array(), *names = json_array();
    for (size_t i = 0; i < study->stack.plies; i++)
        good = good && json_array_append_new(starts, point(result->start[i][0], result->start[i][1])) == 0;
    for (size_t i = 0; i < result->files; i++)
        good = good && json_array_append_new(names, text(result->file[i])) == 0;
    good = put(o, "line", ww_json_line(result->line, spectrum->pair)) && good;
    good = put(o, "limits_ghz", limits_object(&result->limits)) && good;
    good = put(o, "copper", text(study->copper.name[0] ? study->copper.name : "smooth")) && good;
    good = put(o, "lossless", json_boolean(spectrum->lossless)) && good;
    good = put(o, "placement", text(result->placement)) && good;
    good = put(o, "start_um", starts) && good;
    good = put(o, "files", names) && good;
    good = good && put(o, "points", json_integer((json_int_t)n)) &&
           put(o, "frequency_ghz", ww_json_numbers(spectrum->network.frequency, n, ghz)) &&
           put(o, "loss_db", levels(spectrum->loss, n)) &&
           put(o, "conversion_db", spectrum->pair ? levels(spectrum->conversion, n) : json_null()) &&
           put(o, "reflection_db", levels(spectrum->reflection, n)) &&
           put(o, "phase_deviation_deg", ww_json_numbers(spectrum->phase, n, degree)) &&
           put(o, "notches", notches_array(spectrum)) &&
           put(o, "loss_at", spectrum->at > 0 ? loss_object(spectrum) : json_null()) &&
           put(o, "bands", spectrum->placements ? bands_object(spectrum) : json_null()) &&
           put(o, "over_angle", result->map && result->map->angles ? over_angle_object(result) : json_null());
    return ww_json_write(stream, whole(o, good), error);
}
