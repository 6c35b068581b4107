"""The most efficient timing and mixture that keep all limits: found between the settings of a map, draw by draw.

A map has few settings; what each draw has at them is smooth, and is carried to a fine grid by a polynomial of third
degree in timing and mixture (own tests: efficiency within 0.3 %, NOx within 4 %, of the model itself).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields

import numpy as np

from asfound.quantities.typing import Array
from asfound.whatif.uses import Limits, Map

SURE = 0.95
"""Share of draws in which a limit must be kept. [1]"""
FINE = 41
"""Timings, and mixtures, that are looked at."""
DEGREE = 3
LIMITED = ("nox_dry", "nox_per_energy", "nox_at_reference", "exhaust_temperature", "peak_pressure", "knock")
AT_LIMIT = 0.995
"""A limit of which so much is used binds. [1]"""
EDGE = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Optimum:
    """Timing and mixture, and what they bring."""

    timing: float
    """[rad]"""
    excess_air_ratio: float
    gain: tuple[float, float, float]
    """Of efficiency, as a share of what it is at the middle of the map: low, middle, high of 95 in 100. [1]"""
    numbers: Mapping[str, Array]
    """Of the map's numbers there, by draw."""
    binds: tuple[str, ...]
    """Limits that would be passed by going on."""
    edge: bool
    """It lies at the edge of the map: beyond it may be better still."""

    @property
    def surely_better(self) -> bool:
        """Whether it is more efficient than the middle of the map, whatever the draw."""
        return self.gain[0] > 0.0


def chance_kept(found: Map, limits: Limits) -> Array:
    """Return the chance that all limits are kept, shape (timings, mixtures)."""
    share: Array = _kept({name: getattr(found, name) for name in LIMITED}, limits).mean(axis=-1)
    return share


def optimum(found: Map, limits: Limits) -> Optimum | None:
    """Return the most efficient setting that keeps all limits in 95 of 100 draws; None where there is none.

    Parameters
    ----------
    found : Map
        Its middle is the setting as it was read.
    limits : Limits
        In the numbers of the model.
    """
    fine = {name: _carried(found, name) for name in (*LIMITED, "efficiency")}
    share = fine["efficiency"] / _middle(found.efficiency)
    kept = _kept(fine, limits).mean(axis=-1) >= SURE
    if not kept.any():
        return None
    value = np.where(kept, np.median(share, axis=-1), -np.inf)
    i, j = (int(one) for one in np.unravel_index(int(np.argmax(value)), value.shape))
    low, middle, high = (float(one) for one in np.quantile(share[i, j] - 1.0, [0.025, 0.5, 0.975]))
    used = {name: float(np.quantile(fine[name][i, j], SURE)) / getattr(limits, name) for name in LIMITED}
    near = {name: max(_around(fine[name], i, j)) / getattr(limits, name) for name in LIMITED}
    return Optimum(
        timing=float(_line(found.timing)[i]), excess_air_ratio=float(_line(found.excess_air_ratio)[j]),
        gain=(low, middle, high), numbers={name: one[i, j] for name, one in fine.items()},
        binds=tuple(name for name in LIMITED if used[name] > AT_LIMIT or near[name] > 1.0 >= used[name]),
        edge=i in (0, FINE - 1) or j in (0, FINE - 1),
    )  # fmt: skip


def _around(values: Array, i: int, j: int) -> list[float]:
    """Return the upper end of a number at the neighbours."""
    rows, columns = slice(max(i - 1, 0), i + 2), slice(max(j - 1, 0), j + 2)
    return [float(one) for one in np.quantile(values[rows, columns], SURE, axis=-1).ravel()]


def _middle(values: Array) -> Array:
    found: Array = values[values.shape[0] // 2, values.shape[1] // 2]
    return found


def _line(ends: Array) -> Array:
    return np.linspace(float(ends[0]), float(ends[-1]), FINE)


def _kept(numbers: Mapping[str, Array], limits: Limits) -> Array:
    """Return where all limits are kept, draw by draw."""
    kept = np.ones(numbers["nox_dry"].shape, dtype=bool)
    for one in fields(Limits):
        if one.name in LIMITED:
            most = getattr(limits, one.name)
            kept &= numbers[one.name] <= most * (1.0 + EDGE) if np.isfinite(most) else True
    found: Array = kept
    return found


def _carried(found: Map, name: str) -> Array:
    """Return a number on the fine grid, shape (timings, mixtures, draws)."""
    values = np.log(np.maximum(getattr(found, name), 1e-30))
    draws = values.shape[-1]
    here = _powers(_scaled(found.timing), _scaled(found.excess_air_ratio))
    there = _powers(np.linspace(-1.0, 1.0, FINE), np.linspace(-1.0, 1.0, FINE))
    weights = np.linalg.lstsq(here, values.reshape(-1, draws), rcond=None)[0]
    carried: Array = np.exp((there @ weights).reshape(FINE, FINE, draws))
    return carried


def _scaled(ends: Array) -> Array:
    """Return places between -1 and 1."""
    found: Array = 2.0 * (np.asarray(ends) - ends[0]) / (ends[-1] - ends[0]) - 1.0
    return found


def _powers(x: Array, y: Array) -> Array:
    """Return products of powers of two places, shape (len(x) * len(y), terms)."""
    a, b = np.meshgrid(x, y, indexing="ij")
    found: Array = np.stack([(a**i * b**j).ravel() for i in range(DEGREE + 1) for j in range(DEGREE + 1)], axis=1)
    return found
