"""Read a slot of a catalogue: its place, characters with states, looks, variants."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Literal, cast

from asfound.evidence.model import INAPPLICABLE
from asfound.fitout.catalogue import (
    LABEL_NONE,
    MOST_UNITS,
    CatalogueLook,
    Character,
    Slot,
    State,
    Units,
    Variant,
)
from asfound.fitout.looks import HOWS
from asfound.fitout.schema_words import Names, chance, one_of_or, text, texts, whole

if TYPE_CHECKING:
    from asfound.sources.yaml_lines import Node

SUM_TOLERANCE = 1e-6


def read_slot(node: Node, names: Names) -> Slot:
    """Return the slot that stands here."""
    node.only(
        "id",
        "title",
        "group",
        "place",
        "characters",
        "looks",
        "variants",
        "hazards",
        "families",
        "evidence_only",
        "apart",
        "swapped",
    )
    title, group, place, characters, looks = node.want("title", "group", "place", "characters", "looks")
    place.only("side", "along", "kind", "words")
    side, along, kind = place.want("side", "along", "kind")
    read = {one.id: one for one in (_character(each, names) for each in characters.items())}
    if len(read) != len(characters.items()):
        raise characters.error("a character stands twice in this slot.")
    evidence_only, apart = _flag(node, "evidence_only"), _flag(node, "apart")
    variants = {} if evidence_only else _variants(node, read, names, apart=apart)
    return Slot(
        id=one_of_or(node, "id"),
        title=title.text(),
        group=group.text(),
        side=cast("Literal['left', 'right']", side.one_of(("left", "right"))),
        along=None if along.value == "turbocharger_end" else along.number(low=0, high=1),
        drawn_as=kind.text(),
        where=text(place, "words"),
        characters=read,
        looks=tuple(_look(one, read, names) for one in looks.items()),
        variants=variants,
        hazards=texts(node, "hazards"),
        families=tuple(one.one_of(names.families) for one in families.items())
        if (families := node.get("families"))
        else (),
        evidence_only=evidence_only,
        apart=apart,
        swapped=chance(swapped) if (swapped := node.get("swapped")) else None,
    )


def _flag(node: Node, key: str) -> bool:
    found = node.get(key)
    return False if found is None else found.truth()


def _character(node: Node, names: Names) -> Character:
    node.only("id", "title", "states", "label", "count", "text", "tells")
    (title,) = node.want("title")
    settings = (tells := node.get("tells")) is not None and tells.one_of(("settings",)) == "settings"
    kinds = [kind for kind in ("label", "count", "text") if _flag(node, kind)]
    if len(kinds) > 1:
        raise node.error(f"a character is one of {', '.join(kinds)}, not several.", allowed="one of them")
    kind = kinds[0] if kinds else "states"
    return Character(
        id=one_of_or(node, "id"),
        title=title.text(),
        states=_states(node, kind, names),
        kind=cast("Any", kind),
        settings=settings,
    )


def _states(node: Node, kind: str, names: Names) -> dict[str, State]:
    if kind == "label":
        found = {
            one.id: State(id=one.id, title=one.title, picture="label", patterns=one.patterns)
            for one in names.patterns.values()
        }
        return {**found, LABEL_NONE: State(id=LABEL_NONE, title="no label", picture="none")}
    if kind == "count":
        return {str(n): State(id=str(n), title=str(n), picture="count") for n in range(MOST_UNITS + 1)}
    if kind == "text":
        return {}
    (states,) = node.want("states")
    if isinstance(states.value, str):
        whose = states.one_of(("generations", "families"))
        titles = names.generation_titles if whose == "generations" else names.family_titles
        return {name: State(id=name, title=title, picture="word") for name, title in titles.items()}
    return {name: _state(name, one) for name, one in states.mapping().items()}


def _state(name: str, node: Node) -> State:
    node.only("title", "picture", "absent")
    (title,) = node.want("title")
    return State(id=name, title=title.text(), picture=text(node, "picture"), absent=_flag(node, "absent"))


def _look(node: Node, characters: Mapping[str, Character], names: Names) -> CatalogueLook:
    node.only("id", "state", "minutes", "sees", "says", "how", "hazards")
    state, minutes, sees = node.want("state", "minutes", "sees")
    how = node.get("how")
    return CatalogueLook(
        id=one_of_or(node, "id"),
        state=state.one_of(names.setups),
        minutes=minutes.number(low=0.5, high=600),
        sees=tuple(one.one_of(characters) for one in sees.items()),
        says=text(node, "says"),
        how=how.one_of(HOWS) if how else "at_part",
        hazards=texts(node, "hazards"),
    )


def _variants(node: Node, characters: Mapping[str, Character], names: Names, *, apart: bool) -> dict[str, Variant]:
    (nodes,) = node.want("variants")
    found: dict[str, Variant] = {}
    for one in nodes.items():
        variant = _variant(one, characters, names, apart=apart)
        if variant.id in found:
            raise one.error(f"variant '{variant.id}' stands twice in this slot.")
        found[variant.id] = variant
    return found


def _variant(node: Node, characters: Mapping[str, Character], names: Names, *, apart: bool) -> Variant:
    node.only("id", "title", "native", "kits", "of", "outside", "states", "share", "units", "consequence", "misread")
    title, states = node.want("title", "states")
    if apart and node.get("share") is None:
        raise node.error("in a slot that stands apart each variant says how common it is.", allowed="share: 0 to 1")
    if not apart and node.get("share") is not None:
        raise node.error_at("share", "a share is for slots that stand apart (apart: true).", allowed="native, kits, of")
    outside, of = node.get("outside"), node.get("of")
    told = {name: one for name, one in characters.items() if not one.settings and one.kind != "text"}
    states.only(*told)
    return Variant(
        id=one_of_or(node, "id"),
        title=title.text(),
        native=_native(node.get("native"), names),
        kits=tuple(one.one_of(names.kits) for one in kits.items()) if (kits := node.get("kits")) else (),
        of=of.one_of(names.owners) if of else "",
        outside=cast("Any", outside.one_of(("h", "m", "l"))) if outside else "m",
        states={name: _theta(one, told[name]) for name, one in states.mapping().items()},
        share=_share(node.get("share"), names),
        units=_units(units) if (units := node.get("units")) else None,
        consequence=text(node, "consequence"),
        misread={
            name: tuple(state.one_of(told[name].states) for state in one.items())
            for name, one in misread.mapping().items()
        }
        if (misread := node.get("misread"))
        else {},
    )


def _native(node: Node | None, names: Names) -> dict[str, float]:
    if node is None:
        return {}
    if isinstance(node.value, list):
        return {one.one_of(names.generations): 1.0 for one in node.items()}
    node.only(*names.generations)
    return {name: chance(one) for name, one in node.mapping().items()}


def _theta(node: Node, character: Character) -> dict[str, float]:
    """A state, or states with probabilities that add up to 1; ``na``: it cannot have the character."""
    allowed = ("na", *character.states)
    if not isinstance(node.value, dict):
        written = str(node.value) if character.kind == "count" and isinstance(node.value, int) else node.one_of(allowed)
        return {INAPPLICABLE if written == "na" else written: 1.0}
    node.only(*allowed)
    found = {INAPPLICABLE if name == "na" else name: chance(one) for name, one in node.mapping().items()}
    if abs(sum(found.values()) - 1.0) > SUM_TOLERANCE:
        raise node.error(
            f"the probabilities add up to {sum(found.values()):g}.", allowed="probabilities that add up to 1"
        )
    return found


def _share(node: Node | None, names: Names) -> float | dict[str, float] | None:
    if node is None:
        return None
    if isinstance(node.value, dict):
        node.only(*names.families)
        return {name: chance(one) for name, one in node.mapping().items()}
    return chance(node)


def _units(node: Node) -> Units:
    node.only("kind", "entries", "group_by_group", "groups")
    kind, entries = node.want("kind", "entries")
    groups = node.get("groups")
    known = ("exhaust", "bearings", "hot_side")
    return Units(
        kind=kind.text(),
        entries=tuple(sorted(whole(one, 1, 200) for one in entries.items())),
        group_by_group=_flag(node, "group_by_group"),
        groups=tuple(one.one_of(known) for one in groups.items()) if groups else known,
    )
