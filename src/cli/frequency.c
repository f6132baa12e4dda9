/* frequency.c - weftwise frequency STUDY: what does the line lose, and where does the cloth reflect?
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "frequency.h"

#include "angles.h"
#include "progress.h"
#include "run.h"
#include "show.h"

#include <weftwise/report.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    PLACEMENTS = 24,
    SEED = 1,
    MAP_ANGLES = 361,
    MAP_POINTS = 281,
    NAME_SIZE = 96,
    SUBJECT_SIZE = 512,
    NOTE_SIZE = 2048
};
#define INCH 25.4e-3
#define LEAST_BAND 10e6 /* [Hz] */
#define ELSE_BAND 50e9  /* [Hz] of a study without a signal */
#define FARTHEST 1.0    /* [m] of a start from the origin of the cell */

/* --- where the cloth lies --------------------------------------------------------------------------------------------------- */

/* "109 um,151 um" */
static enum ww_status parse_place(const char *text, double place[2], struct ww_error *error)
{
    char first[NAME_SIZE];
    const char *comma = strchr(text, ',');
    struct ww_error inner = {0};
    if (!comma || (size_t)(comma - text) >= sizeof first)
        return ww_error_set(
            error, WW_INVALID, NULL, 0,
            "--placement: '%.60s' is none; give worst, median, fastest, or a start as in '109 um,151 um'", text);
    snprintf(first, sizeof first, "%.*s", (int)(comma - text), text);
    enum ww_status status = ww_number_parse(first, WW_LENGTH, &place[0], &inner);
    if (!status)
        status = ww_number_parse(comma + 1, WW_LENGTH, &place[1], &inner);
    if (status)
        return ww_error_set(error, status, NULL, 0, "--placement: %s", inner.text);
    return fabs(place[0]) <= FARTHEST && fabs(place[1]) <= FARTHEST
               ? WW_OK
               : ww_error_set(
                     error, WW_INVALID, NULL, 0,
                     "--placement: '%.60s' is outside -1 m to 1 m; give a start within the cell of the cloth", text);
}

static enum ww_status place_cloth(const struct job *job, const struct ww_solution *solution,
                                  struct frequency_part *part, struct ww_error *error)
{
    const char *name = job->options->placement ? job->options->placement : "worst";
    size_t plies = job->study.stack.plies;
    double place[2] = {0.0, 0.0};
    part->start = calloc(plies + 1, sizeof *part->start);
    if (!part->start)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", plies);
    snprintf(part->placement, sizeof part->placement, "%s", name);
    if (strcmp(name, "median") == 0)
        return ww_wideband_median(part->wideband, part->start, error);
    if (strcmp(name, "fastest") == 0)
        return ww_wideband_fastest(part->wideband, part->start, error);
    if (strcmp(name, "worst") == 0) {
        memcpy(part->start, solution->start, plies * sizeof *part->start);
        return WW_OK;
    }
    enum ww_status status = parse_place(name, place, error);
    for (size_t p = 0; p < plies && !status; p++)
        memcpy(part->start[p], place, sizeof place);
    return status;
}

/* --- solving --------------------------------------------------------------------------------------------------------------- */

/* Half the symbol rate, or else the frequency: where the signal is; 0 without either. */
static double signal_of(const struct job *job)
{
    struct ww_skew_request request = ww_study_request(&job->study);
    return request.rate > 0.0 ? 0.5 * request.rate : request.frequency;
}

static struct ww_spectrum_request request_of(const struct job *job)
{
    double at = signal_of(job);
    struct range band = {LEAST_BAND, at > 0.0 ? fmin(2.0 * at, 1e12) : ELSE_BAND};
    if (job->options->band.to > 0.0)
        band = job->options->band;
    return (struct ww_spectrum_request){.from = band.from,
                                        .to = band.to,
                                        .points = (size_t)job->options->points,
                                        .at = at,
                                        .placements = job->study.stack.plies ? PLACEMENTS : 0,
                                        .seed = SEED};
}

/* So few points that the phase would be lost between them: told from a coarse solution of the line, before the long one. */
static enum ww_status check_points(const struct job *job, struct ww_error *error)
{
    const double coarse = 0.35, room = 0.97; /* fineness; its delay is 1 % off at most */
    struct ww_spectrum_request request = request_of(job);
    const struct ww_line_options options = {.fineness = coarse};
    struct ww_line *line = NULL;
    size_t points = request.points ? request.points : 2; /* 0: as many as it takes; the band alone is checked */
    double *frequency = calloc(points, sizeof *frequency);
    enum ww_status status =
        frequency ? WW_OK : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu frequencies", points);
    if (!status)
        status = job_place(job, ww_line_create(&line, &job->study.stack, &job->study.trace, &options, error), error);
    if (!status) {
        const struct ww_line_summary *s = ww_line_summary(line);
        double delay = room * job->study.length * sqrt(fmax(s->dk_eff, s->dk_even)) / WW_C0;
        status = ww_frequency_steps(request.from, request.to, points, request.points ? delay : 0.0, frequency, error);
    }
    ww_line_destroy(line);
    free(frequency);
    return status;
}

enum ww_status frequency_check(const struct job *job, struct ww_error *error)
{
    const char *name = job->options->placement;
    double place[2];
    enum ww_status status = WW_OK;
    if (name && strcmp(name, "worst") != 0 && strcmp(name, "median") != 0 && strcmp(name, "fastest") != 0)
        status = parse_place(name, place, error);
    if (!status && job->options->count > 0 && job->study.stack.plies == 0)
        status = ww_error_set(error, WW_INVALID, NULL, 0,
                              "--count draws placements of the cloth, and this study has no cloth; leave it out");
    if (!status && !job->options->lossless)
        status =
            job_place(job, ww_wideband_check(&job->study.stack, &job->study.trace, &job->study.copper, error), error);
    return status ? status : check_points(job, error);
}

/* What the cloth reflects at other angles, and which of them are safe. */
static enum ww_status solve_map(struct job *job, const struct ww_solution *solution, bool windows,
                                struct frequency_part *part, struct ww_error *error)
{
    struct ww_angles_request request = angles_request(job);
    struct ww_spectrum_request band = request_of(job);
    struct ww_correction *correction = NULL;
    request.skew.correction = solution->skew.correction;
    progress_step("turning the trace");
    enum ww_status status = ww_angles_correct(&correction, solution->line, &request, error);
    request.skew.correction = correction;
    if (!status && windows && (request.skew.budget > 0.0 || request.skew.conversion > 0.0))
        status = ww_angles_solve(&part->angles, solution->line, &request, error);
    const struct ww_notch_map_request map = {.skew = request.skew,
                                             .from = request.from,
                                             .to = request.to,
                                             .angles = MAP_ANGLES,
                                             .lowest = band.from,
                                             .highest = band.to,
                                             .points = MAP_POINTS,
                                             .progress = request.progress};
    if (!status)
        status = ww_notch_map_solve(&part->map, part->wideband, &map, error);
    ww_correction_release(correction);
    return status;
}

enum ww_status frequency_solve(struct job *job, const struct ww_solution *solution, const struct ww_angles *angles,
                               struct frequency_part *part, struct ww_error *error)
{
    struct ww_spectrum_request request = request_of(job);
    struct ww_progress progress = progress_of();
    struct ww_wideband_request wideband = {.line = solution->line,
                                           .skew = ww_study_request(&job->study),
                                           .copper = job->study.copper,
                                           .lossless = job->options->lossless};
    wideband.skew.correction = solution->skew.correction;
    part->summary = solution->summary;
    part->line = solution->line;
    progress_step("solving the copper and the loss of the materials");
    enum ww_status status = job_place(job, ww_wideband_create(&part->wideband, &wideband, error), error);
    if (!status)
        status = place_cloth(job, solution, part, error);
    progress_step("solving the line over frequency");
    if (!status)
        status = ww_spectrum_solve(&part->spectrum, part->wideband, &request, (const double(*)[2])part->start,
                                   &progress, error);
    if (!status && job->study.stack.plies > 0)
        status = solve_map(job, solution, !angles, part, error);
    return status;
}

void frequency_clear(struct frequency_part *part)
{
    ww_spectrum_clear(&part->spectrum);
    ww_notch_map_clear(&part->map);
    ww_angles_clear(&part->angles);
    ww_wideband_destroy(part->wideband);
    free(part->start);
    memset(part, 0, sizeof *part);
}

/* --- files of S-parameters --------------------------------------------------------------------------------------------------- */

static void write_note(const struct job *job, const char *placement, const double (*start)[2], char *out, size_t size)
{
    size_t used = (size_t)snprintf(out, size, "weftwise %d.%d.%d: %s\n%s\ncloth: %s", WW_VERSION_MAJOR,
                                   WW_VERSION_MINOR, WW_VERSION_PATCH, job->study.title, job->conditions, placement);
    for (size_t p = 0; p < job->study.stack.plies && used < size; p++)
        used += (size_t)snprintf(out + used, size - used, ", start on ply %zu at (%.3f, %.3f) um", p + 1,
                                 start[p][0] * 1e6, start[p][1] * 1e6);
    if (used < size && job->options->lossless)
        used += (size_t)snprintf(out + used, size - used, "\nlossless: no loss of dielectric or copper");
    if (used < size && job->study.trace.pitch > 0.0)
        snprintf(out + used, size - used, "\nleg 1 is left of travel; through from 1 to 3 and from 2 to 4");
}

struct noted {
    const struct ww_network *network;
    const char *note;
};

static enum ww_status write_touchstone(FILE *out, const struct job *job, const void *result, struct ww_error *error)
{
    const struct noted *of = result;
    (void)job;
    return ww_network_write_touchstone(of->network, of->note, out, error);
}

static enum ww_status save_network(struct job *job, const char *name, const struct ww_network *network,
                                   const char *placement, const double (*start)[2], struct ww_error *error)
{
    char note[NOTE_SIZE];
    write_note(job, placement, start, note, sizeof note);
    return job_save(job, name, network->ports == 2 ? "s2p" : "s4p", write_touchstone, &(struct noted){network, note},
                    error);
}

static enum ww_status save_family(struct job *job, const struct frequency_part *part, struct ww_error *error)
{
    const struct ww_network *shown = &part->spectrum.network;
    double(*start)[2] = calloc(job->study.stack.plies + 1, sizeof *start);
    enum ww_status status = start ? WW_OK : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the starts");
    for (size_t i = 0; i < (size_t)job->options->count && !status; i++) {
        char name[NAME_SIZE], placement[NAME_SIZE];
        struct ww_network network = {0};
        ww_wideband_draw(part->wideband, SEED, i, start);
        snprintf(name, sizeof name, "line-%03zu", i + 1);
        snprintf(placement, sizeof placement, "number %zu of those drawn with seed %d", i + 1, SEED);
        status = ww_wideband_solve(part->wideband, (const double(*)[2])start, shown->frequency, shown->count,
                                   &network, error);
        if (!status)
            status = save_network(job, name, &network, placement, (const double(*)[2])start, error);
        ww_network_clear(&network);
    }
    free(start);
    return status;
}

/* --- all files --------------------------------------------------------------------------------------------------------------- */

/* Its windows: the part's own, or those of a sweep that was there already. */
struct saved {
    const struct frequency_part *part;
    const struct ww_angles *angles; /* NULL: none */
};

static struct saved saved_of(const struct frequency_part *part, const struct ww_angles *angles)
{
    return (struct saved){part, angles ? angles : part->angles.count ? &part->angles : NULL};
}

static enum ww_status write_json(FILE *stream, const struct job *job, const void *result, struct ww_error *error)
{
    const struct saved *saved = result;
    const struct frequency_part *part = saved->part;
    double own = 0.0;
    bool has_own = angles_own(job, &own);
    const struct ww_result_frequency what = {.line = &part->summary,
                                             .limits = ww_line_limits(part->line),
                                             .spectrum = &part->spectrum,
                                             .placement = part->placement,
                                             .start = (const double(*)[2])part->start,
                                             .file = job->file + part->first,
                                             .files = part->files,
                                             .map = &part->map,
                                             .angles = saved->angles,
                                             .own = has_own ? &own : NULL};
    return ww_result_frequency_json(stream, &job->study, &what, error);
}

static enum ww_status save_table(struct job *job, const struct ww_spectrum *s, struct ww_error *error)
{
    size_t n = s->network.count, columns = s->pair ? 5 : 4;
    double *level = calloc(3 * n, sizeof *level);
    if (!level)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a table of %zu lines", n);
    for (size_t i = 0; i < n; i++) {
        level[i] = ww_decibels(s->loss[i]);
        level[n + i] = ww_decibels(s->reflection[i]);
        level[2 * n + i] = ww_decibels(s->conversion[i]);
    }
    struct ww_column column[] = {
        {"frequency_ghz", s->network.frequency, sizeof *level, 1e9, NULL},
        {"loss_db", level, sizeof *level, 1.0, NULL},
        {"reflection_db", level + n, sizeof *level, 1.0, NULL},
        {"phase_deviation_deg", s->phase, sizeof *level, WW_PI / 180.0, NULL},
        {"conversion_db", level + 2 * n, sizeof *level, 1.0, NULL},
    };
    enum ww_status status =
        job_kept(job, ww_result_csv(job_path(job, "frequency", "csv"), column, columns, n, error), error);
    free(level);
    return status;
}

/* Rows are frequencies, columns angles; amplitudes. */
static enum ww_status save_map(struct job *job, const struct ww_notch_map *map, struct ww_error *error)
{
    const struct ww_map table = {map->angles, map->points, 1.0, 1.0, map->reflection};
    const struct ww_column angle = {"angle_deg", map->angle, sizeof(double), WW_PI / 180.0, NULL};
    const struct ww_column frequency = {"frequency_ghz", map->frequency, sizeof(double), 1e9, NULL};
    enum ww_status status = job_kept(job, ww_result_npy(job_path(job, "notch", "npy"), &table, error), error);
    if (!status)
        status =
            job_kept(job, ww_result_csv(job_path(job, "notch-angle", "csv"), &angle, 1, map->angles, error), error);
    if (!status)
        status = job_kept(
            job, ww_result_csv(job_path(job, "notch-frequency", "csv"), &frequency, 1, map->points, error), error);
    return status;
}

static enum ww_status draw_map(struct job *job, const struct saved *saved, struct ww_error *error)
{
    char subject[NAME_SIZE];
    double own = 0.0;
    bool has_own = angles_own(job, &own);
    const struct ww_figure_notch content = {.subject = subject,
                                            .pair = saved->part->spectrum.pair,
                                            .map = &saved->part->map,
                                            .angles = saved->angles,
                                            .own = has_own ? &own : NULL,
                                            .at = saved->part->spectrum.at,
                                            .plies = job->study.stack.plies};
    ww_number_format(subject, sizeof subject, job->study.length, WW_LENGTH, 6);
    return job_kept(job, ww_figure_draw_notch(job_figure_path(job, "notch"), &job->figure, &content, error), error);
}

static enum ww_status draw_curves(struct job *job, const struct frequency_part *part, struct ww_error *error)
{
    char subject[SUBJECT_SIZE], starts[SUBJECT_SIZE - NAME_SIZE - 32];
    const struct ww_figure_frequency content = {subject, &part->spectrum};
    job_starts(job, (const double(*)[2])part->start, starts, sizeof starts);
    snprintf(subject, sizeof subject, "%s%s%s%s", part->spectrum.lossless ? "lossless, " : "",
             strchr(part->placement, ',') ? "" : part->placement, strchr(part->placement, ',') ? "" : " placement, ",
             starts);
    enum ww_status status = job_kept(
        job, ww_figure_draw_frequency(job_figure_path(job, "frequency"), &job->figure, &content, error), error);
    if (!status)
        status =
            job_kept(job, ww_figure_draw_phase(job_figure_path(job, "phase"), &job->figure, &content, error), error);
    return status;
}

enum ww_status frequency_save(struct job *job, struct frequency_part *part, const struct ww_angles *angles,
                              struct ww_error *error)
{
    const struct saved saved = saved_of(part, angles);
    part->first = job->files;
    enum ww_status status =
        save_network(job, "line", &part->spectrum.network, part->placement, (const double(*)[2])part->start, error);
    if (!status)
        status = save_family(job, part, error);
    part->files = job->files - part->first;
    if (!status)
        status = save_table(job, &part->spectrum, error);
    if (!status)
        status = draw_curves(job, part, error);
    if (!status && part->map.angles)
        status = save_map(job, &part->map, error);
    if (!status && part->map.angles)
        status = draw_map(job, &saved, error);
    if (!status)
        status = job_save(job, "frequency", "json", write_json, &saved, error);
    return status;
}

/* --- tables ------------------------------------------------------------------------------------------------------------------- */

static size_t nearest(const struct ww_network *network, double frequency)
{
    size_t best = 0;
    for (size_t i = 1; i < network->count; i++)
        if (fabs(network->frequency[i] - frequency) < fabs(network->frequency[best] - frequency))
            best = i;
    return best;
}

static double per_inch(double attenuation)
{
    return 20.0 / log(10.0) * attenuation * INCH;
}

static void show_loss(const struct ww_spectrum *s)
{
    const struct ww_line_loss *loss = &s->at_loss;
    if (s->lossless)
        printf("\nat %.4g GHz\n", s->at * 1e-9);
    else
        printf("\nloss      at %.4g GHz, mean line: %.3f dB/in, of which dielectric %.3f, copper %.3f, its roughness "
               "%.3f\n",
               s->at * 1e-9, per_inch(loss->dielectric + loss->conductor + loss->roughness),
               per_inch(loss->dielectric), per_inch(loss->conductor), per_inch(loss->roughness));
    if (s->placements && !s->lossless)
        printf("          dielectric %.3f to %.3f dB/in over this and %zu more places of the cloth\n",
               per_inch(s->at_dielectric_least), per_inch(s->at_dielectric_most), s->placements);
    printf("          delay %.3f ps/mm%s\n", loss->delay * 1e9, s->lossless ? "" : ", with what copper adds");
    if (s->pair)
        printf("          skew of this placement %.4g ps: Sdd21 is %.3f dB below that of the mean line, and would be "
               "%.3f if "
               "the legs did not couple\n",
               s->at_penalty.skew * 1e12, -ww_decibels(s->at_penalty.solved), -ww_decibels(s->at_penalty.uncoupled));
}

static void show_at(const struct ww_spectrum *s, double frequency)
{
    size_t i = nearest(&s->network, frequency);
    printf("  %9.4g %10.2f", s->network.frequency[i] * 1e-9, ww_decibels(s->loss[i]));
    if (s->pair)
        printf(" %12.2f", ww_decibels(s->conversion[i]));
    printf(" %12.2f %12.2f\n", ww_decibels(s->reflection[i]), s->phase[i] * 180.0 / WW_PI);
}

static void show_notches(const struct ww_spectrum *s)
{
    printf("\ncloth     reflects where its period along the trace is half a wavelength, lossless line:\n");
    printf("  %9s %10s %12s %12s  %s\n", "GHz", "period mm", "reflects dB", "depth dB", "harmonic (warp, fill)");
    for (size_t i = 0; i < s->notches; i++)
        printf("  %9.4g %10.4g %12.1f %12.2f  (%d, %d) of ply %zu%s\n", s->notch[i].frequency * 1e-9,
               s->notch[i].period * 1e3, ww_decibels(s->notch[i].reflection), s->notch[i].depth, s->notch[i].warp,
               s->notch[i].fill, s->notch[i].ply + 1, s->notch[i].even ? ", as even mode" : "");
}

static void show_peak(const struct ww_notch_map *map, double from, double to, double top)
{
    struct ww_notch_peak peak = ww_notch_map_most(map, from, to, top);
    printf(" %9.1f %9.4g %9.2f\n", ww_decibels(peak.reflection), peak.frequency * 1e-9, peak.angle * 180.0 / WW_PI);
}

static void show_windows(const struct ww_notch_map *map, const char *by, const struct ww_window *window,
                         size_t windows, double top)
{
    for (size_t i = 0; i < windows; i++) {
        printf("  %8.2f to %6.2f deg, %-11s", window[i].from * 180.0 / WW_PI, window[i].to * 180.0 / WW_PI, by);
        show_peak(map, window[i].from, window[i].to, top);
    }
}

/* The most that the cloth reflects at the study's angle and within the safe windows. */
static void show_map(const struct job *job, const struct saved *saved)
{
    const struct ww_notch_map *map = &saved->part->map;
    double at = saved->part->spectrum.at, last = map->frequency[map->points - 1], own = 0.0;
    double top = at > 0.0 && at < last ? at : last;
    printf("\nmost that the cloth reflects up to %.4g GHz, rms over its places:\n"
           "  %31s %9s %9s %9s\n",
           top * 1e-9, "", "dB", "GHz", "deg");
    if (angles_own(job, &own)) {
        printf("  %8.2f deg, %-18s", own * 180.0 / WW_PI, "this study");
        show_peak(map, own, own, top);
    }
    if (saved->angles) {
        show_windows(map, "safe skew", saved->angles->window, saved->angles->windows, top);
        show_windows(map, "conversion", saved->angles->conversion.window, saved->angles->conversion.windows, top);
    }
}

static void show(const struct job *job, const void *result)
{
    const struct saved *saved = result;
    const struct frequency_part *part = saved->part;
    const struct ww_spectrum *s = &part->spectrum;
    double from = s->network.frequency[0], to = s->network.frequency[s->network.count - 1];
    show_title(job);
    show_line(job, &part->summary);
    if (s->lossless)
        printf("          lossless: no loss of dielectric or copper\n");
    else
        printf("          copper %s\n", job->study.copper.name[0] ? job->study.copper.name : "smooth");
    show_limits(part->line, to);
    if (s->at > 0.0)
        show_loss(s);
    printf("\n%s, ports of 50 ohm a leg:\n  %9s %10s", part->placement, "GHz", s->pair ? "Sdd21 dB" : "S21 dB");
    if (s->pair)
        printf(" %12s", "Scd21 dB");
    printf(" %12s %12s\n", s->pair ? "Sdd11 dB" : "S11 dB", "phase deg");
    for (int i = 1; i <= 4; i++)
        show_at(s, from + (to - from) * 0.25 * i);
    double quarters = 4.0 * (s->at - from) / (to - from);
    if (s->at > from && s->at < to && fabs(quarters - round(quarters)) > 0.02) /* else it stands there already */
        show_at(s, s->at);
    if (s->notches)
        show_notches(s);
    else
        printf("\ncloth     no period of it reflects within the band\n");
    if (part->map.angles)
        show_map(job, saved);
    show_bound(job);
    show_files(job);
}

enum outcome frequency_run(const struct options *options)
{
    static struct job job;
    struct ww_solution solution = {0};
    struct frequency_part part = {0};
    struct ww_error error = {0};
    progress_start(!options->quiet);
    enum ww_status status = job_open(&job, options, &error);
    if (!status)
        status = frequency_check(&job, &error);
    if (!status)
        status = skew_solve(&job, &solution, &error);
    if (!status)
        status = frequency_solve(&job, &solution, NULL, &part, &error);
    if (!status)
        status = job_make_folder(&job, &error);
    if (!status)
        status = frequency_save(&job, &part, NULL, &error);
    progress_end();
    const struct saved saved = saved_of(&part, NULL);
    if (!status)
        status = job_print(&job, write_json, show, &saved, &error);
    frequency_clear(&part);
    ww_solution_clear(&solution);
    return job_finish(&job, status, false, &error);
}
