"""The page of the exhaust: permit, mixture, catalyst, test runs, agreement of methods, the last visit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.quantities.register import quantity
from asfound.report.axis import Band
from asfound.report.content_exhaust import catalysts, lacks_catalyst, mixtures_for_limit
from asfound.report.content_lanes import mark_of, number_at
from asfound.report.content_test_run import tests_shown
from asfound.report.rooms import EXHAUST
from asfound.report.wording import say
from asfound.web.room_page import shared

if TYPE_CHECKING:
    from asfound.web.frame import AtVisit
    from asfound.web.results import Card

TEMPLATE = "exhaust.html"


def content(here: AtVisit) -> dict[str, Any]:
    """Return what the page shows beyond its readings."""
    made = shared(here, EXHAUST)
    _before_the_catalyst(made)
    for card in made["large"]:
        if card.quantity == "excess_air_ratio":
            _wanted(here, card, made)
    parts = {
        "catalysts": catalysts(here.view, here.system),
        "catalyst_lacks": lacks_catalyst(here.view),
        "for_limit": mixtures_for_limit(here.view, here.system),
        "tests": tests_shown(here.view),
    }
    return made | parts | {"jumps": _jumps(parts), "limit_note": _limit_note(here)}


def _limit_note(here: AtVisit) -> dict[str, Any]:
    """Say which limits stand: the permit's own go before every general rule; without any that is said."""
    mine = [one for one in here.view.limits if quantity(one.quantity).step == EXHAUST.step]
    said = "The limit of the permit at hand goes before every general rule."
    none = "No limit of a permit is on the record: nothing is judged."
    engine = here.base.rsplit("/", 1)[0]
    return {
        "says": said if mine else none,
        "add": not mine and not here.view.seal,
        "engine": engine,
        "rules": f"{engine}/rules",
    }


def _jumps(parts: dict[str, Any]) -> list[tuple[str, str]]:
    """Return what lies below the readings, by anchor."""
    there = [("for-limit", "Mixture for the limit")] if parts["for_limit"] else []
    there += [("catalyst", "Catalyst")] if parts["catalysts"] or parts["catalyst_lacks"] else []
    there += [("tests", "Test runs")] if parts["tests"] else []
    return [("results-h", "Results"), *there, ("ways", "Methods"), ("compared", "Last visit"), ("cautions", "Cautions")]


def _before_the_catalyst(made: dict[str, Any]) -> None:
    """Leave the mixture behind the catalyst to the folded tables where it is known before it: that is the engine's."""
    mixtures = [one for one in made["large"] if one.quantity == "excess_air_ratio" and not one.against]
    behind = [one for one in mixtures if one.place == "after_catalyst"]
    if behind and len(mixtures) > len(behind):
        made["large"] = [one for one in made["large"] if one not in behind]
        made["groups"] = [*made["groups"], ("Mixture behind the catalyst", behind)]


def _wanted(here: AtVisit, card: Card, made: dict[str, Any]) -> None:
    """Put the wanted band on the scale of the mixture."""
    target = number_at(here.view.worked, "as_found/engine/target_excess_air_ratio")
    if target is None or card.scale is None:
        return
    card.scale["wanted"] = Band(*mark_of(target, here.system).ends)
    said = say(target, here.system)
    by = getattr(target, "said_by", "")
    made["card_says"][card.key] = [
        f"Wanted {said.value}" + (f" ({said.interval})" if said.interval else "") + (f", from {by}." if by else ".")
    ]
