/* When the probe rests on a wire, told by the hum alone. */
#include "check.h"

#include <math.h>
#include <stdlib.h>

#include "listen/contact.h"
#include "signals.h"
#include "thrum/units.h"

#define RATE 8000.0

/* Hum that comes and goes: on from on_s to off_s of `seconds`, 30 dB over the noise; a sender beeps all the while. */
static float *sound(double seconds, const double (*on)[2], int n_on, double hum_dbfs, double tone_dbfs)
{
    size_t n = (size_t)(seconds * RATE);
    float *x = calloc(n, sizeof *x);
    struct rng rng = rng_seeded(11);
    struct hum hum = {.hz = 50, .harmonics = 10, .dbfs = hum_dbfs};
    struct sender sender = {.voice = thrum_voice_beep(1150, 0.6, 0.4), .dbfs = tone_dbfs};
    assert_non_null(x);
    if (n_on > 0)
        add_hum(&rng, x, n, RATE, &hum);
    for (size_t i = 0; i < n; i++) {
        bool is_on = false;
        for (int k = 0; k < n_on; k++)
            is_on |= (double)i >= on[k][0] * RATE && (double)i < on[k][1] * RATE;
        x[i] = is_on ? x[i] : 0.0f;
    }
    add_noise(&rng, x, n, 1e-4);
    if (tone_dbfs > -150)
        add_sender(&rng, x, n, RATE, &sender);
    return x;
}

static int spans_in(const float *x, size_t n, size_t block, struct thrum_contact_span *spans, int max)
{
    struct thrum_contact *contact;
    int count = 0;
    assert_int_equal(thrum_contact_create(RATE, &contact), THRUM_OK);
    for (size_t at = 0; at < n; at += block)
        thrum_contact_feed(contact, x + at, n - at < block ? n - at : block);
    while (count < max && thrum_contact_next(contact, true, &spans[count]))
        count++;
    thrum_contact_destroy(contact);
    return count;
}

static const double three[][2] = {{1.0, 4.0}, {4.5, 7.5}, {8.5, 12.0}};

static void contacts_are_told_within_a_tenth_of_a_second(void **state)
{
    (void)state;
    const double tones[] = {-200, -45, -20}; /* none; the usual; far louder than the hum */
    for (int t = 0; t < 3; t++) {
        float *x = sound(13, three, 3, -40, tones[t]);
        struct thrum_contact_span spans[16];
        assert_int_equal(spans_in(x, (size_t)(13 * RATE), 441, spans, 16), 3);
        for (int i = 0; i < 3; i++) {
            assert_true(spans[i].told);
            /* 60 ms are taken off at either end, levels come every 20 ms */
            assert_between((double)spans[i].first / RATE, three[i][0] + 0.02, three[i][0] + 0.1);
            assert_between((double)spans[i].end / RATE, three[i][1] - 0.1, three[i][1] - 0.02);
        }
        free(x);
    }
}

/* Noise alone, and a loud sender without hum whose beeps click: neither is a probe that comes and goes. */
static void without_hum_nothing_is_told(void **state)
{
    (void)state;
    const double tones[] = {-200, -60, -40, -20};
    for (int t = 0; t < 4; t++) {
        float *x = sound(20, NULL, 0, -200, tones[t]);
        struct thrum_contact_span spans[16];
        assert_int_equal(spans_in(x, (size_t)(20 * RATE), 4096, spans, 16), 1);
        assert_false(spans[0].told);
        assert_int_equal(spans[0].first, 0);
        assert_close((double)spans[0].end / RATE, 20.0, 0.03);
        free(x);
    }
}

static void short_drops_are_bridged_and_bumps_left_out(void **state)
{
    (void)state;
    const double on[][2] = {{1.0, 2.0}, {2.06, 4.0}, {5.0, 5.2}, {6.0, 8.0}}; /* 60 ms drop; 200 ms bump */
    float *x = sound(9, on, 4, -40, -200);
    struct thrum_contact_span spans[16];
    assert_int_equal(spans_in(x, (size_t)(9 * RATE), 64, spans, 16), 2);
    assert_close((double)spans[0].first / RATE, 1.06, 0.05);
    assert_close((double)spans[0].end / RATE, 3.94, 0.05);
    assert_close((double)spans[1].first / RATE, 6.06, 0.05);
    free(x);
}

static void the_present_contact_and_its_beginning_are_known(void **state)
{
    (void)state;
    float *x = sound(13, three, 3, -40, -45);
    struct thrum_contact *contact;
    struct thrum_contact_span span;
    uint64_t since = 0;
    assert_int_equal(thrum_contact_create(RATE, &contact), THRUM_OK);
    assert_false(thrum_contact_now(contact, &since));
    thrum_contact_feed(contact, x, (size_t)(6.0 * RATE));
    while (thrum_contact_next(contact, false, &span)) {
    }
    assert_true(thrum_contact_now(contact, &since));
    assert_close((double)since / RATE, 4.5, 0.1);
    thrum_contact_feed(contact, x + (size_t)(6.0 * RATE), (size_t)(2.2 * RATE)); /* to 8.2 s, in the air */
    assert_false(thrum_contact_now(contact, &since));
    thrum_contact_destroy(contact);
    thrum_contact_destroy(NULL);
    free(x);
}

static void blocks_of_any_size_give_the_same_contacts(void **state)
{
    (void)state;
    const size_t blocks[] = {1, 7, 441, 4096};
    float *x = sound(13, three, 3, -40, -45);
    struct thrum_contact_span whole[16], spans[16];
    size_t n = (size_t)(13 * RATE);
    int count = spans_in(x, n, n, whole, 16);
    for (int b = 0; b < 4; b++) {
        assert_int_equal(spans_in(x, n, blocks[b], spans, 16), count);
        for (int i = 0; i < count; i++)
            assert_true(spans[i].first == whole[i].first && spans[i].end == whole[i].end);
    }
    free(x);
}

/* Wires of 2.5 s with 0.8 s of air between, heard as the walk goes. Hum differs from wire to wire as it likes, each wobbles by
 * a decibel, and the air is only 11 dB below the usual wire: common practice, no source. */
static void a_wire_with_little_hum_is_one_contact(void **state)
{
    (void)state;
    const double wire_db[] = {0.0, 1.5, -2.0, 2.5, -3.5, 0.5, -6.0, 1.0, -1.0, 2.0, -5.0, 0.0};
    const double each_s = 3.3, touch_s = 2.5, air_db = -11.0;
    enum { WIRES = sizeof wire_db / sizeof *wire_db };
    size_t n = (size_t)((WIRES * each_s + 1.0) * RATE);
    float *x = calloc(n, sizeof *x);
    struct rng rng = rng_seeded(12);
    struct hum hum = {.hz = 50, .harmonics = 10, .dbfs = -40};
    struct thrum_contact *contact;
    struct thrum_contact_span span;
    int told = 0;
    assert_non_null(x);
    add_hum(&rng, x, n, RATE, &hum);
    for (size_t i = 0; i < n; i++) {
        double s = (double)i / RATE - 1.0, in_s = fmod(s, each_s);
        bool is_on = s >= 0.0 && in_s < touch_s;
        double db = (is_on ? wire_db[(int)(s / each_s)] : air_db) + sin(2.0 * THRUM_PI * 0.7 * s);
        x[i] *= (float)thrum_amplitude_from_db(db);
    }
    add_noise(&rng, x, n, 1e-4);
    assert_int_equal(thrum_contact_create(RATE, &contact), THRUM_OK);
    for (size_t at = 0; at < n; at += 4000) {
        thrum_contact_feed(contact, x + at, n - at < 4000 ? n - at : 4000);
        while (thrum_contact_next(contact, n - at <= 4000, &span)) {
            assert_true(span.told && told < WIRES);
            assert_close((double)span.first / RATE, 1.0 + told * each_s, 0.2);
            assert_close((double)span.end / RATE, 1.0 + told * each_s + touch_s, 0.2);
            told++;
        }
    }
    assert_int_equal(told, WIRES);
    thrum_contact_destroy(contact);
    free(x);
}

static void nothing_and_one_sample_are_no_contact(void **state)
{
    (void)state;
    const float one = 0.5f;
    struct thrum_contact_span spans[2];
    assert_int_equal(spans_in(&one, 0, 1, spans, 2), 0);
    assert_int_equal(spans_in(&one, 1, 1, spans, 2), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(contacts_are_told_within_a_tenth_of_a_second),
        cmocka_unit_test(without_hum_nothing_is_told),
        cmocka_unit_test(short_drops_are_bridged_and_bumps_left_out),
        cmocka_unit_test(the_present_contact_and_its_beginning_are_known),
        cmocka_unit_test(blocks_of_any_size_give_the_same_contacts),
        cmocka_unit_test(a_wire_with_little_hum_is_one_contact),
        cmocka_unit_test(nothing_and_one_sample_are_no_contact),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
