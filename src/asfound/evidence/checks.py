"""Recompute the published and constructed examples that this room was checked with."""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import cache
from importlib.resources import files
from itertools import permutations
from typing import Any

import numpy as np

from asfound.evidence import calibrate, information, networks, posterior, rank
from asfound.evidence.look import Look
from asfound.evidence.model import Character, Kind, Lineage, Model, Slot
from asfound.evidence.observations import Observation
from asfound.evidence.probing import Component, Device, Rule
from asfound.evidence.repair import Repair, Test, Trouble, independent_cost, order_tests, tests_until_failure
from asfound.sources.prove import Check

EXACT = 1e-9
SINGLE = 1e-6
"""One of the general libraries behind the large network reads its numbers in single precision."""
Found = Iterator[tuple[str, float, float]]


def packaged(name: str) -> str:
    """Return the text of a packaged data file."""
    return (files("asfound.evidence") / "data" / name).read_text(encoding="utf-8")


@cache
def anchors() -> dict[str, dict[str, Any]]:
    """Return the worked examples by id."""
    return {one["id"]: one for one in json.loads(packaged("published_anchors.json"))["anchors"]}


@cache
def slot_case() -> dict[str, Any]:
    """Return the constructed slot case."""
    found: dict[str, Any] = json.loads(packaged("published_slot_case.json"))
    return found


def checks() -> Iterator[Check]:
    """Yield every check of this room."""
    recomputed = {
        "weight_of_evidence_factor": factor,
        "burglary": burglary,
        "noisy_or_fever": fever,
        "tennis_gain": tennis,
        "twelve_balls": balls,
        "polybox": polybox,
        "reboot_sequence": reboot,
        "efficiency_bound": bound,
        "brier_log": scores,
        "test_order_stop_on_fail": test_order,
        "asia": asia,
        "alarm": alarm,
        "tests_and_repairs_4": tests_and_repairs,
    }
    for name, compute in recomputed.items():
        one = anchors()[name]
        tolerance = SINGLE if name == "alarm" else EXACT
        for what, value, published in compute(one["inputs"], one["expected"]):
            yield Check(
                f"{name}/{what}",
                "evidence",
                value,
                published,
                tolerance,
                one["source"],
                one["clause"],
                note="exact value recomputed from the published inputs",
            )
    yield from printed()
    for what, value, published in slots():
        yield Check(
            f"slot_case/{what}",
            "evidence",
            value,
            published,
            EXACT,
            "own_calculation",
            note="constructed; exact by enumeration of every configuration",
        )


def printed() -> Iterator[Check]:
    """Yield what the publications print, to their last digit."""
    rows = [
        ("burglary/printed", next(burglary(*example("burglary")))[1], 0.284, 5e-4, "burglary", "-"),
        ("brier_log/printed brier", next(scores(*example("brier_log")))[1], 0.037, 1e-3, "brier_log", "-"),
        ("brier_log/printed log loss", list(scores(*example("brier_log")))[1][1], 0.21616, 1e-5, "brier_log", "nats"),
        ("efficiency_bound/printed", next(bound(*example("efficiency_bound")))[1], 1.1, 1e-9, "efficiency_bound", "-"),
    ]
    shown = {"info": 0.940, "outlook": 0.246, "temperature": 0.029, "humidity": 0.151, "windy": 0.048}
    for what, value, _ in tennis(*example("tennis_gain")):
        rows.append((f"tennis_gain/printed {what}", value, shown[what], 1e-3, "tennis_gain", "bit"))
    for name, value, published, tolerance, anchor, unit in rows:
        one = anchors()[anchor]
        yield Check(
            name,
            "evidence",
            value,
            published,
            tolerance,
            one["source"],
            one["clause"],
            unit,
            note="as printed; the paper cuts rather than rounds" if "tennis" in name else "as printed",
        )


def example(name: str) -> tuple[Any, Any]:
    """Return inputs and expected values of an example."""
    return anchors()[name]["inputs"], anchors()[name]["expected"]


def factor(i: Any, e: Any) -> Found:
    """Odds, posterior and decibans from a likelihood ratio."""
    ratio = i["p_sign_given_cause"] / i["p_sign_given_other"]
    after = information.updated(i["p_cause"], ratio)
    yield "factor", ratio, e["factor"]
    yield "posterior_odds", after / (1 - after), e["posterior_odds"]
    yield "posterior", after, e["posterior"]
    yield "decibans", information.decibans(ratio), e["decibans"]


def burglary(i: Any, e: Any) -> Found:
    """Posterior in a network of five nodes."""
    yes_no = ("yes", "no")

    def table(*rows: float) -> networks.Floats:
        shape = (2,) * (len(rows).bit_length() - 1)
        return np.stack([np.array(rows).reshape(shape), 1 - np.array(rows).reshape(shape)], axis=-1)

    a = i["p_alarm"]
    net = networks.Network(
        [
            networks.Node("b", yes_no, (), table(i["p_b"])),
            networks.Node("e", yes_no, (), table(i["p_e"])),
            networks.Node("a", yes_no, ("b", "e"), table(a["b,e"], a["b"], a["e"], a["none"])),
            networks.Node("j", yes_no, ("a",), table(*i["p_j_given_a"])),
            networks.Node("m", yes_no, ("a",), table(*i["p_m_given_a"])),
        ]
    )
    yield "p_b_given_j_m", net.posterior("b", dict.fromkeys(i["evidence"], "yes"))["yes"], e["p_b_given_j_m"]


def fever(i: Any, e: Any) -> Found:
    """Noisy-OR of three causes."""
    for present, published in e.items():
        active = [] if present == "none" else [1 - i["inhibition"][cause] for cause in present.split("+")]
        yield present, networks.noisy_or(active), published


def tennis(i: Any, e: Any) -> Found:
    """Information gain of four characters about the class, from a table of counts."""
    table, columns = i["table"], i["columns"]
    classes = [row[-1] for row in table]
    kinds = sorted(set(classes))
    yield "info", information.entropy([classes.count(kind) for kind in kinds]), e["info"]
    for k, name in enumerate(columns[:-1]):
        states = sorted({row[k] for row in table})
        counts = [[sum(row[k] == s and row[-1] == kind for row in table) for kind in kinds] for s in states]
        yield name, float(information.information(np.array(counts, dtype=float))), e[name]


def balls(i: Any, e: Any) -> Found:
    """Three-valued look: k balls against k of twelve, one of them heavy or light."""
    for k in range(1, 7):
        joint = np.zeros((3, i["hypotheses"]))
        for ball in range(12):
            for heavy in (0, 1):
                side = 0 if ball < k else 1 if ball < 2 * k else 2
                joint[side if side == 2 else side ^ heavy, 2 * ball + heavy] = 1 / i["hypotheses"]
        yield f"{k}v{k}", float(information.information(joint)), e[f"{k}v{k}"]
    yield "log3_24", information.entropy(np.full(i["hypotheses"], 1.0)) / np.log2(3), e["log3_24"]


def polybox(i: Any, e: Any) -> Found:
    """Multiple faults in three multipliers and two adders, and where to measure next."""

    def times(name: str, a: str, b: str, out: str) -> Component:
        return Component(
            name,
            i["p_fail"],
            (
                Rule(out, (a, b), lambda x, y: x * y),
                Rule(a, (out, b), lambda z, y: z / y if y else None),
                Rule(b, (out, a), lambda z, x: z / x if x else None),
            ),
        )

    def plus(name: str, a: str, b: str, out: str) -> Component:
        return Component(
            name,
            i["p_fail"],
            (
                Rule(out, (a, b), lambda x, y: x + y),
                Rule(a, (out, b), lambda z, y: z - y),
                Rule(b, (out, a), lambda z, x: z - x),
            ),
        )

    device = Device(
        [
            times("M1", "A", "C", "X"),
            times("M2", "B", "D", "Y"),
            times("M3", "C", "E", "Z"),
            plus("A1", "X", "Y", "F"),
            plus("A2", "Y", "Z", "G"),
        ],
        {"A": 3, "B": 2, "C": 2, "D": 3, "E": 3},
        values=i["m"],
    )
    seen = [tuple(pair) for pair in i["observed_in_order"]]
    found = device.diagnose(seen)
    yield "n_candidates", len(found.candidates), e["n_candidates"]
    same = {frozenset(one) for one in found.minimal} == {frozenset(one) for one in e["minimal"]}
    yield "minimal candidates agree", float(same), 1.0
    by_set = {frozenset(faulty): p for faulty, p in found.candidates.items()}
    for name, published in e["posterior_top"].items():
        yield name, by_set[frozenset(name.split("+"))], published
    yield "entropy", found.entropy, e["entropy_bits"]
    for quantity, published in e["probes"].items():
        probe = device.probe(quantity, seen)
        yield f"{quantity} expected entropy", probe.expected_entropy, published["expected_entropy_bits"]
        yield f"{quantity} information", probe.information, published["information_bits"]
        yield f"{quantity} unpredicted", probe.unpredicted, published["unpredicted"]
        for value, p in published["values"].items():
            yield f"{quantity} = {value}", probe.values[float(value)], p


def reboot(i: Any, e: Any) -> Found:
    """Repair sequences of one cause, repairs that share causes."""
    trouble = Trouble(i["prior"], [Repair(name, i["cost"][name], i["p_fix"][name]) for name in i["cost"]])
    for said, cost in e["best"]:
        yield said, trouble.expected_cost(said.split(" > ")), cost
    ends = [name for name, fixes in i["p_fix"].items() if len(fixes) == len(i["prior"])]
    rest = [name for name in i["cost"] if name not in ends]
    yield "all_n", sum(1 for n in range(len(rest) + 1) for _ in permutations(rest, n)) * len(ends), e["all_n"]
    best, cost = trouble.best_sequence()
    yield "best_sequence", cost, e["best"][0][1]
    yield "best_sequence order agrees", float(" > ".join(best) == e["best"][0][0]), 1.0
    yield "by_efficiency agrees", float(" > ".join(trouble.by_efficiency()) == e["best"][0][0]), 1.0
    for name, published in e["p_over_c_first"].items():
        yield f"p/c {name}", trouble.efficiency()[name], published


def bound(i: Any, e: Any) -> Found:
    """Expected cost of two repairs of unit cost."""
    yield "ecr", independent_cost(i["efficiencies_after_update"], i["cost"]), e["ecr"]


def scores(i: Any, e: Any) -> Found:
    """Brier score in its binary form, and log loss."""
    yield "brier", calibrate.brier_binary(i["brier"]["p"], i["brier"]["y"]), e["brier"]
    p = np.array(i["logloss_p_of_true_class"])
    yield (
        "logloss_nats",
        calibrate.log_loss(np.stack([p, 1 - p], axis=1), np.zeros(len(p), dtype=int)),
        e["logloss_nats"],
    )


def test_order(i: Any, e: Any) -> Found:
    """All six orders of three tests that end at the first failure."""
    for order, published in e.items():
        yield order, tests_until_failure(list(order), i["cost"], i["p_fail"]), published
    best = min(e, key=e.__getitem__)
    yield "best order agrees", float("".join(order_tests(i["cost"], i["p_fail"])) == best), 1.0


def asia(i: Any, e: Any) -> Found:
    """Marginals, posteriors, information and conflict in a network of eight nodes."""
    net = networks.read_bif(packaged(i["file"]), file=i["file"])
    for name, published in e["marginals"].items():
        yield name, net.posterior(name)["yes"], published
    for n, case in enumerate(e["cases"]):
        at = f"case {n + 1} {case['target']}"
        yield at, net.posterior(case["target"], case["evidence"])["yes"], case["p_yes"]
        for look, published in case["information_bits"].items():
            yield f"{at} I({look})", net.information(case["target"], look, case["evidence"]), published
    for n, case in enumerate(e["conflict_log2"]):
        yield f"conflict {n + 1}", net.conflict(case["evidence"]), case["conf"]


def alarm(i: Any, e: Any) -> Found:
    """Posteriors and information in a network of 37 nodes."""
    net = networks.read_bif(packaged(i["file"]), file=i["file"])
    yield "nodes", len(net.nodes), e["nodes"]
    for case in e["cases"]:
        found = net.posterior(case["target"], case["evidence"])
        for state, published in case["posterior"].items():
            yield f"{case['target']} {state}", found[state], published
        for look, published in case["information_bits_top"].items():
            yield f"I({case['target']}; {look})", net.information(case["target"], look, case["evidence"]), published


def tests_and_repairs(i: Any, e: Any) -> Found:
    """Best policy of four repairs and two tests with a fallback."""
    trouble = Trouble(
        i["prior"],
        [Repair(name, cost, fixes) for name, (cost, fixes) in i["actions"].items()],
        [Test(name, cost, positive) for name, (cost, positive) in i["tests"].items()],
        fallback=i["fallback"],
    )
    policy = trouble.best_policy()
    yield "optimal_cost", policy.cost, e["optimal_cost"]
    yield "optimal_first agrees", float(f"test {policy.step}" == e["optimal_first"]), 1.0
    alone = Trouble(i["prior"], trouble.repairs, fallback=i["fallback"])
    yield "optimal_without_tests", alone.best_policy().cost, e["optimal_without_tests"]
    order, cost = trouble.best_sequence()
    yield "best_fixed_sequence_without_tests", cost, e["best_fixed_sequence_without_tests"][0]
    yield "best fixed sequence agrees", float(list(order) == e["best_fixed_sequence_without_tests"][1]), 1.0
    yield "efficiency_order_no_tests", trouble.expected_cost(trouble.by_efficiency()), e["efficiency_order_no_tests"]
    for name, published in e["myopic_cost_if_this_test_first"].items():
        yield f"{name} first", trouble.cost_after_test(name), published


def slot_model() -> tuple[Model, tuple[Observation, ...], tuple[Look, ...]]:
    """Return the constructed slot case as model, observations and looks (every character, nothing undecided)."""
    c = slot_case()
    variants = [f"v{v}" for v in range(c["n_variants_per_slot"] - 1)]
    native = c["native_variant_slot_by_generation"]
    states = tuple(f"o{o}" for o in range(c["n_states"]))
    model = Model(
        [
            Lineage(f"g{g}", p, {f"s{s}": f"v{row[g]}" for s, row in enumerate(native)})
            for g, p in enumerate(c["generation_prior"])
        ],
        [Slot(f"s{s}", variants) for s in range(len(native))],
        [
            Character(
                f"k{k}",
                f"s{s}",
                states,
                {f"v{v}": states[o] for v, o in enumerate(row)},
                background=dict.fromkeys(states, 1 / len(states)),
            )
            for k, (s, row) in enumerate(
                zip(c["slot_of_character"], c["catalogue_state_character_by_variant"], strict=True)
            )
        ],
        [Kind(f"reliability {r}", 1 - r) for r in sorted(set(c["reliability"]))],
        mu=c["mu"],
        w=c["ou"],
        unknown=0.0,
    )
    kinds = [f"reliability {r}" for r in c["reliability"]]
    seen = [Observation(f"k{k}", (states[o],), kinds[int(k)]) for k, o in c["hard"].items()]
    soft = [
        Observation(f"k{k}", kind=kinds[int(k)], likelihood=dict(zip(states, grades, strict=True)))
        for k, grades in c["soft"].items()
    ]
    looks = tuple(
        Look(f"{k}", (f"k{k}",), kinds[k], minutes, undecided_chance=0.0) for k, minutes in enumerate(c["cost_minutes"])
    )
    return model, (*seen, *soft), looks


def slots() -> Found:
    """Posterior, slots and ranking of the constructed slot case."""
    model, observations, looks = slot_model()
    e = slot_case()["expected"]
    belief = posterior(model, observations)
    yield "log_evidence_nats", belief.log_evidence, e["log_evidence_nats"]
    for name, p, published in zip(belief.lineages, belief.lineages.values(), e["generation"], strict=True):
        yield name, p, published
    for slot, row in zip(belief.slots, e["slots"], strict=True):
        for variant, published in zip(belief.slots[slot], row, strict=True):
            yield f"{slot} {variant}", belief.slots[slot][variant], published
    ranking = rank(model, belief, looks, target="all", lookahead=False)
    yield "joint_entropy_bits", ranking.doubt, e["joint_entropy_bits"]
    bits = {one.id: one.bits for one in ranking.looks}
    for k, published in e["information_bits_of_remaining"].items():
        yield f"bits of look {k}", bits[k], published
    yield "best_look_per_minute", float(ranking.looks[0].id), e["best_look_per_minute"]
    yield "best_look_bits_per_minute", ranking.looks[0].score, e["best_look_bits_per_minute"]
    whole, chance = belief.most_probable()
    agrees = [int(name[1:]) for name in whole.values()] == e["most_probable"]
    yield "most_probable agrees", float(agrees), 1.0
    yield "p_most_probable", chance, e["p_most_probable"]
