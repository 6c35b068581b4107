"""Where something may clash: engines and visits that are worth reading for it, found by a few statements.

Each rule takes in all places where `conflicts` finds something, and few besides; a home of thousands of visits need not
be read to learn that nothing waits in it.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from sqlalchemy import func, select

from asfound.records.tables import ENTRIES

if TYPE_CHECKING:
    from collections.abc import Iterable

    from sqlalchemy import Connection

    from asfound.records.rows import Rows

Place = tuple[str | None, str | None]
"""Engine and visit; no visit: the engine outside its visits; neither: the home."""
MANY = 500
"""Identifiers in one statement."""
_GROUP = (ENTRIES.c.engine, ENTRIES.c.visit)
_DEVICES = func.count(ENTRIES.c.device.distinct())


def clash_places(rows: Rows) -> frozenset[Place]:
    """Return the places in which something may clash."""
    addenda = {one.id for one in rows.of_kind("addendum")}
    with rows.database.reading() as connection:
        listed, spoiled = _seals(connection)
        return frozenset(
            (
                *_corrected_twice(connection),
                *spoiled,
                *_not_under_one_seal(connection, listed, addenda),
                *_read_twice(connection, set(listed)),
            )
        )


def _corrected_twice(connection: Connection) -> list[Place]:
    """Return where several entries name one that they put right or take back."""
    found = select(*_GROUP).where(ENTRIES.c.corrects.is_not(None)).group_by(ENTRIES.c.corrects, *_GROUP)
    return [(row[0], row[1]) for row in connection.execute(found.having(func.count() > 1))]


def _seals(connection: Connection) -> tuple[dict[str, list[tuple[str, set[str]]]], list[Place]]:
    """Return by visit its seals with what each lists, by identifier; and where one lies that cannot be read."""
    listed: dict[str, list[tuple[str, set[str]]]] = {}
    spoiled: list[Place] = []
    chosen = select(*_GROUP, ENTRIES.c.id, ENTRIES.c.content).where(ENTRIES.c.kind == "sealed").order_by(ENTRIES.c.id)
    for engine, visit, identifier, content in connection.execute(chosen):
        try:
            names = {str(one["id"]) for one in json.loads(content)["entries"]}
        except (ValueError, TypeError, KeyError, RecursionError):
            spoiled.append((engine, visit))
            continue
        listed.setdefault(visit, []).append((identifier, names))
    return listed, spoiled


def _not_under_one_seal(
    connection: Connection, listed: dict[str, list[tuple[str, set[str]]]], addenda: set[str]
) -> Iterable[Place]:
    """Yield the visits with several seals, and those with entries that their first does not list."""
    chosen = select(*_GROUP, func.aggregate_strings(ENTRIES.c.id, ",")).where(ENTRIES.c.visit.is_not(None))
    for engine, visit, names in connection.execute(chosen.group_by(ENTRIES.c.visit, ENTRIES.c.engine)):
        seals = listed.get(visit)
        if seals and (len(seals) > 1 or not set(names.split(",")) - addenda - {seals[0][0]} <= seals[0][1]):
            yield engine, visit


def _read_twice(connection: Connection, sealed: set[str]) -> Iterable[Place]:
    """Yield the open visits in which several laptops kept readings."""
    visits = connection.execute(select(ENTRIES.c.visit).where(ENTRIES.c.kind == "visit_opened")).scalars()
    open_ones = [one for one in visits if one not in sealed]
    for at in range(0, len(open_ones), MANY):
        some = ENTRIES.c.visit.in_(open_ones[at : at + MANY])
        found = select(*_GROUP).where(some, ENTRIES.c.kind == "reading").group_by(*_GROUP)
        yield from ((row[0], row[1]) for row in connection.execute(found.having(_DEVICES > 1)))
