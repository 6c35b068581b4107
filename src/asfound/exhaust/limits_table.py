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
        found[row["id"]] = _rule(row, file, line, packaged)
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


def _rule(row: dict[str, str], file: str, line: int, packaged: bool) -> Rule:
    """Return one row, checked."""

    def wrong(column: str, because: str, allowed: str = "") -> KnowledgeError:
        return KnowledgeError(file, line, COLUMNS.index(column) + 1, f"{column} {because}.", allowed=allowed)

    def number(column: str) -> float | None:
        if not row[column]:
            return None
        try:
            value = float(row[column])
        except ValueError:
            value = float("nan")
        if not -1e12 < value < 1e12:
            raise wrong(column, f"'{row[column]}' is no number")
        return value

    def day(column: str) -> date | None:
        try:
            return date.fromisoformat(row[column]) if row[column] else None
        except ValueError:
            raise wrong(column, f"'{row[column]}' is no date", "a date as 2010-07-01") from None

    for column in MUST:
        if not row[column]:
            raise wrong(column, "is empty")
    for column, words in (("kind", KINDS), ("side", ("upper", "lower")), ("status", STATUSES)):
        if row[column] not in words:
            raise wrong(column, f"'{row[column]}' is none of its words", "; ".join(words))
    if row["basis"] not in ("", "dry", "wet"):
        raise wrong("basis", f"'{row['basis']}' is neither dry nor wet", "dry; wet; empty")
    if row["quantity"] and row["quantity"] not in quantities():
        raise wrong("quantity", f"'{row['quantity']}' is not in the register of quantities")
    if packaged or row["source"] in keys():
        check_source(row["source"], file, line, COLUMNS.index("source") + 1)
    try:
        when = condition(row["when"])
    except InputError as error:
        raise wrong("when", f"'{error.given}' {error.because}", error.allowed) from error
    value = number("value")
    assert value is not None  # not empty: checked above
    reference, air = number("reference_oxygen"), number("oxygen_in_air")
    if reference is not None and not 0 <= reference < 20:
        raise wrong("reference_oxygen", f"'{row['reference_oxygen']}' is no reference oxygen", "0 to below 20, in %")
    if air is not None and not 20.5 <= air <= 21.5:
        raise wrong("oxygen_in_air", f"'{row['oxygen_in_air']}' is not what a rule takes for air", "20.5 to 21.5, in %")
    since, until = day("since"), day("until")
    if since and until and since > until:
        raise wrong("until", f"'{row['until']}' lies before since")
    return Rule(
        id=row["id"],
        jurisdiction=row["jurisdiction"].upper(),
        text=row["text"],
        clause=row["clause"],
        edition=row["edition"],
        when=when,
        kind=row["kind"],  # type: ignore[arg-type]
        pollutant=row["pollutant"],
        quantity=row["quantity"],
        side=row["side"],  # type: ignore[arg-type]
        value=value,
        unit=row["unit"],
        si=_si(row, value, wrong),
        basis=row["basis"],
        reference_oxygen=None if reference is None else reference / 100,
        oxygen_in_air=None if air is None else air / 100,
        averaging=row["averaging"],
        since=since,
        until=until,
        choice=row["choice"],
        source=row["source"],
        status=row["status"],
        note=row["note"],
    )


def _si(row: dict[str, str], value: float, wrong: Callable[..., KnowledgeError]) -> float:
    """Return the number in the SI unit of its quantity, which its unit must fit."""
    try:
        meant = unit(row["unit"])
    except AsFoundError as error:
        raise wrong("unit", f"'{row['unit']}' cannot be read: {error}") from error
    if row["quantity"]:
        kind = quantities()[row["quantity"]]
        if meant.dimension not in {unit(one).dimension for one in kind.units}:
            raise wrong("unit", f"'{row['unit']}' does not fit {kind.title}", "; ".join(kind.units))
    return float(meant.to_si(value))
