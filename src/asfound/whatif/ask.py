"""Ask a fitted engine what a change would do: the same draws now and then, so that what is not known falls out.

Nothing is answered beyond the bounds of `data/bounds.csv`. What the model cannot know of a trend is added to every
difference as a share of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from asfound.errors import InputError
from asfound.quantities.typing import Array, Values
from asfound.sources.tables import load_csv
from asfound.whatif.calibrate import Calibrated
from asfound.whatif.engine import QUICK, Outcome, Setting, run
from asfound.whatif.seen import OUTPUTS, Knob
from asfound.whatif.turbocharger import LEAST, MOST, Turbocharger, exhaust_pressure_for, overall_efficiency

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
class Bound:
    """How far a part of the setting may be changed from where it was read, and its own ends; SI."""

    knob: Knob
    title: str
    less: float
    more: float
    low: float
    high: float
    relative: bool
    why: str


@cache
def bounds() -> dict[str, Bound]:
    """Return the bounds by the name of what is changed."""
    made = {}
    for row in load_csv("asfound.whatif", "data/bounds.csv"):
        scale = np.pi / 180.0 if row["unit"] == "deg" else np.pi / 30.0 if row["unit"] == "r/min" else 1.0
        scale = 1e5 if row["unit"] == "bar" else scale
        by = 1.0 if row["relative"] == "yes" else scale
        made[row["name"]] = Bound(
            knob=row["name"],  # type: ignore[arg-type]
            title=row["title"],
            less=float(row["less"]) * by,
            more=float(row["more"]) * by,
            low=float(row["low"]) * scale,
            high=float(row["high"]) * scale,
            relative=row["relative"] == "yes",
            why=row["why"],
        )
    return made


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
) -> Answer:
    """Return what a change of setting, gas or load would do.

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

    Raises
    ------
    InputError
        A change is beyond what the model may be asked, or is none.
    """
    now = engine.settings[0]
    for name, by in changes.items():
        _within(now, name, by)
    setting = now.at(**{name: getattr(now, name) + by for name, by in changes.items()})
    gas = dict(engine.fuel if fuel is None else fuel)
    asked, outcome, says = _at_power(engine, setting, gas, power_share, charger)
    numbers = tuple(_answered(engine, name, outcome) for name in TOLD)
    return Answer(setting=asked, changes=dict(changes), numbers=numbers, outcome=outcome, says=tuple(says))


def _within(now: Setting, name: str, by: float) -> None:
    """Refuse a change beyond the bounds."""
    if name not in bounds():
        raise InputError("change", name, "is not a setting that the model can change", allowed=", ".join(bounds()))
    bound = bounds()[name]
    middle = float(np.median(np.asarray(getattr(now, name))))
    less, more = (bound.less * middle, bound.more * middle) if bound.relative else (bound.less, bound.more)
    if not (np.isfinite(by) and less <= by <= more and bound.low <= middle + by <= bound.high):
        low, high = max(middle + less, bound.low), min(middle + more, bound.high)
        raise InputError(
            name, f"{middle + by:.4g}", f"is beyond what the model may be asked: {bound.why}",
            allowed=f"{low:.4g} to {high:.4g} (SI)",
            try_next="Ask for a smaller step, make it at the engine, read again, and ask anew.",
        )  # fmt: skip


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


def _at_power(
    engine: Calibrated,
    setting: Setting,
    gas: Mapping[str, Values],
    share: float | None,
    charger: Turbocharger | None,
) -> tuple[Setting, Outcome, list[str]]:
    """Return setting and outcome, the manifold pressure found for a power where one is asked."""
    first = engine.settings[0]
    start = np.asarray(first.manifold_pressure, dtype=float)
    wanted = None if share is None else share * engine.outcome.power
    says: list[str] = []
    if wanted is not None:
        if not 0.3 <= float(share or 0) <= 1.15:
            raise InputError(
                "power_share", f"{share:g}", "is beyond what the model may be asked", allowed="0.3 to 1.15"
            )
        setting = setting.at(
            manifold_pressure=np.asarray(setting.manifold_pressure) * (0.12 + 0.88 * float(share or 1))
        )
    outcome = engine.outcome
    for _ in range(4 if wanted is not None else 2):
        setting, lacking = _backed(setting, outcome, start, first, charger)
        outcome = run(engine.build, setting, engine.unknowns, gas, reference=first, steps=QUICK)
        if wanted is None:
            if charger is None:
                break
            continue
        # indicated work goes with the charge: what friction takes stays
        swept = outcome.power / outcome.mean_effective_pressure
        lost = np.asarray(engine.unknowns.friction) * swept
        setting = setting.at(
            manifold_pressure=np.asarray(setting.manifold_pressure) * (wanted + lost) / (outcome.power + lost)
        )
    if wanted is not None:
        outcome = run(engine.build, setting, engine.unknowns, gas, reference=first, steps=QUICK)
    if charger is not None and lacking > 0.05:
        says.append(f"In {100 * lacking:.0f} of 100 draws the exhaust has not enough for this manifold pressure.")
    return setting, outcome, says


def _backed(
    setting: Setting, outcome: Outcome, start: Array, first: Setting, charger: Turbocharger | None
) -> tuple[Setting, float]:
    """Return the setting with its exhaust pressure, and the share of draws in which the turbocharger has not enough."""
    manifold = np.asarray(setting.manifold_pressure, dtype=float)
    if charger is None:
        moved = np.asarray(first.exhaust_pressure) * (manifold / start)
        return replace(setting, exhaust_pressure=np.maximum(moved, 0.7e5)), 0.0
    ratio = outcome.fuel_flow / outcome.air_flow
    back = exhaust_pressure_for(charger, manifold * np.ones_like(ratio), outcome.exhaust_temperature, ratio)
    lacking = float(np.mean(~np.isfinite(back)))
    return replace(setting, exhaust_pressure=np.where(np.isfinite(back), back, 2.0 * manifold)), lacking


def _answered(engine: Calibrated, name: str, then: Outcome) -> Answered:
    """Return one number now and then."""
    one, two = np.asarray(_of(engine.outcome, name)), np.asarray(_of(then, name))
    if name == "knock":
        scale = one.copy()
        one, two = one / scale, two / scale
    noise = np.random.default_rng(7).standard_normal(one.size)
    wide = 1.0 + TREND_DOUBT * noise
    log = name in ("knock", "nox_per_energy") or OUTPUTS[name].log
    share = np.exp(np.log(np.maximum(two, 1e-30) / np.maximum(one, 1e-30)) * wide) if log else None
    change = (share - 1.0) * one if share is not None else (two - one) * wide
    after = one + change
    ratio = after / np.where(one != 0.0, one, np.nan)
    return Answered(
        name=name, title=TITLES.get(name) or OUTPUTS[name].title, now=_three(one), then=_three(after),
        change=_three(change), share=_three(ratio), chance_up=float(np.mean(change > 0.0)),
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
    wanted = np.log(np.maximum(_of(answer.outcome, target), 1e-30)) - np.log(
        np.maximum(_of(engine.outcome, target), 1e-30)
    )
    found = []
    for name, u in candidates.items():
        about = OUTPUTS[name]
        seen = about.compared(about.of(engine.outcome))
        both = np.cov(wanted, seen)
        doubt = float(np.hypot(u, about.model))
        left = 1.0 - both[0, 1] ** 2 / (both[0, 0] * (both[1, 1] + doubt**2)) if both[0, 0] > 0 else 1.0
        found.append((name, float(1.0 - np.sqrt(max(left, 0.0)))))
    return sorted(found, key=lambda one: -one[1])
