"""`asfound due done|meter|oil|order|failure|plan|limit`: what a person says of upkeep becomes an entry."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from asfound.cli.answer import answer
from asfound.cli.due import due
from asfound.cli.find import kept, opened, tail, writer
from asfound.cli.options import Hand
from asfound.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from asfound.records.store import Records

__all__ = ["due"]


@due.command
def done(
    engine: str,
    task: str,
    hours: str,
    /,
    *,
    date: str = "",
    by: str = "",
    note: str = "",
    part_life: str = "",
    part_end: Literal["", "worn_out", "failed", "still_good"] = "",
    old_meter: bool = False,
    hand: Hand = Hand(),
) -> None:
    """Say that a task was done: its interval counts from here.

    asfound due done D1 oil_change 24265

    Parameters
    ----------
    engine
        Tag of the engine.
    task
        Its name, or words of its title that no other has: `asfound due tasks` lists them.
    hours
        As the meter showed it.
    date
        When, if not today: 2032-07-08.
    by
        Who did it, if not who writes.
    note
        In words.
    part_life
        Hours that the part taken out had run.
    part_end
        What was found of it: worn out, failed, or still good.
    old_meter
        On the day of an exchange: the meter that was taken out was read.
    """
    from asfound.records.upkeep_of_engine import tasks_of

    records = opened(hand)
    name = _named({key: one.title for key, one in tasks_of(records)[0].tasks.items()}, task)
    typed = {"task": name, "hours": hours, "date": date, "by": by, "note": note, "part_life": part_life,
             "part_end": part_end, "old_meter": "yes" if old_meter else ""}  # fmt: skip
    _keep(records, hand, engine, "task_done", typed, lambda: f"{name} done at {hours} h")


@due.command
def meter(
    engine: str,
    last_of_old: str,
    first_of_new: str = "0",
    /,
    *,
    date: str = "",
    note: str = "",
    hand: Hand = Hand(),
) -> None:
    """Say that the hour meter was exchanged or set back: true hours go on.

    asfound due meter N1 41230 0 --date 2030-12-04

    Parameters
    ----------
    engine
        Tag of the engine.
    last_of_old
        What the meter taken out showed last.
    first_of_new
        What the new one showed first.
    date
        When, if not today.
    note
        In words.
    """
    typed = {"last_of_old": last_of_old, "first_of_new": first_of_new, "date": date, "note": note}
    _keep(opened(hand), hand, engine, "meter_exchanged", typed, lambda: f"meter exchanged at {last_of_old} h")


@due.command
def oil(
    engine: str,
    /,
    *values: str,
    hours: str = "",
    on_oil: str = "",
    added: str = "",
    new: bool = False,
    date: str = "",
    laboratory: str = "",
    number: str = "",
    note: str = "",
    hand: Hand = Hand(),
) -> None:
    """Keep an oil sample.

    asfound due oil D1 acid_number=4.1 iron=11 --hours 24265 --on-oil 795 --added 3

    asfound due oil D1 acid_number=0.7 base_number=6.2 --new

    Parameters
    ----------
    engine
        Tag of the engine.
    values
        property=value: acid_number, base_number (mg KOH/g), viscosity_100, viscosity_40 (mm2/s), water, glycol,
        insolubles (%), oxidation, nitration (1/cm), iron, copper, lead, tin, aluminium, chromium, silicon, sodium,
        potassium (mg/kg).
    hours
        As the hour meter showed it.
    on_oil
        Hours since the oil was changed.
    added
        Litres of oil added since the sample before.
    new
        The sample is of new oil: what changes are counted from.
    date
        When, if not today.
    laboratory
        Who analysed it.
    number
        Number of the laboratory's report.
    note
        In words.
    """
    from asfound.upkeep.oil_of_engine import PROPERTIES

    typed = {"hours": hours, "hours_on_oil": on_oil, "topped_up": added, "new_oil": "yes" if new else "",
             "date": date, "laboratory": laboratory, "number": number, "note": note}  # fmt: skip
    for one in values:
        name, sign, value = one.partition("=")
        if not sign or name not in PROPERTIES:
            raise InputError("values", one, "is no property with its value", allowed=", ".join(PROPERTIES),
                             try_next="Write acid_number=4.1.")  # fmt: skip
        typed[name] = value
    _keep(opened(hand), hand, engine, "oil_sample", typed, lambda: f"oil sample, {len(values)} values")


@due.command
def order(
    engine: str,
    number: str,
    text: str,
    /,
    *,
    date: str = "",
    item: str = "",
    mode: str = "",
    mechanism: str = "",
    hours: str = "",
    state: Literal["open", "done", "cancelled"] = "open",
    minutes_active: str = "",
    minutes_down: str = "",
    language: str = "",
    tasks: str = "",
    hand: Hand = Hand(),
) -> None:
    """Write an order for work, in the words of whoever wants it.

    asfound due order A1 W-2032-050 'toped up twice in a week, look for the leak'

    Parameters
    ----------
    engine
        Tag of the engine.
    number
        Of the order.
    text
        What is to be done, in quotes.
    date
        When, if not today.
    item
        What it is about.
    mode
        Failure mode of ISO 14224: ERO; left out where it is not known.
    mechanism
        Failure mechanism of ISO 14224: 2.4; left out where it is not known.
    hours
        As the hour meter showed it.
    state
        How far it has come.
    minutes_active
        Minutes of work.
    minutes_down
        Minutes that the engine stood.
    language
        ISO 639: en, de, es.
    tasks
        Tasks of the list that it serves, with commas between.
    """
    typed = {"number": number, "text": text, "date": date, "item": item, "mode": mode, "mechanism": mechanism,
             "hours": hours, "state": state, "minutes_active": minutes_active, "minutes_down": minutes_down,
             "language": language, "tasks": tasks}  # fmt: skip
    _keep(opened(hand), hand, engine, "work_order", typed, lambda: f"order {number}")


@due.command
def failure(
    engine: str,
    text: str,
    /,
    *,
    date: str = "",
    hours: str = "",
    item: str = "",
    mode: str = "",
    mechanism: str = "",
    cause: str = "",
    detection: str = "",
    impact: Literal["", "critical", "degraded", "incipient"] = "",
    language: str = "",
    order: str = "",
    hand: Hand = Hand(),
) -> None:
    """Write down a failure in the terms of ISO 14224; what is not known stays out.

    asfound due failure N1 'hunts every evening' --mode ERO --item 'control unit'

    Parameters
    ----------
    engine
        Tag of the engine.
    text
        What was seen, in quotes.
    date
        When it was detected, if not today.
    hours
        As the hour meter showed it.
    item
        What failed.
    mode
        How it was seen: ERO.
    mechanism
        The physical process: 2.4.
    cause
        Why it could happen: 3.4.
    detection
        How it was detected.
    impact
        On what the engine is for.
    language
        ISO 639: en, de, es.
    order
        Number of the order for its repair.
    """
    typed = {"text": text, "date": date, "hours": hours, "item": item, "mode": mode, "mechanism": mechanism,
             "cause": cause, "detection": detection, "impact": impact, "language": language,
             "work_order": order}  # fmt: skip
    _keep(opened(hand), hand, engine, "failure", typed, lambda: "failure")


@due.command
def plan(
    engine: str,
    task: str = "",
    /,
    *,
    hours: str = "",
    every: str = "",
    grace_hours: str = "",
    grace_days: str = "",
    permit: bool = False,
    without: bool = False,
    source: str = "",
    why: str = "",
    sump: str = "",
    setup_minutes: str = "",
    most_minutes: str = "",
    hand: Hand = Hand(),
) -> None:
    """Set the interval of a task on this engine, leave a task out, or say what its stops take.

    asfound due plan A1 oil_change --hours 800 --source 'BQ-3 d' --why 'sour gas'

    asfound due plan A1 catalyst --without --why 'none fitted'

    asfound due plan A1 --setup-minutes 300 --sump 520

    Parameters
    ----------
    engine
        Tag of the engine.
    task
        Its name, or words of its title; left out for what holds for all stops.
    hours
        Every so many running hours.
    every
        In the calendar: P1Y, P6M, P30D.
    grace_hours
        Hours of grace.
    grace_days
        Days of grace.
    permit
        The interval stands in a permit: no grace.
    without
        This engine does not have the task.
    source
        Where the interval is written.
    why
        The reason.
    sump
        Litres of oil in the engine.
    setup_minutes
        What a stop takes beside its work.
    most_minutes
        Most minutes of work in one stop.
    """
    from asfound.records.upkeep_of_engine import tasks_of

    records = opened(hand)
    name = _named({key: one.title for key, one in tasks_of(records)[0].tasks.items()}, task) if task else ""
    typed = {"task": name, "hours": hours, "calendar": every, "grace_hours": grace_hours, "grace_days": grace_days,
             "permit": "yes" if permit else "", "applies": "no" if without else "", "source": source, "why": why,
             "sump": sump, "setup_minutes": setup_minutes, "most_minutes": most_minutes}  # fmt: skip
    _keep(records, hand, engine, "upkeep_plan", typed, lambda: name or "stops")


@due.command
def limit(
    engine: str,
    property: str,
    /,
    *,
    high: str = "",
    low: str = "",
    rule: Literal["value", "above", "change", "share"] = "value",
    source: str,
    hand: Hand = Hand(),
) -> None:
    """Set a limit of this engine's oil; it goes before the outer marks of the list.

    asfound due limit D1 acid_number --high 3.0 --rule above --source 'oil supplier, letter'

    Parameters
    ----------
    engine
        Tag of the engine.
    property
        acid_number, base_number, viscosity_100, water, nitration, iron ...
    high
        Not above.
    low
        Not below.
    rule
        The value itself, above new oil, per cent off new oil (change), per cent of new oil (share).
    source
        Where it is written.
    """
    typed = {"property": property, "high": high, "low": low, "rule": rule, "source": source}
    _keep(opened(hand), hand, engine, "oil_limit", typed, lambda: f"limit of {property}")


def _named(titles: Mapping[str, str], word: str) -> str:
    """Return a task by its name, or by words of its title that no other has."""
    from asfound.errors import UnknownNameError

    if word in titles:
        return word
    found = [key for key, title in titles.items() if word.casefold() in title.casefold()]
    if len(found) > 1:
        raise InputError("task", word, f"fits {len(found)} tasks", allowed=", ".join(found))
    if not found:
        raise UnknownNameError("task", word, titles)
    return found[0]


def _keep(
    records: Records, hand: Hand, engine: str, kind: str, typed: Mapping[str, str], says: Callable[[], str]
) -> None:
    from asfound.records.upkeep_typed import keep_typed

    found = records.engine(engine)
    entry = keep_typed(
        records, found, kind, typed, who=writer(hand, records), decimal=records.settings.typed_decimal or None
    )
    answer(hand, kept(entry), lambda: [f"Kept {tail(entry.id)}: {found.tag}, {says()}"])
