"""Read a file of derate tables and refuse what cannot be, by file, line and column.

A file (all numbers of the example are invented)::

    derating: my_engines          # one word
    title: Derate tables of ...
    edition: 2 of 2031
    source: engine_own_data       # a key of the register of sources
    document: manual 7, page 12
    engines:
    - family: AB9
      rated: 1470 kW
      combine: multiply           # or add (losses are added), or worst (the smallest counts)
      tables:
      - against: site_height
        unit: m
        points: [[0, 1.0], [1000, 1.0], [2000, 0.93]]
        below: holds              # below the first point as at it; left out: no answer there
      - against: [site_height, ambient_temperature]
        unit: [m, °C]
        rows: [0, 1000, 2000]
        columns: [25, 35, 45]
        power: [[1.0, 1.0, 0.96], [1.0, 0.97, 0.92], [0.94, 0.90, 0.85]]
      - against: methane_number_margin
        points: [[-15, 0.60], [0, 1.0]]
        above: holds
        if_read: true             # left out of account where nobody read it
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from itertools import pairwise

import numpy as np

from asfound.errors import InputError, UnknownNameError
from asfound.power.derating import COMBINE, Combine, Derate, Derating, Table
from asfound.quantities.parse import parse_amount
from asfound.quantities.register import quantity
from asfound.quantities.typing import Array
from asfound.quantities.units import unit as find_unit
from asfound.sources import yaml_lines
from asfound.sources.register import keys
from asfound.sources.tables import read_text
from asfound.sources.yaml_lines import Node

AGAINST = (
    "site_height",
    "barometric_pressure",
    "ambient_temperature",
    "intake_air_temperature",
    "relative_humidity",
    "auxiliary_water_inlet_temperature",
    "manifold_temperature",
    "methane_number",
    "methane_number_margin",
    "net_heating_value",
)
"""Quantities that a table may stand against."""
MOST_POWER = 1.15
"""A table that allows more of the rated power has a slip in it (engineering judgement)."""


def read_derating(text: str, *, file: str) -> Derating:
    """Return a file of derate tables, checked.

    Parameters
    ----------
    text : str
        YAML; see the head of this module.
    file : str
        Its name, for complaints.

    Raises
    ------
    KnowledgeError
        With file, line and column: an unknown key or quantity, a unit that does not fit, points that do not ascend, a
        share outside 0 to 1.15, a source that the register does not know.
    """
    root = yaml_lines.load(text, file=file)
    root.only("derating", "title", "edition", "source", "document", "engines")
    name, title, edition, source, listed = root.want("derating", "title", "edition", "source", "engines")
    if source.text() not in keys():
        raise source.error(
            f"no source is called '{source.value}'.", allowed="engine_own_data, or a key of the register of sources"
        )
    document = root.get("document")
    engines: dict[str, Derate] = {}
    for node in listed.items():
        made = _engine(
            node,
            title=f"{title.text()}, {edition.text()}",
            document="" if document is None else document.text(),
            source=source.text(),
        )
        if made.family in engines:
            raise node.error_at("family", f"'{made.family}' stands twice in this file.")
        engines[made.family] = made
    if not engines:
        raise listed.error("there is no engine in this file.")
    return Derating(name=name.text(), title=title.text(), edition=edition.text(), source=source.text(), engines=engines)


@cache
def demo_derating() -> Derating:
    """Return the tables of the invented engines of the demo."""
    return read_derating(read_text("asfound.power", "data/demo_derate.yaml"), file="power/data/demo_derate.yaml")


def _engine(node: Node, *, title: str, document: str, source: str) -> Derate:
    node.only("family", "rated", "combine", "tables")
    family, rated, combine, tables = node.want("family", "rated", "combine", "tables")
    chosen: Combine = combine.one_of(COMBINE)  # type: ignore[assignment]
    made = tuple(_table(one) for one in tables.items())
    if not made:
        raise tables.error("this engine has no table.")
    return Derate(
        family=family.text(),
        rated_power=_power(rated),
        combine=chosen,
        tables=made,
        title=title,
        document=document,
        source=source,
    )


def _power(node: Node) -> float:
    try:
        value = parse_amount(node.text(), quantity="rated_power", decimal=".").value
    except InputError as error:
        raise node.error(str(error), allowed="1470 kW, 1970 hp") from error
    if value is None or not value > 0:
        raise node.error("this is no rated power.", allowed="1470 kW, 1970 hp")
    return float(value)


def _table(node: Node) -> Table:
    node.only("against", "unit", "points", "rows", "columns", "power", "below", "above", "if_read")
    (against,) = node.want("against")
    names = _texts(against)
    for one in names:
        one.one_of(AGAINST)
    if len(names) not in (1, 2):
        raise against.error("a table stands against one quantity, or two.", allowed="one or two quantities")
    quantities = tuple(one.text() for one in names)
    if len(set(quantities)) != len(quantities):
        raise against.error("a table stands against two different quantities.")
    units = _units(node, quantities)
    raw, power = _points(node) if len(quantities) == 1 else _grid(node)
    axes = tuple(
        np.array([_si(name, value, unit) for value in axis])
        for name, unit, axis in zip(quantities, units, raw, strict=True)
    )
    if_read = node.get("if_read")
    return Table(
        against=quantities,
        axes=axes,
        power=power,
        below=_holds(node, "below"),
        above=_holds(node, "above"),
        if_read=if_read is not None and if_read.truth(),
    )


def _texts(node: Node) -> list[Node]:
    return node.items() if isinstance(node.value, list) else [node]


def _units(node: Node, names: tuple[str, ...]) -> tuple[str, ...]:
    """Return the unit of each axis; a quantity without unit needs none."""
    unit = node.get("unit")
    if unit is None:
        for name in names:
            if quantity(name).si_unit != "1":
                raise node.error(f"'unit' is missing: {name} has one.", allowed=", ".join(quantity(name).units))
        return tuple("1" for _ in names)
    written = _texts(unit)
    if len(written) != len(names):
        raise unit.error(f"{len(written)} units for {len(names)} quantities.", allowed="a unit for each")
    for one, name in zip(written, names, strict=True):
        try:
            _si(name, 1.0, one.text())
        except (InputError, UnknownNameError) as error:
            raise one.error(str(error), allowed=", ".join(quantity(name).units)) from error
    return tuple(one.text() for one in written)


def _si(name: str, value: float, symbol: str) -> float:
    """Return a value in a unit in SI; InputError where the unit is of another kind than the quantity."""
    about = quantity(name)
    if find_unit(symbol).dimension != about.unit.dimension:
        raise InputError("unit", symbol, f"is no unit of {about.title.lower()}")
    return about.from_unit(value, symbol)


def _points(node: Node) -> tuple[tuple[list[float], ...], Array]:
    (points,) = node.want("points")
    pairs = [_numbers(one, 2) for one in points.items()]
    _ascending(points, [pair[0] for pair in pairs])
    for one in points.items():
        _share(one.items()[1])
    return ([pair[0] for pair in pairs],), np.array([pair[1] for pair in pairs])


def _grid(node: Node) -> tuple[tuple[list[float], ...], Array]:
    rows, columns, power = node.want("rows", "columns", "power")
    axes = [_numbers(one, None) for one in (rows, columns)]
    for one, axis in zip((rows, columns), axes, strict=True):
        _ascending(one, axis)
    lines = power.items()
    if len(lines) != len(axes[0]):
        raise power.error(f"{len(lines)} lines for {len(axes[0])} rows.", allowed="a line for each row")
    for line in lines:
        for one in line.items():
            _share(one)
    return (axes[0], axes[1]), np.array([_numbers(line, len(axes[1])) for line in lines])


def _numbers(node: Node, count: int | None) -> list[float]:
    found = [one.number() for one in node.items()]
    if count is not None and len(found) != count:
        raise node.error(f"{len(found)} numbers where {count} are wanted.")
    return found


def _share(node: Node) -> None:
    node.number(low=0.0, high=MOST_POWER)


def _ascending(node: Node, axis: Iterable[float]) -> None:
    values = list(axis)
    if len(values) < 2 or any(later <= earlier for earlier, later in pairwise(values)):
        raise node.error("at least two points are wanted, each beyond the one before.", allowed="ascending numbers")


def _holds(node: Node, key: str) -> bool:
    found = node.get(key)
    return found is not None and found.one_of(("holds", "no_answer")) == "holds"
