"""Small discrete networks, exactly: posterior, probability of findings, information, conflict; noisy-OR tables.

For comparison with published networks and for small causal models. Elimination order: least next table first;
products and sums by ``numpy.einsum``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import ArrayLike, NDArray

from asfound.errors import InputError, KnowledgeError, UnknownNameError
from asfound.evidence.information import information as table_information

Floats = NDArray[np.float64]
Factor = tuple[tuple[str, ...], Floats]


@dataclass(frozen=True, slots=True)
class Node:
    """A variable with its states, its parents, and P(state | parents) [parents' states ..., states]."""

    name: str
    states: tuple[str, ...]
    parents: tuple[str, ...]
    table: Floats


class Network:
    """A discrete network.

    Parameters
    ----------
    nodes : sequence of Node

    Raises
    ------
    InputError
        A table whose shape does not fit, that is negative, or whose rows do not add up to 1.
    UnknownNameError
        A parent that is no node.
    """

    def __init__(self, nodes: Sequence[Node]) -> None:
        self.nodes = {node.name: node for node in nodes}
        for node in nodes:
            for parent in node.parents:
                self.node(parent)
            shape = tuple(len(self.nodes[name].states) for name in (*node.parents, node.name))
            if node.table.shape != shape:
                raise InputError(f"nodes/{node.name}", f"{node.table.shape}", "is no shape for it", allowed=f"{shape}")
            if (node.table < 0).any() or np.abs(node.table.sum(axis=-1) - 1).max() > 1e-6:
                raise InputError(f"nodes/{node.name}", "its table", "has rows that do not add up to 1")

    def node(self, name: str) -> Node:
        """Return the node of that name."""
        if name not in self.nodes:
            raise UnknownNameError("node", name, self.nodes)
        return self.nodes[name]

    def joint(self, names: Sequence[str], evidence: Mapping[str, str] | None = None) -> Floats:
        """Return P(names, evidence) [states of the names in turn]; a name that is in evidence is refused."""
        given = dict(evidence or {})
        for name in (*names, *given):
            self.node(name)
        if clash := [name for name in names if name in given]:
            raise InputError("names", clash[0], "is evidence already", try_next="Ask for another node.")
        needed = self.ancestors({*names, *given})
        factors = [self.reduced(self.nodes[name], given) for name in self.nodes if name in needed]
        return eliminate(factors, tuple(names))

    def posterior(self, name: str, evidence: Mapping[str, str] | None = None) -> dict[str, float]:
        """Return P(state | evidence)."""
        table = self.joint((name,), evidence)
        return dict(zip(self.node(name).states, (table / table.sum()).tolist(), strict=True))

    def probability(self, evidence: Mapping[str, str]) -> float:
        """Return P(evidence)."""
        return float(self.joint((), evidence))

    def information(self, target: str, look: str, evidence: Mapping[str, str] | None = None) -> float:
        """Return the mutual information of a look and the target, given the evidence. [bit]"""
        return float(table_information(self.joint((look, target), evidence)))

    def conflict(self, evidence: Mapping[str, str]) -> float:
        """Return log2(product of P(e_i) / P(e)); above 0 warns that the findings pull apart. [bit]"""
        alone = sum(np.log2(self.posterior(name)[state]) for name, state in evidence.items())
        return float(alone - np.log2(self.probability(evidence)))

    def ancestors(self, names: set[str]) -> set[str]:
        """Return the names and all that they hang on; the rest sums to 1."""
        seen: set[str] = set()
        todo = list(names)
        while todo:
            name = todo.pop()
            if name not in seen:
                seen.add(name)
                todo.extend(self.nodes[name].parents)
        return seen

    def reduced(self, node: Node, given: Mapping[str, str]) -> Factor:
        """Return the node's table with the evidence put in."""
        names = (*node.parents, node.name)
        cut: list[int | slice] = []
        for name in names:
            if name in given:
                states = self.nodes[name].states
                if given[name] not in states:
                    raise UnknownNameError(f"state of {name}", given[name], states)
                cut.append(states.index(given[name]))
            else:
                cut.append(slice(None))
        return tuple(name for name in names if name not in given), node.table[tuple(cut)]


def eliminate(factors: list[Factor], keep: tuple[str, ...]) -> Floats:
    """Return the product of the factors summed over all names but ``keep``."""
    sizes = {name: size for names, table in factors for name, size in zip(names, table.shape, strict=True)}
    rest = [name for name in sizes if name not in keep]
    while rest:
        name = min(rest, key=lambda one: width(one, factors, sizes))
        rest.remove(name)
        met = [factor for factor in factors if name in factor[0]]
        names = tuple(dict.fromkeys(other for one, _ in met for other in one if other != name))
        factors = [factor for factor in factors if name not in factor[0]]
        factors.append((names, multiply(met, names)))
    return multiply(factors, keep)


def width(name: str, factors: list[Factor], sizes: Mapping[str, int]) -> int:
    """Return the size of the table that eliminating a name would make."""
    met = {other for names, _ in factors if name in names for other in names} - {name}
    return int(np.prod([sizes[other] for other in met]))


def multiply(factors: list[Factor], keep: tuple[str, ...]) -> Floats:
    """Return the product of factors, summed over the names that are not kept."""
    number = {name: i for i, name in enumerate(dict.fromkeys(n for names, _ in factors for n in names))}
    if not factors:  # nothing was asked: the empty product
        return np.array(1.0)
    operands: list[object] = []
    for names, table in factors:
        operands += [table, [number[name] for name in names]]
    result: Floats = np.einsum(*operands, [number[name] for name in keep], optimize="greedy")  # type: ignore[call-overload]
    return result


def noisy_or(active: Sequence[float], *, leak: float = 0.0) -> float:
    """Return P(effect) = 1 - (1 - leak) prod(1 - q_i) over the causes that are present.

    Parameters
    ----------
    active : sequence of float
        q_i: chance that cause i, present, brings about the effect by itself. [-]
    leak : float
        Chance of the effect with no cause present. [-]

    Examples
    --------
    >>> round(noisy_or([0.4, 0.8]), 3)
    0.88
    """
    return float(1.0 - (1.0 - leak) * np.prod(1.0 - np.asarray(active, dtype=float)))


def noisy_or_table(active: ArrayLike, *, leak: float = 0.0) -> Floats:
    """Return P(effect absent, present | each combination of causes absent, present) [2, ..., 2, 2]."""
    q = np.asarray(active, dtype=float)
    out = np.zeros((2,) * len(q) + (2,))
    for present in product((0, 1), repeat=len(q)):
        chance = noisy_or(q[np.array(present, dtype=bool)].tolist(), leak=leak)
        out[present] = 1 - chance, chance
    return out


def read_bif(text: str, *, file: str = "network") -> Network:
    """Return a network from a file in the Bayesian interchange format (discrete variables only).

    Raises
    ------
    KnowledgeError
        With line and column, where the text cannot be read.
    """
    bare = re.sub(r"//[^\n]*", lambda m: " " * len(m[0]), text)
    number = r"[-+0-9.eE]+"
    states: dict[str, tuple[str, ...]] = {}
    for m in re.finditer(r"variable\s+(\S+)\s*\{[^{}]*\[\s*(\d+)\s*\]\s*\{([^}]*)\}", bare):
        states[m[1]] = tuple(one.strip() for one in m[3].split(","))
        if len(states[m[1]]) != int(m[2]):
            raise bif_error(file, text, m.start(), f"{m[1]} names {len(states[m[1]])} states, says {m[2]}.")
    nodes: list[Node] = []
    for m in re.finditer(r"probability\s*\(\s*([^)|]+?)\s*(?:\|([^)]*))?\)\s*\{([^}]*)\}", bare):
        name, parents = m[1], tuple(one.strip() for one in (m[2] or "").split(",") if one.strip())
        for one in (name, *parents):
            if one not in states:
                raise bif_error(file, text, m.start(), f"{one} is no variable.")
        table = np.full(tuple(len(states[one]) for one in (*parents, name)), np.nan)
        if found := re.search(rf"table((?:\s*,?\s*{number})+)\s*;", m[3]):
            values = [float(one) for one in re.findall(number, found[1])]
            if parents or len(values) != table.size:
                raise bif_error(file, text, m.start(), f"{name} has {len(values)} numbers, not {table.size}.")
            table[...] = values
        for row in re.finditer(rf"\(([^)]*)\)((?:\s*,?\s*{number})+)\s*;", m[3]):
            at = tuple(one.strip() for one in row[1].split(","))
            values = [float(one) for one in re.findall(number, row[2])]
            try:
                place = tuple(states[parent].index(one) for parent, one in zip(parents, at, strict=True))
                table[place] = values
            except ValueError as error:
                raise bif_error(
                    file, text, m.start(3) + row.start(), f"{name}: row ({row[1]}) does not fit: {error}."
                ) from None
        if np.isnan(table).any():
            raise bif_error(file, text, m.start(), f"{name} has rows missing.")
        nodes.append(Node(name, states[name], parents, table))
    if len(nodes) != len(states) or not nodes:
        raise bif_error(file, text, 0, f"{len(states)} variables, {len(nodes)} tables.")
    return Network(nodes)


def bif_error(file: str, text: str, at: int, because: str) -> KnowledgeError:
    """Return the error with the line and column of a place in the text."""
    before = text[:at]
    return KnowledgeError(file, before.count("\n") + 1, at - (before.rfind("\n") + 1) + 1, because)
