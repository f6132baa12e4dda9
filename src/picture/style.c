/* picture/style.c - a measured cloth as the section of a style.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "picture/picture.h"

#include <math.h>
#include <string.h>

enum { NUMBER_SIZE = 48, FILE_SIZE = 96, DIGITS = 5 };
static const char plain[] = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789._-";
static const double LEAST_SHARE = 0.001, MOST_SHARE = 0.5; /* of an uncertainty that is written */
static const double um = 1e-6;

static const char *name_of_file(const struct ww_picture *picture)
{
    const char *slash = strrchr(picture->file, '/');
    return slash ? slash + 1 : picture->file;
}

const char *ww_picture_style_name(const struct ww_picture *picture, char out[WW_STYLE_NAME_SIZE])
{
    const char *name = name_of_file(picture), *dot = strrchr(name, '.');
    size_t length = dot && dot > name ? (size_t)(dot - name) : strlen(name), used = 0;
    for (size_t i = 0; i < length && used + 1 < WW_STYLE_NAME_SIZE; i++)
        if (strchr(plain, name[i]) && (used > 0 || name[i] != '.'))
            out[used++] = name[i];
    out[used] = '\0';
    return used > 0 ? out : strcpy(out, "measured");
}

char *ww_picture_plain_name(const struct ww_picture *picture, char *out, size_t size)
{
    (void)snprintf(out, size, "%s", name_of_file(picture));
    for (char *p = out; *p; p++)
        if (!strchr(plain, *p) && *p != ' ')
            *p = '_';
    return out;
}

static double share_of(struct ww_measure measure)
{
    return fmin(MOST_SHARE, fmax(LEAST_SHARE, 2.0 * measure.error / measure.value));
}

static void write_count(FILE *stream, const char *which, const struct ww_picture_yarns *yarns, const char *file)
{
    char count[NUMBER_SIZE];
    struct ww_measure pitch = yarns->pitch;
    ww_number_format(count, sizeof count, 1.0 / pitch.value, WW_COUNT, DIGITS);
    (void)fprintf(stream, "%s_count = %s\n", which, count);
    (void)fprintf(stream, "%s_count.source = measured from %s: pitch %.2f um +-%.2g, of %zu yarns\n", which, file,
                  pitch.value / um, 2.0 * pitch.error / um, yarns->yarns);
}

static void write_width(FILE *stream, const char *which, const struct ww_picture_yarns *yarns, const char *file)
{
    if (!yarns->edges_seen) {
        (void)fprintf(stream, "; %s_width = 300 um    ; %s does not tell it: closed where left out\n", which, file);
        return;
    }
    (void)fprintf(stream, "%s_width = %.4g um\n", which, yarns->width.value / um);
    (void)fprintf(stream, "%s_width.source = measured from %s: yarn to yarn %.2g um, gaps %.3g um\n", which, file,
                  yarns->width_scatter / um, yarns->gap.value / um);
    (void)fprintf(stream, "%s_width.uncertainty = %.2g %%\n", which, 100.0 * share_of(yarns->width));
}

/* --- what no picture shows --------------------------------------------------------------------------------------------- */

static void write_source(FILE *stream, const char *key, const struct ww_datum *datum, const char *style)
{
    (void)fprintf(stream, "%s.source = that of %s: %.150s\n", key, style,
                  datum->source[0] ? datum->source : "no source");
}

static void write_yarn(FILE *stream, const char *key, const struct ww_yarn *yarn, const char *style)
{
    char tex[NUMBER_SIZE];
    ww_number_format(tex, sizeof tex, yarn->tex.value, WW_LINEAR_DENSITY, DIGITS);
    (void)fprintf(stream, "%s = %s\n", key, yarn->code[0] ? yarn->code : tex);
    write_source(stream, key, &yarn->tex, style);
}

static void write_like(FILE *stream, const struct ww_style *like)
{
    char number[NUMBER_SIZE];
    (void)fprintf(stream, "kind = %s\n", ww_weave_kind_name(like->kind));
    write_yarn(stream, "warp_yarn", &like->warp, like->name);
    write_yarn(stream, "fill_yarn", &like->fill, like->name);
    ww_number_format(number, sizeof number, like->shape.value, WW_PURE, DIGITS);
    (void)fprintf(stream, "shape = %s\n", number);
    write_source(stream, "shape", &like->shape, like->name);
    ww_number_format(number, sizeof number, like->thickness.value, WW_LENGTH, DIGITS);
    (void)fprintf(stream, "thickness = %s\n", number);
    write_source(stream, "thickness", &like->thickness, like->name);
    (void)fprintf(stream, "glass = %s\n", like->glass.name);
}

static void write_blank(FILE *stream)
{
    static const char *const wanted[] = {"warp_yarn", "fill_yarn", "thickness", "glass"};
    (void)fputs("; No picture shows these. Fill them in and take the ; away, or measure with --like STYLE:\n",
                stream);
    for (size_t i = 0; i < sizeof wanted / sizeof *wanted; i++)
        for (size_t k = 0; ww_weaves_key("style", k); k++) {
            const struct ww_key_help *key = ww_weaves_key("style", k);
            if (strcmp(key->key, wanted[i]) == 0)
                (void)fprintf(stream, "; %s = %s    ; %s\n", key->key, key->example, key->help);
        }
}

enum ww_status ww_picture_check_name(const char *name, struct ww_error *error)
{
    size_t length = strlen(name);
    if (length > 0 && length < WW_STYLE_NAME_SIZE && strspn(name, plain) == length && name[0] != '.')
        return WW_OK;
    return ww_error_set(error, WW_INVALID, NULL, 0,
                        "'%.60s' is no name of a style; give up to %d letters, digits, . _ and -", name,
                        WW_STYLE_NAME_SIZE - 1);
}

enum ww_status ww_picture_write_style(FILE *stream, const struct ww_cloth_picture *cloth,
                                      const struct ww_picture *picture, const char *name, const struct ww_style *like,
                                      struct ww_error *error)
{
    char file[FILE_SIZE];
    enum ww_status status = ww_picture_check_name(name, error);
    if (status)
        return status;
    (void)ww_picture_plain_name(picture, file, sizeof file);
    (void)fprintf(stream, "; Measured by weftwise %s. Copy the section into a study, and name it in a ply: ply %s\n",
                  ww_version(), name);
    (void)fprintf(stream, "; A pixel is %.6g um (%s); lengths are as good as that.\n[style %s]\n",
                  picture->pixel / um, picture->from, name);
    write_count(stream, "warp", &cloth->warp, file);
    write_count(stream, "fill", &cloth->fill, file);
    write_width(stream, "warp", &cloth->warp, file);
    write_width(stream, "fill", &cloth->fill, file);
    if (like)
        write_like(stream, like);
    else
        write_blank(stream);
    return ferror(stream) ? ww_error_set(error, WW_IO, NULL, 0, "could not be written; is the disk full?") : WW_OK;
}
