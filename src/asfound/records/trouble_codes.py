"""Fault messages of a data bus become an entry: pasted frames, or a log of which the fault messages are kept."""

from __future__ import annotations

from pathlib import PurePath
from typing import TYPE_CHECKING

from asfound.errors import AsFoundError, InputError
from asfound.troubleshoot.bus_log import frames_of_file
from asfound.troubleshoot.fault_codes import FaultMessage, decode, only_faults
from asfound.troubleshoot.told import FaultsRead

if TYPE_CHECKING:
    from asfound.records.entries import Entry
    from asfound.records.store import Records
    from asfound.records.visit import VisitView

MOST_PASTED = 20_000
"""Longer text is kept as a file, and its fault messages as text."""


def read_fault_codes(
    records: Records,
    view: VisitView,
    given: str | bytes,
    *,
    filename: str = "",
    source: str = "",
    note: str = "",
    who: str,
    time: str = "",
) -> tuple[Entry, tuple[FaultMessage, ...]]:
    """Keep the fault messages in pasted text, or in a log file, and return what they say.

    Raises
    ------
    InputError
        A line that is no frame, or no whole fault message in all of it; nothing is kept then.
    """
    text = given if isinstance(given, str) else frames_of_file(given, filename)
    messages = decode(text)
    content = {"source": source, "note": note, "time": time or records.clock.now().isoformat(timespec="seconds")}
    content["state"] = "as_found"
    if isinstance(given, bytes) or len(text) > MOST_PASTED:
        raw = given if isinstance(given, bytes) else given.encode()
        name = PurePath(filename).name or "frames.log"
        content |= {"file": records.attach(raw, name, "application/octet-stream"), "filename": name}
        text = only_faults(text)
    content["text"] = text
    if len(text) > 200_000:
        raise InputError("frames", filename, "holds too many different fault messages", try_next="Give a shorter log.")
    return records.append("fault_codes", content, visit=view.id, who=who), messages


def faults_read(entry: Entry, problems: list[str]) -> FaultsRead:
    """Return what an entry of fault messages says; nothing, with a word about it, where it cannot be read any more."""
    content = entry.content
    messages: tuple[FaultMessage, ...] = ()
    try:
        messages = decode(str(content["text"]))
    except AsFoundError as fault:
        problems.append(f"Fault codes of {content['time']}: {fault}")
    return FaultsRead(
        messages=messages,
        time=str(content["time"]),
        source=str(content.get("source", "")),
        entry=entry.id,
    )
