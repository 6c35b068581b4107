"""All odd cylinders of a visit, judged with each other in mind: a witness that sees the whole bank has one cause."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache

from asfound.cylinders.inference_knowledge import Knowledge
from asfound.cylinders.inference_knowledge import knowledge as shipped
from asfound.cylinders.inference_model import Statement, witness_of
from asfound.cylinders.sensor_or_cylinder import Verdict, judge
from asfound.cylinders.witnesses import statements_of
from asfound.cylinders.witnesses_shared import BANK_PLACES
from asfound.quantities.findings import Case
from asfound.quantities.words import State

ODD = 0.5
"""A cylinder is odd when 'sound' is less probable than this."""


def verdicts(case: Case, state: State = "as_found", *, knowledge: Knowledge | None = None) -> dict[str, Verdict]:
    """Return what to believe of every odd cylinder of a state of a visit, by place; empty where none is odd."""
    skipped = ("catalyst_rise",) if case.engine.get("catalyst") is False else ()
    return judge_together(
        statements_of(case, state),
        engine_state=str(case.visit.get("engine_state") or "running"),
        not_fitted=(*skipped, *case.engine.get("witnesses_not_fitted", ())),
        knowledge=knowledge,
    )


def judge_together(
    said: Mapping[str, Sequence[Statement]],
    *,
    engine_state: str = "running",
    not_fitted: Sequence[str] = (),
    knowledge: Knowledge | None = None,
) -> dict[str, Verdict]:
    """Return the verdict on each odd cylinder, by place.

    First each by what concerns it alone; then again with the shared witnesses, which another odd cylinder may have
    moved as well. A cylinder is odd by its own witnesses: a shared one does not say which cylinder it is.
    """
    known = shipped() if knowledge is None else knowledge
    own = {
        place: [one for one in all_ if one.could_not_tell or not witness_of(known, one).shared]
        for place, all_ in said.items()
    }
    alone = {place: _alone(tuple(some), known) for place, some in own.items() if some}
    odd = [place for place, one in alone.items() if one.sides["nothing"] < ODD]
    return {
        place: judge(
            said[place],
            cylinder=place.removeprefix("cylinder_"),
            engine_state=engine_state,
            others=[alone[other].unbounded for other in odd if other != place and _share(said, place, other)],
            not_fitted=not_fitted,
            knowledge=known,
        )
        for place in odd
    }


@lru_cache(maxsize=512)
def _alone(statements: tuple[Statement, ...], known: Knowledge) -> Verdict:
    """Return what a cylinder's own witnesses come to; most say the same again when another number moves."""
    return judge(statements, knowledge=known, ask=False)


def _share(said: Mapping[str, Sequence[Statement]], place: str, other: str) -> bool:
    """Return whether a shared witness of one cylinder can be moved by the other: a bank's own oxygen sees one bank."""
    keys = [key for one in said[place] if one.witness == "oxygen" for key in one.because]
    by_bank = bool(keys) and all(key.split("/")[1] in BANK_PLACES for key in keys)
    catalyst = any(one.witness == "catalyst_rise" for one in said[place])
    banks = [name.removeprefix("cylinder_")[:1] for name in (place, other)]
    return catalyst or not by_bank or banks[0] == banks[1]
