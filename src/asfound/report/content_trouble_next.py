"""The one next step of a trouble, for page and sheets: what it costs, why, its cautions, the words on its answers."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from asfound.report.content_crosscheck_words import lower
from asfound.report.content_trouble_words import SIGNS, answer, chance, costs, of_doubt, tells_apart

if TYPE_CHECKING:
    from asfound.sources.cautions import Caution
    from asfound.troubleshoot.shown import RepairRow, TestRow, Trouble

OTHER = "other"
LEAST_SHOWN = 0.03
"""Causes of less chance are not named beside the first ones. [1]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reply:
    """A button: the value that is kept and its words."""

    value: str
    says: str
    quiet: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class NextStep:
    """The one thing to do next."""

    does: str
    """``test``, ``repair``, ``call``, ``runs`` (decide first whether it runs on), ``close`` or ``begin``."""
    id: str
    title: str
    costs: tuple[str, ...]
    sign: str
    why: str
    cautions: tuple[Caution, ...] = ()
    replies: tuple[Reply, ...] = ()
    instead: str = ""
    """What the plan begins with, where a person chose another step."""
    moves: bool = False
    """Parts change place: it is written down as a change of what is fitted."""


def next_step(trouble: Trouble, chosen: str = "") -> NextStep | None:
    """Return the one next thing; nothing where the case is closed."""
    if trouble.phase == "closed":
        return None
    if trouble.phase == "nothing_told":
        why = "Whatever shows, and what was looked for and does not show. Each answer counts at once."
        return NextStep(does="begin", id="", title="say what shows", costs=(), sign="eye", why=why)
    if trouble.phase == "cured":
        why = "A repair ended it. What was proved goes into the record, and counts for the next case."
        return NextStep(does="close", id="", title="close the case", costs=(), sign="ok", why=why)
    planned = _planned(trouble)
    step = _chosen(trouble, chosen, planned) or planned
    if trouble.urgent and trouble.allowed is None and trouble.now.can_run and step.sign == SIGNS["running"]:
        why = f"By the engine's own manual and the rules of the site. After that, if it runs on: {step.title}."
        return NextStep(
            does="runs", id="", title="decide whether the engine runs on", costs=(), sign="stopped", why=why
        )
    return step


def _chosen(trouble: Trouble, name: str, planned: NextStep) -> NextStep | None:
    """Return the step that a person chose; None where it is no other one that can be made now."""
    test = next((one for one in trouble.tests if one.id == name), None)
    repair = next((one for one in trouble.repairs if one.id == name and not one.why_not), None)
    if name == planned.id or (test is None and repair is None):
        return None
    step = _next_test(trouble, test) if test else _next_repair(trouble, repair) if repair else planned
    why = step.why.partition(". ")[0] + "." if repair else step.why
    return replace(step, why=why, instead=planned.title)


def _planned(trouble: Trouble) -> NextStep:
    """Return the first step of the plan."""
    first = trouble.decision.first if trouble.decision else None
    test = next((one for one in trouble.tests if first and one.id == first.id), None)
    repair = next((one for one in trouble.repairs if first and one.id == first.id), None)
    if repair is not None:
        return _next_repair(trouble, repair)
    return _next_test(trouble, test) if test is not None else _next_call(trouble)


def _next_test(trouble: Trouble, test: TestRow) -> NextStep:
    known = trouble.knowledge.tests[test.id]
    return NextStep(
        does="test",
        id=test.id,
        title=lower(test.title),
        costs=costs(test.minutes, test.waiting, test.state, trouble.now.state),
        sign=SIGNS[test.state],
        why=f"Takes away {of_doubt(test.bits, trouble.doubt)} of the doubt on average: "
        f"{tells_apart(known, leading_of(trouble))}.",
        cautions=tuple(test.cautions),
        replies=(
            Reply(value="positive", says=answer(known, "positive")),
            Reply(value="negative", says=answer(known, "negative")),
            Reply(value="not_judged", says="Could not judge", quiet=True),
            Reply(value="not_done", says="Leave it out", quiet=True),
        ),
        moves=test.moves,
    )


def _next_repair(trouble: Trouble, repair: RepairRow) -> NextStep:
    why = trouble.stop_says if trouble.stop_testing else (trouble.decision.why if trouble.decision else "")
    return NextStep(
        does="repair",
        id=repair.id,
        title=lower(repair.title),
        costs=(*costs(repair.minutes, 0.0, repair.state, trouble.now.state), "a proof run"),
        sign=SIGNS[repair.state],
        why=f"Ends it in {chance(repair.chance)}. {why}".strip(),
        cautions=tuple(repair.cautions),
        replies=(
            Reply(value="cured", says="Done, and it is gone"),
            Reply(value="fails", says="Done, still there"),
            Reply(value="not_judged", says="Could not judge", quiet=True),
            Reply(value="not_done", says="Leave it out", quiet=True),
        ),
    )


def _next_call(trouble: Trouble) -> NextStep:
    return NextStep(
        does="call",
        id="",
        title="call for help",
        costs=(),
        sign="note",
        why=trouble.call_says or "No test or repair that can be made now is worth its minutes.",
        cautions=tuple(trouble.cautions),
    )


def leading_of(trouble: Trouble) -> list[tuple[str, str]]:
    """Return the first causes that a test may tell apart, four at most: name and title."""
    return [(one.id, one.title) for one in trouble.causes if one.id != OTHER and one.p >= LEAST_SHOWN][:4]
