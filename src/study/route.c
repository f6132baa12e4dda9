/* route.c - a route: segments of the centre line, one behind the other, mitred where they meet.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A leg runs beside the centre line at half the pitch. Where the route bends by b, the mitre takes
 *   h tan(b/2),  h = pitch/2,
 * from each of the two segments on the inner side and adds it on the outer one. So on the leg at h to the left a segment of
 * length L between a bend b1 and a bend b2 (to the left positive) is L - h (tan(b1/2) + tan(b2/2)) long, on the leg to
 * the right it is L + the same: the shorter one has to be there. Plane geometry, no source needed.
 */
#include "study/route.h"
#include "study/keys.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define DEG (WW_PI / 180.0)

static const double length_min = 1e-6, length_max = 10.0; /* [m] */
static const double sharpest = 135.0 * DEG;
static const double rounding = 1e-9; /* of an angle [rad], of a length as a share */

/* --- text ---------------------------------------------------------------------------------------------------------------- */

enum ww_status ww_route_segment_read(struct ww_route_segment *segment, const char *text, struct ww_error *error)
{
    const char *end = text;
    struct ww_error inner = {0};
    enum ww_status status = ww_number_parse_prefix(text, WW_LENGTH, &segment->length, &end, &inner);
    if (!status && end[strspn(end, " \t")] == '\0')
        status = ww_error_set(&inner, WW_MALFORMED, NULL, 0, "'%.60s' lacks its angle", text);
    if (!status)
        status = ww_number_parse(end, WW_ANGLE, &segment->angle, &inner);
    if (status)
        return ww_error_set(error, status, NULL, 0, "%s; a segment is its length and its angle, as in '20 mm 45 deg'",
                            inner.text);
    if (!(segment->length >= length_min * (1.0 - rounding) && segment->length <= length_max * (1.0 + rounding)))
        return ww_error_set(error, WW_INVALID, NULL, 0, "a length outside 1 um to 10 m in '%.60s'; check the unit",
                            text);
    if (!(fabs(segment->angle) <= WW_PI * (1.0 + rounding)))
        return ww_error_set(error, WW_INVALID, NULL, 0,
                            "an angle outside -180 deg to 180 deg in '%.60s'; check the unit", text);
    return WW_OK;
}

char *ww_route_segment_text(char *out, size_t size, const struct ww_route_segment *segment)
{
    char length[NUMBER_TEXT], angle[NUMBER_TEXT];
    snprintf(out, size, "%s %s", ww_number_text(length, sizeof length, segment->length, WW_LENGTH),
             ww_number_text(angle, sizeof angle, segment->angle, WW_ANGLE));
    return out;
}

enum ww_status ww_place_read(double place[2], double most, const char *text, struct ww_error *error)
{
    const char *end = text;
    struct ww_error inner = {0};
    enum ww_status status = ww_number_parse_prefix(text, WW_LENGTH, &place[0], &end, &inner);
    end += status ? 0 : strspn(end, " \t");
    if (!status && *end != ',')
        status = ww_error_set(&inner, WW_MALFORMED, NULL, 0, "'%.60s' has no comma between two lengths", text);
    if (!status)
        status = ww_number_parse(end + 1, WW_LENGTH, &place[1], &inner);
    if (status)
        return ww_error_set(error, status, NULL, 0, "%s; a start is two lengths, as in '3 mm, 1.2 mm'", inner.text);
    if (!(fmax(fabs(place[0]), fabs(place[1])) <= most * (1.0 + rounding)))
        return ww_error_set(error, WW_INVALID, NULL, 0, "a length beyond %g m in '%.60s'; check the unit", most,
                            text);
    return WW_OK;
}

char *ww_place_text(char *out, size_t size, const double place[2])
{
    char x[NUMBER_TEXT], y[NUMBER_TEXT];
    snprintf(out, size, "%s, %s", ww_number_text(x, sizeof x, place[0], WW_LENGTH),
             ww_number_text(y, sizeof y, place[1], WW_LENGTH));
    return out;
}

/* --- bends --------------------------------------------------------------------------------------------------------------- */

/* The turn from a segment to the next one, to the left positive, in -pi .. pi. */
static double bend(const struct ww_route_segment *segment)
{
    return remainder(segment[0].angle - segment[1].angle, 2.0 * WW_PI);
}

static enum ww_status check_bends(const struct ww_route_segment *segment, size_t segments, size_t *at,
                                  struct ww_error *error)
{
    for (size_t i = 0; i + 1 < segments; i++) {
        double by = fabs(bend(&segment[i]));
        *at = i + 1;
        if (by > WW_PI - rounding)
            return ww_error_set(
                error, WW_UNPHYSICAL, NULL, 0,
                "segment %zu folds back on segment %zu; turn by at most 135 deg from one segment to the next", i + 2,
                i + 1);
        if (by > sharpest + rounding)
            return ww_error_set(
                error, WW_UNPHYSICAL, NULL, 0,
                "segment %zu bends by %.4g deg from segment %zu, and a mitre takes up to 135 deg; make two "
                "bends of it with a segment between",
                i + 2, by / DEG, i + 1);
    }
    return WW_OK;
}

static enum ww_status check_lengths(const struct ww_route_segment *segment, size_t segments, double pitch, size_t *at,
                                    struct ww_error *error)
{
    char length[NUMBER_TEXT], cut[NUMBER_TEXT];
    for (size_t i = 0; i < segments; i++) {
        double before = i > 0 ? tan(0.5 * bend(&segment[i - 1])) : 0.0;
        double behind = i + 1 < segments ? tan(0.5 * bend(&segment[i])) : 0.0;
        double off = 0.5 * pitch * fabs(before + behind);
        *at = i;
        if (segment[i].length > off)
            continue;
        return ww_error_set(error, WW_UNPHYSICAL, NULL, 0,
                            "segment %zu is %s long, and the mitres at its bends take %s off its inner leg; give it "
                            "more than that, or "
                            "bend less",
                            i + 1, ww_number_format(length, sizeof length, segment[i].length, WW_LENGTH, 6),
                            ww_number_format(cut, sizeof cut, off, WW_LENGTH, 6));
    }
    return WW_OK;
}

/* --- coming back --------------------------------------------------------------------------------------------------------- */

struct stroke {
    double x[2], y[2]; /* its ends [m] */
};

/* Where the segments lie, the route starting at the origin. */
static void lay(const struct ww_route_segment *segment, size_t segments, struct stroke *stroke)
{
    double x = 0.0, y = 0.0;
    for (size_t i = 0; i < segments; i++) {
        stroke[i].x[0] = x;
        stroke[i].y[0] = y;
        stroke[i].x[1] = x += segment[i].length * sin(segment[i].angle);
        stroke[i].y[1] = y += segment[i].length * cos(segment[i].angle);
    }
}

static double distance_to_point(const struct stroke *s, double x, double y)
{
    double dx = s->x[1] - s->x[0], dy = s->y[1] - s->y[0];
    double share = ((x - s->x[0]) * dx + (y - s->y[0]) * dy) / (dx * dx + dy * dy);
    share = fmin(fmax(share, 0.0), 1.0);
    return hypot(s->x[0] + share * dx - x, s->y[0] + share * dy - y);
}

/* Which side of s the end e of t is on. */
static double side(const struct stroke *s, const struct stroke *t, size_t e)
{
    return (s->x[1] - s->x[0]) * (t->y[e] - s->y[0]) - (s->y[1] - s->y[0]) * (t->x[e] - s->x[0]);
}

static double distance(const struct stroke *s, const struct stroke *t)
{
    if (side(s, t, 0) * side(s, t, 1) < 0.0 && side(t, s, 0) * side(t, s, 1) < 0.0)
        return 0.0; /* they cross */
    return fmin(fmin(distance_to_point(s, t->x[0], t->y[0]), distance_to_point(s, t->x[1], t->y[1])),
                fmin(distance_to_point(t, s->x[0], s->y[0]), distance_to_point(t, s->x[1], s->y[1])));
}

/* A later segment must not cross an earlier one, and one that runs back must keep beside it. A segment that runs on may be
 * near: a jog is shorter than the pair is wide. */
static enum ww_status check_way(const struct ww_route_segment *segment, size_t segments, const struct stroke *stroke,
                                double wide, size_t *at, struct ww_error *error)
{
    char apart[NUMBER_TEXT], least[NUMBER_TEXT];
    for (size_t j = 2; j < segments; j++)
        for (size_t i = 0; i + 1 < j; i++) {
            bool runs_back = cos(segment[j].angle - segment[i].angle) < -rounding;
            double gap = distance(&stroke[i], &stroke[j]);
            *at = j;
            if (gap > (runs_back ? wide : 0.0))
                continue;
            if (gap <= 0.0)
                return ww_error_set(error, WW_UNPHYSICAL, NULL, 0,
                                    "segment %zu runs into segment %zu; lead the route clear of itself", j + 1,
                                    i + 1);
            return ww_error_set(error, WW_UNPHYSICAL, NULL, 0,
                                "segment %zu folds back on segment %zu, %s from it, where the copper is %s wide; "
                                "keep them further apart",
                                j + 1, i + 1, ww_number_format(apart, sizeof apart, gap, WW_LENGTH, 4),
                                ww_number_format(least, sizeof least, wide, WW_LENGTH, 6));
        }
    return WW_OK;
}

enum ww_status ww_route_check(const struct ww_route_segment *segment, size_t segments, const struct ww_trace *trace,
                              size_t *at, struct ww_error *error)
{
    struct stroke *stroke = calloc(segments + 1, sizeof *stroke);
    if (!stroke)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu segments", segments);
    enum ww_status status = check_bends(segment, segments, at, error);
    if (!status)
        status = check_lengths(segment, segments, trace->pitch, at, error);
    if (!status) {
        lay(segment, segments, stroke);
        status = check_way(segment, segments, stroke, trace->pitch + trace->width, at, error);
    }
    free(stroke);
    return status;
}
