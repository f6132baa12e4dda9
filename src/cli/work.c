/* work.c - what a command would take, told before it is begun.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * From counts of the study alone, times rates that were measured (DEVELOPERS.md): of the cross-section its nodes; of the cloth's
 * turn, yarn counts and plies the lobes of skew over angle, a lobe being yarn pitch/length, each with so many angles, and in each
 * the segments of a route; of frequencies the sections of the line; arms and lanes. Whoever decides between a minute and ten needs
 * no more: an estimate is right to a factor of two or three.
 */
#include "work.h"

#include "boards.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

enum { WHAT_SIZE = 160, PARTS_MOST = 8 };
#define LONG 40.0 /* [s] told from here on: it may be a minute */
#define LARGE 1e9 /* [B] likewise */

/* Rates: seconds of one processor, bytes. */
static const double node_bytes = 36.0, node_time = 1.6e-6;     /* a node of the finest grid */
static const double lobe_time = 2.5e-3, segment_time = 0.6e-3; /* a lobe of one ply and yarn count; a segment in it */
static const double map_time = 35e-6, map_segment = 17e-6;     /* likewise of a map over angle and length */
static const double chances_time = 13e-3, chances_lobes = 250.0; /* a lobe of one ply within the turn; at most */
static const double point_time = 1e-7;                           /* a section of the line at one frequency */
static const double couple_time = 2.0;                           /* two arms of a feed */
static const double lane_time = 3e-7;                            /* a lane on one board at one place, of 4096 */
static const double walk_time = 7e-3;   /* a metre of one leg over a ply along its yarns; at an angle twice that */
static const double table_time = 20e-3; /* of walks: a leg over a ply in one direction, by steps or by places */
static const double volume_time = 90.0; /* a period in three dimensions at fineness 1 */

/* What each command takes of a small study, and how often it does what skew does once. */
struct habit {
    const char *of; /* the command */
    double base;    /* [s] at fineness 1; less where it is less */
    double grids;   /* cross-sections of the finest grid, or others of as many nodes together */
    double sweeps;  /* over the whole range of angles */
    double maps;    /* over angle and length, of a ply */
    bool spectrum;
    double held; /* lines of the study's nodes in memory at once, at most; 0: one for each thread */
};
static const struct habit habit[] = {
    {"skew", 1.5, 1.0, 0.0, 0.0, false, 1.0},        {"angles", 1.5, 1.0, 1.0, 18100.0, false, 1.0},
    {"compare", 0.5, 1.0, 0.3, 0.0, false, 0.0},     {"pitch", 7.0, 8.0, 0.0, 0.0, false, 6.0},
    {"verify", 5.0, 5.0, 0.0, 0.0, false, 1.0},      {"budget", 4.0, 5.0, 0.0, 0.0, false, 1.0},
    {"cloth", 1.5, 1.0, 0.0, 0.0, false, 1.0},       {"frequency", 3.0, 2.0, 1.0, 0.0, true, 1.0},
    {"report", 28.0, 10.0, 2.5, 18100.0, true, 6.0},
};

/* One thing that takes time or memory. */
struct part {
    double seconds, bytes;
    char what[WHAT_SIZE];
    const char *cut;
};

struct work {
    size_t parts;
    struct part part[PARTS_MOST];
};

__attribute__((format(printf, 5, 6))) static void add(struct work *work, double seconds, double bytes,
                                                      const char *cut, const char *format, ...)
{
    struct part *part = &work->part[work->parts];
    va_list arguments;
    if (work->parts == PARTS_MOST || !(seconds > 0.0))
        return;
    work->parts++;
    *part = (struct part){.seconds = seconds, .bytes = bytes, .cut = cut};
    va_start(arguments, format);
    vsnprintf(part->what, sizeof part->what, format, arguments);
    va_end(arguments);
}

/* --- counts ---------------------------------------------------------------------------------------------------------------- */

static double yarn_pitch(const struct ww_stack *stack)
{
    double pitch = INFINITY;
    for (size_t p = 0; p < stack->plies; p++)
        pitch = fmin(pitch, 0.5 * fmin(stack->ply[p].cell.lx, stack->ply[p].cell.ly));
    return pitch;
}

static size_t count_route_directions(const struct ww_route_segment *route, size_t segments)
{
    size_t count = 0;
    for (size_t i = 0; i < segments; i++) {
        size_t first = 0;
        while (route[first].angle != route[i].angle)
            first++;
        count += first == i;
    }
    return count ? count : 1;
}

/* Segments of all routes, and the directions that the first runs in. */
static size_t count_segments(const struct ww_study *study, size_t *directions)
{
    size_t count = study->segments;
    *directions = count_route_directions(study->route, study->segments);
    for (size_t a = 0; a < study->arms; a++)
        count += study->arm[a].segments;
    return count ? count : 1;
}

/* Pairs of yarn counts that are solved. */
static double count_stretches(const struct ww_study *study)
{
    int either = (study->warp_tolerance > 0.0) + (study->fill_tolerance > 0.0);
    return either == 2 ? 9.0 : either == 1 ? 5.0 : 1.0;
}

/* Stackups that are solved: of compare the study's own and one for each style. */
static double count_stackups(const struct options *options)
{
    const double all = 36.0;
    double count = 1.0;
    for (size_t i = 2; i < options->operands; i++)
        count += strcmp(options->operand[i], "all") == 0 ? all : 1.0;
    return count;
}

/* --- what takes time --------------------------------------------------------------------------------------------------------- */

static void add_usual(struct work *work, const struct job *job, const struct habit *of)
{
    double stackups = count_stackups(job->options), seconds = stackups * of->base * fmin(job->study.fineness, 1.0);
    if (stackups > 1.0)
        add(work, seconds, 0.0, "fewer styles or a lower fineness", "%.0f stackups are solved", stackups);
    else
        add(work, seconds, 0.0, "another command or a lower fineness", "'%s' solves much of any study", of->of);
}

static void add_section(struct work *work, const struct job *job, const struct habit *of)
{
    const struct ww_study *study = &job->study;
    size_t nodes = 0;
    if (ww_line_nodes(&nodes, &study->stack, &study->trace, study->fineness, NULL) != WW_OK)
        return; /* the line itself tells why */
    double held = of->held > 0.0 ? of->held : fmin(ww_threads(), count_stackups(job->options));
    add(work, count_stackups(job->options) * of->grids * node_time * (double)nodes, held * node_bytes * (double)nodes,
        "a wider trace or gap, thinner layers or a lower fineness", "the cross-section has %.1f million nodes",
        1e-6 * (double)nodes);
}

/* Skew over angle goes up and down in lobes of yarn pitch over length: so many are sampled, at every pair of yarn counts. */
static void add_lobes(struct work *work, const struct job *job, const struct habit *of)
{
    const struct ww_study *study = &job->study;
    const double most = 5000.0;
    double lobe = yarn_pitch(&study->stack) / study->length, plies = (double)study->stack.plies;
    double stretches = count_stretches(study), turned = 2.0 * study->turn / lobe;
    double range = job->options->to - job->options->from, swept = fmin(range / lobe, most);
    size_t directions, segments = count_segments(study, &directions);
    double each = lobe_time + segment_time * (double)(segments + directions);
    if (job->options->step > 0.0) /* as many samples as some lobes have */
        swept += 0.125 * range / job->options->step;
    double lobes = fmin(turned, most) + of->sweeps * swept;
    add(work,
        plies * of->maps * (map_time + map_segment * (double)segments) +
            count_stackups(job->options) * plies *
                (stretches * lobes * each +
                 sqrt(stretches) * chances_time * fmin(turned, chances_lobes) * (1.0 + 0.1 * (double)segments)),
        0.0, "a shorter trace, fewer segments, less turn or no count_tolerance",
        "skew over angle has %.0f lobes of yarn pitch/length, for each of %zu segment%s, %.0f yarn count%s and %.0f "
        "pl%s",
        fmin(turned, most) + (of->sweeps > 0.0 ? swept : 0.0), segments, segments == 1 ? "" : "s", stretches,
        stretches > 1.0 ? "s" : "", plies, plies > 1.0 ? "ies" : "y");
}

static void add_spectrum(struct work *work, const struct job *job, const struct habit *of)
{
    const struct options *options = job->options;
    const struct ww_study *study = &job->study;
    const double bands = 201.0, placements = 24.0, per_pitch = 12.0, usual = 1001.0, slow = 2.0 / WW_C0;
    double signal = ww_study_frequency(study);
    double highest = options->band.to > 0.0 ? options->band.to : signal > 0.0 ? 2.0 * signal : 50e9;
    double points = options->points ? (double)options->points
                                    : fmax(usual, 4.0 * highest * slow * study->length); /* as the phase needs */
    double sections = per_pitch * fmax(1.0, study->length / yarn_pitch(&study->stack));
    double solved = points * (1.0 + (double)options->count) + bands * placements;
    bool report = strcmp(options->operand[0], "report") == 0;
    if (!of->spectrum || (report && !(signal > 0.0)))
        return;
    add(work, point_time * sections * solved, 0.0,
        report ? "a shorter trace or a lower frequency" : "fewer --points, a lower --band or a shorter trace",
        "the line has %.0f sections, each solved at %.0f frequencies", sections, solved);
}

/* Arms of a feed two by two, and lanes side by side on every board. */
static void add_neighbours(struct work *work, const struct job *job)
{
    const struct ww_study *study = &job->study;
    const double places = 4096.0;
    double arms = (double)study->arms + 1.0, couples = 0.5 * arms * (arms - 1.0);
    double lobes = 2.0 * study->turn * study->length / yarn_pitch(&study->stack);
    double boards = count_stretches(study) * fmin(8.0 * lobes + 8.0, 4.0 * chances_lobes);
    add(work, couple_time * couples, 0.0, "fewer arms", "%.0f arms of a feed are solved two by two", arms);
    if (study->lanes > 1 && study->lane_pitch > 0.0 && strcmp(job->options->operand[0], "cloth") != 0)
        add(work, lane_time * places * boards * (double)study->lanes, 0.0,
            "fewer lanes, less turn or no count_tolerance", "%zu lanes lie side by side on %.0f boards", study->lanes,
            boards);
}

static void add_volume(struct work *work, const struct job *job)
{
    double fineness = job->study.fineness;
    if (strcmp(job->options->operand[0], "verify") == 0 && !job->options->no_volume)
        add(work, volume_time * fineness * fineness * fineness, 0.0, "--no-volume or a lower fineness",
            "a period of the cloth is solved in three dimensions at fineness %g", fineness);
}

/* Directions of each arm of a feed, added up, and its length. */
static size_t count_arms(const struct ww_study *study, double *length)
{
    size_t directions = count_route_directions(study->route, study->segments);
    *length = study->length;
    for (size_t a = 0; a < study->arms; a++) {
        directions += count_route_directions(study->arm[a].route, study->arm[a].segments);
        for (size_t i = 0; i < study->arm[a].segments; i++)
            *length += study->arm[a].route[i].length;
    }
    return directions;
}

/* Of one board: its traces up to the longest, square and turned; at six other angles, side by side, and nets. */
static double walked_on_board(const struct ww_real_request *request, double longest, double arms)
{
    const double traces = 2.0 * 24.0, at_angles = 6.0 * 8.0, side_by_side = 49.0, panels = 2.0;
    return traces * (longest + arms) + (at_angles + side_by_side + panels * (double)request->nets) * request->length;
}

/* By how much longer: yarns come and go beside it. */
static double crossing(const struct ww_study *study)
{
    const double along = 1e-3;
    return study->segments > 0 || study->arms > 0 || fabs(sin(2.0 * study->angle)) > along ? 2.0 : 1.0;
}

/* The map over places: rows that the trace is slid along, or walks of the whole route. */
static double walked_over_places(const struct ww_study *study)
{
    const double rows = 96.0, along = 60e-3, routes = 60.0 * 48.0;
    return study->segments > 0 ? routes * study->length : rows * (study->length + along);
}

/* Real cloth: traces of each board up to the longest, and before that the tables of the walks, for the study's angle and six more. */
static void add_boards(struct work *work, const struct job *job)
{
    const double turned = 6.0;
    const struct options *options = job->options;
    const struct ww_study *study = &job->study;
    if (strcmp(options->operand[0], "cloth") != 0)
        return;
    const struct ww_real_request request = boards_request(job);
    double boards = options->boards ? (double)options->boards : 48.0, stretches = count_stretches(study);
    double over = (double)study->stack.plies * (study->trace.pitch > 0.0 ? 2.0 : 1.0), longest = study->length, arms;
    size_t own = count_route_directions(study->route, study->segments), of_arms = count_arms(study, &arms);
    bool feed = study->arms > 0 && !study->paths[0];
    if (options->to_length > 0.0)
        longest = options->to_length;
    else if (study->segments == 0)
        longest = fmax(0.25, 2.0 * study->length);
    double walked = crossing(study) *
                    (boards * walked_on_board(&request, longest, feed ? arms : 0.0) + walked_over_places(study));
    double bytes = boards_bytes(job), steps = (study->segments > 0 ? 2.0 : 1.0) * (1.0 + turned) * (double)own;
    double tables = over * (study->paths[0] ? 1.0 : stretches) * (steps + (feed ? 2.0 * (double)of_arms : 0.0));
    if (bytes > LARGE)
        add(work, walk_time * over * walked, bytes,
            "a longer wander_length, a shorter trace, a smaller panel, fewer directions of a route or fewer "
            "--threads",
            "boards of real cloth are drawn at once, each of %.3g m, and their walks have tables", longest);
    else
        add(work, walk_time * over * walked, 0.0, "fewer --boards, or a shorter --to-length",
            "%.0f boards of real cloth carry traces of %.3g m", boards, longest);
    add(work, table_time * tables, 0.0, "fewer arms or directions of a route, or no count_tolerance",
        "walks have tables in %zu direction%s at %.0f pair%s of yarn counts", feed ? of_arms : own,
        (feed ? of_arms : own) > 1 ? "s" : "", stretches, stretches > 1.0 ? "s" : "");
}

/* --- telling ----------------------------------------------------------------------------------------------------------------- */

static const char *duration(double seconds, char *out, size_t size)
{
    double minutes = fmax(1.0, round(seconds / 60.0)), hours = round(seconds / 3600.0);
    if (hours >= 2.0)
        snprintf(out, size, "%.0f hours", fmin(hours, 9999.0));
    else
        snprintf(out, size, "%.0f minute%s", minutes, minutes > 1.0 ? "s" : "");
    return out;
}

static void tell(const struct part *most, double seconds, double bytes)
{
    char time[32], memory[32] = "";
    int threads = ww_threads();
    if (bytes > LARGE)
        snprintf(memory, sizeof memory, "%.1f GB and ", 1e-9 * bytes);
    fprintf(stderr, "weftwise: note: this takes about %s%s on %d thread%s: %s; %s takes less\n", memory,
            duration(seconds, time, sizeof time), threads, threads > 1 ? "s" : "", most->what, most->cut);
}

void work_note(const struct job *job)
{
    const struct habit *of = habit;
    const char *name = job->options->operand[0];
    struct work work = {0};
    double seconds = 0.0, bytes = 0.0;
    while (of < habit + sizeof habit / sizeof *habit && strcmp(of->of, name) != 0)
        of++;
    if (job->options->quiet || of == habit + sizeof habit / sizeof *habit)
        return;
    add_usual(&work, job, of);
    add_section(&work, job, of);
    if (job->study.stack.plies > 0) {
        add_lobes(&work, job, of);
        add_neighbours(&work, job);
        add_boards(&work, job);
        add_volume(&work, job);
    }
    add_spectrum(&work, job, of);
    const struct part *most = work.part;
    for (size_t i = 0; i < work.parts; i++) {
        const struct part *part = &work.part[i];
        bool larger =
            bytes > LARGE || part->bytes > LARGE ? part->bytes > most->bytes : part->seconds > most->seconds;
        most = larger ? part : most;
        seconds += part->seconds / ww_threads();
        bytes = fmax(bytes, part->bytes);
    }
    if (seconds > LONG || bytes > LARGE)
        tell(most, seconds, bytes);
}
