"""Findings of what is due: overdue, due, soon, never noted; hour meters that contradict each other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import TYPE_CHECKING

from asfound.quantities.days import day_text
from asfound.quantities.findings import Case
from asfound.quantities.words import Finding

if TYPE_CHECKING:
    from asfound.upkeep.engine_due import EngineDue, TaskDue

SUBJECT = "due"
_FIRST = "The engine's own manual, the permit and the rules of the site go before every interval kept here."
_MOST_NAMED = 4


def due_of(case: Case) -> EngineDue | None:
    """Return what is due on the engine of a case; None where the record brings nothing."""
    found: EngineDue | None = case.visit.get("due")
    return found


def find(case: Case) -> Iterator[Finding]:
    """Yield what is due and what keeps it from being known."""
    due = due_of(case)
    if due is None:
        return
    for task in due.in_state("overdue"):
        yield _overdue(task)
    yield from (_due(task) for task in due.in_state("due") if task.reason != "condition")
    yield from _soon(due.in_state("soon"))
    yield from _never_noted(due)
    for fault in due.faults:
        yield Finding(
            code="UK-05", subject=SUBJECT, says=fault.says, severity="clash", compared_with="the reading before",
            next_step="Look for an exchange of the meter and enter it with the last reading of the old and the first "
            "of the new; else read the meter again. Hours to every task hang on it.",
        )  # fmt: skip


def _overdue(task: TaskDue) -> Finding:
    permit = task.interval is not None and task.interval.permit
    return Finding(
        code="UK-01", subject=SUBJECT, says=f"{task.title} is overdue{_since(task)}.",
        severity="visit", compared_with=_compared(task), cautions=task.task.tags, extra={"task": task.id},
        next_step=("The interval stands in the permit: tell whoever answers for it today. " if permit else "")
        + f"Do it at this visit, or have whoever is responsible decide until when the engine runs without it. {_FIRST}",
    )  # fmt: skip


def _due(task: TaskDue) -> Finding:
    return Finding(
        code="UK-02", subject=SUBJECT, says=f"{task.title} is due{_since(task)}.", severity="soon",
        compared_with=_compared(task), cautions=task.task.tags, extra={"task": task.id},
        next_step=f"Put it into the next stop. {_FIRST}" if task.needs_stop else f"It needs no stop. {_FIRST}",
    )  # fmt: skip


def _soon(tasks: Sequence[TaskDue]) -> Iterator[Finding]:
    dated = [task for task in tasks if task.day is not None]
    if not dated:
        return
    first = min((task.day for task in dated if task.day), default=date.max)
    yield Finding(
        code="UK-03", subject=SUBJECT, severity="note", compared_with="intervals and the hours a day of the last weeks",
        says=f"Soon due: {_named(dated)}; the first on {day_text(first)}.",
        next_step="Order parts and agree a stop that serves several of them.", extra={"task": dated[0].id},
    )  # fmt: skip


def _never_noted(due: EngineDue) -> Iterator[Finding]:
    """Say which tasks were never noted as done, where others were (a record without any is a new one)."""
    unknown = due.in_state("unknown")
    if not unknown or not any(task.last is not None for task in due.tasks):
        return
    yield Finding(
        code="UK-04", subject=SUBJECT, severity="note",
        says=f"Never noted as done, so that no day can be told: {_named(unknown)}.",
        next_step="Ask the operator for the last time, and enter it with its hours. Where nobody knows, it is due.",
    )  # fmt: skip


def _since(task: TaskDue) -> str:
    left = task.hours_left
    parts = []
    if left is not None and left < 0.0:
        parts.append(f"{-left:,.0f} h past its hours")
    if task.day is not None and task.reason == "calendar":
        parts.append(f"since {day_text(task.day)}")
    return ": " + ", ".join(parts) if parts else ""


def _compared(task: TaskDue) -> str:
    by = {"plan": "the plan of this engine", "company": "the company's list", "generic": "the generic span"}[
        task.set_by
    ]
    last = f", last done {day_text(task.last.day)}" if task.last else ""
    return f"{by}{last}"


def _named(tasks: Sequence[TaskDue]) -> str:
    names = [task.title for task in tasks]
    more = len(names) - _MOST_NAMED
    return ", ".join(names[:_MOST_NAMED]) + (f" and {more} more" if more > 0 else "")
