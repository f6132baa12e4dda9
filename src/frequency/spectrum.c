/* spectrum.c - one placement over frequency, and what all others may do.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "frequency/wideband.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/parallel.h"
#include "core/progress.h"
#include "scan/plies.h"

enum { POINTS = 1001, BANDS = 201, DRAWN = 255, SEED = 1, CURVES = 4, BAND_CURVES = 7 };

void ww_spectrum_clear(struct ww_spectrum *spectrum)
{
    ww_network_clear(&spectrum->network);
    free(spectrum->loss);
    free(spectrum->band_frequency);
    *spectrum = (struct ww_spectrum){0};
}

/* The phase by which b[i] is ahead of a[i], unwrapped from the first on [rad]. */
static double ahead(double before, double _Complex b, double _Complex a)
{
    double phase = carg(b * conj(a));
    return before + remainder(phase - before, 2 * WW_PI);
}

static void measure(struct ww_spectrum *spectrum, const struct ww_network *mean)
{
    double before = 0;
    for (size_t i = 0; i < spectrum->network.count; i++) {
        struct ww_mixed at = ww_network_mixed(&spectrum->network, i), of = ww_network_mixed(mean, i);
        spectrum->loss[i] = cabs(at.dd21);
        spectrum->conversion[i] = cabs(at.cd21);
        spectrum->reflection[i] = cabs(at.dd11);
        spectrum->phase[i] = before = ahead(before, at.dd21, of.dd21);
    }
}

/* What the skew takes from a pair at one frequency. */
static enum ww_status measure_penalty(struct ww_spectrum *s, const struct ww_wideband *w, const double (*start)[2],
                                      struct ww_error *error)
{
    struct ww_network placed = {0}, mean = {0};
    double skew = 0;
    enum ww_status status = ww_scan_value_of_all(w->odd, WW_SKEW, WW_MEAN, w->length, start, &skew, error);
    if (!status)
        status = ww_wideband_solve(w, start, &s->at, 1, &placed, error);
    if (!status)
        status = ww_wideband_solve(w, NULL, &s->at, 1, &mean, error);
    if (!status)
        s->at_penalty =
            (struct ww_skew_penalty){skew, fabs(cos(WW_PI * s->at * skew)),
                                     cabs(ww_network_mixed(&placed, 0).dd21) / cabs(ww_network_mixed(&mean, 0).dd21)};
    ww_network_clear(&placed);
    ww_network_clear(&mean);
    return status;
}

static void widen(double *least, double *most, double value, bool first)
{
    *least = first ? value : fmin(*least, value);
    *most = first ? value : fmax(*most, value);
}

/* What a placement does: three curves over the bands' frequencies, and the attenuation. */
struct placed {
    double *loss, *conversion, *phase, attenuation;
};

static enum ww_status solve_placed(struct placed *placed, const struct ww_spectrum *spectrum,
                                   const struct ww_wideband *w, const struct ww_network *mean,
                                   const double (*start)[2], struct ww_error *error)
{
    struct ww_network network = {0};
    double before = 0;
    enum ww_status status = ww_wideband_solve_with_loss(w, start, spectrum->band_frequency, spectrum->bands, &network,
                                                        spectrum->at, &placed->attenuation, error);
    for (size_t i = 0; i < spectrum->bands && !status; i++) {
        struct ww_mixed at = ww_network_mixed(&network, i), of = ww_network_mixed(mean, i);
        placed->loss[i] = cabs(at.dd21);
        placed->conversion[i] = cabs(at.cd21);
        placed->phase[i] = before = ahead(before, at.dd21, of.dd21);
    }
    ww_network_clear(&network);
    return status;
}

static void add_placed(struct ww_spectrum *spectrum, const struct placed *placed, bool first)
{
    for (size_t i = 0; i < spectrum->bands; i++) {
        widen(&spectrum->loss_least[i], &spectrum->loss_most[i], placed->loss[i], first);
        widen(&spectrum->conversion_least[i], &spectrum->conversion_most[i], placed->conversion[i], first);
        widen(&spectrum->phase_least[i], &spectrum->phase_most[i], placed->phase[i], first);
    }
    if (spectrum->at > 0)
        widen(&spectrum->at_dielectric_least, &spectrum->at_dielectric_most, placed->attenuation, first);
}

/* Placement 0 is the one that is shown, the others are drawn. */
static enum ww_status solve_all(struct placed *placed, const struct ww_spectrum *spectrum,
                                const struct ww_wideband *w, const struct ww_network *mean, const double (*shown)[2],
                                unsigned seed, const struct ww_progress *host, struct ww_error *error)
{
    struct ww_failure failure = {.error = error};
    struct ww_progress_run progress = {.host = host ? *host : (struct ww_progress){0}};
    ww_progress_part(&progress, 1, spectrum->placements + 1);
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads()) schedule(dynamic)
#endif
    for (size_t i = 0; i < spectrum->placements + 1; i++) {
        struct ww_error mine = {0};
        double(*drawn)[2] = calloc(w->odd->plies + 1, sizeof *drawn);
        enum ww_status status =
            drawn ? WW_OK : ww_error_set(&mine, WW_NO_MEMORY, NULL, 0, "no memory for the starts");
        if (!status && i > 0)
            ww_wideband_draw(w, seed, i - 1, drawn);
        if (!status)
            status = solve_placed(&placed[i], spectrum, w, mean, i > 0 ? (const double(*)[2])drawn : shown, &mine);
        free(drawn);
        ww_failure_keep(&failure, i, status, &mine);
        ww_progress_step(&progress);
    }
    return failure.status;
}

static enum ww_status solve_bands(struct ww_spectrum *spectrum, const struct ww_wideband *w, const double (*shown)[2],
                                  unsigned seed, const struct ww_progress *progress, struct ww_error *error)
{
    struct ww_network mean = {0};
    size_t n = spectrum->bands, count = spectrum->placements + 1;
    struct placed *placed = calloc(count, sizeof *placed);
    double *curves = calloc(count, 3 * n * sizeof *curves);
    enum ww_status status =
        placed && curves ? WW_OK : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu placements", count);
    for (size_t i = 0; i < count && !status; i++) {
        double *own = curves + 3 * n * i;
        placed[i] = (struct placed){own, own + n, own + 2 * n, 0};
    }
    if (!status)
        status = ww_wideband_solve(w, NULL, spectrum->band_frequency, n, &mean, error);
    if (!status)
        status = solve_all(placed, spectrum, w, &mean, shown, seed, progress, error);
    for (size_t i = 0; i < count && !status; i++)
        add_placed(spectrum, &placed[i], i == 0);
    ww_network_clear(&mean);
    free(curves);
    free(placed);
    return status;
}

/* Curves in one block each, one behind the other. */
static enum ww_status lay_out(struct ww_spectrum *s, size_t points, struct ww_error *error)
{
    size_t step = (points + BANDS - 1) / BANDS, bands = (points - 1) / step + 1;
    double *curves = calloc(CURVES * points, sizeof *curves), *band = calloc(BAND_CURVES * bands, sizeof *band);
    s->loss = curves;
    s->band_frequency = band;
    if (!curves || !band)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu frequencies", points);
    s->bands = bands;
    s->conversion = curves + points;
    s->reflection = curves + 2 * points;
    s->phase = curves + 3 * points;
    s->loss_least = band + bands;
    s->loss_most = band + 2 * bands;
    s->conversion_least = band + 3 * bands;
    s->conversion_most = band + 4 * bands;
    s->phase_least = band + 5 * bands;
    s->phase_most = band + 6 * bands;
    return WW_OK;
}

/* As many points as asked for, or that the phase needs. */
static size_t points_for(const struct ww_spectrum_request *request, double delay)
{
    double needed = (request->to - request->from) * delay * 4;
    return request->points ? request->points : (size_t)fmin(fmax(POINTS, ceil(needed) + 1), 1e6);
}

enum ww_status ww_spectrum_solve(struct ww_spectrum *s, const struct ww_wideband *w,
                                 const struct ww_spectrum_request *request, const double (*start)[2],
                                 const struct ww_progress *progress, struct ww_error *error)
{
    struct ww_network mean = {0};
    double delay = w->length * sqrt(fmax(w->mean[0], w->mean[1])) / WW_C0, *frequency = NULL;
    size_t points = points_for(request, delay);
    *s = (struct ww_spectrum){
        .pair = w->pair, .placements = request->placements, .at = request->at, .lossless = w->lossless};
    frequency = calloc(points, sizeof *frequency);
    enum ww_status status =
        frequency ? WW_OK : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu frequencies", points);
    if (!status)
        status = ww_frequency_steps(request->from, request->to, points, delay, frequency, error);
    if (!status)
        status = lay_out(s, points, error);
    if (!status)
        status = ww_wideband_solve(w, start, frequency, points, &s->network, error);
    if (!status)
        status = ww_wideband_solve(w, NULL, frequency, points, &mean, error);
    if (!status) {
        measure(s, &mean);
        for (size_t i = 0; i < s->bands; i++)
            s->band_frequency[i] = frequency[i * ((points + BANDS - 1) / BANDS)];
        s->notches = ww_wideband_notches(w, request->to, s->notch, sizeof s->notch / sizeof *s->notch);
        if (s->at > 0)
            s->at_loss = ww_wideband_loss(w, s->at);
        if (s->at > 0 && s->pair)
            status = measure_penalty(s, w, start, error);
    }
    if (!status) {
        status = s->placements ? solve_bands(s, w, start, request->seed, progress, error) : WW_OK;
    }
    ww_network_clear(&mean);
    free(frequency);
    if (status)
        ww_spectrum_clear(s);
    return status;
}

/* --- placements by name --------------------------------------------------------------------------------------------------- */

enum ww_status ww_wideband_fastest(const struct ww_wideband *w, double (*start)[2], struct ww_error *error)
{
    size_t plies = w->odd->plies;
    struct ww_extreme *high = calloc(2 * plies + 1, sizeof *high), *low = high ? high + plies : NULL;
    if (!high)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", plies);
    enum ww_status status = ww_scan_extremes_of_all(w->odd, WW_LEG1, WW_MEAN, w->length, NULL, high, low, error);
    for (size_t p = 0; p < plies && !status; p++) {
        start[p][0] = low[p].x;
        start[p][1] = low[p].y;
    }
    free(high);
    return status;
}

struct drawn {
    size_t index;
    double value;
};

static int by_value(const void *left, const void *right)
{
    const struct drawn *a = left, *b = right;
    return a->value != b->value ? (a->value > b->value) - (a->value < b->value)
                                : (a->index > b->index) - (a->index < b->index);
}

enum ww_status ww_wideband_median(const struct ww_wideband *w, double (*start)[2], struct ww_error *error)
{
    struct drawn drawn[DRAWN];
    enum ww_status status = WW_OK;
    for (size_t i = 0; i < DRAWN && !status; i++) {
        double sum = 0;
        ww_wideband_draw(w, SEED, i, start);
        status = ww_scan_value_of_all(w->odd, w->pair ? WW_SKEW : WW_LEG1, WW_MEAN, w->length,
                                      (const double(*)[2])start, &sum, error);
        drawn[i] = (struct drawn){i, w->pair ? fabs(sum) : sum};
    }
    if (status)
        return status;
    qsort(drawn, DRAWN, sizeof *drawn, by_value);
    ww_wideband_draw(w, SEED, drawn[DRAWN / 2].index, start);
    return WW_OK;
}
