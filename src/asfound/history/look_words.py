"""What is said of an indicator in one sentence, in the units that people use."""

from __future__ import annotations

import math
from datetime import UTC, datetime

from asfound.history.look_parts import Indicator, Interval, Reach, StepSeen
from asfound.quantities.register import quantity
from asfound.quantities.units import from_si


def day_of(time: int) -> str:
    """Return the day of a time: ``2032-07-08``."""
    return datetime.fromtimestamp(time * 1e-6, UTC).date().isoformat() if time else "never"


def amount(one: Indicator, value: float) -> str:
    """Return a difference of the indicator's signal with its unit, signed."""
    if one.share:
        return f"{100.0 * math.expm1(value):+.2g} %"
    name, scale = unit_of(one, difference=True)
    return f"{_three(value / scale, sign=True)} {name}".strip()


def level(one: Indicator, value: float) -> str:
    """Return a level of the indicator's signal with its unit."""
    if one.key.startswith(("exhaust_temperature", "bearing_temperature", "catalyst_rise")):
        return amount(one, value)
    if one.key.startswith("fuel_per_power"):
        return f"{value * 3.6e9:.4g} m3(n)/MWh"
    name, scale = unit_of(one)
    zero = 273.15 if name == "°C" else 0.0
    return f"{_three((value - zero) / scale)} {name}".strip()


def unit_of(one: Indicator, *, difference: bool = False) -> tuple[str, float]:
    """Return the unit in which a signal is told, and its size in SI."""
    about = quantity(one.quantity)
    if about.units[0] in ("°C", "K"):
        return ("K", 1.0) if difference else ("°C", 1.0)
    return about.units[0], 1.0 / from_si(1.0, about.units[0], difference=True)


def _three(value: float, *, sign: bool = False) -> str:
    digits = max(0, 2 - math.floor(math.log10(abs(value)))) if value and math.isfinite(value) else 0
    return f"{value:{'+' if sign else ''}.{min(digits, 4)}f}"


def between(one: Indicator, size: Interval) -> str:
    """Return a move with its interval."""
    return f"{amount(one, size.value)} ({amount(one, size.low)} to {amount(one, size.high)})"


def says_of(one: Indicator) -> str:
    """Return the sentence of an indicator."""
    said = [f"{one.title}: {_state(one)}"]
    if one.steps:
        said.append(_stepped(one, one.steps[-1], len(one.steps)))
    if one.limit is not None and one.now.known and one.judged in ("moves", "near", "beyond"):
        said.append(_limit(one))
    return ". ".join(said) + "."


def _state(one: Indicator) -> str:
    now = f"{level(one, one.now.value)} now" if one.now.known else "not known"
    if one.kind in ("drift", "both") and one.moved.differs_from_zero and abs(one.moved.value) >= one.matters:
        way = "rises" if one.moved.value > 0 else "falls"
        since = f" since {day_of(one.began.time)} ({day_of(one.began.earliest)} to {day_of(one.began.latest)})" if (
            one.began) else f" since {day_of(one.moved_from)}"  # fmt: skip
        return f"{way}, {between(one, one.moved)}{since}; {now}"
    return f"{'no drift that matters' if one.kind in ('drift', 'both') else 'no drift'}; {now}"


def _stepped(one: Indicator, step: StepSeen, count: int) -> str:
    at = f", at the visit {step.visit}" if step.visit else ""
    more = f"; {count - 1} more before it" if count > 1 else ""
    return f"Stepped by {between(one, step.size)} on {day_of(step.time)}{at}{more}"


def _limit(one: Indicator) -> str:
    limit = f"{level(one, one.limit or 0.0)} ({one.limit_from})" if one.limit_from else level(one, one.limit or 0.0)
    if one.judged == "beyond":
        return f"It is beyond {limit}"
    if one.reach is None:
        return f"When it reaches {limit} cannot be told"
    return f"{reach_words(one.reach)}: {limit}"


def reach_words(reach: Reach) -> str:
    """Return when the limit is reached."""
    if reach.reached > 0.5:
        return "The limit is reached now"
    if not reach.time:
        return f"The limit is not reached at this rate (probability of never {_percent(reach.never)})"
    late = day_of(reach.latest) if reach.latest else "never"
    far = "; this lies far beyond the data" if reach.far else ""
    return f"The limit is reached on {day_of(reach.time)} ({day_of(reach.earliest)} to {late}) at this rate{far}"


def _percent(share: float) -> str:
    return f"{min(max(100 * share, 0), 100):.0f} %"
