"""A visit's record as JSON, out of one home and into another."""

from __future__ import annotations

import base64
import json
import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from asfound import __version__
from asfound.errors import InputError, RecordError, UnknownNameError
from asfound.records.entries import Entry, sha256
from asfound.records.schema import FORM, SCHEMA_ID, record_model, schema
from asfound.records.seal import Verification, attachments, verify

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from asfound.quantities.words import Finding, Result
    from asfound.records.store import Records
    from asfound.records.view_parts import Difference
    from asfound.records.visit import VisitView

LARGEST = 512 * 1024 * 1024
"""More than this is no record of one visit. [byte]"""
_STEERING = re.compile(r"[\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069]")
"""Control characters that JSON lets through, and signs that turn the writing round."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Imported:
    """What taking over a record brought."""

    visit: str
    name: str
    new: int
    """Entries that were not here before."""
    known: int
    files: int
    """Files that came with it."""
    verification: Verification | None
    """Of its seal; None for an open visit."""


def visit_record(records: Records, visit: str, *, computed: bool = True, files: bool = False) -> dict[str, Any]:
    """Return the record of a visit as JSON-ready values by the published schema.

    Parameters
    ----------
    records : Records
    visit : str
        Identifier or readable name.
    computed : bool
        With what the program makes of it: results, findings, differences, what is fitted.
    files : bool
        With the content of photos and files, in base 64.

    Raises
    ------
    RecordError
        An entry of it is damaged.
    """
    found = records.visit(visit)
    entries = records.entries(visit=found.id)
    context = context_of(records, found.engine, entries)
    for one in (*entries, *context):
        if one.kind == "damaged":
            raise RecordError(f"Entry {one.id} is damaged, so no copy of this visit can be made. Fetch a backup.")
    record: dict[str, Any] = {
        "$schema": SCHEMA_ID,
        "form": FORM,
        "made": {
            "at": records.clock.now().isoformat(timespec="seconds"),
            "program": f"asfound {__version__}",
            "device": records.settings.device,
        },
        "name": found.name,
        "engine": found.engine,
        "visit": found.id,
        "context": [one.as_dict() for one in context],
        "entries": [one.as_dict() for one in entries],
        "files": [_file(records, digest, files) for digest in all_files((*entries, *context))],
    }
    if computed:
        from asfound.records.visit import view

        record["computed"] = computed_part(view(records, found.id))
    return record


def as_json(record: dict[str, Any]) -> str:
    """Return a record as text that can be read and compared; signs that steer a terminal are written as escapes."""
    text = json.dumps(record, ensure_ascii=False, indent=1, allow_nan=False)
    return _STEERING.sub(lambda found: f"\\u{ord(found[0]):04x}", text) + "\n"


def take_over(records: Records, text: str | bytes) -> Imported:
    """Take over a record that another home wrote: the union of the entries; twice changes nothing.

    Raises
    ------
    InputError
        It is no record by the published schema; says where.
    RecordError
        It contradicts an entry that is here, lacks what it stands on, or a file in it does not have its digest.
    """
    if len(text) > LARGEST:
        raise InputError("record", f"{len(text)} bytes", "is too large for the record of a visit", allowed="512 MB")
    record = _read(text)
    entries = [Entry(**one) for one in (*record["context"], *record["entries"])]
    for one in entries:
        _refuse_numbers_too_long(one)
    for line in record["entries"]:
        if line["visit"] != record["visit"]:
            raise RecordError(f"Entry {line['id']} is not of the visit that this record is of. Nothing was taken over.")
    contents = {one["digest"]: base64.b64decode(one["content"]) for one in record["files"] if one.get("content")}
    for digest, content in contents.items():
        if sha256(content) != digest:
            raise RecordError(f"The file {digest[:12]} in this record is damaged. Nothing was taken over.")
    check_links(records, entries)
    for content in contents.values():
        records.files.put(content)
    new = records.merge(entries)
    sealed = any(one.kind == "sealed" for one in entries)
    return Imported(
        visit=record["visit"],
        name=records.visit(record["visit"]).name,
        new=new,
        known=len({one.id for one in entries}) - new,
        files=len(contents),
        verification=verify(records, record["visit"]) if sealed else None,
    )


def computed_part(view: VisitView) -> dict[str, Any]:
    """Return what the program made of a visit, JSON-ready."""
    return {
        "draws": view.worked.number,
        "seed": view.worked.seed,
        "results": [_result(one) for one in view.worked.results],
        "findings": [_finding(one) for one in view.findings],
        "differences": [_difference(one) for one in view.differences],
        "identification": _finite(view.identification.as_dict()) if view.identification else None,
        "problems": list(view.problems),
    }


def _read(text: str | bytes) -> dict[str, Any]:
    """Return a record after checking it against the published schema."""
    from pydantic import ValidationError

    try:
        record: dict[str, Any] = json.loads(text, parse_constant=_no_constant)
    except (ValueError, RecursionError) as fault:
        raise InputError("record", str(text[:40]), f"is not JSON ({fault})", try_next="Export it again.") from None
    try:
        record_model().model_validate(record)
    except ValidationError as refused:
        first = refused.errors(include_url=False, include_context=False)[0]
        where = ".".join(str(part) for part in first["loc"]) or "record"
        given = str(first.get("input", ""))[:100]
        raise InputError(
            where, given, f"does not fit the schema {SCHEMA_ID}: {first['msg'][:300]}",
            try_next="Nothing was taken over. Export it again, or look at the schema.",
        ) from None  # fmt: skip
    return record


def _refuse_numbers_too_long(entry: Entry) -> None:
    """Refuse an entry whose whole numbers RFC 8785 cannot write: it would have no digest."""
    try:
        entry.digest()
    except ValueError as fault:
        raise InputError(
            f"entry {entry.id}", entry.kind, f"cannot be kept: {fault}", try_next="Nothing was taken over."
        ) from None


def _no_constant(name: str) -> float:
    """Refuse NaN and infinities, which JSON does not have."""
    raise ValueError(f"{name} is no number of JSON")


@dataclass(frozen=True, slots=True)
class Link:
    """What a link may lead to: of an entry only what tells whether it may."""

    kind: str
    engine: str | None
    visit: str | None
    corrects: str | None


def check_links(records: Records, entries: Sequence[Entry]) -> None:
    """Refuse entries whose links lead nowhere, or to what such a link cannot mean; they could never be shown."""
    targets = {str(to) for one in entries for to in (one.engine, one.visit, one.corrects) if to is not None}
    here = records.stored_ones(sorted(targets)).values()
    there = {one.id: Link(one.kind, one.engine, one.visit, one.corrects) for one in (*here, *entries)}
    for one in entries:
        fault = link_fault(one, there)
        if fault:
            raise RecordError(fault)


def link_fault(one: Entry, there: Mapping[str, Link]) -> str:
    """Return what is wrong with the links of an entry beside what they may lead to; empty: nothing."""
    for name, kind in (("engine", "engine"), ("visit", "visit_opened"), ("corrects", "")):
        target = getattr(one, name)
        if target is None:
            continue
        if target not in there:
            return (
                f"The record is not whole: entry {one.id} ({one.kind}) names {name} {target}, which is neither in "
                "it nor here. Nothing was taken over; export it again."
            )
        if not _may_name(one, target, there[target], kind):
            return (
                f"Entry {one.id} ({one.kind}) names {name} {target}, which is a {there[target].kind} entry and "
                "cannot be that. The record was altered; nothing was taken over. Export it again."
            )
    return ""


def _may_name(one: Entry, name: str, target: Link, kind: str) -> bool:
    """Tell whether a link of an entry may lead there: to what was begun, or to an earlier entry that it corrects."""
    if kind:
        begun = target.kind == kind and target.corrects is None and (kind != "visit_opened" or target.visit == name)
        return begun and (kind == "engine" or target.engine == one.engine) and name <= one.id
    alike = one.kind in ("withdrawn", "resolution") or one.kind == target.kind
    return alike and name < one.id and (target.engine, target.visit) == (one.engine, one.visit)


def context_of(records: Records, engine: str, entries: Iterable[Entry]) -> list[Entry]:
    """Return all entries outside the visit that it stands on, corrected ones too: every link leads somewhere."""
    outside = [one for one in records.entries(engine=engine) if one.visit is None]
    wanted = {str(one.content.get("site")) for one in outside if one.kind == "engine"}
    wanted |= {
        str(one.content["instrument"]) for one in entries if one.kind == "reading" and "instrument" in one.content
    }
    kinds_ = ("site", "instrument", "withdrawn", "resolution")
    of_home = sorted(
        (one for kind in kinds_ for one in records.entries(kind=kind) if one.engine is None), key=lambda one: one.id
    )
    for one in of_home:  # in order of identifier: what corrects, withdraws or settles comes after what it is about
        if one.corrects in wanted or (one.kind == "resolution" and one.content.get("about") in wanted):
            wanted.add(one.id)
    chosen = [one for one in of_home if one.id in wanted]
    return sorted((*outside, *chosen), key=lambda one: one.id)


def all_files(entries: Iterable[Entry]) -> list[str]:
    """Return the digests of all files that entries name, those of addenda too."""
    listed = list(entries)
    added = [str(one["digest"]) for entry in listed if entry.kind == "addendum" for one in entry.content["attachments"]]
    return list(dict.fromkeys([*attachments(listed), *added]))


def _file(records: Records, digest: str, with_content: bool) -> dict[str, Any]:
    """Return a file as it stands in a record."""
    try:
        content = records.attachment(digest)
    except UnknownNameError:
        return {"digest": digest, "size": 0}
    made: dict[str, Any] = {"digest": digest, "size": len(content)}
    if with_content:
        made["content"] = base64.b64encode(content).decode("ascii")
    return made


def _number(value: float) -> float | None:
    """Return a number that JSON can hold, or None."""
    return value if math.isfinite(value) else None


def _finite(value: Any) -> Any:
    """Return nested values with None where a number is not finite."""
    if isinstance(value, float):
        return _number(value)
    if isinstance(value, dict):
        return {name: _finite(one) for name, one in value.items()}
    if isinstance(value, (list, tuple)):
        return [_finite(one) for one in value]
    return value


def _result(one: Result) -> dict[str, Any]:
    return {
        "key": one.key, "quantity": one.quantity, "place": one.place, "state": one.state,
        "value": _number(one.value), "unit": one.unit,
        "low": _number(one.interval[0]), "high": _number(one.interval[1]),
        "standard_uncertainty": _number(one.standard_uncertainty), "worksheet": one.worksheet,
        "method": one.method.name, "source": one.method.source, "clause": one.method.clause,
        "inputs": [given.key for given in one.inputs], "assumed": [given.key for given in one.assumed],
        "cautions": list(one.cautions), "outside": list(one.outside),
    }  # fmt: skip


def _finding(one: Finding) -> dict[str, Any]:
    return {
        "code": one.code, "subject": one.subject, "says": one.says, "severity": one.severity,
        "next_step": one.next_step, "compared_with": one.compared_with, "probability": one.probability,
        "because": list(one.because), "cautions": list(one.cautions), "state": one.state, "extra": dict(one.extra),
    }  # fmt: skip


def _difference(one: Difference) -> dict[str, Any]:
    return {
        "key": one.key, "quantity": one.quantity, "place": one.place, "worksheet": one.worksheet,
        "found": one.found.value, "left": one.left.value, "difference": one.difference,
        "low": one.interval[0], "high": one.interval[1], "chance": one.chance, "unit": one.found.unit,
    }  # fmt: skip


__all__ = ["Imported", "as_json", "computed_part", "schema", "take_over", "visit_record"]
