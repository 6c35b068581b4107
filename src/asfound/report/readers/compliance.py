"""Environmental compliance: values against limits with method, calibration, load, averaging, deviations, signatures."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from asfound.quantities.display import chance
from asfound.quantities.words import Result
from asfound.report.content_judged import headline
from asfound.report.content_test_run import tests_shown
from asfound.report.readers.blocks import Cell, Data, Document, Head, Lack, Lines, Row, Rows, Says
from asfound.report.readers.compliance_data import COLUMNS, data, limit_fact
from asfound.report.readers.compliance_rests import (
    kept_of,
    load_at,
    next_calibration,
    numbers_beside,
    numbers_of,
    readings_under,
    used,
)
from asfound.report.readers.making import Reader
from asfound.report.readers.said import count, on_day, span_words
from asfound.report.wording import doubt, named, place_words, say, title_of
from asfound.sources.register import cite

if TYPE_CHECKING:
    from asfound.records.view_parts import KeptReading, LimitState
    from asfound.records.visit import VisitView
    from asfound.report.readers.blocks import Block
    from asfound.report.readers.ground import Ground

TELLS = ("EX", "PW-14", "PW-15", "CC-02", "CC-03", "CC-04", "CC-05", "CC-16")
"""Findings that a reader of emission values must know of: the exhaust's own, load too low, readings that contradict."""


def make(ground: Ground) -> Document:
    """Return the table of values against limits, with what each rests on."""
    view = ground.view
    states = view.limit_states
    deviations = tuple(_deviations(ground))
    people = view.visit.content.get("people", ())
    blocks: list[Block] = []
    if states:
        blocks += [
            Head(text="Values against limits"),
            Rows(
                columns=("Limit", "Value", "Beside it", "Averaged, basis"),
                rows=tuple(_values(ground)),
                shares=(1.15, 1.2, 1, 1.5),
            ),
            Says(
                text="Values with the interval that holds the true value 95 times in 100; the chance of being beyond "
                "the limit by JCGM 106.",
                weight="quiet",
            ),
        ]
    if methods := tuple(_methods(ground)):
        blocks += [
            Head(text="How each value was come by"),
            Rows(columns=("Value", "Method", "Load then", "Rests on"), rows=methods, shares=(0.9, 1.7, 0.8, 1.6)),
        ]
    for test in tests_shown(view):
        blocks += _test(test)
    if instruments := tuple(_instruments(ground)):
        blocks += [
            Head(text="Instruments"),
            Rows(columns=("Instrument", "Calibrated", "Next", "Claim"), rows=instruments, shares=(1.5, 1, 1.3, 1.4)),
        ]
    blocks += [
        Head(text="Deviations"),
        Lines(rows=deviations or ("None was noted: nothing outside a method's range, nothing assumed.",)),
    ]
    return Document(
        headline=_headline(view),
        lead="What the permit asks for, what was found, and what each value rests on. The data file leads from each "
        "value to the readings under it, with the entry of the record that holds each.",
        blocks=tuple(blocks),
        signed=(("who measured", str(people[0]) if people else ""), ("for the operator", ""), ("for compliance", "")),
        lacks=tuple(_lacks(ground)),
        tags=tuple(dict.fromkeys(tag for number in numbers_of(view) for tag in getattr(number, "cautions", ()))),
        data=Data(columns=COLUMNS, rows=tuple(data(ground))),
        facts={"limits": [limit_fact(one) for one in states]},
    )


def _headline(view: VisitView) -> str:
    """Return how the engine stands to its limits; a reader of limits is not told of other work first."""
    if not view.limit_states:
        return f"{view.engine.tag}: no limit is on record."
    if not any(state.found or state.left for state in view.limit_states):
        return f"{view.engine.tag}: nothing was measured beside its limits."
    return headline(view)


def _word(state: str) -> str:
    return "as left" if state == "as_left" else "as found"


def _values(ground: Ground) -> Iterator[Row]:
    for state in ground.view.limit_states:
        limit = state.limit
        name = (title_of(limit.quantity), f"{limit.name} {limit.as_typed}")
        basis = (limit.basis or "basis not stated", limit.text)
        rows = list(numbers_beside(state))
        if not rows:
            yield name, "not taken", "", basis
        for number in rows:
            said = say(number, ground.system)
            where = place_words(number.place)
            risk = state.beyond.get(number.key)
            side = "over" if limit.side == "upper" else "under"
            beside: Cell = "chance not worked out" if risk is None else (f"{chance(risk)}", f"to be {side}")
            yield (
                name,
                (
                    f"{said.whole}",
                    f"{said.interval}, {_word(number.state)}{f', {where}' if where else ''}".lstrip(", "),
                ),
                beside,
                basis,
            )


def _methods(ground: Ground) -> Iterator[Row]:
    kept = kept_of(ground.view)
    day = ground.view.visit.date
    for number in numbers_of(ground.view):
        under = readings_under(number)
        taken = [kept[one.entry] for one in under if one.entry in kept]
        times = sorted(one.time for one in taken)
        assumed = [one for one in under if one.origin == "assumed"]
        when = span_words(on_day(times[0], day), on_day(times[-1], day)) if times else "no reading"
        method: Cell = (
            (number.method.name, _cited(number.method.source, number.method.clause))
            if isinstance(number, Result)
            else "read"
        )
        tail = f", {len(assumed)} assumed" if assumed else ""
        yield (
            (title_of(number.quantity), _word(number.state)),
            method,
            load_at(ground, number.state) or "not known",
            (f"{count(len(taken), 'reading')}{tail}", f"taken {when}{_averaged(taken)}" if times else ""),
        )


def _averaged(taken: list[KeptReading]) -> str:
    """Return over how long the readings were averaged, where somebody noted it."""
    minutes = sorted({float(one.entry.content["minutes"]) for one in taken if one.entry.content.get("minutes")})
    return f"; averaged over {span_words(f'{minutes[0]:g}', f'{minutes[-1]:g}')} min" if minutes else ""


def _cited(source: str, clause: str) -> str:
    from asfound.errors import UnknownNameError

    try:
        return cite(source, clause)
    except UnknownNameError:
        return f"{source} {clause}".strip()


def _test(test: Any) -> list[Block]:
    """Return a formal test: runs beside each other, the criteria that do not hold."""
    if test.problem:
        return [Head(text=f"Test: {test.title}"), Says(text=test.problem)]
    columns = ("Gas", *(f"run {at}" for at, _ in enumerate(test.runs, 1)), "mean")
    rows = tuple(
        (
            (one.gas, one.unit),
            *((value, f"not counted: {why}") if why else value for value, why in one.values),
            one.mean,
        )
        for one in test.rows
    )
    said = [*(f"Not kept: {one}" for one in test.fails), *(f"Cannot be told yet: {one}" for one in test.open)]
    return [
        Head(text=f"Test: {test.title}"),
        Lines(rows=tuple(f"Run {at}: {one}" for at, one in enumerate(test.runs, 1))),
        Rows(columns=columns, rows=rows, right=tuple(range(1, len(columns)))),
        Lines(rows=(*said, f"{count(test.kept, 'criterion', 'criteria')} kept.")),
    ]


def _instruments(ground: Ground) -> Iterator[Row]:
    seen: dict[str, list[KeptReading]] = {}
    for one in used(ground):
        if one.instrument is not None:
            seen.setdefault(one.instrument.id, []).append(one)
    for group in sorted(seen.values(), key=lambda rows: str(rows[0].instrument.content["name"])):  # type: ignore[union-attr]
        thing = group[0].instrument
        assert thing is not None
        content = thing.content
        due = next_calibration(content)
        late = due is not None and due < ground.day
        claims = list(
            dict.fromkeys(
                f"{doubt(one, ground.system)} ({title_of(one.quantity).lower()})"
                for one in group
                if doubt(one, ground.system)
            )
        )
        yield (
            (str(content["name"]), f"serial {content['serial']}" if content.get("serial") else "no serial on record"),
            _day(str(content.get("calibrated") or "")) or "not on record",
            "overdue on the day" if late else (_day(due.isoformat()) if due else "not on record"),
            ("; ".join(claims[:2]), str(content.get("source") or "")),
        )


def _day(iso: str) -> str:
    from asfound.report.wording import day_words

    return day_words(iso) if iso else ""


def _deviations(ground: Ground) -> Iterator[Cell]:
    """Yield what departs from a clean measurement, each with what it means."""
    view = ground.view
    for number in numbers_of(view):
        if isinstance(number, Result):
            for outside in dict.fromkeys(number.outside):
                yield f"{title_of(number.quantity)} {_word(number.state)}: {outside}."
            rests = [f"{named(one.quantity, one.place)} {say(one, ground.system).whole}" for one in number.assumed]
            if rests:
                yield (
                    f"{title_of(number.quantity)} {_word(number.state)} rests on what was assumed.",
                    f"{'; '.join(rests)}",
                )
    for one in used(ground):
        if one.judged_false is not None:
            yield (
                f"{named(one.quantity, one.place)} was judged false.",
                str(one.judged_false.content.get("why") or ""),
            )
        if (
            one.instrument is not None
            and (due := next_calibration(one.instrument.content)) is not None
            and due < ground.day
        ):
            yield f"{one.instrument.content['name']}: its calibration ran out on {_day(due.isoformat())}."
    for finding in view.findings:
        tells = finding.code.startswith(TELLS[0]) and finding.severity != "note"
        if tells or finding.code in TELLS[1:]:
            yield (f"{finding.says.rstrip('.')}. ({finding.code}, {_word(finding.state)})", finding.next_step)


def _lacks(ground: Ground) -> Iterator[Lack]:
    view = ground.view
    if not view.limit_states:
        yield Lack(
            what="The permit: no limit is on record for this engine.", fill="asfound limit, or the page Exhaust."
        )
    for state in view.limit_states:
        name = f"{title_of(state.limit.quantity)}, {state.limit.name} {state.limit.as_typed}"
        rows = list(numbers_beside(state))
        if not rows:
            yield Lack(what=f"{name}: no value.", fill=_wanted(view, state))
        elif not any(one.state == "as_left" for one in rows) and any(e.kind == "changed" for e in view.day.events):
            yield Lack(what=f"{name}: no value as left, though something was changed.", fill="The same readings again.")
        if not state.limit.basis:
            yield Lack(what=f"{name}: averaging time and basis.", fill="The text of the permit.")
    numbers = list(numbers_of(view))
    averaged = [one for one in used(ground) if one.entry.content.get("minutes")]
    if numbers and not averaged:
        yield Lack(
            what="How long each reading was averaged: nobody noted it.",
            fill="Minutes beside the readings of the "
            "analyser; until then these are spot values, not averages of the permit.",
        )
    if numbers and not any(load_at(ground, one.state) for one in numbers):
        yield Lack(what="The load at which the values were taken.", fill="Load or power on the page Load.")
    bare = [one for one in used(ground) if one.instrument is None and not one.entry.content.get("source")]
    if bare:
        names = list(dict.fromkeys(named(one.quantity, one.place) for one in bare))
        more = f" and {len(names) - 6} more" if len(names) > 6 else ""
        yield Lack(
            what=f"Instrument and calibration of: {', '.join(names[:6])}{more}.",
            fill="Name the instrument beside the reading; asfound instrument adds one.",
        )
    if not any(one.kind == "emission_test" for one in view.entries):
        yield Lack(
            what="A formal test of several runs: none is in this record.",
            fill="Bring it in with asfound emission-test; the values above are readings of one visit.",
        )
    if view.seal is None:
        yield Lack(what="The seal: the record can still be changed.", fill="Close the visit.")


def _wanted(view: VisitView, state: LimitState) -> str:
    """Return what the program would need for a number."""
    told = [one.says for one in view.worked.refused if state.limit.quantity in one.quantities]
    return f"{told[0]}" if told else "Readings of the exhaust and of the load."


READER = Reader(
    name="compliance",
    title="Environmental compliance",
    to="environmental compliance",
    wants="Values against limits, method, calibration, load, averaging, deviations",
    form="a table to sign, and a data file that leads to each reading",
    advice="This is no formal test unless the permit says so; the permit decides which method and average count.",
    make=make,
    table="each value beside its limit, and each reading under it",
)
