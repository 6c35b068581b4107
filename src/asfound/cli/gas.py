"""`asfound gas`: an analysis read, shown as it was understood, taken into a visit, mixed, compared; logs and limits."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cyclopts import App

from asfound.cli import DONE, NO
from asfound.cli.answer import answer, coloured, columns, ready
from asfound.cli.gas_given import Given, How, as_whole, given, is_whole, reference_of
from asfound.cli.gas_mixed import blend, limits, log
from asfound.cli.options import Hand, Home
from asfound.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator

gas = App(name="gas")


@gas.command
def read(*what: str, reference: str = "15/15", how: How = How(), where: Home = Home()) -> int:
    """Show how an analysis was understood, line by line, and what the gas is. Keeps nothing.

    asfound gas read report.txt --heavier 60/30/10

    asfound gas read CH4=91.2 C2H6=4.6 N2=4.2 --basis mole

    Parameters
    ----------
    what
        A file (text, CSV, xlsx, ods), - for standard input, shares as CH4=91.2, or a visit.
    reference
        Combustion and metering temperature: 15/15, 25/0, 60F/60F@14.73 psia.
    """
    from asfound.cli.gas_told import counted, gas_data, numbers, preview, preview_data
    from asfound.fuel.gas_summary import summary

    one = given(what, how, where)
    found = summary(one.gas, reference_of(reference)) if one.gas is not None and is_whole(one.gas) else ()
    data = preview_data(one) | {"gas": gas_data(one.gas) if one.gas else None, "properties": [ready(p) for p in found]}

    def told() -> Iterator[str]:
        if one.understood is not None:
            yield from preview(one.understood)
        if one.air:
            yield f"{100 * one.air:.3g} % air was taken out."
        if one.gas is None:
            return
        if found:
            yield from numbers(found, reference)
        else:
            yield coloured(f"Adds up to {100 * one.gas.total:.2f} %: --scale scales it to 100 %.", "visit")
        yield from counted(one.gas)

    answer(where, data, told)
    return DONE if one.gas is not None else NO


@gas.command
def take(
    visit: str,
    *what: str,
    state: str = "as_found",
    laboratory: str = "",
    report: str = "",
    correct: bool = False,
    how: How = How(),
    hand: Hand = Hand(),
) -> None:
    """Take an analysis into a visit as one thing: components, traces, age, and the text it came from.

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    what
        A file, - for standard input, or shares as CH4=91.2.
    state
        as_found or as_left.
    laboratory
        Who analysed it.
    report
        Number of the report.
    correct
        Put right the analysis that was taken last in this state, instead of adding a later one.
    """
    from asfound.cli.find import opened, state_of, tail, view_of, writer
    from asfound.cli.gas_told import counted, preview_data
    from asfound.records.gas_analysis import source_words
    from asfound.records.gas_analysis import take as keep

    records = opened(hand)
    view = view_of(records, visit)
    in_state = state_of(state)
    if in_state is None:
        raise InputError("state", state, "is no state of a visit", allowed="as_found, as_left")
    one = given(what, how, hand)
    whole = one.whole()
    who = writer(hand, records)
    entries = keep(
        records, view, whole, traces=one.traces, papers=one.papers,
        state=in_state, who=who, source=source_words(laboratory, report, whole.sampled, who),
        caption=_caption(how, one), correct=correct,
    )  # fmt: skip
    after = view_of(records, view.id)
    new = [one for one in after.findings if one.subject == "fuel" and one not in view.findings]

    def told() -> Iterator[str]:
        readings = [entry for entry in entries if entry.kind == "reading"]
        files = len(entries) - len(readings)
        yield f"Kept {len(readings)} readings and {files} files in {view.visit.name}, {in_state}."
        yield from columns([(tail(e.id), e.content["quantity"], e.content["as_typed"]) for e in readings], right=(2,))
        yield from counted(whole)
        yield from (coloured(f"  {each.code} {each.says}", each.severity) for each in new)

    data = preview_data(one) | {
        "visit": view.visit.name,
        "kept": [{"entry": e.id, "kind": e.kind, "content": dict(e.content)} for e in entries],
    }
    answer(hand, data, told)


def _caption(how: How, one: Given) -> str:
    """Return how an analysis was read, in words, for whoever opens the file later."""
    basis = one.understood.basis if one.understood else None
    parts = [f"Gas analysis, read as {basis or 'mole'} shares"]
    parts += [f"heavier components {how.heavier}"] if how.heavier else []
    parts += ["scaled to 100 %"] if how.scale else []
    parts += [f"{100 * one.air:.3g} % air taken out"] if one.air else []
    refused = one.understood.refused if one.understood else ()
    parts += [f"left out: line {', '.join(str(row.number) for row in refused)}"] if refused else []
    return ", ".join(parts)


@gas.command
def undo(visit: str, /, *, state: str = "as_found", why: str = "", hand: Hand = Hand()) -> None:
    """Take back the analysis that was taken last in a state, all of its readings; the lines stay readable.

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    state
        as_found or as_left.
    why
        What was wrong with it.
    """
    from asfound.cli.find import opened, state_of, view_of, writer
    from asfound.records.gas_analysis import undo as take_back

    records = opened(hand)
    view = view_of(records, visit)
    entries = take_back(records, view, state_of(state) or "as_found", who=writer(hand, records), why=why)
    answer(
        hand,
        [{"entry": one.id, "corrects": one.corrects} for one in entries],
        lambda: [f"Taken back: {len(entries)} readings of {view.visit.name}."],
    )


@gas.command
def show(visit: str, /, *, reference: str = "15/15", where: Home = Home()) -> None:
    """Show the gas of a visit: whose analysis, how old, what it is, and what has changed since the visit before.

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    reference
        Combustion and metering temperature: 15/15, 25/0, 60F/60F@14.73 psia.
    """
    from asfound.cli.find import opened, view_of
    from asfound.cli.gas_told import gas_data, numbers
    from asfound.fuel.gas_summary import summary
    from asfound.records.gas_analysis import kept

    view = view_of(opened(where), visit)
    states = [one for state in ("as_found", "as_left") if (one := kept(view, state))]
    if not states:
        raise InputError("visit", visit, "has no gas analysis", try_next=f"asfound gas take {visit} FILE")
    told_of = [(one, summary(one.composition.normalised(), reference_of(reference))) for one in states]
    findings = [one for one in view.findings if one.subject == "fuel"]
    data: dict[str, Any] = {
        "visit": view.visit.name,
        "states": [
            {"state": one.state, "source": one.source, "age_days": one.age_days, "gas": gas_data(one.composition),
             "properties": [ready(each) for each in found],
             "files": [entry.content["filename"] for entry in one.papers]}
            for one, found in told_of
        ],
        "findings": [ready(one) for one in findings],
    }  # fmt: skip

    def told() -> Iterator[str]:
        for one, found in told_of:
            age = f", {one.age_days:.0f} days old" if one.age_days is not None else ""
            yield coloured(f"{view.visit.name}, {one.state.replace('_', ' ')}: {one.source}{age}", "head")
            shares = [(each.quantity.removeprefix("fuel_"), each.as_typed) for each in one.readings]
            yield from columns(shares, right=(1,))
            yield from (f"from {entry.content['filename']}: {entry.content['caption']}" for entry in one.papers)
            yield from numbers(found, reference)
        yield from (coloured(f"{one.code} {one.says}. {one.next_step}", one.severity) for one in findings)

    answer(where, data, told)


@gas.command
def compare(first: str, second: str, /, *, reference: str = "15/15", how: How = How(), where: Home = Home()) -> None:
    """Compare two gases: what becomes of heating value, Wobbe index, methane number and air when one takes over.

    Parameters
    ----------
    first
        A file or a visit: the gas now.
    second
        A file or a visit: the gas to come.
    reference
        Combustion and metering temperature: 15/15, 25/0, 60F/60F@14.73 psia.
    """
    from asfound.cli.gas_told import changes
    from asfound.fuel.gas_summary import compared

    one, other = (as_whole(given((word,), how, where).whole()) for word in (first, second))
    found = compared(one, other, reference_of(reference))
    answer(where, [ready(each) | {"change": each.text} for each in found], lambda: changes(found))


gas.command(blend)
gas.command(log)
gas.command(limits)
