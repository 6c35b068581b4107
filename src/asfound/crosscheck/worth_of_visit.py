"""Which one more measurement would tell who lies, or, where nobody does, would sharpen what is wanted most."""

from __future__ import annotations

from dataclasses import dataclass

from asfound.crosscheck.assemble import Assembled
from asfound.crosscheck.identify import Identification
from asfound.crosscheck.looks import measured_again
from asfound.crosscheck.reconcile import Reconciled
from asfound.crosscheck.worth import worth_for_quantity, worth_for_suspects

MOST = 5
"""Measurements that are told."""
LEAST_GAIN = 0.02
"""Of the probability, or of the uncertainty, below which a measurement is not worth telling. [1]"""
UNKNOWNS = {"brake_power": ("Engine power", "engine_power", 0.015), "fuel": ("Fuel flow", "", 0.01)}
"""What could be measured though it stands in no reading: title, quantity, standard uncertainty as a share."""
ITSELF = {"brake_power": ("engine_power",)}
WANTED = ("brake_power", "excess_air_ratio")


@dataclass(frozen=True, slots=True, kw_only=True)
class OneMore:
    """What one more measurement, with another instrument, would bring."""

    name: str
    title: str
    quantity: str
    u: float
    """Standard uncertainty that it was reckoned with. [SI]"""
    before: float
    after: float
    """Probability of naming the wrong one, now and as expected after it; uncertainty of a wanted value. [1 or SI]"""
    wanted: str = ""
    """Name of the value whose doubt it would shrink; empty: it would tell who lies."""


def one_more(assembled: Assembled, who: Identification, best: Reconciled) -> tuple[OneMore, ...]:
    """Return the measurements worth most, the best first."""
    candidates = _candidates(best)
    if who.verdict != "nobody":
        found = worth_for_suspects(who, candidates)
        told = [one for one in found if one.gain > LEAST_GAIN][:MOST]
        return tuple(_row(assembled, one.name, one.u, one.before, one.after, "") for one in told)
    wanted = next((name for name in WANTED if name in best.balances.unmeasured), None)
    if wanted is None:
        return ()
    others = {name: u for name, u in candidates.items() if name not in (wanted, *ITSELF.get(wanted, ()))}
    shrunk = worth_for_quantity(best, wanted, others)
    return tuple(
        _row(assembled, one.name, one.u, one.before, one.after, wanted)
        for one in shrunk[:MOST]
        if one.gain > LEAST_GAIN
    )


def _candidates(best: Reconciled) -> dict[str, float]:
    """Return what could be measured once more with the uncertainty that it would have. [SI]"""
    found: dict[str, float] = {}
    for name, value in zip(best.readings.names, best.x, strict=True):
        u = measured_again(name, float(value))
        if u is not None and u > 0:
            found[name] = u
    for at, name in enumerate(best.balances.unmeasured):
        if name in UNKNOWNS and best.unmeasured[at] > 0:
            found[name] = UNKNOWNS[name][2] * float(best.unmeasured[at])
    return found


def _row(assembled: Assembled, name: str, u: float, before: float, after: float, wanted: str) -> OneMore:
    title, quantity = (
        UNKNOWNS[name][:2] if name in UNKNOWNS else (assembled.values[name].title, assembled.values[name].quantity)
    )
    return OneMore(name=name, title=title, quantity=quantity, u=u, before=before, after=after, wanted=wanted)
