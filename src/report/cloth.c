/* cloth.c - the section of the report on the cloth of each ply.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "report/sections.h"

#include <string.h>

const struct ww_style *ww_report_style(const struct ww_report *report, size_t ply)
{
    const struct ww_stack *stack = &report->study->stack;
    return &stack->layer[stack->ply[ply].layer].style;
}

bool ww_report_has_cloth(const struct ww_report *report)
{
    return report->study->stack.plies > 0;
}

/* Is this ply's cloth one that an earlier ply has, in the same thickness? */
static bool is_repeated(const struct ww_report *report, size_t ply)
{
    const struct ww_stack *stack = &report->study->stack;
    for (size_t i = 0; i < ply; i++)
        if (strcmp(ww_report_style(report, i)->name, ww_report_style(report, ply)->name) == 0 &&
            stack->ply[i].thickness == stack->ply[ply].thickness && stack->ply[i].turn == stack->ply[ply].turn)
            return true;
    return false;
}

static void write_cloth(const struct ww_report *report, struct ww_page *page)
{
    static const struct ww_page_column column[] = {
        {"Ply", false},          {"Glass style", false}, {"Glass, by volume", true}, {"Resin, by weight", true},
        {"Warp pitch", true},    {"Fill pitch", true},   {"Dk, least", true},        {"Dk, most", true},
        {"Dk of the ply", true},
    };
    const struct ww_stack *stack = &report->study->stack;
    struct ww_words a, b;
    ww_page_table_begin(page,
                        "The cloth of each ply. Dk, least and most: of a column of the ply, glass and resin in "
                        "series; Dk of the ply: what a data sheet would state.",
                        column, WW_COUNT(column), stack->plies < 8);
    for (size_t i = 0; i < stack->plies; i++) {
        const struct ww_ply *ply = &stack->ply[i];
        ww_page_cell(page, "%zu", i + 1);
        ww_page_cell(page, "%s/%s", ww_report_style(report, i)->name, ww_report_style(report, i)->glass.name);
        ww_page_cell(page, "%.1f %%", 100.0 * ply->glass_fraction);
        if (ply->resin_content >= 0.0)
            ww_page_cell(page, "%.1f %%", 100.0 * ply->resin_content);
        else
            ww_page_cell(page, "not known");
        ww_page_cell(page, "%s", ww_words_number(&a, 0.5 * ply->cell.lx, WW_LENGTH, 4));
        ww_page_cell(page, "%s", ww_words_number(&b, 0.5 * ply->cell.ly, WW_LENGTH, 4));
        ww_page_cell(page, "%.2f", ply->dk_low);
        ww_page_cell(page, "%.2f", ply->dk_high);
        ww_page_cell(page, "%.2f", ply->dk_bulk);
    }
    ww_page_table_end(page);
}

/* --- the glass that a laser beam meets ------------------------------------------------------------------------------------ */

static void write_beam_table(const struct ww_report *report, struct ww_page *page)
{
    static const struct ww_page_column column[] = {{"Ply", false}, {"Glass style", false}, {"Least", true},
                                                   {"Mean", true}, {"Most", true},         {"Without glass", true}};
    size_t plies = report->study->stack.plies;
    struct ww_words a;
    ww_page_table_begin(page,
                        "Height of glass that the beam meets, mean over the beam, over all positions; the share of "
                        "positions without any.",
                        column, WW_COUNT(column), plies < 8);
    for (size_t i = 0; i < plies; i++) {
        const struct ww_via *via = &report->via[i];
        ww_page_cell(page, "%zu", i + 1);
        ww_page_cell(page, "%s", ww_report_style(report, i)->name);
        ww_page_cell(page, "%.1f \xc2\xb5m", 1e6 * via->least);
        ww_page_cell(page, "%.1f \xc2\xb5m", 1e6 * via->mean);
        ww_page_cell(page, "%.1f \xc2\xb5m", 1e6 * via->most);
        ww_page_cell(page, "%s", ww_words_share(&a, via->without));
    }
    ww_page_table_end(page);
}

static enum ww_status write_beam(const struct ww_report *report, struct ww_page *page, struct ww_error *error)
{
    const struct ww_stack *stack = &report->study->stack;
    char name[WW_CELL_SIZE], subject[WW_CELL_SIZE], alt[WW_CAPTION_SIZE];
    struct ww_words beam;
    enum ww_status status = WW_OK;
    size_t shown = 0;
    ww_words_number(&beam, report->study->via_diameter, WW_LENGTH, 4);
    ww_page_text(
        page, WW_PAGE_PLAIN,
        "A laser beam of %s that drills a via meets more glass or less, by where it strikes the cloth; glass "
        "and resin ablate differently.",
        beam.of);
    for (size_t i = 0; i < stack->plies && !status; i++) {
        if (is_repeated(report, i) || shown++ == WW_PLIES_SHOWN)
            continue;
        ww_words_ply(report->study, i, subject, sizeof subject);
        snprintf(name, sizeof name, "via-ply%zu", i + 1);
        snprintf(alt, sizeof alt, "Map of the glass that a beam of %s meets in %s, from %.1f to %.1f \xc2\xb5m.",
                 beam.of, subject, 1e6 * report->via[i].least, 1e6 * report->via[i].most);
        status = ww_report_figure(report, page, name, alt, error,
                                  "Glass that a laser beam of %s meets in %s, over where its middle strikes.",
                                  beam.of, subject);
    }
    write_beam_table(report, page);
    return status;
}

enum ww_status ww_report_write_cloth(const struct ww_report *report, struct ww_page *page, struct ww_error *error)
{
    const struct ww_stack *stack = &report->study->stack;
    const char *what = report->skew->pair ? "pair" : "trace";
    char name[WW_CELL_SIZE], subject[WW_CELL_SIZE], alt[WW_CAPTION_SIZE];
    enum ww_status status = WW_OK;
    size_t shown = 0;
    ww_page_text(
        page, WW_PAGE_PLAIN,
        "Glass has about twice the Dk of the resin around it, so a trace over a bundle of glass is slower "
        "than one over a gap. How uneven the cloth is, on the scale of the trace, decides all of the above.");
    for (size_t i = 0; i < stack->plies && !status; i++) {
        if (is_repeated(report, i) || shown++ == WW_PLIES_SHOWN)
            continue;
        const struct ww_ply *ply = &stack->ply[i];
        ww_words_ply(report->study, i, subject, sizeof subject);
        snprintf(name, sizeof name, "dk-ply%zu", i + 1);
        snprintf(alt, sizeof alt,
                 "Map of the local Dk of %s, from %.2f in the gaps to %.2f where yarns cross, with the %s drawn to "
                 "scale over it.",
                 subject, ply->dk_low, ply->dk_high, what);
        status =
            ww_report_figure(report, page, name, alt, error,
                             "Local Dk of %s, seen from above, with the %s to scale where it starts in the worst "
                             "case. Dark is resin, light is glass.",
                             subject, what);
    }
    write_cloth(report, page);
    return status || !report->via ? status : write_beam(report, page, error);
}
