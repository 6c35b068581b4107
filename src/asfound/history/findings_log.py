"""Findings of sensors and of the log itself: what stands still, jumps, changes its unit; gaps; clocks."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.history.channels import split_channel, titled
from asfound.history.findings_trends import finding
from asfound.history.look_parts import EngineLook, SensorFault
from asfound.history.look_words import day_said, span_said
from asfound.quantities.words import Finding, Severity

WORDS = {
    "stuck": "shows the same number", "spike": "jumps for single samples", "unit_change": "changes its unit",
    "gauge_absolute": "changes between gauge and absolute", "twins_apart": "parts from its twin",
    "left_group": "left its own habit in its group", "coarse": "is kept in coarse steps",
    "at_limit": "ends at the limit of its range",
}  # fmt: skip
CODES = {
    "stuck": "HI-10", "spike": "HI-11", "unit_change": "HI-12", "gauge_absolute": "HI-12", "twins_apart": "HI-13",
    "left_group": "HI-14", "coarse": "HI-15", "at_limit": "HI-16",
}  # fmt: skip
STEPS = {
    "stuck": "Disturb the sensor (unplug, warm it) and see whether its number moves; then wiring and input.",
    "spike": "Look at plugs, screens and earth of its cable.",
    "unit_change": "Take the import back and say in its mapping from when on another unit holds.",
    "gauge_absolute": "Take the import back and say in its mapping what is absolute; at rest it shows which.",
    "twins_apart": "Hold both against a third instrument: one cannot tell which of the two moved.",
    "left_group": "Exchange two sensors, or read with another instrument, to tell sensor from cylinder or bearing.",
    "coarse": "Drifts below that step cannot be seen: another input, or another scaling of the logger.",
    "at_limit": "What lies beyond is not seen. Read with another instrument; a sensor with a wider range.",
}
QUIET = {"spike": 5}
"""Single jumps in a log of years are told from this many on."""
ONLY_OPEN = ("stuck", "left_group", "twins_apart")
GAP = 86_400.0
"""Holes of a day and more are told. [s]"""
FOLDED = 3
RECENT = 90 * 86_400 * 1_000_000


def find(look: EngineLook) -> Iterator[Finding]:
    """Yield them."""
    for kind, code in CODES.items():
        found = [one for one in look.faults if one.kind == kind]
        if kind in ONLY_OPEN:
            found = [one for one in found if one.end >= look.end - RECENT]
        if len(found) >= QUIET.get(kind, 1):
            yield from _faults(look, code, kind, found)
    gaps = [one for one in look.faults if one.kind == "gap" and (one.end - one.start) / 1e6 >= GAP]
    if gaps:
        days = sum(one.end - one.start for one in gaps) / 86_400e6
        told = "; ".join(span_said(one.start, one.end) for one in gaps[-3:])
        yield finding(
            look, "HI-17", f"The log has {_gaps(len(gaps))} of a day and more, {days:.0f} days in all: {told}.", "note",
            "Ask for the missing files: a file that comes later fills its gap.",
        )  # fmt: skip
    for clock in look.clocks:
        yield finding(
            look, "HI-18", clock.says, "soon",
            "Take the import back, and take the files in again with the clock put right; set the clock of the logger.",
        )  # fmt: skip


def _faults(look: EngineLook, code: str, kind: str, found: list[SensorFault]) -> Iterator[Finding]:
    channels = list(dict.fromkeys(one.channel for one in found))
    if len(channels) <= FOLDED and kind in ONLY_OPEN:
        for channel in channels:
            one = [fault for fault in found if fault.channel == channel][-1]
            until = "still" if one.open else f"until {day_said(one.end)}"
            says = f"{titled(channel)} {WORDS[kind]} since {day_said(one.start)}, {until}: {one.says}."
            severity: Severity = "visit" if one.open and kind == "stuck" else "soon" if one.open else "note"
            yield finding(
                look, code, says, severity, STEPS[kind], group="exhaust" if "exhaust" in channel else "",
                channel=channel, quantity=split_channel(channel)[0], place=split_channel(channel)[1],
            )  # fmt: skip
        return
    names = ", ".join(titled(one) for one in channels[:4]) + (
        f" and {len(channels) - 4} more" if len(channels) > 4 else ""
    )
    first, last = min(one.start for one in found), max(one.end for one in found)
    open_ = any(one.open for one in found)
    yield finding(
        look, code, f"{names}: {WORDS[kind]}, {span_said(first, last)}: {found[-1].says}.",
        "soon" if open_ and kind != "coarse" else "note", STEPS[kind],
        channel=channels[0] if len(channels) == 1 else "",
    )  # fmt: skip


def _gaps(number: int) -> str:
    return "one gap" if number == 1 else f"{number} gaps"
