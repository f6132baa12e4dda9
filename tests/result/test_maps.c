/* Raw maps: NPY and grey pictures, read back byte by byte.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "chunks.h"

#include <dirent.h>
#include <unistd.h>

#include "weftwise/result.h"

#define NX 7
#define NY 5

static char folder[64];
static struct ww_map map;

static int make_folder(void **state)
{
    (void)state;
    snprintf(folder, sizeof folder, "/tmp/weftwise-maps-XXXXXX");
    return mkdtemp(folder) == NULL;
}

static int remove_folder(void **state)
{
    (void)state;
    char command[128];
    snprintf(command, sizeof command, "rm -r %s", folder);
    return system(command) != 0;
}

/* Every sample another value, the smallest at the lower left. */
static int fill_map(void **state)
{
    (void)state;
    if (ww_map_init(&map, NX, NY, 700e-6, 1000e-6, NULL) != WW_OK)
        return 1;
    for (size_t i = 0; i < NX * NY; i++)
        map.value[i] = -1.5e-12 + (double)(i * i) * 1e-14;
    return 0;
}

static int clear_map(void **state)
{
    (void)state;
    ww_map_clear(&map);
    return 0;
}

static const char *inside(const char *name)
{
    static char path[2][512];
    static int turn;
    turn = 1 - turn;
    snprintf(path[turn], sizeof path[turn], "%s/%s", folder, name);
    return path[turn];
}

static int entries(void)
{
    int count = 0;
    DIR *listing = opendir(folder);
    assert_non_null(listing);
    for (const struct dirent *entry = readdir(listing); entry != NULL; entry = readdir(listing))
        count += strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0;
    closedir(listing);
    return count;
}

static double little_float(const unsigned char *bytes)
{
    uint32_t bits =
        (uint32_t)bytes[0] | (uint32_t)bytes[1] << 8 | (uint32_t)bytes[2] << 16 | (uint32_t)bytes[3] << 24;
    float value;
    memcpy(&value, &bits, sizeof value);
    return (double)value;
}

static void npy_holds_the_map_row_by_row_from_the_bottom(void **state)
{
    (void)state;
    struct ww_error error = {0};
    size_t size;

    assert_ok(ww_result_npy(inside("a.npy"), &map, &error), error);
    unsigned char *file = file_load(inside("a.npy"), &size);
    assert_memory_equal(file, "\x93NUMPY\x01\x00", 8);
    size_t header = 10 + file[8] + 256u * file[9];
    assert_int_equal(header % 64, 0);
    assert_int_equal(file[header - 1], '\n');
    assert_memory_equal(file + 10, "{'descr': '<f4', 'fortran_order': False, 'shape': (5, 7), }", 59);
    assert_int_equal(size, header + 4 * NX * NY);
    for (size_t i = 0; i < NX * NY; i++)
        assert_close(little_float(file + header + 4 * i), map.value[i], 6e-8, 0);
    free(file);
}

/* The header's padding holds for sizes of any number of digits. */
static void npy_header_is_aligned_for_every_shape(void **state)
{
    (void)state;
    static const size_t width[] = {1, 12, 123, 1234, 123456, 1000000};
    struct ww_error error = {0};

    for (size_t i = 0; i < sizeof width / sizeof width[0]; i++) {
        struct ww_map wide = {0};
        size_t size;
        assert_ok(ww_map_init(&wide, width[i], 1, 1e-3, 1e-3, &error), error);
        assert_ok(ww_result_npy(inside("wide.npy"), &wide, &error), error);
        unsigned char *file = file_load(inside("wide.npy"), &size);
        assert_int_equal((size - 4 * width[i]) % 64, 0);
        assert_int_equal(file[8] + 256u * file[9] + 10, size - 4 * width[i]);
        free(file);
        ww_map_clear(&wide);
    }
}

static void a_picture_tells_its_scale_and_values(void **state)
{
    (void)state;
    struct ww_error error = {0};
    struct chunks chunks;

    assert_ok(ww_result_grey_png(inside("a.png"), &map, "skew", "s", NULL, &error), error);
    chunks_load(&chunks, inside("a.png"));
    assert_int_equal(big_endian(chunks.chunk[0].data), NX);
    assert_int_equal(big_endian(chunks.chunk[0].data + 4), NY);
    assert_int_equal(chunks.chunk[0].data[8], 16);
    assert_int_equal(chunks.chunk[0].data[9], 0);

    /* sCAL: unit 1 (metre), width, zero, height */
    const struct chunk *scale = chunk_before_data(&chunks, "sCAL");
    assert_int_equal(scale->data[0], 1);
    const char *width = (const char *)scale->data + 1, *height = width + strlen(width) + 1;
    assert_close(strtod(width, NULL), 100e-6, 1e-9, 0);
    assert_int_equal((size_t)(height - (const char *)scale->data) < scale->size, 1);
    assert_close(strtod(height, NULL), 200e-6, 1e-9, 0);

    /* pCAL: name, zero, X0, X1, type, parameters, unit, zero, p0, zero, p1 */
    const struct chunk *value = chunk_before_data(&chunks, "pCAL");
    const unsigned char *at = value->data;
    assert_string_equal((const char *)at, "skew");
    at += strlen("skew") + 1;
    assert_int_equal(big_endian(at), 0);
    assert_int_equal(big_endian(at + 4), 65535);
    assert_int_equal(at[8], 0); /* linear */
    assert_int_equal(at[9], 2);
    assert_string_equal((const char *)at + 10, "s");
    const char *low = (const char *)at + 12, *span = low + strlen(low) + 1;
    assert_close(strtod(low, NULL), map.value[0], 1e-15, 0);
    char last[40] = ""; /* the last parameter has no zero behind it */
    memcpy(last, span, value->size - (size_t)(span - (const char *)value->data));
    assert_close(strtod(last, NULL), map.value[NX * NY - 1] - map.value[0], 1e-15, 0);
    chunks_clear(&chunks);
}

/* A map of one value has no span: every sample is worth that value. */
static void a_flat_map_is_told_as_flat(void **state)
{
    (void)state;
    struct ww_error error = {0};
    struct chunks chunks;

    for (size_t i = 0; i < NX * NY; i++)
        map.value[i] = 3.5;
    assert_ok(ww_result_grey_png(inside("flat.png"), &map, "Dk", "", NULL, &error), error);
    chunks_load(&chunks, inside("flat.png"));
    const struct chunk *value = chunk_before_data(&chunks, "pCAL");
    const char *low = (const char *)value->data + 3 + 10 + 1;
    assert_string_equal(low, "3.5");
    assert_memory_equal(low + 4, "0", 1);
    chunks_clear(&chunks);
}

static void refuse_both(struct ww_map *bad)
{
    struct ww_error error = {0};
    int before = entries();

    assert_int_equal(ww_result_npy(inside("bad"), bad, &error), WW_INVALID);
    assert_true(error.text[0] != '\0');
    assert_int_equal(ww_result_grey_png(inside("bad"), bad, "skew", "s", NULL, &error), WW_INVALID);
    assert_int_equal(entries(), before);
}

static void what_is_not_a_map_of_numbers_is_refused(void **state)
{
    (void)state;
    struct ww_map none = {0};

    refuse_both(&none);
    map.value[3] = NAN;
    refuse_both(&map);
    map.value[3] = -INFINITY;
    refuse_both(&map);
    map.value[3] = 1e60; /* a number, but float32 has no room for it */
    assert_int_equal(ww_result_npy(inside("bad"), &map, NULL), WW_INVALID);
    map.value[3] = 0;
    map.lx = 0;
    assert_int_equal(ww_result_grey_png(inside("bad"), &map, "skew", "s", NULL, NULL), WW_INVALID);
    map.lx = 1e-3;
    assert_int_equal(ww_result_grey_png(inside("bad"), &map, "", "s", NULL, NULL), WW_INVALID);
}

static void trouble_leaves_no_file(void **state)
{
    (void)state;
    struct ww_error error = {0};
    int before = entries();

    assert_int_equal(ww_result_npy("/dev/full", &map, &error), WW_IO);
    assert_int_equal(ww_result_grey_png("/dev/full", &map, "skew", "s", NULL, &error), WW_IO);
    assert_int_equal(ww_result_npy(inside("none/a.npy"), &map, &error), WW_IO);
    assert_int_equal(ww_result_grey_png(inside("none/a.png"), &map, "skew", "s", NULL, &error), WW_IO);
    assert_int_equal(ww_result_npy(folder, &map, NULL), WW_IO);
    assert_int_equal(entries(), before);
}

#define WITH_MAP(f) cmocka_unit_test_setup_teardown(f, fill_map, clear_map)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH_MAP(npy_holds_the_map_row_by_row_from_the_bottom),
        cmocka_unit_test(npy_header_is_aligned_for_every_shape),
        WITH_MAP(a_picture_tells_its_scale_and_values),
        WITH_MAP(a_flat_map_is_told_as_flat),
        WITH_MAP(what_is_not_a_map_of_numbers_is_refused),
        WITH_MAP(trouble_leaves_no_file),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
