/* Tables of periodic functions by what splines are known to do, without any cloth.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The samples of a harmonic are exp(2 pi i nu u), u in samples, nu = m/N below 1/2. The spline of odd degree p through them is
 * (Schoenberg, as in table.c)
 *   s(u) = exp(2 pi i nu u) [sum over r of w_r exp(2 pi i r u)]/[sum over r of w_r],  w_r = (nu/(nu + r))^(p + 1):
 * its coefficients are a multiple of exp(2 pi i nu j), and the transform of the B-spline is (sin(pi f)/(pi f))^(p + 1) at the
 * frequencies f = nu + r. So it is off by at most e(nu) = 2 [sum over r != 0 of w_r]/[sum over r of w_r], about 4 nu^(p + 1). A
 * product of such functions of x and of y is off by at most e_x + e_y + e_x e_y.
 *
 * Functions here are of order 1. Rounding is some 1e-16 times 7.5^2 at most, by which the filter raises the highest harmonic of
 * both axes; measured: below 3e-15.
 */
#include "check.h"
#include "random.h"

#include <complex.h>
#include <stdlib.h>

#include "core/transform.h"
#include "patch/walk.h"

#define ROUNDING 1e-13

/* Fine: fifth degree, read by knots of as many samples. Coarse: third, read by knots of twice as many. */
enum degree { FINE, COARSE, DEGREES };

static const size_t shape[][2] = {{8, 8}, {64, 16}, {16, 128}, {4, 32}}; /* nx, ny */
enum { SHAPES = sizeof shape / sizeof *shape };

static size_t half_of(size_t nx, size_t ny)
{
    return ny * (nx / 2 + 1);
}

static double _Complex *zeros(size_t nx, size_t ny)
{
    double _Complex *coef = calloc(half_of(nx, ny), sizeof *coef);
    assert_non_null(coef);
    return coef;
}

static double *noise(size_t nx, size_t ny, struct random *random)
{
    double *value = calloc(nx * ny, sizeof *value);
    assert_non_null(value);
    for (size_t i = 0; i < nx * ny; i++)
        value[i] = random_between(random, -1, 1);
    return value;
}

static struct ww_table built(double _Complex *coef, size_t nx, size_t ny, enum degree degree)
{
    struct ww_table table;
    struct ww_error error = {0};
    assert_ok(ww_table_build(&table, coef, nx, ny, degree == COARSE, &error), error);
    free(coef);
    return table;
}

/* Through the samples of a map. */
static struct ww_table through(const double *value, size_t nx, size_t ny, enum degree degree)
{
    double _Complex *coef = zeros(nx, ny);
    struct ww_error error = {0};
    assert_ok(ww_transform_forward(value, nx, ny, coef, &error), error);
    return built(coef, nx, ny, degree);
}

/* x and y in samples of the table. */
static double value_at(const struct ww_table *table, double x, double y, enum degree degree)
{
    if (degree == FINE) {
        const struct ww_knots at_x = ww_knots_at(x, table->nx), at_y = ww_knots_at(y, table->ny);
        return ww_table_at(table, &at_x, &at_y);
    }
    const struct ww_knots at_x = ww_knots_at(2 * x, 2 * table->nx), at_y = ww_knots_at(2 * y, 2 * table->ny);
    return ww_table_coarse(table, &at_x, &at_y);
}

/* A place from two periods before to two behind, a multiple of 2^-20: a period on, it is still exact. */
static double place(struct random *random, size_t samples)
{
    return floor(random_between(random, -2, 2) * (double)samples * 0x1p20) * 0x1p-20;
}

/* --- splines ---------------------------------------------------------------------------------------------------- */

/* B(x) by its definition in table.h, at -|x|, where the terms are small. */
static double b_spline(double x, int degree)
{
    double sum = 0, binomial = 1, factorial = 1, middle = 0.5 * (degree + 1);
    for (int n = 1; n <= degree; n++)
        factorial *= n;
    for (int n = 0; n <= degree + 1; n++) {
        sum += (n % 2 ? -1 : 1) * binomial * pow(fmax(middle - fabs(x) - n, 0), degree);
        binomial *= (double)(degree + 1 - n) / (n + 1);
    }
    return sum / factorial;
}

/* w_r for r = -REPEATS .. REPEATS; what is left out is below 1e-10 nu^4. */
enum { REPEATS = 2000 };

static double weight_of(double nu, int r, enum degree degree)
{
    double ratio = r == 0 ? 1 : nu / (nu + r), square = ratio * ratio;
    return degree == FINE ? square * square * square : square * square;
}

/* s(u). */
static double _Complex spline_of_harmonic(double nu, double u, enum degree degree)
{
    double _Complex above = 0;
    double below = 0;
    for (int r = -REPEATS; r <= REPEATS; r++) {
        double turn = 2 * WW_PI * r * (u - floor(u)), w = weight_of(nu, r, degree);
        above += w * (cos(turn) + I * sin(turn));
        below += w;
    }
    return cexp(2 * WW_PI * I * nu * u) * above / below;
}

/* e(nu). */
static double off_by(double nu, enum degree degree)
{
    double others = 0;
    for (int r = 1; r <= REPEATS; r++)
        others += weight_of(nu, r, degree) + weight_of(nu, -r, degree);
    return 2 * others / (1 + others);
}

/* --- trigonometric polynomials ---------------------------------------------------------------------------------- */

/* Sum over |m|, |l| <= ORDER of c exp(2 pi i (m x + l y)), x and y in periods; real. */
enum { ORDER = 3, ORDERS = 2 * ORDER + 1 };
struct polynomial {
    double _Complex c[ORDER + 1][ORDERS]; /* [m][l + ORDER]; of m = 0 those with l < 0 are the conjugates */
};

static struct polynomial random_polynomial(uint64_t seed)
{
    struct polynomial p;
    struct random random = random_of(seed);
    for (int m = 0; m <= ORDER; m++)
        for (int l = -ORDER; l <= ORDER; l++) {
            double re = random_between(&random, -0.1, 0.1), im = random_between(&random, -0.1, 0.1);
            p.c[m][l + ORDER] = re + I * im;
        }
    p.c[0][ORDER] = creal(p.c[0][ORDER]);
    for (int l = 1; l <= ORDER; l++)
        p.c[0][ORDER - l] = conj(p.c[0][ORDER + l]);
    return p;
}

/* Moved by dx and dy periods. */
static struct polynomial moved(const struct polynomial *p, double dx, double dy)
{
    struct polynomial to;
    for (int m = 0; m <= ORDER; m++)
        for (int l = -ORDER; l <= ORDER; l++)
            to.c[m][l + ORDER] = p->c[m][l + ORDER] * cexp(-2 * WW_PI * I * (m * dx + l * dy));
    return to;
}

static double polynomial_at(const struct polynomial *p, double x, double y)
{
    double sum = 0;
    for (int m = 0; m <= ORDER; m++)
        for (int l = -ORDER; l <= ORDER; l++) {
            double turn = 2 * WW_PI * (m * x + l * y);
            double _Complex c = p->c[m][l + ORDER];
            sum += (m ? 2 : 1) * (creal(c) * cos(turn) - cimag(c) * sin(turn));
        }
    return sum;
}

static struct ww_table table_of(const struct polynomial *p, size_t nx, size_t ny, enum degree degree)
{
    double _Complex *coef = zeros(nx, ny);
    for (size_t m = 0; m <= ORDER; m++)
        for (int l = -ORDER; l <= ORDER; l++)
            coef[(l < 0 ? ny - (size_t)-l : (size_t)l) * (nx / 2 + 1) + m] = p->c[m][l + ORDER];
    return built(coef, nx, ny, degree);
}

/* The most that its spline is off by. */
static double polynomial_off_by(const struct polynomial *p, size_t nx, size_t ny, enum degree degree)
{
    double sum = 0;
    for (int m = 0; m <= ORDER; m++)
        for (int l = -ORDER; l <= ORDER; l++) {
            double ex = off_by(m / (double)nx, degree), ey = off_by(abs(l) / (double)ny, degree);
            sum += (m ? 2 : 1) * cabs(p->c[m][l + ORDER]) * (ex + ey + ex * ey);
        }
    return sum;
}

/* The most that it is off by at 256 places of the period by 256. */
static double measured_off_by(const struct polynomial *p, const struct ww_table *table, enum degree degree)
{
    enum { PLACES = 256 };
    double most = 0;
    for (int i = 0; i < PLACES; i++)
        for (int j = 0; j < PLACES; j++) {
            double x = (double)i / PLACES, y = (double)j / PLACES;
            double off =
                value_at(table, x * (double)table->nx, y * (double)table->ny, degree) - polynomial_at(p, x, y);
            assert_true(isfinite(off));
            most = fmax(most, fabs(off));
        }
    return most;
}

/* --- knots ------------------------------------------------------------------------------------------------------ */

static size_t wrapped(double index, size_t samples)
{
    double n = (double)samples;
    return (size_t)(index - n * floor(index / n));
}

/* Also left of zero, at whole samples and far off. */
static void knots_are_the_b_splines_around_a_place(void **state)
{
    (void)state;
    enum { SAMPLES = 32, PLACES = 2000 };
    static const double special[] = {0, -0.0, -1, 31, 32, -32, 31.5, -0x1p-20, 0x1p-20, 1e6 + 0.25, -1e6 - 0.25};
    enum { SPECIAL = sizeof special / sizeof *special };
    struct random random = random_of(1);
    for (int n = 0; n < PLACES + SPECIAL; n++) {
        double at = n < SPECIAL ? special[n] : place(&random, SAMPLES);
        const struct ww_knots knots = ww_knots_at(at, SAMPLES), alone = ww_knots_coarse(0.5 * at, SAMPLES / 2);
        double first = floor(at) - 2, first_coarse = floor(0.5 * at) - 1;
        assert_int_equal(knots.first, wrapped(first, SAMPLES));
        assert_int_equal(knots.first_coarse, wrapped(first_coarse, SAMPLES / 2));
        assert_int_equal(alone.first_coarse, knots.first_coarse);
        for (int j = 0; j < WW_KNOTS; j++)
            assert_close(knots.weight[j], b_spline(at - (first + j), 5), 0, 1e-14);
        for (int j = 0; j < 4; j++) {
            assert_close(knots.coarse[j], b_spline(0.5 * at - (first_coarse + j), 3), 0, 1e-14);
            assert_close(alone.coarse[j], b_spline(0.5 * at - (first_coarse + j), 3), 0, 1e-14);
        }
    }
}

/* --- what a table tells ----------------------------------------------------------------------------------------- */

/* Noise has all harmonics there are. */
static void at_its_samples_a_table_is_the_map(void **state)
{
    (void)state;
    struct random random = random_of(2);
    for (int s = 0; s < SHAPES; s++)
        for (enum degree degree = FINE; degree < DEGREES; degree++) {
            size_t nx = shape[s][0], ny = shape[s][1];
            double *value = noise(nx, ny, &random);
            struct ww_table table = through(value, nx, ny, degree);
            for (size_t i = 0; i < nx * ny; i++)
                assert_close(value_at(&table, (double)(i % nx), (double)(i / nx), degree), value[i], 0, ROUNDING);
            ww_table_clear(&table);
            free(value);
        }
}

/* Orders up to 3/8 of the samples, of both signs along y, at any place: the closed result s(x) s(y). Of third degree its sum is
 * cut off where what is left is below 1e-11; measured: 1.4e-12. */
static void a_harmonic_gives_the_spline_known_of_it(void **state)
{
    (void)state;
    enum { NX = 16, NY = 32, PLACES = 6 };
    static const int order[][2] = {{1, 0}, {0, 1}, {1, -1}, {2, 5}, {5, -3}, {6, 12}, {3, -12}};
    struct random random = random_of(3);
    for (size_t h = 0; h < sizeof order / sizeof *order; h++)
        for (enum degree degree = FINE; degree < DEGREES; degree++) {
            int m = order[h][0], l = order[h][1];
            double _Complex c = 0.3 - 0.2 * I, *coef = zeros(NX, NY);
            coef[(l < 0 ? NY + l : l) * (NX / 2 + 1) + m] = c;
            if (m == 0)
                coef[(l < 0 ? -l : NY - l) * (NX / 2 + 1)] = conj(c);
            struct ww_table table = built(coef, NX, NY, degree);
            for (int n = 0; n < PLACES; n++) {
                double x = place(&random, NX), y = place(&random, NY);
                double want = 2 * creal(c * spline_of_harmonic(m / (double)NX, x, degree) *
                                        spline_of_harmonic(l / (double)NY, y, degree));
                assert_close(value_at(&table, x, y, degree), want, 0, degree == FINE ? ROUNDING : 1e-11);
            }
            ww_table_clear(&table);
        }
}

/* With twice the samples, 128 by 128 against 64 by 64, the error is 2^-6 or 2^-4 of what it was, and both are below the bound.
 * The next order in nu adds to the ratio 3 * 21 nu^2/4 = 3.5 % at most of fifth degree, 3 * 10 nu^2/4 = 1.65 % of third, at
 * nu = 3/64. Measured: 2.4 and 0.7 %. */
static void what_a_table_is_off_by_falls_as_its_degree_has_it(void **state)
{
    (void)state;
    const struct polynomial p = random_polynomial(4);
    for (enum degree degree = FINE; degree < DEGREES; degree++) {
        double off[2];
        for (int i = 0; i < 2; i++) {
            size_t n = 64u << i;
            struct ww_table table = table_of(&p, n, n, degree);
            off[i] = measured_off_by(&p, &table, degree);
            assert_true(off[i] <= polynomial_off_by(&p, n, n, degree));
            ww_table_clear(&table);
        }
        assert_close(off[0] / off[1], degree == FINE ? 64 : 16, degree == FINE ? 0.035 : 0.0165, 0);
    }
}

static void a_constant_stays_a_constant(void **state)
{
    (void)state;
    struct random random = random_of(5);
    for (int s = 0; s < SHAPES; s++)
        for (enum degree degree = FINE; degree < DEGREES; degree++) {
            size_t nx = shape[s][0], ny = shape[s][1];
            double _Complex *coef = zeros(nx, ny);
            coef[0] = -3.25;
            struct ww_table table = built(coef, nx, ny, degree);
            assert_close(ww_table_largest(&table), 3.25, 1e-15, 0);
            for (int n = 0; n < 200; n++)
                assert_close(value_at(&table, place(&random, nx), place(&random, ny), degree), -3.25, 1e-14, 0);
            ww_table_clear(&table);
        }
}

static void of_no_harmonic_a_table_is_zero(void **state)
{
    (void)state;
    struct random random = random_of(6);
    for (int s = 0; s < SHAPES; s++)
        for (enum degree degree = FINE; degree < DEGREES; degree++) {
            size_t nx = shape[s][0], ny = shape[s][1];
            struct ww_table table = built(zeros(nx, ny), nx, ny, degree);
            assert_close(ww_table_largest(&table), 0, 0, 0);
            for (int n = 0; n < 200; n++)
                assert_close(value_at(&table, place(&random, nx), place(&random, ny), degree), 0, 0, 0);
            ww_table_clear(&table);
        }
}

/* Whole periods on, to the last digit: the places are exact. */
static void a_table_is_periodic_both_ways(void **state)
{
    (void)state;
    struct random random = random_of(7);
    for (int s = 0; s < SHAPES; s++)
        for (enum degree degree = FINE; degree < DEGREES; degree++) {
            size_t nx = shape[s][0], ny = shape[s][1];
            double *value = noise(nx, ny, &random);
            struct ww_table table = through(value, nx, ny, degree);
            for (int n = 0; n < 500; n++) {
                double x = place(&random, nx), y = place(&random, ny), want = value_at(&table, x, y, degree);
                double on = floor(random_between(&random, -50, 50));
                assert_close(value_at(&table, x + on * (double)nx, y, degree), want, 0, 0);
                assert_close(value_at(&table, x, y + on * (double)ny, degree), want, 0, 0);
            }
            /* and without a jump where it takes up the first sample after the last: a slope is at most twice the largest */
            double jump = 2 * 0x1p-20 * ww_table_largest(&table) + ROUNDING;
            for (size_t i = 0; i < nx * ny; i++) {
                double x = (double)(i % nx), y = (double)(i / nx);
                assert_close(value_at(&table, x - 0x1p-20, y + 0.3, degree), value_at(&table, x, y + 0.3, degree), 0,
                             jump);
                assert_close(value_at(&table, x + 0.3, y - 0x1p-20, degree), value_at(&table, x + 0.3, y, degree), 0,
                             jump);
            }
            ww_table_clear(&table);
            free(value);
        }
}

/* By whole samples exactly; by any other way up to what both tables are off by. */
static void a_shift_of_the_phases_shifts_the_table(void **state)
{
    (void)state;
    enum { NX = 32, NY = 64, PLACES = 500 };
    static const double shift[][2] = {{3, -7}, {0.37, 0}, {0, -0.61}, {5.5, 11.25}}; /* samples */
    struct random random = random_of(8);
    const struct polynomial p = random_polynomial(9);
    for (enum degree degree = FINE; degree < DEGREES; degree++) {
        struct ww_table table = table_of(&p, NX, NY, degree);
        double off = polynomial_off_by(&p, NX, NY, degree);
        for (size_t s = 0; s < sizeof shift / sizeof *shift; s++) {
            const struct polynomial q = moved(&p, shift[s][0] / NX, shift[s][1] / NY);
            struct ww_table other = table_of(&q, NX, NY, degree);
            for (int n = 0; n < PLACES; n++) {
                double x = place(&random, NX), y = place(&random, NY);
                assert_close(value_at(&other, x + shift[s][0], y + shift[s][1], degree),
                             value_at(&table, x, y, degree), 0, s == 0 ? ROUNDING : 2 * off);
            }
            ww_table_clear(&other);
        }
        ww_table_clear(&table);
    }
}

/* One pair of knots reads a fine table and a coarse one of half as many samples along each axis: both give the same function,
 * up to the sum of their bounds. Measured: 0.56 of it. */
static void a_coarse_table_agrees_with_the_fine_one(void **state)
{
    (void)state;
    enum { NX = 64, NY = 128, PLACES = 2000 };
    struct random random = random_of(10);
    const struct polynomial p = random_polynomial(11);
    struct ww_table fine = table_of(&p, NX, NY, FINE), coarse = table_of(&p, NX / 2, NY / 2, COARSE);
    double off = polynomial_off_by(&p, NX, NY, FINE) + polynomial_off_by(&p, NX / 2, NY / 2, COARSE), most = 0;
    for (int n = 0; n < PLACES; n++) {
        const struct ww_knots x = ww_knots_at(place(&random, NX), NX), y = ww_knots_at(place(&random, NY), NY);
        double one = ww_table_at(&fine, &x, &y), other = ww_table_coarse(&coarse, &x, &y);
        assert_close(other, one, 0, off);
        most = fmax(most, fabs(other - one));
    }
    assert_true(most > 0.1 * off); /* or the bound would say nothing */
    ww_table_clear(&fine);
    ww_table_clear(&coarse);
}

static void halves_are_half_the_sum_and_half_the_difference(void **state)
{
    (void)state;
    struct random random = random_of(12);
    for (int s = 0; s < SHAPES; s++)
        for (enum degree degree = FINE; degree < DEGREES; degree++) {
            size_t nx = shape[s][0], ny = shape[s][1];
            double *value = noise(nx, ny, &random), *another = noise(nx, ny, &random);
            struct ww_table one = through(value, nx, ny, degree), other = through(another, nx, ny, degree);
            struct ww_table sum = through(value, nx, ny, degree), difference = through(another, nx, ny, degree);
            ww_table_halves(&sum, &difference);
            for (int n = 0; n < 500; n++) {
                double x = place(&random, nx), y = place(&random, ny);
                double a = value_at(&one, x, y, degree), b = value_at(&other, x, y, degree);
                assert_close(value_at(&sum, x, y, degree), 0.5 * (a + b), 0, ROUNDING);
                assert_close(value_at(&difference, x, y, degree), 0.5 * (a - b), 0, ROUNDING);
            }
            ww_table_clear(&one);
            ww_table_clear(&other);
            ww_table_clear(&sum);
            ww_table_clear(&difference);
            free(value);
            free(another);
        }
}

/* The highest harmonic of both axes, +1 and -1 in turn, has coefficients of size 7.5^2 and 3^2. Noise is nowhere larger than
 * its largest coefficient. */
static void no_value_is_larger_than_the_largest_coefficient(void **state)
{
    (void)state;
    struct random random = random_of(13);
    for (int s = 0; s < SHAPES; s++)
        for (enum degree degree = FINE; degree < DEGREES; degree++) {
            size_t nx = shape[s][0], ny = shape[s][1];
            double _Complex *coef = zeros(nx, ny);
            coef[ny / 2 * (nx / 2 + 1) + nx / 2] = 1;
            struct ww_table table = built(coef, nx, ny, degree);
            assert_close(ww_table_largest(&table), degree == FINE ? 56.25 : 9, 1e-14, 0);
            ww_table_clear(&table);
            double *value = noise(nx, ny, &random);
            table = through(value, nx, ny, degree);
            for (int n = 0; n < 500; n++)
                assert_true(fabs(value_at(&table, place(&random, nx), place(&random, ny), degree)) <=
                            ww_table_largest(&table));
            ww_table_clear(&table);
            free(value);
        }
}

/* --- memory ----------------------------------------------------------------------------------------------------- */

static void cleared_or_failed_a_table_is_empty(void **state)
{
    (void)state;
    struct ww_error error = {0};
    struct ww_table table = built(zeros(8, 8), 8, 8, FINE);
    for (int twice = 0; twice < 2; twice++) {
        ww_table_clear(&table);
        assert_true(table.nx == 0 && table.ny == 0 && table.spline == NULL);
    }
    double _Complex coef[5] = {0};
    assert_int_equal(ww_table_build(&table, coef, 8, 0, false, &error), WW_INVALID);
    assert_contains(error.text, "give 1 to");
    assert_true(table.nx == 0 && table.ny == 0 && table.spline == NULL);
}

/* By the layouts in table.h and the sizes in walk.h. The estimate leaves out the rows behind the period, and takes the tables
 * of the change with width as a quarter of a yarn's, though their padding is as wide: it is 13 % low. */
static void bytes_of_a_walk_are_about_what_its_tables_hold(void **state)
{
    (void)state;
    enum { BEHIND = WW_KNOTS - 1, WIDE = WW_WIDE_SAMPLES, ALONG = WW_ALONG_SAMPLES };
    static const size_t size[][3] = {{WW_CELL_SAMPLES, WW_CELL_SAMPLES, 1}, /* nx, ny, so many */
                                     {WIDE, ALONG, 1},
                                     {ALONG, WIDE, 1},
                                     {WIDE / 2, ALONG / 2, 2},
                                     {ALONG / 2, WIDE / 2, 2}};
    const double whole = sizeof(double) * (WW_WHOLE_SAMPLES + WW_PADDED) * (WW_WHOLE_SAMPLES + BEHIND);
    double steps = 0;
    for (size_t i = 0; i < sizeof size / sizeof *size; i++)
        steps += (double)(sizeof(double) * size[i][2] * (size[i][0] + WW_PADDED) * (size[i][1] + BEHIND));
    assert_close(ww_walk_bytes(1, 1, false), steps + whole, 0.15, 0);
    assert_close(ww_walk_bytes(1, 1, true), 2 * steps + whole, 0.15, 0);
    assert_close(ww_walk_bytes(2, 7, true), 14 * ww_walk_bytes(1, 1, true), 1e-15, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(knots_are_the_b_splines_around_a_place),
        cmocka_unit_test(at_its_samples_a_table_is_the_map),
        cmocka_unit_test(a_harmonic_gives_the_spline_known_of_it),
        cmocka_unit_test(what_a_table_is_off_by_falls_as_its_degree_has_it),
        cmocka_unit_test(a_constant_stays_a_constant),
        cmocka_unit_test(of_no_harmonic_a_table_is_zero),
        cmocka_unit_test(a_table_is_periodic_both_ways),
        cmocka_unit_test(a_shift_of_the_phases_shifts_the_table),
        cmocka_unit_test(a_coarse_table_agrees_with_the_fine_one),
        cmocka_unit_test(halves_are_half_the_sum_and_half_the_difference),
        cmocka_unit_test(no_value_is_larger_than_the_largest_coefficient),
        cmocka_unit_test(cleared_or_failed_a_table_is_empty),
        cmocka_unit_test(bytes_of_a_walk_are_about_what_its_tables_hold),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
