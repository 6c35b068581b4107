"""The engine of a visit as the model was fitted to it: made once for what it is made from, and remembered."""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from asfound.errors import AsFoundError
from asfound.quantities.findings import Case
from asfound.quantities.kept_with import kept_with
from asfound.report.content_lanes import STATE_WORDS
from asfound.report.whatif_how import How
from asfound.report.wording import day_words
from asfound.whatif.ask import charger_of
from asfound.whatif.calibrate import Calibrated, calibrate
from asfound.whatif.charge_cooler import ChargeCooler, cooler_of
from asfound.whatif.of_case import Lacking, Modelled, modelled

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Iterator

    from asfound.quantities.words import State
    from asfound.records.visit import VisitView
    from asfound.whatif.posterior import Remember
    from asfound.whatif.seen import Visit
    from asfound.whatif.turbocharger import Turbocharger

Made = TypeVar("Made")
NO_SENSE = (
    "With these readings the model comes to no engine that runs. Look at power, fuel flow and their units: one of them "
    "is far from what the setting can give."
)
KEPT = 6
"""Engines that are remembered: both states of the visit in hand and of a few beside; some 5 MB each."""
ANSWERS = 3
"""What was worked out of one engine and is remembered beside its table and map: the last questions."""
ABOVE = 1.02
"""Manifold pressure over that before the compressor from which on a turbocharger is at work. [1]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedEngine:
    """A state of a visit as the model knows it."""

    modelled: Modelled
    engine: Calibrated
    charger: Turbocharger | None
    """None: the engine breathes by itself."""
    odd: str
    """What is odd about turbocharger and charge cooler; empty: nothing."""
    cooler: ChargeCooler | None = None
    """None: the engine breathes by itself, or nobody read the water into its charge cooler."""
    fitted_to: tuple[str, ...] = ()
    """States and visits whose readings it was fitted to, in words; this state first."""
    made: OrderedDict[Hashable, object] = field(default_factory=OrderedDict, compare=False, repr=False)

    def once(self, name: Hashable, make: Callable[[], Made], *, most: int = ANSWERS) -> Made:
        """Return what was made of this engine under a name, making it once; of several kinds the last few are kept."""
        with _lock:
            if name in self.made:
                self.made.move_to_end(name)
                return self.made[name]  # type: ignore[return-value]
        found = make()
        with _lock:
            self.made[name] = found
            alike = [one for one in self.made if _kind(one) == _kind(name)]
            for old in alike[:-most]:
                del self.made[old]
        return found


_lock = threading.RLock()
_fitted: OrderedDict[str, FittedEngine] = OrderedDict()


def _kind(name: Hashable) -> Hashable:
    return name[0] if isinstance(name, tuple) else name


@kept_with
def _modelled(view: VisitView, state: State, assume: bool = False) -> Modelled | Lacking:
    """Return a state of a view, which never changes, as the model takes it."""
    return modelled(view.case, state, assume=assume)


def fitted(view: VisitView, state: State, how: How = How()) -> FittedEngine | Lacking:
    """Return the engine of a state of a visit as the model was fitted to it, or what is missing for that.

    Fitting takes about a second: it is done once for the same readings, whoever asks.
    """
    found = _modelled(view, state, True)
    if isinstance(found, Lacking):
        return found
    found = replace(found, build=replace(found.build, rates=how.rates))
    others = tuple(_others(view, state, how))
    key = repr((found.build, found.visit, others, found.inlet_pressure, found.inlet_temperature))
    with _lock:
        known = _fitted.get(key)
        if known is not None:
            _fitted.move_to_end(key)
            return known
    try:
        made = _fit(found, others, view.case.visit.get("draws_known"))
    except AsFoundError:
        return Lacking(state=state, quantities=(), says=(NO_SENSE,))
    outcome = made.engine.outcome
    told = (outcome.power, outcome.efficiency, outcome.exhaust_temperature)
    if not all(np.isfinite(one).all() for one in told) or not np.all(outcome.power > 0.0):
        return Lacking(state=state, quantities=(), says=(NO_SENSE,))
    with _lock:
        _fitted[key] = made
        while len(_fitted) > KEPT:
            _fitted.popitem(last=False)
    return made


def _others(view: VisitView, state: State, how: How) -> Iterator[Visit]:
    """Yield what else it is fitted to: the other state of this visit, the visit before, where they can be modelled."""
    if how.fit == "alone":
        return
    other = _modelled(view, "as_left" if state == "as_found" else "as_found")
    if isinstance(other, Modelled) and other.visit.readings:
        yield other.visit
    if how.fit == "all" and view.previous is not None:
        before = view.previous
        case = Case(readings=before.worked.readings, worked=before.worked, limits=(), engine=view.engine.content)
        for one in ("as_left", "as_found"):
            earlier = modelled(case, one)
            if isinstance(earlier, Modelled) and earlier.visit.readings:
                yield replace(earlier.visit, name=before.visit.date)
                return


def _words(name: str) -> str:
    """Return a state, or the day of an earlier visit, in words."""
    return STATE_WORDS.get(name) or f"visit of {day_words(name)}"


def _fit(found: Modelled, others: tuple[Visit, ...] = (), remember: Remember | None = None) -> FittedEngine:
    engine = calibrate(found.build, [found.visit, *others], remember=remember)
    words = tuple(_words(one.name) for one in (found.visit, *others))
    charger, cooler, odd = balances_of(found, engine)
    return FittedEngine(modelled=found, engine=engine, charger=charger, cooler=cooler, odd=odd, fitted_to=words)


def balances_of(found: Modelled, engine: Calibrated) -> tuple[Turbocharger | None, ChargeCooler | None, str]:
    """Return turbocharger and charge cooler, where it does not breathe by itself, and what is odd about them."""
    if float(np.median(np.asarray(found.visit.setting.manifold_pressure))) <= ABOVE * found.inlet_pressure:
        return None, None, ""
    charger, odd = charger_of(engine, found.inlet_pressure, found.inlet_temperature)
    if found.coolant_temperature is None:
        return charger, None, odd
    setting = engine.settings[0]
    cooler, strange = cooler_of(
        setting.charge_temperature, setting.manifold_pressure, engine.outcome.power.size,
        coolant=found.coolant_temperature, inlet_temperature=found.inlet_temperature,
        inlet_pressure=found.inlet_pressure,
    )  # fmt: skip
    return charger, cooler, "; ".join(one for one in (odd, strange) if one)
