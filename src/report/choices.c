/* choices.c - the sections of the report on what a designer may choose: angle, glass, pitch.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "report/sections.h"

#include <math.h>

static const char *what_of(const struct ww_report *report)
{
    return report->skew->pair ? "skew" : "delay difference";
}

/* --- which angle? ------------------------------------------------------------------------------------------------------- */

static void write_windows(const char *caption, const struct ww_window *windows, size_t count, struct ww_page *page)
{
    static const struct ww_page_column column[] = {
        {"Safe window", false}, {"From", true}, {"To", true}, {"Width", true}};
    struct ww_words from, to, width;
    if (count == 0)
        return;
    ww_page_table_begin(page, caption, column, WW_COUNT(column), count < 16);
    for (size_t i = 0; i < count; i++) {
        const struct ww_window *window = &windows[i];
        ww_page_cell(page, "%zu", i + 1);
        ww_page_cell(page, "%s", ww_words_angle_up(&from, window->from));
        ww_page_cell(page, "%s", ww_words_angle_down(&to, window->to));
        ww_page_cell(page, "%s", ww_words_angle_down(&width, window->to - window->from));
    }
    ww_page_table_end(page);
}

static void write_revivals(const struct ww_report *report, struct ww_page *page)
{
    static const struct ww_page_column column[] = {
        {"Direction", false}, {"(m, l)", true}, {"Angle", true}, {"Grows by", true}, {"Cloth of", false}};
    const struct ww_angles *angles = report->angles;
    char subject[WW_CELL_SIZE];
    struct ww_words angle;
    if (angles->revivals == 0)
        return;
    ww_page_table_begin(
        page, "Directions of the cloth in which it does not average out: there the worst grows with length.", column,
        WW_COUNT(column), angles->revivals < 16);
    for (size_t i = 0; i < angles->revivals; i++) {
        const struct ww_revival *revival = &angles->revival[i];
        ww_words_ply(report->study, revival->ply, subject, sizeof subject);
        ww_page_cell(page, "%s",
                     revival->l == 0   ? "along the warp"
                     : revival->m == 0 ? "along the fill"
                                       : "a diagonal");
        ww_page_cell(page, "(%d, %d)", revival->m, revival->l);
        ww_page_cell(page, "%s", ww_words_number(&angle, revival->angle, WW_ANGLE, 4));
        ww_page_cell(page, "%.3g ps/mm", revival->growth * 1e9);
        ww_page_cell(page, "%s", subject);
    }
    ww_page_table_end(page);
}

/* Where the pair converts most, and why; the figure. */
static enum ww_status write_conversion(const struct ww_report *report, struct ww_page *page, struct ww_error *error)
{
    const struct ww_angles *angles = report->angles;
    const struct ww_angles_conversion *conversion = &angles->conversion;
    const struct ww_at_angle *most = angles->at;
    struct ww_words level, angle, frequency;
    if (!(conversion->frequency > 0.0))
        return WW_OK;
    for (size_t i = 1; i < angles->count; i++)
        most = angles->at[i].conversion > most->conversion ? &angles->at[i] : most;
    ww_page_text(
        page, WW_PAGE_PLAIN,
        "The legs of a pair couple, and its odd and even mode are not equally fast. The pair converts most at "
        "%s, %s at %s%s.",
        ww_words_number(&angle, most->angle, WW_ANGLE, 4), ww_words_level(&level, most->conversion),
        ww_words_number(&frequency, conversion->frequency, WW_FREQUENCY, 4),
        ww_angles_match(angles, most->angle)
            ? ", where the cloth's period along the trace meets the beat of the two modes"
            : "");
    enum ww_status status = ww_report_figure(
        report, page, "conversion", "Conversion of odd to even mode in dB over routing angle.", error,
        "Conversion of the odd mode to the even one against routing angle, both modes matched at both ends. Dotted "
        "lines mark "
        "angles at which the cloth's period along the trace meets the beat of the modes.");
    write_windows("Routing angles, from the warp, that meet the budget of mode conversion.", conversion->window,
                  conversion->windows, page);
    return status;
}

bool ww_report_has_angles(const struct ww_report *report)
{
    return report->angles && report->angles->count > 0;
}

enum ww_status ww_report_write_angles(const struct ww_report *report, struct ww_page *page, struct ww_error *error)
{
    char text[WW_CAPTION_SIZE];
    const char *what = report->skew->pair ? "skew" : "difference";
    char sentence[WW_CAPTION_SIZE];
    ww_words_angles(report->angles, sentence, sizeof sentence);
    ww_page_text(page, WW_PAGE_PLAIN, "%s", ww_words_typeset(sentence, text, sizeof text));
    snprintf(text, sizeof text, "Worst, 99 of 100 and median %s over routing angle, with safe windows shaded.", what);
    enum ww_status status = ww_report_figure(
        report, page, "angles", text, error,
        "%s against routing angle. The design curve is the worst while the cloth lies off square by as "
        "much as it may: the one to design by. At an angle the trace crosses many yarns and they average "
        "out.",
        report->skew->pair ? "Skew" : "Delay difference");
    write_windows("Routing angles, from the warp, that meet the budget with the cloth's turn taken in.",
                  report->angles->window, report->angles->windows, page);
    write_revivals(report, page);
    if (!status)
        status = write_conversion(report, page, error);
    snprintf(text, sizeof text, "Map of the worst %s over routing angle and length.", what);
    if (!status && report->lengths && report->lengths->lengths > 0)
        status =
            ww_report_figure(report, page, "lengths", text, error,
                             "Worst %s over angle and length. Where the colour stays the same from bottom to top a "
                             "longer trace is no worse; along the yarns it grows without end.",
                             what);
    return status;
}

/* --- which glass? ------------------------------------------------------------------------------------------------------- */

bool ww_report_has_comparison(const struct ww_report *report)
{
    return report->comparison && report->comparison->count > 0 && !report->comparison->of[0].status;
}

size_t ww_report_tried(const struct ww_report *report)
{
    size_t tried = 0;
    for (size_t i = 0; i < report->comparison->count; i++)
        tried += !report->comparison->of[i].status;
    return tried;
}

static void write_compared(const struct ww_report *report, const struct ww_compared *of, struct ww_page *page)
{
    struct ww_words a;
    if (of->own)
        ww_page_mark_row(page);
    ww_page_cell(page, "%s%s", ww_compared_name(of), of->own ? " (own)" : "");
    if (of->status) {
        ww_page_cell(page, "cannot be used: %s", of->error.text);
        return;
    }
    ww_page_cell(page, "%s", ww_weave_kind_name(of->kind));
    ww_page_cell(page, "%s", ww_words_time(&a, of->skew.worst));
    ww_page_cell(page, "%#.3g to %#.3g ps", of->doubts.low * 1e12, of->doubts.high * 1e12);
    if (ww_words_varies(report->study)[0])
        ww_page_cell(page, "%s", ww_words_time(&a, of->skew.worst_with_turn));
    ww_page_cell(page, "%s", ww_words_time(&a, of->skew.tolerant_p99));
    if (report->study->budget > 0.0)
        ww_page_cell(page, "%s", ww_words_share(&a, of->skew.tolerant_over_budget));
    if (report->study->budget > 0.0) {
        double safe = of->angles.safe_from_warp;
        ww_page_cell(page, "%s", safe < 0.0 ? "none" : ww_words_angle_up(&a, safe));
    }
    ww_page_cell(page, "%.2f", of->mean_dk);
    const struct ww_filling *filling = ww_compared_filling(of);
    if (filling && filling->resin_content > 0.0)
        ww_page_cell(page, "%.0f %%%s%s", 100.0 * filling->resin_content, filling->flag ? ", " : "",
                     ww_resin_flag_name(filling->flag));
    else
        ww_page_cell(page, "not known");
    ww_page_cell(page, "%.1f \xce\xa9", of->skew.pair ? of->line.z_diff : of->line.z0);
}

static void write_comparison_table(const struct ww_report *report, struct ww_page *page)
{
    struct ww_page_column column[11] = {{"Glass style", false}, {"Weave", false}, {"Worst", true}, {"Range", true}};
    char varies[WW_CELL_SIZE];
    size_t columns = 4;
    snprintf(varies, sizeof varies, "With %s", ww_words_varies(report->study));
    if (ww_words_varies(report->study)[0])
        column[columns++] = (struct ww_page_column){varies, true};
    column[columns++] = (struct ww_page_column){"99 of 100", true};
    if (report->study->budget > 0.0) {
        column[columns++] = (struct ww_page_column){"Over budget", true};
        column[columns++] = (struct ww_page_column){"Safe from", true};
    }
    column[columns++] = (struct ww_page_column){"Dk", true};
    column[columns++] = (struct ww_page_column){"Resin", true};
    column[columns++] = (struct ww_page_column){report->skew->pair ? "Z diff" : "Z0", true};
    ww_page_table_begin(
        page,
        "Each style in every ply, the study's own first, then the least worst with the cloth's tolerances; chances "
        "with "
        "them, too. Plies keep their thickness and hold as many cloths as keep the resin content nearest; resin "
        "refills "
        "them. Resin, by weight: rich and starved plies are not what a fabricator presses. 99 of 100 stay below. "
        "Range of the worst with tolerances: by "
        "how well the cloth is known. Safe from: how far to turn away from the warp.",
        column, columns, true);
    for (size_t i = 0; i < report->comparison->count; i++) {
        write_compared(report, &report->comparison->of[i], page);
        while (page->cell > 0)
            ww_page_cell(page, "%s", "");
    }
    ww_page_table_end(page);
}

enum ww_status ww_report_write_comparison(const struct ww_report *report, struct ww_page *page,
                                          struct ww_error *error)
{
    char text[WW_CAPTION_SIZE];
    struct ww_words least;
    const struct ww_compared *best = ww_comparison_best(report->comparison);
    ww_page_text(
        page, WW_PAGE_PLAIN,
        "The same trace on each glass, all plies replaced: the shipped style nearest to the study's own in "
        "thickness, and the spread styles nearest to it in thickness and weight, as far as they fit the plies. "
        "'weftwise compare' takes any other.");
    if (best)
        ww_page_text(page, WW_PAGE_PLAIN, "Of these %zu %s has the least, %s.", ww_report_tried(report),
                     ww_compared_name(best), ww_words_time(&least, ww_compared_design(best)));
    snprintf(text, sizeof text, "Worst, 99 of 100 and median %s of each glass style as bars.", what_of(report));
    enum ww_status status = ww_report_figure(report, page, "compare", text, error,
                                             "Each glass at the study's angle: the bar ends at the worst, tolerances "
                                             "of the cloth included, and the shape over it is how often "
                                             "each %s occurs.",
                                             what_of(report));
    write_comparison_table(report, page);
    snprintf(text, sizeof text, "Design %s over routing angle, a curve for each glass style.", what_of(report));
    if (!status)
        status = ww_report_figure(
            report, page, "compare-angles", text, error,
            "The design curve of each glass over routing angle: turning helps them all, but not alike.");
    if (!status)
        status =
            ww_report_figure(report, page, "compare-dk",
                             "Maps of local Dk, one for each glass style, at one scale and in one range of colours.",
                             error, "Local Dk of each glass at one scale and in one range of colours.");
    return status;
}

/* --- which pitch? -------------------------------------------------------------------------------------------------------- */

bool ww_report_has_pitch(const struct ww_report *report)
{
    return report->pitch && report->pitch->pitches > 0;
}

const struct ww_null *ww_report_null(const struct ww_report *report)
{
    const struct ww_pitch *pitch = report->pitch;
    for (size_t i = 0; pitch && i < pitch->nulls; i++)
        if (!pitch->null[i].in_width && pitch->null[i].pitch == pitch->null_pitch)
            return &pitch->null[i];
    return NULL;
}

/* Straight between the samples. */
static double stretched(const struct ww_pitch *pitch, double share)
{
    const double *at = pitch->stretch, *value = pitch->at_stretch;
    size_t i = 1;
    while (i + 1 < pitch->count && at[i] < share)
        i++;
    double part = fmin(fmax((share - at[i - 1]) / (at[i] - at[i - 1]), 0.0), 1.0);
    return value[i - 1] + part * (value[i] - value[i - 1]);
}

double ww_report_null_off(const struct ww_pitch *pitch, double share)
{
    double most = fmax(stretched(pitch, -share), stretched(pitch, share));
    for (size_t i = 0; i < pitch->count; i++)
        if (fabs(pitch->stretch[i]) <= share)
            most = fmax(most, pitch->at_stretch[i]);
    return most;
}

static void write_nulls(const struct ww_report *report, struct ww_page *page)
{
    static const struct ww_page_column column[] = {
        {"Least in", false}, {"Pitch", true}, {"Width", true}, {"Worst", true}, {"Z diff", true}};
    const struct ww_pitch *pitch = report->pitch;
    const double least_shown = 1e-15;
    struct ww_words a, b, c;
    if (pitch->nulls == 0)
        return;
    ww_page_table_begin(page,
                        "Pitches and widths that null the skew, or nearly, with the cloth square and its count as "
                        "it should be. Marked: the null that the text and the figure below speak of.",
                        column, WW_COUNT(column), pitch->nulls < 16);
    for (size_t i = 0; i < pitch->nulls; i++) {
        const struct ww_null *null = &pitch->null[i];
        if (null == ww_report_null(report))
            ww_page_mark_row(page);
        ww_page_cell(page, "%s", null->in_width ? "width" : "pitch");
        ww_page_cell(page, "%s", ww_words_number(&a, null->pitch, WW_LENGTH, 5));
        ww_page_cell(page, "%s", ww_words_number(&b, null->width, WW_LENGTH, 4));
        if (null->worst < least_shown)
            ww_page_cell(page, "under %s", ww_words_time(&c, least_shown));
        else
            ww_page_cell(page, "%s", ww_words_time(&c, null->worst));
        ww_page_cell(page, "%.1f \xce\xa9", null->impedance);
    }
    ww_page_table_end(page);
}

/* What is left at the pitch of the null, and within the tolerances. */
static void write_null(const struct ww_report *report, struct ww_page *page)
{
    const struct ww_pitch *pitch = report->pitch;
    const struct ww_null *null = ww_report_null(report);
    struct ww_words at, worst, off, turned;
    char tolerances[WW_TOLERANCES_SIZE], within[2 * WW_TOLERANCES_SIZE] = "";
    if (pitch->count == 0)
        return;
    if (ww_words_tolerances(report->study, tolerances, sizeof tolerances)[0])
        snprintf(within, sizeof within, "%s with %s, and ", ww_words_time(&turned, pitch->null_with_turn),
                 tolerances);
    ww_words_time(&off, ww_report_null_off(pitch, 0.01));
    ww_words_number(&at, pitch->null_pitch, WW_LENGTH, 5);
    if (null)
        ww_page_text(page, WW_PAGE_PLAIN,
                     "With the legs %s apart %s is left, %s%s where the cloth's yarn count is 1 %% off.", at.of,
                     ww_words_time(&worst, null->worst), within, off.of);
    else
        ww_page_text(page, WW_PAGE_PLAIN,
                     "No pitch within this range nulls it. The least is at %s: %s%s where the cloth's yarn count is "
                     "1 %% off.",
                     at.of, within, off.of);
}

enum ww_status ww_report_write_pitch(const struct ww_report *report, struct ww_page *page, struct ww_error *error)
{
    const struct ww_pitch *pitch = report->pitch;
    ww_page_text(
        page, WW_PAGE_PLAIN,
        "Legs a whole number of warp pitches apart lie on the same glass, and a trace as wide as a warp pitch "
        "averages it. The impedance changes along with the pitch.");
    write_null(report, page);
    enum ww_status status =
        ww_report_figure(report, page, "pitch", "Map of the worst skew over pair pitch and trace width.", error,
                         "Worst skew over pair pitch and trace width, cloth square to the trace. "
                         "Dark valleys are choices for which both "
                         "legs lie on the same glass.");
    write_nulls(report, page);
    if (!status && pitch->count > 0)
        status = ww_report_figure(
            report, page, "null", "Worst skew at that pitch against angle, and against the cloth's count being off.",
            error,
            "How fast the null is lost: to the left as the trace turns against the cloth, to the right as the "
            "cloth's yarn count is off. A null holds only while the cloth lies square and has its nominal count.");
    return status;
}

/* --- how far apart? ----------------------------------------------------------------------------------------------------- */

bool ww_report_has_spacing(const struct ww_report *report)
{
    return report->spacing && (report->spacing->count > 0 || report->spacing->pitches > 0);
}

static void write_spacing_nulls(const struct ww_spacing *spacing, struct ww_page *page)
{
    static const struct ww_page_column column[] = {
        {"Spacing", false}, {"Yarn pitches", true}, {"Worst", true}, {"With tolerances", true}};
    struct ww_words a;
    if (spacing->nulls == 0)
        return;
    ww_page_table_begin(page, "Spacings, centre to centre, at which two traces on one cloth differ least.", column,
                        WW_COUNT(column), true);
    for (size_t i = 0; i < spacing->nulls; i++) {
        const struct ww_spacing_null *null = &spacing->null[i];
        ww_page_cell(page, "%s", ww_words_number(&a, null->spacing, WW_LENGTH, 4));
        if (null->yarns > 0.0)
            ww_page_cell(page, "%.0f", null->yarns);
        else
            ww_page_cell(page, "%s", "");
        ww_page_cell(page, "%s", ww_words_time(&a, null->worst));
        ww_page_cell(page, "%s", ww_words_time(&a, null->with_turn));
    }
    ww_page_table_end(page);
}

enum ww_status ww_report_write_spacing(const struct ww_report *report, struct ww_page *page, struct ww_error *error)
{
    char sentence[WW_CAPTION_SIZE], text[WW_CAPTION_SIZE];
    const struct ww_spacing *spacing = report->spacing;
    enum ww_status status = WW_OK;
    ww_words_spacing(report->study, report->skew, spacing, sentence, sizeof sentence);
    ww_page_text(page, WW_PAGE_PLAIN, "%s",
                 sentence[0] ? ww_words_typeset(sentence, text, sizeof text)
                             : "No distance on one cloth does much better than what the study has.");
    if (spacing->count > 0)
        status =
            ww_report_figure(report, page, "spacing", "Worst difference of two traces over their spacing.", error,
                             "The worst difference of two traces side by side on one cloth over their spacing; "
                             "dashed with the tolerances of the cloth. A multiple of the yarn pitch lays both on "
                             "the same glass.");
    if (spacing->count > 0)
        write_spacing_nulls(spacing, page);
    if (!status && spacing->pitches > 0)
        status = ww_report_figure(report, page, "lanes", "Yield over the pitch of the lanes.", error,
                                  "The chance that all %zu lanes of a board meet the budget, side by side on one "
                                  "cloth, over their pitch.",
                                  spacing->lanes);
    return status;
}
