"""What is said of an indicator in one sentence, in the units and with the dates that its reader uses."""

from __future__ import annotations

import math
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Literal

from asfound.history.look_parts import EffectSeen, Indicator, Interval, Reach, StepSeen
from asfound.quantities.days import day_text, span_text
from asfound.quantities.display import MINUS, NO_ANSWER, number_text, unit_words
from asfound.quantities.pressure_kind import split_pressure
from asfound.quantities.register import quantity
from asfound.quantities.units import unit

if TYPE_CHECKING:
    from asfound.quantities.register import Quantity

System = Literal["si", "us"]
DEGREES = {"°C": "K"}
"""A difference of temperatures is said in another unit than a temperature; one in °F is said in °F."""
FINEST = 100.0
"""No figure is finer than this part of what matters: a log of years gives intervals narrower than anyone can use."""
VERDICTS = {
    "worked": "the repair worked", "likely": "the repair probably worked", "worse": "it went the wrong way",
    "moved": "it moved", "not enough": "it did not come back", "cannot be told": "it cannot be told yet",
}  # fmt: skip


def day_of(time: int) -> str:
    """Return the day of a time as files and addresses have it: ``2032-07-08``."""
    return _date(time).isoformat() if time else "never"


def day_said(time: int) -> str:
    """Return the day of a time as it is said: ``8 July 2032``."""
    return day_text(_date(time)) if time else "never"


def span_said(earliest: int, latest: int) -> str:
    """Return two times as days: ``24 February to 11 March 2031``; the end may be never."""
    if not earliest:
        return "never"
    if not latest:
        return f"{day_said(earliest)} to never"
    return span_text(_date(earliest), _date(latest))


def _date(time: int) -> date:
    return datetime.fromtimestamp(time * 1e-6, UTC).date()


def unit_of(one: Indicator, system: System = "si", *, difference: bool = False) -> tuple[str, float]:
    """Return the unit in which a signal is told, and its size in SI."""
    about = quantity(one.quantity)
    symbol = about.display(system)
    if one.scale == "ratio" and one.over:
        under = quantity(one.over)
        below = under.display(system)
        words = f"{_words(about, symbol)} per {_words(under, below)}"
        return words, _size(about, symbol) / _size(under, below)
    if difference or one.scale == "difference":
        return DEGREES.get(symbol, _words(about, symbol, plain=True)), _size(about, symbol)
    return _words(about, symbol), _size(about, symbol)


def _words(about: Quantity, symbol: str, *, plain: bool = False) -> str:
    """Return a unit as it stands beside a value; ``plain``: a difference of pressures is neither gauge nor absolute."""
    if plain and about.gauge_possible:
        return unit(split_pressure(symbol)[0]).text
    return unit_words(about, symbol)


def _size(about: Quantity, symbol: str) -> float:
    return unit(split_pressure(symbol)[0] if about.pressure else symbol).factor / about.unit.factor


def move(one: Indicator, size: Interval, system: System = "si") -> tuple[str, str]:
    """Return a move with its unit, signed, and its interval: ``+9.6 K`` and ``+9.1 to +10.1``; empty: none is known."""
    if not math.isfinite(size.value):
        return "not known", ""
    name, scale = ("%", 1.0) if one.share else unit_of(one, system, difference=True)
    ends = [_share(end) if one.share else end / scale for end in (size.value, size.low, size.high)]
    known = ends[2] > ends[1]
    least = (100.0 * one.matters if one.share else one.matters / scale) / (FINEST if known else FINEST / 10.0)
    places = _places(ends, least)
    said = [_signed(end, places) for end in ends]
    spread = f"{said[1]} to {said[2]}" if all(map(math.isfinite, ends)) and known else ""
    return f"{said[0]} {name}".strip(), spread


def _share(value: float) -> float:
    return 100.0 * math.expm1(min(value, 20.0))


def _places(ends: list[float], least: float) -> int:
    """Return the decimals of an interval: two figures in its half-width, and none finer than anyone can use."""
    half = abs(ends[2] - ends[1]) / 2.0
    finest = max(half / 10.0, least) if math.isfinite(half) else least
    return max(0, min(6, -math.floor(math.log10(finest)))) if finest > 0.0 else 2


def _signed(value: float, places: int) -> str:
    if not math.isfinite(value):
        return NO_ANSWER
    text = f"{value:+,.{places}f}"
    return (text if float(text.replace(",", "")) else text[1:]).replace("-", MINUS)


def amount(one: Indicator, value: float, system: System = "si") -> str:
    """Return a difference of the indicator's signal with its unit, signed."""
    return move(one, Interval(value, value, value), system)[0]


def level(one: Indicator, value: float, system: System = "si") -> str:
    """Return a level of the indicator's signal with its unit."""
    if not math.isfinite(value):
        return NO_ANSWER
    name, scale = unit_of(one, system)
    if one.scale == "difference":
        return f"{_signed(value / scale, _places([value, 0.0, 0.0], one.matters / scale / 10.0))} {name}".strip()
    about = quantity(one.quantity)
    if one.scale == "ratio":
        return f"{number_text(value / scale, 4)} {name}".strip()
    shown = about.to_unit(value, about.display(system))
    return f"{number_text(shown, about.digits, about.decimals)} {name}".strip()


def between(one: Indicator, size: Interval, system: System = "si") -> str:
    """Return a move with its interval: ``+9.6 K (+9.1 to +10.1)``."""
    much, spread = move(one, size, system)
    return f"{much} ({spread})" if spread else much


def says_of(one: Indicator, system: System = "si") -> str:
    """Return the sentence of an indicator; what was kept where nothing is known but why not."""
    if one.kind == "unknown":
        return one.says
    said = [f"{one.title}: {_state(one, system)}"]
    if one.steps:
        more = f"; {len(one.steps) - 1} more before it" if len(one.steps) > 1 else ""
        said.append(f"S{stepped(one, one.steps[-1], system)[1:]}{more}")
    if one.limit is not None and one.now.known and one.judged in ("moves", "near", "beyond"):
        said.append(_limit(one, system))
    return ". ".join(said) + "."


def _state(one: Indicator, system: System) -> str:
    now = f"{level(one, one.now.value, system)} now" if one.now.known else "not known"
    if one.kind in ("drift", "both") and one.moved.differs_from_zero and abs(one.moved.value) >= one.matters:
        way = "rises" if one.moved.value > 0 else "falls"
        return f"{way}, {between(one, one.moved, system)}{since(one)}; {now}"
    return f"{'no drift that matters' if one.kind in ('drift', 'both') else 'no drift'}; {now}"


def since(one: Indicator) -> str:
    """Return when a drift began, with its interval, as it stands behind a number; empty where nothing is known."""
    if one.began:
        return f" since {day_said(one.began.time)} ({span_said(one.began.earliest, one.began.latest)})"
    return f" since {day_said(one.moved_from)} or before" if one.moved_from else ""


def when(step: StepSeen) -> str:
    """Return when a step came: ``20 June 2032``, with its interval where that is wider than a day."""
    wide = day_of(step.earliest) != day_of(step.latest)
    return f"{day_said(step.time)} ({span_said(step.earliest, step.latest)})" if wide else day_said(step.time)


def came_with(step: StepSeen) -> str:
    """Return what was done about a step: ``the visit A2/2032-07-08 (oxygen sensor changed)``; empty: nothing known."""
    if not step.visit:
        return step.why
    return f"the visit {step.visit} ({step.why})" if step.why else f"the visit {step.visit}"


def stepped(one: Indicator, step: StepSeen, system: System = "si") -> str:
    """Return a step of a reading: ``stepped by −44 % (−44 to −43) on 8 July 2032, with the visit A2/2032-07-08``."""
    reason = came_with(step)
    at = f", with {reason}" if reason else ""
    return f"stepped by {between(one, step.size, system)} on {when(step)}{at}"


def _limit(one: Indicator, system: System) -> str:
    shown = level(one, one.limit or 0.0, system)
    limit = f"{shown} ({one.limit_from})" if one.limit_from else shown
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
    far = "; this lies far beyond the data" if reach.far else ""
    span = span_said(reach.earliest, reach.latest)
    return f"The limit is reached on {day_said(reach.time)} ({span}) at this rate{far}"


def effect_says(effect: EffectSeen, one: Indicator | None, system: System = "si") -> str:
    """Return what a visit did to a signal in one sentence; that of SI where the signal is not known."""
    if one is None:
        return effect.says
    return (
        f"{one.title}: {VERDICTS[effect.verdict]}, {between(one, effect.difference, system)} at equal load and ambient."
    )


def _percent(share: float) -> str:
    return f"{min(max(100 * share, 0), 100):.0f} %"
