/* Contours lie on their level and come in one segment; heat maps show the sample that is there.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"

#include "figure/heatmap.h"

#define SIDE 64

/* A page of 100 by 100 units and pixels, and a map of two waves on a cell of 1 by 1. */
struct page {
    struct ww_canvas canvas;
    struct ww_panel panel;
    struct ww_map map;
};

static double waves(double x, double y)
{
    return cos(2 * WW_PI * x) + cos(2 * WW_PI * y);
}

static void page_open(struct page *page)
{
    *page = (struct page){.panel = {.box = {0, 0, 100, 100}, .x0 = 0, .x1 = 2, .y0 = 0, .y1 = 2}};
    page->canvas.surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, 100, 100);
    page->canvas.cairo = cairo_create(page->canvas.surface);
    page->canvas.density = 1;
    assert_int_equal(ww_map_init(&page->map, SIDE, SIDE, 1, 1, NULL), WW_OK);
    for (size_t i = 0; i < SIDE * SIDE; i++)
        page->map.value[i] = waves(((double)(i % SIDE) + 0.5) / SIDE, ((double)(i / SIDE) + 0.5) / SIDE);
}

static void page_close(struct page *page)
{
    assert_int_equal(cairo_status(page->canvas.cairo), CAIRO_STATUS_SUCCESS);
    cairo_destroy(page->canvas.cairo);
    cairo_surface_destroy(page->canvas.surface);
    ww_map_clear(&page->map);
}

/* Points of the path, each checked to lie on the level; segments it comes in. */
static int check_path(struct page *page, double level, int *segments)
{
    cairo_path_t *path = cairo_copy_path(page->canvas.cairo);
    int points = 0;

    *segments = 0;
    for (int i = 0; i < path->num_data; i += path->data[i].header.length) {
        double x = path->data[i + 1].point.x / 50, y = 2 - path->data[i + 1].point.y / 50;
        *segments += path->data[i].header.type == CAIRO_PATH_MOVE_TO;
        assert_close(waves(x, y), level, 0, 0.02); /* linear between samples, and cairo's 1/256 unit */
        points++;
    }
    cairo_path_destroy(path);
    return points;
}

/* Around level 1: one whole loop in the middle, four halves at the edges and four quarters in the corners. Dashes
 * restart with every segment: were each square its own, a dashed line would look solid. */
static void a_contour_comes_in_one_segment(void **state)
{
    (void)state;
    struct page page;
    int segments;

    page_open(&page);
    ww_contour_path(&page.canvas, &page.panel, 1, &page.map, 1.0);
    assert_true(check_path(&page, 1.0, &segments) > 150);
    assert_int_equal(segments, 9);
    ww_contour_path(&page.canvas, &page.panel, 1, &page.map, -1.0);
    assert_true(check_path(&page, -1.0, &segments) > 150);
    assert_int_equal(segments, 4); /* four whole loops in the middles of the cells */
    page_close(&page);
}

static void saddles_and_holes_do_not_stop_it(void **state)
{
    (void)state;
    struct page page;
    int segments;

    page_open(&page);
    ww_contour_path(&page.canvas, &page.panel, 1, &page.map, 0.0); /* straight through every saddle */
    assert_true(check_path(&page, 0.0, &segments) > 8);            /* cairo joins what is straight */
    for (size_t i = 0; i < 10; i++)
        page.map.value[i * 131] = NAN;
    ww_contour_path(&page.canvas, &page.panel, 1, &page.map, 1.0);
    check_path(&page, 1.0, &segments);
    ww_contour_path(&page.canvas, &page.panel, 1, &page.map, 5.0); /* above everything */
    assert_int_equal(check_path(&page, 5.0, &segments), 0);
    page_close(&page);
}

static void every_pixel_is_its_sample(void **state)
{
    (void)state;
    struct page page;
    double low, high;

    page_open(&page);
    ww_map_range(&page.map, &low, &high);
    ww_heatmap_draw(&page.canvas, &page.panel, 1, &page.map, WW_RAMP_SEQUENTIAL, low, high);
    cairo_surface_flush(page.canvas.surface);
    const unsigned char *pixels = cairo_image_surface_get_data(page.canvas.surface);
    size_t stride = (size_t)cairo_image_surface_get_stride(page.canvas.surface);
    for (size_t row = 0; row < 100; row++)
        for (size_t column = 0; column < 100; column++) {
            double x = ((double)column + 0.5) / 50, y = 2 - ((double)row + 0.5) / 50;
            size_t ix = (size_t)((x - floor(x)) * SIDE), iy = (size_t)((y - floor(y)) * SIDE);
            double t = (page.map.value[iy * SIDE + ix] - low) / (high - low);
            struct ww_rgb want = ww_ramp_colour(WW_RAMP_SEQUENTIAL, t);
            uint32_t pixel;
            memcpy(&pixel, pixels + row * stride + 4 * column, 4);
            assert_close((double)(pixel >> 16 & 255), 255 * want.r, 0, 1.0); /* rounding, and 1024 shades */
            assert_close((double)(pixel >> 8 & 255), 255 * want.g, 0, 1.0);
            assert_close((double)(pixel & 255), 255 * want.b, 0, 1.0);
        }
    page_close(&page);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_contour_comes_in_one_segment),
        cmocka_unit_test(saddles_and_holes_do_not_stop_it),
        cmocka_unit_test(every_pixel_is_its_sample),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
