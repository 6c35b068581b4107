"""The store: appends entries durably, gives them back, and never changes or removes one."""

from __future__ import annotations

import secrets
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, cast

from sqlalchemy import func, insert, select

from asfound.errors import InputError, RecordError, UnknownNameError
from asfound.records import kinds, office
from asfound.records.begin import begin, begun
from asfound.records.database import Database
from asfound.records.entries import Entry, canonical, make_id
from asfound.records.files import Files, FolderFiles, TableFiles
from asfound.records.home import Clock, Home, Settings
from asfound.records.known import Known, entry_of
from asfound.records.lock import keys_of
from asfound.records.lock_switch import recover
from asfound.records.sent import note_entries, refuse_twice
from asfound.records.tables import ENTRIES

if TYPE_CHECKING:
    import os
    from collections.abc import Callable, Iterable, Sequence

    from sqlalchemy import Connection


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


@dataclass(frozen=True, slots=True)
class Merged:
    """What a merge brought: how many entries were new, and of which engines and visits."""

    new: int
    engines: tuple[str, ...]
    visits: tuple[str, ...]


class Records(Known):
    """The record in one home, or in one database that several people share."""

    def __init__(
        self,
        database: Database,
        files: Files,
        home: Home,
        clock: Clock,
        randbits: Callable[[int], int] = secrets.randbits,
    ) -> None:
        super().__init__(database)
        self.files, self.home, self.clock = files, home, clock
        self._randbits = randbits
        self.at_close: list[Callable[[], None]] = []
        """What else holds a file of the home open, and lets go of it with the database."""

    # ------------------------------------------------------------------ opening

    @classmethod
    def open(
        cls,
        home_or_url: str | os.PathLike[str] | None = None,
        *,
        home: str | os.PathLike[str] | None = None,
        clock: Clock | None = None,
        passphrase: str | None = None,
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
        passphrase : str, optional
            Of a locked home; else it is taken from where ``records/lock.py`` says.

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
            recover(own.folder)
            begun(own)
            keys = keys_of(own.folder, passphrase)
            try:
                own.folder.mkdir(parents=True, exist_ok=True)
            except OSError as fault:
                said = f"The home {own.folder} cannot be made: {fault.strerror}. Name another folder."
                raise RecordError(said) from fault
            if not own.exists:
                begin(own, keys.database if keys else "")
            database = Database.in_file(own.database, keys.database if keys else "")
            files = FolderFiles(own.files, keys)
        database.bring_up_to_date()
        if not own.settings().device:
            own.change()
        return cls(database, files, own, clock or own.clock(), randbits)

    def close(self) -> None:
        """Let go of the database, and of what is kept beside it."""
        self.database.close()
        for let_go in self.at_close:
            let_go()

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
        for one in drafts:
            office.allow(one.kind)
        checked = [
            replace(one, content=kinds.check(one.kind, one.content), who=office.name() or one.who or settings.person)
            for one in drafts
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
                refuse_twice(connection)
                self._refresh(connection)  # with the lock held: another program may have sealed the visit
                made: list[Entry] = []
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
                    made.append(entry)
                note_entries(connection, made)
            self._refresh(always=True)

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
        office.allow("bring in")
        with self._lock:
            with self.database.writing() as connection:
                new = _news(connection, arriving)
                _insert(connection, new)
            self._refresh(always=True)
        return len(new)

    def merge_parts(self, parts: Iterable[Sequence[Entry]]) -> Merged:
        """Take over entries that come in parts, by identifier, all or none; what ``merge`` raises, or giving them.

        No more than a part of them is held at a time.
        """
        office.allow("bring in")
        number, engines, visits = 0, dict[str, None](), dict[str, None]()
        with self._lock:
            with self.database.writing() as connection:
                for part in parts:
                    new = _news(connection, part)
                    _insert(connection, new)
                    number += len(new)
                    engines |= {one.engine: None for one in new if one.engine}
                    visits |= {one.visit: None for one in new if one.visit}
            self._refresh(always=True)
        return Merged(number, tuple(engines), tuple(visits))

    def contradicts(self, entries: Iterable[Entry]) -> None:
        """Raise what ``merge`` would raise, and change nothing."""
        with self.database.reading() as connection:
            _news(connection, list(entries))

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
            if draft.kind == "withdrawn":
                office.allow(corrected.kind)
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
                    f"The visit of {str(opened.content['began'])[:10]} is sealed: nothing is added, changed or taken "
                    "back in it. Write an addendum, or open a new visit."
                )
        if draft.kind == "engine" and engine is None:
            engine = identifier
        elif engine is not None and engine not in new and engine not in self._by_id:
            raise UnknownNameError("engine", engine, ())
        check_place(draft.kind, engine, visit)
        if draft.kind == "addendum" and self._seal_of(cast("str", visit)) is None:
            raise RecordError("The visit is still open: keep it as a note or a correction, not as an addendum.")
        if not draft.who:
            raise InputError("who", "", "is missing", try_next="Say who writes, or set a person in the settings.")
        kinds.check_who(draft.who)
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
        office.allow("photo")
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


def check_place(kind: str, engine: str | None, visit: str | None) -> None:
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


def _news(connection: Connection, arriving: Sequence[Entry]) -> list[Entry]:
    """Return those that are not here; refuse one that is here and says something else."""
    new = []
    for start in range(0, len(arriving), 500):
        some = arriving[start : start + 500]
        rows = connection.execute(select(ENTRIES).where(ENTRIES.c.id.in_([one.id for one in some])))
        here = {row.id: entry_of(row) for row in rows}
        for entry in some:
            if entry.id not in here:
                new.append(entry)
            elif here[entry.id] != entry:
                raise RecordError(
                    f"Entry {entry.id} ({entry.kind} by {entry.who}, {entry.at}) says something else here. "
                    "One of the two records was altered; nothing was taken over. Verify the seals of both."
                )
    return new


def _insert(connection: Connection, entries: Sequence[Entry]) -> None:
    """Insert rows in order."""
    if entries:
        rows = [{**one.as_dict(), "content": canonical(dict(one.content)).decode()} for one in entries]
        connection.execute(insert(ENTRIES), rows)
