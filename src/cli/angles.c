/* angles.c - weftwise angles STUDY: which routing angles are safe?
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "parts.h"
#include "progress.h"

#include <weftwise/result.h>

#include <math.h>
#include <stdarg.h>
#include <string.h>

#define DEG (WW_PI / 180.0)

enum { COLUMNS_OF_MAP = 181, LENGTHS_OF_MAP = 100, NUMBER_SIZE = 48, WINDOWS_TOLD = 3 };

/* --- solving --------------------------------------------------------------------------------------------------------------- */

/* The whole request of the command line. */
static struct ww_angles_request request_of(const struct job *job)
{
    const struct options *options = job->options;
    return (struct ww_angles_request){.skew = ww_study_request(&job->study),
                                      .from = options->from,
                                      .to = options->to,
                                      .step = options->step > 0.0 ? options->step : 0.5 * DEG,
                                      .progress = progress_of()};
}

/* Angles of a trace repeat every 180 deg: the study's own, where the range has it. */
static bool own_angle(const struct job *job, double *angle)
{
    const double rounding = 1e-9;
    *angle = job->study.angle + WW_PI * ceil((job->options->from - job->study.angle) / WW_PI - rounding);
    return *angle <= job->options->to + rounding;
}

/* The delay shown is the scan's mean over all positions, at the study's own angle. */
static enum ww_status take_summary(struct job *job, struct angles_part *part, const struct ww_line *line,
                                   const struct ww_scan_options *options, struct ww_error *error)
{
    struct ww_scan *scan = NULL;
    enum ww_status status = ww_scan_create(&scan, line, job->study.angle, options, error);
    if (!status) {
        struct ww_skew mean = {.pair = job->study.trace.pitch > 0.0,
                               .mean_delay = ww_scan_mean_delay(scan, WW_LEG1, job->study.length)};
        part->summary = job_line(job, line, &mean);
    }
    ww_scan_destroy(scan);
    return status;
}

static enum ww_status sweep(struct job *job, struct angles_part *part, const struct ww_line *line,
                            struct ww_angles_request request, struct ww_error *error)
{
    double longest = job->options->to_length > 0.0 ? job->options->to_length : 3.0 * job->study.length;
    enum ww_status status = take_summary(job, part, line, &request.skew.scan, error);
    progress_step("turning the trace");
    if (!status)
        status = ww_angles_solve(&part->angles, line, &request, error);
    progress_step("turning and stretching the trace");
    request.step = (request.to - request.from) / (COLUMNS_OF_MAP - 1);
    if (!status)
        status = ww_lengths_solve(
            &part->lengths, line,
            &(struct ww_lengths_request){
                .angles = request, .from = longest / LENGTHS_OF_MAP, .to = longest, .count = LENGTHS_OF_MAP},
            error);
    if (!status)
        angles_sentence(&part->angles, part->sentence, sizeof part->sentence);
    return status;
}

enum ww_status angles_solve(struct job *job, const struct skew_part *known, struct angles_part *part,
                            struct ww_error *error)
{
    struct ww_line_options options = ww_study_line_options(&job->study);
    struct ww_angles_request request = request_of(job);
    struct ww_line *line = NULL;
    enum ww_status status = WW_OK;
    struct ww_correction *correction = NULL;
    if (known)
        request.skew.correction = known->skew.correction;
    else {
        progress_step("solving the cross-section");
        status = ww_line_create(&line, &job->study.stack, &job->study.trace, &options, error);
    }
    if (!status)
        status = ww_angles_correct(&correction, known ? known->line : line, &request, error);
    request.skew.correction = correction;
    if (!status)
        status = sweep(job, part, known ? known->line : line, request, error);
    ww_correction_release(correction);
    ww_line_destroy(line);
    return job_place(job, status, error);
}

void angles_clear(struct angles_part *part)
{
    ww_angles_clear(&part->angles);
    ww_lengths_clear(&part->lengths);
    memset(part, 0, sizeof *part);
}

/* --- in words -------------------------------------------------------------------------------------------------------------- */

/* Text that grows at its end; what does not fit is cut. */
struct words {
    char *out;
    size_t size, used;
};

static void WW_PRINTF(2, 3) say(struct words *words, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    int length = vsnprintf(words->out + words->used, words->size - words->used, format, arguments);
    va_end(arguments);
    words->used += length > 0 ? (size_t)length : 0;
    words->used = words->used < words->size ? words->used : words->size - 1;
}

/* Tenths of a degree, upwards: whoever turns by so much is not short of it. */
static double upward(double angle)
{
    return ceil(10.0 * angle / DEG - 1e-6) / 10.0 + 0.0; /* 0 without a sign */
}

static double downward(double angle)
{
    return floor(10.0 * angle / DEG + 1e-6) / 10.0;
}

/* Is there an angle `direction` + k 180 deg in the range? */
static bool has_direction(const struct ww_angles *angles, double direction)
{
    const double rounding = 1e-9;
    double from = angles->at[0].angle, to = angles->at[angles->count - 1].angle;
    return direction + WW_PI * ceil((from - direction) / WW_PI - rounding) <= to + rounding;
}

static void say_windows(struct words *words, const struct ww_angles *angles)
{
    for (size_t i = 0; i < angles->windows && i < WINDOWS_TOLD; i++) {
        const struct ww_window *window = &angles->window[i];
        const char *joint = i == 0 ? "" : i + 1 == angles->windows ? " and " : ", ";
        double from = upward(window->from), to = downward(window->to);
        if (from < to)
            say(words, "%s%.1f to %.1f deg", joint, from, to);
        else
            say(words, "%s%.3f deg", joint, 0.5 * (window->from + window->to) / DEG);
    }
    if (angles->windows > WINDOWS_TOLD)
        say(words, " and %zu more", angles->windows - WINDOWS_TOLD);
}

static const struct ww_at_angle *least_of(const struct ww_angles *angles)
{
    const struct ww_at_angle *least = angles->at;
    for (size_t i = 1; i < angles->count; i++)
        least = angles->at[i].design < least->design ? &angles->at[i] : least;
    return least;
}

static const struct ww_at_angle *most_of(const struct ww_angles *angles)
{
    const struct ww_at_angle *most = angles->at;
    for (size_t i = 1; i < angles->count; i++)
        most = angles->at[i].design > most->design ? &angles->at[i] : most;
    return most;
}

static bool all_safe(const struct ww_angles *angles)
{
    const double rounding = 1e-9;
    return angles->windows == 1 && angles->window[0].from <= angles->at[0].angle + rounding &&
           angles->window[0].to >= angles->at[angles->count - 1].angle - rounding;
}

/* How far to keep from the yarns. */
static void say_yarns(struct words *words, const struct ww_angles *angles)
{
    bool warp = has_direction(angles, 0.0), fill = has_direction(angles, 0.5 * WW_PI);
    bool from_warp = warp && angles->safe_from_warp > 0.0, from_fill = fill && angles->safe_from_fill > 0.0;
    if (from_warp && from_fill)
        say(words, "Turn at least %.1f deg away from the warp and %.1f deg from the fill",
            upward(angles->safe_from_warp), upward(angles->safe_from_fill));
    else if (from_warp)
        say(words, "Turn at least %.1f deg away from the warp%s", upward(angles->safe_from_warp),
            fill ? "; the fill is safe" : "");
    else if (from_fill)
        say(words, "Turn at least %.1f deg away from the fill%s", upward(angles->safe_from_fill),
            warp ? "; the warp is safe" : "");
    else if (warp || fill)
        say(words, "%s safe", warp && fill ? "Warp and fill are" : warp ? "The warp is" : "The fill is");
}

/* Between the yarns. */
static void say_diagonal(struct words *words, const struct ww_angles *angles)
{
    const char *joint = words->used ? "; " : "";
    if (!has_direction(angles, 0.25 * WW_PI))
        return;
    if (angles->safe_from_diagonal > 0.0)
        say(words, "%s45 deg is not safe: turn at least %.1f deg away from it", joint,
            upward(angles->safe_from_diagonal));
    else
        say(words, "%s45 deg is safe", joint);
}

void angles_sentence(const struct ww_angles *angles, char *out, size_t size)
{
    struct words words = {out, size, 0};
    double from = angles->at[0].angle / DEG, to = angles->at[angles->count - 1].angle / DEG;
    const struct ww_at_angle *least = least_of(angles), *most = most_of(angles);
    out[0] = '\0';
    if (!(angles->budget > 0.0)) {
        say(&words,
            "There is no budget to judge by: designing for the turn of the cloth, the least is %.3g ps at %.1f deg "
            "and "
            "the most %.3g ps at %.1f deg.",
            least->design * 1e12, least->angle / DEG, most->design * 1e12, most->angle / DEG);
    } else if (angles->windows == 0) {
        say(&words, "No angle from %g to %g deg meets the budget of %g ps: the least is %.3g ps at %.1f deg.", from,
            to, angles->budget * 1e12, least->design * 1e12, least->angle / DEG);
    } else if (all_safe(angles)) {
        say(&words, "Every angle from %g to %g deg meets the budget of %g ps; the most is %.3g ps at %.1f deg.", from,
            to, angles->budget * 1e12, most->design * 1e12, most->angle / DEG);
    } else {
        say_yarns(&words, angles);
        say_diagonal(&words, angles);
        if (angles->windows > 1 || words.used == 0) {
            say(&words, "%s", words.used ? "; in all, safe are " : "Safe are ");
            say_windows(&words, angles);
        }
        say(&words, ".");
    }
}

/* --- files ----------------------------------------------------------------------------------------------------------------- */

static enum ww_status save_json(struct job *job, const struct angles_part *part, struct ww_error *error)
{
    struct ww_output output = {0};
    enum ww_status status = job_begin(job, error, "json", "angles");
    if (!status)
        status = ww_output_open(&output, job->path, error);
    if (!status)
        status =
            ww_result_angles_json(output.stream, &job->study, &part->summary, &part->angles, part->sentence, error);
    if (!status)
        status = ww_output_commit(&output, error);
    ww_output_discard(&output);
    return job_end(job, status, error);
}

static enum ww_status save_table(struct job *job, const char *name, const struct ww_column *column, size_t columns,
                                 size_t rows, struct ww_error *error)
{
    enum ww_status status = job_begin(job, error, "csv", "%s", name);
    return status ? status : job_end(job, ww_result_csv(job->path, column, columns, rows, error), error);
}

static enum ww_status save_tables(struct job *job, const struct angles_part *part, struct ww_error *error)
{
    const struct ww_at_angle *at = part->angles.at;
    const double ps = 1e-12, mm = 1e-3;
    const struct ww_column curves[] = {{"angle_deg", &at->angle, sizeof *at, DEG, NULL},
                                       {"worst_ps", &at->worst, sizeof *at, ps, NULL},
                                       {"p99_ps", &at->p99, sizeof *at, ps, NULL},
                                       {"median_ps", &at->median, sizeof *at, ps, NULL},
                                       {"design_ps", &at->design, sizeof *at, ps, NULL}};
    const struct ww_column angle = {"angle_deg", part->lengths.angle, sizeof(double), DEG, NULL};
    const struct ww_column length = {"length_mm", part->lengths.length, sizeof(double), mm, NULL};
    enum ww_status status =
        save_table(job, "angles", curves, sizeof curves / sizeof *curves, part->angles.count, error);
    if (!status)
        status = save_table(job, "lengths-angle", &angle, 1, part->lengths.angles, error);
    if (!status)
        status = save_table(job, "lengths-length", &length, 1, part->lengths.lengths, error);
    return status;
}

/* Rows are lengths, columns angles; the two axes are tables, for the angles are not all evenly spaced. */
static enum ww_status save_map(struct job *job, const struct ww_lengths *lengths, struct ww_error *error)
{
    struct ww_map map = {lengths->angles, lengths->lengths, 1.0, 1.0, lengths->worst};
    enum ww_status status = job_begin(job, error, "npy", "lengths");
    return status ? status : job_end(job, ww_result_npy(job->path, &map, error), error);
}

static enum ww_status draw(struct job *job, const struct angles_part *part, struct ww_error *error)
{
    const char *ending = ww_figure_format_name(job->figure.format);
    char length[NUMBER_SIZE], subject[2 * NUMBER_SIZE];
    double own = 0.0;
    bool has_own = own_angle(job, &own), several = job->study.stack.plies > 1;
    ww_number_format(length, sizeof length, job->study.length, WW_LENGTH, 6);
    snprintf(subject, sizeof subject, "%s%s", length, several ? ", all plies together" : "");
    enum ww_status status = job_begin(job, error, ending, "angles");
    if (!status)
        status = job_end(
            job,
            ww_figure_draw_angles(job->path, &job->figure, &(struct ww_figure_angles){subject, &part->angles}, error),
            error);
    if (!status)
        status = job_begin(job, error, ending, "lengths");
    if (!status)
        status = job_end(
            job,
            ww_figure_draw_lengths(job->path, &job->figure,
                                   &(struct ww_figure_lengths){.subject = several ? "all plies together" : NULL,
                                                               .pair = part->angles.pair,
                                                               .lengths = &part->lengths,
                                                               .budget = job->study.budget,
                                                               .own_angle = own,
                                                               .own_length = has_own ? job->study.length : 0.0},
                                   error),
            error);
    return status;
}

enum ww_status angles_save(struct job *job, const struct angles_part *part, struct ww_error *error)
{
    enum ww_status status = save_json(job, part, error);
    if (!status)
        status = save_tables(job, part, error);
    if (!status)
        status = save_map(job, &part->lengths, error);
    if (!status)
        status = draw(job, part, error);
    return status;
}

/* --- the command ----------------------------------------------------------------------------------------------------------- */

static void show_windows(const struct ww_angles *angles)
{
    printf("\nsafe windows, for %g ps", angles->budget * 1e12);
    if (angles->turn > 0.0)
        printf(" with the cloth up to %g deg off square", angles->turn / DEG);
    puts("");
    for (size_t i = 0; i < angles->windows; i++)
        printf("  %8.2f to %.2f deg\n", angles->window[i].from / DEG, angles->window[i].to / DEG);
    if (angles->windows == 0)
        puts("  none");
}

static void show_revivals(const struct job *job, const struct ww_angles *angles)
{
    const struct ww_stack *stack = &job->study.stack;
    if (angles->revivals == 0)
        return;
    printf("\n%s revives along %14s %10s %16s  %s\n", angles->pair ? "skew" : "spread", "(m, l)", "angle", "grows by",
           "on");
    for (size_t i = 0; i < angles->revivals; i++) {
        const struct ww_revival *revival = &angles->revival[i];
        char harmonic[NUMBER_SIZE], lies[NUMBER_SIZE];
        snprintf(harmonic, sizeof harmonic, "(%d, %d)", revival->m, revival->l);
        snprintf(lies, sizeof lies, "%.2f deg", revival->angle / DEG);
        printf("  %-17s %12s %10s %10.4f ps/mm  ply %zu, %s\n",
               revival->l == 0   ? "the warp"
               : revival->m == 0 ? "the fill"
                                 : "a diagonal",
               harmonic, lies, revival->growth * 1e9, revival->ply + 1,
               stack->layer[stack->ply[revival->ply].layer].style.name);
    }
}

static enum ww_status show(const struct job *job, const struct angles_part *part, struct ww_error *error)
{
    const struct ww_angles *angles = &part->angles;
    if (job->options->json)
        return ww_result_angles_json(stdout, &job->study, &part->summary, angles, part->sentence, error);
    if (job->options->quiet)
        return WW_OK;
    show_title(job);
    show_fabric(job);
    show_line(job, &part->summary);
    if (angles->budget > 0.0)
        show_windows(angles);
    show_revivals(job, angles);
    printf("\n%s\n", part->sentence);
    if (job->study.count_tolerance > 0.0)
        printf("The cloth's count is taken as it is; 'skew' takes in that it may be up to %.3g %% off.\n",
               100.0 * job->study.count_tolerance);
    show_files(job);
    return WW_OK;
}

/* Is the angle in a safe window? */
static bool is_safe(const struct ww_angles *angles, double angle)
{
    const double rounding = 1e-9;
    for (size_t i = 0; i < angles->windows; i++)
        if (angle >= angles->window[i].from - rounding && angle <= angles->window[i].to + rounding)
            return true;
    return false;
}

/* --gate judges the study's own angle: it must be one of those looked at. */
static enum ww_status check_gate(const struct job *job, struct ww_error *error)
{
    double own = 0.0;
    enum ww_status status = job_check_gate(job, error);
    if (status || !job->options->gate || own_angle(job, &own))
        return status;
    return ww_error_set(error, WW_INVALID, job->study.file, 0,
                        "--gate judges the study's own angle, %g deg, which is not from %g to %g deg; "
                        "widen --from and --to",
                        job->study.angle / DEG, job->options->from / DEG, job->options->to / DEG);
}

enum outcome angles_run(const struct options *options)
{
    static struct job job;
    struct angles_part part = {0};
    struct ww_error error = {0};
    double own = 0.0;
    bool over = false;
    progress_start(!options->quiet);
    enum ww_status status = job_open(&job, options, &error);
    if (!status)
        status = check_gate(&job, &error);
    if (!status)
        status = angles_solve(&job, NULL, &part, &error);
    if (!status)
        status = job_make_folder(&job, &error);
    if (!status)
        status = angles_save(&job, &part, &error);
    progress_end();
    if (!status) {
        status = show(&job, &part, &error);
        over = options->gate && own_angle(&job, &own) && !is_safe(&part.angles, own);
    }
    angles_clear(&part);
    job_close(&job);
    if (status)
        return fail(&error);
    enum outcome outcome = finish_output();
    return outcome ? outcome : over ? OVER_BUDGET : DONE;
}
