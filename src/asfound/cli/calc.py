"""`asfound calc`: any registered worksheet on values typed as people write them. It knows no worksheet by name."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal

from cyclopts import Parameter

from asfound.cli.answer import answer, coloured, columns, ready, wrapped
from asfound.cli.options import Out
from asfound.cli.typed import Doubt, name_and_text, quantity_and_place, reading_from
from asfound.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from asfound.quantities.sheet import Worked
    from asfound.quantities.words import Reading, Result
    from asfound.quantities.worksheets import Take, Worksheet

System = Literal["si", "us"]
HELP = ("--help", "-h")
FEWEST, MOST = 100, 1_000_000
"""Draws: below, the ends of an interval of 95 % are two or three draws; above, nothing new is told."""


def calc(
    *words: Annotated[str, Parameter(allow_leading_hyphen=True, name="words")],
    units: System = "si",
    instrument: tuple[str, ...] = (),
    doubt: Doubt = "limit",
    draws: int = 10_000,
    seed: int = 1,
    out: Out = Out(),
) -> None:
    """Work out a worksheet from values typed here.

    asfound calc WORKSHEET name=value ...     for example  exhaust_oxygen_dry='8,5 % +- 0,2 %'
    asfound calc                              lists the worksheets
    asfound calc WORKSHEET --help             shows its inputs with units and ranges

    Parameters
    ----------
    words
        Name of the worksheet, then quantity=value or quantity@place=value; a doubt follows after +-.
    units
        Units in which results are shown: si or us.
    instrument
        quantity=kind of instrument that it was read with, for the doubt of a value without +-.
    doubt
        What a number after +- means: what the instrument claims, a standard uncertainty, or k = 2.
    draws
        Number of draws behind each interval.
    seed
        The same seed gives the same digits.
    """
    from asfound.quantities.worksheets import find, load

    asked = [word for word in words if word not in HELP]
    if not asked:
        if words:
            from asfound.cli.door import build

            build().help_print(["calc"])
            return
        sheets = list(load().values())
        answer(out, [_sheet(sheet) for sheet in sheets], lambda: _list(sheets))
        return
    sheet = find(asked[0])
    if len(asked) < len(words):
        answer(out, _sheet(sheet), lambda: _inputs(sheet))
        return
    kinds = dict(name_and_text(one, "instrument") for one in instrument)
    if not FEWEST <= draws <= MOST:
        raise InputError("draws", str(draws), "are not enough, or too many", allowed=f"{FEWEST} to {MOST:,}")
    readings = _readings(sheet, asked[1:], kinds, doubt)
    from asfound.quantities.as_data import result_as_data
    from asfound.quantities.sheet import work_out

    worked = work_out(readings, number=draws, seed=seed, only=(sheet.name,))
    results = [result for result in worked.results if result.worksheet == sheet.name]
    if not results:
        refused = [one.error for one in worked.refused if one.worksheet == sheet.name]
        raise refused[0] if refused else _what_is_missing(sheet, worked)
    odd = _implausible(readings)
    data = {
        "worksheet": sheet.name,
        "title": sheet.title,
        "draws": draws,
        "seed": seed,
        "look_again": odd,
        "results": [result_as_data(result, worked, units) for result in results],
    }
    answer(out, data, lambda: _told(sheet, results, worked, units, odd))


def _readings(sheet: Worksheet, words: Sequence[str], kinds: Mapping[str, str], doubt: Doubt) -> tuple[Reading, ...]:
    """Return what was typed as readings of one state; gauge pressures find the barometer among them."""
    found: dict[str, Reading] = {}
    for word in words:
        name, text = name_and_text(word, "input")
        quantity, place = quantity_and_place(name, [take.quantity for take in sheet.takes])
        place = place or _place(sheet, quantity, sum(one.quantity == quantity for one in found.values()))
        reading = reading_from(text, quantity, place, field=name, doubt=doubt, kind=kinds.get(quantity, ""))
        if reading.key in found:
            raise InputError(
                name, text, "was given twice", try_next="Give it once, or at different places: name@place."
            )
        found[reading.key] = reading
    return tuple(found.values())


def _place(sheet: Worksheet, quantity: str, before: int) -> str:
    """Return where a value without a place lies: where the worksheet takes it from, the next of several places."""
    from asfound.quantities.worksheets import SAME

    for take in sheet.takes:
        if take.quantity == quantity and take.each:
            return take.place_of(before + 1)
        if take.quantity == quantity and take.place != SAME:
            return take.place
    return "engine"


def _what_is_missing(sheet: Worksheet, worked: Worked) -> InputError:
    """Return the error that names what the worksheet lacks, and how to give it."""
    lacking = [name for one in worked.missing if one.worksheet == sheet.name for name in one.quantities]
    names = list(dict.fromkeys(lacking)) or [take.quantity for take in sheet.takes if not take.optional]
    return InputError(
        sheet.name,
        ", ".join(names),
        "is missing" if len(names) == 1 else "are missing",
        allowed="; ".join(_range(name) for name in names),
        try_next=f"`asfound calc {sheet.name} --help` shows all inputs.",
    )


def _range(quantity: str) -> str:
    """Return the plausible range of a quantity in words."""
    from asfound.quantities.display import show
    from asfound.quantities.register import quantity as register

    one = register(quantity)
    low, high = (show(end, quantity) for end in one.plausible)
    return f"{quantity} {low.value} to {high.value} {high.unit}".strip()


def _sheet(sheet: Worksheet) -> dict[str, Any]:
    """Return what a program must know to call a worksheet."""
    from asfound.quantities.register import quantity
    from asfound.sources.register import cite

    def take(one: Take) -> dict[str, Any]:
        about = quantity(one.quantity)
        return {
            "quantity": one.quantity,
            "title": about.title,
            "place": one.place,
            "needed": not one.optional and one.assume is None,
            "default": ready(one.default),
            "assumed": ready(one.assume),
            "unit": about.si_unit,
            "units": list(about.units),
            "plausible": list(about.plausible),
        }

    return {
        "worksheet": sheet.name,
        "title": sheet.title,
        "room": sheet.room,
        "takes": [take(one) for one in sheet.takes],
        "gives": list(sheet.gives),
        "method": sheet.method.name,
        "source": cite(sheet.method.source, sheet.method.clause),
        "says": sheet.help,
    }


def _list(sheets: Sequence[Worksheet]) -> Iterator[str]:
    for room in dict.fromkeys(sheet.room for sheet in sheets):
        yield coloured(room, "head")
        rows = [(f"  {sheet.name}", sheet.title) for sheet in sheets if sheet.room == room]
        yield from columns(rows)
    if not sheets:
        yield "No worksheet is registered."
    yield "`asfound calc WORKSHEET --help` shows the inputs of one."


def _inputs(sheet: Worksheet) -> Iterator[str]:
    from asfound.quantities.register import quantity
    from asfound.sources.register import cite

    yield coloured(f"{sheet.name}: {sheet.title}", "head")
    yield from wrapped(sheet.help)
    yield ""
    rows = []
    for take in sheet.takes:
        about = quantity(take.quantity)
        needed = "needed"
        if take.assume is not None:
            needed = f"assumed if not given: {take.assume.says}"
        elif take.optional:
            needed = "may be left out"
        rows.append((f"  {take.quantity}=", about.title, _range(take.quantity), ", ".join(about.units[:6]), needed))
    yield from columns(rows, ("  input", "what", "plausible", "units", ""))
    yield ""
    yield f"Gives: {', '.join(sheet.gives)}"
    yield from wrapped(f"Method: {sheet.method.name}; {cite(sheet.method.source, sheet.method.clause)}")
    for name, (_, _, words) in sheet.valid.items():
        yield f"Holds for {name}: {words}"
    yield ""
    yield "For example: asfound calc " + " ".join(
        [sheet.name, *(f"{t.quantity}=..." for t in sheet.takes if not t.optional)]
    )


def shown(result: Result, units: System) -> tuple[str, str, str]:
    """Return value, interval and unit of a result as text."""
    from asfound.quantities.display import interval_text, show

    text = show(result.value, result.quantity, system=units, interval=result.interval)
    return text.value, interval_text(text.value, text.low, text.high), text.unit


def _implausible(readings: Sequence[Reading]) -> list[str]:
    """Return in words which values typed lie where such readings never do."""
    from asfound.quantities.register import implausible

    said = (implausible(one.quantity, one.value, gauge=one.gauge) for one in readings)
    return [words for words in said if words]


def _told(
    sheet: Worksheet, results: Sequence[Result], worked: Worked, units: System, odd: Sequence[str]
) -> Iterator[str]:
    yield coloured(sheet.title, "head")
    yield from (coloured(f"  Look again: {words}", "soon") for words in odd)
    for result in results:
        value, interval, unit = shown(result, units)
        yield f"  {result.quantity}" + (f" at {result.place}" if result.place != "engine" else "")
        yield f"    {value} {unit}".rstrip() + (f"   {interval}" if interval else "")
        yield from (f"    outside: {words}" for words in result.outside)
        yield from trail(result, worked, units, indent="    ")
    yield ""
    yield "The interval holds the true value 95 times in 100."


def trail(result: Result, worked: Worked, units: System = "si", indent: str = "") -> Iterator[str]:
    """Yield how a number came to be: its method, then what it was made from, down to the readings."""
    from asfound.quantities.words import Result as Computed
    from asfound.sources.register import cite

    shares = dict(worked.shares(result))
    for depth, one in result.walk():
        lead = indent + "  " * depth
        if isinstance(one, Computed):
            value, interval, unit = shown(one, units)
            source = cite(one.method.source, one.method.clause)
            yield f"{lead}{one.quantity} {value} {unit} ({interval}): {one.method.name}; {source}"
        else:
            share = f"; {shares[one.key]:.0%} of the doubt" if shares.get(one.key, 0) >= 0.005 else ""
            said = f": {one.said_by}" if one.said_by else ""
            mark = "ASSUMED " if one.origin == "assumed" else ""
            yield f"{lead}{mark}{one.quantity} {one.as_typed}{said}{share}"
