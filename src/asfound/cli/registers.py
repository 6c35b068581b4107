"""`asfound quantities`, `units`, `sources`: the registers that every number stands on."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from asfound.cli.answer import answer, columns, wrapped
from asfound.cli.options import Out

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from asfound.quantities.unit_table import Atom
    from asfound.quantities.units import Unit
    from asfound.sources.register import Source


def quantities(name: str = "", /, *, out: Out = Out()) -> None:
    """List the quantities, or show one with its units, its plausible range and where that comes from.

    Parameters
    ----------
    name
        Name of a quantity; without it, all.
    """
    from asfound.quantities.register import quantities as register
    from asfound.quantities.register import quantity

    if name:
        one = asdict(quantity(name))
        answer(out, one, lambda: _fields(one))
        return
    every = list(register().values())
    rows = [(q.name, q.title, q.step, q.si_display, q.us_display) for q in every]
    head = ("quantity", "title", "step", "SI", "US customary")
    answer(out, [asdict(q) for q in every], lambda: columns(rows, head))


def units(quantity: str = "", /, *, out: Out = Out()) -> None:
    """List the units that can be typed, or only those that fit a quantity.

    Parameters
    ----------
    quantity
        Name of a quantity; without it, all units.
    """
    from asfound.quantities.pressure_kind import split_pressure
    from asfound.quantities.register import quantity as registered
    from asfound.quantities.unit_table import table
    from asfound.quantities.units import unit

    typed = registered(quantity).typed_units if quantity else tuple(table().atoms)
    atoms = list(table().atoms.values())
    bare: Sequence[Atom | Unit] = [unit(split_pressure(one)[0]) for one in typed] if quantity else atoms
    data = [
        {"written": one, "symbol": u.symbol, "title": u.title, "dimension": u.dimension, "factor": float(u.factor),
         "ucum": u.ucum, "exactness": u.exactness, "source": u.source}
        for one, u in zip(typed, bare, strict=True)
    ]  # fmt: skip
    rows = [(one["written"], one["title"], one["dimension"], f"{one['factor']:.10g}", one["ucum"]) for one in data]
    head = ("unit", "title", "dimension", "in SI", "UCUM")
    answer(out, data, lambda: columns(rows, head, right=(3,)))


def sources(key: str = "", /, *, out: Out = Out()) -> None:
    """List the published sources that the program stands on, or show one.

    Parameters
    ----------
    key
        Key of a source; without it, all.
    """
    from asfound.sources.register import source
    from asfound.sources.register import sources as register

    if key:
        one = source(key)
        answer(out, _source(one), lambda: _fields(_source(one)))
        return
    every = list(register().values())
    rows = [(s.key, s.kind, s.seen, s.text) for s in every]
    answer(out, [_source(s) for s in every], lambda: columns(rows, ("key", "kind", "seen", "source")))


def _source(one: Source) -> dict[str, Any]:
    return asdict(one) | {"text": one.text}


def _fields(values: dict[str, Any]) -> Iterator[str]:
    size = max(len(name) for name in values)
    for name, value in values.items():
        text = ", ".join(map(str, value)) if isinstance(value, (list, tuple)) else str(value)
        first, *rest = wrapped(text, " " * (size + 2)) if text else [" " * (size + 2)]
        yield (name.ljust(size + 2) + first[size + 2 :]).rstrip()
        yield from rest
