"""Readings as a person types them, for the tests of this room."""

from __future__ import annotations

from collections.abc import Mapping

from asfound.power import findings_compressor, findings_generator, findings_load
from asfound.quantities.findings import Case
from asfound.quantities.parse import parse_amount
from asfound.quantities.register import quantity
from asfound.quantities.sheet import work_out
from asfound.quantities.words import Finding, Limit, Reading
from asfound.quantities.worked import Worked


def reading(key: str, text: str, u: float = 0.0, state: str = "as_found") -> Reading:
    """Return a reading from ``place/quantity`` and what was typed; ``u`` is its relative standard uncertainty."""
    place, name = key.split("/")
    plain = quantity(name).si_unit == "1"
    amount = parse_amount(text, quantity=name, decimal=".", default_unit="1" if plain else None)
    assert amount.value is not None, text
    return Reading(
        quantity=name, place=place, state=state, time="2032-07-08T09:00:00+00:00",  # type: ignore[arg-type]
        value=amount.value, unit=quantity(name).si_unit, as_typed=text,
        standard_uncertainty=abs(u * amount.value), gauge=bool(amount.gauge),
    )  # fmt: skip


def sheet(typed: Mapping[str, str], u: float = 0.0, number: int = 400) -> Worked:
    """Work out what was typed, each reading with the same relative doubt."""
    return work_out([reading(key, text, u) for key, text in typed.items()], number=number)


def value(worked: Worked, key: str, worksheet: str | None = None) -> float:
    """Return a result's value as found."""
    found = worked.result(f"as_found/{key}", worksheet)
    assert found is not None, [one.says for one in worked.refused] or worked.missing
    return found.value


def findings(worked: Worked, limits: tuple[Limit, ...] = ()) -> dict[str, list[Finding]]:
    """Return the findings of load and compressor by code."""
    case = Case(readings=worked.readings, worked=worked, limits=limits)
    found: dict[str, list[Finding]] = {}
    for module in (findings_load, findings_generator, findings_compressor):
        for one in module.find(case):
            found.setdefault(one.code, []).append(one)
    return found
