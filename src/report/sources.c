/* sources.c - the section of the report on what was assumed, and where each figure comes from.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "report/sections.h"

#include <weftwise/fabric.h>

#include <string.h>

/* --- conditions -------------------------------------------------------------------------------------------------------- */

static void write_stackup(const struct ww_report *report, struct ww_page *page)
{
    static const char *const kind[] = {
        [WW_LAYER_PLANE] = "plane",  [WW_LAYER_TRACE] = "trace, and the resin beside it",
        [WW_LAYER_PLY] = "ply",      [WW_LAYER_RESIN] = "resin",
        [WW_LAYER_SOLID] = "solid",  [WW_LAYER_MASK] = "solder mask",
        [WW_LAYER_AIR] = "open air",
    };
    static const struct ww_page_column column[] = {
        {"Layer", false}, {"Thickness", true}, {"Resin", false}, {"Dk", true}, {"Loss tangent", true}};
    const struct ww_stack *stack = &report->study->stack;
    struct ww_words thickness, height;
    size_t ply = 0;
    ww_page_table_begin(page, "The stackup, top to bottom. Dk and loss tangent: of the layer's resin or solid.",
                        column, WW_COUNT(column), stack->count < 16);
    for (size_t i = 0; i < stack->count; i++) {
        const struct ww_layer *layer = &stack->layer[i];
        bool own = layer->kind == WW_LAYER_SOLID || layer->kind == WW_LAYER_MASK;
        bool resin = layer->kind == WW_LAYER_PLY || layer->kind == WW_LAYER_RESIN || layer->kind == WW_LAYER_TRACE;
        resin = resin && layer->resin.name[0];
        double dk = own ? layer->dk : layer->resin.dk;
        if (layer->kind == WW_LAYER_PLY)
            dk = creal(stack->ply[ply++].eps_resin);
        if (layer->kind == WW_LAYER_PLY)
            ww_page_cell(
                page, "ply %zu, %s%s%s", ply, layer->style.name, layer->cloth_height > 0.0 ? ", cloth at " : "",
                layer->cloth_height > 0.0 ? ww_words_number(&height, layer->cloth_height, WW_LENGTH, 4) : "");
        else
            ww_page_cell(page, "%s", kind[layer->kind]);
        ww_page_cell(page, "%s",
                     layer->thickness > 0.0 ? ww_words_number(&thickness, layer->thickness, WW_LENGTH, 4) : "");
        ww_page_cell(page, "%s", resin ? layer->resin.name : "");
        if (own || resin) {
            ww_page_cell(page, "%.4g", dk);
            ww_page_cell(page, "%.4g", own ? layer->df : layer->resin.df);
        } else {
            ww_page_cell(page, "%s", "");
            ww_page_cell(page, "%s", "");
        }
    }
    ww_page_table_end(page);
}

static void write_trace(const struct ww_report *report, struct ww_page *page)
{
    static const struct ww_page_column column[] = {{"Trace and signal", false}, {"Value", true}};
    const struct ww_study *study = report->study;
    const struct ww_trace *trace = &study->trace;
    const struct row {
        const char *name;
        bool known;
        double value;
        enum ww_dimension dimension;
    } row[] = {
        {"trace width", true, trace->width, WW_LENGTH},
        {"copper thickness", true, trace->thickness, WW_LENGTH},
        {"pair pitch, centre to centre", trace->pitch > 0.0, trace->pitch, WW_LENGTH},
        {"length", true, study->length, WW_LENGTH},
        {study->segments > 0 ? "route turned by" : "angle from the warp", study->segments == 0 || study->angle != 0.0,
         study->angle, WW_ANGLE},
        {study->turn_is_assumed ? "cloth off square, up to (assumed; common practice, no source)"
                                : "cloth off square, up to",
         study->turn > 0.0, study->turn, WW_ANGLE},
        {"bit rate", study->rate > 0.0, study->rate, WW_RATE},
        {"frequency", study->frequency > 0.0, study->frequency, WW_FREQUENCY},
        {"budget", study->budget > 0.0, study->budget, WW_TIME},
    };
    struct ww_words value, angle;
    ww_page_table_begin(page, "Trace and signal.", column, WW_COUNT(column), true);
    for (size_t i = 0; i < WW_COUNT(row); i++) {
        if (!row[i].known)
            continue;
        ww_page_cell(page, "%s", row[i].name);
        ww_page_cell(page, "%s", ww_words_number(&value, row[i].value, row[i].dimension, 4));
    }
    if (study->rate > 0.0) {
        ww_page_cell(page, "levels of the signal");
        ww_page_cell(page, "%zu", study->levels);
        ww_page_cell(page, "symbol rate");
        ww_page_cell(page, "%.4g GBd", ww_study_request(study).rate * 1e-9);
    }
    char counts[WW_CELL_SIZE];
    if (ww_study_counts(study, counts, sizeof counts)[0]) {
        ww_page_cell(page, "yarn counts off, up to");
        ww_page_cell(page, "%s", counts);
    }
    for (size_t i = 0; i < study->segments; i++) {
        ww_page_cell(page, "segment %zu of the route", i + 1);
        ww_page_cell(page, "%s at %s", ww_words_number(&value, study->route[i].length, WW_LENGTH, 4),
                     ww_words_number(&angle, study->route[i].angle, WW_ANGLE, 4));
    }
    ww_page_cell(page, "lanes");
    ww_page_cell(page, "%zu", study->lanes > 0 ? study->lanes : 1);
    ww_page_table_end(page);
    char note[WW_CELL_SIZE * 2];
    if (ww_words_pitch_solved(study, report->line, note, sizeof note)[0])
        ww_page_text(page, WW_PAGE_PLAIN, "Copper edges lie on the grid: %s.", note);
}

/* How a figure is known. */
static const char *origin_in_words(enum ww_origin origin)
{
    switch (origin) {
    case WW_ABSENT:
        return "not known";
    case WW_FOUND:
        return "from a source";
    case WW_MEMORY:
        return "from memory";
    case WW_CLOSED:
        return "closed: computed, not measured";
    case WW_DERIVED:
        return "derived";
    case WW_USER:
        return "given in the study";
    }
    return "";
}

static void write_datum(struct ww_page *page, const char *name, const struct ww_datum *datum,
                        enum ww_dimension dimension)
{
    struct ww_words value;
    const char *source = datum->source;
    const char *behind = strncmp(source, "from memory", 11) == 0 ? source + 11 : source;
    if (datum->origin == WW_ABSENT)
        return;
    behind = strncmp(source, "closed: ", 8) == 0 ? source + 8 : behind;
    behind += strspn(behind, ",: ");
    ww_page_cell(page, "%s", name);
    ww_page_cell(page, "%s", ww_words_number(&value, datum->value, dimension, 4));
    /* A figure worked out from one that is recalled is no better than that. */
    bool recalled = datum->origin == WW_DERIVED && strncmp(source, "from memory", 11) == 0;
    ww_page_cell(page, "%s%s", origin_in_words(datum->origin), recalled ? ", from memory" : "");
    ww_page_cell(page, "%s", behind);
}

static void write_yarn(struct ww_page *page, const char *system, const struct ww_yarn *yarn)
{
    char name[WW_CELL_SIZE];
    snprintf(name, sizeof name, "%s yarn%s%s", system, yarn->code[0] ? " " : "", yarn->code);
    write_datum(page, name, &yarn->tex, WW_LINEAR_DENSITY);
    snprintf(name, sizeof name, "%s width", system);
    write_datum(page, name, &yarn->width, WW_LENGTH);
    snprintf(name, sizeof name, "%s height", system);
    write_datum(page, name, &yarn->height, WW_LENGTH);
}

static void write_style(const struct ww_style *style, struct ww_page *page)
{
    static const struct ww_page_column column[] = {
        {"Figure", false}, {"Value", true}, {"How it is known", false}, {"Source", false}};
    char caption[WW_CAPTION_SIZE];
    snprintf(caption, sizeof caption, "Glass style %s, %s weave: every figure that the cell is made of.", style->name,
             ww_weave_kind_name(style->kind));
    ww_page_table_begin(page, caption, column, WW_COUNT(column), true);
    write_datum(page, "warp count", &style->warp_count, WW_COUNT);
    write_datum(page, "fill count", &style->fill_count, WW_COUNT);
    write_datum(page, "thickness of the fabric", &style->thickness, WW_LENGTH);
    write_yarn(page, "warp", &style->warp);
    write_yarn(page, "fill", &style->fill);
    write_datum(page, "shape of a yarn", &style->shape, WW_PURE);
    ww_page_cell(page, "glass %s", style->glass.name);
    ww_page_cell(page, "Dk %.4g", style->glass.dk);
    ww_page_cell(page, "%s", strncmp(style->glass.source, "from memory", 11) == 0 ? "from memory" : "from a source");
    ww_page_cell(page, "%s", style->glass.source);
    ww_page_table_end(page);
    if (style->note[0])
        ww_page_text(page, WW_PAGE_UNDER, "%s: %s", style->name, style->note);
}

static bool style_is_repeated(const struct ww_report *report, size_t ply)
{
    for (size_t i = 0; i < ply; i++)
        if (strcmp(ww_report_style(report, i)->name, ww_report_style(report, ply)->name) == 0)
            return true;
    return false;
}

static void write_resins(const struct ww_report *report, struct ww_page *page)
{
    static const struct ww_page_column column[] = {
        {"Resin", false}, {"Dk", true}, {"Loss tangent", true}, {"Source", false}};
    const struct ww_stack *stack = &report->study->stack;
    ww_page_table_begin(page, "Resins.", column, WW_COUNT(column), true);
    for (size_t i = 0; i < stack->count; i++) {
        const struct ww_resin *resin = &stack->layer[i].resin;
        bool repeated = !resin->name[0];
        for (size_t j = 0; j < i && !repeated; j++)
            repeated = strcmp(stack->layer[j].resin.name, resin->name) == 0;
        if (repeated)
            continue;
        ww_page_cell(page, "%s", resin->name);
        ww_page_cell(page, "%.4g", resin->dk);
        ww_page_cell(page, "%.4g", resin->df);
        ww_page_cell(page, "%s", resin->source[0] ? resin->source : "none given");
    }
    ww_page_table_end(page);
}

enum ww_status ww_report_write_sources(const struct ww_report *report, struct ww_page *page, struct ww_error *error)
{
    (void)error;
    const struct ww_stack *stack = &report->study->stack;
    ww_page_heading(page, 3, "Conditions");
    write_stackup(report, page);
    write_trace(report, page);
    ww_page_heading(page, 3, "Where the figures come from");
    ww_page_text(
        page, WW_PAGE_PLAIN,
        "'From memory' is trade knowledge without a paper behind it. 'Closed' is computed so that the glass "
        "which the yarns carry fits the fabric's thickness, because nobody has published the figure. Ask the "
        "fabricator for both before a decision hangs on them.");
    for (size_t i = 0; i < stack->plies; i++)
        if (!style_is_repeated(report, i))
            write_style(ww_report_style(report, i), page);
    write_resins(report, page);
    return WW_OK;
}
