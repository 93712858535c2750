/* setjmp.h - suites include it for cmocka's sake; the shim of cmocka needs none. */
