"""What a visit's sheet works with: readings, and all that the record brings beside them.

Beside what was read come the height of the site, the permit's own numbers, the runs of a formal test, the derate tables
of the engine and the ways that a person chose.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.errors import AsFoundError
from asfound.exhaust.mixture_for_limit import limit_readings
from asfound.exhaust.test_run import EmissionTest
from asfound.exhaust.test_run_readings import readings_of
from asfound.power.derating_file import read_derating
from asfound.power.derating_sheet import worksheets_with
from asfound.quantities.register import quantities
from asfound.quantities.sheet import checked, work_out
from asfound.quantities.words import Reading
from asfound.quantities.worksheets import load
from asfound.records import readings as taken

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from asfound.power.derating import Derate, Derating
    from asfound.quantities.sheet import Worked
    from asfound.quantities.words import Limit
    from asfound.quantities.worksheets import Worksheet
    from asfound.records.entries import Entry
    from asfound.records.store import Records
    from asfound.records.things import EngineRecord, VisitRecord
    from asfound.records.view_parts import KeptReading

DRAWS, SEED = 10_000, 1
"""Draws of a visit; with the readings they give every digit again."""


def worked(
    records: Records,
    visit: VisitRecord,
    engine: EngineRecord,
    entries: Sequence[Entry],
    readings: Mapping[str, KeptReading],
    limits: Sequence[Limit],
    problems: list[str],
    level: Sequence[Reading] = (),
) -> Worked:
    """Return the sheet, worked out; from memory when nothing that it works with has changed.

    Parameters
    ----------
    entries : sequence of Entry
        Those of the visit that stand.
    readings : mapping
        The reading that holds at each key.
    limits : sequence of Limit
        In force on the day, of quantities that this program knows.
    problems : list of str
        Gets in words what was left out.
    level : sequence of Reading
        Reference oxygen that only a limit states.
    """
    given = _readings(visit, engine, entries, readings, limits, problems, level)
    choice = methods_chosen(entries, problems)
    derate = _own_derate(records, engine, problems)
    key = ("worked", tuple(given), tuple(sorted(choice.items())), derate)

    def work() -> tuple[Worked, tuple[str, ...]]:
        sheets: Mapping[str, Worksheet] = load() if derate is None else worksheets_with(derate)
        faults: list[str] = []
        memory = records.sheet_memory(visit.id)
        done = work_out(given, number=DRAWS, seed=SEED, chosen=choice, worksheets=sheets, faults=faults, memory=memory)
        return done, tuple(faults)

    result: tuple[Worked, tuple[str, ...]] = records.remembered(key, work, slot=("worked", visit.id))
    problems += [*result[1], *_without_answer(choice, result[0])]
    return result[0]


def _without_answer(choice: Mapping[str, str], worked: Worked) -> list[str]:
    """Return in words which ways that a person chose have no answer on this visit, where another stands instead."""
    said = []
    for name, sheet in choice.items():
        given = {one.worksheet for one in worked.results if one.quantity == name}
        if given and sheet not in given:
            why = next((str(one.error) for one in worked.refused if one.worksheet == sheet), "")
            said.append(
                f"{quantities()[name].title}: the way chosen, '{load()[sheet].title}', has no answer here; "
                f"'{load()[min(given)].title}' stands instead. {why}".strip()
            )
    return said


def methods_chosen(entries: Iterable[Entry], problems: list[str]) -> dict[str, str]:
    """Return the worksheet that a person chose for a quantity; what this program does not know is said and left out."""
    choices = (one.content for one in entries if one.kind == "method_choice")
    said = {str(one["quantity"]): str(one.get("worksheet", "")) for one in choices}
    sheets, found = load(), {}
    for name, sheet in said.items():
        if sheet and (sheet not in sheets or name not in sheets[sheet].gives):
            problems.append(f"{name}: this program has no way '{sheet}' to it; it takes the one that it prefers.")
        elif sheet:
            found[name] = sheet
    return found


def emission_tests(entries: Iterable[Entry]) -> list[dict[str, Any]]:
    """Return the formal tests among entries, as the rooms take them."""
    return [dict(one.content["test"]) for one in entries if one.kind == "emission_test"]


def _readings(
    visit: VisitRecord,
    engine: EngineRecord,
    entries: Sequence[Entry],
    readings: Mapping[str, KeptReading],
    limits: Sequence[Limit],
    problems: list[str],
    level: Sequence[Reading],
) -> list[Reading]:
    """Return the readings of the sheet; a reading that somebody took goes before one that the record brings."""
    known = quantities()
    problems += [
        f"{one.key}: this program knows no quantity '{one.quantity}'; it was left out of the sheet."
        for one in readings.values()
        if one.quantity not in known
    ]
    given: list[Reading] = [
        one.reading
        for one in readings.values()
        if one.reading is not None and one.quantity in known and one.judged_false is None
    ]
    brought = [
        *taken.of_the_site(engine.site, visit.began, readings),
        *_of_the_engine(engine, visit.began),
        *limit_readings(tuple(limits), visit.began),
        *level,
        *_of_tests(entries, problems),
    ]
    there = {one.key for one in given}
    for one in brought:
        if one.key not in there:
            there.add(one.key)
            given.append(one)
    return [one for one in given if _sheet_takes(one, problems)]


def _of_the_engine(engine: EngineRecord, time: str) -> list[Reading]:
    """Return the rating that the engine's entry holds: exact, for it is what was declared."""
    rated = engine.content.get("rated") or {}
    return [
        Reading(
            quantity=quantity,
            place="engine",
            state="as_found",
            time=time,
            value=float(rated[name]),
            unit=unit,
            as_typed=str(rated.get("text") or f"{rated[name]:g} {unit}"),
            standard_uncertainty=0.0,
            origin="typed",
            said_by=f"record of {engine.tag}",
            entry=engine.entry.id,
        )
        for name, quantity, unit in (("power", "rated_power", "W"), ("speed", "rated_speed", "rad/s"))
        if rated.get(name)
    ]


def _of_tests(entries: Iterable[Entry], problems: list[str]) -> list[Reading]:
    """Return what the runs of formal tests come to; of several tests the last."""
    found: list[Reading] = []
    for entry in reversed([one for one in entries if one.kind == "emission_test"]):
        try:
            found += readings_of(EmissionTest.from_dict(entry.content["test"]), entry=entry.id)
        except AsFoundError as refused:
            problems.append(f"The test of the exhaust could not be worked out: {refused}")
    return found


def _sheet_takes(reading: Reading, problems: list[str]) -> bool:
    """Tell whether the sheet can take a reading; what it refuses is kept all the same, and said."""
    try:
        checked([reading], quantities())
    except AsFoundError as refused:
        problems.append(f"{refused} It was left out of the sheet.")
        return False
    return True


def _own_derate(records: Records, engine: EngineRecord, problems: list[str]) -> Derate | None:
    """Return the derate tables of the engine's family, where its entry names a file that has them."""
    digest = str(engine.content.get("derating") or "")
    if not digest:
        return None
    try:
        return derating_of(records, digest).of(str(engine.content.get("family", "")))
    except AsFoundError as refused:
        problems.append(f"The derate tables of {engine.tag} were left out: {refused}")
        return None


def derating_of(records: Records, digest: str) -> Derating:
    """Return a kept file of derate tables; read once, for a digest never means anything else."""
    key = ("derating", digest)

    def read() -> Derating:
        return read_derating(records.attachment(digest).decode("utf-8", "replace"), file=f"derate tables {digest[:12]}")

    found: Derating = records.remembered(key, read, slot=key)
    return found
