"""Compositions as arrays: each property has its own fixed order of components, and this puts them there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from asfound.errors import UnknownNameError
from asfound.quantities.typing import Array, Values

Numbers: TypeAlias = npt.NDArray[np.intp]
"""Places in an array."""
Flags: TypeAlias = npt.NDArray[np.bool_]


def arranged(parts: Mapping[str, Values], components: Sequence[str], what: str) -> Array:
    """Return fractions along a last axis in the order of ``components``; what is not named is zero.

    Names are those of the room, written with blanks and hyphens or with underscores: ``n-butane`` is ``n_butane``.

    Raises
    ------
    UnknownNameError
        A component that is not among them; what it is the component of is in ``what``.
    """
    plain = {name.replace("-", "_").replace(" ", "_"): value for name, value in parts.items()}
    for name in plain:
        if name not in components:
            raise UnknownNameError(f"component of {what}", name, components)
    columns = np.broadcast_arrays(*(np.asarray(plain.get(name, 0.0), dtype=float) for name in components))
    return np.stack(columns, axis=-1)
