/* figure/contour.c - lines of one level through a periodic map.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Between four neighbouring sample centres lies a square. A level line enters it through an edge whose corners lie
 * on either side of the level, and leaves through another; the walk goes from square to square until it comes
 * back or leaves the window. Where all four edges are crossed (a saddle), edges 0, 1 and 2, 3 belong together.
 */
#include <math.h>
#include <stdlib.h>

#include "figure/heatmap.h"

/* Corners anticlockwise from the lower left; edge e runs from corner e to e + 1: bottom, right, top, left. */
static const int corner_x[] = {0, 1, 1, 0}, corner_y[] = {0, 0, 1, 1};
static const int beyond_x[] = {0, 1, 0, -1}, beyond_y[] = {-1, 0, 1, 0};

struct walk {
    struct ww_canvas *canvas;
    const struct ww_panel *panel;
    const struct ww_map *map;
    double dx, dy, level; /* spacing of samples in the panel's unit */
    long x0, y0, nx, ny;  /* the squares of the window */
    unsigned char *seen;  /* edges of each square whose line is drawn, as bits */
};

/* The map repeats; an index is seldom more than a period off, and a division would take most of the time. */
static size_t wrapped(long i, size_t count)
{
    while (i < 0)
        i += (long)count;
    while (i >= (long)count)
        i -= (long)count;
    return (size_t)i;
}

static double value_at(const struct ww_map *map, long ix, long iy)
{
    return map->value[wrapped(iy, map->ny) * map->nx + wrapped(ix, map->nx)];
}

static bool inside(const struct walk *walk, long ix, long iy)
{
    return ix >= walk->x0 && ix < walk->x0 + walk->nx && iy >= walk->y0 && iy < walk->y0 + walk->ny;
}

static unsigned char *seen_at(const struct walk *walk, long ix, long iy)
{
    return &walk->seen[(iy - walk->y0) * walk->nx + (ix - walk->x0)];
}

/* Bits of the edges that the level crosses; 0, 2 or 4 of them. */
static unsigned crossed_edges(const struct walk *walk, long ix, long iy)
{
    bool above[4];
    unsigned edges = 0;

    for (int c = 0; c < 4; c++) {
        double value = value_at(walk->map, ix + corner_x[c], iy + corner_y[c]);
        if (isnan(value))
            return 0;
        above[c] = value >= walk->level;
    }
    for (int e = 0; e < 4; e++)
        if (above[e] != above[(e + 1) % 4])
            edges |= 1u << e;
    return edges;
}

static int other_edge(unsigned edges, int entry)
{
    if (edges == 15)
        return entry ^ 1;
    for (int e = 0; e < 4; e++)
        if (e != entry && (edges & 1u << e) != 0)
            return e;
    return entry;
}

static void put_point(const struct walk *walk, long ix, long iy, int edge, bool drawing)
{
    int p = edge, q = (edge + 1) % 4;
    double vp = value_at(walk->map, ix + corner_x[p], iy + corner_y[p]);
    double vq = value_at(walk->map, ix + corner_x[q], iy + corner_y[q]);
    double t = (walk->level - vp) / (vq - vp);
    double x = (double)(ix + corner_x[p]) + t * (corner_x[q] - corner_x[p]) + 0.5;
    double y = (double)(iy + corner_y[p]) + t * (corner_y[q] - corner_y[p]) + 0.5;
    double page_x = ww_panel_x(walk->panel, x * walk->dx), page_y = ww_panel_y(walk->panel, y * walk->dy);

    if (drawing)
        cairo_line_to(walk->canvas->cairo, page_x, page_y);
    else
        cairo_move_to(walk->canvas->cairo, page_x, page_y);
}

/* Back along the line, from where it enters a square through an edge to where it enters the window, or once around. */
static void rewind_line(const struct walk *walk, long *ix, long *iy, int *entry)
{
    long first_x = *ix, first_y = *iy;
    int first_entry = *entry;

    for (;;) {
        long back_x = *ix + beyond_x[*entry], back_y = *iy + beyond_y[*entry];
        unsigned edges = inside(walk, back_x, back_y) ? crossed_edges(walk, back_x, back_y) : 0;
        if (edges == 0)
            return;
        *entry = other_edge(edges, (*entry + 2) % 4);
        *ix = back_x;
        *iy = back_y;
        if (*ix == first_x && *iy == first_y && *entry == first_entry)
            return;
    }
}

static void follow(const struct walk *walk, long ix, long iy, int entry)
{
    put_point(walk, ix, iy, entry, false);
    while (inside(walk, ix, iy)) {
        unsigned edges = crossed_edges(walk, ix, iy);
        unsigned char *seen = seen_at(walk, ix, iy);
        int way_out = other_edge(edges, entry);
        if (edges == 0 || (*seen & 1u << entry) != 0)
            break;
        *seen |= (unsigned char)(1u << entry | 1u << way_out);
        put_point(walk, ix, iy, way_out, true);
        ix += beyond_x[way_out];
        iy += beyond_y[way_out];
        entry = (way_out + 2) % 4;
    }
}

void ww_contour_path(struct ww_canvas *canvas, const struct ww_panel *panel, double worth, const struct ww_map *map,
                     double level)
{
    struct walk walk = {.canvas = canvas, .panel = panel, .map = map, .level = level};

    walk.dx = map->lx / (double)map->nx / worth;
    walk.dy = map->ly / (double)map->ny / worth;
    walk.x0 = (long)floor(panel->x0 / walk.dx) - 1;
    walk.y0 = (long)floor(panel->y0 / walk.dy) - 1;
    walk.nx = (long)ceil(panel->x1 / walk.dx) - walk.x0 + 1;
    walk.ny = (long)ceil(panel->y1 / walk.dy) - walk.y0 + 1;
    walk.seen = calloc((size_t)walk.nx * (size_t)walk.ny, 1);
    if (walk.seen == NULL) {
        canvas->starved = true;
        return;
    }
    cairo_new_path(canvas->cairo);
    for (long iy = walk.y0; iy < walk.y0 + walk.ny; iy++)
        for (long ix = walk.x0; ix < walk.x0 + walk.nx; ix++) {
            unsigned edges = crossed_edges(&walk, ix, iy);
            for (int e = 0; e < 4; e++) {
                long at_x = ix, at_y = iy;
                int entry = e;
                if ((edges & 1u << e) == 0 || (*seen_at(&walk, ix, iy) & 1u << e) != 0)
                    continue;
                rewind_line(&walk, &at_x, &at_y, &entry);
                follow(&walk, at_x, at_y, entry);
            }
        }
    free(walk.seen);
}
