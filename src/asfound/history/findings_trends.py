"""Findings of trends: limits that are reached, drifts, steps with their witnesses, and whether repairs worked."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.history.look_parts import EffectSeen, EngineLook, Indicator, StepSeen, VisitSeen
from asfound.history.look_words import between, day_of, reach_words
from asfound.quantities.words import Finding, Severity

SUBJECTS = {"exhaust": "cylinders", "mixture": "exhaust", "catalyst": "exhaust", "fuel": "fuel", "knock": "load"}
"""Group of an indicator -> step of the visit; others are of the step ``other``."""
YEAR = 366 * 86_400 * 1_000_000
WITNESS = 3 * 86_400 * 1_000_000
"""What steps within three days of another is its witness."""
FAR = 2.0
"""A step of so many times what matters is told for a year."""
SENSOR_LIKE = ("exhaust_temperature", "bearing_temperature")
SYMPTOMS = {
    ("exhaust_temperature", "down"): "HI-30", ("exhaust_temperature", "up"): "HI-31", ("nox", "up"): "HI-32",
    ("catalyst_pressure_drop", "up"): "HI-33", ("jacket_water_in", "up"): "HI-34", ("jacket_water_out", "up"): "HI-34",
    ("manifold_temperature", "up"): "HI-35", ("oil_pressure", "down"): "HI-36", ("crankcase_pressure", "up"): "HI-37",
    ("bearing_temperature", "up"): "HI-38", ("knock_level", "up"): "HI-39", ("ignition_retard", "up"): "HI-39",
    ("fuel_per_power", "up"): "HI-40", ("manifold_pressure", "up"): "HI-41",
}  # fmt: skip
"""Indicator and direction -> code of the finding that a symptom of troubleshooting knows."""
ALONE = "HI-42"
ENGINE_SIDE = ("catalyst_rise", "oxygen", "turbine_inlet", "knock_level", "fuel_per_power")
"""What moves too when a cylinder, and not its thermocouple, has changed."""


def find(look: EngineLook) -> Iterator[Finding]:
    """Yield them."""
    for one in look.indicators:
        if one.judged == "beyond":
            yield _beyond(look, one)
        elif one.judged == "near":
            yield _near(look, one)
        elif one.judged == "moves" and one.kind in ("drift", "both") and abs(one.moved.value) >= one.matters:
            yield _drifts(look, one)
        last = [step for step in one.steps if step.time >= look.end - YEAR and not step.visit]
        big = [step for step in last if abs(step.size.value) >= FAR * one.matters]
        if big:
            yield _stepped(look, one, big)
    for visit in look.visits:
        yield from _repair(look, visit)


def finding(
    look: EngineLook, code: str, says: str, severity: Severity, next_step: str, *, group: str = "", key: str = "",
    probability: float | None = None, compared: str = "", **extra: str,
) -> Finding:  # fmt: skip
    """Return a finding of the log."""
    return Finding(
        code=code, subject=SUBJECTS.get(group, "other"), says=says, severity=severity, next_step=next_step,
        compared_with=compared or f"the engine's own log up to {look.day}", probability=probability,
        cautions=(), extra={"from": "log", **({"indicator": key} if key else {}), **extra},
    )  # fmt: skip


def _beyond(look: EngineLook, one: Indicator) -> Finding:
    return finding(
        look, "HI-01", one.says, "visit",
        "Read it with another instrument; then look for the cause and compare with the engine's own manual.",
        group=one.group, key=one.key, compared=one.limit_from,
    )  # fmt: skip


def _near(look: EngineLook, one: Indicator) -> Finding:
    reach = one.reach
    assert reach is not None
    return finding(
        look, "HI-02", one.says, "visit",
        f"Find the cause before {day_of(reach.earliest)}. It tells of {one.sees}. {reach_words(reach)}.",
        group=one.group, key=one.key, probability=1.0 - reach.never, compared=one.limit_from,
    )  # fmt: skip


def _drifts(look: EngineLook, one: Indicator) -> Finding:
    way = "up" if one.moved.value > 0 else "down"
    return finding(
        look, SYMPTOMS.get((one.key.partition("@")[0], way), "HI-03"), one.says, "soon",
        f"It tells of {one.sees}. Look which of these changed{_since(one)}.", group=one.group, key=one.key,
        direction=way, quantity=one.quantity, place=one.place,
    )  # fmt: skip


def _since(one: Indicator) -> str:
    return f" at about {day_of(one.began.time)}" if one.began else ""


def _stepped(look: EngineLook, one: Indicator, steps: list[StepSeen]) -> Finding:
    step = steps[-1]
    told = "; ".join(f"{day_of(each.time)} {between(one, each.size)}" for each in steps[-4:])
    sensor, said = _witnesses(look, one, step)
    way = "up" if step.size.value > 0 else "down"
    gone = sum(each.size.value for each in one.steps if each.time <= step.time)
    away = gone * step.size.value > 0.0 and abs(gone) >= one.matters  # one that brings it back is no symptom
    code = "HI-04"
    if away:
        code = ALONE if sensor else SYMPTOMS.get((one.key.partition("@")[0], way), code)
    return finding(
        look, code, f"{one.title}: stepped, {told}{said}.", "soon" if step.time >= look.end - YEAR // 4 else "note",
        f"Ask what was done at that time. It tells of {one.sees}.", group=one.group, key=one.key,
        direction=way, quantity=one.quantity, place=one.place,
        alone="yes" if sensor else "no",
    )  # fmt: skip


def _witnesses(look: EngineLook, one: Indicator, step: StepSeen) -> tuple[bool, str]:
    """Return whether a step of a port's temperature stands alone, and who else moved."""
    others = [
        other for other in look.indicators
        if other.key != one.key and any(abs(each.time - step.time) <= WITNESS for each in other.steps)
    ]  # fmt: skip
    if others:
        names = ", ".join(_inside(other.title) for other in others[:3])
        return False, f". At the same time moved: {names}"
    base = one.key.partition("@")[0]
    watching = [other for other in look.indicators if other.key.partition("@")[0] in ENGINE_SIDE]
    if base in SENSOR_LIKE and watching:
        return True, ". Nothing else moved with it: that speaks for the sensor"
    return False, ""


def _inside(title: str) -> str:
    """Return a title as it stands inside a sentence: ``NOx`` keeps its letters."""
    return title[:1].lower() + title[1:] if title[1:2].islower() else title


def _repair(look: EngineLook, visit: VisitSeen) -> Iterator[Finding]:
    for code, verdicts, severity, then in (
        ("HI-05", ("worked", "likely"), "note", "Nothing: it is told so that it is known."),
        ("HI-06", ("not enough", "worse"), "soon", "Look again for the cause: what was done did not take it away."),
    ):
        found = [one for one in visit.effects if one.verdict in verdicts]
        if found:
            yield finding(
                look, code, f"Visit {visit.name}: {_told(found)}", severity, then,  # type: ignore[arg-type]
                probability=min((one.probability for one in found if one.probability == one.probability), default=None),
                visit=visit.name,
            )  # fmt: skip


def _told(effects: list[EffectSeen]) -> str:
    return " ".join(one.says for one in sorted(effects, key=lambda one: one.key)[:4])
