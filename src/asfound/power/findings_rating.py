"""Findings of the rating: load against what the engine may give here, and whether a fair test can be run."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from asfound.fuel.methane_number import UNDECIDED
from asfound.power.findings_air import air_against_rating
from asfound.power.rating_of_case import allowance, allowed_by_gas, only_by_formula
from asfound.quantities.case_numbers import Number, each_state, held, said
from asfound.quantities.display import chance, show
from asfound.quantities.findings import Case
from asfound.quantities.limits import SURE, UNSURE
from asfound.quantities.register import System
from asfound.quantities.words import Finding, Result, Severity

OVERLOAD = 1.10
"""Of the rating; for 1 h in 12 h and only where it was agreed (ISO 3046-1, from memory)."""
FULL_LOAD = 0.90
"""From here on a load is within 10 % of full load (40 CFR 60.4244(a))."""
PLATE_HOLDS = 0.98
"""A site rating nearer to the plate is not told (engineering judgement)."""


def find(case: Case) -> Iterator[Finding]:
    """Yield what the rating means for this engine on its site."""
    for load in each_state(case.worked, "engine", "load_fraction"):
        rating = held(case.worked, load.state, "engine", "site_rated_power")
        if rating is None:
            continue
        if only_by_formula(rating):
            yield _only_by_formula(case, load, rating)
        else:
            judged = _load(case, load, rating)
            yield judged
            if judged.code != "PW-10":  # an overload is brought back before anybody thinks of a test
                yield _test(case, load, rating)
    yield from _plate(case)
    yield from _gas(case)
    yield from air_against_rating(case)


def _beyond(case: Case, load: Number, limit: float) -> float:
    """Return how probable it is that a load is above a limit: a count over the draws."""
    drawn = case.worked.draws(load)
    finite = drawn[np.isfinite(drawn)]
    return float(np.count_nonzero(finite > limit)) / finite.size if finite.size else float(load.value > limit)


def _load(case: Case, load: Number, rating: Number) -> Finding:
    over = _beyond(case, load, 1.0)
    cautions: tuple[str, ...] = ("hot",)
    severity: Severity = "visit"
    if over >= SURE:
        code, stands = "PW-10", "is over the site rating"
        advice = "Bring the load back in agreement with the operator; look at knock, exhaust and bearing temperatures."
        if _beyond(case, load, OVERLOAD) >= SURE:
            severity, stands = "stop", "is over the usual overload, 110 % of the site rating"
            advice += " Overload holds for 1 h in 12 h at most, and only where it was agreed."
    elif over > UNSURE:
        code, stands = "PW-11", "is too close to the site rating to be sure"
        advice = "Take the load by a second road (electrical, compressor, fuel) before more is asked of the engine."
    else:
        code, stands, severity, cautions = "PW-12", "is within the site rating", "note", ()
        advice = "Nothing to do."
    return Finding(
        code=code,
        subject="load",
        says=f"The load {stands}: {said(case, load)} of {said(case, rating)}",
        severity=severity,
        next_step=f"{chance(over)} to be over. {advice}",
        compared_with=f"site rating {said(case, rating)}",
        probability=over,
        because=(load.key, rating.key),
        cautions=cautions,
        state=load.state,
    )


def _test(case: Case, load: Number, rating: Number) -> Finding:
    enough = _beyond(case, load, FULL_LOAD)
    least = _power(case, FULL_LOAD * rating.value)
    severity: Severity = "note"
    if enough >= SURE:
        code, stands = "PW-13", "is high enough for a fair test at full load"
        advice = "Hold it through all runs, and write down how it was found: the report of the test asks for it."
    elif enough <= UNSURE:
        code, stands, severity = "PW-14", "is too low for a fair test at full load", "soon"
        advice = f"Ask for at least {least}, or have it written that this load is the highest that can be reached."
    else:
        code, stands, severity = "PW-15", "may be too low for a fair test at full load", "soon"
        advice = f"Take the load by a second road, or ask for clearly more than {least}."
    return Finding(
        code=code,
        subject="load",
        says=f"The load {stands}: {said(case, load)} of the site rating, at least {100 * FULL_LOAD:.0f} % wanted",
        severity=severity,
        next_step=f"{chance(enough)} to be high enough. {advice} The permit's own words on the load go first.",
        compared_with="within 10 % of full load or of the highest that can be reached, 40 CFR 60.4244(a)",
        probability=enough if code == "PW-13" else 1 - enough,
        because=(load.key, rating.key),
        cautions=("hot", "local"),
        state=load.state,
    )


def _only_by_formula(case: Case, load: Number, rating: Number) -> Finding:
    return Finding(
        code="PW-17",
        subject="load",
        says=f"The site rating is known by a formula alone, with exponents from memory: {said(case, rating)}, and the "
        f"load {said(case, load)} of it",
        severity="soon",
        next_step="Enter the engine's own derate, or the exponents and conditions of its rating. Until then neither an "
        "overload nor a fair test can be judged: a gas engine is held back by knock and NOx, which no formula knows.",
        compared_with="ISO 3046-1, row F, from memory",
        because=(load.key, rating.key),
        state=load.state,
    )


def _plate(case: Case) -> Iterator[Finding]:
    for rating in each_state(case.worked, "engine", "site_rated_power"):
        rated = held(case.worked, rating.state, "engine", "rated_power")
        if rated is None or only_by_formula(rating) or rating.value >= PLATE_HOLDS * rated.value:
            continue
        parts = allowance(rating)
        because = f"; {', '.join(parts)}" if parts else ""
        yield Finding(
            code="PW-16",
            subject="load",
            says=f"The plate's {said(case, rated)} is not to be had here: the site rating is {said(case, rating)}"
            f"{because}",
            severity="note",
            next_step="Judge load and tests by the site rating; tell the operator what holds the engine back.",
            compared_with=f"rated power {said(case, rated)}",
            because=(rating.key, rated.key),
            state=rating.state,
        )


def _gas(case: Case) -> Iterator[Finding]:
    """Yield that the rating leaves the gas out of account, though the gas may be below what the build needs."""
    for margin in each_state(case.worked, "engine", "methane_number_margin"):
        rating = case.worked.result(f"{margin.state}/engine/site_rated_power")
        if rating is None or margin.value >= UNDECIDED:
            continue
        if _counts_gas(rating, margin):
            yield from _near_the_limit(rating, margin)
            continue
        sure = margin.value < -UNDECIDED
        stands = f"{-margin.value:.1f} below" if sure else "too near to"
        yield Finding(
            code="PW-18",
            subject="load",
            says=f"The site rating leaves the gas out of account: its methane number is {stands} what the build needs",
            severity="visit" if sure else "soon",
            next_step="Take the power that the engine's own document allows for this methane number and enter it; "
            "until then the engine may have to stay below the site rating.",
            compared_with=f"site rating {said(case, rating)}; within {UNDECIDED:.0f} of a limit a methane number is "
            "undecided",
            because=(margin.key, rating.key),
            cautions=("gas", "local"),
            state=margin.state,
        )


def _near_the_limit(rating: Result, margin: Number) -> Iterator[Finding]:
    """Yield what the engine's own table allows if the methane number is off by as much as methods are."""
    low, high = (allowed_by_gas(rating, margin.value + step) for step in (-UNDECIDED, UNDECIDED))
    if abs(margin.value) > UNDECIDED or low is None or high is None or not high - low > 1 - PLATE_HOLDS:
        return
    yield Finding(
        code="PW-06",
        subject="load",
        says=f"The methane number is within {UNDECIDED:.0f} of what the build needs: the engine's own table allows "
        f"{100 * low:.0f} to {100 * high:.0f} % of rated power, and no method can tell where between",
        severity="soon",
        next_step="Ask by which method the document means its limit; take the knock readings at this load before more "
        "is asked of the engine.",
        compared_with="the engine's own derate by methane number",
        because=(margin.key, rating.key),
        cautions=("gas", "hot"),
        state=margin.state,
    )


def _counts_gas(rating: Result, margin: Number) -> bool:
    """Tell whether the gas stands under a rating, or a person took the share from the engine's charts."""
    return any(
        one.key == margin.key or one.quantity in ("methane_number", "own_power_fraction") for _, one in rating.walk()
    )


def _power(case: Case, value: float) -> str:
    system: System = "us" if case.visit.get("system") == "us" else "si"
    shown = show(value, "fair_test_power", system=system)
    return f"{shown.value} {shown.unit}"
