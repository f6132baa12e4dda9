/* job.c - a study at work: read, made ready, and where its files go.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "job.h"

#include "progress.h"

#include <weftwise/result.h>

#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

enum { TEXT_SIZE = 48, SUBJECT_SIZE = 80 };

/* --- the study ---------------------------------------------------------------------------------------------------------- */

/* "out/" and the name of the study's file, without folders and ending. */
static enum ww_status choose_folder(struct job *job, struct ww_error *error)
{
    const char *path = job->study.file, *slash = strrchr(path, '/');
    const char *name = slash ? slash + 1 : path, *dot = strrchr(name, '.');
    size_t length = dot && dot > name ? (size_t)(dot - name) : strlen(name);
    int used = job->options->folder ? snprintf(job->folder, sizeof job->folder, "%s", job->options->folder)
                                    : snprintf(job->folder, sizeof job->folder, "out/%.*s", (int)length, name);
    if (used >= 0 && used < PATH_SIZE - SUBJECT_SIZE)
        return WW_OK;
    return ww_error_set(error, WW_INVALID, NULL, 0,
                        "the path of the output folder is %d bytes long, and at most %d are taken; give -o DIR", used,
                        PATH_SIZE - SUBJECT_SIZE - 1);
}

/* Append to the conditions; what does not fit is cut. */
static void WW_PRINTF(2, 3) add(struct job *job, const char *format, ...)
{
    size_t used = strlen(job->conditions);
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(job->conditions + used, sizeof job->conditions - used, format, arguments);
    va_end(arguments);
}

/* "1080 100 um + 1080 100 um; pair 100 um wide, 220 um pitch; 50 mm at 0 deg from the warp" */
static void describe(struct job *job)
{
    const struct ww_study *study = &job->study;
    char width[TEXT_SIZE], pitch[TEXT_SIZE], length[TEXT_SIZE], angle[TEXT_SIZE], thickness[TEXT_SIZE];
    for (size_t i = 0; i < study->stack.plies; i++) {
        const struct ww_layer *layer = &study->stack.layer[study->stack.ply[i].layer];
        add(job, "%s%s %s", i > 0 ? " + " : "", layer->style.name,
            ww_number_format(thickness, sizeof thickness, layer->thickness, WW_LENGTH, 6));
    }
    ww_number_format(width, sizeof width, study->trace.width, WW_LENGTH, 6);
    ww_number_format(pitch, sizeof pitch, study->trace.pitch, WW_LENGTH, 6);
    ww_number_format(length, sizeof length, study->length, WW_LENGTH, 6);
    ww_number_format(angle, sizeof angle, study->angle, WW_ANGLE, 6);
    bool turned = study->angle != 0.0;
    const char *joint = study->stack.plies > 0 ? "; " : "no cloth; ";
    if (study->trace.pitch > 0.0)
        add(job, "%spair %s wide, %s pitch", joint, width, pitch);
    else
        add(job, "%strace %s wide", joint, width);
    if (study->pieces > 0)
        add(job, "; route of %zu pieces, %s%s%s", study->pieces, length, turned ? ", turned by " : "",
            turned ? angle : "");
    else
        add(job, "; %s at %s from the warp", length, angle);
}

/* Is text[0] behind a whole word? */
static bool word_ends(char next)
{
    return next == '\0' || strchr(" ;,:.)", next) != NULL;
}

void job_typeset(const char *plain, char *out, size_t size)
{
    static const struct {
        const char *typed, *set;
    } sign[] = {{" um", " \xc2\xb5m"}, {" deg", "\xc2\xb0"}};
    size_t used = 0;
    for (const char *at = plain; *at && used + 4 < size;) {
        const char *put = NULL;
        for (size_t i = 0; i < sizeof sign / sizeof *sign && !put; i++) {
            size_t length = strlen(sign[i].typed);
            if (strncmp(at, sign[i].typed, length) == 0 && word_ends(at[length])) {
                put = sign[i].set;
                at += length;
            }
        }
        if (!put)
            out[used++] = *at++;
        for (; put && *put; put++)
            out[used++] = *put;
    }
    out[used] = '\0';
}

/* The conditions as a caption. */
static void typeset(struct job *job)
{
    char plain[sizeof job->conditions + sizeof job->pitch_note + 2];
    snprintf(plain, sizeof plain, "%s%s%s", job->conditions, job->pitch_note[0] ? "; " : "", job->pitch_note);
    job_typeset(plain, job->caption, sizeof job->caption);
}

/* Copper edges lie on the grid's nodes: where width and pitch share no step, the nearest pitch that does was solved. */
static void note_pitch(struct job *job, double solved)
{
    const double silent = 1e-9; /* [m] */
    char number[TEXT_SIZE], away[TEXT_SIZE];
    double given = job->study.trace.pitch;
    if (given <= 0.0 || fabs(solved - given) <= silent)
        return;
    snprintf(job->pitch_note, sizeof job->pitch_note, "pitch solved on the grid: %s, %s from the one given",
             ww_number_format(number, sizeof number, solved, WW_LENGTH, 6),
             ww_number_format(away, sizeof away, fabs(solved - given), WW_LENGTH, 2));
    typeset(job);
}

struct ww_line_summary job_line(struct job *job, const struct ww_line *line, const struct ww_skew *skew)
{
    struct ww_line_summary summary = *ww_line_summary(line);
    note_pitch(job, summary.pitch);
    summary.delay = skew->mean_delay / job->study.length;
    summary.dk_eff = summary.delay * WW_C0 * (summary.delay * WW_C0);
    if (skew->pair)
        summary.dk_odd = summary.dk_eff;
    return summary;
}

enum ww_status job_open(struct job *job, const struct options *options, struct ww_error *error)
{
    char weaves[PATH_SIZE];
    job->options = options;
    enum ww_status status = ww_study_find_weaves(options->weaves, weaves, sizeof weaves, error);
    if (!status)
        status =
            ww_study_load(&job->study, options->operand[1], weaves, options->assignment, options->assignments, error);
    if (status)
        return status;
    status = choose_folder(job, error);
    if (!status)
        status = ww_study_settle(&job->study, weaves, error);
    if (status)
        return status;
    progress_step("weaving the cloth");
    status = ww_study_build(&job->study, error);
    if (status)
        return status;
    job->text = ww_study_text(&job->study);
    if (!job->text)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the study as text");
    describe(job);
    typeset(job);
    job->figure = (struct ww_figure_options){.format = options->format,
                                             .width = options->width,
                                             .dpi = options->dpi,
                                             .title = job->study.title,
                                             .conditions = job->caption,
                                             .study = job->text};
    return WW_OK;
}

void job_close(struct job *job)
{
    progress_end();
    ww_study_clear(&job->study);
    free(job->text);
    for (size_t i = 0; i < job->files; i++)
        free(job->file[i]);
    job->text = NULL;
    job->files = 0;
}

enum ww_status job_check_gate(const struct job *job, struct ww_error *error)
{
    if (!job->options->gate || job->study.budget > 0.0)
        return WW_OK;
    return ww_error_set(error, WW_INVALID, job->study.file, 0,
                        "--gate needs a budget to judge by; add 'budget = 2 ps' to [signal]");
}

bool job_over(const struct job *job, double worst_with_turn)
{
    return job->options->gate && !(worst_with_turn <= job->study.budget);
}

enum ww_status job_place(const struct job *job, enum ww_status status, struct ww_error *error)
{
    if (!status || error->file[0])
        return status;
    bool of_study = status == WW_INVALID || status == WW_UNPHYSICAL;
    int line = error->line > 0 ? error->line : job->study.trace_line;
    return of_study ? ww_error_set(error, status, line > 0 ? job->study.file : "--set", line, "%s", error->text)
                    : status;
}

/* --- files ---------------------------------------------------------------------------------------------------------------- */

enum ww_status job_make_folder(struct job *job, struct ww_error *error)
{
    return ww_folder_make(job->folder, error);
}

enum ww_status job_begin(struct job *job, struct ww_error *error, const char *ending, const char *name, ...)
{
    char base[SUBJECT_SIZE], step[SUBJECT_SIZE + 16];
    va_list arguments;
    va_start(arguments, name);
    vsnprintf(base, sizeof base, name, arguments);
    va_end(arguments);
    snprintf(step, sizeof step, "writing %s.%s", base, ending);
    progress_step(step);
    int length = snprintf(job->path, sizeof job->path, "%s/%s.%s", job->folder, base, ending);
    if (length > 0 && (size_t)length < sizeof job->path)
        return WW_OK;
    return ww_error_set(error, WW_INVALID, job->folder, 0, "the path of %s.%s is too long; give a shorter -o DIR",
                        base, ending);
}

enum ww_status job_end(struct job *job, enum ww_status status, struct ww_error *error)
{
    if (status && error && !error->file[0])
        return ww_error_set(error, status, job->path, 0, "%s", error->text);
    if (status || job->files == FILES_MOST)
        return status;
    job->file[job->files] = strdup(strrchr(job->path, '/') + 1);
    if (!job->file[job->files])
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the list of files");
    job->files++;
    return WW_OK;
}

enum ww_status job_save_map(struct job *job, const char *name, const struct ww_map *map, const char *quantity,
                            const char *unit, struct ww_error *error)
{
    enum ww_status status = job_begin(job, error, "npy", "%s", name);
    if (!status)
        status = job_end(job, ww_result_npy(job->path, map, error), error);
    if (!status)
        status = job_begin(job, error, "png", "%s-data", name);
    if (!status)
        status = job_end(job, ww_result_grey_png(job->path, map, quantity, unit, job->text, error), error);
    return status;
}

/* --- the Dk of each ply ----------------------------------------------------------------------------------------------------- */

void job_subject(const struct job *job, size_t ply, char *out, size_t size)
{
    const struct ww_stack *stack = &job->study.stack;
    snprintf(out, size, "ply %zu, %s", ply + 1, stack->layer[stack->ply[ply].layer].style.name);
}

void job_starts(const struct job *job, const double (*start)[2], char *out, size_t size)
{
    size_t used = 0;
    out[0] = '\0';
    for (size_t i = 0; i < job->study.stack.plies && used < size; i++) {
        char subject[SUBJECT_SIZE];
        job_subject(job, i, subject, sizeof subject);
        used += (size_t)snprintf(out + used, size - used, "%s(%.0f, %.0f) \xc2\xb5m on %s", i ? "; " : "starts at ",
                                 start[i][0] * 1e6, start[i][1] * 1e6, subject);
    }
}

static enum ww_status draw_dk(struct job *job, size_t index, const double start[2], const struct ww_map *dk,
                              struct ww_error *error)
{
    const struct ww_ply *ply = &job->study.stack.ply[index];
    char subject[SUBJECT_SIZE], name[SUBJECT_SIZE];
    struct ww_footprint trace = {.width = job->study.trace.width,
                                 .pitch = job->study.trace.pitch,
                                 .angle = job->study.angle - ply->turn,
                                 .x = start[0],
                                 .y = start[1],
                                 .route = job->study.route,
                                 .pieces = job->study.pieces};
    struct ww_figure_dk content = {.subject = subject,
                                   .dk = dk,
                                   .warp_pitch = 0.5 * ply->cell.lx,
                                   .fill_pitch = 0.5 * ply->cell.ly,
                                   .trace = &trace};
    job_subject(job, index, subject, sizeof subject);
    snprintf(name, sizeof name, "dk-ply%zu", index + 1);
    enum ww_status status = job_begin(job, error, ww_figure_format_name(job->figure.format), "%s", name);
    if (!status)
        status = job_end(job, ww_figure_draw_dk(job->path, &job->figure, &content, error), error);
    if (!status)
        status = job_save_map(job, name, dk, "Dk", "", error);
    return status;
}

enum ww_status job_draw_dk(struct job *job, const double (*start)[2], struct ww_error *error)
{
    static const double edge[2] = {0.0, 0.0};
    enum ww_status status = WW_OK;
    for (size_t i = 0; i < job->study.stack.plies && !status; i++) {
        struct ww_map dk = {0};
        status = ww_ply_dk_map(&job->study.stack.ply[i], WW_SERIES, &dk, error);
        if (!status)
            status = draw_dk(job, i, start ? start[i] : edge, &dk, error);
        ww_map_clear(&dk);
    }
    return status;
}
