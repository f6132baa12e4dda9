/* mutate.c - a few thousand texts, each a small change of a good one, the same in every run.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 *     mutate number|settings|study|figure|picture CASES
 *
 * The generator is splitmix64 (G. L. Steele, D. Lea, C. H. Flood, "Fast splittable pseudorandom number
 * generators", OOPSLA 2014), seeded by the number of the case: a case that breaks can be run again alone, as
 * `mutate TARGET CASES FIRST`. The target aborts the program; the case is printed before, under WW_FUZZ_VERBOSE.
 */
#include "targets.h"

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/png.h"
#include "weftwise/study.h"

#ifdef WW_JPEG
#include <jpeglib.h>
#endif

enum { LARGEST = 16384, CHANGES = 4 };

struct text {
    char data[LARGEST];
    size_t size;
};

static uint64_t next(uint64_t *state)
{
    *state += 0x9E3779B97F4A7C15u;
    uint64_t z = *state;
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return z ^ (z >> 31);
}

static size_t below(uint64_t *state, size_t limit)
{
    return limit == 0 ? 0 : (size_t)(next(state) % limit);
}

/* Segments that parsers are known to trip over. */
static const char *const segment[] = {
    "nan",
    "inf",
    "0x1p-3",
    "1e999",
    "-1",
    "1e-999",
    "0",
    "-0",
    "99999999999999999999",
    "um",
    " um",
    " mm",
    " %",
    " deg",
    " /in",
    " Gb/s",
    "e",
    "e5",
    ".",
    ",",
    "=",
    " = ",
    "[",
    "]",
    "[trace]",
    "\n",
    "\r\n",
    "\r",
    "\n  ",
    "\t",
    " ;",
    "#",
    ";",
    ":",
    "\xC2\xB5",
    "\xFF",
    "\xC0\x80",
    "\xED\xA0\x80",
    "\xEF\xBB\xBF",
    "%s%n",
    "dk=",
    "turn=",
    "layer = plane\n",
    "layer = air\n",
    "layer = ply 1080 100 um\n",
    "../../etc/passwd",
    "/",
    "[route]\n",
    "segment = 5 mm 10 deg\n",
    "segment = 1 mm 180 deg\n",
    " normal",
    "[style X]\n",
    "[resin low-loss]\n",
    "resin = ",
    "1e308",
    "2147483648",
    "1080",
};

static void splice(struct text *text, size_t at, size_t drop, const char *add, size_t length)
{
    if (text->size - drop + length > LARGEST)
        return;
    memmove(text->data + at + length, text->data + at + drop, text->size - at - drop);
    memcpy(text->data + at, add, length);
    text->size += length - drop;
}

/* Start of the line that holds the byte at. */
static size_t line_start(const struct text *text, size_t at)
{
    while (at > 0 && text->data[at - 1] != '\n')
        at--;
    return at;
}

static size_t line_end(const struct text *text, size_t at)
{
    while (at < text->size && text->data[at] != '\n')
        at++;
    return at < text->size ? at + 1 : at;
}

static void repeat_byte(struct text *text, size_t at, size_t times)
{
    char run[8192];
    memset(run, at < text->size ? text->data[at] : 'x', sizeof run);
    splice(text, at, 0, run, times < sizeof run ? times : sizeof run);
}

static void move_line(struct text *text, size_t from, size_t to, bool keep)
{
    char line[512];
    size_t start = line_start(text, from);
    size_t length = line_end(text, from) - start;
    if (length == 0 || length > sizeof line)
        return;
    memcpy(line, text->data + start, length);
    if (!keep)
        splice(text, start, length, "", 0);
    to = line_start(text, to < text->size ? to : text->size);
    splice(text, to, 0, line, length);
}

static void change(struct text *text, uint64_t *state)
{
    size_t at = below(state, text->size + 1);
    size_t rest = text->size - at;
    const char *add = segment[below(state, sizeof segment / sizeof segment[0])];
    char byte = (char)(unsigned char)next(state);
    switch (next(state) % 9) {
    case 0: /* one byte for another */
        splice(text, at, rest > 0, &byte, 1);
        break;
    case 1: /* a known trap put in */
        splice(text, at, 0, add, strlen(add));
        break;
    case 2: /* or in place of something */
        splice(text, at, below(state, rest < 12 ? rest + 1 : 12), add, strlen(add));
        break;
    case 3: /* a segment taken out */
        splice(text, at, below(state, rest < 12 ? rest + 1 : 12), "", 0);
        break;
    case 4: /* a line taken out */
        splice(text, line_start(text, at), line_end(text, at) - line_start(text, at), "", 0);
        break;
    case 5: /* a line repeated elsewhere */
        move_line(text, at, below(state, text->size + 1), true);
        break;
    case 6: /* a line moved */
        move_line(text, at, below(state, text->size + 1), false);
        break;
    case 7: /* a digit changed, so that the text stays well formed and the value goes astray */
        for (size_t i = at; i < text->size; i++)
            if (text->data[i] >= '0' && text->data[i] <= '9') {
                text->data[i] = (char)('0' + below(state, 10));
                break;
            }
        break;
    default: /* a run, sometimes longer than a line may be */
        repeat_byte(text, at, next(state) % 8 == 0 ? below(state, 8192) : below(state, 40));
        break;
    }
}

static const char *const number_seed[] = {"100 um",    "-2.5 deg",   "57 %",     "112 Gb/s", "60 /in",
                                          "1.25e-3 m", "2.58 g/cm3", "11.2 tex", "0.02",     "28 GHz"};

static void seed_number(struct text *text, uint64_t number)
{
    const char *seed = number_seed[number % (sizeof number_seed / sizeof number_seed[0])];
    text->size = strlen(seed);
    memcpy(text->data, seed, text->size);
}

/* The commented study that `weftwise new` writes. */
static bool seed_study(struct text *text)
{
    FILE *stream = tmpfile();
    if (stream == NULL)
        return false;
    bool written = ww_study_write_start(stream, NULL) == WW_OK;
    rewind(stream);
    text->size = fread(text->data, 1, sizeof text->data, stream);
    fclose(stream);
    return written && text->size > 0 && text->size < sizeof text->data;
}

/* A small PNG with texts, an SVG and a PDF, all with a study; in turn. */
static bool seed_figure(struct text *text, uint64_t number)
{
    static const uint8_t rgb[3] = {1, 2, 3};
    static const char study[] = "[study]\ntitle = a < b & c > \xC2\xB5\n[stackup]\nlayer = plane\n";
    static const char *const drawing[] = {
        "<?xml version=\"1.0\"?>\n<svg width=\"1\">\n<metadata>[study]\ntitle = a &lt; &amp; b\n</metadata></svg>\n",
        "%PDF-1.5\n<< /Title (x) /Keywords <FEFF005B00730074007500640079005D000A00B5D83DDE00003D> >>\n%%EOF\n"};
    static const struct ww_png_text texts[] = {{"Title", "t"}, {"Source", study}, {"Software", "s"}};
    const struct ww_png_image image = {
        .kind = WW_PNG_RGB8, .width = 1, .height = 1, .rgb = rgb, .text = texts, .texts = 3};
    if (number % 4 > 1) {
        text->size = strlen(drawing[number % 2]);
        memcpy(text->data, drawing[number % 2], text->size);
        return true;
    }
    FILE *stream = tmpfile();
    if (stream == NULL)
        return false;
    bool written = ww_png_write(&image, stream, "seed", NULL) == WW_OK;
    rewind(stream);
    text->size = fread(text->data, 1, sizeof text->data, stream);
    fclose(stream);
    return written && text->size > 0;
}

enum { PICTURE_SIDE = 64 };

static uint8_t shade_at(size_t x, size_t y)
{
    return (uint8_t)(60U + (x % 8 < 6 ? 90U : 0U) + (y % 9 < 6 ? 60U : 0U) + (x / 8 + y / 9) % 2 * 30U);
}

#ifdef WW_JPEG
static void write_jpeg(FILE *stream)
{
    struct jpeg_compress_struct jpeg;
    struct jpeg_error_mgr manager;
    JSAMPLE samples[PICTURE_SIDE];
    JSAMPROW rows[1] = {samples};
    jpeg.err = jpeg_std_error(&manager);
    jpeg_create_compress(&jpeg);
    jpeg_stdio_dest(&jpeg, stream);
    jpeg.image_width = jpeg.image_height = PICTURE_SIDE;
    jpeg.input_components = 1;
    jpeg.in_color_space = JCS_GRAYSCALE;
    jpeg_set_defaults(&jpeg);
    jpeg_start_compress(&jpeg, TRUE);
    while (jpeg.next_scanline < jpeg.image_height) {
        for (size_t x = 0; x < PICTURE_SIDE; x++)
            samples[x] = shade_at(x, jpeg.next_scanline);
        (void)jpeg_write_scanlines(&jpeg, rows, 1);
    }
    jpeg_finish_compress(&jpeg);
    jpeg_destroy_compress(&jpeg);
}
#endif

/* A grey PNG with a scale, one of colour, and a JPEG, all of a small cloth; in turn. */
static bool seed_picture(struct text *text, uint64_t number)
{
    static uint16_t grey[PICTURE_SIDE * PICTURE_SIDE];
    static uint8_t rgb[PICTURE_SIDE * PICTURE_SIDE * 3];
    for (size_t i = 0; i < sizeof grey / sizeof *grey; i++) {
        uint8_t shade = shade_at(i % PICTURE_SIDE, i / PICTURE_SIDE);
        grey[i] = (uint16_t)(shade * 257);
        memset(&rgb[3 * i], shade, 3);
    }
    const struct ww_png_image image = {.kind = number % 3 == 0 ? WW_PNG_GREY16 : WW_PNG_RGB8,
                                       .width = PICTURE_SIDE,
                                       .height = PICTURE_SIDE,
                                       .rgb = rgb,
                                       .grey = grey,
                                       .pixel_width = 1e-5,
                                       .pixel_height = 1e-5};
    FILE *stream = tmpfile();
    if (stream == NULL)
        return false;
    bool written = true;
#ifdef WW_JPEG
    if (number % 3 == 2)
        write_jpeg(stream);
    else
#endif
        written = ww_png_write(&image, stream, "seed", NULL) == WW_OK;
    rewind(stream);
    text->size = fread(text->data, 1, sizeof text->data, stream);
    fclose(stream);
    return written && text->size > 0;
}

typedef void target(const char *data, size_t size);

static target *find_target(const char *name)
{
    static const struct {
        const char *name;
        target *target;
    } all[] = {{"number", target_number},
               {"settings", target_settings},
               {"study", target_study},
               {"figure", target_figure},
               {"picture", target_picture}};
    for (size_t i = 0; i < sizeof all / sizeof all[0]; i++)
        if (strcmp(all[i].name, name) == 0)
            return all[i].target;
    return NULL;
}

int main(int count, char **argument)
{
    static struct text seed;
    static struct text text;
    if (count < 3) {
        fprintf(stderr, "usage: mutate number|settings|study|figure|picture CASES [FIRST]\n");
        return 2;
    }
    target *const judge = find_target(argument[1]);
    if (judge == NULL) {
        fprintf(stderr, "no target is called %s\n", argument[1]);
        return 2;
    }
    uint64_t cases = strtoul(argument[2], NULL, 10);
    uint64_t first = count > 3 ? strtoul(argument[3], NULL, 10) : 0;
    bool verbose = getenv("WW_FUZZ_VERBOSE") != NULL;
    if (!seed_study(&seed)) {
        fprintf(stderr, "no study to start from\n");
        return 1;
    }
    if (judge == target_settings || judge == target_study)
        judge(seed.data, seed.size);
    for (uint64_t number = first; number < first + cases; number++) {
        uint64_t state = number;
        text = seed;
        if (judge == target_number)
            seed_number(&text, number);
        if (judge == target_figure && !seed_figure(&text, number))
            return 1;
        if (judge == target_picture && !seed_picture(&text, number))
            return 1;
        size_t changes = 1 + below(&state, CHANGES);
        for (size_t i = 0; i < changes; i++)
            change(&text, &state);
        if (verbose)
            fprintf(stderr, "case %llu: %.*s\n", (unsigned long long)number, (int)text.size, text.data);
        judge(text.data, text.size);
    }
    printf("%llu cases held\n", (unsigned long long)cases);
    return 0;
}
