"""What the hour meter of an engine was seen to show: which readings follow each other, the pace, the hours of today."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from asfound.errors import InputError
from asfound.quantities.days import day_text
from asfound.upkeep.pace import Pace, pace


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterSeen:
    """A reading of the hour meter, wherever in the record it stands."""

    day: date
    shown: float
    """As the meter showed it. [h]"""
    true: float
    """Running hours since the zero of the first meter. [h]"""
    source: str
    """``visit``, ``task_done``, ``oil_sample``, ``work_order``, ``failure``, ``meter_exchanged``."""
    entry: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterFault:
    """Two readings that cannot follow each other: an exchange is missing from the record, or one is wrong."""

    first: MeterSeen
    second: MeterSeen
    says: str
    more: int = 0
    """Later readings that go on from the second, and are left out with it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HoursNow:
    """True running hours today, 95 in 100; exact on the day of a reading. [h]"""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Metered:
    """Readings that follow each other, what does not, and the pace that they tell."""

    readings: tuple[MeterSeen, ...]
    faults: tuple[MeterFault, ...]
    pace: Pace | None
    refused: str = ""
    """Why they tell no pace, where no two of them contradict each other and yet it cannot be."""


def metered(seen: Sequence[MeterSeen]) -> Metered:
    """Return what readings in any order tell; their ``true`` must be worked out (`meters.true_hours`)."""
    kept, faults = sound_readings(seen)
    refused = ""
    try:
        speed = pace([(one.day, one.true) for one in kept])
    except InputError as wrong:  # several readings of one day can each follow, and not all of them
        speed, refused = None, str(wrong)
    return Metered(readings=tuple(kept), faults=tuple(faults), pace=speed, refused=refused)


def sound_readings(seen: Sequence[MeterSeen]) -> tuple[list[MeterSeen], list[MeterFault]]:
    """Return the readings that can follow each other, by day, and those that cannot, in words.

    Of two readings that contradict each other the later one is left out; what then fits goes on from the earlier.
    Readings that go on from one that was left out are left out with it, and told once: a meter that was exchanged and
    not noted gives one fault, however long ago it was.
    """
    kept: list[MeterSeen] = []
    lines: list[list[MeterSeen]] = []
    """Each begins with the reading kept before it; then those that go on from each other."""
    for one in sorted(seen, key=lambda each: (each.day, each.true)):
        if not kept or _can_follow(kept[-1], one):
            kept.append(one if not kept or one.true >= kept[-1].true else replace(one, true=kept[-1].true))
        elif (line := next((each for each in lines if _can_follow(each[-1], one)), None)) is not None:
            line.append(one)
        else:
            lines.append([kept[-1], one])
    return kept, [_fault(*line) for line in lines]


def _can_follow(last: MeterSeen, one: MeterSeen) -> bool:
    """Tell whether a reading can come after another; whole hours are written down: half an hour back is rounding."""
    return -0.5 <= one.true - last.true <= 24.0 * ((one.day - last.day).days + 1)


def _fault(last: MeterSeen, one: MeterSeen, *later: MeterSeen) -> MeterFault:
    """Return the fault of a reading that cannot follow the last that was kept, and of those that go on from it."""
    ran = one.true - last.true
    how = "falls" if ran < 0 else f"rises by {ran:,.0f} h in {(one.day - last.day).days} days"
    also = ""
    if later:
        goes = "reading goes on from there and is" if len(later) == 1 else "readings go on from there and are"
        also = f" {len(later)} later {goes} left out too."
    return MeterFault(first=last, second=one, more=len(later), says=(
        f"The hour meter {how}: {last.shown:,.0f} h on {day_text(last.day)}, {one.shown:,.0f} h on "
        f"{day_text(one.day)}.{also} A meter was exchanged or set back, or one of the two is wrong."
    ))  # fmt: skip


def hours_on(kept: Sequence[MeterSeen], speed: Pace | None, today: date) -> HoursNow | None:
    """Return the hours of a day: those read last, and what the pace adds since."""
    if not kept:
        return None
    last = kept[-1].true
    days = max(0, (today - kept[-1].day).days)
    low, middle, high = speed.hours_in(days) if speed is not None else (0.0, 0.0, 24.0 * days)
    return HoursNow(value=last + middle, low=last + low, high=last + high)
