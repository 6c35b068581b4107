"""How the published answers of this room are read and compared: one file of cases for each topic."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import date, datetime
from typing import Any

from asfound.sources.prove import Check
from asfound.sources.tables import load_yaml

Answer = Callable[..., Mapping[str, Any]]


def cases(topic: str, answers: Mapping[str, Answer]) -> Iterator[Check]:
    """Yield each published value of a topic beside what the answer of its kind gives now.

    A date counts as days, a date with time as seconds; a word or a missing value counts 1 where it is the one expected
    and 0 where it is not.
    """
    for case in load_yaml("asfound.upkeep", f"data/published_{topic}.yaml"):
        found = dict(_flat(answers[case["kind"]](**case["inputs"]), ""))
        for name, expected in case["expect"].items():
            value, published, tolerance = _compared(found.get(name, "nothing"), expected)
            yield Check(
                check=f"{case['check']}: {name.replace('_', ' ')}", room="upkeep", value=value, published=published,
                tolerance=tolerance, source=case["source"], clause=case.get("clause", ""), note=case.get("note", ""),
            )  # fmt: skip


def _flat(value: Any, name: str) -> Iterator[tuple[str, Any]]:
    if isinstance(value, Mapping):
        for key, under in value.items():
            yield from _flat(under, f"{name}.{key}" if name else str(key))
    elif isinstance(value, list):
        for at, under in enumerate(value):
            yield from _flat(under, f"{name}.{at}")
    else:
        yield name, value


def _compared(found: Any, expected: Any) -> tuple[float, float, float]:
    if isinstance(expected, list):
        value = float("nan") if found is None or isinstance(found, str) else float(found)
        return value, float(expected[0]), float(expected[1])
    if isinstance(found, date) and isinstance(expected, str):
        wanted = datetime.fromisoformat(expected)
        if isinstance(found, datetime):
            zero = datetime(1970, 1, 1, tzinfo=wanted.tzinfo)
            return (found - zero).total_seconds(), (wanted - zero).total_seconds(), 1e-3
        return float(found.toordinal()), float(wanted.toordinal()), 0.0
    return float(found == expected), 1.0, 0.0
