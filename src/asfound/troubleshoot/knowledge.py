"""What is known of trouble: symptoms, causes, tests, repairs, and what findings of other rooms say of them.

All chances are numbers here; the words of the file that they came from stand beside them where a person looks
(`Knowledge.words`). All lookups are by id, in the order of the file.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

State = Literal["any", "running", "stopped", "isolated"]
STATES: tuple[State, ...] = ("any", "running", "stopped", "isolated")
KINDS = ("any", "lean", "stoich", "turbo", "prechamber", "catalyst")
"""What an engine may be; a cause for one of these is dropped where the engine is known not to be it."""
Says = Literal["present", "absent", "positive", "negative"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Symptom:
    """How trouble shows. ``modes``: of ISO 14224, to record; ``urgent``: it is decided first whether to run on."""

    id: str
    title: str
    group: str
    modes: tuple[str, ...]
    urgent: bool
    seen_in: tuple[str, ...]
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """What can be wrong. ``leads_to``: P(symptom shows | cause) [-]; ``prior``: weight before anything is known."""

    id: str
    title: str
    system: str
    engine: str
    slot: str
    mechanism: str
    prior: float
    leads_to: Mapping[str, float]
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """Work: how long by hand and how long one waits [min], in which state of the engine, with which hazards."""

    id: str
    title: str
    minutes: float
    waiting: float
    state: State
    hazards: tuple[str, ...]
    slot: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Test(Step):
    """A look or test: tells and repairs nothing.

    ``given``: P(positive | cause) [-]; ``otherwise``: the same for every other cause. ``moves``: parts change place,
    which is recorded as a change of what is fitted.
    """

    __test__ = False  # not a test case

    positive: str
    given: Mapping[str, float]
    otherwise: float
    negative: str = ""
    """What shows where it is not positive; empty: just that ``positive`` is not so."""
    moves: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Repair(Step):
    """Work that changes the engine. ``fixes``: P(cured | cause) [-], 0 for every cause that is not named."""

    fixes: Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """What counts beside the minutes by hand [min]; a company sets its own in its file."""

    stop: float = 20.0
    isolate: float = 60.0
    waiting: float = 0.02
    """For each minute of waiting. [-]"""
    hazard: float = 2.0
    """For each hazard of a step."""
    proof_run: float = 15.0
    call: float = 600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """What a finding of another room says: of a symptom (present, absent) or of a test (positive, negative)."""

    code: str
    about: str
    says: Says


@dataclass(frozen=True, slots=True, kw_only=True)
class Knowledge:
    """Everything of one or several files, by id."""

    name: str
    title: str
    edition: int
    source: str
    words: Mapping[str, float]
    unlisted: float
    prices: Prices
    symptoms: Mapping[str, Symptom]
    causes: Mapping[str, Cause]
    tests: Mapping[str, Test]
    repairs: Mapping[str, Repair]
    findings: Mapping[str, tuple[Heard, ...]]
    digest: str = ""
    dropped: Mapping[str, str] = field(default_factory=dict)
    """Causes, tests and repairs that do not apply to this engine, each with why (`for_engine`)."""

    def step(self, name: str) -> Test | Repair:
        """Return a test or repair by id; KeyError when there is none."""
        return self.tests[name] if name in self.tests else self.repairs[name]
