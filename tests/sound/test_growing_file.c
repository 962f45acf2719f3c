/* A recording that is ranked while it is still being written: it reads what is there, says so, and holds up nobody. */
#include <stdlib.h>
#include <string.h>

#include "check.h"
#include "sound/recorder.h"
#include "sound/source.h"
#include "wav_bytes.h"

#define SECOND 48000

static void a_file_still_being_written_reads_as_far_as_it_went(void **state)
{
    (void)state;
    static float second[SECOND];
    char folder[200];
    struct thrum_message message;
    struct thrum_recorder *recorder;
    struct thrum_source *source;
    struct thrum_source_block block = {.event = THRUM_SOURCE_DATA};
    uint64_t frames = 0;
    size_t wrong = 0;
    for (int i = 0; i < SECOND; i++)
        second[i] = (float)(i + 1) / 65536.0f;
    wb_folder_make(folder, sizeof folder);
    struct thrum_recorder_config config = {.folder = folder, .stem = "r", .rate_hz = SECOND, .channels = 1};
    assert_int_equal(thrum_recorder_create(&config, &recorder, &message), THRUM_OK);
    for (int i = 0; i < 4; i++)
        assert_int_equal(thrum_recorder_write(recorder, second, SECOND, &message), THRUM_OK);
    assert_int_equal(thrum_source_open_file(thrum_recorder_path(recorder), &source, &message), THRUM_OK);
    while (block.event != THRUM_SOURCE_END) {
        float samples[4096];
        thrum_source_read(source, samples, 4096, &block);
        assert_int_not_equal(block.event, THRUM_SOURCE_FAILED);
        for (size_t i = 0; i < block.frames; i++)
            wrong += samples[i] != second[(frames + i) % SECOND];
        frames += block.frames;
        if (frames < 2 * SECOND) /* its writer goes on meanwhile */
            assert_int_equal(thrum_recorder_write(recorder, second, 1000, &message), THRUM_OK);
    }
    assert_true(frames >= 3 * SECOND); /* all but the last second that was written before it was opened */
    assert_int_equal(wrong, 0);
    assert_non_null(strstr(thrum_source_info(source)->note, "still growing"));
    thrum_source_close(source);
    assert_int_equal(thrum_recorder_close(recorder, &message), THRUM_OK);
    wb_folder_remove(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_file_still_being_written_reads_as_far_as_it_went),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
