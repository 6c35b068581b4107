"""Seeded chance of the demo data: a stream of its own for each engine and subject, and smooth noise."""

from __future__ import annotations

import zlib

import numpy as np

from asfound.quantities.typing import Array


def stream(seed: int, tag: str, subject: str) -> np.random.Generator:
    """Return the random stream of a subject; another subject's use of chance does not move it."""
    return np.random.default_rng([seed, zlib.crc32(tag.encode()), zlib.crc32(subject.encode())])


def wander(random: np.random.Generator, number: int, steps: float, size: float) -> Array:
    """Return first-order noise of standard deviation ``size`` that forgets in about ``steps`` steps. (number,)"""
    from scipy.signal import lfilter

    keep = float(np.exp(-1.0 / steps))
    drive = random.standard_normal(number) * np.sqrt(1 - keep * keep)
    drive[0] = random.standard_normal()
    return size * np.asarray(lfilter([1.0], [1.0, -keep], drive), dtype=float)
