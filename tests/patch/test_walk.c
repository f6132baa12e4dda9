/* A walk over real cloth: today's numbers without scatter, and the volume with it.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "../line/board.h"
#include "correct/correction.h"
#include "random.h"
#include "weftwise/patch.h"

static const double angles[] = {0, 0.02, -0.8, 0.5 * WW_PI};
#define ANGLES (sizeof angles / sizeof *angles)

static struct board_options pair_options(void)
{
    struct board_options options = board_pair();
    options.cell = (struct ww_cell_options){.nx = 48, .ny = 48, .nz = 8};
    options.fineness = 0.5;
    return options;
}

static struct ww_correction *corrected(const struct board *board, double angle)
{
    const struct ww_correction_request request = {.side = 6, .angle = &angle, .angles = 1};
    struct ww_correction *correction;
    struct ww_error error = {0};
    assert_ok(ww_correction_create(&correction, board->line, NULL, &request, &error), error);
    return correction;
}

static struct ww_patch *drawn(const struct board *board, size_t ply, const struct ww_scatter *scatter, double width,
                              double length, uint64_t draw)
{
    struct ww_patch *patch;
    struct ww_error error = {0};
    const struct ww_style *style = ww_stack_cloth(&board->stack, ply).style;
    assert_ok(ww_patch_create(&patch, style, scatter, width, length, draw, &error), error);
    return patch;
}

static struct ww_walk *walking(const struct board *board, const struct ww_correction *correction, double angle,
                               double step)
{
    struct ww_walk *walk;
    struct ww_error error = {0};
    assert_ok(ww_walk_create(&walk, board->line, correction, angle, step, NULL, &error), error);
    return walk;
}

/* --- without scatter ------------------------------------------------------------------------------------------ */

/* A shifted and turned ply, pair and single, corrected, at all lengths and from anywhere: the scan's value to 1e-9 of its worst. */
static void without_scatter_it_tells_what_the_scan_tells(void **state)
{
    (void)state;
    enum { STEPS = 50 };
    const struct ww_scatter none = {0};
    struct random random = random_of(5);
    for (int single = 0; single < 2; single++) {
        struct board_options options = pair_options();
        options.pitch = single ? 0 : options.pitch;
        options.turn = 0.1;
        options.shift_x = 60 * UM;
        options.shift_y = -30 * UM;
        struct board board;
        board_open(&board, &options);
        size_t plies = board.stack.plies;
        struct ww_patch *patch[2] = {0};
        for (size_t p = 0; p < plies; p++)
            patch[p] = drawn(&board, p, &none, 5e-3, 5e-3, 0);
        for (size_t a = 0; a < ANGLES; a++) {
            struct ww_correction *correction = corrected(&board, angles[a]);
            struct ww_walk *walk = walking(&board, correction, angles[a], 0.2e-3);
            struct ww_scan *scan;
            struct ww_error error = {0};
            assert_ok(ww_corrected_scan_create(&scan, board.line, correction, angles[a], NULL, &error), error);
            double most = 0, worst = 0;
            for (int n = 0; n < 8; n++) {
                double start[2][2], running[STEPS];
                for (size_t p = 0; p < plies; p++) {
                    start[p][0] = random_between(&random, -1e-3, 4e-3);
                    start[p][1] = random_between(&random, -1e-3, 4e-3);
                }
                ww_walk_along(walk, (const struct ww_patch *const *)patch, (const double(*)[2])start, 0, NULL, STEPS,
                              running);
                for (int i = 1; i <= STEPS; i += 7) {
                    double want = 0, of_ply;
                    for (size_t p = 0; p < plies; p++) {
                        assert_ok(ww_scan_value(scan, p, single ? WW_LEG1 : WW_SKEW, WW_MEAN, 0.2e-3 * i, start[p][0],
                                                start[p][1], &of_ply, &error),
                                  error);
                        want += of_ply;
                    }
                    most = fmax(most, fabs(running[i - 1] - want));
                    worst = fmax(worst, fabs(want));
                }
            }
            assert_close(most, 0, 0, 1e-9 * worst);
            ww_scan_destroy(scan);
            ww_walk_destroy(walk);
            ww_correction_release(correction);
        }
        for (size_t p = 0; p < plies; p++)
            ww_patch_destroy(patch[p]);
        board_close(&board);
    }
}

/* A route, each leg along its own mitred path: the scan's value to 1e-5 of the worst of the weave, over all of it and over its first part, which is a
 * route cut there; lengths that are no whole steps. Of a pair with what its legs differ by at the bends, and of a single trace. */
static void along_a_route_it_tells_what_the_scan_tells(void **state)
{
    (void)state;
    static const struct ww_route_segment route[] = {{2.3e-3, 0.3}, {1.71e-3, -0.6}, {0.9e-3, 0.3}, {2.2e-3, 1.4}};
    enum { LENGTHS = 5, SEGMENTS = 4 };
    static const double length[LENGTHS] = {1.234e-3, 2.3e-3, 3.9e-3, 4.91e-3, 7.11e-3};
    const struct ww_scatter none = {0};
    struct random random = random_of(8);
    for (int single = 0; single < 2; single++) {
        struct board_options options = pair_options();
        options.pitch = single ? 0 : options.pitch;
        options.shift_x = 60 * UM;
        options.cell = (struct ww_cell_options){.nx = 24, .ny = 24, .nz = 6};
        options.turn = 0.1;
        struct board board;
        board_open(&board, &options);
        struct ww_error error = {0};
        struct ww_patch *patch = drawn(&board, 0, &none, 5e-3, 5e-3, 0);
        struct ww_walk *walk;
        const struct ww_scan_options whole = {.route = route, .segments = SEGMENTS, .bends = !single};
        assert_ok(ww_walk_create(&walk, board.line, NULL, 0.2, 0.2e-3, &whole, &error), error);
        double worst = 0, most = 0;
        for (int l = 0; l < LENGTHS; l++) {
            struct ww_route_segment part[SEGMENTS];
            struct ww_scan *scan;
            struct ww_scan_options cut = whole;
            double left = length[l];
            for (cut.segments = 0, cut.route = part; left > 1e-12; cut.segments++) {
                part[cut.segments] = route[cut.segments];
                part[cut.segments].length = fmin(left, route[cut.segments].length);
                left -= part[cut.segments].length;
            }
            assert_ok(ww_scan_create(&scan, board.line, 0.2, &cut, &error), error);
            for (int n = 0; n < 6; n++) {
                double start[1][2] = {{random_between(&random, 0, 4e-3), random_between(&random, 0, 4e-3)}}, want;
                double got[LENGTHS];
                ww_walk_along(walk, (const struct ww_patch *const *)&patch, (const double(*)[2])start, 0, length,
                              LENGTHS, got);
                assert_ok(ww_scan_value(scan, 0, single ? WW_LEG1 : WW_SKEW, WW_MEAN, length[l], start[0][0],
                                        start[0][1], &want, &error),
                          error);
                most = fmax(most, fabs(got[l] - want));
                worst = fmax(worst, fabs(want - (single ? 0 : ww_scan_mismatch(scan))));
            }
            ww_scan_destroy(scan);
        }
        assert_close(most, 0, 0, 1e-5 * worst);
        ww_walk_destroy(walk);
        ww_patch_destroy(patch);
        board_close(&board);
    }
}

/* Cloth whose counts are off, its patch of the style as it is then: the scan's value at that stretch, straight and along a route. */
static void with_counts_off_it_tells_what_the_scan_tells(void **state)
{
    (void)state;
    static const struct ww_route_segment route[] = {{4e-3, 0}, {3e-3, 0.5}};
    const double length[1] = {7e-3};
    const struct ww_scatter none = {0};
    struct random random = random_of(8);
    struct board_options options = pair_options();
    options.shift_x = 60 * UM;
    options.cell = (struct ww_cell_options){.nx = 24, .ny = 24, .nz = 6};
    struct board board;
    struct ww_error error = {0};
    board_open(&board, &options);
    struct ww_style style = *ww_stack_cloth(&board.stack, 0).style;
    struct ww_scan_options stretched = {.stretch = {0.02, -0.015}};
    style.warp_count.value /= 1 + stretched.stretch[0];
    style.fill_count.value /= 1 + stretched.stretch[1];
    struct ww_patch *patch;
    assert_ok(ww_patch_create(&patch, &style, &none, 5e-3, 5e-3, 0, &error), error);
    for (int bent = 0; bent < 2; bent++) {
        struct ww_walk *walk;
        struct ww_scan *scan, *plain;
        double worst = 0, most = 0, moved = 0;
        stretched.route = bent ? route : NULL;
        stretched.segments = bent ? 2 : 0;
        struct ww_scan_options as_woven = stretched;
        as_woven.stretch[0] = as_woven.stretch[1] = 0;
        assert_ok(ww_walk_create(&walk, board.line, NULL, 0.3, 0.2e-3, &stretched, &error), error);
        assert_ok(ww_scan_create(&scan, board.line, 0.3, &stretched, &error), error);
        assert_ok(ww_scan_create(&plain, board.line, 0.3, &as_woven, &error), error);
        for (int n = 0; n < 8; n++) {
            double start[1][2] = {{random_between(&random, 0, 4e-3), random_between(&random, 0, 4e-3)}}, got, want,
                   other;
            ww_walk_along(walk, (const struct ww_patch *const *)&patch, (const double(*)[2])start, 0, length, 1,
                          &got);
            assert_ok(ww_scan_value(scan, 0, WW_SKEW, WW_MEAN, length[0], start[0][0], start[0][1], &want, &error),
                      error);
            assert_ok(ww_scan_value(plain, 0, WW_SKEW, WW_MEAN, length[0], start[0][0], start[0][1], &other, &error),
                      error);
            most = fmax(most, fabs(got - want));
            moved = fmax(moved, fabs(other - want));
            worst = fmax(worst, fabs(want));
        }
        assert_close(most, 0, 0, 1e-5 * worst);
        assert_true(moved > 0.1 * worst);
        ww_scan_destroy(scan);
        ww_scan_destroy(plain);
        ww_walk_destroy(walk);
    }
    ww_patch_destroy(patch);
    board_close(&board);
}

/* --- two plies, without scatter ---------------------------------------------------------------------------------- */

/* A leg's slowness at a place less its mean, one ply in place. */
static double change_at(const struct ww_ply_scan *s, int leg, double x, double y)
{
    double sum = 0;
    for (size_t w = 1; w < s->harmonics; w++) {
        double phase = 2 * WW_PI * (s->order[w].m * x / s->lx + s->order[w].l * y / s->ly);
        double _Complex c = s->coefficient[leg][WW_MEAN][w];
        sum += (s->order[w].m > 0 ? 2 : 1) * (creal(c) * cos(phase) - cimag(c) * sin(phase));
    }
    return sum;
}

/* -1/S_0 times the integral of d_1 d_2, of a straight pair leg 1 less leg 2. */
static double coupling_of(const struct ww_scan *scan, const double start[2][2], double length)
{
    enum { PLACES = 128 };
    int legs = scan->pair ? 2 : 1;
    double sum = 0, mean = 0;
    for (int leg = 0; leg < legs; leg++)
        for (int p = 0; p < 2; p++)
            mean += 0.5 * creal(scan->ply[p].coefficient[leg][WW_MEAN][0]) / legs;
    for (int leg = 0; leg < legs; leg++)
        for (int i = 0; i < PLACES; i++) {
            double product = 1, s = (i + 0.5) / PLACES * length;
            for (int p = 0; p < 2; p++)
                product *= change_at(&scan->ply[p], leg, start[p][0] + s * scan->ply[p].ux,
                                     start[p][1] + s * scan->ply[p].uy);
            sum -= (leg ? -product : product) * length / PLACES;
        }
    return sum / mean;
}

/* Two plies at places of their own: what they do together is the integral of the product of the two to 5e-5 of the worst along the warp, over 2 mm, and all is
 * what the scan tells to 2e-3 of that, within which it leaves small products out; along the diagonal of the cell to a tenth of what they do
 * together. */
static void two_plies_do_together_what_the_scan_tells(void **state)
{
    (void)state;
    enum { STEPS = 100, STARTS = 8, SHORT = 10 };
    const struct ww_scatter none = {0};
    const double step = 0.2e-3;
    for (int single = 0; single < 2; single++) {
        struct board_options options = pair_options();
        options.pitch = single ? 0 : options.pitch;
        options.cell = (struct ww_cell_options){.nx = 24, .ny = 24, .nz = 6};
        options.above = true;
        options.shift_x = 60 * UM;
        struct board board;
        struct ww_error error = {0};
        board_open(&board, &options);
        const double diagonal = atan2(board.stack.ply[0].cell.lx, board.stack.ply[0].cell.ly);
        const double at[] = {0, diagonal, 0.3};
        struct ww_patch *patch[2] = {drawn(&board, 0, &none, 5e-3, 5e-3, 0), drawn(&board, 1, &none, 5e-3, 5e-3, 0)};
        double along = 0;
        for (int a = 0; a < 3; a++) {
            struct ww_walk *walk = walking(&board, NULL, at[a], step);
            struct ww_scan *scan;
            struct random random = random_of(5);
            double off[2] = {0}, together = 0;
            assert_ok(ww_scan_create(&scan, board.line, at[a], NULL, &error), error);
            for (int n = 0; n < STARTS; n++) {
                double start[2][2], got[STEPS];
                for (int i = 0; i < 4; i++)
                    start[i / 2][i % 2] = random_between(&random, -1e-3, 4e-3);
                ww_walk_along(walk, (const struct ww_patch *const *)patch, (const double(*)[2])start, 0, NULL, STEPS,
                              got);
                for (int l = 0; l < 2; l++) {
                    int steps = l ? STEPS : SHORT;
                    double sum = 0, of_ply, all;
                    for (size_t p = 0; p < 2; p++) {
                        assert_ok(ww_scan_value(scan, p, single ? WW_LEG1 : WW_SKEW, WW_MEAN, step * steps,
                                                start[p][0], start[p][1], &of_ply, &error),
                                  error);
                        sum += of_ply;
                    }
                    assert_ok(ww_scan_value_of_all(scan, single ? WW_LEG1 : WW_SKEW, WW_MEAN, step * steps,
                                                   (const double(*)[2])start, &all, &error),
                              error);
                    if (l == 0)
                        all = sum + coupling_of(scan, (const double(*)[2])start, step * steps);
                    off[l] = fmax(off[l], fabs(got[steps - 1] - all));
                    together = fmax(together, fabs(all - sum));
                    along = a == 0 ? fmax(along, fabs(all)) : along;
                }
            }
            assert_close(off[0], 0, 0, 5e-5 * along);
            assert_close(off[1], 0, 0, a == 1 ? 0.1 * together : 2e-3 * along);
            assert_true(a != 1 || together > 100 * off[0]); /* or this would say nothing */
            ww_scan_destroy(scan);
            ww_walk_destroy(walk);
        }
        ww_patch_destroy(patch[0]);
        ww_patch_destroy(patch[1]);
        board_close(&board);
    }
}

/* Along a route with a segment on the diagonal, over its whole and its first part. */
static void two_plies_do_together_along_a_route_what_the_scan_tells(void **state)
{
    (void)state;
    enum { STARTS = 8 };
    const struct ww_scatter none = {0};
    struct board_options options = pair_options();
    options.cell = (struct ww_cell_options){.nx = 24, .ny = 24, .nz = 6};
    options.above = true;
    options.turn_above = 0.05;
    struct board board;
    struct ww_error error = {0};
    board_open(&board, &options);
    const double diagonal = atan2(board.stack.ply[0].cell.lx, board.stack.ply[0].cell.ly);
    const struct ww_route_segment route[] = {{3.3e-3, 0}, {5.71e-3, diagonal + 0.01}, {2.9e-3, 0.2}};
    const double length[] = {3.3e-3, 11.91e-3};
    const struct ww_scan_options whole = {.route = route, .segments = 3, .bends = true},
                                 part = {.route = route, .segments = 1, .bends = true};
    struct ww_walk *walk;
    struct ww_scan *scan[2];
    struct ww_patch *patch[2] = {drawn(&board, 0, &none, 5e-3, 5e-3, 0), drawn(&board, 1, &none, 5e-3, 5e-3, 0)};
    struct random random = random_of(6);
    double most = 0, together = 0;
    assert_ok(ww_walk_create(&walk, board.line, NULL, 0, 0.2e-3, &whole, &error), error);
    assert_ok(ww_scan_create(&scan[0], board.line, 0, &part, &error), error);
    assert_ok(ww_scan_create(&scan[1], board.line, 0, &whole, &error), error);
    for (int n = 0; n < STARTS; n++) {
        double start[2][2], got[2];
        for (int i = 0; i < 4; i++)
            start[i / 2][i % 2] = random_between(&random, -1e-3, 4e-3);
        ww_walk_along(walk, (const struct ww_patch *const *)patch, (const double(*)[2])start, 0, length, 2, got);
        for (int l = 0; l < 2; l++) {
            double all, sum = 0, of_ply;
            for (size_t p = 0; p < 2; p++) {
                assert_ok(
                    ww_scan_value(scan[l], p, WW_SKEW, WW_MEAN, length[l], start[p][0], start[p][1], &of_ply, &error),
                    error);
                sum += of_ply;
            }
            assert_ok(
                ww_scan_value_of_all(scan[l], WW_SKEW, WW_MEAN, length[l], (const double(*)[2])start, &all, &error),
                error);
            most = fmax(most, fabs(got[l] - all));
            together = l ? fmax(together, fabs(all - sum)) : together;
        }
    }
    assert_close(most, 0, 0, 0.1 * together);
    ww_walk_destroy(walk);
    for (int i = 0; i < 2; i++) {
        ww_scan_destroy(scan[i]);
        ww_patch_destroy(patch[i]);
    }
    board_close(&board);
}

/* --- against the volume on the patch; bench/patch_errors.c has full cross-sections ------------------------------- */

/* Bunched ends repeat with the cell, so a volume can hold them: skew of a period by the volume, which runs on the patch as it does on
 * the cell, against the walk's, within 3 % of the largest there is. Places where perfect cloth has none by symmetry are among them. */
static void the_volume_runs_on_a_patch(void **state)
{
    (void)state;
    struct board_options options = pair_options();
    struct board board;
    struct ww_error error = {0};
    board_open(&board, &options);
    const struct ww_scatter pairs = {.bunching = 0.1};
    const struct ww_full_options full = {.along = 16, .tolerance = 1e-5};
    struct ww_correction *correction = corrected(&board, 0);
    struct ww_layer *ply = &board.layer[board.stack.ply[0].layer];
    double lx = board.stack.ply[0].cell.lx, ly = board.stack.ply[0].cell.ly, worst = 0, off[3], moved = 0;
    struct ww_walk *walk = walking(&board, correction, 0, 0.25 * ly);
    struct ww_patch *patch = drawn(&board, 0, &pairs, lx, ly, 0),
                    *perfect = drawn(&board, 0, &(struct ww_scatter){0}, lx, ly, 0);
    for (int n = 0; n < 3; n++) {
        double place[1][2] = {{(0.25 + 0.2 * n) * lx, 0}}, got[4], without[4];
        struct ww_full volume;
        ply->patch = patch;
        assert_ok(ww_volume_solve(board.line, 0, (const double(*)[2])place, &full, &volume, &error), error);
        ply->patch = NULL;
        ww_walk_along(walk, (const struct ww_patch *const *)&patch, (const double(*)[2])place, 0, NULL, 4, got);
        ww_walk_along(walk, (const struct ww_patch *const *)&perfect, (const double(*)[2])place, 0, NULL, 4, without);
        double want = (volume.delay[0] - volume.delay[1]) * volume.period;
        assert_close(volume.period, ly, 1e-9, 0);
        off[n] = got[3] - want;
        worst = fmax(worst, fabs(want));
        moved = fmax(moved, fabs(got[3] - without[3]));
    }
    for (int n = 0; n < 3; n++)
        assert_close(off[n], 0, 0, 0.03 * worst);
    assert_true(moved > 0.1 * worst); /* or this would say nothing of the patch */
    ww_patch_destroy(patch);
    ww_patch_destroy(perfect);
    ww_walk_destroy(walk);
    ww_correction_release(correction);
    board_close(&board);
}

/* --- long traces ---------------------------------------------------------------------------------------------- */

/* Derived. Neighbours wander together (together = 1), the fill lies still, a trace runs along the warp. All yarns near it are off by
 * the same xi(s), so its slowness is that of the perfect cloth at x - xi. Harmonics that change along the trace add up to what
 * does not grow. Those constant along it, c_m exp(i k_m x), k_m = 2 pi m/lx, give
 *   D(x) = sum over m of c_m exp(i k_m x) J_m,  J_m = integral of exp(-i k_m xi(s)) ds over 0 .. L.
 * xi is normal, so <exp(-i k xi)> = exp(-k^2 sigma^2/2): the amplitude falls. Its coherence along the path follows the
 * structure function, <exp(-i k (xi(s) - xi(t)))> = exp(-k^2 sigma^2 (1 - r(s - t))), r = exp(-(s - t)^2/l^2). With x uniform
 * over the cell,
 *   <D> at x = sum c_m exp(i k_m x) L exp(-k_m^2 sigma^2/2),
 *   <D^2>    = 2 sum over m > 0 of |c_m|^2 times the double integral of exp(-k_m^2 sigma^2 (1 - r)). */
struct coherent {
    double sigma, length_of, lx;
    int orders;
    const double _Complex *c; /* of the skew, or of a delay; c[0] is not read */
};

/* 2 integral of (L - t) exp(-k^2 sigma^2 (1 - r(t))) dt over 0 .. L, by the midpoint rule. */
static double coherence(const struct coherent *of, int m, double length)
{
    enum { STEPS = 4000 };
    double k = 2 * WW_PI * m / of->lx, spread = k * k * of->sigma * of->sigma, sum = 0;
    for (int i = 0; i < STEPS; i++) {
        double t = length * (i + 0.5) / STEPS, r = exp(-t * t / (of->length_of * of->length_of));
        sum += (length - t) * exp(-spread * (1 - r));
    }
    return 2 * sum * length / STEPS;
}

static double mean_square(const struct coherent *of, double length)
{
    double sum = 0;
    for (int m = 1; m < of->orders; m++)
        sum += 2 * creal(of->c[m] * conj(of->c[m])) * coherence(of, m, length);
    return sum;
}

/* Mean square of many traces over drawn cloth against the closed result within four standard errors, at three lengths. A small
 * wander keeps its amplitude, exp(-k^2 sigma^2/2), however long the trace: it goes on growing with L. One of a good part of the
 * pitch loses step, and past the correlation the mean square grows as L, the skew as its root. */
static void assert_variance(double wander, bool loses_step)
{
    enum { DRAWS = 90, TRACES = 6, STEPS = 300, ORDERS = 12 };
    const double step = 0.2e-3;
    struct board_options options = pair_options();
    struct board board;
    struct ww_error error = {0};
    struct ww_scan *scan;
    board_open(&board, &options);
    assert_ok(ww_scan_create(&scan, board.line, 0, NULL, &error), error);
    struct ww_walk *walk = walking(&board, NULL, 0, step);
    double _Complex c[ORDERS] = {0};
    const struct ww_ply_scan *s = &scan->ply[0];
    for (size_t w = 0; w < s->harmonics; w++)
        if (s->order[w].l == 0 && s->order[w].m < ORDERS)
            c[s->order[w].m] = s->coefficient[0][WW_MEAN][w] - s->coefficient[1][WW_MEAN][w];
    const struct coherent closed = {wander, 4e-3, s->lx, ORDERS, c};
    const struct ww_scatter scatter = {.yarn = {{wander, 4e-3, 1, 0}, {0, 4e-3, 1, 0}}, .seed = 3};
    double running[STEPS], sum[3] = {0}, squares[3] = {0};
    const int at[3] = {25, 75, 300}; /* 5, 15 and 60 mm */
    struct random random = random_of(11);
    for (uint64_t draw = 0; draw < DRAWS; draw++) {
        struct ww_patch *patch = drawn(&board, 0, &scatter, 2 * s->lx, 80e-3, draw);
        double here[3] = {0};
        double x0 = random_between(&random, 0, s->lx), y0 = random_between(&random, 0, 80e-3);
        for (int n = 0; n < TRACES; n++) {
            double start[1][2] = {{x0 + n * s->lx / TRACES, y0}};
            ww_walk_along(walk, (const struct ww_patch *const *)&patch, (const double(*)[2])start, 0, NULL, STEPS,
                          running);
            for (int l = 0; l < 3; l++)
                here[l] += running[at[l] - 1] * running[at[l] - 1] / TRACES;
        }
        for (int l = 0; l < 3; l++) {
            sum[l] += here[l] / DRAWS;
            squares[l] += here[l] * here[l] / DRAWS;
        }
        ww_patch_destroy(patch);
    }
    for (int l = 0; l < 3; l++) {
        double want = mean_square(&closed, step * at[l]), spread = sqrt((squares[l] - sum[l] * sum[l]) / (DRAWS - 1));
        assert_close(sum[l], want, 0, 4 * spread);
        assert_true(4 * spread < 0.6 * want); /* or this would say nothing */
    }
    /* the closed result itself: proportional to L^2 while in step; past the correlation to L, or to L^2 again */
    assert_close(mean_square(&closed, 0.1e-3) / mean_square(&closed, 0.05e-3), 4, 0.01, 0);
    assert_close(mean_square(&closed, 0.24) / mean_square(&closed, 0.12), loses_step ? 2 : 4, 0.1, 0);
    ww_scan_destroy(scan);
    ww_walk_destroy(walk);
    board_close(&board);
}

static void variance_of_a_straight_trace_is_the_closed_one(void **state)
{
    (void)state;
    assert_variance(40 * UM, false);
    assert_variance(200 * UM, true);
}

/* What the step leaves, on cloth that wanders, bunches and varies in width, falls with its square: of half a pitch 2e-4, of a
 * thirty-second 1e-6, of the worst along the warp, against one of a 128th. */
static void assert_step(size_t finer, double within)
{
    enum { STEPS = 100, FINER = 64 };
    struct board_options options = pair_options();
    struct board board;
    double along = 0; /* the worst along the warp */
    board_open(&board, &options);
    const struct ww_yarn_scatter yarn = {30 * UM, 20e-3, 0.9, 0.02};
    const struct ww_scatter scatter = {.yarn = {yarn, yarn}, .bunching = 0.03, .seed = 4};
    struct ww_patch *patch = drawn(&board, 0, &scatter, 20e-3, 30e-3, 0);
    for (size_t a = 0; a < ANGLES; a++) {
        struct ww_walk *coarse = walking(&board, NULL, angles[a], 0.2e-3 / (double)finer);
        struct ww_walk *fine = walking(&board, NULL, angles[a], 0.2e-3 / FINER);
        double most = 0, worst = 0, one[STEPS * FINER], many[STEPS * FINER];
        for (int n = 0; n < 3; n++) {
            double start[1][2] = {{0.13e-3 * n, 1e-3 * n}};
            ww_walk_along(coarse, (const struct ww_patch *const *)&patch, (const double(*)[2])start, 0, NULL,
                          STEPS * finer, one);
            ww_walk_along(fine, (const struct ww_patch *const *)&patch, (const double(*)[2])start, 0, NULL,
                          STEPS * FINER, many);
            for (size_t i = 0; i < STEPS; i++) {
                most = fmax(most, fabs(one[(i + 1) * finer - 1] - many[(i + 1) * FINER - 1]));
                worst = fmax(worst, fabs(many[(i + 1) * FINER - 1]));
            }
        }
        along = a == 0 ? worst : along;
        assert_close(most, 0, 0, within * along);
        ww_walk_destroy(coarse);
        ww_walk_destroy(fine);
    }
    ww_patch_destroy(patch);
    board_close(&board);
}

static void what_a_step_leaves_falls_with_its_square(void **state)
{
    (void)state;
    assert_step(1, 2e-4);
    assert_step(16, 1e-6);
}

/* With the argument "all" those that take long as well; with "more" routes, counts and two plies. */
int main(int argc, char **argv)
{
    const struct CMUnitTest quick[] = {
        cmocka_unit_test(without_scatter_it_tells_what_the_scan_tells),
    };
    const struct CMUnitTest more[] = {
        cmocka_unit_test(along_a_route_it_tells_what_the_scan_tells),
        cmocka_unit_test(with_counts_off_it_tells_what_the_scan_tells),
        cmocka_unit_test(two_plies_do_together_what_the_scan_tells),
        cmocka_unit_test(two_plies_do_together_along_a_route_what_the_scan_tells),
    };
    const struct CMUnitTest all[] = {
        cmocka_unit_test(without_scatter_it_tells_what_the_scan_tells),
        cmocka_unit_test(along_a_route_it_tells_what_the_scan_tells),
        cmocka_unit_test(the_volume_runs_on_a_patch),
        cmocka_unit_test(variance_of_a_straight_trace_is_the_closed_one),
        cmocka_unit_test(what_a_step_leaves_falls_with_its_square),
    };
    if (argc > 1 && strcmp(argv[1], "all") == 0)
        return cmocka_run_group_tests(all, NULL, NULL);
    if (argc > 1 && strcmp(argv[1], "more") == 0)
        return cmocka_run_group_tests(more, NULL, NULL);
    return cmocka_run_group_tests(quick, NULL, NULL);
}
