"""Closing a visit so that any later change is found, and finding it.

A seal lists the SHA-256 of the canonical form (RFC 8785) of every entry of the visit in order of identifier, of
the entries that it stands on (site, engine, limits, instruments), and of every attachment; it names the seal
before it on the same engine; its own digest is over all of that. With a key in the home it is signed (Ed25519).

What a seal proves: who holds the digest (printed in the report, or in the next seal) can tell that not a byte was
changed since. Without a signature, whoever can write to the file could make a new seal, not one with the same digest.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from asfound.errors import InputError, RecordError, UnknownNameError
from asfound.records import kinds, office
from asfound.records.entries import Entry, canonical, sha256
from asfound.records.keys import sign, signature_holds
from asfound.records.sealed_look import look_for_seal

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sqlalchemy import Connection

    from asfound.records.fold import Fold
    from asfound.records.store import Records

FORM = "asfound seal 1"
AFTER_SEAL = frozenset({"sealed", "addendum"})
"""Kinds that do not lie under the seal of their own visit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing that is not as it was sealed."""

    what: Literal["changed", "missing", "added", "seal", "file_changed", "file_missing", "chain", "signature", "open"]
    id: str
    """Identifier of the entry, or digest of the file."""
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Verification:
    """What verifying a visit found, the first fault first."""

    visit: str
    digest: str
    entries: int
    files: int
    signed_by: str
    """Public key that signed, in hexadecimal; empty without a signature."""
    faults: tuple[Fault, ...]
    addenda: int
    chain: tuple[str, ...]
    """Digests of the seals before it, newest first, each verified."""
    unchecked: tuple[str, ...] = ()
    """What could not be compared, because another home holds it."""

    @property
    def holds(self) -> bool:
        """Whether nothing was changed, added or taken away."""
        return not self.faults

    def as_dict(self) -> dict[str, Any]:
        """Return it JSON-ready."""
        faults = [{"what": one.what, "id": one.id, "says": one.says} for one in self.faults]
        return {
            "visit": self.visit,
            "holds": self.holds,
            "digest": self.digest,
            "entries": self.entries,
            "files": self.files,
            "signed_by": self.signed_by,
            "addenda": self.addenda,
            "chain": list(self.chain),
            "unchecked": list(self.unchecked),
            "faults": faults,
        }


def seal(records: Records, visit: str, *, who: str | None = None, statement: str = "") -> Entry:
    """Close a visit. From then on only addenda can be written to it.

    Raises
    ------
    RecordError
        It is sealed already, it has conflicts that nobody settled, or a file of it is missing or damaged.
    """
    found = records.visit(visit)
    folded = records.fold(found.engine, found.id)
    if folded.conflicts:
        about = folded.conflicts[0].about
        raise RecordError(
            f"{len(folded.conflicts)} entries were corrected twice (first: {about.kind} of {about.at}). Settle them, "
            "then close the visit."
        )
    files = [_file(records, digest) for digest in _files_of(records, found.engine, records.entries(visit=found.id))]
    office.allow("sealed")
    log = look_for_seal(records, records.engine(found.engine))
    person = office.name() or who or records.settings.person
    written: list[Entry] = []

    def build(_connection: Connection, identifier: str, at: str) -> Entry | None:
        if written:
            return None
        entries = records.entries(visit=found.id)
        if any(one.kind == "sealed" for one in entries):
            raise RecordError(f"The visit {found.name} is sealed already.")
        now_files = _files_of(records, found.engine, entries)
        if [one["digest"] for one in files] != now_files:
            raise RecordError("A file came in while the visit was being closed. Close it again.")
        content: dict[str, Any] = {
            "seal": FORM,
            "id": identifier,
            "at": at,
            "who": person,
            "device": records.settings.device,
            "engine": found.engine,
            "visit": found.id,
            "context": [_line(one) for one in context(records, found.engine, entries)],
            "entries": [_line(one) for one in entries],
            "attachments": files,
            "statement": statement,
        }
        if log is not None:
            content["log"] = {name: log[name] for name in ("day", "digest", "file")}
            content["attachments"] = [*files, {"digest": log["file"], "size": log["size"]}]
        before = _seal_before(records, found.engine, found.id)
        if before is not None:
            content["previous"] = {"id": before.id, "visit": before.visit, "digest": before.content["digest"]}
        content["digest"] = seal_digest(content)
        signature = sign(records.home, content["digest"])
        if signature is not None:
            content["signature"] = signature
        entry = Entry(
            id=identifier,
            at=at,
            who=person,
            device=records.settings.device,
            engine=found.engine,
            visit=found.id,
            kind="sealed",
            content=kinds.check("sealed", content),
        )
        written.append(entry)
        return entry

    records.write(build)
    return written[0]


def verify(records: Records, visit: str) -> Verification:
    """Compare a sealed visit, byte for byte, with its seal; reads the database and the files, not the memory.

    Raises
    ------
    RecordError
        The database itself cannot be read.
    """
    visit = visit if records.is_visit(visit) else records.visit(visit).id
    stored = records.stored(visit)
    seals = [one for one in stored if one.kind == "sealed"]
    faults = [
        Fault(what="changed", id=one.id, says=f"Entry {one.id} ({one.at}) cannot be read as it was written.")
        for one in stored
        if one.kind == "damaged"
    ]
    if not seals:
        faults.append(Fault(what="open", id=visit, says=_why_open(records, visit)))
        return _unsealed(visit, len(stored), faults)
    sealed = seals[0]
    try:
        kinds.check("sealed", dict(sealed.content))
    except InputError as wrong:
        faults.append(Fault(what="seal", id=sealed.id, says=f"The seal cannot be read: {wrong}"))
        return _unsealed(visit, len(stored), faults)
    faults += [
        Fault(what="added", id=one.id, says=f"A second seal ({one.id}, {one.at}) was added.") for one in seals[1:]
    ]
    content = sealed.content
    faults += _seal_itself(sealed)
    under = {one.id: one for one in stored if one.kind not in AFTER_SEAL}
    context_now = records.stored_ones([str(one["id"]) for one in content.get("context", ())])
    faults += _compare(content.get("context", ()), context_now, where="what the visit stands on: ")
    faults = [one for one in faults if one.id not in under] + _compare(content.get("entries", ()), under, where="")
    listed = {one["id"] for one in content.get("entries", ())}
    faults += [
        Fault(
            what="added",
            id=one.id,
            says=f"{one.kind} by {one.who}, {one.at}, is not under the seal: it was added, or came in by a merge.",
        )
        for one in under.values()
        if one.id not in listed and one.kind != "damaged"
    ]
    faults += _files(records, content.get("attachments", ()))
    for addendum in (one for one in stored if one.kind == "addendum"):
        faults += _files(records, addendum.content.get("attachments", ()))
    chain, broken, unchecked = _chain(records, sealed)
    signature = content.get("signature") or {}
    return Verification(
        visit=visit,
        digest=str(content.get("digest", "")),
        entries=len(listed),
        files=len(content.get("attachments", ())),
        signed_by=str(signature.get("key", "")),
        faults=tuple(faults + broken),
        addenda=sum(one.kind == "addendum" for one in stored),
        chain=chain,
        unchecked=unchecked,
    )


def _unsealed(visit: str, entries: int, faults: list[Fault]) -> Verification:
    """Return what can be said where there is no seal that can be read."""
    return Verification(
        visit=visit, digest="", entries=entries, files=0, signed_by="", faults=tuple(faults), addenda=0, chain=()
    )


def _why_open(records: Records, visit: str) -> str:
    """Say that a visit has no seal, or that it had one: a later seal of the engine names it."""
    for later in records.entries(kind="sealed"):
        before = later.content.get("previous") or {}
        if before.get("visit") == visit:
            return f"The seal of this visit ({before.get('id')}) is gone: the seal {later.id} of {later.at} names it."
    return "The visit is open: it has no seal. Nothing can be compared yet."


def seal_digest(content: Mapping[str, Any]) -> str:
    """Return the digest that a seal must carry: over all its fields but ``digest`` and ``signature``."""
    return sha256(canonical({name: value for name, value in content.items() if name not in ("digest", "signature")}))


def _files_of(records: Records, engine: str, entries: Sequence[Entry]) -> list[str]:
    """Return the digests of the files that come under the seal of a visit."""
    return attachments([*entries, *context(records, engine, entries)])


def attachments(entries: Sequence[Entry]) -> list[str]:
    """Return the digests of the files that entries name, each once, in order of first mention."""
    found: dict[str, None] = {}
    for entry in entries:
        if entry.kind == "photo":
            found.setdefault(str(entry.content["digest"]))
        if entry.kind == "engine" and entry.content.get("derating"):
            found.setdefault(str(entry.content["derating"]))
        if entry.kind in ("setting", "emission_test") and entry.content.get("file"):
            found.setdefault(str(entry.content["file"]))
        if entry.kind == "sealed" and entry.content.get("log"):
            found.setdefault(str(entry.content["log"]["file"]))
        for digest in entry.content.get("photos", ()) if entry.kind == "look" else ():
            found.setdefault(str(digest))
    return list(found)


def context(records: Records, engine: str, entries: Sequence[Entry]) -> list[Entry]:
    """Return the entries outside a visit that it stands on, by identifier: engine, limits, site, instruments."""
    of_engine: Fold = records.fold(engine)
    found = [one for one in of_engine.current if one.kind in ("engine", "limit")]
    site = next((one.content.get("site") for one in reversed(found) if one.kind == "engine"), None)
    named = {one.content.get("instrument") for one in entries if one.kind == "reading"}
    found += [thing.entry for thing in (*records.sites().values(),) if thing.id == site]
    found += [thing.entry for thing in records.instruments().values() if thing.id in named]
    return sorted(found, key=lambda one: one.id)


def _line(entry: Entry) -> dict[str, str]:
    """Return how an entry stands in a seal."""
    return {"id": entry.id, "digest": entry.digest()}


def _file(records: Records, digest: str) -> dict[str, Any]:
    """Return how a file stands in a seal, after reading it."""
    try:
        return {"digest": digest, "size": len(records.attachment(digest))}
    except UnknownNameError:
        raise RecordError(
            f"The file {digest[:12]} is not in this home. Fetch it (an export with files), or withdraw its entry."
        ) from None


def _seal_before(records: Records, engine: str, visit: str) -> Entry | None:
    """Return the newest seal of the engine's other visits."""
    seals = [one.sealed for one in records.visits(engine) if one.sealed is not None and one.id != visit]
    return max(seals, key=lambda one: one.id, default=None)


def _seal_itself(sealed: Entry) -> list[Fault]:
    """Check a seal against itself: its row, its digest, its signature."""
    content = sealed.content
    faults = [
        Fault(what="seal", id=sealed.id, says=f"The seal's own {name} was changed.")
        for name in ("id", "at", "who", "device", "engine", "visit")
        if content.get(name) != getattr(sealed, name)
    ]
    if sealed.corrects is not None:
        faults.append(Fault(what="seal", id=sealed.id, says="The seal was made to correct another entry."))
    if seal_digest(content) != content.get("digest"):
        faults.append(Fault(what="seal", id=sealed.id, says="The seal does not carry the digest of what it lists."))
    signature = content.get("signature")
    if signature is not None:
        wrong = signature_holds(signature, str(content.get("digest", "")))
        if wrong:
            faults.append(Fault(what="signature", id=sealed.id, says=wrong))
    return faults


def seal_against(sealed: Entry, there: Mapping[str, Entry]) -> list[Fault]:
    """Return what is wrong with a seal that is not in a record yet: with itself, and with the entries that it lists."""
    try:
        kinds.check("sealed", dict(sealed.content))
        faults = _seal_itself(sealed)
    except InputError as wrong:
        return [Fault(what="seal", id=sealed.id, says=f"The seal cannot be read: {wrong}")]
    except RecordError:  # a signature, and no library for it here: what it signs is still compared
        faults = []
    for part, where in (("context", "what the visit stands on: "), ("entries", "")):
        faults += _compare(sealed.content.get(part, ()), there, where=where)
    return faults


def _compare(listed: Sequence[Mapping[str, str]], there: Mapping[str, Entry], *, where: str) -> list[Fault]:
    """Compare listed digests with the entries that are there."""
    faults = []
    for line in listed:
        entry = there.get(line["id"])
        if entry is None:
            faults.append(Fault(what="missing", id=line["id"], says=f"{where}entry {line['id']} is missing."))
        elif entry.digest() != line["digest"]:
            says = f"{where}entry {entry.id} ({entry.kind} by {entry.who}, {entry.at}) is not what was sealed."
            faults.append(Fault(what="changed", id=entry.id, says=says))
    return faults


def _files(records: Records, listed: Sequence[Mapping[str, Any]]) -> list[Fault]:
    """Read each listed file and compare it with its digest."""
    faults = []
    for line in listed:
        digest = str(line["digest"])
        try:
            content = records.files.get(digest)
        except UnknownNameError:
            faults.append(Fault(what="file_missing", id=digest, says=f"The file {digest[:12]} is missing."))
            continue
        now = sha256(content)
        if now != digest or len(content) != line["size"]:
            says = f"The file {digest[:12]} is not what was sealed: {len(content)} bytes with digest {now[:12]}."
            faults.append(Fault(what="file_changed", id=digest, says=says))
    return faults


def _chain(records: Records, sealed: Entry) -> tuple[tuple[str, ...], list[Fault], tuple[str, ...]]:
    """Follow the seals before this one, checking each against itself and against what names it.

    A seal that this home wrote must find the one before it here. A visit that came from another home may have left its
    forerunners there; that is said, and is no fault.
    """
    chain: list[str] = []
    while (previous := sealed.content.get("previous")) is not None:
        before = records.stored_ones([previous["id"]]).get(previous["id"])
        if before is None:
            says = f"The seal before it ({previous['id']}) is not in this home."
            if sealed.device != records.settings.device:
                return tuple(chain), [], (says,)
            return tuple(chain), [Fault(what="chain", id=previous["id"], says=says)], ()
        wrong = _seal_itself(before)
        if wrong or before.content.get("digest") != previous["digest"]:
            says = f"The seal before it ({before.id}, {before.at}) is not the one that it names."
            return tuple(chain), [Fault(what="chain", id=before.id, says=says), *wrong], ()
        chain.append(str(previous["digest"]))
        sealed = before
    return tuple(chain), [], ()
