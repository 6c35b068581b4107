"""Alarm lists of engines, kept beside their logs: each list as it came, by the digest of its bytes."""

from __future__ import annotations

import json

from asfound.history.events import AlarmLog, log_of_lines
from asfound.history.manifest import digest_of, engine_path
from asfound.history.store import Store

FOLDER = ".alarms"


def add_list(store: Store, engine: str, text: str, source: str, offsets: dict[str, float] | None = None) -> str:
    """Keep an alarm list of an engine and return its digest; the same list again changes nothing.

    Parameters
    ----------
    text : str
        CSV with a head; see `read_alarm_log`.
    source : str
        What the import was called: with it the list is taken out again.
    offsets : dict, optional
        Seconds by which each of its controllers' clocks is ahead.

    Raises
    ------
    InputError
        It cannot be read as an alarm list.
    """
    log_of_lines(text.splitlines(), source)
    kept = {"source": source, "offsets": dict(sorted((offsets or {}).items())), "text": text}
    data = json.dumps(kept, ensure_ascii=False, sort_keys=True).encode()
    digest = digest_of(data)
    store.folder.create(f"{_place(engine)}/{digest}.json", data)
    return digest


def alarms_of(store: Store, engine: str) -> AlarmLog | None:
    """Return all alarm lists of an engine as one, equal lines once, clocks put right; None where there is none."""
    rows: set[tuple[int, str, str, str, str]] = set()
    names = digests(store, engine)
    for name in names:
        kept = json.loads(store.folder.read(f"{_place(engine)}/{name}.json"))
        log = log_of_lines(kept["text"].splitlines(), kept["source"]).shifted(kept["offsets"])
        columns = (log.source.array(), log.tag.array(), log.state.array(), log.kind.array())
        rows |= set(zip(log.time.tolist(), *columns, strict=True))
    return AlarmLog.of(sorted(rows)) if names else None


def digests(store: Store, engine: str) -> tuple[str, ...]:
    """Return what tells whether the lists of an engine have changed."""
    names = store.folder.names(_place(engine))
    return tuple(name.removesuffix(".json") for name in names if name.endswith(".json") and not name.startswith("."))


def withdraw_lists(store: Store, engine: str, source: str) -> int:
    """Take the lists of a source out; return how many."""
    count = 0
    for name in digests(store, engine):
        path = f"{_place(engine)}/{name}.json"
        if json.loads(store.folder.read(path))["source"] == source:
            store.folder.remove(path)
            count += 1
    return count


def _place(engine: str) -> str:
    return f"{FOLDER}/{engine_path(engine)}"
