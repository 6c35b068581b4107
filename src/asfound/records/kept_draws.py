"""What the readings of visits taught of an engine, kept beside the record: fitted once, and not in every process.

Kept are the draws alone, as they were drawn and to the last digit; what the engine does at them is worked out. They
stand for build, visits and seed as they are told in full, and for the program that drew them.
"""

from __future__ import annotations

import base64
from typing import TYPE_CHECKING, Any

import numpy as np

from asfound.records.kept_store import kept_store, program_stamp
from asfound.records.stamps import digest_of
from asfound.whatif.posterior import Drawn

if TYPE_CHECKING:
    from collections.abc import Callable

    from asfound.records.store import Records
    from asfound.whatif.posterior import Remember

WHAT = "draws 1"


def remembering(records: Records) -> Remember | None:
    """Return who keeps draws of this home; None where nothing is kept beside it."""
    store = kept_store(records)
    if store is None:
        return None

    def remember(told: str, make: Callable[[], Drawn]) -> Drawn:
        name, stamp = digest_of((told,)), program_stamp()
        row = store.get(WHAT, {name: stamp}).get(name)
        if row is not None and (known := _read(row)) is not None:
            return known
        made = make()
        store.put(WHAT, name, stamp, _written(made))
        return made

    return remember


def _written(made: Drawn) -> dict[str, Any]:
    """Return draws as JSON holds them: one that was drawn several times in a row stands once."""
    new = np.concatenate([[True], np.any(made.z[:, 1:] != made.z[:, :-1], axis=0)])
    times = np.diff(np.flatnonzero(np.concatenate([new, [True]])))
    numbers = np.ascontiguousarray(made.z[:, new], dtype="<f8")
    return {
        "size": made.z.shape[0],
        "times": times.tolist(),
        "numbers": base64.b64encode(numbers.tobytes()).decode(),
        "effective": made.effective,
    }


def _read(row: dict[str, Any]) -> Drawn | None:
    """Return the draws of a row; None where they cannot be read."""
    try:
        kept = base64.b64decode(row["numbers"], validate=True)
        numbers = np.frombuffer(kept, dtype="<f8").reshape(row["size"], len(row["times"]))
        z = np.repeat(numbers.astype(np.float64), row["times"], axis=1)
        return Drawn(z, float(row["effective"]))
    except (KeyError, TypeError, ValueError):
        return None
