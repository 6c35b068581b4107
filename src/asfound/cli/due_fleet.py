"""`asfound due spares|rates`: what a fleet holds on its shelf, and how often its parts fail."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Literal

from asfound.cli.answer import answer, coloured, columns, wrapped
from asfound.cli.due_say import due
from asfound.cli.find import opened
from asfound.cli.options import Home

if TYPE_CHECKING:
    from collections.abc import Iterator

    from asfound.records.fleet_spares import OnRecord
    from asfound.upkeep.failure_rates import ItemRate
    from asfound.upkeep.fleet_spares import Stock

__all__ = ["due"]


@due.command
def spares(file: Path | None = None, /, *, home: Home = Home()) -> None:
    """Say how many of each part to hold for all engines of the home, from what failed on record.

    asfound due spares

    asfound due spares parts.yaml

    Parameters
    ----------
    file
        Parts, their lead times and what is wanted of the shelf; else `spares.yaml` in the home, else an example.
    """
    from dataclasses import asdict

    from asfound.records.fleet_spares import spares_of

    found, source, seen = spares_of(opened(home), file)
    data = {"parts": [{**asdict(one), "says": one.says} for one in found], "from": source, "left_out": seen.left_out}
    answer(home, data, lambda: _spares_told(found, source, seen))


def _spares_told(found: tuple[Stock, ...], source: str, seen: OnRecord) -> Iterator[str]:
    hours = sum(one.hours for one in seen.engines)
    yield coloured(f"Spares for {len(seen.engines)} engines, {hours:,.0f} h on record", "head")
    yield from wrapped(f"Parts: {source}.")
    yield ""
    rows = [
        (
            one.part.part, str(one.places), str(one.failures), _figures(one.rate),
            f"{_figures(one.rate_low)} to {_figures(one.rate_high)}", _figures(one.demand), str(one.hold.stock),
            str(one.hold_high.stock),
            "" if one.now is None else f"{one.now.stock}: {100 * one.now.fill:.0f} in 100",
        )
        for one in found
    ]  # fmt: skip
    head = ("part", "places", "failed", "in 1000 h", "90 in 100", "in an order", "hold", "at most", "shelf serves")
    yield from columns(rows, head, right=(1, 2, 3, 5, 6, 7))
    yield ""
    yield from wrapped(
        "Hold: fewest that serve the share wanted of the demands at once, at the middle rate; at most: at the upper "
        "limit of the rate, which falls as more hours are watched. For parts that fail at random; what wears out is "
        "ordered with its stop, and a last buy or a repair turnaround is a question to the supplier."
    )
    yield from _left_out(seen)


@due.command(name="rates")
def show_rates(*, by: Literal["item", "subunit", "mode", "mechanism"] = "item", home: Home = Home()) -> None:
    """Show how often things failed, and how long they stood, over all engines of the home (ISO 14224 terms).

    asfound due rates

    asfound due rates --by mode

    Parameters
    ----------
    by
        What is counted by.
    """
    from dataclasses import asdict

    from asfound.records.fleet_spares import on_record, rates_on_record

    records = opened(home)
    found = rates_on_record(records, by=by)
    seen = on_record(records)
    answer(home, [asdict(one) for one in found], lambda: _rates_told(found, by, seen))


def _rates_told(found: tuple[ItemRate, ...], by: str, seen: OnRecord) -> Iterator[str]:
    yield coloured(f"Failures by {by}, {len(seen.engines)} engines", "head")
    if not found:
        yield from wrapped("No failure is on record within the hours that were read. `asfound due failure` notes one.")
    else:
        rows = [
            (
                one.item, str(one.failures), f"{one.hours:,.0f}", "" if one.mtbf is None else f"{one.mtbf:,.0f}",
                f"{one.low:,.0f} to {'?' if one.high is None else f'{one.high:,.0f}'}", _hours(one.repair_hours),
                _hours(one.down_hours), "" if one.steady else "with a trend",
            )
            for one in found
        ]  # fmt: skip
        head = (by, "failed", "hours watched", "mean h between", "90 in 100", "repair h", "down h", "")
        yield from columns(rows, head, right=(1, 2, 3, 5, 6))
        yield ""
        yield from wrapped(
            "Limits by chi-square for a constant rate. Repair: mean active time of the work; down: from stop to back "
            "in service. With a trend a mean holds for no date. Hours count from the first failure or work order of "
            "the home: before it nobody noted any."
        )
    yield from _left_out(seen)


def _hours(value: float | None) -> str:
    return "" if value is None else f"{value:.1f}"


def _figures(value: float) -> str:
    from asfound.quantities.display import number_text

    return number_text(value, 2)


def _left_out(seen: OnRecord) -> Iterator[str]:
    if seen.left_out:
        yield from wrapped(f"Left out, for their hour meter was not read twice: {', '.join(seen.left_out)}.")
