"""What is due on an engine as columns, and as a notebook shows it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.quantities.columns import columns
from asfound.quantities.notebook import MOST, html_table, paragraphs

if TYPE_CHECKING:
    from asfound.upkeep.engine_due import EngineDue, TaskDue

HEAD = ("engine", "task", "title", "state", "due", "earliest", "latest", "hours_left", "why", "source")


def due_columns(due: EngineDue) -> dict[str, list[Any]]:
    """Return the tasks by columns; dates as ISO 8601, hours as numbers, None where there is none."""
    return columns(HEAD, [_row(due.tag, one) for one in due.tasks])


def due_html(due: EngineDue) -> str:
    """Return the tasks and when they are due."""
    rows = [
        (one.title, one.state, one.day or "", one.earliest or "", one.latest or "", one.why) for one in due.tasks[:MOST]
    ]
    head = ("task", "state", "due", "earliest", "latest", "why")
    title = f"{due.tag}, seen from {due.today.isoformat()}"
    return html_table(head, rows, title=title, total=len(due.tasks)) + paragraphs(*due.problems)


def _row(tag: str, one: TaskDue) -> tuple[Any, ...]:
    days = (None if day is None else day.isoformat() for day in (one.day, one.earliest, one.latest))
    return (tag, one.id, one.title, one.state, *days, one.hours_left, one.why, one.source)
