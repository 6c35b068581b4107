"""A question as it is typed, with its units, and as the model takes it; nothing beyond the bounds is let through."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np

from asfound.errors import AsFoundError, InputError
from asfound.quantities.display import number_text, show
from asfound.quantities.parse import parse_amount, parse_number
from asfound.quantities.register import quantity
from asfound.quantities.units import unit as unit_of
from asfound.whatif.bounds import bounds
from asfound.whatif.charge_cooler import AIR, AIR_ENDS
from asfound.whatif.held import LEAST_POWER, MOST_POWER
from asfound.whatif.of_case import WATER_TO_AIR

if TYPE_CHECKING:
    from asfound.report.whatif_fit import FittedEngine
    from asfound.report.wording import System
    from asfound.whatif.seen import Knob

PartName = Literal["timing", "mixture", "charge", "air", "power", "humidity"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part of the setting that can be asked about."""

    name: PartName
    title: str
    quantity: str
    knob: Knob | None
    """None: power, which the manifold pressure is found for, and the air outside, which the charge air follows."""
    factor: float = 1.0
    """From the quantity to the setting of the model."""
    step: Mapping[str, float] = field(default_factory=dict)
    """Of its slider, by unit."""
    more: tuple[str, ...] = ()
    """Words after an amount that mean upward."""
    less: tuple[str, ...] = ()


PARTS: dict[PartName, Part] = {
    one.name: one
    for one in (
        Part(name="timing", title="Ignition timing", quantity="ignition_timing", knob="timing", factor=-1.0,
             step={"deg": 0.25}, more=("earlier",), less=("later",)),
        Part(name="mixture", title="Mixture, lambda", quantity="excess_air_ratio", knob="excess_air_ratio",
             step={"1": 0.01}, more=("leaner",), less=("richer",)),
        Part(name="charge", title="Charge air temperature", quantity="manifold_temperature",
             knob="charge_temperature", step={"°C": 0.5, "°F": 1.0}, more=("warmer",), less=("colder", "cooler")),
        Part(name="air", title="Air outside", quantity="ambient_temperature", knob=None,
             step={"°C": 0.5, "°F": 1.0}, more=("warmer", "hotter"), less=("colder", "cooler")),
        Part(name="humidity", title="Humidity of the charge air", quantity="humidity_ratio", knob="humidity",
             factor=WATER_TO_AIR, step={"g/kg": 0.25, "gr/lb": 2.0}, more=("more",), less=("less",)),
        Part(name="power", title="Power", quantity="engine_power", knob=None, step={"kW": 5.0, "hp": 5.0},
             more=("more",), less=("less",)),
    )
}  # fmt: skip
NAMES = (*PARTS, "gas")


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What is asked, as typed; empty is as it was read."""

    typed: Mapping[str, str] = field(default_factory=dict)

    def of(self, name: str) -> str:
        """Return what was typed for a part."""
        return self.typed.get(name, "")

    @property
    def empty(self) -> bool:
        """Whether nothing is asked."""
        return not any(self.typed.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A question as the model takes it."""

    changes: dict[Knob, float]
    """What is added to each part of the setting. [SI]"""
    power_share: float
    air: float
    """How much hotter the air outside is than it was read. [K]"""
    fuel: dict[str, float] | None
    """Another gas; None: that of the visit."""
    targets: dict[PartName, float]
    """The parts that differ from what was read, in the SI unit of their quantity."""
    complaints: dict[str, str]
    """By name of the field, what cannot be."""
    faults: dict[str, AsFoundError]
    """The same as the errors that they are."""
    choices: dict[str, dict[str, str]]
    """By name of the field, what it can have meant."""

    @property
    def key(self) -> tuple[object, ...]:
        """What tells one question from another."""
        return (
            tuple(sorted(self.changes.items())),
            self.power_share,
            self.air,
            tuple(sorted(self.fuel.items())) if self.fuel else None,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """Where a part of the setting stands and how far it may be asked, in the SI unit of its quantity."""

    now: float
    low: float
    high: float
    why: str


def reach_of(fit: FittedEngine, part: Part) -> Reach:
    """Return where a part stands as it was read, and the ends within which the model answers."""
    if part.name == "air":
        outside = fit.modelled.inlet_temperature
        low, high = (min(max(outside + by, AIR_ENDS[0]), AIR_ENDS[1]) for by in AIR)
        return Reach(now=outside, low=low, high=high, why="cooler and radiator were found on a day of their own")
    if part.knob is None:
        power = _power(fit)
        return Reach(now=power, low=LEAST_POWER * power, high=MOST_POWER * power,
                     why="load and boost far from what was read are another engine")  # fmt: skip
    bound = bounds()[part.knob]
    read = float(np.median(np.asarray(getattr(fit.modelled.visit.setting, part.knob))))
    middle = float(np.median(np.asarray(getattr(fit.engine.settings[0], part.knob))))
    less, more = max(bound.less, bound.low - middle), min(bound.more, bound.high - middle)
    if part.knob == "humidity":
        less = max(less, -read)
    ends = sorted((read + end) / part.factor for end in (less, more))
    return Reach(now=read / part.factor, low=ends[0], high=ends[1], why=bound.why)


def _power(fit: FittedEngine) -> float:
    """Return the power as it was read, else by the model. [W]"""
    read = [one.value for one in fit.modelled.visit.readings if one.output == "power"]
    return read[0] if read else float(np.median(fit.engine.outcome.power))


def asked_of(
    fit: FittedEngine,
    question: Question,
    system: System,
    *,
    gases: Mapping[str, Mapping[str, float]] | None = None,
    decimal: Literal[".", ","] | None = None,
) -> Asked:
    """Return a question as the model takes it, with complaints about what it cannot be.

    Parameters
    ----------
    fit : FittedEngine
    question : Question
    system : {'si', 'us'}
        Whose unit a bare number is in.
    gases : mapping, optional
        Other gases by the name under which they can be asked for.
    decimal : str, optional
        The person's decimal sign.
    """
    changes: dict[Knob, float] = {}
    targets: dict[PartName, float] = {}
    complaints: dict[str, str] = {}
    choices: dict[str, dict[str, str]] = {}
    faults: dict[str, AsFoundError] = {}
    share, air, fuel = 1.0, 0.0, None
    for name, part in PARTS.items():
        text = question.of(name).strip()
        if not text:
            continue
        reach = reach_of(fit, part)
        try:
            target = _target(text, part, reach, system, decimal)
            _refuse_beyond(text, part, reach, target, system)
        except AsFoundError as fault:
            complaints[name], faults[name] = _plainly(fault, part), fault
            choices[name] = dict(getattr(fault, "choices", {}) or {})
            continue
        if abs(target - reach.now) <= 1e-9 * max(abs(reach.now), 1e-6):
            continue
        targets[name] = target
        if part.name == "air":
            air = target - reach.now
        elif part.knob is None:
            share = target / reach.now
        else:
            changes[part.knob] = (target - reach.now) * part.factor
    if gas := question.of("gas").strip():
        try:
            fuel = gas_named(gas, fit.engine.fuel, gases or {}, decimal)
        except AsFoundError as fault:
            complaints["gas"], faults["gas"] = str(fault), fault
    return Asked(
        changes=changes, power_share=share, air=air, fuel=fuel, targets=targets, complaints=complaints, faults=faults,
        choices={name: one for name, one in choices.items() if one},
    )  # fmt: skip


def _target(text: str, part: Part, reach: Reach, system: System, decimal: Literal[".", ","] | None) -> float:
    """Return the value that is asked for, in the SI unit of the quantity."""
    about = quantity(part.quantity)
    here = about.display(system)
    by = _by(text, part)
    if by is None and text.startswith("+"):
        raise InputError(
            part.title, text, "may be meant as a change or as a value",
            try_next=f"Write a change as 'by {text}', a value without a sign.",
        )  # fmt: skip
    if by is not None:
        number, symbol, sign = by
        value = parse_number(number, decimal=decimal, field=part.title).value
        if value is None:
            raise InputError(part.title, text, "is no number")
        if symbol == "%":
            return reach.now * (1.0 + sign * value / 100.0)
        return reach.now + sign * _difference(value, symbol or here, part, text)
    if part.name == "power" and text.endswith("%"):
        value = parse_number(text[:-1].strip(), decimal=decimal, field=part.title).value
        return reach.now * (value if value is not None else np.nan) / 100.0
    found = parse_amount(text, quantity=part.quantity, field=part.title, decimal=decimal, system=system,
                         default_unit=here)  # fmt: skip
    if found.value is None or found.censored:
        raise InputError(part.title, text, "is not one value")
    return float(found.value)


_CHANGE = re.compile(r"(?:by\s+)?(?P<number>[+\-−]?\s*[\d.,]+)\s*(?P<unit>\S*?)\s*(?P<way>[a-z]*)", re.IGNORECASE)


def _by(text: str, part: Part) -> tuple[str, str, float] | None:
    """Return number, unit and sign of a change (``by -2 deg``, ``2 later``); None where a value is typed."""
    words = text.lower()
    way = next((one for one in (*part.more, *part.less) if words.endswith(one)), "")
    if not way and not words.startswith("by "):
        return None
    found = _CHANGE.fullmatch(text[: len(text) - len(way)].strip())
    if found is None:
        raise InputError(part.title, text, "is not a change", try_next="Write it as 'by 2' or 'by -2', with its unit.")
    number = found["number"].replace(" ", "").replace("−", "-")
    return number, found["unit"] + found["way"], -1.0 if way in part.less else 1.0


def _difference(value: float, symbol: str, part: Part, text: str) -> float:
    """Return an amount of change in the SI unit of the quantity."""
    about = quantity(part.quantity)
    units = {"K": "°C", "C": "°C", "F": "°F", "degree": "deg", "degrees": "deg", "°": "deg"}
    here = units.get(symbol, symbol)
    if here not in about.units:
        raise InputError(part.title, text, f"has a unit that does not fit: {symbol}", allowed=", ".join(about.units))
    return float(unit_of(here).to_si(value, difference=True)) / about.unit.factor


def _refuse_beyond(text: str, part: Part, reach: Reach, target: float, system: System) -> None:
    """Refuse what lies beyond the bounds, the allowed range in both the site's unit and its own."""
    slack = 1e-6 * (reach.high - reach.low)
    if reach.low - slack <= target <= reach.high + slack:
        return
    raise InputError(
        part.title, text, f"is beyond what the model may be asked: {reach.why}", allowed=allowed(part, reach, system),
        try_next="Ask for a smaller step, make it at the engine, read again, and ask anew.",
    )  # fmt: skip


def allowed(part: Part, reach: Reach, system: System) -> str:
    """Return the range within which the model answers: ``10.5 to 26.5 deg``."""
    about = quantity(part.quantity)
    symbol = about.display(system)
    ends = [about.to_unit(one, symbol) for one in (reach.low, reach.high)]
    low, high = min(ends), max(ends)
    places = 2 if part.name == "mixture" else 1 if part.name in ("timing", "humidity") else 0
    step = 10.0**-places
    texts = [number_text(float(one), 12, places) for one in (np.ceil(low / step - 1e-6) * step,
                                                              np.floor(high / step + 1e-6) * step)]  # fmt: skip
    words = "" if symbol == "1" else f" {unit_of(symbol).text}"
    return f"{texts[0]} to {texts[1]}{words}"


def _plainly(fault: AsFoundError, part: Part) -> str:
    """Return a complaint without the field's name before it, which stands above it."""
    return str(fault).removeprefix(f"{part.title}: ")


def said_value(part: Part, value: float, system: System) -> str:
    """Return a value of a part with its unit, as people of a system read it."""
    shown = show(value, part.quantity, system=system)
    return f"{shown.value} {shown.unit}".strip()


_METHANE = re.compile(r"(?:methane\s*)?(?P<number>[\d.,]+)\s*%?\s*(?:methane)?", re.IGNORECASE)


def gas_named(
    text: str,
    now: Mapping[str, float],
    gases: Mapping[str, Mapping[str, float]],
    decimal: Literal[".", ","] | None = None,
) -> dict[str, float] | None:
    """Return another gas: of another analysis by its name, or this one with another share of methane.

    >>> gas = gas_named("methane 80 %", {"methane": 0.9, "ethane": 0.06, "nitrogen": 0.04}, {})
    >>> {name: round(share, 3) for name, share in gas.items()}
    {'methane': 0.8, 'ethane': 0.12, 'nitrogen': 0.08}
    """
    if text.strip().lower() == "this":
        return None
    if text in gases:
        return dict(gases[text])
    found = _METHANE.fullmatch(text.strip())
    if found is None:
        raise InputError("gas", text, "is neither an analysis of the record nor a share of methane",
                         allowed=", ".join(["this", "methane 92 %", *gases]))  # fmt: skip
    typed = parse_number(found["number"], decimal=decimal, field="gas").value
    share = (float(typed) if typed is not None else float("nan")) / 100.0
    if not LEAST_METHANE <= share <= 1.0:
        raise InputError("gas", text, "is beyond what the model may be asked",
                         allowed=f"methane {100 * LEAST_METHANE:g} to 100 %")  # fmt: skip
    total = sum(now.values())
    rest = total - now.get("methane", 0.0)
    if rest <= 0.0:
        return {"methane": share, "ethane": 1.0 - share} if share < 1.0 else {"methane": 1.0}
    scale = (1.0 - share) * total / rest
    return {name: share * total if name == "methane" else one * scale for name, one in now.items()}


LEAST_METHANE = 0.5
"""Of a gas that is asked for by its methane alone (engineering judgement). [mol/mol]"""
