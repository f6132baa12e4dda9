/* picture/families.c - the two families of yarns in the spectrum of a picture.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The middle of the levelled picture (level.c) is weighted by a Hann window in both directions and transformed. Lines are
 * local maxima that stand above the median power at their distance from the origin.
 *
 * All lines of a weave are sums of two of them: of the pair of lines that the others follow from, and of such pairs of the one
 * that spans the largest parallelogram, for smaller ones explain lines that are not there.
 *
 * Plain weave repeats over two yarns each way, and the two are then mostly those of the diagonals, g = (a + b)/2 and h = (a - b)/2, where
 * a and b are the lines of the yarns. Where warp and fill look alike from above, they are a and b themselves. In cloth with
 * pitches nearly alike both readings have two families at a right angle. The phases tell them apart: with c the coefficients,
 * c(g) c(h) conj c(g+h) + c(g) conj c(h) conj c(g-h), which does not hang on the origin, is positive where g and h are diagonals (with the
 * origin at a crossing c(g) and c(h) are equal, and c(a) > 0 as yarns are lighter than gaps), and negative where they are
 * yarns (with the origin in a gap all three are negative).
 *
 * Diagonals of pitches in the ratio sqrt(3) make a lattice with three such readings at a right angle. Holes tell which it is: in the
 * cell that the two lines repeat over, a yarn's pitch exchanges even and odd crossings and leaves the holes what they are. So does no
 * other half of the cell, and where warp and fill look alike, none.
 */
#include "picture/picture.h"

#include <complex.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/transform.h"

enum {
    LARGEST = 4096, /* of the part that is transformed */
    GRANULE = 16,   /* its sides are multiples of this: quick to transform */
    RINGS = 48,     /* of the median power */
    LEVELS = 512,
    LINES_MOST = 24,
    PAIRED = 12,  /* lines that pairs are made of */
    NEAR = 2,     /* samples that a line is spread over */
    FOLDED = 150, /* samples each way, of the middle of the picture */
    COARSE = 2    /* samples from the origin: diagonals of under four yarns */
};
static const double ABOVE = 40.0;       /* of the median: 28 times the mean of noise, once in 10^12 samples */
static const double RADIUS_LEAST = 1.5; /* samples from the origin */
static const double FAINT = 1e-4 /* of the power of the strongest line: no line */, APART = 3.0 /* samples */;
static const double PARALLEL = 25.0 * WW_PI / 180.0, SQUARE_WITHIN = 15.0 * WW_PI / 180.0;
static const double EXPLAINED = 0.95; /* of what the best pair explains */
static const double OF_CELL = 0.3;    /* of a cell's side: a line that a pair explains is no further off */
static const double CELLS = 16.0;     /* each way that are folded: perspective and wander add up over more */
static const double TWINS = 0.75,
                    TWINS_LIKELY = 0.7; /* of what is dark: holes that are exchanged; of the most alike */
static const double YARNS_LEAST = 4.0, PIXELS_LEAST = 5.0;

/* --- the spectrum ---------------------------------------------------------------------------------------------- */

struct line {
    double kx, ky, power;
};

struct spectrum {
    const struct ww_level *level;
    size_t nx, ny, columns;
    double _Complex *coef;
    double *part, *power;
    struct line line[LINES_MOST];
    size_t lines;
};

static size_t part_of(size_t n)
{
    n = n < LARGEST ? n : LARGEST;
    return n - n % GRANULE;
}

static double hann(size_t i, size_t n)
{
    double s = sin(WW_PI * ((double)i + 0.5) / (double)n);
    return s * s;
}

static enum ww_status transform(struct spectrum *s, const struct ww_level *level, struct ww_error *error)
{
    s->level = level;
    s->nx = part_of(level->nx);
    s->ny = part_of(level->ny);
    s->columns = s->nx / 2 + 1;
    s->part = calloc(s->nx * s->ny, sizeof *s->part);
    s->power = malloc(s->columns * s->ny * sizeof *s->power);
    s->coef = malloc(s->columns * s->ny * sizeof *s->coef);
    if (!s->part || !s->power || !s->coef)
        return ww_error_set(error, WW_NO_MEMORY, level->file, 0, "no memory for the picture's spectrum");
    size_t x0 = (level->nx - s->nx) / 2, y0 = (level->ny - s->ny) / 2;
    for (size_t y = 0; y < s->ny; y++)
        for (size_t x = 0; x < s->nx; x++)
            s->part[y * s->nx + x] = hann(x, s->nx) * hann(y, s->ny) * level->value[(y0 + y) * level->nx + x0 + x];
    enum ww_status status = ww_transform_forward(s->part, s->nx, s->ny, s->coef, error);
    for (size_t i = 0; i < s->columns * s->ny && !status; i++)
        s->power[i] = creal(s->coef[i]) * creal(s->coef[i]) + cimag(s->coef[i]) * cimag(s->coef[i]);
    return status;
}

static double frequency_y(const struct spectrum *s, size_t l)
{
    return (l > s->ny / 2 ? (double)l - (double)s->ny : (double)l) / (double)s->ny;
}

/* Power at (m, l), any integers. */
static double power_at(const struct spectrum *s, long m, long l)
{
    long ny = (long)s->ny, nx = (long)s->nx;
    m = ((m % nx) + nx) % nx;
    if (m > nx / 2) {
        m = nx - m;
        l = -l;
    }
    return s->power[(size_t)(((l % ny) + ny) % ny) * s->columns + (size_t)m];
}

static size_t ring_of(double kx, double ky)
{
    double ring = (log2(hypot(kx, ky)) + 13.0) * RINGS / 13.0; /* from 2^-13 to 1 */
    return ring < 0.0 ? 0 : ring >= RINGS ? RINGS - 1 : (size_t)ring;
}

static size_t level_of(double power, double most)
{
    double step = (log10(power / most) + 24.0) * LEVELS / 24.0;
    return !(step > 0.0) ? 0 : step >= LEVELS ? LEVELS - 1 : (size_t)step;
}

/* The median power of each ring. */
static bool find_floor(const struct spectrum *s, double most, double median[RINGS])
{
    size_t(*count)[LEVELS] = calloc(RINGS, sizeof *count);
    if (!count)
        return false;
    for (size_t l = 0; l < s->ny; l++)
        for (size_t m = 0; m < s->columns; m++)
            count[ring_of((double)m / (double)s->nx, frequency_y(s, l))]
                 [level_of(s->power[l * s->columns + m], most)]++;
    for (size_t r = 0; r < RINGS; r++) {
        size_t all = 0, below = 0, step = 0;
        for (size_t i = 0; i < LEVELS; i++)
            all += count[r][i];
        while (step + 1 < LEVELS && 2 * (below += count[r][step]) < all)
            step++;
        median[r] = most * pow(10.0, ((double)step + 0.5) * 24.0 / LEVELS - 24.0);
    }
    free(count);
    return true;
}

static bool is_top(const struct spectrum *s, long m, long l)
{
    double here = power_at(s, m, l);
    for (long dl = -1; dl <= 1; dl++)
        for (long dm = -1; dm <= 1; dm++) {
            double there = power_at(s, m + dm, l + dl);
            if (there > here || (there >= here && (dl < 0 || (dl == 0 && dm < 0)))) /* the first of equals */
                return false;
        }
    return true;
}

/* Offset of the top of the parabola through three logarithms. */
static double top_between(double before, double here, double behind)
{
    double a = log(before + 1e-300), b = log(here + 1e-300), c = log(behind + 1e-300), bend = a - 2.0 * b + c;
    return bend < 0.0 ? fmax(-0.5, fmin(0.5, 0.5 * (a - c) / bend)) : 0.0;
}

/* The line at a top. */
static struct line line_at(const struct spectrum *s, long m, long l)
{
    double here = power_at(s, m, l);
    struct line line = {.power = here};
    line.kx = ((double)m + top_between(power_at(s, m - 1, l), here, power_at(s, m + 1, l))) / (double)s->nx;
    line.ky = ((double)l + top_between(power_at(s, m, l - 1), here, power_at(s, m, l + 1))) / (double)s->ny;
    return line;
}

static double samples_between(const struct spectrum *s, double kx, double ky)
{
    return hypot(kx * (double)s->nx, ky * (double)s->ny);
}

static bool is_near(const struct spectrum *s, const struct line *a, const struct line *b)
{
    return fmin(samples_between(s, a->kx - b->kx, a->ky - b->ky), samples_between(s, a->kx + b->kx, a->ky + b->ky)) <
           APART;
}

/* Of lines closer than wander spreads them the strongest stays. Stronger lines first. */
static void keep_line(struct spectrum *s, const struct line *line)
{
    size_t at = 0;
    for (; at < s->lines && s->line[at].power >= line->power; at++)
        if (is_near(s, &s->line[at], line))
            return;
    size_t end = at;
    while (end < s->lines && !is_near(s, &s->line[end], line))
        end++;
    if (at == LINES_MOST)
        return;
    end = end < LINES_MOST ? end : LINES_MOST - 1;
    s->lines += end == s->lines;
    memmove(&s->line[at + 1], &s->line[at], (end - at) * sizeof *s->line);
    s->line[at] = *line;
}

static enum ww_status find_lines(struct spectrum *s, const struct ww_level *level, struct ww_error *error)
{
    double median[RINGS], most = 0.0;
    for (size_t i = 0; i < s->columns * s->ny; i++)
        most = fmax(most, s->power[i]);
    if (!(most > 0.0))
        return ww_error_set(error, WW_UNPHYSICAL, level->file, 0, "shows nothing but its lighting: no cloth is seen");
    if (!find_floor(s, most, median))
        return ww_error_set(error, WW_NO_MEMORY, level->file, 0, "no memory for the picture's spectrum");
    for (size_t l = 0; l < s->ny; l++)
        for (size_t m = 0; m < s->columns; m++) {
            long row = l > s->ny / 2 ? (long)l - (long)s->ny : (long)l;
            double power = s->power[l * s->columns + m];
            bool far = hypot((double)m, (double)row) >= RADIUS_LEAST && (m > 0 || row > 0);
            if (far && power > ABOVE * median[ring_of((double)m / (double)s->nx, frequency_y(s, l))] &&
                is_top(s, (long)m, row)) {
                struct line line = line_at(s, (long)m, row);
                keep_line(s, &line);
            }
        }
    while (s->lines > 0 && s->line[s->lines - 1].power < FAINT * s->line[0].power)
        s->lines--;
    return WW_OK;
}

/* --- the two lines that the others follow from ------------------------------------------------------------------------ */

/* Two lines; both point to the right or up. */
struct pair {
    double g[2], h[2];
};

static double cross(const double a[2], const double b[2])
{
    return a[0] * b[1] - a[1] * b[0];
}

/* Between two directions of lines without a sense, up to a quarter turn. */
static double angle_between(const double a[2], const double b[2])
{
    return atan2(fabs(cross(a, b)), fabs(a[0] * b[0] + a[1] * b[1]));
}

/* The shortest two that the same lines follow from (J. L. Lagrange, C. F. Gauss). */
static void shorten(struct pair *p)
{
    for (int pass = 0; pass < 100; pass++) {
        double gg = p->g[0] * p->g[0] + p->g[1] * p->g[1], hh = p->h[0] * p->h[0] + p->h[1] * p->h[1];
        double *longer = gg > hh ? p->g : p->h;
        const double *shorter = gg > hh ? p->h : p->g;
        double times = round((p->g[0] * p->h[0] + p->g[1] * p->h[1]) / fmin(gg, hh));
        if (times == 0.0)
            return;
        longer[0] -= times * shorter[0];
        longer[1] -= times * shorter[1];
    }
}

/* Sum of the amplitudes of the lines that are sums of the pair. A sum is found within some samples, more where it adds up the errors of
 * many, and within a share of the cell: dense pairs would meet every line by chance. */
static double explained(const struct spectrum *s, const struct pair *p)
{
    double sum = 0.0, area = cross(p->g, p->h), cell = sqrt(fabs(area) * (double)s->nx * (double)s->ny);
    for (size_t i = 0; i < s->lines; i++) {
        const double k[2] = {s->line[i].kx, s->line[i].ky};
        double a = round(cross(k, p->h) / area), b = round(cross(p->g, k) / area);
        double off = samples_between(s, k[0] - a * p->g[0] - b * p->h[0], k[1] - a * p->g[1] - b * p->h[1]);
        if (off < fmin(1.0 + 0.5 * (fabs(a) + fabs(b)), OF_CELL * cell))
            sum += sqrt(s->line[i].power);
    }
    return sum;
}

static struct pair pair_of(const struct spectrum *s, size_t i, size_t j)
{
    return (struct pair){{s->line[i].kx, s->line[i].ky}, {s->line[j].kx, s->line[j].ky}};
}

/* --- yarns or diagonals --------------------------------------------------------------------------------------------------- */

static double _Complex coef_at(const struct spectrum *s, long m, long l)
{
    long nx = (long)s->nx, ny = (long)s->ny;
    bool turned = m < 0;
    m = turned ? -m : m;
    l = turned ? -l : l;
    if (m > nx / 2)
        return 0.0;
    double _Complex c = s->coef[(size_t)(((l % ny) + ny) % ny) * s->columns + (size_t)m];
    return turned ? conj(c) : c;
}

/* The phases of g and of sense h against that of their sum, of all that the lines are spread over. */
static double phase_product(const struct spectrum *s, const struct pair *p, double sense)
{
    enum { WIDE = 2 * NEAR + 1, PLACES = WIDE * WIDE };
    long gm = lround(p->g[0] * (double)s->nx), gl = lround(p->g[1] * (double)s->ny);
    long hm = lround(sense * p->h[0] * (double)s->nx), hl = lround(sense * p->h[1] * (double)s->ny);
    double sum = 0.0;
    for (long i = 0; i < PLACES; i++)
        for (long j = 0; j < PLACES; j++) {
            long am = gm + i % WIDE - NEAR, al = gl + i / WIDE - NEAR;
            long bm = hm + j % WIDE - NEAR, bl = hl + j / WIDE - NEAR;
            sum += creal(coef_at(s, am, al) * coef_at(s, bm, bl) * conj(coef_at(s, am + bm, al + bl)));
        }
    return sum;
}

static struct pair sum_and_difference(const struct pair *p)
{
    return (struct pair){{p->g[0] + p->h[0], p->g[1] + p->h[1]}, {p->g[0] - p->h[0], p->g[1] - p->h[1]}};
}

/* Two lines that the same lines follow from, with whole numbers from -1 to 1; false where they are none. */
static bool remake(const struct pair *from, int code, struct pair *to)
{
    int n[4] = {code % 3 - 1, code / 3 % 3 - 1, code / 9 % 3 - 1, code / 27 - 1};
    if (abs(n[0] * n[3] - n[1] * n[2]) != 1)
        return false;
    for (int k = 0; k < 2; k++) {
        to->g[k] = n[0] * from->g[k] + n[1] * from->h[k];
        to->h[k] = n[2] * from->g[k] + n[3] * from->h[k];
    }
    return true;
}

/* Is one of the lines there? */
static bool is_line(const struct spectrum *s, const double k[2])
{
    const struct line line = {k[0], k[1], 0.0};
    for (size_t i = 0; i < s->lines; i++)
        if (is_near(s, &s->line[i], &line))
            return true;
    return false;
}

/* --- which diagonals ---------------------------------------------------------------------------------------------------------- */

/* How alike the holes are that a yarn's pitch exchanges, for each of the three pitches that diagonals may have: by (1/2, 0), (0, 1/2) or
 * (1/2, 1/2) of the cell of two lines. */
static void find_twins(const struct spectrum *s, const struct pair *two, double twin[3])
{
    struct ww_fold fold = {.mean = 0.0};
    const struct ww_level *level = s->level;
    double side = sqrt(1.0 / fabs(cross(two->g, two->h)));
    double half = 0.5 * fmin(CELLS * side, (double)(level->nx < level->ny ? level->nx : level->ny) - 2.0);
    for (size_t i = 0; i < (size_t)FOLDED * FOLDED; i++) {
        double x = half * (2.0 * ((double)(i % FOLDED) + 0.5) / FOLDED - 1.0), value;
        double y = half * (2.0 * ((double)(i / FOLDED) + 0.5) / FOLDED - 1.0);
        if (ww_level_at(level, x, y, &value))
            ww_fold_add(&fold, two->g[0] * x + two->g[1] * y, two->h[0] * x + two->h[1] * y, value);
    }
    bool known = ww_fold_smooth(&fold);
    for (int k = 0; k < 3; k++) {
        size_t dp = k != 1 ? WW_FOLD / 2 : 0, dq = k != 0 ? WW_FOLD / 2 : 0;
        bool stripes = known && ww_fold_alike(&fold, dp / 2, dq / 2) >= TWINS; /* not holes */
        twin[k] = known && !stripes ? ww_fold_alike(&fold, dp, dq) : 0.0;
    }
}

/* Which of the three pitches a remade pair of diagonals has: what becomes (1/2, 1/2) of its own cell. */
static int pitch_of(int code)
{
    int n[4] = {code % 3 - 1, code / 3 % 3 - 1, code / 9 % 3 - 1, code / 27 - 1};
    for (int k = 0; k < 3; k++) {
        int p = k != 1, q = k != 0;
        if ((n[0] * p + n[1] * q) % 2 != 0 && (n[2] * p + n[3] * q) % 2 != 0)
            return k;
    }
    return 0; /* of a determinant of 1 or -1 one is */
}

/* --- the lines of the yarns ---------------------------------------------------------------------------------------------------- */

struct reading {
    struct pair lines;
    double angle; /* between the yarns that it makes; 0: none */
};

static void take_squarer(struct reading *reading, const struct pair *made, double angle)
{
    if (angle > fmax(reading->angle, WW_PI / 2.0 - SQUARE_WITHIN) + 1e-9)
        *reading = (struct reading){*made, angle};
}

/* Of pitches in the ratio sqrt(3) three pairs of diagonals cross at a right angle, one for each pitch. Holes are exchanged by the right
 * one; where the holes do not show, the squarest is taken. NULL: there is none. */
static const struct reading *choose_diagonals(const struct reading of[3], const double twin[3])
{
    const struct reading *best = NULL;
    double most = 0.0;
    for (int k = 0; k < 3; k++)
        if (of[k].angle > 0.0)
            most = fmax(most, twin[k]);
    for (int k = 0; k < 3; k++)
        if (of[k].angle > 0.0 && twin[k] >= TWINS_LIKELY * most && (!best || of[k].angle > best->angle))
            best = &of[k];
    return best;
}

/* Diagonals exchange holes. Where holes hardly show, phases tell. */
static bool are_diagonals(const struct spectrum *s, const struct reading *reading, double twin)
{
    return twin >= TWINS || phase_product(s, &reading->lines, 1.0) + phase_product(s, &reading->lines, -1.0) > 0.0;
}

/* The lines of the yarns from the shortest two that all follow from: as yarns, or as diagonals. A weak line may be missing where its
 * sum and its difference with the other one are there, or the holes. False: neither is near a right angle. */
static bool find_yarns(const struct spectrum *s, const struct pair *two, struct pair *yarns)
{
    struct pair made;
    struct reading as_yarns = {.angle = 0.0}, diagonals[3] = {{.angle = 0.0}};
    double twin[3];
    find_twins(s, two, twin);
    for (int code = 0; code < 81; code++) {
        if (!remake(two, code, &made))
            continue;
        struct pair sums = sum_and_difference(&made);
        bool first = is_line(s, made.g), second = is_line(s, made.h);
        bool there = (first && second) || ((first || second) && is_line(s, sums.g) && is_line(s, sums.h));
        if (there)
            take_squarer(&as_yarns, &made, angle_between(made.g, made.h));
        if (there || ((first || second) && twin[pitch_of(code)] >= TWINS))
            take_squarer(&diagonals[pitch_of(code)], &made, angle_between(sums.g, sums.h));
    }
    const struct reading *chosen = choose_diagonals(diagonals, twin);
    bool diagonal = chosen && (!(as_yarns.angle > 0.0) || are_diagonals(s, chosen, twin[chosen - diagonals]));
    *yarns = diagonal ? sum_and_difference(&chosen->lines) : as_yarns.lines;
    return diagonal || as_yarns.angle > 0.0;
}

/* The pair that the others follow from, and the yarns it makes. False: all lines are parallel, or no pair makes yarns; then
 * `yarns` are the strongest two that cross, zeroed where all are parallel. */
static bool find_pair(const struct spectrum *s, struct pair *yarns)
{
    double most = 0.0, largest = 0.0;
    bool crossed = false;
    size_t count = s->lines < PAIRED ? s->lines : PAIRED;
    *yarns = (struct pair){{0.0}, {0.0}};
    for (int pass = 0; pass < 2; pass++)
        for (size_t i = 0; i < count; i++)
            for (size_t j = i + 1; j < count; j++) {
                struct pair lines = pair_of(s, i, j), pair = lines, made;
                double area = fabs(cross(pair.g, pair.h));
                if (angle_between(pair.g, pair.h) < PARALLEL)
                    continue;
                shorten(&pair);
                double sum = explained(s, &pair);
                bool better = pass == 0 ? sum > most : sum >= EXPLAINED * most && area > (1.0 + 1e-3) * largest;
                if (!better && crossed)
                    continue;
                if (!find_yarns(s, &pair, &made)) {
                    *yarns = crossed ? *yarns : lines;
                } else if (pass == 0) {
                    most = fmax(most, sum);
                } else if (better) {
                    largest = area;
                    *yarns = made;
                }
                crossed = true;
            }
    return largest > 0.0;
}

/* The line of the spectrum near a sum of lines; the sum itself where there is none. */
static void settle(const struct spectrum *s, double k[2])
{
    long m = lround(k[0] * (double)s->nx), l = lround(k[1] * (double)s->ny), best_m = m, best_l = l;
    for (long dl = -NEAR; dl <= NEAR; dl++)
        for (long dm = -NEAR; dm <= NEAR; dm++)
            if (power_at(s, m + dm, l + dl) > power_at(s, best_m, best_l)) {
                best_m = m + dm;
                best_l = l + dl;
            }
    if (!is_top(s, best_m, best_l))
        return;
    struct line line = line_at(s, best_m, best_l);
    k[0] = line.kx;
    k[1] = line.ky;
}

static enum ww_status refuse(const struct spectrum *s, const struct pair *nearly, const struct ww_level *level,
                             struct ww_error *error)
{
    if (s->lines == 0)
        return ww_error_set(
            error, WW_UNPHYSICAL, level->file, 0,
            "shows no cloth: its spectrum has no lines; give a sharp picture, five pixels or more to a yarn");
    if (cross(nearly->g, nearly->h) != 0.0)
        return ww_error_set(error, WW_UNPHYSICAL, level->file, 0,
                            "shows no cloth: its families of lines cross at %.0f deg, and yarns near 90",
                            angle_between(nearly->g, nearly->h) * 180.0 / WW_PI);
    return ww_error_set(error, WW_UNPHYSICAL, level->file, 0,
                        "shows no cloth: its spectrum has one family of lines, %.3g pixels apart, and none across it",
                        1.0 / hypot(s->line[0].kx, s->line[0].ky));
}

/* Few yarns are few periods: then what is coarser than a quarter of the picture is stronger than the lines found. */
static enum ww_status check_coarse(const struct spectrum *s, const struct pair *yarns, const struct ww_level *level,
                                   struct ww_error *error)
{
    const struct pair diagonals = {{0.5 * (yarns->g[0] + yarns->h[0]), 0.5 * (yarns->g[1] + yarns->h[1])},
                                   {0.5 * (yarns->g[0] - yarns->h[0]), 0.5 * (yarns->g[1] - yarns->h[1])}};
    const double *line[] = {yarns->g, yarns->h, diagonals.g, diagonals.h};
    double fine = 0.0, coarse = 0.0;
    for (int i = 0; i < 4; i++)
        fine = fmax(fine, power_at(s, lround(line[i][0] * (double)s->nx), lround(line[i][1] * (double)s->ny)));
    for (long l = -COARSE; l <= COARSE; l++)
        for (long m = -COARSE; m <= COARSE; m++)
            coarse = fmax(coarse, power_at(s, m, l));
    if (coarse <= fine)
        return WW_OK;
    return ww_error_set(
        error, WW_INVALID, level->file, 0,
        "shows under four yarns, or patches that are plainer than its yarns; give more cloth, evenly lit");
}

static enum ww_status check_yarns(const struct pair *yarns, const struct ww_level *level, struct ww_error *error)
{
    const double *of[2] = {yarns->g, yarns->h};
    for (int i = 0; i < 2; i++) {
        double count = fmax(fabs(of[i][0]) * (double)level->nx, fabs(of[i][1]) * (double)level->ny);
        if (count < YARNS_LEAST)
            return ww_error_set(error, WW_INVALID, level->file, 0,
                                "shows %.1f yarns of one family; give a picture of at least four yarns each way",
                                count);
    }
    for (int i = 0; i < 2; i++) {
        double pixels = 1.0 / hypot(of[i][0], of[i][1]);
        if (pixels < PIXELS_LEAST)
            return ww_error_set(error, WW_INVALID, level->file, 0,
                                "has %.1f pixels to a yarn of one family; give a picture with at least %.0f", pixels,
                                PIXELS_LEAST);
    }
    return WW_OK;
}

/* The family across the horizontal axis first, each line pointing right or up. */
static void take_families(struct ww_family_lines *lines, const struct pair *yarns)
{
    const double *of[2] = {yarns->g, yarns->h};
    bool first_is_across = fabs(yarns->g[0] * yarns->h[1]) >= fabs(yarns->g[1] * yarns->h[0]);
    for (int i = 0; i < 2; i++) {
        const double *k = of[first_is_across ? i : 1 - i];
        double sense = k[i] < 0.0 ? -1.0 : 1.0;
        lines->k[i][0] = sense * k[0];
        lines->k[i][1] = sense * k[1];
    }
}

static enum ww_status find_in(struct spectrum *s, struct ww_family_lines *lines, const struct ww_level *level,
                              struct ww_error *error)
{
    struct pair yarns;
    enum ww_status status = find_lines(s, level, error);
    if (status)
        return status;
    if (!find_pair(s, &yarns))
        return refuse(s, &yarns, level, error);
    status = check_coarse(s, &yarns, level, error);
    if (status)
        return status;
    settle(s, yarns.g);
    settle(s, yarns.h);
    status = check_yarns(&yarns, level, error);
    if (!status)
        take_families(lines, &yarns);
    return status;
}

enum ww_status ww_families_find(struct ww_family_lines *lines, const struct ww_level *level, struct ww_error *error)
{
    struct spectrum *s = calloc(1, sizeof *s);
    *lines = (struct ww_family_lines){0};
    if (!s)
        return ww_error_set(error, WW_NO_MEMORY, level->file, 0, "no memory for the picture's spectrum");
    enum ww_status status = transform(s, level, error);
    if (!status)
        status = find_in(s, lines, level, error);
    if (!status) {
        lines->nx = s->nx;
        lines->ny = s->ny;
        lines->power = s->power;
        s->power = NULL;
    }
    free(s->part);
    free(s->power);
    free(s->coef);
    free(s);
    return status;
}
