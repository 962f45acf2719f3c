/* The spectrogram as a picture, looked at through another renderer. */
#include <stdio.h>
#include <string.h>

#include "check.h"
#include "paper/spectrogram_picture.h"
#include "pixels.h"

#define COLUMNS 400
#define ROWS    128
#define STRIDE  130

static struct paper_spectrogram forty_seconds(float power[COLUMNS][STRIDE])
{
    return (struct paper_spectrogram){.title = "",
                                      .total_s = 40.0,
                                      .first_s = 0.05,
                                      .step_s = 0.1,
                                      .n_columns = COLUMNS,
                                      .n_rows = ROWS,
                                      .stride = STRIDE,
                                      .row_hz = 31.25,
                                      .power = power[0]};
}

/* 40 s are one strip, 604 units wide from 60 on, and 130 high: a line at row 32 of 128 from 10 to 20 s lies a quarter up, a
 * quarter to the right. Half as dark where it is 30 dB weaker, of 60. */
static void a_tone_lies_at_its_frequency_and_time(void **state)
{
    static float power[COLUMNS][STRIDE];
    struct paper_spectrogram spectrogram = forty_seconds(power);
    struct paper_text svg = {.bytes = NULL};
    (void)state;
    for (int i = 100; i < 200; i++)
        for (int k = 30; k < 35; k++)
            power[i][k] = 1.0F;
    for (int i = 200; i < 300; i++)
        for (int k = 30; k < 35; k++)
            power[i][k] = 1e-3F;
    assert_int_equal(paper_spectrogram_picture(&spectrogram, &svg), THRUM_OK);
    struct pixels pixels = pixels_of(&svg);
    double from = 60 + 604 * 0.25, to = 60 + 604 * 0.5;
    int bottom = pixels.height - 1;
    while (bottom > 0 &&
           pixels_darkness(&pixels, bottom, 62, 660) + pixels_darkness(&pixels, bottom - 1, 62, 660) < 0.6)
        bottom--;
    int y = bottom - (int)(130 * 32.5 / ROWS);
    assert_true(pixels_darkness(&pixels, y, from + 3, to - 3) > 0.9);
    assert_between(pixels_darkness(&pixels, y, to + 3, to + 604 * 0.25 - 3), 0.4, 0.6);
    assert_true(pixels_darkness(&pixels, y, 62, from - 3) < 0.02);
    assert_true(pixels_darkness(&pixels, y - 8, from, to) < 0.02 &&
                pixels_darkness(&pixels, y + 8, from, to) < 0.02);
    assert_grey_and_whole(&pixels);
    pixels_destroy(&pixels);
}

static void silence_is_white(void **state)
{
    static float power[COLUMNS][STRIDE];
    struct paper_spectrogram spectrogram = forty_seconds(power);
    struct paper_text svg = {.bytes = NULL};
    (void)state;
    assert_int_equal(paper_spectrogram_picture(&spectrogram, &svg), THRUM_OK);
    struct pixels pixels = pixels_of(&svg);
    assert_true(pixels_darkness(&pixels, pixels.height / 2, 64, 660) < 0.02);
    pixels_destroy(&pixels);
    spectrogram.n_columns = 0;
    assert_int_equal(paper_spectrogram_picture(&spectrogram, &svg), THRUM_OK);
    paper_text_free(&svg);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_tone_lies_at_its_frequency_and_time),
        cmocka_unit_test(silence_is_white),
    };
    if (!pixels_can()) {
        puts("SKIPPED: no rsvg-convert here to look at the picture with");
        return 77;
    }
    return cmocka_run_group_tests(tests, NULL, NULL);
}
