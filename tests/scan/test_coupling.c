/* What two plies do together: the products of their harmonics against the integral of the product itself, and the extremes of
 * both in place against all pairs of places.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "../line/board.h"
#include "scan/plies.h"

#include <stdlib.h>

#define CELLS 3

static struct ww_scan *scan_of(const struct board *board, double angle, const struct ww_scan_options *options)
{
    struct ww_scan *scan;
    struct ww_error error = {0};
    assert_ok(ww_scan_create(&scan, board->line, angle, options, &error), error);
    return scan;
}

static void open(struct board *board, bool pair)
{
    struct board_options options = pair ? board_pair() : board_plain();
    options.cell = (struct ww_cell_options){.nx = 48, .ny = 48, .nz = 8};
    options.fineness = 0.5;
    options.above = true;
    board_open(board, &options);
}

/* Along the diagonal of the cell the phases of (m, 0) of one ply and (0, -m) of the other run alike. */
static double diagonal_of(const struct board *board, double *length)
{
    const struct ww_cell *cell = &board->stack.ply[0].cell;
    *length = CELLS * hypot(cell->lx, cell->ly);
    return atan2(cell->lx, cell->ly);
}

/* -(1/S0) integral of d1 d2 ds of one leg, by the midpoint rule: the product is periodic over the length. */
static double integral_of_product(const struct ww_scan *scan, enum ww_signal leg, double length,
                                  const double (*start)[2])
{
    enum { POINTS = 480 };
    double sum = 0, mean = creal(scan->ply[0].coefficient[leg == WW_LEG2][WW_MEAN][0]);
    for (int i = 0; i < POINTS; i++) {
        double s = length * (i + 0.5) / POINTS, change[2];
        for (size_t p = 0; p < 2; p++)
            change[p] = ww_scan_average_at(scan, p, leg, WW_MEAN, 0, start[p][0] + s * scan->ply[p].ux,
                                           start[p][1] + s * scan->ply[p].uy) -
                        creal(scan->ply[p].coefficient[leg == WW_LEG2][WW_MEAN][0]);
        sum -= change[0] * change[1] / mean;
    }
    return sum * length / POINTS;
}

static double signal_of_product(const struct ww_scan *scan, enum ww_signal signal, double length,
                                const double (*start)[2])
{
    double one = integral_of_product(scan, signal == WW_LEG2 ? WW_LEG2 : WW_LEG1, length, start);
    return signal == WW_SKEW ? one - integral_of_product(scan, WW_LEG2, length, start) : one;
}

/* Some place of both plies' cells, another for each i. */
static void place(const struct board *board, int i, double (*start)[2])
{
    const struct ww_cell *cell = &board->stack.ply[0].cell;
    for (int p = 0; p < 2; p++) {
        start[p][0] = fmod(0.37 + 0.6180 * i + 0.29 * p, 1) * cell->lx;
        start[p][1] = fmod(0.11 + 0.7549 * i * (p + 1), 1) * cell->ly;
    }
}

static double largest_of(const struct ww_scan *scan)
{
    double largest = 0;
    for (size_t w = 1; w < scan->ply[0].harmonics; w++)
        largest = fmax(largest, cabs(scan->ply[0].coefficient[0][WW_MEAN][w]));
    return largest;
}

static void products_of_harmonics_are_the_integral_of_the_product(void **state)
{
    (void)state;
    static const double off[] = {0, 0.2 * DEGREES, 20 * DEGREES};
    for (int kind = 0; kind < 2; kind++) {
        struct board board;
        double length;
        open(&board, kind == 0);
        double diagonal = diagonal_of(&board, &length);
        for (size_t a = 0; a < sizeof off / sizeof *off; a++)
            for (int signal = WW_LEG1; signal <= (kind == 0 ? WW_SKEW : WW_LEG1); signal++) {
                struct ww_scan *scan = scan_of(&board, diagonal + off[a], NULL);
                double largest = largest_of(scan), worst = 0, most = 0;
                for (int i = 0; i < 4; i++) {
                    double start[2][2], value = 0, alone = 0;
                    struct ww_error error = {0};
                    place(&board, i, start);
                    assert_ok(ww_scan_value_of_all(scan, (enum ww_signal)signal, WW_MEAN, length,
                                                   (const double(*)[2])start, &value, &error),
                              error);
                    for (size_t p = 0; p < 2; p++) {
                        double one;
                        assert_ok(ww_scan_value(scan, p, (enum ww_signal)signal, WW_MEAN, length, start[p][0],
                                                start[p][1], &one, &error),
                                  error);
                        alone += one;
                    }
                    double wanted =
                        signal_of_product(scan, (enum ww_signal)signal, length, (const double(*)[2])start);
                    worst = fmax(worst, fabs(value - alone - wanted));
                    most = fmax(most, fabs(wanted));
                }
                print_message("%4.1f deg beside, signal %d: off by %.2g of the largest harmonic times the length\n",
                              off[a] / DEGREES, signal, worst / (largest * length));
                /* products below 2e-4 of that are left out, and fade below 4e-4: with 1e-5 it is 1.4e-4, with 1e-6 2.9e-5 */
                assert_close(worst, 0, 0, 1.5e-3 * largest * length);
                if (a == 0)
                    assert_true(most > 10 * worst);
                ww_scan_destroy(scan);
            }
        board_close(&board);
    }
}

/* All pairs of SIDE by SIDE places of both plies. */
static void extremes_are_those_of_all_pairs_of_places(void **state)
{
    (void)state;
    enum { SIDE = 24, PLACES = SIDE * SIDE };
    struct board board;
    double length;
    open(&board, true);
    double diagonal = diagonal_of(&board, &length);
    struct ww_scan *scan = scan_of(&board, diagonal, &(struct ww_scan_options){.positions = SIDE});
    struct ww_coupling coupling;
    struct ww_map map[2];
    struct ww_extreme high[2], low[2], at[2];
    struct ww_error error = {0};
    assert_ok(ww_coupling_of_scan(&coupling, scan, WW_SKEW, WW_MEAN, length, &error), error);
    assert_ok(ww_scan_extremes_of_all(scan, WW_SKEW, WW_MEAN, length, map, high, low, &error), error);
    assert_true(coupling.count > 0);
    double most = 0, alone[2] = {0, 0};
    for (size_t i = 0; i < PLACES; i++)
        for (size_t j = 0; j < PLACES; j++) {
            size_t k[2] = {i, j};
            double sum = 0;
            for (int p = 0; p < 2; p++) {
                at[p].x = ((double)(k[p] % SIDE) + 0.5) * map[p].lx / SIDE;
                at[p].y = ((double)(k[p] / SIDE) + 0.5) * map[p].ly / SIDE;
                sum += map[p].value[k[p]];
                alone[p] = fmax(alone[p], map[p].value[k[p]]);
            }
            most = fmax(most, sum + ww_coupling_value(&coupling, at));
        }
    double top = ww_sum_of_extremes(high, 2);
    print_message("in place %.4g, of all pairs %.4g, alone %.4g s\n", top, most, alone[0] + alone[1]);
    assert_true(top >= most && top < 1.01 * most);
    assert_true(fabs(top / (alone[0] + alone[1]) - 1) > 0.02); /* it is not nothing */
    assert_close(ww_sum_of_extremes(low, 2), -top, 1e-6, 0);   /* half a turn swaps the legs */
    double start[2][2] = {{high[0].x, high[0].y}, {high[1].x, high[1].y}}, value;
    assert_ok(ww_scan_value_of_all(scan, WW_SKEW, WW_MEAN, length, (const double(*)[2])start, &value, &error), error);
    assert_close(value, top, 1e-6, 0);
    for (int p = 0; p < 2; p++)
        ww_map_clear(&map[p]);
    ww_coupling_clear(&coupling);
    ww_scan_destroy(scan);
    board_close(&board);
}

static size_t products(const struct board *board, double angle, double length, const struct ww_scan_options *options,
                       enum ww_signal signal)
{
    struct ww_scan *scan = scan_of(board, angle, options);
    struct ww_coupling coupling;
    struct ww_error error = {0};
    assert_ok(ww_coupling_of_scan(&coupling, scan, signal, WW_MEAN, length, &error), error);
    size_t count = coupling.count;
    ww_coupling_clear(&coupling);
    ww_scan_destroy(scan);
    return count;
}

static void plies_couple_where_their_yarns_keep_step(void **state)
{
    (void)state;
    struct board board, single;
    double length;
    open(&board, true);
    double diagonal = diagonal_of(&board, &length);
    assert_true(products(&board, diagonal, 50e-3, NULL, WW_SKEW) > 0);
    assert_int_equal(products(&board, diagonal + 8 * DEGREES, 50e-3, NULL, WW_SKEW), 0);
    assert_int_equal(products(&board, diagonal, 0, NULL, WW_SKEW), 0);
    struct ww_scan_options slow = {.averaging = WW_QUASI_STATIC};
    assert_int_equal(products(&board, diagonal, 50e-3, &slow, WW_SKEW), 0);
    board_close(&board);
    struct board_options options = board_pair();
    options.fineness = 0.5;
    board_open(&single, &options); /* one ply */
    assert_int_equal(products(&single, diagonal, 50e-3, NULL, WW_SKEW), 0);
    board_close(&single);
}

/* A route of one direction in two segments is the straight trace. */
static void a_route_couples_as_the_straight_trace(void **state)
{
    (void)state;
    struct board board;
    double length;
    open(&board, true);
    double diagonal = diagonal_of(&board, &length), value[2];
    const struct ww_route_segment route[] = {{0.3 * length, diagonal}, {0.7 * length, diagonal}};
    for (int i = 0; i < 2; i++) {
        struct ww_scan *scan = scan_of(&board, i ? 0 : diagonal,
                                       &(struct ww_scan_options){.route = i ? route : NULL, .segments = i ? 2 : 0});
        struct ww_error error = {0};
        double start[2][2];
        place(&board, 3, start);
        assert_ok(ww_scan_value_of_all(scan, WW_SKEW, WW_MEAN, length, (const double(*)[2])start, &value[i], &error),
                  error);
        ww_scan_destroy(scan);
    }
    assert_close(value[1], value[0], 1e-9, 0);
    board_close(&board);
}

/* The running value of the profile ends at what the whole trace has. */
static void the_profile_ends_at_the_value(void **state)
{
    (void)state;
    enum { POINTS = 2001 };
    struct board board;
    double length;
    open(&board, true);
    double diagonal = diagonal_of(&board, &length), value;
    struct ww_scan *scan = scan_of(&board, diagonal, NULL);
    struct ww_error error = {0};
    double start[2][2], *work = calloc(3 * POINTS, sizeof *work);
    assert_non_null(work);
    for (int i = 0; i < 4; i++) {
        place(&board, i, start);
        assert_ok(ww_scan_value_of_all(scan, WW_SKEW, WW_MEAN, length, (const double(*)[2])start, &value, &error),
                  error);
        assert_ok(ww_scan_profile(scan, (const double(*)[2])start, length, 0, length, POINTS, work, work + POINTS,
                                  work + 2 * POINTS, &error),
                  error);
        double sum = 0; /* of the local values */
        for (int k = 0; k < POINTS; k++)
            sum += (k && k + 1 < POINTS ? 1 : 0.5) * (sqrt(work[k]) - sqrt(work[POINTS + k])) / WW_C0;
        sum *= length / (POINTS - 1);
        double small = 2e-3 * length * largest_of(scan); /* products left out of the value */
        assert_close(work[3 * POINTS - 1], value, 0, small);
        assert_close(sum, work[3 * POINTS - 1], 0, small);
    }
    free(work);
    ww_scan_destroy(scan);
    board_close(&board);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(products_of_harmonics_are_the_integral_of_the_product),
        cmocka_unit_test(extremes_are_those_of_all_pairs_of_places),
        cmocka_unit_test(plies_couple_where_their_yarns_keep_step),
        cmocka_unit_test(a_route_couples_as_the_straight_trace),
        cmocka_unit_test(the_profile_ends_at_the_value),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
