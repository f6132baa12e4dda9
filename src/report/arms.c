/* arms.c - several traces on one cloth, in words and as a table.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "report/sections.h"

#include <math.h>
#include <string.h>

/* --- in words ------------------------------------------------------------------------------------------------------------- */

static void add_worst(const struct ww_study *study, const struct ww_arms *arms, char *out, size_t size)
{
    const char *kind = arms->lanes ? "lane " : "", *one = arms->name[arms->between[0]],
               *other = arms->name[arms->between[1]];
    double worst = arms->worst_with_turn * 1e12;
    ww_words_add(out, size, "The %zu %s lie on one cloth: ", arms->count, arms->lanes ? "lanes" : "arms");
    if (arms->pair)
        ww_words_add(out, size, "%s%s has the largest skew, %.3g ps", kind, one, worst);
    else
        ww_words_add(out, size, "%s%s and %s%s differ most, by %.3g ps", kind, one, kind, other, worst);
    ww_words_add(out, size, "%s; 99 of 100 boards stay below %.3g ps, half below %.3g ps.",
                 ww_words_varies(study)[0] ? " with the cloth's tolerances" : "", arms->p99 * 1e12,
                 arms->median * 1e12);
}

char *ww_words_arms(const struct ww_study *study, const struct ww_arms *arms, char *out, size_t size)
{
    out[0] = '\0';
    if (!arms || arms->count == 0)
        return out;
    add_worst(study, arms, out, size);
    if (study->budget > 0.0)
        ww_words_add(out, size, " All meet the budget of %.3g ps on %.3g %% of boards.", study->budget * 1e12,
                     100.0 * arms->yield);
    return out;
}

/* --- the table ------------------------------------------------------------------------------------------------------------ */

/* Of single traces the arm that lies farthest from this one. */
static size_t farthest(const struct ww_arms *arms, size_t arm)
{
    size_t found = arm;
    for (size_t i = 0; i < arms->count; i++)
        if (arms->apart[arm * arms->count + i] > arms->apart[arm * arms->count + found])
            found = i;
    return found;
}

static void write_members(const struct ww_arms *arms, struct ww_page *page)
{
    const struct ww_page_column column[] = {{arms->lanes ? "Lane" : "Arm", false},
                                            {"Mean delay", true},
                                            {arms->pair ? "Skew, standard deviation" : "Standard deviation", true},
                                            {arms->pair ? "Its worst skew" : "Farthest from another", true},
                                            {arms->pair ? "" : "Which is", false},
                                            {"Correlation with each, in this order", false}};
    struct ww_words mean, deviation, apart;
    ww_page_table_begin(page,
                        arms->pair
                            ? "On one cloth: each ply lies at one place for all of them. Over place, turn and "
                              "yarn counts; worst skews with the tolerances of the cloth."
                            : "On one cloth: each ply lies at one place for all of them. Over place, turn and "
                              "yarn counts, each delay less its own mean, for means are the layout's to match; "
                              "worst differences with the tolerances of the cloth.",
                        column, WW_COUNT(column), true);
    for (size_t i = 0; i < arms->count; i++) {
        char correlation[WW_CAPTION_SIZE] = "";
        size_t other = farthest(arms, i);
        for (size_t j = 0; j < arms->count; j++)
            ww_words_add(correlation, sizeof correlation, "%s%s%.2f", j ? "  " : "",
                         arms->correlation[i * arms->count + j] < -0.005 ? "\xe2\x88\x92" : "",
                         fabs(arms->correlation[i * arms->count + j]));
        if (i == arms->between[0] || i == arms->between[1])
            ww_page_mark_row(page);
        ww_page_cell(page, "%s", arms->name[i]);
        ww_page_cell(page, "%s", ww_words_time(&mean, arms->mean_delay[i]));
        ww_page_cell(page, "%s", ww_words_time(&deviation, arms->deviation[i]));
        ww_page_cell(page, "%s", ww_words_time(&apart, arms->apart[i * arms->count + other]));
        ww_page_cell(page, "%s", arms->pair ? "" : arms->name[other]);
        ww_page_cell(page, "%s", correlation);
    }
    ww_page_table_end(page);
}

enum ww_status ww_report_write_arms(const struct ww_report *report, struct ww_page *page, struct ww_error *error)
{
    const struct ww_arms *arms = report->arms;
    char words[WW_ANSWER_SIZE], text[WW_ANSWER_SIZE];
    struct ww_words rms;
    if (!arms || arms->count == 0)
        return WW_OK;
    ww_words_arms(report->study, arms, words, sizeof words);
    ww_page_text(page, WW_PAGE_PLAIN, "%s Over all of them the root mean square of %s is %s.",
                 ww_words_typeset(words, text, sizeof text),
                 arms->pair ? "the skews" : "the delays about their common mean", ww_words_time(&rms, arms->rms));
    write_members(arms, page);
    if (!ww_arms_are_judged(arms) || !(arms->distribution.step > 0.0))
        return WW_OK;
    return ww_report_figure(report, page, "arms", "Distribution of how far the arms lie apart on one cloth.", error,
                            "How often %s comes to how much. Bars over the budget, where there is one, are hatched.",
                            arms->pair ? "the largest skew of the arms" : "the spread of the arms' delays");
}
