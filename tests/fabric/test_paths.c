/* Paths of yarns as a file: what is written reads back, what is no such file ends in a line; and the cloth that is laid of them.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <stdlib.h>
#include <string.h>

#include "check.h"
#include "cloth.h"
#include "fabric/patch.h"

enum { WARP = 9, FILL = 8 };

/* Of a drawn patch, or where it is NULL of perfect cloth; yarn 1 is the patch's yarn 0. */
static struct ww_yarn_paths paths_of(const struct ww_style *style, const struct ww_patch *patch)
{
    const size_t counts[WW_SYSTEMS] = {WARP, FILL};
    const double pitch[WW_SYSTEMS] = {1 / style->warp_count.value, 1 / style->fill_count.value};
    struct ww_yarn_paths paths;
    struct ww_error error = {0};
    assert_ok(ww_yarn_paths_init(&paths, counts, &error), error);
    strcpy(paths.picture, "photo.png");
    for (int s = 0; s < WW_SYSTEMS; s++) {
        paths.of[s].pitch = pitch[s];
        for (size_t n = 0; patch && n < WARP * FILL; n++) {
            size_t i = n / counts[1 - s], k = n % counts[1 - s];
            paths.of[s].off[n] = ww_patch_axis(patch, (enum ww_system)s, (long)i, ((double)k + 0.5) * pitch[1 - s]) -
                                 ((double)i + 0.5) * pitch[s];
        }
    }
    return paths;
}

static struct ww_patch *drawn(const struct ww_style *style, double wander)
{
    const struct ww_yarn_scatter yarn = {wander, 8e-3, 0.9, 0};
    const struct ww_scatter scatter = {.yarn = {yarn, yarn}, .seed = 5};
    struct ww_patch *patch;
    struct ww_error error = {0};
    assert_ok(ww_patch_create(&patch, style, &scatter, 8e-3, 8e-3, 0, &error), error);
    return patch;
}

static char *written(const struct ww_yarn_paths *paths)
{
    char *text = NULL;
    size_t size;
    struct ww_error error = {0};
    FILE *stream = open_memstream(&text, &size);
    assert_non_null(stream);
    assert_ok(ww_yarn_paths_write(stream, paths, &error), error);
    fclose(stream);
    return text;
}

static enum ww_status read_back(const char *text, struct ww_yarn_paths *paths, struct ww_error *error)
{
    FILE *stream = tmpfile();
    assert_non_null(stream);
    assert_int_equal(fwrite(text, 1, strlen(text), stream), strlen(text));
    rewind(stream);
    enum ww_status status = ww_yarn_paths_read(paths, stream, "paths.ini", error);
    fclose(stream);
    return status;
}

/* --- the file -------------------------------------------------------------------------------------------------- */

/* To the 0.01 um that are written, half of it. */
static void what_is_written_reads_back(void **state)
{
    (void)state;
    struct ww_style style = cloth_closed(&open_cloth);
    struct ww_patch *patch = drawn(&style, 10 * UM);
    struct ww_yarn_paths paths = paths_of(&style, patch), again;
    struct ww_error error = {0};
    paths.of[WW_FILL].width[2] = 312.34 * UM;
    char *text = written(&paths);
    assert_ok(read_back(text, &again, &error), error);
    assert_string_equal(again.picture, "photo.png");
    assert_string_equal(again.file, "paths.ini");
    for (int s = 0; s < WW_SYSTEMS; s++) {
        assert_int_equal(again.of[s].count, paths.of[s].count);
        assert_close(again.of[s].pitch, paths.of[s].pitch, 0, 5e-5 * UM * 1.01);
        for (size_t n = 0; n < WARP * FILL; n++)
            assert_close(again.of[s].off[n], paths.of[s].off[n], 0, 0.00501 * UM);
        for (size_t i = 0; i < paths.of[s].count; i++)
            assert_close(again.of[s].width[i], paths.of[s].width[i], 0, 1e-12);
    }
    free(text);
    ww_yarn_paths_clear(&paths);
    ww_yarn_paths_clear(&again);
    ww_patch_destroy(patch);
}

/* The text with the first `from` replaced; to NULL: cut there. */
static char *changed(const char *text, const char *from, const char *to)
{
    const char *at = strstr(text, from);
    assert_non_null(at);
    size_t size = strlen(text) + (to ? strlen(to) : 0) + 1;
    char *out = calloc(size, 1);
    assert_non_null(out);
    snprintf(out, size, "%.*s%s%s", (int)(at - text), text, to ? to : "", to ? at + strlen(from) : "");
    return out;
}

static void what_is_no_such_file_ends_in_a_line(void **state)
{
    (void)state;
    static const struct {
        const char *from, *to, *why;
        enum ww_status status;
    } bad[] = {
        {"[paths]", "[trace]", "holds no paths", WW_MALFORMED},
        {"format = 1", "format = 2", "reads 1", WW_MALFORMED},
        {"format = 1\n", "", "lacks format", WW_MALFORMED},
        {"warp_pitch", "warp_pich", "not known", WW_MALFORMED},
        {"warp_pitch = 423", "warp_pitch = nan; 423", "warp_pitch", WW_MALFORMED},
        {"warp_pitch = 423", "warp_pitch = 423000", "check the unit", WW_INVALID},
        {"[warp 2]", "[warp 20]", "without a gap", WW_MALFORMED},
        {"[warp 2]", "[warp 02]", "no section of such a file", WW_MALFORMED},
        {"[warp 2]", "[weft 2]", "no section of such a file", WW_MALFORMED},
        {"[warp 2]", "[warp 1]", "twice", WW_MALFORMED},
        {"[warp 4]", NULL, "has 3 warp yarns", WW_UNPHYSICAL},
        {"[fill 4]", NULL, "has 3 fill yarns", WW_UNPHYSICAL},
        {"[fill 8]", NULL, "has more positions than the 7 yarns", WW_MALFORMED},
        {"off = 0.00 0.00", "off = 0.00", "has 7 positions for 8", WW_MALFORMED},
        {"off = 0.00", "off = 0.00 0.00", "has more positions than the 8 yarns", WW_MALFORMED},
        {"off = 0.00", "off = nan", "off", WW_MALFORMED},
        {"off = 0.00", "off = 1e9", "check the unit", WW_INVALID},
        {"off = 0.00", "off = 300", "bends by", WW_UNPHYSICAL},
        {" 0.00 um", " 0.00", "numbers and their unit", WW_MALFORMED},
        {"off = 0.00", "off = 00000000000000000000000000000000000000000000000000.00", "too long", WW_MALFORMED},
        {"off = 0.00", "depth = 1 um\noff = 0.00", "nothing else", WW_MALFORMED},
        {"off = 0.00", "width = 300 um\nwidth = 300 um\noff = 0.00", "one width", WW_MALFORMED},
        {"format = 1", "format = 1\nformat", "the line is no section, key or comment", WW_MALFORMED},
    };
    struct ww_style style = cloth_closed(&open_cloth);
    struct ww_yarn_paths paths = paths_of(&style, NULL), again;
    struct ww_error error = {0};
    char *text = written(&paths);
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        char *broken = changed(text, bad[i].from, bad[i].to);
        enum ww_status status = read_back(broken, &again, &error);
        if (status != bad[i].status || !strstr(error.text, bad[i].why))
            print_error("%s for %s: %d, %s\n", bad[i].to ? bad[i].to : "cut", bad[i].from, status, error.text);
        assert_int_equal(status, bad[i].status);
        assert_contains(error.text, bad[i].why);
        assert_string_equal(error.file, "paths.ini");
        assert_null(again.of[WW_WARP].off);
        free(broken);
    }
    /* a neighbour on its place */
    for (size_t k = 0; k < FILL; k++)
        paths.of[WW_WARP].off[2 * FILL + k] = 0.95 * paths.of[WW_WARP].pitch;
    free(text);
    text = written(&paths);
    assert_int_equal(read_back(text, &again, &error), WW_UNPHYSICAL);
    assert_contains(error.text, "[warp 3] and [warp 4] lie on each other");
    free(text);
    ww_yarn_paths_clear(&paths);
}

static void what_no_file_holds_is_refused(void **state)
{
    (void)state;
    static const size_t bad[][WW_SYSTEMS] = {{5, 600}, {600, 5}, {500, 600}, {4000, 6}},
                        most[WW_SYSTEMS] = {340, 340};
    struct ww_yarn_paths paths, again;
    struct ww_error error = {0};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        assert_int_equal(ww_yarn_paths_init(&paths, bad[i], &error), WW_INVALID);
        assert_contains(error.text, i < 2 ? "give 6 or more of each" : "crop the picture");
        assert_null(paths.of[WW_WARP].off);
    }
    assert_ok(ww_yarn_paths_init(&paths, most, &error), error);
    paths.of[WW_WARP].pitch = paths.of[WW_FILL].pitch = 400 * UM;
    for (size_t n = 0; n < most[0] * most[1]; n++) /* as long as numbers get */
        paths.of[WW_WARP].off[n] = paths.of[WW_FILL].off[n] = -99876.54 * UM;
    char *text = written(&paths);
    assert_ok(read_back(text, &again, &error), error);
    free(text);
    ww_yarn_paths_clear(&again);
    ww_yarn_paths_clear(&paths);
}

/* --- the cloth ------------------------------------------------------------------------------------------------- */

static void assert_columns_alike(const struct ww_cloth *a, const struct ww_cloth *b, const double low[2],
                                 const double high[2], double most)
{
    enum { NZ = 12 };
    double warp[2][NZ], fill[2][NZ];
    for (int n = 0; n < 500; n++) {
        double x = low[0] + (high[0] - low[0]) * fmod(0.618034 * n, 1), y = low[1] + (high[1] - low[1]) * n / 500;
        ww_cloth_column(a, x, y, NZ, NULL, warp[0], fill[0]);
        ww_cloth_column(b, x, y, NZ, NULL, warp[1], fill[1]);
        for (int z = 0; z < NZ; z++) {
            assert_close(warp[0][z], warp[1][z], 0, most);
            assert_close(fill[0][z], fill[1][z], 0, most);
        }
    }
}

/* Everywhere, beyond its yarns too. */
static void even_paths_are_the_perfect_cloth(void **state)
{
    (void)state;
    const double low[2] = {-3e-3, -3e-3}, high[2] = {9e-3, 9e-3};
    struct ww_style style = cloth_closed(&open_cloth);
    struct ww_yarn_paths paths = paths_of(&style, NULL);
    struct ww_patch *laid;
    struct ww_error error = {0};
    paths.of[WW_WARP].width[3] = 250 * UM; /* the only one that is known is as wide as the mean */
    assert_ok(ww_patch_lay(&laid, &style, &paths, &error), error);
    struct ww_cloth real = {&style, laid}, perfect = {&style, NULL};
    assert_columns_alike(&real, &perfect, low, high, 1e-9);
    assert_false(ww_patch_repeats(laid));
    ww_patch_destroy(laid);
    ww_yarn_paths_clear(&paths);
}

/* Samples a pitch apart, cubic between them: within 0.02 um for a wander of 10 um over 8 mm, which moves edges of yarns in few columns. */
static void paths_of_a_patch_are_its_yarns_again(void **state)
{
    (void)state;
    struct ww_style style = cloth_closed(&open_cloth);
    struct ww_patch *patch = drawn(&style, 10 * UM), *laid;
    struct ww_yarn_paths paths = paths_of(&style, patch);
    struct ww_error error = {0};
    double low[2], high[2], lx, ly;
    assert_ok(ww_patch_lay(&laid, &style, &paths, &error), error);
    assert_false(ww_patch_room(patch, low, high));
    assert_true(ww_patch_room(laid, low, high));
    for (int s = 0; s < WW_SYSTEMS; s++) {
        assert_close(low[s], 1.5 * paths.of[s].pitch, 0, 50 * UM);
        assert_close(high[s], ((double)paths.of[s].count - 1.5) * paths.of[s].pitch, 0, 50 * UM);
        for (long i = 0; i < (long)paths.of[s].count; i++)
            for (double at = low[1 - s]; at < high[1 - s]; at += 37 * UM)
                assert_close(ww_patch_axis(laid, (enum ww_system)s, i, at),
                             ww_patch_axis(patch, (enum ww_system)s, i, at), 0, 0.02 * UM);
    }
    ww_patch_size(laid, &lx, &ly);
    assert_close(lx, WARP * paths.of[WW_WARP].pitch, 1e-12, 0);
    assert_close(ly, FILL * paths.of[WW_FILL].pitch, 1e-12, 0);
    /* beyond its ends straight on, and beyond the last yarn evenly */
    double last = ww_patch_axis(laid, WW_WARP, WARP - 1, ly + 1e-3);
    assert_close(ww_patch_axis(laid, WW_WARP, WARP - 1, ly + 9e-3), last, 0, 1e-12);
    assert_close(ww_patch_axis(laid, WW_WARP, WARP + 2, ly + 1e-3), last + 3 * paths.of[WW_WARP].pitch, 0, 1e-12);
    ww_patch_destroy(laid);
    ww_patch_destroy(patch);
    ww_yarn_paths_clear(&paths);
}

static void wider_yarns_are_wider(void **state)
{
    (void)state;
    struct ww_style style = cloth_closed(&open_cloth);
    struct ww_yarn_paths paths = paths_of(&style, NULL);
    struct ww_patch *laid;
    struct ww_error error = {0};
    paths.of[WW_WARP].width[2] = 330 * UM; /* the style's are 220: what counts is the share */
    paths.of[WW_WARP].width[4] = 270 * UM;
    assert_ok(ww_patch_lay(&laid, &style, &paths, &error), error);
    assert_close(ww_patch_wider(laid, WW_WARP, 2, 1e-3), 0.1, 1e-12, 0);
    assert_close(ww_patch_wider(laid, WW_WARP, 4, 2e-3), -0.1, 1e-12, 0);
    assert_close(ww_patch_wider(laid, WW_WARP, 3, 1e-3), 0, 0, 0);
    ww_patch_destroy(laid);
    paths.of[WW_WARP].width[4] = 130 * UM;
    assert_int_equal(ww_patch_lay(&laid, &style, &paths, &error), WW_UNPHYSICAL);
    assert_contains(error.text, "[warp 3] is 330 um wide");
    assert_null(laid);
    ww_yarn_paths_clear(&paths);
}

static void cloth_of_another_style_is_refused(void **state)
{
    (void)state;
    struct ww_style style = cloth_closed(&open_cloth), other = cloth_closed(&spread_cloth);
    struct ww_yarn_paths paths = paths_of(&style, NULL);
    struct ww_patch *laid;
    struct ww_error error = {0};
    assert_int_equal(ww_patch_lay(&laid, &other, &paths, &error), WW_INVALID); /* 47 fill yarns to the inch, and 58 */
    assert_contains(error.text, "its fill pitch, 540.4 um, is not that of style T1, 437.9 um");
    /* a 12th nearer each, what even paths would hide: the pitch is that of the axes */
    for (size_t n = 0; n < WARP * FILL; n++)
        paths.of[WW_WARP].off[n] = -(double)(n / FILL) * paths.of[WW_WARP].pitch / 12;
    assert_int_equal(ww_patch_lay(&laid, &style, &paths, &error), WW_INVALID);
    assert_contains(error.text, "its warp pitch, 388.1 um");
    ww_yarn_paths_clear(&paths);
    /* in pairs, the pitch the same on average, and nearer than yarns of this width fit */
    paths = paths_of(&other, NULL);
    for (size_t n = 0; n < WARP * FILL; n++)
        paths.of[WW_WARP].off[n] = (n / FILL % 2 ? -0.2 : 0.2) * paths.of[WW_WARP].pitch;
    assert_int_equal(ww_patch_lay(&laid, &other, &paths, &error), WW_UNPHYSICAL);
    assert_contains(error.text, "overlap with their neighbours");
    assert_null(laid);
    ww_yarn_paths_clear(&paths);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_written_reads_back),           cmocka_unit_test(what_is_no_such_file_ends_in_a_line),
        cmocka_unit_test(what_no_file_holds_is_refused),        cmocka_unit_test(even_paths_are_the_perfect_cloth),
        cmocka_unit_test(paths_of_a_patch_are_its_yarns_again), cmocka_unit_test(wider_yarns_are_wider),
        cmocka_unit_test(cloth_of_another_style_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
