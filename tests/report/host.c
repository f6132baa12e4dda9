/* host.c - a program of somebody else: a study, its answer, its figures and the page, by the public headers alone.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * usage: host WEAVES STUDY PREFIX    writes PREFIXreport.html and the figures it shows
 */
#include <weftwise/report.h>

#include <string.h>

enum { PATH_SIZE = 1024, TEXT_SIZE = 512, SAMPLES = 101 };

static char path[PATH_SIZE];

static const char *path_of(const char *prefix, const char *name)
{
    snprintf(path, sizeof path, "%s%s", prefix, name);
    return path;
}

static enum ww_status draw_profile(const char *prefix, const struct ww_figure_options *options,
                                   const struct ww_study *study, const struct ww_line *line, struct ww_error *error)
{
    static double dk1[SAMPLES], dk2[SAMPLES], running[SAMPLES];
    const double start[1][2] = {{0.0, 0.0}};
    struct ww_scan_options scan_options = ww_study_request(study).scan;
    struct ww_scan *scan = NULL;
    enum ww_status status = ww_scan_create(&scan, line, study->angle, &scan_options, error);
    if (!status)
        status = ww_scan_profile(scan, start, study->length, 0.0, study->length, SAMPLES, dk1, dk2, running, error);
    if (!status)
        status = ww_figure_draw_profile(path_of(prefix, "profile.png"), options,
                                        &(struct ww_figure_profile){.subject = "at the origin",
                                                                    .length = study->length,
                                                                    .count = SAMPLES,
                                                                    .dk1 = dk1,
                                                                    .dk2 = dk2,
                                                                    .running = running},
                                        error);
    ww_scan_destroy(scan);
    return status;
}

/* Of a pair over one ply. */
static enum ww_status draw(const char *prefix, const struct ww_study *study, const struct ww_line *line,
                           const struct ww_skew *skew, struct ww_error *error)
{
    struct ww_figure_options options = {.width = 400, .title = study->title};
    const struct ww_ply *ply = &study->stack.ply[0];
    struct ww_map dk = {0};
    enum ww_status status = ww_ply_dk_map(ply, WW_SERIES, &dk, error);
    if (!status)
        status = ww_figure_draw_dk(
            path_of(prefix, "dk-ply1.png"), &options,
            &(struct ww_figure_dk){.dk = &dk, .warp_pitch = 0.5 * ply->cell.lx, .fill_pitch = 0.5 * ply->cell.ly},
            error);
    if (!status)
        status = ww_figure_draw_skew(
            path_of(prefix, "skew-ply1.png"), &options,
            &(struct ww_figure_skew){.pair = true, .map = &skew->map[0], .high = skew->high[0], .low = skew->low[0]},
            error);
    if (!status)
        status = ww_figure_draw_distribution(path_of(prefix, "distribution.png"), &options,
                                             &(struct ww_figure_distribution){.pair = true,
                                                                              .distribution = &skew->distribution,
                                                                              .median = skew->median,
                                                                              .p95 = skew->p95,
                                                                              .p99 = skew->p99,
                                                                              .worst = skew->worst},
                                             error);
    ww_map_clear(&dk);
    return status ? status : draw_profile(prefix, &options, study, line, error);
}

static enum ww_status save(const char *prefix, const struct ww_report *report, struct ww_error *error)
{
    struct ww_output output = {0};
    enum ww_status status = ww_output_open(&output, path_of(prefix, "report.html"), error);
    if (!status)
        status = ww_report_write(report, output.stream, error);
    if (!status)
        status = ww_output_commit(&output, error);
    ww_output_discard(&output);
    return status;
}

int main(int argc, char **argv)
{
    struct ww_study study = {0};
    struct ww_line *line = NULL;
    struct ww_skew skew = {0};
    struct ww_error error = {0};
    if (argc != 4)
        return 2;
    enum ww_status status = ww_study_load(&study, argv[2], argv[1], NULL, 0, &error);
    if (!status)
        status = ww_study_build(&study, &error);
    struct ww_line_options options = ww_study_line_options(&study);
    struct ww_skew_request request = ww_study_request(&study);
    if (!status)
        status = ww_line_create(&line, &study.stack, &study.trace, &options, &error);
    if (!status)
        status = ww_skew_solve(&skew, line, &request, &error);
    if (!status)
        status = draw(argv[3], &study, line, &skew, &error);
    if (!status)
        status = save(
            argv[3],
            &(struct ww_report){.study = &study, .line = ww_line_summary(line), .skew = &skew, .figures = argv[3]},
            &error);
    if (status)
        fprintf(stderr, "%s\n", error.text);
    ww_skew_clear(&skew);
    ww_line_destroy(line);
    ww_study_clear(&study);
    return (int)status;
}
