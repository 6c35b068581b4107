"""What the load's page and the report show: from plate to site rating, the load carried, where the fuel's heat goes."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from asfound.errors import AsFoundError
from asfound.power.derating_sheet import tables_behind
from asfound.power.site_air import saturation_pressure, water_fraction
from asfound.quantities.register import quantity
from asfound.quantities.words import Limit, Result
from asfound.quantities.worksheets import load
from asfound.report.axis import Mark
from asfound.report.content_lanes import MARKS, STATE_WORDS, both_states, mark_of, number_at, whole
from asfound.report.stairs import Stair, Stretch
from asfound.report.wording import in_units, say, say_value, sentence, title_of, unit_words

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from asfound.quantities.words import State
    from asfound.quantities.worked import Worked
    from asfound.records.visit import VisitView
    from asfound.report.content_lanes import Number
    from asfound.report.wording import System

POWER = "engine_power"
RATING = "site_rated_power"


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteRating:
    """The plate, what the site takes off it, and the load beside what is left."""

    picture: dict[str, Any]
    """What `report.svg.stairs` is given, without width."""
    says: tuple[str, ...]
    method: str


def site_rating(view: VisitView, system: System) -> SiteRating | None:
    """Return the rating of this site from the plate down, and the load carried; None without a site rating."""
    worked = view.worked
    ratings = both_states(worked, "engine", RATING)
    plate = number_at(worked, "as_found/engine/rated_power")
    if not ratings:
        return None
    state, rating = next(iter(ratings.items()))
    powers = both_states(worked, "engine", POWER)
    rows = []
    if plate is not None:
        mark = mark_of(plate, system)
        rows.append(
            Stair(
                "Plate", (Stretch("found", mark.value, mark),), text=say(plate, system).whole, marked=False, strong=True
            )
        )
        rows += _steps(rating, plate.value, system)
    rated = mark_of(rating, system)
    rows.append(
        Stair(
            "Site rating",
            (Stretch(MARKS[state], rows[-1].stretches[-1].end.value if rows else rated.value, rated),),
            text=whole(say(rating, system)),
            strong=True,
            wall=True,
        )
    )
    stretches = tuple(
        Stretch(MARKS[one], mark_of(number, system).value, mark_of(number, system)) for one, number in powers.items()
    )
    if stretches:
        values = " and ".join(say(one, system).whole for one in powers.values())
        rows.append(Stair("Load carried", stretches, text=values, strong=True))
    label = "; ".join(f"{row.title} {row.text}" for row in rows)
    return SiteRating(
        picture={
            "rows": rows,
            "unit_words": unit_words(POWER, system),
            "label": f"From the plate to the site rating, and the load carried: {label}.",
        },
        says=(*over_rating(worked, system), *fair_test(worked, system)),
        method=f"{rating.method.name}; steps taken one after the other in this order"
        if isinstance(rating, Result)
        else "as entered",
    )


def over_rating(worked: Worked, system: System) -> Iterable[str]:
    """Say how the load stands to the site rating."""
    limit = Limit(quantity="load_fraction", value=1.0, as_typed="100 %", name="site rating")
    for state, one in both_states(worked, "engine", "load_fraction").items():
        over = worked.beyond(one, limit).says
        yield f"{sentence(STATE_WORDS[state])}: {whole(say(one, system))} of the site rating; {over} to be over it."


def fair_test(worked: Worked, system: System) -> Iterable[str]:
    """Say whether the load reaches what a test at full load asks for."""
    for state, least in both_states(worked, "engine", "fair_test_power").items():
        power = number_at(worked, f"{state}/engine/{POWER}")
        if power is not None:
            yield _fair(worked, state, power, least, system)


def _fair(worked: Worked, state: State, power: Number, least: Number, system: System) -> str:
    """Say whether the load reaches what a test at full load asks for."""
    short = worked.difference(power, least).probability_lower
    head = f"{sentence(STATE_WORDS[state])}: a test at full load asks for {say(least, system).whole}"
    if short < 0.05:
        return f"{head}; this load is enough, as far as the usual rule goes. The permit or the rule decides."
    if short > 0.95:
        return f"{head}; at this load it would be no fair test."
    return f"{head}; whether this load is enough is not sure ({100 * (1 - short):.0f} in 100)."


# ---------------------------------------------------------------------- steps from the plate down


def _steps(rating: Number, plate: float, system: System) -> list[Stair]:
    """Return what takes power off the plate, one after the other."""
    if not isinstance(rating, Result):
        return []
    tables = tables_behind(rating)
    if tables is not None:
        values = {one.quantity: one.value for one in rating.inputs}
        parts = tables.parts({name: values.get(name) for name in tables.takes})
        shares = [(_titles(table.against), float(share)) for table, share in parts]
        if tables.combine != "multiply":
            return []
        return _falling(shares, plate, system)
    adjustment = next((one for one in rating.inputs if one.quantity == "power_adjustment_factor"), None)
    return _falling(_adjusted(adjustment), plate, system) if isinstance(adjustment, Result) else []


def _titles(names: Iterable[str]) -> str:
    first, *others = dict.fromkeys(quantity(one).title for one in names)
    return " and ".join((first, *(one[:1].lower() + one[1:] for one in others)))


def _falling(shares: Iterable[tuple[str, float]], plate: float, system: System) -> list[Stair]:
    """Return a row for each share, each beginning where the one before it ended."""
    rows, before = [], plate
    nought = in_units(0.0, POWER, system)
    for title, share in shares:
        after = before * share
        amount = say_value(abs(before - after), POWER, system) if abs(before - after) > 1e-9 * plate else ""
        sign = "\N{MINUS SIGN}" if after < before else "+"
        start, end = (in_units(one, POWER, system) - nought for one in (before, after))
        rows.append(
            Stair(
                title,
                (Stretch("found", start, Mark(end)),),
                text=f"{sign}{amount}" if amount else "takes nothing off",
                marked=False,
            )
        )
        before = after
    return rows


CONDITIONS = (
    ("barometric_pressure", "rating_pressure", "Air pressure"),
    ("ambient_temperature", "rating_air_temperature", "Air temperature"),
    ("auxiliary_water_inlet_temperature", "rating_coolant_temperature", "Charge coolant"),
)


def _adjusted(adjustment: Result) -> list[tuple[str, float]]:
    """Return the share of each condition of the site by the standard's own formula, the site's put in one by one."""
    sheet = load()[adjustment.worksheet]
    names = [one.quantity for one in sheet.takes]
    given = {one.quantity: one.value for one in adjustment.inputs}
    defaults = {one.quantity: one.default for one in sheet.takes}
    values = {name: given.get(name, defaults[name]) for name in names}
    which = sheet.gives.index("power_adjustment_factor")
    here = dict(values)
    for site, reference, _ in CONDITIONS:
        if reference in values:
            here[site] = values[reference]
    if "intake_air_temperature" in here:
        here["intake_air_temperature"] = None
    try:
        temperature, humidity, pressure = (
            values[one] or 0.0 for one in ("rating_air_temperature", "rating_humidity", "rating_pressure")
        )
        here["air_water_fraction"] = float(water_fraction(saturation_pressure(temperature), humidity, pressure))
        shares = list(_one_by_one(sheet.formula, here, values, names, which))
    except (AsFoundError, ArithmeticError):  # far from any rating the formula has no answer: no steps are drawn
        return []
    return shares if all(math.isfinite(share) for _, share in shares) else []


def _one_by_one(
    formula: Callable[..., Any],
    here: dict[str, float | None],
    site: Mapping[str, float | None],
    names: list[str],
    which: int,
) -> Iterable[tuple[str, float]]:
    def answer(values: Mapping[str, float | None]) -> float:
        return float(formula(*(values[name] for name in names))[which])

    before = answer(here)
    for name, _, title in CONDITIONS:
        here[name] = site[name]
        if name == "ambient_temperature" and "intake_air_temperature" in here:
            here["intake_air_temperature"] = site["intake_air_temperature"]
        after = answer(here)
        yield title, after / before
        before = after
    here["air_water_fraction"] = site["air_water_fraction"]
    after = answer(here)
    if abs(after / before - 1) > 1e-6:
        yield "Humidity", after / before


def lacks_rating(view: VisitView) -> tuple[str, ...]:
    """Return titles of what a site rating still waits for."""
    waits: dict[str, None] = {}
    for one in view.worked.missing:
        if one.worksheet in ("iso_3046_adjustment", "site_rating_by_iso_3046"):
            waits.update(dict.fromkeys(title_of(name) for name in one.quantities if name != "power_adjustment_factor"))
    if number_at(view.worked, "as_found/engine/rated_power") is None:
        waits[title_of("rated_power")] = None
    return tuple(waits)
