/* An input that this user may not open is told from none at all. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/types.h>
#include <sys/wait.h>
#include <unistd.h>

#include "check.h"
#include "sound/device_list.h"
#include "wav_bytes.h"

#define NOBODY 65534

static void put(const char *folder, const char *name, mode_t mode)
{
    char path[400];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    fclose(file);
    assert_int_equal(chmod(path, mode), 0);
}

/* As a user whom modes concern: root may open everything. */
static bool refused(const char *folder)
{
    int status;
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        if (geteuid() == 0 && (setgid(NOBODY) != 0 || setuid(NOBODY) != 0))
            _exit(2);
        _exit(device_list_refused(folder) ? 1 : 0);
    }
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFEXITED(status) && WEXITSTATUS(status) < 2);
    return WEXITSTATUS(status) == 1;
}

static void only_an_input_that_may_not_be_opened_is_refused(void **state)
{
    char folder[200];
    (void)state;
    wb_folder_make(folder, sizeof folder);
    assert_int_equal(chmod(folder, 0755), 0);
    assert_false(refused("/nowhere/at/all"));
    assert_false(refused(folder));
    put(folder, "controlC0", 0);
    put(folder, "pcmC0D0p", 0); /* an output */
    assert_false(refused(folder));
    put(folder, "pcmC0D0c", 0644);
    assert_false(refused(folder));
    put(folder, "pcmC1D0c", 0);
    assert_true(refused(folder));
    wb_folder_remove(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(only_an_input_that_may_not_be_opened_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
