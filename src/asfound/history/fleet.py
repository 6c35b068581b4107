"""A job on every month of every engine, on the processes of one machine; ``fleet_dask`` does the same on a cluster.

The ledger on disk says what is done, so a run that was broken off goes on where it was, and one that is repeated does
only months whose rows changed. A worker that is killed costs the month it was at; that month is tried again, alone.
"""

from __future__ import annotations

import multiprocessing
from collections.abc import Iterable
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass

from asfound.history.jobs import Entry, Job, begin_worker, do, good_entry, inputs_of, leave
from asfound.history.locked import given
from asfound.history.store import Store

Month = tuple[str, str]
ATTEMPTS = 2
"""Times that a month may end a worker that does nothing else before it counts as failed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """What a run did: entries of the months done now, those whose result stood already, and those that failed."""

    done: tuple[Entry, ...]
    stood: tuple[Entry, ...]
    failed: tuple[Entry, ...]

    @property
    def complete(self) -> bool:
        """Whether every month has its result."""
        return not self.failed


def months_of(store: Store, engines: Iterable[str] | None, months: Iterable[str] | None) -> list[Month]:
    """Return the months asked for, those of all engines where nothing is said."""
    wanted = None if months is None else set(months)
    return [
        (engine, month)
        for engine in (store.engines() if engines is None else engines)
        for month in store.months(engine)
        if wanted is None or month in wanted
    ]


def still_to_do(store: Store, job: Job, months: Iterable[Month]) -> tuple[list[Entry], list[Month]]:
    """Return the entries that stand, and the months to do."""
    stood, to_do = [], []
    for engine, month in months:
        entry = good_entry(store, job, engine, month)
        if entry:
            stood.append(entry)
        else:
            to_do.append((engine, month))
    return stood, to_do


def run(
    store: Store, job: Job, *, engines: Iterable[str] | None = None, months: Iterable[str] | None = None,
    workers: int = 2, memory: str = "512MB", most: int = 0,
) -> Run:  # fmt: skip
    """Do a job on every month that has not its result yet.

    Parameters
    ----------
    workers : int
        Processes; 0 does all in this one.
    memory : str
        What DuckDB may hold in each worker.
    most : int
        Bytes of data that a worker may hold in all (Linux; 0: no bound). A month that needs more fails alone.
    """
    stood, to_do = still_to_do(store, job, months_of(store, engines, months))
    if workers < 1:
        entries = [do(store.where, job, engine, month, memory) for engine, month in to_do]
    else:
        entries, broken = _in_processes(store, job, to_do, workers, memory, most)
        entries += [_alone(store, job, one, memory, most) for one in broken]
    return sorted_run(entries, stood)


def sorted_run(entries: Iterable[Entry], stood: Iterable[Entry]) -> Run:
    """Return a run by engine and month."""
    ordered = sorted(entries, key=lambda entry: (entry.engine, entry.month))
    return Run(
        done=tuple(entry for entry in ordered if not entry.failed), stood=tuple(stood),
        failed=tuple(entry for entry in ordered if entry.failed),
    )  # fmt: skip


def _pool(workers: int, most: int) -> ProcessPoolExecutor:
    spawn = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(workers, mp_context=spawn, initializer=begin_worker, initargs=(most, given()))


def _in_processes(
    store: Store, job: Job, to_do: list[Month], workers: int, memory: str, most: int
) -> tuple[list[Entry], list[Month]]:
    """Return the entries, and the months that were at work when a worker died."""
    waiting, suspects, entries = list(reversed(to_do)), list[Month](), list[Entry]()
    while waiting:
        at_work: dict[Future[Entry], Month] = {}
        with _pool(min(workers, len(waiting)), most) as pool:
            try:
                while waiting or at_work:
                    while waiting and len(at_work) < workers:  # no more than are at work: few are suspected of a death
                        one = waiting.pop()
                        at_work[pool.submit(do, store.where, job, *one, memory)] = one
                    for future in wait(at_work, return_when=FIRST_COMPLETED).done:
                        entries.append(future.result())
                        del at_work[future]
            except BrokenProcessPool:
                suspects += at_work.values()
    return entries, suspects


def _alone(store: Store, job: Job, month: Month, memory: str, most: int) -> Entry:
    """Do a month in a process that does nothing else, so that its death is this month's."""
    entry = good_entry(store, job, *month)
    if entry:
        return entry
    for _ in range(ATTEMPTS):
        with _pool(1, most) as pool:
            try:
                return pool.submit(do, store.where, job, *month, memory).result()
            except BrokenProcessPool:
                continue
    return worker_died(store, job, month, ATTEMPTS)


def worker_died(store: Store, job: Job, month: Month, times: int) -> Entry:
    """Leave and return the entry of a month that ends its worker."""
    engine, name = month
    entry = Entry(
        engine=engine, month=name, inputs=inputs_of(store, job, engine, name),
        failed=f"the worker died {times} times at this month alone: killed, or out of memory",
    )  # fmt: skip
    leave(store, job, entry)
    return entry
