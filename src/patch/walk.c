/* walk.c - delay along a trace through real cloth.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * tabulate.c says what the slowness of a leg is at a place. A walk adds it up leg by leg and segment by segment, each leg of a
 * pair from where the mitre of one bend puts it to where that of the next one does: in whole steps, whose tables hold the average
 * over a step, and over what is shorter than a step by Gauss's rule on tables of places. On perfect cloth a step is exact; eight nodes
 * are, to 1e-5 of the worst (tests/patch/test_walk.c).
 *
 * Inter-ply coupling (scan/coupling.c) is local: -d_1 d_2/S_0 for each leg and two plies, d_p what ply p alone changes of
 * the leg's slowness at the place. It is a percent or two of the whole, so that d_p is carried by the local phase of the ply's yarns,
 * and its integral along a leg is a sum over places that are APART of the shortest yarn pitch at most.
 */
#include "patch/walk.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "correct/correction.h"
#include "line/line.h"

enum { NODES = 8 };
/* Of Gauss's rule on -1 .. 1, the positive half (Abramowitz and Stegun 1964, table 25.4). */
static const double node[NODES / 2] = {0.183434642495650, 0.525532409916329, 0.796666477413627, 0.960289856497536};
static const double weight[NODES / 2] = {0.362683783378362, 0.313706645877887, 0.222381034453374, 0.101228536290376};
#define WHOLE 1e-6 /* of a step, by which a length may be off a whole number of them */
#define APART 0.25 /* of the shortest yarn pitch, between places at which the product of two plies is taken */
#define FAINT 1e-4 /* of the largest deviation: the product of two plies that is less is left out */

/* --- making ----------------------------------------------------------------------------------------------------- */

/* The route's directions, each once, and its segments. */
static void take_route(struct ww_walk *walk, const struct ww_scan *scan, double length, const struct ww_scan **of)
{
    for (size_t i = 0; i < walk->segments; i++) {
        const struct ww_scan_segment segment = ww_scan_segment_at(scan, i);
        struct ww_walk_segment *s = &walk->segment[i];
        size_t d = 0;
        while (d < walk->directions && of[d] != segment.scan)
            d++;
        if (d == walk->directions)
            of[walk->directions++] = segment.scan;
        *s = (struct ww_walk_segment){.direction = d, .length = segment.share * length};
        for (int leg = 0; leg < 2; leg++)
            s->span[leg] = ww_leg_span(scan, &segment, s->length, leg);
        s->mismatch = scan->bends && scan->segments ? ww_scan_mismatch_at(scan, i) : 0;
    }
}

/* Room for the walk along a scan, and what is not tabulated. */
static enum ww_status lay_out(struct ww_walk_source *source, double length, double step, struct ww_error *error)
{
    const struct ww_scan *scan = source->scan;
    struct ww_walk *walk = source->walk;
    size_t segments = ww_scan_segments(scan);
    walk->plies = scan->plies;
    walk->segments = segments;
    walk->legs = scan->pair ? 2 : 1;
    walk->pitch = scan->pitch;
    walk->change = scan->change;
    walk->step = step;
    walk->cloth = calloc(walk->plies + 1, sizeof *walk->cloth);
    walk->segment = calloc(segments, sizeof *walk->segment);
    source->of = calloc(segments, sizeof(struct ww_scan *));
    if (source->of && walk->segment)
        take_route(walk, scan, length, source->of);
    walk->ply = calloc(walk->directions * walk->plies + 1, sizeof *walk->ply);
    if (source->of && walk->cloth && walk->segment && walk->ply)
        return WW_OK;
    return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a walk of %zu segments", segments);
}

static double length_of(const struct ww_scan_options *options)
{
    double length = 0;
    for (size_t i = 0; options->route && i < options->segments; i++)
        length += options->route[i].length;
    return length;
}

enum ww_status ww_walks_create(struct ww_walk **walk, size_t count, const struct ww_line *line,
                               const struct ww_correction *correction, double angle, double step,
                               const struct ww_scan_options *asked, const double (*stretch)[2],
                               struct ww_error *error)
{
    struct ww_scan_options options = asked ? *asked : (struct ww_scan_options){0};
    struct ww_walk_source *source = calloc(count, sizeof *source);
    enum ww_status status = source ? WW_OK : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a walk");
    if (!status && (!(step >= 0 && isfinite(step)) || (options.route && !(step > 0))))
        status = ww_error_set(error, WW_INVALID, NULL, 0, "a walk in steps of %g m", step);
    for (size_t i = 0; i < count; i++) {
        walk[i] = calloc(1, sizeof **walk);
        if (!status && !walk[i])
            status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a walk");
        if (status)
            continue;
        source[i].walk = walk[i];
        source[i].stretch = stretch[i];
        memcpy(options.stretch, stretch[i], sizeof options.stretch);
        status = ww_corrected_scan_create_with(&source[i].scan, line, correction, angle, false, &options, error);
        if (!status)
            status = lay_out(&source[i], length_of(&options), step, error);
    }
    if (!status)
        status = ww_walk_tabulate(source, count, line, error);
    for (size_t i = 0; i < count; i++) {
        if (source) {
            ww_scan_destroy(source[i].scan);
            free(source[i].of);
        }
        if (status) {
            ww_walk_destroy(walk[i]);
            walk[i] = NULL;
        }
    }
    free(source);
    return status;
}

enum ww_status ww_walk_create(struct ww_walk **walk, const struct ww_line *line,
                              const struct ww_correction *correction, double angle, double step,
                              const struct ww_scan_options *options, struct ww_error *error)
{
    const double as_woven[1][2] = {{0, 0}}, (*stretch)[2] = options ? &options->stretch : as_woven;
    return ww_walks_create(walk, 1, line, correction, angle, step, options, stretch, error);
}

void ww_walk_destroy(struct ww_walk *walk)
{
    if (!walk)
        return;
    for (size_t i = 0; walk->ply && i < walk->directions * walk->plies; i++) {
        ww_walk_tables_clear(&walk->ply[i].step);
        if (walk->ply[i].point)
            ww_walk_tables_clear(walk->ply[i].point);
        free(walk->ply[i].point);
        for (int leg = 0; leg < 2; leg++)
            ww_table_clear(&walk->ply[i].whole[leg]);
    }
    free(walk->ply);
    free(walk->cloth);
    free(walk->segment);
    free(walk);
}

/* --- slowness on the patch --------------------------------------------------------------------------------------------------- */

/* Share by which the yarns are wider at a place: that of the yarn on whose axis it is, and between two from one to the other. */
static double wider_at(const struct ww_around *around)
{
    enum { LOW = WW_AROUND / 2 - 1 };
    double t = around->phase - (double)(around->first + LOW) - 0.5;
    return around->wider[LOW] + t * t * t * (10 - 15 * t + 6 * t * t) * (around->wider[LOW + 1] - around->wider[LOW]);
}

/* A leg on its way over one ply's patch. */
struct tread {
    size_t ply;
    const struct cloth_of_ply *cloth;
    const struct ww_walk_ply *of;
    const struct ww_walk_tables *tables;
    int leg;
    double begin[2];     /* where the segment's centre line begins */
    double x, y, ux, uy; /* the same moved aside to the leg, in the cloth's own frame, and the direction */
    struct ww_follower warp, fill;
};

static void tread_start(struct tread *t, const struct ww_walk *walk, size_t ply, const struct ww_patch *patch,
                        const double start[2], int leg)
{
    *t = (struct tread){.ply = ply, .cloth = &walk->cloth[ply], .leg = leg, .begin = {start[0], start[1]}};
    ww_follower_init(&t->warp, patch, WW_WARP);
    ww_follower_init(&t->fill, patch, WW_FILL);
}

/* Onto a segment; from the last one's end where there was one. */
static void tread_turn(struct tread *t, const struct ww_walk *walk, const struct ww_walk_segment *segment,
                       double turn)
{
    t->of = &walk->ply[segment->direction * walk->plies + t->ply];
    double aside = t->leg ? -0.5 * walk->pitch : 0.5 * walk->pitch; /* n = (-uy, ux) */
    t->ux = sin(t->of->theta + turn);
    t->uy = cos(t->of->theta + turn);
    t->x = t->begin[0] - t->cloth->shift_x - aside * t->uy;
    t->y = t->begin[1] - t->cloth->shift_y + aside * t->ux;
}

static void tread_pass(struct tread *t, double length)
{
    t->begin[0] += length * t->ux;
    t->begin[1] += length * t->uy;
}

/* Of all yarns of one system around a leg; across: the leg's place; other: knots of the other system's phase, crossing: the share by
 * which its yarns are wider there. */
static double sum_yarns(const struct tread *t, enum ww_system system, const struct ww_around *around, double across,
                        const struct ww_knots *other, double crossing)
{
    double scale = WW_WIDE_SAMPLES / (WW_AROUND * (system == WW_WARP ? t->cloth->px : t->cloth->py)), sum = 0;
    const struct ww_walk_tables *tables = t->tables;
    struct ww_knots along[2] = {*other, *other}; /* even, odd: half of its period on */
    along[1].first = (other->first + WW_ALONG_SAMPLES / 2) % WW_ALONG_SAMPLES;
    along[1].first_coarse = (other->first_coarse + WW_ALONG_SAMPLES / 4) % (WW_ALONG_SAMPLES / 2);
    for (int n = 0; n < WW_AROUND; n++) {
        const struct ww_knots wide = ww_knots_at((across - around->axis[n]) * scale, WW_WIDE_SAMPLES);
        const struct ww_knots *own = &along[(around->first + n) % 2 != 0];
        const struct ww_knots *x = system == WW_WARP ? &wide : own, *y = system == WW_WARP ? own : &wide;
        double wider = around->wider[n],
               contact = t->of->share[system] * fabs(wider + t->cloth->taller[system] * crossing);
        sum += ww_table_at(&tables->yarn[system][t->leg], x, y);
        if (wider != 0)
            sum += wider * ww_table_coarse(&tables->wider[system][t->leg], x, y);
        if (contact > 0)
            sum += contact * ww_table_coarse(&tables->contact[system][t->leg], x, y);
    }
    return sum;
}

/* Slowness of the leg at a place of its own on the cloth. */
static double slowness_at(struct tread *t, double x, double y)
{
    ww_follower_move(&t->warp, x, y);
    ww_follower_move(&t->fill, y, x);
    struct ww_knots at_x = ww_knots_at(0.5 * WW_CELL_SAMPLES * t->warp.around.phase, WW_CELL_SAMPLES);
    struct ww_knots at_y = ww_knots_at(0.5 * WW_CELL_SAMPLES * t->fill.around.phase, WW_CELL_SAMPLES);
    return ww_table_at(&t->tables->cell[t->leg], &at_x, &at_y) +
           sum_yarns(t, WW_WARP, &t->warp.around, x, &at_y, wider_at(&t->fill.around)) +
           sum_yarns(t, WW_FILL, &t->fill.around, y, &at_x, wider_at(&t->warp.around));
}

/* --- along a trace ---------------------------------------------------------------------------------------------------------- */

/* Integral over so many whole steps from `from` on. */
static double walk_steps(struct tread *t, double step, double from, double steps)
{
    double sum = 0;
    t->tables = &t->of->step;
    for (double i = 0; i < steps; i++) {
        double s = from + (i + 0.5) * step;
        sum += slowness_at(t, t->x + s * t->ux, t->y + s * t->uy);
    }
    return sum * step;
}

/* Integral over what is shorter than a step. */
static double walk_remainder(struct tread *t, double from, double to)
{
    double sum = 0, half = 0.5 * (to - from);
    t->tables = t->of->point;
    for (int n = 0; n < NODES; n++) {
        int at = n < NODES / 2 ? NODES / 2 - 1 - n : n - NODES / 2;
        double s = from + half * (1 + (n < NODES / 2 ? -node[at] : node[at]));
        sum += weight[at] * slowness_at(t, t->x + s * t->ux, t->y + s * t->uy);
    }
    return sum * half;
}

static double walk_alone(struct tread *t, double step, double from, double to)
{
    double steps = floor((to - from) / step + WHOLE), done = from + steps * step;
    double sum = walk_steps(t, step, from, steps);
    return sum + (t->of->point && to - done > WHOLE * step ? walk_remainder(t, done, to) : 0);
}

/* What its ply changes of the leg's slowness, by the local phase. */
static double change_at(struct tread *t, double s)
{
    double x = t->x + s * t->ux, y = t->y + s * t->uy;
    ww_follower_move(&t->warp, x, y);
    ww_follower_move(&t->fill, y, x);
    const struct ww_knots at_x = ww_knots_coarse(0.5 * WW_WHOLE_SAMPLES * t->warp.around.phase, WW_WHOLE_SAMPLES);
    const struct ww_knots at_y = ww_knots_coarse(0.5 * WW_WHOLE_SAMPLES * t->fill.around.phase, WW_WHOLE_SAMPLES);
    return ww_table_coarse(&t->of->whole[t->leg], &at_x, &at_y);
}

/* Inter-ply coupling. */
static double walk_coupled(struct tread two[2], double from, double to)
{
    double pitch = fmin(fmin(two[0].cloth->px, two[0].cloth->py), fmin(two[1].cloth->px, two[1].cloth->py));
    double parts = ceil((to - from) / (APART * pitch) - WHOLE), sum = 0;
    for (double i = 0; i < parts; i++) {
        double s = from + (i + 0.5) / parts * (to - from);
        sum += change_at(&two[0], s) * change_at(&two[1], s);
    }
    return parts > 0 ? -sum * (to - from) / parts * 2 / (two[0].of->mean + two[1].of->mean) : 0;
}

/* Integral over from .. to along the segment, of one ply or of the coupling of two. Back, where a mitre ends the leg before a length that was
 * asked for. */
static double integrate(struct tread *t, size_t treads, double step, double from, double to)
{
    if (to < from)
        return -integrate(t, treads, step, to, from);
    return treads == 2 ? walk_coupled(t, from, to) : walk_alone(t, step, from, to);
}

/* The lengths asked of a walk: told, or all whole steps. */
struct lengths {
    const double *length;
    double step;
};

static double length_at(const struct lengths *lengths, size_t i)
{
    return lengths->length ? lengths->length[i] : (double)(i + 1) * lengths->step;
}

/* Adds one leg over one ply, or of the coupling of two. */
static void walk_leg(const struct ww_walk *walk, struct tread *t, size_t treads, double turn,
                     const struct lengths *lengths, size_t count, double *value)
{
    double passed = 0, sum = 0;
    for (size_t n = 0, i = 0; n < walk->segments && i < count; n++) {
        const struct ww_walk_segment *segment = &walk->segment[n];
        bool last = n + 1 == walk->segments;
        double at = segment->span[t->leg].start, end = passed + segment->length;
        for (size_t k = 0; k < treads; k++)
            tread_turn(&t[k], walk, segment, turn);
        for (; i < count && (last || length_at(lengths, i) <= end + WHOLE * walk->step); i++) {
            double to = length_at(lengths, i) - passed;
            sum += integrate(t, treads, walk->step, at, to);
            value[i] += t->leg ? -sum : sum;
            at = to;
        }
        if (i < count)
            sum += integrate(t, treads, walk->step, at, segment->span[t->leg].start + segment->span[t->leg].length);
        passed = end;
        for (size_t k = 0; k < treads; k++)
            tread_pass(&t[k], segment->length);
    }
}

/* In any direction; against the largest deviation of all plies. */
static bool is_faint(const struct ww_walk *walk, size_t p, size_t q)
{
    for (size_t d = 0; d < walk->directions; d++) {
        const struct ww_walk_ply *ply = &walk->ply[d * walk->plies];
        double most = 0, product = ply[p].largest * ply[q].largest;
        for (size_t i = 0; i < walk->plies; i++)
            most = fmax(most, ply[i].largest);
        if (product > FAINT * most * ply[p].mean)
            return false;
    }
    return true;
}

void ww_walk_along(const struct ww_walk *walk, const struct ww_patch *const *patch, const double (*start)[2],
                   double turn, const double *length, size_t count, double *value)
{
    const struct lengths lengths = {length, walk->step};
    struct tread t[2];
    for (size_t i = 0; i < count; i++)
        value[i] = 0;
    for (size_t p = 0; p < walk->plies; p++)
        for (int leg = 0; leg < walk->legs; leg++) {
            tread_start(t, walk, p, patch[p], start[p], leg);
            walk_leg(walk, t, 1, turn, &lengths, count, value);
        }
    for (size_t p = 0; p < walk->plies; p++)
        for (size_t q = p + 1; q < walk->plies; q++)
            for (int leg = 0; leg < walk->legs && !is_faint(walk, p, q); leg++) {
                tread_start(&t[0], walk, p, patch[p], start[p], leg);
                tread_start(&t[1], walk, q, patch[q], start[q], leg);
                walk_leg(walk, t, 2, turn, &lengths, count, value);
            }
    double passed = 0;
    for (size_t n = 0; n + 1 < walk->segments; n++) {
        passed += walk->segment[n].length;
        for (size_t i = 0; i < count && walk->segment[n].mismatch != 0; i++)
            value[i] += length_at(&lengths, i) > passed + WHOLE * walk->step ? walk->segment[n].mismatch : 0;
    }
}

/* --- at places --------------------------------------------------------------------------------------------------------------- */

/* Of `count` places of the pair's centre, a step from each other. */
static void slowness_along(const struct ww_walk *walk, size_t ply, const struct ww_patch *patch, int leg,
                           const double from[2], double step, size_t count, double *slowness)
{
    struct tread t;
    tread_start(&t, walk, ply, patch, from, leg);
    tread_turn(&t, walk, &walk->segment[0], 0);
    t.tables = &t.of->step;
    for (size_t i = 0; i < count; i++)
        slowness[i] = slowness_at(&t, t.x + (double)i * step, t.y);
}

void ww_walk_slowness(const struct ww_walk *walk, size_t ply, const struct ww_patch *patch, double x, double y,
                      double slowness[2])
{
    const double place[2] = {x, y};
    slowness[1] = 0;
    for (int leg = 0; leg < walk->legs; leg++)
        slowness_along(walk, ply, patch, leg, place, 0, 1, &slowness[leg]);
}

enum ww_status ww_walk_map(const struct ww_walk *walk, size_t ply, const struct ww_patch *patch, const double from[2],
                           double lx, double ly, size_t nx, size_t ny, struct ww_map leg[2], struct ww_error *error)
{
    enum ww_status status = ww_map_init(&leg[0], nx, ny, lx, ly, error);
    leg[1] = (struct ww_map){0};
    if (!status && walk->legs == 2)
        status = ww_map_init(&leg[1], nx, ny, lx, ly, error);
    if (status) {
        ww_map_clear(&leg[0]);
        return status;
    }
    double step = lx / (double)nx;
#ifdef _OPENMP
#pragma omp parallel for schedule(static) num_threads(ww_threads())
#endif
    for (size_t iy = 0; iy < ny; iy++) {
        const double first[2] = {from[0] + 0.5 * step, from[1] + ((double)iy + 0.5) / (double)ny * ly};
        for (int l = 0; l < walk->legs; l++)
            slowness_along(walk, ply, patch, l, first, step, nx, leg[l].value + iy * nx);
    }
    return WW_OK;
}
