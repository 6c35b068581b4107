"""What is known of odd cylinders: causes, witnesses, how each witness speaks of each cause. Read from YAML, checked.

The file is written by people who know engines, not programs: shares in 100, states in words, and for a witness that is
a number the mean and spread of that number in each state. Every slip is refused with file and line.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from asfound.sources import register, yaml_lines

if TYPE_CHECKING:
    from asfound.sources.yaml_lines import Node

Side = Literal["nothing", "sensor", "cylinder"]
SIDES: tuple[Side, ...] = ("nothing", "sensor", "cylinder")
STATES_OF_ENGINE = ("any", "running", "stopped", "isolated")
SHIPPED = Path(__file__).parent / "data" / "sensor_or_cylinder.yaml"
NEAR = 1e-6
"""How far shares may miss 100."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """One thing that can be behind an odd cylinder."""

    name: str
    title: str
    side: Side
    group: str
    """What is worked on: ``sensor``, ``wiring``, ``ignition``, ``mixture``, ``timing``, ``leak``, ``sound``."""
    prior: float
    """Share of cylinders for which it holds before anything is known; all priors together are 1. [-]"""
    misses: bool
    """The cylinder does not fire in every cycle."""
    does: str
    """What to do about it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SpokenState:
    """One thing that a witness can say; ``mean`` and ``sd`` where it is said by a number (in the witness's unit)."""

    name: str
    says: str
    mean: float | None
    sd: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """How a witness is heard: what to do, how long it takes, in which state of the engine."""

    does: str
    minutes: float
    state: str
    cautions: tuple[str, ...]
    cannot_tell: float
    """Chance that one looks and cannot tell. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Witness:
    """Something that can speak of a cylinder."""

    name: str
    title: str
    wire: str
    """What it hangs on: witnesses of one wire are right or wrong together."""
    shared: bool
    """It sees a whole bank, not one cylinder."""
    unit: str
    states: Mapping[str, SpokenState]
    given: Mapping[str, Mapping[str, float]]
    """Cause to state to share, for every cause. [-]"""
    asked: Asked | None
    """None: worked out from the readings, nobody can be sent to hear it."""
    source: str

    @property
    def measured(self) -> bool:
        """Whether it can be a number."""
        return any(one.mean is not None for one in self.states.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """What must be done to the engine before some witnesses can be heard."""

    name: str
    title: str
    minutes: float
    risk_minutes: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Knowledge:
    """A checked file. Two are the same only if they are one object."""

    file: str
    causes: Mapping[str, Cause]
    witnesses: Mapping[str, Witness]
    setups: tuple[Setup, ...]
    bound: float
    """No side and no cause goes beyond this as long as one wire alone speaks. [-]"""
    wire_wrong: Mapping[str, float]
    """Wire to the chance that all that it says describes something else; ``otherwise`` for the rest. [-]"""
    unlisted: float
    """Prior of something else, or more than one thing. [-]"""


@cache
def knowledge() -> Knowledge:
    """Return the file that is shipped."""
    return read_knowledge(SHIPPED, file="sensor_or_cylinder.yaml")


def read_knowledge(text_or_path: str | Path, *, file: str = "") -> Knowledge:
    """Return the knowledge that a file or text holds.

    Raises
    ------
    KnowledgeError
        A slip, with file, line and column.
    """
    root = yaml_lines.load(text_or_path, file=file)
    root.only("source", "one_witness", "wire_wrong", "unlisted", "causes", "witnesses", "setups")
    source, bound, wrong, unlisted, causes, witnesses = root.want(
        "source", "one_witness", "wire_wrong", "unlisted", "causes", "witnesses"
    )
    default = _source(source)
    known = _causes(causes)
    heard: dict[str, Witness] = {}
    for node in witnesses.items():
        one = _witness(node, known, default)
        if one.name in heard:
            raise node.error_at("name", f"the witness '{one.name}' stands twice.")
        heard[one.name] = one
    setups = root.get("setups")
    return Knowledge(
        file=root.file,
        causes=known,
        witnesses=heard,
        setups=tuple(_setup(one) for one in setups.items()) if setups else (),
        bound=bound.number(low=50, high=99) / 100,
        wire_wrong=_wrong(wrong, heard),
        unlisted=unlisted.number(low=0.01, high=50) / 100,
    )


def _source(node: Node) -> str:
    name = node.text()
    if name not in register.sources():
        raise node.error(f"the source '{name}' is not in the register of sources.")
    return name


def _causes(node: Node) -> dict[str, Cause]:
    """Return the causes, their priors brought to 1 together."""
    found: dict[str, Cause] = {}
    for one in node.items():
        one.only("name", "title", "side", "group", "prior", "misses", "does")
        name, title, side, group, prior, does = one.want("name", "title", "side", "group", "prior", "does")
        misses = one.get("misses")
        if name.text() in found or name.text() == "other":
            raise name.error(f"the cause '{name.text()}' stands twice, or is added by itself.")
        found[name.text()] = Cause(
            name=name.text(),
            title=title.text(),
            side=next(known for known in SIDES if known == side.one_of(SIDES)),
            group=group.text(),
            prior=prior.number(low=0.001, high=1e6),
            misses=misses.truth() if misses else False,
            does=does.text(),
        )
    for wanted in SIDES:
        if not any(cause.side == wanted for cause in found.values()):
            raise node.error(f"no cause is on the side '{wanted}'.")
    total = sum(cause.prior for cause in found.values())
    return {
        name: Cause(
            name=name,
            title=one_.title,
            side=one_.side,
            group=one_.group,
            prior=one_.prior / total,
            misses=one_.misses,
            does=one_.does,
        )
        for name, one_ in found.items()
    }


def _witness(node: Node, causes: Mapping[str, Cause], default: str) -> Witness:
    node.only("name", "title", "wire", "shared", "unit", "states", "otherwise", "given", "look", "source")
    name, title, wire, states, given = node.want("name", "title", "wire", "states", "given")
    look, shared, unit, source = node.get("look"), node.get("shared"), node.get("unit"), node.get("source")
    spoken = {state: _state(state, one, unit is not None) for state, one in states.mapping().items()}
    if len(spoken) < 2:
        raise states.error("a witness needs two states or more.")
    otherwise = node.get("otherwise")
    rest = _shares(otherwise, spoken) if otherwise else None
    rows: dict[str, Mapping[str, float]] = {}
    for cause, row in given.mapping().items():
        if cause not in causes:
            raise given.error_at(cause, f"no cause is called '{cause}'.", allowed=", ".join(causes))
        rows[cause] = _shares(row, spoken)
    silent = [cause for cause in causes if cause not in rows]
    if silent and rest is None:
        raise given.error(f"nothing is said of {', '.join(silent)}.", allowed="a row for each, or 'otherwise'")
    return Witness(
        name=name.text(),
        title=title.text(),
        wire=wire.text(),
        shared=shared.truth() if shared else False,
        unit=unit.text() if unit else "",
        states=spoken,
        given={cause: rows.get(cause, rest or {}) for cause in causes},
        asked=_asked(look) if look else None,
        source=_source(source) if source else default,
    )


def _state(name: str, node: Node, measured: bool) -> SpokenState:
    node.only("says", "mean", "sd")
    (says,) = node.want("says")
    mean, sd = node.get("mean"), node.get("sd")
    if (mean is None) != (sd is None):
        raise node.error(f"'{name}' has a mean without sd, or the reverse.", allowed="both, or neither")
    if mean is not None and not measured:
        raise node.error(f"'{name}' has a mean, but the witness has no unit.")
    return SpokenState(
        name=name,
        says=says.text(),
        mean=None if mean is None else mean.number(),
        sd=None if sd is None else sd.number(low=1e-9),
    )


def _shares(node: Node, states: Mapping[str, SpokenState]) -> dict[str, float]:
    """Return a row of shares, one for each state, together 1."""
    row: dict[str, float] = dict.fromkeys(states, 0.0)
    for state, share in node.mapping().items():
        if state not in states:
            raise node.error_at(state, f"no state is called '{state}' here.", allowed=", ".join(states))
        row[state] = share.number(low=0, high=100) / 100
    total = sum(row.values())
    if abs(total - 1.0) > NEAR:
        raise node.error(f"the shares add up to {100 * total:g}.", allowed="100")
    return row


def _asked(node: Node) -> Asked:
    node.only("does", "minutes", "state", "cautions", "cannot_tell")
    does, minutes, state = node.want("does", "minutes", "state")
    cautions, cannot = node.get("cautions"), node.get("cannot_tell")
    return Asked(
        does=does.text(),
        minutes=minutes.number(low=0.5, high=1e4),
        state=state.one_of(STATES_OF_ENGINE),
        cautions=tuple(one.text() for one in cautions.items()) if cautions else (),
        cannot_tell=cannot.number(low=0, high=95) / 100 if cannot else 0.05,
    )


def _wrong(node: Node, heard: Mapping[str, Witness]) -> dict[str, float]:
    """Return how often each wire as a whole describes something else."""
    wires = {one.wire for one in heard.values()}
    node.want("otherwise")
    found = {}
    for wire, share in node.mapping().items():
        if wire != "otherwise" and wire not in wires:
            raise node.error_at(wire, f"no witness hangs on '{wire}'.", allowed=", ".join(sorted(wires)))
        found[wire] = share.number(low=0, high=50) / 100
    return found


def _setup(node: Node) -> Setup:
    node.only("name", "title", "minutes", "risk_minutes")
    name, title, minutes, risk = node.want("name", "title", "minutes", "risk_minutes")
    return Setup(
        name=name.one_of(STATES_OF_ENGINE[2:]),
        title=title.text(),
        minutes=minutes.number(low=0),
        risk_minutes=risk.number(low=0),
    )
