"""`asfound log-import` and `log-mapping`: dirty logs into the home, with what is asked and what became of every row."""

from __future__ import annotations

import contextlib
import sys
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cyclopts import Parameter

from asfound.cli.answer import answer, coloured, columns, wrapped
from asfound.cli.find import opened, tail, writer
from asfound.cli.options import Hand, Out
from asfound.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from asfound.history.import_report import ImportReport
    from asfound.history.mapping import Mapping
    from asfound.records.log_import import Imported
    from asfound.records.log_plan import Plan
    from asfound.records.store import Records
    from asfound.records.things import EngineRecord


@Parameter(name="*")
@dataclass(frozen=True, kw_only=True)
class Told:
    """Answers to what a file does not decide."""

    mapping: Path | None = None
    """File that says which column is what, as `asfound log-mapping` writes it."""
    zone: str = ""
    """Time zone of times without an offset: UTC, +01:00, Europe/Berlin."""
    order: str = ""
    """Order of dates that can be read in two ways: dmy, mdy, ymd."""
    yes: bool = False
    """Take what is most probable where something is open: units that fit the values, a clock put right."""


def log_import(
    engine: str, /, *files: Path, told: Told = Told(), source: str = "", clock: str = "", take_back: str = "",
    hand: Hand = Hand(),
) -> None:  # fmt: skip
    """Take logs and alarm lists of an engine in. Broken off, the same command goes on; a known file is left out.

    asfound log-import A2 scanner/*.csv --zone=-06:00

    asfound log-import A2 A2_alarms.csv

    asfound log-import A2 --take-back 3f2a91bc

    Parameters
    ----------
    engine
        Tag of the engine.
    files
        Logs (CSV, fixed width, spreadsheet, Parquet, packed or not) and alarm lists, those of one logger together.
    source
        Name of the logger; the name of the first file without it. What its columns were at its import before is taken.
    clock
        An import of this engine whose clock is right: by it offset, drift and jumps of this logger's are put right.
    take_back
        Identifier of an import (the last eight signs do): its rows go out of the store again.
    """
    from asfound.records.log_import import fresh, import_alarms, import_planned, source_for, split
    from asfound.records.log_mapping import mapping_before

    records = opened(hand)
    found = records.engine(engine)
    who = writer(hand, records)
    if take_back:
        _take_back(records, found, take_back, who, hand)
        return
    if not files:
        raise InputError("files", "", "are missing", try_next=f"Name the logs: asfound log-import {engine} FILE")
    new, known = fresh(records, found, list(files))
    rows, alarms = split(new)
    entries = [import_alarms(records, found, path, who=who) for path in alarms]
    planned: Plan | None = None
    done: Imported | None = None
    said = ""
    if rows:
        name = source_for(records, found, source or rows[0].stem)
        with _bar("Looking at the files", len(rows)) as step:
            before = mapping_before(records, found, source or rows[0].stem)
            planned = _plan(found, rows, name, told, before, step)
        said = _clock(records, found, planned, clock, yes=told.yes)
        size = sum(path.stat().st_size for path in rows)
        with _bar("Taking in", max(size, 1)) as step:
            done = import_planned(records, found, planned, who=who, tell=_progress(planned, step))
    data = _data(found.tag, planned, done, known, said)
    data["alarm_lists"] = [{"file": one.content["files"][0]["name"], "entries": one.content["kept"]} for one in entries]
    answer(hand, data, lambda: _told(data, planned))


def _plan(
    engine: EngineRecord, rows: list[Path], name: str, told: Told, before: Mapping | None, step: Callable[[int], None]
) -> Plan:
    from asfound.records.log_plan import plan, usual_barometer

    given: Mapping | None = None
    zone, order = told.zone, told.order
    if told.mapping is not None:
        given, answers = read_mapping(told.mapping)
        zone, order = zone or answers.get("zone", ""), order or answers.get("order", "")
    return plan(
        rows, name, zone=zone, order=order, given=given, before=before, units_by_values=told.yes,
        barometer=usual_barometer(engine), tell=lambda _: step(1),
    )  # fmt: skip


def read_mapping(path: Path) -> tuple[Mapping, dict[str, str]]:
    """Return the mapping of a file, and zone and order where it says them."""
    import yaml

    from asfound.history.mapping import Mapping

    if not path.is_file():
        raise InputError(
            "mapping", str(path), "is no file", try_next="Make one: asfound log-mapping LOG > mapping.yaml"
        )
    mapping = Mapping.load(path)
    plain = yaml.safe_load(path.read_text(encoding="utf-8"))
    return mapping, {name: str(plain[name]) for name in ("zone", "order") if plain.get(name)}


def _clock(records: Records, engine: EngineRecord, planned: Plan, right: str, *, yes: bool) -> str:
    """Put the logger's clock right by another import, or by the alarm list with --yes; say what was found."""
    from asfound.history.alarm_lists import alarms_of
    from asfound.records.log_clock import clock_against, clock_of, corrected
    from asfound.records.logs_of_engine import logs, name_for

    if right:
        found = clock_against(records, engine, planned.files, planned.mapping, right)
        planned.mapping = replace(planned.mapping, clock=found)
        return " ".join(f"{one}." for one in found.trace) or f"The clock agrees with that of '{right}'."
    alarms = alarms_of(logs(records), name_for(records, engine))
    if alarms is None or planned.mapping.clock.pieces:
        return ""
    seen = clock_of(planned.files, planned.mapping, alarms)
    if seen is None:
        return ""
    if yes:
        planned.mapping = corrected(planned.mapping, seen)
        return f"{seen.says} Its times were put right."
    return f"{seen.says} Its times were left as they are: take the import back and add --yes to put them right."


def _progress(planned: Plan, step: Callable[[int], None]) -> Callable[[ImportReport], None]:
    sizes = {one.path.name: one.path.stat().st_size for one in planned.files}
    told: set[str] = set()

    def tell(report: ImportReport) -> None:
        for file in report.files[:-1] if len(report.files) > 1 else report.files:
            if file.name not in told:
                told.add(file.name)
                step(sizes.get(file.name, 0))

    return tell


def _data(tag: str, planned: Plan | None, done: Imported | None, known: list[str], clock: str) -> dict[str, Any]:
    counts = ("read", "kept", "refused", "duplicates", "conflicts", "cells_refused")
    return {
        "engine": tag,
        "entry": done.entry.id if done and done.entry else None,
        "source": planned.source if planned else None,
        "files": [one.path.name for one in planned.files] if planned else [],
        "known": known,
        **{name: done.total(name) if done else 0 for name in counts},
        "clashes": done.clashes if done else 0,
        "why": _why(done),
        "open": [{"field": one.field, "because": one.because, "choices": one.choices, "try_next": one.try_next}
                 for one in planned.questions] if planned else [],
        "notes": [*(planned.notes if planned else ()), *(done.notes if done else ())],
        "clock": clock,
    }  # fmt: skip


def _why(done: Imported | None) -> dict[str, int]:
    found: dict[str, int] = {}
    for report in done.reports if done else ():
        for (kind, why), count in report.refusals.counts.items() if report.refusals else ():
            found[f"{kind}: {why}"] = found.get(f"{kind}: {why}", 0) + count
    return dict(sorted(found.items()))


def _told(data: dict[str, Any], planned: Plan | None) -> Iterator[str]:
    for one in data["alarm_lists"]:
        yield f"{one['file']}: an alarm list, {one['entries']:,} entries"
    for name in data["known"]:
        yield f"{name}: was taken in before, nothing was done"
    if planned is not None:
        yield coloured(
            f"{data['engine']}: {data['read']:,} rows read from {len(data['files'])} files, {data['kept']:,} kept, "
            f"{data['refused']:,} refused, {data['duplicates']:,} came twice, {data['conflicts']:,} "
            "contradict what was kept",
            "head",
        )
        for why, count in data["why"].items():
            yield f"  {count:,} x {why}"
        if data["clashes"]:
            yield f"  {data['clashes']:,} numbers differ from what another import gave for that time: the first stays"
        if data["clock"]:
            yield from wrapped(data["clock"], "  ")
        if data["open"]:
            yield f"Open: {len(data['open'])} columns are kept as they were written, until a mapping says what they are"
            for one in data["open"][:12]:
                choices = ", ".join(data_ for data_ in list(one["choices"])[:6] if data_)
                yield from wrapped(f"{one['field']}: {one['because']} ({choices})", "  ")
            yield "Answer them: asfound log-mapping FILE > mapping.yaml, edit it, take this back, import with --mapping"
        yield f"Take it back: asfound log-import {data['engine']} --take-back {tail(data['entry'])}"
        yield f"What it says: asfound log-look {data['engine']}"


def _take_back(records: Records, engine: EngineRecord, name: str, who: str, hand: Hand) -> None:
    from asfound.records.log_import import withdraw
    from asfound.records.logs_of_engine import imports

    found = [one for one in imports(records, engine) if one.id.startswith(name) or one.id.endswith(name)]
    if len(found) != 1:
        known = ", ".join(tail(one.id) for one in imports(records, engine))
        raise InputError("take_back", name, "is no import of this engine that stands", allowed=known or "none")
    line, gone = withdraw(records, found[0], who=who)
    answer(
        hand,
        {"took_back": found[0].id, "entry": line.id, "rows": gone},
        lambda: [f"Taken back: {found[0].content['source']}, {gone:,} rows went out of the store"],
    )


def log_mapping(file: Path, /, *, zone: str = "", order: str = "", source: str = "", out: Out = Out()) -> None:
    """Say what every column of a log is taken for, and why, as a file to edit and to give to `log-import --mapping`.

    asfound log-mapping scanner.csv > scanner.yaml

    Parameters
    ----------
    file
        A log.
    zone
        Time zone of times without an offset.
    order
        Order of dates that can be read in two ways: dmy, mdy, ymd.
    source
        Name of the logger; the name of the file without it.
    """
    from asfound.history.proposing import propose

    if not file.is_file():
        raise InputError("file", str(file), "is no file", try_next="Give the path of a log.")
    proposal = propose(file, zone=zone, order=order, source=source or file.stem)
    open_ = {one.field: one for one in proposal.questions}
    plain = proposal.mapping.as_dict() | {"zone": proposal.form.zone, "order": proposal.form.order}
    for row in plain["columns"]:
        if row["head"] in open_:
            row["open"] = open_[row["head"]].because
    data = plain | {"questions": [
        {"field": one.field, "because": one.because, "choices": one.choices, "try_next": one.try_next}
        for one in proposal.questions
    ]}  # fmt: skip

    def told() -> Iterator[str]:
        import yaml

        yield f"# What the columns of {file.name} are taken for. Edit quantity, place and unit."
        yield "# A column with an empty quantity is kept as it was written."
        for one in proposal.questions:
            yield f"# Open: {one.field}: {one.because} ({', '.join(text for text in list(one.choices)[:6] if text)})"
        yield yaml.safe_dump(plain, sort_keys=False, allow_unicode=True, width=120).rstrip()

    answer(out, data, told)


@contextlib.contextmanager
def _bar(doing: str, total: int) -> Iterator[Callable[[int], None]]:
    """Show a bar on standard error while a person watches a terminal; gives what moves it on."""
    if not sys.stderr.isatty():
        yield lambda _: None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(doing, total=total)
        yield lambda by: bar.update(task, advance=by)


def table(rows: list[tuple[object, ...]], head: tuple[str, ...], right: tuple[int, ...] = ()) -> list[str]:
    """Return rows as columns, indented."""
    return [f"  {line}" for line in columns(rows, head, right=right)]
