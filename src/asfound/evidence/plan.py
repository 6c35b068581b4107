"""Looks made ready once: tables padded and sorted by slot, so that all plain looks are valued in one go.

A look is *plain* when it reveals one character and speaks for no source. The others, and looks at what was stated
before, go the general way of ``outcomes``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from asfound.errors import InputError, UnknownNameError
from asfound.evidence.information import LN2, x_log_x
from asfound.evidence.model import AS_BUILT
from asfound.evidence.observations import Observation
from asfound.evidence.outcomes import ask

if TYPE_CHECKING:
    from asfound.evidence.compiled import Compiled, Floats
    from asfound.evidence.gather import Gathered
    from asfound.evidence.look import Look, Setup
    from asfound.evidence.observations import Evidence
    from asfound.evidence.weigh import Weighed

MOST_PLANS = 8


class Plan:
    """Looks and set-ups made ready for one model.

    Attributes
    ----------
    minutes : list of float
        Own time, set-up not yet paid, and the price of its risk, for each look. [min]
    plain : list of int [n]
        Which looks are plain, sorted by slot; ``tables`` [n, O, V] goes with it.
    """

    def __init__(self, c: Compiled, looks: Sequence[Look], setups: Sequence[Setup]) -> None:
        self.before: Floats | None = None  # kept by ``apart``
        self.given = (looks, setups)  # holds them, so that their ids stay theirs
        self.c, self.looks, self.setups = c, looks, {one.name: one for one in setups}
        self.asks = [ask(c, look) for look in looks]
        self.extra = [setup_minutes(look, self.setups) for look in looks]
        self.minutes = [check_minutes(look) + extra for look, extra in zip(looks, self.extra, strict=True)]
        self.decided = [1.0 - look.undecided_chance for look in looks]
        self.characters = [frozenset(look.reveals) for look in looks]
        plain = [
            (one.order[0], i)
            for i, one in enumerate(self.asks)
            if len(one.order) == 1 and one.lineage is None and looks[i].source is None
        ]
        plain.sort(key=lambda pair: (c.slot_list[pair[0]], pair[1]))
        self.plain = [i for _, i in plain]
        self.place = {i: n for n, (_, i) in enumerate(plain)}
        self.plain_slot = np.array([c.slot_list[k] for k, _ in plain], dtype=np.intp)
        self.plain_character = [k for k, _ in plain]
        most = max((len(c.states[k]) for k, _ in plain), default=1)
        self.tables = np.zeros((len(plain), most, c.V))
        for n, (k, i) in enumerate(plain):
            self.tables[n, : len(c.states[k])] = c.table(k, c.model.kinds[looks[i].kind].error)
        shown = self.tables.sum(axis=1)
        self.floored = bool((np.abs(shown - 1) > 1e-14)[c.valid[self.plain_slot]].any())
        self.certain = (x_log_x(self.tables).sum(axis=1) - x_log_x(shown)) / LN2
        self.single = [look.source is None and len(look.reveals) == 1 for look in looks]
        self.ways = [(look.reveals[0], look.kind) for look in looks]
        # Whether every outcome of every look has a chance whatever the variant, so that its logarithm can be taken.
        self.full = bool((self.tables.min(axis=1, initial=1.0) > 0)[c.valid[self.plain_slot]].all())
        self.outcome_ones = np.ones(most)
        self.all_plain = len(plain) == len(looks)
        self.single_character = [one.order[0] for one in self.asks]
        self.plain_ways = [(i, self.single_character[i], looks[i].kind) for i in sorted(self.plain)]
        edges = np.flatnonzero(np.diff(self.plain_slot)) + 1
        bounds = [0, *edges.tolist(), len(plain)] if plain else []
        self.runs = [(int(self.plain_slot[a]), a, b) for a, b in pairwise(bounds)]

    def shown_by_lineage(self, weighed: Weighed) -> Floats:
        """Return P(outcome | lineage, observations) of each plain look [n, O, G]; kept, so not to be written to."""
        found = weighed.shown.get(id(self))
        if found is None:
            found = weighed.shown[id(self)] = self.work_out_shown(weighed)
        return found

    def work_out_shown(self, weighed: Weighed, only: int | None = None) -> Floats:
        """Return P(outcome | lineage, observations) of each plain look [n, O, G], or of those at one slot alone."""
        n, most, _ = self.tables.shape
        runs = self.runs if only is None else [run for run in self.runs if run[0] == only]
        out = np.empty((n if only is None else sum(b - a for _, a, b in runs), most, self.c.G))
        simple, at = weighed.plain, 0
        for s, a, b in runs:
            flat = self.tables[a:b].reshape(-1, self.c.V)
            if simple and s not in weighed.tie_of:
                shown = (flat * weighed.E[s]) @ weighed.A[s].T
                shown /= weighed.z[s]
            else:
                shown = flat @ weighed.variant_given(s).T
            out[at : at + b - a] = shown.reshape(b - a, most, self.c.G)
            at += b - a
        return out

    def bits_of_all(self, weighed: Weighed) -> Floats:
        """Return what each plain look tells of everything together [n]: H(o) less what each variant leaves open. [bit]

        The same as ``information(joint)``, with the part that hangs on no observation worked out beforehand.
        """
        variants = weighed.variants.take(self.plain_slot, axis=0)
        outcomes = np.matvec(self.tables, variants)
        told = (self.certain * variants).dot(self.c.variant_ones)
        told -= (outcomes * np.log2(outcomes if self.full else outcomes + 1e-300)).dot(self.outcome_ones)
        if self.floored:  # the rows add up to a little more than 1
            total = outcomes.dot(self.outcome_ones)
            told = told / total + np.log2(total)
        return np.asarray(told)

    def joint(self, weighed: Weighed, target: str, onto: Floats | None) -> Floats:
        """Return the joint table of outcome and hypothesis of each plain look [n, O, H].

        For ``"all"`` the hypotheses are the variants of the look's own slot: nothing else bears on what it shows.
        """
        if target == "all":
            return np.asarray(self.tables * weighed.variants[self.plain_slot][:, None, :])
        joint: Floats = self.shown_by_lineage(weighed) * weighed.p
        if target == "lineage":
            return joint
        if target == "decision":
            assert onto is not None
            return np.asarray(joint @ onto)
        t = self.c.model.slot_index(target)
        given = weighed.variant_given(t)
        out: Floats = joint @ given
        own = self.plain_slot == t
        if own.any():
            out[own] = self.tables[own] * (weighed.p @ given)
        return out


def plan(c: Compiled, looks: Sequence[Look], setups: Sequence[Setup]) -> Plan:
    """Return the looks made ready; kept for the next time where looks and set-ups are tuples."""
    if not isinstance(looks, tuple) or not isinstance(setups, tuple):
        return Plan(c, tuple(looks), tuple(setups))
    key = (id(looks), id(setups))
    found = c.plans.get(key)
    if not isinstance(found, Plan) or found.given[0] is not looks or found.given[1] is not setups:
        found = Plan(c, looks, setups)
        if len(c.plans) >= MOST_PLANS:
            c.plans.pop(next(iter(c.plans)))
        c.plans[key] = found
    return found


def setup_minutes(look: Look, setups: Mapping[str, Setup]) -> float:
    """Return what the set-up of a look still costs, the price of its risk included. [min]"""
    if look.setup is None:
        return 0.0
    if look.setup not in setups:
        raise UnknownNameError("set-up", look.setup, setups)
    one = setups[look.setup]
    if one.minutes < 0 or one.risk_minutes < 0:
        raise InputError(
            f"setups/{one.name}", f"{one.minutes}, {one.risk_minutes}", "are no minutes", allowed="0 and more"
        )
    return 0.0 if one.paid else one.minutes + one.risk_minutes


def check_minutes(look: Look) -> float:
    """Return the own minutes of a look; InputError where they or its chances cannot be."""
    if not look.minutes >= 0:
        raise InputError(f"looks/{look.id}/minutes", f"{look.minutes}", "are no minutes", allowed="0 and more")
    if not 0 <= look.undecided_chance <= 1:
        raise InputError(
            f"looks/{look.id}/undecided_chance", f"{look.undecided_chance}", "is no probability", allowed="0 to 1"
        )
    return float(look.minutes)


def made(observations: Sequence[Evidence]) -> tuple[set[tuple[str, str]], set[str], set[str], set[str]]:
    """Return what was done already: (character, kind) looked at, sources asked, characters not told, characters
    stated.
    """
    seen: set[tuple[str, str]] = set()
    asked: set[str] = set()
    undecided: set[str] = set()
    stated: set[str] = set()
    for one in observations:
        if one.source is not None:
            asked.add(one.source)
        if isinstance(one, Observation):
            seen.add((one.character, one.kind))
            (undecided if one.undecided else stated).add(one.character)
        else:
            seen.add((AS_BUILT, one.kind))
            stated.add(AS_BUILT)
    return seen, asked, undecided, stated


def open_looks(
    plan: Plan, observations: Sequence[Evidence], gathered: Gathered
) -> tuple[list[int], list[int], set[str]]:
    """Return the looks still to be made, those of them that need the general way, and the characters not told before.

    Left out: sources already asked, and looks all of whose characters were looked at in the same way.
    """
    if plan.all_plain and gathered.simple:
        plain = gathered.plain
        left = [i for i, k, kind in plan.plain_ways if k not in plain or plain[k].kind != kind]
        return left, [i for i in left if plan.single_character[i] in plain], set()
    seen, asked, undecided, stated = made(observations)
    left = []
    general = []
    for i, (single, way) in enumerate(zip(plan.single, plan.ways, strict=True)):
        if single:
            if way in seen:
                continue
        elif already(plan.looks[i], seen, asked):
            continue
        left.append(i)
        if i not in plan.place or way[0] in stated:
            general.append(i)
    return left, general, undecided - stated


def already(look: Look, seen: set[tuple[str, str]], asked: set[str]) -> bool:
    """Whether its source was asked, or all its characters were looked at in the same way."""
    if look.source is not None:
        return look.source in asked
    return all((name, look.kind) in seen for name in look.reveals)
