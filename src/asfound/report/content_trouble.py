"""What is wrong, for page and sheets: causes beside what they were, the fork, the lines of belief, tests."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from asfound.report.belief_fork import Branch, Outcome
from asfound.report.belief_steps import Line
from asfound.report.content_crosscheck_words import lower
from asfound.report.content_trouble_next import LEAST_SHOWN, OTHER, NextStep, leading_of, next_step
from asfound.report.content_trouble_words import (
    EVERYWHERE,
    HAZARDS,
    REPAIR_SAYS,
    SIGNS,
    STATES,
    answer,
    chance,
    costs,
    first_up,
    minutes,
    of_doubt,
    outcome,
    short,
    step_label,
    tells_apart,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from asfound.report.bars import Rank
    from asfound.sources.cautions import Caution
    from asfound.troubleshoot.shown import BeliefStep, CauseRow, Fork, TestRow, Trouble

OTHER_TITLE = "Something else, or more than one"
SHOWN = 5
"""So many causes have a row of their own, as long as each has the chance `LEAST_SHOWN`; the first two in any case."""
IN_FORK = 3
DRAWN = 4
AGO = 2
"""The old value beside a cause is what was believed so many steps ago."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseShown:
    """One row of what is believed."""

    id: str
    title: str
    p: float
    before: float | None
    """Two steps ago; None where there were not so many steps."""
    rank: Rank


@dataclass(frozen=True, slots=True, kw_only=True)
class TestShown:
    """One row of the list of tests."""

    __test__ = False  # not a test case

    id: str
    title: str
    costs: tuple[str, ...]
    sign: str
    state: str
    bits: float
    share: float
    """Of the doubt that is there, taken away on average. [1]"""
    takes: str
    saves: str
    """Minutes that its answer saves on the way to the end, its own taken off; empty where it saves none."""
    apart: str
    positive: str
    hazards: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TroubleShown:
    """All of it, ready to be shown."""

    next: NextStep | None
    causes: tuple[CauseShown, ...]
    rest: tuple[int, float, float]
    """Causes without a row of their own: how many, their chance together, the highest."""
    rest_before: float | None
    fork: dict[str, Any] | None
    """For `report.svg.belief_fork`, without width."""
    fork_title: str
    lines: dict[str, Any] | None
    """For `report.svg.belief_steps`, without width."""
    tests: tuple[TestShown, ...]


def trouble_shown(trouble: Trouble, *, chosen: str = "") -> TroubleShown:
    """Return what is shown beyond the rows of the trouble itself; ``chosen`` is a step that a person wants instead."""
    ranks = _ranks(trouble)
    causes = _causes(trouble, ranks)
    own = {one.id for one in causes}
    others = [one for one in trouble.causes if one.id not in own]
    step = next_step(trouble, chosen)
    fork, title = _fork(trouble, step, ranks)
    leading = leading_of(trouble)
    return TroubleShown(
        next=step,
        causes=causes,
        rest=(len(others), sum(one.p for one in others), max((one.p for one in others), default=0.0)),
        rest_before=_rest_before(trouble, own),
        fork=fork,
        fork_title=title,
        lines=_lines(trouble, ranks),
        tests=tuple(_test(trouble, one, leading) for one in trouble.tests),
    )


def _ranks(trouble: Trouble) -> dict[str, Rank]:
    """Return how each cause is drawn: the first solid, the second hatched, *something else* dotted."""
    named = [one.id for one in trouble.causes if one.id != OTHER]
    order: dict[str, Rank] = dict.fromkeys(named, "rest")
    order |= dict(zip(named, ("lead", "second"), strict=False))
    return order | {OTHER: "none"}


def title_of(one: CauseRow) -> str:
    """Return the title of a cause, as a head."""
    return OTHER_TITLE if one.id == OTHER else first_up(one.title)


def _causes(trouble: Trouble, ranks: dict[str, Rank]) -> tuple[CauseShown, ...]:
    named = [one for one in trouble.causes if one.id != OTHER]
    shown = [one for i, one in enumerate(named[:SHOWN]) if i < 2 or one.p >= LEAST_SHOWN]
    shown += [one for one in trouble.causes if one.id == OTHER]
    before = _ago(trouble)
    return tuple(
        CauseShown(
            id=one.id,
            title=short(title_of(one)),
            p=one.p,
            before=None if before is None else before.p.get(one.id),
            rank=ranks[one.id],
        )
        for one in shown
    )


def _ago(trouble: Trouble) -> BeliefStep | None:
    """Return what was believed two steps ago; the start where there was but one step, None where none."""
    steps = steps_told(trouble)
    return steps[max(len(steps) - 1 - AGO, 0)] if len(steps) > 1 else None


def steps_told(trouble: Trouble) -> list[BeliefStep]:
    """Return the steps of belief, the start first; what was said once more in the same words is no step."""
    found: list[BeliefStep] = []
    last: dict[tuple[str, str], str] = {}
    for one in trouble.history:
        if last.get((one.about, one.code)) != one.says or not one.about:
            found.append(one)
        last[one.about, one.code] = one.says
    return found


def _rest_before(trouble: Trouble, own: set[str]) -> float | None:
    before = _ago(trouble)
    if before is None:
        return None
    if not own <= set(before.p):
        return None
    return max(1 - sum(before.p[one] for one in own), 0.0)


# ---------------------------------------------------------------------- pictures


def _fork(trouble: Trouble, step: NextStep | None, ranks: dict[str, Rank]) -> tuple[dict[str, Any] | None, str]:
    """Return the fork of the next test, or of the first one where a repair or the call is next."""
    if step is None or trouble.phase != "open":
        return None, ""
    test = next((one for one in trouble.tests if one.id == step.id), None)
    title = "What this test would do" if step.instead else "What the next test would do"
    if test is None:
        test = trouble.tests[0] if trouble.tests else None
        title = "What the best test left would do"
    if test is None or not test.forks:
        return None, ""
    known = trouble.knowledge.tests[test.id]
    likely = max(test.forks.values(), key=lambda one: one.chance)
    branches = [
        Branch(
            answer=answer(known, says),
            chance=f"{chance(fork.chance)} to happen",
            likely=fork is likely,
            outcomes=_outcomes(fork, ranks),
        )
        for says, fork in test.forks.items()
    ]
    label = f"{title}. " + " ".join(
        f"{one.answer}, {one.chance}: "
        + ", ".join(f"{cause.title} {chance(cause.probability)}" for cause in one.outcomes)
        + "."
        for one in branches
    )
    return {"branches": branches, "label": label}, title if step.id == test.id else f"{title}: {test.title}"


def _outcomes(fork: Fork, ranks: dict[str, Rank]) -> tuple[Outcome, ...]:
    return tuple(
        Outcome(OTHER_TITLE if one.id == OTHER else short(first_up(one.title)), one.after, ranks[one.id])
        for one in fork.causes[:IN_FORK]
    )


def label_of(trouble: Trouble, one: BeliefStep) -> str:
    """Return the label of a step of belief."""
    return step_label(one.label, one.says, trouble.knowledge.tests.get(one.about))


def _lines(trouble: Trouble, ranks: dict[str, Rank]) -> dict[str, Any] | None:
    """Return the lines of belief over the steps: the leaders, and *something else* always."""
    history = steps_told(trouble)
    if len(history) < 2:
        return None
    titles = {one.id: title_of(one) for one in trouble.causes}
    named = sorted((one for one in trouble.line_causes if one != OTHER), key=lambda one: -history[-1].p.get(one, 0.0))
    drawn = [*named[: DRAWN - 1], OTHER]
    lines = [
        Line(short(titles[one]), tuple(step.p.get(one, 0.0) for step in history), ranks.get(one, "rest"))
        for one in drawn
    ]
    last = "; ".join(f"{one.title} {chance(one.values[-1])}" for one in lines)
    return {
        "lines": lines,
        "steps": ["at the start", *(label_of(trouble, one) for one in history[1:])],
        "label": f"How belief moved over {len(history) - 1} steps. Now: {last}.",
    }


# ---------------------------------------------------------------------- the list of tests


def _test(trouble: Trouble, one: TestRow, leading: list[tuple[str, str]]) -> TestShown:
    known = trouble.knowledge.tests[one.id]
    return TestShown(
        id=one.id,
        title=one.title,
        costs=costs(one.minutes, one.waiting, one.state, trouble.now.state),
        sign=SIGNS[one.state],
        state=STATES[one.state],
        bits=one.bits,
        share=min(one.bits / trouble.doubt, 1.0) if trouble.doubt > 0 else 0.0,
        takes=of_doubt(one.bits, trouble.doubt),
        saves=minutes(one.saves) if one.saves >= 1 else "",
        apart=tells_apart(known, leading),
        positive=known.positive,
        hazards=hazards(one.cautions),
    )


def hazards(cautions: Iterable[Caution]) -> tuple[str, ...]:
    """Return the hazards of a step in short words, each kind once; those that every piece of work has are left out."""
    return tuple(dict.fromkeys(HAZARDS.get(one.tag, one.hazard) for one in cautions if one.tag not in EVERYWHERE))


def spent(trouble: Trouble) -> str:
    """Return the time spent on steps so far, empty where none was made."""
    return minutes(trouble.minutes) if trouble.minutes > 0 else ""


def said_of_step(trouble: Trouble, step: str, says: str) -> str:
    """Return the words of what was said of a test or repair."""
    known = trouble.knowledge.tests.get(step)
    if known is not None and says in ("positive", "negative", "not_judged", "not_done"):
        return outcome(known, says)
    return first_up(REPAIR_SAYS.get(says, says))


def plan_rows(trouble: Trouble, *, depth: int = 3) -> Sequence[tuple[int, str, str, str]]:
    """Return the plan from here: depth, the answer that leads there, what is done, its title."""
    if trouble.decision is None:
        return ()
    found = []
    above: dict[int, str] = {}
    for deep, says, step in trouble.decision.first.walk():
        above[deep] = step.id
        if deep > depth:
            continue
        word = said_of_step(trouble, above[deep - 1], says) if says and deep else ""
        found.append((deep, word, step.does, step.title))
    return tuple(found)


def lead(trouble: Trouble) -> str:
    """Return how the trouble stands in a sentence or two, as the page begins."""
    if trouble.phase != "open" or trouble.leader is None or trouble.runner_up is None:
        return trouble.says
    first, second = trouble.leader, trouble.runner_up
    left = sum(one.p >= LEAST_SHOWN for one in trouble.causes if one.id != OTHER)
    return (
        f"{short(title_of(first))} leads with {chance(first.p)}; {lower(short(title_of(second)))} follows with "
        f"{chance(second.p)}. {len(trouble.causes) - 1} causes fit this engine; "
        f"{'one is' if left == 1 else f'{left} are'} above {100 * LEAST_SHOWN:.0f} in 100."
    )


def before_all(trouble: Trouble) -> str:
    """Return what goes before every step, without the symptoms that the notice names in its head."""
    titles = "; ".join(trouble.knowledge.symptoms[one].title for one in trouble.urgent)
    return first_up(trouble.before_all.removeprefix(f"{titles}: "))
