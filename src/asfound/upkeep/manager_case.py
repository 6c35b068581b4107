"""One page for the manager: assumptions with their ranges, what each item is worth, where the decision turns.

The figure that decides is the worth now; ratios and payback are shown beside it. Nothing is hidden in a default: every
assumption that is not given counts as none, and is listed so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

from asfound.errors import InputError
from asfound.quantities.typing import Values
from asfound.upkeep.case_inputs import Assumption, CaseInputs, assumption, fields, read_case
from asfound.upkeep.case_worth import case_worth, flows
from asfound.upkeep.money import Returns, payback, rates_of_return, savings_to_investment
from asfound.upkeep.what_matters import Bar, LowLikelyHigh, Spread, bars, spread, turning_points

__all__ = ["CONVENTION", "CaseInputs", "ManagerCase", "assumption", "case_for_the_manager", "fields", "read_case"]
CONVENTION = (
    "Worth now: what is spent now counts in full, yearly amounts fall at the end of each year. Rates and prices are "
    "both of today's money (real) or both of the money to come (nominal), never mixed."
)
_LINES = {
    "fuel": "Fuel saved", "allowances": "Emission allowances saved", "fees": "Other emission fees and tests saved",
    "hours": "Hours of output won", "events": "Failures without a spare avoided", "service": "Service and parts added",
    "investment": "Parts and work", "reserve": "Reserve", "outage": "Output lost for the change itself",
    "parts_back": "Old parts", "residual": "Remaining value",
}  # fmt: skip
_WIDE = 5.0  # times the range to both sides, in which a turning point is looked for


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseLine:
    """One item: of the first year (None where it comes once), and its worth now over all years."""

    name: str
    title: str
    yearly: float | None
    present: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Flip:
    """Where the worth now turns round if one assumption alone moves; empty: nowhere near."""

    name: str
    title: str
    unit: str
    best: float
    at: tuple[float, ...]
    within: bool
    """A turning point lies in the range that was given."""
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Year:
    """Flow of one year, what has come together by then, and the same discounted."""

    year: int
    flow: float
    together: float
    discounted: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ManagerCase:
    """Everything that the page shows."""

    title: str
    money: str
    years: int
    convention: str
    assumptions: tuple[Assumption, ...]
    none_counted: tuple[str, ...]
    """Inputs that were not given and count as none."""
    not_counted: tuple[str, ...]
    lines: tuple[CaseLine, ...]
    net_saving: float
    """Of the first year."""
    spent: float
    """Now, less what is gained now."""
    present: float
    payback: float | None
    discounted_payback: float | None
    returns: Returns
    ratio: float | None
    by_year: tuple[Year, ...]
    flips: tuple[Flip, ...]
    bars: tuple[Bar, ...]
    """Which assumption moves the worth most, widest first."""
    spread: Spread
    says: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """Return plain dicts, lists and numbers."""
        return asdict(self)


def case_for_the_manager(inputs: CaseInputs, *, draws: int = 10_000, seed: int = 1) -> ManagerCase:
    """Return the whole case.

    Parameters
    ----------
    inputs : CaseInputs
        From `read_case`, or made with `assumption`.
    draws, seed : int
        Of the spread; doubtful inputs are drawn from triangles over low, best, high, independently.
    """
    if not 1 <= inputs.years <= 60:
        raise InputError("years", str(inputs.years), "is no time of use", allowed="1 to 60 years")
    best, engines = inputs.best, {"needed": inputs.needed, "installed": inputs.installed}

    def present(**values: Values) -> Values:
        return case_worth(values, inputs.years, **engines).present

    worth = case_worth(best, inputs.years, **engines)
    paid = flows(best, inputs.years, **engines)
    doubtful = [one for one in inputs.assumptions if one.doubtful]
    widest = tuple(bars(present, best, {one.name: (one.low, one.high) for one in doubtful}))
    triangles = {one.name: LowLikelyHigh(one.low, one.best, one.high) for one in doubtful}
    spreads = spread(present, best, triangles, draws=draws, seed=seed)
    flips = tuple(_flip(one, best, present) for one in doubtful)
    given = {one.name for one in inputs.assumptions}
    found = ManagerCase(
        title=inputs.title, money=inputs.money, years=inputs.years, convention=CONVENTION,
        assumptions=inputs.assumptions,
        none_counted=tuple(one.title for one in fields().values() if one.name not in given),
        not_counted=inputs.not_counted,
        lines=tuple(
            CaseLine(
                name=name, title=_LINES[name], present=float(amount),
                yearly=float(worth.yearly[name]) if name in worth.yearly else None,
            )
            for name, amount in worth.presents.items()
            if float(amount) != 0.0
        ),
        net_saving=sum(float(one) for one in worth.yearly.values()), spent=-paid[0] + 0.0,
        present=float(worth.present), payback=payback(paid), discounted_payback=payback(paid, best["rate"]),
        returns=rates_of_return(paid), ratio=savings_to_investment(paid, best["rate"]),
        by_year=tuple(_years(paid, best["rate"])), flips=flips, bars=widest, spread=spreads, says=(),
    )  # fmt: skip
    return replace(found, says=tuple(_says(found)))


def _years(paid: list[float], rate: float) -> list[Year]:
    found, together, discounted = [], 0.0, 0.0
    for year, flow in enumerate(paid):
        together, discounted = together + flow, discounted + flow * (1.0 + rate) ** -year
        found.append(Year(year=year, flow=flow, together=together, discounted=discounted))
    return found


def _flip(one: Assumption, best: Mapping[str, float], present: Any) -> Flip:
    field, wide = fields()[one.name], _WIDE * (one.high - one.low)
    low, high = max(field.low, one.low - wide), min(field.high, one.high + wide)
    at = tuple(turning_points(present, best, one.name, low, high, steps=200))
    within = any(one.low <= value <= one.high for value in at)
    if not at:
        says = f"Turns nowhere from {low:g} to {high:g}."
    else:
        says = f"Turns at {' and '.join(f'{value:.4g}' for value in at)} {one.unit}; taken: {one.best:g}."
    return Flip(name=one.name, title=one.title, unit=one.unit, best=one.best, at=at, within=within, says=says)


def _amount(value: float) -> str:
    """Return an amount in whole units, with a minus sign and not a hyphen."""
    return f"{value:,.0f}".replace("-0", "0") if abs(value) < 0.5 else f"{value:,.0f}".replace("-", "\N{MINUS SIGN}")


def _says(case: ManagerCase) -> list[str]:
    """Return the case in a few sentences: the sum, how sure, what it hangs on."""
    worth = f"{abs(case.present):,.0f}"
    found = [
        f"At the best values the change is worth {worth} over {case.years} years."
        if case.present >= 0.0
        else f"At the best values the change loses {worth} over {case.years} years."
    ]
    spread_ = case.spread
    if case.bars:
        found.append(
            f"In 8 of 10 draws it lies from {_amount(spread_.p10)} to {_amount(spread_.p90)}; "
            f"in {100 * spread_.chance_below_zero:.0f} of 100 it loses ({spread_.draws:,} draws, seed {spread_.seed})."
        )
        first = fields()[case.bars[0].name].title
        turning = [one.title for one in case.flips if one.within]
        found.append(
            f"{first} moves it most. "
            + (f"Within their ranges these alone turn it round: {', '.join(turning)}." if turning else
               "No assumption turns it round alone within its range.")
        )  # fmt: skip
    paid = case.payback
    found.append(
        "It does not pay back." if paid is None else f"It pays back in {paid:.1f} years without interest, "
        + ("never with it." if case.discounted_payback is None else f"in {case.discounted_payback:.1f} with it.")
    )  # fmt: skip
    if case.returns.rate is None and case.returns.sign_changes > 1:
        found.append("The flows change sign more than once: no one rate of return is shown.")
    return found
