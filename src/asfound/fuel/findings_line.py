"""Findings about the gas in the line: what drops out of it, and what it carries beside limits that were entered."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.quantities.case_numbers import Number, each_state, held, said
from asfound.quantities.findings import Case
from asfound.quantities.limits import Verdict, Verdicts, beside_limits
from asfound.quantities.words import Finding

NEAR = 5.0
"""Line temperature less than this above a dew point counts as near it: engineering judgement. [K]"""
BREATHED = 10e-6
"""Hydrogen sulfide in the gas from which on its leak may harm: the usual ceiling in air (from memory). [mol/mol]"""

KILLS = 100e-6
"""From here on immediately dangerous to life or health in air (NIOSH, from memory). [mol/mol]"""

VERDICTS = Verdicts(
    beyond=Verdict(
        code="FU-13",
        says="is {side} the {limit}",
        severity="visit",
        next_step="Tell who treats the gas; look at filter, scrubber or drier; do as the engine's document says.",
        cautions=("gas", "h2s", "local"),
    ),
    undecided=Verdict(
        code="FU-14",
        says="is too close to the {limit} to be sure",
        severity="soon",
        next_step="Have it analysed by a method that decides it; ask the laboratory for its uncertainty.",
        cautions=("gas", "local"),
    ),
    inside=Verdict(code="FU-15", says="is inside the {limit}", severity="note", next_step="Nothing to do."),
)


def find(case: Case) -> Iterator[Finding]:
    """Yield what the gas does in the line and what it carries."""
    yield from _liquid_hydrocarbons(case)
    yield from _liquid_water(case)
    yield from _hydrogen_sulfide(case)
    yield from beside_limits(case, "fuel", VERDICTS)


def _liquid_hydrocarbons(case: Case) -> Iterator[Finding]:
    for line in each_state(case.worked, "engine", "fuel_temperature"):
        low = held(case.worked, line.state, "engine", "fuel_hydrocarbon_dew_low")
        high = held(case.worked, line.state, "engine", "fuel_hydrocarbon_dew_high")
        if low is None or high is None or line.value > high.value + NEAR:
            continue
        wet = line.value < low.value
        yield Finding(
            code="FU-11",
            subject="fuel",
            says=f"Liquid hydrocarbons {'form' if wet else 'may form'} in the fuel line: {said(case, line)} there, "
            f"dew point {said(case, low)} to {said(case, high)}",
            severity="visit" if wet else "soon",
            next_step="Drain separator and filter by the site's procedure; heat or drop the pressure earlier; ask for "
            "an extended analysis, since what C6+ stands for decides it.",
            compared_with=f"hydrocarbon dew point at line pressure, {NEAR:g} K over it counted as near",
            because=(line.key, low.key, high.key),
            cautions=("gas",),
            state=line.state,
        )


def _liquid_water(case: Case) -> Iterator[Finding]:
    for line in each_state(case.worked, "engine", "fuel_temperature"):
        dew = held(case.worked, line.state, "engine", "fuel_water_dew_point")
        if dew is None or line.value > dew.value + NEAR:
            continue
        wet = line.value < dew.value
        yield Finding(
            code="FU-12",
            subject="fuel",
            says=f"Water {'drops' if wet else 'may drop'} out of the gas in the fuel line: {said(case, line)} there, "
            f"dew point {said(case, dew)}",
            severity="visit" if wet else "soon",
            next_step="Drain the separator by the site's procedure; look at the drier or cooler before it.",
            compared_with=f"water dew point at line pressure, {NEAR:g} K over it counted as near",
            because=(line.key, dew.key),
            cautions=("gas",),
            state=line.state,
        )


def _kills(case: Case, sulfide: Number) -> Finding:
    """Return that a leak of this gas can kill."""
    return Finding(
        code="FU-16",
        subject="fuel",
        says=f"A leak of this gas can kill: {said(case, sulfide)} hydrogen sulfide; from 100 ppm in the air on it is "
        "immediately dangerous to life",
        severity="visit",
        next_step="Nobody opens a valve, drain, filter or sample bottle without a detector that is worn, breathing "
        "apparatus as the site's rules ask, and a second person in sight. The nose goes numb: no smell is no "
        "all-clear.",
        compared_with="10 ppm, a usual ceiling, and 100 ppm, immediately dangerous, in air (NIOSH, from memory)",
        because=(sulfide.key,),
        cautions=("h2s", "gas", "local"),
        state=sulfide.state,
    )


def _hydrogen_sulfide(case: Case) -> Iterator[Finding]:
    for sulfide in each_state(case.worked, "fuel", "fuel_hydrogen_sulfide"):
        if sulfide.value > KILLS:
            yield _kills(case, sulfide)
        elif sulfide.value > BREATHED:
            yield Finding(
                code="FU-16",
                subject="fuel",
                says=f"The gas holds more hydrogen sulfide than may be breathed: {said(case, sulfide)}",
                severity="note",
                next_step="Detector on before a valve or a bottle is opened; the site's rules for this gas hold.",
                compared_with="10 ppm, a usual ceiling in air (from memory)",
                because=(sulfide.key,),
                cautions=("h2s", "gas", "local"),
                state=sulfide.state,
            )
