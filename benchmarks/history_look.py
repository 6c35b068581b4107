"""What a look at each demo engine's log says beside what was planted, through the dirty files and the record.

    python -m benchmarks.history_look [HOME] [--write]

HOME is made by `asfound demo HOME --logs --until 2033-06-29`; without it one is made first.

`--write` puts the table into docs/history_demo.md.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from asfound.history.look_parts import EngineLook, Indicator
from asfound.history.look_words import amount, between, day_of, reach_words
from asfound.records.demo import make_demo_home
from asfound.records.demo_logs import bring_logs
from asfound.records.logs_of_engine import imports, look_at_engine
from asfound.records.store import Records

PAGE = Path(__file__).parent.parent / "docs" / "history_demo.md"
BEGIN, END = "<!-- look begins -->", "<!-- look ends -->"
DAY = 86_400_000_000
END_OF_LOGS, BEFORE_VISIT = "2033-06-29", "2032-07-07"
Row = tuple[str, str, str]


def of(look: EngineLook, key: str) -> Indicator:
    found = look.indicator(key)
    assert found is not None, key
    return found


def steps(look: EngineLook, key: str, least: float = 2.0) -> str:
    one = of(look, key)
    told = [
        f"{day_of(s.time)} {amount(one, s.size.value)}" for s in one.steps if abs(s.size.value) >= least * one.matters
    ]
    return ", ".join(told) or "none"


def faults(look: EngineLook, kind: str) -> str:
    found = [one for one in look.faults if one.kind == kind]
    channels = len({one.channel for one in found})
    if not found:
        return "none"
    spans = sorted({(day_of(one.start), day_of(one.end)) for one in found})
    shown = ", ".join(f"{a} to {b}" for a, b in spans[:3])
    return f"{len(found)} on {channels} channels: {shown}{' ...' if len(spans) > 3 else ''}"


def effect(look: EngineLook, visit: str, key: str) -> str:
    for seen in look.visits:
        for one in seen.effects:
            if seen.name.startswith(visit) and one.key == key:
                return f"{one.verdict}: {one.says}"
    return "nothing told"


def rows(looks: dict[str, EngineLook], before: EngineLook, clocks: str) -> Iterator[Row]:
    nox = of(before, "nox")
    a3, n1, n2, d1 = (looks[tag] for tag in ("A3", "N1", "N2", "D1"))
    yield "A2", "NOx reaches the permit (truth 2032-08-17)", reach_words(nox.reach) if nox.reach else "no date"
    yield (
        "A2",
        "NOx rises from 2031-05-08, 0.55 to 0.95 g/hp-h (+73 %)",
        (f"{between(nox, nox.moved)} since {day_of(nox.began.time) if nox.began else day_of(nox.moved_from)}"),
    )
    yield "A2", "sensor changed at the visit of 2032-07-08", effect(looks["A2"], "A2/2032-07-08", "nox")
    yield "A2", "°C under °F from 2031-11-26 to 2032-01-12 (21 channels)", faults(looks["A2"], "unit_change")
    yield (
        "A3",
        "L4: sensor 2032-03-01, coil 2032-08-27, repair 2032-09-19",
        steps(a3, "exhaust_temperature@cylinder_L4"),
    )
    yield "A3", "catalyst moves with the coil and the repair only", steps(a3, "catalyst_rise")
    yield (
        "A3",
        "wrong thermocouple changed on 2032-03-15",
        (effect(a3, "A3/2032-03-15", "exhaust_temperature@cylinder_L4")),
    )
    yield "A3", "logger 1 h 12 min fast", clocks
    yield "N1", "load leads speed (by the second, 2032-11-05)", n1.hunting[-1].says if n1.hunting else "not logged"
    yield "N1", "absolute under 'bar g' until 2031-09-07", faults(n1, "gauge_absolute")
    yield "N1", "second oxygen sensor drifts from its twin", faults(n1, "twins_apart")
    yield "N1", "hours counter exchanged", ", ".join(day_of(one.time) for one in n1.events.counters) or "none"
    for cylinder in ("3", "7"):
        yield (
            "N2",
            f"cylinder {cylinder}: type K on N, 2031-07-19 to 2033-01-20 (88.5 K at 500 °C)",
            (steps(n2, f"exhaust_temperature@cylinder_{cylinder}")),
        )
    yield "N2", "radiator fouls to +16 K, washed 2033-01-20", steps(n2, "jacket_water_in")
    yield "N2", "transmitter ends at 100 °C", faults(n2, "at_limit")
    yield "D1", "gas cleaning 2033-01-30 to 2033-03-16, +700 ppm", steps(d1, "hydrogen_sulfide")
    yield (
        "D1",
        "catalyst poisoned to 2033-03-01 (rise 12 to 8 K), washed",
        of(d1, "catalyst_rise").says + " " + (steps(d1, "catalyst_rise", 1.0)),
    )
    yield "D1", "knock margin shrinks: retard +4 degrees over 30 months", of(d1, "ignition_retard").says
    yield "D2", "NOx probe ages, its trim hides it", of(looks["D2"], "nox").says
    yield "D2", "temperature inputs in steps of 4 K", faults(looks["D2"], "coarse")
    yield (
        "all",
        "21 gaps of 3 to 20 days",
        (f"{sum(f.kind == 'gap' and f.end - f.start > DAY for one in looks.values() for f in one.faults)} found"),
    )
    yield (
        "all",
        "indicators that stand still at the end, of all",
        (
            f"{sum(i.judged == 'still' for one in looks.values() for i in one.indicators)} of "
            f"{sum(len(one.indicators) for one in looks.values())}; moving: "
            + ", ".join(f"{tag} {i.key}" for tag, one in looks.items() for i in one.indicators if i.judged != "still")
        ),
    )


def table(home: Path) -> list[str]:
    with Records.open(home) as records:
        looks, took = {}, 0.0
        for engine in records.engines():
            began = time.process_time()
            looks[engine.tag] = look_at_engine(records, engine, END_OF_LOGS)
            took += time.process_time() - began
        before = look_at_engine(records, records.engine("A2"), BEFORE_VISIT)
        a3 = imports(records, records.engine("A3"))
        clocks = "; ".join(dict.fromkeys(text for one in a3 for text in one.content["clock"]))
    lines = ["| engine | planted | what the look says |", "|---|---|---|"]
    lines += [f"| {' | '.join(cell.replace('|', '/') for cell in row)} |" for row in rows(looks, before, clocks)]
    return [*lines, "", f"Processor time of the seven looks in this run: {took:.0f} s (0 where they were kept)."]


def main(words: list[str], tell: Callable[[str], None] = print) -> int:
    named = [word for word in words if not word.startswith("--")]
    with tempfile.TemporaryDirectory() as passing:
        home = Path(named[0]) if named else Path(passing) / "home"
        if not named:
            began = time.perf_counter()
            bring_logs(make_demo_home(home), until=END_OF_LOGS)
            tell(f"made, taken in and looked at in {time.perf_counter() - began:.0f} s")
        text = "\n".join(table(home))
    tell(text)
    if "--write" in words:
        page = PAGE.read_text(encoding="utf-8")
        head, _, rest = page.partition(BEGIN)
        PAGE.write_text(f"{head}{BEGIN}\n{text}\n{END}{rest.partition(END)[2]}", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
