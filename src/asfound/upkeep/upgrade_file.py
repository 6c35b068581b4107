"""An upgrade written down: prices, minutes, preconditions in a YAML file, beside what the catalogue knows of the parts.

The catalogue gives places, their variants, which variants a generation or kit has, the rules of interchange and what
cannot be right together. The file gives what no catalogue can: prices with their money and year, minutes, what must be
done first, settings, what becomes of the old part, what people must have learnt. `docs/upkeep.md` has the recipe.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from asfound.errors import KnowledgeError
from asfound.upkeep.upgrade import WHENS, Barred, Build, Change, Some

if TYPE_CHECKING:
    from asfound.fitout.catalogue import Catalogue
    from asfound.fitout.catalogue_papers import Interchange
    from asfound.sources.yaml_lines import Node

OTHER = "other"
"""Value of a place that holds something which the catalogue does not know."""
FATES = ("scrap", "store", "return", "nothing")
_TOP = (
    "title",
    "source",
    "money",
    "family",
    "stop",
    "slots",
    "settings",
    "targets",
    "changes",
    "barred",
    "parts",
    "skills",
)
_CHANGE = ("id", "title", "puts", "needs", "price", "minutes", "engine", "interchange", "tags", "says")


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """A build that is wanted: what a generation, with or without a kit, has in each place; ``build`` goes first."""

    id: str
    title: str
    generation: str
    kit: str
    build: Some
    says: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OldPart:
    """What becomes of a variant that comes off."""

    slot: str
    variant: str
    fate: str
    worth: float = 0.0
    says: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Skill:
    """What somebody must have learnt to work on one of these variants."""

    id: str
    title: str
    needed_by: Some


@dataclass(frozen=True, kw_only=True)
class UpgradeFile:
    """A file as read."""

    title: str
    money: str
    family: str
    slots: tuple[str, ...]
    places: Mapping[str, tuple[str, ...]]
    titles: Mapping[str, str]
    settings_start: Mapping[str, Mapping[str, float]]
    """Setting to its values at the start with their chances."""
    targets: tuple[Target, ...]
    changes: tuple[Change, ...]
    barred: tuple[Barred, ...]
    stop_cost: float
    stop_minutes: float
    parts: tuple[OldPart, ...]
    skills: tuple[Skill, ...]


def read_upgrade(path: str | Path | None, catalogue: Catalogue) -> UpgradeFile:
    """Return an upgrade file; without a path the packaged, invented one (in-line 9, Bramquell to Vorunice).

    Raises
    ------
    KnowledgeError
        File, line and column of what is wrong, and what may stand there.
    """
    from asfound.sources import yaml_lines
    from asfound.sources.tables import read_text

    if path is None:
        name = "data/upgrade_vorunice.yaml"
        root = yaml_lines.load(read_text("asfound.upkeep", name), file=f"asfound/upkeep/{name}")
    else:
        if not Path(path).is_file():
            raise KnowledgeError(str(path), 1, 1, "there is no file here.", allowed="a YAML file")
        root = yaml_lines.load(Path(path))
    return _Reader(root, catalogue).read()


class _Reader:
    """Reads one file against one catalogue."""

    def __init__(self, root: Node, catalogue: Catalogue) -> None:
        self.root, self.catalogue = root, catalogue
        self.places: dict[str, tuple[str, ...]] = {}
        self.titles: dict[str, str] = {}
        self.settings: dict[str, Mapping[str, float]] = {}
        self.interchange: Mapping[str, Interchange] = {one.id: one for one in catalogue.interchange}

    def read(self) -> UpgradeFile:
        root = self.root
        root.only(*_TOP)
        title, money, family, slots, targets, changes = root.want(
            "title", "money", "family", "slots", "targets", "changes"
        )
        money.only("currency", "year")
        currency, year = money.want("currency", "year")
        stop_cost, stop_minutes = self._stop()
        names = tuple(self._slot(one) for one in slots.items())
        for row in self._rows("settings"):
            self._setting(row)
        return UpgradeFile(
            title=title.text(), money=f"{currency.text()}, {year.text()}",
            family=family.one_of(self.catalogue.families), slots=names, places=self.places, titles=self.titles,
            settings_start=self.settings, changes=self._changes(changes),
            targets=tuple(self._target(one) for one in targets.items()),
            barred=(*(self._barred(one) for one in self._rows("barred")), *self._from_rules()),
            stop_cost=stop_cost, stop_minutes=stop_minutes, parts=tuple(self._part(one) for one in self._rows("parts")),
            skills=tuple(self._skill(one) for one in self._rows("skills")),
        )  # fmt: skip

    def _rows(self, key: str) -> list[Node]:
        under = self.root.get(key)
        return [] if under is None else under.items()

    def _stop(self) -> tuple[float, float]:
        stop = self.root.get("stop")
        if stop is None:
            return 0.0, math.inf
        stop.only("cost", "minutes")
        cost, minutes = stop.get("cost"), stop.get("minutes")
        return (0.0 if cost is None else cost.number(low=0.0)), (
            math.inf if minutes is None else minutes.number(low=1.0)
        )

    def _slot(self, node: Node) -> str:
        known = {one.id: one for one in self.catalogue.slots.values() if not one.evidence_only}
        name = node.one_of(known)
        if name in self.places:
            raise node.error(f"the place '{name}' stands twice.", allowed="each place once")
        self.places[name] = (*known[name].variants, OTHER)
        self.titles[name] = known[name].title
        self.titles |= {f"{name}.{one.id}": one.title for one in known[name].variants.values()}
        self.titles[f"{name}.{OTHER}"] = "not in the catalogue"
        return name

    def _setting(self, row: Node) -> None:
        row.only("place", "title", "values", "start")
        place, title, values, start = row.want("place", "title", "values", "start")
        name = place.text()
        if name in self.places:
            raise place.error(f"the place '{name}' stands twice, or is a slot of the catalogue.", allowed="a new name")
        self.places[name], self.titles[name] = tuple(values.mapping()), title.text()
        self.titles |= {f"{name}.{value}": said.text() for value, said in values.mapping().items()}
        if isinstance(start.value, dict):
            chances = {value: chance.number(low=0.0, high=1.0) for value, chance in start.mapping().items()}
            start.only(*self.places[name])
            if abs(sum(chances.values()) - 1.0) > 1e-6:
                raise start.error("the chances do not add up to 1.", allowed="{value: chance, ...}")
            self.settings[name] = chances
        else:
            self.settings[name] = {start.one_of(self.places[name]): 1.0}

    def _target(self, row: Node) -> Target:
        row.only("id", "title", "generation", "kit", "build", "says")
        name, title, generation = row.want("id", "title", "generation")
        kit = row.get("kit")
        build, says = row.get("build"), row.get("says")
        return Target(
            id=name.text(), title=title.text(), generation=generation.one_of(self.catalogue.generations),
            kit="" if kit is None else kit.one_of(self.catalogue.kits),
            build={} if build is None else self._some(build), says="" if says is None else says.text(),
        )  # fmt: skip

    def _changes(self, node: Node) -> tuple[Change, ...]:
        found: dict[str, Change] = {}
        for row in node.items():
            one = self._change(row)
            if one.id in found:
                raise row.error_at("id", f"the change '{one.id}' stands twice.", allowed="each id once")
            found[one.id] = one
        return tuple(found.values())

    def _change(self, row: Node) -> Change:
        row.only(*_CHANGE)
        name, title, puts, price, minutes = row.want("id", "title", "puts", "price", "minutes")
        low, cost, high = _price(price)
        engine, needs, says, rule = row.get("engine"), row.get("needs"), row.get("says"), row.get("interchange")
        put = self._puts(puts)
        return Change(
            id=name.text(), title=title.text(), puts=put, cost=cost, low=low, high=high,
            minutes=minutes.number(low=0.0),
            stopped=engine is None or engine.one_of(("stopped", "running")) == "stopped",
            needs={} if needs is None else self._some(needs), says="" if says is None else says.text(),
            settings=() if rule is None else (self._interchange(rule, put),),
            rule="" if rule is None else rule.text(), tags=self._tags(row.get("tags")),
        )  # fmt: skip

    def _interchange(self, node: Node, put: Build) -> str:
        rule = self.interchange[node.one_of(self.interchange)]
        words = f"{rule.part} in place of {rule.in_place_of}"
        if rule.direction == "no":
            raise node.error(f"{words} is barred by the catalogue ({rule.condition}).", allowed="a rule that allows it")
        if rule.families and self.root.want("family")[0].text() not in rule.families:
            raise node.error(f"{words} is for {', '.join(rule.families)}.", allowed="a rule for this family")
        if rule.setting and not any(place in self.settings for place in put):
            raise node.error(
                f"{words} asks for a setting ({rule.setting}), and this change leaves none to be made.",
                allowed=f"in 'puts' one of {', '.join(self.settings) or 'the settings (none is written yet)'}",
            )
        way = "one way only" if rule.direction == "one_way" else "both ways"
        return f"{words} ({way}): {rule.condition}."

    def _tags(self, node: Node | None) -> tuple[str, ...]:
        if node is None:
            return ()
        from asfound.sources.cautions import cautions

        known = sorted({one.tag for one in cautions().values()})
        return tuple(one.one_of(known) for one in node.items())

    def _barred(self, row: Node) -> Barred:
        row.only("build", "when", "says")
        build, when, says = row.want("build", "when", "says")
        some = self._some(build)
        if not some:
            raise build.error("this bars every build.", allowed="{place: [value, ...]}")
        return Barred(build=some, when=when.one_of(WHENS), says=says.text())  # type: ignore[arg-type]

    def _from_rules(self) -> list[Barred]:
        """Return what the catalogue knows that cannot be right together, where variants alone decide it."""
        return [
            Barred(build={line.slot: line.variants for line in rule.when}, when="end", says=rule.says.rstrip("."))
            for rule in self.catalogue.rules
            if not rule.unless and all(line.variants and line.slot in self.places for line in rule.when)
        ]

    def _part(self, row: Node) -> OldPart:
        row.only("slot", "variant", "fate", "worth", "says")
        slot, variant, fate = row.want("slot", "variant", "fate")
        place = slot.one_of([name for name in self.places if name not in self.settings])
        worth, says = row.get("worth"), row.get("says")
        return OldPart(
            slot=place, variant=variant.one_of(self.places[place]), fate=fate.one_of(FATES),
            worth=0.0 if worth is None else worth.number(), says="" if says is None else says.text(),
        )  # fmt: skip

    def _skill(self, row: Node) -> Skill:
        row.only("id", "title", "needed_by")
        name, title, needed = row.want("id", "title", "needed_by")
        return Skill(id=name.text(), title=title.text(), needed_by=self._some(needed))

    def _puts(self, node: Node) -> Build:
        node.only(*self.places)
        if not node.mapping():
            raise node.error("a change that changes nothing.", allowed="{place: value}")
        return {place: value.one_of(self.places[place]) for place, value in node.mapping().items()}

    def _some(self, node: Node) -> Some:
        node.only(*self.places)
        found: dict[str, tuple[str, ...]] = {}
        for place, values in node.mapping().items():
            each = values.items() if isinstance(values.value, list) else [values]
            if not each:
                raise values.error("this can never hold.", allowed=", ".join(self.places[place]))
            found[place] = tuple(one.one_of(self.places[place]) for one in each)
        return found


def _price(node: Node) -> tuple[float, float, float]:
    """Return lowest, likely and highest price."""
    if not isinstance(node.value, list):
        price = node.number(low=0.0)
        return price, price, price
    parts = [one.number(low=0.0) for one in node.items()]
    if len(parts) != 3 or not parts[0] <= parts[1] <= parts[2]:
        raise node.error("this is no price.", allowed="a number, or [lowest, likely, highest]")
    return parts[0], parts[1], parts[2]
