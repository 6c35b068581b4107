"""What a site rating on a sheet rests on: own tables or a formula, and which table takes how much."""

from __future__ import annotations

import math

from asfound.power.derating_sheet import tables_behind
from asfound.quantities.register import quantity
from asfound.quantities.words import Reading, Result

MARGIN = "methane_number_margin"
SHORT = {
    MARGIN: "methane number",
    "site_height": "height",
    "auxiliary_water_inlet_temperature": "charge coolant",
}
"""What a table stands against, as people say it."""
FROM_MEMORY = ("rating_exponent_pressure", "rating_exponent_temperature", "rating_exponent_coolant")


def only_by_formula(rating: Reading | Result) -> bool:
    """Tell whether a rating rests on exponents that nobody entered for this engine."""
    return isinstance(rating, Result) and any(one.quantity in FROM_MEMORY for one in rating.assumed)


def allowance(rating: Reading | Result) -> tuple[str, ...]:
    """Return in words what each of the engine's own tables allows, the least first; none where all is allowed."""
    if not isinstance(rating, Result):
        return ()
    tables = tables_behind(rating)
    if tables is None:
        return ()
    values = {one.quantity: one.value for one in rating.inputs}
    found = sorted((float(share), table.against) for table, share in tables.parts(values) if float(share) < 1)
    return tuple(
        f"{' and '.join(_title(one) for one in against)} allow{'' if len(against) > 1 else 's'} {100 * share:.0f} %"
        for share, against in found
    )


def allowed_by_gas(rating: Reading | Result, margin: float) -> float | None:
    """Return the share that the engine's own tables allow at a margin of the methane number; None without a table."""
    tables = tables_behind(rating) if isinstance(rating, Result) else None
    shares = [float(one.fraction(margin)) for one in (tables.tables if tables else ()) if one.against == (MARGIN,)]
    return min(shares) if shares and not any(math.isnan(one) for one in shares) else None


def _title(name: str) -> str:
    if name in SHORT:
        return SHORT[name]
    title = quantity(name).title
    return title[0].lower() + title[1:]
