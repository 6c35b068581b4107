"""The draws of a visit: one stream of random numbers per reading, the same whatever else is on the visit.

A reading's stream is seeded by its key and the seed of the visit: the key's BLAKE2b digest (128 bit) and the seed go
through NumPy's `SeedSequence` into a counter-based generator (Philox 4x64). So adding, removing or reordering readings
changes no digit of the others, and 1,000 draws are the first 1,000 of 10,000. Streams have mean 0 and standard
deviation 1 and do not depend on the reading's value, so they are kept and only scaled when a value changes.

Arrays here have ``number + 1`` elements: element 0 stands for the best value (error 0), the others are the draws. One
pass of a formula then gives its value and its draws.
"""

from __future__ import annotations

import math
from collections import OrderedDict
from hashlib import blake2b
from threading import Lock
from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    from asfound.quantities.typing import Array
    from asfound.quantities.words import Reading

Shape = Literal["normal", "rectangular", "triangular", "arcsine"]
KEPT_BYTES = 64 * 2**20
"""Streams are kept up to this much memory; the longest unused goes first."""

_kept: OrderedDict[tuple[object, ...], Array] = OrderedDict()
_kept_bytes = 0
_lock = Lock()


def draw(reading: Reading, number: int, seed: int) -> Array:
    """Return a reading's best value and its draws, in its own unit and (for a pressure) on its own basis.

    Parameters
    ----------
    reading : Reading
        Its distribution and what error it shares are honoured.
    number, seed : int
        Draws of the visit, seed of the visit.

    Returns
    -------
    array of shape (number + 1,)
        Element 0 is exactly ``reading.value``.
    """
    drawn: Array = errors(reading, number, seed) * reading.standard_uncertainty
    drawn += reading.value
    return drawn


def errors(reading: Reading, number: int, seed: int) -> Array:
    """Return a reading's error in units of its standard uncertainty; element 0 is 0. Read-only, shape (number + 1,).

    Readings with the same ``shared_with`` have a part of their error in common: e = sqrt(f) common + sqrt(1 - f) own,
    so two of them with fractions f and g correlate by sqrt(f g). The own part has the reading's distribution; the
    common part is normal unless it is the whole error (f = 1).
    """
    fraction = reading.shared_fraction if reading.shared_with else 0.0
    where = (reading.state, reading.place, reading.quantity)
    key = (where, reading.shared_with, fraction, reading.distribution, number, seed)
    kept = _recall(key)
    return _keep(key, _mixed(reading, fraction, number, seed)) if kept is None else kept


def _mixed(reading: Reading, fraction: float, number: int, seed: int) -> Array:
    """Return common and own part together, as their fraction weighs them."""
    if fraction <= 0.0:
        return stream(own_label(reading), reading.distribution, number, seed)
    if fraction >= 1.0:
        return stream(common_label(reading), reading.distribution, number, seed)
    common = stream(common_label(reading), "normal", number, seed)
    own = stream(own_label(reading), reading.distribution, number, seed)
    return math.sqrt(fraction) * common + math.sqrt(1.0 - fraction) * own


def own_label(reading: Reading) -> str:
    """Return the label of the stream that is this reading's alone."""
    return f"own:{reading.key}"


def common_label(reading: Reading) -> str:
    """Return the label of the stream that it has in common with others."""
    return f"common:{reading.shared_with}"


def stream(label: str, shape: Shape, number: int, seed: int) -> Array:
    """Return the stream of a label: mean 0, standard deviation 1, element 0 is 0. Read-only, shape (number + 1,)."""
    key = (label, shape, number, seed)
    kept = _recall(key)
    return _keep(key, _make(label, shape, number, seed)) if kept is None else kept


def generator(label: str, seed: int) -> np.random.Generator:
    """Return the generator that belongs to a label and a seed; the same on every machine."""
    words = np.frombuffer(blake2b(label.encode(), digest_size=16).digest(), dtype="<u4")
    return np.random.Generator(np.random.Philox(np.random.SeedSequence([seed, *(int(word) for word in words)])))


def _make(label: str, shape: Shape, number: int, seed: int) -> Array:
    """Draw a stream; unit standard deviation by the factors of JCGM 101:2008 6.4."""
    random = generator(label, seed)
    made = np.zeros(number + 1)
    if shape == "normal":
        made[1:] = random.standard_normal(number)
    elif shape == "rectangular":
        made[1:] = math.sqrt(3.0) * (2.0 * random.random(number) - 1.0)
    elif shape == "triangular":
        made[1:] = math.sqrt(6.0) * (random.random((number, 2)).sum(axis=1) - 1.0)
    elif shape == "arcsine":
        made[1:] = math.sqrt(2.0) * np.sin(2.0 * math.pi * random.random(number))
    else:
        raise ValueError(f"no distribution is called '{shape}'")
    return made


def _recall(key: tuple[object, ...]) -> Array | None:
    """Return a kept stream and mark it as just used."""
    with _lock:
        kept = _kept.get(key)
        if kept is not None:
            _kept.move_to_end(key)
        return kept


def _keep(key: tuple[object, ...], made: Array) -> Array:
    """Keep a stream, read-only, and let the longest unused go when there is too much."""
    global _kept_bytes
    made.setflags(write=False)
    with _lock:
        if key not in _kept:
            _kept[key] = made
            _kept_bytes += made.nbytes
        while _kept_bytes > KEPT_BYTES and len(_kept) > 1:
            _kept_bytes -= _kept.popitem(last=False)[1].nbytes
    return made
