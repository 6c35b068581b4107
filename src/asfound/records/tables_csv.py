"""Readings, results, looks and differences of a visit as CSV (RFC 4180), safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING, Any

from asfound.quantities.columns import RESULT_HEAD, result_row

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from asfound.records.visit import VisitView

    Rows = tuple[Sequence[str], Iterable[Sequence[Any]]]

_STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")  # the last four: full width


def _readings(view: VisitView) -> Rows:
    """Return every reading that stands, with what was typed and what it was taken to mean."""
    head = (
        "state",
        "place",
        "quantity",
        "time",
        "as_typed",
        "value_si",
        "unit_si",
        "gauge",
        "standard_uncertainty",
        "instrument",
        "could_not_be_taken",
        "beyond_range",
        "current",
        "who",
        "note",
        "entry",
    )
    current = {one.entry.id for one in view.readings.values()}
    rows = (
        (
            one.state,
            one.place,
            one.quantity,
            one.time,
            one.as_typed,
            one.value,
            one.reading.unit if one.reading else "",
            one.gauge,
            one.standard_uncertainty if one.reading else None,
            one.said_by,
            one.missing,
            one.censored,
            one.entry.id in current,
            one.entry.who,
            one.note,
            one.entry.id,
        )
        for one in view.readings_all
    )
    return head, rows


def _results(view: VisitView) -> Rows:
    """Return every result with its interval, method and source."""
    return RESULT_HEAD, map(result_row, view.worked.results)


def _looks(view: VisitView) -> Rows:
    """Return every look that stands."""
    head = ("slot", "character", "answer", "states", "how", "label", "by", "source", "time", "note", "entry")
    rows = (
        (
            one.slot,
            one.character,
            one.answer,
            " ".join(one.states),
            one.how,
            one.label,
            one.by,
            one.source,
            one.time,
            one.note,
            one.entry,
        )
        for one in view.looks
    )
    return head, rows


def _differences(view: VisitView) -> Rows:
    """Return the table of what changed between as found and as left."""
    head = (
        "place",
        "quantity",
        "worksheet",
        "found_si",
        "left_si",
        "difference",
        "low_95",
        "high_95",
        "chance",
        "unit_si",
    )
    rows = (
        (
            one.place,
            one.quantity,
            one.worksheet,
            one.found.value,
            one.left.value,
            one.difference,
            *one.interval,
            one.chance,
            one.found.unit,
        )
        for one in view.differences
    )
    return head, rows


def _trouble(view: VisitView) -> Rows:
    """Return everything told of symptoms, tests and repairs, by people and by findings, and what it weighs."""
    head = (
        "what", "id", "title", "says", "place", "weighs", "decibans", "finding", "minutes", "by", "time", "note",
        "entry",
    )  # fmt: skip
    rows = (
        (
            one.what,
            one.about,
            one.title,
            one.says,
            one.place,
            one.weighs,
            one.decibans,
            one.code,
            "" if one.minutes is None else one.minutes,
            one.by,
            one.time,
            one.note,
            one.entry,
        )
        for one in view.trouble.witnesses
    )
    return head, rows


ROWS: dict[str, Callable[[VisitView], Rows]] = {
    "readings": _readings,
    "results": _results,
    "looks": _looks,
    "differences": _differences,
    "trouble": _trouble,
}
"""Head and rows of each table, the numbers as numbers."""


def readings_csv(view: VisitView) -> str:
    """Return every reading that stands as CSV."""
    return table(*_readings(view))


def results_csv(view: VisitView) -> str:
    """Return every result with its interval, method and source as CSV."""
    return table(*_results(view))


def looks_csv(view: VisitView) -> str:
    """Return every look that stands as CSV."""
    return table(*_looks(view))


def differences_csv(view: VisitView) -> str:
    """Return what changed between as found and as left as CSV."""
    return table(*_differences(view))


def trouble_csv(view: VisitView) -> str:
    """Return everything told of symptoms, tests and repairs as CSV."""
    return table(*_trouble(view))


TABLES: dict[str, Callable[[VisitView], str]] = {
    "readings": readings_csv,
    "results": results_csv,
    "looks": looks_csv,
    "differences": differences_csv,
    "trouble": trouble_csv,
}


def table(head: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    """Write a table."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(head)
    writer.writerows([_cell(one) for one in row] for row in rows)
    return out.getvalue()


def _cell(value: Any) -> str:
    """Return a cell; words that a spreadsheet would run as a formula get an apostrophe before them."""
    if value is None or value != value:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return repr(value)
    text = str(value)
    return f"'{text}" if text.startswith(_STARTS_A_FORMULA) else text
