"""The log of a gas chromatograph: a component in each column, a gas in each row, thousands of them.

What is no number stops the reading with its row and column, or is left out and listed, as was asked.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from asfound.errors import InputError
from asfound.fuel.analysis_files import Cells, read_cells
from asfound.fuel.composition import Basis, weights
from asfound.fuel.iso6976 import DEFAULT_REFERENCE, Reference
from asfound.fuel.names import GROUPS, component_named, is_known
from asfound.fuel.report_words import Column, columns_of
from asfound.fuel.splits import Split, split_of
from asfound.quantities.numerals import DecimalSign, missing, parse_number
from asfound.quantities.typing import Array

_OF_COLUMN: dict[Column, Basis] = {"mole": "mole", "mole fraction": "mole", "volume": "volume", "mass": "mass"}
_UNIT = re.compile(
    r"^\s*%\s*|\s*\b(?:mol(?:e|ar)?|vol(?:ume)?|wt|mass|gew)\b[.\-\s]*(?:%|fractions?|/mol)?|\s*%", re.IGNORECASE
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RefusedCell:
    """A cell of a log that holds no number."""

    row: int
    """From 1."""
    component: str
    text: str
    error: InputError


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GasLog:
    """Many analyses of one table: n gases, m components."""

    components: tuple[str, ...]
    fractions: Array
    """(n, m) as analysed; nan where a cell is empty. [mol/mol]"""
    labels: tuple[str, ...]
    """What stands before the components in each row: a time, a sample."""
    rows: tuple[int, ...]
    """Row of the table, from 1."""
    refused: tuple[RefusedCell, ...] = ()
    """Cells that hold no number: nan stands for them. Only where they were asked to be left out."""
    basis: Basis = "mole"
    """What the table was given in."""

    @property
    def totals(self) -> Array:
        """(n,) what each analysis adds up to; nan where a cell is empty. [mol/mol]"""
        return np.asarray(self.fractions.sum(axis=1))


def read_log(
    path: Path | str,
    *,
    sheet: str | None = None,
    basis: Basis | None = None,
    heavier: str | Split | Mapping[str, str | Split] | None = None,
    decimal: DecimalSign | None = None,
    reference: Reference = DEFAULT_REFERENCE,
    strict: bool = True,
) -> GasLog:
    """Return the analyses of a file with a component in each column; arguments as `read_report`.

    Parameters
    ----------
    strict : bool
        True: a cell that is no number stops the reading. False: it is nan, and listed in ``refused``.

    Raises
    ------
    InputError
        No row of names, a cell that is no number (named by row and column), a basis that is not said twice over.
    """
    return log_of(
        read_cells(path, sheet=sheet),
        basis=basis, heavier=heavier, decimal=decimal, reference=reference, strict=strict,
    )  # fmt: skip


def log_of(
    cells: Cells,
    *,
    basis: Basis | None = None,
    heavier: str | Split | Mapping[str, str | Split] | None = None,
    decimal: DecimalSign | None = None,
    reference: Reference = DEFAULT_REFERENCE,
    strict: bool = True,
) -> GasLog:
    """Return the analyses of a table of text; see `read_log`.

    Examples
    --------
    >>> log = log_of([["time", "CH4 mol%", "N2 mol%"], ["08:00", "95", "5"], ["09:00", "94", ""]])
    >>> log.components, log.fractions[0].tolist(), log.totals.tolist()
    (('methane', 'nitrogen'), [0.95, 0.05], [1.0, nan])
    """
    head = next((at for at, row in enumerate(cells) if sum(_is_component(cell) for cell in row) >= 2), None)
    if head is None:
        raise InputError("table", "", "has no row with the names of at least two components",
                         try_next="Name the columns by component, CH4, C2H6 ...")  # fmt: skip
    columns = {at: _component(cell, at) for at, cell in enumerate(cells[head]) if _is_component(cell)}
    twice = [name for name in columns.values() if list(columns.values()).count(name) > 1]
    if twice:
        raise InputError("table", twice[0], "heads two columns", try_next="Leave one of them out.")
    taken = _log_basis(basis, {kind for row in cells[: head + 2] for cell in row for kind in columns_of(cell)})
    first = min(columns)
    labels, rows, values = [], [], []
    refused: list[RefusedCell] = []
    for number, row in enumerate(cells[head + 1 :], start=head + 2):
        texts = {at: row[at] if at < len(row) else "" for at in columns}
        if not any(sign.isdigit() for text in texts.values() for sign in text):
            continue  # empty, or the row of units
        labels.append(" ".join(cell for cell in row[:first] if cell))
        rows.append(number)
        values.append([
            _cell(text, number, columns[at], decimal, None if strict else refused) for at, text in texts.items()
        ])  # fmt: skip
    if not rows:
        raise InputError("table", "", "has no row with numbers below the names")
    x = np.array(values)
    sums = np.nansum(x, axis=1)
    middle = float(np.median(sums[np.isfinite(sums)])) if np.isfinite(sums).any() else float("nan")
    per = next((one for one in (1.0, 100.0) if 0.8 <= middle / one <= 1.2), None)
    if per is None:
        raise InputError("table", f"{middle:g}", "is what most rows add up to: neither fractions nor per cent",
                         allowed="about 1, or about 100")  # fmt: skip
    names, x = _as_moles(tuple(columns.values()), x / per, taken, heavier, reference)
    return GasLog(
        components=names, fractions=x, labels=tuple(labels), rows=tuple(rows), refused=tuple(refused), basis=taken
    )


def _log_basis(basis: Basis | None, kinds: set[Column]) -> Basis:
    """Return what the columns of a log are given in: as said, as headed, else mole.

    Raises
    ------
    InputError
        Said and headed differ, or two kinds of column stand side by side.
    """
    headed = {_OF_COLUMN[kind] for kind in kinds if kind in _OF_COLUMN}
    if len(headed) > 1 or (basis is not None and headed and headed != {basis}):
        raise InputError("basis", basis or ", ".join(sorted(headed)), "is not what all columns are headed with",
                         allowed="mole, volume or mass, one for the whole table",
                         try_next="Leave the other columns out.")  # fmt: skip
    if basis is not None:
        return basis
    return next(iter(headed)) if headed else "mole"


def _as_moles(
    names: tuple[str, ...],
    x: Array,
    basis: Basis,
    heavier: str | Split | Mapping[str, str | Split] | None,
    reference: Reference,
) -> tuple[tuple[str, ...], Array]:
    """Return the table in moles, sums of heavier components shared out."""
    of_group = heavier if isinstance(heavier, Mapping) and any(one in GROUPS for one in heavier) else None
    shares: dict[str, Split] = {}
    for name in names:
        stated: Any = of_group.get(name) if of_group is not None else heavier
        shares[name] = split_of(name, stated) if name in GROUPS else {name: 1.0}
    out = tuple(dict.fromkeys(one for name in names for one in shares[name]))
    share = np.zeros((len(out), len(names)))
    for column, name in enumerate(names):
        for one, part in shares[name].items():
            share[out.index(one), column] += part
    if basis != "mole":
        moles = x / (weights(out, basis, reference) @ share)  # a group weighs what its split weighs
        with np.errstate(all="ignore"):
            x = moles * (x.sum(axis=1, keepdims=True) / moles.sum(axis=1, keepdims=True))
    # a nan of one component must not spread to those that do not share it: 0 times nan is nan
    there = share > 0
    made = [x[:, row] @ share[at, row] for at, row in enumerate(there)]
    return out, np.column_stack(made)


def _is_component(cell: str) -> bool:
    return is_known(_bare(cell))


def _component(cell: str, at: int) -> str:
    return component_named(_bare(cell), field=f"column {at + 1}")


def _bare(cell: str) -> str:
    """Return a column head without its unit."""
    head = _UNIT.sub(" ", cell.split("[")[0].split("(")[0])
    return head.strip().removeprefix("x_").removeprefix("x ").strip(" _-")


def _cell(text: str, row: int, component: str, decimal: DecimalSign | None, refused: list[RefusedCell] | None) -> float:
    """Return the number of a cell; nan where it is empty, and where it is refused into a list."""
    try:
        return _number(text, row, component, decimal)
    except InputError as error:
        if refused is None:
            raise
        refused.append(RefusedCell(row=row, component=component, text=text, error=error))
        return float("nan")


def _number(text: str, row: int, component: str, decimal: DecimalSign | None) -> float:
    """Return the number of a cell; nan where it is empty."""
    if missing(text):
        return float("nan")
    sign: DecimalSign | None = decimal or ("comma" if "," in text and "." not in text else "point")
    try:
        found = parse_number(text, decimal=sign, field=f"row {row}, {component}").value
    except InputError as error:
        raise InputError(f"row {row}, {component}", text, error.because, try_next=error.try_next) from error
    if found is not None and not np.isfinite(found):
        raise InputError(f"row {row}, {component}", text, "is no number that can be a share")
    return float("nan") if found is None else found
