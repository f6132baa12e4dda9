/* Cloths and photographs at random, every shipped style among them: how often the measured figures are within the limits, and how well
 * their uncertainties cover what they miss by. test_sample WEAVES FIRST LAST LARGEST: seeds, pixels.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "expect.h"
#include "sample.h"

#include <stdio.h>
#include <stdlib.h>

enum { FOR_SHARES = 40 /* pictures: fewer have no shares */ };

static struct {
    const char *weaves;
    uint64_t first, last;
    double most;
} asked;

/* Of families, as counts. */
struct counts {
    int pictures, refused, families, pitch, turn, told, width, covered_pitch, covered_turn, covered_width;
};

static void count_family(struct counts *n, const struct rendering *r, const struct ww_picture_yarns *y, int f)
{
    struct misses miss = rendering_misses(r, y, f);
    double pitch = fabs(miss.pitch), turn = fabs(miss.turn), width = fabs(miss.width);
    double pitch_error = y->pitch.error / y->pitch.value;
    n->families++;
    n->pitch += pitch <= 2e-3;
    n->turn += turn <= 0.05 * degree;
    n->covered_pitch += pitch <= 2.0 * pitch_error;
    n->covered_turn += turn <= 2.0 * y->turn.error;
    /* the right yarns, whatever else: no other reading of the lines is this near */
    assert_close(y->pitch.value, r->pitch[f], 0.02, 0.0);
    assert_close(y->turn.value, r->turn[f], 0.0, 1.0 * degree);
    assert_true(pitch <= 2e-3 || pitch <= 4.0 * pitch_error);
    assert_true(turn <= 0.05 * degree || turn <= 4.0 * y->turn.error);
    if (!y->edges_seen)
        return;
    double width_error = y->width.error / y->width.value;
    n->told++;
    n->width += width <= 0.05;
    n->covered_width += width <= 2.0 * width_error;
    assert_true(width <= 0.05 || width <= 3.0 * width_error);
    assert_true(width <= 0.15);
}

static void expect_share(const char *what, int count, int of, double least)
{
    printf("%s: %d of %d\n", what, count, of);
    assert_true((double)count >= least * (double)of);
}

static void limits_are_met(void **state)
{
    (void)state;
    struct ww_weaves weaves = {0};
    struct ww_error error = {0};
    struct counts n = {0};
    assert_ok(ww_weaves_open(&weaves, asked.weaves, NULL, &error), error);
    for (uint64_t seed = asked.first; seed <= asked.last; seed++) {
        struct rendering r = rendering_of_seed(&weaves, seed, asked.most);
        struct ww_picture picture = render(&r);
        struct ww_picture_options how = {0};
        struct ww_cloth_picture cloth;
        n.pictures++;
        if (ww_picture_measure(&cloth, &picture, &how, &error)) {
            printf("seed %d refused: %s\n", (int)seed, error.text);
            n.refused++;
        } else {
            count_family(&n, &r, &cloth.warp, 0);
            count_family(&n, &r, &cloth.fill, 1);
            ww_cloth_picture_clear(&cloth);
        }
        ww_picture_clear(&picture);
    }
    ww_weaves_close(&weaves);
    if (n.pictures < FOR_SHARES)
        return;
    expect_share("pictures measured", n.pictures - n.refused, n.pictures, 0.95);
    expect_share("pitch within 0.2 %", n.pitch, n.families, 0.97);
    expect_share("turn within 0.05 deg", n.turn, n.families, 0.92);
    expect_share("widths told", n.told, n.families, 0.5);
    expect_share("told within 5 %", n.width, n.told, 0.95);
    expect_share("pitch within its uncertainty", n.covered_pitch, n.families, 0.92);
    expect_share("turn within its uncertainty", n.covered_turn, n.families, 0.92);
    expect_share("width within its uncertainty", n.covered_width, n.told, 0.95);
}

int main(int argc, char **argv)
{
    if (argc != 5) {
        fprintf(stderr, "test_sample WEAVES FIRST LAST LARGEST\n");
        return 2;
    }
    asked.weaves = argv[1];
    asked.first = strtoull(argv[2], NULL, 10);
    asked.last = strtoull(argv[3], NULL, 10);
    asked.most = atof(argv[4]);
    const struct CMUnitTest tests[] = {cmocka_unit_test(limits_are_met)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
