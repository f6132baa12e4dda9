/* report/budget.c - what makes two circuits differ, in words and as a section.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "report/sections.h"

#include <math.h>
#include <string.h>

/* What the budget is held against: "99 of 100 pairs skew less than 2.1 ps". */
static void add_judged(const struct ww_budget *budget, char *out, size_t size)
{
    static const char *const circuits[] = {"two circuits of one board", "two circuits of two boards",
                                           "two circuits over life"};
    struct ww_words value;
    ww_words_time(&value, budget->judged);
    if (budget->pair)
        ww_words_add(out, size, "99 of 100 pairs skew less than %s", value.of);
    else
        ww_words_add(out, size, "%s differ by less than %s in 99 of 100", circuits[budget->between], value.of);
}

/* One change: a cause halved, or a lever of the weave. */
struct change {
    char name[2 * WW_CELL_SIZE]; /* "halving etched width" */
    double left;
    const char *caution;
};

/* The change that leaves least. The weave is not halved, for nobody can do that: its levers are angle, glass and pitch. */
static struct change best_change(const struct ww_budget *budget)
{
    struct change best = {.left = HUGE_VAL, .caution = ""};
    const struct ww_lever *lever = ww_budget_best_lever(budget);
    if (lever) {
        best.left = lever->judged;
        best.caution = lever->caution;
        snprintf(best.name, sizeof best.name, "%s, %s", lever->name, lever->to);
    }
    for (int i = 0; i < WW_CAUSES; i++) {
        const struct ww_cause *cause = &budget->cause[i];
        bool weave = cause->kind == WW_CAUSE_WEAVE;
        bool safer = best.caution[0] && best.left <= budget->budget && cause->halved <= budget->budget;
        if (!cause->given || weave || (cause->halved >= fmin(best.left, budget->judged) && !safer))
            continue;
        best.left = cause->halved;
        best.caution = "";
        snprintf(best.name, sizeof best.name, "halving %s", cause->name);
    }
    return best;
}

static void add_remedy(const struct ww_budget *budget, char *out, size_t size)
{
    struct change best = best_change(budget);
    bool woven = budget->cause[WW_CAUSE_WEAVE].given;
    const char *tried = budget->levers > 0 ? "No single change, a cause halved or another angle, glass or pitch,"
                        : woven            ? "Besides the weave, no single cause halved"
                                           : "No single cause halved";
    struct ww_words left;
    ww_words_time(&left, best.left);
    if (best.left <= budget->budget)
        ww_words_add(out, size, "One change alone brings that within the budget: %s, to %s", best.name, left.of);
    else if (best.left < HUGE_VAL)
        ww_words_add(out, size, "%s brings that within the budget; most is gained by %s, to %s", tried, best.name,
                     left.of);
    else
        ww_words_add(out, size, "%s brings that within the budget", tried);
    if (best.caution[0])
        ww_words_add(out, size, ", %s", best.caution);
    if (budget->levers == 0 && woven)
        ww_words_add(
            out, size,
            ". Another angle, glass or pitch is not counted here; 'weftwise budget --halve' solves what each "
            "would leave");
}

char *ww_words_budget(const struct ww_budget *budget, char *out, size_t size)
{
    const struct ww_cause *leading = ww_budget_leading(budget);
    struct ww_words value;
    out[0] = '\0';
    if (!leading) {
        ww_words_add(out, size, "Nothing is given that makes two circuits differ.");
        return out;
    }
    add_judged(budget, out, size);
    if (out[0] == 't')
        out[0] = 'T';
    ww_words_time(&value, budget->budget);
    if (budget->budget > 0.0)
        ww_words_add(out, size, ", %s the budget of %s. ", budget->judged <= budget->budget ? "within" : "over",
                     value.of);
    else
        ww_words_add(out, size, ". ");
    ww_words_time(&value, leading->halved);
    ww_words_add(out, size, "The leading cause is %s; halved alone it leaves %s. ", leading->name, value.of);
    if (budget->budget > 0.0 && budget->judged > budget->budget) {
        add_remedy(budget, out, size);
        ww_words_add(out, size, ".");
    } else if (leading->kind == WW_CAUSE_WEAVE && budget->levers == 0)
        ww_words_add(out, size, "'weftwise budget --halve' solves what another angle, glass or pitch would leave.");
    size_t length = strlen(out);
    if (length > 0 && out[length - 1] == ' ')
        out[length - 1] = '\0';
    return out;
}

char *ww_words_budget_arms(const struct ww_budget *budget, char *out, size_t size)
{
    out[0] = '\0';
    if (budget->arms > 0)
        ww_words_add(
            out, size,
            "A circuit is any of the %zu arms, which lie on one cloth; two of one board are any two of them.",
            budget->arms);
    if (budget->arms > 0 && budget->pair)
        ww_words_add(out, size, " The skew of the pair is that of the first arm.");
    return out;
}

/* --- the section --------------------------------------------------------------------------------------------------------- */

bool ww_report_has_budget(const struct ww_report *report)
{
    return report->budget && ww_budget_leading(report->budget);
}

/* Cells of what two circuits differ by: delay to loss. */
static void write_observables(const struct ww_budget *budget, const double *differ, struct ww_page *page)
{
    struct ww_words a;
    double delay = differ[WW_OBSERVED_DELAY], filter = fabs(ww_budget_detuning(budget, delay));
    bool tuned = budget->frequency > 0.0;
    ww_page_cell(page, "%s", ww_words_time(&a, delay));
    if (tuned)
        ww_page_cell(page, "%.3g\xc2\xb0", ww_budget_phase(budget->frequency, delay) * 180.0 / WW_PI);
    ww_page_cell(page, "%.2g %%", 100.0 * filter);
    ww_page_cell(page, "%.4f", differ[WW_OBSERVED_DK]);
    ww_page_cell(page, "%.2f \xce\xa9", differ[WW_OBSERVED_IMPEDANCE]);
    if (tuned)
        ww_page_cell(page, "%.3f", differ[WW_OBSERVED_LOSS] * 25.4e-3);
}

static void write_cause(const struct ww_budget *budget, const struct ww_cause *cause, struct ww_page *page)
{
    struct ww_words a;
    ww_page_cell(page, "%s", cause->name);
    ww_page_cell(page, "%s", ww_scope_name(cause->tolerance.scope));
    write_observables(budget, cause->differ, page);
    if (cause->tolerance.scope <= budget->between)
        ww_page_cell(page, "%s", ww_words_share(&a, cause->share));
    else
        ww_page_cell(page, "%s", "shared");
    ww_page_cell(page, "%s", ww_words_time(&a, cause->halved));
}

static void write_whole(const struct ww_budget *budget, enum ww_scope scope, struct ww_page *page)
{
    static const char *const name[] = {"two of one board", "two of two boards", "two over life"};
    struct ww_words a;
    bool judged = !budget->pair && scope == budget->between;
    if (judged)
        ww_page_mark_row(page);
    ww_page_cell(page, "%s", name[scope]);
    ww_page_cell(page, "%s", "");
    write_observables(budget, budget->level[scope].differ, page);
    ww_page_cell(page, "%s", "");
    ww_page_cell(page, "%s", judged ? ww_words_time(&a, budget->judged) : "");
}

static void write_causes(const struct ww_budget *budget, struct ww_page *page)
{
    static const struct ww_page_column all[] = {
        {"Cause", false}, {"Scope", false},    {"Delay", true}, {"Phase", true},    {"Filter", true},
        {"Dk", true},     {"Impedance", true}, {"dB/in", true}, {"Variance", true}, {"Halved", true}};
    struct ww_page_column column[WW_COUNT(all)];
    size_t columns = 0;
    for (size_t i = 0; i < WW_COUNT(all); i++)
        if (budget->frequency > 0.0 || (strcmp(all[i].name, "Phase") != 0 && strcmp(all[i].name, "dB/in") != 0))
            column[columns++] = all[i];
    ww_page_table_begin(
        page,
        "By how much two circuits that do not share a cause differ by it alone, 99 of 100; its share of "
        "the variance of the delay; and what is judged, with this cause alone halved. Filter: by how much a filter "
        "or patch on this laminate moves in frequency. Loss is that of dielectric and copper, by the weave of the "
        "dielectric alone. The last rows are the whole.",
        column, columns, true);
    for (int i = 0; i < WW_CAUSES; i++)
        if (budget->cause[i].given)
            write_cause(budget, &budget->cause[i], page);
    for (int scope = WW_BOARD; scope <= WW_LIFE; scope++)
        write_whole(budget, (enum ww_scope)scope, page);
    ww_page_table_end(page);
}

static void write_left_out(const struct ww_budget *budget, struct ww_page *page)
{
    char text[WW_CAPTION_SIZE] = "";
    for (int i = 0; i < WW_CAUSES; i++)
        if (!budget->cause[i].given)
            ww_words_add(text, sizeof text, "%s%s (%s)", text[0] ? ", " : "", budget->cause[i].name,
                         budget->cause[i].why);
    ww_page_text(page, WW_PAGE_PLAIN, "Left out: %s.", text);
}

enum ww_status ww_report_write_budget(const struct ww_report *report, struct ww_page *page, struct ww_error *error)
{
    const struct ww_budget *budget = report->budget;
    char sentence[WW_CAPTION_SIZE];
    ww_page_text(page, WW_PAGE_PLAIN, "%s", ww_words_budget(budget, sentence, sizeof sentence));
    if (budget->arms > 0)
        ww_page_text(page, WW_PAGE_PLAIN, "%s", ww_words_budget_arms(budget, sentence, sizeof sentence));
    enum ww_status status = ww_report_figure(
        report, page, "budget", "Causes of difference as bars, and the whole against the budget.", error,
        "Each cause alone, and all of them: two circuits of one board, of two boards, and over life. What two "
        "circuits share cancels.");
    if (!status && budget->cause[WW_CAUSE_TEMPERATURE].given)
        status = ww_report_figure(report, page, "budget-temperature", "Phase over temperature, with a band.", error,
                                  "A nominal circuit over temperature, and by how much two circuits differ at any "
                                  "one, 99 of 100.");
    write_causes(budget, page);
    write_left_out(budget, page);
    if (!status && budget->level[budget->between].distribution.count > 0)
        status = ww_report_figure(report, page, "budget-distribution", "Chance of the difference of two circuits.",
                                  error, "How likely the difference of two circuits is, by all causes together.");
    return status;
}
