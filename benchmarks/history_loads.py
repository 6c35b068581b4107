"""Loads that are held down: how often one is told where there is none, and how many that were planted are found.

    python -m benchmarks.history_loads [SEED] [NUMBER]

Every series is simulated here with a fresh seed: two years of ten minutes, eight kinds of load. Ends with 1 if
more than one log in a hundred is told to be held down where nothing was planted, or if of the ceilings that lie 5 % or
more below what was carried, for 60 days or more, fewer than four in five are found with their day within the interval.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable

import numpy as np
from scipy.signal import lfilter

from asfound.history.load_held import held
from asfound.quantities.typing import Array

STEP, DAYS = 600.0, 730
A_DAY = round(86_400 / STEP)
N = DAYS * A_DAY
SOUND, FOUND = 0.01, 0.80
Make = Callable[[np.random.Generator], Array]


def wander(random: np.random.Generator, days: float, size: float) -> Array:
    """Return noise that forgets itself within so many days. (N,)"""
    keep = math.exp(-1.0 / (days * A_DAY))
    noise = random.standard_normal(N) * size * math.sqrt(1.0 - keep**2)
    noise[0] = random.standard_normal() * size
    return np.asarray(lfilter([1.0], [1.0, -keep], noise))


def season(random: np.random.Generator, size: float) -> Array:
    return np.asarray(size * np.cos(2.0 * np.pi * (np.arange(N) / A_DAY / 365.25 + random.random())))


def demand(random: np.random.Generator) -> Array:
    """Return what a pipeline asks: wandering within days."""
    return 0.82 + wander(random, 4.0, 0.03) + wander(random, 0.2, 0.012) + season(random, 0.02)


def weeks(random: np.random.Generator) -> Array:
    """Return nominations: another load each week."""
    plan = np.repeat(random.choice([0.0, 0.0, -0.05, -0.10], size=N // (7 * A_DAY) + 1), 7 * A_DAY)[:N]
    return 0.86 + plan + wander(random, 0.3, 0.01)


def set_points(random: np.random.Generator) -> Array:
    """Return a base load whose set point somebody moves every few weeks."""
    out, at = np.empty(N), 0
    while at < N:
        long = round(random.exponential(20.0) * A_DAY) + A_DAY
        out[at : at + long] = random.choice([0.80, 0.85, 0.90, 1.0])
        at += long
    return out


def heat(random: np.random.Generator) -> Array:
    """Return a load that goes with the season."""
    return 0.78 + season(random, 0.10) + wander(random, 3.0, 0.025)


def field(random: np.random.Generator) -> Array:
    """Return what a field gives that slowly has less."""
    return 0.92 - 0.14 * np.arange(N) / N + wander(random, 10.0, 0.03)


def days(random: np.random.Generator) -> Array:
    """Return an island: by the hour and by the day of the week."""
    hour = np.arange(N) / A_DAY * 24.0
    work = ((hour // 24) % 7 < 5).astype(float)
    return 0.66 + 0.09 * np.sin(2 * np.pi * (hour - 9) / 24) + 0.08 * work + wander(random, 2.0, 0.03)


def full(random: np.random.Generator) -> Array:
    """Return an engine at its limit of power most of the time, from the first day on."""
    return np.minimum(0.98 + wander(random, 6.0, 0.05), 1.0)


def slow(random: np.random.Generator) -> Array:
    """Return a load that keeps for weeks what it has."""
    return 0.80 + wander(random, 30.0, 0.05) + wander(random, 0.3, 0.01)


KINDS: dict[str, Make] = {one.__name__: one for one in (demand, weeks, set_points, heat, field, days, full, slow)}


def log(random: np.random.Generator, load: Array) -> Array:
    """Return what is logged: stops, a meter's noise of 0.3 to 0.8 %, limits of what an engine can do."""
    shown = np.clip(load, 0.3, 1.08) * (1.0 + random.uniform(0.003, 0.008) * random.standard_normal(N))
    for begin in np.cumsum(random.exponential(40.0, size=40) * A_DAY).astype(int):
        shown[begin : begin + round(random.uniform(0.1, 2.0) * A_DAY)] = np.nan
    return shown


def main(words: list[str], tell: Callable[[str], None] = print) -> int:
    seed, number = (int(words[0]) if words else 71), (int(words[1]) if len(words) > 1 else 40)
    time: Array = STEP * np.arange(N, dtype=np.float64)
    tell("| load | told where nothing was planted | planted, 5 % or more for 60 days or more | found | other told |")
    tell("|---|---|---|---|---|")
    false = planted = right = 0
    for place, (kind, make) in enumerate(KINDS.items()):
        random = np.random.default_rng([seed, place])
        wrong = sum(bool(held(time, log(random, make(random)))) for _ in range(number))
        count = good = other = 0
        for _ in range(number):
            load = make(random)
            begin = round(random.uniform(0.3, 0.75) * DAYS) * A_DAY
            end = min(begin + round(random.uniform(60.0, 300.0) * A_DAY), N)
            usual = float(np.quantile(load[:begin], 0.8))
            ceiling = usual - random.uniform(0.05, 0.15)
            if np.mean(load[begin:end] > ceiling) < 0.5:
                continue  # hardly anything was asked that the ceiling would have held down
            capped = load.copy()
            capped[begin:end] = np.minimum(capped[begin:end], ceiling)
            told = held(time, log(random, capped))
            hits = [one for one in told if one.earliest - 86_400 <= time[begin] <= one.latest + 86_400]
            hits = [one for one in hits if abs(one.level - ceiling) <= 0.01]
            count, good, other = count + 1, good + bool(hits), other + len(told) - len(hits)
        tell(f"| {kind} | {wrong} of {number} | {count} | {good} | {other} |")
        false, planted, right = false + wrong, planted + count, right + good
    logs = number * len(KINDS)
    tell(f"\nTold without one: {false} of {logs} ({false / logs:.1%}). Found: {right} of {planted} "
         f"({right / max(planted, 1):.0%}).")  # fmt: skip
    return int(false > SOUND * logs or right < FOUND * planted)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
