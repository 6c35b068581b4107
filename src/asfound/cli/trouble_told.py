"""The trouble of a visit as lines on a terminal, and as data for programs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.cli.answer import coloured, columns, ready, wrapped
from asfound.report.content_trouble import hazards
from asfound.troubleshoot.fault_names import CodeName, name_of
from asfound.troubleshoot.rows import SAYS

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from asfound.records.visit import VisitView
    from asfound.troubleshoot.decide import Planned
    from asfound.troubleshoot.fault_codes import FaultMessage
    from asfound.troubleshoot.shown import RepairRow, TestRow, Trouble

CAUSES, TESTS, WITNESSES = 8, 5, 40
"""So many rows are shown on a terminal; --json gives all."""
DEEP = 4
"""Steps of a plan that are shown in a row."""
DOES = {"test": "Test", "repair": "Repair", "call": "Call"}


def trouble_json(view: VisitView, found: Trouble) -> dict[str, Any]:
    """Return everything for programs; chances in [0, 1], times in minutes, doubt in bits."""
    left_out = ("knowledge", "titles", "code_names", "before_all")
    whole = {name: getattr(found, name) for name in found.__dataclass_fields__ if name not in left_out}
    data = {"visit": view.visit.name, **whole, "before_all": found.before_all}
    data["knowledge"] = {"name": found.knowledge.name, "edition": found.knowledge.edition}
    plain = ready({**data, "now": _now(found)})
    assert isinstance(plain, dict)
    return plain


def _now(found: Trouble) -> dict[str, Any]:
    now = found.now
    return {
        "state": now.state, "can_run": now.can_run, "may_stop": now.may_stop, "may_isolate": now.may_isolate,
        "barred": sorted(now.barred), "says": found.now_says,
    }  # fmt: skip


def told(found: Trouble) -> Iterator[str]:
    """Yield how the trouble stands: what is urgent first, then belief, what it rests on, the next step, all else."""
    yield coloured(found.says, "head")
    if found.urgent and found.phase == "open":
        yield from (coloured(line, "stop") for line in wrapped(found.before_all))
    if found.phase == "nothing_told":
        yield "Tell a symptom: asfound trouble saw VISIT SYMPTOM present"
        yield from _protections(found)
        return
    yield found.now_says
    rows = [
        (f"{100 * one.p:.0f}", f"{100 * one.before:.1f}", one.id, one.title, _closed(found, one.id))
        for one in found.causes[:CAUSES]
    ]
    yield from columns(rows, ("in 100", "before", "cause", "", ""), right=(0, 1))
    yield from _witnesses(found)
    yield from _next(found)
    yield from _rest(found)
    yield from _protections(found)


def _closed(found: Trouble, cause: str) -> str:
    return next((one.says for one in found.priors_moved if one.cause == cause), "")


def _witnesses(found: Trouble) -> Iterator[str]:
    if not found.witnesses:
        return
    yield coloured("What it rests on", "head")
    rows = [
        (
            one.time[11:16] or one.code,
            f"{one.title}{f', {one.place}' if one.place else ''}",
            SAYS[one.says],
            f"{one.decibans:+.1f} dB" if one.weighs == "yes" else one.why,
        )
        for one in found.witnesses[:WITNESSES]
    ]
    yield from columns(rows, ("  when", "what", "says", "for the first against the second"))
    clashes = [*(one.says for one in found.contradictions), *(one.says for one in found.tests_disagree)]
    for clash in clashes:
        yield from (coloured(line, "clash") for line in wrapped(clash, "  "))


def _next(found: Trouble) -> Iterator[str]:
    decision = found.decision
    if decision is None:
        if found.stop_says:
            yield from wrapped(found.stop_says)
        return
    step = decision.first
    yield coloured(f"{DOES[step.does]}: {step.title}", "visit")
    yield from wrapped(decision.why, "  ")
    for caution in step.cautions:
        yield from wrapped(f"{caution.hazard}: {'; '.join(caution.do)}. [{caution.rests_on}]", "  ! ")
    row = next((one for one in found.tests if one.id == step.id), None)
    if row is not None:
        yield f"  Positive when: {row.positive}"
        for says, fork in row.forks.items():
            leads = ", ".join(f"{one.title} {100 * one.after:.0f}" for one in fork.causes[:3])
            yield from wrapped(f"{says} ({100 * fork.chance:.0f} in 100): {leads}", "  ")
    others = [one for one in found.tests if one.id != step.id][:TESTS]
    if others:
        yield "Other tests"
        rows = [(f"{one.bits:.2f}", f"{one.cost:.0f}", one.state, one.id, _minded(one)) for one in others]
        yield from columns(rows, ("  bit", "min", "engine", "test", ""), right=(0, 1))
    yield from wrapped(decision.weighed)


def _rest(found: Trouble) -> Iterator[str]:
    repairs = [one for one in found.repairs if not one.says][:TESTS]
    if repairs:
        yield "Repairs"
        rows = [(f"{100 * one.chance:.0f}", f"{one.cost:.0f}", one.state, one.id, _minded(one)) for one in repairs]
        yield from columns(rows, ("  in 100", "min", "engine", "repair", ""), right=(0, 1))
    if found.barred:
        yield "Not now"
        yield from columns([(f"  {one.id}", one.title, one.why) for one in found.barred[:TESTS]])
    for said in (found.why_generic, *found.problems):
        if said:
            yield from wrapped(said)


def _minded(one: TestRow | RepairRow) -> str:
    """Return the title of a step with its hazards in short words; whole cautions stand before the step that is next."""
    minded = hazards(one.cautions)
    return f"{one.title}. Mind: {', '.join(minded)}" if minded else one.title


def _protections(found: Trouble) -> Iterator[str]:
    out = [one for one in found.protections if one.says != "in_force"]
    for one in out:
        words = f" (setting {one.of_setting})" if one.of_setting else ""
        yield coloured(f"Protection: {one.title}: {one.says}{words}", "stop")


def plan_told(found: Trouble) -> Iterator[str]:
    """Yield the plan, answer by answer, to `DEEP` steps."""
    if found.decision is None:
        return
    yield coloured("The plan", "head")
    for depth, answer, step in found.decision.first.walk():
        if depth < DEEP:
            yield from wrapped(_planned(answer, step), "  " * (depth + 1))


def _planned(answer: str, step: Planned) -> str:
    leads = f"{SAYS.get(answer, answer)}: " if answer else ""
    return f"{leads}{DOES[step.does]}: {step.title} ({step.cost:.0f} min expected from here)"


def codes_data(messages: Sequence[FaultMessage], names: Mapping[tuple[int, int | None], CodeName]) -> list[Any]:
    """Return fault messages for programs."""
    return [
        {
            "address": one.address,
            "active": one.active,
            "lamps": dict(one.lamps),
            "faults": [
                {
                    "spn": fault.spn, "fmi": fault.fmi, "occurrences": fault.occurrences, "means": fault.means,
                    "first": fault.first, "makers_own": fault.makers_own, "older_layout": fault.older_layout,
                    "name": ready(name_of(fault.spn, fault.fmi, names)),
                }
                for fault in one.faults
            ],
        }
        for one in messages
    ]  # fmt: skip


def codes_told(messages: Sequence[FaultMessage], names: Mapping[tuple[int, int | None], CodeName]) -> Iterator[str]:
    """Yield fault messages as lines."""
    for one in messages:
        lit = ", ".join(f"{name} {how}" for name, how in one.lamps.items() if how not in ("off", "not available"))
        state = "active" if one.active else "earlier"
        faults = "1 fault" if len(one.faults) == 1 else f"{len(one.faults)} faults"
        yield coloured(f"Unit {one.address}, {state}: {faults}; lamps: {lit or 'none'}", "head")
        rows = []
        for fault in one.faults:
            name = name_of(fault.spn, fault.fmi, names)
            title = name.title if name else "the maker's own number" if fault.makers_own else ""
            times = "not counted" if fault.occurrences is None else str(fault.occurrences)
            rows.append((str(fault.spn), str(fault.fmi), times, title, f"{fault.means}; look first: {fault.first}"))
        yield from columns(rows, ("  SPN", "FMI", "times", "name", "means"), right=(0, 1, 2)) if rows else []
        if any(fault.older_layout for fault in one.faults):
            yield "  A number is packed in an older way: read it on the display."
