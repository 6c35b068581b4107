"""Fields of a visit: what stands in each, and what becomes of what is typed."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field
from datetime import timedelta
from typing import TYPE_CHECKING, Any

from asfound.errors import AmbiguousError, AsFoundError, InputError
from asfound.quantities.parse import parse_amount
from asfound.quantities.register import Quantity, implausible, quantities, quantity
from asfound.quantities.words import STATES
from asfound.records.store import Draft
from asfound.web import words
from asfound.web.forms import text

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from starlette.datastructures import FormData
    from starlette.requests import Request

    from asfound.quantities.words import State
    from asfound.records.view_parts import KeptReading, SetItem
    from asfound.records.visit import VisitView
    from asfound.web.frame import AtVisit
    from asfound.web.house import House

VALUE, UNIT, PUT = "v:", "u:", "put:"
"""Beginnings of the names of fields; what follows is a key ``state/place/quantity`` or ``place/quantity``."""
LONGEST = 200
LONGEST_WAIT = timedelta(days=30)


@dataclass(frozen=True, slots=True, kw_only=True)
class Complaint:
    """What cannot be, beside its field, and the ways out."""

    name: str
    """Key of the field."""
    given: str
    says: str
    choices: Mapping[str, str] = field(default_factory=dict)
    """What to put instead, and what it would mean."""

    @property
    def field_id(self) -> str:
        """Identifier of the field on the page."""
        return VALUE + self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One field: a quantity at a place in one state."""

    key: str
    value: str
    kept: KeptReading | None
    complaint: Complaint | None
    below: str
    """Time, in small."""
    odd: str = ""
    """Why the value is hardly ever so; it is kept all the same."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of a form: a quantity at a place, as found and as left."""

    place: str
    quantity: Quantity
    title: str
    hint: str
    unit: str
    units: tuple[str, ...]
    cells: tuple[Cell, ...]

    @property
    def name(self) -> str:
        """``place/quantity``."""
        return f"{self.place}/{self.quantity.name}"

    @property
    def odd(self) -> tuple[tuple[str, str], ...]:
        """Key and warning of values that are hardly ever so."""
        return tuple((cell.key, cell.odd) for cell in self.cells if cell.odd)

    @property
    def false(self) -> tuple[tuple[str, KeptReading], ...]:
        """Key and reading of those that a person judged false."""
        return tuple((cell.key, cell.kept) for cell in self.cells if cell.kept and cell.kept.judged_false)

    @property
    def complaints(self) -> tuple[Complaint, ...]:
        """Complaints of this line."""
        return tuple(cell.complaint for cell in self.cells if cell.complaint)


def place_words(place: str) -> str:
    """Return a place as people say it.

    >>> place_words("cylinder_L4"), place_words("left_bank"), place_words("engine")
    ('cylinder L4', 'left bank', '')
    """
    return "" if place in {"engine", "site"} else place.replace("_", " ")


def rows_of(
    items: Sequence[tuple[str, str, str]], here: AtVisit, complaints: Mapping[str, Complaint]
) -> tuple[Row, ...]:
    """Return the lines of a form for (quantity, place, title)."""
    often = Counter(name for name, _, _ in items)
    return tuple(
        _row(quantity(name), place, title, here, complaints, by_place=often[name] > 1) for name, place, title in items
    )


def items_of(view: VisitView, step: str) -> list[tuple[str, str, str]]:
    """Return what a step asks for, and whatever else was read there: (quantity, place, title)."""
    asked: Sequence[SetItem] = view.steps[step].items if step in view.steps else ()
    found = {(one.quantity, one.place): one.title for one in asked if one.quantity in quantities()}
    for kept in view.readings.values():
        known = quantities().get(kept.quantity)  # what no register knows stands among the problems of the visit
        if known is not None and (kept.quantity, kept.place) not in found and known.step == step:
            found[kept.quantity, kept.place] = ""
    return [(name, place, title) for (name, place), title in found.items()]


def also_asked(view: VisitView, step: str) -> list[SetItem]:
    """Return what a step asks for that is no quantity: set points written down, labels photographed."""
    asked: Sequence[SetItem] = view.steps[step].items if step in view.steps else ()
    return [one for one in asked if one.quantity not in quantities()]


def _row(
    about: Quantity, place: str, title: str, here: AtVisit, complaints: Mapping[str, Complaint], *, by_place: bool
) -> Row:
    kept = {state: here.view.readings.get(f"{state}/{place}/{about.name}") for state in STATES}
    used = next((one.unit for one in kept.values() if one and one.unit in about.units), "")
    unit = used or about.display(here.system)
    cells = tuple(_cell(f"{state}/{place}/{about.name}", kept[state], unit, complaints) for state in STATES)
    units = about.units if unit in about.units else (unit, *about.units)
    where, own = place_words(place), "" if title == about.title else title
    head, rest = (words.title(where), about.title) if by_place and where else (about.title, where)
    return Row(
        place=place,
        quantity=about,
        title=head,
        unit=unit,
        units=units,
        cells=cells,
        hint="; ".join(part for part in (rest, own, _read_with(kept)) if part),
    )


def _read_with(kept: Mapping[State, KeptReading | None]) -> str:
    """Return the instruments that the two states were read with."""
    names = [str(one.instrument.content["name"]) for one in kept.values() if one and one.instrument]
    return ", ".join(dict.fromkeys(names))


def _cell(key: str, kept: KeptReading | None, unit: str, complaints: Mapping[str, Complaint]) -> Cell:
    complaint = complaints.get(key)
    value = complaint.given if complaint else number_typed(kept, unit) if kept else ""
    below = odd = ""
    if kept:
        if kept.value is not None and not complaint:
            odd = implausible(kept.quantity, kept.value, gauge=kept.gauge) or ""
        below = words.clock(kept.time)
    return Cell(key=key, value=value, kept=kept, complaint=complaint, below=below, odd=odd)


def number_typed(kept: KeptReading, unit: str) -> str:
    """Return what was typed, without the unit that stands beside the field."""
    typed = kept.as_typed.strip()
    if kept.unit == unit and unit and typed.endswith(unit):
        return typed[: -len(unit)].rstrip()
    return typed


# ---------------------------------------------------------------------- keeping


def keep(request: Request, form: FormData, here: AtVisit, house: House) -> dict[str, Complaint]:
    """Keep each field that was changed; return what cannot be, by key. What can be is kept even if another cannot."""
    complaints: dict[str, Complaint] = {}
    drafts: list[Draft] = []
    for name in form:
        if not name.startswith(VALUE):
            continue
        key = name.removeprefix(VALUE)
        typed = text(form, PUT + key) or text(form, name)
        try:
            drafts += _change(key, typed, form, here, house, when=typed_at(request, house))
        except AmbiguousError as asked:
            complaints[key] = Complaint(name=key, given=typed, says=_short(asked), choices=asked.choices)
        except AsFoundError as refused:
            complaints[key] = Complaint(name=key, given=typed, says=_short(refused))
    if drafts:
        house.records.append_many(drafts)
    return complaints


def _short(refused: AsFoundError) -> str:
    """Return a complaint without the name of the field that it stands beside."""
    if not isinstance(refused, InputError):
        return str(refused)
    said = f"'{refused.given}' {refused.because}."
    if refused.allowed and not isinstance(refused, AmbiguousError):
        said += f" Allowed: {refused.allowed}."
    return f"{said} {refused.try_next}".strip()


def _change(key: str, typed: str, form: FormData, here: AtVisit, house: House, *, when: str) -> list[Draft]:
    """Return the entries that a field becomes: none if nothing changed, a withdrawal if it was emptied."""
    state, place, name = split_key(key)
    about = quantity(name)
    unit = text(form, f"{UNIT}{place}/{name}")
    before = here.view.readings.get(key)
    if before and typed == number_typed(before, unit or before.unit) and unit in {"", before.unit}:
        return []
    if not typed:
        if before is None:
            return []
        return [
            Draft(
                kind="withdrawn",
                content={"why": "emptied"},
                visit=here.id,
                corrects=before.entry.id,
                who=here.prefs.who,
            )
        ]
    content = reading_content(
        typed,
        about,
        place=place,
        state=state,
        when=when,
        here=here,
        unit=unit,
        instrument=text(form, "instrument"),
        house=house,
    )
    if (
        before is not None
    ):  # the same reading, put right: it keeps its time, and its instrument unless another is in the hand
        content["time"] = before.time
        if "instrument" not in content and before.instrument is not None:
            content["instrument"] = before.instrument.id
    return [
        Draft(
            kind="reading",
            content=content,
            visit=here.id,
            corrects=before.entry.id if before else None,
            who=here.prefs.who,
        )
    ]


def split_key(key: str) -> tuple[State, str, str]:
    """Return state, place and quantity of a key.

    Raises
    ------
    InputError
        It is no key of a reading.
    """
    parts = key.split("/")
    if len(parts) != 3 or parts[0] not in STATES or not re.fullmatch(r"\w{1,60}", parts[1]):
        raise InputError(
            "key", key, "is no place for a reading", allowed="as_found/place/quantity, as_left/place/quantity"
        )
    return parts[0], parts[1], parts[2]


def reading_content(
    typed: str,
    about: Quantity,
    *,
    place: str,
    state: State,
    when: str,
    here: AtVisit,
    house: House,
    unit: str = "",
    instrument: str = "",
) -> dict[str, Any]:
    """Return the content of a ``reading`` entry from what was typed.

    Raises
    ------
    InputError
        It cannot be; AmbiguousError where it can be read in two ways.
    """
    if len(typed) > LONGEST:
        raise InputError(about.name, typed[:40] + " ...", "is too long for a reading", try_next="Keep it as a note.")
    amount = parse_amount(
        typed,
        quantity=about.name,
        field=f"{state}/{place}/{about.name}",
        decimal=here.prefs.decimal_sign,
        system=here.prefs.system(here.view.engine.units),
        default_unit=unit or None,
        plus_minus="limit",
    )
    shown_unit = unit if unit and not amount.unit and not amount.missing else ""
    content: dict[str, Any] = {
        "quantity": about.name,
        "place": place,
        "state": state,
        "time": when,
        "as_typed": f"{typed} {shown_unit}".strip(),
        "unit": amount.unit or shown_unit,
        "gauge": amount.gauge,
        "censored": amount.censored,
        "missing": amount.missing,
        "reference_oxygen": amount.reference_oxygen,
        "origin": "measured",
    }
    content["bound" if amount.censored else "value"] = amount.value
    if amount.standard_uncertainty is not None:
        content |= {"standard_uncertainty": amount.standard_uncertainty, "distribution": "rectangular"}
    known = house.records.instruments().get(instrument)
    if known is not None and (not known.content.get("specs") or about.name in known.content["specs"]):
        content["instrument"] = known.id
    return {name: value for name, value in content.items() if value not in (None, "")}


def typed_at(request: Request, house: House) -> str:
    """Return when something was typed: now, or earlier where it waited in the browser for the server to answer.

    The browser says how long it waited by its own clock, so that a clock that goes wrong does not matter.
    """
    now = house.records.clock.now()
    try:
        waited = timedelta(milliseconds=float(request.headers.get("x-asfound-waited", "")))
    except (ValueError, OverflowError):
        waited = timedelta(0)
    if timedelta(seconds=1) < waited < LONGEST_WAIT:
        now -= waited
    return now.isoformat(timespec="seconds")
