"""Limits of general rules as dated data: one row of a table is one number of one text.

The packaged tables say of each row how its text was seen; a row that nobody read is shown as such, always. A company
brings its own file with the same columns: it is checked, and a fault names file, line and column. What the permit at
hand says overrides every row.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Literal

from asfound.errors import AsFoundError, InputError, KnowledgeError
from asfound.exhaust.rule_facts import Condition, condition
from asfound.quantities.register import quantities
from asfound.quantities.units import unit
from asfound.sources.register import keys
from asfound.sources.tables import check_source, read_text

PACKAGED = ("limits_us_nsps.csv", "limits_us_neshap.csv", "limits_europe.csv")
COLUMNS = (
    "id",
    "jurisdiction",
    "text",
    "clause",
    "edition",
    "when",
    "kind",
    "pollutant",
    "quantity",
    "side",
    "value",
    "unit",
    "basis",
    "reference_oxygen",
    "oxygen_in_air",
    "averaging",
    "since",
    "until",
    "choice",
    "source",
    "status",
    "note",
)
MUST = ("id", "jurisdiction", "text", "kind", "side", "value", "unit", "source", "status")
READ, SECONDARY, MEMORY = "read", "secondary", "from memory, unverified"
STATUSES = (READ, SECONDARY, MEMORY)
KINDS = ("limit", "reduction", "operating", "range")
STATUS_WORDS = {
    READ: "the text was read",
    SECONDARY: "read only where somebody quotes the text",
    MEMORY: "from memory, unverified: read the text before anybody relies on it",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One number of one general rule."""

    id: str
    jurisdiction: str
    text: str
    clause: str
    edition: str
    """Date of the text or of the copy that was read."""
    when: Condition
    kind: Literal["limit", "reduction", "operating", "range"]
    """``range``: the text splits finer than the row, so it never more than may apply."""
    pollutant: str
    quantity: str
    """Name in the register of quantities that it is compared with; empty where nothing here gives that number."""
    side: Literal["upper", "lower"]
    value: float
    """As printed, in ``unit``."""
    unit: str
    si: float
    basis: str
    """``dry``, ``wet`` or empty."""
    reference_oxygen: float | None
    """[mol/mol]"""
    oxygen_in_air: float | None
    """What the rule takes for dry air. [mol/mol]"""
    averaging: str
    since: date | None
    until: date | None
    choice: str
    """Rows of one choice are alternatives: the owner may show any of them."""
    source: str
    status: str
    note: str

    @property
    def as_typed(self) -> str:
        """The number with its unit, as the text prints it."""
        return f"{self.value:g} {self.unit}"

    @property
    def where(self) -> str:
        """Text, clause and date of the text."""
        return ", ".join(one for one in (self.text, self.clause, self.edition) if one)

    @property
    def says(self) -> str:
        """The limit in words: 'NOx at most 82 ppm, dry, at 15 % oxygen (mean of three runs of at least 1 h)'."""
        what = self.pollutant or (quantities()[self.quantity].title if self.quantity else "value")
        if self.kind == "reduction":
            what += " reduced by"
        word = "at most" if self.side == "upper" else "at least"
        at = "" if self.reference_oxygen is None else f"at {100 * self.reference_oxygen:g} % oxygen"
        said = ", ".join(one for one in (f"{what} {word} {self.as_typed}", self.basis, at) if one)
        return f"{said} ({self.averaging})" if self.averaging else said

    @property
    def status_words(self) -> str:
        """How the text was seen, in words that a page always shows."""
        return STATUS_WORDS[self.status]

    def in_force(self, day: date) -> bool:
        """Tell whether the number is in force on a day."""
        return (self.since is None or self.since <= day) and (self.until is None or day <= self.until)


@cache
def rules() -> tuple[Rule, ...]:
    """Return all packaged rows, in the order of the tables."""
    found: list[Rule] = []
    for name in PACKAGED:
        found += read_rules(read_text("asfound.exhaust", f"data/{name}"), file=f"asfound/exhaust/data/{name}")
    return tuple(found)


def read_rules(text: str, *, file: str) -> tuple[Rule, ...]:
    """Return the rows of a table of limits.

    Parameters
    ----------
    text : str
        CSV with the columns of `COLUMNS`; lines with # before the header are remarks.
    file : str
        Named in errors. In the packaged tables ``source`` is a key of the register; elsewhere any text will do.

    Raises
    ------
    KnowledgeError
        A missing or unknown column, an empty field that must be there, a word, number, date, unit or condition that
        cannot be read, an id twice. Names file, line and column.
    """
    packaged = file.startswith("asfound/")
    found: dict[str, Rule] = {}
    for line, row in _lines(text, file):
        if row["id"] in found:
            raise KnowledgeError(file, line, 1, f"'{row['id']}' is already the id of a row above.")
        found[row["id"]] = _rule(_Row(row, file, line), packaged)
    return tuple(found.values())


def _lines(text: str, file: str) -> Iterator[tuple[int, dict[str, str]]]:
    """Yield each row with the line it ends on."""
    lines = text.removeprefix("\ufeff").splitlines(keepends=True)
    skipped = next((at for at, one in enumerate(lines) if not one.startswith("#")), len(lines))
    reader = csv.reader(io.StringIO("".join(lines[skipped:]), newline=""), strict=True)
    try:
        header = [one.strip() for one in next(reader)]
    except StopIteration:
        raise KnowledgeError(file, 1, 1, "the table is empty.", allowed=", ".join(COLUMNS)) from None
    except csv.Error as error:
        raise KnowledgeError(file, skipped + 1, 1, f"this line is not CSV: {error}.") from error
    for column in COLUMNS:
        if column not in header:
            raise KnowledgeError(file, skipped + 1, 1, f"column '{column}' is missing.", allowed=", ".join(COLUMNS))
    for at, column in enumerate(header, 1):
        if column not in COLUMNS or header.count(column) > 1:
            raise KnowledgeError(file, skipped + 1, at, f"column '{column}' is unknown, or there twice.")
    while True:
        try:
            fields = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            raise KnowledgeError(file, skipped + reader.line_num, 1, f"this line is not CSV: {error}.") from error
        line = skipped + reader.line_num
        if not any(one.strip() for one in fields):
            continue
        if len(fields) != len(header):
            raise KnowledgeError(file, line, 1, f"{len(fields)} fields under {len(header)} column heads.")
        yield line, {name: one.strip() for name, one in zip(header, fields, strict=True)}


@dataclass(frozen=True, slots=True)
class _Row:
    """A line of a table, and where it stands: each fault names file, line and column."""

    cells: dict[str, str]
    file: str
    line: int

    def wrong(self, column: str, because: str, allowed: str = "") -> KnowledgeError:
        """Return the error to raise for a column."""
        return KnowledgeError(self.file, self.line, COLUMNS.index(column) + 1, f"{column} {because}.", allowed=allowed)

    def number(self, column: str) -> float | None:
        """Return a number; None where the column is empty."""
        if not self.cells[column]:
            return None
        try:
            value = float(self.cells[column])
        except ValueError:
            value = float("nan")
        if not -1e12 < value < 1e12:
            raise self.wrong(column, f"'{self.cells[column]}' is no number")
        return value

    def percent(self, column: str, holds: Callable[[float], bool], because: str, allowed: str) -> float | None:
        """Return a share that is written in per cent; None where the column is empty."""
        value = self.number(column)
        if value is not None and not holds(value):
            raise self.wrong(column, f"'{self.cells[column]}' {because}", allowed)
        return None if value is None else value / 100

    def day(self, column: str) -> date | None:
        """Return a day; None where the column is empty."""
        try:
            return date.fromisoformat(self.cells[column]) if self.cells[column] else None
        except ValueError:
            raise self.wrong(column, f"'{self.cells[column]}' is no date", "a date as 2010-07-01") from None

    def when(self) -> Condition:
        """Return on which engines it holds."""
        try:
            return condition(self.cells["when"])
        except InputError as error:
            raise self.wrong("when", f"'{error.given}' {error.because}", error.allowed) from error

    def si(self, value: float) -> float:
        """Return the number in the SI unit of its quantity, which its unit must fit."""
        try:
            meant = unit(self.cells["unit"])
        except AsFoundError as error:
            raise self.wrong("unit", f"'{self.cells['unit']}' cannot be read: {error}") from error
        if self.cells["quantity"]:
            kind = quantities()[self.cells["quantity"]]
            if meant.dimension not in {unit(one).dimension for one in kind.units}:
                raise self.wrong("unit", f"'{self.cells['unit']}' does not fit {kind.title}", "; ".join(kind.units))
        return float(meant.to_si(value))


def _check_words(row: _Row, packaged: bool) -> None:
    """Refuse a row that lacks what every row has, or has a word that no table knows."""
    cells = row.cells
    for column in MUST:
        if not cells[column]:
            raise row.wrong(column, "is empty")
    for column, words in (("kind", KINDS), ("side", ("upper", "lower")), ("status", STATUSES)):
        if cells[column] not in words:
            raise row.wrong(column, f"'{cells[column]}' is none of its words", "; ".join(words))
    if cells["basis"] not in ("", "dry", "wet"):
        raise row.wrong("basis", f"'{cells['basis']}' is neither dry nor wet", "dry; wet; empty")
    if cells["quantity"] and cells["quantity"] not in quantities():
        raise row.wrong("quantity", f"'{cells['quantity']}' is not in the register of quantities")
    if packaged or cells["source"] in keys():
        check_source(cells["source"], row.file, row.line, COLUMNS.index("source") + 1)


def _rule(row: _Row, packaged: bool) -> Rule:
    """Return one row, checked."""
    _check_words(row, packaged)
    cells, when, value = row.cells, row.when(), row.number("value")
    assert value is not None  # not empty: checked above
    reference = row.percent(
        "reference_oxygen", lambda one: 0 <= one < 20, "is no reference oxygen", "0 to below 20, in %"
    )
    air = row.percent(
        "oxygen_in_air", lambda one: 20.5 <= one <= 21.5, "is not what a rule takes for air", "20.5 to 21.5, in %"
    )
    since, until = row.day("since"), row.day("until")
    if since and until and since > until:
        raise row.wrong("until", f"'{cells['until']}' lies before since")
    return Rule(
        id=cells["id"],
        jurisdiction=cells["jurisdiction"].upper(),
        text=cells["text"],
        clause=cells["clause"],
        edition=cells["edition"],
        when=when,
        kind=cells["kind"],  # type: ignore[arg-type]
        pollutant=cells["pollutant"],
        quantity=cells["quantity"],
        side=cells["side"],  # type: ignore[arg-type]
        value=value,
        unit=cells["unit"],
        si=row.si(value),
        basis=cells["basis"],
        reference_oxygen=reference,
        oxygen_in_air=air,
        averaging=cells["averaging"],
        since=since,
        until=until,
        choice=cells["choice"],
        source=cells["source"],
        status=cells["status"],
        note=cells["note"],
    )
