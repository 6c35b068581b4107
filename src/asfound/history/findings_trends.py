"""Findings of trends: limits that are reached, drifts, steps with their witnesses, and whether repairs worked."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.history.look_parts import EffectSeen, EngineLook, Indicator, StepSeen, VisitSeen
from asfound.history.look_words import System, between, day_said, effect_says, reach_words, says_of, when
from asfound.quantities.days import day_text
from asfound.quantities.words import Finding, Severity

SUBJECTS = {"exhaust": "cylinders", "mixture": "exhaust", "catalyst": "exhaust", "fuel": "fuel", "knock": "load"}
"""Group of an indicator -> step of the visit; others are of the step ``other``."""
YEAR = 366 * 86_400 * 1_000_000
WITNESS = 3 * 86_400 * 1_000_000
"""What steps within three days of another is its witness."""
MOST = 8
"""Moments that are told, the latest."""
FAR = 2.0
"""A step of so many times what matters is told for a year."""
SENSOR_LIKE = ("exhaust_temperature", "bearing_temperature")
SYMPTOMS = {
    ("exhaust_temperature", "down"): "HI-30", ("exhaust_temperature", "up"): "HI-31", ("nox", "up"): "HI-32",
    ("catalyst_pressure_drop", "up"): "HI-33", ("jacket_water_in", "up"): "HI-34", ("jacket_water_out", "up"): "HI-34",
    ("manifold_temperature", "up"): "HI-35", ("oil_pressure", "down"): "HI-36", ("crankcase_pressure", "up"): "HI-37",
    ("bearing_temperature", "up"): "HI-38", ("knock_level", "up"): "HI-39", ("ignition_retard", "up"): "HI-39",
    ("fuel_per_power", "up"): "HI-40", ("manifold_pressure", "up"): "HI-41",
    ("speed_swing", "up"): "HI-43",
}  # fmt: skip
"""Indicator and direction -> code of the finding that a symptom of troubleshooting knows."""
ALONE = "HI-42"
ENGINE_SIDE = ("catalyst_rise", "oxygen", "turbine_inlet", "knock_level", "fuel_per_power")
"""What moves too when a cylinder, and not its thermocouple, has changed."""


def find(look: EngineLook, system: System = "si") -> Iterator[Finding]:
    """Yield them."""
    for one in look.indicators:
        if one.judged == "beyond":
            yield _beyond(look, one, system)
        elif one.judged == "near":
            yield _near(look, one, system)
        elif one.judged == "moves" and one.kind in ("drift", "both") and abs(one.moved.value) >= one.matters:
            yield _drifts(look, one, system)
    for together in _moments(look)[-MOST:]:
        yield _stepped(look, together, system)
    for visit in look.visits:
        yield from _repair(look, visit, system)


def finding(
    look: EngineLook, code: str, says: str, severity: Severity, next_step: str, *, group: str = "", key: str = "",
    probability: float | None = None, compared: str = "", **extra: str,
) -> Finding:  # fmt: skip
    """Return a finding of the log."""
    return Finding(
        code=code, subject=SUBJECTS.get(group, "other"), says=says, severity=severity, next_step=next_step,
        compared_with=compared or f"the engine's own log up to {day_text(look.day)}", probability=probability,
        cautions=(), extra={"from": "log", **({"indicator": key} if key else {}), **extra},
    )  # fmt: skip


def _beyond(look: EngineLook, one: Indicator, system: System) -> Finding:
    return finding(
        look, "HI-01", says_of(one, system), "visit",
        "Read it with another instrument; then look for the cause and compare with the engine's own manual.",
        group=one.group, key=one.key, compared=one.limit_from,
    )  # fmt: skip


def _near(look: EngineLook, one: Indicator, system: System) -> Finding:
    reach = one.reach
    assert reach is not None
    return finding(
        look, "HI-02", says_of(one, system), "visit",
        f"Find the cause before {day_said(reach.earliest)}. It tells of {one.sees}. {reach_words(reach)}.",
        group=one.group, key=one.key, probability=1.0 - reach.never, compared=one.limit_from,
    )  # fmt: skip


def _drifts(look: EngineLook, one: Indicator, system: System) -> Finding:
    way = "up" if one.moved.value > 0 else "down"
    return finding(
        look, SYMPTOMS.get((one.key.partition("@")[0], way), "HI-03"), says_of(one, system), "soon",
        f"It tells of {one.sees}. Look which of these changed{_since(one)}.", group=one.group, key=one.key,
        direction=way, quantity=one.quantity, place=one.place,
    )  # fmt: skip


def _since(one: Indicator) -> str:
    return f" at about {day_said(one.began.time)}" if one.began else ""


Moved = tuple[Indicator, StepSeen]


def _moments(look: EngineLook) -> list[list[Moved]]:
    """Return the steps of the last year by moment, in order; what moved most, beside what matters, is first of each."""
    steps = sorted(
        (
            (one, step)
            for one in look.indicators
            for step in one.steps
            if step.time >= look.end - YEAR and not step.visit and abs(step.size.value) >= FAR * one.matters
        ),
        key=lambda moved: moved[1].time,
    )
    found: list[list[Moved]] = []
    for moved in steps:
        if found and moved[1].time - found[-1][0][1].time <= WITNESS:
            found[-1].append(moved)
        else:
            found.append([moved])
    return [sorted(one, key=lambda moved: -abs(moved[1].size.value) / moved[0].matters) for one in found]


def _stepped(look: EngineLook, together: list[Moved], system: System) -> Finding:
    one, step = together[0]
    others = list(dict.fromkeys(_inside(other.title) for other, _ in together[1:] if other.key != one.key))
    base, way = one.key.partition("@")[0], "up" if step.size.value > 0 else "down"
    watching = any(
        other.key.partition("@")[0] in ENGINE_SIDE and other.judged != "unknown" for other in look.indicators
    )
    alone = base in SENSOR_LIKE and watching and not others
    gone = sum(each.size.value for each in one.steps if each.time <= step.time)
    away = gone * step.size.value > 0.0 and abs(gone) >= one.matters  # one that brings it back is no symptom
    code = "HI-04"
    if away:
        code = ALONE if alone else SYMPTOMS.get((base, way), code)
    said = f". With it moved: {', '.join(others[:5])}" if others else ""
    if alone:
        said = ". Nothing else moved with it: that speaks for the sensor"
    work = next((each.why for _, each in together if each.why), "")
    done = f". About that day: {work}" if work else ""
    ask = "Ask whether that work moved it" if work else "Ask what was done at that time"
    return finding(
        look, code,
        f"{when(step)}: {_inside(one.title)} stepped by {between(one, step.size, system)}{said}{done}.",
        "soon" if step.time >= look.end - YEAR // 4 else "note",
        f"{ask}. It tells of {one.sees}.", group=one.group, key=one.key,
        direction=way, quantity=one.quantity, place=one.place, alone="yes" if alone else "no",
    )  # fmt: skip


def _inside(title: str) -> str:
    """Return a title as it stands inside a sentence: ``NOx`` keeps its letters."""
    return title[:1].lower() + title[1:] if title[1:2].islower() else title


def _repair(look: EngineLook, visit: VisitSeen, system: System) -> Iterator[Finding]:
    for code, verdicts, severity, then in (
        ("HI-05", ("worked", "likely"), "note", "Nothing: it is told so that it is known."),
        ("HI-06", ("not enough", "worse"), "soon", "Look again for the cause: what was done did not take it away."),
    ):
        found = [one for one in visit.effects if one.verdict in verdicts]
        if found:
            yield finding(
                look, code, f"Visit {visit.name}: {_told(look, found, system)}", severity, then,  # type: ignore[arg-type]
                probability=min((one.probability for one in found if one.probability == one.probability), default=None),
                visit=visit.name,
            )  # fmt: skip


def _told(look: EngineLook, effects: list[EffectSeen], system: System) -> str:
    first = sorted(effects, key=lambda one: one.key)[:4]
    return " ".join(effect_says(one, look.indicator(one.key), system) for one in first)
