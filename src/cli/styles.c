/* styles.c - weftwise styles [NAME]: which fabrics there are, and what each is made of.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "run.h"

#include <weftwise/fabric.h>
#include <weftwise/result.h>
#include <weftwise/study.h>

#include <stdlib.h>
#include <string.h>

enum { FOLDER_SIZE = 4096, TEXT_SIZE = 48, RIGHT_OF_SOURCE = 42 };

static const double um = 1e-6, per_inch = 1.0 / 25.4e-3, gram_per_m2 = 1e-3;

static double warp_pitch(const struct ww_style *style)
{
    return 1.0 / style->warp_count.value;
}

static double fill_pitch(const struct ww_style *style)
{
    return 1.0 / style->fill_count.value;
}

/* --- the table of all -------------------------------------------------------------------------------------------------- */

/* "122 / 259*": warp and fill in um, a star at what was closed. */
static const char *pair_text(char out[TEXT_SIZE], const struct ww_datum *warp, const struct ww_datum *fill)
{
    snprintf(out, TEXT_SIZE, "%.0f%s / %.0f%s", warp->value / um, warp->origin == WW_CLOSED ? "*" : "",
             fill->value / um, fill->origin == WW_CLOSED ? "*" : "");
    return out;
}

static const char *yarn_text(char out[TEXT_SIZE], const struct ww_yarn *yarn)
{
    if (yarn->code[0])
        snprintf(out, TEXT_SIZE, "%s", yarn->code);
    else
        ww_number_format(out, TEXT_SIZE, yarn->tex.value, WW_LINEAR_DENSITY, 3);
    return out;
}

static void print_row(const struct ww_style *style)
{
    char count[TEXT_SIZE], pitch[TEXT_SIZE], yarns[2 * TEXT_SIZE + 4], width[TEXT_SIZE], height[TEXT_SIZE];
    char gap[TEXT_SIZE], weight[TEXT_SIZE] = "-", warp[TEXT_SIZE], fill[TEXT_SIZE];
    snprintf(count, sizeof count, "%g x %g", style->warp_count.value / per_inch, style->fill_count.value / per_inch);
    snprintf(pitch, sizeof pitch, "%.0f x %.0f", warp_pitch(style) / um, fill_pitch(style) / um);
    snprintf(yarns, sizeof yarns, "%s / %s", yarn_text(warp, &style->warp), yarn_text(fill, &style->fill));
    snprintf(gap, sizeof gap, "%.0f / %.0f", (warp_pitch(style) - style->warp.width.value) / um,
             (fill_pitch(style) - style->fill.width.value) / um);
    if (style->weight.origin != WW_ABSENT)
        snprintf(weight, sizeof weight, "%.1f", style->weight.value / gram_per_m2);
    printf("%-14s %-7s %-11s %-11s %-15s %-13s %-13s %-11s %6.1f %9s\n", style->name, ww_weave_kind_name(style->kind),
           count, pitch, yarns, pair_text(width, &style->warp.width, &style->fill.width),
           pair_text(height, &style->warp.height, &style->fill.height), gap, ww_style_weight(style) / gram_per_m2,
           weight);
}

static void print_table(const struct ww_style *style, size_t count)
{
    printf("%-14s %-7s %-11s %-11s %-15s %-13s %-13s %-11s %6s %9s\n", "style", "kind", "count", "pitch", "yarn",
           "width", "height", "gap", "weight", "published");
    printf("%-14s %-7s %-11s %-11s %-15s %-13s %-13s %-11s %6s %9s\n", "", "", "/in", "um", "warp / fill", "um", "um",
           "um", "g/m2", "g/m2");
    for (size_t i = 0; i < count; i++)
        print_row(&style[i]);
    puts("\n* closed: computed from thickness, packing and spread, because no figure is known.\n"
         "Weight is computed from counts and yarns. 'weftwise styles NAME' gives the source of every figure.");
}

/* --- one style --------------------------------------------------------------------------------------------------------- */

/* A figure, how it is known, and its source. */
static void print_datum(const char *name, const struct ww_datum *datum, enum ww_dimension dimension)
{
    char text[TEXT_SIZE] = "-";
    if (datum->origin != WW_ABSENT)
        ww_number_format(text, sizeof text, datum->value, dimension, 4);
    const char *origin = ww_origin_name(datum->origin), *source = datum->source;
    size_t length = strlen(origin);
    if (strncmp(source, origin, length) == 0 && strncmp(source + length, ": ", 2) == 0)
        source += length + 2; /* "closed: from ..." stands beside "closed" */
    paragraph(printf("  %-16s %-12s %-8s", name, text, origin), RIGHT_OF_SOURCE, source[0] ? source : "-");
}

/* A length, which the answer's range hangs on, with how well it is known. */
static void print_length(const char *name, const struct ww_datum *datum)
{
    struct ww_datum with = *datum;
    const char *origin = ww_origin_name(datum->origin), *source = datum->source;
    size_t length = strlen(origin);
    if (strncmp(source, origin, length) == 0 && strncmp(source + length, ": ", 2) == 0)
        source += length + 2;
    snprintf(with.source, sizeof with.source, "+-%.3g %%; %.200s", 100.0 * ww_datum_uncertainty(datum), source);
    print_datum(name, &with, WW_LENGTH);
}

static void print_figure(const char *name, double value, enum ww_dimension dimension, const char *how)
{
    struct ww_datum datum = {.value = value, .origin = WW_DERIVED};
    snprintf(datum.source, sizeof datum.source, "%s", how);
    print_datum(name, &datum, dimension);
}

static void print_yarn(const char *name, const struct ww_yarn *yarn, double packing, double pitch)
{
    char area[TEXT_SIZE];
    printf("%s yarn%s%s\n", name, yarn->code[0] ? " " : "", yarn->code);
    print_datum("linear density", &yarn->tex, WW_LINEAR_DENSITY);
    print_length("width", &yarn->width);
    print_length("height", &yarn->height);
    print_figure("gap", pitch - yarn->width.value, WW_LENGTH, "pitch less width");
    char how[2 * TEXT_SIZE + 64];
    snprintf(how, sizeof how,
             "share of glass in the bundle, as the cell has it; %.3f in its section away from crossings",
             yarn->packing);
    print_figure("packing", packing, WW_PURE, how);
    snprintf(area, sizeof area, "%.0f um2", yarn->glass_area / (um * um));
    printf("  %-16s %-12s %-8s", "glass area", area, ww_origin_name(WW_DERIVED));
    puts("  linear density over density");
}

static enum ww_status print_style(const struct ww_style *style, struct ww_error *error)
{
    char dk[TEXT_SIZE], df[TEXT_SIZE], file[sizeof style->file];
    double warp_packing, fill_packing;
    enum ww_status status = ww_style_packing(style, &warp_packing, &fill_packing, error);
    if (status)
        return status;
    printf("%s, %s weave (%s)\n", style->name, ww_weave_kind_name(style->kind),
           ww_text_printable(file, sizeof file, style->file));
    print_datum("warp count", &style->warp_count, WW_COUNT);
    print_datum("fill count", &style->fill_count, WW_COUNT);
    print_figure("warp pitch", warp_pitch(style), WW_LENGTH, "from the count");
    print_figure("fill pitch", fill_pitch(style), WW_LENGTH, "from the count");
    print_length("thickness", &style->thickness);
    print_datum("yarn shape", &style->shape, WW_PURE);
    print_datum("published weight", &style->weight, WW_AREAL_WEIGHT);
    print_figure("weight", ww_style_weight(style), WW_AREAL_WEIGHT, "from counts and yarns, crimp aside");
    struct ww_datum least = ww_style_resin_least(style), most = ww_style_resin_most(style);
    print_datum("least resin", &least, WW_FRACTION);
    print_datum("most resin", &most, WW_FRACTION);
    print_yarn("warp", &style->warp, warp_packing, warp_pitch(style));
    print_yarn("fill", &style->fill, fill_packing, fill_pitch(style));
    ww_number_format(dk, sizeof dk, style->glass.dk, WW_PURE, 4);
    ww_number_format(df, sizeof df, style->glass.df, WW_PURE, 4);
    paragraph(
        printf("glass %s, dk %s +-%.3g %%, df %s", style->glass.name, dk, 100.0 * style->glass.dk_uncertainty, df),
        RIGHT_OF_SOURCE, style->glass.source);
    if (style->note[0])
        paragraph(printf("note"), 2, style->note);
    return WW_OK;
}

/* --- the command --------------------------------------------------------------------------------------------------------- */

static enum ww_status read_styles(const struct ww_weaves *weaves, const char *name, struct ww_style **style,
                                  size_t *count, struct ww_error *error)
{
    struct ww_names names = {0};
    enum ww_status status = name ? WW_OK : ww_weaves_styles(weaves, &names, error);
    size_t wanted = name ? 1 : names.count;
    *style = status ? NULL : calloc(wanted + 1, sizeof **style);
    if (!status && !*style)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu styles", wanted);
    for (*count = 0; *count < wanted && !status; ++*count)
        status = ww_weaves_style(weaves, name ? name : names.name[*count], &(*style)[*count], error);
    ww_names_clear(&names);
    return status;
}

enum outcome styles_run(const struct options *options)
{
    char folder[FOLDER_SIZE];
    struct ww_weaves weaves = {0};
    struct ww_style *style = NULL;
    struct ww_error error = {0};
    size_t count = 0;
    const char *name = options->operands > 1 ? options->operand[1] : NULL;
    enum ww_status status = ww_study_find_weaves(options->weaves, folder, sizeof folder, &error);
    if (!status)
        status = ww_weaves_open(&weaves, folder, NULL, &error);
    if (!status)
        status = read_styles(&weaves, name, &style, &count, &error);
    if (!status && options->json)
        status = ww_result_styles_json(stdout, style, count, &error);
    else if (!status && name)
        status = print_style(style, &error);
    else if (!status)
        print_table(style, count);
    free(style);
    ww_weaves_close(&weaves);
    return status ? fail(&error) : finish_output();
}
