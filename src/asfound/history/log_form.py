"""The form of a log: all that is decided before its rows can be read. A plain file holds it, one for a source."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields, replace
from typing import Any, Literal, get_args

from asfound.errors import InputError

Layout = Literal["delimited", "fixed", "spreadsheet", "parquet"]
Order = Literal["", "ymd", "dmy", "mdy", "epoch_s", "epoch_ms", "epoch_us", "sheet_days"]
ORDERS: tuple[Order, ...] = get_args(Order)
Role = Literal["time", "date", "clock", "offset", "number", "text", "empty"]
_ORDER_WORDS = {
    "ymd": "year first",
    "dmy": "day first",
    "mdy": "month first",
    "epoch_s": "seconds since 1970",
    "epoch_ms": "milliseconds since 1970",
    "epoch_us": "microseconds since 1970",
    "sheet_days": "days of a spreadsheet",
}
MISSING_WORDS = (
    "nan", "-nan", "n/a", "na", "#n/a", "null", "none", "nil", "-", "--", "---", "----", "*", "***", "****", "?", "???",
    "1.#qnan", "-1.#ind", "1.#inf", "inf", "-inf", "missing",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column: what stands above it, and what its fields are."""

    head: str
    unit: str = ""
    """As written: in the row of units, or in brackets behind the head."""
    role: Role = "number"
    unit_in_cells: bool = False
    """The unit stands behind the number in each cell, as written in ``unit``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LogForm:
    """How a log is written. ``questions`` of the proposal that made it are answered before it is used."""

    layout: Layout = "delimited"
    encoding: str = "utf-8"
    delimiter: str = ","
    quote: str = '"'
    decimal: str = "."
    thousands: str = ""
    widths: tuple[tuple[int, int], ...] = ()
    """Fixed width: where each column begins and ends, in bytes of a line."""
    sheet: str = ""
    preamble: int = 0
    """Lines before the head."""
    header_line: int | None = None
    unit_line: int | None = None
    first_row: int = 1
    """Line of the first row."""
    columns: tuple[Column, ...] = ()
    order: Order = ""
    """Order of the parts of a date, or what a number of time counts. Empty: the file did not decide; it is asked."""
    zone: str = ""
    """Name of the time zone (``Europe/Berlin``, ``UTC``, ``+05:30``) of times without an offset. Empty: asked."""
    sentinels: tuple[float, ...] = ()
    """Numbers that stand for 'no value'."""
    step: float = 0.0
    """Usual seconds between rows."""
    notes: tuple[str, ...] = field(default=())

    @property
    def heads(self) -> tuple[str, ...]:
        """The heads of the columns that are read, in order; each once."""
        return tuple(column.head for column in self.columns)

    def with_(self, **changes: Any) -> LogForm:
        """Return the form with some answers changed."""
        return replace(self, **changes)

    def as_dict(self) -> dict[str, Any]:
        """Return the form as plain data for YAML or JSON; what stands at its usual value is left out."""
        usual = LogForm()
        plain = asdict(self)
        found = {name: plain[name] for name in plain if getattr(self, name) != getattr(usual, name)}
        found["columns"] = [{k: v for k, v in column.items() if v or k == "head"} for column in plain["columns"]]
        return {name: _plain(value) for name, value in found.items()}

    @classmethod
    def from_dict(cls, given: Mapping[str, Any]) -> LogForm:
        """Return the form of plain data; InputError names a field that is unknown or cannot be."""
        names = {one.name for one in fields(cls)}
        for name in given:
            if name not in names:
                raise InputError("form", str(name), "is no field of a log's form", allowed=", ".join(sorted(names)))
        data = dict(given)
        order = data.get("order", "")
        if order not in ORDERS:
            raise InputError("order", str(order), "is no order of a date", allowed=", ".join(filter(None, ORDERS)))
        try:
            data["columns"] = tuple(Column(**one) for one in data.get("columns", ()))
            for name in ("sentinels", "notes"):
                data[name] = tuple(data.get(name, ()))
            data["widths"] = tuple((int(low), int(high)) for low, high in data.get("widths", ()))
            return cls(**data)
        except (TypeError, ValueError) as error:
            raise InputError("form", str(given)[:80], f"cannot be read: {error}") from error


def order_words(order: Order) -> str:
    """Return the order of a date in words: ``dmy`` is 'day first'."""
    return _ORDER_WORDS.get(order, order)


def _plain(value: Any) -> Any:
    return [_plain(one) for one in value] if isinstance(value, (tuple, list)) else value
