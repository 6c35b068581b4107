"""Small exact networks against sums over every state and against a general library; multiple faults; noisy-OR."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.errors import InputError, KnowledgeError, UnknownNameError
from asfound.evidence.checks import packaged
from asfound.evidence.networks import Network, Node, noisy_or, noisy_or_table, read_bif
from asfound.evidence.probing import Component, Device, Rule


@st.composite
def networks(draw) -> Network:
    nodes: list[Node] = []
    for i in range(draw(st.integers(2, 6))):
        states = ("x", "y", "z")[: draw(st.integers(2, 3))]
        parents = draw(st.lists(st.sampled_from(nodes), max_size=2, unique_by=lambda node: node.name)) if nodes else []
        shape = (*(len(parent.states) for parent in parents), len(states))
        raw = np.array(
            draw(st.lists(st.integers(1, 9), min_size=int(np.prod(shape)), max_size=int(np.prod(shape))))
        ).reshape(shape)
        nodes.append(Node(f"n{i}", states, tuple(p.name for p in parents), raw / raw.sum(axis=-1, keepdims=True)))
    return Network(nodes)


def everything(network: Network):
    names = list(network.nodes)
    for choice in product(*(range(len(network.nodes[name].states)) for name in names)):
        at = dict(zip(names, choice, strict=True))
        p = 1.0
        for node in network.nodes.values():
            p *= node.table[tuple(at[name] for name in (*node.parents, node.name))]
        yield {name: network.nodes[name].states[i] for name, i in at.items()}, p


@settings(max_examples=60, deadline=None)
@given(networks(), st.data())
def test_posterior_agrees_with_the_sum_over_every_state(network, data):
    names = list(network.nodes)
    target = data.draw(st.sampled_from(names))
    others = [name for name in names if name != target]
    given_names = data.draw(st.lists(st.sampled_from(others), unique=True, max_size=3))
    evidence = {name: data.draw(st.sampled_from(network.nodes[name].states)) for name in given_names}
    expected = dict.fromkeys(network.nodes[target].states, 0.0)
    for states, p in everything(network):
        if all(states[name] == state for name, state in evidence.items()):
            expected[states[target]] += p
    total = sum(expected.values())
    assert network.probability(evidence) == pytest.approx(total, rel=1e-12)
    assert network.posterior(target, evidence) == pytest.approx(
        {state: p / total for state, p in expected.items()}, abs=1e-12
    )


def test_alarm_agrees_with_a_general_library():
    """pyAgrum, lazy propagation, all marginals; it reads numbers in single precision: 1e-6."""
    gum = pytest.importorskip("pyagrum")
    from importlib.resources import files

    library = gum.loadBN(str(files("asfound.evidence") / "data" / "alarm.bif"))
    engine = gum.LazyPropagation(library)
    evidence = {"BP": "LOW", "CVP": "HIGH"}
    engine.setEvidence(evidence)
    engine.makeInference()
    ours = read_bif(packaged("alarm.bif"))
    for name in ours.nodes:
        if name not in evidence:
            theirs = engine.posterior(name)
            found = ours.posterior(name, evidence)
            for i, state in enumerate(library.variable(name).labels()):
                assert found[state] == pytest.approx(float(theirs[i]), abs=1e-6)


def test_conflict_becomes_negative_with_the_rare_cause_that_explains_it():
    """Asia: a shadow on the picture without short breath or smoke conflicts; a rare disease explains it."""
    net = read_bif(packaged("asia.bif"))
    found = {"xray": "yes", "dysp": "no", "smoke": "no"}
    assert net.conflict(found) > 0
    assert net.conflict({**found, "tub": "yes"}) < 0


def test_bif_errors_name_line_and_column():
    text = packaged("asia.bif")
    with pytest.raises(KnowledgeError, match=r"asia:\d+:\d+: .*does not fit"):
        read_bif(text.replace("(yes, yes) 0.9, 0.1;", "(yes, maybe) 0.9, 0.1;"), file="asia")
    with pytest.raises(KnowledgeError, match="rows missing"):
        read_bif(text.replace("(yes, yes) 0.9, 0.1;", ""))
    with pytest.raises(KnowledgeError, match="is no variable"):
        read_bif(text.replace("tub | asia", "tub | africa"))


def test_networks_that_cannot_be():
    with pytest.raises(InputError, match="do not add up"):
        Network([Node("a", ("x", "y"), (), np.array([0.5, 0.6]))])
    with pytest.raises(UnknownNameError, match="node"):
        Network([Node("a", ("x", "y"), ("b",), np.full((2, 2), 0.5))])
    net = Network([Node("a", ("x", "y"), (), np.array([0.5, 0.5]))])
    with pytest.raises(UnknownNameError, match="state of a"):
        net.probability({"a": "z"})
    with pytest.raises(InputError, match="evidence already"):
        net.posterior("a", {"a": "x"})


def test_noisy_or_table_and_leak():
    table = noisy_or_table([0.4, 0.8], leak=0.1)
    assert table[0, 0] == pytest.approx([0.9, 0.1])
    assert table[1, 1, 1] == pytest.approx(1 - 0.9 * 0.6 * 0.2)
    assert noisy_or([], leak=0.3) == pytest.approx(0.3)


def test_a_device_that_works_has_no_fault_as_best_candidate():
    double = Component("double", 0.01, (Rule("y", ("x",), lambda x: 2 * x), Rule("x", ("y",), lambda y: y / 2)))
    add = Component("add", 0.02, (Rule("z", ("y",), lambda y: y + 1),))
    device = Device([double, add], {"x": 3}, values=10)
    sound = device.diagnose([("z", 7)])
    assert next(iter(sound.candidates)) == ()
    assert sound.minimal == ((),)
    broken = device.diagnose([("z", 9)])
    assert set(broken.minimal) == {("double",), ("add",)}
    assert broken.candidates[("add",)] / broken.candidates[("double",)] == pytest.approx(0.02 * 0.99 / (0.01 * 0.98))
    probe = device.probe("y", [("z", 9)])
    assert 0 < probe.information <= broken.entropy
