/* skew.c - the sections of the report on the skew: how bad, where, and how likely.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "report/sections.h"
#include "weftwise/patch.h"

#include <math.h>
#include <string.h>

/* --- how bad, and where? ------------------------------------------------------------------------------------------------ */

size_t ww_report_rank(const struct ww_skew *skew, size_t ply)
{
    size_t rank = 0;
    double own = skew->high[ply].value - skew->low[ply].value;
    for (size_t i = 0; i < skew->plies; i++) {
        double other = skew->high[i].value - skew->low[i].value;
        rank += i != ply && (other > own || (other == own && i < ply));
    }
    return rank;
}

static void write_row(struct ww_page *page, const char *name, const char *value, const char *meaning)
{
    ww_page_cell(page, "%s", name);
    ww_page_cell(page, "%s", value);
    ww_page_cell(page, "%s", meaning);
}

/* What dispersion comes to; or why the figures are static. */
static void write_dispersion(const struct ww_dispersion *d, double dk, struct ww_page *page)
{
    struct ww_words frequency;
    char name[WW_CELL_SIZE], value[WW_CELL_SIZE], text[WW_CAPTION_SIZE];
    snprintf(name, sizeof name, "dispersion at %s", ww_words_number(&frequency, d->frequency, WW_FREQUENCY, 4));
    snprintf(value, sizeof value, "%+.2f %%, %+.1f %%", 100.0 * (d->mean - 1.0), 100.0 * (d->change - 1.0));
    if (d->applied)
        snprintf(text, sizeof text,
                 "on the mean delay, and on differences of delay: in every number here; the static Dk is %.3f",
                 dk / (d->mean * d->mean));
    else
        snprintf(text, sizeof text, "every number here is static: %s", d->why_not);
    write_row(page, name, d->applied ? value : "left out", text);
}

static void write_numbers(const struct ww_report *report, struct ww_page *page)
{
    static const struct ww_page_column column[] = {{"Figure", false}, {"Value", true}, {"What it is", false}};
    const struct ww_skew *skew = report->skew;
    const struct ww_line_summary *line = report->line;
    struct ww_words a, b;
    char text[WW_CAPTION_SIZE];
    char where[WW_CELL_SIZE], caption[WW_CAPTION_SIZE];
    snprintf(caption, sizeof caption, "The difference of two such traces, %s.",
             ww_words_feeds(report->study, where, sizeof where));
    ww_page_table_begin(page, skew->pair ? "The skew of the pair." : caption, column, WW_COUNT(column), true);
    write_row(page, "worst", ww_words_time(&a, skew->worst),
              skew->pair                     ? "over all positions of every ply, at the study's angle"
              : report->study->spacing > 0.0 ? "over all positions of every ply, at the study's angle"
                                             : "slowest less fastest placement, at the study's angle");
    char tolerances[WW_TOLERANCES_SIZE], varies[WW_CELL_SIZE];
    snprintf(varies, sizeof varies, "worst with %s", ww_words_varies(report->study));
    snprintf(text, sizeof text, "the same with %s; worst with the trace at %s to the warp",
             ww_words_tolerances(report->study, tolerances, sizeof tolerances),
             ww_words_number(&a, round(skew->worst_angle * 1e5) * 1e-5 + 0.0, WW_ANGLE, 3));
    if (tolerances[0])
        write_row(page, varies, ww_words_time(&a, skew->worst_with_turn), text);
    snprintf(text, sizeof text, "%s to %s", ww_words_time(&a, fmin(skew->worst_lower, skew->worst_upper)),
             ww_words_time(&b, fmax(skew->worst_lower, skew->worst_upper)));
    write_row(page, "bounds of the kernel", text,
              "the worst from the lower and the upper bound of the capacitance, without the correction");
    snprintf(text, sizeof text, "of %s; half, 95 and 99 of 100 placements stay below",
             skew->pair ? "the skew, either sign" : "the difference, either sign");
    char three[WW_CAPTION_SIZE];
    snprintf(three, sizeof three, "%s, ", ww_words_time(&a, skew->median));
    snprintf(three + strlen(three), sizeof three - strlen(three), "%s, %s", ww_words_time(&a, skew->p95),
             ww_words_time(&b, skew->p99));
    write_row(page, "median, p95, p99", three, text);
    write_row(page, "standard deviation", ww_words_time(&a, skew->deviation), "over the same placements");
    snprintf(text, sizeof text, "largest difference of the delays of two pairs, %s",
             ww_words_feeds(report->study, where, sizeof where));
    if (skew->pair && report->study->spacing > 0.0)
        write_row(page, "pair to pair", ww_words_time(&a, fmax(skew->apart.worst, skew->apart_with_turn)), text);
    if (skew->mismatch != 0.0)
        write_row(page, "mismatch at bends", ww_words_time(&a, skew->mismatch),
                  report->study->compensated
                      ? "leg 1 less leg 2 by their lengths alone; compensated: in no other number here"
                      : "leg 1 less leg 2 by their lengths alone; counted in the skew");
    snprintf(text, sizeof text, "%s to %s", ww_words_time(&a, skew->fastest), ww_words_time(&b, skew->slowest));
    write_row(page, "delay", text, skew->pair ? "fastest to slowest leg" : "fastest to slowest placement");
    if (skew->pair)
        snprintf(text, sizeof text, "%.1f \xce\xa9", line->z_diff);
    else
        snprintf(text, sizeof text, "%.1f \xce\xa9", line->z0);
    write_row(page, skew->pair ? "differential impedance" : "impedance", text, "of the mean over the cloth");
    snprintf(text, sizeof text, "%.3f, %.4f", line->dk_eff, line->df_eff);
    write_row(page, "Dk, loss tangent", text, "effective, from the mean delay over all positions; without copper");
    if (line->dispersion.frequency > 0.0 && (line->dispersion.applied || line->dispersion.why_not[0]))
        write_dispersion(&line->dispersion, line->dk_eff, page);
    ww_page_table_end(page);
}

static void write_term(struct ww_page *page, const char *name, bool known, const char *worst, const char *p99)
{
    if (!known)
        return;
    ww_page_cell(page, "%s", name);
    ww_page_cell(page, "%s", worst);
    ww_page_cell(page, "%s", p99);
}

static void write_terms(const struct ww_report *report, struct ww_page *page)
{
    static const struct ww_page_column column[] = {
        {"In the signal's terms", false}, {"Worst", true}, {"99 of 100 stay below", true}};
    const struct ww_skew *skew = report->skew;
    struct ww_skew_request request = ww_study_request(report->study);
    struct ww_skew_terms w = ww_skew_terms(skew->worst, request.frequency, request.rate);
    struct ww_skew_terms p = ww_skew_terms(skew->p99, request.frequency, request.rate);
    struct ww_words a, b;
    char left[WW_CAPTION_SIZE], right[WW_CAPTION_SIZE];
    if (!(request.frequency > 0.0) && !(request.rate > 0.0))
        return;
    ww_page_table_begin(page, "The same in the terms of the signal, at the study's angle.", column, WW_COUNT(column),
                        true);
    snprintf(left, sizeof left, "%.*f\xc2\xb0", w.degrees < 10.0 ? 2 : 1, w.degrees);
    snprintf(right, sizeof right, "%.*f\xc2\xb0", p.degrees < 10.0 ? 2 : 1, p.degrees);
    char name[WW_CAPTION_SIZE];
    snprintf(name, sizeof name, "phase at %s", ww_words_number(&a, request.frequency, WW_FREQUENCY, 4));
    write_term(page, name, request.frequency > 0.0, left, right);
    write_term(page, "share of the unit interval", request.rate > 0.0, ww_words_share(&a, w.unit_interval_share),
               ww_words_share(&b, p.unit_interval_share));
    if (!skew->pair) { /* the rest is of a differential signal */
        ww_page_table_end(page);
        return;
    }
    write_term(page, "first null of the differential transmission", w.first_null > 0.0 && p.first_null > 0.0,
               ww_words_number(&a, w.first_null, WW_FREQUENCY, 3),
               ww_words_number(&b, p.first_null, WW_FREQUENCY, 3));
    const struct ww_conversion *conversion = &skew->conversion;
    snprintf(name, sizeof name, "odd mode converted to even mode at %s",
             ww_words_number(&a, conversion->frequency, WW_FREQUENCY, 4));
    write_term(page, name, conversion->frequency > 0.0, ww_words_level(&a, conversion->worst),
               ww_words_level(&b, conversion->p99));
    snprintf(name, sizeof name, "the same with %s", ww_words_varies(report->study));
    write_term(page, name, conversion->frequency > 0.0 && ww_words_varies(report->study)[0],
               ww_words_level(&a, conversion->worst_with_turn), "");
    write_term(page, "the same by skew alone, for legs that do not couple", conversion->frequency > 0.0,
               ww_words_level(&a, conversion->weak), "");
    ww_page_table_end(page);
}

/* What the skew in ps stands for, where the legs couple. */
static void write_termination(const struct ww_report *report, struct ww_page *page)
{
    double modes, legs;
    if (!report->skew->pair)
        return;
    ww_skew_received(report->line, &modes, &legs);
    ww_page_text(page, WW_PAGE_PLAIN,
                 "The skew is the difference of the legs' delays with the pair driven odd. It keeps its meaning for "
                 "loosely coupled legs. Of this pair, at low frequency, up to %.2f times it is received with even "
                 "and odd mode both matched, and 1 to %.2f times it with each leg ended in its own odd-mode "
                 "impedance.",
                 modes, legs);
}

static enum ww_status write_maps(const struct ww_report *report, struct ww_page *page, struct ww_error *error)
{
    const struct ww_skew *skew = report->skew;
    const char *what = skew->pair ? "Skew" : "Delay less its mean";
    char name[WW_CELL_SIZE], subject[WW_CELL_SIZE], alt[WW_CAPTION_SIZE];
    struct ww_words high, low;
    enum ww_status status = WW_OK;
    for (size_t i = 0; i < skew->plies && !status; i++) {
        if (ww_report_rank(skew, i) >= WW_PLIES_SHOWN)
            continue;
        ww_words_ply(report->study, i, subject, sizeof subject);
        snprintf(name, sizeof name, "skew-ply%zu", i + 1);
        snprintf(alt, sizeof alt, "Map of %s over where the trace starts on %s, from %s to %s.",
                 skew->pair ? "skew" : "delay deviation", subject, ww_words_time(&low, skew->low[i].value),
                 ww_words_time(&high, skew->high[i].value));
        status = ww_report_figure(report, page, name, alt, error,
                                  "%s that %s alone contributes, over where the %s starts on its cell; the dashed "
                                  "rectangle is one cell, and triangles mark the worst of either sign.",
                                  what, subject, skew->pair ? "pair" : "trace");
    }
    if (skew->plies > WW_PLIES_SHOWN)
        ww_page_text(page, WW_PAGE_PLAIN,
                     "The maps of the other plies, which contribute less, lie beside this page.");
    return status;
}

static void write_doubts(const struct ww_report *report, struct ww_page *page)
{
    static const struct ww_page_column column[] = {{"What it hangs on", false},
                                                   {"Known within", true},
                                                   {"Worst at its lower end", true},
                                                   {"at its upper end", true}};
    const struct ww_doubts *doubts = report->doubts;
    struct ww_words a, b;
    if (!doubts || doubts->count == 0)
        return;
    ww_page_table_begin(
        page,
        "The worst with one figure of the cloth at a time at either end of what is known of it. The range "
        "is the root of the squares of these moves, each side by itself.",
        column, WW_COUNT(column), true);
    for (size_t i = 0; i < doubts->count; i++) {
        const struct ww_doubt *doubt = &doubts->of[i];
        ww_page_cell(page, "%s of %s", ww_doubt_kind_name(doubt->kind),
                     doubt->kind == WW_DOUBT_GLASS_DK ? doubt->glass : doubt->style);
        ww_page_cell(page, "\xc2\xb1%.3g %%%s", 100.0 * doubt->share,
                     doubt->kind == WW_DOUBT_HEIGHT ? " of the resin beside it" : "");
        ww_page_cell(page, "%s", ww_words_time(&a, doubt->at_low));
        ww_page_cell(page, "%s", ww_words_time(&a, doubt->at_high));
    }
    ww_page_mark_row(page);
    ww_page_cell(page, "%s", "all of them");
    ww_page_cell(page, "%s", "");
    ww_page_cell(page, "%s", ww_words_time(&a, doubts->low));
    ww_page_cell(page, "%s", ww_words_time(&b, doubts->high));
    ww_page_table_end(page);
}

enum ww_status ww_report_write_skew(const struct ww_report *report, struct ww_page *page, struct ww_error *error)
{
    const struct ww_skew *skew = report->skew;
    enum ww_status status = WW_OK;
    write_numbers(report, page);
    write_terms(report, page);
    write_termination(report, page);
    write_doubts(report, page);
    status = write_maps(report, page, error);
    if (!status)
        status = ww_report_figure(
            report, page, "profile",
            skew->pair
                ? "Effective Dk of each leg along the worst pair, and below it the skew building up with distance."
                : "Effective Dk of the trace along its slowest placement, and below it the delay building up.",
            error,
            skew->pair ? "Why it is bad: the Dk under each leg along the worst placement, and below it how the skew "
                         "builds up. A steady climb means that one leg stays over glass and the other over resin."
                       : "Why it is slow: the Dk under the trace along its slowest placement, and below it how its "
                         "delay departs from the mean.");
    return status;
}

/* --- how likely? -------------------------------------------------------------------------------------------------------- */

/* tolerant: NULL where the study lets nothing vary. */
static void write_chance(struct ww_page *page, const char *name, const char *value, const char *tolerant)
{
    ww_page_cell(page, "%s", name);
    ww_page_cell(page, "%s", value);
    if (tolerant)
        ww_page_cell(page, "%s", tolerant);
}

static void write_chances(const struct ww_report *report, struct ww_page *page)
{
    char varies[WW_CELL_SIZE], budget[WW_CELL_SIZE], where[WW_CELL_SIZE];
    const char *what = ww_words_varies(report->study);
    const struct ww_page_column column[] = {
        {"Chance", false}, {"Cloth lies as the study says", true}, {varies, true}};
    const struct ww_skew *skew = report->skew;
    const struct ww_study *study = report->study;
    struct ww_words a, b;
    bool vary = what[0] != '\0';
    const char *vary_word = strstr(what, "counts") ? "vary" : "varies";
    snprintf(varies, sizeof varies, "Its %s %s too", what, vary_word);
    const char *lanes = ww_words_lanes(study, where, sizeof where);
    ww_page_table_begin(page,
                        vary ? "Over a random position of every ply, and over the cloth's tolerances as well."
                             : "Over a random position of every ply.",
                        column, vary ? 3 : 2, true);
    write_chance(page, "median", ww_words_time(&a, skew->median),
                 vary ? ww_words_time(&b, skew->tolerant_median) : NULL);
    write_chance(page, "99 of 100 stay below", ww_words_time(&a, skew->p99),
                 vary ? ww_words_time(&b, skew->tolerant_p99) : NULL);
    snprintf(budget, sizeof budget, "over the budget of %s", ww_words_time(&a, study->budget));
    if (study->budget > 0.0)
        write_chance(page, budget, ww_words_share(&a, skew->over_budget),
                     vary ? ww_words_share(&b, skew->tolerant_over_budget) : NULL);
    ww_page_table_end(page);
    if (vary && skew->tolerant_median != skew->median)
        ww_page_text(
            page, WW_PAGE_PLAIN, "The medians differ: where the cloth's %s %s too, %s.", what, vary_word,
            skew->tolerant_median < skew->median
                ? "traces cross yarns that they follow on a cloth that lies as the study says, and average them"
                : "some traces come nearer to the direction of a yarn, or lose what averages them, than on a "
                  "cloth that lies as the study says");
    if (study->budget > 0.0 && study->lanes > 1)
        ww_page_text(page, WW_PAGE_PLAIN,
                     "All %zu lanes of a board, %s, meet the budget with a chance of %s. The %s is %s on average.",
                     study->lanes, lanes, ww_words_share(&a, skew->yield),
                     skew->pair ? "worst of them" : "largest difference of any two",
                     ww_words_time(&b, skew->expected_worst));
    if (study->lanes > 1 && !(study->lane_pitch > 0.0))
        ww_page_text(page, WW_PAGE_PLAIN,
                     "Lanes side by side are not independent: with lane_pitch in [signal] they lie on one cloth.");
    if (ww_study_is_of_real_cloth(study))
        ww_page_text(page, WW_PAGE_PLAIN, "%s", WW_REAL_BOUND);
}

enum ww_status ww_report_write_chance(const struct ww_report *report, struct ww_page *page, struct ww_error *error)
{
    char alt[WW_CAPTION_SIZE];
    const struct ww_skew *skew = report->skew;
    struct ww_words median, p99;
    snprintf(alt, sizeof alt, "Distribution of %s over all placements of the cloth: median %s, 99 of 100 below %s.",
             skew->pair ? "skew" : "the difference of two traces", ww_words_time(&median, skew->median),
             ww_words_time(&p99, skew->p99));
    ww_page_text(page, WW_PAGE_PLAIN,
                 "Every position of every ply under the trace is taken as equally likely, independently of the "
                 "other plies. No fabricator aligns cloth to artwork (common practice, no source).");
    enum ww_status status =
        ww_report_figure(report, page, "distribution", alt, error,
                         "How often each %s occurs. Bars over the budget, where there is one, are hatched.",
                         skew->pair ? "skew" : "difference of two traces");
    write_chances(report, page);
    return status ? status : ww_report_write_arms(report, page, error);
}
