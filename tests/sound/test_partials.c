#include "suite.h"

#include "sound/partials.h"

/* Roots of 1 + cos x cosh x = 0: S. S. Rao, Mechanical Vibrations, 6th ed., table 8.1
 * (https://solver-docs.pages.dev/verification/cantilever_higher_modes.html). */
static void the_roots_of_the_clamped_rod_are_the_published_ones(void **state)
{
    (void)state;
    static const double root[] = {1.8751040687, 4.6940911330, 7.8547574382, 10.995540735};
    for (int n = 1; n <= 4; n++)
        assert_near(partials_clamped_root(n), root[n - 1], 6e-10);
    for (int n = 1; n <= 40; n++) {
        double x = partials_clamped_root(n);
        assert_near(cos(x) + 1 / cosh(x), 0, 1e-13);
    }
}

/* W. T. Thomson, Theory of Vibration with Applications, app. D.3; the fourth by division. */
static void its_partials_stand_as_1_6_3_17_5_34_4(void **state)
{
    (void)state;
    static const double ratio[] = {1, 6.2669, 17.5475, 34.386};
    static const double tolerance[] = {0, 5e-5, 5e-5, 5e-4};
    for (int n = 1; n <= 4; n++)
        assert_near(partials_clamped_ratio(n), ratio[n - 1], tolerance[n - 1]);
}

/* Steel, 1 m, 50 x 50 mm, E = 200 GPa, rho = 7850 kg/m3: the same verification case as the roots. */
static void a_steel_bar_sounds_where_the_verification_case_says(void **state)
{
    (void)state;
    static const double hz[] = {40.77, 255.5, 715.39, 1402};
    static const double tolerance[] = {0.05, 0.05, 0.05, 0.5};
    struct rod bar = {200e9, 7850, 1, rod_gyration_flat(0.050)};
    for (int n = 1; n <= 4; n++)
        assert_near(rod_frequency_hz(&bar, n), hz[n - 1], tolerance[n - 1]);
}

/* Melody rods of 39 to 56 cm sound from 440 down to 220 Hz (Espe, Lin, Hartmann, ASA 1995, 4pMU7).
 * Round steel of 5.5 mm does so with its third partial. */
static void rods_of_39_to_56_cm_span_the_octave_below_a4(void **state)
{
    (void)state;
    struct rod rod = {200e9, 7850, 0.39, rod_gyration_round(0.0055)};
    double high = rod_frequency_hz(&rod, 3);
    assert_near(high, 440, 10);
    rod.length_m = 0.56;
    assert_near(rod_frequency_hz(&rod, 3), 220, 8);
    assert_near(high / rod_frequency_hz(&rod, 3), 2.06, 0.005);
    assert_near(rod_length_for(&rod, 3, rod_frequency_hz(&rod, 3)), 0.56, 1e-12);
}

/* The partials of a tube that are heard stand nearly as 2 : 3 : 4 (HyperPhysics, after Rossing). */
static void a_free_tube_has_partials_nearly_as_2_3_4(void **state)
{
    (void)state;
    double unit = partials_free_ratio(4) / 2;
    assert_near(partials_free_ratio(5) / unit, 3, 0.02);
    assert_near(partials_free_ratio(6) / unit, 4, 0.20);
    for (int n = 1; n <= 40; n++)
        assert_near(cos(partials_free_root(n)) - 1 / cosh(partials_free_root(n)), 0, 1e-13);
}

/* Shapes of a self-adjoint equation are orthogonal; ours have mean square 1, end at 2, start at 0. */
static void shapes_are_orthogonal_and_end_at_two(void **state)
{
    (void)state;
    for (int m = 1; m <= 12; m++) {
        assert_near(partials_clamped_shape(m, 0), 0, 1e-12);
        assert_near(fabs(partials_clamped_shape(m, 1)), 2, 1e-6);
        for (int n = m; n <= 12; n++) {
            double sum = 0;
            int steps = 2000;
            for (int i = 0; i < steps; i++) {
                double at = (i + 0.5) / steps;
                sum += partials_clamped_shape(m, at) * partials_clamped_shape(n, at) / steps;
            }
            assert_near(sum, m == n, 1e-3);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_roots_of_the_clamped_rod_are_the_published_ones),
        cmocka_unit_test(its_partials_stand_as_1_6_3_17_5_34_4),
        cmocka_unit_test(a_steel_bar_sounds_where_the_verification_case_says),
        cmocka_unit_test(rods_of_39_to_56_cm_span_the_octave_below_a4),
        cmocka_unit_test(a_free_tube_has_partials_nearly_as_2_3_4),
        cmocka_unit_test(shapes_are_orthogonal_and_end_at_two),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
