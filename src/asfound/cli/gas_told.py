"""How gases are told on the command line: line by line as understood, their numbers, two beside each other."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.cli.answer import coloured, columns, wrapped

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from asfound.cli.gas_given import Given
    from asfound.fuel.composition import Composition
    from asfound.fuel.gas_summary import Change, NewWell, Property
    from asfound.fuel.understood import Row, Understood

KINDS = {"component": "", "trace": "", "sum": "sum", "aside": "not about a component", "refused": "REFUSED"}


def preview(found: Understood) -> Iterator[str]:
    """Yield each line with what it was understood as, and what has to be said first."""
    rows = [(row.number, row.means or KINDS[row.kind], _amount(row), _why(row)) for row in found.rows if _shown(row)]
    yield from columns(rows, ("line", "understood as", "amount", "of"), right=(0, 2))
    yield from _to_say(found)
    for note in found.notes:
        yield from wrapped(note)


def _shown(row: Row) -> bool:
    return row.kind != "aside" or row.has_number


def _why(row: Row) -> str:
    if row.error is not None:
        return f"{row.text[:60]}: {getattr(row.error, 'because', row.error)}. {getattr(row.error, 'try_next', '')}"
    return row.text[:80]


def _amount(row: Row) -> str:
    """Return what a line gives, in per cent or ppm, with its standard uncertainty."""
    if row.trace is not None:
        sign = "<" if row.trace.below else ""
        return f"{sign}{1e6 * row.trace.value:.4g} mg/m3(n)"
    if row.line is None:
        return ""
    line = row.line
    if line.below:
        return f"not found (u {1e6 * line.standard_uncertainty:.3g} ppm)" if line.standard_uncertainty else "not found"
    small = 0 < line.fraction < 1e-4
    factor, unit = (1e6, "ppm") if small else (100.0, "%")
    doubt = f" (u {factor * line.standard_uncertainty:.2g})" if line.standard_uncertainty else ""
    return f"{factor * line.fraction:.6g} {unit}{doubt}"


def _to_say(found: Understood) -> Iterator[str]:
    """Yield what has to be said before the analysis can be taken, with the option that says it."""
    for question in found.questions:
        yield coloured(f"To be said first: {question}", "visit")
        for choice, means in getattr(question, "choices", {}).items():
            yield f"  {choice}   {means}".rstrip()
    if found.refused:
        count = len(found.refused)
        yield coloured(
            f"{count} {'line was' if count == 1 else 'lines were'} refused: put {'it' if count == 1 else 'them'} right "
            "in the text, or say --leave-refused.", "visit",
        )  # fmt: skip


def numbers(found: Sequence[Property], reference: str) -> Iterator[str]:
    """Yield what a gas is."""
    yield ""
    yield coloured(f"at {reference} (combustion/metering, 101.325 kPa unless said), \u00b1 is k = 2", "head")
    yield from columns([(one.title, one.text, one.source) for one in found], ("", "", "source"), right=(1,))


def counted(gas: Composition) -> Iterator[str]:
    """Yield what a visit counts as what."""
    from asfound.fuel.visit_gas import of_composition

    for said in of_composition(gas).says:
        yield from wrapped(f"On a visit: {said}")


def changes(found: Sequence[Change]) -> Iterator[str]:
    """Yield two gases beside each other."""
    rows = [(one.before.title, one.before.text, one.after.text, one.text) for one in found]
    yield from columns(rows, ("", "first", "second", "change"), right=(1, 2, 3))


def along(found: NewWell) -> Iterator[str]:
    """Yield what a second source does, share by share."""
    rows = [
        (
            f"{100 * share:.0f} %",
            f"{100 * found.change('volume_gross')[at]:+.1f} %",
            f"{100 * found.change('wobbe_gross')[at]:+.1f} %",
            f"{100 * found.change('air_demand')[at]:+.1f} %",
            f"{found.values['methane_number'][at]:.0f}",
        )
        for at, share in enumerate(found.shares)
    ]
    head = ("share", "heating value", "Wobbe index", "air needed", "methane number")
    yield from columns(rows, head, right=(0, 1, 2, 3, 4))


def preview_data(one: Given) -> dict[str, Any]:
    """Return a preview as JSON holds it; empty for a gas that lies on a visit."""
    from asfound.fuel.gas_data import understood_data

    return understood_data(one.understood) if one.understood is not None else {}


def gas_data(gas: Composition) -> dict[str, Any]:
    """Return a gas as JSON holds it."""
    from asfound.fuel.gas_data import composition_data

    return composition_data(gas)
