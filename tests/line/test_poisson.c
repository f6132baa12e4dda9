/* The layered operator and its inverse, the Green function, parallel plates.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "board.h"
#include "core/transform.h"
#include "line/background.h"
#include "line/poisson.h"

#include <stdlib.h>

enum { COLUMNS = 24, ROWS = 11, NODES = COLUMNS - 1, LEVELS = ROWS - 1 };

/* Eleven rows of odd heights and anisotropic permittivities; copper in the middle. */
static struct ww_row rows[ROWS];
static struct ww_mesh odd_mesh(void)
{
    for (size_t r = 0; r < ROWS; r++)
        rows[r] = (struct ww_row){UM * (3 + (double)(r * r % 7)),
                                  1 + 0.7 * (double)(r * 5 % 4),
                                  1.3 + 0.5 * (double)(r * 3 % 5),
                                  WW_NO_PLY,
                                  0,
                                  false};
    return (struct ww_mesh){5 * UM, COLUMNS, ROWS, rows, 5, 7, 14, 4, true};
}

/* The operator, edge by edge; [(level-1) along + j][column-1], periodic in j. */
static void apply(const struct ww_mesh *mesh, struct ww_period period, const double *v, double *out)
{
    double h = mesh->step, ratio = h * h / (period.step * period.step);
    size_t along = period.samples, plane = along * NODES;
    for (size_t k = 0; k < LEVELS; k++)
        for (size_t j = 0; j < along; j++)
            for (size_t i = 0; i < NODES; i++) {
                size_t at = (k * along + j) * NODES + i;
                double here = v[at], left = i ? v[at - 1] : 0, right = i + 1 < NODES ? v[at + 1] : 0;
                double below = k ? v[at - plane] : 0, above = k + 1 < LEVELS ? v[at + plane] : 0;
                double before = v[(k * along + (j + along - 1) % along) * NODES + i];
                double after = v[(k * along + (j + 1) % along) * NODES + i];
                const struct ww_row *b = &mesh->row[k], *a = &mesh->row[k + 1];
                double across = (creal(b->eps_n) * b->dz + creal(a->eps_n) * a->dz) / (2 * h);
                out[at] = across * (2 * here - left - right) + ratio * across * (2 * here - before - after) +
                          creal(b->eps_z) * h / b->dz * (here - below) + creal(a->eps_z) * h / a->dz * (here - above);
            }
}

enum { ALONG = 6, UNKNOWNS = NODES * LEVELS * ALONG };
static const struct ww_period period = {ALONG, 8 * UM};

static void inverse_undoes_the_operator(void **state)
{
    (void)state;
    static double v[UNKNOWNS], back[UNKNOWNS], solved[UNKNOWNS];
    struct ww_mesh mesh = odd_mesh();
    for (int with_period = 0; with_period < 2; with_period++) {
        struct ww_period p = with_period ? period : WW_CROSS_SECTION;
        size_t count = NODES * LEVELS * p.samples;
        struct ww_layered layered;
        struct ww_error error = {0};
        assert_ok(ww_layered_create(&layered, &mesh, p, false, &error), error);
        unsigned seed = 7;
        for (size_t i = 0; i < count; i++) {
            seed = seed * 1664525u + 1013904223u;
            v[i] = (double)seed / 4294967296.0 - 0.5;
        }
        apply(&mesh, p, v, back);
        ww_layered_solve(&layered, back);
        memcpy(solved, v, sizeof solved);
        ww_layered_solve(&layered, solved);
        double again[UNKNOWNS];
        apply(&mesh, p, solved, again);
        for (size_t i = 0; i < count; i++) {
            assert_close(back[i], v[i], 0, 1e-12);
            assert_close(again[i], v[i], 0, 1e-12);
        }
        ww_layered_destroy(&layered);
    }
}

/* Along the period the Green function is that of one harmonic at a time: on sources that vary as cos(2 pi w j/along). */
static void green_function_is_a_column_of_the_inverse(void **state)
{
    (void)state;
    static double v[UNKNOWNS];
    struct ww_mesh mesh = odd_mesh();
    for (int vacuum = 0; vacuum < 2; vacuum++)
        for (size_t harmonic = 0; harmonic <= ALONG / 2; harmonic++) {
            struct ww_layered layered;
            struct ww_error error = {0};
            assert_ok(ww_layered_create(&layered, &mesh, period, vacuum, &error), error);
            size_t low = mesh.bottom, high = mesh.top, count = high - low + 1;
            double *green = calloc(count * (COLUMNS + 1), sizeof *green),
                   *own = calloc((count + 1) * NODES, sizeof *own);
            assert_non_null(green);
            assert_non_null(own);
            struct ww_cosine *cosine;
            assert_ok(ww_cosine_create(&cosine, COLUMNS + 1, &error), error);
            ww_layered_own(&layered, harmonic, low, high, own);
            for (size_t level = low; level <= high; level++) {
                ww_layered_green(&layered, harmonic, low, level, own + (level - low) * NODES, green);
                ww_cosine_apply(cosine, green, level - low + 1);
                for (size_t source = 1; source <= NODES; source += 5) {
                    memset(v, 0, sizeof v);
                    for (size_t j = 0; j < ALONG; j++)
                        v[((level - 1) * ALONG + j) * NODES + source - 1] =
                            cos(2 * WW_PI * (double)(harmonic * j) / ALONG);
                    ww_layered_solve(&layered, v);
                    for (size_t k = low; k <= level; k++)
                        for (size_t i = 1; i <= NODES; i++) {
                            const double *g = green + (k - low) * (COLUMNS + 1);
                            size_t apart = i > source ? i - source : source - i, sum = i + source;
                            double got = g[apart] - g[sum <= COLUMNS ? sum : 2 * COLUMNS - sum];
                            assert_close(got, v[(k - 1) * ALONG * NODES + i - 1], 0, 1e-13);
                        }
                }
            }
            ww_cosine_destroy(cosine);
            free(own);
            free(green);
            ww_layered_destroy(&layered);
        }
}

/* Copper held at its potential, its charge counted on the operator: what the background says. */
static void background_satisfies_the_operator(void **state)
{
    (void)state;
    struct ww_mesh mesh = odd_mesh();
    struct ww_background b;
    struct ww_error error = {0};
    assert_ok(ww_background_solve(&b, &mesh, false, true, &error), error);
    double charge[NODES * LEVELS];
    for (int mode = 0; mode < 2; mode++) {
        const double *v = mode ? b.odd : b.even;
        double total = 0;
        apply(&mesh, WW_CROSS_SECTION, v, charge);
        for (size_t k = 1; k <= LEVELS; k++)
            for (size_t i = 1; i <= NODES; i++) {
                double here = charge[(k - 1) * NODES + i - 1], volt = v[(k - 1) * NODES + i - 1];
                bool level = k >= mesh.bottom && k <= mesh.top;
                bool leg1 = level && i >= mesh.first && i <= mesh.first + mesh.span;
                bool leg2 = level && COLUMNS - i >= mesh.first && COLUMNS - i <= mesh.first + mesh.span;
                if (leg1 || leg2)
                    assert_close(volt, leg1 || mode == 0 ? 1 : -1, 1e-12, 0);
                else
                    assert_close(here, 0, 0, 1e-11);
                total += leg1 ? here : 0;
            }
        assert_close(total, mode ? b.c_odd : b.c_even, 1e-11, 0);
    }
    ww_background_clear(&b);
    ww_background_clear(&b);
}

/* Charge spread evenly over a sheet, far from the walls: the levels are capacitors in series, and what the walls change
 * falls off as exp(-pi n/d), d the distance of the plates. */
static void plates_are_capacitors_in_series(void **state)
{
    (void)state;
    static struct ww_row row[4];
    double dz[4] = {100, 15, 60, 40}, eps[4] = {3.2, 2.7, 4.4, 1.0}, series = 0, upper = 0;
    for (size_t r = 0; r < 4; r++) {
        row[r] = (struct ww_row){dz[r] * UM, eps[r], eps[r], WW_NO_PLY, 0, false};
        series += r < 2 ? dz[r] * UM / eps[r] : 0;
        upper += r < 2 ? 0 : dz[r] * UM / eps[r];
    }
    /* charge spread evenly over a sheet between the second and the third row, far from the walls */
    enum { WIDE = 4000 };
    struct ww_mesh mesh = {50 * UM, WIDE, 4, row, 2, 2, 1, WIDE - 2, false};
    struct ww_layered layered;
    struct ww_error error = {0};
    assert_ok(ww_layered_create(&layered, &mesh, WW_CROSS_SECTION, false, &error), error);
    double *v = calloc(3 * (WIDE - 1), sizeof *v);
    assert_non_null(v);
    for (size_t i = 0; i < WIDE - 1; i++)
        v[WIDE - 1 + i] = mesh.step; /* one unit of charge per metre, in units of eps0 */
    ww_layered_solve(&layered, v);
    double want = 1 / (1 / series + 1 / upper), middle = v[WIDE - 1 + WIDE / 2];
    assert_close(middle, want, 1e-9, 0);
    /* and in each part the voltage falls as the series says */
    assert_close(v[WIDE / 2], middle * (100 * UM / 3.2) / series, 1e-9, 0);
    assert_close(v[2 * (WIDE - 1) + WIDE / 2], middle * (40 * UM / 1.0) / upper, 1e-9, 0);
    free(v);
    ww_layered_destroy(&layered);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(inverse_undoes_the_operator),
        cmocka_unit_test(green_function_is_a_column_of_the_inverse),
        cmocka_unit_test(background_satisfies_the_operator),
        cmocka_unit_test(plates_are_capacitors_in_series),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
