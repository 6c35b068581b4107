"""Which part of a computing whole is faulty: candidates, their probabilities, and where to measure next (de Kleer
and Williams 1987).

Each component has rules that give one of its quantities from others; a candidate is the set of components that are
faulty. What a candidate predicts follows from the rules of all other components and from what was measured, in any
direction.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from asfound.errors import InputError
from asfound.evidence.information import entropy

MOST_COMPONENTS = 16
Value = float | int | str


@dataclass(frozen=True, slots=True)
class Rule:
    """``gives`` follows from ``needs`` by ``formula``, which answers None where it has no answer."""

    gives: str
    needs: tuple[str, ...]
    formula: Callable[..., Value | None]


@dataclass(frozen=True, slots=True)
class Component:
    """A component, how often it fails, and its rules while it is sound."""

    name: str
    p_fail: float
    rules: tuple[Rule, ...]


@dataclass(frozen=True, slots=True)
class Probe:
    """What measuring a quantity would tell: chance of each predicted value, of none of them, and the information.
    [bit]
    """

    quantity: str
    values: dict[Value, float]
    unpredicted: float
    expected_entropy: float
    information: float


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """Candidates (sets of faulty components) with their probabilities, most probable first, and the minimal ones."""

    candidates: dict[tuple[str, ...], float]
    minimal: tuple[tuple[str, ...], ...]
    entropy: float


class Device:
    """Components, known inputs, and ``m``: over how many values a quantity that nothing predicts is spread evenly."""

    def __init__(self, components: Sequence[Component], inputs: Mapping[str, Value], *, values: int) -> None:
        if len(components) > MOST_COMPONENTS:
            raise InputError("components", f"{len(components)}", "are too many", allowed=f"up to {MOST_COMPONENTS}")
        self.components, self.inputs, self.values = tuple(components), dict(inputs), values

    def predict(self, faulty: Sequence[str], measured: Mapping[str, Value]) -> dict[str, Value] | None:
        """Return every quantity that follows if just these are faulty; None where that contradicts itself."""
        known = {**self.inputs, **measured}
        rules = [rule for one in self.components if one.name not in faulty for rule in one.rules]
        grown = True
        while grown:
            grown = False
            for rule in rules:
                if not all(name in known for name in rule.needs):
                    continue
                value = rule.formula(*(known[name] for name in rule.needs))
                if value is None:
                    continue
                if rule.gives not in known:
                    known[rule.gives] = value
                    grown = True
                elif known[rule.gives] != value:
                    return None
        return known

    def weights(self, measured: Sequence[tuple[str, Value]]) -> dict[tuple[str, ...], float]:
        """Return P(candidate, measurements): each measurement is certain where predicted, else one of ``m`` values."""
        out: dict[tuple[str, ...], float] = {}
        names = [one.name for one in self.components]
        for size in range(len(names) + 1):
            for faulty in combinations(names, size):
                weight = float(np.prod([c.p_fail if c.name in faulty else 1 - c.p_fail for c in self.components]))
                before: dict[str, Value] = {}
                for quantity, value in measured:
                    predicted = self.predict(faulty, before)
                    if predicted is None:
                        weight = 0.0
                        break
                    if quantity not in predicted:
                        weight /= self.values
                    elif predicted[quantity] != value:
                        weight = 0.0
                        break
                    before[quantity] = value
                if weight > 0 and self.predict(faulty, before) is not None:
                    out[faulty] = weight
        return out

    def diagnose(self, measured: Sequence[tuple[str, Value]]) -> Diagnosis:
        """Return the candidates that agree with the measurements, in the order in which these were made."""
        weights = self.weights(measured)
        total = sum(weights.values())
        found = {faulty: weight / total for faulty, weight in weights.items()}
        minimal = tuple(one for one in found if not any(set(other) < set(one) for other in found))
        ranked = dict(sorted(found.items(), key=lambda pair: -round(pair[1], 12)))
        return Diagnosis(ranked, minimal, entropy(list(found.values())))

    def probe(self, quantity: str, measured: Sequence[tuple[str, Value]]) -> Probe:
        """Return what measuring a quantity next would tell."""
        candidates = self.diagnose(measured).candidates
        now = entropy(list(candidates.values()))
        predicted: dict[Value, dict[tuple[str, ...], float]] = {}
        silent: dict[tuple[str, ...], float] = {}
        for faulty, p in candidates.items():
            known = self.predict(faulty, dict(measured))
            assert known is not None
            if quantity in known:
                predicted.setdefault(known[quantity], {})[faulty] = p
            else:
                silent[faulty] = p
        each = {faulty: p / self.values for faulty, p in silent.items()}
        chances = {value: sum(group.values()) + sum(each.values()) for value, group in predicted.items()}
        expected = sum(
            chance * entropy([*predicted[value].values(), *each.values()]) for value, chance in chances.items()
        )
        others = self.values - len(predicted)
        if silent:
            expected += others * sum(each.values()) * entropy(list(each.values()))
        values = {value: sum(group.values()) for value, group in predicted.items()}
        return Probe(quantity, values, sum(silent.values()), expected, now - expected)
