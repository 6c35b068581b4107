"""What rooms are shown of a visit, put together again from its view, for content that needs more than findings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.quantities.findings import Case

if TYPE_CHECKING:
    from collections.abc import Iterable

    from asfound.records.entries import Entry
    from asfound.records.visit import VisitView


def case_of(view: VisitView) -> Case:
    """Return the case of a visit."""
    return Case(
        readings=view.worked.readings,
        worked=view.worked,
        limits=view.limits,
        identification=view.identification,
        engine=view.engine.content,
        visit={
            **view.visit.content,
            "system": view.system,
            "date": view.visit.date,
            "engine_state": view.engine_state,
            "cylinder_looks": cylinder_looks(view.entries),
        },
        previous=view.previous.worked if view.previous else None,
    )


def case_then(view: VisitView, then: VisitView | None = None) -> Case | None:
    """Return the case of the visit before; with what it was itself compared with where its view is at hand."""
    if view.previous is None:
        return None
    if then is not None:
        return case_of(then)
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


def cylinder_looks(entries: Iterable[Entry]) -> list[dict[str, Any]]:
    """Return what people saw and said of cylinders."""
    return [dict(one.content) for one in entries if one.kind == "cylinder_look"]
