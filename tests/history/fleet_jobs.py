"""Jobs that misbehave, for the tests of a fleet: importable by worker processes."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path

import numpy as np

from asfound.history.jobs import summarise


def noted(store, engine, month, notes, pause=0.0):
    """Summarise, and note who did it."""
    (Path(notes) / f"{engine} {month} {time.monotonic_ns()}").write_text(str(os.getpid()))
    time.sleep(pause)
    return summarise(store, engine, month)


def dies_once(store, engine, month, notes, at):
    """Be killed at one month, the first time."""
    marker = Path(notes) / "died"
    if month == at and not marker.exists():
        marker.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return noted(store, engine, month, notes)


def dies_always(store, engine, month, notes, at):
    """Be killed at one month, whenever."""
    if month == at:
        os.kill(os.getpid(), signal.SIGKILL)
    return noted(store, engine, month, notes)


def fails(store, engine, month, at):
    """Raise at one month."""
    if month == at:
        raise ValueError("no turning point found")
    return summarise(store, engine, month)


def hungry(store, engine, month, at):
    """Ask for more memory than a worker may hold, at one month."""
    if month == at:
        return {"held": np.ones(200_000_000)}
    return summarise(store, engine, month)
