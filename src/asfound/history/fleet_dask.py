"""The same jobs on a Dask cluster (extra ``fleet``): same ledger, same results to the byte.

The store must lie where every worker reaches it: a shared folder, or a URL. Where a worker dies, Dask gives its month
to another; a month at which workers keep dying is left as failed. Memory is bounded where the cluster is made.
"""

from __future__ import annotations

import secrets
from collections.abc import Iterable
from typing import Any

from asfound.errors import AsFoundError
from asfound.history.fleet import Run, months_of, sorted_run, still_to_do, worker_died
from asfound.history.jobs import Entry, Job, do
from asfound.history.store import Store


def run_on_dask(
    store: Store, job: Job, client: Any, *, engines: Iterable[str] | None = None, months: Iterable[str] | None = None,
    memory: str = "512MB", at_once: int = 1000,
) -> Run:  # fmt: skip
    """Do a job on every month that has not its result yet, on the workers of ``client`` (``distributed.Client``).

    ``at_once``: months handed over before the first are back, so that the scheduler stays small for a large fleet.
    """
    try:
        import dask
        from distributed import KilledWorker, as_completed
    except ImportError as missing:
        raise AsFoundError("a run on Dask needs the extra 'fleet': pip install asfound[fleet].") from missing
    stood, to_do = still_to_do(store, job, months_of(store, engines, months))
    waiting, this_run = iter(to_do), secrets.token_hex(4)  # Dask keeps results by key: this run asks anew

    def hand_over(engine: str, month: str) -> Any:
        return client.submit(
            do, store.where, job, engine, month, memory, pure=False, key=f"{job.name}/{engine}/{month}/{this_run}"
        )

    first = {hand_over(*one): one for one, _ in zip(waiting, range(at_once), strict=False)}
    at_work, entries = dict(first), list[Entry]()
    back: Any = as_completed(list(first))  # type: ignore[no-untyped-call]
    for future in back:
        month = at_work.pop(future)
        try:
            entries.append(future.result())
        except KilledWorker:
            entries.append(
                worker_died(store, job, month, 1 + int(dask.config.get("distributed.scheduler.allowed-failures")))
            )
        following = next(waiting, None)
        if following:
            more = hand_over(*following)
            at_work[more] = following
            back.add(more)
    return sorted_run(entries, stood)
