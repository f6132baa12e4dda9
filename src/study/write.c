/* write.c - a study as text: the whole effective one, and the commented one to start from.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What is written reads back as the same study, so every number has the digits it needs and no more. Materials are
 * written out where they are used, with their sources: the text stands on its own, whatever becomes of weaves/.
 */
#include "study/keys.h"
#include "study/layer.h"
#include "study/route.h"
#include "study/tolerance.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

static enum ww_status check_stream(FILE *stream, struct ww_error *error)
{
    if (fflush(stream) == 0 && !ferror(stream))
        return WW_OK;
    return ww_error_set(error, WW_IO, NULL, 0, "could not write the study: %s", strerror(errno));
}

static void write_number(FILE *stream, const char *key, double value, enum ww_dimension dimension)
{
    char text[NUMBER_TEXT];
    fprintf(stream, "%s = %s\n", key, ww_number_text(text, sizeof text, value, dimension));
}

/* --- the study's own sections ------------------------------------------------------------------------------------------ */

static void write_layers(const struct ww_study *study, FILE *stream)
{
    const struct ww_resin *fallback = study->resin.name[0] ? &study->resin : NULL;
    for (size_t i = 0; i < study->stack.count; i++) {
        fputs("layer = ", stream);
        ww_layer_write(&study->stack.layer[i], fallback, stream);
        fputc('\n', stream);
    }
}

static void write_segments(const struct ww_route_segment *route, size_t segments, FILE *stream)
{
    char text[2 * NUMBER_TEXT];
    for (size_t i = 0; i < segments; i++)
        fprintf(stream, "segment = %s\n", ww_route_segment_text(text, sizeof text, &route[i]));
}

static void write_arms(const struct ww_study *study, FILE *stream)
{
    char text[2 * NUMBER_TEXT];
    for (size_t i = 0; i < study->arms; i++) {
        const struct ww_arm *arm = &study->arm[i];
        fprintf(stream, "\n[" ARM_PREFIX "%s]\nfrom = %s\n", arm->name, ww_place_text(text, sizeof text, arm->from));
        write_segments(arm->route, arm->segments, stream);
    }
}

static void write_spread(FILE *stream, const char *key, double value, enum ww_dimension dimension, enum ww_law law)
{
    char text[NUMBER_TEXT];
    fprintf(stream, "%s = %s%s%s\n", key, ww_number_text(text, sizeof text, value, dimension),
            law == WW_NORMAL ? " " : "", law == WW_NORMAL ? ww_law_name(law) : "");
}

static void write_tolerance(FILE *stream, const struct ww_study_key *key, const struct ww_tolerance *tolerance)
{
    char text[TOLERANCE_TEXT];
    if (tolerance->given)
        fprintf(stream, "%s = %s\n", key->key, ww_tolerance_text(text, sizeof text, tolerance, key));
}

/* The scatter of one yarn system may be that of both; none is written where the cloth is perfect, of measured cloth the seed. */
static bool is_scatter_left_out(const struct ww_study *study, const struct ww_study_row *row)
{
    size_t warp = offsetof(struct ww_study, scatter.yarn[WW_WARP]), size = sizeof(struct ww_yarn_scatter);
    if (ww_scatter_is_none(&study->scatter))
        return !study->paths[0] || row->offset != offsetof(struct ww_study, scatter.seed);
    if (row->offset < warp || row->offset >= warp + WW_SYSTEMS * size)
        return false;
    size_t both = offsetof(struct ww_study, yarn_scatter) + (row->offset - warp) % size;
    return *(const double *)(const void *)((const char *)study + row->offset) ==
           *(const double *)(const void *)((const char *)study + both);
}

/* Of a route, the length is that of its segments; a count's tolerance may be that of both. */
static bool is_left_out(const struct ww_study *study, const struct ww_study_row *row)
{
    const struct ww_study_key *key = &row->key;
    if (ww_study_row_is_scatter(row))
        return is_scatter_left_out(study, row);
    if (strcmp(key->key, "count_tolerance.warp") == 0)
        return study->warp_tolerance == study->count_tolerance;
    if (strcmp(key->key, "count_tolerance.fill") == 0)
        return study->fill_tolerance == study->count_tolerance;
    return study->segments > 0 && strcmp(key->section, "trace") == 0 && strcmp(key->key, "length") == 0;
}

/* The section of a route or via that there is not, of arms, which have their own, or of tolerances of which none is given. */
static bool is_empty_section(const struct ww_study *study, const struct ww_study_key *key)
{
    return (study->segments == 0 && strcmp(key->section, "route") == 0) || strcmp(key->section, ARM_SECTION) == 0 ||
           (strcmp(key->section, "tolerance") == 0 && !ww_study_has_tolerances(study)) ||
           (strcmp(key->section, "via") == 0 && study->via_diameter == 0.0);
}

/* One row of the table; nothing for a key that was left out and has no preset. */
static void write_row(const struct ww_study *study, const struct ww_study_row *row, FILE *stream)
{
    const void *field = (const char *)study + row->offset;
    const struct ww_study_key *key = &row->key;
    double number = 0.0;
    if (is_left_out(study, row))
        return;
    switch (key->kind) {
    case WW_STUDY_TEXT:
        fprintf(stream, "%s = %s\n", key->key, (const char *)field);
        break;
    case WW_STUDY_FILE:
    case WW_STUDY_NAME:
        if (((const char *)field)[0])
            fprintf(stream, "%s = %s\n", key->key, (const char *)field);
        break;
    case WW_STUDY_NUMBER:
        number = *(const double *)field;
        if (number != 0.0 || key->required || key->preset[0] || ww_study_row_is_scatter(row) ||
            strncmp(key->key, "count_tolerance", 15) == 0)
            write_number(stream, key->key, number, key->dimension);
        break;
    case WW_STUDY_WHOLE:
        fprintf(stream, "%s = %zu\n", key->key, *(const size_t *)field);
        break;
    case WW_STUDY_SWITCH:
        fprintf(stream, "%s = %s\n", key->key, *(const bool *)field ? "yes" : "no");
        break;
    case WW_STUDY_SPREAD:
        write_spread(stream, key->key, *(const double *)field, key->dimension, study->turn_law);
        break;
    case WW_STUDY_TOLERANCE:
    case WW_STUDY_RANGE:
        write_tolerance(stream, key, field);
        break;
    case WW_STUDY_SCOPE:
        fprintf(stream, "%s = %s\n", key->key, ww_scope_name(*(const enum ww_scope *)field));
        break;
    case WW_STUDY_LAYER:
        write_layers(study, stream);
        break;
    case WW_STUDY_PLACE: /* of arms: write_arms */
        break;
    case WW_STUDY_SEGMENT:
        write_segments(study->route, study->segments, stream);
        break;
    }
}

/* --- materials ----------------------------------------------------------------------------------------------------------- */

static void write_text(FILE *stream, const char *key, const char *text)
{
    if (text[0])
        fprintf(stream, "%s = %s\n", key, text);
}

/* A figure and where it is from; nothing if it is not known. */
static void write_datum(FILE *stream, const char *key, const struct ww_datum *datum, enum ww_dimension dimension)
{
    if (datum->origin == WW_ABSENT)
        return;
    write_number(stream, key, datum->value, dimension);
    if (datum->source[0])
        fprintf(stream, "%s.source = %s\n", key, datum->source);
    if (datum->stated) {
        char text[NUMBER_TEXT];
        fprintf(stream, "%s.uncertainty = %s\n", key,
                ww_number_text(text, sizeof text, datum->uncertainty, WW_FRACTION));
    }
}

static void write_yarn(FILE *stream, const char *key, const struct ww_yarn *yarn)
{
    if (!yarn->code[0]) {
        write_datum(stream, key, &yarn->tex, WW_LINEAR_DENSITY);
        return;
    }
    fprintf(stream, "%s = %s\n", key, yarn->code);
    if (yarn->tex.source[0])
        fprintf(stream, "%s.source = %s\n", key, yarn->tex.source);
}

static void write_style(const struct ww_style *style, FILE *stream)
{
    fprintf(stream, "\n[style %s]\n", style->name);
    fprintf(stream, "kind = %s\n", ww_weave_kind_name(style->kind));
    write_datum(stream, "warp_count", &style->warp_count, WW_COUNT);
    write_datum(stream, "fill_count", &style->fill_count, WW_COUNT);
    write_yarn(stream, "warp_yarn", &style->warp);
    write_yarn(stream, "fill_yarn", &style->fill);
    write_datum(stream, "warp_width", &style->warp.width, WW_LENGTH);
    write_datum(stream, "warp_height", &style->warp.height, WW_LENGTH);
    write_datum(stream, "fill_width", &style->fill.width, WW_LENGTH);
    write_datum(stream, "fill_height", &style->fill.height, WW_LENGTH);
    write_datum(stream, "shape", &style->shape, WW_PURE);
    write_datum(stream, "thickness", &style->thickness, WW_LENGTH);
    write_datum(stream, "weight", &style->weight, WW_AREAL_WEIGHT);
    write_datum(stream, "resin_least", &style->resin_least, WW_FRACTION);
    write_datum(stream, "resin_most", &style->resin_most, WW_FRACTION);
    fprintf(stream, "glass = %s\n", style->glass.name);
    write_text(stream, "source", style->source);
    write_text(stream, "note", style->note);
}

static void write_glass(const struct ww_glass *glass, FILE *stream)
{
    fprintf(stream, "\n[glass %s]\n", glass->name);
    write_number(stream, "dk", glass->dk, WW_PURE);
    write_number(stream, "df", glass->df, WW_PURE);
    write_number(stream, "density", glass->density, WW_DENSITY);
    write_number(stream, "dk_uncertainty", glass->dk_uncertainty, WW_FRACTION);
    if (glass->frequency > 0.0)
        write_number(stream, "frequency", glass->frequency, WW_FREQUENCY);
    write_text(stream, "source", glass->source);
}

static void write_resin(const struct ww_resin *resin, FILE *stream)
{
    fprintf(stream, "\n[resin %s]\n", resin->name);
    write_number(stream, "dk", resin->dk, WW_PURE);
    write_number(stream, "df", resin->df, WW_PURE);
    if (resin->density > 0.0)
        write_number(stream, "density", resin->density, WW_DENSITY);
    if (resin->frequency > 0.0)
        write_number(stream, "frequency", resin->frequency, WW_FREQUENCY);
    write_text(stream, "source", resin->source);
}

static void write_foil(const struct ww_foil *foil, FILE *stream)
{
    fprintf(stream, "\n[foil %s]\n", foil->name);
    fprintf(stream, "model = %s\n", ww_foil_model_name(foil->model));
    write_number(stream, "rz", foil->rz, WW_LENGTH);
    write_number(stream, "conductivity", foil->conductivity, WW_CONDUCTIVITY);
    if (foil->sphere_radius > 0.0)
        write_number(stream, "sphere_radius", foil->sphere_radius, WW_LENGTH);
    if (foil->surface_ratio > 0.0)
        write_number(stream, "surface_ratio", foil->surface_ratio, WW_PURE);
    write_text(stream, "source", foil->source);
}

static const char *style_of(const struct ww_layer *layer)
{
    return layer->style.name;
}

static const char *glass_of(const struct ww_layer *layer)
{
    return layer->style.glass.name;
}

static const char *resin_of(const struct ww_layer *layer)
{
    return layer->resin.name;
}

/* Is layer i the first of its name? */
static bool is_first(const struct ww_study *study, size_t i, const char *(*name)(const struct ww_layer *))
{
    const struct ww_layer *layer = study->stack.layer;
    for (size_t j = 0; j < i; j++)
        if (strcmp(name(&layer[j]), name(&layer[i])) == 0)
            return false;
    return name(&layer[i])[0] != '\0';
}

static void write_materials(const struct ww_study *study, FILE *stream)
{
    const struct ww_layer *layer = study->stack.layer;
    size_t count = study->stack.count;
    if (study->resin.name[0])
        write_resin(&study->resin, stream);
    for (size_t i = 0; i < count; i++)
        if (is_first(study, i, resin_of) && strcmp(layer[i].resin.name, study->resin.name) != 0)
            write_resin(&layer[i].resin, stream);
    for (size_t i = 0; i < count; i++)
        if (is_first(study, i, style_of))
            write_style(&layer[i].style, stream);
    for (size_t i = 0; i < count; i++)
        if (is_first(study, i, glass_of))
            write_glass(&layer[i].style.glass, stream);
    if (study->copper.name[0])
        write_foil(&study->copper, stream);
}

/* --- the whole ----------------------------------------------------------------------------------------------------------- */

enum ww_status ww_study_write(const struct ww_study *study, FILE *stream, struct ww_error *error)
{
    const char *section = "";
    for (size_t i = 0; i < STUDY_KEYS; i++) {
        if (is_empty_section(study, &ww_study_row[i].key))
            continue;
        if (strcmp(section, ww_study_row[i].key.section) != 0)
            fprintf(stream, "%s[%s]\n", i > 0 ? "\n" : "", ww_study_row[i].key.section);
        section = ww_study_row[i].key.section;
        write_row(study, &ww_study_row[i], stream);
    }
    write_arms(study, stream);
    write_materials(study, stream);
    return check_stream(stream, error);
}

char *ww_study_text(const struct ww_study *study)
{
    char *text = NULL;
    size_t size = 0;
    FILE *stream = open_memstream(&text, &size);
    if (!stream)
        return NULL;
    enum ww_status status = ww_study_write(study, stream, NULL);
    if (fclose(stream) != 0 || status) {
        free(text);
        text = NULL;
    }
    return text;
}

/* --- a study to start from ------------------------------------------------------------------------------------------------ */

static const char *const start_layer[] = {"plane", "ply 1080 100 um", "trace", "ply 1080 100 um", "plane"};

static void start_layers(FILE *stream)
{
    const struct ww_study_form *form = NULL;
    fputs("; A layer is one of:\n", stream);
    for (size_t i = 0; (form = ww_study_form(i)) != NULL; i++)
        fprintf(stream, ";   %s\n", form->form);
    for (size_t i = 0; i < sizeof start_layer / sizeof *start_layer; i++)
        fprintf(stream, "layer = %s\n", start_layer[i]);
}

/* The keys of one material's section as comments, from the table of the stage that reads them. */
static void start_material(FILE *stream, const char *kind, const char *name, bool live)
{
    const struct ww_key_help *key = NULL;
    const char *mark = live ? "" : "; ";
    fprintf(stream, "\n%s[%s %s]\n", mark, kind, name);
    for (size_t i = 0; (key = ww_weaves_key(kind, i)) != NULL; i++)
        fprintf(stream, "%s%s = %s ; %s\n", mark, key->key, key->example, key->help);
}

enum ww_status ww_study_write_start(FILE *stream, struct ww_error *error)
{
    const char *section = "";
    fputs("; A study for weftwise. Every length has its unit; a line that starts with ; is a comment.\n"
          "; weftwise skew FILE tells how much the cloth may skew this trace; weftwise styles lists the cloths.\n",
          stream);
    for (size_t i = 0; i < STUDY_KEYS; i++) {
        const struct ww_study_key *key = &ww_study_row[i].key;
        /* the trace to start from is straight, and nobody knows its tolerances and the scatter of its cloth yet */
        bool none = strcmp(key->section, "route") == 0 || strcmp(key->section, ARM_SECTION) == 0 ||
                    strcmp(key->section, "tolerance") == 0 || strcmp(key->section, "via") == 0;
        bool scatter = ww_study_row_is_scatter(&ww_study_row[i]) || key->kind == WW_STUDY_FILE;
        const char *mark = none || scatter ? "; " : "";
        if (strcmp(section, key->section) != 0)
            fprintf(stream, "\n%s[%s]\n", none ? "; " : "", key->section);
        section = key->section;
        fprintf(stream, "; %s%s\n", key->help,
                key->required    ? ""
                : key->preset[0] ? " (may be left out)"
                                 : " (optional)");
        if (key->kind == WW_STUDY_LAYER)
            start_layers(stream);
        else
            fprintf(stream, "%s%s = %s\n", mark, key->key, key->example);
    }
    start_material(stream, "resin", "low-loss", true);
    fputs("\n; A cloth that weaves/ does not have is described like this, and named in a layer:\n", stream);
    start_material(stream, "style", "T1", false);
    return check_stream(stream, error);
}
