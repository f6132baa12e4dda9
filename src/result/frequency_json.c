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

enum ww_status ww_result_frequency_json(FILE *stream, const struct ww_study *study,
                                        const struct ww_line_summary *line, const struct ww_spectrum *spectrum,
                                        const char *placement, const double (*start)[2], const char *const *file,
                                        size_t files, struct ww_error *error)
{
    size_t n = spectrum->network.count;
    bool good = false;
    json_t *o = ww_json_study("frequency", study, &good), *starts = json_array(), *names = json_array();
    for (size_t i = 0; i < study->stack.plies; i++)
        good = good && json_array_append_new(starts, point(start[i][0], start[i][1])) == 0;
    for (size_t i = 0; i < files; i++)
        good = good && json_array_append_new(names, text(file[i])) == 0;
    good = put(o, "line", ww_json_line(line, spectrum->pair)) && good;
    good = put(o, "copper", text(study->copper.name[0] ? study->copper.name : "smooth")) && good;
    good = put(o, "placement", text(placement)) && good;
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
           put(o, "bands", spectrum->placements ? bands_object(spectrum) : json_null());
    return ww_json_write(stream, whole(o, good), error);
}
