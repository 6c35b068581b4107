"""Findings of the catalyst: poisoned or aged, passed by, plugged, too hot, too cold, out of its window.

Each sign is a hint with its usual cause; the catalyst's own papers decide. Bands are engineering judgement.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from asfound.exhaust import findings_three_way as three_way
from asfound.exhaust.catalyst_case import Seen, chance_above, fall, seen
from asfound.exhaust.facts import fact
from asfound.exhaust.worksheets_catalyst import POLLUTANTS
from asfound.quantities.case_numbers import Number, number_at, said
from asfound.quantities.findings import Case
from asfound.quantities.limits import SURE, UNSURE
from asfound.quantities.words import STATES, Finding, Severity, State

FALLEN = 0.05
"""Of conversion, since the last visit; less is no sign. [1]"""
SLIPS = 0.03
"""Of a pollutant that gets through, before a bypass is thought of. [1]"""
TELLS = 0.05
"""Standard uncertainty of a difference of slips above which equal slips tell nothing. [1]"""
PLUGGED, PLUGGED_BADLY, OPEN = 1.3, 2.0, 0.7
"""Pressure drop against clean."""
WARM = 10.0
"""Temperature rise off from what is expected; less is heat loss and thermocouples. [K]"""
LEAK = 0.002
"""More oxygen after the catalyst than before it. [mol/mol]"""
HOT = ("hot", "catheat")
PAPERS = "The catalyst's own papers come first."


def find(case: Case) -> Iterator[Finding]:
    """Yield the signs of the catalyst in each state of the visit."""
    for state in STATES:
        shows = seen(case, state)
        if shows is None:
            continue
        signs = [
            *_fallen(case, shows),
            *_passed_by(case, shows),
            *_pressure(case, shows),
            *_rise(case, shows),
            *_temperature(case, shows),
            *_window(case, shows),
            *_leak(case, shows),
            *three_way.signs(case, shows),
        ]
        yield from signs
        yield from three_way.of_the_gas(case, shows)
        if not signs and shows.conversions:
            yield _sound(case, shows)


def _finding(
    shows: Seen, code: str, severity: Severity, says: str, next_step: str, *because: Number, chance: float | None = None
) -> Finding:
    """Return a finding of the catalyst."""
    return Finding(
        code=code,
        subject="exhaust",
        says=says,
        severity=severity,
        next_step=f"{next_step} {PAPERS}",
        probability=chance,
        because=tuple(one.key for one in because),
        cautions=HOT,
        state=shows.state,
    )


def _named(name: str) -> str:
    return POLLUTANTS[name][0]


def _in_window(shows: Seen) -> bool:
    low, high = shows.window
    return all(low <= one.value <= high for one in shows.inlets)


def _fallen(case: Case, shows: Seen) -> Iterator[Finding]:
    """Yield a conversion that has fallen since the last visit, with what the other signs make of it."""
    if case.previous is None:
        return
    for name, now in shows.conversions.items():
        found: tuple[State, State] = ("as_left", "as_found")
        before = next(
            (one for at in found if (one := number_at(case.previous, at, "engine", POLLUTANTS[name][2])) is not None),
            None,
        )
        if before is None:
            continue
        drop, doubt = fall(before, now)
        if drop < FALLEN or drop < 1.645 * doubt:
            continue
        free = not any(one.value > PLUGGED for one in shows.drops)
        warm = _in_window(shows)
        usual = "poisoning (sulphur, phosphorus and zinc of the oil, siloxanes) or ageing"
        if free and warm and shows.drops and shows.inlets:
            means = f"pressure drop and inlet temperature are normal: {usual}"
        elif not warm:
            means = "the inlet temperature is outside its window: bring that right before the catalyst is blamed"
        elif not free:
            means = "the pressure drop is up: deposits or a broken element before poisoning"
        else:
            means = f"with pressure drop and inlet temperature normal it would be {usual}; take them"
        yield _finding(
            shows,
            "EX-40",
            "soon",
            f"{_named(name)} conversion has fallen from {said(case, before)} to {said(case, now)}; {means}",
            "Look at hydrogen sulphide and siloxanes of the gas, oil consumption and the hours of the elements.",
            now,
        )


def _passed_by(case: Case, shows: Seen) -> Iterator[Finding]:
    """Yield that all pollutants slip by an equal share, as they do through a gap, not over a weak catalyst."""
    taken = {name: one for name, one in shows.conversions.items() if name in ("co", "voc", "formaldehyde")}
    if shows.kind == "three_way" and "nox" in shows.conversions:
        taken["nox"] = shows.conversions["nox"]
    if len(taken) < 2 or any(1.0 - one.value < SLIPS for one in taken.values()):
        return
    for one, other in combinations(taken.values(), 2):
        apart = case.worked.difference(one, other)
        if not apart.interval[0] <= 0.0 <= apart.interval[1] or apart.standard_uncertainty > TELLS:
            return
    slips = ", ".join(f"{_named(name)} {100 * (1 - one.value):.0f} %" for name, one in taken.items())
    yield _finding(
        shows,
        "EX-41",
        "soon",
        f"All pollutants get through by the same share ({slips}): exhaust passes the elements rather than over them",
        "Isolate and cool, then look at gaskets, seating and cracks of the elements, and at a bypass valve.",
        *taken.values(),
    )


def _pressure(case: Case, shows: Seen) -> Iterator[Finding]:
    """Yield a pressure drop far from that of the clean catalyst at equal flow."""
    for one in shows.drops:
        plugged, open_ = chance_above(case.worked, one, PLUGGED), 1.0 - chance_above(case.worked, one, OPEN)
        if plugged >= SURE:
            badly = chance_above(case.worked, one, PLUGGED_BADLY) >= SURE
            yield _finding(
                shows,
                "EX-42",
                "visit" if badly else "soon",
                f"The pressure drop is {said(case, one)} times the clean one at equal flow: it plugs",
                "Isolate and cool; look for oil ash, deposits and broken elements before washing; watch back pressure.",
                one,
                chance=plugged,
            )
        elif open_ >= SURE:
            yield _finding(
                shows,
                "EX-48",
                "soon",
                f"The pressure drop is only {said(case, one)} times the clean one at equal flow",
                "An element may be missing, broken or passed by, or an impulse line blocked: check the lines first.",
                one,
                chance=open_,
            )


def _rise(case: Case, shows: Seen) -> Iterator[Finding]:
    """Yield a temperature rise that does not fit what was converted."""
    for one in shows.rises:
        above, below = chance_above(case.worked, one, WARM), 1.0 - chance_above(case.worked, one, -WARM)
        if above >= SURE:
            yield _finding(
                shows,
                "EX-43",
                "visit",
                f"The catalyst gets {said(case, one)} warmer than by what it converts: unburned gas reaches it",
                "Look for misfire at once (cylinder exhaust temperatures, ignition); lower the load while it lasts, so "
                "that the elements do not sinter or melt.",
                one,
                chance=above,
            )
        elif below >= SURE:
            yield _finding(
                shows,
                "EX-46",
                "soon",
                f"The temperature rise falls short of what was converted by more than {WARM:g} K ({said(case, one)})",
                "Compare the two thermocouples, then the two probes: air at the second passes for conversion.",
                one,
                chance=below,
            )


def _temperature(case: Case, shows: Seen) -> Iterator[Finding]:
    """Yield an inlet too cold to work, and an inlet or outlet hot enough to age the elements."""
    low, high = shows.window
    which = "three-way" if shows.kind == "three_way" else "oxidation"
    window = f"{low - 273.15:.0f} to {high - 273.15:.0f} °C of the rule for a {which} catalyst"
    for one in shows.inlets:
        if chance_above(case.worked, one, low) <= UNSURE:
            yield _finding(
                shows,
                "EX-44",
                "soon",
                f"The inlet is too cold, {said(case, one)}: {window}",
                "Raise the load, or find why the exhaust is cold; conversion read now tells nothing of the catalyst.",
                one,
            )
    for one in (*shows.inlets, *shows.outlets):
        if (beyond := chance_above(case.worked, one, high)) >= SURE:
            yield _finding(
                shows,
                "EX-44",
                "visit",
                f"The catalyst is too hot, {said(case, one)}: {window}; the elements sinter and lose their surface",
                "Lower the load and find the cause: misfire, retarded ignition, rich mixture.",
                one,
                chance=beyond,
            )


def _window(case: Case, shows: Seen) -> Iterator[Finding]:
    """Yield a three-way catalyst that is run too lean to reduce NOx, or too rich to burn CO."""
    if shows.kind != "three_way" or shows.oxygen_before is None:
        return
    most, least = fact("three_way.oxygen").high_si, fact("three_way.lambda").low_si
    lean = chance_above(case.worked, shows.oxygen_before, most)
    if lean >= SURE:
        nox = shows.conversions.get("nox")
        lost = "" if nox is None else f"; NOx conversion is {said(case, nox)}"
        yield _finding(
            shows,
            "EX-45",
            "visit",
            f"Oxygen before the three-way catalyst is {said(case, shows.oxygen_before)}, above about {100 * most:g} % "
            f"(from memory, unverified){lost}: too lean to take NOx out",
            "Look for air leaks before the sensor, then at the oxygen sensor and its set point; trim in small steps.",
            *(one for one in (shows.oxygen_before, nox) if one is not None),
            chance=lean,
        )
    elif shows.mixture_before is not None and chance_above(case.worked, shows.mixture_before, least) <= UNSURE:
        co = shows.conversions.get("co")
        lost = "" if co is None else f"; CO conversion is {said(case, co)}"
        yield _finding(
            shows,
            "EX-45",
            "visit",
            f"Lambda before the three-way catalyst is {said(case, shows.mixture_before)}, below about {least:g} "
            f"(common practice, unverified){lost}: too rich to burn CO and hydrocarbons",
            "Look at the oxygen sensor and its set point, then at fuel pressure; trim leaner in small steps.",
            *(one for one in (shows.mixture_before, co) if one is not None),
        )


def _leak(case: Case, shows: Seen) -> Iterator[Finding]:
    """Yield more oxygen behind the catalyst than before it."""
    if shows.oxygen_before is None or shows.oxygen_after is None:
        return
    more = case.worked.difference(shows.oxygen_after, shows.oxygen_before)
    if more.value > LEAK and more.probability_lower <= UNSURE:
        yield _finding(
            shows,
            "EX-47",
            "soon",
            f"There is {100 * more.value:.2f} % more oxygen after the catalyst than before it: air gets in between",
            "Look for leaks at flanges, ports and the sample line. Conversion is counted at one oxygen, so it holds.",
            shows.oxygen_after,
            shows.oxygen_before,
        )


def _sound(case: Case, shows: Seen) -> Finding:
    """Return that nothing speaks against the catalyst."""
    numbers = ", ".join(f"{_named(name)} {said(case, one)}" for name, one in shows.conversions.items())
    return _finding(
        shows,
        "EX-49",
        "note",
        f"The catalyst shows no sign of trouble: {numbers}",
        "Nothing to do.",
        *shows.conversions.values(),
    )
