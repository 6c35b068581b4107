"""Findings of an open case: what is urgent, what leads, what the next step is, what does not go together."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime

from asfound.quantities.words import Finding, Severity
from asfound.troubleshoot.belief import OTHER
from asfound.troubleshoot.cautions import LICENSED
from asfound.troubleshoot.shown import Trouble, WitnessRow

SUBJECT = "troubleshoot"
DOES = {"test": "Next test", "repair": "Repair, run, and see", "call": "Call"}


def find(trouble: Trouble) -> Iterator[Finding]:
    """Yield the findings of the case of a visit."""
    yield from _problems(trouble)
    if trouble.phase in ("open", "cured"):
        yield from _disagree(trouble)
    if trouble.phase == "open":
        yield from _urgent(trouble)
        yield from _leads(trouble)
        yield from _call(trouble)
    elif trouble.phase == "cured":
        yield from _cured(trouble)
    elif trouble.phase == "closed":
        yield from _closed(trouble)


def _urgent(trouble: Trouble) -> Iterator[Finding]:
    if not trouble.urgent or not trouble.now.can_run or trouble.now.state != "running":
        return
    titles = [trouble.titles[name] for name in trouble.urgent]
    told = [one for one in trouble.witnesses if one.about in trouble.urgent and one.weighs == "yes"]
    if _decided(trouble, told):
        return
    yield _finding(
        "TS-03",
        "stop",
        f"{'; '.join(titles)}: whether the engine runs on is decided first.",
        "Decide by the engine's own manual and the rules of the site, with whoever is responsible, and write down what "
        "may be done now (run on or not); tests on the running engine wait for that.",
        because=_entries(told),
    )


def _decided(trouble: Trouble, told: Iterable[WitnessRow]) -> bool:
    """Whether somebody said what may be done after the last urgent symptom was told."""
    if trouble.allowed is None or not trouble.allowed.time:
        return False
    said = datetime.fromisoformat(trouble.allowed.time)
    return all(bool(one.time) and datetime.fromisoformat(one.time) <= said for one in told)


def _leads(trouble: Trouble) -> Iterator[Finding]:
    first, second, decision = trouble.leader, trouble.runner_up, trouble.decision
    if first is None or second is None or decision is None:
        return
    step = decision.first
    if first.id == OTHER:
        yield _finding(
            "TS-07",
            "soon",
            f"What was told fits none of the causes that are known here: something else, or more than one, "
            f"has {_in_100(first.p)}; the likeliest known cause is {second.title} with {_in_100(second.p)}.",
            "Look again at what was told, one thing at a time; ask whether two faults can be there at once.",
            probability=first.p,
            because=_entries(trouble.witnesses),
        )
        return
    why = next((one for one in trouble.tests if one.id == step.id), None)
    costs = f" ({step.minutes:.0f} min as counted)" if step.does != "call" else ""
    tells = f" It tells {why.bits:.2f} bit of {trouble.doubt:.1f}." if why else ""
    yield _finding(
        "TS-01",
        "visit",
        f"{first.title}: {_in_100(first.p)}. Next: {second.title}, {_in_100(second.p)}.",
        f"{DOES[step.does]}: {step.title}{costs}.{tells}",
        probability=first.p,
        because=_entries(trouble.witnesses),
        cautions=tuple(one.tag for one in step.cautions),
        extra={"runner_up": second.id, "step": step.id, "does": step.does},
    )


def _call(trouble: Trouble) -> Iterator[Finding]:
    if not trouble.call:
        return
    yield _finding(
        "TS-04",
        "visit",
        "No test or repair that can be made now is worth its minutes.",
        f"Call for help with what was seen, what was tried, and what is still possible. {LICENSED}",
        because=_entries(trouble.witnesses),
    )


def _disagree(trouble: Trouble) -> Iterator[Finding]:
    for pair in trouble.tests_disagree:
        told = [one for one in trouble.witnesses if one.about in (pair.one, pair.other)]
        yield _finding(
            "TS-02",
            "clash",
            f"Two tests do not go together: {pair.says}",
            "Make the one that is quicker again; if both stand, ask whether there are two faults.",
            because=_entries(told),
            extra={"tests": f"{pair.one}, {pair.other}"},
        )
    for one in trouble.contradictions:
        told = [row for row in trouble.witnesses if row.about == one.about]
        yield _finding(
            "TS-05",
            "clash",
            one.says,
            "Look again; correct what was told, or judge the reading behind the finding false.",
            because=_entries(told),
            extra={"about": one.about, "code": one.code},
        )


def _cured(trouble: Trouble) -> Iterator[Finding]:
    told = [one for one in trouble.witnesses if one.says == "cured"]
    first = trouble.leader
    yield _finding(
        "TS-06",
        "visit",
        f"Cured: {'; '.join(one.title for one in told)}. The case is not closed.",
        f"Close it with the cause ({first.title if first else 'as found'}) and how it is known; close it as believed "
        "where the part itself was not seen and the fault may come back.",
        because=_entries(told),
    )


def _closed(trouble: Trouble) -> Iterator[Finding]:
    closed = trouble.closed
    if closed is None or closed.confirmed != "believed":
        return
    yield _finding(
        "TS-08",
        "soon",
        f"Closed as believed: {trouble.titles.get(closed.cause, closed.cause)}; neither a repair nor a look confirmed "
        "it, so it does not count among the closed cases.",
        "Look at it again at the next visit.",
        because=(closed.entry,) if closed.entry else (),
    )


def _problems(trouble: Trouble) -> Iterator[Finding]:
    for said in trouble.problems:
        yield _finding("TS-09", "soon", said, "Put the entry or the file right; everything else is weighed.")


def _finding(
    code: str,
    severity: Severity,
    says: str,
    next_step: str,
    *,
    probability: float | None = None,
    because: tuple[str, ...] = (),
    cautions: tuple[str, ...] = (),
    extra: dict[str, str] | None = None,
) -> Finding:
    return Finding(
        code=code,
        subject=SUBJECT,
        says=says,
        severity=severity,
        next_step=next_step,
        probability=probability,
        because=because,
        cautions=cautions,
        extra=extra or {},
    )


def _entries(told: Iterable[WitnessRow]) -> tuple[str, ...]:
    rows = [one for one in told if one.weighs in ("yes", "contradicted")]
    return tuple(dict.fromkeys(one.entry or one.code for one in rows))


def _in_100(p: float) -> str:
    return f"{100 * p:.0f} in 100"
