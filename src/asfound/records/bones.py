"""Which engines and visits there are, from the few entries that say so; all the others need not be read for it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asfound.records import things
from asfound.records.fold import fold
from asfound.records.rows import BONES

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from asfound.records.entries import Entry
    from asfound.records.rows import Rows
    from asfound.records.things import EngineRecord, SiteRecord, VisitRecord

OF_ENGINE, OF_VISIT = BONES[:1], BONES[1:]
SHOWN = 12
"""Visits that a list of the last ones may want."""


class Bones:
    """Engines and visits, read when they are first asked for, and again where one of their entries came in."""

    def __init__(self, rows: Rows) -> None:
        self.rows = rows
        self._of_engines: dict[str | None, list[Entry]] | None = None
        self._of_visits: dict[str, dict[str, list[Entry]]] = {}
        self._every = False
        """Whether the visits of all engines were read at once; then an engine without any is in no list."""
        self._stale: set[str] = set()
        self._ids: set[str] = set()
        self._engines: tuple[EngineRecord, ...] | None = None
        self._by_name: dict[str, list[EngineRecord]] = {}
        self._by_tag: dict[str, list[EngineRecord]] = {}
        self._visits: dict[str, tuple[VisitRecord, ...]] = {}
        self._all: tuple[VisitRecord, ...] | None = None
        self._recent: list[tuple[VisitRecord, EngineRecord]] | None = None

    # ------------------------------------------------------------------ questions

    def engines(self, sites: Callable[[], Mapping[str, SiteRecord]]) -> tuple[EngineRecord, ...]:
        """Return the engines by site and tag."""
        if self._engines is None:
            if self._of_engines is None:
                self._of_engines = {}
                for one in self.rows.bones(OF_ENGINE):
                    if one.visit is None:
                        self._of_engines.setdefault(one.engine, []).append(one)
                        self._ids.add(one.id)
            folds = [fold(some) for engine, some in self._of_engines.items() if engine is not None]
            self._engines = tuple(things.engines(folds, sites()).values())
            self._by_name, self._by_tag = {}, {}
            for each in self._engines:
                for name in {each.id, each.tag}:
                    self._by_name.setdefault(name, []).append(each)
                self._by_tag.setdefault(each.tag.casefold(), []).append(each)
            self._visits, self._all, self._recent = {}, None, None
        return self._engines

    def called(self, name: str) -> list[EngineRecord]:
        """Return the engines of an identifier or tag, as written, else in large or small letters alike."""
        return self._by_name.get(name) or self._by_tag.get(name.casefold(), [])

    def tags(self, tag: str) -> int:
        """Return how many engines bear a tag, in large or small letters."""
        return len(self._by_tag.get(tag.casefold(), ()))

    def visits(self, engine: EngineRecord) -> tuple[VisitRecord, ...]:
        """Return the visits of an engine, oldest first."""
        found = self._visits.get(engine.id)
        if found is None:
            folds = {visit: fold(some) for visit, some in self._groups(engine.id).items()}
            made = things.visits(engine, folds).values()
            found = self._visits[engine.id] = tuple(sorted(made, key=lambda one: (one.began, one.id)))
        return found

    def all_visits(self) -> tuple[VisitRecord, ...]:
        """Return all visits, oldest first."""
        assert self._engines is not None
        if self._all is None:
            if not self._every:
                self._of_visits, self._every = {}, True
                self._stale.clear()
                self._put(self.rows.bones(OF_VISIT))
            found = [one for each in self._engines for one in self.visits(each)]
            self._all = tuple(sorted(found, key=lambda one: (one.began, one.id)))
        return self._all

    def read_ahead(self, engines: Sequence[str]) -> None:
        """Read the visits of several engines at once."""
        new = [one for one in engines if one not in self._of_visits and (not self._every or one in self._stale)]
        if new:
            self._stale.difference_update(new)
            self._of_visits |= {one: {} for one in new}
            self._put(self.rows.bones(OF_VISIT, new))

    def recent(self, most: int) -> list[tuple[VisitRecord, EngineRecord]]:
        """Return the visits written last, the newest by their day first: the newest, and the newest that are open."""
        if self._recent is not None:
            return self._recent
        opened, sealed = self.rows.opened_last(most)
        opened.sort(key=lambda one: (str(one.content.get("began", "")), one.id), reverse=True)
        shown = opened[:SHOWN] + [one for one in opened[SHOWN:] if one.visit not in sealed][:SHOWN]
        whose = {one.id: one for one in self._engines or ()}
        self.read_ahead(list({str(one.engine) for one in shown}))
        found = {}
        for one in shown:
            engine = whose.get(str(one.engine))
            for visit in self.visits(engine) if engine else ():
                if engine and visit.id == one.visit:
                    found[visit.id] = (visit, engine)
        self._recent = sorted(found.values(), key=lambda pair: (pair[0].began, pair[0].id), reverse=True)
        return self._recent

    # ------------------------------------------------------------------ what came in

    def learn(self, entry: Entry) -> None:
        """Note an entry that came in: what it changes is read again."""
        if entry.engine is None:
            self._engines = None  # a site may have another name
            return
        if entry.kind not in (*BONES, "resolution", "damaged") and entry.corrects not in self._ids:
            return
        if entry.visit is None:
            self._of_engines = self._engines = None
            return
        self._of_visits.pop(entry.engine, None)
        self._visits.pop(entry.engine, None)
        self._stale.add(entry.engine)
        self._all = self._recent = None

    def told(self, entries: Iterable[Entry]) -> None:
        """Take the entries of whole visits as they were read, some of them damaged: a seal may be."""
        whole: dict[tuple[str, str], list[Entry]] = {}
        for one in entries:
            if one.engine is not None and one.visit is not None:
                whole.setdefault((one.engine, one.visit), []).append(one)
        for (engine, visit), some in whole.items():
            if any(one.kind == "damaged" for one in some):
                self._groups(engine)[visit] = some
                self._visits.pop(engine, None)
                self._all = self._recent = None

    def _groups(self, engine: str) -> dict[str, list[Entry]]:
        if engine not in self._of_visits and (not self._every or engine in self._stale):
            self._stale.discard(engine)
            self._of_visits[engine] = {}
            self._put(self.rows.bones(OF_VISIT, [engine]))
        return self._of_visits.setdefault(engine, {})

    def _put(self, entries: Iterable[Entry]) -> None:
        for one in entries:
            if one.engine is not None and one.visit is not None:
                self._of_visits.setdefault(one.engine, {}).setdefault(one.visit, []).append(one)
                self._ids.add(one.id)
