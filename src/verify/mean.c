/* mean.c - kernel, sections and volume over a span of the trace.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Skew grows along the trace by the mean slowness difference over one period T of the cloth, (1/T) integral S_1 - S_2 ds:
 *   kernel    the integral of each harmonic, exact;
 *   section   the mean of evenly spread sections, doubled in number until it settles;
 *   volume    the field of the whole period.
 * Plies that share a period are solved in place at once. Plies that do not are solved one by one, each over its own period
 * with the others at their lateral mean, and their skews are added, as in the scan. Without a period the sections are
 * spread over the longest side of a cell.
 */
#include "verify/mean.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define FIRST_SECTIONS 8
#define MOST_SECTIONS 32
#define APERIODIC_SECTIONS 16
#define SETTLED 2e-3 /* of the worst per length */
#define A_POINT 1e-9 /* [m] along the trace: nothing changes over it */

enum ww_status ww_verify_kernel(const struct ww_scan *scan, const struct ww_line *line, double angle,
                                const double (*start)[2], size_t ply, double along, double length, double delay[2],
                                struct ww_error *error)
{
    const struct ww_stack *stack = ww_line_stack(line);
    int legs = ww_line_trace(line)->pitch > 0 ? 2 : 1;
    double over = length > 0 ? length : A_POINT;
    double(*moved)[2] = calloc(stack->plies + 1, sizeof *moved);
    enum ww_status status =
        moved ? WW_OK : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", stack->plies);
    delay[0] = delay[1] = 0;
    for (size_t p = 0; p < stack->plies && !status; p++) {
        double theta = angle - stack->ply[p].turn;
        moved[p][0] = start[p][0] + along * sin(theta);
        moved[p][1] = start[p][1] + along * cos(theta);
    }
    for (int leg = 0; leg < legs && !status; leg++) {
        enum ww_signal signal = leg ? WW_LEG2 : WW_LEG1;
        double value = 0;
        status = ply ? ww_scan_value(scan, ply - 1, signal, WW_MEAN, over, moved[ply - 1][0], moved[ply - 1][1],
                                     &value, error)
                     : ww_scan_value_of_all(scan, signal, WW_MEAN, over, (const double(*)[2])moved, &value, error);
        delay[leg] = ww_scan_mean_delay(scan, signal, 1) + value / over;
    }
    free(moved);
    return status;
}

enum ww_status ww_verify_to_limit(const struct ww_verify_context *context, size_t segment, double angle,
                                  const double (*place)[2], size_t ply, double length, struct ww_full *full,
                                  struct ww_error *error)
{
    double limit[2], grid[2];
    enum ww_status status =
        ww_verify_kernel(context->limit[segment], context->line, angle, place, ply, 0, length, limit, error);
    if (!status)
        status =
            ww_verify_kernel(context->on_grid[segment], context->line, angle, place, ply, 0, length, grid, error);
    for (int leg = 0; leg < (context->pair ? 2 : 1) && !status; leg++) {
        full->delay[leg] += limit[leg] - grid[leg];
        full->dk[leg] = pow(full->delay[leg] * WW_C0, 2);
    }
    return status;
}

/* --- along the trace --------------------------------------------------------------------------------------------------- */

/* A point of the trace: its segment, the angle there, and how far each ply's place has moved from the start. */
struct point {
    size_t segment;
    double angle, east, north; /* in the frame of the panel: across and along its warp [m] */
};

static struct point point_at(const struct ww_verify_context *context, double along)
{
    struct point point = {0, context->angle + context->route[0].angle, 0, 0};
    for (size_t i = 0; i < context->segments; i++) {
        double length = context->route[i].length, angle = context->angle + context->route[i].angle;
        bool last = i + 1 == context->segments || along < length;
        double part = last ? along : length;
        point.east += part * sin(angle);
        point.north += part * cos(angle);
        point.segment = i;
        point.angle = angle;
        if (last)
            break;
        along -= length;
    }
    return point;
}

/* The places of all plies there, in the frame of each; a ply turned by t has its axes turned by t towards +x. */
static void places_at(const struct ww_verify_context *context, const double (*start)[2], const struct point *point,
                      double (*place)[2])
{
    const struct ww_stack *stack = ww_line_stack(context->line);
    for (size_t p = 0; p < stack->plies; p++) {
        double turn = stack->ply[p].turn;
        place[p][0] = start[p][0] + point->east * cos(turn) - point->north * sin(turn);
        place[p][1] = start[p][1] + point->east * sin(turn) + point->north * cos(turn);
    }
}

/* The fast answer at that point. */
static enum ww_status fast_at(const struct ww_verify_context *context, const double (*start)[2], size_t ply,
                              double along, double delay[2], struct ww_error *error)
{
    struct point point = point_at(context, along);
    double(*place)[2] = calloc(ww_line_stack(context->line)->plies + 1, sizeof *place);
    if (!place)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the place of the plies");
    places_at(context, start, &point, place);
    enum ww_status status = ww_verify_kernel(context->straight[point.segment], context->line, point.angle,
                                             (const double(*)[2])place, ply, 0, 0, delay, error);
    free(place);
    return status;
}

/* --- which span ----------------------------------------------------------------------------------------------------- */

static double longest_side(const struct ww_stack *stack)
{
    double side = 0;
    for (size_t p = 0; p < stack->plies; p++)
        side = fmax(side, fmax(stack->ply[p].cell.lx, stack->ply[p].cell.ly));
    return side;
}

enum ww_status ww_verify_spans(const struct ww_verify_context *context, struct ww_verify_mean *mean, size_t *means,
                               char *why_not, size_t size, struct ww_error *error)
{
    const struct ww_stack *stack = ww_line_stack(context->line);
    struct ww_error reason = {0};
    double period = 0;
    *means = stack->plies > 0;
    if (stack->plies == 0) {
        snprintf(why_not, size, "there is no cloth");
        return WW_OK;
    }
    if (context->segments > 1) {
        double length = 0;
        for (size_t i = 0; i < context->segments; i++)
            length += context->route[i].length;
        snprintf(why_not, size, "the cloth does not repeat along a route of %zu segments", context->segments);
        mean[0] = (struct ww_verify_mean){.span = length};
        return WW_OK;
    }
    enum ww_status status = ww_volume_period(context->line, context->angle, &period, &reason);
    mean[0] = (struct ww_verify_mean){.span = period, .periodic = true};
    if (status == WW_INVALID) {
        status = WW_OK;
        *means = stack->plies;
        for (size_t p = 0; p < stack->plies && !status; p++) {
            mean[p] = (struct ww_verify_mean){.ply = p + 1, .periodic = true};
            status = ww_volume_period_of_ply(context->line, p, context->angle, &mean[p].span, &reason);
        }
    }
    if (status == WW_INVALID) {
        snprintf(why_not, size, "%s", reason.text);
        *means = 1;
        mean[0] = (struct ww_verify_mean){.span = longest_side(stack)};
        return WW_OK;
    }
    if (status && error)
        *error = reason;
    return status;
}

/* --- sections ------------------------------------------------------------------------------------------------------------ */

static double signal_of(const struct ww_verify_context *context, const double leg[2])
{
    return context->pair ? leg[0] - leg[1] : leg[0];
}

static enum ww_status solve_section(const struct ww_verify_context *context, const double (*start)[2], double along,
                                    size_t ply, struct ww_full *full, struct ww_error *error)
{
    struct point point = point_at(context, along);
    double(*place)[2] = calloc(ww_line_stack(context->line)->plies + 1, sizeof *place);
    if (!place)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the place of the plies");
    places_at(context, start, &point, place);
    struct ww_full_options options = context->options->full;
    options.ply = ply;
    enum ww_status status =
        ww_section_solve(context->line, point.angle, (const double(*)[2])place, &options, full, error);
    if (!status)
        status =
            ww_verify_to_limit(context, point.segment, point.angle, (const double(*)[2])place, ply, 0, full, error);
    free(place);
    return status;
}

/* Twice as many sections: those that are there move to the even places, the odd ones are solved. */
static enum ww_status double_sections(const struct ww_verify_context *context, const double (*start)[2],
                                      struct ww_verify_mean *mean, struct ww_error *error)
{
    size_t before = mean->sections, after = before ? 2 * before : FIRST_SECTIONS;
    enum ww_status status = WW_OK;
    for (int leg = 0; leg < 2; leg++)
        for (size_t i = before; i-- > 0;)
            mean->local[leg][2 * i] = mean->local[leg][i];
    for (size_t i = before ? 1 : 0; i < after && !status; i += before ? 2 : 1) {
        struct ww_full full = {0};
        status = solve_section(context, start, mean->span * (double)i / (double)after, mean->ply, &full, error);
        mean->local[0][i] = full.delay[0];
        mean->local[1][i] = full.delay[1];
        mean->iterations = full.iterations > mean->iterations ? full.iterations : mean->iterations;
        mean->residual = fmax(mean->residual, full.residual);
        mean->seconds += full.seconds;
    }
    mean->sections = after;
    for (int leg = 0; leg < 2; leg++) {
        mean->section[leg] = 0;
        for (size_t i = 0; i < after; i++)
            mean->section[leg] += mean->local[leg][i] / (double)after;
    }
    return status;
}

/* Rms of section less kernel over the sections' points; of a single trace about its mean, which cancels in a spread. Without
 * a period the kernel's mean is taken at these points too. */
static enum ww_status scatter(const struct ww_verify_context *context, const double (*start)[2],
                              struct ww_verify_mean *mean, struct ww_error *error)
{
    double difference = 0, offset = 0, signal = 0, level = context->pair ? 0 : mean->kernel[0], sum[2] = {0, 0};
    enum ww_status status = WW_OK;
    for (size_t i = 0; i < mean->sections && !status; i++) {
        double at = mean->span * (double)i / (double)mean->sections, kernel[2] = {0, 0};
        status = fast_at(context, start, mean->ply, at, kernel, error);
        double here = signal_of(context, kernel);
        double there = signal_of(context, (const double[2]){mean->local[0][i], mean->local[1][i]});
        difference += pow(there - here, 2) / (double)mean->sections;
        offset += context->pair ? 0 : (there - here) / (double)mean->sections;
        signal += pow(here - level, 2) / (double)mean->sections;
        for (int leg = 0; leg < 2; leg++)
            sum[leg] += kernel[leg] / (double)mean->sections;
    }
    if (!mean->periodic)
        memcpy(mean->kernel, sum, sizeof sum);
    mean->rms = sqrt(fmax(difference - offset * offset, 0));
    mean->rms_signal = sqrt(signal);
    return status;
}

enum ww_status ww_verify_sections(const struct ww_verify_context *context, const double (*start)[2],
                                  struct ww_verify_mean *mean, struct ww_error *error)
{
    size_t most = context->options->sections ? context->options->sections : MOST_SECTIONS;
    most = most < FIRST_SECTIONS ? FIRST_SECTIONS : most;
    most = !mean->periodic && most > APERIODIC_SECTIONS ? APERIODIC_SECTIONS : most;
    for (int leg = 0; leg < 2; leg++)
        mean->local[leg] = calloc(most, sizeof *mean->local[leg]);
    if (!mean->local[0] || !mean->local[1])
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu sections", most);
    enum ww_status status =
        context->segments > 1
            ? WW_OK /* scatter() takes the kernel's mean at the sections' points */
            : ww_verify_kernel(context->straight[0], context->line, context->angle + context->route[0].angle, start,
                               mean->ply, 0, mean->span, mean->kernel, error);
    if (!status)
        status = double_sections(context, start, mean, error);
    mean->settled = INFINITY;
    while (!status && 2 * mean->sections <= most && mean->settled > SETTLED * context->worst_per_length) {
        double before = signal_of(context, mean->section);
        status = double_sections(context, start, mean, error);
        mean->settled = fabs(signal_of(context, mean->section) - before);
    }
    if (!status)
        status = scatter(context, start, mean, error);
    return status;
}

/* --- volume -------------------------------------------------------------------------------------------------------------- */

enum ww_status ww_verify_volume(const struct ww_verify_context *context, const double (*start)[2],
                                struct ww_verify_mean *mean, struct ww_error *error)
{
    struct ww_full_options options = context->options->full;
    options.ply = mean->ply;
    options.memory = context->options->memory;
    enum ww_status status = ww_volume_solve(context->line, context->angle, start, &options, &mean->volume, error);
    if (!status)
        status = ww_verify_to_limit(context, 0, context->angle + context->route[0].angle, start, mean->ply,
                                    mean->span, &mean->volume, error);
    mean->has_volume = status == WW_OK;
    return status;
}
