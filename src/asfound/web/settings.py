"""Name and decimal sign for this home; language, numbers, units, light and hand for this browser."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from starlette.routing import Route

from asfound.errors import InputError
from asfound.language import LANGUAGES
from asfound.quantities import own_units
from asfound.quantities.units import unit
from asfound.records.office import who_acts
from asfound.web.forms import acting, text
from asfound.web.pages import Crumb, back_or, go, house_of, page
from asfound.web.preferences import remember
from asfound.web.speaking import OF_THE_READER, chosen

if TYPE_CHECKING:
    from collections.abc import Mapping

    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response

LONGEST_NAME = 80
OF_A_GROUP = "own_units:"
"""Fields that hold the unit of one kind of quantity begin so."""
OF_THE_HOME = ("person", "decimal", "photo_time", "photo_place")

GROUPS = {
    "pressure": "Pressures: gauge, absolute, differences",
    "barometer": "Barometer and intake air",
    "draught": "Small differences of pressure",
    "temperature": "Temperatures",
    "power": "Mechanical power",
    "gas": "Gas: volume, heating value, density",
    "emission": "Emissions per unit of work",
    "content": "Mass in a volume of gas",
}
"""What the groups of `own_units` are called on the page."""


@dataclass(frozen=True, slots=True)
class Group:
    """A kind of quantities whose unit may be chosen."""

    name: str
    title: str
    chosen: str
    choices: tuple[tuple[str, str], ...]
    """Choice, and its unit as it is shown."""


def show_settings(request: Request, *, complaint: InputError | None = None, status: int = 200) -> Response:
    """Show the choices, with what was refused beside its field."""
    house = house_of(request)
    return page(
        request,
        "settings.html",
        title="Settings",
        crumbs=(Crumb("/", "Engines"), Crumb("/settings", "Settings")),
        status=status,
        complaint=complaint,
        settings=house.records.settings,
        languages=LANGUAGES,
        groups=_groups(own_units.chosen(chosen(request, house.records.settings, "own_units"))),
        chosen={name: chosen(request, house.records.settings, name) for name in OF_THE_READER},
        folder=str(house.records.home.folder),
        account=house.who,
    )


def keep_settings(request: Request, form: FormData) -> Response:
    """Keep what was chosen, then show the page again."""
    home = house_of(request).records.home
    alone = who_acts() is None and not request.app.state.shared
    # What a person reads in is for this browser; one who uses the home alone has it for the home too: reports match.
    names = (*OF_THE_HOME, *OF_THE_READER) if alone else OF_THE_HOME
    given = {name: text(form, name) for name in (*OF_THE_HOME, *OF_THE_READER) if name in form}
    groups = {name.removeprefix(OF_A_GROUP): text(form, name) for name in form if name.startswith(OF_A_GROUP)}
    if groups:
        given["own_units"] = own_units.as_text(groups)
    changes = {name: value for name, value in given.items() if name in names}
    try:
        own_units.chosen(given.get("own_units", ""))
        if len(changes.get("person", "")) > LONGEST_NAME:
            raise InputError("person", changes["person"], "is too long", allowed=f"up to {LONGEST_NAME} characters")
        if changes:
            home.change(**changes)
    except InputError as complaint:
        return show_settings(request, complaint=complaint, status=422)
    answer = go(back_or(text(form, "back"), "/settings"))
    for name in ("light", "hand"):
        if name in form:
            remember(answer, name, text(form, name))
    for name in OF_THE_READER:
        if name in given:
            remember(answer, name, given[name])
    return answer


def _groups(taken: Mapping[str, str]) -> list[Group]:
    """Return the kinds of quantities whose unit may be chosen, with what is chosen."""
    return [
        Group(
            name=f"{OF_A_GROUP}{group}",
            title=GROUPS[group],
            chosen=taken.get(group, ""),
            choices=tuple((choice, unit(next(iter(kinds.values()))).text) for choice, kinds in choices.items()),
        )
        for group, choices in own_units.choices().items()
    ]


def keep_light(_request: Request, form: FormData) -> Response:
    """Keep day, night or sunlight for this browser and go back."""
    answer = go(back_or(text(form, "back"), "/"))
    remember(answer, "light", text(form, "light"))
    return answer


ROUTES = [
    Route("/settings", show_settings),
    Route("/settings", acting(keep_settings), methods=["POST"]),
    Route("/settings/light", acting(keep_light), methods=["POST"]),
]
