"""What a fitted engine is asked for: what moves what, which setting is best under limits, how to get somewhere."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from asfound.exhaust.reference_oxygen import OXYGEN_IN_AIR, at_reference_oxygen
from asfound.quantities.typing import Array
from asfound.whatif.ask import Answer, _of, ask, ask_each, spread_draws
from asfound.whatif.bounds import bounds
from asfound.whatif.calibrate import Calibrated
from asfound.whatif.cases import taken
from asfound.whatif.charge import charge
from asfound.whatif.engine import NO_NITRIC_OXIDE, QUICK, ROUGH, Outcome, Setting, Unknowns, run
from asfound.whatif.held import backed
from asfound.whatif.seen import Knob
from asfound.whatif.turbocharger import Turbocharger

STEPS: dict[Knob, float] = {
    "timing": np.radians(-1.0), "excess_air_ratio": 0.02, "charge_temperature": 5.0, "manifold_pressure": 4e3,
    "humidity": 0.005,
}  # fmt: skip
"""What the table of sensitivities changes: one degree earlier, 0.02 leaner, 5 K warmer, 0.04 bar more, 5 mmol more."""
FEW = 12
"""Draws of a map: enough to see how wide it is, few enough to answer at once."""
TURNS = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What must not be passed; infinite where there is no such limit. SI."""

    nox_dry: float = np.inf
    nox_per_energy: float = np.inf
    nox_at_reference: float = np.inf
    """Of dry exhaust, counted at `reference_oxygen`. [mol/mol]"""
    reference_oxygen: float = 0.15
    oxygen_in_air: float = OXYGEN_IN_AIR
    exhaust_temperature: float = np.inf
    peak_pressure: float = np.inf
    knock: float = np.inf
    """Of the integral over the one now. [1]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Map:
    """Timing against mixture at one power; arrays of shape (timings, mixtures), draws along the last axis."""

    timing: Array
    """[rad]"""
    excess_air_ratio: Array
    efficiency: Array
    nox_dry: Array
    nox_per_energy: Array
    nox_at_reference: Array
    """At the reference oxygen of the limits, by the outcome's own oxygen. [mol/mol]"""
    exhaust_temperature: Array
    peak_pressure: Array
    knock: Array
    """Over the integral now."""


def sensitivities(
    engine: Calibrated,
    *,
    power_share: float | None = None,
    charger: Turbocharger | None = None,
    more: float | None = None,
) -> dict[str, Answer]:
    """Return what a small change of each part of the setting does, one at a time, by its name.

    Where a power is asked for, the manifold pressure follows from it and is not among them. With ``more``, a share of
    the power now, what that power does stands behind them as ``power``.
    """
    knobs = [one for one in STEPS if power_share is None or one != "manifold_pressure"]
    asked: dict[str, tuple[Mapping[Knob, float], float | None]] = {
        one: ({one: STEPS[one]}, power_share) for one in knobs
    }
    if more is not None:
        asked["power"] = {}, more
    return dict(zip(asked, ask_each(engine, list(asked.values()), charger=charger), strict=True))


def few(engine: Calibrated, draws: int = FEW) -> Calibrated:
    """Return the engine with few of its draws, spread evenly over its nitric oxide."""
    at = spread_draws(engine.outcome.nox_dry, draws)

    def cut(one: object) -> object:
        array = np.asarray(one)
        return array[at] if array.ndim == 1 and array.size == engine.outcome.power.size else one

    unknowns = Unknowns(**{f.name: cut(getattr(engine.unknowns, f.name)) for f in fields(Unknowns)})  # type: ignore[arg-type]
    first = engine.settings[0]
    setting = Setting(**{f.name: cut(getattr(first, f.name)) for f in fields(Setting)})  # type: ignore[arg-type]
    outcomes = tuple(taken(one, at, engine.outcome.power.size) for one in engine.outcomes)
    return replace(
        engine, unknowns=unknowns, settings=(setting, *engine.settings[1:]), outcomes=outcomes,
        rough_power=engine.rough_power[at],
    )  # fmt: skip


def map_of(
    engine: Calibrated,
    limits: Limits = Limits(),
    *,
    timings: Sequence[float] = tuple(np.radians(np.linspace(-6.0, 6.0, 7))),
    mixtures: Sequence[float] = tuple(np.linspace(-0.15, 0.15, 7)),
    draws: int = FEW,
    charger: Turbocharger | None = None,
) -> Map:
    """Return the map of timing and mixture at the power that was read.

    Parameters
    ----------
    engine : Calibrated
    limits : Limits
        Of these only the reference oxygen counts here; see `optimum.optimum`.
    timings, mixtures : sequence of float
        What is added to timing [rad] and excess air ratio.
    draws : int
        Of the engine that are taken.
    charger : Turbocharger, optional
        Of all draws: with it the exhaust pressure follows from the balance, else it moves with the manifold pressure.
    """
    part = few(engine, draws)
    first, unknowns = part.settings[0], part.unknowns
    shape = (len(timings), len(mixtures), draws)
    by_timing, by_mixture = (one.ravel() for one in np.broadcast_arrays(
        np.asarray(timings)[:, None, None], np.asarray(mixtures)[None, :, None], np.zeros(shape)
    )[:2])  # fmt: skip

    def spread(one: object) -> Array:
        return np.broadcast_to(np.asarray(one, dtype=float), shape).ravel()

    all_unknowns = Unknowns(**{f.name: spread(getattr(unknowns, f.name)) for f in fields(Unknowns)})
    reference = Setting(**{f.name: spread(getattr(first, f.name)) for f in fields(Setting)})
    setting = reference.at(
        timing=np.asarray(reference.timing) + by_timing,
        excess_air_ratio=np.asarray(reference.excess_air_ratio) + by_mixture,
    )
    wanted = spread(part.rough_power)
    # the heat that a volume of charge brings goes with the mixture: the first guess
    setting = _scaled(setting, _bulk(setting, engine) / _bulk(reference, engine))
    rough = run(
        engine.build, setting, all_unknowns, engine.fuel, reference=reference, steps=ROUGH, layers=NO_NITRIC_OXIDE
    )
    lost = np.asarray(all_unknowns.friction) * rough.power / rough.mean_effective_pressure
    setting = _scaled(setting, np.clip((wanted + lost) / (rough.power + lost), 0.5, 1.6))
    if charger is not None:
        at = spread_draws(engine.outcome.nox_dry, draws)
        mine = replace(charger, **{f.name: spread(np.asarray(getattr(charger, f.name))[at]) for f in fields(charger)})
        assumed = np.asarray(setting.exhaust_pressure)
        setting, _ = backed(setting, rough, np.asarray(reference.manifold_pressure), reference, mine)
        pushed = (np.asarray(setting.exhaust_pressure) - assumed) * rough.power / rough.mean_effective_pressure
        more = 1.0 + pushed / (rough.power + lost)
        setting = setting.at(manifold_pressure=np.asarray(setting.manifold_pressure) * more)
    found = run(engine.build, setting, all_unknowns, engine.fuel, reference=reference, steps=QUICK)
    return _map(engine, part.outcome, found, limits, shape, np.asarray(timings), np.asarray(mixtures))


def _bulk(setting: Setting, engine: Calibrated) -> Array:
    """Return the volume of charge that brings a given heat, to a constant."""
    mixed = charge(engine.fuel, setting.excess_air_ratio, humidity=setting.humidity)
    found: Array = mixed.fresh.gas_constant * np.asarray(setting.charge_temperature) / mixed.fuel
    return found


def _scaled(setting: Setting, by: Array) -> Setting:
    """Return the setting with manifold and exhaust pressure times a number."""
    return setting.at(
        manifold_pressure=np.asarray(setting.manifold_pressure) * by,
        exhaust_pressure=np.asarray(setting.exhaust_pressure) * by,
    )


def _map(
    engine: Calibrated, now: Outcome, found: Outcome, limits: Limits, shape: tuple[int, int, int], timings: Array,
    mixtures: Array,
) -> Map:  # fmt: skip
    """Return the map."""
    first = engine.settings[0]
    named = {name: _of(found, name).reshape(shape) for name in (
        "efficiency", "nox_dry", "nox_per_energy", "exhaust_temperature", "peak_pressure"
    )}  # fmt: skip
    level = limits.reference_oxygen, limits.oxygen_in_air
    named["nox_at_reference"] = np.reshape(at_reference_oxygen(found.nox_dry, found.oxygen_dry, *level), shape)
    knock = found.knock.reshape(shape) / now.knock
    return Map(
        timing=float(np.median(np.asarray(first.timing))) + timings,
        excess_air_ratio=float(np.median(np.asarray(first.excess_air_ratio))) + mixtures, knock=knock, **named,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One change of one part of the setting that brings what is wanted, with what else it does."""

    knob: Knob
    by: float
    """[SI]"""
    answer: Answer
    reached: bool
    """Within the bounds; else the answer is at the bound."""


def ways_to(
    engine: Calibrated,
    target: str,
    share: float,
    knobs: Sequence[Knob] = tuple(STEPS),
    *,
    power_share: float | None = None,
    charger: Turbocharger | None = None,
) -> tuple[Way, ...]:
    """Return for each part of the setting the change that brings a number to a share of what it is now.

    Parameters
    ----------
    engine : Calibrated
    target : str
        Name of a number of an answer.
    share : float
        Wanted over now, by the middle of the draws. [1]
    knobs : sequence of str
        Parts of the setting to be tried, one at a time.
    power_share : float, optional
        Of the power now, held by the manifold pressure (which is then none of the knobs).
    charger : Turbocharger, optional
        For the answers; the search goes without.
    """
    small = few(engine, 7)
    found = []
    for knob in knobs:
        if power_share is not None and knob == "manifold_pressure":
            continue
        by, reached = _solve(engine, small, knob, target, share, power_share)
        answer = ask(engine, {knob: by}, power_share=power_share, charger=charger)
        found.append(Way(knob=knob, by=by, answer=answer, reached=reached))
    return tuple(sorted(found, key=lambda one: not one.reached))


def _solve(
    engine: Calibrated, small: Calibrated, knob: Knob, target: str, share: float, power_share: float | None
) -> tuple[float, bool]:
    """Return the change within the bounds that brings the target, and whether it does."""
    bound = bounds()[knob]
    ends = []
    for one in (engine, small):  # their middles differ a little, and both are asked
        middle = float(np.median(np.asarray(getattr(one.settings[0], knob))))
        scale = middle if bound.relative else 1.0
        ends.append((max(bound.less * scale, bound.low - middle), min(bound.more * scale, bound.high - middle)))
    low, high = max(one[0] for one in ends) * 0.999, min(one[1] for one in ends) * 0.999

    def miss(by: float) -> float:
        found = ask(small, {knob: by}, power_share=power_share).number(target).share[1]
        return float(np.log(max(found, 1e-9) / share))

    at_low, at_high = miss(low), miss(high)
    now_off = -float(np.log(share))
    if at_low * at_high > 0 > now_off * at_low:  # over a hump both ends get there: NOx is highest just lean of lambda 1
        high, at_high = 0.0, now_off
    if at_low * at_high > 0:
        nearer = (low, at_low) if abs(at_low) < abs(at_high) else (high, at_high)
        return nearer[0], abs(nearer[1]) < 1e-3
    for _ in range(TURNS):  # false position, halved where it hangs on one end
        by = high - at_high * (high - low) / (at_high - at_low)
        by = by if min(by - low, high - by) > 0.02 * (high - low) else 0.5 * (low + high)
        now = miss(by)
        if abs(now) < 2e-3:
            return by, True
        if now * at_low > 0:
            low, at_low = by, now
        else:
            high, at_high = by, now
    return 0.5 * (low + high), True
