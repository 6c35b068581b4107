"""What methods and rules ask of a test, as data: each criterion with its clause and with how well it is known."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from asfound.sources.tables import load_csv

DOUBT = {"read": "", "secondary": "as a secondary source has it", "memory": "from memory, unverified"}
CONSEQUENCE = {
    "run": "the run is invalid",
    "next_run": "the data of the run stand; recalibrate and check the bias before the next run",
    "test": "the test is not complete",
    "correct": "results are corrected for drift",
    "ask": "ask the authority whether the test stands",
    "points": "more sample points are needed",
    "note": "look into it",
    "words": "",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Criterion:
    """One row of the tables: what is measured, between which bounds, and what follows when it is outside."""

    id: str
    says: str
    measure: str
    """Which function measures it; ``declared``: only a person can say; ``words``: nothing to measure."""
    low: float | None
    high: float | None
    unit: str
    alternative: float | None
    """Enough where the share is missed: the less strict of the two holds. [alternative_unit]"""
    alternative_unit: str
    consequence: str
    source: str
    clause: str
    status: str
    note: str
    methods: tuple[str, ...] = ()
    gases: tuple[str, ...] = ()
    rule: str = ""

    @property
    def limit(self) -> str:
        """The bounds in words: ``at most 5 % of span, or 0.5 ppm``."""
        if self.low is None and self.high is None:
            return "required" if self.measure not in ("words", "points") else ""
        if self.low is not None and self.high is not None:
            bounds = f"{self.low:g}" if self.low == self.high else f"{self.low:g} to {self.high:g}"
        else:
            bounds = f"at most {self.high:g}" if self.low is None else f"at least {self.low:g}"
        unit = "" if not self.unit else f" {self.unit}"
        other = "" if self.alternative is None else f", or {self.alternative:g} {self.alternative_unit}"
        return bounds + unit + other

    @property
    def doubt(self) -> str:
        """How well it is known; empty when the text was read."""
        return DOUBT[self.status]

    @property
    def follows(self) -> str:
        """What follows when it does not hold."""
        return CONSEQUENCE[self.consequence]

    def holds(self, value: float, absolute: float | None = None) -> bool:
        """Tell whether a value lies inside the bounds, or its absolute size inside the alternative."""
        slack = 1e-9  # decimal digits that are no binary ones: 0.5 ppm is 0.5 ppm
        if (
            self.alternative is not None
            and absolute is not None
            and abs(absolute) <= self.alternative + slack * abs(self.alternative)
        ):
            return True
        size = abs(value) if self.low is None else value
        above = self.high is None or size <= self.high + slack * abs(self.high)
        return above and (self.low is None or size >= self.low - slack * abs(self.low))


@cache
def method_criteria() -> tuple[Criterion, ...]:
    """Return the criteria of the test methods, in the order of the table."""
    return tuple(_criterion(row) for row in load_csv("asfound.exhaust", "data/test_method_criteria.csv"))


@cache
def rule_criteria() -> tuple[Criterion, ...]:
    """Return the criteria of the rules under which a test is made."""
    return tuple(_criterion(row) for row in load_csv("asfound.exhaust", "data/test_rule_criteria.csv"))


def for_gas(method: str, gas: str) -> tuple[Criterion, ...]:
    """Return the criteria that a method sets for a gas, those of good practice last."""
    return tuple(
        one
        for one in method_criteria()
        if (method in one.methods or "*" in one.methods) and (not one.gases or gas in one.gases)
    )


def for_rule(rule: str) -> tuple[Criterion, ...]:
    """Return the criteria of a rule."""
    return tuple(one for one in rule_criteria() if one.rule == rule)


def criterion(name: str) -> Criterion:
    """Return the criterion with an id; KeyError where there is none."""
    return {one.id: one for one in (*method_criteria(), *rule_criteria())}[name]


def _criterion(row: dict[str, str]) -> Criterion:
    """Return the criterion of a row."""

    def number(column: str) -> float | None:
        return float(row[column]) if row.get(column) else None

    return Criterion(
        id=row["id"],
        says=row["criterion"],
        measure=row["measure"],
        low=number("low"),
        high=number("high"),
        unit=row["unit"],
        alternative=number("alternative"),
        alternative_unit=row.get("alternative_unit", ""),
        consequence=row["consequence"],
        source=row["source"],
        clause=row["clause"],
        status=row["status"],
        note=row["note"],
        methods=tuple(row.get("method", "").split(";")),
        gases=tuple(row["gas"].split(";")) if row.get("gas") else (),
        rule=row.get("rule", ""),
    )
