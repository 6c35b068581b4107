"""Belief by enumerating every configuration: slow, plain, and written without looking at the arrays.

A configuration is a lineage, a variant for every slot, right or wrong for every source. Floors are left out: models
given to it have ``floor=0``.
"""

from __future__ import annotations

from collections import defaultdict
from itertools import product
from math import log

from asfound.evidence import OTHER, LineageStatement, Model, Observation


def prior(model: Model) -> dict[str, float]:
    out = {one.name: one.prior * (1 - model.unknown) for one in model.lineages}
    if model.unknown:
        out[OTHER] = model.unknown
    return out


def variant_chance(model: Model, lineage: str, slot: str) -> dict[str, float]:
    one = next(s for s in model.slots if s.name == slot)
    names = [v.name for v in one.variants]
    natives = {g.name: g.native.get(slot) for g in model.lineages}
    native = natives.get(lineage)
    if native is None:
        return dict.fromkeys([*names, OTHER], 1 / (len(names) + 1))
    rest = [name for name in names if name != native]
    mu = model.mu if rest else 0.0
    return {native: 1 - mu - model.w, OTHER: model.w, **{name: mu / len(rest) for name in rest}}


def state_chance(model: Model, character: str, variant: str) -> dict[str, float]:
    one = model.character(character)
    recorded = {}
    for name, said in one.theta.items():
        shares = {said: 1.0} if isinstance(said, str) else said
        recorded[name] = {state: shares.get(state, 0.0) for state in one.states}
    return recorded.get(variant) or background(model, character)


def background(model: Model, character: str) -> dict[str, float]:
    one = model.character(character)
    rows = []
    for said in (one.theta[v] for v in model.variant_names(one.slot) if v in one.theta and v != OTHER):
        shares = {said: 1.0} if isinstance(said, str) else said
        rows.append([shares.get(state, 0.0) for state in one.states])
    n = len(one.states)
    mean = [sum(row[i] for row in rows) / len(rows) if rows else 1 / n for i in range(n)]
    return {state: 0.5 * mean[i] + 0.5 / n for i, state in enumerate(one.states)}


def likelihood(one: Observation) -> dict[str, float]:
    return dict(one.likelihood) if one.likelihood is not None else dict.fromkeys(one.states, 1.0)


def statements_chance(model: Model, said: list[tuple[Observation, float]], variants: dict[str, str]) -> float:
    """P(statements | variants): statements about one character share one true state, each has its own error."""
    by_character = defaultdict(list)
    for one, error in said:
        by_character[one.character].append((likelihood(one), error))
    out = 1.0
    for character, items in by_character.items():
        b = background(model, character)
        theta = state_chance(model, character, variants[model.character(character).slot])
        total = 0.0
        for truth, p in theta.items():
            term = p
            for grades, error in items:
                term *= (1 - error) * grades.get(truth, 0.0) + error * sum(b[s] * g for s, g in grades.items())
            total += term
        out *= total
    return out


def lineage_chance(model: Model, said: list[tuple[LineageStatement, float]], lineage: str) -> float:
    names = [one.name for one in model.lineages]
    built = {one.name: one.as_built or one.name for one in model.lineages}
    kinds = set(built.values())
    b = {g: 0.5 / len(names) + 0.5 / len(kinds) / sum(built[h] == built[g] for h in names) for g in names}
    total = 0.0
    for described, p in b.items() if lineage == OTHER else [(lineage, 1.0)]:
        term = p
        for one, error in said:
            grades = dict(one.likelihood) if one.likelihood is not None else dict.fromkeys(one.lineages, 1.0)
            term *= (1 - error) * grades.get(described, 0.0) + error * sum(b[g] * x for g, x in grades.items())
        total += term
    return total


def split(said):
    return (
        [(o, e) for o, e in said if isinstance(o, Observation)],
        [(o, e) for o, e in said if isinstance(o, LineageStatement)],
    )


def configurations(model: Model, slots: list[str]):
    """Yield P(configuration) with lineage and variants, over these slots."""
    for lineage, p in prior(model).items():
        tables = [variant_chance(model, lineage, slot) for slot in slots]
        for choice in product(*(table.items() for table in tables)):
            weight = p
            for _, chance in choice:
                weight *= chance
            yield weight, lineage, dict(zip(slots, (name for name, _ in choice), strict=True))


def enumerate_all(model: Model, observations):
    """Yield (weight, lineage, variants, sources right) for every configuration; weights add up to P(observations)."""
    slots = [s.name for s in model.slots]
    plain, by_source = [], defaultdict(list)
    for one in observations:
        if isinstance(one, Observation) and one.undecided:
            continue
        kind = model.kinds[one.kind]
        if one.source is None:
            plain.append((one, kind.error))
        else:
            by_source[one.source].append((one, kind.source_slip, kind.source_wrong))
    wrong = {name: items[0][2] for name, items in by_source.items()}
    elsewhere = {}
    for name, items in by_source.items():
        seen, told = split([(one, slip) for one, slip, _ in items])
        elsewhere[name] = sum(
            weight * statements_chance(model, seen, variants) * lineage_chance(model, told, lineage)
            for weight, lineage, variants in configurations(model, slots)
        )
    names = list(by_source)
    for weight, lineage, variants in configurations(model, slots):
        for right in product((True, False), repeat=len(names)):
            p, said = weight, list(plain)
            for name, is_right in zip(names, right, strict=True):
                if is_right:
                    p *= 1 - wrong[name]
                    said += [(one, slip) for one, slip, _ in by_source[name]]
                else:
                    p *= wrong[name] * elsewhere[name]
            seen, told = split(said)
            p *= statements_chance(model, seen, variants) * lineage_chance(model, told, lineage)
            yield p, lineage, variants, dict(zip(names, right, strict=True))


def belief(model: Model, observations):
    """Return (log evidence, lineages, slots, sources right)."""
    total, lineages, slots, sources = (
        0.0,
        defaultdict(float),
        defaultdict(lambda: defaultdict(float)),
        defaultdict(float),
    )
    for p, lineage, variants, right in enumerate_all(model, observations):
        total += p
        lineages[lineage] += p
        for slot, variant in variants.items():
            slots[slot][variant] += p
        for name, is_right in right.items():
            sources[name] += p * is_right
    norm = lambda d: {name: p / total for name, p in d.items()}  # noqa: E731
    return log(total), norm(lineages), {slot: norm(d) for slot, d in slots.items()}, norm(sources)


def bits(model: Model, observations, outcomes, key):
    """Return the mutual information of a look and ``key(lineage, variants, right)``; ``outcomes`` are lists of
    observations.
    """
    joint = defaultdict(float)
    for o, extra in enumerate(outcomes):
        for p, lineage, variants, right in enumerate_all(model, [*observations, *extra]):
            joint[o, key(lineage, variants, right)] += p
    total = sum(joint.values())
    rows, columns = defaultdict(float), defaultdict(float)
    for (o, h), p in joint.items():
        rows[o] += p / total
        columns[h] += p / total
    return sum(p / total * log(p / total / rows[o] / columns[h], 2) for (o, h), p in joint.items() if p > 0)
