"""The engine's own derate tables as a worksheet: what a sheet works with once the engine's file is known."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import lru_cache
from types import MappingProxyType

import numpy as np

from asfound.power.derating import Derate
from asfound.quantities import worksheets as register
from asfound.quantities.possible import above
from asfound.quantities.refusals import impossible
from asfound.quantities.register import quantity
from asfound.quantities.typing import Values
from asfound.quantities.units import unit
from asfound.quantities.words import Method, Reading, Result
from asfound.quantities.worksheets import Take, Worksheet

NAME = "site_rating_by_engine_data"
"""The worksheet whose place it takes."""
PLACES = {
    "site_height": "site",
    "barometric_pressure": "site",
    "ambient_temperature": "site",
    "relative_humidity": "site",
    "methane_number": "fuel",
    "net_heating_value": "fuel",
}
"""Where a quantity of the tables is read; at the engine where it does not stand here."""
_BEHIND: dict[tuple[str, str], Derate] = {}
"""Tables by the method that a result names."""


@lru_cache(maxsize=64)
def worksheets_with(derate: Derate) -> Mapping[str, Worksheet]:
    """Return all worksheets of the program, the engine's own tables in the place of the typed share.

    Parameters
    ----------
    derate : Derate
        Tables of the engine's family.

    Returns
    -------
    mapping of str to Worksheet
        For ``work_out(..., worksheets=...)``; the same object each time for the same tables.
    """
    return MappingProxyType({**register.load(), NAME: engine_worksheet(derate)})


def engine_worksheet(derate: Derate) -> Worksheet:
    """Return the worksheet that gives the site rating by an engine's own tables, and the share that they allow."""
    names = derate.takes
    needed = {name for table in derate.tables if not table.if_read for name in table.against}

    def site_rating_by_engine_data(rated: Values | None, *values: Values | None) -> tuple[Values, Values]:
        """Return the share of rated power that the engine's own tables allow here, and the power. [1], [W]

        A plate that says less than the tables' rated power goes before them.
        """
        share = derate.fraction(dict(zip(names, values, strict=True)))
        power = derate.rated_power * share
        return share, power if rated is None else np.minimum(power, above(rated))

    method = _method(derate)
    _BEHIND[method.name, method.source] = derate
    return Worksheet(
        name=NAME,
        title="Site rating by the engine's own data",
        room="power",
        takes=(
            Take(quantity="rated_power", place="engine", optional=True),
            *(Take(quantity=name, place=PLACES.get(name, "engine"), optional=name not in needed) for name in names),
        ),
        gives=("own_power_fraction", "site_rated_power"),
        method=method,
        formula=site_rating_by_engine_data,
        refuses=MappingProxyType({name: _inside(derate, name) for name in names}),
    )


def tables_behind(rating: Result) -> Derate | None:
    """Return the tables that a site rating was found by; None where it was found otherwise."""
    return _BEHIND.get((rating.method.name, rating.method.source)) if rating.worksheet == NAME else None


def _method(derate: Derate) -> Method:
    document = f": {derate.document}" if derate.document else ""
    return Method(f"tables of {derate.family}, {derate.title}{document}", derate.source)


def _inside(derate: Derate, name: str) -> Callable[[Reading | Result], None]:
    """Return the refusal of what lies outside the tables of an engine."""
    ends = [
        end for table in derate.tables for taken, end in zip(table.against, table.ends, strict=True) if taken == name
    ]
    low, high = max(one[0] for one in ends), min(one[1] for one in ends)

    def refuse(number: Reading | Result) -> None:
        if low <= number.value <= high:
            return
        about = quantity(name)
        shown = unit(about.display("si")).text
        limits = [f"{about.to_unit(end, about.display('si')):.4g} {shown}" for end in (low, high) if np.isfinite(end)]
        word = f"at least {limits[0]}" if np.isinf(high) else f"at most {limits[0]}" if np.isinf(low) else ""
        raise impossible(
            number,
            "lies outside the engine's own derate tables",
            allowed=word or " to ".join(limits),
            try_next="Ask the maker; the tables are not carried on beyond their ends.",
        )

    return refuse
