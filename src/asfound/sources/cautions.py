"""Hazards of looking and working, with what to do: shown beside looks, tests and worksheets, never in place of site
rules.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from types import MappingProxyType

from asfound.errors import UnknownNameError
from asfound.sources.tables import load_yaml

ACTIVITIES = (
    "arrive",
    "identify",
    "read",
    "check_running",
    "check_stopped",
    "adjust",
    "emission_test",
    "troubleshoot",
    "replace",
    "software",
    "handover",
    "all",
)
DEFER = "The engine's own manual, the rules of the site, its permit and the law of the place come first."


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """A hazard, what to do about it, and the text it rests on."""

    id: str
    tag: str
    """Word that looks and tests use: ``hot``, ``hv``, ``loto`` ..."""
    hazard: str
    do: tuple[str, ...]
    cited: str
    cited_as: str
    """How the cited text was seen: ``verified``, ``secondary``, ``memory``, ``none`` (with more words)."""
    activities: tuple[str, ...]
    note: str = ""
    limits: Mapping[str, float] = field(default_factory=dict)

    @property
    def rests_on(self) -> str:
        """What it rests on and how that was seen; nothing more where there is no text to see."""
        return self.cited if self.cited_as == "none" else f"{self.cited} ({self.cited_as})"


@lru_cache(maxsize=1)
def cautions() -> Mapping[str, Caution]:
    """Return all cautions by id."""
    rows = load_yaml("asfound.sources", "data/cautions.yaml")["cautions"]
    return MappingProxyType({one.id: one for one in (_caution(row) for row in rows)})


def _caution(row: dict[str, object]) -> Caution:
    plain = {name: tuple(value) if isinstance(value, list) else value for name, value in row.items()}
    return Caution(**plain)  # type: ignore[arg-type]


def cautions_for(tags: Iterable[str] = (), activities: Iterable[str] = ()) -> tuple[Caution, ...]:
    """Return the cautions of these tags, then those of these activities, each once, in the order of the register.

    Parameters
    ----------
    tags : iterable of str
        ``hot``, ``hv``, ``gas`` ... (a look's ``hazards``) or ids (``CAU-05``).
    activities : iterable of str
        Of `ACTIVITIES`; a caution for ``all`` is included where any activity is asked for.

    Raises
    ------
    UnknownNameError
        A tag or activity that the register does not know.

    Examples
    --------
    >>> [one.id for one in cautions_for(tags=["hot"])]
    ['CAU-05']
    """
    known = cautions()
    wanted, doing = set(tags), set(activities)
    for tag in wanted:
        if tag not in known and tag not in {one.tag for one in known.values()}:
            raise UnknownNameError("caution", tag, {one.tag for one in known.values()})
    for activity in doing:
        if activity not in ACTIVITIES:
            raise UnknownNameError("activity", activity, ACTIVITIES)
    by_tag = [one for one in known.values() if one.tag in wanted or one.id in wanted]
    by_activity = [
        one
        for one in known.values()
        if one not in by_tag and doing and doing.union(("all",)).intersection(one.activities)
    ]
    return (*by_tag, *by_activity)


def tags() -> frozenset[str]:
    """Return the words that looks, tests and steps may use for their hazards."""
    return frozenset(one.tag for one in cautions().values())
