"""Ask a fitted engine what a change would do: the same draws now and then, so that what is not known falls out.

Nothing is answered beyond the bounds of `data/bounds.csv`. What the model cannot know of a trend is added to every
difference as a share of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from asfound.quantities.typing import Array, Values
from asfound.whatif.bounds import bounds as bounds
from asfound.whatif.bounds import check_within
from asfound.whatif.calibrate import Calibrated
from asfound.whatif.charge_cooler import ChargeCooler
from asfound.whatif.engine import Outcome, Setting
from asfound.whatif.held import Found, Search, search, together
from asfound.whatif.seen import OUTPUTS, Knob
from asfound.whatif.turbocharger import LEAST, MOST, Turbocharger, overall_efficiency

TREND_DOUBT = 0.15
"""Standard uncertainty of a difference by the model, as a share of it (engineering judgement, no source). [1]"""
TOLD = (
    "power",
    "efficiency",
    "exhaust_temperature",
    "peak_pressure",
    "nox_dry",
    "nox_per_energy",
    "oxygen_dry",
    "knock",
)
"""Numbers of an answer; `knock` as a ratio to the integral now."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """One number now, then, and the difference; SI, with 95 in 100."""

    name: str
    title: str
    now: tuple[float, float, float]
    """Low, middle, high."""
    then: tuple[float, float, float]
    change: tuple[float, float, float]
    share: tuple[float, float, float]
    """Then over now. [1]"""
    chance_up: float
    """That it rises. [1]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a change would do."""

    setting: Setting
    """As asked, one for each draw."""
    changes: Mapping[Knob, float]
    numbers: tuple[Answered, ...]
    outcome: Outcome
    held: bool
    """Power was asked for."""
    says: tuple[str, ...]
    """What does not hold or cannot be reached, in words."""

    def number(self, name: str) -> Answered:
        """Return one number by name."""
        return next(one for one in self.numbers if one.name == name)


def ask(
    engine: Calibrated,
    changes: Mapping[Knob, float],
    *,
    fuel: Mapping[str, Values] | None = None,
    power_share: float | None = None,
    charger: Turbocharger | None = None,
    air: float = 0.0,
    cooler: ChargeCooler | None = None,
) -> Answer:
    """Return what a change of setting, gas, load or air outside would do.

    Parameters
    ----------
    engine : Calibrated
    changes : mapping of str to float
        What is added to each part of the setting. [SI]
    fuel : mapping, optional
        Another gas.
    power_share : float, optional
        Of the power now: the manifold pressure is found for it, mixture and timing as asked.
    charger : Turbocharger, optional
        With it the exhaust pressure follows from the balance; else it moves with the manifold pressure.
    air : float
        How much hotter the air outside is than it was read. [K]
    cooler : ChargeCooler, optional
        With it the charge air follows boost and air outside by its balance, unless it is itself asked for; else it
        moves with the air outside, degree by degree.

    Raises
    ------
    InputError
        A change is beyond what the model may be asked, or is none.
    """
    asked = _search(engine, changes, fuel, power_share, charger, air, cooler)
    return _answer(engine, changes, power_share, together(engine, [asked])[0])


def ask_each(
    engine: Calibrated,
    questions: Sequence[tuple[Mapping[Knob, float], float | None]],
    *,
    charger: Turbocharger | None = None,
) -> list[Answer]:
    """Return the answers to several questions, each changes and the share of the power: `ask` of each, in fewer calls.

    Raises
    ------
    InputError
        A change is beyond what the model may be asked, or is none.
    """
    searches = [_search(engine, changes, None, share, charger, 0.0, None) for changes, share in questions]
    found = together(engine, searches)
    return [_answer(engine, *asked, one) for asked, one in zip(questions, found, strict=True)]


def _search(
    engine: Calibrated,
    changes: Mapping[Knob, float],
    fuel: Mapping[str, Values] | None,
    power_share: float | None,
    charger: Turbocharger | None,
    air: float,
    cooler: ChargeCooler | None,
) -> Search:
    """Return the search of the setting that a question asks for."""
    now = engine.settings[0]
    for name, by in changes.items():
        check_within(now, name, by)
    setting = now.at(**{name: getattr(now, name) + by for name, by in changes.items()})
    if "charge_temperature" not in changes:
        setting = _cooled(setting, now, power_share, air, cooler)
    if charger is not None and air:
        charger = replace(charger, inlet_temperature=charger.inlet_temperature + air)
    return search(engine, setting, dict(engine.fuel if fuel is None else fuel), power_share, charger)


def _answer(engine: Calibrated, changes: Mapping[Knob, float], power_share: float | None, found: Found) -> Answer:
    """Return the answer to a question by what was found for it."""
    asked, outcome, says = found
    numbers = tuple(
        _answered(engine, name, outcome, given=name == "power" and power_share is not None) for name in TOLD
    )  # fmt: skip
    return Answer(setting=asked, changes=dict(changes), numbers=numbers, outcome=outcome, held=power_share is not None,
        says=tuple(says))  # fmt: skip


def _cooled(setting: Setting, now: Setting, share: float | None, air: float, cooler: ChargeCooler | None) -> Setting:
    """Return the setting with the charge air that boost and air outside make, by the cooler where it is known."""
    if cooler is None:
        shift: Values = air
    else:
        boost = np.asarray(setting.manifold_pressure) * (1.0 if share is None else 0.12 + 0.88 * share)
        shift = cooler.charge_temperature(boost, air) - cooler.charge_temperature(now.manifold_pressure)
    if not np.any(shift):
        return setting
    check_within(now, "charge_temperature", float(np.median(shift)))
    return setting.at(charge_temperature=setting.charge_temperature + shift)


def charger_of(engine: Calibrated, inlet_pressure: float, inlet_temperature: float) -> tuple[Turbocharger, str]:
    """Return the turbocharger that the readings speak of, and what is odd about it (empty: nothing)."""
    setting, outcome = engine.settings[0], engine.outcome
    cases = outcome.power.shape
    pressure, temperature = np.full(cases, inlet_pressure), np.full(cases, inlet_temperature)
    found = overall_efficiency(
        np.broadcast_to(setting.manifold_pressure, cases), np.broadcast_to(setting.exhaust_pressure, cases),
        outcome.exhaust_temperature, inlet_pressure=pressure, inlet_temperature=temperature,
        fuel_to_air=outcome.fuel_flow / outcome.air_flow,
    )  # fmt: skip
    middle = float(np.median(found))
    odd = "" if LEAST <= middle <= MOST else (
        f"Manifold and exhaust pressure ask for a turbocharger of {100 * middle:.0f} % overall; "
        f"{100 * LEAST:.0f} to {100 * MOST:.0f} % is usual"
    )  # fmt: skip
    return Turbocharger(np.clip(found, LEAST, MOST), temperature, pressure), odd


def spread_draws(by: Array, draws: int) -> Array:
    """Return where a few draws stand that are spread evenly over a number."""
    order = np.argsort(by)
    found: Array = order[np.linspace(0, len(order) - 1, draws + 2).astype(int)[1:-1]]
    return found


def draws_of(engine: Calibrated, outcome: Outcome, name: str, *, given: bool = False) -> tuple[Array, Array]:
    """Return a number now and then, draw by draw, the doubt of a trend in it.

    Parameters
    ----------
    engine : Calibrated
    outcome : Outcome
        Then.
    name : str
        Of the number; `knock` is over the integral now.
    given : bool
        It was asked for, so its change is no prediction.
    """
    one, two = np.asarray(_of(engine.outcome, name)), np.asarray(_of(outcome, name))
    if name == "knock":
        one, two = np.ones_like(one), two / one
    wide = 1.0 + (0.0 if given else TREND_DOUBT) * np.random.default_rng(7).standard_normal(one.size)
    if name in ("knock", "nox_per_energy") or OUTPUTS[name].log:
        share = np.exp(np.log(np.maximum(two, 1e-30) / np.maximum(one, 1e-30)) * wide)
        return one, share * one
    return one, one + (two - one) * wide


def _answered(engine: Calibrated, name: str, then: Outcome, *, given: bool = False) -> Answered:
    """Return one number now and then."""
    one, after = draws_of(engine, then, name, given=given)
    change = after - one
    return Answered(
        name=name, title=TITLES.get(name) or OUTPUTS[name].title, now=_three(one), then=_three(after),
        change=_three(change), share=_three(after / np.where(one != 0.0, one, np.nan)),
        chance_up=float(np.mean(change > 0.0)),
    )  # fmt: skip


TITLES = {"nox_per_energy": "NOx per energy", "knock": "Nearness to knock, 1 as it runs now"}


def _of(outcome: Outcome, name: str) -> Array:
    if name in ("nox_per_energy", "knock"):
        found: Array = getattr(outcome, name)
        return found
    return OUTPUTS[name].of(outcome)


def _three(values: Array) -> tuple[float, float, float]:
    low, middle, high = np.quantile(values, [0.025, 0.5, 0.975])
    return float(low), float(middle), float(high)


def worth_reading(
    engine: Calibrated, answer: Answer, target: str, candidates: Mapping[str, float]
) -> Sequence[tuple[str, float]]:
    """Return how much of the doubt of a target each further reading would take away, the best first.

    Parameters
    ----------
    engine : Calibrated
    answer : Answer
    target : str
        Name of a number of the answer.
    candidates : mapping of str to float
        Names of `seen.OUTPUTS` to the standard uncertainty with which each would be read, as it is compared.

    Notes
    -----
    Of the draws' covariance: what is left of a variance after one more reading is 1 - cov² / (var (var_read + u²)).
    """
    wanted = _change_of(engine, answer, target)
    found = []
    for name, u in candidates.items():
        about = OUTPUTS[name]
        seen = about.compared(about.of(engine.outcome))
        found.append((name, _gain(wanted, seen, float(np.hypot(u, about.model)))))
    return sorted(found, key=lambda one: -one[1])


def worth_setting(engine: Calibrated, answer: Answer, target: str, knob: Knob, u: float) -> float:
    """Return how much of the doubt of a target a reading of a part of the setting would take away. [1]

    Parameters
    ----------
    engine : Calibrated
    answer : Answer
    target : str
        Name of a number of the answer.
    knob : str
    u : float
        Standard uncertainty with which it would be read. [SI]
    """
    set_at = np.asarray(getattr(engine.settings[0], knob), dtype=float)
    if set_at.ndim == 0:
        return 0.0
    return _gain(_change_of(engine, answer, target), set_at, u)


def _change_of(engine: Calibrated, answer: Answer, target: str) -> Array:
    """Return the change of a number in its logarithm, draw by draw."""
    now, then = _of(engine.outcome, target), _of(answer.outcome, target)
    found: Array = np.log(np.maximum(then, 1e-30)) - np.log(np.maximum(now, 1e-30))
    return found


def _gain(wanted: Array, seen: Array, doubt: float) -> float:
    """Return the share of a doubt that one more reading takes away."""
    both = np.cov(wanted, seen)
    left = 1.0 - both[0, 1] ** 2 / (both[0, 0] * (both[1, 1] + doubt**2)) if both[0, 0] > 0 else 1.0
    return float(1.0 - np.sqrt(max(left, 0.0)))
