/* The kernel's weights, the cell's harmonics, and the changes of capacitance made of both.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "board.h"

#include <stdlib.h>

/* Potential of leg 1 alone at 1 V (sign +1) or of leg 2 (-1), at one node. */
static double potential(const struct ww_mesh *mesh, const struct ww_background *b, int sign, size_t column,
                        size_t level)
{
    if (column == 0 || column == mesh->columns || level == 0 || level == mesh->rows)
        return 0;
    size_t place = (level - 1) * (mesh->columns - 1) + column - 1;
    return mesh->pair ? 0.5 * (b->even[place] + sign * b->odd[place]) : b->even[place];
}

/* One weight of a stretch of rows by its definition: sum of E_i.E_j exp(i q n) over edges up, or across. */
static double _Complex weight_of_row(const struct ww_mesh *mesh, const struct ww_background *b, size_t r,
                                     enum ww_weight weight, double q)
{
    int other = weight == WW_ZZ_12 || weight == WW_NN_12 ? -1 : 1;
    double h = mesh->step, dz = mesh->row[r].dz;
    double _Complex sum = 0;
    for (size_t i = 0; i <= mesh->columns; i++) {
        double n = ((double)i - 0.5 * (double)mesh->columns) * h;
        if (weight == WW_ZZ_11 || weight == WW_ZZ_12) {
            double e1 = potential(mesh, b, 1, i, r + 1) - potential(mesh, b, 1, i, r);
            double e2 = potential(mesh, b, other, i, r + 1) - potential(mesh, b, other, i, r);
            sum += e1 * e2 * h / dz * cexp(I * q * n);
        } else if (i < mesh->columns)
            for (size_t k = r; k <= r + 1; k++) {
                double e1 = potential(mesh, b, 1, i + 1, k) - potential(mesh, b, 1, i, k);
                double e2 = potential(mesh, b, other, i + 1, k) - potential(mesh, b, other, i, k);
                sum += e1 * e2 * dz / (2 * h) * cexp(I * q * (n + 0.5 * h));
            }
    }
    return sum;
}

struct solved {
    struct board board;
    struct ww_background background;
    struct ww_kernel kernel; /* of the line's own grid */
};

static void open_solved(struct solved *s, const struct board_options *options)
{
    struct ww_error error = {0};
    board_open(&s->board, options);
    const struct ww_line *line = s->board.line;
    assert_ok(ww_background_solve(&s->background, &line->mesh, false, true, &error), error);
    assert_ok(
        ww_kernel_build(&s->kernel, &line->mesh, &s->background, line->stack, 0, line->harmonics[0].k_most, &error),
        error);
}

static void close_solved(struct solved *s)
{
    ww_kernel_clear(&s->kernel);
    ww_background_clear(&s->background);
    board_close(&s->board);
}

static struct board_options options_of(int pair)
{
    struct board_options options = pair ? board_pair() : board_plain();
    options.cell = (struct ww_cell_options){.nx = 48, .ny = 48, .nz = 8};
    return options;
}

/* The energy at 1 V is the capacitance: whole slices at q = 0 in the cloth, plain sums elsewhere. */
static void weights_sum_to_the_capacitance(void **state)
{
    (void)state;
    for (int pair = 0; pair < 2; pair++) {
        struct board_options options = options_of(pair);
        struct solved s;
        open_solved(&s, &options);
        const struct ww_line *line = s.board.line;
        const struct ww_mesh *mesh = &line->mesh;
        const struct ww_kernel *kernel = &s.kernel;
        double c11 = 0, c12 = 0;
        assert_int_equal(kernel->slices, 8);
        for (size_t k = 0; k < 8; k++) {
            const double *w = kernel->whole + k * WW_WEIGHTS, z = creal(kernel->eps_z[k]),
                         n = creal(kernel->eps_n[k]);
            c11 += z * w[WW_ZZ_11] + n * w[WW_NN_11];
            c12 += z * w[WW_ZZ_12] + n * w[WW_NN_12];
        }
        for (size_t r = 0; r < mesh->rows; r++)
            if (mesh->row[r].ply == WW_NO_PLY) {
                double z = creal(mesh->row[r].eps_z), n = creal(mesh->row[r].eps_n);
                c11 += creal(z * weight_of_row(mesh, &s.background, r, WW_ZZ_11, 0) +
                             n * weight_of_row(mesh, &s.background, r, WW_NN_11, 0));
                c12 += creal(z * weight_of_row(mesh, &s.background, r, WW_ZZ_12, 0) +
                             n * weight_of_row(mesh, &s.background, r, WW_NN_12, 0));
            }
        assert_close(c11, pair ? 0.5 * (line->grid.c_even + line->grid.c_odd) : line->grid.c_even, 1e-10, 0);
        if (pair)
            assert_close(c12, 0.5 * (line->grid.c_even - line->grid.c_odd), 1e-10, 0);
        close_solved(&s);
    }
}

/* What a row counts for in slice k, where fractions change linearly from slice to slice: by the place of its middle in its own. */
static double share_of(const struct ww_mesh *mesh, size_t row, size_t k)
{
    size_t own = mesh->row[row].slice;
    double z = 0, middle = 0, low = 0, high = 0;
    for (size_t r = 0; r < mesh->rows; z += mesh->row[r++].dz) {
        if (r == row)
            middle = z + 0.5 * mesh->row[r].dz;
        if (mesh->row[r].ply == 0 && mesh->row[r].slice == own) {
            low = low > 0 ? low : z;
            high = z + mesh->row[r].dz;
        }
    }
    double t = (middle - 0.5 * (low + high)) / (high - low);
    return k == own ? 1 : k == own + 1 ? 0.5 * t : k + 1 == own ? -0.5 * t : 0;
}

/* At any q, between the table's entries too, to 1e-9 of the weight at 0. */
static void weights_are_the_transforms_of_the_field(void **state)
{
    (void)state;
    for (int pair = 0; pair < 2; pair++) {
        struct board_options options = options_of(pair);
        struct solved s;
        open_solved(&s, &options);
        const struct ww_line *line = s.board.line;
        double q_most = line->harmonics[0].k_most, at_0[8 * WW_WEIGHTS], re[8 * WW_WEIGHTS], im[8 * WW_TWISTED];
        ww_kernel_weights(&s.kernel, 0, at_0, im);
        for (int i = -7; i <= 10; i++) {
            double q = q_most * (i == 10 ? 1 : i * i * i / 731.0);
            ww_kernel_weights(&s.kernel, q, re, im);
            for (size_t k = 0; k < 8; k += 3)
                for (int w = 0; w < WW_WEIGHTS; w++) {
                    double _Complex want = 0;
                    for (size_t r = 0; r < line->mesh.rows; r++)
                        if (line->mesh.row[r].ply == 0 && share_of(&line->mesh, r, k) != 0)
                            want += share_of(&line->mesh, r, k) *
                                    weight_of_row(&line->mesh, &s.background, r, (enum ww_weight)w, q);
                    double small = 1e-9 * at_0[k * WW_WEIGHTS + (size_t)(w % 2)];
                    assert_close(re[k * WW_WEIGHTS + (size_t)w], creal(want), 0, small);
                    assert_close(w < WW_TWISTED ? im[k * WW_TWISTED + (size_t)w] : 0, cimag(want), 0, small);
                }
        }
        close_solved(&s);
    }
}

/* Full solutions average the cloth over a step. */
static void averages_over_the_steps_of_its_grid(void **state)
{
    (void)state;
    struct board_options options = options_of(1);
    struct solved s;
    open_solved(&s, &options);
    const struct ww_line *line = s.board.line;
    double plain[8 * WW_WEIGHTS], over[8 * WW_WEIGHTS], im[8 * WW_TWISTED], q = line->harmonics[0].k_most;
    ww_kernel_weights(&s.kernel, q, plain, im);
    ww_kernel_over_steps(&s.kernel, line->mesh.step);
    ww_kernel_weights(&s.kernel, q, over, im);
    double x = 0.5 * q * line->mesh.step;
    for (size_t i = 0; i < 8 * WW_WEIGHTS; i++)
        assert_close(over[i], plain[i] * sin(x) / x, 1e-6, 1e-9);
    close_solved(&s);
}

/* The line's weights are the limit of its grid's and a finer one's, by the ratio of the driven mode's capacitances: a foil's
 * edge and square corners have 2 to 2.5. */
static void is_extrapolated_as_the_capacitance_is(void **state)
{
    (void)state;
    for (int pair = 0; pair < 2; pair++) {
        struct board_options options = options_of(pair);
        struct solved s;
        struct ww_mesh mesh;
        struct ww_background fields;
        struct ww_kernel finer;
        struct ww_error error = {0};
        open_solved(&s, &options);
        const struct ww_line *line = s.board.line;
        assert_ok(ww_mesh_refine(&line->mesh, &mesh, &error), error);
        assert_ok(ww_background_solve(&fields, &mesh, false, true, &error), error);
        assert_ok(ww_kernel_build(&finer, &mesh, &fields, line->stack, 0, line->harmonics[0].k_most, &error), error);
        double coarse = pair ? s.background.c_odd : s.background.c_even, fine = pair ? fields.c_odd : fields.c_even;
        double ratio = 1 + (fine - coarse) / ((pair ? line->limit.c_odd : line->limit.c_even) - fine);
        assert_true(ratio >= 2 && ratio < 2.6);
        double one[8 * WW_WEIGHTS], two[8 * WW_WEIGHTS], limit[8 * WW_WEIGHTS], im[8 * WW_TWISTED];
        for (double q = 0; q < line->harmonics[0].k_most; q += 0.3 * line->harmonics[0].k_most) {
            ww_kernel_weights(&s.kernel, q, one, im);
            ww_kernel_weights(&finer, q, two, im);
            ww_kernel_weights(&line->kernel[0], q, limit, im);
            for (size_t i = 0; i < 8 * WW_WEIGHTS; i++)
                assert_close(limit[i], two[i] + (two[i] - one[i]) / (ratio - 1), 1e-9, 1e-10);
        }
        ww_kernel_clear(&finer);
        ww_background_clear(&fields);
        ww_mesh_clear(&mesh);
        close_solved(&s);
    }
}

/* Leg 2 is leg 1 in the mirror: what both have in common is even across, and a single trace is its own image. */
static void mirror_image(void **state)
{
    (void)state;
    for (int pair = 0; pair < 2; pair++) {
        struct board_options options = options_of(pair);
        struct board board;
        board_open(&board, &options);
        double re[8 * WW_WEIGHTS], im[8 * WW_TWISTED], back[8 * WW_WEIGHTS], conjugate[8 * WW_TWISTED], imaginary = 0;
        for (int i = 1; i < 10; i++) {
            double q = board.line->harmonics[0].k_most * i / 30;
            ww_kernel_weights(&board.line->kernel[0], q, re, im);
            ww_kernel_weights(&board.line->kernel[0], -q, back, conjugate);
            for (size_t k = 0; k < 8 * WW_WEIGHTS; k++)
                assert_close(back[k], re[k], 0, 0);
            for (size_t k = 0; k < 8 * WW_TWISTED; k++) {
                assert_close(conjugate[k], -im[k], 0, 0);
                if (!pair)
                    assert_close(im[k], 0, 0, 1e-11);
                else
                    imaginary = fmax(imaginary, fabs(im[k]));
            }
        }
        assert_true(pair ? imaginary > 1e-3 : imaginary == 0);
        board_close(&board);
    }
}

/* phi^(k) by its definition, from the cell's samples; box averaging included, and not the cloth's shift. */
static void harmonics_are_those_of_the_cell(void **state)
{
    (void)state;
    struct board_options options = options_of(0);
    options.shift_x = 111 * UM;
    options.shift_y = -37 * UM;
    struct board board;
    board_open(&board, &options);
    const struct ww_harmonics *h = &board.line->harmonics[0];
    const struct ww_cell *cell = &board.stack.ply[0].cell;
    assert_int_equal(h->slices, cell->nz);
    assert_int_equal(h->harmonic[0].m, 0);
    assert_int_equal(h->harmonic[0].l, 0);
    for (size_t i = 0; i < h->count; i += i < 5 ? 1 : 29) {
        int m = h->harmonic[i].m, l = h->harmonic[i].l;
        double box_m = m ? sin(WW_PI * m / 48) / (WW_PI * m / 48) : 1,
               box_l = l ? sin(WW_PI * l / 48) / (WW_PI * l / 48) : 1;
        assert_close(h->harmonic[i].kx, 2 * WW_PI * m / cell->lx, 1e-14, 0);
        for (size_t s = 0; s < cell->nz; s += 2) {
            double _Complex warp = 0, fill = 0;
            for (size_t iy = 0; iy < 48; iy++)
                for (size_t ix = 0; ix < 48; ix++) {
                    double x = cell->lx * ((double)ix + 0.5) / 48, y = cell->ly * ((double)iy + 0.5) / 48;
                    double _Complex phasor =
                        cexp(-I * (h->harmonic[i].kx * x + h->harmonic[i].ky * y)) / (48 * 48 * box_m * box_l);
                    warp += cell->warp[(s * 48 + iy) * 48 + ix] * phasor;
                    fill += cell->fill[(s * 48 + iy) * 48 + ix] * phasor;
                }
            double _Complex got_warp = h->warp[i * h->slices + s], got_fill = h->fill[i * h->slices + s];
            assert_close(cabs(got_warp - warp), 0, 0, 1e-13);
            assert_close(cabs(got_fill - fill), 0, 0, 1e-13);
        }
    }
    board_close(&board);
}

/* Parseval: the mean square over the samples is the sum over the harmonics, less what was cut off. */
static void little_is_cut_off(void **state)
{
    (void)state;
    struct board_options options = options_of(0);
    struct board board;
    board_open(&board, &options);
    const struct ww_harmonics *h = &board.line->harmonics[0];
    const struct ww_cell *cell = &board.stack.ply[0].cell;
    size_t samples = cell->nx * cell->ny;
    for (size_t s = 0; s < cell->nz; s++) {
        double square = 0, sum = 0;
        for (size_t i = 0; i < samples; i++)
            square += cell->warp[s * samples + i] * cell->warp[s * samples + i] / (double)samples;
        for (size_t i = 0; i < h->count; i++) {
            double x = WW_PI * h->harmonic[i].m / 48, y = WW_PI * h->harmonic[i].l / 48;
            double a = cabs(h->warp[i * h->slices + s]) * (x != 0 ? sin(x) / x : 1) * (y != 0 ? sin(y) / y : 1);
            sum += (h->harmonic[i].m ? 2 : 1) * a * a;
        }
        assert_true(sum <= square * (1 + 1e-12));
        assert_true(sum > 0.97 * square);
    }
    board_close(&board);
}

static void uniform_dielectric_changes_nothing(void **state)
{
    (void)state;
    for (int pair = 0; pair < 2; pair++) {
        struct board_options options = options_of(pair);
        options.glass_dk = options.resin_dk;
        struct board board;
        board_open(&board, &options);
        const struct ww_line_summary *s = ww_line_summary(board.line);
        assert_close(s->dk_eff, 3.2, 1e-10, 0);
        assert_close(s->delay, sqrt(3.2) / WW_C0, 1e-10, 0);
        assert_close(s->df_eff, 0, 0, 1e-14);
        if (pair) {
            assert_close(s->dk_even, 3.2, 1e-10, 0);
            assert_close(s->dk_odd, 3.2, 1e-10, 0);
        }
        size_t count = board.line->harmonics[0].count;
        double _Complex *change = calloc(count * WW_CHANGES, sizeof *change);
        assert_non_null(change);
        for (double theta = -1; theta < 3; theta += 0.7) {
            ww_line_change(board.line, 0, theta, (const double[2]){0, 0}, change);
            for (size_t i = 0; i < count * WW_CHANGES; i++)
                assert_close(cabs(change[i]), 0, 0, 1e-13);
        }
        free(change);
        board_close(&board);
    }
}

/* The six changes with the trace over (x, y) of the cell. */
static void changes_at(const struct ww_harmonics *h, const double _Complex *change, double x, double y,
                       double out[WW_CHANGES])
{
    memset(out, 0, WW_CHANGES * sizeof *out);
    for (size_t i = 0; i < h->count; i++) {
        double _Complex phasor =
            (h->harmonic[i].m ? 2 : 1) * cexp(I * (h->harmonic[i].kx * x + h->harmonic[i].ky * y));
        for (int c = 0; c < WW_CHANGES; c++)
            out[c] += creal(change[i * WW_CHANGES + (size_t)c] * phasor);
    }
}

/* C+ - C- = dC+ + dP - dP (C0 + dP)^-1 dP must have no negative eigenvalue; with it a single trace is bracketed. */
static void bounds_are_in_order_everywhere(void **state)
{
    (void)state;
    for (int pair = 0; pair < 2; pair++) {
        struct board_options options = options_of(pair);
        struct board board;
        board_open(&board, &options);
        const struct ww_line *line = board.line;
        const struct ww_harmonics *h = &line->harmonics[0];
        double own = pair ? 0.5 * (line->limit.c_even + line->limit.c_odd) : line->limit.c_even;
        double mutual = pair ? 0.5 * (line->limit.c_even - line->limit.c_odd) : 0;
        double _Complex *change = calloc(h->count * WW_CHANGES, sizeof *change);
        assert_non_null(change);
        for (int turn = 0; turn < 7; turn++) {
            ww_line_change(line, 0, turn * 0.26, (const double[2]){0, 0}, change);
            for (int i = 0; i < 144; i++) {
                double c[WW_CHANGES];
                changes_at(h, change, h->lx * (i % 12) / 12, h->ly * (i / 12) / 12.0, c);
                double p11 = own + c[WW_LOWER_11], p12 = mutual + c[WW_LOWER_12], p22 = own + c[WW_LOWER_22];
                if (!pair) {
                    assert_true(own + c[WW_UPPER_11] > own * own / p11);
                    continue;
                }
                double det = p11 * p22 - p12 * p12;
                double low11 = (own * own * p22 - 2 * own * mutual * p12 + mutual * mutual * p11) / det;
                double low22 = (own * own * p11 - 2 * own * mutual * p12 + mutual * mutual * p22) / det;
                double low12 = (own * mutual * (p11 + p22) - (own * own + mutual * mutual) * p12) / det;
                double d11 = own + c[WW_UPPER_11] - low11, d22 = own + c[WW_UPPER_22] - low22;
                double d12 = mutual + c[WW_UPPER_12] - low12;
                assert_true(d11 > 0 && d22 > 0 && d11 * d22 > d12 * d12);
            }
        }
        free(change);
        board_close(&board);
    }
}

/* Half and twice the grid: Z0 and Dk stay within 0.3 %. */
static void figures_converge(void **state)
{
    (void)state;
    for (int pair = 0; pair < 2; pair++) {
        double z0[3], dk[3];
        for (int i = 0; i < 3; i++) {
            struct board_options options = options_of(pair);
            options.fineness = i == 0 ? 0.5 : i;
            struct board board;
            board_open(&board, &options);
            z0[i] = ww_line_summary(board.line)->z0;
            dk[i] = ww_line_summary(board.line)->dk_eff;
            board_close(&board);
        }
        for (int i = 0; i < 2; i++) {
            assert_close(z0[i], z0[2], 3e-3, 0);
            assert_close(dk[i], dk[2], 3e-3, 0);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(weights_sum_to_the_capacitance),
        cmocka_unit_test(weights_are_the_transforms_of_the_field),
        cmocka_unit_test(averages_over_the_steps_of_its_grid),
        cmocka_unit_test(is_extrapolated_as_the_capacitance_is),
        cmocka_unit_test(mirror_image),
        cmocka_unit_test(harmonics_are_those_of_the_cell),
        cmocka_unit_test(little_is_cut_off),
        cmocka_unit_test(uniform_dielectric_changes_nothing),
        cmocka_unit_test(bounds_are_in_order_everywhere),
        cmocka_unit_test(figures_converge),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
