"""A year of hourly thermocouple voltages of nine cylinders, in one call each, against plain Python.

The voltage at the terminals and their temperature become the temperature of the junction; what a type N input shows
for a type K wire becomes the true temperature; the resistance of a Pt100 becomes its temperature. All at once by the
room's functions; by the same reference functions in plain Python with `math` alone (cold junction, the standard's
inverse polynomial, Newton's steps), one value after the other; and in a loop that calls the room's functions. Answers
are compared to 1e-6 K before the race. Plain Python and the loop take a part of the year; times are per value, sides
take turns, processor time, median. Targets: 100 times plain Python for each of the two thermocouple sums, 100 times
the loop for each; a Pt100 above 0 °C is one square root, which plain Python does in a third of a microsecond.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable

import numpy as np

from asfound.cylinders.resistance_thermometer import curve, resistance, temperature_of_resistance
from asfound.cylinders.thermocouple import ZERO, emf, measured_temperature
from asfound.cylinders.thermocouple_faults import shown, true_temperature
from asfound.cylinders.thermocouple_reference import Piece, reference
from benchmarks.races import race

VALUES, PLAIN, ALONE, TURNS = 9 * 8_760, 2_000, 60, 7
TARGET_PLAIN, TARGET_LOOP = 100.0, 100.0


def polynomial(coefficients: tuple[float, ...], x: float) -> float:
    found = 0.0
    for one in reversed(coefficients):
        found = found * x + one
    return found


def piece_of(pieces: tuple[Piece, ...], x: float) -> Piece:
    return next(one for one in pieces if one.low <= x <= one.high)


def plain_emf(letter: str, celsius: float) -> float:
    """Return mV of °C."""
    piece = piece_of(reference(letter).emf, celsius)
    found = polynomial(piece.coefficients, celsius)
    if piece.exponential:
        a0, a1, a2 = piece.exponential
        found += a0 * math.exp(a1 * (celsius - a2) ** 2)
    return found


def plain_slope(letter: str, celsius: float) -> float:
    piece = piece_of(reference(letter).emf, celsius)
    found = polynomial(piece.slope, celsius)
    if piece.exponential:
        a0, a1, a2 = piece.exponential
        found += 2 * a0 * a1 * (celsius - a2) * math.exp(a1 * (celsius - a2) ** 2)
    return found


def plain_temperature(letter: str, millivolt: float) -> float:
    """Return °C of mV."""
    found = polynomial(piece_of(reference(letter).inverse, millivolt).coefficients, millivolt)
    for _ in range(2):
        found -= (plain_emf(letter, found) - millivolt) / plain_slope(letter, found)
    return found


def plain_measured(volt: float, cold: float) -> float:
    return plain_temperature("K", volt * 1e3 + plain_emf("K", cold - ZERO)) + ZERO


def plain_true(reading: float, cold: float) -> float:
    there = plain_emf("N", reading - ZERO) - plain_emf("N", cold - ZERO) + plain_emf("K", cold - ZERO)
    return plain_temperature("K", there) + ZERO


def plain_platinum(ohm: float) -> float:
    one = curve("iec_60751")
    return (-one.a + math.sqrt(one.a**2 - 4 * one.b * (1 - ohm / 100))) / (2 * one.b) + ZERO


def main() -> int:
    draw = np.random.default_rng(1)
    hot, cold = draw.uniform(650, 950, VALUES), draw.uniform(290, 320, VALUES)
    volt = np.asarray(emf("K", hot)) - np.asarray(emf("K", cold))
    reading, ohm = np.asarray(shown("K", "N", hot, cold)), np.asarray(resistance(draw.uniform(280, 450, VALUES)))
    sums: dict[str, tuple[Callable[..., object], Callable[..., float], tuple[np.ndarray, ...]]] = {
        "type K from voltage and terminals": (
            lambda v, c: measured_temperature("K", v, c),
            plain_measured,
            (volt, cold),
        ),
        "type K wire on a type N input": (lambda r, c: true_temperature("K", "N", r, c), plain_true, (reading, cold)),
        "Pt100": (temperature_of_resistance, plain_platinum, (ohm,)),
    }
    print(f"| {VALUES:,} values; µs per value | plain Python | function, one by one | in one call | plain over ours |")
    print("|---|---:|---:|---:|---:|")
    missed = False
    for name, (ours, plain, given) in sums.items():
        few = [list(map(float, one[:PLAIN])) for one in given]
        alone = [one[:ALONE] for one in few]
        slow = np.array([plain(*one) for one in zip(*few, strict=True)])
        assert np.abs(np.asarray(ours(*given))[:PLAIN] - slow).max() < 1e-6
        times = race(
            TURNS,
            {
                "plain": (lambda p=plain, f=few: [p(*one) for one in zip(*f, strict=True)], PLAIN),
                "loop": (lambda o=ours, a=alone: [o(*one) for one in zip(*a, strict=True)], ALONE),
                "ours": (lambda o=ours, g=given: o(*g), VALUES),
            },
        )
        over = times["plain"] / times["ours"]
        print(f"| {name} | {times['plain']:.2f} | {times['loop']:.0f} | {times['ours']:.4f} | {over:.0f} |")
        missed |= times["loop"] / times["ours"] < TARGET_LOOP or (len(given) == 2 and over < TARGET_PLAIN)
    return int(missed)


if __name__ == "__main__":
    sys.exit(main())
