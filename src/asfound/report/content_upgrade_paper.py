"""One page for the manager: content of ``manager.typ``."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

from asfound.errors import RecordError
from asfound.report.content_due_words import day_text
from asfound.report.content_upgrade import UpgradeShown, upgrade_shown
from asfound.report.marks import house_sign
from asfound.report.tornado import tornado
from asfound.report.wording import plain

if TYPE_CHECKING:
    from asfound.records.things import EngineRecord
    from asfound.records.upgrade_of_engine import UpgradeOfEngine

WIDE = 672.0
"""Width of the picture. [px]"""


def manager_content(found: UpgradeOfEngine, engine: EngineRecord, day: date) -> dict[str, Any]:
    """Return what the sheet says; JSON-ready.

    Raises
    ------
    RecordError
        There is no study of this engine, or no way to the target.
    """
    shown = upgrade_shown(found)
    if shown.problem or shown.case is None or shown.chosen is None:
        why = shown.problem or "There is no way to this target, so nothing to pay for."
        raise RecordError(f"No page for the manager can be set. {why}")
    site = engine.site
    where = f", {site.name}" if site else ""
    case = shown.case
    content = {
        "tag": engine.tag,
        "owner": str(site.content.get("owner") or site.name) if site else "",
        "works": f"tag {engine.tag}",
        "people": "",
        "title": f"Upgrade of {engine.tag}{where}: {shown.chosen.title}",
        "visit_line": f"{engine.tag}{where}, {day_text(day, year=True)}",
        "visit_day": day_text(day, year=True),
        "date": [day.year, day.month, day.day],
        "signs": {"house_svg": house_sign(size=26, paper=True)},
        "headline": f"{engine.tag} to {shown.chosen.title}",
        "says": [f"{case.headline}.", *case.says[1:]],
        "fits": ""
        if case.fits
        else "The assumptions were written for another target: what is assumed to be gained may not hold for this one.",
        "figures": [list(one) for one in case.figures],
        "targets": [
            [one.title + (" (this page)" if one.chosen else ""), one.cost, one.range, one.stops, one.changes,
             one.outage]
            for one in shown.targets
        ],
        "money": shown.money,
        "way": _way(shown),
        "looks": list(shown.looks),
        "follows": _follows(shown),
        "lines": [list(one) for one in case.lines],
        "assumptions": [[one.title, one.best, one.range, one.source, one.unit] for one in case.assumptions],
        "none_counted": list(case.none_counted),
        "not_counted": list(case.not_counted),
        "flips": [title for title, _, within in case.flips if within],
        "convention": case.convention,
        "svg": tornado(width=WIDE, paper=True, **case.picture) if case.picture else "",
        "alt": case.picture["label"] if case.picture else "",
    }  # fmt: skip
    checked: dict[str, Any] = plain(content)
    return checked


def _way(shown: UpgradeShown) -> list[str]:
    return [f"{stop.title} ({stop.minutes}): {'; '.join(one.title for one in stop.steps)}." for stop in shown.stops]


def _follows(shown: UpgradeShown) -> list[str]:
    """Return what comes off, and of papers and skills how many; the page of the study has their names."""
    off = "; ".join(f"{title} ({fate})" for title, fate, _ in shown.leaves)
    counts = ", ".join(f"{title[:1].lower()}{title[1:]} {len(rows)}" for title, rows in shown.follows)
    return [f"Comes off: {off}." if off else "", f"What follows, by number: {counts}." if counts else ""]
