"""Findings of sensor or cylinder: the verdict with its doubt, the runner-up, what to hear next."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.cylinders.inference_knowledge import knowledge
from asfound.cylinders.inference_next import Next
from asfound.cylinders.inference_words import in_hundred
from asfound.cylinders.judge_case import verdicts
from asfound.cylinders.order_of_visit import in_truth, shows
from asfound.cylinders.sensor_or_cylinder import TOLD, Verdict
from asfound.cylinders.witnesses import statements_of
from asfound.cylinders.witnesses_shared import shared_moved
from asfound.errors import AsFoundError
from asfound.evidence import OTHER
from asfound.quantities.findings import Case
from asfound.quantities.words import STATES, Finding, Severity, State

AGAINST = 4.0
"""Two witnesses contradict each other when each makes its side so many times as probable (own setting)."""
MOVED = 0.9
"""A shared witness has moved when that is so probable (own setting)."""


def find(case: Case) -> Iterator[Finding]:
    """Yield the verdict on each odd cylinder of each state of the visit."""
    for state in STATES:
        try:
            found = verdicts(case, state)
        except AsFoundError as fault:
            yield Finding(
                code="CY-38",
                subject="cylinders",
                says=f"What was seen of a cylinder cannot be weighed: {fault}",
                severity="note",
                next_step="Correct that look in the record.",
                state=state,
            )
            continue
        entries = shows(case, state) if found else {}
        for place, verdict in found.items():
            yield _verdict(place, verdict, state, in_truth(entries, verdict.cylinder))
            yield from _contradiction(place, verdict, state)
        yield from _moved_alone(case, state, odd=bool(found))


def _verdict(place: str, verdict: Verdict, state: State, truly: str) -> Finding:
    """Return the finding of one odd cylinder."""
    code, severity = _code(verdict)
    best = _named(verdict.top)
    next_ = best_next(verdict)
    return Finding(
        code=code,
        subject="cylinders",
        says=f"Cylinder {verdict.cylinder}{truly}: {verdict.says}",
        severity=severity,
        next_step=_step(verdict, code, next_),
        compared_with=f"{len(verdict.wires)} witnesses that do not share a wire" if verdict.wires else "no witness",
        probability=verdict.sides[verdict.side],
        because=tuple(dict.fromkeys(key for one in verdict.testimony for key in one.statement.because)),
        cautions=_cautions(verdict, next_),
        state=state,
        extra={
            "place": place,
            "side": verdict.side,
            "cause": best,
            "runner_up": f"{_named(verdict.runner_up)} ({in_hundred(verdict.causes[verdict.runner_up])})",
            "next": next_.name if next_ else "",
            "witnesses": "; ".join(f"{one.title}: {one.says} - {one.side}" for one in verdict.testimony),
        },
    )


def _code(verdict: Verdict) -> tuple[str, Severity]:
    """Return code and severity of a verdict."""
    side, sure = verdict.side, verdict.sides[verdict.side] >= TOLD
    if len(verdict.wires) < 2:
        return "CY-33", "visit" if verdict.misfire > 0.5 else "soon"
    if side == OTHER:
        return "CY-39", "soon"
    if side == "nothing":
        return "CY-32", "note"
    if not sure:
        return "CY-32", "visit" if verdict.sides["cylinder"] >= verdict.sides["sensor"] else "soon"
    if side == "cylinder":
        return "CY-30", "visit"
    if verdict.top == "sensor_swapped":
        return "CY-34", "soon"
    if verdict.top == "sensor_type":
        return "CY-35", "soon"
    return "CY-31", "soon"


def _step(verdict: Verdict, code: str, next_: Next | None) -> str:
    """Return what to do: the remedy where the cause is told, what to hear next, and what not to do yet."""
    known = knowledge()
    said = []
    if next_ is not None:
        where = "" if next_.engine_state in ("any", "running") else f", engine {next_.engine_state}"
        said.append(f"Next: {next_.does} ({next_.own_minutes:.0f} min{where}).")
    if verdict.top in known.causes and code in ("CY-30", "CY-31", "CY-34", "CY-35"):
        does = known.causes[verdict.top].does
        said.append(f"If it is what is most probable: {does}.")
    if code == "CY-33":
        said.append("Change no sensor and open no cylinder on one witness.")
    elif verdict.side == "sensor" and "channel_proved" not in {one.statement.witness for one in verdict.testimony}:
        said.append("Before a sensor is renewed, prove that this channel is of this cylinder.")
    if code == "CY-30" and verdict.misfire > 0.5:
        said.append("What does not burn in the cylinder burns after it: run so only as the engine's own manual allows.")
    return " ".join(said) or "Watch it at the next visit."


def best_next(verdict: Verdict) -> Next | None:
    """Return the witness to hear next: the best one now, unless it tells next to nothing and one with a stop does."""
    now, later = verdict.next[:1], verdict.next_later[:1]
    if later and (not now or (now[0].share_of_doubt < 0.05 and later[0].share_of_doubt > 0.1)):
        return later[0]
    return now[0] if now else None


def _cautions(verdict: Verdict, next_: Next | None) -> tuple[str, ...]:
    """Return the cautions of the next step, and those of gas that does not burn where that is probable."""
    own = next_.cautions if next_ else ()
    gas = ("unburnt", "catheat") if verdict.misfire > 0.5 else ()
    return tuple(dict.fromkeys((*own, *gas, "protect", "local")))


def _named(cause: str) -> str:
    return "something else, or more than one thing" if cause == OTHER else knowledge().causes[cause].title


def _contradiction(place: str, verdict: Verdict, state: State) -> Iterator[Finding]:
    """Yield witnesses that speak strongly against each other: one of them, or the record, is wrong."""
    for_cylinder = [one for one in verdict.testimony if one.factor >= AGAINST]
    for_sensor = [one for one in verdict.testimony if one.factor <= 1 / AGAINST]
    if not (for_cylinder and for_sensor):
        return
    one, two = max(for_cylinder, key=lambda it: it.factor), min(for_sensor, key=lambda it: it.factor)
    if one.wire == two.wire:
        return
    yield Finding(
        code="CY-36",
        subject="cylinders",
        says=(
            f"Cylinder {verdict.cylinder}: {one.title.lower()} ({one.says}) speaks for the cylinder, "
            f"{two.title.lower()} ({two.says}) for the sensor"
        ),
        severity="clash",
        next_step="See that both are of this cylinder and of the same time; two things may be wrong at once.",
        because=tuple(dict.fromkeys((*one.statement.because, *two.statement.because))),
        state=state,
        extra={"place": place},
    )


def _moved_alone(case: Case, state: State, *, odd: bool) -> Iterator[Finding]:
    """Yield a shared witness that moved as by a misfire while no cylinder reads odd."""
    if odd:
        return
    for statement, probability in shared_moved(statements_of(case, state)):
        if probability < MOVED:
            continue
        title = knowledge().witnesses[statement.witness].title
        yield Finding(
            code="CY-37",
            subject="cylinders",
            says=f"{title} moved as by a cylinder that does not fire, and no cylinder reads odd: {statement.says}",
            severity="visit",
            next_step=(
                "Look at ignition demand and knock of all cylinders. A frozen or swapped entry hides a cold cylinder; "
                "a mixture that was moved does the same to the oxygen."
            ),
            probability=probability,
            because=statement.because,
            cautions=("unburnt", "catheat", "local"),
            state=state,
        )
