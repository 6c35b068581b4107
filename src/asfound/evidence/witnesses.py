"""Who says what: all statements of one source are one witness, every other observation is one of its own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from asfound.evidence.observations import LineageStatement, label

if TYPE_CHECKING:
    from asfound.evidence.compiled import Floats
    from asfound.evidence.observations import Evidence


@dataclass(frozen=True, slots=True)
class Witness:
    """One witness: where its statements stand in the list, their ids, and themselves."""

    places: tuple[int, ...]
    ids: tuple[str, ...]
    evidence: tuple[Evidence, ...]
    source: str | None


def witnesses(observations: Sequence[Evidence]) -> tuple[Witness, ...]:
    """Return the witnesses in the order in which they first speak; undecided observations weigh nothing and are
    left out.
    """
    places: dict[object, list[int]] = {}
    for i, one in enumerate(observations):
        if isinstance(one, LineageStatement) or not one.undecided:
            places.setdefault(i if one.source is None else one.source, []).append(i)
    return tuple(
        Witness(
            tuple(numbers),
            tuple(label(observations[i], i) for i in numbers),
            tuple(observations[i] for i in numbers),
            key if isinstance(key, str) else None,
        )
        for key, numbers in places.items()
    )


def without(observations: Sequence[Evidence], *left_out: Witness) -> tuple[Evidence, ...]:
    """Return the observations without these witnesses."""
    gone = {i for one in left_out for i in one.places}
    return tuple(one for i, one in enumerate(observations) if i not in gone)


@dataclass(slots=True)
class Heard:
    """One block with its witnesses; ``subsets`` [2^n, G] are the logs if only some had spoken, bit i of the row for
    witness i; made when first asked for.
    """

    name: str
    slots: set[int]
    log: Floats
    witnesses: tuple[Witness, ...]
    subsets: Floats | None = None
