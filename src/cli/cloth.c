/* cloth.c - weftwise cloth STUDY: what will a long trace see of cloth whose yarns wander?
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "boards.h"
#include "progress.h"
#include "run.h"
#include "show.h"

#include <weftwise/patch.h>
#include <weftwise/result.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    SENTENCE_SIZE = 1024,
    SUBJECT_SIZE = 256,
    NUMBER_SIZE = 48,
    DK_ALONG = 900,
    DK_ACROSS = 260,
    ALIKE_EVERY = 4,
    MOST_ALIKE = 12
};
static const double ps = 1e-12, um = 1e-6, degree = WW_PI / 180.0;

/* What the command works on. */
struct cloths {
    struct ww_real real;
    struct ww_yarn_paths paths; /* where the study has them */
};

/* --- solving --------------------------------------------------------------------------------------------------------------- */

static enum ww_status check(const struct job *job, struct ww_error *error)
{
    const struct ww_study *study = &job->study;
    if (!ww_study_is_of_real_cloth(study))
        return ww_error_set(
            error, WW_INVALID, study->file, 0,
            "the study's cloth is perfect: its skew is what 'weftwise skew' tells; say how its yarns wander, as in "
            "'wander = 40 um' in [fabric], or give a picture's, as in 'paths = paths.ini'");
    if (study->paths[0] && job->options->nets > 0)
        return ww_error_set(error, WW_INVALID, study->file, 0,
                            "--nets is of whole panels, and the study's cloth is that of a picture; leave it out");
    if (study->paths[0] && study->segments > 0)
        return ww_error_set(error, WW_INVALID, study->file, 0,
                            "over a picture's cloth a trace is straight, and the study has a [route]; give [trace] "
                            "length and angle instead");
    if (study->segments > 0 && job->options->to_length > 0.0)
        return ww_error_set(error, WW_INVALID, study->file, 0,
                            "--to-length: the study has a [route], which is told over its own length; leave it out");
    if (job->options->to_length > 0.0 && job->options->to_length < study->length)
        return ww_error_set(error, WW_INVALID, study->file, 0,
                            "--to-length: it is shorter than the trace; leave it out");
    if (job->options->gate && !(study->budget > 0.0))
        return ww_error_set(error, WW_INVALID, study->file, 0,
                            "--gate needs a budget to judge by; add 'budget = 2 ps' to [signal]");
    return WW_OK;
}

static enum ww_status load_paths(struct ww_yarn_paths *paths, const struct ww_study *study, struct ww_error *error)
{
    char path[PATH_SIZE];
    if (!study->paths[0])
        return WW_OK;
    enum ww_status status = ww_study_paths_file(study, path, sizeof path, error);
    return status ? status : ww_yarn_paths_load(paths, path, error);
}

static enum ww_status solve(struct job *job, struct cloths *cloths, struct ww_error *error)
{
    const struct ww_study *study = &job->study;
    const struct ww_line_options options = ww_study_line_options(study);
    struct ww_real_request request = boards_request(job);
    struct ww_line *line = NULL;
    enum ww_status status = load_paths(&cloths->paths, study, error);
    if (status)
        return status;
    request.paths = study->paths[0] ? &cloths->paths : NULL;
    progress_step("solving the cross-section");
    status = ww_line_create(&line, &study->stack, &study->trace, &options, error);
    if (!status)
        job_note_pitch(job, ww_line_summary(line));
    progress_step(request.paths ? "walking along traces over the picture's cloth"
                                : "walking along traces over boards drawn at random");
    if (!status)
        status = ww_real_solve(&cloths->real, line, &request, error);
    ww_line_destroy(line);
    return job_place(job, status, error);
}

/* --- files ----------------------------------------------------------------------------------------------------------------- */

static enum ww_status write_json(FILE *stream, const struct job *job, const void *result, struct ww_error *error)
{
    const struct cloths *cloths = result;
    const struct ww_real *real = &cloths->real;
    char sentence[SENTENCE_SIZE];
    return ww_result_cloth_json(stream, &job->study, real, &cloths->paths,
                                ww_real_sentence(real, job->study.turn, sentence, sizeof sentence), error);
}

static enum ww_status save_table(struct job *job, const struct ww_real *real, struct ww_error *error)
{
    const struct ww_at_length *at = real->at;
    const struct ww_column column[] = {{"length_mm", &at->length, sizeof *at, 1e-3, NULL},
                                       {"perfect_worst_ps", &at->bound, sizeof *at, ps, NULL},
                                       {"square_median_ps", &at->square.median.value, sizeof *at, ps, NULL},
                                       {"square_p95_ps", &at->square.p95, sizeof *at, ps, NULL},
                                       {"square_p99_ps", &at->square.p99.value, sizeof *at, ps, NULL},
                                       {"square_p99_low_ps", &at->square.p99.low, sizeof *at, ps, NULL},
                                       {"square_p99_high_ps", &at->square.p99.high, sizeof *at, ps, NULL},
                                       {"square_worst_seen_ps", &at->square.worst, sizeof *at, ps, NULL},
                                       {"turned_median_ps", &at->turned.median.value, sizeof *at, ps, NULL},
                                       {"turned_p95_ps", &at->turned.p95, sizeof *at, ps, NULL},
                                       {"turned_p99_ps", &at->turned.p99.value, sizeof *at, ps, NULL},
                                       {"turned_p99_low_ps", &at->turned.p99.low, sizeof *at, ps, NULL},
                                       {"turned_p99_high_ps", &at->turned.p99.high, sizeof *at, ps, NULL},
                                       {"turned_worst_seen_ps", &at->turned.worst, sizeof *at, ps, NULL}};
    return job_kept(
        job, ww_result_csv(job_path(job, "cloth", "csv"), column, sizeof column / sizeof *column, real->count, error),
        error);
}

static enum ww_status draw(struct job *job, const struct ww_real *real, struct ww_error *error)
{
    const struct ww_at_length *own = &real->at[real->own];
    char headline[SUBJECT_SIZE], subject[SUBJECT_SIZE], length[NUMBER_SIZE], turn[NUMBER_SIZE];
    snprintf(headline, sizeof headline, "%s of real cloth: 99 %% within %.3g ps, perfect cloth %s %.3g ps",
             ww_number_format(length, sizeof length, own->length, WW_LENGTH, 4), own->square.p99.value / ps,
             own->square.p99.value > own->bound ? "has" : "allows", own->bound / ps);
    ww_number_format(turn, sizeof turn, job->study.turn, WW_ANGLE, 4);
    if (real->measured)
        snprintf(subject, sizeof subject,
                 "%zu places on one cloth; turned: up to %s off square; strokes: 95 %% over places alone",
                 real->boards * real->traces, turn);
    else
        snprintf(subject, sizeof subject,
                 "%zu boards of %zu traces; turned: up to %s off square%s; strokes: 95 %% intervals", real->boards,
                 real->traces, turn, real->counts ? ", counts off" : "");
    struct ww_figure_cloth content = {
        .headline = headline, .subject = subject, .real = real, .budget = job->study.budget};
    return job_kept(job, ww_figure_draw_cloth(job_figure_path(job, "cloth"), &job->figure, &content, error), error);
}

/* Across the trace: some yarns, and the pair. */
static double room_of(const struct ww_study *study, const struct ww_cell *cell)
{
    const double cells = 5.0, pairs = 2.5;
    return fmax(cells * fmin(cell->lx, cell->ly), pairs * (study->trace.pitch + study->trace.width));
}

/* The trace as segments, their angles from the warp of a ply's cloth; NULL: no memory. */
static struct ww_route_segment *segments_over(const struct ww_study *study, const struct ww_ply *ply, size_t *count)
{
    const struct ww_route_segment straight = {study->length, 0.0};
    *count = study->segments > 0 ? study->segments : 1;
    struct ww_route_segment *segment = calloc(*count, sizeof *segment);
    for (size_t i = 0; segment && i < *count; i++) {
        segment[i] = study->segments > 0 ? study->route[i] : straight;
        segment[i].angle += study->angle - ply->turn;
    }
    return segment;
}

/* Local Dk of a ply along the trace where it is worst of all places that it was slid over. */
static enum ww_status map_ply(const struct ww_study *study, const struct cloths *cloths, size_t ply,
                              struct ww_map *dk, struct ww_error *error)
{
    const struct ww_real_place *place = &cloths->real.place;
    const struct ww_style *style = ww_stack_cloth(&study->stack, ply).style;
    const struct ww_ply *p = &study->stack.ply[ply];
    double theta = place->angle - p->turn;
    const double start[2] = {place->start[ply][0] + place->worst_x * sin(theta) - place->worst_y * cos(theta),
                             place->start[ply][1] + place->worst_x * cos(theta) + place->worst_y * sin(theta)};
    size_t segments;
    struct ww_route_segment *segment = segments_over(study, p, &segments);
    struct ww_patch *patch = NULL;
    enum ww_status status =
        segment ? WW_OK : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu segments", segments);
    if (!status && cloths->real.measured)
        status = ww_patch_lay(&patch, style, &cloths->paths, error);
    else if (!status)
        status = ww_patch_create(&patch, style, &study->scatter, place->width, place->length, ply, error);
    if (!status)
        status = ww_patch_dk_map(&study->stack, ply, patch, start, segment, segments, room_of(study, &p->cell),
                                 DK_ALONG, DK_ACROSS, dk, error);
    ww_patch_destroy(patch);
    free(segment);
    return status;
}

/* The patch of a ply under the trace there. */
static enum ww_status draw_ply(struct job *job, const struct cloths *cloths, size_t ply, struct ww_error *error)
{
    const struct ww_real *real = &cloths->real;
    const struct ww_study *study = &job->study;
    char headline[SUBJECT_SIZE], subject[SUBJECT_SIZE], name[NUMBER_SIZE], length[NUMBER_SIZE];
    struct ww_map dk = {0};
    enum ww_status status = map_ply(study, cloths, ply, &dk, error);
    snprintf(headline, sizeof headline, "%s of real cloth under the trace where it is worst: %.3g ps",
             ww_number_format(length, sizeof length, study->length, WW_LENGTH, 4), real->place.worst / ps);
    snprintf(subject, sizeof subject, "ply %zu, %s,%s stretched across; lines: edges of %s", ply + 1,
             ww_stack_cloth(&study->stack, ply).style->name,
             real->measured ? " even beyond the picture,"
             : real->route  ? " along the route,"
                            : "",
             study->trace.pitch > 0.0 ? "leg 1 (upper) and leg 2" : "the trace");
    snprintf(name, sizeof name, "cloth-ply%zu", ply + 1);
    struct ww_figure_patch content = {.headline = headline,
                                      .subject = subject,
                                      .dk = &dk,
                                      .width = study->trace.width,
                                      .pitch = study->trace.pitch};
    if (!status)
        status =
            job_kept(job, ww_figure_draw_patch(job_figure_path(job, name), &job->figure, &content, error), error);
    ww_map_clear(&dk);
    return status;
}

static enum ww_status draw_place(struct job *job, const struct ww_real *real, struct ww_error *error)
{
    const struct ww_real_place *place = &real->place;
    char headline[SUBJECT_SIZE], subject[SUBJECT_SIZE], length[NUMBER_SIZE];
    if (real->pair) /* of single traces the bound is of the difference of two */
        snprintf(headline, sizeof headline, "Slid over real cloth: up to %.3g ps, perfect cloth up to %.3g ps",
                 place->worst / ps, real->at[real->own].bound / ps);
    else
        snprintf(headline, sizeof headline, "Slid over real cloth, the trace has up to %.3g ps", place->worst / ps);
    snprintf(subject, sizeof subject, "%s laid square, %s %s by where it starts; %sring: the worst",
             real->measured ? "the measured cloth" : "one board",
             ww_number_format(length, sizeof length, real->at[real->own].length, WW_LENGTH, 4),
             real->route ? "route (along: towards its end)" : "long trace",
             real->pair ? "stretched across; " : "delay less its mean; ");
    struct ww_figure_place content = {.headline = headline, .subject = subject, .pair = real->pair, .place = place};
    return job_kept(job, ww_figure_draw_place(job_figure_path(job, "cloth-place"), &job->figure, &content, error),
                    error);
}

/* The largest correlation from `from` on. */
static double most_alike(const struct ww_real_alike *alike, double from)
{
    double most = 0.0;
    for (size_t i = 0; i < alike->count; i++)
        if (alike->spacing[i] >= from)
            most = fmax(most, alike->correlation[i].value);
    return most;
}

static enum ww_status draw_lanes(struct job *job, const struct ww_real *real, struct ww_error *error)
{
    char headline[SUBJECT_SIZE], pitch[NUMBER_SIZE];
    if (real->lanes > 1)
        snprintf(headline, sizeof headline, "Lanes %s apart: their skew correlates by %.2f",
                 ww_number_format(pitch, sizeof pitch, job->study.lane_pitch, WW_LENGTH, 4), real->correlation[1]);
    else
        snprintf(headline, sizeof headline, "Traces a millimetre and more apart: %s correlates by up to %.2f",
                 real->pair ? "skew" : "delay", most_alike(&real->alike, 1e-3));
    struct ww_figure_alike content = {
        .headline = headline,
        .subject =
            real->counts
                ? "1 where two have the same, 0 where they are independent; turn and counts included; band: 95 %"
                : "1 where two have the same, 0 where they are independent; turn included; band: 95 % interval",
        .pair = real->pair,
        .alike = &real->alike,
        .lane_pitch = real->lanes > 1 ? job->study.lane_pitch : 0.0};
    return job_kept(job, ww_figure_draw_alike(job_figure_path(job, "cloth-lanes"), &job->figure, &content, error),
                    error);
}

static enum ww_status draw_panel(struct job *job, const struct ww_real *real, struct ww_error *error)
{
    const struct ww_real_panel *panel = &real->panel;
    char headline[SUBJECT_SIZE], subject[SUBJECT_SIZE];
    snprintf(headline, sizeof headline, "Worst of %zu nets on one panel: half of panels have up to %.3g ps",
             panel->nets, panel->median.value / ps);
    snprintf(subject, sizeof subject, "%zu panels drawn, each at a turn of its own; 95 of 100 have up to %.3g ps",
             panel->panels, panel->p95.value / ps);
    struct ww_figure_panel content = {
        .headline = headline, .subject = subject, .pair = real->pair, .panel = panel, .budget = job->study.budget};
    return job_kept(job, ww_figure_draw_panel(job_figure_path(job, "cloth-panel"), &job->figure, &content, error),
                    error);
}

static enum ww_status save(struct job *job, const struct cloths *cloths, struct ww_error *error)
{
    const struct ww_real *real = &cloths->real;
    size_t used = strlen(job->caption);
    if (real->measured)
        (void)snprintf(job->caption + used, sizeof job->caption - used, "; cloth measured from %.60s",
                       cloths->paths.picture);
    enum ww_status status = job_save(job, "cloth", "json", write_json, cloths, error);
    if (!status)
        status = save_table(job, real, error);
    if (!status)
        status = draw(job, real, error);
    if (!status && real->panel.nets > 0)
        status = draw_panel(job, real, error);
    if (!status && real->alike.count > 1)
        status = draw_lanes(job, real, error);
    if (!status)
        status = draw_place(job, real, error);
    for (size_t p = 0; p < job->study.stack.plies && !status; p++)
        status = draw_ply(job, cloths, p, error);
    return status;
}

/* --- the table ------------------------------------------------------------------------------------------------------------- */

static void show_paths(const struct cloths *cloths)
{
    static const char *const name[WW_SYSTEMS] = {"warp", "fill"};
    const struct ww_yarn_paths *paths = &cloths->paths;
    char file[PATH_SIZE];
    printf("\nyarns as measured from %s, in %s\n", paths->picture, ww_text_printable(file, sizeof file, paths->file));
    for (int s = 0; s < WW_SYSTEMS; s++) {
        printf("  %-8s %zu yarns, %.4g um apart, followed over %.4g mm\n", name[s], paths->of[s].count,
               ww_yarn_paths_pitch(paths, (enum ww_system)s) / um,
               1e3 * (double)paths->of[1 - s].count * paths->of[1 - s].pitch);
        if (cloths->real.fit[s].overlap > 0.0)
            printf("  %-8s neighbours overlap on %.2g %% of their length\n", "", 100.0 * cloths->real.fit[s].overlap);
    }
    puts("  each ply has this cloth, lying anywhere; what other cloth of the style does, it does not tell");
}

static void show_scatter(const struct job *job, const struct ww_real *real)
{
    static const char *const name[WW_SYSTEMS] = {"warp", "fill"};
    const struct ww_scatter *scatter = &job->study.scatter;
    puts("\nyarns");
    for (int s = 0; s < WW_SYSTEMS; s++) {
        const struct ww_yarn_scatter *y = &scatter->yarn[s];
        printf("  %-8s wander %.3g um over %.3g mm, neighbours %.3g alike, widths vary by %.2g %%\n", name[s],
               y->wander / um, 1e3 * y->wander_length, y->together, 100.0 * y->width_variation);
        if (real->fit[s].overlap > 0.0)
            printf("  %-8s neighbours overlap on %.2g %% of their length; up to a wander of %.2g um none would\n", "",
                   100.0 * real->fit[s].overlap, real->fit[s].largest_wander / um);
    }
}

/* What the study has and is not told here. */
static void show_left_out(const struct job *job, const struct ww_real *real)
{
    const struct ww_study *study = &job->study;
    if (real->measured && (study->warp_tolerance > 0.0 || study->fill_tolerance > 0.0))
        puts("  counts are those of the picture here; how much count_tolerance does, 'weftwise skew' tells");
    if (study->arms > 0 && real->arms.count == 0)
        printf(
            "  of %zu arms the first alone is told over a picture's cloth; how far they lie apart on perfect cloth, "
            "'weftwise skew' tells\n",
            study->arms + 1);
    else if (study->arms > 0)
        puts("  the arms are told together below; lengths, angles and figures are of the first, 'route', alone");
    if (study->lanes > 1 && study->lane_pitch > 0.0 && real->lanes == 0)
        printf("  nothing is told of %zu lanes side by side: they may be up to %d pairs\n", study->lanes,
               BOARDS_MOST_LANES);
    if (study->lanes > BOARDS_MOST_NETS && !(study->lane_pitch > 0.0) && real->panel.nets == 0)
        printf("  nothing is told of %zu lanes anywhere on a panel: they may be up to %d; give fewer by --nets\n",
               study->lanes, BOARDS_MOST_NETS);
}

static void show_lengths(const struct job *job, const struct ww_real *real)
{
    char turn[NUMBER_SIZE], counts[NUMBER_SIZE] = "";
    const char *value = real->pair ? "skew" : "delay difference";
    if (real->measured)
        printf("\n%s over length, as far as traces fit on the picture, ps; %zu places, the interval holds the 99 %% "
               "figure with\n95 %% over places on this cloth alone\n",
               value, real->boards * real->traces);
    else
        printf("\n%s over length%s, ps; %zu boards of %zu traces, the interval holds the 99 %% figure with 95 %%\n",
               value, real->route ? " along the route" : "", real->boards, real->traces);
    if (real->counts)
        ww_study_counts(&job->study, counts, sizeof counts);
    printf("%12s %10s | laid square %36s | turned within %s%s%s\n", "", "perfect", "",
           ww_number_format(turn, sizeof turn, job->study.turn, WW_ANGLE, 4), counts[0] ? ", counts within " : "",
           counts);
    printf("%12s %10s | %7s %7s %7s %-15s %8s | %7s %7s %7s\n", "length, mm", "worst", "median", "95 %", "99 %", "",
           "seen", "median", "95 %", "99 %");
    for (size_t i = 0; i < real->count; i++) {
        const struct ww_at_length *at = &real->at[i];
        char interval[NUMBER_SIZE];
        snprintf(interval, sizeof interval, "(%.3f-%.3f)", at->square.p99.low / ps, at->square.p99.high / ps);
        printf("%c %10.2f %10.3f | %7.3f %7.3f %7.3f %-15s %8.3f | %7.3f %7.3f %7.3f\n", i == real->own ? '*' : ' ',
               1e3 * at->length, at->bound / ps, at->square.median.value / ps, at->square.p95 / ps,
               at->square.p99.value / ps, interval, at->square.worst / ps, at->turned.median.value / ps,
               at->turned.p95 / ps, at->turned.p99.value / ps);
    }
}

static void show_angles(const struct job *job, const struct ww_real *real)
{
    printf("\nwhat an angle still buys at %.4g mm%s, turn%s included, ps\n", 1e3 * real->at[real->own].length,
           real->route ? ", the route turned as a whole" : "", real->counts ? " and counts" : "");
    printf("%12s %14s %10s %10s\n", "angle, deg", "perfect worst", "median", "99 %");
    for (size_t i = 0; i < real->angles; i++)
        printf("%12.2f %14.3f %10.3f %10.3f%s\n", real->at_turn[i].angle / degree, real->at_turn[i].bound / ps,
               real->at_turn[i].median / ps, real->at_turn[i].p99 / ps,
               job->study.budget > 0.0 && real->at_turn[i].p99 <= job->study.budget ? "  within the budget" : "");
}

static void show_lanes(const struct job *job, const struct ww_real *real)
{
    const char *boards = real->measured ? "places" : "boards";
    if (real->lanes == 0)
        return;
    printf("\n%zu lanes on one cloth, %.4g mm apart: the worst of them %.3f ps on average\n", real->lanes,
           1e3 * job->study.lane_pitch, real->expected_worst / ps);
    if (job->study.budget > 0.0)
        printf("  all within the budget on %.1f %% of %s; were the lanes independent, on %.1f %%\n",
               100.0 * real->yield, boards, 100.0 * real->yield_independent);
    printf("  correlation of lanes 1, 2, ... apart:");
    for (size_t i = 1; i < real->lanes && i <= 8; i++)
        printf(" %.2f", real->correlation[i]);
    putchar('\n');
}

/* At a few distances: the curve goes up and down with the yarns. */
static void show_alike(const struct ww_real *real)
{
    const struct ww_real_alike *alike = &real->alike;
    if (alike->count <= ALIKE_EVERY)
        return;
    printf("\ncorrelation of two equal traces side by side on one cloth, of their %s, turn%s included\n",
           real->pair ? "skew" : "delay", real->counts ? " and counts" : "");
    printf("%12s", "apart, mm");
    for (size_t i = ALIKE_EVERY; i < alike->count && i <= MOST_ALIKE * ALIKE_EVERY; i += ALIKE_EVERY)
        printf(" %6.2f", 1e3 * alike->spacing[i]);
    printf("\n%12s", "");
    for (size_t i = ALIKE_EVERY; i < alike->count && i <= MOST_ALIKE * ALIKE_EVERY; i += ALIKE_EVERY)
        printf(" %6.2f", alike->correlation[i].value);
    putchar('\n');
}

static void show_panel(const struct job *job, const struct ww_real *real)
{
    const struct ww_real_panel *panel = &real->panel;
    if (panel->nets == 0)
        return;
    printf("\nworst of %zu nets that lie anywhere on one panel, ps; %zu panels, intervals of 95 %%\n", panel->nets,
           panel->panels);
    printf("  half of the panels have up to %.3f (%.3f-%.3f), 95 of 100 up to %.3f (%.3f-%.3f), %.3f on average\n",
           panel->median.value / ps, panel->median.low / ps, panel->median.high / ps, panel->p95.value / ps,
           panel->p95.low / ps, panel->p95.high / ps, panel->mean / ps);
    if (!(job->study.budget > 0.0))
        return;
    printf("  all within the budget on %.1f %% of panels (%.1f-%.1f)", 100.0 * panel->yield.value,
           100.0 * panel->yield.low, 100.0 * panel->yield.high);
    if (real->pair || job->study.spacing > 0.0)
        printf("; were the nets independent, on %.1f %%", 100.0 * panel->yield_independent);
    putchar('\n');
}

static void show_spread(const char *name, const struct ww_real_spread *of, double bound, double frequency)
{
    printf("  %-14s %7.3f %9.3f %9.3f (%.3f-%.3f) %9.3f %11.3f", name, of->median.value / ps, of->p95 / ps,
           of->p99.value / ps, of->p99.low / ps, of->p99.high / ps, of->worst / ps, bound / ps);
    if (frequency > 0.0)
        printf("   %.2g deg", ww_skew_terms(of->p99.value, frequency, 0.0).degrees);
    putchar('\n');
}

static void show_arms(const struct job *job, const struct ww_real *real)
{
    const struct ww_study *study = &job->study;
    const struct ww_real_arms *arms = &real->arms;
    char frequency[NUMBER_SIZE], phase[2 * NUMBER_SIZE] = "";
    double signal = real->pair ? 0.0 : ww_study_frequency(study);
    if (arms->count == 0)
        return;
    if (signal > 0.0)
        snprintf(phase, sizeof phase, "; 99 %% as phase at %s",
                 ww_number_format(frequency, sizeof frequency, signal, WW_FREQUENCY, 4));
    printf("\n%zu arms on one board, %s, ps%s\n", arms->count,
           real->pair ? "their largest skew" : "the spread of their delays, each less its mean", phase);
    printf("  %-14s %7s %9s %9s %15s %9s %11s\n", "", "median", "95 %", "99 %", "", "seen", "perfect");
    show_spread("laid square", &arms->square, arms->bound, signal);
    show_spread(real->counts ? "turn and counts" : "turned", &arms->turned, fmax(arms->bound, arms->design), signal);
    if (study->budget > 0.0)
        printf("  within the budget in %.1f %% of all cases, turn%s included\n", 100.0 * arms->yield,
               real->counts ? " and counts" : "");
    printf("  %-14s %12s   correlation with each, in this order\n", "arm", "deviation");
    for (size_t i = 0; i < arms->count; i++) {
        printf("  %-14.31s %9.3f ps  ", i ? study->arm[i - 1].name : "route", arms->deviation[i] / ps);
        for (size_t j = 0; j < arms->count; j++)
            printf(" %5.2f", arms->correlation[i * arms->count + j]);
        putchar('\n');
    }
}

static void show(const struct job *job, const void *result)
{
    const struct cloths *cloths = result;
    const struct ww_real *real = &cloths->real;
    char sentence[SENTENCE_SIZE];
    show_title(job);
    if (real->measured)
        show_paths(cloths);
    else
        show_scatter(job, real);
    show_left_out(job, real);
    show_lengths(job, real);
    show_angles(job, real);
    show_lanes(job, real);
    show_alike(real);
    show_panel(job, real);
    show_arms(job, real);
    putchar('\n');
    paragraph(printf("in short") - 1, 10, ww_real_sentence(real, job->study.turn, sentence, sizeof sentence));
    show_files(job);
}

/* --- the command ----------------------------------------------------------------------------------------------------------- */

/* 99 of 100, turn and counts included: of arms by name their set's. */
static double judged(const struct ww_real *real)
{
    return real->arms.count > 0 ? real->arms.turned.p99.value : real->at[real->own].turned.p99.value;
}

enum outcome cloth_run(const struct options *options)
{
    static struct job job;
    struct cloths cloths = {0};
    struct ww_error error = {0};
    bool over = false;
    progress_start(!options->quiet);
    enum ww_status status = job_open(&job, options, &error);
    if (!status)
        status = check(&job, &error);
    if (!status)
        status = solve(&job, &cloths, &error);
    if (!status)
        status = job_make_folder(&job, &error);
    if (!status)
        status = save(&job, &cloths, &error);
    progress_end();
    if (!status) {
        status = job_print(&job, write_json, show, &cloths, &error);
        over = options->gate && judged(&cloths.real) > job.study.budget;
    }
    ww_real_clear(&cloths.real);
    ww_yarn_paths_clear(&cloths.paths);
    return job_finish(&job, status, over, &error);
}
