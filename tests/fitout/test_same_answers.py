"""Identifications of every story, worked out before the inference was made faster, still come out the same.

`data/answers.json` holds them with 12 digits. When catalogue, rates or stories change on purpose, write it anew and
look at the difference: `python -m tests.fitout.test_same_answers`.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from asfound.fitout.catalogue import load_catalogue
from asfound.fitout.identify import Identification, identify
from asfound.fitout.observations import STORIES, story

FILE = Path(__file__).parent / "data" / "answers.json"
CATALOGUE = load_catalogue()
TOLERANCE = 1e-9
"""Absolute, on probabilities, bits and decibans; shares of a doubt that is itself 1e-7 bit are left out."""


def moments(name: str) -> tuple[int, ...]:
    """After how many looks: none, a third, two thirds, all."""
    count = len(story(name).looks)
    return tuple(sorted({0, count // 3, 2 * count // 3, count}))


def answer(name: str, looks: int) -> dict[str, Any]:
    one = story(name)
    return numbers(identify(CATALOGUE, one.engine, one.looks[:looks], allowed=one.allowed))


def numbers(found: Identification) -> dict[str, Any]:
    return {
        "words": found.words,
        "builds": {one.name: one.probability for one in found.builds},
        "two": [found.other, found.fit_z, found.part_converted],
        "places": {one.slot: {v.name: v.probability for v in one.variants[:3]} for one in found.places if one.variants},
        "weights": [[one.says, one.decibans] for one in found.weights],
        "sums": [found.weights_prior, found.weights_total],
        "why_not": [[one.build, one.says] for one in found.why_not],
        "hangs_on": [[one.says, one.without, one.probability] for one in found.hangs_on],
        "next_looks": [[one.id, one.bits, *(o.probability for o in one.outcomes)] for one in found.next_looks],
        "groups": [[one.state_needed, one.minutes, one.bits, *one.looks] for one in found.groups],
        "stop": found.stop.says if found.stop else "",
        "contradictions": [one.code for one in found.contradictions],
    }


def differences(kept: Any, now: Any, where: str = "") -> list[str]:
    if isinstance(kept, dict) and isinstance(now, dict) and list(kept) == list(now):
        return [line for key in kept for line in differences(kept[key], now[key], f"{where}/{key}")]
    if isinstance(kept, list) and isinstance(now, list) and len(kept) == len(now):
        pairs = zip(kept, now, strict=True)
        return [line for n, (one, other) in enumerate(pairs) for line in differences(one, other, f"{where}/{n}")]
    if isinstance(kept, float | int) and isinstance(now, float | int):
        return [] if abs(kept - now) <= TOLERANCE * max(1.0, abs(kept)) else [f"{where}: {kept} is now {now}"]
    return [] if kept == now else [f"{where}: {kept} is now {now}"]


@pytest.mark.parametrize("name", STORIES)
def test_nothing_has_changed(name):
    kept = json.loads(FILE.read_text(encoding="utf-8"))[name]
    now = {str(looks): answer(name, looks) for looks in moments(name)}
    assert differences(kept, now) == []


def rounded(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: rounded(one) for key, one in value.items()}
    if isinstance(value, list):
        return [rounded(one) for one in value]
    return float(f"{value:.12g}") if isinstance(value, float) else value


if __name__ == "__main__":
    FILE.parent.mkdir(exist_ok=True)
    whole = {name: {str(looks): rounded(answer(name, looks)) for looks in moments(name)} for name in STORIES}
    FILE.write_text(json.dumps(whole, separators=(",", ":")) + "\n", encoding="utf-8")
