"""Sort observations by slot, character and source, ready to be weighed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from asfound.errors import InputError
from asfound.evidence.compiled import Floats, Statement
from asfound.evidence.observations import LineageStatement

if TYPE_CHECKING:
    from asfound.evidence.compiled import Compiled
    from asfound.evidence.model import Kind
    from asfound.evidence.observations import Evidence, Observation

ALWAYS = -1
"""Instead of a source: a statement that does not hang on any source being right."""


@dataclass(slots=True)
class Source:
    """One witness: the chance that it describes another thing, and what it stated."""

    name: str
    wrong: float
    characters: dict[int, list[Statement]] = field(default_factory=dict)
    lineage: list[Statement] = field(default_factory=list)


@dataclass(slots=True)
class Gathered:
    """Observations by slot and character; ``by`` numbers the source of a statement (ALWAYS where none).

    ``quick`` holds what is most common, one plain statement about a character: slot, logarithm for each variant.
    ``slots[s][k]`` is a list of (statement, by); ``lineage`` likewise. ``plain`` are the observations behind
    ``quick``, ``untold``: somebody looked and could not tell. ``size`` is the sum of their greatest logarithms:
    while it is small nothing can leave the range of a float.
    """

    quick: list[tuple[int, Floats]]
    size: float
    slots: dict[int, dict[int, list[tuple[Statement, int]]]]
    lineage: list[tuple[Statement, int]]
    sources: list[Source]
    plain: dict[int, Observation]
    untold: bool = False

    @property
    def simple(self) -> bool:
        """Whether every observation is the only one of its character, told by itself and about a slot."""
        return not (self.untold or self.slots or self.lineage)


def gather(c: Compiled, observations: Sequence[Evidence]) -> Gathered:
    """Return the observations sorted; undecided ones weigh nothing and are left out.

    Raises
    ------
    UnknownNameError
        A character, state, kind or lineage that the model has not.
    InputError
        Statements of one source whose kinds give it different chances of being wrong.
    """
    model = c.model
    first: dict[int, Observation] = {}
    slots: dict[int, dict[int, list[tuple[Statement, int]]]] = {}
    lineage: list[tuple[Statement, int]] = []
    sources: list[Source] = []
    numbers: dict[str, int] = {}
    untold = False
    for one in observations:
        kind = model.kinds.get(one.kind) or model.kind(one.kind)
        if isinstance(one, LineageStatement):
            vector = c.lineage_vector(one.likelihood if one.likelihood is not None else one.lineages)
            by, error = witness(one.source, kind, sources, numbers)
            statement = (vector, error)
            lineage.append((statement, by))
            if by != ALWAYS:
                sources[by].lineage.append(statement)
            continue
        if one.undecided:
            model.character_index(one.character)
            untold = True
            continue
        k = model._characters.get(one.character)
        if k is None:
            k = model.character_index(one.character)
        s = c.slot_list[k]
        if one.source is None and k not in first and (s not in slots or k not in slots[s]):
            first[k] = one
            continue
        items = slots.setdefault(s, {}).setdefault(k, [])
        if k in first:  # a second statement about it: the first one is no longer alone
            before = first.pop(k)
            items.append(((c.stated(k, before), model.kinds[before.kind].error), ALWAYS))
        by, error = witness(one.source, kind, sources, numbers)
        statement = (c.stated(k, one), error)
        items.append((statement, by))
        if by != ALWAYS:
            sources[by].characters.setdefault(k, []).append(statement)
    quick: list[tuple[int, Floats]] = []
    total = 0.0
    for k, one in first.items():
        logs, size = c.logs(k, one, model.kinds[one.kind].error)
        quick.append((c.slot_list[k], logs))
        total += size
    return Gathered(quick, total, slots, lineage, sources, first, untold)


def witness(name: str | None, kind: Kind, sources: list[Source], numbers: dict[str, int]) -> tuple[int, float]:
    """Return the number of the source that speaks, and the error of its statement; a source is added when it first
    speaks.
    """
    if name is None:
        return ALWAYS, kind.error
    wrong = kind.source_wrong
    if name not in numbers:
        numbers[name] = len(sources)
        sources.append(Source(name, wrong))
    by = numbers[name]
    if sources[by].wrong != wrong:
        raise InputError(
            f"source {name}",
            kind.name,
            f"gives it a chance of being wrong of {wrong:g}, another of its statements {sources[by].wrong:g}",
            allowed="one kind for all statements of a source",
            try_next="Record them as one kind, or as two sources.",
        )
    return by, kind.source_slip


def active(items: Iterable[tuple[Statement, int]], right: Mapping[int, bool]) -> list[Statement]:
    """Return the statements that count when these sources are right."""
    return [statement for statement, by in items if by == ALWAYS or right[by]]


def stated_before(c: Compiled, gathered: Gathered, k: int) -> list[tuple[Statement, int]]:
    """Return what was stated already about a character."""
    if k in gathered.plain:
        one = gathered.plain[k]
        return [((c.stated(k, one), c.model.kinds[one.kind].error), ALWAYS)]
    return gathered.slots.get(c.slot_list[k], {}).get(k, [])
