/* paths.c - where the yarns of one cloth lie, as a file.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Settings as a study's are (core/settings.c: UTF-8, a unit on every length, ; starts a comment):
 *   [paths]
 *   format = 1
 *   picture = photo.png
 *   warp_pitch = 423.31 um
 *   fill_pitch = 437.92 um
 *   [warp 1]
 *   width = 340.20 um
 *   off = 0.31 -1.20 ... um
 *   off = ...
 *   [warp 2]
 *   ...
 *   [fill 1]
 *   ...
 * The even place of yarn i is (i - 1/2) pitches from the left (warp) or from below (fill), with the warp upright. Numbers of off
 * are how far the yarn's axis lies off it, to the right or up, where the even places of the other system's yarns 1, 2, ... are; there may
 * be any number of such lines. A width that is left out is not known.
 */
#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "fabric/keys.h"
#include "fabric/patch.h"
#include "weftwise/fabric.h"

enum { LEAST_YARNS = 6, MOST_YARNS = 2000, A_LINE = 16, MOST_LINES = 16000, NUMBER_TEXT = 48 };
#define LEAST_PITCH 20e-6 /* [m] */
#define MOST_PITCH 10e-3
#define MOST_OFF 0.1  /* [m] */
#define MOST_TURN 0.3 /* of a path from even: 17 degrees */
#define ROUNDED 0.01  /* [um] */
static const double um = 1e-6;
static const char *const system_name[WW_SYSTEMS] = {"warp", "fill"};

/* --- in memory ------------------------------------------------------------------------------------------------- */

/* Of a file, with a system's yarns. */
static size_t lines_of(size_t yarns, size_t places)
{
    return yarns * ((places + A_LINE - 1) / A_LINE + 1);
}

enum ww_status ww_yarn_paths_init(struct ww_yarn_paths *paths, const size_t counts[WW_SYSTEMS],
                                  struct ww_error *error)
{
    size_t warp = counts[WW_WARP], fill = counts[WW_FILL];
    memset(paths, 0, sizeof *paths);
    if (warp < LEAST_YARNS || fill < LEAST_YARNS)
        return ww_error_set(error, WW_INVALID, NULL, 0,
                            "paths of %zu warp and %zu fill yarns; give %d or more of each", warp, fill, LEAST_YARNS);
    if (warp > MOST_YARNS || fill > MOST_YARNS || lines_of(warp, fill) + lines_of(fill, warp) > MOST_LINES)
        return ww_error_set(error, WW_INVALID, NULL, 0,
                            "the paths of %zu by %zu yarns are more than their file holds; crop the picture", warp,
                            fill);
    for (int s = 0; s < WW_SYSTEMS; s++) {
        struct ww_system_paths *of = &paths->of[s];
        of->count = counts[s];
        of->off = calloc(counts[WW_WARP] * counts[WW_FILL], sizeof *of->off);
        of->width = calloc(counts[s], sizeof *of->width);
        if (of->off && of->width)
            continue;
        ww_yarn_paths_clear(paths);
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the paths of yarns");
    }
    return WW_OK;
}

void ww_yarn_paths_clear(struct ww_yarn_paths *paths)
{
    for (int s = 0; s < WW_SYSTEMS; s++) {
        free(paths->of[s].off);
        free(paths->of[s].width);
    }
    memset(paths, 0, sizeof *paths);
}

static size_t places_of(const struct ww_yarn_paths *paths, int system)
{
    return paths->of[1 - system].count;
}

double ww_yarn_paths_pitch(const struct ww_yarn_paths *paths, enum ww_system system)
{
    const struct ww_system_paths *of = &paths->of[system];
    size_t places = paths->of[WW_SYSTEMS - 1 - system].count, last = (of->count - 1) * places;
    double sum = 0;
    for (size_t k = 0; k < places; k++)
        sum += of->off[last + k] - of->off[k];
    return of->pitch + sum / (double)places / (double)(of->count - 1);
}

/* --- reading --------------------------------------------------------------------------------------------------- */

struct reading {
    struct ww_yarn_paths *paths;
    const struct ww_settings *settings;
    struct ww_error *error;
    size_t counts[WW_SYSTEMS];
    size_t *taken[WW_SYSTEMS]; /* [count] positions of each yarn */
    bool has_format;
};

static enum ww_status refuse(const struct reading *r, int line, const char *section, const char *text)
{
    return ww_error_set(r->error, WW_MALFORMED, r->settings->file, line, "[%.60s] %s", section, text);
}

/* "warp 12": the yarn's number, from 1; 0 where it is no such section. */
static size_t yarn_number(const char *section, int *system)
{
    for (*system = 0; *system < WW_SYSTEMS; ++*system) {
        size_t length = strlen(system_name[*system]), digits = 0;
        const char *number = section + length + 1;
        if (strncmp(section, system_name[*system], length) != 0 || section[length] != ' ')
            continue;
        while (isdigit((unsigned char)number[digits]))
            digits++;
        return digits > 0 && digits < 6 && number[digits] == '\0' && number[0] != '0' ? (size_t)atol(number) : 0;
    }
    return 0;
}

static enum ww_status count_yarns(struct reading *r)
{
    const struct ww_settings *settings = r->settings;
    int system;
    if (!ww_settings_has_section(settings, "paths"))
        return ww_error_set(r->error, WW_MALFORMED, settings->file, 0,
                            "holds no paths of yarns; give the paths.ini that 'weftwise measure PICTURE' writes");
    for (size_t i = 0; i < settings->headings; i++) {
        const struct ww_heading *heading = &settings->heading[i];
        if (strcmp(heading->section, "paths") == 0)
            continue;
        size_t number = yarn_number(heading->section, &system);
        if (number == 0)
            return refuse(r, heading->line, heading->section,
                          "is no section of such a file: [paths], [warp 1], [fill 1]");
        if (number != ++r->counts[system])
            return refuse(r, heading->line, heading->section,
                          "comes out of turn; yarns are numbered 1, 2, ... without a gap");
    }
    for (int s = 0; s < WW_SYSTEMS; s++)
        if (r->counts[s] < LEAST_YARNS)
            return ww_error_set(r->error, WW_UNPHYSICAL, settings->file, 0,
                                "has %zu %s yarns; a trace needs %d or more to lie between: measure a larger picture",
                                r->counts[s], system_name[s], LEAST_YARNS);
    return WW_OK;
}

static enum ww_status take_length(const struct reading *r, const struct ww_setting *item, const char *value,
                                  double least, double most, double *out)
{
    struct ww_error inner = {0};
    enum ww_status status = ww_number_parse(value, WW_LENGTH, out, &inner);
    if (!status && !(*out >= least && *out <= most)) {
        *out = 0;
        status = ww_error_set(&inner, WW_INVALID, NULL, 0, "%.40s is outside %g to %g mm; check the unit", value,
                              1e3 * least, 1e3 * most);
    }
    return status ? ww_error_set(r->error, status, r->settings->file, item->line, "[%s] %s: %s", item->section,
                                 item->key, inner.text)
                  : WW_OK;
}

/* "0.31 -1.20 0.4 um": the unit is that of all. */
static enum ww_status take_off(struct reading *r, const struct ww_setting *item, int system, size_t yarn)
{
    struct ww_system_paths *of = &r->paths->of[system];
    const char *blank = " \t", *unit = strrchr(item->value, ' '), *p = item->value;
    size_t places = places_of(r->paths, system), *taken = &r->taken[system][yarn];
    char number[NUMBER_TEXT];
    if (!unit || isdigit((unsigned char)unit[1]))
        return refuse(r, item->line, item->section, "off: numbers and their unit, as in 'off = 0.3 -1.2 um'");
    enum ww_status status = WW_OK;
    while (p < unit && !status) {
        size_t length = strcspn(p, blank);
        if (*taken == places)
            return ww_error_set(r->error, WW_MALFORMED, r->settings->file, item->line,
                                "[%s] has more positions than the %zu yarns that it crosses; get the whole file",
                                item->section, places);
        int used =
            snprintf(number, sizeof number, "%.*s%s", (int)(length < NUMBER_TEXT ? length : NUMBER_TEXT), p, unit);
        if (used >= (int)sizeof number)
            return refuse(r, item->line, item->section, "off: a number is too long");
        status = take_length(r, item, number, -MOST_OFF, MOST_OFF, &of->off[yarn * places + (*taken)++]);
        p += length;
        p += strspn(p, blank);
    }
    return status;
}

static enum ww_status take_heading(struct reading *r, const struct ww_setting *item)
{
    struct ww_yarn_paths *paths = r->paths;
    for (int s = 0; s < WW_SYSTEMS; s++)
        if (strncmp(item->key, system_name[s], 4) == 0 && strcmp(item->key + 4, "_pitch") == 0)
            return take_length(r, item, item->value, LEAST_PITCH, MOST_PITCH, &paths->of[s].pitch);
    if (strcmp(item->key, "format") == 0) {
        r->has_format = strcmp(item->value, "1") == 0;
        return r->has_format ? WW_OK
                             : refuse(r, item->line, item->section,
                                      "format: this program reads 1; measure the picture again with it");
    }
    if (strcmp(item->key, "picture") != 0)
        return refuse(r, item->line, item->section,
                      "has a key that is not known; format, picture, warp_pitch, fill_pitch are");
    (void)ww_text_printable(paths->picture, sizeof paths->picture, item->value);
    return WW_OK;
}

static enum ww_status take_item(struct reading *r, const struct ww_setting *item)
{
    int system;
    size_t number = yarn_number(item->section, &system);
    if (strcmp(item->section, "paths") == 0)
        return take_heading(r, item);
    if (number == 0)
        return ww_error_set(r->error, WW_MALFORMED, r->settings->file, item->line,
                            "a key stands outside of any section");
    double *width = &r->paths->of[system].width[number - 1];
    if (strcmp(item->key, "off") == 0)
        return take_off(r, item, system, number - 1);
    if (strcmp(item->key, "width") == 0 && *width == 0)
        return take_length(r, item, item->value, 1e-6, MOST_PITCH, width);
    return refuse(r, item->line, item->section, "has one width, and lines of off; nothing else");
}

static enum ww_status check_whole(const struct reading *r)
{
    const struct ww_yarn_paths *paths = r->paths;
    const char *file = r->settings->file;
    if (!r->has_format || !(paths->of[WW_WARP].pitch > 0 && paths->of[WW_FILL].pitch > 0))
        return ww_error_set(r->error, WW_MALFORMED, file, 0, "[paths] lacks format, warp_pitch or fill_pitch");
    for (int s = 0; s < WW_SYSTEMS; s++)
        for (size_t i = 0; i < paths->of[s].count; i++)
            if (r->taken[s][i] != places_of(paths, s))
                return ww_error_set(r->error, WW_MALFORMED, file, 0,
                                    "[%s %zu] has %zu positions for %zu yarns that it crosses; get the whole file",
                                    system_name[s], i + 1, r->taken[s][i], places_of(paths, s));
    return WW_OK;
}

/* Yarn i at place k against itself one place before, and its neighbour. */
static enum ww_status check_place(const struct ww_yarn_paths *paths, int s, size_t i, size_t k,
                                  struct ww_error *error)
{
    const struct ww_system_paths *of = &paths->of[s];
    size_t places = places_of(paths, s);
    const double *off = of->off + i * places + k;
    if (k > 0 && fabs(off[0] - off[-1]) > MOST_TURN * paths->of[1 - s].pitch)
        return ww_error_set(
            error, WW_UNPHYSICAL, paths->file, 0,
            "[%s %zu] bends by %.3g um from one crossing to the next; no yarn does: measure the picture "
            "again",
            system_name[s], i + 1, fabs(off[0] - off[-1]) / um);
    if (i > 0 && of->pitch + off[0] - *(off - places) < WW_PAIR_LEAST * of->pitch)
        return ww_error_set(error, WW_UNPHYSICAL, paths->file, 0,
                            "[%s %zu] and [%s %zu] lie on each other or change places; measure the picture again",
                            system_name[s], i, system_name[s], i + 1);
    return WW_OK;
}

static enum ww_status check_paths(const struct ww_yarn_paths *paths, int s, struct ww_error *error)
{
    enum ww_status status = WW_OK;
    for (size_t i = 0; i < paths->of[s].count && !status; i++)
        for (size_t k = 0; k < places_of(paths, s) && !status; k++)
            status = check_place(paths, s, i, k, error);
    return status;
}

static enum ww_status read_settings(struct reading *r)
{
    enum ww_status status = count_yarns(r);
    if (!status)
        status = ww_yarn_paths_init(r->paths, r->counts, r->error);
    for (int s = 0; s < WW_SYSTEMS && !status; s++)
        if (!(r->taken[s] = calloc(r->counts[s], sizeof *r->taken[s])))
            status = ww_error_set(r->error, WW_NO_MEMORY, NULL, 0, "no memory for the paths of yarns");
    if (!status)
        (void)snprintf(r->paths->file, sizeof r->paths->file, "%s", r->settings->file);
    for (size_t i = 0; i < r->settings->count && !status; i++)
        status = take_item(r, &r->settings->item[i]);
    if (!status)
        status = check_whole(r);
    for (int s = 0; s < WW_SYSTEMS && !status; s++)
        status = check_paths(r->paths, s, r->error);
    for (int s = 0; s < WW_SYSTEMS; s++)
        free(r->taken[s]);
    if (status)
        ww_yarn_paths_clear(r->paths);
    return status;
}

enum ww_status ww_yarn_paths_read(struct ww_yarn_paths *paths, FILE *stream, const char *name, struct ww_error *error)
{
    struct ww_settings settings = {0};
    struct reading reading = {.paths = paths, .settings = &settings, .error = error};
    memset(paths, 0, sizeof *paths);
    enum ww_status status = ww_settings_read(&settings, stream, name, error);
    if (!status)
        status = read_settings(&reading);
    ww_settings_clear(&settings);
    return status;
}

enum ww_status ww_yarn_paths_load(struct ww_yarn_paths *paths, const char *path, struct ww_error *error)
{
    struct ww_settings settings = {0};
    struct reading reading = {.paths = paths, .settings = &settings, .error = error};
    memset(paths, 0, sizeof *paths);
    enum ww_status status = ww_settings_load(&settings, path, error);
    if (!status)
        status = read_settings(&reading);
    ww_settings_clear(&settings);
    return status;
}

/* --- writing --------------------------------------------------------------------------------------------------- */

/* Rounded, and zero without a sign. */
static double rounded(double value)
{
    return ROUNDED * round(value / um / ROUNDED) + 0.0;
}

static void write_yarn(FILE *stream, const struct ww_yarn_paths *paths, int s, size_t i)
{
    const struct ww_system_paths *of = &paths->of[s];
    size_t places = places_of(paths, s);
    (void)fprintf(stream, "[%s %zu]\n", system_name[s], i + 1);
    if (of->width[i] > 0)
        (void)fprintf(stream, "width = %.2f um\n", of->width[i] / um);
    for (size_t k = 0; k < places; k++) {
        bool first = k % A_LINE == 0, last = k % A_LINE == A_LINE - 1 || k == places - 1;
        (void)fprintf(stream, "%s%.2f%s", first ? "off = " : " ", rounded(of->off[i * places + k]),
                      last ? " um\n" : "");
    }
}

enum ww_status ww_yarn_paths_write(FILE *stream, const struct ww_yarn_paths *paths, struct ww_error *error)
{
    (void)fprintf(
        stream,
        "; Where the yarns of one cloth lie, measured from its picture by weftwise %s. Put it beside a study of the\n"
        "; style that was measured, and name it there: [fabric] paths = paths.ini. The warp is upright, warp 1 the\n"
        "; left one, fill 1 the lowest. off: how far the yarn's axis lies to the right of its even place, or above\n"
        "; it, at each yarn that it crosses.\n"
        "[paths]\nformat = 1\npicture = %s\n",
        ww_version(), paths->picture);
    for (int s = 0; s < WW_SYSTEMS; s++)
        (void)fprintf(stream, "%s_pitch = %.4f um\n", system_name[s], paths->of[s].pitch / um);
    for (int s = 0; s < WW_SYSTEMS; s++)
        for (size_t i = 0; i < paths->of[s].count; i++)
            write_yarn(stream, paths, s, i);
    return ferror(stream) ? ww_error_set(error, WW_IO, NULL, 0, "could not be written; is the disk full?") : WW_OK;
}
