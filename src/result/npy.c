/* result/npy.c - a map as an array file that numerical programs read.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * NPY 1.0 (NumPy's own description of the format, "numpy.lib.format"): six magic bytes, two of version, two of
 * header length, a Python literal padded with blanks so that the samples start at a multiple of 64 bytes.
 */
#include "weftwise/result.h"

#include <float.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#define ALIGNMENT 64
#define PREAMBLE 10 /* magic, version, header length */

/* Fills header (of at least 2 * ALIGNMENT bytes); returns its length. */
static size_t write_header(char *header, const struct ww_map *map)
{
    char literal[2 * ALIGNMENT - PREAMBLE];
    int literal_length = snprintf(
        literal, sizeof literal, "{'descr': '<f4', 'fortran_order': False, 'shape': (%zu, %zu), }", map->ny, map->nx);
    size_t used = PREAMBLE + (size_t)literal_length + 1; /* and its newline */
    size_t total = (used + ALIGNMENT - 1) / ALIGNMENT * ALIGNMENT;

    memset(header, ' ', total);
    memcpy(header, "\x93NUMPY\x01\x00", 8);
    header[8] = (char)((total - PREAMBLE) & 255);
    header[9] = (char)((total - PREAMBLE) >> 8);
    memcpy(header + PREAMBLE, literal, (size_t)literal_length);
    header[total - 1] = '\n';
    return total;
}

static void put_float(unsigned char *out, double value)
{
    float single = (float)value;
    uint32_t bits;

    memcpy(&bits, &single, sizeof bits);
    for (int i = 0; i < 4; i++)
        out[i] = (unsigned char)(bits >> 8 * i);
}

static enum ww_status check(const struct ww_map *map, const char *path, struct ww_error *error)
{
    if (map->value == NULL || map->nx == 0 || map->ny == 0)
        return ww_error_set(error, WW_INVALID, path, 0, "the map to save has no samples");
    for (size_t i = 0; i < map->nx * map->ny; i++)
        if (!(fabs(map->value[i]) <= FLT_MAX))
            return ww_error_set(error, WW_INVALID, path, 0,
                                "sample %zu of the map, %g, is not a number that float32 holds", i, map->value[i]);
    return WW_OK;
}

enum ww_status ww_result_npy(const char *path, const struct ww_map *map, struct ww_error *error)
{
    struct ww_output output = {0};
    char header[2 * ALIGNMENT];
    unsigned char *row = NULL;
    size_t row_bytes, header_bytes;
    bool good;
    enum ww_status status = check(map, path, error);

    if (status != WW_OK)
        return status;
    row_bytes = 4 * map->nx;
    row = malloc(row_bytes);
    if (row == NULL) {
        status = ww_error_set(error, WW_NO_MEMORY, path, 0, "no memory to save the map");
        goto done;
    }
    status = ww_output_open(&output, path, error);
    if (status != WW_OK)
        goto done;

    header_bytes = write_header(header, map);
    good = fwrite(header, 1, header_bytes, output.stream) == header_bytes;
    for (size_t iy = 0; good && iy < map->ny; iy++) {
        for (size_t ix = 0; ix < map->nx; ix++)
            put_float(row + 4 * ix, map->value[iy * map->nx + ix]);
        good = fwrite(row, 1, row_bytes, output.stream) == row_bytes;
    }
    status = good ? ww_output_commit(&output, error)
                  : ww_error_set(error, WW_IO, path, 0, "cannot write the map; is the disk full?");
done:
    ww_output_discard(&output);
    free(row);
    return status;
}
