"""What the store has in memory: entries never change, so each is read once, by this or any other program's writing."""

from __future__ import annotations

import json
import threading
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from sqlalchemy import func, select

from asfound.errors import RecordError, UnknownNameError
from asfound.quantities.kept import Memory
from asfound.records import things
from asfound.records.entries import Entry, canonical
from asfound.records.fold import Fold, fold
from asfound.records.kinds import readable
from asfound.records.tables import ENTRIES

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence

    from sqlalchemy import Connection, Row

    from asfound.records.database import Database
    from asfound.records.things import EngineRecord, SiteRecord, Thing, VisitRecord

SHEETS = 4
"""Visits of which the inputs of the last working out are kept: the one in hand, the one before it, two beside."""


class Known:
    """The entries of a database, by engine and visit, and what they add up to; reads only."""

    def __init__(self, database: Database) -> None:
        self.database = database
        self._lock = threading.RLock()
        self._known: dict[tuple[str | None, str | None], list[Entry]] = {}
        self._by_id: dict[str, Entry] = {}
        self._of_kind: dict[str, list[Entry]] = {}
        self._visits: dict[str | None, list[str]] = {}
        self._count: dict[str | None, int] = {}
        self._newest = 0
        self._asked = threading.local()
        self._folds: dict[tuple[str | None, str | None], tuple[int, Fold]] = {}
        self._computed: dict[Hashable, tuple[Hashable, Any]] = {}
        self._memories: dict[str, Memory] = {}

    def entries(
        self, engine: str | None = None, visit: str | None = None, kind: str | None = None
    ) -> tuple[Entry, ...]:
        """Return entries by identifier: of an engine (with its visits), of a visit, of a kind, or all."""
        with self._lock:
            self._refresh()
            if visit is not None:
                opened = self._by_id.get(visit)
                known: Iterable[Entry] = self._known.get((opened.engine, visit), ()) if opened else ()
            elif engine is not None:
                groups = [(engine, None), *((engine, one) for one in self._visits.get(engine, ()))]
                known = [one for group in groups for one in self._known.get(group, ())]
            else:
                known = self._by_id.values() if kind is None else self._of_kind.get(kind, ())
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
            found = self._by_id.get(identifier)
        if found is None:
            raise UnknownNameError("entry", identifier, ())
        return found

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
            return self._fold_known(engine, visit)

    def _fold_known(self, engine: str | None, visit: str | None) -> Fold:
        """Return the fold of a group, remembered until the group grows."""
        known = self._known.get((engine, visit), [])
        cached = self._folds.get((engine, visit))
        if cached is None or cached[0] != len(known):
            cached = (len(known), fold(known))
            self._folds[engine, visit] = cached
        return cached[1]

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
            folds = [self._fold_known(one, None) for one in self._count if one is not None]
            known_sites = things.sites(self._fold_known(None, None))
        return tuple(things.engines(folds, known_sites).values())

    def engine(self, name: str) -> EngineRecord:
        """Return an engine by identifier or tag.

        Raises
        ------
        UnknownNameError
            None is called so.
        RecordError
            Several bear that tag; names their sites and identifiers.
        """
        known = self.engines()
        found = [one for one in known if name in (one.id, one.tag)]
        if not found:
            found = [one for one in known if one.tag.casefold() == name.casefold()]
        if len(found) > 1:
            which = "; ".join(f"{one.site.name if one.site else 'no site'}: {one.id}" for one in found)
            raise RecordError(f"{len(found)} engines are called {name}. Say which by its identifier: {which}.")
        if not found:
            raise UnknownNameError("engine", name, [one.tag for one in known])
        return found[0]

    def visits(self, engine: str | None = None) -> tuple[VisitRecord, ...]:
        """Return visits, oldest first: of an engine (identifier or tag), or all."""
        chosen = (self.engine(engine),) if engine is not None else self.engines()
        with self._lock:
            found = [
                one
                for each in chosen
                for one in things.visits(
                    each, {visit: self._fold_known(each.id, visit) for visit in self._visits.get(each.id, ())}
                ).values()
            ]
        return tuple(sorted(found, key=lambda one: (one.began, one.id)))

    def visit_ids(self) -> frozenset[str]:
        """Return the identifiers of all visits, sound or not."""
        with self._lock:
            self._refresh()
            return frozenset(one for known in self._visits.values() for one in known)

    def visit(self, name: str) -> VisitRecord:
        """Return a visit by identifier or readable name (``A2/2032-07-08``; ``A2`` alone: the newest of that engine).

        Raises
        ------
        UnknownNameError
            None is called so.
        """
        tag = name.split("/", 1)[0]
        known = self.visits()
        found = [one for one in known if name in (one.id, one.name)]
        if not found and "/" not in name and any(one.tag == tag for one in self.engines()):
            found = list(self.visits(tag))[-1:]
        if len(found) > 1:
            raise RecordError(f"Several visits are called {name}. Say which: {', '.join(one.id for one in found)}.")
        if not found:
            raise UnknownNameError("visit", name, [one.name for one in known])
        return found[0]

    def remembered(
        self, key: Hashable, compute: Callable[[], Any], *, slot: Hashable | None = None, most: int = 96
    ) -> Any:
        """Return what was computed for a key, computing it once.

        A slot holds one value: computing it for another key takes the place of the old one (a visit's sheet after a new
        reading), so memory grows with what is looked at, not with what is typed. Without a slot the key is its own.
        """
        slot = key if slot is None else slot
        with self._lock:
            found = self._computed.pop(slot, None)
            if found is not None and found[0] == key:
                self._computed[slot] = found
                return found[1]
        value = compute()
        with self._lock:
            self._computed.pop(slot, None)
            self._computed[slot] = (key, value)
            while len(self._computed) > most:
                self._computed.pop(next(iter(self._computed)))
        return value

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
        with self._lock:
            self._refresh()
            return self._count.get(engine, 0), self._count.get(None, 0)

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

    def _refresh(self, connection: Connection | None = None, *, always: bool = False) -> None:
        """Read what this or another program has added since; entries never change, so nothing else need be read."""
        if connection is None:
            if getattr(self._asked, "depth", 0) and not always:
                return None
            with self.database.reading() as own:
                return self._refresh(own)
        newest = connection.execute(select(func.max(ENTRIES.c.seq))).scalar() or 0
        if newest == self._newest:
            return None
        rows = connection.execute(select(ENTRIES).where(ENTRIES.c.seq > self._newest).order_by(ENTRIES.c.seq)).all()
        for row in rows:
            self._learn(entry_of(row))
        self._newest = newest
        return None

    def _learn(self, entry: Entry) -> None:
        """Put an entry that was not known before where it belongs."""
        group = (entry.engine, entry.visit)
        if group not in self._known:
            self._known[group] = []
            if entry.visit is not None:
                self._visits.setdefault(entry.engine, []).append(entry.visit)
        self._known[group].append(entry)
        self._count[entry.engine] = self._count.get(entry.engine, 0) + 1
        self._by_id[entry.id] = entry
        self._of_kind.setdefault(entry.kind, []).append(entry)

    def _seal_of(self, visit: str) -> Entry | None:
        """Return the seal of a visit."""
        opened = self._by_id.get(visit)
        if opened is None:
            return None
        return next((one for one in self._known.get((opened.engine, visit), ()) if one.kind == "sealed"), None)


def entry_of(row: Row[Any], *, strict: bool = False) -> Entry:
    """Return the entry of a row; one that cannot be read becomes the kind ``damaged`` and hinders nothing else.

    A flipped bit can leave sound JSON with a field that is none. ``strict`` is for verification: it takes the content
    as it stands, and holds it damaged where its text is not in canonical form, as it was written.
    """
    fields: dict[str, Any] = {name: _text(getattr(row, name)) for name in ("id", "at", "who", "device", "kind")}
    links: dict[str, Any] = {name: None if (value := getattr(row, name)) is None else _text(value) for name in _LINKS}
    try:
        content = json.loads(row.content)
        sound = isinstance(content, dict) and (
            canonical(content).decode() == row.content if strict else readable(fields["kind"], content)
        )
    except (ValueError, TypeError, RecursionError):  # also what RFC 8785 cannot write
        sound = False
    if not sound:
        fields["kind"], content = "damaged", {"text": _text(row.content)}
    return Entry(**fields, **links, content=content)


_LINKS = ("engine", "visit", "corrects")


def _text(value: Any) -> str:
    """Return a value of the database as text; a damaged file can give other types where text was written."""
    return value if isinstance(value, str) else repr(value)
