/* Whether this clang can make WebAssembly with a C library: compiled when the build is set up, never run. */
#include <math.h>
#include <stdlib.h>

__attribute__((export_name("attempt"))) double attempt(double x);

double attempt(double x)
{
    void *place = malloc(8);
    free(place);
    return lgamma(x);
}
