"""Maintenance tasks as knowledge: what comes round, in what state of the engine, in which span intervals lie.

The packaged list is generic; a company writes its own in the same shape (docs/upkeep.md). A mistake in a file is told
with file and line. The documents of the engine and the permit always win over a range of the list.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from asfound.sources.cautions import Caution, cautions, cautions_for
from asfound.sources.tables import check_rows, load_yaml_lines

if TYPE_CHECKING:
    from asfound.sources.yaml_lines import Node

STATES = ("running", "stopped", "isolated")
_TASK = ("id", "title", "hours", "days", "condition", "state", "minutes", "tags", "parts", "source", "note")
_INTERVAL = ("task", "hours", "note", "source")
_PART = ("what", "per", "number")
PER = ("engine", "cylinder", "row", "turbocharger")
_MARK = ("property", "rule", "low", "high", "unit", "source", "clause")
Span = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class TaskPart:
    """A part that a task takes: so many for each of what the engine has."""

    what: str
    per: str
    """One of `PER`."""
    number: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class GenericTask:
    """A task and the span in which its intervals lie in the trade."""

    id: str
    title: str
    hours: Span | None
    days: Span | None
    condition: str
    """What asks for it, in words; empty for none."""
    state: str
    """One of `STATES`: what the engine must be in."""
    minutes: float
    tags: tuple[str, ...]
    source: str
    parts: tuple[TaskPart, ...] = ()

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """What stands before the work: those of its tags, on the isolated engine those of isolation as well."""
        return cautions_for({*self.tags, "loto"} if self.state == "isolated" else self.tags)


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishedInterval:
    """An interval of a task that a public text gives, h."""

    task: str
    hours: Span
    note: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OilMark:
    """An outer mark of an oil property; None where it has no lower or no upper one."""

    property: str
    rule: str
    low: float | None
    high: float | None
    unit: str
    source: str
    clause: str

    def passed(self, value: float) -> bool:
        """Whether a value lies beyond the mark; never for nan."""
        return (self.low is not None and value < self.low) or (self.high is not None and value > self.high)


@dataclass(frozen=True, slots=True)
class TaskList:
    """A file of tasks."""

    tasks: dict[str, GenericTask]
    intervals: tuple[PublishedInterval, ...]
    oil_marks: tuple[OilMark, ...]

    def published(self, task: str) -> tuple[PublishedInterval, ...]:
        """Return what public texts give for a task; they differ by a factor of two and more."""
        return tuple(one for one in self.intervals if one.task == task)


@cache
def generic_tasks() -> TaskList:
    """Return the packaged list."""
    return _read(load_yaml_lines("asfound.upkeep", "data/tasks.yaml"))


def read_tasks(text_or_path: str | Path, *, file: str = "") -> TaskList:
    """Return the list of a file or of text in its shape.

    Raises
    ------
    KnowledgeError
        With file and line: a key unknown or missing, a row without source, a span that falls, a task without any
        interval or named twice, a word that the register of cautions does not have.
    """
    from asfound.sources import yaml_lines  # PyYAML costs 20 ms at every start

    root = yaml_lines.load(text_or_path, file=file)
    check_rows(root)
    return _read(root)


def _read(root: Node) -> TaskList:
    root.only("tasks", "published_intervals", "oil_marks")
    tasks: dict[str, GenericTask] = {}
    for row in root.want("tasks")[0].items():
        task = _task(row)
        if task.id in tasks:
            raise row.error_at("id", f"the task '{task.id}' stands twice.", allowed="each id once")
        tasks[task.id] = task
    intervals = tuple(_interval(row, tasks) for row in _rows(root, "published_intervals"))
    return TaskList(tasks, intervals, tuple(_mark(row) for row in _rows(root, "oil_marks")))


def _rows(root: Node, key: str) -> list[Node]:
    under = root.get(key)
    return [] if under is None else under.items()


def _task(row: Node) -> GenericTask:
    row.only(*_TASK)
    name, title, state, minutes, source = row.want("id", "title", "state", "minutes", "source")
    hours, days, condition = _span(row, "hours"), _span(row, "days"), _words(row, "condition")
    if hours is None and days is None and not condition:
        raise row.error("a task that never comes round.", allowed="hours, days, condition, or several of them")
    tags = [] if row.get("tags") is None else row.want("tags")[0].items()
    known = {one.tag for one in cautions().values()}
    return GenericTask(
        id=name.text(), title=title.text(), hours=hours, days=days, condition=condition, state=state.one_of(STATES),
        minutes=minutes.number(low=0.0), tags=tuple(tag.one_of(sorted(known)) for tag in tags), source=source.text(),
        parts=tuple(_part(one) for one in _rows(row, "parts")),
    )  # fmt: skip


def _part(row: Node) -> TaskPart:
    row.only(*_PART)
    what, per = row.want("what", "per")
    number = row.get("number")
    count = 1.0 if number is None else number.number(low=1.0, high=200.0)
    if number is not None and count != int(count):
        raise number.error("this is no number of parts.", allowed="a whole number")
    return TaskPart(what=what.text(), per=per.one_of(PER), number=int(count))


def _interval(row: Node, tasks: Iterable[str]) -> PublishedInterval:
    row.only(*_INTERVAL)
    task, hours, source = row.want("task", "hours", "source")
    span = _span(row, "hours")
    if span is None:
        raise hours.error("an interval without hours.", allowed="[from, to]")
    return PublishedInterval(task=task.one_of(tasks), hours=span, note=_words(row, "note"), source=source.text())


def _mark(row: Node) -> OilMark:
    row.only(*_MARK)
    of, rule, low, high, unit, source = row.want("property", "rule", "low", "high", "unit", "source")
    if low.value is None and high.value is None:
        raise row.error("a mark without a value.", allowed="low, high, or both")
    return OilMark(
        property=of.text(), rule=rule.text(), low=None if low.value is None else low.number(),
        high=None if high.value is None else high.number(), unit=unit.text(), source=source.text(),
        clause=_words(row, "clause"),
    )  # fmt: skip


def _span(row: Node, key: str) -> Span | None:
    under = row.get(key)
    if under is None:
        return None
    ends = [one.number(low=0.0) for one in under.items()]
    if len(ends) != 2 or not 0.0 < ends[0] <= ends[1]:
        raise under.error("this is no span.", allowed="[from, to], above 0 and not falling")
    return ends[0], ends[1]


def _words(row: Node, key: str) -> str:
    under = row.get(key)
    return "" if under is None else under.text()
