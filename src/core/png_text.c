/* core/png_text.c - a text of a PNG, found without libpng and without unpacking the image.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A PNG is its signature and then chunks: four bytes of size, most significant first, four of name, the data, and four of
 * checksum over name and data; the last chunk is IEND (W3C, Portable Network Graphics, section 5). A reader that wants
 * one text may pass over all the rest, and so cannot be made to unpack an image that somebody made to fill the memory.
 * The file may come from anywhere: no size in it is believed before the bytes are there.
 */
#include "core/png.h"

#include <stdlib.h>
#include <string.h>

enum { FRAME = 8, STEP = 65536 };

struct chunk {
    uint32_t size;
    char name[5];
};

static uint32_t big_endian(const uint8_t *bytes)
{
    return (uint32_t)bytes[0] << 24 | (uint32_t)bytes[1] << 16 | (uint32_t)bytes[2] << 8 | bytes[3];
}

/* The CRC of the specification's annex, a bit at a time: texts are short. */
static uint32_t carry_crc(uint32_t crc, const void *data, size_t count)
{
    const uint8_t *bytes = data;
    for (size_t i = 0; i < count; i++) {
        crc ^= bytes[i];
        for (int bit = 0; bit < 8; bit++)
            crc = (crc & 1u) != 0 ? 0xedb88320u ^ (crc >> 1) : crc >> 1;
    }
    return crc;
}

static enum ww_status refuse(FILE *stream, const char *name, struct ww_error *error)
{
    if (ferror(stream) != 0)
        return ww_error_set(error, WW_IO, name, 0, "could not be read");
    return ww_error_set(error, WW_MALFORMED, name, 0, "ends in the middle of a PNG; get the whole file");
}

static enum ww_status read_start(FILE *stream, const char *name, struct ww_error *error)
{
    static const uint8_t signature[FRAME] = {0x89, 'P', 'N', 'G', '\r', '\n', 0x1a, '\n'};
    uint8_t bytes[FRAME] = {0};
    if (fread(bytes, 1, FRAME, stream) != FRAME && ferror(stream) != 0)
        return refuse(stream, name, error);
    if (memcmp(bytes, signature, FRAME) != 0)
        return ww_error_set(error, WW_MALFORMED, name, 0, "is no PNG; give one");
    return WW_OK;
}

static enum ww_status read_frame(FILE *stream, const char *name, struct chunk *chunk, struct ww_error *error)
{
    uint8_t bytes[FRAME];
    if (fread(bytes, 1, FRAME, stream) != FRAME)
        return refuse(stream, name, error);
    chunk->size = big_endian(bytes);
    memcpy(chunk->name, bytes + 4, 4);
    chunk->name[4] = '\0';
    if (chunk->size > 0x7fffffffu)
        return ww_error_set(error, WW_MALFORMED, name, 0, "is a broken PNG: a chunk of over 2^31 bytes");
    return WW_OK;
}

/* Data and checksum. */
static enum ww_status skip(FILE *stream, const char *name, uint32_t size, struct ww_error *error)
{
    static const size_t checksum = 4;
    uint8_t bytes[STEP];
    for (size_t left = size + checksum; left > 0;) {
        size_t step = left < STEP ? left : STEP;
        if (fread(bytes, 1, step, stream) != step)
            return refuse(stream, name, error);
        left -= step;
    }
    return WW_OK;
}

/* The data with a zero behind them, the caller's to free; NULL where the checksum is wrong. */
static enum ww_status read_data(FILE *stream, const char *name, const struct chunk *chunk, char **data,
                                struct ww_error *error)
{
    uint8_t checksum[4];
    char *bytes = malloc((size_t)chunk->size + 1);
    *data = NULL;
    if (bytes == NULL)
        return ww_error_set(error, WW_NO_MEMORY, name, 0, "no memory for a text of %lu bytes",
                            (unsigned long)chunk->size);
    if (fread(bytes, 1, chunk->size, stream) != chunk->size || fread(checksum, 1, 4, stream) != 4) {
        free(bytes);
        return refuse(stream, name, error);
    }
    bytes[chunk->size] = '\0';
    uint32_t crc = carry_crc(carry_crc(0xffffffffu, chunk->name, 4), bytes, chunk->size) ^ 0xffffffffu;
    if (crc == big_endian(checksum))
        *data = bytes;
    else
        free(bytes);
    return WW_OK;
}

/* Where the text begins in the data of a chunk; NULL if it is another keyword's, compressed, or has a zero in it.
 * tEXt: keyword, zero, text. iTXt: keyword, zero, is it compressed, how, language, zero, keyword in it, zero, text. */
static const char *find_text(const struct chunk *chunk, const char *data, const char *keyword)
{
    const char *end = data + chunk->size, *at = data + strlen(keyword) + 1;
    if (strlen(data) != strlen(keyword) || strcmp(data, keyword) != 0 || at > end)
        return NULL;
    if (strcmp(chunk->name, "iTXt") == 0) {
        if (end - at < 4 || at[0] != 0)
            return NULL;
        at += 2;
        for (int i = 0; i < 2; i++) {
            at += strlen(at) + 1;
            if (at > end)
                return NULL;
        }
    }
    return *at != '\0' && at + strlen(at) == end ? at : NULL;
}

/* One chunk of text; *text stays NULL if it is not the one. */
static enum ww_status take_chunk(FILE *stream, const char *name, const struct chunk *chunk, const char *keyword,
                                 char **text, struct ww_error *error)
{
    char *data = NULL;
    enum ww_status status = read_data(stream, name, chunk, &data, error);
    const char *found = data != NULL ? find_text(chunk, data, keyword) : NULL;
    if (found != NULL) {
        memmove(data, found, strlen(found) + 1);
        *text = data;
        return WW_OK;
    }
    free(data);
    return status;
}

enum ww_status ww_png_read_text(FILE *stream, const char *name, const char *keyword, char **text,
                                struct ww_error *error)
{
    struct chunk chunk = {0};
    *text = NULL;
    enum ww_status status = read_start(stream, name, error);
    if (status == WW_OK)
        status = read_frame(stream, name, &chunk, error);
    if (status == WW_OK && strcmp(chunk.name, "IHDR") != 0)
        status = ww_error_set(error, WW_MALFORMED, name, 0, "is a broken PNG: it does not begin with its header");
    while (status == WW_OK && strcmp(chunk.name, "IEND") != 0) {
        bool is_text = strcmp(chunk.name, "iTXt") == 0 || strcmp(chunk.name, "tEXt") == 0;
        if (is_text && chunk.size <= WW_PNG_TEXT_LARGEST)
            status = take_chunk(stream, name, &chunk, keyword, text, error);
        else
            status = skip(stream, name, chunk.size, error);
        if (*text != NULL)
            return WW_OK;
        if (status == WW_OK)
            status = read_frame(stream, name, &chunk, error);
    }
    if (status != WW_OK)
        return status;
    return ww_error_set(error, WW_INVALID, name, 0, "has no text '%s'", keyword);
}
