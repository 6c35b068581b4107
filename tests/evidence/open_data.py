"""Open data sets, ten-fold: the protocol of the recorded figures, for tests and benchmarks.

Ten stratified folds, in each the list is learnt from the other nine; stop at 0.95 or when no look is worth 0.001
bit; a look whose answer is missing still counts. The record scored Mushroom on 800 cases drawn over the folds, here
every case is scored. The record's rows are without and with (``_T``) a temperature fitted on inner folds. Ours
always has one: for looks one by one that which suits few looks beside the record's row without, that which suits
all beside its row with. Data and licences: data/README.md.
"""

from __future__ import annotations

import csv
import gzip
import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from asfound.evidence.calibrate import brier, calibration_error, log_loss
from asfound.evidence.cases import Learnt, learn, stratified
from asfound.evidence.information import entropy

DATA = Path(__file__).parent / "data"
SURE, SURER = 0.95, 0.98
WORTH = 1e-3
FOLDS = 10


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


Known = dict[tuple[tuple[int, int], ...], tuple[np.ndarray, int]]


def greedy(learnt: Learnt, case: np.ndarray, known: Known, *, early: bool, sure: float) -> tuple[np.ndarray, int]:
    """Look at what tells most of the class until sure; return the last belief and the number of looks."""
    observed: dict[int, int] = {}
    looked: list[int] = []
    while True:
        key = tuple((k, observed.get(k, -1)) for k in looked)
        if key not in known:
            p = learnt.hypotheses(observed, early=early)
            classes = np.bincount(learnt.group, weights=p, minlength=learnt.classes)
            bits = learnt.flat.bits(p)
            bits[looked] = -1.0
            best = int(np.argmax(np.round(bits, 9)))
            known[key] = (classes, -1 if classes.max() >= sure or bits[best] < WORTH else best)
        classes, best = known[key]
        if best < 0:
            return classes, len(looked)
        looked.append(best)
        if case[best] >= 0:
            observed[best] = int(case[best])


def run(name: str) -> dict[str, Score]:
    """Return the scores of all looks together and of looks one by one, by the names of the record's rows."""
    data = load(name)
    fold = stratified(data.truth, FOLDS)
    ways = {"greedy": (True, SURE), "greedy_T": (False, SURE), "greedy_T, surer": (False, SURER)}
    beliefs: dict[str, list[np.ndarray]] = {way: [] for way in ("all", *ways)}
    looks: dict[str, list[int]] = {way: [] for way in ("all", *ways)}
    truth: list[int] = []
    for f in range(FOLDS):
        inside = fold != f
        learnt = learn(data.states[inside], data.truth[inside], data.sizes, classes=data.classes)
        known: dict[str, Known] = {way: {} for way in ways}
        for i in np.flatnonzero(fold == f):
            case = data.states[i]
            truth.append(int(data.truth[i]))
            beliefs["all"].append(learnt.classify({k: int(s) for k, s in enumerate(case) if s >= 0}))
            looks["all"].append(len(data.sizes))
            for way, (early, sure) in ways.items():
                belief, number = greedy(learnt, case, known[way], early=early, sure=sure)
                beliefs[way].append(belief)
                looks[way].append(number)
    scores = {way: score(beliefs[way], truth, float(np.mean(looks[way]))) for way in beliefs}
    return {"all": scores["all"], "all_T": scores["all"], **{way: scores[way] for way in ways}}


def score(beliefs: list[np.ndarray], truth: list[int], looks: float) -> Score:
    p, y = np.array(beliefs), np.array(truth)
    return Score(
        float((p.argmax(axis=1) == y).mean()), brier(p, y), log_loss(p, y, least=1e-300), calibration_error(p, y), looks
    )


def recorded() -> dict[str, dict[str, dict[str, float]]]:
    found: dict[str, dict[str, dict[str, float]]] = json.loads((DATA / "recorded_figures.json").read_text())
    return found


def then(name: str, way: str) -> dict[str, float]:
    """Return the record's row that a way is compared with."""
    return recorded()[name][way.split(",")[0]]


def misses(ours: Score, record: dict[str, float]) -> list[str]:
    """Return in which figures ours is worse than the record."""
    worse = {
        "top1": ours.top1 < record["top1"] - 5e-5,
        "logloss": ours.logloss > record["logloss_nats"] + 5e-5,
        "ece": ours.ece > record["ece15"] + 5e-5,
        "looks": ours.looks > record["mean_looks"] + 5e-5,
    }
    return [figure for figure, is_worse in worse.items() if is_worse]


def questions(rows: np.ndarray, steps: int) -> float:
    """Return the mean number of questions of a tree built by information one or two steps ahead, answers without
    error.
    """
    sizes = rows.max(axis=0) + 1

    def split(kept: np.ndarray, k: int) -> list[np.ndarray]:
        return [part for s in range(sizes[k]) if len(part := kept[rows[kept, k] == s])]

    @cache
    def gain(kept: tuple[int, ...], k: int) -> float:
        return entropy([len(part) for part in split(np.array(kept), k)])

    def best(kept: tuple[int, ...]) -> int:
        here = [(gain(kept, k), -k) for k in range(rows.shape[1])]
        if steps == 1:
            return -max((round(g, 12), k) for g, k in here)[1]
        ahead = []
        for g, minus in here:
            if g > 0:
                parts = split(np.array(kept), -minus)
                after = sum(
                    len(p) / len(kept) * max(gain(tuple(p), k) for k in range(rows.shape[1]))
                    for p in parts
                    if len(p) > 1
                )
                ahead.append((round(g + after, 12), round(g, 12), minus))
        return -max(ahead)[2]

    def total(kept: tuple[int, ...]) -> int:
        return 0 if len(kept) < 2 else len(kept) + sum(total(tuple(part)) for part in split(np.array(kept), best(kept)))

    return total(tuple(range(len(rows)))) / len(rows)


def optimal(rows: np.ndarray) -> float:
    """Return the least possible mean number of questions, by recursion over the sets that questions leave, with a
    bound.
    """
    sizes = rows.max(axis=0) + 1
    most = int(sizes.max())

    @cache
    def least(n: int) -> int:
        """Least total of questions for n rows if every question could split them evenly."""
        if n < 2:
            return 0
        parts = [n // most + (i < n % most) for i in range(most)]
        return n + sum(least(part) for part in parts)

    @cache
    def total(kept: tuple[int, ...]) -> int:
        if len(kept) < 2:
            return 0
        index = np.array(kept)
        splits = {
            tuple(tuple(index[rows[index, k] == s].tolist()) for s in range(sizes[k]) if (rows[index, k] == s).any())
            for k in range(rows.shape[1])
        }
        found = None
        for parts in sorted(splits, key=lambda parts: sum(least(len(p)) for p in parts)):
            if len(parts) < 2:
                continue
            bounds = [least(len(p)) for p in parts]
            if found is not None and len(kept) + sum(bounds) >= found:
                break
            cost = len(kept) + sum(bounds)
            for part, bound in zip(parts, bounds, strict=True):
                cost += total(part) - bound
                if found is not None and cost >= found:
                    break
            if found is None or cost < found:
                found = cost
        assert found is not None
        return found

    return total(tuple(range(len(rows)))) / len(rows)
