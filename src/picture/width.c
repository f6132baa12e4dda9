/* picture/width.c - widths of yarns from profiles averaged along them.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A yarn shows its edges best over the gaps of the other family, against what lies beneath the cloth. Where the other family has no gaps to
 * be seen, it shows them where it lies on top, though there the yarn beneath may rise over its rim. In plain weave those crossings are
 * every other one, and which of the two sets it is, the picture has to tell: over the middle of a crossing the profile across
 * the yarn on top has edges, the one along it has none, so the set with the steeper profiles, of both families, is taken; where
 * neither is steeper all of it is averaged.
 *
 * A yarn's profile over one pitch is taken as a matt ellipse between two edges over an even level beside it, all blurred by a Gaussian:
 * edges and blur by the simplex of Nelder and Mead (Computer Journal 7 (1965) 308), levels by least squares at each trial. The ellipse
 * darkens towards its rim, where it faces away; blurred, a dark rim is what a narrower yarn looks like, and taken as a parabola widths
 * came out low by 1.5 %. How dark its flanks are tells how dark the rim is, much the same for any flat ellipse.
 *
 * What was followed is the phase of the yarns' line, and under light from aside that lies off their middle, in wide yarns by up to half
 * a pitch. So the middle is free, and the profile, over a pitch, repeats.
 */
#include "picture/picture.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { BINS = 64, LEVELS = 5, EVEN = 3, STRIPS = 24 };
/* Shapes of a profile: the yarn's level, its slope, the darkness of its flanks, and the levels beside it. */
enum { WITHIN, ASLANT, FLANKS, LEFT, RIGHT };
/* Where along a yarn: crossings of even and of odd index, gaps of the other family. */
enum { EVENS, ODDS, GAPS, SETS, BOTH };
static const double MIDDLE = 0.25;    /* of the other pitch, either side of a crossing's middle */
static const double GAP = 0.05;       /* either side of the middle between two yarns of the other family */
static const double STEEPER = 0.05;   /* share by which one set of crossings has to win */
static const double EDGES_TELL = 0.3; /* of the variance that a parabola without edges leaves */
static const double FROM_FAMILY =
    0.3;                           /* a yarn's width may differ by this share from the mean, else it is not known */
static const double HEIGHT = 0.13; /* of a yarn to its width */
static const double RESOLVED =
    4.0; /* blurs to a gap: renderings' widths are within 4 % beyond, mostly 5 % below, to one blur */
static const double COVERED = 0.1;  /* of the width: renderings' are 4 to 15 % low where only tops are seen */
static const double ALIKE = 0.3;    /* bins' worth: both levels beside a yarn are near each other */
static const double CLOSE = 1e-6;   /* of the pitch: edges have settled */
static const double OF_BLUR = 0.25; /* of its blur: how well an edge's place is known; a choice, no source */

struct profile {
    double sum[BINS], count[BINS];
};

/* left and right edge, and blur, as shares of the pitch from the yarn's path */
struct edges {
    double left, right, blur, rest; /* rest: sum of squares that is left */
    double low, high;               /* levels beside the yarn, the lighter one, and within it, its mean */
    bool ground_known;              /* then `ground` is the level beside it, and none is fitted */
    double ground;
};

/* Of one family; bins over one pitch about the yarn. */
struct family {
    const struct ww_level *level;
    const struct ww_follow *own, *other;
    const struct ww_trend *own_trend, *other_trend;
    struct profile (*row)[SETS]; /* [rows] */
    struct profile middle[2];    /* of all rows, near the middle of crossings */
    int set;                     /* where the edges are looked for */
    struct profile profile;      /* the mean there, and its edges */
    struct edges edges;
};

static void add_sample(struct profile *profile, size_t bin, double value)
{
    profile->sum[bin] += value;
    profile->count[bin] += 1.0;
}

static void add_profile(struct profile *to, const struct profile *from)
{
    for (size_t k = 0; k < BINS; k++) {
        to->sum[k] += from->sum[k];
        to->count[k] += from->count[k];
    }
}

/* --- profiles ------------------------------------------------------------------------------------------------------------ */

/* Index of the other family's yarn, a real number, at a point: by trend, and what is left of the nearest position. */
static double other_index(const struct family *f, double x, double y)
{
    const struct ww_follow *o = f->other;
    double i = ww_trend_index(f->other_trend, o, x, y), s = x * o->along[0] + y * o->along[1];
    long row = lround(i) + (long)o->middle, step = lround((s - o->first) / o->step);
    if (row < 0 || step < 0 || row >= (long)o->rows || step >= (long)o->steps)
        return i;
    double at = o->path[(size_t)row * o->steps + (size_t)step];
    double left =
        at - ww_trend_at(f->other_trend, (double)(row - (long)o->middle), o->first + (double)step * o->step);
    return isnan(left) ? i : i - left / o->pitch;
}

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
    double crossing = other_index(f, x, y);
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
    size_t lines = (size_t)ceil((double)own->steps * own->step);
    for (size_t row = 0; row < own->rows; row++)
        for (size_t i = 0; i < lines; i++)
            add_line(f, row, own->first + (double)i + 0.5 - 0.5 * own->step);
}

/* Mean square slope. */
static double steepness(const struct profile *p)
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

/* --- edges -------------------------------------------------------------------------------------------------------------- */

static double step_at(double u, double blur)
{
    return 0.5 * erfc(-u / (blur * sqrt(2.0)));
}

/* A matt ellipse of that height to its width under light from above and aside, q = sin(phi) across it from -1 to 1, in strips even
 * in phi: how much darker it is for facing away from above, 1 - n_z, and its slope n_x to the side. */
struct round {
    double at[STRIPS + 1], dark[STRIPS], aside[STRIPS], mean_dark;
};

static struct round round_yarn(void)
{
    struct round round = {.at = {-1.0}};
    for (int k = 0; k < STRIPS; k++) {
        double phi = WW_PI * (((double)k + 0.5) / STRIPS - 0.5), q = HEIGHT * sin(phi), up = cos(phi);
        round.at[k + 1] = sin(WW_PI * ((double)(k + 1) / STRIPS - 0.5));
        round.dark[k] = 1.0 - up / hypot(up, q);
        round.aside[k] = q / hypot(up, q);
        round.mean_dark += 0.5 * round.dark[k] * (round.at[k + 1] - round.at[k]);
    }
    return round;
}

/* What a yarn with its middle at 0 gives at u, blurred: level, slope, darkness of its flanks. */
static void add_blurred(const struct round *round, double half, double blur, double u, double shape[3])
{
    const double reach = 5.0;
    if (fabs(u) > half + reach * blur)
        return;
    double before = step_at(u + half, blur);
    for (int k = 0; k < STRIPS; k++) {
        double behind = step_at(u - half * round->at[k + 1], blur), strip = before - behind;
        shape[0] += strip;
        shape[1] += strip * round->aside[k];
        shape[2] += strip * round->dark[k];
        before = behind;
    }
}

/* Beside, left and right; within: level, slope, darkness of the flanks. The neighbours' rims, a pitch away, are blurred into the gap,
 * too. */
static void shapes_at(const struct edges *e, const struct round *round, double u, double shape[LEVELS])
{
    double within[3] = {0.0}, half = 0.5 * (e->right - e->left),
           from = remainder(u - 0.5 * (e->left + e->right), 1.0);
    for (int yarn = -1; yarn <= 1; yarn++)
        add_blurred(round, half, e->blur, from - yarn, within);
    double beside = 1.0 - within[0];
    shape[WITHIN] = within[0];
    shape[ASLANT] = within[1];
    shape[FLANKS] = within[2];
    shape[LEFT] = from < 0.0 ? beside : 0.0;
    shape[RIGHT] = from < 0.0 ? 0.0 : beside;
}

/* Sum of squares that the best levels of `count` shapes leave. shapes: [BINS][LEVELS]. */
static double least_rest(const struct profile *p, double (*shape)[LEVELS], size_t count, double b[LEVELS])
{
    double a[LEVELS * LEVELS] = {0.0}, right[LEVELS], squares = 0.0, mean = 0.0;
    memset(b, 0, LEVELS * sizeof *b);
    for (size_t k = 0; k < BINS; k++)
        mean += p->sum[k] / p->count[k] / BINS;
    for (size_t k = 0; k < BINS; k++) {
        double value = p->sum[k] / p->count[k] - mean;
        squares += value * value;
        for (size_t i = 0; i < count; i++) {
            b[i] += shape[k][i] * value;
            for (size_t j = 0; j < count; j++)
                a[i * count + j] += shape[k][i] * shape[k][j];
        }
    }
    if (count > RIGHT) {
        a[LEFT * count + LEFT] += ALIKE;
        a[RIGHT * count + RIGHT] += ALIKE;
        a[LEFT * count + RIGHT] -= ALIKE;
        a[RIGHT * count + LEFT] -= ALIKE;
    }
    memcpy(right, b, sizeof right);
    if (!ww_normal_solve(count, a, b, NULL))
        return HUGE_VAL;
    for (size_t i = 0; i < count; i++)
        squares -= b[i] * right[i];
    return fmax(0.0, squares);
}

static double rest_of(const struct profile *p, struct edges *e)
{
    const double aside = 0.75, widest_yarn = 1.0 - 2.0 / BINS, narrowest = 0.05, sharpest = 0.25 / BINS, widest = 0.2;
    double shape[BINS][LEVELS], level[LEVELS];
    if (!(fabs(e->left + e->right) < 2.0 * aside && e->right - e->left < widest_yarn &&
          e->right - e->left > narrowest && e->blur > sharpest && e->blur < widest))
        return HUGE_VAL;
    const struct round round = round_yarn();
    for (size_t k = 0; k < BINS; k++)
        shapes_at(e, &round, ((double)k + 0.5) / BINS - 0.5, shape[k]);
    double rest = least_rest(p, shape, LEVELS, level);
    e->low = fmax(level[LEFT], level[RIGHT]);
    e->high = level[WITHIN] + level[FLANKS] * round.mean_dark;
    return rest;
}

static double rest_without_edges(const struct profile *p)
{
    double shape[BINS][LEVELS], level[LEVELS];
    for (size_t k = 0; k < BINS; k++) {
        double u = ((double)k + 0.5) / BINS - 0.5;
        shape[k][0] = 1.0;
        shape[k][1] = u;
        shape[k][2] = u * u;
    }
    return least_rest(p, shape, EVEN, level);
}

static struct edges between(const struct profile *p, const struct edges *from, const struct edges *to, double share)
{
    struct edges e = *from;
    e.left += share * (to->left - from->left);
    e.right += share * (to->right - from->right);
    e.blur += share * (to->blur - from->blur);
    e.rest = rest_of(p, &e);
    return e;
}

/* The worst of n + 1 to the end, the best to the front. */
static void order(struct edges *corner, size_t n)
{
    for (size_t i = 1; i <= n; i++)
        for (size_t k = i; k > 0 && corner[k].rest < corner[k - 1].rest; k--) {
            struct edges held = corner[k];
            corner[k] = corner[k - 1];
            corner[k - 1] = held;
        }
}

/* The largest distance of a corner from the best. */
static double size_of(const struct edges *corner, size_t n)
{
    double most = 0.0;
    for (size_t i = 1; i <= n; i++) {
        double edges = fmax(fabs(corner[i].left - corner[0].left), fabs(corner[i].right - corner[0].right));
        most = fmax(most, fmax(edges, fabs(corner[i].blur - corner[0].blur)));
    }
    return most;
}

/* n = 3: edges and blur; 2: the edges alone. */
static struct edges fit_edges(const struct profile *p, struct edges start, size_t n)
{
    enum { TRIALS = 200 };
    struct edges corner[4] = {start, start, start, start};
    corner[1].left -= 0.02;
    corner[2].right += 0.02;
    corner[3].blur *= 1.3;
    for (size_t i = 0; i <= n; i++)
        corner[i].rest = rest_of(p, &corner[i]);
    for (int trial = 0; trial < TRIALS; trial++) {
        order(corner, n);
        if (size_of(corner, n) < CLOSE)
            break;
        struct edges *worst = &corner[n], middle = {.rest = 0.0};
        for (size_t i = 0; i < n; i++) {
            middle.left += corner[i].left / (double)n;
            middle.right += corner[i].right / (double)n;
            middle.blur += corner[i].blur / (double)n;
        }
        struct edges next = between(p, worst, &middle, 2.0);
        if (next.rest < corner[0].rest) {
            struct edges further = between(p, worst, &middle, 3.0);
            next = further.rest < next.rest ? further : next;
        } else if (!(next.rest < corner[n - 1].rest)) {
            next = between(p, worst, &middle, next.rest < worst->rest ? 1.5 : 0.5);
        }
        if (next.rest < worst->rest)
            *worst = next;
        else
            for (size_t i = 1; i <= n; i++)
                corner[i] = between(p, &corner[0], &corner[i], 0.5);
    }
    order(corner, n);
    return corner[0];
}

static bool is_full(const struct profile *p)
{
    for (size_t k = 0; k < BINS; k++)
        if (!(p->count[k] > 0.0))
            return false;
    return true;
}

/* The edges of the family's mean profile; rest HUGE_VAL: none are seen. From the best of a grid of starts, a few fits. */
static struct edges find_edges(const struct profile *p)
{
    enum { HALVES = 5, MIDDLES = 3, BLURS = 2, STARTS = HALVES * MIDDLES * BLURS, FITS = 6 };
    static const double half[HALVES] = {0.15, 0.25, 0.33, 0.40, 0.45}, middle[MIDDLES] = {-0.33, 0.0, 0.33},
                        blur[BLURS] = {0.02, 0.06};
    struct edges start[STARTS], best = {.rest = HUGE_VAL};
    if (!is_full(p))
        return best;
    for (size_t i = 0; i < STARTS; i++) {
        double at = middle[i % MIDDLES], wide = half[i / MIDDLES % HALVES];
        start[i] = (struct edges){.left = at - wide, .right = at + wide, .blur = blur[i / (MIDDLES * HALVES)]};
        start[i].rest = rest_of(p, &start[i]);
        if (!(start[i].high > start[i].low))
            start[i].rest = HUGE_VAL;
    }
    order(start, STARTS - 1);
    for (size_t i = 0; i < FITS; i++) {
        struct edges found = fit_edges(p, start[i], 3);
        best = found.high > found.low && found.rest < best.rest ? found : best;
    }
    if (!(best.rest < EDGES_TELL * rest_without_edges(p)))
        best.rest = HUGE_VAL;
    return best;
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
static struct profile profile_of(const struct family *f, size_t row, int set)
{
    struct profile profile = {{0.0}, {0.0}};
    for (int i = 0; i < SETS; i++)
        if (i == set || (set == BOTH && i != GAPS))
            add_profile(&profile, &f->row[row][i]);
    return profile;
}

static struct profile mean_of(const struct family *f, int set)
{
    struct profile mean = {{0.0}, {0.0}};
    for (size_t r = 0; r < f->own->rows; r++) {
        struct profile row = profile_of(f, r, set);
        add_profile(&mean, &row);
    }
    return mean;
}

/* The family's edges, over the other's gaps or else where it is on top. */
static void find_family(struct family *f, int top)
{
    f->set = GAPS;
    f->profile = mean_of(f, f->set);
    f->edges = find_edges(&f->profile);
    if (f->edges.rest < HUGE_VAL)
        return;
    f->set = top;
    f->profile = mean_of(f, f->set);
    f->edges = find_edges(&f->profile);
}

static double gap_of(const struct family *f)
{
    return (1.0 - f->edges.right + f->edges.left) * f->own_trend->c[1];
}

/* Both families are blurred alike, and the one with the wider gaps tells by how much: narrow gaps are as well darker as wider. */
static void share_blur(struct family f[2])
{
    double blur[2], gap[2];
    for (int i = 0; i < 2; i++) {
        if (!(f[i].edges.rest < HUGE_VAL))
            return;
        blur[i] = f[i].edges.blur * f[i].own_trend->c[1];
        gap[i] = gap_of(&f[i]);
    }
    int narrow = gap[0] < gap[1] ? 0 : 1;
    struct edges start = f[narrow].edges;
    start.blur = blur[1 - narrow] / f[narrow].own_trend->c[1];
    struct edges found = fit_edges(&f[narrow].profile, start, 2);
    if (found.rest < HUGE_VAL)
        f[narrow].edges = found;
}

/* Yarns differ, edges are blurred, narrow gaps may as well be darker and narrower, and on top of a crossing the other yarn rises over the rim. */
static double error_of(const struct ww_width *width, const struct family *f, double narrowest, size_t known)
{
    double of_yarns = width->scatter / sqrt((double)known), of_edges = sqrt(2.0) * OF_BLUR * width->blur;
    double of_gap = narrowest < RESOLVED * width->blur ? width->gap / sqrt(12.0) : 0.0;
    double of_rim = f->set == GAPS ? 0.0 : COVERED * width->width;
    return sqrt(of_yarns * of_yarns + of_edges * of_edges + of_gap * of_gap + of_rim * of_rim);
}

/* narrowest: gap of both families. */
static void measure_family(struct ww_width *width, const struct family *f, double narrowest)
{
    double pitch = f->own_trend->c[1];
    size_t rows = f->own->rows, known;
    const struct edges mean = f->edges;
    width->seen = mean.rest < HUGE_VAL;
    for (size_t r = 0; r < rows; r++) {
        struct profile own = profile_of(f, r, f->set);
        width->of_row[r] = NAN;
        if (!width->seen || !is_full(&own))
            continue;
        struct edges edges = fit_edges(&own, mean, 2);
        double share = (edges.right - edges.left) / (mean.right - mean.left);
        if (edges.rest < HUGE_VAL && fabs(share - 1.0) <= FROM_FAMILY)
            width->of_row[r] = (edges.right - edges.left) * pitch;
    }
    spread_of(width->of_row, rows, &width->width, &width->scatter, &known);
    width->seen = width->seen && known > 1;
    if (!width->seen)
        return;
    width->blur = mean.blur * pitch;
    width->centre = 0.5 * (mean.left + mean.right) * pitch;
    measure_gaps(width, f);
    width->error = error_of(width, f, narrowest, known);
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
        measure_family(&width[i], &f[i], fmin(gap_of(&f[0]), gap_of(&f[1])));
    for (int i = 0; i < 2 && f; i++)
        free(f[i].row);
    free(f);
    return status ? ww_error_set(error, status, level->file, 0, "no memory to measure the widths") : WW_OK;
}
