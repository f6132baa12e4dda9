/* patch.c - real cloth: yarns that wander, drawn at random, periodic over a patch.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The path of warp yarn i is x = (i + 1/2) px + xi_i(y), of fill yarn j y = (j + 1/2) py + eta_j(x). xi is a Gaussian process,
 *   <xi_i(s) xi_j(t)> = sigma^2 rho^|i - j| exp(-((s - t)/l)^2),
 * sigma = wander, rho = together, l = wander_length: an autoregressive process of first order from yarn to yarn, and a squared
 * exponential along the yarn, for a yarn is stiff and its path smooth. Both are wrapped around the patch, of N yarns and length L,
 *   r(d) = (rho^d + rho^(N-d))/(1 + rho^N),   k(s) = sum over m of exp(-((s + m L)/l)^2), scaled to k(0) = 1,
 * so the covariance of all samples is a block-circulant matrix C. Its eigenvalues are the products of
 *   Lambda(p) = (1 - rho^2)/(1 - 2 rho cos(2 pi p/N) + rho^2) (1 - rho^N)/(1 + rho^N),
 *   Mu(q) ~ sum over aliases a of exp(-(pi l (q + a M)/L)^2), M samples a yarn, scaled to the sum M,
 * none of them negative. White noise, transformed, times their roots and transformed back is C^(1/2) of it: a sample of exactly
 * this covariance (circulant embedding: C. R. Dietrich and G. N. Newsam, SIAM J. Sci. Comput. 18 (1997) 1088). Samples lie l/16
 * apart or closer; between them the path is a cubic, which is off by less than 1e-5 sigma (tests/fabric/test_patch.c).
 *
 * Which values: no scatter of glass cloth is published, as far as is known here. Of carbon twill it is known that paths are normal,
 * that neighbours are highly correlated, and that correlation along the yarn is gone after 20 to 100 mm; that widths vary by 2 to
 * 3 %; and that weft wanders more than warp (A. A. Skordos and M. P. F. Sutcliffe, Compos. Sci. Technol. 68 (2008) 283).
 *
 * Bunching draws warp ends together, in pairs or in threes: within a group they are bunching px nearer to each other, its middle stays.
 * Bow bends the fill to a parabola of depth bow W over the panel's width W, hook to half of one, hook W deep, over its last
 * quarter; x = 0 is the panel's left edge. They are not periodic over the patch.
 *
 * A wider yarn is as much flatter, so that its glass and its packing stay. In a column the nearer yarn of each system counts, near
 * by |2v/a|. Undulation follows the yarns as they lie: a yarn's height is a cosine in the phase of the other system, which goes by
 * one from axis to axis.
 *
 * A patch may also be laid of paths that were measured (paths.c): a yarn's samples are then where it crosses the others. It is not
 * periodic: beyond its yarns it goes on evenly, each end as it ends. No trace is judged there: ww_patch_room.
 */
#include "fabric/patch.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/random.h"
#include "core/transform.h"
#include "fabric/style.h"

#define SAMPLES_PER_LENGTH 16 /* in wander_length */
#define LEAST_SAMPLES 8
#define MOST_BYTES 2e9
#define MOST_SAMPLES 1e15 /* that a count can tell */
#define DEEPEST 0.05      /* overlap of neighbours, a share of the pitch, on average */
#define ALIKE 0.02        /* pitch of measured paths to that of their style */
#define MOST_WIDER 0.3

struct yarns {
    size_t count, samples;
    bool ends;                /* paths as measured; else periodic */
    double pitch, side, step; /* side: along the yarns */
    double from;              /* along, of the first sample */
    double bunching;          /* [pitch] that yarns of a group are nearer by */
    size_t group;             /* 1 without */
    bool widths_vary;
    double *path, *wider; /* [yarn][sample] off the perfect axis [m]; a share */
    struct ww_patch_fit fit;
};

struct ww_patch {
    struct ww_style style;
    struct ww_scatter scatter;
    struct yarns of[WW_SYSTEMS];
};

bool ww_scatter_is_none(const struct ww_scatter *scatter)
{
    bool none = scatter->bunching == 0 && scatter->bow == 0 && scatter->hook == 0;
    for (int s = 0; s < WW_SYSTEMS; s++)
        none = none && scatter->yarn[s].wander == 0 && scatter->yarn[s].width_variation == 0;
    return none;
}

/* --- drawing --------------------------------------------------------------------------------------------------- */

/* Mu(q), unscaled. */
static double along_spectrum(double q, double samples, double length, double side)
{
    double sum = 0;
    for (int a = -1; a <= 1; a++) {
        double x = WW_PI * length * (q + a * samples) / side;
        sum += exp(-x * x);
    }
    return sum;
}

/* Lambda(p). */
static double across_spectrum(size_t p, size_t count, double together)
{
    double n = (double)count, far = pow(together, n);
    if (together >= 1)
        return p == 0 ? n : 0;
    return (1 - together * together) / (1 - 2 * together * cos(2 * WW_PI * (double)p / n) + together * together) *
           (1 - far) / (1 + far);
}

/* A field value[yarn][sample] of variance 1 with these correlations. */
static enum ww_status draw_field(const struct yarns *yarns, double length, double together, struct ww_random random,
                                 double *value, struct ww_error *error)
{
    size_t half = yarns->samples / 2 + 1, count = yarns->count;
    double _Complex *spectrum = malloc(count * half * sizeof *spectrum);
    double *root = malloc(half * sizeof *root), sum = 0, samples = (double)yarns->samples;
    enum ww_status status = WW_OK;
    if (!spectrum || !root) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a patch of %zu yarns", count);
        goto done;
    }
    for (size_t i = 0; i < count * yarns->samples; i++)
        value[i] = ww_random_normal(&random);
    status = ww_transform_forward(value, yarns->samples, count, spectrum, error);
    if (status)
        goto done;
    for (size_t q = 0; q < half; q++) {
        root[q] = along_spectrum((double)q, samples, length, yarns->side);
        sum += (q == 0 || 2 * q == yarns->samples ? 1 : 2) * root[q];
    }
    for (size_t q = 0; q < half; q++)
        root[q] = sqrt(root[q] * samples / sum);
    for (size_t p = 0; p < count; p++) {
        double across = sqrt(across_spectrum(p, count, together));
        for (size_t q = 0; q < half; q++)
            spectrum[p * half + q] *= across * root[q];
    }
    status = ww_transform_inverse(spectrum, yarns->samples, count, value, error);
done:
    free(spectrum);
    free(root);
    return status;
}

/* How far bunching moves yarn i. */
static double bunched(const struct yarns *yarns, size_t i)
{
    return yarns->bunching * yarns->pitch * (0.5 * (double)(yarns->group - 1) - (double)(i % yarns->group));
}

static enum ww_status draw_yarns(struct yarns *yarns, const struct ww_yarn_scatter *scatter, struct ww_random path,
                                 struct ww_random wider, struct ww_error *error)
{
    enum ww_status status = WW_OK;
    size_t all = yarns->count * yarns->samples;
    yarns->path = calloc(all, sizeof *yarns->path);
    yarns->wider = calloc(all, sizeof *yarns->wider);
    if (!yarns->path || !yarns->wider)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a patch of %zu yarns", yarns->count);
    yarns->widths_vary = scatter->width_variation > 0;
    if (scatter->wander > 0)
        status = draw_field(yarns, scatter->wander_length, scatter->together, path, yarns->path, error);
    if (!status && scatter->width_variation > 0)
        status = draw_field(yarns, scatter->wander_length, 0, wider, yarns->wider, error);
    for (size_t i = 0; i < all && !status; i++) {
        yarns->path[i] = scatter->wander * yarns->path[i] + bunched(yarns, i / yarns->samples);
        yarns->wider[i] *= scatter->width_variation;
    }
    return status;
}

/* --- do they fit? ---------------------------------------------------------------------------------------------- */

/* Returns the least distance between axes of neighbours. */
static double judge_fit(struct yarns *yarns, double width, double wander)
{
    double nearest = HUGE_VAL, deep = 0, scale = HUGE_VAL;
    size_t overlaps = 0, all = yarns->count * yarns->samples, pairs = yarns->ends ? all - yarns->samples : all;
    for (size_t i = 0; i < pairs; i++) {
        size_t next = (i + yarns->samples) % all;
        double planned = yarns->pitch + bunched(yarns, next / yarns->samples) - bunched(yarns, i / yarns->samples);
        double apart = yarns->pitch + yarns->path[next] - yarns->path[i];
        double room = 0.5 * width * (2 + yarns->wider[i] + yarns->wider[next]);
        double nearer = planned - apart, without = planned - room; /* by wander; gap without it */
        nearest = fmin(nearest, apart);
        overlaps += apart < room;
        deep += fmax(room - apart, 0);
        if (nearer > 0)
            scale = fmin(scale, fmax(without, 0) / nearer);
    }
    yarns->fit = (struct ww_patch_fit){.overlap = (double)overlaps / (double)pairs,
                                       .deep = deep / (double)pairs / yarns->pitch,
                                       .largest_wander = isfinite(scale) ? wander * scale : wander};
    return nearest;
}

static enum ww_status check_fit(struct ww_patch *patch, struct ww_error *error)
{
    for (int s = 0; s < WW_SYSTEMS; s++) {
        struct yarns *yarns = &patch->of[s];
        const struct ww_yarn *yarn = s == WW_WARP ? &patch->style.warp : &patch->style.fill;
        double nearest = judge_fit(yarns, yarn->width.value, patch->scatter.yarn[s].wander);
        bool crossed = !(nearest > WW_PAIR_LEAST * yarns->pitch);
        if (!crossed && yarns->fit.deep <= DEEPEST)
            continue;
        if (yarns->ends)
            return ww_error_set(
                error, WW_UNPHYSICAL, NULL, 0,
                "style %s: %s yarns, %.0f um wide, laid as measured overlap with their neighbours on %.3g "
                "%% of their length; is it the style that was measured?",
                patch->style.name, s == WW_WARP ? "warp" : "fill", 1e6 * yarn->width.value, 100 * yarns->fit.overlap);
        return ww_error_set(
            error, WW_UNPHYSICAL, NULL, 0,
            "style %s: %s yarns, %.0f um wide at a pitch of %.0f um, overlap with their neighbours on %.3g %% of "
            "their length%s; a wander of up to %.2g um fits beside each other, or give a larger 'together'%s",
            patch->style.name, s == WW_WARP ? "warp" : "fill", 1e6 * yarn->width.value, 1e6 * yarns->pitch,
            100 * yarns->fit.overlap, crossed ? " and change places" : "", 1e6 * yarns->fit.largest_wander,
            yarns->bunching > 0 ? " or a smaller bunching" : "");
    }
    return WW_OK;
}

/* --- a patch --------------------------------------------------------------------------------------------------- */

static bool is_share(double value, double most)
{
    return value >= 0 && value <= most;
}

static enum ww_status check_scatter(const struct ww_scatter *scatter, struct ww_error *error)
{
    bool good = is_share(scatter->bunching, 0.5) &&
                (scatter->bunching_ends == 0 || scatter->bunching_ends == 2 || scatter->bunching_ends == 3) &&
                is_share(scatter->bow, 0.2) && is_share(scatter->hook, 0.2) &&
                ((scatter->bow == 0 && scatter->hook == 0) || (scatter->panel > 0 && isfinite(scatter->panel)));
    for (int s = 0; s < WW_SYSTEMS; s++) {
        const struct ww_yarn_scatter *y = &scatter->yarn[s];
        bool moves = y->wander > 0 || y->width_variation > 0;
        good = good && is_share(y->wander, 1e-2) && is_share(y->together, 1) && is_share(y->width_variation, 0.1) &&
               (!moves || (y->wander_length >= 1e-4 && y->wander_length <= 10));
    }
    return good ? WW_OK : ww_error_set(error, WW_INVALID, NULL, 0, "scatter of the yarns is out of range");
}

/* At least so many yarns, an even number, for even and odd ones differ; of threes a multiple of 6. */
static double whole_groups(double yarns, bool thirds)
{
    double group = thirds ? 6 : 2;
    return group * fmax(ceil(yarns / group - 1e-9), 1);
}

/* Sizes of both systems on a patch; returns the samples of its paths. *most: of the system that has more. */
static double choose_sizes(struct ww_patch *patch, double width, double length, double *most)
{
    const double pitch[WW_SYSTEMS] = {1 / patch->style.warp_count.value, 1 / patch->style.fill_count.value};
    const double across[WW_SYSTEMS] = {width, length};
    bool thirds = patch->scatter.bunching > 0 && patch->scatter.bunching_ends == 3;
    double all = 0;
    *most = 0;
    for (int s = 0; s < WW_SYSTEMS; s++) {
        const struct ww_yarn_scatter *scatter = &patch->scatter.yarn[s];
        struct yarns *yarns = &patch->of[s];
        yarns->pitch = pitch[s];
        double count = whole_groups(across[s] / pitch[s], s == WW_WARP && thirds);
        yarns->side = whole_groups(across[1 - s] / pitch[1 - s], s == WW_FILL && thirds) * pitch[1 - s];
        yarns->bunching = s == WW_WARP ? patch->scatter.bunching : 0;
        yarns->group = yarns->bunching > 0 ? (thirds ? 3 : 2) : 1;
        bool moves = scatter->wander > 0 || scatter->width_variation > 0;
        double samples = moves ? fmax(ceil(SAMPLES_PER_LENGTH * yarns->side / scatter->wander_length), LEAST_SAMPLES)
                               : LEAST_SAMPLES;
        all += count * samples;
        *most = fmax(*most, count * samples);
        yarns->count = (size_t)fmin(count, MOST_SAMPLES);
        yarns->samples = (size_t)fmin(samples, MOST_SAMPLES);
        yarns->step = yarns->side / samples;
    }
    return all;
}

/* Of each sample a place and a width are held; while one system is drawn, its spectrum and a copy of that. */
static double bytes_of(double samples, double most, double *drawing)
{
    *drawing = 2 * sizeof(double) * most;
    return 2 * sizeof(double) * samples;
}

double ww_patch_bytes(const struct ww_style *style, const struct ww_scatter *scatter, double width, double length,
                      double *drawing)
{
    struct ww_patch patch = {.style = *style, .scatter = *scatter};
    double most, samples = choose_sizes(&patch, width, length, &most);
    return bytes_of(samples, most, drawing);
}

double ww_patch_laid_bytes(const struct ww_yarn_paths *paths)
{
    double samples = (double)paths->of[WW_WARP].count * (double)paths->of[WW_FILL].count, none;
    return bytes_of(WW_SYSTEMS * samples, 0, &none);
}

static enum ww_status size_patch(struct ww_patch *patch, double width, double length, struct ww_error *error)
{
    double most, drawing, samples = choose_sizes(patch, width, length, &most);
    double bytes = bytes_of(samples, most, &drawing) + drawing;
    if (bytes <= MOST_BYTES)
        return WW_OK;
    return ww_error_set(error, WW_NO_MEMORY, NULL, 0,
                        "a patch of %.3g by %.3g mm would need %.2g GB (limit %.2g GB); give a smaller one, or a "
                        "longer wander_length",
                        1e3 * width, 1e3 * length, 1e-9 * bytes, 1e-9 * MOST_BYTES);
}

/* A patch whose yarns fit, or none. */
static enum ww_status hand_out(struct ww_patch **out, struct ww_patch *patch, enum ww_status status,
                               struct ww_error *error)
{
    if (!status)
        status = check_fit(patch, error);
    if (status)
        ww_patch_destroy(patch);
    else
        *out = patch;
    return status;
}

enum ww_status ww_patch_create(struct ww_patch **out, const struct ww_style *style, const struct ww_scatter *scatter,
                               double width, double length, uint64_t draw, struct ww_error *error)
{
    *out = NULL;
    struct ww_patch *patch = calloc(1, sizeof *patch);
    enum ww_status status = WW_OK;
    if (!patch)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a patch");
    patch->style = *style;
    patch->scatter = *scatter;
    status = ww_style_check(style, error);
    if (!status)
        status = check_scatter(scatter, error);
    if (!status && !(width > 0 && length > 0 && isfinite(width) && isfinite(length)))
        status = ww_error_set(error, WW_INVALID, NULL, 0, "a patch of %g by %g m", width, length);
    if (!status)
        status = size_patch(patch, width, length, error);
    for (uint64_t s = 0; s < WW_SYSTEMS && !status; s++)
        status = draw_yarns(&patch->of[s], &scatter->yarn[s], ww_random_of(scatter->seed, 4 * draw + s),
                            ww_random_of(scatter->seed, 4 * draw + 2 + s), error);
    return hand_out(out, patch, status, error);
}

/* --- of measured paths ----------------------------------------------------------------------------------------- */

/* Shares by which yarns are wider than the mean. */
static enum ww_status lay_widths(struct yarns *yarns, const struct ww_yarn_paths *paths, int s,
                                 struct ww_error *error)
{
    const double *width = paths->of[s].width;
    double sum = 0, known = 0;
    for (size_t i = 0; i < yarns->count; i++) {
        sum += width[i];
        known += width[i] > 0;
    }
    for (size_t i = 0; i < yarns->count; i++) {
        double wider = width[i] > 0 ? width[i] * known / sum - 1 : 0;
        if (!(fabs(wider) <= MOST_WIDER))
            return ww_error_set(
                error, WW_UNPHYSICAL, paths->file, 0,
                "[%s %zu] is %.0f um wide where the yarns have %.0f um on average; take its width out of "
                "the file, or measure the picture again",
                s == WW_WARP ? "warp" : "fill", i + 1, 1e6 * width[i], 1e6 * sum / known);
        yarns->widths_vary = yarns->widths_vary || wider != 0;
        for (size_t k = 0; k < yarns->samples; k++)
            yarns->wider[i * yarns->samples + k] = wider;
    }
    return WW_OK;
}

static enum ww_status lay_yarns(struct ww_patch *patch, const struct ww_yarn_paths *paths, int s,
                                struct ww_error *error)
{
    struct yarns *yarns = &patch->of[s];
    const struct ww_system_paths *of = &paths->of[s], *other = &paths->of[1 - s];
    const double own = 1 / (s == WW_WARP ? patch->style.warp_count.value : patch->style.fill_count.value);
    double pitch = ww_yarn_paths_pitch(paths, (enum ww_system)s);
    size_t all = of->count * other->count;
    if (!(fabs(pitch / own - 1) <= ALIKE))
        return ww_error_set(
            error, WW_INVALID, paths->file, 0,
            "its %s pitch, %.1f um, is not that of style %s, %.1f um; put the style that was measured into "
            "every ply, or leave paths out",
            s == WW_WARP ? "warp" : "fill", 1e6 * pitch, patch->style.name, 1e6 * own);
    *yarns = (struct yarns){.count = of->count,
                            .samples = other->count,
                            .ends = true,
                            .pitch = of->pitch,
                            .side = (double)other->count * other->pitch,
                            .step = other->pitch,
                            .from = 0.5 * other->pitch,
                            .group = 1,
                            .path = calloc(all, sizeof *yarns->path),
                            .wider = calloc(all, sizeof *yarns->wider)};
    if (!yarns->path || !yarns->wider)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a patch of %zu yarns", yarns->count);
    memcpy(yarns->path, of->off, all * sizeof *yarns->path);
    return lay_widths(yarns, paths, s, error);
}

enum ww_status ww_patch_lay(struct ww_patch **out, const struct ww_style *style, const struct ww_yarn_paths *paths,
                            struct ww_error *error)
{
    *out = NULL;
    struct ww_patch *patch = calloc(1, sizeof *patch);
    if (!patch)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a patch");
    patch->style = *style;
    enum ww_status status = ww_style_check(style, error);
    for (int s = 0; s < WW_SYSTEMS && !status; s++)
        status = lay_yarns(patch, paths, s, error);
    return hand_out(out, patch, status, error);
}

void ww_patch_destroy(struct ww_patch *patch)
{
    if (!patch)
        return;
    for (int s = 0; s < WW_SYSTEMS; s++) {
        free(patch->of[s].path);
        free(patch->of[s].wider);
    }
    free(patch);
}

const struct ww_style *ww_patch_style(const struct ww_patch *patch)
{
    return &patch->style;
}

void ww_patch_size(const struct ww_patch *patch, double *lx, double *ly)
{
    *lx = patch->of[WW_FILL].side;
    *ly = patch->of[WW_WARP].side;
}

bool ww_patch_repeats(const struct ww_patch *patch)
{
    return patch->scatter.bow == 0 && patch->scatter.hook == 0 && !patch->of[WW_WARP].ends;
}

bool ww_patch_room(const struct ww_patch *patch, double low[2], double high[2])
{
    enum { BESIDE = WW_AROUND / 2 };
    for (int s = 0; s < WW_SYSTEMS; s++) {
        const struct yarns *yarns = &patch->of[s];
        const double *first = yarns->path + (BESIDE - 1) * yarns->samples;
        const double *last = yarns->path + (yarns->count - BESIDE) * yarns->samples;
        if (!yarns->ends)
            return false;
        low[s] = -HUGE_VAL;
        high[s] = HUGE_VAL;
        for (size_t k = 0; k < yarns->samples; k++) {
            low[s] = fmax(low[s], (BESIDE - 0.5) * yarns->pitch + first[k]);
            high[s] = fmin(high[s], ((double)(yarns->count - BESIDE) + 0.5) * yarns->pitch + last[k]);
        }
    }
    return true;
}

struct ww_patch_fit ww_patch_fit(const struct ww_patch *patch, enum ww_system system)
{
    return patch->of[system].fit;
}

/* --- where a yarn is ------------------------------------------------------------------------------------------- */

/* The cubic through four samples around one place along, periodic. */
struct stencil {
    size_t at[4];
    double weight[4];
};

/* A yarn or sample as one of those that are kept. */
static size_t kept(long i, size_t count, bool ends)
{
    long all = (long)count;
    if (i >= 0 && i < all)
        return (size_t)i;
    if (ends)
        return i < 0 ? 0 : count - 1;
    long back = i % all;
    return (size_t)(back < 0 ? back + all : back);
}

static struct stencil stencil_at(const struct yarns *yarns, double s)
{
    double place = (s - yarns->from) / yarns->step, samples = (double)yarns->samples;
    place -= yarns->ends ? 0 : samples * floor(place / samples);
    double base = floor(place), t = place - base;
    struct stencil stencil = {.weight = {-t * (t - 1) * (t - 2) / 6, (t + 1) * (t - 1) * (t - 2) / 2,
                                         -(t + 1) * t * (t - 2) / 2, (t + 1) * t * (t - 1) / 6}};
    for (int n = 0; n < 4; n++)
        stencil.at[n] = kept((long)base + n - 1, yarns->samples, yarns->ends);
    return stencil;
}

static double value_of(const struct yarns *yarns, const double *value, size_t yarn, const struct stencil *stencil)
{
    const double *row = value + yarn * yarns->samples;
    return stencil->weight[0] * row[stencil->at[0]] + stencil->weight[1] * row[stencil->at[1]] +
           stencil->weight[2] * row[stencil->at[2]] + stencil->weight[3] * row[stencil->at[3]];
}

static double axis_at(const struct yarns *yarns, long i, const struct stencil *stencil)
{
    return ((double)i + 0.5) * yarns->pitch +
           value_of(yarns, yarns->path, kept(i, yarns->count, yarns->ends), stencil);
}

static double wider_at(const struct yarns *yarns, long i, const struct stencil *stencil)
{
    return yarns->widths_vary ? value_of(yarns, yarns->wider, kept(i, yarns->count, yarns->ends), stencil) : 0;
}

/* What bow and hook move the fill by at x. */
static double arc_at(const struct ww_scatter *scatter, double x)
{
    if (scatter->bow == 0 && scatter->hook == 0)
        return 0;
    double t = x / scatter->panel, beyond = fmax(4 * (t - 0.75), 0);
    return scatter->panel * (scatter->bow * 4 * t * (1 - t) + scatter->hook * beyond * beyond);
}

static double moved_at(const struct ww_patch *patch, enum ww_system system, double s)
{
    return system == WW_FILL ? arc_at(&patch->scatter, s) : 0;
}

double ww_patch_axis(const struct ww_patch *patch, enum ww_system system, long i, double s)
{
    struct stencil stencil = stencil_at(&patch->of[system], s);
    return axis_at(&patch->of[system], i, &stencil) + moved_at(patch, system, s);
}

double ww_patch_wider(const struct ww_patch *patch, enum ww_system system, long i, double s)
{
    struct stencil stencil = stencil_at(&patch->of[system], s);
    return wider_at(&patch->of[system], i, &stencil);
}

/* --- following the yarns ---------------------------------------------------------------------------------------- */

/* The cubic of stencil_at in powers of t. */
static void put_cubic(struct ww_follower *f, int column, const double *row, const size_t at[4])
{
    double before = row[at[0]], here = row[at[1]], next = row[at[2]], after = row[at[3]];
    f->cubic[0][column] = here;
    f->cubic[1][column] = next - before / 3 - here / 2 - after / 6;
    f->cubic[2][column] = (before + next) / 2 - here;
    f->cubic[3][column] = (after - before) / 6 + (here - next) / 2;
}

/* The yarns first .. first + WW_AROUND - 1 between the samples base and base + 1. */
static void seat(struct ww_follower *f, long first, double base)
{
    const struct yarns *yarns = &f->patch->of[f->system];
    size_t at[4], samples = yarns->samples;
    double back = yarns->ends ? base : base - (double)samples * floor(base / (double)samples);
    for (int n = 0; n < 4; n++)
        at[n] = kept((long)back + n - 1, samples, yarns->ends);
    f->around.first = first;
    f->base = base;
    for (int n = 0; n < WW_AROUND; n++) {
        size_t row = kept(first + n, yarns->count, yarns->ends) * samples;
        put_cubic(f, n, yarns->path + row, at);
        put_cubic(f, WW_AROUND + n, yarns->wider + row, at);
        f->cubic[0][n] += ((double)(first + n) + 0.5) * yarns->pitch;
    }
}

void ww_follower_init(struct ww_follower *follower, const struct ww_patch *patch, enum ww_system system)
{
    memset(follower, 0, sizeof *follower);
    follower->patch = patch;
    follower->system = system;
    seat(follower, 0, 0);
}

static void place_axes(struct ww_follower *f, double t, double arc)
{
    for (int n = 0; n < WW_AROUND; n++)
        f->around.axis[n] = arc + (f->cubic[0][n] + t * (f->cubic[1][n] + t * (f->cubic[2][n] + t * f->cubic[3][n])));
}

void ww_follower_move(struct ww_follower *f, double across, double along)
{
    enum { LOW = WW_AROUND / 2 - 1 };
    const struct yarns *yarns = &f->patch->of[f->system];
    double place = (along - yarns->from) / yarns->step, t = place - f->base,
           arc = moved_at(f->patch, f->system, along);
    struct ww_around *around = &f->around;
    bool far = fabs(across - around->axis[LOW]) > WW_AROUND * yarns->pitch;
    if (!(t >= 0 && t < 1) || far) {
        double base = floor(place);
        seat(f, far ? (long)floor((across - arc) / yarns->pitch - 0.5) - LOW : around->first, base);
        t = place - base;
    }
    place_axes(f, t, arc);
    while (around->axis[LOW] > across || around->axis[LOW + 1] <= across) {
        seat(f, around->first + (around->axis[LOW] > across ? -1 : 1), f->base);
        place_axes(f, t, arc);
    }
    around->phase = (double)(around->first + LOW) + 0.5 +
                    (across - around->axis[LOW]) / (around->axis[LOW + 1] - around->axis[LOW]);
    for (int n = WW_AROUND; n < 2 * WW_AROUND; n++)
        around->wider[n - WW_AROUND] =
            f->cubic[0][n] + t * (f->cubic[1][n] + t * (f->cubic[2][n] + t * f->cubic[3][n]));
}

/* --- cloth ----------------------------------------------------------------------------------------------------- */

/* The nearer of the two yarns beside a place, and how high the other system rides there. */
static struct ww_lie lie_at(const struct ww_patch *patch, enum ww_system system, double across, double along)
{
    const struct yarns *yarns = &patch->of[system];
    struct stencil stencil = stencil_at(yarns, along);
    double place = across - moved_at(patch, system, along);
    long i = (long)floor(place / yarns->pitch - 0.5);
    double low = axis_at(yarns, i, &stencil), high = axis_at(yarns, i + 1, &stencil);
    for (; low > place; i--) {
        high = low;
        low = axis_at(yarns, i - 1, &stencil);
    }
    for (; high <= place; i++) {
        low = high;
        high = axis_at(yarns, i + 2, &stencil);
    }
    double low_wider = wider_at(yarns, i, &stencil), high_wider = wider_at(yarns, i + 1, &stencil);
    bool near_high = (high - place) * (1 + low_wider) < (place - low) * (1 + high_wider);
    return (struct ww_lie){.beside = place - (near_high ? high : low),
                           .wider = near_high ? high_wider : low_wider,
                           .sign = (i + near_high) % 2 ? -1 : 1,
                           .undulation = sin(WW_PI * ((double)i + 0.5 + (place - low) / (high - low)))};
}

void ww_cloth_column(const struct ww_cloth *cloth, double x, double y, size_t nz, const double *edge, double *warp,
                     double *fill)
{
    if (!cloth->patch) {
        ww_style_column(cloth->style, x, y, nz, edge, warp, fill);
        return;
    }
    struct ww_lie warp_lie = lie_at(cloth->patch, WW_WARP, x, y), fill_lie = lie_at(cloth->patch, WW_FILL, y, x);
    ww_lies_column(cloth->style, &warp_lie, &fill_lie, nz, edge, warp, fill);
}

void ww_cloth_period(const struct ww_cloth *cloth, double *lx, double *ly)
{
    if (cloth->patch) {
        ww_patch_size(cloth->patch, lx, ly);
        return;
    }
    *lx = 2 / cloth->style->warp_count.value;
    *ly = 2 / cloth->style->fill_count.value;
}

unsigned ww_cloth_symmetries(const struct ww_cloth *cloth)
{
    return cloth->patch ? 0 : WW_HALF_CELL | WW_HALF_TURN | WW_MIRROR;
}
