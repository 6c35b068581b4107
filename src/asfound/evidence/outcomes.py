"""What a look, or several looks together, may show, and what each outcome would make of the belief: exact and general.

The quick way for plain looks is in ``plan``; this one also takes looks that reveal several things, sources, what
was seen before in another way, and slots tied by a source.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from asfound.errors import InputError
from asfound.evidence.gather import active, stated_before
from asfound.evidence.information import LN2, entropy, information, x_log_x
from asfound.evidence.model import AS_BUILT
from asfound.evidence.weigh import LINEAGE, Tie, Weighed

if TYPE_CHECKING:
    from asfound.evidence.compiled import Compiled, Floats
    from asfound.evidence.look import Look

MOST_OUTCOMES = 4096
"""Most joint outcomes of looks taken together."""
LEAST_WORLD = 1e-13
"""Combinations of right and wrong sources below this posterior are left out of a ranking."""
MOST_CELLS = 2_000_000


@dataclass(frozen=True, slots=True)
class Ask:
    """A look made ready: for each slot the characters with their error; ``lineage`` is the error where AS_BUILT is
    revealed.

    ``wrong`` is above 0 where one source speaks. ``order`` gives the characters (AS_BUILT as -1) as the outcome
    axes have them.
    """

    slots: dict[int, tuple[tuple[int, float], ...]]
    lineage: float | None
    wrong: float
    order: tuple[int, ...] = field(default=())


def ask(c: Compiled, look: Look) -> Ask:
    """Return a look made ready.

    Raises
    ------
    UnknownNameError
        It reveals a character, or is made in a way, that the model has not.
    InputError
        It reveals nothing.
    """
    kind = c.model.kind(look.kind)
    error = kind.error if look.source is None else kind.source_slip
    slots: dict[int, list[tuple[int, float]]] = {}
    lineage = None
    for name in look.reveals:
        if name == AS_BUILT:
            lineage = error
        else:
            k = c.model.character_index(name)
            slots.setdefault(c.slot_list[k], []).append((k, error))
    if not slots and lineage is None:
        raise InputError(f"looks/{look.id}/reveals", "", "is empty", try_next="Name at least one character.")
    wrong = 0.0 if look.source is None else kind.source_wrong
    return ordered(slots, lineage, wrong)


def ordered(slots: dict[int, list[tuple[int, float]]], lineage: float | None, wrong: float) -> Ask:
    """Return an Ask with the order of its outcome axes."""
    order = tuple(k for items in slots.values() for k, _ in items) + ((LINEAGE,) if lineage is not None else ())
    return Ask({s: tuple(items) for s, items in slots.items()}, lineage, wrong, order)


def joined(asks: Iterable[Ask]) -> Ask:
    """Return several looks as one; only looks without a source can be joined."""
    slots: dict[int, list[tuple[int, float]]] = {}
    lineage = None
    for one in asks:
        for s, items in one.slots.items():
            slots.setdefault(s, []).extend(items)
        lineage = one.lineage if one.lineage is not None else lineage
    return ordered(slots, lineage, 0.0)


def size(c: Compiled, one: Ask) -> int:
    """Return the number of joint outcomes."""
    return int(np.prod([len(c.as_built) if k == LINEAGE else len(c.states[k]) for k in one.order]))


def states_of(c: Compiled, one: Ask, reveals: tuple[str, ...]) -> list[tuple[str, ...]]:
    """Return the states of every outcome, in the order of ``reveals``."""
    names = [AS_BUILT if k == LINEAGE else c.model.characters[k].name for k in one.order]
    choices = [c.as_built if k == LINEAGE else c.model.characters[k].states for k in one.order]
    place = [names.index(name) for name in reveals]
    return [tuple(outcome[i] for i in place) for outcome in product(*choices)]


@dataclass(frozen=True, slots=True)
class Outcome:
    """One thing that a look may show, and what it would make of the belief.

    ``states`` has one state per revealed character. ``top`` is the lineage that would lead, with ``top_probability``.
    """

    states: tuple[str, ...]
    probability: float
    top: str
    top_probability: float
    lineages: dict[str, float]


class Sight:
    """One Ask against weighed observations."""

    def __init__(self, weighed: Weighed, one: Ask, slot: int | None = None) -> None:
        self.w, self.c, self.ask, self.slot = weighed, weighed.c, one, slot
        if size(self.c, one) > MOST_OUTCOMES:
            raise InputError(
                "reveals",
                f"{size(self.c, one)} joint outcomes",
                "are too many to weigh together",
                allowed=f"up to {MOST_OUTCOMES}",
                try_next="Split the look into two.",
            )
        self.before = {k: stated_before(self.c, weighed.gathered, k) for k in one.order if k != LINEAGE}
        self.ties = [tie for tie in weighed.ties if self.matters(tie)]

    def matters(self, tie: Tie) -> bool:
        """Whether right and wrong of a tie's sources have to be kept apart for this look."""
        involved = [*self.ask.slots, *([LINEAGE] if self.ask.lineage is not None else [])]
        if self.slot is not None and self.slot not in involved:
            involved.append(self.slot)
        if sum(s in tie.slots for s in involved) > 1:
            return True
        if self.ask.lineage is not None and LINEAGE in tie.slots:
            return True
        return any(by in tie.sources for items in self.before.values() for _, by in items)

    def worlds(self) -> Iterator[tuple[Floats, dict[int, bool], dict[int, int]]]:
        """Yield P(g and combination) [G], which sources are right, and the rows of the tied slots."""
        shares = [self.w.given_lineage(tie) for tie in self.ties]
        for combination in product(*(range(len(tie.right)) for tie in self.ties)):
            weight = self.w.p
            right: dict[int, bool] = {}
            rows: dict[int, int] = {}
            for tie, share, r in zip(self.ties, shares, combination, strict=True):
                weight = weight * share[r]
                right.update(zip(tie.sources, tie.right[r].tolist(), strict=True))
                rows.update({s: int(row[r]) for s, row in tie.rows.items()})
            if weight.sum() >= LEAST_WORLD:
                yield weight, right, rows

    def variants(self, s: int, rows: dict[int, int]) -> Floats:
        """Return P(variant | lineage) in a world [G, V]."""
        return self.w.row_given(rows[s]) if s in rows else self.w.variant_given(s)

    def table(self, s: int, right: dict[int, bool]) -> Floats:
        """Return P(joint outcome of the slot's characters | variant) in a world [O_s, V]."""
        out = np.ones((1, self.c.V))
        for k, error in self.ask.slots[s]:
            before = active(self.before[k], right)
            one = self.c.again(k, error, before) if before else self.c.table(k, error)
            out = (out[:, None, :] * one[None]).reshape(-1, self.c.V)
        return out

    def lineage_table(self, right: dict[int, bool]) -> Floats:
        """Return P(as-built generation stated | lineage) in a world [generations, G]."""
        c, error = self.c, self.ask.lineage
        assert error is not None
        before = active(self.w.gathered.lineage, right)
        was = c.lineage_chance(before) if before else np.ones(c.G)
        rows = [c.lineage_chance([*before, ((c.built == a).astype(float), error)]) for a in range(len(c.as_built))]
        return np.array([np.divide(row, was, out=np.zeros_like(row), where=was > 0) for row in rows])

    def when_wrong(self) -> Floats:
        """Return the chance of each outcome when the source describes another thing [O]."""
        c = self.c
        parts = []
        for s, items in self.ask.slots.items():
            table = np.ones((1, c.V))
            for k, error in items:
                table = (table[:, None, :] * c.table(k, error)[None]).reshape(-1, c.V)
            parts.append(table @ c.given[s].T)
        if self.ask.lineage is not None:
            parts.append(
                np.array(
                    [
                        c.lineage_chance([((c.built == a).astype(float), self.ask.lineage)])
                        for a in range(len(c.as_built))
                    ]
                )
            )
        return across(parts) @ c.wrong_prior

    def with_lineage(self) -> Floats:
        """Return the joint table of outcome and lineage [O, G]."""
        out = np.zeros((size(self.c, self.ask), self.c.G))
        for weight, right, rows in self.worlds():
            parts = [self.table(s, right) @ self.variants(s, rows).T for s in self.ask.slots]
            if self.ask.lineage is not None:
                parts.append(self.lineage_table(right))
            out += across(parts) * weight
        return self.mixed(out, self.w.p)

    def with_slot(self) -> Floats:
        """Return the joint table of outcome and variant of the target slot [O, V]."""
        t = self.slot
        assert t is not None
        out = np.zeros((size(self.c, self.ask), self.c.V))
        prior = np.zeros(self.c.V)
        for weight, right, rows in self.worlds():
            target = self.variants(t, rows)  # [G, V]
            prior += weight @ target
            tables = {s: self.table(s, right) for s in self.ask.slots}
            parts = []
            for s, table in tables.items():
                parts.append(np.ones((len(table), self.c.G)) if s == t else table @ self.variants(s, rows).T)
            if self.ask.lineage is not None:
                parts.append(self.lineage_table(right))
            joint = (across(parts) * weight) @ target
            if t in tables:
                joint *= self.spread(t, tables[t])
            out += joint
        return self.mixed(out, prior)

    def spread(self, t: int, table: Floats) -> Floats:
        """Return the target slot's own table repeated over the outcomes of the other slots [O, V]."""
        sizes = [int(np.prod([len(self.c.states[k]) for k, _ in items])) for items in self.ask.slots.values()]
        place = list(self.ask.slots).index(t)
        before = int(np.prod(sizes[:place]))
        after = size(self.c, self.ask) // (before * sizes[place])
        return np.repeat(np.tile(table, (before, 1)).reshape(before * sizes[place], -1), after, axis=0)

    def with_all(self) -> float:
        """Return the information about the lineage, every slot and every source together. [bit]

        Outcomes hang on the variants of the revealed slots only (and on which earlier sources were right), so the
        rest of the whole adds nothing. For a source yet to be asked its own being right is not counted.
        """
        if len(self.ask.slots) == 1 and self.ask.lineage is None and self.ask.wrong == 0:
            (s,) = self.ask.slots
            cells = [self.table(s, right) * (weight @ self.variants(s, rows)) for weight, right, rows in self.worlds()]
            return float(information(np.concatenate(cells, axis=1)))
        return self.wide()

    def wide(self) -> float:
        """Return ``with_all`` where several slots, the lineage or a new source are involved."""
        c, wrong = self.c, self.ask.wrong
        outcomes = size(c, self.ask)
        span = c.G * int(np.prod([c.sizes[s] for s in self.ask.slots])) if self.ask.lineage is not None or wrong else 1
        if outcomes * span > MOST_CELLS:  # too wide: what it tells of the lineage is a lower bound
            return float(information(self.with_lineage()))
        away = self.when_wrong() if wrong else None
        total = np.zeros(outcomes)
        told = 0.0
        for weight, right, rows in self.worlds():
            tables = [self.table(s, right) for s in self.ask.slots]
            tables = [np.divide(t, (n := t.sum(axis=0)), out=np.zeros_like(t), where=n > 0) for t in tables]
            given = [self.variants(s, rows) for s in self.ask.slots]
            if self.ask.lineage is None and away is None:
                total += across([t @ v.T for t, v in zip(tables, given, strict=True)]) @ weight
                told += sum(float((weight @ v) @ x_log_x(t).sum(axis=0)) for t, v in zip(tables, given, strict=True))
                continue
            lineage = self.lineage_table(right) if self.ask.lineage is not None else np.ones((1, c.G))
            lineage = lineage / lineage.sum(axis=0)
            for g in np.flatnonzero(weight > LEAST_WORLD):
                shown, chance = lineage[:, g : g + 1], np.ones(1)
                for t, v in zip(reversed(tables), reversed(given), strict=True):
                    shown = (t[:, None, :, None] * shown[None, :, None, :]).reshape(len(t) * len(shown), -1)
                    chance = (v[g][:, None] * chance[None]).ravel()
                if away is not None:
                    shown = (1 - wrong) * shown + wrong * away[:, None]
                total += weight[g] * (shown @ chance)
                told += weight[g] * float(x_log_x(shown).sum(axis=0) @ chance)
        return max(0.0, float(told - x_log_x(total).sum()) / LN2)

    def mixed(self, joint: Floats, prior: Floats) -> Floats:
        """Mix in the outcomes of a source that is wrong."""
        if self.ask.wrong == 0:
            return joint
        return (1 - self.ask.wrong) * joint + self.ask.wrong * self.when_wrong()[:, None] * prior


def across(parts: list[Floats]) -> Floats:
    """Return the products of independent parts, outcome by outcome: [O_1, G], [O_2, G] ... become [O_1 O_2 ..., G]."""
    out = parts[0]
    for part in parts[1:]:
        out = (out[:, None, :] * part[None]).reshape(-1, out.shape[1])
    return out


def doubt(weighed: Weighed, target: str) -> float:
    """Return the entropy of the target now. [bit]

    For ``"all"``: of the lineage, every slot and every source together, by the chain rule.
    """
    c = weighed.c
    if target == "lineage":
        return entropy(weighed.p)
    if target != "all":
        return entropy(weighed.p @ weighed.variant_given(c.model.slot_index(target)))
    if not weighed.ties and weighed.plain:  # H(g) + sum_g p sum_s H(v_s | g), all slots at once
        terms = (weighed.A * weighed.E[:, None, :]) / weighed.z[:, :, None]
        inner = x_log_x(terms).sum(axis=2).sum(axis=0)
        return float(-(x_log_x(weighed.p).sum() + weighed.p @ inner)) / LN2
    bits = entropy(weighed.p)
    for s in range(c.S):
        tie = weighed.tie_of.get(s)
        if tie is None:
            bits -= float(weighed.p @ x_log_x(weighed.row_given(s)).sum(axis=1)) / LN2
    for tie in weighed.ties:
        share = weighed.given_lineage(tie)
        bits -= float(weighed.p @ x_log_x(share).sum(axis=0)) / LN2
        for rows in tie.rows.values():
            for r, row in enumerate(rows):
                bits -= float((weighed.p * share[r]) @ x_log_x(weighed.row_given(int(row))).sum(axis=1)) / LN2
    return bits


def outcomes_of(lineages: tuple[str, ...], states: Sequence[tuple[str, ...]], joint: Floats) -> tuple[Outcome, ...]:
    """Return outcomes from the joint table of outcome and lineage [O, G], most probable first; ties as they stand."""
    chance = joint.sum(axis=1)
    total = float(chance.sum())
    after = joint / np.where(chance > 0, chance, 1.0)[:, None]
    tops = np.argmax(np.round(after, 12), axis=1).tolist()
    chances, rows = chance.tolist(), after.tolist()
    order = sorted((o for o in range(len(rows)) if chances[o] > 0), key=lambda o: -round(chances[o], 12))
    return tuple(
        Outcome(
            states[o],
            chances[o] / total,
            lineages[tops[o]],
            rows[o][tops[o]],
            dict(zip(lineages, rows[o], strict=True)),
        )
        for o in order
    )
