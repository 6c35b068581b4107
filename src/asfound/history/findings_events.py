"""Findings of stops, alarms, hours and hunting."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.history.events_words import tag_said, tags_said
from asfound.history.findings_trends import finding
from asfound.history.look_parts import EngineLook
from asfound.history.look_words import day_said, span_said
from asfound.quantities.words import Finding

RECENT = 180 * 86_400 * 1_000_000
"""Trips of half a year are told."""
SAME_AGAIN = 3
WIDE = 0.01
"""Ends of the availability further apart than this want reasons of stops."""


def find(look: EngineLook) -> Iterator[Finding]:
    """Yield them."""
    yield from _trips(look)
    yield from _alarms(look)
    events = look.events
    for one in events.counters:
        if one.time >= look.end - 2 * RECENT:
            yield finding(
                look, "HI-25",
                f"The hours counter went from {one.before / 3600:,.0f} h to {one.after / 3600:,.0f} h on "
                f"{day_said(one.time)}.",
                "soon", "Note the exchange of the meter, or due dates by hours are wrong.",
            )  # fmt: skip
    apart = events.availability.high - events.availability.low
    if apart >= WIDE:
        yield finding(
            look, "HI-24",
            f"Availability lies between {events.availability.low:.1%} and {events.availability.high:.1%}: of "
            f"{events.standing_hours:,.0f} hours of standing nobody says why; {events.unseen_hours:,.0f} hours were "
            "not logged.",
            "note", "Find the reasons of these stops in the work orders.",
        )  # fmt: skip
    for swing in look.hunting:
        if swing.leads in ("load", "speed") and swing.channel.startswith("engine_speed"):
            what = "the load swings and the governor follows" if swing.leads == "load" else "the speed swings first"
            then = (
                "Look at what is driven before the governor: its gains are not the cause."
                if swing.leads == "load"
                else "Look at governor, throttle linkage and mixture before the load."
            )
            yield finding(
                look, "HI-26", f"On {day_said(swing.start)}: {what}. {swing.says}", "soon", then, group="knock",
                leads=swing.leads,
            )  # fmt: skip


def _trips(look: EngineLook) -> Iterator[Finding]:
    trips = [one for one in look.events.trips if one.time >= look.end - RECENT]
    if not trips:
        return
    last = trips[-1]
    after = f"; after it came {tags_said(last.consequences[:4])}" if last.consequences else ""
    sure = "first was" if len(last.first_out) == 1 else "first, within one scan, were"
    yield finding(
        look, "HI-20", f"The last trip, on {day_said(last.time)}: {sure} {tags_said(last.first_out)}{after}.", "note",
        "Begin with the first: what came after it are consequences.", first_out=", ".join(last.first_out),
    )  # fmt: skip
    same = [one for one in trips if one.first_out == last.first_out]
    if len(same) >= SAME_AGAIN:
        yield finding(
            look, "HI-21",
            f"{len(same)} of the {len(trips)} trips of the last half year began with {tags_said(last.first_out)}.",
            "visit", "The same again: its cause was not taken away.", first_out=", ".join(last.first_out),
        )  # fmt: skip


def _alarms(look: EngineLook) -> Iterator[Finding]:
    bouts = [one for one in look.events.bouts if one.end >= look.end - RECENT]
    if bouts:
        worst = max(bouts, key=lambda one: one.raised)
        yield finding(
            look, "HI-22",
            f"{tag_said(worst.tag)} came and went {worst.raised} times, {span_said(worst.start, worst.end)}"
            + (f", and {len(bouts) - 1} more bouts" if len(bouts) > 1 else "") + ".",
            "soon", "Look at its switch, its set point and its delay: an alarm that chatters is not read.",
        )  # fmt: skip
    floods = [one for one in look.events.floods if one.end >= look.end - RECENT]
    if floods:
        last = floods[-1]
        yield finding(
            look, "HI-23",
            f"{last.alarms} alarms on {day_said(last.start)}, up to {last.peak} in ten minutes: too many to answer.",
            "note", "Take the first of them; the rest want suppression by the state of the engine.",
        )  # fmt: skip
