"""What the demo sites keep beside the logs: readings of portable analysers, oil samples, work orders, alarm lists."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from asfound.history.demo.calendar import DAY, HOUR, iso, moment
from asfound.history.demo.chance import stream
from asfound.history.demo.log import DemoLog
from asfound.sources.tables import load_yaml

CO_DRY = {"A1": 431e-6, "A2": 400e-6, "A3": 210e-6, "N1": 180e-6, "N2": 370e-6, "D1": 610e-6, "D2": 290e-6}
"""Of D1 before its catalyst. [mol/mol]"""
ANALYSER, LEAST = 0.05, 5e-6
"""Expanded uncertainty of the portable analyser: the larger of both. [1], [mol/mol]"""
AIR = 0.209
WET = {False: 0.885, True: 0.815}
"""Dry share of wet exhaust, lean and not lean."""
STATED = 0.6
"""Share of the readings that say their basis and reference oxygen."""
ACID_NEW = 1.1
"""Of the new oil. [mg KOH/g]"""
TYPED_WRONG = 0.45
"""Share of the work orders with a typing error."""
CODED = 0.5
"""Share of the work orders with a failure code."""


def analyser_rows(log: DemoLog, seed: int) -> list[dict[str, object]]:
    """Return a reading a quarter; basis and reference oxygen are stated in some."""
    random = stream(seed, log.spec.tag, "portable analyser")
    time, running = log.channels.time, log.channels.values["raw:running@engine"]
    rows: list[dict[str, object]] = []
    for quarter in range(10):
        wanted = moment(47, 75) + round((quarter * 91.3 + random.uniform(-8, 8)) * DAY)
        row = int(np.searchsorted(time, wanted))
        ready = np.flatnonzero(running[row : row + 4000] > 0)
        if not len(ready):
            continue
        row += int(ready[0]) + 18
        if row >= len(time) or not np.isfinite(log.actual["exhaust_nox_dry@stack"][row]):
            continue
        rows.append(_analysed(log, random, row, "PA-118" if quarter % 2 else "PA-093"))
    return rows


def _analysed(log: DemoLog, random: np.random.Generator, row: int, instrument: str) -> dict[str, object]:
    """Return one reading: dry or wet, as measured or at the reference oxygen; which of these is told in some only."""
    of = log.spec
    power = log.channels.values.get("engine_power@engine", log.channels.values.get("generator_power@generator"))
    oxygen = float(log.actual["exhaust_oxygen_dry@stack"][row])
    kept = 1 - float(log.actual["catalyst_conversion_co@engine"][row]) * (of.tag == "D1")
    nox = _read(random, float(log.actual["exhaust_nox_dry@stack"][row]), ANALYSER, LEAST)
    co = _read(random, CO_DRY[of.tag] * kept, ANALYSER, LEAST)
    oxygen = _read(random, oxygen, 0.0, 0.002)
    wet, corrected, told = (bool(random.random() < share) for share in (0.25, 0.4, STATED))
    reference = 0.05 if of.nox_unit == "mg/m3" else 0.15
    factor = WET[of.lean < 1.2] if wet else (AIR - reference) / (AIR - oxygen) if corrected else 1.0
    return {
        "engine": of.tag,
        "time_utc": iso(int(log.channels.time[row]))[:16],
        "O2 %": round(100 * oxygen * (factor if wet else 1.0), 1),
        "NOx ppm": round(1e6 * nox * factor),
        "CO ppm": round(1e6 * co * factor),
        "basis": ("wet" if wet else "dry") if told else "",
        "at O2 %": (f"{100 * reference:.0f}" if corrected and not wet else "as measured") if told else "",
        "load kW": round(float(power[row]) / 1e3) if power is not None else "",
        "instrument": instrument,
    }


def _read(random: np.random.Generator, true: float, share: float, least: float) -> float:
    """Return a reading: the instrument's limits taken as two standard deviations."""
    return max(true + max(share * true, least) / 2 * float(random.standard_normal()), 0.0)


def oil_rows(log: DemoLog, seed: int) -> list[dict[str, object]]:
    """Return an oil sample each 300 to 500 h; the oil is changed every third or fourth time, earlier when sour."""
    random = stream(seed, log.spec.tag, "oil")
    time = log.channels.time
    hours = np.cumsum(log.channels.values["raw:running@engine"]) / 6.0
    counter = log.channels.values["engine_hours@engine"] / 3600.0
    on_oil, at, acid = float(random.uniform(50, 300)), 0.0, 0.1
    rows: list[dict[str, object]] = []
    while True:
        step = float(random.uniform(300, 500))
        at += step
        row = int(np.searchsorted(hours, at))
        if row >= len(time):
            return rows
        on_oil += step
        sour = float(log.channels.values.get("fuel_hydrogen_sulfide@fuel", np.zeros(len(time)))[row]) > 5e-4
        slow = {"dunmirrow": 1.3e-3, "norrenthwick": 0.7e-3}.get(log.spec.site_name, 0.8e-3)
        acid += step * (7.0e-3 if sour else slow)
        rows.append(_sample(log, random, int(time[row]), float(counter[row]), on_oil, acid))
        if on_oil > 1300 or acid > 3.0:
            on_oil, acid = 0.0, 0.1


def _sample(
    log: DemoLog, random: np.random.Generator, time: int, counter: float, on_oil: float, acid: float
) -> dict[str, object]:
    def about(value: float, share: float = 0.06) -> float:
        return value * (1 + share * float(random.standard_normal()))

    siloxane = log.spec.site_name == "dunmirrow"
    metals = {"iron": (4, 0.012), "copper": (2, 0.004), "lead": (1, 0.003), "aluminium": (1, 0.002)}
    silicon = 6 + 0.11 * on_oil if siloxane else 3 + 0.004 * on_oil
    return {
        "engine": log.spec.tag,
        "sampled": iso(time)[:10],
        "hours on counter": round(counter),
        "hours on oil": round(on_oil),
        "acid number mg KOH/g": round(ACID_NEW + about(acid), 2),
        "acid number new": ACID_NEW,
        "method": "D664",
        "base number mg KOH/g": round(max(5.2 - 0.9 * acid - 0.0006 * on_oil, 0.6), 1),
        "viscosity 100 C mm2/s": round(about(13.4 + 0.0012 * on_oil, 0.01), 2),
        "oxidation A/cm": round(about(2 + 0.011 * on_oil), 1),
        "nitration A/cm": round(about(1 + 0.010 * on_oil), 1),
        "water %": "<0.05",
        **{f"{name} mg/kg": round(about(new + by * on_oil)) for name, (new, by) in metals.items()},
        "tin mg/kg": "<1",
        "chromium mg/kg": "<1",
        "silicon mg/kg": round(about(silicon)),
        "sodium mg/kg": round(about(3)),
        "potassium mg/kg": "<2",
    }


def work_orders(log: DemoLog, seed: int) -> list[dict[str, object]]:
    """Return the work orders: three languages, typing errors, half of the failure codes missing."""
    texts: dict[str, Any] = load_yaml("asfound.history", "data/demo_work_orders.yaml")
    random = stream(seed, log.spec.tag, "work orders")
    of_site, modes = texts[log.spec.site_name], texts["modes"]
    found: list[tuple[int, float, str, str]] = []
    for stay in log.states:
        choice = of_site.get(stay.why, of_site.get(stay.state))
        if stay.state in ("service", "startfail") or not choice or stay.why.startswith("visit"):
            continue
        found.append((stay.start, (stay.end - stay.start) / HOUR, str(random.choice(choice)), modes.get(stay.why, "")))
    found += [
        (moment(one["works_year"], one["day"], 12), one["hours"], one["text"], one["code"])
        for one in texts["story"]
        if one["engine"] == log.spec.tag
    ]
    rows: list[dict[str, object]] = []
    for number, (at, hours, text, code) in enumerate(sorted(found), 1):
        rows.append(
            {
                "order": f"{log.spec.tag}-{number:04d}", "engine": log.spec.tag,
                "opened": iso(at + round(float(random.uniform(0.2, 8)) * HOUR))[:16], "down h": f"{hours:.1f}",
                "text": _mistyped(random, text) if random.random() < TYPED_WRONG else text,
                "failure code": code if random.random() < CODED else "", "language": of_site["language"],
            }
        )  # fmt: skip
    return rows


def _mistyped(random: np.random.Generator, text: str) -> str:
    """Return the text with two letters exchanged, or one left out or doubled, inside a word."""
    inside = [at for at in range(1, len(text) - 2) if text[at - 1 : at + 2].isalpha()]
    if not inside:
        return text
    at = int(random.choice(inside))
    how = int(random.integers(3))
    if how == 0:
        return text[:at] + text[at + 1] + text[at] + text[at + 2 :]
    return text[:at] + text[at + 1 :] if how == 1 else text[:at] + text[at] + text[at:]


def alarm_rows(log: DemoLog) -> list[dict[str, object]]:
    """Return the alarm list as its controller writes it."""
    return [
        {"time_utc": iso(one.time), "source": one.source, "tag": one.tag, "state": one.state, "class": one.kind}
        for one in log.alarms
    ]


def fast_rows(seed: int) -> list[dict[str, object]]:
    """Return the trend of N1 that a visit recorded, by the second: the load leads, the speed follows after 2 to 3 s."""
    from scipy.signal import lfilter

    random = stream(seed, "N1", "fast")
    n = 2400
    bites = np.repeat(random.normal(0, 1, n // 12 + 1), 12)[:n]
    load = 610 + 35 * np.asarray(lfilter([0.35], [1, -0.65], bites)) + 2 * random.standard_normal(n)
    late = np.concatenate([np.full(2, load[0]), load[:-2]])
    answer = np.asarray(lfilter([0.4], [1, -0.6], np.diff(late, prepend=late[0])))
    speed = 1200 - 0.45 * answer + 0.6 * random.standard_normal(n)
    begins = moment(48, 310, 17)
    return [
        {
            "time_utc": iso(begins + row * 1_000_000)[:19],
            "load_kw": f"{load[row]:.1f}",
            "speed_rpm": f"{speed[row]:.1f}",
        }
        for row in range(n)
    ]


PAPERS: dict[str, Callable[[DemoLog, int], list[dict[str, object]]]] = {
    "portable_analyser.csv": analyser_rows,
    "oil_samples.csv": oil_rows,
    "work_orders.csv": work_orders,
}
"""File -> rows of an engine."""


def write_rows(path: Path, rows: Sequence[dict[str, object]] | Iterable[dict[str, object]]) -> int:
    """Write rows as CSV; return how many."""
    listed = list(rows)
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(listed[0]) if listed else [], lineterminator="\n")
        writer.writeheader()
        writer.writerows(listed)
    return len(listed)
