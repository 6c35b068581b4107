"""The case of the visit before: what rooms were shown of it. That of a visit itself is its view's own `case`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asfound.quantities.findings import Case

if TYPE_CHECKING:
    from asfound.records.visit import VisitView


def case_then(view: VisitView, then: VisitView | None = None) -> Case | None:
    """Return the case of the visit before; with what it was itself compared with where its view is at hand."""
    if view.previous is None:
        return None
    if then is not None:
        return then.case
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
