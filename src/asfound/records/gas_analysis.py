"""A gas analysis taken into a visit as one thing: its components, its traces, its age, and the text it came from."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any

from asfound.errors import InputError
from asfound.fuel.report_traces import Trace
from asfound.fuel.visit_analysis import ANALYSIS, HEXANE
from asfound.fuel.visit_gas import HEAVIER, OF_AN_ANALYSIS, TRACES, VisitGas, as_composition, of_composition
from asfound.quantities.display import show
from asfound.quantities.words import STATES, State
from asfound.records.entries import sha256
from asfound.records.store import Draft

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from asfound.fuel.composition import Composition
    from asfound.records.entries import Entry
    from asfound.records.store import Records
    from asfound.records.view_parts import KeptReading
    from asfound.records.visit import VisitView

PLACE, STEP = "fuel", "fuel"
NOTE = "gas analysis "
"""Beginning of the note that ties the readings of one analysis together; the digest of its text follows."""
FILLED = "its own analysis does not name it; for "
"""Beginning of the note of a component that another state's analysis brought up, so that it is not carried over."""
ALWAYS = "fuel_methane"
"""Component that the worksheets of an analysis begin with."""
TRACE_BELOW = 1e-4
"""Share from which on a component is written in per cent, below it in ppm. [mol/mol]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """What an analysis was read from."""

    content: bytes
    filename: str
    media_type: str = "text/plain"


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """An analysis as it lies on a visit."""

    state: State
    composition: Composition
    readings: tuple[KeptReading, ...]
    source: str
    age_days: float | None
    papers: tuple[Entry, ...]
    """Files it came from."""
    traces: tuple[Trace, ...] = ()
    """What it carries by mass."""


def source_words(laboratory: str, report: str, sampled: date | None, person: str = "") -> str:
    """Return who says so, in words: ``Ashgrebe laboratory, report 4711, sampled 2032-05-02``."""
    parts = (laboratory, f"report {report}" if report else "", f"sampled {sampled}" if sampled else "")
    return ", ".join(part for part in parts if part) or person


def take(
    records: Records,
    view: VisitView,
    gas: Composition,
    *,
    traces: Sequence[Trace] = (),
    papers: Sequence[Paper] = (),
    state: State = "as_found",
    who: str | None = None,
    source: str = "",
    caption: str = "",
    correct: bool = False,
) -> list[Entry]:
    """Keep an analysis in a visit, all of it or nothing.

    A component that an earlier analysis named and this one does not is kept as zero, and one that only this one names
    is kept as zero in the other state where that has an analysis of its own: two analyses never mix. Methane is always
    kept, zero where none was found: what is worked out of an analysis begins with it.

    Parameters
    ----------
    gas : Composition
        As analysed; the sampling date goes with it.
    traces : sequence of Trace
        What it carries by mass. Those below a limit are kept as such.
    papers : sequence of Paper
        The text, and the file if there was one; kept as attachments.
    state : {'as_found', 'as_left'}
        State of the visit that it belongs to.
    source : str
        Laboratory, report, date, in words.
    caption : str
        How it was read: basis, split, scaling.
    correct : bool
        Put right what was taken last in this state, instead of adding a later analysis.

    Raises
    ------
    InputError
        The sample would be from after the visit, or there is nothing to correct.
    RecordError
        The visit is sealed.
    """
    now = records.clock.now().isoformat(timespec="seconds")
    visited = date.fromisoformat(view.visit.date)
    age = gas.age_days(visited)
    counted = of_composition(gas)
    tie = NOTE + sha256(papers[0].content)[:12] if papers else NOTE + sha256(repr(gas.by_name).encode())[:12]
    common: dict[str, Any] = {"place": PLACE, "state": state, "time": now, "origin": "typed", "source": source,
                              "note": tie}  # fmt: skip
    contents = list(_contents(counted, traces, gas, age))
    before = {name: one for name in OF_AN_ANALYSIS if (one := view.readings.get(f"{state}/{PLACE}/{name}"))}
    if correct and not before:
        raise InputError("state", state, "has no analysis that could be put right", try_next="Keep it as a new one.")
    named = {str(one["quantity"]) for one in contents}
    not_named = (_read_before(view) | {ALWAYS}) - named
    contents += [_none(name) for name in sorted(not_named, key=OF_AN_ANALYSIS.index)]
    drafts = [
        Draft(
            kind="reading",
            content=common | one,
            visit=view.id,
            who=who,
            corrects=before[one["quantity"]].entry.id if correct and one["quantity"] in before else None,
        )
        for one in contents
    ]
    drafts += [
        Draft(kind="reading", content=common | one | {"state": other, "note": FILLED + tie}, visit=view.id, who=who)
        for other in STATES
        if other != state
        for one in _not_named_there(view, other, named)
    ]
    words = f"{caption or 'Gas analysis'} {_mark(tie)}"
    drafts += [_paper(records, one, state, now, words, view.id, who) for one in papers]
    return records.append_many(drafts)


def _contents(
    counted: VisitGas, traces: Iterable[Trace], gas: Composition, age: int | None
) -> Iterable[dict[str, Any]]:
    """Yield the content of each reading, without what they share."""
    for name, (value, u) in counted.fractions.items():
        content: dict[str, Any] = {"quantity": name, "value": value, **_typed_share(value)}
        if u > 0:
            content |= {"standard_uncertainty": u, "distribution": "normal"}
        elif value == 0:
            content["standard_uncertainty"] = 0.0
        yield content
    if counted.heavier is not None:
        yield {"quantity": HEAVIER, "value": counted.heavier, "as_typed": f"{counted.heavier:.4g}", "unit": "1",
               "standard_uncertainty": 0.0}  # fmt: skip
    measured = {one.quantity: one for one in traces}
    for name, mass in counted.traces.items():
        if name not in measured:
            yield {"quantity": name, "value": mass, "as_typed": str(show(mass, name)), "unit": "mg/m3(n)"}
    for one in measured.values():
        given = {"bound": one.value, "censored": "below"} if one.below else {"value": one.value}
        yield {"quantity": one.quantity, "as_typed": one.as_typed, **given}
    if age is not None and gas.sampled is not None:
        yield {"quantity": "fuel_analysis_age", "value": age * 86_400.0, "unit": "d", "as_typed": f"{age} d",
               "standard_uncertainty": 43_200.0}  # fmt: skip


def _typed_share(value: float) -> dict[str, str]:
    """Return a share as people write it."""
    if 0 < value < TRACE_BELOW:
        return {"as_typed": f"{1e6 * value:.6g} ppm", "unit": "ppm"}
    return {"as_typed": f"{100 * value:.6g} %", "unit": "%"}


def _read_before(view: VisitView) -> set[str]:
    """Return the components and traces that were read on this visit in either state."""
    return {
        name for state in STATES for name in OF_AN_ANALYSIS
        if name not in ("fuel_analysis_age", HEAVIER) and f"{state}/{PLACE}/{name}" in view.readings
    }  # fmt: skip


def _not_named_there(view: VisitView, state: State, named: set[str]) -> Iterable[dict[str, Any]]:
    """Yield what keeps components of a new analysis out of the analysis of another state, where there is one."""
    there = {name for name in OF_AN_ANALYSIS if f"{state}/{PLACE}/{name}" in view.readings}
    if not there & set(ANALYSIS):
        return
    for name in sorted(named - there, key=OF_AN_ANALYSIS.index):
        if name in ANALYSIS:
            yield _none(name)
        elif name == HEAVIER:
            yield {"quantity": name, "value": HEXANE, "as_typed": "6, as hexane", "standard_uncertainty": 0.0}


def _none(name: str) -> dict[str, Any]:
    """Return the content of a component that this analysis does not name."""
    if name in ANALYSIS:
        return {"quantity": name, "value": 0.0, "as_typed": "0 %, not named", "unit": "%", "standard_uncertainty": 0.0}
    return {"quantity": name, "as_typed": "not analysed", "missing": True}


def _paper(records: Records, paper: Paper, state: State, time: str, caption: str, visit: str, who: str | None) -> Draft:
    """Keep a file and return the entry that says what it is."""
    digest = records.attach(paper.content, paper.filename, paper.media_type)
    content = {
        "digest": digest, "filename": paper.filename, "media_type": paper.media_type, "size": len(paper.content),
        "time": time, "caption": caption, "state": state, "step": STEP, "place": PLACE,
    }  # fmt: skip
    return Draft(kind="photo", content=content, visit=visit, who=who)


def undo(records: Records, view: VisitView, state: State, *, who: str | None = None, why: str = "") -> list[Entry]:
    """Take back the analysis that holds in a state, all of its readings; the lines stay readable.

    Raises
    ------
    InputError
        There is none that was taken as one.
    """
    tie = _tie(view, state)
    entries = [
        one.entry for one in view.readings.values() if tie and one.note == (tie if one.state == state else FILLED + tie)
    ]
    if not entries:
        raise InputError("state", state, "has no analysis that was taken as one", allowed="as_found, as_left",
                         try_next="Take single readings back by themselves.")  # fmt: skip
    entries += [  # the files that came with it
        one for one in view.photos
        if one.content.get("state") == state and str(one.content.get("caption", "")).endswith(_mark(tie))
    ]  # fmt: skip
    return records.append_many(
        [Draft(kind="withdrawn", content={"why": why}, visit=view.id, corrects=one.id, who=who) for one in entries]
    )


def _mark(tie: str) -> str:
    """Return what ends the caption of a file, so that it is known which analysis it came with."""
    return f"[{tie.removeprefix(NOTE)}]"


def _tie(view: VisitView, state: State) -> str:
    """Return the note of the analysis that was taken last in a state; empty where there is none."""
    tied = [
        one for one in view.readings.values()
        if one.state == state and one.quantity in ANALYSIS and one.note.startswith(NOTE)
    ]  # fmt: skip
    return max(tied, key=lambda one: one.entry.id).note if tied else ""


def kept(view: VisitView, state: State) -> Kept | None:
    """Return the analysis of a state; None where no component was read in it."""
    there = [
        view.readings[key] for name in OF_AN_ANALYSIS if (key := f"{state}/{PLACE}/{name}") in view.readings
    ]  # fmt: skip
    shares = {
        one.quantity: (one.value, one.standard_uncertainty)
        for one in there
        if one.quantity in ANALYSIS and one.value is not None and not one.missing
    }
    if not shares:
        return None
    age = next((one.value / 86_400 for one in there if one.quantity == "fuel_analysis_age" and one.value), None)
    source = next((one.said_by for one in there if one.quantity in ANALYSIS), "").replace(USUAL, "")
    heavier = next((one.value for one in there if one.quantity == HEAVIER and one.value), HEXANE)
    return Kept(
        state=state,
        composition=replace(
            as_composition(shares, heavier=heavier), source=f"{view.visit.name}, {state.replace('_', ' ')}"
        ),
        readings=tuple(there),
        source=source,
        age_days=age,
        traces=tuple(
            Trace(quantity=one.quantity, value=mass, as_typed=one.as_typed, below=one.censored == "below")
            for one in there
            if one.quantity in TRACES and (mass := one.bound if one.censored else one.value) is not None
        ),
        papers=tuple(
            one for one in view.photos if one.content.get("place") == PLACE and one.content.get("state") == state
        ),
    )


USUAL = " (doubt as usual for such instruments)"
