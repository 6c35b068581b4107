"""What the store has in memory: entries never change, so each is read once, by this or any other program's writing.

A home may hold the visits of years. Entries are read by engine and visit when something asks for them, and those of the
engines longest unused are let go again; of all others only the bones are known: which engines and visits there are.
"""

from __future__ import annotations

import json
import threading
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from asfound.errors import RecordError, UnknownNameError
from asfound.quantities.kept import Memory
from asfound.records import things
from asfound.records.bones import Bones
from asfound.records.entries import Entry, is_id
from asfound.records.fold import Fold, fold
from asfound.records.remember import Remembered
from asfound.records.rows import Rows, entry_of
from asfound.records.tables import ENTRIES

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence

    from sqlalchemy import Connection

    from asfound.records.database import Database
    from asfound.records.things import EngineRecord, SiteRecord, Thing, VisitRecord

__all__ = ["Known", "entry_of"]

SHEETS = 4
"""Visits of which the inputs of the last working out are kept: the one in hand, the one before it, two beside."""
HELD = 20_000
"""Entries in memory beside the bones, some 50 MB; of the engine in hand all stay."""
Group = tuple[str | None, str | None]


@dataclass(slots=True)
class Held:
    """Entries of a kind that stand at an engine, by visit, and which visits got something since."""

    by_visit: dict[str, tuple[Entry, ...]]
    stale: set[str] = field(default_factory=set)


class Known:
    """The entries of a database, by engine and visit, and what they add up to; reads only."""

    def __init__(self, database: Database) -> None:
        self.database = database
        self.rows = Rows(database)
        self._lock = threading.RLock()
        self._groups: dict[Group, list[Entry]] = {}
        self._used: dict[str | None, bool] = {}
        """Engines of which something is held, the longest unused first; whether all of it is."""
        self._by_id = _ById(self)
        self._of_kind: dict[str, list[Entry]] = {}
        self._held_back: dict[tuple[str, str, tuple[str, ...]], Held] = {}
        self._held_entries = 0
        self._standing: dict[str, tuple[tuple[Entry, ...], frozenset[str]]] = {}
        self._last: dict[str | None, tuple[int, str]] = {}
        """Number and identifier of the last entry of an engine, or of the home."""
        self._newest = -1
        self._asked = threading.local()
        self._folds: dict[Group, tuple[int, Fold]] = {}
        self._bones = Bones(self.rows)
        self._remembered = Remembered()
        self._memories: dict[str, Memory] = {}

    def entries(
        self, engine: str | None = None, visit: str | None = None, kind: str | None = None
    ) -> tuple[Entry, ...]:
        """Return entries by identifier: of an engine (with its visits), of a visit, of a kind, or all."""
        with self._lock:
            self._refresh()
            if visit is not None:
                opened = self._by_id.get(visit)
                known: Sequence[Entry] = self._group(opened.engine, visit) if opened else ()
            elif engine is not None:
                known = self._of_engine(engine)
            elif kind is not None:
                if kind not in self._of_kind:
                    self._of_kind[kind] = self.rows.of_kind(kind)
                known = self._of_kind[kind]
            else:
                return tuple(self.rows.every())
            chosen = [one for one in known if kind is None or one.kind == kind]
        return tuple(sorted(chosen, key=lambda one: one.id))

    def entry(self, identifier: str) -> Entry:
        """Return one entry.

        Raises
        ------
        UnknownNameError
            None bears that identifier.
        """
        with self._lock:
            self._refresh()
            found: Entry | None = self._by_id.get(identifier)
        if found is None:
            raise UnknownNameError("entry", identifier, ())
        return found

    def newest_id(self) -> str | None:
        """Return the identifier of the newest entry; None in an empty home."""
        return self.rows.newest_id()

    def stored(self, visit: str) -> tuple[Entry, ...]:
        """Return the entries of a visit as they stand in the database now, past all memory; for verification."""
        with self.database.reading() as connection:
            rows = connection.execute(select(ENTRIES).where(ENTRIES.c.visit == visit).order_by(ENTRIES.c.id)).all()
        return tuple(entry_of(row, strict=True) for row in rows)

    def stored_ones(self, identifiers: Sequence[str]) -> dict[str, Entry]:
        """Return entries by identifier as they stand in the database now."""
        found: dict[str, Entry] = {}
        with self.database.reading() as connection:
            for start in range(0, len(identifiers), 500):
                chosen = select(ENTRIES).where(ENTRIES.c.id.in_(identifiers[start : start + 500]))
                found |= {row.id: entry_of(row, strict=True) for row in connection.execute(chosen)}
        return found

    def fold(self, engine: str | None = None, visit: str | None = None) -> Fold:
        """Return what entries add up to: of a visit, of an engine outside its visits, or of the home (no engine).

        A correction lies where the entry lies that it corrects, so these groups can be folded one by one.
        """
        with self._lock:
            self._refresh()
            known = self._group(engine, visit)
            cached = self._folds.get((engine, visit))
            if cached is None or cached[0] != len(known):
                cached = (len(known), fold(known))
                self._folds[engine, visit] = cached
            return cached[1]

    def own_of(self, engine: str) -> tuple[Entry, ...]:
        """Return the entries of an engine outside its visits, by identifier; its visits are not read for it."""
        with self._lock:
            self._refresh()
            return tuple(sorted(self._group(engine, None), key=lambda one: one.id))

    def standing_with(self, engine: str, kind: str, parts: Sequence[str]) -> dict[str, tuple[Entry, ...]]:
        """Return by visit the entries of a kind that stand at an engine and whose content holds one of some texts.

        The other entries of its visits are not read for it.

        Parameters
        ----------
        parts : sequence of str
            As they stand in the canonical form: ``"quantity":"engine_hours"``.
        """
        with self._lock:
            self._refresh()
            name = (engine, kind, tuple(parts))
            found = self._held_back.get(name)
            if found is None:
                found = self._hold_back(name, self._standing_with(engine, kind, parts))
            for visit in found.stale:  # something was added to it since
                current = [one for one in self.fold(engine, visit).current if one.kind == kind and _holds(one, parts)]
                found.by_visit = {**found.by_visit, visit: tuple(current)}
            found.stale.clear()
            return found.by_visit

    def _hold_back(self, name: tuple[str, str, tuple[str, ...]], by_visit: dict[str, tuple[Entry, ...]]) -> Held:
        """Hold what stands of a kind; all is let go where it would be more than is held otherwise."""
        self._held_entries += 1 + sum(len(one) for one in by_visit.values())
        if self._held_entries > HELD:
            self._held_back.clear()
            self._held_entries = 0
        found = self._held_back[name] = Held(by_visit)
        return found

    def _standing_with(self, engine: str, kind: str, parts: Sequence[str]) -> dict[str, tuple[Entry, ...]]:
        if self._used.get(engine) or any(one.engine == engine for one in self.entries(kind="resolution")):
            known = self._of_engine(engine)  # a resolution chooses among all that its group holds
        else:
            known = self.rows.holding([engine], kind, parts)
        return _by_visit(known, kind)

    def standing(self, kind: str) -> tuple[Entry, ...]:
        """Return the entries of a kind that stand, of all visits and engines; the others of these are not read."""
        with self._lock:
            self._refresh()
            found = self._standing.get(kind)
            if found is None:
                groups: dict[Group, list[Entry]] = {}
                for one in self.rows.bones((kind,)):
                    groups.setdefault((one.engine, one.visit), []).append(one)
                stands = [one for some in groups.values() for one in fold(some).current if one.kind == kind]
                ids = frozenset(one.id for some in groups.values() for one in some)
                found = self._standing[kind] = (tuple(sorted(stands, key=lambda one: one.id)), ids)
            return found[0]

    def ready_for(self, engines: Sequence[EngineRecord], texts: Mapping[str, Sequence[str]]) -> None:
        """Read ahead in a few statements what lists say of some engines: their visits, their own entries, and readings.

        Parameters
        ----------
        texts : mapping
            Kind to the texts that `standing_with` will be asked for.
        """
        with self._lock:
            self._refresh()
            ids = [one.id for one in engines]
            self.read_ahead(ids)
            new = [one for one in ids if (one, None) not in self._groups and not self._used.get(one)]
            for whose, some in self.rows.own_of(new).items():
                self._hold(whose, some, {(whose, None)})
            settled = {one.engine for one in self.entries(kind="resolution")}
            for kind, parts in texts.items():
                wanted = [
                    one
                    for one in ids
                    if one not in settled
                    and not self._used.get(one)
                    and (one, kind, tuple(parts)) not in self._held_back
                ]
                found = self.rows.holding(wanted, kind, parts) if wanted else []
                by_engine: dict[str | None, list[Entry]] = {one: [] for one in wanted}
                for each in found:
                    by_engine.setdefault(each.engine, []).append(each)
                for one in wanted:
                    self._hold_back((one, kind, tuple(parts)), _by_visit(by_engine[one], kind))

    def read_ahead(self, engines: Sequence[str]) -> None:
        """Read the visits of some engines, and which entry is the last of each, at once."""
        with self._lock:
            self._refresh()
            self._bones.read_ahead(engines)
            self.read_newest(engines)

    def read_newest(self, engines: Sequence[str]) -> None:
        """Read which entry is the last of each of some engines, in a statement; `newest_of` then has it."""
        with self._lock:
            self._refresh()
            self._last |= self.rows.newest_of_each([one for one in engines if one not in self._last])

    def recent(self, most: int = 150) -> list[tuple[VisitRecord, EngineRecord]]:
        """Return the visits written last, the newest by their day first; the records of few engines are read for it."""
        with self._lock:
            self.engines()
            return self._bones.recent(most)

    def sites(self) -> dict[str, SiteRecord]:
        """Return the sites by identifier."""
        return things.sites(self.fold())

    def instruments(self) -> dict[str, Thing]:
        """Return the instruments by identifier."""
        return things.instruments(self.fold())

    def engines(self) -> tuple[EngineRecord, ...]:
        """Return the engines, by site and tag."""
        with self._lock:
            self._refresh()
            return self._bones.engines(lambda: things.sites(self.fold()))

    def engine(self, name: str) -> EngineRecord:
        """Return an engine by identifier or tag.

        Raises
        ------
        UnknownNameError
            None is called so.
        RecordError
            Several bear that tag; names their sites and identifiers.
        """
        with self._lock:
            known = self.engines()
            found = self._bones.called(name)
        if len(found) > 1:
            which = "; ".join(f"{one.site.name if one.site else 'no site'}: {one.id}" for one in found)
            raise RecordError(f"{len(found)} engines are called {name}. Say which by its identifier: {which}.")
        if not found:
            raise UnknownNameError("engine", name, [one.tag for one in known])
        return found[0]

    def tags(self, tag: str) -> int:
        """Return how many engines bear a tag, large or small letters alike."""
        with self._lock:
            self.engines()
            return self._bones.tags(tag)

    def visits(self, engine: str | None = None) -> tuple[VisitRecord, ...]:
        """Return visits, oldest first: of an engine (identifier or tag), or all."""
        with self._lock:
            if engine is None:
                self.engines()
                return self._bones.all_visits()
            return self._bones.visits(self.engine(engine))

    def is_visit(self, identifier: str) -> bool:
        """Tell whether a visit, sound or not, bears an identifier."""
        return self.rows.is_visit(identifier)

    def visit(self, name: str) -> VisitRecord:
        """Return a visit by identifier or readable name (``A2/2032-07-08``; ``A2`` alone: the newest of that engine).

        Raises
        ------
        UnknownNameError
            None is called so.
        """
        with self._lock:
            found = self._visits_called(name)
        if len(found) > 1:
            raise RecordError(f"Several visits are called {name}. Say which: {', '.join(one.id for one in found)}.")
        if not found:
            raise UnknownNameError("visit", name, [one.name for one in self.visits()])
        return found[0]

    def _visits_called(self, name: str) -> list[VisitRecord]:
        engines = self.engines()
        if is_id(name):
            opened = self._by_id.get(name)
            engines = tuple(one for one in engines if opened is not None and one.id == opened.engine)
            return [one for each in engines for one in self._bones.visits(each) if one.id == name]
        if "/" not in name:
            return list(self.visits(name))[-1:] if any(one.tag == name for one in engines) else []
        bearing = [one for one in engines if name.startswith(f"{one.tag}/")]
        return [one for each in bearing for one in self._bones.visits(each) if one.name == name]

    def remembers(self, slot: Hashable) -> bool:
        """Tell whether something is remembered in a slot."""
        return self._remembered.holds(slot)

    def remembered(
        self, key: Hashable, compute: Callable[[], Any], *, slot: Hashable | None = None, most: int = 1_000
    ) -> Any:
        """Return what was computed for a key, computing it once.

        A slot holds one value: computing it for another key takes the place of the old one (a visit's sheet after a new
        reading), so memory grows with what is looked at, not with what is typed; and what was not looked at for long
        goes when all weighs too much. Without a slot the key is its own.
        """
        return self._remembered.ask(key if slot is None else slot, key, compute, most)

    def sheet_memory(self, visit: str) -> Memory:
        """Return what the last working out of a visit's sheet left; of the visits worked out last only.

        It holds the draws of every reading and input beside those of the results: some 20 MB.
        """
        with self._lock:
            found = self._memories.pop(visit, None) or Memory()
            self._memories[visit] = found
            while len(self._memories) > SHEETS:
                self._memories.pop(next(iter(self._memories)))
        return found

    def revision(self, engine: str) -> tuple[int, int]:
        """Return what changes whenever something changed that a view of this engine stands on."""
        return self.newest_of(engine)[0], self.newest_of(None)[0]

    @property
    def newest(self) -> int:
        """Number of the last entry of all."""
        self._refresh()
        return self._newest

    def newest_of(self, engine: str | None) -> tuple[int, str]:
        """Return number and identifier of the last entry of an engine, or of the home."""
        with self._lock:
            self._refresh()
            if engine not in self._last:
                self._last[engine] = self.rows.newest_of(engine)
            return self._last[engine]

    @contextmanager
    def steady(self) -> Iterator[None]:
        """Ask once, not at every question inside the block, whether another program has written; for this thread."""
        self._refresh()
        depth: int = getattr(self._asked, "depth", 0)
        self._asked.depth = depth + 1
        try:
            yield
        finally:
            self._asked.depth = depth

    # ------------------------------------------------------------------ what is held

    def _group(self, engine: str | None, visit: str | None) -> list[Entry]:
        """Return the entries of a group, read where they are not held."""
        found = self._groups.get((engine, visit))
        if found is None:
            if self._used.get(engine):
                return []
            found = self.rows.group(engine, visit)
            self._hold(engine, found, {(engine, visit)})
        self._touch(engine)
        return found

    def _of_engine(self, engine: str) -> list[Entry]:
        """Return all entries of an engine."""
        if not self._used.get(engine):
            self._let_go(engine)
            entries = self.rows.of_engine(engine)
            self._hold(engine, entries, {(engine, None)})
            self._used[engine] = True
        self._touch(engine)
        return [one for (whose, _), group in self._groups.items() if whose == engine for one in group]

    def _hold(self, engine: str | None, entries: Sequence[Entry], groups: set[Group]) -> None:
        """Keep entries of an engine, and that some groups are read; let the engines longest unused go."""
        for group in groups:
            self._groups.setdefault(group, [])
        for one in entries:
            self._groups.setdefault((one.engine, one.visit), []).append(one)
            dict.__setitem__(self._by_id, one.id, one)
        self._used.setdefault(engine, False)
        if any(one.kind == "damaged" for one in entries):
            self._bones.told(entries)
        for other in [one for one in self._used if one is not None and one != engine]:
            if len(self._by_id) <= HELD:
                break
            self._let_go(other)

    def _touch(self, engine: str | None) -> None:
        """Note that an engine was asked for."""
        if engine in self._used:
            self._used[engine] = self._used.pop(engine)

    def _let_go(self, engine: str | None) -> None:
        """Hold nothing of an engine any more."""
        self._used.pop(engine, None)
        for group in [one for one in self._groups if one[0] == engine]:
            for one in self._groups.pop(group):
                self._by_id.pop(one.id, None)
            self._folds.pop(group, None)

    def _refresh(self, connection: Connection | None = None, *, always: bool = False) -> None:
        """Read what this or another program has added since; entries never change, so nothing else need be read."""
        if connection is None:
            if getattr(self._asked, "depth", 0) and not always and self._newest >= 0:
                return None
            with self.database.reading() as own:
                return self._refresh(own)
        with self._lock:
            newest = self.rows.newest(connection)
            if newest != self._newest:
                if self._newest >= 0:  # else nothing is in memory yet
                    for one in self.rows.since(connection, self._newest):
                        self._learn(one)
                self._newest = newest
        return None

    def _learn(self, entry: Entry) -> None:
        """Put an entry that was not known before where it belongs, as far as its like are in memory."""
        group = (entry.engine, entry.visit)
        if self._used.get(entry.engine) or group in self._groups:
            self._groups.setdefault(group, []).append(entry)
            dict.__setitem__(self._by_id, entry.id, entry)
        for kind, (_, ids) in list(self._standing.items()):
            if entry.kind in (kind, "resolution") or entry.corrects in ids:
                del self._standing[kind]
        if entry.kind in self._of_kind:
            self._of_kind[entry.kind].append(entry)
        for (engine, kind, _), held in self._held_back.items():
            if engine == entry.engine and entry.visit and (entry.kind in (kind, "resolution") or entry.corrects):
                held.stale.add(entry.visit)
        self._last.pop(entry.engine, None)
        self._bones.learn(entry)

    def _seal_of(self, visit: str) -> Entry | None:
        """Return the seal of a visit."""
        opened = self._by_id.get(visit)
        if opened is None:
            return None
        return next((one for one in self._group(opened.engine, visit) if one.kind == "sealed"), None)


def _holds(entry: Entry, parts: Sequence[str]) -> bool:
    """Tell whether an entry's content holds one of some texts, as its canonical form would."""
    text = json.dumps(dict(entry.content), ensure_ascii=False, separators=(",", ":"))
    return any(part in text for part in parts)


def _by_visit(known: Iterable[Entry], kind: str) -> dict[str, tuple[Entry, ...]]:
    """Return by visit the entries of a kind that stand among some."""
    found: dict[str, list[Entry]] = {}
    for one in known:
        if one.visit is not None:
            found.setdefault(one.visit, []).append(one)
    return {visit: tuple(one for one in fold(some).current if one.kind == kind) for visit, some in found.items()}


class _ById(dict[str, Entry]):
    """Entries by identifier: those that are held, and any other by a look at the table."""

    def __init__(self, known: Known) -> None:
        super().__init__()
        self.known = known

    def get(self, identifier: str, otherwise: Any = None) -> Any:
        """Return an entry; ``otherwise`` where there is none."""
        found: Entry | None = super().get(identifier)
        if found is None:
            found = self.known.rows.one(identifier)
        return otherwise if found is None else found

    def __contains__(self, identifier: object) -> bool:
        return super().__contains__(identifier) or self.get(str(identifier)) is not None
