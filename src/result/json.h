/* json.h - building blocks of the JSON documents, made with jansson.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The unit stands in the key, so each figure is scaled where its key is written and nowhere else. Objects are built
 * with `put`, which takes the value over and notes a failure once for the whole document: jansson returns NULL where
 * memory ends, and every one of its functions passes a NULL on.
 */
#ifndef WW_RESULT_JSON_H
#define WW_RESULT_JSON_H

#include <jansson.h>
#include <math.h>

#include "core/utf8.h"
#include "weftwise/result.h"

static const double um = 1e-6, mm = 1e-3, ps = 1e-12, degree = WW_PI / 180.0;

static inline bool put(json_t *object, const char *key, json_t *value)
{
    return json_object_set_new(object, key, value) == 0;
}

static inline json_t *text(const char *value)
{
    return json_string(value);
}

/* The name of a file as it is, so that it can be opened; as it is shown where it is not UTF-8, which JSON cannot hold. */
static inline json_t *file_name(const char *path)
{
    char shown[512];
    return json_string(ww_utf8_valid(path) ? path : ww_text_printable(shown, sizeof shown, path));
}

/* A figure in its unit; null if there is none. */
static inline json_t *number(double value, double unit)
{
    double scaled = value / unit;
    return isfinite(scaled) ? json_real(scaled) : json_null();
}

static inline json_t *known(bool is_known, double value, double unit)
{
    return is_known ? number(value, unit) : json_null();
}

static inline json_t *point(double x, double y)
{
    json_t *array = json_array();
    bool good = json_array_append_new(array, number(x, um)) == 0 && json_array_append_new(array, number(y, um)) == 0;
    if (good)
        return array;
    json_decref(array);
    return NULL;
}

/* object if it is whole, else NULL and nothing left. */
static inline json_t *whole(json_t *object, bool good)
{
    if (good)
        return object;
    json_decref(object);
    return NULL;
}

/* Writes the document and lets it go; NULL: it could not be made. */
enum ww_status ww_json_write(FILE *stream, json_t *document, struct ww_error *error);
/* What every document of a study begins with. */
json_t *ww_json_study(const char *command, const struct ww_study *study, bool *good);
/* What an answer hangs on, and its range; null where there is none. */
json_t *ww_json_doubts(const struct ww_doubts *doubts);
/* An array of figures in their unit. */
json_t *ww_json_numbers(const double *value, size_t count, double unit);
json_t *ww_json_signal(const struct ww_study *study);
/* How much glass a laser beam meets, into an object. */
bool ww_json_put_via(json_t *o, const struct ww_via *via);
/* An amplitude in dB; null where it is 0. */
json_t *ww_json_level(double amplitude);
json_t *ww_json_line(const struct ww_line_summary *line, bool pair);
/* Several traces on one cloth; null without (NULL, too). */
json_t *ww_json_arms(const struct ww_study *study, const struct ww_arms *arms);

/* null without one */
json_t *ww_json_spacing(const struct ww_spacing *spacing, const char *sentence);

#endif
