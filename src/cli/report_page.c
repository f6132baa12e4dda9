/* report_page.c - the page of the report: a section for each question, figures with captions, tables, sources.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The figures are those the commands write; the page embeds their files, so it shows what lies beside it.
 */
#include "report.h"

#include <math.h>
#include <string.h>

enum { NAME_SIZE = 80, TEXT_SIZE = 1024, PLIES_SHOWN = 3 };

#define COUNT(array) (sizeof(array) / sizeof *(array))

/* --- helpers ---------------------------------------------------------------------------------------------------------------- */

/* The path of a figure by its name without ending. */
const char *report_figure(const struct report *report, const char *name, char *path)
{
    const struct job *job = &report->job;
    snprintf(path, PATH_SIZE, "%.*s/%.*s.%s", PATH_SIZE - 2 * NAME_SIZE, job->folder, NAME_SIZE, name,
             ww_figure_format_name(job->figure.format));
    return path;
}

const struct ww_style *report_style(const struct report *report, size_t ply)
{
    const struct ww_stack *stack = &report->job.study.stack;
    return &stack->layer[stack->ply[ply].layer].style;
}

bool report_is_own(const struct report *report, const char *style)
{
    for (size_t i = 0; i < report->job.study.stack.plies; i++)
        if (strcmp(report_style(report, i)->name, style) == 0)
            return true;
    return false;
}

/* Is this ply's cloth one that an earlier ply has, in the same thickness? */
static bool is_repeated(const struct report *report, size_t ply)
{
    const struct ww_stack *stack = &report->job.study.stack;
    for (size_t i = 0; i < ply; i++)
        if (strcmp(report_style(report, i)->name, report_style(report, ply)->name) == 0 &&
            stack->ply[i].thickness == stack->ply[ply].thickness && stack->ply[i].turn == stack->ply[ply].turn)
            return true;
    return false;
}

/* How many plies contribute more to the worst than this one (or as much, and lie above it)? */
static size_t rank_of(const struct ww_skew *skew, size_t ply)
{
    size_t rank = 0;
    double own = skew->high[ply].value - skew->low[ply].value;
    for (size_t i = 0; i < skew->plies; i++) {
        double other = skew->high[i].value - skew->low[i].value;
        rank += i != ply && (other > own || (other == own && i < ply));
    }
    return rank;
}

/* --- how uneven is the dielectric? -------------------------------------------------------------------------------------------- */

static void write_cloth(const struct report *report, struct ww_page *page)
{
    static const struct ww_page_column column[] = {
        {"Ply", false},          {"Glass style", false}, {"Glass, by volume", true}, {"Resin, by weight", true},
        {"Warp pitch", true},    {"Fill pitch", true},   {"Dk, least", true},        {"Dk, most", true},
        {"Dk of the ply", true},
    };
    const struct ww_stack *stack = &report->job.study.stack;
    struct words a, b;
    ww_page_table_begin(page,
                        "The cloth of each ply. Dk, least and most: of a column of the ply, glass and resin in "
                        "series; Dk of the ply: what a data sheet would state.",
                        column, COUNT(column), stack->plies < 8);
    for (size_t i = 0; i < stack->plies; i++) {
        const struct ww_ply *ply = &stack->ply[i];
        ww_page_cell(page, "%zu", i + 1);
        ww_page_cell(page, "%s/%s", report_style(report, i)->name, report_style(report, i)->glass.name);
        ww_page_cell(page, "%.1f %%", 100.0 * ply->glass_fraction);
        if (ply->resin_content >= 0.0)
            ww_page_cell(page, "%.1f %%", 100.0 * ply->resin_content);
        else
            ww_page_cell(page, "not known");
        ww_page_cell(page, "%s", words_number(&a, 0.5 * ply->cell.lx, WW_LENGTH, 4));
        ww_page_cell(page, "%s", words_number(&b, 0.5 * ply->cell.ly, WW_LENGTH, 4));
        ww_page_cell(page, "%.2f", ply->dk_low);
        ww_page_cell(page, "%.2f", ply->dk_high);
        ww_page_cell(page, "%.2f", ply->dk_bulk);
    }
    ww_page_table_end(page);
}

static enum ww_status write_uneven(const struct report *report, struct ww_page *page, struct ww_error *error)
{
    const struct ww_stack *stack = &report->job.study.stack;
    const char *what = report->kernel.skew.pair ? "pair" : "trace";
    char path[PATH_SIZE], name[NAME_SIZE], subject[NAME_SIZE], alt[TEXT_SIZE];
    enum ww_status status = WW_OK;
    size_t shown = 0;
    ww_page_text(
        page, WW_PAGE_PLAIN,
        "Glass has about twice the Dk of the resin around it, so a trace over a bundle of glass is slower "
        "than one over a gap. How uneven the cloth is, on the scale of the trace, decides all of the above.");
    for (size_t i = 0; i < stack->plies && !status; i++) {
        if (is_repeated(report, i) || shown++ == PLIES_SHOWN)
            continue;
        const struct ww_ply *ply = &stack->ply[i];
        job_subject(&report->job, i, subject, sizeof subject);
        snprintf(name, sizeof name, "dk-ply%zu", i + 1);
        snprintf(alt, sizeof alt,
                 "Map of the local Dk of %s, from %.2f in the gaps to %.2f where yarns cross, with the %s drawn to "
                 "scale over it.",
                 subject, ply->dk_low, ply->dk_high, what);
        status = ww_page_figure(page, report_figure(report, name, path), alt, error,
                                "Local Dk of %s, seen from above, with the %s to scale where it starts in the worst "
                                "case. Dark is resin, light is glass.",
                                subject, what);
    }
    write_cloth(report, page);
    return status;
}

/* --- how bad, and where? ----------------------------------------------------------------------------------------------------- */

static void write_row(struct ww_page *page, const char *name, const char *value, const char *meaning)
{
    ww_page_cell(page, "%s", name);
    ww_page_cell(page, "%s", value);
    ww_page_cell(page, "%s", meaning);
}

static void write_numbers(const struct report *report, struct ww_page *page)
{
    static const struct ww_page_column column[] = {{"Figure", false}, {"Value", true}, {"What it is", false}};
    const struct ww_skew *skew = &report->kernel.skew;
    const struct ww_line_summary *line = &report->kernel.summary;
    struct words a, b;
    char text[TEXT_SIZE];
    ww_page_table_begin(page, skew->pair ? "The skew of the pair." : "The delay spread of two such traces.", column,
                        COUNT(column), true);
    write_row(page, "worst", words_time(&a, skew->pair ? skew->worst : skew->spread),
              skew->pair ? "over all positions of every ply, at the study's angle"
                         : "slowest less fastest placement, at the study's angle");
    char tolerances[TOLERANCES_SIZE], varies[NAME_SIZE];
    snprintf(varies, sizeof varies, "worst with %s", report_what_varies(report));
    snprintf(text, sizeof text, "the same with %s; worst with the trace at %s to the warp",
             report_tolerances(report, tolerances, sizeof tolerances),
             words_number(&a, skew->worst_angle, WW_ANGLE, 3));
    if (tolerances[0])
        write_row(page, varies, words_time(&a, skew->worst_with_turn), text);
    snprintf(text, sizeof text, "%s to %s", words_time(&a, fmin(skew->worst_lower, skew->worst_upper)),
             words_time(&b, fmax(skew->worst_lower, skew->worst_upper)));
    write_row(page, "bounds of the fast method", text, "the worst from below and above, before its calibration");
    snprintf(text, sizeof text, "of %s; half, 95 and 99 of 100 placements stay below",
             skew->pair ? "the skew, either sign" : "one trace's delay less its mean");
    char three[TEXT_SIZE];
    snprintf(three, sizeof three, "%s, ", words_time(&a, skew->median));
    snprintf(three + strlen(three), sizeof three - strlen(three), "%s, %s", words_time(&a, skew->p95),
             words_time(&b, skew->p99));
    write_row(page, "median, p95, p99", three, text);
    write_row(page, "standard deviation", words_time(&a, skew->deviation), "over the same placements");
    if (skew->mismatch != 0.0)
        write_row(page, "mismatch at bends", words_time(&a, skew->mismatch),
                  "leg 1 less leg 2 by their lengths alone; in no other number here");
    snprintf(text, sizeof text, "%s to %s", words_time(&a, skew->fastest), words_time(&b, skew->slowest));
    write_row(page, "delay", text, skew->pair ? "fastest to slowest leg" : "fastest to slowest placement");
    if (skew->pair)
        snprintf(text, sizeof text, "%.1f \xce\xa9", line->z_diff);
    else
        snprintf(text, sizeof text, "%.1f \xce\xa9", line->z0);
    write_row(page, skew->pair ? "differential impedance" : "impedance", text, "of the mean over the cloth");
    snprintf(text, sizeof text, "%.3f, %.4f", line->dk_eff, line->df_eff);
    write_row(page, "Dk, loss tangent", text,
              "as the line sees them, by the mean delay over all positions; copper aside");
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

static void write_terms(const struct report *report, struct ww_page *page)
{
    static const struct ww_page_column column[] = {
        {"In the signal's terms", false}, {"Worst", true}, {"99 of 100 stay below", true}};
    static const struct ww_page_column single[] = {{"In the signal's terms", false}, {"Worst", true}, {"", true}};
    const struct ww_skew *skew = &report->kernel.skew;
    struct ww_skew_request request = ww_study_request(&report->job.study);
    double worst = skew->pair ? skew->worst : skew->spread;
    struct ww_skew_terms w = ww_skew_terms(worst, request.frequency, request.rate);
    struct ww_skew_terms p = ww_skew_terms(skew->p99, request.frequency, request.rate);
    struct words a, b;
    char left[TEXT_SIZE], right[TEXT_SIZE];
    if (!(request.frequency > 0.0) && !(request.rate > 0.0))
        return;
    ww_page_table_begin(page, "The same in the terms of the signal, at the study's angle.",
                        skew->pair ? column : single, skew->pair ? COUNT(column) : 2, true);
    snprintf(left, sizeof left, "%.*f\xc2\xb0", w.degrees < 10.0 ? 2 : 1, w.degrees);
    snprintf(right, sizeof right, "%.*f\xc2\xb0", p.degrees < 10.0 ? 2 : 1, p.degrees);
    char name[TEXT_SIZE];
    snprintf(name, sizeof name, "phase at %s", words_number(&a, request.frequency, WW_FREQUENCY, 4));
    if (!skew->pair) {
        ww_page_cell(page, "%s", name);
        ww_page_cell(page, "%s", request.frequency > 0.0 ? left : "no frequency given");
        ww_page_table_end(page);
        return;
    }
    write_term(page, name, request.frequency > 0.0, left, right);
    write_term(page, "share of the unit interval", request.rate > 0.0, words_share(&a, w.unit_interval_share),
               words_share(&b, p.unit_interval_share));
    write_term(page, "first null of the differential transmission", w.first_null > 0.0 && p.first_null > 0.0,
               words_number(&a, w.first_null, WW_FREQUENCY, 3), words_number(&b, p.first_null, WW_FREQUENCY, 3));
    write_term(page, "converted to common mode at the Nyquist frequency", request.rate > 0.0,
               words_share(&a, w.conversion), words_share(&b, p.conversion));
    ww_page_table_end(page);
}

static enum ww_status write_maps(const struct report *report, struct ww_page *page, struct ww_error *error)
{
    const struct ww_skew *skew = &report->kernel.skew;
    const char *what = skew->pair ? "Skew" : "Delay less its mean";
    char path[PATH_SIZE], name[NAME_SIZE], subject[NAME_SIZE], alt[TEXT_SIZE];
    struct words high, low;
    enum ww_status status = WW_OK;
    for (size_t i = 0; i < skew->plies && !status; i++) {
        if (rank_of(skew, i) >= PLIES_SHOWN)
            continue;
        job_subject(&report->job, i, subject, sizeof subject);
        snprintf(name, sizeof name, "skew-ply%zu", i + 1);
        snprintf(alt, sizeof alt, "Map of %s over where the trace starts on %s, from %s to %s.",
                 skew->pair ? "skew" : "delay deviation", subject, words_time(&low, skew->low[i].value),
                 words_time(&high, skew->high[i].value));
        status = ww_page_figure(page, report_figure(report, name, path), alt, error,
                                "%s that %s alone contributes, over where the %s starts on its cell; the dashed "
                                "rectangle is one cell, and triangles mark the worst of either sign.",
                                what, subject, skew->pair ? "pair" : "trace");
    }
    if (skew->plies > PLIES_SHOWN)
        ww_page_text(page, WW_PAGE_PLAIN,
                     "The maps of the other plies, which contribute less, lie beside this page.");
    return status;
}

static enum ww_status write_bad(const struct report *report, struct ww_page *page, struct ww_error *error)
{
    char path[PATH_SIZE];
    const struct ww_skew *skew = &report->kernel.skew;
    enum ww_status status = WW_OK;
    write_numbers(report, page);
    write_terms(report, page);
    status = write_maps(report, page, error);
    if (!status)
        status = ww_page_figure(
            page, report_figure(report, "profile", path),
            skew->pair ? "Dk that each leg sees along the worst pair, and below it the skew running up with distance."
                       : "Dk that the trace sees along its slowest placement, and below it the delay running up.",
            error,
            skew->pair ? "Why it is bad: the Dk under each leg along the worst placement, and below it how the skew "
                         "builds up. A steady climb means that one leg stays over glass and the other over resin."
                       : "Why it is slow: the Dk under the trace along its slowest placement, and below it how its "
                         "delay runs away from the mean.");
    return status;
}

/* --- how likely? --------------------------------------------------------------------------------------------------------------- */

/* tolerant: NULL where the study lets nothing vary. */
static void write_chance(struct ww_page *page, const char *name, const char *value, const char *tolerant)
{
    ww_page_cell(page, "%s", name);
    ww_page_cell(page, "%s", value);
    if (tolerant)
        ww_page_cell(page, "%s", tolerant);
}

static void write_chances(const struct report *report, struct ww_page *page)
{
    char varies[NAME_SIZE], budget[NAME_SIZE];
    const char *what = report_what_varies(report);
    const struct ww_page_column column[] = {
        {"Chance", false}, {"Cloth lies as the study says", true}, {varies, true}};
    const struct ww_skew *skew = &report->kernel.skew;
    const struct ww_study *study = &report->job.study;
    struct words a, b;
    bool vary = what[0] != '\0';
    snprintf(varies, sizeof varies, "Its %s %s too", what,
             strchr(what, ' ') && study->turn > 0.0 ? "vary" : "varies");
    ww_page_table_begin(page,
                        vary ? "Over a random position of every ply, and over the cloth's tolerances as well."
                             : "Over a random position of every ply.",
                        column, vary ? 3 : 2, true);
    write_chance(page, "median", words_time(&a, skew->median), vary ? words_time(&b, skew->tolerant_median) : NULL);
    write_chance(page, "99 of 100 stay below", words_time(&a, skew->p99),
                 vary ? words_time(&b, skew->tolerant_p99) : NULL);
    snprintf(budget, sizeof budget, "over the budget of %s", words_time(&a, study->budget));
    if (study->budget > 0.0)
        write_chance(page, budget, words_share(&a, skew->over_budget),
                     vary ? words_share(&b, skew->tolerant_over_budget) : NULL);
    ww_page_table_end(page);
    if (study->budget > 0.0 && study->lanes > 1)
        ww_page_text(page, WW_PAGE_PLAIN,
                     "All %zu lanes of a board meet the budget with a chance of %s. The worst of them is %s on "
                     "average.",
                     study->lanes, words_share(&a, skew->yield), words_time(&b, skew->expected_worst));
}

static enum ww_status write_likely(const struct report *report, struct ww_page *page, struct ww_error *error)
{
    char path[PATH_SIZE], alt[TEXT_SIZE];
    const struct ww_skew *skew = &report->kernel.skew;
    struct words median, p99;
    snprintf(alt, sizeof alt, "Distribution of %s over all placements of the cloth: median %s, 99 of 100 below %s.",
             skew->pair ? "skew" : "one trace's delay deviation", words_time(&median, skew->median),
             words_time(&p99, skew->p99));
    ww_page_text(page, WW_PAGE_PLAIN,
                 "Every position of every ply under the trace is taken as equally likely, one ply not knowing of the "
                 "other. No fabricator aligns cloth to artwork (common practice, no source).");
    enum ww_status status =
        ww_page_figure(page, report_figure(report, "distribution", path), alt, error,
                       "How often which %s occurs. Bars over the budget, where there is one, are hatched.",
                       skew->pair ? "skew" : "deviation from the mean delay");
    write_chances(report, page);
    return status;
}

/* --- can it be trusted? ---------------------------------------------------------------------------------------------------------- */

static void write_resolutions(const struct report *report, struct ww_page *page)
{
    const struct ww_verify *v = &report->verify;
    const struct ww_page_column column[] = {{"Resolution", false},
                                            {"Grid step", true},
                                            {v->pair ? "Worst skew" : "Spread", true},
                                            {"Dk, plies as layers", true},
                                            {v->pair ? "Z odd" : "Z0", true}};
    struct words step, worst;
    ww_page_table_begin(page,
                        "The fast method at other resolutions. Its Dk and impedance here are those of even layers, "
                        "each of its ply's mean Dk, before the cloth is laid over them.",
                        column, COUNT(column), true);
    for (size_t i = 0; i < v->resolutions; i++) {
        const struct ww_verify_resolution *r = &v->resolution[i];
        if (r->factor == 1.0)
            ww_page_mark_row(page);
        ww_page_cell(page, "%s", r->factor < 1.0 ? "half" : r->factor > 1.0 ? "double" : "this report's");
        ww_page_cell(page, "%s", words_number(&step, r->step, WW_LENGTH, 3));
        ww_page_cell(page, "%s", words_time(&worst, r->worst));
        ww_page_cell(page, "%.4f", r->dk_eff);
        ww_page_cell(page, "%.2f \xce\xa9", r->z);
    }
    ww_page_table_end(page);
}

static void write_differences(const struct report *report, struct ww_page *page)
{
    static const char *const name[WW_AGAINSTS] = {"cross-sections solved in full", "a period solved in full, in 3-D",
                                                  "twice the resolution"};
    static const struct ww_page_column column[] = {
        {"The fast method against", false}, {"Differs by", true}, {"Of the worst", true}};
    const struct ww_verify *v = &report->verify;
    struct words by, share;
    ww_page_table_begin(page,
                        "What the worst changes by when it is computed another way; the largest is the error bar.",
                        column, COUNT(column), true);
    for (int a = 0; a < WW_AGAINSTS; a++) {
        bool known = v->error[a] >= 0.0;
        if (known && a == (int)v->largest)
            ww_page_mark_row(page);
        ww_page_cell(page, "%s", name[a]);
        ww_page_cell(page, "%s", known ? words_time(&by, v->error[a]) : "not run here");
        ww_page_cell(page, "%s", known && v->worst > 0.0 ? words_share(&share, v->error[a] / v->worst) : "");
    }
    ww_page_table_end(page);
}

static enum ww_status write_trust(const struct report *report, struct ww_page *page, struct ww_error *error)
{
    char path[PATH_SIZE], name[NAME_SIZE], text[TEXT_SIZE];
    const struct ww_verify *v = &report->verify;
    const struct ww_verify_place *place = &v->place[0];
    const char *where = v->pair ? "worst pair" : "slowest trace";
    enum ww_status status = WW_OK;
    verify_error_bar(&report->job, v, text, sizeof text);
    ww_page_text(page, WW_PAGE_PLAIN, "%s", text);
    write_differences(report, page);
    write_resolutions(report, page);
    ww_page_text(page, WW_PAGE_PLAIN,
                 "'weftwise verify' takes more cross-sections than this report, and a whole period in 3-D.");
    snprintf(text, sizeof text, "Cross-section through the %s: strength of the field, equipotentials, and the yarns.",
             where);
    status = ww_page_figure(page, report_figure(report, "section", path), text, error,
                            "The cross-section where the %s starts, solved in full: colour is the strength of the "
                            "field, lines are equipotentials, outlines are yarns. Only glass in the field counts.",
                            where);
    for (size_t m = 0; m < place->means && !status; m++) {
        size_t ply = place->mean[m].ply;
        if (ply > 0 && rank_of(&report->kernel.skew, ply - 1) >= PLIES_SHOWN)
            continue;
        snprintf(name, sizeof name, "along");
        if (ply)
            snprintf(name, sizeof name, "along-ply%zu", ply);
        status =
            ww_page_figure(page, report_figure(report, name, path),
                           "Delay along one period of the cloth: the fast method's curve and full solutions on "
                           "it.",
                           error,
                           "Delay along the %s, the fast method as lines and full cross-sections as dots%s. Dots "
                           "on the lines mean that the fast method can be believed here.",
                           where, ply ? ", with the cloth of one ply in place" : "");
    }
    return status;
}

/* --- to do it again ------------------------------------------------------------------------------------------------------------------ */

static enum ww_status write_again(const struct report *report, struct ww_page *page, struct ww_error *error)
{
    (void)error;
    ww_page_text(page, WW_PAGE_PLAIN,
                 "The whole study as it was run, with weftwise %s. Saved as study.ini, 'weftwise report study.ini' "
                 "gives this page again.",
                 ww_version());
    ww_page_verbatim(page, report->job.text);
    ww_page_heading(page, 3, "Files beside this page");
    ww_page_text(page, WW_PAGE_PLAIN,
                 "Figures; numbers as JSON and CSV; maps as NPY and as 16-bit grey PNG that carries its scale.");
    ww_page_files(page, report->job.file, report->job.files);
    return WW_OK;
}

/* --- the page ------------------------------------------------------------------------------------------------------------------------- */

static bool always(const struct report *report)
{
    (void)report;
    return true;
}

static bool has_cloth(const struct report *report)
{
    return report->job.study.stack.plies > 0;
}

static const struct section {
    const char *title;
    bool (*present)(const struct report *report);
    enum ww_status (*write)(const struct report *report, struct ww_page *page, struct ww_error *error);
} section[] = {
    {"How bad can it be, and where?", always, write_bad},
    {"How likely is it?", has_cloth, write_likely},
    {"Which routing angle is safe?", report_has_angles, report_write_angles},
    {"Which glass?", report_has_comparison, report_write_comparison},
    {"Which pitch of the pair?", report_has_pitch, report_write_pitch},
    {"How uneven is the dielectric?", has_cloth, write_uneven},
    {"Can these numbers be trusted?", always, write_trust},
    {"Conditions and sources", always, report_write_sources},
    {"To run it again", always, write_again},
};

static void write_answer(const struct report *report, const struct ww_page *page)
{
    const struct answer *answer = &report->answer;
    double budget = report->job.study.budget;
    bool over = budget > 0.0 && report_judged(report) > budget;
    ww_page_text(page, WW_PAGE_PLAIN, "%s", answer->question);
    ww_page_text(page, over ? WW_PAGE_BAD : WW_PAGE_GOOD, "%s", answer->verdict);
    ww_page_answer_begin(page);
    ww_page_answer(page, "How bad?", "%s", answer->how_bad);
    ww_page_answer(page, "How likely?", "%s", answer->how_likely);
    ww_page_answer(page, "What to do?", "%s", answer->what_to_do);
    ww_page_answer_end(page);
}

static void write_contents(const struct report *report, const struct ww_page *page)
{
    const char *title[COUNT(section)];
    size_t count = 0;
    for (size_t i = 0; i < COUNT(section); i++)
        if (section[i].present(report))
            title[count++] = section[i].title;
    ww_page_contents(page, title, count);
}

enum ww_status report_write_page(const struct report *report, FILE *stream, struct ww_error *error)
{
    struct ww_page page;
    enum ww_status status = WW_OK;
    ww_page_begin(&page, stream, report->job.study.title);
    ww_page_text(&page, WW_PAGE_UNDER, "Skew from the glass weave: report for a design review. weftwise %s, %s.",
                 ww_version(), report->job.study.file);
    ww_page_text(&page, WW_PAGE_UNDER, "%s.", report->job.caption);
    write_answer(report, &page);
    ww_page_text(&page, WW_PAGE_CAUTION,
                 "%s Where the fabricator's data or a measurement disagrees with this page, they are right and it is "
                 "wrong: ask which cloth it is, and measure a coupon.",
                 WW_CAUTION);
    write_contents(report, &page);
    for (size_t i = 0; i < COUNT(section) && !status; i++) {
        if (!section[i].present(report))
            continue;
        ww_page_heading(&page, 2, section[i].title);
        status = section[i].write(report, &page, error);
    }
    enum ww_status end = ww_page_end(&page, status ? NULL : error);
    return status ? status : end;
}
