/* picture/width.c - widths of yarns from profiles averaged along them.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A yarn shows its edges best over the gaps of the other family, against what lies beneath the cloth. Where the other family has no gaps to
 * be seen, it shows them where it lies on top, though there the yarn beneath may rise over its rim. In plain weave those crossings are
 * every other one, and which of the two sets it is, the picture has to tell: over the middle of a crossing the profile across
 * the yarn on top has edges, the one along it has none, so the set with the steeper profiles, of both families, is taken; where
 * neither is steeper all of it is averaged.
 */
#include "picture/edges.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { BINS = WW_PROFILE_BINS };
/* Where along a yarn: crossings of even and of odd index, gaps of the other family. */
enum { EVENS, ODDS, GAPS, SETS, BOTH };
static const double MIDDLE = 0.25;  /* of the other pitch, either side of a crossing's middle */
static const double GAP = 0.05;     /* either side of the middle between two yarns of the other family */
static const double STEEPER = 0.05; /* share by which one set of crossings has to win */
static const double FROM_FAMILY =
    0.3;                           /* a yarn's width may differ by this share from the mean, else it is not known */
static const double COVERED = 0.1; /* of the width: renderings' are 4 to 15 % low where only tops are seen */
static const double KNOWN = 0.05;  /* of the width: a standard uncertainty above is no measure of it */

/* Of one family; bins over one pitch about the yarn. */
struct family {
    const struct ww_level *level;
    const struct ww_follow *own, *other;
    const struct ww_trend *own_trend, *other_trend;
    struct ww_profile (*row)[SETS]; /* [rows] */
    struct ww_profile middle[2];    /* of all rows, near the middle of crossings */
    int set;                        /* where the edges are looked for */
    struct ww_profile profile;      /* the mean there, and its edges */
    struct ww_edges edges;
};

static void add_sample(struct ww_profile *profile, size_t bin, double value)
{
    profile->sum[bin] += value;
    profile->count[bin] += 1.0;
}

static void add_profile(struct ww_profile *to, const struct ww_profile *from)
{
    for (size_t k = 0; k < BINS; k++) {
        to->sum[k] += from->sum[k];
        to->count[k] += from->count[k];
    }
}

/* --- profiles ------------------------------------------------------------------------------------------------------------ */

/* Position of a row between its steps; NaN where it is not known. */
static double path_at(const struct ww_follow *own, size_t row, double at)
{
    double step = floor(at), share = at - step;
    if (step < 0.0)
        return own->path[row * own->steps];
    if (step + 1.0 >= (double)own->steps)
        return own->path[row * own->steps + own->steps - 1];
    const double *path = &own->path[row * own->steps + (size_t)step];
    if (isnan(path[0]) || isnan(path[1]))
        return isnan(path[0]) == (share < 0.5) ? NAN : path[share < 0.5 ? 0 : 1];
    return (1.0 - share) * path[0] + share * path[1];
}

/* One line across a yarn at a distance along it. */
static void add_line(struct family *f, size_t row, double along)
{
    const struct ww_follow *own = f->own;
    const double *c = f->own_trend->c;
    double across = path_at(own, row, (along - own->first) / own->step), value[BINS];
    double i = (double)row - (double)own->middle, pitch = c[1] + 2.0 * c[3] * i + c[4] * along;
    if (isnan(across))
        return;
    for (size_t k = 0; k < BINS; k++) {
        double u = across + (((double)k + 0.5) / BINS - 0.5) * pitch;
        if (!ww_level_at(f->level, u * own->across[0] + along * own->along[0],
                         u * own->across[1] + along * own->along[1], &value[k]))
            return;
    }
    double x = across * own->across[0] + along * own->along[0], y = across * own->across[1] + along * own->along[1];
    double crossing = ww_trend_yarn(f->other_trend, f->other, x, y);
    long nearest = lround(crossing);
    size_t odd = (size_t)((nearest + (long)row - (long)own->middle) & 1);
    for (size_t k = 0; k < BINS; k++) {
        add_sample(&f->row[row][odd], k, value[k]);
        if (fabs(crossing - (double)nearest) > 0.5 - GAP)
            add_sample(&f->row[row][GAPS], k, value[k]);
        if (fabs(crossing - (double)nearest) < MIDDLE)
            add_sample(&f->middle[odd], k, value[k]);
    }
}

static void add_lines(struct family *f)
{
    const struct ww_follow *own = f->own;
    size_t lines = (size_t)ceil((double)(own->steps - 1) * own->step + own->window);
    for (size_t row = 0; row < own->rows; row++)
        for (size_t i = 0; i < lines; i++)
            add_line(f, row, own->first + (double)i + 0.5 - 0.5 * own->window);
}

/* Mean square slope. */
static double steepness(const struct ww_profile *p)
{
    double sum = 0.0;
    for (size_t k = 1; k < BINS; k++) {
        double d = p->sum[k] / fmax(p->count[k], 1.0) - p->sum[k - 1] / fmax(p->count[k - 1], 1.0);
        sum += d * d;
    }
    return sum;
}

/* Family 0 is on top at crossings of which set (family 1 at the others); BOTH: the picture does not tell. */
static int find_top(const struct family f[2])
{
    double even = steepness(&f[0].middle[0]) + steepness(&f[1].middle[1]);
    double odd = steepness(&f[0].middle[1]) + steepness(&f[1].middle[0]);
    if (fabs(even - odd) <= STEEPER * (even + odd))
        return BOTH;
    return even > odd ? EVENS : ODDS;
}

/* --- the figures --------------------------------------------------------------------------------------------------------- */

static void spread_of(const double *value, size_t count, double *mean, double *scatter, size_t *known)
{
    double sum = 0.0, squares = 0.0;
    *known = 0;
    for (size_t i = 0; i < count; i++)
        if (!isnan(value[i])) {
            sum += value[i];
            ++*known;
        }
    *mean = *known > 0 ? sum / (double)*known : NAN;
    for (size_t i = 0; i < count; i++)
        if (!isnan(value[i]))
            squares += (value[i] - *mean) * (value[i] - *mean);
    *scatter = *known > 1 ? sqrt(squares / (double)(*known - 1)) : 0.0;
}

/* Mean distance of neighbouring rows, in pitches of their place. */
static double distance_of(const struct family *f, size_t row)
{
    const struct ww_follow *own = f->own;
    const double *c = f->own_trend->c;
    double sum = 0.0, count = 0.0, i = (double)row + 0.5 - (double)own->middle;
    for (size_t j = 0; j < own->steps; j++) {
        double along = own->first + (double)j * own->step;
        double d = own->path[(row + 1) * own->steps + j] - own->path[row * own->steps + j];
        if (isnan(d))
            continue;
        sum += d / (c[1] + 2.0 * c[3] * i + c[4] * along);
        count += 1.0;
    }
    return count > 0.0 ? sum / count : NAN;
}

static void measure_gaps(struct ww_width *width, const struct family *f)
{
    const double *of = width->of_row;
    double mean = 0.0, squares = 0.0, count = 0.0;
    for (int pass = 0; pass < 2; pass++) {
        squares = count = 0.0;
        double sum = 0.0;
        for (size_t r = 0; r + 1 < f->own->rows; r++) {
            double gap = distance_of(f, r) * f->own_trend->c[1] - 0.5 * (of[r] + of[r + 1]);
            if (isnan(gap))
                continue;
            sum += gap;
            squares += (gap - mean) * (gap - mean);
            count += 1.0;
        }
        mean = count > 0.0 ? sum / count : 0.0;
    }
    width->gap = f->own_trend->c[1] - width->width;
    width->gap_scatter = count > 1.0 ? sqrt(squares / (count - 1.0)) : 0.0;
}

/* A row where the edges are looked for. */
static struct ww_profile profile_of(const struct family *f, size_t row, int set)
{
    struct ww_profile profile = {.unit = 0.0};
    for (int i = 0; i < SETS; i++)
        if (i == set || (set == BOTH && i != GAPS))
            add_profile(&profile, &f->row[row][i]);
    return profile;
}

static struct ww_profile mean_of(const struct family *f, int set)
{
    struct ww_profile mean = {.unit = 0.0};
    for (size_t r = 0; r < f->own->rows; r++) {
        struct ww_profile row = profile_of(f, r, set);
        add_profile(&mean, &row);
    }
    return mean;
}

/* The family's edges, over the other's gaps or else where it is on top. */
static void find_family(struct family *f, int top)
{
    f->set = GAPS;
    f->profile = mean_of(f, f->set);
    f->edges = ww_edges_find(&f->profile);
    if (f->edges.residual < HUGE_VAL)
        return;
    f->set = top;
    f->profile = mean_of(f, f->set);
    f->edges = ww_edges_find(&f->profile);
}

/* Both families are blurred alike. Each learns what the other tells of it by itself. */
static void share_blur(struct family f[2])
{
    struct ww_profile told[2] = {f[0].profile, f[1].profile};
    if (!(f[0].edges.residual < HUGE_VAL && f[1].edges.residual < HUGE_VAL))
        return;
    for (int i = 0; i < 2; i++)
        ww_edges_tell_blur(&f[i].profile, &f[i].edges, f[i].own_trend->c[1] / f[1 - i].own_trend->c[1], &told[1 - i]);
    for (int i = 0; i < 2; i++) {
        struct ww_edges found = ww_edges_find(&told[i]);
        if (!(found.residual < HUGE_VAL))
            continue;
        f[i].profile = told[i];
        f[i].edges = found;
    }
}

/* Yarns differ, edges are blurred, and on top of a crossing the other yarn rises over the rim. */
static double error_of(const struct ww_width *width, const struct family *f, size_t known)
{
    double of_yarns = width->scatter / sqrt((double)known);
    double of_edges = ww_edges_error(&f->profile, &f->edges) * f->own_trend->c[1];
    double of_rim = f->set == GAPS ? 0.0 : COVERED * width->width;
    return sqrt(of_yarns * of_yarns + of_edges * of_edges + of_rim * of_rim);
}

static void measure_family(struct ww_width *width, const struct family *f)
{
    double pitch = f->own_trend->c[1], mean;
    size_t rows = f->own->rows, known;
    const struct ww_edges *edges = &f->edges;
    bool found = edges->residual < HUGE_VAL;
    for (size_t r = 0; r < rows; r++) {
        struct ww_profile own = profile_of(f, r, f->set);
        width->of_row[r] = NAN;
        if (!found || !ww_profile_is_full(&own))
            continue;
        struct ww_edges yarn = ww_edges_of_yarn(&own, edges);
        double share = (yarn.right - yarn.left) / (edges->right - edges->left);
        if (yarn.residual < HUGE_VAL && fabs(share - 1.0) <= FROM_FAMILY)
            width->of_row[r] = (yarn.right - yarn.left) * pitch;
    }
    spread_of(width->of_row, rows, &mean, &width->scatter, &known);
    if (!found || known < 2)
        return;
    width->width = (edges->right - edges->left) * pitch;
    width->blur = edges->blur * pitch;
    width->centre = 0.5 * (edges->left + edges->right) * pitch;
    width->error = error_of(width, f, known);
    width->seen = width->error <= KNOWN * width->width;
    measure_gaps(width, f);
}

enum ww_status ww_width_measure(struct ww_width width[2], const struct ww_level *level,
                                const struct ww_follow follow[2], const struct ww_trend trend[2],
                                struct ww_error *error)
{
    struct family *f = calloc(2, sizeof *f);
    enum ww_status status = f ? WW_OK : WW_NO_MEMORY;
    for (int i = 0; i < 2 && !status; i++) {
        f[i].level = level;
        f[i].own = &follow[i];
        f[i].other = &follow[1 - i];
        f[i].own_trend = &trend[i];
        f[i].other_trend = &trend[1 - i];
        f[i].row = calloc(follow[i].rows, sizeof *f[i].row);
        width[i] = (struct ww_width){.of_row = calloc(follow[i].rows, sizeof(double))};
        if (!f[i].row || !width[i].of_row)
            status = WW_NO_MEMORY;
        else
            add_lines(&f[i]);
    }
    int top = status ? BOTH : find_top(f);
    for (int i = 0; i < 2 && !status; i++)
        find_family(&f[i], top == BOTH ? BOTH : (top + i) % 2);
    if (!status)
        share_blur(f);
    for (int i = 0; i < 2 && !status; i++)
        measure_family(&width[i], &f[i]);
    for (int i = 0; i < 2 && f; i++)
        free(f[i].row);
    free(f);
    return status ? ww_error_set(error, status, level->file, 0, "no memory to measure the widths") : WW_OK;
}
