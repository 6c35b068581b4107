"""A log looked at before it is imported: its form, what its columns are, and what has to be asked."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from asfound.history.bytes_in import encoding_of, layout_of, sample_of
from asfound.history.channels import TextChannel
from asfound.history.ledger import Ledger
from asfound.history.log_form import LogForm, Order, order_words
from asfound.history.mapping import ColumnIs, Mapping
from asfound.history.mapping_proposal import TAKEN_FROM, Candidate, assign
from asfound.history.one_reading_a_row import refuse_one_reading_a_row
from asfound.history.parquet_in import ParquetReader, parquet_form, parquet_order, parquet_zone
from asfound.history.reading import LogReader, Part
from asfound.history.sniff import counted_order, sniff
from asfound.history.sniff_time import Decision, date_order
from asfound.history.split_lines import Bytes, Places
from asfound.history.tables_in import DELIMITER, table_bytes
from asfound.history.times_in import NO_TIME
from asfound.history.unit_changes import with_changes
from asfound.history.unit_changes_in_file import changes_in_file
from asfound.quantities.constants import ATMOSPHERE
from asfound.quantities.register import quantity
from asfound.quantities.typing import Array

SAMPLE_ROWS = 60_000


@dataclass(frozen=True, slots=True)
class Question:
    """What the file does not decide: asked, never guessed."""

    field: str
    """``order``, ``zone``, ``decimal``, or the head of a column."""
    because: str
    choices: dict[str, str]
    """Answer -> what it would mean."""
    try_next: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """The form and mapping of a file, with reasons, and what stays to be asked."""

    form: LogForm
    mapping: Mapping
    questions: tuple[Question, ...] = ()
    reasons: tuple[str, ...] = ()
    candidates: dict[str, tuple[Candidate, ...]] = field(default_factory=dict)
    rows: int = 0
    """Rows that were looked at for the mapping."""

    def mapping_for_import(self, *, units_by_values: bool = False) -> Mapping:
        """Return the mapping with what is sure enough and open to no question; other columns are kept raw.

        ``units_by_values`` takes the unit that fits the values where none is written: for a person who has looked.
        """
        units = {one.head: one.unit for one in self.form.columns}
        by_values = {
            one.head for one in self.mapping.columns if units_by_values and one.unit and not units.get(one.head)
        }
        asked = {one.field for one in self.questions} - (by_values if units_by_values else set())
        columns = tuple(
            one if one.score >= TAKEN_FROM and one.head not in asked else ColumnIs(head=one.head, unit=one.unit)
            for one in self.mapping.columns
        )
        return replace(self.mapping, columns=columns)

    def kept_raw(self) -> list[str]:
        """Return a sentence for each column of numbers that `mapping_for_import` keeps raw."""
        asked = {one.field: one for one in self.questions}
        found = []
        for one in self.mapping.columns:
            if one.head in asked:
                found.append(f"column '{one.head}' is kept as written: {asked[one.head].because}")
            elif one.quantity and one.score < TAKEN_FROM:
                found.append(
                    f"column '{one.head}' is kept as written: {one.quantity} is not sure enough ({one.score:.2f})"
                )
        return found

    def as_dict(self) -> dict[str, Any]:
        """Return plain data for a page or JSON."""
        return {
            "form": self.form.as_dict(),
            "mapping": self.mapping.as_dict(),
            "questions": [
                {"field": q.field, "because": q.because, "choices": q.choices, "try_next": q.try_next}
                for q in self.questions
            ],
            "reasons": list(self.reasons),
            "candidates": {
                head: [
                    {"quantity": c.column.quantity, "place": c.column.place, "unit": c.column.unit,
                     "score": round(c.column.score, 3), "why": list(c.column.why), "asks": c.asks}
                    for c in several
                ]
                for head, several in self.candidates.items()
            },
        }  # fmt: skip


def propose(
    path: Path, *, zone: str = "", order: str = "", source: str = "", form: LogForm | None = None,
    barometer: float = ATMOSPHERE, changes: bool = True,
) -> Proposal:  # fmt: skip
    """Return form and mapping of a log, proposed from its own lines.

    ``zone`` and ``order`` are answers already known; ``form`` is a form already decided. With ``changes`` the whole
    file is looked through for units that change under one head.

    Raises
    ------
    InputError
        The file holds no table with a time.
    """
    layout = layout_of(path)
    reasons: list[str] = []
    questions: list[Question] = []
    found = form or _form(path, layout)
    if not found.order:
        decided = Decision(order, "was told") if order else _order(path, found)  # type: ignore[arg-type]
        found = found.with_(order=decided.order)
        if decided.order:
            reasons.append(f"dates are {order_words(decided.order)}: {decided.why}")
        else:
            choices = {one: order_words(one) for one in ("dmy", "mdy")}
            questions.append(
                Question("order", decided.why, choices, "Look at the panel's date, or at another log of it.")
            )
    if "decimal" in found.notes:
        questions.append(Question(
            "decimal", f"every '{found.decimal}' stands before three figures: a decimal or a thousands mark",
            {found.decimal: "decimal mark", "": "thousands mark"},
        ))  # fmt: skip
    found, values, offsets = _look(path, layout, found, zone)
    if not found.zone:
        questions.append(Question(
            "zone", "its times say no offset, and a file does not tell where its clock stood",
            {"UTC": "no local time", "+00:00": "a fixed offset", "Europe/Berlin": "a zone with its changes, by name"},
            "Ask at the station what the panel's clock follows, and whether it changes in spring and autumn.",
        ))  # fmt: skip
    elif offsets:
        reasons.append("times say their offset")
    elif _says_utc(found) and not zone:
        reasons.append("the head of the time says UTC")
    columns, several = assign(found.columns, values)
    questions += _unit_questions(columns, several, {column.head: column.unit for column in found.columns})
    if changes:
        columns = _with_changes(path, layout, found, columns, barometer)
    rows = max((len(one) for one in values.values()), default=0)
    return Proposal(
        form=found, mapping=Mapping(source=source, columns=columns, barometer=barometer), questions=tuple(questions),
        reasons=tuple(reasons), candidates=several, rows=rows,
    )  # fmt: skip


def _form(path: Path, layout: str) -> LogForm:
    if layout == "parquet":
        return parquet_form(path)
    if layout == "spreadsheet":
        found = sniff(table_bytes(path), "utf-8", whole=True)
        return found.with_(layout="spreadsheet", delimiter=DELIMITER, quote="")
    sample = sample_of(path)
    encoding, _ = encoding_of(sample)
    return sniff(_without_mark(sample, encoding), encoding, whole=len(sample) < 1 << 18)


def _without_mark(sample: bytes, encoding: str) -> bytes:
    """Return a sample without its byte-order mark, as UTF-8 where it is wider."""
    if encoding.startswith("utf-"):
        return sample.decode(encoding, errors="ignore").lstrip("\ufeff").encode("utf-8")
    return sample


def _order(path: Path, form: LogForm) -> Decision:
    """Return the order of the dates, from the whole file."""
    if form.layout == "parquet":
        return parquet_order(path, form)
    column = next(at for at, one in enumerate(form.columns) if one.role in ("time", "date"))
    reader = LogReader(path, form.with_(zone="UTC"), Ledger())
    values = _first_numbers(reader, column)
    counted = counted_order(values)
    if counted:
        return Decision(counted, "the times are numbers that grow")  # type: ignore[arg-type]
    return date_order(_time_fields(path, form, column), form.step or 60.0)


def _first_numbers(reader: LogReader, column: int) -> list[float]:
    from asfound.history.numbers_in import numbers

    for rows in reader.raw_rows():
        starts, ends = rows.starts[:500, column], rows.ends[:500, column]
        found, other = numbers(rows.data, starts, ends, decimal=reader.form.decimal)
        known = found[~np.isnan(found)]
        return known.tolist() if len(known) and not other.mean() > 0.2 and len(known) > 0.5 * len(found) else []
    return []


def _time_fields(path: Path, form: LogForm, column: int) -> Iterator[tuple[Bytes, Places, Places]]:
    reader = LogReader(path, form.with_(zone="UTC"), Ledger())
    for rows in reader.raw_rows():
        yield rows.data, rows.starts[:, column], rows.ends[:, column]


def _look(path: Path, layout: str, form: LogForm, zone: str) -> tuple[LogForm, dict[str, Array], bool]:
    """Return the form with step and zone, a sample of the values, and whether times say their offset."""
    order: Order = form.order or "dmy"
    trial = form.with_(order=order, zone="UTC")
    reader: LogReader | ParquetReader = (
        ParquetReader(path, trial, Ledger()) if layout == "parquet" else LogReader(path, trial, Ledger())
    )
    values: dict[str, list[Array]] = {}
    times, rows = [], 0
    texts: dict[str, list[TextChannel]] = {}
    for part in reader.parts():
        if part.form.heads != form.heads:
            break
        for head, text in part.texts.items():
            texts.setdefault(head, []).append(text)
        for head, column in part.values.items():
            values.setdefault(head, []).append(column)
        times.append(part.time)
        rows += len(part.time)
        if rows >= SAMPLE_ROWS:
            break
    time = np.concatenate(times) if times else np.empty(0, np.int64)
    words = {head: TextChannel.concat(several) for head, several in texts.items()}
    refuse_one_reading_a_row(path.name, tuple(values), time, words)
    steps = np.diff(time[time != NO_TIME])
    steps = -steps[steps < 0] if (steps < 0).sum() > (steps > 0).sum() else steps[steps > 0]  # the newest row first
    step = float(np.median(steps)) / 1e6 if len(steps) else 0.0
    offsets = getattr(reader, "offsets", False)
    certain = (
        offsets or _says_utc(form) or order.startswith("epoch") or (layout == "parquet" and bool(parquet_zone(path)))
    )
    found = form.with_(step=form.step or step, zone=form.zone or zone or ("UTC" if certain else ""))
    return found, {head: np.concatenate(several) for head, several in values.items()}, bool(offsets)


def _says_utc(form: LogForm) -> bool:
    """Return whether the head of the time column says UTC."""
    heads = [column.head for column in form.columns if column.role in ("time", "date", "clock")]
    return any(re.search(r"(?<![A-Za-z])(UTC|GMT)(?![A-Za-z])", head, re.IGNORECASE) for head in heads)


def _with_changes(
    path: Path, layout: str, form: LogForm, columns: tuple[ColumnIs, ...], barometer: float
) -> tuple[ColumnIs, ...]:
    """Return the columns with the changes of unit that the whole file shows."""
    told = form.with_(order=form.order or "dmy", zone=form.zone or "UTC")

    def parts() -> Iterator[Part]:
        if layout == "parquet":
            return ParquetReader(path, told, Ledger()).parts()
        return LogReader(path, told, Ledger()).parts()

    sure = [one for one in columns if one.score >= TAKEN_FROM]
    found = changes_in_file(parts, sure, barometer=barometer)
    return tuple(with_changes(one, found[one.head]) if one.head in found else one for one in columns)


def _unit_questions(
    columns: tuple[ColumnIs, ...], several: dict[str, tuple[Candidate, ...]], written: dict[str, str]
) -> list[Question]:
    """Return a question for each column whose unit can be read in two ways, or is not written."""
    found = []
    for one in columns:
        offer = next((c for c in several.get(one.head, ()) if c.column == one), None)
        if offer is None or one.score < TAKEN_FROM:
            continue
        if offer.asks:
            choices = dict.fromkeys(offer.choices, one.quantity)
            found.append(Question(one.head, f"{one.unit} {offer.asks}", choices, "Look what it shows at standstill."))
        elif not written.get(one.head) and one.unit != "1":
            units = dict.fromkeys((one.unit, *quantity(one.quantity).typed_units))
            choices = {unit: one.quantity for unit in units if unit}
            because = "no unit is written over it" + (f"; by its values {one.unit}" if one.unit else "")
            found.append(Question(one.head, because, choices, "Look at what the panel shows beside the number."))
    return found
