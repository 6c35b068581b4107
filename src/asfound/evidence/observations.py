"""What was seen, read or told, how, and by which source.

Three kinds of not knowing are kept apart: not looked (there is no observation), looked and could not tell
(``undecided=True``: it weighs nothing, and the same look is not proposed again), and not applicable (a state of its
own).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from asfound.errors import AsFoundError
from asfound.evidence.model import INAPPLICABLE

if TYPE_CHECKING:
    from asfound.evidence.model import Model


class NothingFits(AsFoundError):  # noqa: N818  (a result with a name, as the other errors of the house)
    """The observations exclude everything: a model without ``other``, or one that calls a thing impossible for a
    look without error.
    """


@dataclass(frozen=True, slots=True)
class Observation:
    """One statement about one character.

    Parameters
    ----------
    character : str
    states : tuple of str
        What was seen; several where the observer could not choose between them ("A or B").
    kind : str
        Name of one of the model's kinds.
    likelihood : mapping of state to float, optional
        Graded doubt instead of ``states``: chance of the impression given each state, on any scale (virtual evidence).
    source : str, optional
        One plate, one person, one paper: statements of one source are one witness, right or wrong together.
    id : str
        How explanations refer to it.
    undecided : bool
        Somebody looked and could not tell.
    """

    character: str
    states: tuple[str, ...] = ()
    kind: str = "seen"
    likelihood: Mapping[str, float] | None = None
    source: str | None = None
    id: str = ""
    undecided: bool = False


@dataclass(frozen=True, slots=True)
class LineageStatement:
    """A statement about the lineage as a whole (a plate, a paper, hearsay): it is one of these.

    Parameters
    ----------
    lineages : tuple of str
        The lineages for which the statement would be true: all that share the as-built generation named, for example.
    kind, source, id
        As for :class:`Observation`.
    likelihood : mapping of lineage to float, optional
        Graded doubt instead of ``lineages``.
    """

    lineages: tuple[str, ...] = ()
    kind: str = "paper"
    source: str | None = None
    id: str = ""
    likelihood: Mapping[str, float] | None = None


Evidence = Observation | LineageStatement


def label(one: Evidence, place: int) -> str:
    """Return how explanations call an observation: its id, else its place in the list, counted from 1."""
    return one.id or f"{one.character if isinstance(one, Observation) else 'lineage'}#{place + 1}"


def knowledge(
    model: Model, observations: Sequence[Evidence]
) -> dict[str, Literal["seen", "inapplicable", "could_not_tell", "not_looked"]]:
    """Return for each character of the model what is known of it; the kinds of not knowing are never mixed up."""
    out: dict[str, Literal["seen", "inapplicable", "could_not_tell", "not_looked"]] = {
        one.name: "not_looked" for one in model.characters
    }
    for one in observations:
        if isinstance(one, LineageStatement):
            continue
        model.character_index(one.character)
        if one.undecided:
            if out[one.character] == "not_looked":
                out[one.character] = "could_not_tell"
        else:
            out[one.character] = "inapplicable" if tuple(one.states) == (INAPPLICABLE,) else "seen"
    return out
