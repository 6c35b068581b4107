"""Cylinders on paper: engine with its pattern, sensor or cylinder with its witnesses, each against its own habit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.report.beam import beam
from asfound.report.case_then import case_then
from asfound.report.content_bearings import bearings_shown
from asfound.report.content_cylinder_verdicts import cylinder_verdicts
from asfound.report.content_cylinders import cylinders_shown
from asfound.report.content_lanes import STATE_WORDS
from asfound.report.content_paper import HALF, WHOLE, paper
from asfound.report.habit import habit
from asfound.report.ports import engine_ports, level_row

if TYPE_CHECKING:
    from asfound.records.visit import VisitView
    from asfound.report.content_cylinder_verdicts import Ask, CylinderVerdict
    from asfound.report.content_cylinders import Cylinders
    from asfound.report.wording import System

PLAN = 744.0
"""Width at which the plan is drawn; it is set a little smaller. [px]"""
ARROWS = {"sensor": "to_sensor", "cylinder": "to_cylinder", "open": "open"}


def cylinders(view: VisitView, system: System) -> dict[str, Any] | None:
    """Return the section of the cylinders; None where nothing of it was read."""
    case = view.case
    shown = cylinders_shown(view, case, system)
    bearings = bearings_shown(view, system)
    if not shown.spread and not bearings:
        return None
    found = cylinder_verdicts(case, case_then(view), shown, system)
    return {
        "title": view.steps["cylinders"].title if "cylinders" in view.steps else "Cylinders",
        "drawn": _drawn(shown),
        "verdicts": [_verdict(one) for one in found],
        "habit": _habit(shown),
        "numbers": [
            {"code": one.code, "says": one.says, "does": one.next_step}
            for one in view.findings
            if one.code.startswith("CY-0")
        ],
        "bearings": [
            {
                **paper(level_row, one.picture, WHOLE),
                "state": STATE_WORDS[state],
                "says": list(one.says),
            }
            for state, one in bearings.items()
        ],
    }


def _drawn(shown: Cylinders) -> list[dict[str, Any]]:
    """Return the plan in each state in which a median can be had; the words once, below the last."""
    made = []
    for state, one in shown.drawn.items():
        spread = shown.spread.get(state)
        if spread is None or not any(each.deviation == each.deviation for each in spread.cylinders):
            continue
        made.append(
            {
                **paper(engine_ports, {**one.picture, "direction": "across"}, PLAN),
                "state": STATE_WORDS[state],
                "says": list(one.says),
            }
        )
    return made


def _verdict(one: CylinderVerdict) -> dict[str, Any]:
    return {
        "cylinder": one.port.both,
        "state": STATE_WORDS[one.state],
        "head": one.head,
        "chance": one.chance,
        **paper(beam, one.picture, HALF),
        "says": list(one.says),
        "does": one.does,
        "columns": [head for head, _ in one.events],
        "rows": [
            {
                "title": row.title,
                "cells": [
                    {"arrow": ARROWS.get(cell.side, "none"), "head": cell.head, "says": cell.says} for cell in row.cells
                ],
            }
            for row in one.rows
            if any(cell.side != "open" for cell in row.cells)
        ],
        "open": _open(one),
    }


def _open(one: CylinderVerdict) -> str:
    """Return what nobody looked at and what is worth it most, in one sentence; empty where all was heard."""
    asks = [row.ask for row in one.rows if row.ask is not None and all(cell.side == "open" for cell in row.cells)]
    return "; ".join(_asked(ask) for ask in asks)


def _asked(ask: Ask) -> str:
    stop = f", {ask.stop}" if ask.stop else ""
    return f"{ask.title[0].lower()}{ask.title[1:]} ({ask.minutes:.0f} min{stop})"


def _habit(shown: Cylinders) -> dict[str, Any] | None:
    if shown.habit is None:
        return None
    usual = (
        f"The short dash is where each usually stands: {shown.compared}."
        if shown.compared
        else "No last visit and no log tells what is usual for each."
    )
    left = any(one.states.get("as_left") and one.states["as_left"].deviation for one in shown.ports)
    marks = "Rings as found, discs as left" if left else "Rings as found"
    return {
        **paper(habit, shown.habit, WHOLE),
        "says": [f"{marks}; bars hold the true value 95 times in 100. {usual} {shown.judged_by}"],
        "odd": _odd(shown),
    }


def _odd(shown: Cylinders) -> list[str]:
    """Return the ports that are to be named: those that stand apart, have changed, or do not count."""
    ordinary = ("as usual for it", "with the others")
    return [
        f"{port.both}, {STATE_WORDS[state]}: {said.temperature}"
        + (f", {said.deviation} ({said.interval})" if said.deviation else "")
        + f"; {said.words}"
        for port in shown.ports
        for state, said in port.states.items()
        if said.words not in ordinary and said.words != "not read" and said.deviation
    ]
