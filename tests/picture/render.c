/* render.c - pictures of plain cloth of which everything is known, seen from above.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "render.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "picture/picture.h"
#include "random.h"

enum { SUB = 2, HARMONICS = 24, TABLE = 2048 };

struct yarns {
    double pitch, width, height, shape, c, s; /* cosine and sine of the turn */
    size_t count;
    double *path;  /* [count][TABLE]: offset across at even distances along */
    double *share; /* [count]: of the width */
    double reach;  /* along: from -reach to reach */
};

struct scene {
    const struct rendering *r;
    struct yarns of[2];
};

static void *fetch(size_t count, size_t size)
{
    void *block = calloc(count, size);
    if (!block) {
        fprintf(stderr, "no memory to render\n");
        abort();
    }
    return block;
}

static double gauss(struct random *random)
{
    return sqrt(-2.0 * log(1.0 - random_share(random))) * cos(2.0 * WW_PI * random_share(random));
}

/* Frequencies of a Gaussian spectrum, phases even: the sum's covariance is exp(-s^2/(2 length^2)) in the mean. */
static void draw_path(double *path, const struct rendering *r, double reach, struct random *random)
{
    double frequency[HARMONICS], phase[HARMONICS];
    for (int h = 0; h < HARMONICS; h++) {
        frequency[h] = gauss(random) / r->length;
        phase[h] = 2.0 * WW_PI * random_share(random);
    }
    for (size_t k = 0; k < TABLE; k++) {
        double along = (2.0 * (double)k / (TABLE - 1) - 1.0) * reach, sum = 0.0;
        for (int h = 0; h < HARMONICS; h++)
            sum += cos(frequency[h] * along + phase[h]);
        path[k] = r->wander * sqrt(2.0 / HARMONICS) * sum;
    }
}

/* Yarn i of the picture is yarn i - count/2 + PATCH_YARN of the patch, and its middle that of yarn PATCH_YARN of the other system. */
static void copy_path(struct yarns *y, const struct rendering *r, enum ww_system system, size_t i)
{
    long yarn = (long)i - (long)(y->count / 2) + PATCH_YARN;
    double middle = (PATCH_YARN + 0.5) * r->pitch[1 - (int)system];
    for (size_t k = 0; k < TABLE; k++) {
        double along = middle + (2.0 * (double)k / (TABLE - 1) - 1.0) * y->reach;
        y->path[i * TABLE + k] = ww_patch_axis(r->patch, system, yarn, along) - ((double)yarn + 0.5) * y->pitch;
    }
    y->share[i] = 1.0 + ww_patch_wider(r->patch, system, yarn, middle);
}

/* Yarns that wander each on its own, and a share of them all alike. */
static void draw_paths(struct yarns *y, const struct rendering *r, struct random *random)
{
    double own = sqrt(1.0 - r->together), alike = sqrt(r->together), *common = fetch(TABLE, sizeof *common);
    if (r->together > 0.0)
        draw_path(common, r, y->reach, random);
    for (size_t i = 0; i < y->count; i++) {
        draw_path(&y->path[i * TABLE], r, y->reach, random);
        for (size_t k = 0; k < TABLE; k++)
            y->path[i * TABLE + k] = own * y->path[i * TABLE + k] + alike * common[k];
    }
    free(common);
}

static void set_up(struct scene *scene, const struct rendering *r)
{
    struct random random = random_of(r->seed);
    double size = 1.2 * hypot((double)r->nx, (double)r->ny) * r->pixel;
    scene->r = r;
    for (int f = 0; f < 2; f++) {
        struct yarns *y = &scene->of[f];
        *y = (struct yarns){.pitch = r->pitch[f], .width = r->width[f], .height = r->height[f]};
        y->shape = r->shape > 0.0 ? r->shape : 2.0;
        y->c = cos(r->turn[f]);
        y->s = sin(r->turn[f]);
        y->reach = 0.6 * size;
        y->count = 2 * (size_t)ceil(0.6 * size / y->pitch) + 4;
        y->path = fetch(y->count * TABLE, sizeof *y->path);
        y->share = fetch(y->count, sizeof *y->share);
        for (size_t i = 0; i < y->count; i++)
            y->share[i] = 1.0 + r->scatter * gauss(&random);
        for (size_t i = 0; i < y->count && r->patch; i++)
            copy_path(y, r, (enum ww_system)f, i);
        if (r->wander > 0.0 && !r->patch)
            draw_paths(y, r, &random);
    }
}

static void tear_down(struct scene *scene)
{
    for (int f = 0; f < 2; f++) {
        free(scene->of[f].path);
        free(scene->of[f].share);
    }
}

/* Across and along a family's yarns. Warp: across is to the right; fill: across is up. */
static void turn_to(const struct yarns *y, int family, double px, double py, double *across, double *along)
{
    *across = family == 0 ? px * y->c + py * y->s : -px * y->s + py * y->c;
    *along = family == 0 ? -px * y->s + py * y->c : px * y->c + py * y->s;
}

static double path_at(const struct yarns *y, size_t i, double along)
{
    double at = (along / y->reach + 1.0) * 0.5 * (TABLE - 1);
    size_t k = at < 0.0 ? 0 : at >= TABLE - 1 ? TABLE - 2 : (size_t)at;
    double share = at - (double)k;
    return (1.0 - share) * y->path[i * TABLE + k] + share * y->path[i * TABLE + k + 1];
}

/* The yarn that covers a place, or none; how far from its axis. */
static bool find_yarn(const struct yarns *y, double across, double along, long *index, double *off)
{
    long nearest = lround(across / y->pitch);
    double least = HUGE_VAL;
    for (long i = nearest - 1; i <= nearest + 1; i++) {
        size_t row = (size_t)(i + (long)y->count / 2);
        double d = across - (double)i * y->pitch - (row < y->count ? path_at(y, row, along) : 0.0);
        double share = row < y->count ? y->share[row] : 1.0;
        if (fabs(d) / share < least) {
            least = fabs(d) / share;
            *index = i;
            *off = d / share;
        }
    }
    return fabs(*off) < 0.5 * y->width;
}

static double profile(double q, double shape)
{
    return shape == 2.0 ? sqrt(1.0 - q * q) : pow(1.0 - pow(fabs(q), shape), 1.0 / shape);
}

/* Height of the upper face, and which yarn's it is (0 warp, 1 fill, -1 none). */
static double surface(const struct scene *scene, double px, double py, int *family)
{
    double across[2], along[2], off[2], top = -HUGE_VAL;
    long index[2];
    bool there[2];
    for (int f = 0; f < 2; f++) {
        turn_to(&scene->of[f], f, px, py, &across[f], &along[f]);
        there[f] = find_yarn(&scene->of[f], across[f], along[f], &index[f], &off[f]);
    }
    *family = -1;
    for (int f = 0; f < 2; f++) {
        const struct yarns *own = &scene->of[f], *other = &scene->of[1 - f];
        if (!there[f])
            continue;
        double crossing = ((double)index[1 - f] * other->pitch + off[1 - f]) / other->pitch;
        double sense = ((index[f] & 1) != 0) == (f == 0) ? -1.0 : 1.0; /* warp on top where both are even */
        double axis = sense * 0.5 * other->height * cos(WW_PI * crossing), q = 2.0 * off[f] / own->width;
        double z = axis + 0.5 * own->height * profile(q, own->shape);
        if (z > top) {
            top = z;
            *family = f;
        }
    }
    return top;
}

static double light_at(const struct scene *scene, double px, double py)
{
    const double light[3] = {0.25, 0.15, 0.96}, ambient = 0.25, d = 0.2e-6;
    int family, beside, above;
    double z = surface(scene, px, py, &family);
    if (family < 0)
        return scene->r->ground;
    double zx = surface(scene, px + d, py, &beside), zy = surface(scene, px, py + d, &above);
    double gx = beside == family ? (zx - z) / d : 0.0, gy = above == family ? (zy - z) / d : 0.0;
    double lit = (light[2] - gx * light[0] - gy * light[1]) / sqrt(1.0 + gx * gx + gy * gy);
    return scene->r->albedo[family] * (ambient + (1.0 - ambient) * fmax(0.0, lit));
}

static void blur_rows(const double *in, double *out, size_t rows, size_t n, size_t stride, size_t next, double sigma)
{
    long reach = (long)ceil(4.0 * sigma);
    for (size_t r = 0; r < rows; r++)
        for (size_t i = 0; i < n; i++) {
            double sum = 0.0, all = 0.0;
            for (long k = -reach; k <= reach; k++) {
                long at = (long)i + k;
                double weight = exp(-0.5 * (double)(k * k) / (sigma * sigma));
                at = at < 0 ? 0 : at >= (long)n ? (long)n - 1 : at;
                sum += weight * in[r * next + (size_t)at * stride];
                all += weight;
            }
            out[r * next + i * stride] = sum / all;
        }
}

struct ww_picture blank_picture(size_t nx, size_t ny, double pixel)
{
    struct ww_picture picture = {.file = "rendering", .nx = nx, .ny = ny, .pixel = pixel, .from = "given"};
    picture.value = fetch(nx * ny, sizeof *picture.value);
    for (size_t i = 0; i < nx * ny; i++)
        picture.value[i] = 0.5;
    return picture;
}

struct ww_picture render(const struct rendering *r)
{
    struct scene scene;
    struct random random = random_of(r->seed ^ 0x5eedU);
    struct ww_picture picture = blank_picture(r->nx, r->ny, r->pixel);
    set_up(&scene, r);
    double *sharp = fetch(r->nx * r->ny, sizeof *sharp), half = 0.5 * (double)r->nx * r->pixel;
    for (size_t iy = 0; iy < r->ny; iy++)
        for (size_t ix = 0; ix < r->nx; ix++) {
            double sum = 0.0;
            for (int k = 0; k < SUB * SUB; k++) {
                double x = ((double)ix + (k % SUB + 0.5) / SUB) * r->pixel - half;
                double y = ((double)iy + ((double)(k / SUB) + 0.5) / SUB - 0.5 * (double)r->ny) * r->pixel;
                double shrink = 1.0 / (1.0 - r->perspective * x / half / 2.0);
                sum += light_at(&scene, x * shrink, y * shrink);
            }
            double lit = 1.0 - r->gradient * ((double)ix / (double)r->nx + 0.5 * (double)iy / (double)r->ny) / 1.5;
            sharp[iy * r->nx + ix] = lit * sum / (SUB * SUB);
        }
    memcpy(picture.value, sharp, r->nx * r->ny * sizeof *sharp);
    if (r->blur > 0.0) {
        blur_rows(sharp, picture.value, r->ny, r->nx, 1, r->nx, r->blur);
        memcpy(sharp, picture.value, r->nx * r->ny * sizeof *sharp);
        blur_rows(sharp, picture.value, r->nx, r->ny, r->nx, 1, r->blur);
    }
    for (size_t i = 0; i < r->nx * r->ny; i++)
        picture.value[i] = fmin(1.0, fmax(0.0, picture.value[i] + r->noise * gauss(&random)));
    free(sharp);
    tear_down(&scene);
    return picture;
}

/* How far across a place in the picture is from the axis of the nearest yarn. */
static double off_axis(const struct scene *scene, int family, double x, double y, long *index)
{
    const struct yarns *own = &scene->of[family];
    double shrink = 1.0 / (1.0 - scene->r->perspective * x / ((double)scene->r->nx * scene->r->pixel)), across, along,
           off;
    turn_to(own, family, x * shrink, y * shrink, &across, &along);
    (void)find_yarn(own, across, along, index, &off);
    size_t row = (size_t)(*index + (long)own->count / 2);
    return across - (double)*index * own->pitch - path_at(own, row, along);
}

struct fit {
    double a[WW_TREND * WW_TREND], b[WW_TREND];
};

static void add_place(struct fit *fit, size_t terms, const double term[WW_TREND], double value)
{
    for (size_t p = 0; p < terms; p++) {
        fit->b[p] += term[p] * value;
        for (size_t q = 0; q < terms; q++)
            fit->a[p * terms + q] += term[p] * term[q];
    }
}

struct misses rendering_misses(const struct rendering *r, const struct ww_picture_yarns *y, int family)
{
    enum { ALONG = 8 };
    struct scene scene;
    struct misses misses = {0};
    struct fit fit = {{0.0}, {0.0}};
    double places = 0.0, squares = 0.0, share = 0.0, known = 0.0, width = 0.0, scale = y->pitch.value;
    const bool bends = y->perspective != 0.0; /* the trend is quadratic */
    set_up(&scene, r);
    for (size_t row = 0; row < y->rows; row++) {
        long index = 0;
        bool followed = false;
        for (size_t j = 0; j < y->steps; j++) {
            double at = y->path[row * y->steps + j], s = y->first + (double)j * y->step, off = 0.0;
            if (isnan(at))
                continue;
            for (int k = 0; k < ALONG; k++) {
                double along = s + ((k + 0.5) / ALONG - 0.5) * y->step;
                off += off_axis(&scene, family, at * y->across[0] + along * y->along[0],
                                at * y->across[1] + along * y->along[1], &index) /
                       ALONG;
            }
            double i = (double)row - 0.5 * (double)(y->rows - 1);
            const double term[WW_TREND] = {1.0, i, s / scale, i * i, i * s / scale, s * s / (scale * scale)};
            add_place(&fit, bends ? WW_TREND : 3, term, off);
            misses.offset += off;
            squares += off * off;
            places += 1.0;
            followed = true;
        }
        if (followed && !isnan(y->widths[row])) {
            share += scene.of[family].share[index + (long)scene.of[family].count / 2];
            width += y->widths[row];
            known += 1.0;
        }
    }
    tear_down(&scene);
    if (!ww_normal_solve(bends ? WW_TREND : 3, fit.a, fit.b))
        abort();
    misses.pitch = fit.b[1] / scale;
    misses.turn = -fit.b[2] / scale;
    misses.width = known > 0.0 ? width / (share * r->width[family]) - 1.0 : 0.0;
    misses.offset /= places;
    misses.position = sqrt(fmax(0.0, squares / places - misses.offset * misses.offset));
    return misses;
}

double rendering_wander(const struct rendering *r, int family)
{
    struct scene scene;
    double squares = 0.0, count = 0.0;
    set_up(&scene, r);
    const struct yarns *y = &scene.of[family];
    double wide = 0.5 * (double)(family == 0 ? r->nx : r->ny) * r->pixel;
    double tall = 0.5 * (double)(family == 0 ? r->ny : r->nx) * r->pixel;
    for (size_t i = 0; i < y->count; i++) {
        if (fabs(((double)i - (double)(y->count / 2)) * y->pitch) > wide)
            continue;
        for (double along = -tall; along < tall; along += y->pitch) {
            double off = path_at(y, i, along);
            squares += off * off;
            count += 1.0;
        }
    }
    tear_down(&scene);
    return sqrt(squares / count);
}

struct ww_picture turn_quarter(const struct ww_picture *picture)
{
    struct ww_picture turned = blank_picture(picture->ny, picture->nx, picture->pixel);
    for (size_t y = 0; y < picture->ny; y++)
        for (size_t x = 0; x < picture->nx; x++)
            turned.value[x * turned.nx + (picture->ny - 1 - y)] = picture->value[y * picture->nx + x];
    return turned;
}

struct rendering rendering_of_cloth(void)
{
    return (struct rendering){.nx = 420,
                              .ny = 400,
                              .pixel = 12e-6,
                              .pitch = {423.3e-6, 437.9e-6},
                              .width = {340e-6, 370e-6},
                              .height = {47e-6, 47e-6},
                              .length = 1.0,
                              .albedo = {0.8, 0.72},
                              .ground = 0.12,
                              .seed = 1};
}
