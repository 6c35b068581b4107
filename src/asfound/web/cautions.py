"""Cautions by their tag, as pages show them: what can hurt, what to do, where it is written."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

DEFERS = "Site rules, the permit to work, the law of the place and the engine's own manual come first."


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One hazard, what to do about it, and its source."""

    id: str
    tag: str
    hazard: str
    do: tuple[str, ...]
    source: str
    status: str


@cache
def register() -> Mapping[str, tuple[Caution, ...]]:
    """Return all cautions by tag."""
    import yaml

    text = (resources.files("asfound.fitout") / "data" / "cautions.yaml").read_text(encoding="utf-8")
    loaded: dict[str, Any] = yaml.load(text, Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))  # noqa: S506
    found: defaultdict[str, list[Caution]] = defaultdict(list)
    for one in loaded["cautions"]:
        found[str(one["tag"])].append(
            Caution(
                id=str(one["id"]), tag=str(one["tag"]), hazard=str(one["hazard"]), do=tuple(str(step) for step in one["do"]),
                source=str(one["source"]), status=str(one["source_status"]),
            )  # fmt: skip
        )
    return {tag: tuple(ones) for tag, ones in found.items()}


def cautions(tags: Iterable[str]) -> list[Caution]:
    """Return the cautions that belong to tags, in the order of the register; a tag unknown there is left out."""
    wanted = set(tags)
    return [one for tag, ones in register().items() if tag in wanted for one in ones]
