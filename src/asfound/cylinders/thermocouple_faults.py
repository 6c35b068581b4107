"""What an input shows when the thermocouple or its wiring is not what the input takes it for, and the way back.

The voltage at the terminals is that of what is really there; the input reads it by its own type and adds what it takes
for the terminals' temperature. All temperatures in K, floats or arrays; nan outside a type's range. The laws of
homogeneous conductors and intermediate temperatures (common practice) on the reference functions of ITS-90.
"""

from __future__ import annotations

from itertools import permutations

import numpy as np

from asfound.cylinders.thermocouple import BASE_METAL, emf, temperature
from asfound.quantities.typing import Values

PAIRS: tuple[tuple[str, str], ...] = tuple(permutations(BASE_METAL, 2))
"""Wire and input, each a base-metal type: what can be mixed up on an engine."""
COPPER = "copper"
"""Cable that gives no voltage of its own."""


def shown(wire: str, at_input: str, measured: Values, cold_junction: Values) -> Values:
    """Return what an input of type ``at_input`` shows for a thermocouple of type ``wire``. [K]

    Parameters
    ----------
    measured : float or ndarray
        True temperature of the measuring junction. [K]
    cold_junction : float or ndarray
        Temperature of the terminals, which the input knows rightly. [K]
    """
    there = emf(wire, measured) - emf(wire, cold_junction)
    return temperature(at_input, there + emf(at_input, cold_junction))


def true_temperature(wire: str, at_input: str, reading: Values, cold_junction: Values) -> Values:
    """Return the true temperature behind a reading: the way back of `shown`. [K]"""
    there = emf(at_input, reading) - emf(at_input, cold_junction)
    return temperature(wire, there + emf(wire, cold_junction))


def shown_with_wrong_cold_junction(letter: str, measured: Values, cold_junction: Values, believed: Values) -> Values:
    """Return what is shown when the terminals are at ``cold_junction`` and the input believes ``believed``. [K]"""
    return temperature(letter, emf(letter, measured) - emf(letter, cold_junction) + emf(letter, believed))


def true_with_wrong_cold_junction(letter: str, reading: Values, cold_junction: Values, believed: Values) -> Values:
    """Return the true temperature behind such a reading. [K]"""
    return temperature(letter, emf(letter, reading) - emf(letter, believed) + emf(letter, cold_junction))


def shown_reversed(letter: str, measured: Values, cold_junction: Values) -> Values:
    """Return what is shown with the two wires exchanged at the input: it falls as the junction grows hotter. [K]

    nan where it would lie below the type's range, as it does for a hot exhaust: most inputs then report a fault.
    """
    return temperature(letter, 2 * emf(letter, cold_junction) - emf(letter, measured))


def shown_with_extension_reversed(letter: str, measured: Values, head: Values, cold_junction: Values) -> Values:
    """Return what is shown with the extension cable exchanged at both its ends. [K]

    The junction in the connection head at ``head`` is then counted twice the wrong way.
    """
    there = emf(letter, measured) - 2 * emf(letter, head) + 2 * emf(letter, cold_junction)
    return temperature(letter, there)


def shown_with_wrong_extension(
    letter: str, cable: str, measured: Values, head: Values, cold_junction: Values
) -> Values:  # fmt: skip
    """Return what is shown when the cable from the connection head to the input is of another type, or copper. [K]

    Nothing is seen where head and terminals are equally warm; the error grows with the difference between them.
    """
    along = np.zeros_like(head) if cable == COPPER else emf(cable, head) - emf(cable, cold_junction)
    there = emf(letter, measured) - emf(letter, head) + along + emf(letter, cold_junction)
    return temperature(letter, there)


def error_table(measured: float, cold_junction: float) -> dict[tuple[str, str], float]:
    """Return what each wire on each input shows too much at one temperature; nan where it is off the input's range. [K]

    >>> round(error_table(773.15, 273.15)["K", "N"], 1)
    100.8
    """
    return {
        (wire, at_input): float(shown(wire, at_input, measured, cold_junction)) - measured for wire, at_input in PAIRS
    }
