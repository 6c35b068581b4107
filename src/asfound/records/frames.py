"""The tables of a visit as columns or as a DataFrame, with numbers as numbers; the same cells as the CSV files.

>>> from asfound.records.frames import frame            # doctest: +SKIP
>>> frame(view(records, "A2/2032-07-08"), "results")    # doctest: +SKIP
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.errors import UnknownNameError
from asfound.quantities import columns as by_column
from asfound.records.tables_csv import ROWS

if TYPE_CHECKING:
    from asfound.quantities.columns import Columns
    from asfound.records.visit import VisitView

TABLES = (*ROWS, "findings")


def columns(view: VisitView, table: str) -> Columns:
    """Return a table of a visit by columns; what is not known is None.

    Parameters
    ----------
    view : VisitView
    table : str
        ``readings``, ``results``, ``looks``, ``differences``, ``trouble`` or ``findings``.

    Raises
    ------
    UnknownNameError
        There is no such table.
    """
    if table == "findings":
        return by_column.findings_columns(view.findings)
    if table not in ROWS:
        raise UnknownNameError("table", table, list(TABLES))
    return by_column.columns(*ROWS[table](view))


def frame(view: VisitView, table: str) -> Any:
    """Return a table of a visit as a ``pandas.DataFrame``, where pandas is installed."""
    return by_column.frame(columns(view, table))
