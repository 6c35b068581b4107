"""Open data sets, ten-fold, against recorded figures of a plain prototype: right answers, log loss, calibration, looks.

The protocol is that of the record: ten stratified folds, in each the list is learnt from the other nine; stop at
0.95 or when no look is worth 0.001 bit; a look whose answer is missing still counts. The record scored Mushroom on
800 cases drawn over the folds, here every case is scored. ``_T`` of the record: with a temperature fitted on inner
folds. Ours always has one: fitted on the two best looks beside the record's rows without, fitted on all looks
beside its rows with. Data and licences: tests/evidence/data/README.md.
"""

from __future__ import annotations

import csv
import gzip
import json
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from asfound.evidence.calibrate import brier, calibration_error, log_loss
from asfound.evidence.cases import Learnt, learn, stratified

DATA = Path(__file__).parent.parent / "tests" / "evidence" / "data"
SURE = 0.95
WORTH = 1e-3
FOLDS = 10
FEW = 2
FIGURES = ("top1", "brier", "logloss_nats", "ece15", "mean_looks")


@dataclass(frozen=True)
class Table:
    """States as numbers (-1 missing), class of each case, number of states of each character, number of classes."""

    states: np.ndarray
    truth: np.ndarray
    sizes: list[int]
    classes: int


@dataclass(frozen=True)
class Score:
    top1: float
    brier: float
    logloss: float
    ece: float
    looks: float


def load(name: str) -> Table:
    path = next(DATA.glob(f"{name}.csv*"))
    with gzip.open(path, "rt") if path.suffix == ".gz" else path.open() as file:
        head, *rows = list(csv.reader(file))
    place = head.index("type" if name == "zoo" else "class")
    keep = [i for i, column in enumerate(head) if i != place and column != "name"]
    kinds = sorted({row[place] for row in rows})
    columns = [sorted({row[i] for row in rows} - {"?"}) for i in keep]
    states = [[-1 if row[i] == "?" else c.index(row[i]) for i, c in zip(keep, columns, strict=True)] for row in rows]
    return Table(
        np.array(states), np.array([kinds.index(row[place]) for row in rows]), [len(c) for c in columns], len(kinds)
    )


def greedy(
    learnt: Learnt, case: np.ndarray, known: dict[tuple[tuple[int, int], ...], tuple[np.ndarray, int]]
) -> tuple[np.ndarray, int]:
    """Look at what tells most of the class until sure; return the last belief and the number of looks."""
    observed: dict[int, int] = {}
    looked: list[int] = []
    while True:
        key = tuple((k, observed.get(k, -1)) for k in looked)
        if key not in known:
            p = learnt.hypotheses(observed)
            classes = np.bincount(learnt.flat.group, weights=p, minlength=learnt.classes)
            bits = learnt.flat.bits(p)
            bits[looked] = -1.0
            best = int(np.argmax(np.round(bits, 9)))
            known[key] = (classes, -1 if classes.max() >= SURE or bits[best] < WORTH else best)
        classes, best = known[key]
        if best < 0:
            return classes, len(looked)
        looked.append(best)
        if case[best] >= 0:
            observed[best] = int(case[best])


def run(name: str, *, few: bool) -> dict[str, Score]:
    """Return the scores of all looks together and of looks one by one."""
    data = load(name)
    fold = stratified(data.truth, FOLDS)
    number = FEW
    every: list[np.ndarray] = []
    one_by_one: list[np.ndarray] = []
    looks: list[int] = []
    truth: list[int] = []
    for f in range(FOLDS):
        inside, held = fold != f, np.flatnonzero(fold == f)
        learnt = learn(
            data.states[inside], data.truth[inside], data.sizes, classes=data.classes, looks=number if few else None
        )
        known: dict[tuple[tuple[int, int], ...], tuple[np.ndarray, int]] = {}
        for i in held:
            case = data.states[i]
            every.append(learnt.classify({k: int(s) for k, s in enumerate(case) if s >= 0}))
            belief, looked = greedy(learnt, case, known)
            one_by_one.append(belief)
            looks.append(looked)
            truth.append(int(data.truth[i]))
    t = "" if few else "_T"
    return {
        f"all{t}": score(every, truth, len(data.sizes)),
        f"greedy{t}": score(one_by_one, truth, float(np.mean(looks))),
    }


def score(beliefs: list[np.ndarray], truth: list[int], looks: float) -> Score:
    p, y = np.array(beliefs), np.array(truth)
    return Score(
        float((p.argmax(axis=1) == y).mean()), brier(p, y), log_loss(p, y, least=1e-300), calibration_error(p, y), looks
    )


def recorded() -> dict[str, dict[str, dict[str, float]]]:
    found: dict[str, dict[str, dict[str, float]]] = json.loads((DATA / "recorded_figures.json").read_text())
    return found


def misses(ours: Score, then: dict[str, float]) -> list[str]:
    """Return in which figures ours is worse than the record."""
    worse = {
        "top1": ours.top1 < then["top1"] - 5e-5,
        "logloss": ours.logloss > then["logloss_nats"] + 5e-5,
        "ece": ours.ece > then["ece15"] + 5e-5,
        "looks": ours.looks > then["mean_looks"] + 5e-5,
    }
    return [figure for figure, is_worse in worse.items() if is_worse]


def line(name: str, way: str, whose: str, one: Score) -> str:
    figures = f"{one.top1:7.4f} {one.brier:7.4f} {one.logloss:8.4f} {one.ece:7.4f} {one.looks:7.3f}"
    return f"{name:10} {way:9} {whose:8} {figures}"


def main() -> int:
    print(f"{'data':10} {'way':9} {'':8} {'top1':>7} {'brier':>7} {'logloss':>8} {'ece15':>7} {'looks':>7}")
    missed = 0
    for name in sys.argv[1:] or ("zoo", "mushroom", "audiology"):
        for few in (True, False):
            for way, ours in run(name, few=few).items():
                then = recorded()[name][way]
                worse = misses(ours, then)
                missed += len(worse)
                told = "at least as good" if not worse else f"worse in {', '.join(worse)}"
                print(line(name, way, "ours", ours), told)
                print(line("", "", "record", Score(*(then[figure] for figure in FIGURES))), flush=True)
    print(f"{missed} figures worse than the record")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
