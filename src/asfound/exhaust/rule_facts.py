"""What a rule asks of an engine before it says a number, and what is known of this one.

Everything may be unknown: a rule whose condition hangs on an unknown fact neither applies nor does not, and the answer
names the fact. A condition is text that a senior engineer can write in a table::

    power>=500 hp; power<1350 hp; fuel=natural_gas|lpg; burn=lean; made>=2010-07-01

``;`` joins what must all hold, ``or`` joins alternatives.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from datetime import date
from typing import Any, Literal

from asfound.errors import InputError
from asfound.quantities.units import from_si, to_si

FUELS = (
    "natural_gas",
    "field_gas",
    "lpg",
    "biogas",
    "sewage_gas",
    "landfill_gas",
    "mine_gas",
    "wood_gas",
    "other_gas",
)


@dataclass(frozen=True, slots=True)
class Fact:
    """One thing that rules ask: how it is written, and the question that settles it."""

    kind: Literal["power", "hours", "date", "word", "words", "yes_no", "count"]
    ask: str
    words: tuple[str, ...] = ()


FACTS: dict[str, Fact] = {
    "jurisdictions": Fact("words", "where the engine stands (US, EU, DE, AT-4, NL, UNECE; several: US DE)"),
    "power": Fact("power", "the site-rated power at the shaft"),
    "thermal_input": Fact("power", "the rated heat input of the plant, net"),
    "fuel": Fact("word", "the gas it burns", FUELS),
    "burn": Fact("word", "whether it is rich or lean burn by the rule's definition", ("rich", "lean")),
    "strokes": Fact("count", "whether it is a two- or four-stroke", ("2", "4")),
    "ignition": Fact("word", "how it ignites", ("spark", "compression", "dual_fuel")),
    "made": Fact("date", "the date of manufacture"),
    "built": Fact("date", "the date on which construction at the site began"),
    "existing": Fact("yes_no", "whether the text counts it as an existing engine"),
    "modified": Fact("yes_no", "whether it was modified or reconstructed"),
    "emergency": Fact("yes_no", "whether it is an emergency engine by the rule's definition"),
    "source": Fact("word", "whether the site is a major or an area source", ("major", "area")),
    "remote": Fact("yes_no", "whether it is remote by the rule's definition"),
    "over_24_h": Fact("yes_no", "whether it runs more than 24 h a year"),
    "certified": Fact("yes_no", "whether the engine is certified"),
    "by_instructions": Fact("yes_no", "whether it is kept by the written emission instructions of its certificate"),
    "catalyst": Fact("word", "the kind of catalyst", ("none", "oxidation", "three_way", "scr")),
    "hours_a_year": Fact("hours", "the running hours a year"),
}
TRUE, FALSE = ("yes", "true"), ("no", "false")
_PART = re.compile(r"\s*([a-z_0-9]+)\s*(>=|<=|>|<|=)\s*(.+?)\s*\Z")


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineFacts:
    """What is known of an engine for the rules; None is not known."""

    jurisdictions: tuple[str, ...] | None = None
    power: float | None = None
    """[W] at the shaft."""
    thermal_input: float | None = None
    """[W] net."""
    fuel: str | None = None
    burn: str | None = None
    strokes: int | None = None
    ignition: str | None = None
    made: date | None = None
    built: date | None = None
    existing: bool | None = None
    modified: bool | None = None
    emergency: bool | None = None
    source: str | None = None
    remote: bool | None = None
    over_24_h: bool | None = None
    certified: bool | None = None
    by_instructions: bool | None = None
    catalyst: str | None = None
    hours_a_year: float | None = None

    @classmethod
    def of(cls, given: Mapping[str, Any]) -> EngineFacts:
        """Return the facts of plain text by name: ``{"power": "1340 hp", "made": "2009-06-15", "emergency": "no"}``.

        Empty text is not known. Numbers for powers are watts.

        Raises
        ------
        InputError
            A name that is no fact, or a text that it cannot be.
        """
        found = {}
        for name, value in given.items():
            if name not in FACTS:
                raise InputError(name, str(value), "is no fact that rules ask for", allowed=", ".join(FACTS))
            if value is not None and value != "" and value != ():
                found[name] = parsed(name, value)
        return cls(**found)

    @property
    def unknown(self) -> tuple[str, ...]:
        """Names of the facts that nobody said."""
        return tuple(one.name for one in fields(self) if getattr(self, one.name) is None)


def parsed(name: str, value: Any) -> Any:
    """Return a fact from its text; InputError when it cannot be one."""
    fact = FACTS[name]
    text = str(value).strip()
    if fact.kind == "words":
        words = value if isinstance(value, tuple | list) else text.replace(",", " ").split()
        return tuple(str(one).upper() for one in words)
    if fact.kind in ("power", "hours", "count"):
        return _number(name, value, fact)
    if fact.kind == "yes_no":
        if text.lower() in TRUE or text.lower() in FALSE:
            return text.lower() in TRUE
        raise InputError(name, text, "is neither yes nor no", allowed="yes, no")
    if fact.kind == "date":
        try:
            return date.fromisoformat(text)
        except ValueError:
            raise InputError(name, text, "is no date", allowed="a date as 2010-07-01") from None
    if text not in fact.words:
        raise InputError(name, text, "is none of the words for it", allowed=", ".join(fact.words))
    return text


def _number(name: str, value: Any, fact: Fact) -> float | int:
    """Return a number in SI; a count as a whole number."""
    said = re.fullmatch(r"([0-9.]+(?:e[0-9]+)?)\s*(.*)", str(value).strip().replace(",", ""))
    unit = {"power": "W", "hours": "h", "count": ""}[fact.kind]
    if said is None:
        raise InputError(
            name, str(value), "is no number", allowed=f"a number with its unit, as 1340 {unit or 'strokes'}"
        )
    number = float(said[1])
    if fact.kind == "count":
        if str(int(number)) not in fact.words or number != int(number):
            raise InputError(name, str(value), "is not possible", allowed=" or ".join(fact.words))
        return int(number)
    if fact.kind == "hours":
        return number
    return float(to_si(number, said[2] or "W"))


@dataclass(frozen=True, slots=True)
class Part:
    """One comparison of a condition: ``power >= 500 hp``."""

    fact: str
    sign: str
    values: tuple[Any, ...]
    """In SI; several are alternatives."""

    def holds(self, facts: EngineFacts) -> bool | None:
        """Tell whether it holds; None where the fact is not known."""
        known = getattr(facts, self.fact)
        if known is None:
            return None
        if self.sign == "=":
            return any(one in known for one in self.values) if isinstance(known, tuple) else known in self.values
        other = self.values[0]
        close = isinstance(known, float) and abs(known - other) <= 1e-9 * abs(other)  # 500 hp through watts and back
        over, under = known > other and not close, known < other and not close
        return bool({">": over, ">=": not under, "<": under, "<=": not over}[self.sign])


@dataclass(frozen=True, slots=True)
class Condition:
    """When a rule applies: alternatives, each of parts that must all hold. No alternative at all: always."""

    alternatives: tuple[tuple[Part, ...], ...]
    text: str

    def holds(self, facts: EngineFacts) -> bool | None:
        """Tell whether the condition holds; None where that hangs on what is not known."""
        if not self.alternatives:
            return True
        found = [_all(part.holds(facts) for part in parts) for parts in self.alternatives]
        return True if True in found else None if None in found else False

    def asks(self, facts: EngineFacts) -> tuple[str, ...]:
        """Return the facts that would settle it, in the order written; empty where it is settled."""
        if self.holds(facts) is not None:
            return ()
        open_ = [parts for parts in self.alternatives if _all(part.holds(facts) for part in parts) is None]
        return tuple(dict.fromkeys(part.fact for parts in open_ for part in parts if part.holds(facts) is None))


def _all(found: Iterable[bool | None]) -> bool | None:
    """Join three-valued answers by 'and'."""
    answers = list(found)
    return False if False in answers else None if None in answers else True


def condition(text: str) -> Condition:
    """Return the condition that a text says; InputError names the part that cannot be read."""
    alternatives = []
    for alternative in re.split(r"\s+or\s+", text.strip()):
        parts = [_part(one) for one in alternative.split(";") if one.strip()]
        if parts:
            alternatives.append(tuple(parts))
    return Condition(tuple(alternatives), text.strip())


def _part(text: str) -> Part:
    """Return one comparison."""
    said = _PART.match(text)
    if said is None or said[1] not in FACTS:
        raise InputError(
            "when", text.strip(), "is no condition", allowed=f"fact, sign, value; facts: {', '.join(FACTS)}"
        )
    name, sign = said[1], said[2]
    if sign != "=" and FACTS[name].kind not in ("power", "hours", "date"):
        raise InputError("when", text.strip(), "compares words by size", allowed=f"{name}=word or {name}=word|word")
    values = [parsed(name, one.strip()) for one in said[3].split("|")]
    if sign != "=" and len(values) > 1:
        raise InputError("when", text.strip(), "has alternatives beside a size", allowed=f"one value after {sign}")
    flat = [inner for one in values for inner in (one if isinstance(one, tuple) else (one,))]
    return Part(name, sign, tuple(flat))


def in_words(facts: EngineFacts) -> str:
    """Say what is known, for an answer that must show what it rests on."""
    said = []
    for one in fields(facts):
        value = getattr(facts, one.name)
        if value is None:
            continue
        if isinstance(value, float) and FACTS[one.name].kind == "power":
            shown = f"{value / 1e3:,.0f} kW ({from_si(value, 'hp'):,.0f} hp)"
        elif isinstance(value, bool):
            shown = "yes" if value else "no"
        else:
            shown = " ".join(value) if isinstance(value, tuple) else str(value).replace("_", " ")
        said.append(f"{one.name.replace('_', ' ')}: {shown}")
    return "; ".join(said) or "nothing is known of the engine"
