"""What is said of a question besides its numbers: near lambda 1, and where usual values stand for what nobody read."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from asfound.exhaust.facts import fact
from asfound.quantities.display import show
from asfound.quantities.register import quantity
from asfound.report.content_crosscheck_words import listed, lower
from asfound.whatif.ask import worth_setting
from asfound.whatif.usual import GAS, usual

if TYPE_CHECKING:
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
LEANER = 1.002
"""Lambda from which on a three-way catalyst is said to be without its window; analysers tell no less."""


def notes_of(fit: FittedEngine, answer: Answer | None, system: System) -> Iterator[str]:
    """Yield what is to be said beside an answer."""
    found = fit.modelled
    if found.unread:
        yield (
            f"Usual values stand for {listed([_named(one) for one in found.unread])}, which nobody read: the intervals "
            "hold that doubt, and the directions are surer than the numbers."
        )
    yield from _too_hot(fit, system)
    if found.near_one and answer is not None and "excess_air_ratio" in answer.changes:
        yield from _window(float(np.median(np.asarray(answer.setting.excess_air_ratio))))


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


def _window(ratio: float) -> Iterator[str]:
    least = fact("three_way.lambda").low_si
    if ratio > LEANER:
        yield (
            f"At lambda {ratio:.3f} a three-way catalyst has oxygen left and takes little NOx out: what leaves the "
            "stack hangs on the catalyst then, and can be many times what the permit allows."
        )
    elif ratio < least:
        yield (
            f"At lambda {ratio:.3f}, below about {least:g}, a three-way catalyst lets CO and unburned gas through and "
            "makes ammonia of NO. More CO in the room and in the stack: mind the gas detector."
        )
    yield (
        "On an engine near lambda 1 the controller holds the mixture by its sensor: change its set point, in steps of "
        "0.002 to 0.005, and read before and behind the catalyst after each. The size of a step is engineering "
        "judgement."
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
