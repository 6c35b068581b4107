"""From a value as people write it to a reading; for `take` and `calc`."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Literal

from asfound.errors import InputError, UnknownNameError

if TYPE_CHECKING:
    from collections.abc import Iterable

    from asfound.quantities.parse import Amount
    from asfound.quantities.words import Reading
    from asfound.records.things import Thing

Distribution = Literal["normal", "rectangular"]
Doubt = Literal["limit", "standard", "k2"]
"""What a number after +- means: what an instrument claims (a limit), a standard uncertainty, one with k = 2."""

_DIVISORS: dict[Doubt, float] = {"limit": math.sqrt(3.0), "standard": 1.0, "k2": 2.0}  # JCGM 100:2008 4.3.7, 4.3.3
_SIGNS: dict[str, Literal[".", ","]] = {".": ".", ",": ","}


def name_and_text(word: str, what: str) -> tuple[str, str]:
    """Split ``name=text``.

    Raises
    ------
    InputError
        There is no name, no sign of equality, or nothing after it.
    """
    name, equals, text = word.partition("=")
    if not equals or not name.strip() or not text.strip():
        raise InputError(
            what, word, "is not name=value", try_next="Write the name, =, and the value, in quotes if it has blanks."
        )
    return name.strip(), text.strip()


def quantity_and_place(name: str, near: Iterable[str] = ()) -> tuple[str, str]:
    """Split ``quantity@place``; the place may be empty.

    Raises
    ------
    UnknownNameError
        No quantity bears that name; ``near`` is offered first.
    """
    from asfound.quantities.register import quantities

    quantity, _, place = name.partition("@")
    if quantity not in quantities():
        raise UnknownNameError("quantity", quantity, [*near, *quantities()])
    return quantity, place


def amount(text: str, quantity: str, field: str, decimal: str = "") -> Amount:
    """Return what a text means; ``1,234`` is asked about unless the decimal sign of this person is set."""
    from asfound.quantities.parse import parse_amount

    return parse_amount(text, quantity=quantity, field=field, decimal=_SIGNS.get(decimal))


def doubt_of(read: Amount, doubt: Doubt) -> tuple[float | None, Distribution]:
    """Return the standard uncertainty that was typed, and its distribution; what the text itself says goes first."""
    if read.standard_uncertainty is not None or read.plus_minus is None:
        return read.standard_uncertainty, "normal"
    return read.plus_minus / _DIVISORS[doubt], "rectangular" if doubt == "limit" else "normal"


def reading_from(text: str, quantity: str, place: str, *, field: str, doubt: Doubt, kind: str = "") -> Reading:
    """Return a reading without a record: its doubt from what is typed, else from a kind of instrument, else none.

    Raises
    ------
    InputError
        There is no one value in the text.
    """
    from asfound.quantities.register import quantity as register
    from asfound.quantities.words import Reading

    read = amount(text, quantity, field)
    if read.value is None or read.censored:
        raise InputError(field, text, "is not one value", try_next="A calculation needs a number, with its unit.")
    stated, distribution = doubt_of(read, doubt)
    return Reading(
        quantity=quantity,
        place=place,
        state="as_found",
        time="",
        value=read.value,
        unit=register(quantity).si_unit,
        as_typed=read.as_typed,
        standard_uncertainty=stated if stated is not None else of_kind(kind, quantity, read.value),
        origin="measured" if kind else "typed",
        said_by=kind,
        distribution=distribution,
        gauge=read.gauge,
    )


def of_kind(kind: str, quantity: str, value: float) -> float:
    """Return the standard uncertainty that a kind of instrument claims; 0 where no kind is named."""
    if not kind:
        return 0.0
    from asfound.quantities.instruments import instrument_class, standard_uncertainty

    specs = instrument_class(kind).specs
    if quantity not in specs:
        raise InputError("instrument", kind, f"says nothing of {quantity}", allowed=", ".join(specs))
    return float(standard_uncertainty(specs[quantity], value))


def content_from(
    text: str,
    quantity: str,
    place: str,
    *,
    field: str,
    doubt: Doubt,
    decimal: str,
    instrument: Thing | None,
    more: dict[str, Any],
) -> dict[str, Any]:
    """Return the content of a ``reading`` entry; ``more`` has state, time and what else was said."""
    read = amount(text, quantity, field, decimal)
    content: dict[str, Any] = {
        "quantity": quantity,
        "place": place,
        "as_typed": text,
        "unit": read.unit,
        "gauge": read.gauge,
        "censored": read.censored,
        "missing": read.missing,
        "reference_oxygen": read.reference_oxygen,
        **more,
    }
    if read.censored:
        content["bound"] = read.value
    else:
        content["value"] = read.value
    stated, distribution = doubt_of(read, doubt)
    if stated is not None:
        content |= {"standard_uncertainty": stated, "distribution": distribution}
    if instrument is not None:
        content["instrument"] = instrument.id
    return {name: value for name, value in content.items() if value not in (None, "")}
