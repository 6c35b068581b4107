"""A bundle: one file that takes a visit, an engine, a site or a whole home to another laptop or into the office.

Layout, form ``asfound bundle 1``: a zip archive whose members are stored, not compressed, in this order::

    manifest.json     form, scope, digest and number of entries, files, seals; canonical JSON (RFC 8785)
    entries.jsonl     one entry a line in canonical JSON, in the order of their identifiers
    files/<sha256>    photos and files, in the order of their digests

No time of making and no name of the maker stands in it, so two laptops that hold the same entries write the same bytes.
Members that are stored cannot grow when they are unpacked. ``bundle_in`` takes one in.
"""

from __future__ import annotations

import hashlib
import io
import re
import zipfile
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from asfound.errors import RecordError, UnknownNameError
from asfound.records.entries import Entry, canonical
from asfound.records.export import all_files, context_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence
    from typing import IO

    from asfound.records.store import Records

FORM = "asfound bundle 1"
MANIFEST, LINES, FILES = "manifest.json", "entries.jsonl", "files/"
_DIGEST = re.compile(rb'"([0-9a-f]{64})"')
_AT = (1980, 1, 1, 0, 0, 0)
"""The time of every member: the earliest that the form of the archive can hold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bundled:
    """What a bundle that was written holds."""

    what: str
    """``home``, or ``parts``."""
    names: tuple[str, ...]
    """Names of the parts: engines, sites, visits."""
    entries: int
    files: int
    missing: tuple[str, ...]
    """Digests of files that entries name and this home does not have."""
    seals: int


def write_bundle(records: Records, out: IO[bytes], names: Sequence[str] = ()) -> Bundled:
    """Write a bundle of the parts that are named, or of the whole home.

    Parameters
    ----------
    records : Records
    out : binary file
        Written from its beginning on.
    names : sequence of str
        Each the tag or identifier of an engine, the name of a site, or the name or identifier of a visit; none: the
        whole home.

    Raises
    ------
    UnknownNameError
        Nothing is called so.
    RecordError
        An entry or a file of it is damaged.
    """
    with records.steady():  # of one moment, and asked once
        chosen = chosen_entries(records, names)
        listed = _listed(records, chosen())
        sizes: dict[str, int] = {}
        for digest in listed.digests:
            try:
                sizes[digest] = len(records.attachment(digest))
            except UnknownNameError:
                continue
    missing = tuple(one for one in listed.digests if one not in sizes)
    what = "parts" if names else "home"
    manifest: dict[str, Any] = {
        "form": FORM,
        "scope": {"what": what, "names": sorted(names)},
        "entries": {"number": listed.number, "bytes": listed.bytes, "sha256": listed.sha256},
        "files": [{"sha256": digest, "bytes": size} for digest, size in sizes.items()],
        "missing": list(missing),
        "seals": listed.seals,
    }
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as archive:
        archive.writestr(_member(MANIFEST), canonical(manifest))
        lines = _member(LINES)
        lines.file_size = listed.bytes
        with archive.open(lines, "w") as member:
            for one in chosen():
                member.write(_line(one))
        for digest in sizes:
            archive.writestr(_member(FILES + digest), records.attachment(digest))
    return Bundled(
        what=what, names=tuple(sorted(names)), entries=listed.number, files=len(sizes), missing=missing,
        seals=len(listed.seals),
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class _Listed:
    """What the manifest says of the entries."""

    number: int
    bytes: int
    sha256: str
    digests: tuple[str, ...]
    """Of the files that entries name, here or not."""
    seals: list[dict[str, Any]]


def _listed(records: Records, entries: Iterable[Entry]) -> _Listed:
    """Return what the manifest says of entries, which are gone through one by one."""
    made, number, length = hashlib.sha256(), 0, 0
    held = records.files.digests()
    digests: set[str] = set()
    seals = []
    for one in entries:
        if one.kind == "damaged":
            raise RecordError(f"Entry {one.id} is damaged, so no bundle can be made of it. Fetch a backup.")
        line = _line(one)
        made.update(line)
        number, length = number + 1, length + len(line)
        digests.update(all_files((one,)))
        digests.update(held.intersection(found.decode() for found in _DIGEST.findall(line)))  # of a kind not known here
        if one.kind == "sealed":
            seals.append({"visit": one.visit, "id": one.id, "digest": one.content["digest"]})
    return _Listed(number=number, bytes=length, sha256=made.hexdigest(), digests=tuple(sorted(digests)), seals=seals)


def _line(entry: Entry) -> bytes:
    return canonical(entry.as_dict()) + b"\n"


def bundle_bytes(records: Records, names: Sequence[str] = ()) -> bytes:
    """Return a bundle as bytes; see ``write_bundle``."""
    out = io.BytesIO()
    write_bundle(records, out, names)
    return out.getvalue()


def chosen_entries(records: Records, names: Sequence[str]) -> Callable[[], Iterable[Entry]]:
    """Return what gives, each time, the entries of the named parts with all that they stand on, by identifier.

    Those of the whole home, where nothing is named, are read as they are gone through; what is written meanwhile is not
    among them.
    """
    if not names:
        newest = records.newest
        return lambda: records.rows.every(newest)
    found: dict[str, Entry] = {}
    for name in names:
        for engine, visit in _named(records, name):
            entries = records.entries(visit=visit) if visit else records.entries(engine=engine)
            found |= {one.id: one for one in (*entries, *context_of(records, engine, entries))}
    return lambda: (found[identifier] for identifier in sorted(found))


def _named(records: Records, name: str) -> Iterable[tuple[str, str | None]]:
    """Return (engine, visit) of what a name means; visit None: the engine with all its visits."""
    sites = [one for one in records.sites().values() if name in (one.id, one.name)]
    engines = records.engines()
    if not sites:  # a site may be written in any case
        sites = [one for one in records.sites().values() if name.casefold() == one.name.casefold()]
    tagged = [one for one in engines if name == one.id or name.casefold() == one.tag.casefold()]
    if tagged:
        return [(records.engine(name).id, None)]
    if sites:
        ids = {one.id for one in sites}
        return [(one.id, None) for one in engines if one.site is not None and one.site.id in ids]
    visits = records.visits()
    if any(name in (one.id, one.name) for one in visits):
        found = records.visit(name)
        return [(found.engine, found.id)]
    known = [one.tag for one in engines] + [one.name for one in records.sites().values()]
    raise UnknownNameError("engine, site or visit", name, [*known, *(one.name for one in visits)])


def _member(name: str) -> zipfile.ZipInfo:
    """Return a member that is the same on every machine."""
    made = zipfile.ZipInfo(name, date_time=_AT)
    made.create_system = 3  # a plain file with its rights, whatever the system that writes it
    made.external_attr = 0o100644 << 16
    return made
