/* job.c - a study at work: read, made ready, and where its files go.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "job.h"

#include "files.h"
#include "progress.h"
#include "work.h"

#include <weftwise/report.h>
#include <weftwise/result.h>

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <unistd.h>

enum { SUBJECT_SIZE = 80 };

/* --- the study ---------------------------------------------------------------------------------------------------------- */

/* "out/" and the name of the study's file, without folders and ending. The report has a folder of its own in it: its parts are
 * quicker and coarser than those of the other commands, and must not take their place. */
static enum ww_status choose_folder(struct job *job, struct ww_error *error)
{
    const char *path = job->study.file, *slash = strrchr(path, '/');
    const char *name = slash ? slash + 1 : path, *dot = strrchr(name, '.');
    size_t length = dot && dot > name + strspn(name, ".") ? (size_t)(dot - name) : strlen(name);
    const char *below = strcmp(job->options->operand[0], "report") == 0 ? "/report" : "";
    int used = job->options->folder
                   ? snprintf(job->folder, sizeof job->folder, "%s%s", job->options->folder, below)
                   : snprintf(job->folder, sizeof job->folder, "out/%.*s%s", (int)length, name, below);
    if (used >= 0 && used < PATH_SIZE - FILE_NAME_SIZE)
        return WW_OK;
    return ww_error_set(error, WW_INVALID, NULL, 0,
                        "the path of the output folder is %d bytes long, and at most %d are taken; give -o DIR", used,
                        PATH_SIZE - FILE_NAME_SIZE - 1);
}

/* The caption of figures: the conditions, and the pitch solved where it is not the one given. */
static void write_caption(struct job *job)
{
    char plain[sizeof job->conditions + sizeof job->pitch_note + 2];
    snprintf(plain, sizeof plain, "%s%s%s", job->conditions, job->pitch_note[0] ? "; " : "", job->pitch_note);
    ww_words_typeset(plain, job->caption, sizeof job->caption);
}

void job_note_pitch(struct job *job, const struct ww_line_summary *line)
{
    ww_words_pitch_solved(&job->study, line, job->pitch_note, sizeof job->pitch_note);
    write_caption(job);
}

/* "resin low-loss.dk=3.2" -> whether the resin is of that name. */
static bool sets_dk(const char *assignment, const char *resin)
{
    static const char kind[] = "resin ", key[] = ".dk";
    size_t length = strlen(resin);
    const char *at = assignment + sizeof kind - 1;
    if (strncmp(assignment, kind, sizeof kind - 1) != 0 || strncmp(at, resin, length) != 0 ||
        strncmp(at + length, key, sizeof key - 1) != 0)
        return false;
    at += length + sizeof key - 1;
    return at[strspn(at, " \t")] == '=';
}

/* The ply from whose sheet the resin's Dk is solved; NULL: the given one counts in some layer. */
static const struct ww_layer *solved_on(const struct ww_study *study, const char *resin)
{
    const struct ww_layer *solved = NULL;
    for (size_t i = 0; i < study->stack.count; i++) {
        const struct ww_layer *layer = &study->stack.layer[i];
        bool plain = layer->kind == WW_LAYER_RESIN && strcmp(study->resin.name, resin) == 0;
        bool ply = layer->kind == WW_LAYER_PLY && strcmp(layer->resin.name, resin) == 0;
        if (plain || (ply && !(layer->sheet_dk > 0.0)))
            return NULL;
        if (ply)
            solved = layer;
    }
    return solved;
}

/* What was set in vain: a resin's Dk where every ply of it has that of a sheet. */
static void note_idle(const struct job *job)
{
    const struct ww_study *study = &job->study;
    for (size_t i = 0; i < job->options->assignments && !job->options->quiet; i++)
        for (size_t k = 0; k < study->stack.count; k++) {
            const char *resin = study->stack.layer[k].resin.name;
            if (!resin[0] || !sets_dk(job->options->assignment[i], resin) || !solved_on(study, resin))
                continue;
            fprintf(
                stderr,
                "weftwise: note: --set 'resin %s.dk' has no effect on the cloth: ply %s has the sheet's dk=, from "
                "which its resin's is solved; it counts only where resin lies beside the copper\n",
                resin, solved_on(study, resin)->style.name);
            break;
        }
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
        status = files_check(job->folder, error);
    if (!status)
        status = ww_study_settle(&job->study, weaves, error);
    if (status)
        return status;
    progress_step("weaving the cloth");
    status = ww_study_build(&job->study, error);
    if (status)
        return status;
    note_idle(job);
    work_note(job);
    job->text = ww_study_text(&job->study);
    if (!job->text)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the study as text");
    bool one_board = strcmp(options->operand[0], "cloth") == 0; /* its traces share their cloth */
    ww_words_conditions(&job->study, one_board, job->conditions, sizeof job->conditions);
    write_caption(job);
    job->figure = (struct ww_figure_options){.format = options->format,
                                             .width = options->width,
                                             .dpi = options->dpi,
                                             .frequency = job->study.frequency,
                                             .title = job->study.title,
                                             .conditions = job->caption,
                                             .study = job->text};
    return WW_OK;
}

enum ww_status job_open_plain(struct job *job, const struct options *options, const char *title,
                              struct ww_error *error)
{
    job->options = options;
    (void)snprintf(job->study.file, sizeof job->study.file, "%s", options->operand[1]);
    (void)snprintf(job->study.title, sizeof job->study.title, "%s", title);
    enum ww_status status = choose_folder(job, error);
    if (!status)
        status = files_check(job->folder, error);
    job->figure = (struct ww_figure_options){.format = options->format,
                                             .width = options->width,
                                             .dpi = options->dpi,
                                             .title = job->study.title,
                                             .conditions = job->caption};
    return status;
}

enum ww_status job_check_gate(const struct job *job, struct ww_error *error)
{
    if (!job->options->gate || job->study.budget > 0.0 || job->study.conversion < 0.0)
        return WW_OK;
    return ww_error_set(
        error, WW_INVALID, job->study.file, 0,
        "--gate needs a budget to judge by; add 'budget = 2 ps' to [signal], or of a pair 'conversion = -20 dB'");
}

bool job_over(const struct job *job, double worst_with_turn, const struct ww_conversion *conversion)
{
    const struct ww_study *study = &job->study;
    bool skew = study->budget > 0.0 && !(worst_with_turn <= study->budget);
    bool converts = study->conversion < 0.0 && !(conversion->worst_with_turn <= ww_study_request(study).conversion);
    return job->options->gate && (skew || converts);
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

/* The lock is the system's, on the open folder: it leaves nothing behind, whatever ends the run. Where there are none (some
 * network file systems) nothing is held. */
static void hold_folder(struct job *job)
{
    int folder = open(job->folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (folder < 0)
        return; /* writing will tell */
    if (flock(folder, LOCK_EX | LOCK_NB) != 0 && errno == EWOULDBLOCK) {
        char shown[PATH_SIZE];
        progress_end();
        fprintf(stderr, "weftwise: note: waits for another run that writes to %s\n",
                ww_text_printable(shown, sizeof shown, job->folder));
        while (flock(folder, LOCK_EX) != 0 && errno == EINTR)
            ;
    }
    job->held = folder;
}

enum ww_status job_make_folder(struct job *job, struct ww_error *error)
{
    enum ww_status status = ww_folder_make(job->folder, error);
    if (status)
        return status;
    hold_folder(job);
    ww_folder_tidy(job->folder);
    files_remove(job->options->operand[0], job->folder);
    return WW_OK;
}

const char *job_path(struct job *job, const char *name, const char *ending)
{
    char step[FILE_NAME_SIZE + 16];
    snprintf(step, sizeof step, "writing %s.%s", name, ending);
    progress_step(step);
    snprintf(job->path, sizeof job->path, "%s/%s.%s", job->folder, name, ending);
    return job->path;
}

const char *job_figure_path(struct job *job, const char *name)
{
    return job_path(job, name, ww_figure_format_name(job->figure.format));
}

enum ww_status job_kept(struct job *job, enum ww_status status, struct ww_error *error)
{
    if (status && error && !error->file[0])
        return ww_error_set(error, status, job->path, 0, "%s", error->text);
    if (status || job->files == FILES_MOST)
        return status;
    const char *name = strrchr(job->path, '/') + 1, *by = job->options->operand[0];
    if (!files_owned(by, name))
        return ww_error_set(error, WW_INVALID, job->path, 0,
                            "is not listed as a file of '%s'; add it to src/cli/files.c", by);
    job->file[job->files] = strdup(name);
    if (!job->file[job->files])
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the list of files");
    job->files++;
    return WW_OK;
}

enum ww_status job_save(struct job *job, const char *name, const char *ending, job_writer *write, const void *result,
                        struct ww_error *error)
{
    struct ww_output output = {0};
    enum ww_status status = ww_output_open(&output, job_path(job, name, ending), error);
    if (!status)
        status = write(output.stream, job, result, error);
    if (!status)
        status = ww_output_commit(&output, error);
    ww_output_discard(&output);
    return job_kept(job, status, error);
}

/* All files are there: a reader of the results that is slow keeps nobody waiting. */
static void let_folder_go(struct job *job)
{
    if (job->held > 0)
        (void)close(job->held);
    job->held = 0;
}

enum ww_status job_print(struct job *job, job_writer *json, job_shower *show, const void *result,
                         struct ww_error *error)
{
    let_folder_go(job);
    if (job->options->json)
        return json(stdout, job, result, error);
    if (!job->options->quiet)
        show(job, result);
    return WW_OK;
}

static void job_close(struct job *job)
{
    progress_end();
    let_folder_go(job);
    ww_study_clear(&job->study);
    free(job->text);
    for (size_t i = 0; i < job->files; i++)
        free(job->file[i]);
    job->text = NULL;
    job->files = 0;
}

enum outcome job_finish(struct job *job, enum ww_status status, bool over, const struct ww_error *error)
{
    job_close(job);
    if (status)
        return fail(error);
    enum outcome outcome = finish_output();
    return outcome ? outcome : over ? OVER_BUDGET : DONE;
}

enum ww_status job_save_map(struct job *job, const char *name, const struct ww_map *map, const char *quantity,
                            const char *unit, struct ww_error *error)
{
    char picture[FILE_NAME_SIZE];
    snprintf(picture, sizeof picture, "%s-data", name);
    enum ww_status status = job_kept(job, ww_result_npy(job_path(job, name, "npy"), map, error), error);
    if (!status)
        status = job_kept(
            job, ww_result_grey_png(job_path(job, picture, "png"), map, quantity, unit, job->text, error), error);
    return status;
}

/* --- the Dk of each ply ----------------------------------------------------------------------------------------------------- */

void job_starts(const struct job *job, const double (*start)[2], char *out, size_t size)
{
    size_t used = 0;
    out[0] = '\0';
    for (size_t i = 0; i < job->study.stack.plies && used < size; i++) {
        char subject[SUBJECT_SIZE];
        ww_words_ply(&job->study, i, subject, sizeof subject);
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
                                 .segments = job->study.segments};
    struct ww_figure_dk content = {.subject = subject,
                                   .dk = dk,
                                   .warp_pitch = 0.5 * ply->cell.lx,
                                   .fill_pitch = 0.5 * ply->cell.ly,
                                   .trace = &trace};
    ww_words_ply(&job->study, index, subject, sizeof subject);
    snprintf(name, sizeof name, "dk-ply%zu", index + 1);
    enum ww_status status =
        job_kept(job, ww_figure_draw_dk(job_figure_path(job, name), &job->figure, &content, error), error);
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
