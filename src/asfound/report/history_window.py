"""Which stretch of time a page of a log shows, and the addresses of the stretches beside it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo

from asfound.report.time_axis import DAY, SECOND, microseconds, moment, span_said

SPANS = {"year": 366 * DAY, "month": 31 * DAY, "week": 7 * DAY, "day": DAY}
SHORTEST = 60 * SECOND
AHEAD = 0.16
"""Share of all that is shown behind the end of the log, for what is to come."""
_SECONDS = re.compile(r"-?\d{7,12}$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A stretch of time, microseconds UTC."""

    start: int
    end: int
    zone: tzinfo
    named: str = ""
    """``all``, ``year`` ...: as it was asked for."""
    complaint: str = ""

    @property
    def said(self) -> str:
        """The stretch in words."""
        return span_said(self.start, self.end - 1, self.zone)

    @property
    def first_day(self) -> str:
        """For a field of a date."""
        return moment(self.start, self.zone).date().isoformat()

    @property
    def last_day(self) -> str:
        """For a field of a date: the last day that is wholly or partly inside."""
        return moment(self.end - 1, self.zone).date().isoformat()

    def query(self, start: int | None = None, end: int | None = None) -> str:
        """Return the stretch as it stands in an address."""
        if start is None and end is None and self.named:
            return f"span={self.named}"
        a, b = self.start if start is None else start, self.end if end is None else end
        return f"from={a // SECOND}&to={b // SECOND}"

    def moved(self, share: float) -> str:
        """Return the address of a stretch as long, moved by a share of itself."""
        by = int((self.end - self.start) * share)
        return self.query(self.start + by, self.end + by)

    def zoomed(self, factor: float) -> str:
        """Return the address of a stretch about the same middle, so many times as long."""
        middle, half = (self.start + self.end) // 2, max(int((self.end - self.start) * factor / 2), SHORTEST // 2)
        return self.query(middle - half, middle + half)


def window_of(typed: Mapping[str, str], span: tuple[int, int], zone: tzinfo = UTC, *, ahead: bool = True) -> Window:
    """Return the stretch that an address asks for; what cannot be read is said, and all is shown.

    Parameters
    ----------
    typed : mapping
        ``span``, or ``from`` and ``to``: dates, moments at the place's clock, or seconds since 1970.
    span : (int, int)
        Of the log.
    ahead : bool
        Show some time behind the end of the log.
    """
    first, last = span
    room = int((last - first) * AHEAD) if ahead else 0
    whole = Window(start=first, end=max(last + room, first + SHORTEST), zone=zone, named="all")
    named = typed.get("span", "")
    if named in SPANS:
        end = _moment(typed["to"], zone, last=True) if typed.get("to") else None
        until = min(end or last, last + SPANS[named])
        return Window(start=until - SPANS[named], end=until, zone=zone, named="" if typed.get("to") else named)
    if not (typed.get("from") or typed.get("to")):
        return whole
    start = _moment(typed["from"], zone, last=False) if typed.get("from") else first
    end = _moment(typed["to"], zone, last=True) if typed.get("to") else last
    if start is None or end is None:
        wrong = typed["from"] if start is None else typed["to"]
        said = f"'{wrong[:40]}' is no date: write it as 2032-07-08. All is shown."
        return Window(start=whole.start, end=whole.end, zone=zone, named="all", complaint=said)
    if end - start < SHORTEST:
        said = "The end is not after the beginning by a minute or more. All is shown."
        return Window(start=whole.start, end=whole.end, zone=zone, named="all", complaint=said)
    longest = 3 * (whole.end - whole.start)
    if end - start > longest:
        start, end = max(start, first - longest // 2), min(end, last + longest // 2)
    if end <= start or end < first - longest or start > last + longest:
        said = f"Nothing was logged then; the log goes from {span_said(first, last, zone)}. All is shown."
        return Window(start=whole.start, end=whole.end, zone=zone, named="all", complaint=said)
    return Window(start=start, end=end, zone=zone)


def _moment(text: str, zone: tzinfo, *, last: bool) -> int | None:
    """Return what was typed as microseconds; a bare date at the end means the end of that day."""
    said = text.strip()
    if _SECONDS.match(said):
        return int(said) * SECOND
    try:
        when = datetime.fromisoformat(said)
    except ValueError:
        return None
    when = when if when.tzinfo else when.replace(tzinfo=zone)
    if last and len(said) <= 10:
        when += timedelta(days=1)
    try:
        return microseconds(when)
    except OverflowError:
        return None
