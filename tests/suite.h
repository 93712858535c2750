/* suite.h - what every cmocka suite includes first. */
#ifndef LETOFF_SUITE_H
#define LETOFF_SUITE_H

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <cmocka.h>

#define COUNT_OF(array) (sizeof(array) / sizeof((array)[0]))

/* Two reals are equal within a tolerance (cmocka's own compares in single precision). */
#define assert_near(got, want, tolerance)                                                          \
    do {                                                                                           \
        double got_ = (got), want_ = (want);                                                       \
        if (!(fabs(got_ - want_) <= (tolerance)))                                                  \
            fail_msg("%s is %.10g, expected %.10g within %g", #got, got_, want_,                   \
                     (double)(tolerance));                                                         \
    } while (0)

#endif
