"""The data file of compliance: each value beside its limit, and each reading under it with who, instrument, entry."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.quantities.words import Result
from asfound.report.readers.compliance_rests import kept_of, load_at, next_calibration, numbers_beside, readings_under
from asfound.report.wording import in_units, interval_of, unit_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from asfound.quantities.words import Reading
    from asfound.records.entries import Entry
    from asfound.records.view_parts import KeptReading, LimitState
    from asfound.report.readers.ground import Ground


COLUMNS = (
    "row", "value_key", "quantity", "place", "state", "shown", "unit", "low_95", "high_95", "value_si", "low_si",
    "high_si", "unit_si", "limit", "limit_side", "limit_si", "limit_unit_si", "limit_basis", "limit_text",
    "chance_beyond", "method", "method_source", "method_clause", "load", "as_typed", "assumed", "instrument", "serial",
    "calibrated", "calibration_due", "averaged_min", "time", "who", "entry", "entry_sha256",
)  # fmt: skip


def limit_fact(state: LimitState) -> dict[str, Any]:
    """Return a limit with its values and the readings under each, as plain data."""
    limit = state.limit
    return {
        "quantity": limit.quantity,
        "limit_si": limit.value,
        "as_typed": limit.as_typed,
        "side": limit.side,
        "name": limit.name,
        "basis": limit.basis,
        "text": limit.text,
        "entry": limit.entry,
        "values": [
            {
                "key": one.key,
                "value_si": one.value,
                "interval_si": list(interval_of(one)),
                "unit_si": one.unit,
                "chance_beyond": state.beyond.get(one.key),
                "readings": [each.entry or each.key for each in readings_under(one)],
            }
            for one in numbers_beside(state)
        ],
    }


def data(ground: Ground) -> Iterator[tuple[Any, ...]]:
    """Yield a row for each value beside a limit, and after it a row for each reading that it rests on."""
    view = ground.view
    kept = kept_of(view)
    sealed = {one["id"]: one["digest"] for one in view.seal.content["entries"]} if view.seal else {}
    for state in view.limit_states:
        limit = state.limit
        for number in numbers_beside(state):
            low, high = interval_of(number)
            method = number.method if isinstance(number, Result) else None
            shown = _shown(number, ground)
            yield (
                "value",
                number.key,
                number.quantity,
                number.place,
                number.state,
                *shown,
                number.value,
                low,
                high,
                number.unit,
                limit.as_typed,
                limit.side,
                limit.value,
                number.unit,
                limit.basis,
                limit.text,
                state.beyond.get(number.key),
                method.name if method else "read",
                method.source if method else "",
                method.clause if method else "",
                load_at(ground, number.state),
                *[""] * 11,
            )
            for one in readings_under(number):
                yield _reading(number.key, one, kept.get(one.entry), sealed, ground)


def _shown(number: Result | Reading, ground: Ground) -> tuple[Any, ...]:
    """Return value, unit and interval in the unit of the reader."""
    low, high = sorted(in_units(end, number.quantity, ground.system) for end in interval_of(number))
    return (
        in_units(number.value, number.quantity, ground.system),
        unit_words(number.quantity, ground.system),
        low,
        high,
    )


def _reading(
    key: str, one: Reading, kept: KeptReading | None, sealed: dict[str, str], ground: Ground
) -> tuple[Any, ...]:
    low, high = interval_of(one)
    content = kept.instrument.content if kept is not None and kept.instrument is not None else {}
    entry: Entry | None = kept.entry if kept is not None else None
    due = next_calibration(content) if content else None
    return (
        "reading",
        key,
        one.quantity,
        one.place,
        one.state,
        *_shown(one, ground),
        one.value,
        low,
        high,
        one.unit,
        *[""] * 11,
        one.as_typed,
        one.origin == "assumed",
        content.get("name") or one.said_by,
        content.get("serial", ""),
        content.get("calibrated", ""),
        due.isoformat() if due else "",
        entry.content.get("minutes") if entry else "",
        kept.time if kept else one.time,
        entry.who if entry else "",
        one.entry,
        sealed.get(one.entry, ""),
    )
