"""From the words of `asfound gas` to a gas: a file, typed shares, standard input, or a visit; and how it is read."""

from __future__ import annotations

import mimetypes
import sys
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from cyclopts import Parameter

from asfound.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from asfound.cli.options import Home
    from asfound.fuel.composition import Composition
    from asfound.fuel.iso6976 import Reference
    from asfound.fuel.report_traces import Trace
    from asfound.fuel.understood import Understood
    from asfound.records.gas_analysis import Paper


@Parameter(name="*")
@dataclass(frozen=True, kw_only=True)
class How:
    """How an analysis is read; nothing that the report leaves open is guessed."""

    basis: Literal["mole", "volume", "mass"] | None = None
    """What the numbers are, where no column head says so."""
    heavier: str = ""
    """Split of C6+ and its like: n-hexane, 60/30/10, 50/50/0, 50/25/25, 47/36/17, n-heptane ..."""
    plus_minus: Literal["standard", "k2"] | None = None
    """What stands behind +-: a standard uncertainty, or twice that."""
    decimal: Literal["point", "comma"] | None = None
    """Decimal sign, where the numbers leave a doubt."""
    volume_at: str = ""
    """State of the cubic metres of H2S and other traces: '0 C, 101.325 kPa', '15 C, 101.325 kPa' ..."""
    uncertain: Literal["report", "astm_d1945"] = "report"
    """Uncertainty of the components: of the report, or what ASTM D1945 prints for two laboratories."""
    sampled: str = ""
    """Day the sample was taken, 2032-05-02, where the report does not say."""
    sheet: str | None = None
    """Of a spreadsheet; else the first."""
    scale: bool = False
    """Scale the sum to 100 %."""
    without_air: bool = False
    """Take the air out that oxygen and nitrogen can be."""
    leave_refused: bool = False
    """Go on without the lines that were refused."""


@dataclass(frozen=True, kw_only=True)
class Given:
    """A gas as it was named, with what became of each line."""

    understood: Understood | None
    """None for a gas that lies on a visit."""
    gas: Composition | None
    """None while something stands against it."""
    papers: tuple[Paper, ...] = ()
    air: float = 0.0
    """Share of air that was taken out. [mol/mol]"""
    traces: tuple[Trace, ...] = ()
    """What the gas carries by mass."""

    def whole(self) -> Composition:
        """Return the gas; raises what stands against it."""
        if self.gas is None:
            complaint = self.understood.complaint if self.understood else None
            raise complaint or InputError("gas", "", "has no component")
        return self.gas


def given(words: Sequence[str], how: How, where: Home) -> Given:
    """Return the gas that words name.

    Parameters
    ----------
    words : sequence of str
        A file; ``-`` for standard input; ``CH4=91.2 C2H6=4.6`` typed; or a visit.
    """
    from asfound.fuel.understood import understand

    read = _text(words, how)
    if read is None:
        return _of_visit(words, how, where)
    text, papers = read
    found = understand(
        text, basis=how.basis, heavier=how.heavier or None, plus_minus=how.plus_minus, decimal=how.decimal,
        volume_at=how.volume_at, sampled=_day(how.sampled), uncertain=how.uncertain,
        source=papers[-1].filename if papers else "typed",
    )  # fmt: skip
    stands = found.composition is not None and (how.leave_refused or not found.refused)
    gas, air = _treated(found.composition, how) if stands and found.composition is not None else (None, 0.0)
    return Given(understood=found, gas=gas, papers=papers, air=air, traces=found.traces)


def _treated(gas: Composition, how: How) -> tuple[Composition, float]:
    """Return a gas without air and scaled, as was asked."""
    from asfound.fuel.air_in_sample import without_air

    air = 0.0
    if how.without_air:
        gas, air = without_air(gas)
    return gas.normalised() if how.scale else gas, air


def _text(words: Sequence[str], how: How) -> tuple[str, tuple[Paper, ...]] | None:
    """Return the text of an analysis and what it came from; None where the words name a visit."""
    from asfound.fuel.analysis_files import text_of
    from asfound.records.gas_analysis import Paper

    if all("=" in word for word in words) and words:
        text = "\n".join(word.replace("=", "\t", 1) for word in words)
        return text, (Paper(content=text.encode(), filename="typed.txt"),)
    if len(words) != 1:
        raise InputError("gas", " ".join(words)[:60], "is no gas",
                         allowed="a file, -, CH4=91.2 C2H6=4.6 ..., or a visit")  # fmt: skip
    if words[0] == "-":
        text = sys.stdin.read()
        return text, (Paper(content=text.encode(), filename="pasted.txt"),)
    path = Path(words[0])
    if not path.is_file():
        return None
    content = path.read_bytes()
    text = text_of(content, path.name, sheet=how.sheet)
    kind = mimetypes.guess_type(path.name)[0] or "application/octet-stream"
    return text, (Paper(content=content, filename=path.name, media_type=kind),)


def _of_visit(words: Sequence[str], how: How, where: Home) -> Given:
    """Return the gas that lies on a visit, as left where one was read then, else as found."""
    from asfound.cli.find import opened, view_of
    from asfound.records.gas_analysis import kept

    if Path(words[0]).suffix:
        raise InputError("gas", words[0], "is no file that is there", try_next="Look at the name and the folder.")
    view = view_of(opened(where), words[0])
    found = kept(view, "as_left") or kept(view, "as_found")
    if found is None:
        raise InputError("visit", words[0], "has no gas analysis", try_next=f"asfound gas take {words[0]} FILE")
    gas, air = _treated(found.composition, how)
    return Given(understood=None, gas=gas, air=air, traces=found.traces)


def _day(text: str) -> date | None:
    """Return a day; InputError where it is none."""
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise InputError("sampled", text, "is no day", allowed="2032-05-02") from None


def reference_of(text: str) -> Reference:
    """Return the reference state that a text such as 15/15, 25/0 or 60F/60F names; US base pressures behind @.

    >>> reference_of("60F/60F@14.73 psia").pressure > 101_325
    True
    """
    from asfound.fuel.iso6976 import REFERENCE_PRESSURE, Reference
    from asfound.quantities.parse import parse_amount

    pair, _, pressure = text.partition("@")
    base = REFERENCE_PRESSURE
    if pressure.strip():
        value = parse_amount(pressure, quantity="barometric_pressure", field="reference", decimal=".").value
        base = value if value is not None else base
    return Reference.named(pair or "15/15", base)


def is_whole(one: Composition) -> bool:
    """Return whether a gas adds up to 100 %."""
    from asfound.fuel.iso6976 import SUM_TOLERANCE

    return abs(one.total - 1) <= SUM_TOLERANCE


def as_whole(one: Composition) -> Composition:
    """Return a gas scaled to 100 % where it does not add up."""
    return one if is_whole(one) else one.normalised()
