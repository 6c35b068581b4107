"""Which witness to hear next: what it would tell per minute, with what must be done to the engine first."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

from asfound.cylinders.inference_knowledge import Knowledge
from asfound.evidence import OTHER, Belief, Look, Model, Setup, rank

ORDER = ("running", "stopped", "isolated")
WORTH = 0.002
"""A witness that would tell less is not proposed. [bit]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Next:
    """A witness that could be heard."""

    name: str
    title: str
    does: str
    minutes: float
    """Its own time, and that of bringing the engine into its state with the price of the stop. [min]"""
    own_minutes: float
    engine_state: str
    """State in which it is heard."""
    cautions: tuple[str, ...]
    share_of_doubt: float
    """What it takes of the present doubt, on average. [0 to 1]"""
    bits: float


def next_witnesses(
    known: Knowledge,
    model: Model,
    belief: Belief,
    engine_state: str,
    skipped: Collection[str],
    target: Literal["side", "cause"],
) -> tuple[tuple[Next, ...], tuple[Next, ...]]:
    """Return witnesses that can be heard now, and those that want another state of the engine; best first per minute.

    Parameters
    ----------
    known, model, belief
        The knowledge, its model, what is believed now.
    engine_state : str
        ``running``, ``stopped`` or ``isolated``.
    skipped : collection of str
        Witnesses heard already, or not fitted.
    target : str
        ``side``: tell sensor from cylinder; ``cause``: tell the causes apart.
    """
    decisions = {name: one.side for name, one in known.causes.items()} | {OTHER: OTHER} if target == "side" else None
    setups = tuple(Setup(one.name, one.minutes, one.risk_minutes) for one in known.setups)
    named = {one.name for one in setups}
    looks = []
    now = set()
    for one in known.witnesses.values():
        if one.name in skipped or one.asked is None:
            continue
        asked = one.asked
        there = asked.state in ("any", engine_state) or (asked.state == "stopped" and engine_state == "isolated")
        if there:
            now.add(one.name)
        wants = None if there or asked.state not in named else asked.state
        looks.append(
            Look(
                one.name,
                (one.name,),
                "read, otherwise",
                asked.minutes,
                setup=wants,
                undecided_chance=asked.cannot_tell,
            )
        )
    if not looks:
        return (), ()
    found = rank(
        model,
        belief,
        looks,
        setups,
        target="decision" if decisions else "lineage",
        decisions=decisions,
        lookahead=False,
    )
    mine: list[Next] = []
    later: list[Next] = []
    for ranked in found.looks:
        if ranked.bits < WORTH:
            continue
        witness = known.witnesses[ranked.id]
        assert witness.asked is not None
        made = Next(
            name=witness.name,
            title=witness.title,
            does=witness.asked.does,
            minutes=ranked.minutes,
            own_minutes=witness.asked.minutes,
            engine_state=witness.asked.state,
            cautions=witness.asked.cautions,
            share_of_doubt=ranked.share_of_doubt,
            bits=ranked.bits,
        )
        (mine if witness.name in now else later).append(made)
    return tuple(mine), tuple(later)
