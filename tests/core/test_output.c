/* Output: a file is there whole or not at all, whatever the disk does; and errors, maps and threads.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"

#include <dirent.h>
#include <errno.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

static char folder[64];

static int make_folder(void **state)
{
    (void)state;
    snprintf(folder, sizeof folder, "/tmp/weftwise-output-XXXXXX");
    return mkdtemp(folder) == NULL;
}

static int remove_folder(void **state)
{
    (void)state;
    char command[128];
    snprintf(command, sizeof command, "rm -r %s", folder);
    return system(command) != 0;
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

static void has_content(const char *path, const char *want)
{
    char text[64] = "";
    FILE *stream = fopen(path, "r");
    assert_non_null(stream);
    size_t got = fread(text, 1, sizeof text - 1, stream);
    text[got] = '\0';
    fclose(stream);
    assert_string_equal(text, want);
}

static void write_file(const char *path, const char *text)
{
    struct ww_output output = {0};
    struct ww_error error = {0};
    assert_ok(ww_output_open(&output, path, &error), error);
    assert_true(fputs(text, output.stream) >= 0);
    assert_ok(ww_output_commit(&output, &error), error);
    assert_null(output.stream);
    assert_null(output.path);
    assert_null(output.temporary);
}

static void a_commit_puts_the_whole_file_in_place(void **state)
{
    (void)state;
    struct ww_output output = {0};
    struct ww_error error = {0};
    const char *path = inside("a.txt");
    assert_ok(ww_output_open(&output, path, &error), error);
    assert_true(fputs("first", output.stream) >= 0);
    assert_int_not_equal(access(path, F_OK), 0); /* not there before the commit */
    assert_ok(ww_output_commit(&output, &error), error);
    has_content(path, "first");
    write_file(path, "second");
    has_content(path, "second");
    assert_int_equal(entries(), 1);
}

static void a_discard_leaves_the_old_file_and_nothing_else(void **state)
{
    (void)state;
    struct ww_output output = {0};
    struct ww_error error = {0};
    ww_output_discard(&output); /* of nothing */
    write_file(inside("b.txt"), "old");
    int before = entries();
    assert_ok(ww_output_open(&output, inside("b.txt"), &error), error);
    assert_true(fputs("new", output.stream) >= 0);
    ww_output_discard(&output);
    assert_null(output.stream);
    has_content(inside("b.txt"), "old");
    assert_int_equal(entries(), before);
    ww_output_discard(&output);
    assert_int_equal(ww_output_commit(&output, &error), WW_INVALID);
}

static void the_umask_decides_who_may_read_it(void **state)
{
    (void)state;
    mode_t before = umask(027);
    write_file(inside("mode.txt"), "x");
    umask(before);
    struct stat there;
    assert_int_equal(stat(inside("mode.txt"), &there), 0);
    assert_int_equal(there.st_mode & 0777, 0640);
}

/* What it points to may be anyone's. */
static void a_link_is_replaced_not_followed(void **state)
{
    (void)state;
    write_file(inside("target.txt"), "old");
    assert_int_equal(symlink("target.txt", inside("link.txt")), 0);
    write_file(inside("link.txt"), "new");
    struct stat there;
    assert_int_equal(lstat(inside("link.txt"), &there), 0);
    assert_true(S_ISREG(there.st_mode));
    has_content(inside("link.txt"), "new");
    has_content(inside("target.txt"), "old");
}

static void a_private_file_stays_private(void **state)
{
    (void)state;
    write_file(inside("private.txt"), "old");
    assert_int_equal(chmod(inside("private.txt"), 0600), 0);
    write_file(inside("private.txt"), "new");
    struct stat there;
    assert_int_equal(stat(inside("private.txt"), &there), 0);
    assert_int_equal(there.st_mode & 0777, 0600);
}

static void a_pipe_that_nobody_reads_is_refused(void **state)
{
    (void)state;
    struct ww_output output = {0};
    struct ww_error error = {0};
    assert_int_equal(mkfifo(inside("pipe"), 0666), 0);
    assert_int_equal(ww_output_open(&output, inside("pipe"), &error), WW_IO);
    assert_contains(error.text, "nobody reads");
}

/* The child is killed while it writes; what another process is writing at the time is left alone. */
static void what_a_killed_program_left_is_tidied(void **state)
{
    (void)state;
    struct ww_output output = {0};
    struct ww_error error = {0};
    int status, before = entries();
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        if (ww_output_open(&output, inside("killed.txt"), NULL) == WW_OK)
            raise(SIGKILL);
        _exit(1);
    }
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFSIGNALED(status));
    assert_int_equal(entries(), before + 1);
    assert_ok(ww_output_open(&output, inside("alive.txt"), &error), error);
    ww_folder_tidy(folder);
    assert_int_equal(entries(), before + 1);
    assert_ok(ww_output_commit(&output, &error), error);
    ww_folder_tidy(folder);
    assert_int_equal(entries(), before + 1);
    assert_int_equal(access(inside("killed.txt"), F_OK), -1);
    has_content(inside("alive.txt"), "");
}

static void the_longest_name_a_folder_holds_can_be_written(void **state)
{
    (void)state;
    char name[256];
    memset(name, 'n', sizeof name - 1);
    name[sizeof name - 1] = '\0';
    write_file(inside(name), "x");
    has_content(inside(name), "x");
}

static void refused_open(const char *path, enum ww_status want, const char *part)
{
    struct ww_output output = {0};
    struct ww_error error = {0};
    assert_int_equal(ww_output_open(&output, path, &error), want);
    if (path[0] != '\0')
        assert_string_equal(error.file, path);
    assert_contains(error.text, part);
    assert_null(output.stream);
    assert_null(output.path);
}

static void what_cannot_be_written_is_refused_with_its_path(void **state)
{
    (void)state;
    write_file(inside("file"), "x");
    int before = entries();
    refused_open(inside("file/below.txt"), WW_IO, "could not be opened"); /* fails for root as well */
    refused_open(inside("no/such/folder.txt"), WW_IO, "could not be opened");
    refused_open(folder, WW_IO, "is a folder");
    refused_open("", WW_INVALID, "empty");
    refused_open("/proc/weftwise.txt", WW_IO, "could not be opened"); /* a file system that takes no files */
    assert_int_equal(entries(), before);
    if (geteuid() != 0) {
        assert_int_equal(mkdir(inside("locked"), 0555), 0);
        refused_open(inside("locked/a.txt"), WW_IO, "Permission denied");
    }
}

static void a_full_device_is_an_error_and_stays_a_device(void **state)
{
    (void)state;
    struct ww_output output = {0};
    struct ww_error error = {0};
    assert_ok(ww_output_open(&output, "/dev/full", &error), error);
    assert_true(fputs("some text", output.stream) >= 0); /* into the buffer */
    assert_int_equal(ww_output_commit(&output, &error), WW_IO);
    assert_string_equal(error.file, "/dev/full");
    assert_contains(error.text, "No space left");
    assert_null(output.stream);
    struct stat there;
    assert_int_equal(stat("/dev/full", &there), 0);
    assert_true(S_ISCHR(there.st_mode));
}

/* The size a process may write stands for a disk that fills up half way. */
static void a_disk_that_fills_up_leaves_no_partial_file(void **state)
{
    (void)state;
    struct rlimit old;
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &old), 0);
    struct rlimit small = {.rlim_cur = 20000, .rlim_max = old.rlim_max};
    signal(SIGXFSZ, SIG_IGN);
    write_file(inside("disk.txt"), "old");
    int before = entries();
    struct ww_output output = {0};
    struct ww_error error = {0};
    assert_ok(ww_output_open(&output, inside("disk.txt"), &error), error);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &small), 0);
    for (int i = 0; i < 10000; i++)
        fputs("0123456789", output.stream);
    enum ww_status status = ww_output_commit(&output, &error);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &old), 0);
    signal(SIGXFSZ, SIG_DFL);
    assert_int_equal(status, WW_IO);
    assert_contains(error.file, "disk.txt");
    has_content(inside("disk.txt"), "old");
    assert_int_equal(entries(), before);
}

/* What a signal handler does before it ends the program. */
static void abandoning_removes_what_is_half_written_and_nothing_else(void **state)
{
    enum { MANY = 70, COVERED = 64 };
    struct ww_output whole = {0}, half[MANY] = {{0}};
    struct ww_error error = {0};
    (void)state;
    assert_ok(ww_output_open(&whole, inside("whole"), &error), error);
    fputs("all of it", whole.stream);
    assert_ok(ww_output_commit(&whole, &error), error);
    int before = entries();
    for (int i = 0; i < MANY; i++) {
        char name[16];
        snprintf(name, sizeof name, "half%d", i);
        assert_ok(ww_output_open(&half[i], inside(name), &error), error);
        fputs("some", half[i].stream);
    }
    assert_int_equal(entries(), before + MANY);
    errno = EDOM;
    ww_output_abandon();
    assert_int_equal(errno, EDOM);
    assert_int_equal(entries(), before + MANY - COVERED);
    has_content(inside("whole"), "all of it");
    for (int i = 0; i < MANY; i++)
        ww_output_discard(&half[i]);
    assert_int_equal(entries(), before);

    /* the rows are free again */
    assert_ok(ww_output_open(&half[0], inside("half"), &error), error);
    ww_output_abandon();
    assert_int_equal(entries(), before);
    ww_output_discard(&half[0]);
    unlink(inside("whole"));
}

static void folders_are_made_with_their_parents(void **state)
{
    (void)state;
    struct ww_error error = {0};
    struct stat there;
    char path[128];
    snprintf(path, sizeof path, "%s/x/y//z/", folder);
    assert_ok(ww_folder_make(path, &error), error);
    assert_ok(ww_folder_make(path, &error), error); /* is there already */
    assert_int_equal(stat(inside("x/y/z"), &there), 0);
    assert_true(S_ISDIR(there.st_mode));
    assert_ok(ww_folder_make("/", &error), error);
    write_file(inside("x/plain"), "x");
    assert_int_equal(ww_folder_make(inside("x/plain"), &error), WW_IO);
    assert_contains(error.text, "file where a folder is wanted");
    assert_int_equal(ww_folder_make(inside("x/plain/below"), &error), WW_IO);
    assert_contains(error.file, "x/plain");
    assert_int_equal(ww_folder_make("/proc/weftwise", &error), WW_IO);
    assert_int_equal(ww_folder_make("", &error), WW_INVALID);
}

static void an_error_is_one_printable_line(void **state)
{
    (void)state;
    struct ww_error error = {0};
    char text[2000];
    assert_int_equal(ww_error_set(&error, WW_MALFORMED, "a\nb.ini", 14, "bad \x1B[31m %d", 7), WW_MALFORMED);
    assert_string_equal(error.text, "bad ?[31m 7");
    ww_error_format(&error, text, sizeof text);
    assert_string_equal(text, "a?b.ini:14: bad ?[31m 7");
    assert_int_equal(ww_error_set(NULL, WW_IO, NULL, 0, "x"), WW_IO);

    /* its own text may be an argument */
    ww_error_set(&error, WW_INVALID, error.file, 0, "[%s]", error.text);
    ww_error_format(&error, text, sizeof text);
    assert_string_equal(text, "a?b.ini: [bad ?[31m 7]");
    ww_error_set(&error, WW_INVALID, NULL, 3, "%s", "no place");
    ww_error_format(&error, text, sizeof text);
    assert_string_equal(text, "no place");
}

static void a_long_error_is_cut_between_characters(void **state)
{
    (void)state;
    struct ww_error error;
    char text[2001];
    for (int shift = 0; shift < 3; shift++) {
        memset(text, 'x', sizeof text);
        for (size_t i = (size_t)shift; i + 3 < sizeof text; i += 3)
            memcpy(text + i, "\xE2\x82\xAC", 3);
        text[sizeof text - 1] = '\0';
        ww_error_set(&error, WW_INVALID, text, 0, "%s", text);
        size_t length = strlen(error.text);
        assert_in_range(length, sizeof error.text - 4, sizeof error.text - 1);
        assert_int_equal((length - (size_t)shift) % 3, 0);
        assert_int_equal((strlen(error.file) - (size_t)shift) % 3, 0);
        char small[11];
        ww_error_format(&error, small, sizeof small);
        assert_int_equal((strlen(small) - (size_t)shift) % 3, 0);
    }
}

static void a_map_is_zeroed_and_its_sizes_are_checked(void **state)
{
    (void)state;
    struct ww_map map = {0};
    struct ww_error error = {0};
    assert_ok(ww_map_init(&map, 5, 3, 1e-3, 2e-3, &error), error);
    for (size_t i = 0; i < 15; i++)
        assert_close(map.value[i], 0, 0, 0);
    ww_map_clear(&map);
    assert_null(map.value);
    ww_map_clear(&map);
    assert_int_equal(ww_map_init(&map, 0, 3, 1, 1, &error), WW_INVALID);
    assert_int_equal(ww_map_init(&map, 3, 3, 0, 1, &error), WW_INVALID);
    assert_int_equal(ww_map_init(&map, 3, 3, 1, (double)NAN, &error), WW_INVALID);
    assert_int_equal(ww_map_init(&map, 3, 3, (double)INFINITY, 1, &error), WW_INVALID);
    assert_int_equal(ww_map_init(&map, SIZE_MAX / 2, SIZE_MAX / 2, 1, 1, &error), WW_NO_MEMORY);
    assert_int_equal(ww_map_init(&map, SIZE_MAX / 8, 1, 1, 1, &error), WW_NO_MEMORY);
    assert_null(map.value);
    assert_int_equal(map.nx, 0);
}

static void the_number_of_threads_is_kept_within_bounds(void **state)
{
    (void)state;
    ww_threads_set(0);
    assert_in_range(ww_threads(), 1, 256);
    ww_threads_set(-3);
    assert_in_range(ww_threads(), 1, 256);
#ifdef _OPENMP
    ww_threads_set(3);
    assert_int_equal(ww_threads(), 3);
    ww_threads_set(100000);
    assert_int_equal(ww_threads(), 256);
#endif
    ww_threads_set(0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_commit_puts_the_whole_file_in_place),
        cmocka_unit_test(a_discard_leaves_the_old_file_and_nothing_else),
        cmocka_unit_test(the_umask_decides_who_may_read_it),
        cmocka_unit_test(a_link_is_replaced_not_followed),
        cmocka_unit_test(a_private_file_stays_private),
        cmocka_unit_test(a_pipe_that_nobody_reads_is_refused),
        cmocka_unit_test(what_a_killed_program_left_is_tidied),
        cmocka_unit_test(the_longest_name_a_folder_holds_can_be_written),
        cmocka_unit_test(what_cannot_be_written_is_refused_with_its_path),
        cmocka_unit_test(a_full_device_is_an_error_and_stays_a_device),
        cmocka_unit_test(a_disk_that_fills_up_leaves_no_partial_file),
        cmocka_unit_test(abandoning_removes_what_is_half_written_and_nothing_else),
        cmocka_unit_test(folders_are_made_with_their_parents),
        cmocka_unit_test(an_error_is_one_printable_line),
        cmocka_unit_test(a_long_error_is_cut_between_characters),
        cmocka_unit_test(a_map_is_zeroed_and_its_sizes_are_checked),
        cmocka_unit_test(the_number_of_threads_is_kept_within_bounds),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
