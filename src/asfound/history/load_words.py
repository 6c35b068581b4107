"""What is said of a load that is held down, in the units of its reader, and what may hold it."""

from __future__ import annotations

import math

from asfound.history.channels import split_channel
from asfound.history.load_parts import LoadHeld, Margin
from asfound.history.look_words import System, day_said, span_said
from asfound.history.watched import watched
from asfound.quantities.display import number_text, unit_words
from asfound.quantities.register import quantity

OPEN, SHUT = 0.97, 0.03
"""A throttle that is so far open gives no more; a wastegate that is so far shut leaves no more boost. [1]"""
RETARD = 0.035
"""Knock control that takes back so much, 2 degrees, is at work. [rad]"""
NEAR_LIMIT = 1.0
"""[K]"""
SETTING = "setting"
THEN = {
    "throttle": "Look at what is in the way of the charge: air filter, charge cooler, turbocharger; then at the "
                "heating value of the gas.",
    "boost": "Look at the turbocharger, leaks of charge air and exhaust, and the air filter.",
    "charge": "Look at the charge cooler and its water.",
    "knock": "Look at the gas analysis, the charge temperature and deposits.",
    SETTING: "Ask who set it and why, and write it down: a load that is held down hides what would show above it.",
    "unknown": "Ask who set it and why; log throttle, wastegate and charge temperature to tell a setting from an "
               "engine at its end.",
}  # fmt: skip


def load_text(watts: float, channel: str, system: System) -> str:
    """Return a load in the reader's unit."""
    about = quantity(split_channel(channel)[0])
    unit = about.display(system)
    return f"{number_text(about.to_unit(watts, unit), about.digits, about.decimals)} {unit_words(about, unit)}"


def held_says(one: LoadHeld, system: System = "si") -> str:
    """Return the sentences of a load that is or was held down."""
    level, before = (load_text(watts, one.channel, system) for watts in (one.level, one.before))
    rated = f" ({100.0 * one.level / one.rated:.0f} % of its rating)" if one.rated > 0 else ""
    began = f"{day_said(one.time)} ({span_said(one.earliest, one.latest)})"
    when = f"From {began} to {day_said(one.end)} it carried" if one.end else f"Since {began} it carries"
    said = f"{when} no more than {level}{rated}{_came_with(one)}. Before, it passed that on "
    said += f"{100.0 * one.passed:.0f} % of the days and reached {before}; {100.0 * one.at_level:.0f} % of the hours "
    said += f"since rest at it{_air(one, system)}. {why_held(one)[1]}"
    return said


def _came_with(one: LoadHeld) -> str:
    if one.visit:
        return f", with the visit {one.visit}" + (f" ({one.why})" if one.why else "")
    return f", with {one.why}" if one.why else ""


def _air(one: LoadHeld, system: System) -> str:
    if not (math.isfinite(one.air_low) and math.isfinite(one.air_high)):
        return ""
    about = quantity("ambient_temperature")
    unit = about.display(system)
    low, high = (number_text(about.to_unit(kelvin, unit), 3, 0) for kelvin in (one.air_low, one.air_high))
    return f", with air of {low} to {high} {unit}"


def why_held(one: LoadHeld) -> tuple[str, str]:
    """Return what stands at its end while the load rests there, as a word and as a sentence."""
    ends = {name: margin for margin in one.margins if (name := _at_its_end(margin))}
    if "throttle" in ends:
        return "throttle", f"The throttle is open by {100.0 * ends['throttle'].now:.0f} %: it has no more to give."
    if "boost" in ends:
        return "boost", f"The wastegate is shut to {100.0 * ends['boost'].now:.0f} %: there is no more boost to give."
    if "charge" in ends:
        return "charge", "The charge is as warm as it may be."
    if "knock" in ends:
        return "knock", f"Knock control takes back {math.degrees(ends['knock'].now):.1f} degrees at that load."
    if one.margins:
        return SETTING, "Nothing that is logged stands at its end, so a setting holds it, or what is driven."
    return "unknown", "Nothing is logged that tells whether the engine could give more."


def _at_its_end(one: Margin) -> str:
    name = split_channel(one.channel)[0]
    if name == "throttle_position" and one.now >= OPEN:
        return "throttle"
    if name == "wastegate_position" and one.now <= SHUT:
        return "boost"
    if name == "ignition_retard" and one.now >= RETARD:
        return "knock"
    limit = next((row.limit for row in watched() if row.quantity == name == "manifold_temperature"), None)
    return "charge" if limit is not None and one.now >= limit - NEAR_LIMIT else ""
