"""Inputs of a case in money: what there is to give, what was given with its range and origin, read from a file.

Nothing is hidden in a default: what is not given counts as none, and the case lists it so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from asfound.errors import InputError, KnowledgeError, UnknownNameError
from asfound.sources.tables import load_csv, read_text

if TYPE_CHECKING:
    from asfound.sources.yaml_lines import Node
    from asfound.upkeep.upgrade_way import Way


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """An input of a case: what it is, its unit, what it may be, what counts where it is not given."""

    name: str
    title: str
    unit: str
    low: float
    high: float
    default: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumption:
    """An input as given: best value, range, and where it comes from."""

    name: str
    title: str
    unit: str
    best: float
    low: float
    high: float
    source: str

    @property
    def doubtful(self) -> bool:
        """It has a range."""
        return self.low < self.high


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseInputs:
    """What a case rests on."""

    title: str
    money: str
    """Currency and year of the prices."""
    years: int
    assumptions: tuple[Assumption, ...]
    needed: int = 1
    installed: int = 1
    not_counted: tuple[str, ...] = ()

    @property
    def best(self) -> dict[str, float]:
        """All fields at their best values."""
        return {name: one.default for name, one in fields().items()} | {one.name: one.best for one in self.assumptions}

    def with_values(self, **values: float) -> CaseInputs:
        """Return the case with other best values; a range is widened to hold them. A new one gets no range."""
        known = {one.name: one for one in self.assumptions}
        for name, value in values.items():
            one = known.get(name) or assumption(name, value, source="entered")
            known[name] = assumption(name, value, low=min(one.low, value), high=max(one.high, value), source=one.source)
        return replace(self, assumptions=tuple(known.values()))

    def with_way(self, way: Way, *, hours_beside: float = 0.0, parts_back: float = 0.0) -> CaseInputs:
        """Return the case with cost and outage of an upgrade; ``hours_beside`` is the time down beside the work."""
        hours = way.outage_minutes / 60.0 + hours_beside
        plan = "upgrade plan"
        given = (
            assumption("investment", way.cost, low=way.low, high=way.high, source=plan),
            assumption("outage_hours", hours, low=hours, high=2.0 * hours, source=plan),
            assumption("parts_back", parts_back, low=0.0, high=parts_back, source=plan),
        )
        names = {one.name for one in given}
        kept = tuple(one for one in self.assumptions if one.name not in names)
        return replace(self, assumptions=(*kept, *given))


@cache
def fields() -> Mapping[str, Field]:
    """Return the inputs of a case by name, in the order of the sum."""
    rows = load_csv(
        "asfound.upkeep", "data/case_fields.csv", columns=("name", "title", "unit", "low", "high", "default")
    )
    return {
        row["name"]: Field(
            name=row["name"], title=row["title"], unit=row["unit"], low=float(row["low"]), high=float(row["high"]),
            default=float(row["default"]),
        )
        for row in rows
    }  # fmt: skip


def assumption(
    name: str, best: float, *, low: float | None = None, high: float | None = None, source: str = ""
) -> Assumption:
    """Return an assumption, checked: UnknownNameError or InputError with what is allowed."""
    if name not in fields():
        raise UnknownNameError("assumption", name, fields())
    field = fields()[name]
    ends = (best if low is None else low), (best if high is None else high)
    for value in (best, *ends):
        if not field.low <= value <= field.high:
            raise InputError(name, f"{value:g}", "cannot be", allowed=f"{field.low:g} to {field.high:g} {field.unit}")
    if not ends[0] <= best <= ends[1]:
        raise InputError(name, f"{best:g}", "lies outside its range", allowed=f"{ends[0]:g} to {ends[1]:g}")
    return Assumption(
        name=name, title=field.title, unit=field.unit, best=best, low=ends[0], high=ends[1], source=source
    )


def read_case(path: str | Path | None = None) -> CaseInputs:
    """Return a case from a YAML file; without a path the packaged, invented one. KnowledgeError with file and line."""
    from asfound.sources import yaml_lines

    if path is None:
        name = "data/case_vorunice.yaml"
        return _read(yaml_lines.load(read_text("asfound.upkeep", name), file=f"asfound/upkeep/{name}"))
    if not Path(path).is_file():
        raise KnowledgeError(str(path), 1, 1, "there is no file here.", allowed="a YAML file")
    return _read(yaml_lines.load(Path(path)))


def _read(root: Node) -> CaseInputs:
    root.only("title", "source", "money", "years", "engines", "assumptions", "not_counted")
    title, money, years, rows = root.want("title", "money", "years", "assumptions")
    money.only("currency", "year")
    currency, year = money.want("currency", "year")
    engines, beside = root.get("engines"), root.get("not_counted")
    needed, installed = 1, 1
    if engines is not None:
        engines.only("needed", "installed")
        needed, installed = (int(one.number(low=1.0, high=40.0)) for one in engines.want("needed", "installed"))
        if needed > installed:
            raise engines.error_at("needed", "more are needed than installed.", allowed=f"1 to {installed}")
    found: dict[str, Assumption] = {}
    for row in rows.items():
        one = _assumption(row)
        if one.name in found:
            raise row.error_at("name", f"'{one.name}' stands twice.", allowed="each assumption once")
        found[one.name] = one
    return CaseInputs(
        title=title.text(), money=f"{currency.text()}, {year.text()}", years=int(years.number(low=1.0, high=60.0)),
        assumptions=tuple(found.values()), needed=needed, installed=installed,
        not_counted=() if beside is None else tuple(one.text() for one in beside.items()),
    )  # fmt: skip


def _assumption(row: Node) -> Assumption:
    row.only("name", "best", "low", "high", "from")
    name, best, source = row.want("name", "best", "from")
    field = fields()[name.one_of(fields())]
    low, high = row.get("low"), row.get("high")
    value = best.number(low=field.low, high=field.high)
    ends = (
        value if low is None else low.number(low=field.low, high=value),
        value if high is None else high.number(low=value, high=field.high),
    )
    return assumption(field.name, value, low=ends[0], high=ends[1], source=source.text())
