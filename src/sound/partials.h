/* partials.h - where the partials of bars lie, from the equation of the bending bar.
 *
 * A thin bar bending under its own stiffness obeys E I y'''' = -rho A y_tt.  Solutions of the form
 * y(x) e^(i w t) exist only for bL = x_n, where
 *     clamped at one end, free at the other (a chime rod):  1 + cos x cosh x = 0
 *     free at both ends (a hung tube):                      1 - cos x cosh x = 0
 * and then  f_n = x_n^2 / (2 pi L^2) * k * sqrt(E / rho),  k the radius of gyration of the section:
 * d/4 for a round rod of diameter d, h/sqrt(12) for a flat one of thickness h.
 * (S. S. Rao, Mechanical Vibrations, 6th ed., table 8.1; W. T. Thomson, Theory of Vibration with
 * Applications, app. D.3.)
 *
 * The rods of real clocks are necked at the clamp, which makes the lower modes slower than this
 * and so "stretches" the series (D. Espe, J.-Y. Lin, W. M. Hartmann, Clock chimes: their spectra
 * and their pitches, ASA 130th meeting, 1995, 4pMU7): voices carry a stretch for that.  Where it
 * stops working: bars thick against the distance between nodes (shear), and coiled gongs.
 */
#ifndef LETOFF_SOUND_PARTIALS_H
#define LETOFF_SOUND_PARTIALS_H

/* Root n = 1, 2, 3 ... (to 40) of either equation, by Newton's method, to about 1e-14. */
double partials_clamped_root(int n);
double partials_free_root(int n);

/* Frequency of mode n over that of mode 1: 1, 6.267, 17.55, 34.39 ... and 1, 2.757, 5.404 ... */
double partials_clamped_ratio(int n);
double partials_free_ratio(int n);

/* How far mode n of the clamped rod moves at `at` (0 = clamp, 1 = free end) of its length, with
 * the mean square over the rod 1; the free end moves by 2.  A hammer wakes a mode by as much. */
double partials_clamped_shape(int n, double at);

/* What a rod is made of and how big it is. */
struct rod {
    double young_pa, density_kg_m3;
    double length_m, gyration_m;
};
double rod_gyration_round(double diameter_m);
double rod_gyration_flat(double thickness_m);
double rod_frequency_hz(const struct rod *rod, int mode);
/* The length (m) at which `mode` sounds at `hz`; the rod's own length is not looked at. */
double rod_length_for(const struct rod *rod, int mode, double hz);

#endif
