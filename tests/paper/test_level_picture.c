/* Strength over time as a picture, looked at through another renderer. */
#include <math.h>
#include <stdio.h>

#include "check.h"
#include "paper/level_picture.h"
#include "pixels.h"

#define LEVELS 400 /* 40 s: one strip */

static struct pixels rendered(const struct paper_levels *levels)
{
    struct paper_text svg = {.bytes = NULL};
    assert_int_equal(paper_level_picture(levels, &svg), THRUM_OK);
    return pixels_of(&svg);
}

/* The first row from `from` on with a line through these columns: two rows of pixels together, for it may lie between them. A dotted
 * line is a quarter of one. */
static int row_of_line(const struct pixels *pixels, int from, double from_x, double to_x)
{
    for (int y = from; y + 1 < pixels->height; y++)
        if (pixels_darkness(pixels, y, from_x, to_x) + pixels_darkness(pixels, y + 1, from_x, to_x) > 0.7)
            return pixels_darkness(pixels, y, from_x, to_x) > pixels_darkness(pixels, y + 1, from_x, to_x)
                       ? y
                       : y + 1;
    return -1;
}

/* 60 dB are 80 units high, so 30 dB are 40; NaN is a gap; 40 s are 604 units wide, from 60 on. */
static void levels_are_drawn_to_scale(void **state)
{
    static float dbfs[LEVELS];
    struct paper_levels levels = {.title = "Sender a", .step_s = 0.1, .dbfs = dbfs, .n_levels = LEVELS};
    (void)state;
    for (int i = 0; i < LEVELS; i++)
        dbfs[i] = i < 150 ? -25.0F : i < 250 ? NAN : -55.0F;
    struct pixels pixels = rendered(&levels);
    assert_close(pixels.width, 680, 1);
    int left = row_of_line(&pixels, 26, 80, 270), gap = row_of_line(&pixels, 26, 300, 420),
        right = row_of_line(&pixels, 26, 460, 640);
    assert_close(right - left, 40, 1);
    assert_close(gap - left, 80 - 80 * 5.0 / 60.0,
                 1.5); /* nothing but the line at the bottom, which is 60 dB down */
    assert_grey_and_whole(&pixels);
    pixels_destroy(&pixels);
}

/* A touch from 10 to 20 s: a bracket over it, and a thick line at what was measured. */
static void touches_stand_where_they_were_made(void **state)
{
    static float dbfs[LEVELS];
    const struct paper_span span = {.from_s = 10.0, .to_s = 20.0, .tag = "w13", .heard = true, .dbfs = -35.0};
    struct paper_levels levels = {
        .title = "", .step_s = 0.1, .dbfs = dbfs, .n_levels = LEVELS, .time = {.span = &span, .n_spans = 1}};
    (void)state;
    for (int i = 0; i < LEVELS; i++)
        dbfs[i] = i == 0 ? -20.0F : NAN;
    struct pixels pixels = rendered(&levels);
    double from = 60 + 604 * 0.25, to = 60 + 604 * 0.5;
    int bracket = row_of_line(&pixels, 8, from + 2, to - 2);
    int measured = row_of_line(&pixels, bracket + 8, from + 2, to - 2);
    assert_close(measured - bracket, 4 + 80 * 15.0 / 60.0, 2.5);
    assert_true(pixels_darkness(&pixels, measured, from + 1, to - 1) > 0.9);
    assert_true(pixels_darkness(&pixels, measured, from - 20, from - 2) < 0.1);
    assert_true(pixels_darkness(&pixels, measured, to + 3, to + 20) < 0.1);
    pixels_destroy(&pixels);
}

/* An hour stays a picture that can be printed: 24 strips at most, the highest and lowest of each column kept. */
static void an_hour_fits(void **state)
{
    static float dbfs[36000];
    struct paper_levels levels = {.title = "Sender a", .step_s = 0.1, .dbfs = dbfs, .n_levels = 36000};
    struct paper_text svg = {.bytes = NULL};
    (void)state;
    for (int i = 0; i < 36000; i++)
        dbfs[i] = i % 5 < 2 ? -40.0F : -80.0F;
    assert_int_equal(paper_level_picture(&levels, &svg), THRUM_OK);
    assert_between((double)svg.size, 1e5, 1.2e6);
    struct pixels pixels = pixels_of(&svg);
    assert_between(pixels.height, 20 * 130, 24 * 130 + 60);
    pixels_destroy(&pixels);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(levels_are_drawn_to_scale),
        cmocka_unit_test(touches_stand_where_they_were_made),
        cmocka_unit_test(an_hour_fits),
    };
    if (!pixels_can()) {
        puts("SKIPPED: no rsvg-convert here to look at the picture with");
        return 77;
    }
    return cmocka_run_group_tests(tests, NULL, NULL);
}
