/* test_section.c - the full 2-D solution: limits, invariants, bounds, refusals.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Its order of accuracy is in test_order.c.
 */
#include "check.h"
#include "structure.h"

#include <complex.h>
#include <stdlib.h>

#include "line/conjugate.h"

static void open(struct structure *structure, const struct structure_options *options)
{
    struct ww_error error = {0};
    assert_ok(structure_open(structure, options, &error), error);
}

/* A section with every ply at the same place of its own cell. */
static struct ww_full solve(const struct structure *structure, double angle, double x, double y)
{
    double place[2][2] = {{x, y}, {x, y}};
    struct ww_error error = {0};
    struct ww_full full;
    assert_ok(ww_section_solve(structure->line, angle, place, NULL, &full, &error), error);
    return full;
}

static struct ww_full solve_once(const struct structure_options *options, double angle, double x, double y)
{
    struct structure structure;
    open(&structure, options);
    struct ww_full full = solve(&structure, angle, x, y);
    structure_close(&structure);
    return full;
}

/* --- limits ------------------------------------------------------------------------------------------------------ */

/* Glass like resin: nothing is left of the cloth, whatever lies on top of the trace. */
static void test_glass_like_resin_is_the_background(void **state)
{
    (void)state;
    for (enum structure_kind kind = STRIPLINE; kind <= COVERED; kind++)
        for (int pair = 0; pair < 2; pair++) {
            struct structure_options options = pair ? structure_pair() : structure_single();
            options.kind = kind;
            options.glass_dk = options.resin_dk = 3.2;
            struct structure s;
            open(&s, &options);
            struct ww_full full = solve(&s, 0.4, 37 * UM, 81 * UM);
            const struct ww_line *line = s.line;
            double own = pair ? 0.5 * (line->grid.c_even + line->grid.c_odd) : line->grid.c_even;
            assert_in_range(full.iterations, 0, 1);
            assert_close(full.c[0][0], WW_EPS0 * own, 1e-9, 0);
            assert_close(full.dk[0], line->summary.dk_eff, 1e-9, 0);
            if (kind == STRIPLINE || kind == SANDWICH)
                assert_close(full.dk[0], 3.2, 1e-9, 0);
            if (pair) {
                assert_close(full.c[1][1], WW_EPS0 * own, 1e-9, 0);
                assert_close(full.c[0][1], WW_EPS0 * 0.5 * (line->grid.c_even - line->grid.c_odd), 1e-9, 0);
                assert_close(full.delay[0] - full.delay[1], 0, 0, 1e-10 * full.delay[0]);
            }
            structure_close(&s);
        }
}

/* Layers without cloth: as the background, and for a foil halfway between two planes with different halves the exact
 * mean of the two, by symmetry (no flux crosses the interface beside the strip). */
static void test_plain_layers_are_exact(void **state)
{
    (void)state;
    for (int pair = 0; pair < 2; pair++) {
        struct structure_options options = pair ? structure_pair() : structure_single();
        options.style = "1080";
        options.no_cloth = true;
        options.glass_dk = 4.4;
        options.thickness = 0;
        struct structure s;
        open(&s, &options);
        struct ww_full full = solve(&s, 0.4, 0, 0);
        assert_in_range(full.iterations, 0, 1);
        assert_close(full.dk[0], 0.5 * (3.2 + 4.4), 1e-9, 0);
        assert_close(full.delay[0], sqrt(3.8) / WW_C0, 1e-9, 0);
        structure_close(&s);
    }
}

/* Every slice of the cloth replaced by its mean, edge by edge: the iteration has nothing to do. */
static void test_mean_conductances_need_no_iteration(void **state)
{
    (void)state;
    struct structure_options options = structure_pair();
    struct structure s;
    open(&s, &options);
    const struct ww_line *line = s.line;
    struct ww_error error = {0};
    struct ww_layered mean = {0};
    struct ww_local local = {0};
    double place[1][2] = {{0, 0}}, charge[2][2];
    assert_ok(ww_layered_create(&mean, &line->mesh, WW_CROSS_SECTION, false, &error), error);
    assert_ok(ww_local_build(&local, line, 0, place, 0, WW_CROSS_SECTION, &error), error);
    for (size_t i = 0; i < line->mesh.rows * local.nodes; i++)
        local.up[i] = mean.up[i / local.nodes];
    for (size_t i = 0; i < local.levels * (local.nodes + 1); i++)
        local.across[i] = mean.across[i / (local.nodes + 1)];
    struct ww_conjugate_report report;
    assert_ok(ww_conjugate_solve(line, &local, WW_CROSS_SECTION, 2, 1e-8, 60, charge, &report, &error), error);
    assert_int_equal(report.iterations, 0);
    assert_close(charge[0][0], 0.5 * (line->grid.c_even + line->grid.c_odd), 1e-10, 0);
    assert_close(charge[0][1], 0.5 * (line->grid.c_even - line->grid.c_odd), 1e-10, 0);
    ww_local_clear(&local);
    ww_layered_destroy(&mean);
    structure_close(&s);
}

/* --- invariants -------------------------------------------------------------------------------------------------- */

static void test_matrix_is_symmetric_and_positive_definite(void **state)
{
    (void)state;
    for (enum structure_kind kind = STRIPLINE; kind <= COVERED; kind++) {
        struct structure_options options = structure_pair();
        options.kind = kind;
        struct structure s;
        open(&s, &options);
        for (int n = 0; n < 4; n++) {
            struct ww_full full = solve(&s, 0.5 * n, 29 * UM + 61 * UM * n, 17 * UM + 90 * UM * n);
            assert_true(full.residual <= 1e-8);
            /* charges are stationary at the solution where the field is, not to one side of it: their error is of the
             * first order in the residual */
            assert_close(full.c[0][1], full.c[1][0], 1e-7, 0);
            assert_true(full.c[0][0] > 0 && full.c[1][1] > 0);
            assert_true(full.c[0][0] * full.c[1][1] > full.c[0][1] * full.c[1][0]);
            /* a Maxwell matrix: charges of the other sign on the neighbour, and some flux to the planes */
            assert_true(full.c[0][1] < 0);
            assert_true(full.c[0][0] + full.c[0][1] > 0 && full.c[1][1] + full.c[0][1] > 0);
        }
        structure_close(&s);
    }
}

/* The cloth is its own mirror image in the axis of a warp yarn, x = px/2. A trace on the mirrored way meets the mirrored
 * cloth with its legs exchanged. */
static void test_mirror_swaps_the_legs(void **state)
{
    (void)state;
    struct structure_options options = structure_pair();
    options.kind = SANDWICH;
    struct structure s;
    open(&s, &options);
    double px = 0.5 * s.stack.ply[0].cell.lx;
    static const double angle[] = {0, 0.35, 1.2};
    for (size_t i = 0; i < sizeof angle / sizeof *angle; i++) {
        struct ww_full one = solve(&s, angle[i], 70 * UM, 45 * UM);
        struct ww_full other = solve(&s, -angle[i], px - 70 * UM, 45 * UM);
        assert_true(fabs(one.dk[0] - one.dk[1]) > 1e-3);
        assert_close(other.c[1][1], one.c[0][0], 1e-7, 0);
        assert_close(other.c[0][0], one.c[1][1], 1e-7, 0);
        assert_close(other.dk[0] - other.dk[1], one.dk[1] - one.dk[0], 1e-5, 0);
    }
    structure_close(&s);
}

/* Warp and fill exchanged is a reflection in x = y: x and y change places, the angle is counted from the other axis, the
 * legs are exchanged. The reflected fill starts where the other cloth's warp is one pitch on. */
static void test_warp_and_fill_are_alike(void **state)
{
    (void)state;
    struct ww_error error = {0};
    struct ww_style cloth, exchanged;
    assert_ok(structure_cloth("1080", &cloth, &error), error);
    exchanged = structure_exchanged(&cloth);
    struct structure_options options = structure_pair();
    options.cloth = &cloth;
    struct structure one, other;
    open(&one, &options);
    options.cloth = &exchanged;
    open(&other, &options);
    double py = 0.5 * one.stack.ply[0].cell.ly;
    static const double angle[] = {0, 0.35, 1.2, WW_PI / 2};
    for (size_t i = 0; i < sizeof angle / sizeof *angle; i++) {
        struct ww_full a = solve(&one, angle[i], 70 * UM, 45 * UM);
        struct ww_full b = solve(&other, WW_PI / 2 - angle[i], 45 * UM + py, 70 * UM);
        /* the cells are averaged from different columns: their means, the background, agree to 1e-6 */
        assert_close(b.c[1][1], a.c[0][0], 1e-5, 0);
        assert_close(b.c[0][0], a.c[1][1], 1e-5, 0);
        assert_close(b.dk[1], a.dk[0], 1e-5, 0);
    }
    structure_close(&one);
    structure_close(&other);
}

static void test_a_shift_by_a_cell_changes_nothing(void **state)
{
    (void)state;
    struct structure_options options = structure_pair();
    struct structure s;
    open(&s, &options);
    double lx = s.stack.ply[0].cell.lx, ly = s.stack.ply[0].cell.ly;
    const double shift[][2] = {{lx, 0}, {0, ly}, {-3 * lx, 2 * ly}, {0.5 * lx, 0.5 * ly}};
    for (size_t i = 0; i < sizeof shift / sizeof *shift; i++)
        for (int turned = 0; turned < 2; turned++) {
            double angle = 0.6 * turned;
            struct ww_full here = solve(&s, angle, 70 * UM, 45 * UM);
            struct ww_full there = solve(&s, angle, 70 * UM + shift[i][0], 45 * UM + shift[i][1]);
            assert_close(there.dk[0], here.dk[0], 1e-9, 0);
            assert_close(there.dk[1], here.dk[1], 1e-9, 0);
        }
    structure_close(&s);
}

/* Only the angle between trace and cloth counts, and only where the trace lies on the cloth. */
static void test_the_ply_may_be_turned_and_shifted_instead(void **state)
{
    (void)state;
    struct structure_options options = structure_pair();
    struct ww_full trace_turned = solve_once(&options, 0.3, 70 * UM, 45 * UM);
    options.turn = -0.3;
    struct ww_full ply_turned = solve_once(&options, 0, 70 * UM, 45 * UM);
    options.turn = 0.5;
    options.shift_x = -50 * UM;
    options.shift_y = 120 * UM;
    struct ww_full both = solve_once(&options, 0.8, 20 * UM, 165 * UM);
    for (int leg = 0; leg < 2; leg++) {
        assert_close(ply_turned.dk[leg], trace_turned.dk[leg], 1e-9, 0);
        assert_close(both.dk[leg], trace_turned.dk[leg], 1e-9, 0);
    }
}

/* The sandwich of a foil is its own mirror image in z, the cloth too but for the sign of its crimp, which a move by a pitch
 * changes: plies that exchange their places so give the same answer. Exchanged without the move they give another. */
static void test_each_ply_has_its_own_place(void **state)
{
    (void)state;
    struct structure_options options = structure_pair();
    options.kind = SANDWICH;
    options.thickness = 0;
    struct structure s;
    open(&s, &options);
    struct ww_error error = {0};
    double here[2] = {70 * UM, 45 * UM}, there[2] = {200 * UM, 15 * UM};
    double places[2][2][2] = {{{here[0], here[1]}, {there[0], there[1]}}, {{there[0], there[1]}, {here[0], here[1]}}};
    struct ww_full full[2];
    for (int i = 0; i < 2; i++)
        assert_ok(ww_section_solve(s.line, 0.2, places[i], NULL, &full[i], &error), error);
    double py = 0.5 * s.stack.ply[0].cell.ly;
    double moved[2][2] = {{there[0], there[1] + py}, {here[0], here[1] + py}};
    struct ww_full mirrored;
    assert_ok(ww_section_solve(s.line, 0.2, moved, NULL, &mirrored, &error), error);
    assert_true(fabs(full[0].dk[0] - full[1].dk[0]) > 1e-4);
    for (int leg = 0; leg < 2; leg++)
        assert_close(mirrored.dk[leg], full[0].dk[leg], 1e-7, 0);
    structure_close(&s);
}

/* One ply's cloth alone: the other's place is of no matter, its own is. */
static void test_the_cloth_of_one_ply_alone(void **state)
{
    (void)state;
    struct structure_options options = structure_pair();
    options.kind = SANDWICH;
    struct structure s;
    open(&s, &options);
    struct ww_error error = {0};
    double places[3][2][2] = {{{70 * UM, 45 * UM}, {200 * UM, 15 * UM}},
                              {{10 * UM, 99 * UM}, {200 * UM, 15 * UM}},
                              {{70 * UM, 45 * UM}, {10 * UM, 99 * UM}}};
    struct ww_full_options lower = {.ply = 2};
    struct ww_full full[3], both;
    for (int i = 0; i < 3; i++)
        assert_ok(ww_section_solve(s.line, 0.2, places[i], &lower, &full[i], &error), error);
    assert_memory_equal(full[1].c, full[0].c, sizeof full[0].c);
    assert_true(fabs(full[2].dk[0] - full[0].dk[0]) > 1e-4);
    assert_ok(ww_section_solve(s.line, 0.2, places[0], NULL, &both, &error), error);
    assert_true(fabs(both.dk[0] - full[0].dk[0]) > 1e-4);
    structure_close(&s);
}

static void test_same_digits_on_any_number_of_threads(void **state)
{
    (void)state;
    int threads = ww_threads();
    struct structure_options options = structure_pair();
    struct ww_full first = {0};
    for (int count = 1; count <= 5; count++) {
        ww_threads_set(count);
        struct ww_full full = solve_once(&options, 0.3, 70 * UM, 45 * UM);
        full.seconds = 0;
        if (count == 1)
            first = full;
        assert_memory_equal(&full, &first, sizeof full);
    }
    ww_threads_set(threads);
}

/* --- bounds ------------------------------------------------------------------------------------------------------ */

/* A symmetric matrix of the legs; a single trace has 1 in the place of the second. */
struct matrix {
    double c11, c12, c22;
};

static struct matrix matrix_of(double c11, double c12, double c22, bool pair)
{
    return pair ? (struct matrix){c11, c12, c22} : (struct matrix){c11, 0, 1};
}

static struct matrix difference(struct matrix a, struct matrix b)
{
    return (struct matrix){a.c11 - b.c11, a.c12 - b.c12, a.c22 - b.c22};
}

static double determinant(struct matrix a)
{
    return a.c11 * a.c22 - a.c12 * a.c12;
}

/* Smallest of x'a x / x'unit x. */
static double smallest_share(struct matrix a, struct matrix unit)
{
    double mixed = unit.c22 * a.c11 - 2 * unit.c12 * a.c12 + unit.c11 * a.c22;
    double half = 0.5 * mixed / determinant(unit), product = determinant(a) / determinant(unit);
    return half - sqrt(fmax(half * half - product, 0));
}

/* C0 P^-1 C0. */
static struct matrix thomson(struct matrix c0, struct matrix p)
{
    double d = determinant(p), q11 = p.c22 / d, q12 = -p.c12 / d, q22 = p.c11 / d;
    double a11 = q11 * c0.c11 + q12 * c0.c12, a12 = q11 * c0.c12 + q12 * c0.c22;
    double a21 = q12 * c0.c11 + q22 * c0.c12, a22 = q12 * c0.c12 + q22 * c0.c22;
    return (struct matrix){c0.c11 * a11 + c0.c12 * a21, c0.c11 * a12 + c0.c12 * a22, c0.c12 * a12 + c0.c22 * a22};
}

static struct matrix background_matrix(const struct ww_line *line)
{
    bool pair = line->mesh.pair;
    double own = pair ? 0.5 * (line->grid.c_even + line->grid.c_odd) : line->grid.c_even;
    return matrix_of(own, 0.5 * (line->grid.c_even - line->grid.c_odd), own, pair);
}

static struct matrix section_matrix(const struct ww_full *full, bool pair)
{
    return matrix_of(full->c[0][0] / WW_EPS0, 0.5 * (full->c[0][1] + full->c[1][0]) / WW_EPS0,
                     full->c[1][1] / WW_EPS0, pair);
}

/* The background's fields in the conductances of the cloth themselves: sum of g d1 d2 over edges, and of g0^2/g d1 d2. */
struct edge_sums {
    double upper[3], lower[3]; /* 11, 12, 22 */
};

static void add_edge(struct edge_sums *sums, double g, double g0, double d1, double d2)
{
    double weight[2] = {g, g0 * g0 / g};
    for (int i = 0; i < 2; i++) {
        double *sum = i ? sums->lower : sums->upper;
        sum[0] += weight[i] * d1 * d1;
        sum[1] += weight[i] * d1 * d2;
        sum[2] += weight[i] * d2 * d2;
    }
}

static struct edge_sums sum_edges(const struct ww_line *line, const struct ww_local *local,
                                  const struct ww_layered *mean, const double *one, const double *two)
{
    struct edge_sums sums = {{0}, {0}};
    size_t nodes = local->nodes;
    for (size_t row = 0; row < line->mesh.rows; row++)
        for (size_t i = 0; i < nodes; i++) {
            double d[2];
            for (int leg = 0; leg < 2; leg++) {
                const double *v = leg ? two : one;
                double above = row < local->levels ? v[row * nodes + i] : 0;
                d[leg] = above - (row ? v[(row - 1) * nodes + i] : 0);
            }
            add_edge(&sums, local->up[row * nodes + i], mean->up[row], d[0], d[1]);
        }
    for (size_t level = 0; level < local->levels; level++)
        for (size_t i = 0; i <= nodes; i++) {
            double d[2];
            for (int leg = 0; leg < 2; leg++) {
                const double *v = (leg ? two : one) + level * nodes;
                d[leg] = (i < nodes ? v[i] : 0) - (i ? v[i - 1] : 0);
            }
            add_edge(&sums, local->across[level * (nodes + 1) + i], mean->across[level], d[0], d[1]);
        }
    return sums;
}

/* Dirichlet and Thomson hold on the grid exactly: with the background's fields as trial fields in the very conductances
 * that are solved, nothing but rounding and the residual may break them. */
static void check_bounds_on_the_grid(const struct structure *s, double angle, double x, double y)
{
    const struct ww_line *line = s->line;
    bool pair = line->mesh.pair;
    struct ww_error error = {0};
    struct ww_background background = {0};
    struct ww_layered mean = {0};
    struct ww_local local = {0};
    double place[2][2] = {{x, y}, {x, y}};
    assert_ok(ww_background_solve(&background, &line->mesh, false, true, &error), error);
    assert_ok(ww_layered_create(&mean, &line->mesh, WW_CROSS_SECTION, false, &error), error);
    assert_ok(ww_local_build(&local, line, angle, place, 0, WW_CROSS_SECTION, &error), error);
    size_t size = local.nodes * local.levels;
    double *one = calloc(2 * size, sizeof *one), *two = one + size;
    for (size_t i = 0; i < size; i++) {
        one[i] = pair ? 0.5 * (background.even[i] + background.odd[i]) : background.even[i];
        two[i] = pair ? 0.5 * (background.even[i] - background.odd[i]) : 0;
    }
    struct edge_sums sums = sum_edges(line, &local, &mean, one, two);
    struct ww_full full = solve(s, angle, x, y);
    struct matrix c = section_matrix(&full, pair);
    struct matrix upper = matrix_of(sums.upper[0], sums.upper[1], sums.upper[2], pair);
    struct matrix p = matrix_of(sums.lower[0], sums.lower[1], sums.lower[2], pair);
    struct matrix lower = thomson(background_matrix(line), p);
    double above = smallest_share(difference(upper, c), c), below = smallest_share(difference(c, lower), c);
    if (!pair) { /* the second leg, which is not there, would always share 0 */
        above = (upper.c11 - c.c11) / c.c11;
        below = (c.c11 - lower.c11) / c.c11;
    }
    assert_true(above >= -1e-9);
    assert_true(below >= -1e-9);
    assert_true(above < 0.1 && below < 0.1); /* and they say something */
    free(one);
    ww_local_clear(&local);
    ww_layered_destroy(&mean);
    ww_background_clear(&background);
}

static void test_trial_fields_bound_the_section_exactly(void **state)
{
    (void)state;
    for (enum structure_kind kind = STRIPLINE; kind <= COVERED; kind++)
        for (int pair = 0; pair < 2; pair++) {
            struct structure_options options = pair ? structure_pair() : structure_single();
            options.kind = kind;
            struct structure s;
            open(&s, &options);
            for (int n = 0; n < 3; n++)
                check_bounds_on_the_grid(&s, 0.45 * n, 61 * UM * n, 97 * UM * n);
            structure_close(&s);
        }
}

/* The kernel's two capacitances at one place, from the harmonics of every ply. */
static void kernel_bounds(const struct ww_line *line, double angle, double x, double y, struct matrix *upper,
                          struct matrix *lower)
{
    double change[WW_CHANGES] = {0};
    for (size_t p = 0; p < line->stack->plies; p++) {
        const struct ww_harmonics *h = &line->harmonics[p];
        double _Complex *change_of = calloc(h->count * WW_CHANGES, sizeof *change_of);
        ww_line_change(line, p, angle - line->stack->ply[p].turn, (const double[2]){0, 0}, change_of);
        for (size_t i = 0; i < h->count; i++) {
            double phase = h->harmonic[i].kx * x + h->harmonic[i].ky * y;
            double times = h->harmonic[i].m ? 2 : 1; /* the half plane m > 0 stands for both */
            for (size_t c = 0; c < WW_CHANGES; c++)
                change[c] += times * creal(change_of[i * WW_CHANGES + c] * cexp(I * phase));
        }
        free(change_of);
    }
    struct matrix c0 = background_matrix(line);
    bool pair = line->mesh.pair;
    *upper =
        matrix_of(c0.c11 + change[WW_UPPER_11], c0.c12 + change[WW_UPPER_12], c0.c22 + change[WW_UPPER_22], pair);
    struct matrix p =
        matrix_of(c0.c11 + change[WW_LOWER_11], c0.c12 + change[WW_LOWER_12], c0.c22 + change[WW_LOWER_22], pair);
    *lower = thomson(c0, p);
}

struct margins {
    double above, below, width;
};

static void widen(struct margins *least, const struct structure *s, double angle, double x, double y)
{
    bool pair = s->line->mesh.pair;
    struct matrix upper, lower;
    kernel_bounds(s->line, angle, x, y, &upper, &lower);
    struct ww_full full = solve(s, angle, x, y);
    struct matrix c = section_matrix(&full, pair);
    double above = pair ? smallest_share(difference(upper, c), c) : (upper.c11 - c.c11) / c.c11;
    double below = pair ? smallest_share(difference(c, lower), c) : (c.c11 - lower.c11) / c.c11;
    least->above = fmin(least->above, above);
    least->below = fmin(least->below, below);
    least->width = fmax(least->width, (upper.c11 - lower.c11) / c.c11);
}

/* C+ >= C >= C-, as quadratic forms, for the kernel's own bounds. The kernel has the cloth from the cell: averaged
 * over samples of some 9 um by 9 um and a slice, its series cut at a third of the samples; the section has the yarns
 * themselves. Averaging takes contrast away and so widens the bracket (fractions enter C+ in parallel and C- in series); the
 * harmonics beyond the cut, shorter than 6 steps of the cell, are weighed by E.E, which is smooth at the distance of the
 * cloth from the copper, and are worth less than 1e-4 of C where the bracket is 1 to 4 % wide. So the bounds hold with
 * nothing allowed for the difference of the two descriptions; margins down to 5e-4 of C were met. */
static void check_kernel_bounds(const char *style, enum structure_kind kind, bool pair, size_t samples)
{
    static const double angle[] = {0, 0.4, WW_PI / 2};
    struct structure_options options = pair ? structure_pair() : structure_single();
    options.kind = kind;
    options.style = style;
    options.ply = 0;
    options.cell.nx = options.cell.ny = samples;
    struct structure s;
    open(&s, &options);
    double lx = s.stack.ply[0].cell.lx, ly = s.stack.ply[0].cell.ly;
    struct margins least = {1, 1, 0};
    for (size_t i = 0; i < sizeof angle / sizeof *angle; i++)
        for (int n = 0; n < 3; n++)
            widen(&least, &s, angle[i], fmod(0.137 + 0.291 * n, 1) * lx, fmod(0.221 + 0.373 * (double)i, 1) * ly);
    print_message("%-12s kind %d, %s: C+ - C >= %.1e C, C - C- >= %.1e C, between them %.1e C\n", style, (int)kind,
                  pair ? "pair" : "single", least.above, least.below, least.width);
    assert_true(least.above >= 0);
    assert_true(least.below >= 0);
    assert_true(least.width < 0.1);
    structure_close(&s);
}

static void test_kernel_bounds_hold_the_section(void **state)
{
    (void)state;
    check_kernel_bounds("1080", STRIPLINE, false, 0);
    check_kernel_bounds("1080", STRIPLINE, true, 0);
    check_kernel_bounds("2116", SANDWICH, true, 0);
    check_kernel_bounds("1080-spread", STRIPLINE, true, 0);
    check_kernel_bounds("106", SANDWICH, false, 0);
}

/* --- refusals ---------------------------------------------------------------------------------------------------- */

static void assert_no_number(const struct ww_full *full)
{
    for (int i = 0; i < 2; i++) {
        assert_true(full->c[i][0] == 0 && full->c[i][1] == 0);
        assert_true(full->dk[i] == 0 && full->delay[i] == 0);
    }
}

static void test_a_solve_cut_short_says_so_and_gives_no_number(void **state)
{
    (void)state;
    struct structure_options options = structure_pair();
    struct structure s;
    open(&s, &options);
    double place[1][2] = {{70 * UM, 45 * UM}};
    struct ww_full_options short_of = {.iterations = 2};
    struct ww_error error = {0};
    struct ww_full full;
    memset(&full, 0x5a, sizeof full);
    assert_int_equal(ww_section_solve(s.line, 0, place, &short_of, &full, &error), WW_NOT_CONVERGED);
    assert_int_equal(full.iterations, 2);
    assert_true(full.residual > 1e-8 && full.residual < 1);
    assert_no_number(&full);
    assert_contains(error.text, "residual");
    assert_contains(error.text, "2 iterations");
    structure_close(&s);
}

static void test_a_looser_tolerance_is_met_sooner(void **state)
{
    (void)state;
    struct structure_options options = structure_pair();
    struct structure s;
    open(&s, &options);
    double place[1][2] = {{70 * UM, 45 * UM}};
    struct ww_error error = {0};
    struct ww_full rough, fine;
    struct ww_full_options wish = {.tolerance = 1e-3};
    assert_ok(ww_section_solve(s.line, 0, place, &wish, &rough, &error), error);
    wish.tolerance = 1e-11;
    assert_ok(ww_section_solve(s.line, 0, place, &wish, &fine, &error), error);
    assert_true(rough.iterations < fine.iterations);
    assert_true(rough.residual <= 1e-3 && fine.residual <= 1e-11);
    /* the cloth moves C by 10 %; a thousandth of that is left at most */
    assert_close(rough.dk[0], fine.dk[0], 1e-4, 0);
    assert_true(rough.dk[0] != fine.dk[0]);
    structure_close(&s);
}

static void test_angles_that_are_no_numbers_are_refused(void **state)
{
    (void)state;
    struct structure_options options = structure_single();
    struct structure s;
    open(&s, &options);
    double place[1][2] = {{0, 0}};
    struct ww_error error = {0};
    struct ww_full full;
    assert_int_equal(ww_section_solve(s.line, (double)NAN, place, NULL, &full, &error), WW_INVALID);
    assert_no_number(&full);
    assert_int_equal(ww_section_solve(s.line, (double)INFINITY, place, NULL, &full, NULL), WW_INVALID);
    structure_close(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_glass_like_resin_is_the_background),
        cmocka_unit_test(test_plain_layers_are_exact),
        cmocka_unit_test(test_mean_conductances_need_no_iteration),
        cmocka_unit_test(test_matrix_is_symmetric_and_positive_definite),
        cmocka_unit_test(test_mirror_swaps_the_legs),
        cmocka_unit_test(test_warp_and_fill_are_alike),
        cmocka_unit_test(test_a_shift_by_a_cell_changes_nothing),
        cmocka_unit_test(test_the_ply_may_be_turned_and_shifted_instead),
        cmocka_unit_test(test_each_ply_has_its_own_place),
        cmocka_unit_test(test_the_cloth_of_one_ply_alone),
        cmocka_unit_test(test_same_digits_on_any_number_of_threads),
        cmocka_unit_test(test_trial_fields_bound_the_section_exactly),
        cmocka_unit_test(test_kernel_bounds_hold_the_section),
        cmocka_unit_test(test_a_solve_cut_short_says_so_and_gives_no_number),
        cmocka_unit_test(test_a_looser_tolerance_is_met_sooner),
        cmocka_unit_test(test_angles_that_are_no_numbers_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
