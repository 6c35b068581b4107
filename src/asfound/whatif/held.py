"""The manifold pressure that a power asks for, and the exhaust pressure that goes with it."""

from __future__ import annotations

from collections.abc import Generator, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from asfound.errors import InputError
from asfound.quantities.typing import Array, Values
from asfound.whatif.bounds import bounds
from asfound.whatif.calibrate import Calibrated
from asfound.whatif.cases import beside, gases_beside, taken
from asfound.whatif.charge import charge
from asfound.whatif.engine import NO_NITRIC_OXIDE, QUICK, ROUGH, Outcome, Setting, run
from asfound.whatif.layers import LAYERS
from asfound.whatif.turbocharger import Turbocharger, exhaust_pressure_for

LEAST_POWER, MOST_POWER = 0.3, 1.15
"""Of the power now, between which the model may be asked (engineering judgement). [1]"""
TURNS = 5
"""Of the search for a manifold pressure, at most."""
NEAR = 0.06
"""A last step that is smaller leaves the power within a few thousandths. [1]"""


@dataclass(frozen=True, slots=True)
class Asked:
    """A setting at which the model is asked on the way, and how finely."""

    setting: Setting
    gas: Mapping[str, Values]
    steps: tuple[int, int, int]
    layers: int


Found = tuple[Setting, Outcome, list[str]]
Search = Generator[Asked, Outcome, Found]


def together(engine: Calibrated, searches: Sequence[Search]) -> list[Found]:
    """Return what several searches find: each goes its own way, and what they ask the model is asked in one call.

    A call costs nearly the same for one search as for five.
    """
    cases, first = engine.outcome.power.size, engine.settings[0]
    found: dict[int, Found] = {}
    asked = {at: next(one) for at, one in enumerate(searches)}
    while asked:
        kind = min((one.steps, one.layers) for one in asked.values())  # rough steps first: fine ones end a search
        now = [at for at, one in asked.items() if (one.steps, one.layers) == kind]
        outcome = run(
            engine.build, beside([asked[at].setting for at in now], cases),
            beside([engine.unknowns] * len(now), cases), gases_beside([asked[at].gas for at in now], cases),
            reference=beside([first] * len(now), cases), steps=kind[0], layers=kind[1],
        )  # fmt: skip
        for place, at in enumerate(now):
            part = slice(place * cases, (place + 1) * cases)
            try:
                asked[at] = searches[at].send(taken(outcome, part, len(now) * cases) if len(now) > 1 else outcome)
            except StopIteration as end:
                found[at] = end.value
                del asked[at]
    return [found[at] for at in range(len(searches))]


def search(
    engine: Calibrated,
    setting: Setting,
    gas: Mapping[str, Values],
    share: float | None,
    charger: Turbocharger | None,
) -> Search:
    """Search setting and outcome, the manifold pressure found for a power where one is asked.

    Manifold and exhaust pressure are looked for with rough steps and without nitric oxide: only ratios of powers
    count, and rough steps have these within a few thousandths. Whoever drives the search asks the model for what it
    yields (`together`).
    """
    first = engine.settings[0]
    start = np.asarray(first.manifold_pressure, dtype=float)
    outcome, assumed, lost = engine.outcome, start, start
    if share is not None:
        setting = _guessed(engine, setting, gas, share)
    for _ in range(TURNS if share is not None else int(charger is not None)):
        setting, _lacking = backed(setting, outcome, start, first, charger)
        outcome = yield Asked(setting, gas, ROUGH, NO_NITRIC_OXIDE)
        if share is None:
            break
        # indicated work goes with the charge: what friction takes stays
        lost = np.asarray(engine.unknowns.friction) * outcome.power / outcome.mean_effective_pressure
        more = (share * engine.rough_power + lost) / (outcome.power + lost)
        setting = setting.at(manifold_pressure=np.asarray(setting.manifold_pressure) * more)
        assumed = np.asarray(setting.exhaust_pressure) * more
        if float(np.max(np.abs(more - 1.0))) < NEAR:
            break
    setting, lacking = backed(setting, outcome, start, first, charger)
    if share is not None:  # what the exhaust pushes back other than assumed, the charge must bring
        pushed = (np.asarray(setting.exhaust_pressure) - assumed) * outcome.power / outcome.mean_effective_pressure
        more = 1.0 + pushed / (outcome.power + lost)
        setting = setting.at(manifold_pressure=np.asarray(setting.manifold_pressure) * more)
    outcome = yield Asked(setting, gas, QUICK, LAYERS)
    return setting, outcome, list(_unreached(setting, first, lacking if charger is not None else 0.0))


def _unreached(setting: Setting, first: Setting, lacking: float) -> Iterator[str]:
    """Say where the manifold pressure that is asked for may not be had."""
    if lacking > 0.05:
        yield f"In {100 * lacking:.0f} of 100 draws the exhaust has not enough for this manifold pressure."
    share = float(np.median(np.asarray(setting.manifold_pressure) / np.asarray(first.manifold_pressure))) - 1.0
    bound = bounds()["manifold_pressure"]
    if not bound.less <= share <= bound.more:
        yield (
            f"It takes {100 * abs(share):.0f} % {'more' if share > 0 else 'less'} manifold pressure than was read: "
            f"{bound.why}."
        )


def _guessed(engine: Calibrated, setting: Setting, gas: Mapping[str, Values], share: float) -> Setting:
    """Return the setting with the manifold pressure that brings as much heat as the power asks for, but for friction.

    Raises
    ------
    InputError
        The share is beyond what the model may be asked.
    """
    if not LEAST_POWER <= share <= MOST_POWER:
        raise InputError(
            "power_share", f"{share:g}", "is beyond what the model may be asked",
            allowed=f"{LEAST_POWER:g} to {MOST_POWER:g}",
        )  # fmt: skip
    first = engine.settings[0]
    now, then = (_heat_by_volume(one, fuel) for one, fuel in ((first, engine.fuel), (setting, gas)))
    pressure = np.asarray(setting.manifold_pressure) * (0.12 + 0.88 * share) * now / then
    return setting.at(manifold_pressure=pressure)


def _heat_by_volume(setting: Setting, gas: Mapping[str, Values]) -> Array:
    """Return the heat that a volume of charge brings at one pressure, to a constant."""
    mixed = charge(gas, np.atleast_1d(setting.excess_air_ratio), humidity=np.atleast_1d(setting.humidity))
    constant = mixed.fresh.gas_constant * np.asarray(setting.charge_temperature)
    found: Array = mixed.fuel * mixed.heating_value / constant
    return found


def backed(
    setting: Setting, seen: Outcome, start: Array, first: Setting, charger: Turbocharger | None
) -> tuple[Setting, float]:
    """Return the setting with its exhaust pressure, and the share of draws in which the turbocharger has not enough."""
    manifold = np.asarray(setting.manifold_pressure, dtype=float)
    if charger is None:
        moved = np.asarray(first.exhaust_pressure) * (manifold / start)
        return replace(setting, exhaust_pressure=np.maximum(moved, 0.7e5)), 0.0
    ratio = seen.fuel_flow / seen.air_flow
    back = exhaust_pressure_for(charger, manifold * np.ones_like(ratio), seen.exhaust_temperature, ratio)
    lacking = float(np.mean(~np.isfinite(back)))
    return replace(setting, exhaust_pressure=np.where(np.isfinite(back), back, 2.0 * manifold)), lacking
