/* The files figures become: structure, texts, the same bytes every time, margins kept clear, nothing left on failure.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "chunks.h"

#include <dirent.h>
#include <unistd.h>

#include "core/png.h"
#include "figure/colour.h"
#include "example.h"
#include "picture.h"
#include "sweeps.h"

static char folder[64];
static struct example example;
static struct sweeps sweeps;

static int make_folder(void **state)
{
    (void)state;
    snprintf(folder, sizeof folder, "/tmp/weftwise-figure-XXXXXX");
    return mkdtemp(folder) == NULL;
}

static int remove_folder(void **state)
{
    (void)state;
    char command[128];
    snprintf(command, sizeof command, "rm -r %s", folder);
    return system(command) != 0;
}

static int prepare(void **state)
{
    (void)state;
    example_init(&example, 0.2, 1.9e-12);
    sweeps_init(&sweeps, 1, 1.5e-12, 5);
    return 0;
}

static int tidy(void **state)
{
    (void)state;
    example_clear(&example);
    sweeps_clear(&sweeps);
    return 0;
}

static const char *inside(const char *name)
{
    static char path[2][512];
    static int turn;
    turn = 1 - turn;
    snprintf(path[turn], sizeof path[turn], "%s/%s", folder, name);
    return path[turn];
}

static int entries(void)
{
    int count = 0;
    DIR *listing = opendir(folder);
    assert_non_null(listing);
    for (const struct dirent *entry = readdir(listing); entry != NULL; entry = readdir(listing))
        count += strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0;
    closedir(listing);
    return count;
}

/* --- the figures under one signature */

enum {
    DK,
    SKEW,
    PROFILE,
    DISTRIBUTION,
    SECTION,
    ALONG,
    ANGLES,
    LENGTHS,
    COMPARE,
    COMPARE_ANGLES,
    COMPARE_DK,
    PITCH,
    NULL_LOSS,
    VIA,
    FIGURES
};

static enum ww_status draw_sweep(int figure, const char *path, struct ww_error *error)
{
    struct ww_figure_angles angles = sweeps_angles(&sweeps);
    struct ww_figure_lengths lengths = sweeps_lengths(&sweeps);
    struct ww_figure_compare compare = sweeps_compare(&sweeps);
    struct ww_figure_pitch pitch = sweeps_pitch(&sweeps);

    switch (figure) {
    case ANGLES:
        return ww_figure_draw_angles(path, &example.options, &angles, error);
    case LENGTHS:
        return ww_figure_draw_lengths(path, &example.options, &lengths, error);
    case COMPARE:
        return ww_figure_draw_compare(path, &example.options, &compare, error);
    case COMPARE_ANGLES:
        return ww_figure_draw_compare_angles(path, &example.options, &compare, error);
    case COMPARE_DK:
        return ww_figure_draw_compare_dk(path, &example.options, &compare, error);
    case PITCH:
        return ww_figure_draw_pitch(path, &example.options, &pitch, error);
    default:
        return ww_figure_draw_null(path, &example.options, &pitch, error);
    }
}

static enum ww_status draw(int figure, const char *path, struct ww_error *error)
{
    struct ww_figure_dk dk = example_dk(&example);
    struct ww_figure_skew skew = example_skew(&example);
    struct ww_figure_profile profile = example_profile(&example);
    struct ww_figure_distribution distribution = example_distribution(&example, 1.5e-12);
    struct ww_figure_section section = example_section(&example);
    struct ww_figure_along along = example_along(&example);
    struct ww_figure_via via = example_via(&example);

    switch (figure) {
    case DK:
        return ww_figure_draw_dk(path, &example.options, &dk, error);
    case SKEW:
        return ww_figure_draw_skew(path, &example.options, &skew, error);
    case PROFILE:
        return ww_figure_draw_profile(path, &example.options, &profile, error);
    case DISTRIBUTION:
        return ww_figure_draw_distribution(path, &example.options, &distribution, error);
    case SECTION:
        return ww_figure_draw_section(path, &example.options, &section, error);
    case ALONG:
        return ww_figure_draw_along(path, &example.options, &along, error);
    case VIA:
        return ww_figure_draw_via(path, &example.options, &via, error);
    default:
        return draw_sweep(figure, path, error);
    }
}

/* --- PNG */

static void a_png_tells_its_size_resolution_and_origin(void **state)
{
    (void)state;
    struct ww_error error = {0};
    char software[64];

    example.options.dpi = 200;
    snprintf(software, sizeof software, "weftwise %s", ww_version());
    for (int figure = 0; figure < FIGURES; figure++) {
        struct chunks chunks;
        assert_ok(draw(figure, inside("a.png"), &error), error);
        chunks_load(&chunks, inside("a.png"));
        assert_int_equal(big_endian(chunks.chunk[0].data), 1600);
        assert_int_equal(chunks.chunk[0].data[8], 8); /* bits */
        assert_int_equal(chunks.chunk[0].data[9], 2); /* RGB */
        const struct chunk *density = chunk_before_data(&chunks, "pHYs");
        assert_int_equal(big_endian(density->data), 7874); /* 200 / 0.0254 */
        assert_int_equal(big_endian(density->data + 4), 7874);
        assert_int_equal(density->data[8], 1); /* per metre */
        assert_int_equal(chunk_before_data(&chunks, "sRGB")->data[0], 0);
        assert_int_equal(big_endian(chunk_before_data(&chunks, "gAMA")->data), 45455);
        assert_true(chunk_says(&chunks, "Title", example.options.title));
        assert_true(chunk_says(&chunks, "Software", software));
        assert_true(chunk_says(&chunks, "Description", example.options.conditions));
        assert_true(chunk_says(&chunks, "Source", example.options.study));
        assert_false(chunk_says(&chunks, "Source", "[study]"));
        chunks_clear(&chunks);
    }
}

static void a_figure_without_texts_has_no_empty_chunks(void **state)
{
    (void)state;
    struct ww_error error = {0};
    struct chunks chunks;

    example.options = (struct ww_figure_options){0};
    assert_ok(draw(DK, inside("bare.png"), &error), error);
    chunks_load(&chunks, inside("bare.png"));
    assert_true(chunk_place(&chunks, "iTXt") > 0); /* the only one: Software */
    chunks_clear(&chunks);
}

/* Ink in the margin would mean that something reaches over the page. */
static void margins_stay_clear_whatever_the_numbers(void **state)
{
    (void)state;
    static const double worst[] = {1.9e-12, 3.21e-17, 1e-24, 0.87654321e-9, 4e-3};
    static const double angle[] = {0, 1.5707963267948966, -2.4};
    struct ww_error error = {0};
    char text[2000];

    memset(text, 'W', sizeof text - 1);
    text[sizeof text - 1] = '\0';
    for (size_t w = 0; w < sizeof worst / sizeof worst[0]; w++) {
        tidy(NULL);
        example_init(&example, angle[w % 3], worst[w]);
        sweeps_init(&sweeps, worst[w] / 12e-12, w % 2 == 0 ? 1.5e-12 : worst[w] / 10, w == 0 ? SWEEP_STYLES : w);
        example.options.width = 500;
        example.options.title = text;
        example.options.conditions = w % 2 == 0 ? text : "a b";
        for (int figure = 0; figure < FIGURES; figure++) {
            assert_ok(draw(figure, inside("margin.png"), &error), error);
            check_margins(inside("margin.png"));
        }
    }
}

/* --- the same bytes every time */

static void the_same_data_give_the_same_bytes(void **state)
{
    (void)state;
    struct ww_error error = {0};

    for (int format = WW_FIGURE_PNG; format <= WW_FIGURE_PDF; format++)
        for (int figure = 0; figure < FIGURES; figure++) {
            size_t first_size, second_size;
            example.options.format = (enum ww_figure_format)format;
            assert_ok(draw(figure, inside("first"), &error), error);
            assert_ok(draw((figure + 1) % FIGURES, inside("between"), &error), error);
            assert_ok(draw(figure, inside("second"), &error), error);
            unsigned char *first = file_load(inside("first"), &first_size);
            unsigned char *second = file_load(inside("second"), &second_size);
            assert_int_equal(first_size, second_size);
            assert_memory_equal(first, second, first_size);
            free(first);
            free(second);
        }
}

/* --- SVG and PDF (their reading by other programs is tested in read_figures.py) */

static void an_svg_carries_its_texts(void **state)
{
    (void)state;
    struct ww_error error = {0};
    size_t size;

    example.options.format = WW_FIGURE_SVG;
    assert_ok(draw(SKEW, inside("a.svg"), &error), error);
    char *text = (char *)file_load(inside("a.svg"), &size);
    assert_contains(text, "<title>Mezzanine link, layer 3</title>");
    assert_contains(text,
                    "width = 100 um ; &lt;&amp;&gt; \xc2\xb5\n# unchanged while the CRC-32 of the lines above is ");
    assert_contains(text, "width=\"768pt\""); /* 1600 px at 150 dpi */
    assert_int_equal(strlen(text), size);
    free(text);
}

/* --- the study read back -------------------------------------------------------------------------------------------- */

static void recalled(const char *path, const char *want)
{
    struct ww_error error = {0};
    char *study = NULL;
    assert_ok(ww_figure_recall(path, &study, &error), error);
    assert_string_equal(study, want);
    free(study);
}

static void not_recalled(const char *path, enum ww_status want, const char *part)
{
    struct ww_error error = {0};
    char *study = NULL;
    assert_int_equal(ww_figure_recall(path, &study, &error), want);
    assert_contains(error.text, part);
    assert_string_equal(error.file, path);
    assert_null(study);
}

static void write_bytes(const char *path, const void *bytes, size_t count)
{
    FILE *stream = fopen(path, "wb");
    assert_non_null(stream);
    assert_int_equal(fwrite(bytes, 1, count, stream), count);
    assert_int_equal(fclose(stream), 0);
}

/* Signs that XML and UTF-16 write otherwise among them. */
static const char hard_study[] =
    "[study]\ntitle = 5 < 6 & 7 > 2 \"\xC2\xB5\" \xE2\x82\xAC \xF0\x9F\x93\x8F\n[trace]\n";

static void every_format_gives_its_study_back(void **state)
{
    static const char *const name[] = {"back.png", "back.svg", "back.pdf"};
    struct ww_error error = {0};
    const char *before = example.options.study;
    (void)state;
    example.options.study = hard_study;
    for (int i = 0; i < 3; i++) {
        example.options.format = (enum ww_figure_format)i;
        assert_ok(draw(PROFILE, inside(name[i]), &error), error);
        recalled(inside(name[i]), hard_study);
    }
    example.options.format = WW_FIGURE_PNG;
    example.options.study = before;
}

static size_t place_of(const unsigned char *bytes, size_t size, const char *wanted)
{
    size_t at = 0;
    while (at + strlen(wanted) < size && memcmp(bytes + at, wanted, strlen(wanted)) != 0)
        at++;
    return at;
}

/* One bit of the study or of its check is another: said, or the study is the one that was drawn. */
static void a_study_that_was_changed_is_not_given(void **state)
{
    static const char *const name[] = {"changed.svg", "changed.pdf"}, *const start[] = {"<metadata>", "/Keywords"};
    struct ww_error error = {0};
    const char *before = example.options.study;
    (void)state;
    example.options.study = hard_study;
    for (int i = 0; i < 2; i++) {
        size_t told = 0, size;
        example.options.format = i ? WW_FIGURE_PDF : WW_FIGURE_SVG;
        assert_ok(draw(PROFILE, inside(name[i]), &error), error);
        unsigned char *bytes = file_load(inside(name[i]), &size), *from = bytes + place_of(bytes, size, start[i]);
        assert_true(from + 600 < bytes + size);
        for (size_t at = 0; at < 600; at++) {
            char *study = NULL;
            unsigned char bit = (unsigned char)(1U << at * 5 % 8);
            from[at] ^= bit;
            write_bytes(inside("bit"), bytes, size);
            if (ww_figure_recall(inside("bit"), &study, &error))
                told++;
            else
                assert_string_equal(study, hard_study);
            free(study);
            from[at] ^= bit;
        }
        assert_true(told > 100);
        free(bytes);
    }
    example.options.format = WW_FIGURE_PNG;
    example.options.study = before;
}

static void save_png(const char *path, const struct ww_png_text *text, size_t texts)
{
    static const uint8_t rgb[3] = {1, 2, 3};
    const struct ww_png_image image = {
        .kind = WW_PNG_RGB8, .width = 1, .height = 1, .rgb = rgb, .text = text, .texts = texts};
    struct ww_error error = {0};
    FILE *stream = fopen(path, "wb");
    assert_non_null(stream);
    assert_ok(ww_png_write(&image, stream, path, &error), error);
    fclose(stream);
}

/* What a tool that saves texts behind the image, or as tEXt, leaves is read as well. */
static void a_text_is_found_wherever_it_stands(void **state)
{
    static const struct ww_png_text source = {"Source", "[study]\nx = 1\n"};
    static const unsigned char latin[] = "\0\0\0\x15tEXtSource\0[study]\nx = 1\n\x4d\xe5\x72\xae";
    size_t size = 0, length = sizeof latin - 1;
    (void)state;
    save_png(inside("text.png"), &source, 1);
    recalled(inside("text.png"), "[study]\nx = 1\n");
    save_png(inside("none.png"), NULL, 0);
    unsigned char *file = file_load(inside("none.png"), &size);
    unsigned char *more = calloc(size + length, 1);
    assert_non_null(more);
    memcpy(more, file, size - 12);
    memcpy(more + size - 12, latin, length);
    memcpy(more + size - 12 + length, file + size - 12, 12);
    unsigned long crc = chunk_crc(more + size - 12 + 4, 4 + 0x15);
    for (int i = 0; i < 4; i++)
        more[size - 12 + length - 4 + (size_t)i] = (unsigned char)(crc >> (24 - 8 * i));
    write_bytes(inside("tail.png"), more, size + length);
    recalled(inside("tail.png"), "[study]\nx = 1\n");
    more[size - 12 + 20] ^= 1; /* a checksum that is wrong */
    write_bytes(inside("tail.png"), more, size + length);
    not_recalled(inside("tail.png"), WW_INVALID, "carries no study");
    free(more);
    free(file);
}

static void what_carries_no_study_is_refused(void **state)
{
    static const struct ww_png_text camera = {"Source", "a camera"}, evil = {"Source", "[study]\n\x1b[31m"},
                                    latin = {"Source", "[study]\n\xB5"}, title = {"Title", "[study]\n"};
    size_t size = 0;
    (void)state;
    save_png(inside("no.png"), NULL, 0);
    not_recalled(inside("no.png"), WW_INVALID, "carries no study");
    save_png(inside("no.png"), &title, 1);
    not_recalled(inside("no.png"), WW_INVALID, "carries no study");
    save_png(inside("no.png"), &camera, 1);
    not_recalled(inside("no.png"), WW_INVALID, "carries no study");
    save_png(inside("no.png"), &evil, 1);
    not_recalled(inside("no.png"), WW_MALFORMED, "control characters");
    save_png(inside("no.png"), &latin, 1);
    not_recalled(inside("no.png"), WW_MALFORMED, "UTF-8");
    unsigned char *file = file_load(inside("no.png"), &size);
    for (size_t cut = 9; cut < size; cut += 5) {
        bool behind_text = cut > size - 12 - 13; /* the text stands before the image data */
        write_bytes(inside("cut.png"), file, cut);
        if (!behind_text)
            not_recalled(inside("cut.png"), WW_MALFORMED, cut < size / 2 ? "middle of a PNG" : "");
    }
    memcpy(file + 8, "\xff\xff\xff\xff", 4); /* the size of the header */
    write_bytes(inside("cut.png"), file, size);
    not_recalled(inside("cut.png"), WW_MALFORMED, "2^31");
    memcpy(file + 8, "\x7f\xff\xff\xff", 4);
    write_bytes(inside("cut.png"), file, size);
    not_recalled(inside("cut.png"), WW_MALFORMED, "middle of a PNG");
    free(file);
    write_bytes(inside("no.svg"), "<svg><metadata><rdf:RDF/></metadata></svg>", 42);
    not_recalled(inside("no.svg"), WW_INVALID, "carries no study");
    write_bytes(inside("no.svg"), "<svg><metadata>[study]\n&#1;</metadata></svg>", 44);
    not_recalled(inside("no.svg"), WW_INVALID, "carries no study");
    write_bytes(inside("no.pdf"), "%PDF-1.5 /Keywords <FEFF005", 27);
    not_recalled(inside("no.pdf"), WW_INVALID, "carries no study");
    write_bytes(inside("no.txt"), "hello", 5);
    not_recalled(inside("no.txt"), WW_MALFORMED, "is no figure");
    write_bytes(inside("no.txt"), "", 0);
    not_recalled(inside("no.txt"), WW_MALFORMED, "is no figure");
    not_recalled(inside("nowhere.png"), WW_IO, "cannot be opened");
    not_recalled(folder, WW_IO, "could not be read");
}

static void a_pdf_has_its_size_and_no_date(void **state)
{
    (void)state;
    struct ww_error error = {0};
    size_t size;

    example.options.format = WW_FIGURE_PDF;
    assert_ok(draw(PROFILE, inside("a.pdf"), &error), error);
    unsigned char *bytes = file_load(inside("a.pdf"), &size);
    assert_memory_equal(bytes, "%PDF-", 5);
    for (size_t i = 0; i + 12 < size; i++)
        assert_true(memcmp(bytes + i, "CreationDate", 12) != 0);
    free(bytes);
}

/* --- refusals */

static void trouble_leaves_no_file(void **state)
{
    (void)state;
    int before = entries();

    for (int format = WW_FIGURE_PNG; format <= WW_FIGURE_PDF; format++)
        for (int figure = 0; figure < FIGURES; figure++) {
            struct ww_error error = {0};
            example.options.format = (enum ww_figure_format)format;
            assert_int_equal(draw(figure, inside("no such folder/a.png"), &error), WW_IO);
            assert_contains(error.file, "no such folder");
            assert_int_equal(draw(figure, "/dev/full", &error), WW_IO);
            assert_int_equal(error.status, WW_IO);
            assert_int_equal(draw(figure, folder, NULL), WW_IO);
        }
    assert_int_equal(entries(), before);
}

static void refuse(const char *part)
{
    struct ww_error error = {0};
    int before = entries();

    assert_int_equal(draw(DK, inside("refused.png"), &error), WW_INVALID);
    assert_contains(error.text, part);
    assert_int_equal(entries(), before);
}

static void sizes_out_of_range_are_refused(void **state)
{
    (void)state;
    example.options.width = WW_FIGURE_NARROWEST - 1;
    refuse("399 px");
    example.options.width = WW_FIGURE_WIDEST + 1;
    refuse("10001 px");
    example.options.width = -1;
    refuse("-1 px");
    example.options.width = 0;
    example.options.dpi = WW_FIGURE_COARSEST - 1;
    refuse("35 dpi");
    example.options.dpi = 0;
    example.options.frequency = -1;
    refuse("-1 Hz");
    example.options.frequency = 0;
    example.options.title = "\xff\xfe";
    refuse("UTF-8");
}

static void empty_or_senseless_content_is_refused(void **state)
{
    (void)state;
    struct ww_map none = {0};
    struct ww_figure_dk dk = example_dk(&example);
    struct ww_figure_skew skew = example_skew(&example);
    struct ww_figure_profile profile = example_profile(&example);
    struct ww_figure_distribution distribution = example_distribution(&example, 0);
    struct ww_figure_via via = example_via(&example);
    const char *path = inside("refused.png");
    int before = entries();

    dk.dk = &none;
    assert_int_equal(ww_figure_draw_dk(path, &example.options, &dk, NULL), WW_INVALID);
    dk = example_dk(&example);
    example.trace.width = 0;
    assert_int_equal(ww_figure_draw_dk(path, &example.options, &dk, NULL), WW_INVALID);
    skew.high.x = NAN;
    assert_int_equal(ww_figure_draw_skew(path, &example.options, &skew, NULL), WW_INVALID);
    profile.count = 1;
    assert_int_equal(ww_figure_draw_profile(path, &example.options, &profile, NULL), WW_INVALID);
    via.diameter = 0;
    assert_int_equal(ww_figure_draw_via(path, &example.options, &via, NULL), WW_INVALID);
    via = (struct ww_figure_via){NULL, &none, 100e-6};
    assert_int_equal(ww_figure_draw_via(path, &example.options, &via, NULL), WW_INVALID);
    distribution.p95 = NAN;
    assert_int_equal(ww_figure_draw_distribution(path, &example.options, &distribution, NULL), WW_INVALID);
    distribution = example_distribution(&example, 0);
    distribution.worst = INFINITY;
    assert_int_equal(ww_figure_draw_distribution(path, &example.options, &distribution, NULL), WW_INVALID);
    struct ww_figure_section section = example_section(&example);
    section.strength = &none;
    assert_int_equal(ww_figure_draw_section(path, &example.options, &section, NULL), WW_INVALID);
    section = example_section(&example);
    section.potential = &example.dk; /* of another size */
    assert_int_equal(ww_figure_draw_section(path, &example.options, &section, NULL), WW_INVALID);
    section = example_section(&example);
    section.copper = NAN;
    assert_int_equal(ww_figure_draw_section(path, &example.options, &section, NULL), WW_INVALID);
    struct ww_figure_along along = example_along(&example);
    along.count_kernel = 1;
    assert_int_equal(ww_figure_draw_along(path, &example.options, &along, NULL), WW_INVALID);
    along = example_along(&example);
    along.section2 = NULL; /* of a pair */
    assert_int_equal(ww_figure_draw_along(path, &example.options, &along, NULL), WW_INVALID);
    assert_int_equal(entries(), before);
}

/* --- the drawing tells the truth: colours of known samples where they belong */

static void a_sample_that_is_no_number_shows(void **state)
{
    (void)state;
    struct ww_error error = {0};
    struct picture whole, holed;

    assert_ok(draw(SKEW, inside("whole.png"), &error), error);
    for (size_t i = 0; i < 4000; i++)
        example.skew.value[40 * 256 + i] = NAN;
    assert_ok(draw(SKEW, inside("holed.png"), &error), error);
    picture_load(&whole, inside("whole.png"));
    picture_load(&holed, inside("holed.png"));
    assert_int_equal(pixels_of(&whole, ww_ink_colour(WW_INK_NAN)), 0);
    assert_true(pixels_of(&holed, ww_ink_colour(WW_INK_NAN)) > 5000);
    free(whole.pixels);
    free(holed.pixels);
}

/* Upper half +, lower half -: the upper half of the picture is rust, the lower blue. */
static void y_points_up(void **state)
{
    (void)state;
    struct ww_error error = {0};
    struct picture picture;
    unsigned long rust_above = 0, rust_below = 0;

    for (size_t i = 0; i < 256 * 256; i++)
        example.skew.value[i] = i < 256 * 128 ? -1e-12 : 1e-12;
    example.high = (struct ww_extreme){0, 0, 1e-12};
    example.low = (struct ww_extreme){0, 0, -1e-12};
    assert_ok(draw(SKEW, inside("up.png"), &error), error);
    picture_load(&picture, inside("up.png"));
    for (size_t y = 200; y < 950; y++) {
        const unsigned char *p = picture.pixels + 3 * (y * picture.header.width + 600);
        if (p[0] > p[2] + 40)
            *(y < 575 ? &rust_above : &rust_below) += 1;
    }
    assert_true(rust_above > 250);
    assert_true(rust_below < 60);
    free(picture.pixels);
}

/* Copper of the legs where it is, to scale: a leg twice as wide has twice the ink. */
static void copper_is_to_scale(void **state)
{
    (void)state;
    struct ww_error error = {0};
    size_t ink[2];

    for (size_t i = 0; i < example.strength.nx * example.strength.ny; i++)
        example.strength.value[i] = example.potential.value[i] = example.warp.value[i] = example.fill.value[i] = 0;
    for (int i = 0; i < 2; i++) {
        struct ww_figure_section section = example_section(&example);
        struct picture picture;
        section.pitch = 0;
        section.thickness = 30e-6;
        section.width = (i + 1) * 150e-6;
        section.bottom = 1e-9; /* no plane below, */
        section.plane = 0;     /* none above */
        assert_ok(ww_figure_draw_section(inside("leg.png"), &example.options, &section, &error), error);
        picture_load(&picture, inside("leg.png"));
        struct ww_rgb grey = ww_ink_colour(WW_INK_QUIET);
        ink[i] = 0;
        for (size_t y = 260; y < 560; y++) /* of the panel alone */
            for (size_t x = 200; x < 1000; x++) {
                const unsigned char *p = picture.pixels + 3 * (y * picture.header.width + x);
                ink[i] +=
                    fabs(p[0] - 255 * grey.r) < 3 && fabs(p[1] - 255 * grey.g) < 3 && fabs(p[2] - 255 * grey.b) < 3;
            }
        free(picture.pixels);
    }
    assert_true(ink[0] > 3000);
    assert_close((double)ink[1], 2 * (double)ink[0], 0.05, 0);
}

/* Brightness of the panel from column x0 to x1. */
static unsigned long light(const struct picture *picture, size_t x0, size_t x1)
{
    unsigned long sum = 0;

    for (size_t y = 260; y < 560; y++)
        for (size_t x = x0; x < x1; x++)
            sum += picture->pixels[3 * (y * picture->header.width + x)];
    return sum;
}

/* A field on the side of leg 1 alone, n > 0, shows at the left of one who looks along the travel. */
static void the_left_of_travel_is_at_the_left(void **state)
{
    (void)state;
    struct ww_error error = {0};
    struct ww_figure_section section = example_section(&example);
    struct picture picture;

    for (size_t i = 0; i < example.strength.nx * example.strength.ny; i++) {
        example.strength.value[i] = i % example.strength.nx >= example.strength.nx / 2;
        example.potential.value[i] = 0;
    }
    section.warp = section.fill = NULL;
    assert_ok(ww_figure_draw_section(inside("side.png"), &example.options, &section, &error), error);
    picture_load(&picture, inside("side.png"));
    assert_true(light(&picture, 180, 580) > 2 * light(&picture, 680, 1080));
    free(picture.pixels);
}

#define MAP_ENDS 960       /* px, of the Dk map beside a whole route, or before */
#define COLUMN_STARTS 1226 /* of the whole route */

/* Samples in which the Dk maps with those two traces differ, from `left` to before `right`. */
static size_t differ(const struct ww_footprint *a, const struct ww_footprint *b, size_t left, size_t right)
{
    struct ww_figure_dk dk = example_dk(&example);
    const char *const name[] = {"a.png", "b.png"};
    struct ww_error error = {0};
    struct picture picture[2];
    size_t count = 0;

    for (int i = 0; i < 2; i++) {
        dk.trace = i == 0 ? a : b;
        assert_ok(ww_figure_draw_dk(inside(name[i]), &example.options, &dk, &error), error);
        picture_load(&picture[i], inside(name[i]));
    }
    for (size_t y = 180; y < 980; y++)
        for (size_t x = left; x < right; x++) {
            size_t at = 3 * (y * picture[0].header.width + x);
            count += abs(picture[0].pixels[at] - picture[1].pixels[at]) > 16;
        }
    free(picture[0].pixels);
    free(picture[1].pixels);
    return count;
}

/* A route of one long segment is the straight trace at that angle, two in line are one, and a bend shows. */
static void a_route_is_drawn_as_it_runs(void **state)
{
    (void)state;
    static const struct ww_route_segment one[] = {{0.1, 0.3}}, two[] = {{0.3e-3, 0.3}, {0.0997, 0.3}},
                                         halves[] = {{0.05, 0.3}, {0.05, 0.3}},
                                         bent[] = {{0.3e-3, 0.3}, {0.0997, 1.2}};
    struct ww_footprint straight = {.width = 100e-6, .pitch = 220e-6, .angle = 0.5}, route = straight, split;

    route.angle = 0.2; /* turns all of it */
    split = route;
    route.route = one;
    route.segments = 1;
    assert_true(differ(&straight, &route, 180, 1556) < 100);
    route.route = two;
    route.segments = 2;
    split.route = halves;
    split.segments = 2;
    assert_true(differ(&split, &route, 180, 1556) < 100);
    route.route = bent;
    assert_true(differ(&split, &route, 180, MAP_ENDS) > 20000);
}

/* Issue 13: the map shows the start of a route alone; beside it stands the whole, with what it does beyond the map. */
static void a_route_shows_as_a_whole(void **state)
{
    (void)state;
    static const struct ww_route_segment straight[] = {{5e-3, 0.3}, {5e-3, 0.3}},
                                         bent[] = {{5e-3, 0.3}, {5e-3, -0.6}};
    struct ww_footprint one = {.width = 100e-6, .route = straight, .segments = 2}, other = one;

    other.route = bent;
    assert_int_equal(differ(&one, &other, 180, MAP_ENDS), 0);
    assert_true(differ(&one, &other, COLUMN_STARTS, 1556) > 1000);
}

/* Rows of the panel in which the beams of two diameters differ: as many as the wider one has. */
static double rows_of_beam(const struct picture *narrow, const struct picture *wide)
{
    size_t first = 0, last = 0;
    for (size_t y = 150; y < 1000; y++)
        for (size_t x = 240; x < 900; x++) {
            size_t at = 3 * (y * narrow->header.width + x);
            if (memcmp(narrow->pixels + at, wide->pixels + at, 3) == 0)
                continue;
            first = first ? first : y;
            last = y;
        }
    return (double)(last - first + 1);
}

/* Rows of the page between the first and the last of the colour that glass of one height has, in a column beside the cell. */
static double rows_of_panel(const struct picture *picture)
{
    const size_t row = 3 * picture->header.width, column = 3 * 250;
    size_t first = 200, last = 200;
    for (size_t y = 100; y < 1100; y++)
        if (memcmp(picture->pixels + y * row + column, picture->pixels + 200 * row + column, 3) == 0) {
            first = y < first ? y : first;
            last = y > last ? y : last;
        }
    return (double)(last - first + 1);
}

/* On glass of one height nothing but the beam changes with its diameter; the panel shows 1.16 cells. */
static void a_beam_is_drawn_to_scale(void **state)
{
    (void)state;
    static const double diameter[] = {60e-6, 200e-6, 400e-6};
    struct ww_figure_via via = example_via(&example);
    struct ww_error error = {0};
    struct picture picture[3];

    for (size_t i = 0; i < example.glass.nx * example.glass.ny; i++)
        example.glass.value[i] = 20e-6;
    for (int i = 0; i < 3; i++) {
        via.diameter = diameter[i];
        assert_ok(ww_figure_draw_via(inside("beam.png"), &example.options, &via, &error), error);
        picture_load(&picture[i], inside("beam.png"));
    }
    double scale = rows_of_panel(picture) / (1.16 * example.glass.ly); /* [pixels/m] */
    for (int i = 1; i < 3; i++)
        assert_close(rows_of_beam(picture, &picture[i]), diameter[i] * scale + 6, 0, 4); /* 6: the stroke */
    for (int i = 0; i < 3; i++)
        free(picture[i].pixels);
}

/* A beam as wide as the cell, one as narrow as nothing, and no glass at all stay on the page. */
static void other_beams_stay_on_the_page(void **state)
{
    (void)state;
    struct ww_figure_via via = example_via(&example);
    struct ww_error error = {0};

    via.diameter = 1e-3;
    assert_ok(ww_figure_draw_via(inside("wide.png"), &example.options, &via, &error), error);
    check_margins(inside("wide.png"));
    via.diameter = 1e-9;
    memset(example.glass.value, 0, example.glass.nx * example.glass.ny * sizeof *example.glass.value);
    assert_ok(ww_figure_draw_via(inside("none.png"), &example.options, &via, &error), error);
    check_margins(inside("none.png"));
}

/* A single open trace, wide and flat, and one that no plane covers: they are drawn, and stay on the page. */
static void other_cross_sections_stay_on_the_page(void **state)
{
    (void)state;
    struct ww_error error = {0};
    struct ww_figure_section section = example_section(&example);
    struct ww_figure_along along = example_along(&example);

    section.pitch = 0;
    section.plane = 0;
    assert_ok(ww_figure_draw_section(inside("open.png"), &example.options, &section, &error), error);
    check_margins(inside("open.png"));
    example.strength.lx = example.potential.lx = example.warp.lx = example.fill.lx = 8e-3;
    section = example_section(&example);
    section.left = -4e-3;
    assert_ok(ww_figure_draw_section(inside("flat.png"), &example.options, &section, &error), error);
    check_margins(inside("flat.png"));
    example.strength.lx = example.potential.lx = example.warp.lx = example.fill.lx = 60e-6;
    section.left = -30e-6;
    section.warp = section.fill = NULL; /* and narrower than the pair */
    assert_ok(ww_figure_draw_section(inside("tall.png"), &example.options, &section, &error), error);
    check_margins(inside("tall.png"));
    along.kernel2 = along.section2 = along.mean_volume = NULL;
    along.periodic = false;
    assert_ok(ww_figure_draw_along(inside("single.png"), &example.options, &along, &error), error);
    check_margins(inside("single.png"));
}

/* As much ink over budget as the chance says: half the area of a flat distribution whose budget is half its worst. */
static void the_part_over_budget_is_an_area(void **state)
{
    (void)state;
    struct ww_error error = {0};
    double flat[100];
    struct ww_distribution distribution = {100, -0.99e-12, 0.02e-12, flat};
    struct ww_figure_distribution content = {NULL,  true,    &distribution, 0.5e-12, 0.95e-12, 0.99e-12,
                                             1e-12, 0.5e-12, 0.5,           NULL,    NULL};
    struct picture picture;
    size_t body = 0, alarm = 0;

    for (int i = 0; i < 100; i++)
        flat[i] = 0.01;
    assert_ok(ww_figure_draw_distribution(inside("flat.png"), &example.options, &content, &error), error);
    picture_load(&picture, inside("flat.png"));
    for (size_t y = 300; y < 800; y++)
        for (size_t x = 0; x < 1600; x++) {
            const unsigned char *p = picture.pixels + 3 * (y * 1600 + x);
            body += p[2] > p[0] + 40;
            alarm += p[0] > p[2] + 20;
        }
    assert_close((double)alarm, (double)body, 0.06, 0);
    free(picture.pixels);
}

static void formats_have_names(void **state)
{
    (void)state;
    struct ww_error error = {0};

    for (int f = WW_FIGURE_PNG; f <= WW_FIGURE_PDF; f++) {
        enum ww_figure_format format;
        assert_ok(ww_figure_format_from_name(ww_figure_format_name((enum ww_figure_format)f), &format, &error),
                  error);
        assert_int_equal(format, f);
    }
    enum ww_figure_format format;
    assert_int_equal(ww_figure_format_from_name("PNG ", &format, &error), WW_INVALID);
    assert_contains(error.text, "png, svg or pdf");
}

static void the_writer_refuses_what_libpng_would_not_like(void **state)
{
    (void)state;
    static const uint8_t pixel[3] = {1, 2, 3};
    struct ww_png_text text = {" Title", "x"};
    struct ww_png_image image = {.kind = WW_PNG_RGB8, .width = 1, .height = 1, .rgb = pixel};
    FILE *stream = tmpfile();
    struct ww_error error = {0};

    assert_non_null(stream);
    assert_ok(ww_png_write(&image, stream, "x", &error), error);
    image.width = 0;
    assert_int_equal(ww_png_write(&image, stream, "x", &error), WW_INVALID);
    image.width = WW_PNG_LARGEST + 1;
    assert_int_equal(ww_png_write(&image, stream, "x", &error), WW_INVALID);
    image.width = 1;
    image.text = &text;
    image.texts = 1;
    assert_int_equal(ww_png_write(&image, stream, "x", &error), WW_INVALID);
    text.keyword = "";
    assert_int_equal(ww_png_write(&image, stream, "x", &error), WW_INVALID);
    text.keyword = "Title";
    image.rgb = NULL;
    assert_int_equal(ww_png_write(&image, stream, "x", &error), WW_INVALID);
    fclose(stream);
}

#define WITH_EXAMPLE(f) cmocka_unit_test_setup_teardown(f, prepare, tidy)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH_EXAMPLE(a_png_tells_its_size_resolution_and_origin),
        WITH_EXAMPLE(a_figure_without_texts_has_no_empty_chunks),
        WITH_EXAMPLE(margins_stay_clear_whatever_the_numbers),
        WITH_EXAMPLE(the_same_data_give_the_same_bytes),
        WITH_EXAMPLE(an_svg_carries_its_texts),
        WITH_EXAMPLE(every_format_gives_its_study_back),
        WITH_EXAMPLE(a_study_that_was_changed_is_not_given),
        WITH_EXAMPLE(a_text_is_found_wherever_it_stands),
        WITH_EXAMPLE(what_carries_no_study_is_refused),
        WITH_EXAMPLE(a_pdf_has_its_size_and_no_date),
        WITH_EXAMPLE(trouble_leaves_no_file),
        WITH_EXAMPLE(sizes_out_of_range_are_refused),
        WITH_EXAMPLE(empty_or_senseless_content_is_refused),
        WITH_EXAMPLE(a_sample_that_is_no_number_shows),
        WITH_EXAMPLE(y_points_up),
        WITH_EXAMPLE(the_part_over_budget_is_an_area),
        WITH_EXAMPLE(copper_is_to_scale),
        WITH_EXAMPLE(the_left_of_travel_is_at_the_left),
        WITH_EXAMPLE(a_route_is_drawn_as_it_runs),
        WITH_EXAMPLE(a_route_shows_as_a_whole),
        WITH_EXAMPLE(other_cross_sections_stay_on_the_page),
        WITH_EXAMPLE(a_beam_is_drawn_to_scale),
        WITH_EXAMPLE(other_beams_stay_on_the_page),
        cmocka_unit_test(formats_have_names),
        cmocka_unit_test(the_writer_refuses_what_libpng_would_not_like),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
