"""How each line of a report was understood, what was refused and why, and what has to be said before it can be taken.

The same reading stands behind the preview on a page and behind `laboratory_report.read_report`, which refuses at the
first doubt. Every line that is not empty is in the answer exactly once.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal, TypeVar

from asfound.errors import AmbiguousError, AsFoundError, InputError
from asfound.fuel.composition import Basis, Composition, composition
from asfound.fuel.iso6976 import DEFAULT_REFERENCE, Reference
from asfound.fuel.names import title
from asfound.fuel.report_lines import (
    Line,
    PlusMinus,
    Reader,
    basis_of,
    column_heads,
    component_at,
    decimal_sign,
    refuse_unknown,
    scale_of,
)
from asfound.fuel.report_traces import Trace, trace_at
from asfound.fuel.report_words import TOTAL, sampled_on
from asfound.fuel.splits import Split
from asfound.quantities.numerals import DecimalSign

Kind = Literal["component", "trace", "sum", "aside", "refused"]
Heavier = str | Split | Mapping[str, str | Split] | None
Uncertain = Literal["report", "astm_d1945"]
T = TypeVar("T")
PLUS_MINUS = {"standard", "k2"}
BEFORE_THE_LINES = ("basis", "decimal sign")
"""Questions without whose answer no line can be read."""
LONGEST = 400
"""A report has a page or two; a longer text is a log, or none. [lines]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of the text and what became of it."""

    number: int
    """Counted from 1."""
    text: str
    kind: Kind
    line: Line | None = None
    trace: Trace | None = None
    error: InputError | None = None
    """Why it was refused."""

    @property
    def means(self) -> str:
        """What it was understood as: a component, a trace, the sum; empty for a line about something else."""
        if self.line is not None:
            return title(self.line.component)
        return self.trace.quantity if self.trace is not None else "sum" if self.kind == "sum" else ""

    @property
    def has_number(self) -> bool:
        """Whether a number stands in it: such a line is shown when it was left out."""
        return any(sign.isdigit() for sign in self.text)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Understood:
    """A report as it was understood."""

    rows: tuple[Row, ...]
    basis: Basis | None
    composition: Composition | None
    """None while something is asked, or no line gives a component. Refused lines are not in it."""
    questions: tuple[AsFoundError, ...]
    """What has to be said first; ``field`` names the argument: basis, decimal sign, heavier, a line."""
    stated_total: float | None = None
    """What the report prints as its sum. [1]"""
    notes: tuple[str, ...] = ()

    @property
    def lines(self) -> tuple[Line, ...]:
        """Lines that give a component, in the basis of the report."""
        return tuple(row.line for row in self.rows if row.line is not None)

    @property
    def traces(self) -> tuple[Trace, ...]:
        """What the gas carries by mass."""
        return tuple(row.trace for row in self.rows if row.trace is not None)

    @property
    def refused(self) -> tuple[Row, ...]:
        """Lines that look like a component and could not be taken."""
        return tuple(row for row in self.rows if row.kind == "refused")

    @property
    def left_out(self) -> tuple[tuple[int, str], ...]:
        """Lines with a number that are about something else: number and text."""
        return tuple((row.number, row.text) for row in self.rows if row.kind == "aside" and row.has_number)

    @property
    def complaint(self) -> AsFoundError | None:
        """The first thing that stands against taking it; None where nothing does."""
        before = [one for one in self.questions if getattr(one, "field", "") in BEFORE_THE_LINES]
        after = [one for one in self.questions if one not in before]
        errors = [*before, *(row.error for row in self.refused if row.error is not None), *after]
        return errors[0] if errors else None


def understand(
    text: str,
    *,
    basis: Basis | None = None,
    heavier: Heavier = None,
    plus_minus: PlusMinus | None = None,
    decimal: DecimalSign | None = None,
    reference: Reference = DEFAULT_REFERENCE,
    volume_at: str = "",
    sampled: date | None = None,
    source: str = "",
    uncertain: Uncertain = "report",
) -> Understood:
    r"""Return how a report was understood; it raises nothing, whatever the text.

    Parameters
    ----------
    text, basis, heavier, plus_minus, decimal, reference, sampled, source
        As in `laboratory_report.read_report`.
    volume_at : str
        State of the cubic metres of a trace whose unit does not say it: one of `report_traces.VOLUMES`.
    uncertain : {'report', 'astm_d1945'}
        Uncertainty of the components: what the report says, or what ASTM D1945 prints for two laboratories.

    Examples
    --------
    >>> found = understand("mol %\nMethane 95.0\nNitrogen 4.5\nUnobtainium 0.5")
    >>> [row.kind for row in found.rows], str(found.refused[0].error)[:6]
    (['aside', 'component', 'component', 'refused'], 'line 4')
    """
    texts = [(number, line.strip()) for number, line in enumerate(text.splitlines(), start=1) if line.strip()]
    if len(texts) > LONGEST:
        error = InputError("report", f"{len(texts)} lines", "is more than a report has", allowed=f"up to {LONGEST}",
                           try_next="A table with a gas in each row is read as a log.")  # fmt: skip
        return Understood(rows=(), basis=basis, composition=None, questions=(error,))
    at = [_component(number, line) for number, line in texts]
    questions: list[AsFoundError] = []
    heads, said = column_heads([line for (_, line), found in zip(texts, at, strict=True) if found is None])
    usual: tuple[Basis, float | None] = ("mole", None)
    taken, scale = _asked(questions, lambda: basis_of(basis, heads, said), usual)
    point: DecimalSign = "point"
    rests = [one[1] for one in at if isinstance(one, tuple)]
    sign: DecimalSign = decimal if decimal is not None else _asked(questions, lambda: decimal_sign(rests), point)
    reader = Reader(
        heads.index(said) if said in heads else 0,
        heads.index("uncertainty") if "uncertainty" in heads else None,
        scale, plus_minus, sign, taken, volume_at,
    )  # fmt: skip
    rows = _rows(texts, at, reader, questions)
    total = next((reader.total(row.text) for row in rows if row.kind == "sum"), None)
    lines = [row.line for row in rows if row.line is not None]
    if not lines and not questions:
        nothing = InputError("report", text[:40], "has no line with a component and its share",
                             try_next="Paste the table: one component with its number in each line.")  # fmt: skip
        questions.append(nothing)
    divide = _asked(questions, lambda: scale_of(lines, scale), 1.0) if lines else 1.0
    rows = [_over(row, divide) for row in rows]
    lines = [row.line for row in rows if row.line is not None]
    gas = None
    if lines and not questions:
        gas = _asked(
            questions,
            lambda: composition(
                {one.component: one.fraction for one in lines},
                uncertainties=_uncertainties(lines, uncertain),
                basis=taken, heavier=heavier, reference=reference, source=source,
                sampled=sampled or next((on for _, line in texts if (on := sampled_on(line))), None),
                as_typed={one.component: one.text for one in lines},
            ),
            None,
        )  # fmt: skip
    stated = None if total is None else total / divide
    return Understood(
        rows=tuple(rows),
        basis=None if any(getattr(one, "field", "") == "basis" for one in questions) else taken,
        composition=gas,
        questions=tuple(questions),
        stated_total=stated,
        notes=_notes(gas, lines, stated) if gas is not None else (),
    )


def _asked(questions: list[AsFoundError], answer: Callable[[], T], otherwise: T) -> T:
    """Return an answer, or keep the question and go on with what is most usual, for the preview only."""
    try:
        return answer()
    except AsFoundError as error:
        questions.append(error)
    return otherwise


def _component(number: int, line: str) -> tuple[str, str] | InputError | None:
    """Return the component that a line begins with and its rest, what is to be asked of it, or None."""
    if TOTAL.match(line):
        return None
    try:
        return component_at(line, number)
    except InputError as error:
        return error


def _rows(
    texts: list[tuple[int, str]],
    at: list[tuple[str, str] | InputError | None],
    reader: Reader,
    questions: list[AsFoundError],
) -> list[Row]:
    """Return what became of each line."""
    rows: list[Row] = []
    first: dict[str, int] = {}
    for (number, text), named in zip(texts, at, strict=True):
        row = _row(number, text, named, reader, questions)
        if row.line is not None:
            before = first.setdefault(row.line.component, number)
            if before != number:
                error = InputError(
                    f"line {number}", text, f"gives {row.line.component} a second time, after line {before}",
                    try_next="Paste one table only.",
                )  # fmt: skip
                row = Row(number=number, text=text, kind="refused", error=error)
        rows.append(row)
    return rows


def _row(
    number: int, text: str, named: tuple[str, str] | InputError | None, reader: Reader, questions: list[AsFoundError]
) -> Row:
    """Return what became of one line."""
    try:
        if isinstance(named, InputError):
            raise named
        if named is not None:
            return Row(number=number, text=text, kind="component", line=reader.line(number, text, *named))
        trace = trace_at(text)
        if trace is not None and any(sign.isdigit() for sign in trace[1]):
            return Row(number=number, text=text, kind="trace", trace=reader.trace(number, text, *trace))
        if TOTAL.match(text):
            return Row(number=number, text=text, kind="sum")
        if any(sign.isdigit() for sign in text):
            refuse_unknown(text, number)
        return Row(number=number, text=text, kind="aside")
    except AmbiguousError as error:
        kinds = [set(getattr(one, "choices", ())) for one in (error, *questions)]
        if kinds[0] == PLUS_MINUS and PLUS_MINUS not in kinds[1:]:  # one answer for the whole table
            questions.append(error)
        return Row(number=number, text=text, kind="refused", error=error)
    except InputError as error:
        return Row(number=number, text=text, kind="refused", error=error)


def _over(row: Row, scale: float) -> Row:
    """Return a row with what its column is divided by."""
    return row if row.line is None else replace(row, line=row.line.over(scale))


def _uncertainties(lines: list[Line], uncertain: Uncertain) -> Mapping[str, float] | Literal["astm_d1945"]:
    """Return the standard uncertainties by component, or the name of the method that has them."""
    if uncertain == "astm_d1945":
        return "astm_d1945"
    return {one.component: one.standard_uncertainty for one in lines}


def _notes(gas: Composition, lines: list[Line], stated: float | None) -> tuple[str, ...]:
    """Return what a reader should look at."""
    notes = [gas.says] if gas.says else []
    if stated is not None and abs(stated - gas.total_analysed) > 5e-4:
        notes.append(
            f"The report prints {100 * stated:.2f} % as its sum; its lines add up to {100 * gas.total_analysed:.2f} %."
        )
    below = [one.component for one in lines if one.below]
    if below:
        notes.append(f"Not found, counted as 0 with their limit as uncertainty: {', '.join(below)}.")
    notes.extend(f"{title(name)} shared out as {how}." for name, how in gas.heavier.items())
    return tuple(notes)
