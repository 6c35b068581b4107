"""What a log says, in words: changes with since when and how sure, events, hours, sensors, and what visits did."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from asfound.history.events_words import tag_said, tags_said
from asfound.history.load_words import held_says
from asfound.history.look_words import came_with, effect_says, level, move, says_of
from asfound.quantities.display import chance, number_text
from asfound.report.content_history_channels import channel_of
from asfound.report.content_history_headline import headline_of
from asfound.report.time_axis import day_said, span_said, time_said
from asfound.report.wording import System, day_words

if TYPE_CHECKING:
    from datetime import tzinfo

    from asfound.history.look_parts import (
        EffectSeen,
        EngineLook,
        EventsSeen,
        Indicator,
        Interval,
        SensorFault,
        StepSeen,
    )

KINDS = {"drift": "Drift", "step": "Step", "both": "Drift and step", "none": "Still", "unknown": "Not known"}
SIGNS = {"beyond": "visit", "near": "visit", "moves": "soon", "still": "note", "unknown": "note"}
JUDGED = {
    "beyond": "beyond its limit",
    "near": "near its limit",
    "moves": "moves",
    "still": "as always",
    "unknown": "not known",
}
VERDICTS = {
    "worked": "It worked",
    "likely": "Likely worked",
    "not enough": "Not enough",
    "worse": "Worse",
    "moved": "Moved",
    "cannot be told": "Cannot be told",
}
FAULTS = {
    "stuck": "Stuck", "spike": "Spikes", "gap": "Gap", "unit_change": "Unit changed",
    "gauge_absolute": "Gauge or absolute", "twins_apart": "Twins apart", "left_group": "Left its group",
    "at_limit": "At the end of its range", "coarse": "Coarse steps",
}  # fmt: skip
STATES = {
    "service": "running", "forced": "forced stop", "planned": "planned stop", "maintenance": "maintenance",
    "reserve": "ready, not asked for", "standing": "stood, nobody said why", "unseen": "not seen",
}  # fmt: skip
_DATE = re.compile(r"(?<![\w/])\d{4}-\d\d-\d\d(?!\w)")
_MINUS = re.compile(r"(?<![\w−])-(?=\d)")
MOST = 12
TOLD = 0.5
"""A step less probable than this was not told by its own weight: a visit or a work order lies there."""
"""Rows shown before the rest is folded."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeRow:
    """One line of the table of changes."""

    kind: str
    sign: str
    title: str
    channel: str
    when: str
    interval: str
    how_much: str
    sure: str
    says: str
    looks_at: str
    forecast: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultRow:
    """One fault of a sensor or its log."""

    kind: str
    title: str
    channel: str
    when: str
    says: str
    open: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Tables:
    """All of them."""

    headline: tuple[str, ...] = ()
    changes: tuple[ChangeRow, ...] = ()
    still: tuple[tuple[str, str, str], ...] = ()
    """Title, value now, words: what did not move."""
    faults: tuple[FaultRow, ...] = ()
    trips: tuple[tuple[str, str, str, str], ...] = ()
    floods: tuple[tuple[str, str], ...] = ()
    bouts: tuple[tuple[str, str, int], ...] = ()
    frequent: tuple[tuple[str, int], ...] = ()
    hours: tuple[tuple[str, str], ...] = ()
    counters: tuple[str, ...] = ()
    effects: tuple[tuple[str, tuple[tuple[str, str, str, str], ...]], ...] = ()
    """By visit: title, difference with interval, verdict, words."""
    hunting: tuple[str, ...] = ()
    loads: tuple[str, ...] = ()
    clocks: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    has_alarms: bool = False
    worked_out: str = ""
    counts: dict[str, int] = field(default_factory=dict)


def worded(text: str) -> str:
    """Return a sentence with its dates written out and its minus signs true.

    >>> worded("falls, -1.2 % since 2032-04-14")
    'falls, −1.2 % since 14 April 2032'
    """
    dated = _DATE.sub(lambda found: day_words(found[0]), text)
    return _MINUS.sub("−", dated)


def tables_of(look: EngineLook, system: System, zone: tzinfo) -> Tables:
    """Return every table of a look."""
    changes = [row for one in look.indicators for row in _changes(one, system, zone)]
    order = {"visit": 0, "soon": 1, "note": 2}
    changes.sort(key=lambda row: order[row.sign])
    return Tables(
        headline=headline_of(look, system),
        changes=tuple(changes),
        still=tuple(_still(one, system) for one in look.indicators if one.judged in ("still", "unknown")),
        faults=tuple(_fault(one, system, zone) for one in sorted(look.faults, key=lambda f: (not f.open, -f.end))),
        trips=tuple(
            (time_said(one.time, zone), tags_said(one.first_out, " or ") or "not told",
             tags_said(one.consequences) or "none", _hours(one.hours_down)) for one in reversed(look.events.trips)
        ),
        floods=tuple(
            (span_said(one.start, one.end, zone), f"{one.alarms:,} alarms, {one.peak} in the worst ten minutes")
            for one in reversed(look.events.floods)
        ),
        bouts=tuple(
            (tag_said(one.tag), span_said(one.start, one.end, zone), one.raised) for one in reversed(look.events.bouts)
        ),
        frequent=tuple((tag_said(tag), count) for tag, count in look.events.most_frequent),
        hours=_hours_of(look.events),
        counters=tuple(
            f"{day_said(one.time, zone)}: the counter went from {one.before / 3600:,.0f} to {one.after / 3600:,.0f} h."
            for one in look.events.counters
        ),
        effects=tuple(
            (one.name, tuple(_effect(effect, look, system) for effect in one.effects)) for one in reversed(look.visits)
        ),
        loads=tuple(worded(held_says(one, system)) for one in reversed(look.loads)),
        hunting=tuple(worded(one.says) for one in look.hunting if one.says),
        clocks=tuple(worded(one.says) for one in look.clocks if one.says),
        notes=tuple(map(worded, look.notes)),
        has_alarms=look.events.has_alarms,
        worked_out=f"Worked out on {look.rows:,} rows up to {day_said(look.end, zone)}.",
    )  # fmt: skip


def effects_of(look: EngineLook | None, visit: str, system: System) -> tuple[tuple[str, str, str, str], ...]:
    """Return what a visit did, by what a look tells: title, difference with interval, verdict, words."""
    seen = next((one for one in look.visits if one.name == visit), None) if look is not None else None
    if look is None or seen is None:
        return ()
    return tuple(_effect(effect, look, system) for effect in seen.effects)


def _changes(one: Indicator, system: System, zone: tzinfo) -> list[ChangeRow]:
    found = []
    sign = SIGNS.get(one.judged, "note")
    forecast = worded(one.reach.says) if one.reach is not None and one.judged in ("near", "beyond", "moves") else ""
    if one.judged in ("beyond", "near", "moves") and one.kind in ("drift", "both", "none", "unknown"):
        much, interval = move(one, one.moved, system)
        slope, _ = move(one, one.slope, system)
        began = one.began
        if began is not None:
            when, span = f"from {day_said(began.time, zone)}", span_said(began.earliest, began.latest, zone)
        else:
            when, span = (f"since {day_said(one.moved_from, zone)} or before", "") if one.moved_from else ("", "")
        sure = one.odds.get(one.kind)
        drifts = one.kind in ("drift", "both")
        found.append(
            ChangeRow(
                kind="Drift" if drifts else "Level",
                sign=sign,
                title=one.title,
                channel=one.channel,
                when=when,
                interval=span,
                how_much=(f"{much} ({interval})" if interval else much) + (f"; {slope} in 1,000 h" if drifts else ""),
                sure=chance(sure) if sure is not None else "",
                says=says_of(one, system),
                looks_at=one.sees,
                forecast=forecast,
            )
        )
    for step in one.steps:
        much, interval = move(one, step.size, system)
        sure = one.odds.get("step", 0.0) + one.odds.get("both", 0.0)
        found.append(
            ChangeRow(
                kind="Step",
                sign="note" if step.visit else sign,
                title=one.title,
                channel=one.channel,
                when=day_said(step.time, zone),
                interval=span_said(step.earliest, step.latest, zone),
                how_much=f"{much} ({interval})" if interval else much,
                sure=chance(sure) if sure >= TOLD else "",  # one that a visit or a work order made is not weighed
                says=_reason(step),
                looks_at="" if step.visit else one.sees,
            )
        )
    return found


def _still(one: Indicator, system: System) -> tuple[str, str, str]:
    if not one.now.known:
        return one.title, "", one.says or "Too little was logged."
    return one.title, level(one, one.now.value, system), says_of(one, system)


def _reason(step: StepSeen) -> str:
    """Say what was done about the day of a step, where the record has it."""
    found = came_with(step)
    return f"With {found}." if found else "No visit then, and no work order."


def _fault(one: SensorFault, system: System, zone: tzinfo) -> FaultRow:
    ends = span_said(one.start, one.end, zone)
    return FaultRow(
        kind=FAULTS.get(one.kind, one.kind.replace("_", " ").capitalize()),
        title=channel_of(one.channel, system).title if one.channel else "All",
        channel=one.channel,
        when=f"since {day_said(one.start, zone)}" if one.open else ends,
        says=worded(one.says),
        open=one.open,
    )


def _hours(value: float) -> str:
    return f"{value:,.1f} h" if math.isfinite(value) else "not told"


def _percent(value: Interval) -> str:
    if not value.known:
        return "not known"
    said = f"{100 * value.value:.1f} %"
    same = abs(value.high - value.low) < 5e-4
    return said if same else f"{said} ({100 * value.low:.1f} to {100 * value.high:.1f} %)"


def _hours_of(events: EventsSeen) -> tuple[tuple[str, str], ...]:
    found = [
        ("Hours run", _hours(events.service_hours)),
        ("Hours of the log", _hours(events.period_hours)),
        ("Hours not seen", _hours(events.unseen_hours)),
        ("Stood, nobody said why", _hours(events.standing_hours)),
        ("Starts", f"{events.starts:,}"),
        ("Availability", _percent(events.availability)),
        ("Forced outage rate", _percent(events.forced_outage_rate)),
    ]
    if math.isfinite(events.alarms_per_day):
        found.append(("Alarms a day", number_text(events.alarms_per_day, 3)))
    return tuple(one for one in found if one[1] not in ("not told", "not known"))


def _effect(one: EffectSeen, look: EngineLook, system: System) -> tuple[str, str, str, str]:
    seen = look.indicator(one.key)
    much, interval = move(seen, one.difference, system) if seen is not None else ("", "")
    verdict = VERDICTS.get(one.verdict, one.verdict)
    return one.title, f"{much} ({interval})" if interval else much, verdict, effect_says(one, seen, system)
