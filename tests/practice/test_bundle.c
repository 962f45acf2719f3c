/* The physics under the practice bundle: probe, pack, capacitances, network.
   "Finite differences" below: thirty wires of 18 AWG, 1.85 mm apart, permittivity 3.5, in an earthed 40 mm
   box, solved on a grid by an outside program; all values computed, from formulas held from memory. */
#include <stdlib.h>
#include <string.h>

#include "check.h"
#include "practice/copper.h"
#include "practice/network.h"
#include "practice/pack.h"
#include "practice/probe.h"
#include "signals.h"
#include "thrum/units.h"

enum { WIRES = 30 };

struct fixture {
    struct pack pack;
    double c[WIRES * WIRES];
    double scratch[NETWORK_SCRATCH(WIRES)];
    struct network net;
    struct phasor v[WIRES];
    int rim; /* the rim wire with two adjacent ones */
};

static int neighbours(const struct pack *pack, int i)
{
    int count = 0;
    for (int j = 0; j < pack->n; j++)
        count += j != i && pack_distance(pack, i, j) < 1.1;
    return count;
}

static void lay(struct fixture *f, const struct pack_coupling *coupling)
{
    memset(f, 0, sizeof *f);
    pack_lay(&f->pack, WIRES);
    pack_capacitance(&f->pack, coupling, f->c);
    f->net = (struct network){.n = WIRES, .c = f->c, .length_m = 100.0};
    for (int i = 0; i < WIRES; i++)
        if (neighbours(&f->pack, i) == 2)
            f->rim = i;
}

static void drive(struct fixture *f, int driven, bool others_tied)
{
    for (int i = 0; i < WIRES; i++) {
        f->net.fixed[i] = others_tied || i == driven;
        f->net.volts[i] = i == driven ? 1.0 : 0.0;
    }
}

static void solve(struct fixture *f)
{
    network_solve(&f->net, 1000.0, f->scratch, f->v);
}

static double volts(struct phasor v)
{
    return sqrt(v.re * v.re + v.im * v.im);
}

static double decibels(double ratio)
{
    return 20.0 * log10(ratio);
}

/* Mean over the wires adjacent to the driven one. */
static double mean_adjacent(const struct fixture *f, int driven)
{
    double sum = 0.0;
    for (int i = 0; i < WIRES; i++)
        if (i != driven && pack_distance(&f->pack, i, driven) < 1.1)
            sum += volts(f->v[i]);
    return sum / neighbours(&f->pack, driven);
}

static double least(const struct fixture *f)
{
    double low = 1.0;
    for (int i = 0; i < WIRES; i++)
        low = fmin(low, volts(f->v[i]));
    return low;
}

static int one_adjacent(const struct fixture *f, int driven)
{
    for (int i = 0; i < WIRES; i++)
        if (i != driven && pack_distance(&f->pack, i, driven) < 1.1)
            return i;
    return -1;
}

static void field_of_one_wire_falls_by_6_dB_per_doubling(void **state)
{
    (void)state;
    /* computed: B = mu0 I/(2 pi r), 1 mA, in nT; formula from memory */
    const double mm[] = {5, 10, 20, 50}, nT[] = {40, 20, 10, 4};
    for (int i = 0; i < 4; i++)
        assert_close(2e-7 * 1e-3 * 1e9 * probe_line_field(mm[i] * 1e-3), nT[i], 1e-9);
}

static void field_of_go_and_return_falls_by_12_dB_per_doubling(void **state)
{
    (void)state;
    /* computed: mu0 I/(2 pi) (1/(r - s/2) - 1/(r + s/2)), 1 mA, s = 2.4 mm, nT; half the last digit */
    const double mm[] = {5, 10, 20, 50}, nT[] = {20.4, 4.87, 1.204, 0.1921},
                 half[] = {0.05, 0.005, 5e-4, 5e-5};
    for (int i = 0; i < 4; i++)
        assert_close(2e-7 * 1e-3 * 1e9 * probe_pair_field(mm[i] * 1e-3, 2.4e-3), nT[i], half[i]);
    assert_close(decibels(probe_pair_field(0.5, 2.4e-3) / probe_pair_field(1.0, 2.4e-3)), 12.041, 1e-3);
}

static void probe_hears_the_touched_wire_and_little_of_the_others(void **state)
{
    (void)state;
    assert_close(probe_weight(0.0), 1.0, 0.0);
    /* computed: s/(r (r + s)), s 1.85 mm, at 1.5 and at 30 mm */
    assert_close(probe_weight(1.0), (1.85 / (30.0 * 31.85)) / (1.85 / (1.5 * 3.35)), 1e-12);
    for (double pitches = 1.0; pitches < 12.0; pitches += 0.5)
        assert_between(decibels(probe_weight(pitches) / probe_weight(2.0 * pitches)), 11.7, 12.05);
}

static void pack_of_thirty_has_the_pairs_it_must_have(void **state)
{
    (void)state;
    struct pack pack;
    int adjacent = 0, second = 0, third = 0, rim = 0;
    pack_lay(&pack, WIRES);
    for (int i = 0; i < WIRES; i++) {
        rim += pack.rim[i];
        for (int j = 0; j < i; j++) {
            double d = pack_distance(&pack, i, j);
            adjacent += fabs(d - 1.0) < 1e-9;
            second += fabs(d - sqrt(3.0)) < 1e-9;
            third += fabs(d - 2.0) < 1e-9;
        }
    }
    /* counted in the finite-difference model */
    assert_int_equal(adjacent, 69);
    assert_int_equal(second, 57);
    assert_int_equal(third, 49);
    assert_int_equal(rim, 11);
}

static void pack_of_any_size_has_a_rim_and_no_wire_twice(void **state)
{
    (void)state;
    for (int n = 2; n <= THRUM_PRACTICE_MAX_WIRES; n++) {
        struct pack pack;
        int rim = 0;
        pack_lay(&pack, n);
        assert_int_equal(pack.n, n);
        for (int i = 0; i < n; i++) {
            rim += pack.rim[i];
            assert_true(neighbours(&pack, i) >= 1);
            for (int j = 0; j < i; j++)
                assert_true(pack_distance(&pack, i, j) > 0.99);
        }
        /* a full hexagon of n wires has 2 sqrt(3 n) - 3 wires around it, of a ragged one fewer stick out */
        assert_between(rim, fmin(n, 5.0), fmin(n, 2.0 * sqrt(3.0 * n) - 2.0));
    }
}

static void a_pair_alone_lies_between_one_in_air_and_one_embedded(void **state)
{
    (void)state;
    const double eps0 = 8.854e-12;
    double air = THRUM_PI * eps0 / acosh(1.85 / 1.0237); /* pi eps0 eps_r/acosh(D/d), formula from memory */
    assert_close(air * 1e12, 23.22, 0.005);              /* computed */
    assert_close(3.5 * air * 1e12, 81.3, 0.05);          /* computed */
    assert_between(pack_coupling_default().adjacent[0], air, 3.5 * air);
    assert_close(pack_coupling_default().adjacent[0] * 1e12, 48.2,
                 0.05); /* finite differences, coated pair */
}

/* All at one voltage, the pack is one thick conductor, as thick as a round one of the same area. By the walls of the 40 mm
   box around it, it has more to earth than over one wall alone, 2 pi eps0/acosh(h/a), and less than inside the largest
   round pipe that fits the box, 2 pi eps0/ln(h/a), h = 20 mm (formulas from memory). */
static void the_pack_as_one_conductor_lies_between_plane_and_pipe(void **state)
{
    (void)state;
    struct fixture f;
    struct pack_coupling coupling = pack_coupling_default();
    double to_earth = 0.0, h = 20e-3, a = PACK_PITCH_M * sqrt(WIRES * sqrt(0.75) / THRUM_PI);
    lay(&f, &coupling);
    for (int i = 0; i < WIRES * WIRES; i++)
        to_earth += f.c[i];
    assert_between(to_earth, 2.0 * THRUM_PI * 8.854e-12 / acosh(h / a),
                   2.0 * THRUM_PI * 8.854e-12 / log(h / a));
    assert_close(1e12 * to_earth, 11 * 3.3, 0.05); /* finite differences: 11 rim wires of 3.3 pF/m */
}

static void copper_has_the_printed_diameters_and_resistances(void **state)
{
    (void)state;
    /* NBS Circular 31 (1914), NBS Handbook 100 (1966), ASTM B258-18 (read): 0.005 in x 92^((36 - n)/39), 0000 = 0.46 in,
       annealed copper 1/58 ohm mm2/m at 20 C. ohm/kft at 20 C as a university's table prints them (read), at 75 C from NEC
       ch. 9 Table 8, solid (read); half the last digit. */
    const struct {
        int gauge;
        double mil, kft_20, half_20, kft_75;
    } rows[] = {{12, 80.81, 1.588, 5e-4, 1.93},
                {14, 64.08, 2.525, 5e-4, 3.07},
                {16, 50.82, 4.016, 5e-4, 4.89},
                {18, 40.30, 6.385, 5e-4, 7.77},
                {20, 31.96, 10.15, 5e-3, 0.0}};
    for (int i = 0; i < 5; i++) {
        assert_close(copper_diameter_m(rows[i].gauge) / 25.4e-6, rows[i].mil, 0.005);
        assert_close(304.8 * copper_ohm_per_m(rows[i].gauge, 20.0), rows[i].kft_20, rows[i].half_20);
        if (rows[i].kft_75 > 0.0) /* two digits of 0.01; its 16 AWG is 0.0072 above the formula */
            assert_close(304.8 * copper_ohm_per_m(rows[i].gauge, 75.0), rows[i].kft_75, 0.0075);
    }
    assert_close(copper_diameter_m(36) / 25.4e-6, 5.0, 1e-12);
    assert_close(copper_diameter_m(-3) / 25.4e-6, 460.0, 1e-9);
    /* computed: 10 ohm of loop are 238.7 m of 18 AWG out and back at 20 C, 259.0 at 0, 221.3 at 40 */
    const double celsius[] = {20.0, 0.0, 40.0}, metres[] = {238.7, 259.0, 221.3};
    for (int i = 0; i < 3; i++)
        assert_close(10.0 / (2.0 * copper_ohm_per_m(18, celsius[i])), metres[i], 0.05);
}

struct spread {
    double mean, low, high;
    int n;
};

/* Of the partial capacitances, in pF/m, of all pairs that far apart. */
static struct spread partial_capacitances(const struct fixture *f, double pitches)
{
    struct spread s = {0.0, 1e9, 0.0, 0};
    for (int i = 0; i < WIRES; i++)
        for (int j = 0; j < i; j++)
            if (fabs(pack_distance(&f->pack, i, j) - pitches) < 0.01) {
                double c = -1e12 * f->c[i * WIRES + j];
                s.mean += c;
                s.low = fmin(s.low, c);
                s.high = fmax(s.high, c);
                s.n++;
            }
    s.mean /= s.n;
    return s;
}

static void capacitances_have_the_means_and_extremes_of_the_finite_differences(void **state)
{
    (void)state;
    struct fixture f;
    struct pack_coupling coupling = pack_coupling_default();
    lay(&f, &coupling);
    struct spread adjacent = partial_capacitances(&f, 1.0), second = partial_capacitances(&f, sqrt(3.0));
    /* finite differences: mean to half the last digit; the extremes are one pair each, the model has one
       value for all pairs of a kind: 1.5 pF/m, and 0.05 for the second */
    assert_close(adjacent.mean, 26.7, 0.05);
    assert_close(adjacent.low, 23.7, 1.5);
    assert_close(adjacent.high, 33.3, 1.5);
    assert_close(second.mean, 0.73, 0.005);
    assert_close(second.low, 0.23, 0.05);
    assert_close(second.high, 4.8, 0.05);
    assert_close(partial_capacitances(&f, 2.0).mean, 0.04, 0.005);
    assert_close(f.c[0] * 1e12, 151.0, 1.0); /* self capacitance of the centre wire */
}

static void short_model_gives_its_four_printed_voltages(void **state)
{
    (void)state;
    struct fixture f;
    struct pack_coupling coupling = {.adjacent = {26.7e-12, 26.7e-12, 26.7e-12}, .earth = 3.3e-12};
    lay(&f, &coupling);
    const double floating[] = {0.835, 0.695}, lone[] = {0.167, 0.200}; /* computed; centre, rim */
    for (int k = 0; k < 2; k++) {
        int driven = k == 0 ? 0 : f.rim;
        drive(&f, driven, false);
        solve(&f);
        /* the six around the centre differ by 0.012, the pack is not quite round: their mean within 0.001 */
        assert_close(mean_adjacent(&f, driven), floating[k], 0.001);
        drive(&f, driven, true);
        int lifted = one_adjacent(&f, driven);
        f.net.fixed[lifted] = false;
        solve(&f);
        assert_close(volts(f.v[lifted]), lone[k], 0.0005);
    }
}

static void free_wires_lie_where_the_finite_differences_put_them(void **state)
{
    (void)state;
    struct fixture f;
    struct pack_coupling coupling = pack_coupling_default();
    lay(&f, &coupling);
    /* finite differences: adjacent, farthest. The model has one capacitance per kind of pair: 0.4 dB. */
    const double adjacent[] = {0.81, 0.74}, farthest[] = {0.70, 0.50};
    for (int k = 0; k < 2; k++) {
        int driven = k == 0 ? 0 : f.rim;
        drive(&f, driven, false);
        solve(&f);
        assert_close(decibels(mean_adjacent(&f, driven)), decibels(adjacent[k]), 0.4);
        assert_close(decibels(least(&f)), decibels(farthest[k]), 0.4);
    }
}

static void one_free_wire_among_tied_ones_lies_where_the_finite_differences_put_it(void **state)
{
    (void)state;
    struct fixture f;
    struct pack_coupling coupling = pack_coupling_default();
    lay(&f, &coupling);
    const double lone[] = {
        0.166, 0.220}; /* finite differences: 0.164 to 0.168 and 0.219 to 0.221; 0.6 dB as above */
    for (int k = 0; k < 2; k++) {
        int driven = k == 0 ? 0 : f.rim;
        drive(&f, driven, true);
        int lifted = one_adjacent(&f, driven);
        f.net.fixed[lifted] = false;
        solve(&f);
        assert_close(decibels(volts(f.v[lifted])), decibels(lone[k]), 0.6);
    }
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Median over draws of the mean voltage of the adjacent wires that stayed free. */
static double median_with_tied(struct fixture *f, int driven, int tied, struct rng *rng)
{
    enum { DRAWS = 400 };
    static double value[DRAWS * 6];
    int n = 0;
    for (int draw = 0; draw < DRAWS; draw++) {
        drive(f, driven, false);
        for (int left = tied; left > 0;) {
            int i = (int)(rng_uniform(rng) * WIRES);
            if (!f->net.fixed[i]) {
                f->net.fixed[i] = true;
                left--;
            }
        }
        solve(f);
        for (int i = 0; i < WIRES; i++)
            if (!f->net.fixed[i] && pack_distance(&f->pack, i, driven) < 1.1)
                value[n++] = volts(f->v[i]);
    }
    qsort(value, (size_t)n, sizeof *value, ascending);
    return value[n / 2];
}

static void tying_wires_brings_the_medians_of_the_finite_differences(void **state)
{
    (void)state;
    struct fixture f;
    struct pack_coupling coupling = pack_coupling_default();
    struct rng rng = rng_seeded(2);
    lay(&f, &coupling);
    const int tied[] = {3, 7, 15};
    const double centre[] = {-7.4, -10.4, -13.3},
                 rim[] = {-6.9, -9.2, -11.3}; /* medians, dB; model: 0.8 dB */
    for (int k = 0; k < 3; k++) {
        assert_close(decibels(median_with_tied(&f, 0, tied[k], &rng)), centre[k], 0.8);
        assert_close(decibels(median_with_tied(&f, f.rim, tied[k], &rng)), rim[k], 0.8);
    }
}

/* Two wires: the first driven, the second with the table's self capacitance and a load. */
static double loaded_neighbour_db(double hz, double ohm)
{
    struct pack pack;
    struct pack_coupling coupling = {.adjacent = {26.7e-12}, .earth = (150.9 - 26.7) * 1e-12};
    double c[4], scratch[NETWORK_SCRATCH(2)];
    struct phasor v[2];
    pack_lay(&pack, 2);
    pack_capacitance(&pack, &coupling, c);
    struct network net = {.n = 2, .c = c, .length_m = 100.0, .fixed = {true}, .volts = {1.0}};
    net.to_common_s[1] = 1.0 / ohm;
    network_solve(&net, hz, scratch, v);
    return decibels(volts(v[1]));
}

static void a_loaded_neighbour_hears_what_the_formula_says(void **state)
{
    (void)state;
    /* computed: abs(j w Cm l Z/(1 + j w Cs l Z)), Cm 26.7, Cs 150.9 pF/m, l 100 m */
    const double ohm[] = {50.0, 1e3, 2e3, 1e6};
    const double at_1k[] = {-61.5, -35.5, -29.6, -15.0}, at_3k[] = {-52.0, -26.3, -21.2, -15.0};
    for (int i = 0; i < 4; i++) {
        assert_close(loaded_neighbour_db(1000.0, ohm[i]), at_1k[i], 0.05);
        assert_close(loaded_neighbour_db(3000.0, ohm[i]), at_3k[i], 0.05);
    }
    assert_close(loaded_neighbour_db(3000.0, 50.0) - loaded_neighbour_db(300.0, 50.0), 20.0, 0.01);
}

/* The equations hold at every free node: the currents into it sum to nothing. */
static void currents_into_every_free_node_cancel(void **state)
{
    (void)state;
    struct fixture f;
    struct pack_coupling coupling = pack_coupling_default();
    lay(&f, &coupling);
    drive(&f, 4, false);
    f.net.fixed[9] = true;
    for (int i = 0; i < WIRES; i += 3)
        f.net.to_common_s[i] = 1.0 / (1000.0 + 37.0 * i);
    network_solve(&f.net, 2000.0, f.scratch, f.v);
    double w = 2.0 * THRUM_PI * 2000.0 * 100.0;
    for (int i = 0; i < WIRES; i++) {
        double re = f.net.to_common_s[i] * f.v[i].re, im = f.net.to_common_s[i] * f.v[i].im;
        for (int j = 0; j < WIRES; j++) {
            re -= w * f.c[i * WIRES + j] * f.v[j].im;
            im += w * f.c[i * WIRES + j] * f.v[j].re;
        }
        if (!f.net.fixed[i]) {
            assert_close(re, 0.0, 1e-17); /* of currents near 1e-4 A */
            assert_close(im, 0.0, 1e-17);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(field_of_one_wire_falls_by_6_dB_per_doubling),
        cmocka_unit_test(field_of_go_and_return_falls_by_12_dB_per_doubling),
        cmocka_unit_test(probe_hears_the_touched_wire_and_little_of_the_others),
        cmocka_unit_test(pack_of_thirty_has_the_pairs_it_must_have),
        cmocka_unit_test(pack_of_any_size_has_a_rim_and_no_wire_twice),
        cmocka_unit_test(a_pair_alone_lies_between_one_in_air_and_one_embedded),
        cmocka_unit_test(the_pack_as_one_conductor_lies_between_plane_and_pipe),
        cmocka_unit_test(copper_has_the_printed_diameters_and_resistances),
        cmocka_unit_test(capacitances_have_the_means_and_extremes_of_the_finite_differences),
        cmocka_unit_test(short_model_gives_its_four_printed_voltages),
        cmocka_unit_test(free_wires_lie_where_the_finite_differences_put_them),
        cmocka_unit_test(one_free_wire_among_tied_ones_lies_where_the_finite_differences_put_it),
        cmocka_unit_test(tying_wires_brings_the_medians_of_the_finite_differences),
        cmocka_unit_test(a_loaded_neighbour_hears_what_the_formula_says),
        cmocka_unit_test(currents_into_every_free_node_cancel),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
