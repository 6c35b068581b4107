"""Plants for the tests: published networks, random readings of them, a curved plant of flows that carry heat."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from asfound.crosscheck.balances import Balances
from asfound.crosscheck.checks_published import published
from asfound.crosscheck.network import flow_network, incidence
from asfound.crosscheck.readings import Readings

ITEMS = published()
NETWORKS = ("B2", "B4", "B6", "B9", "B12", "B7", "B15")


def flows(name: str) -> tuple[np.ndarray, np.ndarray]:
    """Return flows that close all nodes, and their standard uncertainties."""
    item = ITEMS[name]
    return np.array(item["recomputed"]["reconciled"]), np.sqrt(np.array(item["variance"]))


def readings(
    name: str, seed: int, errors: Mapping[int, float] | None = None, measured: list[int] | None = None
) -> tuple[Balances, Readings]:
    """Return a network with readings of true flows; ``errors`` by number of the stream, in units of u."""
    x, u = flows(name)
    y = x + u * np.random.default_rng(seed).standard_normal(x.size)
    for stream, size in (errors or {}).items():
        y[stream - 1] += size * u[stream - 1]
    balances = flow_network(ITEMS[name]["nodes"], measured)
    at = [int(one.removeprefix("stream_")) - 1 for one in balances.readings]
    return balances, Readings.independent(balances.readings, y[at], u[at])


HEAT_NODES = [[1, 2, -3], [3, -4, -5], [4, 6, -7]]
HEATED = (0, 2)
"""Nodes to which heat is added that nobody measures."""
FLOW = np.array([50.0, 30.0, 80.0, 45.0, 35.0, 20.0, 65.0])
TEMPERATURE = np.array([20.0, 45.0, 61.0, 61.0, 61.0, 33.0, 70.0])


def enthalpy(t: Any) -> Any:
    """Return J/g of something like water, curved."""
    return 4.18 * t + 1e-3 * t**2


def heat_plant(measured_splits: bool = True) -> Balances:
    """Return mass and heat balances of three nodes; heat added at two of them is unmeasured. 14 readings."""
    a = incidence(HEAT_NODES)
    streams = a.shape[1]

    def formula(x: Any, u: Any) -> Any:
        flow, t = x[:streams], x[streams:]
        mass = a @ flow
        heat = a @ (flow * enthalpy(t))
        heat = heat + np.stack([u[0], 0 * u[0], u[1]])
        return np.concatenate([mass, heat, [t[2] - t[3], t[2] - t[4]] if measured_splits else [t[2] - t[3]]])

    names = ("mass_1", "mass_2", "mass_3", "heat_1", "heat_2", "heat_3", "split_4", "split_5")
    return Balances(
        readings=(*(f"flow_{s + 1}" for s in range(streams)), *(f"temperature_{s + 1}" for s in range(streams))),
        unmeasured=("heat_to_1", "heat_to_3"),
        formula=formula,
        names=names if measured_splits else names[:-1],
    )


def heat_readings(seed: int, errors: Mapping[str, float] | None = None) -> Readings:
    """Return readings of the plant of heat; ``errors`` by name, in units of u."""
    x = np.concatenate([FLOW, TEMPERATURE])
    u = np.concatenate([0.01 * FLOW, np.full(7, 0.5)])
    names = heat_plant().readings
    y = x + u * np.random.default_rng(seed).standard_normal(x.size)
    for name, size in (errors or {}).items():
        y[names.index(name)] += size * u[names.index(name)]
    return Readings.independent(names, y, u)
