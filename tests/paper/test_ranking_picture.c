/* The ranking as a picture, looked at through another renderer: rsvg-convert makes pixels of the SVG. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "check.h"
#include "paper/ranking_picture.h"
#include "pixels.h"

static struct paper_ranking *example(void)
{
    struct paper_ranking *ranking = calloc(1, sizeof *ranking);
    assert_non_null(ranking);
    ranking->title = "Sender a: 1037.0 Hz";
    ranking->verdict = "PICKED: wire w13.";
    ranking->next = ranking->silent = ranking->excluded = "";
    ranking->top_db = -40.0;
    ranking->span_db = 30.0;
    ranking->n_wires = 2;
    ranking->wire[0] = (struct paper_wire){
        .tag = "w13", .heard = true, .dbfs = -45.0, .low_db = -50.0, .high_db = -40.0, .chance = "99.35 %"};
    ranking->wire[1] = (struct paper_wire){
        .tag = "w07", .heard = true, .dbfs = -62.0, .low_db = -66.0, .high_db = -58.0, .chance = "0.6 %"};
    return ranking;
}

static struct pixels rendered(const struct paper_ranking *ranking)
{
    struct paper_text svg = {.bytes = NULL};
    assert_int_equal(paper_ranking_picture(ranking, &svg), THRUM_OK);
    return pixels_of(&svg);
}

/* The longest run of black in a row of pixels. */
static int longest_black(const struct pixels *pixels, int y, int *from)
{
    int best = 0, run = 0;
    for (int x = 0; x < pixels->width; x++) {
        run = pixels_grey(pixels, x, y) < 40 ? run + 1 : 0;
        if (run > best) {
            best = run;
            *from = x - run + 1;
        }
    }
    return best;
}

/* The middle row of bar number n, 0 on top: rows in which black runs for longer than any letter or legend does. */
static int middle_of_bar(const struct pixels *pixels, int n, int *from, int *length)
{
    int first = -1;
    for (int y = 0; y < pixels->height; y++) {
        int black = longest_black(pixels, y, from);
        if (first < 0 && black >= 35)
            first = y;
        if (first >= 0 && black < 35) {
            if (n-- == 0) {
                *length = longest_black(pixels, (first + y) / 2, from);
                return (first + y) / 2;
            }
            first = -1;
        }
    }
    fail_msg("there is no such bar");
    return 0;
}

/* 30 dB are the whole of a bar; bar 0 ends at the top, so its parts are 20, 5 and 5 of 30. */
static void bars_show_the_interval_to_scale(void **state)
{
    struct paper_ranking *ranking = example();
    struct pixels pixels = rendered(ranking);
    int from, black;
    (void)state;
    int y = middle_of_bar(&pixels, 0, &from, &black);
    double per_db = black / 20.0;
    assert_close(pixels_darkness(&pixels, y, from + 20.3 * per_db, from + 24.7 * per_db), 0.35,
                 0.3); /* hatched */
    assert_close(pixels_darkness(&pixels, y, from + 25.3 * per_db, from + 29.7 * per_db), 0.0,
                 0.02); /* open */
    assert_true(pixels_darkness(&pixels, y, from + 30.0 * per_db - 1.5, from + 30.0 * per_db + 1.5) >
                0.2); /* its edge */
    int other_from, other_black;
    y = middle_of_bar(&pixels, 1, &other_from, &other_black);
    assert_close(other_from, from, 1.0);
    assert_close(other_black, 4.0 * per_db, 2.0);
    assert_close(pixels_darkness(&pixels, y, from + 8.3 * per_db, from + 11.7 * per_db), 0.0, 0.02);
    assert_close(pixels_darkness(&pixels, y, from + 12.6 * per_db, from + 30.0 * per_db), 0.0,
                 0.12); /* scale lines only */
    pixels_destroy(&pixels);
    free(ranking);
}

/* Printed without colour nothing is lost: all pixels are grey. Nothing touches the right edge or the bottom. */
static void picture_is_black_on_white_and_whole(void **state)
{
    struct paper_ranking *ranking = example();
    (void)state;
    ranking->verdict =
        "TOO CLOSE to name one wire: it is among w13, w07, w21 and w04, and this sentence is long enough "
        "to need more than one line of the picture, whatever letters there are.";
    ranking->silent = "No tone on w01, w02, w03, w04, w05, w06, w08, w09, w10, w11, w12, w14, w15, w16, w17, "
                      "w18, w19, w20.";
    memcpy(ranking->wire[1].tag, "\xC3\xBC<&>\"gr\xC3\xBCn-und-sehr-lang-wxyz", 31);
    struct pixels pixels = rendered(ranking);
    assert_close(pixels.width, 680, 1);
    assert_grey_and_whole(&pixels);
    pixels_destroy(&pixels);
    free(ranking);
}

static void picture_of_nothing_is_words_alone(void **state)
{
    struct paper_ranking *ranking = example();
    (void)state;
    ranking->n_wires = 0;
    ranking->top_db = THRUM_FLOOR_DBFS;
    ranking->verdict = "NO TONE on any of the wires.";
    struct pixels pixels = rendered(ranking);
    assert_between(pixels.height, 30, 90);
    pixels_destroy(&pixels);
    free(ranking);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bars_show_the_interval_to_scale),
        cmocka_unit_test(picture_is_black_on_white_and_whole),
        cmocka_unit_test(picture_of_nothing_is_words_alone),
    };
    if (!pixels_can()) {
        puts("SKIPPED: no rsvg-convert here to look at the picture with");
        return 77;
    }
    return cmocka_run_group_tests(tests, NULL, NULL);
}
