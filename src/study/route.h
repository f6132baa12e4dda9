/* study/route.h - the route of a trace: polyline segments as text, and which of them legs can follow.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef STUDY_ROUTE_H
#define STUDY_ROUTE_H

#include "weftwise/study.h"

enum { ROUTE_MOST = 1000 };

/* "20 mm 45 deg". WW_MALFORMED: not that; WW_INVALID: out of range. */
enum ww_status ww_route_segment_read(struct ww_route_segment *segment, const char *text, struct ww_error *error);
/* The same text again. Returns out. */
char *ww_route_segment_text(char *out, size_t size, const struct ww_route_segment *segment);

/* "3 mm, 1.2 mm", and back. WW_MALFORMED: not that; WW_INVALID: farther than `most` [m]. */
enum ww_status ww_place_read(double place[2], double most, const char *text, struct ww_error *error);
char *ww_place_text(char *out, size_t size, const double place[2]);

/* Can the copper follow? A bend over 135 deg, a segment that the mitres of its bends leave nothing of, and a route that
 * comes back to where it has been are refused. *at is the segment the message is about. WW_UNPHYSICAL. */
enum ww_status ww_route_check(const struct ww_route_segment *segment, size_t segments, const struct ww_trace *trace,
                              size_t *at, struct ww_error *error);

#endif
