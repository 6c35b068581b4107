"""Logs taken into a home: rows into the store, one entry into the record; and taken out again.

Every import bears a source of its own in the store, so that taking its entry back takes out its rows and no other. A
file that stands in an import already is known by its digest and left out.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from asfound.errors import InputError, RecordError
from asfound.records.log_plan import Plan, alarm_list, groups
from asfound.records.logs_of_engine import FOLDER, KIND, imports, logs, name_for, stored_as

if TYPE_CHECKING:
    from asfound.history.import_report import ImportReport
    from asfound.records.entries import Entry
    from asfound.records.store import Records
    from asfound.records.things import EngineRecord

STATES = ".imports"
COUNTS = ("read", "kept", "refused", "duplicates", "conflicts", "cells_refused")


@dataclass(slots=True)
class Imported:
    """What became of an import."""

    entry: Entry | None
    """None where nothing was new."""
    reports: list[ImportReport] = field(default_factory=list)
    known: list[str] = field(default_factory=list)
    """Files that had been taken in before."""
    clashes: int = 0
    """Cells that say something else than what was kept before; they were not taken."""

    def total(self, name: str) -> int:
        """Return a count over all reports."""
        return sum(int(getattr(one, name)) for one in self.reports)

    @property
    def notes(self) -> list[str]:
        """What is to be said of it."""
        return list(dict.fromkeys(note for one in self.reports for note in one.notes))


def fresh(records: Records, engine: EngineRecord, files: Sequence[Path]) -> tuple[list[Path], list[str]]:
    """Return the files that no import that stands holds, and the names of those that one does."""
    held = {str(one["digest"]) for entry in imports(records, engine) for one in entry.content.get("files", ())}
    new, known = [], []
    for path in files:
        if not path.is_file():
            raise InputError("file", str(path), "is no file", try_next="Give the path of a log.")
        (known.append(path.name) if _digest(path) in held else new.append(path))
    return new, known


def source_for(records: Records, engine: EngineRecord, name: str) -> str:
    """Return the source of the next import of this name; the same again until that import is done."""
    taken = sum(str(one.content["source"]).rpartition(" #")[0] == name for one in imports(records, engine, all_=True))
    return f"{name} #{taken + 1}"


def import_planned(
    records: Records, engine: EngineRecord, planned: Plan, *, who: str, note: str = "",
    tell: Callable[[ImportReport], None] | None = None,
) -> Imported:  # fmt: skip
    """Take the rows of planned files in and write the entry; broken off, the same call goes on."""
    from asfound.history.importing import import_files
    from asfound.history.mapping import moment_text
    from asfound.history.sink import StoreSink

    store, name = logs(records), name_for(records, engine)
    sink = StoreSink(store, name, planned.source)
    state = records.home.folder / FOLDER / STATES / name
    found = Imported(None)
    for form, paths in groups(planned.files):
        report = import_files(
            paths, sink, source=planned.source, form=form, mapping=planned.mapping, state=state, tell=tell
        )
        found.reports.append(report)
    found.clashes = sink.clash_count
    text = _yaml(planned)
    first = min((one.first for one in found.reports if one.first is not None), default=None)
    last = max((one.last for one in found.reports if one.last is not None), default=None)
    zones = sorted({one.form.zone for one in planned.files if one.form.zone})
    told = {file.name: file for one in found.reports for file in one.files}
    content = {
        "what": "rows", "stored_as": name, "source": planned.source,
        "files": [
            _file(one.path) | {"kept": told[one.path.name].kept, "refused": told[one.path.name].refused}
            for one in planned.files
        ],
        **{count: found.total(count) for count in COUNTS},
        "channels": len({channel for one in found.reports for channel in one.channels}),
        "zone": ", ".join(zones), "mapping": records.attach(text, f"{planned.source}.yaml", "application/yaml"),
        "clock": list(planned.mapping.clock.trace), "time": _now(records), "note": note,
    }  # fmt: skip
    if first is not None and last is not None:
        content |= {"first": moment_text(first), "last": moment_text(last)}
    found.entry = records.append(KIND, content, engine=engine.id, who=who)
    return found


def import_alarms(records: Records, engine: EngineRecord, path: Path, *, who: str, note: str = "") -> Entry:
    """Take an alarm list in and write the entry."""
    from asfound.history.alarm_lists import add_list
    from asfound.history.events import log_of_lines
    from asfound.history.mapping import moment_text

    store, name = logs(records), name_for(records, engine)
    source = source_for(records, engine, path.stem)
    text = path.read_text(encoding="utf-8-sig")
    log = log_of_lines(text.splitlines(), path.name)
    add_list(store, name, text, source)
    content: dict[str, Any] = {
        "what": "alarms", "stored_as": name, "source": source,
        "files": [_file(path) | {"kept": len(log)}], "read": len(log), "kept": len(log), "time": _now(records),
        "note": note,
    }  # fmt: skip
    if len(log):
        content |= {"first": moment_text(int(log.time[0])), "last": moment_text(int(log.time[-1]))}
    return records.append(KIND, content, engine=engine.id, who=who)


class LiveImport:
    """What is taken in while it comes: one source in the store, one entry when it ends."""

    def __init__(self, records: Records, engine: EngineRecord, name: str, *, who: str) -> None:
        from asfound.history.sink import StoreSink

        self.records, self.engine, self.who = records, engine, who
        self.source = source_for(records, engine, name)
        self.stored_as = name_for(records, engine)
        self.sink = StoreSink(logs(records), self.stored_as, self.source)
        self.rows = 0
        self.first: int | None = None
        self.last: int | None = None

    def took(self, rows: int, first: int | None, last: int | None) -> int:
        """Count rows that came."""
        self.rows += rows
        if first is not None and last is not None:
            self.first = first if self.first is None else min(self.first, first)
            self.last = last if self.last is None else max(self.last, last)
        return rows

    def close(self) -> Entry | None:
        """Write the entry; none where nothing came."""
        from asfound.history.mapping import moment_text

        self.sink.commit()
        if not self.rows or self.first is None or self.last is None:
            return None
        content = {
            "what": "live", "stored_as": self.stored_as, "source": self.source, "read": self.rows, "kept": self.rows,
            "first": moment_text(self.first), "last": moment_text(self.last), "time": _now(self.records),
        }  # fmt: skip
        return self.records.append(KIND, content, engine=self.engine.id, who=self.who)


def withdraw(records: Records, entry: Entry, *, who: str | None, why: str = "") -> tuple[Entry, int]:
    """Take an import back: its rows leave the store, the entry is void. Return that line and how many rows went."""
    from asfound.history.alarm_lists import withdraw_lists

    if entry.kind != KIND:
        raise RecordError(f"Entry {entry.id} is no import of a log.")
    store, name, source = logs(records), str(entry.content["stored_as"]), str(entry.content["source"])
    gone = store.withdraw(name, source)
    withdraw_lists(store, name, source)
    return records.undo(entry.id, who=who, why=why), gone


def take_back(records: Records, entry: Entry, *, who: str | None, why: str = "") -> tuple[Entry, int | None]:
    """Take any entry back; of an import its rows go with it. Return that line and how many rows went (else None).

    Raises
    ------
    RecordError
        The entry is the taking back of an import: its rows are gone, and only its files bring them again.
    """
    if entry.kind == KIND:
        line, gone = withdraw(records, entry, who=who, why=why)
        return line, gone
    void = records.entry(entry.corrects) if entry.kind == "withdrawn" and entry.corrects else None
    if void is not None and void.kind == KIND:
        tag = records.engine(str(void.engine)).tag
        names = " ".join(str(one["name"]) for one in void.content.get("files", ())) or "FILE"
        raise RecordError(
            f"The rows of '{void.content['source']}' went out of the store with it. "
            f"Take its files in again: asfound log-import {tag} {names}"
        )
    return records.undo(entry.id, who=who, why=why), None


def out_of_step(records: Records, engine: EngineRecord) -> list[str]:
    """Return in words where store and record do not say the same of an engine."""
    name = stored_as(records, engine)
    if name is None:
        return []
    there = logs(records).sources(name)
    said = {str(one.content["source"]) for one in imports(records, engine) if one.content.get("kept")}
    found = [
        f"{count:,} rows of '{source}' are in the store, and no import that stands says so."
        for source, count in there.items()
        if source not in said
    ]
    rows = {str(one.content["source"]) for one in imports(records, engine) if one.content["what"] != "alarms"}
    missing = sorted(one for one in rows & said if one not in there)
    return found + [f"The import '{one}' stands and its rows are not in this store." for one in missing]


def split(files: Sequence[Path]) -> tuple[list[Path], list[Path]]:
    """Return logs and alarm lists."""
    alarms = [path for path in files if alarm_list(path)]
    return [path for path in files if path not in alarms], alarms


def _yaml(planned: Plan) -> bytes:
    import yaml

    return yaml.safe_dump(planned.mapping.as_dict(), sort_keys=False, allow_unicode=True, width=120).encode()


def _file(path: Path) -> dict[str, Any]:
    return {"name": path.name, "digest": _digest(path), "bytes": path.stat().st_size}


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _now(records: Records) -> str:
    return records.clock.now().isoformat(timespec="seconds")
