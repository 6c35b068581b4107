"""Data of the pictures of what-if, in the reader's units: the cycle over the crank angle, NOx against efficiency."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from asfound.quantities.display import number_text, show
from asfound.quantities.register import quantity
from asfound.quantities.units import unit as unit_of
from asfound.report.content_lanes import STATE_WORDS
from asfound.report.whatif_anchor import anchored
from asfound.report.whatif_cycle import Band, Panel
from asfound.report.whatif_field import Contour, Place
from asfound.report.whatif_map import NetLine, Spot
from asfound.report.whatif_permit import basis_of, counted, limits_of, of_map, of_numbers, on_map
from asfound.report.wording import in_units, sentence
from asfound.whatif.ask import draws_of
from asfound.whatif.geometry import Geometry
from asfound.whatif.optimum import optimum
from asfound.whatif.uses import Limits, map_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from asfound.quantities.typing import Array
    from asfound.quantities.words import State
    from asfound.records.visit import VisitView
    from asfound.report.whatif_fit import FittedEngine
    from asfound.report.whatif_how import Most
    from asfound.report.wording import System
    from asfound.whatif.ask import Answer
    from asfound.whatif.cycle import Trace
    from asfound.whatif.engine import Build, Outcome
    from asfound.whatif.optimum import Optimum
    from asfound.whatif.uses import Map

ANGLES = np.linspace(-60.0, 100.0, 81)
"""[deg]"""
DRAWN = 60
"""Draws that a band is drawn from: its ends move by less than the line is wide."""
CLOUD = 60
TIMINGS = tuple(np.radians((-6.0, -4.0, -2.0, 0.0, 2.0, 4.0, 6.0)))
MIXTURES = (-0.12, -0.08, -0.04, 0.0, 0.04, 0.08, 0.12)
NEAR_TDC = 0.02
"""Share burned below which the temperature of the burned gas is noise. [1]"""


def cycle_picture(
    fit: FittedEngine, answer: Answer | None, state_words: str, system: System, *, draws: int = DRAWN
) -> dict[str, Any]:
    """Return what `svg.whatif_cycle` draws, without its width."""
    build = fit.engine.build
    now = fit.once(("bands", "now", system, draws), lambda: _bands(build, fit.engine.outcome, system, draws))
    then = _bands(build, answer.outcome, system, draws) if answer is not None else (None, None, None)
    beside = other_state(fit)
    other: tuple[Band | None, Band | None, Band | None] = (None, None, None)
    if beside is not None:
        there = beside[1]
        other = fit.once(("bands", "other", system, draws), lambda: _bands(build, there, system, draws))
    units = (_pressure_unit(system), "°F" if system == "us" else "°C")
    heads = (
        f"pressure in the cylinder, {unit_of(units[0]).text} absolute",
        f"temperature of the burned gas, {units[1]}",
        "NO formed, parts in a million of the exhaust gas, dry",
    )
    panels = [
        Panel(unit_words=head, now=a, then=b, other=c) for head, a, b, c in zip(heads, now, then, other, strict=True)
    ]
    sparks = (
        float(np.degrees(np.median(np.asarray(fit.engine.settings[0].timing)))),
        float(np.degrees(np.median(np.asarray(answer.setting.timing)))) if answer is not None else None,
    )
    if answer is not None and sparks[1] is not None and abs(sparks[1] - sparks[0]) < 1e-6:
        sparks = (sparks[0], None)
    return {
        "angle": tuple(float(one) for one in ANGLES), "panels": panels, "sparks": sparks, "now_words": state_words,
        "other_words": beside[0] if beside is not None else "",
        "label": _cycle_label(fit, answer, state_words, system),
    }  # fmt: skip


def other_state(fit: FittedEngine) -> tuple[str, Outcome] | None:
    """Return the other state of the visit, in words, and what the model has there; None where it was not fitted to."""
    for visit, outcome in zip(fit.engine.visits[1:], fit.engine.outcomes[1:], strict=False):
        if visit.name in STATE_WORDS:
            return STATE_WORDS[visit.name], outcome
    return None


def _pressure_unit(system: System) -> str:
    return "psi" if system == "us" else "bar"


def _bands(build: Build, outcome: Outcome, system: System, draws: int) -> tuple[Band, Band, Band]:
    """Return pressure, temperature and nitric oxide over the crank angle, in the reader's units."""
    trace = outcome.cycle.trace
    count = trace.pressure.shape[1]
    at = np.linspace(0, count - 1, min(draws, count)).astype(int)
    radians = np.radians(ANGLES)
    scale = 1.0 / unit_of(_pressure_unit(system)).factor
    dry = outcome.nitric_oxide[-1] / np.where(outcome.nox_dry > 0.0, outcome.nox_dry, np.nan)
    heat, oxide = (np.empty((len(ANGLES), len(at))) for _ in range(2))
    pressure = pressures_at(build, trace, at, radians)
    for column, case in enumerate(at):
        angle = trace.angle[:, case]
        burned = np.interp(radians, angle, trace.burned[:, case])
        heat[:, column] = np.where(
            burned > NEAR_TDC, np.interp(radians, angle, trace.burned_temperature[:, case]), np.nan
        )
        oxide[:, column] = np.interp(radians, angle, outcome.nitric_oxide[:, case]) / dry[case]
    about = quantity("exhaust_median")
    symbol = about.display(system)
    zero, one = about.to_unit(0.0, symbol), about.to_unit(1.0, symbol)
    return (
        _band(pressure * scale),
        _band(heat * (one - zero) + zero),
        _band(np.nan_to_num(oxide) * 1e6),
    )


EXPONENT = 1.33
"""Of compression and expansion, about. [1]"""


def pressures_at(build: Build, trace: Trace, cases: NDArray[np.intp], angles: Array) -> Array:
    """Return the pressures of cases at crank angles between the steps. [Pa], shape (angles, cases)

    What is carried straight from step to step is p V^k, which compression and expansion hardly move.
    """
    one = np.ones(1)
    geometry = Geometry(build.bore * one, build.stroke * one, build.rod * one, build.compression_ratio * one)
    swept = np.pi / 4 * build.bore**2
    clearance = trace.volume[0, cases] - swept * geometry.travel(trace.angle[0, cases])
    stiff = trace.pressure[:, cases] * trace.volume[:, cases] ** EXPONENT
    carried = [np.interp(angles, trace.angle[:, case], stiff[:, at]) for at, case in enumerate(cases)]
    volume = clearance + swept * geometry.travel(angles)[:, None]
    found: Array = np.stack(carried, axis=1) / volume**EXPONENT
    return found


def _band(values: Array) -> Band:
    known = np.isfinite(values).mean(axis=1) >= 0.5  # nothing is told where most draws do not burn yet
    low, middle, high = np.full((3, len(values)), np.nan)
    whole = np.isfinite(values).all(axis=1)
    low[whole], middle[whole], high[whole] = np.quantile(values[whole], [0.025, 0.5, 0.975], axis=1)
    part = known & ~whole
    if part.any():
        low[part], middle[part], high[part] = np.nanquantile(values[part], [0.025, 0.5, 0.975], axis=1)
    return Band(low=tuple(low.tolist()), middle=tuple(middle.tolist()), high=tuple(high.tolist()))


def _cycle_label(fit: FittedEngine, answer: Answer | None, state_words: str, system: System) -> str:
    peaks = [_peak(one, system) for one in (fit.engine.outcome, answer.outcome if answer else None) if one is not None]
    said = f"Cycle over the crank angle. {sentence(state_words)} the pressure peaks at {peaks[0]}"
    return f"{said}; as proposed at {peaks[1]}." if len(peaks) > 1 else f"{said}."


def _peak(outcome: Outcome, system: System) -> str:
    shown = show(float(np.median(outcome.peak_pressure)), "peak_firing_pressure", system=system)
    angle = float(np.degrees(np.median(outcome.peak_angle)))
    return f"{shown.value} {shown.unit.partition(' (')[0]}, {angle:.0f} degrees after top dead centre"


def map_of_engine(view: VisitView, state: State, fit: FittedEngine) -> Map:
    """Return the map of timing and mixture at the power that was read, made once."""
    limits = on_map(view, state, fit.engine).limits
    level = Limits(reference_oxygen=limits.reference_oxygen, oxygen_in_air=limits.oxygen_in_air)

    def make() -> Map:
        return map_of(fit.engine, level, timings=TIMINGS, mixtures=MIXTURES, charger=fit.charger)

    return fit.once(("map", repr(level)), make, most=2)


def best_of(view: VisitView, state: State, fit: FittedEngine, most: Most) -> Optimum | None:
    """Return the most efficient setting of the map that keeps the permit and what else was asked, made once."""
    limits = limits_of(view, state, fit.engine, most)
    found = map_of_engine(view, state, fit)
    return fit.once(("best", repr(limits)), lambda: optimum(found, limits), most=2)


def map_picture(
    view: VisitView, state: State, fit: FittedEngine, answer: Answer | None, state_words: str, system: System,
    most: Most,
) -> dict[str, Any]:  # fmt: skip
    """Return what `svg.whatif_map` draws, without its width."""
    found, on = map_of_engine(view, state, fit), on_map(view, state, fit.engine)
    nox = on.nox * np.median(of_map(found, on.name), axis=2)
    across = 100.0 * on.efficiency * np.median(found.efficiency, axis=2)

    def up(value: float) -> float:
        return in_units(value, on.name, system)

    grid = [[(float(across[i, j]), up(float(nox[i, j]))) for j in range(nox.shape[1])] for i in range(nox.shape[0])]
    net = _net(grid, found)
    outcomes = [(fit.engine.outcome, state_words, "now")]
    if answer is not None:
        outcomes.append((answer.outcome, "proposed", "then"))
    basis = basis_of(view)
    spots = []
    for outcome, words, kind in outcomes:
        heights = anchored(view, state, on.name, *counted(fit.engine, outcome, on.name, basis))[1]
        shares = anchored(view, state, "brake_efficiency", *draws_of(fit.engine, outcome, "efficiency"))[1]
        spots.append(_spot(100.0 * shares, heights, words, kind, up))
    best = best_of(view, state, fit, most)
    if best is not None and best.surely_better and (on.wall is not None or most.words):
        x = 100.0 * on.efficiency * float(np.median(best.numbers["efficiency"]))
        y = up(on.nox * float(np.median(of_numbers(best.numbers, on.name))))
        spots.append(Spot(x=x, y=y, cloud=(), name=BEST, kind="best"))
    symbol = quantity(on.name).display(system)
    wall = (up(on.wall.value), f"{on.wall.name} {on.wall.as_typed}") if on.wall is not None else None
    words = quantity(on.name).title.partition(",")[0]
    return {
        "net": net, "spots": spots, "unit_words": f"{words}, {unit_of(symbol).text}", "wall": wall,
        "label": _map_label(found, spots, wall, state_words),
    }  # fmt: skip


def _net(grid: list[list[tuple[float, float]]], found: Map) -> list[NetLine]:
    """Return two sweeps through the setting that was read: mixture at its timing, timing at its mixture."""
    i, j = len(grid) // 2, len(grid[0]) // 2
    timings, mixtures = -np.degrees(found.timing), np.asarray(found.excess_air_ratio)
    return [
        NetLine(points=tuple(grid[i]), kind="mixture", here=True,
                names=(f"lambda {mixtures[0]:.2f}", f"lambda {mixtures[-1]:.2f}")),
        NetLine(points=tuple(row[j] for row in grid), kind="timing",
                names=(f"{timings[0]:.1f} deg", f"{timings[-1]:.1f} deg")),
    ]  # fmt: skip


BEST = "most efficient within the limits"
LEVELS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0)


CLOSE = 0.05
"""Nearer to the permit a line of equal NOx is not drawn beside it. [1]"""


def field_picture(
    view: VisitView, state: State, fit: FittedEngine, answer: Answer | None, state_words: str, system: System,
    most: Most,
) -> dict[str, Any]:  # fmt: skip
    """Return what `svg.whatif_field` draws, without its width."""
    found, on = map_of_engine(view, state, fit), on_map(view, state, fit.engine)
    all_nox = on.nox * of_map(found, on.name)
    timings = -np.degrees(found.timing)
    setting = fit.modelled.visit.setting
    # the map is of the fitted mixture; on the axis stands the mixture that was read
    mixtures = np.asarray(found.excess_air_ratio) + float(np.asarray(setting.excess_air_ratio)) - float(
        np.median(np.asarray(fit.engine.settings[0].excess_air_ratio))
    )  # fmt: skip
    middle, sure = (np.vectorize(lambda one: in_units(one, on.name, system))(np.quantile(all_nox, q, axis=2))
                    for q in (0.5, 0.95))  # fmt: skip
    limit = in_units(on.wall.value, on.name, system) if on.wall is not None else np.inf
    contours = [
        Contour(points=_level(middle, mixtures, timings, level), name=number_text(level, 2))
        for level in LEVELS
        if middle.min() < level < middle.max() and abs(level / limit - 1.0) > CLOSE
    ]
    unit = unit_of(quantity(on.name).display(system)).text
    if on.wall is not None:
        contours.append(Contour(points=_level(middle, mixtures, timings, limit),
                                name=f"{on.wall.name} {on.wall.as_typed}", kind="wall"))  # fmt: skip
        contours.append(Contour(points=_level(sure, mixtures, timings, limit), name="kept in 95 of 100 draws",
                                kind="sure"))  # fmt: skip
    share = np.median(found.efficiency, axis=2)
    gain = 100.0 * (share / share[len(timings) // 2, len(mixtures) // 2] - 1.0)
    numbers = [
        (float(mixtures[j]), float(timings[i]), f"{gain[i, j]:+.1f} %".replace("-", "\N{MINUS SIGN}"))
        for i in range(0, len(timings), 2)
        for j in range(1, len(mixtures), 2)
    ]
    places = _places(fit, answer, state_words)
    best = best_of(view, state, fit, most)
    if best is not None and best.surely_better and (on.wall is not None or most.words):
        shifted = best.excess_air_ratio + float(mixtures[0] - np.asarray(found.excess_air_ratio)[0])
        places.insert(0, Place(x=shifted, y=-float(np.degrees(best.timing)), kind="best", name=BEST))
    head = quantity(on.name).title.partition(",")[0]
    window = (float(mixtures[0]), float(mixtures[-1]), float(timings.min()), float(timings.max()))
    return {
        "contours": contours, "numbers": numbers, "places": places, "window": window,
        "label": f"Timing against mixture with lines of equal {head} in {unit}; richer and earlier is more.",
    }  # fmt: skip


def _level(values: Array, mixtures: Array, timings: Array, level: float) -> tuple[tuple[float, float], ...]:
    """Return for each timing the mixture at which NOx is a level; it falls with lambda, evenly in its logarithm."""
    rows = []
    for row, timing in zip(np.log(values), timings, strict=True):
        slope = np.diff(row)
        at = int(np.clip(np.searchsorted(-row, -np.log(level)) - 1, 0, len(slope) - 1))
        x = mixtures[at] + (np.log(level) - row[at]) / min(slope[at], -1e-9) * (mixtures[at + 1] - mixtures[at])
        rows.append((float(x), float(timing)))
    rows.sort(key=lambda pair: pair[1])
    fine = np.linspace(rows[0][1], rows[-1][1], 49)
    xs = np.interp(fine, [one[1] for one in rows], [one[0] for one in rows])
    return tuple(zip(xs.tolist(), fine.tolist(), strict=True))


def _places(fit: FittedEngine, answer: Answer | None, state_words: str) -> list[Place]:
    """Return where the engine stands and what is proposed, with the doubt of the mixture."""
    setting, first = fit.modelled.visit.setting, fit.engine.settings[0]
    x = float(np.asarray(setting.excess_air_ratio))
    half = 1.96 * float(fit.modelled.visit.u.get("excess_air_ratio", 0.0))
    timing = -float(np.degrees(np.median(np.asarray(first.timing))))
    places = [Place(x=x, y=timing, low=x - half, high=x + half, name=state_words)]
    if answer is not None:
        x += float(answer.changes.get("excess_air_ratio", 0.0))
        later = -float(np.degrees(answer.changes.get("timing", 0.0)))
        places.append(Place(x=x, y=timing + later, low=x - half, high=x + half, name="proposed", kind="then"))
    return places


def _spot(shares: Array, nox: Array, words: str, kind: str, up: Callable[[float], float]) -> Spot:
    at = np.linspace(0, len(shares) - 1, min(CLOUD, len(shares))).astype(int)
    cloud = tuple((float(shares[i]), up(float(nox[i]))) for i in at)
    return Spot(x=float(np.median(shares)), y=up(float(np.median(nox))), cloud=cloud, name=words, kind=kind)


def _map_label(found: Map, spots: list[Spot], wall: tuple[float, str] | None, state_words: str) -> str:
    timings, mixtures = -np.degrees(found.timing), np.asarray(found.excess_air_ratio)
    said = (
        f"NOx against efficiency for timings from {timings[0]:.1f} to {timings[-1]:.1f} degrees before top dead centre "
        f"and lambda from {mixtures[0]:.2f} to {mixtures[-1]:.2f}. {sentence(state_words)} at {spots[0].x:.1f} per cent"
    )
    if len(spots) > 1 and spots[1].kind == "then":
        said += f", as proposed at {spots[1].x:.1f} per cent"
    return f"{said}. The wall is the {wall[1]}." if wall else f"{said}."
