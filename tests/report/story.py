"""Visits to draw and to print: the A2 visit of the demo world with its main readings and looks, an empty, a bad one.

The engine, its numbers and its names are invented (the demo world); they are written into a real record, so that what
the report is given is what every door is given.
"""

from __future__ import annotations

import random
from datetime import datetime, timedelta, timezone
from typing import TYPE_CHECKING, Any

from asfound.records.store import Records
from asfound.records.visit import VisitView, view

if TYPE_CHECKING:
    from pathlib import Path

BEGAN = datetime(2032, 7, 8, 15, 40, tzinfo=timezone(timedelta(hours=-6)))
G1 = {
    "methane": 91.2,
    "ethane": 4.6,
    "propane": 1.55,
    "isobutane": 0.22,
    "butane": 0.31,
    "isopentane": 0.07,
    "pentane": 0.05,
    "hexanes_plus": 0.05,
    "nitrogen": 1.05,
    "carbon_dioxide": 0.9,
}
"""Gas of the demo world's first site, mol %: invented."""
HOSTILE = (
    '#set page(width: 1cm) *bold* _it_ $x^2$ <label> @ref `code` // comment \\u{202e} [a] {b} "q" & <b>html</b>',
    "Donaudampfschifffahrtselektrizitätenhauptbetriebswerkbauunterbeamtengesellschaft" * 3,
    "قياس الأكسجين بعد التوربين שלום",
    "tested \U0001f525\U0001f9ea ok \u2713 \x07\u200b 漢字",
    "https://example.org/" + "a" * 300,
)


class Steady:
    """A clock that goes on by a second each time it is asked."""

    def __init__(self) -> None:
        self.time = BEGAN

    def now(self) -> datetime:
        self.time += timedelta(seconds=1)
        return self.time


def open_home(folder: Path) -> Records:
    """Open a home whose identifiers and times are the same each time."""
    records = Records.open(folder, clock=Steady(), randbits=random.Random(1).getrandbits)
    records.home.change(person="R. Tester", zone="-06:00")
    return records


def begin(records: Records, **engine: Any) -> tuple[str, str]:
    """Begin a site, an engine and a visit; return the identifiers of engine and visit."""
    site = records.append(
        "site",
        {
            "name": "Ashgrebe station",
            "owner": "Skellorby Gas Handling",
            "height": 1460.0,
            "units": "us",
            "zone": "-06:00",
        },
    )
    fields: dict[str, Any] = {
        "tag": "A2",
        "site": site.id,
        "family": "HM9",
        "works_number": "20461",
        "driven": "compressor",
        "layout": {"form": "inline", "cylinders": 9},
        "turbochargers": {"count": 1, "end": "free_end"},
        "catalyst": False,
        "bearings": 10,
        "bearings_measured": True,
        "plate": {"family": "HM9", "works_number": "20388", "generation": "moldrevane_d"},
    }
    made = records.append("engine", {**fields, **engine})
    visit = records.append(
        "visit_opened",
        {
            "purpose": "mixture check",
            "began": "2032-07-08T08:25:00-06:00",
            "people": ["R. Tester"],
            "permit_until": "2032-07-08T16:00:00-06:00",
        },
        engine=made.id,
    )
    return made.id, visit.id


def reading(
    records: Records,
    visit: str,
    quantity: str,
    place: str,
    state: str,
    time: str,
    typed: str,
    value: float,
    u: float,
    **more: Any,
) -> None:
    """Keep one reading."""
    content = {
        "quantity": quantity,
        "place": place,
        "state": state,
        "time": f"2032-07-08T{time}:00-06:00",
        "as_typed": typed,
        "value": value,
        "standard_uncertainty": u,
        **more,
    }
    records.append("reading", content, visit=visit)


def numbers(records: Records, engine: str, visit: str) -> None:
    """Keep the readings and limits of the A2 visit (invented)."""
    records.append(
        "limit",
        {
            "quantity": "nox_mass_per_energy",
            "value": 1.0e-3 / 2.68452e6,
            "as_typed": "1.0 g/hp-h",
            "text": "Permit of A2, section 4",
            "basis": "15 min at steady load",
        },
        engine=engine,
    )
    records.append(
        "limit",
        {
            "quantity": "co_mass_per_energy",
            "value": 2.0e-3 / 2.68452e6,
            "as_typed": "2.0 g/hp-h",
            "text": "Permit of A2, section 4",
        },
        engine=engine,
    )
    records.append(
        "limit",
        {"quantity": "engine_power", "value": 1.47e6, "as_typed": "1,971 hp", "name": "rating", "text": "plate"},
        engine=engine,
    )
    analyser = records.append(
        "instrument",
        {
            "name": "portable analyser",
            "serial": "P-114",
            "calibrated": "2032-05-30",
            "source": "its certificate",
            "specs": {"exhaust_nox_dry": {"percent_of_reading": 5.0}, "exhaust_oxygen_dry": {"absolute": 0.002}},
        },
    ).id
    for name, share in G1.items():
        reading(records, visit, f"fuel_{name}", "fuel", "as_found", "09:00", f"{share} %", share / 100, 0.0002)
    reading(records, visit, "gross_heating_value", "fuel", "as_found", "09:00", "1,085 Btu/scf", 42.4e6, 0.2e6)
    reading(records, visit, "fuel_f_factor", "fuel", "as_found", "09:00", "8,710 scf/MMBtu", 2.338e-7, 0.01e-7)
    pairs = (
        ("exhaust_oxygen_dry", "stack", "8.9 %", 0.089, "9.3 %", 0.093, 0.001),
        ("exhaust_nox_dry", "stack", "151 ppm", 151e-6, "84 ppm", 84e-6, 3e-6),
        ("exhaust_co_dry", "stack", "402 ppm", 402e-6, "395 ppm", 395e-6, 8e-6),
        ("fuel_flow", "stack", "12,571 scf/h", 0.0938, "12,605 scf/h", 0.0941, 0.0012),
        ("engine_power", "engine", "1,735 hp", 1.2938e6, "1,740 hp", 1.2975e6, 2.0e4),
    )
    for name, place, typed, value, typed_left, value_left, u in pairs:
        device = (
            {"instrument": analyser}
            if name in ("exhaust_oxygen_dry", "exhaust_nox_dry")
            else {"instrument_text": "panel"}
        )
        reading(records, visit, name, place, "as_found", "09:52", typed, value, u, **device)
        reading(records, visit, name, place, "as_left", "11:35", typed_left, value_left, u, **device)


def looks(records: Records, visit: str) -> None:
    """Keep the looks that decide A2."""

    def look(slot: str, character: str, states: list[str], how: str = "at_part", **more: Any) -> None:
        records.append(
            "look",
            {
                "slot": slot,
                "character": character,
                "states": states,
                "how": how,
                "time": "2032-07-08T10:30:00-06:00",
                **more,
            },
            visit=visit,
        )

    look("nameplate", "generation", ["moldrevane_d"], "plate", source="plate")
    look("nameplate", "rivets", ["new"], "plate", source="plate")
    look("speed_controller", "kind", ["one_rib"])
    look("speed_controller", "plugs", ["round_screwed"], label="M.2?..6", note="plugs hand-tight")
    look("ignition_unit", "kind", ["two_ribs"])
    look("o2_sensor", "kind", ["one_after_turbine"], "from_3m")
    look("traces", "kind", ["none"])
    records.append(
        "look",
        {"slot": "head_piston", "character": "cast_mark", "answer": "not_judged", "time": "2032-07-08T10:45:00-06:00"},
        visit=visit,
    )


def a2(folder: Path, *, sealed: bool = False) -> VisitView:
    """Return the A2 visit."""
    records = open_home(folder)
    engine, visit = begin(records)
    numbers(records, engine, visit)
    looks(records, visit)
    records.append(
        "visit_state",
        {"event": "changed", "time": "2032-07-08T10:55:00-06:00", "says": "oxygen sensor changed", "minutes": 22.0},
        visit=visit,
    )
    for says, severity, who, due in (
        ("Decide about the nameplate; permit file says works 20388", "clash", "owner", "2032-07-29"),
        ("Harness with round plugs; the one in the store is of the D", "soon", "parts desk", None),
        ("Read the cast mark on two heads", "soon", "service", None),
    ):
        records.append(
            "open_point", {"says": says, "severity": severity, "who": who, "due": due, "minutes": 10.0}, visit=visit
        )
    records.append(
        "note", {"text": "Gas changes on 23 July: listen for knock.", "time": "2032-07-08T11:50:00-06:00"}, visit=visit
    )
    if sealed:
        from asfound.records.seal import seal

        seal(records, visit)
    return view(records, visit)


def empty(folder: Path) -> VisitView:
    """Return a visit with nothing in it, to an engine of which only the tag is known."""
    records = open_home(folder)
    made = records.append("engine", {"tag": "X9"})
    visit = records.append("visit_opened", {"began": "2032-07-08T08:25:00-06:00"}, engine=made.id)
    return view(records, visit.id)


def many(folder: Path) -> VisitView:
    """Return a visit with about 80 results: the exhaust taken at nine places, as found and as left."""
    records = open_home(folder)
    engine, visit = begin(records)
    numbers(records, engine, visit)
    for place in range(8):
        for state in ("as_found", "as_left"):
            for name, typed, value, u in (
                ("exhaust_oxygen_dry", "8.9 %", 0.089, 0.001),
                ("exhaust_nox_dry", "151 ppm", 151e-6, 3e-6),
                ("exhaust_co_dry", "402 ppm", 402e-6, 8e-6),
            ):
                reading(
                    records,
                    visit,
                    name,
                    f"port_{place}",
                    state,
                    "09:52",
                    typed,
                    value * (1 + place / 100),
                    u,
                    instrument_text="analyser",
                )
    return view(records, visit)


def hostile(folder: Path) -> VisitView:
    """Return a visit whose texts try everything: markup, long words, writing from right to left, pictograms."""
    records = open_home(folder)
    engine, visit = begin(records, driven_text=HOSTILE[1][:200])
    numbers(records, engine, visit)
    looks(records, visit)
    for text in HOSTILE:
        records.append("note", {"text": text, "time": "2032-07-08T11:50:00-06:00"}, visit=visit)
        records.append("open_point", {"says": text[:400], "who": text[:60]}, visit=visit)
        records.append(
            "visit_state", {"event": "changed", "time": "2032-07-08T10:55:00-06:00", "says": text}, visit=visit
        )
        records.append(
            "setting",
            {"name": text[:390], "as_typed": text, "state": "as_left", "time": "2032-07-08T10:55:00-06:00"},
            visit=visit,
        )
    return view(records, visit)


def formal_test() -> dict[str, Any]:
    """Return a test of three runs (invented); the span reading after run 2 has drifted away."""
    gases: dict[str, Any] = {
        "nox": {"method": "7e", "span": 200, "upscale_gas": 100, "direct": [[0, 0.1], [100, 100.4], [200, 199.3]]},
        "o2": {"method": "3a", "span": 20.9, "upscale_gas": 10, "direct": [[0, 0.02], [10, 10.03], [20.9, 20.88]]},
    }

    def run(number: int, nox: float, after: float) -> dict[str, Any]:
        return {
            "number": number,
            "start": f"2032-05-02T{7 + 2 * number:02d}:00+00:00",
            "end": f"2032-05-02T{8 + 2 * number:02d}:00+00:00",
            "load_percent": 98.0,
            "readings": {"engine_power": "740 kW", "fuel_heat_input": "2000 kW"},
            "gases": {
                "nox": {"average": nox, "zero": [0.4, 0.7], "upscale": [99.0, after]},
                "o2": {"average": 9.1, "zero": [0.05, 0.08], "upscale": [9.98, 9.95]},
            },
        }

    runs = [run(1, 82.0, 98.2), run(2, 83.0, 60.0), run(3, 84.0, 98.2)]
    return {"rule": "jjjj", "by": "test crew", "gases": gases, "runs": runs}
