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
from datetime import datetime
from pathlib import Path

from asfound.history.demo import generate
from asfound.history.load_words import load_text
from asfound.history.look_parts import EngineLook, Indicator
from asfound.history.look_words import (
    amount,
    between,
    came_with,
    day_of,
    day_said,
    reach_words,
    since,
    span_said,
    when,
)
from asfound.records.demo import make_demo_home
from asfound.records.demo_logs import bring_logs
from asfound.records.logs_of_engine import imports, look_at_engine
from asfound.records.store import Records

PAGE = Path(__file__).parent.parent / "docs" / "history_demo.md"
BEGIN, END = "<!-- look begins -->", "<!-- look ends -->"
DAY = 86_400_000_000
END_OF_LOGS, BEFORE_VISIT, STORY = "2033-06-29", "2032-07-07", "2032-07-08"
Row = tuple[str, str, str, str]
NEAR = 7 * DAY
"""A step within a week of something planted, or of a visit, belongs to it."""
CAUSES = ("gas_change", "derate", "drift", "unit_change", "gauge_absolute", "misfire", "repair", "trip", "governor",
          "wrong_alloy", "fouling", "at_limit", "saturation", "renamed", "knock")  # fmt: skip


def of(look: EngineLook, key: str) -> Indicator:
    found = look.indicator(key)
    assert found is not None, key
    return found


def us(day: str) -> int:
    return int(datetime.fromisoformat(f"{day}T12:00:00+00:00").timestamp()) * 1_000_000


def held(earliest: int, latest: int, truth: str) -> str:
    """Say whether an interval, counted in whole days, holds the truth."""
    at = us(truth)
    if earliest - DAY <= at <= latest + DAY:
        return f"held ({truth})"
    away = (earliest - at if at < earliest else at - latest) // DAY
    return f"missed by {away} day{'s' if away != 1 else ''} (truth {truth})"


def step_at(look: EngineLook, key: str, truth: str) -> tuple[str, str]:
    """Return the step nearest to a day, and whether its interval holds it."""
    one = of(look, key)
    steps = [step for step in one.steps if abs(step.size.value) >= one.matters]
    near = min(steps, key=lambda step: abs(step.time - us(truth)), default=None)
    if near is None or abs(near.time - us(truth)) > 45 * DAY:
        return "nothing", f"missed (truth {truth})"
    reason = f", with {came_with(near)}" if came_with(near) else ""
    return f"{when(near)}: {between(one, near.size)}{reason}", held(near.earliest, near.latest, truth)


def held_down(look: EngineLook, truth: str) -> tuple[str, str]:
    """Return the load that it is held at, and whether the interval of its beginning holds the truth."""
    if not look.loads:
        return "nothing", f"missed (truth {truth})"
    one = look.loads[-1]
    reason = f", with the visit {one.visit}" if one.visit else ""
    level = load_text(one.level, one.channel, "si")
    says = f"since {day_said(one.time)} ({span_said(one.earliest, one.latest)}) no more than {level}"
    return f"{says}, {one.level / one.rated:.0%} of its rating{reason}", held(one.earliest, one.latest, truth)


def faults(look: EngineLook, kind: str) -> str:
    found = [one for one in look.faults if one.kind == kind]
    channels = len({one.channel for one in found})
    if not found:
        return "none"
    spans = sorted({(day_of(one.start), day_of(one.end)) for one in found})
    shown = ", ".join(f"{a} to {b}" for a, b in spans[:3])
    return f"{len(found)} on {channels} channels: {shown}{' ...' if len(spans) > 3 else ''}"


def spans_held(look: EngineLook, kind: str, channels: int, start: str, end: str) -> str:
    found = [one for one in look.faults if one.kind == kind]
    good = {one.channel for one in found if abs(one.start - us(start)) <= 2 * DAY and abs(one.end - us(end)) <= 2 * DAY}
    wrong = len(found) - len(good)
    return f"{len(good)} of {channels} spans right" + (f"; {wrong} others" if wrong > 0 else "")


def effect(look: EngineLook, visit: str, key: str) -> tuple[str, str]:
    for seen in look.visits:
        for one in seen.effects:
            if seen.name.startswith(visit) and one.key == key:
                return one.says, one.verdict
    return "nothing told", "nothing told"


def began(look: EngineLook, key: str, truth: str) -> tuple[str, str]:
    one = of(look, key)
    if one.began is None:
        return one.says, f"no beginning told (truth {truth})"
    return f"{between(one, one.moved)}{since(one)}", held(one.began.earliest, one.began.latest, truth)


def rows(looks: dict[str, EngineLook], before: EngineLook, story: dict[str, EngineLook], clocks: str) -> Iterator[Row]:
    nox = of(before, "nox")
    a1, a2, a3, n1, n2, d1, d2 = (looks[tag] for tag in ("A1", "A2", "A3", "N1", "N2", "D1", "D2"))
    yield "A2", "NOx rises from 2031-05-08, by 73 %", *began(before, "nox", "2031-05-08")
    reach = nox.reach
    yield (
        "A2", "NOx reaches the permit on 2032-08-17 had nobody come", reach_words(reach) if reach else "no date",
        held(reach.earliest, reach.latest, "2032-08-17") if reach else "missed",
    )  # fmt: skip
    says, verdict = effect(a2, "A2/2032-07-08", "nox")
    yield (
        "A2",
        "sensor changed at the visit: it worked, -42 %",
        says,
        "right" if verdict == "worked" else f"wrong: {verdict}",
    )
    yield (
        "A2", "°C under °F, 21 channels", faults(a2, "unit_change"),
        spans_held(a2, "unit_change", 21, "2031-11-26", "2032-01-12"),
    )  # fmt: skip
    yield "A1", "other gas from 2032-07-23 (fuel per power)", *step_at(a1, "fuel_per_power", "2032-07-23")
    yield "A1", "derated to 74 % of rated power on 2032-08-17 (load carried)", *held_down(a1, "2032-08-17")
    for words, key, truth in (
        ("thermocouple at 'L4' cold from 2032-02-29", "exhaust_temperature@cylinder_L4", "2032-02-29"),
        ("coil of it from 2032-08-27", "exhaust_temperature@cylinder_L4", "2032-08-27"),
        ("both mended on 2032-09-19", "exhaust_temperature@cylinder_L4", "2032-09-19"),
        ("coil: rise over the catalyst", "catalyst_rise", "2032-08-27"),
    ):
        yield "A3", words, *step_at(a3, key, truth)
    alone = not [s for s in of(a3, "catalyst_rise").steps if abs(s.time - us("2032-02-29")) <= 10 * DAY]
    yield (
        "A3", "first event is the sensor: catalyst and oxygen stay",
        "nothing else moved" if alone else "the catalyst moved too", "right" if alone else "wrong",
    )  # fmt: skip
    says, verdict = effect(story["A3"], "A3/2032-03-15", "exhaust_temperature@cylinder_L4")
    yield (
        "A3", "wrong thermocouple changed on 2032-03-15: it did not help", says,
        "right" if verdict == "not enough" else f"wrong: {verdict}",
    )  # fmt: skip
    yield "A3", "logger 1 h 12 min fast", clocks, "right within its doubt" if "1 h 1" in clocks else "missed"
    for words, truth in (("gains moved on 2031-10-27", "2031-10-27"), ("again on 2032-04-29", "2032-04-29")):
        yield "N1", words, *step_at(n1, "speed_swing", truth)
    says, verdict = effect(n1, "N1/2032-11-05", "speed_swing")
    yield (
        "N1",
        "put back on 2032-11-05: it worked, -55 %",
        says,
        "right" if verdict == "worked" else f"wrong: {verdict}",
    )
    swings = n1.hunting[-1].says if n1.hunting else "not logged"
    yield (
        "N1",
        "load leads speed (by the second, 2032-11-05)",
        swings,
        "right" if "Load moves first" in swings else "wrong",
    )
    yield (
        "N1", "absolute under 'bar g', two channels", faults(n1, "gauge_absolute"),
        spans_held(n1, "gauge_absolute", 2, "2031-01-01", "2031-09-07"),
    )  # fmt: skip
    yield (
        "N1",
        "one of two oxygen sensors drifts from 2031-10-27",
        *began(story["N1"], "oxygen@before_catalyst", "2031-10-27"),
    )
    counters = ", ".join(day_of(one.time) for one in n1.events.counters) or "none"
    yield "N1", "hours counter exchanged on 2031-05-29", counters, "right" if counters == "2031-05-29" else "wrong"
    for cylinder in ("3", "7"):
        for truth in ("2031-07-19", "2033-01-20"):
            words = f"cylinder {cylinder}: type K on N, 88.5 K at 500 °C, {'from' if truth < '2032' else 'to'} {truth}"
            yield "N2", words, *step_at(n2, f"exhaust_temperature@cylinder_{cylinder}", truth)
    yield "N2", "radiator fouls from 2031-03-31 to +16 K", *began(story["N2"], "jacket_water_in", "2031-03-31")
    yield "N2", "washed on 2033-01-20", *step_at(n2, "jacket_water_in", "2033-01-20")
    yield (
        "N2",
        "transmitter ends at 100 °C from 2032-07-27",
        faults(n2, "at_limit"),
        "found" if "1 on" in faults(n2, "at_limit") else "missed",
    )
    for truth in ("2033-01-30", "2033-03-16"):
        yield (
            "D1",
            f"hydrogen sulphide {'+' if truth < '2033-02' else '-'}700 ppm on {truth}",
            *step_at(d1, "hydrogen_sulfide", truth),
        )
    yield "D1", "catalyst poisoned from 2033-01-30, rise 12 to 8 K", *_loss(d1, "2033-01-30")
    yield "D1", "washed with the gas cleaning on 2033-03-16", *step_at(d1, "catalyst_rise", "2033-03-16")
    retard = of(d1, "ignition_retard")
    moving = retard.judged != "still" and retard.moved.value > 0
    yield "D1", "knock margin shrinks: retard +4 degrees in 30 months", retard.says, "found" if moving else "missed"
    for cylinder, start in (("4", "2031-06-12"), ("2", "2032-02-27"), ("5", "2032-10-17")):
        yield (
            "D1",
            f"plug of cylinder {cylinder} fails for a week, {start}",
            *_episode(d1, f"cylinder_{cylinder}", start),
        )
    yield "D2", "NOx probe ages, its trim hides it", of(d2, "nox").says, "as it must be: only the analyser tells"
    yield (
        "D2",
        "temperature inputs in steps of 4 K, 6 channels",
        faults(d2, "coarse"),
        "found" if "6 on 6" in faults(d2, "coarse") else "missed",
    )
    gaps = sum(f.kind == "gap" and f.end - f.start > DAY for one in looks.values() for f in one.faults)
    yield "all", "21 gaps of 3 to 20 days", f"{gaps} found", "right" if gaps == 21 else "wrong"


def _loss(look: EngineLook, truth: str) -> tuple[str, str]:
    one = of(look, "catalyst_rise")
    told = [s for s in one.steps if s.size.value < 0 and abs(s.time - us(truth)) <= 45 * DAY]
    if told:
        return step_at(look, "catalyst_rise", truth)
    if one.began is not None and one.moved.value < 0:
        return one.says, held(one.began.earliest, one.began.latest, truth)
    return one.says, f"missed (truth {truth})"


def _episode(look: EngineLook, place: str, start: str) -> tuple[str, str]:
    """Return what is told of a port that was cold for some days: a stretch away from its group, or steps."""
    for one in look.faults:
        if one.kind == "left_group" and one.channel.endswith(place) and abs(one.start - us(start)) <= 5 * DAY:
            return f"away from its group {day_of(one.start)} to {day_of(one.end)}, {one.size:+.0f} K", "found"
    said = step_at(look, f"exhaust_temperature@{place}", start)
    return said[0], "found" if said[0] != "nothing" else "missed"


# ---------------------------------------------------------------------- what is told and was not planted


def planted(tag: str, look: EngineLook) -> list[int]:
    """Return the moments of everything planted, and of the visits."""
    found = [edge for one in generate(tag).truth if one.kind in CAUSES for edge in (one.start, one.end)]
    return [*found, *(visit.start for visit in look.visits)]


def not_planted(looks: dict[str, EngineLook]) -> tuple[list[str], int, int, int]:
    """Return larger steps that nothing planted is near to, how many steps there are, and how many readings stand."""
    told, steps, still, every = [], 0, 0, 0
    for tag, look in looks.items():
        moments = planted(tag, look)
        told += [
            f"{tag}, load held down since {day_said(one.time)}"
            for one in look.loads
            if not any(one.earliest - NEAR <= at <= one.latest + NEAR for at in moments)
        ]
        growing = [(one.start, one.end) for one in generate(tag).truth if one.kind == "misfire"]  # in steps of its own
        for one in look.indicators:
            every += 1
            still += one.judged == "still"
            for step in one.steps:
                if abs(step.size.value) < 2.0 * one.matters:
                    continue
                steps += 1
                near = any(abs(step.time - at) <= NEAR or step.earliest <= at <= step.latest for at in moments)
                near = near or any(start <= step.time <= end for start, end in growing)
                if not near and not step.why:
                    told.append(f"{tag}, {one.key}: {when(step)}, {amount(one, step.size.value)}")
    return told, steps, still, every


def table(home: Path) -> list[str]:
    with Records.open(home) as records:
        looks, took = {}, 0.0
        for engine in records.engines():
            began_at = time.process_time()
            looks[engine.tag] = look_at_engine(records, engine, END_OF_LOGS)
            took += time.process_time() - began_at
        before = look_at_engine(records, records.engine("A2"), BEFORE_VISIT)
        story = {tag: look_at_engine(records, records.engine(tag), STORY) for tag in ("A3", "N1", "N2")}
        a3 = imports(records, records.engine("A3"))
        clocks = "; ".join(dict.fromkeys(text for one in a3 for text in one.content["clock"]))
    lines = ["| engine | planted | what the look says | beside the truth |", "|---|---|---|---|"]
    every = [tuple(cell.replace("|", "/") for cell in row) for row in rows(looks, before, story, clocks)]
    lines += [f"| {' | '.join(row)} |" for row in every]
    bad = sum(row[3].startswith(("missed", "wrong", "nothing", "no ")) for row in every)
    false, steps, still, count = not_planted(looks)
    at_end = [
        f"{tag} {one.key} ({one.judged})"
        for tag, look in looks.items()
        for one in look.indicators
        if one.judged != "still"
    ]
    return [
        *lines, "",
        f"{len(every) - bad} of {len(every)} rows found or held. Of {steps} steps of twice what matters in {count} "
        f"watched readings, {len(false)} lie further than a week from anything "
        f"planted, any visit, and any work order{':' if false else '.'}", "", *(f"- {one}" for one in false), "",
        f"At the end of the logs {still} of {count} watched readings stand still; {', '.join(at_end)} do not.", "",
        f"Processor time of the seven looks in this run: {took:.0f} s (0 where they were kept).",
    ]  # fmt: skip


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
