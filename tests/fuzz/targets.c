/* targets.c - what has to hold for any text at all.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "targets.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
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

void target_study(const char *data, size_t size)
{
    static const char weaves[] = WW_SOURCE_ROOT "/weaves";
    struct ww_study study = {0};
    struct ww_study again = {0};
    struct ww_error error = {0};
    FILE *stream = stream_of(data, size);
    enum ww_status status = ww_study_read(&study, stream, "fuzz.ini", weaves, NULL, 0, &error);
    fclose(stream);
    if (status != WW_OK) {
        hold(status == WW_MALFORMED || status == WW_INVALID || status == WW_UNPHYSICAL,
             "a study is refused for what it says");
        hold_reason(&error, status);
        return;
    }
    hold(isfinite(study.length) && study.length > 0, "a study's length is above zero");
    char *text = ww_study_text(&study);
    hold(text != NULL, "a study can be written");
    stream = stream_of(text, strlen(text));
    status = ww_study_read(&again, stream, "again.ini", weaves, NULL, 0, &error);
    fclose(stream);
    if (status != WW_OK)
        fprintf(stderr, "%d: %s\n%s\n", error.line, error.text, text);
    hold(status == WW_OK, "a study that was written reads back");
    hold(fabs(again.length - study.length) <= 4e-15 * study.length, "with the same length");
    free(text);
    ww_study_clear(&again);
    ww_study_clear(&study);
}

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

void target_picture(const char *data, size_t size)
{
    look(data, size);
    char *copy = terminated(data, size);
    repair((unsigned char *)copy, size);
    look(copy, size);
    free(copy);
}
