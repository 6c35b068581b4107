"""One line of a laboratory's report: which component, how much, in what, how well; and what the columns are.

What cannot be read is refused by its line, never dropped and never guessed.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

from asfound.errors import AmbiguousError, InputError, UnknownNameError
from asfound.fuel.components import table
from asfound.fuel.composition import Basis
from asfound.fuel.names import GROUPS, component_named, is_known
from asfound.fuel.report_traces import VOLUMES, Trace, mass_unit_behind, read_trace, trace_fraction
from asfound.fuel.report_words import ASIDE, Column, any_date, columns_of
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
_INLINE: Mapping[str, float] = {"%": 100.0, "ppm": 1e6, "ppb": 1e9}
STATE_OF_VOLUME = "Look at the foot of the report; many count at 0 or 15 °C."


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
    unit: str = ""
    """Behind the number, where one stands there; else that of the column holds."""

    def over(self, scale: float) -> Line:
        """Return the line with what its column is divided by; a unit of its own has done so already."""
        if self.unit or scale == 1.0:
            return self
        return replace(self, fraction=self.fraction / scale, standard_uncertainty=self.standard_uncertainty / scale)


def component_at(line: str, number: int) -> tuple[str, str] | None:
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


def refuse_unknown(line: str, number: int) -> None:
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


def column_heads(others: list[str]) -> tuple[tuple[Column, ...], Column | None]:
    """Return the kinds of column in their order, and the one to read: mole before volume before mass."""
    best: tuple[Column, ...] = ()
    for line in others:
        kinds = columns_of(line)
        if sum(kind != "other" for kind in kinds) > sum(kind != "other" for kind in best):
            best = kinds
    preferred: tuple[Column, ...] = ("mole", "mole fraction", "volume", "mass", "ppm")
    return best, next((kind for kind in preferred if kind in best), None)


def basis_of(basis: Basis | None, heads: tuple[Column, ...], said: Column | None) -> tuple[Basis, float | None]:
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


def decimal_sign(rests: list[str]) -> DecimalSign:
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


def scale_of(lines: list[Line], scale: float | None) -> float:
    """Return what the numbers are divided by: 1 where their sum is near 1, 100 where it is near 100."""
    if scale is not None:
        return 1.0  # already done, line by line
    open_ = sum(one.fraction for one in lines if not one.unit)
    total = sum(one.fraction for one in lines)
    if open_ == 0.0:
        return 1.0
    for factor in (1.0, 100.0):
        if 0.8 <= total - open_ + open_ / factor <= 1.2:
            return factor
    raise InputError("report", f"{total:g}", "is what the components add up to: neither fractions nor per cent",
                     allowed="about 1, or about 100", try_next="Look for a missing line, or say the unit.")  # fmt: skip


@dataclass(frozen=True, slots=True)
class Reader:
    """How the numbers of a line are read."""

    column: int
    u_column: int | None
    scale: float | None
    plus_minus: PlusMinus | None
    decimal: DecimalSign
    basis: Basis = "mole"
    volume_at: str = ""
    """State of the cubic metres of a trace whose unit does not say it."""

    def line(self, number: int, line: str, component: str, rest: str) -> Line:
        """Return one line with its component."""
        cells = list(_NUMBER.finditer(rest))
        at = min(self.column, len(cells) - 1)
        cell = cells[at]
        made = Line(number=number, text=line, component=component, fraction=0.0, standard_uncertainty=0.0)
        if cell["none"]:
            return replace(made, below=True)
        value = self.value(cell["number"], number, line)
        if value < 0:
            raise InputError(f"line {number}", line, "gives a share below nothing", allowed="0 or more")
        below = cell["mark"] in ("<", "≤", "&lt;")
        if cell["mark"] and not below:
            raise InputError(f"line {number}", line, "gives no share, only what it is above",
                             try_next="Ask the laboratory for the value.")  # fmt: skip
        behind = rest[cell.end() : cells[at + 1].start() if at + 1 < len(cells) else None]
        unit, share = self.share(behind, rest[cell.end() :], component, number, line)
        if below:  # anywhere between 0 and the limit: root mean square about 0
            return replace(made, standard_uncertainty=value * share / 3**0.5, below=True, unit=unit)
        u = 0.0
        if cell["half"] or (
            self.u_column is not None and self.u_column < len(cells) and cells[self.u_column]["number"]
        ):
            text = cell["half"] or cells[self.u_column or 0]["number"]
            u = self.value(text, number, line) / self.coverage(number, line, text)
        return replace(made, fraction=value * share, standard_uncertainty=u * share, unit=unit)

    def share(self, behind: str, to_the_end: str, component: str, number: int, line: str) -> tuple[str, float]:
        """Return the unit behind a number, and the share that a one of it is; a unit there goes before the column's."""
        mass = mass_unit_behind(to_the_end)
        if mass is not None:
            return mass, self.by_mass(mass, component, number, line)
        unit = behind.strip().casefold()
        found = next((one for one in _INLINE if unit.startswith(one)), "")
        if found == "%" and self.scale not in (None, _INLINE["%"]):
            found = ""  # a column of ppm with a stray sign
        return found, 1 / _INLINE[found] if found else 1 / (self.scale or 1.0)

    def by_mass(self, unit: str, component: str, number: int, line: str) -> float:
        """Return the mole fraction of one unit of mass per volume of a component."""
        if self.basis == "mass" or component in GROUPS:
            raise InputError(f"line {number}", line, "is a mass per volume in a table that cannot take it",
                             allowed="ppm, per cent", try_next="Ask the laboratory for its mole fraction.")  # fmt: skip
        molar_mass = float(table().molar_mass[table().place[component]])
        try:
            return trace_fraction(1.0, unit, molar_mass, self.volume_at)
        except AmbiguousError as error:
            raise AmbiguousError(f"line {number}", line, "counts a volume of gas without its temperature and pressure",
                                 choices=dict.fromkeys(VOLUMES, ""), try_next=STATE_OF_VOLUME) from error  # fmt: skip
        except InputError as error:
            raise InputError(f"line {number}", line, error.because, allowed=error.allowed) from error

    def trace(self, number: int, line: str, quantity: str, rest: str) -> Trace:
        """Return a trace that the gas carries by mass."""
        cell = _NUMBER.search(rest)
        if cell is None or not cell["number"]:
            raise InputError(f"line {number}", line, "gives no number",
                             try_next="Leave it out where it was not found.")  # fmt: skip
        value = self.value(cell["number"], number, line)
        below = cell["mark"] in ("<", "≤", "&lt;")
        try:
            return read_trace(
                quantity, value, rest[cell.end() :], below=below, text=rest, volume_at=self.volume_at
            )  # fmt: skip
        except AmbiguousError as error:
            raise AmbiguousError(f"line {number}", line, "counts a volume of gas without its temperature and pressure",
                                 choices=dict.fromkeys(VOLUMES, ""), try_next=STATE_OF_VOLUME) from error  # fmt: skip
        except InputError as error:
            raise InputError(f"line {number}", line, error.because, allowed=error.allowed) from error

    def value(self, text: str, number: int, line: str) -> float:
        """Return a number of a line."""
        try:
            found = parse_number(text, decimal=self.decimal, field=f"line {number}").value
        except InputError as error:
            raise InputError(
                f"line {number}", line, error.because, allowed=error.allowed, try_next=error.try_next
            ) from error
        if found is None or not math.isfinite(found):
            raise InputError(f"line {number}", line, "has no number that can be a share")
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
        try:
            value = parse_number(cells[min(self.column, len(cells) - 1)]["number"], decimal=self.decimal).value
        except InputError:
            return None
        return None if value is None else value / (1.0 if self.scale is None else self.scale)
