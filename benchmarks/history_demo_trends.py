"""What the trends of the program find in the demo logs, beside what was planted; used by `history_demo`.

Each row is a function of a log; one whose functions are not there (yet) says so and nothing breaks.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache

import numpy as np

from asfound.history.demo import DemoLog, generate
from asfound.history.demo.calendar import DAY, iso, moment
from asfound.history.demo.engine import HP_HOUR
from asfound.history.sensor_fault import daily_medians, running_of, settled

A_DAY = 86_400.0
Row = tuple[str, str, str, str]


@cache
def log(tag: str) -> DemoLog:
    return generate(tag)


def rows() -> Iterator[Row]:
    """Yield engine, what was planted, what is found, and the verdict."""
    for tag, planted, find in LOOKS:
        try:
            found, verdict = find()
        except Exception as missing:  # the table is wanted whatever one of its rows cannot do
            found, verdict = f"not there ({type(missing).__name__}: {missing})", "-"
        yield tag, planted, found, verdict


def when(seconds: float) -> str:
    """Return the day of a time in seconds."""
    return iso(round(seconds * 1e6))[:10] if np.isfinite(seconds) else "never"


def seen(tag: str, start: int, end: int):
    """Return the rows of a stretch, time in seconds, what drives the engine, and where it has settled."""
    channels = log(tag).channels
    keep = (channels.time >= start) & (channels.time < end)
    part = channels.take(np.flatnonzero(keep))
    power = part.values.get("engine_power@engine", part.values.get("generator_power@generator"))
    drives = {"load": power / log(tag).spec.power, "ambient": part.values["ambient_temperature@site"]}
    return part, part.time * 1e-6, drives, settled(part.time, running_of(part))


def hourly(tag: str, name: str, start: int, end: int):
    """Return every sixth settled row: time, signal, drives, running, counts."""
    part, time, drives, calm = seen(tag, start, end)
    step = slice(None, None, 6)
    return (
        time[step], part.values[name][step], {key: rows[step] for key, rows in drives.items()}, running_of(part)[step],
        calm[step],
    )  # fmt: skip


def _inside(low: float, value: float, high: float) -> str:
    return "held" if low <= value <= high else "missed"


def with_moisture(tag: str, start: int, end: int, drives: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Return what drives the engine with the moisture of the air, which NOx follows (as `watched.yaml` has it)."""
    from asfound.history.look_rows import moisture

    damp = moisture(seen(tag, start, end)[0].values)
    return drives if damp is None else {**drives, "moisture": damp[::6]}


def a2_drift() -> tuple[str, str]:
    from asfound.history.drift import drift

    began, visit = moment(47, 128), moment(48, 190, 16)
    time, y, drives, running, calm = hourly("A2", "nox_sensor_reading@stack", moment(47, 1), visit)
    drives = with_moisture("A2", moment(47, 1), visit, drives)
    found = drift(time, logarithm(y), drives, running=running, counts=calm)
    slope, start = found.slope, found.began
    told = f"{found.kind}, {slope.value:+.1%} ({slope.low:.1%} to {slope.high:.1%}) per 1,000 h at the end"
    if start is None:
        return f"{told}; there from the start", "missed" if found.kind == "none" else "found, not when"
    told += f"; began {when(start.time)} ({when(start.earliest)} to {when(start.latest)})"
    return told, f"found; begin {_inside(start.earliest, began * 1e-6, start.latest)} (truth {iso(began)[:10]})"


def logarithm(y: np.ndarray) -> np.ndarray:
    """Return ln y, nan where there is none: NOx moves by shares, not by ppm."""
    return np.log(np.where(y > 0, y, np.nan))


def a2_limit() -> tuple[str, str]:
    from asfound.history.drift import drift
    from asfound.history.time_to_limit import of_drift

    visit = moment(48, 190, 16)
    one = log("A2")
    time, y, drives, running, calm = hourly("A2", "nox_sensor_reading@stack", moment(47, 1), visit)
    drives = with_moisture("A2", moment(47, 1), visit, drives)
    near = (one.channels.time > visit - 20 * DAY) & (one.channels.time < visit)  # the exhaust is less as it is richer
    per_energy = np.nanmedian(one.actual["nox_mass_per_energy@stack"][near]) * 1e3 * HP_HOUR
    at_limit = 1.0 / per_energy * np.nanmedian(one.actual["exhaust_nox_dry@stack"][near])
    last = calm & (time > visit * 1e-6 - 20 * A_DAY)  # asked and true for the load and the weather of the last 20 days
    as_now = {name: float(np.nanmedian(column[last])) for name, column in drives.items()}
    seen_now = drift(time, logarithm(y), drives, running=running, counts=calm, reference=as_now)
    found = of_drift(seen_now, np.log(at_limit))
    share = float(np.mean(running))
    ahead = [visit * 1e-6 + hours / share * 3600 for hours in (found.low, found.hours, found.high)]
    ahead_true = np.log(1.0 / per_energy) / 9.109 / 0.06 * (visit - moment(47, 128))
    true = (visit - 10 * DAY + ahead_true) * 1e-6
    told = f"{when(ahead[1])} ({when(ahead[0])} to {when(ahead[2])}); never: {found.never:.0%}"
    return told, f"{_inside(ahead[0], true, ahead[2])} (truth {when(true)})"


def a2_visit() -> tuple[str, str]:
    from asfound.history.visit_effect import before_after

    visit = moment(48, 190, 17)
    time, y, drives, _, calm = hourly("A2", "nox_sensor_reading@stack", visit - 90 * DAY, visit + 90 * DAY)
    found = before_after(time, y, visit * 1e-6, drives, counts=calm, wanted="lower", window=30 * A_DAY)
    true = _true_step("A2", "exhaust_nox_dry@stack", visit)
    low, value, high = (1e6 * end for end in (found.difference.low, found.difference.value, found.difference.high))
    told = f"{found.verdict}: {value:+.0f} ppm ({low:.0f} to {high:.0f})"
    return told, f"{_inside(low, true * 1e6, high)} (truth {true * 1e6:+.0f} ppm)"


def _true_step(tag: str, name: str, at: int, days: int = 10) -> float:
    """Return what the true value did at a visit: medians of some days on each side."""
    one = log(tag)
    value = one.actual[name]
    sides = [(at - days * DAY, at), (at, at + days * DAY)]
    level = [np.nanmedian(value[(one.channels.time >= low) & (one.channels.time < high)]) for low, high in sides]
    return float(level[1] - level[0])


def verdict_of(found: list[int], truths: dict[str, int], margin: float = 5.0) -> tuple[str, str]:
    """Return the days found, and which of the true ones they are."""
    hit = {name: any(abs(at - true) <= margin * DAY for at in found) for name, true in truths.items()}
    false = [at for at in found if not any(abs(at - true) <= margin * DAY for true in truths.values())]
    told = ", ".join(iso(at)[:10] for at in found) or "none"
    return told, ", ".join(
        f"{name} {'found' if ok else 'missed'}" for name, ok in hit.items()
    ) + f"; {len(false)} other"


def changes_of(tag: str, value: np.ndarray, truths: dict[str, int], matters: float = 0.0) -> tuple[str, str]:
    """Return the changes of daily medians as they are, but for those smaller than what matters."""
    from asfound.history.changes import change_points

    channels = log(tag).channels
    day, level = daily_medians(channels.time, value, settled(channels.time, running_of(channels)))
    whole = np.arange(day[0], day[-1] + 1, DAY)
    even = np.full(len(whole), np.nan)
    even[(day - day[0]) // DAY] = level
    found = change_points(even, kinds=("level",)).changes
    return verdict_of([int(whole[one.at]) for one in found if abs(one.size.value) >= matters], truths)


def steps_of(tag: str, value: np.ndarray, truths: dict[str, int]) -> tuple[str, str]:
    """Return the steps at equal load and ambient."""
    from asfound.history.drift import drift

    channels = log(tag).channels
    _, time, drives, calm = seen(tag, int(channels.time[0]), int(channels.time[-1]) + 1)
    step = slice(None, None, 6)
    found = drift(
        time[step], value[step], {name: rows[step] for name, rows in drives.items()},
        running=running_of(channels)[step], counts=calm[step],
    )  # fmt: skip
    return verdict_of([round(one.time * 1e6) for one in found.steps], truths)


def a3_apart() -> tuple[np.ndarray, dict[str, int]]:
    values = log("A3").channels.values
    names = [name for name in values if name.startswith("cylinder_exhaust") and "_R" in name]
    apart = values["cylinder_exhaust_temperature@cylinder_L4"] - np.median([values[name] for name in names], axis=0)
    truths = {"sensor": moment(48, 61), "coil": moment(48, 240), "repair": moment(48, 264)}
    return apart, truths


def a3_cold() -> tuple[str, str]:
    apart, truths = a3_apart()
    return changes_of("A3", apart, truths, matters=15.0)


def a3_cold_at_equal_load() -> tuple[str, str]:
    return steps_of("A3", *a3_apart())


def a3_witness() -> tuple[str, str]:
    values = log("A3").channels.values
    rise = values["catalyst_outlet_temperature@engine"] - values["catalyst_inlet_temperature@engine"]
    return changes_of("A3", rise, {"coil": moment(48, 240), "repair": moment(48, 264)}, matters=5.0)


def a1_gas() -> tuple[str, str]:
    values = log("A1").channels.values
    power = values["engine_power@engine"]
    per_load = values["fuel_flow@engine"] / np.where(power > 0, power, np.nan) * 3.6e9  # m3(n)/MWh
    return steps_of("A1", per_load, {"gas": moment(48, 205), "less retard": moment(48, 230)})


def d1_catalyst() -> tuple[str, str]:
    """Up to the visit, as it was asked there."""
    from asfound.history.drift import drift

    began, visit = moment(49, 30), moment(49, 61, 9)
    values = log("D1").channels.values
    part, time, drives, calm = seen("D1", moment(47, 1), visit)
    rise = values["catalyst_outlet_temperature@engine"] - values["catalyst_inlet_temperature@engine"]
    step = slice(None, None, 6)
    found = drift(
        time[step], rise[: len(time)][step], {"load": drives["load"][step]}, running=running_of(part)[step],
        counts=calm[step],
    )  # fmt: skip
    start = found.began
    if start is None:
        return found.kind, "missed"
    told = f"{found.kind}, {found.level.value:.1f} K at the visit; began {when(start.time)}"
    told += f" ({when(start.earliest)} to {when(start.latest)})"
    return told, f"found; begin {_inside(start.earliest, began * 1e-6, start.latest)} (truth {iso(began)[:10]}, 8.3 K)"


def d1_sulphur() -> tuple[str, str]:
    values = log("D1").channels.values
    return changes_of(
        "D1", values["fuel_hydrogen_sulfide@fuel"], {"saturated": moment(49, 32), "renewed": moment(49, 75)}
    )


def n2_radiator() -> tuple[str, str]:
    from asfound.history.drift import drift

    begun, visit = moment(47, 90), moment(49, 20)
    time, y, drives, running, calm = hourly("N2", "jacket_water_inlet_temperature@engine", moment(47, 1), visit)
    found = drift(time, y, drives, running=running, counts=calm)
    run = np.mean(running) * (visit - begun) / 3.6e9
    told = f"{found.kind}, {found.slope.value:+.3f} K ({found.slope.low:.3f} to {found.slope.high:.3f}) per 1,000 h"
    true = 16.0 / run * 1000
    return told, f"{_inside(found.slope.low, true, found.slope.high)} (truth {true:+.3f})"


def d2_probe() -> tuple[str, str]:
    from asfound.history.drift import drift

    time, y, drives, running, calm = hourly("D2", "nox_sensor_reading@stack", moment(47, 1), moment(49, 180))
    found = drift(time, y, drives, running=running, counts=calm)
    told = f"{found.kind}, {found.slope.value * 1e6:+.2f} ppm per 1,000 h at {found.level.value * 1e6:.0f} ppm"
    still = abs(found.slope.value) * 20 < 0.05 * found.level.value  # over 20,000 h, beside the 12 % that it ages
    return told, "as it must be: its trim holds what it shows; only the analyser tells" if still else "moved"


def n1_load() -> tuple[str, str]:
    from asfound.history.demo.papers import fast_rows
    from asfound.history.leads import which_leads

    table = fast_rows(48)
    load, speed = (np.array([float(str(row[name])) for row in table]) for name in ("load_kw", "speed_rpm"))
    found = which_leads(np.arange(len(table), dtype=float), load, speed, 20.0, ("load", "speed"))
    return found.words, "right: the load leads" if found.first == "a" else "missed"


LOOKS: tuple[tuple[str, str, Callable[[], tuple[str, str]]], ...] = (
    ("A2", "NOx rises as the oxygen sensor ages, from 2031-05-08", a2_drift),
    ("A2", "when NOx reaches 1.0 g/hp-h had nobody come", a2_limit),
    ("A2", "sensor changed on 2032-07-08: NOx falls", a2_visit),
    ("A3", "L4 on the display: sensor, then coil, then repair (steps of 15 K and more)", a3_cold),
    ("A3", "the same, steps at equal load and ambient (the look takes both)", a3_cold_at_equal_load),
    ("A3", "rise over the catalyst: coil and repair only (5 K and more)", a3_witness),
    ("A1", "other gas from 2032-07-23, derated 2032-08-17 (fuel per power)", a1_gas),
    ("N1", "the load leads, the speed follows (trend by the second)", n1_load),
    ("N2", "radiator fouls: +16 K in 660 days", n2_radiator),
    ("D1", "catalyst loses CO from 2033-01-30: conversion 88 to 61 %, its rise 12.0 to 8.3 K", d1_catalyst),
    ("D1", "gas cleaning saturated 2033-01-30, renewed 2033-03-16", d1_sulphur),
    ("D2", "the NOx probe ages, its trim hides it", d2_probe),
)
