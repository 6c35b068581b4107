"""The trouble of a visit as plain data, for programs and exports."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from asfound.report.content_trouble import plan_rows, trouble_shown
from asfound.report.content_trouble_codes import codes_shown

if TYPE_CHECKING:
    from collections.abc import Iterable

    from asfound.records.visit import VisitView
    from asfound.sources.cautions import Caution
    from asfound.troubleshoot.shown import TestRow


def trouble_data(view: VisitView) -> dict[str, Any]:
    """Return what is told, believed and next; chances in [0, 1], times in minutes, doubt in bits."""
    found = view.trouble
    step = trouble_shown(found).next
    return {
        "visit": view.visit.name,
        "phase": found.phase,
        "says": found.says,
        "urgent": list(found.urgent),
        "before_all": found.before_all,
        "causes": [{"id": one.id, "title": one.title, "chance": one.p, "before": one.before} for one in found.causes],
        "doubt": found.doubt,
        "next": None
        if step is None
        else {
            "does": step.does,
            "id": step.id,
            "title": step.title,
            "costs": list(step.costs),
            "why": step.why,
            "cautions": _cautions(step.cautions),
            "answers": [{"says": one.value, "words": one.says} for one in step.replies],
        },
        "symptoms": [asdict(one) for one in found.symptoms],
        "told": [asdict(one) for one in found.witnesses],
        "history": [
            {"label": one.label, "says": one.says, "code": one.code, "time": one.time, "chances": dict(one.p)}
            for one in found.history
        ],
        "tests": [_test(one) for one in found.tests],
        "not_now": [asdict(one) for one in found.barred],
        "repairs": [
            {
                "id": one.id,
                "title": one.title,
                "minutes": one.minutes,
                "state": one.state,
                "chance": one.chance,
                "not_now": one.why_not,
                "said": one.says,
                "cautions": _cautions(one.cautions),
            }
            for one in found.repairs
        ],
        "plan": [
            {"depth": d, "after": word, "does": does, "title": title} for d, word, does, title in plan_rows(found)
        ],
        "call": found.call,
        "contradictions": [asdict(one) for one in found.contradictions],
        "closed": asdict(found.closed) if found.closed and found.phase == "closed" else None,
        "closed_cases": {
            "counted": found.counted,
            "cases": len(found.closed_cases),
            "moved": [
                {
                    "cause": one.cause,
                    "title": one.title,
                    "cases": one.cases,
                    "of": one.of,
                    "before": one.before,
                    "after": one.after,
                }
                for one in found.priors_moved
            ],
        },
        "fault_codes": [asdict(one) for one in codes_shown(found)],
        "protections": [asdict(one) for one in found.protections],
        "left_out": [asdict(one) for one in found.dropped],
        "problems": list(found.problems),
        "knowledge": {
            "title": found.knowledge.title,
            "edition": found.knowledge.edition,
            "digest": found.knowledge.digest,
        },
    }


def _test(one: TestRow) -> dict[str, Any]:
    return {
        "id": one.id,
        "title": one.title,
        "positive": one.positive,
        "minutes": one.minutes,
        "waiting": one.waiting,
        "state": one.state,
        "cost": one.cost,
        "bits": one.bits,
        "chance_positive": one.chance_positive,
        "cautions": _cautions(one.cautions),
        "after": {
            says: {"chance": fork.chance, "causes": [{"id": c.id, "chance": c.after} for c in fork.causes]}
            for says, fork in one.forks.items()
        },
    }


def _cautions(cautions: Iterable[Caution]) -> list[dict[str, Any]]:
    return [{"id": one.id, "hazard": one.hazard, "do": list(one.do), "rests_on": one.rests_on} for one in cautions]
