/* test_page.c - what the page writer makes of hostile text, figures and tables.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "weftwise/report.h"

#include <wchar.h>

/* A page into memory. */
struct page {
    struct ww_page page;
    FILE *stream;
    char *text;
    size_t size;
};

static void begin(struct page *p, const char *title)
{
    p->stream = open_memstream(&p->text, &p->size);
    assert_non_null(p->stream);
    ww_page_begin(&p->page, p->stream, title);
}

static void end(struct page *p)
{
    struct ww_error error = {0};
    assert_int_equal(ww_page_end(&p->page, &error), WW_OK);
    assert_int_equal(fclose(p->stream), 0);
}

/* The page holds this. */
static void assert_holds(const struct page *p, const char *part)
{
    if (!strstr(p->text, part))
        fail_msg("'%s' is not in the page", part);
}

static void assert_holds_not(const struct page *p, const char *part)
{
    if (strstr(p->text, part))
        fail_msg("'%s' is in the page", part);
}

static void text_of_a_study_stays_text(void **state)
{
    (void)state;
    struct page p = {0};
    begin(&p, "</title><script>alert(1)</script>");
    ww_page_heading(&p.page, 2, "a < b & \"c\" 'd' \xc2\xb5m");
    ww_page_text(&p.page, WW_PAGE_PLAIN, "%s", "<img src=x onerror=alert(1)>");
    ww_page_verbatim(&p.page, "</pre><b>");
    end(&p);
    assert_holds_not(&p, "<script");
    assert_holds_not(&p, "<img");
    assert_holds_not(&p, "<b>");
    assert_holds(&p, "<title>&lt;/title&gt;&lt;script&gt;alert(1)&lt;/script&gt;</title>");
    assert_holds(&p, "a &lt; b &amp; &quot;c&quot; &#39;d&#39; \xc2\xb5m</h2>");
    assert_holds(&p, "<pre>\n&lt;/pre&gt;&lt;b&gt;</pre>");
    free(p.text);
}

/* The title is in the style sheet too, for the foot of a printed page. */
static void title_does_not_end_the_style_sheet(void **state)
{
    (void)state;
    struct page p = {0};
    begin(&p, "\"}body{display:none}</style>\\");
    end(&p);
    char *sheet = strstr(p.text, "<style>");
    assert_non_null(sheet);
    char *close = strstr(sheet, "</style>");
    assert_non_null(close);
    assert_null(strstr(close + 1, "</style>"));
    *close = '\0';
    assert_null(strstr(sheet, "body{display"));
    assert_non_null(
        strstr(sheet, "@bottom-left{content:\"\\22 \\7D body\\7B display\\3A none\\7D \\3C \\2F style\\3E \\5C \";"));
    free(p.text);
}

static void what_no_page_may_hold_is_replaced(void **state)
{
    (void)state;
    struct page p = {0};
    begin(&p, "t");
    ww_page_text(&p.page, WW_PAGE_PLAIN, "%s",
                 "a\x01"
                 "b\x7f"
                 "c\xff"
                 "d\xc2\x85"
                 "e\xed\xa0\x80"
                 "f\xef\xbf\xbf"
                 "g");
    end(&p);
    assert_holds(&p, "<p>a\xef\xbf\xbd"
                     "b\xef\xbf\xbd"
                     "c\xef\xbf\xbd"
                     "d\xef\xbf\xbd"
                     "e\xef\xbf\xbd\xef\xbf\xbd\xef\xbf\xbd"
                     "f\xef\xbf\xbd"
                     "g</p>");
    free(p.text);
}

static void headings_skip_no_level(void **state)
{
    (void)state;
    struct page p = {0};
    begin(&p, "t");
    ww_page_heading(&p.page, 4, "first");
    ww_page_heading(&p.page, 4, "second");
    ww_page_heading(&p.page, 2, "third");
    end(&p);
    assert_holds(&p, "<h2 id=\"part-1\">first</h2>");
    assert_holds(&p, "<h3>second</h3>");
    assert_holds(&p, "<h2 id=\"part-2\">third</h2>");
    free(p.text);
}

static void rows_of_a_table_are_whole(void **state)
{
    (void)state;
    static const struct ww_page_column column[] = {{"name", false}, {"value", true}};
    struct page p = {0};
    begin(&p, "t");
    ww_page_table_begin(&p.page, "caption", column, 2, true);
    ww_page_cell(&p.page, "a");
    ww_page_cell(&p.page, "%d", 1);
    ww_page_mark_row(&p.page);
    ww_page_cell(&p.page, "b");
    ww_page_table_end(&p.page);
    end(&p);
    assert_holds(&p, "<tr><th scope=\"col\">name</th><th scope=\"col\" class=\"n\">value</th></tr>");
    assert_holds(&p, "<tr><th scope=\"row\">a</th><td class=\"n\">1</td></tr>");
    assert_holds(&p, "<tr class=\"here\"><th scope=\"row\">b</th><td class=\"n\"></td></tr>\n</tbody>");
    free(p.text);
}

static void write_file(const char *path, const unsigned char *bytes, size_t count)
{
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(bytes, 1, count, file), count);
    assert_int_equal(fclose(file), 0);
}

/* A path that ends as a figure's does, in a folder of its own. */
static void name_figure(char *folder, char *path, size_t size)
{
    assert_non_null(mkdtemp(folder));
    snprintf(path, size, "%s/figure.svg", folder);
}

/* RFC 4648, section 10. */
static void base64_is_that_of_the_standard(void **state)
{
    (void)state;
    static const char *const vector[][2] = {
        {"f", "Zg=="},         {"fo", "Zm8="},         {"foo", "Zm9v"}, {"foob", "Zm9vYg=="},
        {"fooba", "Zm9vYmE="}, {"foobar", "Zm9vYmFy"}, {"", ""}};
    char folder[] = "/tmp/weftwise-page-XXXXXX", path[64];
    name_figure(folder, path, sizeof path);
    for (size_t i = 0; i < sizeof vector / sizeof *vector; i++) {
        struct page p = {0};
        char want[80];
        begin(&p, "t");
        write_file(path, (const unsigned char *)vector[i][0], strlen(vector[i][0]));
        assert_int_equal(ww_page_figure(&p.page, path, "a \"picture\"", NULL, "what it %s", "shows"), WW_OK);
        end(&p);
        snprintf(want, sizeof want, " src=\"data:image/svg+xml;base64,%s\">", vector[i][1]);
        assert_holds(&p, want);
        assert_holds(&p, "<img alt=\"a &quot;picture&quot;\"");
        assert_holds(&p, "<strong>Figure 1.</strong> what it shows</figcaption>");
        free(p.text);
    }
    unlink(path);
    rmdir(folder);
}

/* Segments are joined without padding between them. */
static void long_file_is_one_base64_text(void **state)
{
    (void)state;
    enum { LONG = 3 * 4096 * 2 + 1 };
    static unsigned char bytes[LONG];
    char folder[] = "/tmp/weftwise-page-XXXXXX", path[64];
    name_figure(folder, path, sizeof path);
    memset(bytes, 0xff, sizeof bytes);
    write_file(path, bytes, sizeof bytes);
    struct page p = {0};
    begin(&p, "t");
    assert_int_equal(ww_page_figure(&p.page, path, "alt", NULL, "caption"), WW_OK);
    end(&p);
    const char *data = strstr(p.text, "base64,");
    assert_non_null(data);
    data += strlen("base64,");
    assert_int_equal(strspn(data, "/"), (size_t)(LONG / 3 * 4 + 1)); /* one byte is left: "/w==" */
    assert_memory_equal(data + LONG / 3 * 4, "/w==\"", 5);
    unlink(path);
    rmdir(folder);
    free(p.text);
}

static void figure_that_cannot_be_shown_is_refused(void **state)
{
    (void)state;
    struct page p = {0};
    struct ww_error error = {0};
    begin(&p, "t");
    assert_int_equal(ww_page_figure(&p.page, "figure.pdf", "alt", &error, "caption"), WW_INVALID);
    assert_string_equal(error.file, "figure.pdf");
    assert_int_equal(ww_page_figure(&p.page, "/nowhere/figure.png", "alt", &error, "caption"), WW_IO);
    assert_string_equal(error.file, "/nowhere/figure.png");
    end(&p);
    free(p.text);
}

static void full_disk_is_told_at_the_end(void **state)
{
    (void)state;
    struct ww_page page;
    struct ww_error error = {0};
    FILE *full = fopen("/dev/full", "w");
    if (!full)
        skip();
    ww_page_begin(&page, full, "t");
    assert_int_equal(ww_page_end(&page, &error), WW_IO);
    assert_true(error.text[0]);
    fclose(full);
}

/* Once a cell without memory for its text stayed empty, and nobody said so. */
static void text_that_is_not_there_is_told_at_the_end(void **state)
{
    (void)state;
    static const wchar_t not_in_this_locale[] = {0x20AC, 0};
    struct page p = {0};
    struct ww_error error = {0};
    begin(&p, "t");
    ww_page_text(&p.page, WW_PAGE_PLAIN, "%ls", not_in_this_locale);
    ww_page_text(&p.page, WW_PAGE_PLAIN, "%s", "and then one that can be");
    assert_int_equal(ww_page_end(&p.page, &error), WW_INVALID);
    assert_true(error.text[0]);
    fclose(p.stream);
    free(p.text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(text_of_a_study_stays_text),
        cmocka_unit_test(title_does_not_end_the_style_sheet),
        cmocka_unit_test(what_no_page_may_hold_is_replaced),
        cmocka_unit_test(headings_skip_no_level),
        cmocka_unit_test(rows_of_a_table_are_whole),
        cmocka_unit_test(base64_is_that_of_the_standard),
        cmocka_unit_test(long_file_is_one_base64_text),
        cmocka_unit_test(figure_that_cannot_be_shown_is_refused),
        cmocka_unit_test(full_disk_is_told_at_the_end),
        cmocka_unit_test(text_that_is_not_there_is_told_at_the_end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
