"""What the model of the cycle hands to the balances: plain numbers about a setting, and how they bend with it."""

from __future__ import annotations

from dataclasses import dataclass

from asfound.quantities.typing import Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ModelWitness:
    """What the model makes of a setting."""

    names: tuple[str, ...]
    """``filling``, ``efficiency``, ``exhaust_temperature``, ``nox_dry``, ``peak_pressure``."""
    log: tuple[bool, ...]
    """Which of them are logarithms."""
    knobs: tuple[str, ...]
    """Parts of the setting: ``speed`` [rad/s], ``manifold_pressure`` [Pa], ``charge_temperature`` [K],
    ``excess_air_ratio`` [1], ``timing`` [rad, below nought before top dead centre]."""
    knob_log: tuple[bool, ...]
    at: Array
    """The setting about which it was linearised."""
    values: Array
    by_knob: Array
    """Shape (names, knobs)."""
    covariance: Array
    """Of what it may be off by, shape (names, names)."""
    learned: bool = False
    """It was fitted to an earlier visit of the engine."""
