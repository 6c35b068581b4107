"""Read the text of a laboratory's report, pasted as it is: names in any language, columns in any order.

What is not understood is named with its line, never dropped: an unknown component stops the reading, and every line
that holds a number and was left out is listed.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Literal

from asfound.errors import AmbiguousError, InputError, UnknownNameError
from asfound.fuel.composition import Basis, Composition, composition
from asfound.fuel.iso6976 import DEFAULT_REFERENCE, Reference
from asfound.fuel.names import component_named, is_known
from asfound.fuel.report_words import ASIDE, TOTAL, Column, any_date, columns_of, sampled_on
from asfound.fuel.splits import Split
from asfound.quantities.numerals import DecimalSign, parse_number

PlusMinus = Literal["standard", "k2"]
_NUMBER = re.compile(
    r"(?P<mark>[<≤>≥]|&lt;)?\s*(?<![\w.,])(?P<number>[-+−]?\d+(?:[.,]\d+)*(?:[eE][-+]?\d+)?)(?![\w])"
    r"(?:\s*(?:±|\+/-|\+-)\s*(?P<half>\d+(?:[.,]\d+)?))?"
    r"|(?P<none>\b(?:n\.?d\.?|nd|n\.?n\.?|nil|none|bdl|trace|traces|tr|spuren|not detected|"
    r"nicht nachweisbar)(?!\w)|(?<=\s)[-–—]+(?=\s|$))",
    re.IGNORECASE,
)  # fmt: skip
_CELLS = re.compile(r"[\t|;]+|\s{2,}|:\s+|=|\s")
_INDEX = re.compile(r"^\d{1,2}[.)]?$")
_INLINE: Mapping[str, float] = {"%": 100.0, "ppm": 1e6}


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of the report that gives a component."""

    number: int
    """Counted from 1."""
    text: str
    component: str
    fraction: float
    """In the basis of the report. [1]"""
    standard_uncertainty: float
    """[1]"""
    below: bool = False
    """Not found: below a limit, which is kept as uncertainty."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LaboratoryReport:
    """What a report says."""

    composition: Composition
    lines: tuple[Line, ...]
    left_out: tuple[tuple[int, str], ...]
    """Lines with a number that are no component: line number and text."""
    stated_total: float | None = None
    """What the report prints as its sum. [1]"""
    notes: tuple[str, ...] = ()
    """What a reader should look at."""


def read_report(
    text: str,
    *,
    basis: Basis | None = None,
    heavier: str | Split | Mapping[str, str | Split] | None = None,
    plus_minus: PlusMinus | None = None,
    decimal: DecimalSign | None = None,
    reference: Reference = DEFAULT_REFERENCE,
    sampled: date | None = None,
    source: str = "",
) -> LaboratoryReport:
    r"""Return the composition that a pasted report gives.

    Parameters
    ----------
    text : str
        The report, with whatever stands around the table.
    basis : {'mole', 'volume', 'mass'}, optional
        What its numbers are, where no column head says so; it is never guessed.
    heavier : str or mapping, optional
        Split of C6+ and its like, as `composition.composition` takes it.
    plus_minus : {'standard', 'k2'}, optional
        What stands behind ±: a standard uncertainty, or twice that.
    decimal : {'point', 'comma'}, optional
        Decimal sign; found from the numbers where they leave no doubt.
    reference : Reference
        State of the volumes, for volume per cent.
    sampled, source
        Kept; the date is taken from the report where it says when the sample was taken.

    Raises
    ------
    InputError
        A line cannot be read, a component stands twice, no basis, no component; names the line.
    AmbiguousError
        A name or number that can be read in two ways, with the line.

    Examples
    --------
    >>> report = read_report("Component   Mol %\nMethane     92.10\nEthane       5.20\nN2           2.70")
    >>> round(report.composition.by_name["nitrogen"], 6)
    0.027
    """
    rows = [(number, line.strip()) for number, line in enumerate(text.splitlines(), start=1) if line.strip()]
    found = [(number, line, _component_at(line, number)) for number, line in rows]
    heads, said = _heads([line for _, line, name in found if name is None])
    basis, scale = _basis(basis, heads, said)
    column = heads.index(said) if said in heads else 0
    u_column = heads.index("uncertainty") if "uncertainty" in heads else None
    sign = decimal or _decimal_sign([rest for _, _, name in found if name for rest in (name[1],)])
    reader = _Reader(column, u_column, scale, plus_minus, sign)
    lines: list[Line] = []
    left_out: list[tuple[int, str]] = []
    total = None
    for number, line, named in found:
        if named is None:
            if TOTAL.match(line):
                total = reader.total(line)
            elif any(sign.isdigit() for sign in line):
                _refuse_unknown(line, number)
                left_out.append((number, line))
            continue
        one = reader.line(number, line, *named)
        twice = next((other for other in lines if other.component == one.component), None)
        if twice is not None:
            raise InputError(f"line {number}", line, f"gives {one.component} a second time, after line {twice.number}",
                             try_next="Paste one table only.")  # fmt: skip
        lines.append(one)
    if not lines:
        raise InputError("report", text[:40], "has no line with a component and its share",
                         try_next="Paste the table: one component with its number in each line.")  # fmt: skip
    scale_found = _scale(lines, scale)
    gas = composition(
        {one.component: one.fraction / scale_found for one in lines},
        uncertainties={one.component: one.standard_uncertainty / scale_found for one in lines},
        basis=basis, heavier=heavier, reference=reference, source=source,
        sampled=sampled or next((on for _, line in rows if (on := sampled_on(line))), None),
        as_typed={one.component: one.text for one in lines},
    )  # fmt: skip
    stated = None if total is None else total / scale_found
    return LaboratoryReport(
        composition=gas,
        lines=tuple(lines),
        left_out=tuple(left_out),
        stated_total=stated,
        notes=_notes(gas, lines, stated),
    )


def _component_at(line: str, number: int) -> tuple[str, str] | None:
    """Return the component that a line begins with and the rest of the line; None for a line about something else."""
    cells = [cell for cell in _CELLS.split(line) if cell]
    starts = (0, 1) if cells and _INDEX.match(cells[0]) else (0,)
    for start in starts:
        for end in range(min(len(cells), start + 6), start, -1):
            name = " ".join(cells[start:end])
            if not is_known(name):
                continue
            rest = _rest(line, cells[:end])
            if not _NUMBER.search(rest):
                return None  # a sentence that begins with a gas
            try:
                return component_named(name, field=f"line {number}"), rest
            except AmbiguousError as error:
                raise AmbiguousError(f"line {number}", line, error.because, choices=error.choices,
                                     try_next=error.try_next) from error  # fmt: skip
    if "," in line and "\t" not in line:  # a line of a comma-separated file
        head, _, rest = line.partition(",")
        if is_known(head) and _NUMBER.search(rest):
            return component_named(head, field=f"line {number}"), rest.replace(",", "  ")
    return None


def _rest(line: str, cells: list[str]) -> str:
    """Return what stands behind the first cells of a line, a formula in brackets left out."""
    at = 0
    for cell in cells:
        at = line.index(cell, at) + len(cell)
    return re.sub(r"^[\s|;:=]*(?:[\[(][^\])]*[\])])?", " ", line[at:])


def _refuse_unknown(line: str, number: int) -> None:
    """Refuse a line that looks like a component with its share and bears no known name."""
    words = re.match(
        r"^(?:\d{1,2}[.)]?\s+)?([^\d\s][^\t|;:=]*?)\s*[\t|;:=\s]\s*[<≤]?\s*\d[\d.,]*\s*(?:%|ppm)?\S*\s*$", line
    )
    if not words or ASIDE.search(line) or any_date(line) or len(words[1].split()) > 3:
        return
    try:
        component_named(words[1])
    except UnknownNameError as error:
        near = getattr(error, "near", ())
        raise InputError(
            f"line {number}", line, f"begins with '{words[1]}', which is no component that is known here",
            allowed=", ".join(near), try_next="Write the name in full, or leave the line out if it is no component.",
        ) from error  # fmt: skip


def _heads(others: list[str]) -> tuple[tuple[Column, ...], Column | None]:
    """Return the kinds of column in their order, and the one to read: mole before volume before mass."""
    best: tuple[Column, ...] = ()
    for line in others:
        kinds = columns_of(line)
        if sum(kind != "other" for kind in kinds) > sum(kind != "other" for kind in best):
            best = kinds
    preferred: tuple[Column, ...] = ("mole", "mole fraction", "volume", "mass", "ppm")
    return best, next((kind for kind in preferred if kind in best), None)


def _basis(basis: Basis | None, heads: tuple[Column, ...], said: Column | None) -> tuple[Basis, float | None]:
    """Return the basis and what its numbers are divided by; None where the sum has to tell."""
    of_head: dict[Column, tuple[Basis, float | None]] = {
        "mole": ("mole", 100.0), "mole fraction": ("mole", None), "volume": ("volume", 100.0), "mass": ("mass", 100.0),
        "ppm": ("mole", 1e6),
    }  # fmt: skip
    if said is None:
        if basis is None:
            raise InputError(
                "basis", ", ".join(heads), "is not said in the report: mole, volume or mass",
                allowed="mole, volume, mass",
                try_next="Look at the head of the column, or ask the laboratory: mostly it is mole per cent.",
            )  # fmt: skip
        return basis, None
    found, scale = of_head[said]
    if basis is not None and basis != found:
        raise InputError("basis", basis, f"does not agree with the report's own column, {found} per cent",
                         try_next="Leave it out, or paste only the column meant.")  # fmt: skip
    return found, scale


def _decimal_sign(rests: list[str]) -> DecimalSign:
    """Return the decimal sign that the numbers of the table use; no share has thousands, so one sign alone is it."""
    numbers = [match["number"] for rest in rests for match in _NUMBER.finditer(rest) if match["number"]]
    points, commas = sum("." in one for one in numbers), sum("," in one for one in numbers)
    if points and commas:
        last = {one[max(one.rfind("."), one.rfind(","))] for one in numbers if "." in one and "," in one}
        if len(last) != 1:
            mixed = next(one for one in numbers if "," in one)
            raise AmbiguousError("decimal sign", mixed, "stands in a table that has points too",
                                 choices={"point": "92.1 is ninety-two", "comma": "92,1 is ninety-two"})  # fmt: skip
        return "point" if last == {"."} else "comma"
    return "comma" if commas else "point"


def _scale(lines: list[Line], scale: float | None) -> float:
    """Return what the numbers are divided by: 1 where their sum is near 1, 100 where it is near 100."""
    if scale is not None:
        return 1.0  # already done, line by line
    total = sum(one.fraction for one in lines)
    for factor in (1.0, 100.0):
        if 0.8 <= total / factor <= 1.2:
            return factor
    raise InputError("report", f"{total:g}", "is what the components add up to: neither fractions nor per cent",
                     allowed="about 1, or about 100", try_next="Look for a missing line, or say the unit.")  # fmt: skip


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
    notes.extend(f"{name} shared out as {how}." for name, how in gas.heavier.items())
    return tuple(notes)


@dataclass(frozen=True, slots=True)
class _Reader:
    """How the numbers of a line are read."""

    column: int
    u_column: int | None
    scale: float | None
    plus_minus: PlusMinus | None
    decimal: DecimalSign

    def line(self, number: int, line: str, component: str, rest: str) -> Line:
        """Return one line with its component."""
        cells = list(_NUMBER.finditer(rest))
        at = min(self.column, len(cells) - 1)
        cell = cells[at]
        factor = self.inline(rest[cell.end() : cells[at + 1].start() if at + 1 < len(cells) else None])
        u = 0.0
        if cell["half"] or (
            self.u_column is not None and self.u_column < len(cells) and cells[self.u_column]["number"]
        ):
            text = cell["half"] or cells[self.u_column or 0]["number"]
            u = self.value(text, number, line) / self.coverage(number, line, text)
        if cell["none"]:
            return Line(
                number=number, text=line, component=component, fraction=0.0, standard_uncertainty=0.0, below=True
            )
        value = self.value(cell["number"], number, line)
        if value < 0:
            raise InputError(f"line {number}", line, "gives a share below nothing", allowed="0 or more")
        below = cell["mark"] in ("<", "≤", "&lt;")
        if cell["mark"] and not below:
            raise InputError(f"line {number}", line, "gives no share, only what it is above",
                             try_next="Ask the laboratory for the value.")  # fmt: skip
        if below:  # anywhere between 0 and the limit: root mean square about 0
            return Line(number=number, text=line, component=component, fraction=0.0,
                        standard_uncertainty=value / 3**0.5 / factor, below=True)  # fmt: skip
        return Line(
            number=number, text=line, component=component, fraction=value / factor, standard_uncertainty=u / factor
        )

    def inline(self, behind: str) -> float:
        """Return what a number is divided by: a unit behind it counts more than the head of the column."""
        unit = behind.strip().casefold()
        if unit.startswith("ppm"):
            return _INLINE["ppm"] if self.scale is not None else _INLINE["ppm"] / 100  # the sum is told in per cent
        return 1.0 if self.scale is None else _INLINE["%"] if unit.startswith("%") else self.scale

    def value(self, text: str, number: int, line: str) -> float:
        """Return a number of a line."""
        try:
            found = parse_number(text, decimal=self.decimal, field=f"line {number}").value
        except InputError as error:
            raise InputError(
                f"line {number}", line, error.because, allowed=error.allowed, try_next=error.try_next
            ) from error
        assert found is not None
        return found

    def coverage(self, number: int, line: str, text: str) -> float:
        """Return what an uncertainty is divided by to become a standard one."""
        if self.plus_minus is None:
            raise AmbiguousError(
                f"line {number}", line, f"has ± {text} and does not say of which kind",
                choices={"standard": "a standard uncertainty", "k2": "twice that (95 %)"},
                try_next="Look below the table of the report: k = 2 is common.",
            )  # fmt: skip
        return 2.0 if self.plus_minus == "k2" else 1.0

    def total(self, line: str) -> float | None:
        """Return the sum that the report prints, or None."""
        cells = [cell for cell in _NUMBER.finditer(line) if cell["number"]]
        if not cells:
            return None
        value = parse_number(cells[min(self.column, len(cells) - 1)]["number"], decimal=self.decimal).value
        return None if value is None else value / (1.0 if self.scale is None else self.scale)
