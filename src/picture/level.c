/* picture/level.c - the picture over its lighting: over a polynomial of the third degree in place, fitted by least squares.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "picture/picture.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    SMALLEST = 32, /* pixels each way */
    TERMS = 10,    /* of the polynomial */
    LIGHT_SAMPLES = 300
};
static const double LEAST_LIGHT = 0.1; /* of the mean, below which lighting is taken as this */

static void terms_at(double x, double y, double term[TERMS])
{
    const double value[TERMS] = {1.0, x, y, x * x, x * y, y * y, x * x * x, x * x * y, x * y * y, y * y * y};
    memcpy(term, value, sizeof value);
}

static double centred(size_t i, size_t n)
{
    return (2.0 * (double)i + 1.0) / (double)n - 1.0;
}

static void fit_light(const struct ww_level *level, double light[TERMS])
{
    double a[TERMS * TERMS] = {0.0}, term[TERMS];
    size_t dx = level->nx / LIGHT_SAMPLES + 1, dy = level->ny / LIGHT_SAMPLES + 1;
    memset(light, 0, TERMS * sizeof *light);
    for (size_t y = 0; y < level->ny; y++)
        for (size_t x = y % dx; x < level->nx; x += dx) {
            if (dy > 1 && y % dy >= (dy + 1) / 2)
                continue;
            terms_at(centred(x, level->nx), centred(y, level->ny), term);
            for (int i = 0; i < TERMS; i++) {
                light[i] += term[i] * level->value[y * level->nx + x];
                for (int j = 0; j < TERMS; j++)
                    a[i * TERMS + j] += term[i] * term[j];
            }
        }
    (void)ww_normal_solve(TERMS, a, light); /* 32 pixels each way hold ten terms */
}

static double find_spread(const struct ww_level *level, double *mean)
{
    size_t count = level->nx * level->ny;
    double sum = 0.0, squares = 0.0;
    for (size_t i = 0; i < count; i++)
        sum += level->value[i];
    *mean = sum / (double)count;
    for (size_t i = 0; i < count; i++)
        squares += (level->value[i] - *mean) * (level->value[i] - *mean);
    return sqrt(squares / (double)count);
}

enum ww_status ww_level_picture(struct ww_level *level, const struct ww_picture *picture, bool light_behind,
                                struct ww_error *error)
{
    double light[TERMS], term[TERMS], mean;
    size_t count = picture->nx * picture->ny;
    *level = (struct ww_level){picture->nx, picture->ny, NULL, picture->file};
    if (picture->nx < SMALLEST || picture->ny < SMALLEST)
        return ww_error_set(error, WW_INVALID, picture->file, 0,
                            "is %zu by %zu pixels; give at least %d each way, and four yarns of five pixels",
                            picture->nx, picture->ny, SMALLEST);
    level->value = malloc(count * sizeof *level->value);
    if (!level->value)
        return ww_error_set(error, WW_NO_MEMORY, picture->file, 0, "no memory to level the picture");
    memcpy(level->value, picture->value, count * sizeof *level->value);
    if (!(find_spread(level, &mean) > 1e-6)) {
        ww_level_clear(level);
        return ww_error_set(error, WW_UNPHYSICAL, picture->file, 0, "is of one grey throughout: no cloth is seen");
    }
    fit_light(level, light);
    for (size_t y = 0; y < level->ny; y++)
        for (size_t x = 0; x < level->nx; x++) {
            double lit = 0.0, *value = &level->value[y * level->nx + x];
            terms_at(centred(x, level->nx), centred(y, level->ny), term);
            for (int i = 0; i < TERMS; i++)
                lit += light[i] * term[i];
            *value = (*value - lit) / fmax(lit, LEAST_LIGHT * mean);
            *value = light_behind ? -*value : *value;
        }
    return WW_OK;
}

void ww_level_clear(struct ww_level *level)
{
    free(level->value);
    *level = (struct ww_level){0};
}

bool ww_level_at(const struct ww_level *level, double x, double y, double *value)
{
    double px = x + 0.5 * (double)level->nx - 0.5, py = y + 0.5 * (double)level->ny - 0.5;
    if (!(px >= 0.0 && py >= 0.0 && px < (double)(level->nx - 1) && py < (double)(level->ny - 1)))
        return false;
    size_t ix = (size_t)px, iy = (size_t)py;
    double fx = px - (double)ix, fy = py - (double)iy;
    const double *below = &level->value[iy * level->nx + ix], *above = below + level->nx;
    *value = (1.0 - fy) * ((1.0 - fx) * below[0] + fx * below[1]) + fy * ((1.0 - fx) * above[0] + fx * above[1]);
    return true;
}
