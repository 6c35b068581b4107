"""How many published values of a room were recomputed by this program on this machine, and which it missed.

Recomputing takes seconds, and gives the same as long as neither program nor machine is another. So the outcome is kept
in this user's folder for what can be made again; where a value was missed nothing is kept.
"""

from __future__ import annotations

import contextlib
import json
import platform
import secrets
from functools import cache
from pathlib import Path

from asfound.history.disk import put_in_place

NAME = "proved.json"


@cache
def proved(room: str) -> tuple[int, tuple[str, ...]]:
    """Return how many values were recomputed, and the names of those missed."""
    kept = _kept()
    if room in kept:
        return kept[room], ()
    from asfound.sources.prove import checks_of

    checks = tuple(checks_of(room))
    missed = tuple(one.check for one in checks if not one.holds)
    if not missed:
        _keep(room, len(checks))
    return len(checks), missed


def _stamp() -> str:
    """Return what tells program and machine from another."""
    import numpy as np

    from asfound.records.kept_store import program_stamp

    return f"{program_stamp()}/{np.__version__}/{platform.python_version()}/{platform.machine()}/{platform.node()}"


def _path() -> Path:
    import platformdirs

    return Path(platformdirs.user_cache_dir("asfound", appauthor=False)) / NAME


def _kept() -> dict[str, int]:
    try:
        found = json.loads(_path().read_text(encoding="utf-8"))
        return {str(room): int(count) for room, count in found["rooms"].items()} if found["of"] == _stamp() else {}
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return {}


def _keep(room: str, count: int) -> None:
    """Keep a count; where there is no folder for it, it is worked out again the next time."""
    path = _path()
    with contextlib.suppress(OSError):
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        made = path.with_name(f".{NAME}.{secrets.token_hex(4)}")
        made.write_text(json.dumps({"of": _stamp(), "rooms": {**_kept(), room: count}}), encoding="utf-8")
        put_in_place(made, path)
