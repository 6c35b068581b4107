"""Weigh observations exactly: slots integrated out, sources summed over right and wrong.

For a slot: L[v] = log P(o | v); z[g] = sum_v P(v | g) exp(L[v]); log P(g | o) = log P(g) + sum over slots of log z[g].

A source ties the slots that it speaks of. Sources that share a slot (or both speak of the lineage) form a *tie*;
given the lineage, ties are independent of each other, so the sum over right and wrong runs over 2^(sources of one
tie), not over 2^(all sources). The limit is :data:`MOST_TIED` sources in one tie.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass, replace
from itertools import product
from math import log
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from asfound.errors import InputError
from asfound.evidence.gather import ALWAYS, Gathered, Source, active, gather
from asfound.evidence.observations import NothingFits

if TYPE_CHECKING:
    from asfound.evidence.compiled import Compiled, Floats
    from asfound.evidence.observations import Evidence, Observation
    from asfound.evidence.witnesses import Heard

MOST_TIED = 12
"""Most sources that may speak of the same slots, directly or through each other: 4,096 combinations of right and
wrong.
"""
SAFE = 500.0
"""Below this sum of logarithms no product can leave the range of a float. [nats]"""
LINEAGE = -1
"""Number of the pseudo-slot that stands for the lineage itself."""


@dataclass(slots=True)
class Tie:
    """Sources that share slots, summed over right and wrong together.

    ``right`` [R, sources] is each combination; ``rows[s]`` [R] the row of slot s in that combination; ``log`` [R,
    G] the logarithm of P(combination and all that the tie holds | lineage).
    """

    sources: tuple[int, ...]
    slots: tuple[int, ...]
    right: NDArray[np.bool_]
    rows: dict[int, NDArray[np.intp]]
    log: Floats


class Weighed:
    """The arrays that belief, ranking, fit and explanations are read from.

    Attributes
    ----------
    E : array [N, V]
        exp(L - shift) for each row; the first S rows are the slots (with all their sources right, where they have any).
    A : array [N, G, V]
        P(variant | lineage) for each row.
    z : array [N, G]
    log_z : array [N, G]
    p : array [G]
        Posterior of the lineages.
    plain : bool
        No z is 0, so that it can be divided by.
    """

    def __init__(self, c: Compiled, gathered: Gathered) -> None:
        self.c, self.gathered = c, gathered
        self._variants: Floats | None = None
        self._given: dict[int, Floats] = {}
        self.blocks: tuple[Heard, ...] | None = None
        """Blocks with their witnesses, kept by ``weights`` for the next pair of lineages."""
        self.shown: dict[int, Floats] = {}
        """Outcomes of looks by lineage, kept by ``plan`` for those who ask again."""
        self.ties: list[Tie] = []
        self.may_exclude = c.may_exclude
        self.tie_of: dict[int, Tie] = {}
        L = c.blank.copy()
        for s, logs in gathered.quick:
            L[s] += logs
        if not gathered.slots and not gathered.lineage and gathered.size < SAFE:
            self.sum_quickly(L)
            return
        extra: list[Floats] = []
        self.row_slot: list[int] | None = None
        tied: dict[int, tuple[tuple[int, ...], list[int]]] = {}
        for s, characters in gathered.slots.items():
            base = L[s].copy()
            speakers = tuple(sorted({by for items in characters.values() for _, by in items if by != ALWAYS}))
            rows: list[int] = []
            for right in product((True, False), repeat=len(speakers)):
                chosen = dict(zip(speakers, right, strict=True))
                row = base.copy()
                for k, items in characters.items():
                    statements = active(items, chosen)
                    if statements:
                        row += c.padded_log(c.chance(k, statements))
                if not rows:
                    L[s] = row
                    rows.append(s)
                else:
                    rows.append(c.S + len(extra))
                    extra.append(row)
                    self.row_slot = self.row_slot or list(range(c.S))
                    self.row_slot.append(s)
            if speakers:
                tied[s] = (speakers, rows)
        if extra:
            L = np.concatenate([L, extra])
            self.A = c.given[self.row_slot]
        else:
            self.A = c.given
        self.L = L
        self.sum_variants()
        self.sum_sources(tied)

    def sum_quickly(self, L: Floats) -> None:
        """Integrate variants and lineages out where only plain observations were made and no float can over- or
        underflow.

        The same sums as below, without shifts and checks; sums are products with ones because on arrays this small a
        reduction costs several times as much.
        """
        c = self.c
        self.L, self.A, self.row_slot, self.plain = L, c.given, None, True
        self.E = np.exp(L)
        self.z = np.matvec(c.given, self.E)
        self.log_z = np.log(self.z)
        self.log = c.log_prior + c.slot_ones.dot(self.log_z)
        weight = np.exp(self.log)
        total = float(c.lineage_ones.dot(weight))
        self.p = weight / total
        self.log_evidence = log(total)

    def sum_variants(self) -> None:
        """Integrate the variants out of each row."""
        # Reductions are called on the ufuncs: on arrays this small the methods' overhead is most of the time.
        shift = np.maximum.reduce(self.L, axis=1, keepdims=True)
        if self.may_exclude and not np.isfinite(shift).all():
            shift = np.where(np.isfinite(shift), shift, 0.0)
        self.E = np.exp(self.L - shift)
        self.z = np.matvec(self.A, self.E)
        self.plain = bool(np.logical_and.reduce(self.z, axis=None))
        if self.plain:
            self.log_z = np.log(self.z)
            self.log_z += shift
        else:  # too small for a float, or excluded: take the rows apart in log space
            with np.errstate(divide="ignore"):
                terms = np.log(self.A) + self.L[:, None, :]
            self.log_z = log_sum(terms, 2)

    def sum_sources(self, tied: dict[int, tuple[tuple[int, ...], list[int]]]) -> None:
        """Add the slots up to the lineages, each tie summed over right and wrong."""
        c, gathered = self.c, self.gathered
        if not gathered.sources:
            log = c.log_prior + np.add.reduce(self.log_z)
            if gathered.lineage:
                with np.errstate(divide="ignore"):
                    log += np.log(c.lineage_chance([statement for statement, _ in gathered.lineage]))
        else:
            log = self.sum_ties(tied)
        most = np.maximum.reduce(log)
        if most == -np.inf:
            raise NothingFits(
                "The observations exclude every lineage. Look again, or allow for 'other' in the catalogue."
            )
        weight = np.exp(log - most)
        total = np.add.reduce(weight)
        self.log = log
        self.p = weight / total
        self.log_evidence = float(most + np.log(total))

    def sum_ties(self, tied: dict[int, tuple[tuple[int, ...], list[int]]]) -> Floats:
        """Return log P(g and o) [G] where sources speak."""
        c, gathered = self.c, self.gathered
        log: Floats = c.log_prior.copy()
        for s in range(c.S):
            if s not in tied:
                log += self.log_z[s]
        speakers = {s: who for s, (who, _) in tied.items()}
        of_lineage = tuple(sorted({by for _, by in gathered.lineage if by != ALWAYS}))
        if of_lineage:
            speakers[LINEAGE] = of_lineage
        elif gathered.lineage:
            with np.errstate(divide="ignore"):
                log += np.log(c.lineage_chance([statement for statement, _ in gathered.lineage]))
        for sources, slots in together(speakers, len(gathered.sources)):
            if len(sources) > MOST_TIED:
                raise InputError(
                    "sources",
                    ", ".join(gathered.sources[j].name for j in sources),
                    "speak of the same things, too many to be weighed together",
                    allowed=f"up to {MOST_TIED} sources tied to each other",
                    try_next="Join those that repeat each other into one source.",
                )
            tie = self.tie(sources, slots, tied)
            self.ties.append(tie)
            for s in slots:
                self.tie_of[s] = tie
            log += log_sum(tie.log, 0)
        return log

    def tie(
        self, sources: tuple[int, ...], slots: tuple[int, ...], tied: dict[int, tuple[tuple[int, ...], list[int]]]
    ) -> Tie:
        """Return one tie with the logarithm of each combination of right and wrong."""
        c, gathered = self.c, self.gathered
        n = len(sources)
        right = np.array(list(product((True, False), repeat=n)), dtype=bool).reshape(-1, n)
        with np.errstate(divide="ignore"):
            log = np.zeros((len(right), c.G))
            for j, number in enumerate(sources):
                source = gathered.sources[number]
                log_wrong = np.log(source.wrong) + log_when_wrong(c, source)
                log += np.where(right[:, j], np.log1p(-source.wrong), log_wrong)[:, None]
            rows: dict[int, NDArray[np.intp]] = {}
            for s in slots:
                if s == LINEAGE:
                    log += self.lineage_rows(sources, right)
                    continue
                who, numbered = tied[s]
                place = np.zeros(len(right), dtype=np.intp)
                for number in who:  # the same order as product((True, False)) over the slot's own sources
                    place = 2 * place + ~right[:, sources.index(number)]
                rows[s] = np.array(numbered, dtype=np.intp)[place]
                log += self.log_z[rows[s]]
        return Tie(sources, slots, right, rows, log)

    def lineage_rows(self, sources: tuple[int, ...], right: NDArray[np.bool_]) -> Floats:
        """Return log P(statements about the lineage | lineage) for each combination of a tie [R, G]."""
        out = np.zeros((len(right), self.c.G))
        known: dict[tuple[bool, ...], Floats] = {}
        speak = [j for j, number in enumerate(sources) if self.gathered.sources[number].lineage]
        for r, combination in enumerate(right):
            key = tuple(combination[speak])
            if key not in known:
                chosen = dict(zip(sources, combination, strict=True))
                statements = active(self.gathered.lineage, chosen)
                known[key] = np.log(self.c.lineage_chance(statements)) if statements else np.zeros(self.c.G)
            out[r] = known[key]
        return out

    def after(self, k: int, one: Observation) -> Weighed | None:
        """Return what one more plain statement, the first about character k, makes of these; None where it is none.

        Only its own slot has to be weighed anew.
        """
        c, gathered = self.c, self.gathered
        s = c.slot_list[k]
        if s in self.tie_of or not self.plain or one.source is not None or self.stated(k):
            return None
        logs, size = c.logs(k, one, c.model.kinds[one.kind].error)
        row = self.L[s] + logs
        shift = float(np.maximum.reduce(row))
        terms = np.exp(row - shift) if np.isfinite(shift) else None
        total = self.A[s] @ terms if terms is not None else np.zeros(c.G)
        if terms is None or not (total > 0).all() or not np.isfinite(self.log).all():
            return None
        new = copy(self)
        quick = [*gathered.quick, (s, logs)]
        new.gathered = replace(gathered, quick=quick, size=gathered.size + size, plain={**gathered.plain, k: one})
        new._variants, new.blocks, new.shown = None, None, {}
        new._given = {t: table for t, table in self._given.items() if t != s}
        new.L, new.E, new.z, new.log_z = self.L.copy(), self.E.copy(), self.z.copy(), self.log_z.copy()
        new.L[s], new.E[s], new.z[s], new.log_z[s] = row, terms, total, np.log(total) + shift
        new.log = self.log + (new.log_z[s] - self.log_z[s])
        most = np.maximum.reduce(new.log)
        weight = np.exp(new.log - most)
        whole = np.add.reduce(weight)
        new.p, new.log_evidence = weight / whole, float(most + np.log(whole))
        return new

    def stated(self, k: int) -> bool:
        """Whether anything was stated of a character."""
        return k in self.gathered.plain or k in self.gathered.slots.get(self.c.slot_list[k], {})

    def given_lineage(self, tie: Tie) -> Floats:
        """Return P(combination of right and wrong | lineage, observations) [R, G]."""
        log = (
            tie.log - tie.log.max(axis=0, keepdims=True)
            if np.isfinite(tie.log).all()
            else tie.log - np.where(np.isfinite(most := tie.log.max(axis=0, keepdims=True)), most, 0.0)
        )
        weight = np.exp(log)
        total = weight.sum(axis=0, keepdims=True)
        return np.asarray(weight / np.where(total > 0, total, 1.0))

    def row_given(self, row: int) -> Floats:
        """Return P(variant | lineage, row's statements) [G, V]; 0 where the lineage is excluded."""
        slot_terms = self.A[row] * self.E[row]
        total = slot_terms.sum(axis=1, keepdims=True)
        if total.all():
            return np.asarray(slot_terms / total)
        with np.errstate(divide="ignore"):
            terms = np.log(self.A[row]) + self.L[row]
        most = terms.max(axis=1, keepdims=True)
        weight = np.exp(terms - np.where(np.isfinite(most), most, 0.0))
        total = weight.sum(axis=1, keepdims=True)
        result: Floats = weight / np.where(total > 0, total, 1.0)
        return result

    def variant_given(self, s: int) -> Floats:
        """Return P(variant | lineage, observations) of a slot, sources summed out [G, V]."""
        found = self._given.get(s)
        if found is None:
            found = self._given[s] = self.work_out_given(s)
        return found

    def work_out_given(self, s: int) -> Floats:
        """Return what ``variant_given`` keeps."""
        tie = self.tie_of.get(s)
        if tie is None:
            return self.row_given(s)
        chance = self.given_lineage(tie)
        out = np.zeros((self.c.G, self.c.V))
        for row in np.unique(tie.rows[s]):
            out += chance[tie.rows[s] == row].sum(axis=0)[:, None] * self.row_given(row)
        return out

    @property
    def variants(self) -> Floats:
        """P(variant | observations) of every slot [S, V]; worked out once."""
        if self._variants is None:
            self._variants = self.sum_lineages()
        return self._variants

    def sum_lineages(self) -> Floats:
        """Return P(variant | observations) of every slot [S, V]."""
        if not self.ties and self.plain:
            result: Floats = self.E * np.matvec(self.c.turned, self.p / self.z)
            return result
        return np.array([self.p @ self.variant_given(s) for s in range(self.c.S)])

    def source_right(self) -> dict[str, float]:
        """Return P(source is right | observations), in the order in which they speak."""
        out = {}
        for tie in self.ties:
            chance = self.given_lineage(tie) @ self.p
            for j, number in enumerate(tie.sources):
                out[number] = float(chance[tie.right[:, j]].sum())
        return {source.name: out[number] for number, source in enumerate(self.gathered.sources) if number in out}


def weigh(c: Compiled, observations: Sequence[Evidence]) -> Weighed:
    """Return the weighed observations."""
    return Weighed(c, gather(c, observations))


def log_when_wrong(c: Compiled, source: Source) -> float:
    """Return log P(all statements of a source | it describes another thing drawn from the catalogue's priors)."""
    each = c.wrong_prior.copy()
    by_slot: dict[int, Floats] = {}
    for k, statements in source.characters.items():
        s = c.slot_list[k]
        chance = np.zeros(c.V)
        chance[: c.sizes[s]] = c.chance(k, statements)
        by_slot[s] = by_slot[s] * chance if s in by_slot else chance
    for s, chance in by_slot.items():
        each *= c.given[s] @ chance
    if source.lineage:
        each *= c.lineage_chance(source.lineage)
    return float(np.log(each.sum()))


def together(speakers: dict[int, tuple[int, ...]], number: int) -> list[tuple[tuple[int, ...], tuple[int, ...]]]:
    """Return the ties: (sources, slots) that hang together, in order of their first source."""
    group = list(range(number))
    for who in speakers.values():
        least = min(group[j] for j in who)
        joined = {group[j] for j in who}
        group = [least if mark in joined else mark for mark in group]
    out = []
    for mark in dict.fromkeys(group):
        sources = tuple(j for j in range(number) if group[j] == mark)
        slots = tuple(s for s, who in speakers.items() if group[who[0]] == mark)
        if slots:
            out.append((sources, slots))
    return out


def log_sum(terms: Floats, axis: int) -> Floats:
    """Return log of the sum of exponentials along an axis; -inf where every term is."""
    most = terms.max(axis=axis, keepdims=True)
    safe = np.where(np.isfinite(most), most, 0.0)
    with np.errstate(divide="ignore"):
        result: Floats = np.squeeze(np.log(np.exp(terms - safe).sum(axis=axis, keepdims=True)) + safe, axis=axis)
    return result
