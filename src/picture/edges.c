/* picture/edges.c - the edges of a yarn in a profile across it, and how well they are known.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A yarn's profile over one pitch is taken as a matt ellipse between two edges over an even level beside it, all blurred by a Gaussian:
 * edges and blur by the simplex of Nelder and Mead (Computer Journal 7 (1965) 308), levels by least squares at each trial. The ellipse
 * darkens towards its rim, where it faces away; blurred, a dark rim is what a narrower yarn looks like, and taken as a parabola widths
 * came out low by 1.5 %. How dark its flanks are tells how dark the rim is, much the same for any flat ellipse.
 *
 * A gap that is hardly wider than blur may as well be darker and narrower, or the blur more. So a width is known as far as the best
 * profile of another one, with its own middle and blur, differs from the best of all by more than such profiles differ from true ones.
 * Both families are blurred alike: what one tells of the blur, and how well, the other has to be content with.
 */
#include "picture/edges.h"

#include <math.h>
#include <string.h>

enum { BINS = WW_PROFILE_BINS, LEVELS = 5, EVEN = 3, STRIPS = 24 };
/* Shapes of a profile: the yarn's level, its slope, the darkness of its flanks, and the levels beside it. */
enum { WITHIN, ASLANT, FLANKS, LEFT, RIGHT };
static const double EDGES_TELL = 0.3; /* of the variance that a parabola without edges leaves */
static const double HEIGHT = 0.13;    /* of a yarn to its width */
static const double ALIKE = 0.3;      /* bins' worth: both levels beside a yarn are near each other */
static const double CLOSE = 1e-5;     /* of the pitch: edges have settled */
static const double MODEL =
    0.0015; /* of the profile's range: how far true profiles are off ours, standard deviation */
static const double OF_RESIDUAL = 0.25; /* of the squares that the best leaves: noise that may move the edges */
static const double SAME_BLUR = 0.05;   /* of itself: how far both families' blurs differ, standard deviation */
static const double WIDEST = 0.995, NARROWEST = 0.05,
                    ASIDE = 0.2; /* of the pitch: yarns, and their middle off the path */
static const double BLUR_LEAST = 0.25 / BINS, BLUR_MOST = 0.2; /* of the pitch */

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
static void shapes_at(const struct ww_edges *e, const struct round *round, double u, double shape[LEVELS])
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
static double least_residual(const struct ww_profile *p, double (*shape)[LEVELS], size_t count, double b[LEVELS])
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
    if (!ww_normal_solve(count, a, b))
        return HUGE_VAL;
    for (size_t i = 0; i < count; i++)
        squares -= b[i] * right[i];
    return fmax(0.0, squares);
}

/* What a blur costs, in squares, by what the other family tells of it. */
static double cost_of_blur(const struct ww_profile *p, double blur)
{
    if (!(p->blur > 0.0))
        return 0.0;
    double off = log(blur / p->blur);
    off /= off > 0.0 ? p->blur_above : p->blur_below;
    return p->unit * off * off;
}

static double residual_of(const struct ww_profile *p, struct ww_edges *e)
{
    double shape[BINS][LEVELS], level[LEVELS], wide = e->right - e->left;
    if (!(fabs(e->left + e->right) < 2.0 * ASIDE && wide < WIDEST && wide > NARROWEST && e->blur > BLUR_LEAST &&
          e->blur < BLUR_MOST))
        return HUGE_VAL;
    const struct round round = round_yarn();
    for (size_t k = 0; k < BINS; k++)
        shapes_at(e, &round, ((double)k + 0.5) / BINS - 0.5, shape[k]);
    double residual = least_residual(p, shape, LEVELS, level);
    e->low = fmax(level[LEFT], level[RIGHT]);
    e->high = level[WITHIN] + level[FLANKS] * round.mean_dark;
    return residual + cost_of_blur(p, e->blur);
}

static double residual_without_edges(const struct ww_profile *p)
{
    double shape[BINS][LEVELS], level[LEVELS];
    for (size_t k = 0; k < BINS; k++) {
        double u = ((double)k + 0.5) / BINS - 0.5;
        shape[k][0] = 1.0;
        shape[k][1] = u;
        shape[k][2] = u * u;
    }
    return least_residual(p, shape, EVEN, level);
}

static struct ww_edges between(const struct ww_profile *p, const struct ww_edges *from, const struct ww_edges *to,
                               double share)
{
    struct ww_edges e = *from;
    e.left += share * (to->left - from->left);
    e.right += share * (to->right - from->right);
    e.blur += share * (to->blur - from->blur);
    e.residual = residual_of(p, &e);
    return e;
}

/* The worst of n + 1 to the end, the best to the front. */
static void order(struct ww_edges *corner, size_t n)
{
    for (size_t i = 1; i <= n; i++)
        for (size_t k = i; k > 0 && corner[k].residual < corner[k - 1].residual; k--) {
            struct ww_edges held = corner[k];
            corner[k] = corner[k - 1];
            corner[k - 1] = held;
        }
}

/* The largest distance of a corner from the best. */
static double size_of(const struct ww_edges *corner, size_t n)
{
    double most = 0.0;
    for (size_t i = 1; i <= n; i++) {
        double edges = fmax(fabs(corner[i].left - corner[0].left), fabs(corner[i].right - corner[0].right));
        most = fmax(most, fmax(edges, fabs(corner[i].blur - corner[0].blur)));
    }
    return most;
}

/* The simplex of n + 1 corners, 4 at most, goes downhill; it stays in the space that its corners span. */
static struct ww_edges go_down(const struct ww_profile *p, struct ww_edges *corner, size_t n)
{
    enum { TRIALS = 200 };
    for (size_t i = 0; i <= n; i++)
        corner[i].residual = residual_of(p, &corner[i]);
    for (int trial = 0; trial < TRIALS; trial++) {
        order(corner, n);
        if (size_of(corner, n) < CLOSE)
            break;
        struct ww_edges *worst = &corner[n], middle = {.residual = 0.0};
        for (size_t i = 0; i < n; i++) {
            middle.left += corner[i].left / (double)n;
            middle.right += corner[i].right / (double)n;
            middle.blur += corner[i].blur / (double)n;
        }
        struct ww_edges next = between(p, worst, &middle, 2.0);
        if (next.residual < corner[0].residual) {
            struct ww_edges further = between(p, worst, &middle, 3.0);
            next = further.residual < next.residual ? further : next;
        } else if (!(next.residual < corner[n - 1].residual)) {
            next = between(p, worst, &middle, next.residual < worst->residual ? 1.5 : 0.5);
        }
        if (next.residual < worst->residual)
            *worst = next;
        else
            for (size_t i = 1; i <= n; i++)
                corner[i] = between(p, &corner[0], &corner[i], 0.5);
    }
    order(corner, n);
    return corner[0];
}

/* n = 3: edges and blur; 2: the edges alone. */
static struct ww_edges fit_edges(const struct ww_profile *p, struct ww_edges start, size_t n)
{
    struct ww_edges corner[4] = {start, start, start, start};
    corner[1].left -= 0.02;
    corner[2].right += 0.02;
    corner[3].blur *= 1.3;
    return go_down(p, corner, n);
}

static double width_of(const struct ww_edges *e)
{
    return e->right - e->left;
}

/* The best of a given width: with its own middle and blur. */
static struct ww_edges fit_middle(const struct ww_profile *p, struct ww_edges start, double width)
{
    double middle = 0.5 * (start.left + start.right);
    start.left = middle - 0.5 * width;
    start.right = middle + 0.5 * width;
    struct ww_edges corner[4] = {start, start, start, start};
    corner[1].left += 0.01;
    corner[1].right += 0.01;
    corner[2].blur *= start.blur < 0.5 * BLUR_MOST ? 1.2 : 0.8;
    return go_down(p, corner, 2);
}

bool ww_profile_is_full(const struct ww_profile *p)
{
    for (size_t k = 0; k < BINS; k++)
        if (!(p->count[k] > 0.0))
            return false;
    return true;
}

/* Squares by which the best of another width or blur may be worse: one standard deviation. */
static double unit_of(const struct ww_profile *p, double residual)
{
    double low = HUGE_VAL, high = -HUGE_VAL;
    for (size_t k = 0; k < BINS; k++) {
        low = fmin(low, p->sum[k] / p->count[k]);
        high = fmax(high, p->sum[k] / p->count[k]);
    }
    double off = MODEL * (high - low);
    return BINS * off * off + OF_RESIDUAL * residual;
}

struct ww_edges ww_edges_find(struct ww_profile *p)
{
    enum { HALVES = 5, BLURS = 3, FITS = 2 /* of each blur */ };
    static const double half[HALVES] = {0.15, 0.25, 0.33, 0.40, 0.45}, blur[BLURS] = {0.02, 0.06, 0.12};
    struct ww_edges start[HALVES], best = {.residual = HUGE_VAL};
    if (!ww_profile_is_full(p))
        return best;
    for (size_t b = 0; b < BLURS; b++) {
        for (size_t i = 0; i < HALVES; i++) {
            start[i] = (struct ww_edges){.left = -half[i], .right = half[i], .blur = blur[b]};
            start[i].residual = residual_of(p, &start[i]);
            if (!(start[i].high > start[i].low))
                start[i].residual = HUGE_VAL;
        }
        order(start, HALVES - 1);
        for (size_t i = 0; i < FITS; i++) {
            struct ww_edges found = fit_edges(p, start[i], 3);
            best = found.high > found.low && found.residual < best.residual ? found : best;
        }
    }
    if (!(best.residual < EDGES_TELL * residual_without_edges(p)))
        best.residual = HUGE_VAL;
    else if (!(p->unit > 0.0))
        p->unit = unit_of(p, best.residual);
    return best;
}

struct ww_edges ww_edges_of_yarn(const struct ww_profile *p, const struct ww_edges *family)
{
    return fit_edges(p, *family, 2);
}

/* --- how well they are known ------------------------------------------------------------------------------------------------- */

/* How far off the best a figure may be, towards one side, standard deviation: half of where squares are worse by four units.
 * `most` where that is not before it. */
static double reach(const struct ww_profile *p, const struct ww_edges *best, double sense, double most, bool of_blur)
{
    double before = 0.0, sigmas_before = 0.0;
    struct ww_edges at = *best;
    for (double step = of_blur ? 0.02 : 0.004;; step *= 2.0) {
        step = fmin(step, most);
        if (of_blur) {
            at.blur = best->blur * exp(sense * step);
            at = fit_edges(p, at, 2);
        } else {
            at = fit_middle(p, at, width_of(best) + sense * step);
        }
        double sigmas = sqrt(fmax(0.0, at.residual - best->residual) / p->unit);
        if (sigmas >= 2.0 && at.residual < HUGE_VAL)
            return 0.5 * (before + (step - before) * (2.0 - sigmas_before) / (sigmas - sigmas_before));
        if (step >= most || !(at.residual < HUGE_VAL))
            return step;
        before = step;
        sigmas_before = sigmas;
    }
}

void ww_edges_tell_blur(const struct ww_profile *from, const struct ww_edges *edges, double scale,
                        struct ww_profile *to)
{
    const double most = 1.5;
    double above = log(0.98 * BLUR_MOST / edges->blur), below = log(0.98 * edges->blur / BLUR_LEAST);
    to->blur = edges->blur * scale;
    to->blur_above = hypot(SAME_BLUR, reach(from, edges, 1.0, fmin(most, above), true));
    to->blur_below = hypot(SAME_BLUR, reach(from, edges, -1.0, fmin(most, below), true));
}

double ww_edges_error(const struct ww_profile *p, const struct ww_edges *edges)
{
    double width = width_of(edges);
    return fmax(reach(p, edges, 1.0, 0.999 * (WIDEST - width), false),
                reach(p, edges, -1.0, 0.999 * (width - NARROWEST), false));
}
