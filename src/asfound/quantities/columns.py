"""Results and findings as columns: lists of equal length by name, for any library that takes such; SI units.

``frame`` makes a table of pandas of them where pandas is installed; nothing here needs it.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from asfound.errors import AsFoundError

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from asfound.quantities.words import Finding, Result

Columns = dict[str, list[Any]]
RESULT_HEAD = (
    "state", "place", "quantity", "value_si", "unit_si", "low_95", "high_95", "standard_uncertainty", "worksheet",
    "method", "source", "clause", "assumed", "outside_validity",
)  # fmt: skip
FINDING_HEAD = ("code", "subject", "state", "severity", "says", "probability", "compared_with", "next_step", "because")


def columns(head: Sequence[str], rows: Iterable[Sequence[Any]]) -> Columns:
    """Return a table by columns; all of them are there even where it has no row."""
    kept = list(rows)
    return {name: [row[at] for row in kept] for at, name in enumerate(head)}


def result_row(one: Result) -> tuple[Any, ...]:
    """Return a result as the cells under `RESULT_HEAD`."""
    return (
        one.state,
        one.place,
        one.quantity,
        one.value,
        one.unit,
        *one.interval,
        one.standard_uncertainty,
        one.worksheet,
        one.method.name,
        one.method.source,
        one.method.clause,
        " ".join(given.key for given in one.assumed),
        "; ".join(one.outside),
    )


def results_columns(results: Iterable[Result]) -> Columns:
    """Return results by columns, SI; ends of the 95 % interval beside each value."""
    return columns(RESULT_HEAD, map(result_row, results))


def finding_row(one: Finding) -> tuple[Any, ...]:
    """Return a finding as the cells under `FINDING_HEAD`."""
    return (
        one.code,
        one.subject,
        one.state,
        one.severity,
        one.says,
        one.probability,
        one.compared_with,
        one.next_step,
        " ".join(one.because),
    )


def findings_columns(findings: Iterable[Finding]) -> Columns:
    """Return findings by columns."""
    return columns(FINDING_HEAD, map(finding_row, findings))


def frame(given: Mapping[str, Sequence[Any]]) -> Any:
    """Return columns as a ``pandas.DataFrame``.

    Raises
    ------
    AsFoundError
        pandas is not installed; the columns can be used without it.
    """
    try:
        pandas: Any = import_module("pandas")
    except ImportError:
        raise AsFoundError(
            "pandas is not installed here: install it, or take the columns as they are (lists by name)."
        ) from None
    return pandas.DataFrame(dict(given))
