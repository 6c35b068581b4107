"""Read the text of a laboratory's report, pasted as it is: names in any language, columns in any order.

What is not understood is named with its line, never dropped: an unknown component stops the reading, and every line
that holds a number and was left out is listed. `understood.understand` shows the same without stopping.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from asfound.fuel.composition import Basis, Composition
from asfound.fuel.iso6976 import DEFAULT_REFERENCE, Reference
from asfound.fuel.report_lines import Line, PlusMinus
from asfound.fuel.report_traces import Trace
from asfound.fuel.splits import Split
from asfound.fuel.understood import Uncertain, Understood, understand
from asfound.quantities.numerals import DecimalSign


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
    traces: tuple[Trace, ...] = ()
    """What the gas carries by mass: sulfur, siloxanes, water."""


def read_report(
    text: str,
    *,
    basis: Basis | None = None,
    heavier: str | Split | Mapping[str, str | Split] | None = None,
    plus_minus: PlusMinus | None = None,
    decimal: DecimalSign | None = None,
    reference: Reference = DEFAULT_REFERENCE,
    volume_at: str = "",
    sampled: date | None = None,
    source: str = "",
    uncertain: Uncertain = "report",
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
    volume_at, uncertain
        As in `understood.understand`.
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
    found = understand(
        text, basis=basis, heavier=heavier, plus_minus=plus_minus, decimal=decimal, reference=reference,
        volume_at=volume_at, sampled=sampled, source=source, uncertain=uncertain,
    )  # fmt: skip
    return as_report(found)


def as_report(found: Understood) -> LaboratoryReport:
    """Return a report that was understood whole; raises the first thing that stands against it."""
    complaint = found.complaint
    if complaint is not None:
        raise complaint
    assert found.composition is not None
    return LaboratoryReport(
        composition=found.composition,
        lines=found.lines,
        left_out=found.left_out,
        stated_total=found.stated_total,
        notes=found.notes,
        traces=found.traces,
    )
