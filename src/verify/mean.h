/* verify/mean.h - kernel, sections and volume over a span of the trace.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_VERIFY_MEAN_H
#define WW_VERIFY_MEAN_H

#include "weftwise/verify.h"

/* What all means of one verification share. */
struct ww_verify_context {
    const struct ww_line *line;
    const struct ww_scan *scan; /* of the whole trace */
    /* straight path segments, one for a straight trace, and the scan of each one's direction */
    size_t segments;
    const struct ww_route_segment *route;
    struct ww_scan **straight;
    struct ww_scan **limit, **on_grid; /* the same of the kernel alone, and of the one of the line's own grid */
    const struct ww_verify_options *options;
    double angle; /* of the study, which turns a route as a whole [rad] */
    bool pair;
    double worst_per_length; /* [s/m]; means settle to SETTLED of it */
};

/* Adds to a full solution what extrapolation over the grids adds to the kernel, in the mean over `length` from these places,
 * 0: right there. */
enum ww_status ww_verify_to_limit(const struct ww_verify_context *context, size_t segment, double angle,
                                  const double (*place)[2], size_t ply, double length, struct ww_full *full,
                                  struct ww_error *error);
/* Which span: one period that all plies share, or of each ply in turn, or where there is none a length to go by.
 * mean[plies], of which *means are set. */
enum ww_status ww_verify_spans(const struct ww_verify_context *context, struct ww_verify_mean *mean, size_t *means,
                               char *why_not, size_t size, struct ww_error *error);
/* Fill everything but the volume; ply, span and periodic are set. */
enum ww_status ww_verify_sections(const struct ww_verify_context *context, const double (*start)[2],
                                  struct ww_verify_mean *mean, struct ww_error *error);
enum ww_status ww_verify_volume(const struct ww_verify_context *context, const double (*start)[2],
                                struct ww_verify_mean *mean, struct ww_error *error);

#endif
