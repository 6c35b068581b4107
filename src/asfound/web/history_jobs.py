"""Imports of logs that go on behind a page: one folder each, so that a reload or a new start finds them."""

from __future__ import annotations

import json
import re
import threading
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from asfound.errors import UnknownNameError
from asfound.records.lock import passing_folder

if TYPE_CHECKING:
    from collections.abc import Callable

    from asfound.records.store import Records

FOLDER = "imports"
GOING = ("reading", "working_out")
_ID = re.compile(r"[0-9a-z-]{6,40}$")
_running: dict[str, threading.Thread] = {}
_writing = threading.Lock()


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One import: what was chosen and how far it is."""

    id: str
    engine: str
    """Identifier of the engine; empty for none."""
    title: str
    """Name of the file as it came."""
    size: int = 0
    source: str = ""
    stage: str = "asked"
    """``asked``: the proposal waits for a person; ``reading``, ``working_out``, ``done``, ``failed``."""
    says: str = ""
    try_next: str = ""
    read: int = 0
    kept: int = 0
    share: float = 0.0
    """Of the file, while it is read."""
    answers: dict[str, str] = field(default_factory=dict)
    """``order``, ``zone``, ``barometer``."""
    form: dict[str, Any] = field(default_factory=dict)
    mapping: dict[str, Any] = field(default_factory=dict)
    report: dict[str, Any] = field(default_factory=dict)

    @property
    def going(self) -> bool:
        """Whether it is at work."""
        return self.stage in GOING


def folder_of(records: Records, name: str = "") -> Path:
    """Return the folder of all imports, or of one."""
    if name and not _ID.match(name):
        raise UnknownNameError("import", name, ())
    return passing_folder(records.home.folder) / FOLDER / name


def folders(records: Records) -> tuple[str, ...]:
    """Return the folder of all imports and that of each: something is put there whenever one goes on."""
    base = folder_of(records)
    return (str(base), *(str(one) for one in base.iterdir() if one.is_dir())) if base.is_dir() else (str(base),)


def file_of(records: Records, job: Job) -> Path:
    """Return the file that is imported."""
    found = sorted((folder_of(records, job.id) / "file").iterdir())
    if not found:
        raise UnknownNameError("file of the import", job.title, ())
    return found[0]


def load(records: Records, name: str) -> Job:
    """Return an import; one that was going when the program ended is told as broken off.

    Raises
    ------
    UnknownNameError
        There is no such import.
    """
    where = folder_of(records, name) / "job.json"
    if not where.is_file():
        raise UnknownNameError("import", name, [one.name for one in folder_of(records).glob("*")][:20])
    job = Job(**json.loads(where.read_text("utf-8")))
    thread = _running.get(job.id)
    if job.going and (thread is None or not thread.is_alive()):
        return replace(
            job, stage="failed", says="The program ended while it was reading; what was read is kept.",
            try_next="Go on with it: rows that are there already are known again.",
        )  # fmt: skip
    return job


def save(records: Records, job: Job) -> Job:
    """Keep the state of an import, whole or not at all."""
    from asfound.history.whole_files import write_whole

    where = folder_of(records, job.id)
    with _writing:
        where.mkdir(parents=True, exist_ok=True)
        write_whole(where / "job.json", json.dumps(asdict(job), ensure_ascii=False).encode())
    return job


def jobs_of(records: Records, engine: str, most: int = 8) -> tuple[Job, ...]:
    """Return the imports of an engine, the newest first."""
    base = folder_of(records)
    names = (
        sorted((one.name for one in base.iterdir() if (one / "job.json").is_file()), reverse=True)
        if base.is_dir()
        else []
    )
    found: list[Job] = []
    for name in names:
        job = load(records, name)
        if job.engine == engine:
            found.append(job)
        if len(found) == most:
            break
    return tuple(found)


def start(records: Records, job: Job, work: Callable[[Records, Job, Callable[[Job], None]], Job]) -> Job:
    """Let an import work in a thread with its own connection; the state on disk tells how far it is."""
    from asfound.records.store import Records as Opened

    if job.id in _running and _running[job.id].is_alive():
        return job
    going = save(records, replace(job, stage="reading", says="", try_next="", report={}))
    home = records.home.folder

    def run() -> None:
        with Opened.open(home) as own:

            def tell(now: Job) -> None:
                save(own, now)

            try:
                save(own, work(own, going, tell))
            except Exception as refused:  # whatever it is, a person is told: nobody sees a dead thread
                said = str(refused) or type(refused).__name__
                hint = getattr(refused, "try_next", "") or ""
                save(own, replace(load_raw(own, going.id), stage="failed", says=said, try_next=hint))

    thread = threading.Thread(target=run, name=f"import {job.id}", daemon=True)
    _running[job.id] = thread
    thread.start()
    return going


def load_raw(records: Records, name: str) -> Job:
    """Return an import as it stands on disk."""
    return Job(**json.loads((folder_of(records, name) / "job.json").read_text("utf-8")))
