"""What the readers of a catalogue share: the names known so far, and small readers of text, numbers, chances."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from asfound.fitout.catalogue import LabelPattern, Slot
    from asfound.fitout.catalogue_papers import Fits
    from asfound.sources.yaml_lines import Node


@dataclass
class Names:
    """Names declared so far, so that each part can be checked against the parts before it."""

    families: tuple[str, ...] = ()
    generations: tuple[str, ...] = ()
    kits: tuple[str, ...] = ()
    setups: tuple[str, ...] = ()
    bulletins: tuple[str, ...] = ()
    documents: tuple[str, ...] = ()
    patterns: Mapping[str, LabelPattern] = field(default_factory=dict)
    family_titles: Mapping[str, str] = field(default_factory=dict)
    generation_titles: Mapping[str, str] = field(default_factory=dict)
    slots: Mapping[str, Slot] = field(default_factory=dict)

    @property
    def owners(self) -> tuple[str, ...]:
        """Generations and kits."""
        return (*self.generations, *self.kits)


def chance(node: Node) -> float:
    """Return the probability that stands here; KnowledgeError outside 0 to 1."""
    return node.number(low=0, high=1)


def whole(node: Node, low: int, high: int) -> int:
    """Return the whole number that stands here; KnowledgeError for a fraction or outside the range."""
    value = node.number(low=low, high=high)
    if value != int(value):
        raise node.error(f"{value:g} is no whole number.", allowed=f"{low} to {high}")
    return int(value)


def one_of_or(node: Node, key: str) -> str:
    """Return the text under a key that must be there."""
    return node.want(key)[0].text()


def text(node: Node, key: str, default: str = "") -> str:
    """Return the text under a key, or the default where it does not stand."""
    found = node.get(key)
    return default if found is None else found.text()


def texts(node: Node, key: str) -> tuple[str, ...]:
    """Return the list of texts under a key, empty where it does not stand."""
    found = node.get(key)
    return () if found is None else tuple(one.text() for one in found.items())


def fits(node: Node, names: Names) -> Fits:
    """Return a slot with some of its variants, both known."""
    from asfound.fitout.catalogue_papers import Fits

    node.only("slot", "variants")
    slot, variants = node.want("slot", "variants")
    name = slot.one_of(names.slots)
    return Fits(slot=name, variants=tuple(one.one_of(names.slots[name].variants) for one in variants.items()))


def fits_list(node: Node, key: str, names: Names) -> tuple[Fits, ...]:
    """Return the list of slots with variants under a key."""
    found = node.get(key)
    return () if found is None else tuple(fits(one, names) for one in found.items())
