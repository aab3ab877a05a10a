/* Machines made by chance for tests and benchmarks of the round; the same seed makes the same machine. */
#ifndef WITMARK_TESTS_ROUND_MACHINE_H
#define WITMARK_TESTS_ROUND_MACHINE_H

#include "round/round.h"

/* A xorshift generator (Marsaglia 2003): the next value; a number below n. */
uint64_t chance_next(uint64_t *state);
size_t chance(uint64_t *state, size_t n);

/* A small machine with anything in it: up to 4 variables, 5 places, `n_points` points (at most 9), changes with and
 * without a place, times of 0, never-combinations, points that set variables, after-rules (acyclic). It may well have
 * no safe round. */
struct round_problem machine_any(struct arena *a, uint64_t seed, size_t n_points);

/* A machine as real ones are: engine, body, cover, cock, heat; 14 places; `n_points` steps, most of them with a need
 * that leaves variables open, some in chains of a task. It always has a safe round. */
struct round_problem machine_real(struct arena *a, uint64_t seed, size_t n_points);

#endif
