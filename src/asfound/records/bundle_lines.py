"""The entries of a bundle, gone through line by line: what is held is one part of them and an index on disk.

A bundle lists its entries by identifier. Three passes: the digest of all; each line, where its links lead and whether
every seal holds; the writing, in which the digest is reckoned again, so that what is written is what was checked.
"""

from __future__ import annotations

import hashlib
import json
import re
import sqlite3
from contextlib import closing, contextmanager
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any, NoReturn

from pydantic import TypeAdapter, ValidationError

from asfound.errors import InputError, RecordError
from asfound.records import kinds
from asfound.records.bundle import LINES
from asfound.records.entries import Entry, canonical, is_id
from asfound.records.export import Link, link_fault
from asfound.records.kind_base import Time
from asfound.records.seal import seal_against
from asfound.records.store import check_place

if TYPE_CHECKING:
    import zipfile
    from collections.abc import Iterator, Mapping, Sequence
    from typing import IO

    from asfound.records.store import Records

LARGEST_ENTRY = 16 * 1024**2
"""A seal over a visit of 50,000 entries is not longer. [byte]"""
PART = 1000
"""Entries that are held at once."""
CHUNK = 1 << 20
_LOCAL_HEAD = 30
"""Bytes of a member's own head before its name; APPNOTE 4.3.7 of the archive's open specification."""
_KIND = re.compile(r"[a-z][a-z0-9_]{0,39}")
_NAMES = tuple(field.name for field in fields(Entry))
_TIME: TypeAdapter[str] = TypeAdapter(Time)
NOTHING, COPY = "Nothing was taken in.", "Copy the bundle again."


def refuse(given: str, because: str, *, allowed: str = "", try_next: str = "") -> NoReturn:
    """Refuse the bundle, saying that nothing was changed."""
    raise InputError("bundle", given[:100], because, allowed=allowed, try_next=f"{NOTHING} {try_next}".strip())


@dataclass(frozen=True, slots=True)
class Seen:
    """What the entries of a bundle are, after each was checked."""

    number: int
    seals: int
    unknown_kinds: tuple[str, ...]


class Lines:
    """The entries of an open bundle."""

    def __init__(self, archive: zipfile.ZipFile, member: zipfile.ZipInfo, file: IO[bytes], listed: Mapping[str, Any]):
        self.archive, self.member, self.file, self.listed = archive, member, file, listed

    def whole(self) -> None:
        """Refuse entries that are not those of the manifest."""
        made, length, number, last = hashlib.sha256(), 0, 0, b"\n"
        with self.archive.open(self.member) as lines:
            while some := lines.read(CHUNK):
                made.update(some)
                length, number, last = length + len(some), number + some.count(b"\n"), some[-1:]
        if made.hexdigest() != self.listed["sha256"] or length != self.listed["bytes"]:
            refuse(
                LINES, "is not what the manifest lists: it was damaged or altered", try_next="Copy the bundle again."
            )
        if last != b"\n" or number != self.listed["number"]:
            refuse(LINES, "does not have the number of lines that the manifest says")

    def parts(self) -> Iterator[list[tuple[Entry, int, int]]]:
        """Yield the entries in parts, each with where its line begins and how long it is.

        The digest is reckoned along; where it is another at the end, the file was changed meanwhile.
        """
        made, at, before, some = hashlib.sha256(), 0, "", []
        with self.archive.open(self.member) as lines:
            number = 0
            while line := lines.readline(LARGEST_ENTRY + 2):
                number += 1
                made.update(line)
                entry = _entry(line.removesuffix(b"\n"), number)
                if entry.id <= before:
                    refuse(f"line {number}", f"of {LINES} is out of order, or in it twice")
                some.append((entry, at, len(line) - 1))
                at, before = at + len(line), entry.id
                if len(some) == PART:
                    yield some
                    some = []
        if some:
            yield some
        if made.hexdigest() != self.listed["sha256"]:
            refuse(LINES, "was changed while it was read", try_next=COPY)

    def entry_at(self, at: int, length: int) -> Entry:
        """Return the entry of one line; members are stored as they are, so its place in the file is known."""
        self.file.seek(self.member.header_offset)
        head = self.file.read(_LOCAL_HEAD)
        name, extra = (int.from_bytes(head[low : low + 2], "little") for low in (26, 28))
        self.file.seek(self.member.header_offset + _LOCAL_HEAD + name + extra + at)
        return Entry(**json.loads(self.file.read(length)))

    def checked(self, records: Records) -> Seen:
        """Check every entry: its form, its links, what it says beside what is here, and the seals."""
        unknown: set[str] = set()
        number = 0
        with _index() as index:
            seals: list[tuple[int, int]] = []
            for part in self.parts():
                index.executemany(
                    "INSERT INTO lines VALUES (?, ?, ?, ?, ?, ?, ?)",
                    [(one.id, one.kind, one.engine, one.visit, one.corrects, at, size) for one, at, size in part],
                )
                entries = [one for one, _, _ in part]
                self._check_links(records, index, entries)
                records.contradicts(entries)
                number += len(part)
                seals += [(at, size) for one, at, size in part if one.kind == "sealed"]
                unknown |= {one.kind for one in entries if one.kind not in kinds.KINDS}
            for at, size in seals:
                self._check_seal(records, index, self.entry_at(at, size))
        return Seen(number, len(seals), tuple(sorted(unknown)))

    def _check_links(self, records: Records, index: sqlite3.Connection, entries: Sequence[Entry]) -> None:
        """Refuse links that lead nowhere; what an entry names comes before it, in the bundle or here."""
        targets = {str(to) for one in entries for to in (one.engine, one.visit, one.corrects) if to is not None}
        there = {one: Link(*link) for one, *link in _listed(index, targets, "id, kind, engine, visit, corrects")}
        elsewhere = records.stored_ones(sorted(targets - there.keys()))
        there |= {one.id: Link(one.kind, one.engine, one.visit, one.corrects) for one in elsewhere.values()}
        for one in entries:
            fault = link_fault(one, there)
            if fault:
                raise RecordError(fault)

    def _check_seal(self, records: Records, index: sqlite3.Connection, sealed: Entry) -> None:
        """Refuse a bundle in which something under a seal is changed or missing."""
        listed = {str(one["id"]) for part in ("context", "entries") for one in sealed.content.get(part, ())}
        arriving = {one: self.entry_at(at, size) for one, at, size in _listed(index, listed, "id, at, size")}
        here = records.stored_ones(sorted(listed - arriving.keys()))
        faults = seal_against(sealed, {**here, **arriving})
        if faults:
            raise RecordError(
                f"The seal of {sealed.at} by {sealed.who} in this bundle does not hold: {faults[0].says} {NOTHING} "
                "Ask for the bundle again, and verify that visit where it comes from."
            )


@contextmanager
def _index() -> Iterator[sqlite3.Connection]:
    """Give an index of lines that SQLite keeps in a file of its own once it is large, and takes away by itself."""
    with closing(sqlite3.connect("")) as index:
        index.execute(
            "CREATE TABLE lines (id TEXT PRIMARY KEY, kind TEXT, engine TEXT, visit TEXT, corrects TEXT, at INTEGER, "
            "size INTEGER) WITHOUT ROWID"
        )
        yield index


def _listed(index: sqlite3.Connection, ids: set[str], columns: str) -> Iterator[tuple[Any, ...]]:
    """Yield columns of the lines of some identifiers."""
    ordered = sorted(ids)
    for low in range(0, len(ordered), 500):
        some = ordered[low : low + 500]
        marks = ", ".join("?" * len(some))
        yield from index.execute(f"SELECT {columns} FROM lines WHERE id IN ({marks})", some)  # no input


def _entry(line: bytes, number: int) -> Entry:
    """Return the entry of a line."""
    where = f"line {number} of {LINES}"
    if len(line) > LARGEST_ENTRY:
        refuse(where, f"has more than {LARGEST_ENTRY} bytes", allowed=f"{LARGEST_ENTRY} bytes")
    try:
        made = json.loads(line, parse_constant=no_constant)
        if not isinstance(made, dict) or set(made) != set(_NAMES):
            raise ValueError("its fields are not those of an entry")
        if canonical(made) != line:
            raise ValueError("it is not in canonical form")
        entry = Entry(**made)
        _check_entry(entry)
    except (ValueError, RecursionError, TypeError) as fault:  # InputError too: all say the same of the line
        refuse(where, f"is no entry that can be kept: {str(fault)[:300]}")
    return entry


def _check_entry(entry: Entry) -> None:
    """Refuse an entry that this record could not hold or never show."""
    links = [one for one in (entry.engine, entry.visit, entry.corrects) if one is not None]
    if not all(isinstance(one, str) and is_id(one) for one in (entry.id, *links)):
        raise ValueError("an identifier in it is none")
    if not isinstance(entry.kind, str) or not _KIND.fullmatch(entry.kind) or entry.kind == "damaged":
        raise ValueError("its kind is no word that a kind can have")
    if not isinstance(entry.content, dict):
        raise ValueError("its content is no object")
    try:
        _TIME.validate_python(entry.at, strict=True)
    except ValidationError:
        raise ValueError("its time is none") from None
    for said in (entry.who, entry.device):
        if not isinstance(said, str):
            raise ValueError("who or device is no text")
        kinds.check_who(said)
    if entry.kind not in kinds.KINDS:
        return
    if not kinds.readable(entry.kind, dict(entry.content)):
        kinds.check(entry.kind, dict(entry.content))  # says which field
        raise ValueError(f"its content is not that of a {entry.kind}")
    check_place(entry.kind, entry.engine, entry.visit)


def no_constant(name: str) -> float:
    """Refuse NaN and infinities, which JSON does not have."""
    raise ValueError(f"{name} is no number of JSON")
