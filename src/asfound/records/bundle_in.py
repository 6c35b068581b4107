"""Taking in a bundle: everything in it is checked before anything is kept, and the entries are kept all or none.

A bundle comes from elsewhere and is trusted in nothing: neither names, sizes and forms of the archive's members, nor
what the manifest says, nor an entry. A kind of entry that this program does not know is kept as it is.
"""

from __future__ import annotations

import json
import re
import stat
import zipfile
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any, NoReturn

from pydantic import TypeAdapter, ValidationError

from asfound.errors import InputError, RecordError
from asfound.records import kinds
from asfound.records.bundle import FILES, FORM, LINES, MANIFEST
from asfound.records.entries import Entry, canonical, is_id, sha256
from asfound.records.export import check_links
from asfound.records.files import LARGEST as LARGEST_FILE
from asfound.records.files import is_digest
from asfound.records.kind_base import Time
from asfound.records.seal import seal_against
from asfound.records.store import check_place

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import IO

    from asfound.records.store import Records

LARGEST = 4 * 1024**3
"""Of a whole bundle. [byte]"""
LARGEST_LINES = 1024**3
LARGEST_MANIFEST = 64 * 1024**2
LARGEST_ENTRY = 16 * 1024**2
"""A seal over a visit of 50,000 entries is not longer. [byte]"""
MOST_MEMBERS = 200_000
_KIND = re.compile(r"[a-z][a-z0-9_]{0,39}")
_NAMES = tuple(field.name for field in fields(Entry))
_TIME: TypeAdapter[str] = TypeAdapter(Time)
NOTHING = "Nothing was taken in."


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenIn:
    """What taking in a bundle brought."""

    new: int
    """Entries that were not here before."""
    known: int
    files: int
    """Files that were not here before."""
    missing: tuple[str, ...]
    """Files that entries of the bundle name, and that neither it nor this home has."""
    engines: tuple[str, ...]
    """Identifiers of the engines that something new came of."""
    visits: tuple[str, ...]
    """Likewise of the visits."""
    seals: int
    """Seals that were checked; all hold."""
    unknown_kinds: tuple[str, ...]
    """Kinds of entry that this program does not know; they are kept as they are."""


def take_in(records: Records, file: IO[bytes]) -> TakenIn:
    """Take in a bundle: the union of its entries and those here; twice changes nothing.

    Raises
    ------
    InputError
        It is no bundle, or something in it is not what it says.
    RecordError
        It contradicts an entry or a seal, or what it stands on is missing. In all cases nothing was changed.
    """
    file.seek(0, 2)
    size = file.tell()
    if size > LARGEST:
        _refuse(f"{size} bytes", "is too large", allowed=f"{LARGEST >> 30} GB")
    try:
        with zipfile.ZipFile(file) as archive:
            members = _members(archive, size)
            manifest = _manifest(archive, members)
            entries = _entries(archive, members, manifest)
            contents = _files(archive, members, manifest)
            with records.steady():
                check_links(records, entries)
                _check_seals(records, entries)
                records.contradicts(entries)
                before = records.rows.identifiers()
            for digest in contents:
                records.files.put(archive.read(members[FILES + digest]))
    except (zipfile.BadZipFile, NotImplementedError, EOFError, ValueError, OverflowError, IndexError) as fault:
        if isinstance(fault, InputError):
            raise
        _refuse("", f"cannot be read as a bundle ({str(fault)[:100]})", try_next="Write it again, or copy it again.")
    new = records.merge(entries)
    arrived = [one for one in entries if one.id not in before]
    held = records.files.digests()
    named = {str(one) for one in manifest["missing"]}
    return TakenIn(
        new=new,
        known=len(entries) - new,
        files=len(contents),
        missing=tuple(sorted(one for one in named if one not in held)),
        engines=tuple(dict.fromkeys(one.engine for one in arrived if one.engine)),
        visits=tuple(dict.fromkeys(one.visit for one in arrived if one.visit)),
        seals=sum(one.kind == "sealed" for one in entries),
        unknown_kinds=tuple(sorted({one.kind for one in entries if one.kind not in kinds.KINDS})),
    )


def _refuse(given: str, because: str, *, allowed: str = "", try_next: str = "") -> NoReturn:
    """Refuse the bundle, saying that nothing was changed."""
    raise InputError("bundle", given[:100], because, allowed=allowed, try_next=f"{NOTHING} {try_next}".strip())


def _members(archive: zipfile.ZipFile, size: int) -> dict[str, zipfile.ZipInfo]:
    """Return the members by name after checking that each is a plain, stored file of the layout."""
    listed = archive.infolist()
    if len(listed) > MOST_MEMBERS:
        _refuse(f"{len(listed)} members", "are too many", allowed=f"{MOST_MEMBERS}")
    found: dict[str, zipfile.ZipInfo] = {}
    total = 0
    for one in listed:
        name = one.orig_filename
        of_file = name.startswith(FILES) and is_digest(name.removeprefix(FILES))
        if name not in (MANIFEST, LINES) and not of_file:
            _refuse(name, "has no place in a bundle", allowed=f"{MANIFEST}, {LINES}, {FILES}<sha256>")
        if name in found:
            _refuse(name, "is in it twice")
        mode = one.external_attr >> 16
        if mode and stat.S_IFMT(mode) not in (0, stat.S_IFREG):
            _refuse(name, "is a link or a device, not a file")
        if one.flag_bits & 0x1:
            _refuse(name, "is encrypted", try_next="Write the bundle without a password.")
        if one.compress_type != zipfile.ZIP_STORED or one.file_size != one.compress_size:
            _refuse(name, "is compressed, and no member of a bundle is", try_next="Take it as it was written.")
        most = {MANIFEST: LARGEST_MANIFEST, LINES: LARGEST_LINES}.get(name, LARGEST_FILE)
        if one.file_size > most:
            _refuse(name, f"has {one.file_size} bytes", allowed=f"{most} bytes")
        total += one.file_size
        found[name] = one
    if total > size:
        _refuse("", "holds members that lie over each other")
    for name in (MANIFEST, LINES):
        if name not in found:
            _refuse(name, "is not in it", try_next="This is another kind of file; a visit's JSON goes to bring-in.")
    return found


def _manifest(archive: zipfile.ZipFile, members: dict[str, zipfile.ZipInfo]) -> dict[str, Any]:
    """Return the manifest after checking its form."""
    try:
        made = json.loads(archive.read(members[MANIFEST]), parse_constant=_no_constant)
        if not isinstance(made, dict):
            raise ValueError("it is no object")
        if made.get("form") != FORM:
            _refuse(str(made.get("form")), "is the form of another program or a newer one", allowed=FORM)
        entries, files, missing = made["entries"], made["files"], made["missing"]
        sound = (
            isinstance(entries["number"], int)
            and isinstance(entries["bytes"], int)
            and is_digest(str(entries["sha256"]))
            and all(is_digest(str(one["sha256"])) and isinstance(one["bytes"], int) for one in files)
            and isinstance(missing, list)
            and all(isinstance(one, str) and is_digest(one) for one in missing)
        )
    except (ValueError, RecursionError, KeyError, TypeError) as fault:
        if isinstance(fault, InputError):
            raise
        _refuse(MANIFEST, f"cannot be read ({str(fault)[:100]})")
    if not sound:
        _refuse(MANIFEST, "does not say digests and sizes as it should")
    return made


def _entries(archive: zipfile.ZipFile, members: dict[str, zipfile.ZipInfo], manifest: dict[str, Any]) -> list[Entry]:
    """Return the entries after checking the digest of all and the form of each."""
    data = archive.read(members[LINES])
    if sha256(data) != manifest["entries"]["sha256"] or len(data) != manifest["entries"]["bytes"]:
        _refuse(LINES, "is not what the manifest lists: it was damaged or altered", try_next="Copy the bundle again.")
    lines = data.split(b"\n")
    if lines.pop() or len(lines) != manifest["entries"]["number"]:
        _refuse(LINES, "does not have the number of lines that the manifest says")
    found: list[Entry] = []
    for number, line in enumerate(lines, 1):
        entry = _entry(line, number)
        if found and entry.id <= found[-1].id:
            _refuse(f"line {number}", f"of {LINES} is out of order, or in it twice")
        found.append(entry)
    return found


def _entry(line: bytes, number: int) -> Entry:
    """Return the entry of a line."""
    where = f"line {number} of {LINES}"
    if len(line) > LARGEST_ENTRY:
        _refuse(where, f"has {len(line)} bytes", allowed=f"{LARGEST_ENTRY} bytes")
    try:
        made = json.loads(line, parse_constant=_no_constant)
        if not isinstance(made, dict) or set(made) != set(_NAMES):
            raise ValueError("its fields are not those of an entry")
        if canonical(made) != line:
            raise ValueError("it is not in canonical form")
        entry = Entry(**made)
        _check_entry(entry)
    except (ValueError, RecursionError, TypeError) as fault:  # InputError too: all say the same of the line
        _refuse(where, f"is no entry that can be kept: {str(fault)[:300]}")
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


def _files(archive: zipfile.ZipFile, members: dict[str, zipfile.ZipInfo], manifest: dict[str, Any]) -> tuple[str, ...]:
    """Return the digests of the files after reading each and comparing it."""
    listed = {str(one["sha256"]): int(one["bytes"]) for one in manifest["files"]}
    there = {name.removeprefix(FILES) for name in members if name.startswith(FILES)}
    if there != set(listed):
        odd = sorted(there ^ set(listed))[0]
        _refuse(FILES + odd, "is in the archive or in the manifest, and not in both")
    for digest, size in listed.items():
        content = archive.read(members[FILES + digest])
        if sha256(content) != digest or len(content) != size:
            _refuse(FILES + digest, "does not have the content of that digest: it was damaged or altered")
    return tuple(sorted(listed))


def _check_seals(records: Records, entries: Sequence[Entry]) -> None:
    """Refuse a bundle in which something under a seal is changed or missing."""
    arriving = {one.id: one for one in entries}
    for sealed in (one for one in entries if one.kind == "sealed"):
        listed = [str(one["id"]) for part in ("context", "entries") for one in sealed.content.get(part, ())]
        here = records.stored_ones([one for one in listed if one not in arriving])
        faults = seal_against(sealed, {**here, **{one: arriving[one] for one in listed if one in arriving}})
        if faults:
            raise RecordError(
                f"The seal of {sealed.at} by {sealed.who} in this bundle does not hold: {faults[0].says} {NOTHING} "
                "Ask for the bundle again, and verify that visit where it comes from."
            )


def _no_constant(name: str) -> float:
    """Refuse NaN and infinities, which JSON does not have."""
    raise ValueError(f"{name} is no number of JSON")
