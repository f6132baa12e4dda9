/* build.c - a study made ready to solve: read again from its own text, its stackup built, and its keys as the options and
 * the request of line.h and chance.h.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "study/keys.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Where things stood in the file is not in the text. */
static void keep_lines(struct ww_study *settled, const struct ww_study *study)
{
    snprintf(settled->file, sizeof settled->file, "%s", study->file);
    settled->trace_line = study->trace_line;
    settled->turn_is_assumed = study->turn_is_assumed;
    for (size_t i = 0; i < settled->stack.count && i < study->stack.count; i++)
        settled->stack.layer[i].line = study->stack.layer[i].line;
    for (size_t i = 0; i < STUDY_KEYS; i++) {
        const struct ww_study_row *row = &ww_study_row[i];
        if (row->key.kind == WW_STUDY_TOLERANCE || row->key.kind == WW_STUDY_RANGE)
            ((struct ww_tolerance *)((char *)settled + row->offset))->line =
                ((const struct ww_tolerance *)((const char *)study + row->offset))->line;
    }
}

enum ww_status ww_study_settle(struct ww_study *study, const char *weaves_folder, struct ww_error *error)
{
    struct ww_study settled = {0};
    char *text = ww_study_text(study);
    FILE *stream = text ? fmemopen(text, strlen(text), "r") : NULL;
    enum ww_status status = WW_OK;
    if (!stream) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the study as text");
        goto done;
    }
    status = ww_study_read(&settled, stream, study->file, weaves_folder, NULL, 0, error);
    fclose(stream);
    if (status)
        goto done;
    keep_lines(&settled, study);
    ww_study_clear(study);
    *study = settled;
done:
    free(text);
    return status;
}

enum ww_status ww_study_build(struct ww_study *study, struct ww_error *error)
{
    struct ww_cell_options options = {.fineness = study->fineness};
    ww_stack_clear(&study->stack);
    enum ww_status status = ww_stack_build(&study->stack, &options, error);
    if (status && error && !error->file[0])
        return ww_error_set(error, status, study->file, error->line, "%s", error->text);
    return status;
}

bool ww_study_is_of_real_cloth(const struct ww_study *study)
{
    return study->paths[0] || !ww_scatter_is_none(&study->scatter);
}

enum ww_status ww_study_paths_file(const struct ww_study *study, char *out, size_t size, struct ww_error *error)
{
    const char *slash = strrchr(study->file, '/');
    int folder = slash ? (int)(slash - study->file) + 1 : 0;
    if (study->paths[0] && snprintf(out, size, "%.*s%s", folder, study->file, study->paths) < (int)size)
        return WW_OK;
    out[0] = '\0';
    return ww_error_set(error, WW_INVALID, study->file, 0,
                        study->paths[0] ? "fabric.paths: the path of the file is too long" : "names no fabric.paths");
}

double ww_study_room(const struct ww_study *study)
{
    return study->trace.pitch + 2.0 * study->trace.width;
}

/* A symbol of 2^b levels carries b bits. */
static double symbol_rate(const struct ww_study *study)
{
    return study->levels > 2 ? study->rate / log2((double)study->levels) : study->rate;
}

double ww_study_frequency(const struct ww_study *study)
{
    return study->frequency > 0 ? study->frequency : 0.5 * symbol_rate(study);
}

char *ww_study_counts(const struct ww_study *study, char *out, size_t size)
{
    double warp = 100 * study->warp_tolerance, fill = 100 * study->fill_tolerance;
    out[0] = '\0';
    if (warp == fill && warp > 0)
        snprintf(out, size, "%.3g %%", warp);
    else if (warp > 0 || fill > 0)
        snprintf(out, size, "%.3g %% (warp) and %.3g %% (fill)", warp, fill);
    return out;
}

struct ww_line_options ww_study_line_options(const struct ww_study *study)
{
    return (struct ww_line_options){.fineness = study->fineness,
                                    .frequency = study->dispersion ? ww_study_frequency(study) : 0};
}

struct ww_skew_request ww_study_request(const struct ww_study *study)
{
    return (struct ww_skew_request){.length = study->length,
                                    .angle = study->angle,
                                    .route = study->route,
                                    .segments = study->segments,
                                    .turn = study->turn,
                                    .turn_law = study->turn_law,
                                    .warp_tolerance = study->warp_tolerance,
                                    .fill_tolerance = study->fill_tolerance,
                                    .lanes = study->lanes,
                                    .budget = study->budget,
                                    .conversion = study->conversion < 0 ? ww_from_decibels(study->conversion) : 0,
                                    .frequency = study->frequency,
                                    .rate = symbol_rate(study),
                                    .sections = study->sections,
                                    .scan = {.positions = study->positions,
                                             .averaging = WW_FLIGHT,
                                             .spacing = study->spacing,
                                             .bends = !study->compensated},
                                    .lane_pitch = study->lane_pitch,
                                    .arm = study->arm,
                                    .arms = study->arms};
}

struct ww_doubts_request ww_study_doubts(const struct ww_study *study, double value)
{
    return (struct ww_doubts_request){.stack = &study->stack,
                                      .trace = study->trace,
                                      .line = ww_study_line_options(study),
                                      .skew = ww_study_request(study),
                                      .height_uncertainty = study->height_uncertainty,
                                      .value = value};
}
