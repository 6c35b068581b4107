"""The engine's own NOx probe beside the analyser: a mixture that follows a probe is as right as the probe."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.exhaust.findings_mixture import AT_THE_ANALYSER, reading_at, stands_apart, told
from asfound.quantities.findings import Case
from asfound.quantities.words import STATES, Finding, Reading, Result, State

PLACES = ("engine", "stack", "after_catalyst")
SMALL = 5e-6
"""mol/mol: less apart than an analyser of 5 ppm can tell. Engineering judgement."""


def find(case: Case) -> Iterator[Finding]:
    """Yield what the analyser says of the engine's own NOx probe."""
    for state in STATES:
        for place in PLACES:
            yield from _probe(case, state, place)


def _probe(case: Case, state: State, place: str) -> Iterator[Finding]:
    """Put the probe beside the analyser, wet and dry: what a probe shows is not always said.

    Water in the exhaust of a lean engine is 8 to 13 %, as much as an aged probe reads low: one looks like the other.
    """
    probe = reading_at(case, state, place, "nox_sensor_reading")
    at = next((one for one in (place, *PLACES) if reading_at(case, state, one, "exhaust_nox_dry")), None)
    if probe is None or at is None:
        return
    dry = reading_at(case, state, at, "exhaust_nox_dry")
    wet = case.worked.result(f"{state}/{at}/nox_at_wet_probe")
    if dry is None or wet is None or dry.value <= 0:
        return
    fits_wet = stands_apart(case, probe, wet, SMALL) is None
    fits_dry = stands_apart(case, probe, dry, SMALL) is None
    if fits_wet and fits_dry:
        return
    beside = f"the analyser {told(case, dry)} dry, which is {told(case, wet)} in wet exhaust"
    yield Finding(
        code="EX-50" if fits_wet or fits_dry else "EX-51",
        subject="exhaust",
        says=f"The NOx probe shows {told(case, probe)}, {beside}: {_verdict(probe, dry, wet, fits_wet, fits_dry)}",
        severity="soon" if fits_wet or fits_dry else "clash",
        next_step=(
            "Look up whether the probe shows wet or dry gas before it is judged. What follows it (a trim, a count for "
            "the permit) is as wrong as it is; nothing is adjusted to hide it."
            if fits_wet or fits_dry
            else "Zero and span the analyser, then the probe against it at the same place; exchange a probe that stays "
            "off. What follows it (a trim, a count for the permit) is as wrong as it is."
        ),
        compared_with="dry NOx of the analyser, and what a wet probe should show beside it",
        because=(probe.key, dry.key, wet.key),
        cautions=AT_THE_ANALYSER,
        state=state,
    )


def _verdict(probe: Reading | Result, dry: Reading, wet: Result, fits_wet: bool, fits_dry: bool) -> str:
    """Say which of the two it fits, and how far it is off if it is meant to be the other."""
    if fits_wet:
        return f"it fits if it shows wet gas; if it shows dry gas, it reads {_off(probe, dry)}"
    if fits_dry:
        return f"it fits if it shows dry gas; if it shows wet gas, it reads {_off(probe, wet)}"
    return f"it reads {_off(probe, wet)} if it shows wet gas, {_off(probe, dry)} if dry"


def _off(probe: Reading | Result, other: Reading | Result) -> str:
    """Say by how much it stands off: ``12 % low``."""
    share = 100.0 * (probe.value / other.value - 1.0)
    return f"{abs(share):.0f} % {'high' if share > 0 else 'low'}"
