"""What closed cases say of the priors: counts beside the words of the file, shown, and undone by leaving them out.

The weights of the file stand for so many cases as ``WORTH`` says (own setting); each closed case with a proved cause
adds one (a Dirichlet prior and its counts). The knowledge itself is never changed: the counts belong to the record.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from asfound.errors import InputError, UnknownNameError
from asfound.troubleshoot.knowledge import Knowledge

WORTH = 100.0
"""So many closed cases weigh as much as the words of the file (own setting)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PriorMoved:
    """A cause whose prior was moved by closed cases: share of all causes before and after [-]."""

    cause: str
    cases: int
    before: float
    after: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """A cause whose prior was moved, with its words and the number of all closed cases that count."""

    cause: str
    title: str
    cases: int
    of: int
    before: float
    after: float

    @property
    def says(self) -> str:
        """Say it as it is shown: '3 of 14 closed cases here'."""
        return f"{self.cases} of {self.of} closed {'case' if self.of == 1 else 'cases'} here"


def with_closed_cases(
    knowledge: Knowledge, counts: Mapping[str, int], *, worth: float = WORTH
) -> tuple[Knowledge, tuple[PriorMoved, ...]]:
    """Return the knowledge with priors after these closed cases, and what moved; without counts nothing moves.

    Raises
    ------
    UnknownNameError
        A cause that the knowledge does not hold (nor dropped for this engine).
    InputError
        A count below 0, or ``worth`` not above 0.
    """
    if not worth > 0:
        raise InputError("worth", f"{worth}", "is no number of cases", allowed="above 0")
    for cause, number in counts.items():
        if cause not in knowledge.causes and cause not in knowledge.dropped:
            raise UnknownNameError("cause", cause, knowledge.causes)
        if number < 0:
            raise InputError(cause, f"{number}", "is no count of cases", allowed="0 and more")
    counted = {name: counts.get(name, 0) for name in knowledge.causes}
    cases = sum(counted.values())
    if not cases:
        return knowledge, ()
    total = sum(one.prior for one in knowledge.causes.values())
    before = {name: one.prior / total for name, one in knowledge.causes.items()}
    after = {name: (worth * before[name] + counted[name]) / (worth + cases) for name in before}
    causes = {name: replace(one, prior=after[name] * total) for name, one in knowledge.causes.items()}
    moved = tuple(
        PriorMoved(cause=name, cases=number, before=before[name], after=after[name])
        for name, number in counted.items()
        if number
    )
    return replace(knowledge, causes=causes), moved


def moved_by(knowledge: Knowledge, counts: Mapping[str, int]) -> tuple[Knowledge, tuple[Moved, ...]]:
    """Return the knowledge after closed cases, and what moved, in words; causes that it does not know are passed over.

    A case whose cause this engine cannot have, or that was *something else*, is counted among all and moves nothing
    else.
    """
    known = {name: n for name, n in counts.items() if name in knowledge.causes or name in knowledge.dropped}
    part, moved = with_closed_cases(knowledge, known)
    total = sum(counts.values())
    return part, tuple(
        Moved(
            cause=one.cause,
            title=knowledge.causes[one.cause].title,
            cases=one.cases,
            of=total,
            before=one.before,
            after=one.after,
        )
        for one in sorted(moved, key=lambda one: -one.cases)
    )
