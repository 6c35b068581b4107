"""What would happen if: the fitted engine of a state, the answer to a question, and what it rests on, ready to show."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from asfound.errors import AsFoundError
from asfound.quantities.display import show
from asfound.quantities.register import quantity
from asfound.records.steps import as_found_set
from asfound.report.content_crosscheck_words import listed, lower
from asfound.report.content_lanes import STATE_WORDS
from asfound.report.content_whatif_pictures import (
    cycle_picture,
    field_picture,
    map_picture,
)
from asfound.report.content_whatif_pv import pv_picture
from asfound.report.content_whatif_rows import (
    HEADS,
    PartShown,
    RowShown,
    SensitivityRow,
    change_of,
    parts_of,
    rows_of,
    said_of,
    sensitivity_row,
)
from asfound.report.content_whatif_words import (
    KnockLine,
    PermitLine,
    asked_words,
    headline,
    knock_line,
    permit_lines,
)
from asfound.report.whatif_fit import FittedEngine, balances_of, fitted
from asfound.report.whatif_how import Most, how_of, most_of
from asfound.report.whatif_map_words import map_says
from asfound.report.whatif_near_one import notes_of, readings_worth
from asfound.report.whatif_question import PARTS, Asked, Question, asked_of
from asfound.report.wording import Said
from asfound.whatif.ask import Answer, ask, draws_of, worth_reading
from asfound.whatif.of_case import Lacking, modelled
from asfound.whatif.seen import OUTPUTS
from asfound.whatif.uses import few, sensitivities
from asfound.whatif.usual import GAS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from asfound.quantities.words import State
    from asfound.records.visit import VisitView
    from asfound.report.wording import System

DURING = 40
"""Draws of a first answer, while a slider moves."""
REGISTERED = {
    "power": "engine_power", "fuel_flow": "fuel_flow", "efficiency": "brake_efficiency",
    "exhaust_temperature": "exhaust_median", "nox_dry": "exhaust_nox_dry", "oxygen_dry": "exhaust_oxygen_dry",
    "peak_pressure": "peak_firing_pressure",
}  # fmt: skip
"""Outputs of the model to the quantity in whose unit they are shown."""
CANDIDATES: dict[str, tuple[float, str, str]] = {
    "peak_pressure": (0.01, "Peak pressures of the cylinders", "cylinders"),
    "exhaust_temperature": (3.0, "Exhaust temperatures at the ports", "cylinders"),
    "power": (0.015, "Power", "load"),
    "fuel_flow": (0.01, "Fuel flow", "load"),
    "nox_dry": (0.03, "NOx", "exhaust"),
    "oxygen_dry": (0.001, "Oxygen", "exhaust"),
}
"""What could be read besides: its doubt as it is compared (common practice), in words, and where it is typed."""
WORTH = 0.03
"""Of the doubt that a reading must take away to be named. [1]"""
STEP_WORDS = {
    "timing": "Spark 1 degree earlier", "excess_air_ratio": "Lambda 0.02 leaner", "humidity": "0.5 mol-% more water",
}  # fmt: skip


READ_FOR = {"excess_air_ratio": "exhaust_oxygen_dry"}
"""What is read so that a number follows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Missing:
    """A reading that is missing, and where it is typed."""

    title: str
    step: str
    key: str
    """Of its field; empty where the page of the step has none and it is added there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LackingShown:
    """Why a state cannot be modelled."""

    state: State
    readings: tuple[Missing, ...]
    says: tuple[str, ...]
    other: State | None
    """The other state, where that can be modelled."""
    then: str = ""
    """What would be assumed once these were read, in a sentence; empty: nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FitShown:
    """A reading beside the model."""

    title: str
    read: Said
    model: Said
    away: float
    """In doubts of both."""
    key: str
    of: str
    """State or visit that it was read in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Worth:
    """A reading that would narrow the answer."""

    says: str
    step: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIfShown:
    """All of it, ready to be shown."""

    state: State
    state_words: str
    question: Question
    asked: Asked
    asked_words: str
    draws: int
    parts: tuple[PartShown, ...]
    headline: str
    below: str
    says: tuple[str, ...]
    """What cannot be reached, or is odd."""
    rows: tuple[RowShown, ...]
    permit: tuple[PermitLine, ...]
    permit_says: tuple[str, ...]
    knock: KnockLine
    cycle: dict[str, Any]
    """For `svg.whatif_cycle`."""
    pv: dict[str, Any]
    """For `svg.whatif_pv`."""
    map: dict[str, Any]
    """For `svg.whatif_map`."""
    field: dict[str, Any]
    """For `svg.whatif_field`."""
    map_says: str
    most_refused: str
    """Why a limit of the optimum cannot be; empty where all can."""
    fitted_to: tuple[str, ...]
    """States and visits, in words."""
    heads: tuple[str, ...]
    sensitivities: tuple[SensitivityRow, ...]
    assumed: tuple[str, ...]
    fits: tuple[FitShown, ...]
    misfits: tuple[str, ...]
    worth: tuple[Worth, ...]
    answered: bool
    oxygen: str
    """What the analyser would show as asked."""


def whatif_shown(
    view: VisitView,
    state: State,
    question: Question,
    system: System,
    *,
    gases: Mapping[str, Mapping[str, float]] | None = None,
    decimal: Literal[".", ","] | None = None,
    quick: bool = False,
    whole: bool = True,
    maps: bool = True,
) -> WhatIfShown | LackingShown:
    """Return what page, command and report show of a question.

    Parameters
    ----------
    view : VisitView
    state : str
        From which the question starts.
    question : Question
    system : {'si', 'us'}
    gases : mapping, optional
        Other gases by name, component to mole fraction.
    decimal : str, optional
        The person's decimal sign.
    quick : bool
        Few draws, for a first answer while a slider moves.
    whole : bool
        With what does not hang on the question: what small changes do, the model as a witness.
    maps : bool
        With the pictures of all settings and the best of them; the first time they take as long as the fit.
    """
    fit = fitted(view, state, how_of(question.typed))
    if isinstance(fit, Lacking):
        return _lacking(view, fit)
    asked = asked_of(fit, question, system, gases=gases, decimal=decimal)
    fit = few_of(fit) if quick else fit
    answer, refused = answered(fit, asked)
    words = STATE_WORDS[state]
    most, most_refused = _most(question, system, decimal)
    lines, permit_says = permit_lines(view, state, fit, answer, system)
    head, below = headline(fit, answer, lines, words, system)
    says = [*refused, *(answer.says if answer else ()), *([f"{fit.odd}."] if fit.odd else []), *wide_open(fit, answer)]
    says += notes_of(fit, answer, system, asked.fuel)
    return WhatIfShown(
        state=state, state_words=words, question=question, asked=asked,
        asked_words=asked_words(asked, question.of("gas"), system), draws=int(fit.engine.outcome.power.size),
        parts=parts_of(fit, question, asked, system), headline=head, below=below, says=tuple(says),
        rows=rows_of(view, fit, answer, state, system), permit=lines, permit_says=permit_says,
        knock=knock_line(view, fit, answer, asked, state, system),
        cycle=cycle_picture(fit, answer, words, system),
        map={} if quick or not maps else map_picture(view, state, fit, answer, words, system, most),
        field={} if quick or not maps else field_picture(view, state, fit, answer, words, system, most),
        map_says="" if quick or not maps else map_says(view, state, fit, most), heads=HEADS,
        pv=pv_picture(fit, answer, words, system, logs=question.of("axes") == "log"), most_refused=most_refused,
        fitted_to=fit.fitted_to,
        sensitivities=_sensitivities(fit, system) if whole and not quick else (),
        assumed=fit.modelled.assumed, fits=_fits(fit, system) if whole and not quick else (), misfits=fit.engine.says,
        worth=_worth(fit, answer), answered=answer is not None, oxygen=_oxygen(fit, answer, system),
    )  # fmt: skip


def wide_open(fit: FittedEngine, answer: Answer | None) -> tuple[str, ...]:
    """Say where an engine that breathes by itself would need more pressure than the air before its throttle has."""
    if answer is None or fit.charger is not None:
        return ()
    share = float(np.mean(np.asarray(answer.setting.manifold_pressure) > fit.modelled.inlet_pressure))
    if share <= 0.05:
        return ()
    return (
        f"In {100 * share:.0f} of 100 draws it takes more manifold pressure than the air before the throttle has: the "
        "throttle is wide open before that.",
    )


def answered(fit: FittedEngine, asked: Asked) -> tuple[Answer | None, tuple[str, ...]]:
    """Return the answer of the model; None where nothing (sound) is asked, and why the model itself refuses."""
    if asked.complaints or not (asked.targets or asked.fuel):
        return None, ()
    try:
        return fit.once(
            ("answer", asked.key),
            lambda: ask(fit.engine, asked.changes, fuel=asked.fuel, power_share=asked.power_share,
                        charger=fit.charger, air=asked.air, cooler=fit.cooler),
        ), ()  # fmt: skip
    except AsFoundError as fault:
        return None, (str(fault),)


def few_of(fit: FittedEngine) -> FittedEngine:
    """Return the engine with few of its draws, made once."""

    def make() -> FittedEngine:
        engine = few(fit.engine, DURING)
        found = fit.modelled
        charger, cooler, _ = balances_of(found, engine)
        return FittedEngine(modelled=found, engine=engine, charger=charger, cooler=cooler, odd=fit.odd)

    return fit.once("few", make)


def _lacking(view: VisitView, found: Lacking) -> LackingShown:
    fields = {
        f"{found.state}/{one['place']}/{one['quantity']}"
        for one in as_found_set(view.engine.content)
        if one.get("quantity")
    }
    fields |= set(view.readings)
    missing = []
    for name in dict.fromkeys(READ_FOR.get(one, one) for one in found.quantities):
        about = quantity(name)
        keys = [f"{found.state}/{place}/{name}" for place in (*about.places, "engine")]
        step = about.step if about.step in ("fitted", "fuel", "load", "exhaust", "cylinders") else "other"
        missing.append(Missing(title=about.title, step=step, key=next((one for one in keys if one in fields), "")))
    other: State = "as_left" if found.state == "as_found" else "as_found"
    can = not isinstance(modelled(view.case, other, assume=True), Lacking)
    assumed = [("the gas" if one == GAS else lower(quantity(one).title)) for one in found.then_assumed]
    then = (
        f"With {'it' if len(missing) == 1 else 'them'} usual values can stand for {listed(assumed)}." if assumed else ""
    )
    return LackingShown(
        state=found.state, readings=tuple(missing), says=found.says, other=other if can else None, then=then
    )


def _sensitivities(fit: FittedEngine, system: System) -> tuple[SensitivityRow, ...]:
    """Return what small changes do, power held; then a little more power."""
    found = fit.once(
        "sensitivities", lambda: sensitivities(fit.engine, power_share=1.0, charger=fit.charger, more=1.05)
    )
    warmer = f"Charge air {'9 °F' if system == 'us' else '5 K'} warmer"
    titles = {**STEP_WORDS, "charge_temperature": warmer, "power": "Power 5 % more"}
    return tuple(sensitivity_row(titles[name], answer, fit, system) for name, answer in found.items())


def _most(question: Question, system: System, decimal: Literal[".", ","] | None) -> tuple[Most, str]:
    """Return what an optimum must keep besides the permit, and why one of it cannot be."""
    try:
        return most_of(question.typed, system, decimal), ""
    except AsFoundError as fault:
        return Most(), str(fault)


def _fits(fit: FittedEngine, system: System) -> tuple[FitShown, ...]:
    """Return each reading beside the fitted model, those of other states and visits behind."""
    words = dict(zip((one.name for one in fit.engine.visits), fit.fitted_to, strict=True))
    outcomes = dict(zip((one.name for one in fit.engine.visits), fit.engine.outcomes, strict=True))
    rows = []
    for one in fit.engine.fits:
        about = OUTPUTS[one.reading.output]
        values = about.of(outcomes[one.visit])
        name = REGISTERED[one.reading.output]
        half = 1.96 * one.reading.u
        if one.reading.output == "fuel_flow":  # a mass here: shown as a share of what was read
            scale = 100.0 / one.reading.value
            read = Said("100", "%", f"{100 - half * scale:.1f} to {100 + half * scale:.1f}")
            low, middle, high = (scale * float(x) for x in np.quantile(values, [0.025, 0.5, 0.975]))
            model = Said(f"{middle:.1f}", "%", f"{low:.1f} to {high:.1f}")
        else:
            read = said_of(np.linspace(one.reading.value - half, one.reading.value + half, 401), name, system)
            read = _exact(read, one.reading.value, half, name, system)
            model = said_of(values, name, system)
        rows.append(FitShown(title=about.title, read=read, model=model, away=one.away, key=one.reading.key,
                             of=words[one.visit]))  # fmt: skip
    return tuple(rows)


def _exact(read: Said, value: float, half: float, name: str, system: System) -> Said:
    shown = show(value, name, system=system, interval=(value - half, value + half) if half > 0 else None)
    return Said(shown.value, read.unit, shown.interval)


def _worth(fit: FittedEngine, answer: Answer | None) -> tuple[Worth, ...]:
    """Return the readings that would narrow NOx as proposed most, those not yet taken."""
    if answer is None:
        return ()
    taken = {one.output for one in fit.modelled.visit.readings}
    open_ones = {name: u for name, (u, _, _) in CANDIDATES.items() if name not in taken}
    of_setting = readings_worth(fit, answer)
    where = dict.fromkeys(("nox_dry", "oxygen_dry"), " before the catalyst") if fit.modelled.near_one else {}
    ranked = [
        (gain, f"{CANDIDATES[name][1]}{where.get(name, '')}: {100 * gain:.0f} % of the doubt of the change of NOx "
         "would go.", CANDIDATES[name][2])
        for name, gain in worth_reading(fit.engine, answer, "nox_dry", open_ones)
        if gain >= WORTH
    ][:2]  # fmt: skip
    both = sorted([*ranked, *of_setting], key=lambda one: -one[0])
    return tuple(Worth(says=says, step=step) for _, says, step in both)


def _oxygen(fit: FittedEngine, answer: Answer | None, system: System) -> str:
    """Return the oxygen that the analyser would show: what it read, and the change by the model."""
    if answer is None:
        return ""
    now, then = draws_of(fit.engine, answer.outcome, "oxygen_dry")
    read = next((one.value for one in fit.modelled.visit.readings if one.output == "oxygen_dry"), None)
    values = then if read is None else read + (then - now)
    shown = show(float(np.median(values)), "exhaust_oxygen_dry", system=system)
    return f"{shown.value} {shown.unit}"


def narrowed_words(shown: LackingShown) -> str:
    """Return in one sentence what is missing."""
    names = [lower(one.title) for one in shown.readings]
    return f"Missing: {listed(names)}." if names else ""


__all__ = ["PARTS", "LackingShown", "Question", "WhatIfShown", "change_of", "whatif_shown"]
