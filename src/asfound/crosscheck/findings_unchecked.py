"""Findings of the cross-check: what nothing checks, what stands off without proof, which measurement would help."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.crosscheck.findings_mixture import of_mixture
from asfound.crosscheck.findings_words import (
    AT_THE_ENGINE,
    LEAST_CHECKS,
    PERMIT_READINGS,
    capital,
    listed,
    lower,
    permits,
)
from asfound.crosscheck.of_case import cross_check_of, why_unsolved
from asfound.crosscheck.outcome import Checked, CrossCheck
from asfound.crosscheck.silent import silent
from asfound.crosscheck.told import decision
from asfound.quantities.display import show
from asfound.quantities.findings import Case
from asfound.quantities.words import STATES, Finding, State


def find(case: Case) -> Iterator[Finding]:
    """Yield what the balances cannot say, and what they say without proof."""
    for state in STATES:
        found = cross_check_of(case, state)
        yield from of_mixture(case, state, found)
        if found is None:
            yield from _unsolved(case, state)
            continue
        yield from _impossible(state, found)
        yield from _barometer(state, found)
        yield from _doubtful(state, found)
        yield from _sensor_stands_off(state, found)
        if found.degrees >= LEAST_CHECKS:
            yield from _unchecked(case, state, found)
            yield from _one_more(state, found)


def _unsolved(case: Case, state: State) -> Iterator[Finding]:
    """The balances have no solution."""
    says = why_unsolved(case, state)
    if says:
        first, rest = says.split(". ", 1)
        yield Finding(
            code="CC-19",
            subject="crosscheck",
            says=first,
            severity="clash",
            next_step=rest,
            state=state,
        )


def _impossible(state: State, found: CrossCheck) -> Iterator[Finding]:
    """Readings that cannot be."""
    for one in found.impossible:
        shown = show(one.value, one.quantity, gauge=one.gauge) if one.quantity else f"{one.value:g} {one.unit}"
        yield Finding(
            code="CC-18",
            subject="crosscheck",
            says=f"{one.title}: {shown} cannot be; it was left out of all balances",
            severity="clash",
            next_step="Look at unit, decimal point and place of the entry, and correct it; the first one is kept.",
            because=one.keys,
            state=state,
        )


def _barometer(state: State, found: CrossCheck) -> Iterator[Finding]:
    """The barometer does not fit the height of the site."""
    balance = next((one for one in found.balances if one.name == "barometer_and_height"), None)
    if balance is None or balance.closes is not False:
        return
    yield Finding(
        code="CC-12",
        subject="crosscheck",
        says=f"The barometer is {balance.left_over / 1e3:+.1f} kPa off what belongs to the height of the site; "
        "every gauge pressure is made absolute with it",
        severity="clash",
        next_step="Ask whether it is reduced to sea level, and check the height; weather moves it by 3 kPa at most.",
        compared_with="standard atmosphere, ISO 2533",
        because=tuple(found.reading(name).key for name in ("barometric_pressure",)),
        state=state,
    )


def _doubtful(state: State, found: CrossCheck) -> Iterator[Finding]:
    """Readings that no test at 1 % names stand off more than 2 of their uncertainties; those of one chain together."""
    off = [one for one in found.readings if one.verdict == "unsure" and not one.assumed]
    if found.contradiction or not off:
        return
    words = [f"{lower(one.title)} ({abs(one.distance):.1f} {'above' if one.distance > 0 else 'below'})" for one in off]
    yield Finding(
        code="CC-13",
        subject="crosscheck",
        says=f"{capital(listed(words))}: more than 2 standard uncertainties from what the others say; "
        "1 reading in 20 stands so by chance, and readings of one chain together",
        severity="note",
        next_step="Read them once more when the instruments are at hand.",
        because=tuple(one.key for one in off if one.key),
        cautions=AT_THE_ENGINE,
        state=state,
    )


def _sensor_stands_off(state: State, found: CrossCheck) -> Iterator[Finding]:
    """The engine's own oxygen sensor steers the mixture: what the others make of it, and what could be seen at all."""
    one = next((of for of in found.readings if of.name == "oxygen_sensor_reading"), None)
    if one is None or one.verdict in ("apart", "may_be_apart", "not_checked") or abs(one.size) < 2e-3:
        return
    half = 1.96 * abs(one.size / one.distance) if one.distance else 0.0
    off, low, high = 100 * one.size, 100 * (one.size - half), 100 * (one.size + half)
    yield Finding(
        code="CC-14",
        subject="crosscheck",
        says=(
            f"The engine's own oxygen sensor reads {abs(off):.1f} vol-% {'above' if off > 0 else 'below'} what the "
            f"other readings say ({_signed(low)} to {_signed(high)}). Its own doubt of {100 * one.u:.1f} vol-% makes "
            f"that no proof: an error below {100 * one.smallest_error:.1f} vol-% would not be noticed"
        ),
        severity="note",
        next_step="Let the sensor see air at standstill, or put the analyser's probe beside it and read both at once: "
        "then the difference counts, not the doubt of each.",
        because=(one.key,) if one.key else (),
        cautions=AT_THE_ENGINE,
        state=state,
    )


def _signed(value: float) -> str:
    return f"{value:+.1f}".replace("-", "\N{MINUS SIGN}")


def _unchecked(case: Case, state: State, found: CrossCheck) -> Iterator[Finding]:
    """Readings that matter and that nothing checks, or only weakly."""
    none = [one for one in found.readings if not one.assumed and silent(found, one)]
    if none:
        yield Finding(
            code="CC-15",
            subject="crosscheck",
            says="Nothing checks " + listed([lower(one.title) for one in none]),
            severity="note",
            next_step=_would_check(found, none),
            because=tuple(one.key for one in none if one.key),
            state=state,
        )
    weak = [
        one
        for one in found.readings
        if one.verdict == "weakly_checked" and one.name in PERMIT_READINGS and not one.assumed
    ]
    if weak and permits(case):
        yield Finding(
            code="CC-16",
            subject="crosscheck",
            says="A permit rests on readings that the others check weakly: "
            + listed([_weakly(found, one) for one in weak]),
            severity="note",
            next_step="Calibrate these before and after; the balances do not stand in for it.",
            because=tuple(one.key for one in weak if one.key),
            cautions=AT_THE_ENGINE,
            state=state,
        )


def _weakly(found: CrossCheck, one: Checked) -> str:
    if silent(found, one):
        return f"{lower(one.title)} (in effect by nothing)"
    share = one.smallest_error / abs(one.value) if one.value else float("inf")
    return f"{lower(one.title)} (an error below {100 * share:.0f} % would not be noticed)"


def _would_check(found: CrossCheck, none: list[Checked]) -> str:
    """Say which balance would check one of these if more were read."""
    wanted = {one.name for one in none}
    for one in sorted(found.assembled.wanting, key=lambda of: len(of.lacks)):
        if wanted & set(one.balance.values) and len(one.lacks) <= 2:
            titles = [found.assembled.values[name].title for name in one.lacks if name in found.assembled.values]
            if titles:
                with_it = listed([lower(title) for title in titles])
                return f"With {with_it} one more balance could be drawn up: {lower(one.balance.title)}."
    return "A second instrument is the only check of these."


def _one_more(state: State, found: CrossCheck) -> Iterator[Finding]:
    """What one more measurement would bring where nobody lies."""
    if found.contradiction or not found.one_more:
        return
    best = found.one_more[0]
    if best.before <= 0 or 1 - best.after / best.before < 0.1:
        return
    wanted = "engine power" if best.wanted == "brake_power" else "lambda"
    yield Finding(
        code="CC-17",
        subject="crosscheck",
        says=f"Measuring {lower(best.title)} with another instrument would sharpen {wanted} most: its doubt "
        f"would shrink by {100 * (1 - best.after / best.before):.0f} %",
        severity="note",
        next_step=f"{capital(decision(best))} if {wanted} decides something.",
        state=state,
    )
