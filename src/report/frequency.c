/* report/frequency.c - the section on loss, conversion and reflection over frequency.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "report/sections.h"

#include <math.h>

#define INCH 25.4e-3

static bool is_solved(const struct ww_report *report)
{
    return report->spectrum && report->spectrum->network.count > 0;
}

bool ww_report_has_frequency(const struct ww_report *report)
{
    return is_solved(report) || (report->no_spectrum && report->no_spectrum[0]);
}

static double decibels(double attenuation)
{
    return 20.0 / log(10.0) * attenuation;
}

static void write_row(struct ww_page *page, const char *cause, double attenuation, double length)
{
    ww_page_cell(page, "%s", cause);
    ww_page_cell(page, "%.3f", decibels(attenuation) * INCH);
    ww_page_cell(page, "%.2f", decibels(attenuation) * length);
}

static void write_loss(const struct ww_report *report, struct ww_page *page)
{
    static const struct ww_page_column column[] = {{"Loss of the mean line", false}, {"dB/in", true}, {"dB", true}};
    const struct ww_spectrum *s = report->spectrum;
    const struct ww_line_loss *loss = &s->at_loss;
    double length = report->study->length;
    struct ww_words a, b;
    char caption[WW_CAPTION_SIZE];
    snprintf(caption, sizeof caption, "What is lost at %s, and over %s.", ww_words_number(&a, s->at, WW_FREQUENCY, 4),
             ww_words_number(&b, length, WW_LENGTH, 4));
    ww_page_table_begin(page, caption, column, WW_COUNT(column), true);
    write_row(page, "dielectric", loss->dielectric, length);
    write_row(page, "copper, smooth", loss->conductor, length);
    write_row(page, "roughness of the copper", loss->roughness, length);
    write_row(page, "all", loss->dielectric + loss->conductor + loss->roughness, length);
    ww_page_table_end(page);
    if (s->pair)
        ww_page_text(page, WW_PAGE_PLAIN,
                     "With the cloth in its worst place Sdd21 is %.2f dB below that of the mean line. By -20 log "
                     "|cos(pi f tau)|, for legs that do not couple, its skew of %s would take %.2f dB.",
                     -ww_decibels(s->at_penalty.solved), ww_words_time(&a, fabs(s->at_penalty.skew)),
                     -ww_decibels(s->at_penalty.uncoupled));
}

/* Does what the cloth reflects at the study's angle lie within the signal's band? */
static void write_notches(const struct ww_report *report, struct ww_page *page)
{
    const struct ww_spectrum *s = report->spectrum;
    struct ww_words a, b;
    if (s->notches == 0) {
        ww_page_text(page, WW_PAGE_PLAIN, "At the study's angle no period of the cloth reflects %s.",
                     "within the band of the figure");
        return;
    }
    const struct ww_notch *notch = s->notch;
    ww_page_text(
        page, s->at > 0.0 && notch->frequency <= s->at ? WW_PAGE_CAUTION : WW_PAGE_PLAIN,
        "At the study's angle the cloth reflects most at %s, where its period along the trace, %s, is half a "
        "wavelength: %.1f dB%s.",
        ww_words_number(&a, notch->frequency, WW_FREQUENCY, 3), ww_words_number(&b, notch->period, WW_LENGTH, 3),
        ww_decibels(notch->reflection), notch->even ? ", as even mode" : "");
}

enum ww_status ww_report_write_frequency(const struct ww_report *report, struct ww_page *page, struct ww_error *error)
{
    if (!is_solved(report)) {
        ww_page_text(page, WW_PAGE_PLAIN, "Not solved: %s.", report->no_spectrum);
        return WW_OK;
    }
    const struct ww_spectrum *s = report->spectrum;
    char limits[WW_CAPTION_SIZE];
    if (ww_words_limits(&report->limits, s->network.frequency[s->network.count - 1], limits, sizeof limits)[0])
        ww_page_text(page, WW_PAGE_CAUTION, "%s", limits);
    if (s->at > 0.0)
        write_loss(report, page);
    enum ww_status status = ww_report_figure(report, page, "frequency",
                                             "Transmission, conversion and reflection over frequency, in dB.", error,
                                             "With the cloth in its worst place; bands over it and %zu more. Ports "
                                             "of 50 \xce\xa9 a leg, so a line of another "
                                             "impedance ripples.",
                                             s->placements);
    write_notches(report, page);
    if (!status && report->notches && report->notches->angles > 0)
        status = ww_report_figure(report, page, "notch",
                                  "What the cloth reflects over routing angle and frequency, as colours.", error,
                                  "A turned trace trades skew for a reflection. Each line is a period of the cloth: "
                                  "it starts at the angle at which the trace runs along it. Above, the safe angles.");
    if (!status)
        status = ww_report_figure(report, page, "phase", "Phase against the mean line over frequency, in degrees.",
                                  error, "By how much the cloth's place moves the phase of what passes.");
    return status;
}
