/* Whether this clang can make WebAssembly with a C library: compiled when the build is set up, never run. */
#include <math.h>
#include <stdlib.h>

#ifdef __wasm__
#define EXPORT(name) __attribute__((export_name(#name)))
#else /* a checker of the sources reads this file too */
#define EXPORT(name)
#endif

EXPORT(attempt) double attempt(double x);

double attempt(double x)
{
    void *place = malloc(8);
    free(place);
    return lgamma(x);
}
