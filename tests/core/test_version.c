/* The version, of the headers and of the library.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"

#include <stdio.h>

static void headers_library_and_project_have_one_version(void **state)
{
    (void)state;
    char numbers[40];
    (void)snprintf(numbers, sizeof numbers, "%d.%d.%d", WW_VERSION_MAJOR, WW_VERSION_MINOR, WW_VERSION_PATCH);
    assert_string_equal(WW_VERSION, numbers);
    assert_string_equal(ww_version(), WW_VERSION);
    assert_string_equal(ww_version(), PROJECT_VERSION);
}

static void hosts_of_another_layout_are_told_apart(void **state)
{
    (void)state;
    assert_true(ww_version_matches(WW_VERSION_MAJOR, WW_VERSION_MINOR));
    assert_false(ww_version_matches(WW_VERSION_MAJOR, WW_VERSION_MINOR + 1));
    assert_false(ww_version_matches(WW_VERSION_MAJOR + 1, WW_VERSION_MINOR));
    if (WW_VERSION_MAJOR == 0 && WW_VERSION_MINOR > 0)
        assert_false(ww_version_matches(WW_VERSION_MAJOR, WW_VERSION_MINOR - 1));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(headers_library_and_project_have_one_version),
        cmocka_unit_test(hosts_of_another_layout_are_told_apart),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
