"""How belief came about: after each witness more, in the order in which the day brought them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from asfound.troubleshoot.belief import OTHER, Belief, Odds, believe
from asfound.troubleshoot.shown import BeliefStep

if TYPE_CHECKING:
    from asfound.troubleshoot.told import Heard, Said

MOST_LINES = 6
"""Causes that a line of belief follows."""
REST = "rest"
BEFORE = "before anything was told"


def history(
    odds: Odds, said: Sequence[Said], heard: Heard, belief_of: Callable[[Odds, Sequence[Said], Heard], Belief]
) -> tuple[BeliefStep, ...]:
    """Return belief before anything was told, after each finding of another room, and after each thing told.

    Findings come first: they rest on readings, which say nothing of when trouble was talked about. Each step holds the
    chances of the causes that the line follows (`line_causes`), of ``other`` and of the rest together.
    """
    known = odds.knowledge
    beliefs = [(believe(odds), BEFORE, "", "", "", "", "")]
    codes: list[str] = []
    for code in sorted(heard.codes):
        if any(one.about in odds.place for one in known.findings.get(code, ())):
            codes.append(code)
            some = type(heard)(found=heard.found & set(codes), left=heard.left & set(codes))
            about = next(one for one in known.findings[code] if one.about in odds.place)
            beliefs.append(
                (belief_of(odds, (), some), _title(odds, about.about), about.about, about.says, code, "", "")
            )
    for i, one in enumerate(said):
        beliefs.append(
            (
                belief_of(odds, said[: i + 1], heard),
                _title(odds, one.about),
                one.about,
                one.says,
                "",
                one.time,
                one.entry,
            )
        )
    follow = _followed([one[0] for one in beliefs])
    return tuple(
        BeliefStep(
            label=label,
            about=about,
            says=says,
            code=code,
            time=time,
            entry=entry,
            doubt=belief.doubt(),
            p=_chances(belief, follow),
        )
        for belief, label, about, says, code, time, entry in beliefs
    )


def line_causes(steps: Sequence[BeliefStep]) -> tuple[str, ...]:
    """Return the causes that the line follows, in the order in which they stand now; ``other`` is not among them."""
    last = steps[-1].p
    return tuple(sorted((name for name in last if name not in (OTHER, REST)), key=lambda name: -last[name]))


def _followed(beliefs: Sequence[Belief]) -> tuple[str, ...]:
    """Return those that lead now, then those that led once, up to `MOST_LINES`."""
    now = [name for name, _ in beliefs[-1].ranked() if name != OTHER]
    once = [next(name for name, _ in one.ranked() if name != OTHER) for one in reversed(beliefs[1:])]
    wanted = dict.fromkeys([*now[:3], *once, *now[3:MOST_LINES]])
    return tuple(wanted)[:MOST_LINES]


def _chances(belief: Belief, follow: Sequence[str]) -> dict[str, float]:
    chances = dict(belief.ranked())
    found = {name: chances[name] for name in (*follow, OTHER)}
    return {**found, REST: max(0.0, 1 - sum(found.values()))}


def _title(odds: Odds, about: str) -> str:
    known = odds.knowledge
    return known.symptoms[about].title if about in known.symptoms else known.step(about).title
