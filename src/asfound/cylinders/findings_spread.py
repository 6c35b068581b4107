"""Findings of the spread: odd cylinders, masked sensors, banks apart. What is behind one is judged elsewhere.

Limits in kelvin are common practice without source; the engine's own document or history goes first.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from asfound.cylinders.findings_spread_marks import find_marks
from asfound.cylinders.order_of_visit import in_truth, shows
from asfound.cylinders.patterns import Seen, known, read_pattern
from asfound.cylinders.shown import difference
from asfound.cylinders.spread_of_case import BY_NOTHING, CHANGE_LIMIT, Cylinder, SpreadOfVisit, judged
from asfound.quantities.findings import Case
from asfound.quantities.words import STATES, Finding, Severity

BANK_LIMIT = 25.0
"""Difference of the bank medians that is looked into; common practice, no source. [K]"""
FAR = 2.0
"""So many times the limit calls for a hand on this visit (engineering judgement)."""
RARE = 0.10
"""A port not singled out, but so rare among sound engines, is looked into all the same (engineering judgement)."""
LIKE_LOAD = 0.05
"""Loads of two visits that compare without a word. [share of rated]"""
PRACTICE = "limits in kelvin: common practice, no source; the engine's own document goes first"
CAUTIONS = ("hot", "hv", "local")


def find(case: Case) -> Iterator[Finding]:
    """Yield what the port temperatures of each state say."""
    for state in STATES:
        seen = judged(case, state)
        if seen is None:
            continue
        yield from _odd(case, seen, shows(case, state))
        yield from _neighbours(seen)
        yield from _banks(case, seen)
        yield from find_marks(case, seen)


def told_odd(one: Cylinder) -> bool:
    """Tell whether a cylinder is odd now and, where there is history, not as it always is."""
    return bool(one.odd) and not as_always(one)


def as_always(one: Cylinder) -> bool:
    """Tell whether a cylinder stands where history says that it usually does."""
    return math.isfinite(one.residual) and not one.changed and abs(one.residual) <= CHANGE_LIMIT


def _odd(case: Case, seen: SpreadOfVisit, entries: Mapping[str, str]) -> Iterator[Finding]:
    for one in seen.cylinders:
        if told_odd(one):
            yield _stands_apart(case, seen, one, in_truth(entries, one.name))
        elif one.changed:
            yield _changed(case, seen, one)
        elif one.beyond_limit and as_always(one):
            yield _always_so(case, seen, one)
        elif one.beyond_limit:
            yield _not_singled_out(case, seen, one)


def _heat(sign: float) -> str:
    return "hot" if sign > 0 else "cold"


def _stands_apart(case: Case, seen: SpreadOfVisit, one: Cylinder, truly: str) -> Finding:
    words = known()[f"one_{_heat(one.odd)}"]
    far: Severity = "visit" if abs(one.deviation) > FAR * seen.limit else "soon"
    return _finding(
        seen,
        one,
        code="CY-10" if one.odd < 0 else "CY-11",
        says=(
            f"Cylinder {one.name}{truly} reads {_heat(one.odd)}: {_away(case, one)} from the median of its "
            f"{_bank_words(one)}{_since(case, seen, one)}. One witness does not tell sensor from cylinder"
        ),
        severity=far,
        next_step=(
            f"Take a second witness before anything is changed: {words.witness}. Usual causes: "
            f"{', '.join(words.candidates)}."
        ),
    )


def _always_so(case: Case, seen: SpreadOfVisit, one: Cylinder) -> Finding:
    return _finding(
        seen,
        one,
        code="CY-12",
        says=(
            f"Cylinder {one.name} reads {_away(case, one)} from the median of its {_bank_words(one)}, as it did before "
            f"(changed by {difference(case, one.residual)} against {seen.compared})"
        ),
        severity="note",
        next_step="Nothing to do if it was explained once; else compare with a second thermometer at the next stop.",
    )


def _changed(case: Case, seen: SpreadOfVisit, one: Cylinder) -> Finding:
    words = known()[f"one_{_heat(one.changed)}"]
    return _finding(
        seen,
        one,
        code="CY-13",
        says=(
            f"Cylinder {one.name} has gone {'hotter' if one.changed > 0 else 'colder'} by "
            f"{difference(case, abs(one.residual))} against {seen.compared}, and stands {_away(case, one)} from the "
            f"median of its {_bank_words(one)}{_other_load(seen)}"
        ),
        severity="soon",
        next_step=f"Ask what was changed at it since; take a second witness: {words.witness}.",
    )


def _not_singled_out(case: Case, seen: SpreadOfVisit, one: Cylinder) -> Finding:
    words = known()[f"one_{_heat(one.deviation)}"]
    worth = abs(one.deviation) > FAR * seen.limit or one.as_rare < RARE
    return _finding(
        seen,
        one,
        code="CY-14",
        says=(
            f"Cylinder {one.name} is {_away(case, one)} from the median of its {_bank_words(one)}, but the others "
            f"scatter so that it is not singled out (robust standard deviation "
            f"{difference(case, float(seen.spread.scale))}): sound engines with so few ports show as odd a one in "
            f"{_of_100(one.as_rare)} of 100 snapshots"
        ),
        severity="soon" if worth else "note",
        next_step=(
            "Compare with this engine's own pattern at this load, from its log or an earlier visit. Without one, "
            f"take a second witness: {words.witness}."
        ),
    )


def _of_100(share: float) -> str:
    """Return a share as so many of 100, no finer than the simulated tail."""
    return "20 or more" if not share < 0.2 else f"{100 * share:.1f}" if share < 0.02 else f"{100 * share:.0f}"


def _neighbours(seen: SpreadOfVisit) -> Iterator[Finding]:
    """Yield what several odd cylinders have in common."""
    rows = [
        [(one.place, one.odd if told_odd(one) else 0) for one in seen.cylinders if one.bank == bank]
        for bank in seen.banks
    ]
    for group in read_pattern(rows):
        if len(group.members) > 1:
            yield _group(seen, group)


def _group(seen: SpreadOfVisit, group: Seen) -> Finding:
    names = ", ".join(one.removeprefix("cylinder_") for one in group.members)
    title = group.words.title
    return Finding(
        code="CY-15",
        subject="cylinders",
        says=f"{title[0].upper()}{title[1:]}: {names}. Usual causes: {', '.join(group.words.candidates)}",
        severity="soon",
        next_step=f"Look for what they share first: {group.words.witness}.",
        compared_with=f"{seen.basis_words}; {PRACTICE}",
        because=tuple(f"{seen.state}/{one}/cylinder_exhaust_temperature" for one in group.members),
        cautions=CAUTIONS,
        state=seen.state,
    )


def _banks(case: Case, seen: SpreadOfVisit) -> Iterator[Finding]:
    apart = float(seen.spread.bank_difference)
    if not abs(apart) > BANK_LIMIT or len(seen.banks) != 2:
        return
    words = known()["whole_bank"]
    hotter = seen.banks[0] if apart > 0 else seen.banks[1]
    low, high = seen.bank_difference_interval
    yield Finding(
        code="CY-16",
        subject="cylinders",
        says=(
            f"The median port of the {hotter.replace('_', ' ')} is hotter by "
            f"{difference(case, abs(apart), (low, high) if apart > 0 else (-high, -low))}. Usual causes: "
            f"{', '.join(words.candidates)}"
        ),
        severity="soon",
        next_step=f"Compare what the banks have of their own: {words.witness}.",
        compared_with=f"{BANK_LIMIT:.0f} K between bank medians: common practice, no source",
        because=tuple(one.key for one in seen.cylinders),
        cautions=CAUTIONS,
        state=seen.state,
    )


def _finding(
    seen: SpreadOfVisit, one: Cylinder, *, code: str, says: str, severity: Severity, next_step: str
) -> Finding:
    chance = one.probability_off
    return Finding(
        code=code,
        subject="cylinders",
        says=says,
        severity=severity,
        next_step=next_step,
        compared_with=f"{seen.basis_words}; {PRACTICE}",
        probability=chance if math.isfinite(chance) else None,
        because=(one.key,),
        cautions=CAUTIONS,
        state=seen.state,
    )


def _away(case: Case, one: Cylinder) -> str:
    return difference(case, one.deviation, one.interval, signed=True)


def _bank_words(one: Cylinder) -> str:
    return "row" if one.bank == "engine" else one.bank.replace("_", " ")


def _since(case: Case, seen: SpreadOfVisit, one: Cylinder) -> str:
    """Return what history says of an odd cylinder."""
    if seen.compared == BY_NOTHING or not math.isfinite(one.residual):
        return "; no history of this engine at hand"
    return f", {difference(case, one.residual, signed=True)} against {seen.compared}{_other_load(seen)}"


def _other_load(seen: SpreadOfVisit) -> str:
    if math.isfinite(seen.load) and math.isfinite(seen.load_then) and abs(seen.load - seen.load_then) > LIKE_LOAD:
        return f" (load then {100 * seen.load_then:.0f} %, now {100 * seen.load:.0f} %: a pattern shifts with load)"
    return ""
