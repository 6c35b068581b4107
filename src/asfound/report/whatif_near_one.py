"""What is said of a question besides its numbers: near lambda 1, and where usual values stand for what nobody read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

import numpy as np

from asfound.errors import AsFoundError
from asfound.exhaust.facts import fact
from asfound.quantities.display import show
from asfound.quantities.register import quantity
from asfound.report.content_crosscheck_words import listed, lower
from asfound.whatif.ask import worth_setting
from asfound.whatif.charge import air_by_mixer
from asfound.whatif.usual import GAS, usual

if TYPE_CHECKING:
    from asfound.quantities.typing import Array
    from asfound.report.whatif_fit import FittedEngine
    from asfound.report.wording import System
    from asfound.whatif.ask import Answer
    from asfound.whatif.seen import Knob

HOTTEST = 1073.0
"""Exhaust at the ports that no gas engine stands for long (engineering judgement). [K]"""
KNOBS: dict[str, Knob] = {
    "excess_air_ratio": "excess_air_ratio", "ignition_timing": "timing", "manifold_temperature": "charge_temperature",
}  # fmt: skip
"""Quantities of the setting that may be assumed, and what the model calls them."""
TELLS = 0.01
"""Change of lambda with the mixer left alone from which on it is told. [1]"""
RUNS = {True: (0.93, 1.10), False: (1.45, 2.05)}
"""Lambda between which an engine near lambda 1, and a lean one, runs without harm (engineering judgement)."""
LEANER = 1.002
"""Lambda from which on a three-way catalyst is beyond its window."""
SURE = 0.9
"""Share of the draws that must lie beyond the window before that is said (engineering judgement). [1]"""


def notes_of(
    fit: FittedEngine, answer: Answer | None, system: System, fuel: Mapping[str, float] | None = None
) -> Iterator[str]:
    """Yield what is to be said beside an answer; `fuel` is the other gas that was asked about."""
    found = fit.modelled
    if found.unread:
        yield (
            f"Usual values stand for {listed([_named(one) for one in found.unread])}, which nobody read: the intervals "
            "hold that doubt, and the directions are surer than the numbers."
        )
    yield from _too_hot(fit, system)
    if answer is not None and fuel is not None:
        yield from _other_gas(fit, answer, fuel)
    if found.near_one and answer is not None and "excess_air_ratio" in answer.changes:
        yield from _window(np.asarray(answer.setting.excess_air_ratio, dtype=float))


def _other_gas(fit: FittedEngine, answer: Answer, fuel: Mapping[str, float]) -> Iterator[str]:
    """Say what mixture another gas would make with the mixer left alone: the answer is for the one that was asked."""
    try:
        share = air_by_mixer(fit.engine.fuel) / air_by_mixer(fuel)
    except (AsFoundError, ZeroDivisionError):
        return
    if abs(share - 1.0) < TELLS:
        return
    now, asked = (
        float(np.median(np.asarray(one.excess_air_ratio))) for one in (fit.engine.settings[0], answer.setting)
    )
    alone = now * share
    rich, lean = RUNS[fit.modelled.near_one]
    means = ""
    if alone < rich:
        means = (
            ": far too rich, with CO in room and stack, backfiring, a catalyst that overheats" if fit.modelled.near_one
            else ": too rich, with knock and much NOx"
        )  # fmt: skip
    elif alone > lean:
        means = ": too lean, with misfire and unburned gas in the exhaust, which can explode there"
    yield (
        f"The answer is for lambda {asked:.2f} on the other gas, set anew. With mixer and gas pressure left alone it "
        f"would come to about lambda {alone:.2f}{means}. A change-over is made unloaded or at low load, the mixture "
        "first, by the documents of engine and gas train."
    )


def _named(name: str) -> str:
    return "the gas" if name == GAS else lower(quantity(name).title)


def _too_hot(fit: FittedEngine, system: System) -> Iterator[str]:
    """Say where nobody read the exhaust and the model makes it hotter than can be."""
    if any(one.output == "exhaust_temperature" for one in fit.modelled.visit.readings):
        return
    hot = float(np.median(fit.engine.outcome.exhaust_temperature))
    if hot > HOTTEST:
        shown = show(hot, "exhaust_median", system=system)
        yield (
            f"With these readings the model comes to {shown.value} {shown.unit} at the ports, which no such engine "
            "stands: manifold pressure and power do not belong together. Look whether the manifold pressure is gauge "
            "or absolute and read between throttle and cylinders, and read the exhaust before anything is set."
        )


def _window(ratios: Array) -> Iterator[str]:
    ratio, least = float(np.median(ratios)), fact("three_way.lambda").low_si
    if float(np.mean(ratios > LEANER)) >= SURE:
        yield (
            f"At lambda {ratio:.3f} a three-way catalyst has oxygen left and takes little NOx out: what leaves the "
            "stack hangs on the catalyst then, and can be many times what the permit allows."
        )
    elif float(np.mean(ratios < least)) >= SURE:
        yield (
            f"At lambda {ratio:.3f}, below about {least:g}, a three-way catalyst lets CO and unburned gas through and "
            "makes ammonia of NO. More CO in the room and in the stack: mind the gas detector."
        )
    yield (
        "An analyser tells lambda no nearer than the width of the catalyst's window: go by NOx and CO behind it. The "
        "controller holds the mixture by its sensor, so its set point is moved, in steps of 0.002 to 0.005 "
        "(engineering judgement), and both sides are read after each."
    )


def readings_worth(fit: FittedEngine, answer: Answer) -> list[tuple[float, str, str]]:
    """Return the parts of the setting that nobody read by how much of the doubt of the change of NOx they would take.

    Each as (share, sentence, step); the gas last, since what it would take away is not in the draws.
    """
    found: list[tuple[float, str, str]] = []
    for name in fit.modelled.unread:
        stands = None if name == GAS else usual(name, near_one=fit.modelled.near_one)
        if stands is not None:
            gain = worth_setting(fit.engine, answer, "nox_dry", KNOBS[name], stands.again)
            about = quantity(name)
            says = f"{about.title}: {100 * gain:.0f} % of the doubt of the change of NOx would go."
            found.append((gain, says, about.step))
    found.sort(key=lambda one: -one[0])
    if GAS in fit.modelled.unread:
        found.append((0.0, "An analysis of the gas: methane number and heat of the fuel could be told.", "fuel"))
    return found
