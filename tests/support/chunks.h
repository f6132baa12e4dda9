/* chunks.h - walk the chunks of a PNG by the letter of its specification, without libpng.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_TESTS_CHUNKS_H
#define WW_TESTS_CHUNKS_H

#include "check.h"

#include <stdio.h>
#include <stdlib.h>

struct chunk {
    char name[5];
    const unsigned char *data;
    size_t size;
};

struct chunks {
    unsigned char *file;
    size_t size;
    struct chunk chunk[64]; /* image data: only the first of its chunks is kept */
    int count;
};

static inline unsigned long big_endian(const unsigned char *bytes)
{
    return (unsigned long)bytes[0] << 24 | (unsigned long)bytes[1] << 16 | (unsigned long)bytes[2] << 8 | bytes[3];
}

/* The CRC of the PNG specification, a bit at a time. */
static inline unsigned long chunk_crc(const unsigned char *bytes, size_t count)
{
    unsigned long crc = 0xffffffffUL;

    for (size_t i = 0; i < count; i++) {
        crc ^= bytes[i];
        for (int bit = 0; bit < 8; bit++)
            crc = (crc & 1) != 0 ? 0xedb88320UL ^ (crc >> 1) : crc >> 1;
    }
    return crc ^ 0xffffffffUL;
}

/* The whole file in memory (one zero byte behind it); the caller frees. */
static inline unsigned char *file_load(const char *path, size_t *size)
{
    FILE *stream = fopen(path, "rb");
    unsigned char *bytes;

    assert_non_null(stream);
    assert_int_equal(fseek(stream, 0, SEEK_END), 0);
    *size = (size_t)ftell(stream);
    rewind(stream);
    bytes = calloc(*size + 1, 1);
    assert_non_null(bytes);
    assert_int_equal(fread(bytes, 1, *size, stream), *size);
    fclose(stream);
    return bytes;
}

/* Loads and checks: signature, every CRC, IHDR first, IEND last and nothing behind it. */
static inline void chunks_load(struct chunks *chunks, const char *path)
{
    static const unsigned char signature[8] = {0x89, 'P', 'N', 'G', 13, 10, 26, 10};
    size_t at = 8;

    memset(chunks, 0, sizeof *chunks);
    chunks->file = file_load(path, &chunks->size);
    assert_true(chunks->size > 8);
    assert_memory_equal(chunks->file, signature, 8);
    while (at < chunks->size) {
        assert_true(at + 12 <= chunks->size);
        size_t size = big_endian(chunks->file + at);
        assert_true(size <= chunks->size - at - 12);
        struct chunk chunk = {"", chunks->file + at + 8, size};
        memcpy(chunk.name, chunks->file + at + 4, 4);
        assert_int_equal(chunk_crc(chunks->file + at + 4, size + 4), big_endian(chunks->file + at + 8 + size));
        bool more_data = chunks->count > 0 && strcmp(chunk.name, "IDAT") == 0 &&
                         strcmp(chunks->chunk[chunks->count - 1].name, "IDAT") == 0;
        if (!more_data) {
            assert_true(chunks->count < 64);
            chunks->chunk[chunks->count++] = chunk;
        }
        at += size + 12;
    }
    assert_string_equal(chunks->chunk[0].name, "IHDR");
    assert_string_equal(chunks->chunk[chunks->count - 1].name, "IEND");
}

static inline void chunks_clear(struct chunks *chunks)
{
    free(chunks->file);
    memset(chunks, 0, sizeof *chunks);
}

/* Place of the only chunk of that name; -1 if there is none. */
static inline int chunk_place(const struct chunks *chunks, const char *name)
{
    int found = -1;

    for (int i = 0; i < chunks->count; i++)
        if (strcmp(chunks->chunk[i].name, name) == 0) {
            assert_int_equal(found, -1);
            found = i;
        }
    return found;
}

/* The chunk of that name, which must be there once and before the image data. */
static inline const struct chunk *chunk_before_data(const struct chunks *chunks, const char *name)
{
    int place = chunk_place(chunks, name);

    assert_true(place > 0);
    assert_true(place < chunk_place(chunks, "IDAT"));
    return &chunks->chunk[place];
}

/* Does an iTXt chunk of that keyword hold exactly that text? Keyword, zero, compression flag and method (both 0: not
 * compressed), language and translated keyword (both empty), text without a zero. */
static inline bool chunk_says(const struct chunks *chunks, const char *keyword, const char *text)
{
    size_t key = strlen(keyword) + 1, length = strlen(text);

    for (int i = 0; i < chunks->count; i++) {
        const struct chunk *chunk = &chunks->chunk[i];
        if (strcmp(chunk->name, "iTXt") == 0 && chunk->size == key + 4 + length &&
            memcmp(chunk->data, keyword, key) == 0 && memcmp(chunk->data + key, "\0\0\0\0", 4) == 0 &&
            memcmp(chunk->data + key + 4, text, length) == 0)
            return true;
    }
    return false;
}

#endif
