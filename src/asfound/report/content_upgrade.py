"""Upgrade gap and money of one engine in words and pictures: for page, terminal and the manager's sheet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from asfound.report.content_due_words import minutes_text
from asfound.report.ticks import tick_text
from asfound.report.tornado import Swing
from asfound.upkeep.case_inputs import fields

if TYPE_CHECKING:
    from asfound.records.upgrade_of_engine import UpgradeOfEngine
    from asfound.upkeep.case_inputs import Assumption
    from asfound.upkeep.manager_case import Flip, ManagerCase
    from asfound.upkeep.upgrade_follow import Follow, Leaves
    from asfound.upkeep.upgrade_study import TargetStudy
    from asfound.upkeep.upgrade_way import Step, StopOfWay

MOST_BARS = 8
FATES = {"scrap": "scrap", "store": "to the store", "return": "goes back", "open": "not said"}


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetShown:
    """A target in the table."""

    id: str
    title: str
    chosen: bool
    way: bool
    cost: str
    range: str
    stops: str
    work: str
    outage: str
    changes: str
    parts: str
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StepShown:
    """One change of the way."""

    title: str
    cost: str
    minutes: str
    puts: tuple[str, ...]
    why: tuple[str, ...]
    without: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StopShown:
    """Changes of one stop, or with the engine running."""

    title: str
    minutes: str
    cost: str
    steps: tuple[StepShown, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AssumptionShown:
    """An input of the money."""

    name: str
    title: str
    unit: str
    best: str
    range: str
    source: str
    typed: str
    """As it stands in the form."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MoneyShown:
    """The case for the manager."""

    headline: str
    says: tuple[str, ...]
    figures: tuple[tuple[str, str], ...]
    lines: tuple[tuple[str, str, str], ...]
    years: tuple[tuple[str, str, str, str], ...]
    flips: tuple[tuple[str, str, bool], ...]
    steady: tuple[str, ...]
    """Assumptions that turn it round nowhere near their range."""
    assumptions: tuple[AssumptionShown, ...]
    addable: tuple[tuple[str, str], ...]
    none_counted: tuple[str, ...]
    not_counted: tuple[str, ...]
    convention: str
    picture: dict[str, Any] | None
    money: str
    fits: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class UpgradeShown:
    """The whole study as it is shown."""

    title: str
    money: str
    problem: str
    targets: tuple[TargetShown, ...]
    chosen: TargetShown | None
    why_chosen: str
    start: tuple[str, ...]
    stops: tuple[StopShown, ...]
    proof: str
    no_way: tuple[str, ...]
    order_now: tuple[str, ...]
    wait: tuple[str, ...]
    looks: tuple[str, ...]
    stays: tuple[str, ...]
    leaves: tuple[tuple[str, str, str], ...]
    follows: tuple[tuple[str, tuple[str, ...]], ...]
    tags: tuple[str, ...]
    case: MoneyShown | None


def upgrade_shown(found: UpgradeOfEngine) -> UpgradeShown:
    """Return what page and papers show of an upgrade study."""
    study, chosen = found.study, found.chosen
    way, doubt = (chosen.way, chosen.doubt) if chosen else (None, None)
    targets = tuple(_target(one, chosen) for one in study.targets) if study else ()
    plan = found.by_person
    return UpgradeShown(
        title=study.title if study else "",
        money=study.money if study else "",
        problem=found.problem,
        targets=targets,
        chosen=next((one for one in targets if one.chosen), None),
        why_chosen=str(plan.content.get("why", "")) if plan and chosen and plan.content["target"] == chosen.id else "",
        start=study.start_says if study else (),
        stops=tuple(_stop(one) for one in way.stops) if way else (),
        proof=way.proof.says if way else "",
        no_way=_no_way(chosen),
        order_now=doubt.order_now if doubt else (),
        wait=doubt.wait if doubt else (),
        looks=tuple(sentence(one.says) for one in doubt.looks if one.decides) if doubt else (),
        stays=chosen.follow.stays if chosen and chosen.follow else (),
        leaves=tuple(_leaves(one) for one in chosen.follow.leaves) if chosen and chosen.follow else (),
        follows=_follows(chosen.follow) if chosen and chosen.follow else (),
        tags=tuple(dict.fromkeys(tag for one in way.steps for tag in one.tags)) if way else (),
        case=_case(found.case, fits=found.fits) if found.case else None,
    )


def amount(value: float) -> str:
    """Return money with thousands and no decimals."""
    return tick_text(round(value), 0)


def sentence(text: str) -> str:
    """Return a text with a large first letter and a full stop.

    >>> sentence("no file for it"), sentence("No file.")
    ('No file for it.', 'No file.')
    """
    said = text.strip().rstrip(".")
    return f"{said[:1].upper()}{said[1:]}."


def _target(one: TargetStudy, chosen: TargetStudy | None) -> TargetShown:
    row = one.row
    if row.cost is None:
        return TargetShown(
            id=one.id, title=one.title, chosen=chosen is not None and one.id == chosen.id, way=False, cost="no way",
            range="", stops="", work="", outage="", changes="", parts="", says=row.says,
        )  # fmt: skip
    low, high = row.low if row.low is not None else row.cost, row.high if row.high is not None else row.cost
    parts = [f"{row.scrap} scrap" if row.scrap else "", f"{row.store} to the store or back" if row.store else ""]
    return TargetShown(
        id=one.id,
        title=one.title,
        chosen=chosen is not None and one.id == chosen.id,
        way=True,
        cost=amount(row.cost),
        range="" if low == high else f"{amount(low)} to {amount(high)}",
        stops=str(row.stops),
        work=minutes_text(row.minutes or 0.0),
        outage=minutes_text(row.outage_minutes or 0.0),
        changes=str(row.changes),
        parts=", ".join(part for part in parts if part) or "none comes off",
        says=row.says,
    )


def _stop(one: StopOfWay) -> StopShown:
    return StopShown(
        title=f"Stop {one.number}" if one.number else "With the engine running",
        minutes=minutes_text(one.minutes),
        cost=amount(one.cost),
        steps=tuple(_step(step) for step in one.steps),
    )


def _step(one: Step) -> StepShown:
    without = "there is no way without it" if one.without is None else f"without it the way costs {amount(one.without)}"
    if not one.searched:
        without = "whether there is a way without it was not searched to its end"
    return StepShown(
        title=one.title,
        cost=amount(one.cost)
        if one.low == one.high
        else f"{amount(one.cost)} ({amount(one.low)} to {amount(one.high)})",
        minutes=minutes_text(one.minutes),
        puts=tuple(f"{put.title}: was {put.before}, then {put.after}" for put in one.puts),
        why=(*(sentence(said) for said in one.why), *(sentence(said) for said in one.settings)),
        without=sentence(without),
    )


def _no_way(chosen: TargetStudy | None) -> tuple[str, ...]:
    if chosen is None or chosen.no_way is None:
        return ()
    bars = (
        sentence(bar.says)
        + (f" Without this rule the way would cost {amount(bar.cost)}." if bar.cost is not None else "")
        for bar in chosen.no_way.bars
    )
    return (sentence(chosen.no_way.says), *bars)


def _leaves(one: Leaves) -> tuple[str, str, str]:
    worth = f"worth {amount(one.worth)}" if one.worth else ""
    fits = "; ".join(one.fits)
    return f"{one.title}", FATES.get(one.fate, one.fate), "; ".join(part for part in (worth, fits, one.says) if part)


def _follows(one: Follow) -> tuple[tuple[str, tuple[str, ...]], ...]:
    rows = (
        ("Documents that come", one.documents_new),
        ("Documents that no longer hold", one.documents_gone),
        ("Software that comes", one.software_new),
        ("Software that no longer holds", one.software_gone),
        ("Skills that are wanted", one.skills_new),
        ("Skills no longer wanted", one.skills_gone),
        ("Bulletins that then apply", one.bulletins_new),
    )
    return tuple((title, said) for title, said in rows if said)


def _case(case: ManagerCase, *, fits: bool) -> MoneyShown:
    spread = case.spread
    bars = case.bars[:MOST_BARS]
    ends = {one.name: one for one in case.assumptions}
    given = set(ends)
    worth = "is worth" if case.present >= 0 else "loses"
    figures = [
        ("Worth now, best values", amount(case.present)),
        ("8 of 10 draws", f"{amount(spread.p10)} to {amount(spread.p90)}"),
        ("Chance of a loss", f"{_in_100(spread.chance_below_zero)} in 100"),
        ("Spent now", amount(case.spent)),
        ("Saved in the first year", amount(case.net_saving)),
        ("Pays back", _years(case.payback)),
        ("With interest", _years(case.discounted_payback)),
    ]
    if case.returns.rate is not None:
        figures.append(("Rate of return", f"{100 * case.returns.rate:.0f} % a year"))
    return MoneyShown(
        headline=f"The change {worth} {amount(abs(case.present))} over {case.years} years at the best values",
        says=case.says,
        figures=tuple(figures),
        lines=tuple(
            (one.title, "" if one.yearly is None else amount(one.yearly), amount(one.present)) for one in case.lines
        ),
        years=tuple(
            (str(one.year), amount(one.flow), amount(one.together), amount(one.discounted)) for one in case.by_year
        ),
        flips=tuple((one.title, _flip(one), one.within) for one in case.flips if one.at),
        steady=tuple(one.title for one in case.flips if not one.at),
        assumptions=tuple(_assumption(one) for one in case.assumptions),
        addable=tuple((name, f"{one.title}, {one.unit}") for name, one in fields().items() if name not in given),
        none_counted=case.none_counted,
        not_counted=case.not_counted,
        convention=case.convention,
        picture={
            "rows": [
                Swing(
                    title=fields()[one.name].title, at_low=one.at_low, at_high=one.at_high,
                    low=_number(ends[one.name].low), high=_number(ends[one.name].high),
                )
                for one in bars
            ],
            "best": case.present,
            "unit_words": f"worth now, {case.money}",
            "label": "Worth now at both ends of each assumption: "
            + "; ".join(
                f"{fields()[one.name].title} {amount(min(one.at_low, one.at_high))} to "
                f"{amount(max(one.at_low, one.at_high))}"
                for one in bars
            ),
        }
        if bars
        else None,
        money=case.money,
        fits=fits,
    )  # fmt: skip


def _assumption(one: Assumption) -> AssumptionShown:
    return AssumptionShown(
        name=one.name,
        title=one.title,
        unit=one.unit,
        best=_number(one.best),
        range=f"{_number(one.low)} to {_number(one.high)}" if one.doubtful else "",
        source=one.source,
        typed=f"{one.best:g}",
    )


def _flip(one: Flip) -> str:
    at = " and ".join(_number(value) for value in one.at)
    inside = ", inside its range" if one.within else ""
    return f"at {at} {one.unit}{inside}; taken: {_number(one.best)}"


def _number(value: float) -> str:
    return tick_text(value, 0) if abs(value) >= 100 else f"{value:.4g}".replace("-", "\N{MINUS SIGN}")


def _years(value: float | None) -> str:
    return "never" if value is None else f"in {value:.1f} years"


def _in_100(share: float) -> str:
    return "fewer than 1" if 0 < share < 0.005 else f"{100 * share:.0f}"
