"""Rows of the record as entries: whole groups, entries of a kind, and the bones that lists of engines and visits need.

A large home holds half a million entries; a page needs those of one engine, or a few of each. Each question here is one
or two statements over an index.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from sqlalchemy import case, func, null, or_, select, true

from asfound.records.clash_places import MANY, clash_places
from asfound.records.entries import Entry, canonical
from asfound.records.kinds import readable
from asfound.records.tables import ENTRIES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sqlalchemy import Connection, Row

    from asfound.records.clash_places import Place
    from asfound.records.database import Database

BONES = ("engine", "visit_opened", "sealed")
"""Kinds that say which engines and visits there are."""


class Rows:
    """Questions to the table of entries."""

    def __init__(self, database: Database) -> None:
        self.database = database

    def newest(self, connection: Connection | None = None) -> int:
        """Return the number of the last row; it grows with each row, and with nothing else."""
        if connection is None:
            with self.database.reading() as own:
                return self.newest(own)
        return connection.execute(select(func.max(ENTRIES.c.seq))).scalar() or 0

    def newest_id(self) -> str | None:
        """Return the highest identifier."""
        with self.database.reading() as connection:
            return connection.execute(select(func.max(ENTRIES.c.id))).scalar()

    def newest_of(self, engine: str | None) -> tuple[int, str]:
        """Return number and identifier of the last row of an engine, or of the home."""
        chosen = ENTRIES.c.engine.is_(None) if engine is None else ENTRIES.c.engine == engine
        newest = select(ENTRIES.c.seq, ENTRIES.c.id).where(chosen).order_by(ENTRIES.c.seq.desc()).limit(1)
        with self.database.reading() as connection:
            row = connection.execute(newest).first()
        return (0, "") if row is None else (row[0], str(row[1]))

    def since(self, connection: Connection, seq: int) -> Iterator[Entry]:
        """Yield what was written after a row, in that order."""
        for row in connection.execute(select(ENTRIES).where(ENTRIES.c.seq > seq).order_by(ENTRIES.c.seq)):
            yield entry_of(row)

    def one(self, identifier: str) -> Entry | None:
        """Return an entry; None where there is none."""
        with self.database.reading() as connection:
            row = connection.execute(select(ENTRIES).where(ENTRIES.c.id == identifier)).first()
        return None if row is None else entry_of(row)

    def group(self, engine: str | None, visit: str | None) -> list[Entry]:
        """Return the entries of a visit, of an engine outside its visits, or of the home, as they came in."""
        if visit is not None:  # of one visit, whatever else its engine holds
            read = self._read(select(ENTRIES).where(ENTRIES.c.visit == visit).order_by(ENTRIES.c.seq))
            return [one for one in read if one.engine == engine]
        of_engine = ENTRIES.c.engine.is_(None) if engine is None else ENTRIES.c.engine == engine
        return self._read(select(ENTRIES).where(of_engine, ENTRIES.c.visit.is_(None)).order_by(ENTRIES.c.seq))

    def own_of(self, engines: Sequence[str]) -> dict[str, list[Entry]]:
        """Return the entries of engines outside their visits, by engine."""
        found: dict[str, list[Entry]] = {one: [] for one in engines}
        chosen = select(ENTRIES).where(ENTRIES.c.engine.in_(engines), ENTRIES.c.visit.is_(None))
        for one in self._read(chosen.order_by(ENTRIES.c.seq)) if engines else ():
            found[str(one.engine)].append(one)
        return found

    def newest_of_each(self, engines: Sequence[str]) -> dict[str | None, tuple[int, str]]:
        """Return number and identifier of the last row of each of some engines."""
        found: dict[str | None, tuple[int, str]] = dict.fromkeys(engines, (0, ""))
        newest = select(func.max(ENTRIES.c.seq)).where(ENTRIES.c.engine.in_(engines)).group_by(ENTRIES.c.engine)
        chosen = select(ENTRIES.c.engine, ENTRIES.c.seq, ENTRIES.c.id).where(ENTRIES.c.seq.in_(newest))
        if engines:
            with self.database.reading() as connection:
                found |= {str(row[0]): (row[1], str(row[2])) for row in connection.execute(chosen)}
        return found

    def opened_last(self, most: int) -> tuple[list[Entry], frozenset[str]]:
        """Return the openings of visits written last, and which visits bear a seal."""
        chosen = select(ENTRIES).where(ENTRIES.c.kind == "visit_opened").order_by(ENTRIES.c.seq.desc()).limit(most)
        found = self._read(chosen)
        visits = [one.visit for one in found]
        sealed = select(ENTRIES.c.visit).where(ENTRIES.c.visit.in_(visits), ENTRIES.c.kind == "sealed")
        with self.database.reading() as connection:
            return found, frozenset(str(one) for one in connection.execute(sealed).scalars())

    def of_engine(self, engine: str) -> list[Entry]:
        """Return all entries of an engine, its visits' too."""
        return self._read(select(ENTRIES).where(ENTRIES.c.engine == engine).order_by(ENTRIES.c.seq))

    def of_kind(self, kind: str) -> list[Entry]:
        """Return the entries of a kind."""
        found = self._read(select(ENTRIES).where(ENTRIES.c.kind == kind).order_by(ENTRIES.c.seq))
        return [one for one in found if one.kind == kind]

    def digest_of_visit(self, visit: str) -> str:
        """Return a digest over the entries of a visit as they stand in the table, unread."""
        made = hashlib.blake2b(digest_size=20)
        chosen = select(ENTRIES.c.id, ENTRIES.c.kind, ENTRIES.c.content).where(ENTRIES.c.visit == visit)
        with self.database.reading() as connection:
            for row in connection.execute(chosen.order_by(ENTRIES.c.seq)):
                made.update(repr(tuple(row)).encode("utf-8", "replace"))
        return made.hexdigest()

    def every(self, newest: int | None = None) -> Iterator[Entry]:
        """Yield all entries by identifier, without holding them all; those of rows after ``newest`` left out."""
        some = true() if newest is None else ENTRIES.c.seq <= newest
        with self.database.reading() as connection:
            last = ""
            while True:
                chosen = select(ENTRIES).where(ENTRIES.c.id > last, some).order_by(ENTRIES.c.id).limit(5_000)
                rows = connection.execute(chosen).all()
                if not rows:
                    return
                yield from (entry_of(row) for row in rows)
                last = rows[-1].id

    def identifiers(self) -> frozenset[str]:
        """Return the identifiers of all entries."""
        with self.database.reading() as connection:
            return frozenset(connection.execute(select(ENTRIES.c.id)).scalars())

    def is_visit(self, identifier: str) -> bool:
        """Tell whether any entry belongs to a visit of this identifier."""
        with self.database.reading() as connection:
            return (
                connection.execute(select(ENTRIES.c.id).where(ENTRIES.c.visit == identifier).limit(1)).first()
                is not None
            )

    def bones(self, kinds: Sequence[str], engines: Sequence[str] | None = None) -> list[Entry]:
        """Return the entries of some kinds, of some engines or of all, with all that corrects or voids them.

        What these add up to in each group is what all entries of the group add up to, as far as these kinds go. A
        seal comes without its long list, which is read when somebody asks for it.
        """
        some = ENTRIES.c.kind.in_(kinds)
        mine = true() if engines is None else ENTRIES.c.engine.in_(engines)
        other = ENTRIES.alias()
        with self.database.reading() as connection:
            rows = list(connection.execute(self._lean().where(or_(some, ENTRIES.c.kind == "resolution"), mine)))
            correcting = (
                self._lean()
                .select_from(ENTRIES.join(other, ENTRIES.c.corrects == other.c.id))
                .where(other.c.kind.in_([*kinds, "resolution"]), ENTRIES.c.corrects.is_not(None), mine)
            )
            there = {row.id: row for row in rows}
            new = [row for row in connection.execute(correcting) if row.id not in there]
            while new:  # what takes back a correction, and so on
                there |= {row.id: row for row in new}
                names = [row.id for row in new]
                new = [
                    row
                    for at in range(0, len(names), MANY)
                    for row in connection.execute(self._lean().where(ENTRIES.c.corrects.in_(names[at : at + MANY])))
                    if row.id not in there
                ]
        return [self._of_lean(row) for row in sorted(there.values(), key=lambda one: one.seq)]

    def holding(self, engines: Sequence[str], kind: str, parts: Sequence[str]) -> list[Entry]:
        """Return the entries of engines of a kind whose content holds one of some texts, with what corrects them."""
        like = or_(*(ENTRIES.c.content.contains(part, autoescape=True) for part in parts))
        chosen = select(ENTRIES).where(ENTRIES.c.engine.in_(engines), ENTRIES.c.kind == kind, like)
        found: dict[str, Entry] = {}
        with self.database.reading() as connection:
            new = [entry_of(row) for row in connection.execute(chosen)]
            while new:
                found |= {one.id: one for one in new}
                names = [one.id for one in new]
                new = [
                    entry_of(row)
                    for at in range(0, len(names), MANY)
                    for row in connection.execute(select(ENTRIES).where(ENTRIES.c.corrects.in_(names[at : at + MANY])))
                    if row.id not in found
                ]
        return sorted(found.values(), key=lambda one: one.id)

    def clash_places(self) -> frozenset[Place]:
        """Return the engines and visits in which something may clash; few besides those where something does."""
        return clash_places(self)

    def _lean(self) -> Any:
        """Return the statement that reads rows without the content of seals."""
        content = case((ENTRIES.c.kind == "sealed", null()), else_=ENTRIES.c.content).label("content")
        return select(*(one for one in ENTRIES.c if one.name != "content"), content)

    def _of_lean(self, row: Row[Any]) -> Entry:
        if row.content is not None or row.kind != "sealed":
            return entry_of(row)
        return Entry(
            id=_text(row.id), at=_text(row.at), who=_text(row.who), device=_text(row.device), engine=row.engine,
            visit=row.visit, kind="sealed", content=Later(self, row.id), corrects=row.corrects,
        )  # fmt: skip

    def _read(self, chosen: Any) -> list[Entry]:
        with self.database.reading() as connection:
            return [entry_of(row) for row in connection.execute(chosen)]


class Later(Mapping[str, Any]):
    """The content of a seal that is read when it is asked for."""

    __slots__ = ("_content", "_id", "_rows")

    def __init__(self, rows: Rows, identifier: str) -> None:
        self._rows, self._id = rows, identifier
        self._content: Mapping[str, Any] | None = None

    def _there(self) -> Mapping[str, Any]:
        if self._content is None:
            found = self._rows.one(self._id)
            self._content = {} if found is None else found.content
        return self._content

    def __getitem__(self, name: str) -> Any:
        return self._there()[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._there())

    def __len__(self) -> int:
        return len(self._there())


def entry_of(row: Row[Any], *, strict: bool = False) -> Entry:
    """Return the entry of a row; one that cannot be read becomes the kind ``damaged`` and hinders nothing else.

    A flipped bit can leave sound JSON with a field that is none. ``strict`` is for verification: it takes the content
    as it stands, and holds it damaged where its text is not in canonical form, as it was written.
    """
    kind, engine, visit, corrects = _text(row.kind), row.engine, row.visit, row.corrects
    try:
        content = json.loads(row.content)
        sound = isinstance(content, dict) and (
            canonical(content).decode() == row.content if strict else readable(kind, content)
        )
    except (ValueError, TypeError, RecursionError):  # also what RFC 8785 cannot write
        sound = False
    if not sound:
        kind, content = "damaged", {"text": _text(row.content)}
    return Entry(
        id=_text(row.id), at=_text(row.at), who=_text(row.who), device=_text(row.device), kind=kind, content=content,
        engine=None if engine is None else _text(engine), visit=None if visit is None else _text(visit),
        corrects=None if corrects is None else _text(corrects),
    )  # fmt: skip


def _text(value: Any) -> str:
    """Return a value of the database as text; a damaged file can give other types where text was written."""
    return value if isinstance(value, str) else repr(value)
