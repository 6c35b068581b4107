"""The case of the visit before: what rooms were shown of it. That of a visit itself is its view's own `case`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asfound.quantities.findings import Case

if TYPE_CHECKING:
    from asfound.records.visit import VisitView


def case_then(view: VisitView) -> Case | None:
    """Return the case of the visit before, without what it was compared with itself (`visit.case_of` has that)."""
    if view.previous is None:
        return None
    return Case(
        readings=view.previous.worked.readings,
        worked=view.previous.worked,
        engine=view.engine.content,
        visit={
            **view.previous.visit.content,
            "system": view.system,
            "date": view.previous.visit.date,
            "cylinder_looks": list(view.previous.cylinder_looks),
        },
    )
