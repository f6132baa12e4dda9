/* test_volume.c - the full 3-D solution: limits, invariants, bounds, refusals.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"
#include "structure.h"

#include <stdio.h>
#include <stdlib.h>

#include "line/conjugate.h"

static void open(struct structure *structure, const struct structure_options *options)
{
    struct ww_error error = {0};
    assert_ok(structure_open(structure, options, &error), error);
}

/* A period that starts with every ply at the same place of its own cell. */
static struct ww_full solve(const struct structure *structure, double angle, double x, double y, size_t along)
{
    double place[2][2] = {{x, y}, {x, y}};
    struct ww_full_options wish = {.along = along};
    struct ww_error error = {0};
    struct ww_full full;
    assert_ok(ww_volume_solve(structure->line, angle, place, &wish, &full, &error), error);
    return full;
}

static struct ww_full solve_section(const struct structure *structure, double angle, double x, double y)
{
    double place[2][2] = {{x, y}, {x, y}};
    struct ww_error error = {0};
    struct ww_full full;
    assert_ok(ww_section_solve(structure->line, angle, place, NULL, &full, &error), error);
    return full;
}

/* Mean over a period of the sections' capacitances, at the middles of `count` even steps. */
static void mean_of_sections(const struct structure *s, double angle, double x, double y, int count, double c[2][2])
{
    double period;
    struct ww_error error = {0};
    assert_ok(ww_volume_period(s->line, angle, &period, &error), error);
    memset(c, 0, 2 * sizeof *c);
    for (int n = 0; n < count; n++) {
        double ahead = (n + 0.5) / count * period;
        struct ww_full full = solve_section(s, angle, x + ahead * sin(angle), y + ahead * cos(angle));
        for (int i = 0; i < 4; i++)
            c[i / 2][i % 2] += full.c[i / 2][i % 2] / count;
    }
}

/* A grid as coarse as the limits and invariants allow, which do not ask for accuracy. */
static struct structure_options coarse(bool pair)
{
    struct structure_options options = pair ? structure_pair() : structure_single();
    options.fineness = 0.3;
    return options;
}

/* --- limits ------------------------------------------------------------------------------------------------------ */

static void test_glass_like_resin_is_the_background(void **state)
{
    (void)state;
    for (int pair = 0; pair < 2; pair++) {
        struct structure_options options = coarse(pair);
        options.glass_dk = options.resin_dk = 3.2;
        struct structure s;
        open(&s, &options);
        struct ww_full full = solve(&s, 0, 37 * UM, 81 * UM, 8);
        assert_in_range(full.iterations, 0, 1);
        assert_close(full.dk[0], 3.2, 1e-9, 0);
        assert_close(full.dk[0], s.line->summary.dk_eff, 1e-9, 0);
        structure_close(&s);
    }
}

/* The conductances of one section at every sample along: nothing changes along, and the volume is the section. */
static void test_the_same_all_along_is_the_section(void **state)
{
    (void)state;
    struct structure_options options = coarse(true);
    struct structure s;
    open(&s, &options);
    const struct ww_line *line = s.line;
    struct ww_period period = {12, 70 * UM};
    struct ww_error error = {0};
    struct ww_local one = {0}, all = {0};
    double place[1][2] = {{70 * UM, 45 * UM}}, of_section[2][2], of_volume[2][2];
    struct ww_conjugate_report report;
    assert_ok(ww_local_build(&one, line, 0.3, place, 0, WW_CROSS_SECTION, &error), error);
    assert_ok(ww_local_build(&all, line, 0, place, 0, period, &error), error);
    for (size_t k = 0; k < line->mesh.rows; k++)
        for (size_t j = 0; j < period.samples; j++)
            memcpy(all.up + (k * period.samples + j) * all.nodes, one.up + k * all.nodes, all.nodes * sizeof(double));
    for (size_t k = 0; k < all.levels; k++)
        for (size_t j = 0; j < period.samples; j++)
            memcpy(all.across + (k * period.samples + j) * (all.nodes + 1), one.across + k * (all.nodes + 1),
                   (all.nodes + 1) * sizeof(double));
    assert_ok(ww_conjugate_solve(line, &one, WW_CROSS_SECTION, 2, 1e-10, 60, of_section, &report, &error), error);
    assert_ok(ww_conjugate_solve(line, &all, period, 2, 1e-10, 60, of_volume, &report, &error), error);
    for (int i = 0; i < 4; i++)
        assert_close(of_volume[i / 2][i % 2], of_section[i / 2][i % 2], 1e-9, 0);
    ww_local_clear(&one);
    ww_local_clear(&all);
    structure_close(&s);
}

/* --- bounds ------------------------------------------------------------------------------------------------------ */

/* Smallest of x'a x / x'unit x for symmetric matrices {11, 12, 22}. */
static double smallest_share(const double a[3], const double unit[3])
{
    double du = unit[0] * unit[2] - unit[1] * unit[1];
    double half = 0.5 * (unit[2] * a[0] - 2 * unit[1] * a[1] + unit[0] * a[2]) / du;
    double product = (a[0] * a[2] - a[1] * a[1]) / du;
    return half - sqrt(fmax(half * half - product, 0));
}

static double share_above(double above[2][2], double below[2][2])
{
    const double more[3] = {above[0][0] - below[0][0],
                            0.5 * (above[0][1] + above[1][0]) - 0.5 * (below[0][1] + below[1][0]),
                            above[1][1] - below[1][1]};
    const double unit[3] = {below[0][0], 0.5 * (below[0][1] + below[1][0]), below[1][1]};
    return smallest_share(more, unit);
}

/* One sample's conductances of a volume, as a section. */
static struct ww_local sample_of(const struct ww_local *all, size_t rows, size_t j)
{
    struct ww_local one = {all->nodes, 1, all->levels, NULL, NULL, NULL};
    one.up = calloc(rows * one.nodes, sizeof(double));
    one.across = calloc(one.levels * (one.nodes + 1), sizeof(double));
    assert_true(one.up && one.across);
    for (size_t k = 0; k < rows; k++)
        memcpy(one.up + k * one.nodes, all->up + (k * all->along + j) * all->nodes, one.nodes * sizeof(double));
    for (size_t k = 0; k < one.levels; k++)
        memcpy(one.across + k * (one.nodes + 1), all->across + (k * all->along + j) * (all->nodes + 1),
               (one.nodes + 1) * sizeof(double));
    return one;
}

/* One period solved as a volume, as the sections of its samples, and with the background's field for a trial; the mean per
 * length of each, in units of eps0. */
struct energies {
    double volume[2][2], sections[2][2], trial[2][2];
};

static void compare_energies(const struct structure *s, size_t samples, struct energies *e)
{
    const struct ww_line *line = s->line;
    struct ww_error error = {0};
    struct ww_local all = {0};
    struct ww_background background = {0};
    struct ww_conjugate_report report;
    struct ww_period period = {samples, s->stack.ply[0].cell.ly / (double)samples};
    double place[1][2] = {{70 * UM, 45 * UM}}, part = 1 / (double)samples;
    memset(e, 0, sizeof *e);
    assert_ok(ww_local_build(&all, line, 0, place, 0, period, &error), error);
    assert_ok(ww_conjugate_solve(line, &all, period, 2, 1e-10, 60, e->volume, &report, &error), error);
    assert_ok(ww_background_solve(&background, &line->mesh, false, true, &error), error);
    size_t size = all.nodes * all.levels;
    double *leg[2], *image = calloc(size, sizeof *image);
    for (int i = 0; i < 2; i++) {
        leg[i] = calloc(size, sizeof *leg[i]);
        for (size_t n = 0; n < size; n++)
            leg[i][n] = 0.5 * (background.even[n] + (i ? -1 : 1) * background.odd[n]);
    }
    for (size_t j = 0; j < samples; j++) {
        struct ww_local one = sample_of(&all, line->mesh.rows, j);
        double c[2][2];
        assert_ok(ww_conjugate_solve(line, &one, WW_CROSS_SECTION, 2, 1e-10, 60, c, &report, &error), error);
        for (int a = 0; a < 2; a++) {
            ww_local_apply(&one, leg[a], image);
            for (int b = 0; b < 2; b++) {
                e->sections[a][b] += c[a][b] * part;
                for (size_t n = 0; n < size; n++)
                    e->trial[a][b] += leg[b][n] * image[n] * part;
            }
        }
        ww_local_clear(&one);
    }
    free(leg[0]);
    free(leg[1]);
    free(image);
    ww_background_clear(&background);
    ww_local_clear(&all);
}

/* Cut the edges along, and energy falls to the mean of the sections of the samples; force the background's potential
 * everywhere, and it rises to the mean of its energies there. Both by Dirichlet's principle, on the grid exactly. */
static void test_volume_lies_between_sections_and_trial_field(void **state)
{
    (void)state;
    struct structure_options options = coarse(true);
    struct structure s;
    struct energies e;
    open(&s, &options);
    compare_energies(&s, 12, &e);
    double over_sections = share_above(e.volume, e.sections), under_trial = share_above(e.trial, e.volume);
    print_message("volume above the sections by %.2e, below the background's field by %.2e\n", over_sections,
                  under_trial);
    assert_true(over_sections > 0 && over_sections < 0.01);
    assert_true(under_trial > 0 && under_trial < 0.1);
    structure_close(&s);
}

/* The cloth drawn out along its warp, so that the sections change ever more slowly: the field along goes as the rate of
 * change, its energy and with it what the volume has above its own sections goes as the square. */
static void test_slow_change_tends_to_the_mean_of_sections(void **state)
{
    (void)state;
    struct ww_error error = {0};
    struct ww_style cloth;
    assert_ok(structure_cloth("1080", &cloth, &error), error);
    struct structure_options options = coarse(true);
    double excess[3];
    for (int n = 0; n < 3; n++) {
        double stretch = 4 << n;
        struct ww_style drawn = cloth;
        drawn.fill_count.value /= stretch;
        drawn.fill.width.value *= stretch;
        drawn.fill.tex.value *= stretch;
        drawn.fill.glass_area *= stretch;
        options.cloth = &drawn;
        struct structure s;
        struct energies e;
        open(&s, &options);
        compare_energies(&s, 12, &e);
        excess[n] = e.volume[0][0] / e.sections[0][0] - 1;
        print_message("drawn out %2.0f times: volume above the mean of sections by %.2e\n", stretch, excess[n]);
        structure_close(&s);
    }
    assert_true(excess[0] > 0 && excess[0] < 1e-3);
    assert_close(log2(excess[1] / excess[2]), 2, 0, 0.1);
}

/* --- invariants -------------------------------------------------------------------------------------------------- */

static void test_matrix_is_symmetric_and_positive_definite(void **state)
{
    (void)state;
    struct structure_options options = coarse(true);
    struct structure s;
    open(&s, &options);
    struct ww_full full = solve(&s, WW_PI / 2, 40 * UM, 90 * UM, 16);
    assert_true(full.residual <= 1e-8);
    assert_close(full.c[0][1], full.c[1][0], 1e-7, 0);
    assert_true(full.c[0][0] > 0 && full.c[0][1] < 0);
    assert_true(full.c[0][0] + full.c[0][1] > 0 && full.c[1][1] + full.c[0][1] > 0);
    assert_close(full.period, s.stack.ply[0].cell.lx, 1e-12, 0);
    structure_close(&s);
}

/* Mirrored in the axis of a warp yarn. */
static void test_mirror_swaps_the_legs(void **state)
{
    (void)state;
    struct structure_options options = coarse(true);
    struct structure s;
    open(&s, &options);
    double px = 0.5 * s.stack.ply[0].cell.lx;
    struct ww_full one = solve(&s, 0, 70 * UM, 45 * UM, 16), other = solve(&s, 0, px - 70 * UM, 45 * UM, 16);
    assert_true(fabs(one.dk[0] - one.dk[1]) > 1e-3);
    assert_close(other.c[1][1], one.c[0][0], 1e-7, 0);
    assert_close(other.dk[0] - other.dk[1], one.dk[1] - one.dk[0], 1e-5, 0);
    structure_close(&s);
}

/* A trace along the fill is one along the warp of the reflected cloth (x = y; legs exchanged, and the crimp's sign, which
 * a pitch sets right). */
static void test_warp_and_fill_are_alike(void **state)
{
    (void)state;
    struct ww_error error = {0};
    struct ww_style cloth, exchanged;
    assert_ok(structure_cloth("1080", &cloth, &error), error);
    exchanged = structure_exchanged(&cloth);
    struct structure_options options = coarse(true);
    options.cloth = &cloth;
    struct structure one, other;
    open(&one, &options);
    options.cloth = &exchanged;
    open(&other, &options);
    double py = 0.5 * one.stack.ply[0].cell.ly;
    struct ww_full a = solve(&one, WW_PI / 2, 70 * UM, 45 * UM, 16);
    struct ww_full b = solve(&other, 0, 45 * UM + py, 70 * UM, 16);
    assert_close(b.period, a.period, 1e-12, 0);
    assert_close(b.dk[1], a.dk[0], 1e-5, 0); /* cells averaged from other columns: backgrounds agree to 1e-6 */
    assert_close(b.dk[0], a.dk[1], 1e-5, 0);
    structure_close(&one);
    structure_close(&other);
}

/* Where the period starts is of no matter: a cell on, a whole number of samples on. */
static void test_start_along_the_trace_changes_nothing(void **state)
{
    (void)state;
    struct structure_options options = coarse(false);
    struct structure s;
    open(&s, &options);
    double lx = s.stack.ply[0].cell.lx, ly = s.stack.ply[0].cell.ly;
    double angle[] = {0, WW_PI / 2, atan2(lx, ly)};
    for (size_t i = 0; i < sizeof angle / sizeof *angle; i++) {
        double ux = sin(angle[i]), uy = cos(angle[i]);
        struct ww_full here = solve(&s, angle[i], 70 * UM, 45 * UM, 16);
        for (int n = 5; n <= 16; n += 11) {
            double ahead = n * here.period / 16;
            struct ww_full there = solve(&s, angle[i], 70 * UM + ahead * ux, 45 * UM + ahead * uy, 16);
            assert_close(there.dk[0], here.dk[0], 1e-9, 0);
        }
        struct ww_full cell = solve(&s, angle[i], 70 * UM - 2 * lx, 45 * UM + ly, 16);
        assert_close(cell.dk[0], here.dk[0], 1e-9, 0);
    }
    structure_close(&s);
}

static void test_the_ply_may_be_turned_instead(void **state)
{
    (void)state;
    struct structure_options options = coarse(true);
    struct structure s;
    open(&s, &options);
    struct ww_full along_fill = solve(&s, WW_PI / 2, 70 * UM, 45 * UM, 16);
    structure_close(&s);
    options.turn = -WW_PI / 2;
    options.shift_x = 30 * UM;
    options.shift_y = -20 * UM;
    open(&s, &options);
    struct ww_full turned = solve(&s, 0, 100 * UM, 25 * UM, 16);
    structure_close(&s);
    assert_close(turned.period, along_fill.period, 1e-12, 0);
    for (int leg = 0; leg < 2; leg++)
        assert_close(turned.dk[leg], along_fill.dk[leg], 1e-9, 0);
}

static void test_same_digits_on_any_number_of_threads(void **state)
{
    (void)state;
    int threads = ww_threads();
    struct structure_options options = coarse(true);
    struct ww_full first = {0};
    for (int count = 1; count <= 3; count++) {
        ww_threads_set(count);
        struct structure s;
        open(&s, &options);
        struct ww_full full = solve(&s, 0, 70 * UM, 45 * UM, 16);
        structure_close(&s);
        full.seconds = 0;
        if (count == 1)
            first = full;
        assert_memory_equal(&full, &first, sizeof full);
    }
    ww_threads_set(threads);
}

/* --- accuracy ---------------------------------------------------------------------------------------------------- */

/* Against the mean of sections: 0.03 % was measured on a prototype for a plain cloth; the field along can only add, and
 * for the cloths shipped adds less than 0.1 %. */
static void test_volume_is_close_to_the_sections(void **state)
{
    (void)state;
    struct structure_options options = coarse(true);
    struct structure s;
    open(&s, &options);
    double lx = s.stack.ply[0].cell.lx, ly = s.stack.ply[0].cell.ly;
    double angle[] = {0, atan2(lx, ly)};
    for (size_t i = 0; i < sizeof angle / sizeof *angle; i++) {
        double mean[2][2];
        struct ww_full full = solve(&s, angle[i], 70 * UM, 45 * UM, 32);
        mean_of_sections(&s, angle[i], 70 * UM, 45 * UM, 32, mean);
        double of_leg1 = (full.c[0][0] - full.c[0][1]) / (mean[0][0] - mean[0][1]) - 1;
        double of_leg2 = (full.c[1][1] - full.c[0][1]) / (mean[1][1] - mean[0][1]) - 1;
        print_message("%4.1f deg, period %.4g mm: volume over sections %+.2e, %+.2e; %d iterations\n",
                      angle[i] / DEGREES, full.period * 1e3, of_leg1, of_leg2, full.iterations);
        assert_close(of_leg1, 0, 0, 1e-3);
        assert_close(of_leg2, 0, 0, 1e-3);
    }
    structure_close(&s);
}

/* Twice the samples along, and again: the change falls as the step squared, and at the 64 that are the default is below
 * 1e-4 of the permittivity. */
static void test_samples_along_converge(void **state)
{
    (void)state;
    struct structure_options options = coarse(false);
    struct structure s;
    open(&s, &options);
    double dk[4], change[3];
    for (int n = 0; n < 4; n++)
        dk[n] = solve(&s, 0, 70 * UM, 45 * UM, (size_t)16 << n).dk[0];
    for (int n = 0; n < 3; n++)
        change[n] = fabs(dk[n + 1] - dk[n]);
    print_message("dk %.7f, %.7f, %.7f, %.7f with 16, 32, 64, 128 samples: order %.2f, %.2f\n", dk[0], dk[1], dk[2],
                  dk[3], log2(change[0] / change[1]), log2(change[1] / change[2]));
    assert_true(change[2] < 1e-4 * dk[3]);
    assert_true(change[2] < change[0] / 6);
    structure_close(&s);
}

/* --- refusals ---------------------------------------------------------------------------------------------------- */

static void assert_no_number(const struct ww_full *full)
{
    for (int i = 0; i < 2; i++) {
        assert_true(full->c[i][0] == 0 && full->c[i][1] == 0);
        assert_true(full->dk[i] == 0 && full->delay[i] == 0);
    }
}

static void test_a_period_too_large_is_refused_beforehand(void **state)
{
    (void)state;
    struct structure_options options = coarse(false);
    struct structure s;
    open(&s, &options);
    double place[1][2] = {{0, 0}};
    struct ww_full_options wish = {.memory = 1e6};
    struct ww_error error = {0};
    struct ww_full full;
    memset(&full, 0x5a, sizeof full);
    assert_int_equal(ww_volume_solve(s.line, 0, place, &wish, &full, &error), WW_NO_MEMORY);
    assert_no_number(&full);
    assert_contains(error.text, "would need");
    assert_contains(error.text, "GB");
    double unknowns = (double)((s.line->mesh.columns - 1) * (s.line->mesh.rows - 1)) * 64;
    char size[32];
    snprintf(size, sizeof size, "%.3g unknowns", unknowns);
    assert_contains(error.text, size);
    /* a thousand million samples along: nothing overflows, nothing is tried */
    wish = (struct ww_full_options){.along = 1000000000};
    assert_int_equal(ww_volume_solve(s.line, 0, place, &wish, &full, &error), WW_NO_MEMORY);
    structure_close(&s);
}

static void test_a_direction_off_the_lattice_is_refused(void **state)
{
    (void)state;
    struct structure_options options = coarse(false);
    struct structure s;
    open(&s, &options);
    double place[1][2] = {{0, 0}}, period = -1;
    struct ww_error error = {0};
    struct ww_full full;
    assert_int_equal(ww_volume_solve(s.line, 0.1, place, NULL, &full, &error), WW_INVALID);
    assert_no_number(&full);
    assert_contains(error.text, "5.7");
    assert_int_equal(ww_volume_period(s.line, 0.1, &period, &error), WW_INVALID);
    assert_true(period == 0);
    assert_int_equal(ww_volume_period(s.line, (double)NAN, &period, &error), WW_INVALID);
    assert_int_equal(ww_volume_solve(s.line, (double)NAN, place, NULL, &full, &error), WW_INVALID);
    /* a diagonal of several cells, either way round */
    double lx = s.stack.ply[0].cell.lx, ly = s.stack.ply[0].cell.ly;
    assert_ok(ww_volume_period(s.line, atan2(3 * lx, -2 * ly), &period, &error), error);
    assert_close(period, hypot(3 * lx, 2 * ly), 1e-9, 0);
    assert_ok(ww_volume_period(s.line, WW_PI, &period, &error), error);
    assert_close(period, ly, 1e-9, 0);
    structure_close(&s);
}

static void test_plies_share_a_period_or_are_refused(void **state)
{
    (void)state;
    struct ww_error error = {0};
    struct ww_style cloth;
    assert_ok(structure_cloth("1080", &cloth, &error), error);
    struct structure_options options = coarse(false);
    options.cloth = &cloth;
    options.kind = SANDWICH;
    options.turn_above = WW_PI / 2;
    struct structure s;
    struct ww_full full;
    double place[2][2] = {{0, 0}, {0, 0}}, period;
    /* 60 by 47 per inch, one ply across the other: 47 cells would have to meet 60 */
    open(&s, &options);
    assert_int_equal(ww_volume_solve(s.line, 0, place, NULL, &full, &error), WW_INVALID);
    assert_no_number(&full);
    assert_contains(error.text, "share no period");
    double lx = s.stack.ply[0].cell.lx, ly = s.stack.ply[0].cell.ly;
    assert_ok(ww_volume_period_of_ply(s.line, 0, 0, &period, &error), error);
    assert_close(period, lx, 1e-12, 0);
    assert_ok(ww_volume_period_of_ply(s.line, 1, 0, &period, &error), error);
    assert_close(period, ly, 1e-12, 0);
    /* either ply alone can be had */
    struct ww_full_options one = {.ply = 1, .along = 8};
    assert_ok(ww_volume_solve(s.line, 0, place, &one, &full, &error), error);
    assert_close(full.period, lx, 1e-12, 0);
    structure_close(&s);
    /* 60 by 40: two repeats of the one are three of the other */
    cloth.fill_count.value = cloth.warp_count.value * 2 / 3;
    open(&s, &options);
    assert_ok(ww_volume_period(s.line, 0, &period, &error), error);
    assert_close(period, 2 * s.stack.ply[1].cell.ly, 1e-9, 0);
    assert_close(period, 3 * s.stack.ply[0].cell.lx, 1e-9, 0);
    structure_close(&s);
}

static void test_an_odd_number_of_samples_is_refused(void **state)
{
    (void)state;
    struct structure_options options = coarse(false);
    struct structure s;
    open(&s, &options);
    double place[1][2] = {{0, 0}};
    struct ww_full_options wish = {.along = 7};
    struct ww_error error = {0};
    struct ww_full full;
    assert_int_equal(ww_volume_solve(s.line, 0, place, &wish, &full, &error), WW_INVALID);
    assert_contains(error.text, "even");
    structure_close(&s);
}

static void test_a_solve_cut_short_says_so_and_gives_no_number(void **state)
{
    (void)state;
    struct structure_options options = coarse(true);
    struct structure s;
    open(&s, &options);
    double place[1][2] = {{70 * UM, 45 * UM}};
    struct ww_full_options wish = {.along = 8, .iterations = 2};
    struct ww_error error = {0};
    struct ww_full full;
    memset(&full, 0x5a, sizeof full);
    assert_int_equal(ww_volume_solve(s.line, 0, place, &wish, &full, &error), WW_NOT_CONVERGED);
    assert_int_equal(full.iterations, 2);
    assert_true(full.residual > 1e-8 && full.residual < 1);
    assert_no_number(&full);
    assert_contains(error.text, "residual");
    structure_close(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_glass_like_resin_is_the_background),
        cmocka_unit_test(test_the_same_all_along_is_the_section),
        cmocka_unit_test(test_slow_change_tends_to_the_mean_of_sections),
        cmocka_unit_test(test_volume_lies_between_sections_and_trial_field),
        cmocka_unit_test(test_matrix_is_symmetric_and_positive_definite),
        cmocka_unit_test(test_mirror_swaps_the_legs),
        cmocka_unit_test(test_warp_and_fill_are_alike),
        cmocka_unit_test(test_start_along_the_trace_changes_nothing),
        cmocka_unit_test(test_the_ply_may_be_turned_instead),
        cmocka_unit_test(test_same_digits_on_any_number_of_threads),
        cmocka_unit_test(test_volume_is_close_to_the_sections),
        cmocka_unit_test(test_samples_along_converge),
        cmocka_unit_test(test_a_period_too_large_is_refused_beforehand),
        cmocka_unit_test(test_a_direction_off_the_lattice_is_refused),
        cmocka_unit_test(test_plies_share_a_period_or_are_refused),
        cmocka_unit_test(test_an_odd_number_of_samples_is_refused),
        cmocka_unit_test(test_a_solve_cut_short_says_so_and_gives_no_number),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
