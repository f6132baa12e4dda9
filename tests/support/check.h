/* check.h - cmocka with the headers it wants, and a comparison of doubles that NaN cannot pass.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * assert_close(got, want, rel, abs) passes only if |got - want| <= max(rel |want|, abs). A NaN anywhere makes
 * the comparison false, and so fails. cmocka's assert_float_equal lets NaN through: it is not used here.
 */
#ifndef WW_TESTS_CHECK_H
#define WW_TESTS_CHECK_H

/* cmocka.h needs these before it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "weftwise/core.h"

static inline bool check_is_close(double got, double want, double relative, double absolute)
{
    double from_relative = relative * fabs(want);
    double allowed = from_relative > absolute ? from_relative : absolute;
    return fabs(got - want) <= allowed;
}

static inline void check_close(double got, double want, double relative, double absolute, const char *expression,
                               const char *file, int line)
{
    if (check_is_close(got, want, relative, absolute))
        return;
    print_error("%s is %.17g, wanted %.17g: off by %.3g, allowed are %.3g relative or %.3g absolute\n", expression,
                got, want, got - want, relative, absolute);
    _fail(file, line);
}

#define assert_close(got, want, relative, absolute)                                                                  \
    check_close((got), (want), (relative), (absolute), #got, __FILE__, __LINE__)

/* The call succeeded; if not, say what it said. error is the struct ww_error it was given. */
#define assert_ok(call, error)                                                                                       \
    do {                                                                                                             \
        if ((call) != WW_OK) {                                                                                       \
            print_error("%s: %s\n", #call, (error).text);                                                            \
            _fail(__FILE__, __LINE__);                                                                               \
        }                                                                                                            \
    } while (0)

/* The text holds the part. */
static inline void check_contains(const char *text, const char *part, const char *file, int line)
{
    if (strstr(text, part) != NULL)
        return;
    print_error("\"%s\" does not say \"%s\"\n", text, part);
    _fail(file, line);
}

#define assert_contains(text, part) check_contains((text), (part), __FILE__, __LINE__)

#endif
