"""The limits of a visit beside what the model says: in the limit's own basis, with the outcome's own oxygen."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from asfound.exhaust.concentration import MOLAR_MASS
from asfound.exhaust.limits_margin import PER_MOLE
from asfound.exhaust.reference_oxygen import OXYGEN_IN_AIR, at_reference_oxygen
from asfound.quantities.register import title_of
from asfound.report.whatif_anchor import anchored, read_at
from asfound.whatif.ask import draws_of
from asfound.whatif.numbers_of_case import burning_of
from asfound.whatif.uses import Limits

if TYPE_CHECKING:
    from collections.abc import Mapping

    from asfound.quantities.case_numbers import Number
    from asfound.quantities.typing import Array
    from asfound.quantities.words import Limit, State
    from asfound.records.visit import VisitView
    from asfound.report.whatif_how import Most
    from asfound.whatif.calibrate import Calibrated
    from asfound.whatif.engine import Outcome
    from asfound.whatif.uses import Map

USUAL_LEVEL = 0.15
"""Reference oxygen where nobody states one, as the worksheets assume it. [mol/mol]"""
BY_MASS = MOLAR_MASS["nox"] * PER_MOLE
"""From mole fraction to mass, as NO2, in a normal cubic metre. [kg/m³]"""
PER_ENERGY, BY_MASS_AT, AT_LEVEL, AS_READ = (
    "nox_mass_per_energy", "nox_mass_concentration", "nox_at_reference_oxygen", "exhaust_nox_dry",
)  # fmt: skip
MODELLED = (PER_ENERGY, BY_MASS_AT, AT_LEVEL, AS_READ)


@dataclass(frozen=True, slots=True, kw_only=True)
class Basis:
    """How the permit of a visit counts NOx."""

    level: float
    """[mol/mol]"""
    air: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A limit and what the model says beside it; arrays over draws, in the limit's SI unit."""

    limit: Limit
    now: Array
    then: Array

    def beyond(self, values: Array) -> float:
        """Return the chance to be beyond it. [1]"""
        over = values > self.limit.value if self.limit.side == "upper" else values < self.limit.value
        return float(np.mean(over))


def basis_of(view: VisitView) -> Basis:
    """Return the reference oxygen and the oxygen of air by which this visit's limits are counted."""

    def read(name: str, otherwise: float) -> float:
        found = (view.worked.reading(f"{state}/engine/{name}") for state in ("as_found", "as_left"))
        return next((one.value for one in found if one is not None), otherwise)

    return Basis(level=read("permit_reference_oxygen", USUAL_LEVEL), air=read("permit_oxygen_in_air", OXYGEN_IN_AIR))


def treated(view: VisitView) -> bool:
    """Return whether NOx is read behind a catalyst: then a limit is about what the model does not give."""
    if any(one.place == "after_catalyst" and one.quantity == AS_READ for one in view.readings.values()):
        return True
    burns = burning_of(view.case, "as_found")
    return burns.stoichiometric and burns.stack_is_behind


def nox_limits(view: VisitView) -> tuple[Limit, ...]:
    """Return the limits that the model can be held against; none behind a catalyst."""
    if treated(view):
        return ()
    return tuple(one for one in view.limits if one.quantity in MODELLED and one.side == "upper")


def other_limits(view: VisitView) -> tuple[str, ...]:
    """Return the titles of limits about emissions that the model says nothing of."""
    emitted = [one for one in view.limits if one not in nox_limits(view) and _emission(one.quantity)]
    return tuple(dict.fromkeys(title_of(one.quantity) for one in emitted))


def _emission(name: str) -> bool:
    return any(name.startswith(one) for one in ("nox", "co_", "voc", "formaldehyde", "total_carbon", "exhaust_"))


def judged(view: VisitView, state: State, engine: Calibrated, outcome: Outcome) -> tuple[Judged, ...]:
    """Return each limit that the model can be held against, with the draws now and then."""
    basis = basis_of(view)
    return tuple(
        Judged(limit=one, now=pair[0], then=pair[1])
        for one in nox_limits(view)
        for pair in (anchored(view, state, one.quantity, *counted(engine, outcome, one.quantity, basis)),)
    )


def beyond_now(view: VisitView, state: State, one: Judged) -> tuple[Number | None, float]:
    """Return the number that was read and its chance to be beyond a limit, as the visit judges it; else by the draws.

    The draws of the record are ten thousand, those of the model some hundred: one number has one chance on all pages.
    """
    number = read_at(view, state, one.limit.quantity)
    judged_so = next((known.beyond for known in view.limit_states if known.limit == one.limit), {})
    if number is None or number.key not in judged_so:
        return None, one.beyond(one.now)
    return number, judged_so[number.key]


def counted(engine: Calibrated, outcome: Outcome, name: str, basis: Basis) -> tuple[Array, Array]:
    """Return NOx now and then, draw by draw, in the basis that a quantity names. SI"""
    if name == PER_ENERGY:
        return draws_of(engine, outcome, "nox_per_energy")
    dry = draws_of(engine, outcome, "nox_dry")
    if name == AS_READ:
        return dry
    oxygen = draws_of(engine, outcome, "oxygen_dry")
    scale = BY_MASS if name == BY_MASS_AT else 1.0
    now, then = (
        np.asarray(scale * at_reference_oxygen(one, air, basis.level, basis.air))
        for one, air in zip(dry, oxygen, strict=True)
    )
    return now, then


@dataclass(frozen=True, slots=True, kw_only=True)
class OnMap:
    """How NOx and efficiency of the model are put on a map."""

    limits: Limits
    """For the model's own numbers."""
    name: str
    """Quantity that NOx is drawn in."""
    wall: Limit | None
    nox: float
    """Read over the model's, as it runs. [1]"""
    efficiency: float


def on_map(view: VisitView, state: State, engine: Calibrated) -> OnMap:
    """Return what a map is drawn in: numbers of the model times what was read over what the model has."""
    basis, first = basis_of(view), next(iter(nox_limits(view)), None)
    name = first.quantity if first is not None else AS_READ
    nox = _ratio(view, state, name, counted(engine, engine.outcome, name, basis)[0])
    efficiency = _ratio(view, state, "brake_efficiency", draws_of(engine, engine.outcome, "efficiency")[0])
    value: dict[str, float] = {}
    if first is not None:
        scale = nox * (BY_MASS if name == BY_MASS_AT else 1.0)
        value = {{PER_ENERGY: "nox_per_energy", AS_READ: "nox_dry"}.get(name, "nox_at_reference"): first.value / scale}
    limits = Limits(reference_oxygen=basis.level, oxygen_in_air=basis.air, **value)
    return OnMap(limits=limits, name=name, wall=first, nox=nox, efficiency=efficiency)


def _ratio(view: VisitView, state: State, name: str, model: Array) -> float:
    read = read_at(view, state, name)
    middle = float(np.median(model))
    return float(read.value / middle) if read is not None and read.value > 0.0 and middle > 0.0 else 1.0


def limits_of(view: VisitView, state: State, engine: Calibrated, most: Most) -> Limits:
    """Return the permit and what else an optimum must keep, in the model's own numbers.

    A limit is about what is read: it is moved by what the model has more or less than was read.
    """
    limits = on_map(view, state, engine).limits
    found: dict[str, float] = {}
    if most.exhaust is not None:
        model = float(np.median(engine.outcome.exhaust_temperature))
        read = read_at(view, state, "exhaust_median")
        found["exhaust_temperature"] = most.exhaust + (model - read.value if read is not None else 0.0)
    if most.peak is not None:
        found["peak_pressure"] = most.peak / _ratio(view, state, "peak_firing_pressure", engine.outcome.peak_pressure)
    if most.knock is not None:
        found["knock"] = most.knock
    return replace(limits, **found)


def of_map(found: Map, name: str) -> Array:
    """Return NOx of a map in the basis that a quantity names. SI"""
    return of_numbers({one: getattr(found, one) for one in ("nox_per_energy", "nox_dry", "nox_at_reference")}, name)


def of_numbers(numbers: Mapping[str, Array], name: str) -> Array:
    """Return NOx of numbers of a map in the basis that a quantity names. SI"""
    key, scale = {
        PER_ENERGY: ("nox_per_energy", 1.0), AS_READ: ("nox_dry", 1.0), AT_LEVEL: ("nox_at_reference", 1.0),
        BY_MASS_AT: ("nox_at_reference", BY_MASS),
    }[name]  # fmt: skip
    return scale * numbers[key]
