/* Settings files: what is read, and every kind of text that is refused with its line.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"

#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

static enum ww_status read_bytes(struct ww_settings *settings, const char *text, size_t size, struct ww_error *error)
{
    FILE *stream = tmpfile();
    assert_non_null(stream);
    assert_int_equal(fwrite(text, 1, size, stream), size);
    rewind(stream);
    enum ww_status status = ww_settings_read(settings, stream, "study.ini", error);
    fclose(stream);
    return status;
}

static enum ww_status read_text(struct ww_settings *settings, const char *text, struct ww_error *error)
{
    return read_bytes(settings, text, strlen(text), error);
}

static void refused_bytes(const char *text, size_t size, int line, const char *part)
{
    struct ww_settings settings = {0};
    struct ww_error error = {0};
    if (read_bytes(&settings, text, size, &error) != WW_MALFORMED)
        fail_msg("not refused: %.60s", text);
    assert_string_equal(error.file, "study.ini");
    assert_contains(error.text, part);
    assert_int_equal(error.line, line);
    assert_null(settings.item); /* left zeroed */
    assert_null(settings.text);
    assert_null(settings.file);
    assert_int_equal(settings.count, 0);
}

static void refused(const char *text, int line, const char *part)
{
    refused_bytes(text, strlen(text), line, part);
}

static void expect(const struct ww_setting *item, const char *section, const char *key, const char *value, int line)
{
    assert_string_equal(item->section, section);
    assert_string_equal(item->key, key);
    assert_string_equal(item->value, value);
    assert_int_equal(item->line, line);
}

static void a_study_is_read_in_order_with_its_lines(void **state)
{
    (void)state;
    static const char text[] = "; a comment\n"
                               "top = 1\n"
                               "\n"
                               "[stackup]  ; the layers\n"
                               "layer = plane\n"
                               "layer=ply 1080 100 um          ; style, pressed thickness\n"
                               "   ; an indented comment\n"
                               "# another\n"
                               "[style T1]\r\n"
                               "warp_count.source = caf\xC3\xA9; told by the mill\r\n"
                               "empty =\n"
                               "[bare]";
    struct ww_settings settings = {0};
    struct ww_error error = {0};
    assert_ok(read_text(&settings, text, &error), error);
    assert_int_equal(settings.count, 5);
    expect(&settings.item[0], "", "top", "1", 2);
    expect(&settings.item[1], "stackup", "layer", "plane", 5);
    expect(&settings.item[2], "stackup", "layer", "ply 1080 100 um", 6);
    expect(&settings.item[3], "style T1", "warp_count.source", "caf\xC3\xA9; told by the mill", 10);
    expect(&settings.item[4], "style T1", "empty", "", 11);
    assert_string_equal(settings.file, "study.ini");
    assert_string_equal(settings.text, text);
    assert_ptr_equal(ww_settings_find(&settings, "stackup", "layer"), &settings.item[1]);
    assert_null(ww_settings_find(&settings, "stackup", "Layer"));
    assert_true(ww_settings_has_section(&settings, "style T1"));
    assert_true(ww_settings_has_section(&settings, "bare"));
    assert_false(ww_settings_has_section(&settings, "bar"));
    assert_false(ww_settings_has_section(&settings, "barely"));
    assert_int_equal(settings.headings, 3);
    assert_string_equal(settings.heading[2].section, "bare");
    assert_int_equal(settings.heading[2].line, 12);
    assert_int_equal(settings.heading[0].line, 4);
    ww_settings_clear(&settings);
    assert_int_equal(settings.count + settings.headings, 0);
    ww_settings_clear(&settings); /* twice is fine */
}

static void an_empty_file_and_a_byte_order_mark_are_fine(void **state)
{
    (void)state;
    struct ww_settings settings = {0};
    struct ww_error error = {0};
    assert_ok(read_text(&settings, "", &error), error);
    assert_int_equal(settings.count, 0);
    assert_false(ww_settings_has_section(&settings, "a"));
    ww_settings_clear(&settings);
    assert_ok(read_text(&settings, "\xEF\xBB\xBF[a]\nk = v\n", &error), error);
    assert_int_equal(settings.count, 1);
    expect(&settings.item[0], "a", "k", "v", 2);
    ww_settings_clear(&settings);
    assert_ok(read_text(&settings, "\xEF\xBB\xBF[a]\n", &error), error);
    ww_settings_clear(&settings);
    assert_int_equal(read_text(&settings, "\xEF\xBB\xBF\xEF\xBB\xBF[a]\nk =\n", &error), WW_MALFORMED);
    assert_contains(error.text, "byte order mark");
    assert_int_equal(read_text(&settings, "[a]\n\xEF\xBB\xBFk = v\n", &error), WW_MALFORMED);
    assert_ok(read_text(&settings, "\xEF\xBB\xBF[a]\n", &error), error);
    assert_true(ww_settings_has_section(&settings, "a"));
    ww_settings_clear(&settings);
}

static void text_that_is_no_text_is_refused(void **state)
{
    (void)state;
    refused_bytes("[a]\nk = 1\0 2\n", 13, 2, "NUL");
    refused_bytes("\0", 1, 1, "NUL");
    refused("[a]\nk = \xE9t\xE9\n", 2, "UTF-8");
    refused("; \xC0\xAF\n", 1, "UTF-8");         /* overlong */
    refused("; \xE0\x80\xAF\n", 1, "UTF-8");     /* overlong */
    refused("; \xED\xA0\x80\n", 1, "UTF-8");     /* surrogate */
    refused("; \xF4\x90\x80\x80\n", 1, "UTF-8"); /* above U+10FFFF */
    refused("; \xE2\x82", 1, "UTF-8");           /* cut short */
    refused("[a]\nk = \x1B[31m\n", 2, "control");
    refused("[a]\rk = 1\r", 1, "control"); /* lines end in LF or CR LF */
    refused("k = \x7F", 1, "control");
}

static void lines_outside_the_format_are_refused(void **state)
{
    (void)state;
    refused("[a]\nk = 1\n  k2 = 2\n", 3, "indented");
    refused("\tk = 1\n", 1, "indented");
    refused(" [a]\n", 1, "indented");
    refused("[a]\njust words\nk = 1\n", 2, "no section, key or comment");
    refused("k = 1\n= 2\n", 2, "no key");
    refused("[a\nk = 1\n", 1, "header");
    refused("[a] b\n", 1, "header");
    refused("[a]k = 1\n", 1, "header");
    refused("[]\n", 1, "name is empty");
    refused("[ a ]\n", 1, "spaces at its ends");
    refused("[a ; b]\n", 1, "';'");
    refused("[a]\nk = 1\n[b]\n[a]\n", 4, "[a] is there twice");
    refused("[a]\n[a]\n", 2, "twice");
    refused("[0123456789012345678901234567890123456789012345678X]\n[b]\n", 1, "49 bytes");
}

static void the_longest_name_of_a_section_is_kept_whole(void **state)
{
    (void)state;
    static const char name[] = "0123456789012345678901234567890123456789012345678";
    char text[80];
    snprintf(text, sizeof text, "[%s]\nk = 1\n", name);
    struct ww_settings settings = {0};
    struct ww_error error = {0};
    assert_ok(read_text(&settings, text, &error), error);
    assert_string_equal(settings.item[0].section, name);
    ww_settings_clear(&settings);
}

/* "[a]\nk = xxx...\nlast = 1\n" whose second line is that many bytes long. */
static char *long_line(size_t bytes)
{
    static const char head[] = "[a]\nk = ";
    static const char tail[] = "\nlast = 1\n";
    char *text = malloc(bytes + sizeof head + sizeof tail);
    assert_non_null(text);
    memcpy(text, head, sizeof head - 1);
    memset(text + sizeof head - 1, 'x', bytes - 4);
    memcpy(text + sizeof head - 1 + bytes - 4, tail, sizeof tail);
    return text;
}

static void a_long_line_is_kept_whole_or_refused_never_cut(void **state)
{
    (void)state;
    struct ww_settings settings = {0};
    struct ww_error error = {0};
#ifdef WW_INIH_VARIABLES
    static const size_t fits[] = {150, 195, 196, 197, 198, 199, 200, 201, 399, 400, 4000, 4095, 4096};
#else
    static const size_t fits[] = {150, 180, 195};
#endif
    for (size_t i = 0; i < sizeof fits / sizeof fits[0]; i++) {
        char *text = long_line(fits[i]);
        assert_ok(read_text(&settings, text, &error), error);
        assert_int_equal(settings.count, 2);
        assert_int_equal(strlen(settings.item[0].value), fits[i] - 4);
        expect(&settings.item[1], "a", "last", "1", 3);
        ww_settings_clear(&settings);
        free(text);
    }
    static const size_t over[] = {4097, 10240, 1000000};
    for (size_t i = 0; i < sizeof over / sizeof over[0]; i++) {
        char *text = long_line(over[i]);
        refused(text, 2, "bytes long; give at most");
        text[4] = ';'; /* a comment is no exception */
        refused(text, 2, "bytes long; give at most");
        free(text);
    }
}

static void a_hostile_file_is_refused_before_it_costs_much(void **state)
{
    (void)state;
    enum { BYTES = 5 * 1024 * 1024 };
    char *text = malloc(BYTES);
    assert_non_null(text);
    memset(text, '\n', BYTES);
    refused_bytes(text, BYTES, 0, "over 4 MB");
    for (size_t i = 0; i + 4 <= 400000; i += 4)
        memcpy(text + i, "a=b\n", 4);
    refused_bytes(text, 400000, 16385, "16384 settings");
    size_t used = 0;
    for (int i = 0; i < 5000; i++)
        used += (size_t)snprintf(text + used, 16, "[%d]\n", i);
    refused_bytes(text, used, 4097, "4096 sections");
    free(text);
}

static void a_path_that_cannot_be_read_is_named(void **state)
{
    (void)state;
    struct ww_settings settings = {0};
    struct ww_error error = {0};
    assert_int_equal(ww_settings_load(&settings, "/nowhere/study.ini", &error), WW_IO);
    assert_string_equal(error.file, "/nowhere/study.ini");
    assert_int_equal(ww_settings_load(&settings, "/tmp", &error), WW_IO);
    assert_contains(error.text, "folder");
    assert_int_equal(ww_settings_load(&settings, "/dev/zero", &error), WW_MALFORMED);
    assert_contains(error.text, "4 MB");
    assert_int_equal(ww_settings_load(&settings, "/proc/self/mem", &error), WW_IO);
    assert_contains(error.text, "could not be read");
    assert_null(settings.file);
}

static void set_replaces_and_adds(void **state)
{
    (void)state;
    struct ww_settings settings = {0};
    struct ww_error error = {0};
    assert_ok(read_text(&settings, "[trace]\nwidth = 100 um\n[style A.1]\nshape = 2\n", &error), error);
    assert_ok(ww_settings_set(&settings, "trace.width=90 um", &error), error);
    assert_ok(ww_settings_set(&settings, "trace.length = 50 mm ", &error), error);
    assert_ok(ww_settings_set(&settings, "style A.1.shape=3.5", &error), error);
    assert_ok(ww_settings_set(&settings, "study.title=a=b ; c. d", &error), error);
    assert_ok(ww_settings_set(&settings, "tolerance.resin.dk=0.05", &error), error); /* a section of one word */
    assert_int_equal(settings.count, 5);
    expect(&settings.item[4], "tolerance", "resin.dk", "0.05", 0);
    expect(&settings.item[0], "trace", "width", "90 um", 0);
    expect(&settings.item[1], "style A.1", "shape", "3.5", 0);
    expect(&settings.item[2], "trace", "length", "50 mm", 0);
    expect(&settings.item[3], "study", "title", "a=b ; c. d", 0);
    assert_true(ww_settings_has_section(&settings, "study"));
    assert_int_equal(settings.headings, 4);
    assert_int_equal(settings.heading[2].line, 0);
    ww_settings_clear(&settings);
    assert_ok(ww_settings_set(&settings, "a.b=", &error), error);    /* on an empty one */
    assert_ok(ww_settings_set(&settings, "a.b.c=2", &error), error); /* a dot in the key of a section that is there */
    assert_string_equal(ww_settings_find(&settings, "a", "b.c")->value, "2");
    expect(&settings.item[0], "a", "b", "", 0);
    ww_settings_clear(&settings);
}

static void a_set_with_a_number_replaces_one_of_several(void **state)
{
    (void)state;
    struct ww_settings settings = {0};
    struct ww_error error = {0};
    assert_ok(read_text(&settings, "[stackup]\nlayer = plane\nlayer = air\n[a]\nb = 1\n", &error), error);
    assert_ok(ww_settings_set(&settings, "stackup.layer.2 = ply 1080 100 um dk=3.5", &error), error);
    expect(&settings.item[0], "stackup", "layer", "plane", 2);
    expect(&settings.item[1], "stackup", "layer", "ply 1080 100 um dk=3.5", 0);
    assert_ok(ww_settings_set(&settings, "a.b.1=2", &error), error);
    expect(&settings.item[2], "a", "b", "2", 0);
    assert_int_equal(settings.count, 3);
    ww_settings_clear(&settings);
}

static void a_set_that_names_nothing_is_refused(void **state)
{
    (void)state;
    struct ww_settings settings = {0};
    struct ww_error error = {0};
    static const char *const text[] = {"",         "=",     "trace",   "trace.width", "width=3",  ".width=3",
                                       "trace.=3", " . =3", "a=b.c=d", "a.b=\xFF",    "a.b=1\n2", "a.b=\x1B[0m"};
    for (size_t i = 0; i < sizeof text / sizeof text[0]; i++) {
        if (ww_settings_set(&settings, text[i], &error) != WW_MALFORMED)
            fail_msg("\"%s\" was taken", text[i]);
        assert_string_equal(error.file, "--set");
        assert_int_equal(settings.count, 0);
    }
    assert_ok(read_text(&settings, "[stackup]\nlayer = plane\nlayer = air\n", &error), error);
    assert_int_equal(ww_settings_set(&settings, "stackup.layer=air", &error), WW_INVALID);
    assert_contains(error.text, "stackup.layer.1 to stackup.layer.2");
    assert_string_equal(settings.item[0].value, "plane");
    static const char *const number[] = {"stackup.layer.0=air", "stackup.layer.3=air",
                                         "stackup.layer.99999999999999999999=x"};
    for (size_t i = 0; i < 3; i++) {
        assert_int_equal(ww_settings_set(&settings, number[i], &error), WW_INVALID);
        assert_contains(error.text, "give stackup.layer.1 to stackup.layer.2");
    }
    assert_int_equal(settings.count, 2);
    ww_settings_clear(&settings);
}

static void the_nearest_word_is_near(void **state)
{
    (void)state;
    static const char *const key[] = {"width", "thickness", "pitch", "length", "angle"};
    enum { COUNT = sizeof key / sizeof key[0] };
    assert_string_equal(ww_nearest_word("widht", key, COUNT), "width");
    assert_string_equal(ww_nearest_word("Width", key, COUNT), "width");
    assert_string_equal(ww_nearest_word("thicknes", key, COUNT), "thickness");
    assert_string_equal(ww_nearest_word("pich", key, COUNT), "pitch");
    static const char *const style[] = {"101", "2116", "2313", "2113", "1280"};
    assert_string_equal(ww_nearest_word("2131", style, 5), "2113"); /* two neighbours exchanged are one slip */
    assert_string_equal(ww_nearest_word("1208", style, 5), "1280");
    assert_null(ww_nearest_word("frequency", key, COUNT));
    assert_null(ww_nearest_word("", key, COUNT));
    assert_null(ww_nearest_word("width", key, 0));
    char word[200];
    memset(word, 'w', sizeof word - 1);
    word[sizeof word - 1] = '\0';
    assert_null(ww_nearest_word(word, key, COUNT));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_study_is_read_in_order_with_its_lines),
        cmocka_unit_test(an_empty_file_and_a_byte_order_mark_are_fine),
        cmocka_unit_test(text_that_is_no_text_is_refused),
        cmocka_unit_test(lines_outside_the_format_are_refused),
        cmocka_unit_test(the_longest_name_of_a_section_is_kept_whole),
        cmocka_unit_test(a_long_line_is_kept_whole_or_refused_never_cut),
        cmocka_unit_test(a_hostile_file_is_refused_before_it_costs_much),
        cmocka_unit_test(a_path_that_cannot_be_read_is_named),
        cmocka_unit_test(set_replaces_and_adds),
        cmocka_unit_test(a_set_with_a_number_replaces_one_of_several),
        cmocka_unit_test(a_set_that_names_nothing_is_refused),
        cmocka_unit_test(the_nearest_word_is_near),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
