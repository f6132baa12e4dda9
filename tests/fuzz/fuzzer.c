/* fuzzer.c - the same targets for libFuzzer: clang, -Dfuzzer=true; WW_TARGET is one of targets.h.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "targets.h"

#include <stdint.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    WW_TARGET((const char *)data, size);
    return 0;
}
