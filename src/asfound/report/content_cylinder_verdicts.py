"""Sensor or cylinder, as pages and papers show it: the verdict with its doubt, its witnesses, what to hear next."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from asfound.cylinders.findings_cylinder import best_next
from asfound.cylinders.inference_knowledge import knowledge
from asfound.cylinders.inference_words import in_hundred
from asfound.cylinders.judge_case import verdicts
from asfound.cylinders.order_of_visit import shows
from asfound.cylinders.sensor_or_cylinder import TOLD, judge
from asfound.cylinders.witnesses import statements_of
from asfound.errors import AsFoundError
from asfound.evidence import OTHER
from asfound.quantities.units import unit
from asfound.quantities.words import STATES
from asfound.report.beam import Leaning
from asfound.report.content_cylinders import DEVIATION, port_states
from asfound.report.content_lanes import MARKS, STATE_WORDS
from asfound.report.wording import day_words, unit_words

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from asfound.cylinders.inference_knowledge import Witness
    from asfound.cylinders.inference_next import Next
    from asfound.cylinders.sensor_or_cylinder import Testimony, Verdict
    from asfound.quantities.findings import Case
    from asfound.quantities.words import State
    from asfound.report.axis import State as MarkState
    from asfound.report.content_cylinders import Cylinders, Port, PortState
    from asfound.report.wording import System

Speaks = Literal["sensor", "cylinder", "does not tell", "could not tell", "open"]
HEADS = {
    "sensor": "The sensor.",
    "cylinder": "The cylinder.",
    "nothing": "Nothing is wrong with either.",
    OTHER: "Something else, or more than one thing.",
}
SHORT = {"sensor": "sensor", "cylinder": "cylinder", "nothing": "neither", OTHER: "something else"}
SPOKEN: dict[str, str] = {
    "sensor": "says sensor",
    "cylinder": "says cylinder",
    "does not tell": "does not tell them apart",
    "could not tell": "looked, could not tell",
    "open": "not looked",
}
MOST_OPEN = 4
"""Witnesses that nobody has heard are named up to so many; the others are folded."""
_KELVIN = re.compile(r"([+\-−]?)(\d+(?:\.\d+)?) K\b")
_MINUS = re.compile(r"(?<![\w\d])-(?=\d)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """What a witness said at one event."""

    side: Speaks
    head: str
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """How a witness is asked, and what can be answered."""

    witness: str
    title: str
    does: str
    minutes: float
    stop: str
    """What must be done to the engine first; empty where it is as it must be."""
    answers: tuple[tuple[str, str], ...]
    """Name and words of each; that nobody could tell is not among them."""
    number: bool
    """It can be read as a number as well."""
    cautions: tuple[str, ...]
    share: float
    """What it takes of the present doubt, on average; 0 where it was heard or tells next to nothing."""
    typed: str
    """State that was answered here, or ``could_not_tell``; empty where nobody answered."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WitnessRow:
    """One witness through the events."""

    title: str
    cells: tuple[Cell, ...]
    ask: Ask | None
    """None for one that nobody can be asked: it is read off the others."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CylinderVerdict:
    """What to believe of one odd cylinder."""

    port: Port
    name: str
    """Without the prefix of its place: ``L4``."""
    state: State
    """The state that the answers belong to."""
    head: str
    chance: str
    says: tuple[str, ...]
    picture: dict[str, Any]
    """For `report.svg.beam`."""
    events: tuple[tuple[str, str], ...]
    """Head of each column of the witnesses, and the same in short."""
    rows: tuple[WitnessRow, ...]
    """Heard ones, then the few most worth hearing, best first."""
    rest: tuple[Ask, ...]
    """The others: less worth for each minute, or nothing now."""
    next: Ask | None
    probability: float
    causes: tuple[tuple[str, float, str], ...]
    """Title, probability and what to do of the most probable causes."""
    does: str
    """What to do if it is what is most probable; empty as long as the side is not told."""


@dataclass(frozen=True, slots=True)
class _Event:
    verdict: Verdict
    mark: MarkState
    head: str
    short: str
    on_the_line: bool = True
    """False: only what was looked at; too little for a verdict of its own."""


def cylinder_verdicts(
    case: Case, before: Case | None, shown: Cylinders, system: System, *, column: State = "as_found"
) -> tuple[CylinderVerdict, ...]:
    """Return the verdict on every odd cylinder, the one that stands farthest apart first.

    Parameters
    ----------
    case : Case
    before : Case or None
        Of the last visit (`report.case_then.case_then`).
    shown : Cylinders
    system : {'si', 'us'}
    column : {'as_found', 'as_left'}
        Where both states have a verdict, answers go into this one.
    """
    events: dict[str, list[_Event]] = {}
    by_state = {state: _verdicts(case, state) for state in STATES}
    if not any(by_state.values()):
        return ()
    then = _last(before)
    for place in {place for found in by_state.values() for place in found}:
        mine = [then[1][place]] if then and place in then[1] else []
        day = day_words(str(case_day(before))) if before is not None else ""
        events[place] = [_Event(one, "before", f"Last visit, {day}", day) for one in mine]
        for state, found_there in by_state.items():
            head = STATE_WORDS[state].capitalize()
            if place in found_there:
                events[place].append(_Event(found_there[place], MARKS[state], head, head))
            elif (looked := _looked_only(case, place, state)) is not None:
                events[place].append(_Event(looked, MARKS[state], head, head, on_the_line=False))
    ports = {one.place: one for one in shown.ports}
    stood = port_states(before, system) if before is not None else {}
    made = []
    for place, found in events.items():
        states: list[State] = [state for state in STATES if place in by_state[state]]
        state = column if column in states else states[0]
        if place in ports:
            made.append(_made(ports[place], state, found, by_state[state][place], case, stood.get(place), system))
    return tuple(sorted(made, key=lambda one: -_apart(shown, one)))


def case_day(case: Case | None) -> str:
    """Return the day of a case's visit."""
    return str(case.visit.get("date") or case.visit.get("began") or "") if case is not None else ""


def _verdicts(case: Case, state: State) -> dict[str, Verdict]:
    """Return the verdicts; none where what was typed cannot be weighed (a finding says so)."""
    try:
        return verdicts(case, state)
    except AsFoundError:
        return {}


def _looked_only(case: Case, place: str, state: State) -> Verdict | None:
    """Return what was looked at in a state in which the cylinder is not judged; None where nobody looked."""
    if not _typed(case, place, state):
        return None
    try:
        return judge(statements_of(case, state)[place], ask=False)
    except AsFoundError:
        return None


def _last(before: Case | None) -> tuple[str, dict[str, Verdict]] | None:
    """Return what the last visit left to be believed, else what it found."""
    if before is None:
        return None
    return next(((state, found) for state in reversed(STATES) if (found := _verdicts(before, state))), None)


def _apart(shown: Cylinders, one: CylinderVerdict) -> float:
    spread = shown.spread.get(one.state)
    found = spread.at(one.port.place) if spread else None
    away = abs(found.deviation) if found is not None else 0.0
    return away if away == away else 0.0


def _made(
    port: Port,
    state: State,
    events: Sequence[_Event],
    now: Verdict,
    case: Case,
    then: PortState | None,
    system: System,
) -> CylinderVerdict:
    asked = {one.name: one for one in (*now.next, *now.next_later)}
    typed = _typed(case, port.place, state)
    heard = list(dict.fromkeys(one.statement.witness for event in events for one in event.verdict.testimony))
    wanted = [name for name in _by_worth(now) if name not in heard][:MOST_OPEN]
    known = knowledge().witnesses
    asks = {
        name: found
        for name, one in known.items()
        if (found := _ask(one, asked.get(name), typed.get(name, ""), case)) is not None
    }
    rows = tuple(
        WitnessRow(
            title=known[name].title,
            cells=tuple(_cell(event.verdict, name, system) for event in events),
            ask=asks.get(name),
        )
        for name in (*heard, *wanted)
    )
    side = now.side
    sure = now.sides[side] >= TOLD
    proposed = next((name for name in _by_worth(now) if name not in heard), "")
    remedy = knowledge().causes[now.top].does if sure and side in ("sensor", "cylinder") and now.top != OTHER else ""
    return CylinderVerdict(
        port=port,
        name=port.place.removeprefix("cylinder_"),
        state=state,
        head=HEADS[side] if sure else "Not told yet.",
        chance=in_hundred(now.sides[side])
        if sure
        else f"sensor {in_hundred(now.sides['sensor'])}, cylinder {in_hundred(now.sides['cylinder'])}",
        says=(*_behind(case, state, port), *_says(now, events, state, port, then)),
        picture=_beam(port, events),
        events=tuple((one.head, one.short) for one in events),
        rows=rows,
        rest=tuple(asks[name] for name in dict.fromkeys([*_by_worth(now), *asks]) if name not in {*heard, *wanted}),
        next=asks.get(proposed),
        probability=now.sides[side],
        causes=tuple(
            (_cause(name), p, knowledge().causes[name].does if name != OTHER else "") for name, p in now.ranked[:3]
        ),
        does=remedy,
    )


def _behind(case: Case, state: State, port: Port) -> tuple[str, ...]:
    """Return in a sentence which cylinder the entry shows, where that is another one."""
    name = port.place.removeprefix("cylinder_")
    other = shows(case, state).get(name)
    return (f"The entry of {name} shows cylinder {other}: look at {other}.",) if other else ()


def _by_worth(verdict: Verdict) -> list[str]:
    """Return the witnesses worth hearing: the one that is proposed first, then those that need no stop."""
    top = best_next(verdict)
    names = [top.name] if top is not None else []
    return list(dict.fromkeys([*names, *(one.name for one in (*verdict.next, *verdict.next_later))]))


def _cause(name: str) -> str:
    return "something else, or more than one thing" if name == OTHER else knowledge().causes[name].title


def _says(now: Verdict, events: Sequence[_Event], state: State, port: Port, then: PortState | None) -> tuple[str, ...]:
    """Return in a few sentences how many witnesses tell, what is most probable, and what it was before."""
    said = []
    count = len(now.wires)
    if count == 0:
        said.append("No witness tells the two apart yet.")
    elif count == 1:
        held = f", so it is held at {in_hundred(now.bound)} at most" if now.bounded else ""
        said.append(f"One witness alone is not enough{held}.")
    else:
        said.append(f"{_count(count)} witnesses that do not share a wire tell the two apart.")
    (first, p1), (second, p2) = [pair for pair in now.ranked if pair[0] != "sound"][:2]
    said.append(f"Most probable: {_cause(first)} ({in_hundred(p1)}), then {_cause(second)} ({in_hundred(p2)}).")
    before = next((one for one in events if one.mark == "before"), None)
    if before is not None:
        side = before.verdict.side
        chance = before.verdict.sides[side]
        if side != now.side and chance >= TOLD:
            said.append(
                f"At the last visit it was the {SHORT[side]} ({in_hundred(chance)}); that was another event, judged by "
                "itself."
            )
    elif then is not None and then.deviation and not then.odd:
        said.append(f"At the last visit it did not stand apart ({then.deviation}).")
    if state == "as_found" and "as_left" in port.states and port.states["as_left"].deviation:
        left = port.states["as_left"]
        if not left.odd:
            said.append(f"As left it does not stand apart any more ({left.deviation}).")
    return tuple(said)


def _count(count: int) -> str:
    words = ("No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine")
    return words[count] if count < len(words) else str(count)


def _beam(port: Port, events: Sequence[_Event]) -> dict[str, Any]:
    leanings = []
    for one in (each for each in events if each.on_the_line):
        sides, best = one.verdict.sides, one.verdict.side
        told = sides[best] >= TOLD
        words = (
            f"{SHORT[best]}, {in_hundred(sides[best])}"
            if told
            else f"not told, {round(100 * sides[best])} in 100 {SHORT[best]}"
        )
        leanings.append(
            Leaning(sensor=sides["sensor"], cylinder=sides["cylinder"], state=one.mark, text=f"{one.short}: {words}")
        )
    label = f"Cylinder {port.builder}, sensor or cylinder: " + "; ".join(one.text for one in leanings) + "."
    return {"events": tuple(leanings), "label": label}


# ---------------------------------------------------------------------- witnesses


def _cell(verdict: Verdict, name: str, system: System) -> Cell:
    found = [one for one in verdict.testimony if one.statement.witness == name]
    if not found:
        return Cell(side="open", head=SPOKEN["open"], says="")
    one = found[-1]
    side: Speaks = "could not tell" if one.statement.could_not_tell else one.side
    return Cell(side=side, head=SPOKEN[side], says="" if side == "could not tell" else _said(one, system))


def _said(one: Testimony, system: System) -> str:
    """Return what was said in the reader's units, with who told it where it was told."""
    by = f" ({one.statement.by})" if one.statement.by and one.statement.how in ("paper", "hearsay") else ""
    told = {"paper": ", from paper", "hearsay": ", told"}.get(one.statement.how, "")
    return in_reader_units(one.says, system) + told + by


def in_reader_units(text: str, system: System) -> str:
    """Return a sentence with differences of temperature in the reader's unit and with true minus signs.

    >>> in_reader_units("-54 K against its bank", "us")
    '−97 °F against its bank'
    """
    symbol = unit_words(DEVIATION, system)
    factor = unit(symbol).factor

    def turned(found: re.Match[str]) -> str:
        decimals = len(found[2].partition(".")[2])
        return f"{found[1]}{float(found[2]) / factor:.{decimals}f} {symbol}"

    return _MINUS.sub("−", _KELVIN.sub(turned, text))


def _ask(witness: Witness, asked: Next | None, typed: str, case: Case) -> Ask | None:
    if witness.asked is None:
        return None
    now = str(case.visit.get("engine_state") or "running")
    wants = witness.asked.state
    there = wants in ("any", now) or (wants == "stopped" and now == "isolated")
    stop = (
        "" if there else {"running": "engine running", "stopped": "needs a stop", "isolated": "engine isolated"}[wants]
    )
    return Ask(
        witness=witness.name,
        title=witness.title,
        does=witness.asked.does,
        minutes=witness.asked.minutes,
        stop=stop,
        answers=tuple((name, one.says) for name, one in witness.states.items()),
        number=witness.measured,
        cautions=tuple(witness.asked.cautions),
        share=asked.share_of_doubt if asked is not None else 0.0,
        typed=typed,
    )


def _typed(case: Case, place: str, state: State) -> Mapping[str, str]:
    """Return what was answered for one cylinder in one state, by witness."""
    found = {}
    for look in case.visit.get("cylinder_looks") or ():
        name = str(look["cylinder"])
        if (name if name.startswith("cylinder_") else f"cylinder_{name}") != place:
            continue
        if look.get("state_of_visit", "as_found") == state:
            found[str(look["witness"])] = (
                "could_not_tell" if look.get("could_not_tell") else str(look.get("state") or "")
            )
    return found
