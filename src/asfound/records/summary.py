"""A visit in a few words for lists of many: what is believed, how many findings of which urgency, what comes next.

It follows from the view of the visit, which is worked out where it is not there, and is kept for the next start of the
program as long as nothing it rests on has changed.
"""

from __future__ import annotations

import hashlib
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from asfound.quantities.words import SEVERITIES
from asfound.records.kept_store import kept_store, program_stamp
from asfound.records.stamps import catalogue_stamp, closed_stamp, log_stamp
from asfound.records.standing import standing
from asfound.records.unit_system import units_stamp

if TYPE_CHECKING:
    from collections.abc import Sequence

    from asfound.records.store import Records
    from asfound.records.things import VisitRecord
    from asfound.records.visit import VisitView

WHAT = "visit in words 4"


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """What a list says of a visit."""

    believed: str = ""
    """Empty where nobody looked at what is fitted."""
    chance: float | None = None
    """Of the build named; None where nothing was weighed."""
    findings: tuple[tuple[str, int], ...] = ()
    """Severity and how many of those that still stand, as met."""
    first: str = ""
    """The most urgent of them that asks for a hand."""
    next: str = ""
    weighed: bool = False
    words: str = ""
    """How sure that is, in a word."""
    parts: tuple[tuple[str, str, str, float], ...] = ()
    """Builds that are believed: name, title, kind and probability, the likeliest first."""
    other: float = 0.0
    """Chance that it is in no catalogue."""
    points: tuple[dict[str, Any], ...] = ()
    """Open points that have a day: ``says``, ``due``, ``severity``."""

    @property
    def counts(self) -> list[tuple[str, int]]:
        """Findings by severity, the most urgent first."""
        found = dict(self.findings)
        return [(severity, found[severity]) for severity in SEVERITIES if found.get(severity)]

    @property
    def builds(self) -> tuple[Build, ...]:
        """Builds that are believed, the likeliest first."""
        return tuple(
            Build(name=name, title=title, kind=kind, probability=chance) for name, title, kind, chance in self.parts
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Build:
    """A build as a list speaks of it."""

    name: str
    title: str
    kind: str
    probability: float


def summary_of(view: VisitView) -> Summary:
    """Return the summary of a view that is at hand."""
    seen = view.identification
    counts: dict[str, int] = {}
    stands = standing(view)
    for one in stands:
        counts[one.severity] = counts.get(one.severity, 0) + 1
    return Summary(
        believed=(seen.short or seen.headline) if seen else "",
        chance=float(seen.builds[0].probability) if seen and seen.weighed else None,
        weighed=bool(seen and seen.weighed),
        words=str(seen.words) if seen else "",
        parts=tuple((one.name, one.title, one.kind, float(one.probability)) for one in seen.builds) if seen else (),
        other=float(seen.other) if seen else 0.0,
        findings=tuple(counts.items()),
        first=next((one.says for one in stands if one.severity != "note"), ""),
        next="" if view.sealed else view.next_thing.says,
        points=tuple(
            {name: str(one.content.get(name, "")) for name in ("says", "due", "severity")}
            for one in view.open_points
            if one.content.get("due") and not one.content.get("done") and one.id not in view.points_done
        ),
    )


def known_summaries(records: Records, visits: Sequence[VisitRecord]) -> dict[str, Summary]:
    """Return by visit the summaries that need no working out."""
    store = kept_store(records)
    if store is None or not visits:
        return {}
    rows = store.get(WHAT, {one.id: summary_key(records, one) for one in visits})
    found = {}
    for name, row in rows.items():
        try:
            findings = tuple((str(severity), int(count)) for severity, count in row["findings"])
            parts = tuple((str(one[0]), str(one[1]), str(one[2]), float(one[3])) for one in row["parts"])
            found[name] = Summary(**{**row, "findings": findings, "parts": parts, "points": tuple(row["points"])})
        except (TypeError, ValueError, KeyError):
            continue
    return found


def work_out_summary(records: Records, visit: VisitRecord) -> Summary:
    """Return the summary of a visit by its view, which keeps it."""
    from asfound.records.visit import view

    return summary_of(view(records, visit.id))


def keep_summary(records: Records, view: VisitView) -> None:
    """Keep the summary of a view for the next start."""
    store = kept_store(records)
    if store is not None:
        store.put(WHAT, view.id, summary_key(records, view.visit), asdict(summary_of(view)))


def summary_key(records: Records, visit: VisitRecord) -> str:
    """Return what changes whenever the summary of a visit may."""
    day = "" if visit.sealed else records.clock.now().date().isoformat()
    told = (
        program_stamp(), records.newest_of(visit.engine), records.newest_of(None), units_stamp(records), day,
        catalogue_stamp(records, records.engine(visit.engine)), closed_stamp(records, visit),
        log_stamp(records, visit.engine),
    )  # fmt: skip
    return hashlib.sha256(repr(told).encode("utf-8", "replace")).hexdigest()
