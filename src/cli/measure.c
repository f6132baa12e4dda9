/* measure.c - weftwise measure PICTURE: which cloth is on this picture?
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "job.h"
#include "progress.h"
#include "run.h"
#include "show.h"

#include <weftwise/picture.h>
#include <weftwise/report.h>
#include <weftwise/result.h>

#include <stdlib.h>
#include <string.h>

static const double um = 1e-6, mm = 1e-3, degree = WW_PI / 180.0, per_inch = 1.0 / 0.0254, per_cm = 100.0;

/* What the command works on. */
struct measured {
    struct ww_picture_options how;
    struct ww_picture picture;
    struct ww_cloth_picture cloth;
    struct ww_style *like; /* NULL: none */
    char weaves[PATH_SIZE];
    char name[WW_STYLE_NAME_SIZE];
    struct ww_yarn_paths paths;
    char unfollowed[sizeof((struct ww_error *)NULL)
                        ->text]; /* why there are no paths to lay a ply of; "" where there are */
    char closes[sizeof((struct ww_error *)NULL)->text]; /* why the style cannot be used as it is; "" where it can */
};

/* --- what is asked for -------------------------------------------------------------------------------------------------- */

static enum ww_status take_word(const char *option, const char *word, const char *usual, const char *other,
                                bool *is_other, struct ww_error *error)
{
    *is_other = word && strcmp(word, other) == 0;
    if (!word || *is_other || strcmp(word, usual) == 0)
        return WW_OK;
    return ww_error_set(error, WW_INVALID, NULL, 0, "--%s: '%.60s' is not known; give %s or %s", option, word, usual,
                        other);
}

static enum ww_status take_like(struct measured *m, const struct options *options, struct ww_error *error)
{
    struct ww_weaves weaves = {0};
    m->like = calloc(1, sizeof *m->like);
    if (!m->like)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a style");
    enum ww_status status = ww_study_find_weaves(options->weaves, m->weaves, sizeof m->weaves, error);
    if (!status)
        status = ww_weaves_open(&weaves, m->weaves, NULL, error);
    if (!status)
        status = ww_weaves_style(&weaves, options->like, m->like, error);
    ww_weaves_close(&weaves);
    return status;
}

static enum ww_status prepare(struct measured *m, const struct options *options, struct ww_error *error)
{
    enum ww_status status =
        take_word("warp", options->warp, "vertical", "horizontal", &m->how.warp_horizontal, error);
    if (!status)
        status = take_word("light", options->light, "front", "behind", &m->how.light_behind, error);
    if (!status && options->like)
        status = take_like(m, options, error);
    if (!status)
        status = ww_picture_load(&m->picture, options->operand[1], options->scale, error);
    if (status)
        return status;
    (void)ww_picture_style_name(&m->picture, m->name);
    if (!options->name)
        return WW_OK;
    status = ww_picture_check_name(options->name, error);
    if (!status)
        strcpy(m->name, options->name);
    return status;
}

/* --- tables ---------------------------------------------------------------------------------------------------------------- */

static void show_widths(const struct ww_picture_yarns *y)
{
    if (!y->edges_seen && y->blur > 0.0)
        printf("    width        not told: gaps are too narrow for the picture's blur, %.1f um (1 sigma), and its "
               "pixels\n",
               y->blur / um);
    else if (!y->edges_seen)
        puts("    width        its edges do not show");
    if (!y->edges_seen)
        return;
    printf("    width        %.1f um +-%.1f; yarn to yarn %.1f um (1 sigma)\n", y->width.value / um,
           2.0 * y->width.error / um, y->width_scatter / um);
    printf("    gap          %.1f um +-%.1f; gap to gap %.1f um (1 sigma)\n", y->gap.value / um,
           2.0 * y->gap.error / um, y->gap_scatter / um);
}

static void show_wander(const struct ww_picture_yarns *y)
{
    printf("    wander       %.1f um (1 sigma) beyond turn, bow and perspective; each position within %.1f um\n",
           y->wander / um, y->noise / um);
    if (y->correlation_length > 0.0)
        printf("    correlation  gone to 1/e after %.2g mm along the yarn; of neighbours %.2f\n",
               y->correlation_length / mm, y->together);
    else
        printf("    correlation  not told: longer than a quarter of the %.3g mm followed, or lost in noise\n",
               y->span / mm);
}

static void show_yarns(const char *name, const struct ww_picture_yarns *y)
{
    printf("\n  %s, %zu yarns\n", name, y->yarns);
    printf("    count        %.2f /in, %.2f /cm\n", 1.0 / y->pitch.value / per_inch, 1.0 / y->pitch.value / per_cm);
    printf("    pitch        %.2f um +-%.2g\n", y->pitch.value / um, 2.0 * y->pitch.error / um);
    printf("    turn         %.3f deg +-%.2g\n", y->turn.value / degree, 2.0 * y->turn.error / degree);
    show_widths(y);
    show_wander(y);
}

static void show(const struct job *job, const void *result)
{
    const struct measured *m = result;
    const struct ww_cloth_picture *cloth = &m->cloth;
    printf("%s: %.4g by %.4g mm, a pixel %.4g um (%s)\n", m->picture.file, cloth->lx / mm, cloth->ly / mm,
           m->picture.pixel / um, m->picture.from);
    show_yarns("warp", &cloth->warp);
    show_yarns("fill", &cloth->fill);
    printf("\n  warp to fill  %.3f deg +-%.2g\n", cloth->between.value / degree, 2.0 * cloth->between.error / degree);
    puts("  +- is twice the standard uncertainty, that of the scale aside.");
    if (m->closes[0])
        paragraph(printf("  style.ini"), 16, m->closes);
    if (m->unfollowed[0])
        paragraph(printf("  paths.ini"), 16, m->unfollowed);
    else
        printf("  paths.ini     %zu warp by %zu fill yarns, for a ply of this very cloth\n",
               m->paths.of[WW_WARP].count, m->paths.of[WW_FILL].count);
    show_files(job);
}

/* --- files ------------------------------------------------------------------------------------------------------------------ */

static enum ww_status write_json(FILE *stream, const struct job *job, const void *result, struct ww_error *error)
{
    const struct measured *m = result;
    return ww_result_picture_json(stream, &m->picture, &m->cloth, m->name, job->options->like, error);
}

static enum ww_status write_style(FILE *stream, const struct job *job, const void *result, struct ww_error *error)
{
    const struct measured *m = result;
    (void)job;
    return ww_picture_write_style(stream, &m->cloth, &m->picture, m->name, m->like, error);
}

static enum ww_status write_paths(FILE *stream, const struct job *job, const void *result, struct ww_error *error)
{
    const struct measured *m = result;
    (void)job;
    return ww_yarn_paths_write(stream, &m->paths, error);
}

/* A picture may be good for figures of its cloth and too small, or too large, for a ply of it. */
static enum ww_status save_paths(struct job *job, struct measured *m, struct ww_error *error)
{
    struct ww_error why = {0};
    enum ww_status status = ww_picture_paths(&m->paths, &m->cloth, &m->picture, &why);
    if (!status)
        return job_save(job, "paths", "ini", write_paths, m, error);
    if (status != WW_INVALID)
        return ww_error_set(error, status, why.file, 0, "%s", why.text);
    (void)snprintf(m->unfollowed, sizeof m->unfollowed, "not written: %.600s", why.text);
    return WW_OK;
}

/* Is the style that was written one that a study can use? Else why not. */
static enum ww_status read_back(struct measured *m, const char *path, struct ww_error *error)
{
    struct ww_settings settings = {0};
    struct ww_weaves weaves = {0};
    struct ww_error why = {0};
    if (!m->like) {
        strcpy(m->closes,
               "lacks what no picture shows: fill in its yarns, thickness and glass, or give --like STYLE");
        return WW_OK;
    }
    enum ww_status status = ww_settings_load(&settings, path, error);
    if (!status)
        status = ww_weaves_open(&weaves, m->weaves, &settings, error);
    enum ww_status usable = status ? WW_OK : ww_weaves_style(&weaves, m->name, m->like, &why);
    if (usable == WW_NO_MEMORY || usable == WW_IO)
        status = ww_error_set(error, usable, why.file, why.line, "%s", why.text);
    else if (usable)
        (void)snprintf(m->closes, sizeof m->closes, "cannot be used as it is: %.600s", why.text);
    ww_weaves_close(&weaves);
    ww_settings_clear(&settings);
    return status;
}

static enum ww_status save(struct job *job, struct measured *m, struct ww_error *error)
{
    enum ww_status status = job_make_folder(job, error);
    if (!status)
        status = job_save(job, "style", "ini", write_style, m, error);
    if (!status)
        status = read_back(m, job->path, error);
    if (!status)
        status = save_paths(job, m, error);
    if (!status)
        status = job_save(job, "measure", "json", write_json, m, error);
    if (!status)
        status = job_kept(
            job, ww_figure_draw_picture(job_figure_path(job, "yarns"), &job->figure, &m->picture, &m->cloth, error),
            error);
    if (!status)
        status = job_kept(
            job, ww_figure_draw_picture_spectrum(job_figure_path(job, "spectrum"), &job->figure, &m->cloth, error),
            error);
    return status;
}

enum outcome measure_run(const struct options *options)
{
    struct job *job = calloc(1, sizeof *job);
    struct measured *m = calloc(1, sizeof *m);
    struct ww_error error = {0};
    enum ww_status status = WW_OK;
    if (!job || !m) {
        (void)ww_error_set(&error, WW_NO_MEMORY, NULL, 0, "no memory for a picture");
        free(job);
        free(m);
        return fail(&error);
    }
    progress_start(!options->quiet);
    progress_step("reading the picture");
    status = prepare(m, options, &error);
    if (!status)
        status = job_open_plain(job, options, "Cloth measured from its picture", &error);
    if (!status) {
        progress_step("following the yarns");
        status = ww_picture_measure(&m->cloth, &m->picture, &m->how, &error);
    }
    if (!status) {
        char file[300];
        (void)snprintf(job->caption, sizeof job->caption, "%s, %.4g \xc2\xb5m a pixel (%s)",
                       ww_text_printable(file, sizeof file, m->picture.file), m->picture.pixel / um, m->picture.from);
        status = save(job, m, &error);
    }
    progress_end();
    if (!status)
        status = job_print(job, write_json, show, m, &error);
    ww_cloth_picture_clear(&m->cloth);
    ww_picture_clear(&m->picture);
    ww_yarn_paths_clear(&m->paths);
    free(m->like);
    free(m);
    enum outcome outcome = job_finish(job, status, false, &error);
    free(job);
    return outcome;
}
