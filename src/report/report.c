/* report.c - the page of the report: the answer in a box, then a section for each question.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The page embeds the figures from their files, so it shows what lies beside it.
 */
#include "report/sections.h"

#include <stdlib.h>

#include "weftwise/result.h"

enum { CONDITIONS_SIZE = 1024, NOTE_SIZE = 128 };

/* --- to run it again ----------------------------------------------------------------------------------------------------- */

static enum ww_status write_again(const struct ww_report *report, struct ww_page *page, struct ww_error *error)
{
    char *text = ww_study_text(report->study);
    if (!text)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the study as text");
    ww_page_text(page, WW_PAGE_PLAIN,
                 "The whole study as it was run, with weftwise %s. Saved as study.ini, 'weftwise report study.ini' "
                 "gives this page again.",
                 ww_version());
    ww_page_verbatim(page, text);
    free(text);
    if (report->files == 0)
        return WW_OK;
    ww_page_heading(page, 3, "Files beside this page");
    ww_page_text(page, WW_PAGE_PLAIN,
                 "Figures; numbers as JSON and CSV; maps as NPY and as 16-bit grey PNG that carries its scale.");
    ww_page_files(page, report->file, report->files);
    return WW_OK;
}

/* --- the page ------------------------------------------------------------------------------------------------------------ */

static bool always(const struct ww_report *report)
{
    (void)report;
    return true;
}

static const struct section {
    const char *title;
    bool (*present)(const struct ww_report *report);
    ww_report_section *write;
} section[] = {
    {"How bad can it be, and where?", always, ww_report_write_skew},
    {"How likely is it?", ww_report_has_cloth, ww_report_write_chance},
    {"Which routing angle is safe?", ww_report_has_angles, ww_report_write_angles},
    {"Which glass?", ww_report_has_comparison, ww_report_write_comparison},
    {"Which pitch of the pair?", ww_report_has_pitch, ww_report_write_pitch},
    {"How far apart?", ww_report_has_spacing, ww_report_write_spacing},
    {"What makes two circuits differ?", ww_report_has_budget, ww_report_write_budget},
    {"What does it lose, and where does the cloth reflect?", ww_report_has_frequency, ww_report_write_frequency},
    {"How uneven is the dielectric?", ww_report_has_cloth, ww_report_write_cloth},
    {"Can these numbers be trusted?", ww_report_has_verify, ww_report_write_trust},
    {"Conditions and sources", always, ww_report_write_sources},
    {"To run it again", always, write_again},
};

static void write_head(const struct ww_report *report, struct ww_page *page)
{
    char conditions[CONDITIONS_SIZE], note[NOTE_SIZE], text[CONDITIONS_SIZE + NOTE_SIZE];
    ww_words_conditions(report->study, false, conditions, sizeof conditions);
    if (ww_words_pitch_solved(report->study, report->line, note, sizeof note)[0])
        ww_words_add(conditions, sizeof conditions, "; %s", note);
    ww_page_text(page, WW_PAGE_UNDER, "%s from the glass weave: report for a design review. weftwise %s, %s.",
                 report->skew->pair ? "Skew" : "Delay spread", ww_version(), report->study->file);
    ww_page_text(page, WW_PAGE_UNDER, "%s.", ww_words_typeset(conditions, text, sizeof text));
}

static void write_answer(const struct ww_report *report, struct ww_page *page)
{
    struct ww_answer answer;
    double budget = report->study->budget;
    bool over = (budget > 0.0 && ww_report_judged(report) > budget) || ww_report_converts_too_much(report);
    ww_report_answer(report, &answer);
    ww_page_text(page, WW_PAGE_PLAIN, "%s", answer.question);
    ww_page_text(page, over ? WW_PAGE_BAD : WW_PAGE_GOOD, "%s", answer.verdict);
    ww_page_answer_begin(page);
    ww_page_answer(page, "How bad?", "%s", answer.how_bad);
    ww_page_answer(page, "How likely?", "%s", answer.how_likely);
    ww_page_answer(page, "What to do?", "%s", answer.what_to_do);
    ww_page_answer_end(page);
}

static void write_contents(const struct ww_report *report, const struct ww_page *page)
{
    const char *title[WW_COUNT(section)];
    size_t count = 0;
    for (size_t i = 0; i < WW_COUNT(section); i++)
        if (section[i].present(report))
            title[count++] = section[i].title;
    ww_page_contents(page, title, count);
}

static enum ww_status check(const struct ww_report *report, struct ww_error *error)
{
    if (!report->study || !report->line || !report->skew)
        return ww_error_set(error, WW_INVALID, NULL, 0, "a report needs a study, its line and its skew");
    if (report->figures && report->format == WW_FIGURE_PDF)
        return ww_error_set(error, WW_INVALID, NULL, 0, "a page cannot show figures in PDF; save them as PNG or SVG");
    return WW_OK;
}

enum ww_status ww_report_write(const struct ww_report *report, FILE *stream, struct ww_error *error)
{
    struct ww_page page;
    enum ww_status status = check(report, error);
    if (status)
        return status;
    ww_page_begin(&page, stream, report->study->title);
    write_head(report, &page);
    write_answer(report, &page);
    ww_page_text(&page, WW_PAGE_CAUTION,
                 "%s Where the fabricator's data or a measurement disagrees with this page, they are right and it is "
                 "wrong: ask which cloth it is, and measure a coupon.",
                 WW_CAUTION);
    write_contents(report, &page);
    for (size_t i = 0; i < WW_COUNT(section) && !status; i++) {
        if (!section[i].present(report))
            continue;
        ww_page_heading(&page, 2, section[i].title);
        status = section[i].write(report, &page, error);
    }
    enum ww_status end = ww_page_end(&page, status ? NULL : error);
    return status ? status : end;
}
