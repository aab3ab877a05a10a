"""The search for a reserve's quantiles, vectorised in SciPy, against ours: same numbers in, seconds and agreement out.

usage: reserve_scipy.py RESERVE_BENCH [ROWS]

RESERVE_BENCH --rows ROWS writes lines `ratio power C p kappa` and, last, `seconds S` of its own search on one core. SciPy
searches the same kappa twice: by halving, which cannot fail, and by the secant on the normal deviate that ours uses.
"""
import subprocess
import sys
import time

import numpy as np
from scipy import special


def tails(u, ratio, power, c):
    """P and its complement of Gamma(kappa)/Gamma(C) <= ratio kappa^-power, kappa = exp(u)."""
    r = ratio * np.exp(-power * u)
    kappa = np.exp(u)
    return special.betainc(kappa, c, r / (1 + r)), special.betainc(c, kappa, 1 / (1 + r))


def deviate(u, ratio, power, c):
    low, high = tails(u, ratio, power, c)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(low < 0.5, -special.ndtri(low), special.ndtri(high))


def by_halving(ratio, power, c, p):
    low, high = np.full_like(ratio, -60.0), np.full_like(ratio, 60.0)
    for _ in range(64):
        middle = (low + high) / 2
        over = tails(middle, ratio, power, c)[1] > p
        high = np.where(over, middle, high)
        low = np.where(over, low, middle)
    return np.exp((low + high) / 2)


def by_secant(ratio, power, c, p):
    """Each row stops when its own step is small; the rows still moving are gathered anew each time."""
    z = special.ndtri(p)
    u = np.log(ratio * c) / (1 + power)
    slope = np.full_like(u, 0.5)
    low, high = np.full_like(u, -60.0), np.full_like(u, 60.0)
    before_u, before = np.zeros_like(u), np.zeros_like(u)
    rows = np.arange(len(u))
    for turn in range(60):
        at = u[rows]
        off = deviate(at, ratio[rows], power[rows], c[rows]) - z[rows]
        off = np.where(np.isfinite(off), off, np.where(off > 0, 8.0, -8.0))
        high[rows] = np.where(off > 0, at, high[rows])
        low[rows] = np.where(off > 0, low[rows], at)
        if turn:
            with np.errstate(divide="ignore", invalid="ignore"):
                measured = (off - before[rows]) / (at - before_u[rows])
            slope[rows] = np.where(measured > 1e-6, measured, slope[rows])
        before_u[rows], before[rows] = at, off
        step = at - off / slope[rows]
        inside = (step > low[rows]) & (step < high[rows])
        step = np.where(inside, step, (low[rows] + high[rows]) / 2)
        u[rows] = step
        rows = rows[np.abs(step - at) >= 1e-11 * (1 + np.abs(at))]
        if not len(rows):
            break
    return np.exp(u)


def main():
    rows = sys.argv[2] if len(sys.argv) > 2 else "300000"
    lines = subprocess.run([sys.argv[1], "--rows", rows], capture_output=True, text=True, check=True).stdout.splitlines()
    ours = float(lines.pop().split()[1])
    ratio, power, c, p, kappa = (np.ascontiguousarray(column) for column in np.loadtxt(lines).T)
    print(f"{len(ratio)} quantiles; ours {ours:.3f} s on one core, {ours / len(ratio) * 1e6:.2f} us each")
    for name, search in (("halving", by_halving), ("secant", by_secant)):
        start = time.perf_counter()
        theirs = search(ratio, power, c, p)
        seconds = time.perf_counter() - start
        apart = np.max(np.abs(theirs / kappa - 1))
        print(f"SciPy {name:8} {seconds:8.3f} s, {seconds / ours:6.1f} times ours; largest difference {apart:.1e} of kappa")


main()
