/* Seasons of soot from the finer model (tests/core/exhaust_world.h), by three ways of doing: waiting for the demand, a
 * rule of thumb, the plan's advice. usage: exhaust_bench [SEASONS] */
#include "exhaust_world.h"

#include <stdio.h>
#include <stdlib.h>

int main(int argc, char **argv)
{
    static const char *const names[] = {"wait for the demand", "burn at 75 % when permitted", "follow the advice"};
    int seasons = argc > 1 ? atoi(argv[1]) : 200;
    printf("%d seasons of 26 weeks\n%-28s %10s %10s %8s %8s %8s %8s %10s\n", seasons, "per season", "surprises",
           "forbidden", "no power", "planned", "forced", "own", "lost, h");
    struct world_result last = {0};
    for (int policy = 0; policy < WORLD_POLICIES; policy++) {
        struct world_result sum = {0};
        for (int i = 0; i < seasons; i++) {
            struct world_result one = world_season((unsigned)i + 1, (enum world_policy)policy);
            world_add(&sum, &one);
        }
        double n = seasons;
        printf("%-28s %10.2f %10.2f %8.2f %8.2f %8.2f %8.2f %10.1f\n", names[policy], sum.surprises / n,
               sum.surprises_forbidden / n, sum.derated / n, sum.planned / n, sum.forced / n, sum.own / n,
               sum.lost_min / n / 60);
        last = sum;
    }
    printf("80 %% band of the load at the end of a day without burning: held in %.1f %% of %d days\n",
           100.0 * last.held / last.bands, last.bands);
    return 0;
}
