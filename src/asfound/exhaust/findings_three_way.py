"""Findings of a three-way catalyst: which side of its window it runs on, what cannot be behind it, sulfur in the gas.

What the side does to NOx and carbon monoxide is textbook knowledge (Heywood ch. 11, from memory); the bands are
engineering judgement, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from asfound.exhaust.catalyst_case import Seen, chance_above
from asfound.quantities.case_numbers import Number, latest_at, said
from asfound.quantities.findings import Case
from asfound.quantities.limits import SURE
from asfound.quantities.words import Finding, Severity

WORKS, FAILS = 0.90, 0.75
"""Conversion from which on a pollutant is well taken out, and below which it is not. [1]"""
LEFT = 0.0025
"""Oxygen behind a three-way catalyst beside which it does not take NOx out. [mol/mol]"""
SOUR = 50e-6
"""Hydrogen sulfide in the gas from which on a three-way catalyst is thought of. [mol/mol]"""
PAPERS = "The catalyst's own papers come first."


def signs(case: Case, shows: Seen) -> Iterator[Finding]:
    """Yield what speaks of the window, the sample behind it and the gas; nothing for another kind of catalyst."""
    if shows.kind == "three_way":
        yield from _side(case, shows)
        yield from _oxygen_behind(case, shows)


def of_the_gas(case: Case, shows: Seen) -> Iterator[Finding]:
    """Yield what the sulfur of the gas does to a three-way catalyst; no sign of trouble by itself."""
    sulfide = latest_at(case.worked, "fuel", "fuel_hydrogen_sulfide")
    if shows.kind != "three_way" or sulfide is None or not sulfide.value > SOUR:
        return
    yield _finding(
        shows, "EX-54", "soon",
        f"The gas brings sulfur to the three-way catalyst: {said(case, sulfide)} hydrogen sulfide. It covers the "
        "elements and is given off again as hydrogen sulfide where the mixture is rich",
        "Ask its papers how much sulfur it bears; have the gas treated; watch the conversion, the oil's acid number "
        "and what is of copper. A smell of rotten eggs at the stack: stay out of the plume, detector on.",
        (sulfide,), ("h2s",),
    )  # fmt: skip


def _side(case: Case, shows: Seen) -> Iterator[Finding]:
    nox, co = shows.conversions.get("nox"), shows.conversions.get("co")
    if nox is None or co is None:
        return
    if _surely(case, nox, WORKS, above=True) and _surely(case, co, FAILS, above=False):
        yield _finding(
            shows, "EX-52", "soon",
            f"The three-way catalyst takes NOx out and CO not: NOx {said(case, nox)}, CO {said(case, co)}: it runs on "
            "the rich side of its window, where it makes ammonia too",
            "With the inlet in its window, move the set point leaner in steps of lambda of 0.002 to 0.005, reading "
            "behind it after each, until CO falls and NOx just stays low. Is the sensor aged, the screw of the mixer "
            "or the fuel pressure at its end? Then that first. More CO than meant: mind the room.",
            (nox, co), ("co",),
        )  # fmt: skip
    elif _surely(case, co, WORKS, above=True) and _surely(case, nox, FAILS, above=False):
        yield _finding(
            shows, "EX-55", "soon",
            f"The three-way catalyst takes CO out and NOx not: CO {said(case, co)}, NOx {said(case, nox)}: it runs on "
            "the lean side of its window",
            "Look for air drawn in before the sensor and for misfire first: both make the sensor see oxygen; then move "
            "the set point richer in steps of lambda of 0.002 to 0.005, reading behind it after each.",
            (co, nox), (),
        )  # fmt: skip


def _oxygen_behind(case: Case, shows: Seen) -> Iterator[Finding]:
    after, nox = shows.oxygen_after, shows.conversions.get("nox")
    if after is None or nox is None:
        return
    if chance_above(case.worked, after, LEFT) >= SURE and _surely(case, nox, WORKS, above=True):
        yield _finding(
            shows, "EX-53", "clash",
            f"Behind the three-way catalyst {said(case, after)} oxygen and hardly any NOx do not go together: with so "
            "much oxygen left it takes no NOx out",
            "Give zero gas at the tip of the probe, through all the line: the cell's zero, or air at a joint. Then "
            "read again; mixture, and everything at reference oxygen, hang on it.",
            (after, nox), ("calgas",),
        )  # fmt: skip


def _surely(case: Case, number: Number, limit: float, *, above: bool) -> bool:
    chance = chance_above(case.worked, number, limit)
    return chance >= SURE if above else chance <= 1.0 - SURE


def _finding(
    shows: Seen, code: str, severity: Severity, says: str, next_step: str, because: tuple[Number, ...],
    cautions: tuple[str, ...],
) -> Finding:  # fmt: skip
    return Finding(
        code=code, subject="exhaust", says=says, severity=severity, next_step=f"{next_step} {PAPERS}",
        because=tuple(one.key for one in because), cautions=("hot", "catheat", *cautions), state=shows.state,
    )  # fmt: skip
