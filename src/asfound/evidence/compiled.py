"""The model as padded arrays, and the chance of a statement for every variant.

Axes: G lineages (``other`` last), S slots, V variants of the largest slot (each slot's ``other`` follows its
catalogued ones, then padding), O states of a character. Padding has probability 0.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from asfound.errors import InputError, UnknownNameError
from asfound.evidence.model import OTHER

if TYPE_CHECKING:
    from asfound.evidence.model import Character, Model
    from asfound.evidence.observations import Observation

Floats = NDArray[np.float64]
Statement = tuple[Floats, float]
"""Likelihood over the true states [O], and the error e of the way it was made."""

MOST_AGAIN = 2048
"""Tables of a second look at something that was stated before, kept with the model."""


class Compiled:
    """Arrays of one model; caches what a way of seeing makes of each character."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.lineages = model.lineage_names
        self.G, self.S = len(self.lineages), len(model.slots)
        self.sizes = np.array([len(slot.variants) + 1 for slot in model.slots])
        self.V = int(self.sizes.max())
        self.valid = np.arange(self.V) < self.sizes[:, None]
        self.blank = np.where(self.valid, 0.0, -np.inf)
        self.prior = lineage_prior(model)
        with np.errstate(divide="ignore"):
            self.log_prior = np.log(self.prior)
        self.wrong_prior = (
            self.prior
            if model.wrong_prior is None
            else np.array([model.wrong_prior.get(name, 0.0) for name in self.lineages])
        )
        self.given = variants_given_lineage(model, self.V)
        self.turned = np.ascontiguousarray(self.given.transpose(0, 2, 1))
        self.variant_names = [model.variant_names(slot.name) for slot in model.slots]
        self.slot_names = [slot.name for slot in model.slots]
        self.slot_ones, self.lineage_ones, self.variant_ones = np.ones(self.S), np.ones(self.G), np.ones(self.V)
        self.slot_list = [model.slot_index(one.slot) for one in model.characters]
        self.slot_of = np.array([model.slot_index(one.slot) for one in model.characters], dtype=np.intp)
        self.states = [{state: i for i, state in enumerate(one.states)} for one in model.characters]
        tables = [catalogue_of(model, one) for one in model.characters]
        self.theta = [table for table, _, _ in tables]
        self.background = [b for _, b, _ in tables]
        self.excluded = [mask for _, _, mask in tables]
        self.may_exclude = any(mask.any() for mask in self.excluded)
        self.as_built, self.built = as_built(model)
        self.lineage_background = lineage_background(self.built)
        self._floored: dict[tuple[int, float], Floats] = {}
        self._tables: dict[tuple[int, float], Floats] = {}
        self._again: dict[object, Floats] = {}
        self._logs: dict[tuple[int, tuple[object, ...], float], tuple[Floats, float]] = {}
        self.plans: dict[tuple[int, int], object] = {}
        """Looks made ready, kept by ``plan`` for those who ask again."""
        self.moments: dict[object, tuple[float, float, float]] = {}
        """What ``replicates`` found of blocks of statements, kept for the next set of them."""

    def floored(self, k: int, error: float) -> Floats:
        """Return theta [V_s, O] with the floor that makes (1 - e) theta + e b at least ``floor``; see ``chance``."""
        key = (k, error)
        if key not in self._floored:
            theta = self.theta[k]
            if error < 1:
                least = (self.model.floor - error * self.background[k]) / (1 - error)
                raised = np.maximum(theta, least)
                # A hard exclusion is absolute only for a look that cannot err.
                theta = np.where(self.excluded[k], theta, raised) if error == 0 else raised
            self._floored[key] = theta
        return self._floored[key]

    def chance(self, k: int, statements: Sequence[Statement]) -> Floats:
        """Return the chance of the statements about one character, for each variant [V_s].

        All of them share one true state t, each has its own error: sum_t theta[t] prod_i ((1 - e_i) l_i[t] + e_i
        b.l_i). The floor belongs to the least error among them. With one statement this is (1 - e) theta.l + e b.l,
        floored.
        """
        b = self.background[k]
        theta = self.floored(k, min(error for _, error in statements))
        base, each = 1.0, np.ones(len(b))
        for likelihood, error in statements:
            nothing = error * float(b @ likelihood)
            base *= nothing
            each = each * ((1 - error) * likelihood + nothing)
        return base + theta @ (each - base)

    def table(self, k: int, error: float) -> Floats:
        """Return P(state | variant) for one way of seeing a character [O, V], padded with 0."""
        key = (k, error)
        if key not in self._tables:
            b = self.background[k]
            table = np.zeros((len(b), self.V))
            table[:, : self.theta[k].shape[0]] = ((1 - error) * self.floored(k, error) + error * b).T
            self._tables[key] = table
        return self._tables[key]

    def again(self, k: int, error: float, before: Sequence[Statement]) -> Floats:
        """Return P(state | variant, what was stated before) [O, V]: the true state is the same one; kept."""
        key = (k, error, tuple((likelihood.tobytes(), e) for likelihood, e in before))
        found = self._again.get(key)
        if found is None:
            if len(self._again) >= MOST_AGAIN:
                self._again.clear()
            found = self._again[key] = self.work_out_again(k, error, before)
        return found

    def work_out_again(self, k: int, error: float, before: Sequence[Statement]) -> Floats:
        """Return what ``again`` keeps."""
        b, theta = self.background[k], self.floored(k, min(error, *(e for _, e in before)))
        base, each = 1.0, np.ones(len(b))
        for likelihood, e in before:
            nothing = e * float(b @ likelihood)
            base *= nothing
            each = each * ((1 - e) * likelihood + nothing)
        after = (error * b) * (base + theta @ (each - base))[:, None] + (1 - error) * theta * each
        was = self.chance(k, before)
        out = np.zeros((len(b), self.V))
        out[:, : len(was)] = np.divide(after.T, was, out=np.zeros_like(after.T), where=was > 0)
        return out

    def logs(self, k: int, one: Observation, error: float) -> tuple[Floats, float]:
        """Return log P(what was stated | variant) [V], 0 where padded, and its greatest size; kept for the next
        time.
        """
        key = (k, one.states if one.likelihood is None else tuple(one.likelihood.items()), error)
        found = self._logs.get(key)
        if found is None:
            logs = self.padded_log(self.chance(k, [(self.stated(k, one), error)]))
            found = self._logs[key] = (logs, float(np.abs(logs).max()))
        return found

    def stated(self, k: int, one: Observation) -> Floats:
        """Return the likelihood of an observation over the true states [O]."""
        return self.ticked(k, one.states) if one.likelihood is None else self.graded(k, one.likelihood)

    def padded_log(self, chance: Floats) -> Floats:
        """Return the logarithm padded to V with 0."""
        out = np.zeros(self.V)
        with np.errstate(divide="ignore"):
            out[: len(chance)] = np.log(chance)
        return out

    def ticked(self, k: int, states: Sequence[str]) -> Floats:
        """Return 1 for each ticked state [O]; UnknownNameError for a state that the character has not."""
        likelihood = np.zeros(len(self.states[k]))
        if not states:
            raise InputError(
                self.model.characters[k].name, "", "has no state", try_next="Tick one, or say that you could not tell."
            )
        for state in states:
            try:
                likelihood[self.states[k][state]] = 1.0
            except KeyError:
                raise UnknownNameError(f"state of {self.model.characters[k].name}", state, self.states[k]) from None
        return likelihood

    def graded(self, k: int, likelihood: Mapping[str, float]) -> Floats:
        """Return a likelihood vector over the states [O], as given."""
        out = np.zeros(len(self.states[k]))
        for state, value in likelihood.items():
            if state not in self.states[k]:
                raise UnknownNameError(f"state of {self.model.characters[k].name}", state, self.states[k])
            out[self.states[k][state]] = value
        if not (np.isfinite(out).all() and (out >= 0).all() and out.sum() > 0):
            raise InputError(
                self.model.characters[k].name,
                f"{dict(likelihood)}",
                "is no likelihood",
                allowed="numbers from 0 up, not all 0",
                try_next="Correct the grades.",
            )
        return out

    def lineage_vector(self, lineages: Sequence[str] | Mapping[str, float]) -> Floats:
        """Return what a statement about the lineage says of each catalogued lineage [G without ``other``]."""
        grades = lineages if isinstance(lineages, Mapping) else dict.fromkeys(lineages, 1.0)
        place = {one.name: i for i, one in enumerate(self.model.lineages)}
        out = np.zeros(len(place))
        for name, value in grades.items():
            if name not in place:
                raise UnknownNameError("lineage", name, place)
            out[place[name]] = value
        if not (np.isfinite(out).all() and (out >= 0).all() and out.sum() > 0):
            raise InputError(
                "lineages",
                f"{grades}",
                "says nothing",
                allowed="at least one lineage above 0",
                try_next="Tick the lineages for which the statement would be true.",
            )
        return out

    def lineage_chance(self, statements: Sequence[Statement]) -> Floats:
        """Return the chance of statements about the lineage, for each lineage [G].

        A catalogued lineage is what it is; ``other`` is described as some catalogued one, drawn from the background and
        shared by all statements.
        """
        b = self.lineage_background
        known, unknown = np.ones(len(b)), np.ones(len(b))
        for likelihood, error in statements:
            each = (1 - error) * likelihood + error * float(b @ likelihood)
            known = known * np.maximum(each, self.model.floor * likelihood.max())
            unknown = unknown * each
        return known if len(b) == self.G else np.append(known, b @ unknown)


def compile_model(model: Model) -> Compiled:
    """Return the arrays of a model."""
    return Compiled(model)


def lineage_prior(model: Model) -> Floats:
    """Return the priors of the lineages, ``other`` last [G]."""
    known = np.array([one.prior for one in model.lineages]) * (1 - model.unknown)
    return np.append(known, model.unknown) if model.unknown > 0 else known


def variants_given_lineage(model: Model, V: int) -> Floats:
    """Return P(variant | lineage) for every slot [S, G, V]; flat for ``other`` and where the catalogue is silent."""
    G = len(model.lineage_names)
    out = np.zeros((len(model.slots), G, V))
    for s, slot in enumerate(model.slots):
        n = len(slot.variants)
        place = {variant.name: i for i, variant in enumerate(slot.variants)} | {OTHER: n}
        out[s, :, : n + 1] = 1.0 / (n + 1)
        mu = model.mu if slot.mu is None else slot.mu
        w = model.w if slot.w is None else slot.w
        for g, lineage in enumerate(model.lineages):
            native = lineage.native.get(slot.name)
            if native is not None:
                shares = np.zeros(n + 1)
                for name, share in ({native: 1.0} if isinstance(native, str) else native).items():
                    shares[place[name]] = share
                out[s, g, : n + 1] = swapped(shares, mu, w)
    return out


def swapped(shares: Floats, mu: float, w: float) -> Floats:
    """Return P(variant | lineage) from the shares of its native variants, ``other`` last.

    1 - mu - w stays native, w is ``other``, mu is spread over the remaining catalogued variants; where none
    remains, or where ``other`` itself is native, that part stays native.
    """
    rest = shares == 0
    rest[-1] = False
    mu = mu if rest.any() else 0.0
    w = w if shares[-1] == 0 else 0.0
    out = (1 - mu - w) * shares
    out[-1] += w
    if mu:
        out[rest] += mu / rest.sum()
    return out


def catalogue_of(model: Model, one: Character) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Return theta [V_s, O], background b [O] and hard exclusions [V_s, O] of one character, ``other`` last."""
    names = model.variant_names(one.slot)
    place = {state: i for i, state in enumerate(one.states)}
    recorded = np.zeros(len(names), dtype=bool)
    theta = np.zeros((len(names), len(place)))
    excluded = np.zeros(theta.shape, dtype=bool)
    for v, name in enumerate(names):
        said = one.theta.get(name)
        if said is not None:
            recorded[v] = True
            for state, share in ({said: 1.0} if isinstance(said, str) else said).items():
                theta[v, place[state]] = share
        for state in one.excludes.get(name, ()):
            excluded[v, place[state]] = True
    uniform = np.full(len(place), 1.0 / len(place))
    if one.background is not None:
        b = np.array([one.background.get(state, 0.0) for state in one.states])
    elif recorded[:-1].any():
        b = 0.5 * theta[:-1][recorded[:-1]].mean(axis=0) + 0.5 * uniform
    else:
        b = uniform
    theta[~recorded] = b
    theta[excluded] = 0.0
    return theta / theta.sum(axis=1, keepdims=True), b, excluded


def as_built(model: Model) -> tuple[tuple[str, ...], NDArray[np.intp]]:
    """Return the as-built generations in catalogue order, and which of them each catalogued lineage is [G without
    ``other``].
    """
    names = [one.as_built or one.name for one in model.lineages]
    kinds = tuple(dict.fromkeys(names))
    return kinds, np.array([kinds.index(name) for name in names], dtype=np.intp)


def lineage_background(built: NDArray[np.intp]) -> Floats:
    """Return the background of statements about the lineage: half even over lineages, half even over as-built
    generations.
    """
    counts = np.bincount(built)
    result: Floats = 0.5 / len(built) + 0.5 / (len(counts) * counts[built])
    return result
