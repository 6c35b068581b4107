"""The ledger of a visit: one row per subject, as found, both on one scale, as left."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from asfound.quantities.register import quantity
from asfound.web import words
from asfound.web.results import Card, cards_of, in_display, reading_card

if TYPE_CHECKING:
    from asfound.records.view_parts import StepProgress
    from asfound.records.visit import VisitView
    from asfound.web.frame import AtVisit

IN_THE_LEDGER = ("fuel", "load", "exhaust", "cylinders", "other")


@dataclass(frozen=True, slots=True, kw_only=True)
class LedgerRow:
    """One subject."""

    title: str
    sub: str
    href: str
    card: Card | None = None
    taken: str = ""
    """``7 of 9``, where there is no result to show."""
    says: str = ""
    scatter: dict[str, Any] | None = None
    todo: str = ""
    """What is to be taken as left."""


def ledger(here: AtVisit) -> list[LedgerRow]:
    """Return the rows below that of what is fitted."""
    rows: list[LedgerRow] = []
    for name in IN_THE_LEDGER:
        step = here.view.steps.get(name)
        shown = _cards(here, name)
        rows += [_of_result(card, name, here, step) for card in shown]
        spread = scatter(here.view, here.system) if name == "cylinders" else None
        if step is not None and (not shown or name == "other" or spread):
            rows.append(_of_step(step, here, spread))
    return rows


def _cards(here: AtVisit, step: str) -> list[Card]:
    """Return the numbers of a step that a reader looks for first: those beside a limit, then the leading ones."""
    from asfound.report.content_numbers import LEADING

    large, _ = cards_of(here.view, step, here.system)
    found = {card.key: card for card in large if card.against or card.quantity in LEADING}
    for key in here.view.readings:
        _, place, name = key.split("/")
        if name in LEADING and quantity(name).step == step and f"{place}/{name}" not in found:
            card = reading_card(here.view, place, name, here.system)
            if card is not None:
                found[card.key] = card
    limited = [limit.quantity for limit in here.view.limits]
    return sorted(
        found.values(),
        key=lambda card: (limited.index(card.quantity) if card.quantity in limited else len(limited), card.key),
    )


def _of_result(card: Card, step: str, here: AtVisit, progress: StepProgress | None) -> LedgerRow:
    sub = ", ".join(
        part for part in (card.where, *(f"{a.limit.name} {a.shown.value} {a.shown.unit}" for a in card.against)) if part
    )
    left = next(side for side in card.sides if side.state == "as_left")
    todo = f"take {left.waits[0]}" if len(left.waits) == 1 else "take as left"
    return LedgerRow(title=card.title, sub=sub, href=f"{here.base}/{step}", card=card, todo=_todo(todo, progress))


def _todo(words_: str, progress: StepProgress | None) -> str:
    """Return what is asked for as left; nothing is asked where the set holds for both states."""
    return words_ if progress is None or progress.left_of else "holds for both"


def _of_step(step: StepProgress, here: AtVisit, spread: dict[str, Any] | None) -> LedgerRow:
    open_ = [one.title for one in step.items if one.found == "open"]
    says = ""
    if open_:
        says = "Not taken: " + ", ".join(open_[:3]) + (f", and {len(open_) - 3} more" if len(open_) > 3 else "") + "."
    elif step.found_of:
        says = "All that is asked for was taken."
    return LedgerRow(
        title=words.STEPS[step.step][0],
        sub="",
        href=f"{here.base}/{step.step}",
        taken=f"{step.found} of {step.found_of}" if step.found_of else "",
        says=says,
        scatter=spread,
        todo="" if step.left_of and step.left >= step.left_of else _todo("take as left", step),
    )


def scatter(view: VisitView, system: str) -> dict[str, Any] | None:
    """Return the exhaust temperatures of the cylinders against their mean, as found."""
    found = [
        one
        for one in view.readings.values()
        if one.state == "as_found"
        and one.place.startswith("cylinder_")
        and one.reading is not None
        and quantity(one.quantity).si_unit == "K"
        and "exhaust" in one.quantity
    ]
    if len(found) < 3:
        return None
    values = [in_display(one.value, one.quantity, system) for one in found if one.value is not None]
    mean = sum(values) / len(values)
    about = quantity(found[0].quantity)
    unit = about.display(system)
    away = [value - mean for value in values]
    spread = f"from {min(away):+.0f} to {max(away):+.0f} about it"
    label = f"{len(values)} cylinders, {about.title}: mean {mean:.0f} {unit}, {spread}"
    return {"values": away, "label": label, "mean": f"{mean:,.0f} {unit}", "count": len(values), "unit": unit}
