"""`asfound instrument`: what readings were taken with, and what it claims."""

from __future__ import annotations

import re
from dataclasses import asdict
from typing import Any, Literal

from cyclopts import App

from asfound.cli.answer import answer, columns, ready
from asfound.cli.find import kept, opened, tail, writer
from asfound.cli.options import Hand, Home, Out
from asfound.cli.typed import name_and_text, quantity_and_place
from asfound.errors import InputError

instrument = App(name="instrument")
_OF_READING = re.compile(r"([\d.,]+)\s*%\s*(of reading|rdg|of value)", re.IGNORECASE)


@instrument.command
def add(
    name: str,
    /,
    *claims: str,
    serial: str = "",
    kind: str = "",
    calibrated: str = "",
    interval_months: float | None = None,
    coverage: Literal["rectangular", "k2", "k1"] = "rectangular",
    combine: Literal["sum", "larger"] = "sum",
    shared_fraction: float = 0.5,
    source: str = "",
    note: str = "",
    hand: Hand = Hand(),
) -> None:
    """Add an instrument with what it claims for each quantity.

    asfound instrument add 'Analyser 3' exhaust_nox_dry='5 % of reading; 5 ppm; step 1 ppm' --serial 0417

    Parameters
    ----------
    name
        What it is called.
    claims
        quantity=claim, in parts with a semicolon: '5 % of reading; 5 ppm; step 1 ppm; drift 2 ppm' (a year).
    serial
        Serial number.
    kind
        Kind of instrument whose usual claims hold where none is given here; `asfound instrument kinds` lists them.
    calibrated
        Date of the last calibration.
    interval_months
        Months from one calibration to the next.
    coverage
        What the claims mean: rectangular (limits), k2 (expanded, k = 2), k1 (standard uncertainty).
    combine
        Whether per cent and amount add up, or the larger of the two holds.
    shared_fraction
        Share of the variance that all its readings of one quantity have in common.
    source
        Where the claims are written.
    note
        Anything else.
    """
    records = opened(hand, begin=True)
    specs: dict[str, Any] = {quantity: dict(spec) for quantity, spec in _of_kind(kind).items()}
    more = {"coverage": coverage, "combine": combine, "shared_fraction": shared_fraction}
    for claim in claims:
        word, text = name_and_text(claim, "claim")
        quantity, _ = quantity_and_place(word)
        specs[quantity] = _claim(quantity, text) | more
    if not specs:
        raise InputError(
            "claims",
            "",
            "are missing",
            try_next="Give quantity=claim, or --kind; `asfound instrument kinds` lists them.",
        )
    content = {
        "name": name,
        "serial": serial,
        "specs": specs,
        "calibrated": calibrated or None,
        "interval_months": interval_months,
        "source": source or (f"usual for {kind}" if kind else ""),
        "note": note,
    }
    entry = records.append("instrument", content, who=writer(hand, records))
    answer(hand, kept(entry), lambda: [f"Kept {tail(entry.id)}: {name}, {len(specs)} quantities"])


def _of_kind(kind: str) -> dict[str, dict[str, Any]]:
    """Return the usual claims of a kind of instrument by quantity."""
    from asfound.quantities.instruments import instrument_class

    specs = instrument_class(kind).specs if kind else {}
    kept_fields = {quantity: asdict(spec) for quantity, spec in specs.items()}
    return {q: {name: v for name, v in one.items() if name != "source"} for q, one in kept_fields.items()}


def _claim(quantity: str, text: str) -> dict[str, float]:
    """Return one claim in the SI unit of its quantity."""
    from asfound.quantities.parse import parse_amount, parse_number

    fields = {"step": "resolution", "drift": "drift_per_year"}
    found: dict[str, float] = {}
    for part in (piece.strip() for piece in text.split(";")):
        share = _OF_READING.fullmatch(part)
        if share:
            found["percent_of_reading"] = parse_number(share[1]).value or 0.0
            continue
        first, _, rest = part.partition(" ")
        field = fields.get(first.casefold(), "absolute")
        value = parse_amount(
            rest if first.casefold() in fields else part, quantity=quantity, field=f"claim for {quantity}"
        ).value
        if value is None or value < 0:
            raise InputError(
                f"claim for {quantity}",
                part,
                "is no claim",
                allowed="'5 % of reading', '5 ppm', 'step 1 ppm', 'drift 2 ppm'",
            )
        found[field] = value
    return found


@instrument.command
def kinds(out: Out = Out()) -> None:
    """List the kinds of instrument and what each usually claims."""
    from asfound.quantities.instruments import classes

    rows = [(name, one.name, ", ".join(one.specs)) for name, one in classes().items()]
    data = {name: ready(one) for name, one in classes().items()}
    answer(out, data, lambda: columns(rows, ("kind", "what", "quantities")))


@instrument.command(name="list")
def list_instruments(where: Home = Home()) -> None:
    """List the instruments of this home."""
    every = list(opened(where).instruments().values())
    rows = [
        (
            one.content["name"],
            one.content.get("serial", ""),
            one.content.get("calibrated", ""),
            ", ".join(one.content.get("specs", {})),
        )
        for one in every
    ]
    data = [{"id": one.id, **one.content} for one in every]
    answer(where, data, lambda: columns(rows, ("instrument", "serial", "calibrated", "quantities")))
