"""Taking in a bundle: everything in it is checked before anything is kept, and the entries are kept all or none.

A bundle comes from elsewhere and is trusted in nothing: neither names, sizes and forms of the archive's members, nor
what the manifest says, nor an entry. A kind of entry that this program does not know is kept as it is. Entries are gone
through in parts (`bundle_lines`), so that a home of any size comes in within the same memory.
"""

from __future__ import annotations

import json
import stat
import zipfile
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from asfound.errors import InputError
from asfound.records.bundle import FILES, FORM, LINES, MANIFEST
from asfound.records.bundle_lines import Lines, no_constant, refuse
from asfound.records.entries import sha256
from asfound.records.files import LARGEST as LARGEST_FILE
from asfound.records.files import is_digest

if TYPE_CHECKING:
    from typing import IO

    from asfound.records.store import Records

LARGEST = 4 * 1024**3
"""Of a whole bundle. [byte]"""
LARGEST_LINES = 1024**3
LARGEST_MANIFEST = 64 * 1024**2
MOST_MEMBERS = 200_000


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
        refuse(f"{size} bytes", "is too large", allowed=f"{LARGEST >> 30} GB")
    try:
        with zipfile.ZipFile(file) as archive:
            members = _members(archive, size)
            manifest = _manifest(archive, members)
            lines = Lines(archive, members[LINES], file, manifest["entries"])
            lines.whole()
            with records.steady():
                contents = _files(archive, members, manifest)
                seen = lines.checked(records)
            for digest in contents:
                records.files.put(archive.read(members[FILES + digest]))
            arrived = records.merge_parts([one for one, _, _ in part] for part in lines.parts())
    except (zipfile.BadZipFile, NotImplementedError, EOFError, ValueError, OverflowError, IndexError) as fault:
        if isinstance(fault, InputError):
            raise
        refuse("", f"cannot be read as a bundle ({str(fault)[:100]})", try_next="Write it again, or copy it again.")
    held = records.files.digests()
    named = {str(one) for one in manifest["missing"]}
    return TakenIn(
        new=arrived.new,
        known=seen.number - arrived.new,
        files=len(contents),
        missing=tuple(sorted(one for one in named if one not in held)),
        engines=arrived.engines,
        visits=arrived.visits,
        seals=seen.seals,
        unknown_kinds=seen.unknown_kinds,
    )


def _members(archive: zipfile.ZipFile, size: int) -> dict[str, zipfile.ZipInfo]:
    """Return the members by name after checking that each is a plain, stored file of the layout."""
    listed = archive.infolist()
    if len(listed) > MOST_MEMBERS:
        refuse(f"{len(listed)} members", "are too many", allowed=f"{MOST_MEMBERS}")
    found: dict[str, zipfile.ZipInfo] = {}
    total = 0
    for one in listed:
        name = one.orig_filename
        of_file = name.startswith(FILES) and is_digest(name.removeprefix(FILES))
        if name not in (MANIFEST, LINES) and not of_file:
            refuse(name, "has no place in a bundle", allowed=f"{MANIFEST}, {LINES}, {FILES}<sha256>")
        if name in found:
            refuse(name, "is in it twice")
        mode = one.external_attr >> 16
        if mode and stat.S_IFMT(mode) not in (0, stat.S_IFREG):
            refuse(name, "is a link or a device, not a file")
        if one.flag_bits & 0x1:
            refuse(name, "is encrypted", try_next="Write the bundle without a password.")
        if one.compress_type != zipfile.ZIP_STORED or one.file_size != one.compress_size:
            refuse(name, "is compressed, and no member of a bundle is", try_next="Take it as it was written.")
        most = {MANIFEST: LARGEST_MANIFEST, LINES: LARGEST_LINES}.get(name, LARGEST_FILE)
        if one.file_size > most:
            refuse(name, f"has {one.file_size} bytes", allowed=f"{most} bytes")
        total += one.file_size
        found[name] = one
    if total > size:
        refuse("", "holds members that lie over each other")
    for name in (MANIFEST, LINES):
        if name not in found:
            refuse(name, "is not in it", try_next="This is another kind of file; a visit's JSON goes to bring-in.")
    return found


def _manifest(archive: zipfile.ZipFile, members: dict[str, zipfile.ZipInfo]) -> dict[str, Any]:
    """Return the manifest after checking its form."""
    try:
        made = json.loads(archive.read(members[MANIFEST]), parse_constant=no_constant)
        if not isinstance(made, dict):
            raise ValueError("it is no object")
        if made.get("form") != FORM:
            refuse(str(made.get("form")), "is the form of another program or a newer one", allowed=FORM)
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
        refuse(MANIFEST, f"cannot be read ({str(fault)[:100]})")
    if not sound:
        refuse(MANIFEST, "does not say digests and sizes as it should")
    return made


def _files(archive: zipfile.ZipFile, members: dict[str, zipfile.ZipInfo], manifest: dict[str, Any]) -> tuple[str, ...]:
    """Return the digests of the files after reading each and comparing it."""
    listed = {str(one["sha256"]): int(one["bytes"]) for one in manifest["files"]}
    there = {name.removeprefix(FILES) for name in members if name.startswith(FILES)}
    if there != set(listed):
        odd = sorted(there ^ set(listed))[0]
        refuse(FILES + odd, "is in the archive or in the manifest, and not in both")
    for digest, size in listed.items():
        content = archive.read(members[FILES + digest])
        if sha256(content) != digest or len(content) != size:
            refuse(FILES + digest, "does not have the content of that digest: it was damaged or altered")
    return tuple(sorted(listed))
