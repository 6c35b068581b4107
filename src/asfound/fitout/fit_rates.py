"""Fit the rates of a catalogue from confirmed visits: how often parts are swapped, and how far each way of seeing errs.

A confirmed visit is a file of observations with its ``truth``: the build, and the variant of each place that somebody
made sure of. Few visits move a rate a little, many move it much: each rate is shrunk towards its start value as if that
had been seen in `STRENGTH` cases (a Beta prior); the interval is the central 95 % of what is left.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, cast

import numpy as np
import yaml

from asfound.errors import InputError
from asfound.evidence.model import OTHER
from asfound.evidence.observations import LineageStatement, Observation
from asfound.fitout import seeing
from asfound.fitout.model import FitModel, fit_model
from asfound.fitout.observed import observed

if TYPE_CHECKING:
    from asfound.fitout.catalogue import Catalogue
    from asfound.fitout.looks import How
    from asfound.fitout.observations import Observations

STRENGTH = 20.0
"""Cases that the start value counts for (judgement, no source)."""
GRID = np.linspace(0.0005, 0.9995, 2000)


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedRate:
    """One rate: start value, fitted value, interval, and from how many cases."""

    name: str
    start: float
    fitted: float
    low: float
    high: float
    cases: int

    def as_dict(self) -> dict[str, Any]:
        """Return the fields."""
        return asdict(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedRates:
    """All rates fitted, and the visits they come from."""

    rates: tuple[FittedRate, ...]
    visits: int

    def rate(self, name: str) -> FittedRate:
        """Return one rate by name (``swapped``, ``unlisted``, ``plate_moved``, ``at_part`` ...)."""
        return next(one for one in self.rates if one.name == name)

    def yaml(self) -> str:
        """Return the ``rates`` block to put into the catalogue."""
        plain = {
            one.name: round(one.fitted, 4) for one in self.rates if one.name in ("swapped", "unlisted", "plate_moved")
        }
        kinds = {one.name: round(one.fitted, 4) for one in self.rates if one.name in seeing.ERROR}
        return yaml.safe_dump({"rates": {**plain, **({"kinds": kinds} if kinds else {})}}, sort_keys=False)

    def text(self) -> str:
        """Return a table."""
        lines = [f"{'rate':<14}{'start':>8}{'fitted':>8}{'95 in 100':>18}{'cases':>7}"]
        lines += [
            f"{one.name:<14}{one.start:>8.3f}{one.fitted:>8.3f}{f'{one.low:.3f} to {one.high:.3f}':>18}{one.cases:>7}"
            for one in self.rates
        ]
        return "\n".join([*lines, f"from {self.visits} confirmed visits"])


def fit_rates(catalogue: Catalogue, visits: Iterable[Observations], *, strength: float = STRENGTH) -> FittedRates:
    """Return the rates that confirmed visits speak for.

    Parameters
    ----------
    catalogue : Catalogue
    visits : iterable of Observations
        Each with its ``truth``.
    strength : float
        Cases that a start value counts for. [-]

    Raises
    ------
    InputError
        A visit without truth, or whose truth names something that the catalogue has not.
    """
    swapped, unlisted, places, visited = 0, 0, 0, 0
    moved, plates = 0, 0
    seen: dict[str, list[tuple[float, float, float]]] = {}
    for one in visits:
        truth = _truth(catalogue, one)
        visited += 1
        fit = fit_model(catalogue, one.engine)
        lineage = next((each for each in fit.model.lineages if each.name == truth["build"]), None)
        apart = {each.id for each in fit.slots if each.apart}
        for slot, variant in truth["places"].items():
            native = lineage.native.get(slot) if lineage else None
            if native is None or slot in apart:
                continue
            places += 1
            unlisted += variant == OTHER
            swapped += variant != OTHER and variant not in ({native} if isinstance(native, str) else set(native))
        told = observed(fit, one.engine, one.looks)
        for each in (*told.evidence, *told.apart):
            if isinstance(each, LineageStatement):
                if each.source == "nameplate" and lineage is not None:
                    plates += 1
                    moved += truth["build"] not in each.lineages
            elif each.source is None and not each.undecided:
                _add_seen(fit, each, truth["places"], seen)
    rates = catalogue.rates
    found = [
        _proportion("swapped", rates.swapped, swapped, places, strength),
        _proportion("unlisted", rates.unlisted, unlisted, places, strength),
        _proportion("plate_moved", rates.plate_moved, moved, plates, strength),
    ]
    found += [_error(catalogue, how, cases, strength) for how, cases in sorted(seen.items())]
    return FittedRates(rates=tuple(found), visits=visited)


def _truth(catalogue: Catalogue, one: Observations) -> dict[str, Any]:
    truth = dict(one.truth or {})
    if not truth.get("build"):
        raise InputError(
            f"truth of {one.engine.tag}",
            "",
            "is missing",
            allowed="build: name, places: {slot: variant}",
            try_next="Only a confirmed visit can teach a rate.",
        )
    places = dict(truth.get("places") or {})
    for slot, variant in places.items():
        if variant != OTHER:
            catalogue.variant(slot, variant)
    return {"build": truth["build"], "places": places}


def _add_seen(
    fit: FitModel, one: Observation, places: dict[str, str], seen: dict[str, list[tuple[float, float, float]]]
) -> None:
    """Keep for one look: chance of it where the eye was right, chance where it was not, widening from outside."""
    slot = one.character.partition(".")[0]
    if slot not in places:
        return
    model = fit.apart if fit.apart is not None and fit.catalogue.slots[slot].apart else fit.model
    k, arrays = model.character_index(one.character), model.compiled
    v = model.variant_names(slot).index(places[slot])
    likelihood = arrays.stated(k, one)
    how, _, grade = one.kind.partition("/")
    right, wrong = float(arrays.theta[k][v] @ likelihood), float(arrays.background[k] @ likelihood)
    seen.setdefault(how, []).append((right, wrong, seeing.WIDENED.get(grade, 0.0)))


def _proportion(name: str, start: float, hits: int, cases: int, strength: float) -> FittedRate:
    log = hits * np.log(GRID) + (cases - hits) * np.log1p(-GRID)
    return _posterior(name, start, log, cases, strength)


def _error(catalogue: Catalogue, how: str, cases: list[tuple[float, float, float]], strength: float) -> FittedRate:
    start = catalogue.rates.kinds.get(how, seeing.ERROR[cast("How", how)])
    right, wrong, widened = (np.array(column)[:, None] for column in zip(*cases, strict=True))
    error = 1.0 - (1.0 - GRID[None, :]) * (1.0 - widened)
    log = np.log(np.maximum((1.0 - error) * right + error * wrong, 1e-300)).sum(axis=0)
    return _posterior(how, start, log, len(cases), strength)


def _posterior(name: str, start: float, log_likelihood: np.ndarray, cases: int, strength: float) -> FittedRate:
    """Return mean and central 95 % of the posterior on a grid, with a Beta prior of the start value."""
    a, b = strength * start, strength * (1.0 - start)
    log = log_likelihood + (a - 1.0) * np.log(GRID) + (b - 1.0) * np.log1p(-GRID)
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    low, high = np.interp([0.025, 0.975], np.cumsum(weight), GRID)
    return FittedRate(
        name=name, start=start, fitted=float(weight @ GRID), low=float(low), high=float(high), cases=cases
    )
