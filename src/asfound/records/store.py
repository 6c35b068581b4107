"""The store: appends entries durably, gives them back, and never changes or removes one."""

from __future__ import annotations

import json
import secrets
import threading
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, cast

from sqlalchemy import func, insert, select

from asfound.errors import InputError, RecordError, UnknownNameError
from asfound.records import kinds, things
from asfound.records.database import Database
from asfound.records.entries import Entry, canonical, make_id
from asfound.records.files import Files, FolderFiles, TableFiles
from asfound.records.fold import Fold, fold
from asfound.records.home import Clock, Home, Settings
from asfound.records.tables import ENTRIES

if TYPE_CHECKING:
    import os
    from collections.abc import Callable, Iterable, Sequence

    from sqlalchemy import Connection, Row

    from asfound.records.things import EngineRecord, SiteRecord, Thing, VisitRecord


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """An entry that is still to be written; ``append_many`` takes several and keeps all or none.

    ``engine``, ``visit`` and ``corrects`` may name an earlier draft of the same list by its position (``#0``).
    """

    kind: str
    content: dict[str, Any]
    engine: str | None = None
    visit: str | None = None
    corrects: str | None = None
    who: str | None = None


class Records:
    """The record in one home, or in one database that several people share."""

    def __init__(
        self,
        database: Database,
        files: Files,
        home: Home,
        clock: Clock,
        randbits: Callable[[int], int] = secrets.randbits,
    ) -> None:
        self.database, self.files, self.home, self.clock = database, files, home, clock
        self._randbits = randbits
        self._lock = threading.RLock()
        self._known: dict[tuple[str | None, str | None], list[Entry]] = {}
        self._by_id: dict[str, Entry] = {}
        self._visits: dict[str | None, list[str]] = {}
        self._count: dict[str | None, int] = {}
        self._newest = 0
        self._folds: dict[tuple[str | None, str | None], tuple[int, Fold]] = {}
        self._computed: dict[Any, Any] = {}

    # ------------------------------------------------------------------ opening

    @classmethod
    def open(
        cls,
        home_or_url: str | os.PathLike[str] | None = None,
        *,
        home: str | os.PathLike[str] | None = None,
        clock: Clock | None = None,
        randbits: Callable[[int], int] = secrets.randbits,
    ) -> Records:
        """Open a record, and begin one where there is none.

        Parameters
        ----------
        home_or_url : path or str, optional
            Folder of a home (default: ASFOUND_HOME, else the usual folder of this system), or the URL of a database
            (``postgresql+psycopg://...``).
        home : path, optional
            With a URL: the folder of the settings and the key of this laptop.
        clock : Clock, optional
            Instead of that of the home.

        Raises
        ------
        RecordError
            The record is damaged, newer than this program, or cannot be written.
        """
        if isinstance(home_or_url, str) and "://" in home_or_url:
            own = Home(home)
            database = Database(home_or_url)
            files: Files = TableFiles(database)
        else:
            own = Home(home_or_url)
            try:
                own.folder.mkdir(parents=True, exist_ok=True)
            except OSError as fault:
                said = f"The home {own.folder} cannot be made: {fault.strerror}. Name another folder."
                raise RecordError(said) from fault
            database = Database(f"sqlite:///{own.database}", file=own.database)
            files = FolderFiles(own.files)
        database.bring_up_to_date()
        if not own.settings().device:
            own.change()
        return cls(database, files, own, clock or own.clock(), randbits)

    def close(self) -> None:
        """Let go of the database."""
        self.database.close()

    def __enter__(self) -> Records:
        return self

    def __exit__(self, *_fault: object) -> None:
        self.close()

    @property
    def settings(self) -> Settings:
        """Settings of the home."""
        return self.home.settings()

    # ------------------------------------------------------------------ writing

    def append(
        self,
        kind: str,
        content: dict[str, Any],
        *,
        engine: str | None = None,
        visit: str | None = None,
        who: str | None = None,
        corrects: str | None = None,
    ) -> Entry:
        """Keep one entry; it is on the disk when this returns.

        A first ``engine`` entry begins an engine, ``visit_opened`` begins a visit of ``engine``; for kinds of a visit
        its engine follows from ``visit``. ``who`` defaults to the person of the settings. ``corrects`` names the entry
        that this one replaces.

        Raises
        ------
        InputError
            The content is not what its kind asks for.
        RecordError
            The visit is sealed, or the record cannot be written.
        UnknownNameError
            No such kind, engine, visit or entry.
        """
        draft = Draft(kind=kind, content=content, engine=engine, visit=visit, who=who, corrects=corrects)
        return self.append_many([draft])[0]

    def append_many(self, drafts: Sequence[Draft]) -> list[Entry]:
        """Keep several entries, all or none."""
        if not drafts:
            return []
        settings = self.settings
        checked = [
            replace(one, content=kinds.check(one.kind, one.content), who=one.who or settings.person) for one in drafts
        ]
        written: list[Entry] = []

        def build(_connection: Connection, identifier: str, at: str) -> Entry | None:
            if len(written) == len(checked):
                return None
            entry = self._placed(_resolved(checked[len(written)], written), identifier, at, written, settings.device)
            written.append(entry)
            return entry

        self.write(build)
        return written

    def write(self, build: Callable[[Connection, str, str], Entry | None]) -> None:
        """Write entries in one transaction: ``build`` gets connection, identifier and time, again until it gives None.

        For those that must know their own identifier, as a seal does; all others use ``append``.
        """
        with self._lock:
            with self.database.writing() as connection:
                self._refresh(connection)  # with the lock held: another program may have sealed the visit
                last = connection.execute(select(func.max(ENTRIES.c.id))).scalar()
                while True:
                    now = self.clock.now()
                    if now.tzinfo is None:
                        raise InputError("clock", str(now), "does not tell its offset from UTC")
                    last = make_id(int(now.timestamp() * 1000), last, randbits=self._randbits)
                    entry = build(connection, last, now.isoformat(timespec="milliseconds"))
                    if entry is None:
                        break
                    _insert(connection, [entry])
            self._refresh()

    def undo(self, entry: str, *, who: str | None = None, why: str = "") -> Entry:
        """Make an entry void by adding a line; undoing that line brings it back."""
        found = self.entry(entry)
        return self.append("withdrawn", {"why": why}, engine=found.engine, visit=found.visit, corrects=entry, who=who)

    def merge(self, entries: Iterable[Entry]) -> int:
        """Take over entries of another home; the union, by identifier. Returns how many were new.

        Raises
        ------
        RecordError
            One bears the identifier of an entry here and says something else: one of the two records was altered.
        """
        arriving = sorted(entries, key=lambda one: one.id)
        with self._lock:
            with self.database.writing() as connection:
                new = []
                for entry in arriving:
                    row = connection.execute(select(ENTRIES).where(ENTRIES.c.id == entry.id)).first()
                    if row is None:
                        new.append(entry)
                    elif _entry(row) != entry:
                        raise RecordError(
                            f"Entry {entry.id} ({entry.kind} by {entry.who}, {entry.at}) says something else here. "
                            "One of the two records was altered; nothing was taken over. Verify the seals of both."
                        )
                _insert(connection, new)
            self._refresh()
        return len(new)

    def _placed(self, draft: Draft, identifier: str, at: str, written: list[Entry], device: str) -> Entry:
        """Return the entry that a draft becomes, after checking where it belongs."""
        engine, visit = draft.engine, draft.visit
        new = {one.id: one for one in written}
        corrected = None
        if draft.corrects is not None:
            corrected = new.get(draft.corrects) or self._by_id.get(draft.corrects)
            if corrected is None:
                raise UnknownNameError("entry", draft.corrects, ())
            if draft.kind not in ("withdrawn", "resolution") and corrected.kind != draft.kind:
                raise InputError("corrects", draft.corrects, f"is a {corrected.kind}, not a {draft.kind}")
            if corrected.kind in ("sealed", "addendum"):
                raise RecordError(f"A {corrected.kind} entry stands; add an addendum.")
            engine, visit = corrected.engine, corrected.visit
        if draft.kind == "visit_opened" and visit is None:
            visit = identifier
        elif visit is not None:
            opened = new.get(visit) or self._by_id.get(visit)
            if opened is None or opened.kind != "visit_opened":
                raise UnknownNameError("visit", visit, ())
            engine = opened.engine
            if draft.kind != "addendum" and self._seal_of(visit) is not None:
                raise RecordError(
                    f"The visit that began {opened.content['began']} is sealed; a {draft.kind} cannot be kept in it. "
                    "Write an addendum, or open a new visit."
                )
        if draft.kind == "engine" and engine is None:
            engine = identifier
        elif engine is not None and engine not in new and engine not in self._by_id:
            raise UnknownNameError("engine", engine, ())
        _check_place(draft.kind, engine, visit)
        if draft.kind == "addendum" and self._seal_of(cast("str", visit)) is None:
            raise RecordError("The visit is still open: keep it as a note or a correction, not as an addendum.")
        if not draft.who:
            raise InputError("who", "", "is missing", try_next="Say who writes, or set a person in the settings.")
        return Entry(
            id=identifier,
            at=at,
            who=draft.who,
            device=device,
            engine=engine,
            visit=visit,
            kind=draft.kind,
            content=draft.content,
            corrects=draft.corrects,
        )

    def _seal_of(self, visit: str) -> Entry | None:
        """Return the seal of a visit."""
        opened = self._by_id.get(visit)
        if opened is None:
            return None
        return next((one for one in self._known.get((opened.engine, visit), ()) if one.kind == "sealed"), None)

    # ------------------------------------------------------------------ reading

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
                known = self._by_id.values()
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
        return tuple(_entry(row, strict=True) for row in rows)

    def stored_ones(self, identifiers: Sequence[str]) -> dict[str, Entry]:
        """Return entries by identifier as they stand in the database now."""
        found: dict[str, Entry] = {}
        with self.database.reading() as connection:
            for start in range(0, len(identifiers), 500):
                chosen = select(ENTRIES).where(ENTRIES.c.id.in_(identifiers[start : start + 500]))
                found |= {row.id: _entry(row, strict=True) for row in connection.execute(chosen)}
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

    # ------------------------------------------------------------------ files

    def attach(self, content: bytes, filename: str, media_type: str) -> str:
        """Keep a photo or file durably and return its digest; a ``photo`` entry then says what it is.

        Raises
        ------
        InputError
            It is empty.
        RecordError
            It is too large, or cannot be written.
        """
        if not content:
            raise InputError("file", filename, f"({media_type}) is empty", try_next="Take it again.")
        return self.files.put(content)

    def attachment(self, digest: str) -> bytes:
        """Return the content of a file.

        Raises
        ------
        UnknownNameError
            It is not here (an export may have come without its files).
        RecordError
            Its content is no longer what was kept.
        """
        from asfound.records.entries import sha256

        content = self.files.get(digest)
        if sha256(content) != digest:
            raise RecordError(f"The file {digest[:12]} is damaged: its content is no longer what was kept.")
        return content

    # ------------------------------------------------------------------ memory

    def remembered(self, key: Any, compute: Callable[[], Any], *, most: int = 64) -> Any:
        """Return what was computed for a key, computing it once; the oldest are forgotten."""
        with self._lock:
            if key in self._computed:
                self._computed[key] = self._computed.pop(key)
                return self._computed[key]
        value = compute()
        with self._lock:
            self._computed[key] = value
            while len(self._computed) > most:
                self._computed.pop(next(iter(self._computed)))
        return value

    def revision(self, engine: str) -> tuple[int, int]:
        """Return what changes whenever something changed that a view of this engine stands on."""
        with self._lock:
            self._refresh()
            return self._count.get(engine, 0), self._count.get(None, 0)

    def _refresh(self, connection: Connection | None = None) -> None:
        """Read what this or another program has added since; entries never change, so nothing else need be read."""
        if connection is None:
            with self.database.reading() as own:
                return self._refresh(own)
        newest = connection.execute(select(func.max(ENTRIES.c.seq))).scalar() or 0
        if newest == self._newest:
            return None
        rows = connection.execute(select(ENTRIES).where(ENTRIES.c.seq > self._newest).order_by(ENTRIES.c.seq)).all()
        for row in rows:
            entry = _entry(row)
            group = (entry.engine, entry.visit)
            if group not in self._known:
                self._known[group] = []
                if entry.visit is not None:
                    self._visits.setdefault(entry.engine, []).append(entry.visit)
            self._known[group].append(entry)
            self._count[entry.engine] = self._count.get(entry.engine, 0) + 1
            self._by_id[entry.id] = entry
        self._newest = newest
        return None


def _check_place(kind: str, engine: str | None, visit: str | None) -> None:
    """Refuse an entry that lies where its kind does not belong."""
    if kind in kinds.OF_THE_HOME and (engine or visit):
        raise InputError("engine", str(engine), f"cannot be given: a {kind} belongs to the home, not to an engine")
    if kind in kinds.OF_AN_ENGINE and (engine is None or visit is not None):
        raise InputError("engine", str(engine), f"is what a {kind} needs, without a visit")
    if kind == "visit_opened" and engine is None:
        raise InputError("engine", "", "is missing", try_next="Name the engine that is visited.")
    if kind not in kinds.OF_THE_HOME | kinds.OF_AN_ENGINE | kinds.ANYWHERE and visit is None:
        raise InputError("visit", "", "is missing", try_next=f"Name the visit that the {kind} belongs to.")


def _resolved(draft: Draft, written: list[Entry]) -> Draft:
    """Put identifiers where a draft names an earlier one of its list by position."""

    def real(name: str | None) -> str | None:
        return written[int(name[1:])].id if name is not None and name.startswith("#") else name

    return replace(draft, engine=real(draft.engine), visit=real(draft.visit), corrects=real(draft.corrects))


def _insert(connection: Connection, entries: Sequence[Entry]) -> None:
    """Insert rows in order."""
    if entries:
        rows = [{**one.as_dict(), "content": canonical(dict(one.content)).decode()} for one in entries]
        connection.execute(insert(ENTRIES), rows)


def _entry(row: Row[Any], *, strict: bool = False) -> Entry:
    """Return the entry of a row; one that cannot be read becomes the kind ``damaged`` and hinders nothing else.

    ``strict`` also holds a content damaged whose text is not in canonical form, as it was written.
    """
    fields: dict[str, Any] = {name: _text(getattr(row, name)) for name in ("id", "at", "who", "device", "kind")}
    links: dict[str, Any] = {name: None if (value := getattr(row, name)) is None else _text(value) for name in _LINKS}
    try:
        content = json.loads(row.content)
        sound = isinstance(content, dict) and (not strict or canonical(content).decode() == row.content)
    except ValueError:  # also what RFC 8785 cannot write
        sound = False
    if not sound:
        fields["kind"], content = "damaged", {"text": _text(row.content)}
    return Entry(**fields, **links, content=content)


_LINKS = ("engine", "visit", "corrects")


def _text(value: Any) -> str:
    """Return a value of the database as text; a damaged file can give other types where text was written."""
    return value if isinstance(value, str) else repr(value)
