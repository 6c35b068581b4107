"""Which column is which quantity, where, and in which unit: kept for each source as a plain file that people edit.

    source: A1 panel
    barometer: 85000            # Pa; gauge pressures are counted from it
    columns:
      - {head: Manifold Press, unit: psia, quantity: manifold_pressure, place: engine, score: 0.93, why: [...]}
      - {head: Oil press, unit: psig, quantity: oil_pressure, changes: [{from: '2032-05-04T00:00:00Z', unit: bar g}]}

A column without a quantity is kept as ``raw:<head>@engine`` in the unit it was written in.
"""

from __future__ import annotations

import re
from collections.abc import Mapping as MappingOf
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from asfound.errors import AmbiguousError, AsFoundError, InputError, KnowledgeError
from asfound.history.channels import RAW, Channels, TextChannel, Times, channel
from asfound.history.clocks import ClockCorrection
from asfound.history.whole_files import write_whole
from asfound.quantities.constants import ATMOSPHERE
from asfound.quantities.register import quantity
from asfound.quantities.typed_unit import TypedUnit, typed_unit
from asfound.quantities.typing import Array

_PLACE = re.compile(r"[a-z][a-z0-9_]*$", re.IGNORECASE)
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitFrom:
    """From a moment on the column is written in another unit."""

    at: int
    """Microseconds UTC."""
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnIs:
    """What a column is. ``quantity`` empty: nothing of the register; it is kept raw."""

    head: str
    unit: str = ""
    quantity: str = ""
    place: str = "engine"
    score: float = 0.0
    """How well name, unit and values fit, 0 to 1; 1 where a person said it."""
    why: tuple[str, ...] = ()
    changes: tuple[UnitFrom, ...] = ()

    @property
    def channel(self) -> str:
        """Name of the channel that the column goes into."""
        return channel(self.quantity, self.place) if self.quantity else channel(RAW + self.head, self.place)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mapping:
    """What the columns of one source are."""

    source: str = ""
    columns: tuple[ColumnIs, ...] = ()
    barometer: float = ATMOSPHERE
    """What gauge pressures are counted from, in Pa absolute."""
    gas_state: str = ""
    """State of gas volumes whose unit does not say it: ``0 C, 101.325 kPa``."""
    clock: ClockCorrection = field(default_factory=ClockCorrection)
    """Corrections of this source's clock, applied to every row that is imported."""

    def of(self, head: str) -> ColumnIs:
        """Return what a column is; raw when the mapping does not say."""
        return next((one for one in self.columns if one.head == head), ColumnIs(head=head))

    def channels(
        self, time: Times, values: MappingOf[str, Array], texts: MappingOf[str, TextChannel],
        units: MappingOf[str, str] | None = None, instead: MappingOf[str, str] | None = None,
    ) -> Channels:  # fmt: skip
        """Return rows as channels: SI values by quantity and place, time with the clock's corrections.

        Parameters
        ----------
        time : array of int64, shape (rows,)
        values, texts : mapping
            By head of column; values in the unit of the file.
        units : mapping, optional
            Units that the file gives; they count where the mapping gives none.
        instead : mapping, optional
            Units that came over a head in mid file: they count before those of the mapping. A column whose new unit is
            none of its quantity is kept raw.
        """
        found: dict[str, Array] = {}
        for head, column in values.items():
            one = self._under(self.of(head), (instead or {}).get(head, ""))
            si = self._si(one, column, time, (units or {}).get(head, ""))
            name = one.channel
            found[name] = np.where(np.isnan(found[name]), si, found[name]) if name in found else si
        worded = {self.of(head).channel: words for head, words in texts.items()}
        return Channels(time=self.clock.apply(time), values=found, texts=worded, source=self.source)

    def _under(self, one: ColumnIs, unit: str) -> ColumnIs:
        """Return a column as it is under a unit that came later; gauge stays gauge where the new unit does not say."""
        if not unit or not one.quantity:
            return one
        kind = one.unit.rpartition(" ")[2]
        for written in (unit, f"{unit} {kind}" if kind in ("g", "abs") else unit):
            try:
                scale_of(one.quantity, written, self.barometer, self.gas_state)
            except AsFoundError:
                continue
            return replace(one, unit=written, changes=())
        return ColumnIs(head=one.head, unit=unit, place=one.place)

    def _si(self, one: ColumnIs, column: Array, time: Times, given: str) -> Array:
        if not one.quantity:
            return column
        scale, zero = scale_of(one.quantity, one.unit or given, self.barometer, self.gas_state)
        si = column * scale + zero
        for change in one.changes:
            scale, zero = scale_of(one.quantity, change.unit, self.barometer, self.gas_state)
            si = np.where(time >= change.at, column * scale + zero, si)
        return si

    def check(self, units: MappingOf[str, str] | None = None) -> None:
        """InputError when a column cannot be read as what it is said to be."""
        seen: dict[str, str] = {}
        for one in self.columns:
            if not _PLACE.match(one.place):
                raise InputError(one.head, one.place, "is no place", allowed="engine, cylinder_3, left_bank ...")
            if one.quantity:
                for unit in (one.unit or (units or {}).get(one.head, ""), *(change.unit for change in one.changes)):
                    scale_of(one.quantity, unit, self.barometer, self.gas_state)
            together = (
                units is None or one.head in units
            )  # columns of other files, or under another head, may share one
            if one.quantity and together and one.channel in seen:
                raise InputError(
                    one.head, one.channel, f"is also the channel of column '{seen[one.channel]}'",
                    try_next="Give one of them its own place, or no quantity.",
                )  # fmt: skip
            if together:
                seen[one.channel] = one.head

    def as_dict(self) -> dict[str, Any]:
        """Return plain data for YAML or JSON."""
        columns = []
        for one in self.columns:
            row: dict[str, Any] = {"head": one.head, "unit": one.unit, "quantity": one.quantity, "place": one.place}
            row |= {"score": round(one.score, 3), "why": list(one.why)}
            if one.changes:
                row["changes"] = [{"from": moment_text(change.at), "unit": change.unit} for change in one.changes]
            columns.append(row)
        found: dict[str, Any] = {"source": self.source, "barometer": self.barometer, "gas_state": self.gas_state}
        return found | {"clock": self.clock.as_list(), "columns": columns}

    @classmethod
    def from_dict(cls, given: MappingOf[str, Any]) -> Mapping:
        """Return the mapping of plain data; InputError says what cannot be."""
        try:
            columns = tuple(_column(one) for one in given.get("columns", ()))
            return cls(
                source=str(given.get("source", "")), columns=columns,
                barometer=float(given.get("barometer", ATMOSPHERE)),
                gas_state=str(given.get("gas_state", "")), clock=ClockCorrection.from_list(given.get("clock", ())),
            )  # fmt: skip
        except (KeyError, TypeError, ValueError) as error:
            if isinstance(error, AsFoundError):
                raise
            raise InputError("mapping", str(given)[:80], f"cannot be read: {error}") from error

    def save(self, path: Path) -> None:
        """Write the mapping as YAML, whole or not at all."""
        import yaml

        text = yaml.safe_dump(self.as_dict(), sort_keys=False, allow_unicode=True, width=120)
        write_whole(path, text.encode())

    @classmethod
    def load(cls, path: Path) -> Mapping:
        """Return the mapping that a file holds; KnowledgeError names file and line."""
        import yaml

        from asfound.sources.yaml_plain import load_plain

        try:
            found = load_plain(path)
        except yaml.YAMLError as error:
            mark = getattr(error, "problem_mark", None)
            raise KnowledgeError(path.name, (mark.line if mark else 0) + 1, 1, "this is no YAML.") from error
        if not isinstance(found, dict):
            raise KnowledgeError(path.name, 1, 1, "the file is no mapping.", allowed="source, barometer, columns")
        return cls.from_dict(found)


def _column(given: MappingOf[str, Any]) -> ColumnIs:
    name = str(given.get("quantity") or "")
    if name:
        quantity(name)
    return ColumnIs(
        head=str(given["head"]), unit=str(given.get("unit") or ""), quantity=name,
        place=str(given.get("place") or "engine"), score=float(given.get("score", 1.0)),
        why=tuple(map(str, given.get("why", ()))),
        changes=tuple(UnitFrom(at=moment_of(one["from"]), unit=str(one["unit"])) for one in given.get("changes", ())),
    )  # fmt: skip


@lru_cache(maxsize=4096)
def scale_of(name: str, unit: str, barometer: float, gas_state: str = "") -> tuple[float, float]:
    """Return factor and zero: SI value = written value * factor + zero.

    Raises
    ------
    InputError
        The unit does not fit the quantity.
    AmbiguousError
        It can be gauge or absolute, or a volume of gas without its state.
    """
    about = quantity(name)
    found = unit_of(name, unit, gas_state)
    zero = found.si(0.0)
    factor = found.si(1.0) - zero
    if found.gauge and about.pressure != "difference":
        zero += barometer
    return factor, zero


@lru_cache(maxsize=4096)
def unit_of(name: str, unit: str, gas_state: str = "") -> TypedUnit:
    """Return the unit of a column for a quantity; a plain number needs none."""
    about = quantity(name)
    text = unit.strip()
    if about.units == ("1",) and text in ("", "-", "--"):
        text = "1"
    try:
        return typed_unit(
            text, about, number="1", given=text, field=name, system=None, reference=gas_state or None, default=None
        )
    except AmbiguousError as several:  # a plain foot or tonne stays a question; so does gauge or absolute
        raise AmbiguousError(name, text, several.because, choices=several.choices) from None


def moment_text(at: int) -> str:
    """Return a moment as ISO 8601 in UTC."""
    text = (_EPOCH + timedelta(microseconds=at)).isoformat()
    return text.replace("+00:00", "Z")


def moment_of(given: object) -> int:
    """Return the microseconds of a moment written as ISO 8601; without an offset it is UTC."""
    if isinstance(given, (int, np.integer)) and not isinstance(given, bool):
        return int(given)
    try:
        moment = given if isinstance(given, datetime) else datetime.fromisoformat(str(given))
    except ValueError as error:
        raise InputError("time", str(given), "is no moment", allowed="2032-05-04T14:30:00Z") from error
    moment = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
    return (moment - _EPOCH) // timedelta(microseconds=1)


def by_person(heads: Sequence[str], known: Mapping) -> tuple[str, ...]:
    """Return the heads that a mapping says nothing of: columns that are new since it was made."""
    said = {one.head for one in known.columns}
    return tuple(head for head in heads if head and head not in said)
