"""`asfound note`, `photo`, `setting`, `undo`: what is kept in words and pictures, and taken back."""

from __future__ import annotations

import mimetypes
from pathlib import Path
from typing import Any, Literal

from asfound.cli.answer import answer
from asfound.cli.find import entry_of, kept, opened, state_of, tail, time_of, visit_of, writer
from asfound.cli.options import Hand
from asfound.errors import InputError

Step = Literal["fitted", "fuel", "load", "exhaust", "cylinders", "other", ""]


def note(
    visit: str, text: str, /, *, state: str = "", step: Step = "", place: str = "", at: str = "", hand: Hand = Hand()
) -> None:
    """Keep a note.

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    text
        The note, in quotes.
    state
        as_found or as_left, where it belongs to one.
    step
        Step of the visit that it belongs to.
    place
        Place or component that it is about.
    at
        When, if not now: 09:52, or a full time.
    """
    records = opened(hand)
    content = _about(state, step, place) | {"text": text, "time": time_of(records, at)}
    entry = records.append("note", content, visit=visit_of(records, visit).id, who=writer(hand, records))
    answer(hand, kept(entry), lambda: [f"Kept: note {tail(entry.id)}"])


def photo(
    visit: str,
    file: Path,
    /,
    *,
    caption: str = "",
    state: str = "",
    step: Step = "",
    place: str = "",
    at: str = "",
    hand: Hand = Hand(),
) -> None:
    """Keep a photo or a file, by its digest.

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    file
        The file.
    caption
        What it shows.
    state
        as_found or as_left.
    step
        Step of the visit that it belongs to.
    place
        Place or component that it shows.
    at
        When it was taken, if not now.
    """
    records = opened(hand)
    where = visit_of(records, visit)
    try:
        content = file.read_bytes()
    except OSError as fault:
        raise InputError("file", str(file), f"cannot be read ({fault.strerror})") from fault
    media_type = mimetypes.guess_type(file.name)[0] or "application/octet-stream"
    digest = records.attach(content, file.name, media_type)
    about = _about(state, step, place) | {
        "digest": digest, "filename": file.name, "media_type": media_type, "size": len(content), "caption": caption,
        "time": time_of(records, at),
    }  # fmt: skip
    entry = records.append("photo", about, visit=where.id, who=writer(hand, records))
    answer(hand, kept(entry), lambda: [f"Kept: {file.name}, {len(content):,} bytes, SHA-256 {digest[:16]}..."])


def setting(
    visit: str,
    name_and_text: str,
    /,
    *,
    state: str = "as_found",
    place: str = "",
    note: str = "",
    at: str = "",
    hand: Hand = Hand(),
) -> None:
    """Keep a set point, a timing or the version of a file, as it stands in the engine's controls.

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    name_and_text
        name=text as the controls show it.
    state
        as_found or as_left.
    place
        Where it was read.
    note
        Anything else.
    at
        When, if not now.
    """
    name, equals, text = name_and_text.partition("=")
    if not equals:
        raise InputError(
            "setting", name_and_text, "is not name=text", try_next="Write for example ignition_timing='24 deg'."
        )
    records = opened(hand)
    which = state_of(state)
    if which is None:
        raise InputError("state", state, "is no state of a visit", allowed="as_found, as_left")
    content = {
        "name": name,
        "as_typed": text,
        "state": which,
        "place": place,
        "note": note,
        "time": time_of(records, at),
    }
    entry = records.append("setting", content, visit=visit_of(records, visit).id, who=writer(hand, records))
    answer(hand, kept(entry), lambda: [f"Kept: {name} {text} ({which.replace('_', ' ')})"])


def undo(entry: str, /, *, why: str = "", hand: Hand = Hand()) -> None:
    """Take an entry back. A line is added, none is removed; taking that line back brings the entry back.

    With the import of a log its rows go out of the store; only its files bring them again.

    Parameters
    ----------
    entry
        Identifier of the entry, or its last eight signs as `asfound visit show` prints them.
    why
        Why it is taken back.
    """
    from asfound.records.log_import import take_back

    records = opened(hand)
    found = entry_of(records, entry)
    line, rows = take_back(records, found, who=writer(hand, records), why=why)

    def told() -> list[str]:
        if rows is not None:
            return [f"Taken back: {found.content['source']}, {rows:,} rows went out of the store"]
        return [f"Taken back: {found.kind} {tail(found.id)}; undo with {tail(line.id)}"]

    answer(hand, kept(line) | {"took_back": found.id} | ({} if rows is None else {"rows": rows}), told)


def _about(state: str, step: str, place: str) -> dict[str, Any]:
    """Return what a note or photo is about; what is not said is left out."""
    which = state_of(state) if state else None
    if state and which is None:
        raise InputError("state", state, "is no state of a visit", allowed="as_found, as_left")
    return {name: value for name, value in (("state", which), ("step", step), ("place", place)) if value}
