"""The owner's accountant: payback and risk, with every assumption and its range; no figure beside the record's own."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from asfound.report.content_due_words import minutes_text
from asfound.report.readers.blocks import Data, Document, Drawn, Head, Lack, Lines, Pairs, Rows, Says
from asfound.report.readers.making import Reader
from asfound.report.readers.said import count, minutes_between, risk_lines, since
from asfound.report.tornado import tornado
from asfound.report.wording import say, title_of

if TYPE_CHECKING:
    from asfound.report.content_upgrade import MoneyShown
    from asfound.report.readers.blocks import Block
    from asfound.report.readers.ground import Ground

COLUMNS = ("engine", "target", "money", "row", "name", "value", "low", "high", "unit", "source")
RUNNING = ("fuel_heat_input", "engine_power", "brake_efficiency", "nox_annual_mass", "co_annual_mass")
"""What costs follow from, as far as it was worked out."""


def make(ground: Ground) -> Document:
    """Return the case with its assumptions and ranges, and the risk that the record shows."""
    study = ground.upgrade
    case = study.case
    blocks: list[Block] = []
    if case is not None:
        blocks += _case(case)
    blocks += [Head(text="Risk on the record"), Lines(rows=tuple(_risk(ground)))]
    if rows := tuple(_running(ground)):
        blocks += [Head(text="What running costs follow from"), Pairs(rows=rows)]
    target = study.chosen.title if study.chosen else ""
    return Document(
        headline=f"{ground.view.engine.tag} to {target}: {_short(case)}."
        if case is not None
        else f"{ground.view.engine.tag}: no case was worked out.",
        lead=f"{case.headline}."
        if case is not None
        else "Nothing here is a price: the record holds none for this engine.",
        blocks=tuple(blocks),
        lacks=tuple(_lacks(ground)),
        data=Data(columns=COLUMNS, rows=tuple(_data(ground))) if case is not None else None,
        facts={"figures": dict(case.figures)} if case is not None else {},
    )


def _short(case: MoneyShown) -> str:
    figures = dict(case.figures)
    back = figures.get("Pays back", "never")
    return f"pays back {back}, chance of a loss {figures['Chance of a loss']}"


def _case(case: MoneyShown) -> list[Block]:
    told: list[Block] = [
        Pairs(rows=tuple(case.figures)),
        *(Says(text=one) for one in case.says[1:]),
    ]
    if not case.fits:
        told.append(
            Says(
                text="The assumptions were written for another target: what is gained may not hold here.",
                weight="strong",
            )
        )
    if case.picture:
        told.append(
            Drawn(
                svg=tornado(width=672.0, paper=True, **case.picture),
                alt=case.picture["label"],
                width=672,
                caption="Worth now when one assumption alone moves over its range; hatched is a loss.",
            )
        )
    told += [
        Head(text="Item by item"),
        Rows(
            columns=("Item", "First year", f"Worth now, {case.money}"),
            rows=tuple((title, yearly or "once", worth) for title, yearly, worth in case.lines),
            shares=(2, 1, 1),
            right=(1, 2),
        ),
        Head(text="Assumptions"),
        Rows(
            columns=("Assumption", "Best", "Range", "Where from"),
            rows=tuple(
                (f"{one.title}, {one.unit}", one.best, one.range or "taken as sure", one.source)
                for one in case.assumptions
            ),
            shares=(1.7, 0.7, 1, 1.6),
            right=(1,),
        ),
    ]
    turns = tuple((title, at) for title, at, _ in case.flips)
    if turns:
        told += [Head(text="Where it turns round"), Lines(rows=turns)]
    if case.none_counted:
        told.append(
            Says(
                text=f"Counted as none, because nobody gave it: {', '.join(case.none_counted).lower()}.", weight="quiet"
            )
        )
    if case.not_counted:
        told.append(
            Says(text=f"Not counted: {'; '.join(one.rstrip('.') for one in case.not_counted)}.", weight="quiet")
        )
    told.append(Says(text=case.convention, weight="quiet"))
    return told


def _risk(ground: Ground) -> Iterator[str | tuple[str, str]]:
    view = ground.view
    yield from risk_lines(view, ground.system) or ("No limit is on record.",)
    late = [one.title.lower() for one in ground.due.of("overdue")]
    if late:
        yield f"{count(len(late), 'task')} overdue: {', '.join(late[:6])}."
    year = [one for one in ground.failures if since(str(one["date"]), ground.day) <= 365]
    down = sum(minutes_between(str(one.get("down_from") or ""), str(one.get("down_until") or "")) for one in year)
    if year:
        stood = f"it stood {minutes_text(down)}, as far as noted" if down else "no time down was noted"
        yield f"{count(len(year), 'failure')} on record in the year before; {stood}."
    for stop in ground.due.stops[:1]:
        yield f"The next stop takes {stop.minutes} of work."


def _running(ground: Ground) -> Iterator[tuple[str, str]]:
    for name in RUNNING:
        for state in ("as_left", "as_found"):
            number = ground.view.worked.taken(f"{state}/{'stack' if 'annual' in name else 'engine'}/{name}")
            if number is None or number.value != number.value:
                continue
            said = say(number, ground.system)
            interval = f" ({said.interval})" if said.interval else ""
            yield title_of(name), f"{said.whole}{interval}, {state.replace('_', ' ')}"
            break


def _lacks(ground: Ground) -> Iterator[Lack]:
    study = ground.upgrade
    if study.case is None:
        yield Lack(
            what="Payback: there is no study with money for this engine.",
            fill=study.problem or "A target that has a way, and assumptions: page Due and upgrade.",
        )
        yield Lack(what="Price of gas, of output, of an hour down.", fill="The file case.yaml of the home.")
    elif study.case.none_counted:
        yield Lack(
            what=f"{count(len(study.case.none_counted), 'input')} that nobody gave and that count as none.",
            fill="Page Due and upgrade, each is a field.",
        )
    if not study.why_chosen and study.case is not None:
        yield Lack(
            what="Who chose this target, and why: the record does not say.", fill="Choose this target, with a reason."
        )
    yield Lack(what="Tax, depreciation, financing: not in the record.")


def _why(ground: Ground) -> str:
    """Return why there is no case: no target has a way from what is fitted."""
    titles = [one.title for one in ground.upgrade.targets if not one.way]
    return f"No way from what is fitted to: {'; '.join(titles)}." if titles else "A target: page Due and upgrade."


def _data(ground: Ground) -> Iterator[tuple[Any, ...]]:
    study = ground.upgrade
    case = study.case
    assert case is not None
    head = (ground.view.engine.tag, study.chosen.title if study.chosen else "", case.money)
    for title, value in case.figures:
        yield (*head, "figure", title, value, "", "", "", "")
    for title, yearly, worth in case.lines:
        yield (*head, "first year", title, yearly, "", "", case.money, "")
        yield (*head, "worth now", title, worth, "", "", case.money, "")
    for one in case.assumptions:
        low, _, high = one.range.partition(" to ")
        yield (*head, "assumption", one.title, one.best, low, high, one.unit, one.source)


READER = Reader(
    name="accountant",
    title="Owner's accountant",
    to="the owner's accountant",
    wants="Payback and risk: the assumptions and their range",
    form="the case with every assumption, and a table",
    advice="A range is no promise: each figure is as good as the assumption named beside it.",
    make=make,
    studies=True,
    table="figures, items and assumptions with their range",
)
