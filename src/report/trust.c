/* trust.c - the section of the report on the error bar: the fast method beside full solutions.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "report/sections.h"

#include <math.h>

bool ww_report_has_verify(const struct ww_report *report)
{
    return report->verify && report->verify->places > 0;
}

static void write_resolutions(const struct ww_report *report, struct ww_page *page)
{
    const struct ww_verify *v = report->verify;
    const struct ww_page_column column[] = {{"Resolution", false},
                                            {"Grid step", true},
                                            {v->pair ? "Worst skew" : "Spread", true},
                                            {"Dk", true},
                                            {v->pair ? "Z odd" : "Z0", true}};
    struct ww_words step, worst;
    ww_page_table_begin(
        page,
        "The fast method at other resolutions. Dk is that of the mean delay; the impedance is that of "
        "even layers, each of its ply's mean Dk.",
        column, WW_COUNT(column), true);
    for (size_t i = 0; i < v->resolutions; i++) {
        const struct ww_verify_resolution *r = &v->resolution[i];
        if (r->factor == 1.0)
            ww_page_mark_row(page);
        ww_page_cell(page, "%s", r->factor < 1.0 ? "half" : r->factor > 1.0 ? "double" : "this report's");
        ww_page_cell(page, "%s", ww_words_number(&step, r->step, WW_LENGTH, 3));
        ww_page_cell(page, "%s", ww_words_time(&worst, r->worst));
        ww_page_cell(page, "%.4f", r->dk_eff);
        ww_page_cell(page, "%.2f \xce\xa9", r->z);
    }
    ww_page_table_end(page);
}

static void write_differences(const struct ww_report *report, struct ww_page *page)
{
    static const char *const name[WW_AGAINSTS] = {"cross-sections solved in full", "a period solved in full, in 3-D",
                                                  "the limit of ever finer grids, with its uncertainty"};
    static const struct ww_page_column column[] = {
        {"The fast method against", false}, {"Differs by", true}, {"Of the worst", true}};
    const struct ww_verify *v = report->verify;
    struct ww_words by, share;
    ww_page_table_begin(page, "Change of the worst by each other method; the largest is the error bar.", column,
                        WW_COUNT(column), true);
    for (int a = 0; a < WW_AGAINSTS; a++) {
        bool known = v->error[a] >= 0.0;
        if (known && a == (int)v->largest)
            ww_page_mark_row(page);
        ww_page_cell(page, "%s", name[a]);
        ww_page_cell(page, "%s", known ? ww_words_time(&by, v->error[a]) : "not run here");
        ww_page_cell(page, "%s", known && v->worst > 0.0 ? ww_words_share(&share, v->error[a] / v->worst) : "");
    }
    ww_page_table_end(page);
}

enum ww_status ww_report_write_trust(const struct ww_report *report, struct ww_page *page, struct ww_error *error)
{
    char name[WW_CELL_SIZE], text[WW_CAPTION_SIZE];
    const struct ww_verify *v = report->verify;
    const struct ww_verify_place *place = &v->place[0];
    const char *where = v->pair ? "worst pair" : "slowest trace";
    enum ww_status status = WW_OK;
    ww_words_error_bar(report->study, v, text, sizeof text);
    ww_page_text(page, WW_PAGE_PLAIN, "%s", text);
    if (report->line->dispersion.applied)
        ww_page_text(page, WW_PAGE_PLAIN,
                     "All of this part is static: dispersion multiplies differences of delay by any method alike.");
    write_differences(report, page);
    write_resolutions(report, page);
    ww_page_text(page, WW_PAGE_PLAIN,
                 "'weftwise verify' takes more cross-sections than this report, and a whole period in 3-D.");
    snprintf(text, sizeof text, "Cross-section through the %s: strength of the field, equipotentials, and the yarns.",
             where);
    status = ww_report_figure(report, page, "section", text, error,
                              "The cross-section where the %s starts, solved in full: colour is the strength of the "
                              "field, lines are equipotentials, outlines are yarns. Only glass in the field counts.",
                              where);
    for (size_t m = 0; m < place->means && !status; m++) {
        size_t ply = place->mean[m].ply;
        if (ply > 0 && ww_report_rank(report->skew, ply - 1) >= WW_PLIES_SHOWN)
            continue;
        snprintf(name, sizeof name, "along");
        if (ply)
            snprintf(name, sizeof name, "along-ply%zu", ply);
        status =
            ww_report_figure(report, page, name,
                             "Delay along one period of the cloth: the fast method's curve and full solutions on "
                             "it.",
                             error,
                             "Delay along the %s, the fast method as lines and full cross-sections as dots%s. Dots "
                             "on the lines mean that the fast method can be believed here.",
                             where, ply ? ", with the cloth of one ply in place" : "");
    }
    return status;
}
