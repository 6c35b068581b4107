"""Constructed and open tasks beside the record: part conversion, trees of questions, and knowing what is not in the
list.

Part conversion is drawn anew here (the record's random numbers are not known), so figures agree to sampling error:
six generations, eight slots, six variants (the last is ``other``), 48 characters of four states, reliability .995
read, .95 seen, .75 paper at 6, 2 and 1 minutes, swap .12, other .03; 1,500 cases.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np
from tests.evidence.open_data import load, optimal, questions, recorded

from asfound.evidence import Character, Kind, Lineage, Look, Model, Observation, Slot, posterior, rank
from asfound.evidence.calibrate import calibration_error
from asfound.evidence.cases import from_cases
from asfound.evidence.outcomes import doubt

GENERATIONS, SLOTS, VARIANTS, PER_SLOT, STATES = 6, 8, 5, 6, 4
KINDS = (Kind("read", 0.005), Kind("seen", 0.05), Kind("paper", 0.25))
MINUTES = {"read": 6.0, "seen": 2.0, "paper": 1.0}
MIX = (0.2, 0.5, 0.3)  # own guess: all looks then take 120 minutes on average, as in the record
DOUBT_LEFT, MOST_MINUTES = 0.3, 60.0


@dataclass(frozen=True)
class World:
    model: Model
    looks: tuple[Look, ...]


def world(seed: int, *, mu: float = 0.12, w: float = 0.03) -> World:
    """Draw a catalogue: native variants, catalogue states, and a way of seeing each character."""
    random = np.random.default_rng(seed)
    states = tuple(f"o{i}" for i in range(STATES))
    slots = [Slot(f"s{i}", [f"v{j}" for j in range(VARIANTS)]) for i in range(SLOTS)]
    prior = random.dirichlet(np.full(GENERATIONS, 3.0))
    lineages = [
        Lineage(f"g{g}", float(prior[g]), {slot.name: f"v{random.integers(VARIANTS)}" for slot in slots})
        for g in range(GENERATIONS)
    ]
    uniform = dict.fromkeys(states, 1 / STATES)
    characters = [
        Character(
            f"{slot.name}k{k}",
            slot.name,
            states,
            {f"v{v}": states[random.integers(STATES)] for v in range(VARIANTS)},
            background=uniform,
        )
        for slot in slots
        for k in range(PER_SLOT)
    ]
    kinds = [KINDS[random.choice(3, p=MIX)].name for _ in characters]
    model = Model(lineages, slots, characters, KINDS, mu=mu, w=w, unknown=0.0)
    looks = tuple(
        Look(one.name, (one.name,), kind, MINUTES[kind], undecided_chance=0.0)
        for one, kind in zip(characters, kinds, strict=True)
    )
    return World(model, looks)


def draw(one: World, number: int, seed: int) -> list[tuple[int, np.ndarray, dict[str, Observation]]]:
    """Draw cases: lineage, variant of each slot, and what each look would show."""
    random = np.random.default_rng(seed)
    c = one.model.compiled
    cases = []
    for _ in range(number):
        g = int(random.choice(c.G, p=c.prior))
        variants = np.array([random.choice(c.V, p=c.given[s, g]) for s in range(c.S)])
        shown = {}
        for k, look in enumerate(one.looks):
            p = c.table(k, c.model.kinds[look.kind].error)[:, variants[c.slot_list[k]]]
            state = c.model.characters[k].states[int(random.choice(len(p), p=p / p.sum()))]
            shown[look.id] = Observation(look.id, (state,), look.kind)
        cases.append((g, variants, shown))
    return cases


def seen_by(
    one: World, model: Model, shown: dict[str, Observation], way: str, random: np.random.Generator
) -> list[Observation]:
    """Return the observations made in one way: all, by information per minute, by information alone, at random."""
    if way == "all":
        return list(shown.values())
    looks = (
        one.looks
        if way != "bits"
        else tuple(Look(x.id, x.reveals, x.kind, 1.0, undecided_chance=0.0) for x in one.looks)
    )
    made: list[Observation] = []
    minutes = 0.0
    order = random.permutation(len(looks)) if way == "random" else None
    while len(made) < len(looks) and minutes < MOST_MINUTES:
        belief = posterior(model, made)
        if doubt(belief.weighed, "all") < DOUBT_LEFT:
            break
        chosen = (
            looks[order[len(made)]].id
            if order is not None
            else rank(model, belief, looks, target="all", lookahead=False).looks[0].id
        )
        made.append(shown[chosen])
        minutes += MINUTES[shown[chosen].kind]
    return made


def conversion(
    name: str, then: dict[str, float], *, mu: float, w: float, way: str, worlds: int = 15, each: int = 100
) -> None:
    """Print one row of the table, ours above the record."""
    right, all_right, slot_loss, generation, generation_loss, minutes, looks = [], [], [], [], [], [], []
    tops: list[np.ndarray] = []
    hits: list[int] = []
    for seed in range(worlds):
        one = world(seed)
        model = one.model.with_rates(mu=mu, w=w)
        if mu == 0:
            model = Model(model.lineages, model.slots, model.characters, KINDS, mu=1e-6, w=1e-6, unknown=0.0)
        random = np.random.default_rng(1000 + seed)
        for g, variants, shown in draw(one, each, seed + 500):
            made = seen_by(one, model, shown, way, random)
            belief = posterior(model, made)
            p = belief.weighed.variants
            truth = p[np.arange(len(variants)), variants]
            best = p.argmax(axis=1)
            right.append(np.mean(best == variants))
            all_right.append(bool((best == variants).all()))
            slot_loss.append(-np.log(np.maximum(truth, 1e-12)).mean())
            generation.append(int(np.argmax(belief.weighed.p)) == g)
            generation_loss.append(-np.log(max(belief.weighed.p[g], 1e-12)))
            minutes.append(sum(MINUTES[x.kind] for x in made))
            looks.append(len(made))
            tops.extend(p)
            hits.extend(variants)
    ours = [
        np.mean(right),
        np.mean(all_right),
        np.mean(slot_loss),
        np.mean(generation),
        np.mean(generation_loss),
        calibration_error(np.array(tops), np.array(hits)),
        np.mean(minutes),
        np.mean(looks),
    ]
    keys = (
        "slot_accuracy",
        "all_slots_right",
        "slot_logloss_nats",
        "generation_accuracy",
        "generation_logloss",
        "ece15_slots",
        "minutes",
        "looks",
    )
    print(f"{name}")
    print("   ours  ", " ".join(f"{x:9.4f}" for x in ours))
    print("   record", " ".join(f"{then[key]:9.4f}" for key in keys), flush=True)


def open_set() -> dict[str, float]:
    """Zoo with each type left out in turn: is it told that the animal is of no known type?"""
    data = load("zoo")
    prior_unknown = 0.05
    known_unknown, novel_unknown = [], []
    for left_out in range(data.classes):
        inside = data.truth != left_out
        for i in range(len(data.truth)):
            train = inside.copy()
            train[i] = False
            kinds = np.unique(data.truth[train])
            y = np.searchsorted(kinds, data.truth[train])
            flat = from_cases(data.states[train], y, data.sizes, classes=len(kinds), error=0.6)
            log = flat.log_likelihood({k: int(s) for k, s in enumerate(data.states[i])}) + flat.log_prior
            other = sum(
                np.log(
                    0.5 * np.bincount(data.states[train][:, k], minlength=size)[data.states[i, k]] / train.sum()
                    + 0.5 / size
                )
                for k, size in enumerate(data.sizes)
            )
            known = np.logaddexp.reduce(log) + np.log(1 - prior_unknown)
            p = 1 / (1 + np.exp(np.clip(known - other - np.log(prior_unknown), -700, 700)))
            (novel_unknown if data.truth[i] == left_out else known_unknown).append(p)
    known_p, novel_p = np.array(known_unknown), np.array(novel_unknown)
    above = (novel_p[:, None] > known_p[None]).mean() + 0.5 * (novel_p[:, None] == known_p[None]).mean()
    return {
        "auroc_posterior_unknown": above,
        "known_called_unknown_at_0_5": (known_p > 0.5).mean(),
        "novel_called_unknown_at_0_5": (novel_p > 0.5).mean(),
    }


def main() -> int:
    figures = recorded()
    print(
        "part conversion:",
        "slots right, all right, slot log loss, generation right, its log loss, ece15, minutes, looks",
    )
    table = figures["synthetic_part_conversion"]["results"]
    rows = [
        (0.0, 0.0, "all"),
        (0.12, 0.03, "all"),
        (0.03, 0.01, "all"),
        (0.3, 0.1, "all"),
        (0.12, 0.03, "minutes"),
        (0.12, 0.03, "bits"),
        (0.12, 0.03, "random"),
    ]
    for (name, then), (mu, w, way) in zip(table.items(), rows, strict=True):
        conversion(name, then, mu=mu, w=w, way=way)
    zoo = np.unique(load("zoo").states, axis=0)
    print("zoo, questions without error, mean over the distinct rows")
    for name, value in (("one_step", questions(zoo, 1)), ("two_step", questions(zoo, 2)), ("optimal", optimal(zoo))):
        print(f"   {name:10} ours {value:.4f}  record {figures['zoo_tree'][name]:.4f}", flush=True)
    for name in ("mushroom", "audiology"):
        states = np.unique(load(name).states + 1, axis=0)
        then = figures["noise_free_trees"][name]
        print(
            f"   {name:10} {len(states)} rows, one step: ours {questions(states, 1):.4f}"
            f"  record {then['greedy_mean_questions']:.4f}",
            flush=True,
        )
    print("zoo, each type left out in turn")
    for name, value in open_set().items():
        print(f"   {name:28} ours {value:.4f}  record {figures['open_set_zoo'][name]:.4f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
