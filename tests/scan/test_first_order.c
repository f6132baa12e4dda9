/* The kernel at one place, summed over the grid of a section (line/first_order.c), is the sum of its harmonics there: single and pair,
 * open, covered and between planes. What another ply at its lateral mean adds is held by tests/correct, with the mean delay.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "../line/structure.h"
#include "check.h"
#include "line/sections.h"
#include "scan/slowness.h"

/* Of the largest deviation from the mean, root mean square over the places. Harmonics end at a third of the cell's samples: along the
 * yarns that leaves out part of their sharp edges, which go as the samples to -1.3 (0.024, 0.006, 0.002 at fineness 1, 3, 8);
 * elsewhere the section crosses them. */
#define FINE 3.0
#define AGREES 1e-4
#define AGREES_ALONG 1e-2
enum { PLACES = 24 };

struct off {
    double mean, square, most;
};

static void compare(const struct ww_line *line, double angle, struct off off[2])
{
    struct ww_error error = {0};
    struct ww_sections sections;
    struct ww_scan *scan;
    int legs = line->mesh.pair ? 2 : 1;
    assert_ok(ww_sections_create(&sections, line, angle, 1, &error), error);
    assert_ok(ww_scan_create(&scan, line, angle, NULL, &error), error);
    memset(off, 0, 2 * sizeof *off);
    for (int i = 0; i < PLACES; i++) {
        const struct ww_ply_scan *ply = &scan->ply[0];
        double place[1][2] = {{fmod(0.137 * i, 1) * ply->lx, fmod(0.311 * i + 0.05, 1) * ply->ly}}, here[2];
        struct ww_told told;
        assert_ok(ww_sections_nested(&sections, 1, (const double(*)[2])place, 1e-2, false, &told, &error), error);
        ww_slowness_of_change(line, told.change, here);
        for (int leg = 0; leg < legs; leg++) {
            double want = ww_scan_average_at(scan, 0, leg ? WW_LEG2 : WW_LEG1, WW_MEAN, 0, place[0][0], place[0][1]);
            off[leg].mean += (here[leg] - want) / PLACES;
            off[leg].square += (here[leg] - want) * (here[leg] - want) / PLACES;
            off[leg].most = fmax(off[leg].most, fabs(want - scan->level[leg][WW_MEAN]));
        }
    }
    ww_scan_destroy(scan);
    ww_sections_destroy(&sections);
}

static void is_the_sum_of_the_kernels_harmonics(void **state)
{
    (void)state;
    static const double angle[] = {0, 90, 30, 67};
    static const enum structure_kind kinds[] = {STRIPLINE, MICROSTRIP, COVERED};
    for (int kind = 0; kind < 3; kind++)
        for (size_t i = 0; i < 2 * sizeof angle / sizeof *angle; i++) {
            double allowed = i / 2 < 2 ? AGREES_ALONG : AGREES;
            struct structure_options options = i % 2 ? structure_pair() : structure_single();
            struct structure s;
            struct ww_line *line;
            struct ww_error error = {0};
            struct off off[2];
            options.kind = kinds[kind];
            options.cell = (struct ww_cell_options){.fineness = FINE};
            assert_ok(structure_open(&s, &options, &error), error);
            assert_ok(ww_line_create_single(&line, &s.stack, ww_line_trace(s.line),
                                            &(struct ww_line_options){.fineness = 1}, &error),
                      error);
            compare(line, angle[i / 2] * DEGREES, off);
            for (size_t leg = 0; leg <= i % 2; leg++) {
                double scatter = sqrt(fmax(off[leg].square - off[leg].mean * off[leg].mean, 0));
                print_message("kind %d, %g deg, leg %zu: scatter %.2g, mean %.2g of the largest deviation\n", kind,
                              angle[i / 2], leg + 1, scatter / off[leg].most, off[leg].mean / off[leg].most);
                assert_true(scatter < allowed * off[leg].most);
                assert_true(fabs(off[leg].mean) < allowed * off[leg].most);
            }
            ww_line_destroy(line);
            structure_close(&s);
        }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(is_the_sum_of_the_kernels_harmonics),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
