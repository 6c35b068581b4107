"""`asfound time`: hours for the office that nobody can read off the engine: travel, waiting, writing."""

from __future__ import annotations

from asfound.cli.answer import answer
from asfound.cli.find import kept, opened, tail, view_of, writer
from asfound.cli.options import Hand


def time(
    visit: str,
    what: str,
    length: str,
    /,
    *,
    person: str = "",
    day: str = "",
    warranty: str = "",
    note: str = "",
    hand: Hand = Hand(),
) -> None:
    """Keep hours for a visit; it may be closed already. They stand on the time sheet: asfound report A2 --for office.

    asfound time A2 travel "2 h 30 min" --warranty asked

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    what
        travel, on_site, waiting, preparation, writing, other. Time on site that is typed takes the place of what the
        visit's own entries propose.
    length
        As 2 h 30 min, 2:30, 2.5 h or 45 min.
    person
        Whose hours they are, if not of who types.
    day
        Of which day, if not that of the visit: 2032-07-09.
    warranty
        Whether the warranty bears it: no, asked, agreed, refused.
    note
        What was done, distance, why.
    """
    from asfound.records.office_hours import keep_time

    records = opened(hand)
    seen = view_of(records, visit)
    entry = keep_time(
        records, seen, what, length, who=writer(hand, records), person=person, day=day, warranty=warranty, note=note
    )
    answer(hand, kept(entry), lambda: [f"Kept: {entry.content['minutes']:g} min of {what} for {seen.visit.name}, "
                                       f"{tail(entry.id)}"])  # fmt: skip
