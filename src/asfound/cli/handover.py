"""`asfound export`, `bring-in`, `addendum`: what leaves the laptop, and what comes in."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from asfound.cli.answer import answer, harmless
from asfound.cli.find import entry_of, kept, opened, tail, time_of, visit_of, writer
from asfound.cli.options import Hand, Home
from asfound.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Callable

    from asfound.records.store import Records
    from asfound.records.visit import VisitView


def export(
    visit: str,
    /,
    *,
    output: Path | None = None,
    csv: bool = False,
    table: Literal["readings", "results", "looks", "differences"] = "readings",
    files: bool = False,
    schema: bool = False,
    replace: bool = False,
    where: Home = Home(),
) -> None:
    """Write a visit as JSON, or one of its tables as CSV. Without --output it goes to standard output.

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    output
        File to write.
    csv
        A table instead.
    table
        Which table.
    files
        With the content of photos and files, so that another laptop has them too.
    schema
        The JSON schema that an export follows, instead of a visit.
    replace
        Write over a file that is there.
    """
    records = opened(where)
    found = visit_of(records, visit)
    content = _schema() if schema else _table(records, found.id, table) if csv else _record(records, found.id, files)
    if output is None:
        shown = harmless(content.replace("\r\n", "\n")) if sys.stdout.isatty() else content
        print(shown, end="" if content.endswith("\n") else "\n")
        return
    free(output, replace)
    write(output, content.encode("utf-8"))
    answer(where, {"file": str(output), "visit": found.name}, lambda: [f"Written: {output}"])


def _schema() -> str:
    import json

    from asfound.records.schema import schema

    return json.dumps(schema(), ensure_ascii=False, indent=1) + "\n"


def _record(records: Records, visit: str, files: bool) -> str:
    from asfound.records.export import as_json

    return as_json(_dict(records, visit, files=files))


def _dict(records: Records, visit: str, *, files: bool = False) -> dict[str, Any]:
    from asfound.records.export import visit_record

    return visit_record(records, visit, files=files)


def _table(records: Records, visit: str, table: str) -> str:
    from asfound.records import tables_csv
    from asfound.records.visit import view

    write: Callable[[VisitView], str] = getattr(tables_csv, f"{table}_csv")
    return write(view(records, visit))


def bring_in(file: Path, /, *, hand: Hand = Hand()) -> None:
    """Bring in a visit that was written elsewhere. Nothing here is lost: the record is the union of both.

    Parameters
    ----------
    file
        JSON as `asfound export` writes it.
    """
    from asfound.records.export import take_over

    came = take_over(opened(hand, begin=True), _content(file))
    holds = came.verification.holds if came.verification else None
    data = {
        "visit": came.visit,
        "name": came.name,
        "new": came.new,
        "known": came.known,
        "files": came.files,
        "seal_holds": holds,
    }
    seal = {None: "open visit", True: "its seal holds", False: "ITS SEAL DOES NOT HOLD: asfound visit verify"}[holds]
    answer(hand, data, lambda: [f"{came.name}: {came.new} new entries, {came.known} known, {came.files} files; {seal}"])


def addendum(
    visit: str,
    says: str,
    /,
    *,
    about: tuple[str, ...] = (),
    file: tuple[Path, ...] = (),
    hand: Hand = Hand(),
) -> None:
    """Add to a sealed visit: a correction in words, a late result. What was sealed stays as it is.

    Parameters
    ----------
    visit
        tag/date or beginning of the visit's identifier.
    says
        What is added.
    about
        Entries that it is about; may be given several times.
    file
        Files that belong to it; may be given several times.
    """
    import mimetypes

    records = opened(hand)
    sealed = [
        one
        for one in records.visits()
        if one.sealed is not None and visit.casefold() == one.name.split("/")[0].casefold()
    ]
    found = sealed[-1] if sealed else visit_of(records, visit)
    now = time_of(records, "")
    attachments: list[dict[str, Any]] = []
    for one in file:
        content = _content(one)
        media_type = mimetypes.guess_type(one.name)[0] or "application/octet-stream"
        digest = records.attach(content, one.name, media_type)
        attachments.append(
            {"digest": digest, "filename": one.name, "media_type": media_type, "size": len(content), "time": now}
        )
    entry = records.append(
        "addendum",
        {
            "says": says,
            "time": now,
            "about": [entry_of(records, name).id for name in about],
            "attachments": attachments,
        },
        visit=found.id,
        who=writer(hand, records),
    )
    answer(hand, kept(entry) | {"visit": found.name}, lambda: [f"Added to {found.name}: {tail(entry.id)}"])


def _content(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError as fault:
        raise InputError("file", str(file), f"cannot be read ({fault.strerror})") from fault


def free(file: Path, replace: bool) -> None:
    """Refuse to write over a file unless told to."""
    if file.exists() and not replace:
        raise InputError("output", str(file), "is there already", try_next="Name another file, or say --replace.")


def write(file: Path, content: bytes) -> None:
    """Write a file; say why where it cannot be."""
    try:
        file.write_bytes(content)
    except OSError as fault:
        raise InputError("output", str(file), f"cannot be written ({fault.strerror})") from fault
