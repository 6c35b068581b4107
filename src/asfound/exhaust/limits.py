"""Which general rules concern an engine, what would settle the open ones, and which limit is used in the end.

The permit at hand comes first, always: a pollutant that it limits is judged by the permit alone, and the answer names
the general rows that were put aside. A general row is shown as what it is: a general rule, not the permit.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal

from asfound.errors import InputError
from asfound.exhaust.limits_table import Rule
from asfound.exhaust.rule_facts import FACTS, EngineFacts, in_words
from asfound.quantities.register import quantities, quantity
from asfound.quantities.words import Limit

Verdict = Literal["applies", "may apply", "does not apply"]
INSIDE: dict[str, tuple[str, ...]] = {
    "DE": ("EU",),
    "NL": ("EU",),
    "AT": ("EU",),
    "AT-4": ("AT", "EU"),
    "US-CA-VEN": ("US",),
    "US-CO": ("US",),
}
"""Wider jurisdictions whose texts hold too."""
NOT_YOURS = "general rule, not your permit"
NO_PERMIT = frozenset({"alarm", "warning", "rating", "target"})
"""Words for walls that nobody outside the site has set."""
SPECIES = {"formaldehyde": "HCHO"}
"""Pollutant as a table writes it to species of the register, where they differ."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Application:
    """One general row beside one engine."""

    rule: Rule
    verdict: Verdict
    asks: tuple[str, ...] = ()
    """Facts that would settle it, in the order of the row."""
    overridden_by: Limit | None = None
    """The permit's own limit for the same pollutant."""

    @property
    def says(self) -> str:
        """The row with its verdict, and what to say where it is open."""
        said = f"{self.rule.says}; {self.rule.where}: {self.verdict}"
        if self.asks:
            said += ": say " + ", ".join(FACTS[one].ask for one in self.asks)
        elif self.verdict == "may apply":
            said += ": the text splits finer than this row"
        if self.overridden_by is not None:
            said += f"; put aside for the {self.overridden_by.name} ({self.overridden_by.as_typed})"
        return f"{said}. {self.rule.status_words[0].upper()}{self.rule.status_words[1:]}."


@dataclass(frozen=True, slots=True, kw_only=True)
class Applicable:
    """The limits of an engine: those of its permit, and what general rules say beside them."""

    facts: EngineFacts
    day: date
    permit: tuple[Limit, ...]
    all: tuple[Application, ...]

    @property
    def general(self) -> tuple[Application, ...]:
        """Rows that apply or may apply, in the order of the tables."""
        return tuple(one for one in self.all if one.verdict != "does not apply")

    @property
    def applying(self) -> tuple[Application, ...]:
        """Rows that apply."""
        return tuple(one for one in self.all if one.verdict == "applies")

    @property
    def may_apply(self) -> tuple[Application, ...]:
        """Rows that hang on what is not known."""
        return tuple(one for one in self.all if one.verdict == "may apply")

    @property
    def used(self) -> tuple[Application, ...]:
        """Rows that apply and that no limit of the permit puts aside."""
        return tuple(one for one in self.applying if one.overridden_by is None)

    @property
    def questions(self) -> tuple[str, ...]:
        """Facts that open rows ask for, the one that most rows ask for first."""
        asked = [fact for one in self.may_apply for fact in one.asks]
        return tuple(sorted(dict.fromkeys(asked), key=lambda one: (-asked.count(one), list(FACTS).index(one))))

    @property
    def says(self) -> str:
        """Which limits are used and which were put aside, in words."""
        used = [f"the {one.name} ({one.as_typed})" for one in self.permit]
        parts = [f"Used: {', '.join(used)}." if used else "No limit of a permit is on the record."]
        aside = [one for one in self.applying if one.overridden_by is not None]
        if aside:
            parts.append("Put aside for it: " + "; ".join(f"{one.rule.says}, {one.rule.where}" for one in aside) + ".")
        if self.used:
            parts.append(
                f"Beside it ({NOT_YOURS}): "
                + "; ".join(f"{one.rule.says}, {one.rule.where}" for one in self.used)
                + "."
            )
        if self.may_apply:
            asks = ", ".join(FACTS[one].ask for one in self.questions[:4])
            parts.append(f"{len(self.may_apply)} more rows may apply" + (f": say {asks}." if asks else "."))
        return " ".join(parts) + f" Known: {in_words(self.facts)}."


def of_permit(limits: Iterable[Limit]) -> tuple[Limit, ...]:
    """Return the limits that bind: an alarm or a rating is a wall too, but no permit and no rule."""
    return tuple(one for one in limits if not set(one.name.lower().replace(",", " ").split()) & NO_PERMIT)


def applicable(facts: EngineFacts, rules: Iterable[Rule], permit: Sequence[Limit] = (), *, day: date) -> Applicable:
    """Return which rows of a catalogue concern an engine on a day, and which the permit puts aside.

    Parameters
    ----------
    facts : EngineFacts
        What is known; a row that hangs on what is not known may apply, and names what to say.
    rules : iterable of Rule
        The packaged tables, a company's own, or both.
    permit : sequence of Limit
        The limits on the record; alarms and ratings among them are left out. One that was adopted from a general row
        counts as the permit at hand: somebody put it on the record.
    day : date
        Of the visit.
    """
    binding = of_permit(permit)
    return Applicable(
        facts=facts, day=day, permit=binding, all=tuple(_apply(one, facts, binding, day) for one in rules)
    )


def _apply(rule: Rule, facts: EngineFacts, permit: Sequence[Limit], day: date) -> Application:
    """Return one row beside the engine."""
    there = None if facts.jurisdictions is None else rule.jurisdiction in _places(facts.jurisdictions)
    if there is False or not rule.in_force(day) or rule.when.holds(facts) is False:
        return Application(rule=rule, verdict="does not apply")
    by = next((one for one in permit if _same_pollutant(rule, one)), None)
    asks = (() if there else ("jurisdictions",)) + rule.when.asks(facts)
    open_ = bool(asks) or rule.kind == "range"
    return Application(rule=rule, verdict="may apply" if open_ else "applies", asks=asks, overridden_by=by)


def _places(said: Iterable[str]) -> set[str]:
    """Return the jurisdictions said and those that they lie in."""
    return {wider for one in said for wider in (one, *INSIDE.get(one, ()))}


def _same_pollutant(rule: Rule, limit: Limit) -> bool:
    """Tell whether a limit of the permit is about what a row is about."""
    if limit.quantity == rule.quantity:
        return True
    if not rule.pollutant or limit.quantity not in quantities():
        return False
    return bool(quantity(limit.quantity).species) and quantity(limit.quantity).species == SPECIES.get(
        rule.pollutant, rule.pollutant
    )


def stricter_than_permit(one: Application, permit_reference: float | None = None) -> bool | None:
    """Tell whether a general row is stricter than the limit that puts it aside; None where they cannot be compared.

    Parameters
    ----------
    one : Application
        With ``overridden_by``.
    permit_reference : float, optional
        Reference oxygen of the permit; without it concentrations are not compared. [mol/mol]
    """
    limit, rule = one.overridden_by, one.rule
    if limit is None or limit.quantity != rule.quantity or limit.side != rule.side:
        return None
    value = rule.si
    if rule.reference_oxygen is not None:
        if permit_reference is None or rule.oxygen_in_air is None:
            return None
        value *= (rule.oxygen_in_air - permit_reference) / (rule.oxygen_in_air - rule.reference_oxygen)
    slack = 1e-6 * abs(limit.value)
    return value < limit.value - slack if rule.side == "upper" else value > limit.value + slack


def adopt(rule: Rule) -> dict[str, Any]:
    """Return the content of an entry of kind ``limit`` by which a general row is put on the record.

    The entry says that it is a general rule and how its text was seen. What must go on the sheet with it, so that
    numbers are counted in the row's own basis, is `goes_with`.

    Raises
    ------
    InputError
        Nothing here gives the number that the row limits.
    """
    if not rule.quantity:
        raise InputError(
            "rule",
            rule.says,
            "limits what nothing here computes",
            try_next="Keep it as a note, and compare by hand.",
        )
    at = "" if rule.reference_oxygen is None else f"at {100 * rule.reference_oxygen:g} % oxygen"
    return {
        "quantity": rule.quantity,
        "value": rule.si,
        "as_typed": rule.as_typed,
        "side": rule.side,
        "place": "",
        "name": NOT_YOURS,
        "text": f"{rule.where}. {rule.status_words[0].upper()}{rule.status_words[1:]}. {rule.note}".strip(),
        "basis": ", ".join(one for one in (rule.basis, at, rule.averaging) if one),
    }


def goes_with(rule: Rule) -> dict[str, float]:
    """Return the readings that an adopted row needs, by quantity. [SI]"""
    found = {"permit_reference_oxygen": rule.reference_oxygen, "permit_oxygen_in_air": rule.oxygen_in_air}
    return {name: value for name, value in found.items() if value is not None}
