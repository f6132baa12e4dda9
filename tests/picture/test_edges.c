/* A yarn's edges and blur from profiles that are summed here, of which everything is known; and how well they are known.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The profile is the integral of the cloth's levels times a Gaussian, by the midpoint rule: over the sine's angle across a yarn, where
 * its face steepens towards the rims, and over the place across a gap. Lengths are shares of the pitch.
 */
#include "check.h"
#include "picture/edges.h"
#include "random.h"

enum { BINS = WW_PROFILE_BINS, SEEDS = 50 };

/* A yarn between two edges, which repeats with the pitch, and the gaps to its left and right. */
struct strip {
    double left, right, blur;
    double yarn, gap[2]; /* levels: of a face turned upwards; of what shows through */
    double height;       /* of the yarn's ellipse to its width; 0: a box */
    double slant;        /* of the light: a face that looks aside is lighter by this share of its normal */
    double tilt;         /* the light changes by this share over the pitch */
};

/* Gaps of a third of the pitch. The contrast is 0.8. */
static struct strip strip_of(double middle, double width, double blur, double height)
{
    return (struct strip){.left = middle - 0.5 * width,
                          .right = middle + 0.5 * width,
                          .blur = blur,
                          .yarn = 1.0,
                          .gap = {0.2, 0.2},
                          .height = height};
}

/* Beyond seven standard deviations there is nothing. */
static double gaussian(double u, double blur)
{
    if (fabs(u) > 7.0 * blur)
        return 0.0;
    return exp(-0.5 * u * u / (blur * blur)) / (blur * sqrt(2.0 * WW_PI));
}

/* Of a matt ellipse, at q = -1 to 1 across it: its normal is along (height q, sqrt(1 - q^2)). */
static double face_at(const struct strip *s, double q)
{
    double aside = s->height * q, up = sqrt(1.0 - q * q);
    return s->yarn * (up + s->slant * aside) / hypot(up, aside);
}

static double level_at(const struct strip *s, double u)
{
    enum { PARTS = 200, PITCHES = 1 };
    double sum = 0.0, half = 0.5 * (s->right - s->left), middle = 0.5 * (s->left + s->right), gap = 1.0 - 2.0 * half;
    for (int n = -PITCHES; n <= PITCHES; n++)
        for (int i = 0; i < PARTS; i++) {
            double share = (i + 0.5) / PARTS, angle = WW_PI * (share - 0.5);
            double on = middle + n + half * sin(angle), off = s->right + n + gap * share;
            sum += WW_PI / PARTS * half * cos(angle) * (1.0 + s->tilt * on) * face_at(s, sin(angle)) *
                   gaussian(u - on, s->blur);
            sum += gap / PARTS * (1.0 + s->tilt * off) * s->gap[n < 0 ? 0 : 1] * gaussian(u - off, s->blur);
        }
    return sum;
}

/* The mean of a bin; it counts more lines in some bins than in others. */
static void set_bin(struct ww_profile *profile, size_t k, double value)
{
    profile->count[k] = 3.0 + (double)(k % 4);
    profile->sum[k] = profile->count[k] * value;
}

static double bin_middle(size_t k)
{
    return ((double)k + 0.5) / BINS - 0.5;
}

static struct ww_profile profile_of(const struct strip *s)
{
    struct ww_profile profile = {.unit = 0.0};
    for (size_t k = 0; k < BINS; k++)
        set_bin(&profile, k, level_at(s, bin_middle(k)));
    return profile;
}

/* Near enough Gaussian: the sum of twelve uniform numbers, whose standard deviation is 1. */
static struct ww_profile with_noise(const struct ww_profile *clean, double deviation, uint64_t seed)
{
    struct ww_profile noisy = *clean;
    struct random random = random_of(seed);
    for (size_t k = 0; k < BINS; k++) {
        double sum = -6.0;
        for (int i = 0; i < 12; i++)
            sum += random_share(&random);
        noisy.sum[k] += noisy.count[k] * deviation * sum;
    }
    return noisy;
}

static struct ww_edges found(const struct strip *s, struct ww_profile *profile)
{
    *profile = profile_of(s);
    struct ww_edges edges = ww_edges_find(profile);
    assert_true(edges.residual < HUGE_VAL);
    return edges;
}

static void expect_edges(const struct strip *s, double of_edges, double of_blur)
{
    struct ww_profile profile;
    struct ww_edges edges = found(s, &profile);
    assert_close(edges.left, s->left, 0.0, of_edges);
    assert_close(edges.right, s->right, 0.0, of_edges);
    assert_close(edges.blur, s->blur, 0.0, of_blur);
}

static double width_of(const struct ww_edges *edges)
{
    return edges->right - edges->left;
}

/* --- edges and blur ---------------------------------------------------------------------------------------------------------- */

/* An even yarn is the model itself, without dark flanks: only where the search stops, 1e-5 of the pitch, is left. Measured: edges and
 * blur within 1.1e-5. Not a gap of about one blur, which tells little: see the uncertainty below. */
static void a_box_comes_back(void **state)
{
    (void)state;
    static const double width[] = {0.3, 0.63, 0.9}, blur[] = {0.01, 0.03, 0.08};
    for (size_t i = 0; i < 3; i++)
        for (size_t k = 0; k < 3; k++) {
            if (width[i] > 0.8 && blur[k] > 0.05)
                continue;
            struct strip s = strip_of(-0.015, width[i], blur[k], 0.0);
            expect_edges(&s, 5e-5, 5e-5);
        }
}

/* The ellipse of the model, which takes it in 24 strips. Measured: edges within 2.6e-4 of the pitch, the blur within 7e-5. */
static void an_ellipse_comes_back(void **state)
{
    (void)state;
    static const double width[] = {0.3, 0.63, 0.9}, blur[] = {0.01, 0.03, 0.05};
    for (size_t i = 0; i < 3; i++)
        for (size_t k = 0; k < 3; k++) {
            struct strip s = strip_of(0.02, width[i], blur[k], 0.13);
            expect_edges(&s, 4e-4, 1.2e-4);
        }
}

/* Yarns of shipped styles are 0.07 to 0.2 of their width high. Measured: widths 0.16 % low to 1.35 % high. */
static void a_flat_ellipse_of_another_height_does(void **state)
{
    (void)state;
    static const double height[] = {0.07, 0.10, 0.16, 0.2};
    for (size_t i = 0; i < 4; i++) {
        struct strip s = strip_of(0.0, 0.63, 0.03, height[i]);
        struct ww_profile profile;
        struct ww_edges edges = found(&s, &profile);
        assert_close(width_of(&edges), 0.63, 0.015, 0.0);
        assert_close(edges.left, -edges.right, 0.0, 5e-5);
        assert_close(edges.blur, 0.03, 0.015, 0.0);
    }
}

/* The level of an ellipse is its mean across, the integral of face_at over q from -1 to 1, halved; both are off the profile's mean. */
static void levels_come_back(void **state)
{
    (void)state;
    enum { PARTS = 2000 };
    for (int round = 0; round < 2; round++) {
        struct strip s = strip_of(0.0, 0.63, 0.03, round ? 0.13 : 0.0);
        struct ww_profile profile;
        struct ww_edges edges = found(&s, &profile);
        double mean = 0.0;
        for (int i = 0; i < PARTS; i++)
            mean += face_at(&s, 2.0 * (i + 0.5) / PARTS - 1.0) / PARTS;
        assert_close(edges.high - edges.low, mean - 0.2, 1e-3, 0.0);
        assert_close(0.63 * edges.high + 0.37 * edges.low, 0.0, 0.0, 1e-3);
    }
}

/* --- uneven light ------------------------------------------------------------------------------------------------------------ */

/* Light from aside is the model's own shape. Measured: edges within 4.4e-4, the blur within 5e-5. */
static void light_from_aside_moves_no_edge(void **state)
{
    (void)state;
    for (int i = 1; i <= 4; i++) {
        struct strip s = strip_of(-0.015, 0.63, 0.03, 0.13);
        s.slant = 0.25 * i;
        expect_edges(&s, 6e-4, 1e-4);
    }
}

/* A yarn on its path, and gaps of different levels: each side has its own, though drawn to the other's. Measured, where they differ by an
 * eighth and a quarter of the contrast: edges within 5.7e-4 and 1.1e-3, the blur within 1.4e-4. */
static void gaps_of_different_levels_are_allowed_for(void **state)
{
    (void)state;
    for (int i = 1; i <= 2; i++)
        for (int round = 0; round < 2; round++) {
            struct strip s = strip_of(0.0, 0.63, 0.03, round ? 0.13 : 0.0);
            s.gap[0] -= 0.05 * i;
            s.gap[1] += 0.05 * i;
            expect_edges(&s, 8e-4 * i, 2e-4);
        }
}

/* Light that falls by a tenth over the pitch: what it does to a yarn is not quite the shape of light from aside. Measured: both edges
 * move to the same side, by up to 2.9e-3; width and blur are within 0.25 %. */
static void light_that_falls_hardly_changes_the_width(void **state)
{
    (void)state;
    for (int round = 0; round < 2; round++)
        for (int sense = -1; sense <= 1; sense += 2) {
            struct strip s = strip_of(0.0, 0.63, 0.03, round ? 0.13 : 0.0);
            struct ww_profile profile;
            s.tilt = 0.1 * sense;
            struct ww_edges edges = found(&s, &profile);
            assert_close(width_of(&edges), 0.63, 0.004, 0.0);
            assert_close(edges.left, s.left, 0.0, 4e-3);
            assert_close(edges.right, s.right, 0.0, 4e-3);
            assert_close(edges.blur, 0.03, 0.005, 0.0);
            assert_true(fabs(width_of(&edges) - 0.63) <= ww_edges_error(&profile, &edges));
        }
}

/* --- invariants -------------------------------------------------------------------------------------------------------------- */

/* As it may come: off the middle, light from aside, noise. */
static struct ww_profile common_profile(void)
{
    struct strip s = strip_of(0.04, 0.7, 0.04, 0.13);
    s.slant = 0.3;
    struct ww_profile clean = profile_of(&s);
    return with_noise(&clean, 0.008, 7);
}

/* To five times where the search stops. */
static void the_mirror_image_has_mirrored_edges(void **state)
{
    (void)state;
    struct ww_profile profile = common_profile(), mirrored = {.unit = 0.0};
    for (size_t k = 0; k < BINS; k++) {
        mirrored.sum[k] = profile.sum[BINS - 1 - k];
        mirrored.count[k] = profile.count[BINS - 1 - k];
    }
    struct ww_edges edges = ww_edges_find(&profile), other = ww_edges_find(&mirrored);
    assert_true(edges.residual < HUGE_VAL);
    assert_close(other.left, -edges.right, 0.0, 5e-5);
    assert_close(other.right, -edges.left, 0.0, 5e-5);
    assert_close(other.blur, edges.blur, 0.0, 5e-5);
    assert_close(ww_edges_error(&mirrored, &other), ww_edges_error(&profile, &edges), 0.02, 0.0);
}

/* v becomes a v + b. Squares go with a^2. */
static void the_scale_of_grey_changes_nothing(void **state)
{
    (void)state;
    static const double a[] = {1.0 / 4096.0, 0.37, 250.0}, b[] = {0.0, -11.0, 40.0};
    struct ww_profile profile = common_profile();
    struct ww_edges edges = ww_edges_find(&profile);
    double error = ww_edges_error(&profile, &edges);
    assert_true(edges.residual < HUGE_VAL);
    for (size_t i = 0; i < 3; i++) {
        struct ww_profile scaled = {.unit = 0.0};
        for (size_t k = 0; k < BINS; k++)
            set_bin(&scaled, k, a[i] * profile.sum[k] / profile.count[k] + b[i]);
        struct ww_edges other = ww_edges_find(&scaled);
        assert_close(other.left, edges.left, 0.0, 5e-5);
        assert_close(other.right, edges.right, 0.0, 5e-5);
        assert_close(other.blur, edges.blur, 0.0, 5e-5);
        assert_close(other.residual, a[i] * a[i] * edges.residual, 1e-4, 0.0);
        assert_close(other.high - other.low, a[i] * (edges.high - edges.low), 1e-3, 0.0);
        assert_close(ww_edges_error(&scaled, &other), error, 0.01, 0.0);
    }
}

/* --- how well they are known ------------------------------------------------------------------------------------------------- */

/* The standard uncertainty of the width allows for profiles that are not the model's, too, so that it is wide of white noise. Measured:
 * it covers the error of all 50; root mean square of the error 0.0049, mean of the uncertainty 0.023. */
static void the_uncertainty_covers_what_noise_does(void **state)
{
    (void)state;
    const double noise = 0.01;
    struct strip s = strip_of(-0.015, 0.63, 0.03, 0.13);
    struct ww_profile clean = profile_of(&s);
    double squares = 0.0, sum = 0.0;
    int covered = 0;
    for (uint64_t seed = 1; seed <= SEEDS; seed++) {
        struct ww_profile profile = with_noise(&clean, noise, seed);
        struct ww_edges edges = ww_edges_find(&profile);
        assert_true(edges.residual < HUGE_VAL);
        double off = width_of(&edges) - 0.63, error = ww_edges_error(&profile, &edges);
        squares += off * off / SEEDS;
        sum += error / SEEDS;
        covered += fabs(off) <= error;
    }
    assert_true(covered >= 47);
    assert_true(sqrt(squares) < 0.008);
    assert_true(sum < 8.0 * sqrt(squares)); /* and it is not just large */
}

/* A gap of two blurs: wider and darker or narrower, the profile does not tell. The other family, which has gaps wide enough, tells the
 * blur, in pitches that are 1.25 times as long: 0.05 of this one. */
static void the_blur_that_is_told_narrows_the_uncertainty(void **state)
{
    (void)state;
    struct strip narrow = strip_of(0.0, 0.9, 0.05, 0.13), wide = strip_of(0.0, 0.5, 0.04, 0.13);
    struct ww_profile profile, other;
    struct ww_edges alone = found(&narrow, &profile), from = found(&wide, &other);
    double error_alone = ww_edges_error(&profile, &alone);
    ww_edges_tell_blur(&other, &from, 1.25, &profile);
    assert_close(profile.blur, 0.05, 1e-3, 0.0);
    assert_true(profile.blur_above >= 0.05 && profile.blur_above < 0.2);
    assert_true(profile.blur_below >= 0.05 && profile.blur_below < 0.2);
    struct ww_edges told = ww_edges_find(&profile);
    double error = ww_edges_error(&profile, &told);
    assert_true(told.residual < HUGE_VAL);
    assert_close(width_of(&told), 0.9, 2e-3, 0.0);
    assert_true(error_alone > 0.05);
    assert_true(error < 0.5 * error_alone);
}

/* One yarn, wider than its family and off its path, under the family's blur. */
static void one_yarn_of_a_family(void **state)
{
    (void)state;
    struct strip family = strip_of(0.0, 0.6, 0.03, 0.13), yarn = strip_of(0.025, 0.66, 0.03, 0.13);
    struct ww_profile profile, own = profile_of(&yarn);
    struct ww_edges edges = found(&family, &profile), of_yarn = ww_edges_of_yarn(&own, &edges);
    assert_true(of_yarn.residual < HUGE_VAL);
    assert_close(of_yarn.left, yarn.left, 0.0, 5e-4);
    assert_close(of_yarn.right, yarn.right, 0.0, 5e-4);
    assert_close(of_yarn.blur, edges.blur, 1e-12, 0.0);
}

/* --- no edges ---------------------------------------------------------------------------------------------------------------- */

static void expect_none(struct ww_profile *profile)
{
    assert_true(ww_edges_find(profile).residual == HUGE_VAL);
    assert_true(profile->unit == 0.0);
}

static struct ww_profile even_profile(double level, double slope, double bend)
{
    struct ww_profile profile = {.unit = 0.0};
    for (size_t k = 0; k < BINS; k++) {
        double u = bin_middle(k);
        set_bin(&profile, k, level + slope * u + bend * u * u);
    }
    return profile;
}

static void an_even_profile_has_none(void **state)
{
    (void)state;
    struct ww_profile black = even_profile(0.0, 0.0, 0.0), grey = even_profile(0.7, 0.0, 0.0);
    struct ww_profile slope = even_profile(0.7, 0.4, 0.0), bent = even_profile(0.7, 0.1, -1.5);
    expect_none(&black);
    expect_none(&grey);
    expect_none(&slope);
    expect_none(&bent);
}

static void noise_alone_has_none(void **state)
{
    (void)state;
    struct ww_profile even = even_profile(0.5, 0.0, 0.0);
    for (uint64_t seed = 1; seed <= SEEDS / 4; seed++) {
        struct ww_profile noise = with_noise(&even, 0.05, seed);
        expect_none(&noise);
    }
}

/* A yarn is lighter than what is beside it. */
static void a_dark_yarn_has_none(void **state)
{
    (void)state;
    struct strip s = strip_of(0.0, 0.63, 0.03, 0.0);
    s.yarn = 0.2;
    s.gap[0] = s.gap[1] = 1.0;
    struct ww_profile profile = profile_of(&s);
    expect_none(&profile);
}

static void a_profile_with_an_empty_bin_has_none(void **state)
{
    (void)state;
    struct strip s = strip_of(0.0, 0.63, 0.03, 0.13);
    struct ww_profile profile = profile_of(&s);
    assert_true(ww_profile_is_full(&profile));
    profile.sum[BINS - 1] = profile.count[BINS - 1] = 0.0;
    assert_false(ww_profile_is_full(&profile));
    expect_none(&profile);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_box_comes_back),
        cmocka_unit_test(an_ellipse_comes_back),
        cmocka_unit_test(a_flat_ellipse_of_another_height_does),
        cmocka_unit_test(levels_come_back),
        cmocka_unit_test(light_from_aside_moves_no_edge),
        cmocka_unit_test(gaps_of_different_levels_are_allowed_for),
        cmocka_unit_test(light_that_falls_hardly_changes_the_width),
        cmocka_unit_test(the_mirror_image_has_mirrored_edges),
        cmocka_unit_test(the_scale_of_grey_changes_nothing),
        cmocka_unit_test(the_uncertainty_covers_what_noise_does),
        cmocka_unit_test(the_blur_that_is_told_narrows_the_uncertainty),
        cmocka_unit_test(one_yarn_of_a_family),
        cmocka_unit_test(an_even_profile_has_none),
        cmocka_unit_test(noise_alone_has_none),
        cmocka_unit_test(a_dark_yarn_has_none),
        cmocka_unit_test(a_profile_with_an_empty_bin_has_none),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
