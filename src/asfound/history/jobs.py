"""One job on one month of one engine: what a worker does, and the entry that it leaves in the run's ledger.

A job is a function ``(store, engine, month) -> mapping of name to array or number``. Its result is written first, then
its entry, each in one step; so a worker killed at any moment leaves either nothing or all. An entry is good as long as
job, version, the month's rows and the result's bytes are those that it names. Whatever is not good is done again.
"""

from __future__ import annotations

import io
import json
import os
import sys
import time
import zipfile
from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict, dataclass, field
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np

from asfound.errors import AsFoundError, InputError
from asfound.history import month as a_month
from asfound.history.locked import Cipher, take_over
from asfound.history.manifest import digest_of, engine_path
from asfound.history.rows_file import DamagedError, bound_memory
from asfound.history.store import Store

RUNS = ".runs"
Result = Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What to do with every month. A changed ``version`` or ``given`` does all of it again."""

    name: str
    version: str
    function: str
    """``module:function``, importable where workers run."""
    given: Mapping[str, Any] = field(default_factory=dict)
    """Further arguments by name: plain data."""

    def __call__(self, store: Store, engine: str, month: str) -> Result:
        """Do it."""
        module, _, name = self.function.partition(":")
        work: Callable[..., Result] = getattr(import_module(module), name)
        return work(store, engine, month, **self.given)

    @property
    def digest(self) -> str:
        """Digest of what is done."""
        return digest_of(json.dumps(asdict(self), sort_keys=True).encode())


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """What became of a job on a month."""

    engine: str
    month: str
    inputs: str
    """Digest of job and rows."""
    result: str = ""
    """Digest of the result's bytes; empty where it failed."""
    bytes: int = 0
    rows: int = 0
    seconds: float = 0.0
    processor: float = 0.0
    """Seconds of processor time."""
    peak: int = 0
    """Most memory that the worker has held so far, bytes; 0 where the system does not tell."""
    failed: str = ""
    damaged: bool = False
    """It failed because files are not what was written."""


def entry_path(job: Job, engine: str, month: str) -> str:
    """Return where the entry lies in the store's folder."""
    return f"{RUNS}/{engine_path(job.name)}/{engine_path(engine)}/{month}.json"


def result_path(job: Job, engine: str, month: str) -> str:
    """Return where the result lies."""
    return f"{RUNS}/{engine_path(job.name)}/{engine_path(engine)}/{month}.npz"


def inputs_of(store: Store, job: Job, engine: str, month: str) -> str:
    """Return the digest of job and rows; that of the job alone where the manifest is damaged."""
    try:
        manifest = store.manifest(engine, month)
    except DamagedError:
        manifest = None
    return digest_of((job.digest + (manifest.digest if manifest else "")).encode())


def good_entry(store: Store, job: Job, engine: str, month: str) -> Entry | None:
    """Return the entry of a month whose result stands, None where it must be done."""
    try:
        entry = Entry(**json.loads(store.folder.read(entry_path(job, engine, month))))
        if entry.failed or entry.inputs != inputs_of(store, job, engine, month):
            return None
        return entry if digest_of(store.folder.read(result_path(job, engine, month))) == entry.result else None
    except (FileNotFoundError, ValueError, TypeError):
        return None


def do(where: str, job: Job, engine: str, month: str, memory: str = "512MB") -> Entry:
    """Do a job on a month, in whatever process this is; leave result and entry, and return the entry."""
    bound_memory(memory)
    store, begin, processor = Store(where), time.monotonic(), time.process_time()
    inputs, rows, data, failed, damaged = inputs_of(store, job, engine, month), 0, b"", "", False
    try:
        manifest = store.manifest(engine, month)
        if manifest is None:
            raise InputError("month", f"{engine} {month}", "has no rows")
        rows = sum(part.rows for part in manifest.rows)
        for part in manifest.rows:
            a_month.checked(store.folder, manifest, part)
        data = packed(job(store, engine, month))
        _write(store, result_path(job, engine, month), data)
    except (DamagedError, FileNotFoundError) as broken:
        failed, damaged = str(broken), True
    except Exception as broken:  # a month that fails must not stop the others; the entry says what it was
        failed = f"{type(broken).__name__}: {broken}"
    entry = Entry(
        engine=engine, month=month, inputs=inputs, result="" if failed else digest_of(data), bytes=len(data), rows=rows,
        seconds=round(time.monotonic() - begin, 4), processor=round(time.process_time() - processor, 4),
        peak=peak_memory(), failed=failed, damaged=damaged,
    )  # fmt: skip
    leave(store, job, entry)
    return entry


def leave(store: Store, job: Job, entry: Entry) -> None:
    """Write the entry of a month."""
    _write(store, entry_path(job, entry.engine, entry.month), json.dumps(asdict(entry), sort_keys=True).encode())


def results(store: Store, job: Job) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Yield engine, month and result of every month whose result stands, by name and time."""
    for engine in store.engines():
        for month in store.months(engine):
            if good_entry(store, job, engine, month):
                yield engine, month, unpacked(store.folder.read(result_path(job, engine, month)))


def packed(result: Result) -> bytes:
    """Return a result as bytes: NumPy's own archive, names sorted, without times; equal results give equal bytes."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as archive:
        for name in sorted(result):
            held = io.BytesIO()
            np.lib.format.write_array(held, np.asarray(result[name], order="C"), version=(1, 0), allow_pickle=False)
            archive.writestr(zipfile.ZipInfo(f"{name}.npy"), held.getvalue())
    return out.getvalue()


def unpacked(data: bytes) -> dict[str, Any]:
    """Return a result from its bytes."""
    with np.load(io.BytesIO(data), allow_pickle=False) as archive:
        return {name: archive[name] for name in archive.files}


def _write(store: Store, path: str, data: bytes) -> None:
    def write(local: Path) -> None:
        local.write_bytes(data)

    store.folder.write(path, write)


def peak_memory() -> int:
    """Return the most memory that this process has held, bytes; 0 where the system does not tell (not Linux).

    Not by ``getrusage``: what it gives a new process begins at its parent's.
    """
    try:
        status = Path("/proc/self/status").read_text(encoding="ascii")
    except OSError:
        return 0
    return next((1024 * int(line.split()[1]) for line in status.splitlines() if line.startswith("VmHWM")), 0)


def begin_worker(most: int, ciphers: Mapping[Path, Cipher]) -> None:
    """Begin a process that does jobs: bounded, and with what opens a locked home."""
    take_over(ciphers)
    limit_process(most)


def limit_process(most: int) -> None:
    """Let this process hold no more than ``most`` bytes of data, where the system can do that (Linux)."""
    if sys.platform.startswith("linux") and most:
        import resource

        resource.setrlimit(resource.RLIMIT_DATA, (most, most))
        os.environ["OMP_NUM_THREADS"] = "1"


def summarise(store: Store, engine: str, month: str) -> Result:
    """Return number, mean, standard deviation, lowest and highest of each channel of a month, counted from its rows."""
    manifest = store.manifest(engine, month)
    names = tuple(manifest.channels) if manifest else ()
    if manifest is None or not names:
        raise AsFoundError(f"{engine}, {month}: no numbers in this month.")
    whole = a_month.count(store.folder, manifest, names).total()
    return {
        "channels": np.array(names), "n": whole.n[:, 0], "mean": whole.mean()[:, 0],
        "deviation": whole.deviation()[:, 0], "low": whole.low[:, 0], "high": whole.high[:, 0],
    }  # fmt: skip


def count_month(store: Store, engine: str, month: str) -> Result:
    """Return the month's buckets of ten minutes, counted from its rows, and whether the kept buckets are the same."""
    manifest = store.manifest(engine, month)
    if manifest is None:
        raise AsFoundError(f"{engine}, {month}: no such month.")
    finest = a_month.count(store.folder, manifest, tuple(manifest.channels))
    same = all(
        a_month.level(store.folder, manifest, finest.channels, step, finest.first, len(coarser)).tobytes()
        == coarser.tobytes()
        for step in map(int, manifest.buckets)
        for coarser in (finest.coarser(step),)
    )
    return {"channels": np.array(finest.channels), "table": finest.table, "first": finest.first, "kept_are_same": same}
