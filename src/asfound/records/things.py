"""Sites, engines, instruments and visits, as the entries make them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from asfound.records.entries import Entry
    from asfound.records.fold import Fold


@dataclass(frozen=True, slots=True, kw_only=True)
class Thing:
    """Something that an entry began and later entries put right."""

    id: str
    """Identifier of the entry that began it."""
    entry: Entry
    """The entry that stands for it now."""

    @property
    def content(self) -> Mapping[str, Any]:
        """Its fields; see the model of its kind."""
        return self.entry.content


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteRecord(Thing):
    """A site."""

    @property
    def name(self) -> str:
        """Its name."""
        return str(self.content["name"])


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineRecord(Thing):
    """An engine; ``content`` has the fields of ``kinds.Engine``."""

    site: SiteRecord | None = None

    @property
    def tag(self) -> str:
        """What the site calls it."""
        return str(self.content["tag"])

    @property
    def units(self) -> str:
        """``si`` or ``us``, as the people of the site use."""
        return str(self.site.content.get("units", "si")) if self.site else "si"


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitRecord(Thing):
    """A visit; ``content`` has the fields of ``kinds.VisitOpened``."""

    engine: str
    """Identifier of its engine."""
    name: str
    """Readable address, unique in this home: ``A2/2032-07-08``; a second visit that day ``A2/2032-07-08-2``."""
    sealed: Entry | None = None

    @property
    def began(self) -> str:
        """When it began: ISO 8601 with offset."""
        return str(self.content["began"])

    @property
    def date(self) -> str:
        """The day it began: ``2032-07-08``."""
        return self.began[:10]


def sites(of_home: Fold) -> dict[str, SiteRecord]:
    """Return the sites by identifier."""
    return {root: SiteRecord(id=root, entry=entry) for root, entry in _roots(of_home, "site")}


def instruments(of_home: Fold) -> dict[str, Thing]:
    """Return the instruments by identifier."""
    return {root: Thing(id=root, entry=entry) for root, entry in _roots(of_home, "instrument")}


def engines(of_engines: Iterable[Fold], known_sites: Mapping[str, SiteRecord]) -> dict[str, EngineRecord]:
    """Return the engines by identifier, in the order of site and tag."""
    found = [
        EngineRecord(id=root, entry=entry, site=known_sites.get(str(entry.content.get("site"))))
        for folded in of_engines
        for root, entry in _roots(folded, "engine")
    ]
    found.sort(key=lambda one: (one.site.id if one.site else "", one.tag, one.id))
    return {one.id: one for one in found}


def visits(engine: EngineRecord, folds: Mapping[str, Fold]) -> dict[str, VisitRecord]:
    """Return the visits of an engine by identifier, oldest first; ``folds`` holds one per visit."""
    opened: list[tuple[str, str, Entry, Entry | None]] = []
    for root, folded in folds.items():
        entry = next((one for one in reversed(folded.current) if one.kind == "visit_opened"), None)
        if entry is not None:  # it may have been withdrawn
            seal = next((one for one in folded.current if one.kind == "sealed"), None)
            opened.append((str(entry.content["began"]), root, entry, seal))
    found: dict[str, VisitRecord] = {}
    on_day: dict[str, int] = {}
    for began, root, entry, seal in sorted(opened, key=lambda one: one[:2]):
        day = began[:10]
        on_day[day] = on_day.get(day, 0) + 1
        name = f"{engine.tag}/{day}" + (f"-{on_day[day]}" if on_day[day] > 1 else "")
        found[root] = VisitRecord(id=root, entry=entry, engine=engine.id, name=name, sealed=seal)
    return found


def _roots(folded: Fold, kind: str) -> list[tuple[str, Entry]]:
    """Return (identifier of the first entry, entry that stands now) for a kind; of several in conflict the newest."""
    began: dict[str, str] = {}
    for root in sorted(folded.replaced, reverse=True):
        for leaf in folded.replaced[root]:
            began[leaf] = root  # the lowest identifier wins, and that is the first entry
    newest: dict[str, Entry] = {}
    for entry in folded.current:
        if entry.kind == kind:
            root = entry.engine if kind == "engine" and entry.engine else began.get(entry.id, entry.id)
            newest[root] = entry  # current is in the order of identifiers
    return list(newest.items())
