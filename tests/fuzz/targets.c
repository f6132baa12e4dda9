/* targets.c - what has to hold for any text at all.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "targets.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

#include "core/photo.h"
#include "core/utf8.h"
#include "weftwise/core.h"
#include "weftwise/figure.h"
#include "weftwise/picture.h"
#include "weftwise/study.h"

static void hold(bool condition, const char *rule)
{
    if (condition)
        return;
    fprintf(stderr, "broken: %s\n", rule);
    abort();
}

static void hold_reason(const struct ww_error *error, enum ww_status status)
{
    hold(error->status == status, "the error carries the status that was returned");
    hold(error->text[0] != '\0', "a refusal has a reason");
    for (const char *p = error->text; *p != '\0'; p++)
        hold((unsigned char)*p >= 0x20 && *p != 0x7F, "a reason is one printable line");
}

static char *terminated(const char *data, size_t size)
{
    char *text = malloc(size + 1);
    hold(text != NULL, "there is memory");
    memcpy(text, data, size);
    text[size] = '\0';
    return text;
}

static FILE *stream_of(const char *data, size_t size)
{
    FILE *stream = tmpfile();
    hold(stream != NULL && fwrite(data, 1, size, stream) == size, "a temporary file can be written");
    rewind(stream);
    return stream;
}

void target_number(const char *data, size_t size)
{
    char *text = terminated(data, size);
    for (int d = 0; d < WW_DIMENSIONS; d++) {
        enum ww_dimension dimension = (enum ww_dimension)d;
        struct ww_error error = {0};
        double si = 42;
        enum ww_status status = ww_number_parse(text, dimension, &si, &error);
        if (status != WW_OK) {
            hold(status == WW_MALFORMED, "a number is refused as malformed");
            hold(si == 0, "a refused number is zeroed");
            hold_reason(&error, status);
            continue;
        }
        hold(isfinite(si), "a number is finite");
        char shown[64];
        double back = 0;
        ww_number_format(shown, sizeof shown, si, dimension, 17);
        hold(ww_number_parse(shown, dimension, &back, NULL) == WW_OK || fabs(si) < 1e-280 || fabs(si) > 1e280,
             "what was formatted reads back");
        hold(fabs(back - si) <= 1e-15 * fabs(si) || fabs(si) < 1e-280 || fabs(si) > 1e280, "to the same value");
    }
    free(text);
}

void target_settings(const char *data, size_t size)
{
    struct ww_settings settings = {0};
    struct ww_error error = {0};
    FILE *stream = stream_of(data, size);
    enum ww_status status = ww_settings_read(&settings, stream, "fuzz.ini", &error);
    fclose(stream);
    if (status != WW_OK) {
        hold(status == WW_MALFORMED, "text is refused as malformed");
        hold_reason(&error, status);
        hold(settings.count == 0 && settings.item == NULL && settings.text == NULL && settings.heading == NULL,
             "a refusal leaves nothing behind");
        return;
    }
    hold(strlen(settings.text) == size && memcmp(settings.text, data, size) == 0, "the text is kept as it was");
    int last = 0;
    for (size_t i = 0; i < settings.count; i++) {
        const struct ww_setting *item = &settings.item[i];
        hold(item->key[0] != '\0', "a setting has a key");
        hold(item->line > last, "each setting has a line of its own, in order");
        last = item->line;
        hold(strstr(settings.text, item->value) != NULL, "a value is a segment of the text, uncut");
        hold(ww_settings_has_section(&settings, item->section) || item->section[0] == '\0', "its section is there");
        hold(ww_settings_find(&settings, item->section, item->key) != NULL, "and it can be found");
    }
    char *assignment = terminated(data, size < 200 ? size : 200);
    size_t before = settings.count;
    status = ww_settings_set(&settings, assignment, &error);
    hold(settings.count == before || (status == WW_OK && settings.count == before + 1), "a set adds one at most");
    if (status != WW_OK)
        hold_reason(&error, status);
    free(assignment);
    ww_settings_clear(&settings);
}

/* --- studies --- */

static const char weaves[] = WW_SOURCE_ROOT "/weaves";

static enum ww_status read_study(struct ww_study *study, const char *text, size_t size, const char *const *assignment,
                                 size_t assignments, struct ww_error *error)
{
    FILE *stream = stream_of(text, size);
    enum ww_status status = ww_study_read(study, stream, "fuzz.ini", weaves, assignment, assignments, error);
    fclose(stream);
    return status;
}

/* Is it a study? Then what is written of it is the same study. */
static bool judge_study(struct ww_study *study, const char *text, size_t size, const char *const *assignment,
                        size_t assignments)
{
    struct ww_study again = {0};
    struct ww_error error = {0};
    enum ww_status status = read_study(study, text, size, assignment, assignments, &error);
    if (status != WW_OK) {
        hold(status == WW_MALFORMED || status == WW_INVALID || status == WW_UNPHYSICAL,
             "a study is refused for what it says");
        hold_reason(&error, status);
        return false;
    }
    hold(isfinite(study->length) && study->length > 0, "a study's length is above zero");
    char *written = ww_study_text(study);
    hold(written != NULL, "a study can be written");
    status = read_study(&again, written, strlen(written), NULL, 0, &error);
    if (status != WW_OK)
        fprintf(stderr, "%d: %s\n%s\n", error.line, error.text, written);
    hold(status == WW_OK, "a study that was written reads back");
    hold(fabs(again.length - study->length) <= 4e-15 * study->length, "with the same length");
    hold(again.stack.count == study->stack.count && again.segments == study->segments && again.arms == study->arms,
         "with as many layers, segments and arms");
    free(written);
    ww_study_clear(&again);
    return true;
}

void target_study(const char *data, size_t size)
{
    struct ww_study study = {0};
    (void)judge_study(&study, data, size, NULL, 0);
    ww_study_clear(&study);
}

/* The text as part of a study that is sound without it. */
static bool judge_part(struct ww_study *study, const char *before, const char *data, size_t size)
{
    size_t length = strlen(before) + size + 1;
    char *all = malloc(length);
    hold(all != NULL, "there is memory");
    memcpy(all, before, strlen(before));
    memcpy(all + strlen(before), data, size);
    all[length - 1] = '\n';
    bool sound = judge_study(study, all, length, NULL, 0);
    free(all);
    return sound;
}

#define RESIN "[resin R]\ndk = 3.2\ndf = 0.004\ndensity = 1.4 g/cm3\n"
#define TRACE "[trace]\nwidth = 100 um\nthickness = 15 um\npitch = 220 um\n"
#define STACKUP                                                                                                      \
    "[stackup]\nresin = R\nlayer = plane\nlayer = ply 1080 100 um\nlayer = trace\nlayer = ply 1080 100 um\nlayer = " \
    "plane\n"

void target_layer(const char *data, size_t size)
{
    struct ww_study study = {0};
    (void)judge_part(&study, TRACE "length = 20 mm\n" RESIN "[stackup]\nresin = R\n", data, size);
    ww_study_clear(&study);
}

void target_route(const char *data, size_t size)
{
    struct ww_study study = {0};
    if (judge_part(&study, STACKUP RESIN TRACE "[route]\n", data, size))
        for (size_t i = 0; i < study.segments; i++)
            hold(study.route[i].length > 0 && isfinite(study.route[i].angle), "a segment has a length and an angle");
    ww_study_clear(&study);
}

/* Its cell, coarse: fractions of bundle that are fractions. */
static void judge_cloth(const struct ww_style *style)
{
    const struct ww_cell_options coarse = {.nx = 8, .ny = 8, .nz = 8, .supersample = 1};
    struct ww_cell cell = {0};
    struct ww_error error = {0};
    enum ww_status status = ww_cell_build(&cell, style, &coarse, &error);
    if (status != WW_OK) {
        hold(status == WW_UNPHYSICAL, "cloth is refused for what it is");
        hold_reason(&error, status);
        hold(cell.warp == NULL && cell.fill == NULL, "a refusal leaves nothing behind");
        return;
    }
    for (size_t i = 0; i < cell.nx * cell.ny * cell.nz; i++)
        hold(cell.warp[i] >= 0 && cell.fill[i] >= 0 && cell.warp[i] + cell.fill[i] <= 1 + 1e-12,
             "yarns fill what there is, not more");
    ww_cell_clear(&cell);
}

void target_style(const char *data, size_t size)
{
    static const char before[] = "[stackup]\nresin = R\nlayer = plane\nlayer = ply X 200 um\nlayer = trace\n"
                                 "layer = resin 100 um\nlayer = plane\n" RESIN TRACE "length = 20 mm\n[style X]\n";
    struct ww_study study = {0};
    if (judge_part(&study, before, data, size))
        for (size_t i = 0; i < study.stack.count; i++)
            if (study.stack.layer[i].kind == WW_LAYER_PLY)
                judge_cloth(&study.stack.layer[i].style);
    ww_study_clear(&study);
}

void target_set(const char *data, size_t size)
{
    enum { SETS_MOST = 8 };
    static const char before[] = STACKUP RESIN TRACE "length = 20 mm\n";
    const char *assignment[SETS_MOST];
    size_t assignments = 0;
    struct ww_study study = {0};
    char *text = terminated(data, size), *line = text;
    while (line != NULL && assignments < SETS_MOST && (line == text || line[0] != '\0')) {
        char *end = strchr(line, '\n');
        if (end != NULL)
            *end++ = '\0';
        assignment[assignments++] = line;
        line = end;
    }
    (void)judge_study(&study, before, sizeof before - 1, assignment, assignments);
    ww_study_clear(&study);
    free(text);
}

static void judge_solution(const struct ww_study *study)
{
    const double light = 299792458, rounding = 1e-9;
    struct ww_solution solution = {0};
    struct ww_error error = {0};
    enum ww_status status = ww_study_solve(&solution, study, &error);
    if (status != WW_OK) {
        hold_reason(&error, status);
        hold(solution.line == NULL && solution.skew.map == NULL, "a failure leaves nothing behind");
        return;
    }
    const struct ww_skew *skew = &solution.skew;
    hold(isfinite(skew->worst) && skew->worst >= 0, "the worst is a number");
    hold(skew->median <= skew->worst * (1 + rounding) && skew->p95 <= skew->worst * (1 + rounding) &&
             skew->p99 <= skew->worst * (1 + rounding),
         "nothing exceeds the worst");
    hold(skew->worst_with_turn >= skew->worst * (1 - rounding), "turned as it may be it is no less");
    hold(skew->yield >= 0 && skew->yield <= 1 && skew->over_budget >= 0 && skew->over_budget <= 1 &&
             skew->tolerant_over_budget >= 0 && skew->tolerant_over_budget <= 1,
         "a chance is from 0 to 1");
    hold(solution.summary.delay * light >= 1 && isfinite(solution.summary.delay), "light takes its time");
    hold(solution.summary.z0 > 0 && isfinite(solution.summary.z0), "an impedance is above zero");
    ww_solution_clear(&solution);
}

/* Before it is built. */
static bool looks_small(const struct ww_study *study)
{
    enum { PLIES_MOST = 3, SEGMENTS_MOST = 4, LANES_MOST = 100, SECTIONS_MOST = 2 };
    const double length_most = 0.2;
    size_t plies = 0;
    for (size_t i = 0; i < study->stack.count; i++)
        plies += study->stack.layer[i].kind == WW_LAYER_PLY;
    return plies <= PLIES_MOST && study->length <= length_most && study->segments <= SEGMENTS_MOST &&
           study->arms <= SEGMENTS_MOST && study->lanes <= LANES_MOST && study->sections <= SECTIONS_MOST;
}

static bool is_small(const struct ww_study *study)
{
    const size_t nodes_most = 120000;
    size_t nodes = 0;
    return ww_line_nodes(&nodes, &study->stack, &study->trace, study->fineness, NULL) != WW_OK || nodes <= nodes_most;
}

void target_skew(const char *data, size_t size)
{
    static const char *const coarse[] = {"study.fineness=0.25", "study.positions=16"};
    struct ww_study study = {0};
    struct ww_error error = {0};
    if (read_study(&study, data, size, coarse, sizeof coarse / sizeof *coarse, &error) == WW_OK &&
        looks_small(&study)) {
        enum ww_status status = ww_study_build(&study, &error);
        if (status != WW_OK)
            hold_reason(&error, status);
        else if (is_small(&study))
            judge_solution(&study);
    }
    ww_study_clear(&study);
}

/* --- files of others --- */

static unsigned long crc_of(const unsigned char *bytes, size_t count)
{
    unsigned long crc = 0xffffffffUL;
    for (size_t i = 0; i < count; i++) {
        crc ^= bytes[i];
        for (int bit = 0; bit < 8; bit++)
            crc = (crc & 1) != 0 ? 0xedb88320UL ^ (crc >> 1) : crc >> 1;
    }
    return crc ^ 0xffffffffUL;
}

/* Make the checksum of each chunk right, as far as chunks can be told. */
static void repair(unsigned char *file, size_t size)
{
    for (size_t at = 8; at + 12 <= size;) {
        size_t length =
            (size_t)file[at] << 24 | (size_t)file[at + 1] << 16 | (size_t)file[at + 2] << 8 | file[at + 3];
        if (length > size - at - 12)
            return;
        unsigned long crc = crc_of(file + at + 4, length + 4);
        for (int i = 0; i < 4; i++)
            file[at + 8 + length + (size_t)i] = (unsigned char)(crc >> (24 - 8 * i));
        at += length + 12;
    }
}

static void recall(const char *data, size_t size)
{
    char path[] = "/tmp/weftwise-fuzz-XXXXXX";
    int file = mkstemp(path);
    hold(file >= 0 && write(file, data, size) == (ssize_t)size, "a temporary file can be written");
    close(file);
    char *study = NULL;
    struct ww_error error = {0};
    enum ww_status status = ww_figure_recall(path, &study, &error);
    unlink(path);
    if (status != WW_OK) {
        hold(status == WW_INVALID || status == WW_MALFORMED, "a figure is refused for what it is");
        hold_reason(&error, status);
        hold(study == NULL, "a refusal leaves nothing behind");
        return;
    }
    hold(strncmp(study, "[study]\n", 8) == 0, "what is recalled is a study");
    hold(ww_utf8_valid(study), "in UTF-8");
    for (const char *p = study; *p != '\0'; p++)
        hold((unsigned char)*p >= 0x20 || *p == '\n' || *p == '\t', "that no terminal obeys");
    free(study);
}

void target_figure(const char *data, size_t size)
{
    recall(data, size);
    char *copy = terminated(data, size);
    repair((unsigned char *)copy, size);
    recall(copy, size);
    free(copy);
}

static void measure(const struct ww_photo *photo)
{
    const struct ww_picture picture = {
        .file = "fuzz.png", .nx = photo->nx, .ny = photo->ny, .pixel = 1e-5, .value = photo->value};
    const struct ww_picture_options how = {0};
    struct ww_cloth_picture cloth;
    struct ww_error error = {0};
    enum ww_status status = ww_picture_measure(&cloth, &picture, &how, &error);
    if (status != WW_OK) {
        hold(status == WW_INVALID || status == WW_UNPHYSICAL, "a picture is refused for what it shows");
        hold_reason(&error, status);
        hold(cloth.warp.path == NULL && cloth.spectrum.value == NULL, "a refusal leaves nothing behind");
        return;
    }
    hold(isfinite(cloth.warp.pitch.value) && cloth.warp.pitch.value > 0, "a pitch is above zero");
    hold(isfinite(cloth.fill.wander) && cloth.fill.wander >= 0, "wander is not below zero");
    ww_cloth_picture_clear(&cloth);
}

static void look(const char *data, size_t size)
{
    enum { MEASURED = 20000, EACH = 8 }; /* pixels, and one picture in so many: quick */
    struct ww_photo photo;
    struct ww_error error = {0};
    FILE *stream = stream_of(data, size);
    enum ww_status status = ww_photo_read(&photo, stream, "fuzz.png", &error);
    fclose(stream);
    if (status != WW_OK) {
        hold(status == WW_MALFORMED || status == WW_INVALID, "a picture is refused for what it is");
        hold_reason(&error, status);
        hold(photo.value == NULL && photo.nx == 0, "a refusal leaves nothing behind");
        return;
    }
    for (size_t i = 0; i < photo.nx * photo.ny; i++)
        hold(photo.value[i] >= 0 && photo.value[i] <= 1, "a sample is from 0 to 1");
    hold(isfinite(photo.pixel_width) && photo.pixel_width >= 0, "a scale is a number");
    if (photo.nx * photo.ny <= MEASURED && crc_of((const unsigned char *)data, size) % EACH == 0)
        measure(&photo);
    ww_photo_clear(&photo);
}

/* The most memory so far [kB]. */
static long peak(void)
{
    struct rusage usage;
    hold(getrusage(RUSAGE_SELF, &usage) == 0, "the system tells what is used");
    return usage.ru_maxrss;
}

void target_picture(const char *data, size_t size)
{
    const long most = 1000000; /* kB; a picture of 40 million pixels takes 0.4 GB */
    long before = peak();
    look(data, size);
    char *copy = terminated(data, size);
    repair((unsigned char *)copy, size);
    look(copy, size);
    free(copy);
    hold(peak() - before < most, "what a picture says of itself is not believed before it is there");
}

/* --- paths of yarns --- */

static enum ww_status read_paths(struct ww_yarn_paths *paths, const char *data, size_t size, struct ww_error *error)
{
    FILE *stream = stream_of(data, size);
    enum ww_status status = ww_yarn_paths_read(paths, stream, "fuzz.ini", error);
    fclose(stream);
    return status;
}

/* What was written reads back to the digits that were; but for what was at a limit before it was rounded. */
static void judge_written(const struct ww_yarn_paths *paths)
{
    const double digit = 0.0101e-6;
    struct ww_yarn_paths again;
    struct ww_error error = {0};
    char *text = NULL;
    size_t size = 0;
    FILE *stream = open_memstream(&text, &size);
    hold(stream != NULL && ww_yarn_paths_write(stream, paths, &error) == WW_OK && fclose(stream) == 0,
         "paths can be written");
    enum ww_status status = read_paths(&again, text, size, &error);
    hold(status == WW_OK || status == WW_UNPHYSICAL || status == WW_INVALID, "what was written is such a file");
    for (int s = 0; s < WW_SYSTEMS && status == WW_OK; s++) {
        hold(again.of[s].count == paths->of[s].count, "with as many yarns");
        for (size_t n = 0; n < paths->of[0].count * paths->of[1].count; n++)
            hold(fabs(again.of[s].off[n] - paths->of[s].off[n]) <= digit, "at the same places");
    }
    ww_yarn_paths_clear(&again);
    free(text);
}

static struct ww_datum given(double value)
{
    return (struct ww_datum){.value = value, .origin = WW_USER};
}

/* A style of the very pitches. */
static bool style_of(struct ww_style *style, const struct ww_yarn_paths *paths)
{
    const double packing = 0.5, height = 20e-6, density = 2580, fullness = 0.7;
    *style = (struct ww_style){.name = "X", .shape = given(2), .glass = {.name = "E", .dk = 6, .density = density}};
    for (int s = 0; s < WW_SYSTEMS; s++) {
        double pitch = ww_yarn_paths_pitch(paths, (enum ww_system)s), width = fullness * pitch;
        double area = packing * ww_superellipse_area_factor(2) * width * height;
        *(s == WW_WARP ? &style->warp_count : &style->fill_count) = given(1 / pitch);
        *(s == WW_WARP ? &style->warp : &style->fill) =
            (struct ww_yarn){.tex = given(area * density), .width = given(width), .height = given(height)};
    }
    return ww_style_close(style, NULL) == WW_OK;
}

static void judge_laid(const struct ww_yarn_paths *paths)
{
    enum { NZ = 6, PLACES = 40 };
    struct ww_style style;
    struct ww_patch *patch = NULL;
    struct ww_error error = {0};
    if (!style_of(&style, paths))
        return;
    enum ww_status status = ww_patch_lay(&patch, &style, paths, &error);
    if (status != WW_OK) {
        hold(status == WW_UNPHYSICAL || status == WW_INVALID, "cloth is refused for how it lies");
        hold_reason(&error, status);
        hold(patch == NULL, "a refusal leaves nothing behind");
        return;
    }
    const struct ww_cloth cloth = {&style, patch};
    for (int i = 0; i < PLACES; i++) {
        double warp[NZ], fill[NZ], share = (double)i / PLACES;
        double x = (1.5 * share - 0.25) * (double)paths->of[WW_WARP].count * paths->of[WW_WARP].pitch;
        double y = (1.5 * fmod(7.3 * share, 1) - 0.25) * (double)paths->of[WW_FILL].count * paths->of[WW_FILL].pitch;
        ww_cloth_column(&cloth, x, y, NZ, NULL, warp, fill);
        for (int z = 0; z < NZ; z++)
            hold(warp[z] >= 0 && fill[z] >= 0 && warp[z] + fill[z] <= 1 + 1e-12,
                 "yarns fill what there is, not more");
    }
    ww_patch_destroy(patch);
}

void target_paths(const char *data, size_t size)
{
    struct ww_yarn_paths paths;
    struct ww_error error = {0};
    enum ww_status status = read_paths(&paths, data, size, &error);
    if (status != WW_OK) {
        hold(status == WW_MALFORMED || status == WW_INVALID || status == WW_UNPHYSICAL,
             "paths are refused for what they say");
        hold_reason(&error, status);
        hold(paths.of[WW_WARP].off == NULL && paths.of[WW_FILL].width == NULL, "a refusal leaves nothing behind");
        return;
    }
    judge_written(&paths);
    judge_laid(&paths);
    ww_yarn_paths_clear(&paths);
}
