/* cli/job.h - a study at work: read, made ready, and where its files go.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CLI_JOB_H
#define CLI_JOB_H

#include "options.h"

#include <weftwise/figure.h>
#include <weftwise/study.h>

enum { PATH_SIZE = 4096, FILE_NAME_SIZE = 80, FILES_MOST = 2048 }; /* of a folder, of a file's name in it */

/* Zeroed is valid and empty. */
struct job {
    const struct options *options;
    struct ww_study study; /* built */
    char *text;            /* the whole effective study */
    char conditions[512];
    char pitch_note[128]; /* "" where the pitch solved is the one given */
    char caption[1024];   /* both, as figures carry them */
    char folder[PATH_SIZE];
    char path[PATH_SIZE + 2 * FILE_NAME_SIZE]; /* of the file at hand */
    char *file[FILES_MOST];                    /* names of those written, in order */
    size_t files;
    int held; /* the folder, while its files are written; 0: none */
    struct ww_figure_options figure;
};

/* Read and build the study of the command line, and see that its folder can be written to. job_finish in any case. */
enum ww_status job_open(struct job *job, const struct options *options, struct ww_error *error);
/* The same for a command whose operand is a file without a study: its folder and its figures, title given. */
enum ww_status job_open_plain(struct job *job, const struct options *options, const char *title,
                              struct ww_error *error);
/* --gate: WW_INVALID where the study lacks a budget to judge by, of skew or conversion; before any long work. */
enum ww_status job_check_gate(const struct job *job, struct ww_error *error);
/* Is the worst skew or the worst conversion, turn of the cloth included, over its budget, and is this asked for? */
bool job_over(const struct job *job, double worst_with_turn, const struct ww_conversion *conversion);
/* Make the folder for the files, hold it until job_finish, and remove from it those of an earlier run of the same command. Where
 * another run holds it, says so and waits: files of two runs would be mixed. */
enum ww_status job_make_folder(struct job *job, struct ww_error *error);
/* A cross-section that cannot be solved as it is given is a matter of the study: say where. Passes status on. */
enum ww_status job_place(const struct job *job, enum ww_status status, struct ww_error *error);
/* Notes in the caption a pitch that was moved to the grid. */
void job_note_pitch(struct job *job, const struct ww_line_summary *line);
/* --- files, saved into the folder --- */

/* The path of the file NAME.ENDING, and of a figure; good until the next one. Progress tells that it is written. */
const char *job_path(struct job *job, const char *name, const char *ending);
const char *job_figure_path(struct job *job, const char *name);
/* The file of job_path is saved, or it failed: keep its name for the list, or put it into the message. Passes status on. */
enum ww_status job_kept(struct job *job, enum ww_status status, struct ww_error *error);
/* Writes what a command found to a stream, in one form; shows it as tables on standard output. */
typedef enum ww_status job_writer(FILE *stream, const struct job *job, const void *result, struct ww_error *error);
typedef void job_shower(const struct job *job, const void *result);
/* Save NAME.ENDING through a writer. */
enum ww_status job_save(struct job *job, const char *name, const char *ending, job_writer *write, const void *result,
                        struct ww_error *error);
/* The result on standard output, as the command line wants it: as JSON, as tables, or not at all. Files are complete by then. */
enum ww_status job_print(struct job *job, job_writer *json, job_shower *show, const void *result,
                         struct ww_error *error);
/* Close the job, with a message where it failed; the exit status. over: is it over the budget, with --gate? */
enum outcome job_finish(struct job *job, enum ww_status status, bool over, const struct ww_error *error);

/* "starts at (109, 151) µm on ply 1, 1080; ..." */
void job_starts(const struct job *job, const double (*start)[2], char *out, size_t size);
/* The Dk map of each ply with the trace on it, as figure and as data. start: where the trace begins on each, in the
 * ply's own frame; NULL: along the edge of the cell. */
enum ww_status job_draw_dk(struct job *job, const double (*start)[2], struct ww_error *error);
/* A map as data: NAME.npy and NAME-data.png. */
enum ww_status job_save_map(struct job *job, const char *name, const struct ww_map *map, const char *quantity,
                            const char *unit, struct ww_error *error);

#endif
